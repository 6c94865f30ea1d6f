// Package classroom is the class during a practical, as a page of the screens:
// who is at which step, and whose findings call for a visit. It follows the
// records of a folder while they grow and changes none of them.
package classroom

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/lipgloss"
	"github.com/charmbracelet/x/ansi"
	"github.com/fsnotify/fsnotify"

	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/class"
	"example.org/halve/tui/draw"
	"example.org/halve/tui/theme"
)

// Options are what the page needs.
type Options struct {
	Dir       string
	Anonymous bool
	Now       func() time.Time
	Theme     theme.Theme
	In        io.Reader
	Out       io.Writer
}

// When the folder is looked at again: soon after something in it changed, and
// now and then in any case, for shared folders of which the system tells nothing.
const (
	afterChange = 300 * time.Millisecond
	everySoOft  = 3 * time.Second
)

// quiet is how long a record may stand still in the middle of a practical before
// somebody should ask (common practice, no source).
const quiet = 10 * time.Minute

// Run shows the page until the person leaves or ctx is done.
func Run(ctx context.Context, o Options) error {
	m := &Model{o: o, follower: &class.Follower{Dir: o.Dir, Anonymous: o.Anonymous}, ctx: ctx, keys: newKeys()}
	// The first look is taken before the screen is: a folder that is none is an
	// ordinary error.
	c, err := m.follower.Look(ctx)
	if err != nil {
		return err
	}
	m.class, m.at = c, o.Now()
	m.rank()
	if w, err := fsnotify.NewWatcher(); err == nil { // without one the folder is looked at every few seconds
		defer w.Close()
		m.watcher = w
		m.watchFolders()
	}
	options := []tea.ProgramOption{tea.WithContext(ctx), tea.WithAltScreen(), tea.WithOutput(o.Out), tea.WithFPS(20)}
	if o.In != nil && o.In != io.Reader(os.Stdin) {
		options = append(options, tea.WithInput(o.In))
	}
	_, err = tea.NewProgram(m, options...).Run()
	if errors.Is(err, tea.ErrInterrupted) || ctx.Err() != nil {
		return nil // leaving by Ctrl+C is leaving
	}
	return err
}

// Model is the page, for Bubble Tea.
type Model struct {
	o        Options
	ctx      context.Context
	follower *class.Follower
	watcher  *fsnotify.Watcher
	keys     keys

	class   *class.Class
	err     error
	at      time.Time // of the last look
	lines   []line
	chosen  string // the file of the record that the cursor is on
	top     int    // the first line shown
	w, h    int
	looking bool
}

// keys are the page's keys.
type keys struct{ up, down, first, last, look, leave key.Binding }

func newKeys() keys {
	return keys{
		up:    key.NewBinding(key.WithKeys("up", "k"), key.WithHelp("up", "")),
		down:  key.NewBinding(key.WithKeys("down", "j"), key.WithHelp("down", "choose a record")),
		first: key.NewBinding(key.WithKeys("home"), key.WithHelp("home", "")),
		last:  key.NewBinding(key.WithKeys("end"), key.WithHelp("end", "")),
		look:  key.NewBinding(key.WithKeys("r"), key.WithHelp("r", "look now")),
		leave: key.NewBinding(key.WithKeys("q", "esc"), key.WithHelp("q", "leave")),
	}
}

type (
	changed struct{} // something in the folder has
	due     struct{} // it is time to look in any case
	settled struct{} // a change is long enough ago
	looked  struct {
		class *class.Class
		err   error
		at    time.Time
	}
)

// line is one record as it is shown.
type line struct {
	sheet *class.Sheet
	need  int // of a visit: 2 now, 1 soon, 0 none
	note  string
	idle  time.Duration
}

// Init implements tea.Model.
func (m *Model) Init() tea.Cmd { return tea.Batch(m.wait(), m.later()) }

// wait waits for the system to tell of a change.
func (m *Model) wait() tea.Cmd {
	if m.watcher == nil {
		return nil
	}
	events, errs := m.watcher.Events, m.watcher.Errors
	return func() tea.Msg {
		select {
		case _, open := <-events:
			if open {
				return changed{}
			}
		case _, open := <-errs: // too many at once: something has changed
			if open {
				return changed{}
			}
		}
		return nil
	}
}

func (m *Model) later() tea.Cmd {
	return tea.Tick(everySoOft, func(time.Time) tea.Msg { return due{} })
}

// look reads what has changed. One look at a time.
func (m *Model) look() tea.Cmd {
	if m.looking {
		return nil
	}
	m.looking = true
	return func() tea.Msg {
		c, err := m.follower.Look(m.ctx)
		return looked{c, err, m.o.Now()}
	}
}

