package screen

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/muesli/termenv"
	"pgregory.net/rapid"

	"example.org/halve/physics/panel"
	"example.org/halve/procedure"
	"example.org/halve/procedure/metercheck"
	"example.org/halve/procedure/record"
	"example.org/halve/tui/theme"
)

// tenAmpere is a 0 to 10 A meter of 100 divisions, class 1.5, with a reference
// of five to one.
func tenAmpere() metercheck.Bench {
	v := func(x float64) *float64 { return &x }
	return metercheck.Bench{
		Label: "meter 7", MeterKind: metercheck.Ammeter, RangeA: v(10), Divisions: 100, Zero: "left", Class: 1.5, Resolution: 0.2,
		Reference: metercheck.Reference{Label: "standard 2", UA: v(0.015), MaxA: v(12)}, Source: metercheck.Supply{MaxA: v(12)},
	}
}

// checking is a person at a meter check.
func checking(t testing.TB, w, h int) *person {
	t.Helper()
	s := record.ForMeterCheck().InMemory(clock())
	if c, err := s.Accept(tenAmpere()); err != nil || c.Refused != nil {
		t.Fatal(err, c.Refused)
	}
	o := options(nil, nil, "records")
	o.Meter = s
	return sit(t, o, w, h)
}

// meterSteps are the screens of a meter check and of a conversion.
func meterSteps() []struct {
	name string
	to   func(t testing.TB) *person
} {
	start := func(t testing.TB) *person { return sit(t, options(nil, nil, "records"), 80, 24) }
	return []struct {
		name string
		to   func(t testing.TB) *person
	}{
		{"meter-form", func(t testing.TB) *person {
			return start(t).keys("3", "down", "10", "down", "down", "down", "1.5", "down", "down", "down", "down", "down", "15 mA")
		}},
		{"meter-wiring", func(t testing.TB) *person { return checking(t, 80, 24) }},
		{"meter-zero", func(t testing.TB) *person { return checking(t, 80, 24).keys("yes", "enter", "0.2") }},
		{"meter-point", func(t testing.TB) *person {
			return checking(t, 80, 24).keys("yes", "enter", "0", "enter", "2.01")
		}},
		{"meter-odd", func(t testing.TB) *person {
			return checking(t, 80, 24).keys("yes", "enter", "0", "enter", "-1 2.5", "enter")
		}},
		{"meter-list", func(t testing.TB) *person { return checking(t, 80, 24).keys("yes", "enter", "tab") }},
		{"meter-finished", func(t testing.TB) *person { return checkWhole(checking(t, 80, 24)) }},
		{"meter-result", func(t testing.TB) *person { return checkWhole(checking(t, 80, 24)).keys("f4") }},
		{"meter-help", func(t testing.TB) *person { return checking(t, 80, 24).keys("f1") }},
		{"convert", func(t testing.TB) *person {
			return start(t).keys("4", "right", "down", "down", "92.5", "down", "555 uA", "down", "5 mA; 50 mA; 0.5")
		}},
		{"convert-refused", func(t testing.TB) *person {
			return start(t).keys("4", "down", "down", "92.5", "down", "555 uA", "down", "500 uA")
		}},
	}
}

// checkWhole types a whole check: every mark covered, the reference half a
// per cent above it.
func checkWhole(p *person) *person {
	p.keys("yes", "enter", "0", "enter")
	for _, mark := range []float64{20, 40, 60, 60, 80, 100, 80, 60, 60, 40, 20} {
		p.keys(fmt.Sprintf("%.3f", mark/10*1.005), "enter")
	}
	return p.keys("0", "enter", "6.03", "enter", "6.03", "enter", "enter")
}

// The pages at four sizes, without colour; in ASCII nothing else is drawn, and
// colour says nothing more.
func TestMeterScreens(t *testing.T) {
	for _, step := range meterSteps() {
		t.Run(step.name, func(t *testing.T) {
			p := step.to(t)
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
			p.send(tea.WindowSizeMsg{Width: 80, Height: 24})
			plain := p.m.View()
			p.paint(theme.New(theme.Light, termenv.TrueColor, false))
			if got := strip(p.m.View()); got != plain {
				t.Errorf("with its colours taken away the page is another one:\n%s\nwant\n%s", got, plain)
			}
			p.paint(theme.New(theme.Auto, termenv.Ascii, true))
			for _, r := range p.m.View() {
				if r > 0x7e || r < 0x20 && r != '\n' {
					t.Fatalf("%q is drawn in ASCII:\n%s", r, p.m.View())
				}
			}
		})
	}
}

