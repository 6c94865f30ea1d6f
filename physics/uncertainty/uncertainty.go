// Package uncertainty holds the rules by which standard uncertainties are
// found, combined and expanded.
//
// They are those of the Guide to the Expression of Uncertainty in Measurement
// (GUM), JCGM 100:2008; each function names the clause. A standard uncertainty
// has the unit of its quantity. Numbers of degrees of freedom are above zero
// and may be math.Inf(1), which says that the uncertainty is itself exactly
// known (GUM G.4.3); apart from them nothing here takes or returns an
// infinity, and nothing returns NaN.
package uncertainty

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// The reasons for which there is no answer. Each is wrapped with what was
// wrong; test with errors.Is.
var (
	// ErrInput: a number is NaN, infinite or of impossible sign, or lists
	// that belong together differ in length.
	ErrInput = errors.New("uncertainty: impossible input")
	// ErrTooFew: one value has no scatter, and none has no mean either.
	ErrTooFew = errors.New("uncertainty: too few values")
	// ErrRange: the answer cannot be held in a floating-point number.
	ErrRange = errors.New("uncertainty: the answer is beyond the range of numbers")
)

// The divisors that make a standard uncertainty from half the width of a
// distribution of limited width (for Resolution, from the whole step):
// u = a / Rectangular.
const (
	// Rectangular: nothing is known but the limits ±a (GUM 4.3.7), √3.
	Rectangular = 1.7320508075688772935274463415058723669428
	// Triangular: values near the middle of ±a are likelier (GUM 4.3.9), √6.
	Triangular = 2.4494897427831780981972840747058913919659
	// Arcsine: a quantity that swings between ±a like a sine (GUM H.1.3.4,
	// JCGM 101:2008, 6.4.6), √2.
	Arcsine = math.Sqrt2
	// Resolution: an indicator that moves by whole steps; the step is twice
	// the half-width of a rectangular distribution (GUM F.2.2.1), √12.
	Resolution = 2 * Rectangular
)

// finite reports whether v is neither NaN nor infinite.
func finite(v float64) bool { return math.Abs(v) <= math.MaxFloat64 }

// Covariance returns the covariance of two results that depend on the same
// inputs (GUM H.2.3, equation H.9),
//
//	Σ_i Σ_j (∂y/∂x_i) (∂z/∂x_j) u(x_i, x_j)
//
// first and second hold the sensitivities of y and z, in the order of the
// rows of covariance, which holds u²(x_i) on its diagonal and u(x_i, x_j)
// beside it.
//
// Errors are ErrInput and ErrRange.
func Covariance(first, second []float64, covariance mat.Symmetric) (float64, error) {
	sum, a, b, err := combine(first, second, covariance)
	if err != nil {
		return 0, err
	}
	if v := sum * a * b; finite(v) {
		return v, nil
	}
	return 0, ErrRange
}

// Combine returns the combined standard uncertainty of a result whose inputs
// may be correlated, by the law of propagation of uncertainty (GUM 5.2.2,
// equations 13 and 16),
//
//	u² = Σ_i Σ_j (∂y/∂x_i) (∂y/∂x_j) u(x_i, x_j)
//
// with the arguments of Covariance. It is first order.
//
// Errors are ErrRange and ErrInput, the latter also for covariances that
// contradict one another and make a variance negative by more than rounding.
func Combine(sensitivities []float64, covariance mat.Symmetric) (float64, error) {
	sum, most, _, err := combine(sensitivities, sensitivities, covariance)
	if err != nil {
		return 0, err
	}
	n := float64(len(sensitivities))
	if sum < -1e-12*n*n {
		return 0, fmt.Errorf("%w: the covariances contradict one another", ErrInput)
	}
	if u := most * math.Sqrt(max(0, sum)); finite(u) {
		return u, nil
	}
	return 0, ErrRange
}

// combine returns the double sum of Covariance divided by the largest
// contribution ∂y/∂x·u(x) to either result, and these two. It goes by
// correlation coefficients (GUM 5.2.2, equation 14): the square of a fine
// movement's k may underflow where k itself does not.
func combine(first, second []float64, covariance mat.Symmetric) (sum, a, b float64, err error) {
	n := covariance.SymmetricDim()
	if len(first) != n || len(second) != n {
		return 0, 0, 0, fmt.Errorf("%w: %d and %d sensitivities for %d inputs", ErrInput, len(first), len(second), n)
	}
	u, p, q := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		v := covariance.At(i, i)
		if !finite(first[i]) || !finite(second[i]) || !finite(v) || v < 0 {
			return 0, 0, 0, fmt.Errorf("%w: sensitivities of %g and %g to an input of variance %g", ErrInput, first[i], second[i], v)
		}
		u[i] = math.Sqrt(v)
		p[i], q[i] = first[i]*u[i], second[i]*u[i]
		a, b = max(a, math.Abs(p[i])), max(b, math.Abs(q[i]))
	}
	if !finite(a) || !finite(b) {
		return 0, 0, 0, ErrRange
	}
	for i := range n {
		for j := range n {
			var r float64 // the correlation coefficient
			switch c := covariance.At(i, j); {
			case i == j:
				r = 1
			case c != 0:
				r = c / u[i] / u[j]
				if !(math.Abs(r) <= 1+1e-9) { // rounding apart
					return 0, 0, 0, fmt.Errorf("%w: a covariance of %g between variances of %g and %g", ErrInput, c, u[i]*u[i], u[j]*u[j])
				}
			}
			if a > 0 && b > 0 {
				sum += p[i] / a * (q[j] / b) * r
			}
		}
	}
	return sum, a, b, nil
}

