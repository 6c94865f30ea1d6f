// Package metercheck is the second procedure: a panel meter is compared with a
// better one and judged against its accuracy class. It stands on the same
// spine as half deflection: a practical is a list of events, Fold gives the
// state, Advise the counsel, Preview the counsel that would follow. What is its
// own is the bench and the point; zero, wired, strike, note, who and finish are
// those of package procedure.
package metercheck

import (
	"fmt"
	"math"
	"unicode/utf8"

	"example.org/halve/physics/accuracy"
	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/panel"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/safety"
)

// Name is the name of the procedure in a record's header and on the command
// line.
const Name = "meter-check"

// The kinds of meter that can be checked.
const (
	Ammeter   = "ammeter"
	Voltmeter = "voltmeter"
)

// Bench states the meter under test, the reference and the source; a later one
// corrects the first. Of the keys that end in _A and _V those of the meter's
// kind are taken.
type Bench struct {
	Label      string         `json:"label,omitempty"`
	MeterKind  string         `json:"kind"`
	RangeA     *float64       `json:"range_A,omitempty"` // what the end mark stands for
	RangeV     *float64       `json:"range_V,omitempty"`
	Divisions  float64        `json:"divisions"`                // from zero to the end mark, one side
	Zero       apparatus.Zero `json:"zero,omitempty"`           // empty means at the left
	Class      float64        `json:"class_index,omitempty"`    // 0 for none marked
	Resolution float64        `json:"resolution_div,omitempty"` // the step to which readings are estimated; 0 means a fifth of a division
	FiducialA  *float64       `json:"fiducial_A,omitempty"`     // what errors are in percent of, see accuracy.Meter
	FiducialV  *float64       `json:"fiducial_V,omitempty"`
	Reference  Reference      `json:"reference"`
	Source     Supply         `json:"source,omitzero"`
}

// Reference is the meter that is trusted. Its standard uncertainty is half of
// an expanded one (95 %) on its certificate.
type Reference struct {
	Label string   `json:"label,omitempty"`
	UA    *float64 `json:"u_A,omitempty"`
	UV    *float64 `json:"u_V,omitempty"`
	MaxA  *float64 `json:"max_A,omitempty"` // its range or rating
	MaxV  *float64 `json:"max_V,omitempty"`
}

// Supply is what drives both meters.
type Supply struct {
	Label string   `json:"label,omitempty"`
	MaxA  *float64 `json:"max_A,omitempty"` // the most it can drive
	MaxV  *float64 `json:"max_V,omitempty"`
}

// The directions from which a point is reached: rising from nearer the zero,
// falling from further out.
const (
	Rising  = "rising"
	Falling = "falling"
)

// Point is one comparison: what the pointer showed, in divisions, and what the
// reference showed.
type Point struct {
	Direction  string   `json:"direction"`
	Div        float64  `json:"reading_div"`
	ReferenceA *float64 `json:"reference_A,omitempty"`
	ReferenceV *float64 `json:"reference_V,omitempty"`
	Tapped     bool     `json:"tapped,omitempty"` // read after a light tap on the case
}

// KindPoint is the name of a point in a record and on the line protocol.
const KindPoint = "point"

// Kind implements procedure.Body.
func (Bench) Kind() string { return procedure.KindBench }

// Kind implements procedure.Body.
func (Point) Kind() string { return KindPoint }

// Words is the vocabulary of the meter check.
func Words() procedure.Vocabulary {
	return procedure.Vocabulary{
		procedure.KindBench: {Empty: func() any { return new(Bench) }, Required: []string{"kind", "divisions", "reference"}},
		KindPoint:           {Empty: func() any { return new(Point) }, Required: []string{"direction", "reading_div"}},
	}
}

// Clean makes every text in it harmless.
func (b Bench) Clean() procedure.Body {
	for _, text := range []*string{&b.Label, &b.MeterKind, (*string)(&b.Zero), &b.Reference.Label, &b.Source.Label} {
		*text = procedure.CleanText(*text, len(*text))
	}
	return b
}

// Clean makes every text in it harmless.
func (p Point) Clean() procedure.Body {
	p.Direction = procedure.CleanText(p.Direction, len(p.Direction))
	return p
}

// maxValue bounds what is taken for a current or a voltage, A or V.
const maxValue = 1e6

