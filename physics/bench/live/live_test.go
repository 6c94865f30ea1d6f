package live

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/bench"
	"example.org/halve/physics/circuit"
	"example.org/halve/physics/fault"
)

func rng(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 2)) }

// school is a usual bench: with 3150 Ω and 88 Ω of perfect boxes its needle
// rests at 24 and 12 (scenario D1 of the reference data).
func school() (apparatus.Bench, bench.Hidden, Truth) {
	stated := apparatus.Bench{
		Source:       apparatus.Source{EMF: 1.46},
		Galvanometer: apparatus.Galvanometer{Divisions: 30, Zero: apparatus.CentreZero, Resolution: 0.5},
		SeriesBox:    apparatus.Box{Kind: apparatus.Plug, Coils: apparatus.PlugSet(1, 10, 100, 1000)},
		ShuntBox:     apparatus.Box{Kind: apparatus.Decade, Dials: []float64{100, 10, 1}},
	}
	const g = 3150.9 * 88 / (3150.9 - 88)
	hidden := bench.Hidden{
		EMF: 1.46, SourceResistance: 0.9, Resistance: g, Merit: 1.46 / (24 * (3150.9 + g)),
		SeriesErrors: make([]float64, 16), ShuntErrors: make([]float64, 3),
	}
	// The movement of the movement package's examples; a cell that never falls.
	return stated, hidden, Truth{Period: 1.5, Damping: 0.25, Critical: 200, Friction: 0.1, SagTime: 60, stops: 1, bounce: 0.3}
}

func still(t testing.TB, stated apparatus.Bench, h bench.Hidden, id string, seed uint64) *bench.Bench {
	t.Helper()
	b, err := bench.New(stated, h, rng(seed))
	if err != nil {
		t.Fatal(err)
	}
	if id != "" {
		if err := Plant(b, id, rng(seed)); err != nil {
			t.Fatal(err)
		}
	}
	return b
}

// open sets up the school bench, wired, with a fault where id names one.
func open(t testing.TB, id string, change ...func(*Truth)) *Bench {
	t.Helper()
	stated, h, truth := school()
	for _, c := range change {
		c(&truth)
	}
	b, err := New(still(t, stated, h, id, 1), truth, rng(1), true)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

const s = time.Second

func arrange(t testing.TB, b *Bench, at time.Duration, series, shunt float64) {
	t.Helper()
	for which, ohm := range map[Box]float64{Series: series, Shunt: shunt} {
		r, err := apparatus.NewRange(b.box(which).stated)
		if err != nil {
			t.Fatal(err)
		}
		set, ok := r.Exact(ohm)
		if !ok {
			t.Fatalf("no setting of %g ohm", ohm)
		}
		if err := b.Arrange(at, which, set); err != nil {
			t.Fatal(err)
		}
	}
}

func near(t testing.TB, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %.6g, want %.6g within %g", what, got, want, within)
	}
}

// The steady deflection is that of the still bench, whose needle the nodal
// solution places: for invented benches of all kinds, boxes at any setting,
// keys in every state.
func TestSteadyIsTheNodalSolution(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := rng(rapid.Uint64().Draw(rt, "seed"))
		stated := bench.Stock(r)
		h := bench.Draw(stated, r)
		still, err := bench.New(stated, h, r)
		if err != nil {
			rt.Fatal(err)
		}
		b, err := New(still, DrawTruth(stated.Galvanometer, r), r, true)
		if err != nil {
			rt.Fatal(err)
		}
		for _, which := range []Box{Series, Shunt} {
			set := still.SetSeries
			if which == Shunt {
				set = still.SetShunt
			}
			x := b.box(which)
			var out []float64
			for i := range x.in {
				// Of equal coils the still bench takes the first; so here.
				if x.most() == 1 && i > 0 && x.values[i] == x.values[i-1] && x.in[i-1] == 0 {
					continue
				}
				n := rapid.IntRange(0, x.most()).Draw(rt, "plug")
				if err := b.Set(0, which, i, n); err != nil {
					rt.Fatal(err)
				}
				for range n {
					out = append(out, x.values[i])
				}
			}
			if out == nil {
				out = []float64{}
			}
			if err := set(b.Said(which), out); err != nil {
				rt.Fatal(err)
			}
		}
		for _, keys := range [][2]bool{{false, false}, {true, false}, {false, true}, {true, true}} {
			still.SetKeys(keys[0], keys[1])
			b.keys = keys
			b.rewire()
			got, want := b.steady(), still.Deflection()
			if math.Abs(got-want) > 1e-12*(1+math.Abs(want)) { // a shorted box: 1e-6 ohm stand in for none
				if b.series.made() > 0 && b.shunt.made() > 0 {
					rt.Fatalf("keys %v: steady %.17g, the nodal solution %.17g", keys, got, want)
				}
			}
		}
	})
}

