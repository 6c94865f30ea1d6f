package debrief

import (
	"slices"
	"testing"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/bench/live"
	"example.org/halve/procedure"
)

// What was mended is read back from the notes; other notes are not taken for
// it, and nobody's needle was in danger by it.
func TestPutRight(t *testing.T) {
	note := func(text string) procedure.Event { return procedure.Event{Body: procedure.Note{Text: text}} }
	events := []procedure.Event{
		note("the shunt-open was found and put right"), note(Mended("shunt-open")), {Body: procedure.Wired{}},
		note("simulated bench: the needle was driven past the last mark on the right when K1 was closed with R at 50 Ω"), note(Mended("zero-off")),
	}
	if got, want := PutRight(events), []string{"shunt-open", "zero-off"}; !slices.Equal(got, want) {
		t.Errorf("put right %v, want %v", got, want)
	}
	for i, want := range []bool{false, true, false, true, true} {
		if n, ok := events[i].Body.(procedure.Note); ok && ByBench(n) != want {
			t.Errorf("%q by the bench: %v, want %v", n.Text, !want, want)
		}
	}
	d := &debriefing{Practice: Practice{Events: events}}
	d.needle()
	if len(d.out) != 1 || d.out[0].Kind != Better {
		t.Errorf("of one danger and two mends it is said %v", d.out)
	}
	if text, ok := Note(live.Happening{Kind: live.Mended, Fault: "leakage"}, apparatus.Bench{}); !ok || text != Mended("leakage") {
		t.Errorf("a happening is noted as %q", text)
	}
}
