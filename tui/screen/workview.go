package screen

import (
	"fmt"
	"math"
	"strings"

	"github.com/charmbracelet/lipgloss"

	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/safety"
	"example.org/halve/tui/draw"
	"example.org/halve/tui/theme"
	"example.org/halve/tui/typed"
)

func (w *work) head() []string {
	var steps []string
	for _, s := range []procedure.Step{procedure.StepBench, procedure.StepWiring, procedure.StepSeries, procedure.StepFirst, procedure.StepShunt, procedure.StepResult} {
		if s == w.counsel.Step {
			steps = append(steps, "["+string(s)+"]")
		} else {
			steps = append(steps, string(s))
		}
	}
	var parts []string
	if t := w.elapsed(); t != "" {
		parts = append(parts, t)
	}
	if w.needle != nil {
		parts = append(parts, "simulated")
	}
	return append(parts, strings.Join(steps, " "))
}

// body lays the page out: at the top what must never be missing.
func (w *work) body(width, height int) []string {
	bw := bodyWidth(width)
	if w.helped {
		return ledger(w.helpSections(bw), width, height, &w.theme)
	}
	if w.behind != nil {
		return ledger(w.behindSections(bw), width, height, &w.theme)
	}
	do, safe := w.doLines(bw), w.safeLines(bw)
	sections := []section{
		{name: "do", lines: do, least: len(do), worth: 90, slot: 3},
		{name: "safe?", lines: safe, least: len(safe), worth: 100, slot: 2},
	}
	if w.listed {
		sections = append(sections, section{name: "enter", lines: w.listLines(height - used(sections)), least: 6, worth: 80})
		return ledger(sections, width, height, &w.theme)
	}
	if w.kind == enterWired {
		sections = append(sections, w.wiringSections(bw)...)
	} else if w.kind != enterStrike && !w.sitting.State().Finished() {
		scale := w.scaleLines(bw)
		sections = append(sections, section{name: "scale", lines: scale, least: len(scale), worth: 50, whole: true})
		if w.foreseesReading() && !w.closed {
			sections = append(sections, section{name: "see", lines: []string{w.seeLine(bw)}, least: 1, worth: 40})
		}
	}
	odd := w.oddLines(bw)
	write := section{name: "write", lines: w.writeLines(bw), least: 2, worth: 100, slot: 3}
	if w.kind == enterWired {
		write.least, write.worth, write.slot = 1, 15, 1
	}
	sections = append(sections,
		write,
		section{name: w.oddName(), lines: odd, least: min(len(odd), 2), worth: 85, slot: 1},
	)
	if w.kind != enterWired {
		fixed := 1
		for _, s := range sections {
			fixed += s.height()
		}
		result := w.lowLines(bw)
		room := height - fixed - len(result)
		sections = append(sections, section{name: w.benchName(), lines: w.benchLines(bw, room), least: min(max(room, 3), draw.CircuitHeight), worth: 60, ruled: true},
			section{name: "result", lines: result, least: 1, worth: 70})
	}
	if room := height - used(sections); room > 3 && w.kind != enterStrike {
		sections = append(sections, section{name: "book", lines: w.bookLines(bw, room-2), worth: 10, ruled: true})
	}
	return ledger(sections, width, height, &w.theme)
}

func used(sections []section) int {
	n := 0
	for _, s := range sections {
		n += s.height()
	}
	return n
}

// doLines is the one thing to do now.
func (w *work) doLines(bw int) []string {
	text := ""
	switch {
	case w.kind == enterStrike:
		text = "Strike out an entry of the book. Nothing is erased: it stays readable, and a strike of the strike restores it."
	case w.sitting.State().Finished() && w.kind != enterSource:
		text = "Finished."
		if w.sitting.Path() != "" {
			text += " To take the record with you, name a folder or a stick."
		}
		if w.needle != nil {
			h := w.needle.Hidden()
			text += fmt.Sprintf(" The simulated galvanometer has G = %s and k = %s.",
				quantity.Format(h.Resistance, quantity.Ohm, 4), quantity.Format(h.Merit, quantity.AmperePerDivision, 4))
		}
	case w.kind == enterSource && w.sitting.State().LastKept() == 0:
		text = "Measure the EMF of the source with the voltmeter, both keys open: k follows from it. Enter alone leaves it out."
	case w.kind == enterSource && (w.sourceDue() || w.sitting.State().Finished()):
		text = "Measure the EMF of the source once more, both keys open. Enter alone leaves it out."
	case w.counsel.Next != nil:
		text = strings.TrimPrefix(w.counsel.Next.Do, procedure.MeasureFirst)
	case len(w.counsel.Findings) > 0:
		text = "These instruments cannot do it as they are: Enter opens the form to change them."
	}
	if w.volts != "" {
		text += " The voltmeter shows " + w.volts + "."
	}
	return draw.Styled(draw.Wrap(w.theme.Signs.Say(text), bw), w.theme.Do)
}

