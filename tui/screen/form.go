package screen

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
	"example.org/halve/safety"
	"example.org/halve/tui/choices"
	"example.org/halve/tui/draw"
	"example.org/halve/tui/theme"
)

// line is a line of a form: something typed, or one of some choices.
type line struct {
	section string // stands in the margin, at the first line of its section
	name    string
	how     string // what is expected
	unit    string // of a bare number
	choices []string
	at      int // the choice
	field   field
	done    bool // the last line, on which Enter writes the form down
}

func (l *line) value() string { return strings.TrimSpace(l.field.text()) }

// The lines of the bench form.
const (
	lineCell = iota
	lineEMF
	lineUEMF
	lineSourceR
	lineLabel
	lineDivisions
	lineZero
	lineStep
	lineFullScale
	lineCoil
	lineSeries
	lineSeriesList
	lineSeriesTol
	lineShunt
	lineShuntList
	lineShuntTol
	lineNames
	lineGroup
	lineDone
)

// benchForm is the page on which the instruments on the table are stated.
type benchForm struct {
	*desk
	sitting *record.Sitting // nil until the form is written down
	from    *work           // the page to go back to, nil at the start
	was     apparatus.Bench // what is not on the form stays as it was
	lines   []line
	at      int
	said    string
	helped  bool
	asks    fileAct // the name of a bench file is being asked for
	path    field
}

// fileAct is what is to be done with a bench file.
type fileAct int

const (
	noFile fileAct = iota
	fileToRead
	fileToWrite
)

func newBenchForm(d *desk, s *record.Sitting) *benchForm {
	f := &benchForm{desk: d, sitting: s}
	if s != nil {
		f.said = s.Recovered()
		if b, ok := s.State().Bench(); ok {
			f.was = b
			f.said = "a correction counts for the whole record; after a reading the coils cannot change"
		}
	}
	f.fill()
	return f
}

// fill makes the lines, with the bench as it was or the common values.
func (f *benchForm) fill() {
	text := func(section, name, how, value string) line {
		return line{section: section, name: name, how: how, field: newField(value)}
	}
	in := func(unit string, l line) line { l.unit = unit; return l }
	b := f.was
	known := b.Source.EMF > 0
	var cells []string
	for _, c := range apparatus.Cells() {
		cells = append(cells, c.Name)
	}
	cells = append(cells, otherSource)
	cell := len(cells) - 1
	if !known {
		cell = 0
		b = apparatus.Bench{
			Source:       apparatus.Cells()[0].Source(),
			Galvanometer: apparatus.Galvanometer{Divisions: choices.Divisions, Resolution: choices.Resolution},
			SeriesBox:    choices.SeriesBoxes()[0].Box,
			ShuntBox:     choices.ShuntBoxes()[0].Box,
		}
		b.SeriesBox.Tolerance, b.ShuntBox.Tolerance = choices.Tolerance, choices.Tolerance
	} else if i := slices.IndexFunc(apparatus.Cells(), func(c apparatus.Cell) bool { return c.Name == b.Source.Label }); i >= 0 {
		cell = i
	}
	zero := 0
	if !b.Galvanometer.Centre() {
		zero = 1
	}
	series, shunt := boxNames(choices.SeriesBoxes()), boxNames(choices.ShuntBoxes())
	f.lines = []line{
		lineCell:       {section: "source", name: "kind", choices: cells, at: cell},
		lineEMF:        in("V", text("", "EMF", "volt, by voltmeter or plate", plainNumber(b.Source.EMF))),
		lineUEMF:       in("V", text("", "its uncertainty", "standard uncertainty, volt", optional(b.Source.UEMF))),
		lineSourceR:    in("Ω", text("", "its resistance", "ohm; empty if it is not known", optional(b.Source.Resistance))),
		lineLabel:      text("meter", "number or name", "as it stands on the galvanometer; may be empty", b.Galvanometer.Label),
		lineDivisions:  in("div", text("", "divisions", "from zero to the end mark, one side", plainNumber(b.Galvanometer.Divisions))),
		lineZero:       {name: "zero", choices: []string{"in the centre", "at the left end"}, at: zero},
		lineStep:       in("div", text("", "read to", "the part of a division that you can estimate: 0.5, 0.25", plainNumber(b.Galvanometer.Step()))),
		lineFullScale:  in("A", text("", "full scale", "current at the end mark, such as 500 uA; empty if not known", optional(b.Galvanometer.FullScale))),
		lineCoil:       in("Ω", text("", "its resistance", "ohm, by plate or earlier record; empty if not known", optional(b.Galvanometer.Resistance))),
		lineSeries:     {section: "R box", name: "kind", choices: series, at: boxIndex(choices.SeriesBoxes(), b.SeriesBox)},
		lineSeriesList: text("", "coils or dials", "ohm: each coil, or the step of each dial", listed(b.SeriesBox)),
		lineSeriesTol:  in("%", text("", "tolerance", "percent, the limit of each coil: 1, 0.1", percentOf(b.SeriesBox.Tolerance))),
		lineShunt:      {section: "S box", name: "kind", choices: shunt, at: boxIndex(choices.ShuntBoxes(), b.ShuntBox)},
		lineShuntList:  text("", "coils or dials", "ohm: each coil, or the step of each dial", listed(b.ShuntBox)),
		lineShuntTol:   in("%", text("", "tolerance", "percent, the limit of each coil: 1, 0.1", percentOf(b.ShuntBox.Tolerance))),
		lineNames:      text("who", "names", "whose record this is; may be empty", ""),
		lineGroup:      text("", "group", "its name or number; may be empty", ""),
		lineDone:       {section: "done", name: "write it down and go on", done: true},
	}
	if !known {
		f.choose(lineCell)
	}
}

