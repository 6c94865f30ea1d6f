package plain

import (
	"strconv"
	"strings"

	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
)

// helpLines are the words known at every question.
var helpLines = [...]string{
	"help: these words.",
	"repeat: say the counsel and the question again.",
	"rows: the rows so far. result: the result so far. events: everything recorded, with numbers.",
	"circuit: how it is wired, what it stands at, which key is to be closed. graphs: what the graphs of the rows show.",
	"undo: strike out the last event; in the bench questions, go one question back.",
	"strike and a number: strike out that event. It stays readable, and striking the strike restores it.",
	"note and a text: write something down.",
	"zero and a reading: the pointer's rest with the keys open.",
	"source and a voltage: the EMF measured now, K1 open.",
	"off: the needle is beyond the end of the scale.",
	"series, first, shunt, shunted, each with a value: set or read out of turn. keep: keep the row.",
	"bench: describe the instruments again. who: whose record this is.",
	"claim G or claim k, with a value you worked out by hand, and row and its number for one row: it is compared with the computed one.",
	"finish: no more rows. quit: leave; the record can be resumed.",
	"Values are written as you like: 4700, 4.7k, 4k7, 1.5 V, 18 uA. Enter alone takes a proposed setting, never a reading.",
}

func (d *dialogue) help() {
	for _, l := range helpLines {
		d.print(l)
	}
}

// command carries out a line that begins with a word of command; done is
// false for anything else.
func (d *dialogue) command(c procedure.Counsel, line string) (done bool, err error) {
	word, rest := cut(line)
	switch word {
	case "undo":
		return true, d.undo()
	case "strike":
		return true, d.strike(rest)
	case "zero":
		return true, d.valueOr(rest, "Keys open: where does the pointer rest, in divisions?", procedure.KindZero, d.takeReading)
	case "source":
		return true, d.source(rest)
	case "off":
		return true, d.off(c)
	case "series":
		return true, d.valueOr(rest, "What does the series box stand at now, in ohm?", procedure.KindSetSeries, d.takeSetting)
	case "shunt":
		return true, d.valueOr(rest, "What does the shunt box stand at now, in ohm?", procedure.KindSetShunt, d.takeSetting)
	case "first":
		return true, d.valueOr(rest, "K1 closed, K2 open: what is the first deflection, in divisions?", procedure.KindReadFirst, d.takeReading)
	case "shunted":
		return true, d.valueOr(rest, "K1 and K2 closed: what is the shunted deflection, in divisions?", procedure.KindReadShunted, d.takeReading)
	case "keep":
		return true, d.accept(procedure.RowKept{})
	case "bench":
		return true, d.askBench()
	case "who":
		return true, d.askWho()
	case "claim":
		return true, d.claim(rest)
	case "finish":
		return true, d.accept(procedure.Finish{})
	}
	return false, nil
}

// claim takes a hand calculation, "G 90.5" or "k 1.9e-5 row 2", and tells how
// it compares.
func (d *dialogue) claim(line string) error {
	what, rest := cut(line)
	of, unit := procedure.ClaimResistance, quantity.Ohm
	switch what {
	case "g", "resistance":
	case "k", "merit":
		of, unit = procedure.ClaimMerit, quantity.AmperePerDivision
	default:
		d.say("Not taken: say claim G and a resistance, or claim k and a figure of merit, such as claim G 90.5 row 2.")
		return nil
	}
	c, err := procedure.ReadClaim(of, rest)
	if err != nil {
		d.say("Not taken: %s.", err)
		return nil
	}
	before := len(d.Sitting.Counsel().Claims)
	if err := d.accept(c); err != nil {
		return err
	}
	checks := d.Sitting.Counsel().Claims
	if len(checks) == before {
		return nil // it was not taken, and why was said
	}
	switch check := checks[len(checks)-1]; {
	case check.Agrees == nil:
		d.say("There is nothing to compare it with yet.")
	case *check.Agrees:
		d.say("It agrees with the computed value.")
		for _, s := range check.Slips {
			d.say("%s", s.Say)
		}
	default:
		d.say("It does not agree: the computed value is %s.", quantity.Format(*check.Expected, unit, 4))
		for _, s := range check.Slips {
			d.say("Perhaps, %.0f %%: %s", 100*s.Probability, s.Say)
		}
	}
	return nil
}

// valueOr takes the value that stands behind a word, or asks for it.
func (d *dialogue) valueOr(rest, question, kind string, take func(kind, line string) error) error {
	if rest == "" {
		line, err := d.ask(question)
		if err != nil {
			return err
		}
		if line == "" || strings.EqualFold(line, "undo") {
			d.say("Nothing is recorded.")
			return nil
		}
		rest = line
	}
	return take(kind, rest)
}

