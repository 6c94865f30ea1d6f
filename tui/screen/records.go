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
	"example.org/halve/procedure/metercheck"
	"example.org/halve/procedure/record"
	"example.org/halve/tui/draw"
)

// maxListed is how many records are listed, the latest first.
const maxListed = 200

// found is a record in the list.
type found struct {
	path, name string
	begun      string
	what       string // how far it is
	who        string
	bad        bool
}

// holds reports whether every word is in what is shown of the record.
func (f found) holds(words []string) bool {
	all := strings.ToLower(f.name + " " + f.begun + " " + f.what + " " + f.who)
	for _, w := range words {
		if !strings.Contains(all, w) {
			return false
		}
	}
	return true
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
	all     []found
	sought  field   // what is typed to look for
	found   []found // those that hold it
	at      int
	said    string
}

func newRecords(d *desk) *records { return &records{desk: d, reading: true, sought: newField("")} }

// seek keeps to the records that hold what is looked for.
func (r *records) seek() {
	words := strings.Fields(strings.ToLower(r.sought.text()))
	r.found, r.at, r.said = nil, 0, ""
	for _, f := range r.all {
		if f.holds(words) {
			r.found = append(r.found, f)
		}
	}
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
	if name, err := record.ProcedureOf(path); err == nil && name == record.MeterCheck {
		return f.meter()
	}
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
	for _, e := range log.Events {
		if w, ok := e.Body.(procedure.Who); ok && log.State.Struck(e.Seq) == 0 {
			f.who = procedure.CleanText(strings.Trim(w.Names+"; "+w.Group, "; "), 60)
		}
	}
	if b, ok := log.State.Bench(); ok && b.Galvanometer.Label != "" {
		f.what += ", " + b.Galvanometer.Label
	}
	return f
}

// meter says what a meter check's record holds.
func (f found) meter() found {
	log, err := record.ForMeterCheck().Read(f.path)
	if err != nil {
		f.bad, f.what = true, oneLine(err)
		return f
	}
	f.begun = log.Header.Begun.Local().Format("2 Jan 2006, 15:04")
	f.what = "meter check"
	if c := metercheck.Advise(log.State); log.State.Finished() {
		f.what += ", finished"
	} else {
		f.what += ", at " + string(c.Step)
	}
	for _, e := range log.Events {
		if w, ok := e.Body.(procedure.Who); ok && log.State.Struck(e.Seq) == 0 {
			f.who = procedure.CleanText(strings.Trim(w.Names+"; "+w.Group, "; "), 60)
		}
	}
	if b, ok := log.State.Bench(); ok && b.Label != "" {
		f.what += ", " + b.Label
	}
	return f
}

func (r *records) update(msg tea.Msg) (page, tea.Cmd) {
	switch msg := msg.(type) {
	case recordsRead:
		r.reading, r.all = false, msg.found
		r.seek()
		if msg.err != nil {
			r.said = oneLine(msg.err)
		}
	case tea.KeyMsg:
		switch {
		case key.Matches(msg, r.keys.back) && r.sought.text() != "":
			r.sought.set("")
			r.seek()
		case key.Matches(msg, r.keys.back):
			return newStart(r.desk), nil
		case !key.Matches(msg, r.keys.accept, r.keys.look, r.keys.up, r.keys.down):
			r.sought.typed(msg)
			r.seek()
		case len(r.found) == 0:
		case key.Matches(msg, r.keys.look):
			return r.look(), nil
		case key.Matches(msg, r.keys.accept):
			return r.open(), nil
		case key.Matches(msg, r.keys.down):
			r.at = (r.at + 1) % len(r.found)
		case key.Matches(msg, r.keys.up):
			r.at = (r.at + len(r.found) - 1) % len(r.found)
		}
	}
	return r, nil
}

func (r *records) open() page {
	if name, err := record.ProcedureOf(r.found[r.at].path); err == nil && name == record.MeterCheck {
		s, err := record.ForMeterCheck().Resume(r.found[r.at].path, r.now, r.newID)
		if err != nil {
			r.said = oneLine(err)
			return r
		}
		r.openedMeter = s
		return meterPage(r.desk, s, nil)
	}
	goOn := r.goOn
	if goOn == nil {
		goOn = func(path string) (*record.Sitting, ByHand, error) {
			s, err := record.Resume(path, r.now, r.newID)
			return s, nil, err
		}
	}
	s, bench, err := goOn(r.found[r.at].path)
	if err != nil {
		r.said = oneLine(err)
		return r
	}
	r.opened = s
	return sittingPage(r.desk, s, bench)
}

