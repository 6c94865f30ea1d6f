package procedure

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"example.org/halve/physics"
	"example.org/halve/physics/apparatus"
)

// coils11k is the common plug set that totals 11 110 Ω (domain notes B2,
// common practice, no source).
var coils11k = []float64{5000, 2000, 2000, 1000, 500, 200, 200, 100, 50, 20, 20, 10, 5, 2, 2, 1}

func ptr(v float64) *float64 { return &v }

// usualBench is an invented bench: a 30-0-30 galvanometer read to half a
// division, a dry cell, two plug boxes.
func usualBench() Bench {
	return Bench{apparatus.Bench{
		Source:       apparatus.Source{EMF: 1.5, UEMF: ptr(0.03), Resistance: ptr(0.8), UResistance: ptr(0.4)},
		Galvanometer: apparatus.Galvanometer{Divisions: 30, Zero: apparatus.CentreZero, Resolution: 0.5},
		SeriesBox:    apparatus.Box{Kind: apparatus.Plug, Coils: coils11k, Tolerance: 0.001},
		ShuntBox:     apparatus.Box{Kind: apparatus.Plug, Coils: coils11k[3:], Tolerance: 0.001},
	}}
}

// needle is a galvanometer on a table for these tests, answered by the closed
// forms of package physics (which are checked against the nodal solver there).
type needle struct {
	emf, r, g, k, zero float64
	n, step            float64
	noise              *rand.Rand // nil: no blur and no rounding
	sign               float64    // -1: the leads are exchanged
	left               bool       // the scale has its zero at the left
	slip               slip       // one reading is written down wrong
}

// slip is what is written down for the nth reading of a kind, from 1, in place
// of what was read; no kind: nothing.
type slip struct {
	kind  string
	nth   int
	off   bool
	wrong func(div float64) float64
	owned bool // it is struck out once a counsel names it
}

// write is what is written down for the nth reading of a kind.
func (m needle) write(kind string, nth int, div *float64, off bool) (*float64, bool) {
	if m.slip.kind != kind || m.slip.nth != nth {
		return div, off
	}
	if m.slip.off || off {
		return nil, true
	}
	v := m.slip.wrong(*div)
	return &v, false
}

func usualNeedle() needle {
	return needle{emf: 1.48, r: 0.6, g: 87, k: 1.9e-5, n: 30, step: 0.5, sign: 1}
}

// see reads a true deflection off the scale.
func (m needle) see(theta float64) (div *float64, off bool) {
	x := m.sign*theta + m.zero
	if m.left && x < 0 {
		x = 0
	}
	if m.noise != nil {
		x += repeatability * m.step * m.noise.NormFloat64()
		x = math.Round(x/m.step) * m.step
	}
	if math.Abs(x) > m.n {
		return nil, true
	}
	return &x, false
}

func (m needle) first(t testing.TB, series float64) float64 {
	t.Helper()
	d, err := physics.FirstDeflection(m.emf, series+m.r, m.g, m.k)
	if err != nil {
		t.Fatalf("first deflection at %g ohm: %v", series, err)
	}
	return d
}

func (m needle) shunted(t testing.TB, series, shunt float64) float64 {
	t.Helper()
	d, err := physics.ShuntedDeflection(m.emf, series+m.r, m.g, shunt, m.k)
	if err != nil {
		t.Fatalf("shunted deflection at %g and %g ohm: %v", series, shunt, err)
	}
	return d
}

// sitting builds a state event by event, with a clock of its own.
type sitting struct {
	t  testing.TB
	s  *State
	at time.Time
}

func sit(t testing.TB, bodies ...Body) *sitting {
	t.Helper()
	s := &sitting{t: t, s: new(State), at: time.Date(2031, 3, 4, 9, 0, 0, 0, time.UTC)}
	s.put(bodies...)
	return s
}

// put applies events that must be taken.
func (s *sitting) put(bodies ...Body) {
	s.t.Helper()
	for _, b := range bodies {
		if err := s.try(b); err != nil {
			s.t.Fatalf("event %d, %s %+v: refused: %v", s.s.Seq()+1, b.Kind(), b, err)
		}
	}
}

func (s *sitting) try(b Body) error {
	s.at = s.at.Add(20 * time.Second)
	return s.s.Apply(Event{Seq: s.s.Seq() + 1, At: s.at, Body: b})
}

// refuse applies an event that must be refused with the given words, and
// checks that nothing has changed.
func (s *sitting) refuse(b Body, words string) {
	s.t.Helper()
	before := counselJSON(s.t, Advise(s.s))
	err := s.try(b)
	if err == nil {
		s.t.Fatalf("%s %+v was taken; it must be refused: %s", b.Kind(), b, words)
	}
	if !strings.Contains(err.Error(), words) || strings.Contains(err.Error(), "\n") {
		s.t.Errorf("%s %+v: refused with %q, want one line with %q", b.Kind(), b, err, words)
	}
	if after := counselJSON(s.t, Advise(s.s)); after != before {
		s.t.Errorf("%s was refused but changed the counsel:\n%s\n%s", b.Kind(), before, after)
	}
}

