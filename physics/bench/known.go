package bench

import (
	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/fault"
)

// Stated returns the bench as its plates state it.
func (b *Bench) Stated() apparatus.Bench { return b.stated }

// Planted returns the fault on the bench and its size, in standard deviations
// of its kind; ok is false on a sound bench.
func (b *Bench) Planted() (f fault.Fault, size float64, ok bool) {
	if b.planted == nil {
		return fault.Fault{}, 0, false
	}
	return b.planted.Fault, b.planted.x, true
}
