package physics

import (
	"cmp"
	"math"
	"slices"
)

// Row is one completed row of the record: what was set and what was read.
type Row struct {
	EMF              float64 // E, volt, above 0
	SourceResistance float64 // r, ohm, 0 or more
	Series           float64 // R as dialled, ohm, 0 or more; R + r above 0
	Shunt            float64 // S as dialled, ohm, above 0
	First            float64 // θ1, the reading with the shunt branch open, div
	Shunted          float64 // θ2, the reading with the shunt branch closed, div
}

// RowDoubt holds the standard uncertainties of a Row's entries, each in the
// unit of its entry and 0 or more. First and Shunted are the readings' own,
// independent of each other; Zero is that of the scale's zero, which moves
// both readings alike.
type RowDoubt struct {
	EMF, SourceResistance, Series, Shunt, First, Shunted, Zero float64
}

// RowSensitivity holds the partial derivatives of a result by each entry, in
// the result's unit per the entry's. Zero is the derivative by an offset that
// is in both readings.
type RowSensitivity struct {
	EMF, SourceResistance, Series, Shunt, First, Shunted, Zero float64
}

// RowShare holds the part of a result's variance that each entry brings. The
// parts sum to 1, or are all 0 where nothing is in doubt.
type RowShare struct {
	EMF, SourceResistance, Series, Shunt, First, Shunted, Zero float64
}

// RowResult is what one row says.
type RowResult struct {
	Thevenin float64 // P = R′∥G, the resistance the shunt sees, ohm
	G        float64 // galvanometer resistance, ohm
	K        float64 // figure of merit, A/div
	UG       float64 // standard uncertainty of G, ohm
	UK       float64 // standard uncertainty of k, A/div
	Corr     float64 // correlation coefficient of G and k; 0 where UG or UK is 0

	SensG, SensK   RowSensitivity
	ShareG, ShareK RowShare
}

// Solve returns G and k of the row with their standard uncertainties by the
// law of propagation of uncertainty (JCGM 100:2008, 5.1.2), the seven entries
// taken as uncorrelated:
//
//	u²(G) = Σ (∂G/∂x u(x))²,  cov(G, k) = Σ ∂G/∂x ∂k/∂x u²(x)
//
// With P = S(θ1−θ2)/θ2, a = (G/P)² = (1 + G/R′)² and D = R′ + G the
// derivatives, from G = P R′/(R′ − P) and k = E/(D θ1), are
//
//	∂G/∂θ1 = a S/θ2      ∂G/∂θ2 = −a S θ1/θ2²   ∂G/∂S = a P/S
//	∂G/∂R = ∂G/∂r = −(G/R′)²   ∂G/∂E = 0        ∂G/∂z = −a P/θ2
//	∂k/∂E = k/E          ∂k/∂θ1 = −k/θ1 − (k/D) ∂G/∂θ1
//	∂k/∂R = ∂k/∂r = −(k/D)(1 − (G/R′)²)         ∂k/∂z = −k/θ1 − (k/D) ∂G/∂z
//	∂k/∂x = −(k/D) ∂G/∂x for θ2 and S
//
// It is first order: the interval of a row with UG/G above some 5 % is skewed
// towards high G and better found by drawing (JCGM 101).
//
// Errors are those of Resistance and Merit, and a DomainError for a doubt that
// is negative or not finite.
func (w Row) Solve(u RowDoubt) (RowResult, error) {
	branch, err := BranchTotal(w.Series, w.SourceResistance)
	if err != nil {
		return RowResult{}, err
	}
	p, err := TheveninResistance(w.Shunt, w.First, w.Shunted)
	if err != nil {
		return RowResult{}, err
	}
	g, err := Resistance(branch, w.Shunt, w.First, w.Shunted)
	if err != nil {
		return RowResult{}, err
	}
	k, err := Merit(w.EMF, branch, g, w.First)
	if err != nil {
		return RowResult{}, err
	}
	if err := u.check(); err != nil {
		return RowResult{}, err
	}

	ratio := g / branch
	a := (1 + ratio) * (1 + ratio)
	sg := RowSensitivity{
		SourceResistance: -ratio * ratio,
		Series:           -ratio * ratio,
		Shunt:            a * p / w.Shunt,
		First:            a * w.Shunt / w.Shunted,
		Shunted:          -a * w.Shunt / w.Shunted * (w.First / w.Shunted),
		Zero:             -a * p / w.Shunted,
	}
	c := k / (branch + g)
	sk := RowSensitivity{
		EMF:              k / w.EMF,
		SourceResistance: -c * (1 - ratio*ratio),
		Series:           -c * (1 - ratio*ratio),
		Shunt:            -c * sg.Shunt,
		First:            -k/w.First - c*sg.First,
		Shunted:          -c * sg.Shunted,
		Zero:             -k/w.First - c*sg.Zero,
	}
	partG, partK := sg.times(u), sk.times(u)
	ug, shareG := combine(partG)
	uk, shareK := combine(partK)
	res := RowResult{
		Thevenin: p, G: g, K: k, UG: ug, UK: uk,
		SensG: sg, SensK: sk,
		ShareG: share(shareG), ShareK: share(shareK),
	}
	if ug > 0 && uk > 0 {
		for i := range partG {
			res.Corr += partG[i] / ug * (partK[i] / uk)
		}
		res.Corr = max(-1, min(1, res.Corr)) // rounding only
	}
	// The parts may leave the range of numbers although G and k do not.
	lost := func(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) }
	if slices.ContainsFunc(partG[:], lost) || slices.ContainsFunc(partK[:], lost) || lost(ug) || lost(uk) || lost(res.Corr) {
		return RowResult{}, ErrRange
	}
	return res, nil
}

func (u RowDoubt) check() error {
	return cmp.Or(
		notNegative("uncertainty of the EMF", "V", u.EMF),
		notNegative("uncertainty of the source resistance", "Ω", u.SourceResistance),
		notNegative("uncertainty of the series resistance", "Ω", u.Series),
		notNegative("uncertainty of the shunt resistance", "Ω", u.Shunt),
		notNegative("uncertainty of the first reading", "div", u.First),
		notNegative("uncertainty of the shunted reading", "div", u.Shunted),
		notNegative("uncertainty of the zero", "div", u.Zero))
}

// times returns the signed contributions ∂y/∂x·u(x), in the order of fields.
func (s RowSensitivity) times(u RowDoubt) [7]float64 {
	return [7]float64{
		s.EMF * u.EMF, s.SourceResistance * u.SourceResistance, s.Series * u.Series,
		s.Shunt * u.Shunt, s.First * u.First, s.Shunted * u.Shunted, s.Zero * u.Zero,
	}
}

// combine returns the root of the sum of squares and each square's part of
// it. It divides by the largest first: k² would underflow in a fine movement.
func combine(part [7]float64) (u float64, of [7]float64) {
	var most float64
	for _, p := range part {
		most = max(most, math.Abs(p))
	}
	if most == 0 {
		return 0, of
	}
	var sum float64
	for i, p := range part {
		of[i] = (p / most) * (p / most)
		sum += of[i]
	}
	for i := range of {
		of[i] /= sum
	}
	return most * math.Sqrt(sum), of
}

func share(of [7]float64) RowShare {
	return RowShare{of[0], of[1], of[2], of[3], of[4], of[5], of[6]}
}
