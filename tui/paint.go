package tui

import (
	"bytes"
	"io"
	"os"
	"strconv"
	"strings"

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
	painter *painter
}

// Update implements tea.Model.
func (p painted) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	_, cmd := p.Model.Update(msg)
	switch msg.(type) {
	case tea.WindowSizeMsg, tea.ResumeMsg:
		p.painter.forget() // nobody knows what has become of the old frame
	}
	if p.Model.Fresh() {
		p.painter.forget()
	}
	p.painter.show(p.Model.View())
	return p, cmd
}

// View implements tea.Model; there is nothing left to show.
func (p painted) View() string { return "" }

// quietly is the terminal as Bubble Tea writes to it: what sets it up and
// leaves it in order passes, the frames of its own renderer do not. They begin
// with the cursor's way home, which nothing else needs here.
type quietly struct{ *os.File }

// Write implements io.Writer.
func (q quietly) Write(p []byte) (int, error) {
	if bytes.HasPrefix(p, []byte(cursorHome)) {
		return len(p), nil
	}
	return q.File.Write(p)
}

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
