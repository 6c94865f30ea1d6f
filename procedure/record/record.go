// Package record keeps the record of a practical on disk.
//
// # The file
//
// One practical is one file of JSON Lines: a header, then the events in the
// order in which they happened. Lines are only ever added. Each line that we
// write ends with its sum, as the last member of its object,
//
//	{"seq":1,"at":"2025-01-31T10:04:05.25Z","event":"wired","sum":"cd1143f9"}
//
// which is the CRC-32C, in eight hexadecimal digits, of the bytes that the
// line would have without it: the object with `,"sum":"…"` taken out, without
// the newline. A reader may do without; where a sum is there, we check it.
//
// # What is promised
//
// Accept returns only after the line has been written and the system has been
// asked to bring it to the disk (fsync; F_FULLFSYNC on macOS,
// FlushFileBuffers on Windows), so what was said to be recorded survives a
// kill and, as far as the drive keeps its word, a power cut. The folder is
// synced after a file has been created, where the system has a call for it
// (Windows has none). A line that could not be written whole and synced is
// taken away again, at once or, if the disk refuses that too, before the next
// is written; only a program that ends in between can leave in the record an
// event of which it was said that it is not recorded.
//
// A file cut off anywhere opens again with every whole event; Resume keeps the
// piece beside the record, as FILE.cut-1, FILE.cut-2 and so on, before it
// takes it off. Cut off within its header it has no event, and is begun anew
// under its name. A line that is damaged in any other way stops the reading,
// and the file stays as it is. A byte order mark in front, blank lines and the
// line ends of another system, which editors add, do no harm.
//
// A record has one writer at a time. Reading needs no lock. Before each line
// the writer makes sure that the file is still there and as it left it.
package record

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"example.org/halve/procedure"
)

// A Keeping is a practical that is being done: its state and its record, kept
// in step. Its methods may be called from several goroutines; Counsel,
// Preview, State and Events do not wait for the disk.
type Keeping[S State[S], C Counsel[C]] struct {
	of        Practical[S, C]
	now       func() time.Time
	path      string
	recovered string

	writing sync.Mutex // held while an event is taken; guards the rest of this block
	store   store      // nil in memory
	size    int64      // length of the whole lines in the store
	dirty   bool       // there may be something after them
	closed  bool

	reading sync.Mutex // guards log; Accept alone changes it, with both held
	log     Kept[S]
}

// Begin starts a practical and its record. The file must not be there yet.
// The header's id comes from newID.
func (p Practical[S, C]) Begin(path string, now func() time.Time, newID func() string) (*Keeping[S, C], error) {
	d, err := createDisk(path)
	if err != nil {
		return nil, at(path, err)
	}
	s, err := p.begin(d, path, Header{Procedure: p.Name, ID: newID(), Begun: stamp(now)}, now)
	if err == nil {
		err = syncDir(filepath.Dir(path))
	}
	if err != nil {
		d.Close()
		os.Remove(path)
		return nil, at(path, fmt.Errorf("the record cannot be begun (%w): make room, or give a name on another disk", reason(err)))
	}
	return s, nil
}

// BeginIn starts a practical under a name of its own in a folder, which is
// made if it is not there.
func (p Practical[S, C]) BeginIn(dir string, now func() time.Time, newID func() string) (*Keeping[S, C], error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, at(dir, fmt.Errorf("the folder for records cannot be made (%w): name a file for the record", reason(err)))
	}
	for {
		s, err := p.Begin(DefaultPath(dir, now()), now, newID)
		if !errors.Is(err, fs.ErrExist) {
			return s, err
		}
	}
}

// DefaultPath is a name in dir for a record begun now, which no file has.
func DefaultPath(dir string, now time.Time) string {
	stem := now.Format("2006-01-02-150405")
	for n := 1; ; n++ {
		path := filepath.Join(dir, numbered(stem, n))
		if _, err := os.Lstat(path); err != nil {
			return path
		}
	}
}

// begin writes the header.
func (p Practical[S, C]) begin(st store, path string, h Header, now func() time.Time) (*Keeping[S, C], error) {
	line, err := h.encode()
	if err != nil {
		return nil, err
	}
	s := &Keeping[S, C]{of: p, now: now, path: path, store: st, log: Kept[S]{Path: path, Header: h, State: p.Empty()}}
	return s, s.write(line)
}

// Resume goes on with a record that is there. If it was cut off, the piece is
// kept beside it first; see Recovered. A record of which not even the header
// is whole is begun anew, with an id from newID.
func (p Practical[S, C]) Resume(path string, now func() time.Time, newID func() string) (*Keeping[S, C], error) {
	d, err := openDisk(path)
	if err != nil {
		return nil, at(path, err)
	}
	s, err := p.resume(d, path, now, newID)
	if err != nil {
		d.Close()
		return nil, at(path, err)
	}
	return s, nil
}

