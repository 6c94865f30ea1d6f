// Package plain is the practical as a plain dialogue: append-only lines, one
// question a line, no cursor movement, no colour, no drawn boxes, and signs
// spelled out. It is for screen readers, serial consoles and pipes, and the
// whole practical can be done by ear. It shows the same counsel as every other
// way in and computes nothing.
package plain

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"example.org/halve/procedure"
	"example.org/halve/procedure/debrief"
	"example.org/halve/tui/table"
)

// A Sitting is the practical that is being kept; *record.Sitting is one.
type Sitting interface {
	// Accept takes an event and returns once it is on the disk.
	Accept(procedure.Body) (procedure.Counsel, error)
	Counsel() procedure.Counsel
	State() *procedure.State
	Events() []procedure.Event
	Path() string
	// CopyTo copies the record to a folder and returns the path of the copy.
	CopyTo(dir string) (string, error)
}

// A Needle is the simulated bench of a practice: it tells where the needle
// rests at the settings and keys of the moment.
type Needle interface {
	SetSeries(ohm float64, takeOut []float64) error
	SetShunt(ohm float64, takeOut []float64) error
	SetKeys(k1, k2 bool)
	// Read returns the reading a person would write down, off where the
	// needle is beyond the last mark.
	Read() (div float64, off bool)
	// Voltmeter reads the source in volt, loaded with K1 closed, and gives
	// the reading's standard uncertainty.
	Voltmeter(loaded bool) (volts, u float64)
	// Look is looking for a fault, which puts it right where it is there.
	Look(id string) bool
}

// Options are what a dialogue needs.
type Options struct {
	Sitting Sitting
	Needle  Needle // nil at a real bench
	// Over says how a finished practice went; nil says nothing. What the bench
	// had hidden is its own knowledge.
	Over    func(debrief.Practice) []debrief.Remark
	Table   *table.Table // to be taken over as soon as the bench is described, nil for none
	Minutes int          // the time there is, 0 where none was given
	Now     func() time.Time
	In      io.Reader
	Out     io.Writer
}

// errLeave ends the dialogue; the record stays as it is and can be resumed.
var errLeave = errors.New("leave")

// errTurn gives the question up: something has happened, and the counsel says
// what comes next.
var errTurn = errors.New("turn")

// dialogue is one run of the plain dialogue.
type dialogue struct {
	Options
	voice
	began time.Time

	told     []string // what the counsel of event toldSeq had to say, for "repeat"
	toldSeq  int
	step     procedure.Step
	warned   map[procedure.Step]bool // steps whose cautions were said
	found    procedure.Finding       // the one that was said last
	rows     int                     // rows already said
	needle   *reading                // where the simulated needle rests, nil until looked at
	emfAsked bool                    // the EMF of this moment was asked for
	ended    bool                    // the closing words were said
	nested   int                     // questions that wait while another is asked
	practised
}

// Run goes through the practical until it is finished, the person quits or
// the input ends. It fails only where In or Out do.
func Run(o Options) error {
	d := &dialogue{Options: o, voice: voice{in: bufio.NewReader(o.In), out: o.Out}, began: o.Now(), warned: make(map[procedure.Step]bool)}
	err := d.run()
	if errors.Is(err, errLeave) {
		err = nil
		if d.Sitting.State().Finished() {
			d.say("The practical is finished.")
		} else {
			d.say("You leave the practical here. Everything recorded is kept.")
			d.print("To go on: halve " + d.resume())
		}
	}
	if d.write != nil {
		return fmt.Errorf("the output cannot be written: %w", d.write)
	}
	if err == nil && d.Table != nil {
		err = errors.New("the table was not taken over")
	}
	return err
}

// resume is the command that goes on with this record.
func (d *dialogue) resume() string {
	if d.Needle != nil {
		return "practise --plain --record " + d.Sitting.Path()
	}
	return "guide --plain " + d.Sitting.Path()
}

func (d *dialogue) run() error {
	d.open()
	if _, known := d.Sitting.State().Bench(); known && d.Table != nil {
		if err := d.takeTable(); err != nil {
			return err
		}
	}
	for {
		if err := d.turn(d.Sitting.Counsel()); err != nil && !errors.Is(err, errTurn) {
			return err
		}
	}
}

// open names the mode and says where things stand.
func (d *dialogue) open() {
	bench := ""
	if d.Needle != nil {
		bench = ", on a simulated bench"
	}
	d.say("halve, plain dialogue%s. Type help at any question for the words it knows.", bench)
	d.print("The record is " + d.Sitting.Path())
	c := d.Sitting.Counsel()
	if c.Seq > 1 {
		d.say("Resumed after event %d.", c.Seq)
	}
	if _, known := d.Sitting.State().Bench(); known && c.Next != nil {
		d.sayTable()
		d.sayNewRows(c)
	}
	if d.Minutes > 0 {
		d.say("There are %d minutes: until %s.", d.Minutes, d.began.Add(d.left()).Format("15:04"))
	}
}

