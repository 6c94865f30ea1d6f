package diagnosis

import (
	"math"
	"slices"
	"strings"
	"testing"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/fault"
)

// dialled is the practical on boxes with dials: the same values, read as well.
func dialled(tb testing.TB, rows int) Input {
	tb.Helper()
	in := practical(tb, rows)
	dials := func(steps ...float64) *apparatus.Range {
		r, err := apparatus.NewRange(apparatus.Box{Kind: apparatus.Decade, Dials: steps, Tolerance: 0.001})
		if err != nil {
			tb.Fatal(err)
		}
		return r
	}
	in.Series, in.Shunt = dials(1000, 100, 10, 1), dials(100, 10, 1, 0.1)
	for i := range in.Runs {
		run := &in.Runs[i]
		run.Series, _ = in.Series.Exact(run.Series.Ohm)
		run.Branches[0].Shunt, _ = in.Shunt.Exact(run.Branches[0].Shunt.Ohm)
	}
	return in
}

// first and shunted are the readings of the sound bench of the practical, by
// the closed form, at other resistances than are said; to half a division.
func first(series float64) float64 { return math.Round(2*1.5/(20e-6*(series+91))) / 2 }
func shunted(series, shunt float64) float64 {
	return math.Round(2*1.5*shunt/(20e-6*((series+1)*(90+shunt)+90*shunt))) / 2
}

