package procedure

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/bench"
	"example.org/halve/physics/fault"
	"example.org/halve/procedure/diagnosis"
	"example.org/halve/safety"
)

// A trial is a student at a simulated bench who takes some rows as the counsel
// asks, has a fault planted, and goes on for some rows more.
type trial struct {
	t       *testing.T
	bench   *bench.Bench
	state   *State
	events  []Event
	counsel Counsel
	// visible: a reading since the fault was planted lay more than four
	// standard uncertainties from what was expected of it then.
	visible bool
	planted bool
	highest float64 // greatest probability of a finding at any time
	which   string
	id      string // what was planted
	told    bool   // it was the first finding at some time
}

// newTrial sets a bench up from a seed, with its plate or without.
func newTrial(t *testing.T, seed uint64, plate bool) *trial {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 77))
	stated := bench.Stock(r)
	truth := bench.Draw(stated, r)
	if plate {
		i, u := truth.Merit*stated.Galvanometer.Divisions*(1+0.03*r.NormFloat64()), 0.0
		u = 0.03 * i
		g, ug := truth.Resistance*(1+0.07*r.NormFloat64()), 0.0
		ug = 0.07 * g
		stated.Galvanometer.FullScale, stated.Galvanometer.UFullScale = &i, &u
		stated.Galvanometer.Resistance, stated.Galvanometer.UResistance = &g, &ug
	} else {
		stated.Galvanometer.FullScale, stated.Galvanometer.UFullScale = nil, nil
		stated.Galvanometer.Resistance, stated.Galvanometer.UResistance = nil, nil
	}
	b, err := bench.New(stated, truth, r)
	if err != nil {
		t.Fatal(err)
	}
	tr := &trial{t: t, bench: b, state: new(State)}
	tr.send(Bench{Bench: stated})
	return tr
}

func (tr *trial) send(b Body) bool {
	tr.t.Helper()
	expect := tr.counsel.Expect
	// As the line protocol does: the event is written and read.
	line, err := EncodeInput(b)
	if err != nil {
		tr.t.Fatal(err)
	}
	if b, err = DecodeInput(line); err != nil {
		tr.t.Fatal(err)
	}
	e := Event{Seq: tr.state.Seq() + 1, At: time.Date(2025, 3, 4, 10, tr.state.Seq(), 0, 0, time.UTC), Body: b}
	if err := tr.state.Apply(e); err != nil {
		return false
	}
	tr.events = append(tr.events, e)
	c := Advise(tr.state)
	tr.counsel = c
	if tr.planted && tr.id != "" && len(c.Findings) > 0 && c.Findings[0].ID == tr.id {
		tr.told = true
	}
	for _, f := range c.Findings {
		if f.ID != "bench-unfit" && f.Probability > tr.highest {
			tr.highest, tr.which = f.Probability, f.ID
		}
	}
	var div *float64
	off := false
	switch b := b.(type) {
	case FirstRead:
		div, off = b.Div, b.OffScale
	case ShuntedRead:
		div, off = b.Div, b.OffScale
	default:
		return true
	}
	if tr.planted && expect != nil {
		table, _ := tr.state.Bench()
		seen := table.Galvanometer.Divisions
		if !off {
			seen = *div
		}
		u := math.Hypot(expect.UDiv, 0.33*table.Galvanometer.Step())
		if d := math.Abs(seen - expect.Div); d > 4*u && (!off || expect.Div < seen) {
			tr.visible = true
		}
	}
	return true
}

