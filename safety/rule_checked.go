package safety

// checkedRule: no source before the circuit has been checked.
var checkedRule = RaisingRule{
	ID:     "meter-circuit-checked",
	Why:    "a wrong lead can put the source straight across an ammeter or the reference",
	Source: "common practice, no source",
	Judge: func(r Raising) (Verdict, string, bool) {
		if r.Wired {
			return Clear, "", true
		}
		return Stop, "the circuit has not been checked against the drawing yet", false
	},
}
