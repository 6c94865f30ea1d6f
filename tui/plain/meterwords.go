package plain

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/metercheck"
)

// meterHelp are the words known at every question.
var meterHelp = [...]string{
	"These words are known at every question.",
	"help: these words. repeat: what was said last, and the question again.",
	"where: the step. table: the instruments as they are recorded. cautions: what can be hurt at this step.",
	"points: the points so far. result: the result so far. findings: what the readings point to. events: everything recorded, with numbers.",
	"undo: strike out the last event. strike and a number: strike out that event; it stays readable, and striking the strike restores it.",
	"back: leave a question beside the main one; in the bench questions, go one question back.",
	"note and a text: write something down. temperature and a value: of the room, in degrees Celsius.",
	"zero and a reading: the pointer's rest with the source off.",
	"rising or falling, with tapped where the case was tapped, and the pointer's reading: a point out of turn.",
	"bench: describe the instruments again. wired: the circuit is looked over. who: whose record this is.",
	"finish: no more points. quit: leave; the record can be resumed.",
	"Values are written as you like: 2.013, 2013 mA, 1.5 V, minus 4.",
}

// command carries out a word of command; known is false for anything else.
func (d *meterDialogue) command(q question, word, rest string) (known bool, err error) {
	c := d.Sitting.Counsel()
	switch word {
	case "help", "?":
		if q.here != "" {
			d.print(q.here)
		}
		for _, l := range meterHelp {
			d.print(l)
		}
		if d.Hand != nil {
			d.print(lookLine)
		}
	case "repeat", "again":
		for _, l := range d.told {
			d.print(l)
		}
	case "where":
		for i, s := range meterSteps {
			if s.step == c.Step {
				d.say("Step %d of %d: %s.", i+1, len(meterSteps), s.name)
			}
		}
	case "table":
		d.sayTable()
	case "cautions":
		lines := d.cautions(c.Step)
		for _, l := range lines {
			d.say("Take care: %s", l)
		}
		if len(lines) == 0 {
			d.say("Nothing is likely to be hurt at this step.")
		}
	case "points", "rows":
		d.sayPoints(c)
	case "result":
		d.sayResult(c)
	case "findings":
		for _, f := range c.Findings {
			d.say("%s: %s %s", chanceOf(f), f.Say, f.Try)
		}
		if len(c.Findings) == 0 {
			d.say("The readings point to nothing wrong.")
		}
	case "events":
		d.sayEvents(d.Sitting.Events(), d.Sitting.State().Struck, DescribeMeter)
	case "note":
		if rest == "" {
			d.print("Type note and the text on one line.")
			return true, nil
		}
		d.accept(procedure.Note{Text: rest})
	case "temperature":
		v, err := signed(rest, quantity.Celsius)
		if err != nil {
			d.refuse(err)
			return true, nil
		}
		d.accept(procedure.Note{Temperature: &v})
	case "undo":
		d.undo()
	case "back":
		d.say("There is no question to go back to. Undo strikes out the last event.")
	case "strike":
		number, why, _ := strings.Cut(rest, " ")
		n, err := strconv.Atoi(number)
		if err != nil {
			d.say("Type strike and the number of the event, such as strike 6; events lists them.")
			return true, nil
		}
		d.accept(procedure.Strike{Event: n, Why: strings.TrimSpace(why)})
	case "zero":
		d.takeZero(rest)
	case metercheck.Rising, metercheck.Falling:
		return true, d.aside(func() error { return d.pointAside(word, rest) })
	case "wired":
		d.accept(procedure.Wired{})
	case "bench":
		return true, d.aside(d.askBench)
	case "who":
		return true, d.aside(d.askWho)
	case "look":
		d.look(c)
	case "finish":
		line, err := d.ask(question{text: "Finish? Type yes to finish, no to go on.", here: "Here yes or no is expected.", kind: "finish"})
		if err != nil {
			return true, err
		}
		if !yes(line) {
			d.say("Nothing is recorded.")
			return true, nil
		}
		d.accept(procedure.Finish{})
	case "quit", "exit":
		return true, errLeave
	default:
		return false, nil
	}
	return true, nil
}

