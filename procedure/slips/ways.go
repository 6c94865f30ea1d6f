package slips

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/halve/physics"
)

// A way is one way to make a slip: what it gives, and how it is told.
type way struct {
	id    string
	share float64 // of its kind's weight, relative to the kind's other ways
	value float64 // NaN where it gives nothing
	doing string  // what was done, as in "adding R and S"
	calc  string  // the line of the calculation, "" where doing says it all
	prior float64
	// formula marks a slip in the formula itself: what goes with another slip.
	formula bool
}

type list []way

func (l *list) add(id string, share, value float64, calc, doing string, a ...any) {
	*l = append(*l, way{id: id, share: share, value: value, calc: calc, doing: fmt.Sprintf(doing, a...)})
}

// formulas marks everything added so far as a slip in the formula.
func (l list) formulas() {
	for i := range l {
		l[i].formula = true
	}
}

// base is the value that stands for R in the student's calculation: the
// series box, or with the source's resistance.
type base struct {
	name string
	ohm  float64
}

// withSource reports whether the source's resistance can be seen in any row.
func (c Case) withSource() bool {
	return slices.ContainsFunc(c.Rows, func(r Row) bool { return c.SourceResistance > shareR*r.Series })
}

// ways returns every way that there is, with its prior probability: the
// weight of its kind, shared out. What the right value's neighbourhood is, no
// slip can be told from, and is left out.
func (c Case) ways() []way {
	var l list
	if c.At == Mean {
		l = c.everyRow()
	} else {
		l = c.rowWays(c.Rows[c.At])
	}
	l = c.pairs(l)
	c.figures(&l)
	if c.At == Mean {
		c.means(&l)
	} else {
		c.otherRows(&l)
		c.exchanged(&l)
	}
	l = slices.DeleteFunc(l, func(w way) bool {
		return !finite(w.value) || w.value == 0 || math.Abs(w.value-c.Expected) < hidden*c.Expected
	})
	sums := map[string]float64{}
	for _, w := range l {
		sums[w.id] += w.share
	}
	for i, w := range l {
		l[i].prior = of(w.id).weight(c.Quantity) * w.share / sums[w.id]
	}
	return l
}

// rowWays are the slips in the formula for one row, always as many and in the
// same order.
func (c Case) rowWays(r Row) list {
	bases := []base{{"R", r.Series}}
	if c.withSource() {
		bases = append(bases, base{"(R + r)", r.Series + c.SourceResistance})
	}
	var l list
	for _, b := range bases {
		if c.Quantity == Merit {
			c.meritWays(&l, r, b)
		} else {
			c.resistanceWays(&l, r, b)
		}
	}
	return l
}

