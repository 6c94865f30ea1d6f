package metercheck

import (
	"encoding/json"
	"math"
	"os"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"example.org/halve/physics/accuracy"
	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/panel"
	"example.org/halve/physics/published"
	"example.org/halve/procedure"
	"example.org/halve/safety"
)

func p(v float64) *float64 { return &v }

// tenAmpere is a 0 to 10 A meter of 100 divisions, class 1.5, with a reference
// of five to one.
func tenAmpere() Bench {
	return Bench{
		Label: "meter 7", MeterKind: Ammeter, RangeA: p(10), Divisions: 100, Class: 1.5, Resolution: 0.2,
		Reference: Reference{Label: "standard 2", UA: p(0.015), MaxA: p(12)}, Source: Supply{MaxA: p(12)},
	}
}

// taken folds bodies, and fails where one is refused.
func taken(t testing.TB, bodies ...procedure.Body) *State {
	t.Helper()
	s := new(State)
	for _, b := range bodies {
		if err := take(s, b); err != nil {
			t.Fatalf("%s: %v", b.Kind(), err)
		}
	}
	return s
}

func take(s *State, b procedure.Body) error {
	return s.Apply(procedure.Event{Seq: s.Seq() + 1, At: time.Unix(0, 0).UTC(), Body: b})
}

// TestDecode: what is an event of this procedure, and what is refused, in one
// line that says what is expected.
func TestDecode(t *testing.T) {
	const bench = `{"event":"bench","kind":"ammeter","range_A":10,"divisions":100,"reference":{"u_A":0.015}}`
	for _, c := range []struct{ line, says string }{
		{bench, ""},
		{`{"event":"bench","label":"7","kind":"voltmeter","range_V":30,"divisions":60,"zero":"left","class_index":1.5,"resolution_div":0.2,"fiducial_V":30,"reference":{"label":"2","u_V":0.05,"max_V":100},"source":{"max_A":1,"max_V":40}}`, ""},
		{`{"event":"wired"}`, ""}, {`{"event":"zero","div":0.2}`, ""}, {`{"event":"finish"}`, ""}, {`{"event":"who","names":"A. Brook"}`, ""},
		{`{"event":"note","text":"warm room"}`, ""}, {`{"event":"strike","seq":4,"why":"misread"}`, ""},
		{`{"event":"point","direction":"rising","reading_div":20,"reference_A":2.01,"tapped":true}`, ""},
		{`{"event":"point","direction":"falling","reading_div":20,"reference_V":2.01}`, ""},
		{`{"event":"set-series","ohm":100}`, "no event"},
		{`{"event":"claim","quantity":"merit","value":1}`, "no event"},
		{`{"event":"bench","kind":"ohmmeter","range_A":10,"divisions":100,"reference":{"u_A":0.015}}`, `"ammeter" or "voltmeter"`},
		{`{"event":"bench","kind":"ammeter","range_V":10,"divisions":100,"reference":{"u_A":0.015}}`, "range_A is expected"},
		{`{"event":"bench","kind":"ammeter","divisions":100,"reference":{"u_A":0.015}}`, "needs range_A"},
		{`{"event":"bench","kind":"ammeter","range_A":10,"divisions":100,"reference":{}}`, "needs reference: u_A"},
		{`{"event":"bench","kind":"ammeter","range_A":10,"divisions":100,"reference":{"u_V":1}}`, "u_A is expected"},
		{`{"event":"bench","kind":"ammeter","range_A":-10,"divisions":100,"reference":{"u_A":0.015}}`, "range_A lies between"},
		{`{"event":"bench","kind":"ammeter","range_A":10,"divisions":1,"reference":{"u_A":0.015}}`, "divisions"},
		{`{"event":"bench","kind":"ammeter","range_A":10,"divisions":100,"class_index":50,"reference":{"u_A":0.015}}`, "class index"},
		{`{"event":"bench","kind":"ammeter","range_A":10,"divisions":100,"zero":"top","reference":{"u_A":0.015}}`, `"left" or "centre"`},
		{`{"event":"bench","kind":"ammeter","range_A":10,"divisions":100,"resolution_div":60,"reference":{"u_A":0.015}}`, "half the scale"},
		{`{"event":"bench","kind":"ammeter","range_A":10,"divisions":100,"reference":{"u_A":20}}`, "more than the meter's range"},
		{`{"event":"bench","kind":"ammeter","range_A":10,"divisions":100,"reference":{"u_A":0.015},"source":{"max_A":0}}`, "source: max_A"},
		{`{"event":"bench","kind":"ammeter","range_A":10,"divisions":100,"reference":{"u_A":0.015,"colour":"red"}}`, "colour"},
		{`{"event":"bench","label":"` + strings.Repeat("x", 300) + `","kind":"ammeter","range_A":10,"divisions":100,"reference":{"u_A":0.015}}`, "label has 300 characters"},
		{`{"event":"point","direction":"sideways","reading_div":20,"reference_A":2}`, `"rising" or "falling"`},
		{`{"event":"point","direction":"rising","reading_div":20}`, "what the reference shows"},
		{`{"event":"point","direction":"rising","reading_div":20,"reference_A":2,"reference_V":2}`, "what the reference shows"},
		{`{"event":"point","direction":"rising","reference_A":2}`, "reading_div"},
		{`{"event":"point","direction":"rising","reading_div":20,"reference_A":1e9}`, "reference lies between"},
		{`{"event":"point","direction":"rising","reading_div":2000,"reference_A":2}`, "reading_div lies between"},
	} {
		b, err := Words().DecodeInput([]byte(c.line))
		if (err == nil) != (c.says == "") || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s\ngot %+v, %v; want an error saying %q", c.line, b, err, c.says)
		}
		if err == nil {
			line, err := procedure.Event{Seq: 5, Body: b}.Encode()
			if err != nil {
				t.Fatal(err)
			}
			back, err := Words().DecodeRecorded(line, 5)
			if err != nil || !reflect.DeepEqual(back.Body, b) {
				t.Errorf("%s\nrecorded as %s\nand read back as %+v, %v", c.line, line, back.Body, err)
			}
		} else if strings.ContainsAny(err.Error(), "\n\r") {
			t.Errorf("%s: the answer is not one line: %q", c.line, err)
		}
	}
	b, err := Words().DecodeInput([]byte(`{"event":"bench","kind":"ammeter","label":"a\u001b[31mb","range_A":10,"divisions":100,"reference":{"u_A":0.015,"label":"\u202ex"}}`))
	if err != nil || b.(Bench).Label != "ab" || b.(Bench).Reference.Label != "x" {
		t.Errorf("text from a stranger: %+v, %v", b, err)
	}
}

