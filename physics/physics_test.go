package physics

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"example.org/halve/physics/published"
)

// here holds the worked examples.
var here = os.DirFS("testdata")

// must returns a value that the test's own figures make certain.
func must(t interface {
	Helper()
	Fatalf(string, ...any)
}) func(float64, error) float64 {
	return func(v float64, err error) float64 {
		t.Helper()
		if err != nil {
			t.Fatalf("unexpected error: %v", err)
		}
		return v
	}
}

// halving is R′ and G in parallel, the shunt that halves the reading.
func halving(branch, movement float64) float64 { return branch * movement / (branch + movement) }

func near(got, want, rel float64) bool {
	return math.Abs(got-want) <= rel*math.Abs(want)
}

// figures reports whether got, rounded to n significant figures, is want: the
// sources print that many.
func figures(got, want float64, n int) bool {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(got, 'e', n-1, 64), 64)
	if err != nil {
		return false
	}
	// want may come from a decimal text longer than n figures only by zeros.
	return near(rounded, want, 1e-15)
}

// example holds the worked examples' numbers; single figures and lists differ
// between them, so each test picks the part it needs.
type example struct {
	ID         string
	Given      map[string]json.RawMessage
	Printed    map[string]json.RawMessage
	Recomputed map[string]json.RawMessage
}

func (e example) number(t *testing.T, part map[string]json.RawMessage, key string) float64 {
	t.Helper()
	var v float64
	if err := json.Unmarshal(part[key], &v); err != nil {
		t.Fatalf("%s: %s: %v", e.ID, key, err)
	}
	return v
}

func (e example) list(t *testing.T, part map[string]json.RawMessage, key string) []float64 {
	t.Helper()
	var v []float64
	if err := json.Unmarshal(part[key], &v); err != nil {
		t.Fatalf("%s: %s: %v", e.ID, key, err)
	}
	return v
}

func workedExamples(t *testing.T) map[string]example {
	t.Helper()
	all := published.Load[struct{ Examples []example }](t, here, "worked_examples.json")
	byID := map[string]example{}
	for _, e := range all.Examples {
		byID[e.ID] = e
	}
	return byID
}

func TestWorkedExampleHD1(t *testing.T) {
	e := workedExamples(t)["HD1"]
	emf, r := e.number(t, e.Given, "E_V"), e.number(t, e.Given, "R_ohm")
	k, θ := e.number(t, e.Given, "k_A_per_div"), e.number(t, e.Given, "theta_div")
	g := e.number(t, e.Recomputed, "G_ohm") // 1000/9, as printed
	if got := must(t)(FirstDeflection(emf, r, g, k)); !near(got, θ, 1e-14) {
		t.Errorf("FirstDeflection(%g, %g, %g, %g) = %v, want %v", emf, r, g, k, got, θ)
	}
	s := e.number(t, e.Printed, "S_ohm")
	if got := must(t)(ShuntedDeflection(emf, r, g, s, k)); !near(got, θ/2, 1e-14) {
		t.Errorf("ShuntedDeflection(%g, %g, %g, %g, %g) = %v, want %v", emf, r, g, s, k, got, θ/2)
	}
	if got := must(t)(Resistance(r, s, θ, θ/2)); !near(got, g, 1e-14) {
		t.Errorf("Resistance(%g, %g, %g, %g) = %v, want %v", r, s, θ, θ/2, got, g)
	}
	if got := must(t)(Merit(emf, r, g, θ)); !near(got, k, 1e-14) {
		t.Errorf("Merit = %v, want %v", got, k)
	}
}

