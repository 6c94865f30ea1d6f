package quantity_test

import (
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"example.org/halve/physics/quantity"
	"pgregory.net/rapid"
)

// The values are what the entries say, read by eye; LastDigit and Digits were
// counted by hand.
func TestParseWritten(t *testing.T) {
	tests := []struct {
		in   string
		unit quantity.Unit
		want quantity.Written
	}{
		{"4700", quantity.Ohm, quantity.Written{4700, 1, 4}},
		{"4.7k", quantity.Ohm, quantity.Written{4700, 100, 2}},
		{"4k7", quantity.Ohm, quantity.Written{4700, 100, 2}},
		{"4K7", quantity.Ohm, quantity.Written{4700, 100, 2}},
		{"4K70", quantity.Ohm, quantity.Written{4700, 10, 3}},
		{"4k7Ω", quantity.Ohm, quantity.Written{4700, 100, 2}},
		{"4k7 ohm", quantity.Ohm, quantity.Written{4700, 100, 2}},
		{"820R", quantity.Ohm, quantity.Written{820, 1, 3}},
		{"4r7", quantity.Ohm, quantity.Written{4.7, 0.1, 2}},
		{"4.7 kΩ", quantity.Ohm, quantity.Written{4700, 100, 2}},
		{"4.7 k\u2126", quantity.Ohm, quantity.Written{4700, 100, 2}},
		{"4.7 K ohm", quantity.Ohm, quantity.Written{4700, 100, 2}},
		{"4.7 kilohms", quantity.Ohm, quantity.Written{4700, 100, 2}},
		{"1 megohm", quantity.Ohm, quantity.Written{1e6, 1e6, 1}},
		{"1.0 MOHM", quantity.Ohm, quantity.Written{1e6, 1e5, 2}},
		{"100 mΩ", quantity.Ohm, quantity.Written{0.1, 1e-3, 3}},
		{"100 mohm", quantity.Ohm, quantity.Written{0.1, 1e-3, 3}},
		{"90.0", quantity.Ohm, quantity.Written{90, 0.1, 3}},
		{"0", quantity.Ohm, quantity.Written{0, 1, 1}},
		{"0.00", quantity.Ohm, quantity.Written{0, 0.01, 1}},
		{"-0", quantity.Ohm, quantity.Written{0, 1, 1}},
		{"+95", quantity.Ohm, quantity.Written{95, 1, 2}},
		{"007", quantity.Ohm, quantity.Written{7, 1, 1}},
		{"5.", quantity.Ohm, quantity.Written{5, 1, 1}},
		{".5", quantity.Ohm, quantity.Written{0.5, 0.1, 1}},
		{"  95  ", quantity.Ohm, quantity.Written{95, 1, 2}},
		{"9.5e+04", quantity.Ohm, quantity.Written{95000, 1000, 2}},
		{"4 700", quantity.Ohm, quantity.Written{4700, 1, 4}},
		{"4\u00a0700\u202fΩ", quantity.Ohm, quantity.Written{4700, 1, 4}},
		{"4\u2009700.5", quantity.Ohm, quantity.Written{4700.5, 0.1, 5}},
		{"10.057 62", quantity.Ohm, quantity.Written{10.05762, 1e-5, 7}},

		{"4,7k", quantity.Ohm, quantity.Written{4700, 100, 2}},
		{"1,46", quantity.Volt, quantity.Written{1.46, 0.01, 3}},
		{",5", quantity.Volt, quantity.Written{0.5, 0.1, 1}},
		{"0,700", quantity.Volt, quantity.Written{0.7, 0.001, 3}},
		{"4700,500", quantity.Ohm, quantity.Written{4700.5, 0.001, 7}},
		{"4 700,500", quantity.Ohm, quantity.Written{4700.5, 0.001, 7}},
		{"1,234,567", quantity.Ohm, quantity.Written{1234567, 1, 7}},
		{"1.234.567", quantity.Ohm, quantity.Written{1234567, 1, 7}},
		{"4,700.5", quantity.Ohm, quantity.Written{4700.5, 0.1, 5}},
		{"4.700,5", quantity.Ohm, quantity.Written{4700.5, 0.1, 5}},
		{"4.700", quantity.Ohm, quantity.Written{4.7, 0.001, 4}},

		{"1.5 V", quantity.Volt, quantity.Written{1.5, 0.1, 2}},
		{"1500 mV", quantity.Volt, quantity.Written{1.5, 0.001, 4}},
		{"1.5v", quantity.Volt, quantity.Written{1.5, 0.1, 2}},
		{"1.5 volts", quantity.Volt, quantity.Written{1.5, 0.1, 2}},
		{"18 uA", quantity.Ampere, quantity.Written{18e-6, 1e-6, 2}},
		{"18 \u00b5A", quantity.Ampere, quantity.Written{18e-6, 1e-6, 2}},
		{"18 \u03bcA", quantity.Ampere, quantity.Written{18e-6, 1e-6, 2}},
		{"18 microamps", quantity.Ampere, quantity.Written{18e-6, 1e-6, 2}},
		{"500u", quantity.Ampere, quantity.Written{500e-6, 1e-6, 3}},
		{"1.8e-5", quantity.Ampere, quantity.Written{1.8e-5, 1e-6, 2}},
		{"1,8E-5 A", quantity.Ampere, quantity.Written{1.8e-5, 1e-6, 2}},
		{"250 mW", quantity.Watt, quantity.Written{0.25, 0.001, 3}},

		{"18 µA/div", quantity.AmperePerDivision, quantity.Written{18e-6, 1e-6, 2}},
		{"18.0 uA / division", quantity.AmperePerDivision, quantity.Written{18e-6, 1e-7, 3}},
		{"18 µA per div", quantity.AmperePerDivision, quantity.Written{18e-6, 1e-6, 2}},
		{"18 µA div⁻¹", quantity.AmperePerDivision, quantity.Written{18e-6, 1e-6, 2}},
		{"18 µA", quantity.AmperePerDivision, quantity.Written{18e-6, 1e-6, 2}},
		{"1.877 x 10^-5", quantity.AmperePerDivision, quantity.Written{1.877e-5, 1e-8, 4}},
		{"1.877×10⁻⁵ A/div", quantity.AmperePerDivision, quantity.Written{1.877e-5, 1e-8, 4}},
		{"1.877 × 10⁻⁵ A/div", quantity.AmperePerDivision, quantity.Written{1.877e-5, 1e-8, 4}},
		{"1.877*10^\u22125", quantity.AmperePerDivision, quantity.Written{1.877e-5, 1e-8, 4}},

		{"23.5", quantity.Division, quantity.Written{23.5, 0.1, 3}},
		{"23,5", quantity.Division, quantity.Written{23.5, 0.1, 3}},
		{"23.5 div", quantity.Division, quantity.Written{23.5, 0.1, 3}},
		{"23 1/2", quantity.Division, quantity.Written{23.5, 0.5, 3}},
		{"23½", quantity.Division, quantity.Written{23.5, 0.5, 3}},
		{"23 ¾ divisions", quantity.Division, quantity.Written{23.75, 0.25, 3}},
		{"1/2", quantity.Division, quantity.Written{0.5, 0.5, 1}},
		{"-23 1/2", quantity.Division, quantity.Written{-23.5, 0.5, 3}},
		{"\u221212", quantity.Division, quantity.Written{-12, 1, 2}},
		{"− 12", quantity.Division, quantity.Written{-12, 1, 2}},

		{"-3.5 °C", quantity.Celsius, quantity.Written{-3.5, 0.1, 2}},
		{"22 ℃", quantity.Celsius, quantity.Written{22, 1, 2}},
		{"22 deg C", quantity.Celsius, quantity.Written{22, 1, 2}},
		{"0.5 %", quantity.Percent, quantity.Written{0.5, 0.1, 1}},
		{"0.5 per cent", quantity.Percent, quantity.Written{0.5, 0.1, 1}},
		{"0.1", quantity.Percent, quantity.Written{0.1, 0.1, 1}},
		{"-12.5", quantity.Number, quantity.Written{-12.5, 0.1, 3}},
	}
	for _, tt := range tests {
		t.Run(tt.in+"_"+string(tt.unit), func(t *testing.T) {
			got, err := quantity.ParseWritten(tt.in, tt.unit)
			if err != nil || got != tt.want {
				t.Errorf("ParseWritten(%q, %q) = %+v, %v; want %+v", tt.in, tt.unit, got, err, tt.want)
			}
		})
	}
}

