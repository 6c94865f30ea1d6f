package panel

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"example.org/halve/physics/accuracy"
)

func pick[T any](r *rand.Rand, from ...T) T { return from[r.IntN(len(from))] }

// Invention is a bench of an invented workshop.
type Invention struct {
	Stated
	Ammeter               bool
	Label, ReferenceLabel string
}

// Stock draws the panel meter of an invented workshop with a reference that is
// fit for it: at least five to one of the class limit.
func Stock(r *rand.Rand) Invention {
	number := 1 + r.IntN(80)
	s := Invention{Ammeter: r.IntN(2) == 0}
	s.Label = fmt.Sprintf("%s, panel meter %d", pick(r, "Mirefold Works", "Tarn Hollow Pumping Station", "Quillmarsh Mill"), number)
	s.ReferenceLabel = fmt.Sprintf("reference meter %d", 1+r.IntN(9))
	if s.Ammeter {
		s.Range = pick(r, 0.001, 0.01, 0.1, 0.5, 1, 5, 10)
	} else {
		s.Range = pick(r, 1.0, 5, 10, 15, 30)
	}
	s.Divisions = pick(r, 50.0, 60, 75, 100)
	s.Step = pick(r, 0.1, 0.2, 0.25, 0.5)
	s.Class = pick(r, 0.5, 1, 1.5, 2.5)
	if r.IntN(5) == 0 {
		s.Centre, s.Divisions = true, pick(r, 30.0, 50)
	}
	// A reading has to be finer than the class, or nothing can be decided.
	for UReading(s.Step) > s.LimitDiv()/4 {
		s.Step = s.Step / 2
	}
	s.UReference = s.Limit() / accuracy.Coverage / (accuracy.RatioAsked + 10*r.Float64())
	s.SourceMax = s.Range * pick(r, 1.2, 1.5, 2)
	return s
}

// Draw gives a meter true values as sound meters have them: nineteen in twenty
// within their class, a zero that was set, hardly any friction (the shares are
// common practice, no source).
func Draw(s Stated, r *rand.Rand) Hidden {
	limit := s.LimitDiv()
	if limit == 0 {
		limit = s.Divisions * 0.025
	}
	u := UReading(s.Step)
	return Hidden{
		Zero:       u / 3 * r.NormFloat64(),
		Gain:       limit / s.Divisions / 2.5 * r.NormFloat64(),
		Bow:        limit / 6 * r.NormFloat64(),
		Friction:   u / 3 * r.Float64(),
		Hysteresis: limit / 10 * math.Abs(r.NormFloat64()),
		Damping:    0.5 + 0.5*r.Float64(),
		Reference:  s.UReference / s.Range * r.NormFloat64(),
		Span:       1,
	}
}

// The faults that a bench can have, by the ids of the findings that name them.
const (
	Reversed    = "meter-reversed"
	WrongRange  = "wrong-range"
	Sticks      = "pivot-sticks"
	ZeroOff     = "meter-zero-off"
	ScaleFactor = "scale-factor"
	Bent        = "pointer-bent"
	PointOdd    = "point-odd"
)

// Faults lists them.
func Faults() []string {
	return []string{Reversed, WrongRange, Sticks, ZeroOff, ScaleFactor, Bent, PointOdd}
}

// Spans are what a meter on another range shows, as a multiple of what it
// should: the steps between ranges that are usual (common practice, no
// source).
func Spans() []float64 { return []float64{0.1, 0.2, 0.25, 0.3, 0.5, 2, 10.0 / 3, 4, 5, 10} }

// Any stands for a fault that chance picks.
const Any = "any"

// Plant puts a fault on the bench, of a size that can be seen: at least three
// standard uncertainties of a reading, and ten at the most, or what the fault
// has in their place. It fails for a name that is no fault.
func (b *Bench) Plant(id string) error {
	if id == Any {
		id = pick(b.rand, Faults()...)
	}
	if !slices.Contains(Faults(), id) {
		return fmt.Errorf("panel: there is no fault %q; the faults of a panel meter are %v", id, Faults())
	}
	b.planted = id
	u := UReading(b.stated.Step)
	size := u * (3 + 7*b.rand.Float64())
	if b.rand.IntN(2) == 0 {
		size = -size
	}
	limit := max(b.stated.LimitDiv(), 3*u)
	switch id {
	case Reversed:
		b.reversed = true
	case WrongRange:
		b.hidden.Span = pick(b.rand, Spans()...)
	case Sticks:
		b.hidden.Friction = math.Abs(size)
	case ZeroOff:
		b.hidden.Zero = size
	case ScaleFactor:
		b.hidden.Gain = math.Copysign(limit/b.stated.Divisions*(4+4*b.rand.Float64()), size)
	case Bent:
		b.bend = math.Copysign(limit*(1+2*b.rand.Float64()), size)
	case PointOdd:
		b.misread = 3 + b.rand.IntN(8)
	}
	b.Tap()
	return nil
}

// Fault is the fault that was planted, "" for none.
func (b *Bench) Fault() string { return b.planted }

// Look looks for a fault by its name and puts it right where it is there. It
// reports whether it was.
func (b *Bench) Look(id string) bool {
	if id != b.planted || b.mended {
		return false
	}
	b.mended = true
	switch id {
	case Reversed:
		b.reversed = false
	case WrongRange:
		b.hidden.Span = 1
	case Sticks:
		b.hidden.Friction = 0
	case ZeroOff:
		b.hidden.Zero = 0
	case ScaleFactor:
		b.hidden.Gain = 0
	case Bent:
		b.bend, b.bent = 0, false
	}
	b.Tap()
	return true
}
