package estimate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/mat"
)

// A reading on a scale read in steps says that the needle, blurred by the
// repeatability s, lay within half a step of it: its likelihood, with t the
// needle's place and Φ the normal law, is
//
//	Φ((y + step/2 − t)/s) − Φ((y − step/2 − t)/s),
//
// a box with soft edges. Where readings lie far apart between the marks their
// roundings are as good as independent and a normal law of variance
// step²/12 + s² stands for each. Where they lie together (exact halves at
// even marks, repeats) they share their rounding: the second box tells little
// that the first has not told. Whether they do depends on what all the others
// say, so each box is replaced by the normal law that has, together with all
// other readings, the mean and variance that the box has together with them:
// expectation propagation (T. P. Minka, UAI 2001), here by Gauss-Newton steps
// for all readings in parallel. The settings may have been chosen after
// looking at the readings; a likelihood does not mind.

// box is what readings at one place say of it: a box about its middle with
// blurred edges, or without width where a normal law of variance edge² serves.
type box struct {
	middle, half, edge float64
}

// law is a box and the normal law that stands for it.
type law struct {
	box
	mean, variance float64
}

// alone is the law of the box by itself.
func (b box) alone() law { return law{b, b.middle, b.half*b.half/3 + b.edge*b.edge} }

// repeated is a reading and how often it was made.
type repeated struct {
	div, times float64
}

// newBox makes the likelihood of readings at one place of the needle, each
// blurred by s and read in steps.
//
// N equal readings are the N-th power of the box. Near an edge that is the
// law of the greatest of N normal values, for which the normal law with its
// mean and variance is taken: the edges move inwards and become sharper.
// Readings on two neighbouring marks put the needle at the edge between, to
// within about s: a normal law with the moments of the product of powers.
// Wider scatter is more than s explains, and only its mean counts; so it is
// where s is above half a step and blurs them over.
func newBox(readings []repeated, step, s float64) box {
	n, mean := 0.0, 0.0
	low, high := readings[0], readings[0]
	for _, r := range readings {
		n += r.times
		mean += r.div * r.times
		if r.div < low.div {
			low = r
		}
		if r.div > high.div {
			high = r
		}
	}
	mean /= n
	between := 0.0
	for _, r := range readings {
		if r.div != low.div && r.div != high.div {
			between = math.Inf(1)
		}
	}
	switch gap := high.div - low.div + between; {
	case s > step/2: // the blur covers the steps
	case gap <= 1e-9*step:
		in, narrow := edge(n, 0)
		return box{middle: mean, half: max(0, step/2-in*s), edge: narrow * s}
	case gap < step*(1+1e-9) && s > 0:
		at, sd := edge(low.times, high.times)
		return box{middle: (low.div+high.div)/2 - at*s, edge: sd * s}
	}
	return box{middle: mean, edge: math.Sqrt(step*step/12 + s*s/n)}
}

// edge returns mean and standard deviation, in units of s, of the needle's
// distance below an edge above which it was read high times and below which
// low times; with high 0, those of the greatest of low normal values.
func edge(low, high float64) (mean, sd float64) {
	if high == 0 && low == 1 {
		return 0, 1
	}
	// The trapezoidal rule over smooth laws that vanish at both ends.
	const reach, width = 8.0, 0.25
	var sum, first, second float64
	for z := -reach; z <= reach; z += width {
		below := math.Erfc(-z/math.Sqrt2) / 2 // that a reading falls below, z being the distance
		w := math.Pow(below, low) * math.Pow(1-below, high)
		if high == 0 {
			w = low * math.Pow(below, low-1) * density(z)
		}
		sum, first, second = sum+w, first+w*z, second+w*z*z
	}
	mean = first / sum
	return mean, math.Sqrt(max(0, second/sum-mean*mean))
}

// split takes N repeats with a mean apart: on a scale read in steps they were
// all alike or, so far as a mean can tell, on two neighbouring marks.
func split(div, step float64, n int) []repeated {
	below := math.Floor(div / step)
	part := (div/step - below) * float64(n)
	upper := math.Round(part)
	if n == 1 || !(math.Abs(part-upper) < 1e-3) || upper == 0 || upper == float64(n) {
		return []repeated{{div, float64(n)}}
	}
	return []repeated{{below * step, float64(n) - upper}, {(below + 1) * step, upper}}
}

// Limits of the propagation.
const (
	sweeps   = 40
	settled  = 1e-5 // change of the estimate and of its variance in its own standard uncertainties
	flat     = 1e-6 // below this part of a reading's own precision the others say nothing about it
	least    = 1e-9 // no box says less than this part of it: the inverse stays finite
	farAway  = 1e-280
	rounding = 1e-12
)