// step obeys one counsel; it reports whether there was one to obey.
func (tr *trial) step() bool {
	n := tr.counsel.Next
	if n == nil {
		return false
	}
	if c := tr.counsel.Clearance; c != nil && c.Verdict == safety.Stop && (n.Event == KindReadFirst || n.Event == KindReadShunted) {
		return false
	}
	read := func(k2 bool) (*float64, bool) {
		tr.bench.SetKeys(true, k2)
		v, off := tr.bench.Read()
		tr.bench.SetKeys(false, false)
		if off {
			return nil, true
		}
		return &v, false
	}
	switch n.Event {
	case KindWired:
		return tr.send(Wired{})
	case KindZero:
		v, _ := tr.bench.Read()
		return tr.send(ZeroRead{Div: v})
	case KindSetSeries:
		if err := tr.bench.SetSeries(*n.Ohm, n.TakeOut); err != nil {
			tr.t.Fatal(err)
		}
		return tr.send(SeriesSet{Ohm: *n.Ohm, TakeOut: n.TakeOut})
	case KindSetShunt:
		if err := tr.bench.SetShunt(*n.Ohm, n.TakeOut); err != nil {
			tr.t.Fatal(err)
		}
		return tr.send(ShuntSet{Ohm: *n.Ohm, TakeOut: n.TakeOut})
	case KindReadFirst:
		v, off := read(false)
		return tr.send(FirstRead{Div: v, OffScale: off})
	case KindReadShunted:
		v, off := read(true)
		return tr.send(ShuntedRead{Div: v, OffScale: off})
	case KindKeepRow:
		return tr.send(RowKept{})
	}
	return false
}

func (tr *trial) rows() int { return len(tr.counsel.Rows) }

// until goes on to the given number of rows, for at most so many events. It
// stops before the last row is kept.
func (tr *trial) until(rows, events int) {
	for range events {
		if n := tr.counsel.Next; n == nil || tr.rows() == rows-1 && n.Event == KindKeepRow || !tr.step() {
			return
		}
	}
}

// take goes on until a number of rows is kept, and a little way into the next.
func (tr *trial) take(rows int) {
	for range 60 {
		if tr.rows() >= rows || !tr.step() {
			return
		}
	}
}

// score counts how often a fault is named: of all benches, by the rank among
// all hypotheses with "sound" among them; of those where it is visible, by
// the findings of the counsel.
type score struct {
	n, rank1, rank3                   int
	visible, heard, first, three, any int
	// twins counts the benches where a look-alike was named first.
	twins int
	named map[string]int
}

func (s *score) add(id string, tr *trial) {
	s.n++
	for i, f := range diagnosis.Rank(tr.state.diagnosisInput()) {
		if f.ID == id {
			if i == 0 {
				s.rank1++
			}
			if i < 3 {
				s.rank3++
			}
		}
	}
	if !tr.visible {
		return
	}
	s.visible++
	if tr.told {
		s.any++
	}
	found := slices.DeleteFunc(slices.Clone(tr.counsel.Findings), func(f Finding) bool { return f.ID == "bench-unfit" })
	top := "silence"
	if len(found) > 0 {
		s.heard++
		top = found[0].ID
	}
	at := slices.IndexFunc(found, func(f Finding) bool { return f.ID == id })
	if id == string(fault.Reversed) && tr.told {
		at, top = 0, id // it is told once; rows on the left are then as good
	}
	if s.named == nil {
		s.named = map[string]int{}
	}
	s.named[top]++
	alike := slices.Contains(diagnosis.LookAlikes(tr.state.diagnosisInput(), id), top)
	if alike {
		s.twins++
	}
	if at == 0 {
		s.first++
	}
	if at >= 0 && at < 3 {
		s.three++
	}
}

func (s *score) sum(o *score) {
	s.n += o.n
	s.rank1 += o.rank1
	s.rank3 += o.rank3
	s.visible += o.visible
	s.heard += o.heard
	s.first += o.first
	s.three += o.three
	s.any += o.any
	s.twins += o.twins
}

func (s *score) String() string {
	share := func(n, of int) string {
		if of == 0 {
			return "   –"
		}
		return fmt.Sprintf("%4.2f", float64(n)/float64(of))
	}
	return fmt.Sprintf("all %4d: first %s three %s | visible %4d: heard %s first %s, not counting look-alikes %s (%d), three %s, ever first %s", s.n, share(s.rank1, s.n), share(s.rank3, s.n),
		s.visible, share(s.heard, s.visible), share(s.first, s.visible), share(s.first, s.visible-s.twins), s.twins, share(s.three, s.visible), share(s.any, s.visible))
}

