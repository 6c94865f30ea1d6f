package uncertainty

import (
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"example.org/halve/physics/published"
)

// reference holds the published figures.
var reference = os.DirFS("../../testdata/reference")

func TestDivisors(t *testing.T) {
	want := published.Load[struct {
		Divisors struct {
			Rectangular float64 `json:"rectangular_halfwidth_a"`
			Triangular  float64 `json:"triangular_halfwidth_a"`
			Arcsine     float64 `json:"U_shaped_arcsine_halfwidth_a"`
			Resolution  float64 `json:"digital_resolution_full_step"`
		}
	}](t, reference, "03c_gum_type_a_type_b_small_examples.json").Divisors
	for _, tt := range []struct {
		name      string
		got, want float64
	}{
		{"rectangular", Rectangular, want.Rectangular},
		{"triangular", Triangular, want.Triangular},
		{"arcsine", Arcsine, want.Arcsine},
		{"resolution", Resolution, want.Resolution},
	} {
		t.Run(tt.name, func(t *testing.T) { published.Near(t, tt.name, tt.got, tt.want, 1e-15) })
	}
}

func TestTypeAOfTwentyTemperatures(t *testing.T) {
	in := published.Load[struct {
		Readings []float64 `json:"readings_degC"`
		Expected struct {
			N             int
			Mean          float64
			SD            float64 `json:"s_printed"`
			StandardError float64 `json:"s_mean_printed"`
		}
	}](t, reference, "03c_gum_type_a_type_b_small_examples.json")
	got, err := TypeA(in.Readings)
	if err != nil {
		t.Fatal(err)
	}
	if got.N != in.Expected.N || got.DoF != float64(in.Expected.N-1) {
		t.Errorf("N = %d, DoF = %g; want %d, one less", got.N, got.DoF, in.Expected.N)
	}
	published.Near(t, "mean", got.Mean, in.Expected.Mean, 1e-14)
	published.Printed(t, "s", got.SD, in.Expected.SD, 2)
	published.Printed(t, "s of the mean", got.StandardError, in.Expected.StandardError, 2)
}

// TestTypeAOfNIST holds mean and standard deviation to the certified values of
// the NIST univariate sets. The tolerances of the mean and of the standard
// deviation are what double precision lets the data themselves hold: with
// NumAcc3 and NumAcc4 the inputs end in tenths that a binary number cannot
// hold, and an error of half a unit in the last place of 10⁷ is a part in 10⁸
// of their standard deviation.
func TestTypeAOfNIST(t *testing.T) {
	type set struct {
		Data     []float64
		Mean, SD float64
		N        int
		Given    float64 `json:"tolerance_used_in_source_for_sd"`
	}
	sets := published.Load[struct{ Datasets map[string]set }](t, reference, "05e_nist_univariate.json").Datasets
	alternate := func(middle, low, high float64) []float64 { // as "generator" says
		return append([]float64{middle}, slices.Repeat([]float64{low, high}, 500)...)
	}
	for _, tt := range []struct {
		name     string
		data     []float64
		sdWithin float64
	}{
		{"Michelso", nil, 1e-13},
		{"Mavro", nil, 1e-12},
		{"NumAcc1", nil, 1e-15},
		{"NumAcc3", alternate(1000000.2, 1000000.1, 1000000.3), 1e-9},
		{"NumAcc4", alternate(10000000.2, 10000000.1, 10000000.3), 1e-7},
	} {
		t.Run(tt.name, func(t *testing.T) {
			want := sets[tt.name]
			data := tt.data
			if data == nil {
				data = want.Data
			}
			got, err := TypeA(data)
			if err != nil {
				t.Fatal(err)
			}
			if got.N != want.N && want.N != 0 {
				t.Errorf("N = %d; want %d", got.N, want.N)
			}
			published.Near(t, "mean", got.Mean, want.Mean, 1e-14)
			published.Near(t, "sd", got.SD, want.SD, tt.sdWithin)
			t.Logf("relative agreement: mean %.0e, sd %.0e", math.Abs(got.Mean/want.Mean-1), math.Abs(got.SD/want.SD-1))
		})
	}
}

