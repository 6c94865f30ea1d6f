// Package accuracy judges an indicating meter against its accuracy class by
// readings beside a better one: the error curve, hysteresis, friction, return
// to zero, and the verdict under two rules of decision.
//
// Errors are in percent of the fiducial value, indicated minus true, as IEC
// 60051 has them; the 2016 and later editions call the intrinsic error
// "intrinsic uncertainty". What of that standard is from memory only is said
// where it is used.
package accuracy

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/halve/physics/uncertainty"
)

// Classes returns the class indexes of ammeters and voltmeters from the best
// to the coarsest (IEC 51-2 as JIS C 1102-2:1997 adopts it).
func Classes() []float64 {
	return []float64{0.05, 0.1, 0.2, 0.3, 0.5, 1, 1.5, 2, 2.5, 3, 5}
}

// Meter is the meter under test, as its dial states it.
type Meter struct {
	Range     float64 // what the end mark stands for, A or V
	Divisions float64 // from zero to the end mark, one side
	Centre    bool    // the zero lies in the middle of the scale
	Fiducial  float64 // A or V; 0 for the usual one, see FiducialValue
	Class     float64 // class index, 0 for none marked
}

// FiducialValue is what errors are stated in percent of, A or V: where the
// dial does not say otherwise, the range, and of a centre-zero scale the sum
// of both its halves. The latter is from memory; the mark on the dial and the
// standard come first.
func (m Meter) FiducialValue() float64 {
	switch {
	case m.Fiducial > 0:
		return m.Fiducial
	case m.Centre:
		return 2 * m.Range
	}
	return m.Range
}

// Indicated is what a reading in divisions stands for, A or V.
func (m Meter) Indicated(div float64) float64 { return div / m.Divisions * m.Range }

// Div is the reading at which a value would be indicated, in divisions.
func (m Meter) Div(value float64) float64 { return value / m.Range * m.Divisions }

// Limit is the greatest error that the class allows, A or V, anywhere on the
// scale: the class index as a percentage of the fiducial value. It is 0 where
// no class is marked.
func (m Meter) Limit() float64 { return m.Class / 100 * m.FiducialValue() }

// LimitDiv is the same in divisions.
func (m Meter) LimitDiv() float64 { return m.Div(m.Limit()) }

// A Reading is one comparison of the meter with the reference.
type Reading struct {
	Rising    bool    // the value was reached from nearer the zero, else from further out
	Tapped    bool    // read after a light tap
	Zero      bool    // nothing flows: the reference is 0 for certain
	Div       float64 // what the pointer showed, in divisions
	Reference float64 // what the reference showed, A or V; of a Zero, 0
}

// Doubt is how well the two instruments can be read.
type Doubt struct {
	Reference float64 // standard uncertainty of the reference, A or V
	Reading   float64 // standard uncertainty of one reading of the pointer, div
}

// A Point is a reading with its error.
type Point struct {
	Reading
	Indicated float64 // A or V
	Error     float64 // percent of the fiducial value
	U         float64 // its standard uncertainty, percent of the fiducial value
}

// Coverage is the factor from a standard to an expanded uncertainty here
// (JCGM 106 and ILAC-G8 use 2, for 95 %).
const Coverage = 2

// Expanded is the expanded uncertainty of the error, percent.
func (p Point) Expanded() float64 { return Coverage * p.U }

// A Correction is what is to be added to a reading at a mark, from the mean of
// rising and falling.
type Correction struct {
	Div   float64 // the mark, div
	Value float64 // true minus indicated, A or V
	// U is its standard uncertainty, A or V: that of the readings, and that a
	// later reading may be reached either way, half the difference between
	// rising and falling to either side (a rectangle, JCGM 100:2008, 4.3.7).
	U float64
}

// Verdict is the outcome of a comparison with a limit.
type Verdict string

// The verdicts.
const (
	Conforms       Verdict = "conforms"
	DoesNotConform Verdict = "does-not-conform"
	Undecided      Verdict = "undecided"
)

// Words is the verdict as people say it.
func (v Verdict) Words() string {
	switch v {
	case Conforms:
		return "conforms"
	case DoesNotConform:
		return "does not conform"
	}
	return "cannot be decided with this reference"
}

// Ratios of the class limit to the reference's expanded uncertainty. The
// standard asks for the first (IEC 60051-9:2019: the reference's uncertainty at
// most 0.2 times the class index); the others are common practice, no source.
const (
	RatioAsked = 5.0 // below it, it is said
	RatioPoor  = 4.0 // below it, the reference is poor
	RatioLeast = 3.0 // below it, only the three-way verdict is given
)

// Evaluation is what the readings say of the meter. Pointers are nil where
// there are no readings that say it; percentages are of the fiducial value.
type Evaluation struct {
	Points        []Point // in the order of the readings, zeros included
	Worst         int     // place in Points of the greatest error, −1 for none
	Hysteresis    *float64
	Friction      *float64
	ZeroReturn    *float64
	Repeatability *float64
	Ratio         *float64 // class limit to the reference's expanded uncertainty
	Simple        *Verdict // by |error| ≤ limit
	Guarded       *Verdict // by |error| ≤ limit − U, three-way
	Deserved      *float64 // the best class whose limit holds every error with its U
	Corrections   []Correction
}

