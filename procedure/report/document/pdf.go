package document

import (
	"fmt"
	"image/color"
	"io"
	"strings"

	"codeberg.org/go-pdf/fpdf"

	"example.org/halve/procedure/report/formula"
)

// The page is A4. What is on it also stands within a US Letter page, so that
// it prints there without being scaled. All lengths are in points.
const (
	pageWidth, pageHeight = 595.28, 841.89
	left, right           = 62.0, 62.0
	top, bottom           = 76.0, 74.0
	headAt, footAt        = 52.0, 50.0 // of the running lines' base, from the page's edges
	column                = pageWidth - left - right
)

// PDF writes the document as a PDF with embedded fonts. Text is text, figures
// are vectors, headings are bookmarks.
func PDF(w io.Writer, d Document) error { return pdf(w, d, form{compress: true, embed: true}) }

// form is how a PDF is stored. Tests read it uncompressed; those of the layout
// do without embedded fonts, which take most of the time.
type form struct{ compress, embed bool }

func pdf(w io.Writer, d Document, as form) error {
	m, err := newMetrics()
	if err != nil {
		return fmt.Errorf("fonts: %w", err)
	}
	f := fpdf.New("P", "pt", "A4", "")
	f.SetCompression(as.compress)
	f.SetCatalogSort(true) // the same document, the same bytes
	f.SetCreationDate(d.Date.UTC())
	f.SetModificationDate(d.Date.UTC())
	f.SetProducer("halve", true)
	f.SetTitle(d.Title, true)
	f.SetSubject(d.Subject, true)
	f.SetAuthor(d.Author, true)
	f.SetLang("en")
	f.SetDisplayMode("fullwidth", "continuous")
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(left, top, right)
	for n := range faces {
		if as.embed {
			f.AddUTF8FontFromBytes(faceNames[n].family, faceNames[n].style, n.data())
		}
	}
	p := printer{f: f, m: m, blocks: d.Blocks, layouts: map[int]*tableLayout{}}
	p.newPage()
	p.title(d.Title)
	for i := range d.Blocks {
		p.block(i)
	}
	if m.lost {
		p.space(8)
		p.paragraph(Plain("□ stands for a character that the typeface of this document does not have; the HTML form shows it."), asideLook, 0)
	}
	p.running(d.Running)
	if err := f.Error(); err != nil {
		return fmt.Errorf("pdf: %w", err)
	}
	return f.Output(w)
}

// printer sets blocks on pages.
type printer struct {
	f      *fpdf.Fpdf
	m      *metrics
	blocks []Block
	// layouts are those of tables that something above them has asked for.
	layouts map[int]*tableLayout
	y       float64 // where the next thing begins, from the top
	gap     float64 // wanted above it; none at the top of a page
	size    float64 // of the face in use
	face    face
	ink     string

	tables, figures int
}

// floor is where the text of a page ends.
const floor = pageHeight - bottom

func (p *printer) newPage() {
	p.f.AddPage()
	p.y, p.gap = top, 0
	p.size, p.ink = 0, ""
}

// space asks for a gap above what comes next.
func (p *printer) space(h float64) { p.gap = max(p.gap, h) }

// mostSpace is the greatest gap that a block wants above it, headings apart.
const mostSpace = 10

// need begins a new page where less than h is left, and takes the gap.
func (p *printer) need(h float64) {
	if p.y > top && p.y+p.gap+h > floor {
		p.newPage()
	}
	if p.y > top {
		p.y += p.gap
	}
	p.gap = 0
}

// draw writes a line with its base at y.
func (p *printer) draw(l line, x, y float64) {
	for _, r := range l.runs {
		if r.face != p.face || r.size != p.size {
			p.f.SetFont(faceNames[r.face].family, faceNames[r.face].style, r.size)
			p.face, p.size = r.face, r.size
		}
		if r.ink != p.ink {
			c := rgb(colourOf(r.ink))
			p.f.SetTextColor(int(c.R), int(c.G), int(c.B))
			p.ink = r.ink
		}
		p.f.Text(x, y-r.rise, r.text)
		if r.struck {
			p.rule(x, y-r.rise-0.28*r.size, x+r.width, y-r.rise-0.28*r.size, 0.6, "ink")
		}
		x += r.width
	}
}

// rule draws a straight line.
func (p *printer) rule(x1, y1, x2, y2, thick float64, ink string) {
	c := rgb(colourOf(ink))
	p.f.SetDrawColor(int(c.R), int(c.G), int(c.B))
	p.f.SetLineWidth(thick)
	p.f.Line(x1, y1, x2, y2)
}

// ruler draws the scale beneath the title.
func (p *printer) ruler(y float64) {
	p.rule(left, y, left+column, y, 0.8, "ink")
	for i := 0; i <= 50; i++ {
		x := left + column*float64(i)/50
		if i%10 == 0 {
			p.rule(x, y, x, y-8, 0.8, "ink")
		} else {
			p.rule(x, y, x, y-4, 0.4, "soft")
		}
	}
}

