package screen

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/x/ansi"
	"pgregory.net/rapid"

	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
	"example.org/halve/safety"
)

func strip(s string) string { return ansi.Strip(s) }

// The first View comes before the size is known, and a window may be of any
// size: nothing breaks and nothing is wider or higher than the window.
func TestAnySize(t *testing.T) {
	for i, p := range everyStep(t) {
		t.Run(steps()[i].name, func(t *testing.T) {
			wanted := p.m.View()
			for _, size := range [][2]int{{0, 0}, {1, 1}, {20, 5}, {59, 24}, {80, 19}, {60, 20}, {80, 24}, {200, 60}, {-1, -1}} {
				p.send(tea.WindowSizeMsg{Width: size[0], Height: size[1]})
				checkFits(t, p.m.View(), max(size[0], 0), size[1])
			}
			p.send(tea.WindowSizeMsg{Width: 80, Height: 24})
			if got := p.m.View(); got != wanted {
				t.Errorf("the screen does not come back unharmed:\n%s", difference(wanted, got))
			}
		})
	}
}

func TestEverySizeFits(t *testing.T) {
	people := everyStep(t)
	for range 3 {
		rapid.Check(t, func(rt *rapid.T) {
			p := rapid.SampledFrom(people).Draw(rt, "step")
			w, h := rapid.IntRange(0, 220).Draw(rt, "width"), rapid.IntRange(0, 70).Draw(rt, "height")
			p.send(tea.WindowSizeMsg{Width: w, Height: h})
			checkFits(rt, p.m.View(), w, h)
		})
	}
}

// Whatever the window from the smallest up, nothing is cut that the step
// needs: what to do, whether it is safe, what to see, what is typed and how it
// is read, what is wrong, and the keys that lead on.
func TestNothingNeededIsCut(t *testing.T) {
	people := everyStep(t)
	check := func(rt rapid.TB, p *person, w, h int) {
		p.send(tea.WindowSizeMsg{Width: w, Height: h})
		// Without blanks: a line may end after a dash.
		view := strings.ReplaceAll(flat(p.m.View()), " ", "")
		for _, needed := range p.needs() {
			if !strings.Contains(view, strings.ReplaceAll(needed, " ", "")) {
				rt.Fatalf("%q is not on the page at %dx%d:\n%s", needed, w, h, p.m.View())
			}
		}
	}
	for _, p := range people {
		for _, size := range sizes {
			check(t, p, size[0], size[1])
		}
	}
	for range 5 {
		rapid.Check(t, func(rt *rapid.T) {
			p := rapid.SampledFrom(people).Draw(rt, "step")
			check(rt, p, rapid.IntRange(60, 200).Draw(rt, "width"), rapid.IntRange(20, 60).Draw(rt, "height"))
		})
	}
}

// Whatever is typed, in whatever order and window, nothing breaks.
func TestAnyKeys(t *testing.T) {
	var names []string
	for name := range pressed {
		if name != "ctrl+c" && name != "ctrl+z" {
			names = append(names, name)
		}
	}
	names = append(names, " ", "0", "7", "24", "4k7", "95", "-3", "off", "abc", "50+20", "1e9", "Ω", "1.5 ± 0.1", "loaded", "Ⱥloaded", "\u0130row 1", "?", "row 2", "#1", ";")
	rapid.Check(t, func(rt *rapid.T) {
		o := options(nil, nil, filepath.Join(t.TempDir(), "none"))
		if rapid.Bool().Draw(rt, "at the bench") {
			o.Sitting = onBench(t)
		}
		p := sit(t, o, 80, 24)
		if o.Sitting != nil && rapid.Bool().Draw(rt, "wired") {
			p.wire()
		}
		for range rapid.IntRange(1, 40).Draw(rt, "keys") {
			name := rapid.SampledFrom(names).Draw(rt, "key")
			if o.Sitting == nil && name == "ctrl+s" {
				continue // would write a record
			}
			p.keys(name)
			checkFits(rt, p.m.View(), 80, 24)
		}
		for _, size := range [][2]int{{60, 20}, {20, 5}, {200, 60}} {
			p.send(tea.WindowSizeMsg{Width: size[0], Height: size[1]})
			checkFits(rt, p.m.View(), size[0], size[1])
		}
	})
}

