package plain

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/tui/choices"
)

// askBench asks for the instruments one by one. "undo" goes one question
// back; nothing is recorded before the last answer.
func (d *dialogue) askBench() error {
	f := form{dialogue: d}
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
		case errors.Is(err, errBack) && i == 0:
			d.say("This is the first question.")
		case errors.Is(err, errBack):
			i--
		case err != nil:
			return err
		default:
			i++
		}
	}
	first := d.Sitting.Counsel().Seq == 0
	if err := d.accept(procedure.Bench{Bench: f.bench}); err != nil {
		return err
	}
	if first && d.Sitting.Counsel().Seq > 0 {
		return d.askWho()
	}
	return nil
}

// askWho asks whose record this is. Both answers may be left out.
func (d *dialogue) askWho() error {
	f := form{dialogue: d}
	names, err := f.text("Whose record is this? Type the names, or Enter to leave them out.")
	if err != nil {
		return err
	}
	group, err := f.text("Which group or place? Enter leaves it out.")
	if err != nil {
		return err
	}
	if names == "" && group == "" {
		return nil
	}
	return d.accept(procedure.Who{Names: names, Group: group})
}

// form is the bench being described.
type form struct {
	*dialogue
	bench apparatus.Bench
}

// text asks for a line that may be left out.
func (f *form) text(question string) (string, error) {
	for {
		line, err := f.ask(question)
		if err != nil {
			return "", err
		}
		switch strings.ToLower(line) {
		case "undo":
			return "", errBack
		case "zero", "source", "off", "finish", "strike", "keep":
			f.say("Not yet: the questions come first. Undo goes one question back.")
			continue
		}
		return line, nil
	}
}

// value asks for a quantity until one is typed that check takes. An empty
// line returns ok false: the proposal stands or the value is not known.
func (f *form) value(question string, unit quantity.Unit, check func(float64) error) (v float64, ok bool, err error) {
	for {
		line, err := f.text(question)
		if err != nil || line == "" {
			return 0, false, err
		}
		v, err := quantity.Parse(line, unit)
		if err == nil {
			err = check(v)
		}
		if err == nil {
			return v, true, nil
		}
		f.say("Not taken: %s.", err)
	}
}

// choose asks for one of a numbered list; the first is proposed.
func (f *form) choose(question string, names []string) (int, error) {
	for i, n := range names {
		f.print(spell(fmt.Sprintf("%d: %s", i+1, n)))
	}
	for {
		line, err := f.text(question + " Type a number; Enter takes 1.")
		if err != nil || line == "" {
			return 0, err
		}
		n, err := strconv.Atoi(line)
		if err == nil && n >= 1 && n <= len(names) {
			return n - 1, nil
		}
		f.say("Not taken: type a number from 1 to %d.", len(names))
	}
}

