package procedure

import (
	"fmt"
	"math"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/estimate"
	"example.org/halve/physics/quantity"
	"example.org/halve/physics/schoolbook"
)

// Analysis is the result with all that stands behind it.
type Analysis struct {
	Counsel
	// Fit is the estimate from all readings together, nil without a result.
	Fit *estimate.Fit
	// Budget says where the uncertainty comes from, nil without a result.
	Budget *Budget
	// Schoolbook is the answer worked up row by row, nil without a row.
	Schoolbook *Schoolbook
	// Graphs are the points to draw, with their lines.
	Graphs Graphs
	// More is what one more row would be worth, nil where that is not known.
	More *More
	// Remarks say in sentences what these numbers point to.
	Remarks []string
}

// More is what one more row at the best deflection would be worth.
type More struct {
	At        float64 // the deflection, div
	Now, Then float64 // standard uncertainty of G without and with it, ohm
	Say       string  // the same as a sentence
}

// Budget is the uncertainty budget of both quantities, greatest part first.
type Budget struct {
	Resistance []BudgetLine `json:"resistance"`
	Merit      []BudgetLine `json:"merit"`
}

// BudgetLine is what one kind of input brings to the uncertainty. U is in the
// input's own unit (div for readings and the zero, ohm, volt, relative for
// boxes), Sensitivity in ohm or A/div for each such unit, and Contribution in
// ohm or A/div. The squares of the contributions come to the square of the
// standard uncertainty. DOF is nil above 10⁴.
type BudgetLine struct {
	Input        string   `json:"input"`
	U            float64  `json:"u"`
	Sensitivity  float64  `json:"sensitivity"`
	Contribution float64  `json:"contribution"`
	DOF          *float64 `json:"dof"`
	Share        float64  `json:"share"` // of the variance, 0 to 1
}

// Schoolbook is the mean of the rows and the line of R against 1/θ. What the
// rows cannot tell is nil.
type Schoolbook struct {
	MeanResistance *float64 `json:"mean_resistance_ohm"`
	SDResistance   *float64 `json:"sd_resistance_ohm"`
	SEResistance   *float64 `json:"standard_error_resistance_ohm"`
	U95Resistance  *float64 `json:"U95_resistance_ohm"`
	MeanMerit      *float64 `json:"mean_merit_A_per_div"`
	SDMerit        *float64 `json:"sd_merit_A_per_div"`
	SEMerit        *float64 `json:"standard_error_merit_A_per_div"`
	U95Merit       *float64 `json:"U95_merit_A_per_div"`
	Line           *Line    `json:"line"`
}

// Line is the straight line R = slope/θ + intercept; see package line. The
// slope is E/k; the intercept, −(G + r), is no useful G at a school bench.
type Line struct {
	Slope      float64 `json:"slope_ohm_div"`
	USlope     float64 `json:"u_slope_ohm_div"`
	Intercept  float64 `json:"intercept_ohm"`
	UIntercept float64 `json:"u_intercept_ohm"`
	Merit      float64 `json:"merit_A_per_div"`
	UMerit     float64 `json:"u_merit_A_per_div"`
	// Correlation is that of slope and intercept, -1 to 1, for the band of
	// the line in a graph.
	Correlation float64 `json:"-"`
}

// Analyse works out everything that the record's readings say.
func Analyse(s *State) Analysis {
	a := Analysis{Counsel: Advise(s)}
	if s.bench == nil || a.Result == nil {
		return a
	}
	ev := s.evidence()
	a.Graphs = ev.graphs()
	book, ok := ev.schoolbook(s)
	if ok {
		a.Schoolbook = tell(book)
	}
	if ev.shunted {
		a.Fit = ev.fit
	}
	if a.Fit == nil {
		return a
	}
	gain := a.Fit.Gain()
	sum := gain.Budget()
	a.Budget = &Budget{budgetLines(sum.Resistance), budgetLines(sum.Merit)}
	p := planner{s: s, ev: ev, c: &a.Counsel}
	a.Remarks = append(a.Remarks, a.weakest(sum, gain.Each())...)
	if more, ok := p.oneMore(); ok {
		a.More = &more
		a.Remarks = append(a.Remarks, more.Say)
	}
	if ok {
		a.Remarks = append(a.Remarks, compare(book, a.Fit)...)
	}
	if a.Fit.Inflation > 1 {
		a.Remarks = append(a.Remarks, fmt.Sprintf("The readings scatter more than the scale explains (chi-squared %.1f for %d degrees of freedom); the uncertainties are widened %.1f times for it.",
			a.Fit.Chi2, a.Fit.DOF, a.Fit.Inflation))
	}
	return a
}

