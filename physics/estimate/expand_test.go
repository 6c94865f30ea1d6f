package estimate

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"example.org/halve/physics/published"
)

// Two-sided 95 % factors of Student's t as JCGM 100:2008, Table G.2 and NIST
// Technical Note 1297, Table B.1 print them, to half a unit of their last
// figure.
func TestFactor(t *testing.T) {
	for _, c := range []struct{ dof, want float64 }{
		{1, 12.71}, {2, 4.30}, {3, 3.18}, {4, 2.78}, {5, 2.57}, {6, 2.45}, {8, 2.31}, {10, 2.23}, {16, 2.12}, {20, 2.09}, {50, 2.01}, {100, 1.984}, {ManyDOF, 1.960},
	} {
		if got := Factor(c.dof); math.Abs(got-c.want) > 0.00501 {
			t.Errorf("t95(%g) = %.4f, want %.3f", c.dof, got, c.want)
		}
	}
	published.Near(t, "t95 with many", Factor(ManyDOF-1), Factor(ManyDOF), 3e-6)
}

// Readings that scatter as stated are left alone; D5's chi-squared of 7.36 on
// 8 has the probability 0.498 (chi-squared law, by its closed form for even
// degrees of freedom: exp(-x/2) Σ (x/2)^j/j! up to j = 3).
func TestScatterAsStated(t *testing.T) {
	s := scenarios(t)["D5"]
	var obs []Observation
	for _, row := range s.Inputs.Rows {
		obs = append(obs, gainRow(row[0], row[1], row[2], row[3])...)
	}
	fit, err := Joint(gainInput(s, obs))
	if err != nil {
		t.Fatal(err)
	}
	h, p, term := fit.Chi2/2, 0.0, math.Exp(-fit.Chi2/2)
	for j := 1.0; j <= 4; j++ {
		p += term
		term *= h / j
	}
	published.Near(t, "probability", fit.Probability, p, 1e-9)
	if fit.Inflation != 1 || fit.EffectiveDOF != ManyDOF || fit.EffectiveDOFK != ManyDOF {
		t.Errorf("inflation %g, effective degrees of freedom %g and %g; want 1 and %g", fit.Inflation, fit.EffectiveDOF, fit.EffectiveDOFK, float64(ManyDOF))
	}
	published.Near(t, "U95(G)", fit.U95G, 1.96*fit.UG, 2e-5)
}

// Readings that scatter three times as much as stated: chi-squared over its
// degrees of freedom gives the factor, and Student's t of them the interval.
func TestScatterBeyondWhatIsStated(t *testing.T) {
	r := rand.New(rand.NewPCG(31, 32))
	in, b := sharp(r)
	in.Step = 0.5 // for the settings only
	spreadRows(&in, b, fiveRatios, r)
	in.Step, in.Repeatability = 0, 0.1
	exactly(&in, b)
	for i := range in.Observations {
		in.Observations[i].Div += 0.3 * []float64{1, -1, 1, 1, -1}[i%5]
	}
	wide, err := Joint(in)
	if err != nil {
		t.Fatal(err)
	}
	ratio := wide.Chi2 / 8
	published.Near(t, "inflation", wide.Inflation, math.Sqrt(ratio), 1e-12)
	in.Repeatability *= wide.Inflation
	stated, err := Joint(in)
	if err != nil {
		t.Fatal(err)
	}
	published.Near(t, "u(G), if the scatter had been stated", wide.UG, stated.UG, 1e-9)
	// All of u is the readings', so the effective degrees of freedom are
	// those of the fit: 10 readings less 2; t95(8) = 2.306 (tables).
	if wide.DOF != 8 || math.Abs(wide.EffectiveDOF-8) > 1e-6 {
		t.Errorf("effective degrees of freedom %g of %d, want 8", wide.EffectiveDOF, wide.DOF)
	}
	published.Near(t, "U95(G)", wide.U95G, 2.306*wide.UG, 1e-4)
	for _, l := range wide.Gain() {
		if l.DOF != 8 {
			t.Errorf("%v %d has %g degrees of freedom, want 8", l.Kind, l.Index, l.DOF)
		}
	}
}

