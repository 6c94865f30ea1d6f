package report

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/report/document"
)

// claims sets what was worked out by hand beside the computed values.
func (w *writer) claims() {
	if len(w.a.Claims) == 0 {
		return
	}
	w.section("Hand calculations")
	t := document.Table{
		Caption: document.Plain("Values worked out by hand, beside the computed ones."),
		Columns: []document.Column{{Head: document.Plain("Quantity")}, {Head: document.Plain("By hand"), Number: true}, {Head: document.Plain("Computed"), Number: true}, {Head: document.Plain("Comparison")}},
		Headed:  true,
	}
	for _, c := range w.a.Claims {
		unit := claimUnit(c)
		typed := document.Span{Text: quantity.Powers.Format(c.Claimed, unit, 6), Value: full(c.Claimed)}
		if said := w.claimText(c.Seq); said != "" {
			typed = document.Span{Text: said, Style: document.Typed, Value: full(c.Claimed)}
		}
		computed, verdict := document.Plain("–"), "nothing to compare with"
		if c.Expected != nil {
			computed = figures(*c.Expected, unit, 4)
			verdict = "agrees"
			if c.Agrees != nil && !*c.Agrees {
				verdict = "does not agree"
				if d := 100 * (c.Claimed/(*c.Expected) - 1); *c.Expected != 0 && math.Abs(d) < 100 {
					verdict += ", " + strings.Replace(fmt.Sprintf("%+.1f\u00a0%%", d), "-", "−", 1)
				}
			}
		}
		t.Rows = append(t.Rows, document.TableRow{Cells: [][]document.Span{document.Rich(claimName(c)), {typed}, computed, document.Plain(verdict)}})
	}
	w.add(t)
}

func claimName(c procedure.ClaimCheck) string {
	of := "*G*"
	if c.Quantity == procedure.ClaimMerit {
		of = "*k*"
	}
	if c.Row == 0 {
		return of + ", mean"
	}
	return fmt.Sprintf("%s, row %d", of, c.Row)
}

func claimUnit(c procedure.ClaimCheck) quantity.Unit {
	if c.Quantity == procedure.ClaimMerit {
		return quantity.AmperePerDivision
	}
	return quantity.Ohm
}

// claimText is a claim as it was typed.
func (w *writer) claimText(seq int) string {
	if seq < 1 || seq > len(w.Events) {
		return ""
	}
	if c, ok := w.Events[seq-1].Body.(procedure.Claim); ok {
		return c.Value.Text
	}
	return ""
}

// inputs are the kinds of a budget's lines: their unit, and what they are.
var inputs = map[string]struct {
	unit quantity.Unit
	say  string
}{
	"first readings":      {quantity.Division, "the first deflections, read to the scale's step and repeatable to a part of it"},
	"shunted readings":    {quantity.Division, "the shunted deflections; an error in them changes the ratio twice as much as one in the first"},
	"zero":                {quantity.Division, "the pointer's rest position, which is in both readings of every row"},
	"series box":          {"", "the tolerance of the series box's coils"},
	"shunt box":           {"", "the tolerance of the shunt box's coils"},
	"source resistance":   {quantity.Ohm, "the source's internal resistance"},
	"EMF":                 {quantity.Volt, "the source's EMF, which no reading can check"},
	"supposed resistance": {"", "a resistance that is supposed, not measured"},
}

