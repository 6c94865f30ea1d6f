// Package auto is the scripted student of a practice: one who does to the
// letter what every counsel asks for, on a simulated bench, writes down what
// the needle shows, and does nothing else. What comes of it shows whether the
// counsel alone leads to a good record.
package auto

import (
	"errors"
	"fmt"
	"math"

	"example.org/halve/procedure"
	"example.org/halve/procedure/debrief"
	"example.org/halve/safety"
)

// A Sitting is the practical that is being kept; *record.Sitting is one.
type Sitting interface {
	Accept(procedure.Body) (procedure.Counsel, error)
	Counsel() procedure.Counsel
	State() *procedure.State
	Events() []procedure.Event
}

// A Bench is the simulated bench: it answers like the real thing.
type Bench interface {
	SetSeries(ohm float64, takeOut []float64) error
	SetShunt(ohm float64, takeOut []float64) error
	SetKeys(k1, k2 bool)
	// Read returns the reading a person would write down, off where the
	// needle is beyond the last mark.
	Read() (div float64, off bool)
	// Deflection is where the needle truly is, in divisions. The student
	// does not see it; it tells whether the needle passed the last mark.
	Deflection() float64
}

// A Faulty bench may have a fault. Looking for it by its name puts it right
// where it is there.
type Faulty interface {
	Look(id string) bool
}

// sure is the probability of a finding above which the student looks for the
// fault; where it is truly there it is mended.
const sure = 0.5

// A Run is what the practical came to.
type Run struct {
	// Mended is the number of the event after which a fault was named and
	// mended, 0 if none was.
	Mended  int
	Events  []procedure.Event
	Counsel procedure.Counsel // the last one
	// Pinned counts how often the needle passed the last mark after the
	// clearance clear, TapsOffScale after tap.
	Pinned, TapsOffScale int
	// SeriesSettings counts for each kept row the settings of the series box
	// up to and including the first usable deflection: two thirds to nine
	// tenths of the scale, with half a step of reading allowed at both ends.
	// It is 0 for a row at the series value of the one before.
	SeriesSettings []int
	// ShuntSettings counts for each kept row the settings of the shunt box.
	ShuntSettings []int
}

// maxEvents is far more than a practical takes; a counsel that has not come to
// an end by then goes round in circles.
const maxEvents = 500

// Obey goes on with the practical until the counsel asks for nothing more. It
// fails where a counsel cannot be obeyed: a refused event, a setting that the
// bench has not, a key to be closed against a stop, or no end.
func Obey(s Sitting, b Bench) (Run, error) {
	st := student{bench: b}
	c := s.Counsel()
	st.heed(c)
	for {
		if len(s.Events()) >= maxEvents {
			return st.report(s), fmt.Errorf("the counsel came to no end within %d events", maxEvents)
		}
		state := s.State()
		if own := st.look(c, state.Finished()); own != nil {
			var err error
			if c, err = s.Accept(own); err != nil {
				return st.report(s), err
			}
			st.heed(c)
			continue
		}
		if c.Next == nil {
			return st.report(s), nil
		}
		table, _ := state.Bench()
		body, err := st.do(c.Next, table.Galvanometer.Divisions)
		if err != nil {
			return st.report(s), fmt.Errorf("after event %d: %w", c.Seq, err)
		}
		if c, err = s.Accept(body); err != nil {
			return st.report(s), err
		}
		if c.Refused != nil {
			return st.report(s), fmt.Errorf("the counsel after event %d asks for %s, which is refused: %s", c.Seq, body.Kind(), *c.Refused)
		}
		st.heed(c)
	}
}

// student is the scripted student at the bench.
type student struct {
	bench        Bench
	mended       int    // the event after which the fault was mended, 0 if it was not
	mendedID     string // its name
	resting      bool   // the zero is to be read anew
	clearance    map[safety.Key]safety.Verdict
	pinned, taps int
}

