// Package convert turns a moving-coil movement into an ammeter, a voltmeter or
// a meter of several ranges: shunts, multipliers, universal shunts, what
// preferred values make of them, and what the finished meter does to a circuit.
//
// With G the movement's resistance (its swamping resistor included), Ig its
// full-scale current and n = I/Ig:
//
//	shunt               S = G Ig/(I − Ig) = G/(n − 1)
//	multiplier          M = V/Ig − G
//	universal shunt     T₁ = G Ig/(I₁ − Ig), Tⱼ = Ig (G + T₁)/Iⱼ
//
// where Tⱼ is the resistance from the common end to the tap of range j, ranges
// in increasing order. All follow from Ohm's and Kirchhoff's laws; the
// universal shunt is W. E. Ayrton's and T. Mather's (cited from memory).
package convert

import (
	"fmt"
	"math"
	"slices"

	"example.org/halve/physics/preferred"
	"example.org/halve/physics/quantity"
)

// Kind is what a movement is turned into.
type Kind string

// The conversions. An ammeter or a voltmeter of several ranges has a resistor
// for each; a chain has its multipliers in one string, with a tap for each
// range.
const (
	Ammeter   Kind = "ammeter"
	Voltmeter Kind = "voltmeter"
	Chain     Kind = "chain"
	Universal Kind = "universal"
)

// InAmperes reports whether the finished meter's ranges are currents.
func (k Kind) InAmperes() bool { return k == Ammeter || k == Universal }

// Unit is the unit of the ranges.
func (k Kind) Unit() quantity.Unit {
	if k.InAmperes() {
		return quantity.Ampere
	}
	return quantity.Volt
}

// Movement is what is to be turned into a meter.
type Movement struct {
	Resistance float64 // of the coil, ohm
	FullScale  float64 // the current for the last mark, A
	// Standard uncertainties, 0 where none is known, and their correlation.
	UResistance, UFullScale, Correlation float64
	// Swamp is a resistor of manganin in series with the coil, inside the
	// shunt, ohm; 0 for none.
	Swamp float64
}

// branch is the resistance of the movement's branch.
func (m Movement) branch() float64 { return m.Resistance + m.Swamp }

// Voltage is the fall across the movement, swamping resistor included, at full
// scale, V.
func (m Movement) Voltage() float64 { return m.FullScale * m.branch() }

// OhmsPerVolt is what the movement makes of a voltmeter, 1/Ig, Ω/V.
func (m Movement) OhmsPerVolt() float64 { return 1 / m.FullScale }

// u combines the uncertainties of the two by their sensitivities (law of
// propagation, JCGM 100:2008, 5.2.2).
func (m Movement) u(dG, dI float64) float64 {
	a, b := dG*m.UResistance, dI*m.UFullScale
	return math.Sqrt(max(0, a*a+b*b+2*m.Correlation*a*b))
}

// Bounds of what is taken for a movement; they are far wider than any that is
// made (common practice, no source).
const (
	minResistance, maxResistance = 1e-3, 1e6 // ohm
	minFullScale, maxFullScale   = 1e-9, 100 // A
	maxRange                     = 1e6       // A or V
)

// MaxRanges is how many ranges one meter may have.
const MaxRanges = 20

// Validate reports what cannot be true of a movement.
func (m Movement) Validate() error {
	in := func(v, lo, hi float64) bool { return v >= lo && v <= hi }
	switch {
	case !in(m.Resistance, minResistance, maxResistance):
		return fmt.Errorf("the movement's resistance lies between %g and %g Ω, not %g", minResistance, maxResistance, m.Resistance)
	case !in(m.FullScale, minFullScale, maxFullScale):
		return fmt.Errorf("the movement's full-scale current lies between %g and %g A, not %g", minFullScale, float64(maxFullScale), m.FullScale)
	case !in(m.Swamp, 0, maxResistance):
		return fmt.Errorf("the swamping resistor lies between 0 and %g Ω, not %g", maxResistance, m.Swamp)
	case !in(m.UResistance, 0, math.MaxFloat64) || !in(m.UFullScale, 0, math.MaxFloat64) || !in(m.Correlation, -1, 1):
		return fmt.Errorf("standard uncertainties are 0 or more and their correlation lies between -1 and 1")
	}
	return nil
}

