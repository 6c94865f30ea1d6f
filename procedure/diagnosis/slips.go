package diagnosis

import (
	"math"
	"slices"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/fault"
	"example.org/halve/physics/uncertainty"
)

// local weighs a slip within one run, all other runs being sound.
func (w *work) local(i instance, weight float64) {
	samples := w.pick(w.runs[i.first])
	if !w.suppose(samples, i) {
		return
	}
	if i.toggle != nil && w.unseen(samples, w.runs[i.first][0]) {
		w.put(i, weight, w.whole)
		return
	}
	w.put(i, weight, w.localFit(i.first, samples, weight))
}

// farthest is the largest misfit of a reading, squared and in variances of its
// prediction by what is believed; it looks no further than for one that leaves
// no room. A fault's own number may reach further out than the slope at its
// usual value says, by half.
func (w *work) farthest(samples []sample, b *belief, room float64) float64 {
	worst := 0.0
	here := at(&b.mean)
	for k := range samples {
		s := &samples[k]
		var slope vector
		miss := s.h.predict(s, here, &slope) - s.at.div
		if s.at.off > 0 && miss > 0 || s.at.off < 0 && miss < 0 {
			continue
		}
		slope[number] *= 2
		if worst = max(worst, miss*miss/(s.sigma*s.sigma+b.factor.spread(slope))); worst/2 > room {
			break
		}
	}
	return worst
}

// localFit fits the samples of a run after what all other runs say.
func (w *work) localFit(run int, samples []sample, weight float64) outcome {
	rest := &w.rest[run]
	most, room := w.room(weight, samples, rest)
	if len(w.runs) > 1 {
		if o, hopeless := w.ruledOut(samples, rest, most, room); hopeless {
			return o
		}
	}
	o := fit(&rest.belief, samples, rest.mean, room)
	if len(w.runs) == 1 && !fits(o, samples) {
		if again := fit(&rest.belief, samples, w.start(w.runs[run][0]), room); again.log > o.log {
			o = again
		}
	}
	o.log += rest.log
	return o
}

// fewRuns is how many runs there are at least in any practical: over so many
// a slip's weight is spread.
const fewRuns = 3

// weighSlips weighs what goes wrong at one setting or one reading.
func (w *work) weighSlips() {
	// A slip that may yet be made is not to be looked for in the first reading
	// alone.
	n, looks := float64(max(fewRuns, len(w.runs))), float64(max(2*fewRuns, len(w.looks)))
	for _, h := range w.table.faults {
		switch {
		case h.Span == fault.Lasting:
		case h.Any:
			for j := range w.runs {
				w.anything(h, j, h.weight/n)
			}
		case h.Span == fault.OneReading:
			for j, run := range w.runs {
				for _, i := range run {
					if !w.in.LeftZero || w.looks[i].div < 0 {
						w.local(instance{h: h, id: h.ID, first: j, last: j, branch: -1, at: i}, h.weight/looks)
					}
				}
			}
		case h.plugs() < 0:
			for j := range w.runs {
				w.local(instance{h: h, id: h.ID, first: j, last: j, branch: -1, at: -1}, h.weight/n)
			}
		default:
			for j, run := range w.runs {
				w.plugSlips(h, j, run, h.weight/n)
			}
		}
	}
	w.halfMissed()
	w.workedOut()
}

// plugSlips weighs every plug that can be wrong at a run's settings.
func (w *work) plugSlips(h *hypothesis, j int, run []int, weight float64) {
	which := h.plugs()
	type place struct {
		toggle *fault.Toggle
		branch int
	}
	var places []place
	branches := []int{-1}
	if which == 1 || h.Between {
		branches = branches[:0]
		for _, i := range run {
			if b := w.looks[i].branch; b >= 0 && !slices.Contains(branches, b) {
				branches = append(branches, b)
			}
		}
	}
	box := w.in.Series.Box()
	if which == 1 {
		box = w.in.Shunt.Box()
	}
	for _, b := range branches {
		var set apparatus.Setting
		for _, i := range run {
			if l := &w.looks[i]; b < 0 || l.branch == b {
				set = l.series
				if which == 1 {
					set = l.shunt
				}
				break
			}
		}
		for t := range w.toggles[which] {
			if _, ok := w.toggles[which][t].Of(box, set); ok {
				places = append(places, place{&w.toggles[which][t], b})
			}
		}
	}
	for _, p := range places {
		w.local(instance{h: h, id: h.ID, first: j, last: j, toggle: p.toggle, branch: p.branch, at: -1}, weight/float64(len(places)))
	}
}

// anything weighs that one reading of a run can be any number on the scale.
func (w *work) anything(h *hypothesis, j int, weight float64) {
	for _, i := range w.runs[j] {
		var others []int
		for _, k := range w.runs[j] {
			if k != i {
				others = append(others, k)
			}
		}
		o := w.localFit(j, w.pick(others), weight)
		o.log += w.miswritten(&w.looks[i])
		w.put(instance{h: h, id: h.ID, first: j, last: j, branch: -1, at: i}, weight/float64(len(w.runs[j])), o)
	}
}

// beyond is the chance that a number written at random is "off scale" (common
// practice, no source).
const beyond = 0.05

// uniform is the logarithm of the density of a reading that can be anything.
func (w *work) uniform(l *look) float64 {
	if l.off != 0 {
		return math.Log(beyond)
	}
	if w.in.LeftZero {
		return -math.Log(w.in.Divisions)
	}
	return -math.Log(2 * w.in.Divisions)
}

// sideKept is how often a number that is written down wrong keeps its side of
// zero (common practice, no source): a lost sign is a fault of its own.
const sideKept = 0.95

