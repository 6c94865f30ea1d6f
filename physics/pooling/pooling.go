// Package pooling takes together what several people found for one and the
// same quantity: means by weights, the spread between people that their stated
// uncertainties do not explain, a robust centre, and the rules by which a value
// stands apart.
//
// A Value is a result with its standard uncertainty, both in the quantity's own
// unit. Nothing here knows which unit that is.
package pooling

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Value is a result X and its standard uncertainty U, above 0.
type Value struct{ X, U float64 }

var (
	// ErrInput: a value that is not finite, or an uncertainty that is not
	// above 0 and finite.
	ErrInput = errors.New("pooling: a value has to be finite and its standard uncertainty above 0")
	// ErrFew: fewer values than the rule needs.
	ErrFew = errors.New("pooling: too few values")
)

func check(vs []Value) error {
	if len(vs) == 0 {
		return fmt.Errorf("%w: one is needed", ErrFew)
	}
	for _, v := range vs {
		// The square of the uncertainty is what is reckoned with.
		if math.IsNaN(v.X) || math.IsInf(v.X, 0) || !(v.U > 0 && v.U*v.U > 0) || math.IsInf(1/(v.U*v.U), 0) || math.IsInf(v.U, 0) {
			return fmt.Errorf("%w, not %g ± %g", ErrInput, v.X, v.U)
		}
	}
	return nil
}

// Pooled is what values come to.
type Pooled struct {
	N int
	// Weighted is the mean by the weights 1/u², and its standard uncertainty
	// if the stated ones are all there is.
	Weighted Value
	// Chi2 is Σ (x − Weighted)²/u² (Cochran's Q) and Birge √(Chi2/(N − 1)),
	// 1 on average where the stated uncertainties are right; 0 for one value.
	Chi2, Birge float64
	// Tau is the standard deviation between the values beyond their stated
	// uncertainties, 0 or more.
	Tau float64
	// Random is the random-effects mean, by the weights 1/(u² + Tau²).
	Random Value
}

// Pool takes values together. Tau is the estimator of R. DerSimonian and
// N. Laird, Controlled Clinical Trials 7 (1986) 177:
//
//	τ² = max(0, (Q − (n − 1)) / (Σw − Σw²/Σw)),  w = 1/u²
//
// The Birge ratio is that of R. T. Birge, Phys. Rev. 40 (1932) 207. One value
// is its own mean. The errors are ErrFew for none and ErrInput.
func Pool(vs []Value) (Pooled, error) {
	if err := check(vs); err != nil {
		return Pooled{}, err
	}
	p := Pooled{N: len(vs)}
	var squares float64 // Σw²
	p.Weighted, squares = weighted(vs, 0)
	for _, v := range vs {
		d := (v.X - p.Weighted.X) / v.U
		p.Chi2 += d * d
	}
	p.Random = p.Weighted
	if p.N == 1 {
		return p, nil
	}
	free := float64(p.N - 1)
	p.Birge = math.Sqrt(p.Chi2 / free)
	sum := 1 / (p.Weighted.U * p.Weighted.U)
	if tau2 := (p.Chi2 - free) / (sum - squares/sum); tau2 > 0 {
		p.Tau = math.Sqrt(tau2)
		p.Random, _ = weighted(vs, tau2)
	}
	return p, nil
}

// weighted is the mean by the weights 1/(u² + tau2), and the sum of the
// weights' squares.
func weighted(vs []Value, tau2 float64) (mean Value, squares float64) {
	var sum, at float64
	for _, v := range vs {
		w := 1 / (v.U*v.U + tau2)
		sum += w
		squares += w * w
		at += w * (v.X - vs[0].X) // about the first, to lose no figures
	}
	return Value{vs[0].X + at/sum, 1 / math.Sqrt(sum)}, squares
}

// Median returns the middle of the values, of an even number the mean of the
// two middle ones; NaN for none. The values may be in any order and stay.
func Median(xs []float64) float64 {
	return middle(sorted(xs))
}

// sorted is a sorted copy.
func sorted(xs []float64) []float64 {
	s := slices.Clone(xs)
	slices.Sort(s)
	return s
}

// middle is the median of values in their order.
func middle(s []float64) float64 {
	switch n := len(s); {
	case n == 0:
		return math.NaN()
	case n%2 == 1:
		return s[n/2]
	default:
		return s[n/2-1]/2 + s[n/2]/2
	}
}

