package montecarlo

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"slices"
	"sync/atomic"
	"testing"

	"pgregory.net/rapid"

	"example.org/halve/physics/published"
)

// law is a model given by its draw of one trial.
type law struct {
	outputs int
	draw    func(r *rand.Rand) (float64, float64)
}

func (l law) Outputs() int { return l.outputs }

func (l law) Sample(src *rand.PCG, y [][]float64) {
	r := rand.New(src)
	for i := range y[0] {
		a, b := l.draw(r)
		y[0][i] = a
		if l.outputs == 2 {
			y[1][i] = b
		}
	}
}

func (l law) sampler() Sampler { return l }

// one is a model with one output.
func one(draw func(r *rand.Rand) float64) law {
	return law{1, func(r *rand.Rand) (float64, float64) { return draw(r), 0 }}
}

// rect draws from the rectangular law about 0 of the given half-width.
func rect(r *rand.Rand, half float64) float64 { return half * (2*r.Float64() - 1) }

// here holds the published figures.
var here = os.DirFS("testdata")

func outcome(t *testing.T, l law, o Options) Result {
	t.Helper()
	res, err := Run(context.Background(), l.sampler, o)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

// trials are all trials of a run, drawn here one block after the other, each
// output sorted.
func trials(l law, n int, seed uint64) [][]float64 {
	y := [][]float64{make([]float64, n), make([]float64, n)}[:l.outputs]
	var src rand.PCG
	for from := 0; from < n; from += blockTrials {
		src.Seed(stream(seed, from/blockTrials))
		part := make([][]float64, l.outputs)
		for j := range part {
			part[j] = y[j][from:min(n, from+blockTrials)]
		}
		l.Sample(&src, part)
	}
	for j := range y {
		slices.Sort(y[j])
	}
	return y
}

// quantileError is the standard deviation of the p quantile of n trials,
// √(p(1-p)/n) over the density, which is taken from the sorted trials about
// the quantile.
func quantileError(sorted []float64, p float64) float64 {
	n := float64(len(sorted))
	at, d := int(p*n), int(math.Pow(n, 0.6))
	a, b := max(0, at-d), min(len(sorted)-1, at+d)
	density := float64(b-a) / n / (sorted[b] - sorted[a])
	return math.Sqrt(p*(1-p)/n) / density
}

// within reports got within bound of want.
func within(t *testing.T, what string, got, want, bound float64) {
	t.Helper()
	if !(math.Abs(got-want) <= bound) {
		t.Errorf("%s = %.9g, want %.9g within %.2g", what, got, want, bound)
	}
}

// Deviations of five standard errors happen once in two million times.
const errorsAllowed = 5

const million = 1_000_000

// check holds an output against the exact law. The standard error of a
// standard deviation is taken from the trials' fourth moment.
func check(t *testing.T, got Output, sorted []float64, mean, u float64, interval [2]float64) {
	t.Helper()
	n := float64(len(sorted))
	fourth := 0.0
	for _, v := range sorted {
		fourth += math.Pow((v-got.Mean)/got.U, 4) / n
	}
	within(t, "mean", got.Mean, mean, errorsAllowed*u/math.Sqrt(n))
	within(t, "u", got.U, u, errorsAllowed*u*math.Sqrt((fourth-1)/(4*n)))
	within(t, "lower end", got.Interval95[0], interval[0], errorsAllowed*quantileError(sorted, 0.025))
	within(t, "upper end", got.Interval95[1], interval[1], errorsAllowed*quantileError(sorted, 0.975))
}

// jcgm101 is testdata/jcgm101.json, which names its sources. Its exact values
// are closed forms and quadratures; the intervals printed in JCGM 101 carry
// sampling noise, that of 9.3 by 0.001.
type jcgm101 struct {
	Cases []struct {
		Clause string
		Exact  json.RawMessage
	}
}

func (j jcgm101) exact(t *testing.T, clause string, v any) {
	t.Helper()
	for _, c := range j.Cases {
		if c.Clause == clause {
			if err := json.Unmarshal(c.Exact, v); err != nil {
				t.Fatal(clause, err)
			}
			return
		}
	}
	t.Fatalf("no clause %s", clause)
}

func TestAdditiveModelAndMassCalibration(t *testing.T) {
	file := published.Load[jcgm101](t, here, "jcgm101.json")
	sqrt3 := math.Sqrt(3) // half-width of a rectangular law of standard deviation 1
	sum := func(draws ...func(r *rand.Rand) float64) law {
		return one(func(r *rand.Rand) float64 {
			s := 0.0
			for _, d := range draws {
				s += d(r)
			}
			return s
		})
	}
	normal := func(r *rand.Rand) float64 { return r.NormFloat64() }
	flat := func(r *rand.Rand) float64 { return rect(r, sqrt3) }
	wide := func(r *rand.Rand) float64 { return rect(r, 10*sqrt3) }
	for clause, l := range map[string]law{
		"9.2.2": sum(normal, normal, normal, normal),
		"9.2.3": sum(flat, flat, flat, flat),
		"9.2.4": sum(flat, flat, flat, wide),
		"9.3": one(func(r *rand.Rand) float64 {
			conventional, excess := 100000+0.050*r.NormFloat64(), 1.234+0.020*r.NormFloat64()
			air, weight, reference := 1.2+rect(r, 0.1), 8000+rect(r, 1000), 8000+rect(r, 50)
			return (conventional+excess)*(1+(air-1.2)*(1/weight-1/reference)) - 100000
		}),
	} {
		t.Run(clause, func(t *testing.T) {
			var want struct {
				Mean, U    float64
				Interval95 [2]float64
				Both       [2]float64 `json:"interval95_symmetric_and_shortest"`
			}
			file.exact(t, clause, &want)
			if want.Interval95 == [2]float64{} {
				want.Interval95 = want.Both
			}
			res := outcome(t, l, Options{Trials: million, Seed: 101})
			sorted := trials(l, million, 101)[0]
			check(t, res.Outputs[0], sorted, want.Mean, want.U, want.Interval95)
			// These laws are symmetric, so the shortest interval is the
			// symmetric one. Its length cannot be greater, and hangs on the
			// density at the ends as a quantile does; its place is known
			// less well (see Shortest95), so it is not asked for.
			short := res.Outputs[0].Shortest95
			within(t, "length of the shortest interval", short[1]-short[0], want.Interval95[1]-want.Interval95[0], 2*errorsAllowed*quantileError(sorted, 0.975))
			if symmetric := res.Outputs[0].Interval95; short[1]-short[0] > symmetric[1]-symmetric[0] {
				t.Errorf("the shortest interval %v is longer than the symmetric one %v", short, symmetric)
			}
		})
	}
}

// The comparison loss of clause 9.4 has a law with its greatest density at 0,
// or near it, for the first two values of x1: the shortest interval begins
// there and is not the symmetric one.
func TestComparisonLoss(t *testing.T) {
	var cases []struct {
		X1, Mean, U float64
		Shortest95  [2]float64
	}
	published.Load[jcgm101](t, here, "jcgm101.json").exact(t, "9.4 (uncorrelated)", &cases)
	for _, c := range cases {
		t.Run(fmt.Sprint(c.X1), func(t *testing.T) {
			l := one(func(r *rand.Rand) float64 {
				a, b := c.X1+0.005*r.NormFloat64(), 0.005*r.NormFloat64()
				return a*a + b*b
			})
			res := outcome(t, l, Options{Trials: million, Seed: 94})
			out, sorted := res.Outputs[0], trials(l, million, 94)[0]
			// The ends of the symmetric interval are not given: those of the
			// trials stand in, so that this part tests nothing but the rest.
			check(t, out, sorted, c.Mean, c.U, [2]float64{sorted[million/40], sorted[million*39/40]})
			// An end inside the law is the place where a flat minimum of a
			// noisy length lies: its error goes with N^(-1/3) and is some
			// 0.02 u after a million trials (normal law; J. Kim and D.
			// Pollard, Ann. Stat. 18 (1990) 191, for the rate).
			bound := 0.06 * c.U
			if c.Shortest95[0] == 0 {
				bound = errorsAllowed * quantileError(sorted, 0.95)
			}
			within(t, "lower end of the shortest", out.Shortest95[0], c.Shortest95[0], bound)
			within(t, "upper end of the shortest", out.Shortest95[1], c.Shortest95[1], bound)
		})
	}
}

// For the exponential law the shortest interval is [0, -ln 0.05] and the
// symmetric one [-ln 0.975, -ln 0.025].
func TestExponential(t *testing.T) {
	l := one(func(r *rand.Rand) float64 { return r.ExpFloat64() })
	res := outcome(t, l, Options{Trials: million, Seed: 7})
	out, sorted := res.Outputs[0], trials(l, million, 7)[0]
	check(t, out, sorted, 1, 1, [2]float64{-math.Log(0.975), -math.Log(0.025)})
	within(t, "lower end of the shortest", out.Shortest95[0], 0, 20.0/million) // the least of a million: e⁻²⁰
	within(t, "upper end of the shortest", out.Shortest95[1], -math.Log(0.05), errorsAllowed*quantileError(sorted, 0.95))
}

// The ratio formula for one row, which is bent and skew, against two million
// draws made elsewhere. Both have sampling errors: the bounds are √2 times
// those of one.
func TestRatioScenarios(t *testing.T) {
	const n = 2 * million
	type input struct {
		Dist  string
		Value float64
	}
	file := published.Load[struct {
		Scenarios []struct {
			ID     string
			Inputs struct {
				E      float64          `json:"E_V"`
				Source float64          `json:"r_ohm"`
				R      float64          `json:"R_ohm"`
				S      float64          `json:"S_ohm"`
				First  float64          `json:"theta1_div"`
				Second float64          `json:"theta2_div"`
				U      map[string]input `json:"half_widths_or_u"`
			}
			Want struct {
				GMean float64 `json:"G_mean"`
				UG    float64
				KMean float64 `json:"k_mean"`
				UK    float64
				Corr  float64
				G95   [2]float64
				K95   [2]float64
			} `json:"monte_carlo_2e6"`
		}
	}](t, here, "ratio_scenarios.json")
	for _, s := range file.Scenarios {
		t.Run(s.ID, func(t *testing.T) {
			in := s.Inputs
			draw := func(r *rand.Rand, i input) float64 {
				switch i.Dist {
				case "rect":
					return rect(r, i.Value)
				case "tri":
					return rect(r, i.Value/2) + rect(r, i.Value/2)
				}
				return i.Value * r.NormFloat64()
			}
			names := []string{"theta1", "theta2", "zero", "R", "S", "E", "r"}
			inputs := make([]input, len(names))
			for i, name := range names {
				if inputs[i] = in.U[name]; inputs[i].Dist == "" {
					t.Fatalf("no law for %s", name)
				}
			}
			l := law{2, func(r *rand.Rand) (g, k float64) {
				var d [7]float64
				for i := range d {
					d[i] = draw(r, inputs[i])
				}
				first, second := in.First+d[0]+d[2], in.Second+d[1]+d[2]
				branch, shunt, emf := in.R+d[3]+in.Source+d[6], in.S+d[4], in.E+d[5]
				rho := second / first
				g = branch * shunt * (1 - rho) / (rho*(branch+shunt) - shunt)
				return g, emf / ((branch + g) * first)
			}}
			res := outcome(t, l, Options{Trials: n, Seed: 2})
			sorted := trials(l, n, 2)
			for j, want := range []struct {
				mean, u float64
				ends    [2]float64
			}{{s.Want.GMean, s.Want.UG, s.Want.G95}, {s.Want.KMean, s.Want.UK, s.Want.K95}} {
				out, both := res.Outputs[j], errorsAllowed*math.Sqrt2
				name := []string{"G", "k"}[j]
				within(t, name, out.Mean, want.mean, both*want.u/math.Sqrt(n))
				// Fourth moments are below 3.2: √((3.2-1)/4) < 0.75.
				within(t, "u("+name+")", out.U, want.u, both*0.75*want.u/math.Sqrt(n))
				within(t, "lower end of "+name, out.Interval95[0], want.ends[0], both*quantileError(sorted[j], 0.025))
				within(t, "upper end of "+name, out.Interval95[1], want.ends[1], both*quantileError(sorted[j], 0.975))
			}
			rho := s.Want.Corr
			within(t, "correlation", res.Correlation, rho, errorsAllowed*math.Sqrt2*(1-rho*rho)*1.1/math.Sqrt(n))
		})
	}
}

// The histogram's quantiles against those of all trials, sorted.
func TestQuantilesAgainstSortedTrials(t *testing.T) {
	for name, c := range map[string]struct {
		law law
		// bound is the bin's width, the greatest possible error.
		bound float64
		// part of the sampling error that the error is below after a
		// million trials.
		part float64
	}{
		// Range by the first trials: 1.2 times about ±4.5 u, of 65 536 bins.
		"normal": {one(func(r *rand.Rand) float64 { return 90 + 2*r.NormFloat64() }), 2 * 1.2 * 10 / 65536, 1.0 / 30},
		"skewed": {one(func(r *rand.Rand) float64 { return r.ExpFloat64() }), 1.2 * 15 / 65536, 1.0 / 30},
		// Middle 98 % ±31.8, eight times that beyond: ±541.
		"Cauchy": {one(func(r *rand.Rand) float64 { return r.NormFloat64() / r.NormFloat64() }), 2 * 560.0 / 65536, 1.0 / 30},
		"flat":   {one(func(r *rand.Rand) float64 { return rect(r, 1) }), 2 * 1.2 / 65536, 1.0 / 30},
		// A heap has but fifty bins to each of its standard deviations.
		"two heaps": {one(func(r *rand.Rand) float64 {
			return float64(10*r.IntN(2)) + 0.01*r.NormFloat64()
		}), 1.2 * 10.1 / 65536, 1.0 / 10},
	} {
		t.Run(name, func(t *testing.T) {
			for _, n := range []int{1000, 200_000, million} {
				out := outcome(t, c.law, Options{Trials: n, Seed: 3}).Outputs[0]
				sorted := trials(c.law, n, 3)[0]
				for i, p := range []float64{0.025, 0.975} {
					// The exact quantile is any value between two
					// neighbours.
					at := int(math.Round(p * float64(n)))
					bound := c.bound + sorted[at] - sorted[at-1]
					if n == million {
						bound = min(bound, quantileError(sorted, p)*c.part)
					}
					within(t, fmt.Sprintf("%v quantile of %d trials", p, n), out.Interval95[i], sorted[at-1], bound)
				}
				hold := 0
				for _, v := range sorted {
					if v >= out.Shortest95[0] && v <= out.Shortest95[1] {
						hold++
					}
				}
				// Ends within a bin: no more trials than lie in two bins.
				within(t, fmt.Sprintf("share of %d trials in the shortest interval", n), float64(hold)/float64(n), 0.95, 2e-3)
			}
		})
	}
}

// The intervals of small records against a search through the sorted values
// (JCGM 101, 7.7.4), within two bins.
func TestIntervalsOfFewValues(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := rapid.SliceOfN(rapid.OneOf(rapid.Float64Range(-3, 3), rapid.Just(1.5)), 100, 400).Draw(t, "values")
		h := newHistogram(y)
		h.count(y)
		h.accumulate()
		s := slices.Sorted(slices.Values(y))
		if h.total() != float64(len(s)) || h.min != s[0] || h.max != s[len(s)-1] {
			t.Fatalf("%v values from %v to %v, want %d from %v to %v", h.total(), h.min, h.max, len(s), s[0], s[len(s)-1])
		}
		hold := int(math.Ceil(coverage*float64(len(s)) - 1e-9)) // as many values lie in the interval
		best := math.Inf(1)
		for r := 0; r+hold <= len(s); r++ {
			best = min(best, s[r+hold-1]-s[r])
		}
		got, bin := h.shortest(), (h.high-h.low)/bins
		// The linear law spreads a value over its bin, so up to a bin is
		// missing at either end, and a part of a value is too.
		if length := got[1] - got[0]; length > best+2*bin+1e-12 || s[0] > got[0]+1e-12 || got[1] > s[len(s)-1]+1e-12 {
			t.Errorf("shortest %v of length %v, by search %v; values %v", got, length, best, s)
		}
	})
}

