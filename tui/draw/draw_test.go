package draw

import (
	"math"
	"strings"
	"testing"

	"github.com/muesli/termenv"
	"pgregory.net/rapid"

	"example.org/halve/tui/theme"
)

func plain() *theme.Theme {
	t := theme.New(theme.Auto, termenv.Ascii, false)
	return &t
}

// The marks of a scale are evenly spaced at every width, and a reading stands
// under its mark.
func TestScaleIsEven(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		divisions := float64(rapid.IntRange(5, 100).Draw(rt, "divisions"))
		centre := rapid.Bool().Draw(rt, "centre")
		w := rapid.IntRange(20, 240).Draw(rt, "width")
		s := Whole(divisions, centre)
		lines := s.Draw(w, plain())
		var at []int
		for i, r := range []rune(lines[1]) {
			if strings.ContainsRune("╵│┃", r) {
				at = append(at, i)
			}
		}
		if len(at) < 3 {
			rt.Fatalf("%d marks on a scale of %g divisions, %d wide:\n%s", len(at), divisions, w, strings.Join(lines, "\n"))
		}
		for i := 2; i < len(at); i++ {
			if at[i]-at[i-1] != at[1]-at[0] {
				rt.Fatalf("uneven marks on a scale of %g divisions, %d wide:\n%s", divisions, w, strings.Join(lines, "\n"))
			}
		}
		zero := 0.0
		s.Needle = &zero
		lines = s.Draw(w, plain())
		if mark, needle := strings.Index(lines[1], "┃"), strings.Index(lines[3], "▲"); cells(lines[1], mark) != cells(lines[3], needle) {
			rt.Fatalf("the needle at zero is not under the zero mark:\n%s", strings.Join(lines, "\n"))
		}
	})
}

// cells is the number of cells before byte i.
func cells(line string, i int) int {
	if i < 0 {
		return -1
	}
	return Width(line[:i])
}

// A scale of 30-0-30 on 68 cells has a cell a division, so that each reading
// has a cell of its own: two cells, then 30 from the left end to zero (counted).
func TestScaleCells(t *testing.T) {
	for v, want := range map[float64]int{-30: 2, 0: 32, 12: 44, 30: 62} {
		s := Whole(30, true)
		s.Needle = &v
		line := s.Draw(68, plain())[3]
		if got := cells(line, strings.Index(line, "▲")); got != want {
			t.Errorf("the needle at %g stands in cell %d, want %d", v, got, want)
		}
	}
}

// Beyond an end the needle rests at its stop.
func TestNeedleBeyond(t *testing.T) {
	for beyond, stop := range map[int]string{-1: "▐", 1: "▌"} {
		s := Whole(30, true)
		s.NeedleBeyond, s.Caption = beyond, "beyond the end"
		lines := s.Draw(68, plain())
		if a, b := cells(lines[1], strings.Index(lines[1], stop)), cells(lines[3], strings.Index(lines[3], "▲")); a != b {
			t.Errorf("beyond end %d the needle is in cell %d, the stop in %d", beyond, b, a)
		}
		if !strings.Contains(lines[3], "beyond the end") {
			t.Errorf("the caption is missing: %q", lines[3])
		}
	}
}

// Seen close to, half a dozen divisions are shown, with the needle between
// its marks, and never more than a division past a stop.
func TestClose(t *testing.T) {
	for _, tt := range []struct {
		v, lo, hi float64
	}{
		{12.3, 9, 15}, {0, -3, 3}, {-29.8, -31, -25}, {30, 25, 31},
	} {
		s := Whole(30, true).Close(tt.v)
		if s.Lo != tt.lo || s.Hi != tt.hi {
			t.Errorf("close to %g are %g to %g, want %g to %g", tt.v, s.Lo, s.Hi, tt.lo, tt.hi)
		}
	}
}

// Any scale in any width is drawn in its lines and no wider.
func TestScaleTotal(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		number := rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, -1e300}))
		v, e := number.Draw(rt, "needle"), number.Draw(rt, "expected")
		s := Whole(rapid.Float64Range(2, 1000).Draw(rt, "divisions"), rapid.Bool().Draw(rt, "centre"))
		if rapid.Bool().Draw(rt, "close") && !math.IsNaN(e) {
			s = s.Close(rapid.Float64Range(-1000, 1000).Draw(rt, "about"))
		}
		s.Needle, s.Wanted, s.Expect = &v, &e, &Interval{e - 1, e + 1}
		s.Caption = strings.Repeat("x", rapid.IntRange(0, 40).Draw(rt, "caption"))
		w := rapid.IntRange(-3, 250).Draw(rt, "width")
		lines := s.Draw(w, plain())
		if len(lines) != ScaleHeight {
			rt.Fatalf("%d lines, want %d", len(lines), ScaleHeight)
		}
		for _, line := range lines {
			if Width(line) > max(w, 0) {
				rt.Fatalf("a line of %d cells in %d: %q", Width(line), w, line)
			}
		}
	})
}

// The keys are drawn as they stand, with the word beside the drawing.
func TestCircuit(t *testing.T) {
	for _, tt := range []struct {
		name   string
		c      Circuit
		wanted []string
	}{
		{"keys open", Circuit{}, []string{"o ╱ o", "K1 open", "K2 open"}},
		{"K1 closed", Circuit{K1: true}, []string{"o───o", "o ╱ o", "K1 closed", "K2 open"}},
		{"both closed", Circuit{K1: true, K2: true}, []string{"K1 closed", "K2 closed"}},
		{"values", Circuit{Source: "1.5 V", Series: "11 110 Ω", Shunt: "1 110 Ω"}, []string{"E 1.5 V", "[R 11 110 Ω]", "[S 1 110 Ω]"}},
		{"a value too long", Circuit{Series: strings.Repeat("9", 40)}, []string{"…"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			lines := tt.c.Draw(plain())
			if len(lines) != CircuitHeight {
				t.Errorf("%d lines, want %d", len(lines), CircuitHeight)
			}
			for _, line := range lines {
				if Width(line) > CircuitWidth {
					t.Errorf("a line of %d cells, want at most %d: %q", Width(line), CircuitWidth, line)
				}
			}
			all := strings.Join(lines, "\n")
			for _, w := range tt.wanted {
				if !strings.Contains(all, w) {
					t.Errorf("%q is missing:\n%s", w, all)
				}
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
