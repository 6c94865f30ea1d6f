package line

import (
	"errors"
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"example.org/halve/physics/published"
)

// d6 is the scenario of the graph: readings made by ngspice from a hidden
// bench and rounded to half a division.
type d6 struct {
	Inputs struct {
		EMF    float64 `json:"E_V"`
		R      []float64
		Theta  []float64
		Hidden struct{ G, K, R float64 }
	}
	Expected struct {
		Slope              float64   `json:"slope_ohm_div"`
		Intercept          float64   `json:"intercept_ohm"`
		K                  float64   `json:"k_from_slope"`
		USlope             float64   `json:"u_slope"`
		UIntercept         float64   `json:"u_intercept"`
		WeightedSlope      float64   `json:"weighted_slope_per_ohm_div"`
		WeightedIntercept  float64   `json:"weighted_intercept"`
		WeightedK          float64   `json:"k_from_weighted"`
		WeightedC          float64   `json:"G_plus_r_weighted"`
		UnroundedSlope     float64   `json:"unrounded_slope"`
		UnroundedIntercept float64   `json:"unrounded_intercept"`
		Unrounded          []float64 `json:"theta_unrounded"`
	}
}

// sixFigures is the relative tolerance of figures given with six.
const sixFigures = 5e-6

func scenarioD6(t *testing.T) (d6, SeriesPoints) {
	t.Helper()
	s := published.Scenario[d6](t, reference, "D6")
	u := make([]float64, len(s.Inputs.R))
	for i := range u {
		u[i] = 0.5 / math.Sqrt(12) // readings to half a division
	}
	return s, SeriesPoints{Series: s.Inputs.R, First: s.Inputs.Theta, U: u, EMF: s.Inputs.EMF}
}

func TestScenarioD6(t *testing.T) {
	s, p := scenarioD6(t)
	t.Run("all points alike", func(t *testing.T) {
		x := make([]float64, len(p.First))
		for i, θ := range p.First {
			x[i] = 1 / θ
		}
		f := ordinary(t, x, p.Series)
		published.Near(t, "slope", f.Slope, s.Expected.Slope, sixFigures)
		published.Near(t, "intercept", f.Intercept, s.Expected.Intercept, sixFigures)
		published.Near(t, "u(slope)", f.USlope, s.Expected.USlope, sixFigures)
		published.Near(t, "u(intercept)", f.UIntercept, s.Expected.UIntercept, sixFigures)
		published.Near(t, "k", p.EMF/f.Slope, s.Expected.K, sixFigures)
	})
	t.Run("weighted as the doubt in θ demands", func(t *testing.T) {
		l, err := SeriesAgainstReciprocal(p)
		if err != nil {
			t.Fatal(err)
		}
		published.Near(t, "k", l.K, s.Expected.WeightedK, sixFigures)
		published.Near(t, "G + r", -l.Intercept, s.Expected.WeightedC, sixFigures)
		published.Near(t, "slope", l.Slope, 1/s.Expected.WeightedSlope, sixFigures)
		published.Near(t, "intercept", l.Intercept, -s.Expected.WeightedIntercept/s.Expected.WeightedSlope, sixFigures)
		// The intercept is no useful G: its uncertainty is of the size of G.
		if l.UIntercept < s.Inputs.Hidden.G/2 {
			t.Errorf("u(intercept) = %g Ω; it ought not to look useful", l.UIntercept)
		}
		if math.Abs(l.K-s.Inputs.Hidden.K) > 2*l.UK {
			t.Errorf("k = %g ± %g; the hidden one is %g", l.K, l.UK, s.Inputs.Hidden.K)
		}
		if l.DoF != 4 {
			t.Errorf("DoF = %d; want 4", l.DoF)
		}
	})
	t.Run("unrounded readings give the truth", func(t *testing.T) {
		// The scenario prints them with six figures, whose rounding the
		// intercept enlarges: so they are made again from the hidden bench and
		// held to the print.
		θ := make([]float64, len(p.Series))
		h := s.Inputs.Hidden
		for i, r := range p.Series {
			θ[i] = p.EMF / (h.K * (r + h.R + h.G))
			published.Near(t, "θ", θ[i], s.Expected.Unrounded[i], sixFigures)
		}
		q := p
		q.First = θ
		l, err := SeriesAgainstReciprocal(q)
		if err != nil {
			t.Fatal(err)
		}
		published.Near(t, "slope", l.Slope, s.Expected.UnroundedSlope, sixFigures)
		published.Near(t, "intercept", l.Intercept, s.Expected.UnroundedIntercept, sixFigures)
	})
	t.Run("forced through −c", func(t *testing.T) {
		// With doubt in proportion to θ all k_i weigh alike: their mean
		// 2.355e-5 A/div is stated with the scenario, c being 74.1 Ω.
		q := p
		q.U = make([]float64, len(p.First))
		for i, θ := range p.First {
			q.U[i] = 0.01 * θ
		}
		f, err := ForcedMerit(q, 74.1, 0)
		if err != nil {
			t.Fatal(err)
		}
		published.Printed(t, "k in 1e-5 A/div", f.K*1e5, 2.355, 3)
		published.Near(t, "u(k)/k", f.UK/f.K, 0.01/math.Sqrt(6), 1e-3)
		// Weighted by the same half division it is closer to the truth, and
		// better known than the free line's.
		f, err = ForcedMerit(p, 74.1, 1)
		if err != nil {
			t.Fatal(err)
		}
		free, err := SeriesAgainstReciprocal(p)
		if err != nil {
			t.Fatal(err)
		}
		if !(f.UK < free.UK/3) || math.Abs(f.K-s.Inputs.Hidden.K) > 2*f.UK {
			t.Errorf("k = %g ± %g forced, %g ± %g free; the hidden one is %g", f.K, f.UK, free.K, free.UK, s.Inputs.Hidden.K)
		}
	})
}

