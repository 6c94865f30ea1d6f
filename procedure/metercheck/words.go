package metercheck

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"example.org/halve/physics/accuracy"
	"example.org/halve/physics/panel"
	"example.org/halve/procedure"
)

// divs writes a reading to the place that the scale is read to.
func divs(v float64, b Bench) string {
	places := 1
	if b.Step() < 0.1 {
		places = 2
	}
	s := strconv.FormatFloat(v, 'f', places, 64)
	if t, _ := strconv.ParseFloat(s, 64); t == math.Trunc(t) {
		s = strconv.FormatFloat(t+0, 'f', 0, 64)
	}
	return strings.Replace(s, "-", "−", 1) + "\u00a0div"
}

// doPoint says how a point is taken.
func (s *State) doPoint(it item, tries int, value float64) string {
	b := *s.bench
	start := ""
	switch {
	case it.tapped && s.held(it):
		return fmt.Sprintf("Leave the source as it is. Tap the case lightly, and read pointer and reference again at %s.", divs(it.mark, b))
	case !s.directionKnown() && b.leftZero():
		start = "Switch the source on at its least for an instant: the pointer must move up the scale; if it goes the other way, off, and exchange the meter's leads. "
	case it.mark < 0 && it.rising && !s.seenLeft():
		start = "Turn the source to its least and off, exchange its leads, and switch on at its least: the pointer goes to the left now. "
	case it.again:
		start = "Once more from the zero. "
	}
	return start + s.turnTo(it, tries, value)
}

// turnTo says how the source is brought to a point.
func (s *State) turnTo(it item, tries int, value float64) string {
	b := *s.bench
	way, past := "up", "go back and come up again"
	if !it.rising {
		way, past = "down", "go out again and come down"
	}
	tail := "Do not tap; read both."
	if it.tapped {
		tail = "Tap the case lightly, then read both."
	}
	if tries > 0 {
		tail += " Look twice at range, leads and scale."
	}
	return fmt.Sprintf("Turn the source slowly %s until the pointer covers %s (reference about %s). If you pass it, %s. In any case stop at %s. %s",
		way, divs(it.mark, b), b.written(value), past, b.written(b.stop(it.mark)), tail)
}

// seenLeft reports whether a point on the left was read.
func (s *State) seenLeft() bool {
	for _, r := range s.standing() {
		if r.Div < 0 && !r.Zero {
			return true
		}
	}
	return false
}

// sure is the probability above which a cause changes what is to be done next.
const sure = 0.5

// suspect is the cause that is more probable than not, "" where none is. A
// poor reference is no cause of readings.
func suspect(found []procedure.Finding) (f procedure.Finding, ok bool) {
	for _, f := range found {
		if f.ID != ReferencePoor {
			return f, f.Probability > sure
		}
	}
	return f, false
}

// again turns to a repeated reading, or to what must be put right, where one
// cause is more probable than not and the latest reading was a point. It
// leaves the counsel alone otherwise, and after some readings in vain.
func (s *State) again(c *Counsel) bool {
	f, ok := suspect(c.Findings)
	rs := s.standing()
	if !ok || rs[len(rs)-1].Zero {
		return false
	}
	b := *s.bench
	last := rs[len(rs)-1]
	it := item{rising: last.Rising, mark: s.nearestMark(last)}
	do := ""
	switch f.ID {
	case panel.Reversed, panel.WrongRange, panel.PointOdd:
		if s.takenAt(it) >= patience {
			return false
		}
		do = f.Try + " "
		if f.ID != panel.PointOdd {
			do += "Then again: "
		}
	case panel.Sticks:
		if it.tapped = true; last.Tapped || s.takenAt(it) > 0 {
			return false
		}
	case panel.ZeroOff:
		zeros := 0
		for _, r := range rs[1:] {
			if r.Zero {
				zeros++
			}
		}
		if zeros >= patience {
			return false
		}
		c.Step = StepZero
		c.Next = &Next{Event: procedure.KindZero, Do: "Turn the source slowly to its least and off. Tap the case lightly, set the zero by its adjuster, and read it; strike the points that were taken before, and take them again."}
		return true
	default:
		return false
	}
	c.Step = procedure.Step(direction(it.rising))
	c.Next = s.point(it, 0)
	if do != "" {
		c.Next.Do = do + s.turnTo(it, 0, b.Meter().Indicated(it.mark))
	}
	return true // what was read so far foretells nothing
}

// nearestMark is the mark that a reading was meant for: the nearest to the
// pointer or to the reference, on the side to which the reference says that
// the source drives.
func (s *State) nearestMark(r reading) float64 {
	b := *s.bench
	is := b.Meter().Div(r.Reference)
	best, out := math.Inf(1), 0.0
	for _, it := range b.items() {
		if it.zero || it.mark*is < 0 {
			continue
		}
		if d := min(math.Abs(it.mark-is), math.Abs(it.mark-r.Div)); d < best {
			best, out = d, it.mark
		}
	}
	return out
}

