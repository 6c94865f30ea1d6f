package record

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/iotest"
	"time"

	"example.org/halve/physics/apparatus"
	"example.org/halve/procedure"
	"pgregory.net/rapid"
)

func nan() float64 { return math.NaN() }

// crcByBits is CRC-32C worked out bit by bit from its definition: polynomial
// 0x1EDC6F41, reflected, all ones before and after.
func crcByBits(p []byte) uint32 {
	crc := ^uint32(0)
	for _, b := range p {
		crc ^= uint32(b)
		for range 8 {
			if crc&1 != 0 {
				crc = crc>>1 ^ 0x82f63b78
			} else {
				crc >>= 1
			}
		}
	}
	return ^crc
}

// The examples of RFC 3720, appendix B.4, whose bytes are printed there with
// the lowest first.
func TestCRCByBits(t *testing.T) {
	up := make([]byte, 32)
	for i := range up {
		up[i] = byte(i)
	}
	down := slices.Clone(up)
	slices.Reverse(down)
	for name, test := range map[string]struct {
		data []byte
		want uint32
	}{
		"32 zeroes":  {make([]byte, 32), 0x8a9136aa},
		"32 ones":    {bytes.Repeat([]byte{0xff}, 32), 0x62a8ab43},
		"ascending":  {up, 0x46dd794e},
		"descending": {down, 0x113fdb5c},
	} {
		if got := crcByBits(test.data); got != test.want {
			t.Errorf("%s: got %08x, want %08x", name, got, test.want)
		}
	}
}

// The file is as the contract has it: a header, then events numbered from 1,
// each an object, each with its sum last.
func TestFormat(t *testing.T) {
	_, data := written(t)
	lines := strings.Split(string(data), "\n")
	if lines[len(lines)-1] != "" {
		t.Fatal("the last line is not ended")
	}
	lines = lines[:len(lines)-1]
	if len(lines) != len(practical())+1 {
		t.Fatalf("%d lines, want %d", len(lines), len(practical())+1)
	}
	wantHeader := `{"record":"halve","version":1,"procedure":"half-deflection","id":"3f9a2c","begun":"2025-01-31T10:04:05Z","sum":"`
	if !strings.HasPrefix(lines[0], wantHeader) {
		t.Errorf("header %s, want it to begin %s", lines[0], wantHeader)
	}
	for i, line := range lines {
		var l struct {
			Seq   *int
			At    *time.Time
			Event string
			Sum   string
		}
		if err := json.Unmarshal([]byte(line), &l); err != nil {
			t.Fatalf("line %d: %v", i+1, err)
		}
		without := strings.Replace(line, fmt.Sprintf(`,"sum":%q`, l.Sum), "", 1)
		if want := fmt.Sprintf("%08x", crcByBits([]byte(without))); l.Sum != want || !strings.HasSuffix(line, l.Sum+`"}`) {
			t.Errorf("line %d ends with the sum %s, want %s: %s", i+1, l.Sum, want, line)
		}
		if i == 0 {
			if l.Seq != nil {
				t.Error("the header has a seq")
			}
			continue
		}
		if l.Seq == nil || *l.Seq != i || l.At == nil || l.Event != practical()[i-1].Kind() {
			t.Errorf("line %d is not event %d (%s): %s", i+1, i, practical()[i-1].Kind(), line)
		}
	}
}

// The example in the package comment is true.
func TestExampleInComment(t *testing.T) {
	source := string(content(t, "record.go"))
	_, rest, _ := strings.Cut(source, "//\t{")
	example, _, _ := strings.Cut("{"+rest, "\n")
	e, err := procedure.Event{Seq: 1, At: time.Date(2025, 1, 31, 10, 4, 5, 250e6, time.UTC), Body: procedure.Wired{}}.Encode()
	if err != nil {
		t.Fatal(err)
	}
	if got := string(seal(e)); got != example {
		t.Errorf("the comment has\n%s\nand we write\n%s", example, got)
	}
}

