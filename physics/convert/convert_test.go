package convert

import (
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"example.org/halve/physics/circuit"
	"example.org/halve/physics/preferred"
	"example.org/halve/physics/published"
	"pgregory.net/rapid"
)

// reference holds the published figures.
var reference = os.DirFS("../../testdata/reference")

// meter is the movement of scenario D8: 92.5 Ω, 1.85e-5 A/div, 30 divisions.
var meter = Movement{Resistance: 92.5, FullScale: 30 * 1.85e-5}

// must designs what can be had.
func must(t *testing.T, kind Kind, m Movement, s preferred.Series, ranges ...float64) Design {
	t.Helper()
	d, err := New(kind, m, s, ranges)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// TestScenario is scenario D8 of testdata/reference/scenarios.json, to the six
// digits given there.
func TestScenario(t *testing.T) {
	expected := published.Scenario[struct {
		Expected map[string]map[string]any
	}](t, reference, "D8").Expected
	if len(expected) != 9 {
		t.Fatalf("scenario D8 is not there whole: %v", expected)
	}
	const six = 5e-6
	want := func(of, key string) float64 {
		t.Helper()
		return number(t, expected[of][key])
	}
	list := func(of, key string) (out []float64) {
		for _, v := range expected[of][key].([]any) {
			out = append(out, v.(float64))
		}
		return out
	}
	for of, r := range map[string]float64{"shunt_0.01A": 0.01, "shunt_0.1A": 0.1, "shunt_0.5A": 0.5, "shunt_3.0A": 3} {
		s := must(t, Ammeter, meter, preferred.E24, r).Steps[0]
		published.Near(t, of+" S", s.Ohm, want(of, "S"), six)
		published.Near(t, of+" P", s.Power, want(of, "P_shunt"), six)
		published.Near(t, of+" burden", s.Burden, want(of, "burden_V"), six)
		published.Near(t, of+" R_A", s.Meter, want(of, "R_A"), six)
		published.Near(t, of+" dI", s.Sensitivity/100, want(of, "dI_per_pct_S"), six)
	}
	for of, r := range map[string]float64{"mult_1.0V": 1, "mult_5.0V": 5, "mult_30.0V": 30} {
		for _, series := range []preferred.Series{preferred.E24, preferred.E96} {
			s := must(t, Voltmeter, meter, series, r).Steps[0]
			published.Near(t, of+" M", s.Ohm, want(of, "M"), six)
			published.Near(t, of+" P", s.Power, want(of, "P"), six)
			published.Near(t, of+" "+series.String(), s.Single.Ohm, want(of, series.String()), 0)
			published.Near(t, of+" error "+series.String(), s.Single.Error, want(of, "range_err_"+series.String()), six)
		}
	}
	d := must(t, Universal, meter, preferred.E24, 0.5, 0.005, 0.05)
	rounded := d.Realised([]float64{d.Steps[0].Single.Ohm, d.Steps[1].Single.Ohm, d.Steps[2].Single.Ohm})
	for j, s := range d.Steps {
		published.Near(t, "universal tap", s.Tap, list("universal_5mA_50mA_500mA", "taps")[j], six)
		published.Near(t, "universal section", s.Ohm, list("universal_5mA_50mA_500mA", "segments")[j], six)
		published.Near(t, "rounded section", s.Single.Ohm, list("universal_rounded_E24", "segments")[j], 1e-15)
		published.Near(t, "rounded full scale", rounded[j], list("universal_rounded_E24", "full_scales")[j], six)
		published.Near(t, "rounded error", s.Single.Error, list("universal_rounded_E24", "err")[j], six)
	}
	published.Near(t, "whole universal shunt", d.Steps[0].Tap, want("universal_5mA_50mA_500mA", "Rs"), six)
}

// TestRefusals: a range that cannot be had is refused with the reason. VM4 of
// testdata/reference/13_worked_examples.json asks for a multiplier of −20 Ω.
func TestRefusals(t *testing.T) {
	vm4 := examples(t)["VM4"]
	small := Movement{Resistance: number(t, vm4.Given, "G"), FullScale: number(t, vm4.Given, "Ig_A")}
	tests := []struct {
		name   string
		kind   Kind
		m      Movement
		ranges []float64
		says   []string
	}{
		{"VM4", Voltmeter, small, []float64{number(t, vm4.Given, "V")}, []string{"below the 1.000 mV that the movement itself needs", "−20.00 Ω"}},
		{"current below full scale", Ammeter, meter, []float64{0.0005}, []string{"below the movement's own full-scale current, 555.0 µA", "can only take current away"}},
		{"the movement's own current", Ammeter, meter, []float64{0.000555}, []string{"is the movement's own full-scale current"}},
		{"the movement's own voltage", Voltmeter, meter, []float64{0.0513375}, []string{"is the movement's own voltage"}},
		{"lowest of a universal shunt", Universal, meter, []float64{1, 0.0001}, []string{"100.0 µA cannot be had"}},
		{"one range of a chain", Chain, meter, []float64{5, 0.01}, []string{"10.00 mV cannot be had"}},
		{"twice the same", Universal, meter, []float64{1, 1}, []string{"1.000 A is asked for twice"}},
		{"no range", Ammeter, meter, nil, []string{"1 to 20 ranges"}},
		{"negative", Ammeter, meter, []float64{-1}, []string{"above 0"}},
		{"not a number", Voltmeter, meter, []float64{math.NaN()}, []string{"above 0"}},
		{"no movement", Ammeter, Movement{}, []float64{1}, []string{"the movement's resistance lies between"}},
		{"no full scale", Ammeter, Movement{Resistance: 100}, []float64{1}, []string{"full-scale current lies between"}},
		{"negative swamp", Ammeter, Movement{Resistance: 100, FullScale: 1e-3, Swamp: -1}, []float64{1}, []string{"swamping resistor lies between"}},
		{"correlation", Ammeter, Movement{Resistance: 100, FullScale: 1e-3, Correlation: 2}, []float64{1}, []string{"correlation"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := New(tt.kind, tt.m, preferred.E24, tt.ranges)
			if err == nil {
				t.Fatalf("New(%s, %v) made a meter", tt.kind, tt.ranges)
			}
			for _, s := range tt.says {
				if !strings.Contains(err.Error(), s) {
					t.Errorf("%q does not say %q", err, s)
				}
			}
		})
	}
}

// drawn is a random movement with ranges that can be had.
func drawn(t *rapid.T, kind Kind) (Movement, []float64) {
	m := Movement{
		Resistance: rapid.Float64Range(1, 5000).Draw(t, "ohm"),
		FullScale:  math.Pow(10, rapid.Float64Range(-5, -2).Draw(t, "full scale")),
		Swamp:      rapid.SampledFrom([]float64{0, 10, 300}).Draw(t, "swamp"),
	}
	own := m.FullScale
	if !kind.InAmperes() {
		own = m.Voltage()
	}
	n := rapid.IntRange(1, 6).Draw(t, "ranges")
	var ranges []float64
	for range n {
		if own *= rapid.Float64Range(1.05, 30).Draw(t, "times"); own < maxRange/2 {
			ranges = append(ranges, own)
		}
	}
	return m, ranges
}

// network is the finished meter with the given resistors on one of its ranges,
// across a source of 10 V behind so many ohm. The movement and the source are
// named; resistor i is "r" and its number.
func network(kind Kind, m Movement, ohms []float64, on int, source float64) *circuit.Netlist {
	n := new(circuit.Netlist)
	const in = circuit.Node(1)
	n.Add("source", circuit.Source(10, source), circuit.Ground, in)
	name := func(i int) string { return "r" + string(rune('0'+i)) }
	switch kind {
	case Ammeter:
		n.Add("movement", circuit.Resistor(m.Resistance+m.Swamp), in, circuit.Ground)
		n.Add(name(on), circuit.Resistor(ohms[on]), in, circuit.Ground)
	case Voltmeter:
		n.Add(name(on), circuit.Resistor(ohms[on]), in, 2)
		n.Add("movement", circuit.Resistor(m.Resistance+m.Swamp), 2, circuit.Ground)
	case Chain:
		at := circuit.Node(2)
		n.Add("movement", circuit.Resistor(m.Resistance+m.Swamp), at, circuit.Ground)
		for i := range on + 1 {
			next := at + 1
			if i == on {
				next = in
			}
			n.Add(name(i), circuit.Resistor(ohms[i]), next, at)
			at = next
		}
	case Universal:
		// Taps from the movement's upper end to the common end; the source
		// stands at the tap of the range.
		node := func(i int) circuit.Node {
			switch i {
			case on:
				return in
			case len(ohms):
				return circuit.Ground
			}
			return circuit.Node(2 + i)
		}
		n.Add("movement", circuit.Resistor(m.Resistance+m.Swamp), node(0), circuit.Ground)
		for i, r := range ohms {
			n.Add(name(i), circuit.Resistor(r), node(i), node(i+1))
		}
	}
	return n
}

// currents solves a network: the source's current, the movement's, and those
// of the resistors by their number, 0 for one that is not in circuit.
func currents(t *rapid.T, n *circuit.Netlist, resistors int) (source, movement float64, each []float64) {
	sol, err := n.Solve()
	if err != nil {
		t.Fatal(err)
	}
	of := func(name string) float64 {
		id, err := n.Branch(name)
		if err != nil {
			return 0
		}
		return math.Abs(sol.Current(id))
	}
	for i := range resistors {
		each = append(each, of("r"+string(rune('0'+i))))
	}
	return of("source"), of("movement"), each
}

// TestNodal holds every conversion to the nodal solver on every range: the
// movement's share of the current, the meter's resistance, the burden, the
// greatest power of every resistor, the loading, and what preferred values
// make of the range.
func TestNodal(t *testing.T) {
	for _, kind := range []Kind{Ammeter, Voltmeter, Chain, Universal} {
		t.Run(string(kind), func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				m, ranges := drawn(t, kind)
				d, err := New(kind, m, preferred.E24, ranges)
				if err != nil {
					t.Fatal(err)
				}
				exact, single := []float64{}, []float64{}
				for _, s := range d.Steps {
					exact, single = append(exact, s.Ohm), append(single, s.Single.Ohm)
				}
				agree := func(what string, on int, got, want float64) {
					if !(math.Abs(got-want) <= 1e-9*math.Abs(want)) {
						t.Fatalf("%s on range %d (%g): %.12g, the network has %.12g", what, on, d.Steps[on].Range, got, want)
					}
				}
				power := make([]float64, len(exact))
				for on, s := range d.Steps {
					source := s.Meter * 3
					whole, through, each := currents(t, network(kind, m, exact, on, source), len(exact))
					terminals := 10 - whole*source
					full := m.FullScale / through // brings the movement to full scale
					reads := whole * full
					if !kind.InAmperes() {
						reads = terminals * full
					}
					agree("full scale", on, s.Range, reads)
					agree("meter", on, s.Meter, terminals/whole)
					agree("burden", on, s.Burden, terminals*full)
					for i, a := range each {
						power[i] = max(power[i], a*full*a*full*exact[i])
					}
					// Without the meter the loop carries 10/source, or the
					// source stands at 10 V.
					loading := whole*source/10 - 1
					if !kind.InAmperes() {
						loading = terminals/10 - 1
					}
					agree("loading", on, d.Loading(s, source), loading)
					whole, through, _ = currents(t, network(kind, m, single, on, source), len(exact))
					reads = whole * m.FullScale / through
					if !kind.InAmperes() {
						reads = (10 - whole*source) * m.FullScale / through
					}
					agree("full scale with preferred values", on, s.Range*(1+s.Single.Error), reads)
				}
				for i, s := range d.Steps {
					agree("power", i, s.Power, power[i])
				}
			})
		})
	}
}

