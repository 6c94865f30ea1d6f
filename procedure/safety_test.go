package procedure

import (
	"math/rand/v2"
	"strings"
	"testing"

	"example.org/halve/physics/apparatus"
	"example.org/halve/safety"
)

// TestZeroTakesRoom: a needle that rests off zero has less scale before it. By
// hand: 20 seen with the zero at 5 is 15 at 11 110 Ω; at 6400 Ω it is 26, seen
// at 31 of 30.
func TestZeroTakesRoom(t *testing.T) {
	s := sit(t, usualBench(), Wired{}, ZeroRead{5}, SeriesSet{Ohm: 11110}, first(20), SeriesSet{Ohm: 6400})
	if c := Advise(s.s).Clearance; c.Verdict == "clear" || c.WorstDiv == nil || *c.WorstDiv < 31 {
		t.Errorf("clearance %+v", c)
	}
}

// TestZeroOffNeverPinned: whoever obeys comes to the end, and is never led past
// the last mark after a clear, wherever on the inner quarter of the scale the
// needle rests and whichever way round the leads are.
func TestZeroOffNeverPinned(t *testing.T) {
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 41))
		b, m := usualBench(), usualNeedle()
		m.noise, m.zero = rng, 14*rng.Float64()-7
		m.g, m.k = 40+160*rng.Float64(), 1e-5+3e-5*rng.Float64()
		if seed%2 == 0 {
			b.Galvanometer.FullScale = ptr(m.k * m.n)
		}
		if seed%3 == 0 {
			m.sign = -1
		}
		w := obeyQuick(t, b, m)
		if seed%10 == 0 {
			w = obey(t, b, m)
		}
		if !w.s.Finished() || w.pinned > 0 {
			t.Errorf("run %d, zero %.2f, sign %g: finished %t, past the last mark after a clear %d times, %+v",
				seed, m.zero, m.sign, w.s.Finished(), w.pinned, w.last.Findings)
		}
	}
}

// TestZeroAdjusted: a needle far from zero is set to it with the adjuster, and
// the practical goes on without a word about the earlier reading.
func TestZeroAdjusted(t *testing.T) {
	s := sit(t, usualBench(), Wired{}, ZeroRead{10})
	if n := Advise(s.s).Next; n.Event != KindZero || !strings.Contains(n.Do, "adjuster") {
		t.Errorf("with the zero at 10 of 30: next %+v", n)
	}
	s.put(ZeroRead{0})
	if n := Advise(s.s).Next; n.Event != KindSetSeries {
		t.Errorf("after the adjuster was used: next %+v", n)
	}
}

// TestStrongerSource: readings at a weaker source prove less: 10 div at
// 11 110 Ω and 1.5 V are 48 div at 4600 Ω and 3 V, by Ohm's law.
func TestStrongerSource(t *testing.T) {
	stronger := usualBench()
	stronger.Source.EMF = 3
	for name, b := range map[string]Body{"measured": SourceMeasured{EMF: 3}, "bench": stronger} {
		s := ready(t, SeriesSet{Ohm: 11110}, first(10), b, SeriesSet{Ohm: 4600})
		if c := Advise(s.s).Clearance; c.Verdict == "clear" {
			t.Errorf("%s: clearance %+v", name, c)
		}
	}
}

// TestOffAfterClear: an off-scale reading that contradicts the others leads to
// more resistance, never to "not sensitive enough".
func TestOffAfterClear(t *testing.T) {
	s := ready(t, SeriesSet{Ohm: 11110}, first(7), SeriesSet{Ohm: 3170}, FirstRead{OffScale: true})
	c := Advise(s.s)
	if c.Next == nil || c.Next.Event != KindSetSeries || *c.Next.Ohm <= 3170 || c.Clearance.Verdict == "clear" {
		t.Errorf("next %+v, clearance %+v, findings %+v", c.Next, c.Clearance, c.Findings)
	}
	for _, f := range c.Findings {
		if f.ID == "bench-unfit" || strings.Contains(f.Try, "more EMF") {
			t.Errorf("dangerous advice: %+v", f)
		}
	}
}

// TestOffBySlip: whoever gives one deflection as off scale by slip, and then
// obeys, comes to the end.
func TestOffBySlip(t *testing.T) {
	for _, nth := range []int{2, 3, 4} {
		m := usualNeedle()
		m.noise, m.slip = rand.New(rand.NewPCG(2, 8)), slip{kind: KindReadFirst, nth: nth, off: true}
		w := obey(t, usualBench(), m)
		if !w.s.Finished() || w.pinned > 0 {
			t.Errorf("slip at first deflection %d: finished %t, pinned %d, %+v", nth, w.s.Finished(), w.pinned, w.last.Findings)
		}
	}
}

