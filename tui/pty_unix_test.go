//go:build unix

package tui_test

import (
	"bytes"
	"fmt"
	"image/color"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/charmbracelet/x/term"
	"github.com/charmbracelet/x/vt"
	"github.com/creack/pty"

	"example.org/halve/physics"
	"example.org/halve/physics/bench"
	"example.org/halve/physics/bench/live"
	"example.org/halve/procedure"
	"example.org/halve/procedure/debrief"
	"example.org/halve/procedure/record"
	"example.org/halve/tui"
)

// patience is how long a screen may take to come. It is long, so that a busy
// machine fails nothing; a screen that is there is seen at once.
const patience = 30 * time.Second

// terminal is the program in a pty, with an emulator for a screen.
type terminal struct {
	t    *testing.T
	file *os.File
	cmd  *exec.Cmd
	done chan struct{}

	mu     sync.Mutex
	screen *vt.Emulator
	raw    bytes.Buffer // every byte that the program sent
}

// program is where the program was built for the tests of this file.
var program struct {
	once sync.Once
	dir  string
	err  error
}

func TestMain(m *testing.M) {
	status := m.Run()
	if program.dir != "" {
		os.RemoveAll(program.dir)
	}
	os.Exit(status)
}

// build makes the program once and returns its path.
func build(t testing.TB) string {
	t.Helper()
	program.once.Do(func() {
		if program.dir, program.err = os.MkdirTemp("", "halve"); program.err != nil {
			return
		}
		if out, err := exec.Command("go", "build", "-o", program.dir, "example.org/halve").CombinedOutput(); err != nil {
			program.err = fmt.Errorf("go build: %w\n%s", err, out)
		}
	})
	if program.err != nil {
		t.Fatal(program.err)
	}
	return filepath.Join(program.dir, "halve")
}

// open starts the program at 80x24, in an environment of its own.
func open(t *testing.T, data string, args ...string) *terminal {
	t.Helper()
	return openOn(t, vt.NewEmulator(80, 24), data, args...)
}

// openOn starts the program on a screen of its own kind.
func openOn(t *testing.T, screen *vt.Emulator, data string, args ...string) *terminal {
	t.Helper()
	cmd := exec.Command(args[0], args[1:]...)
	cmd.Env = []string{"PATH=" + os.Getenv("PATH"), "HOME=" + data, "XDG_DATA_HOME=" + data, "TERM=xterm-256color", "LANG=C.UTF-8"}
	file, err := pty.StartWithSize(cmd, &pty.Winsize{Cols: uint16(screen.Width()), Rows: uint16(screen.Height())})
	if err != nil {
		t.Fatal(err)
	}
	term := &terminal{t: t, file: file, cmd: cmd, done: make(chan struct{}), screen: screen}
	go term.show()
	go term.answer()
	t.Cleanup(func() {
		cmd.Process.Kill()
		file.Close()
		<-term.done
	})
	return term
}

// show puts what the program sends on the screen.
func (x *terminal) show() {
	defer close(x.done)
	piece := make([]byte, 4096)
	for {
		n, err := x.file.Read(piece)
		x.mu.Lock()
		x.raw.Write(piece[:n])
		x.screen.Write(piece[:n])
		x.mu.Unlock()
		if err != nil {
			return
		}
	}
}

// answer sends the terminal's replies back to the program; without it the
// emulator would wait for ever.
func (x *terminal) answer() {
	piece := make([]byte, 256)
	for {
		n, err := x.screen.Read(piece)
		if err != nil {
			return
		}
		x.file.Write(piece[:n])
	}
}

func (x *terminal) text() string {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.screen.String()
}

// await waits until the screen shows a match and returns its submatches.
func (x *terminal) await(pattern string) []string {
	x.t.Helper()
	want := regexp.MustCompile(pattern)
	for deadline := time.Now().Add(patience); ; {
		text := x.text()
		if m := want.FindStringSubmatch(text); m != nil {
			return m
		}
		if time.Now().After(deadline) {
			x.t.Fatalf("%q never came:\n%s", pattern, text)
		}
		time.Sleep(5 * time.Millisecond)
	}
}

// The keys as a terminal sends them.
const (
	ticks  = "           " // a space for each line of the wiring list
	enter  = "\r"
	escape = "\x1b"
	tab    = "\t"
	down   = "\x1b[B"
	ctrlC  = "\x03"
	ctrlS  = "\x13"
	ctrlU  = "\x15"
)

