package schoolbook

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

	"example.org/halve/physics/line"
	"example.org/halve/physics/uncertainty"
)

// Course is what a quantity may trend with.
type Course int

const (
	Deflection Course = iota // θ1, div: as where the scale is not linear
	Time                     // s: as where the cell is running down
)

// Trend is the slope of the rows' G or k, each row weighted by its own
// readings' doubt.
type Trend struct {
	Of   Quantity
	With Course
	// Slope is the change per division or second, relative to the mean, and
	// USlope its standard uncertainty: by the readings, stretched by the
	// rows' scatter about the line where that is greater, and by zero and
	// boxes.
	Slope, USlope float64
	// Change is Slope times the range that the rows cover.
	Change float64
	// Significance is the probability, 0 to 1, that rows without a trend
	// show so steep a slope by chance. Of several trends tested one looks
	// significant sooner than alone.
	Significance float64
}

func (p practical) course(with Course) []float64 {
	x := make([]float64, len(p.rows))
	for i, w := range p.rows {
		if x[i] = w.First; with == Time {
			x[i] = w.At
		}
	}
	return x
}

// trend fits the rows' values against x; ok is false where there are too few
// rows, all x are alike, or nothing says how far rows may scatter.
func (v values) trend(x []float64) (t Trend, ok bool) {
	if len(x) < trendRows {
		return Trend{}, false
	}
	// Seconds from any moment may be large: the slope needs only differences.
	x = append([]float64(nil), x...)
	floats.AddConst(-floats.Min(x), x)
	u, stated := v.own, floats.Min(v.own) > 0
	if !stated {
		u = make([]float64, len(x))
		floats.AddConst(1, u)
	}
	f, err := line.Weighted(x, v.of, u)
	if err != nil {
		return Trend{}, false
	}
	factors, err := line.SlopeFactors(x, u)
	if err != nil {
		return Trend{}, false
	}
	own, dof := f.USlope, math.Inf(1)
	if birge, _ := f.ResidualSD(); birge > 1 || !stated {
		own, dof = own*birge, float64(f.DoF)
	}
	common, err := uncertainty.Combine(factors, v.all)
	if err != nil {
		return Trend{}, false
	}
	nu, err := uncertainty.EffectiveDoF([]float64{own, common}, []float64{dof, math.Inf(1)})
	if err != nil {
		return Trend{}, false
	}
	t = Trend{Slope: f.Slope, USlope: math.Hypot(own, common), Change: f.Slope * floats.Max(x)}
	if t.USlope == 0 {
		return Trend{}, false
	}
	if t.Significance, err = uncertainty.Significance(t.Slope/t.USlope, nu); err != nil {
		return Trend{}, false
	}
	return t, finite(t.USlope, t.Change)
}

// entangled returns the correlation coefficient of deflection and time.
func (p practical) entangled() *float64 {
	x, y := p.course(Deflection), p.course(Time)
	if len(x) < trendRows || floats.Min(x) == floats.Max(x) || floats.Min(y) == floats.Max(y) {
		return nil
	}
	floats.AddConst(-floats.Min(x), x)
	floats.AddConst(-floats.Min(y), y)
	r := stat.Correlation(x, y, nil)
	if !finite(r) {
		return nil
	}
	r = max(-1, min(1, r))
	return &r
}

// Source names an answer.
type Source int

const (
	MeanOfRows   Source = iota
	StraightLine        // of R against 1/θ
	AllReadings         // the estimate from all readings together
)

// Difference is how two answers for the same quantity compare.
type Difference struct {
	Of            Quantity
	First, Second Source
	By            float64 // first less second, ohm or A/div
	// U is the standard uncertainty of By, ohm or A/div, above 0. EMF and
	// boxes move all answers alike and are left out of it; and since the
	// estimate from all readings makes the best of the same readings, the
	// difference from it is no more in doubt than the other answer is.
	U   float64
	InU float64 // |By|/U
	// Disagree says that By is further from zero than chance brings it once
	// in a hundred times.
	Disagree bool
}

// agreement is the probability within which answers agree (common practice,
// no source).
const agreement = 0.99

// Differences compares the mean of rows and the line with each other and with
// the estimate from all readings together, G in ohm and k in A/div. The line
// has no part in G: its intercept is no useful one. What is missing, or is
// not a number, is not compared.
func (a Answer) Differences(g, k float64) []Difference {
	type answer struct {
		of        Source
		value, u  float64
		dof       float64
		available bool
	}
	mean := func(m *Mean) answer {
		if m == nil {
			return answer{}
		}
		return answer{MeanOfRows, m.Value, m.own, m.ownDoF, true}
	}
	var fromLine answer
	if l := a.Line; l != nil {
		fromLine = answer{StraightLine, l.K, l.K * (l.USlope / l.Slope), math.Inf(1), true}
		if l.DoF > 0 && l.Chi2 > float64(l.DoF) {
			fromLine.u *= math.Sqrt(l.Chi2 / float64(l.DoF))
			fromLine.dof = float64(l.DoF)
		}
	}
	var all []Difference
	compare := func(of Quantity, x, y answer) {
		if !x.available || !y.available || !finite(y.value) {
			return
		}
		d := Difference{Of: of, First: x.of, Second: y.of, By: x.value - y.value, U: math.Hypot(x.u, y.u)}
		d.InU = math.Abs(d.By) / d.U
		if d.U == 0 || !finite(d.By, d.U, d.InU) {
			return
		}
		nu, err := uncertainty.EffectiveDoF([]float64{x.u, y.u}, []float64{x.dof, y.dof})
		if err != nil {
			return
		}
		factor, err := uncertainty.CoverageFactor(nu, agreement)
		if err != nil {
			return
		}
		d.Disagree = d.InU > factor
		all = append(all, d)
	}
	joint := func(v float64) answer { return answer{AllReadings, v, 0, math.Inf(1), true} }
	compare(Resistance, mean(a.G), joint(g))
	compare(Merit, mean(a.K), joint(k))
	compare(Merit, fromLine, joint(k))
	compare(Merit, mean(a.K), fromLine)
	return all
}
