package safety

import "math"

// Damping is the damping ratio assumed for a movement in a loop of high
// resistance: a lightly damped school meter (domain notes, common practice,
// no source: 0.15 to 0.4 for a bare former).
const Damping = 0.32

// Swing returns how far the needle may swing on its first throw when K1 closes
// on a steady deflection of div: overshoot exp(-pi z/sqrt(1-z^2)) of a
// second-order movement with damping ratio z (any text on galvanometers).
func Swing(div float64) float64 {
	return div * (1 + math.Exp(-math.Pi*Damping/math.Sqrt(1-Damping*Damping)))
}
