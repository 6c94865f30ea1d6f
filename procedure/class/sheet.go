// Package class takes the records of many pairs together: who should take a row
// again and why, which instrument or cell is ailing, and what the class has
// measured. It gives no marks.
//
// Every record becomes a Sheet, small enough to keep by the hundred thousand;
// sheets make a Class. A record is read in two ways. The quick one looks at no
// more than is needed and takes G and k by least squares; it serves records that
// nobody has edited by hand, and leaves all others to the full one, which folds
// them as every other command does. The records of a usual class, or those of an
// archive that most need attention, are then examined: folded in full, with the
// result as "halve result" has it, findings and slips.
package class

import (
	"math"
	"slices"
	"strings"

	"example.org/halve/physics/apparatus"
	"example.org/halve/procedure"
)

// Progress is how far a record has come.
type Progress string

// The states of a record.
const (
	Finished   Progress = "finished"
	Unfinished Progress = "unfinished"
	Cut        Progress = "cut off"   // within its last line; what is whole is taken
	Duplicate  Progress = "duplicate" // a copy of another, which is the one that counts
)

// RowsEnough is the number of rows from which a record has enough (common
// practice, no source); the counsel asks for procedure.RowsWanted.
const RowsEnough = 4

// A Sheet is what one record comes to. Numbers that are not known are NaN.
type Sheet struct {
	File        string
	ID          string // "" where the header has none
	State       Progress
	Begun, Last int64 // nanoseconds since 1970; 0 where the record does not say
	Events      int
	Names       string // as typed, cleaned
	Group       string
	*Plate

	Rows int // kept and in force

	G, UG, K, UK float64 // ohm and A/div
	U95G, U95K   float64 // expanded
	// EMF is what k rests on, V, and UEMF its relative standard uncertainty.
	EMF, UEMF        float64
	Temperature      float64 // last noted, °C
	Has              Presence
	Claims           int
	Strikes, Unsaid  int     // strikes in force, and those without a reason
	Closely          *Closer // nil where the record was only read quickly
	path             string  // below the folder, as it is on disk
	hash             uint64  // of the file's content
	pair, instrument int32   // its number among the pairs, from 1, and its place in Class.Instruments, -1 for none
	cell             int32   // the same in Class.Cells
	copyOf           *Sheet
	ofG, ofK         standing
	reasons          reason
	attention        float64 // by which the table is sorted
}

// A Plate is what the bench of a record states, 0 or "" for what it does not.
// Records of the same bench share one.
type Plate struct {
	Bench, Instrument, Cell string  // labels, cleaned
	Stated                  float64 // EMF, V
	Divisions               float64
	PlateG, UPlateG         float64 // ohm
	PlateK, UPlateK         float64 // by the full scale, A/div
}

// Closer is what a full look at a record shows besides.
type Closer struct {
	Step      procedure.Step
	RowG      []float64 // G of the rows in force, ohm
	RowNumber []int
	Examined  bool // for faults and slips
	Findings  []procedure.Finding
	Slips     []procedure.Slip // the likeliest of each claim that does not agree
	Wrong     int              // claims that do not agree
}

// A standing is where a record stands among those of its instrument, in G or in k.
type standing struct {
	distance float64 // from the others, in standard uncertainties
	normal   float64 // normalised error
	apart    bool
	two      bool // compared with one other, and nothing says which is right
}

// alone is the standing of a record that cannot be compared.
var alone = standing{distance: math.NaN(), normal: math.NaN()}

// blank is a sheet of which nothing is known.
func blank() Sheet {
	n := math.NaN()
	return Sheet{
		Plate: new(Plate), G: n, UG: n, K: n, UK: n, U95G: n, U95K: n, EMF: n, UEMF: n,
		Temperature: n, ofG: alone, ofK: alone, instrument: -1, cell: -1,
	}
}

// measured reports whether the record has a result.
func (s *Sheet) measured() bool { return s.UG > 0 && s.UK > 0 && s.G > 0 && s.K > 0 }

