package procedure

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// mends lists the events that findings propose to strike.
func mends(c Counsel) []int {
	var out []int
	for _, f := range c.Findings {
		if f.Mend != nil {
			out = append(out, f.Mend.Seq)
		}
	}
	return out
}

// TestReadingsDisagree: what does not fit is read again and named for striking;
// nothing is planned with it, and no such row is kept unasked. The usual needle
// of help_test.go shows 7.0 at 11 110 Ω, 19.7 at 3870 Ω and 25.2 at 3000 Ω, by
// Ohm's law from E = 1.48 V, G = 87 Ω and k = 19 µA/div; the shunt of 80 Ω
// halves.
func TestReadingsDisagree(t *testing.T) {
	at := func(series float64, divs ...float64) []Body {
		out := []Body{SeriesSet{Ohm: series}}
		for _, v := range divs {
			out = append(out, first(v))
		}
		return out
	}
	row := slices.Concat(at(11110, 7), at(3000, 24), []Body{ShuntSet{Ohm: 80}, shunted(12)}) // events 4 to 9
	for _, tc := range []struct {
		name   string
		bodies []Body
		event  string
		ohm    float64 // of the setting that is next, 0 for none
		words  string  // in what there is to do
		mend   int     // the event that a finding proposes to strike
		expect float64 // div, 0: not looked at
	}{
		{"a second setting that contradicts", slices.Concat(at(11110, 7), at(3870, 7.5)),
			KindReadFirst, 0, "which let expect about 19.8\u00a0div. If it was a slip, strike event 7", 7, 19.8},
		{"one that no galvanometer explains", slices.Concat(at(11110, 7), at(3870, 3)),
			KindReadFirst, 0, "The reading of 3\u00a0div does not fit the others", 7, 19.8},
		{"read again, it was a slip", slices.Concat(at(11110, 7), at(3870, 7.5, 20)),
			KindSetSeries, 3870, "strike event 7 and go on", 7, 20},
		{"read again, it is so", slices.Concat(at(11110, 7), at(3870, 3, 3)),
			KindSetSeries, 2980, "", 6, 3}, // the run begins with event 6
		{"where K1 may not be closed again", slices.Concat(row, []Body{RowKept{}}, at(2600, 10)),
			KindSetSeries, 2980, "strike event 12", 12, 27.6},
		{"two readings at the first setting", at(11110, 24, 7),
			KindReadFirst, 0, "24\u00a0div and 7\u00a0div, cannot be of one deflection", 5, 0},
		{"two readings at a setting that others foretell", slices.Concat(at(11110, 7), at(3000, 24, 12)),
			KindSetSeries, 3000, "strike event 8", 8, 24},
		{"three readings at one setting", slices.Concat(at(11110, 7), at(3000, 24, 12, 24)),
			KindSetSeries, 3000, "strike event 8", 8, 24},
		{"two within three steps are one", slices.Concat(at(11110, 7), at(3000, 23.25, 24.75)),
			KindSetShunt, 100, "", 0, 0},
		{"two further apart are not", slices.Concat(at(11110, 14.5, 12.5)),
			KindReadFirst, 0, "cannot be of one deflection", 5, 0},
		{"a shunted reading that contradicts its repeat", slices.Concat(row, []Body{shunted(6)}),
			KindReadShunted, 0, "12\u00a0div and 6\u00a0div, cannot be of one deflection", 10, 0},
		{"and is outvoted", slices.Concat(row, []Body{shunted(6), shunted(12)}),
			KindSetShunt, 80, "strike event 10", 10, 12},
		{"the first deflection has not come back", slices.Concat(row, []Body{first(12)}),
			KindSetSeries, 3000, "strike event 10", 10, 0},
		{"a shunted reading on the wrong side", slices.Concat(row[:5], []Body{shunted(-12)}),
			KindReadShunted, 0, "reading of −12\u00a0div lies on the other side of zero", 9, 12.4},
		{"and again", slices.Concat(row[:5], []Body{shunted(-12), shunted(-12)}),
			KindKeepRow, 0, "distance from zero", 8, 12.4}, // the shunt's setting: both readings
		{"and put right", slices.Concat(row[:5], []Body{shunted(-12), shunted(12)}),
			KindKeepRow, 0, "come back to 24\u00a0div", 9, 12.1},
		{"leads exchanged between repeats", slices.Concat(at(11110, 7), at(3000, 24, -24)),
			KindSetShunt, 100, "", 0, -24},
		{"a first value far too high", slices.Concat(at(11110, 24), at(9400, 8.5, 8.5)),
			KindReadFirst, 0, "reading of 24\u00a0div at 11\u00a0110\u00a0Ω keeps the resistance up and does not fit the others: if it was a slip, strike event 5", 5, 0},
	} {
		t.Run(tc.name, func(t *testing.T) {
			s := ready(t, tc.bodies...)
			c := Advise(s.s)
			n := c.Next
			if n == nil || n.Event != tc.event || !strings.Contains(n.Do, tc.words) || tc.ohm != 0 && (n.Ohm == nil || *n.Ohm != tc.ohm) {
				t.Errorf("next %s, want %s %g with %q", counselJSON(t, Counsel{Next: n}), tc.event, tc.ohm, tc.words)
			}
			if tc.mend != 0 && !slices.Contains(mends(c), tc.mend) {
				t.Errorf("to be struck: %v, want %d among them: %+v", mends(c), tc.mend, c.Findings)
			}
			if tc.expect != 0 && (c.Expect == nil || math.Abs(c.Expect.Div-tc.expect) > 0.15) {
				t.Errorf("expects %+v, want about %g", c.Expect, tc.expect)
			}
			for _, f := range c.Findings {
				if f.ID == "bench-unfit" {
					t.Errorf("the bench is called unfit: %+v", f)
				}
			}
		})
	}
}

