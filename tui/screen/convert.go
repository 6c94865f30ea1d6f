package screen

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"example.org/halve/physics/convert"
	"example.org/halve/physics/preferred"
	"example.org/halve/physics/quantity"
	"example.org/halve/safety"
	"example.org/halve/tui/conversion"
	"example.org/halve/tui/draw"
)

// convertPage is the page on which a movement is made into a meter, with what
// comes of it below while it is typed.
type convertPage struct {
	*desk
	single
	fill
	from   page
	taken  *conversion.Wanted // the movement of a record, nil where it is typed
	said   string
	helped bool
	top    int // the first line shown of what comes of it
	room   int // how many lines of it are shown
}

// The lines of the page.
const (
	convertKind = iota
	convertRecord
	convertResistance
	convertFullScale
	convertRanges
	convertSeries
	convertSource
	convertSwamp
	convertRise
	convertWithin
	convertMetal
	convertGauge
)

// convertKinds are the choices of the first line.
func convertKinds() []convert.Kind {
	return []convert.Kind{convert.Ammeter, convert.Universal, convert.Voltmeter, convert.Chain}
}

func newConvertPage(d *desk, from page) *convertPage {
	var series []string
	at := 0
	for i, s := range preferred.All() {
		series = append(series, s.String())
		if s == conversion.Series {
			at = i
		}
	}
	var metals []string
	metal := 0
	for i, m := range convert.Metals() {
		metals = append(metals, m.Name)
		if m.Name == conversion.Metal {
			metal = i
		}
	}
	c := &convertPage{desk: d, from: from}
	c.lines = []line{
		convertKind:       {section: "become", name: "the meter", choices: []string{"ammeter, a shunt for each range", "ammeter, universal shunt", "voltmeter, a multiplier for each range", "voltmeter, multipliers in a chain"}},
		convertRecord:     text("from", "a record", "its path; Enter takes G and the full scale from it, with their uncertainties", ""),
		convertResistance: text("", "or G", "the movement's resistance: 92.5", ""),
		convertFullScale:  text("", "and full scale", "the current for the last mark: 555 uA", ""),
		convertRanges:     text("ranges", "full scales", "one or more, with semicolons between them: 100 mA; 1; 10", ""),
		convertSeries:     {name: "resistors of", choices: series, at: at},
		convertSource:     text("", "loading on", "the resistance of the source, or of the loop, to be measured; may be empty", ""),
		convertSwamp:      text("", "swamp", "a resistor in series with the coil against warmth; may be empty", ""),
		convertRise:       text("", "coil warmer by", fmt.Sprintf("kelvin; empty for %g", conversion.Rise), ""),
		convertWithin:     text("", "error left", fmt.Sprintf("what a swamping resistor is to leave of it; empty for %g %%", 100*conversion.Within), ""),
		convertMetal:      {section: "wire", name: "of", choices: metals, at: metal},
		convertGauge:      text("", "gauge", "SWG 22, AWG 22 or 0.5 mm; empty for one that carries the current", ""),
	}
	return c
}

// errNotYet says that there is nothing to work out yet.
var errNotYet = errors.New("give G, the full scale and a range")

// wanted is what is typed; at is the line that is at fault.
func (c *convertPage) wanted() (w conversion.Wanted, at int, err error) {
	if w, err = conversion.Usual(convertKinds()[c.lines[convertKind].at]); err != nil {
		return w, c.at, err
	}
	w.Series = preferred.All()[c.lines[convertSeries].at]
	if c.taken != nil {
		w.Movement, w.From = c.taken.Movement, c.taken.From
	}
	for _, l := range []struct {
		at       int
		unit     quantity.Unit
		to       *float64
		required bool
	}{
		{convertResistance, quantity.Ohm, &w.Movement.Resistance, c.taken == nil},
		{convertFullScale, quantity.Ampere, &w.Movement.FullScale, c.taken == nil},
		{convertSource, quantity.Ohm, &w.Source, false},
		{convertSwamp, quantity.Ohm, &w.Movement.Swamp, false},
	} {
		switch text := c.lines[l.at].value(); {
		case text == "" && l.required:
			return w, l.at, errNotYet
		case text != "" && (l.required || l.at == convertSource || l.at == convertSwamp):
			if *l.to, err = quantity.Parse(text, l.unit); err != nil {
				return w, l.at, err
			}
		}
	}
	w.Metal = convert.Metals()[c.lines[convertMetal].at]
	if text := c.lines[convertRise].value(); text != "" {
		if w.Rise, err = conversion.ParseRise(text); err != nil {
			return w, convertRise, err
		}
	}
	if text := c.lines[convertWithin].value(); text != "" {
		if w.Within, err = conversion.ParseWithin(text); err != nil {
			return w, convertWithin, err
		}
	}
	if text := c.lines[convertGauge].value(); text != "" {
		g, err := convert.ParseGauge(text)
		if err != nil {
			return w, convertGauge, err
		}
		w.Gauge = &g
	}
	for _, text := range strings.Split(c.lines[convertRanges].value(), ";") {
		if text = strings.TrimSpace(text); text == "" {
			continue
		}
		v, err := quantity.Parse(text, w.Kind.Unit())
		if err != nil {
			return w, convertRanges, err
		}
		w.Ranges = append(w.Ranges, v)
	}
	if len(w.Ranges) == 0 {
		return w, convertRanges, errNotYet
	}
	return w, convertRanges, nil
}