func counselJSON(t testing.TB, c Counsel) string {
	t.Helper()
	b, err := json.Marshal(c)
	if err != nil {
		t.Fatalf("counsel is no JSON: %v\n%+v", err, c)
	}
	return string(b)
}

func first(v float64) FirstRead     { return FirstRead{Div: &v} }
func shunted(v float64) ShuntedRead { return ShuntedRead{Div: &v} }

// ready is a sitting with the circuit checked and the zero read.
func ready(t testing.TB, more ...Body) *sitting {
	t.Helper()
	s := sit(t, usualBench(), Wired{}, ZeroRead{0})
	s.put(more...)
	return s
}

// walk is what an obedient person went through.
type walk struct {
	*sitting
	beforeUsable int   // settings of the series box up to the first usable deflection
	shunts       []int // settings of the shunt box, per kept row
	pinned       int   // the true needle passed the last mark after a clear
	tapsOff      int   // the same after a tap
	slip         int   // the event of the needle's slip, 0 before it
	named        bool  // a counsel said that this event is to be struck …
	proposed     bool  // … and a finding proposed it, or its setting
	last         Counsel
}

// obey does whatever the counsel says, to the letter, until it says nothing
// more.
func obey(t testing.TB, b Bench, m needle) walk {
	t.Helper()
	return obeyAny(t, b, m, Advise)
}

// obeyQuick is obey without the diagnosis, which is silent on a sound bench and
// takes nine tenths of the time.
func obeyQuick(t testing.TB, b Bench, m needle) walk {
	t.Helper()
	return obeyAny(t, b, m, advise)
}

func obeyAny(t testing.TB, b Bench, m needle, advise func(*State) Counsel) walk {
	t.Helper()
	w := walk{sitting: sit(t, b), shunts: []int{0}}
	n := b.Galvanometer.Divisions
	usable := false
	series, shunt, firsts, shunteds := 0.0, 0.0, 0, 0
	for range 150 {
		w.last = advise(w.s)
		next := w.last.Next
		if next == nil {
			w.shunts = w.shunts[:len(w.shunts)-1]
			return w
		}
		if next.Do == "" {
			t.Fatalf("next %q says nothing: %+v", next.Event, next)
		}
		if w.slip > 0 && strings.Contains(next.Do, fmt.Sprintf("strike event %d", w.slip)) {
			w.named = true
			ms := mends(w.last)
			w.proposed = w.proposed || slices.Contains(ms, w.slip) || slices.Contains(ms, w.slip-1)
			if m.slip.owned && w.s.Struck(w.slip) == 0 {
				w.put(Strike{Event: w.slip, Why: "a slip"})
				continue
			}
		}
		if c := w.last.Clearance; (next.Event == KindReadFirst || next.Event == KindReadShunted) && (c == nil || c.Verdict == "stop") {
			t.Fatalf("next is %s, where the clearance is %+v", next.Event, c)
		}
		switch next.Event {
		case KindWired:
			w.put(Wired{})
		case KindZero:
			v, _ := m.see(0)
			w.put(ZeroRead{*v})
		case KindSetSeries:
			series = *next.Ohm
			w.put(SeriesSet{series, next.TakeOut})
			if !usable {
				w.beforeUsable++
			}
			if c := advise(w.s).Clearance; c == nil || c.Verdict == "stop" {
				t.Fatalf("next led to %g ohm, where K1 is %+v", series, c)
			}
		case KindReadFirst:
			theta := m.first(t, series)
			if math.Abs(m.sign*theta+m.zero) > n { // as seen on the scale
				switch w.last.Clearance.Verdict {
				case "clear":
					w.pinned++
				case "tap":
					w.tapsOff++
				}
			}
			v, off := m.see(theta)
			firsts++
			if v, off = m.write(KindReadFirst, firsts, v, off); m.slip.kind == KindReadFirst && m.slip.nth == firsts {
				w.slip = w.s.Seq() + 1
			}
			w.put(FirstRead{v, off})
			d := theta / n
			usable = usable || d > leastShare-0.02 && d < mostShare+0.02
		case KindSetShunt:
			shunt = *next.Ohm
			w.put(ShuntSet{shunt, next.TakeOut})
			w.shunts[len(w.shunts)-1]++
		case KindReadShunted:
			v, off := m.see(m.shunted(t, series, shunt))
			shunteds++
			if v, off = m.write(KindReadShunted, shunteds, v, off); m.slip.kind == KindReadShunted && m.slip.nth == shunteds {
				w.slip = w.s.Seq() + 1
			}
			w.put(ShuntedRead{v, off})
		case KindKeepRow:
			w.put(RowKept{})
			w.shunts = append(w.shunts, 0)
		case KindFinish:
			w.put(Finish{})
		default:
			t.Fatalf("next is %q", next.Event)
		}
	}
	t.Fatalf("obeyed 150 counsels and no end; the last: %s", counselJSON(t, w.last))
	return w
}
