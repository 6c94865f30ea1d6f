// Package plain is the practical as a plain dialogue: append-only lines, one
// question a line, no cursor movement, no colour, no drawn boxes, and signs
// spelled out. It is for screen readers, serial consoles and pipes. It shows
// the same counsel as every other way in and computes nothing.
package plain

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"example.org/halve/procedure"
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
	Minutes int    // the time there is, 0 where none was given
	Now     func() time.Time
	In      io.Reader
	Out     io.Writer
}

// errLeave ends the dialogue; the record stays as it is and can be resumed.
var errLeave = errors.New("leave")

// errBack asks for the question before.
var errBack = errors.New("back")

// dialogue is one run of the plain dialogue.
type dialogue struct {
	Options
	in    *bufio.Reader
	began time.Time

	told     []string // what the counsel of event toldSeq had to say, for "repeat"
	toldSeq  int
	step     procedure.Step
	rows     int      // rows already said
	needle   *reading // where the simulated needle rests, nil until looked at
	emfAsked bool     // the EMF of this moment was asked for
	ended    bool     // the closing words were said
	write    error    // the first failure of Out
}

// Run goes through the practical until it is finished, the person quits or
// the input ends. It fails only where In or Out do.
func Run(o Options) error {
	d := &dialogue{Options: o, in: bufio.NewReader(o.In), began: o.Now(), step: ""}
	err := d.run()
	if errors.Is(err, errLeave) {
		err = nil
		if d.Sitting.Counsel().Next != nil {
			d.say("You leave the practical here. Everything recorded is kept.")
			d.print("To go on: halve " + d.resume())
		}
	}
	if d.write != nil {
		return fmt.Errorf("the output cannot be written: %w", d.write)
	}
	return err
}

// resume is the command that goes on with this record.
func (d *dialogue) resume() string {
	if d.Needle != nil {
		return "practise --plain --record " + d.path()
	}
	return "guide --plain " + d.path()
}

// path is where the record is, written as it is: a path is not spelled out.
func (d *dialogue) path() string { return procedure.CleanText(d.Sitting.Path(), maxAnswer) }

func (d *dialogue) run() error {
	d.open()
	for {
		c := d.Sitting.Counsel()
		if err := d.turn(c); err != nil && !errors.Is(err, errBack) {
			return err
		}
	}
}

// open names the mode and says where things stand.
func (d *dialogue) open() {
	if d.Needle != nil {
		d.say("halve, plain dialogue, on a simulated bench. Type help at any question for the words it knows.")
	} else {
		d.say("halve, plain dialogue. Type help at any question for the words it knows.")
	}
	d.print("The record is " + d.path())
	if c := d.Sitting.Counsel(); c.Seq > 1 {
		d.say("Resumed after event %d.", c.Seq)
		if c.Next != nil {
			d.sayNewRows(c)
		}
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
		d.sayVoltmeter(false)
		line, err := d.ask(emfQuestion)
		if err != nil {
			return err
		}
		if done, err := d.command(c, line); done {
			return err
		}
		d.emfAsked = true
		return d.answerSource(false, line)
	}
	if d.told == nil || d.toldSeq != c.Seq {
		d.toldSeq = c.Seq
		d.tell(c)
	}
	switch {
	case c.Next == nil:
		return d.end(c)
	case c.Next.Event == procedure.KindBench:
		return d.askBench()
	}
	line, err := d.ask(d.question(c.Next))
	if err != nil {
		return err
	}
	if done, err := d.command(c, line); done {
		return err
	}
	return d.answer(c.Next, line)
}

const emfQuestion = "Measure the EMF with a voltmeter, K1 open. What does it show, in volts? Type skip to leave it out."

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

// question is the line that asks for the next event.
func (d *dialogue) question(n *procedure.Next) string {
	switch n.Event {
	case procedure.KindWired:
		return "Is the circuit built and checked against the drawing? Type yes when it is."
	case procedure.KindZero:
		return "Keys open: where does the pointer rest, in divisions?"
	case procedure.KindSetSeries:
		return "What does the series box stand at now, in ohm?" + enterTakes(n)
	case procedure.KindSetShunt:
		return "What does the shunt box stand at now, in ohm?" + enterTakes(n)
	case procedure.KindReadFirst:
		return "K1 closed, K2 open: what is the first deflection, in divisions? Type off if the needle is beyond the end."
	case procedure.KindReadShunted:
		return "K1 and K2 closed: what is the shunted deflection, in divisions? Type off if the needle is beyond the end."
	case procedure.KindKeepRow:
		return "Keep these readings as a row? Enter or yes keeps it; or type a word such as shunted, shunt or undo."
	case procedure.KindFinish:
		return "Is that the last row? Type yes to finish, or series for another row."
	}
	return "What now?"
}

func enterTakes(n *procedure.Next) string {
	if n.Ohm == nil {
		return ""
	}
	return fmt.Sprintf(" Enter takes %s.", number(*n.Ohm))
}

