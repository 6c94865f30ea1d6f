package procedure

import (
	"math"
	"slices"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/estimate"
)

// denied is the chi-squared by which another account of the source has to fit
// better to be taken: two standard deviations (common practice, no source).
const denied = 4

// borneOut is the probability of chi-squared from which on an account is taken
// without asking for another (the usual 5 % level).
const borneOut = 0.05

// observation takes repeats at one setting together.
func (ev *evidence) observation(s *State, set apparatus.Setting, rs []reading) estimate.Observation {
	zeros := ev.in.Zeros
	o := estimate.Observation{
		Series: s.bench.series.Multiset(set), SeriesOhm: set.Ohm, N: len(rs),
		ZeroWeights: make([]float64, len(zeros)), Drive: ev.driveOf(rs[0]),
	}
	for _, rd := range rs {
		o.Div += rd.div / float64(len(rs))
		if len(ev.zeros) == 0 { // one is supposed
			o.ZeroWeights[0] += 1 / float64(len(rs))
			continue
		}
		i, f := ev.zeroAmong(rd)
		o.ZeroWeights[slices.Index(zeros, ev.zeros[i].div)] += (1 - f) / float64(len(rs))
		if f > 0 {
			o.ZeroWeights[slices.Index(zeros, ev.zeros[i+1].div)] += f / float64(len(rs))
		}
	}
	return o
}

// weighFit fits all readings in force together, by the account of the source that
// they bear out best.
func (ev *evidence) weighFit(s *State) {
	in := estimate.Input{
		SourceResistance: ev.r, USourceResistance: ev.uR,
		Step: ev.step, Repeatability: repeatability * ev.step,
		SeriesCoils: coilsOf(s.bench.SeriesBox), SeriesTolerance: s.bench.SeriesBox.Tolerance,
		ShuntCoils: coilsOf(s.bench.ShuntBox), ShuntTolerance: s.bench.ShuntBox.Tolerance,
		Zeros: []float64{0}, UZeros: []float64{ev.uZero},
	}
	if len(ev.zeros) > 0 {
		in.Zeros, in.UZeros = ev.zeroValues()
	}
	sights := ev.sights(s)
	for _, x := range sights {
		ev.shunted = ev.shunted || x.branch >= 0
	}
	if !ev.shunted {
		in.PriorG, in.UPriorG = ev.plateG, ev.uPlateG
	}
	var best *evidence
	var seen [][]estimate.Observation
	least := math.Inf(1)
	for _, a := range ev.accounts(s.stated()) {
		try := *ev
		try.take(a)
		as := try.fitSights(s, in, sights)
		if misfit := try.misfit(s.bench.Galvanometer); best == nil || misfit < least-denied {
			best, seen, least = &try, as, misfit
			if f := try.fit; f != nil && f.Probability >= borneOut && misfit-f.Chi2 <= denied {
				break
			}
		}
	}
	*ev = *best
	if ev.weighScatter(sights); ev.repeatDOF > 0 { // planning goes on by what agrees, and without it
		scattered := ev.in
		scattered.Repeatability, scattered.RepeatabilityDOF = ev.repeat, ev.repeatDOF
		ev.fit, _ = estimate.Joint(scattered)
	}
	ev.weighPlate(s.bench.Bench)
	ev.weighAgreement(s, sights, seen)
}

// misfit is the chi-squared of the readings and of the stated full scale.
func (ev *evidence) misfit(g apparatus.Galvanometer) float64 {
	if ev.fit == nil {
		return math.Inf(1)
	}
	sum := ev.fit.Chi2
	if g.FullScale != nil {
		u := fullScaleDoubt(g)
		d := math.Log(ev.fit.K * g.Divisions / *g.FullScale)
		sum += d * d / (u*u + math.Pow(ev.fit.UK/ev.fit.K, 2))
	}
	return sum
}

