package bench

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/halve/physics/circuit"
	"example.org/halve/physics/fault"
)

// mostSize bounds a planted fault's size, in standard deviations of its kind:
// beyond it hardly any bench is seen.
const mostSize = 1.5

// leastShift is the smallest shift of the rest position that is planted, in
// parts of its standard deviation; less would be no fault.
const leastShift = 0.3

// slipsWithin is the number of closings of K1 within which a slip of one reading
// happens.
const slipsWithin = 2

// leastOdd is how far a reading written wrong lies from the right one at least,
// in divisions; less would be no mistake.
const leastOdd = 2.0

// planted is a fault on the bench and how it has come about there.
type planted struct {
	fault.Fault
	x      float64       // its size, unit normal
	toggle *fault.Toggle // the plug, once there was a setting to miscount
	delta  float64       // what the slip adds to the series or the shunt box at this setting, ohm
	moved  *float64      // what the series box gained when K2 was closed, ohm
	spent  *float64      // the setting at which a slip of one row happened, ohm
	age    int           // how often K1 was closed since it was planted
	slip   int           // of those, the one at which the reading goes wrong
	odd    float64       // what is written then, as a part of the scale
}

// deflection is a first deflection as it was written, from the needle's rest
// position, and the series value it was read at.
type deflection struct{ series, div float64 }

// note remembers what was written with K2 open.
func (b *Bench) note(div float64) {
	if b.first.series != b.series.said.Ohm {
		b.other = b.first
	}
	b.first = deflection{b.series.said.Ohm, div}
}

// Faults lists the names of the faults that this bench can have.
func (b *Bench) Faults() []string {
	var out []string
	for _, f := range fault.Catalogue() {
		if b.can(f) && !slices.Contains(out, string(f.ID)) {
			out = append(out, string(f.ID))
		}
	}
	return out
}

// can reports whether this bench can have the fault.
func (b *Bench) can(f fault.Fault) bool {
	centre := b.stated.Galvanometer.Centre()
	return f.Benchable() && (f.ID != fault.WrongSide || centre) && f.Fits(b.stated.SeriesBox, b.stated.ShuntBox)
}

// unplantable says of what the program may find why no bench can have it.
func unplantable(id string) string {
	switch id {
	case string(fault.WrongSide):
		return "this scale has its zero at the left, no reading is on another side"
	case string(fault.SeriesComplement), string(fault.ShuntComplement):
		return "its box has dials, and no plugs to be read the wrong way round"
	case string(fault.Unexplained):
		return "it is what is said when nothing known fits; it is no fault of its own"
	case "bench-unfit":
		return "it is said of instruments that cannot do the practical: state such instruments in a bench file"
	}
	return ""
}

// Plant puts a fault on the bench, of the given name or, for "any", one that
// chance picks; its form, its size and its plug are left to chance. It fails
// for a fault that this bench cannot have, and says why or what there is.
func (b *Bench) Plant(id string) error {
	names := b.Faults()
	if id == "any" {
		id = names[b.rand.IntN(len(names))]
	}
	var forms []fault.Fault
	for _, f := range fault.Catalogue() {
		if string(f.ID) == id && b.can(f) {
			forms = append(forms, f)
		}
	}
	if len(forms) == 0 {
		if why := unplantable(id); why != "" {
			return fmt.Errorf("bench: %s cannot be put on this bench: %s", id, why)
		}
		return fmt.Errorf("bench: no fault %q: a bench can have %s, or any for chance's pick", id, strings.Join(names, ", "))
	}
	p := &planted{Fault: forms[b.rand.IntN(len(forms))], slip: 1 + b.rand.IntN(slipsWithin), odd: b.rand.Float64()}
	for range 100 {
		p.x = b.rand.NormFloat64()
		if math.Abs(p.x) <= mostSize && (p.Size.Mid != 0 || math.Abs(p.x) >= leastShift) {
			break
		}
	}
	b.planted = p
	return nil
}

// Planted returns the fault on the bench and its size, in standard deviations
// of its kind; ok is false on a sound bench.
func (b *Bench) Planted() (f fault.Fault, size float64, ok bool) {
	if b.planted == nil {
		return fault.Fault{}, 0, false
	}
	return b.planted.Fault, b.planted.x, true
}

// Fault names the fault on the bench, "" on a sound one.
func (b *Bench) Fault() string {
	if b.planted == nil {
		return ""
	}
	return string(b.planted.ID)
}

// Look is somebody looking for a fault: where it is there, it is put right, and
// the boxes then make what is said. It reports whether it was there.
func (b *Bench) Look(id string) bool {
	here := id != "" && b.Fault() == id
	if here {
		b.planted = nil
	}
	return here
}

