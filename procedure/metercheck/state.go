package metercheck

import (
	"fmt"
	"math"
	"slices"

	"example.org/halve/physics/accuracy"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
)

// State is what the events so far add up to. The zero value is an empty table.
// A State is built by Apply and copied by Clone, never by assignment.
type State struct {
	ledger   procedure.Ledger
	bench    *Bench // nil before it is stated; never changed in place
	benches  int
	readings []reading            // zeros and points in their order, struck ones too
	found    *[]procedure.Finding // what Advise worked out, nil before
	unknown  bool                 // nothing known fits the readings
}

// reading is a zero or a point.
type reading struct {
	seq int
	accuracy.Reading
}

// Seq returns the number of the last accepted event, 0 before any.
func (s *State) Seq() int { return s.ledger.Seq() }

// Clone returns an independent copy, for previews.
func (s *State) Clone() *State {
	c := *s
	c.ledger = s.ledger.Clone()
	c.readings = slices.Clone(s.readings)
	return &c
}

// Struck returns the number of the strike that is in force on event n, 0 if
// the event stands or does not exist.
func (s *State) Struck(n int) int { return s.ledger.Struck(n) }

// Bench returns the instruments on the table; ok is false before they are
// stated.
func (s *State) Bench() (b Bench, ok bool) {
	if s.bench == nil {
		return b, false
	}
	return *s.bench, true
}

// Wired reports whether the circuit was checked.
func (s *State) Wired() bool { return s.ledger.Wired() }

// Finished reports whether a finish event is in force.
func (s *State) Finished() bool { return s.ledger.Finished() }

// standing returns the zeros and points in force.
func (s *State) standing() []reading {
	return slices.DeleteFunc(slices.Clone(s.readings), func(r reading) bool { return !s.ledger.Stands(r.seq) })
}

// Evaluation is what the readings in force say of the meter; ok is false
// before there is a point.
func (s *State) Evaluation() (e accuracy.Evaluation, ok bool) {
	if s.bench == nil {
		return e, false
	}
	rs := s.standing()
	if !slices.ContainsFunc(rs, func(r reading) bool { return !r.Zero }) {
		return e, false
	}
	plain := make([]accuracy.Reading, len(rs))
	for i, r := range rs {
		plain[i] = r.Reading
	}
	return accuracy.Evaluate(s.bench.Meter(), plain, s.bench.doubt()), true
}

// Apply takes one more event. If it cannot be taken, the state is unchanged and
// the error says, in one line, what is wrong and what is expected.
func (s *State) Apply(e procedure.Event) error {
	var err error
	if e.Body, err = s.ledger.Follows(e); err != nil {
		return err
	}
	if err := s.mayFollow(e.Body); err != nil {
		return err
	}
	switch b := e.Body.(type) {
	case Bench:
		if err := s.takeBench(b); err != nil {
			return err
		}
	case procedure.ZeroRead:
		if math.Abs(b.Div) > s.bench.Divisions {
			return fmt.Errorf("the scale ends at %g divisions: a zero of %g is beyond it", s.bench.Divisions, b.Div)
		}
		s.readings = append(s.readings, reading{e.Seq, accuracy.Reading{Zero: true, Div: b.Div}})
	case Point:
		if err := s.takePoint(e.Seq, b); err != nil {
			return err
		}
	case procedure.Strike:
		if err := s.ledger.MayStrike(b.Event); err != nil {
			return err
		}
	case procedure.Wired, procedure.Finish, procedure.Note, procedure.Who:
		// kept in the record; they change nothing here
	default:
		return fmt.Errorf("%s is no event of a meter check", b.Kind())
	}
	s.ledger.Enter(e)
	s.found, s.unknown = nil, false
	return nil
}

// mayFollow reports why an event of this kind has no place now.
func (s *State) mayFollow(b procedure.Body) error {
	switch b.(type) {
	case Bench, Point, procedure.Wired, procedure.Finish:
		if s.Finished() {
			return fmt.Errorf("the check is finished: only strike, note, who and zero are taken (strike the finish to go on)")
		}
	}
	switch b.(type) {
	case Point, procedure.ZeroRead, procedure.Wired:
		if s.bench == nil {
			return fmt.Errorf("%s has no meaning before the bench is stated: begin with bench", b.Kind())
		}
	}
	if _, ok := b.(Point); ok && !s.Wired() {
		return fmt.Errorf("no point before the circuit is checked: send wired first")
	}
	return nil
}

// maxBenches bounds how often the bench is corrected, as in half deflection.
const maxBenches = 50

func (s *State) takeBench(b Bench) error {
	if s.benches == maxBenches {
		return fmt.Errorf("the bench has been corrected %d times already: begin a new record", maxBenches)
	}
	if len(s.readings) > 0 {
		greatest := 0.0
		for _, r := range s.readings {
			greatest = max(greatest, math.Abs(r.Div))
		}
		switch {
		case b.MeterKind != s.bench.MeterKind:
			return fmt.Errorf("after a reading the kind of meter can no longer change: begin a new record")
		case b.Centre() != s.bench.Centre():
			return fmt.Errorf("after a reading the place of the scale's zero can no longer change: begin a new record")
		case greatest > reach(b.Divisions):
			return fmt.Errorf("a reading of %g divisions is recorded: the scale cannot end at %g", greatest, b.Divisions)
		}
	}
	s.bench = &b
	s.benches++
	return nil
}

// reach is the greatest reading that a scale of so many divisions has: a
// pointer can be read somewhat beyond the last mark.
func reach(divisions float64) float64 { return 1.1*divisions + 1 }

func (s *State) takePoint(seq int, p Point) error {
	b := s.bench
	if (p.ReferenceA != nil) != b.InAmperes() {
		want := "reference_A"
		if !b.InAmperes() {
			want = "reference_V"
		}
		return fmt.Errorf("the meter is %s %s: %s is expected", article(b.MeterKind), b.MeterKind, want)
	}
	if math.Abs(p.Div) > reach(b.Divisions) {
		return fmt.Errorf("the scale ends at %g divisions: %g is beyond it", b.Divisions, p.Div)
	}
	// A reference of a hundred times the range is a slip of the prefix.
	if v := p.Reference(); math.Abs(v) > 100*b.Range() {
		return fmt.Errorf("the reference's %s is more than a hundred times the range of %s: look at its prefix",
			quantity.Format(v, b.Unit(), 3), quantity.Format(b.Range(), b.Unit(), 3))
	}
	s.readings = append(s.readings, reading{seq, accuracy.Reading{
		Rising: p.Direction == Rising, Tapped: p.Tapped, Div: p.Div, Reference: p.Reference(),
	}})
	return nil
}

// leftZero reports whether the pointer has a stop at its zero.
func (b Bench) leftZero() bool { return !b.Centre() }

// limitDiv is the class limit in divisions; of a meter without a class that of
// 2.5, which most panel meters have (common practice, no source).
func (b Bench) limitDiv() float64 {
	m := b.Meter()
	if m.Class == 0 {
		m.Class = 2.5
	}
	return m.LimitDiv()
}
