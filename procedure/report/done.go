package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/report/document"
)

// most is how many values are listed in running text before "and so on".
const most = 8

// procedure tells what was done, by the events.
func (w *writer) procedure() {
	w.section("Procedure, as carried out")
	var items [][]document.Span
	add := func(format string, a ...any) {
		items = append(items, document.Rich(fmt.Sprintf(format, a...)))
	}
	s, seen := w.State, w.seen
	at := func(times ...string) string {
		if len(times) == 0 || times[0] == "" {
			return ""
		}
		return " (" + times[0] + ")"
	}
	when := func(r reading) string {
		if r.at.IsZero() {
			return ""
		}
		return clock(r.at, w.Begun)
	}
	if !w.stated {
		w.say("Nothing has been done yet: the instruments are not stated.")
		return
	}
	if n := len(seen.wired); n > 0 {
		add("The circuit was built and checked against the drawing%s.", at(when(reading{at: seen.wired[0]})))
	} else {
		add("The record does not say that the circuit was checked.")
	}
	zeros := inForce(seen.zeros, s)
	if len(zeros) == 0 {
		add("The pointer's rest position was not read; it is taken as zero, with a doubt to match.")
	} else {
		var parts []string
		for i, z := range zeros {
			if i == most {
				parts = append(parts, fmt.Sprintf("and %d more", len(zeros)-most))
				break
			}
			parts = append(parts, w.signed(z.div)+" div"+at(when(z)))
		}
		add("With both keys open the pointer rested at %s; this is taken from every reading.", strings.Join(parts, ", "))
	}
	var volts []string
	for _, m := range seen.sources {
		if s.Struck(m.seq) != 0 {
			continue
		}
		how := "without load"
		if m.Loaded {
			how = "with K1 closed"
		}
		v := exact(m.EMF, quantity.Volt)
		if m.UEMF != nil {
			v += " ± " + exact(*m.UEMF, quantity.Volt)
		}
		volts = append(volts, v+" "+how+at(when(reading{at: m.at})))
	}
	switch {
	case len(volts) > most:
		add("The source was measured %d times: %s, and so on.", len(volts), strings.Join(volts[:most], ", "))
	case len(volts) > 0:
		add("The source was measured: %s.", strings.Join(volts, ", "))
	default:
		add("The source was not measured; its EMF is taken as stated.")
	}
	w.approach(add)
	w.keeping(add)
	if n := len(seen.finished); n > 0 {
		add("No further rows were taken%s.", at(when(reading{at: seen.finished[n-1]})))
	}
	w.add(document.List{Ordered: true, Items: items})
}

// approach tells how the first usable deflection was come by.
func (w *writer) approach(add func(string, ...any)) {
	s := w.State
	var values []string
	off := 0
	firstRow := len(w.seen.runs)
	if len(w.seen.rows) > 0 {
		firstRow = w.seen.rows[0].run
	}
	for i, r := range w.seen.runs {
		for _, f := range r.first {
			if f.off && s.Struck(f.seq) == 0 {
				off++
			}
		}
		if i <= firstRow && s.Struck(r.series.seq) == 0 {
			values = append(values, number(r.series.ohm))
		}
	}
	if len(values) == 0 {
		return
	}
	text := ""
	for _, r := range w.seen.runs {
		if live := inForce(r.first, s); len(live) > 0 {
			text = fmt.Sprintf(" The first deflection, at %s, was %s div.", ohms(r.series.ohm), w.signed(live[0].div))
			break
		}
	}
	if len(values) == 1 {
		add("The series box was set to %s Ω before K1 was closed.%s", values[0], text)
	} else {
		if len(values) > most {
			values = append(values[:most-1], "… "+values[len(values)-1])
		}
		add("The series box was set, with K1 open, to %s Ω in turn.%s", strings.Join(values, ", "), text)
	}
	if off > 0 {
		add("The needle went off the scale %s; K1 was opened and the series resistance raised.", times(off))
	}
}

// times counts how often something was done, in words.
func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// keeping tells how the rows were taken.
func (w *writer) keeping(add func(string, ...any)) {
	kept, again, settings, struckEvents := 0, 0, 0, 0
	low, high := math.Inf(1), math.Inf(-1)
	for _, r := range w.a.Rows {
		if !r.Struck {
			kept++
			low, high = math.Min(low, r.ShuntedDiv/r.FirstDiv), math.Max(high, r.ShuntedDiv/r.FirstDiv)
		}
	}
	for _, r := range w.seen.runs {
		settings += len(r.branches)
		for _, b := range r.branches {
			for _, f := range inForce(r.first, w.State) {
				if len(b.readings) > 0 && f.seq > b.readings[0].seq {
					again++
					break
				}
			}
		}
	}
	for _, e := range w.Events {
		if w.State.Struck(e.Seq) != 0 {
			struckEvents++
		}
	}
	if kept > 0 {
		ratios := fmt.Sprintf("a ratio *ρ* of %.3f", low)
		if kept > 1 {
			ratios = fmt.Sprintf("ratios *ρ* from %.3f to %.3f", low, high)
		}
		add("For a row the deflection *θ₁* was read with K2 open. With *R* unchanged the shunt box was set, K2 closed as well, and *θ₂* read. %s kept, with %s; the shunt box was set %s in all.",
			sentenceCount(kept), ratios, times(settings))
	}
	if again > 0 {
		add("At %s of the shunt box the first deflection was read again afterwards, to see whether anything had slid.", count(again, "setting", "settings"))
	}
	if right, left := w.seen.sides(w.State, w.a.Rows); left > 0 && right > 0 {
		add("%s taken with the needle to the right, %s to the left, the source's leads exchanged.", sentenceCount(right), strings.ToLower(sentenceCount(left)))
	}
	if struckEvents > 0 {
		add("%s struck out. What was struck stays readable, with its reason, in the observations and in the audit trail.", map[bool]string{true: "One entry was", false: fmt.Sprintf("%d entries were", struckEvents)}[struckEvents == 1])
	}
}

