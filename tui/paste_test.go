package tui

import (
	"os"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// However a paste is cut up on its way, what is typed around it comes through,
// a short one as it is and a long one cut short, marked as a paste.
func TestPastesAreBounded(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		before := rapid.StringMatching(`[a-z0-9µ\r]{0,12}(\x1b\[[ABCD]){0,3}`).Draw(rt, "before")
		after := rapid.StringMatching(`[a-z0-9µ\r]{0,12}(\x1b\[[ABCD]){0,3}`).Draw(rt, "after")
		text := rapid.StringMatching(`([a-zµ \r]|\x1b\[2){0,40}`).Draw(rt, "text")
		if n := rapid.SampledFrom([]int{1, 1, 200, 2000}).Draw(rt, "times"); text != "" {
			text = strings.Repeat(text, n)
		}
		all := before + pasteBegins + text + pasteEnds + after
		r, w, err := os.Pipe()
		if err != nil {
			rt.Fatal(err)
		}
		defer r.Close()
		go func() {
			defer w.Close()
			for rest := all; len(rest) > 0; {
				n := min(len(rest), 997)
				w.WriteString(rest[:n])
				rest = rest[n:]
			}
		}()
		a := &answers{File: r}
		var got strings.Builder
		for buf := make([]byte, 256); err == nil; {
			var n int
			n, err = a.Read(buf[:rapid.IntRange(100, 256).Draw(rt, "room")])
			got.Write(buf[:n])
		}
		kept, ok := strings.CutPrefix(got.String(), before+pasteBegins)
		kept, tail := strings.CutSuffix(kept, pasteEnds+after)
		if !ok || !tail || !strings.HasPrefix(text, strings.TrimRight(kept, "\x1b[201")) || len(kept) < min(len(text), longestPaste-len(pasteEnds)) || len(kept) > longestPaste {
			rt.Fatalf("of %d bytes pasted between %q and %q came %q", len(text), before, after, got.String())
		}
		if len(text) <= longestPaste-len(pasteEnds) && kept != text {
			rt.Fatalf("a short paste of %q came as %q", text, kept)
		}
	})
}

// A key is never handed on in two parts where the rest of it is on its way.
func TestBroken(t *testing.T) {
	for text, want := range map[string]int{
		"": 0, "24": 0, "24\x1b": 1, "24\x1b[": 2, "24\x1b[1;5": 5, "24\x1b[1;5A": 0, "24\x1bO": 2, "24\x1bOP": 0, "24\x1bx": 0,
		"µ": 0, "µ"[:1]: 1, "24…"[:4]: 2, "24…"[:3]: 1, "\x1b[A4": 0,
	} {
		if got := broken([]byte(text)); got != want {
			t.Errorf("broken(%q) = %d, want %d", text, got, want)
		}
	}
}

// What a terminal sends without marks is a paste where nobody can type so much
// at once, is bounded for as long as it goes on, and is over with a breath.
func TestUnmarkedPaste(t *testing.T) {
	now := time.Unix(0, 0)
	var p pastes
	piece := func(text string, full bool, wait time.Duration) string {
		now = now.Add(wait)
		return string(p.take([]byte(text), full, now))
	}
	const ms = time.Millisecond
	line := strings.Repeat("24 div\r", 30)
	for i, step := range []struct {
		text string
		full bool
		wait time.Duration
		want string
	}{
		{"24\r", false, time.Hour, "24\r"},
		{"\x1b[A\x1b[A\x1b[A", true, 20 * ms, "\x1b[A\x1b[A\x1b[A"}, // keys that waited
		{"\x1b[B", false, 20 * ms, "\x1b[B"},
		{line, true, 90 * ms, pasteBegins + line},
		{"end", false, ms, "end" + pasteEnds},
		{"more", false, ms, pasteBegins + "more" + pasteEnds},
		{"7", false, time.Second, "7"},
		{line, true, time.Second, pasteBegins + line},
		{"7", false, time.Second, pasteEnds + "7"}, // it ended with a whole piece
		{"\x1b[31m" + line, true, time.Second, "\x1b[31m" + line},
		{"\x1b[32m" + line, true, ms, pasteBegins + "[32m" + line}, // nobody types two of them
		{"", false, ms, pasteEnds},
	} {
		if got := piece(step.text, step.full, step.wait); got != step.want {
			t.Errorf("step %d: %q came through as %q, want %q", i, step.text, got, step.want)
		}
	}
	sent := piece(line, true, time.Second)
	for range 10000 {
		sent += piece(line, true, 80*ms)
	}
	if want := len(pasteBegins) + longestPaste + len(pasteEnds); len(sent) != want {
		t.Errorf("of a flood %d bytes came through, want %d", len(sent), want)
	}
	if got := piece("7", false, time.Second); got != "7" {
		t.Errorf("7 came through as %q after it", got)
	}
}