// HD2's source truncates G instead of rounding it, and its k does not follow
// from its own formula and numbers; neither error is repeated.
func TestWorkedExampleHD2(t *testing.T) {
	e := workedExamples(t)["HD2"]
	emf := e.number(t, e.Given, "E_V")
	rs, ss, θs := e.list(t, e.Given, "R"), e.list(t, e.Given, "S"), e.list(t, e.Given, "theta")
	wantG, wantK := e.list(t, e.Recomputed, "G"), e.list(t, e.Recomputed, "k")
	printedG, printedK := e.list(t, e.Printed, "G"), e.number(t, e.Printed, "k_mean")
	var sum float64
	for i := range rs {
		res, err := Row{EMF: emf, Series: rs[i], Shunt: ss[i], First: θs[i], Shunted: θs[i] / 2}.Solve(RowDoubt{})
		if err != nil {
			t.Fatalf("row %d: %v", i+1, err)
		}
		sum += res.G
		if !figures(res.G, wantG[i], 6) {
			t.Errorf("row %d: G = %v, want %v", i+1, res.G, wantG[i])
		}
		if got := math.Floor(res.G*100) / 100; !near(got, printedG[i], 1e-12) {
			t.Errorf("row %d: G truncated = %v, the source prints %v", i+1, got, printedG[i])
		}
		// Row 4 alone, 91.5547, rounds to what truncation gives.
		if figures(res.G, printedG[i], 4) != (i == 3) {
			t.Errorf("row %d: G = %v against the truncated %v", i+1, res.G, printedG[i])
		}
		k := must(t)(Merit(emf, rs[i], e.number(t, e.Printed, "G_mean"), θs[i])) // as the source does
		if !figures(k, wantK[i], 6) {
			t.Errorf("row %d: k = %v, want %v", i+1, k, wantK[i])
		}
		if near(res.K, printedK, 0.3) {
			t.Errorf("row %d: k = %v repeats the source's wrong %v", i+1, res.K, printedK)
		}
	}
	if mean := sum / float64(len(rs)); !figures(mean, e.number(t, e.Recomputed, "G_mean"), 7) {
		t.Errorf("mean G = %v, want %v", mean, e.number(t, e.Recomputed, "G_mean"))
	}
}

// HD3's source truncates k (2.1878 printed as 2.18); rounding is what we do.
func TestWorkedExampleHD3(t *testing.T) {
	e := workedExamples(t)["HD3"]
	emf := e.number(t, e.Given, "E_V")
	rs, ss, θs := e.list(t, e.Given, "R"), e.list(t, e.Given, "S"), e.list(t, e.Given, "theta")
	wantG, wantK := e.list(t, e.Recomputed, "G"), e.list(t, e.Recomputed, "k_with_G_70.8")
	printedK := e.list(t, e.Printed, "k")
	var sumG, sumK float64
	for i := range rs {
		g := must(t)(Resistance(rs[i], ss[i], θs[i], θs[i]/2))
		k := must(t)(Merit(emf, rs[i], e.number(t, e.Printed, "G_mean"), θs[i]))
		sumG, sumK = sumG+g, sumK+k
		if !figures(g, wantG[i], 7) {
			t.Errorf("row %d: G = %v, want %v", i+1, g, wantG[i])
		}
		if !figures(k, wantK[i], 7) {
			t.Errorf("row %d: k = %v, want %v", i+1, k, wantK[i])
		}
		if got := math.Floor(k*1e7) / 1e7; !near(got, printedK[i], 1e-9) {
			t.Errorf("row %d: k truncated = %v, the source prints %v", i+1, got, printedK[i])
		}
	}
	n := float64(len(rs))
	if !figures(sumG/n, e.number(t, e.Recomputed, "G_mean"), 6) {
		t.Errorf("mean G = %v, want %v", sumG/n, e.number(t, e.Recomputed, "G_mean"))
	}
	// Rounded to three figures the mean is 2.20e-5, not the printed 2.19e-5.
	if mean := sumK / n; !figures(mean, 2.20e-5, 3) || figures(mean, e.number(t, e.Printed, "k_mean"), 3) {
		t.Errorf("mean k = %v, want 2.20e-05 to three figures", mean)
	}
}

