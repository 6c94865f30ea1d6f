package plain_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode"

	"example.org/halve/physics/apparatus"
	"example.org/halve/procedure"
	"example.org/halve/procedure/debrief"
	"example.org/halve/procedure/record"
	"example.org/halve/tui/plain"
)

func clock() time.Time { return time.Date(2025, 3, 4, 10, 0, 0, 0, time.UTC) }

func begin(t *testing.T) *record.Sitting {
	t.Helper()
	s, err := record.Open(filepath.Join(t.TempDir(), "r.jsonl"), clock, func() string { return "id" })
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// needle is a bench in closed form: i = E/(R+G), shunted by S as a current
// divider; read to half a division.
type needle struct {
	emf, g, k, divisions float64
	series, shunt        float64
	k1, k2               bool
}

func (n *needle) Look(string) bool { return false }

func (n *needle) SetSeries(ohm float64, _ []float64) error { n.series = ohm; return nil }
func (n *needle) SetShunt(ohm float64, _ []float64) error  { n.shunt = ohm; return nil }
func (n *needle) SetKeys(k1, k2 bool)                      { n.k1, n.k2 = k1, k2 }

func (n *needle) Voltmeter(bool) (float64, float64) { return n.emf, 0.01 }

func (n *needle) Read() (float64, bool) {
	i := 0.0
	switch {
	case n.k1 && n.k2:
		i = n.emf * n.shunt / (n.series*(n.g+n.shunt) + n.g*n.shunt)
	case n.k1:
		i = n.emf / (n.series + n.g)
	}
	div := math.Round(2*i/n.k) / 2
	return div, div > n.divisions
}

// person is somebody who reads the screen line by line: before each answer
// it is given everything said since the last.
type person struct {
	out    bytes.Buffer
	read   int
	rest   []byte // of a line that was longer than what was asked for
	log    strings.Builder
	answer func(said string) (string, bool)
}

func (p *person) Read(b []byte) (int, error) {
	if len(p.rest) == 0 {
		said := p.out.String()[p.read:]
		p.read = p.out.Len()
		line, ok := p.answer(said)
		fmt.Fprintf(&p.log, "%s> %.200s\n", said, line)
		if !ok {
			return 0, io.EOF
		}
		p.rest = []byte(line + "\n")
	}
	n := copy(b, p.rest)
	p.rest = p.rest[n:]
	return n, nil
}

func (p *person) run(t *testing.T, s *record.Sitting, n plain.Needle) {
	t.Helper()
	if err := plain.Run(plain.Options{Sitting: s, Needle: n, Now: clock, In: p, Out: &p.out}); err != nil {
		t.Fatal(err)
	}
	fmt.Fprint(&p.log, p.out.String()[p.read:])
}

// script answers line after line, then leaves.
func script(lines ...string) *person {
	p := &person{}
	p.answer = func(string) (string, bool) {
		if len(lines) == 0 {
			return "", false
		}
		line := lines[0]
		lines = lines[1:]
		return line, true
	}
	return p
}

// last is the question that was asked last.
func last(said string) string {
	lines := strings.Split(strings.TrimSpace(said), "\n")
	return lines[len(lines)-1]
}

// honest answers every question of the practical as the needle and common
// sense have it.
func honest(n *needle, said string) string {
	q := last(said)
	switch {
	case strings.Contains(q, "Enter"), strings.Contains(q, "skip"):
		return ""
	case strings.Contains(q, "Type yes"):
		return "yes"
	case strings.Contains(q, "rest, in divisions"):
		return "0"
	case strings.Contains(q, "first deflection"):
		n.SetKeys(true, false)
	case strings.Contains(q, "shunted deflection"):
		n.SetKeys(true, true)
	default:
		return "quit"
	}
	div, off := n.Read()
	if off {
		return "off"
	}
	return fmt.Sprint(div)
}

// check reports every line that a screen reader or a serial console could
// trip over.
func check(t *testing.T, out string) {
	t.Helper()
	for _, line := range strings.Split(out, "\n") {
		for _, r := range line {
			if r < ' ' || r > '~' {
				t.Errorf("the line %q holds %q; want words and plain ASCII only", line, r)
				break
			}
		}
	}
}

// Whoever obeys ends with a finished record. The needle is the closed form
// with G = 92 ohm and k = 20 µA/div, so those are the expected values.
func TestWholePractical(t *testing.T) {
	s := begin(t)
	n := &needle{emf: 1.5, g: 92, k: 20e-6, divisions: 30}
	p := &person{}
	p.answer = func(said string) (string, bool) { return honest(n, said), true }
	p.run(t, s, n)
	check(t, p.out.String())
	if !strings.HasPrefix(p.out.String(), "halve, plain dialogue") {
		t.Errorf("the first line names the mode; got %q", strings.SplitN(p.out.String(), "\n", 2)[0])
	}
	c := s.Counsel()
	if !s.State().Finished() || c.Result == nil || c.Result.Rows < 5 {
		t.Fatalf("want a finished practical of at least 5 rows; result %+v\n%s", c.Result, p.log.String())
	}
	if d := math.Abs(*c.Result.Resistance - 92); d > 3**c.Result.UResistance {
		t.Errorf("G is %g ± %g, want 92 within three uncertainties", *c.Result.Resistance, *c.Result.UResistance)
	}
	if d := math.Abs(*c.Result.Merit - 20e-6); d > 3**c.Result.UMerit {
		t.Errorf("k is %g ± %g, want 20e-6 within three uncertainties", *c.Result.Merit, *c.Result.UMerit)
	}
	for _, want := range []string{"the needle rests at 6.5 divisions", "The record is " + s.Path(), "Result of 5 rows"} {
		if !strings.Contains(p.out.String(), want) {
			t.Errorf("%q is not said", want)
		}
	}
}

// form answers the bench questions with Enter, leaves names out, and confirms
// the wiring and a zero of 0.
var form = append(make([]string, 14), "yes", "0")

// What people get wrong changes nothing, is answered in one line that says
// what is expected, and the practical goes on.
func TestMistakes(t *testing.T) {
	tests := []struct {
		name  string
		lines []string
		want  string // in what is said
		seq   int    // of the last event
	}{
		{"Enter is no wiring check", append(make([]string, 14), ""), "Type yes", 1},
		{"no is no wiring check", append(make([]string, 14), "no"), "Nothing is recorded", 1},
		{"Enter is no reading", append(form[:15:15], ""), "Enter alone is none", 2},
		{"letters for a zero", append(form[:15:15], "nought"), "Not taken: ", 2},
		{"K1 before R", append(form[:16:16], "skip", "first 12"), "Not taken: ", 3},
		{"letters for a resistance", append(form[:16:16], "skip", "plenty"), "Not taken: ", 3},
		{"amperes for a resistance", append(form[:16:16], "skip", "3 A"), "Not taken: ", 3},
		{"a value the box cannot make", append(form[:16:16], "skip", "4700.5"), "Not taken: ", 3},
		{"a value above the box", append(form[:16:16], "skip", "12k"), "Not taken: ", 3},
		{"a negative value", append(form[:16:16], "skip", "-5"), "Not taken: ", 3},
		{"a reading beyond the end", append(form[:16:16], "skip", "", "31"), "Not taken: ", 4},
		{"a shunted reading before a first one", append(form[:16:16], "skip", "", "shunted 12"), "Not taken: ", 4},
		{"keep before there is a row", append(form[:16:16], "skip", "", "keep"), "Not taken: ", 4},
		{"nothing to undo", append(make([]string, 14), "undo"), "nothing to strike out", 1},
		{"strike without a number", append(form[:16:16], "strike it"), "Type strike and the number", 3},
		{"strike of nothing", append(form[:16:16], "skip", "strike 77"), "Not taken: ", 3},
		{"strike of the bench", append(form[:16:16], "skip", "strike 1"), "Not taken: ", 3},
		{"off where nothing is read", append(form[:16:16], "skip", "off"), "No reading is called for", 3},
		{"a source that is no voltage", append(form[:16:16], "high"), "Not taken: ", 3},
		{"a choice that is none", []string{"zinc", "9", "0"}, "type a number from 1 to 7", 0},
		{"a negative resolution", append(make([]string, 4), "-1"), "Not taken: ", 0},
		{"no divisions", append(make([]string, 2), "1"), "Not taken: ", 0},
		{"an endless line", []string{strings.Repeat("9", 70000), "", ""}, "Type it shorter", 0},
		{"a long name", append(make([]string, 7), strings.Repeat("n", 201)), "that has 201 characters, at most 200 are taken", 0},
		{"a long note", append(make([]string, 14), "note "+strings.Repeat("n", 4001)), "has 4001 characters, at most 4000", 1},
		{"a number where yes is asked for", append(make([]string, 14), "24"), "Type yes when it is so", 1},
		{"a zero off the scale", append(form[:15:15], "off"), "Not taken: the zero is a place on the scale", 2},
		{"a zero that is nowhere", append(form[:15:15], "5000"), "Not taken: a reading lies between minus 1000 and 1000 divisions, not 5000", 2},
		{"plugs the box has not", append(form[:16:16], "skip", "5000+5000"), "Not taken: ", 3},
		{"a left end that is none", append(make([]string, 3), "2", "", "", "", "", "", "", "", "", "", "", "", "yes", "0", "", "", "off left"), "this scale has its zero at the left", 4},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := begin(t)
			p := script(tt.lines...)
			p.run(t, s, nil)
			check(t, p.out.String())
			if got := s.State().Seq(); got != tt.seq {
				t.Errorf("the record ends with event %d, want %d\n%s", got, tt.seq, p.log.String())
			}
			if !strings.Contains(p.out.String(), tt.want) {
				t.Errorf("%q is not said in\n%s", tt.want, p.log.String())
			}
		})
	}
}

