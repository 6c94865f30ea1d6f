package fault

import (
	"math"
	"slices"
	"testing"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/circuit"
)

// The bench of the tests: 1.5 V, r = 2 ohm, R = 3000 ohm, S = 70 ohm,
// G = 95 ohm; currents in ampere.
const (
	emf, inner, series, shunt, movement = 1.5, 2.0, 3000.0, 70.0, 95.0
)

// open and shunted are o(R) and s(R, S) of the domain notes, without k: the
// movement's current with K2 open and closed, by the closed form.
func open(e, r, big, g float64) float64 { return e / (big + r + g) }

func shunted(e, r, big, small, g float64) float64 {
	return e * small / ((big+r)*(g+small) + g*small)
}

// The circuit faults give the currents that the domain notes' table E has for
// them in closed form. Sizes are at their middle.
func TestCircuitFaults(t *testing.T) {
	o := func(big float64) float64 { return open(emf, inner, big, movement) }
	s := func(big, small float64) float64 { return shunted(emf, inner, big, small, movement) }
	parallel := func(a, b float64) float64 { return a * b / (a + b) }
	sound := o(series)
	for _, tc := range []struct {
		id            ID
		form          string
		first, second float64
	}{
		{NoCurrent, "", 0, 0},
		{Reversed, "", -sound, -s(series, shunt)},
		{SeriesBypassed, "", o(0), s(0, shunt)},
		{BoxesExchanged, "", o(shunt), s(shunt, series)},
		{ShuntAlreadyClosed, "", s(series, shunt), s(series, shunt)},
		{ShuntOpen, "", sound, sound},
		{ShuntShorted, "", sound, 0},
		{ShuntInSeries, "when K2 is closed", sound, o(series + shunt)},
		{ShuntInSeries, "always", o(series + shunt), o(series + shunt)},
		{ShuntAcrossSeries, "", sound, o(parallel(series, shunt))},
		// E S/(S+r) behind r∥S.
		{ShuntAcrossSource, "", sound, open(emf*shunt/(shunt+inner), parallel(inner, shunt), series, movement)},
		{ShuntContact, "", sound, s(series, shunt+6)},
		// The inner shunt takes its share of the current: Gs/(G+Gs).
		{InnerShunt, "", open(emf, inner, series, parallel(movement, 60)) * 60 / (movement + 60),
			shunted(emf, inner, series, shunt, parallel(movement, 60)) * 60 / (movement + 60)},
		// K2 closed where it is said to be open, and the reverse.
		{ColumnsSwapped, "K2 the wrong way", s(series, shunt), sound},
		{Leakage, "", o(parallel(series, 2e4)), s(parallel(series, 2e4), shunt)},
		{SourceWeak, "", open(0.78*emf, 15*inner, series, movement), shunted(0.78*emf, 15*inner, series, shunt, movement)},
		{SourceDoubled, "", open(2*emf, 2*inner, series, movement), shunted(2*emf, 2*inner, series, shunt, movement)},
	} {
		t.Run(string(tc.id)+" "+tc.form, func(t *testing.T) {
			i := slices.IndexFunc(Catalogue(), func(f Fault) bool { return f.ID == tc.id && f.Form == tc.form })
			if i < 0 {
				t.Fatal("not in the catalogue")
			}
			for k2, want := range map[bool]float64{false: tc.first, true: tc.second} {
				n, b, err := Catalogue()[i].Netlist(circuit.Bench{EMF: emf, SourceResistance: inner, Series: series, Shunt: shunt, Movement: movement, K1: true, K2: k2}, 0)
				if err != nil {
					t.Fatal(err)
				}
				solved, err := n.Solve()
				if err != nil {
					t.Fatal(err)
				}
				if got := solved.Current(b.Movement); math.Abs(got-want) > 1e-9*math.Abs(want)+1e-15 {
					t.Errorf("K2 closed %v: %g A, want %g A", k2, got, want)
				}
			}
		})
	}
}

// What is written where the needle stands at 20 of 30 divisions; by the
// definitions of the faults.
func TestWrite(t *testing.T) {
	for _, tc := range []struct {
		id   ID
		form string
		l    Look
		size float64
		want float64
	}{
		{FarEnd, "", Look{Div: 20, Divisions: 30}, 0, 10},
		{WrongSide, "", Look{Div: 20, Divisions: 30}, 0, -20},
		{ScaleMisread, "half", Look{Div: 20, Divisions: 30}, 0, 10},
		{ScaleMisread, "five times", Look{Div: 5, Divisions: 30}, 0, 25},
		{ZeroOff, "", Look{Div: 20, Divisions: 30}, -1.5, 18.5},
		{PointerSticks, "", Look{Div: 20, Divisions: 30}, 1, 19},
		{PointerSticks, "", Look{Div: 20, Divisions: 30, Shunted: true}, 1, 21},
		{PointerSticks, "", Look{Div: -0.5, Divisions: 30}, 1, 0},
		{ScaleUneven, "", Look{Div: 15, Divisions: 30}, 0.1, 14.25},
		{SourceRunningDown, "", Look{Div: 20, Age: 5}, 0.02, 20 * math.Exp(-0.1)},
		{HalfMissed, "", Look{Div: 11, Divisions: 30, First: 24, Other: 20, Shunted: true}, 0, 10},
		{HalfMissed, "", Look{Div: -11, Divisions: 30, First: -24, Other: 20, Shunted: true}, 0, -10},
		{HalfMissed, "", Look{Div: 24, Divisions: 30, First: 24, Other: 20}, 0, 24},
		// The half of 25 is hardly another than that of 24: nobody misses it.
		{HalfMissed, "", Look{Div: 11, Divisions: 30, First: 24, Other: 25, Shunted: true}, 0, 11},
		{ComputedNotRead, "", Look{Div: 9, Divisions: 30, First: 24, Shunted: true}, 0, 12},
		{ComputedNotRead, "", Look{Div: 24, Divisions: 30, First: 24}, 0, 24},
	} {
		for _, f := range Catalogue() {
			if f.ID != tc.id || f.Form != tc.form {
				continue
			}
			if got := f.Write(tc.l, tc.size); math.Abs(got-tc.want) > 1e-12 {
				t.Errorf("%s %s, %+v, size %g: %g, want %g", tc.id, tc.form, tc.l, tc.size, got, tc.want)
			}
		}
	}
}

