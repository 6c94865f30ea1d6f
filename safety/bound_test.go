package safety

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"example.org/halve/physics"
)

// TestBoundByHand: 1/θ = aR + b. One reading of 10 ± 1 at 10 000 Ω of an exact
// box gives a·10⁴ + b >= 1/(11·1.01). The worst at 5000 Ω is with b = 0:
// 11·1.01·2 = 22.22 div (domain notes B5 with c_lo = 0, worked by hand).
func TestBoundByHand(t *testing.T) {
	l := Loop{EMFHigh: 1.6, Divisions: 30, Doubt: 1, Readings: []FirstReading{{SeriesOhm: 10000, Div: 10}}}
	got, ok := l.Bound().Worst(5000)
	if want := 22.22; !ok || math.Abs(got-want) > 1e-9 {
		t.Errorf("Worst(5000) = %g, %t; want %g", got, ok, want)
	}
	least, ok := l.Bound().Least(30)
	if want := 11 * 1.01 * 10000 / 30; !ok || math.Abs(least-want) > 1e-6 {
		t.Errorf("Least(30) = %g, %t; want %g", least, ok, want)
	}
}

// TestBoundTightens: a second reading at a lower resistance shows that part of
// the loop's resistance is not in the box, and the bound may only get lower.
func TestBoundTightens(t *testing.T) {
	one := Loop{EMFHigh: 1.6, Divisions: 30, Doubt: 0.1, RestHigh: 1000, Readings: []FirstReading{{SeriesOhm: 2000, Div: 15}}}
	two := one
	two.Readings = append(two.Readings, FirstReading{SeriesOhm: 1000, Div: 24})
	a, _ := one.Bound().Worst(800)
	b, _ := two.Bound().Worst(800)
	if !(b < a) {
		t.Errorf("one reading bounds at %g, two at %g: the second must help", a, b)
	}
}

func TestBoundUnknown(t *testing.T) {
	for name, l := range map[string]Loop{
		"nothing":            {EMFHigh: 1.6, Divisions: 30, Doubt: 1},
		"needle stood still": {EMFHigh: 1.6, Divisions: 30, Doubt: 1, Still: 0.5, Readings: []FirstReading{{SeriesOhm: 10000, Div: 0.5}}},
		"only off the scale": {EMFHigh: 1.6, Divisions: 30, Doubt: 1, Readings: []FirstReading{{SeriesOhm: 10000, OffScale: true}}},
		"plate refuted by a needle off the scale": {EMFHigh: 1.6, Divisions: 30, Doubt: 1, FullScaleLow: 1e-3,
			Readings: []FirstReading{{SeriesOhm: 1601, OffScale: true}}}, // by the plate 1600 Ω is the least
	} {
		t.Run(name, func(t *testing.T) {
			if w, ok := l.Bound().Worst(9000); ok {
				t.Errorf("bounded at %g; nothing bounds it", w)
			}
			if r, ok := l.Bound().Least(30); ok {
				t.Errorf("safe from %g ohm; nothing says so", r)
			}
		})
	}
}

// TestSeenBesideZero: 24 seen with the zero at -5 is a deflection of 29, and may
// be one of (29 + 2)·1.01 = 31.31: the way from -5 to the end is 35 long.
func TestSeenBesideZero(t *testing.T) {
	l := Loop{EMFHigh: 1.6, Divisions: 30, Zero: 5, Doubt: 2, Readings: []FirstReading{{SeriesOhm: 5000, Div: 29, Zero: 5}}}
	if got, ok := l.Bound().Worst(5000); !ok || math.Abs(got-31.31) > 1e-4 {
		t.Errorf("Worst = %g, %t; want 31.31", got, ok)
	}
}

