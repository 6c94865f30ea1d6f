package draw

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/halve/tui/theme"
)

// Scales at several sizes, as they are seen.
func TestGoldenScale(t *testing.T) {
	reading := Whole(30, true)
	reading.Expect, reading.Wanted, reading.Needle, reading.Caption = &Interval{21, 25.4}, ptr(12), ptr(23.4), "23.4 div"
	off := Whole(50, false)
	off.NeedleBeyond, off.Caption = 1, "beyond the end"
	fine := Whole(150, true)
	fine.Needle = ptr(-71)
	for name, th := range themes() {
		var b strings.Builder
		for _, s := range []struct {
			name  string
			scale Scale
		}{{"30-0-30", reading}, {"0-50", off}, {"150-0-150", fine}, {"close", reading.Close(23.4)}} {
			for _, size := range [][2]int{{51, 3}, {51, 4}, {51, 9}, {71, 1}, {71, 2}, {71, 4}, {71, 9}, {111, 4}, {111, 12}, {191, 20}} {
				fmt.Fprintf(&b, "=== %s in %dx%d\n%s\n", s.name, size[0], size[1], strings.Join(s.scale.Draw(size[0], size[1], th), "\n"))
			}
			fmt.Fprintf(&b, "=== %s in words\n%s\n", s.name, s.scale.Describe())
		}
		golden(t, "scale-"+name, b.String())
	}
}

// dotsIn returns the columns of dots of a line that have a dot on the given
// line of dots.
func dotsIn(line string, row int) []int {
	bits := [4][2]rune{{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}}
	var at []int
	for i, r := range []rune(line) {
		for side, bit := range bits[row] {
			if r >= 0x2800 && r <= 0x28ff && r&bit != 0 {
				at = append(at, 2*i+side)
			}
		}
	}
	return at
}

// The marks of a straight scale are evenly spaced at every width, there are as
// many as there are divisions, or a round part of them, and a reading stands
// under its mark.
func TestScaleIsEven(t *testing.T) {
	for name, th := range themes() {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(rt *rapid.T) {
				divisions := rapid.IntRange(5, 150).Draw(rt, "divisions")
				centre := rapid.Bool().Draw(rt, "centre")
				w := rapid.IntRange(24, 240).Draw(rt, "width")
				s := Whole(float64(divisions), centre)
				lines := s.Draw(w, ScaleHeight, th)
				all := strings.Join(lines, "\n")
				var at []int
				if th.Signs.Grain == theme.Braille {
					at = dotsIn(lines[1], 2)
				} else {
					for i, r := range []rune(lines[1]) {
						if strings.ContainsRune(th.Signs.MarkSmall+th.Signs.MarkLarge+th.Signs.MarkZero, r) {
							at = append(at, i)
						}
					}
				}
				if len(at) < 3 {
					rt.Fatalf("%d marks on a scale of %d divisions, %d wide:\n%s", len(at), divisions, w, all)
				}
				for i := 2; i < len(at); i++ {
					if at[i]-at[i-1] != at[1]-at[0] {
						rt.Fatalf("uneven marks on a scale of %d divisions, %d wide:\n%s", divisions, w, all)
					}
				}
				worth := 1
				if i := strings.Index(all, "a mark is "); i >= 0 {
					fmt.Sscanf(all[i:], "a mark is %d div", &worth)
				}
				marks := divisions/worth + 1
				if centre {
					marks = 2*(divisions/worth) + 1
				}
				if len(at) != marks {
					rt.Fatalf("%d marks, want %d, a mark for %d of %d divisions, %d wide:\n%s", len(at), marks, worth, divisions, w, all)
				}

				// The needle at zero, in the same dot or cell as the mark.
				s.Needle = ptr(0)
				zero := at[0]
				if centre {
					zero = at[len(at)/2]
				}
				lines = s.Draw(w, ScaleHeight, th)
				var needle int
				if th.Signs.Grain == theme.Braille {
					needle = dotsIn(lines[2], 2)[0]
				} else {
					needle = strings.Index(string([]rune(lines[2])), th.Signs.MarkLarge)
					needle = cells(lines[2], needle)
				}
				if needle != zero {
					rt.Fatalf("the needle at zero is in %d, the zero mark in %d:\n%s", needle, zero, strings.Join(lines, "\n"))
				}
			})
		})
	}
}