// Densest returns the mean of the half of the values that lie closest together,
// of an odd number the larger half (the shorth of D. F. Andrews and others, Robust
// Estimates of Location, Princeton 1972). Where up to half of the values lie
// scattered on one side it stays with the others, as the median does not. NaN for
// none; of two values it is their mean.
func Densest(xs []float64) float64 {
	n := len(xs)
	if n < 3 {
		return Median(xs)
	}
	s := sorted(xs)
	half, at := (n+1)/2, 0
	for i := range n - half + 1 {
		if s[i+half-1]-s[i] < s[at+half-1]-s[at] {
			at = i
		}
	}
	sum := 0.0
	for _, x := range s[at : at+half] {
		sum += x - s[at]
	}
	return s[at] + sum/float64(half)
}

// Agreement tells which values agree, and how far each lies from those.
type Agreement struct {
	Median, MAD float64
	// Inner is what the values that agree come to.
	Inner Pooled
	// Z holds for each value its distance from the mean of the others that
	// agree, in standard uncertainties: its own, that of the mean, and what
	// lies between values that agree, √(u² + u²(mean) + τ²). Of two values it
	// is their difference in its own, for both.
	Z []float64
	// Apart tells which values stand apart: |Z| is above FarZ.
	Apart []bool
}

// FarZ is the |Z| above which a value stands apart (common practice, no
// source).
const FarZ = 3.0

// Agree finds the values that agree, so that several bad ones cannot hide each
// other, by a forward search (A. S. Hadi, J. R. Statist. Soc. B 54 (1992) 761):
// the half of the values nearest to the median is pooled; whatever lies within
// FarZ of that joins, and all is pooled anew, until nothing changes. The stated
// uncertainties are the floor of the spread: with few values the MAD alone is
// often small by chance, and would accuse somebody in every tenth clean class.
//
// Of two values nobody can say which is wrong: both stand apart if they do. The
// errors are those of Pool.
func Agree(vs []Value) (Agreement, error) {
	if err := check(vs); err != nil {
		return Agreement{}, err
	}
	n := len(vs)
	a := Agreement{Z: make([]float64, n), Apart: make([]bool, n)}
	xs, far := make([]float64, n), make([]float64, n)
	for i, v := range vs {
		xs[i] = v.X
	}
	a.Median = Median(xs)
	for i, x := range xs {
		far[i] = math.Abs(x - a.Median)
	}
	order := sorted(far)
	a.MAD = middle(order)
	if n == 2 {
		z := (vs[0].X - vs[1].X) / math.Hypot(vs[0].U, vs[1].U)
		a.Z[0], a.Z[1] = z, -z
		a.Apart[0], a.Apart[1] = math.Abs(z) > FarZ, math.Abs(z) > FarZ
		a.Inner, _ = Pool(vs)
		return a, nil
	}
	near := order[n/2]
	inside, members := 0, make([]Value, 0, n)
	for i, v := range vs {
		// Several at the same distance are taken in their order.
		if in := far[i] <= near && inside <= n/2; in {
			members = append(members, v)
			inside++
		} else {
			a.Apart[i] = true
		}
	}
	for range searches {
		a.Inner, _ = Pool(members)
		changed := false
		members = members[:0]
		for i, v := range vs {
			a.Z[i] = a.Inner.distance(v, !a.Apart[i])
			if apart := math.Abs(a.Z[i]) > FarZ; apart != a.Apart[i] {
				a.Apart[i], changed = apart, true
			}
			if !a.Apart[i] {
				members = append(members, v)
			}
		}
		if !changed || len(members) == 0 {
			break
		}
	}
	return a, nil
}

// searches bounds the rounds of the search; a dozen is usual.
const searches = 100

// distance is that of a value from the mean of the others, in standard
// uncertainties; within tells that the value is part of the mean.
func (p Pooled) distance(v Value, within bool) float64 {
	between := v.U*v.U + p.Tau*p.Tau
	if !within || p.N == 1 {
		if p.N == 1 && within {
			return 0
		}
		return (v.X - p.Random.X) / math.Sqrt(between+p.Random.U*p.Random.U)
	}
	others, u := p.without(v)
	return (v.X - others) / math.Sqrt(between+u*u)
}

// Others is the random-effects mean without v, which is one of its values.
func (p Pooled) Others(v Value) Value {
	x, u := p.without(v)
	return Value{x, u}
}

// without takes one of its values out of the random-effects mean, Tau left as
// it is. There have to be two or more.
func (p Pooled) without(v Value) (mean, u float64) {
	sum, w := 1/(p.Random.U*p.Random.U), 1/(v.U*v.U+p.Tau*p.Tau)
	rest := sum - w
	if !(rest > 1e-9*sum) { // the others say nothing beside it
		return p.Random.X, p.Random.U
	}
	return p.Random.X + (p.Random.X-v.X)*w/rest, 1 / math.Sqrt(rest)
}

