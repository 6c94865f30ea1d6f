package procedure

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"reflect"
	"strings"
	"testing"
	"time"
	"unicode"

	"example.org/halve/physics/apparatus"
)

// TestDecodeRefuses: each line that is no event is answered in one line that
// says what is expected.
func TestDecodeRefuses(t *testing.T) {
	for _, tc := range []struct{ name, line, words string }{
		{"empty", ``, "one JSON object"},
		{"not JSON", `hello`, "one JSON object"},
		{"an array", `[1,2]`, "one JSON object"},
		{"two objects", `{"event":"wired"}{"event":"wired"}`, "one JSON object"},
		{"no event", `{"ohm":5}`, `"event" is missing`},
		{"event is null", `{"event":null}`, `"event" is missing`},
		{"event is a number", `{"event":5}`, `"event" is missing`},
		{"unknown event", `{"event":"dance"}`, `no event "dance"`},
		{"unknown key", `{"event":"set-series","ohm":5,"omh":6}`, `unknown key "omh"; it takes ohm, take_out_ohm`},
		{"unknown key where none is taken", `{"event":"wired","ohm":6}`, "it takes no keys of its own"},
		{"unknown key deep inside", `{"event":"bench","source":{"emf":1},"galvanometer":{},"series_box":{},"shunt_box":{}}`, `unknown key "emf"`},
		{"value missing", `{"event":"set-series"}`, "set-series needs ohm"},
		{"value null", `{"event":"set-series","ohm":null}`, "set-series needs ohm"},
		{"value a text", `{"event":"set-series","ohm":"4k7"}`, "ohm is a number"},
		{"plugs no list", `{"event":"set-series","ohm":5,"take_out_ohm":5}`, "take_out_ohm is a list of numbers"},
		{"negative", `{"event":"set-series","ohm":-5}`, "ohm lies between 0"},
		{"too large", `{"event":"set-series","ohm":1e12}`, "ohm lies between 0"},
		{"infinite", `{"event":"set-series","ohm":1e999}`, "ohm is a number"},
		{"NaN", `{"event":"set-series","ohm":NaN}`, "one JSON object"},
		{"reading without a value", `{"event":"read-first"}`, "needs div"},
		{"reading far beyond any scale", `{"event":"read-first","div":5000}`, "div lies between"},
		{"claim of nothing known", `{"event":"claim","quantity":"mass","value":5}`, "quantity is"},
		{"claim with another unit", `{"event":"claim","quantity":"resistance","value":"5 V"}`, "claim:"},
		{"claim of no number", `{"event":"claim","quantity":"resistance","value":"ninety"}`, "claim:"},
		{"claim of a list", `{"event":"claim","quantity":"resistance","value":[1]}`, "value is a number or a string"},
		{"strike without a number", `{"event":"strike"}`, "strike needs seq"},
		{"strike of a text", `{"event":"strike","seq":"last"}`, "strike needs seq"},
		{"empty note", `{"event":"note"}`, "note needs"},
		{"note in the oven", `{"event":"note","temperature_C":400}`, "temperature_C lies between"},
		{"who is nobody", `{"event":"who"}`, "who needs"},
		{"too long", `{"event":"note","text":"` + strings.Repeat("x", MaxLine) + `"}`, "longer than"},
		{"escape sequence as an event", "{\"event\":\"\\u001b[31mred\"}", `no event "red"`},
	} {
		t.Run(tc.name, func(t *testing.T) {
			b, err := DecodeInput([]byte(tc.line))
			if err == nil {
				t.Fatalf("taken as %+v", b)
			}
			if msg := err.Error(); !strings.Contains(msg, tc.words) || strings.ContainsFunc(msg, unicode.IsControl) {
				t.Errorf("got %q, want one clean line with %q", msg, tc.words)
			}
		})
	}
}

