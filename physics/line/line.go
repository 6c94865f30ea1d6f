// Package line fits straight lines y = a + b x and says how well a and b are
// known: from the uncertainties stated for the points, which the points'
// scatter about the line does not stretch. Chi2 over DoF tells whether the
// scatter bears the statement out.
//
// Two lines of the trade are built on it: the series resistance against the
// reciprocal of the first deflection, and the reciprocal of the shunted
// deflection against that of the shunt.
//
// Nothing here takes or returns NaN or an infinity.
package line

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
)

// The reasons for which points give no line. Each is wrapped with what was
// wrong; test with errors.Is.
var (
	// ErrInput: a number is NaN, infinite or of impossible sign, or lists
	// that belong together differ in length.
	ErrInput = errors.New("line: impossible input")
	// ErrTooFew: the points are too few for the line and its uncertainty.
	ErrTooFew = errors.New("line: too few points")
	// ErrNoSpread: all x are the same.
	ErrNoSpread = errors.New("line: the points do not differ in x")
	// ErrRange: the answer cannot be held in a floating-point number.
	ErrRange = errors.New("line: the answer is beyond the range of numbers")
)

// Fit is a fitted line.
type Fit struct {
	Intercept, Slope   float64 // a and b
	UIntercept, USlope float64 // their standard uncertainties
	Covariance         float64 // of a and b
	// Chi2 is the minimised sum of the squared residuals, each divided by
	// its own variance.
	Chi2 float64
	DoF  int // points less 2, 0 or more
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

// ResidualSD returns √(Chi2/DoF): Birge's ratio, about 1 where the stated
// uncertainties are right, and the residual standard deviation where all are
// given as 1. ok is false where no degree of freedom is left.
func (f Fit) ResidualSD() (s float64, ok bool) {
	if f.DoF <= 0 {
		return 0, false
	}
	return math.Sqrt(f.Chi2 / float64(f.DoF)), true
}

// Weighted fits a line by least squares to points whose y has the standard
// uncertainty u, above zero and independent of the others', with weights 1/u²
// (JCGM 100:2008, H.3.2, equations H.13, has the case of equal weights; these
// are the usual normal equations). Standard uncertainties follow from u alone;
// those that the scatter shows, as the GUM has them, are ResidualSD times as
// large where all u are alike. It needs two points.
//
// Errors are ErrInput, ErrTooFew, ErrNoSpread and ErrRange.
func Weighted(x, y, u []float64) (Fit, error) {
	if len(y) != len(x) || len(u) != len(x) {
		return Fit{}, fmt.Errorf("%w: %d x, %d y and %d uncertainties", ErrInput, len(x), len(y), len(u))
	}
	if !finite(x...) || !finite(y...) {
		return Fit{}, fmt.Errorf("%w: a coordinate is not a number", ErrInput)
	}
	if len(x) < 2 {
		return Fit{}, fmt.Errorf("%w: %d, and it needs 2", ErrTooFew, len(x))
	}
	for _, v := range u {
		if !finite(v) || v <= 0 {
			return Fit{}, fmt.Errorf("%w: an uncertainty of y is a number above 0, not %g", ErrInput, v)
		}
	}
	w, least := weights(u)
	middle, sum := stat.Mean(x, w), floats.Sum(w)
	var sxx, size float64 // the spread about the middle, and the largest x
	for i, v := range x {
		sxx += w[i] * (v - middle) * (v - middle)
		size = max(size, math.Abs(v))
	}
	if !finite(sxx, middle) {
		return Fit{}, ErrRange
	}
	// A spread of nothing but rounding is none.
	if !(math.Sqrt(sxx/sum) > 1e-14*size) {
		return Fit{}, ErrNoSpread
	}
	f := Fit{DoF: len(x) - 2}
	f.Intercept, f.Slope = stat.LinearRegression(x, y, w, false)
	f.USlope = least / math.Sqrt(sxx)
	f.UIntercept = least * math.Sqrt(1/sum+middle/sxx*middle)
	f.Covariance = -middle / sxx * least * least
	for i := range x {
		r := (y[i] - f.Intercept - f.Slope*x[i]) * math.Sqrt(w[i])
		f.Chi2 += r * r
	}
	f.Chi2 = f.Chi2 / least / least
	if !finite(f.Intercept, f.Slope, f.UIntercept, f.USlope, f.Covariance, f.Chi2) {
		return Fit{}, ErrRange
	}
	return f, nil
}

// weights returns 1/u² relative to the largest, and the u that has it: the
// squares of small currents' doubts would overflow as weights.
func weights(u []float64) (w []float64, least float64) {
	least = floats.Min(u)
	w = make([]float64, len(u))
	for i, v := range u {
		w[i] = (least / v) * (least / v)
	}
	return w, least
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
	w, _ := weights(u)
	sum := floats.Sum(w)
	middle := stat.Mean(x, w)
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
