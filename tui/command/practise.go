package command

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/bench"
	"example.org/halve/physics/bench/live"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/debrief"
	"example.org/halve/procedure/record"
	"example.org/halve/tui/auto"
	"example.org/halve/tui/plain"
)

// Practise is a practical on a simulated bench.
type Practise struct {
	Way
	Procedure  string
	Seed       uint64
	SeedGiven  bool   // it was asked for, and is not what is taken if nobody does
	Fault      string // what is wrong with the bench, "any" for chance's pick
	Auto, JSON bool
	// Still shows the needle only when it has come to rest.
	Still bool
	// Examination switches the guide off.
	Examination bool
	// Exercises, Schema and Example print the stock of exercises, the schema
	// of a bench file and an example of one.
	Exercises, Schema, Example bool

	byHand bool       // the person's own hands and eyes work the bench
	pace   *pace      // with Auto
	extra  live.Extra // what the bench file hides of a bench in time
}

// Run practises: on the screens, in the plain dialogue, or by a scripted
// student.
func (p Practise) Run(ctx context.Context, d Desk) error {
	if err := p.check(); err != nil {
		return err
	}
	if p.Exercises || p.Schema || p.Example {
		return p.inform(d)
	}
	p.byHand = d.Terminal && !p.Auto && !p.Plain
	switch {
	case p.JSON && !p.Auto:
		return callError("--json goes with --auto")
	case p.Examination && !p.byHand:
		return callError("--examination is for the screens, in a terminal: the plain dialogue and --auto live by the guide")
	case p.Auto && p.Plain:
		return callError("--auto and --plain exclude each other")
	case p.Procedure != "" && p.Procedure != HalfDeflection && p.Procedure != MeterCheck:
		return callError("--procedure is %s, not %q", procedures, procedure.CleanText(p.Procedure, maxWord))
	}
	if p.Auto {
		p.pace = &pace{next: d.Now()}
		d.Now = p.pace.now
	}
	name, err := ofRecord(p.Record, cmp.Or(p.Procedure, HalfDeflection))
	switch {
	case err != nil:
		return err
	case name == MeterCheck:
		return p.meter(ctx, d)
	}
	s, b, err := p.sit(d)
	if err != nil {
		return err
	}
	return errors.Join(p.show(ctx, d, s, b), s.Close())
}

// A pace is the clock of the scripted student, who takes the same time over
// everything: what the zeros say at a reading depends on when they were read,
// and is not to depend on how fast the program runs.
type pace struct{ next time.Time }

// perEvent is about what a person takes to set, read and write down (common
// practice, no source).
const perEvent = 20 * time.Second

func (c *pace) now() time.Time {
	t := c.next
	c.next = t.Add(perEvent)
	return t
}

// again takes seed and fault from the record that is resumed, whose latest event
// is given, and refuses what was asked for instead. The scripted student goes on
// as if nobody had been away.
func (p *Practise) again(sim simulation, latest procedure.Event) error {
	switch {
	case p.SeedGiven && p.Seed != sim.seed:
		return callError("the record's bench has seed %d, not %d: leave out --seed, or begin another record", sim.seed, p.Seed)
	case p.Fault != "" && p.Fault != sim.fault:
		has := "no --fault"
		if sim.fault != "" {
			has = "--fault " + procedure.CleanText(sim.fault, maxWord)
		}
		return callError("the record was begun with %s, not --fault %s: leave it out, or begin another record", has, procedure.CleanText(p.Fault, maxWord))
	}
	p.Seed, p.Fault = sim.seed, sim.fault
	if p.pace != nil {
		p.pace.next = latest.At.Add(perEvent)
	}
	return nil
}

func (p Practise) show(ctx context.Context, d Desk, s *record.Sitting, b *bench.Bench) error {
	switch {
	case p.Auto:
		return p.obey(d, s, b)
	case p.Plain || !d.Terminal:
		planted := b.Fault()
		over := func(of debrief.Practice) []debrief.Remark {
			of.Truth, of.Fault, of.FaultThere = b.Hidden(), planted, b.Fault() != ""
			return debrief.Of(of)
		}
		return plain.Run(plain.Options{Sitting: s, Needle: b, Over: over, Minutes: p.Minutes, Now: d.Now, In: d.In, Out: d.Out})
	}
	return p.practise(ctx, d, s, b)
}

