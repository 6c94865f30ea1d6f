// Package procedure is the practical itself: the events that happen at the
// bench, the state they add up to, and the counsel that follows from it.
//
// A practical is a list of events; everything else is a pure function of it:
// Fold gives the state, Advise the counsel, Preview the counsel that would
// follow. Nothing here touches a screen, a file, a clock or a source of
// randomness.
package procedure

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"example.org/halve/physics/apparatus"
	"example.org/halve/procedure/diagnosis"
	"example.org/halve/safety"
)

// State is what the events so far add up to. The zero value is an empty
// table. A State is built by Apply and copied by Clone, never by assignment.
type State struct {
	ledger Ledger

	bench   *table // nil before the bench is stated; shared between copies, never changed
	benches int    // how often the bench was stated
	sources []sourceAt
	zeros   []zeroAt
	runs    []run       // one for each set-series, in order
	shunt   *shuntValue // what the shunt box stands at, nil before the first set-shunt
	kept    []keep
	claims  []claimAt
	cache   *evidence            // what Advise has worked out for these readings; nil when they changed
	found   *[]diagnosis.Finding // the same for what they point to
}

// table is the bench with its boxes prepared.
type table struct {
	apparatus.Bench
	series, shunt *apparatus.Range
}

type sourceAt struct {
	seq  int
	at   time.Time
	read SourceMeasured
}

type zeroAt struct {
	seq int
	at  time.Time
	div float64
}

// run is one setting of the series box and all that was read at it.
type run struct {
	seq      int
	setting  apparatus.Setting
	first    []reading
	branches []branch
}

// branch is one setting of the shunt box within a run.
type branch struct {
	value    shuntValue
	readings []reading
}

type shuntValue struct {
	seq     int
	setting apparatus.Setting
}

type reading struct {
	seq  int
	at   time.Time
	div  float64 // as seen on the scale
	off  bool    // beyond the end: div is of no use
	back bool    // off the scale at its left end
	emf  float64 // of the source as the bench stated it then, V
}

// keep is a kept row: the place of its readings, and the event that kept it.
type keep struct {
	seq, row    int
	run, branch int
}

type claimAt struct {
	seq  int
	said Claim
}

// Fold builds the state from events in order. It stops at the first event
// that cannot be taken and says which and why.
func Fold(events []Event) (*State, error) {
	s := new(State)
	for _, e := range events {
		if err := s.Apply(e); err != nil {
			return s, fmt.Errorf("event %d: %w", e.Seq, err)
		}
	}
	return s, nil
}

// Seq returns the number of the last accepted event, 0 before any.
func (s *State) Seq() int { return s.ledger.Seq() }

// Clone returns an independent copy, for previews.
func (s *State) Clone() *State {
	c := *s
	c.ledger = s.ledger.Clone()
	c.sources = slices.Clone(s.sources)
	c.zeros = slices.Clone(s.zeros)
	c.kept = slices.Clone(s.kept)
	c.claims = slices.Clone(s.claims)
	// Only the last run and its last branch can grow, so the earlier ones are
	// shared.
	c.runs = slices.Clone(s.runs)
	if n := len(c.runs); n > 0 {
		r := &c.runs[n-1]
		r.first = slices.Clone(r.first)
		r.branches = slices.Clone(r.branches)
		if m := len(r.branches); m > 0 {
			r.branches[m-1].readings = slices.Clone(r.branches[m-1].readings)
		}
	}
	return &c
}

// on reports whether event n is in force, that is not struck out.
func (s *State) on(n int) bool { return s.ledger.Stands(n) }

// anyOn reports whether one of the events is in force.
func (s *State) anyOn(ns []int) bool { return slices.ContainsFunc(ns, s.on) }

// Bench returns the instruments on the table; ok is false before they are
// stated.
func (s *State) Bench() (b apparatus.Bench, ok bool) {
	if s.bench == nil {
		return b, false
	}
	return s.bench.Bench, true
}

// Finished reports whether a finish event is in force.
func (s *State) Finished() bool { return s.ledger.Finished() }

// Wired reports whether the circuit was checked.
func (s *State) Wired() bool { return s.ledger.Wired() }

// Struck returns the number of the strike that is in force on event n, 0 if
// the event stands or does not exist.
func (s *State) Struck(n int) int { return s.ledger.Struck(n) }

// SeriesOhm returns what the series box stands at, as far as it is known.
func (s *State) SeriesOhm() (ohm float64, ok bool) {
	if r := s.current(); r != nil {
		return r.setting.Ohm, true
	}
	return 0, false
}

