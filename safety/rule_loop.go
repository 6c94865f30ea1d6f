package safety

// loopRule: the series box is never left at nothing.
var loopRule = Rule{
	ID:     "series-in-loop",
	Why:    "with every plug in, only the movement and the leads limit the current",
	Source: "common practice, no source",
	Judge: func(c Closing) (Verdict, string, bool) {
		if c.SeriesOhm > 0 {
			return Clear, "", true
		}
		return Stop, "the series box stands at 0 Ω: the source would drive the movement directly", false
	},
}
