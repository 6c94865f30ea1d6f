package panel

import (
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"example.org/halve/physics/accuracy"
	"example.org/halve/physics/published"
)

// stated is a 0 to 10 A meter of 100 divisions, class 1.5, read to 0.2 div.
var stated = Stated{Meter: accuracy.Meter{Range: 10, Divisions: 100, Class: 1.5}, Step: 0.2, UReference: 0.01, SourceMax: 15}

func set(t *testing.T, h Hidden) *Bench {
	t.Helper()
	if h.Span == 0 {
		h.Span = 1
	}
	if h.Damping == 0 {
		h.Damping = 1
	}
	b, err := New(stated, h, rand.New(rand.NewPCG(5, 0)))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestPointer: where the pointer of a meter without friction stands, by hand
// from the law in the comment on Hidden.
func TestPointer(t *testing.T) {
	for _, c := range []struct {
		name  string
		h     Hidden
		value float64
		want  float64
	}{
		{"perfect", Hidden{}, 4, 40},
		{"zero off", Hidden{Zero: 2}, 4, 42},
		{"2 % too far", Hidden{Gain: 0.02}, 5, 51},
		{"bowed, in the middle", Hidden{Bow: 1}, 5, 51},
		{"bowed, at the end", Hidden{Bow: 1}, 10, 100},
		{"another range", Hidden{Span: 0.5}, 5, 25},
		{"against the stop", Hidden{}, 12, 103},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := set(t, c.h)
			b.Set(c.value)
			if math.Abs(b.Pointer()-c.want) > 1e-9 {
				t.Errorf("at %g A the pointer stands at %g, want %g", c.value, b.Pointer(), c.want)
			}
		})
	}
}

// TestFriction: reached from below the pointer rests low by half the friction
// to all of it, from above as much high, tapped within a quarter.
func TestFriction(t *testing.T) {
	b := set(t, Hidden{Friction: 2})
	b.Approach(60, 20)
	if s := b.steady() - b.Pointer(); s < 1 || s > 2 {
		t.Errorf("rising, the pointer is %g below its place, want 1 to 2", s)
	}
	b.Tap()
	if s := b.steady() - b.Pointer(); math.Abs(s) > 0.5 {
		t.Errorf("tapped, the pointer is %g below its place, want at most 0.5", s)
	}
	b.Approach(100, 20)
	b.Approach(60, 20)
	if s := b.Pointer() - b.steady(); s < 1 || s > 2 {
		t.Errorf("falling, the pointer is %g above its place, want 1 to 2", s)
	}
}

// TestHysteresis: on the way back from full scale, by hand 4·3·½·½ = 3 div at
// half of it, and none at the zero or without having been further out.
func TestHysteresis(t *testing.T) {
	b := set(t, Hidden{Hysteresis: 3})
	b.Set(5)
	if b.Pointer() != 50 {
		t.Errorf("on the way out: %g, want 50", b.Pointer())
	}
	b.Set(10)
	b.Set(5)
	if math.Abs(b.Pointer()-53) > 1e-9 {
		t.Errorf("on the way back: %g, want 53", b.Pointer())
	}
	b.Off()
	if math.Abs(b.Pointer()) > 1e-9 {
		t.Errorf("at nought: %g, want 0", b.Pointer())
	}
	if b.Set(5); b.Pointer() != 50 {
		t.Errorf("on the way out again: %g, want 50", b.Pointer())
	}
}

// TestSwing: a meter that is damped by a half of critical swings beyond its
// rest by exp(−π·0.5/√0.75) = 16.3 %: set at once to 9 A it passes the room
// beyond its last mark (103), a critically damped one does not.
func TestSwing(t *testing.T) {
	for damping, want := range map[float64]int{0.5: 1, 1: 0} {
		b := set(t, Hidden{Damping: damping})
		b.Set(9)
		if b.Pinned() != want {
			t.Errorf("damping %g: pinned %d times, want %d", damping, b.Pinned(), want)
		}
	}
	b := set(t, Hidden{Damping: 0.5})
	b.Approach(100, 20)
	if b.Pinned() != 0 {
		t.Error("turned up slowly, the pointer is never pinned")
	}
}

// TestUReading: by hand, 0.2 · √(1/12 + 0.15²) = 0.2 · 0.32532.
func TestUReading(t *testing.T) {
	if got := UReading(0.2); math.Abs(got-0.065064) > 1e-6 {
		t.Errorf("the uncertainty of a reading to 0.2 div is %g, want 0.065064", got)
	}
}

