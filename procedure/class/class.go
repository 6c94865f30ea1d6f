package class

import (
	"cmp"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"example.org/halve/physics/pooling"
)

// A Class is what all records of a folder come to.
type Class struct {
	// Records are all sheets, those that need attention first.
	Records     []*Sheet
	Instruments []Instrument
	Cells       []Cell
	// Findings and Slips are how often each was named first, most often first;
	// Examined is of how many records they are.
	Findings, Slips []Count
	Examined        int
	Unreadable      []Unreadable
	// Stopped tells that not all of the folder was read.
	Stopped bool
	// Anonymous puts the numbers of pairs in the place of names and files.
	Anonymous bool
}

// Count is how often something came up.
type Count struct {
	ID string
	N  int
}

// Unreadable is a file that is no record, or what stands in a file's place.
type Unreadable struct{ File, Because string }

// An Instrument is what its pairs come to. Numbers that are not known are NaN.
type Instrument struct {
	Label    string // as most of its records have it; for none, a name of our own
	Labelled bool
	Pairs    int // records with a result
	Pooled   int // of them, those that G and k are pooled from
	Files    []*Sheet
	G, K     Pool
	pairs    []*Sheet // of Files, those that have a result
	Remarks  []string
	Days     float64 // between the first record and the last
}

// A Pool is one quantity of an instrument.
type Pool struct {
	Value     pooling.Value // random-effects mean of those that agree
	Between   float64       // standard deviation between pairs, beyond what they state
	Birge     float64
	Median    float64
	MAD       float64
	Grubbs    *pooling.Grubbs // nil for fewer than three pairs
	GrubbsOn  *Sheet          // whom it finds outlying, nil for nobody
	Trend     pooling.Trend   // per day
	HasTrend  bool
	Drifts    bool // the trend is larger than three of its standard uncertainties
	Corrected bool // G: taken to 20 °C
}

// A Cell is a source, over all records that name it.
type Cell struct {
	Label    string
	Records  int // that name it
	Compared int // that have a result which can be compared with others'
	// Excess is by how much k comes out higher with it than its instruments
	// otherwise give, relative, with its standard uncertainty: what its EMF is
	// below the value that the records take, or its resistance above. NaN where
	// nothing can be compared.
	Excess pooling.Value
	// Volts is the latest EMF that was measured, NaN for none.
	Volts   float64
	Trend   pooling.Trend // of ln EMF as its records show it, per day
	Drifts  bool
	Ailing  bool
	Because string
	members []*Sheet
}

// reason is why a record is sent back, one bit each.
type reason uint16

const (
	standsApartG reason = 1 << iota
	standsApartK
	pointsToFault
	unfinished
	noResult
	tooFewRows
	wrongClaim
	cutOff
)

// faultSure is the probability from which a finding alone sends a record back:
// above even odds a person is asked; a class of thirty would otherwise have one
// sound pair asked in every other session (common practice, no source).
const faultSure = 0.9

// Gather makes a class of sheets. It may be called again with the same sheets,
// some of them examined meanwhile.
func Gather(sheets []*Sheet, unreadable []Unreadable) *Class {
	c := &Class{Records: sheets, Unreadable: unreadable}
	for _, s := range sheets {
		s.copyOf, s.ofG, s.ofK = nil, alone, alone
	}
	slices.SortFunc(sheets, func(a, b *Sheet) int { return strings.Compare(a.File, b.File) })
	slices.SortFunc(unreadable, func(a, b Unreadable) int { return strings.Compare(a.File, b.File) })
	c.copies()
	c.number()
	c.group()
	c.cells()
	for i := range c.Instruments {
		c.Instruments[i].finish()
	}
	for i := range c.Cells {
		c.Cells[i].finish()
	}
	c.judge()
	c.count()
	return c
}

// copies finds records that stand in the folder several times.
func (c *Class) copies() {
	better := func(a, b *Sheet) bool {
		return cmp.Or(cmp.Compare(a.Events, b.Events), strings.Compare(b.File, a.File)) > 0
	}
	byID, byContent := map[string]*Sheet{}, map[uint64]*Sheet{}
	for _, s := range c.Records {
		var other *Sheet
		if s.ID != "" {
			if other = byID[s.ID]; other == nil || better(s, other) {
				byID[s.ID] = s
			}
		} else {
			if other = byContent[s.hash]; other == nil || better(s, other) {
				byContent[s.hash] = s
			}
		}
	}
	for _, s := range c.Records {
		best := byContent[s.hash]
		if s.ID != "" {
			best = byID[s.ID]
		}
		if best != s {
			s.copyOf = best
		}
	}
}

