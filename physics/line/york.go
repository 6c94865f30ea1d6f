package line

import (
	"fmt"
	"math"
	"slices"
)

// York fits a line to points in doubt in both coordinates, by the maximum
// likelihood of normal errors, uncorrelated within and between points:
//
//	minimise Σ W_i (y_i − a − b x_i)²,  W_i = 1/(u²(y_i) + b² u²(x_i))
//
// Standard uncertainties are 0 or more, that of x or that of y above zero at
// each point. The method is the iteration of D. York et al., Am. J. Phys. 72
// (2004) 367, and so are the standard uncertainties: taken at the adjusted
// points, from the stated uncertainties and not stretched by the scatter. At
// least three other conventions are in circulation and differ by up to a fifth
// (the scatter's factor √(χ²/ν), Kalantar's delta method, York's own of 1966).
//
// It needs two points. A line that stands upright has no slope and is
// ErrNoConvergence; the other errors are ErrInput, ErrTooFew, ErrNoSpread and
// ErrRange.
func York(x, y, ux, uy []float64) (Fit, error) {
	if len(ux) != len(x) || len(uy) != len(y) {
		return Fit{}, fmt.Errorf("%w: %d x with %d uncertainties, %d y with %d", ErrInput, len(x), len(ux), len(y), len(uy))
	}
	for i := range ux {
		if !finite(ux[i], uy[i]) || ux[i] < 0 || uy[i] < 0 || ux[i]+uy[i] == 0 {
			return Fit{}, fmt.Errorf("%w: uncertainties are numbers of 0 or more and not both 0, not %g and %g", ErrInput, ux[i], uy[i])
		}
	}
	first, err := fit(x, y, nil, false, 2)
	if err != nil {
		return Fit{}, err
	}
	b := first.Slope // only a place to start from
	// The slope settles when a step is nothing beside the points' own.
	steep := (slices.Max(y) - slices.Min(y)) / (slices.Max(x) - slices.Min(x))
	p := york{x: x, y: y, ux: ux, uy: uy}
	for range 1000 {
		next := p.step(b)
		if !finite(next) {
			return Fit{}, ErrNoConvergence
		}
		if math.Abs(next-b) <= 1e-14*math.Max(steep, math.Abs(next)) {
			return p.report(next)
		}
		b = next
	}
	return Fit{}, ErrNoConvergence
}

// york holds the points and, after a step, what the step was made of, in the
// symbols of York et al.
type york struct {
	x, y, ux, uy []float64
	xBar, yBar   float64
}

func (p *york) weight(i int, b float64) float64 {
	s := math.Hypot(p.uy[i], b*p.ux[i])
	return 1 / s / s
}

// beta returns how far the adjusted x lies from the weighted mean.
func (p *york) beta(i int, b float64) float64 {
	return p.weight(i, b) * ((p.x[i]-p.xBar)*p.uy[i]*p.uy[i] + b*(p.y[i]-p.yBar)*p.ux[i]*p.ux[i])
}

// step returns the slope that follows from b.
func (p *york) step(b float64) float64 {
	var sum, sx, sy float64
	for i := range p.x {
		w := p.weight(i, b)
		sum, sx, sy = sum+w, sx+w*p.x[i], sy+w*p.y[i]
	}
	p.xBar, p.yBar = sx/sum, sy/sum
	var over, under float64
	for i := range p.x {
		wβ := p.weight(i, b) * p.beta(i, b)
		over += wβ * (p.y[i] - p.yBar)
		under += wβ * (p.x[i] - p.xBar)
	}
	return over / under
}

func (p *york) report(b float64) (Fit, error) {
	p.step(b) // the means that belong to b
	f := Fit{Slope: b, Intercept: p.yBar - b*p.xBar, DoF: len(p.x) - 2}
	var sum, sβ float64
	for i := range p.x {
		w := p.weight(i, b)
		sum += w
		sβ += w * p.beta(i, b)
		r := p.y[i] - f.Intercept - b*p.x[i]
		f.Chi2 += w * r * r
	}
	mean := sβ / sum // of the adjusted x, from xBar
	var spread float64
	for i := range p.x {
		d := p.beta(i, b) - mean
		spread += p.weight(i, b) * d * d
	}
	middle := p.xBar + mean
	f.USlope = 1 / math.Sqrt(spread)
	f.UIntercept = math.Sqrt(1/sum + middle*middle/spread)
	f.Covariance = -middle / spread
	return f.checked()
}
