package convert

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"example.org/halve/physics/quantity"
)

// A Metal is what a shunt is wound of.
type Metal struct {
	Name        string
	Resistivity float64 // at 20 °C, ohm metre
	Spread      float64 // how far tables and melts differ, relative, to one side
	Alpha       float64 // temperature coefficient, 1/K
	Note        string  // what is to be minded, "" for nothing
}

// Metals returns the metals of shunts. Copper is IEC 60028:1925 (1/58 Ω mm²/m,
// 0.00393/K); manganin JIS C 2522, (0.44 ± 0.03) µΩ m, its coefficient that of
// class A; constantan the school reference table, 0.49 µΩ m, which tables put
// between 0.454 and 0.49, its coefficient the greatest that tables give.
func Metals() []Metal {
	return []Metal{
		{"manganin", 0.44e-6, 0.07, 2e-5, ""},
		{"constantan", 0.49e-6, 0.08, 7.4e-5, "its contacts with copper give about 40 µV for each kelvin between them: for a shunt of some ten millivolt manganin is better"},
		{"copper", 1e-6 / 58, 0.01, CopperAlpha, "it follows the movement's coil only while both are equally warm; one that warms by 10 K alone is 3.9 % higher"},
	}
}

// CopperAlpha is the temperature coefficient of annealed copper at 20 °C, 1/K
// (IEC 60028:1925).
const CopperAlpha = 0.00393

// ParseMetal reads the name of a metal.
func ParseMetal(text string) (Metal, error) {
	for _, m := range Metals() {
		if strings.EqualFold(strings.TrimSpace(text), m.Name) {
			return m, nil
		}
	}
	return Metal{}, fmt.Errorf("the wire is manganin, constantan or copper, not %q", text)
}

// A Gauge is a wire's thickness.
type Gauge struct {
	Name     string
	Diameter float64 // m
}

// Area is the cross-section, m².
func (g Gauge) Area() float64 { return math.Pi * g.Diameter * g.Diameter / 4 }

// swg holds the standard wire gauge (BS 3737) in inches, which define it.
var swg = []struct {
	number int
	inches float64
}{
	{14, 0.080}, {16, 0.064}, {18, 0.048}, {20, 0.036}, {22, 0.028}, {24, 0.022}, {26, 0.018},
	{28, 0.0148}, {30, 0.0124}, {32, 0.0108}, {34, 0.0092}, {36, 0.0076}, {38, 0.006}, {40, 0.0048},
}

const inch = 0.0254 // m

// Gauges returns the even standard wire gauges from the thickest to the
// thinnest.
func Gauges() []Gauge {
	var out []Gauge
	for _, g := range swg {
		out = append(out, Gauge{fmt.Sprintf("SWG %d", g.number), g.inches * inch})
	}
	return out
}

// ParseGauge reads a thickness: SWG 22 (even numbers 14 to 40), AWG 22 (0 to
// 40; 0.127 mm · 92^((36 − n)/39), ASTM B258) or a diameter such as 0.5 mm.
func ParseGauge(text string) (Gauge, error) {
	expected := fmt.Errorf("the gauge is SWG 14 to 40 (even numbers), AWG 0 to 40, or a diameter from 0.02 to 20 mm such as 0.5 mm, not %q", text)
	s := strings.ToUpper(strings.ReplaceAll(text, " ", ""))
	if rest, ok := strings.CutSuffix(s, "MM"); ok {
		v, err := quantity.Parse(rest, quantity.Number)
		if err != nil || !(v >= 0.02 && v <= 20) {
			return Gauge{}, expected
		}
		return Gauge{strconv.FormatFloat(v, 'g', -1, 64) + " mm", v * 1e-3}, nil
	}
	system, number := s[:min(3, len(s))], s[min(3, len(s)):]
	n, err := strconv.Atoi(strings.TrimPrefix(number, "-"))
	if err != nil {
		return Gauge{}, expected
	}
	switch system {
	case "SWG":
		for _, g := range swg {
			if g.number == n {
				return Gauge{fmt.Sprintf("SWG %d", n), g.inches * inch}, nil
			}
		}
	case "AWG":
		if n >= 0 && n <= 40 {
			return Gauge{fmt.Sprintf("AWG %d", n), 0.127e-3 * math.Pow(92, float64(36-n)/39)}, nil
		}
	}
	return Gauge{}, expected
}

// A Winding is the length of wire that makes a resistance.
type Winding struct {
	Metal  Metal
	Gauge  Gauge
	Length float64 // m, between the points where the movement's leads join it
	// Density is the current density at the current it was worked out for,
	// A/m².
	Density float64
}

// MaxDensity is the current density above which a shunt warms too much to be
// trusted, A/m² (3 A/mm², less where it is enclosed; common practice, no
// source).
const MaxDensity = 3e6

// SolderAllowance is how much wire to add at each end, to be soldered in and
// trimmed, m (common practice, no source).
const SolderAllowance = 0.010

// Wind returns the winding of a resistance that is to carry a current:
// L = R A/ρ.
func Wind(ohm, current float64, m Metal, g Gauge) Winding {
	return Winding{m, g, ohm * g.Area() / m.Resistivity, current / g.Area()}
}

// PickGauge returns the thinnest even standard wire gauge that carries a
// current at no more than two thirds of MaxDensity, and the thickest where
// none does.
func PickGauge(current float64) Gauge {
	all := Gauges()
	pick := all[0]
	for _, g := range all {
		if current/g.Area() <= MaxDensity*2/3 {
			pick = g
		}
	}
	return pick
}
