package diagnosis

// What stands in this file is for the studies of the diagnosis, which plant
// faults by the hundred (tui/lines); the program itself asks none of it.

import (
	"math"
	"slices"
)

// Rank lists all hypotheses, most probable first, silent or not; "" is that
// nothing is wrong. It is for the studies of the diagnosis.
func Rank(in Input) []Finding {
	w := weigh(&in)
	if w == nil {
		return nil
	}
	var out []Finding
	for _, c := range w.causes() {
		out = append(out, Finding{ID: string(c.id), Probability: c.probability})
	}
	return out
}

// alike is how far apart two predictions of a reading may lie, in standard
// uncertainties.
const alike = 2.0

// LookAlikes lists the faults, of at least the given part of the named one's
// weight, that foretell every reading as it does, within two standard
// uncertainties of the reading, each with the numbers that suit it best. None is
// listed where the named fault was not weighed. It is for the studies of the
// diagnosis, which do not count a fault as missed that nothing could tell.
func LookAlikes(in Input, id string, comparable float64) []string {
	w := weigh(&in)
	if w == nil {
		return nil
	}
	causes := w.causes()
	at := slices.IndexFunc(causes, func(c cause) bool { return string(c.id) == id })
	if at < 0 {
		return nil
	}
	of := w.expected(causes[at].best)
	var out []string
next:
	for _, c := range causes {
		if string(c.id) == id || w.table.rest[c.id] < comparable*w.table.rest[causes[at].id] || c.best.h.Any {
			continue
		}
		for i, y := range w.expected(c.best) {
			if math.Abs(y-of[i]) > alike*w.looks[i].sigma {
				continue next
			}
		}
		out = append(out, string(c.id))
	}
	return out
}

// expected is what an instance foretells of every reading, no further out than
// a little beyond the ends of the scale.
func (w *work) expected(i instance) []float64 {
	var out []float64
	var none vector
	for j, run := range w.runs {
		samples := w.pick(run)
		if j >= i.first && j <= i.last {
			w.suppose(samples, i)
		}
		for k := range samples {
			if y := run[k]; y == i.at && i.h.Any || slices.Contains(i.worked, y) {
				out = append(out, w.looks[y].div) // what was written, whatever the circuit says
				continue
			}
			n := w.in.Divisions + w.in.Step
			out = append(out, max(-n, min(n, samples[k].h.predict(&samples[k], at(&i.mean), &none))))
		}
	}
	return out
}

// Weight is a fault's weight in the table, that of a sound bench for "", 0 for
// what is not in it. The studies of the diagnosis draw faults by it.
func Weight(id string) float64 {
	sum := 0.0
	for _, p := range priors() {
		if string(p.id) == id {
			sum += p.weight
		}
	}
	return sum
}
