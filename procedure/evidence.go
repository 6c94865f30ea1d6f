package procedure

import (
	"iter"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat"

	"example.org/halve/physics"
	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/estimate"
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
	denied                = 4    // chi-squared by which another account of the readings is the better one: two standard deviations
	runsDown              = 0.2  // share of its EMF that a cell loses within an hour at the most
	mostCells             = 4.0  // times the EMF from which a source told anew is likelier a slip put right than another source
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

// sourceFrom is the source as it was measured by an event.
type sourceFrom struct {
	seq    int
	at     time.Time
	emf, u float64 // V
}

// account is what became of the source, by its measurements.
type account struct {
	how     became
	sources []sourceFrom // one at least
}

// became is how the source came from one measured EMF to the next.
type became int

const (
	steady    became = iota // it did not: their mean
	exchanged               // another one was put in when it was measured
	drifted                 // it changed evenly in the time between
)

// evidence returns what the readings say, working it out if they changed.
func (s *State) evidence() *evidence {
	if s.cache == nil {
		s.cache = s.weigh()
	}
	return s.cache
}

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
		ev.uZero = unreadZero / math.Sqrt(3)
	}
	ev.weighLoop(s)
	ev.weighFit(s)
	ev.weighRows(s)
	return ev
}

// weighSource settles EMF and internal resistance: the voltmeter's readings if
// there are any, else the bench's own. Of several sources the last is the one
// in circuit; worst cases reckon with the strongest, stated or measured, since
// nobody need have said that it was taken away, and the last may be a slip.
func (ev *evidence) weighSource(s *State) {
	src := s.bench.Source
	ev.emf, ev.uEMF = src.EMF, defaultEMFDoubt*src.EMF
	if src.UEMF != nil {
		ev.uEMF = *src.UEMF
	}
	ev.r, ev.uR = defaultSourceOhm, defaultSourceOhm
	if src.Resistance != nil {
		ev.r, ev.uR = *src.Resistance, *src.Resistance/2
	}
	if src.UResistance != nil {
		ev.uR = *src.UResistance
	}
	loaded := false
	for _, m := range slices.Backward(s.sources) {
		if !s.on(m.seq) {
			continue
		}
		if ev.measured == nil {
			loaded = m.read.Loaded
		}
		if m.read.Loaded == loaded { // the latest way of measuring counts
			emf, u := m.volts()
			ev.measured = append(ev.measured, sourceFrom{m.seq, m.at, emf, u})
		}
	}
	slices.Reverse(ev.measured)
	if loaded {
		ev.r, ev.uR = 0, 0
	}
	ev.emfHigh = ev.emf + 3*ev.uEMF
	if len(ev.measured) > 0 && SameEMF(ev.emf, ev.uEMF, ev.measured[0].emf, ev.measured[0].u) {
		ev.emfHigh = 0 // what was measured is surer
	}
	for _, m := range ev.measured {
		ev.emfHigh = max(ev.emfHigh, m.emf+3*m.u)
	}
	ev.take(ev.accounts(sourceFrom{emf: ev.emf, u: ev.uEMF})[0])
}

// volts is the EMF that was measured and its standard uncertainty, V.
func (m sourceAt) volts() (emf, u float64) {
	if m.read.UEMF != nil {
		return m.read.EMF, *m.read.UEMF
	}
	return m.read.EMF, defaultVoltmeterDoubt * m.read.EMF
}

// SameEMF reports whether two measured EMFs, V, agree within three times the
// standard uncertainty of their difference: of one source, or of two alike.
func SameEMF(a, ua, b, ub float64) bool { return math.Abs(a-b) <= 3*math.Hypot(ua, ub) }

// accounts lists what may have become of the source. The first is taken where
// the readings do not tell; the stated EMF counts beside measured ones only
// where they do.
func (ev *evidence) accounts(stated sourceFrom) []account {
	ms := ev.measured
	if len(ms) == 0 {
		return []account{{steady, []sourceFrom{stated}}}
	}
	least, most, falls := ms[0], ms[0], true
	for i, m := range ms {
		if m.emf < least.emf {
			least = m
		}
		if m.emf > most.emf {
			most = m
		}
		falls = falls && (i == 0 || m.emf <= ms[i-1].emf)
	}
	var out []account
	last := ms[len(ms)-1:]
	switch {
	case least.emf == most.emf:
		out = []account{{steady, ms}}
	case SameEMF(least.emf, least.u, most.emf, most.u):
		out = []account{{steady, ms}, {drifted, ms}, {exchanged, ms}}
	case falls && least.emf >= (1-runsDown)*most.emf:
		out = []account{{drifted, ms}, {exchanged, ms}, {steady, last}}
	default:
		out = []account{{exchanged, ms}, {drifted, ms}, {steady, last}} // the last: the others were slips
	}
	if !SameEMF(stated.emf, stated.u, ms[0].emf, ms[0].u) {
		out = append(out, account{exchanged, slices.Concat([]sourceFrom{stated}, ms)})
	}
	return out
}