// TestSensitivities holds sensitivities and warmth to small changes of the
// finished meter, and the uncertainties to small changes of the movement.
func TestSensitivities(t *testing.T) {
	for _, kind := range []Kind{Ammeter, Voltmeter, Chain, Universal} {
		t.Run(string(kind), func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				m, ranges := drawn(t, kind)
				m.UResistance = m.Resistance * 0.01
				m.UFullScale = m.FullScale * 0.005
				m.Correlation = rapid.Float64Range(-0.9, 0.9).Draw(t, "correlation")
				d, err := New(kind, m, preferred.E24, ranges)
				if err != nil {
					t.Fatal(err)
				}
				const h = 1e-6
				exact := make([]float64, len(d.Steps))
				for i, s := range d.Steps {
					exact[i] = s.Ohm
				}
				// changed redesigns with G and Ig changed by so much of their
				// uncertainty, and gives the realised ranges of the old resistors.
				changed := func(g, i float64) (ohms, reads []float64) {
					n := m
					n.Resistance += g * h * m.UResistance
					n.FullScale += i * h * m.UFullScale
					e, err := New(kind, n, preferred.E24, ranges)
					if err != nil {
						t.Fatal(err)
					}
					for _, s := range e.Steps {
						ohms = append(ohms, s.Ohm)
					}
					return ohms, e.Realised(exact)
				}
				up, upReads := changed(1, 0)
				down, downReads := changed(-1, 0)
				more, moreReads := changed(0, 1)
				less, lessReads := changed(0, -1)
				combine := func(a, b float64) float64 {
					return math.Sqrt(a*a + b*b + 2*m.Correlation*a*b)
				}
				for i, s := range d.Steps {
					u := combine((up[i]-down[i])/2/h, (more[i]-less[i])/2/h)
					if math.Abs(u-s.UOhm) > 1e-4*s.UOhm+1e-7*s.Ohm {
						t.Fatalf("range %g: u(ohm) = %.8g, by differences %.8g", s.Range, s.UOhm, u)
					}
					u = combine((upReads[i]-downReads[i])/2/h, (moreReads[i]-lessReads[i])/2/h)
					if math.Abs(u-s.URange) > 1e-4*s.URange+1e-7*s.Range {
						t.Fatalf("range %g: u(range) = %.8g, by differences %.8g", s.Range, s.URange, u)
					}
					bent := slices.Clone(exact)
					bent[i] *= 1 + h
					if got := (d.Realised(bent)[i]/s.Range - 1) / h; math.Abs(got-s.Sensitivity) > 1e-4 {
						t.Fatalf("range %g: sensitivity %.8g, by differences %.8g", s.Range, s.Sensitivity, got)
					}
					// A warmer coil: the same current into the terminals, by
					// the solver.
					const rise = 10
					warm := m
					warm.Resistance *= 1 + CopperAlpha*rise
					_, cold, _ := currents(t, network(kind, m, exact, i, 1e9*s.Meter), len(exact))
					_, now, _ := currents(t, network(kind, warm, exact, i, 1e9*s.Meter), len(exact))
					if !kind.InAmperes() { // the same voltage across them
						_, cold, _ = currents(t, network(kind, m, exact, i, 0), len(exact))
						_, now, _ = currents(t, network(kind, warm, exact, i, 0), len(exact))
					}
					if got, want := d.Warmth(s, rise), now/cold-1; math.Abs(got-want) > 1e-8 {
						t.Fatalf("range %g: warmth %.10g, by the solver %.10g", s.Range, got, want)
					}
				}
			})
		})
	}
}

