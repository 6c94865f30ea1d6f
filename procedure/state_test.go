package procedure

import (
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"example.org/halve/physics/apparatus"
)

// TestOrder: what has no place yet is refused with what comes first.
func TestOrder(t *testing.T) {
	s := sit(t)
	for _, b := range []Body{Wired{}, SourceMeasured{EMF: 1.5}, ZeroRead{0}, SeriesSet{Ohm: 100}, first(5), ShuntSet{Ohm: 5}, shunted(3), RowKept{}, Claim{Quantity: ClaimResistance, Value: Written{"90", 90}}} {
		s.refuse(b, "begin with it")
	}
	s.put(Who{Names: "first things first"}, Note{Text: "before the bench"}, usualBench())
	s.refuse(first(5), "say first that it is wired")
	s.put(Wired{})
	s.refuse(first(5), "series box is set: set it first")
	s.refuse(shunted(5), "series box is set: set it first")
	s.refuse(RowKept{}, "no row to keep yet")
	s.put(SeriesSet{Ohm: 11110})
	s.refuse(shunted(5), "shunt box is set: set it first")
	s.put(ShuntSet{Ohm: 50})
	s.refuse(shunted(5), "before a first deflection")
	s.put(FirstRead{OffScale: true})
	s.refuse(shunted(5), "before a first deflection")
	s.put(first(6))
	s.refuse(RowKept{}, "needs a shunted reading")
	s.put(shunted(3))
	s.put(RowKept{})
	s.refuse(RowKept{}, "row 1 already")
	s.put(Finish{})
	for _, b := range []Body{usualBench(), Wired{}, SeriesSet{Ohm: 100}, first(5), ShuntSet{Ohm: 5}, shunted(3), RowKept{}, Finish{}} {
		s.refuse(b, "finished")
	}
	s.put(Note{Text: "afterwards"}, ZeroRead{0}, SourceMeasured{EMF: 1.45}, Who{Group: "4"}, Claim{Quantity: ClaimResistance, Value: Written{"90", 90}})
}

// TestValues: what the instruments on the table do not have is refused, with
// what they do have.
func TestValues(t *testing.T) {
	s := ready(t)
	s.refuse(SeriesSet{Ohm: 11111}, "it goes up to 11\u00a0110\u00a0Ω")
	s.refuse(SeriesSet{Ohm: 0.5}, "the nearest are 0\u00a0Ω and 1\u00a0Ω")
	s.refuse(SeriesSet{Ohm: 8200, TakeOut: []float64{5000, 2000, 1000}}, "these plugs of the series box make 8\u00a0000\u00a0Ω, not 8\u00a0200\u00a0Ω")
	s.refuse(SeriesSet{Ohm: 8200, TakeOut: []float64{5000, 5000}}, "no plug of 5000 ohm left")
	s.put(SeriesSet{Ohm: 8200, TakeOut: []float64{5000, 2000, 1000, 200}})
	s.refuse(ShuntSet{Ohm: 3000}, "it goes up to 2\u00a0110\u00a0Ω")
	s.refuse(first(30.5), "the scale ends at 30")
	s.refuse(ZeroRead{-31}, "the scale ends at 30")
	s.refuse(SourceMeasured{EMF: 230}, "never the mains")
	s.refuse(Claim{Quantity: ClaimResistance, Value: Written{"90", 90}, Row: 3}, "there is no row 3")
	b := usualBench()
	b.SeriesBox = apparatus.Box{Kind: apparatus.Decade, Dials: []float64{1000, 100, 10}}
	d := sit(t, b, Wired{})
	d.refuse(SeriesSet{Ohm: 8200, TakeOut: []float64{1000}}, "has dials")
	d.refuse(SeriesSet{Ohm: 8205}, "the nearest are 8\u00a0200\u00a0Ω and 8\u00a0210\u00a0Ω")
	d.put(SeriesSet{Ohm: 11100})
}

// TestBenchCorrected: a second bench corrects the first for the whole record,
// but not the boxes' coils once something was read.
func TestBenchCorrected(t *testing.T) {
	s := ready(t, SeriesSet{Ohm: 3000}, first(24), ShuntSet{Ohm: 84}, shunted(12), RowKept{})
	was := *Advise(s.s).Rows[0].Merit
	b := usualBench()
	b.Source.EMF = 1.35
	s.put(b)
	// k is proportional to E (any text: k = E/((R+r+G)θ)).
	if got, want := *Advise(s.s).Rows[0].Merit, was*1.35/1.5; math.Abs(got/want-1) > 1e-12 {
		t.Errorf("after the EMF was corrected: k = %g, want %g", got, want)
	}
	b.SeriesBox.Coils = append([]float64{1e4}, coils11k...)
	s.refuse(b, "coils can no longer change")
	b = usualBench()
	b.Galvanometer.Divisions = 20
	s.refuse(b, "cannot end at 20")
	b = usualBench()
	b.Galvanometer.Zero = apparatus.LeftZero
	s.refuse(b, "no longer change")
	b = usualBench()
	b.Source.EMF = 400
	s.refuse(b, "never the mains")
}