// An impossible shunted reading is pointed out, can be struck out, and does
// not stand in the way.
func TestImpossibleShuntedReading(t *testing.T) {
	s := begin(t)
	n := &needle{emf: 1.5, g: 92, k: 20e-6, divisions: 30}
	wrong := true
	p := &person{}
	p.answer = func(said string) (string, bool) {
		q := last(said)
		if strings.Contains(q, "shunted deflection") && wrong {
			wrong = false
			return "30", true
		}
		if strings.Contains(said, "closing K2 must make the needle fall") || strings.Contains(said, "Not taken") {
			return "undo", true
		}
		return honest(n, said), true
	}
	p.run(t, s, n)
	if !s.State().Finished() || s.Counsel().Result.Rows < 5 {
		t.Errorf("want a finished practical after the slip was struck out\n%s", p.log.String())
	}
	if !strings.Contains(p.log.String(), "> undo") {
		t.Errorf("the impossible reading is not pointed out\n%s", p.log.String())
	}
}

// Leaving in the middle, by quit or at the end of the input, loses nothing.
func TestLeaveAndResume(t *testing.T) {
	s := begin(t)
	p := script(append(form, "skip", "", "6.5", "quit", "never read")...)
	p.run(t, s, nil)
	if got := s.State().Seq(); got != 5 {
		t.Fatalf("five events were accepted, the record has %d\n%s", got, p.log.String())
	}
	if want := "To go on: halve guide --plain " + s.Path(); !strings.Contains(p.out.String(), want) {
		t.Errorf("%q is not said in\n%s", want, p.log.String())
	}
	s.Close()
	again, err := record.Resume(s.Path(), clock, func() string { return "id" })
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	n := &needle{emf: 1.5, g: 92, k: 20e-6, divisions: 30}
	p = &person{}
	p.answer = func(said string) (string, bool) { return honest(n, said), true }
	p.run(t, again, n)
	if !strings.Contains(p.out.String(), "Resumed after event 5.") || !again.State().Finished() {
		t.Errorf("want the practical resumed and finished\n%s", p.log.String())
	}
}

