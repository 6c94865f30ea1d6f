package record

import (
	"bytes"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"time"

	"example.org/halve/procedure"
)

// HalfDeflection is the name that the half-deflection practical has in a
// header.
const HalfDeflection = "half-deflection"

// Bounds within which a file is taken for the record of a practical. A long
// one has some hundreds of events and some tens of kilobytes.
const (
	MaxSize   = 64 << 20 // bytes
	MaxEvents = 100_000
)

const (
	magic   = "halve" // what the header's "record" says
	version = 1
	// headStart is how every header that we write begins, to tell a record
	// cut short from a file of another kind.
	headStart = `{"record":"` + magic + `"`
	// A sum is the last member of its line: sumStart, eight digits, sumEnd.
	sumStart = `,"sum":"`
	sumEnd   = `"}`
	sumLen   = len(sumStart) + 8 + len(sumEnd)
)

// A Header is the first line of a record. ID and the procedure are free of
// control characters; a header written by hand may lack ID and Begun.
type Header struct {
	Procedure string
	ID        string
	Begun     time.Time
}

// Kept is a record as it was read.
type Kept[S any] struct {
	Path   string
	Header Header
	Events []procedure.Event
	// State is what the events add up to.
	State S
	// Cut is what follows the last whole line, where the file was cut off
	// within a line; else nil.
	Cut []byte

	lines   int  // how many whole lines there are, header and blank ones included
	whole   int  // their length, bytes
	unended bool // the last whole line lacks its newline
}

// CutNote says in one line what was cut off, and is empty if nothing was.
func (l *Kept[S]) CutNote() string {
	if l.Cut == nil {
		return ""
	}
	return fmt.Sprintf("the record was cut off within line %d, of which %d bytes are left; events before it, all whole: %d",
		l.lines+1, len(l.Cut), len(l.Events))
}

// encode writes the header as the first line of a record, without a newline.
func (h Header) encode() ([]byte, error) {
	line, err := json.Marshal(struct {
		Record    string    `json:"record"`
		Version   int       `json:"version"`
		Procedure string    `json:"procedure"`
		ID        string    `json:"id"`
		Begun     time.Time `json:"begun"`
	}{magic, version, h.Procedure, h.ID, h.Begun})
	if err != nil {
		return nil, fmt.Errorf("the header cannot be written: %w", err)
	}
	return seal(line), nil
}

// decodeHeader reads the first line of a file. Keys that it does not know are
// passed over.
func decodeHeader(line []byte) (Header, error) {
	var kind string
	fields, err := procedure.Members(line)
	if len(line) > procedure.MaxLine {
		err = fmt.Errorf("it is longer than %d bytes", procedure.MaxLine)
	}
	if err != nil && bytes.HasPrefix(line, []byte(headStart)) {
		return Header{}, damaged(1, fmt.Errorf("the header: %w", err))
	}
	if err != nil || json.Unmarshal(fields["record"], &kind) != nil || kind != magic {
		return Header{}, ErrNoRecord
	}
	var v float64
	if err := json.Unmarshal(fields["version"], &v); err != nil {
		return Header{}, damaged(1, errors.New("the header has no version that can be read"))
	}
	if v != version {
		return Header{}, fmt.Errorf("this is a record of version %g and this program reads version %d: use the program that wrote it, or a newer one", v, version)
	}
	if err := checkSum(line); err != nil {
		return Header{}, damaged(1, err)
	}
	var h Header
	for key, into := range map[string]any{"procedure": &h.Procedure, "id": &h.ID, "begun": &h.Begun} {
		if raw, ok := fields[key]; ok && json.Unmarshal(raw, into) != nil {
			return Header{}, damaged(1, fmt.Errorf("the header's %s cannot be read", key))
		}
	}
	h.Procedure = procedure.CleanText(h.Procedure, 40)
	h.ID = procedure.CleanText(h.ID, 100)
	return h, nil
}

var (
	// ErrNoRecord is a file that does not begin as a record does.
	ErrNoRecord = errors.New("this is not a record of a practical: give a record, or a name that is not taken yet")
	// errNothingYet is a record that was cut off before its first line was
	// whole.
	errNothingYet = errors.New("the record was cut off within its first line, before anything was recorded; going on with it begins it anew")
)

// byteOrderMark is what some editors put before a file's first line.
const byteOrderMark = "\ufeff"

// parse reads a whole record. Its last line may be cut off; any other line
// that cannot be read or does not follow from those before it is an error.
func (p Practical[S, C]) parse(data []byte) (*Kept[S], error) {
	header, size, ended, err := parseHeader(data)
	if err != nil {
		return nil, err
	}
	if header.Procedure != p.Name {
		return nil, fmt.Errorf("this is a record of the procedure %q, and one of %q is expected here", header.Procedure, p.Name)
	}
	l := &Kept[S]{Header: header, State: p.Empty(), lines: 1, whole: size}
	for l.whole < len(data) {
		rest := data[l.whole:]
		var line []byte
		line, size, ended = firstLine(rest)
		blank := len(trim(line)) == 0
		if size == len(rest) && !blank && torn(line, ended) {
			l.Cut = rest
			return l, nil
		}
		l.lines++
		if !blank {
			if err := p.take(l, trim(line)); err != nil {
				return nil, err
			}
		}
		l.whole += size
	}
	l.unended = !ended
	return l, nil
}