func TestSameResultOnAnyNumberOfWorkers(t *testing.T) {
	l := law{2, func(r *rand.Rand) (float64, float64) {
		a, b := r.NormFloat64(), r.ExpFloat64()
		return a, 100 + a + 0.3*b
	}}
	for _, n := range []int{0, 100, 12_345, 3_333_333} {
		t.Run(fmt.Sprint(n), func(t *testing.T) {
			want := outcome(t, l, Options{Trials: n, Seed: 5, Workers: 1})
			for _, workers := range []int{2, 7} {
				got := outcome(t, l, Options{Trials: n, Seed: 5, Workers: workers})
				if fmt.Sprint(got) != fmt.Sprint(want) {
					t.Errorf("%d workers: %v\none: %v", workers, got, want)
				}
			}
			if n > 0 && want.Trials != n {
				t.Errorf("%d trials, want %d", want.Trials, n)
			}
			other := outcome(t, l, Options{Trials: n, Seed: 6})
			if other.Outputs[0] == want.Outputs[0] {
				t.Errorf("seeds 5 and 6 give the same: %v", other)
			}
		})
	}
}

// The streams of neighbouring blocks and seeds share nothing: the means of
// 2,000 blocks scatter as independent ones do, and neighbours' trials are
// uncorrelated.
func TestStreamsAreIndependent(t *testing.T) {
	const blocks, each = 2000, 500
	var src rand.PCG
	draw := func(seed uint64, block int) []float64 {
		src.Seed(stream(seed, block))
		y := [][]float64{make([]float64, each)}
		one(func(r *rand.Rand) float64 { return r.NormFloat64() }).Sample(&src, y)
		return y[0]
	}
	for name, next := range map[string]func(i int) []float64{
		"blocks": func(i int) []float64 { return draw(0, i) },
		"seeds":  func(i int) []float64 { return draw(uint64(i), 0) },
	} {
		t.Run(name, func(t *testing.T) {
			squares, product := 0.0, 0.0
			last := next(0)
			for i := range blocks {
				y := next(i + 1)
				s := 0.0
				for j, v := range y {
					s += v
					product += v * last[j]
				}
				squares += s * s / each
				last = y
			}
			// Chi-squared of 2,000 degrees of freedom and the mean of a
			// million products.
			within(t, "mean square of the blocks' sums", squares/blocks, 1, errorsAllowed*math.Sqrt(2.0/blocks))
			within(t, "correlation of neighbours", product/(blocks*each), 0, errorsAllowed/math.Sqrt(blocks*each))
		})
	}
}

