package estimate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas/blas64"

	"example.org/halve/physics/uncertainty"
)

// The first two parameters; what is fitted along follows, each in units of
// its own standard uncertainty and counted from its expected value. Logarithms
// keep both positive.
const (
	logLoop = iota // ln(E/k), E/k in div·ohm
	logG           // ln G, G in ohm
	nuisances
)

// known is a quantity fitted along: a value known beforehand within a
// standard uncertainty.
type known struct {
	mean, sd float64
	column   int     // its parameter; -1 for one that is exact or that no reading depends on
	ohm      float64 // coils only: nominal resistance
}

func (k known) at(x []float64) float64 {
	if k.column < 0 {
		return k.mean
	}
	return k.mean + k.sd*x[k.column]
}

func valuesAt(ks []known, x []float64) []float64 {
	v := make([]float64, len(ks))
	for i, k := range ks {
		v[i] = k.at(x)
	}
	return v
}

// point is one setting of the boxes with the mean of all its readings.
type point struct {
	series, shunt       []int
	seriesOhm, shuntOhm float64 // nominal
	shunted             bool
	zeroWeights         []float64
	side                float64    // 1: read to the right of zero, -1: to the left
	drive               float64    // the source's EMF then, relative to that of the input
	law                            // of the mean reading, and what stands for it
	div, repeat         float64    // the mean reading and the number of repeats
	readings            []repeated // what it is the mean of, on a scale read in steps
}

// entry is one element of a sparse row of derivatives.
type entry struct {
	column int
	d      float64
}

// model knows which parameter stands where and what each reading should be.
type model struct {
	columns         int
	source          known
	zeros           []known
	series, shunt   []known
	points          []point
	priors          []law   // of the parameters from nuisances on, in their units
	pointOf         []int   // of each observation
	readingVariance float64 // of one reading
	priorLogG       float64
	priorWeight     float64 // 1/u², 0 without a prior
	row             []entry // for use again
}

func newModel(in Input) model {
	m := model{
		columns:         nuisances,
		readingVariance: in.readingVariance(1),
		zeros:           make([]known, len(in.Zeros)),
		points:          make([]point, 0, len(in.Observations)),
		pointOf:         make([]int, len(in.Observations)),
	}
	m.priors = make([]law, 0, 1+len(in.Zeros)+len(in.SeriesCoils)+len(in.ShuntCoils))
	if in.PriorG > 0 {
		m.priorLogG, m.priorWeight = math.Log(in.PriorG), 1/(in.UPriorG*in.UPriorG)
	}
	m.source = m.add(in.SourceResistance, in.USourceResistance, true)
	for i, z := range in.Zeros {
		m.zeros[i] = m.add(z, in.UZeros[i], true)
		// A zero is read like everything else.
		if half := in.Step / 2 / in.UZeros[i]; m.zeros[i].column >= 0 && half > 0 && half*half/3 <= 1+1e-9 {
			m.priors[m.zeros[i].column-nuisances].box = box{half: half, edge: math.Sqrt(max(0, 1-half*half/3))}
		}
	}
	m.series = m.coils(in.SeriesCoils, in.SeriesTolerance, func(i int) bool {
		return slices.ContainsFunc(in.Observations, func(o Observation) bool { return o.Series[i] != 0 })
	})
	m.shunt = m.coils(in.ShuntCoils, in.ShuntTolerance, func(i int) bool {
		return slices.ContainsFunc(in.Observations, func(o Observation) bool { return o.Shunted && o.Shunt[i] != 0 })
	})
	m.gather(in)
	m.row = make([]entry, 0, m.columns)
	return m
}

// exact is the standard uncertainty, in the quantity's own unit, below which it
// counts as exactly known: its square is lost in any sum.
const exact = 1e-100

