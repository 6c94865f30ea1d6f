package bench

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"example.org/halve/physics/apparatus"
)

// Hidden holds the true values of a bench. Its JSON is the hidden object of a
// bench file.
type Hidden struct {
	EMF              float64 `json:"emf_V"`                 // volt
	SourceResistance float64 `json:"source_resistance_ohm"` // ohm
	Resistance       float64 `json:"resistance_ohm"`        // G, ohm
	Merit            float64 `json:"merit_A_per_div"`       // k, A/div
	Zero             float64 `json:"zero_div"`              // where the needle rests without current, div
	// SeriesErrors and ShuntErrors are the relative errors of the boxes'
	// coils, in the boxes' own order; of a decade box those of its dials,
	// whose steps err alike.
	SeriesErrors []float64 `json:"series_errors,omitempty"`
	ShuntErrors  []float64 `json:"shunt_errors,omitempty"`
}

// With returns h with the values that a bench file's hidden object names in
// place of its own; what is left out or null stays. It fails for an unknown
// name and for values that cannot be those of the stated bench.
func (h Hidden) With(object []byte, stated apparatus.Bench) (Hidden, error) {
	h.SeriesErrors, h.ShuntErrors = slices.Clone(h.SeriesErrors), slices.Clone(h.ShuntErrors)
	d := json.NewDecoder(bytes.NewReader(object))
	d.DisallowUnknownFields()
	if err := d.Decode(&h); err != nil {
		return Hidden{}, fmt.Errorf("bench: hidden: %w", err)
	}
	return h, h.validate(stated)
}

// validate reports the first value that cannot be.
func (h Hidden) validate(stated apparatus.Bench) error {
	for _, v := range []struct {
		name      string
		v, lo, hi float64
	}{
		{"emf_V", h.EMF, 1e-6, apparatus.MaxEMF},
		{"source_resistance_ohm", h.SourceResistance, 0, apparatus.MaxResistance},
		{"resistance_ohm", h.Resistance, 1e-3, apparatus.MaxResistance},
		{"merit_A_per_div", h.Merit, 1e-15, 1e3},
		{"zero_div", h.Zero, -stated.Galvanometer.Divisions, stated.Galvanometer.Divisions},
	} {
		if !(v.v >= v.lo && v.v <= v.hi) {
			return fmt.Errorf("bench: hidden: %s lies between %g and %g, not %g", v.name, v.lo, v.hi, v.v)
		}
	}
	for _, b := range []struct {
		name   string
		errors []float64
		coils  int
	}{
		{"series_errors", h.SeriesErrors, len(stated.SeriesBox.Coils) + len(stated.SeriesBox.Dials)},
		{"shunt_errors", h.ShuntErrors, len(stated.ShuntBox.Coils) + len(stated.ShuntBox.Dials)},
	} {
		if len(b.errors) != b.coils {
			return fmt.Errorf("bench: hidden: %s has one relative error for each of the %d coils, not %d", b.name, b.coils, len(b.errors))
		}
		for _, e := range b.errors {
			if !(math.Abs(e) <= 0.5) {
				return fmt.Errorf("bench: hidden: %s lie between -0.5 and 0.5, not %g", b.name, e)
			}
		}
	}
	return nil
}

// What a bench has where nothing is stated: the usual school instruments
// (common practice, no source).
const (
	emfDoubt      = 0.05 // relative standard uncertainty of an EMF without one
	sourceLeast   = 0.2  // internal resistance of a cell, ohm
	sourceMost    = 1.5
	scaleDoubt    = 0.05   // relative standard uncertainty of a full scale without one
	scaleLeast    = 0.3e-3 // full-scale current, ampere: 10 µA a division on 30 …
	scaleMost     = 1.2e-3 // … to 40
	movementLeast = 50.0   // resistance of the movement, ohm
	movementMost  = 150.0
	movementDoubt = 0.1 // relative standard uncertainty of a stated resistance without one
	plateLimit    = 0.1 // no movement is off its stated full scale by more
	zeroLimit     = 0.5 // a zero is set to the mark it reads as, within this many steps
	mostDoubts    = 3.0 // nothing is further from what is stated than so many standard uncertainties
	mostOff       = 0.9 // nor, as a part of it, than this: EMF and movement stay above nought
)

// Draw draws true values within what is stated of a bench: every coil evenly
// within its tolerance; EMF, source resistance, full scale and movement about
// their stated values by a normal law with the stated standard uncertainty,
// cut off at three of them (a full scale also at 10 %, for safety counts on
// no more). What is not stated is a school instrument's: G evenly 50 to
// 150 Ω, full scale 0.3 to 1.2 mA evenly in its logarithm (10 to 40 µA a
// division on a scale of 30), a cell of 0.2 to 1.5 Ω. The zero stands evenly
// within half a step of the zero mark, on a left-zero scale not below it.
func Draw(stated apparatus.Bench, r *rand.Rand) Hidden {
	src, g := stated.Source, stated.Galvanometer
	h := Hidden{
		EMF:              about(r, src.EMF, or(src.UEMF, emfDoubt*src.EMF), mostOff),
		SourceResistance: evenly(r, sourceLeast, sourceMost),
		Resistance:       evenly(r, movementLeast, movementMost),
	}
	if src.Resistance != nil {
		x := *src.Resistance
		h.SourceResistance = max(0, x+r.NormFloat64()*or(src.UResistance, x/2))
	}
	if g.Resistance != nil && *g.Resistance > 0 {
		h.Resistance = about(r, *g.Resistance, or(g.UResistance, movementDoubt**g.Resistance), mostOff)
	}
	fullScale := scaleLeast * math.Pow(scaleMost/scaleLeast, r.Float64())
	if g.FullScale != nil {
		fullScale = about(r, *g.FullScale, or(g.UFullScale, scaleDoubt**g.FullScale), plateLimit)
	}
	h.Merit = fullScale / g.Divisions
	h.Zero = zeroLimit * g.Step() * evenly(r, -1, 1)
	if !g.Centre() {
		h.Zero = math.Abs(h.Zero)
	}
	h.SeriesErrors = coilErrors(r, stated.SeriesBox)
	h.ShuntErrors = coilErrors(r, stated.ShuntBox)
	return h
}

func evenly(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

func or(stated *float64, otherwise float64) float64 {
	if stated != nil {
		return *stated
	}
	return otherwise
}

// about draws from the normal law of mean x and standard deviation u, cut off
// at three u and at the part most of x.
func about(r *rand.Rand, x, u, most float64) float64 {
	limit := min(mostDoubts*u, most*x)
	for range 100 {
		if d := u * r.NormFloat64(); math.Abs(d) <= limit {
			return x + d
		}
	}
	return x + evenly(r, -limit, limit) // u is so large that the law is flat within the limit
}

func coilErrors(r *rand.Rand, b apparatus.Box) []float64 {
	e := make([]float64, len(b.Coils)+len(b.Dials))
	for i := range e {
		e[i] = b.Tolerance * evenly(r, -1, 1)
	}
	return e
}