// TestCorrelation: a record's G and k are correlated, and that is carried. The
// spread of 200,000 movements drawn with it is that of the shunt and of the
// range, within 1 % (a standard deviation of so many draws is good to 0.2 %).
func TestCorrelation(t *testing.T) {
	m := meter
	m.UResistance, m.UFullScale, m.Correlation = 1.9, m.FullScale*0.008, -0.4
	d := must(t, Ammeter, m, preferred.E24, 0.005)
	s := d.Steps[0]
	r := rand.New(rand.NewPCG(8, 0))
	const n = 200_000
	var ohm, reads [2]float64
	for range n {
		a, b := r.NormFloat64(), r.NormFloat64()
		g := m.Resistance + m.UResistance*a
		ig := m.FullScale + m.UFullScale*(m.Correlation*a+math.Sqrt(1-m.Correlation*m.Correlation)*b)
		x, y := g*ig/(s.Range-ig)-s.Ohm, ig*(1+g/s.Ohm)-s.Range
		ohm[0] += x
		ohm[1] += x * x
		reads[0] += y
		reads[1] += y * y
	}
	sd := func(v [2]float64) float64 { return math.Sqrt(v[1]/n - v[0]/n*v[0]/n) }
	published.Near(t, "u(S)", s.UOhm, sd(ohm), 0.01)
	published.Near(t, "u(range)", s.URange, sd(reads), 0.01)
}

