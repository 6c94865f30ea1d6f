// Package estimate finds a galvanometer's resistance G and figure of merit k
// from all readings of a practical at once.
//
// Every first deflection and every shunted reading is one equation
//
//	first:   θ = E / (k (R′ + G))
//	shunted: θ = E S / (k (R′ (G + S) + G S)),   R′ = R + r
//
// with the zero added as it stood when the needle was read. The fit is a
// weighted non-linear least squares for G and k, refined by what a scale read
// in steps really says (Joint), in which everything else that
// is only known within its own uncertainty (the source's resistance, each
// zero, the error of every coil in use) is fitted along, held by what is
// known of it beforehand; so a cause common to many readings is counted once
// and not averaged away. The method is that of the Guide to the Expression of
// Uncertainty in Measurement (JCGM 100:2008, 5.2 and F.1.2.3) in its
// least-squares form; the circuit's equations follow from Kirchhoff's laws.
//
// No reading tells E and k apart, since only E/k occurs. The fit is therefore
// made for E/k, and k = E/(E/k) takes over the EMF's uncertainty in full.
package estimate

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// The reasons for which readings give no estimate.
var (
	// ErrNoShunted: there is no shunted reading, and so nothing that tells
	// G from the rest of the loop, and no PriorG either. First deflections
	// at several series values would tell it in principle, but with an
	// uncertainty as large as G itself at a school bench.
	ErrNoShunted = errors.New("estimate: no shunted reading: G cannot be told from first deflections alone")
	// ErrNoDeflection: no reading stands clear of zero.
	ErrNoDeflection = errors.New("estimate: no reading differs from zero")
	// ErrUnidentified: the readings are too few to tell G and k apart, as a
	// single shunted reading.
	ErrUnidentified = errors.New("estimate: too few readings to tell G and k: a first deflection and a shunted reading are needed")
	// ErrContradiction: no positive finite G explains the readings, as
	// where the shunt does not lower the deflection.
	ErrContradiction = errors.New("estimate: no galvanometer resistance fits these readings")
)

// Observation is one reading at one setting of the boxes: the mean of its
// repeats. Readings beyond the end of the scale have no place here.
type Observation struct {
	// Series and Shunt say how often each coil (or step of each dial) of
	// the box is in the circuit, in the order of Input.SeriesCoils and
	// Input.ShuntCoils. Shunt is nil for a first deflection.
	Series, Shunt []int
	// SeriesOhm and ShuntOhm are the nominal values set, ohm, 0 or more.
	SeriesOhm, ShuntOhm float64
	// Shunted tells whether K2 was closed.
	Shunted bool
	// Div is the mean of the repeats as seen on the scale, zero not
	// subtracted, signed on a centre-zero scale, in divisions.
	Div float64
	// N is the number of repeats, 1 or more.
	N int
	// ZeroWeights give the zero at the time of the reading as a weighted
	// sum of Input.Zeros (1 for the latest, or two weights for a drift
	// linear in time); nil stands for the last of Input.Zeros.
	ZeroWeights []float64
	// Drive is the source's EMF at the time of the reading relative to
	// Input.EMF, where the source was changed for another or ran down; 0
	// stands for 1.
	Drive float64
}

func (o *Observation) drive() float64 {
	if o.Drive == 0 {
		return 1
	}
	return o.Drive
}

// Input is all that is known. Uncertainties are standard uncertainties; 0
// means exactly known.
type Input struct {
	EMF, UEMF                           float64 // volt, EMF above 0
	SourceResistance, USourceResistance float64 // ohm
	Step                                float64 // resolution: the needle lay within half a step of the reading, div
	Repeatability                       float64 // standard deviation of one reading about the needle's place, div
	RepeatabilityDOF                    float64 // its degrees of freedom where it was found from repeats; 0 stands for many
	// Zeros are the rest readings. One whose uncertainty is at least that of
	// the resolution, Step/√12, is taken to lie within half a step, blurred
	// by what is left; a smaller one to be normal.
	Zeros, UZeros                   []float64
	SeriesCoils, ShuntCoils         []float64 // nominal, ohm: coils of a plug box, dial steps of a decade box
	SeriesTolerance, ShuntTolerance float64   // relative limit of each coil: rectangular, independent
	Observations                    []Observation

	// PriorG, where above 0, is what G is expected to be before any
	// reading, ohm, with the relative standard uncertainty UPriorG
	// (lognormal, 1e-6 or more). It is meant for planning the next setting
	// while there is no shunted reading yet and does not belong in a
	// result.
	PriorG, UPriorG float64
}

