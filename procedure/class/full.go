package class

import (
	"slices"

	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
)

// fold makes a sheet of a record by the fold that every command uses.
func fold(log *record.Log, advise func(*procedure.State) procedure.Counsel) Sheet {
	s := blank()
	st := log.State
	s.ID, s.Events = log.Header.ID, len(log.Events)
	if !log.Header.Begun.IsZero() {
		s.Begun = log.Header.Begun.UnixNano()
	}
	if n := len(log.Events); n > 0 && !log.Events[n-1].At.IsZero() {
		s.Last = log.Events[n-1].At.UnixNano()
	}
	s.State = Unfinished
	switch {
	case st.Finished():
		s.State = Finished
	case log.Cut != nil:
		s.State = Cut
	}
	b, stated := st.Bench()
	if stated {
		p := plateOf(b)
		s.Plate = &p
		s.stated(b)
	}
	if st.Wired() {
		s.Has |= HasWired
	}
	s.look(log, b.Galvanometer.Step())
	c := advise(st)
	s.Closely = &Closer{Step: c.Step}
	for _, r := range c.Rows {
		if r.Struck {
			continue
		}
		s.Rows++
		if r.Resistance != nil {
			s.Closely.RowG, s.Closely.RowNumber = append(s.Closely.RowG, *r.Resistance), append(s.Closely.RowNumber, r.Row)
		}
	}
	if g, ok := st.Given(); ok {
		s.EMF, s.UEMF = g.EMF, g.UEMF/g.EMF
	}
	if r := c.Result; r != nil && r.Resistance != nil && r.Merit != nil && r.UResistance != nil && r.UMerit != nil {
		s.G, s.UG, s.K, s.UK = *r.Resistance, *r.UResistance, *r.Merit, *r.UMerit
		s.U95G, s.U95K = coverage*s.UG, coverage*s.UK
		if r.U95Resistance != nil && r.U95Merit != nil {
			s.U95G, s.U95K = *r.U95Resistance, *r.U95Merit
		}
	}
	s.settle()
	return s
}

// look finds what stands in the record, by its events.
func (s *Sheet) look(log *record.Log, step float64) {
	st := log.State
	stands := func(e procedure.Event) bool { return st.Struck(e.Seq) == 0 }
	var zeros []procedure.Event
	for _, e := range log.Events {
		if _, ok := e.Body.(procedure.ZeroRead); ok && stands(e) {
			zeros = append(zeros, e)
		}
	}
	units := true
	first, last := 0, 0
	right, left := false, false
	for _, e := range log.Events {
		switch b := e.Body.(type) {
		case procedure.Who:
			if stands(e) {
				s.Names, s.Group = b.Names, b.Group
			}
		case procedure.SourceMeasured:
			if stands(e) {
				s.Has |= HasEMF
				if b.UEMF != nil {
					s.Has |= HasDoubt
				}
			}
		case procedure.FirstRead:
			if first == 0 {
				first = e.Seq
			}
			last = e.Seq
			if stands(e) && b.Div != nil && !b.OffScale {
				d := *b.Div - zeroAt(zeros, e)
				right, left = right || d > step, left || d < -step
			}
		case procedure.ShuntedRead:
			if first == 0 {
				first = e.Seq
			}
			last = e.Seq
		case procedure.Claim:
			if stands(e) {
				s.Claims++
				s.Has |= HasClaims
				units = units && hasUnit(b.Value.Text)
			}
		case procedure.Strike:
			if stands(e) {
				s.Strikes++
				if b.Why == "" {
					s.Unsaid++
				}
			}
		case procedure.Note:
			if stands(e) && b.Temperature != nil {
				s.Temperature = *b.Temperature
				s.Has |= HasTemperature
			}
		}
	}
	if s.Names != "" || s.Group != "" {
		s.Has |= HasNames
	}
	if s.Claims > 0 && units {
		s.Has |= HasUnits
	}
	if right && left {
		s.Has |= HasSides
	}
	for _, z := range zeros {
		if first == 0 || z.Seq < first {
			s.Has |= HasZeroBefore
		}
		if first > 0 && z.Seq > last {
			s.Has |= HasZeroAfter
		}
	}
}

// zeroAt is the rest position at an event: linear in time between two, else the
// nearest, 0 where none was read.
func zeroAt(zeros []procedure.Event, e procedure.Event) float64 {
	div := func(i int) float64 { return zeros[i].Body.(procedure.ZeroRead).Div }
	after, _ := slices.BinarySearchFunc(zeros, e.Seq, func(z procedure.Event, n int) int { return z.Seq - n })
	switch {
	case len(zeros) == 0:
		return 0
	case after == 0:
		return div(0)
	case after == len(zeros):
		return div(after - 1)
	}
	a, b, f := zeros[after-1], zeros[after], 0.0
	if span := b.At.Sub(a.At); span > 0 {
		f = min(1, max(0, float64(e.At.Sub(a.At))/float64(span)))
	}
	return (1-f)*div(after-1) + f*div(after)
}

// usualDoubt is the relative standard uncertainty with which the middle of a
// class stands for an instrument's plate (domain notes K).
const usualDoubt = 0.03

// examine looks at a record in full: result, findings and slips. Where the class
// knows its instrument, that stands in for the plate, so that a fault which only
// other pairs can show is found.
func examine(log *record.Log, g, k float64) Sheet {
	var found []procedure.Finding
	var claims []procedure.ClaimCheck
	s := fold(log, func(st *procedure.State) procedure.Counsel {
		c := procedure.Advise(st)
		found, claims = c.Findings, c.Claims
		return c
	})
	if g > 0 && k > 0 {
		if by := compared(log, g, k); len(by) > 0 && (len(found) == 0 || by[0].Probability > found[0].Probability) {
			found = by
		}
	}
	at := s.Closely
	at.Examined, at.Findings = true, found
	for _, c := range claims {
		if c.Agrees == nil || *c.Agrees {
			continue
		}
		at.Wrong++
		if len(c.Slips) > 0 {
			at.Slips = append(at.Slips, c.Slips[0])
		}
	}
	return s
}

// compared is what the readings point to where the plate says what the class
// found.
func compared(log *record.Log, g, k float64) []procedure.Finding {
	events := slices.Clone(log.Events)
	for i, e := range events {
		b, ok := e.Body.(procedure.Bench)
		if !ok {
			continue
		}
		full := k * b.Galvanometer.Divisions
		ug, ufull := usualDoubt*g, usualDoubt*full
		b.Galvanometer.Resistance, b.Galvanometer.UResistance = &g, &ug
		b.Galvanometer.FullScale, b.Galvanometer.UFullScale = &full, &ufull
		events[i].Body = b
	}
	st, err := procedure.Fold(events)
	if err != nil {
		return nil
	}
	return procedure.Advise(st).Findings
}
