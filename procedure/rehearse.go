package procedure

import (
	"math"
	"strings"
	"time"

	"example.org/halve/physics"
	"example.org/halve/physics/apparatus"
	"example.org/halve/safety"
)

// supposed is a galvanometer with its source as a plan supposes them.
type supposed struct {
	g, k   float64 // ohm, A/div
	emf, r float64 // V, ohm
	zero   float64 // where the needle rests without current, div
}

// first is the needle's true deflection at a series value, div.
func (m supposed) first(series float64) float64 {
	d, err := physics.FirstDeflection(m.emf, series+m.r, m.g, m.k)
	if err != nil {
		return math.Inf(1)
	}
	return d
}

// shunted is the same with the shunt in.
func (m supposed) shunted(series, shunt float64) float64 {
	d, err := physics.ShuntedDeflection(m.emf, series+m.r, m.g, shunt, m.k)
	if err != nil {
		return math.Inf(1)
	}
	return d
}

// halving is the shunt that halves the deflection at a series value, ohm.
func (m supposed) halving(series float64) float64 {
	all := series + m.r
	return all * m.g / (all + m.g)
}

// wanted is the series value that brings the needle to where it is best read,
// ohm; it is not above 0 where none does.
func (m supposed) wanted(divisions float64) float64 {
	return m.emf/(m.k*goodShare*divisions) - m.r - m.g
}

// see is a true deflection as it is read off the scale, nil beyond its end.
func (m supposed) see(theta float64, g apparatus.Galvanometer) *float64 {
	step := g.Step()
	x := math.Round(math.Round((theta+m.zero)/step)*step*1e9) / 1e9
	if !(math.Abs(x) <= g.Divisions) {
		return nil
	}
	return &x
}

// look is the reading of the given kind at the state's settings.
func (m supposed) look(s *State, kind string) Body {
	g := s.bench.Galvanometer
	series, _ := s.SeriesOhm()
	shunt, _ := s.ShuntOhm()
	switch kind {
	case KindReadFirst:
		div := m.see(m.first(series), g)
		return FirstRead{Div: div, OffScale: div == nil}
	case KindReadShunted:
		div := m.see(m.shunted(series, shunt), g)
		return ShuntedRead{Div: div, OffScale: div == nil}
	}
	return ZeroRead{Div: *m.see(0, g)}
}

// rehearsal is a whole practical on a supposed galvanometer, without scatter:
// every counsel obeyed.
type rehearsal struct {
	on     supposed
	bodies []Body // what happened after the bench was stated
	state  *State
	last   Counsel
	start  *PlanStart // nil where no series value may be tried at all
}

// maxRehearsal is far more than a practical takes.
const maxRehearsal = 200

// rehearse obeys every counsel from a state in which only the bench is stated.
func rehearse(stated *State, on supposed) rehearsal {
	r := rehearsal{on: on, state: stated.Clone()}
	for r.last = advise(r.state); r.last.Next != nil && len(r.bodies) < maxRehearsal; r.last = advise(r.state) {
		n := r.last.Next
		var body Body
		switch n.Event {
		case KindWired:
			body = Wired{}
		case KindSetSeries:
			body = SeriesSet{*n.Ohm, n.TakeOut}
		case KindSetShunt:
			body = ShuntSet{*n.Ohm, n.TakeOut}
		case KindKeepRow:
			body = RowKept{}
		case KindFinish:
			body = Finish{}
		default:
			body = on.look(r.state, n.Event)
		}
		if !r.take(body) {
			return r
		}
		if n.Event == KindSetSeries && r.start == nil {
			r.start = &PlanStart{SeriesOhm: *n.Ohm, TakeOut: n.TakeOut, Do: n.Do, Clearance: *advise(r.state).Clearance}
		}
	}
	return r
}

// take adds an event, ten seconds after the one before.
func (r *rehearsal) take(b Body) bool {
	seq := r.state.Seq() + 1
	err := r.state.Apply(Event{Seq: seq, At: time.Time{}.Add(time.Duration(seq) * 10 * time.Second), Body: b})
	if err == nil {
		r.bodies = append(r.bodies, b)
	}
	return err == nil
}

// complete reports whether the practical came to its end with all its rows.
func (r rehearsal) complete() bool {
	return r.state.Finished() && r.result() != nil && len(r.rows()) >= RowsWanted
}

// result is the outcome, nil where there is none.
func (r rehearsal) result() *Result {
	if x := r.last.Result; x != nil && x.Resistance != nil && x.UResistance != nil && x.Merit != nil && x.UMerit != nil {
		return x
	}
	return nil
}

// planRow is a kept row's settings.
type planRow struct{ series, shunt apparatus.Setting }

func (r rehearsal) rows() []planRow {
	var out []planRow
	for _, k := range r.state.kept {
		if r.state.rowOn(k) {
			out = append(out, planRow{r.state.runs[k.run].setting, r.state.runs[k.run].branches[k.branch].value.setting})
		}
	}
	return out
}

// again takes the same steps with other instruments: the readings are read
// anew, the settings stay. The result is nil where there is none.
func (r rehearsal) again(stated *State) *Result {
	n := rehearsal{on: r.on, state: stated.Clone()}
	for _, b := range r.bodies {
		switch kind := b.Kind(); kind {
		case KindZero, KindReadFirst, KindReadShunted:
			b = r.on.look(n.state, kind)
		}
		if !n.take(b) {
			return nil
		}
	}
	n.last = advise(n.state)
	return n.result()
}

// failure says in a sentence why a rehearsal did not come to its end.
func (r rehearsal) failure() (say, try string) {
	read, moved := false, false
	for _, rd := range r.state.firsts() {
		read, moved = true, moved || rd.off || math.Abs(rd.div) > 2*r.state.bench.Galvanometer.Step()
	}
	if read && !moved { // and no joint to be looked at yet
		return "The needle would hardly move at any series value that is safe to try.", "Take a source of more EMF, or a more sensitive galvanometer."
	}
	for _, f := range r.last.Findings {
		if f.ID == benchUnfit {
			return f.Say, strings.TrimPrefix(f.Try, "Open K1. ") // nobody is at the bench yet
		}
	}
	if g := r.state.bench.Galvanometer; g.Divisions/g.Step() < 10 {
		return "The scale is too coarse: no five rows come of it.", "Take a galvanometer with a finer scale."
	}
	return "No five rows come of these instruments, whatever the boxes are set to.", "Take boxes with finer steps."
}

// spoiledStart reports whether not even the largest series value may be tried.
func (r rehearsal) spoiledStart() bool {
	return r.start == nil || r.start.Clearance.Verdict == safety.Stop
}