// Shown is the state with copies told apart.
func (s *Sheet) Shown() Progress {
	if s.copyOf != nil {
		return Duplicate
	}
	return s.State
}

// counts reports whether a record has a result that counts.
func (s *Sheet) counts() bool { return s.copyOf == nil && s.measured() }

// number numbers the pairs in the order of their files.
func (c *Class) number() {
	n := int32(0)
	for _, s := range c.Records {
		if s.copyOf == nil {
			n++
			s.pair = n
		}
	}
	for _, s := range c.Records {
		if s.copyOf != nil {
			s.pair = s.copyOf.pair
		}
	}
}

// Pair is the record's number among the pairs; copies have that of what they are
// copies of.
func (s *Sheet) Pair() int { return int(s.pair) }

// Name is what a record is called: its file, or its number.
func (c *Class) Name(s *Sheet) string {
	if !c.Anonymous {
		return s.File
	}
	if s.copyOf != nil {
		return fmt.Sprintf("copy of pair %d", s.pair)
	}
	return fmt.Sprintf("pair %d", s.pair)
}

// Stray is what the i-th unreadable file is called.
func (c *Class) Stray(i int) string {
	if c.Anonymous {
		return fmt.Sprintf("file %d", i+1)
	}
	return c.Unreadable[i].File
}

// sameLabel is a label as it is compared: without regard to case and blanks.
func sameLabel(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }

// group puts the records to their instruments: by the galvanometer's label, or
// else the bench's; those without one by G and k that go together.
func (c *Class) group() {
	at := map[string]int32{}
	join := func(s *Sheet, key, label string, labelled bool) {
		i, ok := at[key]
		if !ok {
			i = int32(len(c.Instruments))
			at[key] = i
			c.Instruments = append(c.Instruments, Instrument{Label: label, Labelled: labelled})
		}
		s.instrument = i
		if s.copyOf == nil {
			in := &c.Instruments[i]
			if in.Files = append(in.Files, s); s.measured() {
				in.pairs = append(in.pairs, s)
			}
		}
	}
	var bare []*Sheet
	for _, s := range c.Records {
		label := cmp.Or(s.Instrument, s.Bench)
		s.instrument = -1
		switch key := sameLabel(label); {
		case key != "":
			join(s, "l"+key, label, true)
		case s.counts():
			bare = append(bare, s)
		}
	}
	// The best known first: what they found says where the others belong.
	slices.SortStableFunc(bare, func(a, b *Sheet) int { return cmp.Compare(a.UG/a.G, b.UG/b.G) })
	type heap struct{ g, k, wg, wk float64 } // weighted means of the logarithms
	var heaps []heap
	for _, s := range bare {
		g, k, vg, vk := math.Log(s.G), math.Log(s.K), square(s.UG/s.G), square(s.UK/s.K)
		best, far := -1, square(pooling.FarZ)
		for i, h := range heaps {
			d := max(square(g-h.g)/(vg+1/h.wg), square(k-h.k)/(vk+1/h.wk))
			if d <= far {
				best, far = i, d
			}
		}
		if best < 0 {
			best = len(heaps)
			if best == mostHeaps { // more instruments than anybody has: the rest is not compared
				continue
			}
			heaps = append(heaps, heap{})
		}
		h := &heaps[best]
		h.g, h.k = (h.g*h.wg+g/vg)/(h.wg+1/vg), (h.k*h.wk+k/vk)/(h.wk+1/vk)
		h.wg, h.wk = h.wg+1/vg, h.wk+1/vk
		join(s, fmt.Sprint("u", best), fmt.Sprintf("unlabelled %d", best+1), false)
	}
}

const mostHeaps = 1000

func square(x float64) float64 { return x * x }

// copper is the temperature coefficient of a copper coil at 20 °C, per kelvin
// (domain notes K).
const copper = 0.00393

// resistances lists G of the pairs, at 20 °C where every one of them notes its
// temperature.
func (in *Instrument) resistances() (vs []pooling.Value, corrected bool) {
	corrected = !slices.ContainsFunc(in.pairs, func(s *Sheet) bool { return math.IsNaN(s.Temperature) })
	for _, s := range in.pairs {
		f := 1.0
		if corrected {
			f = 1 / (1 + copper*(s.Temperature-20))
		}
		vs = append(vs, pooling.Value{X: s.G * f, U: s.UG * f})
	}
	return vs, corrected
}

