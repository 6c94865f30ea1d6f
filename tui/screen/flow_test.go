package screen

import (
	"strings"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/x/exp/teatest"

	"example.org/halve/procedure"
)

// patience is how long a program may take to end; it is there so that a test
// that hangs fails, and long, so that a busy machine fails nothing.
const patience = time.Minute

// TestFlow runs the screens as a program: the circuit is ticked off, a note
// typed with signs of the trade, and the program ended.
// What was written is in the record.
func TestFlow(t *testing.T) {
	s := onBench(t)
	m := teatest.NewTestModel(t, New(options(s, nil, t.TempDir())), teatest.WithInitialTermSize(80, 24))
	for range wiring(table()) {
		m.Send(tea.KeyMsg{Type: tea.KeySpace, Runes: []rune{' '}})
	}
	m.Send(tea.KeyMsg{Type: tea.KeyEnter})
	m.Send(tea.KeyMsg{Type: tea.KeyCtrlN})
	m.Send(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune("box B reads 2 Ω high")})
	m.Send(tea.KeyMsg{Type: tea.KeyEnter})
	if err := m.Quit(); err != nil {
		t.Fatal(err)
	}
	final, ok := m.FinalModel(t, teatest.WithFinalTimeout(patience)).(*Model)
	if !ok || final == nil {
		t.Fatal("the program did not end with its own model")
	}
	var wired, noted bool
	for _, e := range s.Events() {
		switch b := e.Body.(type) {
		case procedure.Wired:
			wired = true
		case procedure.Note:
			noted = strings.Contains(b.Text, "2 Ω")
		}
	}
	if !wired || !noted {
		t.Errorf("wired %t, note with its Ω %t: the record has %d events", wired, noted, len(s.Events()))
	}
}
