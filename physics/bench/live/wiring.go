package live

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"example.org/halve/physics/circuit"
	"example.org/halve/physics/fault"
)

// Terminal is a screw to which leads can be joined.
type Terminal int

// The terminals of the bench. Plus is where current goes in on a sound bench;
// of a key and a box it does not matter which end is which.
const (
	CellPlus Terminal = iota
	CellMinus
	K1A
	K1B
	SeriesA
	SeriesB
	CoilPlus
	CoilMinus
	K2A
	K2B
	ShuntA
	ShuntB
	Terminals // how many there are
)

// String names a terminal as it is marked.
func (t Terminal) String() string {
	names := [...]string{"cell +", "cell -", "K1 a", "K1 b", "R a", "R b", "G +", "G -", "K2 a", "K2 b", "S a", "S b"}
	if t < 0 || int(t) >= len(names) {
		return fmt.Sprintf("terminal %d", int(t))
	}
	return names[t]
}

// Lead is a wire from one terminal to another, A the lower.
type Lead struct{ A, B Terminal }

// join makes a lead of two terminals in any order.
func join(a, b Terminal) Lead { return Lead{min(a, b), max(a, b)} }

// asDrawn returns the leads of the half-deflection circuit: from plus of the
// source over K1, series box and galvanometer to minus, and the shunt box with
// K2 across the galvanometer.
func asDrawn() []Lead {
	return []Lead{
		{CellPlus, K1A}, {K1B, SeriesA}, {SeriesB, CoilPlus}, {CellMinus, CoilMinus},
		{CoilPlus, ShuntA}, {K2A, ShuntB}, {CoilMinus, K2B},
	}
}

// misWired returns the leads of a bench on which somebody has made the fault
// with wires, for everybody to see; ok is false for a fault of another kind.
func misWired(f fault.Fault) (leads []Lead, ok bool) {
	swap := func(remove, add []Lead) ([]Lead, bool) {
		leads := slices.DeleteFunc(asDrawn(), func(l Lead) bool { return slices.Contains(remove, l) })
		return append(leads, add...), true
	}
	switch f.ID {
	case fault.Reversed:
		return swap([]Lead{{CellPlus, K1A}, {CellMinus, CoilMinus}}, []Lead{{CellMinus, K1A}, {CellPlus, CoilMinus}})
	case fault.SeriesBypassed:
		return swap(nil, []Lead{{SeriesA, SeriesB}})
	case fault.BoxesExchanged:
		return swap([]Lead{{K1B, SeriesA}, {SeriesB, CoilPlus}, {CoilPlus, ShuntA}, {K2A, ShuntB}},
			[]Lead{{K1B, ShuntA}, {CoilPlus, ShuntB}, {SeriesA, CoilPlus}, {SeriesB, K2A}})
	case fault.ShuntAlreadyClosed:
		return swap(nil, []Lead{{K2A, K2B}})
	case fault.ShuntShorted:
		return swap(nil, []Lead{{ShuntA, ShuntB}})
	case fault.ShuntInSeries:
		return swap([]Lead{{SeriesB, CoilPlus}, {K2A, ShuntB}, {CoilMinus, K2B}}, []Lead{{SeriesB, ShuntB}, {SeriesB, K2A}})
	case fault.ShuntAcrossSeries:
		return swap([]Lead{{CoilMinus, K2B}}, []Lead{{SeriesA, K2B}})
	case fault.ShuntAcrossSource:
		return swap([]Lead{{CoilPlus, ShuntA}}, []Lead{{K1B, ShuntA}})
	}
	return nil, false
}

