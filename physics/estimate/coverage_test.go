package estimate_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"

	"example.org/halve/physics"
	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/bench"
	"example.org/halve/physics/estimate"
)

// habit is how a student goes about it.
type habit int

const (
	exactHalves habit = iota // shunt changed until the needle reads the exact half of an even mark
	nearHalves               // one or two shunts, then whatever is read
	spreadShunt              // a half, then shunts spread on purpose
	allTrials                // near halves, each with two more shunts further off
	repeats                  // near halves, every reading made three times
	habits
)

func (h habit) String() string {
	return [...]string{"exact halves", "near halves", "spread shunts", "trials kept", "read three times"}[h]
}

// practical is what one student brings home, and the truth.
type practical struct {
	rows     int
	habit    habit
	measured bool // EMF read with a voltmeter
	stated   apparatus.Bench
	hidden   bench.Hidden
	in       estimate.Input
	meanG    []float64 // row by row
	meanK    []float64
}

// student works at a simulated bench, going by what is read only.
type student struct {
	*bench.Bench
	p             *practical
	series, shunt *apparatus.Range
	r, s          apparatus.Setting
	zero          float64
	loop          float64 // running estimate of E/k, div·ohm
	g             float64 // running estimate of G, ohm
}

func (st *student) setSeries(ohm float64) {
	st.r, _ = st.series.Nearest(min(max(ohm, 0), st.series.Max()))
	if err := st.SetSeries(st.r.Ohm, st.r.Coils); err != nil {
		panic(err)
	}
}

func (st *student) setShunt(ohm float64) {
	st.s, _ = st.shunt.Nearest(min(max(ohm, st.shunt.Least()), st.shunt.Max()))
	if err := st.SetShunt(st.s.Ohm, st.s.Coils); err != nil {
		panic(err)
	}
}

// read takes a reading into the record, as often as the habit says, and
// returns its mean less the zero; ok is false past the end of the scale.
func (st *student) read(shunted bool) (div float64, ok bool) {
	st.SetKeys(true, shunted)
	n := 1
	if st.p.habit == repeats {
		n = 3
	}
	for range n {
		d, off := st.Read()
		if off {
			return 0, false
		}
		div += d / float64(n)
	}
	o := estimate.Observation{Series: st.series.Multiset(st.r), SeriesOhm: st.r.Ohm, Div: div, N: n, Shunted: shunted}
	if shunted {
		o.Shunt, o.ShuntOhm = st.shunt.Multiset(st.s), st.s.Ohm
	}
	st.p.in.Observations = append(st.p.in.Observations, o)
	return div - st.zero, true
}

// first sets the series box for a deflection and reads it.
func (st *student) first(target float64) (div float64, ok bool) {
	step := st.p.in.Step
	for range 8 {
		st.setSeries(st.loop/target - st.g)
		if div, ok = st.read(false); !ok {
			st.loop *= 1.3
			continue
		}
		if div > 0 {
			st.loop = div * (st.r.Ohm + st.g)
		}
		if st.p.habit == exactHalves && div != target || math.Abs(div-target) > 0.06*target+step {
			continue
		}
		return div, true
	}
	return div, ok && div > 0.5*target
}

// row makes a row at about the deflection and keeps it.
func (st *student) row(target, share float64) {
	first, ok := st.first(target)
	if !ok {
		return
	}
	p := st.r.Ohm * st.g / (st.r.Ohm + st.g)
	tries, shunted := 2, 0.0
	if st.p.habit == exactHalves {
		tries = 6
	}
	for range tries {
		st.setShunt(share * p)
		if shunted, ok = st.read(true); !ok || shunted <= 0 || shunted >= first {
			return
		}
		ratio := share / (share + 1)
		p = st.s.Ohm * (first - shunted) / shunted
		if math.Abs(shunted-ratio*first) < st.p.in.Step/4 {
			break
		}
		if st.p.habit != exactHalves && math.Abs(shunted-ratio*first) < 0.05*first {
			break
		}
	}
	st.g = 1 / max(1/p-1/(st.r.Ohm+1), 1e-3)
	if st.p.habit == allTrials {
		last, mean := st.s.Ohm, shunted
		for _, off := range []float64{0.7, 1.4} {
			st.setShunt(off * last)
			st.read(true)
		}
		st.setShunt(last)
		shunted = mean
	}
	in := &st.p.in
	res, err := physics.Row{EMF: in.EMF, SourceResistance: in.SourceResistance, Series: st.r.Ohm, Shunt: st.s.Ohm, First: first, Shunted: shunted}.Solve(physics.RowDoubt{})
	if err == nil {
		st.p.meanG, st.p.meanK = append(st.p.meanG, res.G), append(st.p.meanK, res.K)
	}
}

