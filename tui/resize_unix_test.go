//go:build unix

package tui_test

import (
	"math/rand/v2"
	"path/filepath"
	"testing"

	"github.com/creack/pty"
)

// A thousand changes of the window's size, empty ones and the largest that a
// terminal can say among them: the page comes back as it was, and what was
// typed is still there.
func TestThousandResizes(t *testing.T) {
	data := t.TempDir()
	path := filepath.Join(data, "r.jsonl")
	fiveRows(t, path)
	x := open(t, data, build(t), "guide", path)
	x.await("first reading")
	x.send("24")
	x.await("read as 24")
	r := rand.New(rand.NewPCG(1, 1000)) // any sizes, the same each time
	extreme := []pty.Winsize{{}, {Cols: 1, Rows: 1}, {Cols: 65535, Rows: 1}, {Cols: 1, Rows: 65535}, {Cols: 80}, {Rows: 24}, {Cols: 65535, Rows: 65535}}
	for i := range 1000 {
		size := pty.Winsize{Cols: uint16(r.IntN(300)), Rows: uint16(r.IntN(100))}
		if i%100 == 99 {
			size = extreme[i/100%len(extreme)]
		}
		if err := pty.Setsize(x.file, &size); err != nil {
			t.Fatal(err)
		}
		if i%10 == 0 {
			x.send("\x0c") // a key between: Ctrl+L draws again
		}
	}
	x.resize(80, 24)
	x.send("\x0c")
	x.await("(?s)first reading.*read as 24")
	x.send(ctrlU + "25")
	x.await("read as 25")
	x.send(ctrlC)
	x.await("Ctrl\\+C")
	x.send(ctrlC)
	if status := x.left(); status != 0 {
		t.Errorf("exit status %d", status)
	}
	if log, _ := look(t, path); len(log.Events) == 0 {
		t.Error("the record is empty")
	}
}
