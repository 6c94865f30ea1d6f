package formula

import (
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// show writes a formula with its structure made plain, for the tests.
func show(n Node) string {
	var kids []string
	for _, k := range n.Kids {
		kids = append(kids, show(k))
	}
	in := strings.Join(kids, " ")
	switch n.Kind {
	case Row:
		return strings.ReplaceAll(in, times, "*")
	case Variable:
		return n.Text
	case Word:
		return "'" + n.Text + "'"
	case Fence:
		return "(" + in + ")"
	case Fraction:
		return "{" + kids[0] + " over " + kids[1] + "}"
	case Root:
		return "root[" + in + "]"
	case Script:
		s := kids[0]
		if kids[1] != "" {
			s += "_" + kids[1]
		}
		if kids[2] != "" {
			s += "^" + kids[2]
		}
		return s
	}
	return n.Text
}

func TestParse(t *testing.T) {
	tests := []struct{ in, want string }{
		{"", ""},
		{"G", "G"},
		{"R′ = R + r", "R′ = R + r"},
		{"E / (R′ + G)", "{E over R′ + G}"},
		{"G = R′ S (1 − ρ) / (ρ (R′ + S) − S)", "G = {R′ * S * (1 − ρ) over ρ * (R′ + S) − S}"},
		{"ρ = θ₂/θ₁ = S / (S + P)", "ρ = {θ_2 over θ_1} = {S over S + P}"},
		{"I_g N k", "I_'g' * N * k"},
		{"R = (E / k) × (1 / θ) − (G + r)", "R = {E over k} × {1 over θ} − (G + r)"},
		{"k = 1.46 V / ((3150.9 Ω + 90.53 Ω) × 24 div)", "k = {1.46 'V' over (3150.9 'Ω' + 90.53 'Ω') × 24 'div'}"},
		{"1.877 × 10⁻⁵ A/div", "1.877 × 10^−5 'A/div'"},
		{"(24 − 12) / 12", "{24 − 12 over 12}"},
		{"√(a² + b²)", "root[a^2 + b^2]"},
		{"G / (n − 1),   x", "{G over n − 1} , x"},
		{"100 % × e", "100 '%' × e"},
		{"E V", "E * V"}, // no number before it: a quantity
		{"a / b / c", "{{a over b} over c}"},
		{"-x", "− x"},
		{"u₁₂²", "u_12^2"},
		{"EE/(E", "{'EE' over E}"},
		{"(G / R′)² R", "({G over R′})^2 * R"},
		{"3\u00a0150.9 Ω", "3\u00a0150.9 'Ω'"},
		// What makes no sense stands as it is.
		{"((a", "((a))"},
		{"a / ", "a /"},
		{"a × ", "a ×"},
		{")", ")"},
		{"/", "/"},
		{"<b>", "< b >"},
	}
	for _, tt := range tests {
		t.Run(tt.in, func(t *testing.T) {
			if got := show(Parse(tt.in)); got != tt.want {
				t.Errorf("Parse(%q) = %q; want %q", tt.in, got, tt.want)
			}
		})
	}
}

func TestMathML(t *testing.T) {
	tests := []struct{ in, want string }{
		{"θ₂/θ₁", "<math><mfrac><msub><mi>θ</mi><mn>2</mn></msub><msub><mi>θ</mi><mn>1</mn></msub></mfrac></math>"},
		{"3 Ω", `<math><mrow><mn>3</mn><mspace width="0.17em"></mspace><mi mathvariant="normal">Ω</mi></mrow></math>`},
		{"= x", `<math><mrow><mo form="infix">=</mo><mi>x</mi></mrow></math>`}, // it goes on from the line before
		{"a, b", `<math><mrow><mi>a</mi><mo>,</mo><mspace width="1.5em"></mspace><mi>b</mi></mrow></math>`},
		{"a <x", "<math><mrow><mi>a</mi><mo>&lt;</mo><mi>x</mi></mrow></math>"},
		{"R (a)", `<math><mrow><mi>R</mi><mo>` + times + `</mo><mrow><mo stretchy="false">(</mo><mi>a</mi><mo stretchy="false">)</mo></mrow></mrow></math>`},
		{"(a / b + c)", "<math><mrow><mo>(</mo><mrow><mfrac><mi>a</mi><mi>b</mi></mfrac><mo>+</mo><mi>c</mi></mrow><mo>)</mo></mrow></math>"},
	}
	for _, tt := range tests {
		t.Run(tt.in, func(t *testing.T) {
			if got := Parse(tt.in).MathML(false); got != tt.want {
				t.Errorf("MathML of %q\ngot  %s\nwant %s", tt.in, got, tt.want)
			}
		})
	}
}

// wellFormed reports what is wrong with a piece of XML.
func wellFormed(s string) error {
	d := xml.NewDecoder(strings.NewReader(s))
	for {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
	}
}

// leaves is every character of a formula's leaves, the unseen sign apart.
func leaves(n Node) string {
	s := n.Text
	for _, k := range n.Kids {
		s += leaves(k)
	}
	return strings.ReplaceAll(s, times, "")
}

// TestAnyText: every text is a formula; none of its letters and digits is lost,
// and its MathML is well-formed.
func TestAnyText(t *testing.T) {
	sign := rapid.SampledFrom([]rune("EGkθρ₁₂²⁻_/() +−×=√½Ω3.7′<&\"%"))
	rapid.Check(t, func(t *rapid.T) {
		in := string(rapid.SliceOfN(sign, 0, 40).Draw(t, "text"))
		n := Parse(in)
		if err := wellFormed(n.MathML(true)); err != nil {
			t.Fatalf("MathML of %q: %v\n%s", in, err, n.MathML(true))
		}
		got := leaves(n)
		for _, r := range "EGkθρΩ37" {
			if strings.Count(got, string(r)) != strings.Count(in, string(r)) {
				t.Fatalf("Parse(%q) keeps %q: %q is not there as often as it was", in, got, r)
			}
		}
	})
}

func FuzzParse(f *testing.F) {
	f.Add("G = R′ S (1 − ρ) / (ρ (R′ + S) − S)")
	f.Add(strings.Repeat("(", 100))
	f.Fuzz(func(t *testing.T, in string) {
		Parse(in)
	})
}