// TestMeterTyped: the whole check on the pages, from the start page on, and
// what is in the record.
func TestMeterTyped(t *testing.T) {
	dir := t.TempDir()
	p := sit(t, options(nil, nil, dir), 80, 24)
	p.keys("3", "down", "10", "down", "down", "down", "1.5", "down", "down", "down", "meter 7", "down", "down", "fifteen", "ctrl+s")
	p.sees("not written down")
	p.keys("ctrl+u", "15 mA", "down", "12", "down", "12", "down", "down", "A. Brook", "ctrl+s")
	p.sees("Join the reference and the meter in series")
	p.keys("enter") // alone it makes no circuit looked over
	p.sees("nothing is typed yet")
	p.keys("ye", "enter")
	p.sees("type yes when it is so")
	p.keys("ctrl+u")
	checkWhole(p)
	p.sees("Finished.")
	p.keys("f4")
	p.sees("Class 1.5 by simple acceptance (every error within the limit): conforms.")
	p.sees("certified calibration is for an accredited laboratory")
	if err := p.m.Close(); err != nil {
		t.Fatal(err)
	}
	files, _ := filepath.Glob(filepath.Join(dir, "*.jsonl"))
	if len(files) != 1 {
		t.Fatalf("records: %v", files)
	}
	log, err := record.ForMeterCheck().Read(files[0])
	if err != nil {
		t.Fatal(err)
	}
	r := metercheck.Advise(log.State).Result
	if !log.State.Finished() || len(r.Points) != 15 || *r.Simple != "conforms" || r.WorstError < 0.49 || r.WorstError > 0.51 {
		t.Errorf("the record has %+v", r)
	}
	// It is listed, and gone on with from there.
	p = sit(t, options(nil, nil, dir), 80, 24).keys("2")
	p.sees("meter check, finished, meter 7")
	p.keys("enter")
	p.sees("Finished.")
	p.m.Close()
}

// TestMeterFormKeeps: what the form says of the fiducial value and of an
// ammeter's source in volts is in the bench, and correcting another line of it
// loses nothing that was stated.
func TestMeterFormKeeps(t *testing.T) {
	v := func(x float64) *float64 { return &x }
	s := record.ForMeterCheck().InMemory(clock())
	stated := tenAmpere()
	stated.FiducialA, stated.Source.Label, stated.Source.MaxV = v(20), "supply 4", v(48)
	if c, err := s.Accept(stated); err != nil || c.Refused != nil {
		t.Fatal(err, c.Refused)
	}
	o := options(nil, nil, "records")
	o.Meter = s
	p := sit(t, o, 80, 24)
	p.sees("a touch can kill") // of 48 V
	p.keys("tab", "down", "down", "down", "down", "down", "down", "down", "down", "enter")
	p.sees("in percent of 20")
	p.keys("down", "down", "down", "down", "ctrl+u", "1", "ctrl+s")
	want := stated
	want.Class = 1
	if b, _ := s.State().Bench(); !reflect.DeepEqual(b, want) {
		t.Errorf("the bench is %+v, want %+v", b, want)
	}
	// Of a voltmeter's source one line says it.
	p = sit(t, options(nil, nil, "records"), 80, 24).keys("3", "right", "down", "300", "down", "down", "down", "1", "down", "150", "down", "down", "down", "down", "0.3", "down", "down", "320", "down", "12")
	p.sees("not yet: of a voltmeter's source the line above says it")
	p.keys("ctrl+u")
	f := p.m.page.(*meterForm)
	if b, _, err := f.read(); err != nil || b.Meter().FiducialValue() != 150 || b.SourceMax() != 320 {
		t.Errorf("%+v, %v", b, err)
	}
}

