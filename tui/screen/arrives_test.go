package screen

import (
	"io"
	"strings"
	"sync"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/x/vt"
	"github.com/muesli/termenv"

	"example.org/halve/tui/theme"
)

// emulated is a terminal to draw on.
type emulated struct {
	mu sync.Mutex
	*vt.Emulator
}

func (e *emulated) Write(p []byte) (int, error) {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.Emulator.Write(p)
}

func (e *emulated) lines() []string {
	e.mu.Lock()
	defer e.mu.Unlock()
	lines := strings.Split(e.Emulator.String(), "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	return lines
}

// watched hands out the frames that a model draws.
type watched struct {
	*Model
	mu   sync.Mutex
	last string
	n    int
}

func (w *watched) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	_, cmd := w.Model.Update(msg)
	w.mu.Lock()
	defer w.mu.Unlock()
	w.last = strip(w.Model.View())
	w.n++
	return w, cmd
}

func (w *watched) frame() []string {
	w.mu.Lock()
	defer w.mu.Unlock()
	lines := strings.Split(w.last, "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	return lines
}

// What is drawn arrives on the terminal, whatever was there before: a
// practical with its mistakes, a window that changes, sheets and lists.
func TestFramesArrive(t *testing.T) {
	o := options(onBench(t), simulated(t), "")
	o.Theme = theme.New(theme.Dark, termenv.TrueColor, false)
	o.Still = false
	m := &watched{Model: New(o)}
	screen := &emulated{Emulator: vt.NewEmulator(80, 24)}
	go io.Copy(io.Discard, screen.Emulator) // its answers
	p := tea.NewProgram(m, tea.WithInput(nil), tea.WithOutput(screen), tea.WithAltScreen())
	done := make(chan error)
	go func() { _, err := p.Run(); done <- err }()
	p.Send(tea.WindowSizeMsg{Width: 80, Height: 24})
	settle := func(after string) {
		t.Helper()
		var got, want []string
		for deadline := time.Now().Add(patience); time.Now().Before(deadline); time.Sleep(2 * time.Millisecond) {
			if got, want = screen.lines(), m.frame(); strings.Join(got, "\n") == strings.Join(want, "\n") {
				return
			}
		}
		t.Fatalf("after %q the terminal shows\n%s\nwant\n%s", after, strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	for _, name := range []string{
		strings.Repeat(" ", 11), "enter", "0", "enter", "1.52", "enter", "enter", " ", "7", "enter", "8k", "ctrl+u", "enter", " ", "f2", "pgdown", "esc",
		"24", "enter", "tab", "down", "esc", "ctrl+x", "enter", "enter", "enter", "f1", "esc", "24.5", "enter",
	} {
		keys := []tea.KeyMsg{{Type: pressed[name]}}
		if _, ok := pressed[name]; !ok {
			keys = nil
			for _, r := range name {
				k := tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune{r}}
				if r == ' ' {
					k.Type = tea.KeySpace
				}
				keys = append(keys, k)
			}
		}
		for _, k := range keys {
			p.Send(k)
		}
		settle(name)
	}
	p.Quit()
	if err := <-done; err != nil {
		t.Fatal(err)
	}
}
