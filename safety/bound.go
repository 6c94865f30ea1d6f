package safety

import (
	"math"
	"slices"
)

// A FirstReading is a deflection read with K1 closed and K2 open, its zero
// subtracted, as an absolute value.
type FirstReading struct {
	SeriesOhm float64 // nominal value of the series box, ohm
	Div       float64 // deflection, div; not used for a reading off scale
	OffScale  bool    // the needle was beyond the end of the scale
	Zero      float64 // how far the needle rested from zero then, div
	Drift     float64 // how far its rest may have been from the one subtracted, div: it moved between two zeros
	// EMFLow and EMFHigh are the least and the greatest factor by which the
	// EMF may have changed since; 0 stands for 1. An infinite EMFHigh says
	// that the reading does not limit the deflection at all.
	EMFLow, EMFHigh float64
}

// weaker and stronger are the factors by which the EMF may have changed since:
// at most 1, and at least 1.
func (r FirstReading) weaker() float64 {
	if r.EMFLow > 0 {
		return min(r.EMFLow, 1)
	}
	return 1
}

func (r FirstReading) stronger() float64 { return max(r.EMFHigh, 1) }

// Loop is what is known of the loop of source, series box and galvanometer.
type Loop struct {
	EMFHigh      float64        // highest EMF believed, V; above 0
	Tolerance    float64        // limit of each coil of the series box, relative
	Divisions    float64        // from zero to the end mark; above 0
	Zero         float64        // how far the needle rests from zero now, on either side, div
	FullScaleLow float64        // smallest full-scale current believed, A; 0 where none is stated
	Doubt        float64        // how far a reading may be wrong, div: resolution and zero together
	Still        float64        // a reading up to this, in div, may be of a needle that has not moved
	RestHigh     float64        // largest G + r stated, ohm; 0 where it is not
	Readings     []FirstReading // the first deflections so far that are not struck
}

// Room is the deflection that the needle can surely make on the scale: it
// begins where the needle rests, and the leads may be either way round.
func (l Loop) Room() float64 { return max(l.Divisions-l.Zero, 0) }

// Rise is how far the EMF may have risen since a reading, relative: a cell
// recovers when it rests (common practice, no source).
const Rise = 0.01

// FullScaleTrust is the share of the stated full-scale current that is
// believed while no reading has confirmed it (common practice, no source).
const FullScaleTrust = 0.9

// MostRest is the largest G + r, in ohm, that readings alone may prove: school
// movements have up to 500 ohm (common practice, no source). Readings that
// would prove more are likelier of a box that did not stand as was said, and a
// needle held back by ohms that are not there runs past the end.
const MostRest = 1000

// UsualRest is the largest G + r, in ohm, that one reading alone may prove where
// G is not stated (common practice, no source): a needle that stays back by
// more than such a galvanometer explains is likelier misread.
const UsualRest = 300

// LeastOfPlate is the share of the stated sensitivity that a single reading
// may leave of it: one that shows less is likelier a slip (common practice, no
// source).
const LeastOfPlate = 0.5

// Bound is the set of all loops that are compatible with what is known, as a
// polygon in a = k/E and b = a(G+r): by Ohm's law the deflection theta at the
// series resistance R obeys 1/theta = aR + b with a > 0 and b >= 0, whatever
// the EMF, the internal resistance and the movement are.
//
// A reading theta ± d at the nominal value R1 of a box of tolerance t says
//
//	a R1 (1+t) + b >= 1/((theta+d)(1+Rise))   and   a R1 (1-t) + b <= 1/(theta-d),
//
// with the first never beyond the end of the scale on which it was seen, and
// both with the EMF now at the worst beside that of the reading. A stated full
// scale says a >= FullScaleLow/(Divisions EMFHigh). The worst deflection at R is
// the reciprocal of the least aR(1-t) + b over the polygon, which is at a corner.
// Derived from Kirchhoff's laws; checked against the nodal solver over random
// benches in the tests.
type Bound struct {
	corners   []corner
	tolerance float64
	empty     bool // nothing bounds the deflection
	refuted   bool // the stated full scale contradicts the readings
	torn      bool // the readings contradict one another
	lone      bool // one reading alone keeps the needle back
}