func (p *printer) title(text string) {
	for _, l := range p.m.lines(Plain(text), column, titleLook) {
		p.draw(l, left, p.y+titleLook.size)
		p.y += titleLook.leading
	}
	p.y += 12
	p.ruler(p.y)
	p.y += 4
	p.space(10)
}

// running writes the lines at head and foot of every page, once it is known
// how many there are.
func (p *printer) running(text string) {
	l := captionLook
	l.size = 8
	pages := p.f.PageCount()
	for n := 1; n <= pages; n++ {
		p.f.SetPage(n)
		p.size, p.ink = 0, "" // each page has its own
		if head := p.m.lines(Plain(text), column, l); n > 1 && len(head) > 0 {
			p.draw(head[0], left, headAt)
			p.rule(left, headAt+6, left+column, headAt+6, 0.4, "line")
		}
		foot := p.m.lines(Plain(fmt.Sprintf("page %d of %d", n, pages)), column, l)[0]
		p.draw(foot, left+column-foot.width, pageHeight-footAt)
	}
}

// block sets the block at a place of the document.
func (p *printer) block(at int) {
	switch b := p.blocks[at].(type) {
	case Heading:
		p.heading(b, at)
	case Paragraph:
		if !b.Key {
			p.need(p.lead(at))
		}
		switch {
		case b.Key:
			p.key(b)
		case b.Aside:
			p.paragraph(b.Text, asideLook, 0)
		default:
			p.paragraph(b.Text, bodyLook, 0)
		}
		p.space(6)
	case List:
		for i, item := range b.Items {
			mark := "–"
			if b.Ordered {
				mark = fmt.Sprintf("%d.", i+1)
			}
			p.item(mark, item)
		}
		p.space(6)
	case Facts:
		p.facts(b)
	case Formula:
		p.formula(b)
	case Table:
		p.table(at)
	case Figure:
		p.figure(b)
	}
}

// lead is the height that the beginning of the block at a place must have with
// what stands above it.
func (p *printer) lead(at int) float64 {
	if at >= len(p.blocks) {
		return 0
	}
	switch b := p.blocks[at].(type) {
	case Table:
		return p.laid(at).lead()
	case Figure:
		return p.figureHeight(b)
	case Formula:
		return p.formulaHeight(b)
	case Heading:
		return sectionLook.leading + 2*bodyLook.leading
	case Paragraph:
		if b.Key {
			return p.keyHeight(p.keyLines(b))
		}
		lines := len(p.m.lines(b.Text, column, bodyLook))
		h := float64(min(lines, 2)) * bodyLook.leading
		if at+1 == len(p.blocks) || lines > 4 {
			return h
		}
		switch p.blocks[at+1].(type) {
		case Table, Formula, Figure, List: // it leads up to them
			return float64(lines)*bodyLook.leading + mostSpace + p.lead(at+1)
		}
		return h
	}
	return 2 * bodyLook.leading
}

func (p *printer) heading(h Heading, at int) {
	l, above := sectionLook, 18.0
	if h.Level > 2 {
		l, above = partLook, 12
	}
	lines := p.m.lines(h.Text, column, l)
	p.gap = above
	p.need(float64(len(lines))*l.leading + mostSpace + p.lead(at+1))
	p.f.Bookmark(p.m.shown(sansBold, Text(h.Text)), min(h.Level-2, 1), p.y)
	for _, ln := range lines {
		p.draw(ln, left, p.y+l.size)
		p.y += l.leading
	}
	p.space(4)
}

// paragraph sets text, never leaving one line of several alone on a page.
func (p *printer) paragraph(text []Span, l look, indent float64) {
	p.setLines(p.m.lines(text, column-indent, l), l, left+indent, nil)
}

// setLines sets the lines of a paragraph over as many pages as it takes; first
// is called with the base of its first line.
func (p *printer) setLines(lines []line, l look, x float64, first func(y float64)) {
	for i := 0; i < len(lines); {
		n := len(lines) - i
		p.need(float64(min(n, 2)) * l.leading)
		fits := max(1, int((floor-p.y)/l.leading))
		switch {
		case fits >= n:
			fits = n
		case n-fits == 1 && fits > 2:
			fits-- // two go over
		}
		for _, ln := range lines[i : i+fits] {
			if i == 0 && first != nil {
				first(p.y + l.size)
				first = nil
			}
			p.draw(ln, x, p.y+l.size)
			p.y += l.leading
		}
		i += fits
		if i < len(lines) {
			p.newPage()
		}
	}
}

