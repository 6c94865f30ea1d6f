// Package debrief says, when a practice on a simulated bench is over, what was
// done well and what can be done better: what happened to the needle, the
// settings that were used, the rows and their spread, the readings beside
// where the needle was, and the results beside the truth. It gives no marks,
// and none for haste.
package debrief

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"example.org/halve/physics/bench"
	"example.org/halve/physics/bench/live"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
)

// Reading is a reading that was written down, beside the needle as it was when
// the person looked.
type Reading struct {
	Seq     int  // of the event
	Shunted bool // K2 closed too
	Looked  bool // the keys were closed as the reading has it, at some time before
	Look    live.Look
}

// Practice is what is known of a practice when it is over.
type Practice struct {
	Events      []procedure.Event
	Counsel     procedure.Counsel
	Truth       bench.Hidden
	Fault       string // what the bench had to begin with, "" for nothing
	FaultThere  bool   // and still has
	Happenings  []live.Happening
	Readings    []Reading
	Closings    int           // of keys
	K1          time.Duration // closed in all
	Used        time.Duration // from the first act to the last
	LookedOver  int           // how many things were looked over
	Step        float64       // to which the scale is read, div
	Divisions   float64       // of the scale
	Examination bool          // the guide was switched off
	Earlier     bool          // begun in an earlier sitting, of which only Events tell
}

// Kind tells what a remark is.
type Kind int

// The kinds of remarks.
const (
	Fact   Kind = iota // how it was
	Well               // what was done well
	Better             // what can be done better, and how
)

// Sign is the sign of a kind, for where there is no colour: + for what was done
// well, > for what can be done better, - for how it was.
func (k Kind) Sign() string { return [...]string{"-", "+", ">"}[k] }

// Remark is one thing to say.
type Remark struct {
	Kind Kind
	Text string
}

// Of says what there is to say of a practice, the needle first.
func Of(p Practice) []Remark {
	d := &debriefing{Practice: p}
	d.stand = d.standing()
	d.needle()
	if p.Earlier {
		d.say(Fact, "The practice was begun in an earlier sitting: what is said of keys, of the needle at each reading and of the time is of this sitting alone.")
	}
	d.keys()
	d.readings()
	d.settings()
	d.rows()
	d.care()
	d.truth()
	d.fault()
	d.time()
	return d.out
}

type debriefing struct {
	Practice
	stand []procedure.Event // those that are not struck out
	out   []Remark
}

func (d *debriefing) say(k Kind, format string, a ...any) {
	d.out = append(d.out, Remark{k, fmt.Sprintf(format, a...)})
}

// count is how often something happened in this session.
func (d *debriefing) count(k live.Kind) (n int) {
	for _, h := range d.Happenings {
		if h.Kind == k {
			n++
		}
	}
	return n
}

// standing lists the events that are not struck out. A record that cannot be
// folded was never accepted; of one every event stands.
func (d *debriefing) standing() []procedure.Event {
	st, err := procedure.Fold(d.Events)
	if err != nil {
		return d.Events
	}
	return slices.DeleteFunc(slices.Clone(d.Events), func(e procedure.Event) bool { return st.Struck(e.Seq) != 0 })
}

// needle: what happened to it, in the record's own words, and to the source.
func (d *debriefing) needle() {
	var beyond, byTap, byLead, byKey []string
	for _, e := range d.Events {
		n, ok := e.Body.(procedure.Note)
		if !ok || !ByBench(n) {
			continue
		}
		switch what := strings.TrimPrefix(n.Text, mark); {
		case strings.HasPrefix(what, needleWas) && tapped(what):
			byTap = append(byTap, what)
		case strings.HasPrefix(what, needleWas):
			beyond = append(beyond, what)
		case strings.HasPrefix(what, shortedByLead):
			byLead = append(byLead, what)
		case strings.HasPrefix(what, sourceWas):
			byKey = append(byKey, what)
		}
	}
	switch {
	case len(byTap) > 0:
		d.say(Fact, "A tap showed %s that the needle would go past an end of the scale: that is what the tap is for.", times(len(byTap)))
	case len(beyond) == 0:
		d.say(Well, "The needle never went past the last mark.")
	}
	d.danger(beyond, "The first touch is for the largest value of the box, and for an instant.")
	d.danger(byLead, "Trace the leads before the last one is joined, that of the source.")
	d.danger(byKey, "Before K1 is closed the series box holds what keeps the current small.")
	if n := d.count(live.Touched); n > 0 {
		d.say(Fact, "On its first swing the needle touched the end stop %s: that is harmless, and comes with steady deflections near the end of the scale.", times(n))
	}
}

