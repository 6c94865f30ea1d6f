package plain

import (
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/tui/draw"
)

// circuit is the circuit with the keys as they are to be for what is due.
func (d *dialogue) circuit() draw.Circuit {
	st, c := d.Sitting.State(), d.Sitting.Counsel()
	exact := quantity.Style(0).Exact
	var drawn draw.Circuit
	if b, ok := st.Bench(); ok {
		drawn.Source = exact(b.Source.EMF, quantity.Volt)
	}
	if ohm, ok := st.SeriesOhm(); ok {
		drawn.Series = exact(ohm, quantity.Ohm)
	}
	if ohm, ok := st.ShuntOhm(); ok {
		drawn.Shunt = exact(ohm, quantity.Ohm)
	}
	if c.Next == nil {
		return drawn
	}
	switch c.Next.Event {
	case procedure.KindSetSeries:
		drawn.Part = draw.SeriesBox
	case procedure.KindSetShunt:
		drawn.Part = draw.ShuntBox
	case procedure.KindReadFirst:
		drawn.Part = draw.KeyK1
	case procedure.KindReadShunted:
		drawn.K1, drawn.Part = draw.Closed, draw.KeyK2
	case procedure.KindZero:
		drawn.Part = draw.Movement
	}
	return drawn
}

// sayGraphs says what the graphs show.
func (d *dialogue) sayGraphs() {
	a := procedure.Analyse(d.Sitting.State())
	d.say("%s", draw.RowsGraph(&a).Describe())
	d.say("%s", draw.RestsGraph(&a).Describe())
	if g, ok := draw.ShuntsGraph(&a); ok {
		d.say("%s", g.Describe())
	}
}
