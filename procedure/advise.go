package procedure

import (
	"fmt"
	"math"
	"slices"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/fault"
	"example.org/halve/safety"
)

// RowsWanted is the number of rows after which a practical is complete.
const RowsWanted = 5

// Advise says what the state calls for: the step, the next thing to do, the
// clearance, the reading to expect, the rows and the result so far, and what
// the readings say is wrong.
func Advise(s *State) Counsel {
	c := advise(s)
	if s.bench != nil {
		planner{s: s, ev: s.evidence(), c: &c}.weighFaults()
	}
	return c
}

// weighFaults puts what the readings point to into the counsel. Where they
// disagree among themselves, that is settled before any other test.
func (p planner) weighFaults() {
	step, next := p.c.Step, p.c.Next
	p.diagnose()
	if !p.c.settling {
		return
	}
	p.c.Step, p.c.Next = step, next
	if f := p.c.Findings; len(f) > 0 && f[0].Probability > follows && f[0].ID != string(fault.ReadingOdd) { // that is said already
		next.Do = f[0].Say + " " + next.Do
	}
}

// advise is Advise without the diagnosis, which takes some milliseconds.
func advise(s *State) Counsel {
	c := Counsel{Seq: s.Seq(), Findings: []Finding{}, Claims: []ClaimCheck{}, Rows: []Row{}}
	if s.bench == nil {
		c.Step = StepBench
		if s.Finished() {
			c.Step = StepResult
		} else {
			c.Next = &Next{Event: KindBench, Do: "State the instruments on the table: source, galvanometer, series box, shunt box."}
		}
		return c
	}
	ev := s.evidence()
	p := planner{s: s, ev: ev, c: &c}
	c.Rows = append(c.Rows, ev.rows...)
	c.Result = ev.result
	c.Claims = ev.claims(s)
	if s.Finished() {
		c.Step = StepResult
		return c
	}
	c.Clearance = p.standing()
	p.expect()
	p.next()
	c.Odd = p.odd()
	return c
}

// Preview is the counsel that would follow if body were accepted now. The
// state is unchanged; if the event cannot be taken, Refused says why and the
// rest is the counsel of now. It does not wait for a diagnosis: Foresee has
// that as well.
func Preview(s *State, body Body) Counsel {
	c := s.Clone()
	if err := c.Apply(Event{Seq: s.Seq() + 1, Body: body}); err != nil {
		why := err.Error()
		now := advise(s)
		now.Refused = &why
		return now
	}
	return advise(c)
}

// Foresee is Preview with what the readings would then say is wrong.
func Foresee(s *State, body Body) Counsel {
	c := s.Clone()
	if err := c.Apply(Event{Seq: s.Seq() + 1, Body: body}); err != nil {
		return Preview(s, body)
	}
	return Advise(c)
}

// planner works out one counsel.
type planner struct {
	s  *State
	ev *evidence
	c  *Counsel
}

// closing describes the bench as it would stand with the series box at set.
func (p planner) closing(set apparatus.Setting) safety.Closing {
	b := p.s.bench
	c := safety.Closing{
		Key: safety.K1, Wired: p.s.Wired(), Loop: p.ev.loop,
		SeriesOhm: set.Ohm, SeriesMax: b.series.Max(), SeriesCoils: set.Coils,
		SeriesRating: b.SeriesBox.CoilRating(), ShuntRating: b.ShuntBox.CoilRating(),
		LeftZero: !b.Galvanometer.Centre(), PolarityKnown: p.ev.polarityKnown, OffAt: p.ev.offAt, TapDown: p.ev.tapDown,
	}
	if b.Source.MaxCurrent != nil {
		c.SourceMax = *b.Source.MaxCurrent
	}
	return c
}

// standing is the clearance for the setting that stands: for K2 once the
// shunt box is set for the row in hand, else for K1.
func (p planner) standing() *safety.Clearance {
	r := p.s.current()
	if r == nil {
		return nil
	}
	c := p.closing(r.setting)
	if b := p.s.branch(); b != nil && p.row() == nil {
		c.Key, c.ShuntCoils = safety.K2, b.value.setting.Coils
		if first, ok := p.ev.mean(p.s, r.first); ok {
			shunted, seen := p.ev.mean(p.s, b.readings)
			c.Leapt = p.s.lastOff(b.readings) || seen && math.Abs(shunted) >= math.Abs(first)-p.ev.step/2
			greatest := 0.0 // where readings disagree the greatest may be the true one
			for _, rd := range p.s.alive(r.first) {
				greatest = max(greatest, math.Abs(p.ev.deflection(rd)))
			}
			c.First = &greatest
		}
		c.FirstOff = p.s.lastOff(r.first)
		if c.FirstOff {
			c.First = nil
		}
	}
	j := safety.Judge(c)
	return &j
}

// row returns the kept row at the present settings, nil if there is none.
func (p planner) row() *keep {
	r := p.s.current()
	if r == nil || len(r.branches) == 0 {
		return nil
	}
	return p.s.keptAt(len(p.s.runs)-1, len(r.branches)-1)
}

// expect foresees the reading at the present settings.
func (p planner) expect() {
	r := p.s.current()
	if r == nil {
		return
	}
	var shunt *apparatus.Setting
	if b := p.s.branch(); b != nil && p.row() == nil {
		shunt = &b.value.setting
	}
	e, ok := p.ev.foresee(p.s, r.setting, shunt)
	if ok && math.Abs(e.Div) <= 2*p.s.bench.Galvanometer.Divisions {
		p.c.Expect = &e
	}
}

