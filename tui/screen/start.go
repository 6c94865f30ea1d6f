package screen

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
	"example.org/halve/safety"
	"example.org/halve/tui/draw"
)

// start is the first page: what to begin with.
type start struct {
	*desk
	single
	at     int
	said   string
	helped bool
}

func newStart(d *desk) *start { return &start{desk: d} }

// The lines of the start page.
const (
	startNew = iota
	startResume
	startPractise
)

func (s *start) items() []string {
	items := []string{
		startNew:    "begin a practical at the bench",
		startResume: "go on with a record, or read it",
	}
	if s.practise != nil {
		items = append(items, "practise on a simulated bench")
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
	switch item {
	case startNew:
		return newBenchForm(s.desk, nil, nil), nil
	case startResume:
		r := &records{desk: s.desk, reading: true}
		return r, command(r.read)
	case startPractise:
		sitting, needle, err := s.practise()
		if err != nil {
			s.said = oneLine(err)
			return s, nil
		}
		s.opened = sitting
		return sittingPage(s.desk, sitting, needle), nil
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
	return []key.Binding{named(s.keys.accept, "choose"), s.keys.move, s.keys.help, s.keys.suspend, named(s.keys.leave, "leave")}
}

func (s *start) body(w, h int) []string {
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
	circuit := draw.Circuit{}.Draw(draw.CircuitWidth, draw.CircuitHeight, t)
	var cautions []string
	for _, c := range safety.Cautions(string(procedure.StepBench)) {
		cautions = append(cautions, draw.Wrap(t.Signs.Say(c.Text), bw)...)
	}
	sections := []section{
		{name: "about", lines: about, least: 1, worth: 30},
		{name: "circuit", lines: circuit, least: len(circuit), worth: 20},
		{name: "begin", lines: items, least: len(items), worth: 90},
		{name: "care", lines: cautions, least: 1, worth: 40},
	}
	if s.said != "" {
		sections = append(sections, section{name: "note", lines: draw.Styled(draw.Wrap(t.Signs.Say("! "+s.said), bw), t.Odd), least: 1, worth: 80})
	}
	return ledger(sections, w, h, t)
}

// maxListed is how many records are listed, the latest first.
const maxListed = 200

// found is a record in the list.
type found struct {
	path, name string
	begun      string
	what       string // how far it is
	bad        bool
}

// recordsRead says which records there are.
type recordsRead struct {
	found []found
	err   error
}

// records is the page from which a record is resumed.
type records struct {
	*desk
	single
	reading bool
	found   []found
	at      int
	said    string
}

// read looks through the folder of records. It is a command: a folder on a
// slow disk must not hold up the screen.
func (r *records) read() tea.Msg {
	all, err := os.ReadDir(r.dataDir)
	if errors.Is(err, fs.ErrNotExist) {
		return recordsRead{}
	}
	var names []string
	for _, e := range all {
		if strings.HasSuffix(e.Name(), ".jsonl") && e.Type().IsRegular() {
			names = append(names, e.Name())
		}
	}
	slices.Sort(names) // their names begin with the date
	slices.Reverse(names)
	var fs []found
	for _, name := range names[:min(len(names), maxListed)] {
		fs = append(fs, describe(filepath.Join(r.dataDir, name)))
	}
	return recordsRead{fs, err}
}

// describe says what a record holds, in a line.
func describe(path string) found {
	f := found{path: path, name: procedure.CleanText(filepath.Base(path), 60)}
	log, err := record.Read(path)
	if err != nil {
		f.bad, f.what = true, oneLine(err)
		return f
	}
	f.begun = log.Header.Begun.Local().Format("2 Jan 2006, 15:04")
	c := procedure.Advise(log.State)
	rows := 0
	for _, row := range c.Rows {
		if !row.Struck {
			rows++
		}
	}
	f.what = fmt.Sprintf("%d rows", rows)
	if rows == 1 {
		f.what = "1 row"
	}
	if log.State.Finished() {
		f.what += ", finished"
	} else {
		f.what += ", at " + string(c.Step)
	}
	if b, ok := log.State.Bench(); ok && b.Galvanometer.Label != "" {
		f.what += ", " + b.Galvanometer.Label
	}
	return f
}

func (r *records) update(msg tea.Msg) (page, tea.Cmd) {
	switch msg := msg.(type) {
	case recordsRead:
		r.reading, r.found = false, msg.found
		if msg.err != nil {
			r.said = oneLine(msg.err)
		}
	case tea.KeyMsg:
		switch {
		case key.Matches(msg, r.keys.back):
			return newStart(r.desk), nil
		case len(r.found) == 0:
		case key.Matches(msg, r.keys.accept):
			return r.open(), nil
		case key.Matches(msg, r.keys.next):
			r.at = (r.at + 1) % len(r.found)
		case key.Matches(msg, r.keys.before):
			r.at = (r.at + len(r.found) - 1) % len(r.found)
		}
	}
	return r, nil
}

func (r *records) open() page {
	s, err := record.Resume(r.found[r.at].path, r.now, r.newID)
	if err != nil {
		r.said = oneLine(err)
		return r
	}
	r.opened = s
	return sittingPage(r.desk, s, nil)
}

func (r *records) head() []string { return []string{"records"} }
func (r *records) safety() string { return "keys open" }
func (r *records) unsaid() string { return "" }

func (r *records) keymap() []key.Binding {
	return []key.Binding{named(r.keys.accept, "open"), r.keys.move, r.keys.back, r.keys.leave}
}

func (r *records) body(w, h int) []string {
	t := &r.theme
	bw := bodyWidth(w)
	var lines []string
	switch {
	case r.reading:
		lines = []string{"looking through " + procedure.CleanText(r.dataDir, maxEntry)}
	case len(r.found) == 0:
		lines = draw.Wrap("There is no record yet in "+procedure.CleanText(r.dataDir, maxEntry)+". Esc goes back.", bw)
	}
	note := draw.Styled(draw.Wrap(t.Signs.Say(r.said), bw), t.Odd)
	room := max(h-len(note)-2, 1)
	start := 0
	if len(r.found) > room {
		start = min(max(r.at-room/2, 0), len(r.found)-room)
	}
	for i := start; i < min(start+room, len(r.found)); i++ {
		f := r.found[i]
		mark, style := " ", t.Hint
		if i == r.at {
			mark, style = t.Signs.Choice, t.Selected
		}
		text := fmt.Sprintf("%s %s  %s", mark, draw.Pad(f.begun, 19), f.what)
		if f.bad {
			text = fmt.Sprintf("%s %s  %s", mark, f.name, f.what)
		}
		lines = append(lines, style.Render(draw.Cut(t.Signs.Say(text), bw, t.Signs.Dots)))
	}
	return ledger([]section{
		{name: "records", lines: lines, least: 1, worth: 50},
		{name: "note", lines: note, least: len(note), worth: 90},
	}, w, h, t)
}
