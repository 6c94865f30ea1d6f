package conversion

import (
	"strings"
	"testing"

	"example.org/halve/physics/convert"
)

// wanted is a meter of the movement of scenario D8 of testdata/reference.
func wanted(t *testing.T, kind convert.Kind, ranges ...float64) (Wanted, convert.Design) {
	t.Helper()
	w, err := Usual(kind)
	if err != nil {
		t.Fatal(err)
	}
	w.Movement, w.Ranges = convert.Movement{Resistance: 92.5, FullScale: 555e-6}, ranges
	d, err := w.Design()
	if err != nil {
		t.Fatal(err)
	}
	return w, d
}

// TestEntries: how a rise and an error that is left are read.
func TestEntries(t *testing.T) {
	for _, c := range []struct {
		name string
		read func(string) (float64, error)
		text string
		want float64 // 0 for a refusal
	}{
		{"rise", ParseRise, "10", 10}, {"rise", ParseRise, "10 K", 10}, {"rise", ParseRise, "2,5k", 2.5}, {"rise", ParseRise, "100", 100},
		{"rise", ParseRise, "0", 0}, {"rise", ParseRise, "-5", 0}, {"rise", ParseRise, "100.1", 0}, {"rise", ParseRise, "ten", 0}, {"rise", ParseRise, "", 0},
		{"within", ParseWithin, "0.5", 0.005}, {"within", ParseWithin, "1 %", 0.01}, {"within", ParseWithin, "49", 0.49},
		{"within", ParseWithin, "50", 0}, {"within", ParseWithin, "0", 0}, {"within", ParseWithin, "-1", 0}, {"within", ParseWithin, "1 V", 0},
	} {
		v, err := c.read(c.text)
		if (err == nil) != (c.want > 0) || err == nil && v != c.want || err != nil && strings.Contains(err.Error(), "\n") {
			t.Errorf("%s %q is %v, %v; want %v", c.name, c.text, v, err, c.want)
		}
	}
}

// TestTable: so many ranges beside each other, then the others below; wire for
// what is wound, "-" for what is a resistor, and none where nothing is wound.
func TestTable(t *testing.T) {
	w, d := wanted(t, convert.Ammeter, 0.001, 0.5, 3)
	text := strings.Join(strings.Fields(strings.Join(w.Table(d, 2), " ")), " ")
	if strings.Count(text, "shunt, exact") != 2 || !strings.Contains(text, "0 to 3.00 A") {
		t.Errorf("two and one were asked for:\n%s", text)
	}
	// 1 mA: 115 Ω are no work for wire; 0.5 A: 92.8 mm of SWG 22, by hand in
	// package convert.
	if !strings.Contains(text, "manganin wire - SWG 22") || !strings.Contains(text, "length - 92.8 mm") {
		t.Errorf("the wire is not as it should be:\n%s", text)
	}
	if w, d := wanted(t, convert.Voltmeter, 5); strings.Contains(strings.Join(w.Table(d, 3), "\n"), "wire") {
		t.Error("a multiplier is wound of wire")
	}
}

// TestRemarks: what is loaded by more than 1 % is said, and wire that warms.
func TestRemarks(t *testing.T) {
	w, d := wanted(t, convert.Voltmeter, 5) // 9.01 kΩ
	for source, said := range map[float64]bool{80: false, 100: true} {
		w.Source = source
		if got := strings.Contains(strings.Join(w.Remarks(d), " "), "by more than 1 %"); got != said {
			t.Errorf("on %g Ω: said %t, want %t", source, got, said)
		}
	}
	w, d = wanted(t, convert.Ammeter, 1)
	for gauge, said := range map[string]bool{"SWG 20": false, "SWG 24": true} { // 1.5 and 4.1 A/mm²
		g, err := convert.ParseGauge(gauge)
		if err != nil {
			t.Fatal(err)
		}
		w.Gauge = &g
		if got := strings.Contains(strings.Join(w.Remarks(d), " "), "will warm"); got != said {
			t.Errorf("%s at 1 A: said %t, want %t", gauge, got, said)
		}
	}
}
