package draw

import (
	"slices"
	"strings"
	"unicode/utf8"

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

// Stand-ins for a blank and a hyphen at which no line is broken.
const (
	firmBlank  = '\ue000'
	firmHyphen = '\ue001'
)

var loosened = strings.NewReplacer(string(firmBlank), " ", string(firmHyphen), "-")

// statement is the width from which lines hold a result:
// k = (1.877 ± 0.015) × 10⁻⁵ A/div.
const statement = 36

// firm makes whole what belongs together: a sign and its number, a number and
// its unit or what it is times, a quantity and its value, the thousands of a
// number that blanks part; for lines of w cells, where they can hold it, the
// whole statement of a result too.
func firm(text string, w int) string {
	if !strings.ContainsAny(text, "0123456789") {
		return text
	}
	digit := func(i int) bool { return i >= 0 && i < len(text) && text[i] >= '0' && text[i] <= '9' }
	var b strings.Builder
	b.Grow(len(text) + 16)
	for i, r := range text {
		switch {
		case r == '-' && (digit(i+1) || digit(i-1)):
			b.WriteRune(firmHyphen)
		case r == ' ' && i > 0 && (digit(i-1) || text[i-1] == ')' || joins(text[:i], "⁰¹²³⁴⁵⁶⁷⁸⁹")) && isUnit(text[i+1:]):
			b.WriteRune(firmBlank)
		case r == ' ' && w >= statement && (joins(text[:i], "±×") || begins(text[i+1:], "±", "× 10", "= (") || joins(text[:i], "=") && begins(text[i+1:], "(")):
			b.WriteRune(firmBlank)
		case r == ' ' && (digit(i-1) && begins(text[i+1:], "× ") || digit(i+1) && joins(text[:i], "×=") || begins(text[i+1:], "= ") && digit(i+3)):
			b.WriteRune(firmBlank)
		case r == ' ' && digit(i-1) && digit(i+1) && digit(i+2) && digit(i+3) && !digit(i+4):
			b.WriteRune(firmBlank)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// joins reports whether text ends in one of the signs.
func joins(text, signs string) bool {
	last, _ := utf8.DecodeLastRuneInString(text)
	return strings.ContainsRune(signs, last)
}

// begins reports whether text begins with one of the words.
func begins(text string, words ...string) bool {
	return slices.ContainsFunc(words, func(word string) bool { return strings.HasPrefix(text, word) })
}

// isUnit reports whether text begins with a unit.
func isUnit(text string) bool {
	n := strings.IndexAny(text, " .,;:)?!\u00a0")
	if n < 0 {
		n = len(text)
	}
	switch text[:n] {
	case "Ω", "kΩ", "MΩ", "ohm", "kohm", "Mohm", "V", "mV", "µV", "uV", "A", "mA", "µA", "uA", "nA", "µA/div", "uA/div", "A/div",
		"div", "divisions", "%", "min", "s", "W", "mW", "°C", "deg":
		return true
	}
	return false
}

// Wrap breaks text at blanks into lines of at most w cells; a longer word is
// broken where it must be. A number stays with its sign and with its unit. No
// text makes no lines.
func Wrap(text string, w int) []string {
	if w <= 0 || text == "" {
		return nil
	}
	// Wrap leaves a dash where it stands, in a line however narrow.
	lines := strings.Split(ansi.Hardwrap(ansi.Wrap(firm(text, w), w, " "), w, true), "\n")
	for i, line := range lines {
		lines[i] = strings.TrimRight(loosened.Replace(line), " ")
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
