package metercheck

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"

	"example.org/halve/physics/panel"
)

// How a cause is told from the readings. Each says how far every reading lies
// off the value that the reference says: by noise, by what a sound meter of
// this class may have of its own, and by what the fault adds, all of them
// normal with the standard deviations below. Its evidence is then the density
// of the readings under that law, in closed form; with the weights of the
// table it becomes the posterior probability (Bayes's theorem).

// weights is what is thought of a bench before any reading (common practice,
// no source): most are sound.
var weights = map[string]float64{
	sound:             0.80,
	panel.Sticks:      0.05,
	panel.ZeroOff:     0.05,
	panel.ScaleFactor: 0.02,
	panel.WrongRange:  0.02,
	panel.Reversed:    0.02,
	panel.Bent:        0.01,
	panel.PointOdd:    0.02,
	unexplained:       0.01,
}

// What is no finding by name: all is well, and nothing known fits.
const (
	sound       = "sound"
	unexplained = "unexplained"
)

// mostReadings bounds the readings that are weighed: the last ones. A check
// takes some twenty.
const mostReadings = 40

// A cause is an explanation with its weight by the readings.
type cause struct {
	id          string
	probability float64
	seq         int     // the first event in force that it spoiled, 0 for none
	size        float64 // the fault's own number: divisions, or a ratio
}

// evidence is what the readings of a check say, everything in divisions.
type evidence struct {
	readings []reading
	off      []float64 // reading minus what the reference says
	is       []float64 // what the reference says
	at       []float64 // where the pointer stood, as a part of the scale, −1 to 1
	noise    []float64 // variance of each
	u        float64   // of a reading
	uRef     float64   // of the reference
	limit    float64   // of the class
	n        float64   // divisions
	left     bool      // zero at the left stop
	law      *mat.SymDense
	factor   factor
	white    []float64 // off, made independent by the law
}

// A factor is a law taken apart, UᵀU, for densities under it.
type factor struct {
	upper  blas64.Triangular
	logDet float64
}

// factorize takes a law apart; ok is false where it is none, for want of
// digits.
func factorize(law *mat.SymDense) (f factor, ok bool) {
	c := mat.NewSymDense(law.SymmetricDim(), nil)
	c.CopySym(law)
	f.upper, ok = lapack64.Potrf(c.RawSymmetric())
	for i := range f.upper.N {
		f.logDet += 2 * math.Log(f.upper.Data[i*f.upper.Stride+i])
	}
	return f, ok
}

