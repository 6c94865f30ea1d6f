package lines_test

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"time"
	"unicode"

	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
	"example.org/halve/tui/lines"
)

const benchLine = `{"event":"bench","source":{"emf_V":1.5,"u_emf_V":0.03},"galvanometer":{"divisions":30,"zero":"centre","resolution_div":0.5},` +
	`"series_box":{"kind":"plug","coils_ohm":[1,2,2,5,10,20,20,50,100,200,200,500,1000,2000,2000,5000],"tolerance":0.001},` +
	`"shunt_box":{"kind":"plug","coils_ohm":[1,2,2,5,10,20,20,50,100,200,200,500],"tolerance":0.001}}`

func clock() time.Time { return time.Date(2025, 3, 4, 10, 0, 0, 0, time.UTC) }

// run feeds the lines to a sitting in memory and returns what was answered.
func run(t *testing.T, input string) ([]procedure.Counsel, *record.Sitting) {
	t.Helper()
	s := record.InMemory(clock)
	var out bytes.Buffer
	if err := lines.Run(s, strings.NewReader(input), &out); err != nil {
		t.Fatalf("Run(%q): %v", input, err)
	}
	var answers []procedure.Counsel
	for line := range strings.Lines(out.String()) {
		var c procedure.Counsel
		if err := json.Unmarshal([]byte(line), &c); err != nil {
			t.Fatalf("answer %q is no JSON: %v", line, err)
		}
		answers = append(answers, c)
	}
	return answers, s
}

// One counsel comes before the first line and one for each line, whatever the
// line is; what cannot be taken changes nothing.
func TestEveryLineIsAnswered(t *testing.T) {
	long := `{"event":"note","text":"` + strings.Repeat("x", procedure.MaxLine) + `"}`
	tests := []struct {
		name, line string
		refused    bool
	}{
		{"an event", `{"event":"wired"}`, false},
		{"an event with a stranger's seq and at", `{"event":"zero","div":0,"seq":99,"at":"1999-01-01T00:00:00Z"}`, false},
		{"not JSON", `hello`, true},
		{"an empty line", ``, true},
		{"half an object", `{"event":"zero"`, true},
		{"an array", `[]`, true},
		{"an unknown event", `{"event":"dance"}`, true},
		{"an unknown key", `{"event":"wired","by":"me"}`, true},
		{"a negative resistance", `{"event":"set-series","ohm":-5}`, true},
		{"NaN", `{"event":"zero","div":NaN}`, true},
		{"a shunted reading before a first one", `{"event":"read-shunted","div":12}`, true},
		{"a line over 64 KiB", long, true},
		{"bytes that are no text", "\xff\xfe\x00", true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			answers, s := run(t, benchLine+"\n"+tt.line+"\n"+`{"event":"note","text":"still here"}`+"\n")
			if len(answers) != 4 {
				t.Fatalf("got %d answers, want 4: one before the first line and one for each of three", len(answers))
			}
			got := answers[2]
			if (got.Refused != nil) != tt.refused {
				t.Errorf("refused is %v, want refused %t", got.Refused, tt.refused)
			}
			if tt.refused {
				if got.Seq != 1 || strings.ContainsAny(*got.Refused, "\n\r") || *got.Refused == "" {
					t.Errorf("after a refusal: seq %d, refused %q; want seq 1 and one line", got.Seq, *got.Refused)
				}
				before, _ := json.Marshal(answers[1])
				got.Refused = nil
				after, _ := json.Marshal(got)
				if !bytes.Equal(before, after) {
					t.Errorf("the rest of a refusal is that of before:\n got %s\nwant %s", after, before)
				}
			}
			if n := len(s.Events()); n != answers[3].Seq || answers[3].Refused != nil {
				t.Errorf("the program goes on: %d events, last answer %+v", n, answers[3])
			}
		})
	}
}

// A last line without an end is an event like any other.
func TestLastLineWithoutEnd(t *testing.T) {
	answers, s := run(t, benchLine)
	if len(answers) != 2 || len(s.Events()) != 1 {
		t.Errorf("got %d answers and %d events, want 2 and 1", len(answers), len(s.Events()))
	}
}

// full is a sitting whose disk is full.
type full struct{ *record.Sitting }

func (f full) Accept(procedure.Body) (procedure.Counsel, error) {
	return f.Counsel(), errors.New("not recorded: no space left on device")
}

func (full) Path() string { return "stick/record.jsonl" }

