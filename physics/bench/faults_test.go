package bench

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// faulty is a bench of known truth with a fault of the given name. On the
// sound bench R = 4000 ohm gives 1.5/(4000 + 1 + 99)/20e-6 = 18.29 divisions,
// and S = 96.63 ohm halves it (R∥G = 4001·99/4100).
func faulty(t *testing.T, id string, seed uint64) *Bench {
	t.Helper()
	stated := Stock(rand.New(rand.NewPCG(7, 7)))
	stated.Galvanometer.Divisions, stated.Galvanometer.Zero, stated.Galvanometer.Resolution = 30, "centre", 0.5
	stated.SeriesBox.Kind, stated.SeriesBox.Coils, stated.SeriesBox.Dials = "decade", nil, []float64{1000, 100, 10, 1}
	stated.ShuntBox.Kind, stated.ShuntBox.Coils, stated.ShuntBox.Dials = "decade", nil, []float64{100, 10, 1}
	r := rand.New(rand.NewPCG(seed, 1))
	h := Draw(stated, r)
	h.EMF, h.SourceResistance, h.Resistance, h.Merit, h.Zero = 1.5, 1, 99, 20e-6, 0
	clear(h.SeriesErrors)
	clear(h.ShuntErrors)
	b, err := New(stated, h, r)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Plant(id); err != nil {
		t.Fatal(err)
	}
	if b.SetSeries(4000, nil) != nil || b.SetShunt(97, nil) != nil {
		t.Fatal("the boxes cannot be set")
	}
	return b
}

func (b *Bench) see(k2 bool) (div float64, off bool) {
	b.SetKeys(true, k2)
	defer b.SetKeys(false, false)
	return b.Read()
}

// Planted faults show as they do at a bench. The sound readings are 18.5 and
// 9 (or 9.5) to half a division.
func TestPlant(t *testing.T) {
	near := func(got, want float64) bool { return math.Abs(got-want) <= 1 }
	for id, right := range map[string]func(one, two float64, oneOff, twoOff bool) bool{
		"no-current":           func(one, two float64, _, _ bool) bool { return one == 0 && two == 0 },
		"reversed":             func(one, two float64, _, _ bool) bool { return near(one, -18.5) && near(two, -9) },
		"shunt-open":           func(one, two float64, _, _ bool) bool { return near(one, 18.5) && near(two, 18.5) },
		"shunt-shorted":        func(one, two float64, _, _ bool) bool { return near(one, 18.5) && near(two, 0) },
		"shunt-already-closed": func(one, two float64, _, _ bool) bool { return near(one, 9) && near(two, 9) },
		"series-bypassed":      func(_, _ float64, one, _ bool) bool { return one },
		"boxes-exchanged":      func(_, _ float64, one, _ bool) bool { return one },
		"far-end":              func(one, two float64, _, _ bool) bool { return near(one, 11.5) && near(two, 21) },
		"source-doubled":       func(_, two float64, one, _ bool) bool { return one && near(two, 18.5) },
		"shunt-across-series":  func(one, _ float64, _, two bool) bool { return near(one, 18.5) && two },
	} {
		t.Run(id, func(t *testing.T) {
			b := faulty(t, id, 3)
			one, oneOff := b.see(false)
			two, twoOff := b.see(true)
			if !right(one, two, oneOff, twoOff) {
				t.Errorf("reads %g (off %v), %g (off %v)", one, oneOff, two, twoOff)
			}
			if b.Look("something else") || b.Fault() != id {
				t.Error("looking for something else put it right")
			}
			if !b.Look(id) || b.Fault() != "" {
				t.Error("looking for it did not put it right")
			}
			if one, _ := b.see(false); !near(one, 18.5) {
				t.Errorf("mended, it reads %g", one)
			}
		})
	}
}