// TestSeriesLineBySlopes finds the sensitivities a second way, by moving each
// input a little, and propagates by them.
func TestSeriesLineBySlopes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 6).Draw(t, "rows")
		c, ek := rapid.Float64Range(20, 500).Draw(t, "G+r"), rapid.Float64Range(2e4, 2e5).Draw(t, "E/k")
		p := SeriesPoints{EMF: 1.5, UEMF: 0.01, UZero: 0.1}
		coils := mat.NewDense(n, 2, nil)
		for i := range n {
			r := 1000 + 700*float64(i) + math.Round(rapid.Float64Range(0, 500).Draw(t, "R"))
			p.Series = append(p.Series, r)
			// Exactly on the line: the fit's weights then do not matter to
			// first order, and the slopes are the linear ones.
			p.First = append(p.First, ek/(r+c))
			p.U = append(p.U, rapid.Float64Range(0.05, 0.4).Draw(t, "u"))
			coils.SetRow(i, []float64{0.003 * math.Min(r, 2000), 0.003 * math.Max(0, r-2000)})
		}
		var cov mat.SymDense
		cov.SymOuterK(1, coils)
		p.SeriesCovariance = &cov
		uc := rapid.Float64Range(0, 5).Draw(t, "u(G+r)")
		line, err := SeriesAgainstReciprocal(p)
		if err != nil {
			t.Fatalf("SeriesAgainstReciprocal(%+v): %v", p, err)
		}
		forced, err := ForcedMerit(p, c, uc)
		if err != nil {
			t.Fatalf("ForcedMerit(%+v): %v", p, err)
		}

		// The causes, each one standard uncertainty large.
		type cause func(q *SeriesPoints, c *float64, by float64)
		var causes []cause
		for i := range n {
			causes = append(causes, func(q *SeriesPoints, _ *float64, by float64) { q.First[i] += by * p.U[i] })
		}
		for j := range 2 {
			causes = append(causes, func(q *SeriesPoints, _ *float64, by float64) {
				for i := range n {
					q.Series[i] += by * coils.At(i, j)
				}
			})
		}
		causes = append(causes,
			func(q *SeriesPoints, _ *float64, by float64) {
				for i := range n {
					q.First[i] -= by * p.UZero
				}
			},
			func(q *SeriesPoints, _ *float64, by float64) { q.EMF += by * p.UEMF },
			func(_ *SeriesPoints, c *float64, by float64) { *c += by * uc })
		var slope, intercept, k, forcedK float64
		for _, act := range causes {
			var got [2][4]float64
			const by = 1e-4
			for side, sign := range []float64{1, -1} {
				q := p
				q.Series, q.First = append([]float64(nil), p.Series...), append([]float64(nil), p.First...)
				c := c
				act(&q, &c, sign*by)
				l, err := SeriesAgainstReciprocal(q)
				if err != nil {
					t.Fatal(err)
				}
				f, err := ForcedMerit(q, c, uc)
				if err != nil {
					t.Fatal(err)
				}
				got[side] = [4]float64{l.Slope, l.Intercept, l.K, f.K}
			}
			for i, sum := range []*float64{&slope, &intercept, &k, &forcedK} {
				*sum = math.Hypot(*sum, (got[0][i]-got[1][i])/(2*by))
			}
		}
		for _, v := range []struct {
			what      string
			got, want float64
		}{{"slope", line.USlope, slope}, {"intercept", line.UIntercept, intercept}, {"k", line.UK, k}, {"forced k", forced.UK, forcedK}} {
			if math.Abs(v.got-v.want) > 1e-5*v.want {
				t.Errorf("u(%s) of %+v = %.8g; by moving each input %.8g", v.what, p, v.got, v.want)
			}
		}
	})
}