// danger says what put an instrument in danger, the first time and the last.
func (d *debriefing) danger(what []string, advice string) {
	switch n := len(what); n {
	case 0:
	case 1:
		d.say(Better, "Once %s. %s", what[0], advice)
	default:
		d.say(Better, "%s %s; the last time %s. %s", capital(times(n)), what[0], what[n-1], advice)
	}
}

// keys: the order of keys and plugs, and how long current flowed.
func (d *debriefing) keys() {
	good := true
	if n := d.count(live.SetUnderCurrent); n > 0 {
		good = false
		d.say(Better, "Plugs or dials were moved %s with K1 closed. Open K1 first: on the way from one value to another a box can stand at anything.", times(n))
	}
	if n := d.count(live.K2LeftClosed); n > 0 {
		good = false
		d.say(Better, "K1 was opened %s with K2 still closed. Open K2 first, then K1.", times(n))
	}
	if good && d.Closings > 0 {
		d.say(Well, "Keys were closed and opened in their order, and nothing was moved under current.")
	}
	const much = 0.5 // of the time: common practice, no source
	if d.Used > time.Minute {
		part := d.K1.Seconds() / d.Used.Seconds()
		if part > much {
			d.say(Better, "K1 was closed for %.0f %% of the time. A cell falls while it delivers: close K1 to read, and let it rest as long.", 100*part)
		} else {
			d.say(Well, "K1 was closed for %.0f %% of the time, so that the cell could rest.", 100*part)
		}
	}
}

// readings: beside where the needle was.
func (d *debriefing) readings() {
	var wrong, early, unseen, other, astray []string
	good := 0
	for _, r := range d.Readings {
		e, ok := d.event(r.Seq)
		if !ok {
			continue // struck out
		}
		div, seriesOhm, shuntOhm := d.written(e)
		name := fmt.Sprintf("entry %d", r.Seq)
		if !r.Looked {
			unseen = append(unseen, name)
			continue
		}
		if math.Abs(r.Look.SeriesOhm-seriesOhm) > 1e-6 {
			other = append(other, fmt.Sprintf("%s was read with R at %s where the book has %s", name, ohms(r.Look.SeriesOhm), ohms(seriesOhm)))
		} else if r.Shunted && math.Abs(r.Look.ShuntOhm-shuntOhm) > 1e-6 {
			other = append(other, fmt.Sprintf("%s was read with S at %s where the book has %s", name, ohms(r.Look.ShuntOhm), ohms(shuntOhm)))
		}
		if !r.Look.Wired {
			astray = append(astray, name)
		}
		if div == nil {
			continue
		}
		switch {
		case math.Abs(*div-r.Look.Div) > d.Step:
			wrong = append(wrong, fmt.Sprintf("%s says %s, the needle was at %s", name, divisions(*div), tenths(r.Look.Div)))
		case r.Look.Moving && math.Abs(r.Look.Div-r.Look.Rest) > d.Step/2:
			early = append(early, fmt.Sprintf("%s says %s, the needle went on to %s", name, divisions(*div), tenths(r.Look.Rest)))
		default:
			good++
		}
	}
	total := good + len(wrong) + len(early) + len(unseen)
	if total == 0 {
		return
	}
	switch {
	case good < total:
		d.say(Fact, "%d of %s taken with the needle at rest and to within a step of the scale.", good, many(total, "reading was", "readings were"))
	case total == 1:
		d.say(Well, "The one reading was taken with the needle at rest, and to within a step of the scale.")
	default:
		d.say(Well, "All %d readings were taken with the needle at rest, and each to within a step of the scale.", total)
	}
	d.list(early, "Read too early: %s. With K2 open the needle swings, with the shunt in it creeps: wait until nothing moves.")
	d.list(wrong, "Read beside the needle: %s. Use the magnifier, and look again before you write.")
	d.list(unseen, "Written down without the keys having been closed for it: %s. What is not read is no reading.")
	d.list(astray, "The leads did not make the circuit that is drawn: %s. Trace them one by one, from the source and back to it, before a key is closed.")
	d.list(other, "The box was not set as the book says: %s. Add up the plugs that are out, before K1 is closed.")
}

