package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"example.org/halve/physics/quantity"
	"example.org/halve/procedure/class"
	"example.org/halve/procedure/report/document"
)

// ClassCSV writes the records of a class, a line each after a line of names (RFC
// 4180), numbers in SI units with every digit, in the order of attention. What is
// not known is empty; cells are defused as in CSV.
func ClassCSV(w io.Writer, c *class.Class) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	head := []string{"pair", "file", "id", "state", "names", "group", "instrument", "cell", "begun", "rows", "resistance_ohm", "u_resistance_ohm",
		"merit_A_per_div", "u_merit_A_per_div", "normalised_error", "send_back", "because"}
	for _, i := range class.Items() {
		head = append(head, "has_"+i.ID)
	}
	if err := out.Write(head); err != nil {
		return err
	}
	for _, s := range c.Records {
		names, group, instrument, begun := s.Names, s.Group, "", ""
		if c.Anonymous {
			names, group = "", ""
		}
		if in := c.InstrumentOf(s); in != nil {
			instrument = in.Label
		}
		if s.Begun != 0 {
			begun = time.Unix(0, s.Begun).UTC().Format(time.RFC3339)
		}
		line := []string{strconv.Itoa(s.Pair()), defuse(c.Name(s)), defuse(s.ID), string(s.Shown()), defuse(names), defuse(group), defuse(instrument), defuse(s.Cell),
			begun, strconv.Itoa(s.Rows), full(s.G), full(s.UG), full(s.K), full(s.UK), full(s.NormalisedError()), strconv.FormatBool(s.SendBack()), defuse(c.Because(s))}
		for _, i := range class.Items() {
			there := ""
			if s.Asked(i) {
				there = strconv.FormatBool(s.Has&i.Bit != 0)
			}
			line = append(line, there)
		}
		if err := out.Write(line); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// The most that the document has of each; the CSV has all.
const (
	mostClassRows    = 1000
	mostClassFigures = 100
	mostClassPoints  = 60
)

// MakeClass makes a document of a class, with a picture for each instrument.
func MakeClass(c *class.Class) document.Document {
	w := classWriter{c: c}
	w.overview()
	w.back()
	w.instruments()
	w.cells()
	w.records()
	w.present()
	w.strays()
	return document.Document{Title: "The class: galvanometers by half deflection", Running: "Galvanometers by half deflection  ·  the class", Subject: "Records of a class taken together", Blocks: w.blocks}
}

type classWriter struct {
	c      *class.Class
	blocks []document.Block
}

func (w *classWriter) add(b ...document.Block) { w.blocks = append(w.blocks, b...) }

func (w *classWriter) section(title string) {
	w.add(document.Heading{Level: 2, Text: document.Plain(title)})
}

func (w *classWriter) overview() {
	back, finished := 0, 0
	for _, s := range w.c.Records {
		if s.SendBack() {
			back++
		}
		if s.Shown() == class.Finished {
			finished++
		}
	}
	w.add(document.Paragraph{Key: true, Text: document.Plain(fmt.Sprintf("%s, %d of them finished, of %s; %s to send back.",
		count(len(w.c.Records), "record", "records"), finished, count(len(w.c.Instruments), "instrument", "instruments"), count(back, "record", "records")))})
	if w.c.Stopped {
		w.add(document.Paragraph{Aside: true, Text: document.Plain("The reading was stopped: this is what had been read by then.")})
	}
}

func (w *classWriter) back() {
	w.section("To send back")
	var items [][]document.Span
	for _, s := range w.c.Records {
		if s.SendBack() && len(items) < mostClassRows {
			items = append(items, document.Join(document.Said(w.c.Called(s)), document.Plain(": "), document.Said(w.c.Because(s))))
		}
	}
	if len(items) == 0 {
		w.add(document.Paragraph{Text: document.Plain("Nothing: every record that has a result agrees with the others.")})
		return
	}
	w.add(document.List{Items: items})
}

func (w *classWriter) instruments() {
	w.section("Instruments")
	t := document.Table{
		Headed:  true,
		Caption: document.Rich("What the pairs found together: the random-effects mean of those that agree; ± is one standard uncertainty. Outlying pairs: f by forward search, g by Grubbs' test at 5 %."),
		Columns: []document.Column{{Head: document.Plain("Instrument")}, {Head: document.Plain("Pairs"), Number: true}, {Head: document.Rich("*G*")}, {Head: document.Rich("*k*")},
			{Head: document.Rich("Median *G*")}, {Head: document.Plain("Between pairs")}, {Head: document.Rich("Birge *G*, *k*")}, {Head: document.Plain("Outlying")}},
	}
	for i := range w.c.Instruments {
		in := &w.c.Instruments[i]
		if i == mostClassRows {
			break
		}
		between, birge := "–", "–"
		if in.Pairs > 1 {
			between, birge = quantity.Format(in.G.Between, quantity.Ohm, 2), fmt.Sprintf("%.1f, %.1f", in.G.Birge, in.K.Birge)
		}
		t.Rows = append(t.Rows, document.TableRow{Cells: [][]document.Span{
			document.Said(in.Label), document.Plain(strconv.Itoa(in.Pairs)), pooled(in.G, quantity.Ohm), pooled(in.K, quantity.AmperePerDivision),
			median(in.G.Median, quantity.Ohm), document.Plain(between), document.Plain(birge), document.Plain(w.c.Outlying(in))}})
	}
	w.add(t)
	for i := range w.c.Instruments {
		in := &w.c.Instruments[i]
		if i == mostClassFigures {
			w.add(document.Paragraph{Aside: true, Text: document.Plain(fmt.Sprintf("Of the first %d instruments there is a picture.", mostClassFigures))})
			break
		}
		if in.Pairs == 0 {
			continue
		}
		w.add(document.Heading{Level: 3, Text: document.Said(in.Label)})
		w.add(w.picture(in))
		for _, r := range in.Remarks {
			w.add(document.Paragraph{Text: document.Plain(r)})
		}
	}
}

func pooled(p class.Pool, unit quantity.Unit) []document.Span {
	return both(&p.Value.X, &p.Value.U, unit)
}

func median(v float64, unit quantity.Unit) []document.Span {
	if math.IsNaN(v) {
		return document.Plain("–")
	}
	return figures(v, unit, 4)
}

// classHeight is the height of an instrument's picture.
const classHeight = 190 * vg.Length(1)

// picture shows each pair's G with its expanded uncertainty, and the band of the
// pooled value.
func (w *classWriter) picture(in *class.Instrument) document.Figure {
	var of []*class.Sheet
	for _, s := range in.Files {
		if s.UG > 0 && s.Shown() != class.Duplicate {
			of = append(of, s)
		}
	}
	slices.SortFunc(of, func(a, b *class.Sheet) int { return a.Pair() - b.Pair() })
	more := ""
	if len(of) > mostClassPoints {
		more = fmt.Sprintf(" The last %d of %d pairs are shown.", mostClassPoints, len(of))
		of = of[len(of)-mostClassPoints:]
	}
	said := fmt.Sprintf("Pooled: %s.", quantity.Measured{Value: in.G.Value.X, U: in.G.Value.U, Unit: quantity.Ohm})
	for _, s := range of {
		apart := ""
		if g, _ := s.Apart(); g {
			apart = ", apart"
		}
		said += fmt.Sprintf(" Pair %d: %s%s.", s.Pair(), quantity.Measured{Value: s.G, U: s.UG, Unit: quantity.Ohm}, apart)
	}
	return document.Figure{
		Width: figureWidth, Height: classHeight,
		Caption: document.Join(document.Rich("*G* by pair, with bars of two standard uncertainties; the band is the pooled value with two of its own. A ring stands apart."), document.Plain(more)),
		Alt:     "G by pair",
		Text:    said,
		Draw:    func(c vg.Canvas) { drawClass(c, in, of) },
	}
}

// classBars are pairs with their uncertainty in G.
type classBars struct {
	plotter.XYs
	plotter.YErrors
}

func drawClass(c vg.Canvas, in *class.Instrument, of []*class.Sheet) {
	p := plot.New()
	p.BackgroundColor = nil
	ink, soft, faint, mark := document.Palette.Ink, document.Palette.Soft, document.Palette.Line, document.Palette.Mark
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Color, a.Label.TextStyle.Color, a.Tick.Color, a.Tick.Label.Color = ink, ink, ink, soft
		a.Label.TextStyle.Font, a.Tick.Label.Font = sansFont(letterSize), sansFont(8.5)
		a.Label.TextStyle.Handler, a.Tick.Label.Handler = text.Plain{Fonts: font.DefaultCache}, text.Plain{Fonts: font.DefaultCache}
		a.LineStyle.Width, a.Tick.LineStyle.Width = 0.8, 0.6
		a.Padding, a.Tick.Length = 4, 4
		a.Label.Padding = 5
	}
	p.X.Label.Text, p.Y.Label.Text = "pair", "G  (Ω)"
	var inner, apart plotter.XYs
	var spread classBars
	var ticks plot.ConstantTicks
	every := 1 + len(of)/20
	for i, s := range of {
		x := float64(i + 1)
		at := plotter.XY{X: x, Y: s.G}
		if g, _ := s.Apart(); g {
			apart = append(apart, at)
		} else {
			inner = append(inner, at)
		}
		spread.XYs = append(spread.XYs, at)
		spread.YErrors = append(spread.YErrors, struct{ Low, High float64 }{2 * s.UG, 2 * s.UG})
		label := ""
		if i%every == 0 {
			label = strconv.Itoa(s.Pair())
		}
		ticks = append(ticks, plot.Tick{Value: x, Label: label})
	}
	p.X.Tick.Marker = ticks
	right := float64(len(of)) + 0.5
	if v := in.G.Value; v.U > 0 {
		if band, err := plotter.NewPolygon(plotter.XYs{{X: 0.5, Y: v.X - 2*v.U}, {X: right, Y: v.X - 2*v.U}, {X: right, Y: v.X + 2*v.U}, {X: 0.5, Y: v.X + 2*v.U}}); err == nil {
			band.Color, band.LineStyle.Width = faint, 0
			p.Add(band)
		}
		if l, err := plotter.NewLine(plotter.XYs{{X: 0.5, Y: v.X}, {X: right, Y: v.X}}); err == nil {
			l.Color, l.Width = mark, 1.2
			p.Add(l)
		}
	}
	if e, err := plotter.NewYErrorBars(spread); err == nil && len(spread.XYs) > 0 {
		e.LineStyle.Color, e.LineStyle.Width, e.CapWidth = ink, 0.8, 4
		p.Add(e)
	}
	for _, m := range []struct {
		at    plotter.XYs
		shape draw.GlyphDrawer
		size  vg.Length
	}{{inner, draw.CircleGlyph{}, 2.6}, {apart, draw.RingGlyph{}, 3.4}} {
		if s, err := plotter.NewScatter(m.at); err == nil && len(m.at) > 0 {
			s.Shape, s.Color, s.Radius = m.shape, ink, m.size
			p.Add(s)
		}
	}
	p.X.Min, p.X.Max = 0.5, right
	if spanY := p.Y.Max - p.Y.Min; !(spanY > 1e-9*math.Abs(p.Y.Max)) {
		p.Y.Min, p.Y.Max = p.Y.Min*0.9, p.Y.Max*1.1
	}
	p.Draw(draw.NewCanvas(c, figureWidth, classHeight))
}

