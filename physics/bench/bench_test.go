package bench

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/halve/physics/apparatus"
)

func rng(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 1)) }

// school is a usual bench, everything stated.
func school() apparatus.Bench {
	p := func(x float64) *float64 { return &x }
	return apparatus.Bench{
		Source:       apparatus.Source{EMF: 1.46, UEMF: p(0.01), Resistance: p(0.9), UResistance: p(0.3)},
		Galvanometer: apparatus.Galvanometer{Divisions: 30, Zero: apparatus.CentreZero, Resolution: 0.5, FullScale: p(0.56e-3), UFullScale: p(0.01e-3), Resistance: p(90), UResistance: p(4)},
		SeriesBox:    apparatus.Box{Kind: apparatus.Plug, Coils: apparatus.PlugSet(1, 10, 100, 1000), Tolerance: 0.005},
		ShuntBox:     apparatus.Box{Kind: apparatus.Decade, Dials: []float64{100, 10, 1}, Tolerance: 0.01},
	}
}

// perfect is a truth without any error of the boxes, of which 3150 and 88 ohm
// give 24.0 and 12.0 divisions (scenario D1 of the reference data): by hand
// G = R′S/(R′ − S) with R′ = 3150.9 ohm, and k = E/(24 (R′ + G)).
func perfect() Hidden {
	const g = 3150.9 * 88 / (3150.9 - 88)
	return Hidden{
		EMF: 1.46, SourceResistance: 0.9, Resistance: g, Merit: 1.46 / (24 * (3150.9 + g)),
		SeriesErrors: make([]float64, 16), ShuntErrors: make([]float64, 3),
	}
}

func open(t testing.TB, stated apparatus.Bench, h Hidden, seed uint64) *Bench {
	t.Helper()
	b, err := New(stated, h, rng(seed))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func set(t testing.TB, b *Bench, series, shunt float64) {
	t.Helper()
	if err := b.SetSeries(series, nil); err != nil {
		t.Fatal(err)
	}
	if err := b.SetShunt(shunt, nil); err != nil {
		t.Fatal(err)
	}
}

// TestNeedle compares the needle with the reference row for every state of the
// keys.
func TestNeedle(t *testing.T) {
	b := open(t, school(), perfect(), 1)
	set(t, b, 3150, 88)
	for _, c := range []struct {
		k1, k2 bool
		want   float64
	}{{false, false, 0}, {false, true, 0}, {true, false, 24}, {true, true, 12}} {
		b.SetKeys(c.k1, c.k2)
		if got := b.Deflection(); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("K1 %v K2 %v: needle at %g, want %g", c.k1, c.k2, got, c.want)
		}
		if got, off := b.Read(); got != c.want || off {
			t.Errorf("K1 %v K2 %v: read %g, off %v, want %g", c.k1, c.k2, got, off, c.want)
		}
	}
}

// The needle follows the closed forms, by Thévenin's theorem, for benches of
// any kind: true resistances are the sums of the coils with their own errors.
func TestNeedleFollowsTheClosedForms(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rng(rapid.Uint64().Draw(t, "seed"))
		stated := Stock(r)
		h := Draw(stated, r)
		b, err := New(stated, h, r)
		if err != nil {
			t.Fatal(err)
		}
		// turn draws a setting of a box and returns what it truly makes.
		turn := func(x apparatus.Box, errors []float64, set func(float64, []float64) error) float64 {
			var nominal, truly float64
			var out []float64
			for i, c := range slices.Concat(x.Coils, x.Dials) {
				n := r.IntN(2)
				if x.Kind == apparatus.Decade {
					n = r.IntN(10)
				} else if n > 0 {
					out = append(out, c)
				}
				nominal += float64(n) * c
				truly += float64(n) * c * (1 + errors[i])
			}
			if x.Kind == apparatus.Plug && out == nil {
				out = []float64{}
			}
			if err := set(nominal, out); err != nil {
				t.Fatal(err)
			}
			return truly
		}
		// Of equal coils the box takes the first; the truth here must do so too.
		first := func(x apparatus.Box, errors []float64) {
			for i := 1; i < len(x.Coils); i++ {
				if x.Coils[i] == x.Coils[i-1] {
					errors[i] = errors[i-1]
				}
			}
		}
		first(stated.SeriesBox, h.SeriesErrors)
		first(stated.ShuntBox, h.ShuntErrors)
		R := h.SourceResistance + turn(stated.SeriesBox, h.SeriesErrors, b.SetSeries)
		S := turn(stated.ShuntBox, h.ShuntErrors, b.SetShunt)
		b.SetKeys(true, false)
		want1 := h.EMF/(R+h.Resistance)/h.Merit + h.Zero
		got1 := b.Deflection()
		b.SetKeys(true, true)
		want2 := h.Zero
		if S > 0 {
			want2 += h.EMF * S / (R + S) / (R*S/(R+S) + h.Resistance) / h.Merit
		}
		got2 := b.Deflection()
		if math.Abs(got1-want1) > 1e-11*(1+math.Abs(want1)) || math.Abs(got2-want2) > 1e-11*(1+math.Abs(want2)) {
			t.Fatalf("R′ %g S %g: needle at %.15g and %.15g, want %.15g and %.15g", R, S, got1, got2, want1, want2)
		}
	})
}