// takeReading takes a typed reading. An empty line is never one.
func (d *dialogue) takeReading(kind, line string) error {
	if isOff(line) && kind != procedure.KindZero {
		return d.accept(readingOf(kind, nil))
	}
	if line == "" {
		d.say("A reading has to be typed, such as 23.5; Enter alone is none.")
		return nil
	}
	v, err := quantity.Parse(line, quantity.Division)
	if err != nil {
		d.say("Not taken: %s.", err)
		return nil
	}
	return d.accept(readingOf(kind, &v))
}

func isOff(line string) bool {
	word, _ := cut(line)
	return word == "off"
}

// readingOf is the event of a reading; nil means off scale.
func readingOf(kind string, div *float64) procedure.Body {
	switch {
	case kind == procedure.KindZero:
		return procedure.ZeroRead{Div: *div}
	case kind == procedure.KindReadFirst:
		return procedure.FirstRead{Div: div, OffScale: div == nil}
	}
	return procedure.ShuntedRead{Div: div, OffScale: div == nil}
}

// takeSetting takes a typed resistance for a box.
func (d *dialogue) takeSetting(kind, line string) error {
	if line == "" {
		d.say("A value in ohm has to be typed, such as 4700 or 4k7.")
		return nil
	}
	v, err := quantity.Parse(line, quantity.Ohm)
	if err != nil {
		d.say("Not taken: %s.", err)
		return nil
	}
	return d.accept(setting(kind, v, nil))
}

func setting(kind string, ohm float64, takeOut []float64) procedure.Body {
	if kind == procedure.KindSetSeries {
		return procedure.SeriesSet{Ohm: ohm, TakeOut: takeOut}
	}
	return procedure.ShuntSet{Ohm: ohm, TakeOut: takeOut}
}

// off records that the needle is beyond the end, where a reading is called for.
func (d *dialogue) off(c procedure.Counsel) error {
	if c.Next != nil && (c.Next.Event == procedure.KindReadFirst || c.Next.Event == procedure.KindReadShunted) {
		return d.accept(readingOf(c.Next.Event, nil))
	}
	d.say("No reading is called for now. Type first off or shunted off if the needle went beyond the end.")
	return nil
}

// undo strikes out the last event that stands and is no strike, note or bench.
func (d *dialogue) undo() error {
	events, state := d.Sitting.Events(), d.Sitting.State()
	for i := len(events) - 1; i >= 0; i-- {
		if state.Struck(events[i].Seq) != 0 {
			continue
		}
		switch events[i].Body.Kind() {
		case procedure.KindStrike, procedure.KindNote, procedure.KindWho, procedure.KindBench:
			continue
		}
		d.say("Striking out number %d, %s.", events[i].Seq, Describe(events[i].Body))
		return d.accept(procedure.Strike{Event: events[i].Seq})
	}
	d.say("There is nothing to strike out.")
	return nil
}

func (d *dialogue) strike(rest string) error {
	number, why, _ := strings.Cut(rest, " ")
	n, err := strconv.Atoi(number)
	if err != nil {
		d.say("Type strike and the number of the event, such as strike 6; events lists them.")
		return nil
	}
	return d.accept(procedure.Strike{Event: n, Why: strings.TrimSpace(why)})
}

// note writes down a text.
func (d *dialogue) note(text string) {
	if text == "" {
		d.print("Type note and the text on one line.")
		return
	}
	// A note changes no counsel, so nothing else is said.
	c, err := d.Sitting.Accept(procedure.Note{Text: text})
	switch {
	case err != nil:
		d.print(spell("Not recorded: " + err.Error() + "."))
	case c.Refused != nil:
		d.print(spell("Not taken: " + *c.Refused))
	default:
		d.print("Noted as number " + strconv.Itoa(c.Seq) + ".")
	}
}

// source takes an EMF; "loaded" before the value means with K1 closed.
func (d *dialogue) source(rest string) error {
	loaded := false
	if word, more := cut(rest); word == "loaded" {
		loaded, rest = true, more
	}
	if rest == "" {
		d.sayVoltmeter(loaded)
		line, err := d.ask(emfQuestion)
		if err != nil {
			return err
		}
		rest = line
	}
	return d.answerSource(loaded, rest)
}

// answerSource takes the answer to the question for the EMF.
func (d *dialogue) answerSource(loaded bool, line string) error {
	switch strings.ToLower(line) {
	case "", "skip", "no", "undo":
		d.say("The EMF is left as it was.")
		return nil
	}
	return d.takeSource(loaded, line)
}

func (d *dialogue) takeSource(loaded bool, line string) error {
	emf, err := quantity.Parse(line, quantity.Volt)
	if err != nil {
		d.say("Not taken: %s. Type source to try again.", err)
		return nil
	}
	s := procedure.SourceMeasured{EMF: emf, Loaded: loaded}
	line, err = d.ask("How sure is that, as a standard uncertainty in volts, such as 0.01? Enter if it is not known.")
	if err != nil {
		return err
	}
	if line != "" {
		u, err := quantity.Parse(line, quantity.Volt)
		if err != nil {
			d.say("Not taken: %s. Type source to try again.", err)
			return nil
		}
		s.UEMF = &u
	}
	return d.accept(s)
}