// TestMeterEntries: how points are read, and what is answered to mistakes.
func TestMeterEntries(t *testing.T) {
	p := checking(t, 80, 24).keys("yes", "enter", "0", "enter")
	for _, c := range []struct{ text, sees string }{
		{"2.01", "pointer 20 div, reference 2.0100 A: an error of −0.10 %"},
		{"2013 mA", "pointer 20 div, reference 2.0130 A"},
		{"19.8 2.013", "pointer 19.8 div, reference 2.0130 A"},
		{"19,8 2,01", "pointer 19.8 div, reference 2.0100 A"},
		{"20 2.0 V", "the reference: \"2.0 V\" has the unit \"V\""},
		{"2 V", "has the unit \"V\""},
		{"x", "does not begin with a number"},
		{"20 2000 A", "would be refused: the reference's 2.00 kA is more than a hundred times"},
		{"150 2", "would be refused: the scale ends at 100 divisions"},
		{"30 2.01", "odd: the pointer shows 30 div where 20.1 div was expected"},
		{"-1 2.5", "the meter's leads are exchanged"},
		{"2.01 20", "odd: pointer and reference look exchanged: it is the pointer that stands at 20 div"},
	} {
		p.keys("ctrl+u", c.text)
		p.sees(c.sees)
	}
	p.keys("esc", "esc")
	for _, c := range []struct {
		keys []string
		sees string
	}{
		{[]string{"ctrl+x", "enter"}, "taken as 4: strike of 3"},
		{[]string{"0.2", "enter"}, "The zero is not set"},
		{[]string{"0", "enter"}, "pointer covers 20 div"},
		{[]string{"ctrl+n", "the lamp flickers", "enter"}, "note"},
		{[]string{"ctrl+t", "0", "enter"}, "taken as"},
		{[]string{"tab", "down"}, "looked over"},
		{[]string{"f1"}, "get hot enough to burn"},
		{[]string{"esc", "tab", "f4"}, "There is no result yet"},
		{[]string{"esc", "ctrl+f"}, "finish"},
		{[]string{"esc", "tab", "up", "up", "up", "up", "enter"}, "not now: that is for a simulated bench"},
	} {
		p.keys(c.keys...)
		p.sees(c.sees)
	}
}

// TestMeterByHand: on a simulated bench whoever types what is shown comes to
// the end.
func TestMeterByHand(t *testing.T) {
	r := rand.New(rand.NewPCG(12, 0))
	stock := panel.Stock(r)
	b, err := panel.New(stock.Stated, panel.Draw(stock.Stated, r), r)
	if err != nil {
		t.Fatal(err)
	}
	s := record.ForMeterCheck().InMemory(clock())
	if c, err := s.Accept(metercheck.Invented(stock)); err != nil || c.Refused != nil {
		t.Fatal(err, c.Refused)
	}
	o := options(nil, nil, "records")
	o.Meter, o.MeterHand = s, follower{b}
	p := sit(t, o, 80, 24)
	for n := 0; s.Counsel().Next != nil; n++ {
		if n > 40 {
			t.Fatalf("no end:\n%s", p.m.View())
		}
		w := p.m.page.(*meterWork)
		switch s.Counsel().Next.Event {
		case procedure.KindWired:
			p.keys("yes", "enter")
		case procedure.KindFinish:
			p.keys("enter")
		case procedure.KindZero:
			p.sees("on the simulated bench the pointer is at")
			p.keys(fmt.Sprint(w.shown.div), "enter")
		default:
			p.keys(fmt.Sprintf("%g %g", w.shown.div, w.shown.reference), "enter")
		}
	}
	p.sees("Finished.")
	if r := s.Counsel().Result; r == nil || *r.Simple == "" || len(r.Points) < 13 {
		t.Errorf("%+v", r)
	}
}

// follower works a simulated bench in the simplest way: it approaches marks.
type follower struct{ *panel.Bench }

func (f follower) Follow(c metercheck.Counsel) (div, reference float64) {
	if c.Next.Event != metercheck.KindPoint {
		f.Off()
		f.Tap()
		if c.Result == nil {
			f.AdjustZero()
		}
		return f.Read(), 0
	}
	f.Approach(*c.Next.TargetDiv, c.Next.Stop())
	return f.Read(), f.Reference()
}