// take reckons with an account of the source: EMF and uncertainty are those of
// the source that is in circuit now.
func (ev *evidence) take(a account) {
	ev.source = a
	last := a.sources[len(a.sources)-1]
	ev.emf, ev.uEMF = last.emf, last.u
	if a.how != steady {
		return
	}
	low, high, sum, doubt := math.Inf(1), 0.0, 0.0, 0.0
	for _, m := range a.sources {
		low, high, sum, doubt = min(low, m.emf), max(high, m.emf), sum+m.emf, doubt+m.u
	}
	n := float64(len(a.sources))
	// The voltmeter's error is common to its readings; a difference between
	// them is the cell's own change.
	ev.emf, ev.uEMF = sum/n, math.Hypot(doubt/n, (high-low)/math.Sqrt(12))
}

// driveOf is the EMF at a reading relative to that of the source which is in
// circuit now: 1 unless the source has changed.
func (ev *evidence) driveOf(rd reading) float64 {
	if ev.source.how == steady {
		return 1
	}
	sources, at := ev.source.sources, 0 // what was read before any measurement was read with the source that was measured first
	for i, src := range sources {
		if src.seq < rd.seq {
			at = i
		}
	}
	emf := sources[at].emf
	if ev.source.how == drifted && at+1 < len(sources) && sources[at].seq < rd.seq {
		next := sources[at+1]
		if span := next.at.Sub(sources[at].at); span > 0 {
			emf += (next.emf - emf) * min(1, max(0, float64(rd.at.Sub(sources[at].at))/float64(span)))
		}
	}
	return emf / ev.emf
}

// told is the EMF as it was told before an event, V: measured, else as the
// bench states it.
type told struct {
	seq    int // of the measurement, 0 of the bench
	emf, u float64
}

func (s *State) told(before int) told {
	for _, m := range slices.Backward(s.sources) {
		if m.seq < before && s.on(m.seq) {
			emf, u := m.volts()
			return told{m.seq, emf, u}
		}
	}
	src := s.bench.Source
	if src.UEMF != nil {
		return told{0, src.EMF, *src.UEMF}
	}
	return told{0, src.EMF, defaultEMFDoubt * src.EMF}
}

// rise is between what factors the EMF may have risen since a reading, at the
// worst; high is infinite where the reading proves nothing of a needle driven
// by the source that is there now. What was told then and now may be of two
// sources, each off by three times its uncertainty. A bench stated anew is put
// right, or has another source: the worse of the two counts.
func (s *State) rise(rd reading) (low, high float64) {
	then, now := s.told(rd.seq), s.told(math.MaxInt)
	weak, strong := then.emf, then.emf
	if then.seq == 0 {
		weak, strong = min(weak, rd.emf), max(strong, rd.emf)
	}
	if then.seq == now.seq && weak == strong {
		return 1, 1
	}
	u := then.u / then.emf
	low = max(0, min(1, (now.emf-3*now.u)/(strong*(1+3*u))))
	switch {
	case now.emf <= weak && SameEMF(weak, u*weak, now.emf, now.u): // it ran down
		high = 1
	case 3*u >= 1, now.emf > mostCells*weak:
		high = math.Inf(1)
	default:
		high = max(1, (now.emf+3*now.u)/(weak*(1-3*u)))
	}
	return low, high
}

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
		u := defaultScaleDoubt
		if g.UFullScale != nil {
			u = *g.UFullScale / *g.FullScale
		}
		ev.uPlate = math.Hypot(u, ev.uEMF/ev.emf)
	}
}

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

// zeroFor returns the pointer's rest position when rd was read.
func (ev *evidence) zeroFor(rd reading) float64 {
	if len(ev.zeros) == 0 {
		return 0
	}
	i, f := ev.zeroAmong(rd)
	if f == 0 {
		return ev.zeros[i].div
	}
	return (1-f)*ev.zeros[i].div + f*ev.zeros[i+1].div
}

