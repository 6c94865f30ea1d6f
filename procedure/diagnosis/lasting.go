package diagnosis

import (
	"math"

	"example.org/halve/physics/fault"
)

// recent is for how many runs back the beginning of a fault with many plugs or
// sizes is looked for run by run; earlier than that, ever more coarsely.
const recent = 6

// weighLasting weighs the faults that last: from the start, from one of the
// last runs on, or for one run and mended since.
func (w *work) weighLasting() {
	n := len(w.runs)
	for _, h := range w.table.faults {
		if h.Span != fault.Lasting || h.Any || !h.Fits(w.in.Series.Box(), w.in.Shunt.Box()) {
			continue
		}
		toggles := []*fault.Toggle{nil}
		if which := h.plugs(); which >= 0 {
			toggles = toggles[:0]
			for i := range w.toggles[which] {
				toggles = append(toggles, &w.toggles[which][i])
			}
		}
		weight := h.weight / float64(len(toggles))
		once := h.Size.What == fault.Nothing && !h.Loose && len(toggles) == 1
		for _, t := range toggles {
			share := fromTheStart
			if n == 1 {
				share += begunLater
			}
			if !once {
				share += mendedSince
			}
			w.lasting(instance{h: h, id: h.ID, last: n - 1, toggle: t, branch: -1, at: -1}, weight*share)
			for j, every := n-1, 1; j > 0; j -= every {
				if n-j > recent && !once {
					every = min(j, every*2)
				}
				w.lasting(instance{h: h, id: h.ID, first: j, last: n - 1, toggle: t, branch: -1, at: -1}, weight*begunLater*float64(every)/float64(n-1))
			}
		}
		if once {
			w.mended(h, weight*mendedSince)
		}
	}
}

// mended weighs that a fault was there for a while and has been mended since:
// for one run, at one setting of the shunt, or for one reading.
func (w *work) mended(h *hypothesis, weight float64) {
	each := weight / 3 / float64(len(w.runs))
	for j, run := range w.runs {
		if j < len(w.runs)-1 {
			w.local(instance{h: h, id: h.ID, first: j, last: j, branch: -1, at: -1}, each)
		}
		branch := -1
		for _, i := range run {
			w.local(instance{h: h, id: h.ID, first: j, last: j, branch: -1, at: i}, each/float64(len(run)))
			if b := w.looks[i].branch; b > branch {
				branch = b
				w.local(instance{h: h, id: h.ID, first: j, last: j, branch: b, at: -1}, each)
			}
		}
	}
}

// plugs tells which box a plug of is miscounted: 0 the series box, 1 the shunt
// box, -1 none.
func (h *hypothesis) plugs() int {
	switch {
	case h.Series == fault.OnePlug:
		return 0
	case h.Shunt == fault.OnePlug:
		return 1
	}
	return -1
}

// hopeless is how far below the best, in units of the logarithm, a hypothesis
// is not looked into further.
const hopeless = 18

// room returns the greatest logarithm that an evidence can have which is to
// explain some samples after all that is believed, by the densities of the
// readings; and the cost from which on a hypothesis of the given weight is
// hopeless.
func (w *work) room(weight float64, samples []sample, believed *outcome) (most, room float64) {
	most = believed.log
	for k := range samples {
		if samples[k].at.off == 0 {
			most -= samples[k].width
		}
	}
	return most, math.Log(weight) + most - w.best + hopeless
}

// ruledOut is the outcome of what the beliefs alone show to be hopeless.
func (w *work) ruledOut(samples []sample, believed *outcome, most, room float64) (outcome, bool) {
	least := w.farthest(samples, &believed.belief, room) / 2
	if least <= room {
		return outcome{}, false
	}
	return outcome{log: most - least, belief: believed.belief}, true
}

