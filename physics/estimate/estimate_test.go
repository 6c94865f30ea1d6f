package estimate

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"example.org/halve/physics/published"
)

// scenario is one entry of testdata/scenarios.json, which names its source.
type scenario struct {
	ID     string
	Inputs struct {
		E    float64      `json:"E_V"`
		R    float64      `json:"r_ohm"`
		Box  float64      `json:"R_ohm"`
		S    float64      `json:"S_ohm"`
		T1   float64      `json:"theta1_div"`
		T2   float64      `json:"theta2_div"`
		Rows [][4]float64 `json:"rows_R_S_theta1_theta2"`
		U    map[string]struct {
			Dist  string
			Value float64
		} `json:"half_widths_or_u"`
		UTheta float64               `json:"u_theta"`
		Priors map[string][2]float64 `json:"priors_mean_u"`
	}
	Expected struct {
		G     float64   `json:"G_ohm"`
		K     float64   `json:"k_A_per_div"`
		UG    float64   `json:"u_G"`
		UK    float64   `json:"u_k"`
		Corr  float64   `json:"corr_Gk"`
		GRows []float64 `json:"G_rows"`
		KRows []float64 `json:"k_rows"`
		FitG  float64   `json:"G"`
		FitK  float64   `json:"k"`
		ER    float64   `json:"eR"`
		ES    float64   `json:"eS"`
		E     float64
		R     float64 `json:"r"`
		Zero  float64
		Chi2  float64 `json:"chi2_total"`
		DOF   int
	}
}

// files holds the published figures. The scenarios carry six significant ones,
// so half a unit in the sixth is 5e-6 at worst.
var files = os.DirFS("testdata")

func scenarios(t *testing.T) map[string]scenario {
	t.Helper()
	m := map[string]scenario{}
	for _, s := range published.Load[struct{ Scenarios []scenario }](t, files, "scenarios.json").Scenarios {
		m[s.ID] = s
	}
	return m
}

// gainRow is a row on boxes whose only error is one gain: every ohm counts as
// the same coil.
func gainRow(R, S, t1, t2 float64) []Observation {
	first := Observation{Series: []int{int(R)}, SeriesOhm: R, Div: t1, N: 1}
	shunted := Observation{Series: first.Series, SeriesOhm: R, Shunt: []int{int(S)}, ShuntOhm: S, Shunted: true, Div: t2, N: 1}
	return []Observation{first, shunted}
}

// singleRow is the bench of scenarios D1 to D3.
func singleRow(s scenario) Input {
	// rectangular a/√3, triangular a/√6 (JCGM 100, 4.3.7 and 4.3.9)
	u := func(name string) float64 {
		v := s.Inputs.U[name]
		return v.Value / map[string]float64{"rect": math.Sqrt(3), "tri": math.Sqrt(6), "norm": 1}[v.Dist]
	}
	return Input{
		EMF: s.Inputs.E, UEMF: u("E"), SourceResistance: s.Inputs.R, USourceResistance: u("r"),
		Repeatability: u("theta1"), Zeros: []float64{0}, UZeros: []float64{u("zero")},
		SeriesCoils: []float64{1}, SeriesTolerance: s.Inputs.U["R"].Value / s.Inputs.Box,
		ShuntCoils: []float64{1}, ShuntTolerance: s.Inputs.U["S"].Value / s.Inputs.S,
		Observations: gainRow(s.Inputs.Box, s.Inputs.S, s.Inputs.T1, s.Inputs.T2),
	}
}

func TestSingleRow(t *testing.T) {
	for _, id := range []string{"D1", "D2", "D3"} {
		t.Run(id, func(t *testing.T) {
			s := scenarios(t)[id]
			fit, err := Joint(singleRow(s))
			if err != nil {
				t.Fatal(err)
			}
			published.Near(t, "G", fit.G, s.Expected.G, 5e-6)
			published.Near(t, "k", fit.K, s.Expected.K, 5e-6)
			published.Near(t, "u(G)", fit.UG, s.Expected.UG, 5e-6)
			published.Near(t, "u(k)", fit.UK, s.Expected.UK, 5e-6)
			published.Near(t, "r(G,k)", fit.Correlation, s.Expected.Corr, 5e-6)
			if fit.Chi2 > 1e-15 || fit.DOF != 0 {
				t.Errorf("two readings are met exactly by G and k: chi2 = %g with %d degrees of freedom, want 0 and 0", fit.Chi2, fit.DOF)
			}
		})
	}
}

