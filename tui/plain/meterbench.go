package plain

import (
	"errors"
	"fmt"

	"example.org/halve/physics/accuracy"
	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure/metercheck"
)

// meterForm is the bench of a meter check being described.
type meterForm struct {
	*meterDialogue
	inquiry
	bench metercheck.Bench
}

// askBench asks for the instruments one by one, and proposes what is recorded
// of them already. "Back" goes one question back; nothing is recorded before
// the last answer.
func (d *meterDialogue) askBench() error {
	stated, known := d.Sitting.State().Bench()
	f := &meterForm{meterDialogue: d, inquiry: d.inquire(), bench: stated}
	steps := []func() error{f.kind, f.rangeOf, f.divisions, f.zero, f.class, f.fiducial, f.resolution, f.label, f.reference, f.rating, f.source, f.volts}
	d.say("What lies on the table? Enter alone takes what is proposed.")
	for i := 0; ; {
		if i == len(steps) {
			if d.accept(f.bench) {
				break
			}
			i = 0 // once more, with what was typed as the proposals
		}
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
			return err
		default:
			i++
		}
	}
	if !known {
		return d.askWho()
	}
	return nil
}

func (d *meterDialogue) askWho() error {
	f := d.inquire()
	return f.whose(d.accept)
}

func (d *meterDialogue) inquire() inquiry { return inquiry{voice: &d.voice, asks: d.ask} }

func (f *meterForm) kind() error {
	keep := ""
	if f.bench.MeterKind != "" {
		keep = f.bench.MeterKind
	}
	n, err := f.choose("kind", "Which kind of meter?", []string{metercheck.Ammeter, metercheck.Voltmeter}, keep)
	if err == nil && n >= 0 {
		if kind := []string{metercheck.Ammeter, metercheck.Voltmeter}[n]; kind != f.bench.MeterKind {
			f.bench = metercheck.Bench{MeterKind: kind, Label: f.bench.Label}
		}
	}
	return err
}

// side is where a value of the meter's kind stands.
func (f *meterForm) side(a, v **float64) **float64 {
	if f.bench.InAmperes() {
		return a
	}
	return v
}

// unitName is the unit of the range in words.
func (f *meterForm) unitName() string {
	if f.bench.InAmperes() {
		return "amperes"
	}
	return "volts"
}

// needed asks for a value that has to be there.
func (f *meterForm) needed(name, ask string, value **float64, check func(float64) error) error {
	if *value != nil {
		ask += fmt.Sprintf(" Enter keeps %s.", number(**value))
	}
	for {
		v, ok, err := f.amount(name, ask, f.bench.Unit(), check)
		switch {
		case err != nil:
			return err
		case ok:
			*value = &v
			return nil
		case *value != nil:
			return nil
		}
		f.say("This has to be typed.")
	}
}

func above0(v float64) error {
	if v <= 0 {
		return errors.New("a value above 0 is expected")
	}
	return nil
}

func (f *meterForm) rangeOf() error {
	return f.needed("range", fmt.Sprintf("What does the last mark stand for, in %s?", f.unitName()), f.side(&f.bench.RangeA, &f.bench.RangeV), above0)
}

func (f *meterForm) divisions() error {
	proposal := 100.0
	if f.bench.Divisions > 0 {
		proposal = f.bench.Divisions
	}
	n, ok, err := f.amount("divisions", fmt.Sprintf("How many divisions from zero to the last mark, on one side? Enter takes %s.", number(proposal)), quantity.Division,
		func(v float64) error { return accuracy.Meter{Range: 1, Divisions: v}.Validate() })
	if !ok {
		n = proposal
	}
	if err == nil {
		f.bench.Divisions = n
	}
	return err
}

func (f *meterForm) zero() error {
	places, zeros := []string{"at the left end", "in the middle of the scale"}, []apparatus.Zero{apparatus.LeftZero, apparatus.CentreZero}
	keep := ""
	for i, z := range zeros {
		if f.bench.Zero == z {
			keep = places[i]
		}
	}
	n, err := f.choose("zero", "Where is its zero?", places, keep)
	if err == nil && n >= 0 {
		f.bench.Zero = zeros[n]
	}
	return err
}

func (f *meterForm) class() error {
	proposal := "Enter if none is marked."
	if f.bench.Class > 0 {
		proposal = fmt.Sprintf("Enter keeps %s; 0 if none is marked.", number(f.bench.Class))
	}
	v, ok, err := f.amount("class", "Which class index is marked on the dial, such as 1.5? "+proposal, quantity.Number, func(v float64) error {
		return accuracy.Meter{Range: 1, Divisions: 10, Class: v}.Validate()
	})
	if err == nil && ok {
		f.bench.Class = v
	}
	return err
}

func (f *meterForm) fiducial() error {
	return f.optional("fiducial value", fmt.Sprintf("The class counts in percent of the fiducial value: of the range, or of both halves of a scale with its zero in the middle. If the dial says otherwise, of how many %s?", f.unitName()),
		f.bench.Unit(), f.side(&f.bench.FiducialA, &f.bench.FiducialV), func(v float64) error {
			m := f.bench.Meter()
			if m.Fiducial = v; v <= 0 {
				return above0(v)
			}
			return m.Validate()
		})
}

func (f *meterForm) resolution() error {
	proposal := f.bench.Step()
	v, ok, err := f.amount("readings to", fmt.Sprintf("To what part of a division do you estimate readings? Enter takes %s.", number(proposal)), quantity.Division, above0)
	if !ok {
		v = proposal
	}
	if err == nil {
		f.bench.Resolution = v
	}
	return err
}

func (f *meterForm) label() error {
	line, err := f.text("What is its number or name? Enter leaves it as it is.", apparatus.MaxLabel)
	if err == nil && line != "" {
		f.bench.Label = line
	}
	return err
}

func (f *meterForm) reference() error {
	line, err := f.text("The reference: its number or name? Enter leaves it as it is.", apparatus.MaxLabel)
	if err != nil {
		return err
	}
	if line != "" {
		f.bench.Reference.Label = line
	}
	ask := fmt.Sprintf("What is its standard uncertainty, in %s? That is half of the expanded one, for 95 percent, on its certificate.", f.unitName())
	return f.needed("uncertainty of the reference", ask, f.side(&f.bench.Reference.UA, &f.bench.Reference.UV), above0)
}

func (f *meterForm) rating() error {
	return f.optional("rating of the reference", fmt.Sprintf("What is the reference rated for, in %s?", f.unitName()), f.bench.Unit(), f.side(&f.bench.Reference.MaxA, &f.bench.Reference.MaxV), above0)
}

func (f *meterForm) source() error {
	return f.optional("the source's most", fmt.Sprintf("What is the most that the source can drive through or put across the meter, in %s?", f.unitName()),
		f.bench.Unit(), f.side(&f.bench.Source.MaxA, &f.bench.Source.MaxV), above0)
}

// volts asks what an ammeter's source can do to whoever touches it.
func (f *meterForm) volts() error {
	if !f.bench.InAmperes() {
		return nil
	}
	return f.optional("the source's volts", "How many volts can it give at the most?", quantity.Volt, &f.bench.Source.MaxV, above0)
}
