package report

import (
	"math"
	"time"

	"example.org/halve/procedure"
)

// reading is a reading as it stands in the record.
type reading struct {
	seq int
	at  time.Time
	div float64 // as seen on the scale; of no use where off
	off bool
}

// setting is a value of a box as it was set.
type setting struct {
	seq     int
	at      time.Time
	ohm     float64
	takeOut []float64
}

// branch is a setting of the shunt box with what was read at it; row is the
// number of the kept row, 0 for a trial.
type branch struct {
	shunt    setting
	readings []reading
	row      int
	kept     int // the keep-row event
}

// run is a setting of the series box with all that was read at it.
type run struct {
	series   setting
	first    []reading
	branches []branch
}

// place is where a kept row stands: its run and its branch there.
type place struct{ run, branch int }

// account is the events put in order for the report: who, notes, settings and
// readings, struck or not.
type account struct {
	who      *procedure.Who // the last in force
	whoSeq   int
	notes    []noted
	sources  []measured
	zeros    []reading
	wired    []time.Time
	finished []time.Time
	runs     []run
	rows     []place        // of row n at n-1
	why      map[int]string // the reason of a strike, by the strike's number
	bench    int            // how often the bench was stated
}

type noted struct {
	seq int
	at  time.Time
	procedure.Note
}

type measured struct {
	seq int
	at  time.Time
	procedure.SourceMeasured
}

// observe goes through the events once. They are those of a record, so that
// every reading has its settings before it.
func observe(events []procedure.Event, s *procedure.State) account {
	a := account{why: map[int]string{}}
	on := func(seq int) bool { return s.Struck(seq) == 0 }
	var shunt setting
	read := func(e procedure.Event, div *float64, off bool) reading {
		r := reading{seq: e.Seq, at: e.At, off: off || div == nil}
		if div != nil {
			r.div = *div
		}
		return r
	}
	for _, e := range events {
		var now *run
		if n := len(a.runs); n > 0 {
			now = &a.runs[n-1]
		}
		switch b := e.Body.(type) {
		case procedure.Bench:
			a.bench++
		case procedure.Wired:
			if on(e.Seq) {
				a.wired = append(a.wired, e.At)
			}
		case procedure.Finish:
			if on(e.Seq) {
				a.finished = append(a.finished, e.At)
			}
		case procedure.Who:
			if on(e.Seq) {
				a.who, a.whoSeq = &b, e.Seq
			}
		case procedure.Note:
			a.notes = append(a.notes, noted{e.Seq, e.At, b})
		case procedure.SourceMeasured:
			a.sources = append(a.sources, measured{e.Seq, e.At, b})
		case procedure.ZeroRead:
			a.zeros = append(a.zeros, reading{seq: e.Seq, at: e.At, div: b.Div})
		case procedure.Strike:
			a.why[e.Seq] = b.Why
		case procedure.SeriesSet:
			a.runs = append(a.runs, run{series: setting{e.Seq, e.At, b.Ohm, b.TakeOut}})
		case procedure.ShuntSet:
			shunt = setting{e.Seq, e.At, b.Ohm, b.TakeOut}
			if now != nil {
				now.branches = append(now.branches, branch{shunt: shunt})
			}
		case procedure.FirstRead:
			if now != nil {
				now.first = append(now.first, read(e, b.Div, b.OffScale))
			}
		case procedure.ShuntedRead:
			if now == nil {
				continue
			}
			// The shunt box may still stand at its value from an earlier run.
			if len(now.branches) == 0 {
				now.branches = append(now.branches, branch{shunt: shunt})
			}
			last := &now.branches[len(now.branches)-1]
			last.readings = append(last.readings, read(e, b.Div, b.OffScale))
		case procedure.RowKept:
			if now == nil || len(now.branches) == 0 {
				continue
			}
			at := place{len(a.runs) - 1, len(now.branches) - 1}
			a.rows = append(a.rows, at)
			last := &now.branches[at.branch]
			last.row, last.kept = len(a.rows), e.Seq
		}
	}
	return a
}

// inForce are the readings on the scale that are not struck.
func inForce(rs []reading, s *procedure.State) []reading {
	var out []reading
	for _, r := range rs {
		if !r.off && s.Struck(r.seq) == 0 {
			out = append(out, r)
		}
	}
	return out
}

// mean of readings as seen, NaN for none.
func mean(rs []reading) float64 {
	sum := 0.0
	for _, r := range rs {
		sum += r.div
	}
	return sum / float64(len(rs))
}

// sameZero is the zero where all in force are alike; ok is false where they
// differ or there is none.
func (a account) sameZero(s *procedure.State) (div float64, ok bool) {
	for _, z := range inForce(a.zeros, s) {
		if ok && z.div != div {
			return 0, false
		}
		div, ok = z.div, true
	}
	return div, ok
}

// sides counts the rows in force with the needle on either side of the zero.
func (a account) sides(s *procedure.State, rows []procedure.Row) (right, left int) {
	zero, _ := a.sameZero(s)
	for _, r := range rows {
		if r.Struck {
			continue
		}
		at := a.rows[r.Row-1]
		m := mean(inForce(a.runs[at.run].first, s))
		if math.IsNaN(m) {
			continue
		}
		if m >= zero {
			right++
		} else {
			left++
		}
	}
	return right, left
}
