package line

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// θ1 = 24 div and P = 90 Ω give θ2 = θ1 S/(S + P) = 9.6, 12 and 16 div at
// S = 60, 90 and 180 Ω (by hand).
func TestReciprocalAgainstShunt(t *testing.T) {
	l, err := ReciprocalAgainstShunt([]float64{0, 1. / 180, 1. / 90, 1. / 60}, []float64{24, 16, 12, 9.6}, []float64{0.2, 0.2, 0.2, 0.2})
	if err != nil {
		t.Fatal(err)
	}
	for what, pair := range map[string][2]float64{
		"P": {l.P, 90}, "intercept": {l.Intercept, 1. / 24}, "slope": {l.Slope, 90. / 24}, "chi-squared": {1 + l.Chi2, 1}, "degrees": {float64(l.DoF), 2},
	} {
		if math.Abs(pair[0]-pair[1]) > 1e-9*pair[1] {
			t.Errorf("%s = %g, want %g", what, pair[0], pair[1])
		}
	}
}

// With one shunt and K2 open the line is the two points', and the uncertainty
// that of P = S(θ1 - θ2)/θ2, for which ρ = θ2/θ1 gives
// u(P)/P = (u/θ1) √(1 + 1/ρ²)/(1 - ρ), worked out by hand from the derivatives:
// 4.472 u/θ1 at ½.
func TestReciprocalAgainstOneShunt(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := rapid.Float64Range(10, 500).Draw(rt, "P")
		s := rapid.Float64Range(10, 500).Draw(rt, "S")
		first := rapid.Float64Range(10, 30).Draw(rt, "first")
		u := rapid.Float64Range(0.01, 0.5).Draw(rt, "u")
		ratio := s / (s + p)
		l, err := ReciprocalAgainstShunt([]float64{0, 1 / s}, []float64{first, first * ratio}, []float64{u, u})
		if err != nil {
			rt.Fatal(err)
		}
		want := p * u / first * math.Sqrt(1+1/ratio/ratio) / (1 - ratio)
		if math.Abs(l.P-p) > 1e-9*p || math.Abs(l.UP-want) > 1e-7*want {
			rt.Fatalf("P = %g ± %g, want %g ± %g", l.P, l.UP, p, want)
		}
	})
}

func TestReciprocalAgainstShuntErrors(t *testing.T) {
	two := []float64{0.2, 0.2}
	for _, tt := range []struct {
		name           string
		conductance, r []float64
		u              []float64
		want           error
	}{
		{"lists of unlike length", []float64{0}, []float64{24, 12}, two, ErrInput},
		{"a reading of nothing", []float64{0, 0.01}, []float64{24, 0}, two, ErrInput},
		{"a negative shunt", []float64{0, -0.01}, []float64{24, 12}, two, ErrInput},
		{"a reading that is none", []float64{0, 0.01}, []float64{24, math.NaN()}, two, ErrInput},
		{"one point", []float64{0}, []float64{24}, []float64{0.2}, ErrTooFew},
		{"one shunt twice", []float64{0.01, 0.01}, []float64{12, 12}, two, ErrNoSpread},
		{"a line that meets the axis below 0", []float64{0.01, 0.03}, []float64{20, 5}, two, ErrRange},
	} {
		if l, err := ReciprocalAgainstShunt(tt.conductance, tt.r, tt.u); !errors.Is(err, tt.want) {
			t.Errorf("%s: %+v, %v, want %v", tt.name, l, err, tt.want)
		}
	}
}