const (
	otherSource = "another source"
	otherPlug   = "another plug box"
	otherDecade = "another decade box"
)

func boxNames(boxes []choices.Box) []string {
	var names []string
	for _, b := range boxes {
		names = append(names, b.Name)
	}
	return append(names, otherPlug, otherDecade)
}

// boxIndex is the choice that a box is, one of the others if it is none of the
// common ones.
func boxIndex(boxes []choices.Box, box apparatus.Box) int {
	for i, b := range boxes {
		if b.Box.Kind == box.Kind && slices.Equal(b.Box.Coils, box.Coils) && slices.Equal(b.Box.Dials, box.Dials) {
			return i
		}
	}
	if box.Kind == apparatus.Decade {
		return len(boxes) + 1
	}
	return len(boxes)
}

func plainNumber(v float64) string { return strconv.FormatFloat(v, 'g', 7, 64) }

func optional(v *float64) string {
	if v == nil {
		return ""
	}
	return plainNumber(*v)
}

func percentOf(v float64) string { return strconv.FormatFloat(100*v, 'g', 6, 64) }

func listed(b apparatus.Box) string {
	steps := b.Coils
	if b.Kind == apparatus.Decade {
		steps = b.Dials
	}
	var words []string
	for _, v := range steps {
		words = append(words, plainNumber(v))
	}
	return strings.Join(words, " ")
}

// choose carries a choice over into the lines that it fills.
func (f *benchForm) choose(at int) {
	l := f.lines[at]
	switch at {
	case lineCell:
		if l.at < len(apparatus.Cells()) {
			s := apparatus.Cells()[l.at].Source()
			f.lines[lineEMF].field.set(plainNumber(s.EMF))
			f.lines[lineUEMF].field.set(strconv.FormatFloat(*s.UEMF, 'f', 4, 64))
		}
	case lineSeries:
		if l.at < len(choices.SeriesBoxes()) {
			f.lines[lineSeriesList].field.set(listed(choices.SeriesBoxes()[l.at].Box))
		}
	case lineShunt:
		if l.at < len(choices.ShuntBoxes()) {
			f.lines[lineShuntList].field.set(listed(choices.ShuntBoxes()[l.at].Box))
		}
	}
}

