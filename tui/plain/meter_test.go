package plain_test

import (
	"fmt"
	"io"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"example.org/halve/physics/panel"
	"example.org/halve/procedure/metercheck"
	"example.org/halve/procedure/record"
	"example.org/halve/tui/auto"
	"example.org/halve/tui/plain"
)

// beginMeter begins a meter check with its record.
func beginMeter(t *testing.T) *record.MeterSitting {
	t.Helper()
	s, err := record.ForMeterCheck().Begin(filepath.Join(t.TempDir(), "r.jsonl"), clock, func() string { return "id" })
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// say runs the dialogue on typed lines and returns what it said.
func sayMeter(t *testing.T, s *record.MeterSitting, hand plain.MeterHand, typed ...string) string {
	t.Helper()
	var out strings.Builder
	err := plain.RunMeter(plain.MeterOptions{Sitting: s, Hand: hand, Now: clock, In: strings.NewReader(strings.Join(typed, "\n") + "\n"), Out: &out})
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range strings.Split(out.String(), "\n") {
		if strings.ContainsAny(l, "\x1b\t\rΩ±×−") || len(l) > 600 {
			t.Errorf("not plain: %q", l)
		}
	}
	return out.String()
}

// benchAnswers describe a 0 to 10 A meter of 100 divisions, class 1.5.
var benchAnswers = []string{"", "10", "", "", "1.5", "", "", "meter 7", "standard 2", "15 mA", "12", "12 A", "24", "A. Brook", ""}

// TestMeterTyped: the whole check, typed: every mark covered, the reference
// 0.5 % above the mark throughout.
func TestMeterTyped(t *testing.T) {
	s := beginMeter(t)
	answers := append(append([]string{}, benchAnswers...), "yes", "0")
	for _, mark := range []float64{20, 40, 60, -60, 80, 100, 80, 60, -60, 40, 20} {
		if mark < 0 {
			answers = append(answers, fmt.Sprint(-mark), fmt.Sprintf("%.3f", -mark/10*1.005)) // tapped
			continue
		}
		answers = append(answers, "", fmt.Sprintf("%.0f mA", mark*100*1.005))
	}
	answers = append(answers, "0", "", "6.03", "", "6.03", "yes", "")
	said := sayMeter(t, s, nil, answers...)
	for _, want := range []string{
		"Step 6 of 6: the result.", "Recorded as number 19: no more points.",
		"Greatest error 0.50 percent of the fiducial value", "Class 1.5 by simple acceptance (every error within the limit): conforms.",
		"With a guard band of the uncertainty: conforms.", "The class that it would deserve: 1.",
		"The class limit is 5.0 times the reference's uncertainty", "Correction at 100 divisions: 50 plus or minus", "The check is finished.",
		"Error minus 0.10 percent of the fiducial value", "should show between",
	} {
		if !strings.Contains(said, want) {
			t.Errorf("%q was not said in\n%s", want, said)
		}
	}
	log, err := record.ForMeterCheck().Read(s.Path())
	if err != nil {
		t.Fatal(err)
	}
	if r := metercheck.Advise(log.State).Result; !log.State.Finished() || len(r.Points) != 15 || *r.Simple != "conforms" {
		t.Errorf("the record has %+v", r)
	}
}

// TestMeterMistakes: the mistakes that people make lose nothing, and every word
// of command answers.
func TestMeterMistakes(t *testing.T) {
	s := beginMeter(t)
	typed := []string{
		"back", "3", "1", "ten", "0", "-3", "", "10", "1", "", "2", "back", "1", "200", "1.5", "0", "", "", "", "", "", "0", "0.015", "", "12 A", "", "", "",
		"no", "help", "cautions", "table", "where", "rising 20", "wired", // at the question for the wiring
		"", "minus 0.2", "undo", "0",
		"20 A", "20", "back", "19.8", "2.0 V", "1.99", // the pointer in amperes, back to it, the reference in volts
		"points", "result", "findings", "events", "strike 99", "strike x", "undo", "rising tapped 40", "4.01", "falling", "", "back", "note the lamp flickers", "temperature 22.5", "look", "finish", "no",
		"bench", "back", "who", "B. Reed", "", "repeat", "zero 0.2", "quit",
	}
	said := sayMeter(t, s, nil, typed...)
	for _, want := range []string{
		"This is the first question.", "Not taken: type a number from 1 to 2.", "a current in ampere, such as", "a value above 0 is expected",
		"This has to be typed.", "Nothing is recorded. Type yes when it is so", "These words are known at every question.", "Take care: An external shunt",
		"Step 2 of 6: wiring.", "A reading has to be typed", "the zero is at minus 0.2 divisions", "Striking out number 3",
		"a reading in divisions", "pointer 19.8 divisions, reference 1.9900 ampere", "The readings point to nothing wrong.",
		"there is no event 99", "Type strike and the number", "rising point: pointer 40 divisions, reference 4.0100 ampere, tapped",
		"Nothing is recorded.", "the lamp flickers", "22.5", "here, look yourself", "The bench stays as it was.", "B. Reed", "halve guide --plain",
	} {
		if !strings.Contains(said, want) {
			t.Errorf("%q was not said in\n%s", want, said)
		}
	}
	if s.State().Finished() {
		t.Error("the check was finished")
	}
}

// TestMeterBenchRefused: a bench that cannot be is refused at its end, and what
// was typed of it is proposed again. Errors can be counted in percent of what
// the dial says, and a source of many volts is warned of.
func TestMeterBenchRefused(t *testing.T) {
	s := beginMeter(t)
	said := sayMeter(t, s, nil,
		"1", "5", "50", "2", "1.5", "0.1", "5", "0.5", "meter 7", "standard 2", "6 A", "", "", "230", // 6 A of 5
		"", "", "", "", "", "", "", "", "", "15 mA", "", "", "", "", "")
	for _, want := range []string{
		"Not taken: bench: the reference's standard uncertainty is more than the meter's range.", "Enter keeps 5.", "Enter keeps 6.", "at least a tenth of the range",
		"Recorded as number 1: bench: ammeter, 0 to 5.00 ampere on 50 divisions to each side, class 1.5.", "a touch can kill",
	} {
		if !strings.Contains(said, want) {
			t.Errorf("%q was not said in\n%s", want, said)
		}
	}
	b, _ := s.State().Bench()
	if m := b.Meter(); b.Label != "meter 7" || b.Reference.Label != "standard 2" || b.UReference() != 0.015 || m.FiducialValue() != 5 || !m.Centre || b.Step() != 0.5 || *b.Source.MaxV != 230 {
		t.Errorf("the bench is %+v, of %g", b, m.FiducialValue())
	}
}

// TestMeterOnSimulatedBench: whoever types what the simulated bench shows, looks
// for what is named and strikes what it spoiled, comes to the end of the check.
func TestMeterOnSimulatedBench(t *testing.T) {
	for _, fault := range []string{"", panel.WrongRange, panel.Reversed} {
		t.Run("fault "+fault, func(t *testing.T) {
			r := rand.New(rand.NewPCG(77, 0))
			stock := panel.Stock(r)
			b, err := panel.New(stock.Stated, panel.Draw(stock.Stated, r), r)
			if err != nil {
				t.Fatal(err)
			}
			if fault != "" {
				if err := b.Plant(fault); err != nil {
					t.Fatal(err)
				}
			}
			s := record.ForMeterCheck().InMemory(clock)
			if c, err := s.Accept(metercheck.Invented(stock)); err != nil || c.Refused != nil {
				t.Fatal(err, c.Refused)
			}
			p := &listener{sitting: s}
			if err := plain.RunMeter(plain.MeterOptions{Sitting: s, Hand: &auto.MeterHand{MeterBench: b}, Now: clock, In: p, Out: p}); err != nil {
				t.Fatal(err)
			}
			said := p.heard.String()
			if !s.State().Finished() || (fault != "") != strings.Contains(said, "It is there, and is put right") {
				t.Errorf("finished is %v; heard\n%s", s.State().Finished(), said)
			}
			if c := s.Counsel(); len(c.Findings) > 0 {
				t.Errorf("at the end it is still said: %+v", c.Findings[0])
			}
		})
	}
}

// listener is a person who listens to what is said and types what follows.
type listener struct {
	sitting *record.MeterSitting
	heard   strings.Builder
	read    int // how much of it was answered
	looked  bool
	answers int
}

func (p *listener) Write(said []byte) (int, error) { return p.heard.Write(said) }

func (p *listener) Read(into []byte) (int, error) {
	if p.answers++; p.answers > 100 {
		return 0, io.EOF
	}
	said := p.heard.String()[p.read:]
	p.read = p.heard.Len()
	lines := strings.Split(strings.TrimSpace(said), "\n")
	question := lines[len(lines)-1]
	after := func(mark string) string { // what was said behind some words, last
		all := p.heard.String()
		_, rest, _ := strings.Cut(all[strings.LastIndex(all, mark):], mark)
		rest, _, _ = strings.Cut(rest, "\n")
		return rest
	}
	answer := "yes"
	if c := p.sitting.Counsel(); len(c.Findings) > 0 && c.Findings[0].Probability > 0.5 && !strings.HasPrefix(question, "What does the reference") {
		switch m := c.Findings[0].Mend; {
		case !p.looked:
			p.looked = true
			return copy(into, "look\n"), nil
		case m != nil:
			return copy(into, fmt.Sprintf("strike %d\n", m.Seq)), nil
		}
	}
	switch {
	case strings.HasPrefix(question, "Where does the pointer stand"):
		answer, _, _ = strings.Cut(after("the pointer stands at "), " divisions")
	case strings.HasPrefix(question, "What does the reference show"):
		answer = strings.NewReplacer(" milli-", "m", " micro-", "u", "ampere", "A", "volt", "V", " ", "").Replace(strings.TrimSuffix(after("and the reference shows "), "."))
	case strings.HasPrefix(question, "Source off: where"):
		answer, _, _ = strings.Cut(after("the pointer rests at "), " divisions")
	case strings.HasPrefix(question, "To copy the record"):
		answer = ""
	}
	return copy(into, answer+"\n"), nil
}
