// Package fault is the catalogue of what goes wrong at a half-deflection
// bench. Every fault is an edit of the netlist of the sound bench, of what its
// boxes make, or of what is written down. The simulated bench and the
// diagnosis share it, so that what is planted is what is looked for.
//
// The faults and the usual sizes of those that have one are common practice,
// no source.
package fault

import (
	"math"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/circuit"
)

// ID names a fault. The names are a contract of the line protocol.
type ID string

// The faults.
const (
	NoCurrent          ID = "no-current"
	Reversed           ID = "reversed"
	SeriesBypassed     ID = "series-bypassed"
	SeriesPlug         ID = "series-plug"
	SeriesComplement   ID = "series-complement"
	SeriesUnit         ID = "series-unit"
	SeriesMoved        ID = "series-moved"
	BoxesExchanged     ID = "boxes-exchanged"
	ShuntAlreadyClosed ID = "shunt-already-closed"
	ShuntOpen          ID = "shunt-open"
	ShuntShorted       ID = "shunt-shorted"
	ShuntPlug          ID = "shunt-plug"
	ShuntComplement    ID = "shunt-complement"
	ShuntInSeries      ID = "shunt-in-series"
	ShuntAcrossSeries  ID = "shunt-across-series"
	ShuntAcrossSource  ID = "shunt-across-source"
	ShuntContact       ID = "shunt-contact"
	InnerShunt         ID = "inner-shunt"
	Leakage            ID = "leakage"
	SourceWeak         ID = "source-weak"
	SourceDoubled      ID = "source-doubled"
	SourceRunningDown  ID = "source-running-down"
	ZeroOff            ID = "zero-off"
	FarEnd             ID = "far-end"
	WrongSide          ID = "wrong-side"
	ColumnsSwapped     ID = "columns-swapped"
	HalfMissed         ID = "half-missed"
	ScaleMisread       ID = "scale-misread"
	PointerSticks      ID = "pointer-sticks"
	ScaleUneven        ID = "scale-uneven"
	ReadingOdd         ID = "reading-odd"
	Scattered          ID = "scattered"
	ComputedNotRead    ID = "computed-not-read"
	Unexplained        ID = "unexplained"
)

// Extra is the name of the element that a fault adds to the netlist, whose
// resistance is the fault's size.
const Extra = "extra"

// Scatter is the standard deviation of a reading on a bench where something is
// loose, in steps of the scale's resolution.
const Scatter = 2.0

// Span says how long a fault lasts.
type Span int

// The spans.
const (
	Lasting    Span = iota // until somebody mends it
	OneRow                 // a slip of one setting of the box
	OneReading             // a slip of one reading
)

// What says what a fault's size stands for.
type What int

// The sizes.
const (
	Nothing What = iota
	Ohm          // the resistance of the element Extra
	EMF          // a factor of the source's EMF
	Written      // a number that Write uses
)

// Size is a fault's number and how it is spread over benches: Mid times
// exp(Spread·x) where Log, else Mid + Spread·x, with x unit normal.
type Size struct {
	What        What
	Mid, Spread float64
	Log         bool
}

// At returns the size for x and its derivative.
func (s Size) At(x float64) (size, slope float64) {
	if s.Log {
		size = s.Mid * math.Exp(s.Spread*x)
		return size, s.Spread * size
	}
	return s.Mid + s.Spread*x, s.Spread
}

// Look is one look at the needle, for what is written down of it.
type Look struct {
	Div       float64 // where the needle stands, from its rest position
	Divisions float64 // of the scale, zero to end mark
	Shunted   bool    // K2 is closed
	Age       float64 // how often K1 was closed since the fault began
	// First is the deflection written with K2 open at this series value, and
	// Other that at the series value before, or the end of the scale where
	// there was none; for what is worked out from them.
	First, Other float64
}

// BoxSlip is a way in which a box makes another resistance than is said.
type BoxSlip int

// The slips of a box.
const (
	AsSaid     BoxSlip = iota
	OnePlug            // one plug is in that is said to be out, or the reverse; a dial one step off
	Complement         // the plugs said to be out are in, and the reverse
	Factor             // the value is written in another unit
)