// safeLines is the clearance: of the entry where it would change it, else of
// what stands.
func (w *work) safeLines(bw int) []string {
	c := w.counsel.Clearance
	if w.settles() && w.foreseen != nil && w.foreseen.Refused == nil && w.foreseen.Clearance != nil {
		c = w.foreseen.Clearance
	}
	finished := w.sitting.State().Finished()
	if c != nil && !finished {
		return clearanceLines(c, bw, &w.theme)
	}
	text := "Keep both keys open."
	if finished {
		text = ""
	}
	for _, c := range safety.Cautions(string(w.counsel.Step)) {
		text += " " + c.Text
		break
	}
	return draw.Wrap(w.theme.Signs.Say(strings.TrimSpace(text)), bw)
}

// expected is the reading foreseen: of the entry, if it is a setting, else of
// what stands.
func (w *work) expected() *procedure.Expect {
	if w.kind == enterSeries || w.kind == enterShunt {
		if w.foreseen != nil && w.foreseen.Refused == nil {
			return w.foreseen.Expect
		}
		return nil
	}
	if w.kind == enterFirst || w.kind == enterShunted {
		return w.counsel.Expect
	}
	return nil
}

// foreseesReading reports whether a reading is in question at all.
func (w *work) foreseesReading() bool {
	switch w.kind {
	case enterSeries, enterFirst, enterShunt, enterShunted:
		return true
	}
	return false
}

func (w *work) target() *float64 {
	if w.kind == enterSeries || w.kind == enterShunt {
		if n := w.counsel.Next; n != nil && n.TargetDiv != nil {
			if kind, ok := entryFor(n.Event); ok && kind == w.kind {
				return n.TargetDiv
			}
		}
	}
	return nil
}

// seeLine says in words what the scale shows.
func (w *work) seeLine(bw int) string {
	var parts []string
	if e := w.expected(); e != nil {
		parts = append(parts, fmt.Sprintf("the needle should rest at %s (%s)", quantity.Style(0).Measured(quantity.Measured{Value: e.Div, U: e.UDiv, Unit: quantity.Division}), w.theme.Signs.Band))
	} else {
		parts = append(parts, "no reading can be foreseen yet")
	}
	if t := w.target(); t != nil {
		parts = append(parts, fmt.Sprintf("aim at %s (%s)", tenth(*t), w.theme.Signs.Wanted))
	}
	return draw.Cut(w.theme.Signs.Say(strings.Join(parts, "; ")), bw, w.theme.Signs.Dots)
}

// scaleLines draws the scale, with the needle where the entry puts it or
// where the simulated bench has it.
func (w *work) scaleLines(bw int) []string {
	g := w.table.Galvanometer
	s := draw.Whole(g.Divisions, g.Centre())
	s.Wanted = w.target()
	if e := w.expected(); e != nil {
		// The band is the expanded uncertainty, 95 %.
		s.Expect = &draw.Interval{Lo: e.Div - 2*e.UDiv, Hi: e.Div + 2*e.UDiv}
	}
	if w.needle != nil {
		return w.simulated(s, bw)
	}
	div, beyond := w.entered()
	switch {
	case beyond != 0:
		s.NeedleBeyond, s.Caption = beyond, "beyond the end"
	case div != nil:
		s.Needle, s.Caption = div, bare(*div)
	case s.Expect != nil && (w.kind == enterSeries || w.kind == enterShunt):
		e := w.expected()
		v := e.Div
		s.Needle, s.Caption = &v, "about "+tenth(v)
		if math.Abs(v) > g.Divisions {
			s.Needle, s.NeedleBeyond, s.Caption = nil, 1, "beyond the end"
			if v < 0 {
				s.NeedleBeyond = -1
			}
		}
	}
	s.Caption = w.theme.Signs.Say(s.Caption)
	return s.Draw(bw, draw.ScaleHeight, &w.theme)
}