// seriesSet and shuntSet let a plug be miscounted as its box is set.
func (b *Bench) seriesSet() {
	if p := b.planted; p != nil {
		p.moved = nil
		if p.Series == fault.OnePlug && !p.Between {
			p.delta = b.miscount(&b.series)
		}
	}
}

func (b *Bench) shuntSet() {
	if p := b.planted; p != nil && p.Shunt == fault.OnePlug {
		p.delta = b.miscount(&b.shunt)
	}
}

// miscount is what one wrong plug adds to a box as it is said to stand. A slip
// of one row happens at the first setting that it can happen at.
func (b *Bench) miscount(x *box) float64 {
	p := b.planted
	if p.Span == fault.OneRow && p.spent != nil {
		if *p.spent == x.said.Ohm {
			return p.delta
		}
		return 0
	}
	if p.toggle == nil {
		var can []fault.Toggle
		for _, t := range fault.Toggles(x.Box()) {
			if made, ok := t.Of(x.Box(), x.said); ok && made > 0 {
				can = append(can, t)
			}
		}
		if len(can) == 0 {
			return 0
		}
		t := can[b.rand.IntN(len(can))]
		p.toggle = &t
	}
	made, ok := p.toggle.Of(x.Box(), x.said)
	if ok && p.spent == nil {
		at := x.said.Ohm
		p.spent = &at
	}
	return made - x.said.Ohm
}

// netlist is the circuit as it stands, with its fault.
func (b *Bench) netlist(c circuit.Bench) (*circuit.Netlist, circuit.Branches, error) {
	p := b.planted
	if p == nil {
		n, branches := c.Netlist()
		return n, branches, nil
	}
	slip := func(s fault.BoxSlip, x *box, ohm float64) float64 {
		if s == fault.OnePlug {
			if !p.Between {
				return max(0, ohm+p.delta)
			}
			if c.K2 && p.moved == nil {
				d := b.miscount(x)
				p.moved = &d
			}
			if p.moved != nil { // it stays moved until it is set again
				return max(0, ohm+*p.moved)
			}
			return ohm
		}
		return max(0, ohm+s.Made(x.Range, x.said, p.Times)-x.said.Ohm)
	}
	c.Series = slip(p.Series, &b.series, c.Series)
	c.Shunt = slip(p.Shunt, &b.shunt, c.Shunt)
	return p.Netlist(c, p.x)
}

// pointer is where the pointer stands where the current alone would bring it
// to x, both from its rest position.
func (b *Bench) pointer(x float64) float64 {
	p := b.planted
	switch {
	case p == nil || !p.Pointer || p.age == 0: // nothing has moved it yet
		return x
	case !b.k1 && p.ID != fault.ZeroOff:
		return x
	}
	return p.Write(b.look(x), p.size())
}

func (b *Bench) look(x float64) fault.Look {
	l := fault.Look{Div: x, Divisions: b.stated.Galvanometer.Divisions, Shunted: b.k2, Age: float64(max(0, b.planted.age-1)), First: b.first.div, Other: b.other.div}
	if b.other.series == 0 {
		l.Other = math.Copysign(l.Divisions, l.First)
	}
	return l
}

// written is what is written down, before it is rounded, where the needle
// stands at x; scatter is the standard deviation of its blur in steps.
func (b *Bench) written(x float64) (div, scatter float64) {
	p := b.planted
	if p == nil || !b.k1 {
		return x, Repeatability
	}
	scatter = Repeatability
	if p.Loose {
		scatter = fault.Scatter
	}
	if p.Span == fault.OneReading && p.age != p.slip || p.Pointer {
		return x, scatter
	}
	n := b.stated.Galvanometer.Divisions
	switch {
	case p.WorkedOut:
		if b.first.series != b.series.said.Ohm || p.Span == fault.OneRow && p.spent != nil && *p.spent != b.first.series {
			return x, scatter
		}
		y := p.Write(b.look(x-b.hidden.Zero), 0) + b.hidden.Zero
		if y != x {
			at := b.first.series
			p.spent, scatter = &at, 0
		}
		return y, scatter
	case p.Any:
		if y := math.Copysign(n*p.odd, x); math.Abs(y-x) >= leastOdd {
			return y, scatter
		}
		return math.Copysign(n*math.Mod(p.odd+0.5, 1), x), scatter
	case p.Write != nil:
		return p.Write(b.look(x-b.hidden.Zero), p.size()) + b.hidden.Zero, scatter
	}
	return x, scatter
}

func (p *planted) size() float64 {
	size, _ := p.Size.At(p.x)
	return size
}
