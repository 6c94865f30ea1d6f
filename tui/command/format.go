package command

import (
	"math"

	"example.org/halve/physics/quantity"
)

// measured is a value with its standard uncertainty, rounded by the one rule.
func measured(v, u *float64, unit quantity.Unit) string {
	return quantity.Measured{Value: known(v), U: known(u), Unit: unit}.String()
}

// known is the value of a pointer; nil is not known, which quantity calls NaN.
func known(v *float64) float64 {
	if v == nil {
		return math.NaN()
	}
	return *v
}
