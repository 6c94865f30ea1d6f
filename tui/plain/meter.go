package plain

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/metercheck"
	"example.org/halve/safety"
)

// A MeterSitting is the meter check that is being kept; *record.MeterSitting is
// one.
type MeterSitting interface {
	Accept(procedure.Body) (metercheck.Counsel, error)
	Counsel() metercheck.Counsel
	State() *metercheck.State
	Events() []procedure.Event
	Path() string
	CopyTo(dir string) (string, error)
}

// A MeterHand works the simulated bench of a meter check, as the counsel asks.
type MeterHand interface {
	// Follow brings source, case and adjuster to where a counsel asks for them
	// and returns what is then to be read.
	Follow(c metercheck.Counsel) (div, reference float64)
	// Look is looking for a fault, which puts it right where it is there.
	Look(id string) bool
}

// MeterOptions are what a dialogue on a meter check needs.
type MeterOptions struct {
	Sitting MeterSitting
	Hand    MeterHand // nil at a real bench
	Minutes int       // the time there is, 0 where none was given
	Now     func() time.Time
	In      io.Reader
	Out     io.Writer
}

// meterDialogue is one run of the plain dialogue on a meter check.
type meterDialogue struct {
	MeterOptions
	voice
	began   time.Time
	told    []string
	toldSeq int
	step    procedure.Step
	warned  map[procedure.Step]bool
	found   string // the finding that was said last
	cleared string // why the source was cleared last
	shown   *shown // what the simulated bench shows, nil until looked at
	ended   bool
	nested  int
}

// shown is what the simulated bench shows after event seq.
type shown struct {
	seq            int
	div, reference float64
}

// RunMeter goes through a meter check until it is finished, the person quits
// or the input ends. It fails only where In or Out do.
func RunMeter(o MeterOptions) error {
	d := &meterDialogue{MeterOptions: o, voice: voice{in: bufio.NewReader(o.In), out: o.Out}, began: o.Now(), warned: make(map[procedure.Step]bool), toldSeq: -1}
	d.open()
	var err error
	for err == nil || errors.Is(err, errTurn) {
		err = d.turn(d.Sitting.Counsel())
	}
	if errors.Is(err, errLeave) {
		err = nil
		if d.Sitting.State().Finished() {
			d.say("The check is finished.")
		} else {
			d.say("You leave the check here. Everything recorded is kept.")
			d.print("To go on: halve " + d.resume())
		}
	}
	if d.write != nil {
		return fmt.Errorf("the output cannot be written: %w", d.write)
	}
	return err
}

// resume is the command that goes on with this record.
func (d *meterDialogue) resume() string {
	if d.Hand != nil {
		return "practise --procedure meter-check --plain --record " + d.Sitting.Path()
	}
	return "guide --plain " + d.Sitting.Path()
}

func (d *meterDialogue) open() {
	bench := ""
	if d.Hand != nil {
		bench = ", on a simulated bench"
	}
	d.say("halve, meter check, plain dialogue%s. Type help at any question for the words it knows.", bench)
	d.print("The record is " + d.Sitting.Path())
	if c := d.Sitting.Counsel(); c.Seq > 1 {
		d.say("Resumed after event %d.", c.Seq)
	}
	d.sayTable()
	if d.Minutes > 0 {
		left := time.Duration(d.Minutes) * time.Minute
		d.say("There are %d minutes: until %s.", d.Minutes, d.began.Add(left).Format("15:04"))
	}
}

// bench is the bench as it is stated.
func (d *meterDialogue) bench() metercheck.Bench {
	b, _ := d.Sitting.State().Bench()
	return b
}

// turn says what the counsel has to say, if it is not said yet, asks for the
// one thing to do now and takes the answer.
func (d *meterDialogue) turn(c metercheck.Counsel) error {
	if d.toldSeq != c.Seq {
		d.toldSeq = c.Seq
		d.tell(c)
	}
	switch {
	case d.Sitting.State().Finished():
		return d.end(c)
	case c.Next.Event == procedure.KindBench:
		return d.askBench()
	case c.Next.Event == metercheck.KindPoint:
		return d.askPoint(c.Next.Direction, *c.Next.Tapped, c.Next.TargetDiv, true)
	case c.Next.Event == procedure.KindZero:
		line, err := d.ask(question{text: zeroOff, kind: "zero", here: "Here the rest reading is expected, such as 0, 0.2 or minus 0.2.", main: true})
		if err != nil {
			return err
		}
		d.takeZero(line)
		return nil
	}
	q := question{text: "Is the circuit built so, and looked over? Type yes when it is.", kind: "wired", bare: true,
		here: "Here yes is expected, once it is so. Repeat says it again.", main: true}
	var body procedure.Body = procedure.Wired{}
	if c.Next.Event == procedure.KindFinish {
		q = question{text: "Is the check complete? Type yes to finish, or rising or falling and a mark for another point.", kind: "finish", bare: true,
			here: "Here yes is expected, or a word such as rising 40.", main: true}
		body = procedure.Finish{}
	}
	line, err := d.ask(q)
	if err != nil {
		return err
	}
	if !yes(line) {
		d.say("Nothing is recorded. Type yes when it is so, or help for the words.")
		return nil
	}
	d.accept(body)
	return nil
}