func (s *score) confusion(id string) string {
	var out []string
	for k, n := range s.named {
		if k != id {
			out = append(out, fmt.Sprintf("%s %d", k, n))
		}
	}
	slices.Sort(out)
	return strings.Join(out, ", ")
}

// faultIDs lists the faults that a bench can have.
func faultIDs() []string {
	var out []string
	for _, f := range fault.Catalogue() {
		if f.Benchable() && !slices.Contains(out, string(f.ID)) {
			out = append(out, string(f.ID))
		}
	}
	return out
}

func envInt(name string, otherwise int) int {
	if n, err := strconv.Atoi(os.Getenv(name)); err == nil && n > 0 {
		return n
	}
	return otherwise
}

// seedsOfTests is where the seeds begin that nothing was chosen on.
const seedsOfTests = 1_000_000

// seenAtOnce lists the faults that are to be named from the very first row.
var seenAtOnce = []string{"no-current", "reversed", "shunt-open", "shunt-shorted", "shunt-across-series", "series-bypassed"}

// A fault planted after two sound rows, or before the first, is named: where a
// reading departs by more than four standard uncertainties from what was
// expected, among the first three in 98 %; and first in 90 % where no
// look-alike is. HALVE_FAULTS sets the number of benches per fault, and with it
// the whole tables are printed:
//
//	HALVE_FAULTS=200 go test -v -timeout 2h -run 'Faults|Sound|Prototype|Calibration' ./procedure
func TestFaultsAreNamed(t *testing.T) {
	n := envInt("HALVE_FAULTS", 2)
	whole := os.Getenv("HALVE_FAULTS") != ""
	base := uint64(envInt("HALVE_FAULT_SEEDS", seedsOfTests))
	for _, c := range []struct {
		before, after int
		plate, always bool // always: in the small sample as well
		of            []string
	}{
		{2, 1, false, true, nil}, {2, 1, true, true, nil}, {0, 1, true, true, seenAtOnce},
		{2, 4, false, false, nil}, {0, 1, false, false, seenAtOnce}, {0, 4, false, false, seenAtOnce}, {0, 4, true, false, seenAtOnce},
	} {
		if !c.always && !whole {
			continue
		}
		name := fmt.Sprintf("planted after %d rows, %d rows more, plate %v", c.before, c.after, c.plate)
		t.Run(name, func(t *testing.T) {
			var asked score
			var all score
			for fi, id := range faultIDs() {
				var s score
				for i := range n {
					tr := newTrial(t, base+uint64(1000*fi+i), c.plate)
					if !slices.Contains(tr.bench.Faults(), id) {
						continue
					}
					tr.take(c.before)
					if tr.rows() < c.before {
						continue
					}
					if err := tr.bench.Plant(id); err != nil {
						t.Fatal(err)
					}
					tr.planted, tr.id = true, id
					tr.until(c.before+c.after, 12*c.after)
					s.add(id, tr)
				}
				t.Logf("%-21s %v | %s", id, &s, s.confusion(id))
				all.sum(&s)
				if c.of == nil || slices.Contains(c.of, id) {
					asked.sum(&s)
				}
			}
			t.Logf("%-21s %v", "all", &all)
			// Faults that last for four rows are judged by the last counsel,
			// when some have been accepted or come and gone: reported only.
			if c.after > 1 {
				return
			}
			atLeast := func(what string, got, of int, want float64) {
				// In a small sample chance adds three times the spread of a
				// binomial count.
				slack := 3 * math.Sqrt(want*(1-want)/float64(max(1, of)))
				if share := float64(got) / float64(max(1, of)); of > 0 && share < want-slack {
					t.Errorf("%s: %d of %d, want %.0f %%", what, got, of, 100*want)
				}
			}
			atLeast("among the first three", asked.three, asked.visible, 0.98)
			atLeast("first where no look-alike is", asked.first, asked.visible-asked.twins, 0.90)
		})
	}
}

