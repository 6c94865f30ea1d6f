// Package report turns the record of a half-deflection practical into the
// written report that is handed in: what was done, what was read, one row
// worked in full, the result with its uncertainty, and the audit trail. It
// shows what package procedure has worked out and computes nothing of its own
// beside the steps of the row that is worked on paper.
package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"example.org/halve/physics/montecarlo"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/report/document"
)

// Input is a record and how its report is wanted.
type Input struct {
	ID     string    // of the record, "" if it has none
	Begun  time.Time // zero where the record does not say
	Events []procedure.Event
	State  *procedure.State // what the events add up to
	// Analysis is what State says: procedure.Analyse(State).
	Analysis procedure.Analysis
	// Cut says in one line what was cut off the record, "" if nothing was.
	Cut string
	// Trials are the Monte Carlo trials of the fit, G first, then k, where
	// their interval is the one to state; else nil.
	Trials *montecarlo.Result
	// Demonstrator asks for the copy that has the findings and slips.
	Demonstrator bool
}

// Title heads every report.
const Title = "Resistance and figure of merit of a galvanometer by half deflection"

// Make makes the report.
func Make(in Input) document.Document {
	w := writer{Input: in, a: in.Analysis, seen: observe(in.Events, in.State)}
	w.bench, w.stated = in.State.Bench()
	w.given, _ = in.State.Given()
	w.head()
	w.aim()
	w.apparatus()
	w.theory()
	w.procedure()
	w.observations()
	w.working()
	w.rows()
	w.graph()
	w.result()
	w.claims()
	w.budget()
	w.precautions()
	w.errors()
	w.notes()
	if in.Demonstrator {
		w.demonstrator()
	}
	w.audit()
	d := document.Document{Title: Title, Date: in.Begun, Subject: "Laboratory record " + in.ID, Blocks: w.blocks}
	running := []string{"Galvanometer by half deflection"}
	if w.seen.who != nil && w.seen.who.Names != "" {
		d.Author = w.seen.who.Names
		running = append(running, procedure.CleanText(d.Author, 50))
	}
	if in.Demonstrator {
		running = append(running, "demonstrator's copy")
	}
	d.Running = strings.Join(running, "  ·  ")
	return d
}

// sheet gathers the blocks of a document.
type sheet struct{ blocks []document.Block }

// writer writes the report of a half-deflection practical.
type writer struct {
	sheet
	Input
	a      procedure.Analysis
	seen   account
	bench  benchOf
	stated bool
	given  procedure.Given
}

func (w *sheet) add(b ...document.Block) { w.blocks = append(w.blocks, b...) }

func (w *sheet) section(title string) {
	w.add(document.Heading{Level: 2, Text: document.Plain(title)})
}

func (w *sheet) part(title string) {
	w.add(document.Heading{Level: 3, Text: document.Plain(title)})
}

// say adds a paragraph of running text with light marks; see document.Rich.
func (w *sheet) say(format string, a ...any) {
	w.add(document.Paragraph{Text: document.Rich(fmt.Sprintf(format, a...))})
}

// aside adds a remark.
func (w *sheet) aside(format string, a ...any) {
	w.add(document.Paragraph{Aside: true, Text: document.Rich(fmt.Sprintf(format, a...))})
}

// head says whose record it is, from when, and what it comes to.
func (w *writer) head() {
	var facts document.Facts
	add := func(term string, text []document.Span) {
		if document.Text(text) != "" {
			facts = append(facts, document.Fact{Term: term, Text: text})
		}
	}
	if who := w.seen.who; who != nil {
		add("Names", document.Said(who.Names))
		add("Group", document.Said(who.Group))
	}
	if !w.Begun.IsZero() {
		add("Begun", document.Plain(w.Begun.Format("2 January 2006, 15:04")))
	}
	if n := len(w.seen.finished); n > 0 {
		add("Finished", document.Plain(clock(w.seen.finished[n-1], w.Begun)))
	}
	if w.stated {
		add("Bench", document.Said(w.bench.Label))
		add("Instrument", document.Said(w.bench.Galvanometer.Label))
	}
	if t, ok := w.temperature(); ok {
		add("Temperature", document.Plain(t))
	}
	add("Record", document.Said(w.ID))
	if len(facts) > 0 {
		w.add(facts)
	}
	if r := w.a.Result; r != nil && r.Resistance != nil {
		w.add(document.Paragraph{Key: true, Text: document.Join(
			document.Rich("*G* = "), both(r.Resistance, r.UResistance, quantity.Ohm),
			document.Rich(" and *k* = "), both(r.Merit, r.UMerit, quantity.AmperePerDivision),
			document.Plain(fmt.Sprintf(" from %s; ± is one standard uncertainty.", count(r.Rows, "row", "rows"))))})
	} else {
		w.add(document.Paragraph{Key: true, Text: document.Plain(w.noResult())})
	}
	if !w.State.Finished() {
		last := ""
		if n := len(w.Events); n > 0 && !w.Events[n-1].At.IsZero() {
			last = " Its last entry is of " + clock(w.Events[n-1].At, time.Time{}) + "."
		}
		w.aside("This record is not finished.%s", last)
	}
	if w.Cut != "" {
		w.add(document.Paragraph{Aside: true, Text: document.Said(sentence(w.Cut))})
	}
}

