package draw

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// working is a circuit in which all is drawn.
func working() Circuit {
	return Circuit{Source: "1.52 V", Series: "3 250 Ω", Shunt: "100 Ω", Movement: "92.6 Ω", K1: Closed, K2: Tapped, Part: ShuntBox}
}

// The circuit in its forms, as it is seen at the steps of a practical.
func TestGoldenCircuit(t *testing.T) {
	for name, th := range themes() {
		var b strings.Builder
		for _, s := range []struct {
			name string
			c    Circuit
		}{
			{"the bench", Circuit{}},
			{"no wire yet", Circuit{Source: "1.5 V", Building: true}},
			{"three wires", Circuit{Source: "1.5 V", Building: true, Laid: 3}},
			{"all but the last lead", Circuit{Source: "1.5 V", Building: true, Laid: 6, Part: Source}},
			{"first reading", Circuit{Source: "1.52 V", Series: "3 250 Ω", K1: Closed, Part: KeyK1}},
			{"zero", Circuit{Source: "1.52 V", Part: Movement}},
			{"series box", Circuit{Source: "1.52 V", Series: "11 110 Ω", Part: SeriesBox}},
			{"shunted", working()},
		} {
			for _, size := range [][2]int{{20, 1}, {51, 2}, {36, 5}, {46, 8}, {70, 13}} {
				fmt.Fprintf(&b, "=== %s in %dx%d\n%s\n", s.name, size[0], size[1], strings.Join(s.c.Draw(size[0], size[1], th), "\n"))
			}
			fmt.Fprintf(&b, "=== %s in words\n%s\n", s.name, s.c.Describe())
		}
		golden(t, "circuit-"+name, b.String())
	}
}

// The keys are drawn as they stand, with the word beside the drawing.
func TestCircuit(t *testing.T) {
	for _, tt := range []struct {
		name   string
		c      Circuit
		wanted []string
	}{
		{"keys open", Circuit{}, []string{"o ╱ o", "K1 open", "K2 open"}},
		{"K1 closed", Circuit{K1: Closed}, []string{"o━━━o", "o ╱ o", "K1 closed", "K2 open"}},
		{"K2 closed alone carries nothing", Circuit{K2: Closed}, []string{"o───o", "o ╱ o", "K1 open", "K2 closed"}},
		{"both closed", Circuit{K1: Closed, K2: Closed}, []string{"K1 closed", "K2 closed"}},
		{"K1 tapped", Circuit{K1: Tapped}, []string{"o━↓━o", "K1 tapped"}},
		{"values", Circuit{Source: "1.5 V", Series: "11 110 Ω", Shunt: "1 110 Ω", Movement: "90 Ω"}, []string{"E 1.5 V", "R 11 110 Ω", "S 1 110 Ω", "90 Ω"}},
		{"a value too long", Circuit{Series: strings.Repeat("9", 80)}, []string{"…"}},
		{"the part to touch", Circuit{Series: "5 Ω", Part: SeriesBox}, []string{"▸R 5 Ω◂"}},
		{"the key to touch", Circuit{Part: KeyK2}, []string{"▸K2 open◂"}},
		{"the galvanometer", Circuit{Part: Movement}, []string{"▸", "◂"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			for _, f := range forms {
				all := strings.Join(tt.c.Draw(f.w, f.h, plain()), "\n")
				for _, w := range tt.wanted {
					if !strings.Contains(all, w) {
						t.Errorf("%q is missing:\n%s", w, all)
					}
				}
			}
		})
	}
}

// The branch that carries current is drawn stronger in every set of signs,
// and the other is not.
func TestLiveBranch(t *testing.T) {
	for name, th := range themes() {
		g := th.Signs
		// In the smallest form the third line cuts the upright wires of the
		// loop and of the branch, in cells 19 and 34 (counted).
		for _, tt := range []struct {
			k1, k2       Key
			loop, branch string
		}{
			{Open, Open, g.Idle.Down, g.Idle.Down}, {Open, Closed, g.Idle.Down, g.Idle.Down},
			{Closed, Open, g.Live.Down, g.Idle.Down}, {Closed, Closed, g.Live.Down, g.Live.Down},
			{Tapped, Open, g.Live.Down, g.Idle.Down}, {Closed, Tapped, g.Live.Down, g.Live.Down},
		} {
			line := []rune(Circuit{K1: tt.k1, K2: tt.k2}.Draw(36, 5, th)[2])
			if loop, branch := string(line[19]), string(line[34]); loop != tt.loop || branch != tt.branch {
				t.Errorf("%s, K1 %s, K2 %s: the loop is drawn %s and the branch %s, want %s and %s", name, tt.k1.word(), tt.k2.word(), loop, branch, tt.loop, tt.branch)
			}
		}
	}
}

