package screen

import (
	"fmt"
	"math"
	"strings"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/lipgloss"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/notes"
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
	return append(parts, strings.Join(steps, " "))
}

func (w *work) spine(width int) int { return spineAt(width) }

// body lays the page out: at the top what must never be missing. A wide window
// shows two pages, and a sheet then lies on the facing one.
func (w *work) body(width, height int) []string {
	spine := spineAt(width)
	covered := w.open != noSheet && w.open != listSheet
	if spine == 0 {
		if covered {
			return w.sheetPage(width, height)
		}
		return ledger(w.sections(bodyWidth(width), height, false), width, height, &w.theme)
	}
	t := &w.theme
	left := ledger(w.sections(bodyWidth(spine-1), height, true), spine-1, height, t)
	facingWidth := width - spine
	var right []string
	if covered {
		right = facing(w.sheetSections(facingWidth-2, height), facingWidth, height, t)
	} else {
		right = facing(w.lookSections(facingWidth-2, height), facingWidth, height, t)
	}
	return spread(left, spine, right)
}

// sections are those of the page that is written on, for text bw cells wide;
// spread says that there is a facing page for the rest.
func (w *work) sections(bw, height int, spread bool) []section {
	do, safe := w.doLines(bw), w.safeLines(bw)
	sections := []section{
		{name: "do", lines: do, least: len(do), worth: 90, slot: 3},
		{name: "safe?", lines: safe, least: len(safe), worth: 100, slot: 2},
	}
	if w.open == listSheet {
		var note []string
		if w.wrong {
			note = draw.Styled(draw.Wrap(w.theme.Signs.Say("! "+w.said), bw), w.theme.Odd)
		}
		list, said := w.listLines(bw, height-used(sections)-len(note))
		if len(note) == 0 {
			note = said
		}
		return append(sections,
			section{name: "enter", lines: list, least: 5, worth: 80},
			section{name: "note", lines: note, least: len(note), worth: 95})
	}
	wiring, finished := w.kind == enterWired, w.state.Finished()
	odd, lines := w.oddLines(bw), w.writeLines(bw)
	if wiring {
		room := height - used(sections) - len(lines) - max(len(odd), 1)
		sections = append(sections, w.wiringSections(bw, room, spread)...)
	} else if w.kind != enterStrike && !finished {
		scale := w.scaleLines(bw, scaleHeight(height))
		sections = append(sections, section{name: "scale", lines: scale, least: scaleLeast(scale), worth: w.scaleWorth(), whole: true})
		if w.foreseesReading() {
			see := w.seeLines(bw)
			sections = append(sections, section{name: "see", lines: see, least: len(see), worth: 75})
		}
	}
	write := section{name: "write", lines: lines, least: len(lines), worth: 100, slot: 3}
	if wiring {
		write.slot = 1
	}
	note := section{name: w.oddName(), lines: odd, least: min(len(odd), 3), worth: 85, slot: 1}
	if len(w.findings()) > 0 {
		note.more = w.theme.Odd.Render(w.theme.Signs.Say("… the rest: F4"))
	}
	if w.wrong || w.refusal() != "" {
		note.least, note.worth = len(odd), 97
	}
	sections = append(sections, write, note)
	if !wiring {
		result := w.lowLines(bw)
		clock := draw.Wrap(w.theme.Signs.Say(w.timeSays()), bw)
		room := height - used(sections) - 1 - len(result) - len(clock)
		if !spread && w.kind != enterStrike && !besideRows(bw, room) {
			circuit := w.circuit().Draw(bw, 2, &w.theme) // the loop and the branch, both or neither
			sections = append(sections, section{name: "circuit", lines: circuit, least: len(circuit), worth: 40, whole: true})
			room -= len(circuit)
		}
		rows := section{name: w.benchName(), lines: w.benchLines(bw, room, spread), least: min(len(w.counsel.Rows)+1, 2), worth: 45, ruled: true, whole: true}
		switch {
		case w.kind == enterStrike:
			rows.least, rows.worth = 4, 80
		case w.settles() && len(w.counsel.Rows) > 0:
			rows.worth = 52 // what the scale shows is in words as well
		}
		sections = append(sections, rows, section{name: "result", lines: result, least: 1, worth: 70},
			section{name: "time", lines: clock, least: min(len(clock), 1), worth: 43})
	}
	if room := height - used(sections) - 2; !spread && room > graphLeast && len(w.counsel.Rows) > 1 && !wiring {
		sections = append(sections, section{name: "graph", lines: w.graphLines(bw, min(room, graphMost)), worth: 15, whole: true, ruled: true})
	}
	if room := height - used(sections) - 2; room > 1 && w.kind != enterStrike {
		sections = append(sections, section{name: "book", lines: w.bookLines(bw, room), worth: 10, ruled: true})
	}
	return sections
}