const zeroOff = "Source off: where does the pointer rest, in divisions?"

// ask puts a question and returns the answer; see voice.ask.
func (d *meterDialogue) ask(q question) (string, error) { return d.voice.ask(q, d.command) }

// aside asks a question beside the main one, unless too many wait already.
func (d *meterDialogue) aside(f func() error) error {
	if d.nested == mostNested {
		d.say("Answer the question first, or type back to leave it.")
		return nil
	}
	d.nested++
	defer func() { d.nested-- }()
	return f()
}

// meterSteps are the steps in words, in order.
var meterSteps = [...]struct {
	step procedure.Step
	name string
}{
	{metercheck.StepBench, "the bench"},
	{metercheck.StepWiring, "wiring"},
	{metercheck.StepZero, "the zero"},
	{metercheck.StepRising, "rising points"},
	{metercheck.StepFalling, "falling points"},
	{metercheck.StepResult, "the result"},
}

// tell says what the counsel has to say: what can be hurt, what is odd, whether
// it is safe, what to do now and what to expect. It is kept for "repeat".
func (d *meterDialogue) tell(c metercheck.Counsel) {
	d.told = []string{}
	if c.Step != d.step {
		d.step = c.Step
		for i, s := range meterSteps {
			if s.step == c.Step {
				d.tellf("Step %d of %d: %s.", i+1, len(meterSteps), s.name)
			}
		}
		if !d.warned[c.Step] {
			d.warned[c.Step] = true
			for _, l := range d.cautions(c.Step) {
				d.tellf("Take care: %s", l)
			}
			if c.Step == metercheck.StepZero || c.Step == metercheck.StepResult {
				for _, r := range c.Remarks {
					d.tellf("%s", r)
				}
			}
		}
	}
	if c.Odd != "" {
		d.tellf("Odd: %s.", full(c.Odd))
	}
	d.tellFindings(c)
	if c.Next == nil {
		return
	}
	if k := c.Clearance; k != nil && c.Next.Event == metercheck.KindPoint {
		switch k.Verdict {
		case safety.Tap:
			d.tellf("Careful: %s.", full(k.Because))
		case safety.Clear:
			if k.Because == d.cleared {
				d.tellf("Safe, as before.")
			} else {
				d.tellf("Safe: %s.", full(k.Because))
			}
		}
		d.cleared = k.Because
	}
	d.tellf("Now: %s", c.Next.Do)
	if e := c.Expect; e != nil {
		v, u := e.Reference()
		d.tellf("With the pointer on the mark, the reference should show between %s and %s.", d.written(v-2*u), d.written(v+2*u))
	}
	d.tellHand(c)
}

// tellf says one line of a counsel.
func (d *meterDialogue) tellf(format string, a ...any) {
	line := spell(fmt.Sprintf(format, a...))
	d.told = append(d.told, line)
	d.print(line)
}

// tellFindings says what the readings point to, the first at length, the
// others where they are another than before.
func (d *meterDialogue) tellFindings(c metercheck.Counsel) {
	if len(c.Findings) == 0 {
		d.found = ""
		return
	}
	f := c.Findings[0]
	if d.found == f.ID {
		d.tellf("Still: %s", f.Say)
	} else {
		d.found = f.ID
		d.tellf("%s: %s %s", chanceOf(f), f.Say, f.Try)
	}
	if f.Mend != nil {
		d.tellf("To strike what it spoiled, type strike %d.", f.Mend.Seq)
	}
}

// chanceOf says how probable a finding is.
func chanceOf(f procedure.Finding) string {
	if f.Probability >= 0.995 {
		return "Something is wrong"
	}
	return fmt.Sprintf("Something is wrong, with %.0f percent", 100*f.Probability)
}

// written is a value in the meter's unit.
func (d *meterDialogue) written(v float64) string { return quantity.Format(v, d.bench().Unit(), 4) }

// tellHand says what the simulated bench shows when it is brought to where the
// counsel asks. It is looked at once for each state, so that repeating the
// question changes nothing.
func (d *meterDialogue) tellHand(c metercheck.Counsel) {
	if d.Hand == nil || c.Next.Event != procedure.KindZero && c.Next.Event != metercheck.KindPoint {
		return
	}
	if d.shown == nil || d.shown.seq != c.Seq {
		div, reference := d.Hand.Follow(c)
		d.shown = &shown{c.Seq, div, reference}
	}
	if c.Next.Event == procedure.KindZero {
		d.tellf("On the simulated bench: the pointer rests at %s.", divisions(d.shown.div))
		return
	}
	d.tellf("On the simulated bench: the pointer stands at %s, and the reference shows %s.",
		divisions(d.shown.div), quantity.Format(d.shown.reference, d.bench().Unit(), 5))
}