// JCGM 101, 7.9: the run ends when the results are good to the second digit
// of u. With u = 9.5 the tolerance is 0.05 and an end of the interval, whose
// error is 2.67 u/√N, is known to half of that (two standard deviations)
// after a million trials.
func TestAdaptiveRun(t *testing.T) {
	l := one(func(r *rand.Rand) float64 { return 9.5 * r.NormFloat64() })
	res := outcome(t, l, Options{Seed: 11})
	if !res.Adaptive || !res.Settled || res.Outputs[0].Tolerance != 0.05 {
		t.Fatalf("%+v: want it settled with the tolerance 0.05", res)
	}
	// s is known from some hundred blocks: 7 % each way, and the last of
	// four must be met, tested after every 160,000.
	if res.Trials < 700_000 || res.Trials > 1_700_000 {
		t.Errorf("%d trials, want about a million", res.Trials)
	}
	for i, want := range []float64{-1.959964 * 9.5, 1.959964 * 9.5} {
		within(t, "end of the interval", res.Outputs[0].Interval95[i], want, 0.05*2.5)
	}
}

// An end of the interval lies in a gap of the law, and no number of trials
// within reason finds it.
func TestAdaptiveRunThatDoesNotSettle(t *testing.T) {
	l := one(func(r *rand.Rand) float64 {
		if r.Float64() < 0.025 {
			return 10
		}
		return 0
	})
	res := outcome(t, l, Options{Seed: 12})
	if !res.Adaptive || res.Settled || res.Trials != MaxAdaptive {
		t.Errorf("%+v: want %d trials, not settled", res, MaxAdaptive)
	}
}