// odd says in a line what is strange about the latest reading, "" if nothing
// is.
func (p planner) odd() string {
	r := p.s.current()
	if r == nil {
		return ""
	}
	first, okFirst := p.ev.mean(p.s, r.first)
	if b := p.s.branch(); b != nil && okFirst && p.s.anyAlive(b.readings) {
		shunted, _ := p.ev.mean(p.s, b.readings)
		ratio := shunted / first
		switch {
		case ratio >= 1-p.ev.step/math.Abs(first):
			return "closing K2 must make the needle fall: look whether the shunt box is joined across the galvanometer's terminals"
		case ratio < 0 && math.Abs(shunted) > p.ev.loop.Doubt:
			return "the shunted reading lies on the other side of zero from the first deflection"
		case math.Abs(shunted) <= p.ev.still():
			return "the shunt takes nearly everything: are its plugs in, or is the galvanometer bridged?"
		}
		return ""
	}
	if okFirst && math.Abs(first) <= p.ev.still() {
		return "the needle has hardly moved: is K1 making contact?"
	}
	return ""
}

// deflections worth working at, as shares of the scale: from two thirds to
// nine tenths.
const (
	leastShare = 2.0 / 3
	mostShare  = 0.9
	goodShare  = 0.8
	// poorShare is the least deflection that is still taken where the boxes
	// allow no better: below it the doubt in G more than doubles.
	poorShare = 1.0 / 3
)

// scale is the deflection that the scale has room for where the needle rests.
func (p planner) scale() float64 {
	return max(p.ev.loop.Room(), p.s.bench.Galvanometer.Divisions/4)
}

// usable reports whether a first deflection lies where it is worth having,
// its own resolution allowed for.
func (p planner) usable(div float64) bool {
	n := p.scale()
	return div >= leastShare*n-p.ev.step/2 && div <= mostShare*n+p.ev.step/2
}

// targets lists the deflections to aim at, best first: even marks, so that the
// half falls on a printed mark; on short scales every mark.
func (p planner) targets() []float64 {
	n := p.scale()
	mark := 2.0
	if n < 20 {
		mark = 1
	}
	if n < 8 {
		mark = n / 16
	}
	var out []float64
	for t := math.Ceil(leastShare*n/mark) * mark; t <= mostShare*n+1e-9; t += mark {
		out = append(out, t)
	}
	slices.SortStableFunc(out, func(a, b float64) int {
		da, db := math.Abs(a-goodShare*n), math.Abs(b-goodShare*n)
		switch {
		case da < db-1e-9 || math.Abs(da-db) <= 1e-9 && a > b:
			return -1
		case a == b:
			return 0
		}
		return 1
	})
	return out
}

// even reports whether the half of div falls on a mark of the scale.
func (p planner) even(div float64) bool {
	for _, t := range p.targets() {
		if math.Abs(div-t) < p.ev.step/2 {
			return true
		}
	}
	return false
}

// aim picks the target that the kept rows have used least.
func (p planner) aim() float64 {
	ts := p.targets()
	used := make([]int, len(ts))
	for _, r := range p.ev.rows {
		if r.Struck {
			continue
		}
		near := 0
		for i, t := range ts {
			if math.Abs(t-r.FirstDiv) < math.Abs(ts[near]-r.FirstDiv) {
				near = i
			}
		}
		used[near]++
	}
	best := 0
	for i := range ts {
		if used[i] < used[best] {
			best = i
		}
	}
	return ts[best]
}

// loopEstimate returns E/k and G as they are believed now; ok is false where
// nothing is known of E/k.
func (p planner) loopEstimate() (loop, g float64, ok bool) {
	if f := p.ev.plan; f != nil {
		return f.Loop, f.G, true
	}
	return p.ev.plateLoop, p.ev.plateG, p.ev.plateLoop > 0
}

// next decides the one thing to do now.
func (p planner) next() {
	switch r := p.s.current(); {
	case !p.s.Wired():
		p.say(StepWiring, Next{Event: KindWired, Do: "Build the circuit with both keys open: source, K1, series box and galvanometer in one loop; K2 and the shunt box across the galvanometer. Have it looked over before any key is closed." + p.question()})
	case len(p.ev.zeros) == 0:
		p.say(StepWiring, Next{Event: KindZero, Do: "Both keys open: tap the case lightly, look square-on and read where the needle rests."})
	case p.ev.loop.Zero > p.s.bench.Galvanometer.Divisions/4 && r == nil:
		p.say(StepWiring, Next{Event: KindZero, Do: "The needle rests too far from zero to leave room on the scale: keys open, set it to zero with the adjuster, and read where it rests now."})
	case r == nil:
		p.setSeries("")
	case p.row() != nil:
		p.afterRow()
	default:
		p.inRun(r)
	}
}

func (p planner) say(step Step, n Next) {
	p.c.Step, p.c.Next = step, &n
}

// settle is say for what decides between readings that disagree: no finding
// asks for another test before.
func (p planner) settle(step Step, n Next) {
	p.say(step, n)
	p.c.settling = true
}

// unfit says that the bench cannot do the practical, and what to change.
func (p planner) unfit(step Step, say, try string) {
	p.c.Step, p.c.Next = step, nil
	p.c.Findings = append(p.c.Findings, Finding{ID: "bench-unfit", Probability: 1, Say: say, Try: try})
}

// question is the doubt about the source, as a sentence to add.
func (p planner) question() string {
	if q, err := safety.SourceRange(p.ev.emf); err == nil && q != "" {
		return " " + q
	}
	return ""
}