// budget is where the uncertainty comes from.
func (w *writer) budget() {
	if w.a.Budget == nil {
		return
	}
	w.section("Uncertainty budget")
	w.say("The squares of the contributions come to the square of the standard uncertainty. The *u* of a box is that of its coils, relative; readings and zero are taken together over all rows.")
	table := func(of string, lines []procedure.BudgetLine, unit quantity.Unit, per string) {
		t := document.Table{
			Caption: document.Rich("Where the standard uncertainty of *" + of + "* comes from."),
			Columns: []document.Column{{Head: document.Plain("Input")}, {Head: document.Rich("*u* of the input"), Number: true}, {Head: document.Plain("Sensitivity"), Number: true},
				{Head: document.Rich("Contribution to *u*(*" + of + "*)"), Number: true}, {Head: document.Plain("Share of the variance"), Number: true}},
			Headed: true,
		}
		for _, l := range lines {
			in := inputs[l.Input]
			each := per
			if in.unit != "" {
				each += " per " + string(in.unit)
			}
			t.Rows = append(t.Rows, document.TableRow{Cells: [][]document.Span{
				document.Plain(l.Input), figures(l.U, in.unit, 2),
				value(l.Sensitivity, quantity.Powers.Format(l.Sensitivity, quantity.Number, 3)+" "+each),
				figures(l.Contribution, unit, 2), value(l.Share, fmt.Sprintf("%.1f\u00a0%%", 100*l.Share)),
			}})
		}
		w.add(t)
	}
	table("G", w.a.Budget.Resistance, quantity.Ohm, "Ω")
	table("k", w.a.Budget.Merit, quantity.AmperePerDivision, "A/div")
}

// least is the share of a variance from which a source of error is worth a
// line.
const least = 0.005

// errors ranks the sources of error by what this record shows.
func (w *writer) errors() {
	w.section("Sources of error, ranked by this record")
	if w.a.Budget == nil {
		w.say("Without a result nothing can be ranked.")
	} else {
		for _, of := range []struct {
			name  string
			lines []procedure.BudgetLine
		}{{"G", w.a.Budget.Resistance}, {"k", w.a.Budget.Merit}} {
			w.say("Of the variance of *%s*:", of.name)
			var items [][]document.Span
			for _, l := range of.lines {
				if l.Share < least {
					continue
				}
				what := inputs[l.Input].say
				if what == "" {
					what = l.Input
				}
				items = append(items, document.Join([]document.Span{{Text: fmt.Sprintf("%.0f\u00a0%%", 100*l.Share), Style: document.Strong}}, document.Plain(" from "+what+".")))
			}
			w.add(document.List{Ordered: true, Items: items})
		}
		if len(w.a.Remarks) > 0 {
			w.say("What the numbers point to:")
			var items [][]document.Span
			for _, r := range w.a.Remarks {
				items = append(items, document.Plain(r))
			}
			w.add(document.List{Items: items})
		}
	}
	w.say("No reading can show, and no uncertainty above contains:")
	w.add(document.List{Items: [][]document.Span{
		document.Rich("a resistance in the shunt branch, from a loose plug or a long lead: it lowers *G* by about as much;"),
		document.Rich("an EMF other than stated: it changes *k* in proportion and leaves *G* alone;"),
		document.Rich("a pointer that sticks: it mostly looks like a smaller *G*;"),
		document.Rich("a shunt left inside the galvanometer: *G* small and *k* large together;"),
		document.Rich("another temperature: the copper coil changes *G* by 0.39\u00a0% for each kelvin."),
	}})
}

// precautions are those that the record shows, and the others.
func (w *writer) precautions() {
	w.section("Precautions")
	if list := w.checks(); len(list) > 0 {
		w.say("As the record shows:")
		var items [][]document.Span
		for _, c := range list {
			items = append(items, document.Rich(sentence(c.say)))
		}
		w.add(document.List{Items: items})
	}
	w.say("To be observed besides, where the teacher and the rules of the place do not say otherwise:")
	w.add(document.List{Items: [][]document.Span{
		document.Rich("The circuit is looked over by the teacher before a key is closed; only small cells are used, never the mains."),
		document.Rich("The series resistance starts high; K1 is touched first and held later."),
		document.Rich("K1 is closed before K2 and opened after it. Plugs and dials are moved with K1 open, *R* never with K2 closed."),
		document.Rich("Plugs that stay in are pressed firm; contacts are clean and bright."),
		document.Rich("Current flows only while a reading is taken. The needle is given time, the case tapped lightly, the scale looked at square-on."),
		document.Rich("The galvanometer is never put to a multimeter's resistance range, and is carried with its terminals joined."),
	}})
}

