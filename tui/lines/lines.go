// Package lines is the practical as JSON Lines: an event a line in, a counsel
// a line out. It computes nothing; another program is the person.
package lines

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"example.org/halve/procedure"
)

// A Counsel is what the procedure has to say.
type Counsel[C any] interface {
	// Refuse is the counsel with what was wrong with the event that was sent,
	// KeptIn the same with the name of the record.
	Refuse(why string) C
	KeptIn(record string) C
}

// A Sitting is the practical that is being kept; *record.Sitting and
// *record.MeterSitting are such.
type Sitting[C Counsel[C]] interface {
	// Decode reads an event as it comes from a program.
	Decode(line []byte) (procedure.Body, error)
	// Accept takes an event and returns once it is on the disk.
	Accept(procedure.Body) (C, error)
	Counsel() C
	Path() string
}

// Run answers every line of in with one line on out, and writes one line
// before the first. An answer is written only after its event is synced, so
// whoever has read it knows that the event is in the record. What cannot be
// taken is answered with refused and changes nothing. Run returns nil at the
// end of the input, and an error only where in cannot be read or out cannot
// be written.
func Run[C Counsel[C]](s Sitting[C], in io.Reader, out io.Writer) error {
	w := bufio.NewWriter(out)
	if err := write(w, s.Counsel().KeptIn(s.Path())); err != nil {
		return err
	}
	r := bufio.NewReader(in)
	for {
		line, tooLong, err := procedure.ReadLine(r)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("the input cannot be read: %w", err)
		}
		if err := write(w, answer(s, line, tooLong)); err != nil {
			return err
		}
	}
}

// answer takes one line of input to the sitting. What cannot be taken is
// answered with the counsel of before.
func answer[C Counsel[C]](s Sitting[C], line []byte, tooLong bool) C {
	if tooLong {
		return s.Counsel().Refuse(fmt.Sprintf("the line is longer than %d bytes; an event is one short JSON object", procedure.MaxLine))
	}
	body, err := s.Decode(line)
	if err != nil {
		return s.Counsel().Refuse(err.Error())
	}
	c, err := s.Accept(body)
	if err != nil {
		return s.Counsel().Refuse(err.Error())
	}
	return c
}

func write(w *bufio.Writer, counsel any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	if err := e.Encode(counsel); err != nil {
		return fmt.Errorf("the counsel cannot be written: %w", err)
	}
	return w.Flush()
}