func (d *meterDialogue) cautions(step procedure.Step) []string {
	var out []string
	for _, c := range d.bench().Cautions(step) {
		out = append(out, c.Text)
	}
	return out
}

// askPoint asks for a point: the pointer, then the reference. Where the mark is
// known, Enter says that the pointer covers it.
func (d *meterDialogue) askPoint(direction string, tapped bool, mark *float64, main bool) error {
	how := map[bool]string{false: "", true: ", after the tap"}[tapped]
	q := question{text: fmt.Sprintf("Where does the pointer stand, in divisions%s?", how), kind: metercheck.KindPoint, main: main,
		here: "Here the pointer's reading is expected, such as 20 or 19.8."}
	if !main {
		q.words = []string{"back", "undo"}
	}
	if mark != nil && !tapped {
		q.text += fmt.Sprintf(" Enter says that it covers %s.", number(*mark))
	}
	div, ok, err := d.number(q, quantity.Division, mark != nil && !tapped)
	switch {
	case err != nil:
		return err
	case !ok && mark == nil:
		d.say("Nothing is recorded.")
		return nil
	case !ok: // the pointer covers it
		div = *mark
	}
	b := d.bench()
	unit := map[bool]string{true: "amperes", false: "volts"}[b.InAmperes()]
	ref := question{text: fmt.Sprintf("What does the reference show, in %s?", unit), here: "Here the reference's reading is expected, such as 2.013; back goes to the pointer.", words: []string{"back", "undo"}}
	for {
		line, err := d.ask(ref)
		if err != nil {
			return err
		}
		if word, _ := cut(line); word == "back" || word == "undo" {
			return d.askPoint(direction, tapped, mark, main)
		}
		v, err := signed(line, b.Unit())
		if err != nil {
			d.refuse(err)
			continue
		}
		if d.accept(b.At(direction, div, v, tapped)) {
			return nil
		}
	}
}

// signed reads a value that may be negative.
func signed(line string, unit quantity.Unit) (float64, error) {
	text, minus := strings.CutPrefix(negative(line), "-")
	if !minus {
		text, minus = strings.CutPrefix(text, "−")
	}
	v, err := quantity.Parse(text, unit)
	if minus {
		v = -v
	}
	return v, err
}

// number asks for a number until one is read; ok is false where the question
// was left, or Enter alone was typed and that is allowed.
func (d *meterDialogue) number(q question, unit quantity.Unit, enter bool) (v float64, ok bool, err error) {
	for {
		line, err := d.ask(q)
		if err != nil {
			return 0, false, err
		}
		if word, _ := cut(line); slices.Contains(q.words, word) {
			return 0, false, nil
		}
		if line == "" {
			if enter {
				return 0, false, nil
			}
			d.say("A reading has to be typed, such as 23.5; Enter alone is none.")
			continue
		}
		if v, err = signed(line, unit); err == nil {
			return v, true, nil
		}
		d.refuse(err)
	}
}

func (d *meterDialogue) takeZero(line string) {
	if line == "" {
		d.say("A reading has to be typed, such as 0.2; Enter alone is none.")
		return
	}
	v, err := signed(line, quantity.Division)
	if err != nil {
		d.refuse(err)
		return
	}
	d.accept(procedure.ZeroRead{Div: v})
}

// accept sends an event and says what became of it. It reports whether the
// event was taken.
func (d *meterDialogue) accept(b procedure.Body) bool {
	found := d.Sitting.Counsel().Findings
	c, err := d.Sitting.Accept(b)
	switch {
	case err != nil:
		d.say("Not recorded: %s.", full(err.Error()))
		return false
	case c.Refused != nil:
		d.refuse(errors.New(*c.Refused))
		return false
	}
	d.say("Recorded as number %d: %s.", c.Seq, DescribeMeter(b))
	if strike, ok := b.(procedure.Strike); ok && d.Hand != nil {
		for _, f := range found {
			if f.Mend != nil && f.Mend.Seq == strike.Event {
				d.Hand.Look(f.ID)
			}
		}
	}
	if _, ok := b.(metercheck.Point); ok {
		d.sayPoint(c)
	}
	return true
}

// sayPoint says the error of the point that was recorded last.
func (d *meterDialogue) sayPoint(c metercheck.Counsel) {
	for _, p := range c.Result.Points {
		if p.Seq == c.Seq {
			d.say("Error %+.2f percent of the fiducial value, give or take %.2f.", p.Error, p.U95Error)
		}
	}
}

// end is where the check is finished.
func (d *meterDialogue) end(c metercheck.Counsel) error {
	if !d.ended {
		d.ended = true
		d.sayResult(c)
		d.print("The record is " + d.Sitting.Path())
	}
	line, err := d.ask(question{text: "To copy the record to a folder or stick, type the folder. Enter ends here.", free: true, main: true,
		here: "Here the name of a folder is expected, or Enter to end. Undo goes on with the check."})
	if err != nil {
		if errors.Is(err, errTurn) && !d.Sitting.State().Finished() {
			d.ended = false // the finish was struck out
		}
		return err
	}
	return d.copied(line, d.Sitting.CopyTo)
}
