package screen

import (
	"fmt"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"example.org/halve/procedure"
	"example.org/halve/safety"
	"example.org/halve/tui/draw"
)

// start is the first page: what to begin with.
type start struct {
	*desk
	at     int
	said   string
	helped bool
}

func newStart(d *desk) *start { return &start{desk: d} }

// startKind is a line of the start page.
type startKind int

// The lines of the start page.
const (
	startNew startKind = iota
	startResume
	startPractise
	startMeter
	startConvert
)

// kinds are the lines that there are.
func (s *start) kinds() []startKind {
	if s.practise == nil {
		return []startKind{startNew, startResume, startMeter, startConvert}
	}
	return []startKind{startNew, startResume, startPractise, startMeter, startConvert}
}

func (s *start) items() []string {
	var items []string
	for _, k := range s.kinds() {
		items = append(items, map[startKind]string{
			startNew:      "begin a practical at the bench",
			startResume:   "go on with a record, or read it",
			startPractise: "practise on a simulated bench",
			startMeter:    "check a panel meter against a better one",
			startConvert:  "make an ammeter or a voltmeter of a movement",
		}[k])
	}
	return items
}

func (s *start) update(msg tea.Msg) (page, tea.Cmd) {
	k, ok := msg.(tea.KeyMsg)
	if !ok {
		return s, nil
	}
	n := len(s.items())
	switch {
	case s.helped:
		s.helped = !key.Matches(k, s.keys.help, s.keys.back, s.keys.accept)
	case key.Matches(k, s.keys.help):
		s.helped = true
	case key.Matches(k, s.keys.accept):
		return s.open(s.at)
	case key.Matches(k, s.keys.next):
		s.at = (s.at + 1) % n
	case key.Matches(k, s.keys.before):
		s.at = (s.at + n - 1) % n
	case k.Type == tea.KeyRunes && !k.Paste && len(k.Runes) == 1:
		if i := int(k.Runes[0] - '1'); i >= 0 && i < n {
			s.at = i
			return s.open(i)
		}
	}
	return s, nil
}

func (s *start) open(item int) (page, tea.Cmd) {
	switch s.kinds()[item] {
	case startNew:
		return newBenchForm(s.desk, nil), nil
	case startResume:
		r := newRecords(s.desk)
		return r, command(r.read)
	case startMeter:
		return newMeterForm(s.desk, nil), nil
	case startConvert:
		return newConvertPage(s.desk, s), nil
	case startPractise:
		sitting, bench, err := s.practise()
		if err != nil {
			s.said = oneLine(err)
			return s, nil
		}
		s.opened = sitting
		return sittingPage(s.desk, sitting, bench), nil
	}
	return s, nil
}

func (s *start) head() []string { return []string{"half deflection: G and k of a galvanometer"} }
func (s *start) safety() string { return "keys open" }
func (s *start) unsaid() string { return "" }

func (s *start) keymap() []key.Binding {
	if s.helped {
		return []key.Binding{s.keys.back}
	}
	return []key.Binding{named(s.keys.accept, "choose"), s.keys.move, s.keys.help, s.keys.mouse, s.keys.suspend, named(s.keys.leave, "leave")}
}

func (s *start) spine(w int) int { return spineAt(w) }

func (s *start) body(w, h int) []string {
	if spine := s.spine(w); spine > 0 {
		return spread(s.page(spine-1, h, true), spine, s.benchFacing(draw.Circuit{}, w-spine, h))
	}
	return s.page(w, h, false)
}

// benchFacing is the page that faces those at the beginning: the circuit that
// will be built, and what there is to know of the bench.
func (d *desk) benchFacing(c draw.Circuit, w, h int) []string {
	circuit := c.Draw(w-2, h/4, &d.theme)
	why := d.leafText(leafKey{step: procedure.StepBench, width: w - 2})
	return facing([]section{
		{name: "circuit", lines: circuit, least: len(circuit), worth: 90, whole: true},
		{name: "why", lines: why, worth: 40},
	}, w, h, &d.theme)
}

// page is the page to choose from, with the circuit on it where no other
// faces it.
func (s *start) page(w, h int, spread bool) []string {
	t := &s.theme
	bw := bodyWidth(w)
	about := draw.Wrap(t.Signs.Say("For a moving-coil galvanometer on the bench: its resistance G and its figure of merit k, by half deflection. The program says before every move what to do, whether the key may be closed and what the needle should show; you set, read and write down."), bw)
	if s.helped {
		open := *s
		open.helped = false
		return ledger([]section{
			{name: "keys", lines: helpLines(open.keymap(), bw, t), worth: 90},
			{name: "how", lines: append(about, "", "Records are kept in "+procedure.CleanText(s.dataDir, maxEntry)), worth: 80},
		}, w, h, t)
	}
	var items []string
	for i, item := range s.items() {
		mark, style := " ", t.Hint
		if i == s.at {
			mark, style = t.Signs.Choice, t.Selected
		}
		items = append(items, style.Render(fmt.Sprintf("%s %d  %s", mark, i+1, item)))
	}
	var cautions []string
	for _, c := range safety.Cautions(string(procedure.StepBench)) {
		cautions = append(cautions, draw.Wrap(t.Signs.Say(c.Text), bw)...)
	}
	sections := []section{{name: "about", lines: about, least: 1, worth: 30}}
	if !spread {
		circuit := draw.Circuit{}.Draw(draw.CircuitWidth, draw.CircuitHeight, t)
		sections = append(sections, section{name: "circuit", lines: circuit, least: len(circuit), worth: 20, whole: true})
	}
	sections = append(sections, []section{
		{name: "begin", lines: items, least: len(items), worth: 90},
		{name: "care", lines: cautions, least: 1, worth: 40, more: t.Signs.Dots},
	}...)
	if s.said != "" {
		sections = append(sections, section{name: "note", lines: draw.Styled(draw.Wrap(t.Signs.Say("! "+s.said), bw), t.Odd), least: 1, worth: 80})
	}
	if used(sections) > h {
		sections = sections[1:] // help has it
	}
	return ledger(sections, w, h, t)
}