// Fit is the outcome. All values are finite.
type Fit struct {
	G, UG       float64 // resistance of the galvanometer and its standard uncertainty, ohm
	K, UK       float64 // figure of merit and its standard uncertainty, A/div
	Correlation float64 // of G and K, -1 to 1

	Loop, ULoop float64 // E/k, the deflection times the loop's resistance, div·ohm

	EMF              float64   // as given: no reading tells it from k, V
	SourceResistance float64   // fitted, ohm
	Zeros            []float64 // fitted, div
	SeriesErrors     []float64 // fitted relative error of each coil of the series box
	ShuntErrors      []float64 // fitted relative error of each coil of the shunt box

	// Residuals holds, for each observation, reading minus fitted reading
	// in units of the reading's own standard uncertainty as stated.
	Residuals []float64
	// Chi2 is the minimum that was found: the sum of the squared residuals
	// (repeats of a setting taken together) and of the squared shifts of
	// everything known beforehand. It follows the chi-squared law of DOF
	// degrees of freedom where the stated uncertainties are right.
	Chi2 float64
	DOF  int
	// Probability is that of so large a Chi2 or a larger one; 1 without
	// degrees of freedom.
	Probability float64
	// Inflation is by how much the readings scatter more than stated: the
	// factor by which the standard uncertainty of every mean reading was
	// multiplied, 1 if it was not.
	Inflation float64

	// U95G and U95K are the expanded uncertainties of G and k: their 95 %
	// intervals are G ± U95G and K ± U95K (JCGM 100:2008, G.4).
	U95G, U95K float64
	// EffectiveDOF and EffectiveDOFK are the effective degrees of freedom
	// of UG and of UK by the Welch-Satterthwaite formula (JCGM 100:2008,
	// G.4.1), at most ManyDOF.
	EffectiveDOF, EffectiveDOFK float64

	model     model
	x         []float64 // fitted parameters
	info      information
	uEMF      float64
	repeatDOF float64
}

// Joint fits G and k to all observations.
//
// First it finds the least squares with the variance Step²/12 (rectangular;
// the same needle place gives the same reading, so repeats do not lower it) +
// Repeatability²/N for each reading, which gives Chi2. Where Chi2 says that
// the readings scatter more than that, their variance is raised (Inflation).
// Then, on a scale read in steps, every reading is taken for what it says:
// that the needle lay within half a step, blurred by the repeatability. Rows
// that share their rounding are so not taken for fresh evidence.
//
// Observations at the same setting, source, zero and side count as repeats of one.
// The side is the sign of Div less the zero; a reading within three of its
// uncertainties of zero has the side of its neighbours.
//
// It fails with one of the errors above, or says which input is amiss. It
// never returns a NaN or an infinity.
func Joint(in Input) (*Fit, error) {
	if err := in.validate(); err != nil {
		return nil, err
	}
	m := newModel(in)
	x, err := m.start()
	if err != nil {
		return nil, err
	}
	f := &Fit{model: m, EMF: in.EMF, uEMF: in.UEMF, repeatDOF: in.RepeatabilityDOF}
	if f.x, f.Chi2, err = f.info.minimise(&f.model, x); err != nil {
		return nil, err
	}
	f.judge(in)
	if f.Inflation > 1 {
		if f.x, _, err = f.info.minimise(&f.model, f.x); err != nil {
			return nil, err
		}
	}
	if in.Step > 0 {
		if err := f.info.resolve(&f.model, f.x); err != nil {
			return nil, err
		}
	}
	f.report(in)
	f.expand()
	for _, v := range []float64{f.G, f.UG, f.K, f.UK, f.Loop, f.ULoop, f.Correlation, f.Chi2, f.U95G, f.U95K, f.UG * f.UG, f.UK * f.UK} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, ErrContradiction
		}
	}
	return f, nil
}

// report fills in the fit's public values from the parameters.
func (f *Fit) report(in Input) {
	m, x := &f.model, f.x
	f.G, f.Loop = math.Exp(x[logG]), math.Exp(x[logLoop])
	f.K = in.EMF / f.Loop
	loop, g := []entry{{logLoop, 1}}, []entry{{logG, 1}}
	varLoop, varG, cov := f.info.covariance(loop, loop), f.info.covariance(g, g), f.info.covariance(loop, g)
	// ln k = ln E - ln(E/k); the two are independent.
	varK := varLoop + in.UEMF*in.UEMF/(in.EMF*in.EMF)
	f.UG, f.UK, f.ULoop = f.G*math.Sqrt(varG), f.K*math.Sqrt(varK), f.Loop*math.Sqrt(varLoop)
	f.Correlation = max(-1, min(1, -cov/math.Sqrt(varG*varK)))

	f.SourceResistance = m.source.at(x)
	f.Zeros = valuesAt(m.zeros, x)
	f.SeriesErrors = valuesAt(m.series, x)
	f.ShuntErrors = valuesAt(m.shunt, x)
	a := here(x)
	f.Residuals = make([]float64, len(in.Observations))
	for i := range in.Observations {
		o := &in.Observations[i]
		p := &m.points[m.pointOf[i]]
		u := math.Sqrt(in.readingVariance(o.N))
		f.Residuals[i] = (o.Div - m.reading(a, p)) / u
	}
}