// Fault is one way in which a bench can go wrong.
type Fault struct {
	ID   ID
	Form string // tells apart the forms of one fault, "" where it has one
	Span Span
	// Edit changes the netlist of the sound bench, K2 closed or open; nil
	// leaves it.
	Edit func(n *circuit.Netlist, k2 bool) error
	// EMFTimes and SourceTimes multiply the source's EMF and its internal
	// resistance; 0 counts as 1.
	EMFTimes, SourceTimes float64
	Size                  Size
	// Write is what is written down where the needle stands at l.Div, less
	// the rest position; nil writes what the needle shows.
	Write func(l Look, size float64) float64
	// Pointer: Write is where the pointer itself goes, for all to see.
	Pointer bool
	// Series and Shunt say what the boxes make; Times is the factor of
	// Factor.
	Series, Shunt BoxSlip
	Times         float64
	// Between: the series box slips between the two readings of a row, and
	// stays so until it is set again.
	Between bool
	// Swapped: the two readings of a row stand in each other's place.
	Swapped bool
	// WorkedOut: the shunted reading is a half that was reckoned, not read.
	WorkedOut bool
	// Loose: readings scatter by Scatter.
	Loose bool
	// Any: what is written can be any value of the scale.
	Any bool
}

// Benchable reports whether a simulated bench can have the fault, and somebody
// who reads and writes at it: not where a row is written down only after both
// its readings were taken.
func (f Fault) Benchable() bool { return !f.Swapped }

// Fits reports whether boxes of these kinds can have the fault: dials have no
// plugs that could be read the wrong way round.
func (f Fault) Fits(series, shunt apparatus.Box) bool {
	return !(f.Series == Complement && series.Kind == apparatus.Decade || f.Shunt == Complement && shunt.Kind == apparatus.Decade)
}

// leastMissed is how far a half of another deflection lies from this row's at
// least to be a mistake, in parts of the scale.
const leastMissed = 1.0 / 20

// Netlist returns the bench as the fault leaves it, its boxes as they truly
// stand.
func (f Fault) Netlist(b circuit.Bench, x float64) (*circuit.Netlist, circuit.Branches, error) {
	size, _ := f.Size.At(x)
	b.EMF *= or1(f.EMFTimes)
	b.SourceResistance *= or1(f.SourceTimes)
	if f.Size.What == EMF {
		b.EMF *= size
	}
	n, branches := b.Netlist()
	if f.Edit != nil {
		if err := f.Edit(n, b.K2); err != nil {
			return nil, branches, err
		}
	}
	if f.Size.What == Ohm {
		if err := n.Replace(Extra, circuit.Resistor(size)); err != nil {
			return nil, branches, err
		}
	}
	return n, branches, nil
}

func or1(factor float64) float64 {
	if factor == 0 {
		return 1
	}
	return factor
}