// resistanceWays are the slips in G = R·S/(R − S), and in its general form
// for any ratio.
func (c Case) resistanceWays(l *list, r Row, b base) {
	R, S, a, θ := b.ohm, r.Shunt, r.First, r.Shunted
	ρ := θ / a
	p := S * (a - θ) / θ
	name := b.name
	l.add(SumForDifference, 1, R*S/(R+S), fmt.Sprintf("%s × %s/(%s + %s)", num(R), num(S), num(R), num(S)),
		"adding %s and S where their difference belongs", name)
	l.add(ShuntAlone, 1, S, "", "taking S = %s itself for G", ohm(S))
	if c.SourceResistance > 0 && name == "R" {
		l.add(ResistanceLeftOut, 1, general(R, S, ρ), "", "leaving out the source's own resistance r = %s", ohm(c.SourceResistance))
	}
	// At the half the formula is the right one.
	l.add(HalfFormulaUsed, visible(ρ, 0.5), R*S/(R-S), fmt.Sprintf("%s × %s/(%s − %s)", num(R), num(S), num(R), num(S)),
		"using the formula for an exact half, although %s is not the half of %s", div(θ), div(a))
	l.add(UpsideDown, 1, (R-S)/(R*S), fmt.Sprintf("%s/(%s × %s)", num(R-S), num(R), num(S)),
		"turning the fraction upside down, which gives 1/G")
	l.add(UpsideDown, 0.5, general(R, S, 1/ρ), "", "turning the ratio upside down, θ1/θ2 = %s instead of θ2/θ1 = %s", num(1/ρ), num(ρ))
	l.add(UpsideDown, 0.3, -general(R, S, 1/ρ), "", "turning the ratio upside down, θ1/θ2 = %s instead of θ2/θ1 = %s, and dropping the sign", num(1/ρ), num(ρ))
	l.add(FactorLeftOut, 1, R-S, fmt.Sprintf("%s − %s", num(R), num(S)), "stopping at %s − S", name)
	l.add(FactorLeftOut, 1, R*S, fmt.Sprintf("%s × %s", num(R), num(S)), "stopping at %s·S, not divided by %s − S", name, name)
	l.add(FactorLeftOut, 0.7, R/(R-S), fmt.Sprintf("%s/(%s − %s)", num(R), num(R), num(S)), "leaving the factor S out")
	l.add(FactorLeftOut, 0.7, S/(R-S), fmt.Sprintf("%s/(%s − %s)", num(S), num(R), num(S)), "leaving the factor %s out", name)
	l.add(FactorLeftOut, 0.5, S*S/(R-S), fmt.Sprintf("%s²/(%s − %s)", num(S), num(R), num(S)), "leaving the factor %s out and putting S in its place", name)
	l.add(FactorLeftOut, 0.5, R*R/(R-S), fmt.Sprintf("%s²/(%s − %s)", num(R), num(R), num(S)), "leaving the factor S out and putting %s in its place", name)
	l.add(FactorLeftOut, 0.2, R, "", "giving %s itself", name)
	// At the half P is S, and this is S alone.
	l.add(FactorLeftOut, 0.7*visible(p, S), p, fmt.Sprintf("%s × (%s − %s)/%s", num(S), num(a), num(θ), num(θ)),
		"stopping at S·(θ1 − θ2)/θ2, which is %s and G in parallel", name)
	l.add(SumForDifference, 0.3*visible(ρ, 0.5), R*S*(1-ρ)/(ρ*(R+S)+S), "", "adding the last S in θ2/θ1·(%s + S) − S where it is to be taken off", name)
	l.add(SignTurned, 1, R*S/(S-R), fmt.Sprintf("%s × %s/(%s − %s)", num(R), num(S), num(S), num(R)), "taking S − %s for %s − S", name, name)
	l.add(SignTurned, 0.5*visible(ρ, 0.5), -general(R, S, ρ), "", "turning the sign of the last line")
	l.formulas()
	l.add(PrefixSlip, 1, R/1000*S/(R/1000-S), fmt.Sprintf("%s × %s/(%s − %s)", num(R/1000), num(S), num(R/1000), num(S)),
		"putting in %s = %s kΩ beside S in ohm", name, num(R/1000))
	l.add(PrefixSlip, 0.3, R*S/1000/(R-S/1000), fmt.Sprintf("%s × %s/(%s − %s)", num(R), num(S/1000), num(R), num(S/1000)),
		"putting in S = %s kΩ beside %s in ohm", num(S/1000), name)
	// In the general form P stands for S; at the half they are the same.
	letter := "P"
	if visible(ρ, 0.5) == 0 {
		letter = "S"
	}
	for i, share := range roundings {
		n := i + 1
		q := short(p/(R-p), n)
		l.add(RoundedEarly, share, R*q, fmt.Sprintf("%s × %s", num(R), num(q)), "rounding %s/(%s − %s) = %s to %s on the way", letter, name, letter, num(p/(R-p)), num(q))
		q = short(R*p, n)
		l.add(RoundedEarly, 0.5*share, q/(R-p), fmt.Sprintf("%s/%s", num(q), num(R-p)), "rounding %s·%s = %s to %s on the way", name, letter, num(R*p), num(q))
		q = short(R-p, n)
		l.add(RoundedEarly, 0.5*share, R*p/q, fmt.Sprintf("%s/%s", num(R*p), num(q)), "rounding %s − %s = %s to %s on the way", name, letter, num(R-p), num(q))
		q = short(ρ, n)
		l.add(RoundedEarly, share, general(R, S, q), "", "rounding the ratio θ2/θ1 = %s to %s on the way", num(ρ), num(q))
		q = short(p, n)
		l.add(RoundedEarly, 0.5*share, R*q/(R-q), fmt.Sprintf("%s × %s/(%s − %s)", num(R), num(q), num(R), num(q)), "rounding %s = %s to %s on the way", letter, ohm(p), num(q))
	}
}

