package estimate

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"example.org/halve/physics/montecarlo"
	"example.org/halve/physics/uncertainty"
)

// Trials propagates the laws of all that the fit is made from to G and k by
// the Monte Carlo method (JCGM 101:2008): n trials, or at n = 0 as many as
// the adaptive procedure of its clause 7.9 asks for (see montecarlo.Options).
// The same fit, n and seed give the same result. Outputs[0] is G in ohm and
// Outputs[1] is k in A/div.
//
// Each trial draws, about the estimate,
//   - the error of each Point: rectangular for the step of the scale and
//     normal for the repeatability, of the size that Gain states (so that
//     readings which share their rounding err more);
//   - each zero: like a reading if it was read on that scale, else normal;
//   - the relative error of each coil in use: rectangular;
//   - the EMF and the source's resistance: normal, as is right for a quantity
//     of which a value and a standard uncertainty are known (JCGM 101,
//     6.4.7);
//
// works out the readings by the circuit's closed forms and takes from the
// estimate one Gauss-Newton step, the estimate's own gain, to ln G and
// ln(E/k). G and k = E/(E/k) are what follows. The fit is not repeated, and
// the normal laws that stand for its readings stay: from least squares with
// these the step differs by terms of second order in the errors.
//
// The spread of the readings counts as known. Where it was taken from the
// record (Inflation above 1) the intervals G ± U95G and K ± U95K, by
// Student's t, are wider than these and the ones to state.
//
// No resistance is negative: a box drawn below a thousandth of its value in
// the fit is taken to be that thousandth.
//
// It fails as montecarlo.Run does.
func (f *Fit) Trials(ctx context.Context, n int, seed uint64) (montecarlo.Result, error) {
	m := newTrialModel(f)
	return montecarlo.Run(ctx, func() montecarlo.Sampler { return m.sampler() }, montecarlo.Options{Trials: n, Seed: seed})
}

// trialModel is all that does not change from trial to trial.
type trialModel struct {
	g, k, loop    float64 // at the estimate
	uEMF, uSource float64 // relative, and in ohm
	supposed      lean    // for one standard uncertainty of the G supposed beforehand
	series, shunt []setting
	points        []trialPoint
	zeros         []lean // for each division of a zero
	// The errors drawn: first of the coils (relative), then of the points
	// and of the zeros (div). halves are half-widths of rectangular laws,
	// and sds the standard deviations of normal ones, without the coils.
	halves, sds []float64
	coils       int
}

// lean is the change of ln G and ln(E/k).
type lean struct{ g, loop float64 }

// setting is a resistance of a box (with the source, for the series box).
type setting struct {
	counts     []int
	ohm, least float64 // at the estimate, and the least that a trial takes
	coils      []coilOhm
}

// coilOhm is what a drawn coil has in a setting, ohm.
type coilOhm struct {
	coil int
	ohm  float64
}

// trialPoint is a Point: its settings (shunt -1 with K2 open), its deflection
// at the estimate and what each division of it does to the estimate.
type trialPoint struct {
	series, shunt int
	theta         float64
	lean
}