// check is something a good record has, and whether this one does.
type check struct {
	name string
	ok   bool
	say  string
}

// checks are what the record shows of good practice.
func (w *writer) checks() []check {
	if !w.stated || len(w.seen.runs) == 0 {
		return nil
	}
	s := w.State
	rows, again := 0, 0
	for _, r := range w.a.Rows {
		if r.Struck {
			continue
		}
		rows++
		at := w.seen.rows[r.Row-1]
		b := w.seen.runs[at.run].branches[at.branch]
		for _, f := range inForce(w.seen.runs[at.run].first, s) {
			if len(b.readings) > 0 && f.seq > b.readings[0].seq {
				again++
				break
			}
		}
	}
	zeros, sources := inForce(w.seen.zeros, s), 0
	for _, m := range w.seen.sources {
		if s.Struck(m.seq) == 0 {
			sources++
		}
	}
	lastReading := 0
	for _, r := range w.seen.runs {
		for _, b := range r.branches {
			for _, rd := range b.readings {
				lastReading = max(lastReading, rd.seq)
			}
		}
	}
	after := len(zeros) > 0 && zeros[len(zeros)-1].seq > lastReading && lastReading > 0
	_, left := w.seen.sides(s, w.a.Rows)
	right, _ := w.seen.sides(s, w.a.Rows)
	_, temperature := w.temperature()
	yes := func(ok bool, is, not string) string {
		if ok {
			return is
		}
		return not
	}
	list := []check{
		{"circuit checked", s.Wired(), yes(s.Wired(), "the circuit was checked against the drawing before the first reading", "the record does not say that the circuit was checked")},
		{"zero read before", len(zeros) > 0, yes(len(zeros) > 0, "the zero was read with both keys open", "the zero was not read")},
		{"zero read again at the end", after, yes(after, "the zero was read again after the last reading", "the zero was not read again at the end")},
		{"EMF measured", sources > 0, yes(sources > 0, "the EMF was measured", "the EMF was not measured but taken as stated")},
		{"four rows or more", rows >= 4, yes(rows > 0, count(rows, "row is", "rows are")+" in force", "no row is in force")},
	}
	if rows > 0 {
		list = append(list, check{"first deflection read again", again == rows, yes(again > 0, fmt.Sprintf("in %d of %s the first deflection was read again after the shunted one", again, count(rows, "row", "rows")), "the first deflection was not read again after the shunted one")})
		if w.bench.Galvanometer.Centre() {
			list = append(list, check{"both sides of the scale", left > 0 && right > 0, yes(left > 0 && right > 0, "rows were taken on both sides of the zero", "all rows were taken on one side of the zero")})
		}
	}
	return append(list, check{"temperature noted", temperature, yes(temperature, "the temperature was noted", "the temperature was not noted")})
}

// notes are what was written down besides.
func (w *writer) notes() {
	if len(w.seen.notes) == 0 {
		return
	}
	w.section("Notes")
	for _, n := range w.seen.notes {
		style := document.Style(0)
		if w.State.Struck(n.seq) != 0 {
			style = document.Struck
		}
		text := []document.Span{{Text: clock(n.at, w.Begun) + ": ", Style: style}}
		if n.at.IsZero() {
			text = nil
		}
		if n.Text != "" {
			text = append(text, document.Span{Text: n.Text, Style: document.Typed | style})
		}
		if n.Temperature != nil {
			if n.Text != "" {
				text = append(text, document.Span{Text: " ", Style: style})
			}
			text = append(text, document.Span{Text: "Temperature " + exact(*n.Temperature, quantity.Celsius) + ".", Style: style})
		}
		w.add(document.Paragraph{Text: text})
	}
}