// roundings are the shares of rounding to one figure on the way, and to two.
var roundings = [...]float64{0.3, 1}

// general is G for any ratio, without a check: a slip may give what cannot be.
func general(R, S, ρ float64) float64 { return R * S * (1 - ρ) / (ρ*(R+S) - S) }

// visible is 1 where two numbers differ by more than a thousandth, else 0.
func visible(a, b float64) float64 {
	if math.Abs(a-b) > hidden*math.Abs(b) {
		return 1
	}
	return 0
}

// meritWays are the slips in k = E/((R + G)·θ1).
func (c Case) meritWays(l *list, r Row, b base) {
	g, _ := c.solve(r)
	E, R, S, a, θ := c.EMF, b.ohm, r.Shunt, r.First, r.Shunted
	loop := R + g
	name := strings.Trim(b.name, "()")
	parallel := g * S / (g + S)
	e := func(below string, a ...any) string { return num(E) + "/" + fmt.Sprintf(below, a...) }
	l.add(HalfDeflectionUsed, 1, E/(loop*θ), e("(%s × %s)", num(loop), num(θ)), "dividing by the shunted deflection, %s, instead of the first, %s", div(θ), div(a))
	l.add(HalfDeflectionUsed, 0.5*visible(θ, a/2), 2*E/(loop*a), e("(%s × %s)", num(loop), num(a/2)), "dividing by θ1/2 = %s instead of the first deflection, %s", div(a/2), div(a))
	l.add(HalfDeflectionUsed, 0.2, E/(loop*(a+θ)), e("(%s × %s)", num(loop), num(a+θ)), "dividing by both deflections together, θ1 + θ2 = %s, instead of the first, %s", div(a+θ), div(a))
	l.add(ResistanceLeftOut, 1, E/(R*a), e("(%s × %s)", num(R), num(a)), "leaving G = %s out of %s + G", ohm(g), name)
	if c.SourceResistance > 0 && name == "R" {
		l.add(ResistanceLeftOut, 0.3, E/(loop*a), e("(%s × %s)", num(loop), num(a)), "leaving out the source's own resistance r = %s", ohm(c.SourceResistance))
	}
	l.add(ShuntAlone, 1, E/((R+S)*a), e("(%s × %s)", num(R+S), num(a)), "putting S = %s for G", ohm(S))
	l.add(SignTurned, 1, E/((R-g)*a), e("(%s × %s)", num(R-g), num(a)), "taking %s − G for %s + G", name, name)
	l.add(FullScaleForDivision, 1, E/loop, e("%s", num(loop)), "stopping at the current of the first deflection, not divided by θ1 = %s", div(a))
	if n := c.Divisions; n > 0 {
		l.add(FullScaleForDivision, 1, n*E/(loop*a), fmt.Sprintf("%s × %s", num(n), num(E/(loop*a))), "giving the full-scale current, for %s", div(n))
		l.add(FullScaleForDivision, 0.5*visible(n, a), E/(loop*n), e("(%s × %s)", num(loop), num(n)), "dividing by the whole scale, %s, instead of θ1 = %s", div(n), div(a))
	}
	l.add(DeflectionTwice, 1, E*a/loop, fmt.Sprintf("%s × %s/%s", num(E), num(a), num(loop)), "multiplying by θ1 = %s instead of dividing", div(a))
	l.add(DeflectionTwice, 0.1, E*θ/loop, fmt.Sprintf("%s × %s/%s", num(E), num(θ), num(loop)), "multiplying by θ2 = %s instead of dividing by θ1", div(θ))
	l.add(Inverse, 1, loop*a/E, fmt.Sprintf("%s × %s/%s", num(loop), num(a), num(E)), "turning it over, which gives divisions per ampere")
	l.add(UpsideDown, 1, loop/(E*a), fmt.Sprintf("%s/(%s × %s)", num(loop), num(E), num(a)), "turning E/(%s + G) upside down", name)
	l.add(FactorLeftOut, 1, 1/(loop*a), "1/"+fmt.Sprintf("(%s × %s)", num(loop), num(a)), "leaving E = %s out", volt(E))
	l.add(FactorLeftOut, 0.5, E/(g*a), e("(%s × %s)", num(g), num(a)), "leaving %s out of %s + G", name, name)
	l.add(FactorLeftOut, 0.5, E/R+g, fmt.Sprintf("%s/%s + %s", num(E), num(R), num(g)), "leaving the brackets round %s + G out", name)
	l.add(FactorLeftOut, 0.4, E/R+g*a, fmt.Sprintf("%s/%s + %s × %s", num(E), num(R), num(g), num(a)), "leaving the brackets round %s + G out", name)
	l.add(FactorLeftOut, 0.4, E/(R+g*a), e("(%s + %s × %s)", num(R), num(g), num(a)), "multiplying only G by θ1, not %s + G", name)
	l.add(FactorLeftOut, 0.2, E/a, e("%s", num(a)), "leaving the resistance %s + G out", name)
	l.add(ShuntedLoop, 1, E/((R+parallel)*a), e("(%s × %s)", num(R+parallel), num(a)), "putting the loop with the shunt in, %s + %s, beside the first deflection", num(R), ohm(parallel))
	l.add(ShuntedLoop, 0.5, E/((R+parallel)*θ), e("(%s × %s)", num(R+parallel), num(θ)), "taking the whole current of the loop with the shunt in, of which only a part goes through the movement, for the %s of the shunted deflection", div(θ))
	l.formulas()
	for i, own := range c.OwnResistance {
		l.add(FollowsFromOwn, 1/float64(i+1), E/((R+own)*a), e("((%s + %s) × %s)", num(R), num(own), num(a)), "putting in your own G = %s", ohm(own))
	}
	// Two slips in one line, of those that are common.
	l.add(HalfDeflectionUsed, 0.2, E/(R*θ), e("(%s × %s)", num(R), num(θ)), "leaving out G and dividing by the shunted deflection, %s, instead of the first, %s", div(θ), div(a))
	l.add(HalfDeflectionUsed, 0.1, E*θ/loop, fmt.Sprintf("%s × %s/%s", num(E), num(θ), num(loop)), "multiplying by the shunted deflection, %s, instead of dividing by the first", div(θ))
	for _, u := range []struct {
		name  string
		times float64
	}{{"milliampere", 1e3}, {"microampere", 1e6}} {
		l.add(FullScaleForDivision, 0.2, u.times*E/loop, "", "stopping at the current of the first deflection in %s, neither divided by θ1 = %s nor written in ampere", u.name, div(a))
	}
	l.add(Inverse, 0.2, loop*θ/E, fmt.Sprintf("%s × %s/%s", num(loop), num(θ), num(E)), "turning it over, which gives divisions per ampere, and with the shunted deflection, %s", div(θ))
	l.add(ResistanceLeftOut, 0.1, E/R, e("%s", num(R)), "leaving G out, and stopping at the current, not divided by θ1 = %s", div(a))
	l.add(ResistanceLeftOut, 0.1, R*a/E, fmt.Sprintf("%s × %s/%s", num(R), num(a), num(E)), "leaving G out and turning it over, which gives divisions per ampere")
	for i, share := range roundings {
		n := i + 1
		q := short(E/loop, n)
		l.add(RoundedEarly, share, q/a, fmt.Sprintf("%s/%s", num(q), num(a)), "rounding the current E/(%s + G) = %s to %s on the way", name, ampere(E/loop), ampere(q))
		d := short(loop, n)
		l.add(RoundedEarly, 0.5*share, E/(d*a), e("(%s × %s)", num(d), num(a)), "rounding %s + G = %s to %s on the way", name, ohm(loop), ohm(d))
		d = short(loop*a, n)
		l.add(RoundedEarly, 0.5*share, E/d, e("%s", num(d)), "rounding (%s + G)·θ1 = %s to %s on the way", name, num(loop*a), num(d))
	}
}