// A resumed record goes on where it was, and reads the same.
func TestResumeAfterEachEvent(t *testing.T) {
	path := filepath.Join(t.TempDir(), "record.jsonl")
	s, err := Open(path, stopped, newID)
	if err != nil {
		t.Fatal(err)
	}
	for i, b := range practical() {
		acceptAll(t, s, []procedure.Body{b})
		before, counsel := s.Events(), s.Counsel()
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		if s, err = Open(path, stopped, newID); err != nil {
			t.Fatal(err)
		}
		sameEvents(t, fmt.Sprintf("after event %d", i+1), s.Events(), before)
		if got, want := asJSON(t, s.Counsel()), asJSON(t, counsel); got != want {
			t.Errorf("after event %d the counsel is\n%s\nwant\n%s", i+1, got, want)
		}
		if s.State().Seq() != i+1 || s.Recovered() != "" || s.Path() != path || s.Header().ID != newID() {
			t.Errorf("after event %d: seq %d, recovered %q, path %q, header %+v", i+1, s.State().Seq(), s.Recovered(), s.Path(), s.Header())
		}
	}
	s.Close()
	if _, want := written(t); !bytes.Equal(content(t, path), want) {
		t.Error("resuming left its mark in the record")
	}
}

func asJSON(t *testing.T, v any) string {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestPreviewChangesNothing(t *testing.T) {
	s := InMemory(stopped)
	acceptAll(t, s, practical()[:6])
	if c := s.Preview(practical()[6]); c.Seq != 7 || c.Refused != nil {
		t.Errorf("the preview is at %d, refused %v", c.Seq, c.Refused)
	}
	if c := s.Foresee(practical()[6]); c.Seq != 7 || c.Refused != nil {
		t.Errorf("what is foreseen is at %d, refused %v", c.Seq, c.Refused)
	}
	if c := s.Preview(procedure.Strike{Event: 99}); c.Refused == nil {
		t.Error("the preview of an impossible strike is not refused")
	}
	if s.State().Seq() != 6 || len(s.Events()) != 6 {
		t.Error("a preview changed the state")
	}
	acceptAll(t, s, practical()[6:])
	if s.Path() != "" || s.Close() != nil {
		t.Error("a practical in memory has a file")
	}
	if _, err := s.CopyTo(t.TempDir()); err == nil {
		t.Error("a practical in memory was copied")
	}
	if _, err := s.Accept(procedure.Note{Text: "late"}); err == nil {
		t.Error("an event was accepted after closing")
	}
}

// Times are kept to the millisecond, and a clock that is put back does no harm.
func TestTimes(t *testing.T) {
	path := filepath.Join(t.TempDir(), "record.jsonl")
	times := []time.Time{
		time.Date(2025, 1, 31, 10, 4, 5, 123_456_789, time.FixedZone("", 3600)),
		time.Date(2025, 1, 31, 10, 4, 6, 0, time.FixedZone("", 3600)),
		time.Date(2024, 12, 31, 23, 59, 59, 999_999_999, time.UTC),
	}
	next := 0
	now := func() time.Time { next++; return times[(next-1)%len(times)] }
	s, err := halfDeflection.Begin(path, now, newID)
	if err != nil {
		t.Fatal(err)
	}
	acceptAll(t, s, practical()[:2])
	s.Close()
	text := string(content(t, path))
	for _, want := range []string{`"begun":"2025-01-31T10:04:05.123+01:00"`, `"at":"2025-01-31T10:04:06+01:00"`, `"at":"2024-12-31T23:59:59.999Z"`} {
		if !strings.Contains(text, want) {
			t.Errorf("the record lacks %s:\n%s", want, text)
		}
	}
	if _, err := Read(path); err != nil {
		t.Error(err)
	}
}

func TestBeginRefusesWhatIsThere(t *testing.T) {
	path := put(t, []byte("my shopping list"))
	_, err := halfDeflection.Begin(path, stopped, newID)
	oneClearLine(t, err)
	if !errors.Is(err, fs.ErrExist) || string(content(t, path)) != "my shopping list" {
		t.Errorf("%v; the file is now %q", err, content(t, path))
	}
	missing := filepath.Join(t.TempDir(), "no", "such", "folder", "record.jsonl")
	_, err = halfDeflection.Begin(missing, stopped, newID)
	oneClearLine(t, err)
	_, err = halfDeflection.Begin("", stopped, newID)
	oneClearLine(t, err)
	_, err = Resume(filepath.Join(t.TempDir(), "r"), stopped, newID)
	oneClearLine(t, err)
	if !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("resuming nothing: %v", err)
	}
}

