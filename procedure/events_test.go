package procedure

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"math"
	"reflect"
	"strings"
	"testing"
	"testing/iotest"
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
		{"too large for a number", `{"event":"set-series","ohm":1e999}`, "set-series: 1e999 is too large a number: ohm lies between 0 and 1e+09 ohm"},
		{"too small for a number", `{"event":"zero","div":-1e400}`, "zero: -1e400 is too large a number: div lies between -1000 and 1000 divisions"},
		{"too large in a list", `{"event":"set-series","ohm":5,"take_out_ohm":[5,1e400]}`, "1e400 is too large a number"},
		{"too large deep inside", benchWith(`"divisions":30`, `"divisions":1e400`), "bench: 1e400 is too large a number: galvanometer: divisions lies between 2 and 1000 divisions"},
		{"too large and once more", `{"event":"source","emf_V":1e400,"u_emf_V":1e500}`, "source: 1e400 is too large a number: emf_V lies between"},
		{"too large a claim", `{"event":"claim","quantity":"resistance","value":1e400}`, `"1e400" is too large; expected a resistance`},
		{"a text that is a number", `{"event":"note","text":5}`, "note: text is a text, not number"},
		{"true that is a text", `{"event":"read-first","div":1,"off_scale":"yes"}`, "read-first: off_scale is true or false, not string"},
		{"an object that is a number", benchWith(`{"emf_V":1.5}`, "1.5"), "bench: source is an object, not number"},
		{"a row that is no whole number", `{"event":"claim","quantity":"resistance","value":90,"row":1.5}`, "claim: row is a whole number, not number 1.5"},
		{"a row below the mean", `{"event":"claim","quantity":"resistance","value":90,"row":-1}`, "row is 0 for the mean"},
		{"a claim of true", `{"event":"claim","quantity":"resistance","value":true}`, "value is a number or a string"},
		{"a claim of a broken text", "{\"event\":\"claim\",\"quantity\":\"resistance\",\"value\":\"\\ud800\"}", "claim: "},
		{"a strike of a later life", `{"event":"strike","seq":-4}`, "1 or more"},
		{"the same key twice", `{"event":"set-series","ohm":5,"ohm":6}`, `the key "ohm" stands twice`},
		{"the same key twice, once null", `{"event":"zero","div":null,"div":6}`, `the key "div" stands twice`},
		{"the same key twice, written otherwise", `{"event":"zero","div":5,"\u0064iv":6}`, `the key "div" stands twice`},
		{"event twice", `{"event":"wired","event":"finish"}`, `the key "event" stands twice`},
		{"the same key twice deep inside", benchWith(`"divisions":30`, `"divisions":30,"divisions":31`), `bench: galvanometer: the key "divisions" stands twice`},
		{"a key in capitals", `{"event":"zero","DIV":5}`, "zero needs div"},
		{"a key in capitals beside its own", `{"event":"zero","div":5,"Div":6}`, `unknown key "Div"; it takes div`},
		{"a key in capitals deep inside", benchWith(`"divisions"`, `"Divisions"`), `galvanometer: unknown key "Divisions"; it takes label, divisions, zero`},
		{"an EMF that is all doubt", `{"event":"source","emf_V":1.5,"u_emf_V":20}`, "u_emf_V is the standard uncertainty of emf_V and lies below it, 1.5 V, not at 20"},
		{"no zero", benchWith(`"zero":"centre",`, ""), `galvanometer: zero is missing: it is "centre" or "left"`},
		{"a zero of another kind", benchWith(`"centre"`, `"right"`), `galvanometer: zero is "centre" or "left"`},
		{"NaN", `{"event":"set-series","ohm":NaN}`, "one JSON object"},
		{"reading without a value", `{"event":"read-first"}`, "needs div"},
		{"reading far beyond any scale", `{"event":"read-first","div":5000}`, "div lies between"},
		{"claim of nothing known", `{"event":"claim","quantity":"mass","value":5}`, "quantity is"},
		{"claim with another unit", `{"event":"claim","quantity":"resistance","value":"5 V"}`, "claim:"},
		{"claim of no number", `{"event":"claim","quantity":"resistance","value":"ninety"}`, "claim:"},
		{"claim of a list", `{"event":"claim","quantity":"resistance","value":[1]}`, "value is a number or a string"},
		{"strike without a number", `{"event":"strike"}`, "strike needs seq"},
		{"strike of a text", `{"event":"strike","seq":"last"}`, "strike needs seq"},
		{"strike of half an event", `{"event":"strike","seq":2.5}`, "strike needs seq"},
		{"a source of all doubt", `{"event":"bench","source":{"emf_V":1.5,"u_emf_V":1.5},"galvanometer":{"divisions":30,"zero":"centre"},"series_box":{"kind":"plug","coils_ohm":[1],"tolerance":0},"shunt_box":{"kind":"plug","coils_ohm":[1],"tolerance":0}}`, "source: u_emf_V is the standard uncertainty"},
		{"empty note", `{"event":"note"}`, "note needs"},
		{"note in the oven", `{"event":"note","temperature_C":400}`, "temperature_C lies between"},
		{"who is nobody", `{"event":"who"}`, "who needs"},
		{"a long note", `{"event":"note","text":"` + strings.Repeat("ö", MaxText+1) + `"}`, "note: text has 4001 characters, at most 4000 are taken"},
		{"a long reason", `{"event":"strike","seq":1,"why":"` + strings.Repeat("x", MaxText+1) + `"}`, "strike: why has 4001 characters, at most 4000 are taken"},
		{"long names", `{"event":"who","names":"` + strings.Repeat("x", MaxNames+1) + `"}`, "who: names has 401 characters, at most 400 are taken"},
		{"a long group", `{"event":"who","group":"` + strings.Repeat("x", apparatus.MaxLabel+1) + `"}`, "who: group has 201 characters, at most 200 are taken"},
		{"a long label", benchWith(`"divisions"`, `"label":"`+strings.Repeat("x", apparatus.MaxLabel+1)+`","divisions"`), "galvanometer: label has 201 characters, at most 200 are taken"},
		{"a long claim", `{"event":"claim","quantity":"resistance","value":"` + strings.Repeat("9", 61) + `"}`, "claim: "},
		{"too long", `{"event":"note","text":"` + strings.Repeat("x", MaxLine) + `"}`, "longer than"},
		{"escape sequence as an event", "{\"event\":\"\\u001b[31mred\"}", `no event "red"`},
	} {
		t.Run(tc.name, func(t *testing.T) {
			b, err := vocabulary.DecodeInput([]byte(tc.line))
			if err == nil {
				t.Fatalf("taken as %+v", b)
			}
			if msg := err.Error(); !strings.Contains(msg, tc.words) || strings.ContainsFunc(msg, unicode.IsControl) {
				t.Errorf("got %q, want one clean line with %q", msg, tc.words)
			}
		})
	}
}

