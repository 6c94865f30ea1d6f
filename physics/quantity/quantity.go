// Package quantity reads and prints measured quantities as people write them:
// 4.7k, 4k7, 18 µA/div, 23 1/2, 1.877 × 10⁻⁵ A/div. Every quantity is held in
// its SI unit without a prefix; a percentage is held in percent, as written.
package quantity

// Unit is the unit a quantity is expected in.
type Unit string

// The units of the trade.
const (
	Number            Unit = ""
	Volt              Unit = "V"
	Ampere            Unit = "A"
	Ohm               Unit = "Ω"
	Watt              Unit = "W"
	Division          Unit = "div"
	AmperePerDivision Unit = "A/div"
	Celsius           Unit = "°C"
	Percent           Unit = "%"
)

// rules is what is particular to a unit.
type rules struct {
	expected string   // what is expected, with an example, for a refusal
	ascii    string   // the unit in ASCII
	names    []string // how people write it besides, lower case; matched without regard to case
	prefixed bool     // takes SI prefixes
	signed   bool     // may be negative
	// least and most bound the magnitude of what is taken for a quantity and
	// not for a slip of the pen; zero is taken besides. They are wide enough
	// for a hand calculation that lost the sign of its power of ten or was
	// turned upside down, since such a claim has to be read before it can be
	// corrected (common practice, no source).
	least, most float64
}

// table holds every unit there is.
var table = map[Unit]rules{
	Number:            {"a number, such as 12 or 0.5", "", nil, false, true, 1e-15, 1e15},
	Volt:              {"a voltage in volt, such as 1.5 or 1500 mV", "V", []string{"v", "volt", "volts"}, true, false, 1e-9, 1e6},
	Ampere:            {"a current in ampere, such as 18 µA or 1.8e-5", "A", []string{"a", "amp", "amps", "ampere", "amperes"}, true, false, 1e-15, 1e6},
	Ohm:               {"a resistance in ohm, such as 4700, 4.7k, 4k7 or 820R", "ohm", []string{"ω", "ohm", "ohms"}, true, false, 1e-6, 1e12},
	Watt:              {"a power in watt, such as 0.25 or 250 mW", "W", []string{"w", "watt", "watts"}, true, false, 1e-18, 1e9},
	Division:          {"a reading in divisions, such as 23.5 or 23 1/2", "div", []string{"div", "divs", "division", "divisions"}, false, true, 1e-6, 1e6},
	AmperePerDivision: {"a current per division in A/div, such as 18.8 µA/div or 1.88e-5", "A/div", nil, true, false, 1e-15, 1e12},
	Celsius:           {"a temperature in °C, such as 22.5", "degC", []string{"°c", "c", "degc", "celsius"}, false, true, 1e-6, 1e4},
	Percent:           {"a percentage, such as 0.5 or 0.5 %", "%", []string{"%", "percent"}, false, true, 1e-9, 1e9},
}

// Written is a number with the fineness it was written with.
type Written struct {
	Value float64 // in the SI unit, no prefix; Percent in percent
	// LastDigit is the worth of one unit in the last written digit, in the
	// same unit: 100 for 4.7k, 0.01 for 0.50, 1/2 for 23 1/2.
	LastDigit float64
	// Digits counts the significant digits written, at least 1: leading zeros
	// do not count, all others do, so 4700 has four and 4.70k three. A vulgar
	// fraction counts as one digit.
	Digits int
}

// Measured is a value with its standard uncertainty, both in Unit. A NaN
// stands for what is not known.
type Measured struct {
	Value, U float64
	Unit     Unit
}
