package preferred

import (
	"math"
	"os"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"example.org/halve/physics/published"
)

// TestSeries holds all seven series, complete and in order, to
// testdata/reference/07_iec60063_e_series.json (IEC 60063:2015).
func TestSeries(t *testing.T) {
	want := published.Load[struct {
		Series     map[string][]float64
		Tolerances map[string]any `json:"tolerances_percent"`
	}](t, os.DirFS("../../testdata/reference"), "07_iec60063_e_series.json")
	if len(want.Series) != len(All()) {
		t.Errorf("the standard has %d series, we have %d", len(want.Series), len(All()))
	}
	for _, s := range All() {
		t.Run(s.String(), func(t *testing.T) {
			printed := want.Series[s.String()]
			var decade []float64
			for _, v := range printed {
				decade = append(decade, v/printed[0]) // printed as 10 to 99 or 100 to 999
			}
			if got := s.Values(); !slices.Equal(got, decade) {
				t.Errorf("got  %v\nwant %v", got, decade)
			}
			if p, ok := want.Tolerances[s.String()].(float64); ok && math.Abs(100*s.Tolerance()-p) > 1e-9 {
				t.Errorf("tolerance %g %%, want %g %%", 100*s.Tolerance(), p)
			}
			back, err := Parse(" " + s.String())
			if err != nil || back != s {
				t.Errorf("Parse(%q) = %v, %v", s, back, err)
			}
		})
	}
	for _, bad := range []string{"", "24", "E25", "E-24", "E1920"} {
		if s, err := Parse(bad); err == nil {
			t.Errorf("Parse(%q) = %v; want an error", bad, s)
		}
	}
}

// whole returns every value of a series from 10^lo to below 10^hi, as
// decimal numbers read by the language itself.
func whole(t *testing.T, s Series, lo, hi int) []float64 {
	t.Helper()
	var out []float64
	for e := lo; e < hi; e++ {
		for _, v := range s.Values() {
			out = append(out, v*math.Pow10(e))
		}
	}
	return out
}

// TestNearest compares the nearest value with the whole of four decades and one
// on either side, at 4000 values spaced evenly by ratio, and on both sides of
// the middle between neighbours.
func TestNearest(t *testing.T) {
	for _, s := range All() {
		t.Run(s.String(), func(t *testing.T) {
			all := whole(t, s, -1, 5)
			var ask []float64
			for i := range 4000 {
				ask = append(ask, math.Pow(10, 4*float64(i)/4000))
			}
			for i := range all[1:] {
				middle := math.Sqrt(all[i] * all[i+1])
				ask = append(ask, middle*(1-1e-12), middle*(1+1e-12), all[i])
			}
			for _, v := range ask {
				want := math.Inf(1)
				for _, x := range all {
					want = min(want, math.Abs(math.Log(x/v)))
				}
				got := s.Nearest(v)
				if v < 1 || v > 1e4 {
					continue // the decades beyond are there for the neighbours
				}
				if d := math.Abs(math.Log(got / v)); d > want+1e-15 || !slices.ContainsFunc(all, func(x float64) bool { return math.Abs(x/got-1) < 1e-15 }) {
					t.Fatalf("Nearest(%.17g) = %.17g, off by %g; the nearest of all is off by %g", v, got, d, want)
				}
			}
		})
	}
	// Worst cases of a nearest value, by hand: half the widest step of the
	// series by ratio, such as √(15/12) for E12 and √(13/11·…) for E24.
	for _, c := range []struct {
		s     Series
		worst float64
	}{{E12, math.Sqrt(1.5/1.2) - 1}, {E24, math.Sqrt(1.5/1.3) - 1}} {
		got := 0.0
		for i := range 100_000 {
			v := math.Pow(10, float64(i)/100_000)
			got = max(got, math.Exp(math.Abs(math.Log(c.s.Nearest(v)/v)))-1)
		}
		if math.Abs(got-c.worst) > 1e-4 {
			t.Errorf("%v: the worst nearest value is off by %.4f, want %.4f", c.s, got, c.worst)
		}
	}
	for _, v := range []float64{0, -1, math.NaN(), math.Inf(1), 1e-300} {
		if got := E24.Nearest(v); !math.IsNaN(got) {
			t.Errorf("Nearest(%v) = %v, want NaN", v, got)
		}
		if got := E24.BestPair(v); !math.IsNaN(got.Ohm) {
			t.Errorf("BestPair(%v) = %v, want NaN", v, got)
		}
	}
}

// TestPair compares the best pair with every pair there is, in series and in
// parallel.
func TestPair(t *testing.T) {
	for _, s := range []Series{E3, E6, E12, E24, E48, E96} {
		t.Run(s.String(), func(t *testing.T) {
			all := whole(t, s, -3, 8)
			rapid.Check(t, func(t *rapid.T) {
				v := math.Pow(10, rapid.Float64Range(0, 4).Draw(t, "decade"))
				want := math.Inf(1)
				for i, b := range all {
					for _, a := range all[i:] {
						if a > MaxRatio*b*(1+1e-12) {
							break
						}
						want = min(want, math.Abs(math.Log((a+b)/v)), math.Abs(math.Log(a*b/(a+b)/v)))
					}
				}
				p := s.BestPair(v)
				if d := math.Abs(math.Log(p.Ohm / v)); d > want+2e-12 {
					t.Fatalf("BestPair(%.17g) = %+v, off by %g; the best of all is off by %g", v, p, d, want)
				}
				ohm := p.A + p.B
				if p.Parallel {
					ohm = p.A * p.B / (p.A + p.B)
				}
				if ohm != p.Ohm || p.A < p.B {
					t.Fatalf("BestPair(%.17g) = %+v, which is %.17g", v, p, ohm)
				}
			})
		})
	}
	// By hand: 7500 + 1600 = 9100.
	if p := E24.BestPair(9100); p.Ohm != 9100 {
		t.Errorf("BestPair(9100) = %+v, want one of exactly 9100", p)
	}
	// By hand: of 1.62 and 0.00162, just a thousandth, comes 1.62162, which is
	// nearer to 1.6211 than 1.62 and the next above it, 0.00169.
	if p := E48.BestPair(1.6211); math.Abs(p.Ohm-1.62162) > 1e-12 {
		t.Errorf("BestPair(1.6211) = %+v, want 1.62 + 0.00162", p)
	}
	// By hand: equal resistors are the most even pair of all.
	if p := E24.BestPair(2 * 3300); p != (Pair{3300, 3300, false, 6600}) {
		t.Errorf("BestPair(6600) = %+v, want 3300 + 3300", p)
	}
}

func BenchmarkPair(b *testing.B) {
	for b.Loop() {
		E192.BestPair(8916.51)
	}
}