func (f *benchForm) update(msg tea.Msg) (page, tea.Cmd) {
	k, ok := msg.(tea.KeyMsg)
	if !ok {
		return f, nil
	}
	if f.helped {
		if key.Matches(k, f.keys.help, f.keys.back, f.keys.accept) {
			f.helped = false
		}
		return f, nil
	}
	if f.asks != noFile {
		f.file(k)
		return f, nil
	}
	l := &f.lines[f.at]
	switch {
	case key.Matches(k, f.keys.readFile) && f.readBench != nil:
		f.asks, f.path, f.said = fileToRead, newField(""), ""
	case key.Matches(k, f.keys.writeFile) && f.writeBench != nil:
		if _, at, err := f.read(); err != nil {
			f.at, f.said = at, "nothing to save yet: "+oneLine(err)
			return f, nil
		}
		f.asks, f.path, f.said = fileToWrite, newField(""), ""
	case key.Matches(k, f.keys.submit), l.done && key.Matches(k, f.keys.accept):
		return f.write(), nil
	case key.Matches(k, f.keys.next):
		f.at = min(f.at+1, len(f.lines)-1)
	case key.Matches(k, f.keys.before):
		f.at = max(f.at-1, 0)
	case key.Matches(k, f.keys.back):
		return f.leaveForm(), nil
	case key.Matches(k, f.keys.help) && (k.String() == "f1" || f.at != lineLabel && f.at != lineNames && f.at != lineGroup):
		f.helped = true
	case l.choices != nil:
		n := len(l.choices)
		switch {
		case key.Matches(k, f.keys.left):
			l.at = (l.at + n - 1) % n
		case key.Matches(k, f.keys.right, f.keys.tick):
			l.at = (l.at + 1) % n
		default:
			return f, nil
		}
		f.said = ""
		f.choose(f.at)
	case !l.done:
		was := l.field.text()
		l.field.typed(k)
		if l.field.text() != was {
			f.said = ""
			f.edited()
		}
	}
	return f, nil
}

// file takes a key while the name of a bench file is typed.
func (f *benchForm) file(k tea.KeyMsg) {
	switch {
	case key.Matches(k, f.keys.back):
		f.asks, f.said = noFile, ""
	case !key.Matches(k, f.keys.accept):
		f.path.typed(k)
		f.said = ""
	case strings.TrimSpace(f.path.text()) == "":
		f.said = "name the file, or Esc"
	case f.asks == fileToRead:
		b, err := f.readBench(strings.TrimSpace(f.path.text()))
		if err != nil {
			f.said = oneLine(err)
			return
		}
		names, group := f.lines[lineNames].value(), f.lines[lineGroup].value()
		f.was, f.asks = b.Bench, noFile
		f.fill()
		f.lines[lineNames].field.set(names)
		f.lines[lineGroup].field.set(group)
		f.said = "taken from the file; look it over, then Ctrl+S writes it down"
	default:
		b, _, err := f.read()
		if err == nil {
			err = f.writeBench(strings.TrimSpace(f.path.text()), procedure.Bench{Bench: b})
		}
		if err != nil {
			f.said = oneLine(err)
			return
		}
		f.asks, f.said = noFile, "saved as "+procedure.CleanText(strings.TrimSpace(f.path.text()), maxEntry)
	}
}

// edited turns the choice to "another" where its values were changed by hand.
func (f *benchForm) edited() {
	other := func(at int, boxes []choices.Box) {
		l := &f.lines[at]
		if l.at < len(boxes) {
			decade := boxes[l.at].Box.Kind == apparatus.Decade
			if l.at = len(boxes); decade {
				l.at++
			}
		}
	}
	switch f.at {
	case lineSeriesList:
		other(lineSeries, choices.SeriesBoxes())
	case lineShuntList:
		other(lineShunt, choices.ShuntBoxes())
	}
}

// leaveForm goes back to where the form was opened.
func (f *benchForm) leaveForm() page {
	if f.from != nil {
		return f.from
	}
	if f.sitting != nil {
		f.said = "the practical begins with its instruments; Ctrl+C leaves"
		return f
	}
	return newStart(f.desk)
}

// read puts the bench together, or says what is wrong at which line.
func (f *benchForm) read() (b apparatus.Bench, at int, err error) {
	b = f.was
	for i := range f.lines {
		if err := f.readLine(i, &b); err != nil {
			return b, i, err
		}
	}
	return b, 0, nil
}