// Both outputs must have settled: one of 9.5 again takes as long beside
// another that settles at once.
func TestAdaptiveRunOfTwoOutputs(t *testing.T) {
	easy := func(r *rand.Rand) float64 { return 1.1 * r.NormFloat64() }
	hard := func(r *rand.Rand) float64 { return 9.5 * r.NormFloat64() }
	if res := outcome(t, one(easy), Options{Seed: 13}); res.Trials != firstRound*blockTrials {
		t.Errorf("the easy output alone takes %d trials, want %d", res.Trials, firstRound*blockTrials)
	}
	for name, l := range map[string]law{
		"easy first": {2, func(r *rand.Rand) (float64, float64) { return easy(r), hard(r) }},
		"hard first": {2, func(r *rand.Rand) (float64, float64) { return hard(r), easy(r) }},
	} {
		if res := outcome(t, l, Options{Seed: 13}); res.Trials < 700_000 || res.Trials > 1_700_000 || !res.Settled {
			t.Errorf("%s: %d trials, settled %t; want about a million", name, res.Trials, res.Settled)
		}
	}
}

func TestEveryTrialCountsOnce(t *testing.T) {
	l := law{2, func(r *rand.Rand) (float64, float64) { return r.Float64(), r.NormFloat64() }}
	r, err := newRun(l.sampler, Options{Trials: 1_234_567, Workers: 3})
	if err != nil {
		t.Fatal(err)
	}
	for r.done < r.trials {
		if err := r.round(context.Background(), firstRound); err != nil {
			t.Fatal(err)
		}
	}
	for j, h := range r.histograms {
		h.accumulate()
		if h.total() != 1_234_567 || r.total.n != 1_234_567 {
			t.Errorf("output %d: %v in the histogram, %v in the moments, want 1234567", j, h.total(), r.total.n)
		}
	}
}

