package report

import (
	"fmt"
	"slices"
	"strings"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure/report/document"
)

type benchOf = apparatus.Bench

// apparatus lists the instruments with ranges and tolerances, and the circuit.
func (w *writer) apparatus() {
	w.section("Apparatus and circuit")
	if !w.stated {
		w.say("The instruments are not stated.")
		return
	}
	b := w.bench
	t := document.Table{
		Caption: document.Plain("Instruments, as stated by those who used them."),
		Columns: []document.Column{{Head: document.Plain("Instrument")}, {Head: document.Plain("Range and values")}, {Head: document.Plain("Tolerance, uncertainty")}},
		Headed:  true,
	}
	row := func(name, label, values, doubt string) {
		head := document.Rich(name)
		if label != "" {
			head = document.Join(head, document.Plain(", "), document.Said(label))
		}
		t.Rows = append(t.Rows, document.TableRow{Cells: [][]document.Span{head, document.Rich(values), document.Rich(doubt)}})
	}
	s := b.Source
	values := "EMF " + exact(s.EMF, quantity.Volt)
	doubt := "not stated; 5 % is taken"
	if s.UEMF != nil {
		doubt = "standard uncertainty " + exact(*s.UEMF, quantity.Volt)
	}
	if s.Resistance != nil {
		values += ", internal resistance " + exact(*s.Resistance, quantity.Ohm)
		if s.UResistance != nil {
			doubt += "; of *r* " + exact(*s.UResistance, quantity.Ohm)
		}
	}
	if s.MaxCurrent != nil {
		values += ", at most " + quantity.Format(*s.MaxCurrent, quantity.Ampere, 3)
	}
	row("Source", s.Label, values, doubt)

	g := b.Galvanometer
	scale := number(g.Divisions) + " divisions from a zero at the left"
	if g.Centre() {
		scale = fmt.Sprintf("%[1]s-0-%[1]s, zero in the middle", number(g.Divisions))
	}
	if g.FullScale != nil {
		scale += ", full scale " + quantity.Format(*g.FullScale, quantity.Ampere, 3) + " by its plate"
	}
	if g.Resistance != nil {
		scale += ", " + exact(*g.Resistance, quantity.Ohm) + " by its plate"
	}
	row("Galvanometer", g.Label, scale, fmt.Sprintf("read to %s div", exact(g.Step(), quantity.Number)))
	row("Series box *R*", b.SeriesBox.Label, box(b.SeriesBox), tolerance(b.SeriesBox))
	row("Shunt box *S*", b.ShuntBox.Label, box(b.ShuntBox), tolerance(b.ShuntBox))
	w.add(t)
	w.add(circuit(exact(w.given.EMF, quantity.Volt), reach(b.SeriesBox), reach(b.ShuntBox)))
}

// exact writes every digit.
func exact(v float64, unit quantity.Unit) string { return quantity.Style(0).Exact(v, unit) }

// box says what a box can be set to.
func box(b apparatus.Box) string {
	if b.Kind == apparatus.Decade {
		var parts []string
		for _, d := range sorted(b.Dials) {
			parts = append(parts, fmt.Sprintf("%d × %s", apparatus.DialSteps, number(d)))
		}
		return "dials of " + strings.Join(parts, ", ") + "\u00a0Ω"
	}
	var parts []string
	for _, c := range sorted(b.Coils) {
		parts = append(parts, number(c))
	}
	return "plugs of " + strings.Join(parts, ", ") + "\u00a0Ω; " + strings.TrimPrefix(reach(b), "to ") + " in all"
}

// reach is the largest value of a box.
func reach(b apparatus.Box) string {
	sum := 0.0
	for _, c := range b.Coils {
		sum += c
	}
	for _, d := range b.Dials {
		sum += apparatus.DialSteps * d
	}
	return "to " + ohms(sum)
}

func tolerance(b apparatus.Box) string {
	if b.Tolerance == 0 {
		return "none stated"
	}
	return "each coil within " + exact(100*b.Tolerance, quantity.Percent)
}

// sorted is a copy, largest first.
func sorted(v []float64) []float64 {
	v = slices.Clone(v)
	slices.Sort(v)
	slices.Reverse(v)
	return v
}
