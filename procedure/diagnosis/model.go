package diagnosis

import (
	"math"
	"sync"

	"example.org/halve/physics/circuit"
	"example.org/halve/physics/fault"
)

// hypothesis is a fault with the laws of its circuit.
type hypothesis struct {
	fault.Fault
	weight float64
	law    [2]*circuit.Law // K2 open, closed
	sized  bool            // the laws have the resistance of fault.Extra in them
	// numbered: what it foretells depends on its number.
	numbered bool
}

// table holds the hypotheses; it is worked out once and never changed.
type table struct {
	sound  *hypothesis
	faults []*hypothesis
	rest   map[fault.ID]float64 // the weights by fault
}

// compiled is the table of hypotheses.
var compiled = sync.OnceValue(compile)

func compile() *table {
	catalogue := fault.Catalogue()
	of, rest := weights(catalogue)
	t := &table{rest: rest, sound: &hypothesis{weight: rest[sound]}}
	t.sound.law, _ = laws(t.sound.Fault)
	for _, f := range catalogue {
		if f.WorkedOut { // its readings follow from others, not from the circuit
			continue
		}
		h := &hypothesis{Fault: f, weight: of[string(f.ID)+f.Form], sized: f.Size.What == fault.Ohm, numbered: f.Size.What != fault.Nothing}
		h.law = t.sound.law
		if f.Edit != nil {
			h.law, _ = laws(f)
		}
		t.faults = append(t.faults, h)
	}
	return t
}

// laws are the laws of the movement's current, K2 open and closed, in the
// resistances of the series box, the shunt box, the movement, the source and,
// where the fault has one, the extra element.
func laws(f fault.Fault) (law [2]*circuit.Law, err error) {
	names := []string{circuit.NameSeries, circuit.NameShunt, circuit.NameMovement, circuit.NameSource}
	if f.Size.What == fault.Ohm {
		names = append(names, fault.Extra)
	}
	for i := range law {
		n, branches, err := f.Netlist(circuit.Bench{EMF: 1, SourceResistance: 1, Series: 1, Movement: 1, Shunt: 1, K1: true, K2: i == 1}, 0)
		if err != nil {
			return law, err
		}
		if law[i], err = n.Law(branches.Movement, circuit.NameSource, names...); err != nil {
			return law, err
		}
	}
	return law, nil
}

const (
	leastOhm = 1e-6 // stands for nothing at all
	mostDiv  = 1e7  // stands for any deflection without bound
)

// point is a place in the space of the parameters: the parameters, and what
// the first three are the logarithms of.
type point struct {
	vector
	movement, loop, source float64
}

func at(p *vector) point {
	return point{*p, math.Exp(p[movement]), math.Exp(p[loop]), math.Exp(p[source])}
}

// predict foretells a reading as seen on the scale, in divisions, and its
// slopes by the parameters.
func (h *hypothesis) predict(s *sample, p point, slope *vector) float64 {
	shunted := s.at.shunted != h.Swapped
	law := h.law[0]
	if shunted {
		law = h.law[1]
	}
	var size, dSize float64
	if h.numbered {
		size, dSize = h.Size.At(p.vector[number])
	}
	times := h.SourceTimes
	if times == 0 {
		times = 1
	}
	ohm := [5]float64{max(leastOhm, s.series), max(leastOhm, s.shunt), p.movement, p.source * times, max(leastOhm, size)}
	n := 4
	if h.sized {
		n = 5
	}
	var by [5]float64
	drive := p.loop * s.at.drive
	if h.EMFTimes != 0 {
		drive *= h.EMFTimes
	}
	if h.Size.What == fault.EMF {
		drive *= size
	}
	div := drive * law.At(ohm[:n], by[:n])
	if !(math.Abs(div) < mostDiv) {
		div = math.Copysign(mostDiv, div)
		by = [5]float64{}
	}
	slope[movement], slope[loop], slope[source] = drive*by[2], div, drive*by[3]
	switch h.Size.What {
	case fault.Ohm:
		slope[number] = drive * by[4] * dSize / size
	case fault.EMF:
		slope[number] = div * dSize / size
	}
	// Nobody misreads a needle beyond the end.
	if h.Write != nil && (h.Pointer || math.Abs(div) <= s.at.divisions) {
		l := fault.Look{Div: div, Divisions: s.at.divisions, Shunted: s.at.shunted, Age: s.age}
		at := h.Write(l, size)
		if off := float64(s.at.off); !h.Pointer && off*div > off*at {
			slope[zero] = 1
			return div + s.at.zero + p.vector[zero]
		}
		step := 1e-5 * max(1, math.Abs(div))
		l.Div += step
		byDiv := (h.Write(l, size) - at) / step
		l.Div = div
		for i := range slope {
			slope[i] *= byDiv
		}
		if h.Size.What == fault.Written {
			step := 1e-5 * max(1e-3, math.Abs(size))
			slope[number] = (h.Write(l, size+step) - at) / step * dSize
		}
		div = at
	}
	slope[zero] = 1
	if h.ID == fault.ZeroOff { // a step, not a slow change between two zeros read
		return div + s.at.before + p.vector[zero]
	}
	return div + s.at.zero + p.vector[zero]
}
