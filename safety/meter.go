package safety

import "fmt"

// MeterBench is what the cautions of a meter check depend on.
type MeterBench struct {
	Ammeter bool
	// The most that can flow, A, and that can stand between two terminals, V,
	// at any setting of the source; 0 where that is not known.
	Amperes, Volts float64
}

// MeterCautions returns the cautions for a step of a meter check, the most
// important first; steps are named as on the line protocol.
func MeterCautions(step string, b MeterBench) []Caution {
	var out []Caution
	say := func(id, text string) { out = append(out, Caution{ID: id, Text: text}) }
	if b.Volts > TouchRMS && (step == "bench" || step == "wiring" || step == "rising" || step == "falling") {
		say("touch", "Above 60 V direct or 30 V alternating (r.m.s.; limits from memory) a touch can kill: covered terminals, nothing changed with the source on, and only where local rules allow it.")
	}
	switch step {
	case "bench":
		say("practice", "This is practice and refreshment. Certified calibration is for an accredited laboratory; local codes and licensed persons come first.")
		say("not-the-mains", "Never the mains, and never a meter in a live panel: take it out only where the panel is isolated, locked, discharged and proved dead by whoever may.")
		say("current-transformer", "Never open the secondary of a current transformer under load: it can reach kilovolts. Whoever is licensed shorts it at its test links, proves the short, and removes it last.")
		say("old-dials", "An old dial may carry radium paint, an old case asbestos washers: do not open, scrape or blow; ask first.")
	case "wiring":
		// On a small screen the cautions of the bench are behind its form.
		say("never", "Never the mains or a live panel; never open a current transformer's secondary under load.")
		say("dead", "Wire with the source off and at its least; its lead comes last. Have the circuit looked over before it is switched on.")
		if b.Ammeter {
			say("shunt-order", "An external shunt is bolted on before the movement's leads and comes off last: a shunt that opens under current puts it all through the movement.")
			say("in-series", "An ammeter lies in series with the reference, never across the source.")
			if b.Volts == 0 {
				say("low-voltage", fmt.Sprintf("A few volts drive an ammeter: take a source that cannot give more than %g V.", TouchRMS))
			}
		} else {
			say("in-parallel", "A voltmeter lies beside the reference, across the source; leads with closed plugs.")
		}
		say("ratings", "See that the reference's range and rating hold the whole range of the meter before the source is turned up.")
		say("no-ohmmeter", "Never put a multimeter's resistance range across the movement: its current can exceed full scale.")
	case "zero":
		say("source-off", "The zero is set with the source off. Turn the adjuster gently; help no pointer with a finger.")
	case "rising", "falling":
		say("slowly", "If the pointer runs, or anything warms or smells, switch off.")
		if b.Amperes >= burningCurrent {
			say("hot-shunt", fmt.Sprintf("At %g A or more, shunts, leads and terminals get hot enough to burn fingers.", burningCurrent))
		}
	case "result":
		leave := "Before leaving: source to its least and off, its lead off first"
		if b.Ammeter {
			leave += "; an external shunt comes off last"
		}
		say("leave", leave+".")
	}
	return out
}
