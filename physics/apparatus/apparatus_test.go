package apparatus

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func plug(coils ...float64) Box   { return Box{Kind: Plug, Coils: coils, Tolerance: 0.01} }
func decade(dials ...float64) Box { return Box{Kind: Decade, Dials: dials, Tolerance: 0.01} }

// usual is the 1-2-2-5 set over the given decades.
func usual(decades ...float64) []float64 {
	var c []float64
	for _, d := range decades {
		c = append(c, d, 2*d, 2*d, 5*d)
	}
	return c
}

func newRange(t testing.TB, b Box) *Range {
	t.Helper()
	r, err := NewRange(b)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// everySum lists by brute force every value a box can make with the fewest
// plugs out (or steps in use) for it, ascending.
func everySum(b Box) (ohm []float64, fewest []int) {
	steps, times := b.Coils, 1
	if b.Kind == Decade {
		steps, times = b.Dials, DialSteps
	}
	type sum struct {
		ohm float64
		n   int
	}
	all := []sum{{}}
	for _, c := range steps {
		for _, s := range slices.Clone(all) {
			for k := 1; k <= times; k++ {
				all = append(all, sum{s.ohm + float64(k)*c, s.n + k})
			}
		}
	}
	slices.SortFunc(all, func(a, b sum) int {
		if math.Abs(a.ohm-b.ohm) > 1e-7 {
			return int(math.Copysign(1, a.ohm-b.ohm))
		}
		return a.n - b.n
	})
	for _, s := range all {
		if n := len(ohm); n == 0 || s.ohm-ohm[n-1] > 1e-7 {
			ohm, fewest = append(ohm, s.ohm), append(fewest, s.n)
		}
	}
	return ohm, fewest
}

// sound checks that a setting is made of the box's own parts, largest first,
// and that they make its value.
func sound(b Box, s Setting) error {
	left := slices.Clone(b.Coils)
	for range DialSteps {
		left = append(left, b.Dials...)
	}
	total := 0.0
	for i, c := range s.Coils {
		at := slices.Index(left, c)
		if at < 0 {
			return fmt.Errorf("there is no part of %g ohm left for %v", c, s.Coils)
		}
		left = slices.Delete(left, at, at+1)
		if i > 0 && c > s.Coils[i-1] {
			return fmt.Errorf("%v is not largest first", s.Coils)
		}
		total += c
	}
	if math.Abs(total-s.Ohm) > 1e-6 {
		return fmt.Errorf("%v make %g ohm, not %g", s.Coils, total, s.Ohm)
	}
	return nil
}

// boxes of every kind that is small enough for brute force.
func boxes() map[string]Box {
	return map[string]Box{
		"one coil":            plug(10),
		"two alike":           plug(5, 5),
		"1-2-2-5":             plug(usual(1)...),
		"two decades of it":   plug(usual(1, 10)...),
		"tenths of an ohm":    plug(usual(0.1, 1, 10)...),
		"1, 3, 7, 20":         plug(1, 3, 7, 20),
		"in no order":         plug(20, 1, 7, 3, 7),
		"nothing fits":        plug(1.7, 3.14, 11, 29.5, 100),
		"one dial":            decade(10),
		"two dials":           decade(1, 10),
		"three dials":         decade(100, 10, 1),
		"dials 1000, 300":     decade(1000, 300),
		"dials 7, 30, 100":    decade(7, 30, 100),
		"two dials of a kind": decade(10, 10, 1),
		"far apart":           plug(0.001, 1e6),
	}
}

// TestEverySetting asks for every value a box can make, and for values
// between, and compares with the list of all its sums.
func TestEverySetting(t *testing.T) {
	for name, b := range boxes() {
		t.Run(name, func(t *testing.T) {
			r := newRange(t, b)
			ohm, fewest := everySum(b)
			check := func(what string, x float64, got Setting, ok bool, want float64) {
				t.Helper()
				if !ok || math.Abs(got.Ohm-want) > 1e-6 {
					t.Errorf("%s of %g: got %g (%v), want %g", what, x, got.Ohm, ok, want)
				} else if err := sound(b, got); err != nil {
					t.Errorf("%s of %g: %v", what, x, err)
				}
			}
			for i, x := range ohm {
				s, ok := r.Exact(x)
				check("exact", x, s, ok, x)
				if b.Kind == Plug && len(s.Coils) != fewest[i] {
					t.Errorf("%g ohm by %v, want %d plugs out", x, s.Coils, fewest[i])
				}
				if i == 0 {
					continue
				}
				lo, gap := ohm[i-1], x-ohm[i-1]
				for _, part := range []float64{0.1, 0.5, 0.9} {
					y := lo + part*gap
					s, ok := r.Floor(y)
					check("floor", y, s, ok, lo)
					s, ok = r.Ceil(y)
					check("ceil", y, s, ok, x)
					if part == 0.5 {
						continue // rounding decides
					}
					want := lo
					if part > 0.5 {
						want = x
					}
					s, ok = r.Nearest(y)
					check("nearest", y, s, ok, want)
					if s, ok := r.Exact(y); ok {
						t.Errorf("exact %g: got %g, want none", y, s.Ohm)
					}
				}
			}
			if got := r.Max(); math.Abs(got-ohm[len(ohm)-1]) > 1e-6 {
				t.Errorf("max %g, want %g", got, ohm[len(ohm)-1])
			}
			if len(ohm) > 1 && math.Abs(r.Least()-ohm[1]) > 1e-9 {
				t.Errorf("least %g, want %g", r.Least(), ohm[1])
			}
			if got := r.Box(); !reflect.DeepEqual(got, b) {
				t.Errorf("box %+v, want %+v", got, b)
			}
		})
	}
}

// The usual sixteen-coil set makes every whole number up to 11110 ohm, each
// with the plugs one would take out by hand: for each figure of the number
// the fewest of 1, 2, 2, 5.
func TestUsualSet(t *testing.T) {
	r := newRange(t, plug(usual(1, 10, 100, 1000)...))
	plugsFor := []int{0, 1, 1, 2, 2, 1, 2, 2, 3, 3} // 0, 1, 2, 2+1, 2+2, 5, 5+1, 5+2, 5+2+1, 5+2+2
	for x := range 10000 {
		s, ok := r.Exact(float64(x))
		if err := sound(r.Box(), s); !ok || err != nil || s.Ohm != float64(x) {
			t.Fatalf("%d ohm: got %v (%v, %v)", x, s, ok, err)
		}
		want := 0
		for y := x; y > 0; y /= 10 {
			want += plugsFor[y%10]
		}
		if len(s.Coils) > want {
			t.Fatalf("%d ohm by %v, want %d plugs out at most", x, s.Coils, want)
		}
	}
	for _, c := range []struct {
		ohm  float64
		want []float64
	}{
		{3700, []float64{2000, 1000, 500, 200}}, // domain notes B2
		{8200, []float64{5000, 2000, 1000, 200}},
		{95, []float64{50, 20, 20, 5}},
		{11110, []float64{5000, 2000, 2000, 1000, 500, 200, 200, 100, 50, 20, 20, 10, 5, 2, 2, 1}},
	} {
		if s, ok := r.Exact(c.ohm); !ok || !slices.Equal(s.Coils, c.want) {
			t.Errorf("%g ohm by %v, want %v", c.ohm, s.Coils, c.want)
		}
	}
}

// A decade box is set as its dials read: the figures of the number.
func TestDecadesReadDirectly(t *testing.T) {
	r := newRange(t, decade(1, 10, 100, 1000))
	for x := range 10000 {
		want := []int{x % 10, x / 10 % 10, x / 100 % 10, x / 1000}
		for name, ask := range map[string]func(float64) (Setting, bool){"exact": r.Exact, "floor": r.Floor, "ceil": r.Ceil, "nearest": r.Nearest} {
			s, ok := ask(float64(x))
			if got := r.Multiset(s); !ok || !slices.Equal(got, want) {
				t.Fatalf("%s %d: dials at %v, want %v", name, x, got, want)
			}
		}
	}
	if s, ok := r.Exact(11110); !ok || !slices.Equal(r.Multiset(s), []int{10, 10, 10, 10}) {
		t.Errorf("11110 ohm: dials at %v, want all at ten", r.Multiset(s))
	}
}

func TestAskedForTheImpossible(t *testing.T) {
	for name, b := range map[string]Box{"plug": plug(usual(1, 10)...), "decade": decade(10, 1)} {
		t.Run(name, func(t *testing.T) {
			r := newRange(t, b)
			for _, c := range []struct {
				name string
				ask  func(float64) (Setting, bool)
				ohm  float64
				want float64 // NaN: refused
			}{
				{"floor", r.Floor, -1, math.NaN()}, {"ceil", r.Ceil, -1, 0}, {"nearest", r.Nearest, -1, math.NaN()}, {"exact", r.Exact, -1, math.NaN()},
				{"floor", r.Floor, 500, 110}, {"ceil", r.Ceil, 500, math.NaN()}, {"nearest", r.Nearest, 500, 110}, {"exact", r.Exact, 500, math.NaN()},
				{"floor", r.Floor, math.NaN(), math.NaN()}, {"ceil", r.Ceil, math.NaN(), math.NaN()}, {"nearest", r.Nearest, math.NaN(), math.NaN()}, {"exact", r.Exact, math.NaN(), math.NaN()},
				{"floor", r.Floor, math.Inf(1), 110}, {"ceil", r.Ceil, math.Inf(1), math.NaN()}, {"nearest", r.Nearest, math.Inf(1), 110}, {"exact", r.Exact, math.Inf(1), math.NaN()},
				{"floor", r.Floor, 0, 0}, {"ceil", r.Ceil, 0, 0}, {"nearest", r.Nearest, 0, 0}, {"exact", r.Exact, 0, 0},
			} {
				s, ok := c.ask(c.ohm)
				if ok == math.IsNaN(c.want) || ok && s.Ohm != c.want {
					t.Errorf("%s of %g: got %g, %v; want %g", c.name, c.ohm, s.Ohm, ok, c.want)
				}
			}
		})
	}
	if s, ok := newRange(t, decade(2)).Nearest(3); !ok || s.Ohm != 4 {
		t.Errorf("3 ohm on a dial of 2: got %g, want the larger of 2 and 4", s.Ohm)
	}
}

// A plug box with too many different sums for a table is searched; where the
// set is a usual one with odd coils beside it, the answer is close.
func TestBoxTooLargeForATable(t *testing.T) {
	coils := usual(1, 10, 100, 1000, 10000)
	r := newRange(t, plug(append(coils, 0.1, 0.2, 0.2, 0.5)...))
	if r.table != nil {
		t.Fatal("a box of 1.1 million sums has a table")
	}
	rnd := rand.New(rand.NewPCG(1, 2))
	for range 500 {
		x := float64(rnd.IntN(1_000_000)) / 10
		s, ok := r.Exact(x)
		if err := sound(r.Box(), s); !ok || err != nil {
			t.Errorf("%g ohm: %v, %v, %v", x, s, ok, err)
		}
	}
}

func TestSum(t *testing.T) {
	r := newRange(t, plug(usual(1, 10)...))
	for _, c := range []struct {
		name  string
		coils []float64
		want  []float64 // nil: refused
	}{
		{"largest first", []float64{50, 20, 5}, []float64{50, 20, 5}},
		{"in another order", []float64{5, 20, 50}, []float64{50, 20, 5}},
		{"two of a kind", []float64{20, 20}, []float64{20, 20}},
		{"three of a kind", []float64{20, 20, 20}, nil},
		{"not in the box", []float64{50, 30}, nil},
		{"not a number", []float64{math.NaN()}, nil},
		{"nothing out", []float64{}, []float64{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := r.Sum(c.coils)
			if (err == nil) != (c.want != nil) {
				t.Fatalf("got %v, %v; want %v", s, err, c.want)
			}
			total := 0.0
			for _, w := range c.want {
				total += w
			}
			if err == nil && (!slices.Equal(s.Coils, c.want) || s.Ohm != total) {
				t.Errorf("got %v, want %v of %g ohm", s, c.want, total)
			}
			if err != nil && !strings.Contains(err.Error(), "no plug") {
				t.Errorf("error %q, want one that names the plug", err)
			}
		})
	}
}

// Easiest never takes more plugs out than the nearest setting when that lies
// within the span, and stays within it.
func TestEasiest(t *testing.T) {
	r := newRange(t, plug(usual(1, 10, 100, 1000)...))
	for _, c := range []struct{ want, lo, hi float64 }{
		{3149, 3100, 3200},
		{4987, 4900, 5100},
		{88, 88, 88},
	} {
		s, ok := r.Easiest(c.want, c.lo, c.hi)
		if !ok || s.Ohm < c.lo || s.Ohm > c.hi {
			t.Errorf("easiest near %g within %g to %g: %v, %v", c.want, c.lo, c.hi, s, ok)
		}
		fewest := len(s.Coils)
		for x := c.lo; x <= c.hi; x++ {
			if e, ok := r.Exact(x); ok && len(e.Coils) < fewest {
				t.Errorf("easiest near %g: %v, but %g needs only %v", c.want, s.Coils, x, e.Coils)
			}
		}
	}
}

// drawBox draws any valid small box.
func drawBox(t *rapid.T) Box {
	ohms := rapid.SliceOfN(rapid.OneOf(
		rapid.SampledFrom([]float64{0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000}),
		rapid.Map(rapid.IntRange(1, 3000), func(n int) float64 { return float64(n) / 10 })), 1, 8)
	if rapid.Bool().Draw(t, "plug") {
		return plug(ohms.Draw(t, "coils")...)
	}
	d := ohms.Draw(t, "dials")
	return decade(d[:min(3, len(d))]...)
}

func TestSettingsOfAnyBox(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBox(t)
		r, err := NewRange(b)
		if err != nil {
			t.Fatal(err)
		}
		all, _ := everySum(b)
		x := float64(rapid.IntRange(0, int(1100*r.Max())).Draw(t, "milliohm")) / 1000
		if rapid.Bool().Draw(t, "a sum") {
			x = all[rapid.IntRange(0, len(all)-1).Draw(t, "which")]
		}
		i, _ := slices.BinarySearch(all, x-1e-6)
		if lo, ok := r.Floor(x); ok {
			j, _ := slices.BinarySearch(all, x+1e-6)
			if err := sound(b, lo); err != nil || math.Abs(lo.Ohm-all[j-1]) > 1e-6 {
				t.Fatalf("floor of %g: %v (%v), want %g", x, lo, err, all[j-1])
			}
			if again, ok := r.Exact(lo.Ohm); !ok || again.Ohm != lo.Ohm {
				t.Fatalf("%g is a setting of the box and is not found again: %v %v", lo.Ohm, again, ok)
			}
			// There and back: a setting's parts, counted and summed, are itself.
			sum, err := r.Sum(lo.Coils)
			if err != nil || !slices.Equal(r.Multiset(sum), r.Multiset(lo)) {
				t.Fatalf("%v summed: %v, %v", lo, sum, err)
			}
			total := 0.0
			for k, n := range r.Multiset(lo) {
				total += float64(n) * slices.Concat(b.Coils, b.Dials)[k]
			}
			if math.Abs(total-lo.Ohm) > 1e-6 {
				t.Fatalf("%v counted: %v, which make %g", lo, r.Multiset(lo), total)
			}
		} else {
			t.Fatalf("floor of %g: none", x)
		}
		hi, ok := r.Ceil(x)
		switch {
		case i == len(all) && ok:
			t.Fatalf("ceil of %g: %v, want none above %g", x, hi, r.Max())
		case i < len(all) && !ok:
			t.Fatalf("ceil of %g: none, want %g", x, all[i])
		case ok:
			if err := sound(b, hi); err != nil || math.Abs(hi.Ohm-all[i]) > 1e-6 {
				t.Fatalf("ceil of %g: %v (%v), want %g", x, hi, err, all[i])
			}
		}
	})
}

