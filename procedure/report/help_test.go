package report

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.org/halve/procedure"
	"example.org/halve/procedure/report/document"
)

// benchLine is an invented bench: a 30-0-30 galvanometer read to half a
// division, a dry cell, two plug boxes.
const benchLine = `{"event":"bench","label":"bench 3","source":{"label":"dry cell","emf_V":1.5,"u_emf_V":0.03,"resistance_ohm":0.9},` +
	`"galvanometer":{"label":"galvanometer 12","divisions":30,"zero":"centre","resolution_div":0.5},` +
	`"series_box":{"kind":"plug","coils_ohm":[5000,2000,2000,1000,500,200,200,100,50,20,20,10],"tolerance":0.002},` +
	`"shunt_box":{"kind":"plug","coils_ohm":[100,50,20,20,10,5,2,2,1],"tolerance":0.005}}`

// begun is when every record of these tests begins.
var begun = time.Date(2031, 3, 4, 9, 0, 0, 0, time.UTC)

// recordOf is a record of events as lines of the protocol, one each half
// minute.
func recordOf(t testing.TB, lines ...string) Input {
	t.Helper()
	in := Input{ID: "TESTRECORD", Begun: begun}
	s := new(procedure.State)
	for _, line := range lines {
		body, err := procedure.Words().DecodeInput([]byte(line))
		if err != nil {
			t.Fatalf("%s: %v", line, err)
		}
		n := len(in.Events) + 1
		e := procedure.Event{Seq: n, At: begun.Add(time.Duration(n) * 30 * time.Second), Body: body}
		if err := s.Apply(e); err != nil {
			t.Fatalf("event %d, %s: %v", n, line, err)
		}
		in.Events = append(in.Events, e)
	}
	in.State, in.Analysis = s, procedure.Analyse(s)
	return in
}

// quoted is a text as JSON.
func quoted(s string) string {
	b, _ := json.Marshal(s)
	return string(b)
}

// oneRow are the lines of a record with one row, worked in the reference:
// scenario D1 of testdata/reference/scenarios.json.
func oneRow() []string {
	return []string{benchLine, `{"event":"wired"}`, `{"event":"zero","div":0}`, `{"event":"source","emf_V":1.46,"u_emf_V":0.01}`,
		`{"event":"set-series","ohm":3150}`, `{"event":"read-first","div":24}`,
		`{"event":"set-shunt","ohm":88}`, `{"event":"read-shunted","div":12}`, `{"event":"keep-row"}`}
}

// everything is a record with everything in it: names, notes, struck readings and
// rows, a trial, both sides, claims right and wrong. The text stands wherever
// a person may write.
func everything(text string) []string {
	return []string{
		`{"event":"who","names":` + quoted(cut(text, procedure.MaxNames)) + `,"group":` + quoted(cut(text, 200)) + `}`,
		strings.Replace(benchLine, `"bench 3"`, quoted(cut(text, 200)), 1),
		`{"event":"wired"}`,
		`{"event":"note","text":` + quoted(text) + `,"temperature_C":27}`,
		`{"event":"zero","div":0.5}`,
		`{"event":"source","emf_V":1.48,"u_emf_V":0.01}`,
		`{"event":"set-series","ohm":9000}`, `{"event":"read-first","div":9}`,
		`{"event":"set-series","ohm":3150}`, `{"event":"read-first","off_scale":true}`,
		`{"event":"strike","seq":10,"why":` + quoted(text) + `}`,
		`{"event":"read-first","div":25}`, `{"event":"read-first","div":23}`,
		`{"event":"strike","seq":13,"why":` + quoted(text) + `}`,
		`{"event":"set-shunt","ohm":60}`, `{"event":"read-shunted","div":10.5}`,
		`{"event":"set-shunt","ohm":88}`, `{"event":"read-shunted","div":13}`, `{"event":"keep-row"}`, `{"event":"read-first","div":25}`,
		`{"event":"set-series","ohm":3500}`, `{"event":"read-first","div":22.5}`,
		`{"event":"set-shunt","ohm":88}`, `{"event":"read-shunted","div":7}`, `{"event":"keep-row"}`,
		`{"event":"strike","seq":25,"why":` + quoted(text) + `}`,
		`{"event":"set-series","ohm":4000}`, `{"event":"read-first","div":19.5}`,
		`{"event":"set-shunt","ohm":75}`, `{"event":"read-shunted","div":9.5}`, `{"event":"keep-row"}`,
		`{"event":"set-series","ohm":3300}`, `{"event":"read-first","div":-23}`,
		`{"event":"set-shunt","ohm":100}`, `{"event":"read-shunted","div":-12}`, `{"event":"keep-row"}`,
		`{"event":"zero","div":0.5}`,
		`{"event":"claim","quantity":"resistance","value":"85.6","row":1}`,
		`{"event":"claim","quantity":"merit","value":"3.7e-5","row":1}`,
		`{"event":"finish"}`,
	}
}

