// Package lines is the practical as JSON Lines: an event a line in, a counsel
// a line out. It computes nothing; another program is the person.
package lines

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf16"

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
	for first := true; ; first = false {
		line, tooLong, err := procedure.ReadLine(r)
		if first { // some shells put a byte order mark before what they pipe
			line = bytes.TrimPrefix(line, []byte("\ufeff"))
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) { // half an object is refused as such
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
	line, err := Line(counsel)
	if err != nil {
		return fmt.Errorf("the counsel cannot be written: %w", err)
	}
	if _, err := w.Write(line); err != nil {
		return err
	}
	return w.Flush()
}

// Line writes a value as one line of JSON. A path may hold characters that
// steer a terminal or turn its writing round; like every such character they
// are escaped, so that the line says the same to a program and does nothing to
// whoever looks at it.
func Line(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	text := strings.TrimSuffix(b.String(), "\n")
	var out strings.Builder
	for _, r := range text {
		if unicode.IsGraphic(r) {
			out.WriteRune(r)
			continue
		}
		for _, half := range utf16.Encode([]rune{r}) {
			fmt.Fprintf(&out, `\u%04x`, half)
		}
	}
	return []byte(out.String() + "\n"), nil
}
