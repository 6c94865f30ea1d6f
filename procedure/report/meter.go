package report

import (
	"encoding/csv"
	"errors"
	"fmt"
	"image/color"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"example.org/halve/physics/accuracy"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/metercheck"
	"example.org/halve/procedure/report/document"
)

// MeterInput is the record of a meter check and how its report is wanted.
type MeterInput struct {
	ID     string    // of the record, "" if it has none
	Begun  time.Time // zero where the record does not say
	Events []procedure.Event
	State  *metercheck.State // what the events add up to
	// Cut says in one line what was cut off the record, "" if nothing was.
	Cut string
	// Demonstrator adds what the readings point to.
	Demonstrator bool
}

// MeterTitle heads the report of every meter check.
const MeterTitle = "Check of a panel meter against a reference"

// MakeMeter makes the report of a meter check: the instruments, every point
// with its error, the error curve, what it comes to, the corrections, and the
// audit trail.
func MakeMeter(in MeterInput) document.Document {
	w := meterWriter{MeterInput: in, counsel: metercheck.Advise(in.State)}
	w.bench, w.stated = in.State.Bench()
	for _, e := range in.Events {
		if who, ok := e.Body.(procedure.Who); ok && in.State.Struck(e.Seq) == 0 {
			w.who = who
		}
	}
	w.head()
	w.instruments()
	w.method()
	w.points()
	w.curve()
	w.result()
	w.corrections()
	if w.Demonstrator {
		w.found()
	}
	w.cautions()
	w.trail(w.Events, w.Begun, w.State.Struck, w.entry)
	d := document.Document{Title: MeterTitle, Date: in.Begun, Subject: "Record " + in.ID, Author: w.who.Names, Blocks: w.blocks, Running: "Check of a panel meter"}
	if w.who.Names != "" {
		d.Running += "  ·  " + procedure.CleanText(w.who.Names, 50)
	}
	return d
}

// meterWriter writes the report of a meter check.
type meterWriter struct {
	sheet
	MeterInput
	counsel metercheck.Counsel
	bench   metercheck.Bench
	stated  bool
	who     procedure.Who
}

// practice says what such a check is not.
const practice = "This is practice and refreshment. Certified calibration is for an accredited laboratory; local codes and licensed persons come first."

func (w *meterWriter) head() {
	var facts document.Facts
	add := func(term string, text []document.Span) {
		if document.Text(text) != "" {
			facts = append(facts, document.Fact{Term: term, Text: text})
		}
	}
	add("Names", document.Said(w.who.Names))
	add("Group", document.Said(w.who.Group))
	if !w.Begun.IsZero() {
		add("Begun", document.Plain(w.Begun.Format("2 January 2006, 15:04")))
	}
	add("Meter", document.Said(w.bench.Label))
	for _, e := range slices.Backward(w.Events) {
		if n, ok := e.Body.(procedure.Note); ok && n.Temperature != nil && w.State.Struck(e.Seq) == 0 {
			add("Temperature", document.Plain(quantity.Style(0).Exact(*n.Temperature, quantity.Celsius)))
			break
		}
	}
	add("Record", document.Said(w.ID))
	if len(facts) > 0 {
		w.add(facts)
	}
	key := "There is no result: no point was taken."
	if r := w.counsel.Result; r != nil {
		key = fmt.Sprintf("Greatest error %.2f %% of the fiducial value, give or take %.2f %%.", r.WorstError, r.U95WorstError)
		if r.Simple != nil {
			key += fmt.Sprintf(" Class %s: %s by simple acceptance, %s with a guard band.", number(w.bench.Class), r.Simple.Words(), r.Guarded.Words())
		}
	}
	w.add(document.Paragraph{Key: true, Text: document.Plain(key)})
	if !w.State.Finished() {
		w.aside("This record is not finished.")
	}
	if w.Cut != "" {
		w.add(document.Paragraph{Aside: true, Text: document.Said(sentence(w.Cut))})
	}
	w.aside(practice)
}

