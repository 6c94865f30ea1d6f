package estimate

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"example.org/halve/physics/published"
)

// The shares of scenario D1 as the domain notes (A9) give them, in percent.
func TestBudgetOfOneRow(t *testing.T) {
	s := scenarios(t)["D1"]
	fit, err := Joint(singleRow(s))
	if err != nil {
		t.Fatal(err)
	}
	b := fit.Gain().Budget()
	for _, c := range []struct {
		name  string
		lines []Line
		kinds []Kind
		want  []float64
	}{
		{"G", b.Resistance, []Kind{ShuntedReading, FirstReading, ShuntCoil, Zero}, []float64{66, 17, 12, 5}},
		{"k", b.Merit, []Kind{EMF, FirstReading, SeriesCoil, Zero}, []float64{50, 30, 12, 8}},
	} {
		for i, kind := range c.kinds {
			l := c.lines[i]
			// The notes round to whole percents.
			if l.Kind != kind || math.Abs(100*l.Share-c.want[i]) > 0.7 || l.Index != -1 || l.DOF != ManyDOF {
				t.Errorf("%s, line %d: %v with %.1f %%, want %v with %g %%", c.name, i+1, l.Kind, 100*l.Share, kind, c.want[i])
			}
		}
	}
	// By hand from D2 of the notes: |dG/dθ2| = a S θ1/θ2², a = (1 + G/R′)².
	r := s.Inputs.Box + s.Inputs.R
	a := (1 + s.Expected.G/r) * (1 + s.Expected.G/r)
	published.Near(t, "dG/dθ2", b.Resistance[0].Sensitivity, a*s.Inputs.S*s.Inputs.T1/(s.Inputs.T2*s.Inputs.T2), 5e-6)
}

// However many quantities there are: in order, and together u².
func TestBudgetsSumUp(t *testing.T) {
	r := rand.New(rand.NewPCG(25, 26))
	for range 50 {
		in, b := drawBench(r)
		spreadRows(&in, b, fiveRatios[:1+r.IntN(5)], r)
		fit, err := Joint(in)
		if err != nil {
			t.Fatal(err)
		}
		gain := fit.Gain()
		for name, budget := range map[string]Budget{"by kind": gain.Budget(), "each": gain.Each()} {
			for _, c := range []struct {
				lines []Line
				u     float64
			}{{budget.Resistance, fit.UG}, {budget.Merit, fit.UK}} {
				v, share := 0.0, 0.0
				for _, l := range c.lines {
					v += l.Contribution * l.Contribution
					share += l.Share
					published.Near(t, "contribution", math.Abs(l.Sensitivity)*l.U, l.Contribution, 1e-12)
				}
				published.Near(t, name+": sum of squares", math.Sqrt(v), c.u, 1e-9)
				published.Near(t, name+": sum of shares", share, 1, 1e-9)
				if !slices.IsSortedFunc(c.lines, func(a, b Line) int { return int(math.Copysign(1, b.Contribution-a.Contribution)) }) {
					t.Errorf("%s: not the greatest first: %+v", name, c.lines)
				}
			}
		}
	}
}
