package procedure

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/quantity"
	"example.org/halve/safety"
)

// A Plan says before a session what a bench is good for. A nil pointer is
// what nobody can know beforehand.
type Plan struct {
	// Fit says that whoever obeys the counsel comes to five rows and a G
	// worth having, if the galvanometer is what is expected of it.
	Fit     bool   `json:"fit"`
	Because string `json:"because"` // one sentence
	// Settings are the rows that the practical would come to. Where nothing
	// states the full scale they can only be settled at the bench; then the
	// one setting is the safe starting value.
	Settings []PlanSetting `json:"settings"`
	Expected PlanExpected  `json:"expected"`
	Start    *PlanStart    `json:"start"` // nil where no series value may be tried
	Credible PlanCredible  `json:"credible"`
	Range    *PlanRange    `json:"range"`  // nil where no practical comes to its rows
	Limits   PlanLimits    `json:"limits"` // largest first; empty where there is no result
	// Change lists what would make the bench fit, or its result better
	// where that falls short of WellKnown.
	Change []string `json:"change"`
	// Risks lists what would go wrong should the galvanometer lie at an end
	// of what is believed of it.
	Risks []string `json:"risks"`
}

// PlanSetting is a pair of settings and the readings to be expected there:
// for the galvanometer as it is expected, and the least and the greatest for
// any that is credible.
type PlanSetting struct {
	SeriesOhm    float64   `json:"series_ohm"`
	TakeOut      []float64 `json:"take_out_ohm,omitempty"` // of a plug box
	FirstDiv     *float64  `json:"first_div"`
	ShuntOhm     *float64  `json:"shunt_ohm"`
	ShuntTakeOut []float64 `json:"shunt_take_out_ohm,omitempty"`
	ShuntedDiv   *float64  `json:"shunted_div"`
	FirstLow     float64   `json:"first_low_div"`
	FirstHigh    float64   `json:"first_high_div"`
	HalvingLow   float64   `json:"halving_low_ohm"`
	HalvingHigh  float64   `json:"halving_high_ohm"`
}

// PlanExpected is what five rows would reach: relative standard uncertainties
// for the galvanometer as it is expected, and the greatest for any that is
// credible.
type PlanExpected struct {
	UResistance     *float64 `json:"u_resistance_relative"`
	UMerit          *float64 `json:"u_merit_relative"`
	UResistanceMost *float64 `json:"u_resistance_relative_most"`
	UMeritMost      *float64 `json:"u_merit_relative_most"`
}

// PlanStart is the series value to begin with, the clearance of K1 there, and
// how the box is set.
type PlanStart struct {
	SeriesOhm float64          `json:"series_ohm"`
	TakeOut   []float64        `json:"take_out_ohm,omitempty"` // of a plug box
	Clearance safety.Clearance `json:"clearance"`
	Do        string           `json:"do"`
}

// PlanCredible is what is believed of the galvanometer before any reading:
// its expected values and the ends of what is credible, and whether they are
// stated or only usual.
type PlanCredible struct {
	Resistance       float64 `json:"resistance_ohm"`
	ResistanceLow    float64 `json:"resistance_low_ohm"`
	ResistanceHigh   float64 `json:"resistance_high_ohm"`
	ResistanceStated bool    `json:"resistance_stated"`
	Merit            float64 `json:"merit_A_per_div"`
	MeritLow         float64 `json:"merit_low_A_per_div"`
	MeritHigh        float64 `json:"merit_high_A_per_div"`
	MeritStated      bool    `json:"merit_stated"`
}

// PlanRange holds the ends of the settings of all rows, whatever the credible
// galvanometer.
type PlanRange struct {
	SeriesLow   float64 `json:"series_low_ohm"`
	SeriesHigh  float64 `json:"series_high_ohm"`
	HalvingLow  float64 `json:"halving_low_ohm"`
	HalvingHigh float64 `json:"halving_high_ohm"`
}

// PlanLimits says which input's doubt brings how much of the result's
// variance, from 0 to 1.
type PlanLimits struct {
	Resistance []PlanShare `json:"resistance"`
	Merit      []PlanShare `json:"merit"`
}

// PlanShare is one input's part of a variance.
type PlanShare struct {
	Input string  `json:"input"`
	Share float64 `json:"share"`
}