// benchOf is the same circuit as package circuit draws it.
func benchOf(v values) circuit.Bench {
	return circuit.Bench{EMF: v.emf, SourceResistance: v.source, Series: v.series, Movement: v.movement, Shunt: v.shunt, K1: v.k1, K2: v.k2}
}

// Every fault of hands that lies in the circuit drives the current that the
// catalogue's netlist drives, whether it was made with wires or sits hidden.
func TestFaultsAreTheCatalogues(t *testing.T) {
	for _, f := range fault.Catalogue() {
		if !slices.Contains(Faults(), string(f.ID)) || f.Series != fault.AsSaid || f.Shunt != fault.AsSaid || f.Form == "when K2 is closed" {
			continue
		}
		t.Run(string(f.ID)+" "+f.Form, func(t *testing.T) {
			rapid.Check(t, func(rt *rapid.T) {
				num := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(rt, name) }
				v := values{num("E", 0.5, 3), num("r", 0.1, 5), num("R", 1, 2e4), num("G", 20, 500), num("S", 0.1, 1000),
					rapid.Bool().Draw(rt, "K1"), rapid.Bool().Draw(rt, "K2")}
				x := num("size", -1.5, 1.5)
				n, branch, err := f.Netlist(benchOf(v), x)
				if err != nil {
					rt.Fatal(err)
				}
				solved, err := n.Solve()
				if err != nil {
					rt.Fatal(err)
				}
				want := solved.Current(branch.Movement)

				size, _ := f.Size.At(x)
				tr := trouble{Fault: f, there: true, size: size}
				leads := asDrawn()
				if l, ok := misWired(f); ok {
					leads, tr.wires = l, true
				}
				tr.source(&v)
				got, err := solve(leads, v, tr.edit)
				if err != nil {
					rt.Fatal(err)
				}
				if math.Abs(got.movement-want) > 1e-12*(math.Abs(want)+1e-6) {
					rt.Fatalf("%v: %.15g A through the movement, want %.15g", v, got.movement, want)
				}
			})
		})
	}
}

// The damping follows the circuit that the coil looks into: by hand R′ with K1
// closed, R′ and S in parallel with both, S with K2 alone, nothing with none.
func TestDampingFollowsTheKeys(t *testing.T) {
	b := open(t, "")
	arrange(t, b, 0, 3150, 88)
	for _, tt := range []struct {
		k1, k2   bool
		external float64
	}{{false, false, math.Inf(1)}, {true, false, 3150.9}, {true, true, 3150.9 * 88 / (3150.9 + 88)}, {false, true, 88}} {
		b.SetKey(0, K1, tt.k1)
		b.SetKey(0, K2, tt.k2)
		near(t, "ζ", b.drive.Zeta, b.coil.Zeta(tt.external), 1e-12)
	}
}

// A row by hand: the needle swings over and comes to rest, K2 makes it creep
// down, and both ends are where the circuit has them, within the friction.
func TestARow(t *testing.T) {
	b := open(t, "")
	arrange(t, b, 0, 3150, 88)
	b.SetKey(1*s, K1, true)
	if over := b.Needle(1*s + 800*time.Millisecond); over < 28 { // 24·1.35 = 32.4 but for the stop
		t.Errorf("the first swing is at %.1f after half a period, want it well past 24", over)
	}
	near(t, "at rest with K1", b.Needle(12*s), 24, 0.1)
	b.SetKey(20*s, K2, true)
	early := b.Needle(20*s + 600*time.Millisecond)
	if early < 14 {
		t.Errorf("0.6 s after K2 the needle is at %.2f already, want it still on its way down from 24 to 12", early)
	}
	near(t, "at rest with both keys", b.Needle(32*s), 12.1, 0.001) // creeping from above it stops high
	b.TapCase(33 * s)
	near(t, "tapped", b.Needle(33*s), 12, 0.025+1e-9)
	b.SetKey(34*s, K2, false)
	near(t, "K2 open again", b.Needle(50*s), 24, 0.1)
	b.SetKey(50*s, K1, false)
	near(t, "both open", b.Needle(70*s), 0, 0.1)
	if hs := b.Happenings(); len(hs) != 1 || hs[0].Kind != Touched || hs[0].Act != (Act{Do: Close, Key: K1}) {
		t.Errorf("happenings %+v, want that the first swing met the stop as K1 was closed", hs)
	}
	if n, closed := b.Closings(); n != 2 || closed != 49*s {
		t.Errorf("%d closings, K1 for %v, want 2 and 49 s", n, closed)
	}
}