// A window that is too small shows the safety before all else, and takes no
// keys that nobody sees the effect of.
func TestTooSmall(t *testing.T) {
	p := sit(t, options(onBench(t), nil, ""), 80, 24).obey(procedure.KindReadFirst)
	before := p.counsel().Seq
	p.send(tea.WindowSizeMsg{Width: 50, Height: 10})
	if first, _, _ := strings.Cut(p.m.View(), "\n"); first != "[~] K1 TAP ONLY" {
		t.Errorf("the first line of a small window is %q", first)
	}
	p.sees("halve needs 60x20")
	p.keys("7", "enter")
	if got := p.counsel().Seq; got != before {
		t.Errorf("a small window took an entry: seq %d, want %d", got, before)
	}
}

// The mistakes people make: each is answered in a line, loses nothing and
// writes nothing down.
func TestMistakes(t *testing.T) {
	at := func(t *testing.T, event string) *person {
		return sit(t, options(onBench(t), nil, ""), 80, 24).obey(event)
	}
	tests := []struct {
		name   string
		at     string
		keys   []string
		sees   string
		stands string // what is still in the field
	}{
		{"letters in a number field", procedure.KindSetSeries, []string{"abc", "enter"}, "resistance in ohm", "abc"},
		{"a word for a reading", procedure.KindReadFirst, []string{"twelve", "enter"}, "reading in divisions", "twelve"},
		{"a value the box cannot make", procedure.KindSetSeries, []string{"4711.5", "enter"}, "4 711.5", "4711.5"},
		{"a value past the box", procedure.KindSetSeries, []string{"20k", "enter"}, "20 000", "20k"},
		{"a plug the box has not", procedure.KindSetSeries, []string{"5000+5000", "enter"}, "5000", "5000+5000"},
		{"a reading before R is set", procedure.KindSetSeries, []string{"tab", "down", "enter", "7", "enter"}, "not now: the series box is to be set first", ""},
		{"a shunted reading before the first", procedure.KindSetSeries, []string{"tab", "down", "down", "down", "enter", "7", "enter"}, "not now: the series box is to be set first", ""},
		{"a reading past the end mark", procedure.KindReadFirst, []string{"31", "enter"}, "off", "31"},
		{"a shunted reading past the end mark", procedure.KindReadShunted, []string{"48", "enter"}, "off", "48"},
		{"nothing typed for a reading", procedure.KindReadFirst, []string{"enter"}, "nothing is typed yet", ""},
		{"a row without readings", procedure.KindReadFirst, []string{"ctrl+k"}, "not now: ", ""},
		{"a negative resistance", procedure.KindSetShunt, []string{"-95", "enter"}, "not written down", "-95"},
		{"a strike of what is not there", procedure.KindReadFirst, []string{"ctrl+x", "99", "enter"}, "refused", "99"},
		{"a strike of the bench", procedure.KindReadFirst, []string{"ctrl+x", "1", "enter"}, "refused", "1"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p := at(t, tt.at)
			seq := p.counsel().Seq
			p.keys(tt.keys...)
			p.sees(tt.sees)
			if got := p.counsel().Seq; got != seq {
				t.Errorf("%v was written down: seq %d, want %d", tt.keys, got, seq)
			}
			if got := p.m.page.(*work).field.text(); got != tt.stands {
				t.Errorf("after %v the field holds %q, want %q", tt.keys, got, tt.stands)
			}
		})
	}
}

// What cannot be taken is said while it is being typed, and so is what would
// follow from what can.
func TestPreviewAtEveryKey(t *testing.T) {
	p := sit(t, options(onBench(t), nil, ""), 80, 24).obey(procedure.KindReadFirst).keys("7", "enter")
	p.keys("3")
	p.sees("read as 3 Ω")
	p.sees("[x] K1 STOP")
	p.keys("k3")
	p.sees("read as 3 300 Ω: take out 2 000 + 1 000 + 200 + 100")
	p.sees("[+] K1 CLEAR")
	p.sees("the needle should rest at")
	p.keys("x")
	p.sees("expected a resistance in ohm")
	p.keys("backspace")
	p.sees("[+] K1 CLEAR")
}

// The plugs that are out may be typed instead of their sum.
func TestPlugsTyped(t *testing.T) {
	p := sit(t, options(onBench(t), nil, ""), 80, 24).obey(procedure.KindReadFirst).keys("7", "enter", "2000+1000+200+50")
	p.sees("3 250 Ω: take out 2 000 + 1 000 + 200 + 50")
	p.keys("enter")
	events := p.m.page.(*work).events
	got, ok := events[len(events)-1].Body.(procedure.SeriesSet)
	if !ok || got.Ohm != 3250 || len(got.TakeOut) != 4 {
		t.Errorf("recorded %+v, want 3250 ohm by four plugs", events[len(events)-1].Body)
	}
}

