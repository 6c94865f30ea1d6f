package circuit

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Solution holds the currents and voltages of a solved netlist.
type Solution struct {
	current []float64 // by BranchID, ampere
	voltage []float64 // by Node, volt above its island's reference node
	island  []Node    // by Node, the reference node
}

// Current returns the current of a branch, in ampere, positive in the branch's
// own direction. It is 0 for a branch added after Solve.
func (s *Solution) Current(id BranchID) float64 {
	if id < 0 || int(id) >= len(s.current) {
		return 0
	}
	return s.current[id]
}

// Voltage returns the voltage of one node above another, in volt, or
// ErrUnjoined where no conducting path joins them.
func (s *Solution) Voltage(of, above Node) (float64, error) {
	if of == above {
		return 0, nil
	}
	if min(of, above) < 0 || int(max(of, above)) >= len(s.island) || s.island[of] != s.island[above] {
		return 0, fmt.Errorf("circuit: nodes %d and %d: %w", of, above, ErrUnjoined)
	}
	return s.voltage[of] - s.voltage[above], nil
}

// forest is a union-find structure in which the root of a tree is its
// lowest node, so that ground is always a root.
type forest []Node

func newForest(n int) forest {
	f := make(forest, n)
	for i := range f {
		f[i] = Node(i)
	}
	return f
}

func (f forest) root(n Node) Node {
	for f[n] != n {
		f[n] = f[f[n]]
		n = f[n]
	}
	return n
}

// join makes one tree of two and reports whether they were two.
func (f forest) join(a, b Node) bool {
	a, b = f.root(a), f.root(b)
	f[max(a, b)] = min(a, b)
	return a != b
}

// system is the netlist as linear equations A x = b. Unknowns are the voltages
// of all nodes that are not references, then the currents of all branches
// that conduct, in units of 2^-unit ampere: a voltage and a current of the
// circuit are then of like size. All scaling is by powers of two, so that the
// coefficients are exactly those of the netlist.
type system struct {
	branches []branch
	column   []int     // by node, -1 where its voltage is not an unknown
	row      []int     // by branch, -1 where it does not conduct; also its current's column
	ohm      []float64 // by branch, resistance in units of 2^unit ohm
	weight   []float64 // by branch, the power of two that scales its equation
	size     int
	unit     int
}

// Solve returns the steady currents and voltages. Parts of the circuit that
// nothing conducting joins to ground are solved on their own. It changes
// nothing, and one netlist may be solved by several goroutines.
//
// Errors are ErrInvalid, ErrIndeterminate and ErrIllConditioned; the results
// are always finite. Currents carry a relative error of a few parts in 1e16
// for the circuit as given, found by refining the solution with residuals of
// twice the working precision.
func (n *Netlist) Solve() (*Solution, error) {
	if err := n.check(); err != nil {
		return nil, err
	}
	nodes := int(n.NewNode())
	islands, stiff := newForest(nodes), newForest(nodes)
	for _, b := range n.branches {
		if math.IsInf(b.Resistance, 1) {
			continue
		}
		islands.join(b.from, b.to)
		if b.Resistance == 0 && !stiff.join(b.from, b.to) {
			return nil, fmt.Errorf("circuit: %q closes %w", b.name, ErrIndeterminate)
		}
	}
	sol := &Solution{
		current: make([]float64, len(n.branches)),
		voltage: make([]float64, nodes),
		island:  islands,
	}
	for i := range islands {
		islands[i] = islands.root(Node(i))
	}
	sys := newSystem(n.branches, islands)
	if sys.size == 0 {
		return sol, nil
	}
	x, ok := sys.solve()
	if !ok {
		return nil, fmt.Errorf("circuit: %w", ErrIllConditioned)
	}
	for i, c := range sys.column {
		if c >= 0 {
			sol.voltage[i] = x[c]
		}
	}
	for i, r := range sys.row {
		if r >= 0 {
			sol.current[i] = math.Ldexp(x[r], -sys.unit)
		}
	}
	return sol, nil
}