// What was to be seen with the keys closed is remembered when they are open
// again.
func TestLast(t *testing.T) {
	b := open(t, "")
	arrange(t, b, 0, 3150, 88)
	if _, ok := b.Last(0, false); ok {
		t.Error("a look with K1 closed, before it ever was")
	}
	b.SetKey(1*s, K1, true)
	if l, ok := b.Last(1200*time.Millisecond, false); !ok || !l.Moving || l.Rest != 24 || l.Div > 20 {
		t.Errorf("0.2 s after K1: %+v, %v, want the needle on its way to 24", l, ok)
	}
	b.SetKey(12*s, K2, true)
	b.SetKey(24*s, K2, false)
	b.SetKey(24*s, K1, false)
	for shunted, want := range map[bool]float64{false: 24, true: 12} {
		l, ok := b.Last(60*s, shunted)
		if !ok || l.SeriesOhm != 3150 || l.ShuntOhm != 88 || !l.Wired || math.Abs(l.Rest-want) > 1e-9 {
			t.Errorf("shunted %v: %+v, %v, want the rest at %g with 3150 and 88 ohm", shunted, l, ok, want)
		}
	}
	b.Connect(60*s, K2A, K2B)
	b.SetKey(60*s, K1, true)
	if l, _ := b.Last(60*s, false); l.Wired {
		t.Error("with a lead across K2 the circuit counts as wired")
	}
	if l, _ := b.Last(60*s, true); l.Moving || math.Abs(l.Div-12.1) > 0.01 {
		t.Errorf("both keys: %+v, want it at rest at 12.1", l)
	}
}

// K1 closed with the series box left out: the needle is past the last mark at
// once, and it is remembered by which act.
func TestPegged(t *testing.T) {
	b := open(t, "")
	b.SetKey(5*s, K1, true)
	if n := b.Needle(6 * s); n != 31 {
		t.Errorf("the needle is at %g, want against the stop at 31", n)
	}
	b.SetKey(7*s, K1, false)
	near(t, "afterwards", b.Needle(30*s), 0, 0.1)
	hs := b.Happenings()
	if len(hs) != 1 {
		t.Fatalf("happenings %+v, want one", hs)
	}
	h := hs[0]
	if h.Kind != Pegged || !h.Right || h.Act != (Act{Do: Close, Key: K1}) || h.SeriesOhm != 0 || h.At < 5*s || h.At > 6*s {
		t.Errorf("got %+v, want the needle pegged on the right by closing K1 at 0 Ω, about 5 s", h)
	}
	near(t, "times full scale", h.Times, 1.46/(0.9+b.hidden.Resistance)/b.hidden.Merit/30, 1e-9)
}

// A needle that is past the last mark was driven there by one act; what is done
// while it stays there did not do it. Once it has been back it counts anew.
func TestPeggedOnce(t *testing.T) {
	b := open(t, "")
	b.SetKey(1*s, K1, true)
	b.TapCase(3 * s)
	b.SetKey(4*s, K2, true) // the shunt box at 0 takes all the current
	b.SetKey(6*s, K2, false)
	if err := b.Set(8*s, Series, 0, 1); err != nil { // 1 Ω
		t.Fatal(err)
	}
	b.LookOver(9*s, Cell)
	b.SetKey(10*s, K1, false)
	b.Needle(30 * s)
	var pegged []Act
	for _, h := range b.Happenings() {
		if h.Kind == Pegged {
			pegged = append(pegged, h.Act)
		}
	}
	if want := []Act{{Do: Close, Key: K1}, {Do: Open, Key: K2}}; !slices.Equal(pegged, want) {
		t.Errorf("past the last mark by %+v, want by %+v", pegged, want)
	}
}

