//go:build unix

package tui_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// attacks are what strangers' texts would do to a terminal: set its title and
// its clipboard, ask it to type something, turn the writing round.
var attacks = []string{"\x1b]0;owned\x07", "\x1b]52;c;aGk=\x07", "\x1b[6n", "\x1b[8m", "\u009b31m", "\u202e"}

// Escape sequences in every text of a record, in its name and in a file that
// is no record, reach the terminal from none of the pages that show them.
func TestHostileOnScreens(t *testing.T) {
	t.Parallel()
	hostile := "A" + strings.Join(attacks, "")
	text := `"` + strings.NewReplacer("\x1b", `\u001b`, "\x07", `\u0007`).Replace(hostile) + `"`
	events := `{"record":"halve","version":1,"procedure":"half-deflection","id":` + text + `,"begun":"2025-03-04T10:00:00Z"}
{"event":"bench","label":` + text + `,"source":{"emf_V":1.5,"label":` + text + `},"galvanometer":{"divisions":30,"zero":"centre","label":` + text + `},` +
		`"series_box":{"kind":"plug","coils_ohm":[1000,2000,2000,5000],"label":` + text + `},"shunt_box":{"kind":"plug","coils_ohm":[10,20,20,50],"label":` + text + `}}
{"event":"who","names":` + text + `,"group":` + text + `}
{"event":"note","text":` + text + `}
{"event":"wired"}
{"event":"zero","div":0}
{"event":"note","text":` + text + `}
{"event":"strike","seq":3,"why":` + text + `}
`
	data := t.TempDir()
	dir := filepath.Join(data, "halve")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	for name, content := range map[string]string{"1.jsonl": events, "2" + strings.ReplaceAll(hostile, "/", "") + ".jsonl": events, "3.jsonl": hostile} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	check := func(x *terminal, where string) {
		t.Helper()
		sent := x.sent()
		if sent == "" {
			t.Errorf("%s: nothing was sent", where)
		}
		for _, a := range attacks {
			if strings.Contains(sent, a) {
				t.Errorf("%s: %q reached the terminal", where, a)
			}
		}
	}
	x := open(t, data, build(t))
	x.await(`begin a practical`)
	x.send("2")
	x.await(`4 Mar 2025.*A; A`)
	check(x, "the list of records")
	y := open(t, data, build(t), "guide", filepath.Join(dir, "1.jsonl"))
	y.await(`write │ `)
	for _, page := range []struct{ key, shows string }{{tab, `▸`}, {"\x1bOP", `keys │`}} {
		y.send(page.key)
		y.await(page.shows)
		y.send(escape)
		y.await(`write │ `)
	}
	check(y, "the pages of a practical")
	z := open(t, data, build(t), "class", dir, "--watch")
	z.await(`1 at work`)
	check(z, "the class")
}
