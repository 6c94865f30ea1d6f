package screen

import (
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/muesli/termenv"

	"example.org/halve/physics"
	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/bench"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
	"example.org/halve/tui/choices"
	"example.org/halve/tui/draw"
	"example.org/halve/tui/theme"
)

// update reports whether the golden screens are to be written anew, by the flag
// that teatest declares. Read the difference before committing.
func update() bool { return flag.Lookup("update").Value.String() == "true" }

// clock goes on by a second each time it is asked.
func clock() func() time.Time {
	at := time.Date(2025, 3, 4, 10, 0, 0, 0, time.Local)
	return func() time.Time {
		at = at.Add(time.Second)
		return at
	}
}

// table is a bench of the common kind. With EMF 1.52 V, r 0.4 ohm, G 90.5 ohm
// and k 19 µA/div (chosen here) its needle is worked out by the closed forms
// of package physics.
func table() apparatus.Bench {
	b := apparatus.Bench{
		Source:       apparatus.Cells()[0].Source(),
		Galvanometer: apparatus.Galvanometer{Label: "G 7", Divisions: 30, Zero: apparatus.CentreZero, Resolution: 0.5},
		SeriesBox:    choices.SeriesBoxes()[0].Box,
		ShuntBox:     choices.ShuntBoxes()[0].Box,
	}
	b.SeriesBox.Tolerance, b.ShuntBox.Tolerance = 0.001, 0.001
	return b
}

const (
	trueEMF, trueSource, trueG, trueK = 1.52, 0.4, 90.5, 19e-6
)

// shows is where the true needle stands, to half a division.
func shows(t testing.TB, series, shunt float64) string {
	t.Helper()
	v, err := physics.FirstDeflection(trueEMF, series+trueSource, trueG, trueK)
	if shunt > 0 {
		v, err = physics.ShuntedDeflection(trueEMF, series+trueSource, trueG, shunt, trueK)
	}
	if err != nil {
		t.Fatal(err)
	}
	if v > 30 {
		return "off"
	}
	return bare(math.Round(2*v) / 2)
}

// person sits in front of the screens: types, and looks at what is shown.
type person struct {
	t testing.TB
	m *Model
}

func options(s *record.Sitting, b ByHand, dir string) Options {
	return Options{
		Sitting: s, Bench: b, DataDir: dir, Now: clock(),
		NewID: func() string { return "TESTID" },
		Theme: theme.New(theme.Auto, termenv.Ascii, false), Still: true,
	}
}

func sit(t testing.TB, o Options, w, h int) *person {
	t.Helper()
	p := &person{t, New(o)}
	p.send(tea.WindowSizeMsg{Width: w, Height: h})
	return p
}

// send gives a message to the screens and runs what they ask for until
// nothing is left to do.
func (p *person) send(msg tea.Msg) {
	p.t.Helper()
	m, cmd := p.m.Update(msg)
	p.m = m.(*Model)
	if cmd == nil {
		return
	}
	switch next := cmd().(type) {
	case nil, tea.InterruptMsg, tea.SuspendMsg:
	default:
		p.send(next)
	}
}

// named keys, as a person calls them.
var pressed = map[string]tea.KeyType{
	"enter": tea.KeyEnter, "tab": tea.KeyTab, "esc": tea.KeyEsc, "up": tea.KeyUp, "down": tea.KeyDown, "left": tea.KeyLeft,
	"right": tea.KeyRight, "f1": tea.KeyF1, "home": tea.KeyHome, "backspace": tea.KeyBackspace, "shift+tab": tea.KeyShiftTab,
	"ctrl+b": tea.KeyCtrlB, "ctrl+c": tea.KeyCtrlC, "ctrl+k": tea.KeyCtrlK, "ctrl+f": tea.KeyCtrlF, "ctrl+n": tea.KeyCtrlN, "ctrl+o": tea.KeyCtrlO,
	"ctrl+s": tea.KeyCtrlS, "ctrl+t": tea.KeyCtrlT, "ctrl+x": tea.KeyCtrlX, "ctrl+u": tea.KeyCtrlU, "ctrl+v": tea.KeyCtrlV,
	"ctrl+l": tea.KeyCtrlL, "ctrl+z": tea.KeyCtrlZ, "pgup": tea.KeyPgUp, "pgdown": tea.KeyPgDown, "f2": tea.KeyF2, "f3": tea.KeyF3, "f4": tea.KeyF4,
	"ctrl+y": tea.KeyCtrlY, "ctrl+g": tea.KeyCtrlG, "ctrl+r": tea.KeyCtrlR, "ctrl+w": tea.KeyCtrlW, "f5": tea.KeyF5,
}