// Check reports what cannot be true of a bench.
func (b Bench) Check() error {
	key := map[string]string{Ammeter: "A", Voltmeter: "V"}[b.MeterKind]
	if key == "" {
		return fmt.Errorf("bench: kind is %q or %q", Ammeter, Voltmeter)
	}
	// of are the value of the kind and that of the other, which has no place.
	of := func(name string, a, v *float64, required bool, lo float64) error {
		own, other := a, v
		if key == "V" {
			own, other = v, a
		}
		switch {
		case other != nil:
			return fmt.Errorf("bench: the meter is %s %s: %s_%s is expected", article(b.MeterKind), b.MeterKind, name, key)
		case own == nil && required:
			return fmt.Errorf("bench needs %s_%s", name, key)
		case own != nil && !(*own >= lo && *own <= maxValue):
			return fmt.Errorf("bench: %s_%s lies between %g and %g, not %g", name, key, lo, maxValue, *own)
		}
		return nil
	}
	for name, label := range map[string]string{"label": b.Label, "reference: label": b.Reference.Label, "source: label": b.Source.Label} {
		if n := utf8.RuneCountInString(label); n > apparatus.MaxLabel {
			return fmt.Errorf("bench: %s has %d characters, at most %d are taken", name, n, apparatus.MaxLabel)
		}
	}
	for _, err := range []error{
		of("range", b.RangeA, b.RangeV, true, 1e-9),
		of("fiducial", b.FiducialA, b.FiducialV, false, 1e-9),
		of("reference: u", b.Reference.UA, b.Reference.UV, true, 1e-12),
		of("reference: max", b.Reference.MaxA, b.Reference.MaxV, false, 1e-9),
	} {
		if err != nil {
			return err
		}
	}
	// A source is stated by what matters; a supply's plate often has both.
	for _, v := range []struct {
		name string
		v    *float64
	}{{"source: max_A", b.Source.MaxA}, {"source: max_V", b.Source.MaxV}} {
		if v.v != nil && !(*v.v >= 1e-9 && *v.v <= maxValue) {
			return fmt.Errorf("bench: %s lies between 1e-09 and %g, not %g", v.name, maxValue, *v.v)
		}
	}
	switch {
	case b.Zero != "" && b.Zero != apparatus.LeftZero && b.Zero != apparatus.CentreZero:
		return fmt.Errorf("bench: zero is %q or %q", apparatus.LeftZero, apparatus.CentreZero)
	case b.Resolution != 0 && !(b.Resolution >= 1e-3 && b.Resolution <= b.Divisions/2):
		return fmt.Errorf("bench: resolution_div lies between 0.001 and half the scale, not %g", b.Resolution)
	case b.UReference() > b.Meter().Range:
		return fmt.Errorf("bench: the reference's standard uncertainty is more than the meter's range")
	}
	if err := b.Meter().Validate(); err != nil {
		return fmt.Errorf("bench: %w", err)
	}
	return nil
}

func article(kind string) string {
	if kind == Ammeter {
		return "an"
	}
	return "a"
}

// Check reports what cannot be true of a point.
func (p Point) Check() error {
	if p.Direction != Rising && p.Direction != Falling {
		return fmt.Errorf("point: direction is %q or %q", Rising, Falling)
	}
	if (p.ReferenceA == nil) == (p.ReferenceV == nil) {
		return fmt.Errorf("point needs what the reference shows: reference_A of an ammeter, reference_V of a voltmeter")
	}
	if v := p.Reference(); !(math.Abs(v) <= maxValue) {
		return fmt.Errorf("point: the reference lies between %g and %g, not %g", -maxValue, maxValue, v)
	}
	if !(math.Abs(p.Div) <= apparatus.MaxDivisions) {
		return fmt.Errorf("point: reading_div lies between %g and %g, not %g", float64(-apparatus.MaxDivisions), float64(apparatus.MaxDivisions), p.Div)
	}
	return nil
}

// Reference is what the reference showed, A or V.
func (p Point) Reference() float64 {
	if p.ReferenceA != nil {
		return *p.ReferenceA
	}
	if p.ReferenceV != nil {
		return *p.ReferenceV
	}
	return 0
}