func TestRowsOneByOne(t *testing.T) {
	s := scenarios(t)["D4"]
	for i, row := range s.Inputs.Rows {
		t.Run(fmt.Sprintf("row %d", i+1), func(t *testing.T) {
			fit, err := Joint(gainInput(s, gainRow(row[0], row[1], row[2], row[3])))
			if err != nil {
				t.Fatal(err)
			}
			published.Near(t, "G", fit.G, s.Expected.GRows[i], 5e-6)
			published.Near(t, "k", fit.K, s.Expected.KRows[i], 5e-6)
		})
	}
}

// gainInput is the bench of scenarios D4 and D5: box gains 0.5 % and 1 %.
func gainInput(s scenario, obs []Observation) Input {
	return Input{
		EMF: 1.46, UEMF: 0.008429313930168537, SourceResistance: 0.9, USourceResistance: 0.3,
		Repeatability: 0.15, Zeros: []float64{0}, UZeros: []float64{0.06},
		SeriesCoils: []float64{1}, SeriesTolerance: 0.005, ShuntCoils: []float64{1}, ShuntTolerance: 0.01,
		Observations: obs,
	}
}

func TestFiveRowsTogether(t *testing.T) {
	s := scenarios(t)["D5"]
	var obs []Observation
	for _, row := range s.Inputs.Rows {
		obs = append(obs, gainRow(row[0], row[1], row[2], row[3])...)
	}
	fit, err := Joint(gainInput(s, obs))
	if err != nil {
		t.Fatal(err)
	}
	want := s.Expected
	published.Near(t, "G", fit.G, want.FitG, 5e-6)
	published.Near(t, "k", fit.K, want.FitK, 5e-6)
	published.Near(t, "u(G)", fit.UG, want.UG, 5e-6)
	published.Near(t, "u(k)", fit.UK, want.UK, 5e-6)
	published.Near(t, "r(G,k)", fit.Correlation, want.Corr, 5e-6)
	published.Near(t, "chi2", fit.Chi2, want.Chi2, 5e-6)
	published.Near(t, "EMF", fit.EMF, want.E, 5e-6)
	published.Near(t, "r", fit.SourceResistance, want.R, 5e-6)
	published.Near(t, "zero", fit.Zeros[0], want.Zero, 5e-6)
	// The gains are a thousandth of their own uncertainty and carry the
	// reference's numerical noise; 1e-4 of a value is 1e-7 of that uncertainty.
	published.Near(t, "series gain", fit.SeriesErrors[0], want.ER, 1e-4)
	published.Near(t, "shunt gain", fit.ShuntErrors[0], want.ES, 1e-4)
	if fit.DOF != want.DOF {
		t.Errorf("degrees of freedom %d, want %d", fit.DOF, want.DOF)
	}
}

// plugs and dials of a usual school set (1-2-2-5 coils, common practice).
func set1225(decades int) []float64 {
	var c []float64
	for d := 1.0; decades > 0; decades, d = decades-1, d*10 {
		c = append(c, d, 2*d, 2*d, 5*d)
	}
	return c
}

// takeOut lists which coils of a 1-2-2-5 set make ohm, greedily from the
// largest, which is exact for such sets.
func takeOut(coils []float64, ohm float64) ([]int, float64) {
	n := make([]int, len(coils))
	sum := 0.0
	for d := 0; d < len(coils); d += 4 {
		hi := len(coils) - 4 - d
		for _, i := range []int{hi + 3, hi + 1, hi + 2, hi} {
			if sum+coils[i] <= ohm+1e-9 {
				n[i], sum = 1, sum+coils[i]
			}
		}
	}
	return n, sum
}

// truth is a bench whose every value is known, for making readings.
type truth struct {
	emf, r, g, k, zero        float64
	seriesErrors, shuntErrors []float64
}

// read returns the needle's place, by Thévenin's theorem rather than by the
// formula under test: the shunted movement sees E S/(R′+S) behind R′∥S.
func (b truth) read(in Input, o Observation) float64 {
	r, s := b.r+o.SeriesOhm, o.ShuntOhm
	for i, n := range o.Series {
		r += float64(n) * in.SeriesCoils[i] * b.seriesErrors[i]
	}
	if !o.Shunted {
		return b.emf/(r+b.g)/b.k + b.zero
	}
	for i, n := range o.Shunt {
		s += float64(n) * in.ShuntCoils[i] * b.shuntErrors[i]
	}
	return b.emf*s/(r+s)/(r*s/(r+s)+b.g)/b.k + b.zero
}

