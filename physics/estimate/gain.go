package estimate

import (
	"math"
	"strconv"

	"gonum.org/v1/gonum/mat"
)

// Kind tells what sort of quantity an estimate answers to.
type Kind int

// The kinds, in the order in which Gain lists them.
const (
	FirstReading     Kind = iota // mean reading of a Point with K2 open, div
	ShuntedReading               // mean reading of a Point with K2 closed, div
	Zero                         // one of Input.Zeros, div
	SeriesCoil                   // relative error of a coil of the series box
	ShuntCoil                    // relative error of a coil of the shunt box
	SourceResistance             // ohm
	EMF                          // volt
	SupposedG                    // Input.PriorG, ohm
)

// String names the kind as a person would.
func (k Kind) String() string {
	switch k {
	case FirstReading:
		return "first readings"
	case ShuntedReading:
		return "shunted readings"
	case Zero:
		return "zero"
	case SeriesCoil:
		return "series box"
	case ShuntCoil:
		return "shunt box"
	case SourceResistance:
		return "source resistance"
	case EMF:
		return "EMF"
	case SupposedG:
		return "supposed resistance"
	}
	return "kind " + strconv.Itoa(int(k))
}

// Response is how the estimate answers to a small change of one quantity.
type Response struct {
	Kind Kind
	// Index is that of the Point, the zero or the coil; 0 otherwise.
	Index int
	// U is the quantity's standard uncertainty and DOF the degrees of
	// freedom of that, ManyDOF where it was not taken from scatter. The U
	// of a reading (or zero) on a scale read in steps is that of what it
	// says beside all others: large for one that shares its rounding.
	U, DOF float64
	// DG and DK are the changes of G (ohm) and of k (A/div) for each unit of
	// the quantity.
	DG, DK float64
}

// Gain is the estimate's own gain: one Gauss-Newton step from the solution,
// for each quantity that has an uncertainty. The quantities are independent,
// and u(G)² is the sum of all (DG U)², u(k)² that of (DK U)² and the
// covariance of G and k that of DG DK U² (JCGM 100:2008, 5.1.2).
type Gain []Response

// Gain returns the gain at the solution. Its cost is that of two solutions
// of the normal equations.
func (f *Fit) Gain() Gain {
	m := &f.model
	byG, byLoop := f.info.column(logG), f.info.column(logLoop)
	gain := make(Gain, 0, len(m.points)+m.columns)
	add := func(r Response, dLogG, dLogLoop float64) {
		r.DOF = ManyDOF
		if dof := f.scatterDOF(); dof > 0 && (r.Kind == FirstReading || r.Kind == ShuntedReading) {
			r.DOF = dof
		}
		r.DG, r.DK = f.G*dLogG, -f.K*dLogLoop
		gain = append(gain, r)
	}
	var row []entry
	a := here(f.x)
	for _, kind := range []Kind{FirstReading, ShuntedReading} {
		for i := range m.points {
			p := &m.points[i]
			if p.shunted != (kind == ShuntedReading) {
				continue
			}
			_, row = m.gradient(a, p, row[:0])
			g, loop := 0.0, 0.0
			for _, e := range row {
				g += e.d * byG.AtVec(e.column)
				loop += e.d * byLoop.AtVec(e.column)
			}
			add(Response{Kind: kind, Index: i, U: math.Sqrt(p.variance)}, g/p.variance, loop/p.variance)
		}
	}
	along := func(kind Kind, ks ...known) {
		for i, k := range ks {
			if k.column >= 0 {
				v := m.priors[k.column-nuisances].variance // in units of sd²
				add(Response{Kind: kind, Index: i, U: k.sd * math.Sqrt(v)}, byG.AtVec(k.column)/(k.sd*v), byLoop.AtVec(k.column)/(k.sd*v))
			}
		}
	}
	along(Zero, m.zeros...)
	along(SeriesCoil, m.series...)
	along(ShuntCoil, m.shunt...)
	along(SourceResistance, m.source)
	if f.uEMF > 0 {
		gain = append(gain, Response{Kind: EMF, U: f.uEMF, DOF: ManyDOF, DK: f.K / f.EMF})
	}
	if m.priorWeight > 0 {
		g := math.Exp(m.priorLogG)
		add(Response{Kind: SupposedG, U: g / math.Sqrt(m.priorWeight)},
			m.priorWeight*byG.AtVec(logG)/g, m.priorWeight*byLoop.AtVec(logG)/g)
	}
	return gain
}

// column returns a column of the parameters' covariance.
func (f *information) column(c int) *mat.VecDense {
	v := mat.NewVecDense(len(f.scale), nil)
	v.SetVec(c, 1/f.scale[c])
	f.back(v)
	for i, k := range f.scale {
		v.SetVec(i, v.AtVec(i)/k)
	}
	return v
}

// Covariance returns the covariance matrix of G and k: u(G)², u(G,k) and
// u(k)², in ohm², ohm·A/div and (A/div)².
func (f *Fit) Covariance() (gg, gk, kk float64) {
	return f.UG * f.UG, f.Correlation * f.UG * f.UK, f.UK * f.UK
}

// Point is the readings at one setting of the boxes, zero and side, which
// count as repeats.
type Point struct {
	Observations        []int   // which of Input.Observations
	SeriesOhm, ShuntOhm float64 // nominal; ShuntOhm is 0 with K2 open
	Shunted             bool
	Div, Fitted         float64 // mean reading and what the fit makes of it, as seen on the scale, div
	N                   int     // repeats
}

// Points returns the readings as the fit takes them together.
func (f *Fit) Points() []Point {
	m := &f.model
	ps, a := make([]Point, len(m.points)), here(f.x)
	for i := range ps {
		p := &m.points[i]
		ps[i] = Point{SeriesOhm: p.seriesOhm, ShuntOhm: p.shuntOhm, Shunted: p.shunted, Div: p.div, Fitted: m.reading(a, p), N: int(p.repeat)}
	}
	for o, i := range m.pointOf {
		ps[i].Observations = append(ps[i].Observations, o)
	}
	return ps
}
