package physics

import (
	"math"
	"os"
	"testing"

	"example.org/halve/physics/published"
)

// TestForwardScenario is scenario D7 (testdata/reference/scenarios.json, its
// README names the source; worked with ngspice there): a bench read with a
// trial shunt, the shunt that follows from it, and the exact halving shunt, to
// the six digits given.
func TestForwardScenario(t *testing.T) {
	d := published.Scenario[struct {
		Inputs struct {
			EMF      float64 `json:"E_V"`
			Source   float64 `json:"r_ohm"`
			Series   float64 `json:"R_ohm"`
			Movement float64 `json:"G_ohm"`
			Merit    float64 `json:"k"`
		}
		Expected map[string]any
	}](t, os.DirFS("../testdata/reference"), "D7")
	in, ok := d.Inputs, must(t)
	all := in.Series + in.Source
	shunted := func(ohm float64) float64 { return ok(ShuntedDeflection(in.EMF, all, in.Movement, ohm, in.Merit)) }
	first, half := ok(FirstDeflection(in.EMF, all, in.Movement, in.Merit)), halving(all, in.Movement)
	for name, got := range map[string]float64{
		"theta1": first, "theta2_trial60": shunted(60), "S_next_from_trial": ok(TheveninResistance(60, first, shunted(60))),
		"theta2_S107": shunted(107), "S_half": half, "theta2_S_half": shunted(half),
		"G_if_107_called_half": ok(Resistance(all, 107, first, first/2)), "G_from_ratio_107": ok(Resistance(all, 107, first, shunted(107))),
	} {
		want, there := d.Expected[name].(float64)
		if !there || math.Abs(got/want-1) > 5e-6 { // six digits
			t.Errorf("%s = %.6g, want %v", name, got, d.Expected[name])
		}
	}
}