// TestFold: what may follow what.
func TestFold(t *testing.T) {
	up := tenAmpere().At(Rising, 20, 2, false)
	for _, c := range []struct {
		name   string
		bodies []procedure.Body
		last   procedure.Body
		says   string
	}{
		{"a point before the bench", nil, up, "begin with bench"},
		{"a zero before the bench", nil, procedure.ZeroRead{}, "begin with bench"},
		{"a point before wired", []procedure.Body{tenAmpere()}, up, "send wired first"},
		{"a point", []procedure.Body{tenAmpere(), procedure.Wired{}}, up, ""},
		{"a voltmeter's point", []procedure.Body{tenAmpere(), procedure.Wired{}}, Point{Direction: Rising, Div: 20, ReferenceV: p(2)}, "reference_A is expected"},
		{"somewhat beyond the end", []procedure.Body{tenAmpere(), procedure.Wired{}}, tenAmpere().At(Rising, 100.5, 10, false), ""},
		{"far beyond the end", []procedure.Body{tenAmpere(), procedure.Wired{}}, tenAmpere().At(Rising, 150, 10, false), "beyond it"},
		{"a lost prefix", []procedure.Body{tenAmpere(), procedure.Wired{}}, tenAmpere().At(Rising, 20, 2000, false), "prefix"},
		{"after finish", []procedure.Body{tenAmpere(), procedure.Wired{}, procedure.Finish{}}, up, "finished"},
		{"a note after finish", []procedure.Body{tenAmpere(), procedure.Finish{}}, procedure.Note{Text: "warm"}, ""},
		{"another kind of meter after a reading", []procedure.Body{tenAmpere(), procedure.Wired{}, up},
			Bench{MeterKind: Voltmeter, RangeV: p(10), Divisions: 100, Reference: Reference{UV: p(0.01)}}, "kind of meter"},
		{"a scale too short for a reading", []procedure.Body{tenAmpere(), procedure.Wired{}, tenAmpere().At(Rising, 60, 6, false)},
			Bench{MeterKind: Ammeter, RangeA: p(10), Divisions: 50, Reference: Reference{UA: p(0.01)}}, "cannot end at 50"},
		{"an event of half deflection", []procedure.Body{tenAmpere()}, procedure.RowKept{}, "no event of a meter check"},
		{"a strike of the bench", []procedure.Body{tenAmpere()}, procedure.Strike{Event: 1}, "cannot be struck"},
		{"a strike of nothing", []procedure.Body{tenAmpere()}, procedure.Strike{Event: 9}, "no event 9"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := taken(t, c.bodies...)
			before := s.Seq()
			err := take(s, c.last)
			if (err == nil) != (c.says == "") || err != nil && !strings.Contains(err.Error(), c.says) {
				t.Errorf("got %v, want an error saying %q", err, c.says)
			}
			if err != nil && s.Seq() != before {
				t.Error("a refused event changed the state")
			}
		})
	}
}

// TestStrike: a struck point is out of the result, and in again when its
// strike is struck.
func TestStrike(t *testing.T) {
	b := tenAmpere()
	s := taken(t, b, procedure.Wired{}, procedure.ZeroRead{}, b.At(Rising, 20, 2, false), b.At(Rising, 44, 4, false))
	points := func() int { return len(Advise(s).Result.Points) }
	if points() != 3 || Advise(s).Result.WorstError < 3.9 {
		t.Fatalf("%+v", Advise(s).Result)
	}
	if err := take(s, procedure.Strike{Event: 5}); err != nil {
		t.Fatal(err)
	}
	if points() != 2 || Advise(s).Result.WorstError > 0.1 || s.Struck(5) != 6 {
		t.Errorf("struck: %+v", Advise(s).Result)
	}
	if err := take(s, procedure.Strike{Event: 6}); err != nil {
		t.Fatal(err)
	}
	if points() != 3 {
		t.Errorf("restored: %+v", Advise(s).Result)
	}
}

