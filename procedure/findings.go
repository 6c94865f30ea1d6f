package procedure

import (
	"math"
	"slices"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/fault"
	"example.org/halve/procedure/diagnosis"
	"example.org/halve/safety"
)

// What the diagnosis takes for usual where the bench does not say (domain notes
// E2; common practice, no source).
const (
	usualMovement       = 90     // ohm
	usualMovementSpread = 0.6    // of its logarithm; less blames faults for instruments out of the ordinary
	usualFullScale      = 0.6e-3 // ampere
	usualScaleSpread    = 0.55   // of its logarithm
	usualSourceSpread   = 0.6    // of the logarithm of the source's resistance
	leastSpread         = 0.003
)

// findings is what the readings point to. It is worked out when it is first
// asked for and kept until a reading changes.
func (s *State) findings() []diagnosis.Finding {
	if s.found == nil {
		found := diagnosis.Diagnose(s.DiagnosisInput())
		s.found = &found
	}
	return *s.found
}

// DiagnosisInput is what the diagnosis looks at. Only for a state with a bench;
// it is exported for whoever studies the diagnosis.
func (s *State) DiagnosisInput() diagnosis.Input {
	ev, b := s.evidence(), s.bench
	g := b.Galvanometer
	in := diagnosis.Input{
		Divisions: g.Divisions, LeftZero: !g.Centre(), Step: ev.step, Repeatability: repeatability * ev.step,
		Series: b.series, Shunt: b.shunt, UZero: ev.uZero,
		Movement: diagnosis.Normal{Mean: math.Log(usualMovement), SD: usualMovementSpread},
		Loop:     diagnosis.Normal{Mean: math.Log(ev.emf * g.Divisions / usualFullScale), SD: usualScaleSpread},
		Source:   diagnosis.Normal{Mean: math.Log(defaultSourceOhm), SD: usualSourceSpread},
	}
	if g.Resistance != nil && *g.Resistance > 0 {
		in.Movement = diagnosis.Normal{Mean: math.Log(*g.Resistance), SD: max(leastSpread, ev.uPlateG)}
	}
	u := ev.uEMF / ev.emf
	if g.FullScale != nil {
		in.Loop, u = diagnosis.Normal{Mean: math.Log(ev.plateLoop)}, ev.uPlate
	}
	in.Loop.SD = max(leastSpread, math.Hypot(in.Loop.SD, u))
	if b.Source.Resistance != nil && *b.Source.Resistance > 0 {
		in.Source.Mean = math.Log(*b.Source.Resistance)
	}
	side := 1.0 // to which the needle should go
	var standing apparatus.Setting
	for i := range s.runs {
		r := &s.runs[i]
		if !s.on(r.seq) {
			continue
		}
		run := diagnosis.Run{Seq: r.seq, Series: r.setting, Standing: standing, First: s.diagnosed(r.first)}
		for _, br := range r.branches {
			standing = br.value.setting
			if rs := s.diagnosed(br.readings); s.on(br.value.seq) && len(rs) > 0 {
				run.Branches = append(run.Branches, diagnosis.Branch{Seq: br.value.seq, Shunt: br.value.setting, Readings: rs})
			}
		}
		if len(run.First) == 0 && len(run.Branches) == 0 {
			continue
		}
		in.Runs = append(in.Runs, run)
	}
	for i := range in.Runs {
		run := &in.Runs[i]
		// On a centre-zero scale a row wholly on the left is valid: it is
		// told when the needle changes sides, once.
		own := sideOf(run)
		if i < len(in.Runs)-1 || own != 0 && s.noted(in.Runs, i) {
			if own != 0 && g.Centre() {
				side = own
			}
		}
		if side < 0 {
			mirror(run)
		}
	}
	return in
}

