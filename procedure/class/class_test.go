package class

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"example.org/halve/procedure/record"

	"example.org/halve/physics/quantity"
)

// gatherMade examines a made class in memory as Read does on disk.
func gatherMade(t *testing.T, m made) *Class {
	t.Helper()
	q := newQuick()
	var sheets []*Sheet
	logs := map[string]*record.Log{}
	for _, p := range m.pairs {
		log, err := record.Parse(p.file, p.data)
		if err != nil {
			t.Fatalf("%s: %v", p.file, err)
		}
		s, ok := q.read(p.data)
		if !ok {
			if s, err = foldData(p.file, p.data); err != nil {
				t.Fatal(err)
			}
		}
		s.File = p.file
		logs[p.file] = log
		sheets = append(sheets, &s)
	}
	c := Gather(sheets, nil)
	for _, s := range c.Records {
		g, k := math.NaN(), math.NaN()
		if s.instrument >= 0 && (s.ofG.apart || s.ofK.apart) {
			g, k = c.Instruments[s.instrument].G.Value.X, c.Instruments[s.instrument].K.Value.X
		}
		x := examine(logs[s.File], g, k)
		x.File = s.File
		*s = x
	}
	return Gather(c.Records, nil)
}

// tallied are the figures of many made classes.
type tallied struct {
	planted, found      int // mistakes and cells whose effect exceeds four standard uncertainties
	small, smallFound   int // those below
	sound, sentBack     int
	cellPairs, cellSent int
	cells, cellsFound   int
	wrongCells          int
	missed, accused     []string
}

func (f *tallied) add(seed uint64, m made, c *Class) {
	by := map[string]*Sheet{}
	for _, s := range c.Records {
		by[s.File] = s
	}
	ails := map[string]bool{}
	for _, cell := range c.Cells {
		ails[cell.Label] = cell.Ailing
		if cell.Ailing && !m.ailing[cell.Label] {
			f.wrongCells++
		}
	}
	strong := map[string]bool{}
	for _, p := range m.pairs {
		s := by[p.file]
		effect := 0.0
		if s.measured() {
			effect = max(math.Abs(s.G-p.trueG)/s.UG, math.Abs(s.K-p.trueK)/s.UK)
		} else {
			effect = math.Inf(1)
		}
		switch {
		case m.ailing[p.cell]:
			f.cellPairs++
			if s.SendBack() {
				f.cellSent++
			}
			if effect > 4 {
				strong[p.cell] = true
			}
		case p.mistake != "" && effect > 4:
			f.planted++
			if s.SendBack() {
				f.found++
			} else {
				f.missed = append(f.missed, fmt.Sprintf("class %d: %s (%s): %.1f u, seen %.1f and %.1f", seed, p.file, p.mistake, effect, s.ofG.distance, s.ofK.distance))
			}
		case p.mistake != "":
			f.small++
			if s.SendBack() {
				f.smallFound++
			}
		default:
			f.sound++
			if s.SendBack() {
				f.sentBack++
				f.accused = append(f.accused, fmt.Sprintf("class %d: %s, %.1f u off: %s", seed, p.file, effect, c.Because(s)))
			}
		}
	}
	for cell := range strong {
		f.cells++
		if ails[cell] {
			f.cellsFound++
		} else {
			f.missed = append(f.missed, fmt.Sprintf("class %d: %s", seed, cell))
		}
	}
}

func (f *tallied) String() string {
	share := func(n, of int) string {
		return fmt.Sprintf("%d of %d (%.1f %%)", n, of, 100*float64(n)/math.Max(1, float64(of)))
	}
	s := fmt.Sprintf("mistakes beyond four standard uncertainties found: %s; smaller ones: %s\nailing cells found: %s; sound ones called ailing: %d\n"+
		"sound pairs sent back: %s; pairs on ailing cells: %s\n",
		share(f.found, f.planted), share(f.smallFound, f.small), share(f.cellsFound, f.cells), f.wrongCells, share(f.sentBack, f.sound), share(f.cellSent, f.cellPairs))
	for i, m := range append(f.missed, f.accused...) {
		if i == 40 {
			break
		}
		s += m + "\n"
	}
	return s
}