// Whatever is typed on these pages, in whatever order and window, nothing
// breaks.
func TestMeterAnyKeys(t *testing.T) {
	var names []string
	for name := range pressed {
		if name != "ctrl+c" && name != "ctrl+z" && name != "ctrl+s" { // which would write a record
			names = append(names, name)
		}
	}
	names = append(names, " ", "0", "yes", "20", "2.01", "40 4.0", "-3", "abc", "1e9", "Ω", "5 mA; 1", "#1", ";", "?")
	rapid.Check(t, func(rt *rapid.T) {
		p := checking(t, 80, 24)
		switch rapid.IntRange(0, 2).Draw(rt, "page") {
		case 1:
			p = sit(t, options(nil, nil, filepath.Join(t.TempDir(), "none")), 80, 24).keys("3")
		case 2:
			p = sit(t, options(nil, nil, filepath.Join(t.TempDir(), "none")), 80, 24).keys("4")
		}
		for range rapid.IntRange(1, 40).Draw(rt, "keys") {
			p.keys(rapid.SampledFrom(names).Draw(rt, "key"))
			checkFits(rt, p.m.View(), 80, 24)
		}
		for _, size := range [][2]int{{60, 20}, {20, 5}, {200, 60}} {
			p.send(tea.WindowSizeMsg{Width: size[0], Height: size[1]})
			checkFits(rt, p.m.View(), size[0], size[1])
		}
	})
}

// TestConvertPaged: going down page by page passes over no line of what comes of
// it, and going up leads back.
func TestConvertPaged(t *testing.T) {
	for _, size := range [][2]int{{60, 20}, {80, 24}, {120, 40}} {
		p := sit(t, options(nil, nil, "records"), size[0], size[1])
		p.keys("4", "down", "down", "92.5", "down", "555 uA", "down", "0.5")
		first := p.m.View()
		c := p.m.page.(*convertPage)
		for seen := 0; ; {
			if c.top > seen {
				t.Errorf("%v: lines %d to %d are passed over", size, seen, c.top)
			}
			if seen = c.top + c.room; seen >= len(c.outcome(bodyWidth(size[0]))) {
				break
			}
			was := c.top
			if p.keys("pgdown"); c.top == was {
				t.Fatalf("%v: stuck at line %d", size, was)
			}
		}
		for range 20 {
			p.keys("pgup")
		}
		if p.m.View() != first {
			t.Errorf("%v: up again it is\n%s\nwant\n%s", size, p.m.View(), first)
		}
	}
}

// TestConvertTyped: the outcome follows each keystroke, and a record's movement
// is taken with its uncertainties.
func TestConvertTyped(t *testing.T) {
	p := sit(t, options(nil, nil, "records"), 120, 40).keys("4")
	p.sees("give G, the full scale and a range")
	p.keys("down", "down", "92.5", "down", "555 uA", "down", "0")
	p.sees("above 0")
	p.keys(".5")
	p.sees("shunt, exact 102.8 mΩ") // scenario D8 of testdata/reference
	p.sees("1.802 kΩ/V")            // 1/0.555 mA
	// By hand, from the domain's notes on the same movement: −0.00393·10 of G
	// alone is −3.78 %, of twice as warm −7.3 %; 0.102789 Ω of SWG 22 are 92.8 mm
	// of manganin, 83.3 mm of constantan and 2.368 m of copper.
	p.sees("coil 10 K warmer −3.78 %")
	p.keys("down", "down", "down", "down", "20 K", "down", "1")
	p.sees("coil 20 K warmer −7.2")
	p.sees("swamp for 1 %")
	p.keys("down", "down", "SWG 22")
	p.sees("manganin wire SWG 22")
	p.sees("length 92.8 mm")
	p.keys("up", "right")
	p.sees("constantan wire SWG 22")
	p.sees("length 83.3 mm")
	p.keys("right")
	p.sees("copper wire SWG 22")
	p.sees("length 2.368 m")
	p.keys("down", "ctrl+u", "SWG 23")
	p.sees("not yet, gauge: the gauge is SWG 14 to 40")
	p.keys("ctrl+u", "up", "up", "ctrl+u", "60")
	p.sees("not yet, error left: the error that is left is more than 0 and below 50 %")
	p.keys("ctrl+u", "up", "ctrl+u", "-3")
	p.sees("not yet, coil warmer by: the coil is warmer by more than 0")
	p.keys("ctrl+u", "up", "up", "up", "up")
	p.keys("pgdown")
	p.sees("comes off last")
	p.keys("; 1e-4")
	p.sees("cannot be had: it is below the movement's own full-scale current")
	p.keys("ctrl+u", "0.5 V")
	p.sees(`not yet, full scales: "0.5 V" has the unit "V"`)
	p.keys("up", "up", "up", "up", "right", "right")
	p.sees("multiplier, exact")
	p.keys("down", "nowhere.jsonl", "enter")
	p.sees("! ")
	p.keys("esc")
	p.sees("begin a practical at the bench")
}
