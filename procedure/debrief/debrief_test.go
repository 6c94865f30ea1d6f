package debrief

import (
	"strings"
	"testing"
	"time"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/bench"
	"example.org/halve/physics/bench/live"
	"example.org/halve/procedure"
)

// events numbers bodies as a record would.
func events(bodies ...procedure.Body) []procedure.Event {
	var es []procedure.Event
	for i, b := range bodies {
		es = append(es, procedure.Event{Seq: i + 1, At: time.Date(2025, 3, 4, 10, i, 0, 0, time.UTC), Body: b})
	}
	return es
}

func stated() apparatus.Bench {
	return apparatus.Bench{
		Source:       apparatus.Source{EMF: 1.46},
		Galvanometer: apparatus.Galvanometer{Divisions: 30, Zero: apparatus.CentreZero, Resolution: 0.5},
		SeriesBox:    apparatus.Box{Kind: apparatus.Plug, Coils: apparatus.PlugSet(1, 10, 100, 1000)},
		ShuntBox:     apparatus.Box{Kind: apparatus.Plug, Coils: apparatus.PlugSet(1, 10, 100)},
	}
}

func div(x float64) *float64 { return &x }

// practical is a small one: a zero, an EMF, one row at 3150 and 88 ohm with 24
// and 12 divisions, and the zero and the EMF again.
func practical(more ...procedure.Body) []procedure.Event {
	return events(append([]procedure.Body{
		procedure.Bench{Bench: stated()}, procedure.Wired{}, procedure.ZeroRead{}, procedure.SourceMeasured{EMF: 1.46},
		procedure.SeriesSet{Ohm: 3150}, procedure.FirstRead{Div: div(24)}, procedure.ShuntSet{Ohm: 88}, procedure.ShuntedRead{Div: div(12)},
		procedure.RowKept{}, procedure.ZeroRead{}, procedure.SourceMeasured{EMF: 1.46},
	}, more...)...)
}

// practice is that practical, done well on a bench whose truth is scenario D1
// of the reference data.
func practice(t *testing.T, more ...procedure.Body) Practice {
	t.Helper()
	es := practical(more...)
	st, err := procedure.Fold(es)
	if err != nil {
		t.Fatal(err)
	}
	return Practice{
		Events: es, Counsel: procedure.Advise(st), Step: 0.5, Divisions: 30,
		Truth:    bench.Hidden{Resistance: 90.5283, Merit: 1.87674e-5, EMF: 1.46},
		Closings: 2, K1: 40 * time.Second, Used: 5 * time.Minute,
		Readings: []Reading{
			{Seq: 6, Looked: true, Look: live.Look{Div: 24.1, Rest: 24.05, SeriesOhm: 3150, Wired: true}},
			{Seq: 8, Shunted: true, Looked: true, Look: live.Look{Div: 11.9, Rest: 12, SeriesOhm: 3150, ShuntOhm: 88, Wired: true}},
		},
	}
}

func said(p Practice) string {
	var b strings.Builder
	for _, r := range Of(p) {
		b.WriteString(r.Kind.Sign() + " " + r.Text + "\n")
	}
	return strings.ReplaceAll(b.String(), "\u00a0", " ")
}

