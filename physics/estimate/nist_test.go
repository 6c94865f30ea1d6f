package estimate

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"testing"

	"gonum.org/v1/gonum/blas/blas64"
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
		b, err := os.ReadFile("testdata/nist_" + name + ".json")
		if err != nil {
			t.Fatal(err)
		}
		var set struct {
			curve
			Start     [][2]float64 `json:"starting_values"`
			Certified struct {
				B1, B2, RSS float64
				SE1         float64 `json:"se_b1"`
				SE2         float64 `json:"se_b2"`
				DOF         float64
			}
		}
		if err := json.Unmarshal(b, &set); err != nil {
			t.Fatal(err)
		}
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
				near(t, "b1", b1, c.B1, 1e-10)
				near(t, "b2", b2, c.B2, 1e-10)
				near(t, "sum of squares", rss, c.RSS, 1e-10)
				near(t, "standard error of b1", b1*se(0), c.SE1, 1e-9)
				near(t, "standard error of b2", b2*se(1), c.SE2, 1e-9)
			})
		}
	}
}
