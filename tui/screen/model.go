// Package screen is the practical as terminal screens: pages of a bench book
// on which a person writes what they set and read. The pages compute nothing;
// they send events to a sitting and show its counsel.
package screen

import (
	"errors"
	"fmt"
	"runtime/debug"
	"slices"
	"strings"
	"time"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"example.org/halve/procedure"
	"example.org/halve/procedure/notes"
	"example.org/halve/procedure/record"
	"example.org/halve/tui/draw"
	"example.org/halve/tui/prose"
	"example.org/halve/tui/theme"
)

// Options are what the screens need.
type Options struct {
	Sitting *record.Sitting // nil for the start page
	Bench   ByHand          // the simulated bench of a practice, nil at a real one
	DataDir string          // where records are kept
	Now     func() time.Time
	NewID   func() string
	Minutes int // the time there is, 0 for no limit
	Theme   theme.Theme
	Still   bool // the drawn needle does not move, it is where it is to be
	// NoSuspend says that the system cannot set a program aside.
	NoSuspend bool
	// Ask asks the terminal for its background once the screens are up, nil
	// where it is not to be asked. The answer comes as a Background, and the
	// theme for it from Paint.
	Ask   func()
	Paint func(dark bool) theme.Theme
	// ReadBench and WriteBench read and write bench files; nil leaves that out.
	ReadBench  func(path string) (procedure.Bench, error)
	WriteBench func(path string, b procedure.Bench) error
	// Practise begins a practical on a simulated bench, for the start page;
	// nil leaves it out.
	Practise func() (*record.Sitting, ByHand, error)
	// GoOn opens a record that was chosen, with its simulated bench where it is
	// of a practice; nil opens it without.
	GoOn func(path string) (*record.Sitting, ByHand, error)
	// Meter is a meter check that is to be gone on with, in the place of
	// Sitting, and MeterHand its simulated bench, nil at a real one.
	Meter     *record.MeterSitting
	MeterHand MeterHand
}

// desk is what every page has at hand.
type desk struct {
	theme      theme.Theme
	keys       keys
	now        func() time.Time
	newID      func() string
	dataDir    string
	minutes    int
	still      bool
	practise   func() (*record.Sitting, ByHand, error)
	goOn       func(path string) (*record.Sitting, ByHand, error)
	readBench  func(path string) (procedure.Bench, error)
	writeBench func(path string, b procedure.Bench) error
	opened     *record.Sitting // begun or resumed from the start page, closed at the end
	// openedMeter is the same for a meter check.
	openedMeter *record.MeterSitting
	set         map[leafKey][]string // notes as they were set last
}

// leafKey names a note set in a width.
type leafKey struct {
	step  procedure.Step
	topic string
	width int
}

// leafText sets the note of a step, or a topic, in w cells. Setting one takes
// longer than a frame may, so it is kept.
func (d *desk) leafText(k leafKey) []string {
	if lines, ok := d.set[k]; ok {
		return lines
	}
	text := notes.For(k.step)
	if k.topic != "" {
		text, _ = notes.Text(k.topic)
	}
	if len(d.set) > 20 || d.set == nil { // many widths: a window that is being resized
		d.set = map[leafKey][]string{}
	}
	d.set[k] = prose.Lines(text, k.width, &d.theme)
	return d.set[k]
}

// repaint changes the theme; what was set in the old one is let go.
func (d *desk) repaint(t theme.Theme) { d.theme, d.set = t, nil }

// Model is the whole of the screens, for Bubble Tea.
type Model struct {
	*desk
	page  page
	w, h  int
	frame string // the page as it is drawn
	// warned is set when leaving would lose what is typed; the next Ctrl+C
	// leaves all the same.
	warned bool
	said   string // of a paste that was passed over, until the next key
	mouse  bool   // it is on
	fresh  bool   // the whole screen is to be drawn again
	crash  *Crash
	ask    func()
	paint  func(dark bool) theme.Theme
}

// Fresh reports, once, that the whole screen is to be drawn again.
func (m *Model) Fresh() bool {
	fresh := m.fresh
	m.fresh = false
	return fresh
}

// Background is the terminal's answer: whether its background is dark.
type Background struct{ Dark bool }

// Crash is what is known of a breakdown of the screens.
type Crash struct {
	What  string // what the program says of it
	Stack string // where it happened
}

