package diagnosis

import (
	"cmp"
	"math"
	"slices"

	"example.org/halve/physics/fault"
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
