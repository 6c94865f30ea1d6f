package metercheck

import (
	"fmt"
	"math"
	"slices"

	"example.org/halve/physics/accuracy"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/safety"
)

// An item is something that a check wants to have: a point or a zero.
type item struct {
	zero   bool
	rising bool
	tapped bool
	mark   float64 // div, signed
	again  bool    // a repeat of a point that was had before
}

// marks are the marks of one side that are read, from the zero outwards: five
// of a one-sided scale, three of each half of a centre-zero scale, whole
// divisions where the scale has ten or more, as far as source and reference
// reach (at least five about equally spaced marks of the whole scale are IEC
// 60051's, from memory).
func (b Bench) marks() []float64 {
	n := 5.0
	if b.Centre() {
		n = 3
	}
	most := b.Divisions
	for _, v := range []float64{b.ReferenceMax(), b.SourceMax()} {
		if v > 0 {
			most = min(most, math.Floor(b.Meter().Div(v)*(1+1e-9)))
		}
	}
	var out []float64
	for i := 1.0; i <= n; i++ {
		mark := b.Divisions * i / n
		if b.Divisions >= 10 {
			mark = math.Round(mark)
		}
		if mark <= most {
			out = append(out, mark)
		}
	}
	return out
}

// leastMarks is how many marks of a side a check needs to say anything.
const leastMarks = 2

// items are all that a check wants, in order: rising untapped, tapped besides
// at one point, falling, the return to zero, and one point twice more.
func (b Bench) items() []item {
	marks := b.marks()
	if len(marks) < leastMarks {
		return nil
	}
	middle := marks[len(marks)/2]
	var out []item
	sides := []float64{1}
	if b.Centre() {
		sides = []float64{1, -1}
	}
	for _, side := range sides {
		for _, m := range marks {
			out = append(out, item{rising: true, mark: side * m})
			if m == middle {
				out = append(out, item{rising: true, tapped: true, mark: side * m})
			}
		}
		for i := len(marks) - 2; i >= 0; i-- {
			out = append(out, item{mark: side * marks[i]})
			if marks[i] == middle {
				out = append(out, item{tapped: true, mark: side * marks[i]})
			}
		}
		out = append(out, item{zero: true})
	}
	for range 2 {
		out = append(out, item{rising: true, mark: middle, again: true})
	}
	return out
}

// plan is what of it is still wanted.
type plan struct {
	items []item
	next  *item // nil where all is had
	tries int   // readings taken for the next item in vain
	zeros int   // zeros read before the first point
}

// patience is how many readings that are not what was wanted let it go: whoever
// will not or cannot take a point is not asked for it for ever.
const patience = 3

// near is how far off its mark a point may lie and still be the one wanted, in
// divisions: it covers where a person stops who was told to stop short.
func (b Bench) near(mark float64) float64 {
	m := b.Meter()
	return max(0.05*b.Divisions, m.Div(b.stop(mark))-math.Abs(mark)) + b.Step()
}

// plan goes through the readings in force.
func (s *State) plan() plan {
	p := plan{items: s.bench.items()}
	rs := s.standing()
	used := make([]bool, len(rs))
	m := s.bench.Meter()
	is := func(it item, r reading) bool {
		return !r.Zero && !it.zero && r.Rising == it.rising && r.Tapped == it.tapped
	}
	matches := func(it item, r reading) bool {
		near := s.bench.near(it.mark)
		return is(it, r) && (math.Abs(r.Div-it.mark) <= near || math.Abs(m.Div(r.Reference)-it.mark) <= near)
	}
	if p.zeros = slices.IndexFunc(rs, func(r reading) bool { return !r.Zero }); p.zeros < 0 {
		p.zeros = len(rs)
	}
	for i := range p.zeros { // the zero before the first point is no return
		used[i] = true
	}
	var missing []item
	last := 0 // the last reading that is had
	for _, it := range p.items {
		i := slices.IndexFunc(rs, func(r reading) bool { return it.zero && r.Zero || matches(it, r) })
		for i >= 0 && (used[i] || it.zero && i < last) {
			j := slices.IndexFunc(rs[i+1:], func(r reading) bool { return it.zero && r.Zero || matches(it, r) })
			if j < 0 {
				i = -1
				break
			}
			i += 1 + j
		}
		if i < 0 {
			missing = append(missing, it)
			continue
		}
		used[i] = true
		if !it.zero {
			last = max(last, i)
		}
	}
	for _, it := range missing {
		tries := 0
		for i, r := range rs {
			if !used[i] && is(it, r) && s.nearestMark(r) == it.mark {
				tries++
			}
		}
		if tries < patience {
			p.next, p.tries = &it, tries
			break
		}
	}
	return p
}

// unset reports whether the zero that is to be set was read off the zero.
func (s *State) unset() bool {
	rs := s.standing()
	return len(rs) > 0 && math.Abs(rs[len(rs)-1].Div) > s.bench.Step()/2*(1+1e-9)
}

// maxZeros is how often the zero is asked for before the first point.
const maxZeros = 3

