// Package montecarlo propagates distributions through a model by the Monte
// Carlo method of JCGM 101:2008 (Supplement 1 to the GUM): the model is
// evaluated for many draws of its inputs, and the mean, the standard
// uncertainty and the coverage intervals are those of the values that come
// out.
//
// Trials are drawn in blocks of 10 000, on all cores. Each block has a random
// stream of its own, that depends on the seed and the block's number alone,
// and what the blocks found is put together in their order, so the same seed
// gives the same result to the last bit whatever the number of cores.
//
// Nothing grows with the number of trials. Means and covariance are kept
// running; the quantiles come from a histogram of 65 536 equal bins, whose
// range is set by the first trials, linear within a bin. A quantile so found
// lies in the same bin as that of the sorted trials and so differs from it by
// a bin's width at the most, a six-thousandth of the standard uncertainty for
// a normal law. In truth a bin's trials lie almost evenly in it and the
// difference is about a hundredth of the sampling error, whatever the number
// of trials. (The sampling error of an end of the 95 % interval is 2.7 u/√N
// for a normal law.) Values beyond the range are counted in two open bins
// that reach to the lowest and the highest value met.
package montecarlo

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
)

// Sampler draws trials of a model. A sampler is used by one goroutine at a
// time and may keep scratch space.
type Sampler interface {
	// Outputs is the number of the model's outputs, 1 or 2.
	Outputs() int
	// Sample fills each of the slices in y, one for each output and all of
	// the same length, with the outputs of as many trials, drawn from src
	// alone.
	Sample(src *rand.PCG, y [][]float64)
}

// Limits of a run.
const (
	// MinTrials is the least number of trials: below it the 95 % interval
	// hangs on a handful of values.
	MinTrials = 100
	// MaxAdaptive is where a run that chooses its own number of trials
	// stops at the latest.
	MaxAdaptive = 10_000_000
)

// coverage is the probability that an interval holds.
const coverage = 0.95

const (
	// blockTrials is the number M of trials of a block: JCGM 101, 7.9.4 b
	// asks for 10 000 or 100/(1-p), whichever is more.
	blockTrials = 10_000
	// firstRound is the number of blocks that set the range of the
	// histograms. An adaptive run is tested after each so many, since the
	// scatter of two or three blocks may be small by luck.
	firstRound = 16
	laterRound = 256
)

// ErrNotFinite: the model has given something that is no finite number, or
// values whose squares are beyond the range of numbers.
var ErrNotFinite = errors.New("montecarlo: a trial gave no finite number")

// Options say how to run.
type Options struct {
	// Trials is the number of trials, MinTrials or more. At 0 the number is
	// found by the adaptive procedure of JCGM 101, 7.9: blocks are drawn
	// until twice the standard deviation, from block to block, of the
	// average of the means, of the standard uncertainties and of both ends
	// of the symmetric interval is within the numerical tolerance of every
	// output, or until there are MaxAdaptive trials. The numerical
	// tolerance is half a unit in the second significant digit of the
	// standard uncertainty (7.9.2 with two digits).
	Trials int
	Seed   uint64
	// Workers is the number of goroutines that draw, 0 for one on each
	// core. The result does not depend on it.
	Workers int
}

// Result is what the trials gave.
type Result struct {
	Trials int
	// Adaptive tells that the number of trials was found by the run, and
	// Settled that it was enough for the numerical tolerance.
	Adaptive, Settled bool
	Outputs           []Output
	// Correlation of the two outputs, -1 to 1; 0 where there is one output
	// or an output does not vary.
	Correlation float64
}

// Output is the law of one output, in the output's unit.
type Output struct {
	Mean, U float64 // mean and standard deviation
	// Interval95 is the probabilistically symmetric 95 % interval, from the
	// 2.5 % quantile to the 97.5 % quantile (JCGM 101, 7.7.2).
	Interval95 [2]float64
	// Shortest95 is the shortest interval that holds 95 % of the trials
	// (JCGM 101, 7.7.4 and 5.3.4). Where the law is flat-topped or
	// symmetric its place, not its length, is less well known than that of
	// the symmetric interval.
	Shortest95 [2]float64
	// Tolerance is the numerical tolerance that an adaptive run aimed at; 0
	// in other runs.
	Tolerance float64
}