func (m *Model) watchFolders() {
	for _, dir := range m.follower.Folders() {
		_ = m.watcher.Add(dir) // one that cannot be watched is looked at now and then
	}
}

// Update implements tea.Model.
func (m *Model) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	switch msg := msg.(type) {
	case tea.WindowSizeMsg:
		m.w, m.h = msg.Width, msg.Height
	case changed:
		return m, tea.Batch(m.wait(), tea.Tick(afterChange, func(time.Time) tea.Msg { return settled{} }))
	case settled:
		return m, m.look()
	case due:
		return m, tea.Batch(m.look(), m.later())
	case looked:
		m.looking, m.err, m.at = false, msg.err, msg.at
		if msg.err == nil { // else what was seen last stays
			m.class = msg.class
		}
		m.rank()
		if m.watcher != nil {
			m.watchFolders()
		}
	case tea.KeyMsg:
		return m, m.press(msg)
	}
	return m, nil
}

func (m *Model) press(msg tea.KeyMsg) tea.Cmd {
	switch {
	case msg.Type == tea.KeyCtrlC, key.Matches(msg, m.keys.leave):
		return tea.Quit
	case key.Matches(msg, m.keys.look):
		return m.look()
	case key.Matches(msg, m.keys.up):
		m.move(-1)
	case key.Matches(msg, m.keys.down):
		m.move(1)
	case key.Matches(msg, m.keys.first):
		m.move(-len(m.lines))
	case key.Matches(msg, m.keys.last):
		m.move(len(m.lines))
	}
	return nil
}

// cursor is the place of the chosen record.
func (m *Model) cursor() int {
	return max(0, slices.IndexFunc(m.lines, func(l line) bool { return l.sheet.File == m.chosen }))
}

func (m *Model) move(by int) {
	if len(m.lines) > 0 {
		m.chosen = m.lines[min(len(m.lines)-1, max(0, m.cursor()+by))].sheet.File
	}
}

// visit is the probability of a finding from which somebody should go there.
const visit = 0.5

// rank puts the records in order: those that need a visit first, then those that
// are being worked at, then the finished ones.
func (m *Model) rank() {
	m.lines = m.lines[:0]
	if m.class == nil {
		return
	}
	for _, s := range m.class.Records {
		if s.Shown() == class.Duplicate {
			continue
		}
		l := line{sheet: s}
		if s.Last > 0 {
			l.idle = max(0, m.at.Sub(time.Unix(0, s.Last)))
		}
		running := s.State == class.Unfinished
		id, p, found := s.Lead()
		g, k := s.Apart()
		switch {
		case found && p > visit:
			l.need, l.note = 2, strings.TrimSpace(id+" "+procedure.Chance(p))
		case g || k:
			l.need, l.note = 2, "stands apart"
		case !running && s.SendBack():
			l.need, l.note = 2, "send back"
		case running && l.idle > quiet:
			l.need, l.note = 1, "stands still"
		case !running:
			l.note = "finished"
		}
		m.lines = append(m.lines, l)
	}
	order := func(l line) int {
		if l.need == 0 && l.sheet.State != class.Unfinished {
			return 3
		}
		return 2 - l.need
	}
	slices.SortStableFunc(m.lines, func(a, b line) int {
		return cmp.Or(cmp.Compare(order(a), order(b)), cmp.Compare(a.sheet.Pair(), b.sheet.Pair()))
	})
	if m.chosen == "" && len(m.lines) > 0 {
		m.chosen = m.lines[0].sheet.File
	}
}

// In a window smaller than this there is only the head.
const leastWidth, leastHeight = 30, 6

// View implements tea.Model.
func (m *Model) View() string {
	if m.w < 1 || m.h < 1 {
		return ""
	}
	t := m.o.Theme
	var out []string
	add := func(style lipgloss.Style, s string) {
		out = append(out, style.Render(ansi.Truncate(s, m.w, t.Signs.Dots)))
	}
	visits, running, done := 0, 0, 0
	for _, l := range m.lines {
		switch {
		case l.need > 0:
			visits++
		case l.sheet.State == class.Unfinished:
			running++
		default:
			done++
		}
	}
	add(t.Title, fmt.Sprintf("The class at %s: %d to visit, %d at work, %d finished", m.at.Format("15:04:05"), visits, running, done))
	if m.w < leastWidth || m.h < leastHeight {
		return out[0]
	}
	foot := m.foot()
	room := max(1, m.h-len(foot)-3)
	if m.err != nil {
		add(t.Odd, procedure.CleanText(m.err.Error(), 500))
		room--
	}
	add(t.Hint, m.columns("", "pair", "who", "instrument", "step", "rows", "G in ohm", "entry", ""))
	at := m.cursor()
	m.top = min(max(m.top, at-room+1), at)
	if len(m.lines) == 0 {
		add(t.Hint, "No record is there yet.")
	}
	for i := m.top; i < len(m.lines) && i < m.top+room; i++ {
		l := m.lines[i]
		style := lipgloss.NewStyle()
		sign, before := "", " "
		switch l.need {
		case 2:
			sign, style = "[!]", t.Stop
		case 1:
			sign, style = "[?]", t.Tap
		}
		if i == at {
			before, style = t.Signs.Choice, t.Selected
		}
		sign = before + sign
		add(style, m.columns(sign, fmt.Sprint(l.sheet.Pair()), m.who(l.sheet), m.instrument(l.sheet), step(l.sheet), fmt.Sprint(l.sheet.Rows), found(l.sheet), l.ago(), l.note))
	}
	for len(out) < m.h-len(foot) {
		out = append(out, "")
	}
	return strings.Join(append(out, foot...), "\n")
}

