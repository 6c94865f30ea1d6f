package plain

import (
	"errors"
	"fmt"
	"reflect"
	"strconv"
	"strings"

	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/debrief"
	"example.org/halve/tui/typed"
)

// helpLines are the words known at every question.
var helpLines = [...]string{
	"These words are known at every question.",
	"help: these words. repeat: what was said last, and the question again.",
	"where: the step, and what the boxes stand at. table: the instruments as they are recorded.",
	"why: the physics of this step, and the usual mistakes. cautions: what can be hurt at this step.",
	"rows: the rows so far. result: the result so far. findings: what the readings point to. events: everything recorded, with numbers.",
	"circuit: how it is wired, what it stands at, which key is to be closed. graphs: what the graphs of the rows show.",
	"undo: strike out the last event. strike and a number: strike out that event; it stays readable, and striking the strike restores it.",
	"back: leave a question beside the main one; in the bench questions, go one question back.",
	"note and a text: write something down. temperature and a value: of the room, in degrees Celsius.",
	"zero and a reading: the pointer's rest with the keys open.",
	"source and a voltage: the EMF measured now, K1 open; source loaded and a voltage: with K1 closed.",
	"off: the needle is beyond the end of the scale.",
	"series, first, shunt, shunted, each with a value: set or read out of turn. keep: keep the row.",
	"bench: describe the instruments again. wired: the circuit is checked. who: whose record this is.",
	"claim G or claim k, with a value you worked out by hand, and row and its number for one row: it is compared with the computed one. Claim alone says how all of them compare.",
	"finish: no more rows. quit: leave; the record can be resumed.",
	"Values are written as you like: 4700, 4.7k, 4k7, 1.5 V, 18 uA, minus 4. Plugs that are out are written with plus signs: 2000+500+200. Enter alone takes a proposed setting, never a reading.",
	"Where any text is expected, a word of these that stands alone is a word of command; put it in quotes to have it taken as text.",
}

// lookLine is known at a simulated bench besides.
const lookLine = "look: look for the fault that the readings point to first; where it is there, it is put right."

func (d *dialogue) help(q question) {
	if q.here != "" {
		d.print(q.here)
	}
	for _, l := range helpLines {
		d.print(l)
	}
	if d.Needle != nil {
		d.print(lookLine)
	}
}

// command carries out a word of command; known is false for anything else.
func (d *dialogue) command(q question, word, rest string) (known bool, err error) {
	c := d.Sitting.Counsel()
	switch word {
	case "help", "?":
		d.help(q)
	case "repeat", "again":
		for _, l := range d.told {
			d.print(l)
		}
	case "where":
		d.sayWhere(c)
	case "why":
		d.sayWhy(c.Step)
	case "table":
		d.sayTable()
	case "cautions":
		d.sayCautions(c.Step)
	case "rows":
		d.sayRows(c)
	case "result":
		d.sayBehind()
	case "graphs", "graph":
		d.sayGraphs()
	case "circuit":
		d.say("%s", d.circuit().Describe())
	case "findings":
		d.sayFindings(c)
	case "events":
		d.sayEvents(d.Sitting.Events(), d.Sitting.State().Struck, Describe)
	case "note":
		d.note(rest)
	case "temperature":
		return true, d.value(rest, question{text: "How warm is the room, in degrees Celsius?"}, d.temperature)
	case "undo":
		d.undo()
	case "back":
		d.say("There is no question to go back to. Undo strikes out the last event.")
	case "strike":
		d.strike(rest)
	case "zero":
		return true, d.reading(rest, procedure.KindZero, zeroQuestion)
	case "first":
		return true, d.reading(rest, procedure.KindReadFirst, firstQuestion)
	case "shunted":
		return true, d.reading(rest, procedure.KindReadShunted, shuntedQuestion)
	case "off":
		d.off(c, strings.TrimSpace("off "+rest))
	case "source":
		return true, d.aside(func() error { return d.source(false, rest) })
	case "series":
		return true, d.setting(rest, procedure.KindSetSeries, "What does the series box stand at now, in ohm?")
	case "shunt":
		return true, d.setting(rest, procedure.KindSetShunt, "What does the shunt box stand at now, in ohm?")
	case "keep":
		d.accept(procedure.RowKept{})
	case "wired":
		d.accept(procedure.Wired{})
	case "bench":
		return true, d.aside(d.askBench)
	case "who":
		return true, d.aside(d.askWho)
	case "claim":
		d.claim(rest)
	case "look":
		d.look(c)
	case "finish":
		return true, d.aside(func() error { return d.finish(c) })
	case "quit", "exit":
		return true, errLeave
	default:
		return false, nil
	}
	return true, nil
}

