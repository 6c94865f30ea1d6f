package draw

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/halve/physics/line"
	"example.org/halve/physics/quantity"
)

// measured is a graph of an invented bench, E = 1.5 V, k = 18.9 µA/div and
// G + r = 93 Ω, read to half a division; one row is struck, one reading is in
// no row.
func measured() Graph {
	series := []float64{11110, 3250, 3000, 3550, 3920, 5200, 2900}
	first := []float64{7, 24, 25.5, 22, 20, 15, 29}
	var points []Point
	for i, ohm := range series {
		p := Point{X: 1 / first[i], Y: ohm, UX: 0.15 / first[i] / first[i], Name: fmt.Sprint(i)}
		switch i {
		case 0:
			p.Kind = Other
		case 6:
			p.Kind = Struck
		}
		points = append(points, p)
	}
	u := make([]float64, 6)
	for i := range u {
		u[i] = 0.15
	}
	l, err := line.SeriesAgainstReciprocal(line.SeriesPoints{Series: series[:6], First: first[:6], U: u, EMF: 1.5})
	if err != nil {
		panic(err)
	}
	return SeriesGraph(points, &Straight{l.Intercept, l.Slope, l.UIntercept, l.USlope, l.Correlation})
}

// shunts is the graph of five shunts at one series value: θ1 = 24, P = 90 Ω.
func shunts() Graph {
	var points []Point
	for i, s := range []float64{60, 75, 90, 105, 130} {
		points = append(points, Point{X: 1 / s, Y: (1 + 90/s) / 24, Name: fmt.Sprint(i + 1)})
	}
	return ShuntGraph(points, &Straight{Intercept: 1. / 24, Slope: 90. / 24, UIntercept: 0.001, USlope: 0.1, Correlation: -0.95})
}

// residuals are twenty of them; four of those that count, i = 1, 10, 12, 14 by
// sin 1.7 i, are beyond the levels.
func residuals() Graph {
	var points []Point
	for i := range 20 {
		points = append(points, Point{X: float64(i + 1), Y: 2.1 * math.Sin(1.7*float64(i))})
	}
	points[3].Kind, points[7].Kind = Other, Other
	points[4].Kind, points[4].Y = Struck, 5
	return ResidualGraph(points)
}

// Graphs at several sizes, as they are seen.
func TestGoldenGraph(t *testing.T) {
	one := measured()
	one.Points, one.Line = one.Points[1:2], nil
	none := SeriesGraph(nil, nil)
	far := measured()
	far.Points = far.Points[1:5]
	for name, th := range themes() {
		var b strings.Builder
		for _, s := range []struct {
			name string
			g    Graph
		}{{"rows", measured()}, {"rows far from zero", far}, {"shunts", shunts()}, {"residuals", residuals()}, {"one row", one}, {"no row", none}} {
			for _, size := range [][2]int{{30, 8}, {51, 15}, {71, 16}, {111, 24}, {20, 5}} {
				fmt.Fprintf(&b, "=== %s in %dx%d\n%s\n", s.name, size[0], size[1], strings.Join(s.g.Draw(size[0], size[1], th), "\n"))
			}
			fmt.Fprintf(&b, "=== %s in words\n%s\n", s.name, s.g.Describe())
		}
		golden(t, "graph-"+name, b.String())
	}
}

// The line and its band agree with the formula, worked by hand for
// y = 1 + 2x, u(a) = 0.3, u(b) = 0.4, r = -0.5 at x = 2:
// u² = 0.09 + 4·0.16 + 2·2·(-0.5)·0.3·0.4 = 0.49.
func TestStraight(t *testing.T) {
	y, u := Straight{Intercept: 1, Slope: 2, UIntercept: 0.3, USlope: 0.4, Correlation: -0.5}.At(2)
	if y != 5 || math.Abs(u-0.7) > 1e-12 {
		t.Errorf("at 2 it is %g with u = %g, want 5 and 0.7", y, u)
	}
}

// Figures are round, in the unit a quantity of that size is printed in.
func TestFigures(t *testing.T) {
	series, shunt := Axis{Symbol: "R", Unit: quantity.Ohm}, Axis{Symbol: "1/S", Unit: quantity.Ohm, Per: true}
	for _, tt := range []struct {
		axis   Axis
		lo, hi float64
		n      int
		unit   string
		want   string
	}{
		{series, 3000, 3920, 5, "kΩ", "3.0 3.5"},
		{series, 0, 11110, 5, "kΩ", "0 5 10"},
		{series, 40, 95, 5, "Ω", "0 50"},
		{series, 2e6, 7e6, 6, "MΩ", "0 2 4 6"},
		{shunt, 1. / 130, 1. / 60, 6, "1/kΩ", "0 5 10 15"},
		{Axis{Symbol: "1/θ", Unit: quantity.Division, Per: true}, 0.038, 0.05, 5, "1/div", "0.040 0.045 0.050"},
		{Axis{Symbol: "k", Unit: quantity.AmperePerDivision}, 1e-5, 4e-5, 5, "µA/div", "0 10 20 30 40"},
		{Axis{Symbol: "row", Least: 6}, 1, 1, 4, "", "−2 0 2 4"},
	} {
		f := tt.axis.ranged(tt.lo, tt.hi, tt.n)
		var got []string
		f.each(func(v float64) { got = append(got, f.write(v)) })
		if f.unit != tt.unit || strings.Join(got, " ") != tt.want {
			t.Errorf("from %g to %g: %v in %q, want %s in %q", tt.lo, tt.hi, got, f.unit, tt.want, tt.unit)
		}
	}
}