// errExamination refuses the guide to whoever is examined.
var errExamination = callError("the record is an examination: go on with it on the screens, in a terminal; the plain dialogue, --lines and --auto live by the guide")

// A simulation is how a simulated bench came about. It stands in the label of
// the record's bench, so that nobody takes a practice for a measurement and
// so that the same bench can be set up again when the record is resumed.
type simulation struct {
	seed  uint64
	drawn simulationKind
	fault string // as it was asked for, "" for none
}

type simulationKind string

const (
	fromStock  simulationKind = "simulated bench"
	fromFile   simulationKind = "simulated from a bench file"
	fromHidden simulationKind = "simulated from the hidden values of a bench file"
	// An exercise of the stock is named behind it.
	fromExercise simulationKind = "simulated exercise "
)

const (
	seedMark       = ", seed "
	faultMark      = ", fault "
	labelSeparator = "; " // between our words and the bench's own label
)

// label puts our words first; of the bench's own there is as much as a label
// has room for.
func (s simulation) label(own string) string {
	how := fmt.Sprintf("%s%s%d", s.drawn, seedMark, s.seed)
	if s.fault != "" {
		how += faultMark + s.fault
	}
	if own == "" {
		return how
	}
	return procedure.CleanText(how+labelSeparator+own, apparatus.MaxLabel)
}

// states reports whether a bench file states the bench that a record of this
// simulation began with.
func (s simulation) states(file, recorded apparatus.Bench) bool {
	file.Label = s.label(file.Label)
	return reflect.DeepEqual(file, recorded)
}

// simulationOf reads a label; ok is false for that of a real bench.
func simulationOf(label string) (s simulation, ok bool) {
	how, _, _ := strings.Cut(label, labelSeparator)
	how, s.fault, _ = strings.Cut(how, faultMark)
	drawn, seed, _ := strings.Cut(how, seedMark)
	s.drawn = simulationKind(drawn)
	if _, exercise := s.exercise(); !exercise && !slices.Contains([]simulationKind{fromStock, fromFile, fromHidden}, s.drawn) {
		return s, false
	}
	n, err := strconv.ParseUint(seed, 10, 64)
	s.seed = n
	return s, err == nil
}

// made is how a record came about.
type made struct {
	simulated   bool // at a simulated bench, at which it is gone on with
	examination bool // at one, with the guide switched off
}

// of says how a record came about; one that cannot be read came about in no
// way, and whoever opens it says why.
func of(path string) (m made) {
	log, err := record.Read(path)
	if err != nil {
		return m
	}
	b, _ := firstBench[procedure.Bench](log.Events)
	sim, ok := simulationOf(b.Label)
	m.simulated = ok && (sim.drawn != fromHidden || !log.State.Finished())
	m.examination = debrief.IsExamination(log.Events)
	return m
}

// random is the source of all chance of a simulated bench.
func random(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0)) }

