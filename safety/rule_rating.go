package safety

import (
	"fmt"

	"example.org/halve/physics/quantity"
)

// ratingRule: the reference is not driven beyond its rating.
var ratingRule = RaisingRule{
	ID:     "reference-rating",
	Why:    "an overloaded reference is damaged, or is no reference afterwards",
	Source: "the reference's own rating",
	Judge: func(r Raising) (Verdict, string, bool) {
		if r.ReferenceMax <= 0 || r.Target <= r.ReferenceMax {
			return Clear, "", true
		}
		return Stop, fmt.Sprintf("the point lies at %s, and the reference is rated for %s", quantity.Format(r.Target, r.Unit, 3), quantity.Format(r.ReferenceMax, r.Unit, 3)), false
	},
}