// add makes a parameter of a quantity that is used and not exactly known.
func (m *model) add(mean, sd float64, used bool) known {
	k := known{mean: mean, sd: sd, column: -1}
	if used && sd > exact {
		k.column = m.columns
		m.columns++
		m.priors = append(m.priors, box{edge: 1}.alone())
	}
	return k
}

// coils makes a parameter of the relative error of every coil in use. A
// rectangular limit t has the standard uncertainty t/√3 (JCGM 100, 4.3.7).
func (m *model) coils(ohms []float64, tolerance float64, used func(i int) bool) []known {
	ks := make([]known, len(ohms))
	for i, ohm := range ohms {
		ks[i] = m.add(0, tolerance/uncertainty.Rectangular, used(i))
		ks[i].ohm = ohm
	}
	return ks
}

// gather takes the observations at the same setting, zero and side together.
func (m *model) gather(in Input) {
	sides := m.sides(in)
	for i := range in.Observations {
		p := m.point(in.Observations[i])
		p.side = sides[i]
		p.div, p.repeat = in.Observations[i].Div, float64(in.Observations[i].N)
		j := 0
		for j < len(m.points) && !p.same(&m.points[j]) {
			j++
		}
		if j == len(m.points) {
			m.points = append(m.points, p)
		} else {
			q := &m.points[j]
			q.div += (p.div - q.div) * p.repeat / (p.repeat + q.repeat)
			q.repeat += p.repeat
		}
		if in.Step > 0 {
			m.points[j].count(split(p.div, in.Step, in.Observations[i].N))
		}
		m.pointOf[i] = j
	}
	for i := range m.points {
		p := &m.points[i]
		p.mean, p.variance = p.div, in.readingVariance(int(p.repeat))
		if in.Step > 0 {
			p.box = newBox(p.readings, in.Step, in.Repeatability)
		}
	}
}

// boxed lists the parameters whose prior is a box.
func (m *model) boxed() (columns []int) {
	for i, l := range m.priors {
		if l.half > 0 {
			columns = append(columns, nuisances+i)
		}
	}
	return columns
}

// count adds readings to the point's.
func (p *point) count(rs []repeated) {
	if p.readings == nil {
		p.readings = rs
		return
	}
	for _, r := range rs {
		if i := slices.IndexFunc(p.readings, func(q repeated) bool { return q.div == r.div }); i >= 0 {
			p.readings[i].times += r.times
		} else {
			p.readings = append(p.readings, r)
		}
	}
}

// sides finds on which side of zero each reading lies: by its sign, and too
// near zero to tell, as the last one before it that is clear (or else the
// first one after it).
func (m *model) sides(in Input) []float64 {
	side := make([]float64, len(in.Observations))
	last := 0.0
	for i := range in.Observations {
		o := &in.Observations[i]
		p := m.point(*o)
		d := o.Div - m.zero(nil, &p)
		if d*d > 9*in.readingVariance(o.N) {
			if last == 0 {
				for j := range i {
					side[j] = math.Copysign(1, d)
				}
			}
			last = math.Copysign(1, d)
		}
		side[i] = last
	}
	return side
}

// point is the setting of an observation, to be read on the right.
func (m *model) point(o Observation) point {
	p := point{series: o.Series, seriesOhm: o.SeriesOhm, shunted: o.Shunted, zeroWeights: o.ZeroWeights, side: 1, drive: o.drive()}
	if o.Shunted {
		p.shunt, p.shuntOhm = o.Shunt, o.ShuntOhm
	}
	return p
}

// same tells whether two points are the same setting, source, zero and side.
func (p *point) same(q *point) bool {
	return p.seriesOhm == q.seriesOhm && p.shuntOhm == q.shuntOhm && p.shunted == q.shunted && p.side == q.side && p.drive == q.drive &&
		slices.Equal(p.series, q.series) && slices.Equal(p.shunt, q.shunt) && slices.Equal(p.zeroWeights, q.zeroWeights)
}