// Run draws the trials. newSampler is called once for each worker.
//
// It fails where Options.Trials is below MinTrials and not 0, with
// ErrNotFinite, and with the context's error where the context ends first. It
// never returns a NaN or an infinity.
func Run(ctx context.Context, newSampler func() Sampler, o Options) (Result, error) {
	if o.Trials != 0 && o.Trials < MinTrials {
		return Result{}, fmt.Errorf("montecarlo: %d trials are too few: at least %d are needed, or 0 to find the number", o.Trials, MinTrials)
	}
	r, err := newRun(newSampler, o)
	if err != nil {
		return Result{}, err
	}
	round := firstRound
	for r.done < r.trials {
		if err := r.round(ctx, round); err != nil {
			return Result{}, err
		}
		if r.adaptive && r.settled() {
			break
		}
		if !r.adaptive {
			round = laterRound
		}
	}
	return r.result()
}

// run is a run under way.
type run struct {
	trials, done int
	adaptive     bool
	seed         uint64
	workers      []*worker
	blocks       []block // of the round under way
	total        moments
	histograms   []*histogram // none before the end of the first round
	first        [][]float64  // each output's trials in the first round
	scatter      [][statistics]scatter
	blocksBefore int
	outputs      int
}

func newRun(newSampler func() Sampler, o Options) (*run, error) {
	n := o.Workers
	if n <= 0 {
		n = runtime.GOMAXPROCS(0)
	}
	r := &run{trials: o.Trials, adaptive: o.Trials == 0, seed: o.Seed}
	if r.adaptive {
		r.trials = MaxAdaptive
	}
	blocks := (r.trials + blockTrials - 1) / blockTrials
	for range min(n, blocks, laterRound) {
		s := newSampler()
		if r.outputs = s.Outputs(); r.outputs != 1 && r.outputs != 2 {
			return nil, fmt.Errorf("montecarlo: a model has one output or two, not %d", r.outputs)
		}
		r.workers = append(r.workers, newWorker(s))
	}
	r.blocks = make([]block, min(blocks, laterRound))
	r.scatter = make([][statistics]scatter, r.outputs)
	for range r.outputs {
		r.first = append(r.first, make([]float64, min(r.trials, firstRound*blockTrials)))
	}
	return r, nil
}

// round draws so many blocks more, or as many as are left, and takes them in.
func (r *run) round(ctx context.Context, blocks int) error {
	left := r.trials - r.done
	blocks = min(blocks, (left+blockTrials-1)/blockTrials)
	var next atomic.Int64
	var work sync.WaitGroup
	for _, w := range r.workers {
		work.Go(func() {
			for ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= blocks {
					return
				}
				from := i * blockTrials
				r.draw(w, i, from, min(from+blockTrials, left))
			}
		})
	}
	work.Wait()
	if err := ctx.Err(); err != nil {
		return err
	}
	for i := range r.blocks[:blocks] {
		b := &r.blocks[i]
		if !b.finite() {
			return ErrNotFinite
		}
		r.total.add(&b.moments)
		if r.adaptive {
			for j := range r.scatter {
				for k := range r.scatter[j] {
					r.scatter[j][k].add(b.statistics[j][k])
				}
			}
		}
	}
	r.done += min(left, blocks*blockTrials)
	r.blocksBefore += blocks
	if r.histograms == nil {
		for _, y := range r.first {
			h := newHistogram(y)
			h.count(y)
			r.histograms = append(r.histograms, h)
		}
		for _, w := range r.workers {
			w.histograms = nil
			for _, h := range r.histograms {
				w.histograms = append(w.histograms, h.part())
			}
		}
		r.first = nil
		return nil
	}
	for _, w := range r.workers {
		for j, h := range r.histograms {
			h.take(w.histograms[j])
		}
	}
	return nil
}

