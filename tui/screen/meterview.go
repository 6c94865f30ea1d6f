package screen

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/charmbracelet/bubbles/key"

	"example.org/halve/physics/panel"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/metercheck"
	"example.org/halve/tui/draw"
)

func (w *meterWork) head() []string {
	var steps []string
	for _, s := range []procedure.Step{metercheck.StepBench, metercheck.StepWiring, metercheck.StepZero, metercheck.StepRising, metercheck.StepFalling, metercheck.StepResult} {
		if s == w.counsel.Step {
			steps = append(steps, "["+string(s)+"]")
		} else {
			steps = append(steps, string(s))
		}
	}
	return []string{"meter check", strings.Join(steps, " ")}
}

func (w *meterWork) safety() string {
	if c := w.counsel.Clearance; c != nil {
		_, sign, word := w.theme.Verdict(c.Verdict)
		return fmt.Sprintf("%s source %s", sign, word)
	}
	return "source off"
}

func (w *meterWork) keymap() []key.Binding {
	ks := w.keys
	switch w.open {
	case listSheet:
		return []key.Binding{named(ks.accept, "choose"), ks.move, ks.back, ks.leave}
	case noSheet:
		return []key.Binding{ks.accept, ks.other, ks.back, ks.help, ks.behind, ks.strike, ks.zero, ks.note, ks.finish, ks.suspend, ks.leave}
	}
	return []key.Binding{ks.back, named(ks.move, "more"), ks.leave}
}

// body lays the page out: at the top what must never be missing.
func (w *meterWork) body(width, height int) []string {
	t := &w.theme
	bw := bodyWidth(width)
	switch w.open {
	case helpSheet, behindSheet:
		lines, name := w.behindLines(bw), "result"
		if w.open == helpSheet {
			lines, name = w.helpLines(bw), "keys"
		}
		w.top = min(w.top, max(len(lines)-height, 0))
		return ledger([]section{{name: name, lines: lines[w.top:min(w.top+height, len(lines))], least: 1, worth: 90}}, width, height, t)
	}
	do := w.doLines(bw)
	safe := w.safeLines(bw)
	sections := []section{
		{name: "do", lines: do, least: len(do), worth: 90},
		{name: "safe?", lines: safe, least: min(len(safe), max(w.clearedIn(bw)+1, 2)), worth: 100, more: t.Hint.Render(t.Signs.Say("… the rest: F1"))},
	}
	if w.open == listSheet {
		said := w.saidLines(bw)
		list := about(w.listLines(bw), w.listAt, max(height-used(sections)-len(said), 5), bw, t)
		return ledger(append(sections, section{name: "enter", lines: list, least: 5, worth: 80},
			section{name: "note", lines: said, least: len(said), worth: 95}), width, height, t)
	}
	if w.onScale() {
		scale := w.scale().Draw(bw, draw.ScaleHeight, t)
		see := w.seeLines(bw)
		sections = append(sections,
			section{name: "scale", lines: scale, least: len(scale), worth: 58, whole: true},
			section{name: "see", lines: see, least: min(len(see), 2), worth: 75})
	}
	write := w.writeLines(bw)
	odd := append(w.oddLines(bw), w.saidLines(bw)...)
	sections = append(sections,
		section{name: "write", lines: write, least: len(write), worth: 100},
		section{name: "note", lines: odd, least: min(len(odd), 3), worth: 85})
	room := max(height-used(sections)-4, 2)
	sections = append(sections, section{name: "points", lines: w.pointLines(bw, room), least: 2, worth: 45, ruled: true})
	if r := w.counsel.Result; r != nil {
		result := draw.Wrap(t.Signs.Say(strings.Join(r.Say(w.bench), " ")), bw)
		sections = append(sections, section{name: "result", lines: result, least: 1, worth: 60, ruled: true})
	}
	return ledger(sections, width, height, t)
}

func (w *meterWork) doLines(bw int) []string {
	text := "Finished."
	switch n := w.counsel.Next; {
	case w.kind == meterStrike:
		text = "Strike out an entry. Nothing is erased: it stays readable, and a strike of the strike restores it."
	case n != nil:
		text = n.Do
	case w.sitting.Path() != "":
		text = "Finished. To take the record with you, name a folder or a stick."
	}
	return draw.Styled(draw.Wrap(w.theme.Signs.Say(text), bw), w.theme.Do)
}

// clearedIn is how many lines the clearance takes.
func (w *meterWork) clearedIn(bw int) int {
	if w.counsel.Clearance == nil {
		return 0
	}
	return len(clearanceLines(w.counsel.Clearance, bw, &w.theme))
}