func (d *debriefing) list(what []string, format string) {
	const most = 3
	if len(what) == 0 {
		return
	}
	if n := len(what) - most; n > 0 {
		what = append(what[:most:most], fmt.Sprintf("and %d more", n))
	}
	d.say(Better, format, strings.Join(what, "; "))
}

// event returns an event that stands.
func (d *debriefing) event(seq int) (procedure.Event, bool) {
	for _, e := range d.stand {
		if e.Seq == seq {
			return e, true
		}
	}
	return procedure.Event{}, false
}

// written is what an entry says, and how the boxes stood by the book.
func (d *debriefing) written(of procedure.Event) (div *float64, series, shunt float64) {
	for _, e := range d.stand {
		switch b := e.Body.(type) {
		case procedure.SeriesSet:
			series = b.Ohm
		case procedure.ShuntSet:
			shunt = b.Ohm
		case procedure.FirstRead:
			div = b.Div
		case procedure.ShuntedRead:
			div = b.Div
		}
		if e.Seq == of.Seq {
			break
		}
	}
	return div, series, shunt
}

// settings: how many were needed.
func (d *debriefing) settings() {
	series, shunts := 0, 0
	for _, e := range d.stand {
		switch e.Body.(type) {
		case procedure.SeriesSet:
			series++
		case procedure.ShuntSet:
			shunts++
		}
	}
	rows := d.rowsKept()
	if series == 0 || rows == 0 {
		return
	}
	d.say(Fact, "For %s the series box was set %s and the shunt box %s.", many(rows, "row"), times(series), times(shunts))
	const shuntsEnough, seriesEnough = 3.0, 2.0 // a row: common practice, no source
	if float64(shunts) > shuntsEnough*float64(rows) {
		d.say(Better, "A near half is as good as a half: the next shunt is the present one times (first less shunted) over shunted, and two settings are enough for most rows.")
	}
	if float64(series) > seriesEnough*float64(rows)+4 {
		d.say(Better, "From one reading the next series value follows: the deflection goes as one over R and G together.")
	}
}

func (d *debriefing) rowsKept() (n int) {
	for _, r := range d.Counsel.Rows {
		if !r.Struck {
			n++
		}
	}
	return n
}

// rows: how many, how high on the scale, how far apart.
func (d *debriefing) rows() {
	var g []float64
	high := 0
	for _, r := range d.Counsel.Rows {
		if r.Struck {
			continue
		}
		if r.FirstDiv >= d.Divisions/2 {
			high++
		}
		if r.Resistance != nil {
			g = append(g, *r.Resistance)
		}
	}
	n := d.rowsKept()
	switch {
	case n == 0:
		d.say(Better, "No row was kept. A row is a first and a shunted reading at one series value; four to six make a result.")
		return
	case n < 4:
		d.say(Better, "%s kept; four to six show how far the rows scatter.", many(n, "row was", "rows were"))
	default:
		d.say(Well, "%d rows were kept.", n)
	}
	if high == n {
		d.say(Well, "Every first deflection was in the upper half of the scale, where a reading weighs most.")
	} else {
		d.say(Better, "%d of %d first deflections were in the lower half of the scale, where the same error of reading weighs twice and more.", n-high, n)
	}
	if len(g) >= 2 {
		lo, hi := slices.Min(g), slices.Max(g)
		d.say(Fact, "G by the rows goes from %s to %s, with a standard deviation of %s.", ohms4(lo), ohms4(hi), quantity.Format(sd(g), quantity.Ohm, 2))
	}
}

// sd is the standard deviation of a sample of two or more.
func sd(x []float64) float64 {
	mean, sum := 0.0, 0.0
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sum += (v - mean) * (v - mean)
	}
	return math.Sqrt(sum / float64(len(x)-1))
}