// Moments put together from parts are those of the whole, to the rounding of
// sums of squares.
func TestMomentsOfParts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64Range(-100, 100), 6, 60)
		a, b := values.Draw(t, "a"), values.Draw(t, "b")
		n := min(len(a), len(b))
		a, b = a[:n], b[:n]
		cut := rapid.IntRange(1, n-1).Draw(t, "cut")
		whole := momentsOf([][]float64{a, b})
		var parts moments
		for _, y := range [][][]float64{{a[:cut], b[:cut]}, {a[cut:], b[cut:]}} {
			m := momentsOf(y)
			parts.add(&m)
		}
		for name, v := range map[string][2]float64{
			"number": {parts.n, whole.n}, "means": {parts.mean[0] + 3*parts.mean[1], whole.mean[0] + 3*whole.mean[1]},
			"squares": {parts.squares[0] + 3*parts.squares[1], whole.squares[0] + 3*whole.squares[1]}, "product": {parts.product, whole.product},
		} {
			if math.Abs(v[0]-v[1]) > 1e-12*100*100*float64(n) {
				t.Errorf("%s of the parts %v, of the whole %v", name, v[0], v[1])
			}
		}
	})
}

// JCGM 101, 7.9.2: u = 0.00035 to two digits is 35 × 10⁻⁵, tolerance half of
// 10⁻⁵ (the guide's own example); the others by the same rule.
func TestTolerance(t *testing.T) {
	for _, c := range []struct{ u, want float64 }{
		{0.00035, 0.000005}, {1.94, 0.05}, {9.94, 0.05}, {9.96, 0.5}, {10, 0.5}, {0.0755, 0.0005}, {1.5e-7, 5e-9}, {0, 0},
	} {
		within(t, fmt.Sprintf("tolerance of %v", c.u), tolerance(c.u), c.want, 1e-12*c.want)
	}
}