// TestReadings: the scatter of readings and of the alignment with a mark is
// what UReading says, to within 5 % over 4,000 of them, and the reference
// errs as it was told to.
func TestReadings(t *testing.T) {
	b := set(t, Hidden{Reference: 0.01})
	var sum, aim float64
	const n = 4000
	for range n {
		v := 10 * b.rand.Float64()
		b.Set(v)
		d := b.Read() - 10*v
		sum += d * d
		if got := b.Reference(); math.Abs(got-v*1.01) > 1e-12 {
			t.Fatalf("the reference shows %g at %g A", got, v)
		}
	}
	for range n / 10 {
		b.Off()
		b.Approach(40, 20)
		d := b.Pointer() - 40
		aim += d * d
	}
	u := UReading(stated.Step)
	if got := math.Sqrt(sum / n); math.Abs(got/u-1) > 0.05 {
		t.Errorf("readings scatter by %g, want %g", got, u)
	}
	// The knob's own steps add a twentieth of a division.
	if got := math.Sqrt(aim / (n / 10)); math.Abs(got/u-1) > 0.15 {
		t.Errorf("alignments scatter by %g, want %g", got, u)
	}
}

// TestApproach: a careful person stops at the reference's value where the
// pointer does not come, and comes down to it from above.
func TestApproach(t *testing.T) {
	b := set(t, Hidden{Span: 0.1})
	b.Approach(60, 6.3)
	if b.Reference() > 6.3 || b.Reference() < 6.29 {
		t.Errorf("stopped where the reference shows %g, want 6.3", b.Reference())
	}
	b.Approach(40, 4.2)
	if b.Reference() > 4.2 || b.Reference() < 4.19 {
		t.Errorf("came down to %g, want 4.2", b.Reference())
	}
	// It is the reference that is looked at: one that shows 5 % too much ends it
	// at 6.0 A, where it shows 6.3.
	off := set(t, Hidden{Span: 0.1, Reference: 0.05})
	off.Approach(60, 6.3)
	if off.Reference() > 6.3 || off.Reference() < 6.29 {
		t.Errorf("stopped where a reference that is off shows %g, want 6.3", off.Reference())
	}
	centre := stated
	centre.Centre, centre.Divisions = true, 30
	c, err := New(centre, Hidden{Span: 1, Damping: 1}, rand.New(rand.NewPCG(5, 0)))
	if err != nil {
		t.Fatal(err)
	}
	c.Approach(20, 10)
	c.Approach(-20, 10)
	if math.Abs(c.Pointer()+20) > 0.3 || math.Abs(c.Reference()+20.0/3) > 0.1 {
		t.Errorf("on the other side: %g div at %g A", c.Pointer(), c.Reference())
	}
}

// TestFaults: every fault shows, by more than three uncertainties of a
// reading, somewhere between nought and full scale, on 50 benches of the
// stock; and none is left when it has been looked for.
func TestFaults(t *testing.T) {
	for _, id := range Faults() {
		t.Run(id, func(t *testing.T) {
			for seed := range uint64(50) {
				r := rand.New(rand.NewPCG(seed, 1))
				s := Stock(r)
				h := Hidden{Span: 1, Damping: 1}
				b, err := New(s.Stated, h, r)
				if err != nil {
					t.Fatal(err)
				}
				if err := b.Plant(id); err != nil {
					t.Fatal(err)
				}
				if b.Fault() != id {
					t.Fatalf("planted %s, the bench says %s", id, b.Fault())
				}
				seen := func() float64 {
					worst := 0.0
					n := s.Divisions
					for _, part := range []float64{0, 0.2, 0.4, 0.6, 0.8, 1, 0.8, 0.6, 0.4, 0.2, 0} {
						b.creep(part * s.Range)
						worst = max(worst, math.Abs(b.Read()-part*n))
					}
					return worst
				}
				u := UReading(s.Step)
				// A reading's own error takes something of three uncertainties;
				// a pointer that sticks stops by half of the friction at least.
				if got := seen(); got < 1.4*u {
					t.Errorf("seed %d: shows %g div, the uncertainty of a reading is %g", seed, got, u)
				}
				if !b.Look(id) || b.Look(id) {
					t.Errorf("seed %d: looked for, it is there once", seed)
				}
				b.Off()
				if got := seen(); got > 6*u {
					t.Errorf("seed %d: mended, it still shows %g div", seed, got)
				}
			}
		})
	}
	b := set(t, Hidden{})
	if err := b.Plant("gremlin"); err == nil {
		t.Error("a gremlin was planted")
	}
	if err := b.Plant(Any); err != nil || !slices.Contains(Faults(), b.Fault()) {
		t.Errorf("any: %q, %v", b.Fault(), err)
	}
}

