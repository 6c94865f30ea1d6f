package plain

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/safety"
)

// stepNames are the steps in words, in order.
var stepNames = [...]struct {
	step procedure.Step
	name string
}{
	{procedure.StepBench, "the bench"},
	{procedure.StepWiring, "wiring"},
	{procedure.StepSeries, "the series resistance"},
	{procedure.StepFirst, "the first deflection"},
	{procedure.StepShunt, "the shunt"},
	{procedure.StepResult, "the result"},
}

// tell says what the counsel has to say: what is odd, whether it is safe, what
// to do now and what to expect. It is kept for "repeat".
func (d *dialogue) tell(c procedure.Counsel) {
	d.told = []string{}
	if c.Step != d.step {
		d.step = c.Step
		for i, s := range stepNames {
			if s.step == c.Step {
				d.tellf("Step %d of %d: %s.", i+1, len(stepNames), s.name)
			}
		}
	}
	if c.Odd != "" {
		d.tellf("Odd: %s", c.Odd)
	}
	for _, f := range c.Findings {
		d.tellf("Something looks wrong, with probability %.0f percent: %s", 100*f.Probability, f.Say)
		if f.Try != "" {
			d.tellf("What to try: %s", f.Try)
		}
		if f.Mend != nil {
			d.tellf("To mend it, type strike %d.", f.Mend.Seq)
		}
	}
	if c.Next == nil {
		return
	}
	d.tellSafety(c.Clearance, c.Next.Event)
	d.tellf("Now: %s", strings.TrimPrefix(c.Next.Do, procedure.MeasureFirst))
	d.tellExpected(c)
	d.tellNeedle(c.Next.Event)
}

// tellf says one line of a counsel.
func (d *dialogue) tellf(format string, a ...any) {
	line := spell(fmt.Sprintf(format, a...))
	d.told = append(d.told, line)
	d.print(line)
}

// tellSafety says whether the key may be closed, where that is the question:
// before a reading, and always where it may not.
func (d *dialogue) tellSafety(c *safety.Clearance, next string) {
	reading := next == procedure.KindReadFirst || next == procedure.KindReadShunted
	switch {
	case c == nil:
	case c.Verdict == safety.Stop:
		d.tellf("Stop: do not close %s. %s.", c.Key, sentence(c.Because))
	case reading && c.Verdict == safety.Tap:
		d.tellf("Careful: %s by a tap only, let go at once if the needle runs. %s.", c.Key, sentence(c.Because))
	case reading:
		d.tellf("Safe: %s is clear. %s.", c.Key, sentence(c.Because))
	}
}

