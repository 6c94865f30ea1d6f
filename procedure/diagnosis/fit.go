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

// belief is a normal law of the parameters: its mean, the inverse of its
// covariance, and the triangle that this factorises to.
type belief struct {
	mean   vector
	info   matrix
	factor matrix
}

// believe is the normal law with a mean and an inverse covariance; ok is false
// where that is none.
func believe(mean vector, info matrix) (b belief, ok bool) {
	b.mean, b.info = mean, info
	ok = info.factorise(&b.factor, parameters)
	return b, ok
}

// factorise writes into l the lower triangle L of the first n rows and columns
// of a = L Lᵀ (Cholesky), with the reciprocals of its diagonal; it reports
// false where they are not positive definite.
func (a *matrix) factorise(l *matrix, n int) bool {
	for i := range n {
		for j := range i {
			s := a[i][j]
			for k := range j {
				s -= l[i][k] * l[j][k]
			}
			l[i][j] = s * l[j][j]
		}
		s := a[i][i]
		for k := range i {
			s -= l[i][k] * l[i][k]
		}
		if !(s > 0) || math.IsInf(s, 1) {
			return false
		}
		l[i][i] = 1 / math.Sqrt(s)
	}
	return true
}

// halfLogDet is half the logarithm of the determinant of L Lᵀ.
func (l *matrix) halfLogDet() float64 {
	product := 1.0
	for i := range parameters {
		product *= l[i][i]
	}
	return -math.Log(product)
}

// solve replaces b by the solution x of L Lᵀ x = b, in the first n places.
func (l *matrix) solve(b *vector, n int) {
	for i := range n {
		for k := range i {
			b[i] -= l[i][k] * b[k]
		}
		b[i] *= l[i][i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			b[i] -= l[k][i] * b[k]
		}
		b[i] *= l[i][i]
	}
}

// spread returns the variance of a linear function of the parameters.
func (l *matrix) spread(slope vector) float64 {
	v := 0.0
	for i := range parameters {
		for k := range i {
			slope[i] -= l[i][k] * slope[k]
		}
		slope[i] *= l[i][i]
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
	age           float64
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
	giveUp    = 4    // times as far as a round promises, it may yet fall
)

// fit finds the most probable parameters and the evidence by Laplace's method:
// damped Gauss–Newton on half the sum of squares of the misfits of readings
// and beliefs (domain notes E2). It gives up where the sum will hardly fall
// below room.
func fit(b *belief, samples []sample, start vector, room float64) outcome {
	// Where no fault has a number, it stays what it was and says nothing.
	n := number
	for i := range samples {
		if samples[i].h.numbered {
			n = parameters
			break
		}
	}
	if n < parameters {
		start[number] = b.mean[number]
	}
	p := start
	var now, then normal
	now.at(b, samples, &p, n, true)
	damp := 1e-3
	var l matrix
	for round := range rounds {
		a := now.info
		for i := range n {
			a[i][i] *= 1 + damp
		}
		if !a.factorise(&l, n) {
			if damp *= 10; damp > mostDelta {
				break
			}
			continue
		}
		step := now.grad
		l.solve(&step, n)
		if round > 0 {
			fall := 0.0 // by a quadratic
			for i := range n {
				fall += step[i] * now.grad[i] / 2
			}
			if now.cost-giveUp*fall > room {
				break
			}
		}
		q := p
		for i := range n {
			q[i] -= max(-mostStep, min(mostStep, step[i]))
		}
		then.at(b, samples, &q, n, true)
		if !(then.cost < now.cost) {
			if damp *= 10; damp > mostDelta || math.Abs(then.cost-now.cost) < enough {
				break
			}
			continue
		}
		fall := now.cost - then.cost
		p, now = q, then
		damp *= 0.1
		if fall < enough {
			break
		}
	}
	out := outcome{cost: now.cost, log: b.factor.halfLogDet()}
	bounded := false
	for i := range samples {
		if samples[i].at.off == 0 {
			out.log -= samples[i].width
		} else {
			bounded = true
		}
	}
	if bounded {
		now.at(b, samples, &p, n, false)
	}
	out.log -= now.cost
	var ok bool
	if out.belief, ok = believe(p, now.info); !ok {
		out.log -= b.factor.halfLogDet()
		return out
	}
	out.log -= out.factor.halfLogDet()
	if bounded {
		out.log += out.beyond(samples, now.grad)
	}
	return out
}

// beyond is what a reading off the scale adds, in units of the logarithm, to the
// evidence of the others: the part of the normal law b that lies where the
// needle is off the scale, over the density at its place, where it has the given
// slope. Of several such readings the one that bounds most counts; the others
// are much the same.
func (b *belief) beyond(samples []sample, slope vector) float64 {
	within := math.Inf(1) // of the bound, in standard deviations; below 0 outside
	here := at(&b.mean)
	for i := range samples {
		s := &samples[i]
		if s.at.off == 0 {
			continue
		}
		var by vector
		past := float64(s.at.off) * (s.h.predict(s, here, &by) - s.at.div)
		within = min(within, past/math.Sqrt(b.factor.spread(by)+s.sigma*s.sigma))
	}
	steep := math.Sqrt(b.factor.spread(slope))
	return steep*steep/2 + logTail(steep-within)
}

// logTail is the logarithm of the part of the unit normal law above z.
func logTail(z float64) float64 {
	if z > 30 { // the first term of its series
		return -z*z/2 - math.Log(z*math.Sqrt(2*math.Pi))
	}
	return math.Log(math.Erfc(z/math.Sqrt2) / 2)
}

// normal is half the sum of squares of the misfits at a place, with its
// gradient and its Gauss–Newton matrix.
type normal struct {
	cost float64
	info matrix
	grad vector
}

// at works it out, in the first n parameters; with the readings off the scale or
// without.
func (f *normal) at(b *belief, samples []sample, p *vector, n int, off bool) {
	f.cost, f.info, f.grad = 0, b.info, vector{}
	var d vector
	for i := range n {
		d[i] = p[i] - b.mean[i]
	}
	for i := range n {
		for j := range n {
			f.grad[i] += b.info[i][j] * d[j]
		}
		f.cost += f.grad[i] * d[i] / 2
	}
	here := at(p)
	var slope vector
	for i := range samples {
		s := &samples[i]
		if !off && s.at.off != 0 {
			continue
		}
		slope[number] = 0
		miss := (s.h.predict(s, here, &slope) - s.at.div) / s.sigma
		if s.at.off > 0 && miss > 0 || s.at.off < 0 && miss < 0 {
			continue // it is as far out as was seen, or further
		}
		if math.Abs(miss) > mostMiss {
			miss = math.Copysign(mostMiss, miss)
		}
		f.cost += miss * miss / 2
		for j := range n {
			sj := slope[j] / s.sigma
			if sj == 0 {
				continue
			}
			f.grad[j] += sj * miss
			sj /= s.sigma
			for k := 0; k <= j; k++ {
				f.info[j][k] += sj * slope[k]
			}
		}
	}
	for j := range n {
		for k := range j {
			f.info[k][j] = f.info[j][k]
		}
	}
}
