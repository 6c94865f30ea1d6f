// Package quantity reads and prints measured quantities as people write them.
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

// Written is a number with the fineness it was written with.
type Written struct {
	Value     float64 // in the SI unit, no prefix
	LastDigit float64 // the worth of one unit in the last written digit, same unit
	Digits    int     // significant digits written
}

// Parse reads s as a quantity in unit.
func Parse(s string, unit Unit) (float64, error) {
	w, err := ParseWritten(s, unit)
	return w.Value, err
}

// ParseWritten is Parse, keeping how finely the number was written.
func ParseWritten(s string, unit Unit) (Written, error) { return Written{}, nil }

// Measured is a value with its standard uncertainty, both in Unit.
type Measured struct {
	Value, U float64
	Unit     Unit
}