// keys presses the named keys one after the other; what is no name is typed.
func (p *person) keys(names ...string) *person {
	p.t.Helper()
	for _, name := range names {
		if k, ok := pressed[name]; ok {
			p.send(tea.KeyMsg{Type: k})
			continue
		}
		for _, r := range name {
			if r == ' ' {
				p.send(tea.KeyMsg{Type: tea.KeySpace, Runes: []rune{' '}})
			} else {
				p.send(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune{r}})
			}
		}
	}
	return p
}

// paint draws the screens anew in another theme.
func (p *person) paint(t theme.Theme) { p.m.repaint(t); p.m.frame = p.m.draw() }

func (p *person) sees(what string) {
	p.t.Helper()
	if view := flat(p.m.View()); !strings.Contains(view, what) {
		p.t.Fatalf("the screen does not show %q:\n%s", what, p.m.View())
	}
}

func (p *person) seesNot(what string) {
	p.t.Helper()
	if view := flat(p.m.View()); strings.Contains(view, what) {
		p.t.Fatalf("the screen shows %q:\n%s", what, p.m.View())
	}
}

// flat is the text of a page in one line, so that a sentence can be looked for
// wherever it is broken: first what stands on the left page, then what faces
// it. The margin and the rules are taken out.
func flat(view string) string {
	lines := strings.Split(view, "\n")
	spine := 0
	if len(lines) > 1 {
		if at := strings.LastIndex(lines[1], "┬"); at >= 0 {
			if at = draw.Width(lines[1][:at]); at > marginWidth+1 {
				spine = at
			}
		}
	}
	var words, facing []string
	for i, line := range lines {
		if i > 1 && i < len(lines)-1 && len([]rune(line)) > marginWidth {
			cells := []rune(line)
			if spine > 0 && len(cells) > spine {
				facing = append(facing, strings.Fields(string(cells[spine+1:]))...)
				cells = cells[:spine]
			}
			if len(cells) > marginWidth+1 && (cells[marginWidth+1] == '│' || cells[marginWidth+1] == '┼') {
				cells = cells[marginWidth+2:]
			}
			line = string(cells)
		}
		words = append(words, strings.Fields(line)...)
	}
	return strings.Join(append(words, facing...), " ")
}

// needs is what the page must show whole, whatever the window.
func (p *person) needs() []string {
	const endless = 10_000
	words := func(lines []string) string { return strings.Join(strings.Fields(strip(strings.Join(lines, " "))), " ") }
	w, ok := p.m.page.(*work)
	if !ok || w.open != noSheet {
		return []string{"F1 help"}[:min(len(p.m.page.keymap())/3, 1)]
	}
	needs := []string{words(w.doLines(endless)), words(w.safeLines(endless)), words(w.writeLines(endless)), "Enter", "Tab entries", "F1 help", "F2 why?"}
	if w.kind != enterWired && w.kind != enterStrike && !w.sitting.State().Finished() && w.foreseesReading() {
		needs = append(needs, words(w.seeLines(endless)))
	}
	if w.wrong || w.refusal() != "" {
		needs = append(needs, words(w.oddLines(endless)))
	}
	if w.kind == enterWired {
		needs = append(needs, w.theme.Signs.Choice+" [ ]")
	}
	if r := w.counsel.Result; r != nil {
		needs = append(needs, "G = "+measured(r.Resistance, r.UResistance, quantity.Ohm))
	}
	return needs
}