// afterRow comes when the readings at the present settings are kept.
func (p planner) afterRow() {
	rows := 0
	for _, r := range p.ev.rows {
		if !r.Struck {
			rows++
		}
	}
	last := p.s.LastKept()
	switch {
	case rows < RowsWanted:
		p.setSeries("")
	case !slices.ContainsFunc(p.ev.zeros, func(z zeroAt) bool { return z.seq > last }):
		do := "Open both keys, K2 first, and read where the needle rests now."
		if !p.s.SourceSince(last) {
			do += " If there is a voltmeter, measure the source once more as well."
		}
		p.say(StepResult, Next{Event: KindZero, Do: do})
	default:
		do := fmt.Sprintf("%d rows are kept. Finish, and write it up; leave both keys open and the lead off the source.", rows)
		if more, ok := p.oneMore(); ok {
			do += " " + more
		}
		do += p.misfits()
		p.say(StepResult, Next{Event: KindFinish, Do: do})
	}
}

// misfits says which readings do not fit the others, "" if all do. It is said
// at the end of a row, when all that was tried is past.
func (p planner) misfits() string {
	out := ""
	for _, rd := range p.ev.misfits() {
		out += fmt.Sprintf(" The reading of %s (event %d) does not fit the others: if it was a slip, strike event %d.", divs(rd.div, p.ev.step), rd.seq, rd.seq)
	}
	return out
}

// setSeries proposes the next value of the series box; why begins what is said.
func (p planner) setSeries(why string) {
	b := p.s.bench
	bound := p.ev.loop.Bound()
	loop, g, known := p.loopEstimate()
	at := func(set apparatus.Setting) float64 { return loop / (set.Ohm + p.ev.r + g) }

	var set apparatus.Setting
	switch least, proven := bound.Least(p.ev.loop.Room()); {
	case p.ev.stillNeedle > 0:
		// K1 may have made no contact: the next value is tapped as well.
		set, _ = b.series.Ceil(p.ev.tapDown)
		checked := p.rereads() > 1 && p.ev.emfHigh/set.Ohm <= safety.GentleCurrent
		if p.stillRuns() > 1 && !checked || set.Ohm >= p.ev.stillNeedle*(1-1e-9) || p.judge(set).Verdict == safety.Stop {
			p.noCurrent()
			return
		}
		p.propose(set, nil, why+"The needle hardly moved: less resistance, and tapped again. ")
		return
	case !proven:
		set, _ = b.series.Floor(b.series.Max())
	default:
		least = p.leastAllowed(least)
		want := least
		if known {
			want = loop/p.aim() - p.ev.r - g
			if at, rd := p.holding(); rd != nil && want < least {
				why += p.slip(at, *rd)
			}
			want = max(least, want)
		}
		var ok bool
		if set, ok = p.easySeries(want, g, least); !ok || set.Ohm < least*(1-1e-12) {
			if set, ok = b.series.Ceil(want); !ok {
				set, _ = b.series.Floor(b.series.Max())
			}
		}
	}
	// A limit other than the needle's own, as a coil's rating, may ask for more.
	v := p.judge(set)
	for v.Verdict == safety.Stop && set.Ohm < b.series.Max()*(1-1e-9) {
		more, ok := b.series.Ceil(1.2 * max(set.Ohm, b.series.Least()))
		if !ok || more.Ohm <= set.Ohm { // a box of very unequal steps may have no step in between
			more, _ = b.series.Floor(b.series.Max())
		}
		set, v = more, p.judge(more)
	}
	if v.Verdict == safety.Stop {
		p.tooMuch(v)
		return
	}
	if !known {
		if p.ev.offAt == 0 {
			why += "Nothing says yet how sensitive the galvanometer is: begin with the largest resistance. "
		}
		p.propose(set, nil, why)
		return
	}
	if p.stuck(set) {
		return
	}
	div := at(set)
	if p.ev.offAt > 0 && p.judge(set).Verdict == safety.Tap {
		why += "The readings contradict one another: begin again from the largest resistance. "
	}
	p.propose(set, &div, why)
}

// easySeries is the setting with the fewest plugs out that brings the needle
// within a quarter of a reading's step of where want would, and not below
// least.
func (p planner) easySeries(want, g, least float64) (apparatus.Setting, bool) {
	by := (want + p.ev.r + g) * p.ev.step / 4 / p.aim()
	return p.s.bench.series.Easiest(want, max(least, want-by), want+by)
}

// leastAllowed raises the least series value to what coils and source bear.
func (p planner) leastAllowed(least float64) float64 {
	b := p.s.bench
	allowed := least
	if p.ev.offAt > 0 {
		// Well above what went off the scale (common practice, no source).
		allowed = max(allowed, 1.25*p.ev.offAt)
	}
	if b.Source.MaxCurrent != nil {
		allowed = max(allowed, p.ev.emfHigh / *b.Source.MaxCurrent / (1-b.SeriesBox.Tolerance))
	}
	return max(allowed, b.series.Least())
}

// judge is the K1 clearance at a series value.
func (p planner) judge(set apparatus.Setting) safety.Clearance {
	c := p.closing(set)
	c.Wired = true
	return safety.Judge(c)
}