func newTrialModel(f *Fit) *trialModel {
	m := &f.model
	t := &trialModel{g: f.G, k: f.K, loop: f.Loop, points: make([]trialPoint, len(m.points)), zeros: make([]lean, len(m.zeros))}
	readings, zeros := make([]float64, len(m.points)), make([]float64, len(m.zeros))
	series, shunt := make([]float64, len(m.series)), make([]float64, len(m.shunt))
	for _, r := range f.Gain() {
		l := lean{r.DG / f.G, -r.DK / f.K}
		switch r.Kind {
		case FirstReading, ShuntedReading:
			t.points[r.Index].lean = l
			readings[r.Index] = r.U
		case Zero:
			zeros[r.Index] = r.U
		case SeriesCoil:
			series[r.Index] = r.U
		case ShuntCoil:
			shunt[r.Index] = r.U
		case SourceResistance:
			t.uSource = r.U
		case EMF:
			t.uEMF = r.U / f.EMF
		case SupposedG:
			t.supposed = lean{l.g * r.U, l.loop * r.U}
		}
	}
	seriesCoil, shuntCoil := t.drawCoils(series), t.drawCoils(shunt)
	t.coils = len(t.halves)
	for i := range m.points {
		p, q := &m.points[i], &t.points[i]
		for j, w := range p.weights(len(m.zeros)) {
			t.zeros[j].g += w * q.g
			t.zeros[j].loop += w * q.loop
		}
		q.g, q.loop = p.side*q.g, p.side*q.loop // readings' errors count to the needle's side
		branch := p.seriesOhm + f.SourceResistance + excess(m.series, p.series, f.x)
		shunt := p.shuntOhm + excess(m.shunt, p.shunt, f.x)
		q.theta = deflection(f.Loop*p.drive, f.G, branch, shunt, p.shunted).theta
		q.series, q.shunt = placed(&t.series, p.series, branch, m.series, seriesCoil), -1
		if p.shunted {
			q.shunt = placed(&t.shunt, p.shunt, shunt, m.shunt, shuntCoil)
		}
		t.drawReading(p.box, readings[i])
	}
	for j, z := range m.zeros {
		var b box
		if z.column >= 0 {
			b = m.priors[z.column-nuisances].box
		}
		t.drawReading(b, zeros[j])
	}
	return t
}

// weights are the point's weights of so many zeros.
func (p *point) weights(zeros int) []float64 {
	if p.zeroWeights != nil {
		return p.zeroWeights
	}
	w := make([]float64, zeros)
	w[zeros-1] = 1
	return w
}

// drawCoils makes those coils whose error has a standard uncertainty be drawn,
// and returns which of the errors drawn is whose; -1 for none.
func (t *trialModel) drawCoils(us []float64) []int {
	at := make([]int, len(us))
	for i, u := range us {
		at[i] = -1
		if u > 0 {
			at[i] = len(t.halves)
			t.halves = append(t.halves, u*uncertainty.Rectangular)
		}
	}
	return at
}

// drawReading makes an error of the box's shape and the standard uncertainty u
// be drawn.
func (t *trialModel) drawReading(b box, u float64) {
	if b.half == 0 {
		b.edge = 1
	}
	all := math.Hypot(b.half/uncertainty.Rectangular, b.edge)
	t.halves = append(t.halves, b.half*u/all)
	t.sds = append(t.sds, b.edge*u/all)
}

// placed finds a setting in the list or puts it there. drawn says which error
// drawn is each coil's.
func placed(list *[]setting, counts []int, ohm float64, coils []known, drawn []int) int {
	at := slices.IndexFunc(*list, func(s setting) bool { return s.ohm == ohm && slices.Equal(s.counts, counts) })
	if at >= 0 {
		return at
	}
	s := setting{counts: counts, ohm: ohm, least: ohm / 1000}
	for i, n := range counts {
		if n != 0 && drawn[i] >= 0 {
			s.coils = append(s.coils, coilOhm{drawn[i], float64(n) * coils[i].ohm})
		}
	}
	*list = append(*list, s)
	return len(*list) - 1
}

// lanes is the number of trials that are worked out side by side: their
// columns fit into the processor's first cache.
const lanes = 64

// column is one quantity in all lanes.
type column [lanes]float64

// trialSampler draws trials of a model.
type trialSampler struct {
	*trialModel
	errors          []column // as drawn: coils, points, zeros
	source          column   // ohm
	emf, supposedIn column   // relative; in standard uncertainties
	branch, across  []column // the series and the shunt settings, ohm
	logG, logLoop   column   // the steps
}

func (t *trialModel) sampler() *trialSampler {
	return &trialSampler{
		trialModel: t, errors: make([]column, len(t.halves)),
		branch: make([]column, len(t.series)), across: make([]column, len(t.shunt)),
	}
}

func (s *trialSampler) Outputs() int { return 2 }

