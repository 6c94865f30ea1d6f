package safety

import (
	"fmt"
	"math"
	"slices"

	"example.org/halve/physics/quantity"
)

// coilMargin is the share of a coil's greatest current that is allowed
// (common practice, no source).
const coilMargin = 0.5

// coilRule: no coil in use carries more than half of what its rating allows,
// I = sqrt(W/R).
var coilRule = Rule{
	ID:     "coil-current",
	Why:    "an overheated coil changes its value for good",
	Source: "Joule's law; the margin of one half is common practice, no source",
	Judge: func(c Closing) (Verdict, string, bool) {
		if c.SeriesOhm <= 0 {
			return Clear, "", true // series-in-loop speaks
		}
		i, which, coils, rating := c.currentHigh(), "series", c.SeriesCoils, c.SeriesRating
		if c.Key == K2 {
			i, which, coils, rating = c.shuntHigh(), "shunt", c.ShuntCoils, c.ShuntRating
		}
		if len(coils) == 0 {
			return Clear, "", true
		}
		largest := slices.Max(coils)
		limit := coilMargin * math.Sqrt(rating/largest)
		if i <= limit {
			return Clear, "", true
		}
		return Stop, fmt.Sprintf("up to %s could flow, and the %g Ω coil of the %s box is safe to %s only: a larger series value, less EMF",
			quantity.Format(i, quantity.Ampere, 2), largest, which, quantity.Format(limit, quantity.Ampere, 2)), false
	},
}