// noResult says why there is no result.
func (w *writer) noResult() string {
	switch {
	case !w.stated:
		return "There is no result: the instruments are not stated yet."
	case len(w.a.Rows) == 0:
		return "There is no result: no row has been kept."
	case w.a.Result == nil:
		return "There is no result: every row has been struck."
	}
	return "There is no result: no galvanometer gives the readings that were kept."
}

// temperature is the last one noted.
func (w *writer) temperature() (string, bool) {
	for i := len(w.seen.notes) - 1; i >= 0; i-- {
		if n := w.seen.notes[i]; n.Temperature != nil && w.State.Struck(n.seq) == 0 {
			return quantity.Style(0).Exact(*n.Temperature, quantity.Celsius), true
		}
	}
	return "", false
}

func (w *writer) aim() {
	w.section("Aim")
	w.say("To measure the resistance *G* of a moving-coil galvanometer by half deflection, and its figure of merit *k*, the current that moves the pointer by one division.")
}

func (w *writer) theory() {
	w.section("Theory")
	w.say("A source of EMF *E* and internal resistance *r* drives a current through the series box *R* and the galvanometer. With *R′* = *R* + *r* and key K2 open the deflection is *θ₁*; with K2 closed a part of the current goes through the shunt box *S* and the deflection falls to *θ₂*:")
	w.add(document.Formula{Lines: []string{
		"k θ₁ = E / (R′ + G)",
		"k θ₂ = E S / (R′ (G + S) + G S)",
	}})
	w.say("In their ratio *ρ* = *θ₂*/*θ₁* neither *E* nor *k* is left, so that for any ratio")
	w.add(document.Formula{Lines: []string{"G = R′ S (1 − ρ) / (ρ (R′ + S) − S)"}})
	w.say("which for the exact half becomes *G* = *R′* *S* / (*R′* − *S*). It is worked in two steps: the shunt sees *R′* and *G* in parallel, a resistance *P*, and")
	w.add(document.Formula{Lines: []string{
		"P = S (θ₁ − θ₂) / θ₂",
		"G = R′ P / (R′ − P)",
	}})
	w.say("The first deflection then gives the figure of merit,")
	w.add(document.Formula{Lines: []string{"k = E / ((R′ + G) θ₁)"}})
	w.say("Plotted against 1/*θ*, *R* is a straight line with the slope *E*/*k* and the intercept −(*G* + *r*).")
}

// clock writes a time of day, with its date where that is not the day of ref.
func clock(t, ref time.Time) string {
	if t.IsZero() {
		return "an unknown time"
	}
	if y, m, d := t.Date(); !ref.IsZero() {
		if y2, m2, d2 := ref.In(t.Location()).Date(); y == y2 && m == m2 && d == d2 {
			return t.Format("15:04")
		}
	}
	return t.Format("2 January 2006, 15:04")
}

// count writes a number with its word.
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// sentence makes a clause a sentence.
func sentence(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + strings.TrimSuffix(s[1:], ".") + "."
}

// known is the value of a pointer, NaN for nil.
func known(v *float64) float64 {
	if v == nil {
		return math.NaN()
	}
	return *v
}

// both writes a value with its standard uncertainty, and has the value for
// programs.
func both(v, u *float64, unit quantity.Unit) []document.Span {
	return value(known(v), quantity.Measured{Value: known(v), U: known(u), Unit: unit}.String())
}

// full writes every digit of a number, for programs; "" for one that is not
// known.
func full(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}

// figures writes a quantity to so many digits, and has it in full for programs.
func figures(v float64, unit quantity.Unit, digits int) []document.Span {
	return value(v, quantity.Powers.Format(v, unit, digits))
}

// ohms writes a box's value.
func ohms(v float64) string { return quantity.Style(0).Exact(v, quantity.Ohm) }

// number writes every digit of a number, thousands parted.
func number(v float64) string { return quantity.Style(0).Exact(v, quantity.Number) }

// read writes a deflection to the step that the scale is read to, or finer if
// it was typed so.
func (w *writer) read(div float64) string {
	places := 1
	if w.stated {
		step := strconv.FormatFloat(w.bench.Galvanometer.Step(), 'f', -1, 64)
		places = 0
		if _, decimals, ok := strings.Cut(step, "."); ok {
			places = len(decimals)
		}
	}
	typed := strconv.FormatFloat(div, 'f', -1, 64)
	if _, decimals, _ := strings.Cut(typed, "."); len(decimals) <= places {
		typed = strconv.FormatFloat(div, 'f', places, 64)
	}
	return strings.Replace(typed, "-", "−", 1)
}
