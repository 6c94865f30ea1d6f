package estimate

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"
)

// information is the normal matrix of the fit: its inverse is the covariance
// of the parameters. It is factorised with unit diagonal, since the columns
// differ by many orders of magnitude.
type information struct {
	normal *mat.SymDense     // JᵀWJ and the weights of what was known beforehand
	scaled *mat.SymDense     // the same with unit diagonal, damped
	pull   *mat.VecDense     // minus half the gradient of the objective
	scale  []float64         // square roots of the diagonal
	root   blas64.Triangular // upper: scaled = rootᵀ root
}

// problem is a sum of squares to be made least. Its first two parameters are
// what it is about.
type problem interface {
	// size is the number of parameters.
	size() int
	// objective is the sum of squares at x, +Inf outside the problem.
	objective(x []float64) float64
	// normal adds JᵀWJ at x to the upper triangle of a, and minus half the
	// objective's gradient to b.
	normal(x []float64, a blas64.Symmetric, b []float64)
}

// Limits of the search.
const (
	converged  = 1e-12 // relative change of G and of E/k in the last step
	fineStep   = 1e-6  // of a step in standard uncertainties: below it rounding may hide the improvement
	longStep   = 1.5   // the longest step in ln G or ln(E/k)
	iterations = 200
)

// minimise makes the objective least, from x, by Gauss-Newton steps; a step
// that does not improve it is repeated with Levenberg's damping. It leaves
// the undamped matrix factorised at the minimum.
func (f *information) minimise(m problem, x []float64) ([]float64, float64, error) {
	n := m.size()
	if len(f.scale) != n { // else they serve again
		f.normal, f.scaled = mat.NewSymDense(n, nil), mat.NewSymDense(n, nil)
		f.pull, f.scale = mat.NewVecDense(n, nil), make([]float64, n)
	}
	step, next := mat.NewVecDense(n, nil), make([]float64, n)
	lo, hi := x[logG]-2*math.Log(searchSpan), x[logG]+2*math.Log(searchSpan)

	f.assemble(m, x)
	if f.degenerate() {
		return nil, 0, ErrUnidentified
	}
	chi, damping, last := m.objective(x), 0.0, math.Inf(1)
	for range iterations {
		size, ok := f.solve(step, damping)
		if !ok {
			damping = max(10*damping, 1e-6)
			continue
		}
		dLoop, dG := math.Abs(step.AtVec(logLoop)), math.Abs(step.AtVec(logG))
		short := min(1, longStep/max(dLoop, dG))
		for i := range next {
			next[i] = x[i] + short*step.AtVec(i)
		}
		c := m.objective(next)
		fine := size < fineStep
		switch {
		case fine && damping == 0 && (max(dLoop, dG) <= converged || size >= last):
			return x, chi, nil
		case c <= chi || fine && damping == 0 && !math.IsInf(c, 0):
			if next[logG] < lo || next[logG] > hi {
				return nil, 0, ErrContradiction
			}
			copy(x, next)
			chi, last = c, size
			f.assemble(m, x)
			if damping /= 10; damping < 1e-9 {
				damping = 0
			}
		case fine:
			damping = 0
		default:
			damping = max(10*damping, 1e-6)
		}
	}
	return nil, 0, ErrContradiction
}

// assemble builds the normal matrix and the pull at x.
func (f *information) assemble(m problem, x []float64) {
	a := f.normal.RawSymmetric()
	b := f.pull.RawVector().Data
	clear(a.Data)
	clear(b)
	m.normal(x, a, b)
	for i := range f.scale {
		if f.scale[i] = math.Sqrt(a.Data[i*a.Stride+i]); f.scale[i] == 0 {
			f.scale[i] = 1
		}
	}
}

// degenerate tells whether the readings cannot tell G from E/k even with
// everything else exactly known.
func (f *information) degenerate() bool {
	c := f.normal.At(logLoop, logG) / f.scale[logLoop] / f.scale[logG]
	return !(1-c*c > 1e-13)
}

// solve finds the damped step and its size in standard uncertainties.
func (f *information) solve(step *mat.VecDense, damping float64) (size float64, positive bool) {
	a, s := f.normal.RawSymmetric(), f.scaled.RawSymmetric()
	for i := range a.N {
		for j := i; j < a.N; j++ {
			s.Data[i*s.Stride+j] = a.Data[i*a.Stride+j] / f.scale[i] / f.scale[j]
		}
		s.Data[i*s.Stride+i] += damping
	}
	var ok bool
	if f.root, ok = lapack64.Potrf(s); !ok {
		return 0, false
	}
	for i, k := range f.scale {
		step.SetVec(i, f.pull.AtVec(i)/k)
	}
	f.back(step)
	for i, k := range f.scale {
		step.SetVec(i, step.AtVec(i)/k)
	}
	return math.Sqrt(max(0, mat.Dot(step, f.pull))), true
}

// back solves for the factorised matrix, in place. A matrix near singular is
// an answer all the same; the caller tests what comes of it.
func (f *information) back(v *mat.VecDense) {
	blas64.Trsv(blas.Trans, f.root, v.RawVector())
	blas64.Trsv(blas.NoTrans, f.root, v.RawVector())
}

// covariance returns the covariance of two linear forms of the parameters.
func (f *information) covariance(a, b []entry) float64 {
	v := mat.NewVecDense(len(f.scale), nil)
	for _, e := range a {
		v.SetVec(e.column, v.AtVec(e.column)+e.d/f.scale[e.column])
	}
	f.back(v)
	c := 0.0
	for _, e := range b {
		c += v.AtVec(e.column) * e.d / f.scale[e.column]
	}
	return c
}
