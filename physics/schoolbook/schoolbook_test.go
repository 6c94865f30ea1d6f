package schoolbook

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"example.org/halve/physics"
	"example.org/halve/physics/published"
)

// gain is the covariance of settings that err by one common factor, with the
// relative standard uncertainty u.
func gain(ohms []float64, u float64) *mat.SymDense {
	cov := mat.NewSymDense(len(ohms), nil)
	cov.SymRankOne(cov, u*u, mat.NewVecDense(len(ohms), ohms))
	return cov
}

// fiveRows are the rows of the scenarios D4 and D5.
func fiveRows(t *testing.T) (rows []Row, want map[string]json.RawMessage, common Common) {
	t.Helper()
	s := published.Scenario[struct {
		Inputs struct {
			EMF     float64      `json:"E_V"`
			Source  float64      `json:"r_ohm"`
			Rows    [][4]float64 `json:"rows_R_S_theta1_theta2"`
			SeriesT float64      `json:"box_R_tol_rect"`
			ShuntT  float64      `json:"box_S_tol_rect"`
			EMFT    float64      `json:"E_tol_rect"`
		}
		Expected map[string]json.RawMessage
	}](t, os.DirFS("../../testdata/reference"), "D4")
	var series, shunt []float64
	for i, r := range s.Inputs.Rows {
		rows = append(rows, Row{Series: r[0], Shunt: r[1], First: r[2], Shunted: r[3], At: 60 * float64(i)})
		series, shunt = append(series, r[0]), append(shunt, r[1])
	}
	return rows, s.Expected, Common{
		EMF: s.Inputs.EMF, UEMF: s.Inputs.EMFT * s.Inputs.EMF / math.Sqrt(3), SourceResistance: s.Inputs.Source,
		SeriesCovariance: gain(series, s.Inputs.SeriesT/math.Sqrt(3)), ShuntCovariance: gain(shunt, s.Inputs.ShuntT/math.Sqrt(3)),
	}
}

