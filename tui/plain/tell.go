package plain

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"example.org/halve/physics/apparatus"
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

// wiring is the circuit, lead by lead, for whoever cannot look at a drawing.
var wiring = [...]string{
	"The circuit, lead by lead. Both keys are open.",
	"The loop: from plus of the source to K1; from K1 to one terminal of the series box; from its other terminal to one terminal of the galvanometer; from the other terminal of the galvanometer to minus of the source, this lead last.",
	"The branch: from one terminal of the galvanometer to K2; from K2 to one terminal of the shunt box; from its other terminal to the other terminal of the galvanometer.",
	"To check: the plugs that are in are pressed home; the galvanometer stands level, away from iron; somebody else has looked the circuit over.",
}

// tell says what the counsel has to say: what can be hurt, what is odd, whether
// it is safe, what to do now and what to expect. It is kept for "repeat".
// Nothing is said twice: what the thing to do says already is left out before.
func (d *dialogue) tell(c procedure.Counsel) {
	d.told = []string{}
	if c.Step != d.step {
		d.step = c.Step
		d.tellf("%s", d.stepName(c))
		if !d.warned[c.Step] {
			d.warned[c.Step] = true
			for _, l := range d.cautions(c.Step) {
				d.tellf("Take care: %s", l)
			}
		}
	}
	do := ""
	if c.Next != nil {
		do = strings.TrimPrefix(c.Next.Do, procedure.MeasureFirst)
	}
	if c.Odd != "" {
		d.tellf("Odd: %s.", full(c.Odd))
	}
	d.tellFindings(c, do)
	if c.Next == nil {
		return
	}
	d.tellSafety(c.Clearance, c.Next.Event)
	if c.Next.Event == procedure.KindWired {
		for _, l := range wiring {
			d.tellf("%s", l)
		}
	}
	d.tellf("Now: %s", do)
	d.tellExpected(c)
	d.tellNeedle(c.Next.Event)
}

// tellf says one line of a counsel.
func (d *dialogue) tellf(format string, a ...any) {
	line := spell(fmt.Sprintf(format, a...))
	d.told = append(d.told, line)
	d.print(line)
}

// stepName says where in the practical the step is, and at which row.
func (d *dialogue) stepName(c procedure.Counsel) string {
	for i, s := range stepNames {
		if s.step != c.Step {
			continue
		}
		row := ""
		if i > 1 && c.Step != procedure.StepResult {
			row = fmt.Sprintf(", for row %d", len(c.Rows)+1)
		}
		return fmt.Sprintf("Step %d of %d: %s%s.", i+1, len(stepNames), s.name, row)
	}
	return ""
}

// cautions are those of a step that concern the boxes on the table.
func (d *dialogue) cautions(step procedure.Step) []string {
	table, known := d.Sitting.State().Bench()
	var out []string
	for _, c := range safety.Cautions(string(step)) {
		if c.Of == "" || !known || c.Of == table.SeriesBox.Kind || c.Of == table.ShuntBox.Kind {
			out = append(out, c.Text)
		}
	}
	return out
}

func (d *dialogue) sayCautions(step procedure.Step) {
	lines := d.cautions(step)
	for _, l := range lines {
		d.say("Take care: %s", l)
	}
	if len(lines) == 0 {
		d.say("There is no caution for this step.")
	}
	d.say("The teacher and the rules of the laboratory come first.")
}

// worthSaying is by how much the probability of a finding has to change before
// it is mentioned again: nobody wants to hear the same after every reading.
const worthSaying = 0.1

// tellFindings says the finding that is most probable, in full where it is a
// new one, and how many others there are. Of one that was said it says only
// when it has become clearly more or less probable.
func (d *dialogue) tellFindings(c procedure.Counsel, do string) {
	if len(c.Findings) == 0 {
		d.found = procedure.Finding{}
		return
	}
	f, was := c.Findings[0], d.found
	if f.ID == was.ID {
		if math.Abs(f.Probability-was.Probability) >= worthSaying {
			d.found = f
			d.tellf("The same still looks wrong%s. Findings says it again.", probably(f.Probability))
		}
		return
	}
	d.found = f
	d.tellf("%s", finding(f, do))
	if d.Needle != nil {
		d.tellf("To look for it on the simulated bench, type look.")
	}
	if f.Mend != nil {
		d.tellf("To mend it, type strike %d.", f.Mend.Seq)
	}
	switch n := len(c.Findings) - 1; {
	case n == 1:
		d.tellf("There is one other thing it may be. Findings says it.")
	case n > 1:
		d.tellf("There are %d other things it may be. Findings says them.", n)
	}
}

