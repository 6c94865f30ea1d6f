package live

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"example.org/halve/physics/bench"
	"example.org/halve/physics/circuit"
	"example.org/halve/physics/fault"
)

// Part is something on the table that can be looked over.
type Part int

// The parts.
const (
	Cell Part = iota
	KeyK1
	SeriesBox
	Galvanometer
	KeyK2
	ShuntBox
	Parts // how many there are
)

// place is where a fault sits that no eye sees from afar: looking the part
// over finds and mends it. Faults of wires are seen at the leads, those of the
// zero at the needle.
var place = map[fault.ID]Part{
	fault.NoCurrent: KeyK1, fault.Scattered: KeyK1,
	fault.SeriesPlug: SeriesBox, fault.Leakage: SeriesBox,
	fault.ShuntPlug: ShuntBox, fault.ShuntOpen: ShuntBox, fault.ShuntContact: ShuntBox,
	fault.InnerShunt: Galvanometer, fault.PointerSticks: Galvanometer, fault.ScaleUneven: Galvanometer,
	fault.SourceWeak: Cell, fault.SourceDoubled: Cell, fault.SourceRunningDown: Cell,
}

// seen are the faults that show without looking a part over.
var seen = []fault.ID{
	fault.Reversed, fault.SeriesBypassed, fault.BoxesExchanged, fault.ShuntAlreadyClosed, fault.ShuntShorted,
	fault.ShuntInSeries, fault.ShuntAcrossSeries, fault.ShuntAcrossSource, fault.ZeroOff,
}

// Faults lists the faults that a bench under somebody's hands can have. The
// others of the catalogue are slips of whoever sets and reads, which here is
// the person.
func Faults() []string {
	var out []string
	for _, f := range fault.Catalogue() {
		_, hidden := place[f.ID]
		if id := string(f.ID); (hidden || slices.Contains(seen, f.ID)) && !slices.Contains(out, id) {
			out = append(out, id)
		}
	}
	return out
}

// Plant puts a fault on a still bench from which a bench in time is to be
// made, by its name or, for "any", one that r picks. It fails, naming what
// there is, for a fault that hands cannot have.
func Plant(b *bench.Bench, id string, r *rand.Rand) error {
	names := Faults()
	if id == "any" {
		id = names[r.IntN(len(names))]
	}
	if !slices.Contains(names, id) {
		has := fmt.Sprintf("a bench under your hands can have %s, or any for chance's pick", strings.Join(names, ", "))
		if slices.Contains(b.Faults(), id) {
			return fmt.Errorf("live: %q is a slip of whoever reads or sets, and here that is you: %s", id, has)
		}
		return fmt.Errorf("live: no fault %q: %s", id, has)
	}
	return b.Plant(id)
}

// trouble is what is wrong with a bench; the zero value is a sound one.
type trouble struct {
	fault.Fault
	there bool    // on the bench now
	was   bool    // at the beginning
	wires bool    // it lies in the leads
	size  float64 // what its number comes to
	age   int     // how often K1 was closed with it
}

// plant puts a fault on the bench.
func (b *Bench) plant(f fault.Fault, x float64) error {
	if !slices.Contains(Faults(), string(f.ID)) {
		return fmt.Errorf("live: %q is a slip of whoever reads or sets, and here that is the person", f.ID)
	}
	size, _ := f.Size.At(x)
	b.fault = trouble{Fault: f, there: true, was: true, size: size}
	leads, wires := misWired(f)
	if wires {
		b.lay(leads)
		b.fault.wires = true
	}
	switch f.ID {
	case fault.SeriesPlug:
		b.series.loose = b.rand.IntN(len(b.series.in))
	case fault.ShuntPlug:
		b.shunt.loose = b.rand.IntN(len(b.shunt.in))
	case fault.ShuntInSeries: // its form that comes with K2 alone is no wire
		if f.Form != "always" {
			for _, g := range fault.Catalogue() {
				if g.ID == f.ID && g.Form == "always" {
					b.fault.Fault = g
				}
			}
		}
	}
	return nil
}

// Fault names the fault that the bench began with, "" if it was sound, and
// whether it is still there.
func (b *Bench) Fault() (id string, there bool) {
	if !b.fault.was {
		return "", false
	}
	return string(b.fault.ID), b.fault.remains(b)
}

func (t *trouble) remains(b *Bench) bool {
	switch {
	case !t.there:
		return false
	case t.ID == fault.SeriesPlug:
		return b.series.loose >= 0
	case t.ID == fault.ShuntPlug:
		return b.shunt.loose >= 0
	}
	return true
}

// rewired takes note of new leads.
func (t *trouble) rewired(sound bool) {
	if t.wires && sound {
		t.there = false
	}
}

// edit puts what no eye sees into the netlist.
func (t *trouble) edit(n *circuit.Netlist) error {
	if !t.there || t.wires {
		return nil
	}
	if t.Edit != nil {
		if err := t.Edit(n, true); err != nil {
			return err
		}
	}
	if t.Size.What == fault.Ohm {
		return n.Replace(fault.Extra, circuit.Resistor(t.size))
	}
	return nil
}

// source changes what the cell has.
func (t *trouble) source(v *values) {
	if !t.there {
		return
	}
	if t.EMFTimes != 0 {
		v.emf *= t.EMFTimes
	}
	if t.SourceTimes != 0 {
		v.source *= t.SourceTimes
	}
	if t.Size.What == fault.EMF {
		v.emf *= t.size
	}
}

// friction is how far from its place the needle can stay.
func (t *trouble) friction(sound float64) float64 {
	if t.there && t.ID == fault.PointerSticks {
		return math.Max(sound, t.size)
	}
	return sound
}

// pointer is where the pointer goes for a steady deflection of x.
func (t *trouble) pointer(x float64, b *Bench) float64 {
	switch {
	case !t.there || x == 0:
		return x
	case t.ID == fault.ScaleUneven, t.ID == fault.SourceRunningDown:
		return t.Write(fault.Look{Div: x, Divisions: b.stated.Galvanometer.Divisions, Shunted: b.keys[K2], Age: float64(max(0, t.age-1))}, t.size)
	}
	return x
}

// jitter is what a loose contact adds to a deflection as it is closed.
func (t *trouble) jitter(step float64, r *rand.Rand) float64 {
	if !t.there || !t.Loose {
		return 0
	}
	return fault.Scatter * step * r.NormFloat64()
}

// closed takes note of K1 being closed once more.
func (t *trouble) closed(b *Bench) {
	if !t.there {
		return
	}
	t.age++
	if t.ID == fault.ZeroOff && t.age == 1 { // the needle comes back to another place from now on
		b.zero += t.size
	}
}

// screwed takes note of where the needle rests now.
func (t *trouble) screwed(zero, step float64) {
	if t.ID == fault.ZeroOff && t.age > 0 && math.Abs(zero) <= step/2 {
		t.there = false
	}
}

// LookOver looks a part over: contacts pressed home, terminals tightened, the
// cell exchanged for a sound one. It returns the name of the fault that was
// found and mended there, "" if the part is sound.
func (b *Bench) LookOver(at time.Duration, p Part) string {
	b.begin(at, Act{Do: LookedOver})
	id, there := b.Fault()
	if at, ok := place[fault.ID(id)]; !there || !ok || at != p {
		return ""
	}
	b.mends(func() {
		b.fault.there = false
		b.series.loose, b.shunt.loose = -1, -1
	})
	b.jitter = 0
	b.rewire()
	return id
}