// TestWrongSideRow: a row keeps the distances from zero. By hand from R′ =
// 3000.8 Ω: P = 80·(24−12)/12 = 80 Ω, G = 80·3000.8/2920.8 = 82.19 Ω.
func TestWrongSideRow(t *testing.T) {
	s := ready(t, SeriesSet{Ohm: 3000}, first(24), ShuntSet{Ohm: 80}, shunted(-12), shunted(12), RowKept{})
	r := Advise(s.s).Rows[0]
	if r.FirstDiv != 24 || r.ShuntedDiv != 12 || r.Resistance == nil || math.Abs(*r.Resistance-82.19) > 0.01 {
		t.Errorf("row %+v", r)
	}
}

// TestSlipObeyed: whoever writes one reading down wrong and then obeys comes to
// the end, with the needle never past the last mark after a clear, and learns
// which event it was. Whoever strikes it has as good a record as any.
func TestSlipObeyed(t *testing.T) {
	for _, owned := range []bool{false, true} {
		for name, sl := range map[string]slip{
			"second setting a third":           {kind: KindReadFirst, nth: 2, wrong: func(v float64) float64 { return math.Round(v) / 3 }},
			"third setting nothing":            {kind: KindReadFirst, nth: 3, wrong: func(float64) float64 { return 0.5 }},
			"later row a half":                 {kind: KindReadFirst, nth: 5, wrong: func(v float64) float64 { return v / 2 }},
			"first shunted a half":             {kind: KindReadShunted, nth: 1, wrong: func(v float64) float64 { return v / 2 }},
			"second shunted the other side":    {kind: KindReadShunted, nth: 2, wrong: func(v float64) float64 { return -v }},
			"later shunted by ten divisions":   {kind: KindReadShunted, nth: 4, wrong: func(v float64) float64 { return v - 10 }},
			"later shunted, the first's value": {kind: KindReadShunted, nth: 3, wrong: func(v float64) float64 { return 2 * v }},
		} {
			t.Run(fmt.Sprintf("%s, struck %t", name, owned), func(t *testing.T) {
				for seed := range uint64(2) {
					m := usualNeedle()
					m.noise, m.slip = rand.New(rand.NewPCG(seed, 17)), sl
					m.slip.owned = owned
					w := obey(t, usualBench(), m)
					if !w.s.Finished() || w.pinned > 0 {
						t.Fatalf("seed %d: finished %t, pinned %d, findings %+v", seed, w.s.Finished(), w.pinned, w.last.Findings)
					}
					r := w.last.Result
					if r == nil || r.Rows < RowsWanted || r.Resistance == nil {
						t.Fatalf("seed %d: result %+v", seed, r)
					}
					if !w.named && name != "third setting nothing" { // that is left out of itself
						t.Errorf("seed %d: nothing said to strike event %d", seed, w.slip)
					}
					if w.named != w.proposed {
						t.Errorf("seed %d: told to strike event %d: %t, a finding proposes it: %t", seed, w.slip, w.named, w.proposed)
					}
					if owned && (math.Abs(*r.Resistance-m.g) > 3**r.UResistance || *r.UResistance > 0.05**r.Resistance) {
						t.Errorf("seed %d: the slip is struck, and G = %g ± %g, truly %g", seed, *r.Resistance, *r.UResistance, m.g)
					}
				}
			})
		}
	}
}

