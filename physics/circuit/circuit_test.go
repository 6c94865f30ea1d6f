package circuit

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"testing"

	"example.org/halve/physics"
	"pgregory.net/rapid"
)

func near(got, want, rel float64) bool { return math.Abs(got-want) <= rel*math.Abs(want) }

func solve(t interface {
	Helper()
	Fatalf(string, ...any)
}, n *Netlist) *Solution {
	t.Helper()
	s, err := n.Solve()
	if err != nil {
		t.Fatalf("%+v: %v", n.branches, err)
	}
	return s
}

func parallel(a, b float64) float64 { return a * b / (a + b) }

// drawBench covers the benches the program is for (common practice, wide).
func drawBench(t *rapid.T) Bench {
	decades := func(lo, hi float64, name string) float64 {
		return math.Pow(10, rapid.Float64Range(math.Log10(lo), math.Log10(hi)).Draw(t, name))
	}
	return Bench{
		EMF:              rapid.Float64Range(0.5, 6).Draw(t, "E"),
		SourceResistance: rapid.Float64Range(0.05, 50).Draw(t, "r"),
		Series:           decades(30, 20e3, "R"),
		Movement:         decades(10, 1000, "G"),
		Shunt:            decades(1, 3000, "S"),
		K1:               true, K2: true,
	}
}

// The sound bench against the closed forms of package physics.
func TestBenchAgainstClosedForms(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBench(t)
		branch, err := physics.BranchTotal(b.Series, b.SourceResistance)
		if err != nil {
			t.Fatal(err)
		}
		n, id := b.Netlist()
		s := solve(t, n)
		want, err := physics.ShuntedCurrents(b.EMF, branch, b.Movement, b.Shunt)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			name string
			id   BranchID
			want float64
		}{
			{"source", id.Source, want.Loop}, {"K1", id.K1, want.Loop}, {"series", id.Series, want.Loop},
			{"movement", id.Movement, want.Movement}, {"K2", id.K2, want.Shunt}, {"shunt", id.Shunt, want.Shunt},
		} {
			if got := s.Current(c.id); !near(got, c.want, 1e-12) {
				t.Fatalf("%+v, K2 closed: %s carries %v, closed form %v", b, c.name, got, c.want)
			}
		}
		b.K2 = false
		n, id = b.Netlist()
		s = solve(t, n)
		loop, err := physics.FirstDeflection(b.EMF, branch, b.Movement, 1) // at 1 A/div
		if err != nil {
			t.Fatal(err)
		}
		for _, i := range []BranchID{id.Source, id.K1, id.Series, id.Movement} {
			if got := s.Current(i); !near(got, loop, 1e-12) {
				t.Fatalf("%+v, K2 open: branch %d carries %v, closed form %v", b, i, got, loop)
			}
		}
		if got := s.Current(id.Shunt); got != 0 {
			t.Fatalf("%+v, K2 open: the shunt carries %v", b, got)
		}
		// The halving shunt halves.
		b.K2 = true
		b.Shunt = branch * b.Movement / (branch + b.Movement)
		n, id = b.Netlist()
		if got := solve(t, n).Current(id.Movement); !near(got, loop/2, 1e-12) {
			t.Fatalf("%+v: halving shunt leaves %v of %v", b, got, loop)
		}
	})
}

