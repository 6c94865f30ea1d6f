package record

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"

	"example.org/halve/procedure"
)

// A header parted from what follows, and a record read from memory, say what
// reading the file says.
func TestParse(t *testing.T) {
	path, data := written(t)
	want, err := Read(path)
	if err != nil {
		t.Fatal(err)
	}
	got, err := Parse(path, data)
	if err != nil || got.Path != path {
		t.Fatal(err)
	}
	sameEvents(t, "parsed", got.Events, want.Events)
	if _, err := Parse(path, []byte("a list")); err == nil {
		t.Error("a list is a record")
	}
	for _, mark := range []string{"", byteOrderMark} {
		begun := []byte(mark + string(data))
		h, size, ended, err := parseHeader(begun)
		if err != nil || !ended || h != want.Header || !bytes.Equal(begun[size:], data[bytes.IndexByte(data, '\n')+1:]) {
			t.Errorf("header %+v of %d bytes, %v", h, size, err)
		}
	}
}

// The records of both procedures are told apart by their headers, and a copy
// asks for neither.
func TestBothProcedures(t *testing.T) {
	dir := t.TempDir()
	half, meter := filepath.Join(dir, "half.jsonl"), filepath.Join(dir, "meter.jsonl")
	h, err := halfDeflection.Begin(half, stopped, newID)
	if err != nil {
		t.Fatal(err)
	}
	m, err := ForMeterCheck().Begin(meter, stopped, newID)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := h.Decode([]byte(`{"event":"set-series","ohm":5}`)); err != nil {
		t.Error(err)
	}
	if _, err := m.Decode([]byte(`{"event":"set-series","ohm":5}`)); err == nil {
		t.Error("the meter check has a series box")
	}
	if c, err := m.Accept(procedure.Note{Text: "begun"}); err != nil || c.Seq != 1 {
		t.Errorf("%+v, %v", c, err)
	}
	if c := m.Preview(procedure.Wired{}); c.Refused == nil {
		t.Error("wired before a bench is taken")
	}
	if copied, err := m.CopyTo(t.TempDir()); err != nil || !strings.HasPrefix(filepath.Base(copied), "halve-2025-01-31") {
		t.Errorf("copied to %s: %v", copied, err)
	}
	h.Close()
	m.Close()
	for path, want := range map[string]string{half: HalfDeflection, meter: MeterCheck} {
		if got, err := ProcedureOf(path); err != nil || got != want {
			t.Errorf("%s: %q, %v", path, got, err)
		}
		if _, err := CopyTo(path, t.TempDir(), "copy"); err != nil {
			t.Error(err)
		}
	}
	_, err = Read(meter)
	oneClearLine(t, err)
	if !strings.Contains(err.Error(), MeterCheck) {
		t.Error(err)
	}
	for _, path := range []string{filepath.Join(dir, "gone"), put(t, []byte("a list"))} {
		_, err := ProcedureOf(path)
		oneClearLine(t, err)
	}
	again, err := ForMeterCheck().Resume(meter, stopped, newID)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if len(again.Events()) != 1 || again.Header().Procedure != MeterCheck {
		t.Errorf("resumed with %d events, %+v", len(again.Events()), again.Header())
	}
}
