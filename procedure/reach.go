package procedure

import (
	"iter"
	"math"

	"example.org/halve/safety"
)

// weighLoop gathers what limits the deflection at worst.
func (ev *evidence) weighLoop(s *State) {
	g := s.bench.Galvanometer
	ev.loop = safety.Loop{
		EMFHigh: ev.emfHigh, Tolerance: s.bench.SeriesBox.Tolerance, Divisions: g.Divisions, Still: ev.still(),
		// A reading lay within half a step, blurred by the repeatability,
		// and so did the zero.
		Doubt: (0.5+3*repeatability)*ev.step + unreadZero,
	}
	if len(ev.zeros) > 0 {
		ev.loop.Doubt = 2 * (0.5 + 3*repeatability) * ev.step
	}
	ev.loop.Zero = unreadZero
	if n := len(ev.zeros); n > 0 { // the latest: the adjuster may have been turned since the others
		ev.loop.Zero = math.Abs(ev.zeros[n-1].div)
	}
	if g.Resistance != nil {
		ev.loop.RestHigh = 2 * (ev.plateG + ev.r)
	}
	if g.FullScale != nil {
		ev.loop.FullScaleLow = safety.FullScaleTrust * *g.FullScale
	}
	after := 0 // the readings from here on were taken after the last one off the scale
	for r, rd := range s.firsts() {
		if ev.backwards = ev.against(s, *rd); ev.backwards {
			continue // the stop held it: no deflection was read
		}
		zero, drift := ev.restBetween(*rd)
		low, high := s.rise(*rd)
		fr := safety.FirstReading{SeriesOhm: r.setting.Ohm, OffScale: rd.off, Zero: math.Abs(zero) + drift, Drift: drift, EMFLow: low, EMFHigh: high}
		if !rd.off {
			fr.Div = math.Abs(rd.div - zero)
		}
		ev.loop.Readings = append(ev.loop.Readings, fr)
		if rd.off {
			ev.offAt = max(ev.offAt, r.setting.Ohm)
			after = len(ev.loop.Readings)
		}
		ev.noteMove(fr, rd.div < zero)
	}
	if ev.offAt > 0 && ev.loop.Bound().Torn() {
		// One of the readings is wrong, and nobody knows which: what was read
		// since is the proof, and offAt keeps its distance (offRule).
		ev.loop.Readings = ev.loop.Readings[after:]
	}
}

// noteMove keeps what the latest first deflection says of how the needle moves;
// left tells that it lies to the left of zero.
func (ev *evidence) noteMove(fr safety.FirstReading, left bool) {
	if fr.OffScale || fr.Div > ev.still() {
		ev.stillNeedle, ev.tapDown = 0, 0
		if !fr.OffScale { // it moved, and not against the stop
			ev.polarityKnown, ev.left = true, left
		}
		return
	}
	ev.stillNeedle, ev.tapDown = fr.SeriesOhm, fr.SeriesOhm/2
	if fr.Div > ev.step/2 {
		// It seems to have moved by a step: if so, this is safe, and it is
		// tapped in case it did not.
		hint := ev.loop
		hint.Still, hint.Readings = 0, []safety.FirstReading{fr}
		if least, ok := hint.Bound().Least(ev.loop.Room()); ok {
			ev.tapDown = min(ev.tapDown, least)
		}
	}
}

// firsts goes through the first deflections in force, each with its run.
func (s *State) firsts() iter.Seq2[*run, *reading] {
	return func(yield func(*run, *reading) bool) {
		for i := range s.runs {
			r := &s.runs[i]
			for j := range r.first {
				if rd := &r.first[j]; s.on(r.seq) && s.on(rd.seq) && !yield(r, rd) {
					return
				}
			}
		}
	}
}

// against reports whether a reading is of a needle pressed against the left
// stop of a scale that has its zero there: the polarity is wrong.
func (ev *evidence) against(s *State, rd reading) bool {
	if s.bench.Galvanometer.Centre() {
		return false
	}
	return rd.back || !rd.off && rd.div-ev.zeroFor(rd) < -ev.still()/2
}

// still is the deflection up to which the needle may not have moved at all.
func (ev *evidence) still() float64 { return ev.step }
