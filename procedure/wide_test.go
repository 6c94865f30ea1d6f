package procedure

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"example.org/halve/physics/apparatus"
	"example.org/halve/safety"
)

// wideBench is an invented bench from a wider range than a school's: a scale of
// 10 to 100 divisions, full scale at 0.05 to 1.5 mA and not stated, a box of
// five decades up to 111 110 Ω.
func wideBench(seed uint64, step float64) (Bench, needle) {
	rng := rand.New(rand.NewPCG(seed, 7))
	log := func(lo, hi float64) float64 { return lo * math.Exp(rng.Float64()*math.Log(hi/lo)) }
	b, m := usualBench(), usualNeedle()
	b.SeriesBox = apparatus.Box{Kind: apparatus.Decade, Dials: []float64{10000, 1000, 100, 10, 1}, Tolerance: 0.001}
	m.n = math.Round(log(10, 100))
	m.k, m.g, m.step, m.noise = log(0.05e-3, 1.5e-3)/m.n, log(40, 400), step, rng
	m.emf = 1.5 + 0.03*rng.NormFloat64()
	b.Galvanometer.Divisions, b.Galvanometer.Resolution = m.n, step
	return b, m
}

// settings counts the series settings up to the first usable deflection; next
// proposes them.
func settings(t *testing.T, b Bench, m needle, next func(*sitting) apparatus.Setting) int {
	t.Helper()
	s := sit(t, b, Wired{}, ZeroRead{0})
	for n := 1; n < 20; n++ {
		set := next(s)
		s.put(SeriesSet{Ohm: set.Ohm})
		if v := advise(s.s).Clearance.Verdict; v == safety.Stop {
			t.Fatalf("setting %d, %g ohm: K1 must not be closed", n, set.Ohm)
		}
		v, off := m.see(m.first(t, set.Ohm))
		s.put(FirstRead{v, off})
		if v != nil && (planner{s: s.s, ev: s.s.evidence()}).usable(math.Abs(*v)) {
			return n
		}
		for c := advise(s.s); c.Next.Event == KindReadFirst; c = advise(s.s) { // the same setting again
			v, off := m.see(m.first(t, set.Ohm))
			s.put(FirstRead{v, off})
		}
	}
	t.Fatalf("no usable deflection in 20 settings")
	return 0
}

// TestWideBenches: on benches far beyond a school's range the counsel needs no
// more settings than one who knows the galvanometer but must keep to the same
// rules of safety: nobody could do with fewer.
//
// Four settings do not suffice for 99 % of them, and that is a consequence of
// safety. Take 11 divisions read to halves, 1.5 mA and 1.5 V. At the largest
// value, 111 110 Ω, where an unknown galvanometer must first be tapped, the
// needle goes to 11 · 1.5 V / (111 110 Ω · 1.5 mA) = 0.1 div and is read as 0. A
// needle that may not have moved allows half the resistance, not less: 0.2 div
// at 55 555 Ω, read as 0 or, with luck, as 0.5. A reading of θ ± δ at R, with δ
// = 2 · (0.5 + 3 · 0.15) · 0.5 div = 0.95 div of reading and zero together,
// allows R (θ + δ) · 1.01 / 11 (safety.Bound): 0.5 allows 7400 Ω, where 1.5 are
// read, and these allow 1665 Ω, where the needle goes to 6.6. That is below two
// thirds of 11, so that the fifth setting is the first usable one. At every
// step the least value that is allowed was taken. A larger one would have been
// read with the same doubt at a smaller deflection, and so have allowed less.
func TestWideBenches(t *testing.T) {
	const benches = 300
	for _, step := range []float64{0.5, 0.1} {
		var counsel, fewest []int
		for seed := range uint64(benches) {
			b, m := wideBench(seed, step)
			counsel = append(counsel, settings(t, b, m, func(s *sitting) apparatus.Setting {
				n := advise(s.s).Next
				set, _ := s.s.bench.series.Exact(*n.Ohm)
				return set
			}))
			b, m = wideBench(seed, step) // the same needle, its blur from the beginning
			fewest = append(fewest, settings(t, b, m, func(s *sitting) apparatus.Setting {
				ev, box := s.s.evidence(), s.s.bench.series
				least, proven := ev.loop.Bound().Least(ev.loop.Room())
				switch {
				case ev.stillNeedle > 0:
					least = ev.tapDown
				case !proven:
					least = box.Max()
				}
				set, _ := box.Ceil(max(least, m.emf/(m.k*goodShare*m.n)-m.r-m.g))
				return set
			}))
		}
		slices.Sort(counsel)
		slices.Sort(fewest)
		at := func(xs []int, q float64) int { return xs[int(math.Ceil(q*float64(len(xs))))-1] }
		t.Logf("read to %g div: settings up to the first usable deflection, median, 99 %% and most: %d, %d, %d; by one who knows the galvanometer %d, %d, %d",
			step, at(counsel, .5), at(counsel, .99), at(counsel, 1), at(fewest, .5), at(fewest, .99), at(fewest, 1))
		for _, q := range []float64{0.5, 0.9, 0.99} {
			if at(counsel, q) > at(fewest, q) {
				t.Errorf("read to %g div, %g %%: %d settings, where %d would do", step, 100*q, at(counsel, q), at(fewest, q))
			}
		}
	}
}
