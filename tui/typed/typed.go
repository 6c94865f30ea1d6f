// Package typed reads what a person types or a table holds: settings,
// readings, the source. Every way in that takes text reads it here, so that
// the same words mean the same wherever they are written.
package typed

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
)

// Setting reads what a box is set to: an amount, or the plugs that are out
// with plus signs between them, 5000+2000+200. A sign at the end is passed
// over, since more is being typed. Plugs is nil where an amount was given.
func Setting(text string) (ohm float64, plugs []float64, err error) {
	if !strings.Contains(text, "+") || strings.ContainsAny(text, "eE") {
		ohm, err = quantity.Parse(text, quantity.Ohm)
		return ohm, nil, err
	}
	for part := range strings.SplitSeq(text, "+") {
		if strings.TrimSpace(part) == "" {
			continue
		}
		v, err := quantity.Parse(part, quantity.Ohm)
		if err != nil {
			return 0, nil, err
		}
		plugs = append(plugs, v)
		ohm += v
	}
	if plugs == nil {
		ohm, err = quantity.Parse(text, quantity.Ohm) // which says what is expected
	}
	return ohm, plugs, err
}

// Deflection reads where the needle is on the scale of g: a number of
// divisions, or off where it is beyond the end, with left or a minus sign for
// the left end of a centre-zero scale. Off, div is the end mark of the side
// that was named, nil where none was.
func Deflection(text string, g apparatus.Galvanometer) (div *float64, off bool, err error) {
	end := func(v float64) (*float64, bool, error) { return &v, true, nil }
	switch strings.ToLower(strings.Join(strings.Fields(text), " ")) {
	case "off", "off scale", "+off":
		return nil, true, nil
	case "off right":
		if !g.Centre() {
			return nil, true, nil
		}
		return end(g.Divisions)
	case "off left", "-off", "-off scale":
		if !g.Centre() {
			return nil, false, errors.New("this scale has its zero at the left: off is beyond the right end; against the left stop is a reading below zero")
		}
		return end(-g.Divisions)
	}
	v, err := quantity.Parse(text, quantity.Division)
	if err != nil {
		return nil, false, fmt.Errorf("%w; off if the needle is beyond the end", err)
	}
	return &v, false, nil
}

// clearly is the distance from what is expected at which a reading is worth a
// second look, in standard uncertainties: the band that is shown is two wide
// on each side (common practice, no source).
const clearly = 4

// Apart reports whether a reading on a scale of that many divisions lies
// clearly apart from what is expected. Nothing is apart from what is not
// known.
func Apart(e *procedure.Expect, divisions float64, div *float64, off bool) bool {
	switch {
	case e == nil:
		return false
	case off:
		return math.Abs(e.Div)+clearly*e.UDiv < divisions
	}
	return div != nil && math.Abs(*div-e.Div) > clearly*e.UDiv
}

// Source reads the EMF as a voltmeter showed it, with its standard uncertainty
// after +- or ± where it is known, and the word loaded at the end where it was
// read with K1 closed.
func Source(text string) (procedure.SourceMeasured, error) {
	rest, loaded := strings.CutSuffix(strings.ToLower(text), "loaded")
	if loaded {
		text = text[:min(len(rest), len(text))]
	}
	value, doubt, both := text, "", false
	for _, sign := range []string{"±", "+/-", "+-"} {
		if value, doubt, both = strings.Cut(text, sign); both {
			break
		}
	}
	v, err := quantity.Parse(value, quantity.Volt)
	if err != nil {
		return procedure.SourceMeasured{}, err
	}
	s := procedure.SourceMeasured{EMF: v, Loaded: loaded}
	if both {
		u, err := quantity.Parse(doubt, quantity.Volt)
		if err != nil {
			return procedure.SourceMeasured{}, err
		}
		s.UEMF = &u
	}
	return s, nil
}
