package hands

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/muesli/termenv"
	"pgregory.net/rapid"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/bench"
	"example.org/halve/physics/bench/live"
	"example.org/halve/tui/draw"
	"example.org/halve/tui/theme"
)

// student is somebody with the bench under their hands, and a clock of their
// own.
type student struct {
	t     testing.TB
	m     *Model
	clock time.Time
	tick  tea.Cmd // the picture that is due next, nil for none
}

// sit sets up the common plug bench, wired, with a movement that needs some
// seconds. With 3150 Ω and 88 Ω it shows 24 and 12 divisions.
func sit(t testing.TB, still bool, change func(*apparatus.Bench)) *student {
	t.Helper()
	return sitAt(t, "", still, change)
}

// sitAt is sit at a bench with a fault.
func sitAt(t testing.TB, fault string, still bool, change func(*apparatus.Bench)) *student {
	t.Helper()
	const g = 3150.9 * 88 / (3150.9 - 88)
	stated := apparatus.Bench{
		Source:       apparatus.Source{EMF: 1.46},
		Galvanometer: apparatus.Galvanometer{Divisions: 30, Resolution: 0.5},
		SeriesBox:    apparatus.Box{Kind: apparatus.Plug, Coils: []float64{5000, 2000, 1000, 1000, 100, 50}},
		ShuntBox:     apparatus.Box{Kind: apparatus.Decade, Dials: []float64{100, 10, 1}},
	}
	if change != nil {
		change(&stated)
	}
	h := bench.Hidden{EMF: 1.46, SourceResistance: 0.9, Resistance: g, Merit: 1.46 / (24 * (3150.9 + g)),
		SeriesErrors: make([]float64, len(stated.SeriesBox.Coils)+len(stated.SeriesBox.Dials)),
		ShuntErrors:  make([]float64, len(stated.ShuntBox.Coils)+len(stated.ShuntBox.Dials))}
	r := rand.New(rand.NewPCG(1, 2))
	b, err := bench.New(stated, h, r)
	if err != nil {
		t.Fatal(err)
	}
	if fault != "" {
		if err := live.Plant(b, fault, r); err != nil {
			t.Fatal(err)
		}
	}
	truth, err := live.DrawTruth(stated.Galvanometer, r).With(live.Extra{Period: new(1.5), Damping: new(0.25), Critical: new(200.0), Friction: new(0.05), Sag: new(0.0)})
	if err != nil {
		t.Fatal(err)
	}
	x, err := live.New(b, truth, r, true)
	if err != nil {
		t.Fatal(err)
	}
	s := &student{t: t, clock: time.Unix(0, 0)}
	th := theme.New(theme.Auto, termenv.Ascii, true)
	s.m = New(Options{Bench: x, Theme: &th, Now: func() time.Time { return s.clock }, Still: still})
	return s
}

// keys presses keys, by the names Bubble Tea has for them, or letters.
func (s *student) keys(names ...string) *student {
	special := map[string]tea.KeyType{"left": tea.KeyLeft, "right": tea.KeyRight, "up": tea.KeyUp, "down": tea.KeyDown, "esc": tea.KeyEsc}
	for _, name := range names {
		k := tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune(name)}
		if t, ok := special[name]; ok {
			k = tea.KeyMsg{Type: t}
		} else if name == " " {
			k.Type = tea.KeySpace
		}
		s.tick = s.m.Update(k)
	}
	return s
}

// wait lets time pass and looks when a picture is due, as the screen would.
// It returns how many pictures there were.
func (s *student) wait(d time.Duration) (pictures int) {
	s.t.Helper()
	end := s.clock.Add(d)
	for s.tick != nil {
		due := s.m.bench.Due(s.m.at)
		if s.m.until > s.m.at {
			due = s.m.until - s.m.at
		}
		if s.clock = s.clock.Add(max(due, live.Frame)); s.clock.After(end) {
			break
		}
		s.tick = s.m.Update(frame(s.m.tick))
		pictures++
	}
	s.clock = end
	return pictures
}

func (s *student) view(w, h int) string { return strings.Join(s.m.View(w, h), "\n") }

func (s *student) sees(what string) {
	s.t.Helper()
	if v := strings.Join(strings.Fields(s.view(100, 30)), " "); !strings.Contains(v, what) {
		s.t.Fatalf("%q is not to be seen:\n%s", what, s.view(100, 30))
	}
}

