package screen

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/safety"
	"example.org/halve/tui/draw"
	"example.org/halve/tui/theme"
)

// The functions here turn counsel into lines. They decide nothing: what is
// not in the counsel is not said.

// clearanceLines says whether the key may be closed, and why.
func clearanceLines(c *safety.Clearance, w int, t *theme.Theme) []string {
	return clearanceAt(c, "", w, t)
}

// clearanceAt is clearanceLines for a setting that is not made yet; "" is the
// one that stands.
func clearanceAt(c *safety.Clearance, at string, w int, t *theme.Theme) []string {
	if c == nil {
		return nil
	}
	style, sign, word := t.Verdict(c.Verdict)
	head := fmt.Sprintf("%s %s %s%s", sign, c.Key, word, t.Signs.Say(at))
	text := t.Signs.Say(c.Because)
	lines := draw.Wrap(head+"  "+text, w)
	for i, line := range lines {
		if i == 0 {
			if rest, ok := strings.CutPrefix(line, head); ok {
				lines[i] = style.Render(head) + rest
				continue
			}
		}
		lines[i] = line
	}
	return lines
}

// findingLines says what the readings point to and the test that decides; the
// first finding in full, the others by a line.
func findingLines(fs []procedure.Finding, w int, t *theme.Theme) []string {
	var lines []string
	for i, f := range fs {
		text := fmt.Sprintf("fits best%s: %s", chance(f.Probability), f.Say)
		if i > 0 {
			text = fmt.Sprintf("or%s: %s", chance(f.Probability), f.Say)
		}
		if f.Try != "" && i == 0 { // one test at a time
			text += " Try: " + f.Try
		}
		if f.Mend != nil {
			text += fmt.Sprintf(" Then strike %d.", f.Mend.Seq)
		}
		lines = append(lines, draw.Styled(draw.Wrap(t.Signs.Say(text), w), t.Odd)...)
	}
	return lines
}

// chance is a probability in brackets, "" where it is certain.
func chance(p float64) string {
	if said := procedure.Chance(p); said != "" {
		return " (" + said + ")"
	}
	return ""
}

// column is a column of the table of rows.
type column struct {
	head  string
	least int // its width, a blank before it included; more where a cell needs it
	cells []string
}

// rowColumns returns the columns of the table that fit into w cells, and how
// wide each is: with the uncertainties of G and k, else without; then without
// k, and last without G. What was read at the bench is always there.
func rowColumns(rows []procedure.Row, w int, t *theme.Theme) ([]column, []int) {
	made := func(head string, least int, cell func(*procedure.Row) string) column {
		c := column{t.Signs.Say(head), least, make([]string, len(rows))}
		for i := range rows {
			c.cells[i] = t.Signs.Say(cell(&rows[i]))
		}
		return c
	}
	exact := quantity.Style(0).Exact
	bench := []column{
		made("", 2, func(r *procedure.Row) string {
			if r.Struck {
				return "x" + strconv.Itoa(r.Row)
			}
			return strconv.Itoa(r.Row)
		}),
		made("R/Ω", 6, func(r *procedure.Row) string { return exact(r.SeriesOhm, quantity.Number) }),
		made("θ1", 5, func(r *procedure.Row) string { return bare(r.FirstDiv) }),
		made("S/Ω", 5, func(r *procedure.Row) string { return exact(r.ShuntOhm, quantity.Number) }),
		made("θ2", 5, func(r *procedure.Row) string { return bare(r.ShuntedDiv) }),
	}
	gu := made("G/Ω", 11, func(r *procedure.Row) string { return withDoubt(r.Resistance, r.UResistance, 1) })
	ku := made("k/(µA/div)", 13, func(r *procedure.Row) string { return withDoubt(r.Merit, r.UMerit, 1e6) })
	fits := func(cols []column) ([]int, bool) {
		widths, sum := columnWidths(cols)
		return widths, sum <= w
	}
	roomy := slices.Concat(bench, []column{gu, ku})
	for i, least := range []int{3, 9, 7, 8, 7} {
		roomy[i].least = least
	}
	if widths, ok := fits(roomy); ok {
		return roomy, widths
	}
	cols := slices.Concat(bench, []column{gu, ku})
	if widths, ok := fits(cols); ok {
		return cols, widths
	}
	k := made("k/(µA/div)", 11, func(r *procedure.Row) string { return withDoubt(r.Merit, nil, 1e6) })
	cols[len(bench)+1] = k
	if widths, ok := fits(cols); ok {
		return cols, widths
	}
	cols[len(bench)] = made("G/Ω", 6, func(r *procedure.Row) string { return withDoubt(r.Resistance, nil, 1) })
	if widths, ok := fits(cols); ok {
		return cols, widths
	}
	for _, i := range []int{1, 3} { // no gap between the thousands
		for j, text := range cols[i].cells {
			cols[i].cells[j] = strings.Join(strings.Fields(text), "")
		}
	}
	cols[len(bench)+1].head, cols[len(bench)+1].least = t.Signs.Say("k/µA"), 5
	for len(cols) > len(bench) {
		if widths, ok := fits(cols); ok {
			return cols, widths
		}
		cols = cols[:len(cols)-1]
	}
	widths, _ := fits(cols)
	return cols, widths
}