// diagnosed lists the readings in force.
func (s *State) diagnosed(rs []reading) []diagnosis.Reading {
	var out []diagnosis.Reading
	for _, rd := range rs {
		if s.on(rd.seq) {
			d := diagnosis.Reading{Seq: rd.seq, Div: rd.div, Off: rd.off, Drive: s.evidence().driveOf(rd)}
			d.Zero, d.Before = s.evidence().diagnosedZero(rd)
			out = append(out, d)
		}
	}
	return out
}

// sameZero is how far rest readings may lie apart and still be the same place
// of the pointer, in steps of the scale: one on each side of a rounding edge.
const sameZero = 1.5

// diagnosedZero is the rest position at a reading, and as it was read last
// before. Readings of one and the same place are taken together: a change that
// is only their rounding would look like a fault.
func (ev *evidence) diagnosedZero(rd reading) (zero, before float64) {
	if len(ev.zeros) == 0 {
		return 0, 0
	}
	low, high, sum := math.Inf(1), math.Inf(-1), 0.0
	before = ev.zeros[0].div
	for _, z := range ev.zeros {
		low, high, sum = min(low, z.div), max(high, z.div), sum+z.div
		if z.seq < rd.seq {
			before = z.div
		}
	}
	if high-low <= sameZero*ev.step {
		mean := sum / float64(len(ev.zeros))
		return mean, mean
	}
	return ev.zeroFor(rd), before
}

// sideOf is the side to which the needle went at most readings of a run: 1,
// -1, or 0 where it did not surely move.
func sideOf(run *diagnosis.Run) float64 {
	sum := 0.0
	add := func(rs []diagnosis.Reading) {
		for _, rd := range rs {
			if d := rd.Div - rd.Zero; math.Abs(d) >= 1 {
				sum += math.Copysign(1, d)
			}
		}
	}
	add(run.First)
	for _, b := range run.Branches {
		add(b.Readings)
	}
	return max(-1, min(1, sum))
}

// noted reports whether something was noted since the run before.
func (s *State) noted(runs []diagnosis.Run, i int) bool {
	from := 1
	if i > 0 {
		from = runs[i-1].Seq
	}
	for n := from; n <= s.Seq(); n++ {
		if s.ledger.kinds[n] == KindNote && s.on(n) {
			return true
		}
	}
	return false
}

// mirror takes a run as if the needle had gone the other way. The readings are
// the run's own.
func mirror(run *diagnosis.Run) {
	turn := func(rs []diagnosis.Reading) {
		for i := range rs {
			rs[i].Div, rs[i].Zero, rs[i].Before = -rs[i].Div, -rs[i].Zero, -rs[i].Before
		}
	}
	turn(run.First)
	for _, b := range run.Branches {
		turn(b.Readings)
	}
}

// follows is the probability above which a finding changes what to do next
// (interface contract).
const follows = 0.5

