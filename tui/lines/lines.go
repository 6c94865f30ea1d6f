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

// A Sitting is the practical that is being kept; *record.Sitting is one.
type Sitting interface {
	// Accept takes an event and returns once it is on the disk.
	Accept(procedure.Body) (procedure.Counsel, error)
	Counsel() procedure.Counsel
	Path() string
}

// Run answers every line of in with one line on out, and writes one line
// before the first. An answer is written only after its event is synced, so
// whoever has read it knows that the event is in the record. What cannot be
// taken is answered with refused and changes nothing. Run returns nil at the
// end of the input, and an error only where in cannot be read or out cannot
// be written.
func Run(s Sitting, in io.Reader, out io.Writer) error {
	w := bufio.NewWriter(out)
	first := s.Counsel()
	first.Record = s.Path()
	if err := write(w, first); err != nil {
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

// answer takes one line of input to the sitting.
func answer(s Sitting, line []byte, tooLong bool) procedure.Counsel {
	if tooLong {
		return refuse(s, fmt.Errorf("the line is longer than %d bytes; an event is one short JSON object", procedure.MaxLine))
	}
	body, err := procedure.DecodeInput(line)
	if err != nil {
		return refuse(s, err)
	}
	c, err := s.Accept(body)
	if err != nil {
		return refuse(s, err)
	}
	return c
}

// refuse is the counsel of before, with what was wrong.
func refuse(s Sitting, err error) procedure.Counsel {
	c := s.Counsel()
	why := err.Error()
	c.Refused = &why
	return c
}

func write(w *bufio.Writer, c procedure.Counsel) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	if err := e.Encode(c); err != nil {
		return fmt.Errorf("the counsel cannot be written: %w", err)
	}
	return w.Flush()
}