func TestStudentTable(t *testing.T) {
	in := published.Load[struct {
		Percent []float64            `json:"columns_percent"`
		Table   map[string][]float64 `json:"table"`
	}](t, reference, "03b_student_t_table_g2.json")
	cells := 0
	for row, factors := range in.Table {
		dof := math.Inf(1)
		if row != "inf" {
			var err error
			if dof, err = strconv.ParseFloat(row, 64); err != nil {
				t.Fatal(err)
			}
		}
		decimals := 2
		if dof >= 100 { // these two rows are printed with three
			decimals = 3
		}
		for i, printed := range factors {
			percent := in.Percent[i]
			t.Run(fmt.Sprintf("dof %s at %g %%", row, percent), func(t *testing.T) {
				p := percent / 100
				// The three columns of the normal distribution's whole
				// standard deviations are printed with rounded heads; the
				// table notes so (NIST TN 1297, Table B.1, note a).
				switch percent {
				case 68.27:
					p = math.Erf(1 / math.Sqrt2)
				case 95.45:
					p = math.Erf(2 / math.Sqrt2)
				case 99.73:
					p = math.Erf(3 / math.Sqrt2)
				}
				if row == "35" && percent == 90 {
					printed = 1.69 // the table's misprint, see its mismatches_found
				}
				got, err := CoverageFactor(dof, p)
				if err != nil {
					t.Fatal(err)
				}
				published.Printed(t, "t", got, printed, decimals)
				left, err := Significance(got, dof)
				if err != nil {
					t.Fatal(err)
				}
				published.Near(t, "significance", left, 1-p, 1e-9)
			})
			cells++
		}
	}
	if cells != 28*6 {
		t.Errorf("%d cells were held against the table; want 168", cells)
	}
}

// TestCoverageFactorJoins checks that both ways of finding Student's t agree
// where one takes over from the other.
func TestCoverageFactorJoins(t *testing.T) {
	for _, p := range []float64{0.5, 0.95, 0.99, 0.9973} {
		t.Run(fmt.Sprint(p), func(t *testing.T) {
			below, err := CoverageFactor(muchDoF, p)
			if err != nil {
				t.Fatal(err)
			}
			above, err := CoverageFactor(math.Nextafter(muchDoF, math.Inf(1)), p)
			if err != nil {
				t.Fatal(err)
			}
			published.Near(t, "t just above", above, below, 1e-10)
		})
	}
}

