package procedure

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"example.org/halve/physics/apparatus"
)

// anyBody draws an event as a careless or hostile person might send it.
func anyBody(t *rapid.T, lastSeq int) Body {
	box := func() float64 {
		switch rapid.IntRange(0, 3).Draw(t, "how") {
		case 0:
			return rapid.Float64Range(0, 12000).Draw(t, "ohm")
		case 1:
			return float64(rapid.IntRange(0, 12000).Draw(t, "whole ohm"))
		}
		return rapid.SampledFrom([]float64{1, 2, 20, 84, 100, 500, 2700, 3000, 5555, 11110}).Draw(t, "usual ohm")
	}
	div := func() *float64 {
		v := rapid.OneOf(rapid.Float64Range(-31, 31), rapid.SampledFrom([]float64{0, 0.5, 12, 24, 30, -24, -0.5, 1e-300})).Draw(t, "div")
		return &v
	}
	switch rapid.SampledFrom([]string{KindBench, KindWired, KindSource, KindZero, KindSetSeries, KindSetSeries, KindReadFirst, KindReadFirst, KindSetShunt, KindReadShunted, KindReadShunted, KindKeepRow, KindKeepRow, KindClaim, KindStrike, KindNote, KindWho, KindFinish}).Draw(t, "kind") {
	case KindBench:
		b := usualBench()
		b.Source.EMF = rapid.SampledFrom([]float64{1e-6, 0.5, 1.5, 3, 12, 500}).Draw(t, "E")
		b.Galvanometer.Divisions = rapid.SampledFrom([]float64{2, 10, 30, 50, 1000}).Draw(t, "N")
		b.Galvanometer.Resolution = rapid.SampledFrom([]float64{0, 0.1, 0.5, 7}).Draw(t, "step")
		if rapid.Bool().Draw(t, "plate") {
			b.Galvanometer.FullScale = ptr(rapid.SampledFrom([]float64{1e-12, 1e-4, 5e-4, 1}).Draw(t, "full scale"))
		}
		b.SeriesBox.Tolerance = rapid.SampledFrom([]float64{0, 0.001, 0.2}).Draw(t, "tolerance")
		if rapid.IntRange(0, 4).Draw(t, "dials") == 0 {
			b.ShuntBox = apparatus.Box{Kind: apparatus.Decade, Dials: []float64{100, 10, 1}}
		}
		return b
	case KindWired:
		return Wired{}
	case KindSource:
		return SourceMeasured{EMF: rapid.SampledFrom([]float64{1e-6, 0.9, 1.45, 12}).Draw(t, "E"), Loaded: rapid.Bool().Draw(t, "loaded")}
	case KindZero:
		return ZeroRead{*div()}
	case KindSetSeries:
		return SeriesSet{Ohm: box()}
	case KindReadFirst:
		if rapid.IntRange(0, 5).Draw(t, "off") == 0 {
			return FirstRead{OffScale: true}
		}
		return FirstRead{Div: div()}
	case KindSetShunt:
		return ShuntSet{Ohm: box()}
	case KindReadShunted:
		if rapid.IntRange(0, 5).Draw(t, "off") == 0 {
			return ShuntedRead{OffScale: true}
		}
		return ShuntedRead{Div: div()}
	case KindKeepRow:
		return RowKept{}
	case KindClaim:
		return Claim{Quantity: ClaimMerit, Value: Written{"1.9e-5", 1.9e-5}, Row: rapid.IntRange(0, 3).Draw(t, "row")}
	case KindStrike:
		return Strike{Event: rapid.IntRange(0, lastSeq+2).Draw(t, "struck")}
	case KindNote:
		return Note{Text: rapid.String().Draw(t, "text") + "."}
	case KindWho:
		return Who{Names: "pair " + rapid.String().Draw(t, "names")}
	}
	return Finish{}
}

// TestAnyEvents: whatever is sent in whatever order, nothing panics, no
// counsel holds a NaN or an infinity, what is refused changes nothing, next is
// always taken, and the state is the fold of what was accepted.
func TestAnyEvents(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := new(State)
		var log []Event
		at := time.Date(2031, 3, 4, 9, 0, 0, 0, time.UTC)
		take := func(b Body) {
			at = at.Add(time.Duration(rapid.IntRange(-3, 60).Draw(t, "seconds")) * time.Second)
			e := Event{Seq: s.Seq() + 1, At: at, Body: b}
			before := Advise(s)
			preview := Preview(s, b)
			err := s.Apply(e)
			if (err != nil) != (preview.Refused != nil) {
				t.Fatalf("%s %+v: Apply says %v, Preview %v", b.Kind(), b, err, preview.Refused)
			}
			c := Advise(s)
			raw, jerr := json.Marshal(c)
			if jerr != nil {
				t.Fatalf("after %s %+v the counsel is no JSON: %v", b.Kind(), b, jerr)
			}
			if err != nil {
				if was, _ := json.Marshal(before); string(was) != string(raw) {
					t.Fatalf("%s %+v was refused (%v) and changed the counsel:\n%s\n%s", b.Kind(), b, err, was, raw)
				}
				return
			}
			log = append(log, e)
			checkCounsel(t, s, c)
		}
		take(usualBench())
		if rapid.Bool().Draw(t, "wired at once") {
			take(Wired{})
		}
		for range rapid.IntRange(0, 60).Draw(t, "events") {
			if next := Advise(s).Next; next != nil && rapid.IntRange(0, 2).Draw(t, "obey") > 0 {
				take(obeyed(next, rapid.Float64Range(-30, 30).Draw(t, "reading")))
				continue
			}
			take(anyBody(t, s.Seq()))
		}
		again, err := Fold(log)
		if err != nil {
			t.Fatalf("what was accepted does not fold: %v", err)
		}
		a, _ := json.Marshal(Advise(s))
		b, _ := json.Marshal(Advise(again))
		if string(a) != string(b) {
			t.Fatalf("the fold differs:\n%s\n%s", a, b)
		}
	})
}