// With each wire that is laid there is more of the circuit, and with the last
// the whole of it.
func TestBuilding(t *testing.T) {
	if len(Wires()) != wires {
		t.Fatalf("%d names for %d wires", len(Wires()), wires)
	}
	for _, f := range forms {
		last := 0
		for laid := range wires + 1 {
			lines := Circuit{Building: true, Laid: laid}.Draw(f.w, f.h, plain())
			all := strings.Join(lines, "")
			drawn := 0
			for _, r := range all {
				if strings.ContainsRune("─│┌┐└┘", r) {
					drawn++
				}
			}
			if drawn <= last {
				t.Errorf("with %d wires there is no more than with one less:\n%s", laid, strings.Join(lines, "\n"))
			}
			last = drawn
			if next := strings.Contains(all, "·"); next != (laid < wires) {
				t.Errorf("with %d wires the next one is drawn: %v", laid, next)
			}
			if laid == wires {
				if whole := strings.Join(Circuit{}.Draw(f.w, f.h, plain()), ""); all != whole {
					t.Errorf("with all wires:\n%s\nwant\n%s", all, whole)
				}
			}
		}
	}
	// No current without the last lead, whatever the keys.
	if loop, _ := (Circuit{Building: true, Laid: wires - 1, K1: Closed}).carries(); loop {
		t.Error("current flows although a lead is missing")
	}
}

// The order of the loop is the one of the plain dialogue, of the report and of
// the findings: plus of the source, K1, R, G, minus of the source.
func TestOrderOfTheLoop(t *testing.T) {
	want := []string{"source (plus) to K1", "K1 to R", "R to G"}
	if got := Wires(); !slices.Equal(got[:3], want) || got[wires-1] != "G to source (minus), last of all" {
		t.Errorf("the wires are %q, want them to begin with %q and to end at minus", got, want)
	}
	for _, f := range forms {
		// Along the lower wire of the drawing: K1, the long plate, the short one,
		// where G and the branch meet.
		lines := Circuit{}.Draw(f.w, f.h, plain())
		low, at := lines[f.bottom], -1
		for _, sign := range []string{"o ╱ o", "┤┠", "●", "o ╱ o"} {
			i := strings.Index(low[at+1:], sign)
			if i < 0 {
				t.Errorf("%q is not where it belongs in %q:\n%s", sign, low, strings.Join(lines, "\n"))
				break
			}
			at += 1 + i
		}
	}
}

// Any circuit in any room is drawn within it.
func TestCircuitTotal(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		text := rapid.OneOf(rapid.Just(""), rapid.Just("3 250 Ω"), rapid.StringN(0, 60, -1).Filter(func(s string) bool {
			return !strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r == 0x7f || r >= 0x80 && r < 0xa0 })
		}))
		c := Circuit{
			Source: text.Draw(rt, "source"), Series: text.Draw(rt, "series"), Shunt: text.Draw(rt, "shunt"), Movement: text.Draw(rt, "movement"),
			K1: Key(rapid.IntRange(0, 2).Draw(rt, "K1")), K2: Key(rapid.IntRange(0, 2).Draw(rt, "K2")),
			Part:     Part(rapid.IntRange(0, int(Source)).Draw(rt, "part")),
			Building: rapid.Bool().Draw(rt, "building"), Laid: rapid.IntRange(-3, 12).Draw(rt, "laid"),
		}
		w, h := anySize(rt)
		th := anyTheme(rt)
		fits(rt, c.Draw(w, h, th), w, h, th)
		if cw, ch := circuitSize(w, h); cw > 0 {
			if lines := c.Draw(w, h, th); len(lines) != ch {
				rt.Fatalf("%d lines, want %d", len(lines), ch)
			}
			for _, line := range c.Draw(w, h, th) {
				if Width(line) > cw {
					rt.Fatalf("a line of %d cells, want at most %d: %q", Width(line), cw, line)
				}
			}
		}
		c.Describe()
	})
}

func TestCircuitDescribe(t *testing.T) {
	for _, tt := range []struct {
		c    Circuit
		want string
	}{
		{working(), "Source, K1, series box and galvanometer in one loop; shunt box and K2 across the galvanometer. E is 1.52 V. R is 3 250 Ω. S is 100 Ω. G is 92.6 Ω. K1 is closed, K2 is tapped. Current flows in the loop, and part of it through the shunt. Next to be touched: the shunt box."},
		{Circuit{Building: true, Laid: 1}, "Wires laid: 1 of 7. Next: K1 to R. K1 is open, K2 is open. No current flows."},
	} {
		if got := tt.c.Describe(); got != tt.want {
			t.Errorf("got  %q\nwant %q", got, tt.want)
		}
	}
}

// circuitSize returns the size of the drawing that Draw makes for a room of w
// cells and h lines: 68 by 13, 46 by 8, 36 by 5, or 0 by 0 where there is no
// room for a drawing.
func circuitSize(w, h int) (int, int) {
	for _, f := range forms {
		if w >= f.w && h >= f.h {
			return f.w, f.h
		}
	}
	return 0, 0
}
