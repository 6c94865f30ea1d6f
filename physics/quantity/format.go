package quantity

import (
	"math"
	"strconv"
	"strings"
)

// Style is how quantities are printed. The zero value prints SI prefixes and
// the signs of the trade: 18.8 µA/div, (90.5 ± 1.9) Ω. The constants are bits.
type Style uint8

const (
	// ASCII prints u for µ, ohm for Ω, degC for °C, +/- for ±, x 10^-5 for
	// × 10⁻⁵, a hyphen for the minus sign, and does not part groups of three.
	ASCII Style = 1 << iota
	// Powers prints powers of ten for SI prefixes: 1.88 × 10⁻⁵ A/div.
	Powers
)

// Unknown is printed for a value that is not known, not finite or not a
// number.
const Unknown = "unknown"

// group parts thousands: a no-break space, which every terminal font has.
const group = "\u00a0"

// Format prints v in the zero Style.
func Format(v float64, unit Unit, digits int) string { return Style(0).Format(v, unit, digits) }

// Format prints v, given in unit, with so many significant digits (1 to 17),
// rounded half to even on the shortest decimal that stands for v. Divisions,
// °C, % and plain numbers take no prefix; there, and beyond pico and tera,
// very large and very small values take a power of ten.
func (s Style) Format(v float64, unit Unit, digits int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return Unknown
	}
	d := decimalOf(v)
	last := d.lead - min(max(digits, 1), 17) + 1
	if rounded := d.round(last); rounded.lead > d.lead {
		last++ // 999.6 has become 1000
	}
	d = d.round(last)
	scale := s.scale(unit, d.lead)
	return d.fixed(scale, d.place, s) + s.tail(scale, unit)
}

// Exact prints every digit of v, given in unit, without a prefix and with
// thousands parted: 4 700 Ω. Below 10⁻³ and from 10¹⁵ on it takes a power of ten.
func (s Style) Exact(v float64, unit Unit) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return Unknown
	}
	d := decimalOf(v)
	scale := 0
	if d.lead < -3 || d.lead >= 15 {
		scale = d.lead
	}
	text := d.fixed(scale, min(d.last(), scale), s)
	if s&ASCII == 0 {
		text = parted(text)
	}
	return text + (s|Powers).tail(scale, unit)
}

// parted puts a space between groups of three before the decimal point.
func parted(text string) string {
	whole, fraction, found := strings.Cut(text, ".")
	sign := ""
	if rest, ok := strings.CutPrefix(whole, minus); ok {
		sign, whole = minus, rest
	}
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + group + whole[i:]
	}
	if found {
		whole += "." + fraction
	}
	return sign + whole
}

// String prints the statement of a result in powers of ten:
// (1.877 ± 0.015) × 10⁻⁵ A/div.
func (m Measured) String() string { return Powers.Measured(m) }

// Measured prints value and uncertainty, rounded as Rounded does, with their
// power of ten or prefix in common: (90.5 ± 1.9) Ω. Special cases are:
//
//	value not known:          unknown
//	uncertainty not known:    the value to 4 digits, and that it is not known
//	uncertainty zero, or less
//	than the value's 15th digit: the value alone, every digit
func (s Style) Measured(m Measured) string {
	if math.IsNaN(m.Value) || math.IsInf(m.Value, 0) {
		return Unknown
	}
	if math.IsNaN(m.U) || math.IsInf(m.U, 0) || m.U < 0 {
		return s.Format(m.Value, m.Unit, 4) + " (uncertainty unknown)"
	}
	value, u, ok := m.round()
	if !ok {
		return s.Exact(m.Value, m.Unit)
	}
	lead := u.lead
	if !value.zero() {
		lead = max(lead, value.lead)
	}
	scale := s.scale(m.Unit, lead)
	if u.place > scale {
		// Zeros that fill up to the point are no figures: 0.47 kΩ for 470 Ω.
		if table[m.Unit].prefixed && s&Powers == 0 && scale+3 <= maxPrefix {
			scale += 3
		} else {
			scale = lead
		}
	}
	sign := " ± "
	if s&ASCII != 0 {
		sign = " +/- "
	}
	text := value.fixed(scale, u.place, s) + sign + u.fixed(scale, u.place, s)
	if tail := s.tail(scale, m.Unit); tail != "" {
		return "(" + text + ")" + tail
	}
	return text
}