// obeyed is the event that next asks for.
func obeyed(n *Next, reading float64) Body {
	switch n.Event {
	case KindBench:
		return usualBench()
	case KindWired:
		return Wired{}
	case KindZero:
		return ZeroRead{math.Round(reading) / 30}
	case KindSetSeries:
		return SeriesSet{*n.Ohm, n.TakeOut}
	case KindReadFirst:
		return FirstRead{Div: &reading}
	case KindSetShunt:
		return ShuntSet{*n.Ohm, n.TakeOut}
	case KindReadShunted:
		return ShuntedRead{Div: &reading}
	case KindKeepRow:
		return RowKept{}
	}
	return Finish{}
}

// checkCounsel checks what must hold of every counsel.
func checkCounsel(t *rapid.T, s *State, c Counsel) {
	b, ok := s.Bench()
	if !ok {
		return
	}
	if n := c.Next; n != nil {
		reading := b.Galvanometer.Divisions / 2
		if p := Preview(s, obeyed(n, reading)); p.Refused != nil {
			t.Fatalf("next is %+v, and it is refused: %s", n, *p.Refused)
		} else if n.Event == KindSetSeries && s.Wired() && p.Clearance.Verdict == "stop" {
			t.Fatalf("next leads to %g ohm, where K1 is %+v: %s", *n.Ohm, p.Clearance, n.Do)
		}
		if n.Do == "" {
			t.Fatalf("next %q says nothing", n.Event)
		}
	} else if !s.Finished() && !slices.ContainsFunc(c.Findings, func(f Finding) bool { return f.ID == "bench-unfit" }) {
		t.Fatalf("nothing to do, and no reason: %+v", c)
	}
	if v := c.Clearance; v != nil && v.Verdict == "clear" && (v.WorstDiv == nil || math.Abs(*v.WorstDiv) > b.Galvanometer.Divisions*(1+1e-9)) {
		t.Fatalf("clear at %v of %g", v.WorstDiv, b.Galvanometer.Divisions)
	}
	if e := c.Expect; e != nil && !(e.UDiv > 0) {
		t.Fatalf("expects %+v", e)
	}
	kept := 0
	for _, r := range c.Rows {
		if !r.Struck {
			kept++
		}
	}
	if (c.Result != nil) != (kept > 0) || c.Result != nil && c.Result.Rows != kept {
		t.Fatalf("%d rows, result %+v", kept, c.Result)
	}
}

// twentyRows is a practical with twenty kept rows and a trial in each.
func twentyRows(t testing.TB) *sitting {
	m := usualNeedle()
	s := ready(t)
	for i := range 20 {
		series := 2600 + 50*float64(i)
		round := func(x float64) float64 { return math.Round(2*x) / 2 }
		s.put(SeriesSet{Ohm: series}, first(round(m.first(t, series))),
			ShuntSet{Ohm: 60}, shunted(round(m.shunted(t, series, 60))),
			ShuntSet{Ohm: 80}, shunted(round(m.shunted(t, series, 80))), RowKept{})
	}
	return s
}

// BenchmarkPreview is one keystroke's work with twenty rows on the table: 1 ms
// is what the issue allows.
func BenchmarkPreview(b *testing.B) {
	s := twentyRows(b)
	for _, tc := range []struct {
		name string
		body Body
	}{{"setting", SeriesSet{Ohm: 3000}}, {"reading", first(24)}} {
		b.Run(tc.name, func(b *testing.B) {
			at := s.s
			if tc.body.Kind() == KindReadFirst {
				c := s.s.Clone()
				if err := c.Apply(Event{Seq: c.Seq() + 1, At: s.at, Body: SeriesSet{Ohm: 3000}}); err != nil {
					b.Fatal(err)
				}
				at = c
			}
			Advise(at)
			b.ReportAllocs()
			for b.Loop() {
				if c := Preview(at, tc.body); c.Refused != nil {
					b.Fatal(*c.Refused)
				}
			}
		})
	}
}

// BenchmarkFold replays records of different lengths: the time per event must
// stay the same.
func BenchmarkFold(b *testing.B) {
	for _, n := range []int{1000, 10000, 100000} {
		var log []Event
		at := time.Date(2031, 3, 4, 9, 0, 0, 0, time.UTC)
		add := func(body Body) { log = append(log, Event{Seq: len(log) + 1, At: at, Body: body}) }
		add(usualBench())
		add(Wired{})
		add(ZeroRead{0})
		for len(log) < n {
			add(SeriesSet{Ohm: 3000})
			add(first(24))
			add(ShuntSet{Ohm: 84})
			add(shunted(12))
			add(Strike{Event: len(log)})
			add(shunted(12))
			add(RowKept{})
		}
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				if _, err := Fold(log); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(log)), "ns/event")
		})
	}
}