// says lists what a refusal must contain beside the entry.
func TestParseRefuses(t *testing.T) {
	long := strings.Repeat("1", 200)
	tests := []struct {
		in   string
		unit quantity.Unit
		says []string
	}{
		{"", quantity.Ohm, []string{"empty", "ohm", "4k7"}},
		{"   ", quantity.Volt, []string{"empty", "1.5"}},
		{"abc", quantity.Ohm, []string{"number", "4k7"}},
		{"NaN", quantity.Ohm, []string{"number"}},
		{"Inf", quantity.Ohm, []string{"number"}},
		{"-inf", quantity.Division, []string{"number"}},
		{".", quantity.Ohm, []string{"digits"}},
		{"-", quantity.Ohm, []string{"number"}},
		{"0x10", quantity.Ohm, []string{"x10"}},
		{"1_000", quantity.Ohm, []string{"_000"}},
		{"5 V", quantity.Ohm, []string{"unit \"V\"", "ohm"}},
		{"95 Ω", quantity.Volt, []string{"unit", "volt"}},
		{"18 uA/div", quantity.Ampere, []string{"unit", "ampere"}},
		{"23.5 mm", quantity.Division, []string{"mm", "divisions"}},
		{"1.5 V", quantity.AmperePerDivision, []string{"unit \"V\"", "A/div"}},
		{"12 div", quantity.Number, []string{"unit \"div\"", "number"}},
		{"295 K", quantity.Celsius, []string{"prefix", "°C"}},
		{"23 mdiv", quantity.Division, []string{"prefix \"m\"", "divisions"}},
		{"4k", quantity.Division, []string{"prefix \"k\"", "divisions"}},
		{"4k", quantity.Number, []string{"prefix \"k\"", "number"}},
		{"4m7", quantity.Ohm, []string{"m7", "ohm"}},
		{"4.7m", quantity.Ohm, []string{"never mega", "ohm"}},
		{"4.7 hΩ", quantity.Ohm, []string{"hΩ"}},
		{"4k7 kΩ", quantity.Ohm, []string{"kΩ"}},
		{"4K7K", quantity.Ohm, []string{"K\" after the number"}}, // the tolerance letter of IEC 60062
		{"4k7.5", quantity.Ohm, []string{".5"}},
		{"4k7", quantity.Volt, []string{"k7", "volt"}},
		{"4700 ohm please", quantity.Ohm, []string{"after the number", "ohm"}},
		{"4700;", quantity.Ohm, []string{";"}},
		{"1.2.3", quantity.Ohm, []string{"order"}},
		{"1,23,456", quantity.Ohm, []string{"order"}},
		{"1,2345.6", quantity.Ohm, []string{"order"}},
		{"4 70", quantity.Ohm, []string{"order"}},
		{"47 00", quantity.Ohm, []string{"order"}},
		{"1.23 45 6", quantity.Ohm, []string{"order"}},
		{"-90", quantity.Ohm, []string{"negative", "ohm"}},
		{"−1.5", quantity.Volt, []string{"negative"}},
		{"-18 uA", quantity.Ampere, []string{"negative"}},
		{"-1", quantity.Watt, []string{"negative"}},
		{"-1.8e-5", quantity.AmperePerDivision, []string{"negative"}},
		{"1e13", quantity.Ohm, []string{"too large"}},
		{"1e999", quantity.Ohm, []string{"too large"}},
		{"1e99999999999999999999", quantity.Ohm, []string{"too large"}},
		{"1e-999", quantity.Ohm, []string{"too small"}},
		{"1e-9", quantity.Ohm, []string{"too small"}},
		{"2e6", quantity.Division, []string{"too large"}},
		{"-300", quantity.Celsius, []string{"absolute zero"}},
		{long, quantity.Ohm, []string{"too long", "…"}},
		{"23 3/2", quantity.Division, []string{"not below one"}},
		{"1/0", quantity.Division, []string{"not below one"}},
		{"23.5 1/2", quantity.Division, []string{"fraction"}},
		{"4 1/2", quantity.Ohm, []string{"fraction", "divisions only"}},
		{"1e", quantity.Ohm, []string{"e\" after"}},
		{"1.5 x 10", quantity.Volt, []string{"x 10"}},
		{"12\x1b[31m", quantity.Volt, []string{"�[31m"}},
		{"12\u202e", quantity.Volt, []string{"12�"}},
		{"12\xff", quantity.Volt, []string{"volt"}},
		{"12", "Hz", []string{"no unit"}},

		{"4,700", quantity.Ohm, []string{"4700", "4.700"}},
		{"4,700 xyz", quantity.Ohm, []string{"xyz"}},
		{"4,700 kΩ", quantity.Ohm, []string{"4700 kΩ", "4.700 kΩ"}},
		{"12,345", quantity.Volt, []string{"12345", "12.345"}},
		{"1,877e-5", quantity.AmperePerDivision, []string{"1877e-5", "1.877e-5"}},
	}
	for _, tt := range tests {
		t.Run(tt.in+"_"+string(tt.unit), func(t *testing.T) {
			got, err := quantity.ParseWritten(tt.in, tt.unit)
			if err == nil {
				t.Fatalf("ParseWritten(%q, %q) = %+v; want it refused", tt.in, tt.unit, got)
			}
			if got != (quantity.Written{}) {
				t.Errorf("ParseWritten(%q, %q) refused, yet gave %+v", tt.in, tt.unit, got)
			}
			for _, want := range append(tt.says, "expected") {
				if !strings.Contains(err.Error(), want) {
					t.Errorf("ParseWritten(%q, %q): error %q; want it to say %q", tt.in, tt.unit, err, want)
				}
			}
			oneLine(t, err)
		})
	}
}