// benchWith is a bench event with a piece of it exchanged.
func benchWith(old, new string) string {
	const bench = `{"event":"bench","source":{"emf_V":1.5},"galvanometer":{"divisions":30,"zero":"centre","resolution_div":0.5},` +
		`"series_box":{"kind":"plug","coils_ohm":[10000]},"shunt_box":{"kind":"plug","coils_ohm":[100]}}`
	if !strings.Contains(bench, old) {
		panic("the bench has no " + old)
	}
	return strings.Replace(bench, old, new, 1)
}

// TestTextsOfFullLength: what is as long as it may be is kept to the last
// letter, in whatever script.
func TestTextsOfFullLength(t *testing.T) {
	long, names, label := strings.Repeat("ö", MaxText), strings.Repeat("日", MaxNames), strings.Repeat("x", apparatus.MaxLabel)
	bench := usualBench()
	bench.Label, bench.ShuntBox.Label = label, label
	for _, want := range []Body{Note{Text: long}, Strike{Event: 1, Why: long}, Who{Names: names, Group: label}, bench} {
		line, err := EncodeInput(want)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := vocabulary.DecodeInput(line); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%s of full length: got %.80v…, %v", want.Kind(), got, err)
		}
	}
}

// TestContradictions: what an event says twice must agree. The box of usualBench
// makes 5555 Ω and, with no plug out, 0 Ω.
func TestContradictions(t *testing.T) {
	s := ready(t)
	s.refuse(SeriesSet{5555, []float64{}}, "these plugs of the series box make 0\u00a0Ω, not 5\u00a0555\u00a0Ω")
	s.put(SeriesSet{0, []float64{}}, SeriesSet{0, nil}, SeriesSet{5555, nil})
	for _, div := range []float64{0, 12, -29.5} {
		s.refuse(FirstRead{&div, true}, "lies on the scale, which ends at 30")
	}
	s.refuse(FirstRead{ptr(31), false}, "the scale ends at 30")
	s.put(FirstRead{ptr(30), true}, FirstRead{ptr(-31), true}, FirstRead{nil, true}, FirstRead{ptr(24), false}, ShuntSet{80, nil})
	s.refuse(ShuntedRead{ptr(12), true}, "lies on the scale, which ends at 30")
	for _, line := range []string{`{"event":"set-series","ohm":5555,"take_out_ohm":[]}`, `{"event":"set-shunt","ohm":80,"take_out_ohm":[]}`} {
		b, err := vocabulary.DecodeInput([]byte(line))
		if err != nil {
			t.Fatal(err)
		}
		out, err := EncodeInput(b)
		if err != nil || string(out) != line { // else the empty list is lost in the record
			t.Errorf("%s is written as %s, %v", line, out, err)
		}
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
		got, err := vocabulary.DecodeRecorded(line, i+1)
		if err != nil || got.Seq != i+1 || !got.At.Equal(at) || !reflect.DeepEqual(got.Body, body) {
			t.Errorf("%s\ngot  %+v, %v\nwant %+v", line, got, err, body)
		}
		if _, err := vocabulary.DecodeRecorded(line, i+2); err == nil {
			t.Errorf("%s: taken as event %d", line, i+2)
		}
		if line, err = EncodeInput(body); err != nil {
			t.Fatal(err)
		}
		if in, err := vocabulary.DecodeInput(line); err != nil || !reflect.DeepEqual(in, body) {
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
		e, err := vocabulary.DecodeRecorded([]byte(tc.line), tc.place)
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
	b, err := vocabulary.DecodeInput([]byte(`{"seq":77,"at":"whenever","sum":"00000000","event":"zero","div":0.5}`))
	if err != nil || b != (ZeroRead{0.5}) {
		t.Errorf("got %+v, %v", b, err)
	}
}

func TestReadLine(t *testing.T) {
	long := strings.Repeat("x", MaxLine+1)
	just := strings.Repeat("y", MaxLine)
	r := bufio.NewReaderSize(strings.NewReader("one\r\n"+long+"\n\n"+just+"\nlast\ncut"), 16)
	for i, want := range []struct {
		line string
		long bool
	}{{"one", false}, {"", true}, {"", false}, {just, false}, {"last", false}} {
		line, tooLong, err := ReadLine(r)
		if err != nil || tooLong != want.long || !tooLong && string(line) != want.line {
			t.Errorf("line %d: got %.20q (%d bytes), %t, %v; want %.20q, %t", i, line, len(line), tooLong, err, want.line, want.long)
		}
	}
	if line, _, err := ReadLine(r); !errors.Is(err, io.ErrUnexpectedEOF) || string(line) != "cut" {
		t.Errorf("a line without an end: %q, %v", line, err)
	}
	if _, _, err := ReadLine(r); !errors.Is(err, io.EOF) {
		t.Errorf("at the end: %v", err)
	}
}

func TestCleanText(t *testing.T) {
	for in, want := range map[string]string{
		"plain":                      "plain",
		"  spaces  ":                 "spaces",
		"no\u05fd \U0003fffdletters": "no letters", // unassigned
		"two\nlines\tand a tab":      "two lines and a tab",
		"\x1b[31mred\x1b[0m":         "red",
		"\x1b]0;title\x07after":      "after",
		"\x1b]52;c;AAAA\x1b\\after":  "after",
		"\u009b31mred":               "red",
		"\x1b":                       "",
		"\x1b[":                      "",
		"\u202egnirts":               "gnirts",
		"zero\u200bwidth":            "zerowidth",
		"bell\a and back\b":          "bell and back",
		"\xff\xfe bad bytes":         "bad bytes",
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
			if !unicode.IsGraphic(r) {
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
		b, err := vocabulary.DecodeInput(line)
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
		again, err := vocabulary.DecodeInput(out)
		if err != nil {
			t.Fatalf("%q was taken and written as %q, which is refused: %v", line, out, err)
		}
		twice, err := EncodeInput(again)
		if err != nil || !bytes.Equal(out, twice) || !json.Valid(out) {
			t.Fatalf("%q is written as %q and then as %q (%v)", line, out, twice, err)
		}
	})
}

// TestMembers: one object, each key once, and nothing else.
func TestMembers(t *testing.T) {
	for _, raw := range []string{``, ` `, `5`, `[]`, `{`, `{"a"`, `{"a":`, `{"a":1`, `{"a":1,`, `{"a":1,}`, `{"a" 1}`, `{a:1}`, `{"a":1}{}`, `{"a":1} x`, `{"a":tru}`, `{5:1}`, "{\"a\":1}\x00"} {
		if m, err := Members([]byte(raw)); !errors.Is(err, errNoObject) {
			t.Errorf("Members(%q) = %v, %v", raw, m, err)
		}
	}
	m, err := Members([]byte(` {"a":[1, 2],"b":{"a":null}} `))
	if err != nil || len(m) != 2 || string(m["a"]) != "[1, 2]" || string(m["b"]) != `{"a":null}` {
		t.Errorf("got %s, %v", m, err)
	}
	if _, err := Members([]byte("{\"\x1b[2Ja\u202e\":1,\"\x1b[2Ja\u202e\":2}")); err == nil || errors.Is(err, errNoObject) && strings.ContainsFunc(err.Error(), unicode.IsControl) {
		t.Errorf("got %v", err)
	}
}

// TestStrict: beside what an event shows, a number too large is said as such
// where no limit is known, and what is no object at all is refused.
func TestStrict(t *testing.T) {
	var v struct {
		Size float64   `json:"size"`
		List []float64 `json:"list"`
		In   *struct {
			Deep []struct{ A int } `json:"deep"`
		} `json:"in"`
		Skipped int `json:"-"`
	}
	for raw, want := range map[string]string{
		`{"size":1e400}`:          "1e400 is too large a number",
		`{"list":[1,-1e400]}`:     "-1e400 is too large a number",
		`{"size":"big"}`:          "size is a number, not string",
		`{"list":1}`:              "list is a list of numbers, not number",
		`{"in":{"deep":1,"x":2}}`: `in: unknown key "x"; it takes deep`,
		`{"Skipped":1}`:           `unknown key "Skipped"; it takes size, list, in`,
		`[]`:                      "is an object, not array",
		`{`:                       "unexpected end of JSON input",
	} {
		if err := Strict([]byte(raw), &v); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("Strict(%s): %v, want %q", raw, err, want)
		}
	}
	if err := Strict([]byte(`{"size":2,"in":null}`), &v); err != nil || v.Size != 2 {
		t.Errorf("got %+v, %v", v, err)
	}
}

// TestRecordedRefuses: a line of a record whose place or time cannot be read.
func TestRecordedRefuses(t *testing.T) {
	for line, want := range map[string]string{
		`{"seq":1,"at":"noon","event":"wired"}`: "at is not a time",
		`{"seq":"1","event":"wired"}`:           "seq is not a whole number",
		`{"seq":1.5,"event":"wired"}`:           "seq is not a whole number",
		`{"seq":2,"event":"wired"}`:             "seq is 2 where event 1 is expected",
		`[]`:                                    "not an event",
	} {
		if e, err := vocabulary.DecodeRecorded([]byte(line), 1); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %+v, %v, want %q", line, e, err, want)
		}
	}
}