// TestOffKeepsDistance: a value at or below one that went off the scale is a
// stop, even where other readings would prove it, and none is proposed near it.
// 13 ± 0.95 at 6000 Ω would bound 3100 Ω at 27.3 of 30, by Ohm's law.
func TestOffKeepsDistance(t *testing.T) {
	s := ready(t, SeriesSet{Ohm: 11110}, first(7), SeriesSet{Ohm: 3170}, FirstRead{OffScale: true}, SeriesSet{Ohm: 6000}, first(13))
	c := Advise(s.s)
	if c.Next == nil || c.Next.Event != KindSetSeries || *c.Next.Ohm < 1.2*3170 {
		t.Errorf("next %+v, findings %+v", c.Next, c.Findings)
	}
	if v := Preview(s.s, SeriesSet{Ohm: 3100}).Clearance; v.Verdict != "stop" {
		t.Errorf("below what went off: %+v", v)
	}
}

// TestAgainstLeftStop: on a left-zero scale a reading below zero is of a needle
// held by its stop: the leads are exchanged, R is not lowered.
func TestAgainstLeftStop(t *testing.T) {
	b := usualBench()
	b.Galvanometer.Zero = apparatus.LeftZero
	for name, rd := range map[string]Body{"below": first(-2), "off": FirstRead{Div: ptr(-30), OffScale: true}} {
		s := sit(t, b, Wired{}, ZeroRead{0}, SeriesSet{Ohm: 11110}, rd)
		c := Advise(s.s)
		if c.Next == nil || c.Next.Event != KindReadFirst || !strings.Contains(c.Next.Do, "exchange the leads") || c.Clearance.Verdict == "clear" {
			t.Errorf("%s: next %+v, clearance %+v", name, c.Next, c.Clearance)
		}
	}
	s := sit(t, b, Wired{}, ZeroRead{3}, SeriesSet{Ohm: 11110}, first(0.5), SeriesSet{Ohm: 5000})
	if c := Advise(s.s).Clearance; c.Verdict == "clear" {
		t.Errorf("0.5 with the zero at 3 is the wrong way: %+v", c)
	}
}

// TestStillAtStop: no reading is asked for at a value that K1 may not be closed
// at.
func TestStillAtStop(t *testing.T) {
	s := ready(t, SeriesSet{Ohm: 11110}, first(0), SeriesSet{Ohm: 5555}, first(0), SeriesSet{Ohm: 1000})
	if c := Advise(s.s); c.Clearance.Verdict != "stop" || c.Next == nil || c.Next.Event == KindReadFirst {
		t.Errorf("clearance %+v, next %+v", c.Clearance, c.Next)
	}
}

// TestLeap: after the needle rose on K2, K2 is not clear.
func TestLeap(t *testing.T) {
	for _, rd := range []Body{ShuntedRead{OffScale: true}, shunted(26)} {
		s := ready(t, SeriesSet{Ohm: 3000}, first(24), ShuntSet{Ohm: 80}, rd)
		if c := Advise(s.s).Clearance; c.Key != "K2" || c.Verdict == "clear" {
			t.Errorf("%+v: clearance %+v", rd, c)
		}
	}
}

// TestNoTestUnwired: a finding does not send anybody to a reading while the
// circuit is not checked.
func TestNoTestUnwired(t *testing.T) {
	s := ready(t, SeriesSet{Ohm: 11110}, first(0), SeriesSet{Ohm: 5555}, first(0), Strike{Event: 2, Why: "rewired"})
	c := Advise(s.s)
	if len(c.Findings) == 0 || c.Findings[0].Probability <= follows {
		t.Fatalf("nothing is found, so nothing is tested: %+v", c.Findings)
	}
	if c.Next == nil || c.Next.Event != KindWired {
		t.Errorf("next %+v", c.Next)
	}
}

// TestUnequalSteps: a box whose steps differ by ten powers of ten is answered,
// not searched for ever.
func TestUnequalSteps(t *testing.T) {
	b := usualBench()
	b.Source.EMF, b.Source.UEMF = 1, ptr(0.1)
	b.Galvanometer.Divisions, b.Galvanometer.Resolution = 25, 1
	b.Galvanometer.FullScale, b.Galvanometer.Resistance = ptr(1000), ptr(140)
	b.SeriesBox = apparatus.Box{Kind: apparatus.Decade, Dials: []float64{0.1, 1e9, 1e9, 1e4, 47}, Tolerance: 0.2}
	s := sit(t, b, Wired{}, ZeroRead{0})
	if c := Advise(s.s); c.Next == nil && len(c.Findings) == 0 {
		t.Errorf("no answer: %+v", c)
	}
}