// TestOffBesideZero: with the zero at -5 a needle off the right end has made
// 35 div at least, with it at +5 only 25. Without its sign 25 is what is sure,
// so a plate of 30 div in 1600 Ω, off the scale at 1800 Ω, is not refuted: 26.7
// div there, by Ohm's law.
func TestOffBesideZero(t *testing.T) {
	l := Loop{EMFHigh: 1.6, Divisions: 30, Zero: 5, Doubt: 1, FullScaleLow: 1e-3, Readings: []FirstReading{{SeriesOhm: 1800, OffScale: true, Zero: 5}}}
	if l.Bound().Refuted() {
		t.Error("the plate is called refuted by a needle off the scale with the zero at 5")
	}
	l.Readings[0].Zero = 0
	if !l.Bound().Refuted() {
		t.Error("with the zero at 0 the same reading refutes the plate")
	}
}

// TestBoundTolerance: a box of tolerance t may have had R1(1+t) at the reading
// and has R2(1-t) at worst. All by hand.
func TestBoundTolerance(t *testing.T) {
	// 10 ± 1 at 10 000 Ω, t = 0.1: 11·1.01·(1.1/0.9)·2 = 27.1578 at 5000 Ω.
	one := Loop{EMFHigh: 1.6, Divisions: 30, Doubt: 1, Tolerance: 0.1, Readings: []FirstReading{{SeriesOhm: 10000, Div: 10}}}
	// 15 ± 0.1 at 2000 Ω and 24 ± 0.1 at 1000 Ω, t = 0.01. The corner is where
	// 1010a + b = 1/(24.1·1.01) meets 1980a + b = 1/14.9: a = 2.68362e-5,
	// b = 0.0139784, and 792a + b = 0.0352326, so 28.3828 at 800 Ω.
	two := Loop{EMFHigh: 1.6, Divisions: 30, Doubt: 0.1, Tolerance: 0.01, RestHigh: 1000, Readings: []FirstReading{{SeriesOhm: 2000, Div: 15}, {SeriesOhm: 1000, Div: 24}}}
	// The first with a rest that may have been half a division off: it was 14.4
	// at least, so 1980a + b = 1/14.4 and a = 2.92386e-5, b = 0.0115520, and
	// 792a + b = 0.0347090.
	drifted := two
	drifted.Readings = []FirstReading{{SeriesOhm: 2000, Div: 15, Drift: 0.5}, {SeriesOhm: 1000, Div: 24}}
	// Two readings in a box of a million times the resistance.
	huge := two
	huge.RestHigh = 1e9 // as stated on its plate
	huge.Readings = []FirstReading{{SeriesOhm: 2e9, Div: 15}, {SeriesOhm: 1e9, Div: 24}}
	for _, tc := range []struct {
		name      string
		loop      Loop
		ohm, want float64
	}{
		{"one reading", one, 5000, 27.1578},
		{"two readings", two, 800, 28.3828},
		{"a rest that drifted", drifted, 800, 28.8110},
		{"two readings at 10⁹ Ω", huge, 8e8, 28.3828},
	} {
		if got, ok := tc.loop.Bound().Worst(tc.ohm); !ok || math.Abs(got-tc.want) > 1e-4 {
			t.Errorf("%s: Worst(%g) = %g, %t; want %g", tc.name, tc.ohm, got, ok, tc.want)
		}
	}
	// A plate of 1 mA in 30 div and 1.6 V, off the scale at R: that is refuted
	// where even R(1-t) should hold it, R·0.9 > 1600 Ω, from 1778 Ω on.
	off := Loop{EMFHigh: 1.6, Divisions: 30, Doubt: 1, Tolerance: 0.1, FullScaleLow: 1e-3, Readings: []FirstReading{{SeriesOhm: 1770, OffScale: true}}}
	if off.Bound().Refuted() {
		t.Error("1770 Ω of a box of 10 % refute the plate")
	}
	if off.Readings[0].SeriesOhm = 1785; !off.Bound().Refuted() {
		t.Error("1785 Ω of a box of 10 % do not refute the plate")
	}
}