// The inputs of a plan's limits.
const (
	InputReadings = "readings"
	InputEMF      = "EMF"
	InputSource   = "source resistance"
	InputSeries   = "series box"
	InputShunt    = "shunt box"
)

// WellKnown is the relative standard uncertainty that a school bench should
// reach; above TooPoor a G is not worth the session (common practice, no
// source).
const (
	WellKnown = 0.05
	TooPoor   = 0.10
)

// The usual school galvanometer, which is supposed where nothing is stated:
// 10 to 40 µA a division on a scale of 30, and 50 to 150 Ω (domain notes,
// common practice, no source).
const (
	schoolScaleLow  = 0.3e-3 // full-scale current, A
	schoolScale     = 0.6e-3 // between the two by ratio
	schoolScaleHigh = 1.2e-3
	schoolLow       = 50.0 // ohm
	schoolHigh      = 150.0
)

// Within this many standard uncertainties a stated value is credible; at most
// this factor away from it.
const (
	credibleDoubts = 2
	credibleMost   = 10
)

// PlanFor plans the practical on a bench, from its instruments' plates alone.
// It lets an obedient student go through the practical in mind, with the
// galvanometer that is expected and with those at the ends of what is
// credible; the counsel is that of Advise. It fails only for a bench that
// cannot be.
func PlanFor(b apparatus.Bench) (Plan, error) {
	p := Plan{Settings: []PlanSetting{}, Change: []string{}, Risks: []string{}, Limits: PlanLimits{[]PlanShare{}, []PlanShare{}}}
	if err := b.Validate(); err != nil {
		return p, err
	}
	if _, err := safety.SourceRange(b.Source.EMF); err != nil {
		p.Because = sentence(err.Error())
		p.Credible = credible(b.Galvanometer)
		p.Change = append(p.Change, "Take one or two cells.")
		return p, nil
	}
	only, err := benchOnly(b)
	if err != nil {
		return p, err
	}
	for _, box := range []struct {
		name string
		*apparatus.Range
	}{{"series", only.bench.series}, {"shunt", only.bench.shunt}} {
		if !gradual(box.Range) {
			p.Because = fmt.Sprintf("The %s box cannot be: its smallest coil is lost beside its largest.", box.name)
			p.Credible = credible(b.Galvanometer)
			p.Change = append(p.Change, fmt.Sprintf("Look at the coils stated of the %s box.", box.name))
			return p, nil
		}
	}
	pl := planning{stated: only, plan: &p}
	pl.suppose()
	pl.rehearse()
	pl.report()
	return p, nil
}

// benchOnly is the state of a practical of which only the bench is known.
func benchOnly(b apparatus.Bench) (*State, error) {
	s := new(State)
	return s, s.Apply(Event{Seq: 1, Body: Bench{b}})
}

// gradual reports whether a box can be turned up from its smallest value step
// by step: beside a coil some 10¹¹ times as large it cannot be told from none.
func gradual(r *apparatus.Range) bool {
	next, ok := r.Ceil(1.2 * r.Least())
	return !ok || next.Ohm > 1.1*r.Least()
}

// planning works out one plan.
type planning struct {
	stated *State
	plan   *Plan
	centre supposed
	ends   []supposed
	middle []rehearsal // at the centre, for several places of the needle between its steps
	edge   []rehearsal // at each of ends
}

// credible is what is believed of G and k.
func credible(g apparatus.Galvanometer) PlanCredible {
	c := PlanCredible{
		Resistance: defaultMovementOhm, ResistanceLow: schoolLow, ResistanceHigh: schoolHigh,
		Merit: schoolScale / g.Divisions, MeritLow: schoolScaleLow / g.Divisions, MeritHigh: schoolScaleHigh / g.Divisions,
	}
	if g.Resistance != nil && *g.Resistance > 0 {
		u := plateMovementDoubt
		if g.UResistance != nil && *g.UResistance > 0 {
			u = *g.UResistance / *g.Resistance
		}
		f := spreadOf(u)
		c.Resistance, c.ResistanceLow, c.ResistanceHigh, c.ResistanceStated = *g.Resistance, *g.Resistance/f, *g.Resistance*f, true
	}
	if g.FullScale != nil {
		u := defaultScaleDoubt
		if g.UFullScale != nil {
			u = *g.UFullScale / *g.FullScale
		}
		k, f := *g.FullScale/g.Divisions, spreadOf(u)
		c.Merit, c.MeritLow, c.MeritHigh, c.MeritStated = k, k/f, k*f, true
	}
	return c
}

