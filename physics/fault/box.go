package fault

import (
	"math"
	"slices"

	"example.org/halve/physics/apparatus"
)

// Toggle is one plug that stands otherwise than said, or one dial off by a
// step: a coil, and whether it is in the circuit though said not to be.
type Toggle struct {
	Coil float64 // ohm
	In   bool    // the coil is in the circuit, against what is said
}

// Toggles lists what can be wrong by one plug or step in a box, over all its
// settings. Coils of equal value count once.
func Toggles(b apparatus.Box) []Toggle {
	coils := b.Coils
	if b.Kind == apparatus.Decade {
		coils = b.Dials
	}
	coils = slices.Compact(slices.Sorted(slices.Values(coils)))
	out := make([]Toggle, 0, 2*len(coils))
	for _, c := range coils {
		out = append(out, Toggle{c, true}, Toggle{c, false})
	}
	return out
}

// Of returns what a box makes where the setting is said and the toggle is true
// of it; ok is false where the toggle changes nothing there.
func (t Toggle) Of(b apparatus.Box, said apparatus.Setting) (ohm float64, ok bool) {
	listed := 0
	for _, c := range said.Coils {
		if c == t.Coil {
			listed++
		}
	}
	most := apparatus.DialSteps
	if b.Kind == apparatus.Plug {
		most = 0
		for _, c := range b.Coils {
			if c == t.Coil {
				most++
			}
		}
	}
	switch {
	case t.In && listed < most:
		return said.Ohm + t.Coil, true
	case !t.In && listed > 0:
		return math.Max(0, said.Ohm-t.Coil), true
	}
	return said.Ohm, false
}

// Made returns what a box makes by the other slips.
func (s BoxSlip) Made(b *apparatus.Range, said apparatus.Setting, times float64) float64 {
	switch s {
	case Complement:
		return b.Max() - said.Ohm
	case Factor:
		return said.Ohm * times
	}
	return said.Ohm
}
