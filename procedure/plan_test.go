package procedure

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/halve/physics"
	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/bench"
	"example.org/halve/safety"
)

// platedBench is the usual bench with both values on the plate.
func platedBench() apparatus.Bench {
	b := usualBench().Bench
	b.Galvanometer.FullScale, b.Galvanometer.UFullScale = ptr(0.57e-3), ptr(0.01e-3)
	b.Galvanometer.Resistance, b.Galvanometer.UResistance = ptr(90), ptr(3)
	return b
}

func planFor(t testing.TB, b apparatus.Bench) Plan {
	t.Helper()
	p, err := PlanFor(b)
	if err != nil {
		t.Fatalf("plan: %v\n%+v", err, b)
	}
	soundPlan(t, p)
	return p
}

// soundPlan holds a plan to what every plan must be.
func soundPlan(t interface{ Errorf(string, ...any) }, p Plan) {
	if _, err := json.Marshal(p); err != nil {
		t.Errorf("a plan that is no JSON: %v\n%+v", err, p)
	}
	if p.Because == "" || strings.Contains(p.Because, "\n") || !strings.HasSuffix(p.Because, ".") {
		t.Errorf("because %q: want one sentence", p.Because)
	}
	if p.Fit && (p.Start == nil || len(p.Settings) == 0 || p.Expected.UResistance == nil || p.Expected.UMerit == nil || p.Range == nil) {
		t.Errorf("fit, but something is missing: %+v", p)
	}
	if !p.Fit && len(p.Change) == 0 {
		t.Errorf("unfit, and nothing to change: %+v", p)
	}
	if p.Start != nil && p.Start.Clearance.Verdict == safety.Stop {
		t.Errorf("the start is at a stop: %+v", p.Start)
	}
}

func TestPlanOfAPlatedBench(t *testing.T) {
	b := platedBench()
	p := planFor(t, b)
	if !p.Fit || len(p.Settings) != RowsWanted || len(p.Risks) != 0 || len(p.Change) != 0 {
		t.Fatalf("fit %t, %d settings, risks %q, change %q", p.Fit, len(p.Settings), p.Risks, p.Change)
	}
	// By hand: at the start the highest EMF, 1.5 + 3 × 0.03 = 1.59 V, through
	// coils at their lower limit and nothing else, drives no more than the
	// least full scale believed, 0.9 × 0.57 = 0.513 mA: R ≥ 3103 Ω.
	if s := p.Start; s.Clearance.Verdict != safety.Clear || s.SeriesOhm < 1.59/0.513e-3/0.999 {
		t.Errorf("start %+v, want clear and at least 3103 Ω", s)
	}
	for i, s := range p.Settings {
		sum := 0.0
		for _, c := range s.TakeOut {
			sum += c
		}
		if sum != s.SeriesOhm {
			t.Errorf("row %d: the plugs %v make %g, not %g", i+1, s.TakeOut, sum, s.SeriesOhm)
		}
		sum = 0
		for _, c := range s.ShuntTakeOut {
			sum += c
		}
		if s.ShuntOhm == nil || sum != *s.ShuntOhm {
			t.Errorf("row %d: the plugs %v make %g, not %v", i+1, s.ShuntTakeOut, sum, s.ShuntOhm)
		}
		// Ohm's law, with k = 0.57 mA/30 and the cell's 0.8 Ω.
		want := 1.5 / (s.SeriesOhm + 0.8 + 90) / 19e-6
		if s.FirstDiv == nil || math.Abs(*s.FirstDiv-want) > 1e-9 {
			t.Errorf("row %d: first deflection %v, want %g", i+1, s.FirstDiv, want)
		}
		if want < 20-0.25 || want > 27+0.25 {
			t.Errorf("row %d: %g div is not within two thirds and nine tenths of 30", i+1, want)
		}
		// G within 90 ± 6 (two standard uncertainties): the halving shunt
		// is R′∥G.
		all := s.SeriesOhm + 0.8
		low, high := all*(90/(1+6.0/90))/(all+90/(1+6.0/90)), all*96/(all+96)
		if math.Abs(s.HalvingLow-low) > 1e-9 || math.Abs(s.HalvingHigh-high) > 1e-9 || !(s.FirstLow < want && want < s.FirstHigh) {
			t.Errorf("row %d: halving %g to %g, want %g to %g; first %g to %g", i+1, s.HalvingLow, s.HalvingHigh, low, high, s.FirstLow, s.FirstHigh)
		}
	}
	if h := p.Settings[0]; math.Abs(*h.ShuntOhm-(h.HalvingLow+h.HalvingHigh)/2) > 3 {
		t.Errorf("the first row's shunt %g is not the halving one, %g to %g", *h.ShuntOhm, h.HalvingLow, h.HalvingHigh)
	}
}