// Files from strangers: one clear line each, soon, and nothing is touched.
func TestStrangeFiles(t *testing.T) {
	sparse := func(size int64) func(t *testing.T) string {
		return func(t *testing.T) string {
			path := put(t, nil)
			if err := os.Truncate(path, size); err != nil {
				t.Fatal(err)
			}
			return path
		}
	}
	holding := func(data string) func(t *testing.T) string {
		return func(t *testing.T) string { return put(t, []byte(data)) }
	}
	head := func(rest string) string { return `{"record":"halve","version":1,"procedure":"half-deflection"` + rest }
	for _, test := range []struct {
		name string
		make func(t *testing.T) string
		want string // part of the message
	}{
		{"newline", holding("\n"), "not a record"},
		{"text", holding("a shopping list\nmilk\n"), "not a record"},
		{"other JSON", holding(`{"source":{"emf_V":1.5}}`), "not a record"},
		{"other record", holding(`{"record":"diary","version":1}` + "\n"), "not a record"},
		{"record a number", holding(`{"record":1}` + "\n"), "not a record"},
		{"a list", holding("[1,2]\n"), "not a record"},
		{"null", holding("null\n"), "not a record"},
		{"events alone", holding(`{"event":"wired"}` + "\n"), "not a record"},
		{"binary", holding("\x7fELF\x02\x01\x01\x00\x00\x00"), "not a record"},
		{"escapes", holding("\x1b]52;c;aGk=\x07\x1b[2J{}\n"), "not a record"},
		{"version 2", holding(`{"record":"halve","version":2,"procedure":"half-deflection"}` + "\n"), "version 2"},
		{"version text", holding(`{"record":"halve","version":"one"}` + "\n"), "version"},
		{"no version", holding(`{"record":"halve"}` + "\n"), "version"},
		{"other procedure", holding(`{"record":"halve","version":1,"procedure":"\u001b[2Jalchemy"}` + "\n"), `"alchemy"`},
		{"bad time", holding(head(`,"begun":"noon"}`) + "\n"), "begun"},
		{"id no text", holding(head(`,"id":7}`) + "\n"), "id"},
		{"deep nesting", holding(head(`,"x":` + strings.Repeat("[", 30000) + strings.Repeat("]", 30000) + "}\n")), "line 1"},
		{"deep nesting in an event", holding(head("}\n") + `{"event":"note","text":` + strings.Repeat(`{"a":`, 10000) + "1" + strings.Repeat("}", 10000) + "}\n{}\n"), "line 2"},
		{"long header", holding(head(`,"id":"` + strings.Repeat("x", procedure.MaxLine) + `"}` + "\n")), "line 1"},
		{"escapes in an event", holding(head("}\n") + `{"event":"\u001b[2J\u202ewarp\u0007"}` + "\n{}\n"), "warp"},
		{"escapes in a key", holding(head("}\n") + `{"event":"note","text":"a","\u001b]0;x\u0007k\n":1}` + "\n{}\n"), "unknown key"},
		{"one gigabyte", sparse(1 << 30), "larger than"},
		{"one line as large as a record may be", sparse(MaxSize), "not a record"},
		{"folder", func(t *testing.T) string { return t.TempDir() }, "folder"},
		{"device", func(t *testing.T) string { return os.DevNull }, "plain file"},
	} {
		t.Run(test.name, func(t *testing.T) {
			path := test.make(t)
			before, statErr := os.Stat(path)
			if statErr != nil {
				t.Fatal(statErr)
			}
			_, err := Read(path)
			oneClearLine(t, err)
			if !strings.Contains(err.Error(), test.want) {
				t.Errorf("Read says %q, want %q in it", err, test.want)
			}
			_, err = Open(path, stopped, newID)
			oneClearLine(t, err)
			if !strings.Contains(err.Error(), test.want) {
				t.Errorf("Open says %q, want %q in it", err, test.want)
			}
			after, statErr := os.Stat(path)
			if statErr != nil || after.Size() != before.Size() || !after.ModTime().Equal(before.ModTime()) {
				t.Error("the file was touched")
			}
		})
	}
}