// pairs adds the slips in the formula together with a wrong power of ten.
func (c Case) pairs(l list) list {
	powers := []int{-3, -1, 1, 3}
	if c.Quantity == Merit {
		powers = []int{-6, -3, -1, 1, 3, 6}
	}
	for _, w := range l {
		if !w.formula || math.Abs(w.value-c.Expected) < Slack*c.Expected {
			continue // with what cannot be seen it is a wrong power of ten alone
		}
		for _, n := range powers {
			p := w
			p.share, p.value, p.formula = w.share*0.06, w.value*math.Pow(10, float64(n)), false
			p.doing += ", and with the decimal point " + places(n)
			l = append(l, p)
		}
	}
	return l
}

// places says where a decimal point went.
func places(n int) string {
	side := "right"
	if n < 0 {
		side, n = "left", -n
	}
	if n == 1 {
		return "one place too far to the " + side
	}
	return fmt.Sprintf("%d places too far to the %s", n, side)
}

// figures adds what goes wrong with the right value itself: its power of ten,
// a factor of two, its own figures.
func (c Case) figures(l *list) {
	v, unit := c.Expected, "Ω"
	times := func(n int) float64 { return v * math.Pow(10, float64(n)) }
	decimal := map[int]float64{1: 1, 2: 0.5, 3: 0.4}
	prefix := map[int]float64{3: 0.2, 6: 0.1}
	if c.Quantity == Merit {
		unit = "A/div"
		decimal = map[int]float64{1: 1, 2: 0.5, 3: 0.1, 4: 0.2, 5: 0.3, 6: 0.1, 7: 0.1}
		prefix = map[int]float64{3: 1, 6: 1, 9: 0.2}
	}
	for n := 1; n <= 9; n++ {
		for _, m := range []int{n, -n} {
			if s := decimal[n]; s > 0 {
				l.add(DecimalSlip, s, times(m), "", "a decimal point %s; the figures are right", places(m))
			}
			if s := prefix[n]; s > 0 {
				l.add(PrefixSlip, s, times(m), "", "a prefix (kilo, milli or micro) dropped or doubled, in a quantity put in or in the answer, which is in %s; the figures are right", unit)
			}
		}
	}
	if lead := int(math.Floor(math.Log10(v))); lead != 0 {
		l.add(ExponentSign, 1, times(-2*lead), "", "turning the sign of the power of ten, 10%s for 10%s", raised(-lead), raised(lead))
		if three := lead - ((lead%3)+3)%3; three != lead && three != 0 {
			l.add(ExponentSign, 1, times(-2*three), "", "turning the sign of the power of ten, 10%s for 10%s", raised(-three), raised(three))
		}
	}
	two := "a stray factor of two"
	if c.Quantity == Merit {
		l.add(DoubledOrHalved, 1, 2*v, "", "%s, such as counting two cells where there is one: 2E = %s for E = %s", two, volt(2*c.EMF), volt(c.EMF))
		l.add(DoubledOrHalved, 0.6, v/2, "", "%s, such as dividing by 2 once more", two)
	} else {
		l.add(DoubledOrHalved, 1, v/2, "", "%s: dividing by 2 once more", two)
		l.add(DoubledOrHalved, 1, 2*v, "", "%s: multiplying by 2", two)
	}
	if d := c.Stated.Digits; d > 0 && d < 17 && c.Stated.LastDigit > 0 {
		cut := math.Floor(v/c.Stated.LastDigit) * c.Stated.LastDigit
		l.add(RoundedEarly, 1, cut, "", "cutting %s off after its last figure where it should be rounded", c.figured(v, d+2))
		text := strings.ReplaceAll(strconv.FormatFloat(v, 'e', d-1, 64), ".", "")
		mantissa, power, _ := strings.Cut(text, "e")
		for _, m := range exchanges(mantissa) {
			got, err := strconv.ParseFloat(m[:1]+"."+m[1:]+"e"+power, 64)
			if err == nil {
				l.add(DigitsExchanged, 0.7, got, "", "copying %s as %s", c.figured(v, d), c.figured(got, d))
			}
		}
	}
}