// simulated draws the scale of the simulated bench and, with a key closed,
// the piece about the needle as one sees it from close to.
func (w *work) simulated(s draw.Scale, bw int) []string {
	if !w.keysToPress() {
		if w.kind == enterZero {
			v := w.rests
			s.Needle = &v
			return w.both(s, v, bw)
		}
		return s.Draw(bw, draw.ScaleHeight, &w.theme)
	}
	if !w.closed {
		s.Caption = "the keys are open: Space closes them"
		return s.Draw(bw, draw.ScaleHeight, &w.theme)
	}
	if w.pinned {
		s.NeedleBeyond, s.Caption = 1, "against the stop"
		if w.rests < 0 {
			s.NeedleBeyond = -1
		}
		return s.Draw(bw, draw.ScaleHeight, &w.theme)
	}
	v := w.rests
	s.Needle, s.Caption = &v, "K1 closed"
	if w.k2() {
		s.Caption = "K1 and K2 closed"
	}
	return w.both(s, v, bw)
}

// both is the whole scale and, below it, the piece about v; the piece alone
// where there is little room.
func (w *work) both(s draw.Scale, v float64, bw int) []string {
	const roomy = 60
	closer := s.Close(v)
	closer.Expect, closer.Wanted = nil, nil
	if bw >= roomy {
		closer.Caption = ""
	}
	piece := closer.Draw(bw, draw.ScaleHeight, &w.theme)
	piece = []string{piece[0], piece[1], piece[3]}
	if bw < roomy {
		return piece
	}
	return append(s.Draw(bw, draw.ScaleHeight, &w.theme), piece...)
}

// entered is the reading that is typed: its place, or the end it is beyond.
func (w *work) entered() (div *float64, beyond int) {
	off := func(d *float64) int {
		if d != nil && *d < 0 {
			return -1
		}
		return 1
	}
	switch b := w.meant.body.(type) {
	case procedure.ZeroRead:
		div = &b.Div
	case procedure.FirstRead:
		if div = b.Div; b.OffScale {
			return nil, off(div)
		}
	case procedure.ShuntedRead:
		if div = b.Div; b.OffScale {
			return nil, off(div)
		}
	}
	if div != nil && math.Abs(*div) > w.table.Galvanometer.Divisions {
		return nil, off(div)
	}
	return div, 0
}

// writeLines is the entry: the field, and how it is read.
func (w *work) writeLines(bw int) []string {
	t := &w.theme
	e := w.entry()
	name := t.Signs.Say(e.name)
	if w.kind == enterWired {
		return []string{t.Hint.Render(draw.Cut(t.Signs.Say(w.untypedHint()), bw, t.Signs.Dots))}
	}
	if !e.typed {
		return []string{t.Value.Render(name) + w.untyped(), t.Hint.Render(draw.Cut(t.Signs.Say(w.untypedHint()), bw, t.Signs.Dots))}
	}
	line := t.Value.Render(name) + "  " + w.field.view(bw-draw.Width(name)-2, t)
	says, style := w.meant.says, t.Hint
	switch {
	case w.meant.err != nil:
		says, style = procedure.CleanText(w.meant.err.Error(), maxEntry), t.Odd
	case w.kind == enterStrike && w.meant.body != nil:
		says = w.strikeSays(w.meant.body.(procedure.Strike))
	case says == "":
		says = e.how
	}
	if w.kind == enterCopy && w.field.text() == "" && w.sitting.Path() != "" {
		says = "record: " + procedure.CleanText(w.sitting.Path(), maxEntry)
	}
	return append([]string{line}, draw.Styled(draw.Wrap(t.Signs.Say(says), bw), style)...)
}

func (w *work) untyped() string {
	switch w.kind {
	case enterKeep, enterFinish, enterBench:
		return "  " + w.theme.Key.Render("Enter")
	}
	return ""
}