// TestBackToK1: where the first deflection of a row is asked for again after a
// shunted reading, the clearance is that of K1. 29.8 on a scale of 30 may be
// 30.1 in a box of 0.1 % (29.8 + 0.95 is beyond the end, so 30 · 1.001/0.999 =
// 30.06): a tap, and K2 is closed on that needle.
func TestBackToK1(t *testing.T) {
	s := ready(t, SeriesSet{Ohm: 11110}, first(29.8), ShuntSet{Ohm: 80}, shunted(14))
	if c := Advise(s.s).Clearance; c.Key != safety.K2 || c.Verdict != safety.Tap {
		t.Fatalf("with a shunted reading next: %+v", c)
	}
	s.put(first(20))
	c := Advise(s.s)
	if c.Next.Event != KindReadFirst || c.Clearance.Key != safety.K1 || c.Clearance.Verdict != safety.Tap {
		t.Errorf("next %+v, clearance %+v", c.Next, c.Clearance)
	}
}

// TestNoCurrentStronger: where nothing seemed to flow, the setting was struck
// and the source is stronger now, the value that is proposed is one at which K1
// may be closed. By Ohm's law 6 V drive 10 mA through 600 Ω, ten times what a
// tap may carry, and 0.54 mA through 11 110 Ω.
func TestNoCurrentStronger(t *testing.T) {
	b := usualBench()
	b.Source.EMF, b.Source.UEMF = 0.3, nil
	s := sit(t, b, Wired{}, ZeroRead{0}, SeriesSet{Ohm: 700}, first(0), SeriesSet{Ohm: 600}, first(0), SourceMeasured{EMF: 6},
		SeriesSet{Ohm: 500}, Strike{Event: 9})
	n := Advise(s.s).Next
	if n == nil || n.Event != KindSetSeries || !strings.Contains(n.Do, "Nothing seems to flow") {
		t.Fatalf("next %+v", n)
	}
	if c := Preview(s.s, obeyed(n, 0)).Clearance; c.Verdict == safety.Stop {
		t.Errorf("next leads to %g ohm: %+v", *n.Ohm, c)
	}
}

// TestShuntOnForbiddenNeedle: K2 is closed on a needle that K1 drives, so what
// forbids K1 forbids K2, and the next thing to do is not to read there.
func TestShuntOnForbiddenNeedle(t *testing.T) {
	for _, tc := range []struct {
		name   string
		bodies []Body
	}{
		// 24 div at 4450 Ω are 48 at twice the EMF.
		{"a source of twice the EMF", []Body{SeriesSet{Ohm: 11110}, first(10), SeriesSet{Ohm: 4450}, first(24), ShuntSet{Ohm: 100}, SourceMeasured{EMF: 3}}},
		// Off the scale at the largest value, by slip or not: nothing below is proven.
		{"a smaller value than one off the scale", []Body{SeriesSet{Ohm: 11110}, FirstRead{OffScale: true}, first(8), SeriesSet{Ohm: 4000}, first(20), ShuntSet{Ohm: 100}}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			s := ready(t, tc.bodies...)
			c := Advise(s.s)
			if c.Clearance.Key != safety.K2 || c.Clearance.Verdict != safety.Stop {
				t.Errorf("clearance %+v; want a stop for K2", c.Clearance)
			}
			if c.Next == nil || c.Next.Event != KindSetSeries || *c.Next.Ohm < 4451 {
				t.Errorf("next %+v; want more resistance in series", c.Next)
			}
		})
	}
	// At the largest value there is no more of it: the needle is tapped anew.
	s := ready(t, SeriesSet{Ohm: 11110}, first(20), ShuntSet{Ohm: 100}, SourceMeasured{EMF: 3})
	if c := Advise(s.s); c.Clearance.Verdict != safety.Tap || c.Next.Event != KindReadFirst {
		t.Errorf("at the largest value: next %+v, clearance %+v; want a tap and the first deflection again", c.Next, c.Clearance)
	}
}

