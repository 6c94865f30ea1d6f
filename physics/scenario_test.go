package physics

import (
	"encoding/json"
	"math"
	"os"
	"testing"
)

// TestForwardScenario is scenario D7 (testdata/reference/scenarios.json, its
// README names the source; worked with ngspice there): a bench read with a
// trial shunt, the shunt that follows from it, and the exact halving shunt, to
// the six digits given.
func TestForwardScenario(t *testing.T) {
	raw, err := os.ReadFile("../testdata/reference/scenarios.json")
	if err != nil {
		t.Fatal(err)
	}
	var all []struct {
		ID       string
		Inputs   json.RawMessage // each scenario has its own
		Expected map[string]any
	}
	if err := json.Unmarshal(raw, &all); err != nil {
		t.Fatal(err)
	}
	for _, s := range all {
		if s.ID != "D7" {
			continue
		}
		var in struct {
			EMF      float64 `json:"E_V"`
			Source   float64 `json:"r_ohm"`
			Series   float64 `json:"R_ohm"`
			Movement float64 `json:"G_ohm"`
			Merit    float64 `json:"k"`
		}
		if err := json.Unmarshal(s.Inputs, &in); err != nil {
			t.Fatal(err)
		}
		must := func(v float64, err error) float64 {
			t.Helper()
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		all := in.Series + in.Source
		shunted := func(ohm float64) float64 { return must(ShuntedDeflection(in.EMF, all, in.Movement, ohm, in.Merit)) }
		first, half := must(FirstDeflection(in.EMF, all, in.Movement, in.Merit)), must(HalvingShunt(all, in.Movement))
		for name, got := range map[string]float64{
			"theta1": first, "theta2_trial60": shunted(60), "S_next_from_trial": must(TheveninResistance(60, first, shunted(60))),
			"theta2_S107": shunted(107), "S_half": half, "theta2_S_half": shunted(half),
			"G_if_107_called_half": must(Resistance(all, 107, first, first/2)), "G_from_ratio_107": must(Resistance(all, 107, first, shunted(107))),
		} {
			want, ok := s.Expected[name].(float64)
			if !ok || math.Abs(got/want-1) > 5e-6 { // six digits
				t.Errorf("%s = %.6g, want %v", name, got, s.Expected[name])
			}
		}
		return
	}
	t.Fatal("no scenario D7")
}