func (w *meterWriter) instruments() {
	w.section("Instruments")
	if !w.stated {
		w.say("The instruments are not stated yet.")
		return
	}
	b, m := w.bench, w.bench.Meter()
	exact := quantity.Style(0).Exact
	facts := document.Facts{{Term: "Meter under test", Text: document.Plain(scaleOf(b))}}
	if b.Class > 0 {
		facts = append(facts, document.Fact{Term: "Class", Text: document.Plain(fmt.Sprintf("%s: errors up to %s, %s %% of the fiducial value, anywhere on the scale", number(b.Class), quantity.Format(m.Limit(), b.Unit(), 3), number(b.Class)))})
	}
	facts = append(facts,
		document.Fact{Term: "Fiducial value", Text: document.Plain(exact(m.FiducialValue(), b.Unit()))},
		document.Fact{Term: "Read to", Text: document.Plain(number(b.Step()) + " div")},
		document.Fact{Term: "Reference", Text: document.Join(document.Plain("standard uncertainty "+quantity.Format(b.UReference(), b.Unit(), 3)), labelled(b.Reference.Label))})
	if v := b.ReferenceMax(); v > 0 {
		facts = append(facts, document.Fact{Term: "Reference rated for", Text: document.Plain(exact(v, b.Unit()))})
	}
	if v := b.SourceMax(); v > 0 {
		facts = append(facts, document.Fact{Term: "Source drives at most", Text: document.Plain(exact(v, b.Unit()))})
	}
	w.add(facts)
	for _, r := range w.counsel.Remarks {
		w.aside("%s", r)
	}
}

// scaleOf says which meter it is by its scale.
func scaleOf(b metercheck.Bench) string {
	upTo := quantity.Style(0).Exact(b.Range(), b.Unit())
	if b.Centre() {
		return fmt.Sprintf("%s, %s to each side on %s div", b.MeterKind, upTo, number(b.Divisions))
	}
	return fmt.Sprintf("%s, 0 to %s on %s div", b.MeterKind, upTo, number(b.Divisions))
}

// labelled is a name behind a comma, nothing where there is none.
func labelled(name string) []document.Span {
	if name == "" {
		return nil
	}
	return document.Join(document.Plain(", "), document.Said(name))
}

func (w *meterWriter) method() {
	w.section("Method")
	how := "in series, so that the same current flows through both"
	if w.stated && !w.bench.InAmperes() {
		how = "side by side, so that the same voltage stands across both"
	}
	w.say("Meter and reference are joined %s. With the zero set, the source is turned up slowly until the pointer covers a mark, without passing it, and the reference is read; so up the scale, and down again. At one mark the case is tapped and both are read once more; that mark is taken twice more at the end. The intrinsic error of a point is", how)
	w.add(document.Formula{Lines: []string{"e = 100 (X_ind − X_ref) / X_fid"}})
	w.say("in percent of the fiducial value. Its expanded uncertainty *U* (coverage factor 2, for 95 %%) is that of the reference and of the reading together. By **simple acceptance** the meter conforms if every error lies within the class; **with a guard band** only if it lies within by at least *U*, and it cannot be decided where the limit lies within *U* of the error (JCGM 106, ILAC-G8). A class counts at reference conditions: the marked position, the marked temperature (20, 23 or 27 °C where none is), no iron or magnet near (IEC 60051); elsewhere other influences come besides.")
}

// pointOf is a row of the table of points.
func (w *meterWriter) pointOf(e procedure.Event) (cells [][]document.Span, ok bool) {
	m := w.bench.Meter()
	var div, reference float64
	var name string
	switch b := e.Body.(type) {
	case procedure.ZeroRead:
		div, reference, name = b.Div, 0, "zero"
	case metercheck.Point:
		div, reference, name = b.Div, b.Reference(), b.Direction
		if b.Tapped {
			name += ", tapped"
		}
	default:
		return nil, false
	}
	unit := w.bench.Unit()
	off, u := math.NaN(), math.NaN()
	if r := w.counsel.Result; r != nil {
		for _, p := range r.Points {
			if p.Seq == e.Seq {
				off, u = p.Error, p.U95Error
			}
		}
	}
	percent := func(v float64, format string) []document.Span {
		if math.IsNaN(v) {
			return document.Plain("–")
		}
		text := fmt.Sprintf(format, v)
		if strings.TrimLeft(text, "+-0.") == "" {
			text = strings.TrimLeft(text, "+-")
		}
		return value(v, strings.Replace(text, "-", "−", 1))
	}
	return [][]document.Span{
		document.Plain(strconv.Itoa(e.Seq)), document.Plain(name), value(div, number(div)), value(m.Indicated(div), quantity.Format(m.Indicated(div), unit, 4)),
		value(reference, quantity.Format(reference, unit, 5)), percent(off, "%+.2f"), percent(u, "%.2f"),
	}, true
}

