//go:build unix && !race

// Not under the race detector: these tests run Bubble Tea in their own process,
// and on leaving it closes its reader while its loop may still wait on it
// (bubbletea 1.3.10, cancelreader 0.2.2). The parts that are ours are raced in
// the tests of tui/screen and tui/hands.

package tui_test

import (
	"bytes"
	"context"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/charmbracelet/x/vt"
	"github.com/creack/pty"

	"example.org/halve/procedure"
	"example.org/halve/tui/command"
	"example.org/halve/tui/draw"
)

// bencher is somebody at a terminal who works the simulated bench with their
// own hands: presses keys, waits, and reads the needle from the drawn scale.
// Their clock goes two hundred times as fast as ours, so that waiting costs
// nothing.
type bencher struct {
	*terminal
	record  string
	begun   time.Time
	left    chan error
	out     bool           // the book is open, not the bench
	at      map[string]int // where the hand is in each row
	row     string
	pulled  map[string][]bool // the plugs that are out
	waiting time.Duration     // for the needle to come to rest
}

const speed = 200

func (b *bencher) now() time.Time { return b.begun.Add(speed * time.Since(b.begun)) }

// wait lets time pass at the bench.
func (b *bencher) wait(d time.Duration) { time.Sleep(d / speed) }

// sitDown begins a practice in a pseudo-terminal of 80x24.
func sitDown(t *testing.T, p command.Practise) *bencher {
	t.Helper()
	master, slave, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	if err := pty.Setsize(master, &pty.Winsize{Cols: 80, Rows: 24}); err != nil {
		t.Fatal(err)
	}
	b := &bencher{
		terminal: &terminal{t: t, file: master, done: make(chan struct{}), screen: vt.NewEmulator(80, 24)},
		record:   filepath.Join(t.TempDir(), "practice.jsonl"), begun: time.Now(), left: make(chan error, 1),
		out: true, at: map[string]int{}, row: "keys", pulled: map[string][]bool{"R": make([]bool, 16), "S": make([]bool, 12)},
		waiting: 15 * time.Second,
	}
	go b.show()
	go b.answer()
	ctx, cancel := context.WithCancel(context.Background())
	p.Record, p.ASCII, p.Theme = b.record, true, "dark"
	desk := command.Desk{
		In: slave, Out: slave, Err: io.Discard, Terminal: true, Now: b.now,
		NewID: func() string { return "TESTID" }, DataDir: t.TempDir(),
	}
	go func() { b.left <- p.Run(ctx, desk) }()
	t.Cleanup(func() {
		cancel()
		slave.Close()
		master.Close()
		<-b.done
	})
	return b
}

// bench turns to the bench, book to the book.
func (b *bencher) bench() {
	if b.out {
		b.send("\x10") // Ctrl+P
		b.await(`Enter to the book`)
		b.out = false
	}
}

func (b *bencher) book() {
	if !b.out {
		b.send(enter)
		b.await(`(to the bench|Tab entries)`)
		b.out = true
	}
}

// write types a line into the book and waits until it is recorded.
func (b *bencher) write(text string) {
	b.t.Helper()
	b.book()
	_, c := look(b.t, b.record)
	time.Sleep(2 * time.Millisecond) // 0.4 s at the bench: an Enter alone counts only after a moment
	b.send(text)
	if text != "" {
		b.await(regexp.QuoteMeta(text) + `_`)
	}
	b.send(enter)
	for deadline := time.Now().Add(patience); ; time.Sleep(5 * time.Millisecond) {
		if _, now := look(b.t, b.record); now.Seq > c.Seq {
			break
		}
		if time.Now().After(deadline) {
			b.t.Fatalf("%q was not written down:\n%s", text, b.text())
		}
	}
	// Where there is more to say of an entry its number may have no room, and
	// at the end the page turns.
	b.await(`recorded as ` + strconv.Itoa(c.Seq+1) + `\b|odd: |How it went`)
}

// hand moves the hand to a thing of a row: K1, K2, case, screw and source in
// the first, below it the plugs of R, then those of S.
func (b *bencher) hand(row string, i int) {
	rows := []string{"keys", "R", "S"}
	index := func(name string) int {
		for i, r := range rows {
			if r == name {
				return i
			}
		}
		return -1
	}
	for ; b.row != row; b.row = rows[(index(b.row)+1)%len(rows)] {
		b.send(down)
	}
	for ; b.at[row] < i; b.at[row]++ {
		b.send("\x1b[C")
	}
	for ; b.at[row] > i; b.at[row]-- {
		b.send("\x1b[D")
	}
}

