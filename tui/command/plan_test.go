package command_test

import (
	"encoding/json"
	"math"
	"slices"
	"testing"

	"example.org/halve/physics/apparatus"
	"example.org/halve/procedure"
)

// What practices reach is what the plan of their bench foresaw: for each of
// 50 benches that only the seed decides, the uncertainty that the scripted
// student's record gives over the planned one. The plan supposes the
// galvanometer that is expected; the practice has another one, its scatter,
// and a G and k of its own, so single benches differ and the median must not.
func TestPlanForesees(t *testing.T) {
	var gs, ks []float64
	for seed := range uint64(50) {
		p, err := obey(seed)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		var b apparatus.Bench
		if err := json.Unmarshal(p.Events[0], &b); err != nil {
			t.Fatalf("seed %d: the first event is no bench: %v", seed, err)
		}
		plan, err := procedure.PlanFor(b)
		if err != nil || !plan.Fit {
			t.Errorf("seed %d: %v, fit %t: %s; the practice was done all the same", seed, err, plan.Fit, plan.Because)
			continue
		}
		r := p.Counsel.Result
		gs = append(gs, *r.UResistance / *r.Resistance / *plan.Expected.UResistance)
		ks = append(ks, *r.UMerit / *r.Merit / *plan.Expected.UMerit)
	}
	for _, c := range []struct {
		what   string
		ratios []float64
	}{{"G", gs}, {"k", ks}} {
		slices.Sort(c.ratios)
		n := len(c.ratios)
		median := math.Sqrt(c.ratios[(n-1)/2] * c.ratios[n/2])
		t.Logf("u(%s)/%s reached over planned, %d practices: median %.3f, from %.3f to %.3f", c.what, c.what, n, median, c.ratios[0], c.ratios[n-1])
		if median < 0.8 || median > 1.25 {
			t.Errorf("u(%s): the median of reached over planned is %.3f, want 0.8 to 1.25", c.what, median)
		}
	}
}
