package command

import (
	"fmt"
	"math"
	"strings"

	"example.org/halve/physics"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/slips"
)

// Working checks a hand calculation. Every field is text as it was typed; an
// empty one was not given.
type Working struct {
	EMF, Series, Shunt, First, Shunted      string
	SourceResistance, Divisions, Resolution string
	Resistance, Merit                       string
	JSON                                    bool
}

// checked is what is said of one quantity.
type checked struct {
	Quantity string      `json:"quantity"`
	Claimed  float64     `json:"claimed"`
	Expected float64     `json:"expected"`
	U        *float64    `json:"u_expected"`
	Agrees   bool        `json:"agrees"`
	Slips    []foundSlip `json:"slips"`
}

type foundSlip struct {
	ID          string  `json:"id"`
	Probability float64 `json:"probability"`
	Say         string  `json:"say"`
}

// Run compares the student's values with the computed ones.
func (w Working) Run(d Desk) error {
	if w.Resistance == "" && w.Merit == "" {
		return callError("give the value to check: --resistance, --merit or both")
	}
	in, err := w.numbers()
	if err != nil {
		return err
	}
	row := physics.Row{EMF: in.emf, SourceResistance: in.source, Series: in.series, Shunt: in.shunt, First: in.first, Shunted: in.shunted}
	// Of the doubt, what is known here is the reading's own: half a step,
	// blurred by the repeatability of 0.15 step that a record assumes too.
	doubt := in.step * math.Hypot(1/math.Sqrt(12), 0.15)
	res, err := row.Solve(physics.RowDoubt{First: doubt, Shunted: doubt})
	if err != nil {
		return fmt.Errorf("these readings give no resistance: %w", err)
	}
	base := slips.Case{
		EMF: in.emf, SourceResistance: in.source, Divisions: in.divisions, Step: in.step,
		Rows: []slips.Row{{Number: 1, Series: in.series, Shunt: in.shunt, First: in.first, Shunted: in.shunted}},
	}
	t := text{w: d.Out}
	say := func(name string, c slips.Case, unit quantity.Unit) error {
		out := checked{Quantity: name, Claimed: c.Stated.Value, Expected: c.Expected, Agrees: slips.Agrees(c.Stated, c.Expected), Slips: []foundSlip{}}
		if c.U > 0 {
			out.U = &c.U
		}
		for _, f := range slips.Find(c) {
			out.Slips = append(out.Slips, foundSlip{f.ID, f.Probability, f.Say})
		}
		if w.JSON {
			return writeJSON(d.Out, out)
		}
		verdict := "does not agree"
		if out.Agrees {
			verdict = "agrees"
		}
		t.line("%s: you have %s, the computed value is %s: it %s.", name, quantity.Format(out.Claimed, unit, 4), quantity.Format(out.Expected, unit, 4), verdict)
		for _, s := range out.Slips {
			chance := procedure.Chance(s.Probability)
			if chance == "" {
				chance = "certain"
			}
			t.line("  %s  %s", chance, s.Say)
		}
		return t.err
	}
	if w.Resistance != "" {
		c := base
		c.Quantity, c.Stated, c.Expected, c.U = slips.Resistance, in.resistance, res.G, res.UG
		if err := say("resistance", c, quantity.Ohm); err != nil {
			return err
		}
		base.OwnResistance = []float64{in.resistance.Value}
	}
	if w.Merit != "" {
		c := base
		c.Quantity, c.Stated, c.Expected, c.U = slips.Merit, in.merit, res.K, res.UK
		return say("merit", c, quantity.AmperePerDivision)
	}
	return nil
}

// worked is the numbers behind the flags.
type worked struct {
	emf, source, series, shunt, first, shunted, divisions, step float64
	resistance, merit                                           quantity.Written
}

// numbers reads the flags; what is missing or cannot be is a wrong call.
func (w Working) numbers() (worked, error) {
	var in worked
	var bad error
	read := func(flag, s string, unit quantity.Unit, needed bool) quantity.Written {
		if bad != nil || s == "" && !needed {
			return quantity.Written{}
		}
		if s == "" {
			bad = callError("--%s is missing", flag)
			return quantity.Written{}
		}
		// A turned sign makes a hand calculation negative; it is read to be found.
		text, negative := s, false
		if flag == "resistance" || flag == "merit" {
			if text, negative = strings.CutPrefix(s, "-"); !negative {
				text, negative = strings.CutPrefix(s, "−")
			}
		}
		v, err := quantity.ParseWritten(text, unit)
		if err != nil {
			bad = callError("--%s: %v", flag, err)
		}
		if negative {
			v.Value = -v.Value
		}
		return v
	}
	in.emf = read("emf", w.EMF, quantity.Volt, true).Value
	in.series = read("series", w.Series, quantity.Ohm, true).Value
	in.shunt = read("shunt", w.Shunt, quantity.Ohm, true).Value
	in.first = read("first", w.First, quantity.Division, true).Value
	in.shunted = read("shunted", w.Shunted, quantity.Division, false).Value
	in.source = read("source-resistance", w.SourceResistance, quantity.Ohm, false).Value
	in.divisions = read("divisions", w.Divisions, quantity.Division, false).Value
	in.step = read("resolution", w.Resolution, quantity.Division, false).Value
	in.resistance = read("resistance", w.Resistance, quantity.Ohm, false)
	in.merit = read("merit", w.Merit, quantity.AmperePerDivision, false)
	if bad != nil {
		return in, bad
	}
	if w.Shunted == "" { // the exact half
		in.shunted = in.first / 2
	}
	if w.Resolution == "" {
		in.step = 0.5 // half a division, common practice
	}
	for _, v := range []struct {
		flag string
		v    float64
	}{{"emf", in.emf}, {"series", in.series}, {"shunt", in.shunt}, {"first", in.first}, {"shunted", in.shunted}} {
		if !(v.v > 0) {
			return in, callError("--%s is above 0, not %g", v.flag, v.v)
		}
	}
	if !(in.step > 0) || w.Divisions != "" && !(in.divisions > 0) {
		return in, callError("--divisions and --resolution are above 0")
	}
	if w.Divisions != "" && in.first > in.divisions {
		return in, callError("--first is %g, and the scale ends at %g divisions", in.first, in.divisions)
	}
	return in, nil
}
