package safety

import (
	"fmt"

	"example.org/halve/physics/quantity"
)

// sourceRule: the source delivers no more than it may.
var sourceRule = Rule{
	ID:     "source-current",
	Why:    "an overloaded source sags, heats or is damaged",
	Source: "the source's own rating",
	Judge: func(c Closing) (Verdict, string, bool) {
		if c.SourceMax <= 0 || c.SeriesOhm <= 0 {
			return Clear, "", true
		}
		i := c.currentHigh()
		if i <= c.SourceMax {
			return Clear, "", true
		}
		return Stop, fmt.Sprintf("up to %s could flow, and the source is rated for %s: a larger series value",
			quantity.Format(i, quantity.Ampere, 2), quantity.Format(c.SourceMax, quantity.Ampere, 2)), false
	},
}
