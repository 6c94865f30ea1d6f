package procedure

import (
	"cmp"
	"math"
	"slices"

	"example.org/halve/physics/estimate"
)

// apart is how far readings at one setting may lie from one another and still
// be of one deflection, in steps of the scale; sure is how many standard
// uncertainties a reading may lie beside the one foreseen (common practice, no
// source).
const apart, sure = 3, 4

// doubtful is the probability of so large a chi-squared below which the
// readings are looked through for one that does not fit (common practice, no
// source); where none is found, nothing comes of it.
const doubtful = 1e-3

// view is how the readings at one setting agree, with one another and with
// those at other settings.
type view struct {
	agreed []reading              // those that agree with one another
	seen   []estimate.Observation // the same as the fit takes them
	odd    []reading              // the others
	torn   bool                   // nothing tells which are right: one more reading has to
	lone   bool                   // the only reading here, and no other setting foretells it
}

// place names a setting of the record: a run, and a branch of it or -1 for the
// first deflection.
type place struct{ run, branch int }

// sight is a setting with the readings at which the needle moved.
type sight struct {
	place
	rs []reading
}

// sights lists the settings at which something was seen, in order.
func (ev *evidence) sights(s *State) []sight {
	var out []sight
	for i := range s.runs {
		r := &s.runs[i]
		if !s.on(r.seq) {
			continue
		}
		rs := ev.moved(s, r.first)
		if len(rs) == 0 {
			continue
		}
		out = append(out, sight{place{i, -1}, rs})
		for j, b := range r.branches {
			if rs := s.alive(b.readings); s.on(b.value.seq) && len(rs) > 0 {
				out = append(out, sight{place{i, j}, rs})
			}
		}
	}
	return out
}

// observations appends to out the readings of a setting as the fit takes them:
// those on one side of zero, with one source, together.
func (ev *evidence) observations(out []estimate.Observation, s *State, at place, rs []reading) []estimate.Observation {
	r := &s.runs[at.run]
	for len(rs) > 0 {
		left, drive := ev.deflection(rs[0]) < -ev.still(), ev.driveOf(rs[0])
		like, others := parted(rs, func(rd reading) bool {
			return ev.deflection(rd) < -ev.still() == left && ev.driveOf(rd) == drive
		})
		o := ev.observation(s, r.setting, like)
		if at.branch >= 0 {
			set := r.branches[at.branch].value.setting
			o.Shunted, o.ShuntOhm, o.Shunt = true, set.Ohm, s.bench.shunt.Multiset(set)
		}
		out, rs = append(out, o), others
	}
	return out
}

// parted returns the readings of which is holds, and the others.
func parted(rs []reading, is func(reading) bool) (like, others []reading) {
	if !slices.ContainsFunc(rs, func(rd reading) bool { return !is(rd) }) {
		return rs, nil
	}
	for _, rd := range rs {
		if is(rd) {
			like = append(like, rd)
		} else {
			others = append(others, rd)
		}
	}
	return like, others
}

// groups parts the readings of a setting into the largest lot that agrees, by
// their distance from zero with the present source, and the rest; in several
// ways where several lots are as large.
func (ev *evidence) groups(rs []reading) []view {
	if len(rs) == 1 {
		return []view{{agreed: rs}}
	}
	rs = slices.SortedStableFunc(slices.Values(rs), func(a, b reading) int { return cmp.Compare(ev.far(b), ev.far(a)) })
	var out []view
	for i, j := 0, 0; j < len(rs); i++ {
		for j < len(rs) && ev.far(rs[i])-ev.far(rs[j]) <= apart*ev.step*(1+1e-9) {
			j++
		}
		switch {
		case len(out) > 0 && j-i < len(out[0].agreed):
			continue
		case len(out) > 0 && j-i > len(out[0].agreed):
			out = out[:0]
		}
		out = append(out, view{agreed: rs[i:j], odd: slices.Concat(rs[:i], rs[j:])})
	}
	return out
}

