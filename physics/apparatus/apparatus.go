// Package apparatus describes the instruments that lie on the table: the
// source, the galvanometer and the two resistance boxes, as their plates and
// papers state them. It knows what a box can be set to and which plugs make a
// value; it measures nothing.
//
// The field tags are the names of the record's bench event, so that a bench
// is written and read in one way only. A pointer that is nil means "not
// known"; an unknown quantity is never a zero.
package apparatus

import (
	"cmp"
	"fmt"
	"math"
)

// Source is the cell or supply that drives the loop.
type Source struct {
	Label       string   `json:"label,omitempty"`
	EMF         float64  `json:"emf_V"`                      // open-circuit voltage, volt, above zero
	UEMF        *float64 `json:"u_emf_V,omitempty"`          // its standard uncertainty, volt
	Resistance  *float64 `json:"resistance_ohm,omitempty"`   // internal resistance, ohm
	UResistance *float64 `json:"u_resistance_ohm,omitempty"` // its standard uncertainty, ohm
	MaxCurrent  *float64 `json:"max_A,omitempty"`            // the most it may deliver, ampere
}

// Zero tells where the scale has its zero.
type Zero string

// The two kinds of scale.
const (
	CentreZero Zero = "centre" // zero in the middle; readings to the right are positive
	LeftZero   Zero = "left"   // zero at the left end stop; below zero the pointer is against the stop
)

// Galvanometer is the movement under test.
type Galvanometer struct {
	Label       string   `json:"label,omitempty"`
	Divisions   float64  `json:"divisions"`                  // from zero to the end mark, one side
	Zero        Zero     `json:"zero,omitempty"`             // empty means centre
	Resolution  float64  `json:"resolution_div,omitempty"`   // the step to which readings are estimated, div; 0 means half a division
	FullScale   *float64 `json:"full_scale_A,omitempty"`     // current for the end mark, ampere
	UFullScale  *float64 `json:"u_full_scale_A,omitempty"`   // its standard uncertainty, ampere
	Resistance  *float64 `json:"resistance_ohm,omitempty"`   // from the plate or an earlier record, ohm
	UResistance *float64 `json:"u_resistance_ohm,omitempty"` // its standard uncertainty, ohm
}

// Bench is everything on the table.
type Bench struct {
	Source       Source       `json:"source"`
	Galvanometer Galvanometer `json:"galvanometer"`
	SeriesBox    Box          `json:"series_box"`
	ShuntBox     Box          `json:"shunt_box"`
	Label        string       `json:"label,omitempty"`
}

// Validate reports the first thing that cannot be true of a bench, naming the
// instrument.
func (b Bench) Validate() error {
	named := func(what string, err error) error {
		if err == nil {
			return nil
		}
		return fmt.Errorf("%s: %w", what, err)
	}
	return cmp.Or(
		named("source", b.Source.Validate()),
		named("galvanometer", b.Galvanometer.Validate()),
		named("series_box", b.SeriesBox.Validate()),
		named("shunt_box", b.ShuntBox.Validate()))
}

// Limits within which a bench description is taken for a school or workshop
// bench and not for a slip of the pen (common practice, no source).
const (
	MaxEMF        = 1000.0 // V; what is unsafe is for package safety to say
	MaxResistance = 1e9    // ohm
	MaxDivisions  = 1000.0
	MaxCoils      = 24
	MaxLabel      = 200 // runes
)

// Step returns the step to which readings are estimated, in divisions: the
// stated one, or half a division where none is stated (common practice).
func (g Galvanometer) Step() float64 {
	if g.Resolution > 0 {
		return g.Resolution
	}
	return 0.5
}

// Centre reports whether the scale has its zero in the middle.
func (g Galvanometer) Centre() bool { return g.Zero != LeftZero }

// Validate reports the first thing that cannot be true of a source.
func (s Source) Validate() error {
	if err := within("emf_V", &s.EMF, math.SmallestNonzeroFloat64, MaxEMF, "V"); err != nil {
		return err
	}
	return cmp.Or(
		within("u_emf_V", s.UEMF, 0, MaxEMF, "V"),
		within("resistance_ohm", s.Resistance, 0, MaxResistance, "ohm"),
		within("u_resistance_ohm", s.UResistance, 0, MaxResistance, "ohm"),
		within("max_A", s.MaxCurrent, math.SmallestNonzeroFloat64, 1e4, "A"))
}

// Validate reports the first thing that cannot be true of a galvanometer.
func (g Galvanometer) Validate() error {
	if err := within("divisions", &g.Divisions, 2, MaxDivisions, "divisions"); err != nil {
		return err
	}
	if g.Zero != "" && g.Zero != CentreZero && g.Zero != LeftZero {
		return fmt.Errorf(`zero is "centre" or "left", not %q`, g.Zero)
	}
	if g.Resolution != 0 {
		if err := within("resolution_div", &g.Resolution, 1e-4, g.Divisions/4, "divisions"); err != nil {
			return err
		}
	}
	return cmp.Or(
		within("full_scale_A", g.FullScale, 1e-12, 1e3, "A"),
		within("u_full_scale_A", g.UFullScale, 0, 1e3, "A"),
		within("resistance_ohm", g.Resistance, 0, MaxResistance, "ohm"),
		within("u_resistance_ohm", g.UResistance, 0, MaxResistance, "ohm"))
}

// within checks lo <= *v <= hi; nil passes. NaN never passes.
func within(name string, v *float64, lo, hi float64, unit string) error {
	if v == nil || *v >= lo && *v <= hi {
		return nil
	}
	if lo == math.SmallestNonzeroFloat64 {
		return fmt.Errorf("%s is above 0 and at most %g %s, not %g", name, hi, unit, *v)
	}
	return fmt.Errorf("%s lies between %g and %g %s, not %g", name, lo, hi, unit, *v)
}