// look looks for the fault that is found more probable than not or, where the
// counsel knows nothing more to do, for all that are found, and mends the one
// that is there. It returns what the student then does unasked, nil for
// nothing: note the mend, read the zero anew, and strike what is proposed of the readings from
// before.
func (st *student) look(c procedure.Counsel, finished bool) procedure.Body {
	bench, ok := st.bench.(Faulty)
	if !ok {
		return nil
	}
	if st.resting {
		st.resting = false
		st.bench.SetKeys(false, false)
		div, _ := st.bench.Read()
		return procedure.ZeroRead{Div: div}
	}
	for i, f := range c.Findings {
		wanted := i == 0 && f.Probability > sure || c.Next == nil
		if st.mended == 0 && !finished && wanted && bench.Look(f.ID) {
			st.mended, st.mendedID, st.resting = c.Seq, f.ID, true
			return procedure.Note{Text: debrief.Mended(f.ID)}
		}
		if st.mended > 0 && f.ID == st.mendedID && f.Mend != nil && f.Mend.Seq <= st.mended {
			return procedure.Strike{Event: f.Mend.Seq, Why: f.ID}
		}
	}
	return nil
}

// heed remembers what was said about the keys.
func (st *student) heed(c procedure.Counsel) {
	if c.Clearance == nil {
		return
	}
	if st.clearance == nil {
		st.clearance = make(map[safety.Key]safety.Verdict)
	}
	st.clearance[c.Clearance.Key] = c.Clearance.Verdict
}

// do carries out what is asked for and returns what there is to write down.
func (st *student) do(n *procedure.Next, divisions float64) (procedure.Body, error) {
	switch n.Event {
	case procedure.KindWired:
		return procedure.Wired{}, nil
	case procedure.KindZero:
		st.bench.SetKeys(false, false)
		div, _ := st.bench.Read()
		return procedure.ZeroRead{Div: div}, nil
	case procedure.KindSetSeries:
		if n.Ohm == nil {
			return nil, errors.New("the counsel names no value for the series box")
		}
		return procedure.SeriesSet{Ohm: *n.Ohm, TakeOut: n.TakeOut}, st.bench.SetSeries(*n.Ohm, n.TakeOut)
	case procedure.KindSetShunt:
		if n.Ohm == nil {
			return nil, errors.New("the counsel names no value for the shunt box")
		}
		return procedure.ShuntSet{Ohm: *n.Ohm, TakeOut: n.TakeOut}, st.bench.SetShunt(*n.Ohm, n.TakeOut)
	case procedure.KindReadFirst:
		div, off, err := st.read(safety.K1, divisions)
		return procedure.FirstRead{Div: div, OffScale: off}, err
	case procedure.KindReadShunted:
		div, off, err := st.read(safety.K2, divisions)
		return procedure.ShuntedRead{Div: div, OffScale: off}, err
	case procedure.KindKeepRow:
		return procedure.RowKept{}, nil
	case procedure.KindFinish:
		return procedure.Finish{}, nil
	}
	return nil, fmt.Errorf("the counsel asks for %q, which a student cannot do here", n.Event)
}

// read closes the keys up to the given one, as far as its clearance allows,
// and reads the needle.
func (st *student) read(key safety.Key, divisions float64) (div *float64, off bool, err error) {
	verdict := st.clearance[key]
	if verdict != safety.Clear && verdict != safety.Tap {
		return nil, false, fmt.Errorf("the counsel asks for a reading with %s closed, whose clearance is %q", key, verdict)
	}
	st.bench.SetKeys(true, key == safety.K2)
	passed := math.Abs(st.bench.Deflection()) > divisions
	switch {
	case passed && verdict == safety.Clear:
		st.pinned++
	case passed:
		st.taps++
	}
	v, off := st.bench.Read()
	st.bench.SetKeys(false, false)
	if off {
		return nil, true, nil
	}
	return &v, false, nil
}

// report counts what the record shows.
func (st *student) report(s Sitting) Run {
	r := Run{Mended: st.mended, Events: s.Events(), Counsel: s.Counsel(), Pinned: st.pinned, TapsOffScale: st.taps,
		SeriesSettings: []int{}, ShuntSettings: []int{}}
	table, _ := s.State().Bench()
	n, half := table.Galvanometer.Divisions, table.Galvanometer.Step()/2
	series, shunts, usable := 0, 0, false
	for _, e := range r.Events {
		switch b := e.Body.(type) {
		case procedure.SeriesSet:
			if !usable {
				series++
			}
		case procedure.FirstRead:
			if b.Div != nil && math.Abs(*b.Div) >= n*2/3-half && math.Abs(*b.Div) <= n*0.9+half {
				usable = true
			}
		case procedure.ShuntSet:
			shunts++
		case procedure.RowKept:
			r.SeriesSettings = append(r.SeriesSettings, series)
			r.ShuntSettings = append(r.ShuntSettings, shunts)
			series, shunts, usable = 0, 0, false
		}
	}
	return r
}
