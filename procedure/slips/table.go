package slips

// The ids of the slips (interface contract; RoundedEarly is an addition).
const (
	SumForDifference     = "sum-for-difference"
	ShuntAlone           = "shunt-alone"
	FactorLeftOut        = "factor-left-out"
	UpsideDown           = "upside-down"
	SignTurned           = "sign-turned"
	HalfFormulaUsed      = "half-formula-used"
	DecimalSlip          = "decimal-slip"
	ExponentSign         = "exponent-sign"
	PrefixSlip           = "prefix-slip"
	HalfDeflectionUsed   = "half-deflection-used"
	ResistanceLeftOut    = "resistance-left-out"
	Inverse              = "inverse"
	FullScaleForDivision = "full-scale-for-division"
	DeflectionTwice      = "deflection-twice"
	ShuntedLoop          = "shunted-loop"
	WrongRow             = "wrong-row"
	DigitsExchanged      = "digits-exchanged"
	DoubledOrHalved      = "doubled-or-halved"
	FollowsFromOwn       = "follows-from-own"
	MeanSlip             = "mean-slip"
	TooManyDigits        = "too-many-digits"
	RoundedEarly         = "rounded-early"
	Unexplained          = "unexplained"
)

// kind is a slip with how often it is behind a wrong value, as a weight, for
// G and for k, and what puts it right.
type kind struct {
	id                string
	resistance, merit float64
	reason            string // for the weights; all common practice, no source
	mend              string
}

// table holds every slip and its weights. They are rough shares of wrong hand
// calculations (common practice, no source): only their order matters much,
// and only where two slips give the same value.
var table = []kind{
	{ShuntAlone, 0.12, 0.01, "S is so near G that it is taken for it; in k it can hardly be seen",
		"S is only the first approximation to G: the series box is in parallel with the movement too."},
	{HalfFormulaUsed, 0.12, 0, "the textbook gives the formula for the exact half only",
		"The ratio that was read goes into the formula: G = R·S·(θ1 − θ2)/(θ2·(R + S) − θ1·S)."},
	{SumForDifference, 0.10, 0.01, "the parallel-resistance formula comes to mind",
		"The bottom line is a difference, R − S."},
	{FactorLeftOut, 0.08, 0.05, "a step of the calculator work is skipped",
		"Write the line out with all its factors, and with units: they show what is missing."},
	{UpsideDown, 0.05, 0.01, "1/G stands in the derivation and is not inverted at the end",
		"The derivation gives 1/G first; it has to be turned over."},
	{SignTurned, 0.04, 0.02, "terms taken off in the wrong order",
		"Mind the order of the terms, and the sign between them."},
	{DecimalSlip, 0.14, 0.10, "the commonest slip of all arithmetic",
		"Estimate the size before calculating."},
	{PrefixSlip, 0.08, 0.15, "boxes are marked in ohm and kilo-ohm, the source in volt, currents are in microampere",
		"Put every quantity in as V, A and Ω, then give the answer its prefix."},
	{ExponentSign, 0.01, 0.04, "10⁻⁵ copied as 10⁵ from a calculator",
		"A current per division is far below an ampere: the power of ten is negative."},
	{HalfDeflectionUsed, 0, 0.15, "two deflections stand in the row, and the half is the one last written",
		"k belongs to the first deflection: only with K2 open does the whole current go through the movement."},
	{ResistanceLeftOut, 0.01, 0.12, "G is small beside R; the source's resistance still smaller",
		"The whole loop takes part: R + G, with the source's resistance where it counts."},
	{FullScaleForDivision, 0, 0.08, "the current is found and the last division forgotten",
		"k is the current for one division: the current divided by the deflection it makes."},
	{DeflectionTwice, 0, 0.05, "E/(R + G)·θ without the brackets on a calculator",
		"θ stands below the line: k = E/((R + G)·θ)."},
	{Inverse, 0, 0.05, "current sensitivity, divisions per ampere, is the reciprocal of k",
		"k is amperes per division; divisions per ampere is the current sensitivity."},
	{ShuntedLoop, 0, 0.03, "the circuit with K2 closed is in mind",
		"With θ1 goes the loop with K2 open, R + G."},
	{DoubledOrHalved, 0.04, 0.04, "a stray factor of two from the half",
		"Look for a 2 that has no business there."},
	{MeanSlip, 0.40, 0.40, "adding up and dividing by the wrong number",
		"Add the values of all rows and divide by how many there are."},
	{FollowsFromOwn, 0.30, 0.40, "the next line of a calculation rests on the one before",
		"The method is right; put the earlier value right and work it out again."},
	{RoundedEarly, 0.05, 0.05, "a calculator's figure written down short and carried on",
		"Carry one figure more than you will give, and round at the end."},
	{WrongRow, 0.05, 0.04, "the eye slips to the line below",
		"Read the line of the table again with a ruler under it."},
	{DigitsExchanged, 0.05, 0.04, "two figures written in the wrong order",
		"Compare what was put in with the table, figure by figure."},
}

// unknownWeight is the share of wrong values that no slip here explains, and
// unknownDensity how thickly they lie, per unit of relative change; about as
// if spread evenly over a factor of e on either side (common practice, no
// source).
const (
	unknownWeight  = 0.10
	unknownDensity = 0.5
)

// of returns the kind of an id.
func of(id string) kind {
	for _, k := range table {
		if k.id == id {
			return k
		}
	}
	return kind{}
}

func (k kind) weight(q Quantity) float64 {
	if q == Merit {
		return k.merit
	}
	return k.resistance
}