// TestZero: the adjuster sets the zero, and does not where that is the fault.
func TestZero(t *testing.T) {
	b := set(t, Hidden{Zero: 2})
	b.AdjustZero()
	if math.Abs(b.Pointer()) > 0.3 {
		t.Errorf("set to zero, the pointer rests at %g", b.Pointer())
	}
	b = set(t, Hidden{})
	if err := b.Plant(ZeroOff); err != nil {
		t.Fatal(err)
	}
	was := b.Pointer()
	if b.AdjustZero(); b.Pointer() != was || was == 0 {
		t.Errorf("with its zero off on purpose the pointer went from %g to %g", was, b.Pointer())
	}
}

// TestStock: what is drawn can be, and its reference is fit: five to one.
func TestStock(t *testing.T) {
	for seed := range uint64(300) {
		r := rand.New(rand.NewPCG(seed, 2))
		s := Stock(r)
		if _, err := New(s.Stated, Draw(s.Stated, r), r); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if ratio := s.Limit() / (2 * s.UReference); ratio < 5-1e-9 {
			t.Errorf("seed %d: the reference is %g to 1", seed, ratio)
		}
		if UReading(s.Step) > s.LimitDiv()/4 {
			t.Errorf("seed %d: readings to %g div are no good for a limit of %g", seed, s.Step, s.LimitDiv())
		}
		if s.SourceMax < s.Range {
			t.Errorf("seed %d: the source ends at %g of %g", seed, s.SourceMax, s.Range)
		}
	}
}

func TestHidden(t *testing.T) {
	h, err := Hidden{Span: 1, Damping: 1}.With([]byte(`{"gain":0.02,"friction_div":0.3}`), stated)
	if err != nil || h.Gain != 0.02 || h.Friction != 0.3 || h.Span != 1 {
		t.Errorf("%+v, %v", h, err)
	}
	for _, bad := range []string{`{`, `{"colour":1}`, `{"span":0}`, `{"friction_div":-1}`, `{"damping":null,"zero_div":1e9}`} {
		if h, err := (Hidden{Span: 1, Damping: 1}).With([]byte(bad), stated); err == nil {
			t.Errorf("%s was taken for %+v", bad, h)
		}
	}
}

// TestSimpleRisk: of 10,000 meters, of which 95 in a hundred are within their
// class, each measured at full scale by a reference of so many to one, simple
// acceptance takes and turns away as many wrongly as the figures of
// testdata/reference/10_decision_rules_guard_band.json say, within three
// binomial standard deviations.
func TestSimpleRisk(t *testing.T) {
	file := published.Load[struct {
		PFA []struct{ TUR, PFA, PFR float64 } `json:"pfa_percent_in_tolerance_95"`
	}](t, os.DirFS("../../testdata/reference"), "10_decision_rules_guard_band.json")
	const n, z95 = 10_000, 1.959963984540054
	for _, row := range file.PFA {
		r := rand.New(rand.NewPCG(51, uint64(10*row.TUR)))
		s := Stated{Meter: accuracy.Meter{Range: 10, Divisions: 100, Class: 0.5}, Step: 1e-6}
		s.UReference = s.Limit() / row.TUR / accuracy.Coverage
		var accept, reject float64
		for range n {
			h := Hidden{Gain: s.Class / 100 / z95 * r.NormFloat64(), Reference: s.UReference / s.Range * r.NormFloat64(), Span: 1, Damping: 1}
			b, err := New(s, h, r)
			if err != nil {
				t.Fatal(err)
			}
			b.Set(s.Range)
			e := accuracy.Evaluate(s.Meter, []accuracy.Reading{{Rising: true, Div: b.Read(), Reference: b.Reference()}},
				accuracy.Doubt{Reference: s.UReference, Reading: UReading(s.Step)})
			// Below 3 to 1 the evaluation gives no simple verdict: the rule itself.
			ok := accuracy.Simple(e.Points[0].Error, s.Class) == accuracy.Conforms
			if row.TUR >= accuracy.RatioLeast && (*e.Simple == accuracy.Conforms) != ok {
				t.Fatalf("at %g to 1 an error of %g %% %s", row.TUR, e.Points[0].Error, *e.Simple)
			}
			switch good := math.Abs(h.Gain) <= s.Class/100; {
			case ok && !good:
				accept++
			case !ok && good:
				reject++
			}
		}
		for what, v := range map[string][2]float64{"false accept": {accept / n, row.PFA / 100}, "false reject": {reject / n, row.PFR / 100}} {
			sd := math.Sqrt(v[1] * (1 - v[1]) / n)
			t.Logf("%g to 1, %s: %.3f %%, want %.3f %%", row.TUR, what, 100*v[0], 100*v[1])
			if math.Abs(v[0]-v[1]) > 3*sd {
				t.Errorf("%g to 1, %s: %.3f %%, want %.3f %% within %.3f %%", row.TUR, what, 100*v[0], 100*v[1], 300*sd)
			}
		}
	}
}
