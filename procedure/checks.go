package procedure

import (
	"cmp"
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/quantity"
)

func (b Bench) Check() error {
	if err := b.Validate(); err != nil {
		return err
	}
	if err := doubtBelow(b.Source.UEMF, b.Source.EMF); err != nil {
		return fmt.Errorf("source: %w", err)
	}
	if b.Galvanometer.Zero == "" {
		return fmt.Errorf(`galvanometer: zero is missing: it is "centre" or "left"`)
	}
	for _, label := range b.labels() {
		if err := short(label.of, *label.text, apparatus.MaxLabel); err != nil {
			return err
		}
	}
	return nil
}

// label is a text that names an instrument.
type label struct {
	of   string
	text *string
}

func (b *Bench) labels() []label {
	return []label{
		{"label", &b.Label}, {"source: label", &b.Source.Label}, {"galvanometer: label", &b.Galvanometer.Label},
		{"series_box: label", &b.SeriesBox.Label}, {"shunt_box: label", &b.ShuntBox.Label},
	}
}

func (Wired) Check() error { return nil }

func (s SourceMeasured) Check() error {
	return cmp.Or(
		inside("emf_V", s.EMF, 1e-6, apparatus.MaxEMF, "V"),
		insideIf("u_emf_V", s.UEMF, 0, apparatus.MaxEMF, "V"),
		doubtBelow(s.UEMF, s.EMF))
}

// doubtBelow refuses an EMF that may as well be nothing or its own opposite:
// it was not measured, and no clearance could be given by it.
func doubtBelow(u *float64, emf float64) error {
	if u == nil || *u < emf {
		return nil
	}
	return fmt.Errorf("u_emf_V is the standard uncertainty of emf_V and lies below it, %g V, not at %g", emf, *u)
}

func (z ZeroRead) Check() error {
	return inside("div", z.Div, -apparatus.MaxDivisions, apparatus.MaxDivisions, "divisions")
}

func (s SeriesSet) Check() error { return inside("ohm", s.Ohm, 0, apparatus.MaxResistance, "ohm") }
func (s ShuntSet) Check() error  { return inside("ohm", s.Ohm, 0, apparatus.MaxResistance, "ohm") }

func (r FirstRead) Check() error   { return checkReading(r.Div, r.OffScale) }
func (r ShuntedRead) Check() error { return checkReading(r.Div, r.OffScale) }

func checkReading(div *float64, off bool) error {
	if div == nil && !off {
		return fmt.Errorf("a reading needs div, or off_scale where the needle is beyond the end")
	}
	return insideIf("div", div, -apparatus.MaxDivisions, apparatus.MaxDivisions, "divisions")
}

func (RowKept) Check() error { return nil }

func (c Claim) Check() error {
	if c.Quantity != ClaimResistance && c.Quantity != ClaimMerit {
		return fmt.Errorf("claim: quantity is %q or %q", ClaimResistance, ClaimMerit)
	}
	if c.Row < 0 {
		return fmt.Errorf("claim: row is 0 for the mean or the number of a row, not %d", c.Row)
	}
	if _, err := c.written(); err != nil {
		return fmt.Errorf("claim: %w", err)
	}
	return short("claim: value", c.Value.Text, maxValue)
}

// unit is the unit in which the claimed quantity is stated.
func (c Claim) unit() quantity.Unit {
	if c.Quantity == ClaimMerit {
		return quantity.AmperePerDivision
	}
	return quantity.Ohm
}

// written reads the claimed value. A negative one is read as well: it is what
// a turned sign gives.
func (c Claim) written() (quantity.Written, error) {
	text, negative := strings.CutPrefix(c.Value.Text, "-")
	if !negative {
		text, negative = strings.CutPrefix(text, "−")
	}
	w, err := quantity.ParseWritten(text, c.unit())
	if negative {
		w.Value = -w.Value
	}
	return w, err
}

func (s Strike) Check() error {
	if s.Event < 1 {
		return fmt.Errorf("strike needs seq, the number of the event to strike out, 1 or more")
	}
	return short("strike: why", s.Why, MaxText)
}

func (n Note) Check() error {
	if n.Text == "" && n.Temperature == nil {
		return fmt.Errorf("note needs a text or temperature_C")
	}
	return cmp.Or(
		insideIf("temperature_C", n.Temperature, -60, 100, "°C"),
		short("note: text", n.Text, MaxText))
}

func (w Who) Check() error {
	if w.Names == "" && w.Group == "" {
		return fmt.Errorf("who needs names or group")
	}
	return cmp.Or(
		short("who: names", w.Names, MaxNames),
		short("who: group", w.Group, apparatus.MaxLabel))
}

func (Finish) Check() error { return nil }

// short checks that a text is no longer than limit characters; a longer one is
// refused rather than cut.
func short(name, text string, limit int) error {
	if n := utf8.RuneCountInString(text); n > limit {
		return fmt.Errorf("%s has %d characters, at most %d are taken", name, n, limit)
	}
	return nil
}

// inside checks lo <= v <= hi; NaN and the infinities fail.
func inside(name string, v, lo, hi float64, unit string) error {
	if v >= lo && v <= hi && !math.IsInf(v, 0) {
		return nil
	}
	return fmt.Errorf("%s lies between %g and %g %s, not %g", name, lo, hi, unit, v)
}

func insideIf(name string, v *float64, lo, hi float64, unit string) error {
	if v == nil {
		return nil
	}
	return inside(name, *v, lo, hi, unit)
}
