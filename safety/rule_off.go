package safety

// offRule: no series value is proven at which, or above which, the needle was
// seen beyond the end of the scale. Whatever else the readings say, one of
// them is wrong, and it may be the other one. Only the largest value may then
// be tapped, as steadyRule allows.
var offRule = Rule{
	ID:     "was-off-scale",
	Why:    "a proof from contradictory readings proves nothing",
	Source: "common practice, no source",
	Judge: func(c Closing) (Verdict, string, bool) {
		if c.Key != K1 || c.OffAt <= 0 || c.SeriesOhm > c.OffAt*(1+1e-9) {
			return Clear, "", true
		}
		const because = "the needle was beyond the end of the scale at this series value or a larger one: more resistance, or strike that reading if it was a slip"
		if c.SeriesOhm >= c.SeriesMax*(1-1e-9) && c.currentHigh() <= TapCurrent {
			return Tap, because, false
		}
		return Stop, because, false
	},
}