func (x *terminal) send(keys string) {
	x.t.Helper()
	if _, err := x.file.WriteString(keys); err != nil {
		x.t.Fatal(err)
	}
}

// resize changes the window, on both ends of the wire.
func (x *terminal) resize(w, h int) {
	x.t.Helper()
	x.mu.Lock()
	x.screen.Resize(w, h)
	x.mu.Unlock()
	if err := pty.Setsize(x.file, &pty.Winsize{Cols: uint16(w), Rows: uint16(h)}); err != nil {
		x.t.Fatal(err)
	}
}

// left waits for the program to end and returns its exit status.
func (x *terminal) left() int {
	x.t.Helper()
	ended := make(chan struct{})
	go func() {
		x.cmd.Wait()
		close(ended)
	}()
	select {
	case <-ended:
	case <-time.After(patience):
		x.t.Fatalf("the program does not end:\n%s", x.text())
	}
	return x.cmd.ProcessState.ExitCode()
}

// mostResident is what the program may hold of memory at any moment of a
// practical, in kilobytes: what the oldest of a laboratory's computers spare.
const mostResident = 30_000

// resident returns the most memory that the program has held so far, in
// kilobytes: VmHWM of proc(5), 0 where the system has no such file.
func (x *terminal) resident() (kB int) {
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", x.cmd.Process.Pid))
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(status)) {
		if n, _ := fmt.Sscanf(line, "VmHWM: %d kB", &kB); n == 1 {
			return kB
		}
	}
	x.t.Fatalf("no VmHWM in %s", status)
	return 0
}

// sent is every byte that the program has sent.
func (x *terminal) sent() string {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.raw.String()
}

// The bench of the test, chosen here; its needle follows from the closed
// forms of package physics.
const (
	trueEMF, trueSource, trueG, trueK = 1.52, 0.4, 90.5, 19e-6
)

func shows(t *testing.T, series, shunt float64) string {
	t.Helper()
	v, err := physics.FirstDeflection(trueEMF, series+trueSource, trueG, trueK)
	if shunt > 0 {
		v, err = physics.ShuntedDeflection(trueEMF, series+trueSource, trueG, shunt, trueK)
	}
	if err != nil {
		t.Fatal(err)
	}
	return strconv.FormatFloat(math.Round(2*v)/2, 'f', -1, 64)
}

// look reads the record that is being written; reading needs no lock.
func look(t *testing.T, path string) (*record.Log, procedure.Counsel) {
	t.Helper()
	log, err := record.Read(path)
	if err != nil {
		t.Fatal(err)
	}
	return log, procedure.Advise(log.State)
}

// obey does what the screen asks for until it asks to write down what, then
// returns the number of events so far.
func (x *terminal) obey(path, what string) int {
	x.t.Helper()
	for range 200 {
		asked := x.await(`write │ (\S+( \S+)*)`)[1]
		asked = strings.TrimRight(strings.Split(asked, "  ")[0], "▏")
		asked = strings.TrimSpace(strings.Split(asked, "▏")[0])
		log, c := look(x.t, path)
		seq := c.Seq
		if asked == what {
			return seq
		}
		series, _ := log.State.SeriesOhm()
		shunt, _ := log.State.ShuntOhm()
		switch {
		case strings.HasPrefix(asked, "zero reading"):
			x.send("0" + enter)
		case strings.HasPrefix(asked, "EMF"):
			x.send("1.52" + enter)
		case strings.HasPrefix(asked, "first reading"):
			x.send(shows(x.t, series, 0) + enter)
		case strings.HasPrefix(asked, "shunted reading"):
			x.send(shows(x.t, series, shunt) + enter)
		default:
			time.Sleep(200 * time.Millisecond) // an Enter alone counts only after a moment
			x.send(enter)
		}
		x.await(`recorded as ` + strconv.Itoa(seq+1) + `\b`)
	}
	x.t.Fatalf("%s never comes round", what)
	return 0
}

