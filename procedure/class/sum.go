package class

import (
	"math"

	"example.org/halve/physics/estimate"
	"example.org/halve/procedure"
)

// What the counsel assumes where the bench does not say (procedure's evidence;
// TestQuickIsTheFold holds the two together).
const (
	emfDoubt       = 0.05 // relative standard uncertainty of a stated EMF
	voltmeterDoubt = 0.01 // of a measured one
	sourceOhm      = 1.0  // internal resistance of a cell
	repeatability  = 0.15 // of a reading, in steps of the resolution
	unreadZero     = 1.0  // div: limit of a zero that was never read
)

// sum works out what the marks come to; it reports false where the full fold
// has to.
func (q *quick) sum() bool {
	s, b := &q.sheet, &q.bench
	p := plateOf(*b)
	if s.Plate = q.plates[p]; s.Plate == nil {
		if len(q.plates) == mostTexts {
			clear(q.plates)
		}
		s.Plate = &p
		q.plates[p] = s.Plate
	}
	s.stated(*b)
	s.Events = len(q.marks) - 1
	s.Last = q.marks[len(q.marks)-1].at
	s.State = Unfinished
	if q.state.finished {
		s.State = Finished
	}
	if s.Names != "" || s.Group != "" {
		s.Has |= HasNames
	}
	if q.state.wired {
		s.Has |= HasWired
	}
	for _, br := range q.branches {
		if br.row > 0 {
			s.Rows++
		}
	}
	in := &q.in
	if !q.weighSource() {
		return false
	}
	step := b.Galvanometer.Step()
	in.Step, in.Repeatability = step, repeatability*step
	in.SeriesCoils, in.SeriesTolerance = q.series.coils, b.SeriesBox.Tolerance
	in.ShuntCoils, in.ShuntTolerance = q.shunt.coils, b.ShuntBox.Tolerance
	zeros := q.zeros(step)
	q.presence(zeros)
	s.settle()
	if s.Rows == 0 {
		return true
	}
	if !q.observe(step, zeros) {
		return false
	}
	f, err := q.fit.Find(in)
	if err != nil { // what is too hard for it is fitted in full, as the fold does
		q.full()
		return true
	}
	s.G, s.UG, s.K, s.UK = f.G, f.UG, f.K, f.UK
	s.U95G, s.U95K = coverage*f.UG, coverage*f.UK
	return true
}

// full estimates by the full fit; readings that no galvanometer gives have no
// result.
func (q *quick) full() {
	shunted := false
	for i := range q.in.Observations {
		shunted = shunted || q.in.Observations[i].Shunted
	}
	if !shunted {
		return
	}
	if f, err := estimate.Joint(q.in); err == nil {
		s := &q.sheet
		s.G, s.UG, s.K, s.UK, s.U95G, s.U95K = f.G, f.UG, f.K, f.UK, f.U95G, f.U95K
	}
}

// coverage is the factor from a standard uncertainty to an expanded one of 95 %
// where no degrees of freedom are reckoned.
const coverage = 2

// weighSource settles EMF and internal resistance as the counsel does; it is
// false where the source may have been changed.
func (q *quick) weighSource() bool {
	in, src, s := &q.in, q.bench.Source, &q.sheet
	in.EMF, in.UEMF = src.EMF, emfDoubt*src.EMF
	if src.UEMF != nil {
		in.UEMF = *src.UEMF
	}
	in.SourceResistance, in.USourceResistance = sourceOhm, sourceOhm
	if src.Resistance != nil {
		in.SourceResistance, in.USourceResistance = *src.Resistance, *src.Resistance/2
	}
	if src.UResistance != nil {
		in.USourceResistance = *src.UResistance
	}
	n, loaded := 0.0, false
	var emf, doubt float64
	for i := len(q.marks) - 1; i > 0; i-- {
		m := &q.marks[i]
		if m.kind != kindSource || m.struck != 0 {
			continue
		}
		if n == 0 {
			loaded, emf = m.loose, m.v
		}
		if m.loose != loaded {
			continue
		}
		u := m.u
		if u < 0 {
			u = voltmeterDoubt * m.v
		} else {
			s.Has |= HasDoubt
		}
		if m.v != emf || !procedure.SameEMF(in.EMF, in.UEMF, m.v, u) {
			return false
		}
		n, doubt = n+1, doubt+u
	}
	if n > 0 {
		in.EMF, in.UEMF = emf, doubt/n
		if loaded {
			in.SourceResistance, in.USourceResistance = 0, 0
		}
		s.Has |= HasEMF
	}
	s.EMF, s.UEMF = in.EMF, in.UEMF/in.EMF
	return true
}

// zeros lists the places of the zeros in force, and puts their different values
// into the fit's input.
func (q *quick) zeros(step float64) (places []int) {
	in := &q.in
	in.Zeros, in.UZeros = in.Zeros[:0], in.UZeros[:0]
	var times [16]float64
	for i := range q.marks {
		m := &q.marks[i]
		if m.kind != kindZero || m.struck != 0 {
			continue
		}
		places = append(places, i)
		if at := indexOf(in.Zeros, m.v); at >= 0 {
			times[at]++
			continue
		}
		if len(in.Zeros) == len(times) {
			return nil // observe then leaves it to the fold
		}
		times[len(in.Zeros)] = 1
		in.Zeros = append(in.Zeros, m.v)
	}
	for i := range in.Zeros {
		in.UZeros = append(in.UZeros, math.Hypot(step/math.Sqrt(12), repeatability*step/math.Sqrt(times[i])))
	}
	if len(places) == 0 {
		in.Zeros, in.UZeros = append(in.Zeros, 0), append(in.UZeros, unreadZero/math.Sqrt(3))
	}
	return places
}