func (p Practical[S, C]) resume(d *disk, path string, now func() time.Time, newID func() string) (*Keeping[S, C], error) {
	data, err := readAll(d)
	if err != nil {
		return nil, err
	}
	if err := d.Intact(int64(len(data))); err != nil {
		return nil, err
	}
	log, err := p.parse(data)
	if errors.Is(err, errNothingYet) {
		return p.beginAnew(d, path, data, Header{Procedure: p.Name, ID: newID(), Begun: stamp(now)}, now)
	}
	if err != nil {
		return nil, err
	}
	log.Path = path
	s := &Keeping[S, C]{of: p, now: now, path: path, store: d, size: int64(log.whole), log: *log}
	if log.Cut != nil {
		if s.recovered, err = keep(path, log.Cut, log.CutNote()); err != nil {
			return nil, err
		}
		if err := s.settle(); err != nil {
			return nil, fmt.Errorf("the piece of a line at the end cannot be taken off (%w)", reason(err))
		}
	}
	if log.unended {
		if err := s.append([]byte{'\n'}); err != nil {
			return nil, fmt.Errorf("the last line cannot be ended (%w): make room, or copy the record to another disk", reason(err))
		}
	}
	return s, nil
}

// beginAnew begins a record in the file of one that was cut off within its
// header, of which piece is left.
func (p Practical[S, C]) beginAnew(d *disk, path string, piece []byte, h Header, now func() time.Time) (*Keeping[S, C], error) {
	note := "the record was empty, cut off before anything was recorded; it is begun anew"
	if len(piece) > 0 {
		var err error
		note = fmt.Sprintf("the record was cut off within line 1, of which %d bytes are left, before anything was recorded; it is begun anew", len(piece))
		if note, err = keep(path, piece, note); err != nil {
			return nil, err
		}
	}
	err := d.Truncate(0)
	var s *Keeping[S, C]
	if err == nil {
		s, err = p.begin(d, path, h, now)
	}
	if err != nil {
		return nil, fmt.Errorf("the record cannot be begun anew (%w): make room, or give a name on another disk", reason(err))
	}
	s.recovered = note
	return s, nil
}

// keep keeps a piece that was cut off beside the record, and adds to the note
// where it is.
func keep(path string, piece []byte, note string) (string, error) {
	kept, err := writeNew(func(n int) string { return fmt.Sprintf("%s.cut-%d", path, n) }, piece)
	if err != nil {
		return "", fmt.Errorf("%s, and this piece cannot be kept beside it (%w): make room, or copy the record to where you may write", note, reason(err))
	}
	return fmt.Sprintf("%s; the piece is kept in %s", note, procedure.CleanText(kept, 500)), nil
}

// Open goes on with the record at path, or begins one where no file is.
func (p Practical[S, C]) Open(path string, now func() time.Time, newID func() string) (*Keeping[S, C], error) {
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		s, err := p.Begin(path, now, newID)
		if !errors.Is(err, fs.ErrExist) {
			return s, err
		}
	}
	return p.Resume(path, now, newID)
}

// InMemory starts a practical that leaves no record.
func (p Practical[S, C]) InMemory(now func() time.Time) *Keeping[S, C] {
	return &Keeping[S, C]{of: p, now: now, log: Kept[S]{Header: Header{Procedure: p.Name, Begun: stamp(now)}, State: p.Empty()}}
}

// Read reads a record without changing it. Where it was cut off, the events
// before the cut are there and Cut is the piece that is left; where another
// program has the record open, that may be a line on its way.
func (p Practical[S, C]) Read(path string) (*Kept[S], error) {
	data, err := readFile(path)
	if err != nil {
		return nil, at(path, err)
	}
	log, err := p.parse(data)
	if err != nil {
		return nil, at(path, err)
	}
	log.Path = path
	return log, nil
}

// Accept takes an event, records it, and returns the counsel that follows.
//
// An event that cannot be taken changes nothing: the counsel is that of
// before, with Refused set, and there is no error. If the event could not be
// recorded there is an error of one line, and nothing is changed either; the
// same event may be accepted later.
func (s *Keeping[S, C]) Accept(body procedure.Body) (C, error) {
	s.writing.Lock()
	defer s.writing.Unlock()
	if s.closed {
		return s.Counsel(), errors.New("not recorded: the record is closed")
	}
	e, line, err := s.compose(body)
	after := s.State()
	if err == nil {
		err = after.Apply(e)
	}
	if err != nil {
		return s.Counsel().Refuse(err.Error()), nil
	}
	if err := s.write(line); err != nil {
		return s.Counsel(), at(s.path, fmt.Errorf("not recorded (%w) and nothing is changed: put that right, then enter it again", reason(err)))
	}
	c := s.of.Advise(after)
	s.reading.Lock()
	defer s.reading.Unlock()
	s.log.State = after
	s.log.Events = append(s.log.Events, e)
	return c, nil
}

