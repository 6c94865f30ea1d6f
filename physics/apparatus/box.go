package apparatus

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Kind is the way a resistance box is set.
type Kind string

// The two kinds of resistance box.
const (
	Plug   Kind = "plug"   // a plug taken out puts its coil into the circuit
	Decade Kind = "decade" // each dial puts in 0 to 10 of its steps
)

// Box is a resistance box as its plate states it.
type Box struct {
	Label     string    `json:"label,omitempty"`
	Kind      Kind      `json:"kind"`
	Coils     []float64 `json:"coils_ohm,omitempty"`     // plug box: every coil, ohm
	Dials     []float64 `json:"dials_ohm,omitempty"`     // decade box: the step of every dial, ohm
	Tolerance float64   `json:"tolerance,omitempty"`     // limit of each coil, relative, rectangular, independent
	Rating    *float64  `json:"coil_rating_W,omitempty"` // of each coil, watt; nil means DefaultRating
}

// DefaultRating is the power a coil is trusted with where its box states
// none, in watt (common practice, no source).
const DefaultRating = 0.25

// DialSteps is the number of steps of a decade dial.
const DialSteps = 10

// CoilRating returns the power each coil may take, in watt.
func (b Box) CoilRating() float64 {
	if b.Rating != nil {
		return *b.Rating
	}
	return DefaultRating
}

// Validate reports the first thing that cannot be true of a box.
func (b Box) Validate() error {
	var steps []float64
	var name string
	switch b.Kind {
	case Plug:
		steps, name = b.Coils, "coils_ohm"
		if len(b.Dials) > 0 {
			return fmt.Errorf("a plug box has coils_ohm, no dials_ohm")
		}
	case Decade:
		steps, name = b.Dials, "dials_ohm"
		if len(b.Coils) > 0 {
			return fmt.Errorf("a decade box has dials_ohm, no coils_ohm")
		}
	default:
		return fmt.Errorf(`kind is "plug" or "decade", not %q`, b.Kind)
	}
	if len(steps) == 0 {
		return fmt.Errorf("%s is missing: list the box's resistances in ohm", name)
	}
	if len(steps) > MaxCoils {
		return fmt.Errorf("%s lists %d resistances, at most %d are taken", name, len(steps), MaxCoils)
	}
	for _, c := range steps {
		if !(c >= 1e-3 && c <= MaxResistance) {
			return fmt.Errorf("%s holds values between 0.001 and %g ohm, not %g", name, MaxResistance, c)
		}
	}
	if !(b.Tolerance >= 0 && b.Tolerance <= 0.2) {
		return fmt.Errorf("tolerance is relative, 0 to 0.2 (0.001 is 0.1 %%), not %g", b.Tolerance)
	}
	return within("coil_rating_W", b.Rating, math.SmallestNonzeroFloat64, 1e4, "W")
}

// A Setting is one value a box can be set to and how it is made.
type Setting struct {
	Ohm float64
	// Coils lists what is in the circuit: for a plug box the coils whose
	// plugs are out, largest first; for a decade box the dial steps in use,
	// each as often as it is counted, largest first.
	Coils []float64
}

// Range is a box prepared for questions about its settings. It is immutable
// and may be shared.
type Range struct {
	box   Box
	parts []part // largest first
	max   float64
	grain float64 // two values closer than this are the same setting
	table []entry // plug boxes with few enough settings: ascending by ohm
}

// part is a coil (times 1) or a dial (times 10).
type part struct {
	ohm   float64
	times int
	index int // in the box's own list
}

// entry is one reachable value of a plug box. Bit i of out stands for parts[i].
type entry struct {
	ohm float64
	out uint32
}

// maxTable bounds the memory of a plug box's table of settings; a box with
// more distinct sums is searched instead.
const maxTable = 1 << 17

