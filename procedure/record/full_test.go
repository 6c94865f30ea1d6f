package record

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"

	"example.org/halve/procedure"
)

// The disk runs full before the header is whole: nothing is begun.
func TestFullInHeader(t *testing.T) {
	_, want := written(t)
	for room := range bytes.IndexByte(want, '\n') + 1 {
		f := &failing{room: room}
		_, err := halfDeflection.begin(f, "record.jsonl", Header{HalfDeflection, newID(), stopped()}, stopped)
		oneClearLine(t, err)
		if len(f.data) != 0 {
			t.Fatalf("room for %d bytes: %q is left of the header", room, f.data)
		}
	}
}

// The disk runs full at every byte of every event, once with the piece taken
// away at once and once with that failing too, as when a stick is pulled.
func TestFullAtEveryByte(t *testing.T) {
	_, want := written(t)
	lines := bytes.SplitAfter(want, []byte{'\n'})
	for i, body := range practical() {
		before := bytes.Join(lines[:i+1], nil)
		log, err := halfDeflection.parse(before)
		if err != nil {
			t.Fatal(err)
		}
		log.Events = slices.Clip(log.Events)
		for room := 0; room < len(lines[i+1]); room += stride() {
			for _, stuck := range []bool{false, true} {
				what := fmt.Sprintf("event %d, room for %d bytes, truncating fails: %t", i+1, room, stuck)
				f := &failing{data: slices.Clone(before), room: room, noTruncate: stuck}
				s := &Sitting{of: halfDeflection, now: stopped, path: "record.jsonl", store: f, size: int64(len(before)), log: *log}
				c, err := s.Accept(body)
				oneClearLine(t, err)
				if !strings.Contains(err.Error(), "not recorded") || !strings.Contains(err.Error(), "no space left") {
					t.Errorf("%s: %v", what, err)
				}
				if c.Seq != i || len(s.Events()) != i || s.State().Seq() != i {
					t.Fatalf("%s: the state moved on", what)
				}
				if !stuck && !bytes.Equal(f.data, before) {
					t.Fatalf("%s: %q was not taken away", what, f.data[len(before):])
				}
				if stuck && !bytes.Equal(f.data, want[:len(before)+room]) {
					t.Fatalf("%s: the disk has\n%s", what, f.data)
				}
				// Something else while it is full, then the same with room again.
				if _, err := s.Accept(procedure.Note{Text: strings.Repeat("longer than what fits ", 150)}); err == nil {
					t.Fatalf("%s: accepted on a full disk", what)
				}
				f.room, f.noTruncate = 1<<20, false
				c, err = s.Accept(body)
				if err != nil || c.Refused != nil || c.Seq != i+1 {
					t.Fatalf("%s: with room again: %v, refused %v, seq %d", what, err, c.Refused, c.Seq)
				}
				if after := want[:len(before)+len(lines[i+1])]; !bytes.Equal(f.data, after) {
					t.Fatalf("%s: with room again the disk has\n%s\nwant\n%s", what, f.data, after)
				}
			}
		}
	}
}

// A line that is written and does not reach the disk is not recorded.
func TestSyncFails(t *testing.T) {
	f := &failing{room: 1 << 20}
	s, err := halfDeflection.begin(f, "record.jsonl", Header{HalfDeflection, newID(), stopped()}, stopped)
	if err != nil {
		t.Fatal(err)
	}
	acceptAll(t, s, practical()[:3])
	before := bytes.Clone(f.data)
	f.noSync = true
	for range 3 {
		_, err = s.Accept(practical()[3])
		oneClearLine(t, err)
		if !bytes.Equal(f.data, before) || len(s.Events()) != 3 {
			t.Fatalf("the line stayed: %q", f.data[len(before):])
		}
	}
	f.noSync = false
	acceptAll(t, s, practical()[3:])
	log, err := halfDeflection.parse(f.data)
	if err != nil || log.Cut != nil {
		t.Fatalf("%v, cut %q", err, log.Cut)
	}
	sameEvents(t, "after a failed sync", log.Events, s.Events())
}

// A disk that writes less than it is given and says nothing is full all the
// same, and no record grows beyond what a record may be.
func TestShortAndLong(t *testing.T) {
	f := &failing{room: 1 << 20}
	s, err := halfDeflection.begin(f, "record.jsonl", Header{HalfDeflection, newID(), stopped()}, stopped)
	if err != nil {
		t.Fatal(err)
	}
	acceptAll(t, s, practical()[:1])
	before := bytes.Clone(f.data)
	f.room, f.silent = 20, true
	_, err = s.Accept(practical()[1])
	oneClearLine(t, err)
	if !bytes.Equal(f.data, before) {
		t.Errorf("%q stayed", f.data[len(before):])
	}
	f.room, s.size, f.claims = 1<<20, MaxSize-10, MaxSize-10
	_, err = s.Accept(practical()[1])
	oneClearLine(t, err)
	if !strings.Contains(err.Error(), "larger than") {
		t.Error(err)
	}
}

// A refused event leaves no trace and no error.
func TestRefused(t *testing.T) {
	f := &failing{room: 1 << 20}
	s, err := halfDeflection.begin(f, "record.jsonl", Header{HalfDeflection, newID(), stopped()}, stopped)
	if err != nil {
		t.Fatal(err)
	}
	acceptAll(t, s, practical()[:6])
	before := bytes.Clone(f.data)
	for name, b := range map[string]procedure.Body{
		"out of order":     procedure.ShuntedRead{Div: ptr(12.0)},
		"beyond the scale": procedure.FirstRead{Div: ptr(31.0)},
		"not a number":     procedure.ZeroRead{Div: nan()},
		"nothing in it":    procedure.Note{},
		"too long":         procedure.SeriesSet{Ohm: 8200, TakeOut: make([]float64, 40_000)},
		"strikes nothing":  procedure.Strike{Event: 99},
	} {
		c, err := s.Accept(b)
		if err != nil || c.Refused == nil {
			t.Errorf("%s: refused %v, error %v; want it refused", name, c.Refused, err)
			continue
		}
		oneClearLine(t, fmt.Errorf("%s", *c.Refused))
		if c.Seq != 6 || len(s.Events()) != 6 || !bytes.Equal(f.data, before) {
			t.Errorf("%s: something was changed", name)
		}
	}
}
