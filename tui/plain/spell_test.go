package plain

import "testing"

func TestSpell(t *testing.T) {
	tests := []struct{ in, want string }{
		{"4\u00a0700 Ω", "4700 ohm"},
		{"11\u00a0110\u00a0Ω", "11110 ohm"},
		{"1\u00a0234\u00a0567 Ω", "1234567 ohm"},
		{"4.7 kΩ", "4.7 kilo-ohm"},
		{"1.5 V", "1.5 volt"},
		{"18 µA", "18 micro-ampere"},
		{"18 \u03bcA/div", "18 micro-ampere per division"},
		{"(90.5 ± 1.9) Ω", "90.5 plus or minus 1.9 ohm"},
		{"24 div", "24 divisions"},
		{"(1.877 ± 0.015) × 10⁻⁵ A/div", "1.877 plus or minus 0.015 times 10 to the power minus 5 ampere per division"},
		{"8 × 1000, 2 × 100", "8 times 1000, 2 times 100"},
		{"27 °C", "27 degrees Celsius"},
		{"0.1 %", "0.1 percent"},
		{"A plug and V", "A plug and V"},
		{"row 3 and 4 more", "row 3 and 4 more"},
		{"R ≥ 1 kΩ", "R at least 1 kilo-ohm"},
		{"the “end” – or so", `the "end", or so`},
	}
	for _, tt := range tests {
		if got := spell(tt.in); got != tt.want {
			t.Errorf("spell(%q) = %q, want %q", tt.in, got, tt.want)
		}
	}
}

func TestSpoken(t *testing.T) {
	tests := []struct {
		div  float64
		want string
	}{
		{0, "0"}, {24, "24"}, {23.5, "23 and a half"}, {-12.25, "minus 12 and a quarter"},
		{0.75, "three quarters"}, {-0.5, "minus a half"}, {7.2, "7.2"}, {-7.2, "minus 7.2"},
	}
	for _, tt := range tests {
		if got := spoken(tt.div); got != tt.want {
			t.Errorf("spoken(%g) = %q, want %q", tt.div, got, tt.want)
		}
	}
}
