package apparatus

import (
	"cmp"
	"math"
	"slices"
)

// Easiest returns, of the settings from lo to hi, the one that takes the
// fewest plugs out (or turns the fewest dials from nought), and of equal ones
// the one closest to want. Where the box has none in that span it returns the
// one nearest to want. It fails for NaN and for a negative want.
func (r *Range) Easiest(want, lo, hi float64) (Setting, bool) {
	best, ok := r.Nearest(want)
	if !ok {
		return best, false
	}
	consider := func(s Setting) {
		if s.Ohm < lo-r.grain || s.Ohm > hi+r.grain {
			return
		}
		in := best.Ohm >= lo-r.grain && best.Ohm <= hi+r.grain
		was, is := r.effort(best), r.effort(s)
		if !in || is < was || is == was && math.Abs(s.Ohm-want) < math.Abs(best.Ohm-want) {
			best = s
		}
	}
	if r.table != nil {
		from, _ := slices.BinarySearchFunc(r.table, lo-r.grain, func(e entry, x float64) int { return cmp.Compare(e.ohm, x) })
		least := len(r.parts) + 1
		for i := from; i < len(r.table) && r.table[i].ohm <= hi+r.grain; i++ {
			// Only settings that could win are written out.
			if n := ones(r.table[i].out); n <= least {
				least = n
				consider(r.fromTable(i))
			}
		}
		return best, true
	}
	// Without a table: round multiples of each dial's step, coarse ones first.
	for _, p := range r.parts {
		s, ok := r.Nearest(math.Round(want/p.ohm) * p.ohm)
		if ok {
			consider(s)
		}
	}
	return best, true
}

// effort counts the plugs out, or the dials that are not at nought.
func (r *Range) effort(s Setting) int {
	if r.box.Kind == Plug {
		return len(s.Coils)
	}
	return len(slices.Compact(slices.Clone(s.Coils)))
}