// TestScenario is scenario D9 of testdata/reference/scenarios.json as a record:
// the errors, hysteresis and verdicts are those given there. Its uncertainty of
// a reading is another (0.02 A, triangular); here it is that of half a step.
func TestScenario(t *testing.T) {
	d9 := published.Scenario[struct {
		Inputs struct {
			Standard []float64 `json:"standard_A"`
			Up       []float64 `json:"reading_up"`
			Down     []float64 `json:"reading_down"`
		}
		Expected struct {
			Worst      float64   `json:"worst_abs_pct"`
			Hysteresis []float64 `json:"hysteresis_pct"`
		}
	}](t, os.DirFS("../../testdata/reference"), "D9")
	if len(d9.Inputs.Up) != 6 {
		t.Fatalf("scenario D9 is not there whole: %+v", d9)
	}
	b := tenAmpere()
	bodies := []procedure.Body{b, procedure.Wired{}, procedure.ZeroRead{Div: 10 * d9.Inputs.Up[0]}}
	for i := 1; i < 6; i++ {
		bodies = append(bodies, b.At(Rising, 10*d9.Inputs.Up[i], d9.Inputs.Standard[i], false))
	}
	for i := 5; i > 0; i-- {
		bodies = append(bodies, b.At(Falling, 10*d9.Inputs.Down[i], d9.Inputs.Standard[i], false))
	}
	bodies = append(bodies, procedure.ZeroRead{Div: 10 * d9.Inputs.Down[0]}, procedure.Finish{})
	r := Advise(taken(t, bodies...)).Result
	near := func(what string, got, want float64) {
		t.Helper()
		if !(math.Abs(got-want) < 1e-9) {
			t.Errorf("%s: got %g, want %g", what, got, want)
		}
	}
	near("worst", r.WorstError, d9.Expected.Worst)
	near("hysteresis", *r.Hysteresis, slices.Max(d9.Expected.Hysteresis))
	near("zero return", *r.ZeroReturn, d9.Expected.Hysteresis[0])
	near("ratio", *r.Ratio, 5)
	near("deserved", *r.Deserved, 1.5)
	// By hand: u = √(0.015² + (0.02 · √(1/12 + 0.15²))²) A = 0.016350 A, which is
	// 0.1635 % of 10 A; U is twice that, and 1.5 % lies (1.5 − 0.8)/0.1635 = 4.281
	// standard deviations off, beyond which a normal law has 9.3·10⁻⁶.
	if math.Abs(r.U95WorstError-0.32701) > 1e-5 || math.Abs((1-*r.Conformance)/9.3e-6-1) > 0.01 {
		t.Errorf("U %g, conformance %g", r.U95WorstError, *r.Conformance)
	}
	if *r.Simple != accuracy.Conforms || *r.Guarded != accuracy.Conforms || r.Friction != nil || len(r.Points) != 12 {
		t.Errorf("%+v", r)
	}
}

// TestSequence: what is asked for, one thing after the other, of a meter of 100
// divisions whose every reading is right, and how the source is cleared.
func TestSequence(t *testing.T) {
	s := new(State)
	b := tenAmpere()
	var asked []string
	for n := 0; ; n++ {
		c := Advise(s)
		if c.Next == nil {
			break
		}
		if n > 40 {
			t.Fatal("no end")
		}
		line := string(c.Step) + " " + c.Next.Event
		if c.Clearance != nil {
			line += " " + string(c.Clearance.Verdict)
			if c.Clearance.Key != safety.Source {
				t.Errorf("the key is %s", c.Clearance.Key)
			}
		}
		var body procedure.Body
		switch c.Next.Event {
		case procedure.KindBench:
			body = b
		case procedure.KindWired:
			body = procedure.Wired{}
		case procedure.KindZero:
			body = procedure.ZeroRead{}
		case procedure.KindFinish:
			body = procedure.Finish{}
		case KindPoint:
			line += " " + c.Next.Direction + " " + divs(*c.Next.TargetDiv, b)
			if *c.Next.Tapped {
				line += " tapped"
			}
			if c.Expect == nil || math.Abs(c.Expect.Div-*c.Next.TargetDiv) > 1e-9 || !(c.Expect.UDiv > 0) {
				t.Errorf("%s: expected is %+v", line, c.Expect)
			}
			if v, _ := c.Expect.Reference(); math.Abs(v-*c.Next.TargetDiv/10) > 1e-9 || *c.Next.StopA < *c.Next.TargetA {
				t.Errorf("%s: %+v, %+v", line, c.Next, c.Expect)
			}
			body = b.At(c.Next.Direction, *c.Next.TargetDiv, *c.Next.TargetA, *c.Next.Tapped)
		}
		if c.Next.Do == "" || len(c.Findings) > 0 || c.Odd != "" {
			t.Errorf("%s: %+v", line, c)
		}
		asked = append(asked, strings.ReplaceAll(line, "\u00a0", " "))
		if err := take(s, body); err != nil {
			t.Fatal(err)
		}
	}
	want := []string{
		"bench bench", "wiring wired stop", "zero zero",
		"rising point tap rising 20 div", "rising point clear rising 40 div", "rising point clear rising 60 div", "rising point clear rising 60 div tapped",
		"rising point clear rising 80 div", "rising point clear rising 100 div",
		"falling point clear falling 80 div", "falling point clear falling 60 div", "falling point clear falling 60 div tapped",
		"falling point clear falling 40 div", "falling point clear falling 20 div",
		"zero zero",
		"rising point clear rising 60 div", "rising point clear rising 60 div",
		"result finish",
	}
	if !slices.Equal(asked, want) {
		t.Errorf("asked\n%s\nwant\n%s", strings.Join(asked, "\n"), strings.Join(want, "\n"))
	}
	c := Advise(s)
	if c.Step != StepResult || c.Clearance != nil || c.Result == nil || *c.Result.Friction != 0 || *c.Result.Repeatability != 0 || *c.Result.ZeroReturn != 0 {
		t.Errorf("%+v %+v", c, c.Result)
	}
}