// sit opens the record and sets up its simulated bench; Seed is then that of
// the record. An --auto practice without a record is kept in memory.
func (p *Practise) sit(d Desk) (*record.Sitting, *bench.Bench, error) {
	sim := simulation{seed: p.Seed, drawn: fromStock, fault: p.Fault}
	var stated apparatus.Bench
	var hidden []byte
	if p.Bench != "" {
		b, h, drawn, err := p.furniture()
		if err != nil {
			return nil, nil, err
		}
		stated, hidden, sim.drawn = b.Bench, h, drawn
	}
	// A new record is begun only once its bench stands.
	var b *bench.Bench
	if p.isNew() {
		var err error
		if b, stated, err = p.build(sim, stated, hidden); err != nil {
			return nil, nil, err
		}
	}
	s, err := p.begin(d)
	if err != nil {
		return nil, nil, err
	}
	give := func(err error) (*record.Sitting, *bench.Bench, error) {
		return nil, nil, errors.Join(err, s.Close())
	}
	recorded, resumed := firstBench[procedure.Bench](s.Events())
	if resumed {
		given := sim.drawn
		var ok bool
		switch sim, ok = simulationOf(recorded.Label); {
		case p.Bench != "" && !(sim.drawn == fromHidden && given == fromHidden && sim.states(stated, recorded.Bench)):
			return give(errHasBench)
		case !ok:
			return give(fmt.Errorf("%s was made at a real bench: go on with halve guide", procedure.CleanText(p.Record, maxPath)))
		case sim.drawn == fromHidden && p.Bench == "":
			return give(errors.New("what its bench file hides is not in the record: name the file as well, halve practise --record RECORD --bench FILE"))
		}
		events := s.Events()
		if debrief.IsExamination(events) && !p.byHand {
			return give(errExamination)
		}
		if err := p.again(sim, events[len(events)-1]); err != nil {
			return give(err)
		}
		stated = recorded.Bench
		if name, ok := sim.exercise(); ok {
			var err error
			if hidden, err = hiddenOf(name); err != nil {
				return give(err)
			}
		}
	}
	if b == nil {
		if b, stated, err = p.build(sim, stated, hidden); err != nil {
			return give(err)
		}
	}
	if resumed {
		if err := arrange(b, s); err != nil {
			return give(err)
		}
		for _, id := range debrief.PutRight(s.Events()) {
			b.Look(id)
		}
		return s, b, nil
	}
	stated.Label = sim.label(stated.Label)
	if _, err := furnish(d, s, nil, &procedure.Bench{Bench: stated}, refusal); err != nil {
		return nil, nil, err
	}
	return s, b, nil
}

// isNew reports whether a record is to be begun and none to be resumed.
func (w Way) isNew() bool {
	_, err := os.Lstat(w.Record)
	return w.Record == "" || errors.Is(err, fs.ErrNotExist)
}

// build sets up the simulated bench, with its fault, and returns it with what
// is stated of it.
func (p *Practise) build(sim simulation, stated apparatus.Bench, hidden []byte) (*bench.Bench, apparatus.Bench, error) {
	r := random(sim.seed)
	if sim.drawn == fromStock {
		stated = bench.Stock(r)
	}
	truth := bench.Draw(stated, r)
	inFile := false // the bench file plants the fault
	if hidden != nil {
		still, extra, err := apart(hidden)
		if err != nil {
			err = fmt.Errorf("hidden: %w", err)
		} else if truth, err = truth.With(still, stated); err != nil {
			err = errors.New(strings.TrimPrefix(err.Error(), "bench: "))
		} else {
			_, err = live.DrawTruth(stated.Galvanometer, handRandom(sim.seed)).With(extra)
		}
		if p.extra = extra; p.Fault == "" && extra.Fault != nil {
			p.Fault, inFile = *extra.Fault, true
		}
		if err != nil {
			return nil, stated, ofBenchFile(p.Bench, err)
		}
	}
	b, err := bench.New(stated, truth, r)
	if err != nil {
		return nil, stated, err
	}
	if p.Fault != "" {
		switch err := p.plant(b); {
		case err != nil && inFile:
			return nil, stated, ofBenchFile(p.Bench, fmt.Errorf("hidden: %w", err))
		case err != nil:
			return nil, stated, CallError{err.Error()}
		}
	}
	return b, stated, nil
}

// arrange sets the boxes of a simulated bench as its record says they stand.
func arrange(b *bench.Bench, s *record.Sitting) error {
	return settings(s, func(which live.Box, ohm float64, takeOut []float64) error {
		if which == live.Shunt {
			return b.SetShunt(ohm, takeOut)
		}
		return b.SetSeries(ohm, takeOut)
	})
}

