package safety

import (
	"slices"
	"strings"
	"testing"

	"example.org/halve/physics/convert"
	"example.org/halve/physics/preferred"
)

// TestConversionCautions: what is said, and what is left unsaid, for meters of
// a movement of 92.5 Ω and 0.555 mA. The limits are those of convert.go.
func TestConversionCautions(t *testing.T) {
	m := convert.Movement{Resistance: 92.5, FullScale: 0.000555}
	tests := []struct {
		name   string
		kind   convert.Kind
		ranges []float64
		said   []string
		unsaid []string
		words  string
	}{
		{"a small ammeter", convert.Ammeter, []float64{0.5}, []string{"shunt-order", "mains", "no-ohmmeter", "old-dials"}, []string{"touch", "hot-shunt", "make-before-break", "working-voltage"}, "comes off last"},
		{"10 A", convert.Ammeter, []float64{10}, []string{"hot-shunt"}, nil, "burn fingers"},
		{"9 A", convert.Ammeter, []float64{9}, nil, []string{"hot-shunt"}, ""},
		{"two separate shunts", convert.Ammeter, []float64{1, 2}, []string{"make-before-break"}, []string{"moving-arm"}, "bare"},
		{"universal", convert.Universal, []float64{1, 2}, []string{"moving-arm", "shunt-order"}, []string{"make-before-break"}, "stays across"},
		{"30 V", convert.Voltmeter, []float64{30}, []string{"mains", "no-ohmmeter"}, []string{"touch", "shunt-order"}, ""},
		{"31 V", convert.Voltmeter, []float64{31}, []string{"touch"}, nil, ""},
		{"50 V", convert.Voltmeter, []float64{50}, []string{"touch", "mains", "working-voltage"}, nil, "above 30 V alternating"},
		{"60 V", convert.Voltmeter, []float64{60}, []string{"touch"}, nil, "above 30 V alternating"},
		{"61 V", convert.Voltmeter, []float64{5, 61}, []string{"touch", "mains", "working-voltage"}, nil, "above 60 V direct or 30 V alternating"},
		{"limits from memory", convert.Voltmeter, []float64{61}, []string{"touch"}, nil, "from memory"},
		{"1000 V", convert.Voltmeter, []float64{1000}, []string{"working-voltage"}, nil, "at least 5 equal ones in series"},
		{"300 V", convert.Voltmeter, []float64{300}, nil, nil, "at least 2 equal ones in series"},
		// 401 V less the movement's 0.05 V over 200 V: three.
		{"401 V", convert.Voltmeter, []float64{401}, nil, nil, "at least 3 equal ones in series"},
		// In a chain no section has more than 200 V across it.
		{"a chain", convert.Chain, []float64{150, 300}, []string{"touch"}, nil, "up to 150 V here"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			d, err := convert.New(tt.kind, m, preferred.E24, tt.ranges)
			if err != nil {
				t.Fatal(err)
			}
			var ids []string
			text := ""
			for _, c := range ConversionCautions(d) {
				ids = append(ids, c.ID)
				text += c.Text + "\n"
			}
			for _, id := range tt.said {
				if !slices.Contains(ids, id) {
					t.Errorf("%s is not said: %v", id, ids)
				}
			}
			for _, id := range tt.unsaid {
				if slices.Contains(ids, id) {
					t.Errorf("%s is said without need: %v", id, ids)
				}
			}
			if !strings.Contains(text, tt.words) {
				t.Errorf("%q is not in\n%s", tt.words, text)
			}
		})
	}
}

// TestHotShunt: a shunt that takes 1 W is said to get hot, whatever its current:
// a movement of 500 Ω and 1 mA has 0.5 V across it, so (I − 1 mA) · 0.5 V.
func TestHotShunt(t *testing.T) {
	for amperes, hot := range map[float64]bool{1.9: false, 2.1: true} {
		d, err := convert.New(convert.Ammeter, convert.Movement{Resistance: 500, FullScale: 1e-3}, preferred.E24, []float64{0.1, amperes})
		if err != nil {
			t.Fatal(err)
		}
		if got := slices.ContainsFunc(ConversionCautions(d), func(c Caution) bool { return c.ID == "hot-shunt" }); got != hot {
			t.Errorf("%g A: said to get hot: %t, want %t", amperes, got, hot)
		}
	}
}