// oneLine checks that an error may be shown as it is.
func oneLine(t interface {
	Helper()
	Errorf(string, ...any)
}, err error) {
	t.Helper()
	msg := err.Error()
	if utf8.RuneCountInString(msg) > 400 || strings.IndexFunc(msg, func(r rune) bool { return !unicode.IsPrint(r) }) >= 0 {
		t.Errorf("error %q: want one short line that prints", msg)
	}
}

func TestLetterCodes(t *testing.T) {
	data, err := os.ReadFile("testdata/iec60062.txt")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for line := range strings.Lines(string(data)) {
		f := strings.Fields(line)
		if len(f) != 2 || f[0] == "#" {
			continue
		}
		n++
		want, err := strconv.ParseFloat(f[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := quantity.Parse(f[0], quantity.Ohm); err != nil || got != want {
			t.Errorf("Parse(%q) = %v, %v; want %v", f[0], got, err, want)
		}
	}
	if n != 23 {
		t.Errorf("%d codes read; the table has 23", n)
	}
}

// Expected texts were rounded by hand.
func TestFormat(t *testing.T) {
	const ascii, powers = quantity.ASCII, quantity.Powers
	tests := []struct {
		v      float64
		unit   quantity.Unit
		digits int
		style  quantity.Style
		want   string
	}{
		{4700, quantity.Ohm, 2, 0, "4.7 kΩ"},
		{4700, quantity.Ohm, 4, 0, "4.700 kΩ"},
		{4700, quantity.Ohm, 2, ascii, "4.7 kohm"},
		{4700, quantity.Ohm, 4, powers, "4700 Ω"},
		{90.5, quantity.Ohm, 3, 0, "90.5 Ω"},
		{471, quantity.Ohm, 2, 0, "470 Ω"},
		{999.6, quantity.Ohm, 3, 0, "1.00 kΩ"},
		{0.047, quantity.Ohm, 2, 0, "47 mΩ"},
		{4.7e6, quantity.Ohm, 2, 0, "4.7 MΩ"},
		{1.877e-5, quantity.AmperePerDivision, 3, 0, "18.8 µA/div"},
		{1.877e-5, quantity.AmperePerDivision, 3, ascii, "18.8 uA/div"},
		{1.877e-5, quantity.AmperePerDivision, 3, powers, "1.88 × 10⁻⁵ A/div"},
		{1.877e-5, quantity.AmperePerDivision, 3, powers | ascii, "1.88 x 10^-5 A/div"},
		{1.5, quantity.Volt, 3, 0, "1.50 V"},
		{5.63e-4, quantity.Ampere, 3, 0, "563 µA"},
		{2e-16, quantity.Watt, 1, 0, "2 × 10⁻¹⁶ W"},
		{23.46, quantity.Division, 3, 0, "23.5 div"},
		{0.012, quantity.Division, 2, 0, "0.012 div"},
		{-24, quantity.Division, 3, 0, "−24.0 div"},
		{-24, quantity.Division, 3, ascii, "-24.0 div"},
		{1.2e5, quantity.Division, 2, 0, "1.2 × 10⁵ div"},
		{22.5, quantity.Celsius, 3, 0, "22.5 °C"},
		{22.5, quantity.Celsius, 3, ascii, "22.5 degC"},
		{0.5, quantity.Percent, 1, 0, "0.5 %"},
		{0.1234, quantity.Number, 2, 0, "0.12"},
		{2.675, quantity.Number, 3, 0, "2.68"}, // a tie in decimal; the float lies below
		{2.665, quantity.Number, 3, 0, "2.66"}, // a tie in decimal; the float lies above
		{2.5, quantity.Number, 1, 0, "2"},
		{0, quantity.Ohm, 3, 0, "0.00 Ω"},
		{math.Copysign(0, -1), quantity.Division, 1, 0, "0 div"},
		{1.5, quantity.Volt, 0, 0, "2 V"},
		{1.5, quantity.Volt, -5, 0, "2 V"},
		{1e300, quantity.Volt, 2, 0, "1.0 × 10³⁰⁰ V"},
		{5e-324, quantity.Volt, 1, 0, "5 × 10⁻³²⁴ V"},
		{math.NaN(), quantity.Ohm, 3, 0, "unknown"},
		{math.Inf(-1), quantity.Ohm, 3, 0, "unknown"},
	}
	for _, tt := range tests {
		t.Run(tt.want, func(t *testing.T) {
			if got := tt.style.Format(tt.v, tt.unit, tt.digits); got != tt.want {
				t.Errorf("Style(%d).Format(%v, %q, %d) = %q, want %q", tt.style, tt.v, tt.unit, tt.digits, got, tt.want)
			}
		})
	}
	if got, want := quantity.Format(4700, quantity.Ohm, 2), "4.7 kΩ"; got != want {
		t.Errorf("Format(4700, Ω, 2) = %q, want %q", got, want)
	}
}

func TestExact(t *testing.T) {
	tests := []struct {
		v     float64
		unit  quantity.Unit
		style quantity.Style
		want  string
	}{
		{4700, quantity.Ohm, 0, "4\u00a0700 Ω"},
		{4700, quantity.Ohm, quantity.ASCII, "4700 ohm"},
		{820, quantity.Ohm, 0, "820 Ω"},
		{0, quantity.Ohm, 0, "0 Ω"},
		{1234567.25, quantity.Ohm, 0, "1\u00a0234\u00a0567.25 Ω"},
		{-12345, quantity.Division, 0, "−12\u00a0345 div"},
		{-123.5, quantity.Division, 0, "−123.5 div"},
		{1.5, quantity.Volt, 0, "1.5 V"},
		{0.002, quantity.Volt, 0, "0.002 V"},
		{1.8e-5, quantity.AmperePerDivision, 0, "1.8 × 10⁻⁵ A/div"},
		{1e-5, quantity.Number, quantity.ASCII, "1 x 10^-5"},
		{1e15, quantity.Ohm, 0, "1 × 10¹⁵ Ω"},
		{math.NaN(), quantity.Volt, 0, "unknown"},
		{math.Inf(1), quantity.Volt, 0, "unknown"},
	}
	for _, tt := range tests {
		t.Run(tt.want, func(t *testing.T) {
			if got := tt.style.Exact(tt.v, tt.unit); got != tt.want {
				t.Errorf("Style(%d).Exact(%v, %q) = %q, want %q", tt.style, tt.v, tt.unit, got, tt.want)
			}
		})
	}
}

func TestMeasuredString(t *testing.T) {
	const ascii, powers = quantity.ASCII, quantity.Powers
	nan, inf := math.NaN(), math.Inf(1)
	tests := []struct {
		value, u float64
		unit     quantity.Unit
		style    quantity.Style
		want     string
	}{
		// The statement of a result as laboratory manuals have it.
		{90.4972, 1.8737, quantity.Ohm, powers, "(90.5 ± 1.9) Ω"},
		{1.87735e-5, 1.5012e-7, quantity.AmperePerDivision, powers, "(1.877 ± 0.015) × 10⁻⁵ A/div"},
		{1.87735e-5, 1.5012e-7, quantity.AmperePerDivision, powers | ascii, "(1.877 +/- 0.015) x 10^-5 A/div"},
		{1.87735e-5, 1.5012e-7, quantity.AmperePerDivision, 0, "(18.77 ± 0.15) µA/div"},
		{1.87735e-5, 1.5012e-7, quantity.AmperePerDivision, ascii, "(18.77 +/- 0.15) uA/div"},
		// JCGM 100:2008, 7.2.6: 10.057 62 Ω with 27 mΩ is 10.058 Ω.
		{10.05762, 0.027, quantity.Ohm, 0, "(10.058 ± 0.027) Ω"},
		// By hand:
		{90.4972, 1.8737, quantity.Ohm, ascii, "(90.5 +/- 1.9) ohm"},
		{1234, 40, quantity.Ohm, 0, "(1.23 ± 0.04) kΩ"},
		{1234, 40, quantity.Ohm, powers, "(1.23 ± 0.04) × 10³ Ω"},
		{471, 38, quantity.Ohm, 0, "(0.47 ± 0.04) kΩ"},
		{200, 40, quantity.Division, 0, "(2.0 ± 0.4) × 10² div"},
		{-12.04, 0.3, quantity.Division, 0, "(−12.0 ± 0.3) div"},
		{0.999, 0.04, quantity.Volt, 0, "(1.00 ± 0.04) V"},
		{0, 1.2e-5, quantity.Ampere, 0, "(0 ± 12) µA"},
		{0.001, 1.2e3, quantity.Volt, 0, "(0.0 ± 1.2) kV"},
		{1.5, 0.0213, quantity.Number, 0, "1.500 ± 0.021"},
		{22.5, 0.5, quantity.Celsius, ascii, "(22.5 +/- 0.5) degC"},
		{1e-300, 1e300, quantity.Volt, powers, "(0.0 ± 1.0) × 10³⁰⁰ V"},
		{5e-324, 5e-324, quantity.Volt, powers, "(5 ± 5) × 10⁻³²⁴ V"},
		// What is not known.
		{90.5, 0, quantity.Ohm, 0, "90.5 Ω"},
		{90.5, 1e-300, quantity.Ohm, 0, "90.5 Ω"},
		{90.4972, nan, quantity.Ohm, 0, "90.50 Ω (uncertainty unknown)"},
		{90.4972, inf, quantity.Ohm, 0, "90.50 Ω (uncertainty unknown)"},
		{90.4972, -1, quantity.Ohm, 0, "90.50 Ω (uncertainty unknown)"},
		{nan, 1, quantity.Ohm, 0, "unknown"},
		{inf, 1, quantity.Ohm, 0, "unknown"},
		{nan, nan, quantity.Ohm, powers, "unknown"},
	}
	for _, tt := range tests {
		t.Run(tt.want, func(t *testing.T) {
			m := quantity.Measured{Value: tt.value, U: tt.u, Unit: tt.unit}
			if got := tt.style.Measured(m); got != tt.want {
				t.Errorf("Style(%d).Measured(%+v) = %q, want %q", tt.style, m, got, tt.want)
			}
			if got := m.String(); tt.style == powers && got != tt.want {
				t.Errorf("%+v: String() = %q, want %q", m, got, tt.want)
			}
		})
	}
}

func TestRounded(t *testing.T) {
	tests := []struct {
		value, u         float64
		wantValue, wantU float64
		wantDecimals     int
	}{
		// JCGM 100:2008, 7.2.6, from memory. Its 10.47 mΩ, raised to 11 there
		// as an example of what "may be appropriate", loses 4.5 % and stays
		// at 10 under the 5 % rule.
		{100, 28.05, 100, 28, 0},
		{100, 10.47, 100, 10, 0},
		{10.05762, 0.027, 10.058, 0.027, 3},
		// By hand.
		{90.4972, 1.8737, 90.5, 1.9, 1},
		{90.45, 0.3, 90.4, 0.3, 1}, // a tie goes to the even digit
		{90.55, 0.3, 90.6, 0.3, 1},
		{5, 0.315, 5.0, 0.3, 1},    // loses 4.8 %
		{5, 0.316, 5.0, 0.4, 1},    // would lose 5.1 %
		{5, 0.0944, 5.0, 0.09, 2},  // loses 4.7 %
		{5, 0.0949, 5.0, 0.10, 2},  // would lose 5.2 %; the place stays
		{5, 0.0296, 5.0, 0.030, 3}, // two figures, since the first is 2
		{5, 0.0995, 5.0, 0.10, 2},
		{1234, 40, 1230, 40, -1},
		{1250, 300, 1200, 300, -2}, // a tie goes to the even digit
		{-1.25, 0.3, -1.2, 0.3, 1},
		{0.04, 3, 0, 3, 0},
		{0.6, 3, 1, 3, 0},
	}
	for _, tt := range tests {
		m := quantity.Measured{Value: tt.value, U: tt.u}
		value, u, decimals, ok := m.Rounded()
		if !ok || value != tt.wantValue || u != tt.wantU || decimals != tt.wantDecimals {
			t.Errorf("%+v: Rounded() = %v, %v, %d, %v; want %v, %v, %d, true",
				m, value, u, decimals, ok, tt.wantValue, tt.wantU, tt.wantDecimals)
		}
	}
	for _, u := range []float64{0, -1, math.NaN(), math.Inf(1), 1e-20} {
		if value, _, _, ok := (quantity.Measured{Value: 1.5, U: u}).Rounded(); ok || value != 1.5 {
			t.Errorf("Rounded() with u = %v: %v, %v; want 1.5, false", u, value, ok)
		}
	}
}

// units are all units and whether they may be negative.
var units = map[quantity.Unit]bool{
	quantity.Number: true, quantity.Volt: false, quantity.Ampere: false, quantity.Ohm: false, quantity.Watt: false,
	quantity.Division: true, quantity.AmperePerDivision: false, quantity.Celsius: true, quantity.Percent: true,
}

// drawn makes a unit and a value that it may have.
func drawn(t *rapid.T) (float64, quantity.Unit) {
	all := []quantity.Unit{
		quantity.Number, quantity.Volt, quantity.Ampere, quantity.Ohm, quantity.Watt,
		quantity.Division, quantity.AmperePerDivision, quantity.Celsius, quantity.Percent,
	}
	unit := rapid.SampledFrom(all).Draw(t, "unit")
	v := rapid.Float64Range(1, 10).Draw(t, "mantissa") * math.Pow10(rapid.IntRange(-6, 5).Draw(t, "exponent"))
	if units[unit] && rapid.Bool().Draw(t, "negative") {
		v = -v
	}
	if unit == quantity.Celsius {
		v = math.Mod(v, 273)
	}
	if math.Abs(v) < 1e-6 {
		v = 0
	}
	return v, unit
}

func TestPrintedIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v, unit := drawn(t)
		style := quantity.Style(rapid.IntRange(0, 3).Draw(t, "style"))
		for _, text := range []string{style.Format(v, unit, 17), style.Exact(v, unit)} {
			got, err := quantity.Parse(text, unit)
			if err != nil || got != v {
				t.Fatalf("%v printed as %q reads %v, %v; want the same", v, text, got, err)
			}
		}
	})
}