// steps is a model whose law changes after the first round, to try what the
// first trials did not foresee.
type steps struct {
	calls *atomic.Int64
	later float64
}

func (steps) Outputs() int { return 1 }

func (s steps) Sample(src *rand.PCG, y [][]float64) {
	shift := 0.0
	if s.calls.Add(1) > firstRound {
		shift = s.later
	}
	r := rand.New(src)
	for i := range y[0] {
		y[0][i] = r.Float64() + shift
	}
}

func TestValuesBeyondTheRange(t *testing.T) {
	// One round and as much again far outside: half of the trials in an
	// open bin.
	for _, later := range []float64{10, -10} {
		var calls atomic.Int64
		n := 2 * firstRound * blockTrials
		res, err := Run(context.Background(), func() Sampler { return steps{&calls, later} }, Options{Trials: n, Seed: 1, Workers: 1})
		if err != nil {
			t.Fatal(err)
		}
		out := res.Outputs[0]
		near, far := 0, 1 // the end among the first trials, and the other
		if later < 0 {
			near, far = 1, 0
		}
		// Half of the trials are in [0, 1], so its end is a 20th inside.
		within(t, "end in the range", out.Interval95[near], []float64{0.05, 0.95}[near], errorsAllowed*math.Sqrt(0.025*0.975/float64(n))/0.5)
		// The other lies in the open bin, from the range's end, ∓0.1, to
		// the farthest value: 19 of 20 parts of it.
		edge, last := []float64{-0.1, 1.1}[far], []float64{-10, 11}[far]
		within(t, "end beyond the range", out.Interval95[far], last+(edge-last)/20, 0.01)
		within(t, "mean", out.Mean, 0.5+later/2, 1e-2)
		// Between the halves ±5, within each 1/12.
		within(t, "u", out.U, math.Sqrt(25+1.0/12), 1e-2)
	}
	// Rare far outliers leave the ends as fine as without them.
	l := one(func(r *rand.Rand) float64 {
		if r.IntN(10_000) == 0 {
			return 1e6 * r.NormFloat64()
		}
		return r.NormFloat64()
	})
	out := outcome(t, l, Options{Trials: million, Seed: 4}).Outputs[0]
	sorted := trials(l, million, 4)[0]
	// Middle 98 % ±2.33, eight times that beyond it: bins of 79/65536.
	within(t, "lower end", out.Interval95[0], sorted[million/40-1], 80.0/65536)
	within(t, "upper end", out.Interval95[1], sorted[million*39/40-1], 80.0/65536)
}