// atMark is how far apart two readings of the same mark may lie, as a part of
// the divisions (common practice, no source).
const atMark = 0.05

// Evaluate works out errors and verdicts. Of zeros read before the first point
// only the last counts, since the pointer may have been set between them.
func Evaluate(m Meter, readings []Reading, d Doubt) Evaluation {
	e := Evaluation{Worst: -1}
	kept := counted(readings)
	percent := func(value float64) float64 { return 100 * value / m.FiducialValue() }
	reading := d.Reading
	for _, group := range m.repeats(kept) {
		values := make([]float64, len(group))
		for i, r := range group {
			values[i] = percent(m.Indicated(r.Div) - r.Reference)
		}
		spread := slices.Max(values) - slices.Min(values)
		if e.Repeatability == nil || spread > *e.Repeatability {
			e.Repeatability = &spread
		}
		// Three readings or more can show that the pointer comes back less
		// well than it can be read.
		if sample, err := uncertainty.TypeA(values); err == nil && len(group) >= 3 {
			reading = max(reading, m.Div(sample.SD/100*m.FiducialValue()))
		}
	}
	for _, r := range kept {
		p := Point{Reading: r, Indicated: m.Indicated(r.Div)}
		p.Error = percent(p.Indicated - r.Reference)
		u := m.Indicated(reading)
		if !r.Zero {
			u = math.Hypot(u, d.Reference)
		}
		p.U = percent(u)
		e.Points = append(e.Points, p)
		if i := len(e.Points) - 1; e.Worst < 0 || math.Abs(p.Error) > math.Abs(e.Points[e.Worst].Error) {
			e.Worst = i
		}
	}
	e.compare(m)
	e.correct(m)
	e.judge(m, d)
	return e
}

// counted leaves out the zeros before the last one that precedes all points.
func counted(readings []Reading) []Reading {
	first := slices.IndexFunc(readings, func(r Reading) bool { return !r.Zero })
	if first < 0 {
		first = len(readings)
	}
	return readings[max(0, first-1):]
}

// repeats groups readings of the same mark that were reached alike and not
// tapped, where there are two or more.
func (m Meter) repeats(readings []Reading) [][]Reading {
	var groups [][]Reading
next:
	for _, r := range readings {
		if r.Zero || r.Tapped {
			continue
		}
		for i, g := range groups {
			if g[0].Rising == r.Rising && m.sameMark(g[0].Div, r.Div) {
				groups[i] = append(g, r)
				continue next
			}
		}
		groups = append(groups, []Reading{r})
	}
	return slices.DeleteFunc(groups, func(g []Reading) bool { return len(g) < 2 })
}

// sameMark reports whether two readings are of one mark.
func (m Meter) sameMark(a, b float64) bool { return math.Abs(a-b) <= atMark*m.Divisions }

// greater keeps the greatest of what was seen.
func greater(so **float64, v float64) {
	if *so == nil || v > **so {
		*so = &v
	}
}

// compare finds hysteresis, friction and the return to zero.
func (e *Evaluation) compare(m Meter) {
	var before, after *Point
	for i := range e.Points {
		a := &e.Points[i]
		if a.Zero {
			if before == nil {
				before = a
			} else {
				after = a
			}
			continue
		}
		for j := range e.Points {
			b := &e.Points[j]
			switch {
			case i == j || b.Zero || !m.sameMark(a.Div, b.Div):
			case a.Rising && !b.Rising && !a.Tapped && !b.Tapped:
				greater(&e.Hysteresis, math.Abs(a.Error-b.Error))
			case a.Rising == b.Rising && !a.Tapped && b.Tapped && j == i+1:
				greater(&e.Friction, math.Abs(a.Error-b.Error))
			}
		}
	}
	if before != nil && after != nil {
		back := math.Abs(after.Error - before.Error)
		e.ZeroReturn = &back
	}
}

