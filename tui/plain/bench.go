package plain

import (
	"errors"
	"fmt"
	"strings"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/tui/choices"
)

// errBack asks for the question before.
var errBack = errors.New("back")

// askBench asks for the instruments one by one, and proposes what is recorded
// of them already. "Back" goes one question back; nothing is recorded before
// the last answer, but what was typed by somebody who leaves is kept as a note.
func (d *dialogue) askBench() error {
	stated, known := d.Sitting.State().Bench()
	f := form{dialogue: d, inquiry: d.inquire(), bench: stated, known: known}
	steps := []func() error{
		f.source, f.sourceResistance,
		f.divisions, f.zero, f.resolution, f.fullScale, f.resistance, f.label,
		func() error { return f.box("series box", choices.SeriesBoxes(), &f.bench.SeriesBox) },
		func() error { return f.tolerance("series box", &f.bench.SeriesBox) },
		func() error { return f.box("shunt box", choices.ShuntBoxes(), &f.bench.ShuntBox) },
		func() error { return f.tolerance("shunt box", &f.bench.ShuntBox) },
	}
	d.say("What lies on the table? Enter alone takes what is proposed.")
	for i := 0; i < len(steps); {
		err := steps[i]()
		switch {
		case errors.Is(err, errBack) && i == 0 && known:
			d.say("The bench stays as it was.")
			return nil
		case errors.Is(err, errBack) && i == 0:
			d.say("This is the first question.")
		case errors.Is(err, errBack):
			i--
		case err != nil:
			f.keepTyped()
			return err
		default:
			i++
		}
	}
	if !d.accept(procedure.Bench{Bench: f.bench}) {
		f.keepTyped()
		return nil
	}
	if d.Table != nil {
		if err := d.takeTable(); err != nil {
			return err
		}
	}
	if !known {
		return d.askWho()
	}
	return nil
}

// askWho asks whose record this is; of somebody who leaves, the names are kept.
func (d *dialogue) askWho() error {
	f := d.inquire()
	return f.whose(d.accept)
}

// form is the bench being described.
type form struct {
	*dialogue
	inquiry
	bench apparatus.Bench
	known bool // the bench was described before, and is being corrected
}

// keepTyped keeps what was typed of a bench that is not recorded.
func (f *form) keepTyped() {
	if len(f.typed) == 0 {
		return
	}
	f.say("What you typed of the bench is kept as a note.")
	text := "The bench as far as it was described: " + strings.Join(f.typed, "; ")
	f.noted(procedure.Note{Text: procedure.CleanText(text, procedure.MaxText)})
}

func (f *form) source() error {
	cells := apparatus.Cells()
	var names []string
	for _, c := range cells {
		names = append(names, c.Name)
	}
	keep := ""
	if f.bench.Source.EMF > 0 {
		keep = fmt.Sprintf("the source of %s volt", number(f.bench.Source.EMF))
	}
	n, err := f.choose("source", "Which source?", append(names, "another source, or one measured with a voltmeter"), keep)
	switch {
	case err != nil:
		return err
	case n < 0:
		return nil
	case n < len(cells):
		f.bench.Source = cells[n].Source()
		return nil
	}
	for {
		emf, ok, err := f.amount("EMF", "What is its EMF, in volts?", quantity.Volt, func(v float64) error {
			return apparatus.Source{EMF: v}.Validate()
		})
		if err != nil {
			return err
		}
		if ok {
			f.bench.Source = apparatus.Source{EMF: emf}
			break
		}
		f.say("The EMF has to be typed, such as 1.5 V.")
	}
	return f.optional("its standard uncertainty", "How sure is that, as a standard uncertainty in volts?", quantity.Volt, &f.bench.Source.UEMF, func(v float64) error {
		return procedure.SourceMeasured{EMF: f.bench.Source.EMF, UEMF: &v}.Check()
	})
}

func (f *form) sourceResistance() error {
	was := f.bench.Source.Resistance
	err := f.optional("internal resistance", "What is its internal resistance, in ohm?", quantity.Ohm, &f.bench.Source.Resistance, func(v float64) error {
		return apparatus.Source{EMF: 1, Resistance: &v}.Validate()
	})
	if f.bench.Source.Resistance != was { // its uncertainty was that of another value
		f.bench.Source.UResistance = nil
	}
	return err
}

func (f *form) divisions() error {
	g := &f.bench.Galvanometer
	proposal := float64(choices.Divisions)
	if g.Divisions > 0 {
		proposal = g.Divisions
	}
	n, ok, err := f.amount("divisions", fmt.Sprintf("The galvanometer: how many divisions from zero to the end mark, on one side? Enter takes %s.", number(proposal)),
		quantity.Division, func(v float64) error { return apparatus.Galvanometer{Divisions: v}.Validate() })
	if !ok {
		n = proposal
	}
	if err == nil {
		g.Divisions = n
	}
	return err
}

func (f *form) zero() error {
	places := []string{"in the middle of the scale", "at the left end"}
	zeros := []apparatus.Zero{apparatus.CentreZero, apparatus.LeftZero}
	keep := ""
	for i, z := range zeros {
		if f.bench.Galvanometer.Zero == z {
			keep = places[i]
		}
	}
	n, err := f.choose("zero", "Where is its zero?", places, keep)
	if err == nil && n >= 0 {
		f.bench.Galvanometer.Zero = zeros[n]
	}
	return err
}

