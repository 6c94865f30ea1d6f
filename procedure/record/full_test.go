package record

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"example.org/halve/procedure"
)

// The disk runs full at every byte, once with the piece taken away at once and
// once with that failing too, as when a stick is pulled.
func TestFullAtEveryByte(t *testing.T) {
	_, want := written(t)
	lines := func(n int) []byte { return bytes.Join(bytes.SplitAfter(want, []byte{'\n'})[:n], nil) }
	header := len(lines(1))
	for _, stuck := range []bool{false, true} {
		for room := range len(want) {
			what := fmt.Sprintf("room for %d bytes, truncating fails: %t", room, stuck)
			f := &failing{room: room, noTruncate: stuck}
			s, err := begin(f, "record.jsonl", Header{HalfDeflection, newID(), stopped()}, stopped)
			if room < header {
				oneClearLine(t, err)
				if !stuck && len(f.data) != 0 {
					t.Fatalf("%s: %q is left of the header", what, f.data)
				}
				continue
			}
			if err != nil {
				t.Fatalf("%s: %v", what, err)
			}
			failed := false
			for i, b := range practical() {
				before := s.Counsel()
				c, err := s.Accept(b)
				if err != nil {
					failed = true
					oneClearLine(t, err)
					if !strings.Contains(err.Error(), "not recorded") || !strings.Contains(err.Error(), "no space left") {
						t.Errorf("%s: %v", what, err)
					}
					if c.Seq != before.Seq || len(s.Events()) != i || s.State().Seq() != i {
						t.Fatalf("%s: the state moved on", what)
					}
					log, err := parse(f.data)
					// A line that lacks only its newline counts as whole.
					if err != nil || len(log.Events) != i && !(stuck && log.unended && len(log.Events) == i+1) {
						t.Fatalf("%s: what is on the disk does not open with %d events: %v", what, i, err)
					}
					if !stuck && log.Cut != nil {
						t.Fatalf("%s: %q was not taken away", what, log.Cut)
					}
					// Once more while it is full, then with room again.
					if _, err := s.Accept(procedure.Note{Text: strings.Repeat("longer than what fits ", 60)}); err == nil {
						t.Fatalf("%s: accepted on a full disk", what)
					}
					f.room, f.noTruncate = 1<<20, false
					c, err = s.Accept(b)
					if err != nil {
						t.Fatalf("%s: with room again: %v", what, err)
					}
				}
				if c.Refused != nil || c.Seq != i+1 || !bytes.Equal(f.data, lines(i+2)) {
					t.Fatalf("%s: event %d: refused %v, seq %d, and on the disk\n%s", what, i+1, c.Refused, c.Seq, f.data)
				}
				if failed {
					break // this one was taken with room again
				}
			}
			if !failed {
				t.Fatalf("%s: it never ran full", what)
			}
			s.Close()
			if !f.closed {
				t.Fatalf("%s: not closed", what)
			}
		}
	}
}

// A line that is written and does not reach the disk is not recorded.
func TestSyncFails(t *testing.T) {
	f := &failing{room: 1 << 20}
	s, err := begin(f, "record.jsonl", Header{HalfDeflection, newID(), stopped()}, stopped)
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
	log, err := parse(f.data)
	if err != nil || log.Cut != nil {
		t.Fatalf("%v, cut %q", err, log.Cut)
	}
	sameEvents(t, "after a failed sync", log.Events, s.Events())
}

// A refused event leaves no trace and no error.
func TestRefused(t *testing.T) {
	f := &failing{room: 1 << 20}
	s, err := begin(f, "record.jsonl", Header{HalfDeflection, newID(), stopped()}, stopped)
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
