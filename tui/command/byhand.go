package command

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"strings"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/bench"
	"example.org/halve/physics/bench/live"
	"example.org/halve/procedure"
	"example.org/halve/procedure/debrief"
	"example.org/halve/procedure/exercise"
	"example.org/halve/procedure/record"
	"example.org/halve/tui/draw"
)

// underHand is a simulated bench under the person's own hands.
type underHand struct {
	live        *live.Bench
	examination bool
	remarks     []debrief.Remark
}

// Live is the bench in time.
func (u *underHand) Live() *live.Bench { return u.live }

// Examination says that the guide is switched off.
func (u *underHand) Examination() bool { return u.examination }

// Over keeps what there is to say when the practice is over.
func (u *underHand) Over(remarks []debrief.Remark) { u.remarks = remarks }

// handRandom is the source of all chance of a bench in time, apart from that
// of the still one: the same seed has the same instruments in either.
func handRandom(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 2)) }

// practise opens the screens with the bench under the person's hands, and says
// at the end how it went.
func (p *Practise) practise(ctx context.Context, d Desk, s *record.Sitting, b *bench.Bench) error {
	u, err := p.underHands(s, b)
	if err != nil {
		return err
	}
	o := screens(d, p.Way)
	o.Sitting, o.Bench, o.Still = s, u, p.Still
	if err := look(ctx, o); err != nil || len(u.remarks) == 0 {
		return err
	}
	t := text{w: d.Out}
	for _, r := range u.remarks {
		for i, line := range draw.Wrap(r.Text, 76) {
			t.line("%s %s", map[bool]string{true: r.Kind.Sign(), false: " "}[i == 0], line)
		}
	}
	return t.err
}

// underHands makes a bench in time of a still one, as its record left it.
func (p *Practise) underHands(s *record.Sitting, b *bench.Bench) (*underHand, error) {
	r := handRandom(p.Seed)
	truth, err := live.DrawTruth(b.Stated().Galvanometer, r).With(p.extra)
	if err != nil {
		return nil, err // build has tried it
	}
	x, err := live.New(b, truth, r, s.State().Wired())
	if err != nil {
		return nil, err
	}
	err = settings(s, func(which live.Box, ohm float64, takeOut []float64) error {
		box := b.Stated().SeriesBox
		if which == live.Shunt {
			box = b.Stated().ShuntBox
		}
		return put(x, which, box, ohm, takeOut)
	})
	if err != nil {
		return nil, err
	}
	// The record says whether it is an examination, also when it is gone on with.
	examination := debrief.IsExamination(s.Events())
	if p.Examination && !examination {
		if s.State().Seq() > 1 {
			return nil, callError("the record was begun with the guide beside it: an examination begins a record of its own")
		}
		if _, err := s.Accept(procedure.Note{Text: debrief.Examination}); err != nil {
			return nil, err
		}
	}
	return &underHand{live: x, examination: p.Examination || examination}, nil
}

// put sets a box as the record says it stands.
func put(x *live.Bench, which live.Box, box apparatus.Box, ohm float64, takeOut []float64) error {
	r, err := apparatus.NewRange(box)
	if err != nil {
		return err
	}
	s, ok := r.Exact(ohm)
	if takeOut != nil {
		s, err = r.Sum(takeOut)
		ok = err == nil
	}
	if !ok {
		return fmt.Errorf("the record sets a box to %g ohm, which it cannot make", ohm)
	}
	return x.Arrange(0, which, s)
}

// plant puts the fault on the bench. Chance picks the same one however the
// bench is worked, so that a record can be gone on with in another way.
func (p *Practise) plant(b *bench.Bench) error {
	err := error(nil)
	if p.byHand || p.Fault == "any" {
		err = live.Plant(b, p.Fault, handRandom(p.Seed))
	} else {
		err = b.Plant(p.Fault)
	}
	if err == nil {
		return nil
	}
	return errors.New(strings.TrimPrefix(strings.TrimPrefix(err.Error(), "bench: "), "live: "))
}

// apart takes what a bench file hides apart: what a still bench has, and what
// only a bench in time has besides.
func apart(hidden []byte) (still []byte, extra live.Extra, err error) {
	var both struct {
		bench.Hidden
		live.Extra
	}
	if err := procedure.Strict(hidden, &both); err != nil {
		return nil, extra, err
	}
	members, err := procedure.Members(hidden)
	if err != nil {
		return hidden, extra, nil // not an object, as the reader of the truths will say
	}
	var own map[string]json.RawMessage
	data, err := json.Marshal(both.Extra)
	if err == nil {
		err = json.Unmarshal(data, &own)
	}
	for name := range own {
		delete(members, name)
	}
	if err == nil {
		still, err = json.Marshal(members)
	}
	return still, both.Extra, err
}

// furniture is the bench of --bench: of a bench file, or of the stock of
// exercises where no file has that name.
func (p *Practise) furniture() (procedure.Bench, []byte, simulationKind, error) {
	if _, err := os.Stat(p.Bench); errors.Is(err, fs.ErrNotExist) {
		if e, ok := exercise.Find(p.Bench); ok {
			b, hidden, err := stocked(e)
			return b, hidden, fromExercise + simulationKind(e.Name), err
		}
		if !strings.ContainsAny(p.Bench, `./\`) {
			return procedure.Bench{}, nil, "", callError("--bench %s is neither a file nor an exercise: 'halve practise --exercises' lists them", procedure.CleanText(p.Bench, maxWord))
		}
	}
	b, hidden, err := readBench(p.Bench)
	if hidden != nil {
		return b, hidden, fromHidden, err
	}
	return b, nil, fromFile, err
}

func stocked(e exercise.Exercise) (procedure.Bench, []byte, error) {
	data, err := e.File()
	if err != nil {
		return procedure.Bench{}, nil, err
	}
	return benchIn(data)
}

// exercise is the name of the exercise that a simulation is of.
func (s simulation) exercise() (name string, ok bool) {
	return strings.CutPrefix(string(s.drawn), string(fromExercise))
}

// hiddenOf is what an exercise of the stock hides.
func hiddenOf(name string) ([]byte, error) {
	e, ok := exercise.Find(name)
	if !ok {
		return nil, fmt.Errorf("this record is of the exercise %q, which this halve does not have", procedure.CleanText(name, maxWord))
	}
	_, hidden, err := stocked(e)
	return hidden, err
}

// inform prints the stock of exercises, the schema of a bench file, or an
// example of one.
func (p Practise) inform(d Desk) error {
	switch {
	case p.Schema, p.Example:
		read := exercise.Schema
		if p.Example {
			read = exercise.Example
		}
		data, err := read()
		if err == nil {
			_, err = d.Out.Write(data)
		}
		return err
	}
	t := text{w: d.Out}
	t.line("The benches of a college, to practise on: halve practise --bench NAME, with")
	t.line("--seed N for another of the same kind. A level of 1 is easy, 3 is hard. Those")
	t.line("with a fault show what it looks like, and how it is found and mended.")
	t.line("")
	for _, e := range exercise.List() {
		t.line("%d  %-26s %s", e.Level, e.Name, e.About)
	}
	return t.err
}