// A sound practical is not suspected: a finding above one half, at any time, in
// fewer than three of a hundred.
func TestSoundIsSilent(t *testing.T) {
	n := envInt("HALVE_FAULTS", 10) * 5
	base := uint64(envInt("HALVE_FAULT_SEEDS", seedsOfTests))
	alarms := 0
	for i := range n {
		tr := newTrial(t, base+500_000+uint64(i), i%2 == 0)
		for range 150 { // to the end, the zero after the last row with it
			if !tr.step() {
				break
			}
		}
		if tr.highest > 0.5 {
			alarms++
			t.Logf("seed %d: %s %.2f after %d rows", i, tr.which, tr.highest, tr.rows())
		}
	}
	t.Logf("sound practicals %d, with a finding above 0.5: %d", n, alarms)
	if float64(alarms) > 0.03*float64(n)+1 {
		t.Errorf("%d of %d sound practicals had a finding above 0.5", alarms, n)
	}
}

// prototypeBench is the bench on which a first prototype was measured (domain
// notes E3): 1.5 V, thirty divisions to the half, G about 85 Ω and k about
// 22 µA a division, each spread by 40 %; the plate, where it is known, to 10 %.
func prototypeBench(t *testing.T, r *rand.Rand, plate bool) (apparatus.Bench, bench.Hidden) {
	t.Helper()
	u := 0.03
	b := apparatus.Bench{
		Source:       apparatus.Source{EMF: 1.5, UEMF: &u},
		Galvanometer: apparatus.Galvanometer{Divisions: 30, Zero: apparatus.CentreZero, Resolution: 0.5},
		SeriesBox:    apparatus.Box{Kind: apparatus.Plug, Coils: apparatus.PlugSet(100, 1000), Tolerance: 0.003},
		ShuntBox:     apparatus.Box{Kind: apparatus.Plug, Coils: apparatus.PlugSet(1, 10, 100), Tolerance: 0.005},
	}
	h := bench.Draw(b, r)
	h.Resistance = 85 * math.Exp(0.4*r.NormFloat64())
	h.Merit = 22e-6 * math.Exp(0.4*r.NormFloat64())
	h.EMF = 1.5 * math.Exp(0.015*r.NormFloat64())
	h.SourceResistance = 0.8 * math.Exp(0.5*r.NormFloat64())
	h.Zero = 0.05 * r.NormFloat64()
	if plate {
		g, ug := h.Resistance*math.Exp(0.07*r.NormFloat64()), 0.0
		i, ui := 30*h.Merit*math.Exp(0.07*r.NormFloat64()), 0.0
		ug, ui = 0.1*g, 0.1*i
		b.Galvanometer.Resistance, b.Galvanometer.UResistance = &g, &ug
		b.Galvanometer.FullScale, b.Galvanometer.UFullScale = &i, &ui
	}
	return b, h
}

