package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/halve/physics"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/report/document"
)

// six writes a number to six figures, no more than it has, for a working that
// can be followed with a pocket calculator.
func six(v float64) string {
	if v != 0 && (math.Abs(v) < 1e-3 || math.Abs(v) >= 1e7) {
		return quantity.Powers.Format(v, quantity.Number, 6)
	}
	decimals := 0
	if v != 0 {
		decimals = max(0, 5-int(math.Floor(math.Log10(math.Abs(v)))))
	}
	text := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return strings.Replace(text, "-", "−", 1)
}

// working shows one row in full, the numbers put in and the units carried.
func (w *writer) working() {
	if len(w.a.Rows) == 0 {
		return
	}
	w.section("One row worked in full")
	r, ok := w.rowOf()
	if !ok {
		w.say("There is no row in force that gives a *G*.")
		return
	}
	p, err := physics.TheveninResistance(r.ShuntOhm, r.FirstDiv, r.ShuntedDiv)
	if err != nil {
		w.say("Row %d cannot be worked: %v.", r.Row, err)
		return
	}
	at := w.seen.rows[r.Row-1]
	firsts := inForce(w.seen.runs[at.run].first, w.State)
	shunteds := inForce(w.seen.runs[at.run].branches[at.branch].readings, w.State)
	how := "as read"
	if len(firsts) > 1 || len(shunteds) > 1 {
		how = "the means of what was read"
	}
	if zero, ok := w.seen.sameZero(w.State); !ok && len(inForce(w.seen.zeros, w.State)) > 0 {
		how += ", less the zero at its time"
	} else if zero != 0 {
		how += fmt.Sprintf(", less the zero of %s div", w.signed(zero))
	}
	if mean(firsts) < 0 {
		how += ", without their sign"
	}
	first, shunted := six(r.FirstDiv), six(r.ShuntedDiv)
	branch := r.SeriesOhm + w.given.SourceResistance
	series, shunt := six(r.SeriesOhm), six(r.ShuntOhm)
	w.say("Row %d: *R* = %s, *S* = %s. The deflections are %s: *θ₁* = %s div, *θ₂* = %s div. The source has *E* = %s and *r* = %s.",
		r.Row, ohms(r.SeriesOhm), ohms(r.ShuntOhm), how, first, shunted, six(r.EMF)+"\u00a0V", six(w.given.SourceResistance)+"\u00a0Ω")
	w.add(document.Formula{Lines: []string{
		fmt.Sprintf("ρ = θ₂/θ₁ = %s div / %s div = %s", shunted, first, six(r.ShuntedDiv/r.FirstDiv)),
		fmt.Sprintf("R′ = R + r = %s Ω + %s Ω = %s Ω", series, six(w.given.SourceResistance), six(branch)),
		"P = S (θ₁ − θ₂) / θ₂",
		fmt.Sprintf("= %s Ω × (%s div − %s div) / %s div", shunt, first, shunted, shunted),
		fmt.Sprintf("= %s Ω", six(p)),
		"G = R′ P / (R′ − P)",
		fmt.Sprintf("= %s Ω × %s Ω / (%s Ω − %s Ω)", six(branch), six(p), six(branch), six(p)),
		fmt.Sprintf("= %s Ω", six(known(r.Resistance))),
		"k = E / ((R′ + G) θ₁)",
		fmt.Sprintf("= %s V / ((%s Ω + %s Ω) × %s div)", six(r.EMF), six(branch), six(known(r.Resistance)), first),
		fmt.Sprintf("= %s", quantity.Powers.Format(known(r.Merit), quantity.AmperePerDivision, 5)),
	}})
	w.add(document.Paragraph{Text: document.Join(
		document.Plain("With their standard uncertainties: "), document.Rich("*G* = "), both(r.Resistance, r.UResistance, quantity.Ohm),
		document.Rich(", *k* = "), both(r.Merit, r.UMerit, quantity.AmperePerDivision), document.Plain("."))})
}

