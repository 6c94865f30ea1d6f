package line

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"example.org/halve/physics/uncertainty"
)

// ErrNotFalling: the deflection does not fall as the series resistance rises,
// and no figure of merit makes it do that.
var ErrNotFalling = errors.New("line: the deflection does not fall as the series resistance rises")

// SeriesPoints are first deflections at several series values.
type SeriesPoints struct {
	Series []float64 // R as dialled, ohm, 0 or more
	// First are the deflections from the zero, without their sign, div, above
	// 0. Two at the same series value share the rounding of the scale: they
	// are to be one point, their mean.
	First []float64
	// U are the standard uncertainties of First in which no two have part,
	// div, above 0: that of the scale's resolution and of repeating.
	U []float64
	// SeriesCovariance is the covariance of the true series resistances about
	// Series, Ω²; nil for a box without error. Coils that several settings
	// have in common make it full.
	SeriesCovariance mat.Symmetric
	UZero            float64 // standard uncertainty of the zero, in all First alike, div, 0 or more
	EMF, UEMF        float64 // and its standard uncertainty, V, above 0 and 0 or more
}

// SeriesLine is the line of R against 1/θ.
type SeriesLine struct {
	Slope, USlope         float64 // E/k and its standard uncertainty, Ω·div
	Intercept, UIntercept float64 // −(G + r) and its standard uncertainty, Ω
	Correlation           float64 // of slope and intercept, −1 to 1
	K, UK                 float64 // k = E/slope and its standard uncertainty, A/div
	Chi2                  float64 // of the readings' own doubt, on DoF degrees of freedom
	DoF                   int     // points less 2
}

// SeriesAgainstReciprocal fits the line by which the trade has k from first
// deflections alone,
//
//	R = (E/k) (1/θ) − (G + r)
//
// which is Ohm's law for the loop. What is in doubt is θ and not R, and
// u(1/θ) = u(θ)/θ²: so 1/θ is fitted on R, with weights θ⁴/u²(θ), and the
// line turned over,
//
//	1/θ = β R + α,  slope 1/β,  intercept −α/β,  k = E β
//
// A fit of R on 1/θ with all points alike would trust the small deflections
// most. The standard uncertainties are first order (JCGM 100:2008, 5.2.2) and
// hold the readings, the zero and the box; UK also the EMF.
//
// The slope gives a fair k. The intercept gives no useful G at a school bench:
// it lies as far beyond the points as G + r is small beside R, and its
// uncertainty is commonly as large as G itself. A negative "G" from this
// line is nothing out of the way and no sign of a mistake; ForcedMerit takes G
// from the half deflection and has the better k.
//
// Errors are those of Weighted, and ErrNotFalling.
func SeriesAgainstReciprocal(p SeriesPoints) (SeriesLine, error) {
	cov, err := p.covariance()
	if err != nil {
		return SeriesLine{}, err
	}
	n := len(p.Series)
	y, uy := make([]float64, n), make([]float64, n)
	for i, θ := range p.First {
		y[i], uy[i] = 1/θ, p.U[i]/θ/θ
	}
	f, err := Weighted(p.Series, y, uy)
	if err != nil {
		return SeriesLine{}, err
	}
	α, β := f.Intercept, f.Slope
	if β <= 0 {
		return SeriesLine{}, ErrNotFalling
	}

	// An error of R_i acts as one of −β in y_i, and the zero acts on all y.
	ofα, ofβ := factors(p.Series, uy)
	toSlope, toIntercept := make([]float64, 2*n+1), make([]float64, 2*n+1)
	for i := range n {
		s := -ofβ[i] / β / β            // slope 1/β
		t := (-ofα[i] + ofβ[i]*α/β) / β // intercept −α/β
		θ := -y[i] * y[i]               // ∂y/∂θ
		toSlope[i], toIntercept[i] = s*θ, t*θ
		toSlope[n+i], toIntercept[n+i] = -s*β, -t*β
		toSlope[2*n] -= s * θ
		toIntercept[2*n] -= t * θ
	}
	l := SeriesLine{Slope: 1 / β, Intercept: -α / β, K: p.EMF * β, Chi2: f.Chi2, DoF: f.DoF}
	var c float64
	if l.USlope, err = uncertainty.Combine(toSlope, cov); err == nil {
		if l.UIntercept, err = uncertainty.Combine(toIntercept, cov); err == nil {
			c, err = uncertainty.Covariance(toSlope, toIntercept, cov)
		}
	}
	if err != nil {
		return SeriesLine{}, problem(err)
	}
	l.Correlation = max(-1, min(1, c/l.USlope/l.UIntercept)) // no reading is exact, so neither is 0
	l.UK = l.K * math.Hypot(l.USlope/l.Slope, p.UEMF/p.EMF)
	if !finite(l.Slope, l.Intercept, l.Correlation, l.K, l.UK) {
		return SeriesLine{}, ErrRange
	}
	return l, nil
}

