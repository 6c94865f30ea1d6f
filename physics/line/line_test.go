package line

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// load reads a file of the published reference data, whose "source" says where
// its figures are from.
func load[T any](t *testing.T, name string) T {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "reference", name))
	if err != nil {
		t.Fatal(err)
	}
	var v T
	if err := json.Unmarshal(text, &v); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return v
}

// wantNear fails unless got is within the relative tolerance of want.
func wantNear(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s = %.17g; want %.17g within a part in %g", what, got, want, 1/rel)
	}
}

// wantPrinted fails unless got, rounded to so many decimals, is what a source
// prints.
func wantPrinted(t *testing.T, what string, got, want float64, decimals int) {
	t.Helper()
	if g, w := strconv.FormatFloat(got, 'f', decimals, 64), strconv.FormatFloat(want, 'f', decimals, 64); g != w {
		t.Errorf("%s = %s (%.10g); the source prints %s", what, g, got, w)
	}
}

func wantFit(t *testing.T, got Fit, want map[string]float64, rel float64) {
	t.Helper()
	s, _ := got.ResidualSD()
	for key, v := range map[string]float64{
		"B0": got.Intercept, "se_B0": got.UIntercept, "B1": got.Slope, "se_B1": got.USlope,
		"residual_sd": s, "residual_ss": got.Chi2, "dof": float64(got.DoF),
	} {
		if w, given := want[key]; given {
			wantNear(t, key, v, w, rel)
			t.Logf("%s: relative agreement %.0e", key, math.Abs(v/w-1))
		}
	}
}

type nist struct {
	X, Y      []float64
	Certified map[string]float64
	Extra     struct {
		Cov float64 `json:"cov_B0_B1"`
	}
}

// The certified values have 15 digits; twelve is what is asked here, since the
// intercept of Norris is the small difference of numbers a thousand times as
// large and loses three.
func TestNorris(t *testing.T) {
	in := load[nist](t, "05a_nist_norris.json")
	got, err := Ordinary(in.X, in.Y)
	if err != nil {
		t.Fatal(err)
	}
	wantFit(t, got, in.Certified, 1e-12)
	// Not certified, but stated from another package; in exact fractions it
	// is −7.743275363156437e-05, so the statement has ten digits.
	wantNear(t, "cov(B0, B1)", got.Covariance, in.Extra.Cov, 1e-10)
	wantNear(t, "cov(B0, B1)", got.Covariance, -7.743275363156437e-05, 1e-12)
}

func TestNoInt1(t *testing.T) {
	in := load[nist](t, "05c_nist_noint1.json")
	got, err := ThroughOrigin(in.X, in.Y)
	if err != nil {
		t.Fatal(err)
	}
	wantFit(t, got, in.Certified, 1e-12)
	if got.Intercept != 0 || got.UIntercept != 0 || got.Covariance != 0 {
		t.Errorf("intercept %g ± %g, covariance %g; want none", got.Intercept, got.UIntercept, got.Covariance)
	}
	if _, ok := got.Correlation(); ok {
		t.Error("a line through the origin has no correlation of slope and intercept")
	}
}

