package slips

import (
	"math"
	"strconv"
	"strings"
	"testing"

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