// value takes the value that stands behind a word, or asks for it until one
// is taken or the question is left.
func (d *dialogue) value(rest string, q question, take func(line string) error) error {
	if rest != "" {
		return take(rest)
	}
	q.words = append(q.words, "back", "undo")
	return d.aside(func() error {
		line, err := d.ask(q)
		if err != nil {
			return err
		}
		if word, _ := cut(line); line == "" || word == "back" || word == "undo" {
			d.say("Nothing is recorded.")
			return nil
		}
		return take(line)
	})
}

func (d *dialogue) reading(rest, kind, text string) error {
	q := question{text: text, here: "Here a reading is expected, or back.", kind: wordOf(kind), words: []string{"off"}}
	return d.value(rest, q, func(line string) error { return d.takeReading(kind, line) })
}

func (d *dialogue) setting(rest, kind, text string) error {
	return d.value(rest, question{text: text, here: settingHelp, kind: wordOf(kind)}, func(line string) error {
		d.takeSetting(kind, line)
		return nil
	})
}

// wordOf is the word of command for an event.
func wordOf(kind string) string {
	return map[string]string{
		procedure.KindZero: "zero", procedure.KindReadFirst: "first", procedure.KindReadShunted: "shunted",
		procedure.KindSetSeries: "series", procedure.KindSetShunt: "shunt",
	}[kind]
}

// finish records that there will be no more rows, once it is sure.
func (d *dialogue) finish(c procedure.Counsel) error {
	rows := 0
	for _, r := range c.Rows {
		if !r.Struck {
			rows++
		}
	}
	text := fmt.Sprintf("There are %d rows. Finish? Type yes to finish, no to go on.", rows)
	switch {
	case rows == 0:
		text = "There is no row yet, so there will be no result. Finish all the same? Type yes to finish, no to go on."
	case rows < procedure.RowsWanted:
		text = fmt.Sprintf("There are %d rows, and %d make a good record. Finish all the same? Type yes to finish, no to go on.", rows, procedure.RowsWanted)
	}
	if rows == 1 {
		text = strings.Replace(text, "There are 1 rows", "There is 1 row", 1)
	}
	sure, err := d.confirm("finish", text)
	if err != nil {
		return err
	}
	if !sure {
		d.say("Nothing is recorded.")
		return nil
	}
	d.accept(procedure.Finish{})
	return nil
}

// claim takes a hand calculation, "G 90.5" or "k 1.9e-5 row 2", and tells how
// it compares.
func (d *dialogue) claim(line string) {
	what, rest := cut(line)
	of := procedure.ClaimResistance
	switch what {
	case "g", "resistance":
	case "k", "merit":
		of = procedure.ClaimMerit
	case "":
		if d.sayClaims(d.Sitting.Counsel()); len(d.Sitting.Counsel().Claims) > 0 {
			return
		}
		fallthrough
	default:
		d.say("Not taken: say claim G and a resistance, or claim k and a figure of merit, such as claim G 90.5 row 2.")
		return
	}
	c, err := procedure.ReadClaim(of, rest)
	if err != nil {
		d.refuse(err)
		return
	}
	if d.accept(c) {
		checks := d.Sitting.Counsel().Claims
		d.sayCheck(checks[len(checks)-1])
	}
}

// sayClaims says how each value that was worked out by hand compares.
func (d *dialogue) sayClaims(c procedure.Counsel) {
	for _, check := range c.Claims {
		d.say("The %s by hand, %s:", claimed(check.Quantity, check.Row), quantity.Format(check.Claimed, unitOf(check.Quantity), 4))
		d.sayCheck(check)
	}
}

// sayCheck says how a value that was worked out by hand compares.
func (d *dialogue) sayCheck(check procedure.ClaimCheck) {
	switch {
	case check.Agrees == nil:
		d.say("There is nothing to compare it with yet.")
	case *check.Agrees:
		d.say("It agrees with the computed value.")
		for _, s := range check.Slips {
			d.say("%s", s.Say)
		}
	default:
		d.say("It does not agree: the computed value is %s.", quantity.Format(*check.Expected, unitOf(check.Quantity), 4))
		for _, s := range check.Slips {
			chance := procedure.Chance(s.Probability)
			if chance != "" {
				chance = ", " + chance
			}
			d.say("Perhaps%s: %s", chance, s.Say)
		}
	}
}

// unitOf is the unit of a quantity that is claimed.
func unitOf(claimed string) quantity.Unit {
	if claimed == procedure.ClaimMerit {
		return quantity.AmperePerDivision
	}
	return quantity.Ohm
}

