package tui

import (
	"bytes"
	"strings"
	"testing"

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