func (d *dialogue) left() time.Duration { return time.Duration(d.Minutes) * time.Minute }

// turn says what the counsel has to say, if it is not said yet, asks for the
// one thing to do now and takes the answer.
func (d *dialogue) turn(c procedure.Counsel) error {
	if d.emfIsDue(c) {
		d.emfAsked = true
		return d.source(false, "")
	}
	if d.told == nil || d.toldSeq != c.Seq {
		d.toldSeq = c.Seq
		d.tell(c)
	}
	switch {
	case d.Sitting.State().Finished():
		return d.end(c)
	case c.Next == nil:
		return d.unfit()
	case c.Next.Event == procedure.KindBench:
		return d.askBench()
	}
	line, err := d.ask(d.question(c))
	if err != nil {
		return err
	}
	return d.answer(c, line)
}

// takeTable takes a table over. Where it cannot be taken nothing of it is, and
// another bench may be described.
func (d *dialogue) takeTable() error {
	bodies, err := d.Table.Events(d.Sitting.State(), d.Sitting.Events())
	if err != nil {
		d.say("Nothing of the table is taken over: %s.", full(plainly(err.Error())))
		d.say("If the bench is not that of the table, type bench and describe it again. If the table is at fault, type quit, put it right and begin again.")
		return nil
	}
	if err := table.Record(d.Sitting, bodies); err != nil {
		return err
	}
	d.Table = nil
	d.say("The table is taken over, as %d events.", len(bodies))
	c := d.Sitting.Counsel()
	d.sayNewRows(c)
	d.sayClaims(c)
	return nil
}

// emfIsDue says whether this is the moment to measure the source: before the
// first row and after the last.
func (d *dialogue) emfIsDue(c procedure.Counsel) bool {
	state := d.Sitting.State()
	_, set := state.SeriesOhm()
	due := false
	switch {
	case c.Next == nil:
	case c.Next.Event == procedure.KindSetSeries && !set && len(c.Rows) == 0:
		due = !state.SourceSince(0)
	case c.Step == procedure.StepResult:
		due = !state.SourceSince(state.LastKept())
	default:
		d.emfAsked = false
	}
	return due && !d.emfAsked
}

// question is what asks for the next event.
func (d *dialogue) question(c procedure.Counsel) question {
	const reading = "Here a reading is expected, such as 23.5 or minus 4, or off if the needle is beyond the end; off left if it is the left end."
	switch c.Next.Event {
	case procedure.KindWired:
		return question{text: "Is the circuit built and checked against this list? Type yes when it is.", kind: "wired", bare: true,
			here: "Here yes is expected, once every item of the list is so. Repeat says the list again.", main: true}
	case procedure.KindZero:
		return question{text: zeroQuestion, kind: "zero", here: "Here the rest reading is expected, such as 0.5 or minus 0.25.", words: []string{"off"}, main: true}
	case procedure.KindSetSeries:
		return question{text: "What does the series box stand at now, in ohm?" + enterTakes(c.Next), kind: "series", here: settingHelp, main: true}
	case procedure.KindSetShunt:
		return question{text: "What does the shunt box stand at now, in ohm?" + enterTakes(c.Next), kind: "shunt", here: settingHelp, main: true}
	case procedure.KindReadFirst:
		return question{text: firstQuestion + " Type off if the needle is beyond the end.", kind: "first", here: reading, words: []string{"off"}, main: true}
	case procedure.KindReadShunted:
		return question{text: shuntedQuestion + " Type off if the needle is beyond the end.", kind: "shunted", here: reading, words: []string{"off"}, main: true}
	case procedure.KindKeepRow:
		return question{text: "Keep these readings as a row? Enter or yes keeps it; or type a word such as shunted, shunt or undo.", kind: "keep", bare: true,
			here: "Here Enter or yes is expected. To read again, type shunted and a reading; for another trial, shunt and a value.", main: true}
	}
	return question{text: "Is that the last row? Type yes to finish, or series for another row.", kind: "finish", bare: true,
		here: "Here yes is expected, or series and a value for one more row.", main: true}
}

const (
	zeroQuestion    = "Keys open: where does the pointer rest, in divisions?"
	firstQuestion   = "K1 closed, K2 open: what is the first deflection, in divisions?"
	shuntedQuestion = "K1 and K2 closed: what is the shunted deflection, in divisions?"
	settingHelp     = "Here a value is expected, such as 4700 or 4k7, or the plugs that are out with plus signs between them, such as 2000+2000+500+200."
)

