// Package live is the simulated bench under somebody's hands, in time: plugs
// are pulled one by one, keys closed, opened and tapped, leads joined to
// terminals as the person likes, and the needle swings, creeps and sticks. It
// stands where package movement brings it, driven by the nodal solution of
// whatever circuit the leads make.
//
// Nobody reads for the person: what comes out is where the needle is now.
//
// Time is passed in, as the time since the bench was set up. An act at an
// earlier time than the last counts as one at the same time. All chance comes
// from the random source that is passed in.
package live

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/bench"
	"example.org/halve/physics/movement"
)

// Key tells the two keys apart.
type Key int

// The keys.
const (
	K1 Key = iota
	K2
)

// Bench is a simulated bench in time. It is not safe for use by several
// goroutines at once.
type Bench struct {
	stated apparatus.Bench
	hidden bench.Hidden
	truth  Truth
	rand   *rand.Rand

	leads         []Lead
	wired         bool // they make the half-deflection circuit
	series, shunt box
	keys          [2]bool
	letGo         [2]time.Duration // when a tapped key is let go, 0 if it is not

	at       time.Duration
	coil     movement.Coil
	state    movement.State
	drive    movement.Drive
	flow     flow // with the cell fresh
	cell     cell
	zero     float64 // where the needle rests without current, div
	jitter   float64 // what a loose contact adds as it is closed this time, div
	fault    trouble
	act      Act // the last one
	seen     map[Kind]bool
	pegged   int  // the end at which the current holds the needle, as it was told: -1, +1, 0 for none
	shorted  bool // the source is short-circuited, as it was told
	happened []Happening
	closings int
	closed   time.Duration // how long K1 was closed in all
	volts    float64       // the voltmeter's own relative error
	looks    [2]*Look      // the last with K1 closed, K2 open and K2 closed too
}

// Look is the needle as it was with K1 closed, and the boxes as they showed.
type Look struct {
	Div       float64 // where it was
	Rest      float64 // where the current would hold it
	Moving    bool    // it was seen to move
	SeriesOhm float64
	ShuntOhm  float64
	Wired     bool // the leads made the half-deflection circuit
}

// Last returns the needle as it is with K1 closed, and K2 closed or open as
// shunted says, or as it was when the keys last stood so; ok is false where
// they never did.
func (b *Bench) Last(at time.Duration, shunted bool) (l Look, ok bool) {
	b.advance(at)
	b.look()
	i := 0
	if shunted {
		i = 1
	}
	if b.looks[i] == nil {
		return Look{}, false
	}
	return *b.looks[i], true
}

// look remembers the needle as it is, if K1 is closed.
func (b *Bench) look() {
	if !b.keys[K1] {
		return
	}
	i := 0
	if b.keys[K2] {
		i = 1
	}
	b.looks[i] = &Look{b.state.Div, b.drive.Steady, b.moves(), b.series.said(), b.shunt.said(), b.wired}
}

// How long a tapped key stays closed (common practice, no source).
const tapTime = 300 * time.Millisecond

// grid is how often the fall of the cell is looked at while something moves.
const grid = 100 * time.Millisecond

// longest is the time that is followed in steps of grid; what is longer (the
// program was set aside) is followed in as many larger ones.
const longest = 10 * time.Minute

// New sets up a bench in time from a still one with its truths and its fault:
// unwired, all plugs in or dials at nought, keys open. Where the fault is one
// of wires, or wired is true, it is wired already. It fails for a fault that
// only whoever reads or sets can make.
func New(b *bench.Bench, t Truth, r *rand.Rand, wired bool) (*Bench, error) {
	if err := t.Validate(); err != nil {
		return nil, fmt.Errorf("live: %w", err)
	}
	stated, hidden := b.Stated(), b.Hidden()
	x := &Bench{
		stated: stated, hidden: hidden, truth: t, rand: r, zero: hidden.Zero,
		series: newBox(stated.SeriesBox, hidden.SeriesErrors), shunt: newBox(stated.ShuntBox, hidden.ShuntErrors),
		coil: t.coil(stated.Galvanometer, hidden.Resistance), cell: t.cell(), seen: map[Kind]bool{},
		volts: voltmeterLimit * (2*r.Float64() - 1),
	}
	if wired {
		x.lay(asDrawn())
	}
	if f, size, ok := b.Planted(); ok {
		if err := x.plant(f, size); err != nil {
			return nil, err
		}
	}
	x.state = movement.State{Div: x.zero}
	x.rewire()
	return x, nil
}