// Presence is what stands in a record, one bit for each thing: a list of what is
// present and absent, never a mark.
type Presence uint16

// What may be present. The order is that in which it is told.
const (
	HasNames       Presence = 1 << iota // whose record it is
	HasWired                            // the circuit was checked before any key was closed
	HasZeroBefore                       // the zero was read before the first deflection
	HasZeroAfter                        // and after the last
	HasEMF                              // the source was measured
	HasRows                             // RowsEnough rows or more
	HasSides                            // readings on both sides of zero; not asked for on a left-zero scale
	HasDoubt                            // the EMF's uncertainty is stated
	HasReasons                          // every strike has its reason; not asked for where nothing is struck
	HasClaims                           // G and k were worked out by hand
	HasUnits                            // with their units; not asked for without claims
	HasTemperature                      // the temperature was noted
	HasEnd                              // finished
	OneSide                             // the scale has its zero at the left: both sides are not asked for
)

// An Item is one thing of the list of what is present.
type Item struct {
	ID, Name string
	Bit      Presence
}

// Items is the list, in the order in which it is told.
func Items() []Item { return slices.Clone(items) }

var items = []Item{
	{"names", "names", HasNames}, {"circuit_checked", "circuit checked", HasWired},
	{"zero_before", "zero before", HasZeroBefore}, {"zero_after", "zero after", HasZeroAfter},
	{"emf_measured", "EMF measured", HasEMF}, {"enough_rows", "enough rows", HasRows}, {"both_sides", "both sides", HasSides},
	{"uncertainty_stated", "uncertainty stated", HasDoubt}, {"reasons_for_strikes", "reasons for strikes", HasReasons},
	{"worked_by_hand", "worked by hand", HasClaims}, {"units", "units", HasUnits},
	{"temperature", "temperature", HasTemperature}, {"finished", "finished", HasEnd},
}

// Asked reports whether a thing is asked for in this record at all.
func (s *Sheet) Asked(i Item) bool {
	switch i.Bit {
	case HasSides:
		return s.Has&OneSide == 0
	case HasReasons:
		return s.Strikes > 0
	case HasUnits:
		return s.Claims > 0
	}
	return true
}

// settle fills in what follows from the counts.
func (s *Sheet) settle() {
	set := func(bit Presence, on bool) {
		if on {
			s.Has |= bit
		}
	}
	set(HasRows, s.Rows >= RowsEnough)
	set(HasReasons, s.Strikes > 0 && s.Unsaid == 0)
	set(HasEnd, s.State == Finished)
}

// hasUnit reports whether a value was written with a unit.
func hasUnit(text string) bool {
	return strings.Contains(strings.ToLower(text), "ohm") || strings.ContainsAny(text, "ΩΩA")
}

// What is assumed where the plate states no uncertainty, as the counsel does.
const (
	plateResistanceDoubt = 0.1
	plateScaleDoubt      = 0.05
)

// plateOf is what a bench states.
func plateOf(b apparatus.Bench) Plate {
	g := b.Galvanometer
	p := Plate{Bench: b.Label, Instrument: g.Label, Cell: b.Source.Label, Stated: b.Source.EMF, Divisions: g.Divisions}
	if g.Resistance != nil && *g.Resistance > 0 {
		p.PlateG, p.UPlateG = *g.Resistance, plateResistanceDoubt**g.Resistance
		if g.UResistance != nil && *g.UResistance > 0 {
			p.UPlateG = *g.UResistance
		}
	}
	if g.FullScale != nil {
		p.PlateK, p.UPlateK = *g.FullScale/g.Divisions, plateScaleDoubt**g.FullScale/g.Divisions
		if g.UFullScale != nil {
			p.UPlateK = *g.UFullScale / g.Divisions
		}
	}
	return p
}

// stated takes over what stands in the record by its bench alone.
func (s *Sheet) stated(b apparatus.Bench) {
	if !b.Galvanometer.Centre() {
		s.Has |= OneSide
	}
	if b.Source.UEMF != nil {
		s.Has |= HasDoubt
	}
}