func (w *meterWork) safeLines(bw int) []string {
	var lines []string
	if c := w.counsel.Clearance; c != nil {
		lines = clearanceLines(c, bw, &w.theme)
	}
	for i, c := range w.bench.Cautions(w.counsel.Step) {
		if i == 0 || w.kind == meterWired { // the others stand with the keys, under help
			lines = append(lines, draw.Wrap(w.theme.Signs.Say(c.Text), bw)...)
		}
	}
	return lines
}

// onScale reports whether a place on the scale is in question.
func (w *meterWork) onScale() bool { return w.kind == meterPoint || w.kind == meterZeroRead }

// scale is the meter's, with the mark to aim at and what is typed or shown.
func (w *meterWork) scale() draw.Scale {
	s := draw.Whole(w.bench.Divisions, w.bench.Centre())
	if n := w.counsel.Next; n != nil && w.kind == meterPoint {
		s.Wanted = n.TargetDiv
	}
	var at *float64
	switch b := w.meant.body.(type) {
	case metercheck.Point:
		at = &b.Div
	case procedure.ZeroRead:
		at = &b.Div
	default:
		if w.shown != nil {
			at = &w.shown.div
		}
	}
	if at != nil {
		s.Needle = at
	}
	return s
}

// seeLines say what is to be seen, and what the simulated bench shows.
func (w *meterWork) seeLines(bw int) []string {
	var parts []string
	n, e := w.counsel.Next, w.counsel.Expect
	if w.kind == meterPoint && e != nil && n != nil {
		v, u := e.Reference()
		parts = append(parts, fmt.Sprintf("with the pointer on %s the reference should show %s to %s", divisions(*n.TargetDiv), w.written(v-2*u), w.written(v+2*u)))
	}
	if s := w.shown; s != nil {
		show := fmt.Sprintf("on the simulated bench the pointer is at %s", divisions(math.Round(s.div*1000)/1000))
		if n.Event == metercheck.KindPoint {
			show += fmt.Sprintf(", the reference shows %s", quantity.Format(s.reference, w.bench.Unit(), 5))
		}
		parts = append(parts, show)
	}
	return draw.Wrap(w.theme.Signs.Say(strings.Join(parts, "; ")), bw)
}

func (w *meterWork) written(v float64) string { return quantity.Format(v, w.bench.Unit(), 4) }

// writeLines are the field and how it is read.
func (w *meterWork) writeLines(bw int) []string {
	t := &w.theme
	e := w.entry()
	name := e.name
	if n := w.counsel.Next; w.kind == meterPoint && n != nil && n.TargetDiv != nil {
		name = n.Direction
		if *n.Tapped {
			name += ", tapped"
		}
	}
	head := t.Value.Render(t.Signs.Say(name)) + "  "
	if !e.typed {
		return []string{head + t.Hint.Render("Enter writes it down")}
	}
	lines := []string{head + w.field.view(bw-draw.Width(name)-2, t)}
	says, style := e.how, t.Hint
	switch {
	case w.meant.err != nil:
		says, style = oneLine(w.meant.err), t.Odd
	case w.then != nil && w.then.Refused != nil:
		says, style = "would be refused: "+*w.then.Refused, t.Odd
	case w.meant.says != "":
		says = w.meant.says + w.wouldErr()
	}
	return append(lines, draw.Styled(draw.Wrap(t.Signs.Say(says), bw), style)...)
}

// wouldErr is the error of the point that is typed.
func (w *meterWork) wouldErr() string {
	if w.then == nil || w.then.Result == nil || w.kind != meterPoint {
		return ""
	}
	for _, p := range w.then.Result.Points {
		if p.Seq == w.then.Seq {
			return fmt.Sprintf(": an error of %s, give or take %.2f %%", percent(p.Error), p.U95Error)
		}
	}
	return ""
}

// oddLines say what is odd: of what is typed, else of what stands.
func (w *meterWork) oddLines(bw int) []string {
	t := &w.theme
	c := w.counsel
	var lines []string
	typed := w.then != nil && w.then.Refused == nil && w.onScale()
	if typed {
		c = *w.then
	}
	found := slices.Clone(c.Findings)
	for i := range found {
		if m := found[i].Mend; m != nil && m.Seq > w.counsel.Seq {
			found[i].Mend = nil // what is typed needs no strike
		}
	}
	if typed { // one odd reading is told as such
		found = slices.DeleteFunc(found, func(f procedure.Finding) bool { return f.Probability <= 0.5 || f.ID == panel.PointOdd })
	}
	if p, ok := w.meant.body.(metercheck.Point); typed && ok && w.bench.Exchanged(p) {
		found = nil
	}
	if c.Odd != "" && len(found) == 0 {
		lines = append(lines, draw.Styled(draw.Wrap(t.Signs.Say("odd: "+c.Odd), bw), t.Odd)...)
	}
	for i := range found {
		if c.Next != nil && strings.Contains(c.Next.Do, found[i].Try) {
			found[i].Try = "" // it is said above
		}
	}
	return append(lines, findingLines(found, bw, t)...)
}