// TestWarmth holds the errors of a warmer coil to figures worked out by hand
// for 1 A of the meter above, 10 K warmer: 0.0393·92.5 = 3.63525 Ω of change
// in 92.5514 Ω gives −3.63525/96.1866, and so on; and the swamping resistor to
// the error it is for.
func TestWarmth(t *testing.T) {
	for _, c := range []struct{ times, percent float64 }{
		{0, -3.7794}, {1, -1.9260}, {3, -0.97241}, {9, -0.39124},
	} {
		m := meter
		m.Swamp = c.times * m.Resistance
		d := must(t, Ammeter, m, preferred.E24, 1)
		published.Near(t, "swamped", 100*d.Warmth(d.Steps[0], 10), c.percent, 2e-4)
	}
	d := must(t, Voltmeter, meter, preferred.E24, 5)
	// −3.63525/(9009.009 + 3.63525)
	published.Near(t, "voltmeter", 100*d.Warmth(d.Steps[0], 10), -0.040335, 1e-4)
	if d.SwampFor(d.Steps[0], 10, 0.005) != 0 {
		t.Error("a voltmeter's multiplier swamps the coil by itself")
	}
	for _, kind := range []Kind{Ammeter, Universal} {
		d := must(t, kind, meter, preferred.E24, 0.005, 1)
		for i, s := range d.Steps {
			m := meter
			m.Swamp = d.SwampFor(s, 10, 0.005)
			n := must(t, kind, m, preferred.E24, 0.005, 1)
			published.Near(t, string(kind), n.Warmth(n.Steps[i], 10), -0.005, 1e-9)
			if d.SwampFor(s, 10, 0.05) != 0 {
				t.Error("5 % needs no swamping resistor")
			}
		}
	}
}