// lookSections are those of the facing page: the circuit, the graph once
// there is one, and the notes of the step.
func (w *work) lookSections(fw, height int) []section {
	circuit := w.circuit().Draw(fw, height/4, &w.theme)
	sections := []section{{name: "circuit", lines: circuit, least: len(circuit), worth: 90, whole: true}}
	if len(w.counsel.Rows) > 1 {
		h := min(max((height-used(sections))/2, graphLeast), graphMost)
		sections = append(sections, section{name: "graph", lines: w.graphLines(fw, h), worth: 50, whole: true})
	}
	why := w.note(0, fw)
	if room := height - used(sections) - 1; len(why) > room {
		why = append(why[:max(room-1, 0):max(room-1, 0)], w.theme.Hint.Render(w.theme.Signs.Say("F2: the rest, and all the notes")))
	}
	return append(sections, section{name: "why", lines: why, worth: 40})
}

// sheetPage is a sheet that covers a single page.
func (w *work) sheetPage(width, height int) []string {
	return ledger(w.sheetSections(bodyWidth(width), height), width, height, &w.theme)
}

// sheetSections are those of the sheet that is open. What is longer than the
// page is shown from the line that was gone to.
func (w *work) sheetSections(bw, height int) []section {
	switch w.open {
	case whySheet:
		return w.leafSections(bw, height)
	case graphsSheet:
		return w.graphSections(bw, height)
	case behindSheet:
		return w.rolled(w.behindSections(bw), height)
	}
	return w.rolled(w.helpSections(bw), height)
}

// leafSections is the note that is open, from the line that was gone to.
func (w *work) leafSections(bw, height int) []section {
	foot := fmt.Sprintf("leaf %d of %d: Left, Right", w.leaf+1, w.leaves())
	return w.scrolled("why", w.note(w.leaf, bw), height, foot)
}

// scrolled is one long section, from the line that was gone to, and below it
// the foot.
func (w *work) scrolled(name string, lines []string, height int, foot string) []section {
	room := max(height-2, 1)
	w.top = min(w.top, max(len(lines)-room, 0))
	if len(lines) > room {
		if foot != "" {
			foot += "; "
		}
		foot += fmt.Sprintf("lines %d to %d of %d", w.top+1, w.top+room, len(lines))
	}
	shown := lines[w.top:min(w.top+room, len(lines))]
	return []section{
		{name: name, lines: shown, least: len(shown), worth: 50, slot: room},
		{lines: []string{w.theme.Hint.Render(w.theme.Signs.Say(foot))}, least: 1, worth: 90},
	}
}