// What is said of a finding is what the likeliest instance names, in the words
// of the boxes on the table, with what to strike.
func TestSaid(t *testing.T) {
	type input struct {
		*Input
		run *Run // the last
	}
	all := func(in input, f func(r *Run)) {
		for i := range in.Runs {
			f(&in.Runs[i])
		}
	}
	for _, tc := range []struct {
		name   string
		dials  bool
		rows   int
		change func(in input)
		want   fault.ID
		say    []string
		try    string
		strike []int
	}{
		{"a plug of 1000 in though said to be out, in row 3", false, 3, func(in input) {
			in.run.First[0].Div = first(in.run.Series.Ohm - 1000)
			in.run.Branches[0].Readings[0].Div = shunted(in.run.Series.Ohm-1000, in.run.Branches[0].Shunt.Ohm)
		}, fault.SeriesPlug, []string{"the 1\u00a0000\u00a0Ω plug of the series box is in, though said to be out"}, "count the plugs", []int{30}},
		{"a dial one step high from row 2 on", true, 5, func(in input) {
			for i := 1; i < 5; i++ {
				r := &in.Runs[i]
				r.First[0].Div = first(r.Series.Ohm + 1000)
				r.Branches[0].Readings[0].Div = shunted(r.Series.Ohm+1000, r.Branches[0].Shunt.Ohm)
			}
		}, fault.SeriesPlug, []string{"the 1\u00a0000\u00a0Ω dial of the series box stands one step higher than said", "from R = "}, "read the dials", []int{20, 30, 40, 50}},
		{"a dial of the shunt box one step low in row 3", true, 3, func(in input) {
			in.run.Branches[0].Readings[0].Div = shunted(in.run.Series.Ohm, in.run.Branches[0].Shunt.Ohm-10)
			in.run.Branches[0].Readings = append(in.run.Branches[0].Readings, Reading{Seq: 34, Div: in.run.Branches[0].Readings[0].Div + 0.5})
		}, fault.ShuntPlug, []string{"the 10\u00a0Ω dial of the shunt box stands one step lower than said"}, "read the dials of the shunt box", []int{32}},
		{"a plug of the shunt box out in row 3", false, 3, func(in input) {
			in.run.Branches[0].Readings[0].Div = shunted(in.run.Series.Ohm, in.run.Branches[0].Shunt.Ohm+100)
		}, fault.ShuntPlug, []string{"the 100\u00a0Ω plug of the shunt box is out, though said to be in"}, "count the plugs", []int{33}},
		{"the series box written ten times too small", false, 3, func(in input) {
			all(in, func(r *Run) { r.Series, _ = in.Series.Exact(math.Round(r.Series.Ohm / 10)) })
		}, fault.SeriesUnit, []string{"if it is written ten times too small"}, "engraved", []int{10, 20, 30}},
		{"half of every reading", false, 3, func(in input) {
			for i := 1; i < 3; i++ {
				in.Runs[i].First[0].Div /= 2
				in.Runs[i].Branches[0].Readings[0].Div /= 2
			}
		}, fault.ScaleMisread, []string{"what is written is half the right reading"}, "small divisions", []int{20, 30}},
		{"a fifth of every reading", false, 3, func(in input) {
			for i := 1; i < 3; i++ {
				in.Runs[i].First[0].Div /= 5
				in.Runs[i].Branches[0].Readings[0].Div /= 5
			}
		}, fault.ScaleMisread, []string{"what is written is a fifth of the right reading"}, "small divisions", []int{20, 30}},
		{"the pointer shifted by two divisions from row 3 on", false, 5, func(in input) {
			for i := 2; i < 5; i++ {
				in.Runs[i].First[0].Div += 2
				in.Runs[i].Branches[0].Readings[0].Div += 2
			}
		}, fault.ZeroOff, []string{"About ", " div would explain it"}, "write it down as the zero", []int{30, 40, 50}},
		{"twenty ohms more in the shunt branch from row 3 on", true, 5, func(in input) {
			for i := 2; i < 5; i++ {
				in.Runs[i].Branches[0].Readings[0].Div = shunted(in.Runs[i].Series.Ohm, in.Runs[i].Branches[0].Shunt.Ohm+20)
			}
		}, fault.ShuntContact, []string{"About ", "\u00a0Ω would explain it"}, "to and fro", nil},
		{"the shunt does nothing in row 4 of 5", false, 5, func(in input) {
			in.Runs[3].Branches[0].Readings[0].Div = in.Runs[3].First[0].Div
		}, fault.ShuntOpen, []string{"It fits at R = "}, "Press K2", []int{43}},
		{"the shunted reading of row 3 is half the scale", false, 3, func(in input) {
			in.run.Branches[0].Readings[0].Div = 15
		}, fault.HalfMissed, []string{"It is the shunted reading of 15 div at R = "}, "whatever the half is", []int{33}},
		{"numbers that follow nothing, on dials, from row 3 on", true, 6, func(in input) {
			for i, div := range []float64{28, 9, 25, 12} {
				in.Runs[i+2].First[0].Div, in.Runs[i+2].Branches[0].Readings[0].Div = div, 31-div
			}
		}, fault.Unexplained, []string{"I can't tell", "It begins at R = "}, "Check these three", []int{30, 40, 50, 60}},
		{"the needle jumps from row 2 on", true, 6, func(in input) {
			for i := 1; i < 6; i++ {
				in.Runs[i].First[0].Div += []float64{1.5, -2, 1, -1.5, 2}[i-1]
				in.Runs[i].Branches[0].Readings[0].Div += []float64{-1, 1, -1.5, 1.5, -1}[i-1]
			}
		}, fault.Scattered, []string{"something is loose"}, "turn every dial to and fro", nil},
	} {
		t.Run(tc.name, func(t *testing.T) {
			in := practical(t, tc.rows)
			if tc.dials {
				in = dialled(t, tc.rows)
			}
			tc.change(input{&in, &in.Runs[len(in.Runs)-1]})
			got := Diagnose(in)
			if lead(got) != string(tc.want) {
				t.Fatalf("got %+v, want %q first", got, tc.want)
			}
			for _, want := range tc.say {
				if !strings.Contains(got[0].Say, want) {
					t.Errorf("it says %q, want %q", got[0].Say, want)
				}
			}
			if !strings.Contains(got[0].Try, tc.try) {
				t.Errorf("it tries %q, want %q", got[0].Try, tc.try)
			}
			if tc.strike != nil && !slices.Equal(got[0].Strike, tc.strike) {
				t.Errorf("strike %v, want %v", got[0].Strike, tc.strike)
			}
		})
	}
}

// Nothing is told that cannot be acted on: every word of every fault for both
// kinds of boxes is there, and those that speak of plugs have others for dials.
func TestWords(t *testing.T) {
	for id, x := range texts() {
		if x.say == "" || x.check == "" || !strings.HasSuffix(x.check, ".") || !strings.HasSuffix(x.say, ".") {
			t.Errorf("%s: %+v", id, x)
		}
		if plugs := strings.Contains(strings.ReplaceAll(x.check, "plug key", ""), "plug"); plugs && x.dials == "" && id != fault.SeriesComplement && id != fault.ShuntComplement && id != fault.ColumnsSwapped {
			t.Errorf("%s: %q speaks of plugs, and has no words for dials", id, x.check)
		}
		if strings.Contains(x.dials, "plug") {
			t.Errorf("%s: %q speaks of plugs where there are dials", id, x.dials)
		}
	}
}