// What a fault does to the bench, against its closed form by hand from
// Kirchhoff's laws. Each is an edit of the netlist.
var edits = []struct {
	name string
	edit func(n *Netlist, x float64) error // x: the fault's own resistance
	want func(b Bench, x float64) float64  // the movement's current
}{
	{"K1 open", func(n *Netlist, _ float64) error { return n.Replace(NameK1, Key(false)) },
		func(Bench, float64) float64 { return 0 }},
	{"shunt open", func(n *Netlist, _ float64) error { return n.Open(NameShunt) },
		func(b Bench, _ float64) float64 { return b.EMF / (b.SourceResistance + b.Series + b.Movement) }},
	{"coil open", func(n *Netlist, _ float64) error { return n.Open(NameMovement) },
		func(Bench, float64) float64 { return 0 }},
	{"shunt shorted", func(n *Netlist, _ float64) error { return n.Short(NameShunt) },
		func(Bench, float64) float64 { return 0 }},
	{"series shorted", func(n *Netlist, _ float64) error { return n.Short(NameSeries) },
		func(b Bench, _ float64) float64 { return shunted(b.EMF, b.SourceResistance, b.Movement, b.Shunt) }},
	{"shunt across series", func(n *Netlist, _ float64) error { return n.Move(NameShunt, Tapped, Switched) },
		func(b Bench, _ float64) float64 {
			return b.EMF / (parallel(b.Series, b.Shunt) + b.SourceResistance + b.Movement)
		}},
	{"shunt across source", func(n *Netlist, _ float64) error { return n.Move(NameK2, Plus, Tapped) },
		func(b Bench, _ float64) float64 {
			return b.EMF * b.Shunt / (b.Shunt + b.SourceResistance) / (b.Series + b.Movement + parallel(b.SourceResistance, b.Shunt))
		}},
	{"shunt in series", func(n *Netlist, _ float64) error {
		middle := n.NewNode()
		return errors.Join(n.Open(NameK2), n.Move(NameShunt, Top, middle), n.Move(NameMovement, middle, Ground))
	}, func(b Bench, _ float64) float64 {
		return b.EMF / (b.Series + b.Shunt + b.SourceResistance + b.Movement)
	}},
	{"boxes exchanged", func(n *Netlist, _ float64) error { return n.Exchange(NameSeries, NameShunt) },
		func(b Bench, _ float64) float64 {
			return shunted(b.EMF, b.Shunt+b.SourceResistance, b.Movement, b.Series)
		}},
	{"leak across series", func(n *Netlist, x float64) error {
		_, err := n.Bridge("leak", NameSeries, Resistor(1e3*x))
		return err
	}, func(b Bench, x float64) float64 {
		return shunted(b.EMF, parallel(b.Series, 1e3*x)+b.SourceResistance, b.Movement, b.Shunt)
	}},
	{"inner shunt", func(n *Netlist, x float64) error {
		_, err := n.Bridge("inner shunt", NameMovement, Resistor(x))
		return err
	}, func(b Bench, x float64) float64 {
		return shunted(b.EMF, b.Series+b.SourceResistance, parallel(b.Movement, x), b.Shunt) * x / (b.Movement + x)
	}},
	{"contact in shunt branch", func(n *Netlist, x float64) error {
		_, err := n.Insert("contact", NameShunt, Resistor(x/100))
		return err
	}, func(b Bench, x float64) float64 {
		return shunted(b.EMF, b.Series+b.SourceResistance, b.Movement, b.Shunt+x/100)
	}},
	{"two cells", func(n *Netlist, _ float64) error {
		e, _, _, err := n.Element(NameSource)
		if err == nil {
			_, err = n.Insert("second cell", NameSource, e)
		}
		return err
	}, func(b Bench, _ float64) float64 {
		return shunted(2*b.EMF, b.Series+2*b.SourceResistance, b.Movement, b.Shunt)
	}},
	{"two cells opposed", func(n *Netlist, _ float64) error {
		e, _, _, err := n.Element(NameSource)
		if err != nil {
			return err
		}
		_, err = n.Insert("second cell", NameSource, e)
		return errors.Join(err, n.Reverse("second cell"))
	}, func(Bench, float64) float64 { return 0 }},
	{"source reversed", func(n *Netlist, _ float64) error { return n.Reverse(NameSource) },
		func(b Bench, _ float64) float64 {
			return -shunted(b.EMF, b.Series+b.SourceResistance, b.Movement, b.Shunt)
		}},
	{"movement reversed", func(n *Netlist, _ float64) error { return n.Reverse(NameMovement) },
		func(b Bench, _ float64) float64 {
			return -shunted(b.EMF, b.Series+b.SourceResistance, b.Movement, b.Shunt)
		}},
	{"source without resistance", func(n *Netlist, _ float64) error {
		e, _, _, err := n.Element(NameSource)
		return errors.Join(err, n.Replace(NameSource, Source(e.EMF, 0)))
	}, func(b Bench, _ float64) float64 { return shunted(b.EMF, b.Series, b.Movement, b.Shunt) }},
}

// shunted is E S / (R′(G + S) + G S).
func shunted(emf, branch, g, s float64) float64 { return emf * s / (branch*(g+s) + g*s) }

