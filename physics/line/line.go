// Package line fits straight lines y = a + b x and says how well a, b and what
// they predict are known.
//
// What a standard uncertainty rests on differs and is named by each function:
// on the points' scatter about the line (Ordinary, ThroughOrigin), or on the
// uncertainties stated for the points, not stretched by the scatter (Weighted,
// WeightedThroughOrigin, York). Chi2 over DoF tells in the second case whether
// the scatter bears the statement out.
//
// Nothing here takes or returns NaN or an infinity.
package line

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"example.org/halve/physics/uncertainty"
)

// The reasons for which points give no line. Each is wrapped with what was
// wrong; test with errors.Is.
var (
	// ErrInput: a number is NaN, infinite or of impossible sign, or lists
	// that belong together differ in length.
	ErrInput = errors.New("line: impossible input")
	// ErrTooFew: the points are too few for the line and its uncertainty.
	ErrTooFew = errors.New("line: too few points")
	// ErrNoSpread: all x are the same (or 0, for a line through the origin).
	ErrNoSpread = errors.New("line: the points do not differ in x")
	// ErrNoConvergence: the line turns on and on, as where points in a round
	// cloud have no direction.
	ErrNoConvergence = errors.New("line: the fit does not settle")
	// ErrRange: the answer cannot be held in a floating-point number.
	ErrRange = errors.New("line: the answer is beyond the range of numbers")
)

// Fit is a fitted line.
type Fit struct {
	Intercept, Slope   float64 // a and b
	UIntercept, USlope float64 // their standard uncertainties
	Covariance         float64 // of a and b
	// Chi2 is the minimised sum of the squared residuals, each divided by
	// its own variance; Ordinary and ThroughOrigin do not divide, and it is
	// then the residual sum of squares.
	Chi2 float64
	DoF  int // points less parameters, 0 or more
}

// finite reports whether all are numbers.
func finite(values ...float64) bool {
	for _, v := range values {
		if !(math.Abs(v) <= math.MaxFloat64) {
			return false
		}
	}
	return true
}

// Correlation returns the correlation coefficient of intercept and slope; ok
// is false where one of them is exactly known and there is none.
func (f Fit) Correlation() (r float64, ok bool) {
	if f.UIntercept == 0 || f.USlope == 0 {
		return 0, false
	}
	return max(-1, min(1, f.Covariance/f.UIntercept/f.USlope)), true
}

// ResidualSD returns √(Chi2/DoF): the residual standard deviation of an
// unweighted fit, Birge's ratio of a weighted one, about 1 where the stated
// uncertainties are right. ok is false where no degree of freedom is left.
func (f Fit) ResidualSD() (s float64, ok bool) {
	if f.DoF <= 0 {
		return 0, false
	}
	return math.Sqrt(f.Chi2 / float64(f.DoF)), true
}

// At returns the line's y at x and its standard uncertainty (GUM H.3.4,
// equation H.15): that of the line, not of one more point. Errors are ErrInput
// and ErrRange.
func (f Fit) At(x float64) (y, u float64, err error) {
	if !finite(x) {
		return 0, 0, fmt.Errorf("%w: x is %g", ErrInput, x)
	}
	cov := mat.NewSymDense(2, []float64{f.UIntercept * f.UIntercept, f.Covariance, f.Covariance, f.USlope * f.USlope})
	u, err = uncertainty.Combine([]float64{1, x}, cov)
	y = f.Intercept + f.Slope*x
	if err != nil || !finite(y) {
		return 0, 0, ErrRange
	}
	return y, u, nil
}

// Ordinary fits a line by least squares to points that are all alike in
// doubt, in y alone (GUM H.3.2, equations H.13). Standard uncertainties are
// the residual standard deviation's, with n − 2 degrees of freedom. It needs
// three points.
//
// Errors are ErrInput, ErrTooFew, ErrNoSpread and ErrRange.
func Ordinary(x, y []float64) (Fit, error) {
	f, err := fit(x, y, nil, false, 3)
	if err != nil {
		return Fit{}, err
	}
	return f.scaled().checked()
}

// Weighted fits a line to points whose y has the standard uncertainty u,
// above zero and independent of the others', with weights 1/u²
// (JCGM 100:2008 has only the unweighted case; these are the usual normal
// equations). Standard uncertainties follow from u alone. It needs two points.
//
// Errors are ErrInput, ErrTooFew, ErrNoSpread and ErrRange.
func Weighted(x, y, u []float64) (Fit, error) {
	return weighted(x, y, u, false, 2)
}

// SlopeFactors returns what each y weighs in the slope of Weighted: the slope
// is Σ factor_i y_i (GUM H.3.3). With them uncertainties that the points have in
// common are propagated to the slope by uncertainty.Combine.
//
// Errors are those of Weighted.
func SlopeFactors(x, u []float64) ([]float64, error) {
	if _, err := Weighted(x, make([]float64, len(x)), u); err != nil {
		return nil, err
	}
	_, slope := factors(x, u)
	return slope, nil
}

