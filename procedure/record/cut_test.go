package record

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"example.org/halve/procedure"
)

// Cut anywhere, the record opens again with every event whose line is whole;
// the rest of the line is kept, and the practical goes on.
func TestCutAtEveryByte(t *testing.T) {
	path, data := written(t)
	all, err := Read(path)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	for n := 0; n < len(data); n += stride() {
		path := filepath.Join(dir, fmt.Sprint(n))
		if err := os.WriteFile(path, data[:n], 0o644); err != nil {
			t.Fatal(err)
		}
		whole := wholeLines(data, n)
		what := fmt.Sprintf("cut at byte %d", n)
		log, err := Read(path)
		s, errResume := Resume(path, stopped, newID)
		if whole < 0 { // not even the header
			oneClearLine(t, err)
			if !errors.Is(err, errNothingYet) {
				t.Errorf("%s: reading says %q", what, err)
			}
			if errResume != nil {
				t.Fatalf("%s: %v", what, errResume)
			}
			begunAnew(t, what, s, data[:n])
			acceptAll(t, s, practical()[:1])
			s.Close()
			if want := bytes.Join(bytes.SplitAfter(data, []byte{'\n'})[:2], nil); !bytes.Equal(content(t, path), want) {
				t.Errorf("%s: begun anew it has\n%s\nwant\n%s", what, content(t, path), want)
			}
			continue
		}
		if err != nil || errResume != nil {
			t.Fatalf("%s: Read: %v, Resume: %v", what, err, errResume)
		}
		sameEvents(t, what+", read", log.Events, all.Events[:whole])
		sameEvents(t, what+", resumed", s.Events(), all.Events[:whole])

		// The whole lines, and the piece after them.
		keep := bytes.LastIndexByte(data[:n], '\n') + 1
		if data[n] == '\n' {
			keep = n
		}
		piece := data[keep:n]
		if got := log.Cut; !bytes.Equal(got, piece) {
			t.Errorf("%s: Read has the piece %q, want %q", what, got, piece)
		}
		if len(piece) == 0 {
			if s.Recovered() != "" || log.CutNote() != "" {
				t.Errorf("%s: nothing was cut off, yet: %q, %q", what, s.Recovered(), log.CutNote())
			}
		} else {
			if got := content(t, path+".cut-1"); !bytes.Equal(got, piece) {
				t.Errorf("%s: kept %q, want %q", what, got, piece)
			}
			if r := s.Recovered(); !strings.Contains(r, path+".cut-1") || !strings.Contains(r, fmt.Sprintf("line %d,", whole+2)) || strings.Contains(r, "\n") {
				t.Errorf("%s: Recovered says %q", what, r)
			}
		}

		// It goes on as if there had been no cut. The last bytes of a line and
		// some of the others stand for all.
		if n%13 != 0 && data[n] != '}' && data[n] != '\n' {
			s.Close()
			continue
		}
		next := min(whole+1, len(practical()))
		acceptAll(t, s, practical()[whole:next])
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		want := bytes.Join(bytes.SplitAfter(data, []byte{'\n'})[:next+1], nil)
		if got := content(t, path); !bytes.Equal(got, want) {
			t.Fatalf("%s: the record went on as\n%s\nwant\n%s", what, got, want)
		}
	}
}

// begunAnew checks a record that was cut off within its header: it is begun
// anew, the piece is beside it, and both are said.
func begunAnew(t *testing.T, what string, s *Sitting, piece []byte) {
	t.Helper()
	note := s.Recovered()
	if !strings.Contains(note, "begun anew") || strings.Contains(note, "\n") {
		t.Errorf("%s: Recovered says %q", what, note)
	}
	if s.Header().ID != newID() || len(s.Events()) != 0 {
		t.Errorf("%s: header %+v, %d events", what, s.Header(), len(s.Events()))
	}
	if len(piece) == 0 {
		if strings.Contains(note, "kept") {
			t.Errorf("%s: of nothing a piece is kept: %q", what, note)
		}
		return
	}
	if got := content(t, s.Path()+".cut-1"); !bytes.Equal(got, piece) || !strings.Contains(note, s.Path()+".cut-1") {
		t.Errorf("%s: kept %q, want %q; Recovered says %q", what, got, piece, note)
	}
}