func (w *classWriter) cells() {
	var items [][]document.Span
	for i := range w.c.Cells {
		if cell := &w.c.Cells[i]; cell.Ailing && len(items) < mostClassRows {
			items = append(items, document.Join(document.Said(cell.Label), document.Plain(": "), document.Plain(cell.Because)))
		}
	}
	if len(items) > 0 {
		w.section("Cells that need a look")
		w.add(document.List{Items: items})
	}
	counts := func(title string, of []class.Count) {
		if len(of) == 0 {
			return
		}
		var items [][]document.Span
		for _, n := range of {
			items = append(items, document.Plain(fmt.Sprintf("%s: %d", n.ID, n.N)))
		}
		w.section(title)
		w.add(document.Paragraph{Text: document.Plain(fmt.Sprintf("Of %s examined:", count(w.c.Examined, "record", "records")))}, document.List{Items: items})
	}
	counts("Findings named first", w.c.Findings)
	counts("Slips in hand calculations", w.c.Slips)
}

func (w *classWriter) records() {
	w.section("Records")
	t := document.Table{
		Headed:  true,
		Caption: document.Rich("All records, those that need attention first. The normalised error compares a pair with the others at its instrument: from −1 to 1 they agree."),
		Columns: []document.Column{{Head: document.Plain("Pair")}, {Head: document.Plain("Record")}, {Head: document.Plain("Instrument")}, {Head: document.Plain("Rows"), Number: true},
			{Head: document.Rich("*G*")}, {Head: document.Rich("*k*")}, {Head: document.Plain("Normalised error"), Number: true}, {Head: document.Plain("State")}},
	}
	for i, s := range w.c.Records {
		if i == mostClassRows {
			t.Notes = append(t.Notes, document.TableNote{Mark: "…", Text: document.Plain(fmt.Sprintf("and %d more, which the CSV has", len(w.c.Records)-mostClassRows))})
			break
		}
		instrument := "–"
		if in := w.c.InstrumentOf(s); in != nil {
			instrument = in.Label
		}
		normal := "–"
		if n := s.NormalisedError(); !math.IsNaN(n) {
			normal = fmt.Sprintf("%.2f", n)
		}
		state := string(s.Shown())
		if s.SendBack() {
			state += ", back"
		}
		t.Rows = append(t.Rows, document.TableRow{Cells: [][]document.Span{document.Plain(strconv.Itoa(s.Pair())), document.Said(w.c.Name(s)), document.Said(instrument),
			document.Plain(strconv.Itoa(s.Rows)), measuredOr(s.G, s.UG, quantity.Ohm), measuredOr(s.K, s.UK, quantity.AmperePerDivision), document.Plain(normal), document.Plain(state)}})
	}
	w.add(t)
}