// values are the true values as things stand.
func (b *Bench) values() values {
	v := values{
		emf: b.hidden.EMF, source: b.hidden.SourceResistance, series: b.series.made(), movement: b.hidden.Resistance,
		shunt: b.shunt.made(), k1: b.keys[K1], k2: b.keys[K2],
	}
	b.fault.source(&v)
	return v
}

// rewire works out what the circuit does now. Where it cannot be solved (a
// cell without resistance shorted by a wire) no current reaches the movement.
func (b *Bench) rewire() {
	f, err := solve(b.leads, b.values(), b.fault.edit)
	if err != nil {
		f = flow{source: math.Inf(1)}
	}
	b.flow = f
	b.cell.draw(f.source)
	b.coil.Friction = b.fault.friction(b.truth.Friction)
	b.drive.Zeta = b.coil.Damping + (1-b.coil.Damping)*(b.coil.Critical+b.coil.Resistance)*f.damping
	b.steer()
	was := b.shorted
	if b.shorted = math.Abs(f.source) > shortCircuit; b.shorted && !was {
		b.happen(Happening{Kind: Shorted})
	}
}

// steer sets the place to which the present current drives the needle.
func (b *Bench) steer() {
	b.drive.Steady = b.steady()
	if b.pegged != b.beyond() {
		b.pegged = 0
	}
}

// steady is where the present current would hold the needle, in divisions from
// the zero mark, as if there were no friction and no stops.
func (b *Bench) steady() float64 {
	x := b.flow.movement * (1 - b.cell.lost) / b.hidden.Merit
	if x != 0 {
		x += b.jitter
	}
	return b.fault.pointer(x, b) + b.zero
}

// advance follows the bench to a time.
func (b *Bench) advance(to time.Duration) {
	step := grid
	if to-b.at > longest {
		step = (to - b.at) / time.Duration(longest/grid)
	}
	for b.at < to {
		next := to
		for k := range b.letGo {
			if t := b.letGo[k]; t > b.at {
				next = min(next, t)
			}
		}
		if b.restless() {
			next = min(next, b.at.Truncate(step)+step)
		}
		b.flowOn(next)
		for k := range b.letGo {
			if t := b.letGo[k]; t != 0 && t <= b.at {
				b.letGo[k] = 0
				b.look()
				b.switchKey(Key(k), false)
			}
		}
	}
}

// restless reports whether the needle moves or the cell moves it.
func (b *Bench) restless() bool {
	return !b.coil.Held(b.state, b.drive) || b.drifts()
}

func (b *Bench) drifts() bool { return b.flow.movement != 0 && !b.cell.settled() }

// flowOn lets time pass with the circuit as it is.
func (b *Bench) flowOn(to time.Duration) {
	dt := to - b.at
	state, hits := b.coil.After(b.state, b.drive, dt.Seconds())
	for _, h := range hits {
		b.hit(h)
	}
	b.state = state
	b.cell.lost = b.cell.after(dt)
	if b.keys[K1] {
		b.closed += dt
	}
	b.at = to
	b.steer()
	if n := b.stated.Galvanometer.Divisions; math.Abs(b.state.Div) > n && b.beyond() != 0 {
		b.peg()
	}
}

// begin brings the bench to the time of an act.
func (b *Bench) begin(at time.Duration, a Act) {
	b.advance(at)
	b.look()
	b.act = a
	clear(b.seen)
}

