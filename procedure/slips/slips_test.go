package slips

import (
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"example.org/halve/physics"
	"example.org/halve/physics/quantity"
)

// written is a value as a student writes it, with so many figures.
func written(t testing.TB, v float64, figures int) quantity.Written {
	t.Helper()
	text := strconv.FormatFloat(math.Abs(v), 'e', figures-1, 64)
	w, err := quantity.ParseWritten(text, quantity.Number)
	if err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	if v < 0 {
		w.Value = -w.Value
	}
	return w
}

// draw makes a row as a school has it: the ratio is half or near it.
func draw(r *rand.Rand) Case {
	log := func(lo, hi float64) float64 { return lo * math.Exp(r.Float64()*math.Log(hi/lo)) }
	g, k := log(40, 200), log(1e-5, 4e-5)
	c := Case{EMF: math.Round(100*log(1, 3)) / 100, Divisions: 30, Step: 0.5, At: 0}
	first := float64(20 + 2*r.IntN(4))
	series := math.Round((c.EMF/(k*first)-g)/10) * 10
	shunt := math.Round(series * g / (series + g) * (0.75 + 0.5*r.Float64()))
	shunted := math.Round(2*first*shunt/(shunt+series*g/(series+g))) / 2
	c.Rows = []Row{{Number: 1, Series: series, Shunt: shunt, First: first, Shunted: shunted}}
	return c
}

// right fills in the computed value; ok is false where the row gives none.
func right(c *Case) (g, k float64, ok bool) {
	w := c.Rows[0]
	res, err := physics.Row{EMF: c.EMF, Series: w.Series, Shunt: w.Shunt, First: w.First, Shunted: w.Shunted}.Solve(physics.RowDoubt{First: 0.16, Shunted: 0.16})
	if err != nil {
		return 0, 0, false
	}
	c.Expected, c.U = res.G, res.UG
	if c.Quantity == Merit {
		c.Expected, c.U = res.K, res.UK
	}
	return res.G, res.K, true
}

// TestRightValues: no slip is alleged for a correct value, however it is
// rounded (2 to 4 figures; at 2 figures half a unit is within the agreement by
// definition).
func TestRightValues(t *testing.T) {
	r := rand.New(rand.NewPCG(77, 1))
	for range 10000 {
		c := draw(r)
		c.Quantity = Quantity(r.IntN(2))
		if _, _, ok := right(&c); !ok {
			continue
		}
		c.Stated = written(t, c.Expected, 2+r.IntN(3))
		for _, s := range Find(c) {
			if s.ID != TooManyDigits {
				t.Fatalf("%+v: %g is right, and %s is alleged: %s", c.Rows[0], c.Stated.Value, s.ID, s.Say)
			}
		}
	}
}

