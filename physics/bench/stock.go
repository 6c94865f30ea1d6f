package bench

import (
	"fmt"
	"math"
	"math/rand/v2"

	"example.org/halve/physics/apparatus"
)

// cell is a kind of source: its nominal EMF and the highest a fresh one of
// its kind shows, volt.
type cell struct {
	name         string
	emf, highest float64
}

// cells lists the kinds found in a college. The highest values of the
// zinc-carbon, alkaline and Daniell cells are those of a cell handbook, the
// others are common practice, from memory.
func cells() []cell {
	return []cell{
		{"zinc-carbon cell", 1.5, 1.73},
		{"alkaline cell", 1.5, 1.68},
		{"lead-acid cell", 2.0, 2.4},
		{"nickel-metal-hydride cell", 1.2, 1.5},
		{"Daniell cell", 1.08, 1.14},
		{"lithium cell", 3.0, 3.7},
	}
}

// plugs is the usual plug set, 1, 2, 2 and 5 of each decade (common practice,
// no source).
func plugs(decades ...float64) []float64 {
	var coils []float64
	for _, d := range decades {
		coils = append(coils, d, 2*d, 2*d, 5*d)
	}
	return coils
}

func pick[T any](r *rand.Rand, from ...T) T { return from[r.IntN(len(from))] }

// Stock draws the bench of an invented college, as its plates state it: scale,
// cell and boxes of usual kinds, the full-scale current stated on about half
// of them, the movement's resistance on a third. It draws again until the
// bench can do the practical whatever truth Draw may give it.
func Stock(r *rand.Rand) apparatus.Bench {
	for {
		if b := stock(r); fit(b) {
			return b
		}
	}
}

func stock(r *rand.Rand) apparatus.Bench {
	number := 1 + r.IntN(40)
	c := pick(r, cells()...)
	u := math.Round((c.highest-c.emf)/3*1000) / 1000 // so that emf + 3u reaches the highest
	for c.emf+3*u < c.highest {
		u += 0.001
	}
	b := apparatus.Bench{
		Label:  fmt.Sprintf("%s, bench %d", pick(r, "Mirefold College", "Tarn Hollow College", "Quillmarsh College"), number),
		Source: apparatus.Source{Label: c.name, EMF: c.emf, UEMF: &u},
	}

	scale := pick(r,
		apparatus.Galvanometer{Divisions: 30, Zero: apparatus.CentreZero},
		apparatus.Galvanometer{Divisions: 30, Zero: apparatus.LeftZero},
		apparatus.Galvanometer{Divisions: 25, Zero: apparatus.CentreZero},
		apparatus.Galvanometer{Divisions: 50, Zero: apparatus.LeftZero})
	scale.Label = fmt.Sprintf("galvanometer %d", number)
	scale.Resolution = pick(r, 0.25, 0.5, 1)
	if r.IntN(2) == 0 {
		i := pick(r, 0.3e-3, 0.4e-3, 0.5e-3, 0.6e-3, 0.75e-3, 1e-3, 1.2e-3)
		ui := i * pick(r, 0.01, 0.02, 0.03)
		scale.FullScale, scale.UFullScale = &i, &ui
	}
	if r.IntN(3) == 0 {
		g := pick(r, 60.0, 70, 80, 90, 100, 120, 140)
		ug := g * pick(r, 0.05, 0.1)
		scale.Resistance, scale.UResistance = &g, &ug
	}
	b.Galvanometer = scale

	tolerance := func() float64 { return pick(r, 0.001, 0.002, 0.005, 0.01) }
	b.SeriesBox = pick(r,
		apparatus.Box{Label: "series box", Kind: apparatus.Plug, Coils: plugs(1, 10, 100, 1000)},
		apparatus.Box{Label: "series box", Kind: apparatus.Decade, Dials: []float64{1000, 100, 10, 1}},
		apparatus.Box{Label: "series box", Kind: apparatus.Decade, Dials: []float64{10000, 1000, 100, 10}})
	b.SeriesBox.Tolerance = tolerance()
	b.ShuntBox = pick(r,
		apparatus.Box{Label: "shunt box", Kind: apparatus.Plug, Coils: plugs(1, 10, 100)},
		apparatus.Box{Label: "shunt box", Kind: apparatus.Plug, Coils: plugs(0.1, 1, 10)},
		apparatus.Box{Label: "shunt box", Kind: apparatus.Decade, Dials: []float64{100, 10, 1}})
	b.ShuntBox.Tolerance = tolerance()
	return b
}

// fit tells whether a bench can do the practical at both ends of what Draw may
// draw: the highest EMF and the most sensitive movement keep the needle on the
// scale at the largest series value, and the lowest EMF and the least
// sensitive movement bring it to two thirds of the scale or further, with the
// loop at least ten times the smallest step of the box, so that the steps are
// fine enough to aim with.
func fit(b apparatus.Bench) bool {
	series, err := apparatus.NewRange(b.SeriesBox)
	if err != nil || b.Validate() != nil {
		return false
	}
	src, g := b.Source, b.Galvanometer
	u := mostDoubts * or(src.UEMF, emfDoubt*src.EMF)
	least, most := scaleLeast, scaleMost
	if g.FullScale != nil {
		least, most = *g.FullScale*(1-plateLimit), *g.FullScale*(1+plateLimit)
	}
	stays := (src.EMF+u)/(series.Max()*(1-b.SeriesBox.Tolerance)) < least
	loop := (src.EMF - u) / (2.0 / 3 * most) // resistance of the whole loop at two thirds of the scale
	return stays && loop > 2*movementMost && loop > 10*series.Least()
}
