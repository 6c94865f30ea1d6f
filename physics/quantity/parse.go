package quantity

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// maxInput is the longest entry that is read, in bytes.
const maxInput = 100

// prefixes are the SI prefixes (SI Brochure, 9th edition, table 7) with their
// powers of ten. K for kilo is what most people write, u is the usual stand-in
// for µ.
var prefixes = []struct {
	text     string
	exponent int
}{
	{"", 0},
	{"p", -12}, {"n", -9}, {"u", -6}, {"m", -3}, {"k", 3}, {"K", 3}, {"M", 6}, {"G", 9}, {"T", 12},
	{"pico", -12}, {"nano", -9}, {"micro", -6}, {"milli", -3}, {"kilo", 3}, {"kil", 3}, {"mega", 6}, {"meg", 6}, {"giga", 9},
}

// letterCodes are the letters that mark the decimal point of a resistance
// (IEC 60062:2016). Lower case is taken for kilo and for ohm only: m is never
// mega.
var letterCodes = map[byte]int{'L': -3, 'R': 0, 'r': 0, 'K': 3, 'k': 3, 'M': 6, 'G': 9, 'T': 12}

// Parse reads s as a quantity in unit. The value is in the SI unit, Percent in
// percent. See ParseWritten for what is taken.
func Parse(s string, unit Unit) (float64, error) {
	w, err := ParseWritten(s, unit)
	return w.Value, err
}

// ParseWritten is Parse, keeping how finely the number was written.
//
// A number is digits with a decimal point, or with a decimal comma where it
// cannot be a thousands mark, and with a power of ten written e-5, x 10^-5 or
// ×10⁻⁵; groups of three may be parted by spaces. The unit may follow, with an
// SI prefix, or the prefix alone; without either the number is in the SI unit.
// A resistance may be a letter code of IEC 60062 (4k7, R47, 820R), a reading
// in divisions may end in a vulgar fraction (23 1/2, 23½). Since a division is
// a count, a current is taken for a current per division.
//
// The error is one line that says what is wrong and what is expected. Refused
// are: an empty entry; anything left over after the number and its unit; a
// unit or prefix that does not belong; a negative resistance, voltage,
// current, power or current per division; NaN and the infinities; magnitudes
// beyond the unit's bounds; 4,700 and its like, with both readings named.
func ParseWritten(s string, unit Unit) (Written, error) {
	rule, ok := table[unit]
	if !ok {
		return Written{}, fmt.Errorf("there is no unit %s; expected V, A, Ω, W, div, A/div, °C, %% or none", quote(string(unit)))
	}
	refuse := func(why string) (Written, error) {
		return Written{}, fmt.Errorf("%s %s; expected %s", quote(s), why, rule.expected)
	}
	if len(s) > maxInput {
		return refuse("is too long")
	}
	n, err := read(normalise(s), unit)
	if err != nil {
		var two ambiguous
		if errors.As(err, &two) {
			return Written{}, fmt.Errorf("%s can be read as %s or as %s; expected one of these", quote(s), two.a, two.b)
		}
		return refuse(err.Error())
	}
	w := n.written()
	switch size := math.Abs(w.Value); {
	case w.Value < 0 && !rule.signed:
		return refuse("is negative")
	case unit == Celsius && w.Value < -273.15: // SI Brochure, 2.3.1
		return refuse("is below absolute zero")
	case size > rule.most:
		return refuse("is too large")
	case n.nonzero() && size < rule.least:
		return refuse("is too small")
	}
	return w, nil
}

// ambiguous is an entry with two readings.
type ambiguous struct{ a, b string }

func (a ambiguous) Error() string { return a.a + " or " + a.b }

// A reading is a number as written: ±whole.fraction × 10^exponent, or
// ±(whole + over/under) where under is not zero.
type reading struct {
	negative        bool
	whole, fraction string // decimal digits
	exponent        int
	over, under     int
}

func (n reading) nonzero() bool {
	return n.over != 0 || strings.Trim(n.whole+n.fraction, "0") != ""
}

func (n reading) written() Written {
	var w Written
	digits := strings.TrimLeft(n.whole+n.fraction, "0")
	if n.under != 0 {
		whole, _ := strconv.Atoi("0" + n.whole) // at most six digits, see vulgar
		w = Written{
			Value:     float64(whole*n.under+n.over) / float64(n.under),
			LastDigit: 1 / float64(n.under),
			Digits:    len(digits) + 1,
		}
	} else {
		// strconv rounds once, from the decimal digits, so that 4k7 and 4700
		// are the same float. Its range error leaves ±Inf or 0, which the
		// bounds refuse.
		w.Value, _ = strconv.ParseFloat(fmt.Sprintf("0%s.%se%d", n.whole, n.fraction, n.exponent), 64)
		w.LastDigit, _ = strconv.ParseFloat(fmt.Sprintf("1e%d", n.exponent-len(n.fraction)), 64)
		w.Digits = max(1, len(digits))
	}
	if n.negative && w.Value != 0 {
		w.Value = -w.Value
	}
	return w
}

