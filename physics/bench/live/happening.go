package live

import (
	"math"
	"time"

	"example.org/halve/physics/movement"
)

// Do is what a hand did.
type Do int

// The acts of hands.
const (
	Nothing    Do = iota
	Close         // a key was closed
	Open          // a key was opened
	Tap           // a key was pressed for an instant
	Turn          // a plug was moved or a dial turned
	Join          // a lead was joined or taken away
	Screw         // the zero screw was turned
	Knock         // the case was tapped
	LookedOver    // something was looked over
)

// Act is something that hands did.
type Act struct {
	Do  Do
	Key Key // of Close, Open and Tap
	Box Box // of Turn
}

// Kind is a kind of happening.
type Kind int

// What happens at a bench that is worth remembering.
const (
	// Pegged: the current drove the needle past the last mark.
	Pegged Kind = iota
	// Touched: the needle would rest on the scale, but its first swing met the
	// end stop.
	Touched
	// SetUnderCurrent: a plug or a dial was moved with K1 closed.
	SetUnderCurrent
	// K2LeftClosed: K1 was opened while K2 was still closed.
	K2LeftClosed
	// Shorted: the source was short-circuited.
	Shorted
	// Mended: the fault that the bench had was put right.
	Mended
)

// Happening is one of them, with the act that brought it about and the bench
// as it stood.
type Happening struct {
	Kind      Kind
	At        time.Duration
	Act       Act
	Right     bool    // of Pegged and Touched: on the right side
	SeriesOhm float64 // as the series box showed
	ShuntOhm  float64
	K2        bool // K2 was closed
	// Times is how many times the full scale the steady deflection was.
	Times float64
	Fault string // of Mended: its name
}

// shortCircuit is the current above which a school source counts as
// short-circuited, ampere (common practice, no source).
const shortCircuit = 0.5

// happen remembers a happening, once for each act.
func (b *Bench) happen(h Happening) {
	if b.seen[h.Kind] {
		return
	}
	b.seen[h.Kind] = true
	h.At, h.Act, h.SeriesOhm, h.ShuntOhm, h.K2 = b.at, b.act, b.series.said(), b.shunt.said(), b.keys[K2]
	h.Times = math.Abs(b.drive.Steady) / b.stated.Galvanometer.Divisions
	b.happened = append(b.happened, h)
}

// mends does what may mend the fault, and remembers it if it did.
func (b *Bench) mends(do func()) {
	id, was := b.Fault()
	do()
	if _, is := b.Fault(); was && !is {
		b.happen(Happening{Kind: Mended, Fault: id})
	}
}

// beyond tells the end past which the present current drives the needle: +1
// beyond the last mark on the right, -1 beyond that on the left or below a left
// zero, 0 where it would rest on the scale.
func (b *Bench) beyond() int {
	n := b.stated.Galvanometer.Divisions
	switch {
	case b.drive.Steady > n:
		return 1
	case b.drive.Steady < math.Max(-n, b.coil.StopLo):
		return -1
	}
	return 0
}

// peg remembers that the needle was driven past the end, once until it comes
// back: whatever else is done meanwhile did not bring it there.
func (b *Bench) peg() {
	if b.pegged == 0 {
		b.pegged = b.beyond()
		b.happen(Happening{Kind: Pegged, Right: b.pegged > 0})
	}
}

// hit remembers that the needle met a stop.
func (b *Bench) hit(h movement.Hit) {
	switch low := b.coil.StopLo > -b.stated.Galvanometer.Divisions && h.Speed < 0; { // the stop beside a left zero
	case b.beyond() != 0:
		b.peg()
	case !low && math.Abs(h.Speed) > 1: // swinging back over a left zero is nothing
		b.happen(Happening{Kind: Touched, Right: h.Speed > 0})
	}
}

// Happenings returns what has happened so far, in order.
func (b *Bench) Happenings() []Happening { return b.happened }
