package record

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.org/halve/physics/apparatus"
	"example.org/halve/procedure"
)

// TestMain lets the test binary stand in for another program that has a
// record open: with the variable set it does what the variable says instead
// of testing.
func TestMain(m *testing.M) {
	if mode := os.Getenv(childMode); mode != "" {
		os.Exit(child(mode, os.Args[1]))
	}
	os.Exit(m.Run())
}

const childMode = "HALVE_RECORD_TEST_CHILD"

// child opens the record and takes the events of the practical that are still
// missing. In mode "write" it says so after each; in mode "hold" it keeps the
// record open until its input ends; in mode "limit" it may write only so many
// bytes to a file (the second argument), lifts that limit on the first error,
// and says what happened.
func child(mode, path string) int {
	fail := func(err error) int {
		fmt.Println("error:", err)
		return 1
	}
	lift := func() error { return nil }
	if mode == "limit" {
		limit, err := strconv.Atoi(os.Args[2])
		if err != nil {
			return fail(err)
		}
		if lift, err = limitFileSize(uint64(limit)); err != nil {
			return fail(err)
		}
	}
	s, err := Open(path, stopped, newID)
	if err != nil {
		return fail(err)
	}
	fmt.Println("open", len(s.Events()))
	if mode == "hold" {
		bufio.NewReader(os.Stdin).ReadByte()
		return 0
	}
	for _, b := range practical()[len(s.Events()):] {
		_, err := s.Accept(b)
		if err != nil && mode == "limit" {
			fmt.Println("full:", err)
			if err := lift(); err != nil {
				return fail(err)
			}
			_, err = s.Accept(b)
		}
		if err != nil {
			return fail(err)
		}
		fmt.Println("recorded", len(s.Events()))
	}
	return 0
}

// start runs the test binary as another program.
func start(t *testing.T, mode string, args ...string) (*exec.Cmd, *bufio.Scanner, func()) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(self, args...)
	cmd.Env = append(os.Environ(), childMode+"="+mode)
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return cmd, bufio.NewScanner(out), func() { in.Close() }
}

func ptr[T any](v T) *T { return &v }

// practical is a whole practical with every kind of event and the text that
// people write. The readings are those of a movement of 96 ohm and 7.6
// microampere per division on 1.5 V, worked out by the formulas of half
// deflection and rounded to half a division; nothing here depends on them.
func practical() []procedure.Body {
	box := func(coils ...float64) apparatus.Box {
		return apparatus.Box{Kind: apparatus.Plug, Coils: coils, Tolerance: 0.001}
	}
	table := procedure.Bench{Bench: apparatus.Bench{
		Source:       apparatus.Source{Label: "dry cell", EMF: 1.5, UEMF: ptr(0.01)},
		Galvanometer: apparatus.Galvanometer{Label: "G 7/b", Divisions: 30, Zero: apparatus.CentreZero, Resolution: 0.5},
		SeriesBox:    box(100, 200, 200, 500, 1000, 2000, 2000, 5000),
		ShuntBox:     box(1, 2, 2, 5, 10, 20, 20, 50),
	}}
	return []procedure.Body{
		table,
		procedure.Who{Names: "Ada Ålund, Bo Ek", Group: "B 3"},
		procedure.Wired{},
		procedure.SourceMeasured{EMF: 1.497, UEMF: ptr(0.002)},
		procedure.ZeroRead{Div: 0.1},
		procedure.SeriesSet{Ohm: 8200, TakeOut: []float64{5000, 2000, 1000, 200}},
		procedure.FirstRead{Div: ptr(24.0)},
		procedure.ShuntSet{Ohm: 95},
		procedure.ShuntedRead{Div: ptr(12.0)},
		procedure.RowKept{},
		procedure.Note{Text: `the "sum" is <odd> & μ ∞ \ ,"sum":"00000000"}`, Temperature: ptr(21.5)},
		procedure.Strike{Event: 7, Why: "the needle stuck"},
		procedure.Strike{Event: 12, Why: "it had not"},
		procedure.Claim{Quantity: procedure.ClaimResistance, Value: procedure.Written{Text: "90.0"}, Row: 1},
		procedure.Finish{},
		procedure.Note{Text: "put away"},
	}
}

// stopped is a clock that does not move.
func stopped() time.Time { return time.Date(2025, 1, 31, 10, 4, 5, 0, time.UTC) }