func budgetLines(ls []estimate.Line) []BudgetLine {
	out := make([]BudgetLine, len(ls))
	for i, l := range ls {
		out[i] = BudgetLine{l.Kind.String(), l.U, l.Sensitivity, l.Contribution, degrees(l.DOF), l.Share}
	}
	return out
}

// mostDegrees is where degrees of freedom stop meaning anything (interface
// contract).
const mostDegrees = 1e4

// degrees is a pointer to n, nil where it is as good as without limit.
func degrees(n float64) *float64 {
	if !(n <= mostDegrees) {
		return nil
	}
	return &n
}

// schoolbook works the rows in force up by hand's rules; ok is false without
// a row that gives a G.
func (ev *evidence) schoolbook(s *State) (schoolbook.Answer, bool) {
	var rows []schoolbook.Row
	var series, shunts []apparatus.Setting
	for _, k := range s.kept {
		if !s.rowOn(k) {
			continue
		}
		r := &s.runs[k.run]
		b := &r.branches[k.branch]
		firsts, shunteds := s.alive(r.first), s.alive(b.readings)
		rows = append(rows, schoolbook.Row{
			Series: r.setting.Ohm, Shunt: b.value.setting.Ohm,
			First: math.Abs(ev.average(firsts)), Shunted: math.Abs(ev.average(shunteds)),
			UFirst: ev.readingDoubt(len(firsts)) / ev.driveOf(firsts[0]), UShunted: ev.readingDoubt(len(shunteds)) / ev.driveOf(shunteds[0]),
			At: firsts[0].at.Sub(s.runs[s.kept[0].run].first[0].at).Seconds(),
		})
		series, shunts = append(series, r.setting), append(shunts, b.value.setting)
	}
	if len(rows) == 0 {
		return schoolbook.Answer{}, false
	}
	counts := func(r *apparatus.Range, of []apparatus.Setting) [][]int {
		out := make([][]int, len(of))
		for i, set := range of {
			out[i] = r.Multiset(set)
		}
		return out
	}
	b := s.bench
	common := schoolbook.Common{EMF: ev.emf, UEMF: ev.uEMF, SourceResistance: ev.r, USourceResistance: ev.uR, UZero: ev.uZero}
	if c, err := schoolbook.BoxCovariance(counts(b.series, series), coilsOf(b.SeriesBox), b.SeriesBox.Tolerance); err == nil {
		common.SeriesCovariance = c
	}
	if c, err := schoolbook.BoxCovariance(counts(b.shunt, shunts), coilsOf(b.ShuntBox), b.ShuntBox.Tolerance); err == nil {
		common.ShuntCovariance = c
	}
	a, err := schoolbook.Solve(rows, common, coverage)
	return a, err == nil && a.G != nil && a.K != nil
}

// coverage is the probability that expanded uncertainties are stated for.
const coverage = 0.95

// tell puts a schoolbook answer into the record's words.
func tell(a schoolbook.Answer) *Schoolbook {
	b := &Schoolbook{
		MeanResistance: finite(a.G.Value), SDResistance: a.G.SD, SEResistance: a.G.StandardError, U95Resistance: finite(a.G.Expanded),
		MeanMerit: finite(a.K.Value), SDMerit: a.K.SD, SEMerit: a.K.StandardError, U95Merit: finite(a.K.Expanded),
	}
	if l := a.Line; l != nil {
		b.Line = &Line{l.Slope, l.USlope, l.Intercept, l.UIntercept, l.K, l.UK, l.Correlation}
	}
	return b
}

// weakest says which part of the budget to improve, for G and for k.
func (a Analysis) weakest(sum, each estimate.Budget) []string {
	var out []string
	say := func(of string, kinds, single []estimate.Line) {
		if len(kinds) == 0 {
			return
		}
		top := kinds[0]
		s := fmt.Sprintf("Of the variance of %s, %.0f %% comes from the %s: %s", of, 100*top.Share, top.Kind, cure(top.Kind))
		if top.Kind == estimate.FirstReading || top.Kind == estimate.ShuntedReading {
			for _, l := range single {
				if l.Kind == top.Kind {
					s += fmt.Sprintf(" The one at %s weighs most (%.0f %%).", setting(a.Fit.Points()[l.Index]), 100*l.Share)
					break
				}
			}
		}
		out = append(out, s)
	}
	say("G", sum.Resistance, each.Resistance)
	say("k", sum.Merit, each.Merit)
	return out
}