func indexOf(s []float64, v float64) int {
	for i, x := range s {
		if x == v {
			return i
		}
	}
	return -1
}

// weigh expresses the zero at the time of a mark by the zeros read: linear in
// time between two, else the nearest. It returns the zero, and adds the weights,
// times the given share, to w.
func (q *quick) weigh(at int, zeros []int, w []float64, share float64) float64 {
	if len(zeros) == 0 {
		w[0] += share
		return 0
	}
	value := func(i int, part float64) float64 {
		v := q.marks[zeros[i]].v
		w[indexOf(q.in.Zeros, v)] += part * share
		return part * v
	}
	after := 0
	for after < len(zeros) && zeros[after] < at {
		after++
	}
	switch after {
	case 0:
		return value(0, 1)
	case len(zeros):
		return value(after-1, 1)
	}
	a, b := &q.marks[zeros[after-1]], &q.marks[zeros[after]]
	f := 0.0
	if span := b.at - a.at; span > 0 {
		f = min(1, max(0, float64(q.marks[at].at-a.at)/float64(span)))
	}
	return value(after-1, 1-f) + value(after, f)
}

// presence looks for what stands in the record.
func (q *quick) presence(zeros []int) {
	s := &q.sheet
	first, last := 0, 0
	right, left := false, false
	var spare [16]float64
	for i := range q.marks {
		m := &q.marks[i]
		switch m.kind {
		case kindFirst, kindShunted:
			if first == 0 {
				first = i
			}
			last = i
			if m.kind == kindFirst && m.struck == 0 && !m.off && len(q.in.Zeros) <= len(spare) {
				d := m.v - q.weigh(i, zeros, spare[:], 0)
				right = right || d > q.in.Step
				left = left || d < -q.in.Step
			}
		case kindClaim:
			if m.struck == 0 {
				s.Claims++
				s.Has |= HasClaims | HasUnits
			}
		case kindStrike:
			s.Strikes++
			if !m.loose {
				s.Unsaid++
			}
		case kindNote:
			if m.struck == 0 && m.loose {
				s.Temperature = m.v
				s.Has |= HasTemperature
			}
		}
	}
	for i := range q.marks {
		if m := &q.marks[i]; m.kind == kindClaim && m.struck == 0 && !m.loose {
			s.Has &^= HasUnits
		}
	}
	for _, z := range zeros {
		if first == 0 || z < first {
			s.Has |= HasZeroBefore
		}
		if first > 0 && z > last {
			s.Has |= HasZeroAfter
		}
	}
	if right && left {
		s.Has |= HasSides
	}
}

// observe makes the fit's observations: those of a setting on one side of zero
// together, as the counsel does.
func (q *quick) observe(step float64, zeros []int) bool {
	in := &q.in
	if len(in.UZeros) != len(in.Zeros) || len(in.Zeros) == 0 {
		return false
	}
	n := len(in.Zeros)
	in.Observations = in.Observations[:0]
	if need := n * 2 * (len(q.runs) + len(q.branches)); cap(q.weights) < need {
		q.weights = make([]float64, 0, 2*need)
	}
	q.weights = q.weights[:0]
	centre := q.bench.Galvanometer.Centre()

	for i := range q.runs {
		end := len(q.marks)
		if i+1 < len(q.runs) {
			end = int(q.runs[i+1].seq)
		}
		r := &q.runs[i]
		before := len(in.Observations)
		if !q.gather(int(r.seq), end, kindFirst, -1, r.set, nil, zeros, step, centre) {
			return false
		}
		if len(in.Observations) == before {
			continue
		}
		for j := r.from; j < r.to; j++ {
			b := &q.branches[j]
			if !q.gather(int(r.seq), end, kindShunted, j, r.set, b.set, zeros, step, centre) {
				return false
			}
		}
	}
	return true
}

// gather adds the observations of one setting; it is false where its repeats
// scatter by more than one step, which the fold weighs.
func (q *quick) gather(from, to int, of kind, branch int32, series, shunt *setting, zeros []int, step float64, centre bool) bool {
	in := &q.in
	n := len(in.Zeros)
	least, most := math.Inf(1), math.Inf(-1)
	for _, left := range [...]bool{false, true} {
		count, sum := 0, 0.0
		start := len(q.weights)
		w := q.weights[start : start+n]
		clear(w)
		for i := from; i < to; i++ {
			m := &q.marks[i]
			if m.kind != of || m.branch != branch || m.off || m.struck != 0 {
				continue
			}
			var own [16]float64
			d := m.v - q.weigh(i, zeros, own[:], 1)
			if of == kindFirst && (math.Abs(d) <= step || !centre && d < -step/2) || (d < -step) != left {
				continue
			}
			count++
			sum += m.v
			least, most = min(least, math.Abs(d)), max(most, math.Abs(d))
			for k := range w {
				w[k] += own[k]
			}
		}
		if count == 0 {
			continue
		}
		for k := range w {
			w[k] /= float64(count)
		}
		q.weights = q.weights[:start+n]
		o := estimate.Observation{Series: series.counts, SeriesOhm: series.ohm, N: count, Div: sum / float64(count), ZeroWeights: w}
		if shunt != nil {
			o.Shunted, o.ShuntOhm, o.Shunt = true, shunt.ohm, shunt.counts
		}
		in.Observations = append(in.Observations, o)
	}
	return !(most-least > step*(1+1e-9))
}