// TestAdjusterTurned: a zero read after the pointer was set anew says nothing
// of where it rested before. 10 read with a rest of -5 were 15 div at 11 110 Ω,
// 166 650 div·ohm: whatever is cleared keeps that on the scale.
func TestAdjusterTurned(t *testing.T) {
	for ohm := 11000.0; ohm > 100; ohm -= 100 {
		x := sit(t, usualBench(), Wired{}, ZeroRead{-5}, SeriesSet{Ohm: 11110}, first(10), ZeroRead{0}, SeriesSet{Ohm: ohm})
		if c := Advise(x.s).Clearance; c.Verdict == safety.Clear && 166650/ohm > 30 {
			t.Fatalf("clear at %g Ω, where the needle goes to %.1f", ohm, 166650/ohm)
		}
	}
}

// TestSmallFall: a fall of one step is a fall, and where the needle never falls
// the reading is not asked for without end.
func TestSmallFall(t *testing.T) {
	b := usualBench()
	b.Galvanometer.Divisions, b.Galvanometer.Resolution = 25, 1
	s := sit(t, b, Wired{}, ZeroRead{0}, SeriesSet{Ohm: 11110}, first(7), ShuntSet{Ohm: 300}, shunted(6))
	if c := Advise(s.s); c.Next == nil || c.Next.Event == KindReadShunted {
		t.Errorf("next %+v; want another value or more to shunt", c.Next)
	}
	s = sit(t, b, Wired{}, ZeroRead{0}, SeriesSet{Ohm: 11110}, first(7), ShuntSet{Ohm: 300})
	for range 20 {
		c := Advise(s.s)
		if c.Next == nil || c.Next.Event != KindReadShunted {
			return
		}
		s.put(shunted(7))
	}
	t.Error("a shunted reading was asked for twenty times")
}

// TestShuntCoilsBear: with little in series the shunt's coils are judged by what
// can flow through both boxes, and obedience never leads to a stop at K2.
func TestShuntCoilsBear(t *testing.T) {
	for _, series := range []float64{10, 20, 50, 120} {
		m := usualNeedle()
		m.g = 300
		m.k = m.emf / (series + m.g + m.r) / 24 // 24 div at series
		m.noise = rand.New(rand.NewPCG(4, uint64(series)))
		b := usualBench()
		b.Galvanometer.FullScale = ptr(30 * m.k)
		w := obey(t, b, m)
		if !w.s.Finished() || w.pinned > 0 {
			t.Errorf("24 div at %g Ω: finished %t, pinned %d, %+v", series, w.s.Finished(), w.pinned, w.last.Findings)
		}
	}
	// Where no coil near the half may take it, the bench is told to be unfit.
	b := usualBench()
	b.Galvanometer.FullScale, b.ShuntBox.Rating = ptr(30*1.9e-5), ptr(1e-9)
	s := sit(t, b, Wired{}, ZeroRead{0}, SeriesSet{Ohm: 3250}, first(24))
	if c := Advise(s.s); c.Next != nil || len(c.Findings) == 0 || c.Findings[0].ID != benchUnfit || !strings.Contains(c.Findings[0].Say, "coil of the shunt box is safe to") {
		t.Errorf("with coils of a nanowatt: next %+v, findings %+v", c.Next, c.Findings)
	}
}

// TestLoneReadingIsReadAgain: a first deflection far below what the others let
// expect is read again before it lowers the resistance any further; made again
// it is believed.
func TestLoneReadingIsReadAgain(t *testing.T) {
	b := usualBench()
	b.Galvanometer.Resolution = 0.2
	s := sit(t, b, Wired{}, ZeroRead{0}, SeriesSet{Ohm: 11110}, first(1.6), SeriesSet{Ohm: 850}, first(10.4))
	c := Advise(s.s)
	if c.Next.Event != KindReadFirst || !strings.Contains(c.Next.Do, "strike event 7") || c.Clearance.Verdict != safety.Clear {
		t.Fatalf("next %+v, clearance %+v; want the reading again", c.Next, c.Clearance)
	}
	if v := Preview(s.s, SeriesSet{Ohm: 40}).Clearance; v.Verdict != safety.Stop {
		t.Errorf("at 40 Ω: %+v", v)
	}
	s.put(first(10.4))
	if n := Advise(s.s).Next; n.Event != KindSetSeries || *n.Ohm > 600 {
		t.Errorf("after it was made again: next %+v", n)
	}
	m := usualNeedle() // a galvanometer of 450 Ω is measured all the same
	m.g, m.k, m.noise = 450, 4e-5, rand.New(rand.NewPCG(6, 1))
	if w := obey(t, usualBench(), m); !w.s.Finished() || w.pinned > 0 {
		t.Errorf("450 Ω: finished %t, pinned %d, %+v", w.s.Finished(), w.pinned, w.last.Findings)
	}
}