// factors returns what each y weighs in intercept and slope of Weighted, for
// points that Weighted can fit.
func factors(x, u []float64) (intercept, slope []float64) {
	least := floats.Min(u)
	w := make([]float64, len(x))
	for i, v := range u {
		w[i] = (least / v) * (least / v)
	}
	sum := floats.Sum(w)
	middle := floats.Dot(w, x) / sum
	var sxx float64
	for i, v := range x {
		sxx += w[i] * (v - middle) * (v - middle)
	}
	intercept, slope = make([]float64, len(x)), make([]float64, len(x))
	for i, v := range x {
		slope[i] = w[i] * (v - middle) / sxx
		intercept[i] = w[i]/sum - middle*slope[i]
	}
	return intercept, slope
}

// ThroughOrigin fits y = b x as Ordinary fits a line, with n − 1 degrees of
// freedom; the intercept is exactly 0. It needs two points.
//
// Errors are ErrInput, ErrTooFew, ErrNoSpread and ErrRange.
func ThroughOrigin(x, y []float64) (Fit, error) {
	f, err := fit(x, y, nil, true, 2)
	if err != nil {
		return Fit{}, err
	}
	return f.scaled().checked()
}

// WeightedThroughOrigin fits y = b x as Weighted fits a line. It needs one
// point.
//
// Errors are ErrInput, ErrTooFew, ErrNoSpread and ErrRange.
func WeightedThroughOrigin(x, y, u []float64) (Fit, error) {
	return weighted(x, y, u, true, 1)
}

// scaled turns uncertainties that hold for points of unit standard deviation
// into those that the scatter shows.
func (f Fit) scaled() Fit {
	s, _ := f.ResidualSD()
	f.UIntercept, f.USlope, f.Covariance = f.UIntercept*s, f.USlope*s, f.Covariance*s*s
	return f
}

func weighted(x, y, u []float64, origin bool, need int) (Fit, error) {
	if len(u) != len(x) {
		return Fit{}, fmt.Errorf("%w: %d points and %d uncertainties", ErrInput, len(x), len(u))
	}
	least := math.Inf(1)
	for _, v := range u {
		if !finite(v) || v <= 0 {
			return Fit{}, fmt.Errorf("%w: an uncertainty of y is a number above 0, not %g", ErrInput, v)
		}
		least = min(least, v)
	}
	// Weights are taken relative to the largest, and the scale put back after:
	// the squares of small currents' doubts would overflow as weights.
	w := make([]float64, len(u))
	for i, v := range u {
		w[i] = (least / v) * (least / v)
	}
	f, err := fit(x, y, w, origin, need)
	if err != nil {
		return Fit{}, err
	}
	f.UIntercept, f.USlope, f.Covariance = f.UIntercept*least, f.USlope*least, f.Covariance*least*least
	f.Chi2 = f.Chi2 / least / least
	return f.checked()
}

func (f Fit) checked() (Fit, error) {
	if !finite(f.Intercept, f.Slope, f.UIntercept, f.USlope, f.Covariance, f.Chi2) {
		return Fit{}, ErrRange
	}
	return f, nil
}

// fit returns the line with the weights w (nil for 1), and uncertainties as if
// a point of weight 1 had the standard deviation 1.
func fit(x, y, w []float64, origin bool, need int) (Fit, error) {
	if len(x) != len(y) {
		return Fit{}, fmt.Errorf("%w: %d x and %d y", ErrInput, len(x), len(y))
	}
	if !finite(x...) || !finite(y...) {
		return Fit{}, fmt.Errorf("%w: a coordinate is not a number", ErrInput)
	}
	if len(x) < need {
		return Fit{}, fmt.Errorf("%w: %d, and it needs %d", ErrTooFew, len(x), need)
	}
	var f Fit
	var middle, sum float64 // the weighted mean of x and the sum of weights
	f.DoF = len(x) - 1
	if !origin {
		f.DoF--
		middle = stat.Mean(x, w)
	}
	var sxx, size float64 // the spread about the middle, and the largest x
	for i := range x {
		wi := 1.0
		if w != nil {
			wi = w[i]
		}
		d := x[i] - middle
		sum += wi
		sxx += wi * d * d
		size = max(size, math.Abs(x[i]))
	}
	if !finite(sxx, middle) {
		return Fit{}, ErrRange
	}
	// A spread of nothing but rounding is none.
	if !(math.Sqrt(sxx/sum) > 1e-14*size) {
		return Fit{}, ErrNoSpread
	}
	f.Intercept, f.Slope = stat.LinearRegression(x, y, w, origin)
	f.USlope = 1 / math.Sqrt(sxx)
	if !origin {
		f.UIntercept = math.Sqrt(1/sum + middle/sxx*middle)
		f.Covariance = -middle / sxx
	}
	for i := range x {
		r := y[i] - f.Intercept - f.Slope*x[i]
		if w != nil {
			r *= math.Sqrt(w[i])
		}
		f.Chi2 += r * r
	}
	return f.checked()
}