// TestNotWritten: what JSON cannot hold is refused when it is written.
func TestNotWritten(t *testing.T) {
	for _, e := range []Event{
		{Seq: 1, Body: ZeroRead{math.NaN()}},
		{Seq: 1, Body: SeriesSet{Ohm: math.Inf(1)}},
		{Seq: 1, At: time.Date(10_000, 1, 1, 0, 0, 0, 0, time.UTC), Body: Wired{}},
	} {
		if line, err := e.Encode(); err == nil {
			t.Errorf("written as %s", line)
		}
		if line, err := json.Marshal(e); err == nil {
			t.Errorf("written as %s", line)
		}
	}
	if line, err := EncodeInput(ZeroRead{math.NaN()}); err == nil {
		t.Errorf("written as %s", line)
	}
	line, err := json.Marshal([]Event{{Seq: 3, At: time.Date(2031, 3, 4, 9, 0, 0, 0, time.UTC), Body: Strike{Event: 2}}})
	if want := `[{"seq":3,"at":"2031-03-04T09:00:00Z","event":"strike","strikes":2}]`; err != nil || string(line) != want {
		t.Errorf("got %s, %v, want %s", line, err, want)
	}
	line, err = EncodeInput(Claim{Quantity: ClaimResistance, Value: Written{Value: 90}})
	if want := `{"event":"claim","quantity":"resistance","value":90}`; err != nil || string(line) != want {
		t.Errorf("got %s, %v, want %s", line, err, want)
	}
}