// correct makes the table of corrections: at every mark that was read, true
// minus indicated, by the mean of what was read rising and what falling.
func (e *Evaluation) correct(m Meter) {
	type mark struct {
		div, sum, u [2]float64 // rising, falling
		n           [2]float64
	}
	var marks []mark
next:
	for at, p := range e.Points {
		way := 0
		if !p.Rising && !(p.Zero && at == 0) { // a zero that is not the first is come back to
			way = 1
		}
		add := func(k *mark) {
			k.div[way] += p.Div
			k.sum[way] += p.Reference - p.Indicated
			k.u[way] = p.U
			k.n[way]++
		}
		for i := range marks {
			k := &marks[i]
			if m.sameMark((k.div[0]+k.div[1])/(k.n[0]+k.n[1]), p.Div) {
				add(k)
				continue next
			}
		}
		marks = append(marks, mark{})
		add(&marks[len(marks)-1])
	}
	for _, k := range marks {
		c := Correction{}
		ways := 0.0
		for way := range 2 {
			if k.n[way] == 0 {
				continue
			}
			ways++
			c.Div += k.div[way] / k.n[way]
			c.Value += k.sum[way] / k.n[way]
			// The reference's share is common to all: nothing is gained by
			// the mean.
			c.U = max(c.U, k.u[way]/100*m.FiducialValue())
		}
		if ways == 2 {
			half := (k.sum[0]/k.n[0] - k.sum[1]/k.n[1]) / 2
			c.U = math.Hypot(c.U, half/uncertainty.Rectangular)
		}
		c.Div /= ways
		c.Value /= ways
		e.Corrections = append(e.Corrections, c)
	}
	slices.SortFunc(e.Corrections, func(a, b Correction) int {
		switch {
		case a.Div < b.Div:
			return -1
		case a.Div > b.Div:
			return 1
		}
		return 0
	})
}

// judge compares the errors with the class.
func (e *Evaluation) judge(m Meter, d Doubt) {
	measured := slices.ContainsFunc(e.Points, func(p Point) bool { return !p.Zero })
	if d.Reference > 0 && m.Class > 0 {
		ratio := Ratio(m.Limit(), Coverage*d.Reference)
		e.Ratio = &ratio
	}
	if !measured {
		return
	}
	for _, c := range Classes() {
		if e.guarded(c) == Conforms {
			e.Deserved = &c
			break
		}
	}
	if m.Class <= 0 {
		return
	}
	simple, guarded := e.simple(m.Class), e.guarded(m.Class)
	if e.Ratio != nil && *e.Ratio < RatioLeast {
		simple = guarded
	}
	e.Simple, e.Guarded = &simple, &guarded
}

// Ratio is that of a limit to an expanded uncertainty in the same unit, as in
// "five to one".
func Ratio(limit, expanded float64) float64 { return limit / expanded }

// simple holds every error to a class by simple acceptance.
func (e *Evaluation) simple(class float64) Verdict {
	for _, p := range e.Points {
		if Simple(p.Error, class) != Conforms {
			return DoesNotConform
		}
	}
	return Conforms
}

// guarded holds every error to a class with its guard band.
func (e *Evaluation) guarded(class float64) Verdict {
	out := Conforms
	for _, p := range e.Points {
		switch Guarded(p.Error, p.Expanded(), class) {
		case DoesNotConform:
			return DoesNotConform
		case Undecided:
			out = Undecided
		}
	}
	return out
}

// Simple is simple acceptance (JCGM 106:2012, 8.2; ILAC-G8:09/2019): the error
// conforms if its magnitude is not above the limit. All in the same unit.
func Simple(err, limit float64) Verdict {
	if math.Abs(err) <= limit*(1+rounding) {
		return Conforms
	}
	return DoesNotConform
}

// Guarded is acceptance with a guard band of the expanded uncertainty
// (ILAC-G8:09/2019, w = U): the error conforms if it lies within the limit by
// at least that much, does not if it lies outside by more than that, and
// cannot be decided in between. All in the same unit.
func Guarded(err, expanded, limit float64) Verdict {
	switch e := math.Abs(err); {
	case e <= (limit-expanded)*(1+rounding):
		return Conforms
	case e > (limit+expanded)*(1+rounding):
		return DoesNotConform
	}
	return Undecided
}

// rounding lets an error of exactly the limit be one: 0.1 V of 10 V is 1 %,
// whatever its last bit.
const rounding = 1e-12

// Conformance is the probability that a quantity lies from lo to hi, where y
// was measured with the standard uncertainty u (above 0) and nothing else is
// known: normal, JCGM 106:2012, 7.4. lo may be −Inf and hi +Inf.
func Conformance(y, u, lo, hi float64) float64 {
	n := distuv.UnitNormal
	return n.CDF((hi-y)/u) - n.CDF((lo-y)/u)
}

// Validate reports what cannot be true of a meter.
func (m Meter) Validate() error {
	in := func(v, lo, hi float64) bool { return v >= lo && v <= hi }
	const most = 1e6 // A or V
	switch {
	case !in(m.Range, 1e-9, most):
		return fmt.Errorf("the range lies above 0 and is at most %g, not %g", most, m.Range)
	case !in(m.Divisions, 2, 1000):
		return fmt.Errorf("the scale has 2 to 1000 divisions from zero to its end, not %g", m.Divisions)
	case m.Fiducial != 0 && !in(m.Fiducial, m.Range/10, most*10):
		return fmt.Errorf("the fiducial value is at least a tenth of the range, not %g", m.Fiducial)
	case m.Class != 0 && !in(m.Class, 0.01, 20):
		return fmt.Errorf("the class index lies between 0.01 and 20, such as 1.5, not %g", m.Class)
	}
	return nil
}
