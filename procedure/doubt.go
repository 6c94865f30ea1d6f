package procedure

import (
	"fmt"
	"math"
	"slices"

	"example.org/halve/physics/apparatus"
	"example.org/halve/safety"
)

// settle is say for what decides between readings that disagree: no finding
// asks for another test before.
func (p planner) settle(step Step, n Next) {
	p.say(step, n)
	p.c.settling = true
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
	largest := p.largest()
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
	for range p.s.firsts() {
		n++
	}
	return n
}

// holding is the first deflection, not among those that agree, that keeps the
// series resistance up, and the series value it was read at; nil if none does.
func (p planner) holding() (at float64, rd *reading) {
	loop, g, known := p.loopEstimate()
	if !known {
		return 0, nil
	}
	agreed, most := 0.0, 0.0 // deflection times resistance, of those that agree and of the others
	for r, x := range p.s.firsts() {
		ohm := r.setting.Ohm
		reach := math.Abs(p.ev.deflection(*x)) * ohm
		if x.off {
			if loop/(ohm+p.ev.r+g) >= p.scale()-2*p.ev.step {
				continue // it belongs there
			}
			reach = math.Inf(1)
		}
		switch {
		case !x.off && p.ev.believes(x.seq):
			agreed = max(agreed, reach)
		case reach > most:
			at, rd, most = ohm, x, reach
		}
	}
	// Without one on the scale to contradict it, off scale is no slip; nor is
	// what lies near the others.
	if agreed == 0 || most < 1.1*agreed {
		return 0, nil
	}
	return at, rd
}

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
