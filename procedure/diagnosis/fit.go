package diagnosis

import "math"

// The parameters of every hypothesis: the logarithms of the movement's
// resistance (ohm), of E/k (div·ohm) and of the source's resistance (ohm), the
// error of the zero (div), and the fault's own number, unit normal.
const (
	movement = iota
	loop
	source
	zero
	number
	parameters
)

type vector [parameters]float64

type matrix [parameters][parameters]float64

// belief is a normal law of the parameters: its mean and the inverse of its
// covariance.
type belief struct {
	mean vector
	info matrix
}

// cholesky factorises a (lower triangle); ok is false where it is not positive
// definite. logDet is the logarithm of its determinant.
func (a *matrix) cholesky() (l matrix, logDet float64, ok bool) {
	for i := range parameters {
		for j := 0; j <= i; j++ {
			s := a[i][j]
			for k := range j {
				s -= l[i][k] * l[j][k]
			}
			if i != j {
				l[i][j] = s / l[j][j]
				continue
			}
			if !(s > 0) || math.IsInf(s, 1) {
				return l, 0, false
			}
			l[i][i] = math.Sqrt(s)
			logDet += 2 * math.Log(l[i][i])
		}
	}
	return l, logDet, true
}

// solve solves L Lᵀ x = b.
func (l *matrix) solve(b vector) vector {
	for i := range parameters {
		for k := range i {
			b[i] -= l[i][k] * b[k]
		}
		b[i] /= l[i][i]
	}
	for i := parameters - 1; i >= 0; i-- {
		for k := i + 1; k < parameters; k++ {
			b[i] -= l[k][i] * b[k]
		}
		b[i] /= l[i][i]
	}
	return b
}

// spread returns the variance of a linear function of the parameters.
func (l *matrix) spread(slope vector) float64 {
	v := 0.0
	for i := range parameters {
		for k := range i {
			slope[i] -= l[i][k] * slope[k]
		}
		slope[i] /= l[i][i]
		v += slope[i] * slope[i]
	}
	return v
}

// outcome is what a fit came to.
type outcome struct {
	log  float64 // logarithm of the evidence
	cost float64 // half the sum of squares at the mode
	belief
}

// sample is one reading in a fit: its hypothesis, what the boxes make under
// it, and the reading.
type sample struct {
	h             *hypothesis
	series, shunt float64 // ohm
	at            *look
	age           int
	sigma         float64
	width         float64 // the logarithm of sigma times √(2π)
}

// limits of the fit.
const (
	rounds    = 14
	enough    = 0.02 // a smaller fall of the cost ends it
	mostStep  = 1.5  // of any parameter, in a round
	mostMiss  = 1e4  // of a reading, standard deviations
	mostDelta = 1e8  // of the damping
)

// fit finds the most probable parameters and the evidence by Laplace's method:
// damped Gauss–Newton on half the sum of squares of the misfits of readings
// and beliefs (domain notes E2).
func fit(b *belief, samples []sample, start vector) outcome {
	p := start
	cost, info, grad := costAt(b, samples, &p)
	damp := 1e-3
	for range rounds {
		a := info
		for i := range parameters {
			a[i][i] *= 1 + damp
		}
		l, _, ok := a.cholesky()
		if !ok {
			if damp *= 10; damp > mostDelta {
				break
			}
			continue
		}
		step := l.solve(grad)
		q := p
		for i := range step {
			q[i] -= max(-mostStep, min(mostStep, step[i]))
		}
		c, in, gr := costAt(b, samples, &q)
		if !(c < cost) {
			if damp *= 10; damp > mostDelta || math.Abs(c-cost) < enough {
				break
			}
			continue
		}
		fall := cost - c
		p, cost, info, grad = q, c, in, gr
		damp *= 0.1
		if fall < enough {
			break
		}
	}
	out := outcome{cost: cost, belief: belief{p, info}}
	_, before, _ := b.info.cholesky()
	_, after, ok := info.cholesky()
	if !ok {
		after = before
	}
	out.log = (before-after)/2 - cost
	for i := range samples {
		if samples[i].at.off == 0 {
			out.log -= samples[i].width
		}
	}
	return out
}

// costAt is half the sum of squares, with its gradient and Gauss–Newton
// matrix.
func costAt(b *belief, samples []sample, p *vector) (cost float64, info matrix, grad vector) {
	info = b.info
	var d vector
	for i := range d {
		d[i] = p[i] - b.mean[i]
	}
	for i := range parameters {
		for j := range parameters {
			grad[i] += b.info[i][j] * d[j]
		}
		cost += grad[i] * d[i] / 2
	}
	here := at(p)
	for i := range samples {
		s := &samples[i]
		var slope vector
		miss := (s.h.predict(s, here, &slope) - s.at.div) / s.sigma
		if s.at.off > 0 && miss > 0 || s.at.off < 0 && miss < 0 {
			continue // it is as far out as was seen, or further
		}
		if math.Abs(miss) > mostMiss {
			miss = math.Copysign(mostMiss, miss)
		}
		cost += miss * miss / 2
		for j := range parameters {
			sj := slope[j] / s.sigma
			if sj == 0 {
				continue
			}
			grad[j] += sj * miss
			for k := 0; k <= j; k++ {
				info[j][k] += sj * slope[k] / s.sigma
			}
		}
	}
	for j := range parameters {
		for k := range j {
			info[k][j] = info[j][k]
		}
	}
	return cost, info, grad
}