// Forced is the figure of merit from a line whose intercept is known.
type Forced struct {
	K, UK float64 // and its standard uncertainty, A/div
	Chi2  float64 // of the readings' own doubt, on DoF degrees of freedom
	DoF   int     // points less 1
}

// ForcedMerit returns k from the line of SeriesAgainstReciprocal forced
// through −c, where c = G + r is known otherwise with standard uncertainty uc
// (ohm, both 0 or more): the mean of
//
//	k_i = E / (θ_i (R_i + c))
//
// with weights (θ_i/u_i)², as relative doubt in θ demands. It needs one point.
// G found from the same readings is a little correlated with them; this is
// left out, since uc enters only as uc/(R + c).
//
// Errors are ErrInput, ErrTooFew and ErrRange.
func ForcedMerit(p SeriesPoints, c, uc float64) (Forced, error) {
	if !finite(c, uc) || c < 0 || uc < 0 {
		return Forced{}, fmt.Errorf("%w: G + r is %g Ω with an uncertainty of %g Ω", ErrInput, c, uc)
	}
	cov, err := p.covariance()
	if err != nil {
		return Forced{}, err
	}
	n := len(p.Series)
	if n == 0 {
		return Forced{}, fmt.Errorf("%w: none, and it needs 1", ErrTooFew)
	}
	w := make([]float64, n)
	most := 0.0
	for i, θ := range p.First {
		w[i] = θ / p.U[i]
		most = max(most, w[i])
	}
	for i := range w {
		w[i] = (w[i] / most) * (w[i] / most)
	}
	floats.Scale(1/floats.Sum(w), w)

	var k float64
	part := make([]float64, n) // w_i k_i
	for i, θ := range p.First {
		part[i] = w[i] * (p.EMF / θ / (p.Series[i] + c))
		k += part[i]
	}
	f := Forced{K: k, DoF: n - 1}
	to := make([]float64, 2*n+1)
	var toC float64
	for i, θ := range p.First {
		total := p.Series[i] + c
		to[i] = -part[i] / θ
		to[n+i] = -part[i] / total
		to[2*n] += part[i] / θ
		toC += part[i] / total
		r := (k*θ*total/p.EMF - 1) * (θ / p.U[i])
		f.Chi2 += r * r
	}
	if f.UK, err = uncertainty.Combine(to, cov); err != nil {
		return Forced{}, problem(err)
	}
	f.UK = math.Hypot(math.Hypot(f.UK, toC*uc), k*(p.UEMF/p.EMF))
	if !finite(f.K, f.UK, f.Chi2) || f.K == 0 {
		return Forced{}, ErrRange
	}
	return f, nil
}

// covariance checks the points and returns the covariance of what is in doubt
// in the line: all θ, all R, and the zero.
func (p SeriesPoints) covariance() (*mat.SymDense, error) {
	n := len(p.Series)
	switch {
	case len(p.First) != n || len(p.U) != n:
		return nil, fmt.Errorf("%w: %d series values, %d deflections and %d uncertainties", ErrInput, n, len(p.First), len(p.U))
	case p.SeriesCovariance != nil && p.SeriesCovariance.SymmetricDim() != n:
		return nil, fmt.Errorf("%w: a covariance of %d series values, not %d", ErrInput, p.SeriesCovariance.SymmetricDim(), n)
	case !finite(p.EMF, p.UEMF, p.UZero) || p.EMF <= 0 || p.UEMF < 0 || p.UZero < 0:
		return nil, fmt.Errorf("%w: EMF %g V with %g V, zero with %g div", ErrInput, p.EMF, p.UEMF, p.UZero)
	}
	cov := mat.NewSymDense(2*n+1, nil)
	for i, θ := range p.First {
		r, u := p.Series[i], p.U[i]
		if !finite(r, θ, u) || r < 0 || θ <= 0 || u <= 0 {
			return nil, fmt.Errorf("%w: %g div with %g div at %g Ω", ErrInput, θ, u, r)
		}
		cov.SetSym(i, i, u*u)
		if p.SeriesCovariance != nil {
			for j := i; j < n; j++ {
				cov.SetSym(n+i, n+j, p.SeriesCovariance.At(i, j))
			}
		}
	}
	cov.SetSym(2*n, 2*n, p.UZero*p.UZero)
	return cov, nil
}

// problem says in this package's errors what is wrong with a covariance.
func problem(err error) error {
	if errors.Is(err, uncertainty.ErrInput) {
		return fmt.Errorf("%w: %w", ErrInput, err)
	}
	return ErrRange
}
