// Package panel is a simulated panel meter on a bench with a reference and a
// source: it has faults of its own within or beyond its class and answers like
// the real thing. What comes out are readings; the truths stay inside.
//
// All chance comes from the random source that is passed in, so that a seed
// decides everything.
package panel

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"

	"example.org/halve/physics/accuracy"
	"example.org/halve/physics/movement"
	"example.org/halve/physics/uncertainty"
)

// Stated is the bench as its plates and papers state it.
type Stated struct {
	accuracy.Meter
	Step       float64 // to which readings are estimated, div
	UReference float64 // the reference's standard uncertainty, A or V
	SourceMax  float64 // the most the source can drive, A or V; 0 where that is not known
}

// Repeatability is the standard deviation of a reading about the pointer's
// place, in steps of the scale's resolution (the record's convention).
const Repeatability = 0.15

// UReading is the standard uncertainty of one reading of the pointer, in
// divisions: half a step to either side and the repeatability.
func UReading(step float64) float64 {
	return math.Hypot(step/uncertainty.Resolution, step*Repeatability)
}

// Hidden is what is true of a simulated meter. Its JSON is the hidden object of
// a bench file. With x the true value as a part of the range, the pointer of a
// meter without friction stands at
//
//	zero + N (span·x (1 + gain)) + 4 bow x (1 − x)
//
// and on the way back from x₁ by 4 hysteresis (x/x₁)(1 − x/x₁) further out.
type Hidden struct {
	Zero       float64 `json:"zero_div"`        // where the pointer rests without current, div
	Gain       float64 `json:"gain"`            // relative error of the sensitivity
	Bow        float64 `json:"bow_div"`         // departure in the middle of the scale, div
	Friction   float64 `json:"friction_div"`    // the pointer may stop short by as much, div
	Hysteresis float64 `json:"hysteresis_div"`  // how much further out on the way back, div, at the most
	Damping    float64 `json:"damping"`         // ratio, 1 is critical
	Reference  float64 `json:"reference_error"` // relative error of the reference
	Span       float64 `json:"span"`            // 1; another where the meter is on another range
}

// With returns h with the values that a bench file's hidden object names in
// place of its own. It fails for an unknown name and for values that cannot be.
func (h Hidden) With(object []byte, s Stated) (Hidden, error) {
	d := json.NewDecoder(bytes.NewReader(object))
	d.DisallowUnknownFields()
	if err := d.Decode(&h); err != nil {
		return Hidden{}, fmt.Errorf("panel: hidden: %w", err)
	}
	return h, h.validate(s)
}

func (h Hidden) validate(s Stated) error {
	n := s.Divisions
	for _, v := range []struct {
		name      string
		v, lo, hi float64
	}{
		{"zero_div", h.Zero, -n, n}, {"gain", h.Gain, -0.9, 9}, {"bow_div", h.Bow, -n, n},
		{"friction_div", h.Friction, 0, n}, {"hysteresis_div", h.Hysteresis, -n, n},
		{"damping", h.Damping, 0.01, 10}, {"reference_error", h.Reference, -0.5, 0.5}, {"span", h.Span, 0.001, 1000},
	} {
		if !(v.v >= v.lo && v.v <= v.hi) {
			return fmt.Errorf("panel: hidden: %s lies between %g and %g, not %g", v.name, v.lo, v.hi, v.v)
		}
	}
	return nil
}

// Bench is a simulated bench with its source as it stands. It is not safe for
// use by several goroutines at once.
type Bench struct {
	stated  Stated
	hidden  Hidden
	rand    *rand.Rand
	planted string
	mended  bool
	// reversed, bent and misread are faults that are no property of a meter.
	reversed bool
	bend     float64 // div, once the pointer has struck the end
	bent     bool
	misread  int // the reading that is misread, 0 for none
	readings int

	source  float64 // what the source truly drives, A or V
	pointer float64 // where the pointer rests, div
	far     float64 // the greatest magnitude reached since the zero, as a part of the range
	pinned  int
}

// New sets up a bench with the source at nought.
func New(s Stated, h Hidden, r *rand.Rand) (*Bench, error) {
	if err := s.Validate(); err != nil {
		return nil, fmt.Errorf("panel: %w", err)
	}
	if err := h.validate(s); err != nil {
		return nil, err
	}
	b := &Bench{stated: s, hidden: h, rand: r}
	b.Tap()
	return b, nil
}

// Hidden returns what is true of the meter as it was set up.
func (b *Bench) Hidden() Hidden { return b.hidden }

// Pinned counts how often the pointer was driven past an end of its scale: by
// more than the room that a scale has beyond its last mark.
func (b *Bench) Pinned() int { return b.pinned }

// x is the source as a part of the range.
func (b *Bench) x() float64 { return b.source / b.stated.Range }

// The room beyond the last mark, and on a left-zero scale below the zero, up
// to the stops: 3 % of the scale, at least one division (common practice, no
// source).
func (b *Bench) room() float64 { return max(1, 0.03*b.stated.Divisions) }

// steady is where the pointer would rest without friction, div.
func (b *Bench) steady() float64 {
	h, n := b.hidden, b.stated.Divisions
	x := b.x()
	if b.reversed {
		x = -x
	}
	at := math.Abs(x)
	out := h.Span*n*at*(1+h.Gain) + 4*h.Bow*at*(1-at)
	if b.far > 0 && at < b.far {
		part := at / b.far
		out += 4 * h.Hysteresis * part * (1 - part)
	}
	out = math.Copysign(out, x) + h.Zero
	if b.bent {
		out += b.bend
	}
	return out
}

