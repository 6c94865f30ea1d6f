package screen

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/muesli/termenv"
	"pgregory.net/rapid"

	"example.org/halve/procedure"
	"example.org/halve/safety"
	"example.org/halve/tui/draw"
	"example.org/halve/tui/theme"
)

func plainTheme() *theme.Theme {
	t := theme.New(theme.Auto, termenv.Ascii, false)
	return &t
}

func row(n int) procedure.Row {
	return procedure.Row{Row: n, SeriesOhm: 3250, ShuntOhm: 90, FirstDiv: 24, ShuntedDiv: 11.75,
		Resistance: ptr(94.47), UResistance: ptr(2.31), Merit: ptr(1.8876e-5), UMerit: ptr(2.5e-7), Seq: 15}
}

func TestRowLines(t *testing.T) {
	struck := row(2)
	struck.Struck = true
	none := row(3)
	none.Resistance, none.UResistance = nil, nil
	tests := []struct {
		name       string
		rows       []procedure.Row
		back, w, h int
		want       []string // the lines, blanks squeezed
	}{
		{"none", nil, 0, 33, 5, []string{"no row yet"}},
		{"narrow", []procedure.Row{row(1)}, 0, 33, 5, []string{"R/Ω θ1 S/Ω θ2 G/Ω", "1 3250 24 90 11.75 94.5"}},
		{"beside the circuit", []procedure.Row{row(1)}, 0, 35, 5, []string{"R/Ω θ1 S/Ω θ2 G/Ω k/µA", "1 3250 24 90 11.75 94.5 18.9"}},
		{"in the smallest window", []procedure.Row{row(1)}, 0, 50, 5, []string{"R/Ω θ1 S/Ω θ2 G/Ω k/(µA/div)", "1 3 250 24 90 11.75 94.5 ± 2.3 18.88 ± 0.25"}},
		{"wide", []procedure.Row{row(1)}, 0, 70, 5, []string{"R/Ω θ1 S/Ω θ2 G/Ω k/(µA/div)", "1 3 250 24 90 11.75 94.5 ± 2.3 18.88 ± 0.25"}},
		{"struck", []procedure.Row{struck}, 0, 70, 5, []string{"R/Ω θ1 S/Ω θ2 G/Ω k/(µA/div)", "x2 3 250 24 90 11.75 94.5 ± 2.3 18.88 ± 0.25 struck"}},
		{"no resistance follows", []procedure.Row{none}, 0, 70, 5, []string{"R/Ω θ1 S/Ω θ2 G/Ω k/(µA/div)", "3 3 250 24 90 11.75 none 18.88 ± 0.25"}},
		{"the last ones", []procedure.Row{row(1), row(2), row(3)}, 0, 30, 2, []string{"… R/Ω θ1 S/Ω θ2 G/Ω", "3 3250 24 90 11.75 94.5"}},
		{"scrolled back", []procedure.Row{row(1), row(2), row(3)}, 2, 30, 2, []string{"R/Ω θ1 S/Ω θ2 G/Ω", "1 3250 24 90 11.75 94.5"}},
		{"scrolled too far", []procedure.Row{row(1), row(2)}, 99, 30, 3, []string{"R/Ω θ1 S/Ω θ2 G/Ω", "1 3250 24 90 11.75 94.5", "2 3250 24 90 11.75 94.5"}},
		{"no room", []procedure.Row{row(1)}, 0, 70, 0, nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := rowLines(tt.rows, tt.back, tt.w, tt.h, plainTheme())
			if len(got) != len(tt.want) {
				t.Fatalf("%d lines, want %d: %q", len(got), len(tt.want), got)
			}
			for i, line := range got {
				if squeezed := strings.Join(strings.Fields(line), " "); squeezed != tt.want[i] {
					t.Errorf("line %d is %q, want %q", i, squeezed, tt.want[i])
				}
			}
		})
	}
}

// The sign and the word of a clearance come first, whatever the width.
func TestClearanceLines(t *testing.T) {
	c := &safety.Clearance{Key: safety.K1, Verdict: safety.Tap, Because: "nothing known limits the deflection yet"}
	for _, w := range []int{20, 40, 100} {
		lines := clearanceLines(c, w, plainTheme())
		if !strings.HasPrefix(lines[0], "[~] K1 TAP ONLY") {
			t.Errorf("at %d the first line is %q", w, lines[0])
		}
		if got := strings.Join(strings.Fields(strings.Join(lines, " ")), " "); got != "[~] K1 TAP ONLY nothing known limits the deflection yet" {
			t.Errorf("at %d the lines say %q", w, got)
		}
	}
	if got := clearanceLines(nil, 40, plainTheme()); got != nil {
		t.Errorf("no clearance makes %q", got)
	}
}

