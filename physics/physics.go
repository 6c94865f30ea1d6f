// Package physics holds the laws of the half-deflection measurement in closed
// form: a source of EMF E and internal resistance r drives a series box R and
// a galvanometer of resistance G; a shunt box S can be laid across the
// galvanometer. The galvanometer deflects by θ = i/k divisions for a current
// i, where k is its figure of merit.
//
// Every formula follows from Kirchhoff's two laws for that circuit; package
// circuit solves the same circuit numerically and its tests hold the two
// against each other. R′ = R + r, the series box and the source together, is
// called the branch total.
//
// Units are volt, ohm, ampere, division (div) and ampere per division. Readings
// are magnitudes, counted from where the needle rests without current: with the
// source leads reversed the reading on the other side is entered without its
// sign. No function returns NaN or an infinity; each returns an error instead.
package physics

import (
	"cmp"
	"errors"
	"fmt"
	"math"
)

// What makes readings impossible for any galvanometer, or a circuit
// unanswerable. Each is wrapped with the figures in question; test with
// errors.Is.
var (
	// ErrNoDeflection: θ1 is not above zero.
	ErrNoDeflection = errors.New("the first reading must be above zero")
	// ErrShuntedZero: θ2 is not above zero, although a shunt above 0 Ω always
	// leaves the galvanometer a share of the current.
	ErrShuntedZero = errors.New("the shunted reading must be above zero")
	// ErrNoFall: θ2 is not below θ1, although a shunt always takes current.
	ErrNoFall = errors.New("the shunted reading must be below the first")
	// ErrFallTooDeep: θ2/θ1 ≤ S/(R′+S). Even a galvanometer of endless
	// resistance would read more than that with this shunt.
	ErrFallTooDeep = errors.New("the shunted reading is too low for any galvanometer")
	// ErrShorted: two of R′, G and S are zero, so that the source is shorted or
	// the current divides between two shorts.
	ErrShorted = errors.New("of R′, G and S only one may be zero")
	// ErrRange: the answer cannot be held in a floating-point number.
	ErrRange = errors.New("the answer is beyond the range of numbers")
)

// DomainError reports an input that is NaN, infinite or of impossible sign.
type DomainError struct {
	Quantity string  // what it is, such as "shunt resistance"
	Value    float64 // what was given
	Want     string  // what is possible, such as "above 0 Ω"
}

func (e *DomainError) Error() string {
	return fmt.Sprintf("%s is a number %s, not %g", e.Quantity, e.Want, e.Value)
}

// positive wants 0 < v < ∞.
func positive(quantity, unit string, v float64) error {
	if v > 0 && v <= math.MaxFloat64 {
		return nil
	}
	return &DomainError{quantity, v, "above 0 " + unit}
}

// notNegative wants 0 ≤ v < ∞.
func notNegative(quantity, unit string, v float64) error {
	if v >= 0 && v <= math.MaxFloat64 {
		return nil
	}
	return &DomainError{quantity, v, "of 0 " + unit + " or more"}
}

// answer passes on a result that is positive by theory, or says that the
// arithmetic left the range of numbers.
func answer(v float64) (float64, error) {
	if v > 0 && v <= math.MaxFloat64 {
		return v, nil
	}
	return 0, ErrRange
}

// checkLoop checks what every loop has: E > 0, R′ ≥ 0, G ≥ 0, R′ + G > 0.
func checkLoop(emf, branch, movement float64) error {
	return cmp.Or(
		positive("EMF", "V", emf),
		notNegative("branch total", "Ω", branch),
		notNegative("galvanometer resistance", "Ω", movement),
		positive("loop resistance", "Ω", branch+movement))
}

// checkReadings checks 0 < θ2 < θ1.
func checkReadings(first, shunted float64) error {
	switch {
	case math.IsNaN(first) || math.IsInf(first, 0):
		return &DomainError{"first reading", first, "above 0 div"}
	case math.IsNaN(shunted) || math.IsInf(shunted, 0):
		return &DomainError{"shunted reading", shunted, "above 0 div"}
	case first <= 0:
		return fmt.Errorf("%w: θ1 is %g div", ErrNoDeflection, first)
	case shunted <= 0:
		return fmt.Errorf("%w: θ2 is %g div", ErrShuntedZero, shunted)
	case shunted >= first:
		return fmt.Errorf("%w: θ2 is %g div and θ1 %g div", ErrNoFall, shunted, first)
	}
	return nil
}

// BranchTotal returns R′ = R + r, in ohm, for a series box R ≥ 0 and a source
// of internal resistance r ≥ 0.
func BranchTotal(series, source float64) (float64, error) {
	err := cmp.Or(
		notNegative("series resistance", "Ω", series),
		notNegative("source resistance", "Ω", source),
		notNegative("branch total", "Ω", series+source))
	if err != nil {
		return 0, err
	}
	return series + source, nil
}

// Currents are the currents of the circuit with the shunt across the
// galvanometer, in ampere. Loop = Movement + Shunt.
type Currents struct {
	Loop     float64 // through the source and the series box
	Movement float64 // through the galvanometer
	Shunt    float64 // through the shunt box
}

