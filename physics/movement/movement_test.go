package movement

import (
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"example.org/halve/physics/published"
)

// free is a movement without friction and stops.
func free(period, damping, critical, resistance float64) Coil {
	return Coil{Period: period, Damping: damping, Critical: critical, Resistance: resistance,
		StopLo: math.Inf(-1), StopHi: math.Inf(1)}
}

// school is a usual 30-0-30 movement (common practice, no source).
func school() Coil {
	return Coil{Period: 1.5, Damping: 0.25, Critical: 200, Resistance: 85,
		Friction: 0.1, StopLo: -31, StopHi: 31, Restitution: 0.3}
}

// dynamics is testdata/dynamics.json: the closed forms of the step response,
// checked there against an integration to 1e-11, the critically damped
// settling times, the underdamped table, and worked examples of textbooks.
type dynamics struct {
	Worked []struct {
		ID    string
		Given struct {
			N, D, K, J, Rg, R float64
			BT                float64 `json:"B_T"`
			Area              float64 `json:"area_m2"`
			Side              float64 `json:"side_mm"`
			IA                float64 `json:"I_A"`
			I                 float64 `json:"i_A"`
			KPerDegree        float64 `json:"K_Nm_per_deg"`
			DM                float64 `json:"D_m"`
			LM                float64 `json:"l_m"`
		}
		Recomputed json.RawMessage
	}
	Step struct {
		X      []float64            `json:"x_omega0_t"`
		ByZeta map[string][]float64 `json:"by_zeta"`
	} `json:"step_response"`
	Critical map[string]float64 `json:"critical_settling_x"`
	Table    []struct {
		Zeta, Overshoot float64
		Half            float64 `json:"log_dec_half"`
		Peak            float64 `json:"x_peak"`
	} `json:"underdamped_table"`
}

func read(t *testing.T) dynamics {
	t.Helper()
	return published.Load[dynamics](t, os.DirFS("testdata"), "dynamics.json")
}

// The step response equals the published closed forms, both the formula and
// the movement that is asked at each time, and the movement that is asked in
// between as well.
func TestStepResponse(t *testing.T) {
	p := read(t)
	if len(p.Step.ByZeta) != 8 || len(p.Step.X) != 9 {
		t.Fatalf("the table has %d dampings and %d times, want 8 and 9", len(p.Step.ByZeta), len(p.Step.X))
	}
	const tolerance = 1e-6
	for name, want := range p.Step.ByZeta {
		zeta, err := strconv.ParseFloat(name, 64)
		if err != nil {
			t.Fatal(err)
		}
		t.Run("zeta "+name, func(t *testing.T) {
			c := free(2*math.Pi, 0.1, 200, 85) // ω0 = 1/s
			s, before := State{}, 0.0
			for i, x := range p.Step.X {
				at, _ := c.After(State{}, Drive{1, zeta}, x)
				s, _ = c.After(s, Drive{1, zeta}, x-before)
				before = x
				for how, got := range map[string]float64{"the closed form": step(zeta, x), "After": at.Div, "After in parts": s.Div} {
					if !(math.Abs(got-want[i]) <= tolerance) {
						t.Errorf("%s at ω0·t = %g: got %.9f, want %.9f", how, x, got, want[i])
					}
				}
			}
		})
	}
}

func TestStepAtTheEnds(t *testing.T) {
	if got := step(0, math.Pi); math.Abs(got-2) > 1e-12 { // undamped: 1 − cos x
		t.Errorf("step(0, π) = %g, want 2", got)
	}
	if got := step(1e6, 1e9); math.Abs(got-(1-math.Exp(-500))) > 1e-12 { // 1 − exp(−x/2ζ)
		t.Errorf("step(1e6, 1e9) = %g, want 1", got)
	}
}

// Close to critical damping the three closed forms are one: at a distance of d
// they differ by about d, and lose no digits beside that.
func TestNearCritical(t *testing.T) {
	for _, x := range []float64{0.5, 2, 8, 20} {
		want := 1 - (1+x)*math.Exp(-x)
		for _, off := range []float64{-1e-9, 1e-9, -1e-12, 1e-12, -0x1p-53, 0x1p-52} {
			if got := step(1+off, x); math.Abs(got-want) > 10*math.Abs(off)+1e-14 {
				t.Errorf("step(1%+g, %g) = %.16f, want %.16f", off, x, got, want)
			}
		}
	}
}