func TestWorkedExamplesFigureOfMerit(t *testing.T) {
	all := workedExamples(t)
	for _, id := range []string{"FM1", "FM2"} { // from one deflection to another
		t.Run(id, func(t *testing.T) {
			e := all[id]
			g, r1 := e.number(t, e.Given, "G"), e.number(t, e.Given, "R1")
			θ1, θ2 := e.number(t, e.Given, "theta1"), e.number(t, e.Given, "theta2")
			emf, r2 := e.number(t, e.Given, "E_V"), e.number(t, e.Printed, "R2")
			k := must(t)(Merit(emf, r1, g, θ1))
			if got := must(t)(FirstDeflection(emf, r2, g, k)); !near(got, θ2, 1e-14) {
				t.Errorf("deflection with R2 = %v is %v, want %v", r2, got, θ2)
			}
		})
	}
	t.Run("FM1 k", func(t *testing.T) {
		e := all["FM1"]
		got := must(t)(Merit(e.number(t, e.Given, "E_V"), e.number(t, e.Given, "R1"), e.number(t, e.Given, "G"), e.number(t, e.Given, "theta1")))
		if want := e.number(t, e.Recomputed, "k_A_per_div"); !near(got, want, 1e-15) {
			t.Errorf("k = %v, want %v", got, want)
		}
	})
	t.Run("FM4", func(t *testing.T) { // the current is given: the EMF is I G across the bare galvanometer
		e := all["FM4"]
		i, g := e.number(t, e.Given, "I_A"), e.number(t, e.Given, "G")
		got := must(t)(Merit(i*g, 0, g, e.number(t, e.Given, "theta")))
		if want := e.number(t, e.Printed, "k"); !near(got, want, 1e-14) {
			t.Errorf("k = %v, want %v", got, want)
		}
	})
	t.Run("FM5", func(t *testing.T) {
		e := all["FM5"]
		got := must(t)(Merit(e.number(t, e.Given, "V"), e.number(t, e.Given, "R"), e.number(t, e.Given, "G"), e.number(t, e.Given, "theta")))
		if want := e.number(t, e.Printed, "k"); !near(got, want, 1e-14) {
			t.Errorf("k = %v, want %v", got, want)
		}
	})
}

func TestDerivedCircuitCase(t *testing.T) {
	d := published.Load[struct {
		Circuit struct {
			EMF       float64 `json:"E_V"`
			Source    float64 `json:"r_ohm"`
			Series    float64 `json:"R_ohm"`
			G         float64 `json:"G_ohm"`
			Open      float64 `json:"Ig_no_shunt_A"`
			Half      float64 `json:"S_half_ohm"`
			Halved    float64 `json:"Ig_half_A"`
			FromR     float64 `json:"G_from_R_only"`
			FromRAndR float64 `json:"G_from_R_plus_r"`
		} `json:"circuit_case"`
	}](t, here, "derived_half_deflection.json").Circuit
	branch := must(t)(BranchTotal(d.Series, d.Source))
	if got := must(t)(FirstDeflection(d.EMF, branch, d.G, 1)); !figures(got, d.Open, 11) { // 1 A/div
		t.Errorf("the current is %v A, want %v", got, d.Open)
	}
	s := halving(branch, d.G)
	if !near(s, d.Half, 1e-15) {
		t.Errorf("R′∥G = %v, want %v", s, d.Half)
	}
	c, err := ShuntedCurrents(d.EMF, branch, d.G, s)
	if err != nil || !figures(c.Movement, d.Halved, 11) {
		t.Errorf("ShuntedCurrents = %+v, %v, want movement %v", c, err, d.Halved)
	}
	if got := must(t)(Resistance(branch, s, 30, 15)); !near(got, d.FromRAndR, 1e-14) {
		t.Errorf("Resistance with r = %v, want %v", got, d.FromRAndR)
	}
	if got := must(t)(Resistance(d.Series, s, 30, 15)); !near(got, d.FromR, 1e-14) {
		t.Errorf("Resistance without r = %v, want %v", got, d.FromR)
	}
}