// A whole practical, typed at 80x24 with the mistakes people make on the way.
func TestWholePracticalTyped(t *testing.T) {
	t.Parallel() // a terminal is mostly waited for
	data, stick := t.TempDir(), t.TempDir()
	halve := build(t)
	x := open(t, data, halve)
	x.await(`begin a practical at the bench`)
	x.send("1")
	x.await(`zinc-carbon`)

	// A word where a number belongs.
	x.send(down + ctrlU + "volt" + ctrlS)
	x.await(`not yet: .*volt`)
	x.send(ctrlU + "1.5" + ctrlS)
	path := x.await(`record:\s+(\S+)(?:\s+│ +(\S*jsonl))?`)
	x.await(`Build the circuit`)
	files, err := filepath.Glob(filepath.Join(data, "halve", "*.jsonl"))
	if err != nil || len(files) != 1 {
		t.Fatalf("records %v, %v; the screen says %q", files, err, path)
	}
	file := files[0]

	// Enter alone does not make a circuit checked.
	x.send(enter)
	x.await(`not yet: 11 of the list`)
	x.send(ticks + enter)
	x.await(`recorded as 2: circuit checked`)
	seq := x.obey(file, "series box R")

	// Letters in a number field.
	x.send("abc" + enter)
	x.await(`expected a resistance in`)
	x.await(`not written down`)
	// A value the box cannot make.
	x.send(ctrlU + "4711.5" + enter)
	x.await(`refused: .*4\D?711\.5`)
	// K1 before R: a reading before the series box is set.
	x.send(escape)
	x.await(`series box R  ▏`)
	x.send(tab)
	x.await(`▸ series box R`)
	x.send(down + enter + "7" + enter)
	x.await(`! not now: the series box is to be set first`)
	if _, c := look(t, file); c.Seq != seq {
		t.Fatalf("mistakes were written down: seq %d, want %d", c.Seq, seq)
	}
	x.send(escape)
	x.await(`series box R  ▏`)

	// An impossible shunted reading.
	seq = x.obey(file, "shunted reading")
	x.send("48" + enter)
	x.await(`refused: .*48`)
	x.send(ctrlU)

	// A window made too small and large again.
	x.await(`shunted reading  ▏`)
	x.resize(40, 10)
	x.await(`halve needs 60x20`)
	x.resize(80, 24)
	x.await(`shunted reading  ▏`)

	// Leaving in the middle, with something typed.
	x.send("1")
	x.await(`read as 1 div`)
	x.send(ctrlC)
	x.await(`is not written down`)
	x.send(ctrlC)
	x.left()
	if !strings.Contains(x.sent(), "\x1b[?1049l") {
		t.Error("the alternate screen is not left")
	}

	// Resuming.
	y := open(t, data, halve, "guide", file)
	y.await(`write │ shunted reading`)
	if _, c := look(t, file); c.Seq != seq {
		t.Errorf("resumed at seq %d, left at %d", c.Seq, seq)
	}
	y.obey(file, "copy to folder")
	y.send(stick + enter)
	y.await(`copied to`)

	// Every page beside it, and what all that took of memory.
	for _, page := range []struct{ key, shows string }{{"\x07", `points`}, {"\x02", `u of G`}, {"\x19", `leaf 1`}} { // graphs, behind the result, why
		y.send(page.key)
		y.await(page.shows)
		y.send(escape)
		y.await(`copied to|copy to folder`)
	}
	if kB := y.resident(); kB > mostResident {
		t.Errorf("the practical took %d kB of memory, %d at the most are wanted", kB, mostResident)
	} else {
		t.Logf("at most %d kB of memory were held", kB)
	}
	y.send(ctrlC)
	if status := y.left(); status != 0 {
		t.Errorf("exit status %d after leaving", status)
	}

	log, c := look(t, file)
	if !log.State.Finished() || len(c.Rows) < 5 || c.Result == nil {
		t.Fatalf("finished %v, %d rows, result %v", log.State.Finished(), len(c.Rows), c.Result)
	}
	if g, u := *c.Result.Resistance, *c.Result.UResistance; math.Abs(g-trueG) > 3*u {
		t.Errorf("G = %.2f ± %.2f ohm, the bench has %.2f", g, u, trueG)
	}
	if k, u := *c.Result.Merit, *c.Result.UMerit; math.Abs(k-trueK) > 3*u {
		t.Errorf("k = %g ± %g A/div, the bench has %g", k, u, trueK)
	}
	copies, err := filepath.Glob(filepath.Join(stick, "*.jsonl"))
	if err != nil || len(copies) != 1 {
		t.Errorf("on the stick: %v, %v", copies, err)
	}
}