// TestRepeats: repeated readings count together; the row shows their mean, less
// the zero.
func TestRepeats(t *testing.T) {
	s := sit(t, usualBench(), Wired{}, ZeroRead{0.5}, SeriesSet{Ohm: 3000}, first(24), first(25), ShuntSet{Ohm: 60}, shunted(9), ShuntSet{Ohm: 84}, shunted(12), shunted(13), first(26), RowKept{})
	r := Advise(s.s).Rows[0]
	if r.FirstDiv != 24.5 || r.ShuntedDiv != 12 || r.SeriesOhm != 3000 || r.ShuntOhm != 84 {
		t.Errorf("got %+v, want the mean of 24, 25, 26 and of 12, 13, each less 0.5", r)
	}
}

// TestLeftSide: a row wholly on the left is a valid row and shows |θ|.
func TestLeftSide(t *testing.T) {
	right := ready(t, SeriesSet{Ohm: 3000}, first(24), ShuntSet{Ohm: 84}, shunted(12), RowKept{})
	left := ready(t, SeriesSet{Ohm: 3000}, first(-24), ShuntSet{Ohm: 84}, shunted(-12), RowKept{})
	a, b := Advise(right.s), Advise(left.s)
	if !reflect.DeepEqual(a.Rows, b.Rows) || math.Abs(*a.Result.Resistance / *b.Result.Resistance - 1) > 1e-9 {
		t.Errorf("right %+v\nleft  %+v", a.Rows, b.Rows)
	}
	if b.Next.TargetDiv == nil || *b.Next.TargetDiv >= 0 {
		t.Errorf("the needle goes to the left; the next target is %+v", b.Next)
	}
}

// TestZeroInTime: between two zeros the zero is linear in time, after the last
// it is the last, before the first the first.
func TestZeroInTime(t *testing.T) {
	at := func(min int) time.Time { return time.Date(2031, 3, 4, 9, min, 0, 0, time.UTC) }
	s := new(State)
	for i, e := range []struct {
		min  int
		body Body
	}{
		{0, usualBench()}, {1, Wired{}}, {2, SeriesSet{Ohm: 3000}},
		{5, first(24)}, {10, ZeroRead{0}}, {15, first(24)}, {30, ZeroRead{2}}, {40, first(24)},
	} {
		if err := s.Apply(Event{i + 1, at(e.min), e.body}); err != nil {
			t.Fatal(err)
		}
	}
	ev := s.evidence()
	for i, want := range []float64{0, 0.5, 2} { // a quarter of the way from 0 to 2 at minute 15
		if got := ev.zeroFor(s.runs[0].first[i]); math.Abs(got-want) > 1e-12 {
			t.Errorf("reading %d: zero %g, want %g", i, got, want)
		}
	}
	// A clock that stands still or runs backwards leaves the earlier zero.
	back := s.runs[0].first[1]
	back.at = at(0)
	if got := ev.zeroFor(back); got != 0 {
		t.Errorf("before its zero by the clock: %g, want 0", got)
	}
}

