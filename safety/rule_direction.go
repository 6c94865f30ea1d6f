package safety

// directionRule: on a scale with its zero at the left stop the source is first
// touched at its least, because exchanged leads drive the pointer against that
// stop.
var directionRule = RaisingRule{
	ID:     "direction-unknown",
	Why:    "with the leads exchanged the pointer is driven against the left stop",
	Source: "common practice, no source",
	Judge: func(r Raising) (Verdict, string, bool) {
		if !r.LeftZero || r.DirectionKnown {
			return Clear, "", true
		}
		return Tap, "the zero is at the left stop and the direction is not known yet: switch on at the least setting for an instant and see which way the pointer goes", false
	},
}