func newID() string { return "3f9a2c" }

// written makes the record of the practical, taken on the stopped clock, and
// returns its path and its content.
func written(t testing.TB) (string, []byte) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "record.jsonl")
	s, err := halfDeflection.Begin(path, stopped, newID)
	if err != nil {
		t.Fatal(err)
	}
	acceptAll(t, s, practical())
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return path, content(t, path)
}

func acceptAll(t testing.TB, s *Sitting, bodies []procedure.Body) {
	t.Helper()
	for i, b := range bodies {
		c, err := s.Accept(b)
		if err != nil {
			t.Fatalf("Accept(%s) as event %d: %v", b.Kind(), i+1, err)
		}
		if c.Refused != nil {
			t.Fatalf("Accept(%s) as event %d was refused: %s", b.Kind(), i+1, *c.Refused)
		}
	}
}

func content(t testing.TB, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// put writes a file of the given content into a new folder.
func put(t testing.TB, data []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "record.jsonl")
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// names lists the files beside path, and path itself.
func names(t testing.TB, path string) []string {
	t.Helper()
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, e := range entries {
		all = append(all, e.Name())
	}
	return all
}

// sameEvents compares events as their lines have them.
func sameEvents(t interface {
	Helper()
	Fatalf(string, ...any)
}, what string, got, want []procedure.Event) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s: %d events, want %d", what, len(got), len(want))
	}
	for i := range got {
		if !got[i].At.Equal(want[i].At) {
			t.Fatalf("%s: event %d is at %v, want %v", what, i+1, got[i].At, want[i].At)
		}
		if got[i].Seq != want[i].Seq || !reflect.DeepEqual(got[i].Body, want[i].Body) {
			t.Fatalf("%s: event %d\n got %+v\nwant %+v", what, i+1, got[i], want[i])
		}
	}
}

// oneClearLine checks what every error promises: one line without control
// characters that is not empty and not a book.
func oneClearLine(t testing.TB, err error) {
	t.Helper()
	if err == nil {
		t.Fatal("no error where one is due")
	}
	msg := err.Error()
	if msg == "" || len(msg) > 1500 || strings.ContainsFunc(msg, func(r rune) bool { return r < ' ' || r >= 0x7f && r < 0xa0 || r == 0x202e }) {
		t.Fatalf("not one clear line: %q", msg)
	}
}

// wholeLines counts the events of which a cut of the record at n bytes has
// every byte but perhaps the newline; -1 if not even the header is whole.
func wholeLines(data []byte, n int) int {
	whole := bytes.Count(data[:n], []byte{'\n'})
	if n < len(data) && data[n] == '\n' {
		whole++
	}
	return whole - 1
}

var errFull = errors.New("no space left on device")

// failing is a store that runs full after so many bytes, and whose other
// calls can be made to fail.
type failing struct {
	data               []byte
	room               int // bytes that may still be written
	noSync, noTruncate bool
	silent             bool  // it says nothing when it writes less than it is given
	claims             int64 // the size that it claims to have, 0 for the true one
	closed             bool
}

func (f *failing) WriteAt(p []byte, off int64) (int, error) {
	if int(off) > len(f.data) {
		return 0, fmt.Errorf("written at %d of a file of %d bytes", off, len(f.data))
	}
	n := min(f.room, len(p))
	f.room -= n
	f.data = append(f.data[:off], append(p[:n:n], f.data[min(len(f.data), int(off)+n):]...)...)
	if n < len(p) && !f.silent {
		return n, errFull
	}
	return n, nil
}

func (f *failing) Sync() error {
	if f.noSync {
		return errors.New("input/output error")
	}
	return nil
}

func (f *failing) Truncate(size int64) error {
	if f.noTruncate {
		return errors.New("input/output error")
	}
	f.room += len(f.data) - int(size)
	f.data = f.data[:size]
	return nil
}

func (f *failing) Intact(size int64) error {
	if size != f.claims && int(size) != len(f.data) {
		return fmt.Errorf("the file has %d bytes and not %d", len(f.data), size)
	}
	return nil
}

func (f *failing) Close() error { f.closed = true; return nil }

// stride is the step of the tests that go through a record byte by byte: every
// byte, but with -short, as under the race detector, every seventeenth.
func stride() int {
	if testing.Short() {
		return 17
	}
	return 1
}