// TestCutOff: a line that the end of the input cut off may not be what was meant
// (20.5, and the 2 came through); whole lines before it are taken.
func TestCutOff(t *testing.T) {
	s := begin(t)
	var out bytes.Buffer
	in := strings.NewReader(strings.Join(append(form, "skip", "", "6.5"), "\n") + "\n2")
	if err := plain.Run(plain.Options{Sitting: s, Now: clock, In: in, Out: &out}); err != nil {
		t.Fatal(err)
	}
	if got := s.State().Seq(); got != 5 || !strings.Contains(out.String(), "it is not taken") {
		t.Errorf("the record has %d events, want 5\n%s", got, out.String())
	}
}

// The words of command at a question.
func TestWords(t *testing.T) {
	row := append(form[:16:16], "skip", "", "6.5", "3000", "24", "100", "12.5")
	row = row[:len(row):len(row)]
	tests := []struct {
		name  string
		lines []string
		said  []string
		kinds string // of the events after the bench, the wiring and the zero
	}{
		{"help changes nothing", append(form[:16:16], "help"), []string{"undo: strike out the last event"}, ""},
		{"repeat says it again", append(form[:16:16], "skip", "repeat"), []string{"begin with the largest resistance"}, ""},
		{"note", append(form[:16:16], "note the bench shakes"), []string{"Noted as number 4."}, "note"},
		{"note in the middle of the bench", []string{"note early", ""}, []string{"Noted as number 1."}, "-"},
		{"zero with a value", append(form[:16:16], "skip", "zero -0.5"), []string{"the zero is at minus 0.5 divisions"}, "zero"},
		{"minus as it is said", append(form[:16:16], "skip", "zero minus 0.5"), []string{"the zero is at minus 0.5 divisions"}, "zero"},
		{"zero without", append(form[:16:16], "skip", "zero", "0.5"), []string{"where does the pointer rest"}, "zero"},
		{"source when it is asked for", append(form[:16:16], "1.52 V", "0.01"), []string{"the EMF is 1.52 volt"}, "source"},
		{"source with a value", append(form[:16:16], "skip", "source 1520 mV", ""), []string{"the EMF is 1.52 volt"}, "source"},
		{"source under load", append(form[:16:16], "skip", "source loaded", "1.5", "not sure", ""), []string{"K1 closed and K2 open", "Not taken: ", "the EMF is 1.5 volt, measured with K1 closed"}, "source"},
		{"source in one line", append(form[:16:16], "1.52 +- 0.01"), []string{"the EMF is 1.52 volt, its standard uncertainty 0.01 volt"}, "source"},
		{"source put right", append(form[:16:16], "3.52", "back", "1.52", ""), []string{"the EMF is 1.52 volt."}, "source"},
		{"source again at its uncertainty", append(form[:16:16], "3.52", "source 1.52 +- 0.01"), []string{"the EMF is 1.52 volt, its"}, "source"},
		{"no voltage that there is", append(form[:16:16], "2000", "skip"), []string{"Not taken: ", "The EMF is left as it was"}, ""},
		{"an uncertainty that leaves nothing", append(form[:16:16], "1.5", "20", "0.01"), []string{"the standard uncertainty belongs to the EMF and lies below it"}, "source"},
		{"an uncertainty that there is not", append(form[:16:16], "1.5", "2000", "0.01"), []string{"Not taken: ", "How sure is the 1.5 volt"}, "source"},
		{"off on the left", append(form[:16:16], "skip", "", "off left"), []string{"first deflection off the scale on the left"}, "set-series read-first"},
		{"the word of the question before its answer", append(form[:16:16], "source 1.52", "", "series 3k", "first 24"), []string{"first deflection 24 divisions"}, "source set-series read-first"},
		{"the word of the question alone", append(form[:16:16], "skip", "", "first", "6.5"), []string{"first deflection 6.5 divisions"}, "set-series read-first"},
		{"plugs", append(form[:16:16], "skip", "2000+2000+500+200"), []string{"the series box at 4700 ohm"}, "set-series"},
		{"back out of a question", append(form[:16:16], "skip", "zero", "back", "shunt", "undo", "first", ""), []string{"Nothing is recorded."}, ""},
		{"temperature", append(form[:16:16], "skip", "temperature", "21.5", "temperature minus 3"), []string{"Noted as number 4.", "Noted as number 5."}, "note note"},
		{"who", append(form[:16:16], "skip", "who", "A and C", "back", "A and B", "4"), []string{"the record is of A and B 4"}, "who"},
		{"who, a word of command as a name", append(form[:16:16], "skip", "who", "rows", "\"rows\"", "Zero 4"), []string{"There are no rows yet.", "the record is of rows Zero 4"}, "who"},
		{"why", append(form[:16:16], "why"), []string{"Why the series resistance starts high.", "i 1 equals E divided by"}, ""},
		{"where", append(form[:16:16], "skip", "", "where"), []string{"Step 4 of 6: the first deflection, for row 1.", "The series box stands at 11110 ohm.", "What the shunt box stands at is not recorded."}, "set-series"},
		{"table", append(form[:16:16], "table"), []string{"The source, zinc-carbon dry cell, 1.5 volt: EMF 1.5 volt, standard uncertainty", "30 divisions from zero to the end mark, zero in the middle, read to 0.5", "The shunt box: a plug box with coils of 1, 2, 2, 5"}, ""},
		{"cautions", append(form[:16:16], "skip", "cautions"), []string{"Take care: Move plugs only with K1 open."}, ""},
		{"findings when there are none", append(form[:16:16], "skip", "findings", "look"), []string{"point to no fault now"}, ""},
		{"back where nothing waits", append(form[:16:16], "skip", "back"), []string{"There is no question to go back to."}, ""},
		{"undo can be taken back", append(form[:16:16], "skip", "", "6.5", "undo", "strike 6"), []string{"To restore it, type strike 6."}, "set-series read-first strike strike"},
		{"a strike with its reason", append(form[:16:16], "skip", "", "strike 4 wrong plug"), []string{"number 4 is struck out: wrong plug"}, "set-series strike"},
		{"claims", append(row, "keep", "claim", "claim G 95 row 1", "claim k 9", "claim G many"), []string{"say claim G", "the resistance of row 1 worked out by hand, 95", "It does not agree", "Not taken: "},
			"set-series read-first set-series read-first set-shunt read-shunted keep-row claim claim"},
		{"off", append(form[:16:16], "skip", "", "off"), []string{"first deflection off the scale"}, "set-series read-first"},
		{"out of turn", append(form[:16:16], "skip", "series 3k", "first 24", "shunt 90", "shunted 12", "keep"),
			[]string{"Row 1: series 3000 ohm, first deflection 24; shunt 90 ohm, shunted deflection 12"}, "set-series read-first set-shunt read-shunted keep-row"},
		{"undo", append(form[:16:16], "skip", "", "6.5", "undo"), []string{"Striking out number 5, first deflection 6.5 divisions"}, "set-series read-first strike"},
		{"undo twice goes further back", append(form[:16:16], "skip", "", "6.5", "undo", "undo"), []string{"Striking out number 4, the series box at 11110 ohm"}, "set-series read-first strike strike"},
		{"striking the strike restores", append(form[:16:16], "skip", "", "6.5", "undo", "strike 6"), []string{"Recorded as number 7"}, "set-series read-first strike strike"},
		{"events", append(form[:16:16], "skip", "", "6.5", "undo", "events"), []string{"5: first deflection 6.5 divisions (struck out by number 6)."}, "set-series read-first strike"},
		{"circuit", append(row, "circuit"), []string{"R is 3000 ohm. S is 100 ohm. K1 is open, K2 is open. No current flows."}, "set-series read-first set-series read-first set-shunt read-shunted"},
		{"circuit when K1 is due", append(form[:16:16], "skip", "", "circuit"), []string{"Next to be touched: K1."}, "set-series"},
		{"graphs", append(row, "keep", "graphs"), []string{"R against 1/deflection: 2 points, 1 of rows, 1 other. A line needs two series values.", "residuals: 3 points, 2 first, 1 shunted."}, "set-series read-first set-series read-first set-shunt read-shunted keep-row"},
		{"graphs before there is a row", append(form[:16:16], "graphs"), []string{"R against 1/deflection: no points yet."}, ""},
		{"rows and result before there are any", append(form[:16:16], "rows", "result"), []string{"There are no rows yet.", "There is no result yet"}, ""},
		{"another shunt instead of keeping", append(row, "shunt 90", "12"), nil, "set-series read-first set-series read-first set-shunt read-shunted set-shunt read-shunted"},
		{"finish without rows is asked about", append(form[:16:16], "skip", "finish", "no"), []string{"There is no row yet", "Nothing is recorded."}, ""},
		{"finish without rows all the same", append(form[:16:16], "skip", "finish", "yes"), []string{"no more rows", "type the folder"}, "finish"},
		{"finish with too few rows", append(row, "keep", "finish", "finish", ""), []string{"There is 1 row, and 5 make a good record."},
			"set-series read-first set-series read-first set-shunt read-shunted keep-row"},
		{"yes is no folder", append(form[:16:16], "skip", "finish", "yes", "yes", "no"), []string{"Type the name of the folder itself"}, "finish"},
		{"a finish can be taken back", append(form[:16:16], "skip", "finish", "yes", "undo"), []string{"Step 3 of 6"}, "finish strike"},
		{"a far reading is asked about", append(row[:20:20], "2.4", "yes"), []string{"That is 2.4 divisions, far from the", "Look again"}, "set-series read-first set-series read-first"},
		{"a far reading put right", append(row[:20:20], "2.4", "24"), []string{"first deflection 24 divisions"}, "set-series read-first set-series read-first"},
		{"a far reading left", append(row[:20:20], "2.4", "back"), []string{"Nothing is recorded."}, "set-series read-first set-series"},
		{"off by slip at the largest resistance", append(form[:16:16], "skip", "", "off", "off", "hm", "undo", "undo", "6.5"), []string{"If off was a slip, type undo"}, "set-series read-first read-first strike strike read-first"},
		{"off by slip, read again", append(form[:16:16], "skip", "", "off", "off", "first 6.5"), []string{"or first and a reading to read again"}, "set-series read-first read-first read-first"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := begin(t)
			p := script(tt.lines...)
			p.run(t, s, nil)
			check(t, p.out.String())
			for _, want := range tt.said {
				if !strings.Contains(p.out.String(), want) {
					t.Errorf("%q is not said in\n%s", want, p.log.String())
				}
			}
			var kinds []string
			for _, e := range s.Events() {
				if e.Seq > 3 {
					kinds = append(kinds, e.Body.Kind())
				}
			}
			if got := strings.Join(kinds, " "); tt.kinds != "-" && got != tt.kinds {
				t.Errorf("events %q, want %q\n%s", got, tt.kinds, p.log.String())
			}
		})
	}
}

