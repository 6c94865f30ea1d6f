package screen

import (
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"pgregory.net/rapid"

	"example.org/halve/physics/bench/live"
	"example.org/halve/procedure"
	"example.org/halve/procedure/debrief"
	"example.org/halve/procedure/record"
	"example.org/halve/tui/theme"
)

// byHand is a simulated bench to work by hand.
type byHand struct {
	live    *live.Bench
	alone   bool
	remarks []debrief.Remark
}

func (b *byHand) Live() *live.Bench             { return b.live }
func (b *byHand) Examination() bool             { return b.alone }
func (b *byHand) Over(remarks []debrief.Remark) { b.remarks = remarks }

// practising is a person at a bench of the true values, with a clock that
// stands still unless they wait.
type practising struct {
	*person
	bench *byHand
	at    *time.Time
}

func practise(t testing.TB, alone bool, w, h int) *practising {
	t.Helper()
	at := time.Date(2025, 3, 4, 10, 0, 0, 0, time.UTC)
	now := func() time.Time { return at }
	s := record.InMemory(now)
	state(t, s)
	b := &byHand{alone: alone}
	r := rand.New(rand.NewPCG(1, 2))
	truth, err := live.DrawTruth(table().Galvanometer, r).With(live.Extra{Friction: new(0.02)})
	if err != nil {
		t.Fatal(err)
	}
	if b.live, err = live.New(simulated(t), truth, r, false); err != nil {
		t.Fatal(err)
	}
	o := options(s, b, t.TempDir())
	o.Now = now
	p := &practising{&person{t, New(o)}, b, &at}
	p.m.Update(tea.WindowSizeMsg{Width: w, Height: h})
	return p
}

// press presses keys a second apart. What they ask for (the next picture) is
// not run: a tick waits for a clock that is not ours.
func (p *practising) press(names ...string) *practising {
	p.t.Helper()
	for _, name := range names {
		k := tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune(name)}
		if t, ok := map[string]tea.KeyType{"f2": tea.KeyF2, "f3": tea.KeyF3, "f4": tea.KeyF4, "f6": tea.KeyF6, "pgdown": tea.KeyPgDown}[name]; ok {
			k = tea.KeyMsg{Type: t}
		} else if t, ok := pressed[name]; ok {
			k = tea.KeyMsg{Type: t}
		} else if name == " " {
			k.Type = tea.KeySpace
		}
		*p.at = p.at.Add(time.Second)
		p.m.Update(k)
	}
	return p
}

// spell types a text.
func (p *practising) spell(text string) *practising {
	for _, r := range text {
		p.press(string(r))
	}
	return p
}

// turn turns to an entry of the list.
func (p *practising) turn(entry string) *practising {
	p.t.Helper()
	p.press("tab")
	for range 30 {
		if strings.Contains(flat(p.m.View()), "▸ "+entry) {
			return p.press("enter")
		}
		p.press("down")
	}
	p.t.Fatalf("no entry %q:\n%s", entry, p.m.View())
	return p
}

// finish ends the measuring.
func (p *practising) finish() *practising {
	p.press("ctrl+f")
	for range 3 {
		if p.m.page.(*practice).sitting.State().Finished() {
			break
		}
		p.press("enter")
	}
	return p
}

func (p *practising) wait(d time.Duration) { *p.at = p.at.Add(d) }

// wired has the circuit made and checked.
func (p *practising) wired() *practising {
	p.press("f6", "d", "esc")
	for range wiring(table()) {
		p.press(" ")
	}
	return p.press("enter")
}

func (p *practising) events() []procedure.Event { return p.m.page.(*practice).sitting.Events() }

// The guide stands beside the bench, on the bench's page as on the book's.
func TestGuideBesideTheBench(t *testing.T) {
	p := practise(t, false, 80, 24)
	p.sees("Build the circuit")
	p.press("f6")
	p.sees("Build the circuit")
	p.sees("no lead is joined yet")
	p.press("esc").wired()
	p.sees("taken as 2: circuit checked")
	p.press("f6")
	p.sees("tap the case lightly")
	p.sees("out: nothing")
	p.sees("Enter: to the book, to write down zero reading")
	p.press("enter").spell("0").press("enter", "enter") // the EMF is left out
	p.press("f6")
	p.sees("Take all plugs out of the series box")
	p.sees("K1 TAP ONLY")
}

// A wide window shows the rows beside the bench.
func TestBenchInAWideWindow(t *testing.T) {
	p := practise(t, false, 120, 40)
	p.wired().press("f6", "1")
	p.sees("rows")
	p.sees("none until the first row is kept")
	p.sees("K1 closed")
}