// demonstrator adds what only the demonstrator's copy has.
func (w *writer) demonstrator() {
	w.section("For the demonstrator")
	w.part("What the readings point to")
	if len(w.a.Findings) == 0 {
		w.say("Nothing: a sound bench explains the readings at least as well as any known fault or slip in reading.")
	} else {
		t := document.Table{
			Caption: document.Plain("Causes that fit the readings, most probable first. What fits best is not proven."),
			Columns: []document.Column{{Head: document.Plain("Finding")}, {Head: document.Plain("Probability"), Number: true}, {Head: document.Plain("What it says")}, {Head: document.Plain("What decides")}},
			Headed:  true,
		}
		for _, f := range w.a.Findings {
			try := f.Try
			if f.Mend != nil {
				try = strings.TrimSpace(try + fmt.Sprintf(" Event %d could be struck.", f.Mend.Seq))
			}
			t.Rows = append(t.Rows, document.TableRow{Cells: [][]document.Span{
				document.Plain(f.ID), value(f.Probability, likely(f.Probability)), document.Plain(f.Say), document.Plain(try)}})
		}
		w.add(t)
	}
	w.part("Hand calculations and slips")
	if len(w.a.Claims) == 0 {
		w.say("No value worked out by hand was entered.")
	} else {
		t := document.Table{
			Caption: document.Plain("What explains the values that do not agree."),
			Columns: []document.Column{{Head: document.Plain("Claim")}, {Head: document.Plain("Slip")}, {Head: document.Plain("Probability"), Number: true}, {Head: document.Plain("What was done")}},
		}
		for _, c := range w.a.Claims {
			for _, s := range c.Slips {
				t.Rows = append(t.Rows, document.TableRow{Cells: [][]document.Span{
					document.Join(document.Rich(claimName(c)+" = "), document.Said(w.claimText(c.Seq))), document.Plain(s.ID),
					value(s.Probability, likely(s.Probability)), document.Plain(s.Say)}})
			}
		}
		if len(t.Rows) > 0 {
			w.add(t)
		} else {
			wrong := 0
			for _, c := range w.a.Claims {
				if c.Agrees != nil && !*c.Agrees {
					wrong++
				}
			}
			if wrong > 0 {
				w.say("No known slip explains what does not agree.")
			} else {
				w.say("Every value that could be compared agrees.")
			}
		}
	}
	if list := w.checks(); len(list) > 0 {
		w.part("What the record has")
		t := document.Table{
			Caption: document.Plain("Marks of a complete record. No score is made of them."),
			Columns: []document.Column{{Head: document.Plain("Mark")}, {Head: document.Plain("Found")}, {Head: document.Plain("In words")}},
			Headed:  true,
		}
		for _, c := range list {
			found := "no"
			if c.ok {
				found = "yes"
			}
			t.Rows = append(t.Rows, document.TableRow{Cells: [][]document.Span{document.Plain(c.name), document.Plain(found), document.Plain(sentence(c.say))}})
		}
		w.add(t)
	}
}

// audit lists every event.
func (w *writer) audit() { w.trail(w.Events, w.Begun, w.State.Struck, w.entry) }

// trail lists every event of a record begun at a time: struck gives the number
// of the strike that is in force on one, 0 for none, and entry says in a line
// what it is. The day is written where it is another than before.
func (s *sheet) trail(events []procedure.Event, begun time.Time, struck func(seq int) int, entry func(procedure.Body) []document.Span) {
	s.section("Audit trail")
	if len(events) == 0 {
		s.say("The record has no entries.")
		return
	}
	t := document.Table{
		Caption: document.Plain("Every entry of the record in its order. Nothing is ever erased; what is struck stays readable."),
		Columns: []document.Column{{Head: document.Plain("No."), Number: true}, {Head: document.Plain("Time")}, {Head: document.Plain("Entry")}, {Head: document.Plain("Struck\u00a0by")}},
		Headed:  true,
	}
	day := begun
	for _, e := range events {
		at := "–"
		if !e.At.IsZero() {
			at = e.At.Format("15:04:05")
			if y, m, d := e.At.Date(); day.IsZero() || func() bool { y2, m2, d2 := day.In(e.At.Location()).Date(); return y != y2 || m != m2 || d != d2 }() {
				at = e.At.Format("2006-01-02 15:04:05")
			}
			day = e.At
		}
		by := document.Plain("")
		cells := [][]document.Span{document.Plain(strconv.Itoa(e.Seq)), document.Plain(at), entry(e.Body)}
		if n := struck(e.Seq); n > 0 {
			by = document.Plain(strconv.Itoa(n))
			for _, c := range cells {
				for i := range c {
					c[i].Style |= document.Struck
				}
			}
		}
		t.Rows = append(t.Rows, document.TableRow{Cells: append(cells, by)})
	}
	s.add(t)
}

