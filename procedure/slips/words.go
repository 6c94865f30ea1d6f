package slips

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"example.org/halve/physics/quantity"
)

// short rounds to so many figures, as a person does on the way.
func short(v float64, figures int) float64 {
	x, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', figures-1, 64), 64)
	if err != nil {
		return v
	}
	return x
}

// say writes a value to five figures, which is more than anyone puts in.
func say(v float64, unit quantity.Unit) string { return quantity.Style(0).Exact(short(v, 5), unit) }

func num(v float64) string    { return say(v, quantity.Number) }
func ohm(v float64) string    { return say(v, quantity.Ohm) }
func volt(v float64) string   { return say(v, quantity.Volt) }
func ampere(v float64) string { return num(v*1e6) + " µA" }

// div writes a deflection; one division is singular in words, not as a unit.
func div(v float64) string { return say(v, quantity.Division) }

// raised writes a power of ten's exponent.
func raised(n int) string {
	return strings.TrimPrefix(quantity.Powers.Format(math.Pow(10, float64(n)), quantity.Number, 1), "1 × 10")
}

// answer writes a value of the case to four figures.
func (c Case) answer(v float64) string { return c.figured(v, 4) }

// stated writes the student's value as finely as it was written.
func (c Case) stated() string { return c.figured(c.Stated.Value, c.Stated.Digits) }

// figured writes a value of the case to so many figures; k with a power of
// ten, as it is written by hand.
func (c Case) figured(v float64, figures int) string {
	figures = min(max(figures, 1), 15)
	if c.Quantity == Merit {
		return quantity.Powers.Format(v, quantity.AmperePerDivision, figures)
	}
	return quantity.Style(0).Exact(short(v, figures), quantity.Ohm)
}

// sayTooFine is the remark on a right value with too many figures.
func (c Case) sayTooFine() string {
	m := quantity.Measured{Value: c.Stated.Value, U: c.U, Unit: c.Quantity.unit()}
	return fmt.Sprintf("The value is right. Its standard uncertainty is %s, so its last figures say nothing: give it as %s.",
		quantity.Powers.Format(c.U, c.Quantity.unit(), 2), quantity.Powers.Measured(m))
}

// sayUnexplained gives the numbers on the way, for comparing; also says that
// others fit when they do.
func (c Case) sayUnexplained(ways []way, others bool) string {
	text := fmt.Sprintf("No slip known here gives %s.", c.stated())
	if others {
		text = "Or it is something else."
	}
	if c.Stated.Value == 0 {
		text = "A zero has no figure that could be compared: write the value out, with its power of ten."
	}
	off := c.Stated.Value/c.Expected - 1
	switch near := c.nearest(ways); {
	case math.Abs(off) < 0.02:
		text += fmt.Sprintf(" It is only %s %% off: the method is right, and a number was rounded on the way or read a little differently.", num(short(100*math.Abs(off), 2)))
	case near != nil && !others:
		text += fmt.Sprintf(" The nearest is %s, which gives %s.", near.doing, c.answer(near.value))
	}
	return text + " Compare your lines with these: " + c.lines()
}

// nearest is the formula slip that comes nearest to the stated value, nil
// where none comes near.
func (c Case) nearest(ways []way) *way {
	var best *way
	// It must be much nearer than the right value is.
	least := min(nearness, math.Abs(c.Stated.Value/c.Expected-1)/3)
	for i, w := range ways {
		if d := math.Abs(c.Stated.Value/w.value - 1); w.formula && d < least {
			best, least = &ways[i], d
		}
	}
	return best
}

