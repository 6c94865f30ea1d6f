package procedure

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/quantity"
)

// ohms writes a box value: plain ohms, as its plugs are marked. The unit stays
// on the number's line.
func ohms(v float64) string { return number(v) + "\u00a0Ω" }

// number writes every digit of v.
func number(v float64) string { return quantity.Style(0).Exact(v, quantity.Number) }

// divs writes a deflection as a person can read it off the scale.
func divs(v, step float64) string {
	return number(readable(v, step)) + "\u00a0div"
}

// readable rounds a deflection to the tenth of a division, or to the last place
// of the resolution where the scale is read more finely.
func readable(v, step float64) float64 {
	places := max(1, int(math.Ceil(-math.Log10(step)-1e-9)))
	x, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'f', places, 64), 64) // its own writing
	if x == 0 {
		return 0 // no minus before nothing
	}
	return x
}

// Chance says a probability as a person would, "" where it is 1: what is
// certain is said without a number. Near the ends it never rounds to 0 or 100 %.
func Chance(p float64) string {
	switch {
	case p >= 1:
		return ""
	case p > 0.99:
		return "more than 99 %"
	case p < 0.01:
		return "less than 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

// round2 rounds to two figures, for values that are only a hint.
func round2(v float64) float64 {
	x, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 2, 64), 64) // its own writing
	return x
}

// plugs says how a box is brought to a setting.
func plugs(which string, b apparatus.Box, set apparatus.Setting) string {
	if b.Kind == apparatus.Decade {
		return fmt.Sprintf("Set the %s box to %s (%s)", which, ohms(set.Ohm), dials(set))
	}
	if len(set.Coils) == 0 {
		return fmt.Sprintf("Put all plugs of the %s box in: %s", which, ohms(set.Ohm))
	}
	if len(set.Coils) == len(b.Coils) {
		return fmt.Sprintf("Take all plugs out of the %s box: %s", which, ohms(set.Ohm))
	}
	return fmt.Sprintf("In the %s box take out %s: %s, all other plugs in and pressed firm", which, list(set.Coils), ohms(set.Ohm))
}

// dials writes the steps in use, "8 × 1000, 2 × 100".
func dials(set apparatus.Setting) string {
	var parts []string
	for i := 0; i < len(set.Coils); {
		n := 1
		for i+n < len(set.Coils) && set.Coils[i+n] == set.Coils[i] {
			n++
		}
		parts = append(parts, fmt.Sprintf("%d × %s", n, number(set.Coils[i])))
		i += n
	}
	if len(parts) == 0 {
		return "all dials at 0"
	}
	return strings.Join(parts, ", ")
}

// list writes the plugs to take out, "5000, 2000 and 200".
func list(vs []float64) string {
	var parts []string
	for _, v := range vs {
		parts = append(parts, number(v))
	}
	return and(parts)
}

// and joins the parts of a list.
func and(parts []string) string {
	if n := len(parts); n > 1 {
		return strings.Join(parts[:n-1], ", ") + " and " + parts[n-1]
	}
	return strings.Join(parts, "")
}