// held reports whether the latest reading is a point at an item's mark, reached
// the same way: the source then stands where it is wanted.
func (s *State) held(it item) bool {
	rs := s.standing()
	if len(rs) == 0 {
		return false
	}
	last := rs[len(rs)-1]
	return !last.Zero && last.Rising == it.rising && s.nearestMark(last) == it.mark
}

// takenAt counts the readings in force that were taken for an item.
func (s *State) takenAt(it item) int {
	n := 0
	for _, r := range s.standing() {
		if !r.Zero && r.Rising == it.rising && r.Tapped == it.tapped && s.nearestMark(r) == it.mark {
			n++
		}
	}
	return n
}

// maxFindings is how many causes are named at the most.
const maxFindings = 5

// least is the probability below which a cause is not worth a line.
const least = 0.01

// findings are the causes that the readings point to, most probable first;
// none while all is more probably well than not. A reference that is too poor
// for the class is told by arithmetic and stands first.
func (s *State) findings() []procedure.Finding {
	if s.found != nil {
		return *s.found
	}
	out := []procedure.Finding{}
	b := *s.bench
	m := b.Meter()
	if ratio := accuracy.Ratio(m.Limit(), accuracy.Coverage*b.UReference()); m.Class > 0 && ratio < accuracy.RatioPoor {
		say := fmt.Sprintf("The class limit is only %.1f times the reference's uncertainty; the standard asks for 5 times.", ratio)
		if ratio < accuracy.RatioLeast {
			say += " Below 3 only the three-way verdict is given, and many meters cannot be decided."
		}
		out = append(out, procedure.Finding{ID: ReferencePoor, Probability: 1, Say: say, Try: "Take a better reference, or a range of it on which it is better."})
	}
	ev, ok := s.weigh()
	if !ok {
		return out
	}
	causes := ev.causes()
	s.unknown = len(causes) > 0 && causes[0].id == unexplained
	for _, c := range causes {
		if c.id == sound && c.probability >= 0.5 {
			s.found = &out
			return out
		}
	}
	for _, c := range causes {
		if c.id == sound || c.id == unexplained || c.probability < least || len(out) == maxFindings {
			continue
		}
		f := procedure.Finding{ID: c.id, Probability: c.probability}
		f.Say, f.Try = s.words(c)
		if c.seq > 0 {
			f.Mend = &procedure.Mend{Event: procedure.KindStrike, Seq: c.seq}
		}
		out = append(out, f)
	}
	s.found = &out
	return out
}

// ReferencePoor is the finding that the reference is not good enough; the other
// findings have their names from package panel.
const ReferencePoor = "reference-poor"

// words says what a cause is, and what decides.
func (s *State) words(c cause) (say, try string) {
	b := *s.bench
	m := b.Meter()
	switch c.id {
	case panel.Reversed:
		say = "The pointer goes against the value, or presses against its lower stop: the meter's leads are exchanged."
		try = "Source to its least and off. See whether the pointer presses against the stop, and exchange the meter's two leads; if it hangs free, nothing flows: look for an open lead."
		return say, try
	case panel.WrongRange:
		return fmt.Sprintf("The pointer shows %s times what it should: the meter is on another range than stated (or its shunt or multiplier is another).", times(c.size)),
			"Source to its least and off. Look at the range switch or terminal, and at the shunt's or multiplier's mark."
	case panel.Sticks:
		return fmt.Sprintf("The pointer stops short on its way, by about %s: it sticks (a dirty or worn pivot, a hair, the pointer on the scale).", divs(math.Abs(c.size), b)),
			"Tap the case lightly at the same value: a pointer that sticks moves on. Do not open the meter for it; it wants a repairer."
	case panel.ZeroOff:
		return fmt.Sprintf("All readings are off by the same, about %s: the zero is not set.", divs(c.size, b)),
			"Source off, tap, and set the zero by its adjuster; strike what was read before and take it again."
	case panel.ScaleFactor:
		// Of what the pointer shows the part that is too much is size/N.
		part := c.size / m.Divisions
		return fmt.Sprintf("All readings are off in proportion, about %s of the true value: the meter's sensitivity, its shunt or its multiplier is off.",
				strings.Replace(fmt.Sprintf("%+.1f %%", 100*part/(1-part)), "-", "−", 1)),
			"Compare the shunt or multiplier with its value; a meter with its own shunt lead has to have that lead."
	case panel.Bent:
		return "The readings are off in a way that neither the zero nor the sensitivity explains: the pointer, or the scale, is bent or has shifted.",
			"Look square on along the pointer, at rest and at a mark: is it straight, clear of the scale, and is the scale firm? Do not straighten it."
	case panel.PointOdd:
		return fmt.Sprintf("One reading, number %d, does not fit the others.", c.seq),
			"Take that point again, and strike the odd one if it was misread."
	}
	return "", ""
}

// times writes a ratio, 10 or 1/10.
func times(c float64) string {
	if c < 1 {
		return "1/" + strconv.FormatFloat(1/c, 'g', 3, 64)
	}
	return strconv.FormatFloat(c, 'g', 3, 64)
}