// exchanges returns the number with each pair of unlike neighbouring digits
// exchanged in turn, also across the point.
func exchanges(digits string) []string {
	var all []string
	for i := 0; i+1 < len(digits) && i < 17; i++ {
		j := i + 1
		if digits[j] == '.' {
			j++
		}
		if j < len(digits) && digits[i] != '.' && digits[i] != digits[j] {
			b := []byte(digits)
			b[i], b[j] = b[j], b[i]
			all = append(all, string(b))
		}
	}
	return all
}

// otherRows adds what comes of a value read from the line of another row.
func (c Case) otherRows(l *list) {
	r := c.Rows[c.At]
	for j, o := range c.Rows {
		if j == c.At {
			continue
		}
		try := func(was Row, doing string, a ...any) {
			l.add(WrongRow, 1, c.value(was), "", doing, append(a, o.Number)...)
		}
		with := r
		with.Series = o.Series
		try(with, "taking R = %s from row %d", ohm(o.Series))
		with = r
		with.First = o.First
		try(with, "taking θ1 = %s from row %d", div(o.First))
		if c.Quantity == Resistance {
			with = r
			with.Shunt = o.Shunt
			try(with, "taking S = %s from row %d", ohm(o.Shunt))
			with = r
			with.Shunted = o.Shunted
			try(with, "taking θ2 = %s from row %d", div(o.Shunted))
		}
		try(o, "giving the value of row %d")
	}
}