// TestStrikes: each kind of strike, and what it carries away.
func TestStrikes(t *testing.T) {
	// 1 bench 2 wired 3 zero 4 set-series 5 first 6 set-shunt 7 shunted 8 keep
	// 9 set-series 10 first 11 set-shunt 12 shunted 13 keep
	build := func(t *testing.T) *sitting {
		return ready(t, SeriesSet{Ohm: 3000}, first(24), ShuntSet{Ohm: 84}, shunted(12), RowKept{},
			SeriesSet{Ohm: 2700}, first(26.5), ShuntSet{Ohm: 84}, shunted(13), RowKept{})
	}
	struck := func(s *sitting) string {
		out := ""
		for _, r := range Advise(s.s).Rows {
			if r.Struck {
				out += "x"
			} else {
				out += "."
			}
		}
		return out
	}
	for _, tc := range []struct {
		name  string
		seq   int
		want  string
		step  Step
		event string
	}{
		{"keep-row unkeeps", 13, ".x", StepShunt, KindKeepRow},
		{"a first deflection takes its row", 10, ".x", StepFirst, KindReadFirst},
		{"a shunted reading takes its row", 12, ".x", StepShunt, KindReadShunted},
		{"a series setting takes its readings", 9, ".x", StepSeries, KindSetSeries},
		{"a shunt setting takes its readings", 11, ".x", StepShunt, KindSetShunt},
		{"an earlier row goes alone", 5, "x.", StepSeries, KindSetSeries},
		{"a zero only moves the rows", 3, "..", StepWiring, KindZero},
		{"wired asks for a check again", 2, "..", StepWiring, KindWired},
	} {
		t.Run(tc.name, func(t *testing.T) {
			s := build(t)
			before := counselJSON(t, Advise(s.s))
			s.put(Strike{Event: tc.seq, Why: "a try"})
			c := Advise(s.s)
			if got := struck(s); got != tc.want || c.Step != tc.step || c.Next.Event != tc.event {
				t.Errorf("rows %s, step %s, next %s; want %s, %s, %s", got, c.Step, c.Next.Event, tc.want, tc.step, tc.event)
			}
			s.refuse(Strike{Event: tc.seq}, "struck already, by event 14")
			s.put(Strike{Event: 14}) // restores
			if got := counselJSON(t, Advise(s.s)); !sameButSeq(before, got) {
				t.Errorf("a strike struck leaves a trace:\n%s\n%s", before, got)
			}
			s.put(Strike{Event: 15}) // strikes again
			if got := struck(s); got != tc.want {
				t.Errorf("struck, restored, struck: rows %s, want %s", got, tc.want)
			}
		})
	}
	s := build(t)
	s.refuse(Strike{Event: 1}, "bench cannot be struck")
	s.refuse(Strike{Event: 14}, "no event 14")
	s.refuse(Strike{Event: 99}, "no event 99")
	s.refuse(Strike{Event: -1}, "1 or more")
	s.put(Finish{})
	if !s.s.Finished() {
		t.Fatal("not finished")
	}
	s.put(Strike{Event: 14})
	if s.s.Finished() || Advise(s.s).Next == nil {
		t.Error("striking the finish must reopen the practical")
	}
}

// sameButSeq compares counsels without the number of the last event.
func sameButSeq(a, b string) bool {
	cut := func(s string) string { _, rest, _ := strings.Cut(s, ","); return rest }
	return cut(a) == cut(b)
}

// TestRowNumbers: a row's number is never used again, and a row re-read after
// a strike is a new one.
func TestRowNumbers(t *testing.T) {
	s := ready(t, SeriesSet{Ohm: 3000}, first(24), ShuntSet{Ohm: 84}, shunted(21), RowKept{})
	s.put(Strike{Event: 7, Why: "12 taken for 21"}, shunted(12), RowKept{})
	rows := Advise(s.s).Rows
	if len(rows) != 2 || !rows[0].Struck || rows[1].Struck || rows[1].Row != 2 || rows[1].ShuntedDiv != 12 {
		t.Fatalf("rows %+v", rows)
	}
	if rows[0].ShuntedDiv != 21 {
		t.Errorf("the struck row shows %g, not the 21 that was read", rows[0].ShuntedDiv)
	}
	if r := Advise(s.s).Result; r == nil || r.Rows != 1 {
		t.Errorf("result %+v, want one row", r)
	}
	s.put(Strike{Event: 11})
	if r := Advise(s.s).Result; r != nil {
		t.Errorf("no row stands, but there is a result: %+v", r)
	}
}

// TestSecondRowAtOneSeries: set-shunt after keep-row begins another row at the
// same series value.
func TestSecondRowAtOneSeries(t *testing.T) {
	s := ready(t, SeriesSet{Ohm: 3000}, first(24), ShuntSet{Ohm: 84}, shunted(12), RowKept{}, ShuntSet{Ohm: 60}, shunted(10), RowKept{})
	rows := Advise(s.s).Rows
	if len(rows) != 2 || rows[0].ShuntOhm != 84 || rows[1].ShuntOhm != 60 || rows[1].FirstDiv != 24 || rows[0].ShuntedDiv != 12 {
		t.Errorf("rows %+v", rows)
	}
}

// TestShuntStays: a new series value leaves the shunt box where it stands.
func TestShuntStays(t *testing.T) {
	s := ready(t, SeriesSet{Ohm: 3000}, first(24), ShuntSet{Ohm: 84}, shunted(12), RowKept{}, SeriesSet{Ohm: 2700}, first(26.5), shunted(13), RowKept{})
	rows := Advise(s.s).Rows
	if len(rows) != 2 || rows[1].ShuntOhm != 84 || rows[1].Struck {
		t.Errorf("rows %+v", rows)
	}
}