// What happens to the needle is said, and stands in the record; what was typed
// in the book is still there.
func TestNeedleEventIsNoted(t *testing.T) {
	p := practise(t, false, 80, 24)
	p.wired().spell("0.5").press("f6", "1")
	p.wait(time.Second)
	p.press("x")
	p.sees("! the needle was driven past the last mark on the right when K1 was closed with R at 0 Ω")
	p.sees("Put the whole series box in before the first touch")
	es := p.events()
	if n, ok := es[len(es)-1].Body.(procedure.Note); !ok || !strings.HasPrefix(n.Text, "simulated bench: the needle was driven past the last mark") {
		t.Errorf("the last entry is %+v, want a note of it", es[len(es)-1].Body)
	}
	p.press("1", "enter")
	p.sees("zero reading 0.5▏")
}

// Whoever reads too early reads wrong, and is told at the end; a value in the
// book that is not that of the box is told too.
func TestReadTooEarly(t *testing.T) {
	p := practise(t, false, 80, 24)
	p.wired().spell("0").press("enter", "enter")
	p.press("f6", "down") // the plugs of R: 1 2 2 5 … 1000 2000 2000 5000
	for range 12 {
		p.press("right")
	}
	p.press(" ", "right", " ", "1") // 3000
	*p.at = p.at.Add(-700 * time.Millisecond)
	p.press("enter").turn("series box R").spell("3100").press("enter") // the book has another value
	p.turn("first reading").spell("10").press("enter")
	p.finish()
	p.sees("How it went")
	var said []string
	for _, r := range p.bench.remarks {
		said = append(said, r.Text)
	}
	all := strings.Join(strings.Fields(strings.Join(said, " ")), " ") // without the blanks that do not break
	for _, want := range []string{"with R at 3 000 Ω where the book has 3 100 Ω", "entry 5 says 10 div, the needle"} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not said:\n%s", want, all)
		}
	}
}

// The scale stands in the book too: whoever turns to it at once, waits there and
// reads right has not read too early, and not beside the needle; whoever reads
// there while it moves has.
func TestReadInTheBook(t *testing.T) {
	for name, tt := range map[string]struct {
		wait time.Duration
		says string
	}{
		"at rest": {20 * time.Second, "The one reading was taken with the needle at rest"},
		"moving":  {0, "Read too early: entry 5"},
	} {
		t.Run(name, func(t *testing.T) {
			p := practise(t, false, 80, 24)
			p.wired().spell("0").press("enter", "enter")
			p.press("f6", "down")
			for range 12 {
				p.press("right")
			}
			p.press(" ", "right", " ", "esc").turn("series box R").spell("3000").press("enter")
			p.turn("first reading").press("f6", "1")
			*p.at = p.at.Add(-time.Second) // a key takes a second: none between these
			p.press("enter")
			p.wait(400*time.Millisecond + tt.wait)
			seen := p.bench.live.Needle(p.m.page.(*practice).hands.Now())
			text := strconv.FormatFloat(math.Round(2*seen)/2, 'f', -1, 64)
			if seen < 5 {
				t.Fatalf("the needle is at %.2f, want it on its way to 24", seen)
			}
			*p.at = p.at.Add(-time.Second)
			p.spell(text)
			p.wait(10 * time.Second)
			p.press("enter").finish()
			var said []string
			for _, r := range p.bench.remarks {
				said = append(said, r.Text)
			}
			if all := strings.Join(strings.Fields(strings.Join(said, " ")), " "); !strings.Contains(all, tt.says) {
				t.Errorf("of %s read at %.2f, %q is not said:\n%s", text, seen, tt.says, all)
			}
		})
	}
}

// In an examination nothing is told of what to do, to expect or to get, and
// the record says that it was one.
func TestExamination(t *testing.T) {
	p := practise(t, true, 80, 24)
	p.sees("the guide is switched off")
	p.seesNot("Build the circuit")
	p.wired()
	p.sees("zero reading")
	p.spell("0").press("enter")
	p.press("tab")
	p.seesNot("(proposed)")
	p.press("esc")
	for _, k := range []string{"f2", "f3", "f4"} {
		p.press(k)
		p.sees("not in an examination")
	}
	// Enter alone takes nothing where nothing is proposed.
	p.turn("series box R").press("enter")
	p.sees("nothing is typed yet")
	p.spell("3100").press("enter")
	p.sees("R set to 3 100 Ω")
	for _, hint := range []string{"K1 CLEAR", "should rest", "aim at", "take out"} {
		p.seesNot(hint)
	}
	p.press("f6")
	p.seesNot("K1 CLEAR")
	p.press("enter").finish()
	p.sees("How it went")
	if len(p.bench.remarks) == 0 || !strings.Contains(p.bench.remarks[len(p.bench.remarks)-1].Text, "with the guide switched off") {
		t.Errorf("remarks %+v, want that the guide was switched off", p.bench.remarks)
	}
}