// InAmperes reports whether an ammeter is checked.
func (b Bench) InAmperes() bool { return b.MeterKind == Ammeter }

// Unit is the unit of the range.
func (b Bench) Unit() quantity.Unit {
	if b.InAmperes() {
		return quantity.Ampere
	}
	return quantity.Volt
}

// At is a point of this bench.
func (b Bench) At(direction string, div, reference float64, tapped bool) Point {
	p := Point{Direction: direction, Div: div, Tapped: tapped}
	if b.InAmperes() {
		p.ReferenceA = &reference
	} else {
		p.ReferenceV = &reference
	}
	return p
}

// own is the value of the bench's kind, 0 where none is stated.
func (b Bench) own(a, v *float64) float64 {
	if !b.InAmperes() {
		a = v
	}
	if a == nil {
		return 0
	}
	return *a
}

// Range is what the end mark stands for, A or V.
func (b Bench) Range() float64 { return b.own(b.RangeA, b.RangeV) }

// UReference is the reference's standard uncertainty, A or V.
func (b Bench) UReference() float64 { return b.own(b.Reference.UA, b.Reference.UV) }

// ReferenceMax is the most that the reference is rated for, A or V; 0 where
// that is not stated.
func (b Bench) ReferenceMax() float64 { return b.own(b.Reference.MaxA, b.Reference.MaxV) }

// SourceMax is the most that the source can drive, A or V; 0 where that is not
// stated.
func (b Bench) SourceMax() float64 { return b.own(b.Source.MaxA, b.Source.MaxV) }

// Centre reports whether the zero lies in the middle of the scale.
func (b Bench) Centre() bool { return b.Zero == apparatus.CentreZero }

// Cautions are what can hurt or be hurt at a step with these instruments, the
// most important first.
func (b Bench) Cautions(step procedure.Step) []safety.Caution {
	most := max(b.Range(), b.SourceMax(), 0)
	of := safety.MeterBench{Ammeter: b.InAmperes(), Amperes: most}
	switch {
	case !b.InAmperes():
		of.Amperes, of.Volts = 0, most
	case b.Source.MaxV != nil:
		of.Volts = *b.Source.MaxV
	}
	return safety.MeterCautions(string(step), of)
}

// Step is the step to which readings are estimated, div; a fifth of a division
// where none is stated (common practice, no source).
func (b Bench) Step() float64 {
	if b.Resolution == 0 {
		return 0.2
	}
	return b.Resolution
}

// Meter is the meter under test.
func (b Bench) Meter() accuracy.Meter {
	return accuracy.Meter{Range: b.Range(), Divisions: b.Divisions, Centre: b.Centre(), Fiducial: b.own(b.FiducialA, b.FiducialV), Class: b.Class}
}

// doubt is how well the two instruments can be read.
func (b Bench) doubt() accuracy.Doubt {
	return accuracy.Doubt{Reference: b.UReference(), Reading: panel.UReading(b.Step())}
}

// written is a value in the meter's unit, so finely that the reference's
// uncertainty shows.
func (b Bench) written(v float64) string {
	digits := 4
	if u := b.UReference(); u > 0 && v != 0 {
		digits = min(8, max(3, int(math.Ceil(math.Log10(math.Abs(v)/u)))+1))
	}
	return quantity.Format(v, b.Unit(), digits)
}

// Invented is the bench that states an invented meter of package panel.
func Invented(i panel.Invention) Bench {
	b := Bench{MeterKind: Voltmeter, Label: i.Label, Divisions: i.Divisions, Zero: apparatus.LeftZero, Class: i.Class, Resolution: i.Step}
	b.Reference.Label = i.ReferenceLabel
	if i.Centre {
		b.Zero = apparatus.CentreZero
	}
	if i.Ammeter {
		b.MeterKind = Ammeter
		b.RangeA, b.Reference.UA, b.Source.MaxA = &i.Range, &i.UReference, &i.SourceMax
	} else {
		b.RangeV, b.Reference.UV, b.Source.MaxV = &i.Range, &i.UReference, &i.SourceMax
	}
	return b
}

// Stated is the bench as package panel simulates one.
func (b Bench) Stated() panel.Stated {
	return panel.Stated{Meter: b.Meter(), Step: b.Step(), UReference: b.UReference(), SourceMax: b.SourceMax()}
}
