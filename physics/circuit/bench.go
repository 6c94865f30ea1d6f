package circuit

// Bench is the half-deflection bench with its settings as they truly are: the
// source, key K1, the series box and the movement in a loop; the shunt box
// with key K2 across the movement.
//
//	 plus ──K1── switched ──series── top ──K2── tapped
//	  │                               │            │
//	source                        movement       shunt
//	  │                               │            │
//	Ground ────────────────────────Ground────────Ground
type Bench struct {
	EMF              float64 // volt
	SourceResistance float64 // ohm
	Series           float64 // the series box, ohm
	Movement         float64 // the galvanometer, ohm
	Shunt            float64 // the shunt box, ohm
	K1, K2           bool    // true where closed
}

// The nodes of the bench, beside Ground.
const (
	Plus     Node = 1 + iota // the source's positive terminal
	Switched                 // between K1 and the series box
	Top                      // between the series box and the movement
	Tapped                   // between K2 and the shunt box
)

// The names of the bench's elements.
const (
	NameSource   = "source"
	NameK1       = "K1"
	NameSeries   = "series"
	NameMovement = "movement"
	NameK2       = "K2"
	NameShunt    = "shunt"
)

// Branches are the bench's branches. All currents are positive on a sound
// bench; that of Source is the loop current.
type Branches struct {
	Source, K1, Series, Movement, K2, Shunt BranchID
}

// Netlist returns the bench as a netlist to edit and solve.
func (b Bench) Netlist() (*Netlist, Branches) {
	n := &Netlist{make([]branch, 0, 8)} // room for a fault
	return n, Branches{
		Source:   n.Add(NameSource, Source(b.EMF, b.SourceResistance), Ground, Plus),
		K1:       n.Add(NameK1, Key(b.K1), Plus, Switched),
		Series:   n.Add(NameSeries, Resistor(b.Series), Switched, Top),
		Movement: n.Add(NameMovement, Resistor(b.Movement), Top, Ground),
		K2:       n.Add(NameK2, Key(b.K2), Top, Tapped),
		Shunt:    n.Add(NameShunt, Resistor(b.Shunt), Tapped, Ground),
	}
}