// spreadOf is the factor up to which a value of the relative standard
// uncertainty u may be off.
func spreadOf(u float64) float64 { return min(1+credibleDoubts*u, credibleMost) }

// suppose settles with which galvanometers the practical is gone through.
func (p *planning) suppose() {
	ev := p.stated.evidence()
	c := credible(p.stated.bench.Galvanometer)
	// Only E/k shows in readings, so the EMF's doubt widens the ends of k.
	f := spreadOf(ev.uEMF / ev.emf)
	low, high := c.MeritLow/f, c.MeritHigh*f
	if c.MeritStated {
		f = spreadOf(ev.uPlate)
		low, high = c.Merit/f, c.Merit*f
	}
	p.plan.Credible = c
	p.centre = supposed{g: c.Resistance, k: c.Merit, emf: ev.emf, r: ev.r}
	for _, k := range []float64{low, high} {
		for _, g := range []float64{c.ResistanceLow, c.ResistanceHigh} {
			p.ends = append(p.ends, supposed{g: g, k: k, emf: ev.emf, r: ev.r})
		}
	}
}

// planPhases are places of the needle between the steps to which it is read, as
// parts of a step: the mean over them stands for any.
var planPhases = [...]float64{0, 0.3, -0.3}

func (p *planning) rehearse() {
	step := p.stated.bench.Galvanometer.Step()
	for _, f := range planPhases {
		on := p.centre
		on.zero = f * step
		p.middle = append(p.middle, rehearse(p.stated, on))
	}
	for _, on := range p.ends {
		p.edge = append(p.edge, rehearse(p.stated, on))
	}
}

func (p *planning) report() {
	plain := p.middle[0]
	p.plan.Start = plain.start
	p.ranges()
	if !plain.complete() {
		say, try := plain.failure()
		if !p.plan.Credible.MeritStated && !plain.spoiledStart() {
			say = fmt.Sprintf("With a usual school galvanometer, of %s full scale: %s", quantity.Format(p.centre.k*p.stated.bench.Galvanometer.Divisions, quantity.Ampere, 2), lowered(say))
		}
		p.plan.Because = say
		if p.plan.Change = p.remedy(plain); len(p.plan.Change) == 0 {
			p.plan.Change = []string{try}
		}
		return
	}
	p.settings(plain)
	p.expected()
	p.limits()
	p.verdict()
	p.risks()
}

// ranges gathers the ends of all rows' settings.
func (p *planning) ranges() {
	for _, r := range slices.Concat(p.middle, p.edge) {
		if !r.complete() {
			continue
		}
		for _, row := range r.rows() {
			s, h := row.series.Ohm, r.on.halving(row.series.Ohm)
			if p.plan.Range == nil {
				p.plan.Range = &PlanRange{s, s, h, h}
			}
			x := p.plan.Range
			x.SeriesLow, x.SeriesHigh = min(x.SeriesLow, s), max(x.SeriesHigh, s)
			x.HalvingLow, x.HalvingHigh = min(x.HalvingLow, h), max(x.HalvingHigh, h)
		}
	}
}

// settings lists the rows, or the starting value where only the bench can
// tell them.
func (p *planning) settings(r rehearsal) {
	b := p.stated.bench
	if !p.plan.Credible.MeritStated {
		s := p.setting(r.start.SeriesOhm)
		s.TakeOut = r.start.TakeOut
		p.plan.Settings = append(p.plan.Settings, s)
		return
	}
	for _, row := range r.rows() {
		s := p.setting(row.series.Ohm)
		s.TakeOut, s.ShuntTakeOut = takeOut(b.SeriesBox, row.series), takeOut(b.ShuntBox, row.shunt)
		s.FirstDiv, s.ShuntedDiv = finite(p.centre.first(row.series.Ohm)), finite(p.centre.shunted(row.series.Ohm, row.shunt.Ohm))
		s.ShuntOhm = finite(row.shunt.Ohm)
		p.plan.Settings = append(p.plan.Settings, s)
	}
}

