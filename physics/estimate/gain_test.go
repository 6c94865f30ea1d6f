package estimate

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"example.org/halve/physics/published"
)

// variances are what a gain's parts come to.
func variances(gain Gain) (gg, gk, kk float64) {
	for _, r := range gain {
		g, k := r.DG*r.U, r.DK*r.U
		gg, gk, kk = gg+g*g, gk+g*k, kk+k*k
	}
	return gg, gk, kk
}

// The parts of the gain come to the covariance: A⁻¹(JᵀWJ + priors)A⁻¹ = A⁻¹.
func TestGainMakesTheCovariance(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 22))
	for range 100 {
		in, b := drawBench(r)
		spreadRows(&in, b, fiveRatios[:1+r.IntN(5)], r)
		if r.IntN(2) == 0 {
			in.PriorG, in.UPriorG = 100, 0.5
		}
		fit, err := Joint(in)
		if err != nil {
			t.Fatal(err)
		}
		gg, gk, kk := variances(fit.Gain())
		wantGG, wantGK, wantKK := fit.Covariance()
		published.Near(t, "u(G)²", gg, wantGG, 1e-9)
		published.Near(t, "u(k)²", kk, wantKK, 1e-9)
		if math.Abs(gk-wantGK) > 1e-9*math.Sqrt(gg*kk) {
			t.Errorf("u(G,k) = %g, want %g", gk, wantGK)
		}
	}
}

// The gain is the derivative of the whole fit, short of what the residuals
// add by the model's curvature; where every reading is met exactly nothing
// is added. The differences are central, with steps of 1e-3 u: truncation
// 1e-6, rounding 1e-12/1e-3.
func TestGainIsTheDerivative(t *testing.T) {
	r := rand.New(rand.NewPCG(23, 24))
	in, b := sharp(r)
	in.Step = 0.5 // for the settings only
	spreadRows(&in, b, fiveRatios, r)
	in.Step, in.Repeatability = 0, 0.1
	in.UEMF, in.USourceResistance, in.UZeros[0], in.SeriesTolerance, in.ShuntTolerance = 0.01, 0.3, 0.1, 0.002, 0.005
	exactly(&in, b)
	fit, err := Joint(in)
	if err != nil {
		t.Fatal(err)
	}
	points := fit.Points()
	for _, resp := range fit.Gain() {
		h := 1e-3 * resp.U
		moved := func(h float64) *Fit {
			in := in
			in.Observations, in.Zeros = slices.Clone(in.Observations), slices.Clone(in.Zeros)
			switch resp.Kind {
			case FirstReading, ShuntedReading:
				for _, o := range points[resp.Index].Observations {
					in.Observations[o].Div += h
				}
			case Zero:
				in.Zeros[resp.Index] += h
			case SourceResistance:
				in.SourceResistance += h
			case EMF:
				in.EMF += h
			case SeriesCoil: // a coil known to differ shows in every value set with it
				for o := range in.Observations {
					n := in.Observations[o].Series[resp.Index]
					in.Observations[o].SeriesOhm += h * float64(n) * in.SeriesCoils[resp.Index]
				}
			case ShuntCoil:
				for o := range in.Observations {
					if in.Observations[o].Shunted {
						n := in.Observations[o].Shunt[resp.Index]
						in.Observations[o].ShuntOhm += h * float64(n) * in.ShuntCoils[resp.Index]
					}
				}
			}
			f, err := Joint(in)
			if err != nil {
				t.Fatal(err)
			}
			return f
		}
		up, down := moved(h), moved(-h)
		g, k := (up.G-down.G)/(2*h), (up.K-down.K)/(2*h)
		if math.Abs(g-resp.DG)*resp.U > 1e-5*fit.UG || math.Abs(k-resp.DK)*resp.U > 1e-5*fit.UK {
			t.Errorf("%v %d: dG %g, dk %g; by refitting %g, %g", resp.Kind, resp.Index, resp.DG, resp.DK, g, k)
		}
	}
}

func TestPoints(t *testing.T) {
	s := scenarios(t)["D5"]
	row := gainRow(3150, 88, 24, 12)
	again := row[0]
	again.Div = 23.5
	fit, err := Joint(gainInput(s, append(row, again)))
	if err != nil {
		t.Fatal(err)
	}
	ps := fit.Points()
	if len(ps) != 2 || !slices.Equal(ps[0].Observations, []int{0, 2}) || !slices.Equal(ps[1].Observations, []int{1}) ||
		ps[0].Div != 23.75 || ps[0].N != 2 || ps[0].Shunted || !ps[1].Shunted || ps[1].ShuntOhm != 88 || ps[0].SeriesOhm != 3150 {
		t.Errorf("points %+v; want readings 1 and 3 together, mean 23.75, and reading 2 alone", ps)
	}
}
