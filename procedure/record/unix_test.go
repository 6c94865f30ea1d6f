//go:build unix

package record

import (
	"context"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
)

// The system itself refuses to let the file grow, at every byte of the record.
func TestFileSizeLimit(t *testing.T) {
	_, want := written(t)
	header := strings.Index(string(want), "\n") + 1
	for limit := header; limit < len(want); limit += 89 {
		path := filepath.Join(t.TempDir(), "record.jsonl")
		cmd, out, done := start(t, "limit", path, strconv.Itoa(limit))
		full, recorded := 0, 0
		for out.Scan() {
			switch word, _, _ := strings.Cut(out.Text(), " "); word {
			case "full:":
				full++
				if !strings.Contains(out.Text(), "not recorded") {
					t.Errorf("limit %d: %q does not say that it was not recorded", limit, out.Text())
				}
			case "recorded":
				recorded++
			case "error:":
				t.Errorf("limit %d: %s", limit, out.Text())
			}
		}
		done()
		if err := cmd.Wait(); err != nil {
			t.Fatalf("limit %d: %v", limit, err)
		}
		if full != 1 || recorded != len(practical()) {
			t.Errorf("limit %d: full %d times and %d events recorded, want once and %d", limit, full, recorded, len(practical()))
		}
		log, err := Read(path)
		if err != nil {
			t.Fatalf("limit %d: %v", limit, err)
		}
		if len(log.Events) != len(practical()) || log.Cut != nil {
			t.Errorf("limit %d: %d events and %d bytes cut, want all %d", limit, len(log.Events), len(log.Cut), len(practical()))
		}
	}
}

// A disk full before the header is whole leaves no file behind.
func TestFileSizeLimitInHeader(t *testing.T) {
	path := filepath.Join(t.TempDir(), "record.jsonl")
	cmd, out, done := start(t, "limit", path, "40")
	out.Scan()
	if !strings.HasPrefix(out.Text(), "error:") || !strings.Contains(out.Text(), "cannot be begun") {
		t.Errorf("got %q", out.Text())
	}
	done()
	if err := cmd.Wait(); err == nil {
		t.Error("the child did not fail")
	}
	if got := names(t, path); len(got) != 0 {
		t.Errorf("left behind: %v", got)
	}
}