func TestValidate(t *testing.T) {
	p := func(x float64) *float64 { return &x }
	sound := Bench{
		Source: Source{EMF: 1.5}, Galvanometer: Galvanometer{Divisions: 30},
		SeriesBox: plug(usual(1, 10, 100, 1000)...), ShuntBox: decade(100, 10, 1),
	}
	if err := sound.Validate(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name   string
		change func(*Bench)
		say    string
	}{
		{"no EMF", func(b *Bench) { b.Source.EMF = 0 }, "source: emf_V"},
		{"EMF no number", func(b *Bench) { b.Source.EMF = math.NaN() }, "emf_V"},
		{"EMF too large", func(b *Bench) { b.Source.EMF = 2000 }, "emf_V"},
		{"negative doubt", func(b *Bench) { b.Source.UEMF = p(-1) }, "u_emf_V"},
		{"negative resistance", func(b *Bench) { b.Source.Resistance = p(-1) }, "resistance_ohm"},
		{"negative doubt of it", func(b *Bench) { b.Source.UResistance = p(-1) }, "u_resistance_ohm"},
		{"no current", func(b *Bench) { b.Source.MaxCurrent = p(0) }, "max_A"},
		{"no divisions", func(b *Bench) { b.Galvanometer.Divisions = 0 }, "divisions"},
		{"zero at the right", func(b *Bench) { b.Galvanometer.Zero = "right" }, `not "right"`},
		{"step of half the scale", func(b *Bench) { b.Galvanometer.Resolution = 15 }, "resolution_div"},
		{"no full scale", func(b *Bench) { b.Galvanometer.FullScale = p(0) }, "full_scale_A"},
		{"doubt of the full scale", func(b *Bench) { b.Galvanometer.UFullScale = p(math.Inf(1)) }, "u_full_scale_A"},
		{"movement below nought", func(b *Bench) { b.Galvanometer.Resistance = p(-90) }, "resistance_ohm"},
		{"doubt below nought", func(b *Bench) { b.Galvanometer.UResistance = p(-1) }, "u_resistance_ohm"},
		{"no kind", func(b *Bench) { b.SeriesBox.Kind = "" }, "series_box: kind"},
		{"no coils", func(b *Bench) { b.SeriesBox.Coils = nil }, "coils_ohm is missing"},
		{"no dials", func(b *Bench) { b.ShuntBox.Dials = []float64{} }, "shunt_box: dials_ohm is missing"},
		{"dials on a plug box", func(b *Bench) { b.SeriesBox.Dials = []float64{1} }, "no dials_ohm"},
		{"coils on a decade box", func(b *Bench) { b.ShuntBox.Coils = []float64{1} }, "no coils_ohm"},
		{"a coil of nought", func(b *Bench) { b.SeriesBox.Coils = []float64{0, 1} }, "not 0"},
		{"a coil that is no number", func(b *Bench) { b.SeriesBox.Coils = []float64{math.NaN()} }, "not NaN"},
		{"too many coils", func(b *Bench) { b.SeriesBox.Coils = make([]float64, MaxCoils+1) }, "at most 24"},
		{"tolerance in per cent", func(b *Bench) { b.SeriesBox.Tolerance = 1 }, "0.001 is 0.1 %"},
		{"rating of nought", func(b *Bench) { b.SeriesBox.Rating = p(0) }, "coil_rating_W"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := sound
			c.change(&b)
			err := b.Validate()
			if err == nil || !strings.Contains(err.Error(), c.say) || strings.Contains(err.Error(), "\n") {
				t.Errorf("got %v, want one line that says %q", err, c.say)
			}
		})
	}
	if _, err := NewRange(Box{}); err == nil {
		t.Error("a box of no kind is taken")
	}
}

