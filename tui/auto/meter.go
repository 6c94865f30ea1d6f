package auto

import (
	"fmt"
	"math"

	"example.org/halve/procedure"
	"example.org/halve/procedure/metercheck"
	"example.org/halve/safety"
)

// A MeterSitting is the meter check that is being kept; *record.MeterSitting is
// one.
type MeterSitting interface {
	Accept(procedure.Body) (metercheck.Counsel, error)
	Counsel() metercheck.Counsel
	State() *metercheck.State
	Events() []procedure.Event
}

// A MeterBench is the simulated bench of a meter check.
type MeterBench interface {
	// Approach turns the source slowly until the pointer stands on a mark, in
	// divisions, or the reference shows most.
	Approach(mark, most float64)
	Off()
	Tap()
	AdjustZero()
	Read() (div float64)
	Reference() float64
	Pinned() int
	// Look looks for a fault by its name and puts it right where it is there.
	Look(id string) bool
}

// A MeterRun is what a meter check came to.
type MeterRun struct {
	// Mended is the number of the event after which a fault was named and
	// mended, 0 if none was.
	Mended  int
	Events  []procedure.Event
	Counsel metercheck.Counsel // the last one
	Pinned  int                // how often the pointer was driven past an end of its scale
}

// ObeyMeter goes on with a meter check until the counsel asks for nothing more.
// It fails where a counsel cannot be obeyed: a refused event, a point against
// a stop, or no end. With look set, the student looks for a cause that is more
// probable than not, and strikes what is proposed.
func ObeyMeter(s MeterSitting, b MeterBench, look bool) (MeterRun, error) {
	st := technician{MeterHand: &MeterHand{MeterBench: b}, look: look}
	c := s.Counsel()
	for c.Next != nil {
		if len(s.Events()) >= maxEvents {
			return st.report(s), fmt.Errorf("the counsel came to no end within %d events", maxEvents)
		}
		body := st.mend(c)
		if body == nil {
			var err error
			if body, err = st.do(s.State(), c); err != nil {
				return st.report(s), fmt.Errorf("after event %d: %w", c.Seq, err)
			}
		}
		var err error
		if c, err = s.Accept(body); err != nil {
			return st.report(s), err
		}
		if c.Refused != nil {
			return st.report(s), fmt.Errorf("the counsel after event %d asks for %s, which is refused: %s", c.Seq, body.Kind(), *c.Refused)
		}
	}
	return st.report(s), nil
}

// technician is the scripted student at the bench of a meter check.
type technician struct {
	*MeterHand
	look     bool
	mended   int
	mendedID string
}

// mend looks for the cause that is more probable than not and returns the
// strike that is proposed for what it spoiled, nil for none.
func (st *technician) mend(c metercheck.Counsel) procedure.Body {
	if !st.look {
		return nil
	}
	for _, f := range c.Findings {
		if f.ID == metercheck.ReferencePoor {
			continue
		}
		if f.Probability <= sure {
			return nil
		}
		if st.mended == 0 && st.Look(f.ID) {
			st.mended, st.mendedID = c.Seq, f.ID
		}
		if st.mended == 0 || st.mendedID != f.ID || f.Mend == nil {
			return nil
		}
		return procedure.Strike{Event: f.Mend.Seq, Why: f.ID}
	}
	return nil
}

// do carries out what is asked for and returns what there is to write down.
func (st *technician) do(s *metercheck.State, c metercheck.Counsel) (procedure.Body, error) {
	switch c.Next.Event {
	case procedure.KindWired:
		return procedure.Wired{}, nil
	case procedure.KindZero:
		div, _ := st.Follow(c)
		return procedure.ZeroRead{Div: div}, nil
	case procedure.KindFinish:
		return procedure.Finish{}, nil
	case metercheck.KindPoint:
		if c.Clearance == nil || c.Clearance.Verdict == safety.Stop {
			return nil, fmt.Errorf("the counsel asks for a point that is not cleared")
		}
		b, _ := s.Bench()
		div, reference := st.Follow(c)
		return b.At(c.Next.Direction, div, reference, *c.Next.Tapped), nil
	}
	return nil, fmt.Errorf("the counsel asks for %q, which a student cannot do here", c.Next.Event)
}

func (st *technician) report(s MeterSitting) MeterRun {
	return MeterRun{Mended: st.mended, Events: s.Events(), Counsel: s.Counsel(), Pinned: st.Pinned()}
}

// A MeterHand works a simulated bench as the counsel asks: source, case and
// zero adjuster.
type MeterHand struct {
	MeterBench
	at    approach // where the source was brought last
	zeros int      // how often the zero was set
}

// approach is a mark and the way in which it was reached.
type approach struct {
	direction string
	mark      float64
}

// Follow does what a counsel asks for and returns what is then to be read; the
// reference's reading is of use for a point only.
func (h *MeterHand) Follow(c metercheck.Counsel) (div, reference float64) {
	n := c.Next
	if n.Event != metercheck.KindPoint {
		h.Off()
		h.at = approach{}
		// Until a point is taken the zero is to be set; at the end it is only
		// to be read.
		if c.Result == nil {
			h.Tap()
			if h.zeros++; h.zeros > 1 {
				h.AdjustZero()
			}
		}
		return h.Read(), 0
	}
	if at := (approach{n.Direction, *n.TargetDiv}); !*n.Tapped || at != h.at {
		if n.Direction == metercheck.Rising && math.Abs(*n.TargetDiv) <= math.Abs(h.at.mark) {
			h.Off() // it is reached from nearer the zero
		}
		h.Approach(*n.TargetDiv, n.Stop())
		h.at = at
	}
	if *n.Tapped {
		h.Tap()
	}
	return h.Read(), h.Reference()
}
