// Package choices lists the common cells and boxes that a bench form offers,
// and the values it proposes where a plate says nothing.
package choices

import "example.org/halve/physics/apparatus"

// A Cell is a common source. Its EMF plus three standard uncertainties
// reaches the highest EMF that a fresh cell of its kind shows, so that a
// clearance holds before anybody has measured it.
type Cell struct {
	Name    string
	EMF     float64 // nominal, volt
	Highest float64 // of a fresh cell or just off charge, volt
}

// Cells lists the common sources. The highest values of the zinc-carbon,
// alkaline and Daniell cells are those of a cell handbook; the others are
// common practice, from memory.
func Cells() []Cell {
	return []Cell{
		{"zinc-carbon dry cell, 1.5 V", 1.5, 1.73},
		{"alkaline cell, 1.5 V", 1.5, 1.68},
		{"lead-acid cell, 2 V", 2.0, 2.4},
		{"nickel-metal-hydride cell, 1.2 V", 1.2, 1.5},
		{"Daniell cell, 1.08 V", 1.08, 1.14},
		{"lithium cell, 3 V", 3.0, 3.7},
	}
}

// Source is the cell as the source of a bench.
func (c Cell) Source() apparatus.Source {
	u := (c.Highest - c.EMF) / 3
	return apparatus.Source{Label: c.Name, EMF: c.EMF, UEMF: &u}
}

// A Box is a common resistance box.
type Box struct {
	Name string
	Box  apparatus.Box
}

// plugs is the usual plug set, 1, 2, 2 and 5 of each decade (common
// practice, no source).
func plugs(decades ...float64) []float64 {
	var coils []float64
	for _, d := range decades {
		coils = append(coils, d, 2*d, 2*d, 5*d)
	}
	return coils
}

// SeriesBoxes lists the common series boxes, the first one first proposed.
func SeriesBoxes() []Box {
	return []Box{
		{"plug box, 1 to 5000 ohm, 11110 ohm in all", apparatus.Box{Kind: apparatus.Plug, Coils: plugs(1, 10, 100, 1000)}},
		{"plug box, 10 to 5000 ohm, 11100 ohm in all", apparatus.Box{Kind: apparatus.Plug, Coils: plugs(10, 100, 1000)}},
		{"decade box, dials of 1, 10, 100 and 1000 ohm", apparatus.Box{Kind: apparatus.Decade, Dials: []float64{1000, 100, 10, 1}}},
		{"decade box, dials of 10, 100, 1000 and 10000 ohm", apparatus.Box{Kind: apparatus.Decade, Dials: []float64{10000, 1000, 100, 10}}},
	}
}

// ShuntBoxes lists the common shunt boxes, the first one first proposed.
func ShuntBoxes() []Box {
	return []Box{
		{"plug box, 1 to 500 ohm, 1110 ohm in all", apparatus.Box{Kind: apparatus.Plug, Coils: plugs(1, 10, 100)}},
		{"plug box, 0.1 to 50 ohm, 111 ohm in all", apparatus.Box{Kind: apparatus.Plug, Coils: plugs(0.1, 1, 10)}},
		{"plug box, 0.1 to 500 ohm, 1111 ohm in all", apparatus.Box{Kind: apparatus.Plug, Coils: plugs(0.1, 1, 10, 100)}},
		{"decade box, dials of 0.1, 1, 10 and 100 ohm", apparatus.Box{Kind: apparatus.Decade, Dials: []float64{100, 10, 1, 0.1}}},
	}
}

// Values proposed where the plate says nothing (common practice, no source).
const (
	Divisions  = 30   // one side of a 30-0-30 scale
	Resolution = 0.5  // div
	Tolerance  = 0.01 // of a box of unstated class, relative
)
