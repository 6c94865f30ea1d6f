package tui

import (
	"bytes"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"example.org/halve/tui/draw"
	"example.org/halve/tui/screen"
)

// painted shows a model's frames. Bubble Tea's own renderer looks sixty times
// a second whether there is a new one; here a frame goes out with the update
// that drew it, so that a key is answered at once and a screen on which
// nothing happens costs nothing.
type painted struct {
	*screen.Model
	to *writer
}

// Update implements tea.Model.
func (p painted) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	_, cmd := p.Model.Update(msg)
	whole := p.Model.Fresh()
	switch msg.(type) {
	case tea.WindowSizeMsg, tea.ResumeMsg:
		whole = true // nobody knows what has become of the old frame
	}
	p.to.show(p.Model.View(), whole)
	return p, cmd
}

// View implements tea.Model; there is nothing left to show.
func (p painted) View() string { return "" }

// writer is all that is sent to the terminal, in its order, from one goroutine:
// a terminal that takes nothing, because its person holds it or its network
// hangs, stops nobody else. Of frames only the newest waits.
type writer struct {
	painter
	patience time.Duration // how long what sets the terminal up is waited for

	mu      sync.Mutex
	waiting []piece
	wake    chan struct{}
	stalled bool // the terminal did not take something in time
}

// piece is something to be sent: a frame, or what sets the terminal up.
type piece struct {
	frame   string
	whole   bool // the frame is to be drawn whole
	control []byte
	sent    chan struct{} // closed once it is, nil for a frame
}

// newWriter begins to write to a terminal. It goes on as long as the program.
func newWriter(out io.Writer) *writer {
	w := &writer{painter: painter{out: out}, patience: time.Second, wake: make(chan struct{}, 1)}
	go w.run()
	return w
}

// show sends a frame once the terminal has taken what was sent before; an
// older one that still waits is passed over. An empty one is none.
func (w *writer) show(frame string, whole bool) {
	if frame == "" {
		return
	}
	w.mu.Lock()
	w.waiting = slices.DeleteFunc(w.waiting, func(p piece) bool {
		whole = whole || p.whole
		return p.sent == nil
	})
	w.waiting = append(w.waiting, piece{frame: frame, whole: whole})
	w.mu.Unlock()
	w.stir()
}

// control sends what sets the terminal up or leaves it in order, and waits
// until it is sent; not for ever, and not again once the terminal has stalled.
func (w *writer) control(p []byte) {
	sent := make(chan struct{})
	w.mu.Lock()
	w.waiting = append(w.waiting, piece{control: bytes.Clone(p), sent: sent})
	stalled := w.stalled
	w.mu.Unlock()
	w.stir()
	if stalled {
		return
	}
	select {
	case <-sent:
	case <-time.After(w.patience):
		w.mu.Lock()
		w.stalled = true
		w.mu.Unlock()
	}
}

func (w *writer) stir() {
	select {
	case w.wake <- struct{}{}:
	default: // it has been woken
	}
}

// run sends what waits.
func (w *writer) run() {
	for range w.wake {
		w.mu.Lock()
		pieces := w.waiting
		w.waiting = nil
		w.mu.Unlock()
		for _, p := range pieces {
			if p.sent != nil {
				w.out.Write(p.control) // a terminal that is gone is found out by whoever reads from it
				close(p.sent)
				continue
			}
			if p.whole {
				w.forget()
			}
			w.painter.show(p.frame)
		}
		w.mu.Lock()
		w.stalled = false
		w.mu.Unlock()
	}
}

// quietly is the terminal as Bubble Tea writes to it: what sets it up and
// leaves it in order passes, the frames of its own renderer do not. They begin
// with the cursor's way home, which nothing else needs here.
type quietly struct {
	*os.File
	to *writer
}

// Write implements io.Writer.
func (q quietly) Write(p []byte) (int, error) {
	if !bytes.HasPrefix(p, []byte(cursorHome)) {
		q.to.control(p)
	}
	return len(p), nil
}

// WriteString implements io.StringWriter, past which the file's own would go.
func (q quietly) WriteString(s string) (int, error) { return q.Write([]byte(s)) }

// Control sequences of ECMA-48.
const (
	cursorHome  = "\x1b[H"
	clearScreen = "\x1b[2J"
	clearLine   = "\x1b[K"
)

// painter puts frames on a terminal, each line only where it has changed. A
// terminal that is gone is found out by whoever reads from it.
type painter struct {
	out   io.Writer
	lines []string // what the terminal shows, nil if that is not known
}

// forget makes the next frame be drawn whole.
func (p *painter) forget() { p.lines = nil }

// show draws a frame, in one write. An empty one is none.
func (p *painter) show(frame string) {
	if frame == "" {
		return
	}
	lines := strings.Split(frame, "\n")
	var b strings.Builder
	if len(p.lines) != len(lines) {
		b.WriteString(clearScreen)
		p.lines = make([]string, len(lines))
	}
	for i, line := range lines {
		if line == p.lines[i] {
			continue
		}
		b.WriteString("\x1b[" + strconv.Itoa(i+1) + ";1H" + line)
		if draw.Width(line) < draw.Width(p.lines[i]) {
			b.WriteString(clearLine)
		}
	}
	p.lines = lines
	if b.Len() > 0 {
		io.WriteString(p.out, b.String())
	}
}
