package plain

import (
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"
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

// negativeSign is a minus sign before a number, written with a hyphen.
var negativeSign = regexp.MustCompile(`(^|[\s(;:,])-(\.?[0-9])`)

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
	s = negativeSign.ReplaceAllString(s, "${1}minus $2")
	s = signs.Replace(s)
	return strings.Join(strings.Fields(s), " ")
}

// plainly puts the names that values have in a record into the words of the
// bench, in an answer that says why something is not taken.
func plainly(why string) string {
	why = keys.Replace(why)
	for key, words := range map[string]string{"div lies": "a reading lies", "ohm lies": "a resistance lies", "divisions lies": "the number of divisions lies"} {
		if rest, ok := strings.CutPrefix(why, key); ok {
			return words + rest
		}
	}
	return why
}

var keys = strings.NewReplacer(
	"u_emf_V is the standard uncertainty of emf_V", "the standard uncertainty belongs to the EMF", "u_emf_V", "the standard uncertainty of the EMF", "emf_V", "the EMF",
	"u_resistance_ohm", "the standard uncertainty of the resistance", "resistance_ohm", "the resistance",
	"u_full_scale_A", "the standard uncertainty of the full-scale current", "full_scale_A", "the full-scale current",
	"resolution_div", "the part of a division", "coils_ohm", "the list of coils", "dials_ohm", "the list of dials",
	"coil_rating_W", "the rating of a coil", "max_A", "the largest current", "temperature_C", "the temperature",
	"take_out_ohm", "the list of plugs", "series_box", "the series box", "shunt_box", "the shunt box",
	"off_scale is true and div", "off the scale and a reading",
)

// The pieces of a formula in the linear notation of the notes: a word, a
// symbol with its index, a number, or one sign.
var piece = regexp.MustCompile(`[A-Za-z]{2,}|[A-Za-zθρ](?:[′₀₁₂]|_[A-Za-z0-9])*|10⁻?[⁰¹²³⁴⁵⁶⁷⁸⁹]+|[0-9]+(?:\.[0-9]+)?|\S`)

var (
	spoken = map[string]string{
		"=": "equals", "+": "plus", "−": "minus", "-": "minus", "/": "divided by", "×": "times", "·": "times", "±": "plus or minus",
		"(": "open bracket", ")": "close bracket", "<": "is below", ">": "is above", "≤": "is at most", "≥": "is at least", "≈": "is about", "²": "squared", "³": "cubed", "⁴": "to the power 4", "∥": "parallel to", "%": "percent",
	}
	indexed = strings.NewReplacer("′", " prime", "₀", " 0", "₁", " 1", "₂", " 2", "_", " ")
)

// formula reads a formula out: each sign in words, and "times" between two
// symbols that stand side by side.
func formula(s string) string {
	s = unit.ReplaceAllStringFunc(s, func(m string) string {
		p := unit.FindStringSubmatch(m)
		return p[1] + " " + prefixes[p[2]] + units[p[3]] + p[4]
	})
	var out []string
	factor := false // the piece before can be multiplied by what follows
	for _, p := range piece.FindAllString(s, -1) {
		symbol := isSymbol(p)
		if factor && (symbol || p == "(") {
			out = append(out, "times")
		}
		factor = symbol || p == ")" || factor && strings.Contains("²³⁴", p)
		switch word, ok := spoken[p]; {
		case ok:
			out = append(out, word)
		case p == "r": // which sounds like R
			out = append(out, "small r")
		case symbol && p[0] < 0x80:
			out = append(out, indexed.Replace(p))
		default: // numbers, words, and the Greek letters that spell knows
			out = append(out, p)
		}
	}
	return strings.ReplaceAll(strings.Join(out, " "), " ,", ",")
}

// isSymbol reports whether a piece is the sign of a quantity, perhaps with an
// index.
func isSymbol(p string) bool {
	r, size := utf8.DecodeRuneInString(p)
	if r != 'θ' && r != 'ρ' && !(unicode.IsLetter(r) && r < utf8.RuneSelf) {
		return false
	}
	index, _ := utf8.DecodeRuneInString(p[size:])
	return size == len(p) || strings.ContainsRune("_′₀₁₂", index)
}

// inText reads the formulas out that stand within a text.
func inText(s string) string {
	words := strings.Fields(s)
	var out []string
	for i := 0; i < len(words); {
		n := i
		for n < len(words) && isMath(words[n]) {
			n++
			if strings.ContainsAny(words[n-1][len(words[n-1])-1:], ".,;:") {
				break
			}
		}
		if n == i {
			out = append(out, words[i])
			i++
			continue
		}
		run := strings.Join(words[i:n], " ")
		if strings.ContainsAny(run, "=+−/×±<>∥′_₀₁₂⁴") {
			end := strings.TrimRight(run, ".,;:")
			for strings.HasSuffix(end, ")") && strings.Count(end, ")") > strings.Count(end, "(") { // one of the text's own
				end = end[:len(end)-1]
			}
			run = formula(end) + run[len(end):]
		}
		out = append(out, run)
		i = n
	}
	return strings.Join(out, " ")
}

// isMath reports whether a word is made of the signs of a formula: single
// letters, each perhaps with an index, digits, brackets and operators.
func isMath(word string) bool {
	for _, p := range piece.FindAllString(strings.TrimRight(word, ".,;:"), -1) {
		r, _ := utf8.DecodeRuneInString(p)
		switch {
		case isSymbol(p) && strings.ContainsRune("EGIKMNPRSTUVeginkruθρ", r), r >= '0' && r <= '9':
		case !strings.Contains("()=+−/×±<>≈∥²³⁴½", p):
			return false
		}
	}
	return true
}