func columnWidths(cols []column) (widths []int, sum int) {
	widths = make([]int, len(cols))
	for i, c := range cols {
		widths[i] = max(c.least, draw.Width(c.head)+min(i, 1))
		for _, text := range c.cells {
			widths[i] = max(widths[i], draw.Width(text)+min(i, 1))
		}
		sum += widths[i]
	}
	return widths, sum
}

// withDoubt writes a value and its standard uncertainty in units of 1/times.
func withDoubt(v, u *float64, times float64) string {
	if v == nil {
		return "none"
	}
	if u == nil {
		return quantity.Format(*v*times, quantity.Number, 3)
	}
	value, doubt, decimals, ok := quantity.Measured{Value: *v * times, U: *u * times}.Rounded()
	if !ok {
		return quantity.Format(*v*times, quantity.Number, 4)
	}
	places := max(decimals, 0)
	return strings.Replace(fmt.Sprintf("%.*f ± %.*f", places, value, places, doubt), "-", "−", 1)
}

// rowLines is the table of rows: a line of heads, then the rows, the last h-1
// of those before the given offset from the end.
func rowLines(rows []procedure.Row, back, w, h int, t *theme.Theme) []string {
	if h <= 0 {
		return nil
	}
	if len(rows) == 0 {
		return []string{t.Hint.Render(draw.Cut("no row yet", w, t.Signs.Dots))}
	}
	cols, widths := rowColumns(rows, w, t)
	var head strings.Builder
	for i, c := range cols {
		head.WriteString(draw.PadLeft(c.head, widths[i]))
	}
	lines := []string{t.Hint.Render(head.String())}
	room := h - 1
	end := len(rows) - min(max(back, 0), max(len(rows)-room, 0))
	start := max(0, end-room)
	for i := start; i < end; i++ {
		var line strings.Builder
		line.Grow(2 * w)
		for j, c := range cols {
			line.WriteString(draw.PadLeft(c.cells[i], widths[j]))
		}
		text := line.String()
		if rows[i].Struck {
			const word = " struck"
			short := draw.Width(text)+len(word) > w
			text = t.Struck.Render(text)
			if !short {
				text += word
			}
		}
		lines = append(lines, text)
	}
	if start > 0 {
		more := fmt.Sprintf("  Up: %d more", start)
		if text := head.String(); draw.Width(text)+len(more) <= w {
			lines[0] = t.Hint.Render(text + more)
		} else {
			lines[0] = t.Hint.Render(t.Signs.Dots + strings.TrimPrefix(text, " ")) // above the numbers of the rows
		}
	}
	return lines
}