// Classes with planted mistakes and ailing cells, as makeClass makes them: what
// is planted is found where it exceeds four of the pair's standard uncertainties,
// and sound pairs are left in peace. HALVE_CLASSES sets the number of classes, 3
// if it is not set; the shares that are promised are over 200:
//
//	HALVE_CLASSES=200 go test -v -timeout 1h -run Classes ./procedure/class
func TestClasses(t *testing.T) {
	n := 3
	if s := os.Getenv("HALVE_CLASSES"); s != "" {
		var err error
		if n, err = strconv.Atoi(s); err != nil || n < 1 {
			t.Fatalf("HALVE_CLASSES is a number of classes, not %q", s)
		}
	}
	var f tallied
	for seed := range uint64(n) {
		m := makeClass(1000 + seed)
		f.add(seed, m, gatherMade(t, m))
	}
	t.Log(&f)
	planted, found := f.planted+f.cells, f.found+f.cellsFound
	// Of a few classes one more may be missed or accused by chance.
	if float64(found) < 0.95*float64(planted)-1 {
		t.Errorf("of %d planted %d are found", planted, found)
	}
	if float64(f.sentBack) > 0.05*float64(f.sound)+1 {
		t.Errorf("of %d sound pairs %d are sent back", f.sound, f.sentBack)
	}
}