func TestUnvaryingOutput(t *testing.T) {
	for _, c := range []float64{0, 90.5, -1e-9, 1e150} {
		l := law{2, func(r *rand.Rand) (float64, float64) { return c, r.NormFloat64() }}
		for _, n := range []int{0, 400_000} {
			res := outcome(t, l, Options{Trials: n})
			if out := res.Outputs[0]; out.Mean != c || out.U != 0 || out.Interval95 != [2]float64{c, c} || out.Shortest95 != [2]float64{c, c} || res.Correlation != 0 {
				t.Errorf("always %v: %+v, correlation %v", c, out, res.Correlation)
			}
		}
	}
}

func TestRefusals(t *testing.T) {
	ctx := context.Background()
	good := one(func(r *rand.Rand) float64 { return r.Float64() })
	for _, n := range []int{-1, 1, MinTrials - 1} {
		if res, err := Run(ctx, good.sampler, Options{Trials: n}); err == nil {
			t.Errorf("%d trials give %+v, want an error", n, res)
		}
	}
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e200} {
		// One trial in a thousand, so that later blocks have it too.
		l := one(func(r *rand.Rand) float64 {
			if r.IntN(1000) == 0 {
				return bad
			}
			return r.Float64()
		})
		for _, n := range []int{0, 10_000, million} {
			if res, err := Run(ctx, l.sampler, Options{Trials: n}); !errors.Is(err, ErrNotFinite) {
				t.Errorf("a trial of %v gives %+v, %v; want %v", bad, res, err, ErrNotFinite)
			}
		}
	}
	if res, err := Run(ctx, law{3, nil}.sampler, Options{Trials: 1000}); err == nil {
		t.Errorf("three outputs give %+v, want an error", res)
	}
}

func TestCancelling(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	var drawn atomic.Int64
	l := one(func(r *rand.Rand) float64 {
		if drawn.Add(1) == 50_000 {
			cancel()
		}
		return r.Float64()
	})
	if res, err := Run(ctx, l.sampler, Options{Trials: 1 << 40, Workers: 2}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %+v, %v; want %v", res, err, context.Canceled)
	}
	// Each worker ends its block.
	if n := drawn.Load(); n > 50_000+3*blockTrials {
		t.Errorf("%d trials after the cancelling at 50,000", n)
	}
}

// A run asks for the same memory whatever the number of trials, but for what
// starting the goroutines of each round takes.
func TestMemoryIsFlat(t *testing.T) {
	l := law{2, func(r *rand.Rand) (float64, float64) { return r.Float64(), r.Float64() }}
	memory := func(n int) uint64 {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		outcome(t, l, Options{Trials: n})
		runtime.ReadMemStats(&after)
		return after.TotalAlloc - before.TotalAlloc
	}
	few, many := memory(5*million), memory(20*million)
	if many > few+64<<10 {
		t.Errorf("5 million trials take %d bytes, 20 million %d", few, many)
	}
}

func BenchmarkRun(b *testing.B) {
	l := law{2, func(r *rand.Rand) (float64, float64) { return r.Float64(), r.Float64() }}
	for _, n := range []int{0, million} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Run(context.Background(), l.sampler, Options{Trials: n}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