// A closed window ends the program, and the record is whole.
func TestWindowClosed(t *testing.T) {
	t.Parallel() // a terminal is mostly waited for
	data := t.TempDir()
	file := filepath.Join(data, "r.jsonl")
	x := open(t, data, build(t), "practise", "--record", file)
	x.await(`Space ticks`)
	x.send(ticks + enter)
	x.await(`recorded as 2`)
	if err := x.cmd.Process.Signal(syscall.SIGHUP); err != nil {
		t.Fatal(err)
	}
	x.left()
	if sent := x.sent(); strings.Contains(sent, "halve:") {
		t.Errorf("a closed window is told as an error: %q", sent[strings.Index(sent, "halve:"):])
	}
	if _, c := look(t, file); c.Seq != 2 {
		t.Errorf("the record has %d events, want 2", c.Seq)
	}
	s, err := record.Resume(file, time.Now, func() string { return "id" })
	if err != nil {
		t.Fatalf("the record does not open again: %v", err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

// Without a UTF-8 locale only ASCII signs are drawn, and NO_COLOR is heeded.
func TestPoorTerminal(t *testing.T) {
	t.Parallel() // a terminal is mostly waited for
	data := t.TempDir()
	halve := build(t)
	x := open(t, data, "/usr/bin/env", "LANG=C", "NO_COLOR=1", halve, "practise", "--record", filepath.Join(data, "r.jsonl"))
	x.await(`Space ticks`)
	x.send(ctrlC)
	x.left()
	sent := x.sent()
	for i := range len(sent) {
		if sent[i] > 0x7e {
			t.Fatalf("byte %#x is sent to an ASCII terminal: %q", sent[i], sent[max(0, i-20):min(len(sent), i+20)])
		}
	}
	if m := regexp.MustCompile(`\x1b\[[0-9;]*[1-9][0-9;]*m`).FindString(sent); m != "" {
		t.Errorf("%q is sent in spite of NO_COLOR", m)
	}
}

// The terminal is asked for its background once, when the screens are up, and
// not where the answer is of no use or would go astray.
func TestBackgroundAskedOnce(t *testing.T) {
	t.Parallel() // a terminal is mostly waited for
	halve := build(t)
	for _, tt := range []struct {
		name  string
		env   string
		args  []string
		asked int
	}{
		{"by itself", "COLORTERM=truecolor", nil, 1},
		{"the theme is named", "COLORTERM=truecolor", []string{"--theme", "dark"}, 0},
		{"no colours", "NO_COLOR=1", nil, 0},
		{"within another terminal", "TERM=tmux-256color", nil, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			data := t.TempDir()
			args := append([]string{"/usr/bin/env", tt.env, halve, "practise", "--record", filepath.Join(data, "r.jsonl")}, tt.args...)
			x := open(t, data, args...)
			x.await(`Space ticks`)
			x.send(ticks + enter)
			x.await(`recorded as 2`)
			x.send(ctrlC)
			x.left()
			sent := x.sent()
			if got := strings.Count(sent, "\x1b]11;?"); got != tt.asked {
				t.Errorf("asked %d times, want %d", got, tt.asked)
			}
			if at := strings.Index(sent, "\x1b]11;?"); at >= 0 && at < strings.Index(sent, "\x1b[?1049h") {
				t.Error("asked before the screens are up")
			}
		})
	}
}

// A light terminal gets the light colours: the blue-black ink is 1C3F73, 28,
// 63 and 115. An answer that comes late is no entry.
func TestLightBackground(t *testing.T) {
	t.Parallel() // a terminal is mostly waited for
	const ink = "38;2;28;63;115"
	halve := build(t)
	light := vt.NewEmulator(80, 24)
	light.SetDefaultBackgroundColor(color.White)
	data := t.TempDir()
	x := openOn(t, light, data, "/usr/bin/env", "COLORTERM=truecolor", halve, "practise", "--record", filepath.Join(data, "r.jsonl"))
	x.await(`Space ticks`)
	x.send(ticks + enter)
	x.await(`zero reading  ▏`)
	if !strings.Contains(x.sent(), ink) {
		t.Error("a light terminal does not get the light ink")
	}
	x.send("\x1b]11;rgb:0000/0000/0000\x07" + "7")
	x.await(`rests at 7 div`)
	x.send(ctrlC + ctrlC)
	x.left()
}

// A terminal that never answers is not waited for, and one that answers late
// does not type into the entry.
func TestSilentTerminal(t *testing.T) {
	t.Parallel() // a terminal is mostly waited for
	data := t.TempDir()
	cmd := exec.Command(build(t), "practise", "--record", filepath.Join(data, "r.jsonl"))
	cmd.Env = []string{"HOME=" + data, "XDG_DATA_HOME=" + data, "TERM=xterm-256color", "COLORTERM=truecolor", "LANG=C.UTF-8"}
	file, err := pty.StartWithSize(cmd, &pty.Winsize{Cols: 80, Rows: 24})
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	defer cmd.Process.Kill()
	var all bytes.Buffer
	until := func(what string) {
		t.Helper()
		file.SetReadDeadline(time.Now().Add(patience))
		piece := make([]byte, 4096)
		for !strings.Contains(all.String(), what) {
			n, err := file.Read(piece)
			all.Write(piece[:n])
			if err != nil {
				t.Fatalf("%q never came, %v: %q", what, err, all.String())
			}
		}
	}
	until("Space")
	file.WriteString(ticks + enter)
	until("recorded as 2")
	file.WriteString("\x1b]11;rgb:ffff/ffff/ffff\x1b\\7")
	until("rests at 7 div")
	until("38;2;28;63;115")
	file.WriteString(ctrlC + ctrlC)
	cmd.Wait()
}

// Ctrl+Z sets the program aside and leaves the terminal in order; on its return
// the frame is drawn whole, what was typed with it.
func TestSetAside(t *testing.T) {
	t.Parallel() // a terminal is mostly waited for
	data := t.TempDir()
	x := open(t, data, build(t), "practise", "--record", filepath.Join(data, "r.jsonl"))
	x.await(`Space ticks`)
	x.send(ticks + enter)
	x.await(`zero reading  ▏`)
	x.send("0.5")
	x.await(`zero reading  0\.5▏`)
	x.send("\x1a")
	// Here is no shell that stops the program: it waits to be told to go on.
	for deadline := time.Now().Add(patience); strings.Count(x.sent(), "\x1b[?1049h") < 2; time.Sleep(20 * time.Millisecond) {
		if strings.Contains(x.sent(), "\x1b[?1049l") {
			x.cmd.Process.Signal(syscall.SIGCONT)
		}
		if time.Now().After(deadline) {
			t.Fatal("the program is not set aside, or does not come back")
		}
	}
	x.await(`(?s)halve.*tap the case.*zero reading  0\.5`)
	x.send(ctrlU + "0.25" + enter)
	x.await(`recorded as 3: zero 0\.25`)
	x.send(ctrlC)
	if status := x.left(); status != 0 {
		t.Errorf("exit status %d after leaving", status)
	}
}

// A terminal that takes nothing more, held by its person or behind a network
// that hangs, does not keep the program from ending.
func TestStuckTerminalEnds(t *testing.T) {
	for _, signal := range []syscall.Signal{syscall.SIGTERM, syscall.SIGHUP} {
		t.Run(signal.String(), func(t *testing.T) {
			t.Parallel() // a terminal is mostly waited for
			data := t.TempDir()
			path := filepath.Join(data, "r.jsonl")
			cmd := exec.Command(build(t), "practise", "--record", path)
			cmd.Env = []string{"HOME=" + data, "XDG_DATA_HOME=" + data, "TERM=xterm-256color", "LANG=C.UTF-8"}
			var said bytes.Buffer
			file, err := pty.StartWithSize(cmd, &pty.Winsize{Cols: 120, Rows: 40})
			if err != nil {
				t.Fatal(err)
			}
			defer file.Close()
			defer cmd.Process.Kill()
			file.SetReadDeadline(time.Now().Add(patience))
			piece := make([]byte, 4096)
			for !strings.Contains(said.String(), "Space") {
				n, err := file.Read(piece)
				if said.Write(piece[:n]); err != nil {
					t.Fatal(err)
				}
			}
			for range 20 { // far more than a terminal holds unread
				file.WriteString("\x0c")
			}
			// What is done meanwhile is written down, in a window of any size.
			file.WriteString(ticks + enter)
			for deadline := time.Now().Add(patience); ; time.Sleep(10 * time.Millisecond) {
				pty.Setsize(file, &pty.Winsize{Cols: uint16(60 + time.Now().UnixMilli()%60), Rows: 30})
				if log, err := record.Read(path); err == nil && log.State.Wired() {
					break
				}
				if time.Now().After(deadline) {
					t.Fatal("the program stands still")
				}
			}
			cmd.Process.Signal(signal)
			ended := make(chan error, 1)
			go func() { ended <- cmd.Wait() }()
			select {
			case err := <-ended:
				if err != nil {
					t.Errorf("after %v: %v", signal, err)
				}
			case <-time.After(patience):
				t.Fatalf("%v does not end the program", signal)
			}
			s, err := record.Resume(path, time.Now, func() string { return "id" })
			if err != nil {
				t.Fatalf("the record does not open again: %v", err)
			}
			if s.State().Seq() != 2 || s.Recovered() != "" {
				t.Errorf("the record has %d events, want 2; %s", s.State().Seq(), s.Recovered())
			}
			if err := s.Close(); err != nil {
				t.Error(err)
			}
		})
	}
}

// A long text that is pasted by mistake, marked or not, is said to be too much;
// nothing that was typed before is lost, and the next key is answered.
func TestLongPaste(t *testing.T) {
	halve := build(t)
	text := strings.Repeat("the needle rests at 24 divisions\r", 25000) // 825 KB
	for _, tt := range []struct{ name, paste string }{
		{"marked", "\x1b[200~" + text + "\x1b[201~"},
		{"not marked", text},
		{"not marked, one word", strings.Repeat("µ", 400000)},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel() // a terminal is mostly waited for
			data := t.TempDir()
			file := filepath.Join(data, "r.jsonl")
			x := open(t, data, halve, "practise", "--record", file)
			x.await(`Space ticks`)
			x.send(ticks + enter)
			x.await(`zero reading  ▏`)
			x.send("0.5")
			x.await(`rests at 0\.5 div`)
			x.send(tt.paste)
			x.await(`! not taken: more than 400 characters were pasted`)
			x.await(`write │ zero reading  0\.5▏`)
			time.Sleep(time.Second) // a breath
			x.send(ctrlU + "0.25")
			x.await(`rests at 0\.25 div`)
			if _, c := look(t, file); c.Seq != 2 {
				t.Errorf("the paste wrote something down: %d events, want 2", c.Seq)
			}
			x.send(ctrlC + ctrlC)
			x.left()
		})
	}
}