// Crash returns what broke the screens down, nil if nothing did. What was
// recorded before it is whole.
func (m *Model) Crash() *Crash { return m.crash }

// broke is the message of a command that broke down.
type broke struct{ crash Crash }

// caught describes what recover returned.
func caught(r any) Crash {
	return Crash{procedure.CleanText(fmt.Sprint(r), maxEntry), string(debug.Stack())}
}

// command makes work that is done aside a command. If it breaks down the
// screens are left in good order; a panic of its own would leave the terminal
// drawn over.
func command(work func() tea.Msg) tea.Cmd {
	return func() (msg tea.Msg) {
		defer func() {
			if r := recover(); r != nil {
				msg = broke{caught(r)}
			}
		}()
		return work()
	}
}

// New makes the screens.
func New(o Options) *Model {
	d := &desk{theme: o.Theme, keys: newKeys(), now: o.Now, newID: o.NewID, dataDir: o.DataDir, minutes: o.Minutes, still: o.Still, practise: o.Practise, goOn: o.GoOn,
		readBench: o.ReadBench, writeBench: o.WriteBench}
	d.keys.suspend.SetEnabled(!o.NoSuspend)
	m := &Model{desk: d, ask: o.Ask, paint: o.Paint}
	switch {
	case o.Meter != nil:
		m.page = meterPage(d, o.Meter, o.MeterHand)
	case o.Sitting == nil:
		m.page = newStart(d)
	default:
		m.page = sittingPage(d, o.Sitting, o.Bench)
	}
	return m
}

// meterPage is the page on which a meter check goes on.
func meterPage(d *desk, s *record.MeterSitting, hand MeterHand) page {
	if _, ok := s.State().Bench(); ok {
		return newMeterWork(d, s, hand)
	}
	return newMeterForm(d, s)
}

// sittingPage is the page on which a sitting goes on.
func sittingPage(d *desk, s *record.Sitting, b ByHand) page {
	if b != nil {
		return newPractice(d, s, b)
	}
	if _, ok := s.State().Bench(); ok {
		return newWork(d, s)
	}
	return newBenchForm(d, s)
}

// Close lets go of the record that was opened from the start page, if any.
func (m *Model) Close() error {
	var errs [2]error
	if m.opened != nil {
		errs[0] = m.opened.Close()
	}
	if m.openedMeter != nil {
		errs[1] = m.openedMeter.Close()
	}
	return errors.Join(errs[:]...)
}

// minuteGone wakes the page so that the time that is used stays true.
type minuteGone struct{}

func minute() tea.Cmd {
	return tea.Tick(time.Minute, func(time.Time) tea.Msg { return minuteGone{} })
}

// Init implements tea.Model.
func (m *Model) Init() tea.Cmd {
	var cmds []tea.Cmd
	if m.minutes > 0 {
		cmds = append(cmds, minute())
	}
	if m.ask != nil {
		cmds = append(cmds, command(func() tea.Msg { m.ask(); return nil }))
	}
	return tea.Batch(cmds...)
}

// Update implements tea.Model. It draws the next frame as well, so that
// whatever breaks down in either ends the program in good order.
func (m *Model) Update(msg tea.Msg) (next tea.Model, cmd tea.Cmd) {
	defer func() {
		if r := recover(); r != nil {
			c := caught(r)
			m.crash, next, cmd = &c, m, tea.Quit
		}
	}()
	_, cmd = m.take(msg)
	m.frame = m.draw()
	return m, cmd
}

func (m *Model) take(msg tea.Msg) (tea.Model, tea.Cmd) {
	switch msg := msg.(type) {
	case broke:
		m.crash = &msg.crash
		return m, tea.Quit
	case tea.WindowSizeMsg:
		m.w, m.h = msg.Width, msg.Height
		return m, nil
	case minuteGone:
		return m, minute()
	case Background:
		if m.paint != nil {
			m.repaint(m.paint(msg.Dark))
		}
		return m, nil
	case tea.KeyMsg:
		return m, m.pressed(msg)
	case tea.MouseMsg:
		return m, m.moused(msg)
	}
	return m, m.pass(msg)
}

// pass hands a message to the page.
func (m *Model) pass(msg tea.Msg) tea.Cmd {
	next, cmd := m.page.update(msg)
	m.page = next
	return cmd
}