// A reading far from what is expected is questioned before it is written
// down, and can be written down all the same.
func TestFarReadingIsQuestioned(t *testing.T) {
	p := sit(t, options(onBench(t), nil, ""), 80, 24).obey(procedure.KindReadFirst).keys("7", "enter", "enter")
	p.keys("12")
	p.sees("far from what is expected")
	seq := p.counsel().Seq
	p.keys("enter")
	if got := p.counsel().Seq; got != seq+1 {
		t.Errorf("seq %d, want %d", got, seq+1)
	}
}

func TestOffScale(t *testing.T) {
	for _, tt := range []struct {
		name string
		keys []string
		div  *float64
	}{
		{"by key", []string{"ctrl+o", "enter"}, nil},
		{"typed", []string{"off", "enter"}, nil},
		{"on the left", []string{"off left", "enter"}, ptr(-30)},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p := sit(t, options(onBench(t), nil, ""), 80, 24).obey(procedure.KindReadFirst).keys(tt.keys...)
			events := p.m.page.(*work).events
			got, ok := events[len(events)-1].Body.(procedure.FirstRead)
			if !ok || !got.OffScale || (got.Div == nil) != (tt.div == nil) || got.Div != nil && *got.Div != *tt.div {
				t.Errorf("recorded %+v", events[len(events)-1].Body)
			}
		})
	}
}

func ptr(v float64) *float64 { return &v }

// A paste comes as one key; it is text, whatever it holds, and its line ends
// write nothing down. A terminal that does not mark pastes sends real Enters:
// those are too hasty to be meant.
func TestPaste(t *testing.T) {
	p := sit(t, options(onBench(t), nil, ""), 80, 24).obey(procedure.KindReadFirst)
	seq := p.counsel().Seq
	p.send(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune("\x1b[31m7\r\n\u202e"), Paste: true})
	if got := p.m.page.(*work).field.text(); got != "7" {
		t.Errorf("pasted text came in as %q, want 7", got)
	}
	if got := p.counsel().Seq; got != seq {
		t.Errorf("a paste wrote something down: seq %d, want %d", got, seq)
	}

	// One that no field takes is left out, and what was typed before stays.
	p.send(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune(strings.Repeat("24 ", 200)), Paste: true})
	p.sees("! not taken: more than 400 characters were pasted")
	if got := p.m.page.(*work).field.text(); got != "7" {
		t.Errorf("after a paste that is too long the entry is %q, want 7", got)
	}
	p.keys("backspace").seesNot("not taken")

	o := options(onBench(t), nil, "")
	p = sit(t, o, 80, 24).obey(procedure.KindReadFirst)
	w := p.m.page.(*work)
	w.now = func() time.Time { return w.at } // the clock stands still: all in one burst
	seq = p.counsel().Seq
	p.keys("7", "enter", "enter", "enter")
	if got := p.counsel().Seq; got != seq+1 {
		t.Errorf("lone Enters in one burst wrote %d events, want 1", got-seq)
	}
	p.sees("too soon to be meant")
}

// A clearance for a setting that is not made yet names it: the box may still
// stand at a value at which the key must not be closed.
func TestClearanceNamesItsSetting(t *testing.T) {
	p := sit(t, options(onBench(t), nil, ""), 80, 24).obey(procedure.KindReadFirst)
	p.sees("[~] K1 TAP ONLY nothing known") // what stands
	p.keys("7", "enter").sees("[+] K1 CLEAR at ")
	p.keys("95").sees("[x] K1 STOP at 95 Ω")
	p.keys("enter")
	if got := p.counsel().Clearance.Verdict; got != safety.Stop {
		t.Fatalf("at 95 ohm the clearance is %s, want stop", got)
	}
	p.sees("[+] K1 CLEAR at ")
	p.seesNot("K1 CLEAR even")
	p.m.Update(tea.WindowSizeMsg{Width: 59, Height: 24})
	p.sees("[+] K1 CLEAR at ")
	p.sees("halve needs 60x20")
}

