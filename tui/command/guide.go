package command

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
	"example.org/halve/tui/lines"
	"example.org/halve/tui/plain"
	"example.org/halve/tui/table"
)

// HalfDeflection is the procedure that guide goes through.
const HalfDeflection = record.HalfDeflection

// Guide is a practical at a real bench.
type Guide struct {
	Way
	Procedure string
	Lines     bool
	Table     string // a table on file that is to be taken over, "" for none
}

// Run starts a practical, or resumes the one that args or --record names.
func (g Guide) Run(ctx context.Context, d Desk, args []string) error {
	if err := g.check(); err != nil {
		return err
	}
	switch {
	case g.Procedure != HalfDeflection && g.Procedure != MeterCheck:
		return callError("--procedure is %s, not %q", procedures, procedure.CleanText(g.Procedure, maxWord))
	case g.Plain && g.Lines:
		return callError("--plain and --lines exclude each other")
	case len(args) > 0 && g.Record != "":
		return callError("name the record once: as RECORD or with --record")
	}
	name, err := ofRecord(strings.Join(append(args, g.Record), ""), g.Procedure)
	switch {
	case err != nil:
		return err
	case name == MeterCheck:
		return g.meter(ctx, d, args)
	}
	if path := strings.Join(append(args, g.Record), ""); path != "" {
		switch m := of(path); {
		case (m.simulated || m.examination) && d.Terminal && !g.Plain && !g.Lines && g.Bench == "" && g.Table == "":
			g.Record = path
			return Practise{Way: g.Way}.Run(ctx, d) // with its bench, which is no real one
		case m.examination:
			return errExamination
		}
	}
	t, err := g.table()
	if err != nil {
		return err
	}
	s, err := g.sit(d, args, t)
	if err != nil {
		return err
	}
	return errors.Join(g.show(ctx, d, s, t), s.Close())
}

func (g Guide) show(ctx context.Context, d Desk, s *record.Sitting, t *table.Table) error {
	later, err := g.takeOver(d, s, t)
	switch {
	case err != nil:
		return err
	case g.Lines:
		return lines.Run(s, d.In, d.Out)
	case g.talks(d):
		return plain.Run(plain.Options{Sitting: s, Table: later, Minutes: g.Minutes, Now: d.Now, In: d.In, Out: d.Out})
	}
	o := screens(d, g.Way)
	o.Sitting = s
	return look(ctx, o)
}

// talks reports whether the practical is gone through in the plain dialogue.
func (g Guide) talks(d Desk) bool { return !g.Lines && (g.Plain || !d.Terminal) }

// sit opens the record and puts the bench file's bench on its first line. What
// is wrong with the bench or the table is found before, so that no record is
// begun in vain.
func (g Guide) sit(d Desk, args []string, t *table.Table) (*record.Sitting, error) {
	var stated *procedure.Bench
	if g.Bench != "" {
		b, _, err := readBench(g.Bench)
		if err != nil {
			return nil, err
		}
		state := new(procedure.State)
		if err := state.Apply(procedure.Event{Seq: 1, Body: b}); err != nil {
			return nil, ofBenchFile(g.Bench, err)
		}
		if t != nil {
			if _, err := t.Events(state, nil); err != nil {
				return nil, err
			}
		}
		stated = &b
	}
	if t != nil && stated == nil && !g.talks(d) && g.begins(args) {
		return nil, errNoBench
	}
	if len(args) > 0 {
		s, err := record.Resume(args[0], d.Now, d.NewID)
		return furnish(d, s, err, stated, refusal)
	}
	return g.open(d, stated)
}

// begins reports whether the record is to be begun and not resumed.
func (g Guide) begins(args []string) bool { return len(args) == 0 && g.isNew() }

// open begins or resumes the record of --record, or begins one in the data
// directory and says where.
func (w Way) open(d Desk, stated *procedure.Bench) (*record.Sitting, error) {
	s, err := kept(w, d, record.Open, record.BeginIn)
	return furnish(d, s, err, stated, refusal)
}

func refusal(c procedure.Counsel) *string { return c.Refused }

// kept is a record of any procedure as --record asks for it.
func kept[S record.State[S], C record.Counsel[C]](w Way, d Desk, open, begin func(path string, now func() time.Time, newID func() string) (*record.Keeping[S, C], error)) (*record.Keeping[S, C], error) {
	if w.Record != "" {
		return open(w.Record, d.Now, d.NewID)
	}
	s, err := begin(d.DataDir, d.Now, d.NewID)
	if err == nil {
		fmt.Fprintln(d.Err, s.Path())
	}
	return s, err
}