// Each case changes one thing of a practice that was done well, and names what
// is said then and what no more. All numbers are those put in.
func TestRemarks(t *testing.T) {
	pegged := live.Happening{Kind: live.Pegged, Right: true, Act: live.Act{Do: live.Close}, Times: 28}
	note, ok := Note(pegged, stated())
	if !ok {
		t.Fatal("the record keeps nothing of a needle driven past the last mark")
	}
	shorted, ok := Note(live.Happening{Kind: live.Shorted, Act: live.Act{Do: live.Join}}, stated())
	if !ok {
		t.Fatal("the record keeps nothing of a source short-circuited")
	}
	tap := func(ohm float64) string {
		text, _ := Note(live.Happening{Kind: live.Pegged, Right: true, Act: live.Act{Do: live.Tap}, SeriesOhm: ohm}, stated())
		return text
	}
	byKey, _ := Note(live.Happening{Kind: live.Shorted, Act: live.Act{Do: live.Close, Key: live.K2}}, stated())
	for name, tt := range map[string]struct {
		more   []procedure.Body
		change func(*Practice)
		says   []string
		not    []string
	}{
		"done well": {
			says: []string{
				"+ The needle never went past the last mark.", "+ Keys were closed and opened in their order",
				"+ K1 was closed for 13 % of the time", "+ All 2 readings were taken with the needle at rest",
				"- For 1 row the series box was set once and the shunt box once.", "> 1 row was kept; four to six",
				"+ Every first deflection was in the upper half", "+ The zero was read before the first row and after the last.",
				"+ The EMF was read before the first row and after the last.", "- The simulated galvanometer has G = 90.53 Ω",
				"+ G = ", "the truth lies inside", "- It took 5 minutes, with the guide beside it. Nothing is gained by haste.",
			},
			not: []string{"fault", "looked over", "lies outside", "standard deviation", "leads", "earlier sitting", "short-circuited"},
		},
		"needle past the end": {
			more: []procedure.Body{procedure.Note{Text: note}},
			says: []string{"> Once the needle was driven past the last mark on the right when K1 was closed with R at 0 Ω, 28 times full scale."},
			not:  []string{"never went past"},
		},
		"twice": {
			more: []procedure.Body{procedure.Note{Text: note}, procedure.Note{Text: note}},
			says: []string{"> Twice the needle was driven past the last mark on the right when K1 was closed with R at 0 Ω, 28 times full scale; the last time the needle was driven"},
		},
		"on a tap": {
			more: []procedure.Body{procedure.Note{Text: tap(500)}},
			says: []string{"- A tap showed once that the needle would go past an end of the scale: that is what the tap is for."},
			not:  []string{"never went past", "The first touch"},
		},
		"on a tap with R left out": {
			more: []procedure.Body{procedure.Note{Text: tap(0)}},
			says: []string{"> Once the needle was driven past the last mark on the right when K1 was tapped with R at 0 Ω."},
			not:  []string{"never went past", "what the tap is for"},
		},
		"the source shorted": {
			more: []procedure.Body{procedure.Note{Text: shorted}},
			says: []string{"+ The needle never went past the last mark.", "> Once the source was short-circuited when a lead was moved. Trace the leads before the last one is joined"},
			not:  []string{"first touch"},
		},
		"the source shorted by a key": {
			more: []procedure.Body{procedure.Note{Text: byKey}},
			says: []string{"> Once the source was short-circuited when K2 was closed with R at 0 Ω and S at 0 Ω. Before K1 is closed the series box holds what keeps the current small."},
			not:  []string{"Trace the leads"},
		},
		"the note of an examination": {
			more:   []procedure.Body{procedure.Note{Text: Examination}},
			change: func(p *Practice) { p.Examination = true },
			says:   []string{"+ The needle never went past the last mark.", "with the guide switched off"},
			not:    []string{"Once"},
		},
		"a note of the person's own": {
			more: []procedure.Body{procedure.Note{Text: "the needle was driven past the last mark"}},
			says: []string{"+ The needle never went past the last mark."},
		},
		"order of keys": {
			change: func(p *Practice) {
				p.Happenings = []live.Happening{{Kind: live.K2LeftClosed}, {Kind: live.SetUnderCurrent}, {Kind: live.SetUnderCurrent}, {Kind: live.Touched}}
			},
			says: []string{"> K1 was opened once with K2 still closed.", "> Plugs or dials were moved twice with K1 closed.", "- On its first swing the needle touched the end stop once"},
			not:  []string{"in their order"},
		},
		"K1 held": {
			change: func(p *Practice) { p.K1 = 4 * time.Minute },
			says:   []string{"> K1 was closed for 80 % of the time."},
		},
		"too early": {
			change: func(p *Practice) {
				p.Readings[1].Look = live.Look{Div: 12.3, Rest: 11.2, Moving: true, SeriesOhm: 3150, ShuntOhm: 88, Wired: true}
			},
			says: []string{"- 1 of 2 readings", "> Read too early: entry 8 says 12 div, the needle went on to 11.2 div."},
		},
		"beside the needle": {
			change: func(p *Practice) { p.Readings[0].Look.Div = 22.9 },
			says:   []string{"> Read beside the needle: entry 6 says 24 div, the needle was at 22.9 div."},
		},
		"beside the needle, on the left": {
			change: func(p *Practice) { p.Readings[0].Look.Div = -24.64 },
			says:   []string{"entry 6 says 24 div, the needle was at −24.6 div."},
		},
		"leads astray": {
			change: func(p *Practice) { p.Readings[0].Look.Wired = false },
			says:   []string{"> The leads did not make the circuit that is drawn: entry 6. Trace them one by one"},
		},
		"in two sittings": {
			change: func(p *Practice) { p.Earlier = true },
			says:   []string{"- The practice was begun in an earlier sitting: what is said of keys, of the needle at each reading and of the time is of this sitting alone."},
		},
		"not read at all": {
			change: func(p *Practice) { p.Readings[1].Looked = false },
			says:   []string{"> Written down without the keys having been closed for it: entry 8."},
		},
		"another setting": {
			change: func(p *Practice) { p.Readings[0].Look.SeriesOhm, p.Readings[1].Look.ShuntOhm = 3250, 78 },
			says:   []string{"entry 6 was read with R at 3 250 Ω where the book has 3 150 Ω", "entry 8 was read with S at 78 Ω where the book has 88 Ω"},
		},
		"a struck reading counts no more": {
			more:   []procedure.Body{procedure.Strike{Event: 8}},
			change: func(p *Practice) { p.Readings[1].Looked = false },
			says:   []string{"+ The one reading was taken"},
			not:    []string{"without the keys"},
		},
		"the truth outside": {
			change: func(p *Practice) { p.Truth.Resistance = 120 },
			says:   []string{"> G = ", "the truth lies outside", "one in twenty"},
		},
		"a fault unfound": {
			change: func(p *Practice) { p.Fault, p.FaultThere, p.Truth.Resistance = "shunt-contact", true, 120 },
			says:   []string{"> The bench had a fault and has it still: a contact of the shunt has a resistance of its own.", "the fault is in it"},
		},
		"a fault found": {
			change: func(p *Practice) { p.Fault, p.LookedOver = "shunt-contact", 2 },
			says:   []string{"+ The bench had a fault: a contact of the shunt has a resistance of its own. It was found and mended, with 2 things looked over."},
		},
		"a fault of wires found": {
			change: func(p *Practice) { p.Fault = "reversed" },
			says:   []string{"+ The bench had a fault: the source is the wrong way round. It was found and mended."},
		},
		"sound, and looked over": {
			change: func(p *Practice) { p.LookedOver = 3 },
			says:   []string{"- The bench was sound; 3 things were looked over."},
		},
		"an examination": {
			change: func(p *Practice) { p.Examination = true },
			says:   []string{"with the guide switched off"},
		},
	} {
		t.Run(name, func(t *testing.T) {
			p := practice(t, tt.more...)
			if tt.change != nil {
				tt.change(&p)
			}
			got := said(p)
			for _, want := range tt.says {
				if !strings.Contains(got, want) {
					t.Errorf("%q is not said:\n%s", want, got)
				}
			}
			for _, no := range tt.not {
				if strings.Contains(got, no) {
					t.Errorf("%q is said:\n%s", no, got)
				}
			}
		})
	}
}