// epoch is a part of the record whose readings fit one another: one reading
// was a slip, or the bench has changed, where a record has several.
type epoch struct {
	readings []reading
	own      int // how many of them belong to no other epoch
	in       estimate.Input
	fit      *estimate.Fit // nil where the readings give none
	stale    bool          // readings have joined since the fit
}

// enoughFitted is the number of readings whose fit is good enough to tell
// whether another one fits: it is made anew only where that is denied.
const enoughFitted = 4

// weighAgreement finds which readings agree. What it finds serves to plan the
// next setting and to foresee a reading; the result rests on all readings in
// force. Where all agree it costs nothing.
func (ev *evidence) weighAgreement(s *State, sights []sight, seen [][]estimate.Observation) {
	ev.plan, ev.planShunted = ev.fit, ev.fit != nil && ev.shunted
	ways := make([][]view, len(sights))
	whole := ev.fit != nil && ev.fit.Probability >= doubtful
	for i, x := range sights {
		ways[i] = ev.groups(x.rs)
		whole = whole && len(ways[i]) == 1 && len(ways[i][0].odd) == 0
	}
	if whole || len(sights) == 0 {
		return
	}
	for i, x := range sights {
		if len(x.rs) == 1 {
			ways[i][0].seen = seen[i]
			continue
		}
		for j := range ways[i] {
			ways[i][j].seen = ev.observations(nil, s, x.place, ways[i][j].agreed)
		}
	}
	ev.plan, ev.planShunted = nil, false
	if epochs := ev.epochs(sights, ways); len(epochs) > 0 {
		ev.believe(sights, epochs)
	}
}

// epochs parts the record into what fits one another, in order of the last
// setting of each, and keeps how the readings at every setting agree.
func (ev *evidence) epochs(sights []sight, ways [][]view) []*epoch {
	ev.views = make(map[place]view, len(sights))
	var out []*epoch
	for i, x := range sights {
		v, e := ev.foretold(ways[i], out)
		switch {
		case v.torn:
			ev.views[x.place] = v
			continue
		case e != nil:
			at := slices.Index(out, e)
			out = slices.Delete(out, at, at+1)
		default:
			v.lone = len(out) > 0 && len(v.agreed) == 1
			e = ev.begin(x.place)
			if len(out) == 0 { // most records are of one epoch
				e.in.Observations, e.readings = slices.Grow(e.in.Observations, len(sights)), slices.Grow(e.readings, len(sights))
			}
		}
		ev.views[x.place] = v
		ev.join(e, v)
		e.own += len(v.agreed)
		out = append(out, e)
	}
	return out
}

// begin is an epoch without readings of its own. A shunted reading means
// nothing without its first deflection, which is lent to it.
func (ev *evidence) begin(at place) *epoch {
	e := &epoch{in: ev.in}
	e.in.Observations = nil
	if at.branch >= 0 {
		if first := ev.views[place{at.run, -1}]; !first.torn {
			ev.join(e, first)
		}
	}
	return e
}

// believe settles what to plan with: the latest epoch of more than one reading,
// for a single one does not unsettle what is known, else the first; and what
// else of the record fits it.
func (ev *evidence) believe(sights []sight, epochs []*epoch) {
	best := epochs[0]
	for _, e := range epochs {
		if e.own > 1 {
			best = e
		}
	}
	for _, x := range sights {
		if v := ev.views[x.place]; !v.torn && !best.holds(v.agreed[0].seq) && ev.foretells(best, v.seen) {
			ev.join(best, v)
		}
	}
	best.refit()
	ev.plan, ev.believed = best.fit, best
	ev.planShunted = best.fit != nil && best.in.PriorG == 0
}