func (c *convertPage) update(msg tea.Msg) (page, tea.Cmd) {
	k, ok := msg.(tea.KeyMsg)
	if !ok {
		return c, nil
	}
	switch {
	case c.helped:
		c.helped = !key.Matches(k, c.keys.help, c.keys.back, c.keys.accept)
	case key.Matches(k, c.keys.back):
		return c.from, nil
	case key.Matches(k, c.keys.help) && (k.String() == "f1" || c.at != convertRecord):
		c.helped = true
	case key.Matches(k, c.keys.pageUp):
		c.top = max(c.top-max(c.room-1, 1), 0)
	case key.Matches(k, c.keys.pageDown):
		c.top += max(c.room-1, 1)
	case c.at == convertRecord && key.Matches(k, c.keys.accept) && c.lines[convertRecord].value() != "":
		c.takeRecord()
	default:
		if _, changed := c.press(k, c.keys); changed {
			c.said, c.top = "", 0
			if c.at == convertResistance || c.at == convertFullScale {
				c.taken = nil // another movement is typed
			}
		}
	}
	return c, nil
}

// takeRecord takes the movement from the record that is named.
func (c *convertPage) takeRecord() {
	var w conversion.Wanted
	if err := w.FromRecord(c.lines[convertRecord].value()); err != nil {
		c.said = oneLine(err)
		return
	}
	c.taken, c.said = &w, ""
	c.lines[convertResistance].field.set(plainNumber(w.Movement.Resistance))
	c.lines[convertFullScale].field.set(plainNumber(w.Movement.FullScale))
	c.at = convertRanges
}

func (c *convertPage) head() []string { return []string{"a meter of a movement"} }
func (c *convertPage) safety() string { return "nothing is connected" }
func (c *convertPage) unsaid() string { return "" }

func (c *convertPage) keymap() []key.Binding {
	if c.helped {
		return []key.Binding{c.keys.back}
	}
	bs := []key.Binding{c.keys.move}
	if c.lines[c.at].choices != nil {
		bs = append(bs, c.keys.turn)
	}
	return append(bs, c.keys.pageDown, c.keys.pageUp, c.keys.back, c.keys.help, c.keys.leave)
}

func (c *convertPage) body(w, h int) []string {
	t := &c.theme
	bw := bodyWidth(w)
	if c.helped {
		open := *c
		open.helped = false
		how := draw.Wrap(t.Signs.Say("What is typed is worked out at once. The nearest preferred value stands below the exact one, then the best two in series or in parallel, and what each leaves of an error at full scale. A range that cannot be had is refused with the reason."), bw)
		return ledger([]section{
			{name: "keys", lines: helpLines(open.keymap(), bw, t), worth: 90},
			{name: "how", lines: how, worth: 80},
		}, w, h, t)
	}
	hint := draw.Styled(draw.Wrap(t.Signs.Say(c.lines[c.at].how), bw), t.Hint)
	if c.said != "" {
		hint = draw.Styled(draw.Wrap(t.Signs.Say("! "+c.said), bw), t.Odd)
	}
	sections := c.sections(bw, max(h*2/5, 5), c.desk)
	page := ledger(sections, w, len(sections), t) // the lines of a form stand close together
	out := c.outcome(bw)
	c.room = max(h-len(page)-len(hint)-2, 1)
	c.top = min(c.top, max(len(out)-c.room, 0))
	out = out[c.top:min(c.top+c.room, len(out))]
	return append(page, ledger([]section{
		{name: "so", lines: hint, least: len(hint), worth: 90, ruled: true},
		{name: "meter", lines: out, least: 1, worth: 80, ruled: true},
	}, w, h-len(page), t)...)
}

// outcome is what comes of what is typed.
func (c *convertPage) outcome(bw int) []string {
	t := &c.theme
	say := func(text string) []string { return draw.Wrap(t.Signs.Say(text), bw) }
	w, at, err := c.wanted()
	if errors.Is(err, errNotYet) {
		return draw.Styled(say(oneLine(err)), t.Hint)
	}
	if err != nil {
		return draw.Styled(say("not yet, "+c.lines[at].name+": "+oneLine(err)), t.Odd)
	}
	d, err := w.Design()
	if err != nil {
		return draw.Styled(say(oneLine(err)), t.Odd)
	}
	var lines []string
	for _, l := range fitting(w, d, bw) {
		lines = append(lines, draw.Cut(t.Signs.Say(l), bw, t.Signs.Dots))
	}
	lines = append(lines, "")
	for _, l := range w.Head() {
		lines = append(lines, say(l)...)
	}
	for _, l := range w.Remarks(d) {
		lines = append(lines, say(l)...)
	}
	for _, k := range safety.ConversionCautions(d) {
		lines = append(lines, draw.Styled(say("mind: "+k.Text), t.Odd)...)
	}
	return lines
}

// fitting is the table with as many ranges beside each other as fit.
func fitting(w conversion.Wanted, d convert.Design, bw int) []string {
	for n := len(d.Steps); ; n-- {
		table := w.Table(d, n)
		if n == 1 || !slices.ContainsFunc(table, func(l string) bool { return draw.Width(l) > bw }) {
			return table
		}
	}
}