// Catalogue lists the faults, their forms side by side.
func Catalogue() []Fault {
	faults := []Fault{
		{ID: NoCurrent, Edit: func(n *circuit.Netlist, _ bool) error { return n.Open(circuit.NameK1) }},
		{ID: Reversed, Edit: func(n *circuit.Netlist, _ bool) error { return n.Reverse(circuit.NameSource) }},
		{ID: SeriesBypassed, Edit: func(n *circuit.Netlist, _ bool) error { return wireFor(n, circuit.NameSeries) }},
		{ID: SeriesPlug, Form: "one row", Span: OneRow, Series: OnePlug},
		{ID: SeriesPlug, Form: "every row", Series: OnePlug},
		{ID: SeriesComplement, Series: Complement},
		{ID: SeriesMoved, Span: OneRow, Series: OnePlug, Between: true},
		{ID: BoxesExchanged, Edit: func(n *circuit.Netlist, _ bool) error {
			return n.Exchange(circuit.NameSeries, circuit.NameShunt)
		}},
		{ID: ShuntAlreadyClosed, Edit: func(n *circuit.Netlist, _ bool) error {
			return n.Replace(circuit.NameK2, circuit.Key(true))
		}},
		{ID: ShuntOpen, Edit: func(n *circuit.Netlist, _ bool) error { return n.Open(circuit.NameShunt) }},
		{ID: ShuntShorted, Edit: func(n *circuit.Netlist, _ bool) error { return wireFor(n, circuit.NameShunt) }},
		{ID: ShuntPlug, Form: "one row", Span: OneRow, Shunt: OnePlug},
		{ID: ShuntPlug, Form: "every row", Shunt: OnePlug},
		{ID: ShuntComplement, Shunt: Complement},
		{ID: ShuntInSeries, Form: "when K2 is closed", Edit: func(n *circuit.Netlist, k2 bool) error {
			if !k2 {
				return nil
			}
			return inSeries(n)
		}},
		{ID: ShuntInSeries, Form: "always", Edit: func(n *circuit.Netlist, _ bool) error { return inSeries(n) }},
		{ID: ShuntAcrossSeries, Edit: func(n *circuit.Netlist, _ bool) error {
			return n.Move(circuit.NameShunt, circuit.Tapped, circuit.Switched)
		}},
		{ID: ShuntAcrossSource, Edit: func(n *circuit.Netlist, _ bool) error {
			return n.Move(circuit.NameK2, circuit.Plus, circuit.Tapped)
		}},
		{ID: ShuntContact, Size: Size{Ohm, 6, 0.7, true}, Edit: func(n *circuit.Netlist, _ bool) error {
			_, err := n.Insert(Extra, circuit.NameShunt, circuit.Resistor(0))
			return err
		}},
		{ID: InnerShunt, Size: Size{Ohm, 60, 0.6, true}, Edit: func(n *circuit.Netlist, _ bool) error {
			_, err := n.Bridge(Extra, circuit.NameMovement, circuit.Resistor(0))
			return err
		}},
		{ID: Leakage, Size: Size{Ohm, 2e4, 0.8, true}, Edit: func(n *circuit.Netlist, _ bool) error {
			_, err := n.Bridge(Extra, circuit.NameSeries, circuit.Resistor(0))
			return err
		}},
		{ID: SourceWeak, SourceTimes: 15, Size: Size{EMF, 0.78, 0.12, true}},
		{ID: SourceDoubled, EMFTimes: 2, SourceTimes: 2},
		{ID: SourceRunningDown, Pointer: true, Size: Size{Written, 0.012, 0.7, true}, Write: func(l Look, loss float64) float64 {
			return l.Div * math.Exp(-loss*l.Age)
		}},
		{ID: ZeroOff, Pointer: true, Size: Size{Written, 0, 1.5, false}, Write: func(l Look, shift float64) float64 { return l.Div + shift }},
		{ID: FarEnd, Write: func(l Look, _ float64) float64 { return l.Divisions - l.Div }},
		{ID: WrongSide, Span: OneReading, Write: func(l Look, _ float64) float64 { return -l.Div }},
		{ID: ColumnsSwapped, Form: "one row", Span: OneRow, Swapped: true},
		{ID: ColumnsSwapped, Form: "every row", Swapped: true},
		{ID: ColumnsSwapped, Form: "K2 the wrong way", Edit: func(n *circuit.Netlist, k2 bool) error {
			return n.Replace(circuit.NameK2, circuit.Key(!k2))
		}},
		{ID: HalfMissed, Span: OneRow, WorkedOut: true, Write: func(l Look, _ float64) float64 {
			if l.Shunted && math.Abs(l.Other-l.First) >= 2*leastMissed*l.Divisions {
				return math.Copysign(l.Other/2, l.First)
			}
			return l.Div
		}},
		{ID: ComputedNotRead, WorkedOut: true, Write: func(l Look, _ float64) float64 {
			if l.Shunted {
				return l.First / 2
			}
			return l.Div
		}},
		{ID: PointerSticks, Pointer: true, Size: Size{Written, 0.9, 0.4, true}, Write: func(l Look, short float64) float64 {
			if l.Shunted { // the needle comes down to its place, and stops above it
				return l.Div + math.Copysign(short, l.Div)
			}
			return l.Div - math.Copysign(min(short, math.Abs(l.Div)), l.Div)
		}},
		{ID: ScaleUneven, Pointer: true, Size: Size{Written, 0.12, 0.4, true}, Write: func(l Look, crowded float64) float64 {
			return l.Div * (1 - crowded*min(1, math.Abs(l.Div)/l.Divisions))
		}},
		{ID: Scattered, Loose: true},
		{ID: ReadingOdd, Span: OneReading, Any: true},
	}
	for _, u := range []struct {
		form  string
		times float64
	}{{"ten times too small", 10}, {"ten times too large", 0.1}, {"a thousand times too small", 1000}, {"a thousand times too large", 0.001}} {
		faults = append(faults, Fault{ID: SeriesUnit, Form: u.form, Series: Factor, Times: u.times})
	}
	for _, m := range []struct {
		form  string
		times float64
	}{{"a tenth", 0.1}, {"a fifth", 0.2}, {"half", 0.5}, {"twice", 2}, {"five times", 5}} {
		faults = append(faults, Fault{ID: ScaleMisread, Form: m.form, Write: func(l Look, _ float64) float64 { return m.times * l.Div }})
	}
	return faults
}

// wireFor puts a wire in a box's place. The box itself may stand at nothing,
// and two wires side by side would share a current in any way.
func wireFor(n *circuit.Netlist, box string) error {
	if _, err := n.Bridge("wire", box, circuit.Resistor(0)); err != nil {
		return err
	}
	return n.Open(box)
}

// inSeries puts the shunt box between the series box and the movement.
func inSeries(n *circuit.Netlist) error {
	if err := n.Open(circuit.NameK2); err != nil {
		return err
	}
	if err := n.Move(circuit.NameShunt, circuit.Top, circuit.Tapped); err != nil {
		return err
	}
	return n.Move(circuit.NameMovement, circuit.Tapped, circuit.Ground)
}
