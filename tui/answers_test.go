package tui

import (
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Black, white and the greys about the middle; the luminances are worked out
// by hand from the weights.
func TestIsDark(t *testing.T) {
	for _, tt := range []struct {
		colour   string
		dark, ok bool
	}{
		{"rgb:0000/0000/0000", true, true},
		{"rgb:ffff/ffff/ffff", false, true},
		{"rgb:f/f/f", false, true},
		{"rgb:7f/7f/7f", true, true},
		{"rgb:80/80/80", false, true},
		{"rgb:ffff/0000/0000", true, true},  // 0.21
		{"rgb:0000/ffff/0000", false, true}, // 0.72
		{"rgb:0000/0000", false, false},
		{"rgb:xx/00/00", false, false},
		{"rgb:00000/00/00", false, false},
		{"#ffffff", false, false},
		{"", false, false},
	} {
		if dark, ok := isDark(tt.colour); dark != tt.dark || ok != tt.ok {
			t.Errorf("isDark(%q) = %t, %t, want %t, %t", tt.colour, dark, ok, tt.dark, tt.ok)
		}
	}
}

// However the answer is cut up on its way, what was typed around it comes
// through, and the answer is told once.
func TestAnswerIsTakenOut(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		end := rapid.SampledFrom([]string{"\x07", "\x1b\\"}).Draw(rt, "end")
		before := rapid.StringMatching(`[a-z0-9\r]{0,12}`).Draw(rt, "before")
		after := rapid.StringMatching(`[a-z0-9\r]{0,12}`).Draw(rt, "after")
		all := before + "\x1b]11;rgb:ffff/ffff/ffff" + end + after
		r, w, err := os.Pipe()
		if err != nil {
			rt.Fatal(err)
		}
		defer r.Close()
		told := 0
		a := &answers{File: r, told: func(dark bool) {
			if told++; dark {
				rt.Error("white is told as dark")
			}
		}}
		a.ask()
		var got strings.Builder
		buf := make([]byte, 256)
		for len(all) > 0 {
			n := rapid.IntRange(1, len(all)).Draw(rt, "piece")
			w.WriteString(all[:n])
			all = all[n:]
			m, err := a.Read(buf)
			if err != nil {
				rt.Fatal(err)
			}
			got.Write(buf[:m])
		}
		w.Close()
		// An Escape that was the last byte of a piece may have been a key.
		if typed := strings.ReplaceAll(got.String(), "\x1b", ""); typed != before+after || told != 1 {
			rt.Fatalf("%q came through, want %q; told %d times", got.String(), before+after, told)
		}
	})
}

// What is no answer comes through unchanged, Escape and arrows among it.
func TestKeysComeThrough(t *testing.T) {
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	defer w.Close()
	a := &answers{File: r, told: func(bool) { t.Error("told without an answer") }}
	a.ask()
	buf := make([]byte, 256)
	for _, keys := range []string{"\x1b", "[A", "\x1b[B", "24\r", "]11", "\x1b]52;x\x07", "\x1b"} {
		w.WriteString(keys)
		n, err := a.Read(buf)
		if err != nil || string(buf[:n]) != keys {
			t.Errorf("%q came through as %q, %v", keys, buf[:n], err)
		}
	}
}