// ShuntedCurrents returns the currents with the shunt branch closed. With
// Q = R′(G + S) + G S,
//
//	loop = E (G + S) / Q,  movement = E S / Q,  shunt = E G / Q
//
// for E > 0 and R′, G, S ≥ 0, of which only one may be zero (ErrShorted).
// S = 0 takes all the current past the galvanometer, G = 0 past the shunt.
func ShuntedCurrents(emf, branch, movement, shunt float64) (Currents, error) {
	if err := cmp.Or(checkLoop(emf, branch, movement), notNegative("shunt resistance", "Ω", shunt)); err != nil {
		return Currents{}, err
	}
	q := branch*(movement+shunt) + movement*shunt
	if q == 0 {
		return Currents{}, ErrShorted
	}
	c := Currents{
		Loop:     emf * (movement + shunt) / q,
		Movement: emf * shunt / q,
		Shunt:    emf * movement / q,
	}
	// Each figure is finite, their products need not be.
	if math.IsInf(q, 0) || !(c.Loop+c.Movement+c.Shunt <= math.MaxFloat64) {
		return Currents{}, fmt.Errorf("shunted currents: %w", ErrRange)
	}
	return c, nil
}

// FirstDeflection returns the reading with the shunt branch open, in divisions,
//
//	θ1 = E / (k (R′ + G))
//
// for E > 0, k > 0 in A/div, R′ ≥ 0 and G ≥ 0, not both zero. G = 0 gives the
// farthest that any galvanometer would go. It knows no end of scale.
func FirstDeflection(emf, branch, movement, merit float64) (float64, error) {
	if err := cmp.Or(checkLoop(emf, branch, movement), positive("figure of merit", "A/div", merit)); err != nil {
		return 0, err
	}
	return answer(emf / (branch + movement) / merit)
}

// ShuntedDeflection returns the reading with the shunt branch closed, in
// divisions,
//
//	θ2 = E S / (k (R′(G + S) + G S))
//
// for k > 0, in A/div; the rest as for ShuntedCurrents. S = 0 gives 0.
func ShuntedDeflection(emf, branch, movement, shunt, merit float64) (float64, error) {
	if err := positive("figure of merit", "A/div", merit); err != nil {
		return 0, err
	}
	c, err := ShuntedCurrents(emf, branch, movement, shunt)
	if err != nil {
		return 0, err
	}
	if θ := c.Movement / merit; !math.IsInf(θ, 0) {
		return θ, nil
	}
	return 0, fmt.Errorf("shunted deflection: %w", ErrRange)
}

// TheveninResistance returns the resistance into which the shunt looks back,
// R′ and G in parallel, in ohm,
//
//	P = S (θ1 − θ2) / θ2
//
// from one pair of readings, for S > 0 and 0 < θ2 < θ1. It needs neither E nor
// r, R, G or k, and it is also the next shunt to try for the half: S = P
// halves the reading. Errors are ErrNoDeflection, ErrShuntedZero, ErrNoFall.
func TheveninResistance(shunt, first, shunted float64) (float64, error) {
	if err := cmp.Or(positive("shunt resistance", "Ω", shunt), checkReadings(first, shunted)); err != nil {
		return 0, err
	}
	return answer(shunt * (first - shunted) / shunted)
}

// Resistance returns the galvanometer's resistance from one pair of readings,
// in ohm. With ρ = θ2/θ1,
//
//	G = R′ S (1 − ρ) / (ρ (R′ + S) − S)
//
// for R′ > 0 and S > 0; at ρ = ½ this is G = R′ S / (R′ − S). It does not need
// the half, and neither E nor k.
//
// A G exists only where θ1 > 0, 0 < θ2 < θ1 and ρ > S/(R′ + S); the errors
// ErrNoDeflection, ErrShuntedZero, ErrNoFall and ErrFallTooDeep say which of
// them fails.
func Resistance(branch, shunt, first, shunted float64) (float64, error) {
	err := cmp.Or(
		positive("branch total", "Ω", branch),
		positive("shunt resistance", "Ω", shunt),
		checkReadings(first, shunted))
	if err != nil {
		return 0, err
	}
	// θ1 and θ2 instead of ρ: both differences are then of numbers as read.
	rest := shunted*(branch+shunt) - shunt*first
	if rest <= 0 {
		return 0, fmt.Errorf("%w: with R′ = %g Ω and S = %g Ω it stays above %.4g div, and θ2 is %g div",
			ErrFallTooDeep, branch, shunt, first*(shunt/(branch+shunt)), shunted)
	}
	return answer(branch * shunt * (first - shunted) / rest)
}

// Merit returns the figure of merit, the current per division, in A/div,
//
//	k = E / ((R′ + G) θ1)
//
// for E > 0, R′ ≥ 0, G ≥ 0, not both zero, and θ1 > 0. An error in E enters k
// in full: readings alone tell only E/k.
func Merit(emf, branch, movement, first float64) (float64, error) {
	if err := checkLoop(emf, branch, movement); err != nil {
		return 0, err
	}
	if math.IsNaN(first) || math.IsInf(first, 0) {
		return 0, &DomainError{"first reading", first, "above 0 div"}
	}
	if first <= 0 {
		return 0, fmt.Errorf("%w: θ1 is %g div", ErrNoDeflection, first)
	}
	return answer(emf / (branch + movement) / first)
}