// TestCautions: what is said depends on what the instruments can drive: of an
// ammeter the volts of its source, of a voltmeter those it reads, whichever of
// source and range is more. The limits are those of package safety.
func TestCautions(t *testing.T) {
	volt := Bench{MeterKind: Voltmeter, RangeV: p(30), Divisions: 60, Class: 1, Reference: Reference{UV: p(0.01)}, Source: Supply{MaxA: p(50)}}
	has := func(b Bench, id string) bool {
		return slices.ContainsFunc(b.Cautions(StepRising), func(c safety.Caution) bool { return c.ID == id })
	}
	for _, c := range []struct {
		name       string
		of         Bench
		change     func(*Bench)
		touch, hot bool
	}{
		{"10 A", tenAmpere(), func(*Bench) {}, false, true},
		{"10 A of a 230 V source", tenAmpere(), func(b *Bench) { b.Source.MaxV = p(230) }, true, true},
		{"1 A", tenAmpere(), func(b *Bench) { b.RangeA, b.Source.MaxA = p(1), p(2) }, false, false},
		{"1 A of a source of 20 A", tenAmpere(), func(b *Bench) { b.RangeA, b.Source.MaxA = p(1), p(20) }, false, true},
		{"30 V", volt, func(*Bench) {}, false, false},
		{"30 V of a source of 40 V", volt, func(b *Bench) { b.Source.MaxV = p(40) }, true, false},
		{"300 V", volt, func(b *Bench) { b.RangeV = p(300) }, true, false},
	} {
		c.change(&c.of)
		if touch, hot := has(c.of, "touch"), has(c.of, "hot-shunt"); touch != c.touch || hot != c.hot {
			t.Errorf("%s: touch %t, hot %t; want %t, %t", c.name, touch, hot, c.touch, c.hot)
		}
	}
}

// TestMarks: how far a check goes, by scale, source and reference.
func TestMarks(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Bench)
		want   []float64
		unfit  bool
	}{
		{"100 divisions", func(*Bench) {}, []float64{20, 40, 60, 80, 100}, false},
		{"30 divisions", func(b *Bench) { b.Divisions = 30 }, []float64{6, 12, 18, 24, 30}, false},
		{"12 divisions, to whole ones", func(b *Bench) { b.Divisions = 12 }, []float64{2, 5, 7, 10, 12}, false},
		{"5 divisions", func(b *Bench) { b.Divisions = 5 }, []float64{1, 2, 3, 4, 5}, false},
		{"zero in the middle", func(b *Bench) { b.Zero, b.Divisions = "centre", 30 }, []float64{10, 20, 30}, false},
		{"a reference of 8.5 A", func(b *Bench) { b.Reference.MaxA = p(8.5) }, []float64{20, 40, 60, 80}, false},
		{"a source of 3 A", func(b *Bench) { b.Source.MaxA = p(3) }, []float64{20}, true},
		{"a source of 1000 A", func(b *Bench) { b.Source.MaxA = p(1000) }, []float64{20, 40, 60, 80, 100}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := tenAmpere()
			c.change(&b)
			if got := b.marks(); !slices.Equal(got, c.want) {
				t.Errorf("marks %v, want %v", got, c.want)
			}
			s := taken(t, b)
			n := Advise(s)
			if (n.Next.Event == procedure.KindBench) != c.unfit {
				t.Errorf("next is %+v, unfit is %v", n.Next, c.unfit)
			}
		})
	}
}

// TestStop: where to stop turning, by hand: a twentieth of 10 A beyond the mark,
// or three times the class limit where that is more, but never beyond what the
// reference is rated for or the source drives.
func TestStop(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Bench)
		mark   float64
		want   float64
	}{
		{"a mark", func(*Bench) {}, 40, 4.5},
		{"on the left", func(b *Bench) { b.Zero = "centre" }, -40, 4.9}, // 3 · 1.5 % of 20 A
		{"a coarse class", func(b *Bench) { b.Class = 5 }, 40, 5.5},
		{"the reference's rating", func(b *Bench) { b.Reference.MaxA = p(10) }, 100, 10},
		{"the source's most", func(b *Bench) { b.Source.MaxA = p(10.2) }, 100, 10.2},
		{"neither is stated", func(b *Bench) { b.Reference.MaxA, b.Source.MaxA = nil, nil }, 100, 10.5},
	} {
		b := tenAmpere()
		c.change(&b)
		if got := b.stop(c.mark); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: stop at %g, want %g", c.name, got, c.want)
		}
	}
	b := tenAmpere()
	b.Resolution = 0
	if b.Step() != 0.2 {
		t.Errorf("readings are to %g div where nothing is stated, want a fifth", b.Step())
	}
}

