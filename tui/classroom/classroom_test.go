package classroom

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/x/ansi"
	"github.com/muesli/termenv"

	"example.org/halve/procedure/class"
	"example.org/halve/tui/theme"
)

const (
	head  = `{"record":"halve","version":1,"procedure":"half-deflection","id":"%s","begun":"2025-03-04T10:00:00Z"}`
	bench = `{"seq":1,"at":"2025-03-04T10:00:10Z","event":"bench","source":{"label":"cell A","emf_V":1.5,"u_emf_V":0.03},"galvanometer":{"label":"G %d","divisions":30,"zero":"centre","resolution_div":0.5},"series_box":{"kind":"decade","dials_ohm":[1000,100,10],"tolerance":0.002},"shunt_box":{"kind":"decade","dials_ohm":[100,10,1],"tolerance":0.005}}`
)

// begin writes a record with its first events.
func begin(t *testing.T, dir, id string, instrument int, events ...string) string {
	t.Helper()
	path := filepath.Join(dir, id+".jsonl")
	lines := []string{fmt.Sprintf(head, id), fmt.Sprintf(bench, instrument)}
	if err := os.WriteFile(path, []byte(strings.Join(append(lines, events...), "\n")+"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func grow(t *testing.T, path, text string) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if _, err := f.WriteString(text); err != nil {
		t.Fatal(err)
	}
}

// page is the page as it looks at the folder at ten past ten, without a watcher.
func page(t *testing.T, dir string) *Model {
	t.Helper()
	at := time.Date(2025, 3, 4, 10, 5, 0, 0, time.UTC)
	m := &Model{
		o:        Options{Dir: dir, Now: func() time.Time { return at }, Theme: theme.New(theme.Dark, termenv.Ascii, true)},
		follower: &class.Follower{Dir: dir}, ctx: context.Background(), keys: newKeys(), w: 80, h: 24,
	}
	m.see(t)
	return m
}

// see takes one look, as a command of the page does.
func (m *Model) see(t *testing.T) {
	t.Helper()
	cmd := m.look()
	if cmd == nil {
		t.Fatal("it is looking already")
	}
	m.Update(cmd())
}

func TestFollowsGrowingRecords(t *testing.T) {
	dir := t.TempDir()
	begin(t, dir, "AA", 1, `{"seq":2,"at":"2025-03-04T10:04:30Z","event":"who","names":"Tamsin Quill"}`, `{"seq":3,"at":"2025-03-04T10:04:40Z","event":"wired"}`)
	late := begin(t, dir, "BB", 2, `{"seq":2,"at":"2025-03-04T09:40:00Z","event":"wired"}`)
	m := page(t, dir)
	view := m.View()
	for _, want := range []string{"1 to visit, 1 at work, 0 finished", "Tamsin Quill", "G 1", "stands still", "[?]"} {
		if !strings.Contains(view, want) {
			t.Errorf("%q is not in\n%s", want, view)
		}
	}
	// A line that is still being written counts when it is whole.
	grow(t, late, `{"seq":3,"at":"2025-03-04T10:04:50Z","ev`)
	m.see(t)
	if m.lines[0].sheet.Events != 2 {
		t.Errorf("%d events while the third is being written", m.lines[0].sheet.Events)
	}
	grow(t, late, `ent":"zero","div":0}`+"\n")
	m.see(t)
	view = m.View()
	if !strings.Contains(view, "0 to visit, 2 at work") || strings.Contains(view, "stands still") {
		t.Errorf("after it went on:\n%s", view)
	}
	if err := os.Remove(late); err != nil {
		t.Fatal(err)
	}
	m.see(t)
	if view := m.View(); strings.Contains(view, "G 2") {
		t.Errorf("taken away, it is still there:\n%s", view)
	}
	// What was seen last stays where the folder cannot be reached.
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	m.see(t)
	if view := m.View(); !strings.Contains(view, "cannot be reached") || !strings.Contains(view, "Tamsin Quill") {
		t.Errorf("without its folder:\n%s", view)
	}
}

func TestKeys(t *testing.T) {
	dir := t.TempDir()
	for i := range 40 {
		begin(t, dir, fmt.Sprintf("R%02d", i), i, `{"seq":2,"at":"2025-03-04T10:04:40Z","event":"wired"}`)
	}
	m := page(t, dir)
	press := func(k tea.KeyType) tea.Cmd { _, cmd := m.Update(tea.KeyMsg{Type: k}); return cmd }
	at := func(want string) {
		t.Helper()
		if view := m.View(); !strings.Contains(view, want) {
			t.Errorf("%q is not in\n%s", want, view)
		}
	}
	at("pair 1 (R00.jsonl)")
	press(tea.KeyDown)
	at("pair 2 (R01.jsonl)")
	press(tea.KeyEnd)
	at("pair 40 (R39.jsonl)")
	press(tea.KeyUp)
	press(tea.KeyHome)
	press(tea.KeyUp)
	at("pair 1 (R00.jsonl)")
	for _, k := range []tea.KeyType{tea.KeyCtrlC, tea.KeyEsc} {
		if cmd := press(k); cmd == nil || cmd() != (tea.QuitMsg{}) {
			t.Errorf("%v does not leave", k)
		}
	}
	m.o.Anonymous, m.class.Anonymous = true, true
	if view := m.View(); strings.Contains(view, ".jsonl") {
		t.Errorf("anonymous:\n%s", view)
	}
}

// Whatever the window, nothing is wider or taller than it.
func TestSizes(t *testing.T) {
	dir := t.TempDir()
	begin(t, dir, "AA", 1, `{"seq":2,"event":"who","names":"`+strings.Repeat("Größe ", 50)+`"}`)
	m := page(t, dir)
	for _, size := range [][2]int{{0, 0}, {1, 1}, {5, 3}, {20, 5}, {30, 6}, {31, 9}, {40, 10}, {60, 12}, {80, 24}, {120, 40}, {200, 60}} {
		m.Update(tea.WindowSizeMsg{Width: size[0], Height: size[1]})
		lines := strings.Split(m.View(), "\n")
		if len(lines) > max(1, size[1]) {
			t.Errorf("%v: %d lines", size, len(lines))
		}
		for _, l := range lines {
			if ansi.StringWidth(l) > size[0] {
				t.Errorf("%v: %q is %d wide", size, l, ansi.StringWidth(l))
			}
		}
	}
	if view := page(t, t.TempDir()).View(); !strings.Contains(view, "No record is there yet") {
		t.Errorf("an empty folder:\n%s", view)
	}
}