// look opens a record to be read only: that needs no lock, and nothing can be
// written to it.
func (r *records) look() page {
	log, err := record.Read(r.found[r.at].path)
	if err != nil {
		r.said = oneLine(err)
		return r
	}
	return &reader{desk: r.desk, from: r, log: log, counsel: procedure.Advise(log.State)}
}

func (r *records) head() []string { return []string{"records"} }
func (r *records) safety() string { return "keys open" }
func (r *records) unsaid() string { return "" }

func (r *records) keymap() []key.Binding {
	return []key.Binding{named(r.keys.accept, "go on with it"), named(r.keys.look, "read it"), r.keys.move, r.keys.back, r.keys.leave}
}

func (r *records) body(w, h int) []string {
	t := &r.theme
	bw := bodyWidth(w)
	var lines []string
	switch {
	case r.reading:
		lines = []string{"looking through " + procedure.CleanText(r.dataDir, maxEntry)}
	case len(r.all) > 0 && len(r.found) == 0:
		lines = draw.Wrap("None holds that. Esc clears it.", bw)
	case len(r.found) == 0:
		lines = draw.Wrap("There is no record yet in "+procedure.CleanText(r.dataDir, maxEntry)+". Esc goes back.", bw)
	}
	note := draw.Styled(draw.Wrap(t.Signs.Say(r.said), bw), t.Odd)
	sought := section{name: "seek", lines: []string{r.sought.view(bw, t)}, least: 1, worth: 80}
	if r.sought.text() == "" {
		sought.lines[0] += t.Hint.Render(t.Signs.Say(" type a name, a date, a number to look for"))
	}
	room := max(h-len(note)-4, 1)
	for i, f := range r.found {
		mark, style := " ", t.Hint
		if i == r.at {
			mark, style = t.Signs.Choice, t.Selected
		}
		text := fmt.Sprintf("%s %s  %s", mark, draw.Pad(f.begun, 19), f.what)
		if f.who != "" {
			text += ", " + f.who
		}
		if f.bad {
			text = fmt.Sprintf("%s %s  %s", mark, f.name, f.what)
		}
		lines = append(lines, style.Render(draw.Cut(t.Signs.Say(text), bw, t.Signs.Dots)))
	}
	return ledger([]section{
		sought,
		{name: "records", lines: about(lines, r.at, room, bw, t), least: 1, worth: 50},
		{name: "note", lines: note, least: len(note), worth: 90},
	}, w, h, t)
}

// reader is the page on which a record is read and nothing is written.
type reader struct {
	*desk
	single
	from    page
	log     *record.Log
	counsel procedure.Counsel
	top     int
}

func (r *reader) update(msg tea.Msg) (page, tea.Cmd) {
	k, ok := msg.(tea.KeyMsg)
	if !ok {
		return r, nil
	}
	switch {
	case key.Matches(k, r.keys.back, r.keys.accept):
		return r.from, nil
	case key.Matches(k, r.keys.up):
		r.top--
	case key.Matches(k, r.keys.down):
		r.top++
	case key.Matches(k, r.keys.pageUp):
		r.top -= leafLines
	case key.Matches(k, r.keys.pageDown, r.keys.tick):
		r.top += leafLines
	}
	r.top = max(r.top, 0)
	return r, nil
}

func (r *reader) head() []string { return []string{"a record, read only"} }
func (r *reader) safety() string { return "keys open" }
func (r *reader) unsaid() string { return "" }

func (r *reader) keymap() []key.Binding {
	return []key.Binding{r.keys.back, named(r.keys.move, "more"), r.keys.pageUp, r.keys.pageDown, r.keys.leave}
}

func (r *reader) body(w, h int) []string {
	t := &r.theme
	bw := bodyWidth(w)
	result := append(resultLines(r.counsel.Result, bw, t), claimLines(r.counsel.Claims, bw, t)...)
	head := []section{{name: "result", lines: result, least: 1, worth: 80}}
	if note := r.log.CutNote(); note != "" {
		head = append(head, section{name: "note", lines: draw.Styled(draw.Wrap(t.Signs.Say(note), bw), t.Odd), least: 1, worth: 90})
	}
	long := append(rowLines(r.counsel.Rows, 0, bw, len(r.counsel.Rows)+1, t), "")
	long = append(long, eventLines(r.log.Events, r.log.State, bw, t)...)
	room := max(h-used(head)-2, 1)
	r.top = min(r.top, max(len(long)-room, 0))
	shown := long[r.top:min(r.top+room, len(long))]
	return ledger(append(head, section{name: "book", lines: shown, least: 1, worth: 50, ruled: true}), w, h, t)
}