// drawBench draws a school bench with 1-2-2-5 boxes within its tolerances.
func drawBench(r *rand.Rand) (Input, truth) {
	in := Input{
		EMF: 1 + r.Float64(), SourceResistance: 0.5, USourceResistance: 0.25,
		Step: []float64{1, 0.5, 0.25}[r.IntN(3)], Zeros: []float64{0}, SeriesCoils: set1225(4), ShuntCoils: set1225(3),
		SeriesTolerance: math.Pow(10, -3+r.Float64()), ShuntTolerance: math.Pow(10, -3+r.Float64()),
	}
	in.UEMF = in.EMF * 0.01
	in.Repeatability = 0.15 * in.Step
	in.UZeros = []float64{in.Step / math.Sqrt(12)}
	b := truth{
		emf: in.EMF + in.UEMF*r.NormFloat64(), r: max(0, 0.5+0.25*r.NormFloat64()),
		g: 50 + 100*r.Float64(), k: 1e-5 * math.Pow(4, r.Float64()),
	}
	for range in.SeriesCoils {
		b.seriesErrors = append(b.seriesErrors, in.SeriesTolerance*(2*r.Float64()-1))
	}
	for range in.ShuntCoils {
		b.shuntErrors = append(b.shuntErrors, in.ShuntTolerance*(2*r.Float64()-1))
	}
	// The rest reading was rounded to the step; the needle lay around it.
	b.zero = in.Step * (r.Float64() - 0.5)
	return in, b
}

// spreadRows sets rows at large deflections with shunts about the given parts
// of the halving shunt, and reads them with noise and rounding. The series
// values are round hundreds, as a person takes few plugs out.
func spreadRows(in *Input, b truth, ratios []float64, r *rand.Rand) {
	in.Observations = nil
	for i, ratio := range ratios {
		target := 28 - 10*float64(i)/float64(len(ratios))
		series, R := takeOut(in.SeriesCoils, 100*math.Round((b.emf/b.k/target-b.g)/100))
		shunt, S := takeOut(in.ShuntCoils, math.Round(ratio*b.g*R/(R+b.g)))
		first := Observation{Series: series, SeriesOhm: R, N: 1}
		shunted := Observation{Series: series, SeriesOhm: R, Shunt: shunt, ShuntOhm: S, Shunted: true, N: 1}
		for _, o := range []Observation{first, shunted} {
			x := b.read(*in, o) + in.Repeatability*r.NormFloat64()
			o.Div = math.Round(x/in.Step) * in.Step
			in.Observations = append(in.Observations, o)
		}
	}
}

// fiveRatios are a plain half and then shunts spread on purpose, so that the
// rows do not share their rounding.
var fiveRatios = []float64{1, 0.75, 1.3, 0.85, 1.15}

// TestCoverage makes 2,000 benches with known G and k. The bounds: 95 % of
// 2,000 has the binomial standard deviation 0.49 %, four of which are 2 %;
// the interval 92 to 98 % leaves another 1 % for the readings' rectangular
// law. Three standard uncertainties hold 99.73 % of a normal law; 99 % is six
// binomial standard deviations (0.116 %) below that.
func TestCoverage(t *testing.T) {
	const benches = 2000
	r := rand.New(rand.NewPCG(20, 26))
	var g2, k2, g3, k3 int
	var chi float64
	for i := range benches {
		in, b := drawBench(r)
		spreadRows(&in, b, fiveRatios, r)
		fit, err := Joint(in)
		if err != nil {
			t.Fatalf("bench %d: %v\n%+v", i, err, in)
		}
		within := func(n *int, got, want, u, c float64) {
			if math.Abs(got-want) <= c*u {
				*n++
			}
		}
		within(&g2, fit.G, b.g, fit.UG, 1.96)
		within(&k2, fit.K, b.k, fit.UK, 1.96)
		within(&g3, fit.G, b.g, fit.UG, 3)
		within(&k3, fit.K, b.k, fit.UK, 3)
		chi += fit.Chi2 / float64(fit.DOF)
	}
	part := func(n int) float64 { return float64(n) / benches }
	t.Logf("%d benches of 5 rows: 95 %% interval holds G in %.2f %%, k in %.2f %%; 3u holds G in %.2f %%, k in %.2f %%; mean chi2/dof %.3f",
		benches, 100*part(g2), 100*part(k2), 100*part(g3), 100*part(k3), chi/benches)
	for name, n := range map[string]int{"G": g2, "k": k2} {
		if p := part(n); p < 0.92 || p > 0.98 {
			t.Errorf("the 95 %% interval of %s holds the truth in %.2f %%, want 92 to 98 %%", name, 100*p)
		}
	}
	for name, n := range map[string]int{"G": g3, "k": k3} {
		if p := part(n); p < 0.99 {
			t.Errorf("%s lies within 3u in %.2f %%, want 99 %% or more", name, 100*p)
		}
	}
}

