package diagnosis

import (
	"fmt"
	"math"
	"testing"

	"example.org/halve/physics/apparatus"
)

// loopOnly is the belief in which E/k alone is open: its logarithm is normal.
// The other parameters are held where they are.
func loopOnly(sd float64) belief {
	mean := vector{math.Log(90), math.Log(75000), math.Log(1), 0, 0}
	var info matrix
	for i := range parameters {
		info[i][i] = 1e10
	}
	info[loop][loop] = 1 / (sd * sd)
	b, _ := believe(mean, info)
	return b
}

// The evidence of one reading, by Laplace's method, is the integral over E/k:
// here by Simpson's rule over ±9 standard deviations in 200 000 steps.
func TestEvidence(t *testing.T) {
	const sd, series, sigma = 0.5, 3000.0, 0.3
	b := loopOnly(sd)
	sound := compiled().sound
	for _, div := range []float64{5, 12, 24, 29.5} {
		l := look{div: div, divisions: 30, drive: 1, sigma: sigma}
		s := sample{h: sound, series: series, at: &l, sigma: sigma, width: width(sigma)}
		got := fit(&b, []sample{s}, b.mean, math.Inf(1)).log
		const steps = 200_000
		sum := 0.0
		for i := range steps + 1 {
			x := 9 * sd * (2*float64(i)/steps - 1)
			weight := 4 - 2*float64((i+1)%2)
			if i == 0 || i == steps {
				weight = 1
			}
			z := (math.Exp(b.mean[loop]+x)/(series+1+90) - div) / sigma
			sum += weight * math.Exp(-x*x/(2*sd*sd)-z*z/2) / (2 * math.Pi * sd * sigma)
		}
		want := math.Log(sum * 18 * sd / steps / 3)
		// A curved law costs Laplace's method a little.
		if math.Abs(got-want) > 0.02 {
			t.Errorf("a reading of %g div: logarithm %.4f, by quadrature %.4f", div, got, want)
		}
	}
}

// A needle beyond the end says no more than that: the evidence is the chance
// that E/k is as large, here by the normal law.
func TestEvidenceBeyondTheEnd(t *testing.T) {
	const sigma = 0.05
	sound := compiled().sound
	for _, tc := range []struct{ sd, z float64 }{{0.5, -2}, {0.5, 0.5}, {0.5, 1}, {0.5, 2}, {0.5, 4}, {0.1, 8}, {0.1, 14}} {
		t.Run(fmt.Sprintf("%g standard deviations away", tc.z), func(t *testing.T) {
			b := loopOnly(tc.sd)
			// At this series value the needle just reaches the end if E/k is
			// z standard deviations larger than believed.
			series := math.Exp(b.mean[loop]+tc.z*tc.sd)/30 - 91
			l := look{div: 30, off: 1, divisions: 30, drive: 1, sigma: sigma}
			s := sample{h: sound, series: series, at: &l, sigma: sigma, width: width(sigma)}
			got := fit(&b, []sample{s}, b.mean, math.Inf(1)).log
			want := math.Log(math.Erfc(tc.z/math.Sqrt2) / 2)
			if math.Abs(got-want) > 0.15 {
				t.Errorf("logarithm %.3f, by the normal law %.3f", got, want)
			}
		})
	}
}

// No hypothesis is given up that a full fit would find worth keeping.
func TestGiveUp(t *testing.T) {
	in := practical(t, 3)
	w := weigh(&in)
	for _, h := range w.table.faults {
		samples := append([]sample(nil), w.pick(w.runs...)...)
		if !w.suppose(samples, instance{h: h, last: 2, branch: -1, at: -1}) {
			continue
		}
		whole := fit(&w.prior, samples, w.whole.mean, math.Inf(1))
		if whole.cost > 100 { // nobody wants it
			continue
		}
		if short := fit(&w.prior, samples, w.whole.mean, whole.cost+0.5); math.Abs(short.cost-whole.cost) > 0.25 {
			t.Errorf("%s %s: cost %g, with room for it %g", h.ID, h.Form, whole.cost, short.cost)
		}
	}
}

// What is looked at of a record: readings against a left stop are beyond it, the
// same place of the needle counts once, and only the latest readings are kept.
func TestLooks(t *testing.T) {
	in := practical(t, 1)
	in.LeftZero = true
	run := &in.Runs[0]
	run.First = []Reading{{Seq: 11, Div: -1}, {Seq: 12, Div: 24}, {Seq: 13, Off: true}, {Seq: 16, Div: 24}}
	run.Standing = apparatus.Setting{Ohm: 7}
	run.Branches[0].Seq, run.Branches[0].Readings = 14, []Reading{{Seq: 15, Div: 12}, {Seq: 17, Div: -0.25}, {Seq: 18, Off: true, Div: -30}}
	type seen struct {
		div float64
		off int
		n   int
		s   float64
	}
	var got []seen
	for _, l := range in.looks() {
		got = append(got, seen{l.div, l.off, l.n, l.shunt.Ohm})
	}
	s := run.Branches[0].Shunt.Ohm
	want := []seen{{-1, -1, 1, 7}, {24, 0, 1, 7}, {30, 1, 1, 7}, {24, 0, 1, s}, {12, 0, 1, s}, {-0.25, 0, 1, s}, {-30, -1, 1, s}}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("got  %v\nwant %v", got, want)
	}

	in.LeftZero = false
	run.First = []Reading{{Seq: 11, Div: 24}, {Seq: 12, Div: 24}, {Seq: 13, Div: 23.5}}
	run.Branches = nil
	looks := in.looks()
	if len(looks) != 2 || looks[0].n != 2 || looks[0].order != 0.5 || looks[1].order != 2 {
		t.Errorf("two equal readings and another: %+v", looks)
	}
	if (&Input{Series: in.Series, Shunt: in.Shunt, Runs: []Run{{Branches: []Branch{{Readings: []Reading{{Div: 3}}}}}}}).looks()[0].sigma != 0 {
		t.Error("a box at nothing has no doubt")
	}

	for i := range 200 {
		run.First = append(run.First, Reading{Seq: 20 + i, Div: float64(i) / 10})
	}
	if looks := in.looks(); len(looks) != maxLooks || looks[len(looks)-1].div != 19.9 {
		t.Errorf("%d looks of two hundred, the last of %g div", len(looks), looks[len(looks)-1].div)
	}
}