// prototypeRows is the prototype's student: brings the needle to an even mark,
// hunts for the half on the bench as it stands, and never looks at a counsel.
func prototypeRows(t *testing.T, seed uint64, id string, rows int, plate bool) (*trial, diagnosis.Input) {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 78))
	stated, hidden := prototypeBench(t, r, plate)
	make := func() *bench.Bench {
		b, err := bench.New(stated, hidden, r)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	b, look := make(), make()
	tr := &trial{t: t, bench: b, state: new(State), id: id, planted: true}
	lasting := id != ""
	for _, f := range fault.Catalogue() {
		if string(f.ID) == id && f.Span != fault.Lasting {
			lasting = false
		}
	}
	if lasting && id != string(fault.ColumnsSwapped) {
		if err := b.Plant(id); err != nil {
			t.Fatal(err)
		}
		look = b
	}
	at := r.IntN(rows)
	var shuntedOff []bool
	var shunts []apparatus.Setting
	tr.send(Bench{Bench: stated})
	tr.send(Wired{})
	tr.send(ZeroRead{Div: 0})
	clip := func(x float64) float64 { return max(-30, min(30, x)) }
	marks := r.Perm(8)
	for i := range rows {
		mark := float64(14 + 2*marks[i%8])
		see := func(series, shunt float64, k2 bool) float64 {
			if look.SetSeries(series, nil) != nil || look.SetShunt(shunt, nil) != nil {
				t.Fatal("the box cannot be set so")
			}
			look.SetKeys(true, k2) // K1 stays closed while the student hunts
			return math.Abs(clip(look.Deflection()))
		}
		series, best := 0.0, math.Inf(1)
		for x := 500.0; x <= 11000; x += 100 {
			if d := math.Abs(see(x, 90, false) - mark); d < best {
				series, best = x, d
			}
		}
		if best > 1.5 {
			series = math.Round(1.5/(22e-6*mark)/100) * 100
		}
		first := see(series, 90, false)
		shunt, best := 0.0, math.Inf(1)
		for x := 1.0; x <= 1000; x++ {
			if d := math.Abs(see(series, x, true) - first/2); d < best {
				shunt, best = x, d
			}
		}
		if best > 0.6 || first < 1 {
			shunt = []float64{40, 60, 80, 100, 150}[r.IntN(5)]
		} else {
			shunt = max(1, math.Round(shunt*(1+0.02*r.NormFloat64())))
		}
		if id != "" && !lasting && i == at && id != string(fault.ColumnsSwapped) {
			if err := b.Plant(id); err != nil {
				t.Fatal(err)
			}
		}
		if b.SetShunt(shunt, nil) != nil || b.SetSeries(series, nil) != nil || b.SetShunt(shunt, nil) != nil {
			t.Fatal("the box cannot be set so")
		}
		look.SetKeys(false, false)
		read := func(k2 bool) (float64, bool) {
			b.SetKeys(true, k2)
			defer b.SetKeys(false, false)
			return b.Read()
		}
		one, oneOff := read(false)
		two, twoOff := read(true)
		if id == string(fault.ColumnsSwapped) {
			one, oneOff, two, twoOff = two, twoOff, one, oneOff
		}
		value := func(v float64, off bool) *float64 {
			if off {
				return nil
			}
			return &v
		}
		// Written down as a table: nothing is refused for want of a first
		// deflection on the scale.
		tr.send(SeriesSet{Ohm: series})
		tr.send(ShuntSet{Ohm: shunt})
		tr.send(FirstRead{Div: value(one, oneOff), OffScale: oneOff})
		tr.send(ShuntedRead{Div: value(two, twoOff), OffScale: twoOff})
		tr.send(RowKept{})
		set, _ := tr.state.bench.shunt.Exact(shunt)
		shunts, shuntedOff = append(shunts, set), append(shuntedOff, twoOff)
	}
	// A record takes no shunted reading where the first deflection is off the
	// scale; the prototype's table had both.
	in := tr.state.diagnosisInput()
	for i := range in.Runs {
		if len(in.Runs[i].Branches) == 0 && i < len(shuntedOff) && shuntedOff[i] {
			in.Runs[i].Branches = []diagnosis.Branch{{Seq: in.Runs[i].Seq, Shunt: shunts[i], Readings: []diagnosis.Reading{{Seq: in.Runs[i].Seq, Off: true}}}}
		}
	}
	return tr, in
}

