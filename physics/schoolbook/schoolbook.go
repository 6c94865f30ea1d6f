// Package schoolbook works a practical's rows up as a school does it by hand:
// G and k of each row, their mean, standard deviation and standard error with
// Student's t, and the straight line of R against 1/θ. Beside them it tests
// whether the rows trend with the deflection or with time, and whether these
// answers agree with one from all readings together.
//
// It reports facts as numbers; what they point to (a scale that is not
// linear, a cell that is running down) is for others to say. Nothing here
// returns NaN or an infinity: what a few or degenerate rows cannot tell is nil.
package schoolbook

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"example.org/halve/physics"
	"example.org/halve/physics/line"
	"example.org/halve/physics/uncertainty"
)

// ErrInput: a number that is not a reading is NaN, infinite or of impossible
// sign, or a covariance does not fit the rows.
var ErrInput = errors.New("schoolbook: impossible input")

// Row is one kept row. Readings are magnitudes from the zero.
type Row struct {
	Series, Shunt  float64 // R and S as dialled, ohm
	First, Shunted float64 // θ1 and θ2, div
	// UFirst and UShunted are the readings' own standard uncertainties, in
	// which no two have part: of the scale's resolution and of repeating,
	// div, 0 or more.
	UFirst, UShunted float64
	At               float64 // when θ1 was read, seconds from any moment
}

// Common is what all rows share, with the standard uncertainties of it.
type Common struct {
	EMF, UEMF                           float64 // V
	SourceResistance, USourceResistance float64 // ohm
	UZero                               float64 // of the zero that was taken from all readings, div
	// SeriesCovariance and ShuntCovariance are those of the boxes' true
	// resistances about the rows' Series and Shunt, Ω², as BoxCovariance
	// makes them; nil for boxes without error.
	SeriesCovariance, ShuntCovariance mat.Symmetric
}

// Mean is the mean of the rows' G or k, all uncertainties being standard ones
// in its unit (ohm or A/div).
type Mean struct {
	N     int // rows
	Value float64
	SD    *float64 // experimental standard deviation of a row; nil for one row
	// StandardError is SD/√N; nil for one row.
	StandardError *float64
	// Readings is what the readings' own doubt alone makes of the mean.
	// Rows that agree better than they were read are luck, or a coarse
	// scale: it is the floor of the part that shrinks with more rows.
	Readings float64
	// Common is what EMF, source, zero and boxes make of the mean, however
	// many the rows.
	Common float64
	// U is the greater of StandardError and Readings, with Common.
	U float64
	// DoF are the effective degrees of freedom of U (Welch–Satterthwaite):
	// N − 1 of StandardError and no limit of the rest; nil for no limit.
	DoF *float64
	// Factor is Student's t for the asked probability, and Expanded is it
	// times U; the interval is Value ± Expanded.
	Factor, Expanded, Low, High float64

	own    float64 // the part of U that the other answers do not share
	ownDoF float64
}

// Answer is what the rows say. What they cannot tell is nil.
type Answer struct {
	G, K *Mean // nil where no row has a G
	// Without are the indices of rows that no galvanometer could give: they
	// count in nothing here.
	Without []int
	// Line is the line of R against 1/θ; nil for fewer than two series
	// values, exact readings, or a deflection that does not fall with R.
	Line *line.SeriesLine
	// Forced is k from that line forced through −(G + r) with the mean G.
	Forced *line.Forced
	// Trends are the tests of G and k against deflection and time, where
	// there are three rows and these differ.
	Trends []Trend
	// Entangled is the correlation coefficient of deflection and time over
	// the rows, −1 to 1; nil where there are no trends with both. Near −1 or
	// 1 a trend with the one cannot be told from a trend with the other.
	Entangled *float64
}

// Quantity is what a mean or trend is of.
type Quantity int

const (
	Resistance Quantity = iota // G, ohm
	Merit                      // k, A/div
)

// The fewest rows that can show a trend: two always lie on a line.
const trendRows = 3