// readLine reads one line into its place on the bench.
func (f *benchForm) readLine(i int, b *apparatus.Bench) error {
	l := &f.lines[i]
	number := func(to *float64, unit quantity.Unit) error {
		v, err := quantity.Parse(l.value(), unit)
		*to = v
		return err
	}
	perhaps := func(to **float64, unit quantity.Unit) error {
		if l.value() == "" {
			*to = nil
			return nil
		}
		v, err := quantity.Parse(l.value(), unit)
		*to = &v
		return err
	}
	switch i {
	case lineCell:
		if b.Source.Label = ""; l.at < len(apparatus.Cells()) {
			b.Source.Label = apparatus.Cells()[l.at].Name
		} else if f.was.Source.EMF > 0 {
			b.Source.Label = f.was.Source.Label
		}
	case lineEMF:
		return number(&b.Source.EMF, quantity.Volt)
	case lineUEMF:
		return perhaps(&b.Source.UEMF, quantity.Volt)
	case lineSourceR:
		return perhaps(&b.Source.Resistance, quantity.Ohm)
	case lineLabel:
		b.Galvanometer.Label = procedure.CleanText(l.value(), apparatus.MaxLabel)
	case lineDivisions:
		return number(&b.Galvanometer.Divisions, quantity.Division)
	case lineZero:
		if b.Galvanometer.Zero = apparatus.CentreZero; l.at == 1 {
			b.Galvanometer.Zero = apparatus.LeftZero
		}
	case lineStep:
		return number(&b.Galvanometer.Resolution, quantity.Division)
	case lineFullScale:
		return perhaps(&b.Galvanometer.FullScale, quantity.Ampere)
	case lineCoil:
		return perhaps(&b.Galvanometer.Resistance, quantity.Ohm)
	case lineSeries, lineShunt:
		box := &b.SeriesBox
		if i == lineShunt {
			box = &b.ShuntBox
		}
		if box.Kind = apparatus.Plug; strings.Contains(l.choices[l.at], "decade") {
			box.Kind = apparatus.Decade
		}
	case lineSeriesList:
		return readList(l.value(), &b.SeriesBox)
	case lineShuntList:
		return readList(l.value(), &b.ShuntBox)
	case lineSeriesTol, lineShuntTol:
		box := &b.SeriesBox
		if i == lineShuntTol {
			box = &b.ShuntBox
		}
		err := number(&box.Tolerance, quantity.Percent)
		box.Tolerance /= 100
		return errors.Join(err, box.Validate())
	}
	return nil
}

// readList reads the coils or the dials of a box.
func readList(text string, box *apparatus.Box) error {
	var steps []float64
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ';' || r == '+' }) {
		v, err := quantity.Parse(strings.TrimSuffix(word, ","), quantity.Ohm)
		if err != nil {
			return err
		}
		steps = append(steps, v)
	}
	if len(steps) == 0 {
		return errors.New("list the resistances of the box in ohm: 1 2 2 5 10 20 20 50")
	}
	box.Coils, box.Dials = steps, nil
	if box.Kind == apparatus.Decade {
		box.Coils, box.Dials = nil, steps
	}
	return nil
}

// write writes the form down and goes on to the practical.
func (f *benchForm) write() page {
	b, at, err := f.read()
	if err != nil {
		f.at = at
		f.said = "not written down: this line first"
		return f
	}
	opened := false
	if f.sitting == nil {
		s, err := record.BeginIn(f.dataDir, f.now, f.newID)
		if err != nil {
			f.said = oneLine(err)
			return f
		}
		f.sitting, opened = s, true
		f.opened = s
	}
	c, err := f.sitting.Accept(procedure.Bench{Bench: b})
	switch {
	case err != nil:
		f.said = oneLine(err)
		return f
	case c.Refused != nil:
		f.said = "refused: " + *c.Refused
		return f
	}
	who := procedure.Who{Names: f.lines[lineNames].value(), Group: f.lines[lineGroup].value()}
	said := "the instruments are written down"
	if who.Names != "" || who.Group != "" {
		if _, err := f.sitting.Accept(who); err != nil {
			said = oneLine(err)
		}
	}
	w := newWork(f.desk, f.sitting)
	if opened && f.sitting.Path() != "" {
		said += "; record: " + f.sitting.Path()
	}
	w.tell(said, false)
	return w
}

