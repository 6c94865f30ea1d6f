package document

import (
	"strings"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	tables "github.com/yuin/goldmark/extension/ast"
	"github.com/yuin/goldmark/text"
	"github.com/yuin/goldmark/util"
)

// Read reads Markdown as the notes are written in it. Headings of the level
// sections head the sections of the document, those below their parts. What the
// notes do not use (images, HTML) is left out.
func Read(markdown string, sections int) []Block {
	r := reader{source: []byte(markdown), sections: sections}
	doc := goldmark.New(goldmark.WithExtensions(extension.Table)).Parser().Parse(text.NewReader(r.source))
	for n := doc.FirstChild(); n != nil; n = n.NextSibling() {
		r.block(n)
	}
	return r.blocks
}

type reader struct {
	source   []byte
	sections int
	blocks   []Block
}

func (r *reader) block(n ast.Node) {
	switch n := n.(type) {
	case *ast.Heading:
		r.blocks = append(r.blocks, Heading{Level: min(max(n.Level-r.sections, 0)+2, 4), Text: r.spans(n)})
	case *ast.List:
		l := List{Ordered: n.IsOrdered()}
		for item := n.FirstChild(); item != nil; item = item.NextSibling() {
			var spans []Span
			for part := item.FirstChild(); part != nil; part = part.NextSibling() {
				if len(spans) > 0 {
					spans = append(spans, Span{Text: " "})
				}
				spans = append(spans, r.spans(part)...)
			}
			l.Items = append(l.Items, spans)
		}
		r.blocks = append(r.blocks, l)
	case *ast.FencedCodeBlock:
		var f Formula
		for i := range n.Lines().Len() {
			at := n.Lines().At(i)
			if line := strings.TrimSpace(string(at.Value(r.source))); line != "" {
				f.Lines = append(f.Lines, line)
			}
		}
		r.blocks = append(r.blocks, f)
	case *tables.Table:
		r.table(n)
	case *ast.Paragraph:
		r.blocks = append(r.blocks, Paragraph{Text: r.spans(n)})
	case *ast.Blockquote:
		for c := n.FirstChild(); c != nil; c = c.NextSibling() {
			r.block(c)
		}
	}
}

// table reads a table. It has no caption: the heading above says what it is
// about.
func (r *reader) table(n *tables.Table) {
	t := Table{Headed: true}
	for row := n.FirstChild(); row != nil; row = row.NextSibling() {
		var cells [][]Span
		for c := row.FirstChild(); c != nil; c = c.NextSibling() {
			cells = append(cells, r.spans(c))
		}
		if _, head := row.(*tables.TableHeader); head {
			for i, c := range cells {
				t.Columns = append(t.Columns, Column{Head: c, Number: n.Alignments[i] == tables.AlignRight})
			}
			continue
		}
		t.Rows = append(t.Rows, TableRow{Cells: cells})
	}
	r.blocks = append(r.blocks, t)
}

// spans reads the text of a block.
func (r *reader) spans(block ast.Node) []Span {
	var out []Span
	var walk func(n ast.Node, style Style)
	add := func(text string, style Style) {
		if n := len(out); n > 0 && out[n-1].Style == style {
			out[n-1].Text += text
			return
		}
		out = append(out, Span{Text: text, Style: style})
	}
	walk = func(n ast.Node, style Style) {
		for c := n.FirstChild(); c != nil; c = c.NextSibling() {
			switch c := c.(type) {
			case *ast.Text:
				add(unescape(string(c.Segment.Value(r.source))), style)
				if c.SoftLineBreak() || c.HardLineBreak() {
					add(" ", style)
				}
			case *ast.String:
				add(string(c.Value), style)
			case *ast.Emphasis:
				if c.Level == 1 {
					walk(c, style|Variable)
				} else {
					walk(c, style|Strong)
				}
			case *ast.AutoLink:
				add(string(c.URL(r.source)), style)
			case *ast.RawHTML, *ast.Image:
			default:
				walk(c, style)
			}
		}
	}
	walk(block, 0)
	return out
}

// unescape resolves the backslashes and the names of characters that goldmark
// leaves to whoever writes the text.
func unescape(text string) string {
	return string(util.ResolveEntityNames(util.ResolveNumericReferences(util.UnescapePunctuations([]byte(text)))))
}
