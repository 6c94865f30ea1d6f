package estimate

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.org/halve/physics/published"
)

func normal(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }

// moments integrates a density over [-reach, reach] by the midpoint rule.
func moments(f func(x float64) float64, reach float64) (mean, variance float64) {
	const n = 40000
	var s, m, v float64
	for i := range n {
		x := reach * (2*(float64(i)+0.5)/n - 1)
		w := f(x)
		s, m, v = s+w, m+w*x, v+w*x*x
	}
	m /= s
	return m, v/s - m*m
}

// The normal law that stands for a box has, together with what the others
// say, the mean and variance that the box has together with it: found here by
// numerical integration.
func TestSoftBox(t *testing.T) {
	for _, c := range []struct{ mu, sd, edge, half float64 }{
		{0, 0.3, 0.15, 0.5}, {0.4, 0.1, 0.15, 0.5}, {-0.7, 0.2, 0.15, 0.5}, {0.2, 3, 0.15, 0.5},
		{1.5, 0.3, 0.15, 0.5}, {0.3, 0.3, 0.01, 0.5}, {-2, 1, 2, 0.1}, {0.5, 0.05, 0.02, 0.5},
	} {
		mean, variance := moments(func(x float64) float64 {
			d := (x - c.mu) / c.sd
			return math.Exp(-d*d/2) * (normal((c.half-x)/c.edge) - normal((-c.half-x)/c.edge))
		}, 12)
		l := box{half: c.half, edge: c.edge}.alone()
		v := c.sd * c.sd
		l.stand(l.mean+(c.mu-l.mean)*l.variance/(l.variance+v), v*l.variance/(l.variance+v))
		got := 1 / (1/v + 1/l.variance)
		published.Near(t, "variance", got, variance, 1e-6)
		if m := got * (c.mu/v + l.mean/l.variance); math.Abs(m-mean) > 1e-6*math.Sqrt(variance) {
			t.Errorf("%+v: mean %g, want %g", c, m, mean)
		}
	}
}

// Beyond the reach of figures, or told nothing by the others, a box stands
// for itself.
func TestBoxAlone(t *testing.T) {
	alone := box{middle: 12, half: 0.25, edge: 0.075}.alone()
	published.Near(t, "variance", alone.variance, 0.25/12+0.075*0.075, 1e-12)
	for name, at := range map[string][2]float64{"flat": {12.1, alone.variance}, "far": {500, 1e-6}} {
		l := alone
		l.stand(at[0], at[1])
		if l != alone {
			t.Errorf("%s: %+v, want %+v", name, l, alone)
		}
	}
}

// Repeats, against the product of their likelihoods integrated numerically.
func TestRepeatedReadings(t *testing.T) {
	const step, s = 0.5, 0.075
	for name, rs := range map[string][]repeated{
		"one":            {{12, 1}},
		"two alike":      {{12, 2}},
		"nine alike":     {{12, 9}},
		"one apart":      {{12, 1}, {12.5, 1}},
		"two and one":    {{12, 2}, {12.5, 1}},
		"one and four":   {{12.5, 4}, {12, 1}},
		"thirty and one": {{12, 30}, {12.5, 1}},
	} {
		mean, variance := moments(func(x float64) float64 {
			w := 1.0
			for _, r := range rs {
				d := r.div - 12 - x
				w *= math.Pow(normal((d+step/2)/s)-normal((d-step/2)/s), r.times)
			}
			return w
		}, 2)
		l := newBox(rs, step, s).alone()
		// The law of an extreme is taken as normal: its skewness and the
		// finite width of the box leave up to a hundredth of the variance.
		if math.Abs(l.mean-12-mean) > 2e-3*math.Sqrt(variance) || math.Abs(l.variance/variance-1) > 0.015 {
			t.Errorf("%s: %.6g with sd %.6g, want %.6g with %.6g", name, l.mean, math.Sqrt(l.variance), 12+mean, math.Sqrt(variance))
		}
	}
	wide := newBox([]repeated{{12, 1}, {13, 1}}, step, s)
	if wide.half != 0 || wide.middle != 12.5 {
		t.Errorf("readings two steps apart: %+v, want a normal law about 12.5", wide)
	}
}

func TestSplit(t *testing.T) {
	for _, c := range []struct {
		div  float64
		n    int
		want []repeated
	}{
		{12, 1, []repeated{{12, 1}}},
		{12.3, 1, []repeated{{12.3, 1}}},
		{12, 3, []repeated{{12, 3}}},
		{12 + 0.5/3, 3, []repeated{{12, 2}, {12.5, 1}}},
		{-12 - 0.5/3, 3, []repeated{{-12.5, 1}, {-12, 2}}},
		{12.1, 3, []repeated{{12.1, 3}}}, // no readings in half divisions have this mean
	} {
		got := split(c.div, 0.5, c.n)
		if len(got) != len(c.want) {
			t.Errorf("%g read %d times: %v, want %v", c.div, c.n, got, c.want)
			continue
		}
		for i := range got {
			if math.Abs(got[i].div-c.want[i].div) > 1e-12 || got[i].times != c.want[i].times {
				t.Errorf("%g read %d times: %v, want %v", c.div, c.n, got, c.want)
			}
		}
	}
}

// The whole estimate, for two rows on exact boxes, against the product of
// the four soft boxes integrated over ln G and ln(E/k) on a grid. What
// the normal laws lose is what is measured: 0.05 u for the estimate, 6 % for u.
func TestEstimateAgainstGrid(t *testing.T) {
	r := rand.New(rand.NewPCG(27, 28))
	for i := range 20 {
		in, b := drawBench(r)
		in.USourceResistance, in.SeriesTolerance, in.ShuntTolerance, in.UZeros[0], in.UEMF = 0, 0, 0, 0, 0
		in.SourceResistance, in.EMF, in.Zeros[0] = b.r, b.emf, b.zero
		clear(b.seriesErrors)
		clear(b.shuntErrors)
		spreadRows(&in, b, [][]float64{{1, 1}, {1, 0.75}, {1, 1.3, 0.8}}[i%3], r)
		fit, err := Joint(in)
		if err != nil {
			t.Fatal(err)
		}
		if fit.Inflation > 1 {
			continue
		}
		m := newModel(in)
		uG, uLoop := fit.UG/fit.G, fit.ULoop/fit.Loop
		const n, reach = 200, 6.0
		var sum, g1, g2, l1, l2 float64
		for i := range n {
			dg := reach * (2*(float64(i)+0.5)/n - 1)
			for j := range n {
				dl := reach * (2*(float64(j)+0.5)/n - 1)
				a := here([]float64{math.Log(fit.Loop) + dl*uLoop, math.Log(fit.G) + dg*uG})
				w := 1.0
				for k := range m.points {
					p := &m.points[k]
					d := p.div - m.reading(a, p)
					w *= normal((d+in.Step/2)/in.Repeatability) - normal((d-in.Step/2)/in.Repeatability)
				}
				sum, g1, g2, l1, l2 = sum+w, g1+w*dg, g2+w*dg*dg, l1+w*dl, l2+w*dl*dl
			}
		}
		for name, c := range map[string][2]float64{"ln G": {g1, g2}, "ln(E/k)": {l1, l2}} {
			mean := c[0] / sum
			sd := math.Sqrt(c[1]/sum - mean*mean)
			if math.Abs(mean) > 0.05 || math.Abs(sd-1) > 0.06 {
				t.Errorf("bench %d, %s: off the grid's by %.3f u, and u by the factor %.3f", i, name, -mean, 1/sd)
			}
		}
	}
}