// corner is a vertex of the polygon, in 1/(div ohm) and 1/div.
type corner struct{ a, b float64 }

// usualCorners is room for most bounds: a reading makes two corners more at
// most, and mostly takes some away.
const usualCorners = 16

// Bound collects what is known into a bound. Readings at which the needle may
// not have moved at all are left out: they may mean that K1 made no
// contact. Where the full scale contradicts the readings it is dropped, and
// where the readings contradict one another, or one alone would prove too much,
// only the loosest of them counts.
func (l Loop) Bound() Bound {
	b := Bound{tolerance: l.Tolerance}
	told := l.Readings
	mute := func(r FirstReading) bool { return !r.OffScale && !(r.Div > l.Still) }
	if slices.ContainsFunc(told, mute) {
		told = slices.DeleteFunc(slices.Clone(told), mute)
	}
	var room, more [usualCorners]corner
	polygon := func(rs []FirstReading, plate float64) []corner { // until the next one
		return l.polygon(room[:0], more[:0], rs, plate)
	}
	plate := l.FullScaleLow / (l.Divisions * l.EMFHigh)
	if b.corners = slices.Clone(polygon(told, plate)); b.corners != nil {
		b.empty = plate == 0 && !bounds(told)
		if len(told) == 1 && plate > 0 && l.leastSlope(told[0])*LeastOfPlate > plate {
			b.corners = append(b.corners, corner{a: plate})
		}
		if !b.farRest(l.mostRest()) {
			rest := without(told, lowest(told))
			b.lone = b.farRest(l.usualRest()) && len(rest) == len(told)-1 && !Bound{corners: polygon(rest, plate)}.farRest(l.usualRest())
			if !b.lone {
				return b
			}
		}
	} else {
		b.refuted = plate > 0
		if b.corners = slices.Clone(polygon(told, 0)); b.corners != nil && !b.farRest(l.mostRest()) {
			b.empty = !bounds(told)
			return b
		}
	}
	b.torn, b.corners = !b.lone, make([]corner, 0, usualCorners)
	if b.torn {
		plate = 0
	}
	for _, r := range told {
		if !r.OffScale {
			b.corners = append(b.corners, polygon([]FirstReading{r}, plate)...)
		}
	}
	b.empty = !bounds(told) || anyOff(told)
	return b
}

// leastSlope is the least k/E that a reading leaves, with as much in the loop
// beside the series box as is believed of it.
func (l Loop) leastSlope(r FirstReading) float64 {
	if r.OffScale {
		return 0
	}
	return 1 / l.highest(r) / (r.SeriesOhm*(1+l.Tolerance) + l.mostRest())
}

// mostRest and usualRest are how much in the loop beside the series box is
// believed of readings, and of one alone, ohm.
func (l Loop) mostRest() float64 { return max(MostRest, l.RestHigh) }

func (l Loop) usualRest() float64 {
	if l.RestHigh > 0 {
		return l.RestHigh
	}
	return UsualRest
}

// lowest is the least series value with a reading on the scale, ohm; infinite
// if there is none.
func lowest(rs []FirstReading) float64 {
	least := math.Inf(1)
	for _, r := range rs {
		if !r.OffScale {
			least = min(least, r.SeriesOhm)
		}
	}
	return least
}

// without leaves out the readings on the scale at a series value.
func without(rs []FirstReading, ohm float64) []FirstReading {
	return slices.DeleteFunc(slices.Clone(rs), func(r FirstReading) bool { return !r.OffScale && r.SeriesOhm == ohm })
}

// farRest reports whether the readings fit one another only with more than most
// ohm in the loop beside the series box.
func (b Bound) farRest(most float64) bool {
	for _, c := range b.corners {
		if c.b <= most*c.a {
			return false
		}
	}
	return true
}

// bounds reports whether any reading limits the deflection from above.
func bounds(rs []FirstReading) bool {
	for _, r := range rs {
		if !r.OffScale {
			return true
		}
	}
	return false
}

func anyOff(rs []FirstReading) bool {
	for _, r := range rs {
		if r.OffScale {
			return true
		}
	}
	return false
}

