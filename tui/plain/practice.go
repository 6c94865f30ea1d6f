package plain

import (
	"example.org/halve/physics/bench/live"
	"example.org/halve/procedure"
	"example.org/halve/procedure/debrief"
)

// practised is what the dialogue knows of a practice, for the closing words.
type practised struct {
	readings []debrief.Reading
	pegged   []live.Happening // the needle went past the last mark
}

// wrote keeps a reading that was written down beside where the simulated
// needle was, event seq being the one before it.
func (d *dialogue) wrote(b procedure.Body, seq int) {
	kind := b.Kind()
	if d.Needle == nil || kind != procedure.KindReadFirst && kind != procedure.KindReadShunted {
		return
	}
	r := debrief.Reading{Seq: seq + 1, Shunted: kind == procedure.KindReadShunted}
	if d.needle != nil && d.needle.seq == seq && d.needle.of == kind {
		r.Looked = true
		r.Look = live.Look{Div: d.needle.div, Rest: d.needle.div, Wired: true}
		r.Look.SeriesOhm, _ = d.Sitting.State().SeriesOhm()
		r.Look.ShuntOhm, _ = d.Sitting.State().ShuntOhm()
	}
	d.readings = append(d.readings, r)
}

// sawPegged keeps that the simulated needle went past the last mark.
func (d *dialogue) sawPegged(r reading) {
	h := live.Happening{Kind: live.Pegged, Act: live.Act{Do: live.Close}, Right: r.div > 0}
	if r.of == procedure.KindReadShunted {
		h.Act.Key = live.K2
	}
	h.SeriesOhm, _ = d.Sitting.State().SeriesOhm()
	h.ShuntOhm, _ = d.Sitting.State().ShuntOhm()
	d.pegged = append(d.pegged, h)
}

// sayHowItWent says how the practice went, against what the bench had hidden.
func (d *dialogue) sayHowItWent(c procedure.Counsel) {
	table, _ := d.Sitting.State().Bench()
	events := d.Sitting.Events()
	for _, h := range d.pegged {
		if text, ok := debrief.Note(h, table); ok {
			events = append(events, procedure.Event{Seq: len(events) + 1, Body: procedure.Note{Text: text}})
		}
	}
	p := debrief.Practice{Events: events, Counsel: c, Readings: d.readings, Step: table.Galvanometer.Step(), Divisions: table.Galvanometer.Divisions}
	d.say("How the practice went:")
	for _, r := range d.Over(p) {
		switch r.Kind {
		case debrief.Well:
			d.say("Well done: %s", r.Text)
		case debrief.Better:
			d.say("To do better: %s", r.Text)
		default:
			d.say("%s", r.Text)
		}
	}
}