// TestBoundFarApart: readings at resistances that lie millions of times apart
// bound no more than they say. A loop of 58.8 div·ohm and nothing but the box
// shows 58.8/13 = 4.523 at 13 Ω and 1.73e-6 at 34 MΩ, and 58.8 at 1 Ω.
func TestBoundFarApart(t *testing.T) {
	l := Loop{EMFHigh: 11, Divisions: 84, Doubt: 0.02, Readings: []FirstReading{{SeriesOhm: 3.4e7, Div: 58.8 / 3.4e7}, {SeriesOhm: 13, Div: 58.8 / 13}}}
	if got, ok := l.Bound().Worst(1); ok && got < 58.8 {
		t.Errorf("at 1 Ω bounded at %g; 58.8 is possible", got)
	}
}

// TestBoundStronger: at twice the EMF the needle goes twice as far.
func TestBoundStronger(t *testing.T) {
	l := Loop{EMFHigh: 3.2, Divisions: 30, Doubt: 1, Readings: []FirstReading{{SeriesOhm: 10000, Div: 10, EMFHigh: 2}}}
	if got, ok := l.Bound().Worst(10000); !ok || math.Abs(got-22.22) > 1e-9 { // 11·1.01·2
		t.Errorf("Worst = %g, %t; want 22.22", got, ok)
	}
	l.Readings[0].EMFHigh = 0.5 // a weaker source is not relied on
	if got, _ := l.Bound().Worst(10000); math.Abs(got-11.11) > 1e-9 {
		t.Errorf("Worst = %g with a weaker source; want 11.11", got)
	}
}

// TestBoundOfAnotherSource: a reading whose source may have been replaced by any
// other limits nothing, neither alone nor beside one off the scale; one with the
// present source does: 20.5·1.01·5000/4000 = 25.88.
func TestBoundOfAnotherSource(t *testing.T) {
	was := FirstReading{SeriesOhm: 10000, Div: 10, EMFHigh: math.Inf(1)}
	for _, rs := range [][]FirstReading{{was}, {was, {SeriesOhm: 2000, OffScale: true}}} {
		if got, ok := (Loop{EMFHigh: 1.6, Divisions: 30, Doubt: 0.5, Readings: rs}).Bound().Worst(10000); ok {
			t.Errorf("%+v bounds at %g", rs, got)
		}
	}
	l := Loop{EMFHigh: 1.6, Divisions: 30, Doubt: 0.5, Readings: []FirstReading{was, {SeriesOhm: 5000, Div: 20}}}
	if got, ok := l.Bound().Worst(4000); !ok || math.Abs(got-25.88125) > 1e-9 {
		t.Errorf("Worst(4000) = %g, %t; want 25.88125", got, ok)
	}
}

// TestBoundWeaker: at half the EMF the same reading is of a loop twice as
// ready. 20 ± 0.5 div at 10 000 Ω, then half the EMF and 20 ± 0.5 at 5000 Ω, is
// a loop of 100 000 div·ohm and nothing beside the box: 20 at 5000 Ω is 25 at
// 4000 Ω. Had the first been of the present EMF, most of the loop's resistance
// would have to lie outside the box, and 4000 Ω would look harmless.
func TestBoundWeaker(t *testing.T) {
	l := Loop{EMFHigh: 1.6, Divisions: 30, Doubt: 0.5, RestHigh: 1e5, Readings: []FirstReading{{SeriesOhm: 10000, Div: 20, EMFLow: 0.5, EMFHigh: 0.5}, {SeriesOhm: 5000, Div: 20}}}
	if got, ok := l.Bound().Worst(4000); !ok || got < 25 {
		t.Errorf("at 4000 Ω bounded at %g, %t; 25 is true", got, ok)
	}
	if l.Bound().Torn() {
		t.Error("20 div with the whole EMF contradict 20 div with half of it at half the resistance")
	}
	l.Readings[0].EMFLow = 0
	if got, ok := l.Bound().Worst(4000); !ok || got >= 25 {
		t.Errorf("with readings of one EMF bounded at %g, %t; the test tells nothing", got, ok)
	}
	// The same where the needle was beyond the end at 5000 Ω before: at half the
	// EMF that is 15 div or more, and no contradiction to 16 there.
	l.Readings = []FirstReading{{SeriesOhm: 5000, OffScale: true, EMFLow: 0.5, EMFHigh: 1}, {SeriesOhm: 5000, Div: 16}}
	if l.Bound().Torn() {
		t.Error("off the scale at twice the EMF contradicts 16 div now")
	}
}

