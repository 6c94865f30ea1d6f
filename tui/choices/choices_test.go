package choices_test

import (
	"math"
	"testing"

	"example.org/halve/physics/apparatus"
	"example.org/halve/tui/choices"
)

// A clearance goes by the EMF plus three standard uncertainties, which has to
// reach the highest EMF that a fresh cell shows.
func TestCells(t *testing.T) {
	for _, c := range apparatus.Cells() {
		s := c.Source()
		if err := s.Validate(); err != nil {
			t.Errorf("%s: %v", c.Name, err)
		}
		if got := s.EMF + 3**s.UEMF; math.Abs(got-c.Highest) > 1e-12 {
			t.Errorf("%s: EMF + 3u is %g V, want %g V", c.Name, got, c.Highest)
		}
	}
}

// The totals that the names state: 1+2+2+5 = 10 of each decade.
func TestBoxes(t *testing.T) {
	sum := func(b choices.Box) float64 {
		total := 0.0
		for _, c := range b.Box.Coils {
			total += c
		}
		return total
	}
	for _, tt := range []struct {
		box  choices.Box
		want float64
	}{
		{choices.SeriesBoxes()[0], 11110}, {choices.SeriesBoxes()[1], 11100},
		{choices.ShuntBoxes()[0], 1110}, {choices.ShuntBoxes()[1], 111}, {choices.ShuntBoxes()[2], 1111},
	} {
		if got := sum(tt.box); math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("%s: the coils come to %g ohm, want %g", tt.box.Name, got, tt.want)
		}
	}
	for _, b := range append(choices.SeriesBoxes(), choices.ShuntBoxes()...) {
		if err := b.Box.Validate(); err != nil {
			t.Errorf("%s: %v", b.Name, err)
		}
	}
}
