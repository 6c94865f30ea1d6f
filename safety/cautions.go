package safety

import "example.org/halve/physics/apparatus"

// A Caution is a sentence to be seen where something can be hurt.
type Caution struct {
	ID, Text string
	// Of is the kind of box that the caution is about, empty for one that
	// holds whatever lies on the table.
	Of apparatus.Kind
}

// Cautions returns the cautions for a step, the most important first; none
// for a step at which nothing can be hurt. Those that are about a kind of box
// which is not on the table are for the caller to leave out. Steps are named
// as on the line protocol. Common practice, no source; they never replace the
// teacher, local rules or a licensed person.
func Cautions(step string) []Caution {
	switch step {
	case "bench":
		return []Caution{
			{ID: "low-voltage", Text: "Low-voltage cells only; never the mains. A lead-acid cell must never be bridged: it can burn wire and hands."},
			{ID: "carry", Text: "Carry the galvanometer by its base with its terminals joined by a wire; keep magnets, phones and steel tools away."},
			{ID: "no-ohmmeter", Text: "Never put a multimeter's resistance range across the galvanometer: its current can exceed full scale."},
		}
	case "wiring":
		return []Caution{
			{ID: "teacher-looks", Text: "Have the teacher look the circuit over before any key is closed."},
			{ID: "leaking-cell", Text: "Do not handle a leaking cell; tell the teacher."},
			{ID: "keys-open", Text: "Wire with both keys open; the lead to the source comes last."},
		}
	case "series":
		return []Caution{
			{ID: "plugs-k1-open", Text: "Move plugs only with K1 open. Twist and lift a plug straight; press the others firm.", Of: apparatus.Plug},
			{ID: "dials-k1-open", Text: "Turn dials only with K1 open, until each rests in its notch.", Of: apparatus.Decade},
			{ID: "k2-open", Text: "K2 stays open while R is changed: a shunt hides the true current."},
		}
	case "first":
		return []Caution{
			{ID: "tap-first", Text: "Touch K1 first, hold it later. If the needle slams, open K1; do not chase it with R."},
		}
	case "shunt":
		return []Caution{
			{ID: "order", Text: "Close K1, then K2; open K2, then K1."},
			{ID: "current-off", Text: "Close the keys only while reading: a resting cell stays constant."},
		}
	case "result":
		return []Caution{
			{ID: "leave", Text: "Before leaving: both keys open, the lead off the source; in a plug box all plugs back in."},
			{ID: "report", Text: "Report a bent needle, a cracked glass or a loose plug; mend nothing inside a meter or a box."},
		}
	}
	return nil
}