// Rounded returns the value and its uncertainty rounded together, and the
// number of decimals of both, which is negative where tens or more are
// rounded. The rule: the uncertainty has two significant figures where its
// first is 1 or 2, else one, and is raised where rounding down would take more
// than 5 % off it; the value stops at the same decimal place; ties go to the
// even digit. It follows JCGM 100:2008, 7.2.6, which leaves the threshold
// open; the figures are common practice.
//
// ok is false, and the numbers come back as they are, where the uncertainty is
// zero, negative, not known or less than the value's 15th digit, or the value
// is not known.
func (m Measured) Rounded() (value, u float64, decimals int, ok bool) {
	v, d, ok := m.round()
	if !ok {
		return m.Value, m.U, 0, false
	}
	return v.float(), d.float(), -d.place, true
}

// round is Rounded in decimal digits.
func (m Measured) round() (value, u decimal, ok bool) {
	switch {
	case math.IsNaN(m.Value), math.IsInf(m.Value, 0), math.IsNaN(m.U), math.IsInf(m.U, 0),
		m.U <= 0, m.U < math.Abs(m.Value)*1e-15:
		return decimal{}, decimal{}, false
	}
	exact := decimalOf(m.U)
	place := exact.lead
	if exact.digits[0] == '1' || exact.digits[0] == '2' {
		place--
	}
	u = exact.round(place)
	// Compared in the uncertainty's own magnitude, where it cannot underflow.
	kept := decimal{digits: u.digits, lead: u.lead - exact.lead}.float()
	whole := decimal{digits: exact.digits}.float()
	if kept < 0.95*whole {
		u = exact.up(place)
	}
	return decimalOf(m.Value).round(place), u, true
}

// maxPrefix is the power of ten of the largest prefix that is printed.
const maxPrefix = 12

// scale chooses the power of ten, or the prefix, for a quantity whose leading
// digit stands for 10^lead.
func (s Style) scale(unit Unit, lead int) int {
	if table[unit].prefixed && s&Powers == 0 {
		if exponent := lead - ((lead%3)+3)%3; exponent >= -maxPrefix && exponent <= maxPrefix {
			return exponent
		}
	}
	if lead < -3 || lead >= 5 {
		return lead
	}
	return 0
}

// tail is what follows the digits: a power of ten or a prefix, and the unit.
func (s Style) tail(scale int, unit Unit) string {
	symbol := string(unit)
	if s&ASCII != 0 {
		symbol = table[unit].ascii
	}
	power := ""
	if scale != 0 {
		prefix, ok := "", false
		if table[unit].prefixed && s&Powers == 0 {
			prefix, ok = s.prefix(scale)
		}
		if ok {
			symbol = prefix + symbol
		} else {
			power = s.power(scale)
		}
	}
	if symbol != "" {
		symbol = " " + symbol
	}
	return power + symbol
}

// prefix is the symbol for a power of ten.
func (s Style) prefix(exponent int) (string, bool) {
	if exponent == -6 && s&ASCII == 0 {
		return "µ", true
	}
	for _, p := range prefixes {
		if p.exponent == exponent {
			return p.text, true
		}
	}
	return "", false
}

func (s Style) power(exponent int) string {
	digits := strconv.Itoa(exponent)
	if s&ASCII != 0 {
		return " x 10^" + digits
	}
	var b strings.Builder
	for _, r := range digits {
		b.WriteRune(raised[strings.IndexRune(onTheLine, r)])
	}
	return " × 10" + b.String()
}
