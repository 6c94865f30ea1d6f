package estimate

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// ManyDOF are the degrees of freedom of an uncertainty that is not estimated
// from scatter, as far as a number can say it: Student's t is then that of
// the normal law to the sixth figure.
const ManyDOF = 1e6

const (
	// doubtful is the probability of chi-squared below which the readings
	// count as scattering more than stated (the usual 5 % level).
	doubtful = 0.05
	// coverage is what the expanded uncertainty is made for.
	coverage = 0.95
)

// judge weighs chi-squared. The stated repeatability holds unless the record
// shows more scatter: where so large a chi-squared has a probability below
// 5 %, the variance of every mean reading is multiplied by Chi2/DOF, as in
// R. T. Birge (Phys. Rev. 40, 207, 1932), and is from then on an estimate of
// DOF degrees of freedom. It is never lowered. The surplus counts as blur
// that repeats at one setting do not average away, for it shows between
// settings.
func (f *Fit) judge(in Input) {
	m := &f.model
	f.DOF = len(m.points) - 2
	if in.PriorG > 0 {
		f.DOF++
	}
	f.Probability, f.Inflation = 1, 1
	if f.DOF < 1 {
		return
	}
	f.Probability = distuv.ChiSquared{K: float64(f.DOF)}.Survival(f.Chi2)
	ratio := f.Chi2 / float64(f.DOF)
	if f.Probability >= doubtful || !(ratio > 1) {
		return
	}
	f.Inflation = math.Sqrt(ratio)
	for i := range m.points {
		p := &m.points[i]
		v := in.readingVariance(int(p.repeat)) * ratio
		p.law = box{middle: p.div, half: in.Step / 2, edge: math.Sqrt(v - in.Step*in.Step/12)}.alone()
	}
}

// expand finds the expanded uncertainties. All readings together are one
// quantity with the degrees of freedom of the scatter where their variance was
// taken from that, for that one estimate served them all.
func (f *Fit) expand() {
	var g, k float64 // of the readings
	if f.scatterDOF() > 0 {
		for _, r := range f.Gain() {
			if r.Kind == FirstReading || r.Kind == ShuntedReading {
				g += r.DG * r.DG * r.U * r.U
				k += r.DK * r.DK * r.U * r.U
			}
		}
	}
	f.EffectiveDOF = f.effective(g, f.UG)
	f.EffectiveDOFK = f.effective(k, f.UK)
	f.U95G = Factor(f.EffectiveDOF) * f.UG
	f.U95K = Factor(f.EffectiveDOFK) * f.UK
}

// effective returns the degrees of freedom of u, to which the readings bring
// the variance part.
func (f *Fit) effective(part, u float64) float64 {
	share := part / (u * u)
	if !(share > 0) {
		return ManyDOF
	}
	return min(f.scatterDOF()/(share*share), ManyDOF)
}

// scatterDOF is the degrees of freedom of the readings' variance where it was
// taken from their scatter, between the settings or, failing that, among the
// repeats; 0 where it was stated.
func (f *Fit) scatterDOF() float64 {
	if f.Inflation > 1 {
		return float64(f.DOF)
	}
	return f.repeatDOF
}

// Factor is the coverage factor of a 95 % interval for dof degrees of freedom,
// above 0: the two-sided quantile of Student's t (JCGM 100:2008, G.3), from
// ManyDOF on that of the normal law.
func Factor(dof float64) float64 {
	if dof >= ManyDOF {
		return 1.959963984540054
	}
	return distuv.StudentsT{Sigma: 1, Nu: dof}.Quantile((1 + coverage) / 2)
}