func TestToggles(t *testing.T) {
	plug := apparatus.Box{Kind: apparatus.Plug, Coils: []float64{1, 2, 2, 5}}
	decade := apparatus.Box{Kind: apparatus.Decade, Dials: []float64{100, 10}}
	if got := len(Toggles(plug)); got != 6 {
		t.Errorf("%d toggles of three different coils, want 6", got)
	}
	for _, tc := range []struct {
		name   string
		box    apparatus.Box
		toggle Toggle
		said   []float64
		ohm    float64
		ok     bool
	}{
		{"a plug forgotten in", plug, Toggle{2, false}, []float64{5, 2}, 5, true},
		{"a plug out besides", plug, Toggle{2, true}, []float64{5, 2}, 9, true},
		{"no such plug left", plug, Toggle{2, true}, []float64{2, 2}, 4, false},
		{"no such plug out", plug, Toggle{1, false}, []float64{5}, 5, false},
		{"a dial one step high", decade, Toggle{10, true}, []float64{100, 10}, 120, true},
		{"a dial at its end", decade, Toggle{10, true}, slices.Repeat([]float64{10}, 10), 100, false},
	} {
		t.Run(tc.name, func(t *testing.T) {
			said := apparatus.Setting{Coils: tc.said}
			for _, c := range tc.said {
				said.Ohm += c
			}
			if ohm, ok := tc.toggle.Of(tc.box, said); ohm != tc.ohm || ok != tc.ok {
				t.Errorf("%g, %v; want %g, %v", ohm, ok, tc.ohm, tc.ok)
			}
		})
	}
	r, err := apparatus.NewRange(plug)
	if err != nil {
		t.Fatal(err)
	}
	if got := Complement.Made(r, apparatus.Setting{Ohm: 3}, 0); got != 7 {
		t.Errorf("the plugs of 3 of 10 ohm the other way round make %g, want 7", got)
	}
	if got := AsSaid.Made(r, apparatus.Setting{Ohm: 3}, 7); got != 3 {
		t.Errorf("3 ohm as said is %g", got)
	}
	if got := len(Toggles(decade)); got != 4 {
		t.Errorf("%d toggles of two dials, want a step up and down of each", got)
	}
	if got := Factor.Made(r, apparatus.Setting{Ohm: 3}, 0.1); math.Abs(got-0.3) > 1e-12 {
		t.Errorf("a tenth of 3 ohm is %g", got)
	}
}

// What a bench can have: not what comes about only when a row is written down,
// nor plugs read the wrong way round where there are none.
func TestWhere(t *testing.T) {
	plug, decade := apparatus.Box{Kind: apparatus.Plug}, apparatus.Box{Kind: apparatus.Decade}
	for _, f := range Catalogue() {
		if want := f.ID != ColumnsSwapped || f.Form == "K2 the wrong way"; f.Benchable() != want {
			t.Errorf("%s %s can be had on a bench: %v", f.ID, f.Form, !want)
		}
		for _, x := range []struct {
			series, shunt apparatus.Box
			not           ID
		}{{plug, plug, ""}, {decade, plug, SeriesComplement}, {plug, decade, ShuntComplement}} {
			if got, want := f.Fits(x.series, x.shunt), f.ID != x.not || x.not == ""; got != want {
				t.Errorf("%s fits a %s series box and a %s shunt box: %v", f.ID, x.series.Kind, x.shunt.Kind, got)
			}
		}
	}
}

// An edit of a circuit that has not what is edited fails, and says what.
func TestForeignCircuit(t *testing.T) {
	for _, f := range Catalogue() {
		if f.Edit == nil {
			continue
		}
		if err := f.Edit(new(circuit.Netlist), true); err == nil {
			t.Errorf("%s %s: an empty circuit is edited without an error", f.ID, f.Form)
		}
	}
	broken := Fault{Size: Size{What: Ohm, Mid: 1}} // adds no element of that name
	if _, _, err := broken.Netlist(circuit.Bench{EMF: emf, Movement: movement, Series: series}, 0); err == nil {
		t.Error("a size without its element: no error")
	}
	broken.Edit = func(n *circuit.Netlist, _ bool) error { return n.Open("no such element") }
	if _, _, err := broken.Netlist(circuit.Bench{EMF: emf, Movement: movement, Series: series}, 0); err == nil {
		t.Error("an element that is not there: no error")
	}
}