// stillRuns counts the latest runs at which the needle did not even move by
// one step of the reading.
func (p planner) stillRuns() int {
	n := 0
	for i := len(p.s.runs) - 1; i >= 0; i-- {
		r := &p.s.runs[i]
		if !p.s.on(r.seq) || !p.s.anyAlive(r.first) {
			continue
		}
		if d, _ := p.ev.mean(p.s, r.first); math.Abs(d) > p.ev.step/2 {
			break
		}
		n++
	}
	return n
}

// rereads counts the readings at the present series value.
func (p planner) rereads() int {
	if r := p.s.current(); r != nil {
		return len(p.s.alive(r.first))
	}
	return 0
}

func (p planner) noCurrent() {
	if r := p.s.current(); r != nil && p.judge(r.setting).Verdict == safety.Stop {
		set, _ := p.s.bench.series.Floor(p.s.bench.series.Max())
		if v := p.judge(set); v.Verdict == safety.Stop {
			p.tooMuch(v)
			return
		}
		p.propose(set, nil, "Nothing seems to flow, and this value is not safe if it does. ")
		return
	}
	do := "Nothing seems to flow. Do not lower R. Look at the cell, then at K1, then at each joint of the loop in turn, and read again. If all is sound, the galvanometer may need more current than this: state its full scale in the bench."
	if p.s.current() == nil {
		set, _ := p.s.bench.series.Ceil(p.ev.stillNeedle)
		p.propose(set, nil, do+" ")
		return
	}
	p.say(StepFirst, Next{Event: KindReadFirst, Do: do})
}

// tooMuch says that not even the largest value is safe.
func (p planner) tooMuch(v safety.Clearance) {
	p.conclude(StepSeries, "These instruments cannot do this practical safely: at the largest series value "+v.Because+".",
		"Take a series box with more resistance, or a source of less EMF.")
}

// conclude says that the first deflections show the bench to be unfit, unless
// that hangs on one of them: then it is looked at again first.
func (p planner) conclude(step Step, say, try string) {
	r := p.s.current()
	switch at, rd := p.holding(); {
	case rd != nil:
		slip := p.slip(at, *rd)
		if r != nil && p.row() == nil && p.counted(r.first) < mostAgain && p.lookAgain(r, slip) {
			return
		}
		try = slip + "If not: " + try
	case r != nil && p.firstReadings() == 1 && p.lookAgain(r, say+" One reading is too little to conclude that. "):
		return
	}
	p.unfit(step, say, try)
}

// slip says what to do about a reading that keeps the series resistance up.
func (p planner) slip(at float64, rd reading) string {
	return fmt.Sprintf("The %s at %s keeps the resistance up and does not fit the others: if it was a slip, strike event %d. ", p.reading(rd), ohms(at), rd.seq)
}

// lookAgain asks for the first deflection again: here, or where K1 may not be
// closed at the largest series value. Where it may not even there the zero is
// asked for, once; it reports whether there is anything to ask for.
func (p planner) lookAgain(r *run, why string) bool {
	if p.judge(r.setting).Verdict != safety.Stop {
		p.settle(StepFirst, Next{Event: KindReadFirst, Do: why + "Open both keys, count the plugs and look at the zero; then press K1 for an instant only and read once more."})
		return true
	}
	largest, _ := p.s.bench.series.Floor(p.s.bench.series.Max())
	if r.setting.Ohm < largest.Ohm*(1-1e-9) && p.judge(largest).Verdict != safety.Stop {
		p.proposeNew(largest, nil, why)
		p.c.settling = true
		return true
	}
	last := r.seq
	if n := len(r.first); n > 0 {
		last = r.first[n-1].seq
	}
	if slices.ContainsFunc(p.ev.zeros, func(z zeroAt) bool { return z.seq > last }) {
		return false
	}
	p.settle(StepFirst, Next{Event: KindZero, Do: why + "K1 may not be closed here again. Open both keys, look whether the pointer is free, and read where it rests."})
	return true
}

// firstReadings counts the first deflections in force.
func (p planner) firstReadings() int {
	n := 0
	for i := range p.s.runs {
		if r := &p.s.runs[i]; p.s.on(r.seq) {
			n += p.counted(r.first)
		}
	}
	return n
}

// holding is the first deflection, not among those that agree, that keeps the
// series resistance up, and the series value it was read at; nil if none does.
func (p planner) holding() (at float64, rd *reading) {
	known, most := 0.0, 0.0 // deflection times resistance, of those that agree and of the others
	for i := range p.s.runs {
		r := &p.s.runs[i]
		if !p.s.on(r.seq) {
			continue
		}
		for j := range r.first {
			x := &r.first[j]
			moves := math.Abs(p.ev.deflection(*x)) * r.setting.Ohm
			if x.off {
				moves = math.Inf(1)
			}
			switch {
			case !p.s.on(x.seq):
			case !x.off && p.ev.believes(x.seq):
				known = max(known, moves)
			case moves > most:
				at, rd, most = r.setting.Ohm, x, moves
			}
		}
	}
	// Without one on the scale to contradict it, off scale is no slip; nor is
	// what lies near the others.
	if known == 0 || most < 1.1*known {
		return 0, nil
	}
	return at, rd
}

// stuck reports, and says, that no safe series value brings the needle to a
// useful place: the proposed one is not below what was tried, and gives little.
func (p planner) stuck(set apparatus.Setting) bool {
	n := p.s.bench.Galvanometer.Divisions
	loop, g, _ := p.loopEstimate()
	div := loop / (set.Ohm + p.ev.r + g)
	if div >= poorShare*n || !p.triedDownTo(set.Ohm) {
		return false
	}
	p.conclude(StepSeries, fmt.Sprintf("The galvanometer is not sensitive enough for this source: at the lowest series value that is safe the needle goes to about %s of %g.", divs(div, p.ev.step), n),
		"Take a source of more EMF (one more cell), or a more sensitive galvanometer.")
	return true
}