// work draws a bench and lets a student do the practical on it.
func work(seed uint64) (*practical, error) {
	r := rand.New(rand.NewPCG(seed, 5000))
	p := &practical{stated: bench.Stock(r)}
	p.hidden = bench.Draw(p.stated, r)
	p.rows = []int{2, 5, 10}[r.IntN(3)]
	p.habit = habit(r.IntN(int(habits)))
	p.measured = r.IntN(2) == 0
	b, err := bench.New(p.stated, p.hidden, r)
	if err != nil {
		return nil, err
	}
	step := p.stated.Galvanometer.Step()
	coils := func(b apparatus.Box) []float64 {
		if b.Kind == apparatus.Decade {
			return b.Dials
		}
		return b.Coils
	}
	p.in = estimate.Input{
		EMF: p.stated.Source.EMF, UEMF: *p.stated.Source.UEMF,
		// What a guide supposes of a cell that nobody has loaded.
		SourceResistance: 1, USourceResistance: 1,
		Step: step, Repeatability: bench.Repeatability * step,
		SeriesCoils: coils(p.stated.SeriesBox), SeriesTolerance: p.stated.SeriesBox.Tolerance,
		ShuntCoils: coils(p.stated.ShuntBox), ShuntTolerance: p.stated.ShuntBox.Tolerance,
		UZeros: []float64{math.Hypot(step/math.Sqrt(12), bench.Repeatability*step)},
	}
	if p.measured {
		p.in.EMF, p.in.UEMF = b.Voltmeter(false)
	}
	b.SetKeys(false, false)
	zero, _ := b.Read()
	p.in.Zeros = []float64{zero}
	st := &student{Bench: b, p: p, zero: zero, g: 100}
	if st.series, err = apparatus.NewRange(p.stated.SeriesBox); err != nil {
		return nil, err
	}
	if st.shunt, err = apparatus.NewRange(p.stated.ShuntBox); err != nil {
		return nil, err
	}
	// The way down to a usable deflection, not recorded.
	st.loop = p.hidden.EMF / p.hidden.Merit * (0.9 + 0.2*r.Float64())
	n := p.stated.Galvanometer.Divisions
	shares := []float64{1, 0.75, 1.3, 0.85, 1.15}
	for i := range p.rows {
		target := n - 2*math.Ceil(0.05*n) - 2*float64(i%5)
		target -= math.Mod(target, 2)
		share := 1.0
		if p.habit == spreadShunt {
			share = shares[i%len(shares)]
		}
		st.row(target, share)
	}
	return p, nil
}

var _ = slices.Contains[[]int]
var _ = strings.Join

type tally struct {
	n, g, k, gMean, kMean int
	eG, eK                []float64 // error / u
	relG, relK            []float64 // error of estimate, relative
	mG, mK                []float64 // error of mean, relative
}

func (t *tally) String() string {
	rms := func(v []float64) float64 {
		s := 0.0
		for _, x := range v {
			s += x * x
		}
		return math.Sqrt(s / float64(len(v)))
	}
	med := func(v []float64) float64 {
		s := slices.Clone(v)
		for i := range s {
			s[i] = math.Abs(s[i])
		}
		slices.Sort(s)
		return stat.Quantile(0.5, stat.Empirical, s, nil) / 0.6745
	}
	f := float64(t.n) / 100
	return fmt.Sprintf("%5d  G %5.1f k %5.1f   e/u rms G %.2f k %.2f med G %.2f k %.2f  joint/mean G %.2f (med %.2f) k %.2f  book G %.1f k %.1f", t.n, float64(t.g)/f, float64(t.k)/f, rms(t.eG), rms(t.eK),
		med(t.eG), med(t.eK), rms(t.relG)/rms(t.mG), med(t.relG)/med(t.mG), rms(t.relK)/rms(t.mK), float64(t.gMean)/f, float64(t.kMean)/f)
}

func TestCoverageStudy(t *testing.T) {
	n := 300
	if s := os.Getenv("HALVE_BENCHES"); s != "" {
		n, _ = strconv.Atoi(s)
	}
	strata := map[string]*tally{}
	var names []string
	fails := 0
	for seed := range uint64(n) {
		p, err := work(seed)
		if err != nil {
			t.Fatal(err)
		}
		fit, err := estimate.Joint(p.in)
		if err != nil || len(p.meanG) < p.rows {
			fails++
			continue
		}
		labels := []string{" all zero " + string(p.stated.Galvanometer.Zero), " all", fmt.Sprintf("rows %2d", p.rows), "habit " + p.habit.String(), fmt.Sprintf("step %.2f", p.in.Step),
			fmt.Sprintf("measured %v", p.measured), fmt.Sprintf("tolS %.3f", p.in.ShuntTolerance), fmt.Sprintf("%v %d", p.habit, p.rows)}
		for _, l := range labels {
			c := strata[l]
			if c == nil {
				c = &tally{}
				strata[l] = c
				names = append(names, l)
			}
			c.n++
			G, K := p.hidden.Resistance, p.hidden.Merit
			in := func(n *int, d, u float64) {
				if math.Abs(d) <= u {
					*n++
				}
			}
			in(&c.g, fit.G-G, fit.U95G)
			in(&c.k, fit.K-K, fit.U95K)
			c.eG = append(c.eG, (fit.G-G)/fit.UG)
			c.eK = append(c.eK, (fit.K-K)/fit.UK)
			mg, sg := stat.MeanStdDev(p.meanG, nil)
			mk, sk := stat.MeanStdDev(p.meanK, nil)
			q := math.Sqrt(float64(len(p.meanG)))
			in(&c.gMean, mg-G, 2*sg/q)
			in(&c.kMean, mk-K, 2*sk/q)
			c.relG = append(c.relG, fit.G/G-1)
			c.relK = append(c.relK, fit.K/K-1)
			c.mG = append(c.mG, mg/G-1)
			c.mK = append(c.mK, mk/K-1)
		}
	}
	slices.Sort(names)
	t.Logf("fails %d", fails)
	for _, l := range names {
		t.Logf("%-22s %v", l, strata[l])
	}
}