// TestThermometer is GUM H.3.
func TestThermometer(t *testing.T) {
	in := load[struct {
		Data struct {
			T []float64 `json:"t_degC"`
			B []float64 `json:"b_degC"`
		}
		Raw struct {
			Y1, Y2       float64
			U1           float64 `json:"u_y1"`
			U2           float64 `json:"u_y2"`
			R            float64 `json:"r_y1_y2"`
			S            float64 `json:"s_residual"`
			DoF          int
			B30          float64 `json:"b_at_30degC"`
			UB30         float64 `json:"u_b_at_30degC"`
			SumOfSquares float64 `json:"sum_sq_residuals"`
		} `json:"expected_printed"`
		Full struct {
			Y1, Y2 float64
			U1     float64 `json:"u_y1"`
			U2     float64 `json:"u_y2"`
			R, S   float64
			B30    float64
			UB30   float64 `json:"u_b30"`
		} `json:"expected_full_precision"`
	}](t, "02_gum_h3_thermometer_line.json")
	const t0 = 20
	x := make([]float64, len(in.Data.T))
	for i, v := range in.Data.T {
		x[i] = v - t0
	}
	f, err := Ordinary(x, in.Data.B)
	if err != nil {
		t.Fatal(err)
	}
	r, ok := f.Correlation()
	s, ok2 := f.ResidualSD()
	if !ok || !ok2 {
		t.Fatal("no correlation or no residual standard deviation")
	}
	b30, u30, err := f.At(30 - t0)
	if err != nil {
		t.Fatal(err)
	}
	if f.DoF != in.Raw.DoF {
		t.Errorf("DoF = %d; want %d", f.DoF, in.Raw.DoF)
	}
	wantPrinted(t, "y1", f.Intercept, in.Raw.Y1, 4)
	wantPrinted(t, "u(y1)", f.UIntercept, in.Raw.U1, 4)
	wantPrinted(t, "y2", f.Slope, in.Raw.Y2, 5)
	wantPrinted(t, "u(y2)", f.USlope, in.Raw.U2, 5)
	wantPrinted(t, "r", r, in.Raw.R, 2)
	wantPrinted(t, "s", s, in.Raw.S, 4)
	wantPrinted(t, "b(30)", b30, in.Raw.B30, 4)
	wantPrinted(t, "u(b(30))", u30, in.Raw.UB30, 4)
	// Full figures have as many digits as the file gives.
	wantNear(t, "y1", f.Intercept, in.Full.Y1, 1e-12)
	wantNear(t, "y2", f.Slope, in.Full.Y2, 1e-12)
	wantNear(t, "u(y1)", f.UIntercept, in.Full.U1, 1e-5)
	wantNear(t, "u(y2)", f.USlope, in.Full.U2, 1e-8)
	wantNear(t, "r", r, in.Full.R, 1e-12)
	wantNear(t, "s", s, in.Full.S, 1e-12)
	wantNear(t, "b(30)", b30, in.Full.B30, 1e-12)
	wantNear(t, "u(b(30))", u30, in.Full.UB30, 1e-12)
	wantNear(t, "χ²", f.Chi2, in.Raw.SumOfSquares, 1e-11)
}

// TestPearsonWithYorksWeights takes the convention of York 2004 for the
// standard errors, unscaled: the first of the file's four.
func TestPearsonWithYorksWeights(t *testing.T) {
	in := load[struct {
		X, Y, WX, WY []float64
		Full         struct {
			Intercept, Slope, Chi2 float64
			Ratio                  float64 `json:"chi2_over_8"`
		} `json:"expected_full_precision"`
		Errors []struct {
			Method string
			UA     float64 `json:"u_a"`
			UB     float64 `json:"u_b"`
			Cov    float64
		} `json:"standard_errors"`
	}](t, "06_pearson_york_line.json")
	ux, uy := make([]float64, len(in.X)), make([]float64, len(in.X))
	for i := range in.X {
		ux[i], uy[i] = 1/math.Sqrt(in.WX[i]), 1/math.Sqrt(in.WY[i])
	}
	f, err := York(in.X, in.Y, ux, uy)
	if err != nil {
		t.Fatal(err)
	}
	wantNear(t, "intercept", f.Intercept, in.Full.Intercept, 1e-12)
	wantNear(t, "slope", f.Slope, in.Full.Slope, 1e-11)
	wantNear(t, "χ²", f.Chi2, in.Full.Chi2, 1e-10)
	wantNear(t, "χ²/ν", f.Chi2/float64(f.DoF), in.Full.Ratio, 1e-9)
	want := in.Errors[0]
	if want.Method != "York 2004 (adjusted points), unscaled" {
		t.Fatalf("the file's first convention is %q", want.Method)
	}
	wantNear(t, "u(a)", f.UIntercept, want.UA, 1e-8)
	wantNear(t, "u(b)", f.USlope, want.UB, 1e-8)
	wantNear(t, "cov(a, b)", f.Covariance, want.Cov, 1e-7)
	birge, _ := f.ResidualSD()
	wantNear(t, "u(a) stretched by the scatter", f.UIntercept*birge, in.Errors[1].UA, 1e-8)
	wantNear(t, "u(b) stretched by the scatter", f.USlope*birge, in.Errors[1].UB, 1e-8)
}