// What is looked over is mended when it is looked over, not when the needle was
// last seen: nothing flowed until then.
func TestLookedOverInTime(t *testing.T) {
	b := open(t, "no-current")
	arrange(t, b, 0, 3150, 88)
	b.SetKey(1*s, K1, true)
	if b.LookOver(60*s, KeyK1) != "no-current" {
		t.Fatal("the broken contact is not found")
	}
	near(t, "at that moment", b.Needle(60*s), 0, 1e-9)
	if n := b.Needle(60*s + 100*time.Millisecond); n < 0.5 || n > 12 { // 24·(ω0t)²/2 = 2.1
		t.Errorf("a tenth of a second later the needle is at %.2f, want it on its way to 24", n)
	}
}

// A tap lasts an instant: twice the full scale does not reach the stop, and
// the key is open again.
func TestTap(t *testing.T) {
	b := open(t, "")
	arrange(t, b, 0, 1500, 0) // 1.46/(1591.4·k) = 49 divisions
	b.TapKey(1*s, K1)
	if !b.Closed(K1) {
		t.Error("K1 is open while it is tapped")
	}
	most := 0.0
	for at := 1 * s; at < 4*s; at += 20 * time.Millisecond {
		most = max(most, b.Needle(at))
	}
	if most < 15 || b.Closed(K1) {
		t.Errorf("the needle kicked to %.1f, K1 closed %v, want a clear kick and K1 open", most, b.Closed(K1))
	}
	near(t, "afterwards", b.Needle(30*s), 0, 0.1)
	// What was last to be seen with K1 closed is the needle as K1 was let go.
	let := open(t, "")
	arrange(t, let, 0, 1500, 0)
	let.TapKey(1*s, K1)
	let.Needle(30 * s) // nobody looked before
	other := open(t, "")
	arrange(t, other, 0, 1500, 0)
	other.TapKey(1*s, K1)
	if l, ok := let.Last(31*s, false); !ok || !l.Moving || math.Abs(l.Div-other.Needle(1*s+tapTime-1)) > 1e-3 {
		t.Errorf("after a tap the last to be seen is %+v, %v, want the needle at %.3f, moving", l, ok, other.Needle(1*s+tapTime-1))
	}
}

// The cell falls by a first-order law while K1 is closed, and recovers.
func TestCellRunsDown(t *testing.T) {
	b := open(t, "", func(t *Truth) { t.Sag, t.SagTime, t.Friction = 40, 50, 0 })
	arrange(t, b, 0, 3150, 88)
	near(t, "voltmeter, fresh", b.Voltmeter(0), 1.46, 0.0125)
	b.SetKey(0, K1, true)
	i := 1.46 / (3150.9 + b.hidden.Resistance)
	want := func(secs float64) float64 { return 24 * (1 - 40*i*(1-math.Exp(-secs/50))) }
	for _, secs := range []float64{20, 60, 200} {
		// 0.003: the fall is followed in steps of a tenth of a second
		near(t, "after "+time.Duration(secs*1e9).String(), b.Needle(time.Duration(secs*1e9)), want(secs), 0.003)
	}
	b.SetKey(200*s, K1, false)
	lost := b.cell.lost
	near(t, "lost", lost, 40*i*(1-math.Exp(-4)), 1e-9)
	b.Needle(250 * s)
	near(t, "recovered in part", b.cell.lost, lost*math.Exp(-1), 1e-9)
	b.Needle(3000 * s)
	near(t, "recovered", b.cell.lost, 0, 1e-9)
}

// It does not matter how often the bench is looked at.
func TestLookingChangesNothing(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		one, other := open(t, ""), open(t, "")
		at := time.Duration(0)
		for range rapid.IntRange(1, 12).Draw(rt, "acts") {
			gap := time.Duration(rapid.Int64Range(0, int64(4*s)).Draw(rt, "gap"))
			for range rapid.IntRange(0, 20).Draw(rt, "looks") {
				one.Needle(at + time.Duration(rapid.Int64Range(0, int64(gap)).Draw(rt, "look")))
			}
			at += gap
			do := act(rt)
			do(one, at)
			do(other, at)
		}
		a, b := one.Needle(at+2*s), other.Needle(at+2*s)
		if math.Abs(a-b) > 1e-6 {
			rt.Fatalf("%.9f when looked at in between, %.9f when not", a, b)
		}
		if len(one.Happenings()) != len(other.Happenings()) {
			rt.Fatalf("%+v when looked at in between, %+v when not", one.Happenings(), other.Happenings())
		}
	})
}

