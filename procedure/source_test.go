package procedure

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"example.org/halve/safety"
)

// rowsWith keeps rows at the series values, read off the usual needle to its
// scale's half divisions, with the EMF given.
func (s *sitting) rowsWith(emf float64, series ...float64) {
	s.t.Helper()
	m := usualNeedle()
	m.emf = emf
	read := func(theta float64) float64 { return math.Round(2*theta) / 2 }
	for i, ohm := range series {
		shunt := 80 + 3*float64(i)
		s.put(SeriesSet{Ohm: ohm}, first(read(m.first(s.t, ohm))), ShuntSet{Ohm: shunt}, shunted(read(m.shunted(s.t, ohm, shunt))), RowKept{})
	}
}

// holdsTruth reports what is off of the usual needle's 87 Ω and 19 µA/div,
// beside a result within the given relative uncertainty of k.
func holdsTruth(t *testing.T, s *State, uk float64) {
	t.Helper()
	r := Advise(s).Result
	if r == nil || r.Resistance == nil {
		t.Fatalf("no result: %+v", r)
	}
	if d := math.Abs(*r.Resistance-87) / *r.UResistance; d > 3 {
		t.Errorf("G = %g, %.1f u from 87", *r.Resistance, d)
	}
	if d := math.Abs(*r.Merit-1.9e-5) / *r.UMerit; d > 3 || *r.UMerit > uk*1.9e-5 {
		t.Errorf("k = %g ± %g, %.1f u from 1.9e-5", *r.Merit, *r.UMerit, d)
	}
}

// TestSourceChanged: with a second cell, measured when it was put in, the rows
// before and after give one result, and nothing is suspected.
func TestSourceChanged(t *testing.T) {
	s := ready(t, SourceMeasured{EMF: 1.48, UEMF: ptr(0.015)})
	s.rowsWith(1.48, 2700, 3300)
	s.put(SourceMeasured{EMF: 2.96, UEMF: ptr(0.03)})
	s.rowsWith(2.96, 5500, 6100, 6700)
	holdsTruth(t, s.s, 0.02)
	for _, f := range Advise(s.s).Findings {
		if f.Probability > follows {
			t.Errorf("finding %s, %.2f: %s", f.ID, f.Probability, f.Say)
		}
	}
	for i, r := range Advise(s.s).Rows {
		want := 2.96
		if i < 2 {
			want = 1.48
		}
		if math.Abs(r.EMF-want) > 1e-9 || math.Abs(*r.Merit-1.9e-5) > 4**r.UMerit {
			t.Errorf("row %d: EMF %g, k %g ± %g", r.Row, r.EMF, *r.Merit, *r.UMerit)
		}
	}
	a := Analyse(s.s)
	if k := a.Schoolbook.Line.Merit; math.Abs(k-1.9e-5) > 4*a.Schoolbook.Line.UMerit {
		t.Errorf("the line of R against 1/θ gives k = %g ± %g", k, a.Schoolbook.Line.UMerit)
	}
	// A k worked out by hand with the row's own EMF is right.
	row := Advise(s.s).Rows[0]
	s.put(Claim{Quantity: ClaimMerit, Row: 1, Value: Written{Text: fmt.Sprintf("%.3e", *row.Merit), Value: *row.Merit}})
	if c := Advise(s.s).Claims; len(c) != 1 || c[0].Agrees == nil || !*c[0].Agrees {
		t.Errorf("claim of row 1: %+v", c)
	}
}

// TestSourceMended: an EMF written with a digit left out is put right by a second
// measurement, which the readings say is of the same source.
func TestSourceMended(t *testing.T) {
	s := ready(t, SourceMeasured{EMF: 4.8})
	s.rowsWith(1.48, 2700, 3300)
	s.put(SourceMeasured{EMF: 1.48})
	s.rowsWith(1.48, 2900, 3500, 3800)
	holdsTruth(t, s.s, 0.02)
	for _, r := range Advise(s.s).Rows {
		if r.EMF != 1.48 {
			t.Errorf("row %d with %g V", r.Row, r.EMF)
		}
	}
}

