package quantity

import (
	"bytes"
	"math"
	"strconv"
	"strings"
)

// A decimal is a number in decimal digits: d.ddd × 10^lead. Rounding is done
// here and not on the binary value, so that a tie is what a person calls one:
// 2.675 is a tie at two decimals although its float lies below it.
type decimal struct {
	negative bool
	digits   string // at least one; the first is zero only if all are
	lead     int    // the power of ten of the first digit
	place    int    // the power of ten that round stopped at
}

const minus = "\u2212"

// decimalOf returns the shortest decimal that stands for v, which is finite.
func decimalOf(v float64) decimal {
	var room [32]byte
	mantissa, exponent, _ := bytes.Cut(strconv.AppendFloat(room[:0], math.Abs(v), 'e', -1, 64), []byte("e"))
	lead, _ := strconv.Atoi(string(exponent)) // as AppendFloat wrote it
	if len(mantissa) > 1 {
		mantissa = append(mantissa[:1], mantissa[2:]...) // without the point
	}
	return decimal{negative: v < 0, digits: string(mantissa), lead: lead}
}

func (d decimal) zero() bool { return d.digits[0] == '0' }

// last is the power of ten of the last digit.
func (d decimal) last() int { return d.lead - len(d.digits) + 1 }

// round rounds to a multiple of 10^place, half to even.
func (d decimal) round(place int) decimal {
	keep := d.lead - place + 1 // digits kept; may be none or fewer
	if keep >= len(d.digits) {
		d.place = place
		return d
	}
	up := false
	if keep >= 0 {
		odd := keep > 0 && (d.digits[keep-1]-'0')%2 == 1
		first, rest := d.digits[keep], strings.Trim(d.digits[keep+1:], "0")
		up = first > '5' || first == '5' && (rest != "" || odd)
	}
	return d.cut(place, up)
}

// up rounds the magnitude to the next multiple of 10^place, away from zero.
func (d decimal) up(place int) decimal { return d.cut(place, true) }

// cut drops the digits below 10^place and adds one there if up is set.
func (d decimal) cut(place int, up bool) decimal {
	keep := max(d.lead-place+1, 0)
	kept := []byte("0" + d.digits[:keep])
	lead := max(d.lead+1, place) // of the zero in front
	if up {
		i := len(kept) - 1
		for ; kept[i] == '9'; i-- {
			kept[i] = '0'
		}
		kept[i]++
	}
	digits := strings.TrimLeft(string(kept), "0")
	if digits == "" {
		return decimal{digits: "0", lead: place, place: place}
	}
	return decimal{d.negative, digits, lead - (len(kept) - len(digits)), place}
}

func (d decimal) float() float64 {
	sign := ""
	if d.negative {
		sign = "-"
	}
	f, _ := strconv.ParseFloat(sign+d.digits[:1]+"."+d.digits[1:]+"e"+strconv.Itoa(d.lead), 64)
	return f
}

// fixed writes the number in units of 10^scale, down to 10^place.
func (d decimal) fixed(scale, place int, s Style) string {
	var b strings.Builder
	if d.negative && !d.zero() {
		if s&ASCII != 0 {
			b.WriteByte('-')
		} else {
			b.WriteString(minus)
		}
	}
	top := scale
	if !d.zero() {
		top = max(top, d.lead)
	}
	for p := top; p >= min(place, scale); p-- {
		if p == scale-1 {
			b.WriteByte('.')
		}
		if i := d.lead - p; i >= 0 && i < len(d.digits) {
			b.WriteByte(d.digits[i])
		} else {
			b.WriteByte('0')
		}
	}
	return b.String()
}