// lasting weighs a fault that holds from a run to the last one, before which
// all was sound as believed.
func (w *work) lasting(i instance, weight float64) {
	if weight <= 0 {
		return
	}
	before := &w.before[i.first]
	samples := w.pick(w.runs[i.first:]...)
	if !w.suppose(samples, i) {
		return
	}
	if i.toggle != nil && w.unseen(samples, w.runs[i.first][0]) {
		w.put(i, weight, w.whole)
		return
	}
	most, room := w.room(weight, samples, before)
	if i.first > 0 {
		if o, hopeless := w.ruledOut(samples, before, most, room); hopeless {
			w.put(i, weight, o)
			return
		}
	}
	starts := []vector{before.mean}
	if i.first == 0 {
		starts = []vector{w.whole.mean}
		if i.toggle == nil || len(w.runs) == 1 {
			starts = append(starts, w.scaled(samples), w.start(w.runs[0][0]))
		}
	}
	// A few readings show from where to start, and can rule it out.
	few := samples
	if n := len(samples); n > 4 {
		few = append(w.few[:0], samples[0], samples[1], samples[n-2], samples[n-1])
		w.few = few
	}
	best := fit(&before.belief, few, starts[0], room)
	for _, s := range starts[1:] {
		if fits(best, few) {
			break
		}
		if o := fit(&before.belief, few, s, room); o.log > best.log {
			best = o
		}
	}
	if len(few) < len(samples) {
		if best.cost > room {
			best.log = most - best.cost - before.log
		} else {
			best = fit(&before.belief, samples, best.mean, room)
		}
	}
	best.log += before.log
	w.put(i, weight, best)
}

// tooLittle is a change of a reading that shows nothing, in its standard
// uncertainties.
const tooLittle = 0.15

// unseen reports whether what is supposed foretells the samples, which begin
// with reading from, as the sound bench does.
func (w *work) unseen(samples []sample, from int) bool {
	here := at(&w.whole.mean)
	var none vector
	for k := range samples {
		s := &samples[k]
		if math.Abs(s.h.predict(s, here, &none)-w.soundAt[from+k]) > tooLittle*s.sigma {
			return false
		}
	}
	return true
}

// suppose puts a hypothesis in place of the sound one for the samples that it
// touches, and reports whether any is touched.
func (w *work) suppose(samples []sample, i instance) bool {
	changed := false
	begun := math.Inf(1)
	for _, k := range w.runs[i.first] {
		begun = min(begun, w.looks[k].order)
	}
	since := math.MaxInt // when the box was moved: before the branch's first reading
	for k := range samples {
		if l := samples[k].at; l.run == w.looks[w.runs[i.first][0]].run && l.branch == i.branch {
			since = min(since, l.seq)
		}
	}
	for k := range samples {
		s := &samples[k]
		if i.at >= 0 && s.at != &w.looks[i.at] {
			continue
		}
		switch {
		case i.branch < 0:
		case i.h.Between:
			if s.at.seq < since {
				continue
			}
		case s.at.branch != i.branch:
			continue
		}
		if i.h.Swapped && !s.at.shunted {
			if s.at.partner == nil {
				continue
			}
			s.shunt = s.at.partner.Ohm
		}
		h := i.h
		switch {
		case i.toggle != nil && h.plugs() == 0:
			ohm, ok := i.toggle.Of(w.in.Series.Box(), s.at.series)
			if !ok {
				continue
			}
			s.series = ohm
		case i.toggle != nil:
			if !s.at.shunted {
				continue
			}
			ohm, ok := i.toggle.Of(w.in.Shunt.Box(), s.at.shunt)
			if !ok {
				continue
			}
			s.shunt = ohm
		case h.Series != fault.AsSaid:
			s.series = h.Series.Made(w.in.Series, s.at.series, h.Times)
		case h.Shunt != fault.AsSaid:
			s.shunt = h.Shunt.Made(w.in.Shunt, s.at.shunt, h.Times)
		}
		if h.Loose {
			s.sigma = math.Hypot(s.sigma, fault.Scatter*w.in.Step)
			s.width = width(s.sigma)
		}
		s.h, s.age = h, max(0, s.at.order-begun)
		changed = true
	}
	return changed
}