// SetKey closes or opens a key.
func (b *Bench) SetKey(at time.Duration, k Key, closed bool) {
	do := Open
	if closed {
		do = Close
	}
	b.begin(at, Act{Do: do, Key: k})
	b.letGo[k] = 0
	b.switchKey(k, closed)
}

// TapKey presses a key for an instant.
func (b *Bench) TapKey(at time.Duration, k Key) {
	b.begin(at, Act{Do: Tap, Key: k})
	b.letGo[k] = b.at + tapTime
	b.switchKey(k, true)
}

// switchKey closes or opens a key at the present time.
func (b *Bench) switchKey(k Key, closed bool) {
	if b.keys[k] == closed {
		return
	}
	b.keys[k] = closed
	if closed {
		b.closings++
		b.jitter = b.fault.jitter(b.stated.Galvanometer.Step(), b.rand)
	}
	if k == K1 && closed {
		b.fault.closed(b)
	}
	b.rewire()
	if k == K1 && !closed && b.keys[K2] {
		b.happen(Happening{Kind: K2LeftClosed})
	}
}

// Closed reports whether a key is closed.
func (b *Bench) Closed(k Key) bool { return b.keys[k] }

// Set pulls (1) or pushes home (0) a plug of a box, or turns a dial to a
// number of steps. It fails, doing nothing, where the box has no such plug or
// step.
func (b *Bench) Set(at time.Duration, which Box, i, n int) error {
	x := b.box(which)
	if err := x.can(i, n); err != nil {
		return err
	}
	b.begin(at, Act{Do: Turn, Box: which})
	b.mends(func() { x.set(i, n) }) // a loose plug is moved
	b.rewire()
	if b.keys[K1] {
		b.happen(Happening{Kind: SetUnderCurrent})
	}
	return nil
}

// Arrange sets a whole box at once, as its record says it stands.
func (b *Bench) Arrange(at time.Duration, which Box, s apparatus.Setting) error {
	b.begin(at, Act{Do: Turn, Box: which})
	err := b.box(which).arrange(s)
	b.rewire()
	return err
}

func (b *Bench) box(which Box) *box {
	if which == Shunt {
		return &b.shunt
	}
	return &b.series
}

// Plugs returns how often each coil of a box is in the circuit as its plugs or
// dials show: 1 where the plug is out, 0 to 10 for a dial.
func (b *Bench) Plugs(which Box) []int { return slices.Clone(b.box(which).in) }

// Said returns what a box shows, in ohm.
func (b *Bench) Said(which Box) float64 { return b.box(which).said() }

// Leads returns the leads as they are joined.
func (b *Bench) Leads() []Lead { return slices.Clone(b.leads) }

// Connect joins two terminals by a lead, or takes away the lead that joins
// them. It fails for one terminal twice and for one that is not there.
func (b *Bench) Connect(at time.Duration, one, other Terminal) error {
	if one == other || min(one, other) < 0 || max(one, other) >= Terminals {
		return fmt.Errorf("live: a lead joins two of the %d terminals, not %v and %v", int(Terminals), one, other)
	}
	b.begin(at, Act{Do: Join})
	l := join(one, other)
	leads := b.Leads()
	if i := slices.Index(leads, l); i >= 0 {
		leads = slices.Delete(leads, i, i+1)
	} else {
		leads = append(leads, l)
	}
	b.lay(leads)
	return nil
}

// Wire lays all leads anew as they are drawn.
func (b *Bench) Wire(at time.Duration) {
	b.begin(at, Act{Do: Join})
	b.lay(asDrawn())
}

// Unwire takes all leads away.
func (b *Bench) Unwire(at time.Duration) {
	b.begin(at, Act{Do: Join})
	b.lay(nil)
}

// lay joins the leads that are given, and no others.
func (b *Bench) lay(leads []Lead) {
	b.leads, b.wired = leads, sound(leads)
	b.mends(func() { b.fault.rewired(b.wired) })
	b.rewire()
}