// A reading is the needle's place to within half a step and the scatter, on a
// whole number of steps.
func TestReadingIsRounded(t *testing.T) {
	for _, step := range []float64{1, 0.5, 0.25, 0.2, 0.1} {
		t.Run(fmt.Sprint(step), func(t *testing.T) {
			stated := school()
			stated.Galvanometer.Resolution = step
			b := open(t, stated, perfect(), 2)
			b.SetKeys(true, false)
			for i := range 500 {
				set(t, b, 3000+10*float64(i), 88)
				div, off := b.Read()
				if n := math.Round(div / step); off || math.Abs(div-n*step) > 1e-9 {
					t.Fatalf("read %.17g (off %v), want a whole number of %g", div, off, step)
				}
				// five standard deviations: once in 3.5 million
				if d := math.Abs(div - b.Deflection()); d > step*(0.5+5*Repeatability) {
					t.Fatalf("read %g where the needle is at %g", div, b.Deflection())
				}
			}
		})
	}
}

// Where the needle stands exactly between two steps each is read half of the
// times, and the one beyond never but by the scatter: with the needle a
// quarter step above a mark, the next step is read when the scatter exceeds a
// quarter step, 0.25/0.15 = 1.667 standard deviations, in 4.779 % (normal
// table). 20,000 looks have the binomial standard deviations 0.354 and
// 0.151 %; four of each are allowed.
func TestScatterOfReadings(t *testing.T) {
	const looks = 20000
	for _, c := range []struct {
		zero, part, want, sd float64
	}{
		{0.25, 0.5, 0.5, 0.00354},      // half a step above 0
		{0.125, 0.5, 0.04779, 0.00151}, // a quarter step above 0
	} {
		h := perfect()
		h.Zero = c.zero
		b := open(t, school(), h, 3)
		n := 0
		for range looks {
			if div, _ := b.Read(); div == c.part {
				n++
			}
		}
		if p := float64(n) / looks; math.Abs(p-c.want) > 4*c.sd {
			t.Errorf("needle at %g: %g read in %.4f of all looks, want %.4f", c.zero, c.part, p, c.want)
		}
	}
}

func TestEndsOfTheScale(t *testing.T) {
	left := school()
	left.Galvanometer.Zero = apparatus.LeftZero
	for name, c := range map[string]struct {
		stated apparatus.Bench
		zero   float64 // puts the needle there, keys open
		div    float64
	}{
		"on the last mark":             {school(), 30, 30},
		"a little beyond a mark":       {school(), 29.6, 29.5},
		"on the last mark at the left": {school(), -29.9, -30},
		"wrong way on a left zero":     {left, -5, -1},
		"a little below a left zero":   {left, -0.5, -0.5},
		"at nought, from a little low": {school(), -0.01, 0},
	} {
		t.Run(name, func(t *testing.T) {
			h := perfect()
			h.Zero = c.zero
			b := open(t, c.stated, h, 4)
			div, off := b.Read()
			if div != c.div || off || math.Signbit(div) && div == 0 {
				t.Errorf("read %g, off %v; want %g on the scale", div, off, c.div)
			}
		})
	}
	b := open(t, school(), perfect(), 4)
	b.SetKeys(true, false)
	set(t, b, 2000, 88) // 37 divisions
	if div, off := b.Read(); div != 30 || !off {
		t.Errorf("37 divisions read as %g, off %v; want the end mark 30, off", div, off)
	}
	if got := b.Deflection(); got < 37 || got > 37.5 {
		t.Errorf("the needle itself is at %g, want 37.2 (1.46 V/(2091.4 Ω · 18.77 µA))", got)
	}
}

