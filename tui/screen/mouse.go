package screen

import (
	"strings"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/x/ansi"
)

// The mouse is off until it is asked for: while it is on, the terminal no
// longer lets text be marked and copied. What it does a key does as well.

// clickable is a page on which something can be chosen by a click on its line.
type clickable interface {
	// clicked takes a click on a line, whose text is given without the margin
	// and the mark of the chosen line.
	clicked(line string) (page, tea.Cmd)
}

// switchMouse turns the mouse on or off.
func (m *Model) switchMouse() tea.Cmd {
	if m.mouse = !m.mouse; m.mouse {
		return tea.EnableMouseCellMotion
	}
	return tea.DisableMouse
}

// moused takes a turn of the wheel or a click.
func (m *Model) moused(msg tea.MouseMsg) tea.Cmd {
	if msg.Action != tea.MouseActionPress || m.small() {
		return nil
	}
	switch msg.Button {
	case tea.MouseButtonWheelUp:
		return m.pass(tea.KeyMsg{Type: tea.KeyUp})
	case tea.MouseButtonWheelDown:
		return m.pass(tea.KeyMsg{Type: tea.KeyDown})
	case tea.MouseButtonLeft:
		p, ok := m.page.(clickable)
		lines := strings.Split(ansi.Strip(m.frame), "\n")
		if !ok || msg.Y < 0 || msg.Y >= len(lines) {
			return nil
		}
		next, cmd := p.clicked(m.bodyOf(lines[msg.Y], msg.X))
		m.page = next
		return cmd
	}
	return nil
}

// bodyOf is the text at cell x of a line: without the margin, the mark of the
// chosen line, and the facing page, or "" beside it.
func (m *Model) bodyOf(line string, x int) string {
	cells := []rune(line)
	if spine := m.page.spine(m.w); spine > 0 {
		if x >= spine {
			return ""
		}
		cells = cells[:min(spine, len(cells))]
	}
	from := marginWidth + 2
	if x < from || len(cells) <= from {
		return ""
	}
	g := m.theme.Signs
	return strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(string(cells[from:])), g.Choice))
}

func (s *start) clicked(line string) (page, tea.Cmd) {
	for i, item := range s.items() {
		if strings.HasSuffix(line, s.theme.Signs.Say(item)) {
			s.at = i
			return s.open(i)
		}
	}
	return s, nil
}

func (r *records) clicked(line string) (page, tea.Cmd) {
	for i, f := range r.found {
		if f.begun != "" && strings.HasPrefix(line, f.begun) && strings.Contains(line, r.theme.Signs.Say(f.what)[:min(len(f.what), 12)]) {
			r.at, r.said = i, ""
			return r, nil
		}
	}
	return r, nil
}

func (w *work) clicked(line string) (page, tea.Cmd) {
	switch {
	case w.open == listSheet:
		for i, e := range w.offered() {
			if strings.HasPrefix(line, w.theme.Signs.Say(e.name)+" ") {
				w.listAt = i
				return w.list(tea.KeyMsg{Type: tea.KeyEnter})
			}
		}
	case w.open == noSheet && w.kind == enterWired:
		for i, item := range wiring(w.table) {
			if at := strings.Index(line, "] "); at >= 0 && strings.HasPrefix(w.theme.Signs.Say(item), line[at+len("] "):]) {
				w.ticks[i], w.tickAt = !w.ticks[i], i
				return w, nil
			}
		}
	}
	return w, nil
}
