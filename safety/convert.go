package safety

import (
	"fmt"
	"math"

	"example.org/halve/physics/convert"
	"example.org/halve/physics/quantity"
)

// Limits within which a bare contact is held to be harmless to a healthy adult
// with dry hands, in volt. They are from memory, of the family of IEC 61010;
// what the local code says comes first.
const (
	TouchDC  = 60.0
	TouchRMS = 30.0
)

const (
	// workingVoltage is what one usual quarter-watt film resistor stands for
	// good, in volt (from memory; the maker's sheet has the figure).
	workingVoltage = 200.0
	// burningCurrent and burningPower are from where on a shunt can burn
	// fingers, in ampere and watt (common practice, no source).
	burningCurrent = 10.0
	burningPower   = 1.0
)

// ConversionCautions returns what is to be minded when a movement is made into
// a meter, the most important first.
func ConversionCautions(d convert.Design) []Caution {
	var out []Caution
	say := func(id, format string, a ...any) { out = append(out, Caution{ID: id, Text: fmt.Sprintf(format, a...)}) }
	highest, drop, power := 0.0, 0.0, 0.0
	for _, s := range d.Steps {
		highest = max(highest, s.Range)
		power = max(power, s.Power)
		if !d.Kind.InAmperes() {
			drop = max(drop, s.Ohm*d.Movement.FullScale)
		}
	}
	if !d.Kind.InAmperes() && highest > TouchRMS {
		limit := "above 30 V alternating (r.m.s.)"
		if highest > TouchDC {
			limit = "above 60 V direct or 30 V alternating (r.m.s.)"
		}
		say("touch", "Live parts %s can kill: build the meter closed, so that no terminal, lead or resistor can be touched, and connect it with the circuit dead. (These limits are from memory; the local code and a licensed person come first.)", limit)
		if n := math.Ceil(drop / workingVoltage); n > 1 {
			say("working-voltage", "%s falls across one multiplier: a usual small resistor stands about 200 V, so take at least %.0f equal ones in series. The maker's sheet has the figure.", quantity.Format(drop, quantity.Volt, 3), n)
		} else {
			say("working-voltage", "See that each multiplier's rated working voltage is above what falls across it, up to %s here.", quantity.Format(drop, quantity.Volt, 3))
		}
	}
	if d.Kind.InAmperes() {
		say("shunt-order", "An external shunt is bolted on before the movement's leads and comes off last: a shunt that opens under current puts it all through the movement.")
		if highest >= burningCurrent || power >= burningPower {
			say("hot-shunt", "A shunt for %s takes up to %s and gets hot enough to burn fingers: mount it free, and let it cool.", quantity.Format(highest, quantity.Ampere, 3), quantity.Format(power, quantity.Watt, 2))
		}
		if d.Kind == convert.Ammeter && len(d.Steps) > 1 {
			say("make-before-break", "Change ranges with the current off, or with a switch that makes before it breaks: between two separate shunts the movement would stand bare.")
		}
		if d.Kind == convert.Universal {
			say("moving-arm", "The movement stays across the whole universal shunt for good; only the current's lead moves from tap to tap.")
		}
		say("sense-leads", "The movement's leads join the shunt inside the current's leads, at points of their own: a milliohm of contact within the shunt's path is an error.")
	}
	say("mains", "Never the mains: this is a practice instrument, without the protection that a mains meter has.")
	say("no-ohmmeter", "Never put a multimeter's resistance range across a movement: its current can exceed full scale. Try the finished meter from the least current up.")
	say("old-dials", "An old dial may carry radium paint, an old case asbestos washers: do not open, scrape or blow; ask first.")
	return out
}