// TestSourceRunsDown: two measurements of one cell are one EMF with a doubt of
// their difference over √12 (rectangular, JCGM 100:2008, 4.3.7).
func TestSourceRunsDown(t *testing.T) {
	s := ready(t, SourceMeasured{EMF: 1.52, UEMF: ptr(0.01)})
	s.rowsWith(1.5, 2700, 3300, 3600)
	s.put(SourceMeasured{EMF: 1.48, UEMF: ptr(0.01)})
	g, ok := s.s.Given()
	if want := math.Hypot(0.01, 0.04/math.Sqrt(12)); !ok || math.Abs(g.EMF-1.5) > 1e-12 || math.Abs(g.UEMF-want) > 1e-12 {
		t.Errorf("E = %g ± %g, want 1.5 ± %g", g.EMF, g.UEMF, want)
	}
}

// TestStrongestSource: a worst case reckons with the strongest source measured,
// since the slip may be the second value and not the first.
func TestStrongestSource(t *testing.T) {
	s := ready(t, SourceMeasured{EMF: 3, UEMF: ptr(0.03)}, SourceMeasured{EMF: 0.3, UEMF: ptr(0.003)})
	if got := s.s.evidence().emfHigh; math.Abs(got-3.09) > 1e-9 {
		t.Errorf("worst cases reckon with %g V, want 3 V and three times 0.03 V", got)
	}
	// The same beside the stated EMF, 1.5 V and three times 0.03 V, unless the
	// two agree: then the measured one is surer.
	if got := ready(t, SourceMeasured{EMF: 0.15, UEMF: ptr(0.0015)}).s.evidence().emfHigh; math.Abs(got-1.59) > 1e-9 {
		t.Errorf("worst cases reckon with %g V, want 1.59 V", got)
	}
	if got := ready(t, SourceMeasured{EMF: 1.45, UEMF: ptr(0.01)}).s.evidence().emfHigh; math.Abs(got-1.48) > 1e-9 {
		t.Errorf("worst cases reckon with %g V, want 1.48 V", got)
	}
	if g, _ := s.s.Given(); g.EMF != 0.3 {
		t.Errorf("what was measured last is %g V", g.EMF)
	}
}

// TestStatedSourceChanged: the same where the first source was only stated by
// the bench, also for a change that is within what a cell may run down, and
// also where the bench states an EMF that the first measurement corrects.
func TestStatedSourceChanged(t *testing.T) {
	stated := usualBench()
	stated.Source.EMF, stated.Source.UEMF = 1.48, ptr(0.015)
	for name, c := range map[string]struct {
		stated, before, after float64
	}{
		"a second cell": {1.48, 1.48, 2.96}, "a fresh one": {1.48, 1.48, 1.63}, "a weaker one": {1.48, 1.48, 1.2}, "one cell taken out": {2.96, 2.96, 1.48}, "stated wrongly": {1.1, 1.48, 1.48},
	} {
		t.Run(name, func(t *testing.T) {
			b := stated
			b.Source.EMF, b.Source.UEMF = c.stated, ptr(c.stated/100)
			s := sit(t, b, Wired{}, ZeroRead{0})
			scale := c.before / 1.48
			s.rowsWith(c.before, math.Round(2700*scale), math.Round(3300*scale))
			s.put(SourceMeasured{EMF: c.after, UEMF: ptr(c.after / 100)})
			scale = c.after / 1.48
			s.rowsWith(c.after, math.Round(2720*scale), math.Round(3310*scale), math.Round(3600*scale))
			holdsTruth(t, s.s, 0.02)
			if f := Advise(s.s).Findings; len(f) > 0 && f[0].Probability > follows {
				t.Errorf("findings %+v", f)
			}
		})
	}
}

// TestSourceInMidRow: a shunted reading belongs to the first deflection of its
// own source, which is asked for again.
func TestSourceInMidRow(t *testing.T) {
	s := ready(t, SourceMeasured{EMF: 1.5, UEMF: ptr(0.015)}, SeriesSet{Ohm: 3050}, first(24), ShuntSet{Ohm: 97}, SourceMeasured{EMF: 1.375, UEMF: ptr(0.0135)})
	if n := Advise(s.s).Next; n.Event != KindReadFirst || !strings.Contains(n.Do, "told anew") {
		t.Errorf("next %+v; want the first deflection again", n)
	}
	s.put(first(22))
	if n := Advise(s.s).Next; n.Event != KindReadShunted {
		t.Errorf("next %+v; want the shunted reading", n)
	}
	// What was told between and put right again changes nothing.
	s = ready(t, SourceMeasured{EMF: 1.5, UEMF: ptr(0.015)}, SeriesSet{Ohm: 3050}, first(24), ShuntSet{Ohm: 97}, SourceMeasured{EMF: 3, UEMF: ptr(0.03)}, SourceMeasured{EMF: 1.5, UEMF: ptr(0.015)})
	if n := Advise(s.s).Next; n.Event != KindReadShunted {
		t.Errorf("next %+v; want the shunted reading", n)
	}
	// A row that is read to its end with one source is kept.
	s = ready(t, SourceMeasured{EMF: 1.5, UEMF: ptr(0.015)}, SeriesSet{Ohm: 3050}, first(24), ShuntSet{Ohm: 97}, shunted(12), SourceMeasured{EMF: 3, UEMF: ptr(0.03)})
	if n := Advise(s.s).Next; n.Event != KindKeepRow {
		t.Errorf("next %+v; want the row kept", n)
	}
}