// foretold finds the epoch that foretells one of the ways to see a setting, and
// no other way, the one met last before the others; nil where none does. The
// view is torn where several ways are left.
func (ev *evidence) foretold(ways []view, epochs []*epoch) (view, *epoch) {
	for _, e := range slices.Backward(epochs) {
		fit := ev.fitting(ways, e)
		if len(fit) == 0 && e.refit() {
			fit = ev.fitting(ways, e)
		}
		if len(fit) == 1 {
			return fit[0], e
		}
	}
	v := ways[0]
	v.torn = len(ways) > 1
	return v, nil
}

// fitting lists the ways to see a setting that an epoch foretells.
func (ev *evidence) fitting(ways []view, e *epoch) []view {
	var out []view
	for _, v := range ways {
		if ev.foretells(e, v.seen) {
			out = append(out, v)
		}
	}
	return out
}

// foretells reports whether an epoch lets expect what was seen, by its distance
// from zero.
func (ev *evidence) foretells(e *epoch, seen []estimate.Observation) bool {
	if e.fit == nil {
		return false
	}
	for _, o := range seen {
		div, u, err := e.fit.Predict(o, o.Div < ev.restAt(o))
		if err != nil || math.Abs(div-o.Div) > max(apart*ev.step, sure*u) {
			return false
		}
	}
	return true
}

// restAt is where the needle rested at an observation.
func (ev *evidence) restAt(o estimate.Observation) float64 {
	z := 0.0
	for i, w := range o.ZeroWeights {
		z += w * ev.in.Zeros[i]
	}
	return z
}

// join adds the readings of a setting that agree to an epoch.
func (ev *evidence) join(e *epoch, v view) {
	e.in.Observations = append(e.in.Observations, v.seen...)
	e.readings = append(e.readings, v.agreed...)
	shunted := func(o estimate.Observation) bool { return o.Shunted }
	first := func(o estimate.Observation) bool { return !o.Shunted }
	e.in.PriorG, e.in.UPriorG = ev.plateG, ev.uPlateG
	if slices.ContainsFunc(e.in.Observations, shunted) && slices.ContainsFunc(e.in.Observations, first) {
		e.in.PriorG, e.in.UPriorG = 0, 0
	}
	if e.stale = true; len(e.in.Observations) <= enoughFitted {
		e.refit()
	}
}

// refit fits an epoch anew if readings have joined since; it reports whether it
// had to.
func (e *epoch) refit() bool {
	if !e.stale {
		return false
	}
	e.fit, _ = estimate.Joint(e.in)
	e.stale = false
	return true
}

// holds reports whether a reading belongs to an epoch.
func (e *epoch) holds(seq int) bool {
	return slices.ContainsFunc(e.readings, func(rd reading) bool { return rd.seq == seq })
}

// believes reports whether a reading is among those that agree.
func (ev *evidence) believes(seq int) bool {
	return ev.views == nil || ev.believed != nil && ev.believed.holds(seq)
}

// mostSlips is the number of readings that do not fit the others up to which
// each looks like a slip; more are a change of the bench (common practice, no
// source).
const mostSlips = 2

// misfits lists the readings that look like slips: each the only one of its
// kind, and not among those that agree.
func (ev *evidence) misfits() []reading {
	var out []reading
	for _, v := range ev.views {
		switch {
		case v.torn:
		case len(v.agreed) == 1 && !ev.believes(v.agreed[0].seq):
			out = append(out, v.agreed[0])
		case len(v.odd) == 1:
			out = append(out, v.odd[0])
		}
	}
	if len(out) > mostSlips {
		return nil
	}
	slices.SortFunc(out, func(a, b reading) int { return cmp.Compare(a.seq, b.seq) })
	return out
}

// view is how the readings in force at a setting agree.
func (ev *evidence) view(s *State, at place) view {
	if v, ok := ev.views[at]; ok {
		return v
	}
	r := &s.runs[at.run]
	if at.branch >= 0 {
		return view{agreed: s.alive(r.branches[at.branch].readings)}
	}
	return view{agreed: s.alive(r.first)}
}
