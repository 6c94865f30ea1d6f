package montecarlo

import (
	"math"
	"slices"
)

// bins is the number of bins of a histogram, apart from the two open ones.
const bins = 1 << 16

// histogram counts values in equal bins from low to high. Bin 0 holds what is
// below and the last bin what is at high or above.
type histogram struct {
	low, high, perUnit float64
	min, max           float64 // of all values met
	counts             []uint64
	cumulative         []float64 // values below each bin's lower edge; exact up to 2⁵³
}

// newHistogram sets the range by the first trials: from the least to the
// greatest with a tenth of that to spare, but no further than eight times the
// middle 98 % of the first block beyond that middle. So a law with far
// outliers keeps fine bins where its intervals end.
func newHistogram(y []float64) *histogram {
	least, most := slices.Min(y), slices.Max(y)
	spare := (most - least) / 10
	low, high := least-spare, most+spare
	s := slices.Sorted(slices.Values(y[:min(len(y), blockTrials)]))
	a, b := s[len(s)/100], s[len(s)-1-len(s)/100]
	if w := b - a; w > 0 {
		low, high = max(low, a-8*w), min(high, b+8*w)
	}
	h := &histogram{low: low, high: high, min: math.Inf(1), max: math.Inf(-1)}
	h.perUnit = bins / (high - low)
	if !(h.perUnit > 0) || math.IsInf(h.perUnit, 0) {
		// A law without width: every value is in an open bin, and min and
		// max say the rest.
		h.low, h.perUnit = high, 0
	}
	h.counts = make([]uint64, bins+2)
	return h
}

// part is an empty histogram of the same bins, for a worker.
func (h *histogram) part() *histogram {
	return &histogram{low: h.low, high: h.high, perUnit: h.perUnit, min: math.Inf(1), max: math.Inf(-1), counts: make([]uint64, bins+2)}
}

// count counts finite values.
func (h *histogram) count(y []float64) {
	low, high, perUnit, least, most := h.low, h.high, h.perUnit, h.min, h.max
	counts := h.counts[:bins+2]
	for _, v := range y {
		least, most = min(least, v), max(most, v)
		switch {
		case v < low:
			counts[0]++
		case v >= high:
			counts[bins+1]++
		default:
			counts[min(int((v-low)*perUnit), bins-1)+1]++
		}
	}
	h.min, h.max = least, most
}

// take moves the counts of a part over to h.
func (h *histogram) take(p *histogram) {
	for i, n := range p.counts {
		h.counts[i] += n
	}
	clear(p.counts)
	h.min, h.max = min(h.min, p.min), max(h.max, p.max)
}

// edge is the lower edge of bin i, and the upper edge of the bin before it, as
// far as values reach.
func (h *histogram) edge(i int) float64 {
	switch {
	case i <= 0:
		return h.min
	case i > bins+1:
		return h.max
	}
	return max(h.min, min(h.max, h.low+(h.high-h.low)*(float64(i-1)/bins)))
}

// within is where the cumulative count reaches t, between its values at the
// edges of bin i.
func (h *histogram) within(i int, t float64) float64 {
	a, b := h.cumulative[i], h.cumulative[i+1]
	low, high := h.edge(i), h.edge(i+1)
	return low + (high-low)*((t-a)/(b-a))
}

// accumulate makes the histogram ready for the intervals.
func (h *histogram) accumulate() {
	h.cumulative = make([]float64, len(h.counts)+1)
	n := uint64(0)
	for i, c := range h.counts {
		n += c
		h.cumulative[i+1] = float64(n)
	}
}

// total is the number of values.
func (h *histogram) total() float64 { return h.cumulative[len(h.cumulative)-1] }

// upTo is the least value below which there are t values or more, going on
// from bin i; it returns the bin for the next, greater t.
func (h *histogram) upTo(i int, t float64) (float64, int) {
	for i < len(h.counts)-1 && h.cumulative[i+1] < t {
		i++
	}
	if h.cumulative[i+1] == h.cumulative[i] {
		return h.edge(i), i
	}
	return h.within(i, t), i
}

// symmetric is the probabilistically symmetric interval.
func (h *histogram) symmetric() [2]float64 {
	n := h.total()
	low, i := h.upTo(0, n*(1-coverage)/2)
	high, _ := h.upTo(i, n*(1+coverage)/2)
	return [2]float64{low, high}
}

// shortest is the shortest interval of those that begin at a bin's edge, and so
// the shortest of all to within a bin.
func (h *histogram) shortest() [2]float64 {
	n := h.total()
	hold := coverage * n
	best := [2]float64{h.min, h.max}
	for i, j := 0, 0; i < len(h.counts) && h.cumulative[i]+hold <= n; i++ {
		if h.counts[i] == 0 {
			continue
		}
		var high float64
		high, j = h.upTo(j, h.cumulative[i]+hold)
		if low := h.edge(i); high-low < best[1]-best[0] {
			best = [2]float64{low, high}
		}
	}
	return best
}