func (w *work) untypedHint() string {
	switch w.kind {
	case enterKeep:
		return w.rowSays() + "Enter keeps it; Tab for a repeat or another setting"
	case enterWired:
		return "Space ticks what you have looked at; Enter when all is ticked"
	case enterFinish:
		return "Enter ends the measuring; striking and notes stay possible"
	case enterBench:
		return "Enter opens the form"
	}
	return ""
}

// rowSays says what the row would be.
func (w *work) rowSays() string {
	c := w.foreseen
	if c == nil || c.Refused != nil || len(c.Rows) == 0 {
		return ""
	}
	r := c.Rows[len(c.Rows)-1]
	return fmt.Sprintf("row %d: G = %s. ", r.Row, measured(r.Resistance, r.UResistance, quantity.Ohm))
}

// strikeSays says what would be struck.
func (w *work) strikeSays(s procedure.Strike) string {
	for _, e := range w.events {
		if e.Seq == s.Event {
			says := fmt.Sprintf("strikes %d, %s; it stays readable", e.Seq, eventWords(e))
			if s.Why != "" {
				says += ". Why: " + s.Why
			}
			return says
		}
	}
	return fmt.Sprintf("there is no entry %d", s.Event)
}

func (w *work) oddName() string {
	if w.said != "" && !w.wrong && !w.anyOdd() {
		return "done"
	}
	return "note"
}

func (w *work) anyOdd() bool {
	return w.refusal() != "" || w.oddity() != "" || len(w.counsel.Findings) > 0
}

// refusal says why the entry would not be taken.
func (w *work) refusal() string {
	if w.foreseen != nil && w.foreseen.Refused != nil && w.meant.err == nil && w.field.text() != "" {
		return *w.foreseen.Refused
	}
	return ""
}

// oddity is what is strange about the entry, or about the latest reading.
func (w *work) oddity() string {
	c := &w.counsel
	if w.foreseen != nil && w.foreseen.Refused == nil {
		c = w.foreseen
	}
	if c.Odd == "" && w.apart() {
		return "this is far from what is expected: look again, square-on, before you write it down"
	}
	return c.Odd
}

// apart reports whether the reading that is typed lies clearly outside the
// band that is drawn.
func (w *work) apart() bool {
	if w.kind != enterFirst && w.kind != enterShunted || w.foreseen == nil || w.foreseen.Refused != nil {
		return false
	}
	div, beyond := w.entered()
	return typed.Apart(w.expected(), w.table.Galvanometer.Divisions, div, beyond != 0)
}

// oddLines says what happened to the last entry, what is odd about this one,
// and what the readings point to.
func (w *work) oddLines(bw int) []string {
	t := &w.theme
	var lines []string
	add := func(text string, style lipgloss.Style) {
		if text != "" {
			lines = append(lines, draw.Styled(draw.Wrap(t.Signs.Say(text), bw), style)...)
		}
	}
	if w.wrong {
		add("! "+w.said, t.Odd)
	}
	if why := w.refusal(); why != "" && !strings.Contains(w.said, why) {
		add("cannot be taken: "+why, t.Odd)
	}
	if odd := w.oddity(); odd != "" {
		add("odd: "+odd, t.Odd)
	}
	fs := w.counsel.Findings
	if w.foreseen != nil && w.foreseen.Refused == nil && w.reads() {
		fs = w.foreseen.Findings
	}
	lines = append(lines, findingLines(fs, bw, t)...)
	if !w.wrong {
		add(w.said, t.Said)
	}
	return lines
}

func (w *work) benchName() string {
	if w.kind == enterStrike {
		return "book"
	}
	return "rows"
}

// benchLines is the circuit beside the rows, or the rows alone where there is
// no room for both.
func (w *work) benchLines(bw, h int) []string {
	t := &w.theme
	const gap = 1
	if w.kind == enterStrike {
		return w.bookLines(bw, max(min(h, 8), 4))
	}
	if bw < draw.CircuitWidth+gap+30 || h < draw.CircuitHeight {
		return rowLines(w.counsel.Rows, w.back, bw, max(h, 3), t)
	}
	rows := rowLines(w.counsel.Rows, w.back, bw-draw.CircuitWidth-gap, h, t)
	return draw.Beside(w.circuit().Draw(draw.CircuitWidth, draw.CircuitHeight, t), draw.CircuitWidth+gap, rows)
}