// TestPlanWithoutAPlate: the series values can only be settled at the bench.
func TestPlanWithoutAPlate(t *testing.T) {
	p := planFor(t, usualBench().Bench)
	if !p.Fit || p.Credible.MeritStated || p.Credible.ResistanceStated || len(p.Settings) != 1 {
		t.Fatalf("fit %t, credible %+v, settings %+v", p.Fit, p.Credible, p.Settings)
	}
	if s := p.Settings[0]; s.SeriesOhm != 11110 || s.FirstDiv != nil || s.ShuntOhm != nil || len(s.TakeOut) != len(coils11k) {
		t.Errorf("setting %+v, want the largest value and nothing foreseen", s)
	}
	if p.Start.Clearance.Verdict != safety.Tap {
		t.Errorf("start %+v, want a tap", p.Start)
	}
	// At 0.8 × 30 div the loop has 1.5 V/(24 k): 6250 Ω at 10 µA, 1563 Ω at
	// 40 µA a division; rows lie around these.
	if r := p.Range; r.SeriesLow > 1563-50 || r.SeriesHigh < 6250-150 || r.HalvingLow > 50 || r.HalvingHigh < 140 {
		t.Errorf("range %+v", r)
	}
}

// TestPlanUnfit: a bench that cannot do it, and what to change.
func TestPlanUnfit(t *testing.T) {
	for _, tc := range []struct {
		name            string
		because, change string
		of              func(*apparatus.Bench)
	}{
		// The usual galvanometer has 100 Ω and 0.6 mA:
		// 1.5 V/(0.8 × 0.6 mA) − 0.8 − 100 = 3024 Ω, rounded up to two figures.
		{"series box too small", "safely", "reach 3 100 Ω", func(b *apparatus.Bench) { b.SeriesBox.Coils = []float64{500, 200, 200, 100} }},
		// 1.5 V/(0.8 × 0.57 mA) − 0.8 − 100 = 3189 Ω.
		{"series box too small for the plate", "safely", "reach 3 200 Ω", func(b *apparatus.Bench) {
			b.SeriesBox.Coils = []float64{500, 200, 200, 100}
			b.Galvanometer.FullScale = ptr(0.57e-3)
		}},
		{"series box too small, found by a tap", "beyond the end", "reach 3 200 Ω", func(b *apparatus.Bench) {
			b.SeriesBox.Coils = []float64{1000, 500, 200, 200, 100}
			b.Galvanometer.FullScale = ptr(0.57e-3)
		}},
		// 1.5 V/(0.8 × 50 µA) − 101 Ω = 37 400 Ω.
		{"needle too sensitive", "beyond the end", "reach 38 000 Ω", func(b *apparatus.Bench) { b.Galvanometer.FullScale = ptr(50e-6) }},
		// 0.8 × 50 mA × 200 Ω = 8 V.
		{"needle too dull", "not sensitive enough", "8.0 V", func(b *apparatus.Bench) { b.Galvanometer.FullScale = ptr(50e-3) }},
		{"series box too coarse", "not sensitive enough", "values about 3 200 Ω", func(b *apparatus.Bench) {
			b.SeriesBox.Coils = []float64{10000, 9000}
			b.Galvanometer.FullScale = ptr(0.57e-3)
		}},
		{"shunt box too small", "shunt box has no value", "values about", func(b *apparatus.Bench) { b.ShuntBox.Coils = []float64{2, 1, 1} }},
		{"shunt box too coarse", "shunt box has no value", "values about", func(b *apparatus.Bench) { b.ShuntBox.Coils = []float64{2000, 1000} }},
		{"EMF out of bounds", "24 V", "one or two cells", func(b *apparatus.Bench) { b.Source.EMF = 24 }},
		// The largest value is 11 110 Ω, and the usual galvanometer has 100 Ω
		// and 0.6 mA: 0.8 × 0.6 mA × 11 211 Ω = 5.4 V. At
		// worst 12.65 V in 11 110 Ω is 1.1 mA, too much for a tap.
		{"EMF too high for the box", "safely", "5.4 V", func(b *apparatus.Bench) { b.Source.EMF, b.Source.UEMF = 11, nil }},
		{"EMF too low", "hardly move", "EMF", func(b *apparatus.Bench) { b.Source.EMF, b.Source.UEMF = 1e-6, nil }},
		{"source too weak", "rated for", "more resistance", func(b *apparatus.Bench) { b.Source.MaxCurrent = ptr(1e-4) }},
		// The counsel must not be asked to turn such a box up step by step.
		{"coils that cannot be in one box", "series box cannot be", "coils stated", func(b *apparatus.Bench) {
			b.SeriesBox = apparatus.Box{Kind: apparatus.Decade, Dials: []float64{1e9, 1e9, 0.001}, Tolerance: 0.2}
			b.Galvanometer.FullScale = ptr(1e3)
		}},
		{"scale too coarse", "not worth the session", "read to 0.5 div", func(b *apparatus.Bench) {
			b.Galvanometer.Divisions, b.Galvanometer.Resolution, b.Galvanometer.FullScale = 10, 1, ptr(0.57e-3)
		}},
		{"scale far too coarse", "not worth the session", "finer scale", func(b *apparatus.Bench) {
			b.Galvanometer.Divisions, b.Galvanometer.Resolution, b.Galvanometer.FullScale = 4, 1, ptr(0.57e-3)
		}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			b := usualBench().Bench
			tc.of(&b)
			p := planFor(t, b)
			change := strings.ReplaceAll(strings.Join(p.Change, " "), "\u00a0", " ")
			if p.Fit || !strings.Contains(p.Because, tc.because) || !strings.Contains(change, tc.change) {
				t.Errorf("fit %t, because %q, change %q; want unfit, %q and %q", p.Fit, p.Because, change, tc.because, tc.change)
			}
		})
	}
}

