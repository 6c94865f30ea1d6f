package lines_test

import (
	"bufio"
	"encoding/json"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/bench"
	"example.org/halve/physics/fault"
	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
	"example.org/halve/safety"
	"example.org/halve/tui/lines"
)

// person is somebody at a simulated bench who speaks the line protocol and
// knows nothing but what it answers.
type person struct {
	t       testing.TB
	bench   *bench.Bench
	stated  apparatus.Bench
	rand    *rand.Rand
	sitting *record.Sitting
	in      *io.PipeWriter
	out     *bufio.Reader
	done    chan error
	counsel procedure.Counsel
	// departed tells that a reading taken while watched lay further from its
	// prediction than visible says.
	watched, departed bool
	// atOnce are the findings of the counsel upon the first such reading.
	atOnce []procedure.Finding
	// leading lists the findings that were first at some time.
	leading []string
	// highest is the greatest probability of a finding at any time.
	highest float64
	which   string
}

// visible is by how many standard uncertainties of its prediction a reading
// departs that shows a fault.
const visible = 4

// sit begins a practical over the line protocol on a stated bench of the given
// truth. It ends with leave.
func sit(t testing.TB, stated apparatus.Bench, truth bench.Hidden, r *rand.Rand) *person {
	t.Helper()
	b, err := bench.New(stated, truth, r)
	if err != nil {
		t.Fatal(err)
	}
	inR, inW := io.Pipe()
	outR, outW := io.Pipe()
	at := time.Date(2025, 3, 4, 10, 0, 0, 0, time.UTC)
	p := &person{t: t, bench: b, stated: stated, rand: r, in: inW, out: bufio.NewReader(outR), done: make(chan error, 1)}
	p.sitting = record.InMemory(func() time.Time { at = at.Add(time.Minute); return at })
	go func() {
		err := lines.Run(p.sitting, inR, outW)
		outW.Close()
		p.done <- err
	}()
	p.hear()
	p.must(procedure.Bench{Bench: stated})
	return p
}

func (p *person) leave() {
	p.t.Helper()
	p.in.Close()
	if err := <-p.done; err != nil {
		p.t.Error(err)
	}
}

// hear reads one counsel.
func (p *person) hear() {
	p.t.Helper()
	line, err := p.out.ReadBytes('\n')
	if err != nil {
		p.t.Fatal(err)
	}
	p.counsel = procedure.Counsel{}
	if err := json.Unmarshal(line, &p.counsel); err != nil {
		p.t.Fatalf("%v in %s", err, line)
	}
	if fs := p.counsel.Findings; len(fs) > 0 && !slices.Contains(p.leading, fs[0].ID) {
		p.leading = append(p.leading, fs[0].ID)
	}
	for _, f := range p.counsel.Findings {
		if f.ID != "bench-unfit" && f.Probability > p.highest {
			p.highest, p.which = f.Probability, f.ID
		}
	}
}

// toldOf reports whether a finding was the first at some time.
func (p *person) toldOf(id string) bool { return slices.Contains(p.leading, id) }

// send says one event and hears the answer; it reports whether it was taken.
func (p *person) send(b procedure.Body) bool {
	p.t.Helper()
	departs := p.watched && p.departs(b)
	line, err := procedure.EncodeInput(b)
	if err != nil {
		p.t.Fatal(err)
	}
	if _, err := p.in.Write(append(line, '\n')); err != nil {
		p.t.Fatal(err)
	}
	p.hear()
	taken := p.counsel.Refused == nil
	if taken && departs && !p.departed {
		p.departed, p.atOnce = true, p.counsel.Findings
	}
	return taken
}

func (p *person) must(b procedure.Body) {
	p.t.Helper()
	if !p.send(b) {
		p.t.Fatalf("%#v is refused: %s", b, *p.counsel.Refused)
	}
}

// departs compares a reading with what was known of it before: with what the
// counsel expects or, where nothing was measured and no plate states it, with
// the usual instruments that the diagnosis supposes.
func (p *person) departs(b procedure.Body) bool {
	var div *float64
	off, shunted := false, false
	switch b := b.(type) {
	case procedure.FirstRead:
		div, off = b.Div, b.OffScale
	case procedure.ShuntedRead:
		div, off, shunted = b.Div, b.OffScale, true
	default:
		return false
	}
	var low, high float64
	if e := p.counsel.Expect; e != nil {
		low, high = e.Div-visible*e.UDiv, e.Div+visible*e.UDiv
	} else {
		in := p.sitting.State().DiagnosisInput()
		reading := math.Sqrt(in.Step*in.Step/12 + in.Repeatability*in.Repeatability + in.UZero*in.UZero)
		series, _ := p.sitting.State().SeriesOhm()
		g := math.Exp(in.Movement.Mean)
		all := series + math.Exp(in.Source.Mean)
		m, by := math.Exp(in.Loop.Mean)/(all+g), g/(all+g)
		if shunted {
			s, _ := p.sitting.State().ShuntOhm()
			seen := all * g / (all + g)
			m *= s / (s + seen)
			by += seen / (s + seen)
		}
		spread := math.Exp(visible * math.Hypot(in.Loop.SD, by*in.Movement.SD))
		low, high = m/spread-visible*reading, m*spread+visible*reading
	}
	switch n := p.stated.Galvanometer.Divisions; {
	case off && div != nil && *div < 0:
		return low > -n
	case off:
		return high < n
	default:
		return *div < low || *div > high
	}
}