// takeReading takes a typed reading. An empty line is never one, and one that
// lies clearly apart from what is expected is asked about first.
func (d *dialogue) takeReading(kind, line string) error {
	if line == "" {
		d.say("A reading has to be typed, such as 23.5; Enter alone is none.")
		return nil
	}
	table, _ := d.Sitting.State().Bench()
	div, off, err := typed.Deflection(negative(line), table.Galvanometer)
	if err == nil && off && kind == procedure.KindZero {
		err = errors.New("the zero is a place on the scale: set the pointer to it with the adjuster first")
	}
	if err != nil {
		d.refuse(err)
		return nil
	}
	body := readingOf(kind, div, off)
	c := d.Sitting.Counsel()
	due := c.Next != nil && c.Next.Event == kind && kind != procedure.KindZero
	if due && typed.Apart(c.Expect, table.Galvanometer.Divisions, div, off) && procedure.Preview(d.Sitting.State(), body).Refused == nil {
		said := "off the scale"
		if !off {
			said = divisions(*div)
		}
		line, err := d.ask(question{text: spell(fmt.Sprintf("That is %s, far from the %.1f expected. Look again. Type yes if it is so, or the reading as it is now.", said, c.Expect.Div)),
			here: "Here yes is expected, or another reading, or back to leave it.", kind: wordOf(kind), words: []string{"off", "back", "undo"}})
		if err != nil {
			return err
		}
		switch word, _ := cut(line); {
		case word == "back", word == "undo", no(line), line == "":
			d.say("Nothing is recorded.")
			return nil
		case !yes(line):
			return d.takeReading(kind, line)
		}
	}
	d.accept(body)
	return nil
}

// negative reads the words that a negative value is said in.
func negative(line string) string {
	if word, rest := cut(line); word == "minus" {
		return "-" + rest
	}
	return line
}

// readingOf is the event of a reading.
func readingOf(kind string, div *float64, off bool) procedure.Body {
	switch kind {
	case procedure.KindZero:
		return procedure.ZeroRead{Div: *div}
	case procedure.KindReadFirst:
		return procedure.FirstRead{Div: div, OffScale: off}
	}
	return procedure.ShuntedRead{Div: div, OffScale: off}
}

// takeSetting takes a typed resistance for a box, or its plugs.
func (d *dialogue) takeSetting(kind, line string) {
	if line == "" {
		d.say("A value in ohm has to be typed, such as 4700 or 4k7.")
		return
	}
	ohm, plugs, err := typed.Setting(line)
	if err != nil {
		d.refuse(err)
		return
	}
	d.accept(setting(kind, ohm, plugs))
}

func setting(kind string, ohm float64, takeOut []float64) procedure.Body {
	if kind == procedure.KindSetSeries {
		return procedure.SeriesSet{Ohm: ohm, TakeOut: takeOut}
	}
	return procedure.ShuntSet{Ohm: ohm, TakeOut: takeOut}
}

// off records that the needle is beyond the end, where a reading is called for.
func (d *dialogue) off(c procedure.Counsel, line string) {
	if c.Next == nil || c.Next.Event != procedure.KindReadFirst && c.Next.Event != procedure.KindReadShunted {
		d.say("No reading is called for now. Type first off or shunted off if the needle went beyond the end.")
		return
	}
	table, _ := d.Sitting.State().Bench()
	div, off, err := typed.Deflection(line, table.Galvanometer)
	if err != nil {
		d.refuse(err)
		return
	}
	d.accept(readingOf(c.Next.Event, div, off))
}

// undo strikes out the last event that stands and is no strike, note or bench.
func (d *dialogue) undo() {
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
		if d.accept(procedure.Strike{Event: events[i].Seq}) {
			d.say("To restore it, type strike %d.", d.Sitting.State().Seq())
		}
		return
	}
	d.say("There is nothing to strike out.")
}

func (d *dialogue) strike(rest string) {
	number, why, _ := strings.Cut(rest, " ")
	n, err := strconv.Atoi(number)
	if err != nil {
		d.say("Type strike and the number of the event, such as strike 6; events lists them.")
		return
	}
	d.accept(procedure.Strike{Event: n, Why: strings.TrimSpace(why)})
}

// note writes down a text.
func (d *dialogue) note(text string) {
	if text == "" {
		d.say("Type note and the text on one line.")
		return
	}
	d.noted(procedure.Note{Text: text})
}

func (d *dialogue) temperature(line string) error {
	v, err := quantity.Parse(negative(line), quantity.Celsius)
	if err != nil {
		d.refuse(err)
		return nil
	}
	d.noted(procedure.Note{Temperature: &v})
	return nil
}

