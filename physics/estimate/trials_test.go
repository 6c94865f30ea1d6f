package estimate

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"example.org/halve/physics/montecarlo"
	"example.org/halve/physics/published"
)

// peers is testdata/peers: five_rows.json is a record of five rows on plug
// boxes of 16 and 12 coils; montecarlo.json is what montecarlo.py, a program in
// numpy of the same trials, printed for it.
var peers = os.DirFS("../../testdata/peers")

// leastSquares is the fit without what readings on a scale in steps tell
// beyond their variance: the peer's.
func leastSquares(t testing.TB, in Input) *Fit {
	t.Helper()
	m := newModel(in)
	x, err := m.start()
	if err != nil {
		t.Fatal(err)
	}
	f := &Fit{model: m, EMF: in.EMF, uEMF: in.UEMF}
	if f.x, f.Chi2, err = f.info.minimise(&f.model, x); err != nil {
		t.Fatal(err)
	}
	f.report(in)
	return f
}

func trialsOf(t *testing.T, f *Fit, n int, seed uint64) montecarlo.Result {
	t.Helper()
	res, err := f.Trials(context.Background(), n, seed)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

// Two programs, a million trials each, bounds of five standard errors. Of the
// ends: 2.67 u/√N for a normal law, which these are nearly; the shortest
// interval's place goes with N^(-1/3) and is some 0.02 u.
func TestTrialsAgainstPeer(t *testing.T) {
	const n = 1_000_000
	type output struct {
		Estimate, Mean, U      float64
		Interval95, Shortest95 [2]float64
	}
	want := published.Load[struct {
		Trials      int
		Correlation float64
		G           output `json:"G_ohm"`
		K           output `json:"k_A_per_div"`
	}](t, peers, "montecarlo.json")
	if want.Trials != n {
		t.Fatalf("the peer made %d trials, the bounds are for %d", want.Trials, n)
	}
	f := leastSquares(t, published.Load[Input](t, peers, "five_rows.json"))
	got := trialsOf(t, f, n, 20251)
	both := 5 * math.Sqrt(2.0/n)
	within := func(what string, got, want, bound float64) {
		if !(math.Abs(got-want) <= bound) {
			t.Errorf("%s = %.9g, the peer has %.9g; bound %.2g", what, got, want, bound)
		}
	}
	within("correlation", got.Correlation, want.Correlation, both)
	for i, c := range []struct {
		name     string
		estimate float64
		want     output
	}{{"G", f.G, want.G}, {"k", f.K, want.K}} {
		out, u := got.Outputs[i], c.want.U
		within(c.name, c.estimate, c.want.Estimate, 1e-7*c.want.Estimate) // the peer's derivatives are differences
		within("mean "+c.name, out.Mean, c.want.Mean, both*u)
		within("u("+c.name+")", out.U, u, both*u/math.Sqrt2)
		for e, end := range []string{"lower", "upper"} {
			within(end+" end of "+c.name, out.Interval95[e], c.want.Interval95[e], 2.67*both*u)
			within(end+" end of the shortest of "+c.name, out.Shortest95[e], c.want.Shortest95[e], 0.1*u)
		}
		within("length of the shortest of "+c.name, out.Shortest95[1]-out.Shortest95[0], c.want.Shortest95[1]-c.want.Shortest95[0], 2*2.67*both*u)
	}
}

// exactRows is a record of five rows, read without steps and met exactly by
// the bench, all of whose uncertainties are the usual ones times scale.
func exactRows(scale float64) Input {
	r := rand.New(rand.NewPCG(33, 34))
	in, b := sharp(r)
	in.Step = 0.5 // for the settings only
	spreadRows(&in, b, fiveRatios, r)
	in.Step, in.Repeatability = 0, 0.16*scale
	in.UEMF, in.USourceResistance, in.UZeros[0] = 0.01*scale, 0.25*scale, 0.14*scale
	in.SeriesTolerance, in.ShuntTolerance = 0.005*scale, 0.01*scale
	exactly(&in, b)
	return in
}

// refits compares trials with the least-squares fit, repeated on the readings
// that each trial drew. It returns the greatest difference of ln G and of
// ln(E/k), and that as a multiple of the sum of squares of the trial's
// relative errors of reading.
func refits(t *testing.T, in Input, n int) (ofSquares, greatest float64) {
	t.Helper()
	f, err := Joint(in)
	if err != nil {
		t.Fatal(err)
	}
	s := newTrialModel(f).sampler()
	fast := splitMix(35)
	src := &fast
	normal := rand.New(src)
	m := &f.model
	for i := range n {
		lane := i % lanes
		if lane == 0 {
			s.draw(src, normal)
			s.step()
		}
		// The parameters at which the trial's readings were made, in the
		// order in which the model has them.
		x, next := slices.Clone(f.x), 0
		for _, ks := range [][]known{m.series, m.shunt} {
			for _, k := range ks {
				if k.column >= 0 {
					x[k.column] += s.errors[next][lane] / k.sd
					next++
				}
			}
		}
		x[m.source.column] += s.source[lane] / m.source.sd
		for j, z := range m.zeros {
			x[z.column] += s.errors[next+len(m.points)+j][lane] / z.sd
		}
		drawn := in
		drawn.Observations = slices.Clone(in.Observations)
		squares := 0.0
		for o := range in.Observations {
			p := &m.points[m.pointOf[o]]
			e := m.reading(here(x), p) + p.side*s.errors[next+m.pointOf[o]][lane] - m.reading(here(f.x), p)
			drawn.Observations[o].Div += e
			rel := e / in.Observations[o].Div
			squares += rel * rel
		}
		again := leastSquares(t, drawn)
		for _, d := range []float64{math.Log(again.G/f.G) - s.logG[lane], math.Log(again.Loop/f.Loop) - s.logLoop[lane]} {
			ofSquares, greatest = max(ofSquares, math.Abs(d)/squares), max(greatest, math.Abs(d))
		}
	}
	return ofSquares, greatest
}

// Where the readings are met exactly the step is the fit but for terms of
// second order: a multiple, of the order of 1, of the squares of the relative
// errors. (For one row ln G = ln R'P - ln(R'-P), and ln P = ln S + ln(θ1/θ2-1)
// has the second derivatives -2 by ln θ1 and ln θ2 at half: a multiple of 1
// for one row, and less for the mean of five.) So with all uncertainties a
// tenth the differences are a hundredth; third order makes that a few per
// cent uncertain.
func TestTrialsAgainstRefits(t *testing.T) {
	const n = 1000
	whole, wholeGreatest := refits(t, exactRows(1), n)
	tenth, tenthGreatest := refits(t, exactRows(0.1), n)
	for _, multiple := range []float64{whole, tenth} {
		if multiple > 1 {
			t.Errorf("step and fit differ by up to %.3g times the squares of the errors, want 1 at most", multiple)
		}
	}
	if r := wholeGreatest / tenthGreatest; r < 90 || r > 110 {
		t.Errorf("greatest difference %.3g, with a tenth of the uncertainties %.3g: %.1f times, want 100", wholeGreatest, tenthGreatest, r)
	}
}

// What the trials spread by is the fit's standard uncertainty, to first
// order: with u(G)/G up to 4 % the second order adds some (u/G)² to the mean
// and to the spread.
func TestTrialsSpreadAsTheFitSays(t *testing.T) {
	const n = 200_000
	r := rand.New(rand.NewPCG(37, 38))
	check := func(t *testing.T, in Input) {
		t.Helper()
		f, err := Joint(in)
		if err != nil {
			t.Fatal(err)
		}
		res := trialsOf(t, f, n, 3)
		second := 3 * f.UG * f.UG / (f.G * f.G)
		for i, c := range []struct {
			name string
			x, u float64
		}{{"G", f.G, f.UG}, {"k", f.K, f.UK}} {
			out := res.Outputs[i]
			if d := out.U/c.u - 1; math.Abs(d) > 5/math.Sqrt(2*n)+second {
				t.Errorf("u(%s) = %g by trials, %g by the fit", c.name, out.U, c.u)
			}
			if d := (out.Mean - c.x) / c.u; math.Abs(d) > 5/math.Sqrt(n)+second*c.x/c.u {
				t.Errorf("%s = %g by trials, %g ± %g by the fit", c.name, out.Mean, c.x, c.u)
			}
		}
		if d := res.Correlation - f.Correlation; math.Abs(d) > 5/math.Sqrt(n)+second {
			t.Errorf("correlation %g by trials, %g by the fit", res.Correlation, f.Correlation)
		}
	}
	for i := range 10 {
		t.Run(fmt.Sprintf("bench %d", i), func(t *testing.T) {
			in, b := drawBench(r)
			spreadRows(&in, b, fiveRatios[:1+i%5], r)
			check(t, in)
		})
	}
	t.Run("read on both sides", func(t *testing.T) {
		in, b := drawBench(r)
		spreadRows(&in, b, fiveRatios[:3], r)
		// Mostly the coils' errors, which lower a reading on the right and
		// raise one on the left.
		in.Step, in.Repeatability, in.ShuntTolerance, in.SeriesTolerance = 0, 0.05, 0.03, 0.03
		exactly(&in, b)
		in.Zeros, in.UZeros = []float64{b.zero, b.zero}, []float64{0.1, 0.2}
		for i, o := range in.Observations {
			in.Observations[i].ZeroWeights = []float64{0.75, 0.25}
			o.Div, o.ZeroWeights = 2*b.zero-o.Div, []float64{0.25, 0.75}
			in.Observations = append(in.Observations, o)
		}
		check(t, in)
	})
	t.Run("coils that count many times", func(t *testing.T) {
		in := gainInput(scenarios(t)["D5"], gainRow(3150, 88, 24, 12))
		in.ShuntTolerance = 0.05
		check(t, in)
	})
	t.Run("first deflections and a supposed resistance", func(t *testing.T) {
		in, b := drawBench(r)
		spreadRows(&in, b, fiveRatios[:2], r)
		in.Observations = []Observation{in.Observations[0], in.Observations[2]}
		in.PriorG, in.UPriorG = b.g, 0.03
		check(t, in)
	})
	t.Run("all but the readings exactly known", func(t *testing.T) {
		in, b := drawBench(r)
		spreadRows(&in, b, fiveRatios, r)
		in.UEMF, in.USourceResistance, in.UZeros[0], in.SeriesTolerance, in.ShuntTolerance = 0, 0, 0, 0, 0
		check(t, in)
	})
}

// A source that is hardly known beside the series box: half of the draws
// would be below zero. The numbers stay numbers.
func TestTrialsOfNoNegativeResistance(t *testing.T) {
	in := gainInput(scenarios(t)["D5"], gainRow(30, 22, 24, 12))
	in.SourceResistance, in.USourceResistance = 5, 60
	f, err := Joint(in)
	if err != nil {
		t.Fatal(err)
	}
	res, err := f.Trials(context.Background(), 50_000, 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range res.Outputs {
		if !(o.Interval95[0] > 0) || !finite(o.Mean) || !finite(o.U) || !finite(o.Interval95[1]) {
			t.Errorf("%+v: want positive finite ends", o)
		}
	}
}

func TestTrialsAreTheSeeds(t *testing.T) {
	f, err := Joint(published.Load[Input](t, peers, "five_rows.json"))
	if err != nil {
		t.Fatal(err)
	}
	a, b, c := trialsOf(t, f, 25_000, 8), trialsOf(t, f, 25_000, 8), trialsOf(t, f, 25_000, 9)
	if fmt.Sprint(a) != fmt.Sprint(b) || a.Outputs[0] == c.Outputs[0] {
		t.Errorf("seed 8: %v, again %v, seed 9: %v", a, b, c)
	}
	adaptive := trialsOf(t, f, 0, 8)
	if !adaptive.Settled || adaptive.Trials >= montecarlo.MaxAdaptive {
		t.Errorf("%+v: want it settled", adaptive)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if res, err := f.Trials(ctx, 0, 8); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v, %v", res, err)
	}
	if res, err := f.Trials(context.Background(), 1, 8); err == nil {
		t.Errorf("one trial: %v, want an error", res)
	}
}

// The record of five rows; testdata/peers/montecarlo.py does the same work.
// Memory at a hundred million trials:
//
//	go test -run '^$' -bench Trials/100000000 -benchtime 1x ./physics/estimate
func BenchmarkTrials(b *testing.B) {
	fit, err := Joint(published.Load[Input](b, peers, "five_rows.json"))
	if err != nil {
		b.Fatal(err)
	}
	for _, n := range []int{0, 1_000_000, 100_000_000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := fit.Trials(context.Background(), n, 1); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