// oneLine makes an error a line that can be shown.
func oneLine(err error) string { return procedure.CleanText(err.Error(), maxEntry) }

func (f *benchForm) head() []string {
	if f.from != nil {
		return []string{"the instruments, corrected"}
	}
	return []string{"the instruments on the table"}
}

func (f *benchForm) safety() string { return "keys open" }

func (f *benchForm) unsaid() string {
	if f.at != 0 && f.sitting == nil {
		return "the form"
	}
	return ""
}

func (f *benchForm) keymap() []key.Binding {
	ks := f.keys
	if f.helped {
		return []key.Binding{ks.back}
	}
	if f.asks != noFile {
		return []key.Binding{named(ks.accept, "take it"), ks.back, ks.leave}
	}
	bs := []key.Binding{ks.move, ks.submit}
	if f.lines[f.at].done {
		bs = []key.Binding{ks.move, ks.accept}
	}
	if f.lines[f.at].choices != nil {
		bs = append(bs, ks.turn)
	}
	return append(bs, ks.back, ks.help, ks.readFile, ks.writeFile, ks.leave)
}

func (f *benchForm) spine(w int) int { return spineAt(w) }

func (f *benchForm) body(w, h int) []string {
	if spine := f.spine(w); spine > 0 {
		c := draw.Circuit{}
		if v, err := quantity.Parse(f.lines[lineEMF].value(), quantity.Volt); err == nil {
			c.Source = f.theme.Signs.Say(quantity.Style(0).Exact(v, quantity.Volt))
		}
		return spread(f.page(spine-1, h), spine, f.benchFacing(c, w-spine, h))
	}
	return f.page(w, h)
}

// page is the form itself.
func (f *benchForm) page(w, h int) []string {
	t := &f.theme
	bw := bodyWidth(w)
	if f.helped {
		how := draw.Wrap(t.Signs.Say("State what lies on the table. What the plate does not say may stay empty: the program then asks for more caution. Quantities are written as people write them: 4k7, 820R, 18 uA, 1500 mV."), bw)
		var cautions []string
		for _, c := range safety.Cautions(string(procedure.StepBench)) {
			cautions = append(cautions, draw.Wrap(t.Signs.Say(c.Text), bw)...)
		}
		return ledger([]section{
			{name: "keys", lines: helpLines(f.shown().keymap(), bw, t), worth: 90},
			{name: "how", lines: how, worth: 80},
			{name: "care", lines: cautions, worth: 70},
		}, w, h, t)
	}
	foot := f.footLines(bw)
	sections := lineSections(f.lines, f.at, bw, max(h-len(foot)-1, 1), t)
	// The lines of the form stand close together.
	page := ledger(sections, w, len(sections), t)
	return append(page, ledger([]section{{name: "so", lines: foot, least: 1, worth: 90, ruled: true}}, w, h-len(page), t)...)
}

func (f *benchForm) shown() *benchForm {
	open := *f
	open.helped = false
	return &open
}

// view draws a line of a form, with the cursor on it or not.
func (l *line) view(here bool, bw int, t *theme.Theme) string {
	const nameWidth = 18
	mark, style := " ", t.Hint
	if here {
		mark, style = t.Signs.Choice, t.Selected
	}
	name := style.Render(mark + " " + draw.Pad(l.name, nameWidth-2))
	room := bw - nameWidth
	switch {
	case l.done:
		return style.Render(mark + " " + l.name)
	case l.choices != nil:
		says := t.Signs.Say(l.choices[l.at])
		for n := strings.LastIndex(says, ", "); n > 0 && draw.Width(says) > room-4; n = strings.LastIndex(says, ", ") {
			says = says[:n] // shortened by whole clauses
		}
		choice := t.Value.Render(draw.Cut(says, room-4, t.Signs.Dots))
		if here {
			return name + t.Signs.Less + " " + choice + " " + t.Signs.More
		}
		return name + choice
	case !here && l.value() == "":
		return name + t.Hint.Render("not stated")
	}
	unit := ""
	if _, err := strconv.ParseFloat(l.value(), 64); err == nil && l.unit != "" {
		unit = t.Signs.Say(" " + l.unit)
	}
	room -= draw.Width(unit)
	if here {
		return name + l.field.view(room, t) + t.Hint.Render(unit)
	}
	return name + t.Value.Render(draw.Cut(t.Signs.Say(l.value()), room, t.Signs.Dots)+unit)
}