// restBetween returns the middle of the zeros read before and after rd, and how
// far either lies from it: the pointer may have been moved at any time between.
func (ev *evidence) restBetween(rd reading) (rest, drift float64) {
	after, _ := slices.BinarySearchFunc(ev.zeros, rd.seq, func(z zeroAt, n int) int { return z.seq - n })
	switch near := ev.zeros[max(after-1, 0):min(after+1, len(ev.zeros))]; len(near) {
	case 0:
		return 0, 0
	case 1:
		return near[0].div, 0
	default:
		return (near[0].div + near[1].div) / 2, math.Abs(near[0].div-near[1].div) / 2
	}
}

// zeroAmong expresses the zero at the time of rd by the zeros read, of which
// there is at least one: it lies the part f of the way from zero i to the next,
// linear in time between two, else at the nearest one.
func (ev *evidence) zeroAmong(rd reading) (i int, f float64) {
	after, _ := slices.BinarySearchFunc(ev.zeros, rd.seq, func(z zeroAt, n int) int { return z.seq - n })
	if after == 0 || after == len(ev.zeros) {
		return max(after-1, 0), 0
	}
	a, b := ev.zeros[after-1], ev.zeros[after]
	if span := b.at.Sub(a.at); span > 0 {
		f = min(1, max(0, float64(rd.at.Sub(a.at))/float64(span)))
	}
	return after - 1, f
}

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

// zeroValues lists the different rest readings with their standard
// uncertainties. Equal readings are one value: they share their rounding and
// differ only by their repeatability.
func (ev *evidence) zeroValues() (div, u []float64) {
	var times []int
	for _, z := range ev.zeros {
		if i := slices.Index(div, z.div); i >= 0 {
			times[i]++
			continue
		}
		div, times = append(div, z.div), append(times, 1)
	}
	for _, n := range times {
		u = append(u, ev.readingDoubt(n))
	}
	return div, u
}