func TestWeightedByHand(t *testing.T) {
	// Points (0, 1 ± 1), (1, 3 ± 1), (1, 5 ± 1/√2): at x = 1 the mean is 13/3
	// with u² = 1/3, so a = 1, b = 10/3, u²(a) = 1, u²(b) = 4/3, cov = −1 and
	// χ² = (4/3)² + 2 (2/3)² = 8/3.
	f, err := Weighted([]float64{0, 1, 1}, []float64{1, 3, 5}, []float64{1, 1, math.Sqrt(0.5)})
	if err != nil {
		t.Fatal(err)
	}
	want := Fit{Intercept: 1, Slope: 10.0 / 3, UIntercept: 1, USlope: math.Sqrt(4.0 / 3), Covariance: -1, Chi2: 8.0 / 3, DoF: 1}
	wantNear(t, "a", f.Intercept, want.Intercept, 1e-14)
	wantNear(t, "b", f.Slope, want.Slope, 1e-14)
	wantNear(t, "u(a)", f.UIntercept, want.UIntercept, 1e-14)
	wantNear(t, "u(b)", f.USlope, want.USlope, 1e-14)
	wantNear(t, "cov", f.Covariance, want.Covariance, 1e-14)
	wantNear(t, "χ²", f.Chi2, want.Chi2, 1e-14)
	if f.DoF != 1 {
		t.Errorf("DoF = %d; want 1", f.DoF)
	}
	r, ok := f.Correlation()
	if !ok {
		t.Fatal("no correlation")
	}
	wantNear(t, "r", r, -math.Sqrt(0.75), 1e-14)
	// y = 2 x through (1, 2 ± 1) and (2, 4 ± 2): u²(b) = 1/(1 + 1).
	o, err := WeightedThroughOrigin([]float64{1, 2}, []float64{2, 4}, []float64{1, 2})
	if err != nil {
		t.Fatal(err)
	}
	wantNear(t, "b", o.Slope, 2, 1e-14)
	wantNear(t, "u(b)", o.USlope, math.Sqrt(0.5), 1e-14)
}

func TestRefused(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	three := []float64{1, 2, 3}
	fitOf := func(f Fit, err error) error {
		if err != nil && f != (Fit{}) {
			t.Errorf("%+v came beside the error %v", f, err)
		}
		return err
	}
	for _, tt := range []struct {
		name      string
		got, want error
	}{
		{"two points and their scatter", fitOf(Ordinary(three[:2], three[:2])), ErrTooFew},
		{"one point", fitOf(Weighted(three[:1], three[:1], three[:1])), ErrTooFew},
		{"one point and its scatter", fitOf(ThroughOrigin(three[:1], three[:1])), ErrTooFew},
		{"no point", fitOf(WeightedThroughOrigin(nil, nil, nil)), ErrTooFew},
		{"a y missing", fitOf(Ordinary(three, three[:2])), ErrInput},
		{"an uncertainty missing", fitOf(Weighted(three, three, three[:2])), ErrInput},
		{"no number", fitOf(Ordinary(three, []float64{1, nan, 3})), ErrInput},
		{"an endless x", fitOf(Ordinary([]float64{1, inf, 3}, three)), ErrInput},
		{"a point without doubt", fitOf(Weighted(three, three, []float64{1, 0, 1})), ErrInput},
		{"all x alike", fitOf(Ordinary([]float64{0.1, 0.1, 0.1}, three)), ErrNoSpread},
		{"all x zero", fitOf(ThroughOrigin([]float64{0, 0, 0}, three)), ErrNoSpread},
		{"too large", fitOf(Ordinary([]float64{-1e300, 0, 1e300}, three)), ErrRange},
		{"too steep", fitOf(Ordinary([]float64{0, 1e-10, 2e-10}, []float64{0, 1e308, 1.5e308})), ErrRange},
		{"York without uncertainties", fitOf(York(three, three, nil, nil)), ErrInput},
		{"York's point without doubt", fitOf(York(three, three, []float64{0, 1, 1}, []float64{0, 1, 1})), ErrInput},
		{"York's upright line", fitOf(York([]float64{1, 1, 1}, three, three, three)), ErrNoSpread},
		{"York with one point", fitOf(York(three[:1], three[:1], three[:1], three[:1])), ErrTooFew},
		{"York of a square without direction", fitOf(York([]float64{0, 1, 0, 1}, []float64{0, 0, 1, 1}, []float64{1, 1, 1, 1}, []float64{0, 0, 0, 0})), ErrNoConvergence},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if !errors.Is(tt.got, tt.want) {
				t.Errorf("error %v; want %v", tt.got, tt.want)
			}
		})
	}
	if _, _, err := (Fit{Slope: 1, USlope: 1}).At(nan); !errors.Is(err, ErrInput) {
		t.Errorf("At(NaN): error %v; want %v", err, ErrInput)
	}
	if _, _, err := (Fit{Slope: 1e300, USlope: 1}).At(1e300); !errors.Is(err, ErrRange) {
		t.Errorf("At far out: error %v; want %v", err, ErrRange)
	}
}