// resolve replaces the normal laws of the readings and zeros by those that
// stand for their boxes, and moves x to the estimate that they give. Where boxes contradict each other so that no
// law can stand for them, x stays the least-squares estimate.
func (f *information) resolve(m *model, x []float64) error {
	before, priors := slices.Clone(x), slices.Clone(m.priors)
	laws := make([]law, len(m.points))
	for i := range m.points {
		laws[i] = m.points[i].law
		m.points[i].law = m.points[i].alone()
	}
	if f.propagate(m, x) {
		return nil
	}
	copy(x, before)
	m.priors = priors
	for i := range m.points {
		m.points[i].law = laws[i]
	}
	_, _, err := f.minimise(m, x)
	return err
}

// propagate is resolve without its way back; it tells whether it came to an
// end.
func (f *information) propagate(m *model, x []float64) bool {
	n := m.columns
	step := mat.NewVecDense(n, nil)
	// L⁻¹Jᵀ, of which the columns' squares are the variances; first the
	// zeros', which are parameters, then the readings'.
	zeros := m.boxed()
	raw := mat.NewDense(n, len(zeros)+len(m.points), nil).RawMatrix()
	fitted := make([]float64, len(m.points))
	last := math.Inf(1)
	for sweep := range sweeps {
		f.assemble(m, x)
		size, ok := f.solve(step, 0)
		if !ok || math.IsNaN(size) {
			return false
		}
		v := f.covariance([]entry{{logG, 1}}, []entry{{logG, 1}})
		if sweep > 0 && size < settled && math.Abs(v-last) < settled*v {
			return true
		}
		last = v
		clear(raw.Data)
		a := here(x)
		for j, c := range zeros {
			raw.Data[c*raw.Stride+j] = 1 / f.scale[c]
		}
		for i := range m.points {
			var row []entry
			fitted[i], row = m.gradient(a, &m.points[i], m.row[:0])
			m.row = row
			for _, e := range row {
				raw.Data[e.column*raw.Stride+len(zeros)+i] += e.d / f.scale[e.column]
				fitted[i] += e.d * step.AtVec(e.column)
			}
		}
		for i := range x {
			x[i] += step.AtVec(i)
		}
		blas64.Trsm(blas.Left, blas.Trans, 1, f.root, raw)
		variance := func(column int) float64 {
			v := 0.0
			for c := range n {
				h := raw.Data[c*raw.Stride+column]
				v += h * h
			}
			return v
		}
		for j, c := range zeros {
			m.priors[c-nuisances].stand(x[c], variance(j))
		}
		for i := range m.points {
			m.points[i].stand(fitted[i], variance(len(zeros)+i))
		}
	}
	return false
}

// stand finds the normal law that stands for the box where its quantity is, by
// all laws as they stood, at t with the variance v.
func (l *law) stand(t, v float64) {
	if l.half == 0 {
		return
	}
	alone := l.alone()
	q := 1/v - 1/l.variance // what all others say
	if q*alone.variance > flat {
		mu := (t/v - l.mean/l.variance) / q
		if tau, g, ok := softBox(mu-l.middle, 1/q, l.edge, l.half); ok && tau*alone.variance > least {
			l.mean, l.variance = mu+g/q+g/tau, 1/tau
			return
		}
	}
	*l = alone
}

// softBox weighs the normal law of mean mu and variance v by the box of the
// given half width about 0 with its edges blurred by s. It returns the
// precision of the normal law that stands for the box, and g, by which the
// mean of the product differs from mu in units of v; ok is false so far from
// the box that nothing is left.
func softBox(mu, v, s, half float64) (tau, g float64, ok bool) {
	u := math.Sqrt(v + s*s)
	a, b := (-half-mu)/u, (half-mu)/u
	if a+b < 0 { // the lower tail is where the figures are
		a, b = -b, -a
		tau, g, ok = tails(a, b, u, v)
		return tau, -g, ok
	}
	return tails(a, b, u, v)
}

// tails is softBox for b ≥ |a| or both above 0.
func tails(a, b, u, v float64) (tau, g float64, ok bool) {
	z := (math.Erfc(a/math.Sqrt2) - math.Erfc(b/math.Sqrt2)) / 2
	if !(z > farAway) {
		return 0, 0, false
	}
	fa, fb := density(a)/(z*u), density(b)/(z*u)
	g = fa - fb
	w := g*g + (b*fb-a*fa)/u
	rest := 1 - v*w
	if !(rest > rounding) || !(w >= 0) {
		return 0, 0, false
	}
	return w / rest, g, true
}

// density is that of the standard normal law.
func density(x float64) float64 { return math.Exp(-x*x/2) / math.Sqrt(2*math.Pi) }