// Decode reads an event of this practical as it comes from a program.
func (s *Keeping[S, C]) Decode(line []byte) (procedure.Body, error) {
	return s.of.Words.DecodeInput(line)
}

// compose makes the next event of a body, and its line. The event is the one
// that reading the line gives, so that a record never resumes as anything
// other than what was accepted.
func (s *Keeping[S, C]) compose(body procedure.Body) (procedure.Event, []byte, error) {
	seq := len(s.log.Events) + 1
	if seq > MaxEvents {
		return procedure.Event{}, nil, fmt.Errorf("the record has %d events, which is as many as it can have: begin another", MaxEvents)
	}
	line, err := procedure.Event{Seq: seq, At: stamp(s.now), Body: body}.Encode()
	if err != nil {
		return procedure.Event{}, nil, err
	}
	line = seal(line)
	if len(line) > procedure.MaxLine {
		return procedure.Event{}, nil, fmt.Errorf("the event takes %d bytes in the record, where a line has %d at the most: make it shorter", len(line), procedure.MaxLine)
	}
	e, err := s.of.Words.DecodeRecorded(line, seq)
	return e, line, err
}

// write adds one line to the record and brings it to the disk.
func (s *Keeping[S, C]) write(line []byte) error {
	if s.store == nil {
		return nil
	}
	if s.dirty {
		if err := s.settle(); err != nil {
			return err
		}
	}
	if err := s.store.Intact(s.size); err != nil {
		return err
	}
	return s.append(append(slices.Clip(line), '\n'))
}

// append writes at the end of the whole lines. If that fails, what was
// written of it is taken away, now or before the next line.
func (s *Keeping[S, C]) append(p []byte) error {
	if s.size+int64(len(p)) > MaxSize {
		return fmt.Errorf("the record would be larger than %d MiB", MaxSize>>20)
	}
	n, err := s.store.WriteAt(p, s.size)
	if err == nil && n < len(p) {
		err = io.ErrShortWrite
	}
	if err == nil {
		err = s.store.Sync()
	}
	if err != nil {
		s.dirty = true
		s.settle() // tried again before the next line if it fails
		return err
	}
	s.size += int64(len(p))
	return nil
}

// settle takes off what follows the whole lines.
func (s *Keeping[S, C]) settle() error {
	err := s.store.Truncate(s.size)
	if err == nil {
		err = s.store.Sync()
	}
	s.dirty = err != nil
	return err
}

// Counsel is what the state calls for now.
func (s *Keeping[S, C]) Counsel() C {
	s.reading.Lock() // Advise keeps what it works out with the state
	defer s.reading.Unlock()
	return s.of.Advise(s.log.State)
}

// Foresee is Preview with what the readings would then say is wrong. It takes
// some milliseconds and keeps nobody else waiting.
func (s *Keeping[S, C]) Foresee(body procedure.Body) C {
	return s.of.Foresee(s.State(), body)
}

// Preview is the counsel that would follow if the body were accepted now.
func (s *Keeping[S, C]) Preview(body procedure.Body) C {
	s.reading.Lock()
	defer s.reading.Unlock()
	return s.of.Preview(s.log.State, body)
}

// State returns a copy of what the events so far add up to.
func (s *Keeping[S, C]) State() S {
	s.reading.Lock()
	defer s.reading.Unlock()
	return s.log.State.Clone()
}

// Header is the header of the record; in memory it has no ID.
func (s *Keeping[S, C]) Header() Header { return s.log.Header }

// Events returns the events so far.
func (s *Keeping[S, C]) Events() []procedure.Event {
	s.reading.Lock()
	defer s.reading.Unlock()
	return slices.Clone(s.log.Events)
}

// Path is the name of the record, empty in memory.
func (s *Keeping[S, C]) Path() string { return s.path }

// Recovered says in one line what Resume found cut off and where the piece is
// kept; it is empty if nothing was.
func (s *Keeping[S, C]) Recovered() string { return s.recovered }

// Close lets go of the record. Nothing is left to be written by then. Closing
// again does nothing.
func (s *Keeping[S, C]) Close() error {
	s.writing.Lock()
	defer s.writing.Unlock()
	if s.closed || s.store == nil {
		s.closed = true
		return nil
	}
	s.closed = true
	return at(s.path, reason(s.store.Close()))
}

// stamp is the time to the millisecond.
func stamp(now func() time.Time) time.Time { return now().Truncate(time.Millisecond) }