// value is what the right formula gives with other numbers: of k, with the
// G that was found from the row as it stands.
func (c Case) value(r Row) float64 {
	if c.Quantity == Resistance {
		g, _ := c.solve(r)
		return g
	}
	if slices.Contains(c.Rows, r) {
		_, k := c.solve(r)
		return k
	}
	g, _ := c.solve(c.Rows[c.At])
	k, err := physics.Merit(c.EMF, r.Series+c.SourceResistance, g, r.First)
	if err != nil {
		return math.NaN()
	}
	return k
}

// exchanged adds what comes of a number put in with two neighbouring digits
// exchanged.
func (c Case) exchanged(l *list) {
	r := c.Rows[c.At]
	each := func(v float64, put func(float64), name string, show func(float64) string) {
		for _, text := range exchanges(strconv.FormatFloat(v, 'f', -1, 64)) {
			got, err := strconv.ParseFloat(text, 64)
			if err != nil || got <= 0 {
				continue
			}
			put(got)
			l.add(DigitsExchanged, 1, c.value(r), "", "putting in %s = %s with two figures exchanged, as %s", name, show(v), show(got))
		}
		put(v)
	}
	each(r.Series, func(v float64) { r.Series = v }, "R", ohm)
	each(r.First, func(v float64) { r.First = v }, "θ1", div)
	if c.Quantity == Resistance {
		each(r.Shunt, func(v float64) { r.Shunt = v }, "S", ohm)
		each(r.Shunted, func(v float64) { r.Shunted = v }, "θ2", div)
		return
	}
	each(c.EMF, func(v float64) { c.EMF = v }, "E", volt)
}

