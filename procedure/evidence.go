package procedure

import (
	"math"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/estimate"
	"example.org/halve/physics/uncertainty"
	"example.org/halve/safety"
)

// What is assumed where the bench does not say (common practice, no source).
const (
	defaultEMFDoubt       = 0.05 // relative standard uncertainty of a stated EMF
	defaultVoltmeterDoubt = 0.01 // relative standard uncertainty of a measured EMF
	defaultSourceOhm      = 1.0  // internal resistance of a cell
	defaultScaleDoubt     = 0.05 // relative standard uncertainty of a stated full scale
	defaultMovementOhm    = 100  // resistance of a school galvanometer …
	defaultMovementDoubt  = 0.7  // … and its relative standard uncertainty
	plateMovementDoubt    = 0.1  // the same for a stated resistance without one
	repeatability         = 0.15 // of a reading, in steps of the resolution (interface contract)
	unreadZero            = 1.0  // div: how far the rest position may be off when it was never read
)

// evidence is what the readings in force say. It is worked out once for a
// state and never changed.
type evidence struct {
	emf, uEMF     float64      // V
	emfHigh       float64      // V, for worst cases
	measured      []sourceFrom // the source as it was measured, in order, always open or always on load
	source        account      // what became of the source, as the readings best bear out
	r, uR         float64      // internal resistance, ohm
	step          float64      // resolution, div
	repeat        float64      // standard deviation of a reading about the needle's place, div
	repeatDOF     float64      // its degrees of freedom where the record shows it, else 0
	zeros         []zeroAt
	uZero         float64
	loop          safety.Loop
	polarityKnown bool
	stillNeedle   float64 // series value at which the needle last did not surely move, 0 if it did
	tapDown       float64 // least series value for a tap after that

	in          estimate.Input // what the fit was made from
	fit         *estimate.Fit  // of all readings; nil where they give none
	shunted     bool           // the fit rests on a shunted reading, not on a supposed G
	plan        *estimate.Fit  // of the readings that agree: to plan and to foresee with
	planShunted bool           // the same of it
	believed    *epoch         // those readings, where some do not agree
	views       map[place]view // how readings agree, of settings where it had to be looked at

	plateLoop float64 // E/k by the plate, div·ohm; 0 unknown
	uPlate    float64 // relative
	plateG    float64 // G by the plate, or the usual one
	uPlateG   float64 // relative
	offAt     float64 // largest series value at which the needle was off the scale
	backwards bool    // on a left-zero scale the needle went against its stop last
	left      bool    // the latest deflection is to the left of zero
	rows      []Row
	result    *Result
}

// evidence returns what the readings say, working it out if they changed.
func (s *State) evidence() *evidence {
	if s.cache == nil {
		s.cache = s.weigh()
	}
	return s.cache
}

// weigh takes things in the order in which they rest on one another: the source
// (source.go) and the plate, the zeros (zeros.go), how far the needle can go
// (reach.go), all readings together (joint.go) and which of them agree
// (agreement.go), and the rows (rows.go).
func (s *State) weigh() *evidence {
	b := s.bench
	ev := &evidence{step: b.Galvanometer.Step()}
	ev.repeat = repeatability * ev.step
	ev.weighSource(s)
	ev.weighPlate(b.Bench)
	for _, z := range s.zeros {
		if s.on(z.seq) {
			ev.zeros = append(ev.zeros, z)
		}
	}
	ev.uZero = ev.readingDoubt(1)
	if len(ev.zeros) == 0 {
		ev.uZero = unreadZero / uncertainty.Rectangular
	}
	ev.weighLoop(s)
	ev.weighFit(s)
	ev.weighRows(s)
	return ev
}

// weighPlate settles what is supposed of the galvanometer while no reading tells
// it: by its plate, else a usual one.
func (ev *evidence) weighPlate(b apparatus.Bench) {
	g := b.Galvanometer
	ev.plateG, ev.uPlateG = defaultMovementOhm, defaultMovementDoubt
	if g.Resistance != nil && *g.Resistance > 0 {
		ev.plateG, ev.uPlateG = *g.Resistance, plateMovementDoubt
		if g.UResistance != nil && *g.UResistance > 0 {
			ev.uPlateG = *g.UResistance / *g.Resistance
		}
	}
	if g.FullScale != nil {
		ev.plateLoop = ev.emf * g.Divisions / *g.FullScale
		ev.uPlate = math.Hypot(fullScaleDoubt(g), ev.uEMF/ev.emf)
	}
}

// fullScaleDoubt is the relative standard uncertainty of the stated full scale.
func fullScaleDoubt(g apparatus.Galvanometer) float64 {
	if g.UFullScale != nil {
		return *g.UFullScale / *g.FullScale
	}
	return defaultScaleDoubt
}

// readingDoubt is the standard uncertainty of the mean of n readings at one
// setting: they share their rounding.
func (ev *evidence) readingDoubt(n int) float64 {
	return math.Hypot(ev.step/uncertainty.Resolution, ev.repeat/math.Sqrt(float64(max(1, n))))
}

// finite is a pointer to x, nil if x is no number that can be stated.
func finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}