func TestEndGauge(t *testing.T) {
	type part struct {
		Value, U, DoF, Halfwidth float64
	}
	in := published.Load[struct {
		Data struct {
			Ls part `json:"ls"`
			D  struct {
				Value      float64
				Components []part
			} `json:"d"`
			DeltaAlpha part `json:"delta_alpha"`
			DeltaTheta part `json:"delta_theta"`
			ThetaBar   part `json:"theta_bar"`
			AlphaS     part `json:"alpha_s"`
		}
		Printed struct {
			UC     float64 `json:"u_c"`
			NuEff  float64 `json:"nu_eff"`
			NuUsed float64 `json:"nu_eff_used"`
			T99    float64 `json:"t99_16"`
			U99    float64 `json:"U99"`
		} `json:"expected_printed"`
		Full struct {
			UD    float64 `json:"u_d"`
			NuD   float64 `json:"nu_d_unrounded"`
			UC    float64 `json:"u_c"`
			NuEff float64 `json:"nu_eff"`
			T99   float64 `json:"t99_16"`
			U99   float64 `json:"U99_from_31.66"`
		} `json:"expected_full_precision"`
	}](t, reference, "03_gum_h1_end_gauge_welch_satterthwaite.json")
	must := func(v float64, err error) float64 {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}

	var us, dofs []float64
	for _, c := range in.Data.D.Components {
		us, dofs = append(us, c.U), append(dofs, c.DoF)
	}
	ones := mat.NewDiagDense(3, []float64{us[0] * us[0], us[1] * us[1], us[2] * us[2]})
	ud := must(Combine([]float64{1, 1, 1}, ones))
	published.Near(t, "u(d)", ud, in.Full.UD, 1e-10)
	nud := must(EffectiveDoF(us, dofs))
	published.Near(t, "ν(d)", nud, in.Full.NuD, 1e-10)

	// l = ls + d − ls(δα θ + αs δθ); θ̄ and αs enter with δα = δθ = 0.
	d := in.Data
	const nominal = 50e6 // nm, the length the file's full figures go by
	sens := []float64{1, 1, -nominal * d.ThetaBar.Value, -nominal * d.AlphaS.Value}
	inputs := []float64{d.Ls.U, ud, d.DeltaAlpha.Halfwidth / Rectangular, d.DeltaTheta.Halfwidth / Rectangular}
	cov, contributions := mat.NewSymDense(4, nil), make([]float64, 4)
	for i, u := range inputs {
		cov.SetSym(i, i, u*u)
		contributions[i] = sens[i] * u
	}
	uc := must(Combine(sens, cov))
	published.Near(t, "u_c", uc, in.Full.UC, 1e-10)
	published.Printed(t, "u_c", uc, in.Printed.UC, 0)
	nu := must(EffectiveDoF(contributions, []float64{d.Ls.DoF, nud, d.DeltaAlpha.DoF, d.DeltaTheta.DoF}))
	// The file's figure takes the printed 25.6 for the nested 25.45, which
	// moves the fifth digit.
	published.Near(t, "ν_eff", nu, in.Full.NuEff, 5e-5)
	// For its table the GUM takes the next lower integer (G.4.1, note 1).
	used := math.Floor(nu)
	if used != in.Printed.NuUsed {
		t.Errorf("ν_eff truncated = %g; the GUM uses %g", used, in.Printed.NuUsed)
	}
	// The GUM cuts 16.75 to 16.7 on its way down to 16.
	if math.Floor(nu*10)/10 != in.Printed.NuEff {
		t.Errorf("ν_eff = %g; the GUM prints %g", nu, in.Printed.NuEff)
	}
	t99 := must(CoverageFactor(used, 0.99))
	published.Near(t, "t99(16)", t99, in.Full.T99, 1e-10)
	published.Printed(t, "t99(16)", t99, in.Printed.T99, 2)
	published.Near(t, "U99", t99*uc, in.Full.U99, 1e-5) // that many digits are given
	// The GUM's 93 is 2.92 times the rounded 32; unrounded it is 92.5.
	published.Printed(t, "U99 of the rounded figures", math.Round(t99*100)/100*in.Printed.UC, in.Printed.U99, 0)
}

