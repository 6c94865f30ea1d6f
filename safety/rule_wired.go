package safety

// wiredRule: no key before the circuit has been checked.
var wiredRule = Rule{
	ID:     "circuit-checked",
	Why:    "a wrong lead can put the source straight across the movement",
	Source: "common practice, no source",
	Judge: func(c Closing) (Verdict, string, bool) {
		if c.Wired {
			return Clear, "", true
		}
		return Stop, "the circuit has not been checked against the drawing yet", false
	},
}