// finding is a finding in words, without what is said elsewhere.
func finding(f procedure.Finding, elsewhere string) string {
	line := fmt.Sprintf("Something looks wrong%s.", probably(f.Probability))
	if !strings.Contains(elsewhere, full(f.Say)) {
		line += " " + f.Say
	}
	if f.Try != "" && !strings.Contains(elsewhere, full(f.Try)) {
		line += " What to try: " + f.Try
	}
	return line
}

// probably adds how probable something is, unless it is certain.
func probably(p float64) string {
	if chance := procedure.Chance(p); chance != "" {
		return ", with a probability of " + chance
	}
	return ""
}

// sayFindings says everything that the readings point to.
func (d *dialogue) sayFindings(c procedure.Counsel) {
	if len(c.Findings) == 0 {
		d.say("The readings point to no fault now.")
	}
	for _, f := range c.Findings {
		d.say("%s", finding(f, ""))
		if f.Mend != nil {
			d.say("To mend it, type strike %d.", f.Mend.Seq)
		}
	}
}

// sayTable says what lies on the table.
func (d *dialogue) sayTable() {
	b, known := d.Sitting.State().Bench()
	if !known {
		d.say("What lies on the table is not recorded yet.")
		return
	}
	named := func(label string) string {
		if label == "" {
			return ""
		}
		return ", " + label
	}
	given := func(text string, v *float64, unit quantity.Unit) string {
		if v == nil {
			return ""
		}
		return text + quantity.Format(*v, unit, 3)
	}
	d.say("On the table%s:", named(b.Label))
	d.say("The source%s: EMF %s volt%s%s.", named(b.Source.Label), number(b.Source.EMF),
		given(", standard uncertainty ", b.Source.UEMF, quantity.Volt), given(", internal resistance ", b.Source.Resistance, quantity.Ohm))
	zero := "zero in the middle"
	if !b.Galvanometer.Centre() {
		zero = "zero at the left end"
	}
	d.say("The galvanometer%s: %s from zero to the end mark, %s, read to %s%s%s.", named(b.Galvanometer.Label), divisions(b.Galvanometer.Divisions), zero,
		number(b.Galvanometer.Step()), given(", full scale ", b.Galvanometer.FullScale, quantity.Ampere), given(", resistance by its plate ", b.Galvanometer.Resistance, quantity.Ohm))
	d.say("The series box%s: %s.", named(b.SeriesBox.Label), boxInWords(b.SeriesBox))
	d.say("The shunt box%s: %s.", named(b.ShuntBox.Label), boxInWords(b.ShuntBox))
}

func boxInWords(b apparatus.Box) string {
	kind, parts := "a plug box with coils of", b.Coils
	if b.Kind == apparatus.Decade {
		kind, parts = "a decade box with dials of", b.Dials
	}
	var ohms []string
	for _, p := range parts {
		ohms = append(ohms, number(p))
	}
	return fmt.Sprintf("%s %s ohm, to %s percent", kind, strings.Join(ohms, ", "), number(100*b.Tolerance))
}

// sayWhere says the step, what the boxes stand at and what is kept.
func (d *dialogue) sayWhere(c procedure.Counsel) {
	d.say("%s", d.stepName(c))
	state := d.Sitting.State()
	stands := func(which string, ohm float64, known bool) {
		if known {
			d.say("The %s box stands at %s ohm.", which, number(ohm))
		} else {
			d.say("What the %s box stands at is not recorded.", which)
		}
	}
	if _, known := state.Bench(); known {
		ohm, set := state.SeriesOhm()
		stands("series", ohm, set)
		ohm, set = state.ShuntOhm()
		stands("shunt", ohm, set)
	}
	if e, _ := d.lastReading(); e.Body != nil {
		d.say("The last reading is number %d: %s.", e.Seq, Describe(e.Body))
	}
	d.say("%s", result(c))
	if d.Minutes > 0 {
		d.sayTime()
	}
}