// TestReadLineFails: an input that breaks off says so; a long line at its very
// end is still one.
func TestReadLineFails(t *testing.T) {
	broken := errors.New("the line is dead")
	r := bufio.NewReader(io.MultiReader(strings.NewReader("half"), iotest.ErrReader(broken)))
	if line, _, err := ReadLine(r); !errors.Is(err, broken) {
		t.Errorf("got %q, %v", line, err)
	}
	r = bufio.NewReader(strings.NewReader(strings.Repeat("x", MaxLine+10)))
	if line, tooLong, err := ReadLine(r); !errors.Is(err, io.ErrUnexpectedEOF) || !tooLong {
		t.Errorf("got %.20q, %t, %v", line, tooLong, err)
	}
}

// TestReadClaim: a value, and perhaps the row that it is of.
func TestReadClaim(t *testing.T) {
	for text, want := range map[string]Claim{
		"90.5":           {ClaimResistance, Written{"90.5", 90.5}, 0},
		"90.5 ohm row 2": {ClaimResistance, Written{"90.5 ohm", 90.5}, 2},
		"-90 ROW 1":      {ClaimResistance, Written{"-90", -90}, 1},
		"−90":            {ClaimResistance, Written{"−90", -90}, 0},
	} {
		if got, err := ReadClaim(ClaimResistance, text); err != nil || got != want {
			t.Errorf("ReadClaim(%q) = %+v, %v, want %+v", text, got, err, want)
		}
	}
	for _, text := range []string{"", "ninety", "90 row", "90 row two", "90 row 0", "90 row -1", "90 V"} {
		if got, err := ReadClaim(ClaimResistance, text); err == nil {
			t.Errorf("ReadClaim(%q) = %+v", text, got)
		}
	}
}

// TestStrikeOfWholeNumber: a JSON number has no one form.
func TestStrikeOfWholeNumber(t *testing.T) {
	for _, seq := range []string{"5", "5.0", "5e0", "50e-1"} {
		if b, err := vocabulary.DecodeInput([]byte(`{"event":"strike","seq":` + seq + `}`)); err != nil || b != (Strike{Event: 5}) {
			t.Errorf("%s: %+v, %v", seq, b, err)
		}
	}
}