// A Design is a finished conversion.
type Design struct {
	Kind     Kind
	Movement Movement
	Series   preferred.Series
	// Steps are the resistors, one for each range: of a universal shunt and a
	// chain in increasing order of the ranges, else in the order asked for.
	Steps []Step
}

// A Step is the resistor of one range. Of a universal shunt it is the section
// from the range's tap to the tap of the next range, or to the common end; of
// a chain the section from the range before.
type Step struct {
	Range  float64 // full scale, A or V
	URange float64 // its standard uncertainty if the resistor has exactly Ohm, same unit
	Ohm    float64 // the exact value
	UOhm   float64 // its standard uncertainty, ohm
	// Tap is what lies between the common end and this range's tap (of a
	// chain: the whole multiplier), ohm; else Ohm.
	Tap float64
	// Power is the most that this resistor takes at the full scale of any
	// range, W, and Rating the rating to ask for (see Derating).
	Power, Rating float64
	// Meter is the finished meter's resistance on this range, ohm, and Burden
	// the fall across it at full scale, V.
	Meter, Burden float64
	// Sensitivity is the relative change of the full scale for a small
	// relative change of this resistor.
	Sensitivity float64
	// Single is the nearest preferred value, Pair the best two in series or in
	// parallel. The full-scale errors are those of a meter in which every
	// resistor is so chosen.
	Single, Pair Choice
}

// A Choice is a resistor, or two as one, of a series of preferred values.
type Choice struct {
	Ohms     []float64 // each resistor, ohm
	Parallel bool      // of two: in parallel, else in series
	Ohm      float64   // what they come to, ohm
	Error    float64   // what it leaves of an error at full scale, relative
	// Tolerance is what the tolerance of all resistors on which this range
	// depends makes of its full scale besides, at the worst, relative.
	Tolerance float64
}

// New designs the conversion of a movement for the given full scales, in
// ampere or volt. It fails where a range cannot be had, and says why.
func New(kind Kind, m Movement, s preferred.Series, ranges []float64) (Design, error) {
	d := Design{Kind: kind, Movement: m, Series: s}
	if err := m.Validate(); err != nil {
		return d, err
	}
	if len(ranges) == 0 || len(ranges) > MaxRanges {
		return d, fmt.Errorf("a meter has 1 to %d ranges, not %d", MaxRanges, len(ranges))
	}
	ranges = slices.Clone(ranges)
	if kind == Universal || kind == Chain {
		slices.Sort(ranges)
	}
	for i, r := range ranges {
		if err := d.reachable(r); err != nil {
			return d, err
		}
		if slices.Contains(ranges[:i], r) {
			return d, fmt.Errorf("the range %s is asked for twice", d.written(r))
		}
	}
	d.Steps = make([]Step, len(ranges))
	for i, r := range ranges {
		d.Steps[i].Range = r
	}
	d.resistors()
	d.meter()
	d.choose()
	return d, nil
}

// written is a range or another value in the unit of the ranges.
func (d Design) written(v float64) string { return quantity.Format(v, d.Kind.Unit(), 4) }

// reachable says why a range cannot be had.
func (d Design) reachable(r float64) error {
	own, what, resistor := d.Movement.FullScale, "full-scale current", "shunt"
	if !d.Kind.InAmperes() {
		own, what, resistor = d.Movement.Voltage(), "voltage at full scale", "multiplier"
	}
	switch {
	case !(r > 0 && r <= maxRange):
		return fmt.Errorf("a range lies above 0 and is not above %g %s, not %g", float64(maxRange), d.Kind.Unit(), r)
	case math.Abs(r-own) <= 1e-9*own:
		return fmt.Errorf("the range %s is the movement's own %s: it needs no %s; ask for more", d.written(r), what, resistor)
	case r < own && d.Kind.InAmperes():
		return fmt.Errorf("the range %s cannot be had: it is below the movement's own full-scale current, %s, and a shunt can only take current away; ask for more, or use a more sensitive movement",
			d.written(r), d.written(own))
	case r < own:
		return fmt.Errorf("the range %s cannot be had: it is below the %s that the movement itself needs at full scale, and the multiplier would have to be negative (%s); ask for more, or use a movement that needs less",
			d.written(r), d.written(own), quantity.Format(r/d.Movement.FullScale-d.Movement.branch(), quantity.Ohm, 4))
	}
	return nil
}

