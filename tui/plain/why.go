package plain

import (
	"strings"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	tables "github.com/yuin/goldmark/extension/ast"
	"github.com/yuin/goldmark/text"

	"example.org/halve/procedure"
	"example.org/halve/procedure/notes"
)

// sayWhy says the physics of a step and the usual mistakes.
func (d *dialogue) sayWhy(step procedure.Step) {
	lines := aloud(notes.For(step))
	for _, l := range lines {
		d.print(l)
	}
	if len(lines) == 0 {
		d.say("There is no note on this step.")
	}
}

// aloud sets Markdown as it would be read out: a line for each paragraph,
// item, formula and row of a table, and every sign in words.
func aloud(markdown string) []string {
	r := reader{source: []byte(markdown)}
	r.blocks(goldmark.New(goldmark.WithExtensions(extension.Table)).Parser().Parse(text.NewReader(r.source)))
	return r.lines
}

type reader struct {
	source []byte
	lines  []string
}

func (r *reader) say(line string) {
	if line = spell(line); line != "" {
		r.lines = append(r.lines, line)
	}
}

func (r *reader) blocks(parent ast.Node) {
	for n := parent.FirstChild(); n != nil; n = n.NextSibling() {
		switch n := n.(type) {
		case *ast.Heading:
			r.say(inText(r.words(n)) + ".")
		case *ast.Paragraph, *ast.TextBlock:
			r.say(inText(r.words(n)))
		case *ast.FencedCodeBlock, *ast.CodeBlock:
			for i := range n.Lines().Len() {
				line := n.Lines().At(i)
				r.say(formula(string(line.Value(r.source))))
			}
		case *tables.TableHeader, *tables.TableRow:
			var cells []string
			for c := n.FirstChild(); c != nil; c = c.NextSibling() {
				cells = append(cells, inText(r.words(c)))
			}
			r.say(strings.Join(cells, "; ") + ".")
		default: // lists, items, quotations, tables
			r.blocks(n)
		}
	}
}

// words is the text of a block without its emphasis, line ends as blanks.
func (r *reader) words(n ast.Node) string {
	var b strings.Builder
	for c := n.FirstChild(); c != nil; c = c.NextSibling() {
		t, ok := c.(*ast.Text)
		if !ok {
			b.WriteString(r.words(c))
			continue
		}
		b.Write(t.Segment.Value(r.source))
		if t.SoftLineBreak() || t.HardLineBreak() {
			b.WriteByte(' ')
		}
	}
	return b.String()
}