// circuit is the circuit as it stands.
func (w *work) circuit() draw.Circuit {
	t := &w.theme
	st := w.sitting.State()
	emf := w.table.Source.EMF
	for _, e := range w.events {
		if m, ok := e.Body.(procedure.SourceMeasured); ok && st.Struck(e.Seq) == 0 {
			emf = m.EMF
		}
	}
	c := draw.Circuit{Source: quantity.Style(0).Exact(emf, quantity.Volt), K1: draw.KeyIs(w.k1()), K2: draw.KeyIs(w.k2())}
	if ohm, ok := st.SeriesOhm(); ok {
		c.Series = ohms(ohm)
	}
	if ohm, ok := st.ShuntOhm(); ok {
		c.Shunt = ohms(ohm)
	}
	switch b := w.meant.body.(type) {
	case procedure.SeriesSet:
		c.Series = ohms(b.Ohm)
	case procedure.ShuntSet:
		c.Shunt = ohms(b.Ohm)
	}
	switch w.kind {
	case enterSeries:
		c.Part = draw.SeriesBox
	case enterShunt:
		c.Part = draw.ShuntBox
	case enterFirst:
		c.Part = draw.KeyK1
	case enterShunted:
		c.Part = draw.KeyK2
	case enterZero:
		c.Part = draw.Movement
	}
	c.Source, c.Series, c.Shunt = t.Signs.Say(c.Source), t.Signs.Say(c.Series), t.Signs.Say(c.Shunt)
	return c
}

// lowLines is the running result, and below it the hand-worked values.
func (w *work) lowLines(bw int) []string {
	return append(resultLines(w.counsel.Result, bw, &w.theme), claimLines(w.counsel.Claims, bw, &w.theme)...)
}

// bookLines are the last entries of the record with their numbers, struck ones
// shown as struck.
func (w *work) bookLines(bw, h int) []string {
	t := &w.theme
	st := w.sitting.State()
	var lines []string
	for i := max(0, len(w.events)-h); i < len(w.events); i++ {
		e := w.events[i]
		text := fmt.Sprintf("%3d  %s  %s", e.Seq, e.At.Local().Format("15:04"), eventWords(e))
		if note, ok := e.Body.(procedure.Note); ok && note.Text != "" {
			text += ": " + note.Text
		}
		if by := st.Struck(e.Seq); by != 0 {
			text += fmt.Sprintf("   (struck by %d)", by)
		}
		text = draw.Cut(t.Signs.Say(text), bw, t.Signs.Dots)
		if st.Struck(e.Seq) != 0 {
			lines = append(lines, t.Struck.Render(text))
		} else {
			lines = append(lines, t.Hint.Render(text))
		}
	}
	return lines
}

// listLines is the list of entries, h lines of it about the chosen one.
func (w *work) listLines(h int) []string {
	t := &w.theme
	es := w.offered()
	proposed := w.proposed()
	start := 0
	if h = max(h, 3); len(es) > h {
		start = min(max(w.listAt-h/2, 0), len(es)-h)
	}
	var lines []string
	for i := start; i < min(start+h, len(es)); i++ {
		mark, style := " ", lipgloss.NewStyle()
		if i == w.listAt {
			mark, style = t.Signs.Choice, t.Selected
		}
		text := draw.Pad(es[i].name, 18) + es[i].does
		if es[i].kind == proposed {
			text += " (proposed)"
		}
		lines = append(lines, style.Render(mark+" "+t.Signs.Say(text)))
	}
	return lines
}

// wiring is what to look at before the circuit counts as checked.
func wiring() []string {
	return []string{
		"both keys open",
		"source, K1, R and G in a loop",
		"S and K2 across G",
		"plugs that are in pressed home",
		"G level, away from iron",
		"looked over by somebody else",
	}
}