// setting is a series value with the readings of all credible galvanometers.
func (p *planning) setting(series float64) PlanSetting {
	s := PlanSetting{SeriesOhm: series, FirstLow: math.Inf(1), HalvingLow: math.Inf(1)}
	for _, on := range p.ends {
		first, half := on.first(series), on.halving(series)
		s.FirstLow, s.FirstHigh = min(s.FirstLow, first), max(s.FirstHigh, first)
		s.HalvingLow, s.HalvingHigh = min(s.HalvingLow, half), max(s.HalvingHigh, half)
	}
	return s
}

// relativeDoubts returns the relative standard uncertainties of a result.
func relativeDoubts(r *Result) (g, k float64) {
	return *r.UResistance / *r.Resistance, *r.UMerit / *r.Merit
}

// mean is the mean over the phases of what f gives for the result of each
// rehearsal at the centre; ok is false where one has none.
func (p *planning) mean(f func(rehearsal) *Result) (g, k float64, ok bool) {
	for _, r := range p.middle {
		res := f(r)
		if res == nil {
			return 0, 0, false
		}
		ug, uk := relativeDoubts(res)
		g, k = g+ug/float64(len(p.middle)), k+uk/float64(len(p.middle))
	}
	return g, k, true
}

func (p *planning) expected() {
	e := &p.plan.Expected
	g, k, n := 0.0, 0.0, 0
	mostG, mostK := 0.0, 0.0
	for i, r := range slices.Concat(p.middle, p.edge) {
		if !r.complete() {
			continue
		}
		ug, uk := relativeDoubts(r.result())
		mostG, mostK = max(mostG, ug), max(mostK, uk)
		if i < len(p.middle) {
			g, k, n = g+ug, k+uk, n+1
		}
	}
	e.UResistance, e.UMerit = finite(g/float64(n)), finite(k/float64(n))
	e.UResistanceMost, e.UMeritMost = finite(mostG), finite(mostK)
}

// A plan's inputs, and how the bench stands without the doubt of each, or with
// a lesser one.
type planInput struct {
	name string
	less func(*apparatus.Bench)
	// better is what could be had, and how it is said; "" says that no
	// bench has a better one.
	better func(*apparatus.Bench) string
}

// fineCoils is the tolerance of a good resistance box.
const fineCoils = 0.001

func planInputs() []planInput {
	none := 0.0
	fine := func(which string, of func(*apparatus.Bench) *apparatus.Box) func(*apparatus.Bench) string {
		return func(b *apparatus.Bench) string {
			if of(b).Tolerance <= fineCoils {
				return ""
			}
			of(b).Tolerance = fineCoils
			return fmt.Sprintf("A %s box with coils of 0.1 %%", which)
		}
	}
	return []planInput{
		{InputReadings,
			func(b *apparatus.Bench) { b.Galvanometer.Resolution = max(b.Galvanometer.Step()/10, 1e-4) },
			func(b *apparatus.Bench) string {
				b.Galvanometer.Resolution = max(b.Galvanometer.Step()/2, 1e-4)
				return fmt.Sprintf("A finer scale, read to %s,", number(b.Galvanometer.Resolution)+" div")
			}},
		{InputEMF,
			func(b *apparatus.Bench) { b.Source.UEMF = &none },
			func(b *apparatus.Bench) string {
				u := defaultVoltmeterDoubt * b.Source.EMF
				if b.Source.UEMF != nil && *b.Source.UEMF <= u {
					return ""
				}
				b.Source.UEMF = &u
				return "A voltmeter, good to 1 %, for the EMF"
			}},
		{InputSource,
			func(b *apparatus.Bench) { b.Source.UResistance = &none },
			func(b *apparatus.Bench) string {
				b.Source.UResistance = &none
				return "A source whose internal resistance is known"
			}},
		{InputSeries,
			func(b *apparatus.Bench) { b.SeriesBox.Tolerance = 0 },
			fine("series", func(b *apparatus.Bench) *apparatus.Box { return &b.SeriesBox })},
		{InputShunt,
			func(b *apparatus.Bench) { b.ShuntBox.Tolerance = 0 },
			fine("shunt", func(b *apparatus.Bench) *apparatus.Box { return &b.ShuntBox })},
	}
}

