package draw

import (
	"strings"

	"github.com/charmbracelet/lipgloss"
	"github.com/charmbracelet/x/ansi"
)

// paint styles text, leaving the blanks around it bare.
func paint(text string, style *lipgloss.Style) string {
	if style == nil {
		return text
	}
	inner := strings.Trim(text, " ")
	if inner == "" {
		return text
	}
	before := len(text) - len(strings.TrimLeft(text, " "))
	return text[:before] + style.Render(inner) + text[before+len(inner):]
}

// Width is the number of cells a line takes.
func Width(line string) int { return ansi.StringWidth(line) }

// Cut shortens a line to w cells, ending it in dots where something is lost.
func Cut(line string, w int, dots string) string {
	if w <= 0 {
		return ""
	}
	if Width(line) <= w {
		return line
	}
	return ansi.Truncate(line, w, dots)
}

// Pad fills a line with blanks to w cells; a longer line is returned as it is.
func Pad(line string, w int) string {
	if n := w - Width(line); n > 0 {
		return line + strings.Repeat(" ", n)
	}
	return line
}

// PadLeft fills a line with blanks in front.
func PadLeft(line string, w int) string {
	if n := w - Width(line); n > 0 {
		return strings.Repeat(" ", n) + line
	}
	return line
}

// Wrap breaks text at blanks into lines of at most w cells; a longer word is
// broken where it must be. No text makes no lines.
func Wrap(text string, w int) []string {
	if w <= 0 || text == "" {
		return nil
	}
	// Wrap leaves a dash where it stands, in a line however narrow.
	lines := strings.Split(ansi.Hardwrap(ansi.Wrap(text, w, " "), w, true), "\n")
	for i, line := range lines {
		lines[i] = strings.TrimRight(line, " ")
	}
	return lines
}

// Beside sets two blocks side by side, the left one w cells wide.
func Beside(left []string, w int, right []string) []string {
	lines := make([]string, max(len(left), len(right)))
	for i := range lines {
		var l, r string
		if i < len(left) {
			l = left[i]
		}
		if i < len(right) {
			r = right[i]
		}
		if r == "" {
			lines[i] = l
			continue
		}
		lines[i] = Pad(l, w) + r
	}
	return lines
}

// Styled applies a style to each line.
func Styled(lines []string, style lipgloss.Style) []string {
	out := make([]string, len(lines))
	for i, line := range lines {
		out[i] = paint(line, &style)
	}
	return out
}

// Flow sets parts into lines of at most w cells, gap between two of them; no
// part is broken.
func Flow(parts []string, gap string, w int) []string {
	var lines []string
	for _, p := range parts {
		if n := len(lines); n > 0 && Width(lines[n-1])+Width(gap)+Width(p) <= w {
			lines[n-1] += gap + p
			continue
		}
		lines = append(lines, p)
	}
	return lines
}
