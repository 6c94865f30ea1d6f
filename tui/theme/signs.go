package theme

import "strings"

// Signs are the characters that things are drawn with. Each is one cell wide.
type Signs struct {
	Across, Down         string // the page's rules
	Branch, Cross, Foot  string // where the margin meets a rule: above, within, below
	Idle, Live, Next     Wires  // a wire without current, with current, and to be laid next
	Joint                string // wires that are joined
	Contact              string // the contacts of a key
	Lever, LeverUp       string // a key's lever lying across, and raised
	Press                string // a key that is touched for an instant
	CellLong, CellShort  string // the plates of a cell, upright
	RingTopLeft          string // the ring of an instrument
	RingTopRight         string
	RingLowLeft          string
	RingLowRight         string
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
	PlugIn               string // a plug pressed home in its hole
	Dots                 string // something is cut off here
	ChoiceEnd            string // closes what Choice opens
	Kept, Other, Crossed string // points of a graph: rows, other readings, what is struck
	Edge                 string // the edge of a band of a graph

	// Grain is how finely curves can be drawn.
	Grain Grain

	ascii bool
}

// Wires are the characters of a wire.
type Wires struct {
	Across, Down        string
	TopLeft, TopRight   string // corners
	LowLeft, LowRight   string
	Enter, Leave        string // the sides of a box, where the wire comes in from the left and goes on to the right
	IntoThin, FromThin  string // it comes from above to a thin line, and goes on downwards from one
	IntoLong, FromShort string // it comes from the left to the long plate of a cell, and goes on to the right from the short one
}

// Grain is how finely a terminal's characters can draw a curve.
type Grain int

// The grains, the finest first.
const (
	Braille Grain = iota // eight dots to the cell, two across and four down
	Halves               // the halves of a cell, one above the other
	Strokes              // ASCII strokes at three heights
)

// Drawn returns the signs for a terminal that shows line-drawing characters.
func Drawn() Signs {
	thin := Wires{
		Across: "─", Down: "│",
		TopLeft: "┌", TopRight: "┐", LowLeft: "└", LowRight: "┘",
		Enter: "┤", Leave: "├", IntoThin: "┴", FromThin: "┬", IntoLong: "┤", FromShort: "┠",
	}
	return Signs{
		Across: "─", Down: "│", Branch: "┬", Cross: "┼", Foot: "┴",
		Idle: thin,
		Live: Wires{
			Across: "━", Down: "┃",
			TopLeft: "┏", TopRight: "┓", LowLeft: "┗", LowRight: "┛",
			Enter: "┥", Leave: "┝", IntoThin: "┸", FromThin: "┰", IntoLong: "┥", FromShort: "┣",
		},
		Next: dotted(thin, "·"), Joint: "●",
		Contact: "o", Lever: "─", LeverUp: "╱", Press: "↓",
		CellLong: "│", CellShort: "┃",
		RingTopLeft: "╭", RingTopRight: "╮", RingLowLeft: "╰", RingLowRight: "╯",
		MarkSmall: "╵", MarkLarge: "│", MarkZero: "┃",
		StopLeft: "▐", StopRight: "▌",
		Band: "▒", Needle: "▲", Wanted: "◇",
		Cursor: "▏", Choice: "▸", Less: "‹", More: "›",
		Ticked: "x", Unticked: " ", PlugIn: "■", Dots: "…",
		ChoiceEnd: "◂", Kept: "●", Other: "○", Crossed: "×", Edge: "·",
	}
}

// Older returns the signs for a terminal whose font has line drawing, but
// neither braille nor heavy lines: all are in the list WGL4, which the fonts
// of consoles keep to.
func Older() Signs {
	s := Drawn()
	s.Live = Wires{
		Across: "═", Down: "║",
		TopLeft: "╔", TopRight: "╗", LowLeft: "╚", LowRight: "╝",
		Enter: "╡", Leave: "╞", IntoThin: "╨", FromThin: "╥", IntoLong: "╡", FromShort: "╠",
	}
	s.Idle.FromShort = "╟"
	s.Next = dotted(s.Idle, "·")
	s.LeverUp, s.CellShort = "/", "║"
	s.RingTopLeft, s.RingTopRight, s.RingLowLeft, s.RingLowRight = "┌", "┐", "└", "┘"
	s.MarkSmall, s.MarkZero, s.Wanted, s.Cursor = "'", "║", "◊", "▌"
	s.Choice, s.ChoiceEnd, s.Crossed = "►", "◄", "x"
	s.Grain = Halves
	return s
}

// ASCII returns the signs for a terminal or a font without drawing characters.
func ASCII() Signs {
	wire := func(across, down, corner string) Wires {
		return Wires{
			Across: across, Down: down,
			TopLeft: corner, TopRight: corner, LowLeft: corner, LowRight: corner,
			Enter: "[", Leave: "]", IntoThin: "+", FromThin: "+", IntoLong: "|", FromShort: "!",
		}
	}
	return Signs{
		Across: "-", Down: "|", Branch: "+", Cross: "+", Foot: "+",
		Idle: wire("-", "|", "+"), Live: wire("=", "#", "#"), Next: dotted(wire("-", "|", "+"), "."), Joint: "*",
		Contact: "o", Lever: "-", LeverUp: "/", Press: "v",
		CellLong: "|", CellShort: "!",
		RingTopLeft: "/", RingTopRight: "\\", RingLowLeft: "\\", RingLowRight: "/",
		MarkSmall: "'", MarkLarge: "|", MarkZero: "!",
		StopLeft: "[", StopRight: "]",
		Band: ":", Needle: "^", Wanted: "v",
		Cursor: "_", Choice: ">", Less: "<", More: ">",
		Ticked: "x", Unticked: " ", PlugIn: "#", Dots: "~",
		ChoiceEnd: "<", Kept: "O", Other: "o", Crossed: "x", Edge: ".",
		Grain: Strokes,
		ascii: true,
	}
}

// dotted is a wire that is only where it will be: boxes and plates stay whole.
func dotted(w Wires, dot string) Wires {
	w.Across, w.Down = dot, dot
	w.TopLeft, w.TopRight, w.LowLeft, w.LowRight = dot, dot, dot, dot
	return w
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