// answer takes what was typed at the question for n.
func (d *dialogue) answer(n *procedure.Next, line string) error {
	switch n.Event {
	case procedure.KindWired, procedure.KindFinish:
		if !yes(line) {
			d.say("Nothing is recorded. Type yes when it is so, or help for the words.")
			return nil
		}
		if n.Event == procedure.KindWired {
			return d.accept(procedure.Wired{})
		}
		return d.accept(procedure.Finish{})
	case procedure.KindKeepRow:
		if line != "" && !yes(line) {
			d.say("Nothing is recorded. Type yes to keep the row, shunt and a value for another trial, or shunted and a reading to read again.")
			return nil
		}
		return d.accept(procedure.RowKept{})
	case procedure.KindSetSeries, procedure.KindSetShunt:
		if line == "" && n.Ohm != nil {
			return d.accept(setting(n.Event, *n.Ohm, n.TakeOut))
		}
		return d.takeSetting(n.Event, line)
	default:
		return d.takeReading(n.Event, line)
	}
}

// yes reports whether a person said so; an empty line is no answer.
func yes(s string) bool { return strings.EqualFold(s, "yes") || strings.EqualFold(s, "y") }

// mend puts a simulated bench right: to strike what a finding spoiled is to
// have looked for it.
func (d *dialogue) mend(b procedure.Body, found []procedure.Finding) {
	strike, ok := b.(procedure.Strike)
	if !ok || d.Needle == nil {
		return
	}
	for _, f := range found {
		if f.Mend != nil && f.Mend.Seq == strike.Event {
			d.Needle.Look(f.ID)
		}
	}
}

// accept sends an event and says what became of it.
func (d *dialogue) accept(b procedure.Body) error {
	found := d.Sitting.Counsel().Findings
	c, err := d.Sitting.Accept(b)
	switch {
	case err != nil:
		d.say("Not recorded: %s.", err)
	case c.Refused != nil:
		d.say("Not taken: %s.", strings.TrimSuffix(*c.Refused, "."))
	default:
		d.say("Recorded as number %d: %s.", c.Seq, Describe(b))
		d.mend(b, found)
		d.sayNewRows(c)
	}
	return nil
}

// end is where nothing is left to do: finished, or a bench that cannot do it.
func (d *dialogue) end(c procedure.Counsel) error {
	if !d.Sitting.State().Finished() {
		line, err := d.ask("This bench cannot do it as it is. Type bench to describe it again, or quit.")
		if err != nil {
			return err
		}
		if done, err := d.command(c, line); done {
			return err
		}
		d.say("Type bench or quit.")
		return nil
	}
	if !d.ended {
		d.ended = true
		d.sayRows(c)
		d.say("%s", result(c))
		d.print("The record is " + d.path())
	}
	line, err := d.ask("To copy the record to a folder or stick, type the folder. Enter ends here.")
	if err != nil {
		return err
	}
	if line == "" {
		return errLeave
	}
	if done, err := d.command(c, line); done {
		return err
	}
	path, err := d.Sitting.CopyTo(line)
	if err != nil {
		d.say("Not copied: %s.", err)
		return nil
	}
	d.print("Copied to " + procedure.CleanText(path, maxAnswer))
	return errLeave
}

// say writes one line, with every sign in words.
func (d *dialogue) say(format string, a ...any) { d.print(spell(fmt.Sprintf(format, a...))) }

func (d *dialogue) print(line string) {
	if d.write == nil {
		_, d.write = fmt.Fprintln(d.Out, line)
	}
}

// maxAnswer bounds what is taken of one typed line, in runes.
const maxAnswer = procedure.MaxText

// ask puts one question on a line of its own and returns the answer. The
// words that change nothing are dealt with here, at every question.
func (d *dialogue) ask(question string) (string, error) {
	d.print(question)
	for {
		if d.write != nil {
			return "", errLeave
		}
		raw, tooLong, err := procedure.ReadLine(d.in)
		if errors.Is(err, io.EOF) {
			return "", errLeave
		}
		if err != nil {
			return "", fmt.Errorf("the input cannot be read: %w", err)
		}
		line := procedure.CleanText(string(raw), maxAnswer)
		if tooLong {
			d.print("That line is too long to be an answer; it was passed over.")
			line = "repeat"
		}
		word, rest := cut(line)
		switch word {
		case "help", "?":
			d.help()
		case "repeat":
			for _, l := range d.told {
				d.print(l)
			}
		case "rows":
			d.sayRows(d.Sitting.Counsel())
		case "result":
			d.sayBehind()
		case "graphs", "graph":
			d.sayGraphs()
		case "circuit":
			d.say("%s", d.circuit().Describe())
		case "events":
			d.sayEvents()
		case "note":
			d.note(rest)
		case "quit", "exit":
			return "", errLeave
		default:
			return line, nil
		}
		d.print(question)
	}
}

// cut takes the first word, in small letters, off a line.
func cut(line string) (word, rest string) {
	word, rest, _ = strings.Cut(line, " ")
	return strings.ToLower(word), strings.TrimSpace(rest)
}
