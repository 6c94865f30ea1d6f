package screen

import (
	"errors"
	"fmt"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/metercheck"
	"example.org/halve/procedure/record"
	"example.org/halve/tui/draw"
)

// meterForm is the page on which a meter under test, the reference and the
// source are stated.
type meterForm struct {
	*desk
	single
	fill
	sitting *record.MeterSitting // nil until the form is written down
	from    *meterWork           // the page to go back to, nil at the start
	was     metercheck.Bench
	said    string
	helped  bool
}

// The lines of the form.
const (
	meterKind = iota
	meterRange
	meterDivisions
	meterZero
	meterClass
	meterFiducial
	meterStep
	meterLabel
	referenceLabel
	referenceU
	referenceMost
	sourceMost
	sourceVolts
	meterNames
	meterGroup
	meterDone
)

func newMeterForm(d *desk, s *record.MeterSitting) *meterForm {
	f := &meterForm{desk: d, sitting: s, was: metercheck.Bench{MeterKind: metercheck.Ammeter, Divisions: 100, Zero: apparatus.LeftZero, Resolution: 0.2}}
	if s != nil {
		f.said = s.Recovered()
		if b, ok := s.State().Bench(); ok {
			f.was = b
		}
	}
	b := f.was
	perhaps := func(v float64) string {
		if v == 0 {
			return ""
		}
		return plainNumber(v)
	}
	volts := 0.0
	if b.InAmperes() && b.Source.MaxV != nil {
		volts = *b.Source.MaxV
	}
	kind, zero := 0, 0
	if !b.InAmperes() {
		kind = 1
	}
	if b.Centre() {
		zero = 1
	}
	f.lines = []line{
		meterKind:      {section: "meter", name: "kind", choices: []string{metercheck.Ammeter, metercheck.Voltmeter}, at: kind},
		meterRange:     text("", "range", "what the last mark stands for: 10 A, 500 mV", perhaps(b.Range())),
		meterDivisions: text("", "divisions", "from zero to the last mark, one side", perhaps(b.Divisions)),
		meterZero:      {name: "zero", choices: []string{"at the left end", "in the centre"}, at: zero},
		meterClass:     text("", "class", "the index on the dial, such as 1.5; empty if none is marked", perhaps(b.Class)),
		meterFiducial:  text("", "in percent of", "the fiducial value, if the dial says another than the range, or both halves of a scale with its zero in the centre", perhaps(b.Meter().Fiducial)),
		meterStep:      text("", "read to", "the part of a division that you can estimate: 0.5, 0.2", perhaps(b.Step())),
		meterLabel:     text("", "number or name", "as it stands on the meter; may be empty", b.Label),
		referenceLabel: text("ref", "number or name", "of the better meter; may be empty", b.Reference.Label),
		referenceU:     text("", "its uncertainty", "standard: half of the expanded one (95 %) on its certificate", perhaps(b.UReference())),
		referenceMost:  text("", "rated for", "the most that the reference may carry; empty if not known", perhaps(b.ReferenceMax())),
		sourceMost:     text("source", "at the most", "what it can drive through or put across the meter; empty if not known", perhaps(b.SourceMax())),
		sourceVolts:    text("", "volts", "of an ammeter's source, at the most; empty if not known", perhaps(volts)),
		meterNames:     text("who", "names", "whose record this is; may be empty", ""),
		meterGroup:     text("", "group", "its name or number; may be empty", ""),
		meterDone:      {section: "done", name: "write it down and go on", done: true},
	}
	return f
}

// read puts the bench together, or says what is wrong at which line.
func (f *meterForm) read() (b metercheck.Bench, at int, err error) {
	b.MeterKind = f.lines[meterKind].choices[f.lines[meterKind].at]
	b.Source.Label = f.was.Source.Label
	volts := &b.Source.MaxV
	if !b.InAmperes() {
		b.Source.MaxA, volts = f.was.Source.MaxA, new(*float64)
		if f.lines[sourceVolts].value() != "" {
			return b, sourceVolts, errors.New("of a voltmeter's source the line above says it: this one stays empty")
		}
	}
	if b.Zero = apparatus.LeftZero; f.lines[meterZero].at == 1 {
		b.Zero = apparatus.CentreZero
	}
	b.Label, b.Reference.Label = f.lines[meterLabel].value(), f.lines[referenceLabel].value()
	side := func(a, v **float64) **float64 {
		if b.InAmperes() {
			return a
		}
		return v
	}
	for _, l := range []struct {
		at       int
		unit     quantity.Unit
		to       *float64
		maybe    **float64
		required bool
	}{
		{meterRange, b.Unit(), nil, side(&b.RangeA, &b.RangeV), true},
		{meterDivisions, quantity.Division, &b.Divisions, nil, true},
		{meterClass, quantity.Number, &b.Class, nil, false},
		{meterFiducial, b.Unit(), nil, side(&b.FiducialA, &b.FiducialV), false},
		{meterStep, quantity.Division, &b.Resolution, nil, true},
		{referenceU, b.Unit(), nil, side(&b.Reference.UA, &b.Reference.UV), true},
		{referenceMost, b.Unit(), nil, side(&b.Reference.MaxA, &b.Reference.MaxV), false},
		{sourceMost, b.Unit(), nil, side(&b.Source.MaxA, &b.Source.MaxV), false},
		{sourceVolts, quantity.Volt, nil, volts, false},
	} {
		if f.lines[l.at].value() == "" && !l.required {
			continue
		}
		v, err := quantity.Parse(f.lines[l.at].value(), l.unit)
		if err != nil {
			return b, l.at, err
		}
		if l.to != nil {
			*l.to = v
		} else {
			*l.maybe = &v
		}
	}
	return b, f.at, b.Check()
}