// A plug moved just after a tapped key was let go finds the key let go before
// it: the damping between the two is that of the box as it was. (Once the box
// was changed first.)
func TestActsInTheirOrder(t *testing.T) {
	var at [2]float64
	for i, look := range []bool{false, true} {
		b := open(t, "")
		if err := b.Set(0, Shunt, 0, 1); err != nil {
			t.Fatal(err)
		}
		b.SetKey(0, K2, true)
		b.TapKey(0, K1)
		if look {
			b.Needle(390 * time.Millisecond)
		}
		if err := b.Set(400*time.Millisecond, Shunt, 0, 0); err != nil {
			t.Fatal(err)
		}
		at[i] = b.Needle(2 * s)
	}
	near(t, "not looked at in between", at[0], at[1], 1e-9)
}

// act draws something that hands can do.
func act(rt *rapid.T) func(*Bench, time.Duration) {
	n := func(name string, most int) int { return rapid.IntRange(0, most).Draw(rt, name) }
	which := n("act", 9)
	i, j, k := n("i", 17), n("j", 12), Key(n("key", 1))
	return func(b *Bench, at time.Duration) {
		switch which {
		case 0, 1:
			b.SetKey(at, k, true)
		case 2:
			b.SetKey(at, k, false)
		case 3:
			b.TapKey(at, k)
		case 4:
			_ = b.Set(at, Series, i, j%2)
		case 5:
			_ = b.Set(at, Shunt, i%4, j)
		case 6:
			_ = b.Connect(at, Terminal(i), Terminal(j))
		case 7:
			b.TurnZero(at, float64(i-8)/4)
		case 8:
			b.TapCase(at)
		case 9:
			b.Wire(at)
		}
	}
}

// Whatever hands do, with whatever fault, the needle is between its stops.
func TestAnyHands(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		id := rapid.SampledFrom(append(Faults(), "")).Draw(rt, "fault")
		b := open(t, id)
		at := time.Duration(0)
		for range rapid.IntRange(1, 25).Draw(rt, "acts") {
			at += time.Duration(rapid.Int64Range(0, int64(3*s)).Draw(rt, "gap"))
			act(rt)(b, at)
			if n := b.Needle(at); !(n >= -31 && n <= 31) {
				rt.Fatalf("the needle is at %g", n)
			}
			if z := b.drive.Zeta; !(z >= 0.25) {
				rt.Fatalf("ζ = %g, want never less than the open movement's 0.25", z)
			}
			b.LookOver(at, Part(rapid.IntRange(0, int(Parts)-1).Draw(rt, "part")))
		}
	})
}

// A needle at rest asks for no picture, a moving one for thirty a second.
func TestDue(t *testing.T) {
	b := open(t, "")
	arrange(t, b, 0, 3150, 88)
	if got := b.Due(0); got != 0 {
		t.Errorf("at rest: due in %v, want never", got)
	}
	b.SetKey(0, K1, true)
	if got := b.Due(0); got != Frame {
		t.Errorf("K1 just closed: due in %v, want %v", got, Frame)
	}
	settled := b.Settling(0)
	if settled < 2*s || settled > 6*s {
		t.Errorf("settling takes %v, want some seconds", settled)
	}
	if got := b.Due(12 * s); got != 0 {
		t.Errorf("at rest with current: due in %v, want never", got)
	}
	b.SetKey(20*s, K1, false)
	if got := b.Due(40 * s); got != 0 {
		t.Errorf("keys open for 20 s: due in %v, want never", got)
	}
	falls := open(t, "", func(t *Truth) { t.Sag = 100 })
	arrange(t, falls, 0, 3150, 88)
	falls.SetKey(0, K1, true)
	if got := falls.Due(20 * s); got != drifting {
		t.Errorf("the needle drifts: due in %v, want %v", got, drifting)
	}
}