func cut(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n])
	}
	return s
}

// many are the lines of a record with so many rows.
func many(rows int) []string {
	lines := []string{benchLine, `{"event":"wired"}`, `{"event":"zero","div":0}`}
	for i := range rows {
		// Values near those of G = 90 Ω and k = 18.5 µA/div.
		ohm := []string{"3150", "3300", "3500", "2900", "3000"}[i%5]
		first := []string{"24.5", "23.5", "22", "26.5", "25.5"}[i%5]
		shunt := []string{"88", "75", "100", "90", "80"}[i/5%5]
		shunted := []string{"12", "10.5", "12", "13.5", "12"}[i%5]
		lines = append(lines, `{"event":"set-series","ohm":`+ohm+`}`, `{"event":"read-first","div":`+first+`}`,
			`{"event":"set-shunt","ohm":`+shunt+`}`, `{"event":"read-shunted","div":`+shunted+`}`, `{"event":"keep-row"}`)
	}
	return lines
}

// write is a document in a format.
func write(t testing.TB, to string, d document.Document) string {
	t.Helper()
	var b strings.Builder
	var err error
	switch to {
	case "html":
		err = document.HTML(&b, d)
	case "pdf":
		err = document.PDF(&b, d)
	case "md":
		err = document.Markdown(&b, d)
	}
	if err != nil {
		t.Fatalf("%s: %v", to, err)
	}
	return b.String()
}

// wantHarmless fails where a report of hostile texts has anything in its page
// that runs or is fetched, a control character in what a person reads, or a cell
// that a spreadsheet would run.
func wantHarmless(t *testing.T, p page, d document.Document, table func(io.Writer) error) {
	t.Helper()
	for _, name := range []string{"script", "img", "a", "iframe", "object"} {
		if n := len(p.all(name)); n > 0 {
			t.Errorf("%d <%s> in the page", n, name)
		}
	}
	for _, to := range []string{"html", "md"} {
		s := write(t, to, d)
		if i := strings.IndexFunc(s, func(r rune) bool {
			return r < ' ' && r != '\n' || r >= 0x7f && r < 0xa0 || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 || r == 0x200f
		}); i >= 0 {
			t.Errorf("%s: a control character in %.30q", to, s[max(0, i-10):])
		}
	}
	write(t, "pdf", d)
	var b strings.Builder
	if err := table(&b); err != nil {
		t.Fatal(err)
	}
	lines, err := csv.NewReader(strings.NewReader(b.String())).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range lines {
		for _, cell := range line {
			if runs(cell) {
				t.Errorf("a spreadsheet would run %.40q", cell)
			}
		}
	}
}

// runs reports whether a spreadsheet would take a cell for a formula: it
// begins with one of = + - @, a tab or a return, and is no number.
func runs(cell string) bool {
	if _, err := strconv.ParseFloat(cell, 64); err == nil || cell == "" {
		return false
	}
	return strings.ContainsRune("=+-@\t\r＝＋－＠", []rune(cell)[0])
}