func TestEditsAgainstClosedForms(t *testing.T) {
	for _, c := range edits {
		t.Run(c.name, rapid.MakeCheck(func(t *rapid.T) {
			b := drawBench(t)
			x := math.Pow(10, rapid.Float64Range(1, 3).Draw(t, "log x"))
			n, id := b.Netlist()
			if err := c.edit(n, x); err != nil {
				t.Fatalf("edit: %v", err)
			}
			got, want := solve(t, n).Current(id.Movement), c.want(b, x)
			// Where the answer is 0, what is left is below a part in 1e20 of
			// the current that would flow.
			if !near(got, want, 1e-12) && !(want == 0 && math.Abs(got) < 1e-20*b.EMF/(b.Series+b.Movement)) {
				t.Fatalf("%+v, x = %v: movement carries %v, closed form %v", b, x, got, want)
			}
		}))
	}
}

// TestDerivedCircuitCase: a case whose currents a circuit simulator gave to 10
// digits (derived for this project, no published source).
func TestDerivedCircuitCase(t *testing.T) {
	b := Bench{EMF: 3, SourceResistance: 2.5, Series: 4700, Movement: 68.2, K1: true}
	n, id := b.Netlist()
	if got, want := solve(t, n).Current(id.Movement), 0.00062883853523; !near(got, want, 1e-11) {
		t.Errorf("%+v: movement carries %v, want %v", b, got, want)
	}
	b.Shunt, b.K2 = 67.22504035047268, true
	n, id = b.Netlist()
	if got, want := solve(t, n).Current(id.Movement), 0.00031441926761; !near(got, want, 2e-11) {
		t.Errorf("%+v: movement carries %v, want %v", b, got, want)
	}
}

func TestVoltages(t *testing.T) {
	// By hand: 10 mA through 1 + 200 + 99 Ω from 3 V.
	n, _ := Bench{EMF: 3, SourceResistance: 1, Series: 200, Movement: 99, Shunt: 50, K1: true}.Netlist()
	s := solve(t, n)
	for _, c := range []struct {
		of, above Node
		want      float64
	}{
		{Plus, Ground, 2.99}, {Switched, Plus, 0}, {Switched, Top, 2}, {Top, Ground, 0.99},
		{Ground, Top, -0.99}, {Tapped, Ground, 0}, {Top, Top, 0},
	} {
		if got, err := s.Voltage(c.of, c.above); err != nil || math.Abs(got-c.want) > 1e-15 {
			t.Errorf("Voltage(%d, %d) = %v, %v, want %v", c.of, c.above, got, err, c.want)
		}
	}
	// K1 open, the switched node stays joined to ground through the boxes; a
	// series box open as well leaves it on its own.
	if err := errors.Join(n.Open(NameK1), n.Open(NameSeries)); err != nil {
		t.Fatal(err)
	}
	s = solve(t, n)
	if got, err := s.Voltage(Plus, Ground); err != nil || got != 3 {
		t.Errorf("open-circuit voltage = %v, %v, want 3", got, err)
	}
	for _, of := range []Node{Switched, 12345, -1} {
		if got, err := s.Voltage(of, Ground); !errors.Is(err, ErrUnjoined) {
			t.Errorf("Voltage(%d, Ground) = %v, %v, want ErrUnjoined", of, got, err)
		}
	}
}

// A circuit that touches ground nowhere, and two that touch nowhere.
func TestFloating(t *testing.T) {
	var n Netlist
	a := n.Add("cell a", Source(3, 1), 5, 6)
	n.Add("load a", Resistor(2), 6, 5)
	b := n.Add("cell b", Source(10, 0), 8, 9)
	n.Add("load b", Resistor(5), 9, 8)
	n.Add("open link", Key(false), 6, 9)
	n.Add("dangling", Resistor(7), Ground, 2)
	s := solve(t, &n)
	if s.Current(a) != 1 || s.Current(b) != 2 {
		t.Errorf("currents %v and %v, want 1 and 2", s.Current(a), s.Current(b))
	}
	if v, err := s.Voltage(6, 5); err != nil || v != 2 {
		t.Errorf("Voltage(6, 5) = %v, %v, want 2", v, err)
	}
	if _, err := s.Voltage(6, 9); !errors.Is(err, ErrUnjoined) {
		t.Errorf("between two islands: error %v, want ErrUnjoined", err)
	}
	var empty Netlist
	solve(t, &empty)
}

func TestSolveRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	bench := Bench{EMF: 1.5, SourceResistance: 1, Series: 3000, Movement: 90, Shunt: 88, K1: true, K2: true}
	for _, c := range []struct {
		name string
		edit func(n *Netlist)
		want error
	}{
		{"negative resistance", func(n *Netlist) { n.Replace(NameSeries, Resistor(-1)) }, ErrInvalid},
		{"NaN resistance", func(n *Netlist) { n.Replace(NameSeries, Resistor(nan)) }, ErrInvalid},
		{"NaN EMF", func(n *Netlist) { n.Replace(NameSource, Source(nan, 1)) }, ErrInvalid},
		{"endless EMF", func(n *Netlist) { n.Replace(NameSource, Source(-inf, 1)) }, ErrInvalid},
		{"node below ground", func(n *Netlist) { n.Move(NameK2, -1, Tapped) }, ErrInvalid},
		{"node too large", func(n *Netlist) { n.Move(NameK2, Top, MaxNode+1) }, ErrInvalid},
		{"name twice", func(n *Netlist) { n.Add(NameK1, Resistor(1), 1, 2) }, ErrInvalid},
		{"shorted twice", func(n *Netlist) { n.Short(NameSeries); n.Short(NameSeries) }, ErrInvalid},
		{"source without resistance shorted", func(n *Netlist) {
			n.Replace(NameSource, Source(1.5, 0))
			n.Short(NameSource)
		}, ErrIndeterminate},
		{"closed key shorted", func(n *Netlist) { n.Short(NameK1) }, ErrIndeterminate},
		{"two shorts across the movement", func(n *Netlist) {
			n.Replace(NameShunt, Resistor(0))
			n.Short(NameMovement)
		}, ErrIndeterminate},
		{"short from a node to itself", func(n *Netlist) { n.Add("loop", Resistor(0), Top, Top) }, ErrIndeterminate},
		{"beyond double precision", func(n *Netlist) {
			n.Replace(NameSource, Source(1e308, 1e-300))
			n.Short(NameSource)
		}, ErrIllConditioned},
	} {
		t.Run(c.name, func(t *testing.T) {
			n, _ := bench.Netlist()
			c.edit(n)
			if s, err := n.Solve(); s != nil || !errors.Is(err, c.want) {
				t.Errorf("Solve() = %v, %v, want %v", s, err, c.want)
			}
		})
	}
}

func TestEditsOfNothing(t *testing.T) {
	n, _ := Bench{}.Netlist()
	for name, err := range map[string]error{
		"Replace": n.Replace("x", Resistor(1)), "Open": n.Open("x"), "Short": n.Short("x"), "Reverse": n.Reverse("x"),
		"Move": n.Move("x", 0, 1), "Exchange": n.Exchange("x", NameK1), "Exchange with": n.Exchange(NameK1, "x"),
		"Bridge": second(n.Bridge("y", "x", Resistor(1))), "Insert": second(n.Insert("y", "x", Resistor(1))),
		"Branch": second(n.Branch("x")),
	} {
		if !errors.Is(err, ErrUnknown) {
			t.Errorf("%s: error %v, want ErrUnknown", name, err)
		}
	}
}

func second[T any](_ T, err error) error { return err }

func TestCloneIsApart(t *testing.T) {
	b := Bench{EMF: 3, SourceResistance: 1, Series: 200, Movement: 99, K1: true}
	n, id := b.Netlist()
	faulty := n.Clone()
	if err := faulty.Open(NameSeries); err != nil {
		t.Fatal(err)
	}
	if _, err := faulty.Insert("contact", NameK1, Resistor(1)); err != nil {
		t.Fatal(err)
	}
	if got := solve(t, n).Current(id.Movement); !near(got, 0.01, 1e-15) {
		t.Errorf("after an edit of its clone the bench carries %v, want 0.01", got)
	}
	if got := solve(t, faulty).Current(id.Movement); got != 0 {
		t.Errorf("the clone carries %v, want 0", got)
	}
	if got := solve(t, n).Current(BranchID(6)); got != 0 {
		t.Errorf("a branch of the clone alone carries %v in the bench", got)
	}
}

