package circuit

import (
	"fmt"
	"math"
	"math/bits"

	"gonum.org/v1/gonum/mat"
)

// Law is the current of a branch for each volt of a source's EMF, as a
// function of some of the circuit's resistances: the ratio of two polynomials,
// each of the first degree in every resistance. That a linear network's
// currents are such ratios follows from Cramer's rule, since a resistance
// enters the matrix of the meshes by a term of rank one.
//
// A law is worked out once for a circuit and then answers for any values.
type Law struct {
	over, under []term
}

// term is a coefficient times the resistances whose bits are set.
type term struct {
	coefficient float64
	of          uint8
}

// maxVaried bounds the resistances of a law: the work is 2^n determinants.
const maxVaried = 8

// Law returns the law of a branch's current for the EMF of the named source,
// in the resistances of the named elements (at most 8), whatever their present
// values; an element that is open has no influence. All other EMFs count as 0,
// all other resistances as they stand. It fails for an unknown name and for an
// invalid circuit.
func (n *Netlist) Law(of BranchID, source string, varied ...string) (*Law, error) {
	if err := n.check(); err != nil {
		return nil, err
	}
	if len(varied) > maxVaried {
		return nil, fmt.Errorf("circuit: a law in %d resistances: %w", len(varied), ErrInvalid)
	}
	drive, err := n.Branch(source)
	if err != nil {
		return nil, err
	}
	ids := make([]BranchID, len(varied))
	for i, name := range varied {
		if ids[i], err = n.Branch(name); err != nil {
			return nil, err
		}
	}
	loops := n.loops()
	size := 1 << len(varied)
	over, under := make([]float64, size), make([]float64, size)
	ohm := make([]float64, len(n.branches))
	for i, b := range n.branches {
		ohm[i] = b.Resistance
		if math.IsInf(b.Resistance, 1) {
			ohm[i] = 0 // it is in no loop
		}
	}
	for corner := range size {
		for i, id := range ids {
			ohm[id] = float64(corner >> i & 1)
		}
		over[corner], under[corner] = determinants(loops, ohm, int(of), int(drive))
	}
	return &Law{terms(over), terms(under)}, nil
}

// terms are the coefficients of the polynomial of first degree in each
// variable that has the given values where each variable is 0 or 1.
func terms(at []float64) []term {
	for bit := 1; bit < len(at); bit <<= 1 {
		for i := range at {
			if i&bit != 0 {
				at[i] -= at[i^bit]
			}
		}
	}
	var out []term
	for i, c := range at {
		// With wires and keys besides, all coefficients are whole numbers.
		if math.Abs(c) > 1e-9 {
			out = append(out, term{c, uint8(i)})
		}
	}
	return out
}

// loops lists independent loops, each as the direction (1, -1 or 0) in which
// it runs through every branch.
func (n *Netlist) loops() [][]float64 {
	nodes := int(n.NewNode())
	tree := newForest(nodes)
	path := make([]map[int]float64, nodes) // of tree branches from a node's root to it
	for i := range path {
		path[i] = map[int]float64{}
	}
	members := make([][]int, nodes)
	for i := range members {
		members[i] = []int{i}
	}
	var out [][]float64
	for i, b := range n.branches {
		if math.IsInf(b.Resistance, 1) {
			continue
		}
		from, to := tree.root(b.from), tree.root(b.to)
		if from == to { // it closes a loop: along b, then back through the tree
			loop := make([]float64, len(n.branches))
			loop[i] = 1
			for j, d := range path[b.from] {
				loop[j] += d
			}
			for j, d := range path[b.to] {
				loop[j] -= d
			}
			out = append(out, loop)
			continue
		}
		// The tree at the far end is hung on: its paths begin where those of
		// the near one do, and run along b.
		shift := map[int]float64{i: 1}
		for j, d := range path[b.from] {
			shift[j] += d
		}
		for j, d := range path[b.to] {
			shift[j] -= d
		}
		for _, m := range members[to] {
			for j, d := range shift {
				if path[m][j] += d; path[m][j] == 0 {
					delete(path[m], j)
				}
			}
		}
		tree.join(b.from, b.to)
		members[tree.root(b.from)] = append(members[from], members[to]...)
	}
	return out
}

// determinants returns the numerator and the denominator of a branch's
// current for one volt in the branch drive.
func determinants(loops [][]float64, ohm []float64, of, drive int) (over, under float64) {
	l := len(loops)
	if l == 0 {
		return 0, 1
	}
	m := mat.NewDense(l+1, l+1, nil)
	for i, a := range loops {
		for j, b := range loops {
			z := 0.0
			for k, r := range ohm {
				z += a[k] * b[k] * r
			}
			m.Set(i, j, z)
		}
		m.Set(i, l, loops[i][drive])
		m.Set(l, i, -loops[i][of])
	}
	return mat.Det(m), mat.Det(m.Slice(0, l, 0, l))
}

// At returns the current for one volt, in ampere, at the given resistances
// (ohm, above zero, in the order of the law's names), and sets slope[i], where
// slope is not nil, to its derivative by the logarithm of the i-th. Where the
// circuit has no finite current it returns ±Inf or NaN.
func (l *Law) At(ohm, slope []float64) float64 {
	var dOver, dUnder [maxVaried]float64
	over, under := value(l.over, ohm, &dOver), value(l.under, ohm, &dUnder)
	current := over / under
	for i := range slope {
		slope[i] = (dOver[i] - current*dUnder[i]) / under
	}
	return current
}

// value is a polynomial's value; slopes are its derivatives by the logarithms.
func value(terms []term, ohm []float64, slopes *[maxVaried]float64) float64 {
	sum := 0.0
	for _, t := range terms {
		v := t.coefficient
		for of := t.of; of != 0; of &= of - 1 {
			v *= ohm[bits.TrailingZeros8(of)]
		}
		sum += v
		for of := t.of; of != 0; of &= of - 1 {
			slopes[bits.TrailingZeros8(of)] += v
		}
	}
	return sum
}
