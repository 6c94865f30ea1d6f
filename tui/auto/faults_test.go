package auto_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	simulated "example.org/halve/physics/bench"
	"example.org/halve/physics/fault"
	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
	"example.org/halve/safety"
)

// A trial is a student at a simulated bench who takes some rows as the counsel
// asks, has a fault planted, and goes on for some rows more.
type trial struct {
	t       *testing.T
	bench   *simulated.Bench
	sitting *record.Sitting
	counsel procedure.Counsel
	shunted bool // the last reading was a shunted one
	// visible: a reading since the fault was planted lay more than four
	// standard uncertainties from what was expected of it then.
	visible bool
	planted bool
	highest float64 // greatest probability of a finding at any time
	which   string
	columns bool // the readings of a row are written in each other's place
	held    *float64
}

// newTrial sets a bench up from a seed, with its plate or without.
func newTrial(t *testing.T, seed uint64, plate bool) *trial {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 77))
	stated := simulated.Stock(r)
	truth := simulated.Draw(stated, r)
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
	b, err := simulated.New(stated, truth, r)
	if err != nil {
		t.Fatal(err)
	}
	tr := &trial{t: t, bench: b, sitting: record.InMemory(clock)}
	tr.send(procedure.Bench{Bench: stated})
	return tr
}

func (tr *trial) send(b procedure.Body) bool {
	tr.t.Helper()
	expect := tr.counsel.Expect
	c, err := tr.sitting.Accept(b)
	if err != nil {
		tr.t.Fatal(err)
	}
	if c.Refused != nil {
		return false
	}
	tr.counsel = c
	for _, f := range c.Findings {
		if f.ID != "bench-unfit" && f.Probability > tr.highest {
			tr.highest, tr.which = f.Probability, f.ID
		}
	}
	var div *float64
	off := false
	switch b := b.(type) {
	case procedure.FirstRead:
		div, off = b.Div, b.OffScale
	case procedure.ShuntedRead:
		div, off = b.Div, b.OffScale
	default:
		return true
	}
	if tr.planted && expect != nil {
		table, _ := tr.sitting.State().Bench()
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
	if c := tr.counsel.Clearance; c != nil && c.Verdict == safety.Stop && (n.Event == procedure.KindReadFirst || n.Event == procedure.KindReadShunted) {
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
	case procedure.KindWired:
		return tr.send(procedure.Wired{})
	case procedure.KindZero:
		v, _ := tr.bench.Read()
		return tr.send(procedure.ZeroRead{Div: v})
	case procedure.KindSetSeries:
		if err := tr.bench.SetSeries(*n.Ohm, n.TakeOut); err != nil {
			tr.t.Fatal(err)
		}
		return tr.send(procedure.SeriesSet{Ohm: *n.Ohm, TakeOut: n.TakeOut})
	case procedure.KindSetShunt:
		if err := tr.bench.SetShunt(*n.Ohm, n.TakeOut); err != nil {
			tr.t.Fatal(err)
		}
		return tr.send(procedure.ShuntSet{Ohm: *n.Ohm, TakeOut: n.TakeOut})
	case procedure.KindReadFirst:
		v, off := read(false)
		tr.shunted = false
		return tr.send(procedure.FirstRead{Div: v, OffScale: off})
	case procedure.KindReadShunted:
		v, off := read(true)
		tr.shunted = true
		return tr.send(procedure.ShuntedRead{Div: v, OffScale: off})
	case procedure.KindKeepRow:
		return tr.send(procedure.RowKept{})
	}
	return false
}

func (tr *trial) rows() int { return len(tr.counsel.Rows) }

// until goes on to the given number of rows, for at most so many events. It
// stops before the last row is kept.
func (tr *trial) until(rows, events int) {
	for range events {
		if n := tr.counsel.Next; n == nil || tr.rows() == rows-1 && n.Event == procedure.KindKeepRow || !tr.step() {
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

// score counts how often a fault is named.
type score struct {
	n, visible, first, three, heard int
	named                           map[string]int
}

func (s *score) add(id string, c procedure.Counsel, visible bool) {
	s.n++
	if s.named == nil {
		s.named = map[string]int{}
	}
	if !visible {
		return
	}
	s.visible++
	at := slices.IndexFunc(c.Findings, func(f procedure.Finding) bool { return f.ID == id })
	if c.Findings != nil && len(c.Findings) > 0 {
		s.heard++
		s.named[c.Findings[0].ID]++
	} else {
		s.named["silence"]++
	}
	if at == 0 {
		s.first++
	}
	if at >= 0 && at < 3 {
		s.three++
	}
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
//	HALVE_FAULTS=200 go test -v -timeout 1h -run TestFaultsAreNamed ./tui/auto
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
					tr.planted = true
					tr.until(c.before+c.after, 12*c.after)
					s.add(id, tr.counsel, tr.visible)
				}
				t.Logf("%-22s benches %3d visible %3d first %3d three %3d heard %3d | %s", id, s.n, s.visible, s.first, s.three, s.heard, s.confusion(id))
				all.n += s.n
				all.visible += s.visible
				all.first += s.first
				all.three += s.three
				all.heard += s.heard
			}
			v := float64(max(1, all.visible))
			t.Logf("all: benches %d visible %d first %.3f three %.3f heard %.3f", all.n, all.visible, float64(all.first)/v, float64(all.three)/v, float64(all.heard)/v)
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