// resistors works out the exact values.
func (d *Design) resistors() {
	m := d.Movement
	g, ig := m.branch(), m.FullScale
	for i := range d.Steps {
		s := &d.Steps[i]
		switch d.Kind {
		case Ammeter:
			over := s.Range - ig
			s.Ohm = g * ig / over
			s.UOhm = m.u(ig/over, g*s.Range/(over*over))
			s.Tap, s.Power = s.Ohm, over*over*s.Ohm
		case Voltmeter:
			s.Ohm = s.Range/ig - g
			s.UOhm = m.u(-1, -s.Range/(ig*ig))
			s.Tap, s.Power = s.Ohm, ig*ig*s.Ohm
		case Chain:
			s.Tap = s.Range/ig - g
			if i == 0 {
				s.Ohm, s.UOhm = s.Tap, m.u(-1, -s.Range/(ig*ig))
			} else {
				step := s.Range - d.Steps[i-1].Range
				s.Ohm, s.UOhm = step/ig, m.u(0, -step/(ig*ig))
			}
			s.Power = ig * ig * s.Ohm
		case Universal:
			s.Tap = d.tap(s.Range)
			rest := 0.0
			if i+1 < len(d.Steps) {
				rest = d.tap(d.Steps[i+1].Range)
			}
			s.Ohm = s.Tap - rest
			// Every section is the same share of the whole shunt, whatever the
			// movement: it has the whole shunt's relative uncertainty.
			lowest := d.Steps[0].Range
			over := lowest - ig
			s.UOhm = s.Ohm * m.u(1/g, lowest/(ig*over))
			// Of the ranges whose current passes through this section, its own
			// is the greatest; on the higher ones it carries Ig alone.
			i0 := s.Range - ig
			if rest > 0 {
				i0 = max(i0, ig)
			}
			s.Power = i0 * i0 * s.Ohm
		}
		s.Rating = Rating(s.Power)
	}
}

// tap is the resistance from the common end of a universal shunt to the tap of
// a range: T₁ I₁/I.
func (d *Design) tap(i float64) float64 {
	lowest := d.Steps[0].Range
	return d.Movement.branch() * d.Movement.FullScale / (lowest - d.Movement.FullScale) * lowest / i
}

// meter works out what the finished meter is to a circuit.
func (d *Design) meter() {
	m := d.Movement
	g, ig := m.branch(), m.FullScale
	for i := range d.Steps {
		s := &d.Steps[i]
		switch d.Kind {
		case Ammeter:
			s.Burden, s.Meter = ig*g, ig*g/s.Range
			s.URange = m.u(ig/s.Ohm, s.Range/ig)
			s.Sensitivity = -(1 - ig/s.Range)
		case Universal:
			whole := d.Steps[0].Tap
			s.Burden = ig * (g + whole - s.Tap)
			s.Meter = s.Burden / s.Range
			s.URange = m.u(ig/s.Tap, s.Range/ig)
			// Iⱼ = Ig (G + T₁)/Tⱼ, and the section is part of both sums.
			s.Sensitivity = s.Ohm/(g+whole) - s.Ohm/s.Tap
		default:
			s.Burden, s.Meter = s.Range, s.Range/ig
			s.URange = m.u(ig, s.Range/ig)
			s.Sensitivity = s.Ohm / (g + s.Tap)
		}
	}
}