// footLines says what is expected at the line and how it is read.
func (f *benchForm) footLines(bw int) []string {
	t := &f.theme
	if f.asks != noFile {
		name, says := "start from", "the path of a bench file, such as bench-7.json; what is on the form gives way to it"
		if f.asks == fileToWrite {
			name, says = "save as", "the path of the bench file, such as bench-7.json; it must not be there yet"
		}
		lines := append([]string{t.Value.Render(name) + "  " + f.path.view(bw-draw.Width(name)-2, t)},
			draw.Styled(draw.Wrap(t.Signs.Say(says), bw), t.Hint)...)
		if f.said != "" {
			lines = append(lines, draw.Styled(draw.Wrap(t.Signs.Say("! "+f.said), bw), t.Odd)...)
		}
		return lines
	}
	l := &f.lines[f.at]
	b := f.was
	var says []string
	if l.how != "" {
		says = append(says, l.how)
	}
	style := t.Hint
	wrong := f.readAll(&b)
	if err := wrong[f.at]; err != nil {
		says, style = []string{"not yet: " + oneLine(err)}, t.Odd
	} else if read := f.reads(&b, wrong); read != "" {
		says = append(says, read)
	}
	lines := draw.Styled(draw.Wrap(t.Signs.Say(strings.Join(says, ". ")), bw), style)
	if f.said != "" {
		lines = append(lines, draw.Styled(draw.Wrap(t.Signs.Say("! "+f.said), bw), t.Odd)...)
	}
	return lines
}

// readAll reads every line, so that the one the cursor is on can be told in
// the light of the others, and returns what is wrong with each.
func (f *benchForm) readAll(b *apparatus.Bench) []error {
	wrong := make([]error, len(f.lines))
	for i := range f.lines {
		wrong[i] = f.readLine(i, b)
	}
	return wrong
}

// reads says how the line the cursor is on was read; nothing where that hangs
// on another line that cannot be read.
func (f *benchForm) reads(b *apparatus.Bench, wrong []error) string {
	exact := quantity.Style(0).Exact
	switch f.at {
	case lineCell, lineEMF, lineUEMF:
		if wrong[lineEMF] != nil || wrong[lineUEMF] != nil {
			return ""
		}
		highest := b.Source.EMF
		if b.Source.UEMF != nil {
			highest += 3 * *b.Source.UEMF
		} else if f.at == lineCell {
			return ""
		}
		question, err := safety.SourceRange(highest)
		if err != nil {
			return oneLine(err)
		}
		if highest > 0 {
			return strings.TrimSpace("Clearances allow for " + quantity.Format(highest, quantity.Volt, 3) + ". " + question)
		}
	case lineDivisions, lineZero:
		if wrong[lineDivisions] != nil {
			return ""
		}
		if b.Galvanometer.Centre() {
			return fmt.Sprintf("Read as a scale %s-0-%[1]s", bare(b.Galvanometer.Divisions))
		}
		return fmt.Sprintf("Read as a scale 0-%s", bare(b.Galvanometer.Divisions))
	case lineFullScale:
		if v := b.Galvanometer.FullScale; v != nil {
			return "Read as " + quantity.Format(*v, quantity.Ampere, 4)
		}
	case lineCoil:
		if v := b.Galvanometer.Resistance; v != nil {
			return "Read as " + exact(*v, quantity.Ohm)
		}
	case lineSourceR:
		if v := b.Source.Resistance; v != nil {
			return "Read as " + exact(*v, quantity.Ohm)
		}
	case lineSeries, lineSeriesList:
		if wrong[lineSeriesList] == nil {
			return total(b.SeriesBox)
		}
	case lineShunt, lineShuntList:
		if wrong[lineShuntList] == nil {
			return total(b.ShuntBox)
		}
	}
	return ""
}

// total says how much a box makes in all.
func total(b apparatus.Box) string {
	r, err := apparatus.NewRange(b)
	if err != nil {
		return ""
	}
	return ohms(r.Max()) + " in all, from " + ohms(r.Least()) + " up"
}