// A scale of 30-0-30 on 71 cells has a mark for each division, each in a cell
// of its own, two dots: three cells are left before the first (counted by
// hand).
func TestScaleCells(t *testing.T) {
	for v, want := range map[float64]int{-30: 3, 0: 33, 12: 45, 30: 63, 12.4: 45, 12.8: 46} {
		s := Whole(30, true)
		s.Needle = ptr(v)
		line := s.Draw(71, ScaleHeight, plain())[3]
		if got := cells(line, strings.Index(line, "▲")); got != want {
			t.Errorf("the needle at %g stands in cell %d, want %d", v, got, want)
		}
	}
}

// The needle moves by half cells, never the wrong way, as its reading grows:
// a spring that is drawn often looks smooth.
func TestNeedleMovesFinely(t *testing.T) {
	s := Whole(30, true)
	last, places := -1, map[int]bool{}
	for v := -30.0; v <= 30; v += 0.05 {
		s.Needle = &v
		at := dotsIn(s.Draw(111, ScaleHeight, plain())[2], 0)
		if len(at) != 1 || at[0] < last {
			t.Fatalf("at %.2f the needle is in dots %v, after %d", v, at, last)
		}
		last, places[at[0]] = at[0], true
	}
	// 111 cells less two edges of 3 are 210 dots; 60 divisions of 3 whole
	// dots each make 180 and the first (by hand).
	if want := 181; len(places) != want {
		t.Errorf("the needle has %d places on 111 cells, want %d", len(places), want)
	}
}

// Beyond an end the needle rests at its stop, whichever way that is said.
func TestNeedleBeyond(t *testing.T) {
	for name, th := range themes() {
		for beyond, stop := range map[int]string{-1: th.Signs.StopLeft, 1: th.Signs.StopRight} {
			for how, s := range map[string]Scale{
				"said":       {Lo: -30, Hi: 30, StopLo: -30, StopHi: 30, NeedleBeyond: beyond},
				"by reading": {Lo: -30, Hi: 30, StopLo: -30, StopHi: 30, Needle: ptr(400 * float64(beyond))},
			} {
				s.Caption = "beyond the end"
				lines := s.Draw(71, ScaleHeight, th)
				if a, b := cells(lines[1], strings.Index(lines[1], stop)), cells(lines[3], strings.Index(lines[3], th.Signs.Needle)); a != b {
					t.Errorf("%s, %s: beyond end %d the needle is in cell %d, the stop in %d", name, how, beyond, b, a)
				}
				if !strings.Contains(lines[3], "beyond the end") {
					t.Errorf("the caption is missing: %q", lines[3])
				}
				if !strings.Contains(s.Describe(), "off the scale") {
					t.Errorf("in words: %q", s.Describe())
				}
			}
		}
	}
}