// TestResistanceAndReactance is GUM H.2: the printed correlations need
// unrounded inputs, so they start from the observations.
func TestResistanceAndReactance(t *testing.T) {
	in := published.Load[struct {
		Data struct {
			V   []float64 `json:"V_volt"`
			I   []float64 `json:"I_mA"`
			Phi []float64 `json:"phi_rad"`
		}
		Printed struct {
			V, Phi struct{ Mean, U float64 }
			I      struct{ Mean, U float64 }  `json:"I_mA"`
			RVI    float64                    `json:"r_V_I"`
			RVPhi  float64                    `json:"r_V_phi"`
			RIPhi  float64                    `json:"r_I_phi"`
			R      struct{ Value, U float64 } `json:"R_ohm"`
			X      struct{ Value, U float64 } `json:"X_ohm"`
			Z      struct{ Value, U float64 } `json:"Z_ohm"`
			RRX    float64                    `json:"r_R_X"`
			RRZ    float64                    `json:"r_R_Z"`
			RXZ    float64                    `json:"r_X_Z"`
		} `json:"expected_printed"`
		Full map[string]float64 `json:"expected_full_precision_approach1"`
		None struct {
			Full map[string]float64 `json:"full_precision"`
		} `json:"expected_if_correlations_ignored"`
	}](t, reference, "01_gum_h2_resistance_reactance.json")

	columns := [][]float64{in.Data.V, in.Data.I, in.Data.Phi}
	n := len(in.Data.V)
	var mean, u [3]float64
	table := mat.NewDense(n, 3, nil)
	for c, column := range columns {
		s, err := TypeA(column)
		if err != nil {
			t.Fatal(err)
		}
		mean[c], u[c] = s.Mean, s.StandardError
		table.SetCol(c, column)
	}
	published.Printed(t, "V", mean[0], in.Printed.V.Mean, 3)
	published.Printed(t, "u(V)", u[0], in.Printed.V.U, 4)
	published.Printed(t, "I", mean[1], in.Printed.I.Mean, 3)
	published.Printed(t, "u(I)", u[1], in.Printed.I.U, 4)
	published.Printed(t, "φ", mean[2], in.Printed.Phi.Mean, 5)
	published.Printed(t, "u(φ)", u[2], in.Printed.Phi.U, 5)

	var cov mat.SymDense
	stat.CovarianceMatrix(&cov, table, nil)
	cov.ScaleSym(1/float64(n), &cov) // of the means, GUM 5.2.3, equation 17
	published.Printed(t, "r(V, I)", cov.At(0, 1)/(u[0]*u[1]), in.Printed.RVI, 2)
	published.Printed(t, "r(V, φ)", cov.At(0, 2)/(u[0]*u[2]), in.Printed.RVPhi, 2)
	// −0.6451 is printed as −0.65.
	published.Printed(t, "r(I, φ)", cov.At(1, 2)/(u[1]*u[2]), in.Printed.RIPhi, 2)

	v, i, φ := mean[0], mean[1]/1000, mean[2]
	r, x, z := v*math.Cos(φ)/i, v*math.Sin(φ)/i, v/i
	published.Printed(t, "R", r, in.Printed.R.Value, 3)
	published.Printed(t, "X", x, in.Printed.X.Value, 3)
	published.Printed(t, "Z", z, in.Printed.Z.Value, 2)
	perMilliampere := -1 / mean[1]
	jacobian := map[string][]float64{
		"R": {r / v, r * perMilliampere, -x},
		"X": {x / v, x * perMilliampere, r},
		"Z": {z / v, z * perMilliampere, 0},
	}
	check := func(t *testing.T, cov mat.Symmetric, want map[string]float64, within float64) map[string]float64 {
		t.Helper()
		got := map[string]float64{}
		for name, c := range jacobian {
			u, err := Combine(c, cov)
			if err != nil {
				t.Fatal(err)
			}
			got["u_"+name] = u
			published.Near(t, "u("+name+")", u, want["u_"+name], within)
		}
		for _, pair := range [][2]string{{"R", "X"}, {"R", "Z"}, {"X", "Z"}} {
			c, err := Covariance(jacobian[pair[0]], jacobian[pair[1]], cov)
			if err != nil {
				t.Fatal(err)
			}
			key := "r_" + pair[0] + "_" + pair[1]
			got[key] = c / (got["u_"+pair[0]] * got["u_"+pair[1]])
			published.Near(t, key, got[key], want[key], within)
		}
		return got
	}
	t.Run("correlated", func(t *testing.T) {
		got := check(t, &cov, in.Full, 1e-7) // the digits given
		published.Printed(t, "u(R)", got["u_R"], in.Printed.R.U, 3)
		// 0.29558 is printed as 0.295, which is cut and not rounded.
		if cut := math.Floor(got["u_X"]*1000) / 1000; cut != in.Printed.X.U {
			t.Errorf("u(X) = %.5f; the GUM prints %g", got["u_X"], in.Printed.X.U)
		}
		published.Printed(t, "u(Z)", got["u_Z"], in.Printed.Z.U, 3)
		published.Printed(t, "r(R, X)", got["r_R_X"], in.Printed.RRX, 3)
		published.Printed(t, "r(R, Z)", got["r_R_Z"], in.Printed.RRZ, 3)
		published.Printed(t, "r(X, Z)", got["r_X_Z"], in.Printed.RXZ, 3)
	})
	t.Run("correlations ignored", func(t *testing.T) {
		check(t, mat.NewDiagDense(3, []float64{u[0] * u[0], u[1] * u[1], u[2] * u[2]}), in.None.Full, 1e-7)
	})
}