// TestSlipInEMF: an EMF put right, by the bench or by striking its measurement,
// is as if it had never been told.
func TestSlipInEMF(t *testing.T) {
	wrong := usualBench()
	wrong.Source.EMF, wrong.Source.UEMF = 0.15, ptr(0.003)
	s := sit(t, wrong, Wired{}, ZeroRead{0}, SeriesSet{Ohm: 11110}, first(7), SeriesSet{Ohm: 3050}, first(24), usualBench())
	for range 6 { // a tap at the largest value, and from there on
		c := Advise(s.s)
		if c.Next == nil {
			t.Fatalf("a slip of the bench ends in %+v", c.Findings)
		}
		if c.Next.Event == KindSetShunt {
			break
		}
		div := 7.0
		if c.Next.Event == KindReadFirst && s.s.current().setting.Ohm < 5000 {
			div = 24
		}
		s.put(obeyed(c.Next, div))
	}
	if n := Advise(s.s).Next; n == nil || n.Event != KindSetShunt {
		t.Errorf("after the bench was put right: next %+v", n)
	}
	s = ready(t, SourceMeasured{EMF: 0.15}, SeriesSet{Ohm: 11110}, first(7), SeriesSet{Ohm: 3050}, first(24), Strike{Event: 4})
	if c := Advise(s.s); c.Next == nil || c.Next.Event != KindSetShunt || c.Clearance.Verdict != safety.Clear {
		t.Errorf("after the measurement was struck: next %+v, clearance %+v", c.Next, c.Clearance)
	}
}

// TestDoubtOfRise: what was told of the source then and now may each be wrong by
// three times its uncertainty. 25.5 div at 1.5 V less 0.225 V go to 33 at 1.62 V
// and 0.048 V more, by Ohm's law.
func TestDoubtOfRise(t *testing.T) {
	b := usualBench()
	b.Source.UEMF = ptr(0.075)
	s := sit(t, b, Wired{}, ZeroRead{0}, SeriesSet{Ohm: 11110}, first(25.5), SourceMeasured{EMF: 1.62, UEMF: ptr(0.016)})
	if c := Advise(s.s).Clearance; c.Verdict == safety.Clear || c.WorstDiv == nil || *c.WorstDiv < 33 {
		t.Errorf("clearance %+v", c)
	}
	// A cell that only ran down drives the needle no further.
	s = sit(t, b, Wired{}, ZeroRead{0}, SourceMeasured{EMF: 1.52}, SeriesSet{Ohm: 11110}, first(25.5), SourceMeasured{EMF: 1.5})
	if c := Advise(s.s).Clearance; c.Verdict != safety.Clear {
		t.Errorf("after a fall: %+v", c)
	}
}

// TestPlateTellsTheSource: where no reading was taken since the EMF was told to
// be twice what was stated, a stated full scale tells that the readings were
// taken with one cell, or with two all along.
func TestPlateTellsTheSource(t *testing.T) {
	for _, cells := range []float64{1, 2} {
		b := usualBench()
		b.Galvanometer.FullScale = ptr(30 * 1.9e-5)
		s := sit(t, b, Wired{}, ZeroRead{0})
		s.rowsWith(1.48*cells, 2700*cells, 3000*cells, 3300*cells)
		s.put(SourceMeasured{EMF: 2.96, UEMF: ptr(0.03)})
		if r := Advise(s.s).Result; math.Abs(*r.Merit-1.9e-5) > 3**r.UMerit+0.03e-5 { // 1.5 V was stated for 1.48 V
			t.Errorf("with %g cells k = %g ± %g", cells, *r.Merit, *r.UMerit)
		}
	}
}