// BoxCovariance returns the covariance of the true resistances of a box at
// several settings, Ω². counts says for each setting how often each coil (or
// dial step) is in the circuit, coils are their nominal values in ohm, and
// each coil errs by itself, rectangularly within ±tolerance of its value
// (GUM 4.3.7 and F.1.2.3):
//
//	u(R_i, R_j) = Σ_c n_ic n_jc (v_c t/√3)²
//
// The error is ErrInput.
func BoxCovariance(counts [][]int, coils []float64, tolerance float64) (*mat.SymDense, error) {
	if !(tolerance >= 0 && tolerance <= 1) {
		return nil, fmt.Errorf("%w: a tolerance of %g", ErrInput, tolerance)
	}
	if len(counts) == 0 {
		return nil, fmt.Errorf("%w: no setting", ErrInput)
	}
	for _, c := range counts {
		if len(c) != len(coils) {
			return nil, fmt.Errorf("%w: %d counts for %d coils", ErrInput, len(c), len(coils))
		}
	}
	cov := mat.NewSymDense(len(counts), nil)
	for i := range counts {
		for j := i; j < len(counts); j++ {
			var sum float64
			for c, v := range coils {
				u := v * tolerance / uncertainty.Rectangular
				sum += float64(counts[i][c]) * u * float64(counts[j][c]) * u
			}
			if !finite(sum) {
				return nil, fmt.Errorf("%w: coils of %g Ω", ErrInput, coils)
			}
			cov.SetSym(i, j, sum)
		}
	}
	return cov, nil
}

func finite(values ...float64) bool {
	for _, v := range values {
		if !(math.Abs(v) <= math.MaxFloat64) {
			return false
		}
	}
	return true
}

// Solve works the rows up, with intervals of the given coverage probability,
// between 0 and 1. Rows whose readings no galvanometer could give are left
// out and named in Without. The error is ErrInput.
func Solve(rows []Row, c Common, probability float64) (Answer, error) {
	if err := check(rows, c, probability); err != nil {
		return Answer{}, err
	}
	var a Answer
	var kept []int
	var results []physics.RowResult
	for i, w := range rows {
		r, err := physics.Row{
			EMF: c.EMF, SourceResistance: c.SourceResistance, Series: w.Series, Shunt: w.Shunt, First: w.First, Shunted: w.Shunted,
		}.Solve(physics.RowDoubt{})
		if err != nil {
			a.Without = append(a.Without, i)
			continue
		}
		kept, results = append(kept, i), append(results, r)
	}
	if len(kept) == 0 {
		return a, nil
	}
	p := practical{common: c}
	for _, i := range kept {
		p.rows = append(p.rows, rows[i])
	}
	p.common.SeriesCovariance = pick(c.SeriesCovariance, kept)
	p.common.ShuntCovariance = pick(c.ShuntCovariance, kept)

	for _, q := range []Quantity{Resistance, Merit} {
		v, ok := p.values(results, q)
		if !ok {
			continue
		}
		m, ok := v.mean(probability)
		if !ok {
			continue
		}
		if q == Resistance {
			a.G = m
		} else {
			a.K = m
		}
		for _, with := range []Course{Deflection, Time} {
			if t, ok := v.trend(p.course(with)); ok {
				t.Of, t.With = q, with
				a.Trends = append(a.Trends, t)
			}
		}
	}
	a.Entangled = p.entangled()

	points := p.points()
	if l, err := line.SeriesAgainstReciprocal(points); err == nil {
		a.Line = &l
	}
	if a.G != nil {
		if f, err := line.ForcedMerit(points, a.G.Value+c.SourceResistance, math.Hypot(a.G.U, c.USourceResistance)); err == nil {
			a.Forced = &f
		}
	}
	return a, nil
}

func check(rows []Row, c Common, probability float64) error {
	if !(probability > 0 && probability < 1) {
		return fmt.Errorf("%w: a coverage probability of %g", ErrInput, probability)
	}
	doubts := []float64{c.UEMF, c.USourceResistance, c.UZero}
	for _, w := range rows {
		doubts = append(doubts, w.UFirst, w.UShunted)
		if !finite(w.At) {
			return fmt.Errorf("%w: a time of %g", ErrInput, w.At)
		}
	}
	for _, u := range doubts {
		if !finite(u) || u < 0 {
			return fmt.Errorf("%w: an uncertainty of %g", ErrInput, u)
		}
	}
	for _, cov := range []mat.Symmetric{c.SeriesCovariance, c.ShuntCovariance} {
		if cov == nil {
			continue
		}
		if cov.SymmetricDim() != len(rows) {
			return fmt.Errorf("%w: a covariance of %d settings for %d rows", ErrInput, cov.SymmetricDim(), len(rows))
		}
		if _, err := uncertainty.Combine(make([]float64, len(rows)), cov); err != nil {
			return fmt.Errorf("%w: %w", ErrInput, err)
		}
	}
	return nil
}

// pick returns the covariance of some of the rows.
func pick(cov mat.Symmetric, rows []int) mat.Symmetric {
	if cov == nil {
		return nil
	}
	some := mat.NewSymDense(len(rows), nil)
	for i, r := range rows {
		for j := i; j < len(rows); j++ {
			some.SetSym(i, j, cov.At(r, rows[j]))
		}
	}
	return some
}

// practical is the rows that have a G.
type practical struct {
	rows   []Row
	common Common
}