func (w *meterWriter) points() {
	w.section("Observations")
	t := document.Table{
		Caption: document.Plain("Every reading in its order. What is struck stays readable; of zeros read before the first point the last counts."),
		Columns: []document.Column{{Head: document.Plain("No."), Number: true}, {Head: document.Plain("Point")}, {Head: document.Plain("Pointer (div)"), Number: true},
			{Head: document.Plain("Indicated"), Number: true}, {Head: document.Plain("Reference"), Number: true}, {Head: document.Plain("Error (%)"), Number: true}, {Head: document.Rich("*U* (%)"), Number: true}},
		Headed: true,
	}
	for _, e := range w.Events {
		if cells, ok := w.pointOf(e); ok && w.stated {
			t.Rows = append(t.Rows, document.TableRow{Cells: cells, Struck: w.State.Struck(e.Seq) != 0})
		}
	}
	if len(t.Rows) == 0 {
		w.say("Nothing was read.")
		return
	}
	w.add(t)
}

// curve is the figure of the errors, where there are two points or more.
func (w *meterWriter) curve() {
	r := w.counsel.Result
	if r == nil || len(r.Points) < 2 {
		return
	}
	said := fmt.Sprintf("The error in percent of the fiducial value against the pointer's reading, rising and falling; the greatest is %.2f %%.", r.WorstError)
	if w.bench.Class > 0 {
		said += fmt.Sprintf(" The class allows %s %% to either side.", number(w.bench.Class))
	}
	points, class, mean := r.Points, w.bench.Class, meanErrors(r)
	w.add(document.Figure{
		Width: figureWidth, Height: graphHeight, Alt: "Error curve", Text: said,
		Caption: document.Plain("Error curve: filled points rising, rings falling, crosses tapped; bars are the expanded uncertainty, broken lines the limits of the class. The line joins the means that the corrections undo."),
		Draw:    func(c vg.Canvas) { drawErrors(c, points, mean, class) },
	})
}

// meanErrors are the errors that the corrections undo, in percent of the
// fiducial value.
func meanErrors(r *metercheck.Result) plotter.XYs {
	var out plotter.XYs
	for _, k := range r.Corrections {
		out = append(out, plotter.XY{X: k.Div, Y: -100 * k.Value / r.Fiducial})
	}
	return out
}

// upright is points with their uncertainty in the error.
type upright struct {
	plotter.XYs
	plotter.YErrors
}

func drawErrors(c vg.Canvas, points []metercheck.ResultPoint, mean plotter.XYs, class float64) {
	p := plot.New()
	ink, mark := document.Palette.Ink, document.Palette.Mark
	outfit(p, "pointer  (div)", "error  (% of fiducial value)")
	var rising, falling, tapped plotter.XYs
	var spread upright
	low, high := math.Inf(1), math.Inf(-1)
	for _, pt := range points {
		at := plotter.XY{X: pt.Div, Y: pt.Error}
		low, high = min(low, pt.Div), max(high, pt.Div)
		spread.XYs = append(spread.XYs, at)
		spread.YErrors = append(spread.YErrors, struct{ Low, High float64 }{pt.U95Error, pt.U95Error})
		switch {
		case pt.Tapped:
			tapped = append(tapped, at)
		case pt.Direction == metercheck.Falling:
			falling = append(falling, at)
		default:
			rising = append(rising, at)
		}
	}
	straight := func(y float64, of color.Color, dashes []vg.Length) {
		l, err := plotter.NewLine(plotter.XYs{{X: low, Y: y}, {X: high, Y: y}})
		if err == nil {
			l.Color, l.Width, l.Dashes = of, 0.9, dashes
			p.Add(l)
		}
	}
	straight(0, ink, nil)
	if class > 0 {
		straight(class, mark, []vg.Length{5, 3})
		straight(-class, mark, []vg.Length{5, 3})
	}
	if l, err := plotter.NewLine(mean); err == nil {
		l.Color, l.Width = mark, 0.9
		p.Add(l)
	}
	if e, err := plotter.NewYErrorBars(spread); err == nil {
		e.LineStyle.Color, e.LineStyle.Width, e.CapWidth = ink, 0.6, 3
		p.Add(e)
	}
	scatter(p, rising, draw.CircleGlyph{}, ink, 2.4)
	scatter(p, falling, draw.RingGlyph{}, ink, 2.8)
	scatter(p, tapped, draw.CrossGlyph{}, mark, 3)
	room := max(0.04*(high-low), 0.5)
	p.X.Min, p.X.Max = low-room, high+room
	over := max(0.08*(p.Y.Max-p.Y.Min), 0.05) // so that the limits stand clear of the frame
	p.Y.Min, p.Y.Max = p.Y.Min-over, p.Y.Max+over
	p.Y.Tick.Marker = plot.TickerFunc(func(low, high float64) []plot.Tick {
		ticks := plot.DefaultTicks{}.Ticks(low, high)
		for i, t := range ticks {
			ticks[i].Label = strings.Replace(t.Label, "-", "−", 1)
		}
		return ticks
	})
	p.Draw(draw.NewCanvas(c, figureWidth, graphHeight))
}

