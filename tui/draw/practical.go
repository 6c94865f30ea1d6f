package draw

import (
	"fmt"

	"example.org/halve/physics/line"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
)

// The graphs of a practical. What is drawn was worked out by the analysis.

// RowsGraph is R against 1/θ: the rows, struck ones as struck, and their line.
// A reading that is in no row lies far off where there is a line, and is left
// out then.
func RowsGraph(a *procedure.Analysis) Graph {
	var l *Straight
	if s := a.Schoolbook; s != nil && s.Line != nil {
		l = &Straight{s.Line.Intercept, s.Line.Slope, s.Line.UIntercept, s.Line.USlope, s.Line.Correlation}
	}
	var points []Point
	for _, p := range a.Graphs.Series {
		if p.Row > 0 || l == nil {
			q := plotted(p)
			q.UX = p.U // here the reading is along the foot
			points = append(points, q)
		}
	}
	g := SeriesGraph(points, l)
	if l == nil {
		g.Without = "a line needs two series values"
	}
	return g
}

// RestsGraph is what each reading has over the fitted one, in the order of the
// settings.
func RestsGraph(a *procedure.Analysis) Graph {
	var points []Point
	for _, p := range a.Graphs.Residuals {
		q := Point{X: p.X, Y: p.Y}
		if p.Shunted {
			q.Kind = Other
		}
		points = append(points, q)
	}
	return ResidualGraph(points)
}

// ShuntsGraph is 1/θ2 against 1/S at the series value where most shunts were
// read; ok is false where there are too few.
func ShuntsGraph(a *procedure.Analysis) (g Graph, ok bool) {
	gs := a.Graphs
	if len(gs.Shunts) == 0 {
		return Graph{}, false
	}
	var points []Point
	for _, p := range gs.Shunts {
		points = append(points, plotted(p))
	}
	g = ShuntGraph(points, nil)
	if l := gs.ShuntLine; l != nil {
		g.Line = &Straight{l.Intercept, l.Slope, l.UIntercept, l.USlope, l.Correlation}
		g.Note = halves(*l)
	}
	g.Name += " at R = " + quantity.Style(0).Exact(gs.ShuntsAt, quantity.Ohm)
	return g, true
}

// halves says what the line of the shunts has in it.
func halves(l line.ShuntLine) string {
	return "A shunt of " + quantity.Style(0).Measured(quantity.Measured{Value: l.P, U: l.UP, Unit: quantity.Ohm}) + " halves the deflection"
}

// plotted is a point with the number of its row.
func plotted(p procedure.Plotted) Point {
	q := Point{X: p.X, Y: p.Y, Kind: Other}
	if p.Row > 0 {
		q.Kind, q.Name = Kept, fmt.Sprint(p.Row)
	}
	if p.Struck {
		q.Kind = Struck
	}
	return q
}