func TestScenarioD4(t *testing.T) {
	rows, expected, common := fiveRows(t)
	want := func(key string) float64 {
		t.Helper()
		var v float64
		if err := json.Unmarshal(expected[key], &v); err != nil {
			t.Fatalf("%s: %v", key, err)
		}
		return v
	}
	a, err := Solve(rows, common, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	const six = 5e-6 // the scenario has six figures
	for _, c := range []struct {
		name string
		m    *Mean
	}{{"G", a.G}, {"k", a.K}} {
		t.Run(c.name, func(t *testing.T) {
			m := c.m
			if m == nil || m.SD == nil || m.StandardError == nil || m.DoF == nil {
				t.Fatalf("%+v lacks a part", m)
			}
			published.Near(t, "mean", m.Value, want(c.name+"_mean"), six)
			published.Near(t, "s", *m.SD, want("s_"+c.name), six)
			published.Near(t, "u_A", *m.StandardError, want("uA_"+c.name), six)
			published.Near(t, "u_B", m.Common, want("uB_"+c.name), six)
			published.Near(t, "u", m.U, want("u_"+c.name), six)
			published.Near(t, "ν_eff", *m.DoF, want("nu_eff_"+c.name), six)
			published.Near(t, "U95", m.Expanded, want("U95_"+c.name), six)
			published.Near(t, "low", m.Low, m.Value-want("U95_"+c.name), six)
			published.Near(t, "high", m.High, m.Value+want("U95_"+c.name), six)
		})
	}
	published.Near(t, "t95", a.G.Factor, want("t95_G"), six)
	if a.Line != nil {
		t.Errorf("a line of readings without a doubt: %+v", a.Line)
	}
	if len(a.Without) != 0 {
		t.Errorf("rows %v are left out", a.Without)
	}
}

func TestReadingsAreTheFloor(t *testing.T) {
	rows, _, common := fiveRows(t)
	for i := range rows {
		rows[i].UFirst, rows[i].UShunted = 0.15, 0.15
	}
	one, err := Solve(rows[2:3], Common{EMF: common.EMF, SourceResistance: common.SourceResistance}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	// Row 3 by hand with D1's sensitivities to its readings, 7.76077 and
	// −15.5215 Ω/div, and −8.26911e-7 and 8.98677e-8 A/div².
	if one.G.SD != nil || one.G.StandardError != nil || one.G.DoF != nil || one.K.SD != nil {
		t.Errorf("one row has no scatter: %+v", one.G)
	}
	published.Near(t, "u(G) of one row", one.G.U, 0.15*math.Hypot(7.76077, 15.5215), 1e-5)
	published.Near(t, "u(k) of one row", one.K.U, 0.15*math.Hypot(8.26911e-7, 8.98677e-8), 1e-5)
	published.Near(t, "the normal factor", one.G.Factor, 1.959964, 1e-6)
	if one.Trends != nil || one.Entangled != nil || one.Line != nil || one.Forced == nil {
		t.Errorf("one row tells %+v; want no trend and no line, but a forced k", one)
	}

	same, err := Solve([]Row{rows[2], rows[2], rows[2]}, Common{EMF: common.EMF}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if *same.G.SD > 1e-12 {
		t.Errorf("SD of the same row = %g", *same.G.SD)
	}
	if same.G.DoF != nil {
		t.Errorf("the readings' doubt has degrees of freedom %g", *same.G.DoF)
	}
	published.Near(t, "u(G) of three rows that agree", same.G.U, one.G.U/math.Sqrt(3), 1e-3)
	if same.Trends != nil || same.Entangled != nil || same.Line != nil {
		t.Errorf("the same row thrice tells %+v; want no trend and no line", same)
	}
}

// TestCommonBySlopes finds what the zero and the source's resistance make of
// the means a second way, by moving them.
func TestCommonBySlopes(t *testing.T) {
	rows, _, common := fiveRows(t)
	base := Common{EMF: common.EMF, SourceResistance: common.SourceResistance}
	solve := func(rows []Row, c Common) Answer {
		t.Helper()
		a, err := Solve(rows, c, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	slope := func(by float64, move func(sign float64) Answer) (g, k float64) {
		up, down := move(by), move(-by)
		return math.Abs(up.G.Value-down.G.Value) / (2 * by), math.Abs(up.K.Value-down.K.Value) / (2 * by)
	}
	t.Run("zero", func(t *testing.T) {
		g, k := slope(1e-5, func(by float64) Answer {
			moved := append([]Row(nil), rows...)
			for i := range moved {
				moved[i].First += by
				moved[i].Shunted += by
			}
			return solve(moved, base)
		})
		c := base
		c.UZero = 0.1
		a := solve(rows, c)
		published.Near(t, "u(G)", a.G.Common, 0.1*g, 1e-6)
		published.Near(t, "u(k)", a.K.Common, 0.1*k, 1e-6)
	})
	t.Run("source resistance", func(t *testing.T) {
		g, k := slope(1e-2, func(by float64) Answer {
			c := base
			c.SourceResistance += by
			return solve(rows, c)
		})
		c := base
		c.USourceResistance = 0.5
		a := solve(rows, c)
		published.Near(t, "u(G)", a.G.Common, 0.5*g, 1e-6)
		published.Near(t, "u(k)", a.K.Common, 0.5*k, 1e-6)
	})
}

func TestBoxCovariance(t *testing.T) {
	// By hand: coils of 1000 and 500 Ω within 0.3 %: u = √3 and √3/2 Ω.
	// Settings 1000, 1500 and 1000 + 1000 (a dial at its second step) Ω.
	got, err := BoxCovariance([][]int{{1, 0}, {1, 1}, {2, 0}}, []float64{1000, 500}, 0.003)
	if err != nil {
		t.Fatal(err)
	}
	want := [][]float64{{3, 3, 6}, {3, 3.75, 6}, {6, 6, 12}}
	for i, row := range want {
		for j, v := range row {
			published.Near(t, fmt.Sprintf("u(R%d, R%d)", i, j), got.At(i, j), v, 1e-14)
		}
	}
	for _, tt := range []struct {
		name      string
		counts    [][]int
		tolerance float64
	}{
		{"no setting", nil, 0.01},
		{"a coil missing", [][]int{{1}}, 0.01},
		{"a tolerance below zero", [][]int{{1, 0}}, -0.01},
		{"a tolerance without a number", [][]int{{1, 0}}, math.NaN()},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if got, err := BoxCovariance(tt.counts, []float64{1000, 500}, tt.tolerance); !errors.Is(err, ErrInput) {
				t.Errorf("BoxCovariance(%v, %g) = %v, %v; want %v", tt.counts, tt.tolerance, got, err, ErrInput)
			}
		})
	}
}

func TestRowsOfNoGalvanometer(t *testing.T) {
	rows, _, common := fiveRows(t)
	rows[1].Shunted = rows[1].First // no fall
	rows[3].First = 0
	a, err := Solve(rows, common, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(a.Without, []int{1, 3}) || a.G.N != 3 {
		t.Errorf("left out %v of 5, G from %d; want [1 3] and 3", a.Without, a.G.N)
	}
	left, err := Solve([]Row{rows[0], rows[2], rows[4]}, Common{
		EMF: common.EMF, UEMF: common.UEMF, SourceResistance: common.SourceResistance,
		SeriesCovariance: gain([]float64{2670, 3150, 3800}, 0.005/math.Sqrt(3)), ShuntCovariance: gain([]float64{86, 88, 87}, 0.01/math.Sqrt(3)),
	}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	published.Near(t, "u(G) without them", a.G.U, left.G.U, 1e-12)

	for _, none := range [][]Row{nil, {rows[1]}} {
		a, err := Solve(none, Common{EMF: 1.5}, 0.95)
		if err != nil || a.G != nil || a.K != nil || a.Line != nil || a.Forced != nil || a.Trends != nil || a.Entangled != nil {
			t.Errorf("Solve(%v) = %+v, %v; want nothing", none, a, err)
		}
		if d := a.Differences(90, 2e-5); d != nil {
			t.Errorf("of nothing the differences are %+v", d)
		}
	}
}

func TestRefused(t *testing.T) {
	rows, _, common := fiveRows(t)
	for _, tt := range []struct {
		name   string
		change func([]Row, *Common, *float64)
	}{
		{"certainty", func(_ []Row, _ *Common, p *float64) { *p = 1 }},
		{"a doubt below zero", func(_ []Row, c *Common, _ *float64) { c.UZero = -1 }},
		{"a doubt without a number", func(r []Row, _ *Common, _ *float64) { r[0].UFirst = math.NaN() }},
		{"a time without end", func(r []Row, _ *Common, _ *float64) { r[0].At = math.Inf(1) }},
		{"a covariance of another size", func(_ []Row, c *Common, _ *float64) { c.SeriesCovariance = mat.NewSymDense(2, nil) }},
		{"a variance below zero", func(_ []Row, c *Common, _ *float64) {
			c.ShuntCovariance = mat.NewDiagDense(5, []float64{1, 1, -1, 1, 1})
		}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r, c, p := append([]Row(nil), rows...), common, 0.95
			tt.change(r, &c, &p)
			if a, err := Solve(r, c, p); !errors.Is(err, ErrInput) {
				t.Errorf("Solve = %+v, %v; want %v", a, err, ErrInput)
			}
		})
	}
}

// bench is a simulated bench with everything that the rows have in common
// drawn once, read to half a division.
type bench struct {
	g, k, r    float64
	emf, zero  float64
	beta       float64 // the scale reads θ(1 + β θ/30)
	falls      float64 // relative fall of the EMF per row
	coilErrors [2][]float64
}

var coils = [2][]float64{ // series and shunt box, ohm
	{5000, 2000, 2000, 1000, 500, 200, 200, 100, 50, 20, 20, 10},
	{200, 200, 100, 50, 20, 20, 10, 5, 2, 2, 1},
}

const (
	step          = 0.5
	repeatability = 0.08 // div
	tolerance     = 0.002
	uEMF, uZero   = 0.01, 0.08
)

func newBench(rng *rand.Rand) *bench {
	b := &bench{
		g: 40 * math.Exp(2*rng.Float64()), k: 1e-5 * math.Exp(1.2*rng.Float64()), r: 1,
		emf: 1.5 * (1 + uEMF*rng.NormFloat64()), zero: uZero * rng.NormFloat64(),
	}
	for box := range coils {
		for range coils[box] {
			b.coilErrors[box] = append(b.coilErrors[box], tolerance*(2*rng.Float64()-1))
		}
	}
	return b
}

// set returns what a box is set to for a value, its counts and its true value.
func (b *bench) set(box int, ohm float64) (dialled, truth float64, counts []int) {
	counts = make([]int, len(coils[box]))
	for i, c := range coils[box] {
		if ohm-dialled >= c {
			counts[i] = 1
			dialled += c
			truth += c * (1 + b.coilErrors[box][i])
		}
	}
	return dialled, truth, counts
}

func (b *bench) read(rng *rand.Rand, θ float64) float64 {
	θ = θ*(1+b.beta*θ/30) + b.zero + repeatability*rng.NormFloat64()
	return step * math.Round(θ/step)
}

// practical makes n rows over the upper half of the scale in any order, with
// shunts about the half.
func (b *bench) practical(t *testing.T, rng *rand.Rand, n int) ([]Row, Common) {
	t.Helper()
	var rows []Row
	var counts [2][][]int
	for place, i := range rng.Perm(n) {
		// Not at the marks by the bench's true values: the rounding errors of
		// all rows would then be alike, and no longer each row's own.
		aim := 28 - 12*float64(i)/float64(n) + step*(rng.Float64()-0.5)
		r, rTrue, rCounts := b.set(0, 1.5/(b.k*aim)-b.g)
		p := (rTrue + b.r) * b.g / (rTrue + b.r + b.g)
		s, sTrue, sCounts := b.set(1, p*(0.75+0.55*rng.Float64()))
		emf := b.emf * (1 - b.falls*float64(place))
		first, err := physics.FirstDeflection(emf, rTrue+b.r, b.g, b.k)
		if err != nil {
			t.Fatal(err)
		}
		shunted, err := physics.ShuntedDeflection(emf, rTrue+b.r, b.g, sTrue, b.k)
		if err != nil {
			t.Fatal(err)
		}
		u := math.Hypot(step/math.Sqrt(12), repeatability)
		rows = append(rows, Row{
			Series: r, Shunt: s, First: b.read(rng, first), Shunted: b.read(rng, shunted), UFirst: u, UShunted: u, At: 1e9 + 90*float64(place),
		})
		counts[0], counts[1] = append(counts[0], rCounts), append(counts[1], sCounts)
	}
	c := Common{EMF: 1.5, UEMF: 1.5 * uEMF, SourceResistance: 1, USourceResistance: 0.5, UZero: uZero}
	for box, cov := range []*mat.Symmetric{&c.SeriesCovariance, &c.ShuntCovariance} {
		m, err := BoxCovariance(counts[box], coils[box], tolerance)
		if err != nil {
			t.Fatal(err)
		}
		*cov = m
	}
	return rows, c
}

// atMost is the count of n trials that a probability exceeds less than once in
// a thousand times (normal approximation of the binomial distribution).
func atMost(n int, p float64) int {
	return int(float64(n)*p + 3.1*math.Sqrt(float64(n)*p*(1-p)) + 1)
}

// TestCoverage: the interval of 95 % holds the truth of a sound bench at least
// that often, by number of rows. It holds it more often, because it takes the
// greater of the rows' scatter and the readings' doubt.
func TestCoverage(t *testing.T) {
	const benches = 3000
	for _, n := range []int{1, 2, 3, 5, 8} {
		t.Run(fmt.Sprintf("%d rows", n), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(17, uint64(n)))
			var missG, missK, alarms, trends, disagree, differences int
			for range benches {
				b := newBench(rng)
				rows, c := b.practical(t, rng, n)
				a, err := Solve(rows, c, 0.95)
				if err != nil || a.G == nil || a.K == nil {
					t.Fatalf("Solve(%+v) = %+v, %v", rows, a, err)
				}
				if b.g < a.G.Low || b.g > a.G.High {
					missG++
				}
				if b.k < a.K.Low || b.k > a.K.High {
					missK++
				}
				for _, tr := range a.Trends {
					if trends++; tr.Significance < 0.01 {
						alarms++
					}
				}
				for _, d := range a.Differences(b.g, b.k*1.5/b.emf) { // what a perfect estimate would find
					if d.First == StraightLine || d.Second == StraightLine {
						if differences++; d.Disagree {
							disagree++
						}
					}
				}
			}
			if most := atMost(benches, 0.05); missG > most || missK > most {
				t.Errorf("of %d intervals %d miss G and %d miss k; want at most %d", benches, missG, missK, most)
			}
			if most := atMost(trends, 0.01); alarms > most {
				t.Errorf("%d of %d trends of sound benches are significant at 1 %%; want at most %d", alarms, trends, most)
			}
			if most := atMost(differences, 0.01); disagree > most {
				t.Errorf("%d of %d differences from the line disagree; want at most %d", disagree, differences, most)
			}
			t.Logf("G held %.3f, k %.3f; false trends %d of %d, disagreements with the line %d of %d",
				1-float64(missG)/benches, 1-float64(missK)/benches, alarms, trends, disagree, differences)
		})
	}
}

// TestTrendsAreFound: a bench with one thing wrong shows it in the trend that
// belongs to it, and far more often than in the other.
func TestTrendsAreFound(t *testing.T) {
	const benches = 300
	for _, tt := range []struct {
		name string
		harm func(*bench)
		with Course
		sign float64
	}{
		// A crowded top makes θ small for its current, and k large.
		{"a scale crowded at its end", func(b *bench) { b.beta = -0.15 }, Deflection, 1},
		{"a scale opened at its end", func(b *bench) { b.beta = 0.15 }, Deflection, -1},
		// An EMF thought too large makes k large.
		{"a cell running down", func(b *bench) { b.falls = 0.01 }, Time, 1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(23, 5))
			found, other := 0, 0
			for range benches {
				b := newBench(rng)
				tt.harm(b)
				rows, c := b.practical(t, rng, 8)
				a, err := Solve(rows, c, 0.95)
				if err != nil {
					t.Fatal(err)
				}
				for _, tr := range a.Trends {
					if tr.Of != Merit || tr.Significance >= 0.01 {
						continue
					}
					if tr.With == tt.with && tr.Slope*tt.sign > 0 && tr.Change*tt.sign > 0 {
						found++
					} else {
						other++
					}
				}
			}
			t.Logf("found %d, other %d of %d", found, other, benches)
			if found < benches*8/10 || other > found/2 {
				t.Errorf("of %d benches %d show it and %d something else", benches, found, other)
			}
		})
	}
}