// The parts of a number's grammar. Groups of three, parted by a space, may
// stand on either side of the decimal mark (SI Brochure, 5.4.4).
const (
	groups   = `[0-9]*|[0-9]{1,3}(?: [0-9]{3})+`
	decimals = `[0-9]+|(?:[0-9]{3} )+[0-9]{1,3}`
)

var (
	// forms are the ways to write a number; one that fits two is ambiguous. A
	// lone point is always the decimal mark.
	forms = []*regexp.Regexp{
		regexp.MustCompile(`^(` + groups + `)(?:\.(` + decimals + `|))?$`),     // 4 700.5
		regexp.MustCompile(`^(` + groups + `),(` + decimals + `)$`),            // 4 700,5
		regexp.MustCompile(`^([1-9][0-9]{0,2}(?:,[0-9]{3})+)(?:\.([0-9]+))?$`), // 4,700.5
		regexp.MustCompile(`^([1-9][0-9]{0,2}(?:\.[0-9]{3})+),([0-9]+)$`),      // 4.700,5
		regexp.MustCompile(`^([1-9][0-9]{0,2}(?:\.[0-9]{3}){2,})()$`),          // 4.700.500
	}
	powerOfTen = regexp.MustCompile(`^(?:[eE]| ?[xX] ?10 ?\^ ?)([+-]?)([0-9]+)`)
	numerator  = regexp.MustCompile(`^(?:([0-9]{1,6}) )?([0-9]{1,3}) ?$`)
	under      = regexp.MustCompile(`^/ ?([0-9]{1,3})`)
	perDiv     = regexp.MustCompile(`(?i)(?:( per | ?/ ?)(?:div|divs|division|divisions)| ?div\^-1)$`)
)

// read reads a normalised entry. Its error is the middle of a sentence that
// begins with the entry.
func read(s string, unit Unit) (reading, error) {
	var n reading
	if s == "" {
		return n, errors.New("is empty")
	}
	rest := s
	if rest[0] == '+' || rest[0] == '-' {
		n.negative = rest[0] == '-'
		rest = strings.TrimLeft(rest[1:], " ")
	}
	run := rest[:len(rest)-len(strings.TrimLeft(rest, "0123456789., "))]
	rest = rest[len(run):]

	if m := under.FindStringSubmatch(rest); m != nil {
		if unit != Division {
			return n, errors.New("has a fraction, which is taken for divisions only")
		}
		if err := n.vulgar(run, m[1]); err != nil {
			return n, err
		}
		return n, n.suffix(rest[len(m[0]):], unit)
	}
	if code, ok := letterCode(rest, run, unit); ok {
		tail := strings.TrimLeft(rest[1:], "0123456789")
		n.whole, n.fraction, n.exponent = run, rest[1:len(rest)-len(tail)], code
		if name := strings.ReplaceAll(tail, " ", ""); name != "" && !named(name, unit) {
			return n, fmt.Errorf("has %s after the number", quote(name))
		}
		return n, nil
	}

	if run == "" {
		return n, errors.New("does not begin with a number")
	}
	digits := strings.TrimRight(run, " ")
	after := run[len(digits):] + rest
	other, err := n.decimal(digits)
	if err != nil {
		return n, err
	}
	if m := powerOfTen.FindStringSubmatch(rest); m != nil {
		// More digits than these are beyond every bound, whatever they say.
		power, err := strconv.Atoi(m[1] + m[2][:min(len(m[2]), 5)])
		if err != nil {
			return n, errors.New("has an unreadable power of ten")
		}
		n.exponent = power
		rest = rest[len(m[0]):]
	}
	if err := n.suffix(rest, unit); err != nil {
		return n, err
	}
	if other != "" {
		return n, ambiguous{other + after, n.whole + "." + n.fraction + after}
	}
	return n, nil
}

// letterCode reports whether rest begins with a letter code that has digits
// after it, run being what stands before.
func letterCode(rest, run string, unit Unit) (exponent int, ok bool) {
	if unit != Ohm || len(rest) < 2 || !isDigits(rest[1:2]) || run != "" && !isDigits(run) {
		return 0, false
	}
	exponent, ok = letterCodes[rest[0]]
	return exponent, ok
}

// vulgar reads "23 1" and "2" of "23 1/2".
func (n *reading) vulgar(run, denominator string) error {
	m := numerator.FindStringSubmatch(run)
	if m == nil {
		return errors.New("is no whole number with a fraction")
	}
	n.whole = m[1]
	n.over, _ = strconv.Atoi(m[2]) // three digits, by the expressions above
	n.under, _ = strconv.Atoi(denominator)
	if n.over >= n.under {
		return errors.New("has a fraction that is not below one")
	}
	return nil
}