// everyBody has one event of each kind with all its fields in use.
func everyBody() []Body {
	bench := usualBench()
	bench.Label = "bench 3"
	bench.Source.MaxCurrent = ptr(0.5)
	bench.Galvanometer.FullScale = ptr(6e-4)
	bench.ShuntBox = apparatus.Box{Kind: apparatus.Decade, Dials: []float64{100, 10, 1}, Tolerance: 0.002, Rating: ptr(0.5)}
	return []Body{
		bench, Wired{}, SourceMeasured{EMF: 1.49, UEMF: ptr(0.01), Loaded: true}, ZeroRead{-0.5},
		SeriesSet{8200, []float64{5000, 2000, 1000, 200}}, FirstRead{Div: ptr(24)}, FirstRead{OffScale: true},
		ShuntSet{95, nil}, ShuntedRead{Div: ptr(12)}, ShuntedRead{OffScale: true}, RowKept{},
		Claim{Quantity: ClaimMerit, Value: Written{"1.90e-5", 1.90e-5}, Row: 1},
		Claim{Quantity: ClaimResistance, Value: Written{"90.0", 90}},
		Strike{Event: 3, Why: "misread"}, Note{Text: "pressed the plugs", Temperature: ptr(21.5)}, Who{Names: "A. and B.", Group: "7"}, Finish{},
	}
}

// TestEncodeDecode: what is written is read back the same, from a record and
// from input.
func TestEncodeDecode(t *testing.T) {
	at := time.Date(2031, 3, 4, 9, 0, 0, 123e6, time.UTC)
	seen := map[string]bool{}
	for i, body := range everyBody() {
		seen[body.Kind()] = true
		line, err := Event{Seq: i + 1, At: at, Body: body}.Encode()
		if err != nil {
			t.Fatalf("%+v: %v", body, err)
		}
		got, err := DecodeRecorded(line, i+1)
		if err != nil || got.Seq != i+1 || !got.At.Equal(at) || !reflect.DeepEqual(got.Body, body) {
			t.Errorf("%s\ngot  %+v, %v\nwant %+v", line, got, err, body)
		}
		if _, err := DecodeRecorded(line, i+2); err == nil {
			t.Errorf("%s: taken as event %d", line, i+2)
		}
		if line, err = EncodeInput(body); err != nil {
			t.Fatal(err)
		}
		if in, err := DecodeInput(line); err != nil || !reflect.DeepEqual(in, body) {
			t.Errorf("input %s\ngot  %+v, %v\nwant %+v", line, in, err, body)
		}
	}
	for _, words := range []Vocabulary{vocabulary, shared} {
		for kind := range words {
			if !seen[kind] {
				t.Errorf("no example of %s", kind)
			}
		}
	}
}

// TestStrikeNumbers: in a record a strike's line has its own number and names
// the struck event; on input, and in a record written by hand, seq is the
// struck event.
func TestStrikeNumbers(t *testing.T) {
	for _, tc := range []struct {
		line  string
		place int
		want  int
		ok    bool
	}{
		{`{"seq":9,"event":"strike","strikes":4}`, 9, 4, true},
		{`{"event":"strike","seq":4}`, 9, 4, true},
		{`{"event":"strike","strikes":4}`, 9, 4, true},
		{`{"seq":9,"event":"strike"}`, 9, 0, false},
		{`{"seq":8,"event":"strike","strikes":4}`, 9, 0, false},
		{`{"seq":10,"event":"strike"}`, 9, 0, false},
	} {
		e, err := DecodeRecorded([]byte(tc.line), tc.place)
		if (err == nil) != tc.ok {
			// A strike of itself is for the state to refuse.
			if s, is := e.Body.(Strike); !tc.ok && is && s.Event == tc.place {
				continue
			}
			t.Errorf("%s: %+v, %v", tc.line, e, err)
			continue
		}
		if tc.ok && e.Body.(Strike).Event != tc.want {
			t.Errorf("%s: strikes %d, want %d", tc.line, e.Body.(Strike).Event, tc.want)
		}
	}
}