// TestBoundLone: 1.4 ± 0.3 div at 11 100 Ω and 10.2 at 690 Ω fit one another
// with 515 Ω or more outside the box: 1/1.1 >= 11 100 a + b and
// 690 a + b >= 1/(10.5·1.01) give a <= 7.83e-5 and b >= 0.0403. Read once that proves nothing:
// 40 Ω is bounded by the first alone, 1.7·1.01·11 100/40 = 476.5. Read twice, at
// two values, or with a galvanometer stated as such, it counts.
func TestBoundLone(t *testing.T) {
	once := Loop{EMFHigh: 1.6, Divisions: 30, Doubt: 0.3, Readings: []FirstReading{{SeriesOhm: 11100, Div: 1.4}, {SeriesOhm: 690, Div: 10.2}}}
	b := once.Bound()
	if got, ok := b.Worst(40); !b.Lone() || b.Torn() || !ok || math.Abs(got-476.4675) > 1e-9 {
		t.Errorf("read once: lone %t, torn %t, Worst(40) = %g, %t; want 476.4675", b.Lone(), b.Torn(), got, ok)
	}
	twice, between, stated := once, once, once
	twice.Readings = append(slices.Clone(once.Readings), FirstReading{SeriesOhm: 690, Div: 10.2})
	between.Readings = append(slices.Clone(once.Readings), FirstReading{SeriesOhm: 800, Div: 9.3})
	stated.RestHigh = 900
	for name, l := range map[string]Loop{"read twice": twice, "read at two values": between, "stated": stated} {
		b := l.Bound()
		if got, ok := b.Worst(40); b.Lone() || !ok || got > 30 {
			t.Errorf("%s: lone %t, Worst(40) = %g, %t", name, b.Lone(), got, ok)
		}
	}
	// A plate still bounds what the lone reading does not.
	plate := once
	plate.FullScaleLow = 0.9e-3
	if got, ok := plate.Bound().Worst(1600); !ok || got > 34 {
		t.Errorf("with a plate: Worst(1600) = %g, %t", got, ok)
	}
	// Nothing is lone that lies within a usual galvanometer.
	usual := once
	usual.Readings = []FirstReading{{SeriesOhm: 11100, Div: 1.4}, {SeriesOhm: 690, Div: 17}}
	if usual.Bound().Lone() {
		t.Error("17 div at 690 Ω are of a usual galvanometer")
	}
}

// TestBoundBelievesNoGreatRest: 10 div at 11 110 Ω and 11.5 at 4550 Ω fit one
// another only with 38 kΩ outside the box; with a plug out at the second, at
// 9550 Ω, they are of 112 100 div·ohm and 100 Ω, which gives 50.5 at 2120 Ω.
func TestBoundBelievesNoGreatRest(t *testing.T) {
	l := Loop{EMFHigh: 1.6, Divisions: 30, Doubt: 0.95, Readings: []FirstReading{{SeriesOhm: 11110, Div: 10}, {SeriesOhm: 4550, Div: 11.5}}}
	b := l.Bound()
	if got, ok := b.Worst(2120); !b.Torn() || ok && got < 50.5 {
		t.Errorf("torn %t, at 2120 Ω bounded at %g; 50.5 is possible", b.Torn(), got)
	}
	l.RestHigh = 1e5
	if b := l.Bound(); b.Torn() {
		t.Error("torn though the plate allows the rest of the loop")
	}
}

