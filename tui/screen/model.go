// Package screen is the practical as terminal screens: pages of a bench book
// on which a person writes what they set and read. The pages compute nothing;
// they send events to a sitting and show its counsel.
package screen

import (
	"fmt"
	"strings"
	"time"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
	"example.org/halve/tui/draw"
	"example.org/halve/tui/theme"
)

// Options are what the screens need.
type Options struct {
	Sitting *record.Sitting // nil for the start page
	Needle  Needle          // nil at a real bench
	DataDir string          // where records are kept
	Now     func() time.Time
	NewID   func() string
	Minutes int // the time there is, 0 for no limit
	Theme   theme.Theme
	// Practise begins a practical on a simulated bench, for the start page;
	// nil leaves it out.
	Practise func() (*record.Sitting, Needle, error)
}

// desk is what every page has at hand.
type desk struct {
	theme    theme.Theme
	keys     keys
	now      func() time.Time
	newID    func() string
	dataDir  string
	minutes  int
	practise func() (*record.Sitting, Needle, error)
	opened   *record.Sitting // begun or resumed from the start page, closed at the end
}

// Model is the whole of the screens, for Bubble Tea.
type Model struct {
	*desk
	page page
	w, h int
	// warned is set when leaving would lose what is typed; the next Ctrl+C
	// leaves all the same.
	warned bool
}

// New makes the screens.
func New(o Options) *Model {
	d := &desk{theme: o.Theme, keys: newKeys(), now: o.Now, newID: o.NewID, dataDir: o.DataDir, minutes: o.Minutes, practise: o.Practise}
	m := &Model{desk: d}
	if o.Sitting == nil {
		m.page = newStart(d)
	} else {
		m.page = sittingPage(d, o.Sitting, o.Needle)
	}
	return m
}

// sittingPage is the page on which a sitting goes on.
func sittingPage(d *desk, s *record.Sitting, n Needle) page {
	if _, ok := s.State().Bench(); ok {
		return newWork(d, s, n)
	}
	return newBenchForm(d, s, n)
}

// Close lets go of the record that was opened from the start page, if any.
func (m *Model) Close() error {
	if m.opened == nil {
		return nil
	}
	return m.opened.Close()
}

// minuteGone wakes the page so that the time that is used stays true.
type minuteGone struct{}

func minute() tea.Cmd {
	return tea.Tick(time.Minute, func(time.Time) tea.Msg { return minuteGone{} })
}

// Init implements tea.Model.
func (m *Model) Init() tea.Cmd {
	if m.minutes > 0 {
		return minute()
	}
	return nil
}

// Update implements tea.Model.
func (m *Model) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	switch msg := msg.(type) {
	case tea.WindowSizeMsg:
		m.w, m.h = msg.Width, msg.Height
		return m, nil
	case minuteGone:
		return m, minute()
	case tea.KeyMsg:
		return m, m.pressed(msg)
	}
	return m, m.pass(msg)
}

// pass hands a message to the page.
func (m *Model) pass(msg tea.Msg) tea.Cmd {
	next, cmd := m.page.update(msg)
	m.page = next
	return cmd
}

// pressed takes the keys that mean the same on every page.
func (m *Model) pressed(k tea.KeyMsg) tea.Cmd {
	switch {
	case key.Matches(k, m.keys.leave):
		if m.page.unsaid() != "" && !m.warned {
			m.warned = true
			return nil
		}
		return tea.Interrupt
	case key.Matches(k, m.keys.suspend):
		return tea.Suspend
	case key.Matches(k, m.keys.redraw):
		return tea.ClearScreen
	}
	m.warned = false
	if m.small() {
		return nil // nobody sees what they type
	}
	return m.pass(k)
}

func (m *Model) small() bool { return m.w < MinWidth || m.h < MinHeight }

// View implements tea.Model. It is pure and total: exactly the window's
// lines, none of them wider than it.
func (m *Model) View() string {
	if m.w <= 0 || m.h <= 0 {
		return ""
	}
	lines := make([]string, 0, m.h)
	if m.small() {
		lines = m.tiny()
	} else {
		const frame = 3 // head, rule, foot
		lines = append(lines, m.headLine(), m.rule(m.theme.Signs.Branch))
		lines = append(lines, m.page.body(m.w, m.h-frame)...)
		for len(lines) < m.h-1 {
			lines = append(lines, "")
		}
		lines = append(lines[:m.h-1], m.footLine())
	}
	lines = lines[:min(len(lines), m.h)]
	for i, line := range lines {
		lines[i] = draw.Cut(line, m.w, m.theme.Signs.Dots)
	}
	return strings.Join(lines, "\n")
}

// tiny is all that a window shows that is too small for a page: the safety
// first.
func (m *Model) tiny() []string {
	lines := []string{m.page.safety(), fmt.Sprintf("window %dx%d; halve needs %dx%d", m.w, m.h, MinWidth, MinHeight)}
	var out []string
	for _, line := range lines {
		out = append(out, draw.Wrap(m.theme.Signs.Say(line), m.w)...)
	}
	return append(out, draw.Wrap("make it larger; nothing is lost", m.w)...)
}

func (m *Model) headLine() string {
	const name = " halve"
	room := m.w - len(name) - 2
	parts := m.page.head()
	head := m.theme.Signs.Say(strings.Join(parts, "   "))
	for len(parts) > 1 && draw.Width(head) > room {
		parts = parts[1:]
		head = m.theme.Signs.Say(strings.Join(parts, "   "))
	}
	head = draw.Cut(head, room, m.theme.Signs.Dots)
	return m.theme.Title.Render(name) + draw.PadLeft(m.theme.Hint.Render(head), room+1)
}

func (m *Model) rule(joint string) string {
	across := m.theme.Signs.Across
	return m.theme.Rule.Render(strings.Repeat(across, marginWidth+1) + joint + strings.Repeat(across, m.w-marginWidth-2))
}

func (m *Model) footLine() string {
	if m.warned {
		text := fmt.Sprintf(" %q is not written down. Ctrl+C again leaves without it; all else is safe.", procedure.CleanText(m.page.unsaid(), 30))
		return m.theme.Odd.Render(m.theme.Signs.Say(text))
	}
	return shortHelp(m.page.keymap(), m.w, &m.theme)
}

// shortHelp is the line of keys at the foot, as many as fit.
func shortHelp(bs []key.Binding, w int, t *theme.Theme) string {
	var b strings.Builder
	left := w
	for _, k := range bs {
		name, does := k.Help().Key, k.Help().Desc
		if left -= len(name) + len(does) + 3; left < 0 {
			break
		}
		b.WriteString(" " + t.Key.Render(name) + " " + t.Hint.Render(does) + " ")
	}
	return b.String()
}

// helpLines lists every key of a page, in two columns where they fit.
func helpLines(bs []key.Binding, w int, t *theme.Theme) []string {
	const half = 34
	var lines []string
	for _, k := range bs {
		lines = append(lines, t.Key.Render(draw.Pad(k.Help().Key, 10))+t.Hint.Render(k.Help().Desc))
	}
	if w < 2*half {
		return lines
	}
	n := (len(lines) + 1) / 2
	return draw.Beside(lines[:n], half, lines[n:])
}
