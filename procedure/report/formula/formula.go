// Package formula reads formulas in the linear notation of the notes and the
// report, which can be read as it stands, and typesets them.
//
// The notation, in brief:
//
//	E / (k (R′ + G))   a slash between blanks has all of its term above and
//	                   below it; brackets that only hold those together go
//	θ₂/θ₁              a slash without blanks joins what it touches
//	I_g, θ₁, k², 10⁻⁵  subscripts by _ or by sign, superscripts by sign
//	√(a + b)           the root of what is in brackets
//	3150 Ω, 24 div     a unit after a number is upright; so is a word
//
// Factors stand side by side with a blank between them. Everything else stands
// for itself, so that every text is a formula: there is nothing to refuse.
package formula

import (
	"slices"
	"strings"
	"unicode"
)

// Kind is what a node of a formula is.
type Kind int

// The kinds of node.
const (
	Row      Kind = iota // Kids side by side
	Variable             // one letter, with its primes: italic
	Word                 // a unit or a word: upright
	Number               //
	Operator             // a sign between or before others
	Fence                // Kids in brackets
	Fraction             // Kids[0] over Kids[1]
	Script               // Kids[0] with a subscript Kids[1] and a superscript Kids[2]; either may be empty
	Root                 // the root of Kids[0]
)

// A Node is a formula or a part of one.
type Node struct {
	Kind Kind
	Text string // of a leaf
	Kids []Node
}

// empty reports whether nothing is to be seen of a node.
func (n Node) empty() bool { return n.Kind == Row && len(n.Kids) == 0 }

// units are the words that stand upright after a number, although some are
// letters that stand for a quantity elsewhere.
var units = []string{"V", "A", "Ω", "W", "K", "mV", "mA", "µA", "nA", "mΩ", "kΩ", "mW", "div", "°C", "s", "min"}

const (
	subDigits = "₀₁₂₃₄₅₆₇₈₉"
	supDigits = "⁰¹²³⁴⁵⁶⁷⁸⁹"
	supMinus  = '⁻'
	minus     = "−"
	// times is the sign that stands, unseen, between factors.
	times = "\u2062"
)

// Parse reads one formula.
func Parse(text string) Node {
	p := parser{in: []rune(text)}
	return p.row(0)
}

// depth bounds how deep brackets are followed: the notes need four.
const depth = 40

type parser struct {
	in []rune
	at int
}

func (p *parser) peek(ahead int) rune {
	if p.at+ahead >= len(p.in) {
		return 0
	}
	return p.in[p.at+ahead]
}

// blanks passes over blanks and says whether there were any.
func (p *parser) blanks() bool {
	was := p.at
	for p.at < len(p.in) && unicode.IsSpace(p.in[p.at]) {
		p.at++
	}
	return p.at > was
}

// isFactorSign reports whether a sign stays within a term.
func isFactorSign(r rune) bool { return r == '×' || r == '·' }

// row reads terms and the signs between them up to a closing bracket.
func (p *parser) row(level int) Node {
	var kids []Node
	for {
		p.blanks()
		r := p.peek(0)
		if r == 0 || r == ')' && level > 0 {
			break
		}
		if startsAtom(r, level) {
			kids = append(kids, p.term(level))
			continue
		}
		p.at++
		text := string(r)
		if r == '-' {
			text = minus
		}
		kids = append(kids, Node{Kind: Operator, Text: text})
	}
	if len(kids) == 1 {
		return kids[0]
	}
	return Node{Kind: Row, Kids: kids}
}

// startsAtom reports whether a factor can begin with r.
func startsAtom(r rune, level int) bool {
	return unicode.IsLetter(r) || unicode.IsDigit(r) || strings.ContainsRune("½¼¾∞√%°∂Δ", r) || r == '(' && level < depth
}

// term reads factors and the slash that may part them.
func (p *parser) term(level int) Node {
	above := p.product(level)
	for p.peek(0) == '/' { // product stops before a slash between blanks
		p.at++
		p.blanks()
		if !startsAtom(p.peek(0), level) {
			return Node{Kind: Row, Kids: []Node{above, {Kind: Operator, Text: "/"}}}
		}
		above = Node{Kind: Fraction, Kids: []Node{bare(above), bare(p.product(level))}}
	}
	return above
}

// bare takes away brackets that a fraction makes needless.
func bare(n Node) Node {
	if n.Kind == Fence && len(n.Kids) == 1 {
		return n.Kids[0]
	}
	return n
}

// product reads factors side by side. It ends before a slash that stands
// between blanks, with the blanks read.
func (p *parser) product(level int) Node {
	kids := []Node{p.factor(level, false)}
	for {
		was := p.at
		blank := p.blanks()
		r := p.peek(0)
		switch {
		case r == '/' && blank:
			return side(kids)
		case isFactorSign(r):
			p.at++
			p.blanks()
			if !startsAtom(p.peek(0), level) {
				p.at = was
				return side(kids)
			}
			kids = append(kids, Node{Kind: Operator, Text: string(r)})
			kids = append(kids, p.factor(level, false))
		case startsAtom(r, level):
			last := kids[len(kids)-1]
			next := p.factor(level, last.Kind == Number || last.Kind == Script && last.Kids[0].Kind == Number)
			if next.Kind != Word || last.Kind == Fence {
				kids = append(kids, Node{Kind: Operator, Text: times})
			}
			kids = append(kids, next)
		default:
			p.at = was
			return side(kids)
		}
	}
}

