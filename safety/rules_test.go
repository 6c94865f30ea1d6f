package safety

import (
	"math"
	"strings"
	"testing"
)

// sound is a closing that every rule allows; the cases change one thing.
func sound() Closing {
	first := 24.0
	return Closing{
		Key: K1, Wired: true, SeriesOhm: 5000, SeriesMax: 11110, SeriesCoils: []float64{5000},
		ShuntCoils: []float64{50}, SeriesRating: 0.25, ShuntRating: 0.25, First: &first,
		Loop: Loop{EMFHigh: 1.65, Tolerance: 0.001, Divisions: 30, FullScaleLow: 0.9 * 0.6e-3, Doubt: 1},
	}
}

// TestRules gives each rule examples that it passes and examples that it
// fails. The numbers are worked by hand from Ohm's and Joule's laws.
func TestRules(t *testing.T) {
	cases := []struct {
		name   string
		rule   Rule
		change func(*Closing)
		want   Verdict
	}{
		{"checked circuit", wiredRule, func(*Closing) {}, Clear},
		{"unchecked circuit", wiredRule, func(c *Closing) { c.Wired = false }, Stop},

		{"box in the loop", loopRule, func(*Closing) {}, Clear},
		{"one ohm is a box in the loop", loopRule, func(c *Closing) { c.SeriesOhm = 1 }, Clear},
		{"all plugs in", loopRule, func(c *Closing) { c.SeriesOhm = 0 }, Stop},

		// 1.65 V / (5000 Ω · 0.999) = 0.330 mA; the 5000 Ω coil of 0.25 W
		// bears 7.07 mA, half of it 3.5 mA.
		{"small current", coilRule, func(*Closing) {}, Clear},
		// 1.65 V / (100 Ω · 0.999) = 16.5 mA; a 100 Ω coil of 0.25 W bears
		// 50 mA, half of it 25 mA.
		{"just allowed", coilRule, func(c *Closing) { c.SeriesOhm, c.SeriesCoils = 100, []float64{100} }, Clear},
		// 1.65 V / (50 Ω · 0.999) = 33.0 mA; a 50 Ω coil bears 70.7 mA,
		// half of it 35.4 mA; of two coils the larger sets the limit.
		{"two coils, the larger counts", coilRule, func(c *Closing) { c.SeriesOhm, c.SeriesCoils = 60, []float64{50, 10} }, Clear},
		// 1.65 V / (30 Ω · 0.999) = 55 mA against 0.5·√(0.25/20) = 55.9 mA.
		{"at the margin", coilRule, func(c *Closing) { c.SeriesOhm, c.SeriesCoils = 30, []float64{20, 10} }, Clear},
		// 1 V / 1 Ω = 1 A against 0.5·√(4/1) = 1 A, exactly.
		{"exactly at the margin", coilRule, func(c *Closing) {
			c.Loop.EMFHigh, c.Loop.Tolerance, c.SeriesOhm, c.SeriesCoils, c.SeriesRating = 1, 0, 1, []float64{1}, 4
		}, Clear},
		{"nothing in the box is another rule's affair", coilRule, func(c *Closing) { c.SeriesOhm, c.SeriesCoils = 0, []float64{1} }, Clear},
		{"no coil in circuit", coilRule, func(c *Closing) { c.SeriesCoils, c.SeriesOhm = nil, 1e-9 }, Clear},
		// 1.65 V / (29 Ω · 0.999) = 57 mA is above it.
		{"just over", coilRule, func(c *Closing) { c.SeriesOhm, c.SeriesCoils = 29, []float64{20, 5, 2, 2} }, Stop},
		{"a feeble coil", coilRule, func(c *Closing) { c.SeriesRating = 1e-5 }, Stop},
		{"a feeble shunt coil", coilRule, func(c *Closing) { c.Key, c.ShuntRating = K2, 1e-6 }, Stop},
		// 1.65 V / (10 Ω · 0.999 + 20 Ω · 0.99) = 55.4 mA against 55.9 mA; with
		// 9 Ω, or with a coil that may lack a tenth, more than that.
		{"a shunt coil behind the series box", coilRule, func(c *Closing) {
			c.Key, c.SeriesOhm, c.ShuntCoils, c.ShuntRating, c.ShuntLimit = K2, 10, []float64{20}, 0.25, 0.01
		}, Clear},
		{"a shunt coil behind too little", coilRule, func(c *Closing) {
			c.Key, c.SeriesOhm, c.ShuntCoils, c.ShuntRating, c.ShuntLimit = K2, 9, []float64{20}, 0.25, 0.01
		}, Stop},
		// 1.65 V / (10 Ω · 0.9 + 20 Ω · 0.99) = 57.3 mA.
		{"a shunt coil behind a coarse series box", coilRule, func(c *Closing) {
			c.Key, c.SeriesOhm, c.Loop.Tolerance, c.ShuntCoils, c.ShuntRating, c.ShuntLimit = K2, 10, 0.1, []float64{20}, 0.25, 0.01
		}, Stop},
		{"a coarse shunt coil", coilRule, func(c *Closing) {
			c.Key, c.SeriesOhm, c.ShuntCoils, c.ShuntRating, c.ShuntLimit = K2, 10, []float64{20}, 0.25, 0.1
		}, Stop},
		{"the shunt's rating is not K1's affair", coilRule, func(c *Closing) { c.ShuntRating = 1e-9 }, Clear},

		{"no rating stated", sourceRule, func(*Closing) {}, Clear},
		// 0.3303 mA against the rating.
		{"within the rating", sourceRule, func(c *Closing) { c.SourceMax = 0.34e-3 }, Clear},
		{"over the rating", sourceRule, func(c *Closing) { c.SourceMax = 0.33e-3 }, Stop},
		{"exactly the rating", sourceRule, func(c *Closing) {
			c.Loop.EMFHigh, c.Loop.Tolerance, c.SeriesOhm, c.SourceMax = 1, 0, 1000, 1e-3
		}, Clear},
		{"nothing in the box has a rule of its own", sourceRule, func(c *Closing) { c.SeriesOhm, c.SourceMax = 0, 1e-9 }, Clear},

		{"K1 needs no deflection", shuntRule, func(c *Closing) { c.First = nil }, Clear},
		{"deflection stands", shuntRule, func(c *Closing) { c.Key = K2 }, Clear},
		{"no deflection", shuntRule, func(c *Closing) { c.Key, c.First = K2, nil }, Stop},
		{"needle beyond the end", shuntRule, func(c *Closing) { c.Key, c.First, c.FirstOff = K2, nil, true }, Stop},

		// Plate: 30 div · 1.65 V / (0.54 mA · R · 0.999) = 30 div at 3058.6 Ω.
		{"proven by the plate", steadyRule, func(c *Closing) { c.SeriesOhm = 3059 }, Clear},
		// 32 div · 1 V / (2⁻¹⁰ A · 1024 Ω) = 32 div, exactly the last mark.
		{"exactly to the last mark", steadyRule, func(c *Closing) {
			c.Loop, c.SeriesOhm = Loop{EMFHigh: 1, Divisions: 32, FullScaleLow: 1.0 / 1024}, 1024
		}, Clear},
		// 1.65 V / (3058 · 0.999) = 0.54 mA is below 1 mA, but 3058 Ω is
		// neither the largest value nor follows a needle that stood still.
		{"just not proven", steadyRule, func(c *Closing) { c.SeriesOhm = 3058 }, Stop},
		{"nothing known, largest value", steadyRule, func(c *Closing) { c.Loop.FullScaleLow, c.SeriesOhm = 0, 11110 }, Tap},
		{"nothing known, not the largest", steadyRule, func(c *Closing) { c.Loop.FullScaleLow, c.SeriesOhm = 0, 11100 }, Stop},
		// 1.65 V / (1650 · 0.999) = 1.001 mA > 1 mA.
		{"largest value, too much current", steadyRule, func(c *Closing) { c.Loop.FullScaleLow, c.SeriesOhm, c.SeriesMax = 0, 1650, 1650 }, Stop},
		// 1.65 V / (1652 · 0.999) = 0.9998 mA.
		{"largest value, just allowed", steadyRule, func(c *Closing) { c.Loop.FullScaleLow, c.SeriesOhm, c.SeriesMax = 0, 1652, 1652 }, Tap},
		// 1 V / 1000 Ω = 1 mA, exactly.
		{"exactly what a tap may carry", steadyRule, func(c *Closing) {
			c.Loop = Loop{EMFHigh: 1, Divisions: 30}
			c.SeriesOhm, c.SeriesMax = 1000, 1000
		}, Tap},
		{"nothing in the box stops elsewhere", steadyRule, func(c *Closing) { c.SeriesOhm = 0 }, Clear},
		{"down to what a still needle allows", steadyRule, func(c *Closing) { c.Loop.FullScaleLow, c.SeriesOhm, c.TapDown = 0, 5555, 5555 }, Tap},
		{"further down than that", steadyRule, func(c *Closing) { c.Loop.FullScaleLow, c.SeriesOhm, c.TapDown = 0, 5554, 5555 }, Stop},
		{"not K2's affair", steadyRule, func(c *Closing) { c.Key, c.Loop.FullScaleLow = K2, 0 }, Clear},
		// A reading of 10 at 11110 Ω bounds 5000 Ω at
		// 11·1.01·(1.001/0.999)·11110/5000 = 24.7 div.
		{"proven by a reading", steadyRule, func(c *Closing) {
			c.Loop.FullScaleLow, c.Loop.Readings = 0, []FirstReading{{SeriesOhm: 11110, Div: 10}}
		}, Clear},
		{"a reading proves too little", steadyRule, func(c *Closing) {
			c.Loop.FullScaleLow, c.Loop.Readings, c.SeriesOhm = 0, []FirstReading{{SeriesOhm: 11110, Div: 10}}, 4000
		}, Stop},

		{"never off scale", offRule, func(*Closing) {}, Clear},
		{"never off scale, and nothing in the box", offRule, func(c *Closing) { c.SeriesOhm = 0 }, Clear},
		{"above what went off", offRule, func(c *Closing) { c.OffAt = 4990 }, Clear},
		{"at what went off", offRule, func(c *Closing) { c.OffAt = 5000 }, Stop},
		{"the largest value went off", offRule, func(c *Closing) { c.OffAt, c.SeriesOhm = 11110, 11110 }, Tap},
		// 1.65 V / (1650 · 0.999) = 1.001 mA > 1 mA.
		{"the largest went off with too much current", offRule, func(c *Closing) { c.OffAt, c.SeriesOhm, c.SeriesMax = 1650, 1650, 1650 }, Stop},
		// 1 V / 1000 Ω = 1 mA, exactly.
		{"the largest went off with what a tap may carry", offRule, func(c *Closing) {
			c.Loop = Loop{EMFHigh: 1, Divisions: 30}
			c.OffAt, c.SeriesOhm, c.SeriesMax = 1000, 1000, 1000
		}, Tap},
		{"not K2's affair either", offRule, func(c *Closing) { c.Key, c.OffAt = K2, 5000 }, Clear},

		{"the needle fell", leapRule, func(c *Closing) { c.Key = K2 }, Clear},
		{"the needle leapt", leapRule, func(c *Closing) { c.Key, c.Leapt = K2, true }, Tap},
		{"a leap is not K1's affair", leapRule, func(c *Closing) { c.Leapt = true }, Clear},

		// By the plate 28 div at 30·1.65/(0.54 mA·0.999·28) = 3277 Ω; with
		// the needle resting 2 div off, 30 − 2 = 28 is all the room.
		{"room enough beside the zero", steadyRule, func(c *Closing) { c.Loop.Zero, c.SeriesOhm = 2, 3278 }, Clear},
		{"no room beside the zero", steadyRule, func(c *Closing) { c.Loop.Zero, c.SeriesOhm = 2, 3276 }, Stop},

		{"centre zero", polarityRule, func(*Closing) {}, Clear},
		{"left zero, polarity unknown", polarityRule, func(c *Closing) { c.LeftZero = true }, Tap},
		{"left zero, polarity seen", polarityRule, func(c *Closing) { c.LeftZero, c.PolarityKnown = true, true }, Clear},
		{"left zero is not K2's affair", polarityRule, func(c *Closing) { c.Key, c.LeftZero = K2, true }, Clear},
	}
	covered := map[string]map[Verdict]bool{}
	for _, tc := range cases {
		t.Run(tc.rule.ID+"/"+tc.name, func(t *testing.T) {
			c := sound()
			tc.change(&c)
			v, because, ok := tc.rule.Judge(c)
			if ok {
				v = Clear
			}
			if v != tc.want || ok == (because != "") {
				t.Errorf("%+v: got %s, %q; want %s", c, v, because, tc.want)
			}
		})
		if covered[tc.rule.ID] == nil {
			covered[tc.rule.ID] = map[Verdict]bool{}
		}
		covered[tc.rule.ID][tc.want] = true
	}
	for _, r := range Rules() {
		if !covered[r.ID][Clear] || len(covered[r.ID]) < 2 || r.Why == "" || r.Source == "" {
			t.Errorf("rule %s: needs a passing and a failing example, a reason and a source", r.ID)
		}
	}
}