// sequence takes a meter through a check: shows gives the pointer's reading for
// what the reference shows, both in divisions; back is where it rests at the
// end.
func sequence(t testing.TB, b Bench, zero, back float64, shows func(is float64, rising, tapped bool) float64) *State {
	t.Helper()
	bodies := []procedure.Body{b, procedure.Wired{}, procedure.ZeroRead{Div: zero}}
	for _, it := range b.items() {
		if it.zero {
			bodies = append(bodies, procedure.ZeroRead{Div: back})
			continue
		}
		bodies = append(bodies, b.At(direction(it.rising), shows(it.mark, it.rising, it.tapped), b.Meter().Indicated(it.mark), it.tapped))
	}
	return taken(t, bodies...)
}

// TestFindings: each cause at a clear size on a meter without noise, by its own
// definition, is the first that is named, with what to strike where something
// was spoiled; and nothing is named of a meter that is right, or that is out of
// its class by a little.
func TestFindings(t *testing.T) {
	side := func(rising bool) float64 {
		if rising {
			return -1
		}
		return 1
	}
	bent := false
	for _, c := range []struct {
		name  string
		zero  float64
		shows func(is float64, rising, tapped bool) float64
		want  string
	}{
		{"right", 0, func(is float64, _, _ bool) float64 { return is }, ""},
		{"just within its class", 0, func(is float64, _, _ bool) float64 { return is * 1.014 }, ""},
		{"somewhat beyond it", 0, func(is float64, _, _ bool) float64 { return is * 1.02 }, ""},
		{"a little hysteresis", 0, func(is float64, rising, _ bool) float64 { return is + 0.15*side(rising) }, ""},
		{"leads exchanged", 0, func(float64, bool, bool) float64 { return -1 }, panel.Reversed},
		{"leads exchanged, at the zero", 0, func(float64, bool, bool) float64 { return -0.2 }, panel.Reversed},
		{"ten times", 0, func(is float64, _, _ bool) float64 { return is / 10 }, panel.WrongRange},
		{"half", 0, func(is float64, _, _ bool) float64 { return is / 2 }, panel.WrongRange},
		// Ranges of 1, 3 and 10, of 10 and 25, of 10 and 15: not all of them are
		// among those that a simulated bench has.
		{"a third", 0, func(is float64, _, _ bool) float64 { return is / 3 }, panel.WrongRange},
		{"two fifths", 0, func(is float64, _, _ bool) float64 { return is * 0.4 }, panel.WrongRange},
		{"two thirds", 0, func(is float64, _, _ bool) float64 { return is / 1.5 }, panel.WrongRange},
		{"a hundredth and a half", 0, func(is float64, _, _ bool) float64 { return is * 0.15 }, panel.WrongRange},
		{"9 % too much", 0, func(is float64, _, _ bool) float64 { return is * 1.09 }, panel.ScaleFactor},
		{"zero not set", 1, func(is float64, _, _ bool) float64 { return is + 1 }, panel.ZeroOff},
		{"sticks", 0, func(is float64, rising, tapped bool) float64 {
			if tapped {
				return is
			}
			return is + 0.6*side(rising)
		}, panel.Sticks},
		{"struck the end and bent", 0, func(is float64, _, _ bool) float64 {
			if bent = bent || is == 100; bent {
				return is + 2
			}
			return is
		}, panel.Bent},
		{"one misread", 0, func(is float64, rising, _ bool) float64 {
			if is == 80 && !rising {
				return 70
			}
			return is
		}, panel.PointOdd},
	} {
		t.Run(c.name, func(t *testing.T) {
			back := c.zero
			if c.want == panel.Bent {
				back = 2
			}
			found := Advise(sequence(t, tenAmpere(), c.zero, back, c.shows)).Findings
			got := ""
			if len(found) > 0 {
				got = found[0].ID
			}
			if got != c.want {
				t.Fatalf("found %+v, want %q first", found, c.want)
			}
			if c.want == "" {
				return
			}
			if f := found[0]; f.Probability < 0.5 || f.Probability > 1 || f.Say == "" || f.Try == "" {
				t.Errorf("%+v", f)
			}
			if mend := found[0].Mend; (mend != nil) != slices.Contains([]string{panel.Reversed, panel.WrongRange, panel.ZeroOff, panel.PointOdd}, c.want) {
				t.Errorf("to strike: %+v", mend)
			}
		})
	}
}

// TestAnyRange: whichever number of times the pointer shows what it should, the
// meter is on another range once a few points are taken, and the number is
// said; the pointer is brought to each mark, or the source to where it is to
// stop, as the counsel asks.
func TestAnyRange(t *testing.T) {
	for times, says := range map[float64]string{3: "shows 3", 2.5: "shows 2.5", 1.5: "shows 1.5", 20: "times what it should", 100: "times what it should", 1 / 3.0: "1/3", 0.4: "1/2.5"} {
		b := tenAmpere()
		s := taken(t, b, procedure.Wired{}, procedure.ZeroRead{})
		var c Counsel
		for c = Advise(s); c.Next.Event == KindPoint && len(s.readings) < 6; c = Advise(s) {
			is := min(*c.Next.TargetDiv/times, 10*c.Next.Stop())
			// The reference is off by a third of its 15 mA, now to this side and
			// now to that; in the pointer's place that counts so many times.
			off := 0.005 * float64(1-2*(len(s.readings)%2))
			if err := take(s, b.At(c.Next.Direction, math.Round(5*is*times)/5, is/10+off, *c.Next.Tapped)); err != nil {
				t.Fatal(err)
			}
		}
		if f, ok := suspect(c.Findings); !ok || f.ID != panel.WrongRange || !strings.Contains(f.Say, says) {
			t.Errorf("%g times: %+v, want %s", times, c.Findings, says)
		}
	}
}

