// Package procedure is the practical itself: the events that happen at the
// bench, the state they add up to, and the counsel that follows from it.
//
// A practical is a list of events; everything else is a pure function of it.
// Nothing here touches a screen, a file, a clock or a source of randomness.
package procedure

// State is what the events so far add up to. The zero value is an empty
// table. A State is built by Apply and must not be copied by assignment.
type State struct {
	last int
}

// Fold builds the state from events in order. It stops at the first event
// that cannot be taken and says which and why.
func Fold(events []Event) (*State, error) { return new(State), nil }

// Apply takes one more event. If it cannot be taken, the state is unchanged
// and the error says, in one line, what is wrong and what is expected.
// The event's Seq must be Seq()+1.
func (s *State) Apply(e Event) error { return nil }

// Clone returns an independent copy, for previews.
func (s *State) Clone() *State { c := *s; return &c }

// Seq returns the number of the last accepted event, 0 before any.
func (s *State) Seq() int { return s.last }

// Advise says what the state calls for: the step, the next thing to do, the
// clearance, the reading to expect, the rows and the result so far.
func Advise(s *State) Counsel { return Counsel{} }

// Preview is the counsel that would follow if body were accepted now. The
// state is unchanged; if the event cannot be taken, Refused says why.
func Preview(s *State, body Body) Counsel { return Counsel{} }