// A coil that leaves a stop is never beyond it, however soon it is looked at.
// (Once rounding had it there, 2 ns after the key was opened.)
func TestLeavesItsStop(t *testing.T) {
	c := school()
	for _, side := range []float64{-1, 1} {
		for dt := 1e-10; dt < 1e-3; dt *= 1.1 {
			if s, _ := c.After(State{Div: 31 * side}, Drive{0, 0.25}, dt); math.Abs(s.Div) > 31 {
				t.Fatalf("%g s after it is free the coil is at %.17g, beyond its stop at %g", dt, s.Div, 31*side)
			}
		}
	}
}

// What is left of the speed after a stop is the restitution's part of it; less
// than a crawl is nothing, and the coil stays.
func TestBounce(t *testing.T) {
	c := school()
	for _, speed := range []float64{200, 20, 2} {
		s, _, hit := c.stretch(State{31 - 1e-6, speed}, Drive{800, 0.3}, 1)
		if hit == nil || math.Abs(hit.Speed-speed) > 0.001*speed+0.01 {
			t.Fatalf("with %g div/s: %+v, want a hit with about that speed", speed, hit)
		}
		want := -c.Restitution * hit.Speed
		if math.Abs(want) < restSpeed*c.Omega() {
			want = 0
		}
		if s.Div != 31 || s.Speed != want {
			t.Errorf("with %g div/s: afterwards %+v, want at 31 with %g", speed, s, want)
		}
	}
}

func TestUnderdampedTable(t *testing.T) {
	p := read(t)
	if len(p.Table) != 4 {
		t.Fatalf("%d entries, want 4", len(p.Table))
	}
	c := free(2*math.Pi, 0.1, 200, 85)
	for _, e := range p.Table {
		if got := Overshoot(e.Zeta); math.Abs(got-e.Overshoot) > 1e-9 {
			t.Errorf("Overshoot(%g) = %.10f, want %.10f", e.Zeta, got, e.Overshoot)
		}
		if got := HalfDecrement(e.Zeta); math.Abs(got-e.Half) > 1e-9 {
			t.Errorf("HalfDecrement(%g) = %.10f, want %.10f", e.Zeta, got, e.Half)
		}
		top, took, _ := c.stretch(State{}, Drive{1, e.Zeta}, 100)
		if math.Abs(took-e.Peak) > 1e-8 || math.Abs(top.Div-1-e.Overshoot) > 1e-9 || top.Speed != 0 {
			t.Errorf("ζ = %g: the first swing turns at ω0·t = %.9f at %.10f with %g, want %.9f at %.10f at rest",
				e.Zeta, took, top.Div, top.Speed, e.Peak, 1+e.Overshoot)
		}
	}
	if Overshoot(1) != 0 || Overshoot(3) != 0 || !math.IsInf(HalfDecrement(1), 1) {
		t.Errorf("critically damped: overshoot %g, %g, decrement %g, want 0, 0, +Inf", Overshoot(1), Overshoot(3), HalfDecrement(1))
	}
}

// A critically damped movement settles as the published table says.
func TestCriticalSettling(t *testing.T) {
	c := free(2*math.Pi, 0.1, 200, 85)
	for band, want := range map[float64]float64{0.05: 4.743864518, 0.02: 5.833921702, 0.01: 6.638352068, 0.001: 9.233413477} {
		if got := c.Settling(State{}, Drive{1, 1}, band); math.Abs(got-want) > 1e-6 {
			t.Errorf("settling to %g: got %.8f, want %.8f", band, got, want)
		}
	}
}

