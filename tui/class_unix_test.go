//go:build unix

package tui_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

const (
	classHead  = `{"record":"halve","version":1,"procedure":"half-deflection","id":"%s"}` + "\n"
	classBench = `{"seq":1,"at":%q,"event":"bench","source":{"emf_V":1.5},"galvanometer":{"label":"G %d","divisions":30,"zero":"centre","resolution_div":0.5},"series_box":{"kind":"decade","dials_ohm":[1000,100,10],"tolerance":0.002},"shunt_box":{"kind":"decade","dials_ohm":[100,10,1],"tolerance":0.005}}` + "\n"
)

// keep writes a file of the class.
func keep(t *testing.T, path, text string) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if _, err := f.WriteString(text); err != nil {
		t.Fatal(err)
	}
}

// Ctrl+C while a class is read: a line says how far it has come, goes again, and
// what is done is told in whole lines.
func TestClassStopped(t *testing.T) {
	dir, now := t.TempDir(), time.Now().UTC().Format(time.RFC3339)
	long := fmt.Sprintf(classHead, "L") + fmt.Sprintf(classBench, now, 1)
	for n := range 5000 { // more than is read quickly
		long += fmt.Sprintf(`{"seq":%d,"at":%q,"event":"note","text":"a draught"}`+"\n", n+2, now)
	}
	first := filepath.Join(dir, "0.jsonl")
	keep(t, first, long)
	for n := range 2000 { // minutes of work
		if err := os.Link(first, filepath.Join(dir, fmt.Sprint(n+1, ".jsonl"))); err != nil {
			t.Fatal(err)
		}
	}
	x := open(t, t.TempDir(), build(t), "class", dir)
	x.await(`reading   \[=* {2,}\] \d+ of 2001`)
	x.send(ctrlC)
	x.await(`stopped before all was read: this is of \d+ records`)
	if status := x.left(); status != 1 {
		t.Errorf("exit status %d", status)
	}
	raw := x.sent()
	at := strings.LastIndex(raw, "\x1b[K")
	if at < 0 || strings.Contains(raw[at:], "reading") || strings.Contains(raw[at:], "\x1b[K\x1b") {
		t.Errorf("the line is not taken away: %q", raw[max(0, at-200):])
	}
	told := raw[at:]
	for _, want := range []string{"To send back", "What stands in each record"} {
		if !strings.Contains(told, want) {
			t.Errorf("%q is not told:\n%s", want, told)
		}
	}
}

// The class while it works: a record that grows moves on by itself, a window of
// another size is filled, and both keys leave the terminal as it was.
func TestClassWatched(t *testing.T) {
	for _, leave := range []string{"q", ctrlC} {
		dir, now := t.TempDir(), time.Now().UTC().Format(time.RFC3339)
		a := filepath.Join(dir, "a.jsonl")
		keep(t, a, fmt.Sprintf(classHead, "A")+fmt.Sprintf(classBench, now, 1))
		x := open(t, t.TempDir(), build(t), "class", dir, "--watch")
		x.await(`1 at work, 0 finished`)
		x.await(`a\.jsonl +G 1 +wiring`)
		for i, event := range []string{`"who","names":"Tamsin Quill"`, `"wired"`, `"zero","div":0`} {
			keep(t, a, fmt.Sprintf(`{"seq":%d,"at":%q,"event":%s}`+"\n", i+2, now, event))
		}
		x.await(`Tamsin Quill +G 1 +series`)
		keep(t, filepath.Join(dir, "b.jsonl"), fmt.Sprintf(classHead, "B")+fmt.Sprintf(classBench, now, 2))
		x.await(`b\.jsonl +G 2 +wiring`)
		x.resize(120, 40)
		x.await(`─{120}`)
		x.await(`(?m)^ *up +down choose a record`)
		x.resize(60, 20)
		x.await(`(?m)─{60}$`)
		x.send(leave)
		if status := x.left(); status != 0 {
			t.Errorf("%q: exit status %d", leave, status)
		}
		raw := x.sent()
		if !strings.Contains(raw, "\x1b[?1049l") || !strings.Contains(raw, "\x1b[?25h") {
			t.Errorf("%q leaves the terminal changed: %q", leave, raw[max(0, len(raw)-200):])
		}
	}
}
