package procedure

import (
	"math"
	"testing"

	"example.org/halve/physics"
)

// TestGiven: the row formula with what Given says gives the row's own G and k.
func TestGiven(t *testing.T) {
	if _, ok := new(State).Given(); ok {
		t.Error("Given before the bench: ok = true, want false")
	}
	s := ready(t, SourceMeasured{EMF: 1.46, UEMF: ptr(0.01)},
		SeriesSet{Ohm: 3150}, first(24), ShuntSet{Ohm: 88}, shunted(12), RowKept{}).s
	g, ok := s.Given()
	if !ok || g.EMF != 1.46 || g.UEMF != 0.01 {
		t.Fatalf("Given = %+v, %v; want the measured EMF of 1.46 ± 0.01 V", g, ok)
	}
	row := Advise(s).Rows[0]
	res, err := physics.Row{EMF: g.EMF, SourceResistance: g.SourceResistance, Series: 3150, Shunt: 88, First: 24, Shunted: 12}.Solve(physics.RowDoubt{})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(res.G-*row.Resistance) > 1e-9 || math.Abs(res.K/(*row.Merit)-1) > 1e-12 {
		t.Errorf("with what is given G = %g, k = %g; the row has %g and %g", res.G, res.K, *row.Resistance, *row.Merit)
	}
}
