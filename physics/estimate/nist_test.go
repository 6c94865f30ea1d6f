package estimate

import (
	"fmt"
	"math"
	"os"
	"testing"

	"gonum.org/v1/gonum/blas/blas64"

	"example.org/halve/physics/published"
)

// curve is a curve of two parameters through points of equal weight.
type curve struct {
	X, Y []float64
	at   func(p []float64, x float64) (y float64, d [2]float64)
}

func (c *curve) size() int { return 2 }

func (c *curve) objective(p []float64) float64 {
	sum := 0.0
	for i, x := range c.X {
		y, _ := c.at(p, x)
		sum += (c.Y[i] - y) * (c.Y[i] - y)
	}
	if math.IsNaN(sum) {
		return math.Inf(1)
	}
	return sum
}

func (c *curve) normal(p []float64, a blas64.Symmetric, b []float64) {
	for i, x := range c.X {
		y, d := c.at(p, x)
		for j := range d {
			b[j] += d[j] * (c.Y[i] - y)
			for k := j; k < len(d); k++ {
				a.Data[j*a.Stride+k] += d[j] * d[k]
			}
		}
	}
}

// The minimiser on the certified sets Misra1a and DanWood of the NIST/ITL
// Statistical Reference Datasets (the files name their source), from both
// starting points of each. Certified are eleven digits. Parameters and sum of
// squares must agree to 1e-10, standard errors to 1e-9.
func TestCertifiedSets(t *testing.T) {
	for name, at := range map[string]func(p []float64, x float64) (float64, [2]float64){
		"misra1a": func(p []float64, x float64) (float64, [2]float64) { // b1 (1 - exp(-b2 x)), in ln b1 and ln b2
			b1, b2 := math.Exp(p[0]), math.Exp(p[1])
			y := -b1 * math.Expm1(-b2*x)
			return y, [2]float64{y, b1 * math.Exp(-b2*x) * b2 * x}
		},
		"danwood": func(p []float64, x float64) (float64, [2]float64) { // b1 x^b2, likewise
			b1, b2 := math.Exp(p[0]), math.Exp(p[1])
			y := b1 * math.Pow(x, b2)
			return y, [2]float64{y, y * math.Log(x) * b2}
		},
	} {
		set := published.Load[struct {
			curve
			Start     [][2]float64 `json:"starting_values"`
			Certified struct {
				B1, B2, RSS float64
				SE1         float64 `json:"se_b1"`
				SE2         float64 `json:"se_b2"`
				DOF         float64
			}
		}](t, files, "nist_"+name+".json")
		if len(set.X) == 0 || len(set.Start) != 2 {
			t.Fatalf("%s: %d points, %d starts", name, len(set.X), len(set.Start))
		}
		set.curve = curve{set.X, set.Y, at}
		for i, start := range set.Start {
			t.Run(fmt.Sprintf("%s from start %d", name, i+1), func(t *testing.T) {
				var f information
				p, rss, err := f.minimise(&set.curve, []float64{math.Log(start[0]), math.Log(start[1])})
				if err != nil {
					t.Fatal(err)
				}
				c, b1, b2 := set.Certified, math.Exp(p[0]), math.Exp(p[1])
				s := math.Sqrt(rss / c.DOF)
				se := func(i int) float64 { return s * math.Sqrt(f.column(i).AtVec(i)) }
				published.Near(t, "b1", b1, c.B1, 1e-10)
				published.Near(t, "b2", b2, c.B2, 1e-10)
				published.Near(t, "sum of squares", rss, c.RSS, 1e-10)
				published.Near(t, "standard error of b1", b1*se(0), c.SE1, 1e-9)
				published.Near(t, "standard error of b2", b2*se(1), c.SE2, 1e-9)
			})
		}
	}
}

// scatter is a line through points in doubt in both coordinates: its intercept
// and slope, and then the true abscissa of each point. Weights are 1/u².
type scatter struct{ X, Y, WX, WY []float64 }

func (s *scatter) size() int { return 2 + len(s.X) }

func (s *scatter) objective(p []float64) (sum float64) {
	for i, x := range p[2:] {
		dx, dy := s.X[i]-x, s.Y[i]-p[0]-p[1]*x
		sum += s.WX[i]*dx*dx + s.WY[i]*dy*dy
	}
	return sum
}

func (s *scatter) normal(p []float64, a blas64.Symmetric, b []float64) {
	for i, x := range p[2:] {
		dx, dy := s.X[i]-x, s.Y[i]-p[0]-p[1]*x
		d := []float64{1, x, p[1]} // of the line at x, by p[0], p[1] and x
		at := []int{0, 1, 2 + i}
		for j, dj := range d {
			b[at[j]] += s.WY[i] * dj * dy
			for k := j; k < len(d); k++ {
				a.Data[at[j]*a.Stride+at[k]] += s.WY[i] * dj * d[k]
			}
		}
		b[2+i] += s.WX[i] * dx
		a.Data[(2+i)*a.Stride+2+i] += s.WX[i]
	}
}

// The minimiser on the line through Pearson's points with York's weights. Of the
// file's four conventions for standard errors those of York 2004, at the
// adjusted points and not stretched by the scatter, are the ones of a fit in
// which the true abscissae are parameters.
func TestPearsonWithYorksWeights(t *testing.T) {
	in := published.Load[struct {
		scatter
		Full struct {
			Intercept, Slope, Chi2 float64
			Ratio                  float64 `json:"chi2_over_8"`
		} `json:"expected_full_precision"`
		Errors []struct {
			Method string
			UA     float64 `json:"u_a"`
			UB     float64 `json:"u_b"`
			Cov    float64
		} `json:"standard_errors"`
	}](t, os.DirFS("../../testdata/reference"), "06_pearson_york_line.json")
	want := in.Errors[0]
	if want.Method != "York 2004 (adjusted points), unscaled" || len(in.X) != 10 {
		t.Fatalf("the file's first convention is %q, of %d points", want.Method, len(in.X))
	}
	var f information
	p, chi2, err := f.minimise(&in.scatter, append([]float64{5, -0.5}, in.X...))
	if err != nil {
		t.Fatal(err)
	}
	published.Near(t, "intercept", p[0], in.Full.Intercept, 1e-11)
	published.Near(t, "slope", p[1], in.Full.Slope, 1e-11)
	published.Near(t, "χ²", chi2, in.Full.Chi2, 1e-10)
	published.Near(t, "χ²/ν", chi2/8, in.Full.Ratio, 1e-9)
	ua, ub := math.Sqrt(f.column(0).AtVec(0)), math.Sqrt(f.column(1).AtVec(1))
	published.Near(t, "u(a)", ua, want.UA, 1e-8)
	published.Near(t, "u(b)", ub, want.UB, 1e-8)
	published.Near(t, "cov(a, b)", f.column(0).AtVec(1), want.Cov, 1e-7)
	birge := math.Sqrt(chi2 / 8)
	published.Near(t, "u(a) stretched by the scatter", ua*birge, in.Errors[1].UA, 1e-8)
	published.Near(t, "u(b) stretched by the scatter", ub*birge, in.Errors[1].UB, 1e-8)
}
