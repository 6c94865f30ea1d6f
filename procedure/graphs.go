package procedure

import (
	"cmp"
	"math"
	"slices"

	"example.org/halve/physics/line"
)

// Graphs are the points of the graphs that are drawn of a practical. All
// numbers are finite.
type Graphs struct {
	// Series sets R (Y, ohm) against 1/θ1 (X, per division), θ1 as the source
	// that is in circuit now would make it: a point for each kept row, struck
	// ones among them, and one for each series value that has no row but a
	// first deflection.
	Series []Plotted
	// Shunts sets 1/θ2 (Y, per division) against 1/S (X, per ohm) at the one
	// series value, ShuntsAt (ohm), where most shunts were read; the first
	// deflection is there at 1/S = 0. It is empty below two shunts.
	Shunts   []Plotted
	ShuntsAt float64
	// ShuntLine is the line through Shunts, nil where there is none.
	ShuntLine *line.ShuntLine
	// Residuals sets what each reading has over the fitted one, in its
	// standard uncertainty (Y), against its number (X), from 1, in the order
	// of the settings. It is empty without a fit.
	Residuals []Plotted
}

// Plotted is a point of a graph.
type Plotted struct {
	X, Y float64
	U    float64 // standard uncertainty of the coordinate that was read, 0 in Residuals
	Row  int     // 0 for a reading that is in no row
	// Shunted says that K2 was closed.
	Shunted, Struck bool
}

// graphs gathers the points.
func (ev *evidence) graphs() Graphs {
	var g Graphs
	rowAt := map[[2]float64]int{} // of the rows in force, by series and shunt
	kept := map[float64]bool{}    // series values that have a row, be it struck
	for _, r := range ev.rows {
		if r.FirstDiv > 0 {
			drive := r.EMF / ev.emf
			u := ev.readingDoubt(1) / (r.FirstDiv * r.FirstDiv) * drive
			g.Series = append(g.Series, Plotted{X: drive / r.FirstDiv, Y: r.SeriesOhm, U: u, Row: r.Row, Struck: r.Struck})
		}
		kept[r.SeriesOhm] = true
		if !r.Struck {
			rowAt[[2]float64{r.SeriesOhm, r.ShuntOhm}] = r.Row
		}
	}
	f := ev.fit
	if f == nil {
		return g
	}
	for i, v := range f.Residuals {
		o := ev.in.Observations[i]
		g.Residuals = append(g.Residuals, Plotted{X: float64(i + 1), Y: v, Shunted: o.Shunted, Row: rowAt[[2]float64{o.SeriesOhm, o.ShuntOhm}]})
	}
	zero := 0.0
	for _, z := range ev.in.Zeros {
		zero += z / float64(len(ev.in.Zeros))
	}
	shunts := map[float64][]Plotted{}
	for _, p := range f.Points() {
		div := math.Abs(p.Div - zero)
		if div <= ev.still() {
			continue
		}
		drive := ev.in.Observations[p.Observations[0]].Drive
		at := Plotted{Y: drive / div, U: ev.readingDoubt(p.N) / (div * div) * drive, Row: rowAt[[2]float64{p.SeriesOhm, p.ShuntOhm}], Shunted: p.Shunted}
		switch {
		case p.Shunted && p.ShuntOhm > 0:
			at.X = 1 / p.ShuntOhm
		case p.Shunted:
			continue
		case !kept[p.SeriesOhm]:
			g.Series = append(g.Series, Plotted{X: at.Y, Y: p.SeriesOhm, U: at.U})
		}
		shunts[p.SeriesOhm] = append(shunts[p.SeriesOhm], at)
	}
	most := 1
	for ohm, ps := range shunts {
		n := distinct(ps)
		if n > most || n == most && g.Shunts != nil && ohm > g.ShuntsAt {
			most, g.Shunts, g.ShuntsAt = n, ps, ohm
		}
	}
	slices.SortStableFunc(g.Shunts, func(a, b Plotted) int { return cmp.Compare(a.X, b.X) })
	g.ShuntLine = shuntLine(g.Shunts)
	return g
}

// distinct counts the shunts among the points.
func distinct(ps []Plotted) int {
	seen := map[float64]bool{}
	for _, p := range ps {
		if p.Shunted {
			seen[p.X] = true
		}
	}
	return len(seen)
}

func shuntLine(ps []Plotted) *line.ShuntLine {
	var conductance, read, u []float64
	for _, p := range ps {
		conductance, read, u = append(conductance, p.X), append(read, 1/p.Y), append(u, p.U/(p.Y*p.Y))
	}
	l, err := line.ReciprocalAgainstShunt(conductance, read, u)
	if err != nil {
		return nil // too few, or readings that fall with the shunt: the findings tell of those
	}
	return &l
}