func newSystem(branches []branch, islands forest) *system {
	index := make([]int, len(islands)+len(branches))
	value := make([]float64, 2*len(branches))
	s := &system{
		branches: branches,
		column:   index[:len(islands)], row: index[len(islands):],
		ohm: value[:len(branches)], weight: value[len(branches):],
	}
	for i, reference := range islands {
		s.column[i] = -1
		if reference != Node(i) {
			s.column[i] = s.size
			s.size++
		}
	}
	// The unit of resistance is the mean of the resistances on a logarithmic
	// scale, as a power of two.
	sum, count := 0, 0
	for i, b := range branches {
		s.row[i] = -1
		if math.IsInf(b.Resistance, 1) {
			continue
		}
		s.row[i] = s.size
		s.size++
		if b.Resistance > 0 {
			_, e := math.Frexp(b.Resistance)
			sum, count = sum+e, count+1
		}
	}
	if count > 0 {
		s.unit = sum / count
	}
	for i, b := range branches {
		if s.row[i] < 0 {
			continue
		}
		s.ohm[i], s.weight[i] = math.Ldexp(b.Resistance, -s.unit), 1
		if s.ohm[i] > 1 {
			_, e := math.Frexp(s.ohm[i])
			s.weight[i] = math.Ldexp(1, -e)
		}
	}
	return s
}

// ends calls do with the columns of the branch's end nodes and the sign with
// which its current leaves them.
func (s *system) ends(i int, do func(column int, sign float64)) {
	if c := s.column[s.branches[i].from]; c >= 0 {
		do(c, 1)
	}
	if c := s.column[s.branches[i].to]; c >= 0 {
		do(c, -1)
	}
}

// solve returns x, refined until its error is that of its last digit.
func (s *system) solve() (x []float64, ok bool) {
	n := s.size
	slab := make([]float64, n*n+3*n)
	a := mat.NewDense(n, n, slab[:n*n])
	x, residual, rest := slab[n*n:n*n+n], slab[n*n+n:n*n+2*n], slab[n*n+2*n:]
	for i, row := range s.row {
		if row < 0 {
			continue
		}
		// v_from − v_to − R i = −E, and i leaves one end and enters the other.
		// Entries are added, since both ends may be one node.
		s.ends(i, func(column int, sign float64) {
			a.Set(row, column, a.At(row, column)+sign*s.weight[i])
			a.Set(column, row, a.At(column, row)+sign)
		})
		a.Set(row, row, -s.ohm[i]*s.weight[i])
	}
	var lu mat.LU
	lu.Factorize(a)
	step := mat.NewVecDense(n, residual)
	const rounds = 10
	for range rounds {
		s.residual(x, residual, rest)
		// A mat.Condition error is only the estimate; whether the solution
		// can be trusted shows in the next correction.
		if err := lu.SolveVecTo(step, false, step); err != nil && math.IsInf(lu.Cond(), 1) {
			return nil, false
		}
		var largest float64
		for j, d := range residual {
			x[j] += d
			largest = max(largest, math.Abs(x[j]))
		}
		// Each round shrinks the error by about the same factor, and this
		// round's error was d: where d is below 2^-26 of x the error left is
		// below the last digit. A current that is truly zero has no digits;
		// it is done when below 2^-80 of the largest unknown.
		done := !math.IsNaN(largest) && !math.IsInf(largest, 0)
		for j, d := range residual {
			if d = math.Abs(d); !(d <= 0x1p-26*math.Abs(x[j]) || d <= 0x1p-80*largest) {
				done = false
			}
		}
		if done {
			return x, true
		}
	}
	return nil, false
}

// residual sets r to b − A x, computed as if in twice the working precision
// (compensated dot product: T. Ogita, S. Rump, S. Oishi, SIAM Journal on
// Scientific Computing 26, 2005; cited from memory). lo is working space.
func (s *system) residual(x, r, lo []float64) {
	clear(r)
	clear(lo)
	add := func(row int, v float64) {
		sum := r[row] + v
		w := sum - r[row]
		lo[row] += (r[row] - (sum - w)) + (v - w)
		r[row] = sum
	}
	for i, row := range s.row {
		if row < 0 {
			continue
		}
		i0 := x[row]
		drop := s.ohm[i] * i0
		add(row, -s.branches[i].EMF)
		add(row, drop)
		lo[row] += math.FMA(s.ohm[i], i0, -drop)
		s.ends(i, func(column int, sign float64) {
			add(row, -sign*x[column])
			add(column, -sign*i0)
		})
	}
	for j := range r {
		r[j] += lo[j]
	}
	for i, row := range s.row {
		if row >= 0 {
			r[row] *= s.weight[i]
		}
	}
}
