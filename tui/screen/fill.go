package screen

import (
	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"example.org/halve/tui/theme"
)

// fill is a form of lines to be filled in, one below the other. What the lines
// mean is for the page that has it.
type fill struct {
	lines []line
	at    int
}

// text is a line to type on.
func text(section, name, how, value string) line {
	return line{section: section, name: name, how: how, field: newField(value)}
}

// press takes a key; known is false for one that is not for a form. changed
// says that a value is another one than before.
func (f *fill) press(k tea.KeyMsg, ks keys) (known, changed bool) {
	l := &f.lines[f.at]
	switch {
	case l.choices != nil && key.Matches(k, ks.left):
		l.at = (l.at + len(l.choices) - 1) % len(l.choices)
		return true, true
	case l.choices != nil && key.Matches(k, ks.right, ks.tick):
		l.at = (l.at + 1) % len(l.choices)
		return true, true
	case key.Matches(k, ks.next):
		f.at = min(f.at+1, len(f.lines)-1)
		return true, false
	case key.Matches(k, ks.before):
		f.at = max(f.at-1, 0)
		return true, false
	case l.choices != nil, l.done:
		return false, false
	}
	was := l.field.text()
	l.field.typed(k)
	return true, l.field.text() != was
}

// sections are the lines of the form, as many as there is room for, about the
// one with the cursor.
func (f *fill) sections(bw, room int, d *desk) []section {
	return lineSections(f.lines, f.at, bw, room, &d.theme)
}

// lineSections are at most room lines of a form, those about line at, each with
// the name of its section where that begins or the page does.
func lineSections(lines []line, at, bw, room int, t *theme.Theme) []section {
	views := make([]string, len(lines))
	for i := range lines {
		views[i] = lines[i].view(i == at, bw, t)
	}
	start := min(max(at-room/2, 0), max(len(lines)-room, 0))
	var out []section
	for i, view := range cutOut(views, start, room, bw, t) {
		name := lines[start+i].section
		for j := start; i == 0 && name == "" && j >= 0; j-- {
			name = lines[j].section
		}
		out = append(out, section{name: name, lines: []string{view}, least: 1, worth: 50})
	}
	return out
}
