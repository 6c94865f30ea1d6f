package movement

import "math"

// linear is x″ + 2ζω x′ + ω² x = 0 with x(0) and x′(0) given.
type linear struct{ omega, zeta, x, v float64 }

// at returns x and x′ after t seconds: e^(−ζωt)·[C·x + S·(v + ζωx)] and its
// derivative, where C and S are the cosine and the sine of ω√(1−ζ²)·t, the
// sine over that frequency; hyperbolic where ζ > 1 (T.W.B. Kibble and F.H.
// Berkshire, Classical Mechanics, 2.5).
func (l linear) at(t float64) (x, v float64) {
	c, s := l.decays(t)
	a := l.zeta * l.omega
	return c*l.x + s*(l.v+a*l.x), c*l.v - s*(a*l.v+l.omega*l.omega*l.x)
}

// decays returns C and S with the factor e^(−ζωt) in them.
func (l linear) decays(t float64) (c, s float64) {
	a := l.zeta * l.omega
	switch q := l.omega * math.Sqrt(math.Abs(1-l.zeta*l.zeta)); {
	case q == 0:
		e := math.Exp(-a * t)
		return e, e * t
	case l.zeta < 1:
		e := math.Exp(-a * t)
		sin, cos := math.Sincos(q * t)
		return e * cos, e * sin / q
	case q*t < 1: // the two decays are so near that their difference would lose digits
		e := math.Exp(-a * t)
		return e * math.Cosh(q*t), e * math.Sinh(q*t) / q
	default: // a−q is written without a difference
		slow, fast := math.Exp(-l.omega*l.omega/(a+q)*t), math.Exp(-(a+q)*t)
		return (slow + fast) / 2, (slow - fast) / (2 * q)
	}
}

// turn returns the first time after the beginning at which x′ is zero, +Inf if
// it never is. From x′ = c·v − s·(ζωv + ω²x) it is where the tangent of the
// phase (the hyperbolic one where ζ > 1) is v over that bracket.
func (l linear) turn() float64 {
	b := l.zeta*l.omega*l.v + l.omega*l.omega*l.x
	q := l.omega * math.Sqrt(math.Abs(1-l.zeta*l.zeta))
	if l.zeta < 1 {
		phase := math.Atan2(l.v*q, b)
		if phase <= 0 {
			phase += math.Pi
		}
		return phase / q
	}
	ratio := l.v / b // s/c at the turn
	if !(ratio > 0) {
		return math.Inf(1)
	}
	switch {
	case q == 0:
		return ratio
	case q*ratio >= 1:
		return math.Inf(1)
	}
	return math.Atanh(q*ratio) / q
}

// Overshoot returns how far the first swing goes beyond the steady deflection,
// as a part of it: exp(−πζ/√(1−ζ²)); 0 where ζ ≥ 1.
func Overshoot(zeta float64) float64 {
	if zeta >= 1 {
		return 0
	}
	return math.Exp(-HalfDecrement(zeta))
}

// HalfDecrement returns the logarithmic decrement from one swing to the next
// on the other side, over half a period, as instrument makers state it:
// πζ/√(1−ζ²). Over a whole period, as in mechanics, it is twice that. +Inf
// where ζ ≥ 1.
func HalfDecrement(zeta float64) float64 {
	if zeta >= 1 {
		return math.Inf(1)
	}
	return math.Pi * zeta / math.Sqrt(1-zeta*zeta)
}