// TestStrictest: the strictest verdict wins, and its own reason is given.
func TestStrictest(t *testing.T) {
	c := sound()
	c.LeftZero, c.SeriesOhm = true, 3000
	got := Judge(c)
	if got.Verdict != Stop || got.WorstDiv == nil || *got.WorstDiv <= 30 {
		t.Errorf("tap by polarity, stop by the plate: got %+v", got)
	}
	c.SeriesOhm = 4000
	if got = Judge(c); got.Verdict != Tap {
		t.Errorf("tap by polarity, clear by the plate: got %+v", got)
	}
	c.PolarityKnown = true
	if got = Judge(c); got.Verdict != Clear || *got.WorstDiv > 30 || got.Because == "" {
		t.Errorf("nothing against it: got %+v", got)
	}
	c.Wired = false
	if got = Judge(c); got.Verdict != Stop {
		t.Errorf("unchecked circuit: got %+v", got)
	}
}

// TestFirstSpeaks: of two rules as strict the first gives the reason.
func TestFirstSpeaks(t *testing.T) {
	c := sound()
	c.Wired, c.SeriesOhm = false, 0
	if got := Judge(c).Because; !strings.Contains(got, "not been checked") {
		t.Errorf("unchecked, and nothing in the box: got %q", got)
	}
}