// rolled makes one long section of several that do not fit a page; the name
// of each then stands above it.
func (w *work) rolled(sections []section, height int) []section {
	if used(sections) <= height {
		return sections
	}
	var lines []string
	for _, s := range sections {
		if len(s.lines) == 0 {
			continue
		}
		if len(lines) > 0 {
			lines = append(lines, "")
		}
		if s.name != sections[0].name {
			lines = append(lines, w.theme.Margin.Render(w.theme.Signs.Say(s.name)))
		}
		lines = append(lines, s.lines...)
	}
	return w.scrolled(sections[0].name, lines, height, "")
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
	case w.state.Finished() && w.kind != enterSource:
		text = "Finished."
		if w.sitting.Path() != "" {
			text += " To take the record with you, name a folder or a stick."
		}
	case w.kind == enterSource && w.state.LastKept() == 0:
		text = "Measure the EMF of the source with the voltmeter, both keys open: k follows from it. Enter alone leaves it out."
	case w.kind == enterSource && (w.sourceDue() || w.state.Finished()):
		text = "Measure the EMF of the source once more, both keys open. Enter alone leaves it out."
	case w.counsel.Next != nil:
		text = strings.TrimPrefix(w.counsel.Next.Do, procedure.MeasureFirst)
	case len(w.counsel.Findings) > 0:
		text = "These instruments cannot do it as they are: Enter opens the form to change them."
	}
	return draw.Styled(draw.Wrap(w.theme.Signs.Say(text), bw), w.theme.Do)
}

// safeLines is the clearance: of the entry where it would change it, else of
// what stands.
func (w *work) safeLines(bw int) []string {
	if c := w.clearance(); c != nil {
		return clearanceAt(c, w.clearedAt(), bw, &w.theme)
	}
	text := "Keep both keys open."
	if w.state.Finished() {
		text = ""
	}
	if cautions := w.cautions(w.counsel.Step); len(cautions) > 0 {
		text += " " + cautions[0].Text
	}
	return draw.Wrap(w.theme.Signs.Say(strings.TrimSpace(text)), bw)
}