// TestNoRangeBackwards: a pointer that goes the other way, or does not move, is
// on no other range.
func TestNoRangeBackwards(t *testing.T) {
	for name, shows := range map[apparatus.Zero]func(is float64) float64{
		apparatus.CentreZero: func(is float64) float64 { return -is }, apparatus.LeftZero: func(float64) float64 { return -3 }, // the stop of the simulated bench
	} {
		b := tenAmpere()
		b.Zero = name
		s := taken(t, b, procedure.Wired{}, procedure.ZeroRead{})
		for _, is := range []float64{20, 25, 40} {
			if err := take(s, b.At(Rising, shows(is), is/10, false)); err != nil {
				t.Fatal(err)
			}
			found := Advise(s).Findings
			if len(found) == 0 || slices.ContainsFunc(found, func(f procedure.Finding) bool { return f.ID == panel.WrongRange && f.Probability > 0.01 }) {
				t.Errorf("zero at %s, %g div at %g A: %+v", name, shows(is), is/10, found)
			}
		}
		if f, ok := suspect(Advise(s).Findings); !ok || f.ID != panel.Reversed {
			t.Errorf("zero at %s: %+v", name, f)
		}
	}
}

// TestLowerRange: a source that is harmless to the meter as stated is not said to
// be so where the pointer has shown three times what it should: by hand, 12 A
// drive a meter of 3.33 A to 360 of 100 divisions. What is struck counts no more.
func TestLowerRange(t *testing.T) {
	b := tenAmpere()
	s := taken(t, b, procedure.Wired{}, procedure.ZeroRead{}, b.At(Rising, 20, 2.0/3, false))
	c := Advise(s).Clearance
	if c.Verdict != safety.Clear || c.WorstDiv == nil || math.Abs(*c.WorstDiv-360) > 1e-6 || !strings.Contains(c.Because, "would drive the pointer to 360 of 100") {
		t.Errorf("%+v", c)
	}
	for _, body := range []procedure.Body{procedure.Strike{Event: 4}, b.At(Rising, 20, 2, false), b.At(Falling, 2, 0.05, false)} {
		if err := take(s, body); err != nil {
			t.Fatal(err)
		}
	}
	if c := Advise(s).Clearance; c.WorstDiv == nil || math.Abs(*c.WorstDiv-120) > 1e-6 {
		t.Errorf("after it was struck: %+v", c)
	}
}

// TestProportion: what is off in proportion is said as a part of the true
// value: 109 where 100 is true is 9 % too much. What sound meters may have of
// their own takes up to 0.2 % of that.
func TestProportion(t *testing.T) {
	for _, percent := range []float64{9, -12} {
		s := sequence(t, tenAmpere(), 0, 0, func(is float64, _, _ bool) float64 { return is * (1 + percent/100) })
		f, ok := suspect(Advise(s).Findings)
		_, said, _ := strings.Cut(strings.Replace(f.Say, "−", "-", 1), "about ")
		said, _, _ = strings.Cut(said, " % of the true value")
		got, err := strconv.ParseFloat(said, 64)
		if !ok || f.ID != panel.ScaleFactor || err != nil || math.Abs(got-percent) > 0.2 {
			t.Errorf("%g %%: %+v", percent, f)
		}
	}
}

// TestOdd: a reading is odd from four standard deviations on of what the others
// foretell of it, and two numbers in each other's place are told as that.
func TestOdd(t *testing.T) {
	b := tenAmpere()
	s := taken(t, b, procedure.Wired{}, procedure.ZeroRead{}, b.At(Rising, 20, 2.01, false), b.At(Rising, 40, 4.02, false))
	e := Advise(s).Expect
	v, u := e.Reference()
	// The readings are 0.5 % of the reading low: at 60 the reference shows more
	// than 6 A, by as much as the pointer would show less than 60 at 6 A.
	if !(v > 6.01 && v < 6.05) || math.Abs((v-6)-(60-e.Div)/10) > 1e-9 || math.Abs(u-e.UDiv/10) > 1e-9 {
		t.Errorf("expected are %g ± %g A, %g ± %g div", v, u, e.Div, e.UDiv)
	}
	for _, c := range []struct {
		div, reference float64
		says           string
	}{
		{e.Div + 3.9*e.UDiv, 6, ""}, {e.Div - 3.9*e.UDiv, 6, ""},
		{e.Div + 4.1*e.UDiv, 6, "was expected"}, {e.Div - 4.1*e.UDiv, 6, "was expected"},
		{6.03, 60, "pointer and reference look exchanged: it is the pointer that stands at 60\u00a0div, and the reference that shows 6.03"},
		{60, 60, "was expected"}, {6, 6, "was expected"},
	} {
		odd := Preview(s, b.At(Rising, c.div, c.reference, false)).Odd
		if c.says == "" && odd != "" || !strings.Contains(odd, c.says) || c.says == "was expected" && strings.Contains(odd, "look exchanged") {
			t.Errorf("%g div at %g A: %q, want %q", c.div, c.reference, odd, c.says)
		}
	}
}