func TestRefused(t *testing.T) {
	one := mat.NewSymDense(1, []float64{1})
	contrary := mat.NewSymDense(2, []float64{1, -2, -2, 1}) // a correlation of −2
	// Three inputs cannot all be nearly opposite to one another.
	odd := mat.NewSymDense(3, []float64{1, -0.9, -0.9, -0.9, 1, -0.9, -0.9, -0.9, 1})
	inf, nan, huge := math.Inf(1), math.NaN(), math.MaxFloat64
	value := func(v float64, err error) error {
		if v != 0 {
			t.Errorf("%g came beside the error %v", v, err)
		}
		return err
	}
	sample := func(values ...float64) error { _, err := TypeA(values); return err }
	for _, tt := range []struct {
		name      string
		got, want error
	}{
		{"a sensitivity too few", value(Combine(nil, one)), ErrInput},
		{"a sensitivity without a number", value(Combine([]float64{nan}, one)), ErrInput},
		{"an infinite sensitivity", value(Combine([]float64{inf}, one)), ErrInput},
		{"an infinite variance", value(Combine([]float64{1}, mat.NewSymDense(1, []float64{inf}))), ErrInput},
		{"a negative variance", value(Combine([]float64{1}, mat.NewSymDense(1, []float64{-1}))), ErrInput},
		{"a correlation below −1", value(Combine([]float64{1, 1}, contrary)), ErrInput},
		{"three that are opposite", value(Combine([]float64{1, 1, 1}, odd)), ErrInput},
		{"a covariance with what is exactly known", value(Combine([]float64{1, 1}, mat.NewSymDense(2, []float64{1, 1, 1, 0}))), ErrInput},
		{"too much", value(Combine([]float64{huge}, mat.NewSymDense(1, []float64{huge}))), ErrRange},
		{"too great a covariance", value(Covariance([]float64{huge}, []float64{huge}, one)), ErrRange},
		{"degrees of freedom missing", value(EffectiveDoF([]float64{1}, nil)), ErrInput},
		{"no degree of freedom", value(EffectiveDoF([]float64{1}, []float64{0})), ErrInput},
		{"an endless contribution", value(EffectiveDoF([]float64{inf}, []float64{1})), ErrInput},
		{"certainty", value(CoverageFactor(5, 1)), ErrInput},
		{"no probability", value(CoverageFactor(5, 0)), ErrInput},
		{"a probability without a number", value(CoverageFactor(5, nan)), ErrInput},
		{"a factor for no degree of freedom", value(CoverageFactor(0, 0.95)), ErrInput},
		{"a factor for hardly any", value(CoverageFactor(1e-3, 0.95)), ErrRange},
		{"significance without a number", value(Significance(nan, 3)), ErrInput},
		{"significance of no degree of freedom", value(Significance(1, -1)), ErrInput},
		{"significance of hardly any", value(Significance(1, 5e-324)), ErrRange},
		{"next to no degree of freedom", value(EffectiveDoF([]float64{1}, []float64{5e-324})), ErrRange},
		{"nothing observed", sample(), ErrTooFew},
		{"observed once", sample(1), ErrTooFew},
		{"observed without a number", sample(1, nan), ErrInput},
		{"observations too large", sample(huge, huge), ErrRange},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if !errors.Is(tt.got, tt.want) {
				t.Errorf("error %v; want %v", tt.got, tt.want)
			}
		})
	}
}

func TestAgreementToTheLastDigit(t *testing.T) {
	s, err := TypeA([]float64{91.5, 91.5, 91.5})
	if err != nil || s.Mean != 91.5 || s.SD != 0 || s.StandardError != 0 {
		t.Errorf("TypeA of equal values = %+v, %v; want 91.5 and no scatter", s, err)
	}
	nu, err := EffectiveDoF([]float64{0, 0}, []float64{4, 4})
	if err != nil || !math.IsInf(nu, 1) {
		t.Errorf("EffectiveDoF of nothing in doubt = %g, %v; want no end", nu, err)
	}
	u, err := Combine([]float64{1, -1}, mat.NewSymDense(2, []float64{4, 4, 4, 4}))
	if err != nil || u != 0 {
		t.Errorf("u of a difference of what is in doubt alike = %g, %v; want 0", u, err)
	}
}

