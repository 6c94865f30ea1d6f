package safety

import (
	"fmt"

	"example.org/halve/physics/quantity"
)

// TapCurrent is the largest worst-case current at which an unproven K1 may be
// pressed for an instant, in ampere: ten times the full scale of a 100 µA
// movement (common practice, no source).
const TapCurrent = 1e-3

// GentleCurrent is a worst-case current at which not even a sensitive school
// movement goes past its last mark, in ampere: the full scale of a 100 µA
// movement (common practice, no source).
const GentleCurrent = TapCurrent / 10

// steadyRule: K1 is held only where the steady deflection provably stays on
// the scale. Where nothing proves it, an instant's press is allowed if the
// current cannot pass TapCurrent, and only at the largest series value or,
// after a needle that did not surely move, down to Closing.TapDown.
var steadyRule = Rule{
	ID:     "steady-deflection",
	Why:    "a needle driven hard against its stop bends",
	Source: "Ohm's law, by worst case (see Bound); the tap is common practice, no source",
	Judge: func(c Closing) (Verdict, string, bool) {
		if c.Key != K1 || c.SeriesOhm <= 0 {
			return Clear, "", true
		}
		worst, bounded := c.Loop.Bound().Worst(c.SeriesOhm)
		if bounded && worst <= c.Loop.Room() {
			return Clear, "", true
		}
		i := c.currentHigh()
		before := "nothing known limits the deflection yet"
		if bounded {
			before = fmt.Sprintf("at the worst the needle would go to %.1f of %g divisions", worst+c.Loop.Zero, c.Loop.Divisions)
		}
		if i > TapCurrent {
			return Stop, fmt.Sprintf("%s, and up to %s could flow: more resistance in series, less EMF",
				before, quantity.Format(i, quantity.Ampere, 2)), false
		}
		largest := c.SeriesOhm >= c.SeriesMax*(1-1e-9)
		afterStill := c.TapDown > 0 && c.SeriesOhm >= c.TapDown*(1-1e-9)
		if largest || afterStill {
			return Tap, fmt.Sprintf("%s; at most %s can flow, so press K1 for an instant and let go if the needle runs",
				before, quantity.Format(i, quantity.Ampere, 2)), false
		}
		return Stop, before + ": start from the largest series value", false
	},
}