// On the arc the needle reaches the middle for the middle of the scale, and
// lies just within the stops for its ends.
func TestArc(t *testing.T) {
	for name, th := range themes() {
		bare := Whole(30, true).Draw(71, 9, th)
		stops := bare[len(bare)-3]
		left, right := cells(stops, strings.Index(stops, th.Signs.StopLeft)), cells(stops, strings.Index(stops, th.Signs.StopRight))
		if left < 3 || right > 68 || left+right != 70 {
			t.Errorf("%s: stops in cells %d and %d of 71:\n%s", name, left, right, strings.Join(bare, "\n"))
		}
		for v, want := range map[float64]int{-30: left + 2, 0: 35, 30: right - 2} {
			s := Whole(30, true)
			s.Needle = ptr(v)
			lines := s.Draw(71, 9, th)
			y := 0 // the highest line in which the needle changes the picture
			for lines[y] == bare[y] {
				y++
			}
			a, b := []rune(lines[y]), []rune(bare[y])
			x := 0
			for x < len(a) && x < len(b) && a[x] == b[x] {
				x++
			}
			if x < want-3 || x > want+3 {
				t.Errorf("%s: the needle at %g reaches the arc in cell %d, want %d:\n%s", name, v, x, want, strings.Join(lines, "\n"))
			}
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

// What is expected, wanted and shown can be told apart without colour.
func TestScaleSigns(t *testing.T) {
	for name, th := range themes() {
		for _, h := range []int{2, 4} {
			s := Whole(30, true)
			s.Expect, s.Wanted, s.Needle = &Interval{20, 26}, ptr(12), ptr(23.5)
			all := strings.Join(s.Draw(71, h, th), "\n")
			for what, sign := range map[string]string{"the band": th.Signs.Band, "the aim": th.Signs.Wanted, "the needle": th.Signs.Needle, "the left stop": th.Signs.StopLeft, "the right stop": th.Signs.StopRight} {
				if !strings.Contains(all, sign) {
					t.Errorf("%s, %d lines: %s (%s) is missing:\n%s", name, h, what, sign, all)
				}
			}
		}
	}
}

// Any scale in any room is drawn within it, whatever the numbers.
func TestScaleTotal(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := anyNumber()
		s := Scale{Lo: n.Draw(rt, "lo"), Hi: n.Draw(rt, "hi"), StopLo: n.Draw(rt, "stop-lo"), StopHi: n.Draw(rt, "stop-hi")}
		if rapid.Bool().Draw(rt, "sound") {
			s = Whole(rapid.Float64Range(1, 1000).Draw(rt, "divisions"), rapid.Bool().Draw(rt, "centre"))
		}
		if rapid.Bool().Draw(rt, "close") {
			s = s.Close(n.Draw(rt, "about"))
		}
		s.Needle, s.Wanted, s.Expect = ptr(n.Draw(rt, "needle")), ptr(n.Draw(rt, "wanted")), &Interval{n.Draw(rt, "from"), n.Draw(rt, "to")}
		s.NeedleBeyond = rapid.IntRange(-1, 1).Draw(rt, "beyond")
		s.Caption = strings.Repeat("θ", rapid.IntRange(0, 40).Draw(rt, "caption"))
		w, h := anySize(rt)
		th := anyTheme(rt)
		fits(rt, s.Draw(w, h, th), w, h, th)
		if said := s.Describe(); strings.Contains(said, "NaN") {
			rt.Fatalf("in words: %s", said)
		}
	})
}

// Ends that are no numbers, or so large that the next one is the same, make no
// scale; each of these once went on for ever.
func TestNoScale(t *testing.T) {
	for _, s := range []Scale{
		{Lo: 0, Hi: 30, StopLo: math.NaN(), StopHi: 30},
		{Lo: 1e17, Hi: 1e17 + 64, StopLo: 1e17, StopHi: 1e17 + 64},
		{Lo: math.Inf(-1), Hi: 30, StopLo: math.Inf(-1), StopHi: 30},
		{Lo: 30, Hi: 0, StopLo: 30, StopHi: 0},
		{Lo: 0, Hi: 1e-16, StopLo: 12, StopHi: 1},
	} {
		for _, h := range []int{1, ScaleHeight, 9} {
			if got := strings.Join(s.Draw(71, h, plain()), ""); got != "" {
				t.Errorf("%+v in %d lines: %q, want nothing", s, h, got)
			}
		}
		if got := s.Describe(); got != "The scale is not known." {
			t.Errorf("%+v in words: %q", s, got)
		}
	}
}

func TestScaleDescribe(t *testing.T) {
	s := Whole(30, true)
	s.Expect, s.Wanted, s.Needle = &Interval{-12.5, -11}, ptr(-12), ptr(-11.94)
	if got, want := s.Describe(), "Scale from minus 30 to 30 divisions, zero in the middle. The needle is at minus 11.9. Expected between minus 12.5 and minus 11. Aim at minus 12."; got != want {
		t.Errorf("got  %q\nwant %q", got, want)
	}
	s = Whole(50, false)
	s.Needle = ptr(math.NaN())
	if got, want := s.Describe(), "Scale from 0 to 50 divisions, zero at the left."; got != want {
		t.Errorf("got  %q\nwant %q", got, want)
	}
}

// A needle on its aim hides it nowhere but where there is no line below.
func TestAimUnderNeedle(t *testing.T) {
	for name, th := range themes() {
		for _, h := range []int{4, 9} {
			s := Whole(30, true)
			s.Wanted, s.Needle = ptr(24), ptr(24)
			all := strings.Join(s.Draw(71, h, th), "\n")
			if !strings.Contains(all, th.Signs.Wanted) || !strings.Contains(all, th.Signs.Needle) {
				t.Errorf("%s: aim or needle is missing in %d lines:\n%s", name, h, all)
			}
		}
	}
}