// Every field of the bench form, with a step back to put one right.
func TestBenchForm(t *testing.T) {
	s := begin(t)
	p := script("7", "4.5 V", "50 mV", "2", // another source
		"25", "2", "0.25", "20 uA/div", "undo", "30uA/div", "120R", "No. 7",
		"5", "1 2 2 5 10 20 20 50 100 200 200 500", "0.1", // another plug box
		"6", "10 1 0.1", "0.5 %", // another decade box
		"A and B", "3")
	p.run(t, s, nil)
	b, ok := s.State().Bench()
	if !ok {
		t.Fatalf("no bench was recorded\n%s", p.log.String())
	}
	got := fmt.Sprintf("%g %g %g; %g %s %g %.3g %g %q; %s %d %g; %s %v %g",
		b.Source.EMF, *b.Source.UEMF, *b.Source.Resistance,
		b.Galvanometer.Divisions, b.Galvanometer.Zero, b.Galvanometer.Resolution, *b.Galvanometer.FullScale, *b.Galvanometer.Resistance, b.Galvanometer.Label,
		b.SeriesBox.Kind, len(b.SeriesBox.Coils), b.SeriesBox.Tolerance,
		b.ShuntBox.Kind, b.ShuntBox.Dials, b.ShuntBox.Tolerance)
	// 30 µA/div times 25 divisions are 750 µA.
	if want := `4.5 0.05 2; 25 left 0.25 0.00075 120 "No. 7"; plug 12 0.001; decade [10 1 0.1] 0.005`; got != want {
		t.Errorf("the bench is\n%s, want\n%s\n%s", got, want, p.log.String())
	}
	if w, ok := s.Events()[1].Body.(procedure.Who); !ok || w.Names != "A and B" || w.Group != "3" {
		t.Errorf("the second event is %+v, want who with A and B, group 3", s.Events()[1].Body)
	}
}