// settings gives each setting of a box that stands in the record, in order.
func settings(s *record.Sitting, set func(which live.Box, ohm float64, takeOut []float64) error) error {
	for _, e := range s.Events() {
		if s.State().Struck(e.Seq) != 0 {
			continue
		}
		var err error
		switch body := e.Body.(type) {
		case procedure.SeriesSet:
			err = set(live.Series, body.Ohm, body.TakeOut)
		case procedure.ShuntSet:
			err = set(live.Shunt, body.Ohm, body.TakeOut)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (p Practise) begin(d Desk) (*record.Sitting, error) {
	if p.Auto && p.Record == "" {
		return record.InMemory(d.Now), nil
	}
	return p.open(d, nil)
}

// truth is what a simulated bench hid.
type truth struct {
	Resistance       float64 `json:"resistance_ohm"`
	Merit            float64 `json:"merit_A_per_div"`
	EMF              float64 `json:"emf_V"`
	SourceResistance float64 `json:"source_resistance_ohm"`
	Fault            *string `json:"fault"` // null: the bench is sound
}

// obey lets the scripted student loose and prints what came of it.
func (p Practise) obey(d Desk, s *record.Sitting, b *bench.Bench) error {
	planted := b.Fault()
	run, err := auto.Obey(s, b)
	return errors.Join(p.tell(d, s, b, planted, run), incomplete(run, s.State().Finished(), err))
}

// incomplete says why a practical came to no end, nil where it did: the
// counsel could not be obeyed, or it had none for these instruments.
func incomplete(run auto.Run, finished bool, err error) error {
	if err != nil {
		return fmt.Errorf("not complete: because %w", err)
	}
	if finished {
		return nil
	}
	why := "the counsel has nothing more to ask for"
	for _, f := range run.Counsel.Findings {
		if f.ID == "bench-unfit" {
			why = strings.ToLower(f.Say[:1]) + f.Say[1:] + " " + f.Try
			break
		}
	}
	return fmt.Errorf("not complete: because %s", why)
}

// tell prints what came of a run.
func (p Practise) tell(d Desk, s *record.Sitting, b *bench.Bench, planted string, run auto.Run) error {
	h := b.Hidden()
	hidden := truth{Resistance: h.Resistance, Merit: h.Merit, EMF: h.EMF, SourceResistance: h.SourceResistance}
	if planted != "" {
		hidden.Fault = &planted
	}
	if p.JSON {
		return writeJSON(d.Out, struct {
			Seed           uint64            `json:"seed"`
			Truth          truth             `json:"truth"`
			Events         []procedure.Event `json:"events"`
			Counsel        procedure.Counsel `json:"counsel"`
			Pinned         int               `json:"pinned"`
			TapsOffScale   int               `json:"taps_off_scale"`
			SeriesSettings []int             `json:"series_settings"`
			ShuntSettings  []int             `json:"shunt_settings"`
		}{p.Seed, hidden, run.Events, run.Counsel, run.Pinned, run.TapsOffScale, run.SeriesSettings, run.ShuntSettings})
	}
	t := text{w: d.Out}
	t.record(run.Events, s.State().Struck, plain.Describe)
	t.line("")
	t.result(run.Counsel)
	t.line("")
	t.line("The hidden truth         G = %s%s", quantity.Format(h.Resistance, quantity.Ohm, 4), off(run.Counsel.Result, h.Resistance, true))
	t.line("                         k = %s%s", quantity.Powers.Format(h.Merit, quantity.AmperePerDivision, 4), off(run.Counsel.Result, h.Merit, false))
	t.line("                         E = %s, its internal resistance %s", quantity.Format(h.EMF, quantity.Volt, 4), quantity.Format(h.SourceResistance, quantity.Ohm, 3))
	if planted != "" {
		named := "the findings never named it first with more than one half"
		if run.Mended > 0 {
			named = fmt.Sprintf("named, and mended, after event %d", run.Mended)
		}
		t.line("                         fault %s: %s", planted, named)
	}
	t.line("The needle went past the last mark: %s after clear, %s on a tap.", times(run.Pinned), times(run.TapsOffScale))
	if s.Path() != "" {
		t.line("Record: %s", procedure.CleanText(s.Path(), maxPath))
	}
	return t.err
}

// off says how far a result lies from the truth, in its own uncertainties.
func off(r *procedure.Result, truth float64, resistance bool) string {
	if r == nil {
		return ""
	}
	v, u := known(r.Merit), known(r.UMerit)
	if resistance {
		v, u = known(r.Resistance), known(r.UResistance)
	}
	if d := math.Abs(v-truth) / u; !math.IsNaN(d) && !math.IsInf(d, 0) {
		return fmt.Sprintf("  (the result is %.1f standard uncertainties off)", d)
	}
	return ""
}

func times(n int) string {
	switch n {
	case 0:
		return "never"
	case 1:
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}
