package document

// tableLayout is a table set into columns.
type tableLayout struct {
	x, width []float64 // of each column
	right    float64   // where the last one ends
	caption  []line
	head     rowLayout
	rows     []rowLayout
	columns  []Column
}

// rowLayout is the lines of each cell of a row.
type rowLayout struct{ cells [][]line }

const (
	cellGap = 9.0  // between columns, at least
	wideGap = 26.0 // at most
	cellPad = 2.6  // above and below the text of a row
)

func (r rowLayout) lines() int {
	n := 1
	for _, c := range r.cells {
		n = max(n, len(c))
	}
	return n
}

func (r rowLayout) height() float64 { return float64(r.lines())*cellLook.leading + 2*cellPad }

func (t *tableLayout) captionHeight() float64 {
	if len(t.caption) == 0 {
		return 0
	}
	return float64(min(len(t.caption), 6))*captionLook.leading + 5
}

// layout settles the columns' widths: what each wants where that fits, else
// what it needs at least and a share of the rest.
func (p *printer) layout(t Table) *tableLayout {
	n := len(t.Columns)
	out := &tableLayout{columns: t.Columns}
	if len(t.Caption) > 0 {
		out.caption = p.caption("Table", p.tables+1, t.Caption)
	}
	words := make([][][]word, 0, len(t.Rows)+1)
	widest, least := make([]float64, n), make([]float64, n)
	add := func(cells [][]Span, l look) {
		row := make([][]word, n)
		for i := range min(n, len(cells)) {
			row[i] = p.m.words(cells[i], l)
			sum := 0.0
			for j, w := range row[i] {
				sum += w.width
				if j > 0 && w.blank {
					sum += p.m.measure(l.plain, l.size, " ")
				}
				least[i] = max(least[i], min(w.width, 90))
			}
			widest[i] = max(widest[i], sum)
		}
		words = append(words, row)
	}
	heads := make([][]Span, n)
	for i, c := range t.Columns {
		heads[i] = c.Head
	}
	add(heads, headLook)
	struck := cellLook
	struck.struck = true
	for _, r := range t.Rows {
		if r.Struck {
			add(r.Cells, struck)
		} else {
			add(r.Cells, cellLook)
		}
	}
	out.share(widest, least)
	for i, row := range words {
		l := cellLook
		if i == 0 {
			l = headLook
		}
		set := rowLayout{cells: make([][]line, n)}
		for j, w := range row {
			set.cells[j] = p.m.set(w, out.width[j]+0.01, l)
		}
		if i == 0 {
			out.head = set
		} else {
			out.rows = append(out.rows, set)
		}
	}
	return out
}

// share gives each column its width and place.
func (t *tableLayout) share(widest, least []float64) {
	n := len(widest)
	gap := cellGap
	room := column - gap*float64(n-1)
	sumWide, sumLeast := 0.0, 0.0
	for i := range n {
		sumWide += widest[i]
		sumLeast += least[i]
	}
	t.x, t.width = make([]float64, n), make([]float64, n)
	if n > 1 && sumWide < room { // what is over goes between the columns
		gap = min(wideGap, (column-sumWide)/float64(n-1))
	}
	at := left
	for i := range n {
		switch {
		case sumWide <= room:
			t.width[i] = widest[i]
		case sumLeast >= room:
			t.width[i] = least[i] * room / sumLeast
		default:
			t.width[i] = least[i] + (widest[i]-least[i])*(room-sumLeast)/(sumWide-sumLeast)
		}
		t.x[i] = at
		at += t.width[i] + gap
	}
	t.right = min(left+column, at-gap)
}

// shortHeight is up to what height a short table is kept on one page.
const shortHeight = 260

// laid is the layout of the table at a place of the document.
func (p *printer) laid(at int) *tableLayout {
	if l, ok := p.layouts[at]; ok {
		return l
	}
	l := p.layout(p.blocks[at].(Table))
	p.layouts[at] = l
	return l
}

// lead is what a table needs with what stands above it: all of it where it is
// short, else its head and two rows, or as much of them as can be asked for.
func (t *tableLayout) lead() float64 {
	h := 0.0
	for i, r := range t.rows {
		if h += r.height(); i == 1 && len(t.rows) > shortTable {
			break
		}
	}
	if h > shortHeight { // long rows
		h = 0
		for _, r := range t.rows[:min(2, len(t.rows))] {
			h = min(h+r.height(), shortHeight)
		}
	}
	return t.captionHeight() + t.head.height() + h
}

// table sets the table at a place of the document, its head anew on every
// page. A row stays together unless it is the first or higher than a page.
func (p *printer) table(at int) {
	t, l := p.blocks[at].(Table), p.laid(at)
	delete(p.layouts, at)
	p.space(8)
	p.need(l.lead())
	if len(t.Caption) > 0 {
		p.tables++
	}
	if len(l.caption) > 0 {
		p.setLines(l.caption, captionLook, left, nil)
		p.y += 5
		p.need(l.head.height() + 3*cellLook.leading)
	}
	head := func() {
		p.rule(left, p.y, l.right, p.y, 1, "ink")
		p.cells(l, l.head, 0, l.head.lines())
		p.rule(left, p.y, l.right, p.y, 0.6, "ink")
	}
	head()
	for i, r := range l.rows {
		if i > 0 {
			p.rule(left, p.y, l.right, p.y, 0.3, "line")
		}
		over := func() {
			p.rule(left, p.y, l.right, p.y, 0.6, "ink")
			p.newPage()
			head()
		}
		h := r.height()
		if i == len(l.rows)-2 && i > 0 { // the last row does not stand alone
			h += l.rows[i+1].height()
		}
		whole := h < floor-top-l.head.height()
		if i > 0 && (p.y+h > floor && whole || p.y+3*cellLook.leading > floor) {
			over()
		}
		for from := 0; from < r.lines(); {
			fits := max(1, int((floor-p.y-2*cellPad)/cellLook.leading))
			to := min(r.lines(), from+fits)
			p.cells(l, r, from, to)
			if from = to; from < r.lines() {
				over()
			}
		}
	}
	p.rule(left, p.y, l.right, p.y, 0.6, "ink")
	p.y += 3
	for _, n := range t.Notes {
		p.paragraph(Join(Plain(n.Mark+" "), n.Text), captionLook, 0)
	}
	p.space(10)
}

// cells draws the lines from and to of a row's cells.
func (p *printer) cells(t *tableLayout, r rowLayout, from, to int) {
	for i, c := range r.cells {
		for j := from; j < min(to, len(c)); j++ {
			x := t.x[i]
			if t.columns[i].Number {
				x += t.width[i] - c[j].width
			}
			p.draw(c[j], x, p.y+cellPad+float64(j-from)*cellLook.leading+cellLook.size)
		}
	}
	p.y += float64(to-from)*cellLook.leading + 2*cellPad
}