// sentence makes a clause the beginning of a sentence, without its full stop.
func sentence(s string) string {
	s = strings.TrimSuffix(s, ".")
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// tellExpected says where the needle should come to rest, as the band of two
// standard uncertainties.
func (d *dialogue) tellExpected(c procedure.Counsel) {
	reading := c.Next.Event == procedure.KindReadFirst || c.Next.Event == procedure.KindReadShunted
	switch {
	case reading && c.Expect != nil:
		d.tellf("Expect about %.1f divisions, most likely between %.1f and %.1f.",
			c.Expect.Div, c.Expect.Div-2*c.Expect.UDiv, c.Expect.Div+2*c.Expect.UDiv)
	case reading:
		d.tellf("What the needle will show is not known yet.")
	}
}

// reading is where the simulated needle rests after event seq.
type reading struct {
	seq int
	div float64
	off bool
}

// tellNeedle says where the simulated needle rests, at the settings that the
// record has and with the keys that the next reading needs. It looks once
// for each state, so that repeating the question does not move the needle.
func (d *dialogue) tellNeedle(next string) {
	if d.Needle == nil || next != procedure.KindZero && next != procedure.KindReadFirst && next != procedure.KindReadShunted {
		return
	}
	if seq := d.Sitting.Counsel().Seq; d.needle == nil || d.needle.seq != seq {
		r, err := d.look(next)
		if err != nil {
			d.tellf("The simulated bench cannot be set so: %s.", err)
			return
		}
		r.seq = seq
		d.needle = &r
	}
	if d.needle.off {
		d.tellf("On the simulated bench the needle goes beyond the end of the scale.")
		return
	}
	d.tellf("On the simulated bench the needle rests at %s divisions.", spoken(d.needle.div))
}

// look sets the simulated bench as the record says and reads it.
func (d *dialogue) look(next string) (reading, error) {
	for _, e := range d.Sitting.Events() {
		if d.Sitting.State().Struck(e.Seq) != 0 {
			continue
		}
		var err error
		switch b := e.Body.(type) {
		case procedure.SeriesSet:
			err = d.Needle.SetSeries(b.Ohm, b.TakeOut)
		case procedure.ShuntSet:
			err = d.Needle.SetShunt(b.Ohm, b.TakeOut)
		}
		if err != nil {
			return reading{}, err
		}
	}
	d.Needle.SetKeys(next != procedure.KindZero, next == procedure.KindReadShunted)
	div, off := d.Needle.Read()
	d.Needle.SetKeys(false, false)
	return reading{div: div, off: off}, nil
}

// sayVoltmeter says what a simulated voltmeter shows.
func (d *dialogue) sayVoltmeter(loaded bool) {
	if d.Needle != nil {
		v, u := d.Needle.Voltmeter(loaded)
		d.say("On the simulated bench the voltmeter shows %.2f volt; its standard uncertainty is %.2g volt.", v, u)
	}
}

// spoken is a reading in words where it falls on a half or a quarter.
func spoken(div float64) string {
	sign := ""
	if div < 0 {
		sign = "minus "
	}
	whole, part := math.Modf(math.Abs(div))
	parts := map[float64]string{0.25: "a quarter", 0.5: "a half", 0.75: "three quarters"}
	switch {
	case part == 0:
		return sign + number(whole)
	case parts[part] != "" && whole == 0:
		return sign + parts[part]
	case parts[part] != "":
		return sign + number(whole) + " and " + parts[part]
	}
	return sign + number(math.Abs(div))
}

// sayNewRows says the rows that came since it was last asked to, what they come
// to, and how much of the time there is has gone.
func (d *dialogue) sayNewRows(c procedure.Counsel) {
	if len(c.Rows) <= d.rows {
		return
	}
	for _, r := range c.Rows[d.rows:] {
		d.say("%s", row(r))
	}
	d.rows = len(c.Rows)
	d.say("%s", result(c))
	if d.Minutes > 0 {
		gone := d.Now().Sub(d.began).Round(time.Minute)
		d.say("%.0f of %d minutes are gone.", gone.Minutes(), d.Minutes)
	}
}

func (d *dialogue) sayRows(c procedure.Counsel) {
	if len(c.Rows) == 0 {
		d.say("There are no rows yet.")
	}
	for _, r := range c.Rows {
		d.say("%s", row(r))
	}
}

// row is a row in words.
func row(r procedure.Row) string {
	struck := ""
	if r.Struck {
		struck = ", struck out"
	}
	return fmt.Sprintf("Row %d%s: series %s ohm, first deflection %s; shunt %s ohm, shunted deflection %s; resistance %s; figure of merit %s.",
		r.Row, struck, number(r.SeriesOhm), number(r.FirstDiv), number(r.ShuntOhm), number(r.ShuntedDiv),
		measured(r.Resistance, r.UResistance, quantity.Ohm), measured(r.Merit, r.UMerit, quantity.AmperePerDivision))
}

// result is the result so far in words.
func result(c procedure.Counsel) string {
	if c.Result == nil {
		return "There is no result yet: it comes with the first row."
	}
	r := c.Result
	rows := "1 row"
	if r.Rows != 1 {
		rows = fmt.Sprintf("%d rows", r.Rows)
	}
	return fmt.Sprintf("Result of %s: galvanometer resistance %s; figure of merit %s.", rows,
		measured(r.Resistance, r.UResistance, quantity.Ohm), measured(r.Merit, r.UMerit, quantity.AmperePerDivision))
}

// sayBehind tells what stands behind the result: where its uncertainty comes
// from and what the readings point to.
func (d *dialogue) sayBehind() {
	a := procedure.Analyse(d.Sitting.State())
	d.say("%s", result(a.Counsel))
	if r := a.Result; r != nil && r.Resistance != nil {
		d.say("To 95 percent: galvanometer resistance %s; figure of merit %s.",
			measured(r.Resistance, r.U95Resistance, quantity.Ohm), measured(r.Merit, r.U95Merit, quantity.AmperePerDivision))
	}
	if s := a.Schoolbook; s != nil {
		d.say("Mean of the rows: galvanometer resistance %s; figure of merit %s.",
			quantity.Format(*s.MeanResistance, quantity.Ohm, 4), quantity.Format(*s.MeanMerit, quantity.AmperePerDivision, 4))
	}
	if b := a.Budget; b != nil {
		d.say("The uncertainty of the galvanometer resistance comes from: %s.", shares(b.Resistance))
		d.say("That of the figure of merit comes from: %s.", shares(b.Merit))
	}
	for _, r := range a.Remarks {
		d.say("%s", r)
	}
}

// shares lists the parts of a budget that matter.
func shares(lines []procedure.BudgetLine) string {
	var parts []string
	for _, l := range lines {
		if l.Share >= 0.005 {
			parts = append(parts, fmt.Sprintf("%s %.0f %%", l.Input, 100*l.Share))
		}
	}
	return strings.Join(parts, ", ")
}

// measured is a value with its standard uncertainty, rounded by the one rule.
func measured(v, u *float64, unit quantity.Unit) string {
	if v == nil || u == nil {
		return "not known"
	}
	return quantity.Style(0).Measured(quantity.Measured{Value: *v, U: *u, Unit: unit})
}

func (d *dialogue) sayEvents() {
	events := d.Sitting.Events()
	for _, e := range events {
		struck := ""
		if d.Sitting.State().Struck(e.Seq) != 0 {
			struck = " (struck out)"
		}
		d.print(spell(fmt.Sprintf("%d: %s%s.", e.Seq, Describe(e.Body), struck)))
	}
	if len(events) == 0 {
		d.print("Nothing is recorded yet.")
	}
}

// Describe says in a few words what an event records.
func Describe(b procedure.Body) string {
	div := func(v *float64, off bool) string {
		if off || v == nil {
			return "off the scale"
		}
		return divisions(*v)
	}
	switch b := b.(type) {
	case procedure.Bench:
		return fmt.Sprintf("the bench: a source of %s volt, a galvanometer of %s read to %s, a %s box and a %s box",
			number(b.Source.EMF), divisions(b.Galvanometer.Divisions), number(b.Galvanometer.Step()), b.SeriesBox.Kind, b.ShuntBox.Kind)
	case procedure.Wired:
		return "the circuit is wired and checked"
	case procedure.SourceMeasured:
		return "the EMF is " + number(b.EMF) + " volt"
	case procedure.ZeroRead:
		return "the zero is at " + divisions(b.Div)
	case procedure.SeriesSet:
		return "the series box at " + number(b.Ohm) + " ohm"
	case procedure.FirstRead:
		return "first deflection " + div(b.Div, b.OffScale)
	case procedure.ShuntSet:
		return "the shunt box at " + number(b.Ohm) + " ohm"
	case procedure.ShuntedRead:
		return "shunted deflection " + div(b.Div, b.OffScale)
	case procedure.RowKept:
		return "the readings are kept as a row"
	case procedure.Claim:
		return "a " + b.Quantity + " worked out by hand, " + b.Value.Text
	case procedure.Strike:
		return fmt.Sprintf("number %d is struck out", b.Event)
	case procedure.Note:
		return "a note: " + b.Text
	case procedure.Who:
		return strings.TrimSpace("the record is of " + strings.TrimSpace(b.Names+" "+b.Group))
	case procedure.Finish:
		return "no more rows"
	}
	return b.Kind()
}

// divisions writes a reading; one division, and no more, is singular.
func divisions(v float64) string {
	if math.Abs(v) == 1 {
		return number(v) + " division"
	}
	return number(v) + " divisions"
}

// number writes a value plainly, at most six significant digits.
func number(v float64) string {
	if a := math.Abs(v); a != 0 && (a < 1e-4 || a >= 1e7) {
		return strconv.FormatFloat(v, 'g', 6, 64)
	}
	s := strconv.FormatFloat(v, 'f', -1, 64)
	if len(s) > 9 {
		v, _ = strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
		s = strconv.FormatFloat(v, 'f', -1, 64)
	}
	return s
}