// Eyes three times as unsteady as stated, on five rows: two records of three
// show it by chi-squared and are widened. The interval as stated would hold G
// in some 80 % of the benches; 90 % less three binomial standard deviations
// (0.95 %) is asked for, since the third record does not show it.
func TestUnsteadyEyes(t *testing.T) {
	const benches = 1000
	r := rand.New(rand.NewPCG(33, 34))
	in95, as, inflated := 0, 0, 0
	for range benches {
		in, b := drawBench(r)
		in.Repeatability *= 3
		spreadRows(&in, b, fiveRatios, r)
		in.Repeatability /= 3
		fit, err := Joint(in)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(fit.G-b.g) <= fit.U95G {
			in95++
		}
		m := newModel(in)
		x, err := m.start()
		if err != nil {
			t.Fatal(err)
		}
		stated := &Fit{model: m, EMF: in.EMF}
		if stated.x, _, err = stated.info.minimise(&stated.model, x); err != nil {
			t.Fatal(err)
		}
		stated.report(in)
		if math.Abs(stated.G-b.g) <= 1.96*stated.UG {
			as++
		}
		if fit.Inflation > 1 {
			inflated++
		}
	}
	t.Logf("of %d benches the 95 %% interval holds G on %d, that as stated on %d; widened on %d", benches, in95, as, inflated)
	if in95 < 871 || in95 <= as {
		t.Errorf("the 95 %% interval holds G on %d of %d benches, that as stated on %d; want 871 or more, and more than that", in95, benches, as)
	}
}

// whole lists every number that a fit can give.
func whole(f *Fit) []float64 {
	v := slices.Concat([]float64{f.G, f.UG, f.U95G, f.K, f.UK, f.U95K, f.Correlation, f.Loop, f.ULoop, f.SourceResistance,
		f.Chi2, f.Probability, f.Inflation, f.EffectiveDOF, f.EffectiveDOFK}, f.Residuals, f.Zeros, f.SeriesErrors, f.ShuntErrors)
	gain := f.Gain()
	for _, r := range gain {
		v = append(v, r.U, r.DOF, r.DG, r.DK)
	}
	for _, b := range []Budget{gain.Budget(), gain.Each()} {
		for _, l := range slices.Concat(b.Resistance, b.Merit) {
			v = append(v, l.U, l.Sensitivity, l.Contribution, l.Share, l.DOF)
		}
	}
	for _, p := range f.Points() {
		v = append(v, p.Div, p.Fitted)
	}
	gg, gk, kk := f.Covariance()
	return append(v, gg, gk, kk)
}

