package screen

import (
	"fmt"
	"slices"
	"strings"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"example.org/halve/tui/draw"
	"example.org/halve/tui/theme"
)

// The smallest window in which the pages can be used.
const (
	MinWidth  = 60
	MinHeight = 20
)

// page is one of the screens that the program shows.
type page interface {
	// update takes a message and returns the page to show from now on.
	update(tea.Msg) (page, tea.Cmd)
	// body draws the page, at most w cells wide and h lines high. It is pure.
	body(w, h int) []string
	// spine is the column of the line between two facing pages in a window
	// w cells wide, 0 for a single page.
	spine(w int) int
	// head is what stands at the top of the page, beside the name; what is
	// wanted least comes first and is left out first.
	head() []string
	// keymap is what the page answers to now, the most wanted first.
	keymap() []key.Binding
	// safety is the line that is shown when nothing else has room.
	safety() string
	// unsaid is what is typed and not written down, empty if nothing is.
	unsaid() string
}

// cutOut is h of the lines, each at most w cells wide, from start on. Where more
// of them lie above or below, the first or the last says how many.
func cutOut(lines []string, start, h, w int, t *theme.Theme) []string {
	if h = max(h, 1); len(lines) <= h {
		return lines
	}
	start = min(max(start, 0), len(lines)-h)
	shown := slices.Clone(lines[start : start+h])
	mark := func(i, n int, where string) {
		if n > 0 {
			text := t.Signs.Say(fmt.Sprintf(" … %d %s", n, where))
			shown[i] = draw.Pad(draw.Cut(shown[i], w-draw.Width(text), t.Signs.Dots), w-draw.Width(text)) + t.Hint.Render(text)
		}
	}
	if h > 1 {
		mark(0, start, "above")
	}
	mark(h-1, len(lines)-h-start, "below")
	return shown
}

// about is at most h of the lines, those about line at.
func about(lines []string, at, h, w int, t *theme.Theme) []string {
	return cutOut(lines, at-h/2, h, w, t)
}

// single is for the pages that face no other.
type single struct{}

func (single) spine(int) int { return 0 }

// section is a part of a page: its name stands in the margin beside its first
// line. Where there is no room for all lines, sections give way from the
// lowest worth up, each down to its least number of lines, then altogether.
type section struct {
	name  string
	lines []string
	least int
	worth int
	ruled bool   // a rule above it
	whole bool   // a drawing: nothing of it if not the least
	more  string // stands in place of the last of several lines that are left where lines are lost
	slot  int    // the lines it is given where there is room, so that what is
	// below it stays where it is from one entry to the next
}

// ruled pages: the margin of a bench book, wide enough for the names.
const marginWidth = 7

// bodyWidth is the width beside the margin of a page w cells wide.
func bodyWidth(w int) int { return max(w-marginWidth-3, 0) }

// ledger sets sections on a ruled page, exactly h lines high where h allows.
func ledger(sections []section, w, h int, t *theme.Theme) []string {
	fit(sections, h)
	spare := h
	for _, s := range sections {
		spare -= s.height()
	}
	for i := range sections {
		s := &sections[i]
		for ; spare > 0 && len(s.lines) < s.slot; spare-- {
			s.lines = append(s.lines, "")
		}
	}
	bar := t.Rule.Render(t.Signs.Down)
	empty := strings.Repeat(" ", marginWidth+1) + bar
	rule := func(joint string) string {
		across := t.Signs.Across
		return t.Rule.Render(strings.Repeat(across, marginWidth+1) + joint + strings.Repeat(across, max(w-marginWidth-2, 0)))
	}
	var lines []string
	for i, s := range sections {
		if len(s.lines) == 0 {
			continue
		}
		if s.ruled {
			lines = append(lines, rule(t.Signs.Cross))
		} else if i > 0 && spare > 0 {
			lines = append(lines, empty)
			spare--
		}
		for j, line := range s.lines {
			name := ""
			if j == 0 {
				name = t.Signs.Say(s.name)
			}
			margin := draw.PadLeft(name, marginWidth)
			if name != "" {
				margin = strings.Repeat(" ", marginWidth-draw.Width(name)) + t.Margin.Render(name)
			}
			if line == "" {
				lines = append(lines, margin+" "+bar)
			} else {
				lines = append(lines, margin+" "+bar+" "+line)
			}
		}
	}
	for ; spare > 0; spare-- {
		lines = append(lines, empty)
	}
	return lines
}

// A window this wide shows two pages of the book, as it lies open: the one
// that is written on, and facing it what there is to look at.
const spreadWidth = 118

// spineAt divides a window w cells wide between the two pages; 0 where there
// is room for one only. The page to write on gets the greater part, for its
// scale and its table.
func spineAt(w int) int {
	if w < spreadWidth {
		return 0
	}
	// The facing page holds the circuit in its middle form at first, in its
	// largest in a window of 200.
	const facing = 48
	return w - facing - (w-spreadWidth)*22/(200-spreadWidth)
}

// facing sets sections on the page that faces the one that is written on,
// each below a ruled line with its name, exactly h lines high.
func facing(sections []section, w, h int, t *theme.Theme) []string {
	for i := range sections {
		// The rule below the head is above the first; one without a name
		// belongs to the one before.
		sections[i].ruled = i > 0 && sections[i].name != ""
	}
	fit(sections, h)
	bar := t.Rule.Render(t.Signs.Down)
	var lines []string
	for _, s := range sections {
		if len(s.lines) == 0 {
			continue
		}
		if s.ruled {
			name := " " + t.Signs.Say(s.name) + " "
			across := max(w-draw.Width(name)-2, 0)
			lines = append(lines, t.Rule.Render(t.Signs.Down+t.Signs.Across)+t.Margin.Render(name)+t.Rule.Render(strings.Repeat(t.Signs.Across, across)))
		}
		for _, line := range s.lines {
			lines = append(lines, bar+" "+line)
		}
	}
	for len(lines) < h {
		lines = append(lines, bar)
	}
	return lines[:max(h, 0)]
}

// spread sets two pages side by side with the spine between them.
func spread(left []string, spine int, right []string) []string {
	return draw.Beside(left, spine, right)
}

func (s section) height() int {
	n := len(s.lines)
	if n > 0 && s.ruled {
		n++
	}
	return n
}

// fit shortens the sections until they are at most h lines high together.
func fit(sections []section, h int) {
	over := -h
	for _, s := range sections {
		over += s.height()
	}
	for _, whole := range []bool{false, true} {
		for over > 0 {
			i := leastWorth(sections, whole)
			if i < 0 {
				break
			}
			s := &sections[i]
			before := s.height()
			keep := s.least
			if whole {
				keep = 0
			}
			left := min(max(keep, len(s.lines)-over), len(s.lines))
			if s.whole && left < s.least {
				left = 0
			}
			s.lines = s.lines[:left]
			if left > 1 && s.more != "" {
				s.lines = append(s.lines[:left-1:left-1], s.more)
			}
			over -= before - s.height()
		}
	}
}

// leastWorth finds the section that gives way next, -1 if none can.
func leastWorth(sections []section, whole bool) int {
	found := -1
	for i, s := range sections {
		can := len(s.lines) > s.least || whole && len(s.lines) > 0
		if can && (found < 0 || s.worth < sections[found].worth) {
			found = i
		}
	}
	return found
}