// Without zero and EMF, low on the scale, without a row, without anything.
func TestLittleToSay(t *testing.T) {
	low := events(procedure.Bench{Bench: stated()}, procedure.Wired{},
		procedure.SeriesSet{Ohm: 9000}, procedure.FirstRead{Div: div(8.5)}, procedure.ShuntSet{Ohm: 88}, procedure.ShuntedRead{Div: div(4.5)}, procedure.RowKept{})
	for name, tt := range map[string]struct {
		events []procedure.Event
		says   []string
	}{
		"low":     {low, []string{"> 1 of 1 first deflections were in the lower half", "> The zero was not read", "> The EMF was not read"}},
		"no row":  {events(procedure.Bench{Bench: stated()}, procedure.Wired{}), []string{"> No row was kept."}},
		"nothing": {nil, []string{"+ The needle never went past the last mark."}},
	} {
		t.Run(name, func(t *testing.T) {
			st, err := procedure.Fold(tt.events)
			if err != nil {
				t.Fatal(err)
			}
			got := said(Practice{Events: tt.events, Counsel: procedure.Advise(st), Step: 0.5, Divisions: 30, Truth: bench.Hidden{Resistance: 90, Merit: 2e-5, EMF: 1.5}})
			for _, want := range tt.says {
				if !strings.Contains(got, want) {
					t.Errorf("%q is not said:\n%s", want, got)
				}
			}
		})
	}
}