// The faults that are in no netlist do to the needle what the catalogue says of
// them, in figures: with 3150 Ω it would rest at 24, with 88 Ω at 12.
func TestFaultsOfTheNeedle(t *testing.T) {
	row := func(id string) *Bench {
		b := open(t, id)
		arrange(t, b, 0, 3150, 88)
		return b
	}
	b := row("source-running-down") // less by the same part with every closing
	for n := range 5 {
		b.SetKey(0, K1, true)
		near(t, "source-running-down", b.steady(), 24*math.Exp(-b.fault.size*float64(n)), 1e-9)
		b.SetKey(0, K1, false)
	}
	b = row("scale-uneven") // marks crowd together towards the end
	b.SetKey(0, K1, true)
	near(t, "scale-uneven", b.steady(), 24*(1-b.fault.size*24/30), 1e-9)
	b = row("pointer-sticks") // creeping down it stays behind
	b.SetKey(0, K1, true)
	b.SetKey(20*s, K2, true)
	near(t, "pointer-sticks", b.Needle(60*s), 12+b.fault.size, 1e-6)
	b = row("zero-off") // it does not come back to where it was
	b.SetKey(0, K1, true)
	b.SetKey(20*s, K1, false)
	near(t, "zero-off", b.Needle(60*s), b.fault.size, b.coil.Friction)
	if math.Abs(b.fault.size) < 0.4 {
		t.Errorf("the zero is off by %g, which nobody sees", b.fault.size)
	}
	b = row("scattered") // each closing is another contact
	var sum, square float64
	const closings = 400
	for range closings {
		b.SetKey(0, K1, true)
		off := b.steady() - 24
		sum, square = sum+off, square+off*off
		b.SetKey(0, K1, false)
	}
	// Two steps of half a division: 1 div, its spread known to 1/√800 of it.
	near(t, "scattered, mean", sum/closings, 0, 0.2)
	near(t, "scattered, spread", math.Sqrt(square/closings), 1, 0.15)
}

// A plug that makes no contact has its coil in circuit though it is in, a dial
// that stands between two steps makes the next; pulled and pushed home, or
// turned, the plug is sound again and the dial stays as it is.
func TestLoosePlug(t *testing.T) {
	for id, which := range map[string]Box{"series-plug": Series, "shunt-plug": Shunt} {
		b := open(t, id)
		x := b.box(which)
		near(t, id+": made with nothing said", x.made(), x.values[x.loose], 1e-12)
		if x.said() != 0 {
			t.Errorf("%s: the box says %g, want 0", id, x.said())
		}
		other := (x.loose + 1) % len(x.in)
		for _, i := range []int{other, x.loose} {
			if _, there := b.Fault(); !there {
				t.Errorf("%s: mended by another plug than the loose one", id)
			}
			for _, n := range []int{1, 0} {
				if err := b.Set(1*s, which, i, n); err != nil {
					t.Fatal(err)
				}
			}
		}
		if _, there := b.Fault(); there != (x.stated.Kind == apparatus.Decade) {
			t.Errorf("%s: still there %v after it was moved, for a %s box", id, there, x.stated.Kind)
		}
		mended := slices.ContainsFunc(b.Happenings(), func(h Happening) bool { return h.Kind == Mended && h.Fault == id })
		if mended != (x.stated.Kind == apparatus.Plug) {
			t.Errorf("%s: happenings %+v, for a %s box", id, b.Happenings(), x.stated.Kind)
		}
	}
}

// The zero screw goes a sixth of the scale to either side.
func TestZeroScrew(t *testing.T) {
	b := open(t, "")
	b.TurnZero(1*s, 0.75)
	near(t, "turned to the right", b.steady(), 0.75, 1e-12)
	for turn, want := range map[float64]float64{100: 5, -100: -5} {
		b.TurnZero(2*s, turn)
		near(t, "turned as far as it goes", b.steady(), want, 1e-12)
	}
}