// zero returns the zero at the time of the point; x nil stands for the values
// known beforehand.
func (m *model) zero(x []float64, p *point) float64 {
	value := func(k known) float64 {
		if x == nil {
			return k.mean
		}
		return k.at(x)
	}
	if p.zeroWeights == nil {
		return value(m.zeros[len(m.zeros)-1])
	}
	z := 0.0
	for i, w := range p.zeroWeights {
		z += w * value(m.zeros[i])
	}
	return z
}

// slopes are a deflection and its derivatives.
type slopes struct {
	theta         float64 // deflection, at least 0, div; equal to its derivative by ln(E/k)
	logG          float64 // by ln G, div
	series, shunt float64 // by R (or r) and by S, div/ohm
}

// deflection returns θ for the loop constant E/k = loop and the true
// resistances, with its derivatives; NaN where the loop has no resistance.
//
// Special cases are: s = 0 gives θ = 0; g = 0 with s > 0 gives the first
// deflection of a movement without resistance.
func deflection(loop, g, r, s float64, shunted bool) slopes {
	if !shunted {
		d := r + g
		if !(d > 0) {
			return slopes{theta: math.NaN()}
		}
		t := loop / d
		return slopes{theta: t, logG: -t * g / d, series: -t / d}
	}
	q := r*(g+s) + g*s
	if !(q > 0) {
		return slopes{theta: math.NaN()}
	}
	t := loop * s / q
	return slopes{theta: t, logG: -t * g * (r + s) / q, series: -t * (g + s) / q, shunt: loop * r * g / q / q}
}

// spot is where the parameters stand, with what every reading needs of them.
type spot struct {
	x       []float64
	loop, g float64 // E/k and G
}

func here(x []float64) spot { return spot{x, math.Exp(x[logLoop]), math.Exp(x[logG])} }

// slopes returns the deflection at a point.
func (m *model) slopes(a spot, p *point) slopes {
	x := a.x
	r := p.seriesOhm + m.source.at(x) + excess(m.series, p.series, x)
	s := p.shuntOhm + excess(m.shunt, p.shunt, x)
	return deflection(a.loop*p.drive, a.g, r, s, p.shunted)
}

// excess is what the coils in use have above their nominal values, ohm.
func excess(coils []known, counts []int, x []float64) float64 {
	e := 0.0
	for i, n := range counts {
		if n != 0 {
			e += float64(n) * coils[i].ohm * coils[i].at(x)
		}
	}
	return e
}

// reading is what should be seen on the scale.
func (m *model) reading(a spot, p *point) float64 {
	return p.side*m.slopes(a, p).theta + m.zero(a.x, p)
}

// gradient returns the reading and appends its derivatives by the parameters
// to row, in the parameters' order.
func (m *model) gradient(a spot, p *point, row []entry) (float64, []entry) {
	s := m.slopes(a, p)
	row = append(row, entry{logLoop, p.side * s.theta}, entry{logG, p.side * s.logG})
	add := func(k known, d float64) {
		if k.column >= 0 {
			row = append(row, entry{k.column, d * k.sd})
		}
	}
	add(m.source, p.side*s.series)
	if p.zeroWeights == nil {
		add(m.zeros[len(m.zeros)-1], 1)
	}
	for i, w := range p.zeroWeights {
		add(m.zeros[i], w)
	}
	for i, n := range p.series {
		if n != 0 {
			add(m.series[i], p.side*s.series*float64(n)*m.series[i].ohm)
		}
	}
	for i, n := range p.shunt {
		if n != 0 {
			add(m.shunt[i], p.side*s.shunt*float64(n)*m.shunt[i].ohm)
		}
	}
	return p.side*s.theta + m.zero(a.x, p), row
}

// untouched is the variance that coils without a parameter bring to a
// reading whose derivative by the box's resistance is slope.
func untouched(coils []known, counts []int, slope float64) float64 {
	v := 0.0
	for i, n := range counts {
		if coils[i].column < 0 {
			d := slope * float64(n) * coils[i].ohm * coils[i].sd
			v += d * d
		}
	}
	return v
}