// ShuntOhm returns what the shunt box stands at, as far as it is known.
func (s *State) ShuntOhm() (ohm float64, ok bool) {
	if s.shunt != nil && s.on(s.shunt.seq) {
		return s.shunt.setting.Ohm, true
	}
	return 0, false
}

// SourceSince reports whether the source was measured since event n.
func (s *State) SourceSince(n int) bool {
	return slices.ContainsFunc(s.sources, func(m sourceAt) bool { return m.seq > n && s.on(m.seq) })
}

// LastKept returns the number of the keep-row event of the last row in force,
// 0 if there is none.
func (s *State) LastKept() int {
	for i := len(s.kept) - 1; i >= 0; i-- {
		if s.rowOn(s.kept[i]) {
			return s.kept[i].seq
		}
	}
	return 0
}

// current returns the run of the series box's present setting, nil where the
// setting is not known.
func (s *State) current() *run {
	if n := len(s.runs); n > 0 && s.on(s.runs[n-1].seq) {
		return &s.runs[n-1]
	}
	return nil
}

// branch returns the branch being worked at in the current run: the last one,
// if the shunt box still stands at its value.
func (s *State) branch() *branch {
	r := s.current()
	if r == nil || s.shunt == nil || !s.on(s.shunt.seq) || len(r.branches) == 0 {
		return nil
	}
	if b := &r.branches[len(r.branches)-1]; b.value.seq == s.shunt.seq {
		return b
	}
	return nil
}

// alive returns the readings in force that lie on the scale; it is not to be
// changed.
func (s *State) alive(rs []reading) []reading {
	if !slices.ContainsFunc(rs, func(r reading) bool { return r.off || !s.on(r.seq) }) {
		return slices.Clip(rs)
	}
	var out []reading
	for _, r := range rs {
		if !r.off && s.on(r.seq) {
			out = append(out, r)
		}
	}
	return out
}

// stoodAt returns the readings on the scale that stood when event n was taken.
func (s *State) stoodAt(n int, rs []reading) []reading {
	var out []reading
	for _, r := range rs {
		if !r.off && r.seq < n && (s.on(r.seq) || s.ledger.struck[r.seq] > n) {
			out = append(out, r)
		}
	}
	return out
}

// anyAlive is len(alive(rs)) > 0 without the copy.
func (s *State) anyAlive(rs []reading) bool {
	return slices.ContainsFunc(rs, func(r reading) bool { return !r.off && s.on(r.seq) })
}

// lastOff reports whether the latest reading in force is off the scale.
func (s *State) lastOff(rs []reading) bool {
	for i := len(rs) - 1; i >= 0; i-- {
		if s.on(rs[i].seq) {
			return rs[i].off
		}
	}
	return false
}

// rowOn reports whether a kept row is in force: its keep-row, the settings it
// was taken at, and every reading that stood when it was kept.
func (s *State) rowOn(k keep) bool {
	r := &s.runs[k.run]
	b := &r.branches[k.branch]
	if !s.on(k.seq) || !s.on(r.seq) || !s.on(b.value.seq) {
		return false
	}
	spoilt := func(rd reading) bool { return rd.seq < k.seq && s.ledger.struck[rd.seq] > k.seq }
	return !slices.ContainsFunc(r.first, spoilt) && !slices.ContainsFunc(b.readings, spoilt) &&
		s.anyAlive(r.first) && s.anyAlive(b.readings)
}

// keptAt returns the kept row in force at the given run and branch, nil if
// there is none.
func (s *State) keptAt(run, branch int) *keep {
	for i := len(s.kept) - 1; i >= 0 && s.kept[i].run >= run; i-- { // rows are kept run by run
		if k := &s.kept[i]; k.run == run && k.branch == branch && s.rowOn(*k) {
			return k
		}
	}
	return nil
}

// Apply takes one more event. If it cannot be taken, the state is unchanged
// and the error says, in one line, what is wrong and what is expected. The
// event's Seq must be Seq()+1.
func (s *State) Apply(e Event) error {
	var err error
	if e.Body, err = s.ledger.Follows(e); err != nil {
		return err
	}
	if err := s.mayFollow(e.Body); err != nil {
		return err
	}
	return s.take(e)
}

// mayFollow reports why an event of this kind has no place now.
func (s *State) mayFollow(b Body) error {
	switch b.(type) {
	case Bench, SeriesSet, FirstRead, ShuntSet, ShuntedRead, RowKept, Wired, Finish:
		if s.Finished() {
			return fmt.Errorf("the practical is finished: only strike, note, claim, who, zero and source are taken (strike the finish to go on)")
		}
	}
	switch b.(type) {
	case Bench, Who, Note, Strike, Finish:
	default:
		if s.bench == nil {
			return errors.New("the bench is not stated yet: begin with it")
		}
	}
	switch b.(type) {
	case FirstRead, ShuntedRead:
		if !s.Wired() {
			return fmt.Errorf("no reading before the circuit is checked: say first that it is wired")
		}
		if s.current() == nil {
			return fmt.Errorf("no reading before the series box is set: set it first")
		}
	}
	return nil
}