func (f *form) resolution() error {
	g := &f.bench.Galvanometer
	proposal := choices.Resolution
	if g.Resolution > 0 {
		proposal = g.Resolution
	}
	step, ok, err := f.amount("readings to", fmt.Sprintf("To what part of a division do you estimate readings? Enter takes %s.", number(proposal)),
		quantity.Division, func(v float64) error {
			if v <= 0 {
				return fmt.Errorf("a part of a division above 0 is expected, such as 0.5 or 0.25")
			}
			return apparatus.Galvanometer{Divisions: g.Divisions, Resolution: v}.Validate()
		})
	if !ok {
		step = proposal
	}
	if err == nil {
		g.Resolution = step
	}
	return err
}

func (f *form) fullScale() error {
	g := &f.bench.Galvanometer
	proposal := "Enter if it is not known."
	if g.FullScale != nil {
		proposal = fmt.Sprintf("Enter keeps %s; none if it is not known.", quantity.Format(*g.FullScale, quantity.Ampere, 3))
	}
	for {
		line, err := f.reply(spell("What current takes it to the end mark, such as 600 uA, or per division, such as 20 uA/div? "+proposal),
			"Here a current is expected, or a current per division, or Enter, or back.")
		if err != nil || line == "" {
			return err
		}
		if strings.EqualFold(line, "none") {
			f.typed = append(f.typed, "full scale not known")
			g.FullScale, g.UFullScale = nil, nil
			return nil
		}
		v, err := quantity.Parse(line, quantity.Ampere)
		if strings.Contains(line, "/") {
			v, err = quantity.Parse(line, quantity.AmperePerDivision)
			v *= g.Divisions
		}
		if err == nil {
			err = apparatus.Galvanometer{Divisions: 2, FullScale: &v}.Validate()
		}
		if err == nil {
			f.typed = append(f.typed, "full scale "+line)
			g.FullScale, g.UFullScale = &v, nil
			return nil
		}
		f.refuse(err)
	}
}

func (f *form) resistance() error {
	was := f.bench.Galvanometer.Resistance
	err := f.optional("resistance of the galvanometer", "Does its plate or an earlier record give its resistance, in ohm?", quantity.Ohm, &f.bench.Galvanometer.Resistance, func(v float64) error {
		return apparatus.Galvanometer{Divisions: 2, Resistance: &v}.Validate()
	})
	if f.bench.Galvanometer.Resistance != was {
		f.bench.Galvanometer.UResistance = nil
	}
	return err
}

func (f *form) label() error {
	ask := "What is its number or name? Enter leaves it out."
	if f.bench.Galvanometer.Label != "" {
		ask = "What is its number or name? Enter keeps it as it is."
	}
	text, err := f.text(ask, apparatus.MaxLabel)
	if err == nil && text != "" {
		f.typed = append(f.typed, "galvanometer "+text)
		f.bench.Galvanometer.Label = text
	}
	return err
}

// box asks for a resistance box, from the common ones or by its coils.
func (f *form) box(name string, common []choices.Box, box *apparatus.Box) error {
	var names []string
	for _, b := range common {
		names = append(names, b.Name)
	}
	names = append(names, "another plug box", "another decade box")
	keep := ""
	if box.Kind != "" {
		keep = fmt.Sprintf("the %s box as it is", box.Kind)
	}
	n, err := f.choose(name, "Which "+name+"?", names, keep)
	switch {
	case err != nil:
		return err
	case n < 0:
		return nil
	case n < len(common):
		*box = common[n].Box
		return nil
	}
	ask, kind := "List its coils in ohm, with spaces between, such as 1 2 2 5 10 20 20 50.", apparatus.Plug
	if n > len(common) {
		ask, kind = "List the step of each dial in ohm, with spaces between, such as 100 10 1.", apparatus.Decade
	}
	for {
		line, err := f.reply(ask, "Here resistances are expected, or back.")
		if err != nil {
			return err
		}
		b, err := parseBox(kind, line)
		if err == nil {
			f.typed = append(f.typed, name+" "+line)
			*box = b
			return nil
		}
		f.refuse(err)
	}
}

func parseBox(kind apparatus.Kind, line string) (apparatus.Box, error) {
	b := apparatus.Box{Kind: kind}
	var values []float64
	for _, word := range strings.Fields(line) {
		v, err := quantity.Parse(word, quantity.Ohm)
		if err != nil {
			return b, err
		}
		values = append(values, v)
	}
	if kind == apparatus.Plug {
		b.Coils = values
	} else {
		b.Dials = values
	}
	return b, b.Validate()
}

func (f *form) tolerance(name string, box *apparatus.Box) error {
	proposal := choices.Tolerance
	if f.known && box.Tolerance > 0 {
		proposal = box.Tolerance
	}
	t, ok, err := f.amount("tolerance of the "+name, fmt.Sprintf("What is the tolerance of the %s, in percent? Enter takes %s.", name, number(100*proposal)),
		quantity.Percent, func(v float64) error {
			b := *box
			b.Tolerance = v / 100
			return b.Validate()
		})
	if err != nil {
		return err
	}
	box.Tolerance = proposal
	if ok {
		box.Tolerance = t / 100
	}
	return nil
}