// entry says in a line what an event is.
func (w *writer) entry(b procedure.Body) []document.Span {
	rich := func(format string, a ...any) []document.Span { return document.Rich(fmt.Sprintf(format, a...)) }
	plugs := func(ohm []float64) string {
		if len(ohm) == 0 {
			return ""
		}
		var parts []string
		for _, v := range ohm {
			parts = append(parts, number(v))
		}
		return ", plugs out: " + strings.Join(parts, ", ")
	}
	seen := func(div *float64, off bool) string {
		if off || div == nil {
			return "off scale"
		}
		return w.signed(*div) + " div"
	}
	switch b := b.(type) {
	case procedure.Bench:
		return document.Join(rich("bench: EMF %s, scale %s div read to %s div, series box %s, shunt box %s", exact(b.Source.EMF, quantity.Volt), number(b.Galvanometer.Divisions), exact(b.Galvanometer.Step(), quantity.Number), reach(b.SeriesBox), reach(b.ShuntBox)))
	case procedure.Wired:
		return document.Plain("circuit checked against the drawing")
	case procedure.SourceMeasured:
		how := ""
		if b.Loaded {
			how = " with K1 closed"
		}
		u := ""
		if b.UEMF != nil {
			u = " ± " + exact(*b.UEMF, quantity.Volt)
		}
		return rich("source measured%s: %s%s", how, exact(b.EMF, quantity.Volt), u)
	case procedure.ZeroRead:
		return rich("zero read: %s div", w.signed(b.Div))
	case procedure.SeriesSet:
		return rich("series box set: *R* = %s%s", ohms(b.Ohm), plugs(b.TakeOut))
	case procedure.ShuntSet:
		return rich("shunt box set: *S* = %s%s", ohms(b.Ohm), plugs(b.TakeOut))
	case procedure.FirstRead:
		return rich("first deflection: %s", seen(b.Div, b.OffScale))
	case procedure.ShuntedRead:
		return rich("shunted deflection: %s", seen(b.Div, b.OffScale))
	case procedure.RowKept:
		return document.Plain("row kept")
	case procedure.Claim:
		of := "G"
		if b.Quantity == procedure.ClaimMerit {
			of = "k"
		}
		row := "the mean"
		if b.Row > 0 {
			row = fmt.Sprintf("row %d", b.Row)
		}
		text := b.Value.Text
		if text == "" {
			text = full(b.Value.Value)
		}
		return document.Join(rich("claimed by hand: *%s* = ", of), document.Said(text), document.Plain(" for "+row))
	case procedure.Strike:
		out := rich("struck event %d", b.Event)
		if b.Why != "" {
			out = document.Join(out, document.Plain(": "), document.Said(b.Why))
		}
		return out
	case procedure.Note:
		out := document.Join(document.Plain("note: "), document.Said(b.Text))
		if b.Temperature != nil {
			out = document.Join(out, rich("; temperature %s", exact(*b.Temperature, quantity.Celsius)))
		}
		return out
	case procedure.Who:
		out := document.Join(document.Plain("names: "), document.Said(b.Names))
		if b.Group != "" {
			out = document.Join(out, document.Plain("; group: "), document.Said(b.Group))
		}
		return out
	case procedure.Finish:
		return document.Plain("finished")
	}
	return document.Plain(b.Kind())
}

// likely says a probability for a table, where what is certain needs a word.
func likely(p float64) string { return cmp.Or(procedure.Chance(p), "certain") }