// take records an event that may follow; what depends on values is judged
// here, and nothing is changed before all is judged.
func (s *State) take(e Event) error {
	switch b := e.Body.(type) {
	case Bench:
		if err := s.takeBench(b); err != nil {
			return err
		}
	case SourceMeasured:
		if _, err := safety.SourceRange(b.EMF); err != nil {
			return err
		}
		s.sources = append(s.sources, sourceAt{e.Seq, e.At, b})
	case ZeroRead:
		if err := s.onScale(b.Div); err != nil {
			return err
		}
		s.zeros = append(s.zeros, zeroAt{e.Seq, e.At, b.Div})
	case SeriesSet:
		set, err := choose("series", s.bench.series, b.Ohm, b.TakeOut)
		if err != nil {
			return err
		}
		s.runs = append(s.runs, run{seq: e.Seq, setting: set})
	case ShuntSet:
		set, err := choose("shunt", s.bench.shunt, b.Ohm, b.TakeOut)
		if err != nil {
			return err
		}
		s.shunt = &shuntValue{e.Seq, set}
		if r := s.current(); r != nil {
			r.branches = append(r.branches, branch{value: *s.shunt})
		}
	case FirstRead:
		rd, err := s.readingOf(e, b.Div, b.OffScale)
		if err != nil {
			return err
		}
		r := s.current()
		r.first = append(r.first, rd)
	case ShuntedRead:
		if err := s.takeShunted(e, b); err != nil {
			return err
		}
	case RowKept:
		if err := s.takeKeep(e.Seq); err != nil {
			return err
		}
	case Claim:
		if b.Row > len(s.kept) {
			return fmt.Errorf("claim: there is no row %d; row 0 is the mean", b.Row)
		}
		s.claims = append(s.claims, claimAt{e.Seq, b})
	case Strike:
		if err := s.ledger.MayStrike(b.Event); err != nil {
			return err
		}
	case Wired, Finish, Note, Who:
		// kept in the record; they change nothing here
	default:
		return fmt.Errorf("%s is no event of this practical", b.Kind())
	}
	s.enter(e)
	return nil
}

// enter gives the event its place, and forgets what was worked out of readings
// that it changed.
func (s *State) enter(e Event) {
	s.ledger.Enter(e)
	switch e.Body.(type) {
	case Note: // it may say why the needle changed sides
		s.found = nil
	case SeriesSet, ShuntSet, Wired, Claim, Who, Finish: // nothing that was read has changed
	default:
		s.cache, s.found = nil, nil
	}
}

// maxBenches bounds the work of a hostile record: preparing a bench may take
// milliseconds.
const maxBenches = 50

func (s *State) takeBench(b Bench) error {
	if _, err := safety.SourceRange(b.Source.EMF); err != nil {
		return fmt.Errorf("source: %w", err)
	}
	if s.benches == maxBenches {
		return fmt.Errorf("the bench has been corrected %d times already: begin a new record", maxBenches)
	}
	t := &table{Bench: b.Bench}
	var err error
	if t.series, err = apparatus.NewRange(b.SeriesBox); err != nil {
		return fmt.Errorf("series_box: %w", err)
	}
	if t.shunt, err = apparatus.NewRange(b.ShuntBox); err != nil {
		return fmt.Errorf("shunt_box: %w", err)
	}
	if s.bench != nil && s.anyReading() {
		if !sameCoils(s.bench.SeriesBox, b.SeriesBox) || !sameCoils(s.bench.ShuntBox, b.ShuntBox) {
			return fmt.Errorf("after a reading the boxes' coils can no longer change: begin a new record for other boxes")
		}
		if b.Galvanometer.Divisions < s.greatest() {
			return fmt.Errorf("a reading of %g divisions is recorded: the scale cannot end at %g", s.greatest(), b.Galvanometer.Divisions)
		}
		if b.Galvanometer.Centre() != s.bench.Galvanometer.Centre() {
			return fmt.Errorf("after a reading the place of the scale's zero can no longer change: begin a new record")
		}
	}
	s.bench, s.benches = t, s.benches+1
	return nil
}

func sameCoils(a, b apparatus.Box) bool {
	return a.Kind == b.Kind && slices.Equal(a.Coils, b.Coils) && slices.Equal(a.Dials, b.Dials)
}

