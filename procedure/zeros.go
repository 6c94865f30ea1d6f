package procedure

import (
	"math"
	"slices"
)

// zeroFor returns the pointer's rest position when rd was read.
func (ev *evidence) zeroFor(rd reading) float64 {
	if len(ev.zeros) == 0 {
		return 0
	}
	i, f := ev.zeroAmong(rd)
	if f == 0 {
		return ev.zeros[i].div
	}
	return (1-f)*ev.zeros[i].div + f*ev.zeros[i+1].div
}

// restBetween returns the middle of the zeros read before and after rd, and how
// far either lies from it: the pointer may have been moved at any time between.
func (ev *evidence) restBetween(rd reading) (rest, drift float64) {
	after, _ := slices.BinarySearchFunc(ev.zeros, rd.seq, func(z zeroAt, n int) int { return z.seq - n })
	switch near := ev.zeros[max(after-1, 0):min(after+1, len(ev.zeros))]; len(near) {
	case 0:
		return 0, 0
	case 1:
		return near[0].div, 0
	default:
		return (near[0].div + near[1].div) / 2, math.Abs(near[0].div-near[1].div) / 2
	}
}

// zeroAmong expresses the zero at the time of rd by the zeros read, of which
// there is at least one: it lies the part f of the way from zero i to the next,
// linear in time between two, else at the nearest one.
func (ev *evidence) zeroAmong(rd reading) (i int, f float64) {
	after, _ := slices.BinarySearchFunc(ev.zeros, rd.seq, func(z zeroAt, n int) int { return z.seq - n })
	if after == 0 || after == len(ev.zeros) {
		return max(after-1, 0), 0
	}
	a, b := ev.zeros[after-1], ev.zeros[after]
	if span := b.at.Sub(a.at); span > 0 {
		f = min(1, max(0, float64(rd.at.Sub(a.at))/float64(span)))
	}
	return after - 1, f
}

// zeroValues lists the different rest readings with their standard
// uncertainties. Equal readings are one value: they share their rounding and
// differ only by their repeatability.
func (ev *evidence) zeroValues() (div, u []float64) {
	var times []int
	for _, z := range ev.zeros {
		if i := slices.Index(div, z.div); i >= 0 {
			times[i]++
			continue
		}
		div, times = append(div, z.div), append(times, 1)
	}
	for _, n := range times {
		u = append(u, ev.readingDoubt(n))
	}
	return div, u
}

// deflection is a reading less its zero.
func (ev *evidence) deflection(rd reading) float64 { return rd.div - ev.zeroFor(rd) }
