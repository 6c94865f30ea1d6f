//go:build unix

package tui_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/creack/pty"

	"example.org/halve/physics/apparatus"
	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
	"example.org/halve/tui/choices"
)

// wire is a program in a pty whose bytes are looked at as they come.
type wire struct {
	b    *testing.B
	file *os.File
	cmd  *exec.Cmd
	seen []byte
}

func connect(b *testing.B, data, path string, args ...string) *wire {
	b.Helper()
	cmd := exec.Command(path, args...)
	cmd.Env = []string{"HOME=" + data, "XDG_DATA_HOME=" + data, "TERM=xterm-256color", "COLORTERM=truecolor", "LANG=C.UTF-8"}
	file, err := pty.StartWithSize(cmd, &pty.Winsize{Cols: 80, Rows: 24})
	if err != nil {
		b.Fatal(err)
	}
	return &wire{b: b, file: file, cmd: cmd}
}

// until reads until the program has sent what.
func (w *wire) until(what string) {
	w.b.Helper()
	piece := make([]byte, 1<<16)
	for !bytes.Contains(w.seen, []byte(what)) {
		n, err := w.file.Read(piece)
		w.seen = append(w.seen, piece[:n]...)
		if err != nil {
			w.b.Fatalf("%q never came: %v", what, err)
		}
	}
	w.seen = w.seen[:0]
}

func (w *wire) end() {
	w.file.Close()
	w.cmd.Process.Kill()
	w.cmd.Wait()
}

func median(ts []time.Duration) time.Duration {
	slices.Sort(ts)
	return ts[len(ts)/2]
}

// BenchmarkFirstFrame starts the screens, and the least program that Bubble
// Tea makes, in turn, and tells the medians of the time to the first frame and
// their ratio, which is to be at most 1.5.
func BenchmarkFirstFrame(b *testing.B) {
	halve, data := build(b), b.TempDir()
	bare := filepath.Join(data, "bare")
	if out, err := exec.Command("go", "build", "-o", bare, "./testdata/bare").CombinedOutput(); err != nil {
		b.Fatalf("go build: %v\n%s", err, out)
	}
	first := func(path, what string) time.Duration {
		began := time.Now()
		w := connect(b, data, path)
		w.until(what)
		took := time.Since(began)
		w.end()
		return took
	}
	first(halve, "begin a practical") // from the disk into memory
	first(bare, "ready")
	var ours, least []time.Duration
	for b.Loop() {
		ours = append(ours, first(halve, "begin a practical"))
		least = append(least, first(bare, "ready"))
	}
	us, bm := median(ours), median(least)
	b.ReportMetric(float64(us.Microseconds())/1000, "halve-ms")
	b.ReportMetric(float64(bm.Microseconds())/1000, "bare-ms")
	b.ReportMetric(float64(us)/float64(bm), "ratio")
}

// stated is a bench of the common kind.
func stated() procedure.Bench {
	b := procedure.Bench{Bench: apparatus.Bench{
		Source:       apparatus.Cells()[0].Source(),
		Galvanometer: apparatus.Galvanometer{Divisions: 30, Zero: apparatus.CentreZero, Resolution: 0.5},
		SeriesBox:    choices.SeriesBoxes()[0].Box, ShuntBox: choices.ShuntBoxes()[0].Box,
	}}
	b.SeriesBox.Tolerance, b.ShuntBox.Tolerance = 0.001, 0.001
	return b
}

// fiveRows is a record with five rows, and another series value set.
func fiveRows(b testing.TB, path string) {
	b.Helper()
	s, err := record.Open(path, time.Now, func() string { return "BENCH" })
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	accept := func(body procedure.Body) {
		if c, err := s.Accept(body); err != nil || c.Refused != nil {
			b.Fatalf("%+v is not taken: %v", body, err)
		}
	}
	div := func(v float64) *float64 { return &v }
	accept(stated())
	accept(procedure.Wired{})
	accept(procedure.ZeroRead{})
	// With G 90.5 ohm and 19 µA/div, as in the tests of the screens.
	for _, r := range []struct{ series, first, shunt, shunted float64 }{
		{3250, 24, 90, 12}, {3000, 26, 67, 11}, {3550, 22, 120, 12.5}, {3920, 20, 75, 9}, {3250, 24, 105, 13},
	} {
		accept(procedure.SeriesSet{Ohm: r.series})
		accept(procedure.FirstRead{Div: div(r.first)})
		accept(procedure.ShuntSet{Ohm: r.shunt})
		accept(procedure.ShuntedRead{Div: div(r.shunted)})
		accept(procedure.RowKept{})
	}
	accept(procedure.SeriesSet{Ohm: 3000})
}

// BenchmarkKeystroke types a digit into a reading and takes it out again, in a
// pty, and tells the median time from the byte that goes in to the bytes that
// come out, which is to be under 5 ms.
func BenchmarkKeystroke(b *testing.B) {
	data := b.TempDir()
	path := filepath.Join(data, "r.jsonl")
	fiveRows(b, path)
	w := connect(b, data, build(b), "guide", path)
	defer w.end()
	w.until("first reading")
	time.Sleep(100 * time.Millisecond)
	w.file.WriteString("2")
	w.until("read as 2")
	var took []time.Duration
	for b.Loop() {
		time.Sleep(20 * time.Millisecond) // nobody types faster; what follows the frame is done
		began := time.Now()
		w.file.WriteString("4")
		w.until("read as 24")
		took = append(took, time.Since(began))
		time.Sleep(20 * time.Millisecond)
		w.file.WriteString("\x7f")
		w.until("read as 2")
	}
	b.ReportMetric(float64(median(took).Microseconds())/1000, "ms/key")
}