func TestFindingLines(t *testing.T) {
	fs := []procedure.Finding{
		{ID: "shunt-open", Probability: 0.91, Say: "The shunt is not connected.", Try: "press K2", Mend: &procedure.Mend{Event: "strike", Seq: 6}},
		{ID: "shunt-in-series", Probability: 0.05, Say: "The shunt box sits in the series path."},
	}
	got := strings.Join(findingLines(fs, 200, plainTheme()), "\n")
	want := "fits best (91 %): The shunt is not connected. Try: press K2 Then strike 6.\nor (5 %): The shunt box sits in the series path."
	if got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestClaimLines(t *testing.T) {
	yes, no := true, false
	claims := []procedure.ClaimCheck{
		{Quantity: procedure.ClaimResistance, Claimed: 90.5, Agrees: &yes},
		{Quantity: procedure.ClaimMerit, Row: 2, Claimed: 1.88e-4, Expected: ptr(1.88e-5), Agrees: &no,
			Slips: []procedure.Slip{{ID: "decimal-slip", Probability: 0.97, Say: "the point is in the wrong place"}}},
		{Quantity: procedure.ClaimResistance, Claimed: 90},
	}
	got := claimLines(claims, 200, plainTheme())
	want := []string{
		"G of the mean by hand 90.00 Ω: nothing to compare it with yet",
		"k of row 2 by hand 188.0 µA/div: does not agree, expected 18.80 µA/div. Perhaps (97 %): the point is in the wrong place",
		"G of the mean by hand 90.50 Ω: agrees",
	}
	for i := range want {
		if i >= len(got) || got[i] != want[i] {
			t.Errorf("line %d of %q, want %q", i, got, want[i])
		}
	}
}

func TestResultLines(t *testing.T) {
	r := &procedure.Result{Resistance: ptr(94.47), UResistance: ptr(2.31), U95Resistance: ptr(4.6),
		Merit: ptr(1.8876e-5), UMerit: ptr(2.5e-7), U95Merit: ptr(4.9e-7), FullScale: ptr(5.663e-4), Rows: 1}
	got := strings.Join(resultLines(r, 70, plainTheme()), "\n")
	want := "G = (94.5 ± 2.3) Ω   k = (18.88 ± 0.25) µA/div   1 row\n95 %: (94 ± 5) Ω   (18.9 ± 0.5) µA/div   full scale 566 µA"
	if got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got := resultLines(nil, 10, plainTheme()); len(got) != 1 {
		t.Errorf("no result makes %q", got)
	}
}

// Sections give way from the least worth up: first to their least, then
// altogether; a drawing at once.
func TestLedgerGivesWay(t *testing.T) {
	lines := func(name string, n int) []string {
		var ls []string
		for range n {
			ls = append(ls, name)
		}
		return ls
	}
	count := func(page []string, name string) int {
		n := 0
		for _, line := range page {
			if strings.HasSuffix(line, " "+name) {
				n++
			}
		}
		return n
	}
	for _, tt := range []struct {
		h       int
		a, b, c int
	}{
		{12, 4, 4, 4}, {11, 4, 4, 3}, {10, 4, 4, 2}, {9, 4, 0, 2}, {6, 4, 0, 2}, {5, 4, 0, 1}, {4, 4, 0, 0}, {2, 2, 0, 0}, {0, 0, 0, 0},
	} {
		page := ledger([]section{
			{lines: lines("a", 4), least: 4, worth: 9},
			{lines: lines("b", 4), least: 4, worth: 5, whole: true},
			{lines: lines("c", 4), least: 2, worth: 7},
		}, 60, tt.h, plainTheme())
		if len(page) != tt.h {
			t.Errorf("%d lines high, want %d", len(page), tt.h)
		}
		if a, b, c := count(page, "a"), count(page, "b"), count(page, "c"); a != tt.a || b != tt.b || c != tt.c {
			t.Errorf("in %d lines a, b, c have %d, %d, %d, want %d, %d, %d", tt.h, a, b, c, tt.a, tt.b, tt.c)
		}
	}
}

// A list that is cut says how many of its lines lie above and below, in lines
// no wider than it has room for.
func TestCutOut(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		lines := make([]string, rapid.IntRange(0, 30).Draw(rt, "lines"))
		for i := range lines {
			lines[i] = fmt.Sprintf("line %d %s", i, strings.Repeat("x", rapid.IntRange(0, 30).Draw(rt, "longer")))
		}
		h, w := rapid.IntRange(2, 30).Draw(rt, "h"), 42
		start := rapid.IntRange(-5, 40).Draw(rt, "start")
		got := cutOut(lines, start, h, w, plainTheme())
		if len(lines) <= h {
			if !slices.Equal(got, lines) {
				rt.Fatalf("%q are cut to %q", lines, got)
			}
			return
		}
		above := min(max(start, 0), len(lines)-h)
		below := len(lines) - h - above
		if len(got) != h {
			rt.Fatalf("%d lines, want %d", len(got), h)
		}
		for i, line := range got {
			want := ""
			switch {
			case i == 0 && above > 0:
				want = fmt.Sprintf(" … %d above", above)
			case i == h-1 && below > 0:
				want = fmt.Sprintf(" … %d below", below)
			}
			if !strings.HasPrefix(line, fmt.Sprintf("line %d ", above+i)) || !strings.HasSuffix(line, want) || want != "" && draw.Width(line) != w {
				rt.Fatalf("line %d is %q, want line %d and %q at its end", i, line, above+i, want)
			}
		}
	})
}
