package procedure

import (
	"fmt"
	"math"
	"slices"

	"example.org/halve/safety"
)

// deflections worth working at, as shares of the scale: from two thirds to
// nine tenths.
const (
	leastShare = 2.0 / 3
	mostShare  = 0.9
	goodShare  = 0.8
	// poorShare is the least deflection that is still taken where the boxes
	// allow no better: below it the doubt in G more than doubles.
	poorShare = 1.0 / 3
)

// scale is the deflection that the scale has room for where the needle rests.
func (p planner) scale() float64 {
	return max(p.ev.loop.Room(), p.s.bench.Galvanometer.Divisions/4)
}

// usable reports whether a first deflection lies where it is worth having,
// its own resolution allowed for.
func (p planner) usable(div float64) bool {
	n := p.scale()
	return div >= leastShare*n-p.ev.step/2 && div <= mostShare*n+p.ev.step/2
}

// targets lists the deflections to aim at, best first: even marks, so that the
// half falls on a printed mark; on short scales every mark.
func (p planner) targets() []float64 {
	n := p.scale()
	mark := 2.0
	if n < 20 {
		mark = 1
	}
	if n < 8 {
		mark = n / 16
	}
	var out []float64
	for t := math.Ceil(leastShare*n/mark) * mark; t <= mostShare*n+1e-9; t += mark {
		out = append(out, t)
	}
	slices.SortStableFunc(out, func(a, b float64) int {
		da, db := math.Abs(a-goodShare*n), math.Abs(b-goodShare*n)
		switch {
		case da < db-1e-9 || math.Abs(da-db) <= 1e-9 && a > b:
			return -1
		case a == b:
			return 0
		}
		return 1
	})
	return out
}

// even reports whether the half of div falls on a mark of the scale.
func (p planner) even(div float64) bool {
	for _, t := range p.targets() {
		if math.Abs(div-t) < p.ev.step/2 {
			return true
		}
	}
	return false
}

// aim picks the target that the kept rows have used least.
func (p planner) aim() float64 {
	ts := p.targets()
	used := make([]int, len(ts))
	for _, r := range p.ev.rows {
		if r.Struck {
			continue
		}
		near := 0
		for i, t := range ts {
			if math.Abs(t-r.FirstDiv) < math.Abs(ts[near]-r.FirstDiv) {
				near = i
			}
		}
		used[near]++
	}
	best := 0
	for i := range ts {
		if used[i] < used[best] {
			best = i
		}
	}
	return ts[best]
}

// loopEstimate returns E/k and G as they are believed now; ok is false where
// nothing is known of E/k.
func (p planner) loopEstimate() (loop, g float64, ok bool) {
	if f := p.ev.plan; f != nil {
		return f.Loop, f.G, true
	}
	return p.ev.plateLoop, p.ev.plateG, p.ev.plateLoop > 0
}

// signed puts a deflection on the side on which the needle was seen last.
func (p planner) signed(div float64) float64 {
	if p.ev.left {
		return -div
	}
	return div
}

// seen is where a deflection stands on the scale, the needle's rest included.
func (p planner) seen(div float64) float64 { return p.signed(div) + p.rest() }

// rest is where the needle rested last, 0 if that was never read.
func (p planner) rest() float64 {
	if n := len(p.ev.zeros); n > 0 {
		return p.ev.zeros[n-1].div
	}
	return 0
}

// evenOut proposes the series value that brings the first row's deflection to
// an even mark, if the box has one; it reports whether it did.
func (p planner) evenOut(first float64) bool {
	loop, g, known := p.loopEstimate()
	if !known {
		return false
	}
	ts := p.targets()
	near := ts[0]
	for _, t := range ts {
		if math.Abs(t-first) < math.Abs(near-first) {
			near = t
		}
	}
	set, ok := p.easySeries(loop/near-p.ev.r-g, g, 0)
	if !ok || set.Ohm <= 0 || p.judge(set).Verdict == safety.Stop || math.Abs(set.Ohm-p.s.current().setting.Ohm) <= 1e-9*set.Ohm {
		return false
	}
	div := loop / (set.Ohm + p.ev.r + g)
	p.propose(set, &div, fmt.Sprintf("The half of %s falls between marks; %s is easier to halve. ", divs(first, p.ev.step), divs(near, p.ev.step)))
	return true
}