// Where the system cannot set a program aside, the key for it is not offered
// and does nothing.
func TestNoSuspend(t *testing.T) {
	o := options(nil, nil, t.TempDir())
	sit(t, o, 120, 40).sees("Ctrl+Z set aside")
	o.NoSuspend = true
	p := sit(t, o, 120, 40)
	p.seesNot("Ctrl+Z")
	if _, cmd := p.m.Update(pressed["ctrl+z"]); cmd != nil {
		t.Error("Ctrl+Z does something all the same")
	}
	p.keys("f1").seesNot("Ctrl+Z")
}

// The wiring is never confirmed by Enter alone.
func TestWiringNeedsEachTick(t *testing.T) {
	p := sit(t, options(onBench(t), nil, ""), 80, 24)
	p.keys("enter", "enter", "enter", "enter", "enter", "enter", "enter")
	if got := p.counsel().Step; got != procedure.StepWiring || p.counsel().Seq != 1 {
		t.Errorf("Enter alone led to step %s, seq %d", got, p.counsel().Seq)
	}
	p.sees("not yet: 11 of the list")
	p.keys(strings.Repeat(" ", 10), "enter")
	p.sees("not yet: 1 of the list")
	p.keys(" ", "enter")
	if got := p.counsel().Seq; got != 2 {
		t.Errorf("seq %d after every tick and Enter, want 2", got)
	}
}

// The EMF is asked for before the first row and after the last, and can be
// left out.
func TestSourceAsked(t *testing.T) {
	p := sit(t, options(onBench(t), nil, ""), 80, 24).wire().keys("0", "enter")
	p.sees("Measure the EMF of the source with the voltmeter")
	p.keys("enter")
	p.seesNot("Measure the EMF")
	p.obey(procedure.KindKeepRow).keys("enter", "ctrl+f")
	p.sees("before finishing: the EMF once more")
	p.keys("1.51 +- 0.01", "enter")
	events := p.m.page.(*work).events
	got, ok := events[len(events)-1].Body.(procedure.SourceMeasured)
	if !ok || got.EMF != 1.51 || got.UEMF == nil || *got.UEMF != 0.01 {
		t.Errorf("recorded %+v", events[len(events)-1].Body)
	}
	p.keys("ctrl+f", "enter")
	p.sees("Finished.")
}

// Undo strikes the last event, then the one before; the record keeps both.
func TestUndoStrikes(t *testing.T) {
	p := sit(t, options(onBench(t), nil, ""), 80, 24).obey(procedure.KindKeepRow)
	w := p.m.page.(*work)
	last := w.sense.lastSeq
	p.keys("ctrl+x", "enter")
	p.keys("ctrl+x", "looked from the side", "enter")
	events := w.sitting.Events()
	for i, want := range []procedure.Strike{{Event: last}, {Event: last - 1, Why: "looked from the side"}} {
		if got := events[len(events)-2+i].Body; got != want {
			t.Errorf("strike %d is %+v, want %+v", i+1, got, want)
		}
	}
	if w.sitting.State().Struck(last) == 0 {
		t.Errorf("event %d is not struck", last)
	}
}

// Leaving in the middle loses nothing: the record goes on where it was.
func TestLeaveAndResume(t *testing.T) {
	dir := t.TempDir()
	p := sit(t, options(nil, nil, dir), 80, 24).keys("1", "ctrl+s")
	p.obey(procedure.KindReadShunted)
	want := p.counsel()
	p.keys("1")
	p.send(tea.KeyMsg{Type: tea.KeyCtrlC})
	p.sees(`"1" is not written down; Ctrl+C again leaves without it; all else is safe`)
	p.send(tea.WindowSizeMsg{Width: MinWidth, Height: MinHeight})
	p.keys("234567890123456789")
	p.send(tea.KeyMsg{Type: tea.KeyCtrlC})
	p.sees(`"1234567890123..." is not written down; Ctrl+C again leaves`)
	p.send(tea.WindowSizeMsg{Width: 80, Height: 24})
	_, cmd := p.m.Update(tea.KeyMsg{Type: tea.KeyCtrlC})
	if cmd == nil {
		t.Fatal("a second Ctrl+C does not leave")
	}
	if _, ok := cmd().(tea.InterruptMsg); !ok {
		t.Fatalf("Ctrl+C leads to %T", cmd())
	}
	if err := p.m.Close(); err != nil {
		t.Fatal(err)
	}

	again := sit(t, options(nil, nil, dir), 80, 24).keys("2")
	again.sees("0 rows, at shunt")
	again.keys("enter")
	if got := again.counsel(); got.Seq != want.Seq || got.Next.Event != want.Next.Event {
		t.Errorf("resumed at seq %d, %s; left at %d, %s", got.Seq, got.Next.Event, want.Seq, want.Next.Event)
	}
	again.obey("").keys("enter")
	again.sees("Finished.")
	if err := again.m.Close(); err != nil {
		t.Fatal(err)
	}
}