func TestTrendByHand(t *testing.T) {
	// Values 0.9, 1.0, 1.1 ± 0.05 at 0, 1, 2: the slope is 0.1 with
	// u = 0.05/√2, by the readings alone 2.828 u: 2 (1 − Φ(2.828)) = 0.00468.
	exact := mat.NewSymDense(3, nil)
	v := values{scale: 1, of: []float64{0.9, 1, 1.1}, own: []float64{0.05, 0.05, 0.05}, all: exact}
	got, ok := v.trend([]float64{5, 6, 7})
	if !ok {
		t.Fatal("no trend")
	}
	published.Near(t, "slope", got.Slope, 0.1, 1e-12)
	published.Near(t, "u", got.USlope, 0.05/math.Sqrt2, 1e-12)
	published.Near(t, "change", got.Change, 0.2, 1e-12)
	published.Near(t, "significance", got.Significance, 0.00467773, 1e-5)

	// The same with one point beside the line: 0.9, 1.03, 1.1 and ± 0.01. The
	// slope is 0.1, the residuals −0.01, 0.02, −0.01, so that χ² = 6 on one
	// degree of freedom and u = √6 · 0.01/√2; t = 5.7735 with ν = 1 gives
	// 1 − (2/π) arctan t = 0.10918.
	v = values{scale: 1, of: []float64{0.9, 1.03, 1.1}, own: []float64{0.01, 0.01, 0.01}, all: exact}
	got, ok = v.trend([]float64{5, 6, 7})
	if !ok {
		t.Fatal("no trend")
	}
	published.Near(t, "u stretched by the scatter", got.USlope, math.Sqrt(6)*0.01/math.Sqrt2, 1e-12)
	published.Near(t, "significance by the scatter", got.Significance, 1-2/math.Pi*math.Atan(0.1/(math.Sqrt(6)*0.01/math.Sqrt2)), 1e-9)

	// Readings said to be exact: the same by the scatter alone.
	v.own = []float64{0, 0, 0}
	got, ok = v.trend([]float64{5, 6, 7})
	if !ok {
		t.Fatal("no trend")
	}
	published.Near(t, "u by the scatter alone", got.USlope, math.Sqrt(6)*0.01/math.Sqrt2, 1e-12)

	// What all rows share by one factor makes no slope; what is each one's own
	// does: with u = 0.05 each, as above.
	v = values{scale: 1, of: []float64{0.9, 1, 1.1}, own: []float64{0.05, 0.05, 0.05}, all: gain([]float64{1, 1, 1}, 3)}
	if got, ok = v.trend([]float64{5, 6, 7}); !ok {
		t.Fatal("no trend")
	}
	published.Near(t, "u with a common factor", got.USlope, 0.05/math.Sqrt2, 1e-6)
	v.all = mat.NewSymDense(3, []float64{0.0025, 0, 0, 0, 0.0025, 0, 0, 0, 0.0025})
	if got, ok = v.trend([]float64{5, 6, 7}); !ok {
		t.Fatal("no trend")
	}
	published.Near(t, "u with boxes of its own", got.USlope, 0.05, 1e-12)

	for name, x := range map[string][]float64{"two rows": {1, 2}, "one moment": {1e9, 1e9, 1e9}} {
		v.of, v.own = v.of[:len(x)], v.own[:len(x)]
		if got, ok := v.trend(x); ok {
			t.Errorf("%s show a trend %+v", name, got)
		}
		v.of, v.own = v.of[:3], v.own[:3]
	}
}

