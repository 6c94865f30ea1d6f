package estimate

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/halve/physics/uncertainty"
)

// A Marginal finds G and k from all readings by least squares, with everything
// that Joint fits along integrated out: its part goes into the readings'
// covariance, to first order, and two parameters are left. It is some tens of
// times as fast as Joint, made for records by the thousand, and keeps the room
// it works in for the next one; it is not for several goroutines at once.
//
// It gives the least-squares estimate from which Joint starts. Joint then takes
// each reading for the box that a scale read in steps makes of it, which moves G
// by some tenths of its standard uncertainty, seldom by more than one.
type Marginal struct {
	points []marginalPoint
	share  []float64 // n: what a standard uncertainty of a known quantity moves each reading by
	// n × n, lower: the covariance of the zeros under the readings, of the
	// resistances in their loops, and of those in their shunts, ohm².
	zeros, series, shunts []float64
	cov                   []float64 // n × n, lower: the readings' covariance, then its root
	back                  []float64 // 3 × n: L⁻¹ times the two derivatives and the rest
}

type marginalPoint struct {
	o       *Observation
	div     float64 // mean of the repeats, zero not subtracted
	zero    float64
	side    float64
	n       float64 // repeats
	theta   float64
	byLoop  float64
	byG     float64
	byR     float64
	byS     float64
	shunted bool
}

// Estimated is what a Marginal finds: values with their standard uncertainties
// and their correlation, as in Fit.
type Estimated struct {
	G, UG, K, UK, Correlation float64
	Chi2                      float64
	DOF                       int
	Inflation                 float64 // 1, or by how much the readings scatter more than stated
}

// errHard: the readings are for Joint to judge.
var errHard = errors.New("estimate: these readings need the full fit")

// Find estimates G and k. There has to be a shunted reading; PriorG is not
// used. It fails where Joint would, and on readings that ask for more than a
// few steps from the closed forms; Joint then decides.
func (m *Marginal) Find(in *Input) (Estimated, error) {
	if err := in.validate(); err != nil {
		return Estimated{}, err
	}
	if err := m.gather(in); err != nil {
		return Estimated{}, err
	}
	g, ok := m.begin(in)
	if !ok {
		return Estimated{}, errHard
	}
	logG, logLoop := math.Log(g), 0.0
	if l, ok := m.loop(in, g); ok {
		logLoop = math.Log(l)
	} else {
		return Estimated{}, errHard
	}
	ratio := 1.0 // of the readings' variance to the stated one
	var e Estimated
	for judged := false; ; judged = true {
		var s normalTwo
		settled := false
		for round := range marginalRounds {
			m.derive(in, math.Exp(logLoop), math.Exp(logG))
			// The covariance hardly changes from one step to the next.
			if round < 3 && !m.factor(in, ratio) {
				return Estimated{}, errHard
			}
			s = m.solve()
			dLoop, dG, ok := s.step()
			if !ok || math.Abs(dG) > longStep || math.Abs(dLoop) > longStep {
				return Estimated{}, errHard
			}
			logLoop, logG = logLoop+dLoop, logG+dG
			if math.Hypot(dLoop, dG) < marginalClose {
				settled = true
				s.chi2 -= dLoop*s.bLoop + dG*s.bG
				break
			}
		}
		if !settled {
			return Estimated{}, errHard
		}
		det := s.aLoop*s.aG - s.aBoth*s.aBoth
		varLoop, varG, cov := s.aG/det, s.aLoop/det, -s.aBoth/det
		if !judged {
			e.Chi2, e.DOF, e.Inflation = s.chi2, len(m.points)-2, 1
			if r := e.Chi2 / float64(e.DOF); e.DOF > 0 && r > 1 && (distuv.ChiSquared{K: float64(e.DOF)}).Survival(e.Chi2) < doubtful {
				ratio, e.Inflation = r, math.Sqrt(r)
				continue
			}
		}
		e.G, e.K = math.Exp(logG), in.EMF/math.Exp(logLoop)
		varK := varLoop + in.UEMF*in.UEMF/(in.EMF*in.EMF)
		e.UG, e.UK = e.G*math.Sqrt(varG), e.K*math.Sqrt(varK)
		e.Correlation = max(-1, min(1, -cov/math.Sqrt(varG*varK)))
		for _, v := range []float64{e.G, e.UG, e.K, e.UK, e.Correlation, e.Chi2} {
			if !finite(v) {
				return Estimated{}, errHard
			}
		}
		return e, nil
	}
}