// anyReading reports whether any setting or reading stands in the record,
// struck or not.
func (s *State) anyReading() bool {
	return len(s.runs) > 0 || s.shunt != nil || len(s.zeros) > 0
}

// greatest returns the largest deflection recorded, as a distance.
func (s *State) greatest() float64 {
	m := 0.0
	each := func(rs []reading) {
		for _, r := range rs {
			if !r.off {
				m = max(m, math.Abs(r.div))
			}
		}
	}
	for _, r := range s.runs {
		each(r.first)
		for _, b := range r.branches {
			each(b.readings)
		}
	}
	for _, z := range s.zeros {
		m = max(m, math.Abs(z.div))
	}
	return m
}

// onScale refuses a reading that the scale does not have.
func (s *State) onScale(div float64) error {
	g := s.bench.Galvanometer
	if math.Abs(div) > g.Divisions {
		return fmt.Errorf("the scale ends at %g divisions: %g is beyond it (a needle beyond the end is off scale)", g.Divisions, div)
	}
	return nil
}

func (s *State) readingOf(e Event, div *float64, off bool) (reading, error) {
	rd := reading{seq: e.Seq, at: e.At, off: off, back: off && div != nil && *div < 0, emf: s.bench.Source.EMF}
	if n := s.bench.Galvanometer.Divisions; off && div != nil && math.Abs(*div) < n {
		return rd, fmt.Errorf("off_scale is true and div, %g, lies on the scale, which ends at %g: give one or the other", *div, n)
	}
	if off || div == nil {
		return rd, nil
	}
	rd.div = *div
	return rd, s.onScale(*div)
}

func (s *State) takeShunted(e Event, b ShuntedRead) error {
	r := s.current()
	if s.shunt == nil || !s.on(s.shunt.seq) {
		return fmt.Errorf("no shunted reading before the shunt box is set: set it first")
	}
	if !s.anyAlive(r.first) {
		return fmt.Errorf("no shunted reading before a first deflection on the scale at this series value: read that first")
	}
	rd, err := s.readingOf(e, b.Div, b.OffScale)
	if err != nil {
		return err
	}
	// The shunt box may still stand at its value from an earlier run.
	if n := len(r.branches); n == 0 || r.branches[n-1].value.seq != s.shunt.seq {
		r.branches = append(r.branches, branch{value: *s.shunt})
	}
	last := &r.branches[len(r.branches)-1]
	last.readings = append(last.readings, rd)
	return nil
}

func (s *State) takeKeep(seq int) error {
	r := s.current()
	if r == nil || !s.anyAlive(r.first) {
		return fmt.Errorf("there is no row to keep yet: it needs a first deflection and a shunted reading at the present settings")
	}
	b := s.branch()
	if b == nil || !s.anyAlive(b.readings) {
		return fmt.Errorf("there is no row to keep yet: it needs a shunted reading at the present shunt value")
	}
	at, in := len(s.runs)-1, len(r.branches)-1
	if k := s.keptAt(at, in); k != nil {
		return fmt.Errorf("these readings are row %d already: change the series or the shunt box for another row", k.row)
	}
	s.kept = append(s.kept, keep{seq: seq, row: len(s.kept) + 1, run: at, branch: in})
	return nil
}

// choose turns a value, and the plugs if they are listed, into a setting of
// the box, or says what the box can make.
func choose(which string, r *apparatus.Range, ohm float64, out []float64) (apparatus.Setting, error) {
	if out != nil {
		if r.Box().Kind != apparatus.Plug {
			return apparatus.Setting{}, fmt.Errorf("the %s box has dials: take_out_ohm is for a plug box", which)
		}
		set, err := r.Sum(out)
		if err != nil {
			return set, fmt.Errorf("%s box: %w", which, err)
		}
		if math.Abs(set.Ohm-ohm) > 1e-6*max(ohm, 1) {
			return set, fmt.Errorf("these plugs of the %s box make %s, not %s", which, ohms(set.Ohm), ohms(ohm))
		}
		return set, nil
	}
	if set, ok := r.Exact(ohm); ok {
		return set, nil
	}
	lo, okLo := r.Floor(ohm)
	hi, okHi := r.Ceil(ohm)
	switch {
	case okLo && okHi:
		return apparatus.Setting{}, fmt.Errorf("the %s box cannot make %s: the nearest are %s and %s", which, ohms(ohm), ohms(lo.Ohm), ohms(hi.Ohm))
	default:
		return apparatus.Setting{}, fmt.Errorf("the %s box cannot make %s: it goes up to %s", which, ohms(ohm), ohms(r.Max()))
	}
}
