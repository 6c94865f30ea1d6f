package circuit

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// A law worked out by determinants of the meshes answers as the nodal solution
// does, for the sound bench and for edits of every kind.
func TestLawAgainstSolve(t *testing.T) {
	edits := map[string]func(*Netlist) error{
		"sound":          func(*Netlist) error { return nil },
		"reversed":       func(n *Netlist) error { return n.Reverse(NameSource) },
		"exchanged":      func(n *Netlist) error { return n.Exchange(NameSeries, NameShunt) },
		"across series":  func(n *Netlist) error { return n.Move(NameShunt, Tapped, Switched) },
		"across source":  func(n *Netlist) error { return n.Move(NameK2, Plus, Tapped) },
		"shorted series": func(n *Netlist) error { return n.Short(NameSeries) },
		"open loop":      func(n *Netlist) error { return n.Open(NameK1) },
		"leak": func(n *Netlist) error {
			_, err := n.Bridge("leak", NameSeries, Resistor(2e4))
			return err
		},
		"contact": func(n *Netlist) error {
			_, err := n.Insert("contact", NameShunt, Resistor(3))
			return err
		},
	}
	for name, edit := range edits {
		for _, k2 := range []bool{false, true} {
			t.Run(name, func(t *testing.T) {
				rapid.Check(t, func(t *rapid.T) {
					ohm := []float64{
						rapid.Float64Range(100, 2e4).Draw(t, "series"), rapid.Float64Range(1, 1000).Draw(t, "shunt"),
						rapid.Float64Range(10, 500).Draw(t, "movement"), rapid.Float64Range(0.1, 50).Draw(t, "source"),
					}
					n, b := Bench{EMF: 1.5, SourceResistance: ohm[3], Series: ohm[0], Movement: ohm[2], Shunt: ohm[1], K1: true, K2: k2}.Netlist()
					if err := edit(n); err != nil {
						t.Fatal(err)
					}
					solved, err := n.Solve()
					if err != nil {
						t.Fatal(err)
					}
					want := solved.Current(b.Movement)
					law, err := n.Law(b.Movement, NameSource, NameSeries, NameShunt, NameMovement, NameSource)
					if err != nil {
						t.Fatal(err)
					}
					slope := make([]float64, 4)
					got := 1.5 * law.At(ohm, slope)
					if math.Abs(got-want) > 1e-9*math.Abs(want)+1e-15 {
						t.Fatalf("%v: the law gives %g A, the nodal solution %g A", ohm, got, want)
					}
					for i := range ohm { // the slopes against differences of the law itself
						up := append([]float64(nil), ohm...)
						up[i] *= 1 + 1e-6
						if d := (law.At(up, nil) - got/1.5) / 1e-6; math.Abs(d-slope[i]) > 1e-4*(math.Abs(d)+math.Abs(got)) {
							t.Fatalf("%v: slope %d is %g, by differences %g", ohm, i, slope[i], d)
						}
					}
				})
			})
		}
	}
	n, b := Bench{EMF: 1, Series: 1, Movement: 1, Shunt: 1, K1: true}.Netlist()
	if _, err := n.Law(b.Movement, "no such thing"); err == nil {
		t.Error("a law for an unknown source is given")
	}
}