// Whatever happens is said in a sentence with what to do; the record keeps what
// endangers an instrument.
func TestWords(t *testing.T) {
	left := stated()
	left.Galvanometer.Zero = apparatus.LeftZero
	for name, tt := range map[string]struct {
		h     live.Happening
		bench apparatus.Bench
		says  string
		noted bool
	}{
		"R left out":    {live.Happening{Kind: live.Pegged, Right: true, Act: live.Act{Do: live.Close}, Times: 28}, stated(), "Put the whole series box in before the first touch.", true},
		"R too small":   {live.Happening{Kind: live.Pegged, Act: live.Act{Do: live.Close}, SeriesOhm: 500, Times: 3.14}, stated(), "on the left when K1 was closed with R at 500 Ω, 3.1 times full scale. Open K1 at once", true},
		"a tap":         {live.Happening{Kind: live.Pegged, Act: live.Act{Do: live.Tap}, SeriesOhm: 500, Times: 3.14}, stated(), "on the left when K1 was tapped with R at 500 Ω, 3.1 times full scale. That is what a tap is for", true},
		"a tap at 0":    {live.Happening{Kind: live.Pegged, Act: live.Act{Do: live.Tap}}, stated(), "Put the whole series box in before the first touch.", true},
		"K2 opened":     {live.Happening{Kind: live.Pegged, Right: true, Act: live.Act{Do: live.Open, Key: live.K2}, SeriesOhm: 500}, stated(), "The shunt had hidden how large the current was", true},
		"wrong way":     {live.Happening{Kind: live.Pegged, Act: live.Act{Do: live.Close}, SeriesOhm: 5000}, left, "the leads of the source are the wrong way round", true},
		"swing":         {live.Happening{Kind: live.Touched, Right: true, Act: live.Act{Do: live.Close}, SeriesOhm: 3000}, stated(), "Nothing is broken by it", false},
		"under current": {live.Happening{Kind: live.SetUnderCurrent}, stated(), "Open K1 first", false},
		"K2 left":       {live.Happening{Kind: live.K2LeftClosed}, stated(), "Open K2 first, then K1", false},
		"short circuit": {live.Happening{Kind: live.Shorted, Act: live.Act{Do: live.Join}}, stated(), "when a lead was moved. Open it at once", true},
	} {
		t.Run(name, func(t *testing.T) {
			got := strings.ReplaceAll(Words(tt.h, tt.bench), "\u00a0", " ")
			if !strings.Contains(got, tt.says) {
				t.Errorf("%q does not say %q", got, tt.says)
			}
			if _, noted := Note(tt.h, tt.bench); noted != tt.noted {
				t.Errorf("noted in the record: %v, want %v", noted, tt.noted)
			}
		})
	}
}

// What is wrong is said in words for every fault that hands can have.
func TestWhat(t *testing.T) {
	for _, id := range live.Faults() {
		if text := What(id); text == id || strings.ContainsAny(text, ".;") {
			t.Errorf("%s: %q, want words that go into a sentence", id, text)
		}
	}
	if got := What("far-end"); got != "far-end" {
		t.Errorf("of a fault that is none of hands: %q, want its name", got)
	}
}

// A record is an examination by its own note alone.
func TestIsExamination(t *testing.T) {
	for text, want := range map[string]bool{Examination: true, "an examination, the guide was switched off": false, Mended("zero-off"): false} {
		if got := IsExamination(events(procedure.Bench{Bench: stated()}, procedure.Note{Text: text})); got != want {
			t.Errorf("%q: %v, want %v", text, got, want)
		}
	}
}
