package procedure

import (
	"testing"

	"example.org/halve/physics/apparatus"
)

func TestChance(t *testing.T) {
	for _, tc := range []struct {
		p    float64
		want string
	}{{1, ""}, {0.9999, "more than 99 %"}, {0.991, "more than 99 %"}, {0.99, "99 %"}, {0.934, "93 %"}, {0.01, "1 %"}, {0.004, "less than 1 %"}, {0, "less than 1 %"}} {
		if got := Chance(tc.p); got != tc.want {
			t.Errorf("%g: got %q, want %q", tc.p, got, tc.want)
		}
	}
}

// TestPlugs: how a box is brought to a setting, in words.
func TestPlugs(t *testing.T) {
	plug := apparatus.Box{Kind: apparatus.Plug, Coils: []float64{100, 50, 20}}
	dial := apparatus.Box{Kind: apparatus.Decade, Dials: []float64{100, 10}}
	for _, tc := range []struct {
		box   apparatus.Box
		ohm   float64
		coils []float64
		want  string
	}{
		{plug, 0, nil, "Put all plugs of the series box in: 0\u00a0Ω"},
		{plug, 170, []float64{100, 50, 20}, "Take all plugs out of the series box: 170\u00a0Ω"},
		{plug, 120, []float64{100, 20}, "In the series box take out 100 and 20: 120\u00a0Ω, all other plugs in and pressed firm"},
		{dial, 0, nil, "Set the series box to 0\u00a0Ω (all dials at 0)"},
		{dial, 210, []float64{100, 100, 10}, "Set the series box to 210\u00a0Ω (2 × 100, 1 × 10)"},
	} {
		if got := plugs("series", tc.box, apparatus.Setting{Ohm: tc.ohm, Coils: tc.coils}); got != tc.want {
			t.Errorf("%g ohm: got %q, want %q", tc.ohm, got, tc.want)
		}
	}
}
