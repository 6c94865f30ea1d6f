package procedure

import (
	"fmt"
	"math"

	"example.org/halve/physics/apparatus"
	"example.org/halve/safety"
)

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
	if v, ok := p.borne(r, &set, see); !ok {
		p.unfit(StepShunt, "No shunt near the half is safe: "+v.Because+".", "Take a shunt box whose coils may take more power, or a source of less EMF.")
		return
	}
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

// borne raises a shunt, up to the greatest that still gives a fair row, until
// its coils may take what flows; ok is false where they may not.
func (p planner) borne(r *run, set *apparatus.Setting, see float64) (v safety.Clearance, ok bool) {
	c := p.closing(r.setting)
	at := 0.0
	c.Key, c.First, c.Wired = safety.K2, &at, true
	for _, more := range []float64{1, 1.25, 1.5, mostRatio / (1 - mostRatio) * see / set.Ohm} {
		try := *set
		if more > 1 {
			try = p.easyShunt(set.Ohm*more, spreadSlack*see)
		}
		c.ShuntCoils = try.Coils
		first := safety.Judge(c)
		if first.Verdict != safety.Stop {
			*set = try
			return first, true
		}
		if more == 1 {
			v = first
		}
	}
	return v, false
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

// readShunted asks for the shunted deflection. No clearance sees a shunt that
// is across the series box: the first time K2 is only touched.
func (p planner) readShunted() {
	do := "Close K1, then K2. The shunted needle creeps: "
	if p.shuntedReadings() == 0 {
		do = "Close K1, then touch K2: the needle must fall; if it leaps up, open K1. Hold K2; the needle creeps: "
	}
	p.say(StepShunt, Next{Event: KindReadShunted, Do: do + "wait until it rests, tap the case lightly and read what it shows, whatever the half would be. Open K2, then K1."})
}

// judgeShunted decides what a shunted reading is good for.
func (p planner) judgeShunted(r *run, b *branch, first float64) {
	if !p.s.anyAlive(b.readings) && p.counted(b.readings) >= mostAgain {
		p.unfit(StepShunt, "With K2 closed the needle leaves the scale however often it is read.", "Open K1. Have the shunt box and its leads looked over: it belongs across the galvanometer's terminals.")
		return
	}
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
	case shunted > first-p.ev.step*(1-1e-9) && p.counted(b.readings) < mostAgain:
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
	if more.Ohm <= b.value.setting.Ohm*(1+1e-9) && p.counted(b.readings) >= mostAgain {
		p.unfit(StepShunt, "The shunt takes everything though its box stands at its largest value, however often it is read.", "Look whether the galvanometer is bridged; if not, take a shunt box that makes greater values.")
		return
	}
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
	if _, ok := p.borne(r, &better, see); !ok {
		better = b.value.setting
	}
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
	do := fmt.Sprintf("Close K1 once more, K2 open: the needle should come back to %s. Open K1. If it did, keep this row.", divs(p.seen(first), p.ev.step)) + p.misfits()
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
