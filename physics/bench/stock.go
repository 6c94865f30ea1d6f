package bench

import (
	"fmt"
	"math"
	"math/rand/v2"

	"example.org/halve/physics/apparatus"
)

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
	c := pick(r, apparatus.Cells()...)
	u := math.Round((c.Highest-c.EMF)/3*1000) / 1000 // so that emf + 3u reaches the highest
	for c.EMF+3*u < c.Highest {
		u += 0.001
	}
	b := apparatus.Bench{
		Label:  fmt.Sprintf("%s, bench %d", pick(r, "Mirefold College", "Tarn Hollow College", "Quillmarsh College"), number),
		Source: apparatus.Source{Label: c.Name, EMF: c.EMF, UEMF: &u},
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
		apparatus.Box{Label: "series box", Kind: apparatus.Plug, Coils: apparatus.PlugSet(1, 10, 100, 1000)},
		apparatus.Box{Label: "series box", Kind: apparatus.Decade, Dials: []float64{1000, 100, 10, 1}},
		apparatus.Box{Label: "series box", Kind: apparatus.Decade, Dials: []float64{10000, 1000, 100, 10}})
	b.SeriesBox.Tolerance = tolerance()
	b.ShuntBox = pick(r,
		apparatus.Box{Label: "shunt box", Kind: apparatus.Plug, Coils: apparatus.PlugSet(1, 10, 100)},
		apparatus.Box{Label: "shunt box", Kind: apparatus.Plug, Coils: apparatus.PlugSet(0.1, 1, 10)},
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
