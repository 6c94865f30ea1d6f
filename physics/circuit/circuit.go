// Package circuit solves direct-current networks of sources, resistances and
// keys, and builds the half-deflection bench as such a network. A fault of the
// bench is an edit of its netlist: an element opened, shorted, moved,
// exchanged, reversed, bridged or changed in value.
//
// The unknowns are the voltages of the nodes and the currents of all branches;
// the equations are Kirchhoff's current law at every node and one equation per
// branch. This is the modified nodal analysis of C.-W. Ho, A. Ruehli and
// P. Brennan (IEEE Transactions on Circuits and Systems 22, 1975; cited from
// memory) with every branch treated as they treat a voltage source. Shorts and
// open branches are then ordinary values, and no conductances of very
// different size are added.
package circuit

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Node is a point where elements meet: a small number, 0 to MaxNode.
type Node int

// Ground is the node from which voltages are counted. A circuit need not
// touch it.
const Ground Node = 0

// MaxNode is the largest number a node can have.
const MaxNode Node = 999

// Element is what a branch is made of: an EMF and a resistance in series.
type Element struct {
	EMF        float64 // volt, finite
	Resistance float64 // ohm, 0 (a short) to +Inf (an open branch)
}

// Resistor returns an element of the given resistance in ohm: a box, a
// movement, a contact, a leak. 0 is a short, +Inf an open branch.
func Resistor(ohm float64) Element { return Element{Resistance: ohm} }

// Source returns an element of EMF emf, in volt, with an internal resistance
// in ohm, which may be 0.
func Source(emf, ohm float64) Element { return Element{EMF: emf, Resistance: ohm} }

// Key returns a key, without resistance when closed.
func Key(closed bool) Element {
	if closed {
		return Resistor(0)
	}
	return Resistor(math.Inf(1))
}

// BranchID names a branch of the netlist that gave it and of its clones.
type BranchID int

// Netlist is a set of named elements between nodes. The zero value is an
// empty circuit.
//
// Every branch has a direction, from its first node to its second. Its current
// is positive when it flows that way through the element, and its EMF, when
// positive, drives it that way: the second node of a source is its positive
// terminal.
type Netlist struct {
	branches []branch
}

type branch struct {
	name string
	Element
	from, to Node
}

// The errors of edits and of Solve. Each is wrapped with the element's name.
var (
	// ErrUnknown: the netlist has no element of that name.
	ErrUnknown = errors.New("no such element")
	// ErrInvalid: a name used twice, a value or a node outside its range.
	ErrInvalid = errors.New("not a valid circuit")
	// ErrIndeterminate: elements without resistance close a loop, so that the
	// current in it is endless or any.
	ErrIndeterminate = errors.New("a loop without resistance")
	// ErrIllConditioned: the resistances lie so many powers of ten apart that
	// double precision cannot tell the currents.
	ErrIllConditioned = errors.New("resistances too far apart to solve for")
	// ErrUnjoined: nothing conducting joins two nodes, so that there is no
	// voltage between them.
	ErrUnjoined = errors.New("no conducting path between the nodes")
)

// Add puts an element between two nodes, under a name of its own. What is
// wrong with it is reported by Solve.
func (n *Netlist) Add(name string, e Element, from, to Node) BranchID {
	n.branches = append(n.branches, branch{name, e, from, to})
	return BranchID(len(n.branches) - 1)
}

// NewNode returns a node that no element touches.
func (n *Netlist) NewNode() Node {
	next := Ground + 1
	for _, b := range n.branches {
		next = max(next, b.from+1, b.to+1)
	}
	return next
}

// Clone returns a copy to edit, in which the branches keep their BranchIDs.
func (n *Netlist) Clone() *Netlist { return &Netlist{slices.Clone(n.branches)} }

// Branch returns the ID of a named element.
func (n *Netlist) Branch(name string) (BranchID, error) {
	for i, b := range n.branches {
		if b.name == name {
			return BranchID(i), nil
		}
	}
	return -1, fmt.Errorf("circuit: %q: %w", name, ErrUnknown)
}

// Element returns a named element's value and the nodes it lies between.
func (n *Netlist) Element(name string) (e Element, from, to Node, err error) {
	id, err := n.Branch(name)
	if err != nil {
		return Element{}, 0, 0, err
	}
	b := n.branches[id]
	return b.Element, b.from, b.to, nil
}

// edit applies do to a named branch.
func (n *Netlist) edit(name string, do func(*branch)) error {
	id, err := n.Branch(name)
	if err == nil {
		do(&n.branches[id])
	}
	return err
}

// Replace gives a named element another value: a plug miscounted, a key
// closed, a second cell.
func (n *Netlist) Replace(name string, e Element) error {
	return n.edit(name, func(b *branch) { b.Element = e })
}

// Open breaks a named element, as a loose lead does.
func (n *Netlist) Open(name string) error {
	return n.edit(name, func(b *branch) { b.Resistance = math.Inf(1) })
}

// Short lays a wire without resistance across a named element, which keeps
// its own current. The wire is an element called "short across " and the name.
func (n *Netlist) Short(name string) error {
	_, err := n.Bridge("short across "+name, name, Resistor(0))
	return err
}

// Reverse exchanges the leads of a named element.
func (n *Netlist) Reverse(name string) error {
	return n.edit(name, func(b *branch) { b.from, b.to = b.to, b.from })
}

// Move connects a named element between other nodes.
func (n *Netlist) Move(name string, from, to Node) error {
	return n.edit(name, func(b *branch) { b.from, b.to = from, to })
}

// Exchange puts each of two named elements in the place of the other.
func (n *Netlist) Exchange(one, other string) error {
	i, err := n.Branch(one)
	if err != nil {
		return err
	}
	j, err := n.Branch(other)
	if err != nil {
		return err
	}
	a, b := &n.branches[i], &n.branches[j]
	a.from, a.to, b.from, b.to = b.from, b.to, a.from, a.to
	return nil
}

// Bridge adds an element across a named one, in the same direction: a leak,
// a protective shunt, a voltmeter.
func (n *Netlist) Bridge(name, across string, e Element) (BranchID, error) {
	_, from, to, err := n.Element(across)
	if err != nil {
		return -1, err
	}
	return n.Add(name, e, from, to), nil
}

// Insert adds an element in line with a named one, behind it in its
// direction: a contact resistance, a second cell.
func (n *Netlist) Insert(name, behind string, e Element) (BranchID, error) {
	id, err := n.Branch(behind)
	if err != nil {
		return -1, err
	}
	middle, end := n.NewNode(), n.branches[id].to
	n.branches[id].to = middle
	return n.Add(name, e, middle, end), nil
}

// check reports the first branch that is not valid.
func (n *Netlist) check() error {
	for i, b := range n.branches {
		var what string
		switch {
		case !(b.Resistance >= 0):
			what = fmt.Sprintf("its resistance is 0 Ω or more, not %g", b.Resistance)
		case math.IsNaN(b.EMF) || math.IsInf(b.EMF, 0):
			what = fmt.Sprintf("its EMF is a finite number of volts, not %g", b.EMF)
		case min(b.from, b.to) < Ground || max(b.from, b.to) > MaxNode:
			what = fmt.Sprintf("its nodes lie between %d and %d, not %d and %d", Ground, MaxNode, b.from, b.to)
		case slices.ContainsFunc(n.branches[:i], func(a branch) bool { return a.name == b.name }):
			what = "its name is used twice"
		default:
			continue
		}
		return fmt.Errorf("circuit: %q: %w: %s", b.name, ErrInvalid, what)
	}
	return nil
}