// TestSlipOfFirstValue: a first deflection too high, or off the scale by slip,
// at the largest series value keeps the resistance up until it is struck; the
// counsel says so and does not call the bench unfit by that one reading.
func TestSlipOfFirstValue(t *testing.T) {
	for name, sl := range map[string]slip{
		"too high":      {wrong: func(v float64) float64 { return v + 15 }},
		"off the scale": {off: true},
	} {
		t.Run(name, func(t *testing.T) {
			m := usualNeedle()
			m.noise, m.slip = rand.New(rand.NewPCG(3, 17)), sl
			m.slip.kind, m.slip.nth, m.slip.owned = KindReadFirst, 1, true
			w := obey(t, usualBench(), m)
			if !w.s.Finished() || w.pinned > 0 || w.s.Struck(w.slip) == 0 {
				t.Errorf("finished %t, pinned %d, struck %t: %+v", w.s.Finished(), w.pinned, w.s.Struck(w.slip) > 0, w.last.Findings)
			}
			m.noise, m.slip.owned = rand.New(rand.NewPCG(3, 17)), false
			if w = obey(t, usualBench(), m); !w.named {
				t.Errorf("nothing said to strike event %d: %+v", w.slip, w.last.Findings)
			}
		})
	}
}

// TestUnfitTwice: no single reading makes the bench unfit; it is looked at once
// more first.
func TestUnfitTwice(t *testing.T) {
	small := usualBench()
	small.SeriesBox.Coils = []float64{1000, 500, 200, 200, 100} // 2000 Ω
	small.Galvanometer.FullScale = ptr(2e-3)
	strong := small
	strong.Source.EMF, strong.Source.UEMF = 4, ptr(0.1) // (4 + 0.3) V / 2000 Ω: more than a tap may carry
	strong.Galvanometer.FullScale = ptr(4e-3)
	dull := usualBench()
	dull.SeriesBox.Coils = []float64{11110}
	fewOhm := usualBench()
	fewOhm.ShuntBox.Coils = []float64{2, 1, 1}
	off := FirstRead{OffScale: true}
	for _, tc := range []struct {
		name  string
		bench Bench
		begin []Body
		event string
		again Body
	}{
		{"off the scale at the largest value", usualBench(), []Body{SeriesSet{Ohm: 11110}, off}, KindReadFirst, off},
		{"off the scale where a tap is allowed", small, []Body{SeriesSet{Ohm: 2000}, off}, KindReadFirst, off},
		{"off the scale where not even a tap is allowed", strong, []Body{SeriesSet{Ohm: 2000}, off}, KindZero, ZeroRead{0}},
		{"too little at the only value", dull, []Body{SeriesSet{Ohm: 11110}, first(7)}, KindReadFirst, first(7)},
		{"a shunt box that takes everything", fewOhm, []Body{SeriesSet{Ohm: 11110}, first(7), SeriesSet{Ohm: 3000}, first(24), ShuntSet{Ohm: 4}, shunted(1.5)}, KindReadShunted, shunted(1.5)},
	} {
		t.Run(tc.name, func(t *testing.T) {
			s := sit(t, tc.bench, Wired{}, ZeroRead{0})
			s.put(tc.begin...)
			unfit := func(c Counsel) bool {
				return slices.ContainsFunc(c.Findings, func(f Finding) bool { return f.ID == "bench-unfit" })
			}
			for _, c := range []Counsel{Advise(s.s), advise(s.s)} {
				if c.Next == nil || c.Next.Event != tc.event || unfit(c) {
					t.Fatalf("after one reading: next %+v, findings %+v; want %s", c.Next, c.Findings, tc.event)
				}
			}
			s.put(tc.again)
			if c := Advise(s.s); c.Next != nil || !unfit(c) {
				t.Errorf("after the second: next %+v, findings %+v", c.Next, c.Findings)
			}
		})
	}
}

// TestUnfitBySource: where the EMF that was measured makes the bench unfit, it
// is said which event to strike if it was a slip.
func TestUnfitBySource(t *testing.T) {
	s := ready(t, SourceMeasured{EMF: 11})
	c := Advise(s.s)
	if len(c.Findings) == 0 || c.Findings[0].ID != "bench-unfit" || !strings.Contains(c.Findings[0].Try, "V was a slip, strike event 4") {
		t.Errorf("findings %+v", c.Findings)
	}
}