// A name from a stranger cannot reach the screen either.
func TestStrangeName(t *testing.T) {
	_, err := Read(filepath.Join(t.TempDir(), "a\x1b[2J\u202eb\nc"))
	oneClearLine(t, err)
}

// More events than a record may have are refused when read and when taken.
func TestTooManyEvents(t *testing.T) {
	data := []byte(`{"record":"halve","version":1,"procedure":"half-deflection"}` + "\n")
	data = append(data, bytes.Repeat([]byte(`{"event":"note","text":"a"}`+"\n"), MaxEvents)...)
	log, err := halfDeflection.parse(data)
	if err != nil || len(log.Events) != MaxEvents {
		t.Fatalf("as many as may be: %v", err)
	}
	s := &Sitting{of: halfDeflection, now: stopped, log: *log}
	if c, err := s.Accept(procedure.Note{Text: "a"}); err != nil || c.Refused == nil {
		t.Errorf("one more was taken: %v", err)
	}
	_, err = halfDeflection.parse(append(data, `{"event":"note","text":"a"}`...))
	oneClearLine(t, err)
}

// While a record is open, nobody else can write to it, and anybody can read.
func TestSecondWriter(t *testing.T) {
	path, _ := written(t)
	s, err := Resume(path, stopped, newID)
	if err != nil {
		t.Fatal(err)
	}
	for name, open := range map[string]func() error{
		"here": func() error { _, err := Open(path, stopped, newID); return err },
		"in another program": func() error {
			cmd, out, done := start(t, "hold", path)
			defer cmd.Wait()
			defer done()
			out.Scan()
			if text, ok := strings.CutPrefix(out.Text(), "error: "); ok {
				return errors.New(text)
			}
			return nil
		},
	} {
		err := open()
		oneClearLine(t, err)
		if !strings.Contains(err.Error(), "open in another window or program") {
			t.Errorf("opened again %s: %v", name, err)
		}
	}
	if _, err := Read(path); err != nil {
		t.Errorf("reading while it is open: %v", err)
	}
	acceptAll(t, s, []procedure.Body{procedure.Note{Text: "still mine"}})
	if err := errors.Join(s.Close(), s.Close()); err != nil {
		t.Errorf("closing, and closing again: %v", err)
	}
	if s, err = Resume(path, stopped, newID); err != nil {
		t.Fatalf("after closing: %v", err)
	}
	s.Close()
}

// The lock of another program holds until that program ends.
func TestOtherProgramHasIt(t *testing.T) {
	path, _ := written(t)
	cmd, out, done := start(t, "hold", path)
	if !out.Scan() || !strings.HasPrefix(out.Text(), "open") {
		t.Fatalf("the other program says %q", out.Text())
	}
	_, err := Resume(path, stopped, newID)
	oneClearLine(t, err)
	done()
	if err := cmd.Wait(); err != nil {
		t.Fatal(err)
	}
	s, err := Resume(path, stopped, newID)
	if err != nil {
		t.Fatal(err)
	}
	s.Close()
}