// The test that decides: what is asked for where two causes foretell different
// answers, and where none does.
func TestDecides(t *testing.T) {
	for _, tc := range []struct {
		name   string
		change func(in *Input)
		acts   []Act
	}{
		// With K2 open again the needle comes back, or it does not.
		{"the series box moved, or the reading wrong", func(in *Input) {
			in.Runs[2].Branches[0].Readings[0].Div = shunted(in.Runs[2].Series.Ohm-1000, in.Runs[2].Branches[0].Shunt.Ohm)
		}, []Act{ReadFirst, ReadShunted}},
		// Open or across the source: whatever the shunt, the needle stays; the
		// leads tell.
		{"closing K2 changes nothing", func(in *Input) { in.Runs[2].Branches[0].Readings[0].Div = in.Runs[2].First[0].Div }, []Act{Ask}},
		// Nothing on the scale: more resistance tells, or the leads.
		{"the needle is beyond the end", func(in *Input) {
			in.Runs[2].First[0] = Reading{Seq: 31, Off: true}
			in.Runs[2].Branches = nil
		}, []Act{RaiseSeries, Ask}},
		// E is low, or k high: the needle cannot tell, a voltmeter can.
		{"a weak source", func(in *Input) {
			for i := 1; i < 3; i++ {
				in.Runs[i].First[0].Div = math.Round(1.5*in.Runs[i].First[0].Div) / 2
				in.Runs[i].Branches[0].Readings[0].Div = math.Round(1.5*in.Runs[i].Branches[0].Readings[0].Div) / 2
			}
		}, []Act{Ask}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			in := practical(t, 3)
			tc.change(&in)
			got := Diagnose(in)
			if len(got) == 0 || !slices.Contains(tc.acts, got[0].Test.Act) {
				t.Fatalf("got %+v, want one of %v", got, tc.acts)
			}
			if said := strings.Contains(got[0].Try, "again") || strings.Contains(got[0].Try, "set the"); !said && got[0].Test.Act != Ask {
				t.Errorf("test %+v is not in %q", got[0].Test, got[0].Try)
			}
		})
	}
	if bits(0) != 0 || bits(1) != 0 || math.Abs(bits(0.5)-1) > 1e-12 {
		t.Error("a certain answer tells nothing, an even one tells a bit")
	}
}

// What is studied: all hypotheses in their order, and what looks alike.
func TestRankAndLookAlikes(t *testing.T) {
	if Rank(Input{Series: box(t, 1), Shunt: box(t, 1)}) != nil || LookAlikes(Input{Series: box(t, 1), Shunt: box(t, 1)}, "shunt-open", 0) != nil {
		t.Error("of nothing read something is said")
	}
	in := practical(t, 3)
	ranked := Rank(in)
	sum, low := 0.0, math.Inf(1)
	for _, f := range ranked {
		sum += f.Probability
		if f.Probability > low {
			t.Errorf("%s stands too low", f.ID)
		}
		low = f.Probability
	}
	if ranked[0].ID != "" || math.Abs(sum-1) > 1e-9 {
		t.Errorf("a sound practical: %+v, in all %g", ranked[0], sum)
	}
	// A needle beyond the end in row 3 says no more than that.
	in.Runs[2].First[0], in.Runs[2].Branches = Reading{Seq: 31, Off: true}, nil
	alike := LookAlikes(in, string(fault.SeriesBypassed), 0)
	for _, want := range []fault.ID{fault.BoxesExchanged, fault.SeriesUnit} {
		if !slices.Contains(alike, string(want)) {
			t.Errorf("%s does not look like a bypassed series box: %v", want, alike)
		}
	}
	if slices.Contains(alike, string(fault.NoCurrent)) || slices.Contains(alike, string(fault.SeriesBypassed)) {
		t.Errorf("no current, or the fault itself, looks like a needle beyond the end: %v", alike)
	}
	// Only what is comparably common: leakage has half the weight of one half.
	for _, id := range LookAlikes(in, string(fault.SeriesBypassed), 1) {
		if Weight(id) < Weight(string(fault.SeriesBypassed)) {
			t.Errorf("%s is rarer", id)
		}
	}
	if LookAlikes(in, "no-such-fault", 0) != nil {
		t.Error("an unknown fault has look-alikes")
	}
	// A half that was worked out foretells what was written.
	in = practical(t, 3)
	in.Runs[2].Branches[0].Readings[0].Div = in.Runs[1].First[0].Div / 2
	w := weigh(&in)
	for _, c := range w.causes() {
		if c.id == fault.HalfMissed && w.expected(c.best)[5] != in.Runs[2].Branches[0].Readings[0].Div {
			t.Errorf("half missed foretells %v", w.expected(c.best))
		}
	}
}

// Weights are those of the table: by hand, 4 + 2 for the two forms of a plug of
// the series box.
func TestWeight(t *testing.T) {
	for id, want := range map[string]float64{"series-plug": 6, "no-such-fault": 0, "": 85} {
		if got := Weight(id); got != want {
			t.Errorf("%q weighs %g, want %g", id, got, want)
		}
	}
}