// exact solves the same equations over the rationals by Gauss's method, with
// one node of every island grounded; it shares no code with Solve.
func exact(n *Netlist, nodes int) ([]*big.Rat, error) {
	rat := func(f float64) *big.Rat { return new(big.Rat).SetFloat64(f) }
	size := nodes + len(n.branches)
	m := make([][]*big.Rat, size)
	for i := range m {
		m[i] = make([]*big.Rat, size+1)
		for j := range m[i] {
			m[i][j] = new(big.Rat)
		}
	}
	for i, b := range n.branches {
		row := m[nodes+i]
		if math.IsInf(b.Resistance, 1) {
			row[nodes+i] = rat(1)
			continue
		}
		row[nodes+i] = rat(b.Resistance)
		row[b.to].Add(row[b.to], rat(1))
		row[b.from].Sub(row[b.from], rat(1))
		row[size] = rat(b.EMF)
		m[b.to][nodes+i].Add(m[b.to][nodes+i], rat(1))
		m[b.from][nodes+i].Sub(m[b.from][nodes+i], rat(1))
	}
	// Columns without a pivot are the free potentials of the islands: taking
	// them as zero grounds one node each. A branch current is never free.
	pivotOf, used := make([]int, size), make([]bool, size)
	for col := range size {
		pivotOf[col] = -1
		for row := range size {
			if !used[row] && m[row][col].Sign() != 0 {
				pivotOf[col] = row
				break
			}
		}
		p := pivotOf[col]
		if p < 0 {
			if col >= nodes {
				return nil, fmt.Errorf("current %d is free", col-nodes)
			}
			continue
		}
		used[p] = true
		for row := range size {
			if row == p || m[row][col].Sign() == 0 {
				continue
			}
			f := new(big.Rat).Quo(m[row][col], m[p][col])
			for j := col; j <= size; j++ {
				m[row][j].Sub(m[row][j], new(big.Rat).Mul(f, m[p][j]))
			}
		}
	}
	for row := range size {
		if !used[row] && m[row][size].Sign() != 0 {
			return nil, errors.New("contradiction")
		}
	}
	current := make([]*big.Rat, len(n.branches))
	for i := range current {
		p := pivotOf[nodes+i]
		current[i] = new(big.Rat).Quo(m[p][size], m[p][nodes+i])
	}
	return current, nil
}

// Any network at all, resistances from a micro-ohm to a tera-ohm: either both
// ways find that a current is not determined, or the currents are those of the
// exact solution.
func TestAgainstExactArithmetic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nodes := rapid.IntRange(1, 5).Draw(t, "nodes")
		node := rapid.IntRange(0, nodes-1)
		var n Netlist
		var largest float64
		for i := range rapid.IntRange(1, 8).Draw(t, "branches") {
			ohm := math.Pow(10, rapid.Float64Range(-6, 12).Draw(t, "log R"))
			e := rapid.SampledFrom([]Element{
				Resistor(ohm), Resistor(ohm), Source(1.5, ohm), Source(rapid.Float64Range(-9, 9).Draw(t, "E"), 0), Key(true), Key(false),
			}).Draw(t, "element")
			n.Add(fmt.Sprint("element ", i), e, Node(node.Draw(t, "from")), Node(node.Draw(t, "to")))
		}
		want, failed := exact(&n, nodes)
		got, err := n.Solve()
		if errors.Is(err, ErrIndeterminate) != (failed != nil) {
			t.Fatalf("%+v: error %v, exact arithmetic says %v", n.branches, err, failed)
		}
		if err != nil {
			if failed == nil {
				t.Fatalf("%+v: %v", n.branches, err)
			}
			return
		}
		for i := range want {
			w, _ := want[i].Float64()
			largest = max(largest, math.Abs(w))
		}
		for i := range want {
			w, _ := want[i].Float64()
			// 1e-24 of the largest current is nothing: a thousandth of its
			// last digit's thousandth part.
			if g := got.Current(BranchID(i)); !near(g, w, 1e-15) && math.Abs(g-w) > 1e-24*largest {
				t.Fatalf("%+v: branch %d carries %v, exactly %v", n.branches, i, g, w)
			}
		}
	})
}

func BenchmarkSolve(b *testing.B) {
	n, id := Bench{EMF: 1.46, SourceResistance: 0.9, Series: 3150, Movement: 90.5, Shunt: 88, K1: true, K2: true}.Netlist()
	b.ReportAllocs()
	for b.Loop() {
		s, err := n.Solve()
		if err != nil || s.Current(id.Movement) == 0 {
			b.Fatal(err)
		}
	}
}

func BenchmarkNetlistAndSolve(b *testing.B) {
	bench := Bench{EMF: 1.46, SourceResistance: 0.9, Series: 3150, Movement: 90.5, Shunt: 88, K1: true, K2: true}
	b.ReportAllocs()
	for b.Loop() {
		n, id := bench.Netlist()
		s, err := n.Solve()
		if err != nil || s.Current(id.Movement) == 0 {
			b.Fatal(err)
		}
	}
}