func TestSeriesLineRefused(t *testing.T) {
	ok := func() SeriesPoints {
		return SeriesPoints{Series: []float64{3000, 4000}, First: []float64{24, 18}, U: []float64{0.1, 0.1}, EMF: 1.5}
	}
	for _, tt := range []struct {
		name   string
		change func(*SeriesPoints)
		line   error
		forced error
	}{
		{"two points", func(*SeriesPoints) {}, nil, nil},
		{"one point", func(p *SeriesPoints) { p.Series, p.First, p.U = p.Series[:1], p.First[:1], p.U[:1] }, ErrTooFew, nil},
		{"no point", func(p *SeriesPoints) { p.Series, p.First, p.U = nil, nil, nil }, ErrTooFew, ErrTooFew},
		{"one series value", func(p *SeriesPoints) { p.Series[1] = 3000 }, ErrNoSpread, nil},
		{"the needle stands still", func(p *SeriesPoints) { p.First[1] = 24 }, ErrNotFalling, nil},
		{"the needle rises", func(p *SeriesPoints) { p.First[1] = 25 }, ErrNotFalling, nil},
		{"a deflection of zero", func(p *SeriesPoints) { p.First[1] = 0 }, ErrInput, ErrInput},
		{"an exact reading", func(p *SeriesPoints) { p.U[1] = 0 }, ErrInput, ErrInput},
		{"a reading missing", func(p *SeriesPoints) { p.First = p.First[:1] }, ErrInput, ErrInput},
		{"no EMF", func(p *SeriesPoints) { p.EMF = 0 }, ErrInput, ErrInput},
		{"a covariance of another size", func(p *SeriesPoints) { p.SeriesCovariance = mat.NewSymDense(1, nil) }, ErrInput, ErrInput},
		{"a negative variance", func(p *SeriesPoints) { p.SeriesCovariance = mat.NewDiagDense(2, []float64{1, -1}) }, ErrInput, ErrInput},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p := ok()
			tt.change(&p)
			if l, err := SeriesAgainstReciprocal(p); !errors.Is(err, tt.line) || err != nil && l != (SeriesLine{}) {
				t.Errorf("SeriesAgainstReciprocal(%+v) = %+v, %v; want %v", p, l, err, tt.line)
			}
			if f, err := ForcedMerit(p, 90, 2); !errors.Is(err, tt.forced) || err != nil && f != (Forced{}) {
				t.Errorf("ForcedMerit(%+v) = %+v, %v; want %v", p, f, err, tt.forced)
			}
		})
	}
	if _, err := ForcedMerit(ok(), -1, 0); !errors.Is(err, ErrInput) {
		t.Errorf("ForcedMerit with G + r below zero: %v; want %v", err, ErrInput)
	}
}
