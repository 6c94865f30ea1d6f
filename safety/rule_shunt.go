package safety

// shuntRule: K2 is closed only on a deflection that stands on the scale.
// Shunting the movement never raises the needle, so no shunt value is unsafe
// then.
var shuntRule = Rule{
	ID:     "shunt-on-scale",
	Why:    "a needle driven to the stop must first be released by K1",
	Source: "Kirchhoff's laws: S/(S+P) is below one for every shunt",
	Judge: func(c Closing) (Verdict, string, bool) {
		if c.Key != K2 || c.First != nil {
			return Clear, "", true
		}
		if c.FirstOff {
			return Stop, "the needle is beyond the end of the scale: open K1 and put more resistance in series first", false
		}
		return Stop, "there is no first deflection at this series value yet", false
	},
}