// Predict returns the reading foreseen at a setting, as seen on the scale in
// divisions, and its standard uncertainty: that of everything fitted, of the
// coils the fit has not met, and of one reading of its own. at.Div and at.N
// are not used; left tells that the needle goes to the left of zero.
//
// It fails where the setting does not belong to the boxes of the fit.
func (f *Fit) Predict(at Observation, left bool) (div, u float64, err error) {
	m := &f.model
	if err := at.validate(len(m.series), len(m.shunt), len(m.zeros)); err != nil {
		return 0, 0, err
	}
	p := m.point(at)
	if left {
		p.side = -1
	}
	a := here(f.x)
	div, g := m.gradient(a, &p, make([]entry, 0, m.columns))
	v := m.readingVariance*f.Inflation*f.Inflation + f.info.covariance(g, g)
	// Coils outside the fit keep the variance they had beforehand.
	slope := m.slopes(a, &p)
	v += untouched(m.series, p.series, slope.series) + untouched(m.shunt, p.shunt, slope.shunt)
	if u = math.Sqrt(v); math.IsNaN(u) || math.IsInf(u, 0) || math.IsNaN(div) {
		return 0, 0, fmt.Errorf("estimate: no reading can be foreseen at %g ohm", at.SeriesOhm)
	}
	return div, u, nil
}

// readingVariance is the variance of the mean of n repeats, div².
func (in *Input) readingVariance(n int) float64 {
	return in.Step*in.Step/12 + in.Repeatability*in.Repeatability/float64(n)
}

// validate reports the first input that cannot be.
func (in *Input) validate() error {
	type rule struct {
		name string
		v    float64
		ok   bool
	}
	for _, r := range []rule{
		{"EMF", in.EMF, in.EMF > 0},
		{"uncertainty of the EMF", in.UEMF, in.UEMF >= 0},
		{"source resistance", in.SourceResistance, in.SourceResistance >= 0},
		{"uncertainty of the source resistance", in.USourceResistance, in.USourceResistance >= 0},
		{"resolution", in.Step, in.Step >= 0},
		{"repeatability", in.Repeatability, in.Repeatability >= 0},
		{"degrees of freedom of the repeatability", in.RepeatabilityDOF, in.RepeatabilityDOF >= 0},
		{"tolerance of the series box", in.SeriesTolerance, in.SeriesTolerance >= 0},
		{"tolerance of the shunt box", in.ShuntTolerance, in.ShuntTolerance >= 0},
		{"resistance foreseen", in.PriorG, in.PriorG >= 0},
		{"uncertainty of the resistance foreseen", in.UPriorG, in.UPriorG >= 1e-6 || in.PriorG == 0},
	} {
		if !r.ok || math.IsInf(r.v, 0) {
			return fmt.Errorf("estimate: the %s cannot be %g", r.name, r.v)
		}
	}
	if !(in.readingVariance(1) > 0) {
		return errors.New("estimate: a reading needs a resolution or a repeatability above 0")
	}
	if len(in.Zeros) == 0 || len(in.UZeros) != len(in.Zeros) {
		return errors.New("estimate: at least one zero is needed, each with its uncertainty")
	}
	for i, z := range in.Zeros {
		if !finite(z) || !(in.UZeros[i] >= 0) || !finite(in.UZeros[i]) {
			return fmt.Errorf("estimate: zero %d cannot be %g ± %g", i+1, z, in.UZeros[i])
		}
	}
	for _, c := range slices.Concat(in.SeriesCoils, in.ShuntCoils) {
		if !(c > 0) || !finite(c) {
			return fmt.Errorf("estimate: a coil cannot have %g ohm", c)
		}
	}
	if len(in.Observations) == 0 {
		return ErrNoDeflection
	}
	for i := range in.Observations {
		o := &in.Observations[i]
		if o.N < 1 || !finite(o.Div) {
			return fmt.Errorf("estimate: observation %d: a reading is a number of divisions, repeated once or more, not %g repeated %d times", i+1, o.Div, o.N)
		}
		if err := o.validate(len(in.SeriesCoils), len(in.ShuntCoils), len(in.Zeros)); err != nil {
			return fmt.Errorf("observation %d: %w", i+1, err)
		}
	}
	return nil
}

// validate reports the first thing amiss with a setting, for boxes of so many
// coils.
func (o *Observation) validate(series, shunt, zeros int) error {
	if len(o.Series) != series || o.Shunted && len(o.Shunt) != shunt {
		return fmt.Errorf("estimate: the setting lists %d and %d coils, the boxes have %d and %d", len(o.Series), len(o.Shunt), series, shunt)
	}
	if !(o.SeriesOhm >= 0) || !finite(o.SeriesOhm) || o.Shunted && (!(o.ShuntOhm >= 0) || !finite(o.ShuntOhm)) {
		return fmt.Errorf("estimate: a box cannot stand at %g and %g ohm", o.SeriesOhm, o.ShuntOhm)
	}
	if !(o.Drive >= 0) || !finite(o.Drive) {
		return fmt.Errorf("estimate: a source cannot be %g times the other", o.Drive)
	}
	if o.ZeroWeights != nil && len(o.ZeroWeights) != zeros {
		return fmt.Errorf("estimate: %d weights for %d zeros", len(o.ZeroWeights), zeros)
	}
	for _, w := range o.ZeroWeights {
		if !finite(w) {
			return fmt.Errorf("estimate: a zero cannot have the weight %g", w)
		}
	}
	return nil
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