// EffectiveDoF returns the effective degrees of freedom of a combined
// standard uncertainty by the Welch–Satterthwaite formula (GUM G.4.1,
// equation G.2b),
//
//	ν = u⁴ / Σ (u_i⁴ / ν_i),  u² = Σ u_i²
//
// from the contributions u_i = |∂y/∂x_i| u(x_i), whose sign is ignored, of
// inputs that are independent of one another, and the degrees of freedom ν_i
// of each.
//
// The answer is math.Inf(1) where no contribution above zero has finite
// degrees of freedom. Contributions that are combined already may be nested.
// They must not be rounded first: in GUM H.1 u = 32 in place of 31.66 makes
// 17.5 of 16.7. Errors are ErrInput, and ErrRange where hardly any degree of
// freedom is left.
func EffectiveDoF(contributions, dof []float64) (float64, error) {
	if len(contributions) != len(dof) {
		return 0, fmt.Errorf("%w: %d contributions and %d degrees of freedom", ErrInput, len(contributions), len(dof))
	}
	var most float64
	for i, u := range contributions {
		if !finite(u) || !(dof[i] > 0) {
			return 0, fmt.Errorf("%w: a contribution of %g with %g degrees of freedom", ErrInput, u, dof[i])
		}
		most = max(most, math.Abs(u))
	}
	if most == 0 {
		return math.Inf(1), nil
	}
	var square, fourth float64
	for i, u := range contributions {
		s := (u / most) * (u / most)
		square += s
		fourth += s * s / dof[i]
	}
	if nu := square * square / fourth; nu > 0 {
		return nu, nil
	}
	return 0, ErrRange
}

// From muchDoF on the quantile of Student's t is had from the normal
// distribution's by a series, whose error is then below a part in 10¹¹, for
// the quantile of the beta distribution begins to lose digits. From endlessDoF
// on its tail is the normal distribution's, to a part in 10⁷. Below leastDoF,
// which no evaluation comes near, the beta distribution is not to be had.
const (
	leastDoF   = 0.01
	muchDoF    = 1e4
	endlessDoF = 1e8
)

// CoverageFactor returns the factor that makes of a standard uncertainty with
// the given degrees of freedom the half-width of an interval with the given
// coverage probability, between 0 and 1 (GUM G.3.2 to G.3.4): Student's t,
// or the normal distribution's factor for math.Inf(1), to eight digits for
// probabilities between 0.1 and 0.99999. A fraction of a degree of freedom is
// taken as it is; the GUM allows that (G.4.1, note 1) and for its own table
// takes the next lower integer, which makes the interval a little wider.
//
// Errors are ErrInput, and ErrRange below a hundredth of a degree of freedom.
func CoverageFactor(dof, probability float64) (float64, error) {
	if !(dof > 0) || !(probability > 0 && probability < 1) {
		return 0, fmt.Errorf("%w: a coverage probability of %g with %g degrees of freedom", ErrInput, probability, dof)
	}
	switch {
	case dof < leastDoF:
		return 0, ErrRange
	case dof > muchDoF:
		z := distuv.UnitNormal.Quantile(0.5 + probability/2)
		// Abramowitz and Stegun, 26.7.5, its first two terms.
		z2 := z * z
		return z + z*(z2+1)/(4*dof) + z*((5*z2+16)*z2+3)/(96*dof*dof), nil
	}
	if t := (distuv.StudentsT{Sigma: 1, Nu: dof}).Quantile(0.5 + probability/2); finite(t) {
		return t, nil
	}
	return 0, ErrRange
}

// Significance returns the probability, between 0 and 1, that a quantity
// which is truly zero is found at least |t| of its standard uncertainties
// away from zero, on either side, where the uncertainty has the given degrees
// of freedom: the complement of the probability in CoverageFactor (GUM G.3.2).
// Errors are those of CoverageFactor.
func Significance(t, dof float64) (float64, error) {
	if !finite(t) || !(dof > 0) {
		return 0, fmt.Errorf("%w: %g standard uncertainties with %g degrees of freedom", ErrInput, t, dof)
	}
	switch {
	case dof < leastDoF:
		return 0, ErrRange
	case dof > endlessDoF:
		return math.Erfc(math.Abs(t) / math.Sqrt2), nil
	}
	return min(1, 2*distuv.StudentsT{Sigma: 1, Nu: dof}.Survival(math.Abs(t))), nil
}

// Sample is a type A evaluation: what repeated independent observations of
// one quantity say (GUM 4.2).
type Sample struct {
	N             int     // how many, 2 or more
	Mean          float64 // q̄ (GUM 4.2.1)
	SD            float64 // experimental standard deviation s(q) (GUM 4.2.2)
	StandardError float64 // of the mean, s/√n (GUM 4.2.3)
	DoF           float64 // n − 1 (GUM G.3.3)
}

// TypeA evaluates two observations or more. Observations that agree to the
// last digit have a standard error of zero, which says that they were read
// too coarsely and not that nothing is in doubt (GUM F.2.2.1).
//
// Errors are ErrTooFew, ErrInput and ErrRange.
func TypeA(values []float64) (Sample, error) {
	if len(values) < 2 {
		return Sample{}, fmt.Errorf("%w: %d, and scatter needs 2", ErrTooFew, len(values))
	}
	for _, v := range values {
		if !finite(v) {
			return Sample{}, fmt.Errorf("%w: an observation is not a number", ErrInput)
		}
	}
	mean, sd := stat.MeanStdDev(values, nil)
	if !finite(mean) || !finite(sd) {
		return Sample{}, ErrRange
	}
	n := len(values)
	return Sample{N: n, Mean: mean, SD: sd, StandardError: sd / math.Sqrt(float64(n)), DoF: float64(n - 1)}, nil
}
