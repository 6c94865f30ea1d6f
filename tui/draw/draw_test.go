package draw

import (
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/muesli/termenv"
	"pgregory.net/rapid"

	"example.org/halve/tui/theme"
)

var update = flag.Bool("update", false, "write the golden drawings anew")

// golden compares with a file of testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name+".golden")
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs from what is drawn now; if the change is wanted, run with -update and read it.\ngot:\n%s", path, got)
	}
}

// themes are the three sets of signs, without colour.
func themes() map[string]*theme.Theme {
	braille, older, ascii := theme.New(theme.Auto, termenv.Ascii, false), theme.New(theme.Auto, termenv.Ascii, false), theme.New(theme.Auto, termenv.Ascii, true)
	older.Signs = theme.Older()
	return map[string]*theme.Theme{"braille": &braille, "older": &older, "ascii": &ascii}
}

func plain() *theme.Theme { return themes()["braille"] }

func ptr(v float64) *float64 { return &v }

// anyTheme draws one of the sets, with or without colours.
func anyTheme(t *rapid.T) *theme.Theme {
	name := rapid.SampledFrom([]string{"braille", "older", "ascii"}).Draw(t, "signs")
	if rapid.Bool().Draw(t, "colour") {
		th := theme.New(theme.Dark, termenv.TrueColor, name == "ascii")
		if name == "older" {
			th.Signs = theme.Older()
		}
		return &th
	}
	return themes()[name]
}

// anyNumber is any float, the ones that are none among them.
func anyNumber() *rapid.Generator[float64] {
	return rapid.OneOf(rapid.Float64(), rapid.Float64Range(-200, 200), rapid.SampledFrom([]float64{
		math.NaN(), math.Inf(1), math.Inf(-1), 0, math.Copysign(0, -1), math.MaxFloat64, -math.MaxFloat64, math.SmallestNonzeroFloat64, 1e-300, 30, -30,
	}))
}

// anySize is any size of a window, senseless ones among them.
func anySize(t *rapid.T) (w, h int) {
	w = rapid.OneOf(rapid.IntRange(-3, 250), rapid.SampledFrom([]int{51, 71, 111, 191, 5000})).Draw(t, "width")
	h = rapid.OneOf(rapid.IntRange(-3, 70), rapid.SampledFrom([]int{1, 2, 3, 4, 5})).Draw(t, "height")
	return w, h
}

// fits fails where a drawing is larger than its room, holds a control
// character, or is not ASCII with the ASCII signs.
func fits(t *rapid.T, lines []string, w, h int, th *theme.Theme) {
	if len(lines) > max(h, 0) {
		t.Fatalf("%d lines in %d:\n%s", len(lines), h, strings.Join(lines, "\n"))
	}
	ascii := th.Signs.Grain == theme.Strokes
	for _, line := range lines {
		if Width(line) > max(w, 0) {
			t.Fatalf("a line of %d cells in %d: %q", Width(line), w, line)
		}
		for _, r := range line {
			if ascii && r > '~' || r < ' ' && r != '\x1b' {
				t.Fatalf("%q is drawn: %q", r, line)
			}
		}
	}
	if text := strings.Join(lines, "\n"); strings.Contains(text, "NaN") || strings.Contains(text, "Inf") {
		t.Fatalf("a number that is none is drawn:\n%s", text)
	}
}

// cells is the number of cells before byte i.
func cells(line string, i int) int {
	if i < 0 {
		return -1
	}
	return Width(line[:i])
}

// A canvas takes anything, anywhere, and grows no larger than it may.
func TestCanvasTotal(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		w, h := anySize(rt)
		th := anyTheme(rt)
		c := NewCanvas(w, h, th.Signs.Grain)
		for range rapid.IntRange(0, 5).Draw(rt, "lines") {
			n := anyNumber()
			c.Line(n.Draw(rt, "x0"), n.Draw(rt, "y0"), n.Draw(rt, "x1"), n.Draw(rt, "y1"), &th.Scale)
			c.Dot(n.Draw(rt, "x"), n.Draw(rt, "y"), &th.Needle)
		}
		if w > 0 {
			text := rapid.StringOf(rapid.RuneFrom([]rune("aΩ漢\u0301\u200b\x1b\x00\t🙂░"))).Draw(rt, "text")
			if th.Signs.Grain == theme.Strokes {
				text = th.Signs.Say(text)
			}
			c.Put(rapid.IntRange(-5, w).Draw(rt, "column"), rapid.IntRange(-2, max(h, 0)).Draw(rt, "line"), text, &th.Hint)
		}
		fits(rt, c.Lines(), min(w, limit), min(h, limit), th)
	})
}