// At the end the record can be copied, to a folder that is there.
func TestCopy(t *testing.T) {
	s := begin(t)
	dir := t.TempDir()
	p := script(append(form[:16:16], "skip", "finish", "yes", filepath.Join(dir, "not there"), dir)...)
	p.run(t, s, nil)
	copies, err := filepath.Glob(filepath.Join(dir, "*.jsonl"))
	if err != nil || len(copies) != 1 {
		t.Fatalf("got the copies %v (%v), want one\n%s", copies, err, p.log.String())
	}
	got, _ := os.ReadFile(copies[0])
	want, _ := os.ReadFile(s.Path())
	if !bytes.Equal(got, want) {
		t.Errorf("the copy is not the record")
	}
	for _, want := range []string{"Not copied: ", "Copied to " + copies[0]} {
		if !strings.Contains(p.out.String(), want) {
			t.Errorf("%q is not said in\n%s", want, p.log.String())
		}
	}
}

// The time there is, and what has gone of it.
func TestMinutes(t *testing.T) {
	s := begin(t)
	now := clock()
	p := script(append(form[:16:16], "skip", "", "6.5", "3000", "24", "90", "12", "")...)
	err := plain.Run(plain.Options{Sitting: s, Minutes: 50, Now: func() time.Time { now = now.Add(time.Minute); return now }, In: p, Out: &p.out})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"There are 50 minutes: until 10:51.", "of 50 minutes are gone"} {
		if !strings.Contains(p.out.String(), want) {
			t.Errorf("%q is not said in\n%s", want, p.log.String())
		}
	}
}

// An output that is gone ends the dialogue with an error.
func TestOutputGone(t *testing.T) {
	r, w := io.Pipe()
	r.Close()
	err := plain.Run(plain.Options{Sitting: begin(t), Now: clock, In: strings.NewReader("1\n"), Out: w})
	if !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("got %v, want %v", err, io.ErrClosedPipe)
	}
}

// Whatever is typed, nothing but text comes out, and what was said to be
// recorded is in the record.
func FuzzRun(f *testing.F) {
	f.Add(strings.Join(form, "\n") + "\nskip\n\n6.5\n\n24\n\n12\n\nrows\nundo\nundo\nfinish\n")
	f.Add("7\n\x1b[31mx\nundo\nundo\n\u202e\nnote \u009b1m\nevents\nhelp\nquit\n")
	f.Add(strings.Join(form, "\n") + "\n1,5 V\n\nstrike 4 slip\nbench\n" + strings.Repeat("\n", 13) + "zero 1/2\nresult\nrepeat\n")
	f.Add(strings.Join(form, "\n") + "\n1.52 +- 0.01\n\noff left\nundo\n6.5\n3000\n2.4\nyes\nlook\nshunt 50+20+20\n12\nkeep\nclaim G 95 row 1\nclaim\nwho\nback\nwhy\nfinish\nyes\nyes\nno\n")
	f.Add("zero\nfirst\nseries\nshunt\nshunted\nsource\nbench\nback\nback\nback\n\"quit\"\ntemperature\nminus 3\nquit\n")
	f.Fuzz(func(t *testing.T, input string) {
		s := record.InMemory(clock)
		var out bytes.Buffer
		o := plain.Options{Sitting: s, Now: clock, In: strings.NewReader(input), Out: &out}
		if len(input)%2 == 1 { // at a simulated bench, and against the time there is
			o.Needle, o.Minutes = &needle{emf: 1.5, g: 92, k: 20e-6, divisions: 30}, 50
			o.Over = func(debrief.Practice) []debrief.Remark { return nil }
		}
		if err := plain.Run(o); err != nil {
			t.Fatal(err)
		}
		for _, r := range out.String() {
			if r != '\n' && !unicode.IsPrint(r) {
				t.Fatalf("typing %q brings out %q", input, r)
			}
		}
		said := strings.Count(out.String(), "\nRecorded as number ") + strings.Count(out.String(), "\nNoted as number ")
		if n := len(s.Events()); said != n {
			t.Errorf("typing %q recorded %d events and said %d", input, n, said)
		}
	})
}