// points draws x, y and u that are ordinary numbers.
func points(t *rapid.T) (x, y, ux, uy []float64) {
	n := rapid.IntRange(3, 8).Draw(t, "n")
	for i := range n {
		// Whole steps apart, so that the spread is never rounding alone.
		x = append(x, float64(i)+rapid.Float64Range(-0.4, 0.4).Draw(t, "x"))
		y = append(y, rapid.Float64Range(-10, 10).Draw(t, "y"))
		ux = append(ux, rapid.Float64Range(0.01, 0.2).Draw(t, "ux"))
		uy = append(uy, rapid.Float64Range(0.1, 3).Draw(t, "uy"))
	}
	return x, y, ux, uy
}

// TestWeightedSolvesNormalEquations holds the fit to gonum's solution of the
// same least squares by QR decomposition, a way of its own.
func TestWeightedSolvesNormalEquations(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y, _, u := points(t)
		f, err := Weighted(x, y, u)
		if err != nil {
			t.Fatalf("Weighted(%v, %v, %v): %v", x, y, u, err)
		}
		a, b := mat.NewDense(len(x), 2, nil), mat.NewVecDense(len(x), nil)
		for i := range x {
			a.SetRow(i, []float64{1 / u[i], x[i] / u[i]})
			b.SetVec(i, y[i]/u[i])
		}
		factors, err := SlopeFactors(x, u)
		if err != nil {
			t.Fatal(err)
		}
		if got := floats.Dot(factors, y); math.Abs(got-f.Slope) > 1e-9*10 {
			t.Errorf("the factors of %v, %v make a slope of %g; Weighted has %g", x, u, got, f.Slope)
		}
		var want mat.VecDense
		if err := want.SolveVec(a, b); err != nil {
			t.Fatal(err)
		}
		var normal, cov mat.Dense
		normal.Mul(a.T(), a)
		if err := cov.Inverse(&normal); err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			what            string
			got, want, size float64
		}{
			{"a", f.Intercept, want.AtVec(0), 10},
			{"b", f.Slope, want.AtVec(1), 10},
			{"u²(a)", f.UIntercept * f.UIntercept, cov.At(0, 0), cov.At(0, 0)},
			{"u²(b)", f.USlope * f.USlope, cov.At(1, 1), cov.At(1, 1)},
			{"cov", f.Covariance, cov.At(0, 1), math.Sqrt(cov.At(0, 0) * cov.At(1, 1))},
		} {
			if math.Abs(c.got-c.want) > 1e-9*c.size {
				t.Errorf("%s of %v, %v, %v = %.12g; QR has %.12g", c.what, x, y, u, c.got, c.want)
			}
		}
	})
}

// TestYorkWithoutDoubtInX is the weighted fit.
func TestYorkWithoutDoubtInX(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y, _, u := points(t)
		want, err := Weighted(x, y, u)
		if err != nil {
			t.Fatal(err)
		}
		got, err := York(x, y, make([]float64, len(x)), u)
		if err != nil {
			t.Fatalf("York(%v, %v, 0, %v): %v", x, y, u, err)
		}
		for _, c := range [][2]float64{
			{got.Intercept, want.Intercept}, {got.Slope, want.Slope}, {got.UIntercept, want.UIntercept},
			{got.USlope, want.USlope}, {got.Covariance, want.Covariance}, {got.Chi2, want.Chi2},
		} {
			if math.Abs(c[0]-c[1]) > 1e-9*(1+math.Abs(c[1])) {
				t.Errorf("York(%v, %v, 0, %v) = %+v; Weighted has %+v", x, y, u, got, want)
			}
		}
	})
}