func measuredOr(v, u float64, unit quantity.Unit) []document.Span {
	if !(u > 0) {
		return document.Plain("–")
	}
	return both(&v, &u, unit)
}

// present is the list of what stands in each record.
func (w *classWriter) present() {
	w.section("What stands in each record")
	t := document.Table{
		Headed:  true,
		Caption: document.Plain("Yes: it stands there; no: it does not; a dash: not asked for. No mark is meant."),
		Columns: []document.Column{{Head: document.Plain("Pair")}},
	}
	for _, i := range class.Items() {
		t.Columns = append(t.Columns, document.Column{Head: document.Plain(i.Name)})
	}
	for _, s := range w.c.Sorted() {
		if s.Shown() == class.Duplicate {
			continue
		}
		if len(t.Rows) == mostClassRows {
			break
		}
		cells := [][]document.Span{document.Plain(strconv.Itoa(s.Pair()))}
		for _, i := range class.Items() {
			word := "no"
			switch {
			case !s.Asked(i):
				word = "–"
			case s.Has&i.Bit != 0:
				word = "yes"
			}
			cells = append(cells, document.Plain(word))
		}
		t.Rows = append(t.Rows, document.TableRow{Cells: cells})
	}
	w.add(t)
}

func (w *classWriter) strays() {
	if len(w.c.Unreadable) == 0 {
		return
	}
	w.section("Files that are no record")
	var items [][]document.Span
	for i, u := range w.c.Unreadable {
		if i == mostClassRows {
			items = append(items, document.Plain(fmt.Sprintf("and %d more", len(w.c.Unreadable)-mostClassRows)))
			break
		}
		items = append(items, document.Join(document.Said(w.c.Stray(i)), document.Plain(": "), document.Said(u.Because)))
	}
	w.add(document.List{Items: items})
}