// What is sought in the list is found by name, date or number; Esc gives the
// whole list back.
func TestSearchRecords(t *testing.T) {
	dir := t.TempDir()
	for i, names := range []string{"Ines Varga", "Tomas Lund"} {
		id := fmt.Sprint("ID", i)
		s, err := record.Open(filepath.Join(dir, fmt.Sprintf("2025-03-0%d-100000.jsonl", i+1)), clock(), func() string { return id })
		if err != nil {
			t.Fatal(err)
		}
		state(t, s)
		if _, err := s.Accept(procedure.Who{Names: names, Group: fmt.Sprint("bench ", i)}); err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	p := sit(t, options(nil, nil, dir), 80, 24).keys("2")
	p.sees("Ines Varga")
	p.sees("Tomas Lund")
	p.keys("lund bench")
	p.sees("Tomas Lund")
	p.seesNot("Ines Varga")
	p.keys("x")
	p.sees("None holds that")
	p.keys("esc")
	p.sees("Ines Varga")
	p.keys("varga", "enter")
	if got := p.m.opened.Path(); !strings.HasSuffix(got, "2025-03-01-100000.jsonl") {
		t.Errorf("opened %s", got)
	}
	if err := p.m.Close(); err != nil {
		t.Fatal(err)
	}
}

// A record can be read while somebody writes it: rows, result and every entry,
// and nothing is written.
func TestReadRecordInUse(t *testing.T) {
	dir := t.TempDir()
	p := sit(t, options(nil, nil, dir), 80, 24).keys("1", "ctrl+s").obey(procedure.KindFinish)
	seq := p.counsel().Seq
	other := sit(t, options(nil, nil, dir), 80, 24).keys("2", "tab")
	other.sees("a record, read only")
	other.sees("G = ")
	other.keys("9", "enter")
	if _, ok := other.m.page.(*records); !ok {
		t.Errorf("the page is a %T", other.m.page)
	}
	if got := p.counsel().Seq; got != seq {
		t.Errorf("reading changed the record: seq %d, want %d", got, seq)
	}
	if err := p.m.Close(); err != nil {
		t.Fatal(err)
	}
}

// One more row or write up: the time there is, less what writing up takes,
// against the time of a row and what it is worth. The clock of the test goes
// on by a second each time it is asked.
func TestMinutes(t *testing.T) {
	for _, tt := range []struct {
		name    string
		minutes int
		until   string
		want    string
	}{
		{"no limit", 0, procedure.KindFinish, ""},
		{"time for another, few rows", 60, procedure.KindSetSeries, "Another row: there is time for it"},
		{"no time for another, few rows", 5, procedure.KindSetSeries, "No time for another row: write up the 1 there are"},
		{"no time for another, enough rows", 5, procedure.KindFinish, "Write up now"},
		{"time, but hardly worth it", 90, procedure.KindFinish, "Write up: another row is hardly worth it"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			o := options(onBench(t), nil, "")
			o.Minutes = tt.minutes
			p := sit(t, o, 80, 24).obey(procedure.KindKeepRow).keys("enter").obey(tt.until)
			says := p.m.page.(*work).timeSays()
			if !strings.HasPrefix(says, tt.want) || (says == "") != (tt.want == "") {
				t.Errorf("says %q, want %q", says, tt.want)
			}
			if tt.want != "" {
				p.sees(tt.want)
			}
		})
	}
}