// with is what the rehearsals at the centre come to on another bench.
func (p *planning) with(b apparatus.Bench) (g, k float64, ok bool) {
	other, err := benchOnly(b)
	if err != nil {
		return 0, 0, false
	}
	return p.mean(func(r rehearsal) *Result { return r.again(other) })
}

// limits says which inputs the result owes its doubt to: how much of the
// variance is gone without each.
func (p *planning) limits() {
	l := &p.plan.Limits
	g, k := *p.plan.Expected.UResistance, *p.plan.Expected.UMerit
	for _, in := range planInputs() {
		b := p.stated.bench.Bench
		in.less(&b)
		lessG, lessK, ok := p.with(b)
		if !ok {
			continue
		}
		l.Resistance = append(l.Resistance, PlanShare{in.name, varianceGone(g, lessG)})
		l.Merit = append(l.Merit, PlanShare{in.name, varianceGone(k, lessK)})
	}
	for _, s := range [][]PlanShare{l.Resistance, l.Merit} {
		slices.SortStableFunc(s, func(a, b PlanShare) int {
			switch {
			case a.Share > b.Share:
				return -1
			case a.Share < b.Share:
				return 1
			}
			return 0
		})
	}
}

// varianceGone is the part of the variance u² that is gone at less.
func varianceGone(u, less float64) float64 { return min(1, max(0, 1-less*less/(u*u))) }

func (p *planning) verdict() {
	g, k := *p.plan.Expected.UResistance, *p.plan.Expected.UMerit
	p.plan.Fit = g <= TooPoor
	figures := fmt.Sprintf("G to %s and k to %s", percent(g), percent(k))
	switch l := p.plan.Limits; {
	case len(l.Resistance) == 0 || len(l.Merit) == 0:
		p.plan.Because = fmt.Sprintf("Five rows would give %s.", figures)
	case !p.plan.Fit:
		p.plan.Because = fmt.Sprintf("Five rows would give G to %s only, which is not worth the session; most of it comes from %s.", percent(g), named(l.Resistance))
	case l.Resistance[0].Input == l.Merit[0].Input:
		p.plan.Because = fmt.Sprintf("Five rows would give %s, limited by %s.", figures, named(l.Resistance))
	default:
		p.plan.Because = fmt.Sprintf("Five rows would give %s, the first limited by %s, the second by %s.", figures, named(l.Resistance), named(l.Merit))
	}
	if g > WellKnown {
		p.improve("G", p.plan.Limits.Resistance, func(g, _ float64) float64 { return g }, g)
	}
	if k > WellKnown {
		p.improve("k", p.plan.Limits.Merit, func(_, k float64) float64 { return k }, k)
	}
}

// improve says what the largest contribution's better instrument would bring,
// where it would bring something.
func (p *planning) improve(what string, shares []PlanShare, of func(g, k float64) float64, now float64) {
	if what == "G" {
		p.improveRows()
	}
	for _, s := range shares {
		for _, in := range planInputs() {
			if in.name != s.Input || s.Share < 0.1 {
				continue
			}
			b := p.stated.bench.Bench
			how := in.better(&b)
			if how == "" {
				continue
			}
			if g, k, ok := p.with(b); ok && of(g, k) < 0.95*now {
				p.plan.Change = append(p.plan.Change, fmt.Sprintf("%s would bring %s to %s.", how, what, percent(of(g, k))))
				return
			}
		}
	}
}

// improveRows says what is amiss with the rows themselves.
func (p *planning) improveRows() {
	n := p.stated.bench.Galvanometer.Divisions
	low, off := 0, 0
	rows := p.middle[0].rows()
	for _, row := range rows {
		first, shunted := p.centre.first(row.series.Ohm), p.centre.shunted(row.series.Ohm, row.shunt.Ohm)
		if first < leastShare*n-p.stated.bench.Galvanometer.Step() {
			low++
		}
		if ratio := shunted / first; ratio < leastRatio || ratio > mostRatio {
			off++
		}
	}
	if 2*low > len(rows) {
		p.plan.Change = append(p.plan.Change, p.forNeedle()...)
	}
	if 2*off > len(rows) {
		p.plan.Change = append(p.plan.Change, fmt.Sprintf("A shunt box that makes values about %s would bring the needle near the half.", ohms(round2(p.centre.halving(rows[0].series.Ohm)))))
	}
}

