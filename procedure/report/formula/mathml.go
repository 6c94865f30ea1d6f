package formula

import (
	"html"
	"slices"
	"strings"
)

// MathML writes a formula as presentation MathML, an element that stands
// inline, or in a block of its own.
func (n Node) MathML(block bool) string {
	var b strings.Builder
	b.WriteString(`<math`)
	if block {
		b.WriteString(` display="block"`)
	}
	b.WriteString(`>`)
	n.mathml(&b)
	b.WriteString(`</math>`)
	return b.String()
}

func (n Node) mathml(b *strings.Builder) {
	kids := func(element string, of ...Node) {
		b.WriteString("<" + element + ">")
		for _, k := range of {
			k.mathml(b)
		}
		b.WriteString("</" + element + ">")
	}
	leaf := func(element, attributes string) {
		b.WriteString("<" + element + attributes + ">" + html.EscapeString(n.Text) + "</" + element + ">")
	}
	switch n.Kind {
	case Row:
		b.WriteString("<mrow>")
		for i, k := range n.Kids {
			if i > 0 && k.Kind == Word && n.Kids[i-1].Kind != Operator {
				b.WriteString(`<mspace width="0.17em"></mspace>`)
			}
			if k.Kind == Operator && k.Text == times && blankBetween(n.Kids, i) {
				b.WriteString(`<mspace width="0.17em"></mspace>`)
				continue
			}
			if i == 0 && k.relation() { // it goes on from the line before
				b.WriteString(`<mo form="infix">` + html.EscapeString(k.Text) + "</mo>")
				continue
			}
			k.mathml(b)
			if k.Kind == Operator && k.Text == "," && i+1 < len(n.Kids) { // another formula follows
				b.WriteString(`<mspace width="1.5em"></mspace>`)
			}
		}
		b.WriteString("</mrow>")
	case Variable:
		leaf("mi", "")
	case Word:
		leaf("mi", ` mathvariant="normal"`)
	case Number:
		leaf("mn", "")
	case Operator:
		leaf("mo", "")
	case Fence:
		// Without a mathematical font brackets grow more than they should.
		open, close := "<mo>(</mo>", "<mo>)</mo>"
		if !n.tall() {
			open, close = `<mo stretchy="false">(</mo>`, `<mo stretchy="false">)</mo>`
		}
		b.WriteString("<mrow>" + open)
		for _, k := range n.Kids {
			k.mathml(b)
		}
		b.WriteString(close + "</mrow>")
	case Fraction:
		kids("mfrac", n.Kids...)
	case Root:
		kids("msqrt", n.Kids...)
	case Script:
		switch {
		case n.Kids[2].empty():
			kids("msub", n.Kids[0], n.Kids[1])
		case n.Kids[1].empty():
			kids("msup", n.Kids[0], n.Kids[2])
		default:
			kids("msubsup", n.Kids...)
		}
	}
}

// tall reports whether a node is higher than a line.
func (n Node) tall() bool {
	return n.Kind == Fraction || n.Kind == Root || slices.ContainsFunc(n.Kids, Node.tall)
}

// relation reports whether a node is a sign between two sides.
func (n Node) relation() bool { return n.Kind == Operator && strings.Contains("=≈<>≤≥", n.Text) }

// blankBetween reports whether factors at both sides of the unseen sign at i
// need a thin space to be told apart: anything but a bracket does.
func blankBetween(kids []Node, i int) bool {
	return i > 0 && i+1 < len(kids) && (kids[i-1].Kind == Fraction || kids[i+1].Kind == Fraction || kids[i-1].Kind == Word)
}