// A bench is saved to a file from the form, and another practical starts from
// it.
func TestBenchFileInForm(t *testing.T) {
	var kept procedure.Bench
	o := options(nil, nil, t.TempDir())
	o.WriteBench = func(path string, b procedure.Bench) error {
		if path != "bench 7.json" {
			return fmt.Errorf("%s is there already", path)
		}
		kept = b
		return nil
	}
	o.ReadBench = func(path string) (procedure.Bench, error) {
		if path != "bench 7.json" {
			return kept, fmt.Errorf("%s is not there", path)
		}
		return kept, nil
	}
	p := sit(t, o, 80, 24).keys("1", "down", "ctrl+u", "1.61", "ctrl+w", "old.json", "enter")
	p.sees("old.json is there already")
	p.keys("ctrl+u", "bench 7.json", "enter")
	p.sees("saved as bench 7.json")
	if kept.Source.EMF != 1.61 {
		t.Errorf("saved with an EMF of %g", kept.Source.EMF)
	}
	q := sit(t, o, 80, 24).keys("1", "ctrl+r", "none", "enter")
	q.sees("none is not there")
	q.keys("esc", "ctrl+r", "bench 7.json", "enter")
	q.sees("taken from the file")
	q.keys("ctrl+s")
	if got := q.m.page.(*work).table.Source.EMF; got != 1.61 {
		t.Errorf("started with an EMF of %g, want 1.61", got)
	}
	if err := q.m.Close(); err != nil {
		t.Fatal(err)
	}
}

// What is typed for one entry is there again after another, and gone once it
// has lost its meaning.
func TestTypedStays(t *testing.T) {
	p := sit(t, options(onBench(t), nil, ""), 80, 24).obey(procedure.KindReadFirst).keys("7", "enter", "3k", "ctrl+n", "cold room", "f2", "esc", "f1", "esc", "enter")
	w := p.m.page.(*work)
	if got := w.field.text(); w.kind != enterSeries || got != "3k" {
		t.Errorf("after the note the entry is %d with %q, want the series box with 3k", w.kind, got)
	}
	p.keys("tab", "down", "enter", "12", "tab", "up", "enter")
	if got := w.field.text(); w.kind != enterSeries || got != "3k" {
		t.Errorf("back from a reading the entry is %d with %q", w.kind, got)
	}
	p.keys("enter")
	if got := w.field.text(); w.kind != enterFirst || got != "" {
		t.Errorf("a reading typed before the box was set is still there: %q", got)
	}
}

// The mouse is off until it is asked for; then a click does what the cursor
// and Enter would do, and the wheel goes up and down.
func TestMouse(t *testing.T) {
	p := sit(t, options(onBench(t), nil, ""), 80, 24)
	click := func(what string) {
		t.Helper()
		for y, line := range strings.Split(p.m.View(), "\n") {
			if at := strings.Index(line, what); at >= 0 {
				p.send(tea.MouseMsg{X: len([]rune(line[:at])), Y: y, Button: tea.MouseButtonLeft, Action: tea.MouseActionPress})
				return
			}
		}
		t.Fatalf("%q is not on the page:\n%s", what, p.m.View())
	}
	_, on := p.m.Update(tea.KeyMsg{Type: tea.KeyF5})
	_, off := p.m.Update(tea.KeyMsg{Type: tea.KeyF5})
	if on == nil || off == nil || fmt.Sprintf("%T", on()) != fmt.Sprintf("%T", tea.EnableMouseCellMotion()) || fmt.Sprintf("%T", off()) != fmt.Sprintf("%T", tea.DisableMouse()) {
		t.Error("F5 does not turn the mouse on and off")
	}
	click("K1 to R")
	p.sees("[x] K1 to R")
	p.send(tea.MouseMsg{X: 20, Y: 10, Button: tea.MouseButtonWheelDown, Action: tea.MouseActionPress})
	p.sees("▸ [ ] R to G")
	click("do │") // beside the list nothing happens
	p.keys("tab")
	click("note  ")
	if w := p.m.page.(*work); w.kind != enterNote {
		t.Errorf("a click in the list leads to entry %d, want the note", w.kind)
	}
	s := sit(t, options(nil, nil, t.TempDir()), 80, 24)
	p = s
	click("go on with a record")
	if _, ok := p.m.page.(*records); !ok {
		t.Errorf("a click on the start page leads to a %T", p.m.page)
	}
}

// A record that another program is writing is not opened a second time.
func TestRecordInUse(t *testing.T) {
	dir := t.TempDir()
	s, err := record.BeginIn(dir, clock(), func() string { return "TESTID" })
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	state(t, s)
	p := sit(t, options(nil, nil, dir), 80, 24).keys("2", "enter")
	if _, ok := p.m.page.(*records); !ok {
		t.Fatalf("the page is a %T", p.m.page)
	}
	if p.m.page.(*records).said == "" {
		t.Error("nothing is said of the record that is in use")
	}
}