// columns lays a line out; what is last has the rest of the width, and its last
// words go where they find no room.
func (m *Model) columns(cells ...string) string {
	widths := []int{5, 5, 13, 11, 7, 5, 12, 7}
	if m.w > 110 {
		widths = []int{5, 5, 26, 18, 9, 6, 16, 9}
	}
	dots := m.o.Theme.Signs.Dots
	var b strings.Builder
	for i, w := range widths {
		b.WriteString(draw.Pad(draw.Cut(cells[i], w-1, dots), w))
	}
	note, left := cells[len(widths)], m.w-draw.Width(b.String())
	if draw.Width(note) > left {
		note, _, _ = strings.Cut(note, " ")
	}
	return strings.TrimRight(b.String()+draw.Cut(note, left, dots), " ")
}

func (m *Model) who(s *class.Sheet) string {
	if m.o.Anonymous {
		return "-"
	}
	return cmp.Or(s.Names, s.Group, s.File[strings.LastIndexByte(s.File, '/')+1:])
}

func (m *Model) instrument(s *class.Sheet) string {
	if in := m.class.InstrumentOf(s); in != nil {
		return in.Label
	}
	return "-"
}

func step(s *class.Sheet) string {
	if s.Closely == nil {
		return "-"
	}
	return string(s.Closely.Step)
}

func found(s *class.Sheet) string {
	if !(s.UG > 0) {
		return "-"
	}
	text := quantity.ASCII.Measured(quantity.Measured{Value: s.G, U: s.UG, Unit: quantity.Ohm})
	if bare, plain := strings.CutSuffix(text, ") ohm"); plain {
		text = strings.Replace(strings.TrimPrefix(bare, "("), " +/- ", "+-", 1)
	}
	return text
}

// ago is how long ago the last entry was.
func (l line) ago() string {
	switch {
	case l.sheet.Last == 0:
		return "-"
	case l.idle < time.Minute:
		return "now"
	case l.idle < 100*time.Minute:
		return fmt.Sprintf("%d min", int(l.idle.Minutes()))
	case l.idle < 48*time.Hour:
		return fmt.Sprintf("%d h", int(l.idle.Hours()))
	}
	return fmt.Sprintf("%d d", int(l.idle.Hours()/24))
}

// foot says more of the chosen record, and which keys there are.
func (m *Model) foot() []string {
	t := m.o.Theme
	var out []string
	if m.h >= 10 && len(m.lines) > 0 {
		l := m.lines[m.cursor()]
		text := m.class.Called(l.sheet) + ": " + m.class.Because(l.sheet)
		if l.sheet.Closely != nil && len(l.sheet.Closely.Findings) > 0 && l.need == 2 {
			f := l.sheet.Closely.Findings[0]
			if text = m.class.Called(l.sheet) + ": " + f.Say; f.Try != "" {
				text += " " + f.Try
			}
		}
		wrapped := draw.Wrap(procedure.CleanText(text, 2000), max(10, m.w-2))
		if most := max(2, m.h/4); len(wrapped) > most {
			wrapped = append(wrapped[:most-1], ansi.Truncate(wrapped[most-1], max(1, m.w-4), "")+t.Signs.Dots)
		}
		out = append(out, t.Rule.Render(strings.Repeat(t.Signs.Across, m.w)))
		for _, w := range wrapped {
			out = append(out, " "+w)
		}
	}
	var help []string
	for _, b := range []key.Binding{m.keys.up, m.keys.down, m.keys.look, m.keys.leave} {
		help = append(help, strings.TrimSpace(b.Help().Key+" "+b.Help().Desc))
	}
	return append(out, t.Hint.Render(ansi.Truncate(strings.Join(help, "  "), m.w, "")))
}
