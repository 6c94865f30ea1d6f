// Package movement is the moving coil in time: inertia, restoring torque, the
// damping by the circuit that the coil looks into, friction in the pivots, and
// the end stops.
//
// Between two events (a key, a turning point, a stop) the motion is linear and
// is solved in closed form, under-, critically and overdamped alike; there is
// no step width and no error that grows. Time is always passed in.
//
// The equation of motion is, for a position θ in divisions,
//
//	θ″ + 2ζω0 θ′ + ω0² (θ − θs) + ω0² f sign(θ′) = 0,
//
// where θs is where the present current would hold the coil. The voltage that
// the moving coil induces stands in ζ alone, and must not also be put into the
// current: with it, J θ″ + (b + Φ²/(Rx+G)) θ′ + c θ = Φ V/(Rx+G), whose right
// side is the steady current times Φ (U.A., A.V. and K.A. Bakshi, Electronic
// Instrumentation and Measurements; F. Wenner, Bulletin of the Bureau of
// Standards 13, 1916, 211).
package movement

import "math"

// Coil holds a movement's constants as its user knows them. The zero of
// positions is the zero mark of the scale; right is positive.
type Coil struct {
	Period      float64 // T0, of the undamped swing, s, above zero
	Damping     float64 // ζ0, relative damping with the terminals open, above 0, below 1
	Critical    float64 // the external resistance that damps critically, ohm, more than -Resistance
	Resistance  float64 // G, of the coil, ohm, above zero
	Friction    float64 // f, how far from its place the coil can stay, div, zero or more
	StopLo      float64 // where the end stops are, div
	StopHi      float64
	Restitution float64 // the part of the speed that is left after a stop, 0 to 1
}

// Omega returns ω0 = 2π/T0, in radian per second.
func (c Coil) Omega() float64 { return 2 * math.Pi / c.Period }

// Zeta returns the relative damping where the coil looks into a circuit of the
// given resistance in ohm:
//
//	ζ = ζ0 + (1 − ζ0)·(Critical + G)/(external + G).
//
// Special cases are: Zeta(+Inf) = ζ0, the terminals open; Zeta(Critical) = 1.
func (c Coil) Zeta(external float64) float64 {
	return c.Damping + (1-c.Damping)*(c.Critical+c.Resistance)/(external+c.Resistance)
}

// Drive is what the circuit does to the coil from one event to the next.
type Drive struct {
	Steady float64 // where the current would hold the coil, div
	Zeta   float64 // relative damping, above zero
}

// State is where the coil is and how fast it moves.
type State struct {
	Div   float64 // div
	Speed float64 // div/s
}

// Hit is the coil meeting an end stop.
type Hit struct {
	After float64 // since the beginning of the motion asked for, s
	Speed float64 // with which it came, div/s; the sign tells the stop
}

// What counts as standing still: less than any eye or screen sees. Without
// these limits a motion that dies away would have no end.
const (
	stillDiv = 1e-9 // div
	// creepDiv is how near its place a coil that still creeps is as good as
	// there.
	creepDiv = 0.01 // div
	// restSpeed is the speed, as a part of ω0 for a division, below which the
	// coil stays against a stop (common practice, no source).
	restSpeed = 0.1
)

// Held reports whether the coil stands and stays: at its place, within the
// reach of friction, or pressed against a stop.
func (c Coil) Held(s State, d Drive) bool {
	pull := d.Steady - s.Div
	switch {
	case s.Speed != 0:
		return false
	case pull > 0 && s.Div >= c.StopHi, pull < 0 && s.Div <= c.StopLo:
		return true
	}
	return math.Abs(pull) <= c.Friction*(1+1e-12)+2*stillDiv
}

// After returns the state after dt seconds under an unchanged drive, and the
// stops that were met. A dt of zero or less returns the state as it is.
func (c Coil) After(s State, d Drive, dt float64) (State, []Hit) {
	var hits []Hit
	for gone := 0.0; gone < dt && !c.Held(s, d); {
		next, took, hit := c.stretch(s, d, dt-gone)
		gone += took
		if hit != nil {
			hit.After = gone
			hits = append(hits, *hit)
		}
		s = next
	}
	return s, hits
}

