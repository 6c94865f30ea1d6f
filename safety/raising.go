package safety

import (
	"fmt"

	"example.org/halve/physics/quantity"
)

// Source is the "key" of a meter check: what is cleared is to switch the source
// on and to turn it up to the point that is called for.
const Source Key = "source"

// Raising is the bench of a meter check at the moment before its source is
// turned up to a point.
type Raising struct {
	Wired          bool          // the circuit was checked against the drawing
	Unit           quantity.Unit // of the values below
	Target         float64       // what is to flow, or stand across the meter, at the point; a magnitude
	Range          float64       // of the meter under test
	Divisions      float64       // that the range stands for
	ReferenceMax   float64       // the most the reference is rated for, 0 where none is stated
	SourceMax      float64       // the most the source can drive, 0 where none is stated
	LeftZero       bool          // the scale has its zero at the left stop
	DirectionKnown bool          // a reading has shown that the pointer goes up the scale
	// Shows is how many times what it should the pointer has shown, at the most;
	// what is below 1 does not count. A meter on a lower range shows more.
	Shows float64
}

// A RaisingRule is a rule on turning up the source of a meter check.
type RaisingRule struct {
	ID     string
	Why    string // the harm it prevents
	Source string
	Judge  func(Raising) (v Verdict, because string, ok bool)
}

// RaisingRules returns every rule on turning up a source, in the order in
// which they are asked; the strictest verdict wins, and of equal ones the
// first speaks.
func RaisingRules() []RaisingRule {
	return []RaisingRule{checkedRule, ratingRule, supplyRule, directionRule}
}

// JudgeRaising puts all rules to the raising of a source. WorstDiv is where
// the pointer would stand with the source turned up fully, nil where the
// source's most is not stated.
func JudgeRaising(r Raising) Clearance {
	out := Clearance{Key: Source, Verdict: Clear}
	for _, rule := range RaisingRules() {
		if v, because, ok := rule.Judge(r); !ok && rank(v) > rank(out.Verdict) {
			out.Verdict, out.Because = v, because
		}
	}
	drives := r.SourceMax / r.Range * max(1, r.Shows)
	if r.SourceMax > 0 {
		worst := drives * r.Divisions
		out.WorstDiv = &worst
	}
	if out.Verdict != Clear {
		return out
	}
	switch {
	case r.SourceMax <= 0:
		out.Because = "how much the source can drive is not stated: turn it up slowly, and stop at the mark"
	case drives > overload:
		out.Because = fmt.Sprintf("turned up fully, the source would drive the pointer to %.0f of %g divisions: turn it up slowly, and stop at the mark", *out.WorstDiv, r.Divisions)
	default:
		out.Because = fmt.Sprintf("even turned up fully, the source drives the pointer to %.0f of %g divisions, which a meter stands", *out.WorstDiv, r.Divisions)
	}
	return out
}

// overload is how many times its range a meter stands for hours (IEC 60051,
// from memory).
const overload = 1.2
