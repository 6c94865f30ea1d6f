package screen

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/muesli/termenv"

	"example.org/halve/procedure"
	"example.org/halve/tui/theme"
)

func random() *rand.Rand { return rand.New(rand.NewPCG(1, 2)) }

// steps are the screens a person meets, in the order of a practical.
func steps() []struct {
	name string
	to   func(t testing.TB) *person
} {
	at := func(t testing.TB) *person { return sit(t, options(onBench(t), nil, "records"), 80, 24) }
	return []struct {
		name string
		to   func(t testing.TB) *person
	}{
		{"start", func(t testing.TB) *person { return sit(t, options(nil, nil, "records"), 80, 24) }},
		{"bench", func(t testing.TB) *person {
			return sit(t, options(nil, nil, "records"), 80, 24).keys("1", "down", "down", "down", "down", "down")
		}},
		{"wiring", func(t testing.TB) *person { return at(t).keys("  ") }},
		{"zero", func(t testing.TB) *person { return at(t).wire().keys("0.5") }},
		{"source", func(t testing.TB) *person { return at(t).obey(procedure.KindSource) }},
		{"series", func(t testing.TB) *person { return at(t).obey(procedure.KindSetSeries) }},
		{"series-typed", func(t testing.TB) *person { return at(t).obey(procedure.KindSetSeries).keys("4k7") }},
		{"first", func(t testing.TB) *person {
			return at(t).obey(procedure.KindReadFirst).keys("7", "enter", "enter", "24")
		}},
		{"shunt", func(t testing.TB) *person { return at(t).obey(procedure.KindSetShunt) }},
		{"shunted", func(t testing.TB) *person { return at(t).obey(procedure.KindReadShunted).keys("12") }},
		{"keep", func(t testing.TB) *person { return at(t).obey(procedure.KindKeepRow) }},
		{"row-two", func(t testing.TB) *person { return at(t).obey(procedure.KindKeepRow).keys("enter") }},
		{"list", func(t testing.TB) *person { return at(t).obey(procedure.KindKeepRow).keys("tab") }},
		{"strike", func(t testing.TB) *person {
			return at(t).obey(procedure.KindKeepRow).keys("ctrl+x", "8 misread")
		}},
		{"help", func(t testing.TB) *person { return at(t).obey(procedure.KindKeepRow).keys("f1") }},
		{"refused", func(t testing.TB) *person {
			return at(t).obey(procedure.KindReadShunted).keys("31", "enter")
		}},
		{"finish", func(t testing.TB) *person { return at(t).obey(procedure.KindFinish) }},
		{"finished", func(t testing.TB) *person { return at(t).obey("") }},
		{"behind", func(t testing.TB) *person { return at(t).obey("").keys("ctrl+b") }},
		{"graph", func(t testing.TB) *person { return struckRow(at(t).obey(procedure.KindFinish)).keys("f3") }},
		{"residuals", func(t testing.TB) *person { return at(t).obey("").keys("f3", "right") }},
		{"why", func(t testing.TB) *person { return at(t).obey(procedure.KindReadFirst).keys("f2") }},
		{"theory", func(t testing.TB) *person {
			return at(t).obey(procedure.KindReadFirst).keys("f2", "right", "pgdown")
		}},
		{"not-now", func(t testing.TB) *person {
			return at(t).obey(procedure.KindSetSeries).keys("tab", "down", "enter")
		}},
	}
}

// led are the people at each of the steps; to lead them there takes longer
// than all that is done with them.
var led []*person

// everyStep is a person at each of the steps, at 80x24 and without colour.
func everyStep(t testing.TB) []*person {
	for i, step := range steps() {
		if len(led) == i {
			led = append(led, step.to(t))
		}
		led[i].t = t
		led[i].send(tea.WindowSizeMsg{Width: 80, Height: 24})
		led[i].paint(theme.New(theme.Auto, termenv.Ascii, false))
	}
	return led
}

// struckRow strikes the second row.
func struckRow(p *person) *person {
	w := p.m.page.(*work)
	return p.keys("ctrl+x", fmt.Sprint(w.counsel.Rows[1].Seq)+" read from the side", "enter")
}

var sizes = [][2]int{{60, 20}, {80, 24}, {120, 40}, {200, 60}}

// The screens of each step at four sizes, without colour.
func TestGoldenScreens(t *testing.T) {
	for i, p := range everyStep(t) {
		step := steps()[i]
		t.Run(step.name, func(t *testing.T) {
			var b strings.Builder
			for _, size := range sizes {
				p.send(tea.WindowSizeMsg{Width: size[0], Height: size[1]})
				view := p.m.View()
				checkFits(t, view, size[0], size[1])
				fmt.Fprintf(&b, "=== %dx%d\n", size[0], size[1])
				for line := range strings.Lines(view) {
					b.WriteString(strings.TrimRight(line, " \n") + "\n")
				}
			}
			golden(t, step.name, b.String())
		})
	}
}

// With ASCII signs nothing else is drawn, at any step.
func TestASCIIScreens(t *testing.T) {
	for i, p := range everyStep(t) {
		p.paint(theme.New(theme.Auto, termenv.Ascii, true))
		for _, size := range sizes {
			p.send(tea.WindowSizeMsg{Width: size[0], Height: size[1]})
			view := p.m.View()
			checkFits(t, view, size[0], size[1])
			for _, r := range view {
				if r > 0x7e || r < 0x20 && r != '\n' {
					t.Fatalf("%s: %q is drawn in ASCII at %v:\n%s", steps()[i].name, r, size, view)
				}
			}
		}
	}
}

// Colour adds nothing that words and signs do not say: with the colours taken
// away the coloured screen is the plain one.
func TestColourSaysNothingMore(t *testing.T) {
	for i, p := range everyStep(t) {
		plain := p.m.View()
		for _, name := range []string{theme.Light, theme.Dark} {
			p.paint(theme.New(name, termenv.TrueColor, false))
			coloured := p.m.View()
			if !strings.Contains(coloured, "\x1b[") {
				t.Fatalf("%s, %s: nothing is coloured", steps()[i].name, name)
			}
			if got := strip(coloured); got != plain {
				t.Errorf("%s, %s: without its colours the screen differs:\n%s", steps()[i].name, name, difference(plain, got))
			}
		}
	}
}

// The screens of each step in colour, light and dark, and in ASCII signs.
func TestGoldenThemes(t *testing.T) {
	for _, set := range []struct {
		name  string
		theme theme.Theme
	}{
		{"in-light", theme.New(theme.Light, termenv.TrueColor, false)},
		{"in-dark", theme.New(theme.Dark, termenv.TrueColor, false)},
		{"in-ascii", theme.New(theme.Auto, termenv.Ascii, true)},
	} {
		var b strings.Builder
		for i, p := range everyStep(t) {
			p.paint(set.theme)
			fmt.Fprintf(&b, "=== %s\n", steps()[i].name)
			for line := range strings.Lines(p.m.View()) {
				// Escapes are written so that the file can be read and compared.
				b.WriteString(strings.ReplaceAll(strings.TrimRight(line, " \n"), "\x1b", "^") + "\n")
			}
		}
		golden(t, set.name, b.String())
	}
}
