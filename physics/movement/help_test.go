package movement

import "math"

// maker holds a movement's constants as its maker knows them, from which those
// of its user follow (Wenner's distinction).
type maker struct {
	Torque     float64 // N·B·A, turns times flux density times area, N·m/A
	Inertia    float64 // J, kg·m²
	Restoring  float64 // c, N·m/rad
	Damping    float64 // of the open coil, N·m·s/rad
	Resistance float64 // of the coil, ohm
}

// angle returns the steady deflection for a current in ampere, in radian.
func (m maker) angle(i float64) float64 { return m.Torque * i / m.Restoring }

// coil returns the movement as its user knows it, without friction and stops:
// T0 = 2π√(J/c), ζ0 = D/(2√(Jc)), and the external resistance of critical
// damping Φ²/(2√(Jc) − D) − G. Where that is below zero the movement cannot
// be damped critically by any shunt; where D alone is more than critical it
// is -Inf or meaningless.
func (m maker) coil() Coil {
	critical := 2 * math.Sqrt(m.Restoring*m.Inertia)
	return Coil{
		Period: 2 * math.Pi * math.Sqrt(m.Inertia/m.Restoring), Damping: m.Damping / critical,
		Critical: m.Torque*m.Torque/(critical-m.Damping) - m.Resistance, Resistance: m.Resistance,
		StopLo: math.Inf(-1), StopHi: math.Inf(1),
	}
}

// step is the response of a movement to a sudden current that would hold it at
// 1, from rest at 0, friction apart; x is ω0 times the time.
func step(zeta, x float64) float64 {
	rest, _ := linear{1, zeta, -1, 0}.at(x)
	return 1 + rest
}