// weighFit fits all readings in force together.
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
	stated := s.told(1)
	var best *evidence
	var seen [][]estimate.Observation
	least := math.Inf(1)
	for _, a := range ev.accounts(sourceFrom{emf: stated.emf, u: stated.u}) {
		try := *ev
		try.take(a)
		as := try.fitSights(s, in, sights)
		if misfit := try.misfit(s.bench.Galvanometer); best == nil || misfit < least-denied {
			best, seen, least = &try, as, misfit
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
		u := defaultScaleDoubt
		if g.UFullScale != nil {
			u = *g.UFullScale / *g.FullScale
		}
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

// weighRows works out the kept rows one by one and what they say together.
func (ev *evidence) weighRows(s *State) {
	if len(s.kept) == 0 {
		return
	}
	gs, ks := make([]float64, 0, len(s.kept)), make([]float64, 0, len(s.kept))
	ev.rows = make([]Row, 0, len(s.kept))
	n := 0
	for _, k := range s.kept {
		row := ev.row(s, k)
		ev.rows = append(ev.rows, row)
		if row.Struck {
			continue
		}
		n++
		if row.Resistance != nil {
			gs, ks = append(gs, *row.Resistance), append(ks, *row.Merit)
		}
	}
	if n == 0 {
		return
	}
	ev.result = &Result{Rows: n}
	if len(gs) > 0 {
		ev.result.MeanResistance = finite(stat.Mean(gs, nil))
		ev.result.MeanMerit = finite(stat.Mean(ks, nil))
	}
	if len(gs) > 1 {
		ev.result.SDResistance = finite(stat.StdDev(gs, nil))
	}
	if f := ev.fit; f != nil && ev.shunted {
		r := ev.result
		r.Resistance, r.UResistance, r.U95Resistance = finite(f.G), finite(f.UG), finite(f.U95G)
		r.Merit, r.UMerit, r.U95Merit = finite(f.K), finite(f.UK), finite(f.U95K)
		r.Correlation, r.EffectiveDOF = finite(f.Correlation), degrees(f.EffectiveDOF)
		r.FullScale = finite(f.K * s.bench.Galvanometer.Divisions)
	}
}

// row works out one kept row by the ratio formula.
func (ev *evidence) row(s *State, k keep) Row {
	r := &s.runs[k.run]
	b := &r.branches[k.branch]
	row := Row{Row: k.row, Seq: k.seq, SeriesOhm: r.setting.Ohm, ShuntOhm: b.value.setting.Ohm, Struck: !s.rowOn(k)}
	firsts, shunteds := s.alive(r.first), s.alive(b.readings)
	if row.Struck { // it shows what was read when it was kept
		firsts, shunteds = s.stoodAt(k.seq, r.first), s.stoodAt(k.seq, b.readings)
	}
	first, shunted := ev.average(firsts), ev.average(shunteds)
	if first < 0 {
		first, shunted = -first, -shunted
	}
	if shunted < -ev.still() { // a needle on the other side counts by its distance
		shunted = -shunted
	}
	drive := 1.0
	if len(firsts) > 0 {
		drive = ev.driveOf(firsts[0])
	}
	first, shunted = first*drive, shunted*drive // with the source of the first deflection
	row.FirstDiv, row.ShuntedDiv, row.EMF = first, shunted, ev.emf*drive
	res, err := physics.Row{
		EMF: row.EMF, SourceResistance: ev.r, Series: r.setting.Ohm, Shunt: b.value.setting.Ohm, First: first, Shunted: shunted,
	}.Solve(physics.RowDoubt{
		EMF: ev.uEMF * drive, SourceResistance: ev.uR,
		Series: settingDoubt(r.setting, s.bench.SeriesBox), Shunt: settingDoubt(b.value.setting, s.bench.ShuntBox),
		First: ev.readingDoubt(len(firsts)), Shunted: ev.readingDoubt(len(shunteds)), Zero: ev.uZero,
	})
	if err != nil {
		return row // these readings give no G: a matter for the counsel
	}
	row.Resistance, row.UResistance = finite(res.G), finite(res.UG)
	row.Merit, row.UMerit = finite(res.K), finite(res.UK)
	return row
}

// moved returns the readings in force at which the needle left its zero; at
// the others the key may have made no contact.
func (ev *evidence) moved(s *State, rs []reading) []reading {
	moved, _ := parted(s.alive(rs), func(rd reading) bool { return !(math.Abs(ev.deflection(rd)) <= ev.still() || ev.against(s, rd)) })
	return moved
}

// readingDoubt is the standard uncertainty of the mean of n readings at one
// setting: they share their rounding.
func (ev *evidence) readingDoubt(n int) float64 {
	return math.Hypot(ev.step/math.Sqrt(12), ev.repeat/math.Sqrt(float64(max(1, n))))
}

// mean returns the mean of the readings in force less their zero; ok is false
// where none is.
func (ev *evidence) mean(s *State, rs []reading) (div float64, ok bool) {
	live := s.alive(rs)
	return ev.average(live), len(live) > 0
}

// deflection is a reading less its zero.
func (ev *evidence) deflection(rd reading) float64 { return rd.div - ev.zeroFor(rd) }

// average is the mean deflection of readings, 0 for none, as the source that is
// in circuit now would make it. Those on the other
// side of zero than most count by their distance: the leads were exchanged, or
// a sign was left out.
func (ev *evidence) average(rs []reading) float64 {
	side := 0.0
	for _, rd := range rs {
		if d := ev.deflection(rd); math.Abs(d) > ev.still() {
			side += math.Copysign(1, d)
		}
	}
	if side == 0 && len(rs) > 0 { // as many on one side as on the other
		side = ev.deflection(rs[len(rs)-1])
	}
	sum := 0.0
	for _, rd := range rs {
		d := ev.deflection(rd)
		if math.Abs(d) > ev.still() {
			d = math.Copysign(d, side)
		}
		sum += d / ev.driveOf(rd)
	}
	return sum / float64(max(1, len(rs)))
}

// settingDoubt is the standard uncertainty of a box's value: each coil's
// limit is rectangular and its own.
func settingDoubt(set apparatus.Setting, b apparatus.Box) float64 {
	sum := 0.0
	for i := 0; i < len(set.Coils); {
		// Steps of one dial share their error.
		n := 1
		for b.Kind == apparatus.Decade && i+n < len(set.Coils) && set.Coils[i+n] == set.Coils[i] {
			n++
		}
		c := float64(n) * set.Coils[i]
		sum += c * c
		i += n
	}
	return b.Tolerance * math.Sqrt(sum/3)
}

// finite is a pointer to x, nil if x is no number that can be stated.
func finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
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