// triedDownTo reports whether the needle moved at a series value about as low
// as ohm already.
func (p planner) triedDownTo(ohm float64) bool {
	for i := range p.s.runs {
		if r := &p.s.runs[i]; p.s.on(r.seq) && r.setting.Ohm <= 1.05*ohm && len(p.ev.moved(p.s, r.first)) > 0 {
			return true
		}
	}
	return false
}

// MeasureFirst begins the counsel on the first series value while the source
// has not been measured. A way in that asks for the EMF itself leaves it out.
const MeasureFirst = "If there is a voltmeter, measure the source first. "

// propose makes a series value the next thing to do.
func (p planner) propose(set apparatus.Setting, target *float64, why string) {
	if r := p.s.current(); r != nil && p.row() == nil && math.Abs(r.setting.Ohm-set.Ohm) <= 1e-9*set.Ohm && len(r.first) > 0 && !p.mixed(r) {
		// The box stands there already and can do no better.
		p.takeAsItIs(r)
		return
	}
	if target != nil {
		t := p.seen(*target)
		target = &t
	}
	p.proposeNew(set, target, why)
}

// proposeNew is propose for a setting that begins a row though the box may
// stand there; target is as seen on the scale.
func (p planner) proposeNew(set apparatus.Setting, target *float64, why string) {
	b := p.s.bench
	do := why + "Open K2 and K1. " + plugs("series", b.SeriesBox, set)
	if target != nil {
		t := readable(*target, p.ev.step)
		target = &t
		do += fmt.Sprintf("; the needle should go to about %s", divs(t, p.ev.step))
	}
	do += "."
	if len(p.s.runs) == 0 && !p.s.SourceSince(0) {
		do = MeasureFirst + do
	}
	p.say(StepSeries, Next{Event: KindSetSeries, Ohm: &set.Ohm, TakeOut: takeOut(b.SeriesBox, set), TargetDiv: target, Do: do})
}

// signed puts a deflection on the side on which the needle was seen last.
func (p planner) signed(div float64) float64 {
	if p.ev.left {
		return -div
	}
	return div
}

// seen is where a deflection stands on the scale, the needle's rest included.
func (p planner) seen(div float64) float64 { return p.signed(div) + p.rest() }

// rest is where the needle rested last, 0 if that was never read.
func (p planner) rest() float64 {
	if n := len(p.ev.zeros); n > 0 {
		return p.ev.zeros[n-1].div
	}
	return 0
}

// takeAsItIs goes on with a first deflection that is not where it should be,
// because the box has no better value.
func (p planner) takeAsItIs(r *run) {
	first := math.Abs(p.ev.average(p.view(-1).agreed))
	n := p.s.bench.Galvanometer.Divisions
	switch {
	case p.s.lastOff(r.first):
		p.conclude(StepFirst, "The needle is beyond the end of the scale even at the largest series value.",
			"Open K1. Take a series box with more resistance, or a source of less EMF.")
	case first < poorShare*n:
		p.conclude(StepFirst, fmt.Sprintf("The series box has no value that brings the needle higher than %s without risk.", divs(first, p.ev.step)),
			"Take a series box with finer steps, a source of other EMF, or a galvanometer with a finer scale.")
	default:
		p.shunt(r, first)
	}
}

// inRun comes when the series box is set and the row is not kept yet.
func (p planner) inRun(r *run) {
	if !p.s.anyOn(seqs(r.first)) {
		p.readFirst(r)
		return
	}
	v := p.view(-1)
	first := math.Abs(p.ev.average(v.agreed))
	switch {
	case p.ev.backwards:
		p.say(StepFirst, Next{Event: KindReadFirst, Do: "The needle goes against its left stop: open K1 at once and exchange the leads at the source. Then tap K1 again."})
	case p.s.lastOff(r.first), p.mixed(r), first <= p.ev.still():
		p.setSeries("")
	case p.inDoubt(v, r.first):
		p.firstAgain(r, v)
	case len(v.odd) > 0 && p.usable(first) && p.triesSinceRow() < mostTries:
		p.seriesAnew(r, v)
	case p.s.branch() != nil && p.s.anyOn(seqs(p.s.branch().readings)):
		p.shunt(r, first)
	case !p.usable(first) && p.triesSinceRow() < mostTries:
		p.setSeries("")
	case first < poorShare*p.s.bench.Galvanometer.Divisions:
		p.setSeries("")
	case !p.even(first) && p.rowsOn() == 0 && p.usableRuns() == 1 && p.evenOut(first):
	default:
		p.shunt(r, first)
	}
}

// mostTries is the number of series settings of a row after which a poor one is
// taken, mostAgain that of readings at one setting after which it is left
// (common practice, no source).
const mostTries, mostAgain = 8, 5

// view is how the readings of the row in hand agree: of the first deflection
// for -1, else of a branch.
func (p planner) view(branch int) view { return p.ev.view(p.s, place{len(p.s.runs) - 1, branch}) }

// inDoubt reports whether one more reading has to tell which of those at a
// setting are right.
func (p planner) inDoubt(v view, rs []reading) bool {
	return (v.torn || v.lone) && p.counted(rs) < mostAgain
}

