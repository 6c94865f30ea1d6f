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

// graphs are those there is something to show in; the first two always.
func (w *work) graphs() (names []string, graphs []draw.Graph) {
	a := w.behind()
	names, graphs = []string{"graph", "rest"}, []draw.Graph{draw.RowsGraph(a), draw.RestsGraph(a)}
	if g, ok := draw.ShuntsGraph(a); ok {
		names, graphs = append(names, "shunts"), append(graphs, g)
	}
	return names, graphs
}

// graphLines is the graph beside other things.
func (w *work) graphLines(bw, h int) []string {
	return draw.RowsGraph(w.behind()).Draw(bw, h, &w.theme)
}

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