// Many at once on a name that is not there: one begins, the others are told.
func TestManyOpenAtOnce(t *testing.T) {
	for range 50 {
		path := filepath.Join(t.TempDir(), "record.jsonl")
		var wg sync.WaitGroup
		won := make(chan *Sitting, 8)
		for range cap(won) {
			wg.Go(func() {
				if s, err := Open(path, stopped, newID); err == nil {
					won <- s
				}
			})
		}
		wg.Wait()
		close(won)
		if len(won) != 1 {
			t.Fatalf("%d writers on one record", len(won))
		}
		s := <-won
		acceptAll(t, s, practical()[:3])
		s.Close()
	}
}

// Killed after any event, the record has all that was said to be recorded.
func TestKilled(t *testing.T) {
	for after := range len(practical()) + 1 {
		path := filepath.Join(t.TempDir(), "record.jsonl")
		cmd, out, _ := start(t, "write", path)
		said := -1
		for said < after && out.Scan() {
			if _, err := fmt.Sscanf(out.Text(), "open %d", &said); err == nil {
				continue
			}
			if _, err := fmt.Sscanf(out.Text(), "recorded %d", &said); err != nil {
				t.Fatalf("the child says %q", out.Text())
			}
		}
		cmd.Process.Kill()
		for out.Scan() { // what it said before it died counts too
			fmt.Sscanf(out.Text(), "recorded %d", &said)
		}
		cmd.Wait()
		log, err := Read(path)
		if err != nil {
			t.Fatalf("killed after event %d: %v", after, err)
		}
		if len(log.Events) < said || said < after {
			t.Fatalf("%d events were said to be recorded, %d are", said, len(log.Events))
		}
		s, err := Resume(path, stopped, newID)
		if err != nil {
			t.Fatalf("killed after event %d: %v", after, err)
		}
		acceptAll(t, s, practical()[len(s.Events()):])
		s.Close()
	}
}

// What happens to the file behind our back is found before the next line, so
// that nothing is said to be recorded where nobody will find it.
func TestFileChangedBehindOurBack(t *testing.T) {
	for name, change := range map[string]func(path string) error{
		"removed":    os.Remove,
		"written to": func(path string) error { return appendTo(path, "{}\n") },
		"shortened":  func(path string) error { return os.Truncate(path, 10) },
		"replaced": func(path string) error {
			data, err := os.ReadFile(path)
			return errors.Join(err, os.Rename(path, path+".old"), os.WriteFile(path, data, 0o644))
		},
	} {
		t.Run(name, func(t *testing.T) {
			path, _ := written(t)
			s, err := Resume(path, stopped, newID)
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			if err := change(path); err != nil {
				if runtime.GOOS != "windows" { // which lets nobody take an open file away
					t.Fatal(err)
				}
				return
			}
			n := len(s.Events())
			_, err = s.Accept(procedure.Note{Text: "lost?"})
			oneClearLine(t, err)
			if len(s.Events()) != n {
				t.Error("the state moved on")
			}
		})
	}
}

func appendTo(path, text string) error {
	f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	_, err = f.WriteString(text)
	return errors.Join(err, f.Close())
}

// Looking while an event is being taken is safe (run with -race).
func TestLookingWhileWriting(t *testing.T) {
	s, err := halfDeflection.Begin(filepath.Join(t.TempDir(), "record.jsonl"), stopped, newID)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	var wg sync.WaitGroup
	stop := make(chan struct{})
	for range 3 {
		wg.Go(func() {
			for seen := 0; ; {
				select {
				case <-stop:
					return
				default:
				}
				now := s.Counsel().Seq
				if now < seen {
					t.Errorf("went back from %d to %d", seen, now)
					return
				}
				seen = now
				s.Preview(procedure.Note{Text: "a"})
				procedure.Advise(s.State())
				if n := len(s.Events()); n < seen {
					t.Errorf("%d events after %d", n, seen)
					return
				}
			}
		})
	}
	acceptAll(t, s, practical())
	close(stop)
	wg.Wait()
}