// TestYorkIsAMinimum: no line near York's has a smaller weighted sum.
func TestYorkIsAMinimum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y, ux, uy := points(t)
		f, err := York(x, y, ux, uy)
		if errors.Is(err, ErrNoConvergence) {
			return // points of no direction have no line to compare
		}
		if err != nil {
			t.Fatalf("York(%v, %v, %v, %v): %v", x, y, ux, uy, err)
		}
		chi2 := func(a, b float64) (sum float64) {
			for i := range x {
				r := (y[i] - a - b*x[i]) / math.Hypot(uy[i], b*ux[i])
				sum += r * r
			}
			return sum
		}
		if got := chi2(f.Intercept, f.Slope); math.Abs(got-f.Chi2) > 1e-9*(1+got) {
			t.Errorf("χ² of %v, %v = %g; counted again %g", x, y, f.Chi2, got)
		}
		for _, d := range [][2]float64{{1, 0}, {-1, 0}, {0, 1}, {0, -1}, {1, 1}, {-1, -1}, {1, -1}, {-1, 1}} {
			if near := chi2(f.Intercept+1e-3*d[0], f.Slope+1e-3*d[1]); near < f.Chi2-1e-9*(1+f.Chi2) {
				t.Errorf("York(%v, %v, %v, %v): χ² %g; the line beside it has %g", x, y, ux, uy, f.Chi2, near)
			}
		}
	})
}

// TestNothingEndless: whatever comes in, an answer is made of numbers.
func TestNothingEndless(t *testing.T) {
	odd := rapid.OneOf(rapid.Float64(), rapid.Float64Range(-3, 3), rapid.SampledFrom([]float64{0, 1, 2, 3, math.NaN(), math.Inf(1), math.MaxFloat64, 5e-324}))
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 4).Draw(t, "n")
		list := func(name string) []float64 { return rapid.SliceOfN(odd, n, n).Draw(t, name) }
		x, y, ux, uy := list("x"), list("y"), list("ux"), list("uy")
		for name, fit := range map[string]func() (Fit, error){
			"Ordinary":              func() (Fit, error) { return Ordinary(x, y) },
			"Weighted":              func() (Fit, error) { return Weighted(x, y, uy) },
			"ThroughOrigin":         func() (Fit, error) { return ThroughOrigin(x, y) },
			"WeightedThroughOrigin": func() (Fit, error) { return WeightedThroughOrigin(x, y, uy) },
			"York":                  func() (Fit, error) { return York(x, y, ux, uy) },
		} {
			f, err := fit()
			if err == nil && !finite(f.Intercept, f.Slope, f.UIntercept, f.USlope, f.Covariance, f.Chi2) {
				t.Errorf("%s of %v, %v, %v, %v = %+v", name, x, y, ux, uy, f)
			}
			if v, u, err := f.At(1.5); err == nil && !finite(v, u) {
				t.Errorf("%s of %v, %v at 1.5 = %g ± %g", name, x, y, v, u)
			}
			if r, _ := f.Correlation(); math.Abs(r) > 1 || math.IsNaN(r) {
				t.Errorf("%s of %v, %v: correlation %g", name, x, y, r)
			}
		}
		p := SeriesPoints{Series: x, First: y, U: uy, EMF: odd.Draw(t, "E"), UEMF: odd.Draw(t, "uE"), UZero: odd.Draw(t, "uz")}
		if l, err := SeriesAgainstReciprocal(p); err == nil && !finite(l.Slope, l.USlope, l.Intercept, l.UIntercept, l.Correlation, l.K, l.UK, l.Chi2) {
			t.Errorf("SeriesAgainstReciprocal(%+v) = %+v", p, l)
		}
		if f, err := ForcedMerit(p, odd.Draw(t, "c"), odd.Draw(t, "uc")); err == nil && !finite(f.K, f.UK, f.Chi2) {
			t.Errorf("ForcedMerit(%+v) = %+v", p, f)
		}
	})
}
