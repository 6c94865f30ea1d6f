package bench

import (
	"fmt"
	"math"
	"slices"

	"example.org/halve/physics/circuit"
	"example.org/halve/physics/fault"
)

// mostSize bounds a planted fault's size, in standard deviations of its kind:
// beyond it hardly any bench is seen.
const mostSize = 1.5

// leastShift is the smallest shift of the rest position that is planted, in
// parts of its standard deviation; less would be no fault.
const leastShift = 0.3

// slipsWithin is the number of looks with K1 closed within which a slip of one
// reading happens.
const slipsWithin = 2

// planted is a fault on the bench and how it has come about there.
type planted struct {
	fault.Fault
	x      float64       // its size, unit normal
	toggle *fault.Toggle // the plug, once there was a setting to miscount
	delta  float64       // what the slip adds to the series or the shunt box at this setting, ohm
	moved  *float64      // what the series box gained when K2 was closed, ohm
	spent  bool          // a slip of one row has happened
	age    int           // looks with K1 closed since it was planted
	slip   int           // of those, the one that goes wrong
	done   bool          // the slip of one reading has happened
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
	return f.Benchable() && (f.ID != fault.WrongSide || centre)
}

// Plant puts a fault on the bench, of the given name or, for "any", one that
// chance picks; its form, its size and its plug are left to chance. It fails,
// naming what there is, for a fault that this bench cannot have.
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
		return fmt.Errorf("bench: no fault %q on this bench: it can have any of %v", id, names)
	}
	p := &planted{Fault: forms[b.rand.IntN(len(forms))], slip: 1 + b.rand.IntN(slipsWithin)}
	for range 100 {
		p.x = b.rand.NormFloat64()
		if math.Abs(p.x) <= mostSize && (p.Size.Mid != 0 || math.Abs(p.x) >= leastShift) {
			break
		}
	}
	b.planted = p
	return nil
}

// Fault names the fault on the bench, "" on a sound one.
func (b *Bench) Fault() string {
	if b.planted == nil {
		return ""
	}
	return string(b.planted.ID)
}

// Mend takes the fault off the bench: somebody looked and put it right. The
// boxes then make what is said.
func (b *Bench) Mend() { b.planted = nil }

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
	if p.Span == fault.OneRow && p.spent {
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
	p.spent = p.spent || ok
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

// written is what is written down, before it is rounded, where the needle
// stands at x; scatter is the standard deviation of its blur in steps.
func (b *Bench) written(x float64) (div, scatter float64) {
	p := b.planted
	if p == nil || !b.k1 {
		if p != nil && p.ID == fault.ZeroOff && p.age > 0 {
			// The pointer was shifted when the needle first swung.
			x = p.Write(fault.Look{Div: x}, p.size())
		}
		return x, Repeatability
	}
	scatter = Repeatability
	if p.Loose {
		scatter = fault.Scatter
	}
	look := fault.Look{Div: x - b.hidden.Zero, Divisions: b.stated.Galvanometer.Divisions, Shunted: b.k2, Age: p.age}
	p.age++
	once := p.Span == fault.OneReading
	if once && (p.done || p.age < p.slip) {
		return x, scatter
	}
	p.done = once
	switch {
	case p.Any:
		n := b.stated.Galvanometer.Divisions
		for range 100 {
			if y := math.Copysign(n*b.rand.Float64(), x); math.Abs(y-x) >= 2 {
				return y, scatter
			}
		}
	case p.Write != nil:
		return p.Write(look, p.size()) + b.hidden.Zero, scatter
	}
	return x, scatter
}

func (p *planted) size() float64 {
	size, _ := p.Size.At(p.x)
	return size
}