func (w *meterWriter) result() {
	w.section("Result")
	r := w.counsel.Result
	if r == nil {
		w.say("There is no result: no point was taken.")
		return
	}
	t := document.Table{
		Columns: []document.Column{{Head: document.Plain("Quantity")}, {Head: document.Plain("Value")}},
		Caption: document.Plain("Percentages are of the fiducial value."),
		Headed:  true,
	}
	row := func(name string, cell []document.Span) {
		t.Rows = append(t.Rows, document.TableRow{Cells: [][]document.Span{document.Plain(name), cell}})
	}
	percent := func(name string, v *float64) {
		if v != nil {
			row(name, value(*v, fmt.Sprintf("%.2f %%", *v)))
		}
	}
	percent("Greatest error", &r.WorstError)
	percent("Its expanded uncertainty (95 %)", &r.U95WorstError)
	percent("Hysteresis", r.Hysteresis)
	percent("Friction (tapped against untapped)", r.Friction)
	percent("Return to zero", r.ZeroReturn)
	percent("Repeatability", r.Repeatability)
	if r.Ratio != nil {
		row("Class limit to the reference's uncertainty", value(*r.Ratio, fmt.Sprintf("%.1f to 1 (5 is asked for)", *r.Ratio)))
	}
	if r.Simple != nil {
		row("Class "+number(w.bench.Class)+", simple acceptance", document.Plain(r.Simple.Words()))
		row("Class "+number(w.bench.Class)+", with a guard band", document.Plain(r.Guarded.Words()))
	}
	if r.Conformance != nil {
		row("Probability that the greatest error conforms", value(*r.Conformance, probable(*r.Conformance)))
	}
	if r.Deserved != nil {
		row("Class that the meter would deserve", value(*r.Deserved, number(*r.Deserved)))
	} else {
		row("Class that the meter would deserve", document.Plain("none"))
	}
	w.add(t)
	if r.Ratio != nil && *r.Ratio < accuracy.RatioLeast {
		w.aside("The reference is less than 3 times better than the class: only the three-way verdict is given.")
	}
}

// probable writes a probability to three decimals, of which none is a
// certainty.
func probable(p float64) string {
	switch {
	case p < 0.0005:
		return "below 0.001"
	case p >= 0.9995:
		return "above 0.999"
	}
	return fmt.Sprintf("%.3f", p)
}

func (w *meterWriter) corrections() {
	r := w.counsel.Result
	if r == nil || len(r.Corrections) == 0 {
		return
	}
	w.section("Corrections")
	t := document.Table{
		Caption: document.Plain("To be added to the reading at a mark; mean of rising and falling, with one standard uncertainty, in which half the difference of the two has its part. Between marks they are joined by straight lines."),
		Columns: []document.Column{{Head: document.Plain("Pointer (div)"), Number: true}, {Head: document.Plain("Correction"), Number: true}},
	}
	for _, k := range r.Corrections {
		v, u := k.Value, k.U
		t.Rows = append(t.Rows, document.TableRow{Cells: [][]document.Span{value(k.Div, fmt.Sprintf("%.2f", k.Div)), both(&v, &u, w.bench.Unit())}})
	}
	w.add(t)
}

