// Package choices lists the common boxes that a bench form offers,
// and the values it proposes where a plate says nothing.
package choices

import "example.org/halve/physics/apparatus"

// A Box is a common resistance box.
type Box struct {
	Name string
	Box  apparatus.Box
}

// SeriesBoxes lists the common series boxes, the first one first proposed.
func SeriesBoxes() []Box {
	return []Box{
		{"plug box, 1 to 5000 ohm, 11110 ohm in all", apparatus.Box{Kind: apparatus.Plug, Coils: apparatus.PlugSet(1, 10, 100, 1000)}},
		{"plug box, 10 to 5000 ohm, 11100 ohm in all", apparatus.Box{Kind: apparatus.Plug, Coils: apparatus.PlugSet(10, 100, 1000)}},
		{"decade box, 1 to 1000 ohm, 11110 ohm in all", apparatus.Box{Kind: apparatus.Decade, Dials: []float64{1000, 100, 10, 1}}},
		{"decade box, 10 to 10000 ohm, 111100 ohm in all", apparatus.Box{Kind: apparatus.Decade, Dials: []float64{10000, 1000, 100, 10}}},
	}
}

// ShuntBoxes lists the common shunt boxes, the first one first proposed.
func ShuntBoxes() []Box {
	return []Box{
		{"plug box, 1 to 500 ohm, 1110 ohm in all", apparatus.Box{Kind: apparatus.Plug, Coils: apparatus.PlugSet(1, 10, 100)}},
		{"plug box, 0.1 to 50 ohm, 111 ohm in all", apparatus.Box{Kind: apparatus.Plug, Coils: apparatus.PlugSet(0.1, 1, 10)}},
		{"plug box, 0.1 to 500 ohm, 1111 ohm in all", apparatus.Box{Kind: apparatus.Plug, Coils: apparatus.PlugSet(0.1, 1, 10, 100)}},
		{"decade box, 0.1 to 100 ohm, 1111 ohm in all", apparatus.Box{Kind: apparatus.Decade, Dials: []float64{100, 10, 1, 0.1}}},
	}
}

// Values proposed where the plate says nothing (common practice, no source).
const (
	Divisions  = 30   // one side of a 30-0-30 scale
	Resolution = 0.5  // div
	Tolerance  = 0.01 // of a box of unstated class, relative
)
