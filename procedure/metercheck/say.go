package metercheck

import (
	"fmt"

	"example.org/halve/physics/quantity"
)

// Say is what the readings say of the meter, a sentence a line; r may be nil.
func (r *Result) Say(b Bench) []string {
	if r == nil {
		return []string{"There is no result yet: it comes with the first point."}
	}
	number := func(v float64) string { return quantity.Style(0).Exact(v, quantity.Number) }
	out := []string{fmt.Sprintf("Greatest error %.2f %% of the fiducial value (%s), give or take %.2f %%.", r.WorstError, quantity.Format(r.Fiducial, b.Unit(), 3), r.U95WorstError)}
	say := func(name string, v *float64) {
		if v != nil {
			out = append(out, fmt.Sprintf("%s %.2f %%.", name, *v))
		}
	}
	say("Hysteresis", r.Hysteresis)
	say("Friction", r.Friction)
	say("Return to zero", r.ZeroReturn)
	say("Repeatability", r.Repeatability)
	if r.Simple != nil {
		out = append(out,
			fmt.Sprintf("Class %s by simple acceptance (every error within the limit): %s.", number(b.Class), r.Simple.Words()),
			fmt.Sprintf("With a guard band of the uncertainty: %s.", r.Guarded.Words()),
			fmt.Sprintf("The class limit is %.1f times the reference's uncertainty; the standard asks for 5.", *r.Ratio))
	}
	if r.Deserved != nil {
		out = append(out, fmt.Sprintf("The class that it would deserve: %s.", number(*r.Deserved)))
	} else {
		out = append(out, "No class would hold it.")
	}
	return out
}
