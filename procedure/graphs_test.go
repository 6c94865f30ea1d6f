package procedure

import (
	"math"
	"testing"
)

// A row at R = 3 250 Ω with two trials before it, a row at 4 000 Ω that is
// struck, and a first reading at 11 110 Ω that is in no row.
func TestGraphs(t *testing.T) {
	s := ready(t,
		SeriesSet{Ohm: 11110}, first(7),
		SeriesSet{Ohm: 3250}, first(24),
		ShuntSet{Ohm: 60}, shunted(9.5), ShuntSet{Ohm: 180}, shunted(16), ShuntSet{Ohm: 90}, shunted(12), RowKept{},
		SeriesSet{Ohm: 4000}, first(19.5), ShuntSet{Ohm: 90}, shunted(10), RowKept{})
	s.put(Strike{Event: s.s.LastKept(), Why: "the wrong shunt"})
	g := Analyse(s.s).Graphs

	// 1/θ by hand; the points in no row after the rows.
	type point struct {
		x, y   float64
		row    int
		struck bool
	}
	check := func(name string, got []Plotted, want []point) {
		t.Helper()
		if len(got) != len(want) {
			t.Fatalf("%s: %d points, want %d: %+v", name, len(got), len(want), got)
		}
		for i, w := range want {
			p := got[i]
			if math.Abs(p.X-w.x) > 1e-12 || math.Abs(p.Y-w.y) > 1e-12*w.y || p.Row != w.row || p.Struck != w.struck {
				t.Errorf("%s: point %d is %+v, want %+v", name, i, p, w)
			}
		}
	}
	check("R against 1/θ", g.Series, []point{{1. / 24, 3250, 1, false}, {1 / 19.5, 4000, 2, true}, {1. / 7, 11110, 0, false}})
	check("1/θ2 against 1/S", g.Shunts, []point{{0, 1. / 24, 0, false}, {1. / 180, 1. / 16, 0, false}, {1. / 90, 1. / 12, 1, false}, {1. / 60, 1 / 9.5, 0, false}})
	if g.ShuntsAt != 3250 {
		t.Errorf("the shunts are those at %g ohm, want 3250", g.ShuntsAt)
	}
	// θ1 = 24 and P = 90 would have read 9.6 in place of 9.5.
	if l := g.ShuntLine; l == nil || math.Abs(l.P-90) > 2*l.UP || l.UP <= 0 || l.UP > 5 {
		t.Errorf("the line through them is %+v, want P near 90", l)
	}
	// u(1/θ) = u/θ²: half a division is read, rectangularly; 0.15 of it is
	// repeatability, and the interface has no other source of doubt.
	if want := math.Hypot(0.5/math.Sqrt(12), 0.15*0.5) / 576; math.Abs(g.Series[0].U-want) > 1e-9 {
		t.Errorf("u(1/θ) of the first row is %g, want %g", g.Series[0].U, want)
	}
	f := Analyse(s.s).Fit
	if len(g.Residuals) != len(f.Residuals) || len(g.Residuals) == 0 {
		t.Fatalf("%d residuals, want %d", len(g.Residuals), len(f.Residuals))
	}
	for i, p := range g.Residuals {
		if p.X != float64(i+1) || p.Y != f.Residuals[i] {
			t.Errorf("residual %d is %+v, want %g", i, p, f.Residuals[i])
		}
	}
}

// A record with little in it has few points and no line.
func TestGraphsOfLittle(t *testing.T) {
	if g := Analyse(ready(t).s).Graphs; len(g.Series)+len(g.Shunts)+len(g.Residuals) != 0 {
		t.Errorf("before a reading there are points: %+v", g)
	}
	g := Analyse(ready(t, SeriesSet{Ohm: 3250}, first(24), ShuntSet{Ohm: 90}, shunted(12), RowKept{}).s).Graphs
	if len(g.Series) != 1 || g.Shunts != nil || g.ShuntLine != nil {
		t.Errorf("after one row: %+v, want one point and no shunts", g)
	}
}