// prompts leads to each question that there is, by what is typed up to it.
func prompts() map[string][]string {
	at := func(more ...string) []string { return append(form[:15:15], more...) }
	row := []string{"0", "skip", "", "6.5", "3000", "24"}
	p := map[string][]string{
		"wired": form[:14], "zero": at(), "EMF": at("0"), "uncertainty of the EMF": at("0", "1.5"),
		"series": at("0", "skip"), "first": at("0", "skip", ""), "far reading": at(append(row[:5:5], "2.4")...),
		"shunt": at(row...), "shunted": at(append(row[:6:6], "90")...), "keep": at(append(row[:6:6], "90", "12")...),
		"finish": at("0", "skip", "finish"), "folder": at("0", "skip", "finish", "yes"),
		"value of a zero": at("0", "skip", "zero"), "value of a first deflection": at("0", "skip", "first"),
		"value of a setting": at("0", "skip", "shunt"), "temperature": at("0", "skip", "temperature"),
		"names once more": at("0", "skip", "who"), "source once more": at("0", "skip", "source"),
		"bench once more": at("0", "skip", "bench"), "not fit": at("0", "skip", "", "off", "off"),
		"four questions waiting": at("0", "skip", "zero", "first", "series", "shunt"),
		"EMF of another source":  {"7"}, "its uncertainty": {"7", "1.5"}, "coils": append(make([]string, 8), "5"),
	}
	for i, name := range []string{"source", "internal resistance", "divisions", "zero of the scale", "part of a division", "full scale", "plate", "name",
		"series box", "its tolerance", "shunt box", "its tolerance too", "names", "group"} {
		p[name] = make([]string, i)
	}
	return p
}

// asking are the words that change nothing, so that they can be typed one
// after the other; doing are the others, as people would type them.
var (
	asking = []string{"help", "?", "repeat", "again", "where", "Table", "why", "cautions", "ROWS", "result", "circuit", "graphs", "findings", "events.", "note", "strike", "claim"}
	doing  = []string{"note a word", "temperature", "temperature 20", "undo", "back", "strike 2", "zero", "zero 0.5", "source", "source 1.5",
		"source loaded 1.4", "off", "series", "series 3k", "shunt", "shunt 90", "first", "first 24", "shunted", "shunted 12", "Keep.", "wired",
		"bench", "who", "claim G 90", "look", "finish", "quit"}
)

// jargon is what belongs to the line protocol and must not reach a person.
var jargon = regexp.MustCompile(`[a-z]_[A-Za-z]|\bsend\b|set-series|set-shunt|read-first|read-shunted|keep-row|JSON|"event"|[^/]\bdiv\b|\bseq\b`)

// Every word of command works at every question: it is never taken for the
// answer, nothing breaks, and what is said is words.
func TestEveryWordAtEveryQuestion(t *testing.T) {
	for name, lines := range prompts() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			for _, words := range append([][]string{asking}, alone(doing)...) {
				p := script(append(lines[:len(lines):len(lines)], words...)...)
				p.run(t, record.InMemory(clock), &needle{emf: 1.5, g: 92, k: 20e-6, divisions: 30})
				_, after, ok := strings.Cut(p.log.String(), "> "+words[0]+"\n")
				if !ok {
					t.Fatalf("%q was never typed\n%s", words, p.log.String())
				}
				for _, bad := range []string{"does not begin with a number", "type a number from"} {
					if strings.Contains(after, bad) {
						t.Errorf("%q is taken for an answer: %s", words, after)
					}
				}
				if strings.Contains("\n"+after, "\n> ") && strings.Contains("\n"+after, "\n\n> ") || strings.TrimSpace(after) == "" {
					t.Errorf("nothing is said to one of %q: %s", words, after)
				}
				if bad := jargon.FindString(after); bad != "" {
					t.Errorf("%q brings out %q: %s", words, bad, after)
				}
				check(t, p.out.String())
			}
		})
	}
}

// alone puts each word on a list of its own.
func alone(words []string) [][]string {
	var out [][]string
	for _, w := range words {
		out = append(out, []string{w})
	}
	return out
}