// cautions are those of a step that concern what lies on the table.
func (w *work) cautions(step procedure.Step) []safety.Caution {
	series, shunt := w.table.SeriesBox.Kind, w.table.ShuntBox.Kind
	if step == procedure.StepSeries {
		shunt = series
	}
	var out []safety.Caution
	for _, c := range safety.Cautions(string(step)) {
		if c.Of == "" || c.Of == series || c.Of == shunt {
			out = append(out, c)
		}
	}
	return out
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

// seeLines say in words what the scale shows.
func (w *work) seeLines(bw int) []string {
	var parts []string
	if e := w.expected(); e != nil {
		parts = append(parts, fmt.Sprintf("the needle should rest at %s (%s)", quantity.Style(0).Measured(quantity.Measured{Value: e.Div, U: e.UDiv, Unit: quantity.Division}), w.theme.Signs.Band))
	} else {
		parts = append(parts, "no reading can be foreseen yet")
	}
	if t := w.target(); t != nil {
		parts = append(parts, fmt.Sprintf("aim at %s (%s)", tenth(*t), w.theme.Signs.Wanted))
	}
	return draw.Wrap(w.theme.Signs.Say(strings.Join(parts, "; ")), bw)
}

// note is a leaf of the notes in a width: the step's, then the topics.
func (w *work) note(leaf, width int) []string {
	if leaf == 0 {
		return w.leafText(leafKey{step: w.counsel.Step, width: width})
	}
	return w.leafText(leafKey{topic: notes.Topics()[leaf-1].Name, width: width})
}

// scale is what is on the scale: the needle where the entry puts it, what is
// expected and what is aimed at.
func (w *work) scale() draw.Scale {
	g := w.table.Galvanometer
	s := draw.Whole(g.Divisions, g.Centre())
	s.Wanted = w.target()
	e := w.expected()
	if e != nil {
		// The band is the expanded uncertainty, 95 %.
		s.Expect = &draw.Interval{Lo: e.Div - 2*e.UDiv, Hi: e.Div + 2*e.UDiv}
	}
	div, beyond := w.entered()
	switch {
	case beyond != 0:
		s.NeedleBeyond, s.Caption = beyond, "beyond the end"
	case div != nil:
		s.Needle, s.Caption = div, bare(*div)
	case e != nil && w.settles():
		s.Needle, s.Caption = &e.Div, "about "+tenth(e.Div)
		if math.Abs(e.Div) > g.Divisions {
			s.Needle, s.NeedleBeyond, s.Caption = nil, 1, "beyond the end"
			if e.Div < 0 {
				s.NeedleBeyond = -1
			}
		}
	}
	s.Caption = w.theme.Signs.Say(s.Caption)
	return s
}

// rest is where the drawn needle is to come to rest; ok is false where none
// is drawn.
func (w *work) rest() (div float64, ok bool) {
	s := w.scale()
	switch {
	case s.NeedleBeyond != 0:
		return s.Stop(s.NeedleBeyond), true
	case s.Needle != nil:
		return *s.Needle, true
	}
	return 0, false
}

// stir sends the drawn needle on its way, if it is to be elsewhere.
func (w *work) stir() tea.Cmd {
	if w.shown != nil {
		return nil // the bench draws its own
	}
	if v, ok := w.rest(); ok {
		return w.swing.towards(v, w.still)
	}
	w.swing.away()
	return nil
}

// near is a distance on the scale that cannot be seen.
func (w *work) near() float64 { return w.table.Galvanometer.Divisions / 500 }

// scaleLines draws the scale in bw cells, at most h lines high.
func (w *work) scaleLines(bw, h int) []string {
	if w.shown != nil {
		return w.shown(bw, h)
	}
	s := w.scale()
	if v := w.swing.at; v != w.swing.to && (s.Needle != nil || s.NeedleBeyond != 0) {
		s.Needle, s.NeedleBeyond = &v, 0
	}
	return s.Draw(bw, h, &w.theme)
}

// entered is the reading that is typed: its place, or the end it is beyond.
func (w *work) entered() (div *float64, beyond int) {
	off := func(d *float64) int {
		if d != nil && *d < 0 {
			return -1
		}
		return 1
	}
	if !w.takeable() {
		return nil, 0
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
	return div, 0
}

// writeLines is the entry: the field, and how it is read.
func (w *work) writeLines(bw int) []string {
	t := &w.theme
	e := w.entry()
	name := t.Signs.Say(e.name)
	if !e.typed {
		hint := draw.Styled(draw.Wrap(t.Signs.Say(w.untypedHint()), bw), t.Hint)
		if w.kind == enterWired {
			return hint
		}
		return append([]string{t.Value.Render(name) + w.untyped()}, hint...)
	}
	line := t.Value.Render(name) + "  " + w.field.view(bw-draw.Width(name)-2, t)
	says, style := w.meant.says, t.Hint
	switch {
	case w.meant.err != nil:
		says, style = procedure.CleanText(w.meant.err.Error(), maxEntry), t.Odd
	case w.kind == enterStrike && w.meant.body != nil:
		says = w.strikeSays(w.meant.body.(procedure.Strike))
	case says == "":
		says = e.hint(w.table)
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
	if w.alone || c == nil || c.Refused != nil || len(c.Rows) == 0 {
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

// takeable reports whether the entry would be taken as it is typed.
func (w *work) takeable() bool {
	return w.meant.err == nil && w.meant.body != nil && (w.foreseen == nil || w.foreseen.Refused == nil)
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
	fs := w.findings()
	switch {
	case len(fs) == 0:
	case w.counsel.Next != nil && strings.Contains(w.counsel.Next.Do, fs[0].Say):
		// What it is stands above already.
		text := "the readings point to that" + chance(fs[0].Probability)
		if fs[0].Mend != nil {
			text += fmt.Sprintf("; if it is so, strike %d", fs[0].Mend.Seq)
		}
		add(text, t.Odd)
	default:
		lines = append(lines, findingLines(fs[:1], bw, t)...)
	}
	if n := len(fs) - 1; n > 0 {
		add(fmt.Sprintf("or something else: F4 lists %d more", n), t.Odd)
	}
	if !w.wrong {
		add(w.said, t.Said)
	}
	return lines
}

// findings are what the readings point to, with the one that is typed.
func (w *work) findings() []procedure.Finding {
	if w.foreseen != nil && w.foreseen.Refused == nil && w.reads() {
		return w.foreseen.Findings
	}
	return w.counsel.Findings
}

func (w *work) benchName() string {
	if w.kind == enterStrike {
		return "book"
	}
	return "rows"
}

// benchLines is the circuit beside the rows, or the rows alone where there is
// no room for both or the circuit stands on the facing page.
func (w *work) benchLines(bw, h int, spread bool) []string {
	t := &w.theme
	if w.kind == enterStrike {
		return w.bookLines(bw, max(min(h, 12), 4))
	}
	if spread || !besideRows(bw, h) {
		return rowLines(w.counsel.Rows, w.back, bw, max(min(h, len(w.counsel.Rows)+1), 2), t)
	}
	rows := rowLines(w.counsel.Rows, w.back, bw-draw.CircuitWidth, h, t)
	return draw.Beside(w.circuit().Draw(draw.CircuitWidth, draw.CircuitHeight, t), draw.CircuitWidth, rows)
}

// scaleLeast is the least of a scale that can be shown: of a straight one the
// lines without the caption.
func scaleLeast(scale []string) int {
	if len(scale) == draw.ScaleHeight {
		return len(scale) - 1
	}
	return len(scale)
}

// besideRows reports whether the circuit has room beside the rows.
func besideRows(bw, h int) bool { return bw-draw.CircuitWidth >= 33 && h >= draw.CircuitHeight }

// scaleWorth is what the scale is worth beside the rows, which are worth 45:
// more while it shows something that is not in words.
func (w *work) scaleWorth() int {
	switch w.kind {
	case enterSeries, enterFirst, enterShunt, enterShunted, enterZero:
		return 50
	}
	return 30
}

// scaleHeight is how high the scale is drawn on a page h lines high.
func scaleHeight(h int) int {
	switch {
	case h >= 50:
		return 14
	case h >= 34:
		return 9
	}
	return draw.ScaleHeight
}

// circuit is the circuit as it stands.
func (w *work) circuit() draw.Circuit {
	t := &w.theme
	st := w.state
	emf := w.table.Source.EMF
	for _, e := range w.events {
		if m, ok := e.Body.(procedure.SourceMeasured); ok && st.Struck(e.Seq) == 0 {
			emf = m.EMF
		}
	}
	c := draw.Circuit{Building: w.kind == enterWired, Laid: w.laid(), Source: quantity.Style(0).Exact(emf, quantity.Volt), K1: draw.KeyIs(w.k1()), K2: draw.KeyIs(w.k2())}
	if cl := w.counsel.Clearance; cl != nil && cl.Verdict == safety.Tap && c.K1 == draw.Closed {
		if cl.Key == "K1" {
			c.K1 = draw.Tapped
		} else if c.K2 == draw.Closed {
			c.K2 = draw.Tapped
		}
	}
	if ohm, ok := st.SeriesOhm(); ok {
		c.Series = ohms(ohm)
	}
	if ohm, ok := st.ShuntOhm(); ok {
		c.Shunt = ohms(ohm)
	}
	if w.takeable() {
		switch b := w.meant.body.(type) {
		case procedure.SeriesSet:
			c.Series = ohms(b.Ohm)
		case procedure.ShuntSet:
			c.Shunt = ohms(b.Ohm)
		}
	}
	switch w.kind {
	case enterSeries:
		c.Part = draw.SeriesBox
	case enterShunt:
		c.Part = draw.ShuntBox
	case enterFirst, enterKeep:
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
	return eventLines(w.events[max(0, len(w.events)-h):], w.state, bw, &w.theme)
}

// eventLines are events with their numbers, a line each, struck ones shown as
// struck.
func eventLines(events []procedure.Event, st *procedure.State, bw int, t *theme.Theme) []string {
	var lines []string
	for _, e := range events {
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

// listLines is the list of entries in bw cells, h lines of it about the chosen
// one, and all that is said of that one.
func (w *work) listLines(bw, h int) (lines, said []string) {
	t := &w.theme
	proposed := w.proposed()
	for i, e := range w.offered() {
		mark, style := " ", lipgloss.NewStyle()
		if i == w.listAt {
			mark, style = t.Signs.Choice, t.Selected
		}
		does := e.does
		switch why := w.whyNot(e.kind); {
		case why != "":
			does = "not now: " + why
			if i != w.listAt {
				style = t.Hint
			}
		case w.drafts[e.kind] != "":
			does = fmt.Sprintf("%q is typed", procedure.CleanText(w.drafts[e.kind], 20))
		case e.kind == proposed && !w.alone:
			does += " (proposed)"
		}
		line := t.Signs.Say(draw.Pad(e.name, 18) + does)
		if i == w.listAt && draw.Width(line)+2 > bw {
			said = draw.Styled(draw.Wrap(t.Signs.Say(does), bw), t.Hint)
		}
		for draw.Width(line)+2 > bw { // a reason is shortened by whole clauses
			n := strings.LastIndexAny(does, ";:")
			if n < 0 {
				break
			}
			does = does[:n]
			line = t.Signs.Say(draw.Pad(e.name, 18) + does)
		}
		lines = append(lines, style.Render(draw.Cut(mark+" "+line, bw, t.Signs.Dots)))
	}
	return about(lines, w.listAt, h-len(said), bw, t), said
}

// wiring is what to do and to look at before the circuit counts as checked:
// wire by wire, in the order in which they are drawn, then the rest.
func wiring(b apparatus.Bench) []string {
	boxes := "plugs that are in pressed home"
	switch series, shunt := b.SeriesBox.Kind, b.ShuntBox.Kind; {
	case series == apparatus.Decade && shunt == apparatus.Decade:
		boxes = "each dial resting in its notch"
	case series != shunt:
		boxes = "plugs pressed home, dials in their notches"
	}
	list := append([]string{"both keys open"}, draw.Wires()...)
	return append(list, boxes, "G level, away from iron", "looked over by somebody else")
}

// laid is how many wires of the list are ticked, from the first on.
func (w *work) laid() int {
	n := 0
	for n < len(draw.Wires()) && w.ticks[1+n] {
		n++
	}
	return n
}

// wiringSections are the drawing, the list beside or below it, and the
// cautions; without the drawing where the facing page has it.
func (w *work) wiringSections(bw, room int, spread bool) []section {
	t := &w.theme
	circuit := w.circuit().Draw(draw.CircuitWidth, draw.CircuitHeight, t)
	const gap = 2
	beside := !spread && bw >= draw.CircuitWidth+gap+32
	lw := bw
	if beside {
		lw = bw - draw.CircuitWidth - gap
	}
	list, at := w.checklist(lw)
	var cautions []string
	for _, c := range w.cautions(procedure.StepWiring)[1:] { // the first stands above
		cautions = append(cautions, draw.Wrap(t.Signs.Say(c.Text), bw)...)
	}
	care := section{name: "care", lines: draw.Styled(cautions, t.Hint), worth: 10, more: t.Hint.Render(t.Signs.Say("… the rest: F1"))}
	check := section{name: "check", lines: about(list, at, room, lw, t), least: min(len(list), room), worth: 80}
	switch {
	case spread:
		return []section{check, care}
	case beside:
		both := draw.Beside(circuit, draw.CircuitWidth+gap, check.lines)
		return []section{{name: "circuit", lines: both, least: len(both), worth: 80}, care}
	}
	return []section{{name: "circuit", lines: circuit, least: len(circuit), worth: 20, whole: true}, check, care}
}

// checklist is the wiring list in lw cells, and the line of it at which the
// cursor is.
func (w *work) checklist(lw int) (list []string, at int) {
	t := &w.theme
	for i, item := range wiring(w.table) {
		mark, box := " ", "["+t.Signs.Unticked+"] "
		style := lipgloss.NewStyle()
		if w.ticks[i] {
			box, style = "["+t.Signs.Ticked+"] ", t.Said
		}
		if i == w.tickAt {
			mark, at = t.Signs.Choice, len(list)
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
	return list, at
}

// behindSections is what stands behind the result: the other answers, where
// the uncertainty comes from, and what the readings point to.
func (w *work) behindSections(bw int) []section {
	a, t := w.behind(), &w.theme
	var remarks []string
	for _, r := range a.Remarks {
		remarks = append(remarks, draw.Wrap(t.Signs.Say(r), bw)...)
	}
	sections := []section{{name: "result", lines: w.lowLines(bw), least: 1, worth: 100}}
	if fs := w.findings(); len(fs) > 0 {
		sections = append(sections, section{name: "points", lines: findingLines(fs, bw, t), least: 1, worth: 95})
	}
	if s := a.Schoolbook; s != nil {
		mean := fmt.Sprintf("mean of the rows: G = %s, k = %s", quantity.Format(*s.MeanResistance, quantity.Ohm, 4), quantity.Format(*s.MeanMerit, quantity.AmperePerDivision, 4))
		sections = append(sections, section{name: "book", lines: draw.Wrap(t.Signs.Say(mean), bw), least: 1, worth: 60})
	}
	if b := a.Budget; b != nil {
		sections = append(sections,
			section{name: "u of G", lines: budgetLines(b.Resistance, quantity.Ohm, bw, t), least: min(2, len(b.Resistance)), worth: 80},
			section{name: "u of k", lines: budgetLines(b.Merit, quantity.AmperePerDivision, bw, t), least: min(2, len(b.Merit)), worth: 70})
	}
	return append(sections, section{name: "says", lines: remarks, least: min(3, len(remarks)), worth: 90, ruled: true})
}

// budgetLines lists the parts of an uncertainty, greatest first, with a bar of
// signs, at most one for every twentieth of the variance.
func budgetLines(ls []procedure.BudgetLine, unit quantity.Unit, w int, t *theme.Theme) []string {
	const words = 39
	var out []string
	for _, l := range ls {
		if l.Share < 0.0005 && len(out) > 1 {
			break // what cannot be seen
		}
		bar := strings.Repeat("=", int(math.Round(float64(max(min(w-words, 20), 0))*l.Share)))
		out = append(out, t.Signs.Say(fmt.Sprintf("%-17s %12s %5.1f %% %s", l.Input, quantity.Format(l.Contribution, unit, 2), 100*l.Share, bar)))
	}
	return out
}

// helpSections is help: every key, and the cautions of the step.
func (w *work) helpSections(bw int) []section {
	under := *w
	under.open = noSheet
	lines := helpLines(under.keymap(), bw, &w.theme)
	var cautions []string
	for _, c := range w.cautions(w.counsel.Step) {
		cautions = append(cautions, draw.Wrap(w.theme.Signs.Say(c.Text), bw)...)
	}
	how := draw.Wrap(w.theme.Signs.Say("Type what you set or read; the page says at every key how it is read, what would follow and whether the key may be closed. Nothing is written down before Enter. Every line written down is on the disk; leave when you like."), bw)
	return []section{
		{name: "keys", lines: lines, least: min(len(lines), 16), worth: 90},
		{name: "how", lines: how, worth: 50},
		{name: "care", lines: cautions, worth: 60},
	}
}