func (w *meterWork) saidLines(bw int) []string {
	if w.said == "" {
		return nil
	}
	if w.wrong {
		return draw.Styled(draw.Wrap(w.theme.Signs.Say("! "+w.said), bw), w.theme.Odd)
	}
	return draw.Styled(draw.Wrap(w.theme.Signs.Say(w.said), bw), w.theme.Said)
}

// pointLines are the points so far as a table, the last ones where there is no
// room for all.
func (w *meterWork) pointLines(bw, h int) []string {
	t := &w.theme
	r := w.counsel.Result
	if r == nil {
		return []string{t.Hint.Render("no points yet")}
	}
	cell := func(parts ...string) string {
		widths := []int{4, 16, 9, 13, 10, 9}
		var b strings.Builder
		for i, p := range parts {
			if i == 1 {
				b.WriteString(" " + draw.Pad(p, widths[i]))
			} else {
				b.WriteString(draw.PadLeft(p, widths[i]))
			}
		}
		return draw.Cut(t.Signs.Say(b.String()), bw, t.Signs.Dots)
	}
	lines := []string{t.Hint.Render(cell("no.", "point", "div", "reference", "error", "U"))}
	from := max(0, len(r.Points)-max(h-1, 1))
	for _, p := range r.Points[from:] {
		name := p.Direction
		if p.Zero {
			name = "zero"
		}
		if p.Tapped {
			name += ", tapped"
		}
		lines = append(lines, cell(fmt.Sprint(p.Seq), name, bare(p.Div), quantity.Format(p.Reference, w.bench.Unit(), 5), percent(p.Error), fmt.Sprintf("%.2f %%", p.U95Error)))
	}
	return lines
}

func (w *meterWork) listLines(bw int) []string {
	t := &w.theme
	var lines []string
	for i, e := range meterEntries() {
		mark, style := " ", t.Hint
		if i == w.listAt {
			mark, style = t.Signs.Choice, t.Selected
		}
		lines = append(lines, style.Render(draw.Cut(t.Signs.Say(fmt.Sprintf("%s %s%s", mark, draw.Pad(e.name, 16), e.does)), bw, t.Signs.Dots)))
	}
	return lines
}

// helpLines are the keys, then the cautions of the step.
func (w *meterWork) helpLines(bw int) []string {
	open := *w
	open.open = noSheet
	lines := append(helpLines(open.keymap(), bw, &w.theme), "")
	for _, c := range w.bench.Cautions(w.counsel.Step) {
		lines = append(lines, draw.Wrap(w.theme.Signs.Say(c.Text), bw)...)
	}
	return lines
}

// behindLines are the result with all that belongs to it.
func (w *meterWork) behindLines(bw int) []string {
	t := &w.theme
	var lines []string
	says := append(w.counsel.Result.Say(w.bench), w.counsel.Remarks...)
	says = append(says, "This is practice and refreshment; certified calibration is for an accredited laboratory.")
	for _, l := range says {
		lines = append(lines, draw.Wrap(t.Signs.Say(l), bw)...)
	}
	if r := w.counsel.Result; r != nil {
		lines = append(lines, "", t.Hint.Render("corrections, to be added to the reading"))
		for _, k := range r.Corrections {
			lines = append(lines, t.Signs.Say(fmt.Sprintf("  at %8.2f div  %s", k.Div, quantity.Style(0).Measured(quantity.Measured{Value: k.Value, U: k.U, Unit: w.bench.Unit()}))))
		}
		lines = append(lines, "")
		lines = append(lines, w.pointLines(bw, len(r.Points)+1)...)
	}
	return lines
}

// percent writes an error with its sign.
func percent(v float64) string {
	return strings.Replace(fmt.Sprintf("%+.2f\u00a0%%", v+0), "-", "−", 1)
}

// meterWords say in a few words what an event records.
func meterWords(b procedure.Body) string {
	if p, ok := b.(metercheck.Point); ok {
		unit := quantity.Ampere
		if p.ReferenceV != nil {
			unit = quantity.Volt
		}
		words := fmt.Sprintf("%s, pointer %s, reference %s", p.Direction, divisions(p.Div), quantity.Format(p.Reference(), unit, 5))
		if p.Tapped {
			words += ", tapped"
		}
		return words
	}
	return eventWords(procedure.Event{Body: b})
}
