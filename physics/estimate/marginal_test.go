package estimate

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// Without steps of the scale Joint is the least squares that Marginal finds
// with what is fitted along integrated out. The two differ by what is left out
// beyond the first order, a small part of the standard uncertainties.
func TestMarginalIsLeastSquares(t *testing.T) {
	r := rand.New(rand.NewPCG(31, 32))
	var m Marginal
	worst, worstU, hard := 0.0, 0.0, 0
	const benches = 400
	for i := range benches {
		in, b := drawBench(r)
		spreadRows(&in, b, fiveRatios[:1+i%5], r)
		if i%3 == 0 { // a second zero, and repeats
			in.Zeros, in.UZeros = append(in.Zeros, in.Step), append(in.UZeros, in.UZeros[0])
			for j := range in.Observations {
				f := float64(j) / float64(len(in.Observations))
				in.Observations[j].ZeroWeights = []float64{1 - f, f}
			}
			in.Observations = append(in.Observations, in.Observations[0])
		}
		plain := in
		plain.Repeatability, plain.Step = math.Sqrt(in.readingVariance(1)), 0
		got, err := m.Find(&plain)
		want, errJoint := Joint(plain)
		if errors.Is(err, errHard) {
			hard++
			continue
		}
		if err != nil || errJoint != nil {
			t.Fatalf("bench %d: %v, Joint: %v", i, err, errJoint)
		}
		if got.DOF != want.DOF {
			t.Fatalf("bench %d: %d degrees of freedom, want %d", i, got.DOF, want.DOF)
		}
		worst = max(worst, math.Abs(got.G-want.G)/want.UG, math.Abs(got.K-want.K)/want.UK)
		worstU = max(worstU, math.Abs(got.UG/want.UG-1), math.Abs(got.UK/want.UK-1), math.Abs(got.Correlation-want.Correlation))
	}
	t.Logf("%d benches: at most %.4f u apart, u by %.2f %%; left to the full fit: %d", benches, worst, 100*worstU, hard)
	// Second-order terms are of the size (u/x)², of which the largest here is
	// some 1e-3 of x and a few hundredths of u.
	if worst > 0.05 || worstU > 0.03 || hard > benches/20 {
		t.Errorf("%.4f u apart, u by %.2f %%, %d left over", worst, 100*worstU, hard)
	}
}

// How far the full fit, which takes each reading for the box that it is, moves
// from the least squares: for what the class says of it.
func TestMarginalBesideJoint(t *testing.T) {
	r := rand.New(rand.NewPCG(33, 34))
	var m Marginal
	var sum, n float64
	worst := 0.0
	for range 300 {
		in, b := drawBench(r)
		spreadRows(&in, b, fiveRatios, r)
		got, err := m.Find(&in)
		want, errJoint := Joint(in)
		if err != nil || errJoint != nil {
			continue
		}
		d := (got.G - want.G) / got.UG
		sum, n, worst = sum+d*d, n+1, max(worst, math.Abs(d))
	}
	rms := math.Sqrt(sum / n)
	t.Logf("%.0f benches: G by %.2f u (root mean square), %.2f at most", n, rms, worst)
	if n < 280 || rms > 0.5 {
		t.Errorf("%.0f benches, G by %.2f u", n, rms)
	}
}

func TestMarginalRefuses(t *testing.T) {
	r := rand.New(rand.NewPCG(35, 36))
	var m Marginal
	in, b := drawBench(r)
	spreadRows(&in, b, fiveRatios, r)
	good, err := m.Find(&in)
	if err != nil {
		t.Fatal(err)
	}
	firsts := in
	firsts.Observations = nil
	for _, o := range in.Observations {
		if !o.Shunted {
			firsts.Observations = append(firsts.Observations, o)
		}
	}
	lone := in
	lone.Observations = in.Observations[1:2]
	rising := in
	rising.Observations = append([]Observation(nil), in.Observations[:2]...)
	rising.Observations[1].Div = rising.Observations[0].Div + 2
	for name, c := range map[string]Input{"no shunted reading": firsts, "one reading": lone, "a shunt that lifts the needle": rising, "no EMF": {}} {
		if e, err := m.Find(&c); err == nil {
			t.Errorf("%s: taken as %+v", name, e)
		}
	}
	// What it worked on before makes no difference.
	if again, err := m.Find(&in); err != nil || again != good {
		t.Errorf("again: %+v, %v, want %+v", again, err, good)
	}
}

func BenchmarkMarginal(b *testing.B) {
	r := rand.New(rand.NewPCG(37, 38))
	in, bench := drawBench(r)
	spreadRows(&in, bench, fiveRatios, r)
	var m Marginal
	b.Run("marginal", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := m.Find(&in); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("joint", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := Joint(in); err != nil {
				b.Fatal(err)
			}
		}
	})
}