// read closes K1, and K2 as well if it is so wanted, and reads the needle.
func (p *person) read(k2 bool) (div *float64, off bool) {
	p.bench.SetKeys(true, k2)
	v, off := p.bench.Read()
	p.bench.SetKeys(false, false)
	if off {
		return nil, true
	}
	return &v, false
}

// obey does what the counsel asks for; it reports whether that could be done.
func (p *person) obey() bool {
	p.t.Helper()
	n := p.counsel.Next
	if n == nil {
		return false
	}
	if c := p.counsel.Clearance; c != nil && c.Verdict == safety.Stop && (n.Event == procedure.KindReadFirst || n.Event == procedure.KindReadShunted) {
		return false
	}
	switch n.Event {
	case procedure.KindWired:
		return p.send(procedure.Wired{})
	case procedure.KindZero:
		p.bench.SetKeys(false, false)
		v, _ := p.bench.Read()
		return p.send(procedure.ZeroRead{Div: v})
	case procedure.KindSetSeries:
		p.set(p.bench.SetSeries, *n.Ohm, n.TakeOut)
		return p.send(procedure.SeriesSet{Ohm: *n.Ohm, TakeOut: n.TakeOut})
	case procedure.KindSetShunt:
		p.set(p.bench.SetShunt, *n.Ohm, n.TakeOut)
		return p.send(procedure.ShuntSet{Ohm: *n.Ohm, TakeOut: n.TakeOut})
	case procedure.KindReadFirst:
		v, off := p.read(false)
		return p.send(procedure.FirstRead{Div: v, OffScale: off})
	case procedure.KindReadShunted:
		v, off := p.read(true)
		return p.send(procedure.ShuntedRead{Div: v, OffScale: off})
	case procedure.KindKeepRow:
		return p.send(procedure.RowKept{})
	}
	return false // finish
}

func (p *person) set(box func(float64, []float64) error, ohm float64, out []float64) {
	p.t.Helper()
	if err := box(ohm, out); err != nil {
		p.t.Fatal(err)
	}
}

// obeyTo goes on until so many rows are kept; it reports whether they are.
func (p *person) obeyTo(rows int) bool {
	for range 60 * (1 + rows) {
		if len(p.counsel.Rows) >= rows && (rows > 0 || p.counsel.Step == procedure.StepSeries) {
			return true
		}
		if !p.obey() {
			return false
		}
	}
	return false
}

// obeyRow goes on to where another row can be kept, for so many events at
// most.
func (p *person) obeyRow(events int) {
	rows := len(p.counsel.Rows)
	for range events {
		if n := p.counsel.Next; n == nil || len(p.counsel.Rows) == rows && n.Event == procedure.KindKeepRow || !p.obey() {
			return
		}
	}
}

// ownRow takes a row as somebody does who listens to nobody: a series value
// that brings a sound needle somewhere into the upper half of the scale, a shunt
// not far from the half, one look at each. It is not kept. swapped writes the
// two readings into each other's place.
func (p *person) ownRow(swapped bool) {
	p.t.Helper()
	if p.counsel.Step == procedure.StepWiring {
		p.must(procedure.Wired{})
		v, _ := p.bench.Read()
		p.must(procedure.ZeroRead{Div: v})
	}
	h := p.bench.Hidden()
	series, err := apparatus.NewRange(p.stated.SeriesBox)
	if err != nil {
		p.t.Fatal(err)
	}
	shunt, err := apparatus.NewRange(p.stated.ShuntBox)
	if err != nil {
		p.t.Fatal(err)
	}
	mark := p.stated.Galvanometer.Divisions * (0.55 + 0.35*p.rand.Float64())
	r, ok := series.Nearest(h.EMF/(h.Merit*mark) - h.Resistance - h.SourceResistance)
	if !ok {
		p.t.Fatal("no series value")
	}
	seen := 1 / (1/h.Resistance + 1/(r.Ohm+h.SourceResistance))
	s, _ := shunt.Nearest(min(shunt.Max(), seen*(0.7+0.7*p.rand.Float64())))
	if s.Ohm <= 0 {
		s, _ = shunt.Ceil(shunt.Least())
	}
	p.set(p.bench.SetSeries, r.Ohm, nil)
	p.must(procedure.SeriesSet{Ohm: r.Ohm})
	look := func() (one, two *float64, offOne, offTwo bool) {
		one, offOne = p.read(false)
		p.set(p.bench.SetShunt, s.Ohm, nil)
		two, offTwo = p.read(true)
		return one, two, offOne, offTwo
	}
	one, two, offOne, offTwo := look()
	if swapped {
		one, two, offOne, offTwo = two, one, offTwo, offOne
	}
	p.must(procedure.FirstRead{Div: one, OffScale: offOne})
	p.must(procedure.ShuntSet{Ohm: s.Ohm})
	p.send(procedure.ShuntedRead{Div: two, OffScale: offTwo}) // refused after a first reading off the scale
}

