package estimate

import (
	"cmp"
	"math"
	"slices"
)

// Line is one line of an uncertainty budget.
type Line struct {
	Kind  Kind
	Index int // as in Response; -1 for all of the kind together
	// U is the standard uncertainty, in the quantity's unit, and
	// Sensitivity the change of the result for each such unit. For a kind
	// they are the root of the summed squares of the sensitivities, and
	// the U that goes with it.
	U, Sensitivity float64
	// Contribution is |Sensitivity| U, in the result's unit, and Share the
	// part of the result's variance that its square is.
	Contribution, Share float64
	DOF                 float64 // at most ManyDOF
}

// Budget is an uncertainty budget: what each quantity brings to u(G), in ohm,
// and to u(k), in A/div, the greatest first; what brings nothing is left out.
// The squares of the contributions come to u(G)² and u(k)².
type Budget struct {
	Resistance, Merit []Line
}

// Budget sums up by kinds.
func (g Gain) Budget() Budget {
	return g.budget(func(lines []Line) []Line {
		kinds := map[Kind]Line{}
		for _, l := range lines {
			k, ok := kinds[l.Kind]
			if !ok {
				k = Line{Kind: l.Kind, Index: -1, DOF: l.DOF}
			}
			k.Sensitivity = math.Hypot(k.Sensitivity, l.Sensitivity)
			k.Contribution = math.Hypot(k.Contribution, l.Contribution)
			kinds[l.Kind] = k
		}
		lines = lines[:0]
		for _, l := range kinds {
			l.U = l.Contribution / l.Sensitivity
			lines = append(lines, l)
		}
		return lines
	})
}

// Each lists every quantity by itself.
func (g Gain) Each() Budget {
	return g.budget(func(lines []Line) []Line { return lines })
}

func (g Gain) budget(sum func([]Line) []Line) Budget {
	of := func(sensitivity func(Response) float64) []Line {
		lines := make([]Line, 0, len(g))
		total := 0.0
		for _, r := range g {
			c := sensitivity(r)
			l := Line{Kind: r.Kind, Index: r.Index, U: r.U, Sensitivity: c, Contribution: math.Abs(c) * r.U, DOF: r.DOF}
			if l.Contribution > 0 {
				lines = append(lines, l)
				total = math.Hypot(total, l.Contribution)
			}
		}
		lines = sum(lines)
		for i := range lines {
			part := lines[i].Contribution / total
			lines[i].Share = part * part
		}
		slices.SortFunc(lines, func(a, b Line) int {
			return cmp.Or(cmp.Compare(b.Contribution, a.Contribution), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Index, b.Index))
		})
		return lines
	}
	return Budget{
		Resistance: of(func(r Response) float64 { return r.DG }),
		Merit:      of(func(r Response) float64 { return r.DK }),
	}
}
