package screen

import (
	"fmt"
	"slices"

	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/tui/draw"
)

// The heights between which the graph is drawn beside other things, and the
// least in which it has a sheet to itself.
const (
	graphLeast = 12
	graphMost  = 18
	graphSheet = 15
)

// plotted turns points into those of a drawing.
func plotted(ps []procedure.Plotted, kind func(procedure.Plotted) draw.PointKind) []draw.Point {
	var points []draw.Point
	for _, p := range ps {
		q := draw.Point{X: p.X, Y: p.Y, Kind: kind(p)}
		if p.Row > 0 {
			q.Name = fmt.Sprint(p.Row)
		}
		points = append(points, q)
	}
	return points
}

// ofRow says whether a point is of a row.
func ofRow(p procedure.Plotted) draw.PointKind {
	switch {
	case p.Struck:
		return draw.Struck
	case p.Row == 0:
		return draw.Other
	}
	return draw.Kept
}

// seriesGraph is R against 1/θ of the rows, struck ones shown as struck.
func (w *work) seriesGraph() draw.Graph {
	a := w.behind()
	var line *draw.Straight
	if a.Schoolbook != nil && a.Schoolbook.Line != nil {
		l := a.Schoolbook.Line
		line = &draw.Straight{Intercept: l.Intercept, Slope: l.Slope, UIntercept: l.UIntercept, USlope: l.USlope, Correlation: l.Correlation}
	}
	shown := a.Graphs.Series
	if line != nil { // what is in no row lies far off, and is not fitted
		shown = slices.DeleteFunc(slices.Clone(shown), func(p procedure.Plotted) bool { return p.Row == 0 })
	}
	g := draw.SeriesGraph(plotted(shown, ofRow), line)
	for i := range g.Points { // here the reading is along the foot
		g.Points[i].UX = shown[i].U
	}
	return g
}

// residualGraph is what each reading has over the fitted one, in the order of
// the settings.
func (w *work) residualGraph() draw.Graph {
	points := plotted(w.behind().Graphs.Residuals, func(p procedure.Plotted) draw.PointKind {
		if p.Shunted {
			return draw.Other
		}
		return draw.Kept
	})
	for i := range points {
		points[i].Name = "" // the number of the reading stands below
	}
	return draw.ResidualGraph(points)
}

// graphs are those there is something to show in; the first two always.
func (w *work) graphs() (names []string, graphs []draw.Graph) {
	names, graphs = []string{"graph", "rest"}, []draw.Graph{w.seriesGraph(), w.residualGraph()}
	g := w.behind().Graphs
	if len(g.Shunts) == 0 {
		return names, graphs
	}
	var line *draw.Straight
	if l := g.ShuntLine; l != nil {
		line = &draw.Straight{Intercept: l.Intercept, Slope: l.Slope, UIntercept: l.UIntercept, USlope: l.USlope, Correlation: l.Correlation}
	}
	shunts := draw.ShuntGraph(plotted(g.Shunts, ofRow), line)
	shunts.Name += " at R = " + ohms(g.ShuntsAt)
	if l := g.ShuntLine; l != nil {
		shunts.Note = "S = " + quantity.Style(0).Measured(quantity.Measured{Value: l.P, U: l.UP, Unit: quantity.Ohm}) + " halves the deflection"
	}
	return append(names, "shunts"), append(graphs, shunts)
}

// graphLines is the graph beside other things.
func (w *work) graphLines(bw, h int) []string { return w.seriesGraph().Draw(bw, h, &w.theme) }

// graphSections is the sheet with the graphs: a leaf for each, with the next
// one below it where there is room.
func (w *work) graphSections(bw, height int) []section {
	t := &w.theme
	names, graphs := w.graphs()
	each, h := 1, max(height-4, graphSheet)
	if height >= 2*graphSheet {
		each, h = 2, (height-8)/2
	}
	leaf := w.leaf % len(graphs)
	var out []section
	for i := range each {
		i = (leaf + i) % len(graphs)
		lines := graphs[i].Draw(bw, h, t)
		said := draw.Styled(draw.Wrap(t.Signs.Say(graphs[i].Describe()), bw), t.Hint)
		out = append(out, section{name: names[i], lines: lines, least: len(lines), worth: 80}, section{lines: said[:min(len(said), 3)], worth: 20})
	}
	if each < len(graphs) {
		which := draw.Cut(t.Signs.Say(fmt.Sprintf("leaf %d of %d: Left, Right", leaf+1, len(graphs))), bw, t.Signs.Dots)
		out = append(out, section{lines: []string{t.Hint.Render(which)}, least: 1, worth: 90})
	}
	return out
}