func TestWhatIsNotStated(t *testing.T) {
	if g := (Galvanometer{}); g.Step() != 0.5 || !g.Centre() {
		t.Errorf("step %g, centre %v; want half a division and centre", g.Step(), g.Centre())
	}
	if g := (Galvanometer{Resolution: 0.25, Zero: LeftZero}); g.Step() != 0.25 || g.Centre() {
		t.Errorf("step %g, centre %v; want as stated", g.Step(), g.Centre())
	}
	half := 0.5
	if (Box{}).CoilRating() != 0.25 || (Box{Rating: &half}).CoilRating() != 0.5 {
		t.Error("a coil is trusted with 0.25 W unless its box states otherwise")
	}
	line, err := json.Marshal(Bench{Source: Source{EMF: 1.5}})
	if err != nil || strings.Contains(string(line), "u_emf_V") || strings.Contains(string(line), "full_scale_A") {
		t.Errorf("%s (%v): what is unknown is left out", line, err)
	}
}

func BenchmarkNearest(b *testing.B) {
	for name, box := range map[string]Box{
		"plug":   plug(usual(1, 10, 100, 1000)...),
		"decade": decade(1000, 100, 10, 1),
		"odd":    decade(1000, 300, 70, 11),
	} {
		r := newRange(b, box)
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				r.Nearest(3157.3)
			}
		})
	}
}

func BenchmarkNewRange(b *testing.B) {
	box := plug(usual(1, 10, 100, 1000)...)
	for b.Loop() {
		newRange(b, box)
	}
}