// A slip of one setting is made once and stays with its setting; one of a
// reading is made at one closing of K1.
func TestPlantedSlips(t *testing.T) {
	for seed := range uint64(20) {
		b := faulty(t, "series-plug", seed)
		b.planted.Span = 1 // of one row
		wrong := 0
		for _, ohm := range []float64{4000, 3500, 4000, 5000} {
			if err := b.SetSeries(ohm, nil); err != nil {
				t.Fatal(err)
			}
			if b.planted.delta != 0 {
				wrong++
			}
		}
		if wrong > 2 {
			t.Errorf("seed %d: %d settings are wrong, want those of one value", seed, wrong)
		}
		b = faulty(t, "wrong-side", seed)
		left := 0
		for range 6 {
			if div, _ := b.see(false); div < 0 {
				left++
			}
		}
		if left != 1 {
			t.Errorf("seed %d: %d of six readings on the wrong side, want 1", seed, left)
		}
		b = faulty(t, "series-moved", seed)
		before, _ := b.see(false)
		b.see(true)
		after, off := b.see(false)
		b.SetSeries(4000, nil)
		again, _ := b.see(false)
		if b.planted.moved != nil || math.Abs(before-again) > 1 || !off && b.planted.delta != 0 && math.Abs(*b.planted.spent-4000) > 1e-9 {
			t.Errorf("seed %d: %g before, %g after, %g when set again", seed, before, after, again)
		}
	}
}

// A pointer that was shifted rests elsewhere once the needle has swung, and
// what the pointer does is seen on the scale.
func TestPointerFaults(t *testing.T) {
	b := faulty(t, "zero-off", 5)
	if b.Deflection() != 0 {
		t.Errorf("before it has swung it rests at %g", b.Deflection())
	}
	b.see(false)
	if shift := b.planted.size(); math.Abs(b.Deflection()-shift) > 1e-12 || shift == 0 {
		t.Errorf("it rests at %g, shifted by %g", b.Deflection(), shift)
	}
}

// What goes wrong in writing: halves that nobody read, and K2 worked the wrong
// way. The sound readings are 18.5 and 9 (or 9.5) of thirty.
func TestPlantedInWriting(t *testing.T) {
	half := func(b *Bench, ohm float64) (first, second float64) {
		if err := b.SetSeries(ohm, nil); err != nil {
			t.Fatal(err)
		}
		first, _ = b.see(false)
		second, _ = b.see(true)
		return first, second
	}
	b := faulty(t, "computed-not-read", 3)
	b.SetShunt(60, nil)
	if one, two := half(b, 4000); two != one/2 && two != one/2+0.25 && two != one/2-0.25 {
		t.Errorf("computed: %g, %g; want the half, rounded to half a division", one, two)
	}

	// The half of the end of the scale in the first row, of the row before in
	// the next; the slip is made once.
	b = faulty(t, "half-missed", 3)
	if one, two := half(b, 4000); two != 15 {
		t.Errorf("half missed: %g, %g; want 15, the half of the scale", one, two)
	}
	if _, again := half(b, 4000); again != 15 {
		t.Errorf("half missed: %g when read again, want 15", again)
	}
	// 1.5/(2800 + 100)/20e-6 = 25.9 divisions.
	if one, two := half(b, 2800); math.Abs(two-one/2) > 1 {
		t.Errorf("half missed once: %g, %g afterwards", one, two)
	}
	b = faulty(t, "no-current", 3)
	b.Look("no-current")
	first, _ := half(b, 4000)
	if err := b.Plant("half-missed"); err != nil {
		t.Fatal(err)
	}
	if one, two := half(b, 2800); math.Abs(two-first/2) > 0.25 {
		t.Errorf("half missed: %g, %g; want the half of %g", one, two, first)
	}

	b = faulty(t, "columns-swapped", 3)
	if one, two := half(b, 4000); math.Abs(one-9) > 1 || math.Abs(two-18.5) > 1 {
		t.Errorf("K2 the wrong way: %g, %g", one, two)
	}
}

func TestPlantUnknown(t *testing.T) {
	b := faulty(t, "no-current", 1)
	if err := b.Plant("no-such-fault"); err == nil || !strings.Contains(err.Error(), "shunt-open") {
		t.Errorf("got %v, want a list of what there is", err)
	}
	if b.Fault() != "no-current" {
		t.Error("a refused fault changed the bench")
	}
	for id, why := range map[string]string{"unexplained": "nothing known fits", "bench-unfit": "bench file"} {
		if err := b.Plant(id); err == nil || !strings.Contains(err.Error(), why) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v, want the reason in a line", id, err)
		}
	}
	left := faulty(t, "no-current", 1)
	left.stated.Galvanometer.Zero = "left"
	if err := left.Plant("wrong-side"); err == nil || !strings.Contains(err.Error(), "zero at the left") {
		t.Errorf("wrong-side on a left zero: %v", err)
	}
	for range 50 {
		if err := b.Plant("any"); err != nil || b.Fault() == "" {
			t.Fatalf("any: %v, %q", err, b.Fault())
		}
	}
}
