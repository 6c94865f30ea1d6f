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
		p := planner{s: s, ev: s.evidence(), c: &c}
		p.weighFaults()
		p.backToK1()
	}
	return c
}

// Tally is Advise without looking for faults, which takes most of its time: for
// whoever goes through records by the thousand and wants rows, result and step.
func Tally(s *State) Counsel { return advise(s) }

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
	p.backToK1()
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
		SeriesRating: b.SeriesBox.CoilRating(), ShuntRating: b.ShuntBox.CoilRating(), ShuntLimit: b.ShuntBox.Tolerance,
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

// backToK1 makes the clearance that of K1 again where a row with a shunt goes
// back to its first deflection, where K1 is not clear or K2 is forbidden.
func (p planner) backToK1() {
	b := p.s.branch()
	if p.c.Next == nil || p.c.Next.Event != KindReadFirst || b == nil {
		return
	}
	j := safety.Judge(p.closing(p.s.current().setting))
	if j.Verdict != safety.Clear || p.c.Clearance.Verdict == safety.Stop {
		p.c.Clearance = &j
	}
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

// benchUnfit is the id of the finding that the instruments cannot do it.
const benchUnfit = "bench-unfit"

// unfit says that the bench cannot do the practical, and what to change.
func (p planner) unfit(step Step, say, try string) {
	p.c.Step, p.c.Next = step, nil
	p.c.Findings = append(p.c.Findings, Finding{ID: benchUnfit, Probability: 1, Say: say, Try: try})
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
			do += " " + more.Say
		}
		do += p.misfits()
		p.say(StepResult, Next{Event: KindFinish, Do: do})
	}
}