// What was typed is kept, whoever leaves in the middle of what.
func TestNothingTypedIsLost(t *testing.T) {
	type test struct {
		name  string
		lines []string
		want  procedure.Body // the last event
	}
	var tests []test
	for _, leave := range []string{"quit", "exit", ""} {
		stop := []string{leave}
		if leave == "" { // the end of the input
			stop = nil
		}
		with := func(lines ...string) []string { return append(lines, stop...) }
		tests = append(tests,
			test{"EMF, then " + leave, with(append(form[:16:16], "1.52")...), procedure.SourceMeasured{EMF: 1.52}},
			test{"EMF put right, then " + leave, with(append(form[:16:16], "3", "source 1.52")...), procedure.SourceMeasured{EMF: 1.52}},
			test{"names, then " + leave, with(append(make([]string, 12), "A and B")...), procedure.Who{Names: "A and B"}},
			test{"half a bench, then " + leave, with("7", "4.5 V", "", "2 ohm", "25", "2"),
				procedure.Note{Text: "The bench as far as it was described: source: another source, or one measured with a voltmeter; EMF 4.5 V; internal resistance 2 ohm; divisions 25; zero: at the left end"}},
		)
	}
	for _, word := range []string{"keep", "finish", "rows", "series 3000", "note why", "zero 0", "help", "strike 3"} {
		lines := append(form[:16:16], "1.52", word)
		if word == "finish" {
			lines = append(lines, "no")
		}
		tests = append(tests, test{"EMF, then " + word, append(lines, "0.01"), procedure.SourceMeasured{EMF: 1.52, UEMF: ptr(0.01)}})
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := begin(t)
			p := script(tt.lines...)
			p.run(t, s, nil)
			events := s.Events()
			if len(events) == 0 || !reflect.DeepEqual(events[len(events)-1].Body, tt.want) {
				t.Errorf("the last event is %+v, want %+v\n%s", events, tt.want, p.log.String())
			}
		})
	}
}

func ptr(v float64) *float64 { return &v }

// The bench can be described again: what is recorded is proposed, and what the
// form does not ask for stays.
func TestBenchCorrected(t *testing.T) {
	s := begin(t)
	before := procedure.Bench{Bench: apparatus.Bench{
		Label:        "table 4",
		Source:       apparatus.Source{Label: "cell 2", EMF: 1.6, Resistance: ptr(0.5), UResistance: ptr(0.1), MaxCurrent: ptr(0.2)},
		Galvanometer: apparatus.Galvanometer{Label: "no. 7", Divisions: 25, Zero: apparatus.LeftZero, Resolution: 0.2, FullScale: ptr(5e-4), UFullScale: ptr(1e-5), Resistance: ptr(80)},
		SeriesBox:    apparatus.Box{Kind: apparatus.Decade, Dials: []float64{1000, 100, 10}, Tolerance: 0.002, Rating: ptr(0.5)},
		ShuntBox:     apparatus.Box{Kind: apparatus.Decade, Dials: []float64{100, 10, 1}, Tolerance: 0.005},
	}}
	if c, err := s.Accept(before); err != nil || c.Refused != nil {
		t.Fatal(err, c.Refused)
	}
	p := script("bench", "", "", "", "", "", "", "", "", "", "", "", "", // as it is
		"bench", "", "0.8", "", "", "0.25", "none", "", "", "", "", "", "0.4", // three corrections
		"bench", "back") // as it is
	p.run(t, s, nil)
	after := before
	after.Source.Resistance, after.Source.UResistance = ptr(0.8), nil
	after.Galvanometer.Resolution, after.Galvanometer.FullScale, after.Galvanometer.UFullScale = 0.25, nil, nil
	after.ShuntBox.Tolerance = 0.004
	var got []procedure.Body
	for _, e := range s.Events() {
		got = append(got, e.Body)
	}
	if want := []procedure.Body{before, before, after}; !reflect.DeepEqual(got, want) {
		t.Errorf("the benches are\n%+v\nwant\n%+v\n%s", got, want, p.log.String())
	}
}

// A negative needle is minus wherever it is said.
func TestNegativeNeedle(t *testing.T) {
	s := begin(t)
	n := &needle{emf: -1.5, g: 92, k: 20e-6, divisions: 30}
	p := &person{}
	p.answer = func(said string) (string, bool) { return honest(n, said), true }
	p.run(t, s, n)
	check(t, p.out.String())
	if !s.State().Finished() {
		t.Fatalf("not finished\n%s", p.log.String())
	}
	for _, want := range []string{"the needle rests at minus 6.5 divisions", "first deflection minus 6.5 divisions", "Expect about minus "} {
		if !strings.Contains(p.out.String(), want) {
			t.Errorf("%q is not said", want)
		}
	}
	for _, line := range strings.Split(p.out.String(), "\n") {
		if !strings.HasPrefix(line, "The record is ") && regexp.MustCompile(`(^|[ (])-[0-9]|left of zero`).MatchString(line) {
			t.Errorf("a sign is not spelled out: %q", line)
		}
	}
}

// How to tap a key is said once, not with every word about it.
func TestTapSaidOnce(t *testing.T) {
	s := begin(t)
	p := script(append(form[:16:16], "skip", "")...)
	p.run(t, s, nil)
	_, said, _ := strings.Cut(p.out.String(), "Recorded as number 4")
	if n := strings.Count(said, "for an instant"); n != 1 || !strings.Contains(said, "not proved safe") {
		t.Errorf("how to tap is said %d times in\n%s", n, said)
	}
}