// Realised returns the full scales that the meter has with the given resistors
// in the place of the exact ones, in the order of the steps.
func (d Design) Realised(ohms []float64) []float64 {
	m := d.Movement
	g, ig := m.branch(), m.FullScale
	out := make([]float64, len(ohms))
	switch d.Kind {
	case Ammeter:
		for i, s := range ohms {
			out[i] = ig * (1 + g/s)
		}
	case Voltmeter:
		for i, r := range ohms {
			out[i] = ig * (g + r)
		}
	case Chain:
		sum := g
		for i, r := range ohms {
			sum += r
			out[i] = ig * sum
		}
	case Universal:
		tap := 0.0
		for i, r := range slices.Backward(ohms) {
			tap += r
			out[i] = tap
		}
		for i, t := range out {
			out[i] = ig * (g + tap) / t
		}
	}
	return out
}

// choose finds the preferred values.
func (d *Design) choose() {
	single, pair := make([]float64, len(d.Steps)), make([]float64, len(d.Steps))
	for i := range d.Steps {
		s := &d.Steps[i]
		v := d.Series.Nearest(s.Ohm)
		p := d.Series.BestPair(s.Ohm)
		s.Single = Choice{Ohms: []float64{v}, Ohm: v}
		s.Pair = Choice{Ohms: []float64{p.A, p.B}, Parallel: p.Parallel, Ohm: p.Ohm}
		single[i], pair[i] = v, p.Ohm
	}
	bySingle, byPair := d.Realised(single), d.Realised(pair)
	for i := range d.Steps {
		s := &d.Steps[i]
		s.Single.Error = bySingle[i]/s.Range - 1
		s.Pair.Error = byPair[i]/s.Range - 1
		s.Single.Tolerance = d.swing(*s) * d.Series.Tolerance()
		s.Pair.Tolerance = s.Single.Tolerance
	}
}

// swing is the relative change of a range's full scale for a small relative
// change of all its resistors, each to the worse side: the sum of the magnitudes
// of its sensitivities. Two resistors as one are no better than either.
func (d *Design) swing(s Step) float64 {
	g := d.Movement.branch()
	switch d.Kind {
	case Chain:
		return s.Tap / (g + s.Tap)
	case Universal:
		// Those between the range's tap and the movement add to the full scale,
		// those below the tap take from it: (T₁ − Tⱼ)/(G + T₁) and
		// 1 − Tⱼ/(G + T₁).
		whole := d.Steps[0].Tap
		return 1 + (whole-2*s.Tap)/(g+whole)
	}
	return math.Abs(s.Sensitivity)
}

// Shunted is the movement with a universal shunt as one: what a voltmeter's
// multipliers are worked out for where both share the movement.
func (d Design) Shunted() (m Movement, ok bool) {
	if d.Kind != Universal {
		return Movement{}, false
	}
	g, whole := d.Movement.branch(), d.Steps[0].Tap
	return Movement{Resistance: g * whole / (g + whole), FullScale: d.Steps[0].Range}, true
}

// Derating is how much more than its power a resistor's rating is to be, so
// that it stays cool and keeps its value (common practice, no source).
const Derating = 2

// Rating returns the least usual rating that holds Derating times a power, W;
// NaN where no usual resistor does, and a shunt bar or several resistors are
// needed. The ratings are the usual ones of the trade, from memory.
func Rating(power float64) float64 {
	for _, r := range []float64{0.125, 0.25, 0.5, 1, 2, 3, 5, 7, 10, 15, 25, 50, 100} {
		if r >= Derating*power {
			return r
		}
	}
	return math.NaN()
}

// Loading is the relative error that the meter on a step's range makes by
// being there: of a voltmeter, across a source of the given internal
// resistance; of an ammeter, in a loop of the given resistance. It is 0 or
// below, and −1 in an ammeter's loop without resistance.
func (d Design) Loading(s Step, source float64) float64 {
	if d.Kind.InAmperes() {
		return -s.Meter / (source + s.Meter)
	}
	return -source / (source + s.Meter)
}