// Hand calculation: E 3 V, R′ 100 Ω, G 100 Ω, S 50 Ω give Q = 20000 Ω²,
// loop 22.5 mA, galvanometer 7.5 mA, shunt 15 mA.
func TestShuntedCurrents(t *testing.T) {
	for _, c := range []struct {
		name             string
		emf, rp, g, s    float64
		loop, move, side float64
	}{
		{"hand calculation", 3, 100, 100, 50, 0.0225, 0.0075, 0.015},
		{"shunt of 0 Ω takes it all", 3, 100, 100, 0, 0.03, 0, 0.03},
		{"movement of 0 Ω takes it all", 3, 100, 0, 50, 0.03, 0.03, 0},
		{"no branch total", 3, 0, 100, 50, 0.09, 0.03, 0.06},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := ShuntedCurrents(c.emf, c.rp, c.g, c.s)
			want := Currents{c.loop, c.move, c.side}
			if err != nil || !near(got.Loop, want.Loop, 1e-15) || !near(got.Movement, want.Movement, 1e-15) || !near(got.Shunt, want.Shunt, 1e-15) {
				t.Errorf("ShuntedCurrents(%g, %g, %g, %g) = %+v, %v, want %+v", c.emf, c.rp, c.g, c.s, got, err, want)
			}
		})
	}
}

func TestImpossible(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	domain := new(DomainError)
	for _, c := range []struct {
		name string
		do   func() (float64, error)
		want error // nil: a DomainError
	}{
		{"θ1 zero", func() (float64, error) { return Resistance(3000, 90, 0, 0) }, ErrNoDeflection},
		{"θ1 below zero", func() (float64, error) { return Resistance(3000, 90, -24, -12) }, ErrNoDeflection},
		{"θ2 zero", func() (float64, error) { return Resistance(3000, 90, 24, 0) }, ErrShuntedZero},
		{"θ2 below zero", func() (float64, error) { return TheveninResistance(90, 24, -1) }, ErrShuntedZero},
		{"θ2 equal to θ1", func() (float64, error) { return Resistance(3000, 90, 24, 24) }, ErrNoFall},
		{"θ2 above θ1", func() (float64, error) { return TheveninResistance(90, 24, 25) }, ErrNoFall},
		// S/(R′+S) = 1/4: 6 div of 24 is the limit, which no G reaches.
		{"ratio at the limit", func() (float64, error) { return Resistance(300, 100, 24, 6) }, ErrFallTooDeep},
		{"ratio below the limit", func() (float64, error) { return Resistance(300, 100, 24, 5) }, ErrFallTooDeep},
		{"θ1 NaN", func() (float64, error) { return Resistance(3000, 90, nan, 12) }, nil},
		{"θ2 NaN", func() (float64, error) { return Resistance(3000, 90, 24, nan) }, nil},
		{"θ1 infinite", func() (float64, error) { return TheveninResistance(90, inf, 12) }, nil},
		{"no branch", func() (float64, error) { return Resistance(0, 90, 24, 12) }, nil},
		{"shunt zero", func() (float64, error) { return TheveninResistance(0, 24, 12) }, nil},
		{"shunt infinite", func() (float64, error) { return TheveninResistance(inf, 24, 12) }, nil},
		{"P overflows", func() (float64, error) { return TheveninResistance(1e300, 1e10, 1e-10) }, ErrRange},
		{"negative series", func() (float64, error) { return BranchTotal(-1, 2) }, nil},
		{"NaN source resistance", func() (float64, error) { return BranchTotal(1, nan) }, nil},
		{"sum overflows", func() (float64, error) { return BranchTotal(1e308, 1e308) }, nil},
		{"EMF zero", func() (float64, error) { return FirstDeflection(0, 1, 1, 1) }, nil},
		{"EMF infinite", func() (float64, error) { return FirstDeflection(inf, 1, 1, 1) }, nil},
		{"source shorted", func() (float64, error) { return FirstDeflection(1, 0, 0, 1) }, nil},
		{"current overflows", func() (float64, error) { return FirstDeflection(1e300, 1e-300, 0, 1) }, ErrRange},
		{"current underflows", func() (float64, error) { return FirstDeflection(1e-300, 1e300, 0, 1) }, ErrRange},
		{"merit zero", func() (float64, error) { return FirstDeflection(1, 1, 1, 0) }, nil},
		{"shunted, merit zero", func() (float64, error) { return ShuntedDeflection(1, 1, 1, 1, 0) }, nil},
		{"shunted, two shorts", func() (float64, error) { return ShuntedDeflection(1, 1, 0, 0, 1) }, ErrShorted},
		{"shunted, source shorted", func() (float64, error) { return ShuntedDeflection(1, 0, 1, 0, 1) }, ErrShorted},
		{"shunted, products overflow", func() (float64, error) { return ShuntedDeflection(1, 1e200, 1e200, 1e200, 1) }, ErrRange},
		{"shunted, deflection overflows", func() (float64, error) { return ShuntedDeflection(1, 1, 1, 1, 1e-320) }, ErrRange},
		{"shunted, negative shunt", func() (float64, error) { return ShuntedDeflection(1, 1, 1, -1, 1) }, nil},
		// 10 div with 100 Ω in all: even R′ = 0 gives 50 Ω, 20 div at most.
		{"k of no reading", func() (float64, error) { return Merit(1, 1, 1, 0) }, ErrNoDeflection},
		{"k of NaN", func() (float64, error) { return Merit(1, 1, 1, nan) }, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := c.do()
			if got != 0 || err == nil || c.want == nil && !errors.As(err, &domain) || c.want != nil && !errors.Is(err, c.want) {
				t.Errorf("got %v, error %v (%T), want 0 and %v", got, err, err, c.want)
			}
		})
	}
}