// A finding is said in full once, then only what has changed; the others are
// there for the asking.
func TestFindingsSaidOnce(t *testing.T) {
	s := begin(t)
	p := script(append(form[:16:16], "skip", "", "9", "shunt 90", "shunted 9", "shunted 9", "findings")...)
	p.run(t, s, nil)
	out := p.out.String()
	first := s.Counsel().Findings
	if len(first) < 2 {
		t.Fatalf("want several findings\n%s", p.log.String())
	}
	told, asked, _ := strings.Cut(p.log.String(), "> findings\n")
	said := map[string]int{}
	for _, line := range strings.Split(told, "\n") {
		if strings.HasPrefix(line, "Something looks wrong") {
			said[line]++
		}
	}
	for line, n := range said {
		if n > 1 {
			t.Errorf("%q is said %d times", line, n)
		}
	}
	if len(said) == 0 || !strings.Contains(told, "other things it may be") {
		t.Errorf("nothing is said to be wrong\n%s", told)
	}
	if n := strings.Count(asked, "Something looks wrong"); n != len(first) {
		t.Errorf("findings says %d of %d\n%s", n, len(first), out)
	}
}

// At a simulated bench a fault can be looked for.
func TestLook(t *testing.T) {
	s := begin(t)
	n := &faulty{needle: needle{emf: 1.5, g: 92, k: 20e-6, divisions: 30}}
	p := script(append(form[:16:16], "skip", "", "9", "shunt 90", "shunted 9", "look", "look")...)
	p.run(t, s, n)
	if n.looked == 0 || !strings.Contains(p.out.String(), "It was there, and is put right now.") || !strings.Contains(p.out.String(), "It is not there.") {
		t.Errorf("looked %d times\n%s", n.looked, p.log.String())
	}
}

// faulty is a needle whose first look finds the fault.
type faulty struct {
	needle
	looked int
}

func (f *faulty) Look(string) bool { f.looked++; return f.looked == 1 }

// A clock that is put back during the practical takes no time away.
func TestClockPutBack(t *testing.T) {
	s := begin(t)
	now := clock()
	p := script(append(form[:16:16], "skip", "where")...)
	err := plain.Run(plain.Options{Sitting: s, Minutes: 50, Now: func() time.Time { now = now.Add(-time.Hour); return now }, In: p, Out: &p.out})
	if err != nil || !strings.Contains(p.out.String(), "0 of 50 minutes are gone.") {
		t.Errorf("%v\n%s", err, p.out.String())
	}
}

// Text from a record, a path and an error reaches the terminal as text only.
func TestHostileText(t *testing.T) {
	const hostile = "\x1b[2J\x1b]0;t\x07\u202e\u009b31m\r\nx"
	s := hostileSitting{Sitting: begin(t), text: hostile}
	p := script(append(form[:16:16], "skip", "note "+hostile, "who "+hostile, hostile, hostile, "events", "strike 4 "+hostile, "finish", "yes", hostile, "")...)
	if err := plain.Run(plain.Options{Sitting: s, Now: clock, In: p, Out: &p.out}); err != nil {
		t.Fatal(err)
	}
	if strings.ContainsFunc(p.out.String(), func(r rune) bool { return r != '\n' && !unicode.IsPrint(r) }) {
		t.Errorf("%q", p.out.String())
	}
}

// hostileSitting has a path and errors full of escape sequences.
type hostileSitting struct {
	*record.Sitting
	text string
}

func (h hostileSitting) Path() string                  { return "/" + h.text + "/r.jsonl" }
func (h hostileSitting) CopyTo(string) (string, error) { return "", errors.New(h.text) }

// A note says nothing again, and the simulated needle stays where it was.
func TestNoteSaysNothingAgain(t *testing.T) {
	s := begin(t)
	p := script(append(form[:16:16], "skip", "", "note the lamp flickers")...)
	p.run(t, s, &needle{emf: 1.5, g: 92, k: 20e-6, divisions: 30})
	_, after, _ := strings.Cut(p.log.String(), "> note the lamp flickers\n")
	if !strings.HasPrefix(after, "Noted as number 5.\nK1 closed, K2 open: what is the first deflection") {
		t.Errorf("after the note: %s", after)
	}
}

// When a practice is over it is said how it went: against the needle, and
// against what the bench had hidden.
func TestHowItWent(t *testing.T) {
	s := begin(t)
	n := &needle{emf: 1.5, g: 92, k: 4e-6, divisions: 30}
	var got debrief.Practice
	over := func(p debrief.Practice) []debrief.Remark {
		got = p
		return []debrief.Remark{{Kind: debrief.Well, Text: "All was read."}, {Kind: debrief.Better, Text: "Look twice."}, {Text: "G = 92 Ω."}}
	}
	p := script(append(form[:16:16], "skip", "", "off", "25", "yes", "finish", "yes", "")...)
	if err := plain.Run(plain.Options{Sitting: s, Needle: n, Over: over, Now: clock, In: p, Out: &p.out}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Well done: All was read.", "To do better: Look twice.", "G equals 92 ohm."} {
		if !strings.Contains(p.out.String(), want) && !strings.Contains(p.out.String(), strings.Replace(want, "equals", "=", 1)) {
			t.Errorf("%q is not said in\n%s", want, p.log.String())
		}
	}
	// 1.5 V over 11202 ohm are 33.5 divisions of 4 µA: off the scale both times,
	// though the second time it was said to be 25.
	if len(got.Readings) != 2 || !got.Readings[0].Looked || !got.Readings[1].Looked || got.Readings[1].Look.Div != 33.5 {
		t.Errorf("readings %+v\n%s", got.Readings, p.log.String())
	}
	notes := 0
	for _, e := range got.Events {
		if n, ok := e.Body.(procedure.Note); ok && strings.Contains(n.Text, "past the last mark on the right when K1 was closed") {
			notes++
		}
	}
	if notes != 2 || len(got.Events) != len(s.Events())+2 {
		t.Errorf("the needle went past the last mark twice; %d times in %+v\n%s", notes, got.Events, p.log.String())
	}
}
