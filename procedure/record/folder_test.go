package record

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// below lists what Below finds, each path as seen from dir, with its reason.
func below(t *testing.T, dir string) (files []string, strays map[string]string) {
	t.Helper()
	strays = map[string]string{}
	err := Below(context.Background(), dir, func(path string, why error) {
		name, err := filepath.Rel(dir, path)
		if err != nil {
			t.Fatal(err)
		}
		if why != nil {
			strays[filepath.ToSlash(name)] = why.Error()
			return
		}
		files = append(files, filepath.ToSlash(name))
	})
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(files)
	return files, strays
}

func TestBelow(t *testing.T) {
	dir := t.TempDir()
	deep := dir
	for range maxDepth + 3 {
		deep = filepath.Join(deep, "d")
	}
	if err := os.MkdirAll(deep, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"a", "sub/b", "sub/c"} {
		path := filepath.Join(dir, name)
		if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o755), os.WriteFile(path, nil, 0o644)); err != nil {
			t.Fatal(err)
		}
	}
	linked := os.Symlink(dir, filepath.Join(dir, "sub", "loop")) == nil &&
		os.Symlink("self", filepath.Join(dir, "self")) == nil && os.Symlink(filepath.Join(dir, "a"), filepath.Join(dir, "other")) == nil
	files, strays := below(t, dir)
	want := []string{"a", "sub/b", "sub/c"}
	if linked {
		want = []string{"a", "other", "sub/b", "sub/c"}
		if why := strays["sub/loop"]; !strings.Contains(why, "not followed") {
			t.Errorf("the loop: %q", why)
		}
		if why := strays["self"]; !strings.Contains(why, "leads nowhere") {
			t.Errorf("a link to itself: %q", why)
		}
	}
	if !slices.Equal(files, want) {
		t.Errorf("files %v, want %v", files, want)
	}
	if why := strays[strings.TrimSuffix(strings.Repeat("d/", maxDepth), "/")]; !strings.Contains(why, "folders deep") {
		t.Errorf("the deepest folder: %q of %v", why, strays)
	}
	for name, dir := range map[string]string{"nothing": filepath.Join(dir, "gone"), "a file": filepath.Join(dir, "a")} {
		oneClearLine(t, Below(context.Background(), dir, func(string, error) { t.Errorf("%s has files", name) }))
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if err := Below(ctx, dir, func(string, error) {}); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
}

func TestReader(t *testing.T) {
	dir := t.TempDir()
	var r Reader
	for _, size := range []int{0, 1, 4000, 16<<10 - 1, 16 << 10, 100_000, MaxInFolder, 10} {
		want := []byte(strings.Repeat("halve\n", size/6+1)[:size])
		path := filepath.Join(dir, "file")
		if err := os.WriteFile(path, want, 0o644); err != nil {
			t.Fatal(err)
		}
		if got, err := r.Read(path); err != nil || string(got) != string(want) {
			t.Errorf("of %d bytes %d are read: %v", size, len(got), err)
		}
	}
	// A gigabyte that takes no room on the disk.
	great := filepath.Join(dir, "great")
	if err := errors.Join(os.WriteFile(great, nil, 0o644), os.Truncate(great, 1<<30)); err != nil {
		t.Skip("no sparse files here:", err)
	}
	if _, err := r.Read(great); err == nil || !strings.Contains(err.Error(), "larger than 8 MiB") {
		t.Errorf("a gigabyte: %v", err)
	}
	if _, err := r.Read(dir); err == nil {
		t.Error("a folder is read")
	}
	if _, err := r.Read(filepath.Join(dir, "gone")); err == nil {
		t.Error("what is not there is read")
	}
}

// What SumAgrees takes off is what seal put on.
func TestSumAgrees(t *testing.T) {
	line := seal([]byte(`{"seq":1,"event":"wired"}`))
	body, sealed, agrees := SumAgrees(line)
	if !sealed || !agrees || string(body) != `{"seq":1,"event":"wired"` {
		t.Errorf("%s: %s, %v, %v", line, body, sealed, agrees)
	}
	for i := range line {
		bad := slices.Clone(line)
		bad[i] ^= 1
		_, sealed, agrees := SumAgrees(bad)
		if full := checkSum(bad); sealed && agrees != (full == nil) {
			t.Errorf("%s: agrees is %v, the full check says %v", bad, agrees, full)
		}
	}
	if _, sealed, _ := SumAgrees([]byte(`{"a":1}`)); sealed {
		t.Error("a line without a sum is sealed")
	}
}
