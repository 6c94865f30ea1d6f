package live

import (
	"math"
	"time"
)

// cell is a source that falls while it delivers and recovers at rest: the part
// of its EMF that is lost goes towards sag times the current, by a first-order
// law (common practice, no source; a real cell has more time constants).
type cell struct {
	sag  float64       // part of the EMF lost in the long run, per ampere
	time time.Duration // the time constant
	lost float64       // at the moment
	goal float64       // where it goes with the present current
}

// mostLost bounds what a cell loses.
const mostLost = 0.9

// draw says what current is drawn from now on, ampere.
func (c *cell) draw(ampere float64) { c.goal = math.Min(mostLost, c.sag*math.Abs(ampere)) }

// after is the part lost after a time with the present current.
func (c *cell) after(t time.Duration) float64 {
	if c.time <= 0 {
		return c.goal
	}
	return c.goal + (c.lost-c.goal)*math.Exp(-t.Seconds()/c.time.Seconds())
}

// settled reports whether the EMF stays as it is.
func (c *cell) settled() bool { return math.Abs(c.goal-c.lost) < 1e-7 }