// firstAgain asks for the first deflection once more where it is in doubt, or
// for a safer series value where the reading shows that K1 may not be closed
// there.
func (p planner) firstAgain(r *run, v view) {
	why := p.doubt(r, nil, v, r.first)
	if p.judge(r.setting).Verdict == safety.Stop {
		p.setSeries(why + "K1 may not be closed again at this value. ")
		return
	}
	p.settle(StepFirst, Next{Event: KindReadFirst, Do: why + "Open K2, change nothing, and read the first deflection once more."})
}

// doubt says which readings at a setting of the row in hand are in doubt; b is
// nil for the first deflection.
func (p planner) doubt(r *run, b *branch, v view, rs []reading) string {
	if v.torn {
		return fmt.Sprintf("The readings here, %s, cannot be of one deflection. ", p.readings(p.s.alive(rs)))
	}
	var shunt *apparatus.Setting
	if b != nil {
		shunt = &b.value.setting
	}
	why := fmt.Sprintf("The reading of %s does not fit the others", p.readings(v.agreed))
	if e, ok := p.ev.foresee(p.s, r.setting, shunt); ok {
		why += fmt.Sprintf(", which let expect about %s", divs(e.Div, p.ev.step))
	}
	return why + fmt.Sprintf(". If it was a slip, strike event %d. ", v.agreed[0].seq)
}

// reading says what was read, after "the".
func (p planner) reading(rd reading) string {
	if rd.off {
		return "reading off the scale"
	}
	return "reading of " + divs(rd.div, p.ev.step)
}

// readings lists what was read.
func (p planner) readings(rs []reading) string {
	var parts []string
	for _, rd := range rs {
		parts = append(parts, divs(rd.div, p.ev.step))
	}
	return and(parts)
}

// oddOut says which reading at a setting is to be struck out.
func (p planner) oddOut(v view) string {
	rd := v.odd[len(v.odd)-1]
	return fmt.Sprintf("The reading of %s does not fit the others here: strike event %d and go on with them. Without that, begin anew. ", divs(rd.div, p.ev.step), rd.seq)
}

// seriesAnew has a first deflection with an odd reading struck, or its setting
// begun anew: the mean of its readings is no deflection.
func (p planner) seriesAnew(r *run, v view) {
	if p.judge(r.setting).Verdict == safety.Stop {
		p.setSeries(p.oddOut(v))
		return
	}
	target := p.ev.average(v.agreed) + p.rest()
	p.proposeNew(r.setting, &target, p.oddOut(v))
	p.c.settling = true
}

// mixed reports whether the needle moved at some of a run's readings only: the
// others would spoil its mean, so the row is begun anew.
func (p planner) mixed(r *run) bool {
	n := len(p.ev.moved(p.s, r.first))
	return n > 0 && n < len(p.s.alive(r.first))
}

// evenOut proposes the series value that brings the first row's deflection to
// an even mark, if the box has one; it reports whether it did.
func (p planner) evenOut(first float64) bool {
	loop, g, known := p.loopEstimate()
	if !known {
		return false
	}
	ts := p.targets()
	near := ts[0]
	for _, t := range ts {
		if math.Abs(t-first) < math.Abs(near-first) {
			near = t
		}
	}
	set, ok := p.easySeries(loop/near-p.ev.r-g, g, 0)
	if !ok || set.Ohm <= 0 || p.judge(set).Verdict == safety.Stop || math.Abs(set.Ohm-p.s.current().setting.Ohm) <= 1e-9*set.Ohm {
		return false
	}
	div := loop / (set.Ohm + p.ev.r + g)
	p.propose(set, &div, fmt.Sprintf("The half of %s falls between marks; %s is easier to halve. ", divs(first, p.ev.step), divs(near, p.ev.step)))
	return true
}

func (p planner) rowsOn() int {
	n := 0
	for _, r := range p.ev.rows {
		if !r.Struck {
			n++
		}
	}
	return n
}

// triesSinceRow counts the settings of the series box since the last kept row.
func (p planner) triesSinceRow() int {
	return p.countRuns(func(r *run) bool { return true })
}

// usableRuns counts those of them whose deflection was worth having.
func (p planner) usableRuns() int {
	return p.countRuns(func(r *run) bool {
		first, ok := p.ev.mean(p.s, r.first)
		return ok && p.usable(math.Abs(first))
	})
}

func (p planner) countRuns(f func(*run) bool) int {
	last, n := p.s.LastKept(), 0
	for i := range p.s.runs {
		if r := &p.s.runs[i]; r.seq > last && p.s.on(r.seq) && f(r) {
			n++
		}
	}
	return n
}

func seqs(rs []reading) []int {
	out := make([]int, len(rs))
	for i, r := range rs {
		out[i] = r.seq
	}
	return out
}

// readFirst asks for the first deflection at the series value that stands, or
// for a safer value where closing K1 is not allowed.
func (p planner) readFirst(r *run) {
	switch v := p.judge(r.setting); v.Verdict {
	case safety.Stop:
		p.setSeries("")
	case safety.Tap:
		p.say(StepFirst, Next{Event: KindReadFirst, Do: "Press K1 for an instant only. If the needle runs for the end, let go and give it as off scale. If it stays on the scale, hold K1, let the needle rest and read it."})
	default:
		p.say(StepFirst, Next{Event: KindReadFirst, Do: "Close K1, K2 open. Let the needle rest, tap the case lightly, look square-on and read it; open K1."})
	}
}

// spread lists the shunts to choose from the second row on, as shares of
// R′∥G: rows at the same ratio would share their rounding error.
var spread = [...]float64{0.75, 1.3, 0.85, 1.15}

