package safety

// polarityRule: on a scale with its zero at the left stop the first closing is
// a tap, because a wrong polarity drives the needle against that stop whatever
// the series value is.
var polarityRule = Rule{
	ID:     "polarity-unknown",
	Why:    "with the leads exchanged the needle is driven against the left stop",
	Source: "common practice, no source",
	Judge: func(c Closing) (Verdict, string, bool) {
		if c.Key != K1 || !c.LeftZero || c.PolarityKnown {
			return Clear, "", true
		}
		return Tap, "the zero is at the left stop and the polarity is not known yet: press K1 for an instant and see which way the needle goes", false
	},
}