// advance fills in step, clearance, next and what is expected.
func (s *State) advance(c *Counsel, p plan) {
	b := *s.bench
	raising := safety.Raising{
		Wired: s.Wired(), Unit: b.Unit(), Range: b.Range(), Divisions: b.Divisions,
		ReferenceMax: b.ReferenceMax(), SourceMax: b.SourceMax(), LeftZero: b.leftZero(), DirectionKnown: s.directionKnown(),
		Shows: s.shows(),
	}
	clear := func(mark float64) {
		raising.Target = math.Abs(b.Meter().Indicated(mark))
		v := safety.JudgeRaising(raising)
		c.Clearance = &v
	}
	switch {
	case s.Finished():
		c.Step = StepResult
	case b.unfit() != "":
		c.Step = StepBench
		clear(0)
		c.Next = &Next{Event: procedure.KindBench, Do: b.unfit()}
	case !s.Wired():
		c.Step = StepWiring
		clear(0)
		c.Next = &Next{Event: procedure.KindWired, Do: b.wiring()}
	case !slices.ContainsFunc(s.standing(), func(r reading) bool { return r.Zero }),
		p.zeros < maxZeros && len(s.standing()) == p.zeros && s.unset():
		c.Step = StepZero
		c.Next = &Next{Event: procedure.KindZero, Do: setZero(p.zeros > 0)}
	case s.again(c):
		if c.Next.TargetDiv != nil {
			clear(*c.Next.TargetDiv)
		}
	case p.next == nil:
		c.Step = StepResult
		c.Next = &Next{Event: procedure.KindFinish, Do: "All points are taken. Turn the source to its least and off, and finish."}
	case p.next.zero:
		c.Step = StepZero
		c.Next = &Next{Event: procedure.KindZero, Do: "Turn the source slowly to its least and off. Do not tap and do not touch the adjuster: read where the pointer rests."}
	default:
		c.Step = procedure.Step(direction(p.next.rising))
		clear(p.next.mark)
		c.Next = s.point(*p.next, p.tries)
		c.Expect = s.expect(*p.next)
	}
}

// unfit says why these instruments cannot do a check, "" where they can.
func (b Bench) unfit() string {
	if b.SourceMax() > safety.MaxSupply*b.Range() {
		return fmt.Sprintf("The source can drive %.3g times the meter's range. Set its limit, or put a resistor in series, so that it cannot drive more than %s; then state the bench again with that as its most.",
			b.SourceMax()/b.Range(), b.written(1.2*b.Range()))
	}
	if len(b.marks()) < leastMarks {
		return fmt.Sprintf("Source and reference reach less than %d marks of this scale. Take a source and a reference that hold the range of %s, and state the bench again.", leastMarks, b.written(b.Range()))
	}
	return ""
}

// wiring says how the circuit is built.
func (b Bench) wiring() string {
	how := "Join the reference and the meter in series with the source, plus to plus, so that the same current flows through both."
	if !b.InAmperes() {
		how = "Join the reference and the meter side by side across the source, plus to plus, at the same two terminals."
	}
	return "Source off and at its least. " + how + " Lay the meter as its mark asks (upright, flat), away from iron and magnets. Have it looked over."
}

func setZero(again bool) string {
	if again {
		return "The zero is not set: with the source off, tap the case lightly, turn the zero adjuster until the pointer covers the zero, and read it again."
	}
	return "Let the reference warm up. With the source off, tap the case lightly. If the pointer does not cover the zero, set it by its adjuster. Read where it rests, looking square on."
}

// directionKnown reports whether a point in force has shown that the pointer
// goes up the scale.
func (s *State) directionKnown() bool {
	for _, r := range s.standing() {
		if !r.Zero && r.Div*r.Reference > 0 && math.Abs(r.Div) > 2*s.bench.Step() {
			return true
		}
	}
	return false
}

// shows is how many times what it should the pointer has shown at the most, by
// the points in force at a tenth of the scale or more, below which its zero
// counts for too much.
func (s *State) shows() float64 {
	most := 0.0
	for _, r := range s.standing() {
		if is := math.Abs(s.bench.Meter().Div(r.Reference)); is > 0 && math.Abs(r.Div) >= s.bench.Divisions/10 {
			most = max(most, math.Abs(r.Div)/is)
		}
	}
	return most
}

// stop is where to stop turning though the pointer has not come to the mark: a
// twentieth of the range beyond, or three times the class limit, but never
// beyond what reference and source hold. A magnitude.
func (b Bench) stop(mark float64) float64 {
	m := b.Meter()
	v := math.Abs(m.Indicated(mark)) + max(0.05*b.Range(), 3*m.Limit())
	for _, most := range []float64{b.ReferenceMax(), b.SourceMax()} {
		if most > 0 {
			v = min(v, most)
		}
	}
	return v
}

// point is the next point as counsel.
func (s *State) point(it item, tries int) *Next {
	b := *s.bench
	n := &Next{Event: KindPoint, Direction: direction(it.rising), Tapped: &it.tapped}
	mark := it.mark
	n.TargetDiv = &mark
	value := b.Meter().Indicated(mark)
	sides(b, value, &n.TargetA, &n.TargetV)
	sides(b, b.stop(mark), &n.StopA, &n.StopV)
	n.Do = s.doPoint(it, tries, value)
	return n
}