// Each fault is gone once it is looked for where it
// is, or the circuit is wired as it is drawn, or the zero set.
func TestMending(t *testing.T) {
	for _, id := range Faults() {
		t.Run(id, func(t *testing.T) {
			b := open(t, id)
			if name, there := b.Fault(); name != id || !there {
				t.Fatalf("the bench has %q, there %v, want %q", name, there, id)
			}
			arrange(t, b, 0, 3150, 88)
			b.SetKey(0, K1, true) // some faults begin with a closing
			b.SetKey(1*s, K1, false)
			if b.fault.wires == b.Wired() {
				t.Errorf("wires %v, as drawn %v: a fault of wires is seen at the leads and no other", b.fault.wires, b.Wired())
			}
			found := 0
			for p := range Parts {
				if b.LookOver(1*s, p) == id {
					found++
				}
			}
			if want, hidden := 1, !b.fault.wires && fault.ID(id) != fault.ZeroOff; hidden && found != want {
				t.Errorf("found %d times, want once", found)
			}
			b.Wire(2 * s)
			b.TurnZero(2*s, -b.zero)
			if _, there := b.Fault(); there {
				t.Error("it is still there after everything was looked over, wired anew and set to zero")
			}
			mends := slices.DeleteFunc(slices.Clone(b.Happenings()), func(h Happening) bool { return h.Kind != Mended })
			if len(mends) != 1 || mends[0].Fault != id {
				t.Errorf("remembered of its mending: %+v, want it once", mends)
			}
			sound := open(t, "")
			for _, x := range []*Bench{b, sound} {
				arrange(t, x, 3*s, 3150, 88)
				x.SetKey(3*s, K1, true)
				x.SetKey(3*s, K2, true)
			}
			near(t, "mended", b.steady(), sound.steady(), 1e-9)
		})
	}
}

func TestPlant(t *testing.T) {
	stated, h, truth := school()
	b := still(t, stated, h, "", 1)
	for id, say := range map[string]string{"far-end": "slip of whoever reads", "warp": `can have no-current, reversed`} {
		if err := Plant(b, id, rng(1)); err == nil || !strings.Contains(err.Error(), say) {
			t.Errorf("Plant(%q) = %v, want an error with %q", id, err, say)
		}
	}
	picked := map[string]bool{}
	for seed := range uint64(400) {
		b := still(t, stated, h, "any", seed)
		again := still(t, stated, h, "any", seed)
		if b.Fault() != again.Fault() {
			t.Fatalf("seed %d picks %q and then %q", seed, b.Fault(), again.Fault())
		}
		picked[b.Fault()] = true
	}
	if len(picked) != len(Faults()) {
		t.Errorf("400 seeds pick %d faults, want each of %d", len(picked), len(Faults()))
	}
	read, err := bench.New(stated, h, rng(1))
	if err == nil {
		err = read.Plant("far-end")
	}
	if err != nil {
		t.Fatal(err)
	}
	if _, err := New(read, truth, rng(1), true); err == nil {
		t.Error("a bench on which somebody misreads was set up for hands")
	}
}

func TestRefused(t *testing.T) {
	b := open(t, "")
	for name, err := range map[string]error{
		"no such plug":        b.Set(0, Series, 16, 1),
		"a plug out twice":    b.Set(0, Series, 0, 2),
		"a dial below nought": b.Set(0, Shunt, 0, -1),
		"a dial beyond ten":   b.Set(0, Shunt, 0, 11),
		"one terminal":        b.Connect(0, K1A, K1A),
		"no such terminal":    b.Connect(0, K1A, Terminals),
	} {
		if err == nil {
			t.Errorf("%s: taken", name)
		}
	}
	for _, bad := range []Truth{{}, {Period: 1, Damping: 1, Critical: 100}, {Period: math.NaN(), Damping: 0.5}} {
		if bad.Validate() == nil {
			t.Errorf("%+v: taken", bad)
		}
	}
}

