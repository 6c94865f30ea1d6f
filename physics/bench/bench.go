// Package bench is a simulated bench: instruments with true values of their
// own within what their plates state, which answers like the real thing. What
// comes out are readings: blurred, rounded to the step of the scale, cut off
// at its end. The truths stay inside.
//
// The needle stands where the nodal solution of the circuit puts it; no
// formula of half deflection is used. All chance comes from the random source
// that is passed in, so that a seed decides everything.
package bench

import (
	"fmt"
	"math"
	"math/rand/v2"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/circuit"
	"example.org/halve/physics/uncertainty"
)

// Repeatability is the standard deviation of a reading about the needle's
// place, in steps of the scale's resolution (the record's convention).
const Repeatability = 0.15

// Bench is a simulated bench with its boxes and keys as they stand. It is not
// safe for use by several goroutines at once.
type Bench struct {
	stated        apparatus.Bench
	hidden        Hidden
	rand          *rand.Rand
	voltmeter     float64 // the voltmeter's own relative error
	series, shunt box
	k1, k2        bool
	planted       *planted   // nil on a sound bench
	first, other  deflection // as written last, and at the series value before
}

// box is a resistance box, the error of each of its coils or dials, and what
// it truly makes as it stands.
type box struct {
	*apparatus.Range
	errors []float64 // relative
	said   apparatus.Setting
	ohm    float64
}

// New sets up a bench with its boxes at nought and its keys open. r serves
// for the readings' scatter. It fails where the stated bench or the hidden
// values cannot be.
func New(stated apparatus.Bench, h Hidden, r *rand.Rand) (*Bench, error) {
	if err := stated.Validate(); err != nil {
		return nil, fmt.Errorf("bench: %w", err)
	}
	if err := h.validate(stated); err != nil {
		return nil, err
	}
	series, err := apparatus.NewRange(stated.SeriesBox)
	if err != nil {
		return nil, fmt.Errorf("bench: series box: %w", err)
	}
	shunt, err := apparatus.NewRange(stated.ShuntBox)
	if err != nil {
		return nil, fmt.Errorf("bench: shunt box: %w", err)
	}
	return &Bench{
		stated: stated, hidden: h, rand: r,
		voltmeter: voltmeterLimit * (2*r.Float64() - 1),
		series:    box{Range: series, errors: h.SeriesErrors},
		shunt:     box{Range: shunt, errors: h.ShuntErrors},
	}, nil
}

// SetSeries sets the series box to a nominal value in ohm; takeOut lists the
// plugs to take out, nil the fewest that make the value. It fails, changing
// nothing, where the box cannot be set so.
func (b *Bench) SetSeries(ohm float64, takeOut []float64) error {
	if err := b.series.set("series", ohm, takeOut); err != nil {
		return err
	}
	b.seriesSet()
	return nil
}

// SetShunt sets the shunt box, as SetSeries does the series box.
func (b *Bench) SetShunt(ohm float64, takeOut []float64) error {
	if err := b.shunt.set("shunt", ohm, takeOut); err != nil {
		return err
	}
	b.shuntSet()
	return nil
}

func (x *box) set(which string, ohm float64, takeOut []float64) error {
	s, ok := x.Exact(ohm)
	if takeOut != nil {
		var err error
		if s, err = x.Sum(takeOut); err != nil {
			return fmt.Errorf("bench: %s box: %w", which, err)
		}
		ok = math.Abs(s.Ohm-ohm) <= 1e-6*max(ohm, 1)
	}
	if !ok {
		return fmt.Errorf("bench: the %s box cannot be set to %g ohm so", which, ohm)
	}
	coils := x.Box().Coils
	if x.Box().Kind == apparatus.Decade {
		coils = x.Box().Dials
	}
	x.said, x.ohm = s, 0
	for i, n := range x.Multiset(s) {
		x.ohm += float64(n) * coils[i] * (1 + x.errors[i])
	}
	return nil
}

// SetKeys closes (true) or opens the keys.
func (b *Bench) SetKeys(k1, k2 bool) {
	if k1 && !b.k1 && b.planted != nil {
		b.planted.age++
	}
	b.k1, b.k2 = k1, k2
}

// currents solves the circuit as it stands and returns the current through
// the movement and that of the source, ampere. A circuit without any
// resistance at all drives nothing through the movement.
func (b *Bench) currents(k1, k2 bool) (movement, source float64) {
	h := b.hidden
	netlist, branch, err := b.netlist(circuit.Bench{
		EMF: h.EMF, SourceResistance: h.SourceResistance, Series: b.series.ohm,
		Movement: h.Resistance, Shunt: b.shunt.ohm, K1: k1, K2: k2,
	})
	if err != nil {
		return 0, 0
	}
	s, err := netlist.Solve()
	if err != nil {
		return 0, 0
	}
	return s.Current(branch.Movement), s.Current(branch.Source)
}

// Deflection is where the needle truly stands, in divisions from the zero
// mark, as if there were no end stops. It is for a scorer of what happens to
// the needle; whoever stands at the bench sees only Read.
func (b *Bench) Deflection() float64 {
	current, _ := b.currents(b.k1, b.k2)
	return b.pointer(current/b.hidden.Merit) + b.hidden.Zero
}

// stopDiv is how far below a left zero the needle meets its stop, in
// divisions (common practice, no source).
const stopDiv = 1.0

// Read is one look at the needle at rest: its place, blurred by the
// repeatability and rounded to the step of the scale, in divisions. off tells
// that it is beyond the last mark, on which side by the sign of div; div is
// then the end mark itself and measures nothing. On a scale with its zero at
// the left a needle driven the wrong way rests against its stop, one division
// below zero.
func (b *Bench) Read() (div float64, off bool) {
	g := b.stated.Galvanometer
	step := g.Step()
	needle := b.Deflection()
	x, scatter := b.written(needle)
	if math.Abs(needle) > g.Divisions+step/2 {
		x = needle // nobody misreads the end
	}
	if !g.Centre() {
		x = max(x, -stopDiv)
	}
	x = math.Round((x+scatter*step*b.rand.NormFloat64())/step) * step
	if math.Abs(x) > g.Divisions {
		return math.Copysign(g.Divisions, x), true
	}
	if b.k1 && !b.k2 {
		b.note(x - b.hidden.Zero)
	}
	return plain(x), false
}

// plain rounds off what a multiple of a decimal step has below a millionth,
// and the sign of nought.
func plain(x float64) float64 { return math.Round(x*1e6)/1e6 + 0 }

// The simulated voltmeter (common practice, no source): limits of its error,
// relative and the same at every use, and the step of its last figure.
const (
	voltmeterLimit = 0.005
	voltmeterStep  = 0.01 // V
)

// Voltmeter reads the source in volt, with the reading's standard
// uncertainty: its EMF with K1 open or, loaded, what is left of it at its
// terminals with K1 closed, K2 open and the boxes as they stand.
func (b *Bench) Voltmeter(loaded bool) (volts, u float64) {
	v := b.hidden.EMF
	if loaded {
		_, i := b.currents(true, false)
		v -= i * b.hidden.SourceResistance
	}
	v = plain(math.Round(v*(1+b.voltmeter)/voltmeterStep) * voltmeterStep)
	return v, math.Hypot(voltmeterLimit*v/uncertainty.Rectangular, voltmeterStep/uncertainty.Resolution)
}

// Stated returns the bench as its plates state it.
func (b *Bench) Stated() apparatus.Bench { return b.stated }

// Hidden returns the true values, for telling them when all is done.
func (b *Bench) Hidden() Hidden { return b.hidden }
