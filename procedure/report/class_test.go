package report

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/halve/procedure/class"
	"example.org/halve/procedure/report/document"
)

// classOf writes records of the worked row, each with the shunted reading given,
// and reads them as a class. Names are a spreadsheet's formula and HTML.
func classOf(t *testing.T, shunted ...float64) *class.Class {
	t.Helper()
	dir := t.TempDir()
	for i, div := range shunted {
		lines := oneRow()
		lines[7] = fmt.Sprintf(`{"event":"read-shunted","div":%g}`, div)
		lines = append(lines, `{"event":"who","names":"=1+1 <b>Pat</b>"}`, `{"event":"finish"}`)
		in := recordOf(t, lines...)
		out := fmt.Appendf(nil, `{"record":"halve","version":1,"procedure":"half-deflection","id":"R%d","begun":"2031-03-04T09:00:00Z"}`+"\n", i)
		for _, e := range in.Events {
			line, err := e.Encode()
			if err != nil {
				t.Fatal(err)
			}
			out = append(append(out, line...), '\n')
		}
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%d.jsonl", i)), out, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "note<i>.txt"), []byte("tea"), 0o644); err != nil {
		t.Log("no such name here:", err)
	}
	c, err := class.Read(t.Context(), dir, class.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestClassCSV(t *testing.T) {
	c := classOf(t, 12, 12, 12.5, 12, 6)
	var b bytes.Buffer
	if err := ClassCSV(&b, c); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != 6 {
		t.Fatalf("%d rows: %v", len(rows), err)
	}
	at := map[string]int{}
	for i, name := range rows[0] {
		at[name] = i
	}
	// Reading 6 for 12 gives G far above the others': it comes first, to be sent
	// back. One row of the worked example gives G = 90.5283 (scenario D1), of
	// which the joint estimate differs by the record's own r and steps.
	if first := rows[1]; first[at["file"]] != "4.jsonl" || first[at["send_back"]] != "true" {
		t.Errorf("the first is %v", first)
	}
	for _, row := range rows[1:] {
		if !strings.HasPrefix(row[at["names"]], "'=") {
			t.Errorf("a spreadsheet would run %q", row[at["names"]])
		}
		if row[at["has_zero_before"]] != "true" || row[at["has_zero_after"]] != "false" || row[at["has_emf_measured"]] != "true" || row[at["has_enough_rows"]] != "false" || row[at["has_units"]] != "" {
			t.Errorf("what is present: %v", row)
		}
	}
	c.Anonymous = true
	b.Reset()
	if err := ClassCSV(&b, c); err != nil {
		t.Fatal(err)
	}
	if text := b.String(); strings.Contains(text, "Pat") || strings.Contains(text, ".jsonl") || !strings.Contains(text, "pair 1") {
		t.Errorf("anonymous:\n%s", text)
	}
}

func TestMakeClass(t *testing.T) {
	c := classOf(t, 12, 12, 12.5, 12, 6)
	var b bytes.Buffer
	if err := document.HTML(&b, MakeClass(c)); err != nil {
		t.Fatal(err)
	}
	html := b.String()
	if strings.Contains(html, "<b>Pat") || strings.Contains(html, "<script") || strings.Contains(html, "note<i>") {
		t.Error("text from a stranger is HTML")
	}
	if n := strings.Count(html, "<svg"); n != len(c.Instruments) || n != 1 {
		t.Errorf("%d pictures for %d instruments", n, len(c.Instruments))
	}
	in := c.Instruments[0]
	if want := full(in.G.Value.X); !strings.Contains(html, want) {
		t.Errorf("the pooled G, %s, is not there", want)
	}
	for _, want := range []string{"To send back", "galvanometer 12", "zero after", "stands apart"} {
		if !strings.Contains(html, want) {
			t.Errorf("%q is not there", want)
		}
	}
	// Of nobody there is a document as well, and of one pair.
	for _, shunted := range [][]float64{nil, {12}} {
		b.Reset()
		if err := document.HTML(&b, MakeClass(classOf(t, shunted...))); err != nil || b.Len() == 0 {
			t.Errorf("%d pairs: %v", len(shunted), err)
		}
	}
}