// cure says what makes a kind of input better.
func cure(k estimate.Kind) string {
	switch k {
	case estimate.EMF:
		return "measure the source with a good voltmeter."
	case estimate.Zero:
		return "read the zero again, with care."
	case estimate.SeriesCoil, estimate.ShuntCoil:
		return "only a better box would help."
	case estimate.SourceResistance:
		return "measure the source on load."
	}
	return "another row, read with care, helps most."
}

// setting names a point of the fit by what its boxes stood at.
func setting(p estimate.Point) string {
	if p.Shunted {
		return fmt.Sprintf("R = %s, S = %s", ohms(p.SeriesOhm), ohms(p.ShuntOhm))
	}
	return "R = " + ohms(p.SeriesOhm)
}

// oneMore says what one more row at the best deflection would be worth.
func (p planner) oneMore() (More, bool) {
	f := p.ev.fit
	if f == nil || !p.ev.shunted {
		return More{}, false
	}
	ts := p.targets()
	best := ts[0]
	for _, t := range ts {
		best = max(best, t)
	}
	b := p.s.bench
	series, ok := b.series.Nearest(f.Loop/best - p.ev.r - f.G)
	if !ok || series.Ohm <= 0 {
		return More{}, false
	}
	all := series.Ohm + p.ev.r
	shunt := p.easyShunt(all*f.G/(all+f.G), 0)
	in := p.ev.in
	in.Observations = append([]estimate.Observation(nil), in.Observations...)
	for _, shunted := range []bool{false, true} {
		o := estimate.Observation{Series: b.series.Multiset(series), SeriesOhm: series.Ohm, N: 1}
		if shunted {
			o.Shunted, o.Shunt, o.ShuntOhm = true, b.shunt.Multiset(shunt), shunt.Ohm
		}
		div, _, err := f.Predict(o, p.ev.left)
		if err != nil {
			return More{}, false
		}
		o.Div = math.Round(div/p.ev.step) * p.ev.step
		in.Observations = append(in.Observations, o)
	}
	more, err := estimate.Joint(in)
	if err != nil || !(more.UG < f.UG) {
		return More{}, false
	}
	return More{best, f.UG, more.UG, fmt.Sprintf("One more row near %s would bring the standard uncertainty of G from %s to about %s.",
		divs(best, p.ev.step), quantity.Format(f.UG, quantity.Ohm, 2), quantity.Format(more.UG, quantity.Ohm, 2))}, true
}

// significant is the level below which a trend is said (common practice, no
// source); several are tested, so it is a strict one.
const significant = 0.01

// compare says where the three answers and the rows' order do not agree, and
// what the line is good for.
func compare(a schoolbook.Answer, f *estimate.Fit) []string {
	var out []string
	if l := a.Line; l != nil {
		out = append(out, fmt.Sprintf("The line of R against 1/θ has the slope E/k and gives k = %s. Its intercept, −(G + r) = %s, is no useful G at a school bench.",
			quantity.Measured{Value: l.K, U: l.UK, Unit: quantity.AmperePerDivision},
			quantity.Measured{Value: l.Intercept, U: l.UIntercept, Unit: quantity.Ohm}))
	}
	var trended bool
	for _, t := range a.Trends {
		if t.Significance >= significant {
			continue
		}
		trended = true
		of, way := "G", "falls"
		if t.Of == schoolbook.Merit {
			of = "k"
		}
		if t.Slope > 0 {
			way = "rises"
		}
		s := fmt.Sprintf("%s %s with the deflection, by %.1f %% over the rows: the scale may not be linear, or the pointer does not rest at zero.", of, way, 100*math.Abs(t.Change))
		if t.With == schoolbook.Time {
			s = fmt.Sprintf("%s %s with time, by %.1f %% over the rows: the cell may be running down. Measure its EMF again, and let it rest between readings.", of, way, 100*math.Abs(t.Change))
		}
		if c := a.Entangled; c != nil && math.Abs(*c) > 0.8 {
			s += " (The rows were taken in the order of their deflections, so one cannot be told from the other.)"
		}
		out = append(out, s)
	}
	for _, d := range a.Differences(f.G, f.K) {
		if !d.Disagree {
			continue
		}
		s := fmt.Sprintf("The %s and the %s differ by %.1f standard uncertainties in %s.", source(d.First), source(d.Second), d.InU, map[schoolbook.Quantity]string{schoolbook.Resistance: "G", schoolbook.Merit: "k"}[d.Of])
		if !trended {
			s += " One row may stand apart, or a trial disagree with its row: look at the readings once more."
		}
		out = append(out, s)
	}
	return out
}

func source(s schoolbook.Source) string {
	switch s {
	case schoolbook.MeanOfRows:
		return "mean of the rows"
	case schoolbook.StraightLine:
		return "line of R against 1/θ"
	}
	return "estimate from all readings"
}