// A row by hand: plugs one by one, K1, waiting, K2, waiting.
func TestARow(t *testing.T) {
	s := sit(t, false, nil)
	s.sees("out: nothing")
	s.keys("down", "right", " ", "right", " ", "right", "right", " ", "right", " ") // 2000, 1000, 100, 50
	s.sees("out: 2 000 + 1 000 + 100 + 50 ohm")
	s.sees("[ ]")
	s.keys("down", "right", "+", "+", "+", "+", "+", "+", "+", "+", "right") // 8 × 10
	for range 8 {
		s.keys(" ")
	}
	s.sees("in circuit: 8 x 10 + 8 x 1 ohm")
	s.keys("1")
	if n := s.wait(20 * time.Second); n < 60 || n > 300 {
		t.Errorf("%d pictures until the needle rests, want some seconds of thirty", n)
	}
	if v := s.m.bench.Needle(s.m.at); v < 23.9 || v > 24.1 {
		t.Errorf("the needle rests at %.3f, want 24", v)
	}
	if s.tick != nil {
		t.Error("a picture is due though the needle rests")
	}
	s.keys("2")
	s.wait(20 * time.Second)
	if v := s.m.bench.Needle(s.m.at); v < 11.9 || v > 12.1 {
		t.Errorf("with the shunt the needle rests at %.3f, want 12", v)
	}
	s.sees("K1 and K2 closed")
	s.keys("2", "1")
	s.wait(20 * time.Second)
	s.sees("keys open")
	if hs := s.m.Fresh(); len(hs) != 1 || hs[0].Kind != live.Touched {
		t.Errorf("happenings %+v, want that the first swing touched the stop", hs)
	}
}

// The needle is driven past the last mark where R is left out, and it is said
// what then is to be done.
func TestSeriesBoxLeftOut(t *testing.T) {
	s := sit(t, false, nil)
	s.keys("1")
	s.wait(time.Second)
	s.sees("! the needle was driven past the last mark on the right when K1 was closed with R at 0 ohm, 28 times full scale.")
	s.sees("Open K1 at once: at a real bench the pointer bends, or the coil burns. Put the whole series box in before the first touch.")
	if !s.m.alarm {
		t.Error("it is said without alarm")
	}
	hs := s.m.Fresh()
	if len(hs) != 1 || hs[0].Kind != live.Pegged || hs[0].Act != (live.Act{Do: live.Close, Key: live.K1}) {
		t.Errorf("happenings %+v, want the needle pegged by closing K1", hs)
	}
	if again := s.m.Fresh(); again != nil {
		t.Errorf("told once more: %+v", again)
	}
}

// An idle bench asks for no picture, whatever is done without current.
func TestIdle(t *testing.T) {
	s := sit(t, false, nil)
	for _, k := range []string{"down", "right", " ", "up", "m", "v", "o", "2", "2", "w", "w"} {
		if s.keys(k); s.tick != nil {
			t.Errorf("after %q a picture is due, though nothing moves", k)
		}
	}
}

// With nothing moving by itself the needle is shown when it is at rest, after
// its time to settle, in one picture.
func TestStill(t *testing.T) {
	s := sit(t, true, nil)
	s.keys("down", "right", " ", "right", " ", "right", "right", " ", "right", " ", "1")
	s.sees("the needle moves; it is at rest in about")
	if strings.Contains(s.view(100, 30), "^") {
		t.Errorf("the needle is drawn while it moves:\n%s", s.view(100, 30))
	}
	if n := s.wait(20 * time.Second); n < 1 || n > 5 {
		t.Errorf("%d pictures, want one, and few until nothing moves", n)
	}
	if v := s.view(100, 30); !strings.Contains(v, "^") || !strings.Contains(v, "K1 closed") {
		t.Errorf("the needle at rest is not drawn:\n%s", v)
	}
}

// Reading is the person's own: nowhere does the bench say a number of
// divisions.
func TestNoReadingIsHandedOver(t *testing.T) {
	s := sit(t, false, nil)
	s.keys("down", "right", " ", "right", " ", "right", "right", " ", "right", " ", "1")
	s.wait(20 * time.Second)
	for _, lens := range []bool{false, true} {
		s.m.lens = lens
		// The figures of the scale go by fives, close to by ones; nothing else
		// may stand there.
		if v := s.view(100, 30); strings.Contains(v, "24.") || strings.Contains(v, "23.9") || strings.Contains(v, "reads") {
			t.Errorf("the reading is handed over:\n%s", v)
		}
	}
}

// Through the magnifier alone a needle against its stop is out of sight: it is
// said where it is.
func TestMagnifiedPastTheEnd(t *testing.T) {
	s := sit(t, false, nil)
	s.keys("m", "1")
	s.wait(time.Second)
	if v := strings.Join(s.m.ScaleLines(70, 4), "\n"); !strings.Contains(v, "magnified: the needle is past the last mark") {
		t.Errorf("nothing is said of a needle past the last mark:\n%s", v)
	}
	s.keys("1")
	s.wait(20 * time.Second)
	if v := strings.Join(s.m.ScaleLines(70, 4), "\n"); strings.Contains(v, "past") {
		t.Errorf("the needle is back, but it is said to be past the last mark:\n%s", v)
	}
}