// TestBoundOneReadingAgainstPlate: a plate of 0.5 mA in 30 div at 1.5 V lets
// expect 24 at 3750 Ω. A single 3 there does not unsay that: the worst stays
// the plate's 1.5 V/(1000 Ω · 0.5 mA/30 div) = 90 at 1000 Ω. Two such readings do.
func TestBoundOneReadingAgainstPlate(t *testing.T) {
	l := Loop{EMFHigh: 1.5, Divisions: 30, Doubt: 0.95, FullScaleLow: 0.5e-3, Readings: []FirstReading{{SeriesOhm: 3750, Div: 3}}}
	if got, ok := l.Bound().Worst(1000); !ok || math.Abs(got-90) > 1e-9 {
		t.Errorf("after one low reading %g, %t at 1000 Ω; want the plate's 90", got, ok)
	}
	l.Readings = append(l.Readings, l.Readings[0])
	if got, ok := l.Bound().Worst(1000); !ok || got > 20 {
		t.Errorf("after two low readings %g, %t at 1000 Ω; they bound it at 15", got, ok)
	}
	// One not far below the plate's is believed: 12 there bounds 1000 Ω at 49.
	l.Readings = []FirstReading{{SeriesOhm: 3750, Div: 13}}
	if got, ok := l.Bound().Worst(1000); !ok || got > 60 {
		t.Errorf("after a fair reading %g, %t at 1000 Ω; it bounds it at 53", got, ok)
	}
}

// TestBoundDrift: 15 div read after a zero of −5 that was 0 at the next look is
// 15 ± 2.5 from where the needle may have rested.
func TestBoundDrift(t *testing.T) {
	l := Loop{EMFHigh: 1.6, Divisions: 30, Doubt: 0.5, Readings: []FirstReading{{SeriesOhm: 10000, Div: 12.5, Zero: 5, Drift: 2.5}}}
	if got, ok := l.Bound().Worst(10000); !ok || math.Abs(got-15.5*1.01) > 1e-9 {
		t.Errorf("at 10000 Ω bounded at %g, %t; want 15.655", got, ok)
	}
}

// TestPlateUnsaid: a single reading takes a plate's place only where it leaves
// half of the stated sensitivity at least, 1000 Ω beside the box allowed for. By
// hand: 10 ± 0.1 at 9000 Ω leave k/E of 1/(10.1·1.01·10 000 Ω) = 9.803e-6; half
// of it is 4.90e-6. Of a box of 20 % the loop has up to 11 800 Ω, and half is
// 4.15e-6. Where the plate stays, 1/(plate · 5000 Ω · (1 − t)) is the worst at
// 5000 Ω; else 10.201·(1 + t)/(1 − t)·9000/5000.
func TestPlateUnsaid(t *testing.T) {
	for _, tc := range []struct {
		plate, tolerance, want float64
	}{
		{4.7e-6, 0, 1 / (4.7e-6 * 5000)},
		{5.0e-6, 0, 10.201 * 9 / 5},
		{4.0e-6, 0.2, 1 / (4.0e-6 * 5000 * 0.8)},
		{4.5e-6, 0.2, 10.201 * 1.5 * 9 / 5},
	} {
		l := Loop{EMFHigh: 1.5, Divisions: 30, Doubt: 0.1, Tolerance: tc.tolerance, FullScaleLow: tc.plate * 1.5 * 30, Readings: []FirstReading{{SeriesOhm: 9000, Div: 10}}}
		if got, ok := l.Bound().Worst(5000); !ok || math.Abs(got-tc.want) > 1e-4*tc.want {
			t.Errorf("plate %g, tolerance %g: Worst(5000) = %g, %t; want %g", tc.plate, tc.tolerance, got, ok, tc.want)
		}
	}
}

// TestRefutedAlone: readings that refute the plate and agree among themselves
// are not torn: 10 ± 1 at 10 000 Ω where the plate lets go to 4.8. Where they
// agree only with tens of kilo-ohms beside the box they are.
func TestRefutedAlone(t *testing.T) {
	l := Loop{EMFHigh: 1.6, Divisions: 30, Doubt: 1, FullScaleLow: 1e-3, Readings: []FirstReading{{SeriesOhm: 10000, Div: 10}}}
	if b := l.Bound(); !b.Refuted() || b.Torn() {
		t.Errorf("one reading: refuted %t, torn %t; want only the first", b.Refuted(), b.Torn())
	}
	// 1/θ = aR + b: (1/10 − 1/11)/5000 Ω = 1.8e-6 and b = 0.082, so b/a = 45 kΩ.
	l.Doubt, l.Readings = 0.1, []FirstReading{{SeriesOhm: 10000, Div: 10}, {SeriesOhm: 5000, Div: 11}}
	if b := l.Bound(); !b.Refuted() || !b.Torn() {
		t.Errorf("two readings: refuted %t, torn %t; want both", b.Refuted(), b.Torn())
	}
}

