package plain

import (
	"strings"
	"testing"

	"example.org/halve/procedure/notes"
)

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
		{"-24 div, between -25.5 and -.5", "minus 24 divisions, between minus 25.5 and minus .5"},
		{"(-3) and 30-0-30", "(minus 3) and 30-0-30"},
		{"−0.5 div", "minus 0.5 divisions"},
	}
	for _, tt := range tests {
		if got := spell(tt.in); got != tt.want {
			t.Errorf("spell(%q) = %q, want %q", tt.in, got, tt.want)
		}
	}
}

// The formulas of the notes, read out.
func TestFormula(t *testing.T) {
	tests := []struct{ in, want string }{
		{"P = R′ G / (R′ + G)", "P equals R prime times G divided by open bracket R prime plus G close bracket"},
		{"ρ = θ₂/θ₁ = S / (S + P)", "ratio equals shunted deflection divided by first deflection equals S divided by open bracket S plus P close bracket"},
		{"i₁ = E / (R′ + G),   R′ = R + r", "i 1 equals E divided by open bracket R prime plus G close bracket, R prime equals R plus small r"},
		{"G = R′ S (1 − ρ) / (ρ (R′ + S) − S)", "G equals R prime times S times open bracket 1 minus ratio close bracket divided by open bracket ratio times open bracket R prime plus S close bracket minus S close bracket"},
		{"k = E / ((R′ + G) θ₁)", "k equals E divided by open bracket open bracket R prime plus G close bracket times first deflection close bracket"},
		{"R′ = 3150 Ω + 0.9 Ω = 3150.9 Ω", "R prime equals 3150 ohm plus 0.9 ohm equals 3150.9 ohm"},
		{"k = 1.46 V / (3241 Ω × 24 div) = 1.877 × 10⁻⁵ A/div", "k equals 1.46 volt divided by open bracket 3241 ohm times 24 divisions close bracket equals 1.877 times 10 to the power minus 5 ampere per division"},
		{"I_g = N k,   V_g = I_g G", "I g equals N times k, V g equals I g times G"},
		{"e = 100 % × (indicated − true) / fiducial", "e equals 100 percent times open bracket indicated minus true close bracket divided by fiducial"},
	}
	for _, tt := range tests {
		if got := spell(formula(tt.in)); got != tt.want {
			t.Errorf("formula(%q)\n got %q\nwant %q", tt.in, got, tt.want)
		}
	}
}

// Formulas within a text are read out, and the text beside them is left alone.
func TestInText(t *testing.T) {
	tests := []struct{ in, want string }{
		{"the uncertainty of G goes as 1/θ. At 14 divisions", "the uncertainty of G goes as 1 divided by deflection. At 14 divisions"},
		{"k needs G in its denominator, k = E / ((R′ + G) θ). Left out, k comes out high by G/R′.",
			"k needs G in its denominator, k equals E divided by open bracket open bracket R prime plus G close bracket times deflection close bracket. Left out, k comes out high by G divided by R prime."},
		{"as R′ + G rises, so", "as R prime plus G rises, so"},
		{"K1, R and G in a loop (see below)", "K1, R and G in a loop (see below)"},
		{"giving S for G (low by G/(R′ + G)); reading", "giving S for G (low by G divided by open bracket R prime plus G close bracket); reading"},
		{"G ± u: one standard uncertainty, to 95 %", "G plus or minus u: one standard uncertainty, to 95 percent"},
		{"a 30-0-30 scale", "a 30-0-30 scale"},
	}
	for _, tt := range tests {
		if got := spell(inText(tt.in)); got != tt.want {
			t.Errorf("inText(%q)\n got %q\nwant %q", tt.in, got, tt.want)
		}
	}
}

// Every note can be heard: plain ASCII, no signs of Markdown, no sign that a
// reader passes over.
func TestNotesAloud(t *testing.T) {
	for _, topic := range notes.Topics() {
		markdown, _ := notes.Text(topic.Name)
		lines := aloud(markdown)
		if len(lines) < 5 {
			t.Errorf("%s: only %d lines", topic.Name, len(lines))
		}
		for _, l := range lines {
			if strings.ContainsFunc(l, func(r rune) bool { return r < ' ' || r > '~' }) || strings.ContainsAny(l, "*`_#|=+") {
				t.Errorf("%s: %q", topic.Name, l)
			}
		}
	}
}

func TestPlainly(t *testing.T) {
	for in, want := range map[string]string{
		"emf_V lies between 1e-06 and 1000 V, not 2000":       "the EMF lies between 1e-06 and 1000 V, not 2000",
		"div lies between -1000 and 1000 divisions, not 5000": "a reading lies between -1000 and 1000 divisions, not 5000",
		"series_box: coils_ohm is missing":                    "the series box: the list of coils is missing",
		"the scale ends at 30 divisions: 31 is beyond it":     "the scale ends at 30 divisions: 31 is beyond it",
		"u_emf_V lies between 0 and 1000 V, not 1e+06":        "the standard uncertainty of the EMF lies between 0 and 1000 V, not 1e+06",
	} {
		if got := plainly(in); got != want {
			t.Errorf("plainly(%q) = %q, want %q", in, got, want)
		}
	}
}

// TestHundredths: a row's deflection after a zero that drifted is said as a
// person could have read it.
func TestHundredths(t *testing.T) {
	for v, want := range map[float64]string{24.7162: "24.72", 24: "24", 12.5: "12.5", 12.249999: "12.25"} {
		if got := hundredths(v); got != want {
			t.Errorf("%g: got %q, want %q", v, got, want)
		}
	}
}