// noted records a note. Where it changes no counsel, nothing is said again; it
// may explain a finding away.
func (d *dialogue) noted(n procedure.Note) {
	before := d.Sitting.Counsel()
	c, err := d.Sitting.Accept(n)
	switch {
	case err != nil:
		d.say("Not recorded: %s.", full(err.Error()))
	case c.Refused != nil:
		d.refuse(errors.New(*c.Refused))
	default:
		d.say("Noted as number %d.", c.Seq)
		if d.needle != nil && d.needle.seq == before.Seq {
			d.needle.seq = c.Seq
		}
		if was := before.Seq; d.toldSeq == was {
			if before.Seq = c.Seq; reflect.DeepEqual(before, c) {
				d.toldSeq = c.Seq
			}
		}
	}
}

// source takes an EMF as it was typed, or asks for it. What was typed is
// recorded whatever comes of the question for its uncertainty.
func (d *dialogue) source(loaded bool, line string) error {
	const question1 = "Measure the EMF with a voltmeter, K1 open. What does it show, in volts? Type skip to leave it out."
	const question2 = "Measure the source with a voltmeter, K1 closed and K2 open. What does it show, in volts? Type skip to leave it out."
	if _, known := d.Sitting.State().Bench(); !known {
		d.say("Not taken: the bench is not described yet, and its source with it.")
		return nil
	}
	for {
		if word, more := cut(line); word == "loaded" {
			loaded, line = true, more
		}
		if line == "" {
			q := question{text: question1, before: d.voltmeter(loaded), kind: "source", words: []string{"back", "undo"},
				here: "Here a voltage is expected, such as 1.5 or 1500 mV, with plus or minus and its standard uncertainty where it is known: 1.52 +- 0.01. Type skip or back to leave it out."}
			if loaded {
				q.text = question2
			}
			var err error
			if line, err = d.ask(q); err != nil {
				return err
			}
			if word, _ := cut(line); word == "loaded" {
				continue
			}
		}
		switch strings.ToLower(line) {
		case "", "skip", "no", "undo", "back":
			d.say("The EMF is left as it was.")
			return nil
		}
		s, err := typed.Source(line)
		if err == nil {
			s.Loaded = s.Loaded || loaded
			if refused := procedure.Preview(d.Sitting.State(), s).Refused; refused != nil {
				err = errors.New(*refused)
			}
		}
		if err != nil {
			d.refuse(err)
			line = ""
			continue
		}
		var again bool
		if line, again, err = d.sure(s); !again {
			return err
		}
	}
}

// sure asks how sure an EMF is, and records it. It returns again, with what
// was typed instead, where the EMF itself is to be put right.
func (d *dialogue) sure(s procedure.SourceMeasured) (line string, again bool, err error) {
	for s.UEMF == nil {
		line, err := d.ask(question{text: fmt.Sprintf("How sure is the %s volt, as a standard uncertainty in volts, such as 0.01? Enter if it is not known.", number(s.EMF)),
			here: "Here a voltage is expected, or Enter. Type back to give the EMF again.", words: []string{"source", "skip", "back", "undo"}})
		if errors.Is(err, errLeave) { // what was typed is not lost
			d.accept(s)
			return "", false, err
		}
		if err != nil {
			return "", false, err
		}
		switch word, rest := cut(line); word {
		case "source":
			return rest, true, nil
		case "back", "undo":
			return "", true, nil
		case "", "skip":
			d.accept(s)
			return "", false, nil
		}
		u, err := quantity.Parse(line, quantity.Volt)
		if err == nil {
			with := s
			with.UEMF = &u
			if refused := procedure.Preview(d.Sitting.State(), with).Refused; refused != nil {
				err = errors.New(*refused)
			}
		}
		if err != nil {
			d.refuse(err)
			continue
		}
		s.UEMF = &u
	}
	d.accept(s)
	return "", false, nil
}

// look looks for the fault that the readings point to first.
func (d *dialogue) look(c procedure.Counsel) {
	switch {
	case len(c.Findings) == 0:
		d.say("The readings point to no fault now.")
	case d.Needle == nil:
		d.say("Look at the bench: %s", c.Findings[0].Try)
	case d.Needle.Look(c.Findings[0].ID):
		d.needle, d.told = nil, nil
		d.say("You look for it. It was there, and is put right now.")
		d.noted(procedure.Note{Text: debrief.Mended(c.Findings[0].ID)})
		if m := c.Findings[0].Mend; m != nil {
			d.say("What it spoiled is still recorded: type strike %d to strike it out.", m.Seq)
		}
	default:
		d.say("You look for it. It is not there.")
	}
}
