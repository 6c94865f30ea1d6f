package diagnosis

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/fault"
)

func box(tb testing.TB, coils ...float64) *apparatus.Range {
	tb.Helper()
	r, err := apparatus.NewRange(apparatus.Box{Kind: apparatus.Plug, Coils: coils, Tolerance: 0.001})
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

// practical is a bench with boxes of sixteen plugs and rows read on it to half
// a division: G = 90 ohm, k = 20 µA/div, E = 1.5 V, r = 1 ohm. The readings are
// those of the closed form of half deflection.
func practical(tb testing.TB, rows int) Input {
	tb.Helper()
	in := Input{
		Divisions: 30, Step: 0.5, Repeatability: 0.075,
		Series: box(tb, apparatus.PlugSet(1, 10, 100, 1000)...), Shunt: box(tb, apparatus.PlugSet(0.1, 1, 10, 100)...),
		Movement: Normal{Mean: math.Log(90), SD: 0.5}, Loop: Normal{Mean: math.Log(1.5 * 30 / 0.6e-3), SD: 0.5}, Source: Normal{SD: 0.6}, UZero: 0.16,
	}
	r := rand.New(rand.NewPCG(1, 2))
	round := func(x float64) float64 { return math.Round(2*(x+0.075*r.NormFloat64())) / 2 }
	for i := range rows {
		series, ok := in.Series.Nearest(1.5/(20e-6*(20+float64(i%5)*1.6)) - 91)
		if !ok {
			tb.Fatal("no series value")
		}
		shunt, _ := in.Shunt.Nearest(90 * (0.8 + 0.1*float64(i%5)))
		first := 1.5 / (20e-6 * (series.Ohm + 91))
		shunted := 1.5 * shunt.Ohm / (20e-6 * ((series.Ohm+1)*(90+shunt.Ohm) + 90*shunt.Ohm))
		n := 10 * (i + 1)
		in.Runs = append(in.Runs, Run{Seq: n, Series: series, First: []Reading{{Seq: n + 1, Div: round(first)}},
			Branches: []Branch{{Seq: n + 2, Shunt: shunt, Readings: []Reading{{Seq: n + 3, Div: round(shunted)}}}}})
	}
	return in
}

func lead(fs []Finding) string {
	if len(fs) == 0 {
		return ""
	}
	return fs[0].ID
}

// A fault put into one reading of a practical is named, with what spoiled it
// to strike; a sound practical is silent.
func TestDiagnose(t *testing.T) {
	for _, tc := range []struct {
		name   string
		change func(*Input)
		want   fault.ID
		strike int
	}{
		{"sound", func(*Input) {}, sound, 0},
		{"nothing read", func(in *Input) { in.Runs = nil }, sound, 0},
		{"first deflection of row 3 is 5 too high", func(in *Input) { in.Runs[2].First[0].Div += 5 }, fault.ReadingOdd, 31},
		{"shunted reading of row 4 on the other side", func(in *Input) { r := &in.Runs[3].Branches[0].Readings[0]; r.Div = -r.Div }, fault.WrongSide, 43},
		{"row 5 with the columns exchanged", func(in *Input) {
			r := &in.Runs[4]
			r.First[0].Div, r.Branches[0].Readings[0].Div = r.Branches[0].Readings[0].Div, r.First[0].Div
		}, fault.ColumnsSwapped, 50},
		{"the shunt does nothing in row 5", func(in *Input) { in.Runs[4].Branches[0].Readings[0].Div = in.Runs[4].First[0].Div }, fault.ShuntOpen, 53},
		// The shunts go from 72 to 108 ohm: the needle cannot have stood at the
		// half each time.
		{"every shunted reading is the half of the first", func(in *Input) {
			for i := range in.Runs {
				in.Runs[i].Branches[0].Readings[0].Div = in.Runs[i].First[0].Div / 2
			}
		}, fault.ComputedNotRead, 0},
		// 20 divisions were halved in row 1; row 4 stands at about 25.
		{"row 4 has the half of row 1", func(in *Input) { in.Runs[3].Branches[0].Readings[0].Div = in.Runs[0].First[0].Div / 2 }, fault.HalfMissed, 43},
		// Numbers that were made up (domain notes E3): random R, S, first
		// deflections, and readings that follow nothing.
		{"made-up numbers", func(in *Input) {
			r := rand.New(rand.NewPCG(5, 6))
			for i := range in.Runs {
				in.Runs[i].First[0].Div = 8 + float64(r.IntN(21))
				in.Runs[i].Branches[0].Readings[0].Div = 1 + float64(r.IntN(29))
			}
		}, fault.Unexplained, 0},
	} {
		t.Run(tc.name, func(t *testing.T) {
			in := practical(t, 5)
			tc.change(&in)
			got := Diagnose(in)
			if lead(got) != string(tc.want) {
				t.Fatalf("got %+v, want %q first", got, tc.want)
			}
			if len(got) > 0 && tc.strike > 0 && !slices.Equal(got[0].Strike, []int{tc.strike}) {
				t.Errorf("strike %d, want %d (%+v)", got[0].Strike, tc.strike, got[0])
			}
			sum := 0.0
			for _, f := range got {
				if f.Say == "" || f.Try == "" {
					t.Errorf("%s says %q, tries %q", f.ID, f.Say, f.Try)
				}
				sum += f.Probability
			}
			if sum > 1+1e-9 {
				t.Errorf("the probabilities add up to %g", sum)
			}
		})
	}
}

// A sound bench read to whole divisions, each reading within a standard
// uncertainty of its place: nothing is alleged, however hopeless what is not
// looked into. The readings are a simulated bench's of G = 110 ohm and
// k = 8.41 µA/div at 1.95 V; two zeros were read, 1 and 0.
func TestCoarseIsSilent(t *testing.T) {
	in := practical(t, 0)
	in.Divisions, in.LeftZero, in.Step, in.Repeatability, in.UZero = 40, true, 1, 0.15, 0.33
	in.Movement, in.Loop = Normal{math.Log(101.6), 0.1}, Normal{math.Log(2 * 40 / 0.6e-3), 0.6}
	in.Series, in.Shunt = box(t, apparatus.PlugSet(10, 100, 1000, 10000)...), box(t, apparatus.PlugSet(1, 10, 100)...)
	for i, x := range []struct{ series, first, shunt, shunted float64 }{
		{111100, 2, 0, 0}, {8370, 28, 0, 0}, {8070, 29, 115, 15}, {7000, 33, 85, 15}, {7500, 31, 150, 18}, {6600, 35, 95, 17}, {8700, 27, 130, 15},
	} {
		set, _ := in.Series.Exact(x.series)
		run := Run{Seq: 10 * (i + 1), Series: set, First: []Reading{{Seq: 10*(i+1) + 1, Div: x.first, Zero: 0.5, Before: 0.5}}}
		if x.shunt > 0 {
			set, _ := in.Shunt.Exact(x.shunt)
			run.Branches = []Branch{{Seq: 10*(i+1) + 3, Shunt: set, Readings: []Reading{{Seq: 10*(i+1) + 4, Div: x.shunted, Zero: 0.5, Before: 0.5}}}}
		}
		in.Runs = append(in.Runs, run)
	}
	set, _ := in.Shunt.Exact(100)
	in.Runs[2].Branches = append([]Branch{{Seq: 31, Shunt: set, Readings: []Reading{{Seq: 32, Div: 14, Zero: 0.5, Before: 0.5}}}}, in.Runs[2].Branches...)
	if got := Diagnose(in); len(got) > 0 {
		t.Errorf("alleged: %+v", got)
	}
}

// Every fault has its weight with a reason, and its words.
func TestTables(t *testing.T) {
	words := texts()
	for _, p := range priors() {
		if !(p.weight > 0) || p.why == "" {
			t.Errorf("%s %s: weight %g, reason %q", p.id, p.form, p.weight, p.why)
		}
		if p.id != sound && (words[p.id].say == "" || words[p.id].check == "") {
			t.Errorf("%s has no words", p.id)
		}
	}
	for _, h := range compiled().faults {
		if !(h.weight > 0) || h.law[0] == nil || h.law[1] == nil {
			t.Errorf("%s %s: weight %g, laws %v", h.ID, h.Form, h.weight, h.law)
		}
	}
}

// The slopes that the fit goes by are those of the predictions.
func TestPredictSlopes(t *testing.T) {
	in := practical(t, 2)
	looks := in.looks()
	p := vector{math.Log(90), math.Log(75000), 0, 0.1, 0.4}
	for _, h := range append(compiled().faults, compiled().sound) {
		for _, l := range []*look{&looks[0], &looks[1]} {
			s := sample{h: h, series: l.series.Ohm, shunt: 80, at: l, age: 3, sigma: l.sigma}
			var slope, none vector
			h.predict(&s, at(&p), &slope)
			for i := range p {
				const d = 1e-4
				up, down := p, p
				up[i] += d
				down[i] -= d
				want := (h.predict(&s, at(&up), &none) - h.predict(&s, at(&down), &none)) / (2 * d)
				if math.Abs(slope[i]-want) > 1e-3*(math.Abs(want)+0.1) {
					t.Errorf("%s %s, shunted %v: slope %d is %g, by differences %g", h.ID, h.Form, l.shunted, i, slope[i], want)
				}
			}
		}
	}
}

// BenchmarkDiagnose is the diagnosis of a practical on boxes of sixteen plugs.
// A frame of the screen is 16 ms.
func BenchmarkDiagnose(b *testing.B) {
	for _, tc := range []struct {
		name   string
		rows   int
		change func(*Input)
	}{
		{"1 row", 1, func(*Input) {}}, {"5 rows", 5, func(*Input) {}}, {"20 rows", 20, func(*Input) {}},
		{"20 rows, the last odd", 20, func(in *Input) { in.Runs[19].First[0].Div -= 6 }},
		{"20 rows, half of them faulty", 20, func(in *Input) {
			for i := 10; i < 20; i++ {
				in.Runs[i].Branches[0].Readings[0].Div = in.Runs[i].First[0].Div
			}
		}},
	} {
		b.Run(tc.name, func(b *testing.B) {
			in := practical(b, tc.rows)
			tc.change(&in)
			for b.Loop() {
				Diagnose(in)
			}
		})
	}
}