// miswritten is the logarithm of the density of a reading that is any number
// written in place of the right one.
func (w *work) miswritten(l *look) float64 {
	switch {
	case l.off != 0 || w.in.LeftZero:
		return w.uniform(l)
	case l.div-l.zero < -w.in.Step:
		return math.Log((1 - sideKept) / w.in.Divisions)
	}
	return math.Log(sideKept / w.in.Divisions)
}

// density is the logarithm of the density of a reading where the needle was to
// be brought to a mark.
func (w *work) density(l *look, mark float64) float64 {
	sigma := math.Hypot(w.in.Step/uncertainty.Resolution, w.in.Repeatability)
	d := (l.div - l.zero - mark) / sigma
	return -d*d/2 - math.Log(sigma*math.Sqrt(2*math.Pi))
}

// halfMissed weighs that the shunted readings of a run are the half of another
// deflection: written by the student whatever the needle showed.
func (w *work) halfMissed() {
	h := &hypothesis{Fault: fault.Fault{ID: fault.HalfMissed, Span: fault.OneRow, WorkedOut: true}, law: w.table.sound.law}
	weight := w.table.rest[fault.HalfMissed] / float64(max(fewRuns, len(w.runs)))
	var halves []float64
	for j, run := range w.runs {
		first, ok := w.firstOf(run)
		if !ok {
			continue
		}
		halves = append(halves[:0], w.in.Divisions/2)
		for k := max(0, j-recent); k < len(w.runs) && k <= j+recent; k++ {
			y, ok := w.firstOf(w.runs[k])
			if ok && math.Abs(y-first) >= 4*w.in.Step && !slices.Contains(halves, y/2) {
				halves = append(halves, y/2)
			}
		}
		for _, half := range halves {
			i := instance{h: h, id: h.ID, first: j, last: j, branch: -1, at: -1}
			var others []int
			d := 0.0
			for _, k := range run {
				l := &w.looks[k]
				if l.shunted && l.off == 0 && math.Abs(half-first/2) >= 2*w.in.Step {
					if p := w.density(l, half); p > w.uniform(l)-5 {
						i.worked, d = append(i.worked, k), d+p
						continue
					}
				}
				others = append(others, k)
			}
			if len(i.worked) == 0 {
				continue
			}
			o := w.localFit(j, w.pick(others), weight)
			o.log += d
			w.put(i, weight/float64(len(halves)), o)
		}
	}
}

// workedOut weighs that the shunted readings from some run on, or of one run,
// are halves of their own first deflections that nobody read.
func (w *work) workedOut() {
	h := &hypothesis{Fault: fault.Fault{ID: fault.ComputedNotRead, WorkedOut: true}, law: w.table.sound.law}
	weight, n := w.table.rest[fault.ComputedNotRead], len(w.runs)
	var all instance
	var firsts []int
	logs, unbroken := 0.0, true
	for j := n - 1; j >= 0; j-- {
		own, halves, log, ok := w.ownHalves(j, &w.before[j].belief)
		if unbroken = unbroken && ok; !ok {
			continue
		}
		if j < n-1 && len(halves) > 0 {
			_, _, log, _ := w.ownHalves(j, &w.rest[j].belief)
			o := w.localFit(j, w.pick(own), weight)
			o.log += log
			w.put(instance{h: h, id: h.ID, first: j, last: j, branch: -1, at: -1, worked: halves}, weight*mendedSince/float64(n), o)
		}
		if !unbroken {
			continue
		}
		firsts, logs = append(firsts, own...), logs+log
		all = instance{h: h, id: h.ID, first: j, last: n - 1, branch: -1, at: -1, worked: append(halves, all.worked...)}
		if len(all.worked) == 0 {
			continue
		}
		before, start, share := &w.before[j], w.rest[n-1].mean, fromTheStart
		switch {
		case j > 0:
			start, share = before.mean, begunLater/float64(n-1)
		case n == 1:
			share += begunLater
		}
		o := fit(&before.belief, w.pick(firsts), start, math.Inf(1))
		o.log += before.log + logs
		w.put(all, weight*share, o)
	}
}

// freely is how far, relative, somebody's shunts lie about the half who does not
// care to bring the needle there (common practice, no source).
const freely = 0.3

// ownHalves lists the readings of a run at which K2 was open and those that are
// the half of the first of them, with the logarithm of these halves' density;
// ok is false where a shunted reading is not. Somebody who hunts for the half
// reads one as well. So it counts for no more than if it had been foretold by
// what is believed, and for less as one shunt of many: dθ2/dS = θ1/(4S) at the
// half.
func (w *work) ownHalves(j int, b *belief) (firsts, halves []int, log float64, ok bool) {
	first, ok := w.firstOf(w.runs[j])
	samples := w.pick(w.runs[j])
	here := at(&b.mean)
	for k, i := range w.runs[j] {
		l := &w.looks[i]
		if !l.shunted {
			firsts = append(firsts, i)
			continue
		}
		d := w.density(l, first/2)
		if !ok || l.off != 0 || d < w.uniform(l)-5 {
			return nil, nil, 0, false
		}
		var slope vector
		w.table.sound.predict(&samples[k], here, &slope)
		log += min(d, -width(math.Hypot(l.sigma, math.Sqrt(b.factor.spread(slope))))) + math.Log(min(1, 4*l.sigma/math.Abs(first)/freely))
		halves = append(halves, i)
	}
	return firsts, halves, log, true
}

// firstOf is a run's first deflection less its zero.
func (w *work) firstOf(run []int) (float64, bool) {
	for _, i := range run {
		if l := &w.looks[i]; !l.shunted && l.off == 0 {
			return l.div - l.zero, true
		}
	}
	return 0, false
}