// objective is the sum of squares to be made least; +Inf outside the model.
func (m *model) objective(x []float64) float64 {
	sum, a := 0.0, here(x)
	for i := range m.points {
		p := &m.points[i]
		d := p.mean - m.reading(a, p)
		sum += d * d / p.variance
	}
	for i, l := range m.priors {
		d := l.mean - x[nuisances+i]
		sum += d * d / l.variance
	}
	d := x[logG] - m.priorLogG
	sum += d * d * m.priorWeight
	if math.IsNaN(sum) {
		return math.Inf(1)
	}
	return sum
}

func (m *model) size() int { return m.columns }

// normal adds up the normal equations at x.
func (m *model) normal(x []float64, a blas64.Symmetric, b []float64) {
	at := here(x)
	for i := range m.points {
		p := &m.points[i]
		div, row := m.gradient(at, p, m.row[:0])
		m.row = row
		w := 1 / p.variance
		res := w * (p.mean - div)
		for j, e := range row {
			b[e.column] += e.d * res
			wd := w * e.d
			for _, g := range row[j:] { // columns ascend, so this is the upper triangle
				a.Data[e.column*a.Stride+g.column] += wd * g.d
			}
		}
	}
	a.Data[logG*a.Stride+logG] += m.priorWeight
	b[logG] += m.priorWeight * (m.priorLogG - x[logG])
	for i, l := range m.priors {
		c := nuisances + i
		a.Data[c*a.Stride+c] += 1 / l.variance
		b[c] += (l.mean - x[c]) / l.variance
	}
}

// searchSpan is how far beyond the shunt values, as a factor, G is searched:
// a shunted reading of a hundredth or of 0.99 of the first still lies within.
// From there the fit may go as far again before it is given up.
const searchSpan = 1e3

// start finds first values by trying G over its whole range in octaves, with
// the best E/k for each, so that the fit cannot end in a lesser minimum.
func (m *model) start() ([]float64, error) {
	least, most := math.Inf(1), 0.0
	for i := range m.points {
		if s := m.points[i].shuntOhm; m.points[i].shunted && s > 0 {
			least, most = min(least, s), max(most, s)
		}
	}
	lo, hi := math.Log(least/searchSpan), math.Log(most*searchSpan)
	if m.priorWeight > 0 {
		wide := min(5/math.Sqrt(m.priorWeight), math.Log(searchSpan))
		lo, hi = m.priorLogG-wide, m.priorLogG+wide
	} else if most == 0 {
		return nil, ErrNoShunted
	}
	if !finite(lo) || !finite(hi) {
		return nil, ErrContradiction
	}
	x := make([]float64, m.columns)
	best := math.Inf(1)
	n := max(1, math.Ceil((hi-lo)/math.Ln2))
	for i := 0.0; i <= n; i++ {
		g := lo + (hi-lo)*i/n
		if loop, misfit := m.bestLoop(g); loop > 0 && misfit < best {
			x[logLoop], x[logG], best = math.Log(loop), g, misfit
		}
	}
	if math.IsInf(best, 0) {
		return nil, ErrNoDeflection
	}
	return x, nil
}

// bestLoop returns the E/k that fits best for ln G = logG, everything else as
// known beforehand, and the objective there, short of a constant. The
// readings are linear in E/k.
func (m *model) bestLoop(logG float64) (loop, misfit float64) {
	g := math.Exp(logG)
	var num, den float64
	for i := range m.points {
		p := &m.points[i]
		h := p.side * deflection(p.drive, g, p.seriesOhm+m.source.mean, p.shuntOhm, p.shunted).theta
		num += h * (p.mean - m.zero(nil, p)) / p.variance
		den += h * h / p.variance
	}
	d := logG - m.priorLogG
	return num / den, d*d*m.priorWeight - num*num/den
}