func (w *meterWriter) found() {
	w.section("For the demonstrator")
	if len(w.counsel.Findings) == 0 {
		w.say("The readings point to no fault.")
		return
	}
	w.say("What the readings point to:")
	var items [][]document.Span
	for _, f := range w.counsel.Findings {
		items = append(items, document.Rich(fmt.Sprintf("**%.0f %%** %s %s", 100*f.Probability, f.Say, f.Try)))
	}
	w.add(document.List{Items: items})
}

func (w *meterWriter) cautions() {
	w.section("Cautions")
	w.say("To be observed where local codes and licensed persons do not say otherwise:")
	var items [][]document.Span
	for _, step := range []procedure.Step{metercheck.StepBench, metercheck.StepWiring, metercheck.StepZero, metercheck.StepRising, metercheck.StepResult} {
		for _, c := range w.bench.Cautions(step) {
			text := document.Plain(c.Text)
			if !slices.ContainsFunc(items, func(i []document.Span) bool { return document.Text(i) == document.Text(text) }) {
				items = append(items, text)
			}
		}
	}
	w.add(document.List{Items: items})
}

// entry says in a line what an event is.
func (w *meterWriter) entry(b procedure.Body) []document.Span {
	switch b := b.(type) {
	case metercheck.Bench:
		return document.Plain("instruments: " + scaleOf(b))
	case metercheck.Point:
		unit := quantity.Ampere
		if b.ReferenceV != nil {
			unit = quantity.Volt
		}
		text := fmt.Sprintf("%s: pointer %s div, reference %s", b.Direction, number(b.Div), quantity.Format(b.Reference(), unit, 5))
		if b.Tapped {
			text += ", tapped"
		}
		return document.Plain(text)
	case procedure.Wired:
		return document.Plain("circuit looked over")
	case procedure.ZeroRead:
		return document.Plain("zero at " + number(b.Div) + " div")
	case procedure.Strike:
		return document.Join(document.Plain(fmt.Sprintf("strike of %d", b.Event)), labelled(b.Why))
	case procedure.Note:
		text := document.Plain("note")
		if b.Temperature != nil {
			text = document.Join(text, document.Plain(", "+quantity.Style(0).Exact(*b.Temperature, quantity.Celsius)))
		}
		return document.Join(text, labelled(b.Text))
	case procedure.Who:
		return document.Join(document.Plain("names"), labelled(b.Names), labelled(b.Group))
	case procedure.Finish:
		return document.Plain("finished")
	}
	return document.Plain(b.Kind())
}

// MeterCSV writes the readings of a meter check, a line each after a line of
// names (RFC 4180), numbers in SI units with every digit. What is not known is
// empty.
func MeterCSV(out io.Writer, in MeterInput) error {
	b, _ := in.State.Bench()
	unit := map[bool]string{true: "A", false: "V"}[b.InAmperes()]
	c := csv.NewWriter(out)
	c.UseCRLF = true
	lines := [][]string{{"seq", "point", "tapped", "reading_div", "indicated_" + unit, "reference_" + unit, "error_percent", "U95_error_percent", "struck", "remark"}}
	w := meterWriter{MeterInput: in, bench: b, counsel: metercheck.Advise(in.State)}
	why := map[int]string{}
	for _, e := range in.Events {
		if s, ok := e.Body.(procedure.Strike); ok {
			why[e.Seq] = s.Why
		}
	}
	for _, e := range in.Events {
		cells, ok := w.pointOf(e)
		if !ok {
			continue
		}
		p, _ := e.Body.(metercheck.Point)
		name := "zero"
		if p.Direction != "" {
			name = p.Direction
		}
		value := func(i int) string { return cells[i][0].Value }
		lines = append(lines, []string{strconv.Itoa(e.Seq), name, strconv.FormatBool(p.Tapped), value(2), value(3), value(4), value(5), value(6),
			strconv.FormatBool(in.State.Struck(e.Seq) != 0), defuse(why[in.State.Struck(e.Seq)])})
	}
	return errors.Join(c.WriteAll(lines), c.Error())
}