// wiringSections are the drawing, the list beside or below it, and the
// cautions.
func (w *work) wiringSections(bw int) []section {
	t := &w.theme
	circuit := w.circuit().Draw(draw.CircuitWidth, draw.CircuitHeight, t)
	const gap = 2
	beside := bw >= draw.CircuitWidth+gap+32
	lw := bw
	if beside {
		lw = bw - draw.CircuitWidth - gap
	}
	var list []string
	for i, item := range wiring() {
		mark, box := " ", "["+t.Signs.Unticked+"] "
		style := lipgloss.NewStyle()
		if w.ticks[i] {
			box, style = "["+t.Signs.Ticked+"] ", t.Said
		}
		if i == w.tickAt {
			mark = t.Signs.Choice
			if !w.ticks[i] {
				style = t.Selected
			}
		}
		for j, line := range draw.Wrap(t.Signs.Say(item), lw-6) {
			lead := mark + " " + box
			if j > 0 {
				lead = "      "
			}
			list = append(list, style.Render(lead+line))
		}
	}
	var cautions []string
	for _, c := range safety.Cautions(string(procedure.StepWiring))[1:] { // the first stands above
		cautions = append(cautions, draw.Wrap(t.Signs.Say(c.Text), bw)...)
	}
	care := section{name: "care", lines: draw.Styled(cautions, t.Hint), worth: 10}
	if beside {
		return []section{{name: "circuit", lines: draw.Beside(circuit, draw.CircuitWidth+gap, list), least: max(len(list), len(circuit)), worth: 80}, care}
	}
	return []section{
		{name: "circuit", lines: circuit, least: len(circuit), worth: 20, whole: true},
		{name: "check", lines: list, least: len(list), worth: 80},
		care,
	}
}

// behindSections is what stands behind the result: the other answers, where
// the uncertainty comes from, and what the readings point to.
func (w *work) behindSections(bw int) []section {
	a, t := w.behind, &w.theme
	var remarks []string
	for _, r := range a.Remarks {
		remarks = append(remarks, draw.Wrap(t.Signs.Say(r), bw)...)
	}
	sections := []section{{name: "result", lines: w.lowLines(bw), least: 1, worth: 100}}
	if s := a.Schoolbook; s != nil {
		mean := fmt.Sprintf("mean of the rows: G = %s, k = %s", quantity.Format(*s.MeanResistance, quantity.Ohm, 4), quantity.Format(*s.MeanMerit, quantity.AmperePerDivision, 4))
		sections = append(sections, section{name: "book", lines: draw.Wrap(t.Signs.Say(mean), bw), least: 1, worth: 60})
	}
	if b := a.Budget; b != nil {
		sections = append(sections,
			section{name: "u of G", lines: budgetLines(b.Resistance, quantity.Ohm, t), least: min(2, len(b.Resistance)), worth: 80},
			section{name: "u of k", lines: budgetLines(b.Merit, quantity.AmperePerDivision, t), least: min(2, len(b.Merit)), worth: 70})
	}
	return append(sections, section{name: "says", lines: remarks, least: min(3, len(remarks)), worth: 90, ruled: true})
}

// budgetLines lists the parts of an uncertainty, greatest first, with a bar of
// a sign for every twentieth of the variance.
func budgetLines(ls []procedure.BudgetLine, unit quantity.Unit, t *theme.Theme) []string {
	var out []string
	for _, l := range ls {
		if l.Share < 0.0005 && len(out) > 1 {
			break // what cannot be seen
		}
		bar := strings.Repeat("=", int(math.Round(20*l.Share)))
		out = append(out, t.Signs.Say(fmt.Sprintf("%-17s %12s %5.1f %% %s", l.Input, quantity.Format(l.Contribution, unit, 2), 100*l.Share, bar)))
	}
	return out
}

// helpSections is help: every key, and the cautions of the step.
func (w *work) helpSections(bw int) []section {
	open := *w
	open.helped = false
	lines := helpLines(open.keymap(), bw, &w.theme)
	var cautions []string
	for _, c := range safety.Cautions(string(w.counsel.Step)) {
		cautions = append(cautions, draw.Wrap(w.theme.Signs.Say(c.Text), bw)...)
	}
	how := draw.Wrap(w.theme.Signs.Say("Type what you set or read; the page says at every key how it is read, what would follow and whether the key may be closed. Nothing is written down before Enter. Every line written down is on the disk; leave when you like."), bw)
	return []section{
		{name: "keys", lines: lines, least: len(lines), worth: 90},
		{name: "how", lines: how, worth: 50},
		{name: "care", lines: cautions, worth: 60},
	}
}