// weighScatter finds the repeatability that the repeats show, pooled over the
// settings, where any lie further apart than one step: rounding alone parts
// those of one place of the needle by a step. The rounding's own variance is
// taken off.
func (ev *evidence) weighScatter(sights []sight) {
	sum, dof, wide := 0.0, 0, false
	for _, x := range sights {
		low, high, mean := math.Inf(1), math.Inf(-1), 0.0
		for _, rd := range x.rs {
			d := ev.far(rd)
			low, high, mean = min(low, d), max(high, d), mean+d/float64(len(x.rs))
		}
		for _, rd := range x.rs {
			sum += math.Pow(ev.far(rd)-mean, 2)
		}
		dof += len(x.rs) - 1
		wide = wide || high-low > ev.step*(1+1e-9)
	}
	if !wide {
		return
	}
	if shown := math.Sqrt(max(0, sum/float64(dof)-ev.step*ev.step/12)); shown > ev.repeat {
		ev.repeat, ev.repeatDOF = shown, float64(dof)
	}
}

// far is how far from zero a reading lies, as the source that is in circuit now
// would make it.
func (ev *evidence) far(rd reading) float64 { return math.Abs(ev.deflection(rd)) / ev.driveOf(rd) }

// fitSights fits what was seen, and returns it as it was fitted, sight by sight.
// Without a fit the agreement says what to go by.
func (ev *evidence) fitSights(s *State, in estimate.Input, sights []sight) [][]estimate.Observation {
	in.EMF, in.UEMF = ev.emf, ev.uEMF
	ev.in = in
	all, seen := make([]estimate.Observation, 0, len(sights)), make([][]estimate.Observation, len(sights))
	for i, x := range sights {
		from := len(all)
		all = ev.observations(all, s, x.place, x.rs)
		seen[i] = all[from:len(all):len(all)]
	}
	ev.in.Observations = all
	ev.fit, _ = estimate.Joint(ev.in)
	return seen
}

func coilsOf(b apparatus.Box) []float64 {
	if b.Kind == apparatus.Decade {
		return b.Dials
	}
	return b.Coils
}

// foresee returns the deflection expected at the given settings, as a
// distance from zero in div, and its standard uncertainty without the
// reading's own; shunt is nil for a first deflection.
func (ev *evidence) foresee(s *State, series apparatus.Setting, shunt *apparatus.Setting) (Expect, bool) {
	if ev.plan != nil && (shunt == nil || ev.planShunted) {
		o := estimate.Observation{Series: s.bench.series.Multiset(series), SeriesOhm: series.Ohm, N: 1}
		if shunt != nil {
			o.Shunted, o.ShuntOhm, o.Shunt = true, shunt.Ohm, s.bench.shunt.Multiset(*shunt)
		}
		div, u, err := ev.plan.Predict(o, ev.left)
		return Expect{div, u}, err == nil
	}
	loop, uLoop := ev.plateLoop, ev.uPlate
	if ev.plan != nil {
		loop, uLoop = ev.plan.Loop, ev.plan.ULoop/ev.plan.Loop
	}
	if loop == 0 {
		return Expect{}, false
	}
	all := series.Ohm + ev.r
	theta, by := loop/(all+ev.plateG), ev.plateG/(all+ev.plateG)
	if shunt != nil {
		p := all * ev.plateG / (all + ev.plateG)
		ratio := shunt.Ohm / (shunt.Ohm + p)
		theta *= ratio
		by += 1 - ratio
	}
	u := math.Sqrt(math.Pow(theta*uLoop, 2) + math.Pow(theta*by*ev.uPlateG, 2) + ev.step*ev.step/12 + ev.uZero*ev.uZero)
	zero := 0.0
	if n := len(ev.zeros); n > 0 {
		zero = ev.zeros[n-1].div
	}
	if ev.left {
		theta = -theta
	}
	return Expect{theta + zero, u}, theta != 0 && !math.IsInf(theta, 0)
}
