// Package theme is the look of the screens: one style for each role a piece
// of text can play, and the signs that are drawn.
//
// A style only ever strengthens what words and signs already say: with every
// style taken away nothing is lost.
package theme

import (
	"io"
	"strings"

	"github.com/charmbracelet/lipgloss"
	"github.com/muesli/termenv"

	"example.org/halve/safety"
)

// Theme holds a style for each role, and the signs.
type Theme struct {
	Rule     lipgloss.Style // the ruled lines of the page and its margin
	Margin   lipgloss.Style // what stands in the margin
	Title    lipgloss.Style // the head of the page
	Do       lipgloss.Style // the one thing to do now
	Value    lipgloss.Style // a value to be set, read or kept
	Typed    lipgloss.Style // what is being typed
	Hint     lipgloss.Style // explanations
	Odd      lipgloss.Style // what is odd or refused
	Said     lipgloss.Style // what has just been done
	Key      lipgloss.Style // a key that can be pressed
	Clear    lipgloss.Style // the three verdicts
	Tap      lipgloss.Style
	Stop     lipgloss.Style
	Scale    lipgloss.Style // the marks of the scale
	Band     lipgloss.Style // where the needle is expected
	Needle   lipgloss.Style // the needle
	Live     lipgloss.Style // a branch that carries current
	Idle     lipgloss.Style // a branch that carries none
	Selected lipgloss.Style // the line the cursor is on
	Struck   lipgloss.Style // a row that is struck out

	Signs Signs
}

// The names of the themes. Auto is the dark one, whose colours are bright
// enough on black; a light terminal needs Light said.
const (
	Auto  = ""
	Light = "light"
	Dark  = "dark"
)

// palette names the inks of a page.
type palette struct {
	ink, rule, pale, good, caution, danger, brass string
}

// The colours are those of a bench book: blue-black or pale ink, the red line
// of the margin, brass for the instrument.
func inks(name string) palette {
	if name == Light {
		return palette{
			ink: "#1C3F73", rule: "#A23B2A", pale: "#55585C",
			good: "#1D6330", caution: "#7A5000", danger: "#A3161B", brass: "#6E5410",
		}
	}
	return palette{
		ink: "#9CC3F0", rule: "#D68272", pale: "#A3A8AD",
		good: "#8CCB8C", caution: "#E5B95A", danger: "#FF8A7A", brass: "#D9BE7A",
	}
}

// New makes the theme of the given name (Auto, Light or Dark) for a terminal
// that shows colours as profile says; termenv.Ascii means no colour at all.
func New(name string, profile termenv.Profile, ascii bool) Theme {
	r := lipgloss.NewRenderer(io.Discard)
	r.SetColorProfile(profile)
	r.SetHasDarkBackground(name != Light)
	p := inks(name)
	plain := r.NewStyle()
	in := func(colour string) lipgloss.Style { return plain.Foreground(lipgloss.Color(colour)) }
	t := Theme{
		Rule:     in(p.rule),
		Margin:   in(p.rule),
		Title:    in(p.ink).Bold(true),
		Do:       plain.Bold(true),
		Value:    in(p.ink).Bold(true),
		Typed:    in(p.ink).Bold(true),
		Hint:     in(p.pale),
		Odd:      in(p.caution),
		Said:     in(p.good),
		Key:      in(p.ink),
		Clear:    in(p.good).Bold(true),
		Tap:      in(p.caution).Bold(true),
		Stop:     in(p.danger).Bold(true),
		Scale:    in(p.brass),
		Band:     in(p.good),
		Needle:   in(p.danger).Bold(true),
		Live:     in(p.brass).Bold(true),
		Idle:     in(p.pale),
		Selected: in(p.ink).Bold(true),
		Struck:   in(p.pale).Strikethrough(true),
		Signs:    Drawn(),
	}
	if ascii {
		t.Signs = ASCII()
	}
	return t
}

// Verdict returns the style, the sign and the word of a verdict. The sign is
// the same in every theme, so that it is learnt once.
func (t Theme) Verdict(v safety.Verdict) (style lipgloss.Style, sign, word string) {
	switch v {
	case safety.Clear:
		return t.Clear, "[+]", "CLEAR"
	case safety.Tap:
		return t.Tap, "[~]", "TAP ONLY"
	default:
		return t.Stop, "[x]", "STOP"
	}
}

// UTF8Locale reports whether the environment, a list of KEY=value, says that
// text is UTF-8: the first of LC_ALL, LC_CTYPE and LANG that is set decides,
// as POSIX has it. Where none is set it reports what unset says.
func UTF8Locale(environ []string, unset bool) bool {
	set := map[string]string{}
	for _, e := range environ {
		if k, v, ok := strings.Cut(e, "="); ok && v != "" {
			set[k] = v
		}
	}
	for _, k := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if v, ok := set[k]; ok {
			v = strings.ToLower(v)
			return strings.Contains(v, "utf-8") || strings.Contains(v, "utf8")
		}
	}
	return unset
}

// OlderConsole reports whether the environment, a list of KEY=value, is that of
// a console whose font has no braille and no heavy lines: Linux's own, or the
// one of Windows before its present terminal, which names itself (common
// practice, no source). Older has the signs for those.
func OlderConsole(goos string, environ []string) bool {
	set := map[string]string{}
	for _, e := range environ {
		k, v, _ := strings.Cut(e, "=")
		set[k] = v
	}
	if goos == "windows" {
		return set["WT_SESSION"] == "" && set["TERM_PROGRAM"] == "" && set["TERM"] == ""
	}
	return set["TERM"] == "linux"
}