func side(kids []Node) Node {
	if len(kids) == 1 {
		return kids[0]
	}
	return Node{Kind: Row, Kids: kids}
}

// factor reads an atom with its scripts, and a slash that touches it.
func (p *parser) factor(level int, afterNumber bool) Node {
	n := p.scripted(level, afterNumber)
	for p.peek(0) == '/' && startsAtom(p.peek(1), level) {
		p.at++
		below := p.scripted(level, n.Kind == Word)
		if n.Kind == Word && below.Kind == Word {
			// A unit of two stays on its line: A/div.
			n = Node{Kind: Word, Text: n.Text + "/" + below.Text}
			continue
		}
		n = Node{Kind: Fraction, Kids: []Node{bare(n), bare(below)}}
	}
	if n.Kind == Fence && n.Kids[0].Kind == Fraction {
		return n.Kids[0] // its line holds it together
	}
	return n
}

// scripted reads an atom and the sub- and superscripts that follow it.
func (p *parser) scripted(level int, afterNumber bool) Node {
	base := p.atom(level, afterNumber)
	sub, sup := "", ""
	for {
		r := p.peek(0)
		if i := strings.IndexRune(subDigits, r); r != 0 && i >= 0 {
			sub += string(rune('0' + i/len("₀")))
			p.at++
			continue
		}
		if r == '_' && (unicode.IsLetter(p.peek(1)) || unicode.IsDigit(p.peek(1))) {
			p.at++
			sub += p.word()
			continue
		}
		if r == supMinus {
			sup += minus
			p.at++
			continue
		}
		if d, ok := superDigit(r); ok {
			sup += d
			p.at++
			continue
		}
		break
	}
	if sub == "" && sup == "" {
		return base
	}
	leaf := func(s string) Node {
		if s == "" {
			return Node{Kind: Row}
		}
		if strings.Trim(s, "0123456789−") == "" {
			return Node{Kind: Number, Text: s}
		}
		return Node{Kind: Word, Text: s}
	}
	return Node{Kind: Script, Kids: []Node{base, leaf(sub), leaf(sup)}}
}

// superDigit is the digit that a superscript sign stands for. The signs for 1,
// 2 and 3 are not with the others, and not as long.
func superDigit(r rune) (string, bool) {
	if i := slices.Index([]rune(supDigits), r); i >= 0 {
		return string(rune('0' + i)), true
	}
	return "", false
}

// atom reads a number, a word, a letter, a root or brackets.
func (p *parser) atom(level int, afterNumber bool) Node {
	r := p.peek(0)
	switch {
	case r == '(':
		p.at++
		inner := p.row(level + 1)
		if p.peek(0) == ')' {
			p.at++
		}
		return Node{Kind: Fence, Kids: []Node{inner}}
	case r == '√':
		p.at++
		p.blanks()
		if p.peek(0) != '(' || level >= depth {
			return Node{Kind: Operator, Text: "√"}
		}
		p.at++
		inner := p.row(level + 1)
		if p.peek(0) == ')' {
			p.at++
		}
		return Node{Kind: Root, Kids: []Node{inner}}
	case unicode.IsDigit(r):
		return Node{Kind: Number, Text: p.number()}
	case unicode.IsLetter(r) || r == '°':
		text := p.word()
		letters := []rune(strings.TrimRight(text, "′"))
		if len(letters) > 1 || r == 'Ω' || afterNumber && slices.Contains(units, text) {
			return Node{Kind: Word, Text: text}
		}
		return Node{Kind: Variable, Text: text}
	case r == '%':
		p.at++
		return Node{Kind: Word, Text: "%"}
	default: // ½ and the like
		p.at++
		return Node{Kind: Number, Text: string(r)}
	}
}

// number reads digits, parted in groups of three or not, and a decimal point.
func (p *parser) number() string {
	start := p.at
	for {
		r := p.peek(0)
		decimal := r == '.' && unicode.IsDigit(p.peek(1))
		group := r == '\u00a0' && unicode.IsDigit(p.peek(1))
		if !unicode.IsDigit(r) && !decimal && !group {
			return string(p.in[start:p.at])
		}
		p.at++
	}
}

// word reads letters and the primes after them.
func (p *parser) word() string {
	start := p.at
	for unicode.IsLetter(p.peek(0)) || p.peek(0) == '°' || unicode.IsDigit(p.peek(0)) && p.at > start {
		p.at++
	}
	for p.peek(0) == '′' {
		p.at++
	}
	return string(p.in[start:p.at])
}