// Each extreme ends in an error or in finite numbers throughout.
func TestExtremes(t *testing.T) {
	s := scenarios(t)["D5"]
	stepped := func(rows ...[4]float64) Input {
		var obs []Observation
		for _, r := range rows {
			obs = append(obs, gainRow(r[0], r[1], r[2], r[3])...)
		}
		in := gainInput(s, obs)
		in.Step, in.Repeatability = 0.5, 0.075
		in.UZeros[0] = 0.18
		return in
	}
	scaled := func(div, ohm float64) Input {
		in := stepped([4]float64{3150, 88, 24, 12}, [4]float64{3400, 89, 22, 11})
		in.Step, in.Repeatability, in.UZeros[0] = in.Step*div, in.Repeatability*div, in.UZeros[0]*div
		in.SourceResistance, in.USourceResistance = in.SourceResistance*ohm, in.USourceResistance*ohm
		in.SeriesCoils[0], in.ShuntCoils[0] = ohm, ohm
		for i := range in.Observations {
			o := &in.Observations[i]
			o.Div, o.SeriesOhm, o.ShuntOhm = o.Div*div, o.SeriesOhm*ohm, o.ShuntOhm*ohm
		}
		return in
	}
	exact := stepped([4]float64{3150, 88, 24, 12})
	exact.UEMF, exact.USourceResistance, exact.UZeros[0], exact.SeriesTolerance, exact.ShuntTolerance = 0, 0, 0, 0, 0
	hard := stepped([4]float64{3150, 88, 24, 12}, [4]float64{3150, 88, 24, 12}, [4]float64{3150, 80, 24, 11.5})
	hard.Repeatability = 0
	for name, c := range map[string]struct {
		in  Input
		fit bool
	}{
		"one row":               {stepped([4]float64{3150, 88, 24, 12}), true},
		"two rows alike":        {stepped([4]float64{3150, 88, 24, 12}, [4]float64{3150, 88, 24, 12}), true},
		"R nearly S":            {stepped([4]float64{100, 99, 24, 12}), true},
		"R equal to S":          {stepped([4]float64{99, 99.9, 24, 12}), false},
		"ratio nought":          {stepped([4]float64{3150, 88, 24, 0}), false},
		"ratio one":             {stepped([4]float64{3150, 88, 24, 24}), false},
		"nothing else in doubt": {exact, true},
		"no repeatability":      {hard, true},
		"huge divisions":        {scaled(1e12, 1), true},
		"tiny divisions":        {scaled(1e-12, 1), true},
		"huge resistances":      {scaled(1, 1e12), true},
		"tiny resistances":      {scaled(1, 1e-12), true},
		"everything huge":       {scaled(1e100, 1e100), false}, /* squares beyond any float */
		"everything tiny":       {scaled(1e-100, 1e-100), false},
		"one wild among ten":    {stepped([4]float64{3150, 88, 24, 12}, [4]float64{3400, 89, 22, 11}, [4]float64{3800, 89, 20, 19.5}), true},
		"wild, boxes without edges": {func() Input {
			in := stepped([4]float64{3150, 88, 24, 12}, [4]float64{3400, 89, 22, 3})
			in.Repeatability = 0
			return in
		}(), true},
	} {
		t.Run(name, func(t *testing.T) {
			fit, err := Joint(c.in)
			if (err == nil) != c.fit {
				t.Fatalf("%v; want a fit: %v", err, c.fit)
			}
			if err != nil {
				return
			}
			for i, v := range whole(fit) {
				if !finite(v) {
					t.Errorf("number %d is %g: %+v", i, v, fit)
				}
			}
			if !(fit.UG > 0 && fit.U95G > fit.UG && fit.UK > 0) {
				t.Errorf("u(G) = %g, U95 = %g, u(k) = %g", fit.UG, fit.U95G, fit.UK)
			}
		})
	}
}

// Two rows alike tell hardly more than one: what the repeats add is the
// repeatability. By hand: the edges of a box read twice the same move in by
// s/√π and sharpen to s √(1 − 1/π) (law of the greater of two normal values).
func TestRowRepeatedAlike(t *testing.T) {
	s := scenarios(t)["D1"]
	row := gainRow(3150, 88, 24, 12)
	in := gainInput(s, row)
	in.Step, in.Repeatability = 0.5, 0.075
	in.UZeros[0], in.SeriesTolerance, in.ShuntTolerance, in.USourceResistance = 0, 0, 0, 0
	once, err := Joint(in)
	if err != nil {
		t.Fatal(err)
	}
	in.Observations = slices.Concat(row, row)
	twice, err := Joint(in)
	if err != nil {
		t.Fatal(err)
	}
	half := 0.25 - 0.075/math.Sqrt(math.Pi)
	edge := 0.075 * math.Sqrt(1-1/math.Pi)
	want := math.Sqrt((half*half/3 + edge*edge) / (0.25*0.25/3 + 0.075*0.075))
	published.Near(t, "u(G) of two rows alike over that of one", twice.UG/once.UG, want, 1e-6)
}