// In a small window what has happened is whole, the needle is to be seen, and
// what the hand is on.
func TestSmallWindow(t *testing.T) {
	s := sit(t, false, func(b *apparatus.Bench) {
		b.SeriesBox.Coils, b.ShuntBox = apparatus.PlugSet(1, 10, 100, 1000), apparatus.Box{Kind: apparatus.Plug, Coils: apparatus.PlugSet(1, 10, 100)}
	})
	s.keys("1")
	s.wait(time.Second)
	for _, tt := range []struct{ hand, sees string }{{"up", "S 1 2 2 5"}, {"down", "[K1 o---o closed]"}} { // to the shunt box, and back to K1
		s.keys(tt.hand)
		s.m.warn("the needle was driven past the last mark. Put the whole series box in before the first touch.")
		lines := s.m.View(50, 9)
		for _, want := range []string{"before the first touch.", tt.sees} {
			if v := strings.Join(lines, " "); !strings.Contains(strings.Join(strings.Fields(v), " "), strings.Join(strings.Fields(want), " ")) {
				t.Errorf("%q is not to be seen:\n%s", want, strings.Join(lines, "\n"))
			}
		}
		// The needle against the right stop: in one line in its place, else below it.
		if !strings.HasSuffix(strings.TrimSpace(lines[0]), "|^") && !strings.HasSuffix(lines[2], "| K1 closed") {
			t.Errorf("no scale with its needle:\n%s", strings.Join(lines, "\n"))
		}
	}
}

// Looking over a part says nothing of leads that go wrong: it does not call a
// circuit sound that a lead spoils.
func TestLookedOverBesideAWrongLead(t *testing.T) {
	s := sit(t, false, nil)
	s.m.bench.Connect(0, live.ShuntA, live.ShuntB)
	s.keys("up", "o")
	s.sees("the shunt box is looked over: it is sound in itself. Where its leads go is seen at the leads (w)")
	if v := s.view(100, 30); strings.Contains(v, "nothing is wrong") {
		t.Errorf("with a wire across the shunt box it is said that nothing is wrong:\n%s", v)
	}
}

// Through the magnifier half a dozen divisions fill the width, the needle
// among them.
func TestMagnifier(t *testing.T) {
	s := sit(t, false, nil)
	s.keys("down", "right", " ", "right", " ", "right", "right", " ", "right", " ", "1")
	s.wait(20 * time.Second)
	s.keys("m")
	lines := s.m.ScaleLines(70, 4)
	if !strings.Contains(lines[0], "23") || !strings.Contains(lines[0], "24") || strings.Contains(lines[0], "30") {
		t.Errorf("magnified, the figures are %q, want those about 24", lines[0])
	}
	mark, needle := strings.Index(lines[0], "24")+1, strings.IndexAny(lines[2], "|")
	if d := mark - needle; d < -2 || d > 2 {
		t.Errorf("the needle is in column %d, the mark of 24 in %d:\n%s", needle, mark, strings.Join(lines, "\n"))
	}
	if n := len(s.m.ScaleLines(70, 12)); n <= draw.ScaleHeight {
		t.Errorf("%d lines where there is room for both", n)
	}
}

// Keys typed faster than they are read come as one, and count one by one; what
// is pasted does nothing.
func TestKeysTogether(t *testing.T) {
	s := sit(t, false, nil)
	s.m.Update(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune("12")})
	if !s.m.bench.Closed(live.K1) || !s.m.bench.Closed(live.K2) {
		t.Error("1 and 2 typed together do not close both keys")
	}
	s.m.Update(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune("21"), Paste: true})
	if !s.m.bench.Closed(live.K1) {
		t.Error("pasted text opened a key")
	}
}

func TestWiring(t *testing.T) {
	s := sit(t, false, nil)
	s.m.bench.Unwire(0)
	s.keys("w")
	s.sees("no lead is joined yet")
	s.keys(" ")
	s.sees("cell +*")
	s.keys("down", "right", " ") // cell + to K1 b
	s.sees("leads: cell + to K1 b")
	s.sees("cell + and K1 b are joined")
	s.keys(" ", "up", "left", " ")
	s.sees("K1 b and cell + are joined no more")
	s.keys(" ", "esc")
	if s.m.Holding() {
		t.Error("the lead is still in the hand after Esc")
	}
	s.keys("d")
	if !s.m.bench.Wired() {
		t.Error("the leads do not make the circuit after they were laid as drawn")
	}
	s.keys("x")
	s.sees("all leads are taken away")
	s.sees("no lead is joined yet")
	s.keys("w")
	s.sees("zero screw")
}

