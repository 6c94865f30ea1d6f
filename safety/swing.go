package safety

import "example.org/halve/physics/movement"

// Damping is the damping ratio assumed for a movement in a loop of high
// resistance: a lightly damped school meter (common practice, no source: 0.15
// to 0.4 for a bare former).
const Damping = 0.32

// Swing returns how far the needle may swing on its first throw when K1 closes
// on a steady deflection of div.
func Swing(div float64) float64 { return div * (1 + movement.Overshoot(Damping)) }