// The figures of a first prototype (domain notes E3) are beaten, on the benches
// and with the student it was measured with. HALVE_FAULTS prints the tables.
func TestPrototypeFigures(t *testing.T) {
	n := envInt("HALVE_FAULTS", 2)
	whole := os.Getenv("HALVE_FAULTS") != ""
	base := uint64(envInt("HALVE_FAULT_SEEDS", seedsOfTests))
	for _, c := range []struct {
		rows       int
		plate      bool
		one, three float64 // the prototype's
	}{{4, false, 0.648, 0.902}, {4, true, 0.751, 0.940}, {1, false, 0.319, 0.611}, {1, true, 0.519, 0.820}} {
		if c.rows > 1 && !whole { // they take a minute
			continue
		}
		t.Run(fmt.Sprintf("%d rows, plate %v", c.rows, c.plate), func(t *testing.T) {
			var all score
			for fi, id := range append(faultIDs(), string(fault.ColumnsSwapped)) {
				var s score
				for i := range n {
					tr, in := prototypeRows(t, base+uint64(1000*fi+i), id, c.rows, c.plate)
					s.n++
					for at, f := range diagnosis.Rank(in) {
						if f.ID == id || at == 0 && id == string(fault.Reversed) && tr.told {
							if at == 0 {
								s.rank1++
							}
							if at < 3 {
								s.rank3++
							}
						}
					}
				}
				t.Logf("%-21s %v", id, &s)
				if id != string(fault.ShuntPlug) && id != string(fault.ScaleUneven) { // the prototype did not have these
					all.sum(&s)
				}
			}
			t.Logf("%-21s %v", "all", &all)
			silent := 0
			for i := range n * 4 {
				tr, _ := prototypeRows(t, base+900_000+uint64(i), "", c.rows, c.plate)
				if len(tr.counsel.Findings) == 0 {
					silent++
				}
			}
			t.Logf("sound: silent %d of %d", silent, 4*n)
			for _, x := range []struct {
				what string
				got  int
				want float64
			}{{"first", all.rank1, c.one}, {"among the first three", all.rank3, c.three}} {
				// The prototype's figures are from 40 benches a fault and
				// good to about 0.01; chance adds three times the spread of a
				// binomial count.
				slack := 0.01 + 3*math.Sqrt(x.want*(1-x.want)/float64(all.n))
				if share := float64(x.got) / float64(all.n); share < x.want-slack {
					t.Errorf("%s: %.3f of %d, the prototype had %.3f", x.what, share, all.n, x.want)
				}
			}
		})
	}
}

// Probabilities are what they say: of the findings given 0.7 to 0.9 on benches
// whose faults are drawn with the table's own weights, sound ones among them,
// 65 to 95 % are right. Each practical counts once for each band: by the first
// of its counsels whose leading finding lies in it.
func TestCalibration(t *testing.T) {
	n := envInt("HALVE_FAULTS", 4) * 20
	base := uint64(envInt("HALVE_FAULT_SEEDS", seedsOfTests))
	ids := append([]string{""}, faultIDs()...)
	total := 0.0
	for _, id := range ids {
		total += diagnosis.Weight(id)
	}
	type band struct{ from, to float64 }
	bands := []band{{0.3, 0.5}, {0.5, 0.7}, {0.7, 0.9}, {0.9, 0.99}, {0.99, 1.01}}
	said, right := make([]int, len(bands)), make([]int, len(bands))
	wrong := map[string]int{}
	for i := range n {
		seed := base + 700_000 + uint64(i)
		r := rand.New(rand.NewPCG(seed, 79))
		at, id := total*r.Float64(), ""
		for _, x := range ids {
			if at -= diagnosis.Weight(x); at < 0 {
				id = x
				break
			}
		}
		tr := newTrial(t, seed, r.IntN(2) == 0)
		if id != "" && !slices.Contains(tr.bench.Faults(), id) {
			continue
		}
		before := 2 * r.IntN(2)
		tr.take(before)
		if id != "" {
			if err := tr.bench.Plant(id); err != nil {
				t.Fatal(err)
			}
		}
		seen := make([]bool, len(bands))
		for range 36 {
			if !tr.step() || tr.rows() > before+3 {
				break
			}
			if len(tr.counsel.Findings) == 0 {
				continue
			}
			f := tr.counsel.Findings[0]
			for b := range bands {
				if f.Probability >= bands[b].from && f.Probability < bands[b].to && !seen[b] && f.ID != "bench-unfit" {
					seen[b] = true
					said[b]++
					if f.ID == id {
						right[b]++
					} else if b >= 2 {
						wrong[f.ID+" for "+id]++
					}
				}
			}
		}
	}
	for b, x := range bands {
		t.Logf("findings given %.2f to %.2f: %d, right %.2f", x.from, x.to, said[b], float64(right[b])/float64(max(1, said[b])))
	}
	t.Logf("wrong above 0.7: %v", wrong)
	share := float64(right[2]) / float64(max(1, said[2]))
	// In a small sample chance adds twice the spread of a binomial count.
	slack := 2 * math.Sqrt(0.8*0.2/float64(max(1, said[2])))
	if share < 0.65-slack || share > 0.95+slack {
		t.Errorf("of %d findings given 0.7 to 0.9, %.2f are right; 0.65 to 0.95 is asked", said[2], share)
	}
}