// TestGradient compares the derivatives with central differences at random
// parameters, both sides, several zeros.
func TestGradient(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for i := range 200 {
		in, b := drawBench(r)
		spreadRows(&in, b, fiveRatios, r)
		in.Zeros, in.UZeros = []float64{0.1, -0.2}, []float64{0.1, 0.15}
		for j := range in.Observations {
			in.Observations[j].ZeroWeights = []float64{0.3, 0.7}
		}
		m := newModel(in)
		x := make([]float64, m.columns)
		x[logLoop], x[logG] = math.Log(b.emf/b.k), math.Log(b.g)
		for j := nuisances; j < m.columns; j++ {
			x[j] = r.NormFloat64()
		}
		p := m.points[r.IntN(len(m.points))]
		p.side = float64(1 - 2*(i%2))
		_, row := m.gradient(here(x), &p, nil)
		d := make([]float64, m.columns)
		for j, e := range row {
			d[e.column] += e.d
			if j > 0 && e.column <= row[j-1].column {
				t.Fatalf("columns do not ascend: %v", row)
			}
		}
		for j := range x {
			const h = 1e-5
			up, down := slices.Clone(x), slices.Clone(x)
			up[j], down[j] = up[j]+h, down[j]-h
			want := (m.reading(here(up), &p) - m.reading(here(down), &p)) / (2 * h)
			// truncation h²·θ ≈ 3e-9, rounding 1e-16·θ/h ≈ 3e-10
			if math.Abs(d[j]-want) > 1e-8*(1+math.Abs(want)) {
				t.Fatalf("bench %d parameter %d: derivative %.12g, by differences %.12g", i, j, d[j], want)
			}
		}
	}
}

// sharp is a bench read to a millionth of a division with everything exactly
// known, and what it should give.
func sharp(r *rand.Rand) (Input, truth) {
	in, b := drawBench(r)
	in.Step, in.Repeatability = 0, 1e-6
	in.UEMF, in.USourceResistance, in.SeriesTolerance, in.ShuntTolerance, in.UZeros[0] = 0, 0, 0, 0, 0
	in.EMF, in.SourceResistance, in.Zeros[0] = b.emf, b.r, b.zero
	clear(b.seriesErrors)
	clear(b.shuntErrors)
	return in, b
}

// exactly replaces every reading by the needle's true place.
func exactly(in *Input, b truth) {
	for i := range in.Observations {
		in.Observations[i].Div = b.read(*in, in.Observations[i])
	}
}

// TestChangedSource: rows read with half the EMF, told so, give the same G and
// k, and so does every reading taken as of a source half as strong.
func TestChangedSource(t *testing.T) {
	r := rand.New(rand.NewPCG(51, 52))
	var m Marginal
	for range 100 {
		in, b := sharp(r)
		in.Step = 0.5 // for the settings only
		spreadRows(&in, b, fiveRatios, r)
		in.Step = 0
		exactly(&in, b)
		half := b
		half.emf /= 2
		for i := range 4 { // the first two rows
			in.Observations[i].Div, in.Observations[i].Drive = half.read(in, in.Observations[i]), 0.5
		}
		f, err := Joint(in)
		if err != nil {
			t.Fatal(err)
		}
		published.Near(t, "G", f.G, b.g, 1e-5)
		published.Near(t, "k", f.K, b.k, 1e-5)
		e, err := m.Find(&in)
		if err != nil {
			t.Fatal(err)
		}
		published.Near(t, "marginal G", e.G, b.g, 1e-5)
		published.Near(t, "marginal k", e.K, b.k, 1e-5)

		in, b = drawBench(r)
		spreadRows(&in, b, fiveRatios, r)
		want, err := Joint(in)
		if err != nil {
			t.Fatal(err)
		}
		in.EMF, in.UEMF = 2*in.EMF, 2*in.UEMF
		for i := range in.Observations {
			in.Observations[i].Drive = 0.5
		}
		got, err := Joint(in)
		if err != nil {
			t.Fatal(err)
		}
		published.Near(t, "k of a source half as strong", got.K, want.K, 1e-9)
		published.Near(t, "its u", got.UK, want.UK, 1e-9)
		published.Near(t, "u(G)", got.UG, want.UG, 1e-9)
	}
}

