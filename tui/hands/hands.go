// Package hands is a simulated bench under a person's hands on the screen:
// boxes with their plugs or dials, keys, leads, and a needle that moves. It is
// a component for Bubble Tea that knows no record and no guide; it stands
// beside them.
//
// Pictures are drawn while the needle moves, and only then. The clock is
// passed in.
package hands

import (
	"time"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"example.org/halve/physics/bench/live"
	"example.org/halve/procedure/debrief"
	"example.org/halve/tui/draw"
	"example.org/halve/tui/theme"
)

// Options are what the hands need.
type Options struct {
	Bench *live.Bench
	Theme *theme.Theme
	Now   func() time.Time
	// Still shows the needle only at rest, when its time to settle is over.
	Still bool
	Said  string // what is said at the beginning
}

// row is a line of things that a hand can go to.
type row int

const (
	keyRow    row = iota // keys, and what is done to the instrument
	seriesRow            // the plugs or dials of the series box
	shuntRow
	rows
)

// The things of the first row.
const (
	thingK1 = iota
	thingK2
	thingCase
	thingScrew
	thingCell
	things
)

// Model is the bench under the hands.
type Model struct {
	bench *live.Bench
	theme *theme.Theme
	now   func() time.Time
	still bool
	keys  keys

	begun time.Time // when the bench was set up
	at    time.Duration
	tick  int // numbers the ticks; an older one than the last counts no more
	until time.Duration

	row    row
	col    [rows]int
	lens   bool
	about  float64 // the division that the magnifier is over
	wiring bool    // the leads are shown
	end    live.Terminal
	held   live.Terminal // the terminal that the lead in hand is joined to, -1 for none
	said   string
	alarm  bool // what is said is a warning
	told   int  // how many happenings were told
	fresh  []live.Happening
	looked int // how many things were looked over

	expect *draw.Interval
	wanted *float64
}

// Mark says what the guide expects on the scale and where it aims; nil leaves
// it out.
func (m *Model) Mark(expect *draw.Interval, wanted *float64) { m.expect, m.wanted = expect, wanted }

// LookedOver is how many things were looked over.
func (m *Model) LookedOver() int { return m.looked }

// Holding reports whether a lead is in the hand.
func (m *Model) Holding() bool { return m.held >= 0 }

// New makes the hands. The bench's time begins now.
func New(o Options) *Model {
	return &Model{bench: o.Bench, theme: o.Theme, now: o.Now, still: o.Still, keys: newKeys(), begun: o.Now(), held: -1, said: o.Said}
}

// frame is the tick by which a moving needle is drawn anew.
type frame int

// elapsed is the bench's time.
func (m *Model) elapsed() time.Duration { return m.now().Sub(m.begun) }

// Update takes a key or a tick. Messages that are not for the hands are let
// pass.
func (m *Model) Update(msg tea.Msg) tea.Cmd {
	switch msg := msg.(type) {
	case frame:
		if int(msg) != m.tick {
			return nil
		}
		m.look()
		return m.again()
	case tea.KeyMsg:
		m.at = m.elapsed()
		for _, k := range single(msg) {
			m.press(k)
		}
		m.look()
		return m.again()
	}
	return nil
}

// single takes apart keys that came faster than they were read; a terminal's
// driver hands them over as one. What was pasted is no act of hands.
func single(k tea.KeyMsg) []tea.KeyMsg {
	switch {
	case k.Paste:
		return nil
	case k.Type != tea.KeyRunes || len(k.Runes) < 2:
		return []tea.KeyMsg{k}
	}
	var ks []tea.KeyMsg
	for _, r := range k.Runes {
		one := tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune{r}}
		if r == ' ' {
			one.Type = tea.KeySpace
		}
		ks = append(ks, one)
	}
	return ks
}

// look sees where the needle is now, and what has happened.
func (m *Model) look() {
	m.at = m.elapsed()
	v := m.bench.Needle(m.at)
	const reach = 2.5 // divisions to either side of the magnifier's middle
	if v < m.about-reach || v > m.about+reach {
		m.about = v
	}
	hs := m.bench.Happenings()
	for ; m.told < len(hs); m.told++ {
		m.fresh = append(m.fresh, hs[m.told])
		if hs[m.told].Kind != live.Mended { // that is said where it was looked over
			m.warn(debrief.Words(hs[m.told], m.bench.Stated()))
		}
	}
}

// again asks for the next picture, if one is due.
func (m *Model) again() tea.Cmd {
	m.tick++
	due := m.bench.Due(m.at)
	m.until = 0
	if due == live.Frame && m.still {
		due = m.bench.Settling(m.at)
		m.until = m.at + due
		due = max(due, live.Frame)
	}
	if due <= 0 {
		return nil
	}
	n := m.tick
	return tea.Tick(due, func(time.Time) tea.Msg { return frame(n) })
}

// Fresh returns what has happened to the needle and the circuit since it was
// last asked.
func (m *Model) Fresh() []live.Happening {
	hs := m.fresh
	m.fresh = nil
	return hs
}

// Wire shows the leads, or the bench.
func (m *Model) Wire(leads bool) { m.wiring, m.held = leads, -1 }