// TestBoundWithoutBox: with nothing in the box one reading does not bound the
// needle: all of the loop's resistance may have been there.
func TestBoundWithoutBox(t *testing.T) {
	l := Loop{EMFHigh: 1.6, Divisions: 30, Doubt: 1, Readings: []FirstReading{{SeriesOhm: 10000, Div: 10}}}
	if got, ok := l.Bound().Worst(0); ok {
		t.Errorf("at 0 Ω bounded at %g", got)
	}
	// 1/θ = aR + b: 25 ± 0.1 at 100 Ω and 24 ± 0.1 at 300 Ω leave b above 0 at
	// every corner, for then 200a <= 1/23.9 - 1/(25.1·1.01).
	// That is of some 5 000 Ω beside the box, which its plate must allow.
	l.Doubt, l.RestHigh, l.Readings = 0.1, 1e4, []FirstReading{{SeriesOhm: 100, Div: 25}, {SeriesOhm: 300, Div: 24}}
	if got, ok := l.Bound().Worst(0); !ok || got < 25 || got > 30 {
		t.Errorf("at 0 Ω %g, %t; the rest of the loop bounds it between 25 and 30", got, ok)
	}
	if least, ok := l.Bound().Least(30); !ok || least != 0 {
		t.Errorf("Least(30) = %g, %t; want 0: the rest of the loop is enough", least, ok)
	}
}

// TestLeastBeyond: a deflection that was passed already is kept by no
// resistance in the box: all of the loop's may lie outside it.
func TestLeastBeyond(t *testing.T) {
	l := Loop{EMFHigh: 1.6, Divisions: 30, Doubt: 1, Readings: []FirstReading{{SeriesOhm: 1000, Div: 20}}}
	if got, ok := l.Bound().Least(10); ok {
		t.Errorf("below 10 div from %g ohm on, where 20 were read", got)
	}
}

// TestTornByOff: where a needle off the scale contradicts the readings, nothing
// is proven by them.
func TestTornByOff(t *testing.T) {
	l := Loop{EMFHigh: 1.6, Divisions: 30, Doubt: 0.5, Readings: []FirstReading{{SeriesOhm: 10000, Div: 5}, {SeriesOhm: 11000, OffScale: true}}}
	b := l.Bound()
	if !b.Torn() || b.Refuted() {
		t.Errorf("torn %t, refuted %t; want only the first: no full scale is stated", b.Torn(), b.Refuted())
	}
	if got, ok := b.Worst(10000); ok {
		t.Errorf("bounded at %g", got)
	}
	if got, ok := b.Least(30); ok {
		t.Errorf("safe from %g ohm on", got)
	}
}

// TestTorn: of readings that contradict one another the loosest counts.
func TestTorn(t *testing.T) {
	l := Loop{EMFHigh: 1.6, Divisions: 30, Doubt: 0.5, Readings: []FirstReading{{SeriesOhm: 10000, Div: 5}, {SeriesOhm: 10000, Div: 20}}}
	b := l.Bound()
	if !b.Torn() {
		t.Fatal("5 and 20 div at one setting do not contradict one another")
	}
	got, ok := b.Worst(10000)
	if want := 20.5 * 1.01; !ok || math.Abs(got-want) > 1e-6*want { // corners are cut from a box 10⁷ wide
		t.Errorf("Worst = %g, %t; want the looser reading's own %g", got, ok, want)
	}
}