func TestExactReadingsGiveTheTruth(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for i := range 200 {
		in, b := sharp(r)
		in.Step = 0.5 // for the settings only
		spreadRows(&in, b, fiveRatios[:1+i%5], r)
		in.Step = 0
		exactly(&in, b)
		fit, err := Joint(in)
		if err != nil {
			t.Fatal(err)
		}
		// θ carries 1e-16·25 div; dG/G = 4.5·dθ/θ.
		published.Near(t, "G", fit.G, b.g, 1e-11)
		published.Near(t, "k", fit.K, b.k, 1e-11)
		published.Near(t, "E/k", fit.Loop, b.emf/b.k, 1e-11)
	}
}

func TestLeftSideIsTheMirrorOfTheRight(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	in, b := drawBench(r)
	in.Zeros[0] = 0.2
	spreadRows(&in, b, fiveRatios, r)
	right, err := Joint(in)
	if err != nil {
		t.Fatal(err)
	}
	in.Zeros[0] *= -1
	for i := range in.Observations {
		in.Observations[i].Div *= -1
	}
	left, err := Joint(in)
	if err != nil {
		t.Fatal(err)
	}
	published.Near(t, "G", left.G, right.G, 1e-12)
	published.Near(t, "u(G)", left.UG, right.UG, 1e-12)
	published.Near(t, "zero", left.Zeros[0], -right.Zeros[0], 1e-9)
	d, u, err := right.Predict(in.Observations[1], false)
	dl, ul, errl := left.Predict(in.Observations[1], true)
	if err != nil || errl != nil {
		t.Fatal(err, errl)
	}
	published.Near(t, "foreseen", dl, -d, 1e-12)
	published.Near(t, "its u", ul, u, 1e-12)
}

// Rows on both sides make the zero nearly harmless: to first order it cancels
// (domain notes A3); on one side it does not.
func TestBothSidesCancelTheZero(t *testing.T) {
	in, b := sharp(rand.New(rand.NewPCG(9, 10)))
	in.Step = 0.5
	spreadRows(&in, b, []float64{1, 1}, rand.New(rand.NewPCG(1, 1)))
	in.Step, in.Repeatability, in.UZeros[0] = 0, 0.01, 0.3
	exactly(&in, b)
	one, err := Joint(in)
	if err != nil {
		t.Fatal(err)
	}
	for i := range 2 {
		o := &in.Observations[i]
		o.Div = 2*b.zero - o.Div
	}
	two, err := Joint(in)
	if err != nil {
		t.Fatal(err)
	}
	if two.UG > one.UG/3 {
		t.Errorf("u(G) with rows on one side %.3g, on both %.3g: want less than a third", one.UG, two.UG)
	}
	published.Near(t, "G", two.G, b.g, 1e-9)
}

func TestDriftingZero(t *testing.T) {
	in, b := sharp(rand.New(rand.NewPCG(11, 12)))
	in.Step = 0.5
	spreadRows(&in, b, fiveRatios, rand.New(rand.NewPCG(1, 2)))
	in.Step = 0
	in.Zeros, in.UZeros = []float64{-0.4, 0.6}, []float64{0.1, 0.1}
	n := float64(len(in.Observations) - 1)
	for i := range in.Observations {
		w := float64(i) / n
		in.Observations[i].ZeroWeights = []float64{1 - w, w}
		in.Observations[i].Div = b.read(in, in.Observations[i]) - b.zero - 0.4*(1-w) + 0.6*w
	}
	fit, err := Joint(in)
	if err != nil {
		t.Fatal(err)
	}
	published.Near(t, "G", fit.G, b.g, 1e-9)
	published.Near(t, "k", fit.K, b.k, 1e-9)
}