// parseHeader reads a record's first line: what it says, its size with its
// newline and with a byte order mark before it, and whether it has a newline.
func parseHeader(data []byte) (h Header, size int, ended bool, err error) {
	text := bytes.TrimPrefix(data, []byte(byteOrderMark))
	line, size, ended := firstLine(text)
	if size == len(text) && torn(line, ended) && begun(line) {
		return h, 0, false, errNothingYet
	}
	size += len(data) - len(text)
	h, err = decodeHeader(trim(line))
	return h, size, ended, err
}

// begun reports whether a piece of a first line is one of a header: of an
// empty file, even that.
func begun(piece []byte) bool {
	return bytes.HasPrefix(piece, []byte(headStart)) || bytes.HasPrefix([]byte(headStart), piece)
}

// take adds the event that the next line holds.
func (p Practical[S, C]) take(l *Kept[S], line []byte) error {
	place := len(l.Events) + 1
	if place > MaxEvents {
		return fmt.Errorf("there are more than %d events: no practical is as long as that", MaxEvents)
	}
	err := checkSum(line)
	var e procedure.Event
	if err == nil {
		e, err = p.Words.DecodeRecorded(line, place)
	}
	if err == nil {
		err = l.State.Apply(e)
	}
	if err != nil {
		return damaged(l.lines, err)
	}
	l.Events = append(l.Events, e)
	return nil
}

// firstLine returns the first line of data without its newline, its size with
// it, and whether it has one.
func firstLine(data []byte) (line []byte, size int, ended bool) {
	line, _, ended = bytes.Cut(data, []byte{'\n'})
	size = len(line)
	if ended {
		size++
	}
	return line, size, ended
}

// torn reports whether the last line of a file was cut off while it was being
// written. A piece of a JSON object is never JSON. A line that has its newline
// may have lost its middle all the same, where the system wrote the parts of a
// file out of order; it then shows a run of zero bytes, which JSON never has.
// Anything else that is wrong with a last line did not come from a cut, and
// neither did a single zero byte.
func torn(line []byte, ended bool) bool {
	return !json.Valid(line) && (!ended || bytes.Contains(line, []byte{0, 0}))
}

// trim takes off what an editor may have added at the end of a line.
func trim(line []byte) []byte { return bytes.TrimRight(line, " \t\r") }

// damaged says which line is at fault and how to save what stands before it.
func damaged(line int, err error) error {
	todo := "put it right, or begin again under another name"
	if line > 1 {
		todo = fmt.Sprintf("copy it, take line %d and all that follow out of the copy, and resume the copy", line)
	}
	return fmt.Errorf("line %d is damaged (%w); the file is as it was: %s", line, err, todo)
}

// seal ends the line of a JSON object with its sum: the CRC-32C of the line as
// it is given, in eight hexadecimal digits.
func seal(line []byte) []byte {
	open := line[:len(line)-1] // without the closing brace
	return fmt.Appendf(nil, "%s%s%08x%s", open, sumStart, crc(open), sumEnd)
}

// crc is the CRC-32C (Castagnoli; RFC 3720, appendix B.4) of a JSON object
// given without its closing brace.
func crc(open []byte) uint32 {
	table := crc32.MakeTable(crc32.Castagnoli)
	sum := ^crc32.Checksum(open, table)
	return ^(table[byte(sum)^'}'] ^ sum>>8) // the brace, without a slice for it
}

// checkSum checks the sum of a line. A line without one passes; one whose sum
// is not the last member, exactly as seal writes it, cannot be checked and
// does not.
func checkSum(line []byte) error {
	if i := len(line) - sumLen; i > 0 && bytes.HasPrefix(line[i:], []byte(sumStart)) && bytes.HasSuffix(line, []byte(sumEnd)) {
		sum, err := hex.DecodeString(string(line[i+len(sumStart) : len(line)-len(sumEnd)]))
		if err != nil || binary.BigEndian.Uint32(sum) != crc(line[:i]) {
			return errors.New("its sum does not agree with it, so something in it was changed")
		}
		return nil
	}
	if !bytes.Contains(line, []byte(`"sum"`)) {
		return nil
	}
	var fields map[string]json.RawMessage
	if json.Unmarshal(line, &fields) == nil && fields["sum"] != nil {
		return errors.New(`its sum is not at its end as ,"sum":"…"} with eight hexadecimal digits`)
	}
	return nil
}
