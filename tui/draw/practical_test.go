package draw

import (
	"strings"
	"testing"

	"example.org/halve/physics/line"
	"example.org/halve/procedure"
)

// What the analysis has is drawn, each point as what it is.
func TestPracticalGraphs(t *testing.T) {
	a := &procedure.Analysis{Graphs: procedure.Graphs{
		Series: []procedure.Plotted{{X: 1. / 24, Y: 3250, U: 0.0003, Row: 1}, {X: 1. / 26, Y: 3000, U: 0.0002, Row: 2, Struck: true}, {X: 1. / 7, Y: 11110}},
		Shunts: []procedure.Plotted{{Y: 1. / 24}, {X: 1. / 90, Y: 1. / 12, Row: 1, Shunted: true}, {X: 1. / 60, Y: 1 / 9.6, Shunted: true}}, ShuntsAt: 3250,
		ShuntLine: &line.ShuntLine{Slope: 90. / 24, Intercept: 1. / 24, P: 90, UP: 3},
		Residuals: []procedure.Plotted{{X: 1, Y: 0.5, Row: 1}, {X: 2, Y: -0.5, Row: 1, Shunted: true}},
	}}
	kinds := func(g Graph) string {
		var b strings.Builder
		for _, p := range g.Points {
			b.WriteString([...]string{"k", "o", "s"}[p.Kind] + p.Name + " ")
		}
		return b.String()
	}
	if got := kinds(RowsGraph(a)); got != "k1 s2 o " {
		t.Errorf("without a line: %s", got)
	}
	if said := RowsGraph(a).Describe(); !strings.Contains(said, "A line needs two series values.") {
		t.Errorf("without a line: %s", said)
	}
	a.Schoolbook = &procedure.Schoolbook{Line: &procedure.Line{Slope: 80000, USlope: 900, Intercept: -95, UIntercept: 40, Correlation: -0.9}}
	g := RowsGraph(a)
	if got := kinds(g); got != "k1 s2 " || *g.Line != (Straight{-95, 80000, 40, 900, -0.9}) || g.Points[0].UX != 0.0003 {
		t.Errorf("with a line: %s %+v %+v", got, g.Line, g.Points)
	}
	if got := kinds(RestsGraph(a)); got != "k o " {
		t.Errorf("residuals: %s", got)
	}
	s, ok := ShuntsGraph(a)
	if got := kinds(s); !ok || got != "o k1 o " || !strings.HasSuffix(s.Describe(), "A shunt of (90 ± 3) Ω halves the deflection.") {
		t.Errorf("shunts: %v %s %s", ok, got, s.Describe())
	}
	if _, ok := ShuntsGraph(&procedure.Analysis{}); ok {
		t.Error("a graph of no shunts")
	}
}