// The needle's place is the same at the same setting, so a resolution does
// not average away; the repeatability does.
func TestRepeats(t *testing.T) {
	s := scenarios(t)["D5"]
	row := gainRow(3150, 88, 24, 12)
	in := gainInput(s, row)
	in.Step, in.Repeatability = 0.5, 0
	once, err := Joint(in)
	if err != nil {
		t.Fatal(err)
	}
	in.Observations = slices.Concat(row, row, row)
	thrice, err := Joint(in)
	if err != nil {
		t.Fatal(err)
	}
	published.Near(t, "u(G) of three identical rows, resolution only", thrice.UG, once.UG, 1e-9)
	if thrice.DOF != 0 || len(thrice.Residuals) != 6 {
		t.Errorf("three identical rows: %d degrees of freedom and %d residuals, want 0 and 6", thrice.DOF, len(thrice.Residuals))
	}

	in = gainInput(s, row)
	in.UZeros[0], in.ShuntTolerance, in.SeriesTolerance, in.USourceResistance = 0, 0, 0, 0
	once, err = Joint(in)
	if err != nil {
		t.Fatal(err)
	}
	in.Observations = slices.Clone(row)
	for i := range in.Observations {
		in.Observations[i].N = 9
	}
	nine, err := Joint(in)
	if err != nil {
		t.Fatal(err)
	}
	published.Near(t, "u(G) of nine repeats, repeatability only", nine.UG, once.UG/3, 1e-9)
	in.Observations = nil
	for i := range 9 {
		for _, o := range row {
			o.Div += []float64{-0.1, 0, 0.1}[i%3]
			in.Observations = append(in.Observations, o)
		}
	}
	apart, err := Joint(in)
	if err != nil {
		t.Fatal(err)
	}
	published.Near(t, "u(G) of nine observations of a setting", apart.UG, nine.UG, 1e-9)
	published.Near(t, "G of nine observations of a setting", apart.G, nine.G, 1e-9)
}

// A later reading lies within the foreseen band as often as the band says:
// 95 % of 1,000 has the binomial standard deviation 0.7 %, so 92 to 98 % is
// four of them and a little.
func TestPredict(t *testing.T) {
	const benches = 1000
	r := rand.New(rand.NewPCG(13, 14))
	inside := 0
	for range benches {
		in, b := drawBench(r)
		spreadRows(&in, b, fiveRatios, r)
		all := in.Observations
		in.Observations = all[:3+r.IntN(4)]
		fit, err := Joint(in)
		if err != nil {
			t.Fatal(err)
		}
		last := all[8+r.IntN(2)]
		div, u, err := fit.Predict(last, false)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(last.Div-div) <= 1.96*u {
			inside++
		}
	}
	p := float64(inside) / benches
	t.Logf("95 %% band holds the next reading in %.1f %%", 100*p)
	if p < 0.92 || p > 0.98 {
		t.Errorf("95 %% band holds the next reading in %.1f %%, want 92 to 98 %%", 100*p)
	}
}

// Before any shunted reading a prior for G lets the next setting be planned.
func TestPlanningFromFirstDeflections(t *testing.T) {
	r := rand.New(rand.NewPCG(15, 16))
	in, b := drawBench(r)
	spreadRows(&in, b, []float64{1}, r)
	next := in.Observations[1]
	in.Observations = in.Observations[:1]
	if _, err := Joint(in); !errors.Is(err, ErrNoShunted) {
		t.Fatalf("one first deflection: %v, want ErrNoShunted", err)
	}
	in.PriorG, in.UPriorG = 100, 0.8
	fit, err := Joint(in)
	if err != nil {
		t.Fatal(err)
	}
	published.Near(t, "G", fit.G, 100, 1e-9)
	published.Near(t, "u(G)", fit.UG, 80, 1e-3)
	// E/k = θ (R′ + G), by hand
	o := in.Observations[0]
	published.Near(t, "E/k", fit.Loop, o.Div*(o.SeriesOhm+0.5+100), 1e-9)
	div, u, err := fit.Predict(next, false)
	if err != nil || !(math.Abs(div-next.Div) < 3*u) {
		t.Errorf("shunted reading %g, foreseen %g ± %g (%v)", next.Div, div, u, err)
	}
	if fit.DOF != 0 {
		t.Errorf("degrees of freedom %d, want 0", fit.DOF)
	}
}

