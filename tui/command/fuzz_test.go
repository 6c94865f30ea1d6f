package command

import (
	"strings"
	"testing"
	"unicode"

	"example.org/halve/procedure"
)

// FuzzBenchFile: whatever a bench file holds, one clear line, or a bench that
// can be recorded and set up for a practice, with what it hides.
func FuzzBenchFile(f *testing.F) {
	const bench = `"source":{"emf_V":1.5},"galvanometer":{"divisions":30,"zero":"centre"},` +
		`"series_box":{"kind":"decade","dials_ohm":[1000,100,10]},"shunt_box":{"kind":"plug","coils_ohm":[1,2,2,5,10,20,20,50]}`
	for _, seed := range []string{
		`{` + bench + `}`,
		`{"event":"bench",` + bench + `,"label":"\u001b[2J\u202e"}`,
		"\ufeff{" + bench + `,"hidden":{"resistance_ohm":91.7,"merit_A_per_div":2e-5,"zero_div":0.25}}`,
		`{` + bench + `,"hidden":{"series_errors":[0.001,-0.001,0],"shunt_errors":[],"fault":"any"}}`,
		`{` + bench + `,"hidden":5}`,
		`{` + strings.Replace(bench, "1.5", "1e400", 1) + `}`,
		"{\n" + bench + ",\n}",
	} {
		f.Add([]byte(seed))
	}
	clear := func(t *testing.T, data []byte, err error) {
		if msg := err.Error(); msg == "" || len(msg) > 2000 || strings.ContainsFunc(msg, unicode.IsControl) {
			t.Fatalf("%q: not one clear line: %q", data, msg)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		b, hidden, err := benchIn(data)
		if err != nil {
			clear(t, data, err)
			return
		}
		line, err := procedure.EncodeInput(b)
		if err != nil {
			t.Fatalf("%q was taken and cannot be written: %v", data, err)
		}
		if _, err := procedure.Words().DecodeInput(line); err != nil {
			t.Fatalf("%q was taken and written as %s, which is refused: %v", data, line, err)
		}
		state := new(procedure.State)
		if err := state.Apply(procedure.Event{Seq: 1, Body: b}); err != nil {
			clear(t, data, err)
			return
		}
		procedure.Advise(state)
		p := Practise{Seed: 1}
		sim := simulation{seed: 1, drawn: fromFile}
		if hidden != nil {
			sim.drawn = fromHidden
		}
		needle, _, err := p.build(sim, b.Bench, hidden)
		if err != nil {
			clear(t, data, err)
			return
		}
		needle.SetKeys(true, true)
		needle.Read()
		needle.Voltmeter(true)
	})
}