// TestRemarks: what is to be known besides, and where it is not; of a meter that
// is off by so many divisions everywhere, and comes back to so many.
func TestRemarks(t *testing.T) {
	for _, c := range []struct {
		name      string
		change    func(*Bench)
		off, back float64
		words     string
		said      bool
	}{
		// 0.75 % of 100 div is half of class 1.5.
		{"back to 0.8", func(*Bench) {}, 0, 0.8, "comes back to zero less well", true},
		{"back to 0.7", func(*Bench) {}, 0, 0.7, "comes back to zero less well", false},
		{"class 15", func(b *Bench) { b.Class = 15 }, 0, 0, "Class 15 is none of the usual indexes", true},
		{"class 1.5", func(*Bench) {}, 0, 0, "usual indexes", false},
		// U of a point is 0.327 %: the class is 0.5, of which a tenth is 5 mA.
		{"a reference for class 1.5", func(*Bench) {}, 0, 0, "To mark the meter with class 0.5 the standard asks for a reference with a standard uncertainty of at most 5.0 mA", true},
		// U is 0.164 % then, and 0.5 holds the 0.3 % of the readings.
		{"one for class 0.5", func(b *Bench) { b.Reference.UA = p(0.005) }, 0.3, 0.3, "To mark the meter", false},
		{"its own class", func(b *Bench) { b.Class = 0.5 }, 0, 0, "To mark the meter", false},
	} {
		b := tenAmpere()
		c.change(&b)
		s := sequence(t, b, 0, c.back, func(is float64, _, _ bool) float64 { return is + c.off })
		if all := strings.Join(Advise(s).Remarks, " "); strings.Contains(all, c.words) != c.said {
			t.Errorf("%s: %q; %q is to be said: %t", c.name, all, c.words, c.said)
		}
	}
}

// TestUnexplained: of readings that nothing known explains no cause is named;
// it is said that none is.
func TestUnexplained(t *testing.T) {
	n := 0
	junk := []float64{70, 12, 95, 33, 51, 8, 88, 20, 64}
	c := Advise(sequence(t, tenAmpere(), 0, 0, func(float64, bool, bool) float64 { n++; return junk[n%len(junk)] }))
	if len(c.Findings) != 0 || !strings.Contains(strings.Join(c.Remarks, " "), "Nothing known explains") || !strings.Contains(c.Odd, "look through them for a slip") {
		t.Errorf("%+v, %q, %q", c.Findings, c.Remarks, c.Odd)
	}
	if c := Advise(sequence(t, tenAmpere(), 0, 0, func(is float64, _, _ bool) float64 { return is })); strings.Contains(strings.Join(c.Remarks, " "), "Nothing known") {
		t.Errorf("of a sound meter: %q", c.Remarks)
	}
}

// TestPoorReference: told by arithmetic; 1.5 % of 10 A is 0.15 A.
func TestPoorReference(t *testing.T) {
	for _, c := range []struct {
		u       float64
		finding bool
		words   string
	}{
		{0.0150, false, ""}, {0.0160, false, "4.7 times"}, {0.0190, true, "3.9 times"}, {0.0300, true, "three-way"},
	} {
		b := tenAmpere()
		b.Reference.UA = &c.u
		a := Advise(taken(t, b, procedure.Wired{}))
		text := strings.Join(a.Remarks, " ")
		if len(a.Findings) > 0 {
			text += a.Findings[0].ID + a.Findings[0].Say
		}
		if c.finding != (len(a.Findings) > 0 && a.Findings[0].ID == ReferencePoor) || !strings.Contains(text, c.words) {
			t.Errorf("u = %g: %+v, %q; want %v and %q", c.u, a.Findings, a.Remarks, c.finding, c.words)
		}
		if a.Next.Event != procedure.KindZero {
			t.Errorf("u = %g: next is %+v", c.u, a.Next)
		}
	}
}

// TestAgain: where one cause is more probable than not, what is asked for next
// is what decides, and not for ever.
func TestAgain(t *testing.T) {
	b := tenAmpere()
	s := taken(t, b, procedure.Wired{}, procedure.ZeroRead{}, b.At(Rising, -1, 2.5, false))
	c := Advise(s)
	if c.Next.Event != KindPoint || *c.Next.TargetDiv != 20 || !strings.Contains(c.Next.Do, "exchange the meter's two leads") || c.Odd == "" {
		t.Errorf("%+v, odd %q", c.Next, c.Odd)
	}
	if f := c.Findings[0]; f.Mend == nil || f.Mend.Seq != 4 {
		t.Errorf("%+v", f)
	}
	for range 2 {
		if err := take(s, b.At(Rising, -1, 2.5, false)); err != nil {
			t.Fatal(err)
		}
	}
	if c := Advise(s); *c.Next.TargetDiv != 40 {
		t.Errorf("after three in vain: %+v", c.Next)
	}
	// Struck, and the leads put right: nothing is left of it.
	s = taken(t, b, procedure.Wired{}, procedure.ZeroRead{}, b.At(Rising, -1, 2.5, false), procedure.Strike{Event: 4}, b.At(Rising, 20, 2, false))
	if c := Advise(s); len(c.Findings) > 0 || *c.Next.TargetDiv != 40 {
		t.Errorf("mended: %+v %+v", c.Next, c.Findings)
	}
	// The zero is asked for again where it was not set, three times at the most.
	s = taken(t, b, procedure.Wired{})
	for n := range 3 {
		if c := Advise(s); c.Next.Event != procedure.KindZero {
			t.Fatalf("zero %d: next is %+v", n, c.Next)
		}
		if err := take(s, procedure.ZeroRead{Div: 1}); err != nil {
			t.Fatal(err)
		}
	}
	if c := Advise(s); c.Next.Event != KindPoint {
		t.Errorf("next is %+v", c.Next)
	}
}

