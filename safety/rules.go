package safety

import "fmt"

// A Rule is one thing that must hold before a key is closed. Judge returns ok
// and no words where it holds, else the verdict it demands and the reason.
type Rule struct {
	ID     string
	Why    string // the harm it prevents
	Source string
	Judge  func(Closing) (v Verdict, because string, ok bool)
}

// Closing is the bench at the moment before a key is closed.
type Closing struct {
	Key           Key
	Wired         bool      // the circuit was checked against the drawing
	Loop          Loop      // what is known of the loop
	SeriesOhm     float64   // nominal value of the series box
	SeriesMax     float64   // the largest value the series box makes
	SeriesCoils   []float64 // the coils in circuit, ohm
	ShuntCoils    []float64 // the coils in circuit, ohm; for K2
	SeriesRating  float64   // power each series coil may take, W
	ShuntRating   float64   // power each shunt coil may take, W
	ShuntLimit    float64   // limit of each coil of the shunt box, relative
	SourceMax     float64   // the most the source may deliver, A; 0 where none is stated
	LeftZero      bool      // the scale has its zero at the left stop
	PolarityKnown bool      // a reading has shown that the needle moves up the scale
	TapDown       float64   // after a needle that did not surely move: the least series value to tap, ohm; else 0
	OffAt         float64   // largest series value at which the needle was beyond the end, ohm; 0 if at none
	Leapt         bool      // the shunted needle did not fall; for K2
	First         *float64  // the deflection read at the present setting, div; nil if none; for K2
	FirstOff      bool      // that deflection was beyond the end of the scale
}

// currentHigh is the largest current the loop can carry: highest EMF, each
// coil at its lower limit, no internal resistance, no movement.
func (c Closing) currentHigh() float64 {
	return c.Loop.EMFHigh / (c.SeriesOhm * (1 - c.Loop.Tolerance))
}

// shuntHigh is the largest current the shunt branch can carry, were there no
// galvanometer beside it (Kirchhoff's laws: E G/(R(G+S)+G S) grows with G to
// E/(R+S)).
func (c Closing) shuntHigh() float64 {
	ohm := c.SeriesOhm * (1 - c.Loop.Tolerance)
	for _, coil := range c.ShuntCoils {
		ohm += coil * (1 - c.ShuntLimit)
	}
	return c.Loop.EMFHigh / ohm
}

// Rules returns every rule on closing a key, in the order in which they are
// asked; the strictest verdict wins, and of equal ones the first speaks.
func Rules() []Rule {
	return []Rule{wiredRule, loopRule, coilRule, sourceRule, shuntRule, leapRule, steadyRule, offRule, polarityRule}
}

// rank orders verdicts by strictness.
func rank(v Verdict) int {
	switch v {
	case Stop:
		return 2
	case Tap:
		return 1
	}
	return 0
}

// Judge puts all rules to a closing and returns the clearance.
func Judge(c Closing) Clearance {
	out := Clearance{Key: c.Key, Verdict: Clear}
	for _, r := range Rules() {
		if v, because, ok := r.Judge(c); !ok && rank(v) > rank(out.Verdict) {
			out.Verdict, out.Because = v, because
		}
	}
	if c.Key == K2 { // it is closed on a needle that K1 drives
		drive := c
		drive.Key = K1
		if j := Judge(drive); rank(j.Verdict) > rank(out.Verdict) {
			return Clearance{Key: K2, Verdict: j.Verdict, WorstDiv: j.WorstDiv, Because: j.Because}
		}
	}
	if worst, ok := worstDiv(c); ok {
		out.WorstDiv = &worst
	}
	if out.Verdict == Clear {
		out.Because = clearBecause(c, *out.WorstDiv)
	}
	return out
}

// worstDiv is the largest steady deflection once the key is closed.
func worstDiv(c Closing) (float64, bool) {
	if c.Key == K2 {
		if c.First == nil {
			return 0, false
		}
		return min(*c.First+c.Loop.Doubt+c.Loop.Zero, c.Loop.Divisions), true
	}
	worst, ok := c.Loop.Bound().Worst(c.SeriesOhm)
	return worst + c.Loop.Zero, ok
}

func clearBecause(c Closing, worst float64) string {
	if c.Key == K2 {
		return "a shunt only takes current from the galvanometer: the needle can only fall"
	}
	s := fmt.Sprintf("even at the worst the needle rests at %.1f of %g divisions", worst, c.Loop.Divisions)
	if swing := Swing(worst); swing > c.Loop.Divisions {
		s += fmt.Sprintf("; the first swing may touch the stop (up to %.0f), which does no harm", swing)
	}
	return s
}