// stops are the ends between which the pointer can move.
func (b *Bench) stops() (lo, hi float64) {
	hi = b.stated.Divisions + b.room()
	if b.stated.Centre {
		return -hi, hi
	}
	return -b.room(), hi
}

// rest puts the pointer where it comes to rest, held by the stops.
func (b *Bench) rest(at float64) {
	lo, hi := b.stops()
	b.pointer = min(max(at, lo), hi)
}

// settle lets the pointer find its rest after the source was changed slowly:
// it lags behind by half of the friction to all of it, and does not move for
// less than the friction.
func (b *Bench) settle() {
	s, f := b.steady(), b.hidden.Friction
	if away := s - b.pointer; math.Abs(away) > f {
		b.rest(s - math.Copysign(f*(0.5+b.rand.Float64()/2), away))
	}
	b.strike(b.pointer)
}

// wander notes how far out the source was turned; at nought that is forgotten.
func (b *Bench) wander() {
	if b.far = max(b.far, math.Abs(b.x())); b.source == 0 {
		b.far = 0
	}
}

// strike notes how far out the pointer went; at the end a pointer can bend.
func (b *Bench) strike(at float64) {
	b.wander()
	if b.bend != 0 && !b.bent && math.Abs(at) > 0.95*b.stated.Divisions {
		b.bent = true
		b.settle()
	}
}

// Set brings the source to a value at once. A pointer that is less than
// critically damped swings beyond its rest, and then settles from whichever
// side.
func (b *Bench) Set(value float64) {
	from := b.pointer
	b.source = value
	s := b.steady()
	swing := movement.Overshoot(b.hidden.Damping) * (s - from)
	lo, hi := b.stops()
	if top := s + swing; top > hi || top < lo {
		b.pinned++
	}
	b.wander()
	if math.Abs(swing) > 2*b.hidden.Friction {
		b.rest(s + b.hidden.Friction*(2*b.rand.Float64()-1))
		b.strike(s + swing)
		return
	}
	b.settle()
}

// Off brings the source slowly to nought.
func (b *Bench) Off() { b.creep(0) }

// creep brings the source slowly to a value.
func (b *Bench) creep(value float64) {
	b.source = value
	b.settle()
}

// Approach turns the source slowly from where it stands until the pointer
// stands at a mark, in divisions, or until the reference shows most (A or V,
// in magnitude), whichever is first, as a careful person does. Whether it is
// turned up or down is decided by where the mark lies, and it is turned down
// to most where it stands above that. The pointer is aligned with the mark as
// well as it can be read.
func (b *Bench) Approach(mark, most float64) {
	side := 1.0
	if mark < 0 {
		side = -1
	}
	limit := most / (1 + b.hidden.Reference)
	if m := b.stated.SourceMax; m > 0 {
		limit = min(limit, m)
	}
	if b.source*side < 0 { // its leads are exchanged with the source at nought
		b.Off()
	}
	if b.source*side > limit {
		b.creep(limit * side)
	}
	mark += b.blur()
	const steps = 2000 // to the range
	step := b.stated.Range / steps * side
	if b.pointer*side > mark*side {
		step = -step
	}
	for range 2 * steps {
		left := (mark - b.pointer) * step // above 0 while the mark lies ahead
		next := b.source + step
		switch {
		case left <= 0 || next*side > limit:
			return
		case next*side < 0:
			b.Off()
			return
		}
		b.creep(next)
	}
}

// blur is the error of one reading or alignment, div.
func (b *Bench) blur() float64 {
	return b.stated.Step * (b.rand.Float64() - 0.5 + Repeatability*b.rand.NormFloat64())
}

// Tap is a light tap on the case: the pointer rests within a quarter of the
// friction of where it belongs (common practice, no source).
func (b *Bench) Tap() {
	b.rest(b.steady() + b.hidden.Friction/4*(2*b.rand.Float64()-1))
}

// Read returns the reading that a person would write down, in divisions.
func (b *Bench) Read() float64 {
	b.readings++
	at := b.pointer + b.stated.Step*Repeatability*b.rand.NormFloat64()
	if b.readings == b.misread {
		// By a numbered mark, as one misreads a scale.
		wrong := math.Round(b.stated.Divisions / 10)
		if at > b.stated.Divisions/2 {
			wrong = -wrong
		}
		at += wrong
	}
	lo, hi := b.stops()
	return math.Round(min(max(at, lo), hi)/b.stated.Step)*b.stated.Step + 0 // never a negative nought
}

// Reference returns what the reference shows, A or V.
func (b *Bench) Reference() float64 { return b.source * (1 + b.hidden.Reference) }

// Pointer is where the pointer truly stands, in divisions.
func (b *Bench) Pointer() float64 { return b.pointer }

// AdjustZero sets the mechanical zero by its adjuster, as well as the pointer
// can be seen; with the source at nought. On a bench with its zero off on
// purpose it does nothing before Look has found that.
func (b *Bench) AdjustZero() {
	if b.planted == ZeroOff && !b.mended {
		return
	}
	b.hidden.Zero += b.blur() - b.pointer
	b.Tap()
}