const (
	marginalRounds = 12
	marginalClose  = 1e-7 // of ln G and ln(E/k) in the last step
	// marginalMost is the largest number of settings; the work grows with its
	// cube.
	marginalMost = 64
)

// gather takes repeats at one setting, zero and side together, as Joint does.
func (m *Marginal) gather(in *Input) error {
	m.points = m.points[:0]
	shunted := false
	for i := range in.Observations {
		o := &in.Observations[i]
		p := marginalPoint{o: o, div: o.Div, n: float64(o.N), shunted: o.Shunted, zero: in.zeroAt(o), side: 1}
		d := o.Div - p.zero
		if d*d <= 9*in.readingVariance(o.N) {
			return errHard // its side is for its neighbours to say
		}
		if d < 0 {
			p.side = -1
		}
		shunted = shunted || o.Shunted
		if j := m.find(&p); j >= 0 {
			q := &m.points[j]
			q.div += (p.div - q.div) * p.n / (p.n + q.n)
			q.n += p.n
			continue
		}
		if len(m.points) == marginalMost {
			return errHard
		}
		m.points = append(m.points, p)
	}
	if !shunted {
		return ErrNoShunted
	}
	if len(m.points) < 2 {
		return ErrUnidentified
	}
	m.known(in)
	return nil
}

// find is the place of a point at the same setting, source, zero and side, or -1.
func (m *Marginal) find(p *marginalPoint) int {
	for j := range m.points {
		q := &m.points[j]
		a, b := p.o, q.o
		if p.shunted == q.shunted && p.side == q.side && a.drive() == b.drive() && a.SeriesOhm == b.SeriesOhm && (!p.shunted || a.ShuntOhm == b.ShuntOhm && equal(a.Shunt, b.Shunt)) &&
			equal(a.Series, b.Series) && equal(a.ZeroWeights, b.ZeroWeights) {
			return j
		}
	}
	return -1
}

func equal[T comparable](a, b []T) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// zeroAt is the zero at an observation, as read.
func (in *Input) zeroAt(o *Observation) float64 {
	if o.ZeroWeights == nil {
		return in.Zeros[len(in.Zeros)-1]
	}
	z := 0.0
	for i, w := range o.ZeroWeights {
		z += w * in.Zeros[i]
	}
	return z
}

// begin finds a G to start from: that of the row with the greatest deflection
// by the ratio formula.
func (m *Marginal) begin(in *Input) (g float64, ok bool) {
	best := 0.0
	for i := range m.points {
		s := &m.points[i]
		if !s.shunted {
			continue
		}
		for j := range m.points {
			f := &m.points[j]
			if f.shunted || f.o.SeriesOhm != s.o.SeriesOhm || f.o.drive() != s.o.drive() {
				continue
			}
			first, then := f.side*(f.div-f.zero), s.side*(s.div-s.zero)
			r, p := s.o.SeriesOhm+in.SourceResistance, s.o.ShuntOhm*(first-then)/then
			if x := r * p / (r - p); p > 0 && p < r && first > best {
				g, best = x, first
			}
		}
	}
	return g, best > 0
}

// loop is the E/k that fits best for a given G.
func (m *Marginal) loop(in *Input, g float64) (loop float64, ok bool) {
	var num, den float64
	for i := range m.points {
		p := &m.points[i]
		h := deflection(p.o.drive(), g, p.o.SeriesOhm+in.SourceResistance, p.o.ShuntOhm, p.shunted).theta
		num += h * p.side * (p.div - p.zero)
		den += h * h
	}
	loop = num / den
	return loop, loop > 0 && finite(loop)
}

// derive finds the readings foreseen and their derivatives.
func (m *Marginal) derive(in *Input, loop, g float64) {
	for i := range m.points {
		p := &m.points[i]
		d := deflection(loop*p.o.drive(), g, p.o.SeriesOhm+in.SourceResistance, p.o.ShuntOhm, p.shunted)
		p.theta = p.side * d.theta
		p.byLoop, p.byG, p.byR, p.byS = p.theta, p.side*d.logG, p.side*d.series, p.side*d.shunt
	}
}