func TestWhatCannotBeFitted(t *testing.T) {
	s := scenarios(t)["D5"]
	row := func(t1, t2 float64) Input { return gainInput(s, gainRow(3150, 88, t1, t2)) }
	with := func(change func(*Input)) Input {
		in := row(24, 12)
		change(&in)
		return in
	}
	for name, c := range map[string]struct {
		in   Input
		want error // nil: any error
	}{
		"nothing":                     {with(func(in *Input) { in.Observations = nil }), ErrNoDeflection},
		"all zero":                    {row(0, 0), ErrNoDeflection},
		"first only":                  {with(func(in *Input) { in.Observations = in.Observations[:1] }), ErrNoShunted},
		"shunt at nought":             {with(func(in *Input) { in.Observations[1].ShuntOhm, in.Observations[1].Shunt[0] = 0, 0 }), ErrNoShunted},
		"shunted only":                {with(func(in *Input) { in.Observations = in.Observations[1:] }), ErrUnidentified},
		"shunt lowers nothing":        {row(24, 24), ErrContradiction},
		"shunt raises":                {row(12, 24), ErrContradiction},
		"P above R′ (ρ < S/(R′ + S))": {row(24, 0.3), ErrContradiction},
		"no reading uncertainty":      {with(func(in *Input) { in.Step, in.Repeatability = 0, 0 }), nil},
		"no zero":                     {with(func(in *Input) { in.Zeros, in.UZeros = nil, nil }), nil},
		"zero without uncertainty":    {with(func(in *Input) { in.UZeros = nil }), nil},
		"EMF nought":                  {with(func(in *Input) { in.EMF = 0 }), nil},
		"EMF no number":               {with(func(in *Input) { in.EMF = math.NaN() }), nil},
		"infinite tolerance":          {with(func(in *Input) { in.SeriesTolerance = math.Inf(1) }), nil},
		"no repeats":                  {with(func(in *Input) { in.Observations[0].N = 0 }), nil},
		"reading no number":           {with(func(in *Input) { in.Observations[0].Div = math.NaN() }), nil},
		"shunt too small to divide":   {with(func(in *Input) { in.ShuntTolerance, in.Observations[1].ShuntOhm = 0, 5e-324 }), ErrContradiction},
		"coils do not match":          {with(func(in *Input) { in.Observations[1].Shunt = []int{1, 2} }), nil},
		"zeros do not match":          {with(func(in *Input) { in.Observations[1].ZeroWeights = []float64{1, 2} }), nil},
		"prior without uncertainty":   {with(func(in *Input) { in.PriorG = 100 }), nil},
	} {
		t.Run(name, func(t *testing.T) {
			fit, err := Joint(c.in)
			if err == nil || c.want != nil && !errors.Is(err, c.want) {
				t.Errorf("got %+v, %v; want error %v", fit, err, c.want)
			}
		})
	}
}

// One bad reading among good ones is for the caller to find: the fit stays
// finite and says by its chi-squared that something is wrong.
func TestOneContradictoryReading(t *testing.T) {
	s := scenarios(t)["D5"]
	var obs []Observation
	for _, row := range s.Inputs.Rows {
		obs = append(obs, gainRow(row[0], row[1], row[2], row[3])...)
	}
	for name, div := range map[string]float64{"above the first": 29, "nought": 0, "twice": 24, "half": 6} {
		t.Run(name, func(t *testing.T) {
			in := gainInput(s, slices.Clone(obs))
			in.Observations[5].Div = div
			fit, err := Joint(in)
			if err != nil {
				t.Fatal(err)
			}
			// 8 degrees of freedom: above 26.1 in 0.1 % (chi-squared tables)
			if fit.Chi2 < 26.1 {
				t.Errorf("chi2 = %g, want above 26.1", fit.Chi2)
			}
		})
	}
}

