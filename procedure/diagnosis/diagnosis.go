package diagnosis

import (
	"cmp"
	"math"
	"slices"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/fault"
	"example.org/halve/physics/uncertainty"
)

// instance is one way in which a hypothesis can be true: since when, with
// which plug, and with which numbers.
type instance struct {
	h      *hypothesis
	id     fault.ID
	log    float64 // logarithm of prior times evidence
	first  int     // the runs it holds for, from first …
	last   int     // … to last; lasting faults to the last of all
	toggle *fault.Toggle
	branch int // of a slip of the shunt box, else -1
	at     int // the one reading that is wrong, else -1
	// worked lists the readings that were worked out.
	worked []int
	belief
}

// work is one diagnosis being made.
type work struct {
	in      *Input
	table   *table
	looks   []look
	runs    [][]int // the readings of each run that has any
	prior   belief
	whole   outcome             // sound, all readings
	soundAt []float64           // what that foretells of every reading
	found   map[fault.ID]*cause // what was weighed so far
	best    float64             // greatest log of all
	samples []sample
	rest    []outcome // of each run: sound, without that run's readings
	before  []outcome // of each run: sound, up to that run
	few     []sample
	toggles [2][]fault.Toggle
}

// Diagnose ranks what can be wrong with the bench by its probability after all
// readings. It is silent, with an empty list, while nothing being wrong is as
// probable as everything else together. The work grows with the number of
// readings and of plugs; older readings than the last hundred or so are left
// out.
func Diagnose(in Input) []Finding {
	if w := weigh(&in); w != nil {
		return w.findings()
	}
	return nil
}

// weigh weighs all hypotheses; it returns nil where nothing was read.
func weigh(in *Input) *work {
	w := newWork(in)
	if len(w.runs) == 0 {
		return nil
	}
	w.weighSound()
	w.weighWhole()
	w.weighSlips()
	w.weighLasting()
	return w
}

func newWork(in *Input) *work {
	w := &work{in: in, table: compiled(), looks: in.looks(), best: math.Inf(-1), found: map[fault.ID]*cause{}}
	last := -1
	for i, l := range w.looks {
		if l.run != last {
			w.runs = append(w.runs, nil)
			last = l.run
		}
		w.runs[len(w.runs)-1] = append(w.runs[len(w.runs)-1], i)
	}
	var mean vector
	var info matrix
	for i, n := range []Normal{in.Movement, in.Loop, in.Source, {SD: in.UZero}, {SD: 1}} {
		mean[i], info[i][i] = n.Mean, 1/(n.SD*n.SD)
	}
	w.prior, _ = believe(mean, info)
	if in.Series != nil && in.Shunt != nil {
		w.toggles = [2][]fault.Toggle{fault.Toggles(in.Series.Box()), fault.Toggles(in.Shunt.Box())}
	}
	return w
}

// put records an instance.
func (w *work) put(i instance, weight float64, o outcome) {
	if !(weight > 0) || math.IsNaN(o.log) {
		return
	}
	i.log = math.Log(weight) + o.log
	w.best = max(w.best, i.log)
	c := w.found[i.id]
	if c == nil {
		c = &cause{id: i.id, log: math.Inf(-1), best: instance{log: math.Inf(-1)}}
		w.found[i.id] = c
	}
	c.log = logAdd(c.log, i.log)
	if i.log > c.best.log {
		c.best = i
		c.best.belief = o.belief
	}
}

// pick lists the samples of some readings under the sound hypothesis.
func (w *work) pick(looks ...[]int) []sample {
	w.samples = w.samples[:0]
	for _, is := range looks {
		for _, i := range is {
			l := &w.looks[i]
			w.samples = append(w.samples, sample{h: w.table.sound, series: l.series.Ohm, shunt: l.shunt.Ohm, at: l, sigma: l.sigma, width: l.width})
		}
	}
	return w.samples
}