// Each thing in the first row does what it says.
func TestFirstRow(t *testing.T) {
	s := sit(t, false, nil)
	s.keys(" ")
	s.sees("K1 is closed")
	s.keys(" ", "right", " ")
	s.sees("K2 is closed")
	s.keys(" ", "right", " ")
	s.sees("the case is tapped")
	s.keys("right", "+")
	s.sees("the zero screw is turned a little to the right")
	s.keys(",", ",")
	s.sees("to the left")
	s.keys("right", " ")
	s.sees("V, K1 open")
	s.sees("the voltmeter across the source shows 1.4")
	s.keys("1", "v")
	s.sees("V, K1 closed: what is left at its terminals")
	s.keys("1")
	s.wait(20 * time.Second)
	s.keys("o")
	s.sees("the source is looked over: it is sound in itself. Where its leads go is seen at the leads (w)")
	if s.m.LookedOver() != 1 {
		t.Errorf("%d things looked over, want 1", s.m.LookedOver())
	}
	s.keys("left", "left", "left", "t")
	s.sees("K2 is tapped")
	s.wait(20 * time.Second)
	s.keys("left", "t")
	s.wait(20 * time.Second)
	s.sees("the needle was driven past the last mark on the right when K1 was tapped")
}

// Every fault is found and mended by the keys: where it sits, by looking over
// one thing after another; in the leads, by laying them as they are drawn; at
// the zero, by the screw, turned until the needle stands at the mark.
func TestEveryFaultMendedByKeys(t *testing.T) {
	for _, id := range live.Faults() {
		t.Run(id, func(t *testing.T) {
			s := sitAt(t, id, false, nil)
			there := func() bool {
				_, there := s.m.bench.Fault()
				return there
			}
			s.keys("1") // some faults begin with a closing
			s.wait(20 * time.Second)
			s.keys("1")
			s.wait(20 * time.Second)
			if !there() {
				t.Fatal("it is gone before anything was done about it")
			}
			s.keys("w", "d", "w")
			inLeads := !there()
			found := 0
			lookOver := func(way string) {
				s.keys(way, "o")
				if strings.Contains(s.m.said, "Readings taken with it are worth nothing") {
					found++
				}
			}
			for range things {
				lookOver("left")
			}
			lookOver("down")
			lookOver("down")
			if found > 1 || found == 1 && inLeads || found == 0 && !inLeads && id != "zero-off" {
				t.Errorf("found %d times by looking things over, in the leads %v", found, inLeads)
			}
			for range 40 {
				div := s.m.bench.Needle(s.m.at)
				if math.Abs(div) < screwStep {
					break
				}
				s.keys(map[bool]string{true: ",", false: "."}[div > 0])
				s.wait(10 * time.Second)
				s.keys("c")
			}
			if there() {
				t.Errorf("it is there still:\n%s", s.view(100, 30))
			}
		})
	}
}

// A dial stops at nought and at ten.
func TestDial(t *testing.T) {
	s := sit(t, false, nil)
	s.keys("up") // the last row, the shunt's dials
	s.keys("-")
	s.sees("the dial goes from 0 to 10 steps")
	for range 11 {
		s.keys("+")
	}
	s.sees("in circuit: 10 x 100 ohm")
}

// Any keys at any size: the bench is drawn in its room and nothing breaks.
func TestAnyKeysAnySize(t *testing.T) {
	names := []string{"left", "right", "up", "down", " ", "+", "-", "1", "2", "t", "c", "m", "v", "o", "w", "d", "esc", ",", ".", "x", "é"}
	rapid.Check(t, func(rt *rapid.T) {
		s := sit(t, rapid.Bool().Draw(rt, "still"), nil)
		for range rapid.IntRange(1, 30).Draw(rt, "keys") {
			s.keys(rapid.SampledFrom(names).Draw(rt, "key"))
			s.wait(time.Duration(rapid.Int64Range(0, int64(2*time.Second)).Draw(rt, "wait")))
			w, h := rapid.IntRange(0, 130).Draw(rt, "w"), rapid.IntRange(0, 45).Draw(rt, "h")
			lines := s.m.View(w, h)
			if len(lines) > h {
				rt.Fatalf("%d lines in a room of %d", len(lines), h)
			}
			for _, l := range lines {
				if w >= 60 && draw.Width(l) > w {
					rt.Fatalf("%d cells in a room of %d: %q", draw.Width(l), w, l)
				}
			}
			for _, b := range s.m.KeyMap() {
				if b.Help().Desc == "" {
					rt.Fatalf("the key %q says nothing", b.Help().Key)
				}
			}
		}
	})
}

func BenchmarkFrame(b *testing.B) {
	s := sit(b, false, nil)
	s.keys("1")
	b.ReportAllocs()
	for b.Loop() {
		s.clock = s.clock.Add(live.Frame)
		s.m.Update(frame(s.m.tick))
		s.m.View(70, 30)
	}
}