func sentenceCount(n int) string {
	if n == 1 {
		return "One row was"
	}
	return fmt.Sprintf("%d rows were", n)
}

// signed writes a deflection with its sign.
func (w *writer) signed(div float64) string {
	text := w.read(div)
	if div > 0 {
		return "+" + text
	}
	return text
}

// observations is the table of all that was read, struck or not.
func (w *writer) observations() {
	w.section("Observations")
	if len(w.seen.runs) == 0 {
		w.say("No reading has been taken.")
		return
	}
	o := observed{w: w, t: document.Table{
		Caption: document.Rich("Readings as seen on the scale, the zero not yet taken off. *R* and *S* as set; what is struck is not used."),
		Columns: []document.Column{
			{Head: document.Plain("Row")}, {Head: document.Rich("*R* (Ω)"), Number: true}, {Head: document.Rich("*θ₁* (div)")},
			{Head: document.Rich("*S* (Ω)"), Number: true}, {Head: document.Rich("*θ₂* (div)")},
		},
	}}
	trials := false
	for _, r := range w.seen.runs {
		o.run(r)
		trials = trials || slices.ContainsFunc(r.branches, func(b branch) bool { return b.row == 0 })
	}
	w.add(o.t)
	if trials {
		w.aside("A trial is a shunt setting that was not kept as a row; its readings count in the result all the same.")
	}
}

// observed is the table of the observations while it is written.
type observed struct {
	w *writer
	t document.Table
}

// run writes a run: a line for each shunt setting, with the first deflections
// read before the next one.
func (o *observed) run(r run) {
	series := o.value("R =", r.series)
	if len(r.branches) == 0 {
		o.t.Rows = append(o.t.Rows, document.TableRow{Cells: [][]document.Span{document.Plain("–"), series, o.readings("θ₁ =", r.first), nil, nil}})
		return
	}
	rest, state := r.first, o.w.State
	for j, b := range r.branches {
		own := rest
		if j+1 < len(r.branches) {
			own = nil
			for len(rest) > 0 && rest[0].seq < r.branches[j+1].shunt.seq {
				own, rest = append(own, rest[0]), rest[1:]
			}
		}
		first := o.readings("θ₁ =", own)
		if j > 0 {
			series = document.Plain(number(r.series.ohm))
			if len(own) == 0 {
				first = document.Plain("as before")
			}
		}
		o.t.Rows = append(o.t.Rows, document.TableRow{
			Cells:  [][]document.Span{o.name(b), series, first, o.value("S =", b.shunt), o.readings("θ₂ =", b.readings)},
			Struck: state.Struck(r.series.seq) != 0 || state.Struck(b.shunt.seq) != 0,
		})
	}
}

// name is the number of a row, or that it is a trial.
func (o *observed) name(b branch) []document.Span {
	n := fmt.Sprint(b.row)
	switch {
	case b.row == 0:
		return document.Plain("trial")
	case o.w.State.Struck(b.kept) == 0:
		return document.Plain(n)
	}
	return document.Join([]document.Span{{Text: n, Style: document.Struck}}, o.note("Row "+n, b.kept))
}

// readings lists what was read at a setting, what is struck with its note.
func (o *observed) readings(what string, rs []reading) []document.Span {
	var out []document.Span
	for i, r := range rs {
		if i > 0 {
			out = append(out, document.Span{Text: ", "})
		}
		text := "off scale"
		if !r.off {
			text = o.w.read(r.div)
		}
		if o.w.State.Struck(r.seq) == 0 {
			out = append(out, document.Span{Text: text})
			continue
		}
		out = append(out, document.Span{Text: text, Style: document.Struck})
		if !r.off {
			text += " div"
		}
		out = append(out, o.note(what+" "+text, r.seq)...)
	}
	return out
}

// value is what a box was set to.
func (o *observed) value(what string, v setting) []document.Span {
	text := number(v.ohm)
	if o.w.State.Struck(v.seq) == 0 {
		return document.Plain(text)
	}
	return document.Join([]document.Span{{Text: text, Style: document.Struck}}, o.note(what+" "+text+"\u00a0Ω", v.seq))
}

// note adds a note that says by what an event was struck and why, and returns
// its mark.
func (o *observed) note(what string, seq int) []document.Span {
	mark := "[" + letters(len(o.t.Notes)) + "]"
	by := o.w.State.Struck(seq)
	text := document.Plain(fmt.Sprintf("%s (event %d) was struck by event %d", what, seq, by))
	if why := o.w.seen.why[by]; why != "" {
		text = document.Join(text, document.Plain(": "), document.Said(why))
	}
	o.t.Notes = append(o.t.Notes, document.TableNote{Mark: mark, Text: text})
	return document.Plain("\u00a0" + mark)
}

// letters numbers notes: a, b, …, z, aa, ab, …
func letters(n int) string {
	text := ""
	for n++; n > 0; n = (n - 1) / 26 {
		text = string(rune('a'+(n-1)%26)) + text
	}
	return text
}

// rowOf is the first row in force that gives a G.
func (w *writer) rowOf() (procedure.Row, bool) {
	for _, r := range w.a.Rows {
		if !r.Struck && r.Resistance != nil {
			return r, true
		}
	}
	return procedure.Row{}, false
}
