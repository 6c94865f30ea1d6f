package document

import (
	"strings"

	"example.org/halve/procedure/report/formula"
)

// box is a typeset formula or a part of one. Its parts are placed from its
// left end on its base line, upwards positive.
type box struct {
	width, above, below float64
	texts               []placedRun
	rules               []rule
}

type placedRun struct {
	x, y float64
	run  run
}

// rule is a line of a fraction or a root.
type rule struct{ x1, y1, x2, y2, thick float64 }

// put places b within a.
func (a *box) put(b box, x, y float64) {
	for _, t := range b.texts {
		a.texts = append(a.texts, placedRun{t.x + x, t.y + y, t.run})
	}
	for _, r := range b.rules {
		a.rules = append(a.rules, rule{r.x1 + x, r.y1 + y, r.x2 + x, r.y2 + y, r.thick})
	}
	a.width = max(a.width, x+b.width)
	a.above = max(a.above, b.above+y)
	a.below = max(a.below, b.below-y)
}

// Proportions of a formula to its size, by eye (common practice, no source).
const (
	axisHeight   = 0.26 // of a fraction's line above the base line
	fractionGap  = 0.16
	ruleThick    = 0.045
	thinSpace    = 0.17
	operatorGap  = 0.24
	factorGap    = 0.1
	leastSize    = 6.0 // points; smaller is not read
	ascent       = 0.72
	descent      = 0.22
	bracketReach = 1.1 // brackets higher than this many sizes are drawn
)

// formula typesets a node at a size.
func (m *metrics) formula(n formula.Node, size float64) box {
	text := func(f face, s string) box {
		s = m.shown(f, s)
		r := run{text: s, face: f, size: size, ink: "ink", width: m.measure(f, size, s)}
		b := box{width: r.width, above: ascent * size, below: descent * size}
		if s != "" {
			b.texts = []placedRun{{0, 0, r}}
		}
		return b
	}
	switch n.Kind {
	case formula.Variable:
		base, primes := strings.TrimRight(n.Text, "′"), ""
		primes = n.Text[len(base):]
		b := text(serifItalic, base)
		if primes != "" {
			b.put(text(serif, primes), b.width+0.03*size, 0)
		}
		return b
	case formula.Word, formula.Number:
		return text(serif, n.Text)
	case formula.Operator:
		return text(serif, n.Text)
	case formula.Row:
		return m.row(n.Kids, size)
	case formula.Fence:
		inner := m.row(n.Kids, size)
		var b box
		if inner.above+inner.below <= bracketReach*size {
			left := text(serif, "(")
			b.put(left, 0, 0)
			b.put(inner, b.width, 0)
			b.put(text(serif, ")"), b.width, 0)
			return b
		}
		reach := 0.22 * size
		b.put(inner, reach+0.04*size, 0)
		high, low := inner.above, -inner.below
		middle := (high + low) / 2
		t := ruleThick * size
		end := b.width + 0.04*size
		for _, s := range []struct{ at, lean float64 }{{0, 1}, {end + reach, -1}} {
			x1, x0 := s.at+s.lean*reach, s.at+s.lean*0.06*size
			b.rules = append(b.rules,
				rule{x1, high, x0, middle + 0.3*(high-middle), t}, rule{x0, middle + 0.3*(high-middle), x0, middle - 0.3*(high-middle), t}, rule{x0, middle - 0.3*(high-middle), x1, low, t})
		}
		b.width = end + reach + 0.02*size
		return b
	case formula.Fraction:
		small := size
		over, under := m.formula(n.Kids[0], small), m.formula(n.Kids[1], small)
		w := max(over.width, under.width) + 0.3*size
		axis, gap := axisHeight*size, fractionGap*size
		var b box
		b.put(over, (w-over.width)/2, axis+gap+over.below)
		b.put(under, (w-under.width)/2, axis-gap-under.above)
		b.rules = append(b.rules, rule{0.06 * size, axis, w - 0.06*size, axis, ruleThick * size})
		b.width = w
		return b
	case formula.Root:
		inner := m.formula(n.Kids[0], size)
		lead, gap, t := 0.55*size, 0.14*size, ruleThick*size
		var b box
		b.put(inner, lead, 0)
		top := inner.above + gap
		b.rules = append(b.rules,
			rule{0.05 * size, 0.2 * size, 0.18 * size, 0.28 * size, t}, rule{0.18 * size, 0.28 * size, 0.32 * size, -inner.below, 2 * t},
			rule{0.32 * size, -inner.below, lead - 0.05*size, top, t}, rule{lead - 0.05*size, top, b.width, top, t})
		b.above = top + t
		return b
	case formula.Script:
		b := m.formula(n.Kids[0], size)
		small := max(leastSize, scriptSize*size)
		at := b.width + 0.03*size
		b.put(m.formula(n.Kids[1], small), at, subRise*size)
		b.put(m.formula(n.Kids[2], small), at, max(superRise*size, b.above-0.45*size))
		return b
	}
	return box{}
}

// row sets nodes side by side, with the spaces that their kinds ask for.
func (m *metrics) row(kids []formula.Node, size float64) box {
	var b box
	for i, k := range kids {
		inner := m.formula(k, size)
		gap := 0.0
		switch {
		case k.Kind == formula.Operator && inner.width == 0: // the unseen sign between factors
			gap = factorGap * size
		case k.Kind == formula.Operator && k.Text == ",":
		case k.Kind == formula.Operator && i > 0,
			i > 1 && kids[i-1].Kind == formula.Operator && kids[i-1].Text != "\u2062",
			i == 1 && kids[0].Kind == formula.Operator && strings.Contains("=≈", kids[0].Text):
			gap = operatorGap * size
		case i > 0 && k.Kind == formula.Word:
			gap = thinSpace * size
		}
		if i > 0 && kids[i-1].Kind == formula.Operator && kids[i-1].Text == "," {
			gap = size
		}
		b.put(inner, b.width+gap, 0)
	}
	return b
}
