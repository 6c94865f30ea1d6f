package convert

// Warmth is the relative error of the reading on a step's range when the
// copper coil alone is warmer by rise kelvin than it was when the meter was
// made: swamp, shunt and multiplier are of manganin, which does not follow. It
// is negative for a rise.
//
// With W the resistance round the loop of coil, swamp and shunt, or of the
// whole voltmeter, the coil's current changes by W/(W + α rise G) − 1.
func (d Design) Warmth(s Step, rise float64) float64 {
	g := d.Movement.Resistance
	whole := d.around(s)
	return whole/(whole+CopperAlpha*rise*g) - 1
}

// around is the resistance of the loop in which the coil's share is decided.
func (d Design) around(s Step) float64 {
	switch d.Kind {
	case Ammeter:
		return d.Movement.branch() + s.Ohm
	case Universal:
		return d.Movement.branch() + d.Steps[0].Tap
	}
	return s.Meter
}

// SwampFor returns the swamping resistor, ohm, that keeps the error of a coil
// warmer by rise kelvin (above 0) on a step's range to the given relative error
// (above 0), 0 where none is needed. It is for ammeters; the multiplier of a
// voltmeter swamps the coil by itself. The shunt grows with it:
// S = (G + R)/(n − 1).
func (d Design) SwampFor(s Step, rise, err float64) float64 {
	if !d.Kind.InAmperes() {
		return 0
	}
	n := d.Steps[0].Range / d.Movement.FullScale // a universal shunt is one, of its lowest range
	if d.Kind == Ammeter {
		n = s.Range / d.Movement.FullScale
	}
	g := d.Movement.Resistance
	// (G + R) n/(n − 1) · err/(1 − err) = α rise G
	return max(0, CopperAlpha*rise*g*(1-err)/err*(n-1)/n-g)
}
