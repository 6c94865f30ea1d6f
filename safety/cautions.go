package safety

// A Caution is a sentence to be seen where something can be hurt.
type Caution struct {
	ID, Text string
}

// cautionSource is where the cautions come from; they never replace the
// teacher, local rules or a licensed person.
const cautionSource = "common practice, no source; the teacher and local rules prevail"

// CautionSource says where the cautions come from.
func CautionSource() string { return cautionSource }

// Cautions returns the cautions for a step, the most important first; none
// for a step at which nothing can be hurt. Steps are named as on the line
// protocol.
func Cautions(step string) []Caution {
	switch step {
	case "bench":
		return []Caution{
			{"low-voltage", "Low-voltage cells only; never the mains. A lead-acid cell must never be bridged: it can burn wire and hands."},
			{"carry", "Carry the galvanometer by its base with its terminals joined by a wire; keep magnets, phones and steel tools away."},
			{"no-ohmmeter", "Never put a multimeter's resistance range across the galvanometer: its current can exceed full scale."},
		}
	case "wiring":
		return []Caution{
			{"teacher-looks", "Have the teacher look the circuit over before any key is closed."},
			{"leaking-cell", "Do not handle a leaking cell; tell the teacher."},
			{"keys-open", "Wire with both keys open; the lead to the source comes last."},
		}
	case "series":
		return []Caution{
			{"plugs-k1-open", "Move plugs only with K1 open. Twist and lift a plug straight; press the others firm."},
			{"k2-open", "K2 stays open while R is changed: a shunt hides the true current."},
		}
	case "first":
		return []Caution{
			{"tap-first", "Touch K1 first, hold it later. If the needle slams, open K1; do not chase it with R."},
		}
	case "shunt":
		return []Caution{
			{"order", "Close K1, then K2; open K2, then K1."},
			{"current-off", "Close the keys only while reading: a resting cell stays constant."},
		}
	case "result":
		return []Caution{
			{"leave", "Before leaving: both keys open, the lead off the source, all plugs back in the boxes."},
			{"report", "Report a bent needle, a cracked glass or a loose plug; mend nothing inside a meter or a box."},
		}
	}
	return nil
}