// lines are the numbers on the way to the right value.
func (c Case) lines() string {
	if c.At == Mean {
		return c.meanLines()
	}
	r := c.Rows[c.At]
	g, k := c.solve(r)
	name, R := "R", r.Series
	if c.withSource() {
		name, R = "(R + r)", r.Series+c.SourceResistance
	}
	a, θ := r.First, r.Shunted
	loop := R + g
	var parts []string
	if c.Quantity == Resistance {
		S, s := r.Shunt, "S"
		if θ != a/2 {
			S, s = S*(a-θ)/θ, "P"
			parts = append(parts, fmt.Sprintf("P = S·(θ1 − θ2)/θ2 = %s", ohm(S)))
		}
		parts = append(parts,
			fmt.Sprintf("%s·%s = %s × %s = %s Ω²", name, s, num(R), num(S), num(R*S)),
			fmt.Sprintf("%s − %s = %s", name, s, ohm(R-S)),
			fmt.Sprintf("G = %s·%s/(%s − %s) = %s", name, s, name, s, c.answer(g)))
	}
	parts = append(parts, fmt.Sprintf("%s + G = %s", name, ohm(loop)), fmt.Sprintf("(%s + G)·θ1 = %s × %s = %s Ω·div", strings.Trim(name, "()"), num(loop), num(a), num(loop*a)))
	if c.Quantity == Merit {
		parts = append(parts, fmt.Sprintf("k = E/((%s + G)·θ1) = %s/%s = %s", strings.Trim(name, "()"), num(c.EMF), num(loop*a), c.answer(k)))
	}
	return strings.Join(parts, "; ") + "."
}

// meanLines are the values of the rows and what they come to. (R + G)·θ1 is
// E/k and the same in all rows; where it is not, that is said.
func (c Case) meanLines() string {
	const most = 8
	var parts []string
	sum, lo, hi := 0.0, math.Inf(1), math.Inf(-1)
	var first, last Row
	coarse := 0.0
	for i, v := range c.values() {
		r := c.Rows[i]
		sum += v
		if i < most {
			parts = append(parts, fmt.Sprintf("row %d %s", r.Number, c.answer(v)))
		}
		g, _ := c.solve(r)
		x := (r.Series + c.SourceResistance + g) * r.First
		if x < lo {
			lo, first = x, r
		}
		if x > hi {
			hi, last = x, r
		}
		coarse = max(coarse, c.Step/r.First)
	}
	text := strings.Join(parts, ", ")
	if len(c.Rows) > most {
		text += " and so on"
	}
	text += fmt.Sprintf("; their sum is %s, divided by %d: %s.", num(sum), len(c.Rows), c.answer(c.Expected))
	if hi > lo*(1.02+2*coarse) {
		text += fmt.Sprintf(" The rows do not agree with each other: (R + G)·θ1 should be the same in all, but it is %s Ω·div in row %d and %s Ω·div in row %d.",
			num(lo), first.Number, num(hi), last.Number)
	}
	return text
}

// say tells the explanation at place i: what was done, with the numbers, and
// what puts it right. The searches through rows and digits, which meet many
// values by chance, are worded as questions. The first two are told apart
// where both are likely.
func (c Case) say(gs []group, i int) string {
	g := gs[i]
	w := g.ways[0]
	text, end := fmt.Sprintf("Your %s is what comes of %s", c.stated(), w.doing), "."
	if g.id == WrongRow || g.id == DigitsExchanged {
		text, end = fmt.Sprintf("Could your %s have come of %s", c.stated(), w.doing), "?"
	}
	switch value := c.answer(w.value); {
	case w.calc != "":
		text += fmt.Sprintf(": %s = %s%s", w.calc, value, end)
	case value != c.answer(c.Stated.Value):
		text += fmt.Sprintf("%s That gives %s.", end, value)
	default:
		text += end
	}
	if len(g.ways) > 1 && g.ways[1].p > w.p/2 && g.ways[1].doing != w.doing {
		text += fmt.Sprintf(" Or of %s.", g.ways[1].doing)
	}
	if other := 1 - i; i < 2 && other < len(gs) && gs[1].p >= rival {
		text += fmt.Sprintf(" So does %s; which of the two was it?", gs[other].ways[0].doing)
	}
	return text + " " + of(g.id).mend
}
