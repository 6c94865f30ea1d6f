package live

import (
	"fmt"
	"slices"

	"example.org/halve/physics/apparatus"
)

// Box tells the two resistance boxes apart.
type Box int

// The boxes.
const (
	Series Box = iota
	Shunt
)

// box is a resistance box under somebody's hands.
type box struct {
	stated apparatus.Box
	values []float64 // of the coils or the dials' steps, ohm
	errors []float64 // relative
	in     []int     // how often each is in the circuit: 0 or 1 for a plug, 0 to 10 for a dial
	loose  int       // the plug that makes no contact, or the dial that stands a step too far; -1 if none
}

func newBox(stated apparatus.Box, errors []float64) box {
	values := stated.Coils
	if stated.Kind == apparatus.Decade {
		values = stated.Dials
	}
	return box{stated: stated, values: values, errors: errors, in: make([]int, len(values)), loose: -1}
}

// most is how often a coil or a dial's step can be in the circuit.
func (x *box) most() int {
	if x.stated.Kind == apparatus.Decade {
		return apparatus.DialSteps
	}
	return 1
}

// can reports why coil or dial i cannot be in the circuit n times.
func (x *box) can(i, n int) error {
	switch {
	case i < 0 || i >= len(x.in):
		return fmt.Errorf("live: the box has %d coils or dials, not %d", len(x.in), i+1)
	case n < 0 || n > x.most():
		return fmt.Errorf("live: a coil or dial is in the circuit 0 to %d times, not %d", x.most(), n)
	}
	return nil
}

// set puts coil or dial i into the circuit n times.
func (x *box) set(i, n int) {
	if x.stated.Kind == apparatus.Plug && i == x.loose && n != x.in[i] {
		x.loose = -1 // pulled, or pushed home again
	}
	x.in[i] = n
}

// said is what the box shows, ohm; made what it makes.
func (x *box) said() float64 {
	sum := 0.0
	for i, n := range x.in {
		sum += float64(n) * x.values[i]
	}
	return sum
}

func (x *box) made() float64 {
	sum := 0.0
	for i, n := range x.in {
		if i == x.loose && n < x.most() {
			n++
		}
		sum += float64(n) * x.values[i] * (1 + x.errors[i])
	}
	return sum
}

// arrange sets the whole box to a setting.
func (x *box) arrange(s apparatus.Setting) error {
	r, err := apparatus.NewRange(x.stated)
	if err != nil {
		return err
	}
	x.in = slices.Clone(r.Multiset(s))
	return nil
}
