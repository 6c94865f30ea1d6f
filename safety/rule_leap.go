package safety

// leapRule: where the shunted needle did not fall, the shunt is not where it
// belongs, and K2 is only tapped until that is found.
var leapRule = Rule{
	ID:     "shunt-must-fall",
	Why:    "a shunt across the series box drives the needle to the stop",
	Source: "Kirchhoff's laws: a shunt across the movement can only lower its current",
	Judge: func(c Closing) (Verdict, string, bool) {
		if c.Key != K2 || !c.Leapt {
			return Clear, "", true
		}
		return Tap, "the needle did not fall when K2 closed: look where the shunt is joined, and only tap K2 until it falls", false
	},
}
