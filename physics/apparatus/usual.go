package apparatus

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
func (c Cell) Source() Source {
	u := (c.Highest - c.EMF) / 3
	return Source{Label: c.Name, EMF: c.EMF, UEMF: &u}
}

// PlugSet is the usual plug set, 1, 2, 2 and 5 of each decade (common
// practice, no source).
func PlugSet(decades ...float64) []float64 {
	var coils []float64
	for _, d := range decades {
		coils = append(coils, d, 2*d, 2*d, 5*d)
	}
	return coils
}