// whiten makes of deviations under the law independent ones of standard
// deviation 1: the solution of Uᵀx = v.
func (f factor) whiten(v []float64) []float64 {
	x := slices.Clone(v)
	blas64.Trsv(blas.Trans, f.upper, blas64.Vector{N: len(x), Inc: 1, Data: x})
	return x
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

// weigh prepares the readings in force; ok is false where there are none.
func (s *State) weigh() (ev *evidence, ok bool) {
	rs := s.standing()
	if i := slices.IndexFunc(rs, func(r reading) bool { return !r.Zero }); i > 1 {
		rs = rs[i-1:] // of zeros before the first point the last counts
	} else if i < 0 && len(rs) > 1 {
		rs = rs[len(rs)-1:]
	}
	rs = rs[max(0, len(rs)-mostReadings):]
	if s.bench == nil || len(rs) == 0 {
		return nil, false
	}
	b := *s.bench
	m := b.Meter()
	ev = &evidence{
		readings: rs, u: panel.UReading(b.Step()), uRef: m.Div(b.UReference()), limit: b.limitDiv(), n: b.Divisions, left: b.leftZero(),
	}
	for _, r := range rs {
		is := m.Div(r.Reference)
		ev.is = append(ev.is, is)
		ev.off = append(ev.off, r.Div-is)
		ev.at = append(ev.at, min(max(r.Div/b.Divisions, -1.1), 1.1))
		ev.noise = append(ev.noise, ev.noiseOf(r, 1))
	}
	ev.law = ev.soundLaw()
	if ev.factor, ok = factorize(ev.law); ok {
		ev.white = ev.factor.whiten(ev.off)
	}
	return ev, ok
}

// wobble is the part of the reference's uncertainty that is another one at
// every reading; the rest is the same at all of them, in proportion (common
// practice, no source).
const wobble = 0.3

// markWidth is how near two readings lie that share the error of one mark, as
// a part of the scale.
const markWidth = 0.02

// noiseOf is the variance of a reading of which the reference's part counts so
// many times.
func (ev *evidence) noiseOf(r reading, times float64) float64 {
	v := ev.u * ev.u
	if !r.Zero {
		ref := times * wobble * ev.uRef
		v += ref * ref
	}
	return v
}

// soundLaw is the covariance of the readings of a sound meter: noise, the
// reference's own error, and an offset, a gain, a bow, a hysteresis and a
// friction as sound meters of the class have them; and each mark of a scale is
// drawn by itself.
func (ev *evidence) soundLaw() *mat.SymDense {
	n := len(ev.readings)
	law := mat.NewSymDense(n, nil)
	for i, v := range ev.noise {
		law.SetSym(i, i, v)
	}
	ev.add(law, ev.offset(0, n), 0.5*ev.u)
	ev.add(law, ev.at, ev.limit/2)
	ev.add(law, ev.bow(), ev.limit/5)
	ev.add(law, ev.hysteresis(), ev.limit/8)
	ev.add(law, ev.friction(), 0.3*ev.u)
	ev.add(law, ev.at, ev.uRef)
	drawn := 0.05 * ev.limit
	for i, a := range ev.at {
		for j := i; j < n; j++ {
			if !ev.readings[i].Zero && !ev.readings[j].Zero {
				apart := (a - ev.at[j]) / markWidth
				law.SetSym(i, j, law.At(i, j)+drawn*drawn*math.Exp(-apart*apart/2))
			}
		}
	}
	return law
}

// add adds to a law a shape whose size is normal with a standard deviation.
func (ev *evidence) add(law *mat.SymDense, shape []float64, sd float64) {
	for i := range shape {
		for j := i; j < len(shape); j++ {
			law.SetSym(i, j, law.At(i, j)+sd*sd*shape[i]*shape[j])
		}
	}
}

// The shapes of errors. offset is one for the readings from one place to
// before another.
func (ev *evidence) offset(from, to int) []float64 {
	out := make([]float64, len(ev.readings))
	for i := from; i < to; i++ {
		out[i] = 1
	}
	return out
}

// bow is nothing at the ends and most in the middle.
func (ev *evidence) bow() []float64 {
	out := make([]float64, len(ev.at))
	for i, x := range ev.at {
		out[i] = 4 * x * (1 - math.Abs(x))
	}
	return out
}

// hysteresis is a bow on the way back.
func (ev *evidence) hysteresis() []float64 {
	out := ev.bow()
	for i, r := range ev.readings {
		if r.Rising {
			out[i] = 0
		}
	}
	return out
}

// friction holds the pointer back by three quarters of itself on the average:
// short of the mark rising, beyond it falling; a tap frees it. The first zero
// is read after a tap, a later one is not.
func (ev *evidence) friction() []float64 {
	out := make([]float64, len(ev.at))
	side := 1.0
	for i, r := range ev.readings {
		if ev.is[i] != 0 {
			side = math.Copysign(1, ev.is[i])
		}
		switch {
		case r.Tapped || r.Zero && i == 0:
		case r.Rising:
			out[i] = -0.75 * side
		default:
			out[i] = 0.75 * side
		}
	}
	return out
}

// density is the logarithm of the density of off under a law, but for what is
// the same of all.
func density(off []float64, law *mat.SymDense) float64 {
	f, ok := factorize(law)
	if !ok {
		return math.Inf(-1)
	}
	x := f.whiten(off)
	return -0.5 * (f.logDet + dot(x, x))
}

// shaped is the logarithm of the density with a shape of a standard deviation
// added to the sound law, and the most probable size of it: the determinant
// lemma and the formula of Sherman and Morrison.
func (ev *evidence) shaped(shape []float64, sd float64) (log, size float64) {
	x := ev.factor.whiten(shape)
	q := sd * sd
	d := 1 + q*dot(x, x)
	p := dot(x, ev.white)
	return -0.5 * (ev.factor.logDet + math.Log(d) + dot(ev.white, ev.white) - q*p*p/d), q * p / d
}

// trial is one way in which a cause may have come about.
type trial struct {
	id        string
	log, size float64
	seq       int
}

// causes returns every cause with its probability, most probable first.
func (ev *evidence) causes() []cause {
	var all []trial
	n := len(ev.readings)
	try := func(id string, log, size float64, seq int) { all = append(all, trial{id, log, size, seq}) }
	shape := func(id string, shape []float64, sd float64, seq int) {
		log, size := ev.shaped(shape, sd)
		try(id, log, size, seq)
	}
	try(sound, -0.5*(ev.factor.logDet+dot(ev.white, ev.white)), 0, 0)
	// The second says no more than that the readings are on the scale.
	for _, off := range []float64{10 * ev.u, ev.n / 3} {
		wide := mat.NewSymDense(n, nil)
		wide.CopySym(ev.law)
		for i := range n {
			wide.SetSym(i, i, wide.At(i, i)+off*off)
		}
		try(unexplained, density(ev.off, wide), 0, 0)
	}

	for _, times := range []float64{3, 10, 30} {
		shape(panel.ZeroOff, ev.offset(0, n), times*ev.u, ev.readings[0].seq)
	}
	for k := 1; k < n; k++ {
		if ev.readings[k].Zero { // the zero was set again here
			shape(panel.ZeroOff, ev.offset(0, k), 10*ev.u, ev.readings[0].seq)
		}
		shape(panel.Bent, ev.offset(k, n), max(10*ev.u, 2*ev.limit), 0)
	}
	if slices.ContainsFunc(ev.readings, func(r reading) bool { return !r.Zero }) {
		ev.tryPoints(shape, try)
	}
	return rank(all)
}

// tryPoints tries what only points can show.
func (ev *evidence) tryPoints(shape func(id string, shape []float64, sd float64, seq int), try func(id string, log, size float64, seq int)) {
	n := len(ev.readings)
	shape(panel.ScaleFactor, ev.at, 3*ev.limit, 0)
	shape(panel.ScaleFactor, ev.at, min(10*ev.limit, 0.08*ev.n), 0) // beyond that it is another range
	shape(panel.Bent, ev.bow(), 3*ev.limit, 0)
	for i := range n {
		alone := ev.offset(i, i+1)
		shape(panel.PointOdd, alone, 10*ev.u, ev.readings[i].seq)
		shape(panel.PointOdd, alone, 0.1*ev.n, ev.readings[i].seq)
	}
	// Friction also scatters: where within it the pointer stops is chance.
	stuck := ev.friction()
	for _, times := range []float64{3, 6, 15} {
		law := mat.NewSymDense(n, nil)
		law.CopySym(ev.law)
		f := times * ev.u
		for i, c := range stuck {
			if c != 0 {
				law.SetSym(i, i, law.At(i, i)+f*f/16)
			} else if !ev.readings[i].Zero || i > 0 {
				law.SetSym(i, i, law.At(i, i)+f*f/48)
			}
		}
		ev.add(law, stuck, f)
		_, size := ev.shaped(stuck, f)
		try(panel.Sticks, density(ev.off, law), size, 0)
	}
	// Those that may have been put right before the last few readings.
	for left := range min(4, n) {
		until := n - left
		i := slices.IndexFunc(ev.readings[:until], func(r reading) bool { return !r.Zero })
		if i < 0 {
			break
		}
		seq := ev.readings[i].seq
		for _, c := range panel.Spans() {
			log := ev.asIf(until, func(is float64) float64 { return c * is }, c, 0)
			try(panel.WrongRange, log, c, seq)
		}
		if c := ev.ratio(until); c > leastRatio && c < 1/nearestRanges || c > nearestRanges {
			for _, sd := range []float64{1, 10, 100} {
				try(panel.WrongRange, ev.stretched(until, c, sd), c, seq)
			}
		}
		if ev.left {
			// Somewhere between the zero and the stop below it.
			stop := -min(1, 0.03*ev.n)
			try(panel.Reversed, ev.asIf(until, func(float64) float64 { return stop }, 0, 1), 0, seq)
		} else {
			try(panel.Reversed, ev.asIf(until, func(is float64) float64 { return -is }, 1, 0), 0, seq)
		}
	}
}

// nearestRanges is the least step between two ranges of a meter: what is off by
// less is its sensitivity (common practice, no source).
const nearestRanges = 1.25

// leastRatio is the least part of what it should that a pointer shows and can
// still be told from one that does not move (common practice, no source).
const leastRatio = 0.02

// ratio is how many times what it should the pointer shows, by the points
// before until taken together.
func (ev *evidence) ratio(until int) float64 {
	var sum, square float64
	for i, r := range ev.readings[:until] {
		if !r.Zero {
			sum += r.Div * ev.is[i]
			square += ev.is[i] * ev.is[i]
		}
	}
	return sum / square
}

// stretched is the density of the readings where those before until show the
// reference's value multiplied by any number, 1 with a standard deviation; the
// reference's noise counts as often as the most probable one, times, says.
func (ev *evidence) stretched(until int, times, sd float64) float64 {
	law := mat.NewSymDense(len(ev.off), nil)
	law.CopySym(ev.law)
	shape := make([]float64, len(ev.off))
	for i, r := range ev.readings[:until] {
		if !r.Zero {
			law.SetSym(i, i, law.At(i, i)+ev.noiseOf(r, times)-ev.noise[i])
			shape[i] = ev.is[i]
		}
	}
	ev.add(law, shape, sd)
	return density(ev.off, law)
}

// asIf is the density of the readings where those before until show what is
// made of the reference's value, which then counts so many times, and all of
// them are off by something common besides, in divisions.
func (ev *evidence) asIf(until int, shows func(is float64) float64, times, common float64) float64 {
	law := mat.NewSymDense(len(ev.off), nil)
	law.CopySym(ev.law)
	off := slices.Clone(ev.off)
	shape := make([]float64, len(off))
	for i, r := range ev.readings[:until] {
		if r.Zero {
			continue
		}
		off[i] = r.Div - shows(ev.is[i])
		law.SetSym(i, i, law.At(i, i)+ev.noiseOf(r, times)-ev.noise[i])
		shape[i] = 1
	}
	if common > 0 {
		ev.add(law, shape, common)
	}
	return density(off, law)
}

// rank makes probabilities of trials: those of one cause share its weight.
func rank(all []trial) []cause {
	count := map[string]float64{}
	most := math.Inf(-1)
	for _, t := range all {
		count[t.id]++
		most = max(most, t.log)
	}
	if math.IsInf(most, -1) {
		return nil
	}
	best := map[string]trial{}
	sum := map[string]float64{}
	total := 0.0
	for _, t := range all {
		p := weights[t.id] / count[t.id] * math.Exp(t.log-most)
		sum[t.id] += p
		total += p
		if b, ok := best[t.id]; !ok || t.log > b.log {
			best[t.id] = t
		}
	}
	var out []cause
	for id, t := range best {
		out = append(out, cause{id, sum[id] / total, t.seq, t.size})
	}
	slices.SortFunc(out, func(a, b cause) int {
		switch {
		case a.probability > b.probability:
			return -1
		case a.probability < b.probability:
			return 1
		case a.id < b.id:
			return -1
		}
		return 1
	})
	return out
}

// foresee is what the pointer will show at a value, in divisions, by the sound
// law and the readings so far, with its standard uncertainty: the mean and the
// standard deviation of a normal law given the others. Without readings it is
// the value itself within the class.
func (ev *evidence) foresee(is float64, rising, tapped bool) (div, u float64) {
	n := len(ev.readings)
	more := *ev
	more.readings = append(slices.Clone(ev.readings), reading{})
	more.readings[n].Rising, more.readings[n].Tapped = rising, tapped
	more.is = append(slices.Clone(ev.is), is)
	more.at = append(slices.Clone(ev.at), is/ev.n)
	more.noise = append(slices.Clone(ev.noise), ev.noiseOf(more.readings[n], 1))
	law := more.soundLaw()
	cross := make([]float64, n)
	for i := range n {
		cross[i] = law.At(i, n)
	}
	x := ev.factor.whiten(cross)
	return is + dot(x, ev.white), math.Sqrt(max(law.At(n, n)-dot(x, x), ev.u*ev.u))
}