// furnish says what a resumed record had lost, and records the stated bench
// where there is none yet; refused is what a counsel refuses.
func furnish[S record.State[S], C record.Counsel[C], B procedure.Body](d Desk, s *record.Keeping[S, C], err error, stated *B, refused func(C) *string) (*record.Keeping[S, C], error) {
	if err != nil {
		return nil, err
	}
	if note := s.Recovered(); note != "" {
		fmt.Fprintf(d.Err, "halve: %s\n", note)
	}
	if stated == nil {
		return s, nil
	}
	if _, ok := firstBench[B](s.Events()); ok {
		return nil, errors.Join(errHasBench, s.Close())
	}
	c, err := s.Accept(*stated)
	if why := refused(c); err == nil && why != nil {
		err = errors.New(*why)
	}
	if err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// firstBench is the bench that a record began with, before any correction.
func firstBench[B procedure.Body](events []procedure.Event) (first B, ok bool) {
	for _, e := range events {
		if b, ok := e.Body.(B); ok {
			return b, true
		}
	}
	return first, false
}

var errNoBench = CallError{"--table needs the bench that was on the table: name a bench file with --bench, or use --plain, which asks for it"}

var errHasBench = CallError{"the record has a bench already: leave out --bench"}

// ofBenchFile says which bench file an error is about.
func ofBenchFile(path string, err error) error {
	return fmt.Errorf("bench file %s: %w", procedure.CleanText(path, maxPath), err)
}

// maxPath bounds what is shown of a path, in runes.
const maxPath = 500

// maxBenchFile bounds a bench file, in bytes. A full one has about a thousand.
const maxBenchFile = procedure.MaxLine

// readBench reads a bench file: the stated bench, and what it hides for a
// practice, nil where it hides nothing.
func readBench(path string) (procedure.Bench, json.RawMessage, error) {
	bad := func(err error) (procedure.Bench, json.RawMessage, error) {
		return procedure.Bench{}, nil, ofBenchFile(path, err)
	}
	data, err := benchFile(path)
	if err != nil {
		return bad(err)
	}
	b, hidden, err := benchIn(data)
	if err != nil {
		return bad(err)
	}
	return b, hidden, nil
}

// benchFile reads the text of a bench file.
func benchFile(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		var p *os.PathError
		if errors.As(err, &p) {
			err = p.Err
		}
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxBenchFile+1))
	if err != nil {
		return nil, errors.New("it cannot be read; a file is expected")
	}
	if len(data) > maxBenchFile {
		return nil, fmt.Errorf("it is larger than %d bytes; a bench is one short JSON object", maxBenchFile)
	}
	return data, nil
}

// benchIn reads the text of a bench file, as readBench does.
func benchIn(data []byte) (procedure.Bench, json.RawMessage, error) {
	body, hidden, err := benchOf(data, procedure.Words())
	if err != nil {
		return procedure.Bench{}, nil, err
	}
	return body.(procedure.Bench), hidden, nil
}

// benchOf reads the text of a bench file of the procedure that has these
// words.
func benchOf(data []byte, words procedure.Vocabulary) (procedure.Body, json.RawMessage, error) {
	bad := func(err error) (procedure.Body, json.RawMessage, error) { return nil, nil, err }
	data = bytes.TrimPrefix(data, []byte("\ufeff")) // some editors put one
	var syntax *json.SyntaxError
	if len(bytes.TrimSpace(data)) > 0 && errors.As(json.Unmarshal(data, new(any)), &syntax) {
		line := 1 + bytes.Count(data[:syntax.Offset], []byte{'\n'})
		return bad(fmt.Errorf("line %d is no JSON: %w; one JSON object is expected", line, syntax))
	}
	fields, err := procedure.Members(data)
	if err != nil {
		return bad(err)
	}
	if kind, ok := fields["event"]; ok && string(kind) != `"`+procedure.KindBench+`"` {
		return bad(fmt.Errorf("its event is %s where %q is expected", procedure.CleanText(string(kind), maxWord), procedure.KindBench))
	}
	hidden := fields["hidden"]
	delete(fields, "hidden")
	fields["event"] = json.RawMessage(`"` + procedure.KindBench + `"`)
	line, err := json.Marshal(fields)
	if err != nil {
		return bad(err)
	}
	body, err := words.DecodeInput(line)
	return body, hidden, err
}