// rows is the table of what each row gives.
func (w *writer) rows() {
	if len(w.a.Rows) == 0 {
		return
	}
	w.section("Results of the rows")
	number3 := func(head string) document.Column { return document.Column{Head: document.Rich(head), Number: true} }
	t := document.Table{
		Caption: document.Rich("Each row by itself. Deflections are means, the zero taken off, without sign; ± is one standard uncertainty."),
		Columns: []document.Column{{Head: document.Plain("Row")}, number3("*R* (Ω)"), number3("*S* (Ω)"), number3("*θ₁* (div)"), number3("*θ₂* (div)"),
			number3("*ρ*"), number3("*P* (Ω)"), number3("*G* (Ω)"), number3("*k* (µA/div)")},
		Headed: true,
	}
	for _, r := range w.a.Rows {
		p := math.NaN()
		if v, err := physics.TheveninResistance(r.ShuntOhm, r.FirstDiv, r.ShuntedDiv); err == nil {
			p = v
		}
		dash := func(v float64, s []document.Span) []document.Span {
			if math.IsNaN(v) {
				return document.Plain("–")
			}
			return s
		}
		cell := func(v float64, text string) []document.Span {
			return dash(v, value(v, text))
		}
		g, k := known(r.Resistance), known(r.Merit)
		t.Rows = append(t.Rows, document.TableRow{Struck: r.Struck, Cells: [][]document.Span{
			document.Plain(strconv.Itoa(r.Row)),
			cell(r.SeriesOhm, number(r.SeriesOhm)), cell(r.ShuntOhm, number(r.ShuntOhm)),
			cell(r.FirstDiv, fmt.Sprintf("%.2f", r.FirstDiv)), cell(r.ShuntedDiv, fmt.Sprintf("%.2f", r.ShuntedDiv)),
			cell(r.ShuntedDiv/r.FirstDiv, fmt.Sprintf("%.3f", r.ShuntedDiv/r.FirstDiv)),
			cell(p, quantity.Powers.Format(p, quantity.Number, 4)),
			cell(g, quantity.Measured{Value: g, U: known(r.UResistance)}.String()),
			cell(k, quantity.Measured{Value: k * 1e6, U: known(r.UMerit) * 1e6}.String()),
		}})
	}
	w.add(t)
}

// near leaves out first deflections without a row that lie far from the rows:
// they would press the rows into a corner.
func near(points []procedure.Plotted) []procedure.Plotted {
	most := 0.0
	for _, p := range points {
		if p.Row > 0 {
			most = max(most, p.X)
		}
	}
	return slices.DeleteFunc(slices.Clone(points), func(p procedure.Plotted) bool { return p.Row == 0 && p.X > 1.5*most })
}

// graph is the figure of R against 1/θ.
func (w *writer) graph() {
	points := near(w.a.Graphs.Series)
	if len(points) == 0 {
		return
	}
	low, high, rows, struck := math.Inf(1), math.Inf(-1), 0, 0
	for _, p := range points {
		low, high = math.Min(low, p.Y), math.Max(high, p.Y)
		switch {
		case p.Struck:
			struck++
		case p.Row > 0:
			rows++
		}
	}
	w.section("Graph")
	caption := "*R* against 1/*θ* of the first deflections. Dots: rows in force, with one standard uncertainty of the reading."
	said := fmt.Sprintf("%s, R from %s to %s.", count(rows, "row in force", "rows in force"), ohms(low), ohms(high))
	if others := len(points) - rows - struck; others > 0 {
		caption += " Rings: first deflections without a row, which are not in the line."
		said += fmt.Sprintf(" %s without a row.", count(others, "first deflection", "first deflections"))
	}
	if struck > 0 {
		caption += " Crosses: struck rows."
		said += fmt.Sprintf(" %s struck.", sentenceCount(struck))
	}
	var line func(x float64) float64
	if s := w.a.Schoolbook; s != nil && s.Line != nil {
		l := *s.Line
		line = func(x float64) float64 { return l.Slope*x + l.Intercept }
		caption += " Line: fitted by weighted least squares."
		said += fmt.Sprintf(" They lie about a rising straight line, slope %s.", quantity.Measured{Value: l.Slope, U: l.USlope}.String()+" Ω div")
	}
	w.add(graph(points, line, document.Rich(caption), said))
	if s := w.a.Schoolbook; s != nil && s.Line != nil {
		l := s.Line
		w.add(document.Paragraph{Text: document.Join(
			document.Rich("The slope *E*/*k* is "), value(l.Slope, quantity.Measured{Value: l.Slope, U: l.USlope}.String()+" Ω div"),
			document.Rich(", which gives *k* = "), both(&l.Merit, &l.UMerit, quantity.AmperePerDivision),
			document.Rich("; the intercept −(*G* + *r*) is "), value(l.Intercept, quantity.Measured{Value: l.Intercept, U: l.UIntercept, Unit: quantity.Ohm}.String()),
			document.Rich(". It lies so far from the points that it is no useful *G*."))})
	} else {
		w.aside("One row makes no line.")
	}
}

// value is a text that says a number, kept on one line, with the number in
// full for programs.
func value(v float64, text string) []document.Span {
	return []document.Span{{Text: strings.ReplaceAll(text, " ", "\u00a0"), Value: full(v)}}
}