// bench draws a school or workshop bench: the ranges are domain knowledge
// (common practice), wide enough to hold every bench the program is for.
type bench struct{ emf, r, series, g, s, k float64 }

func drawBench(t *rapid.T) bench {
	decades := func(lo, hi float64, name string) float64 {
		return math.Pow(10, rapid.Float64Range(math.Log10(lo), math.Log10(hi)).Draw(t, name))
	}
	return bench{
		emf:    rapid.Float64Range(0.5, 6).Draw(t, "E"),
		r:      rapid.Float64Range(0.05, 50).Draw(t, "r"),
		series: decades(30, 20e3, "R"),
		g:      decades(10, 1000, "G"),
		s:      decades(1, 3000, "S"),
		k:      decades(1e-7, 1e-3, "k"),
	}
}

// There and back: readings made from G and k give them again.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, ok := drawBench(t), must(t)
		branch := ok(BranchTotal(b.series, b.r))
		θ1 := ok(FirstDeflection(b.emf, branch, b.g, b.k))
		θ2 := ok(ShuntedDeflection(b.emf, branch, b.g, b.s, b.k))
		res, err := Row{b.emf, b.r, b.series, b.s, θ1, θ2}.Solve(RowDoubt{})
		if err != nil {
			t.Fatalf("%+v: θ1 %v, θ2 %v: %v", b, θ1, θ2, err)
		}
		if !near(res.G, b.g, 1e-9) || !near(res.K, b.k, 1e-9) {
			t.Fatalf("%+v: G = %v, k = %v", b, res.G, res.K)
		}
		p := halving(branch, b.g)
		if !near(res.Thevenin, p, 1e-9) {
			t.Fatalf("%+v: P = %v, want %v", b, res.Thevenin, p)
		}
		// The shunt sees P: exactly that shunt halves the reading.
		if half := ok(ShuntedDeflection(b.emf, branch, b.g, p, b.k)); !near(half, θ1/2, 1e-13) {
			t.Fatalf("%+v: with S = P = %v the reading is %v, want %v", b, p, half, θ1/2)
		}
	})
}

// A shunted reading that no galvanometer makes is told from one that some
// makes at exactly S/(R′+S), wherever that lies.
func TestLimitOfReality(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBench(t)
		branch, θ1 := b.series+b.r, 24.0
		limit := θ1 * (b.s / (branch + b.s))
		if _, err := Resistance(branch, b.s, θ1, limit*(1-1e-9)); !errors.Is(err, ErrFallTooDeep) {
			t.Fatalf("%+v: just below the limit: error %v, want ErrFallTooDeep", b, err)
		}
		if g, err := Resistance(branch, b.s, θ1, limit+(θ1-limit)*1e-6); err != nil || g < 1e5*b.s*(branch/(branch+b.s)) {
			t.Fatalf("%+v: just above the limit: G = %v, %v, want a very large G", b, g, err)
		}
	})
}