// The same practical as a plain dialogue, on a terminal: a question, an
// answer, nothing drawn.
func TestWholePracticalPlain(t *testing.T) {
	t.Parallel() // a terminal is mostly waited for
	data := t.TempDir()
	file := filepath.Join(data, "r.jsonl")
	x := open(t, data, build(t), "guide", "--plain", "--record", file)
	question := regexp.MustCompile(`(?s)^(.*\n)?([^\n]+[?.:])\r?\n?$`)
	answered := 0
	for range 200 {
		// A question is the last line, once nothing follows it any more.
		var text string
		for deadline := time.Now().Add(patience); ; {
			before := x.sent()
			time.Sleep(15 * time.Millisecond)
			if text = x.sent(); text == before && len(text) > answered && question.MatchString(text) {
				break
			}
			if time.Now().After(deadline) {
				t.Fatalf("no question comes after %q", text[answered:])
			}
		}
		asked := question.FindStringSubmatch(text)[2]
		answered = len(text) + 2 // what is typed comes back as an echo
		log, _ := look(t, file)
		if log.State.Finished() {
			break
		}
		series, _ := log.State.SeriesOhm()
		shunt, _ := log.State.ShuntOhm()
		switch {
		case strings.Contains(asked, "built and checked"):
			x.send("yes" + enter)
		case strings.Contains(asked, "pointer rest"):
			x.send("0" + enter)
		case strings.Contains(asked, "voltmeter"):
			x.send("1.52" + enter)
		case strings.Contains(asked, "the first deflection, in"):
			x.send(shows(t, series, 0) + enter)
		case strings.Contains(asked, "the shunted deflection, in"):
			x.send(shows(t, series, shunt) + enter)
		case strings.Contains(asked, "write it up"), strings.Contains(asked, "yes"):
			x.send("yes" + enter)
		default:
			x.send(enter)
		}
	}
	x.send("quit" + enter + "\x04")
	x.left()
	log, c := look(t, file)
	if !log.State.Finished() || len(c.Rows) < 5 || c.Result == nil {
		t.Fatalf("finished %v, %d rows, result %v:\n%s", log.State.Finished(), len(c.Rows), c.Result, x.sent())
	}
	if g, u := *c.Result.Resistance, *c.Result.UResistance; math.Abs(g-trueG) > 3*u {
		t.Errorf("G = %.2f ± %.2f ohm, the bench has %.2f", g, u, trueG)
	}
	for i, b := range []byte(x.sent()) {
		if b == '\x1b' || b > 0x7e {
			t.Fatalf("byte %#x at %d: something is drawn in the plain dialogue", b, i)
		}
	}
}