// Whatever is accepted comes back, and nothing that is refused does.
func TestAcceptedComesBack(t *testing.T) {
	dir := t.TempDir()
	file := 0
	rapid.Check(t, func(t *rapid.T) {
		file++
		path := filepath.Join(dir, fmt.Sprint(file))
		s, err := halfDeflection.Begin(path, stopped, newID)
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		var want []procedure.Event
		for _, b := range rapid.SliceOfN(bodies(), 0, 40).Draw(t, "bodies") {
			c, err := s.Accept(b)
			if err != nil {
				t.Fatal(err)
			}
			if c.Refused == nil {
				want = append(want, s.Events()[len(want)])
			}
		}
		log, err := Read(path)
		if err != nil {
			t.Fatal(err)
		}
		sameEvents(t, "accepted", s.Events(), want)
		sameEvents(t, "read", log.Events, want)
	})
}

// bodies draws events as a hasty person would send them, many of them out of
// order.
func bodies() *rapid.Generator[procedure.Body] {
	return rapid.Custom(func(t *rapid.T) procedure.Body {
		text := rapid.OneOf(rapid.String(), rapid.Just("plain"), rapid.Just("\x1b[2J\u202e\x00"))
		div := rapid.Float64Range(-35, 35)
		switch rapid.IntRange(0, 8).Draw(t, "kind") {
		case 0:
			return procedure.Note{Text: text.Draw(t, "text"), Temperature: ptr(div.Draw(t, "temperature"))}
		case 1:
			return procedure.Who{Names: text.Draw(t, "names"), Group: text.Draw(t, "group")}
		case 2:
			return procedure.Strike{Event: rapid.IntRange(-1, 20).Draw(t, "event"), Why: text.Draw(t, "why")}
		case 3:
			return procedure.FirstRead{Div: ptr(div.Draw(t, "div"))}
		case 4:
			return procedure.ShuntedRead{OffScale: true}
		case 5:
			return procedure.ZeroRead{Div: div.Draw(t, "div")}
		case 6:
			return procedure.SourceMeasured{EMF: div.Draw(t, "emf")}
		default:
			return rapid.SampledFrom(practical()).Draw(t, "event of the practical")
		}
	})
}

func TestDefaultPath(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data", "halve")
	for i, want := range []string{"2025-01-31-100405.jsonl", "2025-01-31-100405-2.jsonl", "2025-01-31-100405-3.jsonl"} {
		if got := DefaultPath(dir, stopped()); got != filepath.Join(dir, want) {
			t.Errorf("name %d is %s, want %s", i+1, got, want)
		}
		s, err := BeginIn(dir, stopped, newID)
		if err != nil {
			t.Fatal(err)
		}
		if s.Path() != filepath.Join(dir, want) {
			t.Errorf("record %d is %s, want %s", i+1, s.Path(), want)
		}
		defer s.Close()
	}
	_, err := BeginIn(filepath.Join(put(t, nil), "below-a-file"), stopped, newID)
	oneClearLine(t, err)
}

// A clock that no record can write begins none, and leaves no file behind.
func TestClockBeyondTheCalendar(t *testing.T) {
	path := filepath.Join(t.TempDir(), "record.jsonl")
	_, err := halfDeflection.Begin(path, func() time.Time { return time.Date(10_000, 1, 1, 0, 0, 0, 0, time.UTC) }, newID)
	oneClearLine(t, err)
	if n := len(names(t, path)); n != 0 {
		t.Errorf("%d files are left", n)
	}
	s := InMemory(func() time.Time { return time.Date(10_000, 1, 1, 0, 0, 0, 0, time.UTC) })
	if c, err := s.Accept(procedure.Wired{}); err != nil || c.Refused == nil {
		t.Errorf("an event beyond the calendar: refused %v, %v", c.Refused, err)
	}
}