func TestEntangled(t *testing.T) {
	rows, _, common := fiveRows(t)
	a, err := Solve(rows, common, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	// Deflections 28 … 20 in even steps at even times.
	if a.Entangled == nil || math.Abs(*a.Entangled+1) > 1e-12 {
		t.Errorf("Entangled = %v; want −1", a.Entangled)
	}
	for i := range rows {
		rows[i].At = 5
	}
	if a, err = Solve(rows, common, 0.95); err != nil || a.Entangled != nil {
		t.Errorf("at one moment: Entangled = %v, %v; want none", a.Entangled, err)
	}
}

func TestDifferences(t *testing.T) {
	rows, _, common := fiveRows(t)
	for i := range rows {
		rows[i].UFirst, rows[i].UShunted = 0.15, 0.15
	}
	a, err := Solve(rows, common, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	// The joint estimate of D5, for the same rows.
	got := a.Differences(91.4708, 1.87932e-5)
	if len(got) != 4 {
		t.Fatalf("%d differences: %+v; want four", len(got), got)
	}
	// Of the mean G: 91.5911 − 91.4708 with the standard error of D4, 1.35281.
	d := got[0]
	if d.Of != Resistance || d.First != MeanOfRows || d.Second != AllReadings || d.Disagree {
		t.Errorf("first difference %+v", d)
	}
	published.Near(t, "by", d.By, 91.5911-91.4708, 1e-3)
	published.Near(t, "u", d.U, 1.35281, 5e-6)
	published.Near(t, "in u", d.InU, (91.5911-91.4708)/1.35281, 1e-3)
	for _, d := range got {
		if d.Disagree {
			t.Errorf("%+v: answers of the same sound rows disagree", d)
		}
	}
	// Ten standard errors away they do not agree, t99(4) being 4.6.
	if d := a.Differences(91.5911+13.5281, 1.87932e-5)[0]; !d.Disagree {
		t.Errorf("%+v ought to disagree", d)
	}
	// Four away it may be chance, with five rows.
	if d := a.Differences(91.5911+4*1.35281, 1.87932e-5)[0]; d.Disagree {
		t.Errorf("%+v ought not to disagree", d)
	}
	if got := a.Differences(math.NaN(), math.Inf(1)); len(got) != 1 || got[0].Second != StraightLine {
		t.Errorf("without a joint estimate the differences are %+v; want that of mean and line", got)
	}
}

// TestRepeatsAreOnePoint: rows at the same series value are one point of the
// line, for they share the rounding of the scale.
func TestRepeatsAreOnePoint(t *testing.T) {
	rows, _, _ := fiveRows(t)
	for i := range rows {
		rows[i].UFirst, rows[i].UShunted = 0.15, 0.15
	}
	c := Common{EMF: 1.46, SourceResistance: 0.9}
	once, err := Solve(rows, c, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	twice, err := Solve(append(append([]Row(nil), rows...), rows...), c, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if once.Line == nil || twice.Line == nil {
		t.Fatal("no line")
	}
	if *once.Line != *twice.Line {
		t.Errorf("the same rows twice have the line %+v; once %+v", *twice.Line, *once.Line)
	}
}

// numbers walks everything that an answer holds.
func numbers(t *rapid.T, what string, v reflect.Value) {
	switch v.Kind() {
	case reflect.Float64:
		if !finite(v.Float()) {
			t.Errorf("%s = %g", what, v.Float())
		}
	case reflect.Pointer:
		if !v.IsNil() {
			numbers(t, what, v.Elem())
		}
	case reflect.Slice:
		for i := range v.Len() {
			numbers(t, fmt.Sprintf("%s[%d]", what, i), v.Index(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() {
				numbers(t, what+"."+f.Name, v.Field(i))
			}
		}
	}
}

// TestNothingEndless: whatever comes in, an answer is made of numbers and can
// be written as JSON.
func TestNothingEndless(t *testing.T) {
	odd := rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{0, 1, math.NaN(), math.Inf(1), math.MaxFloat64, 5e-324, 1e-160, 1e160}))
	mild := func(low, high float64) *rapid.Generator[float64] {
		return rapid.OneOf(rapid.Float64Range(low, high), rapid.SampledFrom([]float64{low, high}), odd)
	}
	rapid.Check(t, func(t *rapid.T) {
		var rows []Row
		for range rapid.IntRange(0, 5).Draw(t, "rows") {
			rows = append(rows, Row{
				Series: mild(1000, 5000).Draw(t, "R"), Shunt: mild(50, 150).Draw(t, "S"),
				First: mild(16, 30).Draw(t, "θ1"), Shunted: mild(6, 15).Draw(t, "θ2"),
				UFirst: mild(0, 0.2).Draw(t, "u1"), UShunted: mild(0, 0.2).Draw(t, "u2"), At: mild(0, 1e9).Draw(t, "at"),
			})
		}
		c := Common{
			EMF: mild(1, 2).Draw(t, "E"), UEMF: mild(0, 0.1).Draw(t, "uE"), SourceResistance: mild(0, 5).Draw(t, "r"),
			USourceResistance: mild(0, 5).Draw(t, "ur"), UZero: mild(0, 0.2).Draw(t, "uz"),
		}
		a, err := Solve(rows, c, rapid.Float64Range(0.5, 0.99).Draw(t, "p"))
		if err != nil {
			return // said so, and no answer
		}
		numbers(t, "answer", reflect.ValueOf(a))
		if _, err := json.Marshal(a); err != nil {
			t.Errorf("JSON of %+v: %v", a, err)
		}
		d := a.Differences(mild(50, 150).Draw(t, "G"), mild(1e-5, 1e-4).Draw(t, "k"))
		numbers(t, "differences", reflect.ValueOf(d))
	})
}

// TestRowsOfTinyAndHugeNumbers holds the answer to the same rows in other
// units: all currents or all resistances a thousandfold many times over.
func TestRowsOfTinyAndHugeNumbers(t *testing.T) {
	rows, _, common := fiveRows(t)
	for i := range rows {
		rows[i].UFirst, rows[i].UShunted = 0.15, 0.15
	}
	want, err := Solve(rows, Common{EMF: common.EMF, UEMF: common.UEMF}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct{ ohm, volt float64 }{{1e90, 1}, {1e-90, 1}, {1, 1e150}, {1, 1e-150}, {1e80, 1e-80}} {
		t.Run(fmt.Sprintf("%g Ω and %g V", tt.ohm, tt.volt), func(t *testing.T) {
			scaled := append([]Row(nil), rows...)
			for i := range scaled {
				scaled[i].Series *= tt.ohm
				scaled[i].Shunt *= tt.ohm
			}
			got, err := Solve(scaled, Common{EMF: common.EMF * tt.volt, UEMF: common.UEMF * tt.volt}, 0.95)
			if err != nil || got.G == nil || got.K == nil {
				t.Fatalf("Solve = %+v, %v", got, err)
			}
			published.Near(t, "G", got.G.Value, want.G.Value*tt.ohm, 1e-12)
			published.Near(t, "U of G", got.G.Expanded, want.G.Expanded*tt.ohm, 1e-9)
			published.Near(t, "k", got.K.Value, want.K.Value*tt.volt/tt.ohm, 1e-12)
			published.Near(t, "U of k", got.K.Expanded, want.K.Expanded*tt.volt/tt.ohm, 1e-9)
		})
	}
}