// A line goes through the dots that a hand would set.
func TestCanvasDots(t *testing.T) {
	for _, tt := range []struct {
		name  string
		grain theme.Grain
		draw  func(*Canvas)
		want  string
	}{
		// Unicode, 28xx: the dots of the left column are 1, 2, 3, 7, those of
		// the right one 4, 5, 6, 8; dot n is bit n-1 of the code.
		{"each dot of braille", theme.Braille, func(c *Canvas) {
			for i := range 8 {
				c.Dot(float64(i)+float64(i%2)/2, float64(i/2)/4, nil)
			}
		}, "⠁⠈⠂⠐⠄⠠⡀⢀"},
		{"a level line of braille", theme.Braille, func(c *Canvas) { c.Line(0, 0.9, 2.9, 0.9, nil) }, "⣀⣀⣀"},
		{"a falling line of braille", theme.Braille, func(c *Canvas) { c.Line(0, 0, 1.99, 0.99, nil) }, "⠑⢄"},
		{"halves", theme.Halves, func(c *Canvas) { c.Dot(0, 0, nil); c.Dot(1, 0.5, nil); c.Line(2.5, 0, 2.5, 1, nil) }, "▀▄█"},
		{"strokes", theme.Strokes, func(c *Canvas) { c.Dot(0, 0, nil); c.Dot(1, 0.5, nil); c.Dot(2, 0.9, nil); c.Line(3.5, 0, 3.5, 1, nil) }, "'-_|"},
		{"a character over dots", theme.Braille, func(c *Canvas) { c.Dot(0, 0, nil); c.Put(0, 0, "a", nil) }, "a"},
		{"dots over a character", theme.Braille, func(c *Canvas) { c.Put(0, 0, "a", nil); c.Dot(0, 0, nil) }, "⠁"},
		{"nothing that is not finite", theme.Braille, func(c *Canvas) {
			c.Line(math.NaN(), 0, 1, 1, nil)
			c.Line(0, 0, math.Inf(1), 0, nil)
			c.Dot(math.NaN(), 0, nil)
		}, ""},
		{"a line from far away", theme.Strokes, func(c *Canvas) { c.Line(-1e300, 0.5, 1e300, 0.5, nil) }, "--------"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := NewCanvas(8, 1, tt.grain)
			tt.draw(c)
			if got := c.Lines()[0]; got != tt.want {
				t.Errorf("drawn %q, want %q", got, tt.want)
			}
		})
	}
}

func TestText(t *testing.T) {
	if got := Wrap("one two three", 7); len(got) != 2 || got[0] != "one two" || got[1] != "three" {
		t.Errorf("Wrap = %q", got)
	}
	if got := Wrap("unbreakable", 4); len(got) != 3 {
		t.Errorf("a long word is set as %q", got)
	}
	// What belongs together stays together, where a line can hold it.
	for _, tt := range []struct {
		text string
		w    int
		want string
	}{
		{"go to about -23.4 div.", 17, "go to about|-23.4 div."},
		{"go to about −23.4\u00a0div.", 17, "go to about|−23.4\u00a0div."},
		{"at (-23.4 +/- 0.4) div", 14, "at (-23.4 +/-|0.4) div"},
		{"set it to 4 700 ohm", 15, "set it to|4 700 ohm"},
		{"of the scale-end mark", 13, "of the scale-|end mark"},
		{"it gives k = (1.91 ± 0.02) × 10⁻⁵ A/div here", 38, "it gives|k = (1.91 ± 0.02) × 10⁻⁵ A/div here"},
		{"k = (1.91 ± 0.02) × 10⁻⁵ A/div", 20, "k = (1.91 ± 0.02)|× 10⁻⁵ A/div"},
		{"of the rows: k = 18.95 Ω", 16, "of the rows:|k = 18.95 Ω"},
		{"to 6 460 Ω (6 × 1 000, 4 × 100)", 15, "to 6 460 Ω|(6 × 1 000,|4 × 100)"},
		{"in 12 minutes", 5, "in 12|minut|es"},
		{"-23.4 div", 4, "-23.|4 di|v"},
	} {
		if got := strings.Join(Wrap(tt.text, tt.w), "|"); got != tt.want {
			t.Errorf("Wrap(%q, %d) = %q, want %q", tt.text, tt.w, got, tt.want)
		}
	}
	for _, w := range []int{-1, 0} {
		if got := Wrap("text", w); got != nil {
			t.Errorf("Wrap at %d = %q", w, got)
		}
	}
	if got := Cut("9.5 µA/div", 6, "…"); got != "9.5 µ…" {
		t.Errorf("Cut = %q", got)
	}
	if got := Flow([]string{"aa", "bb", "cc"}, "  ", 6); len(got) != 2 || got[0] != "aa  bb" {
		t.Errorf("Flow = %q", got)
	}
	if got := Beside([]string{"a"}, 3, []string{"b", "c"}); got[0] != "a  b" || got[1] != "   c" {
		t.Errorf("Beside = %q", got)
	}
}

// Each drawing at the greatest of the usual sizes, in colour.
func BenchmarkDraw(b *testing.B) {
	th := theme.New(theme.Dark, termenv.TrueColor, false)
	const w, h = 200, 60
	scale := Whole(150, true)
	scale.Needle, scale.Wanted, scale.Expect, scale.Caption = ptr(120.4), ptr(60), &Interval{100, 130}, "120.4 div"
	for name, draw := range map[string]func() []string{
		"scale":          func() []string { return scale.Draw(w, h, &th) },
		"scale/straight": func() []string { return scale.Draw(w, ScaleHeight, &th) },
		"circuit":        func() []string { return working().Draw(w, h, &th) },
		"graph":          func() []string { return measured().Draw(w, h, &th) },
		"residuals":      func() []string { return residuals().Draw(w, h, &th) },
	} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				draw()
			}
		})
	}
}