func (f *form) source() error {
	cells := apparatus.Cells()
	var names []string
	for _, c := range cells {
		names = append(names, c.Name)
	}
	n, err := f.choose("Which source?", append(names, "another source, or one measured with a voltmeter"))
	if err != nil {
		return err
	}
	if n < len(cells) {
		f.bench.Source = cells[n].Source()
		return nil
	}
	for {
		emf, ok, err := f.value("What is its EMF, in volts?", quantity.Volt, func(v float64) error {
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
	u, ok, err := f.value("How sure is that, as a standard uncertainty in volts? Enter if it is not known.", quantity.Volt, func(v float64) error {
		return apparatus.Source{EMF: f.bench.Source.EMF, UEMF: &v}.Validate()
	})
	if ok {
		f.bench.Source.UEMF = &u
	}
	return err
}

func (f *form) sourceResistance() error {
	r, ok, err := f.value("What is its internal resistance, in ohm? Enter if it is not known.", quantity.Ohm, func(v float64) error {
		return apparatus.Source{EMF: 1, Resistance: &v}.Validate()
	})
	f.bench.Source.Resistance = known(r, ok)
	return err
}

func known(v float64, ok bool) *float64 {
	if !ok {
		return nil
	}
	return &v
}

func (f *form) divisions() error {
	n, ok, err := f.value(fmt.Sprintf("The galvanometer: how many divisions from zero to the end mark, on one side? Enter takes %d.", choices.Divisions),
		quantity.Division, func(v float64) error { return apparatus.Galvanometer{Divisions: v}.Validate() })
	if !ok {
		n = choices.Divisions
	}
	f.bench.Galvanometer.Divisions = n
	return err
}

func (f *form) zero() error {
	n, err := f.choose("Where is its zero?", []string{"in the middle of the scale", "at the left end"})
	f.bench.Galvanometer.Zero = []apparatus.Zero{apparatus.CentreZero, apparatus.LeftZero}[n]
	return err
}

func (f *form) resolution() error {
	step, ok, err := f.value(fmt.Sprintf("To what part of a division do you estimate readings? Enter takes %s.", number(choices.Resolution)),
		quantity.Division, func(v float64) error {
			if v <= 0 {
				return fmt.Errorf("a part of a division above 0 is expected, such as 0.5 or 0.25")
			}
			return apparatus.Galvanometer{Divisions: f.bench.Galvanometer.Divisions, Resolution: v}.Validate()
		})
	if !ok {
		step = choices.Resolution
	}
	f.bench.Galvanometer.Resolution = step
	return err
}

func (f *form) fullScale() error {
	for {
		line, err := f.text("What current takes it to the end mark, such as 600 uA, or per division, such as 20 uA/div? Enter if it is not known.")
		if err != nil {
			return err
		}
		if line == "" {
			f.bench.Galvanometer.FullScale = nil
			return nil
		}
		v, err := quantity.Parse(line, quantity.Ampere)
		if strings.Contains(line, "/") {
			v, err = quantity.Parse(line, quantity.AmperePerDivision)
			v *= f.bench.Galvanometer.Divisions
		}
		if err == nil {
			err = apparatus.Galvanometer{Divisions: 2, FullScale: &v}.Validate()
		}
		if err == nil {
			f.bench.Galvanometer.FullScale = &v
			return nil
		}
		f.say("Not taken: %s.", err)
	}
}

func (f *form) resistance() error {
	r, ok, err := f.value("Does its plate or an earlier record give its resistance, in ohm? Enter if not.", quantity.Ohm, func(v float64) error {
		return apparatus.Galvanometer{Divisions: 2, Resistance: &v}.Validate()
	})
	f.bench.Galvanometer.Resistance = known(r, ok)
	return err
}

func (f *form) label() error {
	text, err := f.text("What is its number or name? Enter leaves it out.")
	f.bench.Galvanometer.Label = text
	return err
}

// box asks for a resistance box, from the common ones or by its coils.
func (f *form) box(name string, common []choices.Box, box *apparatus.Box) error {
	var names []string
	for _, b := range common {
		names = append(names, b.Name)
	}
	names = append(names, "another plug box", "another decade box")
	n, err := f.choose("Which "+name+"?", names)
	if err != nil {
		return err
	}
	if n < len(common) {
		*box = common[n].Box
		return nil
	}
	question, kind := "List its coils in ohm, with spaces between, such as 1 2 2 5 10 20 20 50.", apparatus.Plug
	if n > len(common) {
		question, kind = "List the step of each dial in ohm, with spaces between, such as 100 10 1.", apparatus.Decade
	}
	for {
		line, err := f.text(question)
		if err != nil {
			return err
		}
		if *box, err = parseBox(kind, line); err == nil {
			return nil
		}
		f.say("Not taken: %s.", err)
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
	t, ok, err := f.value(fmt.Sprintf("What is the tolerance of the %s, in percent? Enter takes %s.", name, number(100*choices.Tolerance)),
		quantity.Percent, func(v float64) error {
			b := *box
			b.Tolerance = v / 100
			return b.Validate()
		})
	if !ok {
		t = 100 * choices.Tolerance
	}
	box.Tolerance = t / 100
	return err
}
