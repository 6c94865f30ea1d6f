package hands

import (
	"slices"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"example.org/halve/physics/bench/live"
)

// order is how the terminals stand on the table, two of each part.
func order() [2][]live.Terminal {
	return [2][]live.Terminal{
		{live.CellPlus, live.K1A, live.SeriesA, live.CoilPlus, live.K2A, live.ShuntA},
		{live.CellMinus, live.K1B, live.SeriesB, live.CoilMinus, live.K2B, live.ShuntB},
	}
}

// place is where a terminal stands.
func place(t live.Terminal) (line, col int) {
	for line, ts := range order() {
		if col := slices.Index(ts, t); col >= 0 {
			return line, col
		}
	}
	return 0, 0
}

// lead takes a key while the leads are shown.
func (m *Model) lead(k tea.KeyMsg) {
	line, col := place(m.end)
	across := len(order()[0])
	switch ks := m.keys; {
	case key.Matches(k, ks.left):
		m.end = order()[line][(col+across-1)%across]
	case key.Matches(k, ks.right):
		m.end = order()[line][(col+1)%across]
	case key.Matches(k, ks.up, ks.down):
		m.end = order()[1-line][col]
	case key.Matches(k, ks.drop):
		m.held = -1
		m.tell("")
	case key.Matches(k, ks.drawn):
		m.bench.Wire(m.at)
		m.held = -1
		m.tell("the leads lie as they are drawn")
	case key.Matches(k, ks.bare):
		m.bench.Unwire(m.at)
		m.held = -1
		m.tell("all leads are taken away")
	case key.Matches(k, ks.act):
		m.join()
	}
}

// join takes up a lead at the terminal, or joins the lead in hand to it.
func (m *Model) join() {
	switch {
	case m.held < 0:
		m.held = m.end
		m.tell("a lead is on " + m.end.String() + ": now its other end; where the two are joined already it is taken away")
	case m.held == m.end:
		m.held = -1
		m.tell("")
	default:
		before := len(m.bench.Leads())
		if err := m.bench.Connect(m.at, m.held, m.end); err != nil {
			m.warn("a lead joins two terminals")
			return
		}
		what := " are joined"
		if len(m.bench.Leads()) < before {
			what = " are joined no more"
		}
		m.tell(m.held.String() + " and " + m.end.String() + what)
		m.held = -1
	}
}