// diagnose puts what the readings point to into the counsel, and lets the next
// thing to do be the test that decides.
func (p planner) diagnose() {
	found := p.s.findings()
	for _, f := range found {
		if f.Probability <= 0 {
			continue
		}
		out := Finding{ID: f.ID, Probability: f.Probability, Say: f.Say, Try: f.Try}
		if len(f.Strike) > 0 {
			// One after another: as long as there is more to strike, the
			// readings show it.
			out.Mend = &Mend{Event: KindStrike, Seq: f.Strike[0]}
		}
		p.c.Findings = append(p.c.Findings, out)
	}
	if len(found) > 0 && p.c.Next == nil && !p.s.Finished() {
		p.unlessFaulty()
	}
	if len(found) == 0 || found[0].Probability <= follows || p.c.Next == nil {
		return
	}
	r := p.s.current()
	if found[0].ID == string(fault.Reversed) && p.s.bench.Galvanometer.Centre() {
		return // rows on the left are as good
	}
	if !p.s.Wired() {
		return // no test before the circuit is checked again
	}
	if r == nil || p.row() != nil { // the readings here are kept: striking is for the person
		return
	}
	lead := found[0]
	do := lead.Say + " " + lead.Try
	b := p.s.branch()
	switch act := lead.Test.Act; {
	case act == diagnosis.RaiseSeries && p.triesSinceRow() <= testsAgain:
		set, ok := p.s.bench.series.Exact(lead.Test.Ohm)
		if ok && p.judge(set).Verdict != safety.Stop {
			p.say(StepSeries, Next{Event: KindSetSeries, Ohm: &set.Ohm, TakeOut: takeOut(p.s.bench.SeriesBox, set), Do: do})
		}
	case (act == diagnosis.LowerShunt || act == diagnosis.DoubleShunt) && p.trials(r) <= testsAgain:
		if set, ok := p.s.bench.shunt.Exact(lead.Test.Ohm); ok {
			p.say(StepShunt, Next{Event: KindSetShunt, Ohm: &set.Ohm, TakeOut: takeOut(p.s.bench.ShuntBox, set), Do: do})
		}
	case b != nil && act != diagnosis.ReadFirst && p.s.anyOn(seqs(b.readings)):
		if p.counted(b.readings) <= testsAgain && p.standing().Verdict != safety.Stop {
			p.say(StepShunt, Next{Event: KindReadShunted, Do: do + p.doing(KindReadShunted)})
		}
	case p.s.anyOn(seqs(r.first)) && p.counted(r.first) <= testsAgain && p.judge(r.setting).Verdict != safety.Stop:
		p.say(StepFirst, Next{Event: KindReadFirst, Do: do + p.doing(KindReadFirst)})
	}
}

// doing is what was to be done next anyway, to add to a test of the same kind.
func (p planner) doing(event string) string {
	if p.c.Next.Event != event {
		return ""
	}
	return " " + p.c.Next.Do
}

// mostFindings is the number of findings told at once (interface contract).
const mostFindings = 5

// unlessFaulty takes back that the bench cannot do the practical as far as a
// fault may be what makes it look so: the largest series value is tried first.
// Where nothing is left to try it comes first, and is as probable as the most
// probable fault at the least; the probabilities add up to one.
func (p planner) unlessFaulty() {
	i := slices.IndexFunc(p.c.Findings, func(f Finding) bool { return f.ID == benchUnfit })
	if i < 0 {
		return
	}
	unfit := p.c.Findings[i]
	faults := slices.Delete(p.c.Findings, i, i+1)
	if len(faults) == 0 {
		p.c.Findings = []Finding{unfit}
		return
	}
	if set := p.largest(); p.triesLargest(set) {
		p.c.Findings = faults
		p.propose(set, nil, faults[0].Say+" ")
		return
	}
	all, most := 0.0, 0.0
	for _, f := range faults {
		all, most = all+f.Probability, max(most, f.Probability)
	}
	if unfit.Probability = 1 - all; unfit.Probability < most {
		for j := range faults {
			faults[j].Probability /= all + most
		}
		unfit.Probability = most / (all + most)
	}
	p.c.Findings = slices.Insert(faults, 0, unfit)
	if len(p.c.Findings) > mostFindings {
		p.c.Findings = p.c.Findings[:mostFindings]
	}
}

// triesLargest reports whether the largest series value, set, can tell a fault
// from an unfit bench: not where it was tried, and not where no current flows
// with less.
func (p planner) triesLargest(set apparatus.Setting) bool {
	r := p.s.current()
	return r != nil && r.setting.Ohm < set.Ohm*(1-1e-9) && p.ev.stillNeedle == 0 && p.triesSinceRow() <= 2*testsAgain && p.judge(set).Verdict != safety.Stop
}

// testsAgain is how often a test is asked for before the practical goes on
// without: what it told is in the findings.
const testsAgain = 1

// counted counts the readings in force.
func (p planner) counted(rs []reading) int {
	n := 0
	for _, rd := range rs {
		if p.s.on(rd.seq) {
			n++
		}
	}
	return n
}