// A plate says how much of the galvanometer is stated.
type plate int

const (
	noPlate plate = iota
	fullPlate
	anyPlate // either, or one of its two values
)

// wideBench draws a bench from wide ranges (domain notes F: G 20 to 500 Ω and 5
// to 100 µA a division are what is met with): EMF, scales, boxes, tolerances and
// what the plate states. Its boxes can do the practical.
func wideBench(r *rand.Rand, known plate) (apparatus.Bench, bench.Hidden) {
	pick := func(from ...float64) float64 { return from[r.IntN(len(from))] }
	evenly := func(lo, hi float64) float64 { return lo * math.Exp(math.Log(hi/lo)*r.Float64()) }
	for {
		var b apparatus.Bench
		b.Source.EMF = pick(1.08, 1.2, 1.5, 1.5, 2, 3, 4.5, 6)
		u := b.Source.EMF * pick(0.005, 0.01, 0.02, 0.03)
		b.Source.UEMF = &u
		g := &b.Galvanometer
		g.Divisions = pick(20, 25, 30, 30, 40, 50, 60, 100)
		for g.Resolution = 0; g.Resolution < g.Divisions/300 || g.Resolution > g.Divisions/40; {
			g.Resolution = pick(0.1, 0.2, 0.25, 0.5, 1)
		}
		if r.IntN(3) == 0 {
			g.Zero = apparatus.LeftZero
		} else {
			g.Zero = apparatus.CentreZero
		}
		resistance, merit := evenly(20, 500), evenly(5e-6, 100e-6)*30/g.Divisions
		tolerance := func() float64 { return pick(0.001, 0.002, 0.005, 0.01) }
		b.SeriesBox = []apparatus.Box{
			{Kind: apparatus.Plug, Coils: apparatus.PlugSet(1, 10, 100, 1000)},
			{Kind: apparatus.Plug, Coils: apparatus.PlugSet(10, 100, 1000, 10000)},
			{Kind: apparatus.Plug, Coils: []float64{5000, 2000, 1000, 1000, 500, 200, 100, 100, 50, 20, 10, 10}},
			{Kind: apparatus.Decade, Dials: []float64{1000, 100, 10, 1}},
			{Kind: apparatus.Decade, Dials: []float64{10000, 1000, 100, 10}},
		}[r.IntN(5)]
		b.ShuntBox = []apparatus.Box{
			{Kind: apparatus.Plug, Coils: apparatus.PlugSet(1, 10, 100)},
			{Kind: apparatus.Plug, Coils: apparatus.PlugSet(0.1, 1, 10, 100)},
			{Kind: apparatus.Plug, Coils: []float64{500, 400, 300, 200, 100, 50, 40, 30, 20, 10, 5, 4, 3, 2, 1}},
			{Kind: apparatus.Decade, Dials: []float64{100, 10, 1}},
			{Kind: apparatus.Decade, Dials: []float64{100, 10, 1, 0.1}},
		}[r.IntN(5)]
		b.SeriesBox.Tolerance, b.ShuntBox.Tolerance = tolerance(), tolerance()
		about := func(x, relative float64) (stated, u *float64) {
			v, w := x*(1+relative*max(-2, min(2, r.NormFloat64()))), 0.0
			w = v * relative
			return &v, &w
		}
		if known == fullPlate || known == anyPlate && r.IntN(2) == 0 {
			g.FullScale, g.UFullScale = about(merit*g.Divisions, pick(0.01, 0.02, 0.03, 0.05))
		}
		if known == fullPlate || known == anyPlate && r.IntN(2) == 0 {
			g.Resistance, g.UResistance = about(resistance, pick(0.05, 0.1))
		}
		series, err := apparatus.NewRange(b.SeriesBox)
		if err != nil || b.Validate() != nil {
			continue
		}
		// Sound needles stay on the scale at the largest series value, and two
		// thirds of the scale come with a loop well above the movement and the
		// box's steps.
		loop := b.Source.EMF / (merit * g.Divisions)
		if loop*1.2 > series.Max() || loop < 3*resistance || loop < 40*series.Least() {
			continue
		}
		if shunt, err := apparatus.NewRange(b.ShuntBox); err != nil || shunt.Max() < 1.2*resistance || shunt.Least() > resistance/20 {
			continue
		}
		h := bench.Draw(b, r)
		h.Resistance, h.Merit = resistance, merit
		return b, h
	}
}

// benchFaults lists the faults that a bench, or somebody at it, can have.
func benchFaults() []string {
	var out []string
	seen := map[fault.ID]bool{}
	for _, f := range fault.Catalogue() {
		if f.Benchable() && !seen[f.ID] {
			seen[f.ID] = true
			out = append(out, string(f.ID))
		}
	}
	return out
}
