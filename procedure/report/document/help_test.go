package document

import (
	"strings"
	"testing"
	"time"

	"gonum.org/v1/plot/vg"
	"pgregory.net/rapid"
)

// hostile are texts that do harm where they are not taken for text.
var hostile = []string{
	`<script>alert(1)</script>`,
	`"><img src=x onerror=alert(1)>`,
	"=cmd|' /C calc'!A0",
	"\x1b[31mred\x1b]52;c;aGk=\x07\u009b2J",
	"a\u202eb\u200fc\u2066d",
	"[link](http://example.org/) ![i](http://example.org/i.png) <http://example.org> www.example.org",
	"`code` *star* _under_ | bar | # head\n- list\n```\nfence",
	"&lt;b&gt; &#60; \\",
	"\u05d0\u05d1\u05d2 \u0639\u0631\u0628 \u4e2d\u6587 e\u0301 \U0001F600",
	strings.Repeat("x", 10_000),
	strings.Repeat("word ", 2_000),
}

// sample is a document with every kind of block, and the given text wherever a
// stranger's text may stand.
func sample(text string) Document {
	said := Said(text)
	rows := []TableRow{
		{Cells: [][]Span{Plain("1"), {{Text: "90.5", Value: "90.5283"}}, said}},
		{Cells: [][]Span{Plain("2"), Plain("−3"), {{Text: text, Style: Typed | Struck}}}, Struck: true},
	}
	for range 60 {
		rows = append(rows, TableRow{Cells: [][]Span{Plain("n"), Plain("1"), Plain("row of a long table")}})
	}
	return Document{
		Title: "A sample", Running: "running " + text, Author: text, Subject: text,
		Date: time.Date(2031, 3, 4, 9, 0, 0, 0, time.UTC),
		Blocks: []Block{
			Facts{{Term: "Names", Text: said}, {Term: "Empty", Text: nil}},
			Paragraph{Key: true, Text: Join(Rich("*G* = (90.5 ± 1.9) Ω × 10⁻⁵ and "), said)},
			Heading{Level: 2, Text: Plain("First")},
			Paragraph{Text: Join(Rich("*θ₁*, *I_g*, **strong** µ Ω √ ∥ "), said)},
			Formula{Lines: []string{"G = R′ S (1 − ρ) / (ρ (R′ + S) − S)", "= 90.5 Ω"}},
			Heading{Level: 3, Text: Plain("A part")},
			List{Items: [][]Span{said, Plain("two")}},
			List{Ordered: true, Items: [][]Span{said, Plain("two")}},
			Heading{Level: 2, Text: Plain("First")}, // the same name again
			Table{Caption: said, Columns: []Column{{Head: Plain("Row")}, {Head: Plain("Value"), Number: true}, {Head: Plain("Said")}}, Rows: rows, Headed: true,
				Notes: []TableNote{{Mark: "[a]", Text: said}}},
			Figure{Width: 200, Height: 100, Caption: said, Alt: "a square", Text: text, Plain: "+--+\n+--+", Draw: func(c vg.Canvas) {
				var p vg.Path
				p.Move(vg.Point{X: 10, Y: 10})
				p.Line(vg.Point{X: 90, Y: 10})
				p.Arc(vg.Point{X: 90, Y: 50}, 40, -1.57, 3.14)
				p.QuadTo(vg.Point{X: 0, Y: 100}, vg.Point{X: 10, Y: 50})
				p.CubeTo(vg.Point{X: 0, Y: 40}, vg.Point{X: 20, Y: 30}, vg.Point{X: 10, Y: 10})
				p.Close()
				c.SetColor(Palette.Mark)
				c.Fill(p)
				c.Push()
				c.Rotate(1)
				c.Scale(0.5, 0.5)
				c.Translate(vg.Point{X: 5, Y: 5})
				c.SetLineDash([]vg.Length{2, 1}, 0)
				c.Stroke(p)
				c.Pop()
			}},
			Paragraph{Aside: true, Text: said},
		},
	}
}

// anyDocument draws a document of many blocks in any order.
func anyDocument(t *rapid.T) Document {
	sentence := rapid.Custom(func(t *rapid.T) []Span {
		n := rapid.IntRange(1, 120).Draw(t, "words")
		return Plain(strings.TrimSpace(strings.Repeat("word ", n)))
	})
	block := rapid.Custom(func(t *rapid.T) Block {
		switch rapid.IntRange(0, 8).Draw(t, "kind") {
		case 0, 1:
			return Heading{Level: rapid.IntRange(2, 3).Draw(t, "level"), Text: Plain("HEAD")}
		case 2:
			return Formula{Lines: []string{"G = R′ P / (R′ − P)", "= 90.5 Ω"}}
		case 3:
			n := rapid.IntRange(1, 50).Draw(t, "rows")
			tab := Table{Caption: Plain("A table"), Columns: []Column{{Head: Plain("COLUMN")}, {Head: Plain("b"), Number: true}}}
			for range n {
				tab.Rows = append(tab.Rows, TableRow{Cells: [][]Span{sentence.Draw(t, "cell"), Plain("1")}})
			}
			return tab
		case 4:
			return Figure{Width: 200, Height: vg.Length(rapid.IntRange(20, 400).Draw(t, "height")), Caption: Plain("A figure"), Draw: func(vg.Canvas) {}}
		case 5:
			return List{Items: rapid.SliceOfN(sentence, 1, 6).Draw(t, "items")}
		case 6:
			return Paragraph{Key: true, Text: sentence.Draw(t, "key")}
		case 7:
			return Facts{{Term: "a term", Text: sentence.Draw(t, "fact")}}
		}
		return Paragraph{Text: sentence.Draw(t, "text")}
	})
	d := Document{Title: "Any", Running: "running", Blocks: rapid.SliceOfN(block, 1, 20).Draw(t, "blocks")}
	// A document does not end with a heading.
	d.Blocks = append(d.Blocks, Paragraph{Text: Plain("END")})
	return d
}

func mustString(t testing.TB, write func(*strings.Builder) error) string {
	t.Helper()
	var b strings.Builder
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}