// everyRow is the mean of each formula slip made in all rows alike.
func (c Case) everyRow() list {
	var all list
	for i, r := range c.Rows {
		l := c.rowWays(r)
		if i == 0 {
			all = l
			continue
		}
		for j := range all {
			all[j].value += l[j].value
			all[j].share = max(all[j].share, l[j].share)
		}
	}
	for j := range all {
		all[j].value /= float64(len(c.Rows))
		if len(c.Rows) > 1 {
			all[j].doing += fmt.Sprintf(", in every row (the numbers are those of row %d)", c.Rows[0].Number)
		}
	}
	return all
}

// means adds the slips in taking a mean.
func (c Case) means(l *list) {
	vs := c.values()
	n := float64(len(vs))
	if n == 0 {
		return
	}
	sum, all := 0.0, []string{}
	for _, v := range vs {
		sum += v
		all = append(all, num(v))
	}
	if own := c.OwnRows; len(own) == len(vs) {
		total, theirs := 0.0, []string{}
		for i, v := range own {
			if math.IsNaN(v) {
				v = vs[i]
			}
			total += v
			theirs = append(theirs, num(v))
		}
		l.add(FollowsFromOwn, 1, total/n, "", "taking the mean of your own values of the rows, %s", strings.Join(theirs, ", "))
	}
	if n == 1 {
		return
	}
	line := fmt.Sprintf("(%s)", strings.Join(all, " + "))
	if len(all) > 6 {
		line = fmt.Sprintf("(%s + … + %s)", all[0], all[len(all)-1])
	}
	add := func(share, v float64, doing string, a ...any) { l.add(MeanSlip, share, v, "", doing, a...) }
	add(1, sum, "adding up %s without dividing by %d", line, len(vs))
	add(0.7, sum/(n-1), "dividing the sum %s by %d instead of %d", line, len(vs)-1, len(vs))
	add(0.4, sum/(n+1), "dividing the sum %s by %d instead of %d", line, len(vs)+1, len(vs))
	sorted := slices.Sorted(slices.Values(vs))
	middle := (sorted[(len(vs)-1)/2] + sorted[len(vs)/2]) / 2
	add(0.3, middle, "taking the middle value of %s", strings.Join(all, ", "))
	add(0.3, (sorted[0]+sorted[len(vs)-1])/2, "taking the middle between the least, %s, and the greatest, %s", num(sorted[0]), num(sorted[len(vs)-1]))
	if n > 2 {
		add(0.3, (vs[0]+vs[len(vs)-1])/2, "taking the mean of the first and the last row only, %s and %s", num(vs[0]), num(vs[len(vs)-1]))
	}
	for i, v := range vs {
		if n > 2 {
			add(1/n, (sum-v)/(n-1), "leaving out row %d, %s", c.Rows[i].Number, num(v))
		}
		add(0.5/n, (sum+v)/(n+1), "counting row %d, %s, twice", c.Rows[i].Number, num(v))
		add(0.5/n, v, "giving the value of row %d alone", c.Rows[i].Number)
		add(0.3/n, (sum-v)/n, "leaving out row %d, %s, and still dividing by %d", c.Rows[i].Number, num(v), len(vs))
	}
	var R, S, a, θ float64
	for _, r := range c.Rows {
		R, S, a, θ = R+r.Series/n, S+r.Shunt/n, a+r.First/n, θ+r.Shunted/n
	}
	m := Row{Series: R, Shunt: S, First: a, Shunted: θ}
	g, k := c.solve(m)
	if c.Quantity == Merit {
		g = k
	}
	add(0.5, g, "putting the means of R, S and θ into the formula instead of taking the mean of the values")
}
