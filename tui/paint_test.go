package tui

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/charmbracelet/x/vt"
	"pgregory.net/rapid"
)

// Whatever frames follow one another, the terminal shows the last, and a frame
// that is shown already costs nothing.
func TestFramesArrive(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		const w, h = 24, 6
		screen := vt.NewEmulator(w, h)
		var sent bytes.Buffer
		p := &painter{out: &sent}
		for range rapid.IntRange(1, 12).Draw(rt, "frames") {
			lines := rapid.SliceOfN(rapid.SampledFrom([]string{
				"", "a", "scale ▐⣇⣄⣄⣇▌", "\x1b[1;38;2;28;63;115mG = 90.5 Ω\x1b[0m", strings.Repeat("─", w), "   24 div", "\x1b[9mstruck\x1b[0m out",
			}), h, h).Draw(rt, "lines")
			frame := strings.Join(lines, "\n")
			if rapid.IntRange(0, 9).Draw(rt, "resumed") == 0 {
				p.forget()
			}
			p.show(frame)
			screen.Write(sent.Bytes())
			sent.Reset()
			p.show(frame)
			if sent.Len() > 0 {
				rt.Fatalf("a frame that is shown is sent again: %q", sent.String())
			}
			got := strings.Split(screen.String(), "\n")
			for i, line := range strings.Split(stripped(frame), "\n") {
				if i >= len(got) || strings.TrimRight(got[i], " ") != strings.TrimRight(line, " ") {
					rt.Fatalf("the terminal shows\n%s\nwant\n%s", strings.Join(got, "\n"), stripped(frame))
				}
			}
		}
	})
}

// stuck is a terminal that takes nothing until it is told to.
type stuck struct {
	began chan struct{} // gets something with each piece that is sent
	goOn  chan struct{}
	sent  []string
}

func (s *stuck) Write(p []byte) (int, error) {
	s.began <- struct{}{}
	<-s.goOn
	s.sent = append(s.sent, string(p))
	return len(p), nil
}

// A terminal that takes nothing stops nobody; once it goes on it gets, after
// what it was in the midst of, the newest frame only, and what sets it up in
// its order.
func TestStuckTerminal(t *testing.T) {
	out := &stuck{began: make(chan struct{}, 9), goOn: make(chan struct{})}
	w := newWriter(out)
	w.patience = time.Millisecond
	w.show("first", false)
	<-out.began
	for i := range 1000 {
		w.show(fmt.Sprint("frame ", i), i == 500)
	}
	w.show("", false)
	w.control([]byte("leave")) // gives up
	w.patience = time.Hour
	w.control([]byte("for good")) // does not even try
	close(out.goOn)
	last := make(chan struct{})
	w.mu.Lock()
	w.waiting = append(w.waiting, piece{sent: last})
	w.mu.Unlock()
	w.stir()
	<-last
	want := []string{"\x1b[2J\x1b[1;1Hfirst", "\x1b[2J\x1b[1;1Hframe 999", "leave", "for good"}
	if len(out.sent) < len(want) || !slices.Equal(out.sent[:len(want)], want) {
		t.Errorf("sent %q, want %q", out.sent, want)
	}
}

func stripped(s string) string {
	var b strings.Builder
	for len(s) > 0 {
		if rest, ok := strings.CutPrefix(s, "\x1b["); ok {
			s = rest[strings.IndexByte(rest, 'm')+1:]
			continue
		}
		b.WriteByte(s[0])
		s = s[1:]
	}
	return b.String()
}