// resultLines is the running result: both quantities with their standard
// uncertainties, and what they hold at 95 %.
func resultLines(r *procedure.Result, w int, t *theme.Theme) []string {
	if r == nil {
		return []string{t.Hint.Render(draw.Cut("none until the first row is kept", w, t.Signs.Dots))}
	}
	g := measured(r.Resistance, r.UResistance, quantity.Ohm)
	k := measured(r.Merit, r.UMerit, quantity.AmperePerDivision)
	rows := fmt.Sprintf("%d rows", r.Rows)
	if r.Rows == 1 {
		rows = "1 row"
	}
	parts := []string{"G = " + g, "k = " + k, rows}
	if r.U95Resistance != nil && r.U95Merit != nil {
		parts = append(parts, "95 %: "+measured(r.Resistance, r.U95Resistance, quantity.Ohm),
			measured(r.Merit, r.U95Merit, quantity.AmperePerDivision))
	}
	if r.FullScale != nil {
		parts = append(parts, "full scale "+quantity.Format(*r.FullScale, quantity.Ampere, 3))
	}
	for i, p := range parts {
		parts[i] = t.Signs.Say(p)
	}
	lines := draw.Flow(parts, "   ", w)
	lines[0] = t.Value.Render(lines[0])
	return lines
}

// measured prints a value with its standard uncertainty.
func measured(v, u *float64, unit quantity.Unit) string {
	m := quantity.Measured{Value: math.NaN(), U: math.NaN(), Unit: unit}
	if v != nil {
		m.Value = *v
	}
	if u != nil {
		m.U = *u
	}
	return quantity.Style(0).Measured(m)
}

// claimLines sets the hand-calculated values beside the computed ones, the
// latest first.
func claimLines(claims []procedure.ClaimCheck, w int, t *theme.Theme) []string {
	var lines []string
	for i := len(claims) - 1; i >= 0; i-- {
		c := claims[i]
		unit, name := quantity.Ohm, "G"
		if c.Quantity == procedure.ClaimMerit {
			unit, name = quantity.AmperePerDivision, "k"
		}
		of := "the mean"
		if c.Row > 0 {
			of = fmt.Sprintf("row %d", c.Row)
		}
		text := fmt.Sprintf("%s of %s by hand %s", name, of, quantity.Format(c.Claimed, unit, 4))
		style := t.Said
		switch {
		case c.Agrees == nil:
			text += ": nothing to compare it with yet"
		case *c.Agrees:
			text += ": agrees"
			for _, s := range c.Slips { // a remark on its digits
				text += ". " + s.Say
			}
		default:
			style = t.Odd
			text += ": does not agree"
			if c.Expected != nil {
				text += ", expected " + quantity.Format(*c.Expected, unit, 4)
			}
			for _, s := range c.Slips {
				text += fmt.Sprintf(". Perhaps%s: %s", chance(s.Probability), s.Say)
			}
		}
		lines = append(lines, draw.Styled(draw.Wrap(t.Signs.Say(text), w), style)...)
	}
	return lines
}

// eventWords names an event in a few words, for striking and for the list.
func eventWords(e procedure.Event) string {
	off := func(div *float64, off bool) string {
		if off || div == nil {
			return "off scale"
		}
		return divisions(*div)
	}
	switch b := e.Body.(type) {
	case procedure.Bench:
		return "the bench"
	case procedure.Wired:
		return "circuit checked"
	case procedure.SourceMeasured:
		return "source " + quantity.Style(0).Exact(b.EMF, quantity.Volt)
	case procedure.ZeroRead:
		return "zero " + divisions(b.Div)
	case procedure.SeriesSet:
		return "R set to " + ohms(b.Ohm)
	case procedure.FirstRead:
		return "first reading " + off(b.Div, b.OffScale)
	case procedure.ShuntSet:
		return "S set to " + ohms(b.Ohm)
	case procedure.ShuntedRead:
		return "shunted reading " + off(b.Div, b.OffScale)
	case procedure.RowKept:
		return "row kept"
	case procedure.Claim:
		return "claim " + b.Value.Text
	case procedure.Strike:
		return fmt.Sprintf("strike of %d", b.Event)
	case procedure.Note:
		return "note"
	case procedure.Who:
		return "names"
	case procedure.Finish:
		return "finish"
	}
	return e.Body.Kind()
}
