package class

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
)

// both reads a record quickly and in full; ok is false where the quick reading
// leaves it to the full one.
func both(q *quick, data []byte) (got, want Sheet, ok bool, err error) {
	log, err := record.Parse("x", data)
	if err == nil {
		want = fold(log, procedure.Tally)
	}
	got, ok = q.read(data)
	return got, want, ok, err
}

// differ says how two sheets of a record differ. The quick one has G and k by
// least squares, which lie within about a standard uncertainty of the full
// fit's (TestMarginalBesideJoint); all else is the same.
func differ(got, want Sheet) string {
	const tolerance = 1.5 // standard uncertainties
	far := func(a, b, u float64) bool {
		return math.IsNaN(a) != math.IsNaN(b) || math.Abs(a-b) > tolerance*u
	}
	if far(got.G, want.G, want.UG) || far(got.K, want.K, want.UK) {
		return fmt.Sprintf("G %g ± %g, k %g ± %g, want %g ± %g, %g ± %g", got.G, got.UG, got.K, got.UK, want.G, want.UG, want.K, want.UK)
	}
	if *got.Plate != *want.Plate {
		return fmt.Sprintf("the plate is %+v, want %+v", *got.Plate, *want.Plate)
	}
	for _, s := range []*Sheet{&got, &want} {
		s.Plate = nil
		n := math.NaN()
		s.G, s.UG, s.K, s.UK, s.U95G, s.U95K = n, n, n, n, n, n
		s.Closely = nil
	}
	// NaN prints as itself.
	if a, b := fmt.Sprintf("%+v", got), fmt.Sprintf("%+v", want); a != b {
		return fmt.Sprintf("\n%s, want\n%s", a, b)
	}
	return ""
}

// A record that is read quickly comes to the same as folded in full.
func TestQuickIsTheFold(t *testing.T) {
	q := newQuick()
	quickly, all := 0, 0
	for seed := range uint64(3) {
		for _, p := range makeClass(seed).pairs {
			got, want, ok, err := both(q, p.data)
			if err != nil {
				t.Fatalf("seed %d, %s: %v\n%s", seed, p.file, err, p.data)
			}
			if all++; !ok {
				continue
			}
			quickly++
			if d := differ(got, want); d != "" {
				t.Errorf("seed %d, %s (%s): %s", seed, p.file, p.mistake, d)
			}
		}
	}
	t.Logf("%d of %d read quickly", quickly, all)
	if quickly < all*9/10 {
		t.Errorf("only %d of %d records were read quickly", quickly, all)
	}
}

// Records as people make them: events out of order, strikes, claims, notes, odd
// values. Whatever the quick reading takes is what the fold says; what the fold
// refuses it refuses.
func TestQuickOnDisorder(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 9))
	base := makeClass(1).pairs
	q := newQuick()
	taken := 0
	for i := range 200 {
		log, err := record.Parse("x", base[i%len(base)].data)
		if err != nil {
			t.Fatal(err)
		}
		var bodies []procedure.Body
		for _, e := range log.Events {
			bodies = append(bodies, e.Body)
		}
		bodies = bodies[:3+r.IntN(len(bodies)-2)]
		for range 1 + r.IntN(4) {
			at := 1 + r.IntN(len(bodies))
			extra := []procedure.Body{
				procedure.Strike{Event: 1 + r.IntN(at), Why: []string{"", "misread"}[r.IntN(2)]}, procedure.ZeroRead{Div: float64(r.IntN(5)-2) / 2},
				procedure.Claim{Quantity: "resistance", Value: procedure.Written{Text: []string{"90.5", "90.5 ohm", "4k7", "x"}[r.IntN(4)]}, Row: r.IntN(3)},
				procedure.Claim{Quantity: "merit", Value: procedure.Written{Text: "1.8e-5 A/div"}},
				procedure.Note{Text: "Grüße <b>", Temperature: ptr(21.5)}, procedure.Note{Text: " \t"}, procedure.SourceMeasured{EMF: 1.48, UEMF: ptr(0.01), Loaded: r.IntN(2) == 0},
				procedure.SourceMeasured{EMF: 1.47}, procedure.SourceMeasured{EMF: 2.9}, procedure.FirstRead{Div: ptr(float64(r.IntN(70) - 35))}, procedure.FirstRead{OffScale: true, Div: ptr(-30)},
				procedure.ShuntedRead{Div: ptr(float64(r.IntN(20)))}, procedure.RowKept{}, procedure.Finish{}, procedure.Wired{}, procedure.Who{Group: "B 3"},
				procedure.SeriesSet{Ohm: float64(r.IntN(300) * 10)}, procedure.ShuntSet{Ohm: float64(r.IntN(200))}, bodies[0],
			}[r.IntN(19)]
			bodies = append(bodies[:at:at], append([]procedure.Body{extra}, bodies[at:]...)...)
		}
		data := page(fmt.Sprint("D", i), afternoon.Add(time.Duration(i)*time.Hour), bodies)
		got, want, ok, err := both(q, data)
		if !ok {
			continue
		}
		if err != nil {
			t.Fatalf("record %d is taken as %+v; the fold says %v\n%s", i, got, err, data)
		}
		if d := differ(got, want); d != "" {
			t.Fatalf("record %d: %s\n%s", i, d, data)
		}
		taken++
	}
	t.Logf("%d of 200 read quickly", taken)
	if taken < 30 {
		t.Errorf("only %d of 200: the test does not show much", taken)
	}
}

// FuzzQuick: whatever the file, what the quick reading takes is a record, and
// says the same.
func FuzzQuick(f *testing.F) {
	pair := makeClass(2).pairs[0]
	f.Add(pair.data)
	f.Add(pair.data[:len(pair.data)/2])
	f.Add([]byte(`{"record":"halve","version":1,"procedure":"half-deflection"}` + "\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		got, want, ok, err := both(newQuick(), data)
		if !ok {
			return
		}
		if err != nil {
			t.Fatalf("taken as %+v; the fold says %v", got, err)
		}
		if d := differ(got, want); d != "" {
			t.Fatal(d)
		}
	})
}

func BenchmarkQuick(b *testing.B) {
	pairs := makeClass(1).pairs
	q := newQuick()
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		if _, ok := q.read(pairs[i%len(pairs)].data); !ok {
			_ = ok
		}
		i++
	}
}