// TestPlanFallsShort: the practical can be done, and what would make it better
// is what the result owes most of its doubt to.
func TestPlanFallsShort(t *testing.T) {
	for _, tc := range []struct {
		name, change string
		of           func(*apparatus.Bench)
	}{
		{"EMF hardly known", "A voltmeter, good to 1 %, for the EMF would bring k to 1.", func(b *apparatus.Bench) { b.Source.UEMF = ptr(0.1) }},
		{"shunt box loose", "A shunt box with coils of 0.1 % would bring G to 2", func(b *apparatus.Bench) { b.ShuntBox.Tolerance = 0.15 }},
		{"series box loose", "A series box with coils of 0.1 % would bring k to", func(b *apparatus.Bench) { b.SeriesBox.Tolerance = 0.2 }},
		// 1.5 V/(0.8 × 2.2 mA) − 0.8 − 90 = 761 Ω; the box makes 1000 Ω at
		// least: 19 of 30.
		{"series box without low values", "series box would have to make values about 760", func(b *apparatus.Bench) {
			b.SeriesBox.Coils, b.Galvanometer.FullScale, b.Galvanometer.Resolution = []float64{1000, 1000, 2000, 4000}, ptr(2.2e-3), 1
		}},
		// P is some 90 Ω; 30 Ω bring the needle to a quarter.
		{"shunt box small", "shunt box that makes values about", func(b *apparatus.Bench) {
			b.ShuntBox.Coils, b.Galvanometer.Resolution = []float64{20, 5, 2, 2, 1}, 1
		}},
		{"scale coarse", "A finer scale, read to 0.75 div, would bring G to", func(b *apparatus.Bench) { b.Galvanometer.Resolution = 1.5 }},
	} {
		t.Run(tc.name, func(t *testing.T) {
			b := platedBench()
			tc.of(&b)
			p := planFor(t, b)
			if change := strings.Join(p.Change, " "); !p.Fit || !strings.Contains(change, tc.change) {
				t.Errorf("fit %t (%s), change %q, want %q", p.Fit, p.Because, change, tc.change)
			}
		})
	}
	b := platedBench()
	b.Galvanometer.UFullScale = ptr(0.6e-3)
	b.SeriesBox.Coils = coils11k[1:] // to 6110 Ω
	if p := planFor(t, b); !p.Fit || len(p.Risks) == 0 {
		t.Errorf("a full scale that may be half as large: fit %t, risks %q", p.Fit, p.Risks)
	}
}