// The boxes of a bench without any resistance at all short the source; the
// needle does not move and nothing fails.
func TestShortCircuit(t *testing.T) {
	h := perfect()
	h.SourceResistance = 0
	b := open(t, school(), h, 5)
	b.SetKeys(true, true)
	if div, off := b.Read(); div != 0 || off {
		t.Errorf("read %g, off %v; want 0 on the scale", div, off)
	}
}

func TestSettings(t *testing.T) {
	b := open(t, school(), perfect(), 6)
	b.SetKeys(true, false)
	set(t, b, 3150, 88)
	for name, err := range map[string]error{
		"more than the box": b.SetSeries(20000, nil),
		"between its steps": b.SetShunt(88.5, nil),
		"no such plug":      b.SetSeries(3000, []float64{3000}),
		"plugs make less":   b.SetSeries(3000, []float64{2000}),
		"not a number":      b.SetSeries(math.NaN(), nil),
		"negative":          b.SetShunt(-1, nil),
	} {
		if err == nil {
			t.Errorf("%s: taken", name)
		}
	}
	if div, _ := b.Read(); div != 24 {
		t.Errorf("after refused settings: %g divisions, want 24 as before", div)
	}
	if err := b.SetSeries(3000, []float64{2000, 1000}); err != nil {
		t.Error(err)
	}
	if err := b.SetSeries(0, []float64{}); err != nil {
		t.Errorf("all plugs in: %v", err)
	}
}

func TestVoltmeter(t *testing.T) {
	// by hand: 1.46 V·(3150 + 90.53)/(3150 + 90.53 + 100) = 1.4163 V loaded
	h := perfect()
	h.SourceResistance = 100
	inside := [2]int{}
	const benches = 1000
	for seed := range uint64(benches) {
		b := open(t, school(), h, seed)
		set(t, b, 3150, 88)
		for i, want := range []float64{1.46, 1.4163} {
			v, u := b.Voltmeter(i == 1)
			again, _ := b.Voltmeter(i == 1)
			if v != again {
				t.Fatalf("the same voltmeter reads %g and then %g", v, again)
			}
			// 0.5 % rectangular and half a hundredth of rounding
			if math.Abs(v-want) > 0.005*want+0.00501 {
				t.Fatalf("voltmeter reads %g for %g V", v, want)
			}
			if math.Abs(v-want) <= 2*u {
				inside[i]++
			}
		}
	}
	// Rectangular errors are within two standard uncertainties always, or
	// nearly so where two of them add up.
	for i, n := range inside {
		if n < 980 {
			t.Errorf("loaded %v: %d of %d within two uncertainties", i == 1, n, benches)
		}
	}
}

// Everything follows from the seed.
func TestSameSeedSameBench(t *testing.T) {
	run := func(seed uint64) string {
		r := rng(seed)
		stated := Stock(r)
		b := open(t, stated, Draw(stated, r), 0)
		b.rand = r
		b.SetKeys(true, false)
		if err := b.SetSeries(b.series.Max(), nil); err != nil {
			t.Fatal(err)
		}
		line, err := json.Marshal([]any{stated, b.Hidden()})
		if err != nil {
			t.Fatal(err)
		}
		for range 20 {
			div, off := b.Read()
			line = fmt.Append(line, div, off)
		}
		return string(line)
	}
	for seed := range uint64(20) {
		if a, b := run(seed), run(seed); a != b {
			t.Errorf("seed %d: %s\nand then %s", seed, a, b)
		}
	}
	if run(1) == run(2) {
		t.Error("seeds 1 and 2 give the same bench")
	}
}

// uniform reports the largest distance of the sample's distribution from the
// even one over [lo, hi] (Kolmogorov), times the square root of its size:
// 1.95 is exceeded by chance in 0.1 % (limit law, 2 exp(-2·1.95²)).
func uniform(x []float64, lo, hi float64) float64 {
	x = slices.Sorted(slices.Values(x))
	worst := 0.0
	for i, v := range x {
		f, n := (v-lo)/(hi-lo), float64(len(x))
		worst = max(worst, math.Abs(f-float64(i)/n), math.Abs(f-float64(i+1)/n))
	}
	return worst * math.Sqrt(float64(len(x)))
}