// TestBecause: the reason of a clearance counts from where the needle rests, and
// speaks of the swing where there is something to say. By the plate 30·1.65 V /
// (0.54 mA · 0.999 · R): 18.35 div at 5000 Ω, whose first swing of 1.346 times
// that stays on the scale; 26.21 at 3500 Ω, whose swing reaches 35; 36.70 at
// 2500 Ω.
func TestBecause(t *testing.T) {
	for _, tc := range []struct {
		name       string
		change     func(*Closing)
		worst      float64
		words, not string
	}{
		{"room for the swing", func(c *Closing) {}, 18.35, "rests at 18.4 of 30", "swing"},
		{"a swing to the stop", func(c *Closing) { c.SeriesOhm = 3500 }, 26.21, "the first swing may touch the stop (up to 35)", "K2"},
		{"beside the zero", func(c *Closing) { c.Loop.Zero = 2 }, 20.35, "rests at 20.4 of 30", "swing"},
		{"too far, beside the zero", func(c *Closing) { c.Loop.Zero, c.SeriesOhm = 2, 2500 }, 38.70, "would go to 38.7 of 30", "rests"},
		{"K2", func(c *Closing) { c.Key = K2 }, 25, "a shunt only takes current", "rests"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c := sound()
			tc.change(&c)
			got := Judge(c)
			if got.WorstDiv == nil || math.Abs(*got.WorstDiv-tc.worst) > 0.01 {
				t.Errorf("worst %v, want %g", got.WorstDiv, tc.worst)
			}
			if !strings.Contains(got.Because, tc.words) || strings.Contains(got.Because, tc.not) {
				t.Errorf("because %q, want %q and not %q", got.Because, tc.words, tc.not)
			}
		})
	}
}

