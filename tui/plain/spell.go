package plain

import (
	"regexp"
	"strings"
)

// The tables below put signs into words, since a screen reader passes over many of
// them or reads them by their character names.
var (
	signs = strings.NewReplacer(
		"Ω", "ohm", " ± ", " plus or minus ", "±", "plus or minus ",
		" × ", " times ", "×", " times ", "·", " times ",
		"−", "minus ", " – ", ", ", " — ", ", ", "–", " to ", "—", ", ",
		"≤", "at most ", "≥", "at least ", "<", "below ", ">", "above ", "≈", "about ",
		"→", " to ", "…", "...", "½", "one half", "¼", "one quarter", "¾", "three quarters",
		"θ1", "first deflection", "θ₁", "first deflection", "θ2", "shunted deflection", "θ₂", "shunted deflection",
		"θ", "deflection", "ρ", "ratio", "√", "root of ", "∞", "infinity", "’", "'", "“", `"`, "”", `"`,
		"°C", "degrees Celsius", "°", " degrees",
	)
	// A unit is taken for one only behind a number, a bracket or a sign.
	unit     = regexp.MustCompile(`([0-9)⁰¹²³⁴⁵⁶⁷⁸⁹])[ \x{00a0}]?([kMGmµμnp]?)(Ω|\x{2126}|ohm|A/div|A|V|W|div|%)([^\pL/]|$)`)
	group    = regexp.MustCompile("([0-9])[\u00a0\u202f]([0-9]{3})")
	doubt    = regexp.MustCompile(`\(([^()]* ± [^()]*)\)`)
	power    = regexp.MustCompile(`10(⁻?[⁰¹²³⁴⁵⁶⁷⁸⁹]+)`)
	raised   = strings.NewReplacer("⁻", "minus ", "⁰", "0", "¹", "1", "²", "2", "³", "3", "⁴", "4", "⁵", "5", "⁶", "6", "⁷", "7", "⁸", "8", "⁹", "9")
	prefixes = map[string]string{"": "", "k": "kilo-", "M": "mega-", "G": "giga-", "m": "milli-", "µ": "micro-", "μ": "micro-", "n": "nano-", "p": "pico-"}
	units    = map[string]string{
		"Ω": "ohm", "\u2126": "ohm", "ohm": "ohm", "A/div": "ampere per division", "A": "ampere", "V": "volt", "W": "watt",
		"div": "divisions", "%": "percent",
	}
)

// spell writes a line in words and plain ASCII where it can.
func spell(s string) string {
	for group.MatchString(s) {
		s = group.ReplaceAllString(s, "$1$2")
	}
	s = doubt.ReplaceAllString(s, "$1")
	s = unit.ReplaceAllStringFunc(s, func(m string) string {
		p := unit.FindStringSubmatch(m)
		return p[1] + " " + prefixes[p[2]] + units[p[3]] + p[4]
	})
	s = power.ReplaceAllStringFunc(s, func(m string) string {
		return "10 to the power " + raised.Replace(strings.TrimPrefix(m, "10"))
	})
	s = signs.Replace(s)
	return strings.Join(strings.Fields(s), " ")
}