// The rounded uncertainty is never more than 5 % below the stated one, nor the
// value more than half a unit of the last place from the stated one.
func TestRoundedStaysNear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v, unit := drawn(t)
		u := rapid.Float64Range(1, 10).Draw(t, "u") * math.Pow10(rapid.IntRange(-6, 5).Draw(t, "u exponent"))
		value, up, decimals, ok := quantity.Measured{Value: v, U: u, Unit: unit}.Rounded()
		if !ok {
			t.Fatalf("%v ± %v is not rounded", v, u)
		}
		place := math.Pow10(-decimals)
		if up < 0.95*u*(1-1e-12) || up > 1.5*u || math.Abs(value-v) > 0.5*place*(1+1e-9)+1e-15*math.Abs(v) {
			t.Fatalf("%v ± %v rounded to %v ± %v", v, u, value, up)
		}
	})
}

func TestMeasuredNeverPanics(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := quantity.Measured{Value: rapid.Float64().Draw(t, "value"), U: rapid.Float64().Draw(t, "u")}
		m.Unit = rapid.SampledFrom([]quantity.Unit{"", "Ω", "A/div", "div", "no such unit"}).Draw(t, "unit")
		for style := range quantity.Style(4) {
			text := style.Measured(m) + style.Format(m.Value, m.Unit, 3) + style.Exact(m.U, m.Unit)
			if strings.Contains(text, "NaN") || strings.Contains(text, "Inf") || len(text) > 400 {
				t.Fatalf("%+v prints as %q", m, text)
			}
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{
		"4700", "4.7k", "4k7", "R47", "1.5 V", "18 µA/div", "1.877×10⁻⁵ A/div", // plain and letter codes
		"4,700", "4.700,5", "1,234,567", "23½", "23 1/2", // separators and fractions
		"-", ".", ",", "e", "1e", "1e999", "1e-999", "NaN", "1/0", "⁻", "x10^5", "\xff", "", // the edges
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for unit, signed := range units {
			w, err := quantity.ParseWritten(s, unit)
			if err != nil {
				oneLine(t, err)
				continue
			}
			if math.IsNaN(w.Value) || math.IsInf(w.Value, 0) || !signed && w.Value < 0 || w.LastDigit <= 0 || w.Digits < 1 {
				t.Errorf("ParseWritten(%q, %q) = %+v", s, unit, w)
			}
			text := quantity.Style(0).Exact(w.Value, unit)
			if again, err := quantity.Parse(text, unit); err != nil || again != w.Value {
				t.Errorf("%q reads %v, printed as %q reads %v, %v", s, w.Value, text, again, err)
			}
		}
	})
}

func BenchmarkParse(b *testing.B) {
	for b.Loop() {
		if _, err := quantity.ParseWritten("1.877 × 10⁻⁵ A/div", quantity.AmperePerDivision); err != nil {
			b.Fatal(err)
		}
	}
}