// TestCombineIsAVariance draws inputs as sums of independent causes, so that
// the variance of the result is known a second way: cause by cause.
func TestCombineIsAVariance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, causes := rapid.IntRange(1, 6).Draw(t, "inputs"), rapid.IntRange(1, 8).Draw(t, "causes")
		scale := math.Pow(10, float64(rapid.IntRange(-100, 100).Draw(t, "scale")))
		// A variance below the normal numbers would have lost its digits.
		number := rapid.Map(rapid.Float64Range(-10, 10), func(v float64) float64 { return math.Round(v*1e6) / 1e6 })
		a, c := mat.NewDense(n, causes, nil), make([]float64, n)
		for i := range n {
			c[i] = number.Draw(t, "sensitivity") * scale
			for j := range causes {
				a.Set(i, j, number.Draw(t, "effect"))
			}
		}
		var cov mat.SymDense
		cov.SymOuterK(1, a)
		got, err := Combine(c, &cov)
		if err != nil {
			t.Fatalf("Combine(%v, %v): %v", c, mat.Formatted(&cov), err)
		}
		var want, size float64
		for j := range causes {
			var effect float64
			for i := range n {
				effect += c[i] * a.At(i, j)
				size += math.Abs(c[i]) * math.Abs(a.At(i, j))
			}
			want = math.Hypot(want, effect)
		}
		if !(math.Abs(got-want) <= 1e-6*size) { // √ε, for it is the root of a difference
			t.Errorf("Combine(%v, %v) = %g; want %g", c, mat.Formatted(&cov), got, want)
		}
	})
}

// TestEffectiveDoFBounds: the effective degrees of freedom lie between the
// fewest of any contribution and the sum of all (Welch).
func TestEffectiveDoFBounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 8).Draw(t, "n")
		us, dofs := make([]float64, n), make([]float64, n)
		least, sum := math.Inf(1), 0.0
		for i := range n {
			us[i] = math.Pow(10, rapid.Float64Range(-300, 300).Draw(t, "log u"))
			dofs[i] = rapid.Float64Range(0.5, 100).Draw(t, "dof")
			least, sum = min(least, dofs[i]), sum+dofs[i]
		}
		got, err := EffectiveDoF(us, dofs)
		if err != nil || got < least*(1-1e-12) || got > sum*(1+1e-12) {
			t.Errorf("EffectiveDoF(%v, %v) = %g, %v; want %g to %g", us, dofs, got, err, least, sum)
		}
	})
}

// TestNothingEndless: whatever comes in, an answer is a number or an error.
func TestNothingEndless(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		any := rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{0, 1, math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, 5e-324}))
		a, b, c, d, e := any.Draw(t, "a"), any.Draw(t, "b"), any.Draw(t, "c"), any.Draw(t, "d"), any.Draw(t, "e")
		wantNumber := func(what string, v float64, err error) {
			t.Helper()
			if err == nil && !finite(v) {
				t.Errorf("%s of %g, %g, %g, %g, %g = %g", what, a, b, c, d, e, v)
			}
		}
		u, err := Combine([]float64{a, b}, mat.NewSymDense(2, []float64{c, d, d, e}))
		wantNumber("Combine", u, err)
		k, err := CoverageFactor(a, b)
		wantNumber("CoverageFactor", k, err)
		p, err := Significance(a, b)
		wantNumber("Significance", p, err)
		if err == nil && (p < 0 || p > 1) {
			t.Errorf("Significance(%g, %g) = %g; want 0 to 1", a, b, p)
		}
		if nu, err := EffectiveDoF([]float64{a, b}, []float64{c, d}); err == nil && !(nu > 0) {
			t.Errorf("EffectiveDoF(%g, %g; %g, %g) = %g", a, b, c, d, nu)
		}
		s, err := TypeA([]float64{a, b, c})
		wantNumber("mean", s.Mean, err)
		wantNumber("sd", s.SD, err)
	})
}
