package line

import "math"

// ShuntLine is the line of 1/θ2 against 1/S at one series value.
type ShuntLine struct {
	Slope, USlope         float64 // P/θ1 and its standard uncertainty, Ω/div
	Intercept, UIntercept float64 // 1/θ1 and its standard uncertainty, 1/div
	Correlation           float64 // of slope and intercept, -1 to 1
	// P is slope over intercept, R′G/(R′ + G): what the shunt sees of the
	// circuit; and its standard uncertainty, Ω.
	P, UP float64
	Chi2  float64 // on DoF degrees of freedom
	DoF   int     // points less 2
}

// ReciprocalAgainstShunt fits the line that shunts of several values give
// while the series box stands,
//
//	1/θ2 = (1/θ1) (1 + P/S),  P = R′G/(R′ + G)
//
// which follows from θ2 = θ1 S/(S + P). conductance is 1/S as dialled, 1/Ω,
// 0 for the reading with K2 open; read are the deflections from the zero
// without their sign, div, above 0, and u their standard uncertainties in which
// no two have part, div, above 0. Since u(1/θ) = u(θ)/θ², the weights are
// θ⁴/u²(θ).
//
// The standard uncertainties are first order (JCGM 100:2008, 5.2.2) and hold
// the readings alone: zero and box, common to all points, are left out. With
// R′ known G = P R′/(R′ - P), and unlike the line of R against 1/θ this one
// gives a useful G.
//
// It needs two points; the other errors are those of Weighted, and ErrRange
// where the line meets the axis at 0 or below.
func ReciprocalAgainstShunt(conductance, read, u []float64) (ShuntLine, error) {
	if len(read) != len(conductance) || len(u) != len(read) {
		return ShuntLine{}, ErrInput
	}
	y, uy := make([]float64, len(read)), make([]float64, len(read))
	for i, div := range read {
		if !(div > 0) || !(conductance[i] >= 0) {
			return ShuntLine{}, ErrInput
		}
		y[i], uy[i] = 1/div, u[i]/div/div
	}
	f, err := Weighted(conductance, y, uy)
	if err != nil {
		return ShuntLine{}, err
	}
	if !(f.Intercept > 0) {
		return ShuntLine{}, ErrRange
	}
	l := ShuntLine{
		Slope: f.Slope, USlope: f.USlope, Intercept: f.Intercept, UIntercept: f.UIntercept,
		P: f.Slope / f.Intercept, Chi2: f.Chi2, DoF: f.DoF,
	}
	l.Correlation, _ = f.Correlation()
	l.UP = math.Sqrt(math.Max(0, f.USlope*f.USlope+l.P*l.P*f.UIntercept*f.UIntercept-2*l.P*f.Covariance)) / f.Intercept
	if !finite(l.P, l.UP) {
		return ShuntLine{}, ErrRange
	}
	return l, nil
}