// Ratios of shunted to first deflection between which a row costs no more than
// an eighth in doubt, and beyond which it is poor (domain notes C4, from
// u(P)/P = (u/θ1) √(1+1/ρ²)/(1−ρ)).
const (
	leastRatio, mostRatio = 0.30, 0.62
	poorLow, poorHigh     = 0.20, 0.75
	nearHalf              = 3 // trials of the first row after which a near half is taken
)

// hopeless reports whether a ratio is so far from the half that no G worth
// having comes of it.
func hopeless(ratio float64) bool { return ratio < poorLow/2 || ratio > (1+poorHigh)/2 }

// shunt leads from a first deflection to a kept row.
func (p planner) shunt(r *run, first float64) {
	b := p.s.branch()
	switch {
	case b == nil:
		p.setShunt(r, first)
	case !p.s.anyOn(seqs(b.readings)):
		p.readShunted()
	default:
		p.judgeShunted(r, b, first)
	}
}

// sees returns P, the resistance that the shunt box sees at its terminals, as
// it is believed now; ok is false where nothing was measured and no plate
// states it.
func (p planner) sees(r *run) (ohm float64, ok bool) {
	all := r.setting.Ohm + p.ev.r
	g := p.ev.plateG
	ok = p.s.bench.Galvanometer.Resistance != nil
	if p.ev.planShunted {
		g, ok = p.ev.plan.G, true
	}
	return all * g / (all + g), ok
}

// setShunt proposes the next value of the shunt box.
func (p planner) setShunt(r *run, first float64) {
	see, stated := p.sees(r)
	share := 1.0
	if n := p.rowsOn(); n > 0 {
		share = spread[(n-1)%len(spread)]
	}
	b := p.s.bench
	by := spreadSlack * see * share
	switch {
	case !stated: // a first guess: a round value will do
		by = guessSlack * see
	case share == 1:
		by = p.halfSlack(see, first)
	}
	set := p.easyShunt(see*share, by)
	ratio := set.Ohm / (set.Ohm + see)
	target := readable(p.seen(first*ratio), p.ev.step)
	if p.ev.planShunted && p.shuntedReadings() > 1 && hopeless(ratio) {
		p.unfit(StepShunt, fmt.Sprintf("The shunt box cannot bring the needle near the half: at %s it would stand at %s.", ohms(set.Ohm), divs(target, p.ev.step)),
			fmt.Sprintf("Take a shunt box that makes values about %s.", ohms(round2(see))))
		return
	}
	p.say(StepShunt, Next{Event: KindSetShunt, Ohm: &set.Ohm, TakeOut: takeOut(b.ShuntBox, set), TargetDiv: &target,
		Do: "Open K2. " + plugs("shunt", b.ShuntBox, set) + fmt.Sprintf("; the needle should fall to about %s.", divs(target, p.ev.step))})
}

// How far a shunt may lie from its ideal value for the sake of fewer plugs,
// relative: where nothing is known yet, and where the ratio is only to differ.
const guessSlack, spreadSlack = 0.15, 0.03

// halfSlack is how far a shunt may lie from the halving one, in ohm, so that
// the needle stands within a fifth of a reading's step of the half:
// dθ2/dS = θ1/(4P) there.
func (p planner) halfSlack(see, first float64) float64 {
	return 4 * see * p.ev.step / 5 / first
}

// easyShunt is the setting with the fewest plugs out within by of ohm that is
// not nothing.
func (p planner) easyShunt(ohm, by float64) apparatus.Setting {
	r := p.s.bench.shunt
	if ohm >= r.Max() {
		ohm, by = r.Max(), 0
	}
	set, _ := r.Easiest(ohm, ohm-by, ohm+by)
	if set.Ohm <= 0 {
		set, _ = r.Ceil(r.Least())
	}
	return set
}

func (p planner) readShunted() {
	p.say(StepShunt, Next{Event: KindReadShunted, Do: "Close K1, then K2. The shunted needle creeps: wait until it rests, tap the case lightly and read what it shows, whatever the half would be. Open K2, then K1."})
}

// judgeShunted decides what a shunted reading is good for.
func (p planner) judgeShunted(r *run, b *branch, first float64) {
	if !p.s.anyAlive(b.readings) {
		p.say(StepShunt, Next{Event: KindReadShunted, Do: "Open K1: a shunt cannot drive the needle off the scale unless it is wired wrongly. Trace the shunt's leads, then read again."})
		return
	}
	v := p.view(len(r.branches) - 1)
	if p.shuntedAgain(r, b, v) {
		return
	}
	shunted := math.Abs(p.ev.average(v.agreed))
	switch {
	case shunted >= first-p.ev.step:
		p.say(StepShunt, Next{Event: KindReadShunted, Do: "The needle must fall when K2 closes, and it did not. Press K2 firmly, look at both leads of the shunt box, and read again."})
	case shunted <= p.ev.still():
		p.fallenToNothing(b)
	default:
		p.keepOrHalve(r, b, first, shunted)
	}
}