// sound reports whether leads make the half-deflection circuit, in whatever
// order its parts follow each other: whether the coil carries the same current
// and looks into the same resistance as with the leads that are drawn, for
// every state of the keys.
func sound(leads []Lead) bool {
	for _, keys := range [][2]bool{{false, false}, {true, false}, {false, true}, {true, true}} {
		// Values that no other arrangement of them makes.
		v := values{emf: 1.53, source: 0.71, series: 3109, movement: 91.7, shunt: 77.3, k1: keys[0], k2: keys[1]}
		got, err := solve(leads, v, nil)
		want, _ := solve(asDrawn(), v, nil)
		if err != nil || math.Abs(got.movement-want.movement) > 1e-9*want.movement ||
			math.Abs(got.damping-want.damping) > 1e-9*want.damping || math.Abs(got.source-want.source) > 1e-9*want.source {
			return false
		}
	}
	return true
}

// values are what the elements of the bench truly have at the moment.
type values struct {
	emf, source, series, movement, shunt float64
	k1, k2                               bool
}

// tiny stands in, in ohm, for elements without any resistance where these
// close a loop among themselves, in which the current would be undetermined.
const tiny = 1e-6

// netlist builds the circuit that the leads make. Leads have no resistance:
// the terminals they join are one node.
func netlist(leads []Lead, v values, least float64) (*circuit.Netlist, circuit.BranchID, circuit.BranchID) {
	node := make([]circuit.Node, Terminals)
	for i := range node {
		node[i] = circuit.Node(i)
	}
	for _, l := range leads {
		from, to := node[l.B], node[l.A]
		for i := range node {
			if node[i] == from {
				node[i] = to
			}
		}
	}
	n := &circuit.Netlist{}
	// A wire across it leaves a resistance without current: it counts as open,
	// so that it makes no loop without resistance with itself.
	passive := func(name string, ohm float64, from, to circuit.Node) {
		if from == to {
			ohm = math.Inf(1)
		}
		n.Add(name, circuit.Resistor(max(ohm, least)), from, to)
	}
	// In the order and the directions of circuit.Bench.
	source := n.Add(circuit.NameSource, circuit.Source(v.emf, max(v.source, least)), node[CellMinus], node[CellPlus])
	passive(circuit.NameK1, circuit.Key(v.k1).Resistance, node[K1A], node[K1B])
	passive(circuit.NameSeries, v.series, node[SeriesA], node[SeriesB])
	movement := n.Add(circuit.NameMovement, circuit.Resistor(v.movement), node[CoilPlus], node[CoilMinus])
	passive(circuit.NameK2, circuit.Key(v.k2).Resistance, node[K2A], node[K2B])
	passive(circuit.NameShunt, v.shunt, node[ShuntA], node[ShuntB])
	return n, movement, source
}

// flow is what a circuit does to its movement and its source.
type flow struct {
	movement float64 // current through the movement, ampere
	source   float64 // current of the source, ampere
	damping  float64 // what a volt in the movement would drive through it, ampere: 1/(Rx + G)
}

// solve finds the currents of the circuit that leads and values make, with the
// hidden fault put in.
func solve(leads []Lead, v values, hidden func(*circuit.Netlist) error) (flow, error) {
	f, err := solveWith(leads, v, hidden, 0)
	if errors.Is(err, circuit.ErrIndeterminate) {
		f, err = solveWith(leads, v, hidden, tiny)
	}
	return f, err
}

func solveWith(leads []Lead, v values, hidden func(*circuit.Netlist) error, least float64) (flow, error) {
	n, movement, source := netlist(leads, v, least)
	if hidden != nil {
		if err := hidden(n); err != nil {
			return flow{}, err
		}
	}
	s, err := n.Solve()
	if err != nil {
		return flow{}, err
	}
	f := flow{movement: s.Current(movement), source: s.Current(source)}
	// What the coil looks into: the source is still, the coil itself drives.
	e, _, _, err := n.Element(circuit.NameSource)
	if err == nil {
		err = n.Replace(circuit.NameSource, circuit.Source(0, e.Resistance))
	}
	if err == nil {
		err = n.Replace(circuit.NameMovement, circuit.Source(1, v.movement))
	}
	if err != nil {
		return flow{}, err
	}
	if s, err = n.Solve(); err != nil {
		return flow{}, err
	}
	f.damping = s.Current(movement)
	return f, nil
}