// Where there is too little to draw the graph says so.
func TestGraphSaysWhatIsMissing(t *testing.T) {
	struck := Graph{Name: "R against 1/θ", Points: []Point{{X: 1, Y: 1, Kind: Struck}}}
	never := Graph{Name: "R against 1/θ", Points: []Point{{X: 1, Y: 1}, {X: 2, Y: 3}}, Without: "the deflection does not fall as R rises"}
	for _, tt := range []struct {
		name string
		g    Graph
		want string
	}{
		{"nothing", Graph{}, "no points yet"},
		{"nothing that is finite", Graph{Points: []Point{{X: math.NaN(), Y: 1}, {X: 1, Y: math.Inf(1)}}}, "no points yet"},
		{"one point", Graph{Points: []Point{{X: 0.04, Y: 3250}}}, "one point: a line needs two"},
		{"a struck one", struck, "nothing that counts yet"},
		{"no line", never, "the deflection does not fall as R rises"},
		{"a line that is none", Graph{Points: []Point{{X: 1, Y: 1}, {X: 2, Y: 2}}, Line: &Straight{Slope: math.NaN()}}, "no line"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			all := strings.Join(tt.g.Draw(71, 16, plain()), "\n")
			if !strings.Contains(all, tt.want) {
				t.Errorf("%q is missing:\n%s", tt.want, all)
			}
			if said := strings.ToLower(tt.g.Describe()); !strings.Contains(said, strings.ToLower(tt.want)) {
				t.Errorf("in words %q is missing: %s", tt.want, said)
			}
		})
	}
}

// Each kind of point has its sign, and the figures their unit, at 60x15.
func TestGraphSigns(t *testing.T) {
	for name, th := range themes() {
		all := strings.Join(measured().Draw(60, 15, th), "\n")
		for what, sign := range map[string]string{
			"rows": th.Signs.Kept, "other readings": th.Signs.Other, "struck rows": th.Signs.Crossed,
			"the unit of R": th.Signs.Say("R/kΩ"), "the unit of 1/θ": th.Signs.Say("1/θ in 1/div"),
		} {
			if !strings.Contains(all, sign) {
				t.Errorf("%s: %s (%s) missing:\n%s", name, what, sign, all)
			}
		}
	}
}

// Any points and any line in any room are drawn within it, and what is not a
// number never is.
func TestGraphTotal(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := anyNumber()
		g := Graph{Name: "R against 1/θ"}
		axis := rapid.SampledFrom([]Axis{{Symbol: "R", Unit: quantity.Ohm}, {Symbol: "1/θ", Unit: quantity.Division, Per: true}, {Symbol: "1/S", Unit: quantity.Ohm, Per: true}, {Symbol: "row", Least: 6}})
		g.X, g.Y = axis.Draw(rt, "x"), axis.Draw(rt, "y")
		for range rapid.IntRange(0, 12).Draw(rt, "points") {
			g.Points = append(g.Points, Point{
				X: n.Draw(rt, "x"), Y: n.Draw(rt, "y"), UX: n.Draw(rt, "ux"),
				Name: rapid.SampledFrom([]string{"", "1", "12", "a long name indeed"}).Draw(rt, "name"),
				Kind: PointKind(rapid.IntRange(0, 2).Draw(rt, "kind")),
			})
		}
		if rapid.Bool().Draw(rt, "line") {
			g.Line = &Straight{n.Draw(rt, "a"), n.Draw(rt, "b"), n.Draw(rt, "ua"), n.Draw(rt, "ub"), n.Draw(rt, "r")}
		}
		if rapid.Bool().Draw(rt, "levels") {
			g.Levels = []float64{-2, 0, 2}
		}
		w, h := anySize(rt)
		th := anyTheme(rt)
		fits(rt, g.Draw(w, h, th), w, h, th)
		if said := g.Describe(); strings.Contains(said, "NaN") || strings.Contains(said, "Inf") {
			rt.Fatalf("in words: %s", said)
		}
	})
}

func TestGraphDescribe(t *testing.T) {
	for _, tt := range []struct {
		g    Graph
		want string
	}{
		{residuals(), "residuals: 20 points, 17 first, 2 shunted, 1 struck. Between the outer lines, minus 2 and 2, lie 15 of 19."},
		{shunts(), "1/θ2 against 1/S: 5 points. The line meets the axis at 0.0417 per div and rises with 1/S."},
	} {
		if got := tt.g.Describe(); !strings.HasPrefix(got, tt.want) {
			t.Errorf("got  %q\nwant %q", got, tt.want)
		}
	}
}