// In a wide window what is written so far stands once, on the facing page.
func TestExaminationInAWideWindow(t *testing.T) {
	p := practise(t, true, 120, 40)
	p.wired()
	if n := strings.Count(p.m.View(), "circuit checked"); n != 2 { // in the book, and as what became of the last entry
		t.Errorf("the entry stands %d times, want once in the book and once as taken:\n%s", n, p.m.View())
	}
}

// Whoever goes on with a practice is told what of the bench is as it was, and at
// the end that the earlier sitting is not in what is said.
func TestGoneOnWith(t *testing.T) {
	p := practise(t, false, 80, 24)
	p.wired().spell("0").press("enter")
	p.seesNot("set up anew")
	s := p.m.page.(*practice).sitting
	r := rand.New(rand.NewPCG(1, 2))
	truth, err := live.DrawTruth(table().Galvanometer, r).With(live.Extra{})
	if err != nil {
		t.Fatal(err)
	}
	again := &byHand{}
	if again.live, err = live.New(simulated(t), truth, r, true); err != nil {
		t.Fatal(err)
	}
	o := options(s, again, t.TempDir())
	o.Now = func() time.Time { return *p.at }
	later := &practising{&person{t, New(o)}, again, p.at}
	later.m.Update(tea.WindowSizeMsg{Width: 80, Height: 24})
	later.sees("the bench is set up anew")
	later.press("f6")
	later.sees("look at the leads and read the zero before you go on")
	later.press("f6").finish()
	said := ""
	for _, r := range again.remarks {
		said += r.Text + "\n"
	}
	if !strings.Contains(said, "begun in an earlier sitting") {
		t.Errorf("nothing is said of the earlier sitting:\n%s", said)
	}
}

// The instruments of a simulated bench cannot be stated anew.
func TestInstrumentsStay(t *testing.T) {
	p := practise(t, false, 80, 24)
	p.wired().turn("instruments")
	p.sees("the instruments of a simulated bench are as they are")
}

// Help tells the keys of the bench.
func TestHelpAtTheBench(t *testing.T) {
	p := practise(t, false, 120, 40)
	p.wired().press("f6", "f1")
	p.sees("tap the case")
	p.sees("zero screw to the left")
	p.press("esc")
	p.sees("out: nothing")
}

// Any keys on any window: the page fits it, and nothing breaks.
func TestPracticeIsTotal(t *testing.T) {
	names := []string{"f6", "enter", "esc", "tab", "up", "down", "left", "right", " ", "1", "2", "t", "c", "m", "v", "o", "w", "d", "+", "-", "0", "5", "f1", "f2", "f4", "ctrl+f", "ctrl+x", "pgdown"}
	rapid.Check(t, func(rt *rapid.T) {
		w, h := rapid.IntRange(0, 200).Draw(rt, "w"), rapid.IntRange(0, 60).Draw(rt, "h")
		p := practise(t, rapid.Bool().Draw(rt, "alone"), w, h)
		if rapid.Bool().Draw(rt, "wired") {
			p.wired()
		}
		for range rapid.IntRange(1, 25).Draw(rt, "keys") {
			p.press(rapid.SampledFrom(names).Draw(rt, "key"))
			p.wait(time.Duration(rapid.Int64Range(0, int64(3*time.Second)).Draw(rt, "wait")))
			checkFits(rt, p.m.View(), w, h)
		}
		if c := p.m.Crash(); c != nil {
			rt.Fatalf("%s\n%s", c.What, c.Stack)
		}
	})
}

func TestGoldenBench(t *testing.T) {
	for name, size := range map[string][2]int{"hands": {80, 24}, "hands-wide": {120, 40}} {
		t.Run(name, func(t *testing.T) {
			p := practise(t, false, size[0], size[1])
			p.wired().spell("0").press("enter", "enter", "f6", "down", "right", " ", "m")
			golden(t, name, p.m.View())
		})
	}
	t.Run("hands-ascii", func(t *testing.T) {
		p := practise(t, false, 80, 24)
		p.paint(theme.New(theme.Auto, 3, true))
		p.wired().press("f6", "w")
		golden(t, "hands-ascii", p.m.View())
	})
}

func BenchmarkMovingNeedle(b *testing.B) {
	p := practise(b, false, 120, 40)
	p.wired().press("f6", "1")
	b.ReportAllocs()
	for b.Loop() {
		p.press("x") // looks, as a picture does
	}
}