// Worked examples of textbooks, with the values recomputed from their closed
// forms; the companion of one prints a wrong first maximum.
func TestWorkedExamples(t *testing.T) {
	p := read(t)
	seen := 0
	for _, w := range p.Worked {
		g := w.Given
		t.Run(w.ID, func(t *testing.T) {
			switch w.ID {
			case "Bakshi 3.1": // torque 6 µN·m against 0.2 µN·m a degree: 30°
				m := maker{Torque: g.N * g.BT * g.Area, Restoring: g.KPerDegree * 180 / math.Pi}
				published.Near(t, "degrees", m.angle(g.IA)*180/math.Pi, 30, 1e-12)
				published.Near(t, "torque", m.Torque*g.IA, 6e-6, 1e-12)
			case "Bakshi 3.2": // on a scale at 1 m the beam turns by twice the angle
				m := maker{Torque: g.N * g.BT * g.Area, Inertia: g.J, Restoring: g.K, Damping: g.D, Resistance: g.Rg}
				c := m.coil()
				published.Near(t, "mm", 2*1000*m.angle(g.I), 864, 1e-12)
				published.Near(t, "T0", c.Period, 12.566370614, 1e-9)
				published.Near(t, "ζ", c.Damping, 0.2, 1e-12)
				published.Near(t, "external critical resistance", c.Critical, 65.8, 1e-9)
				published.Near(t, "ζ with that outside", c.Zeta(c.Critical), 1, 1e-12)
			case "Bakshi 3.3":
				// The companion prints 147.584 mm for the first maximum,
				// having left the root out of the exponent; 147.154 is right.
				m := maker{Torque: g.N * g.BT * g.Side * g.Side * 1e-6, Inertia: g.J, Restoring: g.K, Damping: g.D, Resistance: g.R}
				c := m.coil()
				published.Near(t, "mm", 2*1000*m.angle(g.I), 85.33333333, 1e-9)
				published.Near(t, "T0", c.Period, 12.8254983, 1e-8)
				published.Near(t, "ζ", c.Damping, 0.10206207, 1e-7)
				published.Near(t, "decrement over half a period", HalfDecrement(c.Damping), 0.32232061, 1e-7)
				published.Near(t, "period of the damped swing", c.Period/math.Sqrt(1-c.Damping*c.Damping), 12.8928242, 1e-8)
				steady := 2 * 1000 * m.angle(g.I)
				top, _, _ := c.stretch(State{}, Drive{steady, c.Damping}, 100)
				published.Near(t, "first maximum", top.Div, 147.15442222, 1e-9)
				published.Near(t, "first maximum by the overshoot", steady*(1+Overshoot(c.Damping)), 147.15442222, 1e-9)
				published.Near(t, "total critical resistance", c.Critical+c.Resistance, 5.9592003, 1e-7)
				if c.Critical >= 0 {
					t.Errorf("external critical resistance %g: this movement cannot be damped critically by any circuit", c.Critical)
				}
			case "Bell 3-1":
				published.Near(t, "torque", g.N*g.BT*g.DM*g.LM*g.IA, 3e-6, 1e-12)
			default:
				t.Skip("no dynamics in it")
			}
			seen++
		})
	}
	if seen != 4 {
		t.Errorf("%d examples worked, want 4", seen)
	}
}

// The damping by the circuit: open, critical, and the example of a school
// movement (G 85 Ω, T0 1.5 s, ζ0 0.25, critical at 200 Ω). By hand, ζ is 0.25 +
// 0.75·285/3085 = 0.319 with 3 kΩ, 0.25 + 0.75·285/164.8 = 1.547 with a halving
// shunt of 82 Ω, 0.25 + 0.75·285/85 = 2.765 with the terminals shorted. The
// settling times to a quarter of a division of 24 are those of an independent
// numerical solution (numpy, 400,001 times), printed to one figure.
func TestDampingByTheCircuit(t *testing.T) {
	c := free(1.5, 0.25, 200, 85)
	for _, tt := range []struct {
		name                 string
		external, zeta, secs float64
	}{
		{"open", math.Inf(1), 0.25, 0},
		{"critical", 200, 1, 0},
		{"3 kΩ", 3000, 0.319, 3.4},
		{"the halving shunt", 3000 * 82.0 / 3082, 1.547, 3.1},
		{"shorted", 0, 2.765, 5.9},
	} {
		t.Run(tt.name, func(t *testing.T) {
			z := c.Zeta(tt.external)
			if math.Abs(z-tt.zeta) > 0.0005 {
				t.Errorf("ζ = %.4f, want %.3f", z, tt.zeta)
			}
			if tt.secs == 0 {
				return
			}
			if got := c.Settling(State{}, Drive{24, z}, 0.25); math.Abs(got-tt.secs) > 0.051 {
				t.Errorf("settles in %.3f s, want %.1f s", got, tt.secs)
			}
		})
	}
}

