package lines_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"example.org/halve/procedure"
	"example.org/halve/tui/auto"
)

// Person is a Sitting of the scripted student: every event goes over the line
// protocol.
var _ auto.Sitting = (*person)(nil)

func (p *person) Accept(b procedure.Body) (procedure.Counsel, error) {
	p.send(b)
	return p.counsel, nil
}
func (p *person) Counsel() procedure.Counsel { return p.counsel }
func (p *person) State() *procedure.State    { return p.sitting.State() }
func (p *person) Events() []procedure.Event  { return p.sitting.Events() }

// A fault that is named is mended, what it spoiled is struck one event after
// another as it is proposed, and the practical ends as if it had never been.
func TestMended(t *testing.T) {
	n := envInt("HALVE_FAULTS", 1)
	all, off := 0, 0
	for fi, id := range benchFaults() {
		tried, named, wrong, strikes := 0, 0, 0, 0
		for i := range n {
			seed := seedsFrom() + 300_000 + uint64(1000*fi+i)
			r := rand.New(rand.NewPCG(seed, 77))
			stated, truth := wideBench(r, fullPlate)
			p := sit(t, stated, truth, r)
			if !slices.Contains(p.bench.Faults(), id) || !p.obeyTo(2*r.IntN(2)) {
				p.leave()
				continue
			}
			if err := p.bench.Plant(id); err != nil {
				t.Fatal(err)
			}
			tried++
			run, err := auto.Obey(p, p.bench)
			if run.Mended > 0 {
				named++
				for _, e := range run.Events {
					if _, ok := e.Body.(procedure.Strike); ok {
						strikes++
					}
				}
				z := math.Inf(1)
				if c := run.Counsel.Result; err == nil && c != nil && c.Resistance != nil {
					z = math.Max(math.Abs(*c.Resistance-truth.Resistance) / *c.UResistance, math.Abs(*c.Merit-truth.Merit) / *c.UMerit)
				}
				if !(z < 4) {
					wrong++
					t.Logf("%s, seed %d, mended after event %d: %.1f standard uncertainties off, %v", id, seed, run.Mended, z, err)
				}
			}
			p.leave()
		}
		all, off = all+named, off+wrong
		t.Logf("%-22s benches %4d, mended %4d, strikes each %.1f, results off %d", id, tried, named, float64(strikes)/float64(max(1, named)), wrong)
	}
	t.Logf("all: mended %d, results off %d", all, off)
	atLeast(t, "right results after the mend", all-off, all, 0.98)
}
