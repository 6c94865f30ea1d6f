package movement

import "math"

// Maker holds a movement's constants as its maker knows them, from which those
// of its user follow (Wenner's distinction).
type Maker struct {
	Torque     float64 // N·B·A, turns times flux density times area, N·m/A
	Inertia    float64 // J, kg·m²
	Restoring  float64 // c, N·m/rad
	Damping    float64 // of the open coil, N·m·s/rad
	Resistance float64 // of the coil, ohm
}

// Angle returns the steady deflection for a current in ampere, in radian.
func (m Maker) Angle(i float64) float64 { return m.Torque * i / m.Restoring }

// Coil returns the movement as its user knows it, without friction and stops:
// T0 = 2π√(J/c), ζ0 = D/(2√(Jc)), and the external resistance of critical
// damping Φ²/(2√(Jc) − D) − G. Where that is below zero the movement cannot
// be damped critically by any shunt; where D alone is more than critical it
// is -Inf or meaningless.
func (m Maker) Coil() Coil {
	critical := 2 * math.Sqrt(m.Restoring*m.Inertia)
	return Coil{
		Period: 2 * math.Pi * math.Sqrt(m.Inertia/m.Restoring), Damping: m.Damping / critical,
		Critical: m.Torque*m.Torque/(critical-m.Damping) - m.Resistance, Resistance: m.Resistance,
		StopLo: math.Inf(-1), StopHi: math.Inf(1),
	}
}