// draw draws block i of the round, trials from to to of it.
func (r *run) draw(w *worker, i, from, to int) {
	w.src.Seed(stream(r.seed, r.blocksBefore+i))
	y := w.y
	for j := range y {
		if r.first != nil {
			y[j] = r.first[j][from:to]
		} else {
			y[j] = w.values[j][:to-from]
		}
	}
	w.sampler.Sample(&w.src, y)
	b := &r.blocks[i]
	b.moments = momentsOf(y)
	if !b.finite() {
		return
	}
	for j, h := range w.histograms {
		h.count(y[j])
	}
	if r.adaptive {
		for j := range y {
			b.statistics[j] = w.statistics(&b.moments, j, y[j])
		}
	}
}

// stream gives the seeds of a block's random stream. The finaliser of
// SplitMix64 (Steele, Lea and Flood 2014) sets the streams of neighbouring
// blocks and seeds far apart.
func stream(seed uint64, block int) (uint64, uint64) {
	mix := func(z uint64) uint64 {
		z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
		z = (z ^ z>>27) * 0x94d049bb133111eb
		return z ^ z>>31
	}
	const golden = 0x9e3779b97f4a7c15
	a := mix(seed + golden)
	b := mix(a + golden*uint64(block+1))
	return b, mix(b + a)
}

// settled tells whether the adaptive procedure may stop.
func (r *run) settled() bool {
	for j := range r.scatter {
		d := tolerance(r.total.sd(j))
		for _, s := range r.scatter[j] {
			if 2*s.ofAverage() > d {
				return false
			}
		}
	}
	return true
}

// tolerance is the numerical tolerance of a standard uncertainty stated to two
// significant digits, half a unit in the last of them (JCGM 101, 7.9.2).
func tolerance(u float64) float64 {
	if !(u > 0) {
		return 0
	}
	unit := math.Pow(10, math.Floor(math.Log10(u))-1)
	if math.RoundToEven(u/unit) >= 100 {
		unit *= 10
	}
	return unit / 2
}

func (r *run) result() (Result, error) {
	res := Result{Trials: r.done, Adaptive: r.adaptive, Settled: r.adaptive && r.settled(), Correlation: r.total.correlation()}
	for j, h := range r.histograms {
		o := Output{Mean: r.total.mean[j], U: r.total.sd(j)}
		h.accumulate()
		o.Interval95 = h.symmetric()
		o.Shortest95 = h.shortest()
		if r.adaptive {
			o.Tolerance = tolerance(o.U)
		}
		for _, v := range []float64{o.Mean, o.U, o.Interval95[0], o.Interval95[1], o.Shortest95[0], o.Shortest95[1]} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return Result{}, ErrNotFinite
			}
		}
		res.Outputs = append(res.Outputs, o)
	}
	return res, nil
}

// worker is what one goroutine needs.
type worker struct {
	sampler    Sampler
	src        rand.PCG
	y, values  [][]float64
	sorted     []float64
	histograms []*histogram
}

func newWorker(s Sampler) *worker {
	w := &worker{sampler: s, y: make([][]float64, s.Outputs())}
	for range w.y {
		w.values = append(w.values, make([]float64, blockTrials))
	}
	return w
}

// The statistics of a block that the adaptive procedure watches: mean,
// standard deviation, and both ends of the symmetric interval.
const statistics = 4

// statistics finds them for output j of a block. The ends are those of JCGM
// 101, 7.7.2.
func (w *worker) statistics(m *moments, j int, y []float64) [statistics]float64 {
	w.sorted = append(w.sorted[:0], y...)
	slices.Sort(w.sorted)
	n := float64(len(y))
	q := math.Floor(coverage*n + 0.5)
	low := int(math.Floor((n-q)/2+0.5)) - 1
	return [statistics]float64{m.mean[j], m.sd(j), w.sorted[low], w.sorted[low+int(q)]}
}