func (m *Model) tell(text string) { m.said, m.alarm = text, false }
func (m *Model) warn(text string) { m.said, m.alarm = text, true }

// press does what a key asks for.
func (m *Model) press(k tea.KeyMsg) {
	b, ks := m.bench, m.keys
	switch {
	case key.Matches(k, ks.k1):
		m.turn(live.K1)
	case key.Matches(k, ks.k2):
		m.turn(live.K2)
	case key.Matches(k, ks.knock):
		b.TapCase(m.at)
		m.tell("the case is tapped")
	case key.Matches(k, ks.lens):
		m.lens = !m.lens
		m.tell("")
	case key.Matches(k, ks.cell):
		m.tell(m.voltmeter())
	case key.Matches(k, ks.screwLeft):
		m.screw(-screwStep)
	case key.Matches(k, ks.screwRight):
		m.screw(screwStep)
	case key.Matches(k, ks.leads):
		m.Wire(!m.wiring)
		m.tell("")
	case m.wiring:
		m.lead(k)
	case key.Matches(k, ks.tap):
		which := live.K1
		if m.row == keyRow && m.col[keyRow] == thingK2 {
			which = live.K2
		}
		b.TapKey(m.at, which)
		m.tell(keyName(which) + " is tapped")
	case key.Matches(k, ks.lookOver):
		m.tell(m.lookOver())
	case key.Matches(k, ks.left):
		m.move(0, -1)
	case key.Matches(k, ks.right):
		m.move(0, +1)
	case key.Matches(k, ks.up):
		m.move(-1, 0)
	case key.Matches(k, ks.down):
		m.move(+1, 0)
	case key.Matches(k, ks.act):
		m.act(+1, true)
	case key.Matches(k, ks.more):
		m.act(+1, false)
	case key.Matches(k, ks.less):
		m.act(-1, false)
	}
}

// screwStep is how far a touch of the zero screw moves the needle, div
// (common practice, no source).
const screwStep = 0.125

func (m *Model) screw(by float64) {
	m.bench.TurnZero(m.at, by)
	m.tell("the zero screw is turned a little to the " + side(by > 0))
}

// turn closes a key that is open, and the reverse.
func (m *Model) turn(k live.Key) {
	closed := !m.bench.Closed(k)
	m.bench.SetKey(m.at, k, closed)
	state := " is open"
	if closed {
		state = " is closed"
	}
	m.tell(keyName(k) + state)
}

// count is how many things there are in a row.
func (m *Model) count(r row) int {
	switch r {
	case seriesRow:
		return len(m.bench.Plugs(live.Series))
	case shuntRow:
		return len(m.bench.Plugs(live.Shunt))
	}
	return things
}

// move moves the hand.
func (m *Model) move(down, right int) {
	m.row = (m.row + row(down) + rows) % rows
	n := m.count(m.row)
	m.col[m.row] = (m.col[m.row] + right + n) % n
}

// act does what can be done to the thing that the hand is on: once, or, with a
// dial and the screw, a step forwards or back.
func (m *Model) act(by int, once bool) {
	i := m.col[m.row]
	switch m.row {
	case seriesRow:
		m.set(live.Series, i, by, once)
	case shuntRow:
		m.set(live.Shunt, i, by, once)
	default:
		switch i {
		case thingK1:
			m.turn(live.K1)
		case thingK2:
			m.turn(live.K2)
		case thingCase:
			m.bench.TapCase(m.at)
			m.tell("the case is tapped")
		case thingScrew:
			m.screw(float64(by) * screwStep)
		case thingCell:
			m.tell(m.voltmeter())
		}
	}
}

// set moves a plug or a dial.
func (m *Model) set(which live.Box, i, by int, once bool) {
	box, name := m.box(which)
	n := m.bench.Plugs(which)[i]
	values, dial := coils(box)
	next := n + by
	if !dial {
		next = 1 - n
		if !once { // + pulls the coil in, - takes it out again
			next = max(0, by)
		}
	}
	if next == n {
		return
	}
	if err := m.bench.Set(m.at, which, i, next); err != nil {
		m.warn("the dial goes from 0 to 10 steps")
		return
	}
	m.tell(plugWords(name, values[i], next, dial))
}

// KeyMap is what the hands answer to now, the most wanted first.
func (m *Model) KeyMap() []key.Binding {
	ks := m.keys
	if m.wiring {
		act := named(ks.act, "take a lead")
		if m.held >= 0 {
			act = named(act, "join it here")
		}
		return []key.Binding{act, ks.move, ks.drawn, ks.bare, named(ks.leads, "back to the bench"), ks.drop, ks.k1, ks.k2}
	}
	act := ks.act
	switch m.row {
	case keyRow:
		act = named(act, thingDoes(m.col[keyRow]))
	default:
		which := live.Series
		if m.row == shuntRow {
			which = live.Shunt
		}
		box, _ := m.box(which)
		act = named(act, "plug in or out")
		if _, dial := coils(box); dial {
			act = named(act, "a step on")
		}
	}
	return []key.Binding{act, ks.move, ks.both, ks.lens, ks.knock, ks.more, ks.less, ks.tap, ks.cell,
		ks.screwLeft, ks.screwRight, ks.lookOver, ks.leads}
}