// write writes the pairs of a class into a folder.
func write(t testing.TB, dir string, pairs []madePair) {
	t.Helper()
	for _, p := range pairs {
		path := filepath.Join(dir, filepath.FromSlash(p.file))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, p.data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// Two pairs with the same mistake on one instrument are both found.
func TestTwoAlikeBadPairs(t *testing.T) {
	m := makeClass(7)
	var pairs []madePair
	for _, p := range m.pairs {
		if p.instrument == "G 1" && p.mistake == "" {
			pairs = append(pairs, p)
		}
	}
	q := newQuick()
	var sheets []*Sheet
	for i, p := range pairs {
		s, ok := q.read(p.data)
		if !ok {
			t.Fatal(p.file)
		}
		s.File = p.file
		if i < 2 {
			s.G += 8 * s.UG
		}
		sheets = append(sheets, &s)
	}
	c := Gather(sheets, nil)
	for _, s := range c.Records {
		bad := s.File == pairs[0].file || s.File == pairs[1].file
		if s.ofG.apart != bad {
			t.Errorf("%s: apart is %v (%.1f u), want %v", s.File, s.ofG.apart, s.ofG.distance, bad)
		}
	}
	if len(pairs) < 5 {
		t.Fatalf("only %d pairs", len(pairs))
	}
	if g := c.Instruments[0].G.GrubbsOn; g != nil && c.Instruments[0].G.Grubbs == nil {
		t.Error("Grubbs' test contradicts itself")
	}
}

// TestWriteClasses writes as many made classes as HALVE_CLASSES says into the
// folder that HALVE_CLASS_DIR names, to look at by hand and to time; each as often
// as HALVE_COPIES says, every time as other records:
//
//	HALVE_CLASSES=34 HALVE_COPIES=98 HALVE_CLASS_DIR=DIR go test -run WriteClasses ./procedure/class
func TestWriteClasses(t *testing.T) {
	dir := os.Getenv("HALVE_CLASS_DIR")
	if dir == "" {
		t.Skip("HALVE_CLASS_DIR names no folder")
	}
	number := func(name string) int {
		n, _ := strconv.Atoi(os.Getenv(name))
		return max(1, n)
	}
	copies := number("HALVE_COPIES")
	for seed := range number("HALVE_CLASSES") {
		pairs := makeClass(1000 + uint64(seed)).pairs
		for n := range copies {
			var out []madePair
			for i, p := range pairs {
				_, rest, _ := bytes.Cut(p.data, []byte{'\n'})
				begun := afternoon.AddDate(0, 0, 7*n).Add(time.Duration(i) * time.Minute)
				p.data = append(head(fmt.Sprintf("C%dN%dP%d", seed, n, i), begun), rest...)
				p.file = fmt.Sprintf("%d/%d/%s", n, seed, p.file)
				out = append(out, p)
			}
			write(t, dir, out)
		}
	}
}

// BenchmarkRead reads the folder that HALVE_CLASS_DIR names, or one class.
func BenchmarkRead(b *testing.B) {
	dir := os.Getenv("HALVE_CLASS_DIR")
	if dir == "" {
		dir = b.TempDir()
		write(b, dir, makeClass(1000).pairs)
	}
	for b.Loop() {
		c, err := Read(b.Context(), dir, Options{})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(len(c.Records)), "records")
	}
}

// sheetOf is a sheet with a result, of a record that exists in no file.
func sheetOf(file, label string, g, ug, k, uk float64) *Sheet {
	s := blank()
	s.File, s.ID, s.State, s.Rows, s.Events = file, file, Finished, 5, 30
	s.Plate = &Plate{Instrument: label}
	s.G, s.UG, s.K, s.UK, s.U95G, s.U95K, s.UEMF = g, ug, k, uk, 2*ug, 2*uk, 0.01
	return &s
}

// Scenario D10 of the domain notes as a class: eight pairs at one instrument, the
// last far off. The pooled value is that of the seven others: weighted mean
// 91.162, tau 1.25, random-effects mean 91.287 ± 0.889.
func TestEightPairsAreAClass(t *testing.T) {
	g := []float64{91.4, 88.7, 93.2, 90.1, 95.9, 89.5, 92.6, 124}
	u := []float64{2, 1.8, 2.2, 1.9, 2.4, 1.7, 2.1, 2.3}
	var sheets []*Sheet
	for i := range g {
		sheets = append(sheets, sheetOf(fmt.Sprint(i), []string{"G 7", "g  7"}[i%2], g[i], u[i], 1.9e-5, 2e-7))
	}
	c := Gather(sheets, nil)
	if len(c.Instruments) != 1 || c.Instruments[0].Pairs != 8 || c.Instruments[0].Pooled != 7 {
		t.Fatalf("%+v", c.Instruments)
	}
	p := c.Instruments[0].G
	for what, pair := range map[string][2]float64{"G": {p.Value.X, 91.2866}, "u(G)": {p.Value.U, 0.88876}, "tau": {p.Between, 1.25021}, "the median": {p.Median, 92.0}, "Grubbs' G": {p.Grubbs.G, 2.42621}} {
		if math.Abs(pair[0]-pair[1]) > 1e-4*pair[1] {
			t.Errorf("%s is %.6g, want %.6g", what, pair[0], pair[1])
		}
	}
	for _, s := range c.Records {
		if s.SendBack() != (s.File == "7") {
			t.Errorf("pair %s: %v, %s", s.File, s.SendBack(), c.Because(s))
		}
	}
	if c.Records[0].File != "7" || p.GrubbsOn != c.Records[0] {
		t.Errorf("first is %s", c.Records[0].File)
	}
	// E_n of the first pair: against the other six of the seven, by hand from the
	// random-effects weights: (91.4 − 91.265)/√(4² + 1.919²).
	for _, s := range c.Records {
		if s.File == "0" && math.Abs(s.ofG.normal-0.03) > 0.01 {
			t.Errorf("E_n is %.3f", s.ofG.normal)
		}
	}
}

// Records without a label go together by G and k; copies count once.
func TestGrouping(t *testing.T) {
	a := sheetOf("a", "", 90, 2, 1.9e-5, 2e-7)
	b := sheetOf("b", "", 91, 2, 1.91e-5, 2e-7)
	far := sheetOf("far", "", 120, 2, 1.9e-5, 2e-7)
	other := sheetOf("other", "", 90, 2, 2.4e-5, 2e-7)
	copied := sheetOf("copied", "", 90, 2, 1.9e-5, 2e-7)
	copied.ID, copied.Events, copied.hash = "a", 20, 1
	c := Gather([]*Sheet{a, b, far, other, copied}, nil)
	if len(c.Instruments) != 3 {
		t.Fatalf("%d instruments, want 3", len(c.Instruments))
	}
	if a.instrument != b.instrument || a.instrument == far.instrument || a.instrument == other.instrument || far.instrument == other.instrument {
		t.Errorf("instruments %d, %d, %d, %d", a.instrument, b.instrument, far.instrument, other.instrument)
	}
	if copied.Shown() != Duplicate || a.Shown() != Finished || c.Instruments[a.instrument].Pairs != 2 {
		t.Errorf("%s, %s, %d pairs", copied.Shown(), a.Shown(), c.Instruments[a.instrument].Pairs)
	}
	if text := c.Because(copied); !strings.Contains(text, "under the id of a") {
		t.Error(text)
	}
	if copied.Pair() != a.Pair() || copied.SendBack() {
		t.Errorf("the copy is pair %d, sent back: %v", copied.Pair(), copied.SendBack())
	}
}

// Of two pairs that disagree nobody can say which is wrong; of one there is
// nothing to say.
func TestFewPairs(t *testing.T) {
	c := Gather([]*Sheet{sheetOf("a", "G 1", 90, 1, 1.9e-5, 2e-7), sheetOf("b", "G 1", 100, 1, 1.9e-5, 2e-7), sheetOf("c", "G 2", 90, 1, 1.9e-5, 2e-7)}, nil)
	for _, s := range c.Records {
		if s.SendBack() != (s.Instrument == "G 1") {
			t.Errorf("%s: %v, %s", s.File, s.SendBack(), c.Because(s))
		}
	}
	if text := c.Because(c.Records[0]); !strings.Contains(text, "nothing says which") {
		t.Error(text)
	}
	// The same where only two are left, since the others' cells ail.
	in := Instrument{pairs: []*Sheet{sheetOf("a", "", 90, 1, 1.9e-5, 2e-7), sheetOf("b", "", 90, 1, 4e-5, 2e-7), sheetOf("c", "", 90, 1, 2e-5, 2e-7)}}
	c = &Class{Cells: []Cell{{Ailing: true}}}
	in.pairs[2].cell = 0
	in.poolG()
	in.poolK(c)
	for _, s := range in.pairs {
		if text := apart("k", quantity.Measured{Value: s.K, U: s.UK, Unit: quantity.AmperePerDivision}, &in.K, s.ofK); strings.Contains(text, "nothing says which") != (s.cell < 0) {
			t.Errorf("%s: %s", s.File, text)
		}
	}
}

// An instrument whose G climbs from week to week, and a cell that falls.
func TestOverTime(t *testing.T) {
	var sheets []*Sheet
	for i := range 12 {
		s := sheetOf(fmt.Sprint(i), "G 1", 90+0.5*float64(i), 0.5, 1.9e-5, 2e-7)
		s.Begun = afternoon.AddDate(0, 0, 7*i).UnixNano()
		s.Plate = &Plate{Instrument: "G 1", Cell: "old"}
		s.EMF, s.UEMF, s.Has = 1.5-0.01*float64(i), 0.003, HasEMF
		sheets = append(sheets, s)
	}
	c := Gather(sheets, nil)
	in := c.Instruments[0]
	// 0.5 ohm a week.
	if !in.G.Drifts || math.Abs(in.G.Trend.Slope-0.5/7) > 0.01 || in.K.Drifts {
		t.Errorf("G: %+v drifts %v, k drifts %v", in.G.Trend, in.G.Drifts, in.K.Drifts)
	}
	if cell := c.Cells[0]; !cell.Drifts || !cell.Ailing || !strings.Contains(cell.Because, "falls") {
		t.Errorf("the cell: %+v", cell)
	}
}

// A reading that is stopped tells what it has.
func TestStopped(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, makeClass(4).pairs)
	ctx, stop := context.WithCancel(context.Background())
	stop()
	c, err := Read(ctx, dir, Options{Workers: 2})
	if err != nil || !c.Stopped {
		t.Errorf("%+v, %v", c, err)
	}
	var most atomic.Int64
	c, err = Read(context.Background(), dir, Options{Progress: func(_ Stage, done, of int) { most.Store(max(most.Load(), int64(done))) }})
	if err != nil || c.Stopped || len(c.Records) != classPairs || c.Examined != classPairs || most.Load() != classPairs {
		t.Errorf("%d records, %d examined, %d told: %v", len(c.Records), c.Examined, most.Load(), err)
	}
}
