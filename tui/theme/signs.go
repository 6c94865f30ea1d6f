package theme

import "strings"

// Signs are the characters that things are drawn with. Each is one cell wide.
type Signs struct {
	Across, Down         string // the page's rules
	Branch, Cross, Foot  string // where the margin meets a rule: above, within, below
	Wire, Upright        string // a wire
	TopLeft, TopRight    string // its corners
	LowLeft, LowRight    string
	TeeDown, TeeUp       string // three wires meet
	Contact              string // the contacts of a key
	Lever, LeverUp       string // a key's lever lying across, and raised
	CellLong, CellShort  string // the plates of a cell
	MarkSmall, MarkLarge string // marks of a scale
	MarkZero             string
	StopLeft, StopRight  string // the end stops
	Band                 string // the expected reading
	Needle               string
	Wanted               string // the reading to aim at
	Cursor               string // where typing goes on
	Choice               string // the line that is chosen
	Less, More           string // a choice can be turned
	Ticked, Unticked     string
	Dots                 string // something is cut off here

	ascii bool
}

// Drawn returns the signs for a terminal that shows line-drawing characters.
func Drawn() Signs {
	return Signs{
		Across: "─", Down: "│", Branch: "┬", Cross: "┼", Foot: "┴",
		Wire: "─", Upright: "│",
		TopLeft: "┌", TopRight: "┐", LowLeft: "└", LowRight: "┘",
		TeeDown: "┬", TeeUp: "┴",
		Contact: "o", Lever: "─", LeverUp: "╱",
		CellLong: "━", CellShort: "─",
		MarkSmall: "╵", MarkLarge: "│", MarkZero: "┃",
		StopLeft: "▐", StopRight: "▌",
		Band: "▒", Needle: "▲", Wanted: "◇",
		Cursor: "▏", Choice: "▸", Less: "‹", More: "›",
		Ticked: "x", Unticked: " ", Dots: "…",
	}
}

// ASCII returns the signs for a terminal or a font without drawing characters.
func ASCII() Signs {
	return Signs{
		Across: "-", Down: "|", Branch: "+", Cross: "+", Foot: "+",
		Wire: "-", Upright: "|",
		TopLeft: "+", TopRight: "+", LowLeft: "+", LowRight: "+",
		TeeDown: "+", TeeUp: "+",
		Contact: "o", Lever: "-", LeverUp: "/",
		CellLong: "=", CellShort: "-",
		MarkSmall: "'", MarkLarge: "|", MarkZero: "!",
		StopLeft: "[", StopRight: "]",
		Band: ":", Needle: "^", Wanted: "v",
		Cursor: "_", Choice: ">", Less: "<", More: ">",
		Ticked: "x", Unticked: " ", Dots: "~",
		ascii: true,
	}
}

// spelled writes in ASCII what the program says with other characters; the
// quantities are still read back by the same rules.
var spelled = strings.NewReplacer(
	"kΩ", "kohm", "MΩ", "Mohm", "Ω", "ohm", "µ", "u", "μ", "u", "±", "+/-", "°", "deg ",
	"θ1", "th1", "θ2", "th2", "θ", "theta", "ρ", "rho", "·", "-", "×", "x", "−", "-", "–", "-", "—", "-", "…", "...",
	"²", "2", "⁻", "-", "⁰", "0", "¹", "1", "³", "3", "⁴", "4", "⁵", "5", "⁶", "6", "⁷", "7", "⁸", "8", "⁹", "9",
	"₁", "1", "₂", "2", "√", "sqrt ", "≤", "<=", "≥", ">=", "≈", "about ", "∞", "infinity",
	"‘", "'", "’", "'", "“", `"`, "”", `"`, "\u00a0", " ", "\u202f", " ", "\u2009", " ", "→", "->", "′", "'", "Δ", "delta ",
)

// Say returns text as the signs allow: unchanged, or spelled in ASCII with a
// question mark for what has no spelling.
func (s Signs) Say(text string) string {
	if !s.ascii {
		return text
	}
	return strings.Map(func(r rune) rune {
		if r > 0x7e {
			return '?'
		}
		return r
	}, spelled.Replace(text))
}
