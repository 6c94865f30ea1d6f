package record

import (
	"fmt"
	"time"

	"example.org/halve/procedure"
)

// A Practical is a procedure as its records need it: its name in the header,
// how its events are read, what they add up to (S) and what follows (C).
type Practical[S State[S], C Counsel[C]] struct {
	Name string
	// Words are the events that it has beside those that all share.
	Words procedure.Vocabulary
	// Empty is the state before the first event.
	Empty func() S
	// Advise is the counsel on a state. Preview is the counsel that would
	// follow if a body were accepted; Foresee the same with what the readings
	// would then say is wrong, which may take longer.
	Advise           func(S) C
	Preview, Foresee func(S, procedure.Body) C
	// Instrument is the label of what is being measured, "" if it has none.
	Instrument func(S) string
}

// A State is what the events of a practical add up to.
type State[S any] interface {
	Apply(procedure.Event) error
	Clone() S
	Struck(n int) int
}

// A Counsel is what a practical has to say at a moment.
type Counsel[C any] interface {
	// Refuse is the counsel with what was wrong with the event that was sent.
	Refuse(why string) C
}

// halfDeflection is the practical that the program is named after.
var halfDeflection = Practical[*procedure.State, procedure.Counsel]{
	Name:    HalfDeflection,
	Words:   procedure.Words(),
	Empty:   func() *procedure.State { return new(procedure.State) },
	Advise:  procedure.Advise,
	Preview: procedure.Preview,
	Foresee: procedure.Foresee,
	Instrument: func(s *procedure.State) string {
		b, _ := s.Bench()
		return b.Galvanometer.Label
	},
}

// The sitting and the log of a half-deflection practical.
type (
	Sitting = Keeping[*procedure.State, procedure.Counsel]
	Log     = Kept[*procedure.State]
)

// BeginIn starts a half-deflection practical and its record under a name of its
// own in a folder, as Practical.BeginIn does; so do the functions below, each by
// its own name.
func BeginIn(dir string, now func() time.Time, newID func() string) (*Sitting, error) {
	return halfDeflection.BeginIn(dir, now, newID)
}

// Resume goes on with one that is there.
func Resume(path string, now func() time.Time, newID func() string) (*Sitting, error) {
	return halfDeflection.Resume(path, now, newID)
}

// Open goes on with one, or begins it where no file is.
func Open(path string, now func() time.Time, newID func() string) (*Sitting, error) {
	return halfDeflection.Open(path, now, newID)
}

// InMemory starts one that leaves no record.
func InMemory(now func() time.Time) *Sitting { return halfDeflection.InMemory(now) }

// Read reads one without changing it.
func Read(path string) (*Log, error) { return halfDeflection.Read(path) }

// check reports what is wrong with a record of any procedure.
func check(data []byte) error {
	h, _, _, err := parseHeader(data)
	if err != nil {
		return err
	}
	switch h.Procedure {
	case HalfDeflection:
		_, err = halfDeflection.parse(data)
	case MeterCheck:
		_, err = meterCheck.parse(data)
	default:
		err = fmt.Errorf("this is a record of the procedure %q and this program knows %q and %q: use a newer program", h.Procedure, HalfDeflection, MeterCheck)
	}
	return err
}