// Wired reports whether the leads make the half-deflection circuit.
func (b *Bench) Wired() bool { return b.wired }

// TurnZero turns the zero screw, which moves the needle's rest by so many
// divisions, within a sixth of the scale.
func (b *Bench) TurnZero(at time.Duration, div float64) {
	b.begin(at, Act{Do: Screw})
	most := b.stated.Galvanometer.Divisions / 6
	b.zero = math.Max(-most, math.Min(most, b.zero+div))
	b.mends(func() { b.fault.screwed(b.zero, b.stated.Galvanometer.Step()) })
	b.steer()
}

// TapCase taps the case, which frees a needle that sticks.
func (b *Bench) TapCase(at time.Duration) {
	b.begin(at, Act{Do: Knock})
	b.state = b.coil.Tapped(b.state, b.drive, 2*b.rand.Float64()-1)
}

// Needle is where the needle is, in divisions from the zero mark.
func (b *Bench) Needle(at time.Duration) float64 {
	b.advance(at)
	return b.state.Div
}

// What can be seen of a motion, and when a slow one is worth another look.
const (
	seenDiv   = 0.01 // div
	seenSpeed = 0.002
	drifting  = time.Second
)

// Frame is how soon a picture of a moving needle is due after the last.
const Frame = time.Second / 30

// Due says how soon the needle is worth another look: 0 where nothing will
// move until something is done.
func (b *Bench) Due(at time.Duration) time.Duration {
	b.advance(at)
	switch {
	case b.moves():
		return Frame
	case b.letGo[K1] > b.at || b.letGo[K2] > b.at:
		return Frame
	case b.drifts() && math.Abs(b.drive.Steady-b.zero)*math.Abs(b.cell.goal-b.cell.lost)/max(b.cell.time.Seconds(), 1) > seenSpeed:
		return drifting
	}
	return 0
}

// moves reports whether the needle is seen to move.
func (b *Bench) moves() bool {
	if b.coil.Held(b.state, b.drive) {
		return false
	}
	rest := b.drive.Steady + math.Copysign(b.coil.Friction, b.state.Div-b.drive.Steady)
	return math.Abs(b.state.Div-rest)+math.Abs(b.state.Speed)/b.coil.Omega() > seenDiv
}

// Settling is how long the needle will still be seen to move if nothing is
// done.
func (b *Bench) Settling(at time.Duration) time.Duration {
	b.advance(at)
	s := b.coil.Settling(b.state, b.drive, seenDiv/2)
	for k := range b.letGo { // a tap is not over before the key is let go and the needle is back
		if b.letGo[k] > b.at {
			s += (b.letGo[k] - b.at).Seconds() + 4*b.coil.Period
		}
	}
	return time.Duration(s * float64(time.Second))
}

// The simulated voltmeter (common practice, no source): the limit of its
// relative error, the same at every use, and the step of its last figure.
const (
	voltmeterLimit = 0.005
	voltmeterStep  = 0.01 // V
)

// Voltmeter is what a voltmeter across the cell shows, in volt: its EMF with
// no current drawn, else what is left of it at its terminals.
func (b *Bench) Voltmeter(at time.Duration) float64 {
	b.advance(at)
	v := b.values()
	volts := (v.emf - b.flow.source*v.source) * (1 - b.cell.lost)
	if math.IsInf(b.flow.source, 0) {
		volts = 0
	}
	return math.Round(volts*(1+b.volts)/voltmeterStep) * voltmeterStep
}

// Stated returns the bench as its plates state it.
func (b *Bench) Stated() apparatus.Bench { return b.stated }

// Hidden returns the true values, for telling them when all is done.
func (b *Bench) Hidden() bench.Hidden { return b.hidden }

// Closings tells how often a key was closed, and for how long K1 was in all.
func (b *Bench) Closings() (times int, k1 time.Duration) { return b.closings, b.closed }