// TestInputIgnoresEnvelope: seq, at and sum of the input do not matter.
func TestInputIgnoresEnvelope(t *testing.T) {
	b, err := DecodeInput([]byte(`{"seq":77,"at":"whenever","sum":"00000000","event":"zero","div":0.5}`))
	if err != nil || b != (ZeroRead{0.5}) {
		t.Errorf("got %+v, %v", b, err)
	}
}

func TestReadLine(t *testing.T) {
	long := strings.Repeat("x", MaxLine+1)
	just := strings.Repeat("y", MaxLine)
	r := bufio.NewReaderSize(strings.NewReader("one\r\n"+long+"\n\n"+just+"\nlast"), 16)
	for i, want := range []struct {
		line string
		long bool
	}{{"one", false}, {"", true}, {"", false}, {just, false}, {"last", false}} {
		line, tooLong, err := ReadLine(r)
		if err != nil || tooLong != want.long || !tooLong && string(line) != want.line {
			t.Errorf("line %d: got %.20q (%d bytes), %t, %v; want %.20q, %t", i, line, len(line), tooLong, err, want.line, want.long)
		}
	}
	if _, _, err := ReadLine(r); !errors.Is(err, io.EOF) {
		t.Errorf("at the end: %v", err)
	}
}

func TestCleanText(t *testing.T) {
	for in, want := range map[string]string{
		"plain":                     "plain",
		"  spaces  ":                "spaces",
		"two\nlines\tand a tab":     "two lines and a tab",
		"\x1b[31mred\x1b[0m":        "red",
		"\x1b]0;title\x07after":     "after",
		"\x1b]52;c;AAAA\x1b\\after": "after",
		"\u009b31mred":              "red",
		"\x1b":                      "",
		"\x1b[":                     "",
		"\u202egnirts":              "gnirts",
		"zero\u200bwidth":           "zerowidth",
		"bell\a and back\b":         "bell and back",
		"\xff\xfe bad bytes":        "bad bytes",
		"Ω and µ and θ stay, and so does 日本": "Ω and µ and θ stay, and so does 日本",
	} {
		if got := CleanText(in, 100); got != want {
			t.Errorf("CleanText(%q) = %q, want %q", in, got, want)
		}
	}
	if got := CleanText(strings.Repeat("é", 50), 10); got != strings.Repeat("é", 10) {
		t.Errorf("cut to %q", got)
	}
}

func FuzzCleanText(f *testing.F) {
	f.Add("\x1b[31mred")
	f.Add("\u009b\u202e\x00\x7f")
	f.Fuzz(func(t *testing.T, s string) {
		got := CleanText(s, 60)
		for _, r := range got {
			if unicode.In(r, unicode.Cc, unicode.Cf) {
				t.Errorf("CleanText(%q) = %q keeps %U", s, got, r)
			}
		}
		if again := CleanText(got, 60); again != got {
			t.Errorf("cleaning twice changes %q to %q", got, again)
		}
	})
}

// FuzzDecode: no line makes the decoder panic, and what it takes is written
// and read back the same.
func FuzzDecode(f *testing.F) {
	for _, b := range everyBody() {
		line, err := EncodeInput(b)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(line)
	}
	f.Add([]byte(`{"event":"bench","source":null}`))
	f.Fuzz(func(t *testing.T, line []byte) {
		b, err := DecodeInput(line)
		if err != nil {
			if strings.ContainsFunc(err.Error(), unicode.IsControl) {
				t.Fatalf("%q: the answer holds control characters: %q", line, err)
			}
			return
		}
		out, err := EncodeInput(b)
		if err != nil {
			t.Fatalf("%q was taken and cannot be written: %v", line, err)
		}
		again, err := DecodeInput(out)
		if err != nil {
			t.Fatalf("%q was taken and written as %q, which is refused: %v", line, out, err)
		}
		twice, err := EncodeInput(again)
		if err != nil || !bytes.Equal(out, twice) || !json.Valid(out) {
			t.Fatalf("%q is written as %q and then as %q (%v)", line, out, twice, err)
		}
	})
}
