package procedure

import (
	"fmt"
	"math"
	"slices"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/quantity"
	"example.org/halve/safety"
)

// setSeries proposes the next value of the series box; why begins what is said.
func (p planner) setSeries(why string) {
	if p.ev.stillNeedle > 0 {
		p.tapLower(why)
		return
	}
	loop, g, known := p.loopEstimate()
	set, held := p.wanted(loop, g, known)
	why += held
	set, v := p.untilBorne(set)
	switch {
	case v.Verdict == safety.Stop:
		p.tooMuch(v)
	case !known:
		if p.ev.offAt == 0 {
			why += "Nothing says yet how sensitive the galvanometer is: begin with the largest resistance. "
		}
		p.propose(set, nil, why)
	case p.stuck(set):
	default:
		if p.ev.offAt > 0 && v.Verdict == safety.Tap {
			why += "The readings contradict one another: begin again from the largest resistance. "
		}
		div := loop / (set.Ohm + p.ev.r + g)
		p.propose(set, &div, why)
	}
}

// tapLower goes on from a needle that did not surely move. K1 may have made no
// contact: the next value is tapped as well.
func (p planner) tapLower(why string) {
	down, _ := p.s.bench.series.Ceil(p.ev.tapDown)
	set, v := p.untilBorne(down)
	checked := p.rereads() > 1 && p.ev.emfHigh/set.Ohm <= safety.GentleCurrent
	if p.stillRuns() > 1 && !checked || set.Ohm >= p.ev.stillNeedle*(1-1e-9) || v.Verdict == safety.Stop {
		p.noCurrent()
		return
	}
	p.propose(set, nil, why+"The needle hardly moved: less resistance, and tapped again. ")
}

// wanted is the series value that brings the needle to the next target, or the
// least that is proven to be safe if that is more: the largest one where
// nothing is. held says which reading keeps it up by contradicting the others.
func (p planner) wanted(loop, g float64, known bool) (set apparatus.Setting, held string) {
	least, proven := p.ev.loop.Bound().Least(p.ev.loop.Room())
	if !proven {
		return p.largest(), ""
	}
	least = p.leastAllowed(least)
	want := least
	if known {
		want = loop/p.aim() - p.ev.r - g
		if at, rd := p.holding(); rd != nil && want < least {
			held = p.slip(at, *rd)
		}
		want = max(least, want)
	}
	if set, ok := p.easySeries(want, g, least); ok && set.Ohm >= least*(1-1e-12) {
		return set, held
	}
	if set, ok := p.s.bench.series.Ceil(want); ok {
		return set, held
	}
	return p.largest(), held
}

// untilBorne raises a series value to one at which K1 may be closed: a limit
// other than the needle's own, as a coil's rating, may ask for more.
func (p planner) untilBorne(set apparatus.Setting) (apparatus.Setting, safety.Clearance) {
	box := p.s.bench.series
	v := p.judge(set)
	for v.Verdict == safety.Stop && set.Ohm < box.Max()*(1-1e-9) {
		more, ok := box.Ceil(1.2 * max(set.Ohm, box.Least()))
		if !ok || more.Ohm <= set.Ohm { // a box of very unequal steps may have no step in between
			more = p.largest()
		}
		set, v = more, p.judge(more)
	}
	return set, v
}