// A header whose tail a power cut left as zero bytes is a piece as well.
func TestHeaderWithZeroBytes(t *testing.T) {
	_, data := written(t)
	end := bytes.IndexByte(data, '\n')
	holed := slices.Clone(data[:end+1])
	clear(holed[40:60])
	for name, piece := range map[string][]byte{
		"at its end":              append(slices.Clone(data[:50]), make([]byte, 300)...),
		"in the middle":           holed,
		"after a byte order mark": append([]byte(byteOrderMark), data[:30]...),
	} {
		t.Run(name, func(t *testing.T) {
			path := put(t, piece)
			_, err := Read(path)
			oneClearLine(t, err)
			if !bytes.Equal(content(t, path), piece) {
				t.Fatal("reading changed the file")
			}
			s, err := Resume(path, stopped, newID)
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			begunAnew(t, name, s, piece)
			acceptAll(t, s, practical())
			if !bytes.Equal(content(t, path), data) {
				t.Error("the record begun anew is not as any other")
			}
		})
	}
}

// Where the piece that was cut off cannot be kept, the file stays as it is: the
// names for the piece are all taken.
func TestPieceNotKept(t *testing.T) {
	_, data := written(t)
	path := put(t, nil)
	for n := 1; n <= 1000; n++ {
		if err := os.WriteFile(fmt.Sprintf("%s.cut-%d", path, n), nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for name, cut := range map[string][]byte{"in the header": data[:30], "in an event": data[:len(data)-5]} {
		if err := os.WriteFile(path, cut, 0o644); err != nil {
			t.Fatal(err)
		}
		_, err := Resume(path, stopped, newID)
		oneClearLine(t, err)
		if !bytes.Equal(content(t, path), cut) || !strings.Contains(err.Error(), "cannot be kept") {
			t.Errorf("%s: %v; the file has %q", name, err, content(t, path))
		}
	}
}

// Editors put a byte order mark in front and leave blank lines; neither is
// damage, and lines are still numbered as the editor numbers them.
func TestEditors(t *testing.T) {
	_, data := written(t)
	text := string(data)
	for name, edited := range map[string]string{
		"byte order mark":            byteOrderMark + text,
		"blank lines":                strings.ReplaceAll(text, "\n", "\n\n"),
		"a blank line at the end":    text + "\n",
		"spaces at the end":          text + "   ",
		"lines of spaces and tabs":   strings.ReplaceAll(text, "\n", "\n \t\n"),
		"all of it, and \\r\\n":      byteOrderMark + strings.ReplaceAll(text, "\n", "\r\n\r\n"),
		"no newline after the blank": strings.ReplaceAll(text, "\n", "\n \n") + " ",
	} {
		t.Run(name, func(t *testing.T) {
			path := put(t, []byte(edited))
			log, err := Read(path)
			if err != nil || len(log.Events) != len(practical()) || log.Cut != nil {
				t.Fatalf("Read: %v, %+v", err, log)
			}
			s, err := Resume(path, stopped, newID)
			if err != nil || s.Recovered() != "" {
				t.Fatalf("Resume: %v, recovered %q", err, s.Recovered())
			}
			defer s.Close()
			acceptAll(t, s, []procedure.Body{procedure.Note{Text: "one more"}})
			if again, err := Read(path); err != nil || len(again.Events) != len(practical())+1 {
				t.Errorf("read again: %v", err)
			}
		})
	}
	blank := strings.Replace(text, "\n", "\n\n\n", 1) // the first event stands in line 4
	if _, err := halfDeflection.parse([]byte(strings.Replace(blank, "dry cell", "wet cell", 1))); err == nil || !strings.HasPrefix(err.Error(), "line 4 is damaged") {
		t.Errorf("damage in line 4: %v", err)
	}
	torn, err := halfDeflection.parse([]byte(blank[:len(blank)-5]))
	if want := fmt.Sprintf("within line %d,", len(practical())+3); err != nil || !strings.Contains(torn.CutNote(), want) {
		t.Errorf("cut: %v, %q, want %q", err, torn.CutNote(), want)
	}
}

// Earlier pieces are never written over.
func TestCutAgain(t *testing.T) {
	path, data := written(t)
	for i, n := range []int{len(data) - 4, len(data) - 8, len(data) - 12} {
		if err := os.WriteFile(path, data[:n], 0o644); err != nil {
			t.Fatal(err)
		}
		s, err := Resume(path, stopped, newID)
		if err != nil {
			t.Fatal(err)
		}
		s.Close()
		if want := fmt.Sprintf("%s.cut-%d", path, i+1); !strings.Contains(s.Recovered(), want) {
			t.Errorf("Recovered says %q, want it to name %s", s.Recovered(), want)
		}
	}
	if got := names(t, path); len(got) != 4 {
		t.Errorf("files: %v, want the record and three pieces", got)
	}
	start := bytes.LastIndexByte(data[:len(data)-1], '\n') + 1
	if got, want := content(t, path+".cut-1"), data[start:len(data)-4]; !bytes.Equal(got, want) {
		t.Errorf("the first piece is %q, want %q", got, want)
	}
}

// A power cut may leave zero bytes where a line was to be: at the end of the
// file, or in the middle of a last line whose end was written first.
func TestCutWithZeroBytes(t *testing.T) {
	_, data := written(t)
	last := bytes.LastIndexByte(data[:len(data)-1], '\n') + 1
	holed := slices.Clone(data)
	clear(holed[last : last+20])
	for name, tail := range map[string][]byte{
		"all zero":          make([]byte, 700),
		"as long as a line": make([]byte, procedure.MaxLine+100),
		"a piece and zero":  append(slices.Clone(data[last:last+30]), make([]byte, 300)...),
		"a hole in a line":  holed[last:],
	} {
		t.Run(name, func(t *testing.T) {
			path := put(t, append(slices.Clone(data[:last]), tail...))
			s, err := Resume(path, stopped, newID)
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			if len(s.Events()) != len(practical())-1 {
				t.Errorf("%d events, want %d", len(s.Events()), len(practical())-1)
			}
			if !bytes.Equal(content(t, path+".cut-1"), tail) {
				t.Error("the piece was not kept as it was")
			}
			if !bytes.Equal(content(t, path), data[:last]) {
				t.Error("the record is not what it was up to the last whole line")
			}
		})
	}
}

// Any byte changed to any of several others is found, or makes no difference
// to any event.
func TestFlipEveryByte(t *testing.T) {
	path, data := written(t)
	want, err := Read(path)
	if err != nil {
		t.Fatal(err)
	}
	lastLine := bytes.LastIndexByte(data[:len(data)-1], '\n') + 1
	found, harmless := 0, 0
	for i := 0; i < len(data); i += stride() {
		for _, mask := range []byte{0x01, 0x04, 0x20, 0x80, data[i]} {
			bad := slices.Clone(data)
			bad[i] ^= mask
			log, err := halfDeflection.parse(bad)
			switch {
			case err != nil:
				oneClearLine(t, err)
				found++
			case log.Cut != nil: // the last line, torn: kept beside and said
				if i < lastLine {
					t.Fatalf("byte %d changed by %#x: a line in the middle was taken for a cut", i, mask)
				}
				sameEvents(t, "torn", log.Events, want.Events[:len(want.Events)-1])
				found++
			default:
				sameEvents(t, fmt.Sprintf("byte %d changed by %#x", i, mask), log.Events, want.Events)
				if log.Header != want.Header {
					t.Fatalf("byte %d changed by %#x: the header is %+v, want %+v", i, mask, log.Header, want.Header)
				}
				harmless++
			}
		}
	}
	t.Logf("%d changes found, %d harmless", found, harmless)
	if found < 100*harmless {
		t.Errorf("only %d changes found and %d taken for harmless", found, harmless)
	}
}

// Lines taken out, doubled or exchanged are found, whatever their sums say.
func TestLinesMoved(t *testing.T) {
	_, data := written(t)
	lines := bytes.SplitAfter(data, []byte{'\n'})
	lines = lines[:len(lines)-1]
	for i := 1; i < len(lines)-1; i++ {
		for name, changed := range map[string][][]byte{
			"taken out": slices.Delete(slices.Clone(lines), i, i+1),
			"doubled":   slices.Insert(slices.Clone(lines), i, lines[i]),
			"exchanged": slices.Concat(lines[:i], [][]byte{lines[i+1], lines[i]}, lines[i+2:]),
		} {
			_, err := halfDeflection.parse(bytes.Join(changed, nil))
			oneClearLine(t, err)
			if !strings.HasPrefix(err.Error(), "line ") {
				t.Errorf("line %d %s: %v", i+1, name, err)
			}
		}
	}
}

// A damaged line in the middle stops the reading, is named, and is left alone.
func TestDamageInTheMiddle(t *testing.T) {
	_, data := written(t)
	lines := strings.SplitAfter(string(data), "\n")
	with := func(i int, s string) string {
		l := slices.Clone(lines)
		l[i] = s
		return strings.Join(l, "")
	}
	unsummed := func(i int) string { // the line without its sum, for change
		l := strings.TrimSuffix(lines[i], "\n")
		return l[:len(l)-sumLen] + "}"
	}
	for _, test := range []struct {
		name, data, line, want string
	}{
		{"digit", with(6, strings.Replace(lines[6], "8200", "8300", 1)), "line 7 ", "sum"},
		{"no JSON", with(6, "{\"seq\":6\n"), "line 7 ", "JSON"},
		{"a key twice", with(6, `{"seq":6,"event":"zero","div":1,"div":2}`+"\n"), "line 7 ", `"div" stands twice`},
		{"a key of the header twice", with(0, headStart+`,"version":1,"procedure":"half-deflection","id":"a","id":"b"}`+"\n"), "line 1 ", `"id" stands twice`},
		{"seq", with(6, strings.Replace(unsummed(6), `"seq":6`, `"seq":9`, 1)+"\n"), "line 7 ", "seq is 9"},
		{"unknown event", with(6, `{"seq":6,"event":"warp"}`+"\n"), "line 7 ", "warp"},
		{"refused by the state", with(8, `{"seq":8,"event":"set-shunt","ohm":12.34}`+"\n"), "line 9 ", "12.34"},
		{"sum not last", with(3, `{"sum":"00000000","seq":3,"event":"wired"}`+"\n"), "line 4 ", "sum"},
		{"sum not hexadecimal", with(3, `{"seq":3,"event":"wired","sum":"0000000g"}`+"\n"), "line 4 ", "sum"},
		{"sum a number", with(3, `{"seq":3,"event":"wired","sum":12345678}`+"\n"), "line 4 ", "sum"},
		{"long line", with(3, `{"seq":3,"event":"note","text":"`+strings.Repeat("a", procedure.MaxLine)+"\"}\n"), "line 4 ", "longer than"},
		{"header", with(0, strings.Replace(lines[0], "3f9a2c", "3f9a2d", 1)), "line 1 ", "sum"},
		{"header no JSON", with(0, "{\"record\":\"halve\",\n"), "line 1 ", "header"},
		{"last line", with(len(lines)-2, strings.Replace(lines[len(lines)-2], "put away", "put awry", 1)), fmt.Sprintf("line %d ", len(lines)-1), "sum"},
	} {
		t.Run(test.name, func(t *testing.T) {
			path := put(t, []byte(test.data))
			_, err := Read(path)
			oneClearLine(t, err)
			if !strings.Contains(err.Error(), test.line) || !strings.Contains(err.Error(), test.want) {
				t.Errorf("Read says %q, want %q and %q in it", err, test.line, test.want)
			}
			_, errResume := Resume(path, stopped, newID)
			if errResume == nil || errResume.Error() != err.Error() {
				t.Errorf("Resume says %v, Read %v", errResume, err)
			}
			if string(content(t, path)) != test.data || len(names(t, path)) != 1 {
				t.Error("something was changed")
			}
		})
	}
}

// What the message for a damaged line advises does help.
func TestAdviceForDamage(t *testing.T) {
	_, data := written(t)
	lines := bytes.SplitAfter(data, []byte{'\n'})
	s, err := Resume(put(t, bytes.Join(lines[:7], nil)), stopped, newID)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	acceptAll(t, s, practical()[6:])
}

// A record kept by hand: no sums, no times, no numbers, the line ends of
// another system, no newline at the end.
func TestRecordByHand(t *testing.T) {
	_, data := written(t)
	bench := strings.SplitN(string(data), "\n", 3)[1]
	bench = strings.Replace(bench[:len(bench)-sumLen]+"}", `"seq":1,"at":"2025-01-31T10:04:05Z",`, "", 1)
	byHand := strings.Join([]string{
		`{"record":"halve","version":1,"procedure":"half-deflection","room":"4"}`, bench,
		`{"event":"wired"}`, `{"event":"zero","div":0}`, `{"event":"strike","seq":3}`,
	}, "\r\n")
	path := put(t, []byte(byHand))
	s, err := Resume(path, stopped, newID)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if n := len(s.Events()); n != 4 || s.Recovered() != "" {
		t.Fatalf("%d events, recovered %q; want 4 and nothing", n, s.Recovered())
	}
	if got := s.Events()[3].Body; got != (procedure.Strike{Event: 3}) {
		t.Errorf("the strike is %+v", got)
	}
	acceptAll(t, s, []procedure.Body{procedure.Note{Text: "by machine"}})
	log, err := Read(path)
	if err != nil || len(log.Events) != 5 {
		t.Fatalf("read again: %v, %d events, want 5", err, len(log.Events))
	}
}
