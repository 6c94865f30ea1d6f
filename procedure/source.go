package procedure

import (
	"math"
	"slices"
	"time"

	"example.org/halve/physics/uncertainty"
)

// What is assumed of a source that is measured more than once (common practice,
// no source).
const (
	runsDown  = 0.2 // share of its EMF that a cell loses during a practical at the most
	mostCells = 4.0 // times the EMF from which a source told anew is likelier a slip put right than another source
)

// sourceFrom is the source as an event measured it, or as the bench states it.
type sourceFrom struct {
	seq    int // of the measurement, 0 of the bench
	at     time.Time
	emf, u float64 // V
}

// account is what became of the source, by its measurements.
type account struct {
	how     became
	sources []sourceFrom // one at least
}

// became is how the source came from one measured EMF to the next.
type became int

const (
	steady    became = iota // it did not: their mean
	exchanged               // another one was put in when it was measured
	drifted                 // it changed evenly in the time between
)

// weighSource settles EMF and internal resistance: the voltmeter's readings if
// there are any, else the bench's own. What became of a source that was measured
// more than once is the likeliest account for now: weighFit asks the readings.
// Worst cases reckon with the strongest, stated or measured, since nobody need
// have said that it was taken away, and the last may be a slip.
func (ev *evidence) weighSource(s *State) {
	src, stated := s.bench.Source, s.stated()
	ev.r, ev.uR = defaultSourceOhm, defaultSourceOhm
	if src.Resistance != nil {
		ev.r, ev.uR = *src.Resistance, *src.Resistance/2
	}
	if src.UResistance != nil {
		ev.uR = *src.UResistance
	}
	loaded := false
	for _, m := range slices.Backward(s.sources) {
		if !s.on(m.seq) {
			continue
		}
		if ev.measured == nil {
			loaded = m.read.Loaded
		}
		if m.read.Loaded == loaded { // the latest way of measuring counts
			emf, u := m.volts()
			ev.measured = append(ev.measured, sourceFrom{m.seq, m.at, emf, u})
		}
	}
	slices.Reverse(ev.measured)
	if loaded {
		ev.r, ev.uR = 0, 0
	}
	ev.emfHigh = stated.emf + 3*stated.u
	if len(ev.measured) > 0 && SameEMF(stated.emf, stated.u, ev.measured[0].emf, ev.measured[0].u) {
		ev.emfHigh = 0 // what was measured is surer
	}
	for _, m := range ev.measured {
		ev.emfHigh = max(ev.emfHigh, m.emf+3*m.u)
	}
	ev.take(ev.accounts(stated)[0])
}

// volts is the EMF that was measured and its standard uncertainty, V.
func (m sourceAt) volts() (emf, u float64) {
	if m.read.UEMF != nil {
		return m.read.EMF, *m.read.UEMF
	}
	return m.read.EMF, defaultVoltmeterDoubt * m.read.EMF
}

// SameEMF reports whether two measured EMFs, V, agree within three times the
// standard uncertainty of their difference: of one source, or of two alike.
func SameEMF(a, ua, b, ub float64) bool { return math.Abs(a-b) <= 3*math.Hypot(ua, ub) }

// accounts lists what may have become of the source. The first is taken where
// the readings do not tell; the stated EMF counts beside measured ones only
// where they do.
func (ev *evidence) accounts(stated sourceFrom) []account {
	ms := ev.measured
	if len(ms) == 0 {
		return []account{{steady, []sourceFrom{stated}}}
	}
	least, most, falls := ms[0], ms[0], true
	for i, m := range ms {
		if m.emf < least.emf {
			least = m
		}
		if m.emf > most.emf {
			most = m
		}
		falls = falls && (i == 0 || m.emf <= ms[i-1].emf)
	}
	var out []account
	last := ms[len(ms)-1:]
	switch {
	case least.emf == most.emf:
		out = []account{{steady, ms}}
	case SameEMF(least.emf, least.u, most.emf, most.u):
		out = []account{{steady, ms}, {drifted, ms}, {exchanged, ms}}
	case falls && least.emf >= (1-runsDown)*most.emf:
		out = []account{{drifted, ms}, {exchanged, ms}, {steady, last}}
	default:
		out = []account{{exchanged, ms}, {drifted, ms}, {steady, last}} // the last: the others were slips
	}
	if !SameEMF(stated.emf, stated.u, ms[0].emf, ms[0].u) {
		out = append(out, account{exchanged, slices.Concat([]sourceFrom{stated}, ms)})
	}
	return out
}

