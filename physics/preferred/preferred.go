// Package preferred knows the values that resistors are made in: the series E3
// to E192 of IEC 60063, and what they come to two at a time.
package preferred

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Series is a series of preferred values, by its number of values in a decade.
type Series int

// The seven series of IEC 60063:2015.
const (
	E3   Series = 3
	E6   Series = 6
	E12  Series = 12
	E24  Series = 24
	E48  Series = 48
	E96  Series = 96
	E192 Series = 192
)

// All returns the series from the coarsest to the finest.
func All() []Series { return []Series{E3, E6, E12, E24, E48, E96, E192} }

// String is the name of the series, such as E24.
func (s Series) String() string { return fmt.Sprintf("E%d", int(s)) }

// Parse reads the name of a series, such as E24, in small letters too.
func Parse(text string) (Series, error) {
	for _, s := range All() {
		if strings.EqualFold(strings.TrimSpace(text), s.String()) {
			return s, nil
		}
	}
	return 0, fmt.Errorf("the series is E3, E6, E12, E24, E48, E96 or E192, not %q", text)
}

// Tolerance is the usual tolerance of resistors of a series, as a fraction
// (IEC 60063; E3 has none tighter than 20 %, and 40 % is what is quoted).
func (s Series) Tolerance() float64 {
	switch s {
	case E3:
		return 0.40
	case E6:
		return 0.20
	case E12:
		return 0.10
	case E24:
		return 0.05
	case E48:
		return 0.02
	case E96:
		return 0.01
	}
	return 0.005
}

// digits are the significant digits of a decade, as whole numbers: 10 to 99,
// from E48 on 100 to 999. They are 10^(i/n) rounded, save where IEC 60063
// keeps the values that were in use before it.
func (s Series) digits() []int {
	if s <= E24 {
		e24 := []int{10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91}
		var out []int
		for i := 0; i < len(e24); i += 24 / int(s) {
			out = append(out, e24[i])
		}
		return out
	}
	out := make([]int, s)
	for i := range out {
		out[i] = int(math.Round(100 * math.Pow(10, float64(i)/float64(s))))
		if out[i] == 919 { // IEC 60063 has 920
			out[i] = 920
		}
	}
	return out
}

// value is digits as they stand for a resistance of the decade 10^e.
func (s Series) value(digits, e int) float64 {
	if s >= E48 {
		e--
	}
	// Powers of ten are exact up to 22, so the result is the double nearest to
	// the decimal number.
	if e--; e < 0 {
		return float64(digits) / math.Pow10(-e)
	}
	return float64(digits) * math.Pow10(e)
}

// Values returns the values of one decade, from 1 to below 10, in order.
func (s Series) Values() []float64 {
	ds := s.digits()
	out := make([]float64, len(ds))
	for i, d := range ds {
		out[i] = s.value(d, 0)
	}
	return out
}

// decades bounds the powers of ten that are searched, as no resistor lies
// beyond them.
const decades = 20

// around returns the values of the series from v/wide to v·wide, in order.
func (s Series) around(v, wide float64) []float64 {
	ds := s.digits()
	var out []float64
	lo, hi := math.Floor(math.Log10(v/wide)), math.Floor(math.Log10(v*wide))
	for e := max(int(lo), -decades); e <= min(int(hi), decades); e++ {
		for _, d := range ds {
			if x := s.value(d, e); x >= v/wide && x <= v*wide {
				out = append(out, x)
			}
		}
	}
	return out
}

// usable reports whether v can be searched for.
func usable(v float64) bool { return v >= 1e-9 && v <= 1e15 }

// Nearest returns the value of the series that is nearest to v by ratio, the
// larger of two that are equally near. It is NaN where v is not between 10⁻⁹
// and 10¹⁵ ohm.
func (s Series) Nearest(v float64) float64 {
	if !usable(v) {
		return math.NaN()
	}
	best := math.NaN()
	for _, x := range s.around(v, 10) {
		if !(apart(x, v) > apart(best, v)) {
			best = x
		}
	}
	return best
}

// apart is the distance of two values by ratio.
func apart(a, b float64) float64 { return math.Abs(math.Log(a / b)) }

// A Pair is two resistors as one.
type Pair struct {
	A, B     float64 // ohm, A the greater
	Parallel bool    // else in series
	Ohm      float64 // what they come to
}

// MaxRatio bounds the ratio of the two resistors of a pair: the lesser part is
// by then a thousandth of the whole, which the tolerance of the greater one
// swallows (common practice, no source).
const MaxRatio = 1000

// BestPair returns the two values of the series that come nearest to v by
// ratio, in series or in parallel; of pairs that come equally near, the one
// whose values differ least. The result is NaN where v is not between 10⁻⁹ and
// 10¹⁵ ohm.
func (s Series) BestPair(v float64) Pair {
	best := Pair{Ohm: math.NaN()}
	if !usable(v) {
		return best
	}
	try := func(p Pair) {
		if p.A < p.B {
			p.A, p.B = p.B, p.A
		}
		// Sums and products of doubles differ in their last digits where
		// decimals do not.
		const same = 1e-12
		if p.A > MaxRatio*p.B*(1+same) {
			return
		}
		switch gain := apart(best.Ohm, v) - apart(p.Ohm, v); {
		case math.IsNaN(best.Ohm) || gain > same, gain > -same && p.A/p.B < best.A/best.B*(1-same):
			best = p
		}
	}
	all := s.around(v, 2*MaxRatio)
	// neighbours are the values next to x on both sides.
	neighbours := func(x float64) []float64 {
		i, _ := slices.BinarySearch(all, x)
		return all[max(i-1, 0):min(i+2, len(all))]
	}
	for _, a := range all {
		switch {
		case a < v:
			for _, b := range neighbours(v - a) {
				try(Pair{A: a, B: b, Ohm: a + b})
			}
		default:
			for _, b := range neighbours(v * a / (a - v)) {
				try(Pair{A: a, B: b, Parallel: true, Ohm: a * b / (a + b)})
			}
		}
	}
	return best
}