// polishes bounds the rounds of the median polish.
const polishes = 8

// polished is the change of ln k that no longer matters: a tenth of what the best
// pair is sure of.
const polished = 2e-4

// cells finds what each cell does to k, and then what each instrument comes to
// without the cells that ail.
//
// Cells and instruments are told apart by a median polish of ln k (J. W. Tukey,
// Exploratory Data Analysis, 1977), of instruments with the densest half in the
// median's place: a pair's k is its instrument's, times what its cell makes of it,
// and cells that ail all lie on one side.
func (c *Class) cells() {
	at := map[string]int32{}
	for _, s := range c.Records {
		key := sameLabel(s.Cell)
		s.cell = -1
		if key == "" || s.copyOf != nil {
			continue
		}
		i, ok := at[key]
		if !ok {
			i = int32(len(c.Cells))
			at[key] = i
			c.Cells = append(c.Cells, Cell{Label: s.Cell})
		}
		s.cell = i
		c.Cells[i].members = append(c.Cells[i].members, s)
	}
	// What the polish works on: ln k of every record that counts, with the place
	// of its cell, or of its instrument.
	type term struct {
		lnK float64
		of  int32
	}
	byInstrument, byCell := make([][]term, len(c.Instruments)), make([][]term, len(c.Cells))
	for i := range c.Instruments {
		for _, s := range c.Instruments[i].pairs {
			lnK := math.Log(s.K)
			byInstrument[i] = append(byInstrument[i], term{lnK, s.cell})
			if s.cell >= 0 {
				byCell[s.cell] = append(byCell[s.cell], term{lnK, int32(i)})
			}
		}
	}
	middle, excess := make([]float64, len(c.Instruments)), make([]float64, len(c.Cells))
	for range polishes {
		each(len(middle), func(i int) {
			work := make([]float64, 0, len(byInstrument[i]))
			for _, t := range byInstrument[i] {
				if t.of >= 0 {
					t.lnK -= excess[t.of]
				}
				work = append(work, t.lnK)
			}
			middle[i] = pooling.Densest(work)
		})
		fresh := make([]float64, len(excess))
		each(len(fresh), func(i int) {
			if len(byCell[i]) < 2 {
				return
			}
			work := make([]float64, 0, len(byCell[i]))
			for _, t := range byCell[i] {
				work = append(work, t.lnK-middle[t.of])
			}
			fresh[i] = pooling.Median(work)
		})
		// Most cells are sound.
		var known []float64
		for i, x := range fresh {
			if len(byCell[i]) >= 2 {
				known = append(known, x)
			}
		}
		mid, moved := pooling.Median(known), 0.0
		for i := range fresh {
			if len(byCell[i]) >= 2 {
				fresh[i] -= mid
			}
			moved = max(moved, math.Abs(fresh[i]-excess[i]))
		}
		if excess = fresh; moved < polished {
			break
		}
	}
	each(len(c.Instruments), func(i int) { c.Instruments[i].poolG(); c.Instruments[i].poolK(c) })
	// A cell that ails does not count in k, which may show another.
	for round := range 4 {
		var changed atomic.Bool
		each(len(c.Cells), func(i int) {
			cell := &c.Cells[i]
			was := cell.Ailing
			if cell.weigh(c, middle); cell.Ailing != was {
				changed.Store(true)
			}
		})
		if changed.Load() {
			each(len(c.Instruments), func(i int) { c.Instruments[i].poolK(c) })
		} else if round > 0 {
			break
		}
		middle = nil
	}
}

// each does something with each of n things that share nothing, on all cores.
func each(n int, do func(i int)) {
	var next atomic.Int64
	var all sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		all.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				do(i)
			}
		})
	}
	all.Wait()
}

// ailing reports whether the record's cell ails.
func (c *Class) ailing(s *Sheet) bool { return s.cell >= 0 && c.Cells[s.cell].Ailing }