// weighSound weighs that nothing is wrong, with all readings, without those of
// each run, and up to each run.
func (w *work) weighSound() {
	n := len(w.runs)
	w.whole = w.soundFit(w.runs, w.prior.mean)
	w.put(instance{h: w.table.sound, id: sound, last: n - 1, branch: -1, at: -1}, w.table.rest[sound], w.whole)
	here := at(&w.whole.mean)
	var none vector
	for _, s := range w.pick(w.runs...) {
		w.soundAt = append(w.soundAt, s.h.predict(&s, here, &none))
	}
	others := make([][]int, 0, n)
	for j := range w.runs {
		o := outcome{belief: w.prior}
		if n > 1 {
			others = append(append(others[:0], w.runs[:j]...), w.runs[j+1:]...)
			o = w.soundFit(others, w.whole.mean)
		}
		w.rest = append(w.rest, o)
	}
	w.before = make([]outcome, n)
	w.before[0] = outcome{belief: w.prior}
	for j := 1; j < n-1; j++ {
		w.before[j] = w.soundFit(w.runs[:j], w.rest[n-1].mean)
	}
	if n > 1 {
		w.before[n-1] = w.rest[n-1]
	}
}

// soundFit fits runs as if all were sound: from the given start and from one
// that suits the first reading, whichever comes out better.
func (w *work) soundFit(runs [][]int, start vector) outcome {
	samples := w.pick(runs...)
	o := fit(&w.prior, samples, start, math.Inf(1))
	if fits(o, samples) {
		return o
	}
	if again := fit(&w.prior, samples, w.start(runs[0][0]), math.Inf(1)); again.log > o.log {
		o = again
	}
	return o
}

// fits reports whether an outcome is as good as one may hope for: another
// start would find no better.
func fits(o outcome, samples []sample) bool { return o.cost < 2+float64(len(samples))/2 }

// start are parameters at which the sound bench shows a reading as it was.
func (w *work) start(i int) vector {
	p := w.prior.mean
	l := &w.looks[i]
	div := math.Abs(l.div - l.zero)
	if l.off != 0 || div < w.in.Step {
		return p
	}
	p[loop] = w.believable(math.Log(div * (l.series.Ohm + math.Exp(p[movement]) + math.Exp(p[source]))))
	return p
}

// scaled are parameters at which what is supposed foretells readings of about
// the size of those that were.
func (w *work) scaled(samples []sample) vector {
	p := w.prior.mean
	here := at(&p)
	var none vector
	over, under := 0.0, 0.0
	for k := range samples {
		s := &samples[k]
		foretold := s.h.predict(s, here, &none) - s.at.zero
		over += foretold * (s.at.div - s.at.zero)
		under += foretold * foretold
	}
	if over > 0 {
		p[loop] = w.believable(p[loop] + math.Log(over/under))
	}
	return p
}

// believable is a logarithm of E/k no further out than the prior law reaches.
func (w *work) believable(x float64) float64 {
	most := 3 * w.in.Loop.SD
	return max(w.in.Loop.Mean-most, min(w.in.Loop.Mean+most, x))
}

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

// weighWhole weighs that no hypothesis explains the readings.
func (w *work) weighWhole() {
	n := len(w.runs)
	// Nothing known fits, from the start or from one of the last runs on.
	h := &hypothesis{Fault: fault.Fault{ID: fault.Unexplained, Any: true}, law: w.table.sound.law}
	for j := range n {
		o := w.before[j]
		for _, run := range w.runs[j:] {
			for _, i := range run {
				o.log += w.uniform(&w.looks[i])
			}
		}
		w.put(instance{h: h, id: h.ID, first: j, last: n - 1, branch: -1, at: -1}, w.table.rest[fault.Unexplained]/float64(n), o)
	}
}

func logAdd(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if math.IsInf(b, -1) {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}

// cause is a fault with its probability and the likeliest of its instances.
type cause struct {
	id          fault.ID
	log         float64 // logarithm of the sum of its instances
	probability float64
	best        instance
}

// causes are the faults with their probabilities, most probable first.
func (w *work) causes() []cause {
	out := make([]cause, 0, len(w.found))
	for _, c := range w.found {
		out = append(out, *c)
	}
	slices.SortFunc(out, func(a, b cause) int {
		return cmp.Or(cmp.Compare(b.log, a.log), cmp.Compare(a.id, b.id))
	})
	total := math.Inf(-1)
	for _, c := range out {
		total = logAdd(total, c.log)
	}
	for k := range out {
		out[k].probability = math.Exp(out[k].log - total)
	}
	return out
}
