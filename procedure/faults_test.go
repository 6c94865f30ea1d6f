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
	named                             map[string]int
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
	if s.named == nil {
		s.named = map[string]int{}
	}
	s.named[top]++
	at := slices.IndexFunc(found, func(f Finding) bool { return f.ID == id })
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
}

func (s *score) String() string {
	share := func(n, of int) string {
		if of == 0 {
			return "   –"
		}
		return fmt.Sprintf("%4.2f", float64(n)/float64(of))
	}
	return fmt.Sprintf("all %4d: first %s three %s | visible %4d: heard %s first %s three %s, ever first %s", s.n, share(s.rank1, s.n), share(s.rank3, s.n),
		s.visible, share(s.heard, s.visible), share(s.first, s.visible), share(s.three, s.visible), share(s.any, s.visible))
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

// A fault planted after two sound rows, or before the first, is named. HALVE_FAULTS
// sets the number of benches per fault, and prints the whole tables:
//
//	HALVE_FAULTS=200 go test -v -timeout 1h -run 'Faults|Sound' ./procedure
func TestFaultsAreNamed(t *testing.T) {
	n := envInt("HALVE_FAULTS", 4)
	base := uint64(envInt("HALVE_FAULT_SEEDS", seedsOfTests))
	for _, c := range []struct {
		before, after int
		plate         bool
		three, one    float64
	}{{2, 1, false, 0.9, 0}, {2, 1, true, 0.9, 0}, {2, 4, false, 0.9, 0}, {0, 1, false, 0, 0}, {0, 1, true, 0, 0}, {0, 4, false, 0, 0}, {0, 4, true, 0, 0}} {
		name := fmt.Sprintf("planted after %d rows, %d rows more, plate %v", c.before, c.after, c.plate)
		t.Run(name, func(t *testing.T) {
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
			}
			t.Logf("%-21s %v", "all", &all)
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
		tr.take(5)
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