// pointAside takes a point out of turn: "rising 40", "falling tapped 40".
func (d *meterDialogue) pointAside(direction, rest string) error {
	if !d.Sitting.State().Wired() {
		d.say("No point before the circuit is looked over.")
		return nil
	}
	tapped := false
	if word, more := cut(rest); word == "tapped" {
		tapped, rest = true, more
	}
	if rest == "" {
		return d.askPoint(direction, tapped, nil, false)
	}
	v, err := signed(rest, quantity.Division)
	if err != nil {
		d.refuse(err)
		return nil
	}
	// The pointer's reading is given: only the reference is asked for.
	b := d.bench()
	q := question{text: "What does the reference show?", here: "Here the reference's reading is expected, or back to leave it.", words: []string{"back", "undo"}}
	ref, ok, err := d.number(q, b.Unit(), false)
	if err != nil {
		return err
	}
	if !ok {
		d.say("Nothing is recorded.")
		return nil
	}
	d.accept(b.At(direction, v, ref, tapped))
	return nil
}

// look looks for the fault that the readings point to first.
func (d *meterDialogue) look(c metercheck.Counsel) {
	switch {
	case d.Hand == nil:
		d.say("That is for a simulated bench; here, look yourself.")
	case len(c.Findings) == 0:
		d.say("The readings point to nothing: there is nothing to look for.")
	case d.Hand.Look(c.Findings[0].ID):
		d.say("It is there, and is put right. Strike what it spoiled, and read again.")
		d.shown = nil
	default:
		d.say("It is not there.")
	}
}

// undo strikes out the last event that stands and is no strike, note or bench.
func (d *meterDialogue) undo() {
	state := d.Sitting.State()
	for _, e := range slices.Backward(d.Sitting.Events()) {
		switch e.Body.Kind() {
		case procedure.KindStrike, procedure.KindNote, procedure.KindWho, procedure.KindBench:
			continue
		}
		if state.Struck(e.Seq) == 0 {
			d.say("Striking out number %d, %s.", e.Seq, DescribeMeter(e.Body))
			d.accept(procedure.Strike{Event: e.Seq})
			return
		}
	}
	d.say("There is nothing to strike out.")
}

func (d *meterDialogue) sayPoints(c metercheck.Counsel) {
	if c.Result == nil {
		d.say("There are no points yet.")
		return
	}
	for _, p := range c.Result.Points {
		name := p.Direction
		if p.Zero {
			name = "zero"
		}
		if p.Tapped {
			name += ", tapped"
		}
		d.say("Number %d, %s: pointer %s, reference %s, error %+.2f %%, give or take %.2f %%.", p.Seq, name, divisions(p.Div),
			quantity.Format(p.Reference, d.bench().Unit(), 5), p.Error, p.U95Error)
	}
}

// sayTable says what is recorded of the instruments.
func (d *meterDialogue) sayTable() {
	b, ok := d.Sitting.State().Bench()
	if !ok {
		return
	}
	d.say("%s.", strings.ToUpper(DescribeMeter(b)[:1])+DescribeMeter(b)[1:])
	ref := "Reference"
	if b.Reference.Label != "" {
		ref += " " + b.Reference.Label
	}
	d.say("%s: standard uncertainty %s.", ref, quantity.Format(b.UReference(), b.Unit(), 3))
	if v := b.ReferenceMax(); v > 0 {
		d.say("It is rated for %s.", quantity.Format(v, b.Unit(), 3))
	}
	if v := b.SourceMax(); v > 0 {
		d.say("The source drives at most %s.", quantity.Format(v, b.Unit(), 3))
	}
}

// DescribeMeter says in a few words what an event of a meter check records.
func DescribeMeter(b procedure.Body) string {
	switch b := b.(type) {
	case metercheck.Bench:
		s := fmt.Sprintf("bench: %s, 0 to %s on %s", b.MeterKind, quantity.Format(b.Range(), b.Unit(), 3), divisions(b.Divisions))
		if b.Centre() {
			s += " to each side"
		}
		if b.Class > 0 {
			s += fmt.Sprintf(", class %s", number(b.Class))
		}
		return s
	case metercheck.Point:
		unit := quantity.Ampere
		if b.ReferenceV != nil {
			unit = quantity.Volt
		}
		s := fmt.Sprintf("%s point: pointer %s, reference %s", b.Direction, divisions(b.Div), quantity.Format(b.Reference(), unit, 5))
		if b.Tapped {
			s += ", tapped"
		}
		return s
	}
	if _, ok := b.(procedure.Finish); ok {
		return "no more points"
	}
	return Describe(b)
}

func (d *meterDialogue) sayResult(c metercheck.Counsel) {
	for _, l := range c.Result.Say(d.bench()) {
		d.say("%s", l)
	}
	for _, r := range c.Remarks {
		d.say("%s", r)
	}
	if c.Result != nil {
		for _, k := range c.Result.Corrections {
			d.say("Correction at %s: %s.", divisions(math.Round(k.Div*100)/100), quantity.Style(0).Measured(quantity.Measured{Value: k.Value, U: k.U, Unit: d.bench().Unit()}))
		}
	}
}