// result is what all readings together say.
func (w *writer) result() {
	w.section("Result")
	r := w.a.Result
	if r == nil || r.Resistance == nil {
		w.say("%s", w.noResult())
		return
	}
	w.say("All readings in force are fitted together, those of the trials too; what all rows share, such as the EMF, the boxes and the zero, is counted once.")
	t := document.Table{
		Caption: document.Rich("The result. *U* is the expanded uncertainty: the true value lies within ± *U* with a probability of 95 %."),
		Columns: []document.Column{{Head: document.Plain("Quantity")}, {Head: document.Plain("Value"), Number: true}, {Head: document.Rich("Standard uncertainty *u*"), Number: true}, {Head: document.Rich("*U*, 95 %"), Number: true}},
		Headed:  true,
	}
	row := func(name string, v, u, u95 float64, unit quantity.Unit) {
		m := quantity.Measured{Value: v, U: u, Unit: unit}
		text, alone := rounded(m)
		t.Rows = append(t.Rows, document.TableRow{Cells: [][]document.Span{document.Rich(name), value(v, text), value(u, alone), value(u95, quantity.Powers.Format(u95, unit, 2))}})
	}
	row("Galvanometer resistance *G*", known(r.Resistance), known(r.UResistance), known(r.U95Resistance), quantity.Ohm)
	row("Figure of merit *k*", known(r.Merit), known(r.UMerit), known(r.U95Merit), quantity.AmperePerDivision)
	plain := func(name string, v float64, text string) {
		t.Rows = append(t.Rows, document.TableRow{Cells: [][]document.Span{document.Rich(name), value(v, text), nil, nil}})
	}
	g, k := *r.Resistance, known(r.Merit)
	if f := known(r.FullScale); !math.IsNaN(f) {
		plain("Full-scale current *N* *k*", f, quantity.Format(f, quantity.Ampere, 3))
		plain("Voltage for full scale *N* *k* *G*", f*g, quantity.Format(f*g, quantity.Volt, 3))
	}
	if k > 0 && g > 0 {
		plain("Current sensitivity 1/*k*", 1/k, quantity.Powers.Format(1/k, quantity.Number, 3)+" div/A")
		plain("Voltage sensitivity 1/(*k* *G*)", 1/(k*g), quantity.Powers.Format(1/(k*g), quantity.Number, 3)+" div/V")
	}
	w.add(t)
	if c := r.Correlation; c != nil {
		text := fmt.Sprintf("*G* and *k* are correlated with the coefficient %s.", strings.Replace(fmt.Sprintf("%.2f", *c), "-", "−", 1))
		if d := r.EffectiveDOF; d != nil {
			text += fmt.Sprintf(" *u*(*G*) has %.3g effective degrees of freedom.", *d)
		}
		w.aside("%s", text)
	}
	w.trials()
	w.byMeans()
}

// rounded parts a value and its uncertainty, rounded together, each with its
// power of ten and unit.
func rounded(m quantity.Measured) (value, u string) {
	v, d, decimals, ok := m.Rounded()
	if !ok {
		return quantity.Powers.Format(m.Value, m.Unit, 4), quantity.Powers.Format(m.U, m.Unit, 2)
	}
	digits := func(x float64) int {
		if x == 0 {
			return 1
		}
		return max(1, decimals+int(math.Floor(math.Log10(math.Abs(x))+1e-9))+1)
	}
	return quantity.Powers.Format(v, m.Unit, digits(v)), quantity.Powers.Format(d, m.Unit, digits(d))
}

// trials tells the intervals by Monte Carlo.
func (w *writer) trials() {
	if w.Trials == nil {
		return
	}
	g, k := w.Trials.Outputs[0], w.Trials.Outputs[1]
	end := func(v float64, u float64, unit quantity.Unit) []document.Span {
		text, _ := rounded(quantity.Measured{Value: v, U: u, Unit: unit})
		return value(v, text)
	}
	w.add(document.Paragraph{Text: document.Join(
		document.Plain(fmt.Sprintf("By Monte Carlo (%s trials) 95 %% of ", number(float64(w.Trials.Trials)))), document.Rich("*G* lie between "),
		end(g.Interval95[0], g.U, quantity.Ohm), document.Plain(" and "), end(g.Interval95[1], g.U, quantity.Ohm),
		document.Rich(", of *k* between "), end(k.Interval95[0], k.U, quantity.AmperePerDivision), document.Plain(" and "), end(k.Interval95[1], k.U, quantity.AmperePerDivision), document.Plain("."))})
	w.say("*G* is known to no better than 5 %%, and the ratio skews what may be true of it: its interval by Monte Carlo is the one to state.")
}

// byMeans gives the schoolbook's answer beside it.
func (w *writer) byMeans() {
	s := w.a.Schoolbook
	if s == nil || s.MeanResistance == nil {
		return
	}
	text := document.Join(document.Plain("The plain mean of the rows, for comparison: "), document.Rich("*G* = "), figures(*s.MeanResistance, quantity.Ohm, 4))
	if s.SEResistance != nil {
		text = document.Join(text, document.Plain(" with the standard error "), figures(*s.SEResistance, quantity.Ohm, 2))
	}
	text = document.Join(text, document.Rich(", *k* = "), figures(known(s.MeanMerit), quantity.AmperePerDivision, 4))
	if s.SEMerit != nil {
		text = document.Join(text, document.Plain(" with "), figures(*s.SEMerit, quantity.AmperePerDivision, 2))
	}
	w.add(document.Paragraph{Text: document.Join(text, document.Plain("."))})
}