// plugs takes the plugs out of a box that make a setting, and puts the others
// in, one by one.
func (b *bencher) plugs(row string, coils, takeOut []float64) {
	b.t.Helper()
	b.bench()
	want := make([]bool, len(coils))
	for _, ohm := range takeOut {
		for i, c := range coils {
			if c == ohm && !want[i] {
				want[i] = true
				break
			}
		}
	}
	for i := range coils {
		if b.pulled[row][i] != want[i] {
			b.hand(row, i)
			b.send(" ")
			b.pulled[row][i] = want[i]
			b.await(regexp.QuoteMeta(row) + `: the plug of [\d ]+ ohm is (in|out)`)
		}
	}
}

// close closes or opens keys: K1 then K2, K2 then K1.
func (b *bencher) close(keys ...string) {
	b.bench()
	for _, k := range keys {
		b.send(k)
	}
}

// reading is the needle's place by the magnifier, in divisions: its column
// among those of the figures.
func (b *bencher) reading() (div float64, ok bool) {
	lines := strings.Split(b.text(), "\n")
	number := regexp.MustCompile(`-?\d+`)
	for i, line := range lines {
		if i < 3 || len(line) < 12 || !strings.Contains(line, "magnified") {
			continue
		}
		needle := strings.IndexAny(line[10:], "|^")
		if needle < 0 {
			return 0, false
		}
		for _, up := range []int{2, 3} {
			figures := lines[i-up][min(10, len(lines[i-up])):]
			at := number.FindAllStringIndex(figures, -1)
			if strings.Trim(figures, " -0123456789") != "" || len(at) < 3 {
				continue
			}
			// A figure stands over its mark, its sign hanging out.
			mark := func(m []int) (v, col float64) {
				text := figures[m[0]:m[1]]
				v, _ = strconv.ParseFloat(text, 64)
				col = float64(m[0] + len(strings.TrimPrefix(text, "-"))/2)
				if v < 0 {
					col++
				}
				if v == 0 {
					col = float64(m[0])
				}
				return v, col
			}
			v0, c0 := mark(at[0])
			v1, c1 := mark(at[len(at)-1])
			return v0 + (float64(needle)-c0)*(v1-v0)/(c1-c0), true
		}
	}
	return 0, false
}

// read waits for the needle to come to rest, taps the case, and reads to a
// half of a division, twice the same.
func (b *bencher) read() string {
	b.t.Helper()
	b.bench()
	b.wait(b.waiting)
	b.send("c")
	b.await(`the case is tapped`)
	last := math.NaN()
	for deadline := time.Now().Add(patience); ; {
		time.Sleep(50 * time.Millisecond) // longer than from one picture to the next
		v, ok := b.reading()
		if ok && v == last {
			return strconv.FormatFloat(math.Round(2*v)/2, 'f', -1, 64)
		}
		if last = v; !ok {
			last = math.NaN()
		}
		if time.Now().After(deadline) {
			b.t.Fatalf("no reading:\n%s", b.text())
		}
	}
}

// volts reads the voltmeter.
func (b *bencher) volts() string {
	b.bench()
	b.send("v")
	return b.await(`source shows ([\d.]+) V`)[1]
}

// step does the one thing that the guide asks for, with the hands.
func (b *bencher) step() (done bool) {
	b.t.Helper()
	log, c := look(b.t, b.record)
	table, _ := log.State.Bench()
	switch {
	case log.State.Finished():
		return true
	case b.asked() == "EMF of the source":
		b.write(b.volts())
		return false
	}
	switch next := c.Next; next.Event {
	case procedure.KindWired:
		b.wire()
	case procedure.KindZero:
		b.write(b.read())
	case procedure.KindSetSeries:
		b.plugs("R", table.SeriesBox.Coils, next.TakeOut)
		b.write(strconv.FormatFloat(*next.Ohm, 'f', -1, 64))
	case procedure.KindReadFirst:
		b.close("1")
		b.write(b.read())
		b.close("1")
	case procedure.KindSetShunt:
		b.plugs("S", table.ShuntBox.Coils, next.TakeOut)
		b.write(strconv.FormatFloat(*next.Ohm, 'f', -1, 64))
	case procedure.KindReadShunted:
		b.close("1", "2")
		b.write(b.read())
		b.close("2", "1")
	default:
		b.write("")
	}
	return false
}