// TestJSON: the keys are those of the contract, null where nothing is known.
func TestJSON(t *testing.T) {
	keys := func(v any) []string {
		raw, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		var m map[string]json.RawMessage
		if err := json.Unmarshal(raw, &m); err != nil {
			t.Fatal(err)
		}
		var out []string
		for k := range m {
			out = append(out, k)
		}
		slices.Sort(out)
		return out
	}
	b := tenAmpere()
	c := Advise(taken(t, b, procedure.Wired{}, procedure.ZeroRead{}, b.At(Rising, 20, 2, false)))
	for _, tt := range []struct {
		v    any
		want string
	}{
		{c, "clearance expect findings next refused result seq step"},
		{c.KeptIn("r.jsonl"), "clearance expect findings next record refused result seq step"},
		{c.Next, "direction do event stop_A tapped target_A target_div"},
		{c.Expect, "div reference_A u_div u_reference_A"},
		{c.Result, "U95_worst_error_percent conformance_probability corrections deserved_class fiducial_A friction_percent hysteresis_percent points ratio repeatability_percent verdict_guarded verdict_simple worst_error_percent zero_return_percent"},
		{c.Result.Points[1], "U95_error_percent direction error_percent indicated_A reading_div reference_A seq tapped"},
		{c.Result.Corrections[1], "correction_A reading_div u_correction_A"},
		{c.Clearance, "because key verdict worst_div"},
	} {
		if got := strings.Join(keys(tt.v), " "); got != tt.want {
			t.Errorf("%T has %s, want %s", tt.v, got, tt.want)
		}
	}
	raw, _ := json.Marshal(Advise(new(State)))
	if got, want := string(raw), `{"seq":0,"step":"bench","refused":null,"clearance":null,"next":{"event":"bench","do":"State the meter under test, the reference and the source."},"expect":null,"findings":[],"result":null}`; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

// TestRandom: any order of events: nothing panics, what is refused changes
// nothing, a preview is what follows, next never leads to a stop, and the same
// events give the same counsel.
func TestRandom(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := new(State)
		var events []procedure.Event
		b := tenAmpere()
		if rapid.Bool().Draw(t, "centre") {
			b.Zero = "centre"
		}
		for range rapid.IntRange(1, 25).Draw(t, "events") {
			body := rapid.Custom(func(t *rapid.T) procedure.Body {
				div := rapid.SampledFrom([]float64{-1, 0, 0.2, 20, 40, 60, 80, 100, 104, -60}).Draw(t, "div")
				switch rapid.IntRange(0, 12).Draw(t, "kind") {
				case 0:
					return b
				case 1:
					return procedure.Wired{}
				case 2:
					return procedure.ZeroRead{Div: rapid.Float64Range(-3, 3).Draw(t, "zero")}
				case 3:
					return procedure.Strike{Event: rapid.IntRange(1, 20).Draw(t, "struck")}
				case 4:
					return procedure.Note{Text: "x"}
				case 5:
					return procedure.Finish{}
				case 6:
					return Point{Direction: "up", Div: div, ReferenceV: p(1)}
				}
				return b.At(rapid.SampledFrom([]string{Rising, Falling}).Draw(t, "direction"), div,
					div/10*rapid.SampledFrom([]float64{1, 1, 1.001, 0.99, 2, -1}).Draw(t, "times"), rapid.Bool().Draw(t, "tapped"))
			}).Draw(t, "body")
			before, _ := json.Marshal(Advise(s))
			foreseen, _ := json.Marshal(Preview(s, body))
			e := procedure.Event{Seq: s.Seq() + 1, Body: body}
			if err := s.Apply(e); err != nil {
				if after, _ := json.Marshal(Advise(s)); string(after) != string(before) {
					t.Fatalf("refused (%v), but\n%s\nbecame\n%s", err, before, after)
				}
				continue
			}
			events = append(events, e)
			c := Advise(s)
			after, _ := json.Marshal(c)
			if string(after) != string(foreseen) {
				t.Fatalf("foreseen\n%s\nbut it is\n%s", foreseen, after)
			}
			if c.Next != nil && c.Next.Event == KindPoint && (c.Clearance == nil || c.Clearance.Verdict == safety.Stop) {
				t.Fatalf("next leads to a stop: %s", after)
			}
			if (c.Next == nil) != s.Finished() {
				t.Fatalf("next is %+v, finished is %v", c.Next, s.Finished())
			}
			for i, f := range c.Findings {
				if !(f.Probability > 0 && f.Probability <= 1) || i > 0 && f.ID == c.Findings[i-1].ID || i >= maxFindings {
					t.Fatalf("findings %+v", c.Findings)
				}
			}
		}
		again := new(State)
		for _, e := range events {
			if err := again.Apply(e); err != nil {
				t.Fatalf("event %d: %v", e.Seq, err)
			}
		}
		one, _ := json.Marshal(Advise(s))
		other, _ := json.Marshal(Advise(again))
		if string(one) != string(other) {
			t.Fatalf("the same events give\n%s\nand\n%s", one, other)
		}
	})
}

func BenchmarkAdvise(b *testing.B) {
	s := sequence(b, tenAmpere(), 0, 0, func(is float64, _, _ bool) float64 { return is * 1.001 })
	for b.Loop() {
		s.found = nil
		Advise(s)
	}
}