// care: zero and EMF, before and after.
func (d *debriefing) care() {
	var firstRow, lastRow int
	var zeros, sources []int
	for _, e := range d.stand {
		switch e.Body.(type) {
		case procedure.ZeroRead:
			zeros = append(zeros, e.Seq)
		case procedure.SourceMeasured:
			sources = append(sources, e.Seq)
		case procedure.RowKept:
			if firstRow == 0 {
				firstRow = e.Seq
			}
			lastRow = e.Seq
		}
	}
	if lastRow == 0 {
		return
	}
	for _, c := range []struct {
		what, why string
		at        []int
	}{
		{"The zero", "an unseen shift of the zero goes straight into G", zeros},
		{"The EMF", "k is as uncertain as the EMF, one for one", sources},
	} {
		before := slices.ContainsFunc(c.at, func(n int) bool { return n < firstRow })
		after := slices.ContainsFunc(c.at, func(n int) bool { return n > lastRow })
		switch {
		case before && after:
			d.say(Well, "%s was read before the first row and after the last.", c.what)
		case before || after:
			d.say(Better, "%s was read only %s the rows: read it on both sides, for %s.", c.what, map[bool]string{true: "before", false: "after"}[before], c.why)
		default:
			d.say(Better, "%s was not read: %s.", c.what, c.why)
		}
	}
}

// truth: the results beside it.
func (d *debriefing) truth() {
	d.say(Fact, "The simulated galvanometer has G = %s and k = %s; its source has an EMF of %s.",
		ohms4(d.Truth.Resistance), quantity.Powers.Format(d.Truth.Merit, quantity.AmperePerDivision, 4), quantity.Format(d.Truth.EMF, quantity.Volt, 4))
	r := d.Counsel.Result
	if r == nil {
		return
	}
	for _, q := range []struct {
		name      string
		unit      quantity.Unit
		v, u, u95 *float64
		truth     float64
	}{
		{"G", quantity.Ohm, r.Resistance, r.UResistance, r.U95Resistance, d.Truth.Resistance},
		{"k", quantity.AmperePerDivision, r.Merit, r.UMerit, r.U95Merit, d.Truth.Merit},
	} {
		if q.v == nil || q.u == nil || q.u95 == nil {
			continue
		}
		stated := quantity.Style(0).Measured(quantity.Measured{Value: *q.v, U: *q.u95, Unit: q.unit})
		off := (*q.v - q.truth) / *q.u
		switch {
		case math.Abs(*q.v-q.truth) <= *q.u95:
			d.say(Well, "%s = %s at 95 %%: the truth lies inside, %.1f standard uncertainties away.", q.name, stated, math.Abs(off))
		case d.Fault != "":
			d.say(Better, "%s = %s at 95 %%: the truth lies outside, %.1f standard uncertainties away; the fault is in it.", q.name, stated, math.Abs(off))
		default:
			d.say(Better, "%s = %s at 95 %%: the truth lies outside, %.1f standard uncertainties away. That happens to one in twenty; else a reading or a setting is other than the book says.", q.name, stated, math.Abs(off))
		}
	}
}

// fault: what was wrong, and whether it was found.
func (d *debriefing) fault() {
	switch {
	case d.Fault == "" && d.LookedOver > 0:
		d.say(Fact, "The bench was sound; %s looked over.", many(d.LookedOver, "thing was", "things were"))
	case d.Fault == "":
	case d.FaultThere:
		d.say(Better, "The bench had a fault and has it still: %s. It shows in the readings: take one row again slowly, and change one thing at a time.", What(d.Fault))
	default:
		d.say(Well, "The bench had a fault: %s. It was found and mended%s.", What(d.Fault), map[bool]string{true: fmt.Sprintf(", with %s looked over", many(d.LookedOver, "thing")), false: ""}[d.LookedOver > 0])
	}
}

// time: a fact, no more.
func (d *debriefing) time() {
	if d.Used <= 0 {
		return
	}
	how := "with the guide beside it"
	if d.Examination {
		how = "with the guide switched off"
	}
	d.say(Fact, "It took %s, %s. Nothing is gained by haste.", many(int(math.Ceil(d.Used.Minutes())), "minute"), how)
}

func ohms(v float64) string      { return quantity.Style(0).Exact(v, quantity.Ohm) }
func ohms4(v float64) string     { return quantity.Format(v, quantity.Ohm, 4) }
func divisions(v float64) string { return quantity.Style(0).Exact(v, quantity.Division) }

// tenths is where the needle was, as nearly as an eye sees it.
func tenths(v float64) string { return divisions(math.Round(10*v) / 10) }

func times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}

func capital(text string) string { return strings.ToUpper(text[:1]) + text[1:] }

// many counts things: 1 row, 2 rows; or with words of their own for one and
// for several.
func many(n int, words ...string) string {
	if n == 1 {
		return "1 " + words[0]
	}
	if len(words) > 1 {
		return fmt.Sprintf("%d %s", n, words[1])
	}
	return fmt.Sprintf("%d %ss", n, words[0])
}