// TestFormulas: the slips that are a formula of one row, each written out here
// by itself (domain notes F), are named first in at least 95 of 100 cases where
// no other of these formulas and not the right value gives the same number.
func TestFormulas(t *testing.T) {
	type formula struct {
		id string
		of Quantity
		f  func(e, r, s, t1, t2, g, k float64) float64
	}
	formulas := []formula{
		{SumForDifference, Resistance, func(e, r, s, t1, t2, g, k float64) float64 { return r * s / (r + s) }},
		{ShuntAlone, Resistance, func(e, r, s, t1, t2, g, k float64) float64 { return s }},
		{FactorLeftOut, Resistance, func(e, r, s, t1, t2, g, k float64) float64 { return r * s }},
		{FactorLeftOut, Resistance, func(e, r, s, t1, t2, g, k float64) float64 { return r - s }},
		{SignTurned, Resistance, func(e, r, s, t1, t2, g, k float64) float64 { return r * s / (s - r) }},
		{HalfFormulaUsed, Resistance, func(e, r, s, t1, t2, g, k float64) float64 { return r * s / (r - s) }},
		{DecimalSlip, Resistance, func(e, r, s, t1, t2, g, k float64) float64 { return 10 * g }},
		{DoubledOrHalved, Resistance, func(e, r, s, t1, t2, g, k float64) float64 { return g / 2 }},
		{ResistanceLeftOut, Merit, func(e, r, s, t1, t2, g, k float64) float64 { return e / (r * t1) }},
		{DeflectionTwice, Merit, func(e, r, s, t1, t2, g, k float64) float64 { return e * t1 / (r + g) }},
		{FullScaleForDivision, Merit, func(e, r, s, t1, t2, g, k float64) float64 { return 30 * k }},
		{FullScaleForDivision, Merit, func(e, r, s, t1, t2, g, k float64) float64 { return e / (r + g) }},
		{Inverse, Merit, func(e, r, s, t1, t2, g, k float64) float64 { return 1 / k }},
		{HalfDeflectionUsed, Merit, func(e, r, s, t1, t2, g, k float64) float64 { return e / ((r + g) * t2) }},
		{DecimalSlip, Merit, func(e, r, s, t1, t2, g, k float64) float64 { return k / 10 }},
		{PrefixSlip, Merit, func(e, r, s, t1, t2, g, k float64) float64 { return 1000 * k }},
	}
	r := rand.New(rand.NewPCG(5, 9))
	for i, f := range formulas {
		told, apart := 0, 0
		for range 200 {
			c := draw(r)
			c.Quantity = f.of
			g, k, ok := right(&c)
			if !ok {
				continue
			}
			w := c.Rows[0]
			value := func(f formula) float64 { return f.f(c.EMF, w.Series, w.Shunt, w.First, w.Shunted, g, k) }
			c.Stated = written(t, value(f), 2+r.IntN(3))
			same := Agrees(c.Stated, c.Expected)
			for j, other := range formulas {
				// Half or double is also what two cells, or the other
				// deflection, give.
				same = same || j != i && other.of == f.of && other.id != f.id && Agrees(c.Stated, value(other))
			}
			same = same || Agrees(c.Stated, 2*c.Expected) && f.id != DoubledOrHalved
			if same {
				continue
			}
			apart++
			if found := Find(c); len(found) > 0 && found[0].ID == f.id {
				told++
			}
		}
		t.Logf("%-24s of quantity %d: first in %d of %d distinguishable cases", f.id, f.of, told, apart)
		if apart == 0 && f.id != HalfDeflectionUsed {
			t.Errorf("%s was never distinguishable", f.id)
		}
		if float64(told) < 0.95*float64(apart) {
			t.Errorf("%s (formula %d): first in %d of %d", f.id, i, told, apart)
		}
	}
}

// TestPrinted: a student record in print (testdata/reference of the module,
// 13_worked_examples, HD2) gives k = 5.02e-5 where its own numbers give
// 2.455e-5: it is not taken for right. By hand, E/(R·θ/2) = 2.5/(5000·10) =
// 5.0e-5 comes nearest: G left out and half the deflection used.
func TestPrinted(t *testing.T) {
	c := Case{Quantity: Merit, EMF: 2.5, Divisions: 30, Rows: []Row{{Number: 1, Series: 5000, Shunt: 90, First: 20, Shunted: 10}}}
	if _, k, ok := right(&c); !ok || math.Abs(k/2.455e-5-1) > 1e-3 {
		t.Fatalf("k = %g, want 2.455e-5", k)
	}
	c.Stated = written(t, 5.02e-5, 3)
	found := Find(c)
	if Agrees(c.Stated, c.Expected) || len(found) == 0 || found[0].ID != HalfDeflectionUsed {
		t.Errorf("found %+v", found)
	}
}

// FuzzFind: nothing panics and no probability is amiss, whatever the
// numbers are.
func FuzzFind(f *testing.F) {
	f.Add(1.5, 3000.0, 90.0, 24.0, 12.0, 92.78, 0.1, false)
	f.Add(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, true)
	f.Add(1e300, 1e-300, 1e300, 1e-300, 5.0, -1e300, 1e300, true)
	f.Fuzz(func(t *testing.T, e, r, s, t1, t2, stated, digit float64, merit bool) {
		c := Case{EMF: e, Rows: []Row{{Number: 1, Series: r, Shunt: s, First: t1, Shunted: t2}}, Divisions: 30, Expected: 90}
		if merit {
			c.Quantity, c.Expected = Merit, 2e-5
		}
		c.Stated = quantity.Written{Value: stated, LastDigit: math.Abs(digit), Digits: 3}
		sum := 0.0
		for _, s := range Find(c) {
			if !(s.Probability > 0 && s.Probability <= 1) || s.Say == "" || strings.Contains(s.Say, "NaN") {
				t.Fatalf("%+v: %+v", c, s)
			}
			sum += s.Probability
		}
		if sum > 1+1e-9 {
			t.Fatalf("%+v: the probabilities come to %g", c, sum)
		}
	})
}