// known works out what the known quantities add to the readings' covariance, as
// far as it does not change from one step to the next.
func (m *Marginal) known(in *Input) {
	n := len(m.points)
	m.share, m.zeros, m.series, m.shunts = grown(m.share, n), grown(m.zeros, n*n), grown(m.series, n*n), grown(m.shunts, n*n)
	for _, s := range [...][]float64{m.zeros, m.series, m.shunts} {
		clear(s)
	}
	add := func(to []float64, of func(o *Observation) float64) {
		for i := range m.points {
			m.share[i] = of(m.points[i].o)
		}
		for i, a := range m.share {
			if a == 0 {
				continue
			}
			row := to[i*n : i*n+i+1]
			for j := range row {
				row[j] += a * m.share[j]
			}
		}
	}
	for c, u := range in.UZeros {
		add(m.zeros, func(o *Observation) float64 {
			if o.ZeroWeights == nil {
				if c == len(in.UZeros)-1 {
					return u
				}
				return 0
			}
			return o.ZeroWeights[c] * u
		})
	}
	add(m.series, func(*Observation) float64 { return in.USourceResistance })
	for c, ohm := range in.SeriesCoils {
		u := ohm * in.SeriesTolerance / uncertainty.Rectangular
		add(m.series, func(o *Observation) float64 { return u * float64(o.Series[c]) })
	}
	for c, ohm := range in.ShuntCoils {
		u := ohm * in.ShuntTolerance / uncertainty.Rectangular
		add(m.shunts, func(o *Observation) float64 {
			if !o.Shunted {
				return 0
			}
			return u * float64(o.Shunt[c])
		})
	}
}

// factor makes the readings' covariance and its root. ratio widens the
// readings' own part.
func (m *Marginal) factor(in *Input, ratio float64) bool {
	n := len(m.points)
	m.cov = grown(m.cov, n*n)
	for i := range m.points {
		p := &m.points[i]
		for j := range i + 1 {
			q, at := &m.points[j], i*n+j
			m.cov[at] = m.zeros[at] + p.byR*q.byR*m.series[at] + p.byS*q.byS*m.shunts[at]
		}
		m.cov[i*n+i] += ratio * in.readingVariance(int(p.n))
	}
	// Cholesky.
	for i := range n {
		ri := m.cov[i*n : i*n+i+1]
		for j := range i {
			rj := m.cov[j*n : j*n+j+1]
			s := ri[j]
			for k := range j {
				s -= ri[k] * rj[k]
			}
			ri[j] = s / rj[j]
		}
		s := ri[i]
		for k := range i {
			s -= ri[k] * ri[k]
		}
		if !(s > 0) {
			return false
		}
		ri[i] = math.Sqrt(s)
	}
	return true
}

func grown(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	return s[:n]
}

// normalTwo are the normal equations for ln(E/k) and ln G.
type normalTwo struct{ aLoop, aG, aBoth, bLoop, bG, chi2 float64 }

func (s normalTwo) step() (dLoop, dG float64, ok bool) {
	det := s.aLoop*s.aG - s.aBoth*s.aBoth
	if !(det > 1e-13*s.aLoop*s.aG) {
		return 0, 0, false
	}
	return (s.aG*s.bLoop - s.aBoth*s.bG) / det, (s.aLoop*s.bG - s.aBoth*s.bLoop) / det, true
}

// solve weighs derivatives and rest by the covariance.
func (m *Marginal) solve() normalTwo {
	n := len(m.points)
	m.back = grown(m.back, 3*n)
	a, b, r := m.back[:n], m.back[n:2*n], m.back[2*n:]
	var s normalTwo
	for i := range m.points {
		p := &m.points[i]
		x, y, z := p.byLoop, p.byG, p.div-p.zero-p.theta
		row := m.cov[i*n : i*n+i+1]
		for k, l := range row[:i] {
			x, y, z = x-l*a[k], y-l*b[k], z-l*r[k]
		}
		a[i], b[i], r[i] = x/row[i], y/row[i], z/row[i]
		s.aLoop += a[i] * a[i]
		s.aG += b[i] * b[i]
		s.aBoth += a[i] * b[i]
		s.bLoop += a[i] * r[i]
		s.bG += b[i] * r[i]
		s.chi2 += r[i] * r[i]
	}
	return s
}
