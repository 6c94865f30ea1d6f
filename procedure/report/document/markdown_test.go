package document

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	gtext "github.com/yuin/goldmark/text"
)

func markdownOf(t testing.TB, d Document) string {
	t.Helper()
	return mustString(t, func(b *strings.Builder) error { return Markdown(b, d) })
}

// TestMarkdownHostile: read by a reader that nobody here wrote, with every
// extension on, what people typed is text and nothing else.
func TestMarkdownHostile(t *testing.T) {
	md := goldmark.New(goldmark.WithExtensions(extension.GFM))
	var plain bytes.Buffer
	if err := md.Convert([]byte(markdownOf(t, sample("text"))), &plain); err != nil {
		t.Fatal(err)
	}
	if s := plain.String(); strings.Contains(s, "~") || strings.Count(s, "<del>") != 3 {
		t.Errorf("a struck row of three cells has %d struck texts, and the page a ~: %v", strings.Count(s, "<del>"), strings.Contains(s, "~"))
	}
	for _, text := range hostile {
		t.Run(fmt.Sprintf("%.20q", text), func(t *testing.T) {
			source := []byte(markdownOf(t, sample(text)))
			counts := map[string]int{}
			doc := md.Parser().Parse(gtext.NewReader(source))
			if err := ast.Walk(doc, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
				if entering {
					counts[n.Kind().String()]++
				}
				return ast.WalkContinue, nil
			}); err != nil {
				t.Fatal(err)
			}
			for _, kind := range []string{"RawHTML", "HTMLBlock", "Link", "AutoLink", "Image", "CodeSpan"} {
				if counts[kind] > 0 {
					t.Errorf("%.40q makes %d × %s", text, counts[kind], kind)
				}
			}
			// As many blocks as an ordinary text makes.
			ordinary := map[string]int{}
			if err := ast.Walk(md.Parser().Parse(gtext.NewReader([]byte(markdownOf(t, sample("text"))))), func(n ast.Node, entering bool) (ast.WalkStatus, error) {
				if entering {
					ordinary[n.Kind().String()]++
				}
				return ast.WalkContinue, nil
			}); err != nil {
				t.Fatal(err)
			}
			for _, kind := range []string{"Heading", "List", "ListItem", "FencedCodeBlock", "Table", "TableRow", "TableCell", "ThematicBreak"} {
				if counts[kind] != ordinary[kind] {
					t.Errorf("%.40q makes %d × %s where text makes %d", text, counts[kind], kind, ordinary[kind])
				}
			}
		})
	}
}

// TestRead: what the notes are written in comes out as blocks.
func TestRead(t *testing.T) {
	in := "# A\n\nText *G* and **strong**,\non two lines.\n\n- one\n- *θ₁* two\n\n1. first\n\n```formula\nG = R\n= 1\n```\n\n## B\n\n| a | b |\n| --- | ---: |\n| 1 | \\*2 |\n"
	got := ""
	for _, b := range Read(in, 1) {
		switch b := b.(type) {
		case Heading:
			got += fmt.Sprintf("H%d(%s) ", b.Level, Text(b.Text))
		case Paragraph:
			got += fmt.Sprintf("P%d(%s) ", len(b.Text), Text(b.Text))
		case List:
			got += fmt.Sprintf("L%v(%d) ", b.Ordered, len(b.Items))
		case Formula:
			got += fmt.Sprintf("F%q ", b.Lines)
		case Table:
			got += fmt.Sprintf("T%d×%d(%v %s)", len(b.Columns), len(b.Rows), b.Columns[1].Number, Text(b.Rows[0].Cells[1]))
		}
	}
	want := `H2(A) P5(Text G and strong, on two lines.) Lfalse(2) Ltrue(1) F["G = R" "= 1"] H3(B) T2×1(true *2)`
	if got != want {
		t.Errorf("Read(%q)\ngot  %s\nwant %s", in, got, want)
	}
}

func TestRich(t *testing.T) {
	tests := []struct{ in, want string }{
		{"", ""},
		{"*G* = 5", "G:2 |  = 5:0"},
		{"a **b** \\* c", "a :0 | b:1 |  * c:0"},
		{"90 %", "90\u00a0%:0"},
	}
	for _, tt := range tests {
		var parts []string
		for _, s := range Rich(tt.in) {
			parts = append(parts, fmt.Sprintf("%s:%d", s.Text, s.Style))
		}
		if got := strings.Join(parts, " | "); got != tt.want {
			t.Errorf("Rich(%q) = %q, want %q", tt.in, got, tt.want)
		}
	}
}