func TestPipe(t *testing.T) {
	path := filepath.Join(t.TempDir(), "pipe")
	if err := syscall.Mkfifo(path, 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := Read(path) // and does not wait for a writer
	oneClearLine(t, err)
	_, err = Open(path, stopped, newID)
	oneClearLine(t, err)
}

// The same file under another name is the same record.
func TestSecondWriterByLink(t *testing.T) {
	path, _ := written(t)
	s, err := Resume(path, stopped, newID)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for name, link := range map[string]func(string, string) error{"symbolic": os.Symlink, "hard": os.Link} {
		other := filepath.Join(t.TempDir(), name)
		if err := link(path, other); err != nil {
			t.Fatal(err)
		}
		_, err := Resume(other, stopped, newID)
		oneClearLine(t, err)
		if !strings.Contains(err.Error(), "open in another window") {
			t.Errorf("%s link: %v", name, err)
		}
	}
}

// A record that may not be written to can be read and not resumed. The
// superuser may write to everything, so for it only the reading is tested.
func TestReadOnly(t *testing.T) {
	path, data := written(t)
	dir := filepath.Dir(path)
	for name, mode := range map[string]struct {
		path string
		mode os.FileMode
		back os.FileMode
	}{
		"file":   {path, 0o444, 0o644},
		"folder": {dir, 0o555, 0o755},
	} {
		t.Run(name, func(t *testing.T) {
			cut := data[:len(data)-5] // so that resuming has a piece to keep
			if err := os.WriteFile(path, cut, 0o644); err != nil {
				t.Fatal(err)
			}
			if err := os.Chmod(mode.path, mode.mode); err != nil {
				t.Fatal(err)
			}
			defer os.Chmod(mode.path, mode.back)
			log, err := Read(path)
			if err != nil || len(log.Events) != len(practical())-1 {
				t.Fatalf("Read: %v", err)
			}
			if os.Geteuid() == 0 {
				return
			}
			_, err = Resume(path, stopped, newID)
			oneClearLine(t, err)
			if string(content(t, path)) != string(cut) {
				t.Error("the file was changed")
			}
		})
	}
}

// A folder that takes nothing, whoever asks.
func TestCopyWhereNothingCanBeWritten(t *testing.T) {
	if _, err := os.Stat("/proc"); err != nil {
		t.Skip("there is no folder here that takes nothing from anybody")
	}
	path, data := written(t)
	_, err := CopyTo(path, "/proc", "record")
	oneClearLine(t, err)
	if string(content(t, path)) != string(data) {
		t.Error("the record was touched")
	}
}

func TestBeginWhereNothingCanBeWritten(t *testing.T) {
	_, err := halfDeflection.Begin("/proc/nothing-can-be-made-here.jsonl", stopped, newID)
	oneClearLine(t, err)
}

// A file that has more in it than its size says, as one that is still being
// written to, is read to its end.
func TestReaderOfGrowing(t *testing.T) {
	const growing = "/proc/self/limits" // a file of no size, and of a page of text
	want, err := os.ReadFile(growing)
	if err != nil {
		t.Skip("there is no file here that has more in it than its size says")
	}
	got, err := new(Reader).Read(growing)
	if err != nil || len(got) != len(want) {
		t.Errorf("got %d bytes of %d, %v", len(got), len(want), err)
	}
}

// What cannot be synced by its nature is no failure; what is not there is one.
func TestSyncDir(t *testing.T) {
	if err := syncDir(filepath.Join(t.TempDir(), "gone")); err == nil {
		t.Error("a folder that is not there was synced")
	}
	if _, err := os.Stat("/proc"); err == nil {
		if err := syncDir("/proc"); err != nil {
			t.Errorf("a folder that cannot be synced: %v", err)
		}
	}
}

// A record whose file has been closed under it is not written to.
func TestIntactWhenClosed(t *testing.T) {
	path, data := written(t)
	d, err := openDisk(path)
	if err != nil {
		t.Fatal(err)
	}
	d.File.Close()
	oneClearLine(t, d.Intact(int64(len(data))))
	d.lock.Unlock()
}

// A disk that lets nothing be written any more, though the file was opened: the
// record is not gone on with, and what it has stays.
func TestResumeOnDiskGoneReadOnly(t *testing.T) {
	_, data := written(t)
	for name, left := range map[string][]byte{"cut in an event": data[:len(data)-5], "no newline at the end": data[:len(data)-1], "cut in the header": data[:30]} {
		path := put(t, left)
		f, err := os.Open(path) // for reading only
		if err != nil {
			t.Fatal(err)
		}
		_, err = halfDeflection.resume(&disk{File: f, path: path}, path, stopped, newID)
		oneClearLine(t, err)
		if string(content(t, path)) != string(left) {
			t.Errorf("%s: the record is now %q", name, content(t, path))
		}
		f.Close()
		_, err = halfDeflection.resume(&disk{File: f, path: path}, path, stopped, newID) // nor can it be read
		oneClearLine(t, err)
	}
	path := put(t, data)
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := os.Rename(path, path+".old"); err != nil {
		t.Fatal(err)
	}
	_, err = halfDeflection.resume(&disk{File: f, path: path}, path, stopped, newID)
	oneClearLine(t, err)
}

// A pipe in a folder is named and not opened, which would wait for a writer.
func TestPipeInFolder(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mkfifo(filepath.Join(dir, "pipe"), 0o600); err != nil {
		t.Fatal(err)
	}
	err := Below(context.Background(), dir, func(path string, err error) {
		oneClearLine(t, err)
		if filepath.Base(path) != "pipe" {
			t.Errorf("found %s", path)
		}
	})
	if err != nil {
		t.Error(err)
	}
}

// The stamp of a file tells that it was written to.
func TestStamp(t *testing.T) {
	path, data := written(t)
	size, at, err := Stamp(path)
	if err != nil || size != int64(len(data)) || at == 0 {
		t.Errorf("%d bytes, written %d, %v", size, at, err)
	}
	if _, _, err := Stamp(path + ".gone"); err == nil {
		t.Error("what is not there has a stamp")
	}
}