// remedy says with figures what would make an unfit bench fit.
func (p *planning) remedy(r rehearsal) []string {
	b, ev := p.stated.bench, p.stated.evidence()
	if r.last.Step == StepShunt {
		return nil // the counsel's own words have the figure
	}
	if !r.spoiledStart() {
		return p.forNeedle()
	}
	// Not even the largest series value may be tried.
	current := safety.TapCurrent
	if f := b.Galvanometer.FullScale; f != nil {
		current = max(current, safety.FullScaleTrust**f)
	}
	least := ev.emfHigh / current / (1 - b.SeriesBox.Tolerance)
	if least > b.series.Max() {
		least = max(least, p.centre.wanted(b.Galvanometer.Divisions))
		return []string{fmt.Sprintf("The series box would have to reach %s, or the EMF to be %s at most.",
			ohms(up2(least)), quantity.Format(ev.emf*b.series.Max()/least, quantity.Volt, 2))}
	}
	return nil
}

// forNeedle says which series box or which EMF brings the needle to where it
// is read best.
func (p *planning) forNeedle() []string {
	b := p.stated.bench
	n := b.Galvanometer.Divisions
	wanted, most := p.centre.wanted(n), b.series.Max()
	if wanted > most {
		fits := p.centre.k * goodShare * n * (most + p.centre.r + p.centre.g)
		return []string{fmt.Sprintf("The series box would have to reach %s, or the EMF to be about %s.", ohms(up2(wanted)), quantity.Format(fits, quantity.Volt, 2))}
	}
	if wanted > 0 {
		if set, ok := b.series.Nearest(wanted); !ok || set.Ohm <= 0 || math.Abs(p.centre.first(set.Ohm)/n-goodShare) > mostShare-goodShare {
			return []string{fmt.Sprintf("The series box would have to make values about %s.", ohms(round2(wanted)))}
		}
	}
	// As much resistance outside the galvanometer as inside, at least.
	fits := p.centre.k * goodShare * n * max(2*p.centre.g, p.centre.g+p.centre.r+b.series.Least())
	switch {
	case fits <= p.centre.emf:
		return nil
	case fits > safety.QuestionEMF:
		return []string{fmt.Sprintf("This galvanometer would need about %s, which is more than this practical should use: take a more sensitive one.", quantity.Format(fits, quantity.Volt, 2))}
	}
	return []string{fmt.Sprintf("The EMF would have to be about %s.", quantity.Format(fits, quantity.Volt, 2))}
}

// risks says what would go wrong at the ends of what is credible.
func (p *planning) risks() {
	for _, r := range slices.Concat(p.middle, p.edge) {
		say, try := "", ""
		if !r.complete() {
			say, try = r.failure()
		} else if g, _ := relativeDoubts(r.result()); g > TooPoor && p.plan.Fit {
			say = fmt.Sprintf("Five rows would give G to %s only.", percent(g))
		} else {
			continue
		}
		risk := strings.TrimSpace(fmt.Sprintf("Should G be %s and k %s: %s %s",
			ohms(round2(r.on.g)), quantity.Format(r.on.k, quantity.AmperePerDivision, 2), lowered(say), try))
		if !slices.Contains(p.plan.Risks, risk) {
			p.plan.Risks = append(p.plan.Risks, risk)
		}
	}
}

// named says an input as a person would.
func named(shares []PlanShare) string {
	switch shares[0].Input {
	case InputReadings:
		return "the scale's reading"
	case InputEMF:
		return "the EMF"
	case InputSource:
		return "the source's internal resistance"
	case InputSeries:
		return "the series box's tolerance"
	}
	return "the shunt box's tolerance"
}

// percent writes a relative uncertainty.
func percent(u float64) string { return quantity.Format(100*u, quantity.Percent, 2) }

// up2 rounds up to two figures.
func up2(v float64) float64 {
	unit := math.Pow(10, math.Floor(math.Log10(v))-1)
	return math.Ceil(v/unit*(1-1e-12)) * unit
}

// sentence ends a clause as a sentence.
func sentence(s string) string { return strings.ToUpper(s[:1]) + s[1:] + "." }

// lowered is a sentence after a colon.
func lowered(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}
