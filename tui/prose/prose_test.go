package prose

import (
	"strings"
	"testing"

	"github.com/charmbracelet/x/ansi"
	"github.com/muesli/termenv"
	"pgregory.net/rapid"

	"example.org/halve/tui/draw"
	"example.org/halve/tui/theme"
)

func bare(ascii bool) *theme.Theme {
	t := theme.New(theme.Auto, termenv.Ascii, ascii)
	return &t
}

// The expected lines are set by hand.
func TestLines(t *testing.T) {
	for _, tt := range []struct {
		name, markdown string
		w              int
		want           string
	}{
		{"nothing", "", 20, ""},
		{"a paragraph", "one two three four", 9, "one two\nthree\nfour"},
		{"two paragraphs", "one\n\ntwo", 20, "one\n\ntwo"},
		{"a soft break is a blank", "one\ntwo", 20, "one two"},
		{"a hard break", "one\\\ntwo", 20, "one\ntwo"},
		{"a heading", "# Why\n\nbecause", 8, "Why\n────────\n\nbecause"},
		{"a lesser heading", "## Why\n\nbecause", 8, "Why\n\nbecause"},
		{"emphasis is its words", "the *exact* half, **not** `0.5`.", 40, "the exact half, not 0.5."},
		{"joined words stay together", "the ratio (`S/R`), here", 14, "the ratio\n(S/R), here"},
		{"a list", "- one two\n- three", 8, "- one\n  two\n- three"},
		{"a loose list", "- one\n\n- two", 8, "- one\n\n- two"},
		{"a numbered list", "3. one\n4. two", 20, "3. one\n4. two"},
		{"a list in a list", "- one\n  - two three", 10, "- one\n  - two\n    three"},
		{"a formula", "so\n\n    G = R S / (R - S)\n", 30, "so\n\n  G = R S / (R - S)"},
		{"a fence", "```\nG = 1\n  k = 2\n```", 30, "  G = 1\n    k = 2"},
		{"a quotation", "> read it\n> again", 8, "│ read\n│ it\n│ again"},
		{"a table", "| R | θ |\n|--|--|\n| 100 | 24 |", 20, "R    θ\n100  24"},
		{"a table too wide", "| cause | cure |\n|--|--|\n| the cell | rest it |", 16, "- cause: the\n  cell; cure:\n  rest it"},
		{"an escape", `2 \* 3`, 20, "2 * 3"},
		{"a tab is a blank", "one\ttwo", 3, "one\ntwo"},
		{"a word too long", "abcdefgh", 3, "abc\ndef\ngh"},
		{"a comment", "one\n\n<!-- two -->", 20, "one"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := strings.TrimRight(strings.Join(Lines(tt.markdown, tt.w, bare(false)), "\n"), "\n")
			if got != tt.want {
				t.Errorf("%q in %d cells is set as\n%s\nwant\n%s", tt.markdown, tt.w, got, tt.want)
			}
		})
	}
}

func TestASCII(t *testing.T) {
	got := strings.Join(Lines("# θ₁ in Ω\n\n> k ± 2 µA", 20, bare(true)), "\n")
	for _, r := range got {
		if r > 0x7e {
			t.Fatalf("%q is set in ASCII:\n%s", r, got)
		}
	}
}

// Whatever is written, in whatever width: no line is wider, and no letter is
// lost from plain words.
func TestAnyText(t *testing.T) {
	coloured := theme.New(theme.Dark, termenv.TrueColor, false)
	rapid.Check(t, func(rt *rapid.T) {
		pieces := rapid.SliceOfN(rapid.SampledFrom([]string{
			"word", "θ₁/θ₂", "\n", "\n\n", "# ", "- ", "1. ", "> ", "`code`", "**bold**", "| a | b |\n|--|--|\n| c | d |\n", "    ", "```\n", "\t", "<b>", `\*`, "[x](y)", " ", "unbreakableword", "---\n",
		}), 0, 40).Draw(rt, "pieces")
		w := rapid.IntRange(-1, 80).Draw(rt, "width")
		for _, line := range Lines(strings.Join(pieces, ""), w, &coloured) {
			if draw.Width(line) > max(w, 0) {
				rt.Fatalf("a line of %d cells in %d: %q", draw.Width(line), w, line)
			}
		}
		words := rapid.SliceOf(rapid.SampledFrom([]string{"one", "two", "three", "ninety-nine"})).Draw(rt, "words")
		want := strings.Join(words, "")
		got := strings.ReplaceAll(ansi.Strip(strings.Join(Lines(strings.Join(words, " "), max(w, 1), &coloured), "")), " ", "")
		if got != want {
			rt.Fatalf("%q in %d cells came out as %q", want, w, got)
		}
	})
}