// asked is what the book asks to write down.
func (b *bencher) asked() string {
	b.t.Helper()
	if b.out {
		return strings.TrimSpace(b.await(`write \| (\S+(?: \S+)*)`)[1])
	}
	return strings.TrimSpace(b.await(`to write down (\S+(?: \S+)*)`)[1])
}

// wire joins the leads one by one, then ticks the list.
func (b *bencher) wire() {
	b.t.Helper()
	// The terminals stand in two lines: + and a above - and b.
	col := map[byte]int{'c': 0, '1': 1, 'R': 2, 'G': 3, '2': 4, 'S': 5}
	line, at := 0, 0
	for _, l := range [][2]string{{"c-", "1a"}, {"1b", "G-"}, {"G+", "Ra"}, {"Rb", "c+"}, {"G+", "Sa"}, {"Sb", "2a"}, {"2b", "G-"}} {
		b.bench()
		for _, end := range l {
			to, want := col[end[0]], 0
			if end[1] == '-' || end[1] == 'b' {
				want = 1
			}
			if want != line {
				b.send(down)
				line = want
			}
			for ; at < to; at++ {
				b.send("\x1b[C")
			}
			for ; at > to; at-- {
				b.send("\x1b[D")
			}
			b.send(" ")
		}
		b.await(`are joined`)
	}
	b.book()
	b.await(`\[ \]`)
	b.send(strings.Repeat(" ", len(draw.Wires())+4)) // the keys before them, plugs, iron and a second pair of eyes after
	b.write("")
	b.row = "keys"
}

// finish does all that the guide asks for, and returns the last counsel.
func (b *bencher) finish() procedure.Counsel {
	b.t.Helper()
	for range 150 {
		if b.step() {
			_, c := look(b.t, b.record)
			return c
		}
	}
	b.t.Fatalf("the practical does not end:\n%s", b.text())
	return procedure.Counsel{}
}

// leave closes the screens and returns what is said afterwards.
func (b *bencher) leave() string {
	b.t.Helper()
	b.mu.Lock()
	before := b.raw.Len()
	b.mu.Unlock()
	b.send(ctrlC)
	select {
	case err := <-b.left:
		if err != nil {
			b.t.Fatalf("it ends with %v", err)
		}
	case <-time.After(patience):
		b.t.Fatalf("the program does not end:\n%s", b.text())
	}
	for deadline := time.Now().Add(patience); ; time.Sleep(5 * time.Millisecond) {
		b.mu.Lock()
		said := string(bytes.Clone(b.raw.Bytes()[before:]))
		b.mu.Unlock()
		if strings.Contains(said, "Nothing is gained by haste") || time.Now().After(deadline) {
			_, after, _ := strings.Cut(said, "\x1b[?1049l")
			return strings.Join(strings.Fields(after), " ")
		}
	}
}

// A practical done wholly by hand: the circuit lead by lead, plugs, keys,
// waiting, and reading from the drawn scale. Only the person's eyes have seen
// the readings; the result holds the truth all the same.
func TestPracticalByHand(t *testing.T) {
	b := sitDown(t, command.Practise{Way: command.Way{Bench: "first"}, Seed: 5})
	b.await(`looked over by somebody`)
	b.bench()
	b.send("wmw") // the magnifier
	c := b.finish()
	if len(c.Rows) < 5 || c.Result == nil {
		t.Fatalf("%d rows, result %v", len(c.Rows), c.Result)
	}
	b.await(`How it went`)
	said := b.leave()
	for _, want := range []string{
		"+ The needle never went past the last mark.",
		"+ Keys were closed and opened in their order, and nothing was moved under current.",
		"rows were kept.", "+ Every first deflection was in the upper half of the scale",
		"+ The zero was read before the first row and after the last.", "+ The EMF was read before the first row and after the last.",
		"The simulated galvanometer has G = ", "Nothing is gained by haste.",
		"at 95 %: the truth lies inside",
	} {
		if !strings.Contains(said, want) {
			t.Errorf("%q is not said at the end:\n%s", want, said)
		}
	}
	if strings.Contains(said, "not set as the book says") || strings.Contains(said, "without the keys") {
		t.Errorf("said of a careful student:\n%s", said)
	}
}