// item sets an item of a list with its mark.
func (p *printer) item(mark string, text []Span) {
	const indent = 20
	lines := p.m.lines(text, column-indent, bodyLook)
	if len(lines) == 0 {
		return
	}
	m := p.m.lines(Plain(mark), indent, bodyLook)[0]
	p.setLines(lines, bodyLook, left+indent, func(y float64) { p.draw(m, left+indent-6-m.width, y) })
	p.space(2)
}

const keyInset, keyPad = 12.0, 7.0 // of the text within its ground

func (p *printer) keyLines(b Paragraph) []line {
	return p.m.lines(b.Text, column-2*keyInset, bodyLook)
}

// keyHeight is that of the ground; a long text goes on without it.
func (p *printer) keyHeight(lines []line) float64 {
	return min(float64(len(lines))*bodyLook.leading+2*keyPad, 300)
}

// key sets the paragraph that says what it all comes to, on a ground.
func (p *printer) key(b Paragraph) {
	lines := p.keyLines(b)
	h := p.keyHeight(lines)
	p.space(8)
	p.need(h)
	ground := func(name string, x, w float64) {
		c := rgb(colourOf(name))
		p.f.SetFillColor(int(c.R), int(c.G), int(c.B))
		p.f.Rect(x, p.y, w, h, "F")
	}
	ground("panel", left, column)
	ground("mark", left, 3)
	p.y += keyPad
	p.setLines(lines, bodyLook, left+keyInset, nil)
	p.y += keyPad
	p.space(8)
}

func (p *printer) facts(fs Facts) {
	l := cellLook
	l.size, l.leading = 9.2, 12.6
	term := l
	term.ink = "soft"
	const wide = 120.0
	for _, f := range fs {
		head := p.m.lines(Rich(f.Term), wide-8, term)
		body := p.m.lines(f.Text, column-wide, l)
		if len(body) == 0 {
			body = []line{{}}
		}
		p.need(l.leading * float64(min(len(head), 3)))
		p.setLines(body, l, left+wide, func(y float64) {
			for i, h := range head {
				p.draw(h, left, y+float64(i)*l.leading)
			}
		})
		if extra := len(head) - len(body); extra > 0 {
			p.y += float64(extra) * l.leading
		}
		p.space(1.5)
	}
	p.space(6)
}

const formulaSize = 11.0

// formulaLines typesets the lines of a formula.
func (p *printer) formulaLines(f Formula) []box {
	var out []box
	for _, text := range f.Lines {
		indent := 16.0
		if strings.HasPrefix(text, "=") {
			indent = 32
		}
		inner := p.m.formula(formula.Parse(text), formulaSize)
		if room := column - indent; inner.width > room { // smaller rather than cut
			inner = p.m.formula(formula.Parse(text), formulaSize*room/inner.width)
		}
		var b box
		b.put(inner, indent, 0)
		out = append(out, b)
	}
	return out
}

func (p *printer) formulaHeight(f Formula) float64 {
	h := 0.0
	for _, b := range p.formulaLines(f) {
		h += b.above + b.below + 7
	}
	return min(h, 160)
}

func (p *printer) formula(f Formula) {
	p.space(5)
	lines := p.formulaLines(f)
	for i, b := range lines {
		h := b.above + b.below
		if i == 0 && len(lines) > 1 { // the first is not left alone
			h += 7 + lines[1].above + lines[1].below
		}
		p.need(h)
		base := p.y + b.above
		for _, t := range b.texts {
			p.draw(line{runs: []run{t.run}}, left+t.x, base-t.y)
		}
		for _, r := range b.rules {
			p.rule(left+r.x1, base-r.y1, left+r.x2, base-r.y2, r.thick, "ink")
		}
		p.y += b.above + b.below
		p.space(7)
	}
	p.space(8)
}

func (p *printer) figureHeight(f Figure) float64 {
	return f.Height.Points() + 8 + float64(min(len(p.caption("Figure", p.figures+1, f.Caption)), 6))*captionLook.leading
}

// caption sets the line or lines that name a table or a figure.
func (p *printer) caption(what string, n int, text []Span) []line {
	return p.m.lines(Join([]Span{{Text: fmt.Sprintf("%s %d. ", what, n), Style: Strong}}, text), column, captionLook)
}

func (p *printer) figure(f Figure) {
	p.space(8)
	p.need(p.figureHeight(f))
	p.figures++
	c := newCanvas(p, left+(column-f.Width.Points())/2, p.y+f.Height.Points())
	f.Draw(c)
	p.size, p.ink = 0, "" // the drawing has used its own
	p.y += f.Height.Points() + 6
	p.setLines(p.caption("Figure", p.figures, f.Caption), captionLook, left, nil)
	p.space(10)
}

// parts are a colour's red, green and blue, 0 to 255.
func parts(c color.Color) (r, g, b int) {
	if c == nil {
		return 0, 0, 0
	}
	x, y, z, _ := c.RGBA()
	return int(x >> 8), int(y >> 8), int(z >> 8)
}