// decimal reads digits with points, commas and spaces. other is the whole
// number they may stand for as well, if any.
func (n *reading) decimal(run string) (other string, err error) {
	fits := false
	for _, form := range forms {
		m := form.FindStringSubmatch(run)
		switch {
		case m == nil:
		case !fits:
			n.whole, n.fraction = onlyDigits(m[1]), onlyDigits(m[2])
			fits = true
		default: // 4,700, the second time with the comma parting thousands
			other = onlyDigits(m[1])
		}
	}
	if !fits {
		return "", errors.New("has its points, commas or spaces in no known order")
	}
	if n.whole+n.fraction == "" {
		return "", errors.New("has no digits")
	}
	return other, nil
}

// onlyDigits leaves out what parts digits.
func onlyDigits(s string) string {
	return strings.Map(func(r rune) rune {
		if strings.ContainsRune(" ,.", r) {
			return -1
		}
		return r
	}, s)
}

func isDigits(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }

// suffix reads what follows a number: nothing, a prefix, a unit, or both.
func (n *reading) suffix(s string, unit Unit) error {
	s = strings.TrimSpace(s)
	if s == "" {
		return nil
	}
	exponent, ok := suffixExponent(s, unit)
	if ok {
		n.exponent += exponent
		return nil
	}
	if unit == Ohm && strings.HasPrefix(s, "m") && len(s) == 1 {
		return errors.New("has m, which is milli and never mega: write M, or mΩ in full")
	}
	for other := range table {
		if _, ok := suffixExponent(s, other); ok && other != unit && strings.Trim(s, "pnumkKMGT") != "" {
			return fmt.Errorf("has the unit %s", quote(s))
		}
	}
	if !table[unit].prefixed {
		for _, p := range prefixes {
			if name, ok := strings.CutPrefix(s, p.text); ok && (name == "" || named(strings.TrimSpace(name), unit)) {
				return fmt.Errorf("has the prefix %s, which does not belong here", quote(p.text))
			}
		}
	}
	return fmt.Errorf("has %s after the number", quote(s))
}

// suffixExponent finds the power of ten that a prefix, a unit or both stand for.
func suffixExponent(s string, unit Unit) (exponent int, ok bool) {
	prefixed := table[unit].prefixed
	if unit == AmperePerDivision {
		s, unit = perDiv.ReplaceAllString(s, ""), Ampere
	}
	s = strings.ReplaceAll(s, " ", "")
	if unit == Ohm && len(s) == 1 {
		if exponent, ok = letterCodes[s[0]]; ok {
			return exponent, true
		}
	}
	for _, p := range prefixes {
		name, ok := strings.CutPrefix(s, p.text)
		if !ok || p.text != "" && !prefixed {
			continue
		}
		// A prefix may stand alone, 4.7k or 18u. Alone with ohm, a small one
		// is more likely a slip than meant: m would be read as mega.
		alone := len(p.text) == 1 && name == "" && (unit != Ohm || p.exponent > 0)
		if alone || named(name, unit) {
			return p.exponent, true
		}
	}
	return 0, false
}

// named reports whether s is a name of the unit, without a prefix.
func named(s string, unit Unit) bool {
	for _, name := range table[unit].names {
		if strings.EqualFold(s, name) {
			return true
		}
	}
	return false
}

// substitutes maps what people paste and type to the one form that is read.
var substitutes = map[rune]string{
	'\u2212': "-", '\u2013': "-", '\ufe63': "-", '\uff0d': "-", // minus signs and the dash used as one
	'\u00b5': "u", '\u03bc': "u", // micro sign, Greek mu
	'\u2126': "Ω", // ohm sign
	'\u2103': "°C", '\u00ba': "°",
	'×': "x", '*': "x", '·': "x", '\u2044': "/",
	'½': " 1/2", '⅓': " 1/3", '⅔': " 2/3", '¼': " 1/4", '¾': " 3/4", '⅕': " 1/5", '⅖': " 2/5", '⅗': " 3/5",
	'⅘': " 4/5", '⅙': " 1/6", '⅚': " 5/6", '⅛': " 1/8", '⅜': " 3/8", '⅝': " 5/8", '⅞': " 7/8",
}

// raised are the superscripts, in the order of the characters they are for.
var raised = []rune("⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻")

const onTheLine = "0123456789+-"

// normalise writes every kind of space as one plain space, superscripts as
// ^-5, and look-alikes as one of their kind.
func normalise(s string) string {
	var b strings.Builder
	superscript := false
	for _, r := range s {
		i := slices.Index(raised, r)
		if i >= 0 && !superscript {
			b.WriteByte('^')
		}
		superscript = i >= 0
		if superscript {
			b.WriteByte(onTheLine[i])
			continue
		}
		if sub, ok := substitutes[r]; ok {
			b.WriteString(sub)
		} else if unicode.IsSpace(r) {
			b.WriteByte(' ')
		} else {
			b.WriteRune(r)
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// quote shows an entry within a message: quoted, what does not print replaced,
// and cut where it is long.
func quote(s string) string {
	const longest = 40
	if r := []rune(s); len(r) > longest {
		s = string(r[:longest]) + "…"
	}
	return strconv.Quote(strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return unicode.ReplacementChar
		}
		return r
	}, strings.Join(strings.Fields(s), " ")))
}