// broken is a simulated bench that breaks down when it is looked at for the
// second time.
type broken struct {
	bench  *live.Bench
	looked bool
}

func (b *broken) Live() *live.Bench {
	if b.looked {
		panic("the key came off")
	}
	b.looked = true
	return b.bench
}

func (*broken) Examination() bool     { return false }
func (*broken) Over([]debrief.Remark) {}

// A breakdown leaves the terminal in order, is written down, says where, and
// the record is whole.
func TestBreakdown(t *testing.T) {
	t.Parallel() // a terminal is mostly waited for
	data := t.TempDir()
	master, slave, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer master.Close()
	defer slave.Close()
	if err := pty.Setsize(slave, &pty.Winsize{Cols: 80, Rows: 24}); err != nil {
		t.Fatal(err)
	}
	before, err := term.GetState(slave.Fd())
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(data, "r.jsonl")
	s, err := record.Open(path, time.Now, func() string { return "TEST" })
	if err != nil {
		t.Fatal(err)
	}
	b := stated()
	for _, body := range []procedure.Body{b, procedure.Wired{}, procedure.ZeroRead{}, procedure.SourceMeasured{EMF: 1.52}, procedure.SeriesSet{Ohm: 11110}} {
		if c, err := s.Accept(body); err != nil || c.Refused != nil {
			t.Fatalf("%+v is not taken: %v", body, err)
		}
	}
	random := rand.New(rand.NewPCG(1, 2))
	still, err := bench.New(b.Bench, bench.Draw(b.Bench, random), random)
	if err != nil {
		t.Fatal(err)
	}
	simulated, err := live.New(still, live.DrawTruth(b.Galvanometer, random), random, true)
	if err != nil {
		t.Fatal(err)
	}
	var sent bytes.Buffer
	drained := make(chan struct{})
	keyed := make(chan struct{})
	go func() {
		defer close(drained)
		piece := make([]byte, 4096)
		for {
			n, err := master.Read(piece)
			sent.Write(piece[:n])
			if keyed != nil && bytes.Contains(sent.Bytes(), []byte("first reading")) {
				close(keyed)
				keyed = nil
			}
			if err != nil {
				return
			}
		}
	}()
	go func(ready chan struct{}) {
		<-ready
		master.WriteString("\x10\x10") // Ctrl+P: to the bench, and back
	}(keyed)
	err = tui.Run(t.Context(), tui.Options{
		Sitting: s, Bench: &broken{bench: simulated}, DataDir: data, Theme: "dark",
		Now: time.Now, NewID: func() string { return "TEST" }, In: slave, Out: slave,
	})
	if err == nil || !strings.Contains(err.Error(), "the key came off") {
		t.Fatalf("the breakdown is told as %v", err)
	}
	where := regexp.MustCompile(`written in (\S+)`).FindStringSubmatch(err.Error())
	if where == nil {
		t.Fatalf("no file is named: %v", err)
	}
	if text, err := os.ReadFile(where[1]); err != nil || !strings.Contains(string(text), "(*broken).Live") {
		t.Errorf("the file says %q, %v", text, err)
	}
	after, err := term.GetState(slave.Fd())
	if err != nil || !reflect.DeepEqual(before, after) {
		t.Errorf("the terminal is left as %+v, it was %+v; %v", after, before, err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	if _, c := look(t, path); c.Seq != 5 {
		t.Errorf("the record has %d events, want 5", c.Seq)
	}
	slave.Close()
	master.Close()
	<-drained
	if !strings.Contains(sent.String(), "\x1b[?1049l") || !strings.Contains(sent.String(), "\x1b[?25h") {
		t.Error("the other screen is not left, or the cursor stays hidden")
	}
}