// NewRange prepares a box; it fails where Validate does.
func NewRange(b Box) (*Range, error) {
	if err := b.Validate(); err != nil {
		return nil, err
	}
	r := &Range{box: b}
	steps, times := b.Coils, 1
	if b.Kind == Decade {
		steps, times = b.Dials, DialSteps
	}
	least := math.Inf(1)
	for i, c := range steps {
		r.parts = append(r.parts, part{c, times, i})
		least = min(least, c)
	}
	slices.SortStableFunc(r.parts, func(a, b part) int { return cmp.Compare(b.ohm, a.ohm) })
	r.max = r.all().Ohm
	r.grain = max(min(least, 1)*1e-6, r.max*1e-12)
	if b.Kind == Plug {
		r.tabulate()
	}
	return r, nil
}

// Box returns the box as stated.
func (r *Range) Box() Box { return r.box }

// Max returns the largest resistance of the box, in ohm.
func (r *Range) Max() float64 { return r.max }

// Least returns the smallest resistance above zero, in ohm.
func (r *Range) Least() float64 { return r.parts[len(r.parts)-1].ohm }

// tabulate lists every sum a plug box can make, each with the fewest plugs
// out and among those with the largest coils.
func (r *Range) tabulate() {
	table := []entry{{0, 0}}
	for i, p := range r.parts {
		with := make([]entry, len(table))
		for j, e := range table {
			with[j] = entry{e.ohm + p.ohm, e.out | 1<<i}
		}
		merged := make([]entry, 0, 2*len(table))
		a, b := 0, 0
		for a < len(table) || b < len(with) {
			var next entry
			if b == len(with) || a < len(table) && table[a].ohm <= with[b].ohm {
				next, a = table[a], a+1
			} else {
				next, b = with[b], b+1
			}
			if n := len(merged); n > 0 && next.ohm-merged[n-1].ohm < r.grain {
				if fewer(next.out, merged[n-1].out) {
					merged[n-1].out = next.out
				}
				continue
			}
			merged = append(merged, next)
		}
		if len(merged) > maxTable {
			return // too many distinct sums: searched one by one
		}
		table = merged
	}
	r.table = table
}

// fewer prefers fewer plugs out, then the larger coils (the lower bits).
func fewer(a, b uint32) bool {
	ca, cb := ones(a), ones(b)
	if ca != cb {
		return ca < cb
	}
	diff := a ^ b
	return diff != 0 && a&(diff&-diff) != 0
}

func ones(x uint32) int {
	n := 0
	for ; x != 0; x &= x - 1 {
		n++
	}
	return n
}

// Exact returns the setting that makes ohm, if the box can make it. Zero (all
// plugs in, all dials at nought) counts as a setting.
func (r *Range) Exact(ohm float64) (Setting, bool) {
	s, ok := r.Nearest(ohm)
	if !ok || math.Abs(s.Ohm-ohm) > r.grain {
		return Setting{}, false
	}
	return s, true
}

// Nearest returns the setting closest to ohm; the larger of two equally
// close. It fails for NaN and for a negative value.
func (r *Range) Nearest(ohm float64) (Setting, bool) {
	lo, ok := r.Floor(ohm)
	if !ok {
		return Setting{}, false
	}
	if hi, ok := r.Ceil(ohm); ok && hi.Ohm-ohm <= ohm-lo.Ohm {
		return hi, true
	}
	return lo, true
}

// Floor returns the largest setting not above ohm.
func (r *Range) Floor(ohm float64) (Setting, bool) {
	if !(ohm >= 0) {
		return Setting{}, false
	}
	if ohm >= r.max {
		return r.all(), true
	}
	if r.table != nil {
		i, _ := slices.BinarySearchFunc(r.table, ohm+r.grain, func(e entry, x float64) int { return cmp.Compare(e.ohm, x) })
		return r.fromTable(i - 1), true
	}
	return r.search(ohm), true
}

// Ceil returns the smallest setting not below ohm; it fails above Max.
func (r *Range) Ceil(ohm float64) (Setting, bool) {
	if !(ohm <= r.max+r.grain) {
		return Setting{}, false
	}
	if ohm <= 0 {
		return Setting{}, true
	}
	if r.table != nil {
		i, _ := slices.BinarySearchFunc(r.table, ohm-r.grain, func(e entry, x float64) int { return cmp.Compare(e.ohm, x) })
		return r.fromTable(min(i, len(r.table)-1)), true
	}
	// What is left out of the largest possible value is a setting as well,
	// so the least value above is what the greatest below the rest leaves.
	rest := r.search(r.max - ohm)
	n := r.counts(rest)
	for i, p := range r.parts {
		n[i] = p.times - n[i]
	}
	s := r.setting(n)
	// The same value is made with the coarse steps first, as a person does.
	if usual := r.search(s.Ohm); math.Abs(usual.Ohm-s.Ohm) < r.grain {
		return usual, true
	}
	return s, true
}