// counsel is what the sitting of the page says.
func (p *person) counsel() procedure.Counsel {
	p.t.Helper()
	w, ok := p.m.page.(*work)
	if !ok {
		p.t.Fatalf("the page is a %T, not the work page:\n%s", p.m.page, p.m.View())
	}
	return w.sitting.Counsel()
}

// wire ticks the list and goes on to the zero.
func (p *person) wire() *person {
	return p.keys(strings.Repeat(" ", len(wiring(table()))), "enter")
}

// obey does what is proposed until the event comes round, reading what the
// true needle shows.
func (p *person) obey(until string) *person {
	p.t.Helper()
	for range 200 {
		w, ok := p.m.page.(*work)
		if !ok {
			p.t.Fatalf("the page is a %T", p.m.page)
		}
		next := w.sitting.Counsel().Next
		if w.kind == enterSource {
			if until == procedure.KindSource {
				return p
			}
			p.keys("1.52", "enter")
			continue
		}
		if next == nil || next.Event == until {
			return p
		}
		series, _ := w.sitting.State().SeriesOhm()
		shunt, _ := w.sitting.State().ShuntOhm()
		switch next.Event {
		case procedure.KindWired:
			p.wire()
		case procedure.KindZero:
			p.keys("0", "enter")
		case procedure.KindReadFirst:
			p.keys(shows(p.t, series, 0), "enter")
		case procedure.KindReadShunted:
			p.keys(shows(p.t, series, shunt), "enter")
		default:
			p.keys("enter")
		}
	}
	p.t.Fatalf("%s never comes round:\n%s", until, p.m.View())
	return p
}

// onBench is a sitting in memory with the bench stated.
func onBench(t testing.TB) *record.Sitting {
	t.Helper()
	s := record.InMemory(clock())
	state(t, s)
	return s
}

func state(t testing.TB, s *record.Sitting) {
	t.Helper()
	if c, err := s.Accept(procedure.Bench{Bench: table()}); err != nil || c.Refused != nil {
		t.Fatalf("the bench is not taken: %v, %v", err, c.Refused)
	}
}

// simulated is a practice whose bench has the true values above and boxes
// without error.
func simulated(t testing.TB) *bench.Bench {
	t.Helper()
	h := bench.Draw(table(), random())
	h.EMF, h.SourceResistance, h.Resistance, h.Merit, h.Zero = trueEMF, trueSource, trueG, trueK, 0
	b, err := bench.New(table(), h, random())
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// golden compares a screen with the one that is kept.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name+".golden")
	if update() {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs from the golden screens (go test -update writes them anew):\n%s", name, difference(string(want), got))
	}
}

// difference shows the first line that differs.
func difference(want, got string) string {
	w, g := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range max(len(w), len(g)) {
		var a, b string
		if i < len(w) {
			a = w[i]
		}
		if i < len(g) {
			b = g[i]
		}
		if a != b {
			return fmt.Sprintf("line %d\n want %q\n got  %q", i+1, a, b)
		}
	}
	return ""
}

// checkFits reports a view that does not fit its window.
func checkFits(t interface {
	Helper()
	Fatalf(string, ...any)
}, view string, w, h int) {
	t.Helper()
	lines := strings.Split(view, "\n")
	if len(lines) > max(h, 1) {
		t.Fatalf("%d lines in a window of %dx%d:\n%s", len(lines), w, h, view)
	}
	for i, line := range lines {
		if n := draw.Width(line); n > w {
			t.Fatalf("line %d is %d wide in a window of %dx%d: %q", i+1, n, w, h, line)
		}
	}
}

// press is the message of one typed character.
func press(s string) tea.KeyMsg {
	if s == " " {
		return tea.KeyMsg{Type: tea.KeySpace, Runes: []rune{' '}}
	}
	return tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune(s)}
}