// What cannot be reached or read is said in one line.
func TestUnreadable(t *testing.T) {
	_, err := Read(filepath.Join(t.TempDir(), strings.Repeat("long", 300)))
	oneClearLine(t, err)
	_, err = readAll(iotest.ErrReader(errors.New("input/output error")))
	oneClearLine(t, err)
	_, err = readAll(io.LimitReader(zeros{}, MaxSize+1)) // grown since it was looked at
	oneClearLine(t, err)
	if !strings.Contains(err.Error(), "larger than") {
		t.Error(err)
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

// A record of another procedure is copied by nobody who does not know it.
func TestCopyOtherProcedure(t *testing.T) {
	path := put(t, []byte(`{"record":"halve","version":1,"procedure":"alchemy"}`+"\n"))
	_, err := CopyTo(path, t.TempDir(), "gold")
	oneClearLine(t, err)
	if !strings.Contains(err.Error(), `"alchemy"`) {
		t.Error(err)
	}
}

func TestCopyTo(t *testing.T) {
	path, data := written(t)
	s, err := Resume(path, stopped, newID)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	stick := t.TempDir()
	for _, want := range []string{"halve-B-3-G-7-b.jsonl", "halve-B-3-G-7-b-2.jsonl"} {
		got, err := s.CopyTo(stick)
		if err != nil {
			t.Fatal(err)
		}
		if got != filepath.Join(stick, want) || !bytes.Equal(content(t, got), data) {
			t.Errorf("the copy is %s, want %s, of the same content", got, want)
		}
	}
	for name, dir := range map[string]string{"nothing": filepath.Join(stick, "gone"), "a file": path} {
		_, err := s.CopyTo(dir)
		oneClearLine(t, err)
		if name == "a file" && !strings.Contains(err.Error(), "not a folder") {
			t.Errorf("copying to a file: %v", err)
		}
	}
	if got, err := CopyTo(path, stick, "named"); err != nil || got != filepath.Join(stick, "named.jsonl") {
		t.Errorf("copied to %s: %v", got, err)
	}
	_, err = CopyTo(put(t, []byte("a shopping list")), stick, "list")
	oneClearLine(t, err)
	if n := len(names(t, filepath.Join(stick, "x"))); n != 3 {
		t.Errorf("%d files on the stick, want 3", n)
	}
}

func TestName(t *testing.T) {
	bench := func(label string) procedure.Body {
		b := practical()[0].(procedure.Bench)
		b.Galvanometer.Label = label
		return b
	}
	who := func(group string) procedure.Body { return procedure.Who{Group: group} }
	long := strings.Repeat("Größe ", 40)
	for _, test := range []struct {
		name   string
		bodies []procedure.Body
		want   string
	}{
		{"nothing", nil, "halve-2025-01-31-1004.jsonl"},
		{"group", []procedure.Body{who("7a")}, "halve-7a.jsonl"},
		{"instrument", []procedure.Body{bench("G 7/b")}, "halve-G-7-b.jsonl"},
		{"the later group", []procedure.Body{who("7a"), who("7b")}, "halve-7b.jsonl"},
		{"a struck group", []procedure.Body{who("7a"), who("7b"), procedure.Strike{Event: 2}}, "halve-7a.jsonl"},
		{"a restored group", []procedure.Body{who("7a"), who("7b"), procedure.Strike{Event: 2}, procedure.Strike{Event: 3}}, "halve-7b.jsonl"},
		{"a way out", []procedure.Body{who("../../etc"), bench(`C:\a*b?`)}, "halve-etc-C-a-b.jsonl"},
		{"only signs", []procedure.Body{who("***"), bench("…")}, "halve-2025-01-31-1004.jsonl"},
		{"other scripts", []procedure.Body{who("क्षेत्र ३"), bench("検流計１")}, "halve-क्षेत्र-३-検流計１.jsonl"},
		{"name of a device", []procedure.Body{who("CON")}, "halve-CON.jsonl"},
	} {
		t.Run(test.name, func(t *testing.T) {
			s := InMemory(stopped)
			acceptAll(t, s, test.bodies)
			if got := halfDeflection.copyName(&s.log); got != test.want {
				t.Errorf("got %s, want %s", got, test.want)
			}
		})
	}
	t.Run("long", func(t *testing.T) {
		s := InMemory(stopped)
		acceptAll(t, s, []procedure.Body{who(long[:apparatus.MaxLabel]), bench(long[:apparatus.MaxLabel])})
		got := halfDeflection.copyName(&s.log)
		if len(got) > 200 || strings.ToValidUTF8(got, "") != got || strings.Contains(got, "--") {
			t.Errorf("got %s (%d bytes)", got, len(got))
		}
	})
}

// FuzzParse: whatever the file, no panic, one clear line or a log that holds
// together: its events write a record that reads the same.
func FuzzParse(f *testing.F) {
	_, data := written(f)
	f.Add(data)
	f.Add(data[:len(data)/2])
	f.Add([]byte(headStart))
	f.Add([]byte(`{"record":"halve","version":1,"procedure":"half-deflection"}` + "\r\n" + `{"event":"note","text":"a","at":"2025-01-31T10:04:05.5+23:59"}`))
	f.Add([]byte(`{"record":"halve","version":1,"procedure":"half-deflection"}` + "\n" + `{"event":"who","names":"sum","sum":null}` + "\n\x00\x00"))
	f.Fuzz(func(t *testing.T, data []byte) {
		log, err := halfDeflection.parse(data)
		if err != nil {
			oneClearLine(t, err)
			return
		}
		if log.whole+len(log.Cut) != len(data) {
			t.Fatalf("%d bytes whole and %d cut of %d", log.whole, len(log.Cut), len(data))
		}
		line, err := log.Header.encode()
		if err != nil {
			t.Fatal(err)
		}
		again := append(line, '\n')
		for _, e := range log.Events {
			line, err := e.Encode()
			if err != nil {
				t.Fatalf("event %+v: %v", e, err)
			}
			again = append(append(again, seal(line)...), '\n')
		}
		back, err := halfDeflection.parse(again)
		if err != nil {
			t.Fatalf("%v in\n%s", err, again)
		}
		sameEvents(t, "written again", back.Events, log.Events)
	})
}

// BenchmarkRead shows that the time for an event does not grow with their
// number. Events after the first rows are repeats, notes and strikes.
func BenchmarkRead(b *testing.B) {
	for _, n := range []int{1_000, 10_000, 100_000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			path := put(b, longRecord(b, n))
			b.ResetTimer()
			for b.Loop() {
				log, err := Read(path)
				if err != nil || len(log.Events) != n {
					b.Fatalf("%v, %d events", err, len(log.Events))
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/event")
		})
	}
}

// longRecord writes a record of n events: the practical without its end, then
// row after row.
func longRecord(b *testing.B, n int) []byte {
	line, err := Header{HalfDeflection, newID(), stopped()}.encode()
	if err != nil {
		b.Fatal(err)
	}
	data := append(line, '\n')
	opening := practical()[:5]
	row := practical()[5:10]
	for i := range n {
		body := row[max(i-len(opening), 0)%len(row)]
		if i < len(opening) {
			body = opening[i]
		}
		line, err := procedure.Event{Seq: i + 1, At: stopped(), Body: body}.Encode()
		if err != nil {
			b.Fatal(err)
		}
		data = append(append(data, seal(line)...), '\n')
	}
	return data
}

// BenchmarkAccept is one event, synced.
func BenchmarkAccept(b *testing.B) {
	s, err := halfDeflection.Begin(filepath.Join(b.TempDir(), "record.jsonl"), stopped, newID)
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	acceptAll(b, s, practical()[:10])
	for b.Loop() {
		if _, err := s.Accept(procedure.Note{Text: "a"}); err != nil {
			b.Fatal(err)
		}
	}
}