// What could not be recorded is answered like a refusal, and the program goes on.
func TestDiskFull(t *testing.T) {
	var out bytes.Buffer
	in := strings.NewReader("{\"event\":\"note\",\"text\":\"a\"}\n{\"event\":\"note\",\"text\":\"b\"}\n")
	if err := lines.Run(full{record.InMemory(clock)}, in, &out); err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(out.String(), `"refused":"not recorded: no space left on device"`); n != 2 {
		t.Errorf("got %d refusals, want 2 in:\n%s", n, out.String())
	}
	if n := strings.Count(out.String(), `"record":"stick/record.jsonl"`); n != 1 {
		t.Errorf("the record is named %d times, want once, in the first counsel:\n%s", n, out.String())
	}
}

// Every answer is flushed before the next line is read.
func TestFlushed(t *testing.T) {
	inR, inW := io.Pipe()
	outR, outW := io.Pipe()
	done := make(chan error, 1)
	go func() { done <- lines.Run(record.InMemory(clock), inR, outW) }()
	answers := bufio.NewReader(outR)
	for i := range 3 {
		if _, err := answers.ReadString('\n'); err != nil {
			t.Fatalf("answer %d: %v", i, err)
		}
		fmt.Fprintf(inW, "{\"event\":\"note\",\"text\":\"%d\"}\n", i)
	}
	if _, err := answers.ReadString('\n'); err != nil {
		t.Fatal(err)
	}
	inW.Close()
	if err := <-done; err != nil {
		t.Errorf("end of input: %v, want none", err)
	}
}

// Out going away is an error that can be told from others.
func TestBrokenPipe(t *testing.T) {
	r, w := io.Pipe()
	r.Close()
	err := lines.Run(record.InMemory(clock), strings.NewReader(benchLine), w)
	if !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("got %v, want %v", err, io.ErrClosedPipe)
	}
}

// What steers a terminal is escaped, and says the same to a program; what people
// write is left as it is.
func TestLineIsHarmless(t *testing.T) {
	want := "/\x1b[2J\u202e\u009b31m\U000e0041\u200b/Größe 日本 <b> & \u2028.jsonl"
	line, err := lines.Line(map[string]string{"record": want})
	if err != nil {
		t.Fatal(err)
	}
	if strings.ContainsFunc(strings.TrimSuffix(string(line), "\n"), func(r rune) bool { return unicode.In(r, unicode.Cc, unicode.Cf) }) {
		t.Errorf("%q", line)
	}
	var got map[string]string
	if err := json.Unmarshal(line, &got); err != nil || got["record"] != want {
		t.Errorf("%s reads as %q, %v, want %q", line, got["record"], err, want)
	}
	if !strings.Contains(string(line), "Größe 日本 <b> & ") {
		t.Errorf("%s: what people write is left as it is", line)
	}
	if _, err := lines.Line(math.NaN()); err == nil {
		t.Error("not a number is no JSON")
	}
}

// A byte order mark in front of the first line does no harm.
func TestByteOrderMark(t *testing.T) {
	answers, s := run(t, "\ufeff"+benchLine+"\n")
	if len(answers) != 2 || answers[1].Refused != nil || s.State().Seq() != 1 {
		t.Errorf("got %+v", answers)
	}
}

// Whatever is sent, every answer is JSON and there is one more than lines.
func FuzzRun(f *testing.F) {
	f.Add(benchLine + "\n{\"event\":\"wired\"}\n{\"event\":\"zero\",\"div\":0}\n{\"event\":\"set-series\",\"ohm\":11110}\n")
	f.Add(benchLine + "\n{\"event\":\"set-series\",\"ohm\":3000}\n{\"event\":\"read-first\",\"div\":24}\n{\"event\":\"set-shunt\",\"ohm\":90}\n{\"event\":\"read-shunted\",\"div\":12}\n{\"event\":\"keep-row\"}\n{\"event\":\"strike\",\"seq\":6}\n")
	f.Add("{\"event\":\"read-first\",\"off_scale\":true}\n\n{}\n")
	f.Add("{\"event\":\"claim\",\"quantity\":\"merit\",\"value\":\"1e400\"}\n\xff\n")
	f.Fuzz(func(t *testing.T, input string) {
		answers, _ := run(t, input)
		want := 1 + strings.Count(input, "\n")
		if len(input) > 0 && !strings.HasSuffix(input, "\n") {
			want++
		}
		if len(answers) != want {
			t.Errorf("got %d answers to %q, want %d", len(answers), input, want)
		}
	})
}