// weigh decides whether a cell ails: its excess is more than three standard
// uncertainties from nothing, of which the stated EMF's is common to its records.
// The instruments' ln k are what the polish found, or else what is pooled.
func (cell *Cell) weigh(c *Class, middle []float64) {
	cell.Excess = pooling.Value{X: math.NaN(), U: math.NaN()}
	cell.Volts = math.NaN()
	cell.Records = len(cell.members)
	var d, own, common, of []float64
	for _, s := range cell.members {
		if s.Has&HasEMF != 0 {
			cell.Volts = s.EMF
		}
		if !s.counts() || s.instrument < 0 {
			continue
		}
		in := &c.Instruments[s.instrument]
		if in.Pairs < 2 || !(in.K.Value.X > 0) {
			continue
		}
		x := math.Log(s.K / in.K.Value.X)
		between := in.K.Between / in.K.Value.X
		if middle != nil {
			x, between = math.Log(s.K)-middle[s.instrument], 0
		}
		d = append(d, x)
		own = append(own, max(0, square(s.UK/s.K)-s.UEMF*s.UEMF))
		common = append(common, s.UEMF*s.UEMF)
		of = append(of, square(in.K.Value.U/in.K.Value.X)+between*between/2)
	}
	cell.Ailing = false
	if len(d) == 0 {
		return
	}
	cell.Compared = len(d)
	n := float64(len(d))
	// A median of a few is a quarter less sure than their mean.
	u := math.Sqrt(pooling.Median(common) + (1.5*pooling.Median(own)+pooling.Median(of))/n)
	cell.Excess = pooling.Value{X: pooling.Median(d), U: u}
	cell.Ailing = len(d) > 1 && math.Abs(cell.Excess.X) > pooling.FarZ*u
}

// poolG works out what an instrument's pairs come to in G.
func (in *Instrument) poolG() {
	vs, corrected := in.resistances()
	in.G = in.pool(vs, nil, func(s *Sheet) (*standing, float64) { return &s.ofG, s.U95G })
	in.G.Corrected = corrected && len(vs) > 0
}

// poolK works out what they come to in k, without those whose cell ails.
func (in *Instrument) poolK(c *Class) {
	vs := make([]pooling.Value, len(in.pairs))
	for i, s := range in.pairs {
		vs[i] = pooling.Value{X: s.K, U: s.UK}
	}
	in.K = in.pool(vs, c.ailing, func(s *Sheet) (*standing, float64) { return &s.ofK, s.U95K })
	in.Pairs, in.Pooled = len(vs), 0
	for _, s := range in.pairs {
		if !s.ofG.apart && !s.ofK.apart {
			in.Pooled++
		}
	}
}

// pool takes one quantity of all pairs together. Those that are put aside are
// compared with the others and not counted, unless too few are left. Each pair's
// standing is put where at says, beside its expanded uncertainty.
func (in *Instrument) pool(vs []pooling.Value, aside func(*Sheet) bool, at func(*Sheet) (*standing, float64)) Pool {
	p := Pool{Value: pooling.Value{X: math.NaN(), U: math.NaN()}, Median: math.NaN(), MAD: math.NaN()}
	main, within := vs, func(int) bool { return true }
	if aside != nil {
		var left []pooling.Value
		for i, v := range vs {
			if !aside(in.pairs[i]) {
				left = append(left, v)
			}
		}
		if len(left) > 1 { // else nobody is there to compare with
			main, within = left, func(i int) bool { return !aside(in.pairs[i]) }
		}
	}
	a, err := pooling.Agree(main)
	if err != nil {
		return p
	}
	p.Value, p.Between, p.Birge = a.Inner.Random, a.Inner.Tau, a.Inner.Birge
	p.Median, p.MAD = a.Median, a.MAD
	next := 0
	xs := make([]float64, len(vs))
	for i, v := range vs {
		xs[i] = v.X
		s, expanded := at(in.pairs[i])
		if len(vs) == 1 {
			*s = alone
			continue
		}
		others := p.Value
		if within(i) {
			s.distance, s.apart, s.two = a.Z[next], a.Apart[next], len(main) == 2
			next++
			if !s.apart && len(main) > 1 {
				others = a.Inner.Others(v)
			}
		} else {
			s.distance = (v.X - p.Value.X) / math.Sqrt(v.U*v.U+p.Between*p.Between+p.Value.U*p.Value.U)
			s.apart, s.two = math.Abs(s.distance) > pooling.FarZ, false
		}
		s.normal = pooling.NormalisedError(v.X, expanded, others.X, coverage*others.U)
	}
	if g, err := pooling.GrubbsTest(xs, grubbsLevel); err == nil {
		p.Grubbs = &g
		if g.Outlying {
			p.GrubbsOn = in.pairs[g.Suspect]
		}
	}
	return p
}