func (s *trialSampler) Sample(src *rand.PCG, y [][]float64) {
	fast := splitMix(src.Uint64())
	normal := rand.New(&fast)
	for g, k := y[0], y[1]; len(g) > 0; {
		s.draw(&fast, normal)
		s.step()
		n := min(lanes, len(g))
		for i := range n {
			g[i] = s.g * math.Exp(s.logG[i])
		}
		for i := range n {
			k[i] = s.k * (1 + s.emf[i]) * math.Exp(-s.logLoop[i])
		}
		g, k = g[n:], k[n:]
	}
}

// splitMix is the generator of Steele, Lea and Flood (OOPSLA 2014). It is small
// enough to be put in line, and so nearly twice as fast here as PCG, which
// says where each block's numbers begin. It comes round after 2⁶⁴ numbers.
type splitMix uint64

func (s *splitMix) Uint64() uint64 {
	*s += 0x9e3779b97f4a7c15
	z := uint64(*s)
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// draw draws the errors of all lanes. Each 64 random bits make two
// rectangular draws, of 32 bits and so finer than any reading by far.
func (s *trialSampler) draw(src *splitMix, normal *rand.Rand) {
	for i, half := range s.halves {
		c, unit := &s.errors[i], half/(1<<31)
		for j := 1; j < lanes; j += 2 {
			u := src.Uint64()
			c[j-1], c[j] = unit*float64(int32(u)), unit*float64(int32(u>>32))
		}
	}
	draw := func(c *column, sd float64) {
		if sd > 0 {
			for j := range c {
				c[j] += sd * normal.NormFloat64()
			}
		}
	}
	for i, sd := range s.sds {
		draw(&s.errors[s.coils+i], sd)
	}
	s.source, s.emf, s.supposedIn = column{}, column{}, column{}
	draw(&s.source, s.uSource)
	draw(&s.emf, s.uEMF)
	if s.supposed != (lean{}) {
		draw(&s.supposedIn, 1)
	}
}

// step finds the estimate's step for the errors drawn.
func (s *trialSampler) step() {
	s.logG, s.logLoop = column{}, column{}
	add := func(c *column, l lean) {
		for j, e := range c {
			s.logG[j] += l.g * e
			s.logLoop[j] += l.loop * e
		}
	}
	for i := range s.series {
		s.set(&s.branch[i], &s.series[i], &s.source)
	}
	for i := range s.shunt {
		s.set(&s.across[i], &s.shunt[i], &column{})
	}
	g, loop := s.g, s.loop
	for i := range s.points {
		p, error := &s.points[i], &s.errors[s.coils+i]
		var div column
		branch := &s.branch[p.series]
		if p.shunt < 0 {
			for j, r := range branch {
				div[j] = loop/(r+g) - p.theta + error[j]
			}
		} else {
			for j, sh := range &s.across[p.shunt] {
				div[j] = loop*sh/(branch[j]*(g+sh)+g*sh) - p.theta + error[j]
			}
		}
		add(&div, p.lean)
	}
	for i, l := range s.zeros {
		add(&s.errors[s.coils+len(s.points)+i], l)
	}
	add(&s.supposedIn, s.supposed)
}

// set works out the resistance of a setting with the coils drawn and with
// more in series.
func (s *trialSampler) set(ohm *column, t *setting, more *column) {
	for j, m := range more {
		ohm[j] = t.ohm + m
	}
	cs := t.coils
	for ; len(cs) > 1; cs = cs[2:] { // two at a time: half the traffic
		a, b := &s.errors[cs[0].coil], &s.errors[cs[1].coil]
		for j, e := range a {
			ohm[j] += cs[0].ohm*e + cs[1].ohm*b[j]
		}
	}
	for _, c := range cs {
		for j, e := range &s.errors[c.coil] {
			ohm[j] += c.ohm * e
		}
	}
	for j, r := range ohm {
		if r < t.least {
			ohm[j] = t.least
		}
	}
}