// TestK2NeverRaises: the worst deflection of K2 is the first one's.
func TestK2NeverRaises(t *testing.T) {
	c := sound()
	c.Key = K2
	got := Judge(c)
	if got.Verdict != Clear || *got.WorstDiv != 25 { // 24 read, in doubt by 1
		t.Errorf("got %+v, want clear at 25", got)
	}
	c.Loop.Zero = 2 // seen 2 further out
	if got = Judge(c); *got.WorstDiv != 27 {
		t.Errorf("with the zero at 2: got %g, want 27", *got.WorstDiv)
	}
	first := 29.5
	c.First = &first
	if got = Judge(c); *got.WorstDiv != 30 { // it was seen on the scale
		t.Errorf("got %g, want 30", *got.WorstDiv)
	}
}

// TestContract: the numbers that the interface contract states.
func TestContract(t *testing.T) {
	if FullScaleTrust != 0.9 || TapCurrent != 1e-3 {
		t.Errorf("the full scale is trusted to %g, a tap may carry %g A; want 0.9 and 1 mA", FullScaleTrust, TapCurrent)
	}
	if GentleCurrent != 1e-4 { // of a 100 µA movement, as its comment says
		t.Errorf("the gentle current is %g A, want 100 µA", GentleCurrent)
	}
}

func TestSourceRange(t *testing.T) {
	for _, tc := range []struct {
		emf            float64
		asked, refused bool
	}{{0.2, true, false}, {0.29, true, false}, {0.3, false, false}, {1.5, false, false}, {6, false, false}, {6.01, true, false}, {12, true, false}, {12.01, false, true}, {230, false, true}} {
		q, err := SourceRange(tc.emf)
		if (q != "") != tc.asked || (err != nil) != tc.refused {
			t.Errorf("%g V: got question %q, error %v", tc.emf, q, err)
		}
	}
}

// TestSwing: a movement of damping ratio 0.32 overshoots by
// exp(-π·0.32/√(1-0.32²)) = 0.346, worked by hand.
func TestSwing(t *testing.T) {
	if got := Swing(20); got < 26.9 || got > 26.94 {
		t.Errorf("Swing(20) = %g, want 26.92", got)
	}
}

func TestCautions(t *testing.T) {
	for _, step := range []string{"bench", "wiring", "series", "first", "shunt", "result"} {
		if len(Cautions(step)) == 0 {
			t.Errorf("no caution for step %s", step)
		}
	}
	if Cautions("no such step") != nil {
		t.Error("cautions for a step that does not exist")
	}
}
