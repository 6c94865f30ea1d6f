package safety

import (
	"fmt"

	"example.org/halve/physics/quantity"
)

// MaxSupply is how many times the meter's range a source may be able to drive
// and still be turned up by hand: meters stand ten times their range for the
// moment that a hand needs to switch off, and no more (IEC 60051, from
// memory).
const MaxSupply = 10

// supplyRule: a source that can drive a multiple of the range is limited
// first.
var supplyRule = RaisingRule{
	ID:     "source-limit",
	Why:    "a slip at the control of a strong source burns the meter, its shunt or the leads",
	Source: "common practice; the multiple is from memory of IEC 60051",
	Judge: func(r Raising) (Verdict, string, bool) {
		if r.SourceMax <= MaxSupply*r.Range {
			return Clear, "", true
		}
		return Stop, fmt.Sprintf("the source can drive %.3g times the meter's range: set its limit, or a series resistor, so that it cannot drive more than %s, and state that as its most",
			r.SourceMax/r.Range, quantity.Format(overload*r.Range, r.Unit, 3)), false
	},
}