// TestRatings: twice the power, in the usual ratings.
func TestRatings(t *testing.T) {
	for _, c := range []struct{ power, want float64 }{{0, 0.125}, {0.0625, 0.125}, {0.0626, 0.25}, {0.154, 0.5}, {2.4, 5}, {50, 100}} {
		if got := Rating(c.power); got != c.want {
			t.Errorf("Rating(%g) = %g, want %g", c.power, got, c.want)
		}
	}
	if got := Rating(51); !math.IsNaN(got) {
		t.Errorf("Rating(51) = %g, want NaN", got)
	}
}

// TestShunted: a voltmeter on a universal shunt is worked out from the shunted
// movement. By the solver: 5 V across M + (G ∥ T₁) gives Ig in the movement.
func TestShunted(t *testing.T) {
	d := must(t, Universal, meter, preferred.E24, 0.005, 0.05, 0.5)
	m, ok := d.Shunted()
	if !ok {
		t.Fatal("no shunted movement")
	}
	v := must(t, Voltmeter, m, preferred.E24, 5)
	n := new(circuit.Netlist)
	n.Add("source", circuit.Source(5, 0), circuit.Ground, 1)
	n.Add("multiplier", circuit.Resistor(v.Steps[0].Ohm), 1, 2)
	id := n.Add("movement", circuit.Resistor(meter.Resistance), 2, circuit.Ground)
	for i, s := range d.Steps {
		n.Add("section "+string(rune('0'+i)), circuit.Resistor(s.Ohm), circuit.Node(2+i), circuit.Node([]int{3, 4, 0}[i]))
	}
	sol, err := n.Solve()
	if err != nil {
		t.Fatal(err)
	}
	published.Near(t, "movement", sol.Current(id), meter.FullScale, 1e-12)
	if _, ok := must(t, Ammeter, meter, preferred.E24, 1).Shunted(); ok {
		t.Error("an ammeter with one shunt for each range has no shunted movement")
	}
}

// TestTolerance: the worst that the resistors' tolerance can do to a full scale,
// by trying every corner: each resistor a millionth of its value to the one
// side or the other.
func TestTolerance(t *testing.T) {
	m := Movement{Resistance: 92.5, FullScale: 555e-6}
	for kind, ranges := range map[Kind][]float64{
		Ammeter: {0.1, 1, 3}, Voltmeter: {1, 5, 30}, Chain: {0.2, 5, 30, 300}, Universal: {0.001, 0.01, 0.5, 2},
	} {
		d := must(t, kind, m, preferred.E96, ranges...)
		const little = 1e-6
		worst := make([]float64, len(d.Steps))
		for corner := range 1 << len(d.Steps) {
			ohms := make([]float64, len(d.Steps))
			for i, s := range d.Steps {
				ohms[i] = s.Ohm * (1 + little*float64(1-2*(corner>>i&1)))
			}
			for i, full := range d.Realised(ohms) {
				worst[i] = max(worst[i], math.Abs(full/d.Steps[i].Range-1))
			}
		}
		for i, s := range d.Steps {
			published.Near(t, string(kind)+", tolerance", s.Single.Tolerance/0.01, worst[i]/little, 1e-5) // E96: 1 %
			published.Near(t, string(kind)+", tolerance of a pair", s.Pair.Tolerance/0.01, worst[i]/little, 1e-5)
		}
	}
}