// values are the rows' values of one quantity and their doubts, all divided
// by the mean, so that the squares of a fine movement's k stay in range.
type values struct {
	scale float64       // the mean
	of    []float64     // about 1
	own   []float64     // standard uncertainty by the row's own readings
	zero  float64       // of the mean by the zero
	all   *mat.SymDense // covariance by everything the rows share
}

func (p practical) values(results []physics.RowResult, q Quantity) (values, bool) {
	n := len(results)
	v := values{of: make([]float64, n), own: make([]float64, n)}
	sens := make([]physics.RowSensitivity, n)
	for i, r := range results {
		v.of[i], sens[i] = r.G, r.SensG
		if q == Merit {
			v.of[i], sens[i] = r.K, r.SensK
		}
	}
	v.scale = stat.Mean(v.of, nil)
	if !finite(v.scale) || v.scale <= 0 {
		return values{}, false
	}
	floats.Scale(1/v.scale, v.of)

	// One row of effects for each cause that acts on all rows at once.
	c := p.common
	effects := make([][]float64, 3)
	for i, w := range p.rows {
		s := sens[i]
		v.own[i] = math.Hypot(s.First*w.UFirst, s.Shunted*w.UShunted) / v.scale
		effects[0] = append(effects[0], s.EMF*c.UEMF/v.scale)
		effects[1] = append(effects[1], s.SourceResistance*c.USourceResistance/v.scale)
		effects[2] = append(effects[2], s.Zero*c.UZero/v.scale)
	}
	v.zero = math.Abs(stat.Mean(effects[2], nil))
	v.all = mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			var sum float64
			for _, e := range effects {
				sum += e[i] * e[j]
			}
			if c.SeriesCovariance != nil {
				sum += sens[i].Series / v.scale * c.SeriesCovariance.At(i, j) * (sens[j].Series / v.scale)
			}
			if c.ShuntCovariance != nil {
				sum += sens[i].Shunt / v.scale * c.ShuntCovariance.At(i, j) * (sens[j].Shunt / v.scale)
			}
			v.all.SetSym(i, j, sum)
		}
	}
	return v, finite(v.of...) && finite(v.own...)
}

// mean returns the mean with its interval.
func (v values) mean(probability float64) (*Mean, bool) {
	n := len(v.of)
	m := &Mean{N: n, Value: v.scale}
	each := make([]float64, n)
	for i := range each {
		each[i] = 1 / float64(n)
	}
	common, err := uncertainty.Combine(each, v.all)
	if err != nil {
		return nil, false
	}
	readings := floats.Norm(v.own, 2) / float64(n)
	own, dof := readings, math.Inf(1)
	if n > 1 {
		s, err := uncertainty.TypeA(v.of)
		if err != nil {
			return nil, false
		}
		sd, e := s.SD*v.scale, s.StandardError*v.scale
		m.SD, m.StandardError = &sd, &e
		if s.StandardError > readings {
			own, dof = s.StandardError, s.DoF
		}
	}
	nu, err := uncertainty.EffectiveDoF([]float64{own, common}, []float64{dof, math.Inf(1)})
	if err != nil {
		return nil, false
	}
	if !math.IsInf(nu, 1) {
		m.DoF = &nu
	}
	if m.Factor, err = uncertainty.CoverageFactor(nu, probability); err != nil {
		return nil, false
	}
	m.Readings, m.Common, m.U = readings*v.scale, common*v.scale, math.Hypot(own, common)*v.scale
	m.own, m.ownDoF = math.Hypot(own, v.zero)*v.scale, dof
	m.Expanded = m.Factor * m.U
	m.Low, m.High = m.Value-m.Expanded, m.Value+m.Expanded
	if m.SD != nil && !finite(*m.SD) {
		return nil, false
	}
	return m, finite(m.Readings, m.Common, m.own, m.Low, m.High)
}

// points are the first deflections for the line of R against 1/θ, those at the
// same series value being one: they share the rounding of the scale.
func (p practical) points() line.SeriesPoints {
	c := p.common
	l := line.SeriesPoints{UZero: c.UZero, EMF: c.EMF, UEMF: c.UEMF}
	at := map[float64]int{}
	var firsts []int
	var repeats []float64
	for i, w := range p.rows {
		j, seen := at[w.Series]
		if !seen {
			at[w.Series] = len(firsts)
			firsts, repeats = append(firsts, i), append(repeats, 1)
			l.Series, l.First, l.U = append(l.Series, w.Series), append(l.First, w.First), append(l.U, w.UFirst)
			continue
		}
		repeats[j]++
		l.First[j] += (w.First - l.First[j]) / repeats[j]
		l.U[j] = max(l.U[j], w.UFirst)
	}
	l.SeriesCovariance = pick(c.SeriesCovariance, firsts)
	return l
}