func (f *meterForm) update(msg tea.Msg) (page, tea.Cmd) {
	k, ok := msg.(tea.KeyMsg)
	if !ok {
		return f, nil
	}
	words := f.at == meterLabel || f.at == referenceLabel || f.at == meterNames || f.at == meterGroup
	switch {
	case f.helped:
		f.helped = !key.Matches(k, f.keys.help, f.keys.back, f.keys.accept)
	case key.Matches(k, f.keys.submit), f.lines[f.at].done && key.Matches(k, f.keys.accept):
		return f.write(), nil
	case key.Matches(k, f.keys.back):
		return f.leaveForm(), nil
	case key.Matches(k, f.keys.help) && (k.String() == "f1" || !words):
		f.helped = true
	default:
		if _, changed := f.press(k, f.keys); changed {
			f.said = ""
		}
	}
	return f, nil
}

// leaveForm goes back to where the form was opened.
func (f *meterForm) leaveForm() page {
	switch {
	case f.from != nil:
		return f.from
	case f.sitting != nil:
		f.said = "the check begins with its instruments; Ctrl+C leaves"
		return f
	}
	return newStart(f.desk)
}

// write writes the form down and goes on to the check.
func (f *meterForm) write() page {
	b, at, err := f.read()
	if err != nil {
		f.at, f.said = at, "not written down: "+oneLine(err)
		return f
	}
	said := "the instruments are written down"
	if f.sitting == nil {
		s, err := record.ForMeterCheck().BeginIn(f.dataDir, f.now, f.newID)
		if err != nil {
			f.said = oneLine(err)
			return f
		}
		f.sitting, f.openedMeter = s, s
		said += "; record: " + s.Path()
	}
	c, err := f.sitting.Accept(b)
	switch {
	case err != nil:
		f.said = oneLine(err)
		return f
	case c.Refused != nil:
		f.said = "refused: " + *c.Refused
		return f
	}
	who := procedure.Who{Names: f.lines[meterNames].value(), Group: f.lines[meterGroup].value()}
	if who.Names != "" || who.Group != "" {
		if c, err := f.sitting.Accept(who); err != nil {
			said = oneLine(err)
		} else if c.Refused != nil {
			said += ", but not the names: " + *c.Refused
		}
	}
	w := newMeterWork(f.desk, f.sitting, nil)
	if f.from != nil {
		w.hand = f.from.hand
	}
	w.tell(said, false)
	return w
}

func (f *meterForm) head() []string { return []string{"meter check: the instruments on the table"} }
func (f *meterForm) safety() string { return "source off" }

func (f *meterForm) unsaid() string {
	if f.at != 0 && f.sitting == nil {
		return "the form"
	}
	return ""
}

func (f *meterForm) keymap() []key.Binding {
	if f.helped {
		return []key.Binding{f.keys.back}
	}
	bs := []key.Binding{f.keys.move}
	if f.lines[f.at].choices != nil {
		bs = append(bs, f.keys.turn)
	}
	return append(bs, f.keys.submit, f.keys.back, f.keys.help, f.keys.leave)
}

func (f *meterForm) body(w, h int) []string {
	t := &f.theme
	bw := bodyWidth(w)
	if f.helped {
		open := *f
		open.helped = false
		how := draw.Wrap(t.Signs.Say("State what lies on the table: the meter under test, the better one beside it, and what drives both. Quantities are written as people write them: 500 mV, 10 A, 15 mA."), bw)
		return ledger([]section{
			{name: "keys", lines: helpLines(open.keymap(), bw, t), worth: 90},
			{name: "how", lines: how, worth: 80},
			{name: "care", lines: f.careLines(bw), worth: 70},
		}, w, h, t)
	}
	foot := f.footLines(bw)
	sections := f.sections(bw, max(h-len(foot)-1, 1), f.desk)
	page := ledger(sections, w, len(sections), t) // the lines of a form stand close together
	return append(page, ledger([]section{
		{name: "so", lines: foot, least: 1, worth: 90, ruled: true},
		{name: "care", lines: f.careLines(bw), worth: 20, ruled: true},
	}, w, h-len(page), t)...)
}

func (f *meterForm) careLines(bw int) []string {
	b, _, _ := f.read()
	var out []string
	for _, c := range b.Cautions(metercheck.StepBench) {
		out = append(out, draw.Wrap(f.theme.Signs.Say(c.Text), bw)...)
	}
	return out
}

// footLines says what is expected at the line and how it is read.
func (f *meterForm) footLines(bw int) []string {
	t := &f.theme
	says, style := f.lines[f.at].how, t.Hint
	b, at, err := f.read()
	switch {
	case err != nil && at == f.at && f.lines[at].value() != "":
		says, style = "not yet: "+oneLine(err), t.Odd
	case err == nil && f.lines[f.at].done:
		says = "Enter writes it down"
	case err == nil && (f.at == referenceU || f.at == meterClass) && b.Class > 0:
		says += fmt.Sprintf(". The class limit is %.1f times the reference's uncertainty; 5 is asked for", b.Meter().Limit()/(2*b.UReference()))
	}
	lines := draw.Styled(draw.Wrap(t.Signs.Say(says), bw), style)
	if f.said != "" {
		lines = append(lines, draw.Styled(draw.Wrap(t.Signs.Say("! "+f.said), bw), t.Odd)...)
	}
	return lines
}
