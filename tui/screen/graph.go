package screen

import (
	"fmt"

	"example.org/halve/tui/draw"
)

// The heights between which the graph is drawn beside other things, and the
// least in which it has a sheet to itself.
const (
	graphLeast = 12
	graphMost  = 18
	graphSheet = 15
)

// seriesGraph is R against 1/θ of the rows, struck ones shown as struck.
func (w *work) seriesGraph() draw.Graph {
	var points []draw.Point
	for _, r := range w.counsel.Rows {
		p := draw.Point{X: 1 / r.FirstDiv, Y: r.SeriesOhm, Name: fmt.Sprint(r.Row)}
		if r.Struck {
			p.Kind = draw.Struck
		}
		points = append(points, p)
	}
	var line *draw.Straight
	if a := w.behind(); a.Schoolbook != nil && a.Schoolbook.Line != nil {
		l := a.Schoolbook.Line
		line = &draw.Straight{Intercept: l.Intercept, Slope: l.Slope, UIntercept: l.UIntercept, USlope: l.USlope, Correlation: l.Correlation}
	}
	return draw.SeriesGraph(points, line)
}

// residualGraph is what each reading has over the fitted one, in the order of
// reading.
func (w *work) residualGraph() draw.Graph {
	var points []draw.Point
	if fit := w.behind().Fit; fit != nil {
		for i, v := range fit.Residuals {
			points = append(points, draw.Point{X: float64(i + 1), Y: v})
		}
	}
	return draw.ResidualGraph(points, draw.Axis{Symbol: "reading"})
}

// graphLines is the graph beside other things.
func (w *work) graphLines(bw, h int) []string { return w.seriesGraph().Draw(bw, h, &w.theme) }

// graphSections is the sheet with the graph and below it the residuals; where
// there is no room for both each is a leaf.
func (w *work) graphSections(bw, height int) []section {
	t := &w.theme
	graphs := []draw.Graph{w.seriesGraph(), w.residualGraph()}
	names := []string{"graph", "rest"}
	foot := func(i, h int) section {
		lines := draw.Styled(draw.Wrap(t.Signs.Say(graphs[i].Describe()), bw), t.Hint)
		return section{lines: lines[:min(len(lines), h)], worth: 20}
	}
	if height >= 2*graphSheet {
		h := (height - 8) / 2
		var out []section
		for i, g := range graphs {
			lines := g.Draw(bw, h, t)
			out = append(out, section{name: names[i], lines: lines, least: len(lines), worth: 80}, foot(i, 3))
		}
		return out
	}
	i := w.leaf % len(graphs)
	which := draw.Cut(t.Signs.Say(fmt.Sprintf("leaf %d of %d: Left, Right", i+1, len(graphs))), bw, t.Signs.Dots)
	lines := graphs[i].Draw(bw, max(height-4, graphSheet), t)
	return []section{
		{name: names[i], lines: lines, least: len(lines), worth: 80},
		foot(i, 3),
		{lines: []string{t.Hint.Render(which)}, least: 1, worth: 90},
	}
}