// pressed takes the keys that mean the same on every page. A paste that no
// field could take is passed over whole.
func (m *Model) pressed(k tea.KeyMsg) tea.Cmd {
	m.said = ""
	if len(k.Runes) > maxEntry {
		m.said = fmt.Sprintf("not taken: more than %d characters were pasted", maxEntry)
		return nil
	}
	switch {
	case key.Matches(k, m.keys.leave):
		if m.page.unsaid() != "" && !m.warned {
			m.warned = true
			return nil
		}
		return tea.Interrupt
	case key.Matches(k, m.keys.suspend):
		return tea.Suspend
	case key.Matches(k, m.keys.mouse):
		return m.switchMouse()
	case key.Matches(k, m.keys.redraw):
		m.fresh = true
		return nil
	}
	m.warned = false
	if m.small() {
		return nil // nobody sees what they type
	}
	return m.pass(k)
}

func (m *Model) small() bool { return m.w < MinWidth || m.h < MinHeight }

// View implements tea.Model: the frame that the last Update drew, empty
// before the size is known.
func (m *Model) View() string { return m.frame }

// draw draws the frame. It is pure and total: exactly the window's lines,
// none of them wider than it.
func (m *Model) draw() string {
	if m.w <= 0 || m.h <= 0 {
		return ""
	}
	lines := make([]string, 0, m.h)
	if m.small() {
		lines = m.tiny()
	} else {
		const frame = 3 // head, rule, foot
		lines = append(lines, m.headLine(), m.rule())
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

// rule is the line below the head, from which the margin and the spine hang.
func (m *Model) rule() string {
	g := m.theme.Signs
	line := slices.Repeat([]string{g.Across}, m.w)
	line[marginWidth+1] = g.Branch
	if spine := m.page.spine(m.w); spine > 0 {
		line[spine] = g.Branch
	}
	return m.theme.Rule.Render(strings.Join(line, ""))
}

func (m *Model) footLine() string {
	if m.said != "" {
		return m.theme.Odd.Render(m.theme.Signs.Say(" ! " + m.said))
	}
	if m.warned {
		const says, more = "is not written down; Ctrl+C again leaves", " without it; all else is safe"
		typed := procedure.CleanText(m.page.unsaid(), 30)
		text := fmt.Sprintf(" %q %s", typed, says+more)
		if draw.Width(text) > m.w {
			text = fmt.Sprintf(" %q %s", draw.Cut(typed, m.w-len(says)-len(` "" `), "..."), says)
		}
		return m.theme.Odd.Render(m.theme.Signs.Say(text))
	}
	return shortHelp(m.page.keymap(), m.w, &m.theme)
}

// answered leaves out the keys that this system cannot answer to.
func answered(bs []key.Binding) []key.Binding {
	return slices.DeleteFunc(slices.Clone(bs), func(k key.Binding) bool { return !k.Enabled() })
}

// shortHelp is the line of keys at the foot, as many as fit, help among them.
func shortHelp(bs []key.Binding, w int, t *theme.Theme) string {
	bs = answered(bs)
	var b strings.Builder
	left := w + 1 // the last one needs no gap after it
	room := func(k key.Binding) int { return len(k.Help().Key) + len(k.Help().Desc) + 3 }
	help := slices.IndexFunc(bs, func(k key.Binding) bool { return k.Help().Key == "F1" })
	for i, k := range bs {
		name, does := k.Help().Key, k.Help().Desc
		if i < help && left < room(k)+room(bs[help]) {
			continue // whatever else has no room, help has
		}
		if left -= room(k); left < 0 {
			break
		}
		if b.Len() > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(" " + t.Key.Render(name) + " " + t.Hint.Render(does))
	}
	return b.String()
}

// helpLines lists every key of a page, in two columns where they fit.
func helpLines(bs []key.Binding, w int, t *theme.Theme) []string {
	const half = 44
	var lines []string
	for _, k := range answered(bs) {
		lines = append(lines, t.Key.Render(draw.Pad(k.Help().Key, 12))+t.Hint.Render(told(k)))
	}
	if w < 2*half {
		return lines
	}
	n := (len(lines) + 1) / 2
	return draw.Beside(lines[:n], half, lines[n:])
}