// Nothing joined, nothing moves; a cell shorted by a wire is remembered.
func TestWiringByHand(t *testing.T) {
	b := open(t, "")
	arrange(t, b, 0, 3150, 88)
	b.Unwire(0)
	b.SetKey(1*s, K1, true)
	if b.steady() != 0 || b.Wired() {
		t.Errorf("unwired: steady %g, as drawn %v", b.steady(), b.Wired())
	}
	for _, l := range asDrawn() {
		if err := b.Connect(2*s, l.B, l.A); err != nil {
			t.Fatal(err)
		}
	}
	if !b.Wired() {
		t.Error("wired lead by lead, it is not as drawn")
	}
	near(t, "wired by hand", b.steady(), 24, 1e-9)
	// The same circuit by another way: K1 beside the positive pole, R's ends
	// and S and K2 the other way round.
	b.Unwire(3 * s)
	for _, l := range []Lead{{CellPlus, K1B}, {K1A, SeriesB}, {SeriesA, CoilPlus}, {CellMinus, CoilMinus}, {SeriesA, K2B}, {K2A, ShuntA}, {ShuntB, CellMinus}} {
		b.Connect(3*s, l.A, l.B)
	}
	if !b.Wired() || math.Abs(b.steady()-24) > 1e-9 {
		t.Errorf("as drawn %v, steady %g, want the same circuit", b.Wired(), b.steady())
	}
	near(t, "voltmeter", b.Voltmeter(4*s), 1.46, 0.0125)
	b.Connect(4*s, CellPlus, CellMinus)
	near(t, "voltmeter across a shorted cell", b.Voltmeter(4*s), 0, 1e-6)
	hs := b.Happenings()
	if len(hs) == 0 || hs[len(hs)-1].Kind != Shorted || hs[len(hs)-1].Act.Do != Join {
		t.Errorf("happenings %+v, want the cell shorted by a lead", hs)
	}
	// Another lead does not short it once more; taken away and joined again it does.
	b.Connect(5*s, ShuntB, K2A)
	b.Connect(6*s, CellPlus, CellMinus)
	b.Connect(7*s, CellPlus, CellMinus)
	var shorted []time.Duration
	for _, h := range b.Happenings() {
		if h.Kind == Shorted {
			shorted = append(shorted, h.At)
		}
	}
	if !slices.Equal(shorted, []time.Duration{4 * s, 7 * s}) {
		t.Errorf("shorted at %v, want at 4 s and 7 s", shorted)
	}
}

func TestOrderOfKeys(t *testing.T) {
	b := open(t, "")
	arrange(t, b, 0, 3150, 88)
	b.SetKey(1*s, K1, true)
	b.SetKey(1*s, K2, true)
	if err := b.Set(2*s, Series, 0, 1); err != nil {
		t.Fatal(err)
	}
	b.SetKey(3*s, K1, false)
	var kinds []Kind
	for _, h := range b.Happenings() {
		kinds = append(kinds, h.Kind)
	}
	if !slices.Equal(kinds, []Kind{SetUnderCurrent, K2LeftClosed}) {
		t.Errorf("happenings %v, want a plug moved under current and K2 left closed", kinds)
	}
}

// A left-zero scale: leads the wrong way round drive the needle against the
// stop below zero; swinging back over zero is nothing.
func TestLeftZero(t *testing.T) {
	stated, h, truth := school()
	stated.Galvanometer.Zero = apparatus.LeftZero
	for id, want := range map[string][]Kind{"": nil, "reversed": {Pegged}} {
		b, err := New(still(t, stated, h, id, 1), truth, rng(1), true)
		if err != nil {
			t.Fatal(err)
		}
		arrange(t, b, 0, 4700, 88)
		b.SetKey(1*s, K1, true)
		b.SetKey(10*s, K1, false)
		b.Needle(30 * s)
		var kinds []Kind
		for _, h := range b.Happenings() {
			kinds = append(kinds, h.Kind)
		}
		if !slices.Equal(kinds, want) {
			t.Errorf("fault %q: happenings %v, want %v", id, kinds, want)
		}
	}
}

// A truth drawn can be: 2,000 seeds, with the bounds of the usual movement.
func TestDrawTruth(t *testing.T) {
	for seed := range uint64(2000) {
		r := rng(seed)
		g := bench.Stock(r).Galvanometer
		x := DrawTruth(g, r)
		if err := x.Validate(); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if x.Friction > g.Step()/2 || x.stops < 1 || x.stops > 2 || x.Damping < 0.15 || x.Damping > 0.4 {
			t.Fatalf("seed %d: %+v", seed, x)
		}
	}
}

func BenchmarkLook(b *testing.B) {
	bench := open(b, "")
	arrange(b, bench, 0, 3150, 88)
	at := time.Duration(0)
	for b.Loop() {
		if at%(4*s) < Frame {
			bench.SetKey(at, K1, !bench.Closed(K1))
		}
		at += Frame
		bench.Needle(at)
		bench.Due(at)
	}
}
