package procedure

import (
	"math"
	"strings"
	"testing"

	"example.org/halve/physics/estimate"
)

// exactRows is a record of rows read without error off the usual needle, each
// with the EMF and with every deflection altered by the given functions of the
// row's number and of the deflection.
func exactRows(t *testing.T, emf func(row float64) float64, scale func(theta float64) float64) *sitting {
	t.Helper()
	b := usualBench()
	b.Galvanometer.Resolution = 0.05
	s := sit(t, b, Wired{}, ZeroRead{0})
	for i, series := range []float64{2700, 3000, 3300, 3600, 3900} {
		m := usualNeedle()
		m.emf = emf(float64(i))
		read := func(theta float64) float64 { return math.Round(scale(theta)*20) / 20 }
		shunt := 76 + 4*float64(i)
		s.put(SeriesSet{Ohm: series}, first(read(m.first(t, series))), ShuntSet{Ohm: shunt}, shunted(read(m.shunted(t, series, shunt))), RowKept{})
	}
	return s
}

func steadyEMF(float64) float64       { return 1.48 }
func evenScale(theta float64) float64 { return theta }

// TestAnalyse: what a record's numbers point to is said, and only that. The
// rows are computed by the closed forms (package physics), so that nothing but
// the planted error can show.
func TestAnalyse(t *testing.T) {
	for _, tc := range []struct {
		name  string
		emf   func(float64) float64
		scale func(float64) float64
		words []string
		not   []string
	}{
		{"sound", steadyEMF, evenScale, []string{"comes from the", "One more row near", "is no useful G"}, []string{"running down", "not be linear", "differ by"}},
		// The EMF falls by 2 % of itself from row to row.
		{"cell running down", func(row float64) float64 { return 1.48 * (1 - 0.02*row) }, evenScale, []string{"cell may be running down", "k rises with time", "scatter more than the scale explains"}, nil},
		// θ(1 + 0.1 θ/30), θ a twentieth less: G comes out the higher the further
		// the needle goes.
		{"uneven scale", steadyEMF, func(theta float64) float64 { return 0.95 * theta * (1 + 0.1*theta/30) }, []string{"G rises with the deflection", "scale may not be linear"}, nil},
	} {
		t.Run(tc.name, func(t *testing.T) {
			a := Analyse(exactRows(t, tc.emf, tc.scale).s)
			if a.Fit == nil || a.Budget == nil || a.Schoolbook == nil {
				t.Fatalf("fit %v, budget %v, schoolbook %v", a.Fit, a.Budget, a.Schoolbook)
			}
			said := strings.Join(a.Remarks, "\n")
			for _, w := range tc.words {
				if !strings.Contains(said, w) {
					t.Errorf("nothing says %q in:\n%s", w, said)
				}
			}
			for _, w := range tc.not {
				if strings.Contains(said, w) {
					t.Errorf("%q is said in:\n%s", w, said)
				}
			}
			sum := 0.0
			for _, l := range a.Budget.Resistance {
				sum += l.Contribution * l.Contribution
			}
			if u := a.Fit.UG; math.Abs(math.Sqrt(sum)-u) > 1e-6*u {
				t.Errorf("the budget of G adds up to %g, the uncertainty is %g", math.Sqrt(sum), u)
			}
			if l := a.Schoolbook.Line; l == nil || math.Abs(l.Merit*l.Slope-1.5) > 1e-9 { // slope = E/k, with the stated EMF
				t.Errorf("line %+v", l)
			}
		})
	}
}

// TestAnalyseNothing: without a bench, a row or a possible row there is nothing
// to analyse, and nothing breaks.
func TestAnalyseNothing(t *testing.T) {
	for name, s := range map[string]*sitting{
		"no bench":          sit(t),
		"no row":            ready(t, SeriesSet{Ohm: 3000}, first(24)),
		"an impossible row": ready(t, SeriesSet{Ohm: 3000}, first(24), ShuntSet{Ohm: 80}, shunted(25), RowKept{}),
	} {
		if a := Analyse(s.s); a.Fit != nil || a.Budget != nil || a.Schoolbook != nil || len(a.Remarks) != 0 {
			t.Errorf("%s: %+v", name, a)
		}
	}
}

// TestCure: each kind of input has what makes it better.
func TestCure(t *testing.T) {
	seen := map[string]estimate.Kind{}
	for k, words := range map[estimate.Kind]string{
		estimate.EMF: "voltmeter", estimate.Zero: "zero again", estimate.SeriesCoil: "better box", estimate.ShuntCoil: "better box",
		estimate.SourceResistance: "on load", estimate.FirstReading: "another row", estimate.ShuntedReading: "another row",
	} {
		got := cure(k)
		if !strings.Contains(got, words) {
			t.Errorf("%s: %q, want %q", k, got, words)
		}
		seen[got] = k
	}
	if len(seen) != 5 {
		t.Errorf("%d different cures, want 5", len(seen))
	}
}

// TestForesee: it is the counsel that would follow, diagnosis included, and
// leaves no trace; what cannot be taken is refused.
func TestForesee(t *testing.T) {
	s := ready(t, SeriesSet{Ohm: 11110}, first(7), SeriesSet{Ohm: 3870})
	was := counselJSON(t, Advise(s.s))
	f := Foresee(s.s, first(3))
	if len(f.Findings) == 0 {
		t.Error("3 where 19.8 is expected points to nothing")
	}
	if r := Foresee(s.s, shunted(3)); r.Refused == nil {
		t.Error("a shunted reading without a shunt is taken")
	}
	if now := counselJSON(t, Advise(s.s)); now != was {
		t.Errorf("a trace is left:\n%s\n%s", was, now)
	}
	s.put(first(3))
	if a, b := counselJSON(t, f), counselJSON(t, Advise(s.s)); a != b {
		t.Errorf("it was not what followed:\n%s\n%s", a, b)
	}
}