// TestBoundHolds: whatever the bench is, no deflection passes the bound, and
// at the least safe value it does not pass the end of the scale. The benches
// lie far beyond a school's range on purpose.
func TestBoundHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(lo, hi float64, name string) float64 { // log-uniform
			return math.Exp(rapid.Float64Range(math.Log(lo), math.Log(hi)).Draw(t, name))
		}
		emf, r, g, k := draw(0.3, 12, "emf"), draw(0.01, 50, "r"), draw(5, 2000, "G"), draw(1e-7, 1e-4, "k")
		tol := draw(1e-4, 0.05, "tolerance")
		n, doubt := 30.0, draw(0.02, 2, "doubt")
		zero := rapid.Float64Range(-7, 7).Draw(t, "zero")
		gain := 1 + tol*rapid.Float64Range(-1, 1).Draw(t, "box error")
		theta := func(ohm float64) float64 {
			d, err := physics.FirstDeflection(emf, ohm*gain+r, g, k)
			if err != nil {
				t.Fatal(err)
			}
			return d
		}
		l := Loop{EMFHigh: emf * draw(1, 1.2, "EMF headroom"), Tolerance: tol, Divisions: n, Doubt: doubt, Still: doubt / 2, Zero: math.Abs(zero)}
		if rapid.Bool().Draw(t, "rest stated") {
			l.RestHigh = g + r
		}
		if rapid.Bool().Draw(t, "plate") {
			l.FullScaleLow = k * n * rapid.Float64Range(0.5, 1).Draw(t, "plate low")
		}
		ohm := draw(500, 1e5, "first R")
		for range rapid.IntRange(0, 5).Draw(t, "readings") {
			read := theta(ohm) + doubt*rapid.Float64Range(-1, 1).Draw(t, "misread")
			if read < 0 {
				read = 0
			}
			f := FirstReading{SeriesOhm: ohm, Div: min(read, n-zero), Zero: math.Abs(zero)}
			if theta(ohm)+zero > n { // a needle beyond the end is not taken for one on the scale
				f.OffScale = true
			}
			l.Readings = append(l.Readings, f)
			ohm *= rapid.Float64Range(0.2, 1.5).Draw(t, "step")
		}
		b := l.Bound()
		if believed := g+r <= max(MostRest, l.RestHigh); believed && b.Torn() || b.Refuted() {
			t.Fatalf("true readings are said to contradict something: %+v", l)
		}
		try := draw(10, 1e5, "R")
		if w, ok := b.Worst(try); ok && theta(try) > w*(1+1e-9) {
			t.Fatalf("at %g ohm the needle goes to %g, bounded at %g: %+v", try, theta(try), w, l)
		}
		if least, ok := b.Least(l.Room()); ok && theta(math.Max(least, 1e-3))+zero > n*(1+1e-9) {
			t.Fatalf("at %g ohm, said to be safe, the needle goes to %g: %+v", least, theta(math.Max(least, 1e-3)), l)
		}
	})
}

// TestLeastIsWorst: the two questions have one answer.
func TestLeastIsWorst(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := Loop{
			EMFHigh: rapid.Float64Range(0.5, 5).Draw(t, "E"), Tolerance: rapid.Float64Range(0, 0.05).Draw(t, "t"),
			Divisions: 30, Doubt: rapid.Float64Range(0.05, 2).Draw(t, "d"), FullScaleLow: rapid.Float64Range(1e-5, 1e-2).Draw(t, "I"),
			Readings: []FirstReading{{SeriesOhm: rapid.Float64Range(100, 1e5).Draw(t, "R"), Div: rapid.Float64Range(3, 29).Draw(t, "θ")}},
		}
		b := l.Bound()
		least, ok := b.Least(30)
		if !ok {
			t.Fatalf("a plate and a reading bound nothing: %+v", l)
		}
		if w, ok := b.Worst(least * 1.001); least > 0 && (!ok || w > 30*(1+1e-9)) {
			t.Fatalf("just above Least(30) the worst is %g, %t: %+v", w, ok, l)
		}
		if w, ok := b.Worst(least * 0.99); least > 0 && ok && w < 30*(1-1e-9) {
			t.Fatalf("below Least(30) the worst is only %g: %+v", w, l)
		}
	})
}