func TestDraw(t *testing.T) {
	const n = 4000
	stated, bare := school(), school()
	bare.Galvanometer.FullScale, bare.Galvanometer.UFullScale = nil, nil
	bare.Galvanometer.Resistance, bare.Galvanometer.UResistance = nil, nil
	bare.Source.Resistance, bare.Source.UResistance = nil, nil
	r := rng(7)
	var emf, fullScale, movement, coil, dial, zero, logK, g, cell []float64
	for range n {
		h := Draw(stated, r)
		emf = append(emf, (h.EMF-1.46)/0.01)
		fullScale = append(fullScale, (h.Merit*30-0.56e-3)/0.01e-3)
		movement = append(movement, (h.Resistance-90)/4)
		coil, dial = append(coil, h.SeriesErrors[3]), append(dial, h.ShuntErrors[1])
		zero = append(zero, h.Zero)
		h = Draw(bare, r)
		logK, g, cell = append(logK, math.Log(h.Merit)), append(g, h.Resistance), append(cell, h.SourceResistance)
	}
	for name, c := range map[string]struct {
		x      []float64
		lo, hi float64
	}{
		"series coil": {coil, -0.005, 0.005}, "shunt dial": {dial, -0.01, 0.01}, "zero": {zero, -0.25, 0.25},
		"ln k": {logK, math.Log(10e-6), math.Log(40e-6)}, "G": {g, 50, 150}, "cell": {cell, 0.2, 1.5},
	} {
		if d := uniform(c.x, c.lo, c.hi); d > 1.95 {
			t.Errorf("%s is not drawn evenly from %g to %g: Kolmogorov distance %.2f", name, c.lo, c.hi, d)
		}
	}
	// Normal, cut off at three: the mean of 4,000 has the standard deviation
	// 0.0158, the part within one is 68.27/99.73 = 68.45 % ± 0.735 %; four of
	// each are allowed.
	for name, x := range map[string][]float64{"EMF": emf, "full scale": fullScale, "movement": movement} {
		sum, within := 0.0, 0
		for _, v := range x {
			if sum += v; math.Abs(v) <= 1 {
				within++
			}
			if math.Abs(v) > 3+1e-9 {
				t.Errorf("%s is %g standard uncertainties off", name, v)
			}
		}
		if m, p := sum/n, float64(within)/n; math.Abs(m) > 4*0.0158 || math.Abs(p-0.6845) > 4*0.00735 {
			t.Errorf("%s: mean %.3f, %.3f within one standard uncertainty; want 0 and 0.6845", name, m, p)
		}
	}
}

// Whatever is stated, the truth can be set up.
func TestDrawIsAlwaysABench(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		maybe := func(name string, hi float64) *float64 {
			if !rapid.Bool().Draw(t, name+" stated") {
				return nil
			}
			x := rapid.Float64Range(0, hi).Draw(t, name)
			return &x
		}
		stated := school()
		stated.Source = apparatus.Source{EMF: rapid.Float64Range(0.01, 100).Draw(t, "E"), UEMF: maybe("uE", 100), Resistance: maybe("r", 100), UResistance: maybe("ur", 100)}
		g := &stated.Galvanometer
		g.FullScale, g.UFullScale, g.Resistance, g.UResistance = nil, maybe("uI", 1), maybe("G", 1000), maybe("uG", 1000)
		if rapid.Bool().Draw(t, "full scale stated") {
			x := rapid.Float64Range(1e-6, 1).Draw(t, "I")
			g.FullScale = &x
		}
		if g.Resistance != nil && *g.Resistance < 0.1 {
			*g.Resistance = 0
		}
		r := rng(rapid.Uint64().Draw(t, "seed"))
		h := Draw(stated, r)
		if _, err := New(stated, h, r); err != nil {
			t.Fatalf("%v: %+v", err, h)
		}
		if g.FullScale != nil && math.Abs(h.Merit*g.Divisions / *g.FullScale - 1) > plateLimit+1e-9 {
			t.Fatalf("full scale %g A for a stated %g A", h.Merit*g.Divisions, *g.FullScale)
		}
	})
}