// The same with something wrong: the shunt branch is open. The person sees
// that K2 changes nothing, looks the shunt box over, strikes the reading that
// is worth nothing and goes on.
func TestPracticalByHandWithAFault(t *testing.T) {
	b := sitDown(t, command.Practise{Way: command.Way{Bench: "fault-shunt-open"}, Seed: 7})
	b.await(`looked over by somebody`)
	b.bench()
	b.send("wmw")
	for range 60 {
		if _, c := look(t, b.record); c.Next != nil && c.Next.Event == procedure.KindReadShunted {
			break
		}
		b.step()
	}
	// K2 changes nothing.
	b.close("1")
	first := b.read()
	b.close("2")
	shunted := b.read()
	if first != shunted {
		t.Fatalf("K2 brings the needle from %s to %s, though the shunt branch is open", first, shunted)
	}
	b.write(shunted)
	_, c := look(t, b.record)
	if len(c.Findings) == 0 || c.Findings[0].ID != "shunt-open" {
		t.Fatalf("findings %+v, want shunt-open first", c.Findings)
	}
	// Look for it, where it is.
	b.bench()
	b.send("21")
	b.hand("S", 0)
	b.send("o")
	b.await(`the shunt box: a lead was broken; another is there now`)
	b.book()
	b.send("\x18") // Ctrl+X: the last entry
	b.await(`strikes`)
	b.write("")
	for range 20 { // one row, then it is enough
		if _, c = look(t, b.record); len(c.Rows) > 0 {
			break
		}
		b.step()
	}
	b.book()
	b.send("\x06") // Ctrl+F: before finishing, the EMF once more
	b.await(`EMF of the source`)
	b.write(b.volts())
	b.send("\x06")
	b.await(`write \| finish`)
	b.write("")
	_, c = look(t, b.record)
	b.await(`How it went`)
	said := b.leave()
	for _, want := range []string{"+ The bench had a fault: a lead of the shunt is broken. It was found and mended, with 1 thing looked over.", "+ The needle never went past the last mark.", "at 95 %: the truth lies inside"} {
		if !strings.Contains(said, want) {
			t.Errorf("%q is not said at the end:\n%s", want, said)
		}
	}
	if c.Result == nil || len(c.Rows) != 1 {
		t.Errorf("%d rows, result %v", len(c.Rows), c.Result)
	}
}

// R left out: the needle is past the last mark at once, it is said what to do,
// it stands in the record and in what is said at the end.
func TestSeriesBoxLeftOutByHand(t *testing.T) {
	b := sitDown(t, command.Practise{Way: command.Way{Bench: "first"}, Seed: 5})
	b.await(`looked over by somebody`)
	b.wire()
	b.bench()
	b.send("1")
	b.await(`the needle was driven past the last mark on the right`)
	b.await(`Open K1 at once`)
	b.await(`Put the whole`)
	b.send("1")
	b.await(`K1 is open`)
	log, _ := look(t, b.record)
	noted := ""
	for _, e := range log.Events {
		if n, ok := e.Body.(procedure.Note); ok {
			noted += n.Text
		}
	}
	if !strings.Contains(noted, "simulated bench: the needle was driven past the last mark on the right when K1 was closed with R at 0") {
		t.Errorf("the record's notes are %q, want what happened to the needle", noted)
	}
	b.book()
	b.send("\x06") // Ctrl+F
	b.write("")
	b.await(`How it went`)
	if said := b.leave(); !strings.Contains(said, "> Once the needle was driven past the last mark on the right when K1 was closed with R at 0") {
		t.Errorf("at the end is said:\n%s", said)
	}
	if _, err := os.Stat(b.record); err != nil {
		t.Error(err)
	}
}

// A practice is gone on with at its own bench, whichever way it is opened: by
// name, as any record, or from the list; and an examination stays one, without
// being asked for again.
func TestPracticeGoneOnWithByHand(t *testing.T) {
	data := t.TempDir()
	x := open(t, data, build(t), "practise", "--examination", "--bench", "first")
	x.await(`the guide is switched off`)
	x.send(ctrlC)
	path := x.await(`(\S+\.jsonl)`)[1]
	for name, args := range map[string][]string{"practise": {"practise", "--record", path}, "guide": {"guide", path}, "the list": nil} {
		t.Run(name, func(t *testing.T) {
			x := open(t, data, append([]string{build(t)}, args...)...)
			if args == nil {
				x.await(`practise on a simulated bench`)
				x.send("2")
				x.await(`0 rows`)
				x.send(enter)
			}
			x.await(`examination: the guide is switched off +simulated`)
			x.send("\x10") // Ctrl+P
			x.await(`no lead is joined yet`)
			x.send(ctrlC)
			<-x.done
		})
	}
}
