package screen

import (
	"fmt"
	"math"
	"slices"
	"time"

	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
)

// What is reckoned with where the time is bounded (common practice, no source).
const (
	writingUp    = 10 * time.Minute // kept for putting things away and writing up
	usualRow     = 5 * time.Minute  // a row, before one has been timed
	worthARow    = 0.05             // the least part of u(G) that a row takes off and is worth its time
	enoughToTell = 5                // rows of a good record
)

// used is how much of the time is gone.
func (w *work) used() time.Duration {
	return max(w.now().Sub(w.sitting.Header().Begun), 0)
}

// aRow is how long a row has taken here: the median from one kept row to the
// next.
func (w *work) aRow() time.Duration {
	var took []time.Duration
	var last time.Time
	st := w.state
	for _, e := range w.events {
		switch e.Body.(type) {
		case procedure.SeriesSet:
			if last.IsZero() {
				last = e.At
			}
		case procedure.RowKept:
			if st.Struck(e.Seq) == 0 && !last.IsZero() {
				took = append(took, e.At.Sub(last))
				last = e.At
			}
		}
	}
	if len(took) == 0 {
		return usualRow
	}
	slices.Sort(took)
	return took[len(took)/2]
}

// timeSays sets the time that is left against what one more row is worth.
func (w *work) timeSays() string {
	if w.minutes <= 0 || w.state.Finished() || w.counsel.Result == nil {
		return ""
	}
	left := time.Duration(w.minutes)*time.Minute - w.used()
	row := w.aRow()
	rows := w.counsel.Result.Rows
	spare := left - writingUp
	minutes := func(d time.Duration) string { return fmt.Sprintf("%.0f min", math.Ceil(math.Max(d.Minutes(), 0))) }
	more := w.behind().More
	gain, worth := 0.0, ""
	if more != nil && more.Now > 0 {
		gain = 1 - more.Then/more.Now
		worth = fmt.Sprintf(" One more would bring u(G) from %s to %s.", quantity.Format(more.Now, quantity.Ohm, 2), quantity.Format(more.Then, quantity.Ohm, 2))
	}
	verdict := "Another row is worth it"
	switch {
	case left <= 0:
		verdict = "The time is over: finish, and write up"
	case spare < row && rows >= enoughToTell:
		verdict = "Write up now"
	case spare < row:
		verdict = fmt.Sprintf("No time for another row: write up the %d there are", rows)
	case rows < enoughToTell:
		verdict = "Another row: there is time for it"
	case gain < worthARow:
		verdict = "Write up: another row is hardly worth it"
	}
	return fmt.Sprintf("%s. %s left, %s of them for writing up; a row takes %s.%s", verdict, minutes(left), minutes(writingUp), minutes(row), worth)
}