// Sum returns the setting made by the given coils of a plug box or dial steps
// of a decade box, as a person lists them; it fails, saying which, where the
// box has no such coil left.
func (r *Range) Sum(coils []float64) (Setting, error) {
	n := make([]int, len(r.parts))
next:
	for _, c := range coils {
		for i, p := range r.parts {
			if n[i] < p.times && math.Abs(p.ohm-c) <= 1e-9*p.ohm {
				n[i]++
				continue next
			}
		}
		return Setting{}, fmt.Errorf("the box has no plug of %g ohm left", c)
	}
	return r.setting(n), nil
}

// Multiset returns how often each coil or dial of the box, in the box's own
// order, is in the circuit at the setting s.
func (r *Range) Multiset(s Setting) []int {
	n := make([]int, len(r.parts))
	for _, c := range s.Coils {
		for _, p := range r.parts {
			if n[p.index] < p.times && math.Abs(p.ohm-c) <= 1e-9*p.ohm {
				n[p.index]++
				break
			}
		}
	}
	return n
}

// counts returns how often each part is in the circuit at the setting s.
func (r *Range) counts(s Setting) []int {
	n := make([]int, len(r.parts))
	for _, c := range s.Coils {
		for i, p := range r.parts {
			if n[i] < p.times && math.Abs(p.ohm-c) <= 1e-9*p.ohm {
				n[i]++
				break
			}
		}
	}
	return n
}

// all is the setting with everything in the circuit.
func (r *Range) all() Setting {
	n := make([]int, len(r.parts))
	for i, p := range r.parts {
		n[i] = p.times
	}
	return r.setting(n)
}

func (r *Range) fromTable(i int) Setting {
	n := make([]int, len(r.parts))
	for j := range n {
		n[j] = int(r.table[i].out >> j & 1)
	}
	return r.setting(n)
}

// search finds the greatest setting not above ohm without a table: as much as
// possible of the coarsest step first, then less of it where the finer steps
// do not fill the rest. For decades the first try is already the greatest.
func (r *Range) search(ohm float64) Setting {
	const budget = 20000 // tries; keeps one keystroke's search well under a frame
	n, best := make([]int, len(r.parts)), make([]int, len(r.parts))
	bestOhm, tries := math.Inf(-1), 0
	// walk tries all counts of parts[i:] where those before make sum and those
	// from i on could add at most rest; it returns true when no better setting
	// can be found.
	var walk func(i int, sum, rest float64) bool
	walk = func(i int, sum, rest float64) bool {
		if tries++; tries > budget {
			return true
		}
		if sum > bestOhm+r.grain {
			bestOhm = sum
			copy(best, n)
		}
		if ohm-bestOhm < r.grain {
			return true
		}
		if i == len(r.parts) || sum+rest <= bestOhm+r.grain {
			return false
		}
		p := r.parts[i]
		rest -= p.ohm * float64(p.times)
		for n[i] = min(p.times, int((ohm-sum+r.grain)/p.ohm)); n[i] >= 0; n[i]-- {
			if walk(i+1, sum+float64(n[i])*p.ohm, rest) {
				return true
			}
		}
		n[i] = 0
		return false
	}
	walk(0, 0, r.max)
	return r.setting(best)
}

// setting builds the setting with n[i] of each part. Its value is rounded to
// the nano-ohm, so that 0.1 and 0.2 ohm are 0.3 and a value reached in two
// ways is one.
func (r *Range) setting(n []int) Setting {
	var s Setting
	for i, p := range r.parts {
		for range n[i] {
			s.Coils = append(s.Coils, p.ohm)
		}
		s.Ohm += float64(n[i]) * p.ohm
	}
	s.Ohm = math.Round(s.Ohm*1e9) / 1e9
	return s
}
