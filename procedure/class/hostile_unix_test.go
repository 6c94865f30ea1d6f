//go:build unix

package class

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// A folder as nobody would hope for: it is read to its end, everything in it is
// named, and the records among it are found. HALVE_EMPTY sets the number of empty
// files, 300 if it is not set; 10,000 are promised.
func TestHostileFolder(t *testing.T) {
	dir := t.TempDir()
	pairs := makeClass(3).pairs[:6]
	write(t, dir, pairs)
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	at := func(name string) string { return filepath.Join(dir, name) }
	put := func(name string, data []byte) { t.Helper(); must(os.WriteFile(at(name), data, 0o644)) }
	put("great.jsonl", []byte(`{"record":"halve"`))
	must(os.Truncate(at("great.jsonl"), 1<<30))
	put("seven-megabytes-one-line.jsonl", append(append(bytes.Clone(pairs[0].data), `{"seq":`...), bytes.Repeat([]byte{'1'}, 7<<20)...))
	put("half.jsonl", pairs[1].data[:len(pairs[1].data)*2/3])
	put("copy.jsonl", pairs[2].data)
	put("damaged.jsonl", bytes.Replace(pairs[3].data, []byte("divisions"), []byte("divisionz"), 1))
	put("photo.jpg", []byte("\xff\xd8\xff\xe0\x00\x10JFIF"))
	put("zeros", make([]byte, 1<<20))
	put("brackets", bytes.Repeat([]byte{'['}, 1<<20))
	put("\x1b]0;owned\x07red\x1b[31m.jsonl", pairs[4].data[:100])
	put("\u202egpj.evil\nname", nil)
	must(syscall.Mkfifo(at("pipe.jsonl"), 0o644))
	must(os.Symlink(dir, at("loop")))
	must(os.Symlink("nowhere", at("dangling")))
	must(os.Symlink("/dev/zero", at("endless")))
	deep := dir
	for range 300 {
		deep = filepath.Join(deep, "deeper")
	}
	must(os.MkdirAll(deep, 0o755))
	put("secret.jsonl", pairs[5].data)
	must(os.Chmod(at("secret.jsonl"), 0))
	must(os.Mkdir(at("locked"), 0))
	t.Cleanup(func() { os.Chmod(at("locked"), 0o755) })
	empty := 300
	if n := os.Getenv("HALVE_EMPTY"); n != "" {
		_, err := fmt.Sscan(n, &empty)
		must(err)
	}
	must(os.Mkdir(at("empty"), 0o755))
	for i := range empty {
		put(fmt.Sprintf("empty/%d.jsonl", i), nil)
	}

	ctx, stop := context.WithTimeout(context.Background(), 2*time.Minute) // nothing may wait for ever
	defer stop()
	c, err := Read(ctx, dir, Options{})
	must(err)
	if c.Stopped {
		t.Fatal("the reading did not come to its end")
	}
	var out bytes.Buffer
	must(c.WriteJSON(&out))
	var told struct {
		Records []struct {
			File  string
			State Progress
		}
		Unreadable []struct{ File, Because string }
	}
	must(json.Unmarshal(out.Bytes(), &told))
	state, why := map[string]Progress{}, map[string]string{}
	for _, r := range told.Records {
		state[r.File] = r.State
	}
	for _, u := range told.Unreadable {
		why[u.File] = u.Because
		if u.Because == "" || strings.ContainsAny(u.File+u.Because, "\x1b\x07\n\u202e") {
			t.Errorf("%q is named with %q", u.File, u.Because)
		}
	}
	for _, p := range pairs[:1] {
		if state[p.file] != Finished {
			t.Errorf("%s is %q", p.file, state[p.file])
		}
	}
	for file, want := range map[string]string{
		"great.jsonl": "larger than 8 MiB", "seven-megabytes-one-line.jsonl": "", "damaged.jsonl": "line 2 is damaged", "photo.jpg": "not a record", "zeros": "not a record",
		"brackets": "not a record", "pipe.jsonl": "not a plain file", "loop": "not followed", "dangling": "leads nowhere", "endless": "not a plain file",
		"empty/7.jsonl": "empty", "gpj.evil name": "empty", "red.jsonl": "",
	} {
		if because, ok := why[file]; !strings.Contains(because, want) || !ok && state[file] == "" {
			t.Errorf("%s: %q, want %q", file, because, want)
		}
	}
	if state["copy.jsonl"] == state[pairs[2].file] {
		t.Errorf("a copy is not told: %q and %q", state["copy.jsonl"], state[pairs[2].file])
	}
	deepest := 0
	for file, because := range why {
		if strings.Contains(because, "folders deep") {
			deepest = strings.Count(file, "deeper")
		}
	}
	if deepest == 0 {
		t.Error("nobody says that folders go too deep")
	}
	if os.Geteuid() != 0 {
		for _, file := range []string{"secret.jsonl", "locked"} {
			if !strings.Contains(why[file], "permission") {
				t.Errorf("%s: %q", file, why[file])
			}
		}
	}
	if n := len(told.Unreadable); n < empty+10 {
		t.Errorf("%d files are named as unreadable, want %d empty ones and more", n, empty)
	}
}