// Grubbs is the outcome of Grubbs' test for one outlying value.
type Grubbs struct {
	Suspect  int     // the place of the value furthest from the mean
	G        float64 // its distance from the mean in sample standard deviations
	Critical float64 // the two-sided critical value
	Outlying bool    // G is above it
}

// GrubbsTest tests the value furthest from the mean, two-sided at the level
// alpha (F. E. Grubbs, Technometrics 11 (1969) 1; ISO 5725-2:1994, 7.3.4). It
// is a test for one outlying value: two alike hide each other from it, which is
// what Agree is for. It needs three values, and alpha between 0 and 1; values
// that are all the same have no suspect, and G is 0.
func GrubbsTest(xs []float64, alpha float64) (Grubbs, error) {
	c, err := GrubbsCritical(len(xs), alpha/2)
	if err != nil {
		return Grubbs{}, err
	}
	g := Grubbs{Critical: c}
	n, mean := float64(len(xs)), 0.0
	for _, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return Grubbs{}, ErrInput
		}
		mean += (x - xs[0]) / n
	}
	mean += xs[0]
	ss, far := 0.0, -1.0
	for i, x := range xs {
		d := math.Abs(x - mean)
		ss += d * d
		if d > far {
			far, g.Suspect = d, i
		}
	}
	if sd := math.Sqrt(ss / (n - 1)); sd > 0 {
		g.G = far / sd
	}
	g.Outlying = g.G > c
	return g, nil
}

// GrubbsCritical returns the critical value for n values at the one-sided level
// alpha; a two-sided test at 5 % has alpha = 0.025. With t the upper alpha/n
// point of Student's law of n − 2 degrees of freedom it is
//
//	(n − 1)/√n · √(t²/(n − 2 + t²))
//
// It needs three values and alpha between 0 and 1.
func GrubbsCritical(n int, alpha float64) (float64, error) {
	if n < 3 {
		return 0, fmt.Errorf("%w: Grubbs' test needs three, not %d", ErrFew, n)
	}
	if !(alpha > 0 && alpha < 1) {
		return 0, fmt.Errorf("pooling: a level lies between 0 and 1, not %g", alpha)
	}
	f := float64(n)
	t := distuv.StudentsT{Sigma: 1, Nu: f - 2}.Quantile(1 - alpha/f)
	return (f - 1) / math.Sqrt(f) * math.Sqrt(t*t/(f-2+t*t)), nil
}

// NormalisedError returns (x − ref)/√(U² + Uref²), both uncertainties expanded
// (95 %): from −1 to 1 the two agree (ISO 13528, E_n). It is for two values that
// share nothing; NaN where neither has an uncertainty.
func NormalisedError(x, expanded, ref, refExpanded float64) float64 {
	return (x - ref) / math.Hypot(expanded, refExpanded)
}

// Trend is a straight line of values against time.
type Trend struct {
	Slope, U float64 // per unit of time
	At, Mean float64 // the weighted mean time and value
}

// Line fits values against times by the weights 1/u², their uncertainties
// widened by the Birge ratio of the fit where that is above 1. It needs three
// values at two times or more; ok is false otherwise.
func Line(times []float64, vs []Value) (t Trend, ok bool) {
	if len(times) != len(vs) || len(vs) < 3 || check(vs) != nil {
		return Trend{}, false
	}
	var sw, st, sx float64
	for i, v := range vs {
		w := 1 / (v.U * v.U)
		sw, st, sx = sw+w, st+w*(times[i]-times[0]), sx+w*(v.X-vs[0].X)
	}
	t.At, t.Mean = times[0]+st/sw, vs[0].X+sx/sw
	var stt, stx float64
	for i, v := range vs {
		w, d := 1/(v.U*v.U), times[i]-t.At
		stt, stx = stt+w*d*d, stx+w*d*(v.X-t.Mean)
	}
	if !(stt > 0) || math.IsInf(stt, 0) {
		return Trend{}, false
	}
	t.Slope = stx / stt
	chi2 := 0.0
	for i, v := range vs {
		d := (v.X - t.Mean - t.Slope*(times[i]-t.At)) / v.U
		chi2 += d * d
	}
	t.U = math.Sqrt(max(1, chi2/float64(len(vs)-2)) / stt)
	return t, true
}
