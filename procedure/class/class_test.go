package class

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"example.org/halve/procedure/record"
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
		if s.instrument >= 0 && (s.apartG || s.apartK) {
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
				f.missed = append(f.missed, fmt.Sprintf("class %d: %s (%s): %.1f u, seen %.1f and %.1f", seed, p.file, p.mistake, effect, s.distanceG, s.distanceK))
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
// and sound pairs are left in peace. HALVE_CLASSES sets the number of classes, 4
// if it is not set; the shares that are promised are over 200:
//
//	HALVE_CLASSES=200 go test -v -timeout 1h -run Classes ./procedure/class
func TestClasses(t *testing.T) {
	n := 4
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
		if s.apartG != bad {
			t.Errorf("%s: apart is %v (%.1f u), want %v", s.File, s.apartG, s.distanceG, bad)
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
