package live

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/movement"
)

// Truth holds the true values that only a bench in time has.
type Truth struct {
	Period   float64 // T0 of the movement, s
	Damping  float64 // ζ0, with its terminals open
	Critical float64 // external resistance that damps it critically, ohm
	Friction float64 // how far from its place it can stay, div
	Sag      float64 // part of the EMF that the cell loses in the long run, per ampere
	SagTime  float64 // with this time constant, s
	stops    float64 // how far beyond the last mark the end stops are, div
	bounce   float64 // the movement's restitution there
}

// Extra is what the hidden object of a bench file can say of a bench in time,
// beside what it says of a still one; nil leaves it to chance.
type Extra struct {
	Fault    *string  `json:"fault"`
	Period   *float64 `json:"period_s"`
	Damping  *float64 `json:"damping"`
	Critical *float64 `json:"critical_ohm"`
	Friction *float64 `json:"friction_div"`
	Sag      *float64 `json:"sag_per_A"`
	SagTime  *float64 `json:"sag_time_s"`
}

// With returns t with the values that e names in place of its own. It fails
// for values that cannot be.
func (t Truth) With(e Extra) (Truth, error) {
	for _, v := range []struct {
		to   *float64
		from *float64
	}{
		{&t.Period, e.Period}, {&t.Damping, e.Damping}, {&t.Critical, e.Critical}, {&t.Friction, e.Friction},
		{&t.Sag, e.Sag}, {&t.SagTime, e.SagTime},
	} {
		if v.from != nil {
			*v.to = *v.from
		}
	}
	return t, t.Validate()
}

// The usual school movement (common practice, no source): T0 1 to 2.5 s, ζ0
// 0.15 to 0.4, critically damped by 50 to 400 Ω, friction 0.05 to 0.3 div, end
// stops 1 to 2 div beyond the last mark, restitution 0.2 to 0.4. Of cells: a
// loss of 0.2 to 1 % in the long run for the half milliampere of this job,
// within a minute or two.
var (
	periods     = [2]float64{1, 2.5}
	dampings    = [2]float64{0.15, 0.4}
	criticals   = [2]float64{50, 400}
	frictions   = [2]float64{0.05, 0.3}
	stopsBeyond = [2]float64{1, 2}
	bounces     = [2]float64{0.2, 0.4}
	sags        = [2]float64{4, 20}
	sagTimes    = [2]float64{40, 120}
)

// DrawTruth draws what a bench in time has besides its hidden values. Friction
// is kept within half a step of the scale, so that a careful reader is not
// worse off than the resolution.
func DrawTruth(g apparatus.Galvanometer, r *rand.Rand) Truth {
	in := func(x [2]float64) float64 { return x[0] + (x[1]-x[0])*r.Float64() }
	return Truth{
		Period: in(periods), Damping: in(dampings), Critical: in(criticals),
		Friction: math.Min(in(frictions), g.Step()/2), Sag: in(sags), SagTime: in(sagTimes),
		stops: in(stopsBeyond), bounce: in(bounces),
	}
}

// Validate reports the first value that cannot be.
func (t Truth) Validate() error {
	for _, v := range []struct {
		name      string
		v, lo, hi float64
	}{
		{"period_s", t.Period, 0.1, 60},
		{"damping", t.Damping, 0.01, 0.99},
		{"critical_ohm", t.Critical, 0, apparatus.MaxResistance},
		{"friction_div", t.Friction, 0, 5},
		{"sag_per_A", t.Sag, 0, 1e6},
		{"sag_time_s", t.SagTime, 0, 3600},
	} {
		if !(v.v >= v.lo && v.v <= v.hi) {
			return fmt.Errorf("hidden: %s lies between %g and %g, not %g", v.name, v.lo, v.hi, v.v)
		}
	}
	return nil
}

// coil is the movement with the resistance g.
func (t Truth) coil(scale apparatus.Galvanometer, g float64) movement.Coil {
	c := movement.Coil{
		Period: t.Period, Damping: t.Damping, Critical: t.Critical, Resistance: g, Friction: t.Friction,
		StopLo: -scale.Divisions - t.stops, StopHi: scale.Divisions + t.stops, Restitution: t.bounce,
	}
	if !scale.Centre() {
		c.StopLo = -leftStop
	}
	return c
}

// leftStop is how far below a left zero the needle meets its stop, in
// divisions (common practice, no source).
const leftStop = 1.0

func (t Truth) cell() cell {
	return cell{sag: t.Sag, time: time.Duration(t.SagTime * float64(time.Second))}
}