// tellSafety says whether the key may be closed, where that is the question:
// before a reading, and always where it may not. How to tap a key is in what
// there is to do.
func (d *dialogue) tellSafety(c *safety.Clearance, next string) {
	reading := next == procedure.KindReadFirst || next == procedure.KindReadShunted
	switch {
	case c == nil:
	case c.Verdict == safety.Stop:
		d.tellf("Stop: do not close %s. %s.", c.Key, sentence(c.Because))
	case reading && c.Verdict == safety.Tap:
		d.tellf("Careful: %s is not proved safe. %s.", c.Key, sentence(howToTap.ReplaceAllString(c.Because, "")))
	case reading:
		d.tellf("Safe: %s is clear. %s.", c.Key, sentence(c.Because))
	}
}

// howToTap is the end of a reason that says how to tap a key.
var howToTap = regexp.MustCompile(`[,:;] (?:so )?press K[12] for an instant.*$`)

// sentence makes a clause the beginning of a sentence, without its full stop.
func sentence(s string) string {
	s = full(s)
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
	of  string // the event that the keys were closed for
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
		r, err := d.read(next)
		if err != nil {
			d.tellf("The simulated bench cannot be set so: %s.", full(err.Error()))
			return
		}
		r.seq, r.of = seq, next
		if d.needle = &r; r.off {
			d.sawPegged(r)
		}
	}
	if !d.needle.off {
		d.tellf("On the simulated bench the needle rests at %s.", divisions(d.needle.div))
		return
	}
	side := ""
	if table, _ := d.Sitting.State().Bench(); table.Galvanometer.Centre() {
		side = ", on the right"
		if d.needle.div < 0 {
			side = ", on the left"
		}
	}
	d.tellf("On the simulated bench the needle goes beyond the end of the scale%s.", side)
}

// read sets the simulated bench as the record says and reads it.
func (d *dialogue) read(next string) (reading, error) {
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

// voltmeter says what a simulated voltmeter shows.
func (d *dialogue) voltmeter(loaded bool) []string {
	if d.Needle == nil {
		return nil
	}
	v, u := d.Needle.Voltmeter(loaded)
	return []string{spell(fmt.Sprintf("On the simulated bench the voltmeter shows %.2f volt; its standard uncertainty is %.2g volt.", v, u))}
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
		d.sayTime()
	}
}

// sayTime says how much of the time there is has gone; a clock that was put
// back takes none of it.
func (d *dialogue) sayTime() {
	gone := max(0, d.Now().Sub(d.began)).Round(time.Minute)
	d.say("%.0f of %d minutes are gone.", gone.Minutes(), d.Minutes)
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
		r.Row, struck, number(r.SeriesOhm), hundredths(r.FirstDiv), number(r.ShuntOhm), hundredths(r.ShuntedDiv),
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

// Describe says in a few words what an event records.
func Describe(b procedure.Body) string {
	div := func(v *float64, off bool) string {
		switch {
		case off && v != nil && *v < 0:
			return "off the scale on the left"
		case off || v == nil:
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
		text := "the EMF is " + number(b.EMF) + " volt"
		if b.UEMF != nil {
			text += ", its standard uncertainty " + number(*b.UEMF) + " volt"
		}
		if b.Loaded {
			text += ", measured with K1 closed"
		}
		return text
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
		return fmt.Sprintf("the %s worked out by hand, %s", claimed(b.Quantity, b.Row), b.Value.Text)
	case procedure.Strike:
		if b.Why != "" {
			return fmt.Sprintf("number %d is struck out: %s", b.Event, b.Why)
		}
		return fmt.Sprintf("number %d is struck out", b.Event)
	case procedure.Note:
		text := "a note"
		if b.Temperature != nil {
			text += ", at " + number(*b.Temperature) + "\u00a0°C"
		}
		if b.Text != "" {
			text += ": " + b.Text
		}
		return text
	case procedure.Who:
		return strings.TrimSpace("the record is of " + strings.TrimSpace(b.Names+" "+b.Group))
	case procedure.Finish:
		return "no more rows"
	}
	return b.Kind()
}

// claimed says what a value that was worked out by hand is of.
func claimed(of string, row int) string {
	if of == procedure.ClaimMerit {
		of = "figure of merit"
	}
	if row > 0 {
		return fmt.Sprintf("%s of row %d", of, row)
	}
	return "mean " + of
}

// divisions writes a reading; one division, and no more, is singular.
func divisions(v float64) string {
	if math.Abs(v) == 1 {
		return number(v) + " division"
	}
	return number(v) + " divisions"
}

// hundredths writes a deflection less its zero, which is worked out, no finer
// than a scale is read.
func hundredths(div float64) string { return number(math.Round(100*div) / 100) }

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