// take reckons with an account of the source: EMF and uncertainty are those of
// the source that is in circuit now.
func (ev *evidence) take(a account) {
	ev.source = a
	last := a.sources[len(a.sources)-1]
	ev.emf, ev.uEMF = last.emf, last.u
	if a.how != steady {
		return
	}
	low, high, sum, doubt := math.Inf(1), 0.0, 0.0, 0.0
	for _, m := range a.sources {
		low, high, sum, doubt = min(low, m.emf), max(high, m.emf), sum+m.emf, doubt+m.u
	}
	n := float64(len(a.sources))
	// The voltmeter's error is common to its readings; a difference between
	// them is the cell's own change.
	ev.emf, ev.uEMF = sum/n, math.Hypot(doubt/n, (high-low)/uncertainty.Resolution)
}

// driveOf is the EMF at a reading relative to that of the source which is in
// circuit now: 1 unless the source has changed.
func (ev *evidence) driveOf(rd reading) float64 {
	if ev.source.how == steady {
		return 1
	}
	sources, at := ev.source.sources, 0 // what was read before any measurement was read with the source that was measured first
	for i, src := range sources {
		if src.seq < rd.seq {
			at = i
		}
	}
	emf := sources[at].emf
	if ev.source.how == drifted && at+1 < len(sources) && sources[at].seq < rd.seq {
		next := sources[at+1]
		if span := next.at.Sub(sources[at].at); span > 0 {
			emf += (next.emf - emf) * min(1, max(0, float64(rd.at.Sub(sources[at].at))/float64(span)))
		}
	}
	return emf / ev.emf
}

// stated is the source as the bench states it.
func (s *State) stated() sourceFrom {
	src := s.bench.Source
	if src.UEMF != nil {
		return sourceFrom{emf: src.EMF, u: *src.UEMF}
	}
	return sourceFrom{emf: src.EMF, u: defaultEMFDoubt * src.EMF}
}

// told is the source as it was told before an event: measured, else stated.
func (s *State) told(before int) sourceFrom {
	for _, m := range slices.Backward(s.sources) {
		if m.seq < before && s.on(m.seq) {
			emf, u := m.volts()
			return sourceFrom{m.seq, m.at, emf, u}
		}
	}
	return s.stated()
}

// rise is between what factors the EMF may have risen since a reading, at the
// worst; high is infinite where the reading proves nothing of a needle driven
// by the source that is there now. What was told then and now may be of two
// sources, each off by three times its uncertainty. A bench stated anew is put
// right, or has another source: the worse of the two counts.
func (s *State) rise(rd reading) (low, high float64) {
	then, now := s.told(rd.seq), s.told(math.MaxInt)
	weak, strong := then.emf, then.emf
	if then.seq == 0 {
		weak, strong = min(weak, rd.emf), max(strong, rd.emf)
	}
	if then.seq == now.seq && weak == strong {
		return 1, 1
	}
	u := then.u / then.emf
	low = max(0, min(1, (now.emf-3*now.u)/(strong*(1+3*u))))
	switch {
	case now.emf <= weak && SameEMF(weak, u*weak, now.emf, now.u): // it ran down
		high = 1
	case 3*u >= 1, now.emf > mostCells*weak:
		high = math.Inf(1)
	default:
		high = max(1, (now.emf+3*now.u)/(weak*(1-3*u)))
	}
	return low, high
}