// largest is the greatest value of the series box.
func (p planner) largest() apparatus.Setting {
	set, _ := p.s.bench.series.Floor(p.s.bench.series.Max())
	return set
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

// noCurrent comes when the needle stands still at every value that may be tried.
// Only so often is it to be looked at again.
func (p planner) noCurrent() {
	const (
		look = "Look at the cell, then at K1, then whether K2 is open and the galvanometer not bridged, then at each joint of the loop in turn, and read again."
		do   = "Nothing seems to flow. Do not lower R. " + look + " If all is sound, the galvanometer may need more current than this: state its full scale in the bench."
	)
	r := p.s.current()
	if r != nil && p.judge(r.setting).Verdict != safety.Stop {
		if p.counted(r.first) < mostAgain {
			p.say(StepFirst, Next{Event: KindReadFirst, Do: do})
			return
		}
		p.unfit(StepFirst, "Nothing seems to flow: the needle hardly moves however often it is read, and less resistance is not safe to try.",
			look+" If all is sound, state the galvanometer's full scale in the bench, as it may need more current than this; or take a more sensitive one, or a source of more EMF.")
		return
	}
	set, why := p.largest(), "Nothing seems to flow, and this value is not safe if it does. "
	if r == nil {
		set, _ = p.s.bench.series.Ceil(p.ev.stillNeedle)
		why = do + " "
	}
	set, v := p.untilBorne(set)
	if v.Verdict == safety.Stop {
		p.tooMuch(v)
		return
	}
	p.propose(set, nil, why)
}

// tooMuch says that not even the largest value is safe.
func (p planner) tooMuch(v safety.Clearance) {
	try := "Take a series box with more resistance, or a source of less EMF."
	for _, m := range slices.Backward(p.s.sources) {
		if p.s.on(m.seq) {
			try += fmt.Sprintf(" If the EMF of %s was a slip, strike event %d.", quantity.Format(m.read.EMF, quantity.Volt, 3), m.seq)
			break
		}
	}
	p.conclude(StepSeries, "These instruments cannot do this practical safely: at the largest series value "+v.Because+".", try)
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
// as ohm already, with the source that is in circuit now.
func (p planner) triedDownTo(ohm float64) bool {
	for i := range p.s.runs {
		if r := &p.s.runs[i]; p.s.on(r.seq) && r.setting.Ohm <= 1.05*ohm && slices.ContainsFunc(p.ev.moved(p.s, r.first), p.present) {
			return true
		}
	}
	return false
}

// present reports whether a reading was taken with the source that is in
// circuit now, or with one as strong.
func (p planner) present(rd reading) bool {
	_, high := p.s.rise(rd)
	return high <= 1
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
	case p.ev.backwards && p.counted(r.first) >= mostAgain:
		p.unfit(StepFirst, "The needle goes against its left stop however often it is read.", "Open K1. Exchange the leads at the source, or those at the galvanometer, and read again.")
	case p.ev.backwards:
		p.say(StepFirst, Next{Event: KindReadFirst, Do: "The needle goes against its left stop: open K1 at once and exchange the leads at the source. Then tap K1 again."})
	case p.s.lastOff(r.first), p.mixed(r), first <= p.ev.still():
		p.setSeries("")
	case p.inDoubt(v, r.first):
		p.firstAgain(r, v)
	case p.tooFarBack(r, v):
	case len(v.odd) > 0 && p.usable(first) && p.triesSinceRow() < mostTries:
		p.seriesAnew(r, v)
	case p.judge(r.setting).Verdict == safety.Stop: // something was learned since that forbids to drive the needle here
		if b := p.s.branch(); b != nil && p.s.anyAlive(b.readings) && p.worthKeeping(r, first, math.Abs(p.ev.average(p.view(len(r.branches)-1).agreed)), false) {
			p.say(StepShunt, Next{Event: KindKeepRow, Do: "Leave both keys open, and keep this row as it was read." + p.misfits()})
			return
		}
		p.setSeries("K1 may not be closed again at this value. ")
	case p.exchanged(r, first):
		p.readFirst(r)
		p.c.Next.Do = "The EMF was told anew since the first deflection was read: open K2 and read that again. " + p.c.Next.Do
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

// tooFarBack asks for a first deflection again that would prove more in the loop
// than is believed of one reading; it reports whether it did.
func (p planner) tooFarBack(r *run, v view) bool {
	if !p.ev.loop.Bound().Lone() || p.counted(r.first) > 1 || len(v.agreed) == 0 || p.judge(r.setting).Verdict == safety.Stop {
		return false
	}
	for other := range p.s.firsts() {
		if other.setting.Ohm < r.setting.Ohm {
			return false
		}
	}
	why := fmt.Sprintf("The needle stays further back than a usual galvanometer lets expect. Look whether the series box stands at %s, and which marks the pointer is between: if the reading of %s was a slip, strike event %d. Change nothing else. ",
		ohms(r.setting.Ohm), p.readings(v.agreed), v.agreed[0].seq)
	p.readFirst(r)
	p.c.Next.Do = why + p.c.Next.Do
	p.c.settling = true
	return true
}

// exchanged reports whether the source was told to be another since the first
// deflection of the row in hand, by enough to see, and the shunted one is still
// to be read.
func (p planner) exchanged(r *run, first float64) bool {
	now := p.s.told(math.MaxInt)
	before := func(rs []reading) bool {
		live := p.s.alive(rs)
		return len(live) > 0 && live[len(live)-1].seq < now.seq
	}
	if b := p.s.branch(); !before(r.first) || b != nil && before(b.readings) {
		return false
	}
	live := p.s.alive(r.first)
	then := p.s.told(live[len(live)-1].seq)
	return math.Abs(now.emf/then.emf-1)*first > p.ev.step/2
}

// mostTries is the number of series settings of a row after which a poor one is
// taken, mostAgain that of readings at one setting after which it is left
// (common practice, no source).
const mostTries, mostAgain = 8, 5

// mixed reports whether the needle moved at some of a run's readings only: the
// others would spoil its mean, so the row is begun anew.
func (p planner) mixed(r *run) bool {
	n := len(p.ev.moved(p.s, r.first))
	return n > 0 && n < len(p.s.alive(r.first))
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

// readDownTo reports whether a first deflection was read at a series value as
// low as ohm.
func (p planner) readDownTo(ohm float64) bool {
	for r, rd := range p.s.firsts() {
		if !rd.off && r.setting.Ohm <= ohm {
			return true
		}
	}
	return false
}

// readFirst asks for the first deflection at the series value that stands, or
// for a safer value where closing K1 is not allowed.
func (p planner) readFirst(r *run) {
	switch v := p.judge(r.setting); {
	case v.Verdict == safety.Stop:
		p.setSeries("")
	case v.Verdict == safety.Tap:
		p.say(StepFirst, Next{Event: KindReadFirst, Do: "Press K1 for an instant only. If the needle runs for the end, let go and give it as off scale. If it stays on the scale, hold K1, let the needle rest and read it."})
	case !p.readDownTo(r.setting.Ohm): // what proves it may have been misread
		p.say(StepFirst, Next{Event: KindReadFirst, Do: "Touch K1, K2 open: if the needle runs for the end, let go. Then hold K1, let the needle rest, tap the case lightly, look square-on and read it; open K1."})
	default:
		p.say(StepFirst, Next{Event: KindReadFirst, Do: "Close K1, K2 open. Let the needle rest, tap the case lightly, look square-on and read it; open K1."})
	}
}