// Whatever numbers come in: an error, or a finite fit whose prediction is
// finite.
func TestNeverNaN(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := func(name string) float64 {
			switch rapid.IntRange(0, 9).Draw(t, name+" kind") {
			case 0:
				return 0
			case 1:
				return rapid.Float64().Draw(t, name)
			}
			return math.Pow(10, rapid.Float64Range(-9, 9).Draw(t, name))
		}
		in := Input{
			EMF: size("E"), UEMF: size("uE"), SourceResistance: size("r"), USourceResistance: size("ur"),
			Step: size("step"), Repeatability: size("s"),
			Zeros: []float64{rapid.Float64Range(-1, 1).Draw(t, "zero")}, UZeros: []float64{size("uz")},
			SeriesCoils: []float64{size("coil"), 1000}, SeriesTolerance: size("tol"),
			ShuntCoils: []float64{size("shunt coil"), 10}, ShuntTolerance: size("shunt tol"),
		}
		if rapid.Bool().Draw(t, "prior") {
			in.PriorG, in.UPriorG = size("G"), size("uG")
		}
		for range rapid.IntRange(1, 8).Draw(t, "readings") {
			n, m := rapid.IntRange(0, 3).Draw(t, "n"), rapid.IntRange(0, 3).Draw(t, "m")
			o := Observation{Series: []int{n, m}, SeriesOhm: float64(n)*in.SeriesCoils[0] + float64(m)*1000, N: rapid.IntRange(1, 5).Draw(t, "N")}
			o.Div = rapid.Float64Range(-30, 30).Draw(t, "div")
			if o.Shunted = rapid.Bool().Draw(t, "shunted"); o.Shunted {
				n, m := rapid.IntRange(0, 3).Draw(t, "n"), rapid.IntRange(0, 3).Draw(t, "m")
				o.Shunt, o.ShuntOhm = []int{n, m}, float64(n)*in.ShuntCoils[0]+float64(m)*10
			}
			in.Observations = append(in.Observations, o)
		}
		fit, err := Joint(in)
		if err != nil {
			return
		}
		values := map[string]float64{}
		for i, v := range whole(fit) {
			values[fmt.Sprint("number ", i)] = v
		}
		if div, u, err := fit.Predict(in.Observations[0], false); err == nil {
			values["foreseen"], values["u of it"] = div, u
		}
		for name, v := range values {
			if !finite(v) {
				t.Fatalf("%s = %g from %+v", name, v, in)
			}
		}
		if !(fit.G > 0 && fit.K > 0 && fit.UG >= 0 && fit.UK >= 0 && math.Abs(fit.Correlation) <= 1) {
			t.Fatalf("no measurement: %+v from %+v", fit, in)
		}
	})
}

// The order of the readings does not matter.
func TestOrderOfReadings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		in, b := drawBench(r)
		spreadRows(&in, b, fiveRatios, r)
		a, errA := Joint(in)
		r.Shuffle(len(in.Observations), func(i, j int) {
			in.Observations[i], in.Observations[j] = in.Observations[j], in.Observations[i]
		})
		c, errC := Joint(in)
		if errA != nil || errC != nil {
			t.Fatal(errA, errC)
		}
		for name, v := range map[string][2]float64{"G": {a.G, c.G}, "k": {a.K, c.K}, "u(G)": {a.UG, c.UG}, "u(k)": {a.UK, c.UK}} {
			if math.Abs(v[0]-v[1]) > 1e-10*v[0] {
				t.Fatalf("%s = %.15g, in another order %.15g", name, v[0], v[1])
			}
		}
	})
}

// twentyRows is a long practical: twenty rows with a check of the first
// deflection each, 60 observations on 28 coils.
func twentyRows() Input {
	r := rand.New(rand.NewPCG(17, 18))
	in, b := drawBench(r)
	ratios := make([]float64, 20)
	for i := range ratios {
		ratios[i] = 0.7 + 0.03*float64(i)
	}
	spreadRows(&in, b, ratios, r)
	for i := range 20 {
		o := in.Observations[2*i+1]
		o.Shunt, o.ShuntOhm = takeOut(in.ShuntCoils, o.ShuntOhm+7)
		o.Div = math.Round(b.read(in, o)/in.Step) * in.Step
		in.Observations = append(in.Observations, o)
	}
	return in
}

func BenchmarkJoint(b *testing.B) {
	in := twentyRows()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Joint(in); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkWhole is the fit with all that is made of it.
func BenchmarkWhole(b *testing.B) {
	in := twentyRows()
	b.ReportAllocs()
	for b.Loop() {
		fit, err := Joint(in)
		if err != nil {
			b.Fatal(err)
		}
		gain := fit.Gain()
		gain.Budget()
		gain.Each()
		fit.Points()
	}
}

func BenchmarkPredict(b *testing.B) {
	in := twentyRows()
	fit, err := Joint(in)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := fit.Predict(in.Observations[3], false); err != nil {
			b.Fatal(err)
		}
	}
}