// stretch follows the coil while it goes one way: until it turns, meets a stop
// or limit seconds are over, whichever is first. It tells how long that took.
func (c Coil) stretch(s State, d Drive, limit float64) (next State, took float64, hit *Hit) {
	way := s.Speed
	if way == 0 {
		way = d.Steady - s.Div
	}
	way = math.Copysign(1, way)
	w := c.Omega()
	goal := d.Steady - way*c.Friction
	l := linear{w, d.Zeta, s.Div - goal, s.Speed}
	if math.Abs(l.x)+math.Abs(l.v)/w < stillDiv {
		return State{goal, 0}, limit, nil
	}
	turn := l.turn()
	took = min(limit, turn)
	x, v := l.at(took)
	next = State{goal + x, v}
	stop, past := c.StopHi, next.Div > c.StopHi
	if way < 0 {
		stop, past = c.StopLo, next.Div < c.StopLo
	}
	if !past {
		if took == turn {
			next.Speed = 0
		}
		// A coil that has hardly left a stop is not to be beyond it by rounding.
		next.Div = math.Max(c.StopLo, math.Min(c.StopHi, next.Div))
		return next, took, nil
	}
	took = meet(func(t float64) bool { x, _ := l.at(t); return way*(goal+x-stop) >= 0 }, took)
	_, v = l.at(took)
	next = State{stop, -c.Restitution * v}
	if math.Abs(next.Speed) < restSpeed*w {
		next.Speed = 0
	}
	return next, took, &Hit{Speed: v}
}

// meet returns the time in (0, t] from which on past holds, as finely as the
// numbers go; past holds at t and does not go back.
func meet(past func(float64) bool, t float64) float64 {
	lo, hi := 0.0, t
	for {
		mid := lo + (hi-lo)/2
		if mid <= lo || mid >= hi {
			return hi
		}
		if past(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
}

// Rest returns where the coil comes to rest under an unchanged drive.
func (c Coil) Rest(s State, d Drive) float64 {
	rest := s
	c.walk(s, d, func(_ float64, _, next State, _ float64) { rest = next })
	return rest.Div
}

// Settling returns for how many seconds the coil is still seen to move: the
// last time at which it is more than band divisions away from where it comes
// to rest. It is 0 for a coil that is there already.
func (c Coil) Settling(s State, d Drive, band float64) float64 {
	rest, last := c.Rest(s, d), 0.0
	outside := func(s State) bool { return math.Abs(s.Div-rest) > band }
	c.walk(s, d, func(at float64, from, to State, took float64) {
		switch {
		case outside(to):
			last = at + took
		case outside(from):
			last = at + meet(func(t float64) bool {
				next, _, _ := c.stretch(from, d, t)
				return !outside(next)
			}, took)
		}
	})
	return last
}

// mostPeriods bounds a walk: a coil so overdamped that it creeps for longer is
// none that a person waits for.
const mostPeriods = 100_000

// walk visits the stretches of a motion, none longer than a period, until the
// coil is at rest to within a thousandth of what is seen.
func (c Coil) walk(s State, d Drive, visit func(at float64, from, to State, took float64)) {
	at := 0.0
	for range mostPeriods {
		if c.Held(s, d) {
			return
		}
		next, took, _ := c.stretch(s, d, c.Period)
		visit(at, s, next, took)
		at += took
		s = next
	}
}

// Tapped returns the state after a tap on the case. A coil that friction
// holds, or as good as holds, jumps to within a quarter of its reach, by
// chance: u is evenly spread from -1 to 1 (common practice, no source). A tap
// adds energy of its own; it changes nothing of a coil that moves.
func (c Coil) Tapped(s State, d Drive, u float64) State {
	off := math.Abs(s.Div - d.Steady)
	if math.Abs(s.Speed) > creepDiv*c.Omega() || off > c.Friction+creepDiv {
		return s
	}
	return State{Div: math.Max(c.StopLo, math.Min(c.StopHi, d.Steady+u*c.Friction/4))}
}