func enterTakes(n *procedure.Next) string {
	if n.Ohm == nil {
		return ""
	}
	return fmt.Sprintf(" Enter takes %s.", number(*n.Ohm))
}

// answer takes what was typed at the question for the next event.
func (d *dialogue) answer(c procedure.Counsel, line string) error {
	n := c.Next
	switch n.Event {
	case procedure.KindWired, procedure.KindFinish:
		if !yes(line) {
			d.say("Nothing is recorded. Type yes when it is so, or help for the words.")
			return nil
		}
		if n.Event == procedure.KindWired {
			d.accept(procedure.Wired{})
		} else {
			d.accept(procedure.Finish{})
		}
	case procedure.KindKeepRow:
		if line != "" && !yes(line) {
			d.say("Nothing is recorded. Type yes to keep the row, shunt and a value for another trial, or shunted and a reading to read again.")
			return nil
		}
		d.accept(procedure.RowKept{})
	case procedure.KindSetSeries, procedure.KindSetShunt:
		if line == "" && n.Ohm != nil {
			d.accept(setting(n.Event, *n.Ohm, n.TakeOut))
			return nil
		}
		d.takeSetting(n.Event, line)
	default:
		return d.takeReading(n.Event, line)
	}
	return nil
}

// yes and no report whether a person said so; an empty line is no answer.
func yes(s string) bool { return strings.EqualFold(s, "yes") || strings.EqualFold(s, "y") }
func no(s string) bool  { return strings.EqualFold(s, "no") || strings.EqualFold(s, "n") }

// accept sends an event and says what became of it. It reports whether the
// event was taken.
func (d *dialogue) accept(b procedure.Body) bool {
	before := d.Sitting.Counsel()
	found := before.Findings
	c, err := d.Sitting.Accept(b)
	switch {
	case err != nil:
		d.say("Not recorded: %s.", full(err.Error()))
	case c.Refused != nil:
		d.refuse(errors.New(*c.Refused))
	default:
		d.say("Recorded as number %d: %s.", c.Seq, Describe(b))
		d.wrote(b, before.Seq)
		d.mend(b, found)
		d.sayNewRows(c)
		return true
	}
	return false
}

// full is a sentence's text without its full stop.
func full(s string) string { return strings.TrimSuffix(s, ".") }

// mend puts a simulated bench right: to strike what a finding spoiled is to
// have looked for it.
func (d *dialogue) mend(b procedure.Body, found []procedure.Finding) {
	strike, ok := b.(procedure.Strike)
	if !ok || d.Needle == nil {
		return
	}
	for _, f := range found {
		if f.Mend != nil && f.Mend.Seq == strike.Event {
			if d.Needle.Look(f.ID) {
				d.noted(procedure.Note{Text: debrief.Mended(f.ID)})
			}
		}
	}
}

// unfit is where the counsel has nothing to ask for: these instruments cannot
// do it, unless what shows it was a slip.
func (d *dialogue) unfit() error {
	text := "These instruments cannot do it as they are. Type bench to describe them again, undo to strike out the last event, or quit."
	if _, off := d.lastReading(); off {
		text = "If off was a slip, type undo to strike it out, or first and a reading to read again. If it was not, type bench to describe the instruments again, or quit."
	}
	_, err := d.ask(question{text: text, here: "Here one of these words is expected: undo, first, bench or quit.", main: true})
	if err != nil {
		return err
	}
	d.say("Nothing is recorded.")
	return nil
}

// lastReading is the last reading that stands; off where it is beyond the end.
func (d *dialogue) lastReading() (e procedure.Event, off bool) {
	events, state := d.Sitting.Events(), d.Sitting.State()
	for i := len(events) - 1; i >= 0; i-- {
		if state.Struck(events[i].Seq) != 0 {
			continue
		}
		switch b := events[i].Body.(type) {
		case procedure.FirstRead:
			return events[i], b.OffScale
		case procedure.ShuntedRead:
			return events[i], b.OffScale
		}
	}
	return procedure.Event{}, false
}

// end is where the practical is finished.
func (d *dialogue) end(c procedure.Counsel) error {
	if !d.ended {
		d.ended = true
		d.sayRows(c)
		d.say("%s", result(c))
		if d.Over != nil {
			d.sayHowItWent(c)
		}
		d.print("The record is " + d.Sitting.Path())
	}
	folder := question{text: "To copy the record to a folder or stick, type the folder. Enter ends here.", free: true, main: true,
		here: "Here the name of a folder is expected, or Enter to end. Undo goes on with the practical."}
	line, err := d.ask(folder)
	if err != nil {
		if errors.Is(err, errTurn) && !d.Sitting.State().Finished() {
			d.ended = false // the finish was struck out
		}
		return err
	}
	return d.copied(line, d.Sitting.CopyTo)
}