// TestApplyNumbers: events are numbered without a gap.
func TestApplyNumbers(t *testing.T) {
	s := new(State)
	if err := s.Apply(Event{Seq: 2, Body: usualBench()}); err == nil {
		t.Error("event 2 was taken first")
	}
	if _, err := Fold([]Event{{Seq: 1, Body: usualBench()}, {Seq: 2, Body: RowKept{}}}); err == nil || !strings.HasPrefix(err.Error(), "event 2: ") {
		t.Errorf("Fold says %v", err)
	}
}

// TestCloneIsApart: what is done to a copy does not reach the original, nor
// the other way round, at every stage of a practical.
func TestCloneIsApart(t *testing.T) {
	s := sit(t)
	for _, b := range []Body{
		usualBench(), Wired{}, ZeroRead{0}, SeriesSet{Ohm: 3000}, first(24), first(24.5), ShuntSet{Ohm: 60}, shunted(10),
		shunted(10.5), ShuntSet{Ohm: 84}, shunted(12), RowKept{}, Strike{Event: 8}, SeriesSet{Ohm: 2700}, first(26), shunted(13), RowKept{},
	} {
		a, c := s.s.Clone(), s.s.Clone()
		was := counselJSON(t, Advise(s.s))
		for _, other := range []Body{first(7), shunted(5), ShuntSet{Ohm: 20}, shunted(6), RowKept{}, SeriesSet{Ohm: 5000}, first(8), ZeroRead{1}, Strike{Event: 5}} {
			_ = a.Apply(Event{Seq: a.Seq() + 1, At: s.at, Body: other}) // refused or taken: it must not matter
		}
		if got := counselJSON(t, Advise(s.s)); got != was {
			t.Fatalf("a copy's events reached the original:\n%s\n%s", was, got)
		}
		s.put(b)
		if got := counselJSON(t, Advise(c)); got != was {
			t.Fatalf("the original's %s reached a copy:\n%s\n%s", b.Kind(), was, got)
		}
	}
}

// TestScatterOfRepeats: repeats that lie further apart than rounding explains
// make the result less sure, not surer. 23, 24, 25 and 11, 12, 13 have a
// standard deviation of 1 div; less the rounding's 0.5/√12 that is 0.990, of the
// mean 0.571, with the rounding 0.589, and u(G)/G = (0.589/24)·√5/0.5 = 0.110 by
// domain notes C4, times G/P = 1.033.
func TestScatterOfRepeats(t *testing.T) {
	result := func(firsts, shunteds []float64) *Result {
		b := usualBench()
		b.Source.UEMF = ptr(0.015)
		s := sit(t, b, Wired{}, ZeroRead{0}, SeriesSet{Ohm: 3050})
		for _, d := range firsts {
			s.put(first(d))
		}
		s.put(ShuntSet{Ohm: 97})
		for _, d := range shunteds {
			s.put(shunted(d))
		}
		s.put(RowKept{})
		return Advise(s.s).Result
	}
	once := result([]float64{24}, []float64{12})
	same := result([]float64{24, 24, 24}, []float64{12, 12, 12})
	edge := result([]float64{24, 24.5, 24}, []float64{12, 12, 11.5})
	wide := result([]float64{23, 24, 25}, []float64{11, 12, 13})
	more := result([]float64{23, 24, 25, 23, 24, 25}, []float64{11, 12, 13, 11, 12, 13})
	if !(*same.UResistance < *once.UResistance && *edge.UResistance < *once.UResistance) {
		t.Errorf("u(G): once %g, repeated %g, on an edge of rounding %g", *once.UResistance, *same.UResistance, *edge.UResistance)
	}
	if u := *wide.UResistance / *wide.Resistance; math.Abs(u-0.110*1.033) > 0.01 {
		t.Errorf("scattered: u(G)/G = %g, want 0.114", u)
	}
	// Four degrees of freedom: Student's t is 2.78 (JCGM 100:2008, table G.2).
	if k := *wide.U95Resistance / *wide.UResistance; k < 2.5 || k > 2.8 {
		t.Errorf("coverage factor %g, want somewhat below 2.78", k)
	}
	if !(*more.UResistance < *wide.UResistance) {
		t.Errorf("more repeats: u(G) %g, before %g", *more.UResistance, *wide.UResistance)
	}
	row := *wide.MeanResistance
	if math.Abs(row-*wide.Resistance) > *wide.UResistance/4 {
		t.Errorf("mean of rows %g, fit %g", row, *wide.Resistance)
	}
}