// shuntedAgain asks for a shunted reading once more where those there are leave
// a doubt, or for its setting anew; it reports whether it did.
func (p planner) shuntedAgain(r *run, b *branch, v view) bool {
	switch {
	case p.aside(v) && p.counted(b.readings) <= testsAgain:
		p.settle(StepShunt, Next{Event: KindReadShunted, Do: fmt.Sprintf("The reading of %s lies on the other side of zero from the first deflection, where no shunt can bring the needle. Look again on which side it stands, and read once more; if it was a slip, strike event %d.", p.readings(v.agreed[:1]), v.agreed[0].seq)})
	case p.inDoubt(v, b.readings):
		p.settle(StepShunt, Next{Event: KindReadShunted, Do: p.doubt(r, b, v, b.readings) + "Change nothing, close K1, then K2, and read the shunted deflection once more."})
	case len(v.odd) > 0 && p.trials(r) < 2*nearHalf:
		p.changeShunt(b.value.setting, p.oddOut(v), nil)
		p.c.settling = true
	default:
		return false
	}
	return true
}

// aside reports whether shunted readings lie on the other side of zero from the
// first deflection.
func (p planner) aside(v view) bool { return p.ev.average(v.agreed)*p.signed(1) < -p.ev.still() }

// fallenToNothing comes when the shunt takes everything.
func (p planner) fallenToNothing(b *branch) {
	more := p.easyShunt(8*max(b.value.setting.Ohm, p.s.bench.shunt.Least()), 0)
	if more.Ohm <= b.value.setting.Ohm*(1+1e-9) {
		p.say(StepShunt, Next{Event: KindReadShunted, Do: "The shunt takes everything though its box stands at its largest value: is the galvanometer bridged somewhere? Look, then read again."})
		return
	}
	p.changeShunt(more, "The needle has fallen to nothing. ", nil)
}

// keepOrHalve keeps a row whose ratio is good or cannot be bettered, or goes on
// to a better shunt.
func (p planner) keepOrHalve(r *run, b *branch, first, shunted float64) {
	see, _ := p.sees(r)
	if !p.ev.planShunted { // the fit could not use it; the row's own readings can
		see = b.value.setting.Ohm * (first - shunted) / shunted
	}
	slack := p.halfSlack(see, first)
	better := p.easyShunt(see, slack)
	same := math.Abs(better.Ohm-b.value.setting.Ohm) <= 1e-9*better.Ohm || math.Abs(see-b.value.setting.Ohm) <= slack
	switch done := same || p.trials(r) >= 4*nearHalf; {
	case p.worthKeeping(r, first, shunted, same):
		p.askToKeep(r, first)
	case done && p.shuntedReadings() == 1:
		p.settle(StepShunt, Next{Event: KindReadShunted, Do: fmt.Sprintf("The shunt box seems to have no value that brings the needle nearer the half than %s. One reading is too little to conclude that: change nothing, close K1, then K2, and read once more.", divs(shunted, p.ev.step))})
	case done:
		p.unfit(StepShunt, fmt.Sprintf("The shunt box has no value that brings the needle nearer the half than %s.", divs(shunted, p.ev.step)),
			fmt.Sprintf("Take a shunt box that makes values about %s.", ohms(round2(see))))
	default:
		target := readable(p.seen(first*better.Ohm/(better.Ohm+see)), p.ev.step)
		p.changeShunt(better, "", &target)
	}
}

// worthKeeping reports whether a row is as good as can be asked for: of the
// first one the half, for the book, or near it after some trials; of the later
// ones any fair ratio. same tells that the box has no better value.
func (p planner) worthKeeping(r *run, first, shunted float64, same bool) bool {
	ratio := shunted / first
	fair := ratio >= leastRatio && ratio <= mostRatio
	half := math.Abs(shunted-first/2) <= p.ev.step/2+1e-9
	switch tried := p.trials(r); {
	case hopeless(ratio):
		return false
	case same, tried >= 2*nearHalf && ratio >= poorLow && ratio <= poorHigh:
		return true
	case p.rowsOn() == 0:
		return half || fair && tried >= nearHalf
	}
	return fair
}

// askToKeep makes keeping the row in hand the next thing to do.
func (p planner) askToKeep(r *run, first float64) {
	do := fmt.Sprintf("Open K2: the needle should come back to %s. If it does, keep this row.", divs(p.seen(first), p.ev.step)) + p.misfits()
	if p.aside(p.view(len(r.branches) - 1)) {
		do += " It counts by its distance from zero, though it was read on the other side."
	}
	p.say(StepShunt, Next{Event: KindKeepRow, Do: do})
}

func (p planner) changeShunt(set apparatus.Setting, why string, target *float64) {
	do := why + "Open K2. " + plugs("shunt", p.s.bench.ShuntBox, set)
	if target != nil {
		do += fmt.Sprintf("; the needle should stand at about %s", divs(*target, p.ev.step))
	}
	p.say(StepShunt, Next{Event: KindSetShunt, Ohm: &set.Ohm, TakeOut: takeOut(p.s.bench.ShuntBox, set), TargetDiv: target, Do: do + "."})
}

// shuntedReadings counts the shunted readings in force.
func (p planner) shuntedReadings() int {
	n := 0
	for i := range p.s.runs {
		r := &p.s.runs[i]
		for _, b := range r.branches {
			if p.s.on(r.seq) && p.s.on(b.value.seq) {
				n += p.counted(b.readings)
			}
		}
	}
	return n
}

// trials counts the shunt values tried in a run.
func (p planner) trials(r *run) int {
	n := 0
	for _, b := range r.branches {
		if p.s.on(b.value.seq) && p.s.anyOn(seqs(b.readings)) {
			n++
		}
	}
	return n
}

// takeOut lists the plugs of a plug box; a decade box has none.
func takeOut(b apparatus.Box, set apparatus.Setting) []float64 {
	if b.Kind != apparatus.Plug {
		return nil
	}
	return set.Coils
}
