// Package slips finds what went wrong in a hand calculation of a
// galvanometer's resistance G or figure of merit k: from the numbers of the
// rows and the value as it was written, the slips that lead to it, most
// probable first.
//
// Every slip is a formula; what it gives is compared with the written value
// within the rounding of that value. The slips and their formulas are common
// practice of school laboratories, no source.
package slips

import (
	"math"
	"slices"

	"example.org/halve/physics"
	"example.org/halve/physics/quantity"
)

// Slack is how far a hand calculation may be off through rounded intermediate
// values, relative (interface contract).
const Slack = 0.003

// Quantity is what was worked out.
type Quantity int

// The quantities of the practical.
const (
	Resistance Quantity = iota // G, ohm
	Merit                      // k, ampere per division
)

// unit is the unit in which the quantity is stated.
func (q Quantity) unit() quantity.Unit {
	if q == Merit {
		return quantity.AmperePerDivision
	}
	return quantity.Ohm
}

// Row is what a row was worked out from.
type Row struct {
	Number        int     // the row's number in the record, for the wording
	Series, Shunt float64 // R and S, ohm
	First         float64 // θ1, div, above 0
	Shunted       float64 // θ2, div, above 0
}

// Case is a hand calculation beside what it was worked out from.
type Case struct {
	Quantity         Quantity
	Stated           quantity.Written
	Expected         float64 // the right value
	U                float64 // its standard uncertainty; 0 not known
	EMF              float64 // E, V
	SourceResistance float64 // r, ohm
	Divisions        float64 // N, from zero to the end of the scale; 0 not known
	Step             float64 // to which the scale is read, div; 0 not known
	Rows             []Row   // those that give a G, in their order
	At               int     // the place of the row in Rows, or Mean; of any other nothing is said
	// OwnResistance are the student's own values of G for this row, or for
	// the mean, that k may have been worked out from.
	OwnResistance []float64
	// OwnRows are, for a mean, the student's own values of this quantity row
	// by row, NaN where there is none. It is nil or as long as Rows.
	OwnRows []float64
}

// Mean as Case.At says that the mean of all rows was worked out.
const Mean = -1

// Slip is an explanation of a value. Probability is its share among all
// explanations, "none of these" included. Say is what to tell the student.
type Slip struct {
	ID          string
	Probability float64
	Say         string
}

// Agrees reports whether a value agrees with the expected one: within half a
// unit of its last written digit and Slack. A written zero has no figure that
// could agree with anything.
func Agrees(stated quantity.Written, expected float64) bool {
	return stated.Value != 0 && math.Abs(stated.Value-expected) <= stated.LastDigit/2+Slack*math.Abs(expected)
}

// Bounds on what is listed (common practice, no source).
const (
	most     = 5     // explanations listed
	least    = 0.02  // probability below which one is not worth a line
	rival    = 0.10  // probability from which a second one, or "something else", is named beside the first
	hidden   = 0.001 // relative difference from the right value up to which a slip cannot be seen
	shareR   = 0.001 // r/R from which the source's resistance can be seen at all
	nearness = 0.05  // how near a formula must come to be named as the nearest
)

// Find explains the stated value of c: nothing where it agrees, save a remark
// on too many digits; otherwise the slips that lead to it, most probable
// first, among them Unexplained with what to compare where it has a share.
func Find(c Case) []Slip {
	found := []Slip{}
	if c.At != Mean && (c.At < 0 || c.At >= len(c.Rows)) {
		return found
	}
	if !finite(c.Expected) || !finite(c.Stated.Value) || !finite(c.Stated.LastDigit) || c.Expected <= 0 {
		return found
	}
	if Agrees(c.Stated, c.Expected) {
		if c.tooFine() {
			found = append(found, Slip{TooManyDigits, 1, c.sayTooFine()})
		}
		return found
	}
	ways := c.ways()
	var groups []group
	total := unknownWeight * unknownDensity
	for _, w := range ways {
		p := w.prior * likelihood(c.Stated, w.value)
		if !(p > 0) || math.IsInf(p, 0) {
			continue
		}
		total += p
		i := slices.IndexFunc(groups, func(g group) bool { return g.id == w.id })
		if i < 0 {
			i, groups = len(groups), append(groups, group{id: w.id})
		}
		groups[i].p += p
		groups[i].ways = append(groups[i].ways, scored{w, p})
	}
	for i := range groups {
		g := &groups[i]
		g.p /= total
		slices.SortStableFunc(g.ways, func(a, b scored) int { return sign(b.p - a.p) })
	}
	slices.SortStableFunc(groups, func(a, b group) int { return sign(b.p - a.p) })
	for i, g := range groups {
		if g.p < least || len(found) == most-1 {
			break
		}
		found = append(found, Slip{g.id, g.p, c.say(groups, i)})
	}
	if rest := unknownWeight * unknownDensity / total; rest >= rival || len(found) == 0 {
		s := Slip{Unexplained, rest, c.sayUnexplained(ways, len(found) > 0)}
		at := len(found)
		for at > 0 && found[at-1].Probability < rest {
			at--
		}
		found = slices.Insert(found, at, s)
	}
	return found
}

// group is the ways that are one slip, the best first.
type group struct {
	id   string
	p    float64
	ways []scored
}

type scored struct {
	way
	p float64
}

// likelihood is the density, per unit of relative change, of writing the
// stated value when the calculation gives v: flat within the rounding of the
// last digit, falling off to a tenth over Slack, which is for intermediate
// values rounded on the way, and none beyond.
func likelihood(stated quantity.Written, v float64) float64 {
	h, s, off := stated.LastDigit/2, Slack*math.Abs(v), math.Abs(stated.Value-v)
	over := max(0, off-h)
	if s == 0 || over > s*(1+1e-9) {
		return 0
	}
	return (1 - 0.9*over/s) * math.Abs(stated.Value) / (2*h + 1.1*s)
}

// tooFine reports whether the stated value goes on beyond the second figure
// of its standard uncertainty (JCGM 100:2008, 7.2.6: at most two are given).
func (c Case) tooFine() bool {
	if !(c.U > 0) || math.IsInf(c.U, 0) {
		return false
	}
	return c.Stated.LastDigit < 0.99*math.Pow(10, math.Floor(math.Log10(c.U))-1)
}

// values returns the right value of every row, NaN where a row gives none.
func (c Case) values() []float64 {
	vs := make([]float64, len(c.Rows))
	for i, r := range c.Rows {
		g, k := c.solve(r)
		if vs[i] = g; c.Quantity == Merit {
			vs[i] = k
		}
	}
	return vs
}

// solve returns G and k of a row, NaN where it gives none.
func (c Case) solve(r Row) (g, k float64) {
	g, err := physics.Resistance(r.Series+c.SourceResistance, r.Shunt, r.First, r.Shunted)
	if err != nil {
		return math.NaN(), math.NaN()
	}
	k, err = physics.Merit(c.EMF, r.Series+c.SourceResistance, g, r.First)
	if err != nil {
		k = math.NaN()
	}
	return g, k
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func sign(v float64) int {
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}