// energy is what the coil has of kinetic and elastic energy about rest,
// the place it takes without current, in units of the coil's inertia:
// (v² + ω0²(θ − rest)²)/2.
func energy(c Coil, s State, rest float64) float64 {
	w := c.Omega() * (s.Div - rest)
	return (s.Speed*s.Speed + w*w) / 2
}

// Without current a movement never gains energy: not while it swings, not at
// its stops, not when the circuit that damps it changes.
func TestEnergyNeverGrowsWithoutCurrent(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		num := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(rt, name) }
		c := Coil{
			Period: num("T0", 0.2, 20), Damping: num("ζ0", 1e-3, 0.999), Critical: num("CDRX", 1, 1e4), Resistance: num("G", 1, 1e3),
			Friction: num("friction", 0, 1), StopLo: num("lo", -60, -1), StopHi: num("hi", 1, 60), Restitution: num("restitution", 0, 1),
		}
		rest := num("rest", -1, 1)
		s := State{num("from", c.StopLo, c.StopHi), num("speed", -500, 500)}
		before := energy(c, s, rest)
		for range rapid.IntRange(1, 30).Draw(rt, "events") {
			d := Drive{rest, c.Zeta(num("outside", 0, 1e5))}
			s, _ = c.After(s, d, num("dt", 0, 2))
			now := energy(c, s, rest)
			// 1e-9: what rounding and the limit of standing still can add
			if !(now <= before*(1+1e-9)+c.Omega()*c.Omega()*1e-9) {
				rt.Fatalf("energy grew from %.12g to %.12g at %+v", before, now, s)
			}
			if s.Div < c.StopLo || s.Div > c.StopHi {
				rt.Fatalf("at %g, outside the stops %g and %g", s.Div, c.StopLo, c.StopHi)
			}
			before = now
		}
	})
}

// It does not matter how often a movement is looked at.
func TestLookingChangesNothing(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		num := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(rt, name) }
		c := school()
		c.Friction, c.Damping = num("friction", 0, 0.5), num("ζ0", 0.05, 0.9)
		d := Drive{num("steady", -60, 60), c.Zeta(num("outside", 0, 1e5))}
		whole, _ := c.After(State{}, d, 4)
		s, left := State{}, 4.0
		for range rapid.IntRange(1, 40).Draw(rt, "looks") {
			dt := num("dt", 0, 0.3)
			if dt > left {
				break
			}
			s, _ = c.After(s, d, dt)
			left -= dt
		}
		s, _ = c.After(s, d, left)
		if math.Abs(s.Div-whole.Div) > 1e-6 {
			rt.Fatalf("%.9f when looked at in between, %.9f when not", s.Div, whole.Div)
		}
	})
}

// Friction leaves the coil within its reach: pulled there slowly from below it
// stays low, from above high, and a tap brings it to within a quarter of that.
func TestFriction(t *testing.T) {
	c := school()
	d := Drive{10, 3} // heavily damped: no swing
	for _, tt := range []struct{ from, want float64 }{{0, 9.9}, {20, 10.1}, {9.95, 9.95}, {10.09, 10.09}} {
		if got := c.Rest(State{Div: tt.from}, d); math.Abs(got-tt.want) > 1e-6 {
			t.Errorf("from %g it comes to rest at %.6f, want %g", tt.from, got, tt.want)
		}
	}
	for u, want := range map[float64]float64{-1: 9.975, 0: 10, 1: 10.025} {
		if got := c.Tapped(State{Div: 9.9}, d, u); math.Abs(got.Div-want) > 1e-12 {
			t.Errorf("tapped with %g: at %g, want %g", u, got.Div, want)
		}
	}
	if moving := (State{5, 3}); c.Tapped(moving, d, 1) != moving {
		t.Error("a tap changes a moving coil")
	}
	rapid.Check(t, func(rt *rapid.T) {
		d := Drive{rapid.Float64Range(-30, 30).Draw(rt, "steady"), rapid.Float64Range(0.05, 5).Draw(rt, "ζ")}
		from := State{Div: rapid.Float64Range(-30, 30).Draw(rt, "from")}
		if rest := c.Rest(from, d); math.Abs(rest-d.Steady) > c.Friction+1e-6 {
			rt.Fatalf("at rest at %g, more than %g from %g", rest, c.Friction, d.Steady)
		}
	})
}