// TestPlanByHand: the expected uncertainties are those of the law of
// propagation, put together by hand from the rows' own sensitivities
// (physics.Row.Solve): each reading is independent, while zero, EMF, source
// and boxes are common to all rows. The mean weighs all rows alike, the joint
// estimate does not quite, and what one dial's coils share is neglected: one
// part in ten is allowed.
func TestPlanByHand(t *testing.T) {
	for _, tc := range []struct {
		name string
		of   func(*apparatus.Bench)
	}{
		{"usual", func(*apparatus.Bench) {}},
		{"finer scale, EMF measured", func(b *apparatus.Bench) { b.Galvanometer.Resolution, b.Source.UEMF = 0.25, ptr(0.008) }},
		{"dull needle, large G", func(b *apparatus.Bench) {
			b.Galvanometer.FullScale, b.Galvanometer.Resistance = ptr(1.1e-3), ptr(140)
		}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			b := platedBench()
			tc.of(&b)
			p := planFor(t, b)
			step, n := b.Galvanometer.Step(), float64(len(p.Settings))
			// Rectangular rounding, and a repeatability of 0.15 steps; the
			// zero is read twice.
			uRead, uZero := step*math.Sqrt(1.0/12+0.15*0.15), step*math.Sqrt(1.0/12+0.15*0.15/2)
			var varG, varK, zeroG, zeroK, g, k float64
			for _, s := range p.Settings {
				r, err := physics.Row{EMF: 1.5, SourceResistance: 0.8, Series: s.SeriesOhm, Shunt: *s.ShuntOhm, First: *s.FirstDiv, Shunted: *s.ShuntedDiv}.Solve(physics.RowDoubt{})
				if err != nil {
					t.Fatal(err)
				}
				sq := func(x float64) float64 { return x * x }
				varG += (sq(r.SensG.First) + sq(r.SensG.Shunted)) * uRead * uRead / n / n
				varK += (sq(r.SensK.First) + sq(r.SensK.Shunted)) * uRead * uRead / n / n
				zeroG, zeroK = zeroG+r.SensG.Zero*uZero/n, zeroK+r.SensK.Zero*uZero/n
				g, k = g+r.G/n, k+r.K/n
			}
			uG := math.Sqrt(varG+zeroG*zeroG) / g
			uK := math.Hypot(math.Sqrt(varK+zeroK*zeroK)/k, *b.Source.UEMF/b.Source.EMF)
			t.Logf("u(G)/G %.4f, by hand %.4f; u(k)/k %.4f, by hand %.4f", *p.Expected.UResistance, uG, *p.Expected.UMerit, uK)
			if r := *p.Expected.UResistance / uG; r < 0.9 || r > 1.1 {
				t.Errorf("u(G)/G %g, by hand %g", *p.Expected.UResistance, uG)
			}
			if r := *p.Expected.UMerit / uK; r < 0.9 || r > 1.1 {
				t.Errorf("u(k)/k %g, by hand %g", *p.Expected.UMerit, uK)
			}
		})
	}
}

// TestPlanOfAnyBench: whatever the plates say, a plan comes of it, and it can
// be written as JSON.
func TestPlanOfAnyBench(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := bench.Stock(rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 3)))
		maybe := func(name string, of **float64, lo, hi float64) {
			if rapid.Bool().Draw(t, name+" stated") {
				v := lo * math.Pow(hi/lo, rapid.Float64Range(0, 1).Draw(t, name))
				*of = &v
			}
		}
		b.Source.EMF = math.Pow(10, rapid.Float64Range(-6, 3).Draw(t, "emf"))
		b.Source.UEMF = nil // the stock one is of another EMF
		maybe("u_emf", &b.Source.UEMF, 1e-9*b.Source.EMF, 0.99*b.Source.EMF)
		maybe("r", &b.Source.Resistance, 1e-3, 1e9)
		maybe("max", &b.Source.MaxCurrent, 1e-9, 1e4)
		maybe("full scale", &b.Galvanometer.FullScale, 1e-12, 1e3)
		maybe("u full scale", &b.Galvanometer.UFullScale, 1e-15, 1e3)
		maybe("G", &b.Galvanometer.Resistance, 1e-3, 1e9)
		maybe("u G", &b.Galvanometer.UResistance, 1e-6, 1e9)
		if rapid.Bool().Draw(t, "odd boxes") {
			coil := rapid.SampledFrom([]float64{0.001, 0.1, 3, 47, 333, 10000, 1e9})
			b.SeriesBox = apparatus.Box{Kind: apparatus.Plug, Coils: rapid.SliceOfN(coil, 1, 6).Draw(t, "series"), Tolerance: 0.2}
			b.ShuntBox = apparatus.Box{Kind: apparatus.Decade, Dials: rapid.SliceOfN(coil, 1, 3).Draw(t, "shunt")}
		}
		p, err := PlanFor(b)
		if err != nil {
			t.Fatalf("%v\n%+v", err, b)
		}
		soundPlan(t, p)
	})
	if _, err := PlanFor(apparatus.Bench{}); err == nil {
		t.Error("an empty bench is planned for")
	}
}

func BenchmarkPlan(b *testing.B) {
	bench := platedBench()
	for b.Loop() {
		if _, err := PlanFor(bench); err != nil {
			b.Fatal(err)
		}
	}
}
