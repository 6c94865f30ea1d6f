// Package safety says what must not happen at the bench: which key may be
// closed, what current which part may carry, and what can hurt. It knows the
// physics and nothing above it.
//
// Each rule stands in a file of its own with an id, a reason and a source;
// its test holds examples that pass and examples that fail. The usual
// cautions never replace the teacher, local codes or a licensed person.
package safety

// Verdict is the answer to "may this key be closed?".
type Verdict string

// The verdicts, from the freest to the strictest.
const (
	Clear Verdict = "clear" // the needle provably stays on the scale
	Tap   Verdict = "tap"   // not proven: press for an instant, let go if the needle runs
	Stop  Verdict = "stop"  // do not close
)

// Key names a key of the bench.
type Key string

// The two keys.
const (
	K1 Key = "K1" // in the loop of source, series box and galvanometer
	K2 Key = "K2" // in the shunt branch across the galvanometer
)

// Clearance is the verdict on closing a key, with its reason. WorstDiv is the
// largest deflection that anything known allows, nil where nothing bounds it.
type Clearance struct {
	Key      Key      `json:"key"`
	Verdict  Verdict  `json:"verdict"`
	WorstDiv *float64 `json:"worst_div"`
	Because  string   `json:"because"`
}