// grubbsLevel is the two-sided level of Grubbs' test (ISO 5725-2 calls a value
// beyond 5 % a straggler).
const grubbsLevel = 0.05

// nanosecondsADay turns times into days.
const nanosecondsADay = 24 * 3600 * 1e9

// finish adds what an instrument shows over time, and what its plate says.
func (in *Instrument) finish() {
	vs, _ := in.resistances()
	var days []float64
	var gs, ks []pooling.Value
	for i, s := range in.pairs {
		if s.Begun == 0 || s.ofG.apart || s.ofK.apart {
			continue
		}
		days = append(days, float64(s.Begun-in.pairs[0].Begun)/nanosecondsADay)
		gs, ks = append(gs, vs[i]), append(ks, pooling.Value{X: s.K, U: s.UK})
	}
	if len(days) > 0 {
		in.Days = slices.Max(days) - slices.Min(days)
	}
	for _, q := range []struct {
		p    *Pool
		vs   []pooling.Value
		name string
	}{{&in.G, gs, "G"}, {&in.K, ks, "k"}} {
		q.p.Trend, q.p.HasTrend = pooling.Line(days, q.vs)
		q.p.Drifts = q.p.HasTrend && math.Abs(q.p.Trend.Slope) > pooling.FarZ*q.p.Trend.U
		if !q.p.Drifts {
			continue
		}
		change, way, why := 100*q.p.Trend.Slope*in.Days/q.p.Value.X, "rises", ""
		if q.p.Trend.Slope < 0 {
			way = "falls"
		}
		if q.name == "G" && !q.p.Corrected {
			why = " A copper coil has 0.39 % more for each kelvin: have the temperature noted."
		}
		in.Remarks = append(in.Remarks, fmt.Sprintf("%s %s with time, by %.1f %% from the first record to the last.%s", q.name, way, math.Abs(change), why))
	}
	in.plate()
}

// plate compares the class's values with the plate, which they all have.
func (in *Instrument) plate() {
	if !(in.G.Value.U > 0) {
		return
	}
	s := in.pairs[len(in.pairs)-1]
	if d := in.G.Value.X - s.PlateG; s.PlateG > 0 && math.Abs(d) > pooling.FarZ*math.Hypot(math.Hypot(in.G.Value.U, in.G.Between), s.UPlateG) {
		in.Remarks = append(in.Remarks, fmt.Sprintf("G is %.0f %% off the %.4g ohm that its plate states: check the plate, the leads and the shunt boxes.", 100*d/s.PlateG, s.PlateG))
	}
	if d := in.K.Value.X - s.PlateK; s.PlateK > 0 && math.Abs(d) > pooling.FarZ*math.Hypot(math.Hypot(in.K.Value.U, in.K.Between), s.UPlateK) {
		in.Remarks = append(in.Remarks, fmt.Sprintf("k is %.0f %% off what its plate's full scale gives: measure the cells' EMF, for readings cannot tell k from it.", 100*d/s.PlateK))
	}
}

// finish says what ails a cell, and follows it over time.
func (cell *Cell) finish() {
	var days []float64
	var vs []pooling.Value
	for _, s := range cell.members {
		if s.Has&HasEMF == 0 || s.Begun == 0 || !(s.UEMF > 0) {
			continue
		}
		days = append(days, float64(s.Begun-cell.members[0].Begun)/nanosecondsADay)
		vs = append(vs, pooling.Value{X: math.Log(s.EMF), U: s.UEMF})
	}
	var ok bool
	if cell.Trend, ok = pooling.Line(days, vs); ok && cell.Trend.Slope < -pooling.FarZ*cell.Trend.U {
		cell.Drifts, cell.Ailing = true, true
		cell.Because = fmt.Sprintf("Its measured EMF falls by %.1f %% over the records: replace it.", -100*cell.Trend.Slope*(slices.Max(days)-slices.Min(days)))
		return
	}
	if !cell.Ailing {
		return
	}
	if cell.Excess.X > 0 {
		cell.Because = fmt.Sprintf("With it k comes out %.0f %% high in %d records: its EMF is below what was taken, or its resistance far above. Measure it on load, and replace it.", 100*math.Expm1(cell.Excess.X), cell.Compared)
		return
	}
	cell.Because = fmt.Sprintf("With it k comes out %.0f %% low in %d records: its EMF is above what was taken. Measure it.", -100*math.Expm1(cell.Excess.X), cell.Compared)
}