// TestZeroInForce: whenever no zero is in force, it is read before anything
// else, whatever was read before.
func TestZeroInForce(t *testing.T) {
	s := ready(t, SeriesSet{Ohm: 11110}, first(7), SeriesSet{Ohm: 3000}, first(24), ShuntSet{Ohm: 80}, shunted(12), RowKept{})
	s.put(Strike{Event: 3})
	if n := Advise(s.s).Next; n == nil || n.Event != KindZero {
		t.Fatalf("the only zero is struck: next %+v", n)
	}
	s.put(ZeroRead{0.5})
	if n := Advise(s.s).Next; n == nil || n.Event != KindSetSeries {
		t.Errorf("a zero is read: next %+v", n)
	}
	s.put(Strike{Event: 2}) // the circuit first
	s.put(Strike{Event: 11})
	if n := Advise(s.s).Next; n == nil || n.Event != KindWired {
		t.Errorf("wired and zero struck: next %+v", n)
	}
}

// TestTargetsCanBeRead: what is asked for can be read off the scale, whatever
// the zero drifted to.
func TestTargetsCanBeRead(t *testing.T) {
	for _, step := range []float64{1, 0.5, 0.25, 0.1, 0.05, 0.02} {
		b, m := usualBench(), usualNeedle()
		b.Galvanometer.Resolution, m.step, m.zero = step, step, 0.2162
		m.noise = rand.New(rand.NewPCG(4, 4))
		unit := 0.1
		if step < 0.1 {
			unit = 0.01
		}
		s, series := sit(t, b), 0.0
		for range 60 {
			n := Advise(s.s).Next
			if n == nil {
				break
			}
			if v := n.TargetDiv; v != nil && math.Abs(*v/unit-math.Round(*v/unit)) > 1e-6 {
				t.Fatalf("step %g: target %g div", step, *v)
			}
			switch n.Event {
			case KindSetSeries:
				series = *n.Ohm
				s.put(obeyed(n, 0))
			case KindReadFirst:
				v, off := m.see(m.first(t, series))
				s.put(FirstRead{v, off})
			case KindReadShunted:
				shunt, _ := s.s.ShuntOhm()
				v, off := m.see(m.shunted(t, series, shunt))
				s.put(ShuntedRead{v, off})
			case KindZero:
				v, _ := m.see(0)
				s.put(ZeroRead{*v})
			default:
				s.put(obeyed(n, 0))
			}
		}
	}
}

func TestReadable(t *testing.T) {
	for _, tc := range []struct {
		v, step, want float64
		text          string
	}{
		{24.7162, 0.5, 24.7, "24.7"}, {24.7162, 1, 24.7, "24.7"}, {24.7162, 0.25, 24.7, "24.7"}, {24.7162, 0.1, 24.7, "24.7"},
		{24.7162, 0.05, 24.72, "24.72"}, {24.7162, 0.01, 24.72, "24.72"}, {24.7162, 0.001, 24.716, "24.716"},
		{24.04, 0.5, 24, "24"}, {-0.04, 0.5, 0, "0"}, {-24.7162, 0.5, -24.7, "−24.7"},
	} {
		if got, text := readable(tc.v, tc.step), divs(tc.v, tc.step); got != tc.want || text != tc.text+"\u00a0div" {
			t.Errorf("%g at a step of %g: %g, %q; want %g, %q", tc.v, tc.step, got, text, tc.want, tc.text)
		}
	}
}

// TestOffThatFits: a needle that went off the scale where the others let expect
// it is no slip. 7 at 11 110 Ω and 18 at 4300 Ω are some 29.6 at 2560 Ω, where a
// reading may be a step off; at 3000 Ω they would be 25.
func TestOffThatFits(t *testing.T) {
	for ohm, slip := range map[float64]bool{2560: false, 3000: true} {
		s := ready(t, SeriesSet{Ohm: ohm}, FirstRead{OffScale: true}, SeriesSet{Ohm: 11110}, first(7), SeriesSet{Ohm: 4300}, first(18))
		if n := Advise(s.s).Next; n == nil || n.Event != KindSetSeries || strings.Contains(n.Do, "strike event 5") != slip {
			t.Errorf("off the scale at %g ohm: next %+v, want it named a slip: %t", ohm, n, slip)
		}
	}
}