func TestHiddenObject(t *testing.T) {
	stated := school()
	h := Draw(stated, rng(8))
	got, err := h.With([]byte(`{"resistance_ohm": 77, "merit_A_per_div": 2e-5, "zero_div": null}`), stated)
	if err != nil {
		t.Fatal(err)
	}
	want := h
	want.Resistance, want.Merit = 77, 2e-5
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v, want %+v", got, want)
	}
	for _, c := range []struct{ object, say string }{
		{`{"resistance": 77}`, "resistance"},
		{`{"resistance_ohm": -1}`, "resistance_ohm"},
		{`{"merit_A_per_div": 0}`, "merit_A_per_div"},
		{`{"emf_V": "1.5"}`, "emf_V"},
		{`{"zero_div": 40}`, "zero_div"},
		{`{"series_errors": [0.1]}`, "series_errors"},
		{`{"shunt_errors": [0, 0, 0.9]}`, "shunt_errors"},
		{`[]`, "hidden"},
		{``, "hidden"},
	} {
		if _, err := h.With([]byte(c.object), stated); err == nil || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s: error %v, want one that names %q", c.object, err, c.say)
		}
	}
	// The truth told at the end can be taken in again.
	told, err := json.Marshal(h)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := (Hidden{}).With(told, stated); err != nil || !reflect.DeepEqual(again, h) {
		t.Errorf("%s came back as %+v (%v)", told, again, err)
	}
}

// TestStock looks at 2,000 invented benches: each valid, each able to do the
// practical with the truth drawn for it, the kinds in their proportions.
func TestStock(t *testing.T) {
	const n = 2000
	kinds := map[string]int{}
	for seed := range uint64(n) {
		r := rng(seed)
		stated := Stock(r)
		if err := stated.Validate(); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		src, g := stated.Source, stated.Galvanometer
		for _, c := range apparatus.Cells() {
			if c.Name == src.Label && src.EMF+3**src.UEMF < c.Highest-1e-12 {
				t.Errorf("seed %d: %s of %g V ± %g V does not reach %g V", seed, c.Name, src.EMF, *src.UEMF, c.Highest)
			}
		}
		kinds[src.Label]++
		kinds[fmt.Sprintf("%g %s", g.Divisions, g.Zero)]++
		kinds[fmt.Sprint("step ", g.Resolution)]++
		kinds[fmt.Sprint("full scale stated ", g.FullScale != nil)]++

		h := Draw(stated, r)
		b, err := New(stated, h, r)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		b.SetKeys(true, false)
		if err := b.SetSeries(b.series.Max(), nil); err != nil {
			t.Fatal(err)
		}
		if d := b.Deflection(); d > g.Divisions {
			t.Errorf("seed %d: needle at %g of %g with the whole series box", seed, d, g.Divisions)
		}
		// some setting of the box brings it to between two thirds and the end
		want := h.EMF/(0.8*g.Divisions*h.Merit) - h.Resistance - h.SourceResistance
		s, ok := b.series.Nearest(want)
		if !ok || b.SetSeries(s.Ohm, nil) != nil {
			t.Fatalf("seed %d: no setting near %g ohm", seed, want)
		}
		if d := b.Deflection(); d < 2.0/3*g.Divisions || d > g.Divisions {
			t.Errorf("seed %d: needle at %g of %g with %g ohm", seed, d, g.Divisions, s.Ohm)
		}
		// and the shunt box can halve it, nearly at least
		p := (s.Ohm * h.Resistance) / (s.Ohm + h.Resistance)
		if b.shunt.Max() < 0.7*p || b.shunt.Least() > 0.1*p {
			t.Errorf("seed %d: shunt box of %g to %g ohm for a halving shunt of %g ohm", seed, b.shunt.Least(), b.shunt.Max(), p)
		}
	}
	t.Logf("%v", kinds)
	for name, n := range kinds {
		if n < 100 {
			t.Errorf("%s only %d times in 2,000", name, n)
		}
	}
	if len(kinds) != 6+4+3+2 {
		t.Errorf("kinds drawn: %v, want six cells, four scales, three steps, full scale stated or not", kinds)
	}
}

func BenchmarkRead(b *testing.B) {
	bench := open(b, school(), perfect(), 1)
	set(b, bench, 3150, 88)
	bench.SetKeys(true, true)
	b.ReportAllocs()
	for b.Loop() {
		bench.Read()
	}
}