// polygon returns the corners of the set of (a, b) that the readings and the
// plate's least a allow, nil if there are none. It cuts them in the room of p
// and of spare, which are empty.
func (l Loop) polygon(p, spare []corner, rs []FirstReading, plate float64) []corner {
	const wide = 1e7 // in 1/(div ohm) and 1/div: far beyond any galvanometer
	p = append(p, corner{0, 0}, corner{wide, 0}, corner{wide, wide}, corner{0, wide})
	cut := func(ca, cb, least float64) { p, spare = clip(spare[:0], p, ca, cb, least), p } // keep ca*a + cb*b >= least
	cut(1, 0, plate)
	for _, r := range rs {
		if r.OffScale {
			if room := l.Divisions - r.Zero; room > 0 {
				cut(-r.SeriesOhm*(1-l.Tolerance), -1, -1/(room*r.weaker()))
			}
			continue
		}
		cut(r.SeriesOhm*(1+l.Tolerance), 1, 1/l.highest(r))
		if d := r.Div - l.Doubt - r.Drift; d > 0 {
			cut(-r.SeriesOhm*(1-l.Tolerance), -1, -1/(d*r.weaker()))
		}
	}
	if len(p) == 0 {
		return nil
	}
	return p
}

// highest is the largest deflection that a reading on the scale leaves
// possible: the needle was seen on the scale, so it is never more than the way
// from where it rested to the far end. A stronger source drives it further; a
// weaker one is not credited to the needle.
func (l Loop) highest(r FirstReading) float64 {
	return min((r.Div+l.Doubt+r.Drift)*(1+Rise), l.Divisions+r.Zero) * r.stronger()
}

// clip cuts a convex polygon to the half-plane ca*a + cb*b >= least
// (Sutherland and Hodgman's method for one edge) and appends what is left to
// out.
func clip(out, p []corner, ca, cb, least float64) []corner {
	side := func(c corner) float64 { return ca*c.a + cb*c.b - least }
	slack := 1e-12 * (math.Abs(least) + 1e-12)
	for i, c := range p {
		d := p[(i+1)%len(p)]
		sc, sd := side(c), side(d)
		if sc >= -slack {
			out = append(out, c)
		}
		if sc > slack && sd < -slack || sc < -slack && sd > slack {
			from, to, t := c, d, sc/(sc-sd)
			if t > 0.5 { // from the nearer end, or a far one would swallow its digits
				from, to, t = d, c, sd/(sd-sc)
			}
			out = append(out, corner{from.a + t*(to.a-from.a), from.b + t*(to.b-from.b)})
		}
	}
	return out
}

// Worst returns the largest steady deflection that K1 closed and K2 open can
// give at the nominal series resistance ohm; ok is false where nothing bounds
// it. At 0 ohm it is finite only where the readings bound G + r.
func (b Bound) Worst(ohm float64) (div float64, ok bool) {
	if b.empty {
		return 0, false
	}
	least := math.Inf(1)
	for _, c := range b.corners {
		least = min(least, c.a*ohm*(1-b.tolerance)+c.b)
	}
	if !(least > 0) {
		return 0, false
	}
	return 1 / least, true
}

// Least returns the smallest nominal series resistance at which the steady
// deflection provably stays at or below div; ok is false where nothing bounds
// it. div is above zero.
func (b Bound) Least(div float64) (ohm float64, ok bool) {
	if b.empty {
		return 0, false
	}
	for _, c := range b.corners {
		if c.b >= (1-1e-9)/div {
			continue // the rest of the loop alone is enough
		}
		if c.a <= 0 {
			return 0, false
		}
		ohm = max(ohm, (1/div-c.b)/(c.a*(1-b.tolerance)))
	}
	return ohm, true
}

// Refuted reports whether the readings contradict the stated full scale.
func (b Bound) Refuted() bool { return b.refuted }

// Lone reports whether one reading alone, that at the lowest series value, would
// prove more in the loop than is believed of one. Until it has been made again
// the bound is that of the reading which limits the deflection least.
func (b Bound) Lone() bool { return b.lone }

// Torn reports whether the readings contradict one another within their doubt.
func (b Bound) Torn() bool { return b.torn }