// A current far beyond the scale drives the coil to its stop, where it bounces
// by the restitution, less each time, and stays.
func TestStops(t *testing.T) {
	c := school()
	d := Drive{800, 0.3} // the series box left out
	s, hits := c.After(State{}, d, 0.5)
	if s != (State{31, 0}) {
		t.Fatalf("after half a second at %+v, want against the stop at 31", s)
	}
	if len(hits) < 3 {
		t.Fatalf("%d hits, want several bounces: %+v", len(hits), hits)
	}
	// Without losses ½v² = ω0²(800·31 − ½·31²); damping and friction take a little.
	most := c.Omega() * math.Sqrt(2*800*31-31*31)
	if v := hits[0].Speed; v < 0.8*most || v > most {
		t.Errorf("it comes with %g div/s, want a little below %g", v, most)
	}
	for i := 1; i < len(hits); i++ {
		if hits[i].Speed >= hits[i-1].Speed*c.Restitution*1.001 {
			t.Errorf("bounce %d comes with %g div/s after %g", i, hits[i].Speed, hits[i-1].Speed)
		}
		if hits[i].After <= hits[i-1].After {
			t.Errorf("bounce %d at %g s is not after the one at %g s", i, hits[i].After, hits[i-1].After)
		}
	}
	if !c.Held(s, d) {
		t.Error("pressed against its stop it is not held")
	}
	s, hits = c.After(s, Drive{0, 0.25}, 60)
	if math.Abs(s.Div) > c.Friction+1e-6 || s.Speed != 0 || len(hits) != 0 {
		t.Errorf("a minute after the current is gone: at %+v with hits %v, want within %g of 0", s, hits, c.Friction)
	}
	if _, hits = c.After(State{}, Drive{-800, 0.3}, 0.5); len(hits) == 0 || hits[0].Speed >= 0 {
		t.Errorf("driven to the left: hits %v, want the left stop, a negative speed", hits)
	}
}

// Closing the key on a steady deflection of 24 with little damping, the first
// swing passes the last mark: the reason for stopping short of the end.
func TestFirstSwingBeyondTheScale(t *testing.T) {
	c := school()
	if _, hits := c.After(State{}, Drive{24, 0.25}, 5); len(hits) != 1 { // 24·1.44 = 34.7
		t.Errorf("hits %v, want the stop once", hits)
	}
	if _, hits := c.After(State{}, Drive{20, 0.25}, 5); len(hits) != 0 { // 20·1.44 = 28.9
		t.Errorf("hits %v, want none", hits)
	}
}

func TestRestAfterNothing(t *testing.T) {
	c := school()
	s := State{3, 0}
	if got, hits := c.After(s, Drive{20, 1}, 0); got != s || hits != nil {
		t.Errorf("After 0 s: %+v, %v, want %+v as it was", got, hits, s)
	}
	if got, _ := c.After(s, Drive{20, 1}, -1); got != s {
		t.Errorf("After -1 s: %+v, want %+v as it was", got, s)
	}
	if got := c.Settling(State{20, 0}, Drive{20, 1}, 0.1); got != 0 {
		t.Errorf("settling of a coil at its place: %g s, want 0", got)
	}
}

func BenchmarkAfter(b *testing.B) {
	c := school()
	for b.Loop() {
		c.After(State{}, Drive{24, 0.32}, 2)
	}
}