// expect is what is foreseen for an item.
func (s *State) expect(it item) *Expect {
	ev, ok := s.weigh()
	if !ok {
		return nil
	}
	div, u := ev.foresee(it.mark, it.rising, it.tapped)
	e := &Expect{Div: div, UDiv: u}
	m := s.bench.Meter()
	// Where the pointer stands on the mark, the reference is off the other way.
	sides(*s.bench, m.Indicated(2*it.mark-div), &e.ReferenceA, &e.ReferenceV)
	sides(*s.bench, m.Indicated(u), &e.UA, &e.UV)
	return e
}

// odd says what is strange about the latest reading, or about all of them.
func (s *State) odd() string {
	rs := s.standing()
	before := s.Clone()
	before.found, before.unknown = nil, false
	said := ""
	if n := len(rs); n > 0 && rs[n-1].seq == s.Seq() {
		before.readings = before.readings[:len(before.readings)-1]
		said = before.wonder(rs[n-1])
	}
	if s.unknown {
		if before.findings(); said == "" || before.unknown {
			return "nothing known explains these readings: look through them for a slip, strike it, and take the points again slowly"
		}
	}
	return said
}

// wonder says what is strange about a reading that comes after the others.
func (s *State) wonder(r reading) string {
	b := *s.bench
	m := b.Meter()
	ev, ok := s.weigh()
	if r.Zero || !ok {
		return ""
	}
	div, u := ev.foresee(m.Div(r.Reference), r.Rising, r.Tapped)
	if math.Abs(r.Div-div) <= 4*u {
		return ""
	}
	if b.Exchanged(b.At(direction(r.Rising), r.Div, r.Reference, r.Tapped)) {
		return fmt.Sprintf("pointer and reference look exchanged: it is the pointer that stands at %s, and the reference that shows %s", divs(r.Reference, b), b.written(r.Div))
	}
	return fmt.Sprintf("the pointer shows %s where %s was expected, give or take %s", divs(r.Div, b), divs(div, b), divs(2*u, b))
}

// Exchanged reports whether the two numbers of a point make a reading of this
// meter, to a twentieth of its scale, each in the other's place alone.
func (b Bench) Exchanged(p Point) bool {
	off := func(div, reference float64) float64 { return math.Abs(div - b.Meter().Div(reference)) }
	near := 0.05 * b.Divisions
	return off(p.Div, p.Reference()) > near && off(p.Reference(), p.Div) <= near && math.Abs(p.Reference()) <= reach(b.Divisions)
}

// remarks are what is to be known besides.
func (s *State) remarks(r *Result) []string {
	b := *s.bench
	m := b.Meter()
	var out []string
	if m.Class > 0 {
		switch ratio := accuracy.Ratio(m.Limit(), accuracy.Coverage*b.UReference()); {
		case ratio < accuracy.RatioPoor:
			// A finding says it.
		case ratio < accuracy.RatioAsked*(1-1e-9):
			out = append(out, fmt.Sprintf("The class limit is %.1f times the reference's uncertainty, where the standard asks for 5: a verdict near the limit is less sure.", ratio))
		}
	} else {
		out = append(out, "No class is stated: there is no verdict, only the class that the meter would deserve.")
	}
	if m.Class > 0 && !slices.Contains(accuracy.Classes(), m.Class) {
		out = append(out, fmt.Sprintf("Class %g is none of the usual indexes, 0.05 to 5: look at the dial again.", m.Class))
	}
	if r != nil && r.Deserved != nil && b.UReference() > 0 {
		if limit := *r.Deserved / 100 * r.Fiducial; accuracy.Ratio(limit, accuracy.Coverage*b.UReference()) < accuracy.RatioAsked*(1-1e-9) && *r.Deserved < m.Class {
			out = append(out, fmt.Sprintf("To mark the meter with class %g the standard asks for a reference with a standard uncertainty of at most %s.", *r.Deserved, quantity.Format(limit/accuracy.RatioAsked/accuracy.Coverage, b.Unit(), 2)))
		}
	}
	if m.Centre && m.Fiducial == 0 {
		out = append(out, "Errors are in percent of the sum of both halves of the scale. That rule is from memory: the mark on the dial comes first.")
	}
	if marks := b.marks(); len(marks) >= leastMarks && marks[len(marks)-1] < b.Divisions {
		out = append(out, fmt.Sprintf("Source or reference end at %s: the scale above is not checked.", divs(marks[len(marks)-1], b)))
	}
	if s.unknown {
		out = append(out, "Nothing known explains these readings: what is said of the meter is no better than they are.")
	}
	if r != nil && s.plan().next != nil {
		out = append(out, "Not all points are taken: what is said of the meter is said of those that are.")
	}
	if r != nil && r.ZeroReturn != nil && m.Class > 0 && *r.ZeroReturn > m.Class/2 {
		out = append(out, "The pointer comes back to zero less well than half the class index (that limit is from memory).")
	}
	return out
}