// A file that is no record is listed as such and spoils nothing.
func TestStrayFileInList(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "stray.jsonl"), []byte("\x1b]52;c;aGk=\x07 no record\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	p := sit(t, options(nil, nil, dir), 80, 24).keys("2")
	p.sees("stray.jsonl")
	if strings.ContainsAny(p.m.View(), "\x07\x1b") {
		t.Errorf("a control character reaches the screen: %q", p.m.View())
	}
	p.keys("enter")
	if _, ok := p.m.page.(*records); !ok {
		t.Errorf("the page is a %T", p.m.page)
	}
}

// At the end the record is copied to a folder, and a folder that is not there
// is said.
func TestCopyAtTheEnd(t *testing.T) {
	dir, stick := t.TempDir(), t.TempDir()
	p := sit(t, options(nil, nil, dir), 80, 24).keys("1", "ctrl+s").obey("").keys("enter")
	p.sees("record:")
	p.keys(filepath.Join(stick, "not-there"), "enter")
	p.sees("!")
	if n := files(t, stick); n != 0 {
		t.Errorf("%d files on the stick, want none", n)
	}
	p.keys("ctrl+u", stick, "enter")
	p.sees("copied to")
	if n := files(t, stick); n != 1 {
		t.Errorf("%d files on the stick, want 1", n)
	}
	if err := p.m.Close(); err != nil {
		t.Fatal(err)
	}
}

func files(t *testing.T, dir string) int {
	t.Helper()
	fs, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	return len(fs)
}

// The bench form: what is wrong is said at the line where it is, and nothing
// is begun.
func TestBenchForm(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "records")
	begun := func() bool {
		_, err := os.Stat(dir)
		return !errors.Is(err, os.ErrNotExist)
	}
	p := sit(t, options(nil, nil, dir), 80, 24).keys("1")
	p.sees("Clearances allow for 1.73 V")
	p.keys("right")
	p.sees("alkaline cell")
	p.keys("down", "ctrl+u", "volt", "ctrl+s")
	p.sees("not yet:")
	if begun() {
		t.Error("a form that cannot be read began a record")
	}
	p.keys("ctrl+u", "1.6", "ctrl+s")
	p.sees("Build the circuit")
	if got := p.m.page.(*work).table.Source; got.EMF != 1.6 || got.Label != "alkaline cell, 1.5 V" {
		t.Errorf("the source came out as %+v", got)
	}
	if err := p.m.Close(); err != nil {
		t.Fatal(err)
	}
}

// Coils typed by hand make a box of their own.
func TestBenchFormCoils(t *testing.T) {
	p := sit(t, options(nil, nil, t.TempDir()), 80, 24).keys("1")
	for range lineSeriesList {
		p.keys("down")
	}
	p.keys("ctrl+u", "10 20 20 50 100 200 200 500 1k 2k 2k 5k")
	p.sees("11 100 Ω in all, from 10 Ω up")
	p.keys("up")
	p.sees(otherPlug)
	p.keys("ctrl+s")
	if got := p.m.page.(*work).table.SeriesBox.Coils; len(got) != 12 || got[11] != 5000 {
		t.Errorf("the coils came out as %v", got)
	}
	if err := p.m.Close(); err != nil {
		t.Fatal(err)
	}
}

// Help names every key that a page answers to.
func TestHelpNamesEveryKey(t *testing.T) {
	p := sit(t, options(onBench(t), nil, ""), 80, 24).obey(procedure.KindReadFirst)
	keys := p.m.page.keymap()
	p.keys("?")
	for _, k := range keys {
		p.sees(k.Help().Key)
		p.sees(k.Help().Desc)
	}
	p.keys("esc")
	p.sees("first reading")
}

// Clipboard keys reach no clipboard.
func TestNoClipboard(t *testing.T) {
	p := sit(t, options(onBench(t), nil, ""), 80, 24).obey(procedure.KindReadFirst).keys("7", "ctrl+v")
	if got := p.m.page.(*work).field.text(); got != "7" {
		t.Errorf("ctrl+v made the field %q", got)
	}
}

// What could not be recorded is said, stays in the field, and is not shown as
// done.
func TestNotRecorded(t *testing.T) {
	s := onBench(t)
	p := sit(t, options(s, nil, ""), 80, 24).obey(procedure.KindReadFirst)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	p.keys("7", "enter")
	p.sees("! not recorded")
	if got := p.m.page.(*work).field.text(); got != "7" {
		t.Errorf("the field holds %q, want 7", got)
	}
}
