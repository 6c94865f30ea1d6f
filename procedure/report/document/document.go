// Package document is a written document, told apart from how it is shown: its
// sections, paragraphs, tables, formulas and figures, and the writers that
// make HTML, PDF and Markdown of it. The same document gives the same bytes.
//
// Text from strangers may stand in any span: every writer escapes it.
package document

import (
	"strings"
	"time"

	"gonum.org/v1/plot/vg"
)

// A Document is what is written.
type Document struct {
	Title string
	// Running is the line at the head of every printed page, "" for none.
	Running string
	// Subject and Author are for whoever files the document; both may be "".
	Subject, Author string
	// Date is that of the matter, never that of the writing; it is only for
	// whoever files the document.
	Date   time.Time
	Blocks []Block
}

// A Block is a piece of a document that stands by itself. The types below are
// all there are.
type Block interface{ block() }

// A Heading begins a part of the document. Level is 2 for a section, 3 for a
// part of one; the title alone is of level 1.
type Heading struct {
	Level int
	Text  []Span
}

// A Paragraph is running text. Key is set for the one that says what it all
// comes to, Aside for a remark of less weight.
type Paragraph struct {
	Text       []Span
	Key, Aside bool
}

// A List is one of short items.
type List struct {
	Ordered bool
	Items   [][]Span
}

// Facts are terms and what belongs to each.
type Facts []Fact

// A Fact is a term and what belongs to it.
type Fact struct {
	Term string
	Text []Span
}

// A Formula is typeset line by line, each in the notation of package formula.
// A line that begins with "=" goes on with the one before.
type Formula struct{ Lines []string }

// A Table has columns, a head, rows, and notes beneath it. Without a caption it
// is not numbered.
type Table struct {
	Caption []Span
	Columns []Column
	Rows    []TableRow
	Notes   []TableNote
	// Headed is set where the first cell of a row is the row's name.
	Headed bool
}

// A Column of a table. Number sets it flush right.
type Column struct {
	Head   []Span
	Number bool
}

// A TableRow is a row, with a cell for each column. Struck marks one that is
// no longer in force.
type TableRow struct {
	Cells  [][]Span
	Struck bool
}

// A TableNote is a remark that a mark in a table points to.
type TableNote struct {
	Mark string
	Text []Span
}

// A Figure is a drawing of the given size. Draw draws it in the colours of the
// palette, the origin at its lower left. Alt names it in a few words; Text
// says what is to be seen, for whoever cannot see it, and stands in its place
// where there are no drawings.
type Figure struct {
	Width, Height vg.Length
	Draw          func(vg.Canvas)
	Caption       []Span
	Alt           string
	Text          string
	// Plain is a drawing in characters, for where there is nothing else.
	Plain string
}

func (Heading) block()   {}
func (Paragraph) block() {}
func (List) block()      {}
func (Facts) block()     {}
func (Formula) block()   {}
func (Table) block()     {}
func (Figure) block()    {}

// Style is how a span stands out. The constants are bits.
type Style uint8

const (
	Strong   Style = 1 << iota
	Variable       // a quantity's letter: italic
	Struck         // struck out
	Typed          // written by a person: its direction is its own
)

// A Span is a piece of text in one style. Value, where there is one, is the
// number that the text says, in full and in SI units, for programs.
type Span struct {
	Text  string
	Style Style
	Value string
}

// Plain is text without a style.
func Plain(text string) []Span { return []Span{{Text: tie(text)}} }

// tie keeps the signs % and Ω on the line of their number.
func tie(text string) string {
	return strings.ReplaceAll(strings.ReplaceAll(text, " %", "\u00a0%"), " Ω", "\u00a0Ω")
}

// Rich reads the light marks of running text: *letter* is a quantity, **text**
// strong. A backslash makes a star stand for itself.
func Rich(text string) []Span {
	var out []Span
	var b strings.Builder
	text = tie(text)
	style := Style(0)
	end := func() {
		if b.Len() > 0 {
			out = append(out, Span{Text: b.String(), Style: style})
			b.Reset()
		}
	}
	for i := 0; i < len(text); i++ {
		switch {
		case text[i] == '\\' && i+1 < len(text) && text[i+1] == '*':
			b.WriteByte('*')
			i++
		case strings.HasPrefix(text[i:], "**"):
			end()
			style ^= Strong
			i++
		case text[i] == '*':
			end()
			style ^= Variable
		default:
			b.WriteByte(text[i])
		}
	}
	end()
	return out
}

// Said is text as a person typed it.
func Said(text string) []Span { return []Span{{Text: text, Style: Typed}} }

// Join puts spans one after the other.
func Join(parts ...[]Span) []Span {
	var out []Span
	for _, p := range parts {
		out = append(out, p...)
	}
	return out
}

// Text is what spans say, without style.
func Text(spans []Span) string {
	var b strings.Builder
	for _, s := range spans {
		b.WriteString(s.Text)
	}
	return b.String()
}

// level is where a piece of text stands to its line.
type level int

const (
	onLine level = iota
	below        // a subscript
	above        // a superscript
)

// piece is text at one level.
type piece struct {
	text string
	at   level
}

const (
	subscripts   = "₀₁₂₃₄₅₆₇₈₉"
	superscripts = "⁰¹²³⁴⁵⁶⁷⁸⁹"
)

// pieces parts a text into what stands on its line and what stands below or
// above it: Unicode's sub- and superscript digits, and in a variable what
// follows an underscore. Fonts often lack the signs themselves.
func pieces(text string, variable bool) []piece {
	var out []piece
	add := func(s string, at level) {
		if n := len(out); n > 0 && out[n-1].at == at {
			out[n-1].text += s
			return
		}
		out = append(out, piece{s, at})
	}
	if variable {
		if base, sub, ok := strings.Cut(text, "_"); ok && base != "" && sub != "" {
			add(base, onLine)
			add(sub, below)
			return out
		}
	}
	for _, r := range text {
		switch i, j := digit(subscripts, r), digit(superscripts, r); {
		case i >= 0:
			add(string(rune('0'+i)), below)
		case j >= 0:
			add(string(rune('0'+j)), above)
		case r == '⁻':
			add("−", above)
		default:
			add(string(r), onLine)
		}
	}
	return out
}

// digit is the place of r in a row of ten digits, -1 if it is none of them.
func digit(row string, r rune) int {
	i := 0
	for _, d := range row {
		if d == r {
			return i
		}
		i++
	}
	return -1
}
