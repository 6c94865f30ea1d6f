package movement_test

import (
	"fmt"
	"math"

	"example.org/halve/physics/movement"
)

// How long a school galvanometer (G 85 Ω, 1.5 s, critically damped by 200 Ω)
// takes until it stands within a quarter of a division, from rest to 12
// divisions, with 3 kΩ in the series box: it swings with the key K2 open or
// a large shunt, creeps with a small one, and is quickest in between.
func ExampleCoil_Settling() {
	c := movement.Coil{Period: 1.5, Damping: 0.25, Critical: 200, Resistance: 85, StopLo: -31, StopHi: 31, Restitution: 0.3}
	const series = 3000.0
	fmt.Println("shunt/ohm  damping  overshoot  settles/s")
	for _, shunt := range []float64{math.Inf(1), 2000, 1000, 500, 300, 200, 100, 82, 50, 20, 5, 0} {
		external := 1 / (1/series + 1/shunt)
		zeta := c.Zeta(external)
		d := movement.Drive{Steady: 12, Zeta: zeta}
		fmt.Printf("%9g  %7.2f  %7.0f %%  %9.1f\n", shunt, zeta, 100*movement.Overshoot(zeta), c.Settling(movement.State{}, d, 0.25))
	}
	// Output:
	// shunt/ohm  damping  overshoot  settles/s
	//      +Inf     0.32       35 %        2.7
	//      2000     0.42       24 %        2.0
	//      1000     0.51       16 %        1.9
	//       500     0.67        6 %        1.4
	//       300     0.85        1 %        1.0
	//       200     1.03        0 %        1.5
	//       100     1.43        0 %        2.4
	//        82     1.55        0 %        2.6
	//        50     1.84        0 %        3.2
	//        20     2.29        0 %        4.1
	//         5     2.63        0 %        4.7
	//         0     2.76        0 %        5.0
}
