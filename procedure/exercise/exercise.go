// Package exercise is the stock of benches of an invented college, to practise
// on: bench files with what they hide, from an easy first one to benches with a
// fault to find. What a file does not fix is left to the seed, so that each is
// many benches.
package exercise

import (
	"bytes"
	"embed"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"example.org/halve/physics/bench/live"
	"example.org/halve/physics/fault"
	"example.org/halve/procedure/debrief"
)

//go:embed stock/*.json schema.json
var files embed.FS

// Exercise is a bench to practise on.
type Exercise struct {
	Name  string
	About string
	Level int    // 1 is easy, 3 is hard
	Fault string // the fault that it is about, "any" for one to be found, "" for none
	file  string
}

// faultPrefix begins the names of the exercises about one fault.
const faultPrefix = "fault-"

// List lists the exercises: the benches, those with a fault to be found, and
// one about each fault that hands can have.
func List() []Exercise {
	es := []Exercise{
		{Name: "first", Level: 1, About: "known full scale, half divisions, a fresh cell", file: "first"},
		{Name: "dials", Level: 1, About: "the same with dials in place of plugs", file: "dials"},
		{Name: "fine-scale", Level: 1, About: "a scale that is read to a quarter of a division", file: "fine-scale"},
		{Name: "unknown-scale", Level: 2, About: "full scale unknown: the first touch is a tap", file: "unknown-scale"},
		{Name: "coarse-scale", Level: 2, About: "a scale that is read to whole divisions only", file: "coarse-scale"},
		{Name: "left-zero", Level: 2, About: "zero at the left: the source can be reversed", file: "left-zero"},
		{Name: "swinging", Level: 2, About: "a needle that swings long", file: "swinging"},
		{Name: "creeping", Level: 2, About: "a needle that creeps with the shunt in: wait", file: "creeping"},
		{Name: "sticking", Level: 2, About: "friction in the pivots: tap before each reading", file: "sticking"},
		{Name: "weak-cell", Level: 3, About: "a cell that falls while K1 is closed, and recovers", file: "weak-cell"},
		{Name: "find-the-fault", Level: 3, About: "something is wrong: find it, mend it, measure", Fault: "any", file: "first"},
		{Name: "find-the-fault-dials", Level: 3, About: "the same with dials and an unknown full scale", Fault: "any", file: "dials-unknown"},
	}
	for _, id := range live.Faults() {
		es = append(es, Exercise{Name: faultPrefix + id, Level: 2, About: debrief.What(id), Fault: id, file: "first"})
	}
	return es
}

// Find returns the exercise of a name.
func Find(name string) (Exercise, bool) {
	es := List()
	i := slices.IndexFunc(es, func(e Exercise) bool { return e.Name == name })
	if i < 0 {
		return Exercise{}, false
	}
	return es[i], true
}

// File returns the exercise as a bench file, with what it hides.
func (e Exercise) File() ([]byte, error) {
	data, err := files.ReadFile("stock/" + e.file + ".json")
	if err != nil || e.Fault == "" {
		return data, err
	}
	var bench map[string]json.RawMessage
	if err := json.Unmarshal(data, &bench); err != nil {
		return nil, fmt.Errorf("exercise: %s: %w", e.Name, err)
	}
	hidden := map[string]any{}
	if err := json.Unmarshal(bench["hidden"], &hidden); err != nil {
		return nil, fmt.Errorf("exercise: %s: hidden: %w", e.Name, err)
	}
	hidden["fault"] = e.Fault
	if bench["hidden"], err = json.Marshal(hidden); err != nil {
		return nil, err
	}
	return json.MarshalIndent(bench, "", "  ")
}

// Schema returns the JSON Schema of a bench file, with the names of all faults.
func Schema() ([]byte, error) {
	data, err := files.ReadFile("schema.json")
	if err != nil {
		return nil, err
	}
	var ids []string
	for _, f := range fault.Catalogue() {
		if id := fmt.Sprintf("%q", f.ID); f.Benchable() && !slices.Contains(ids, id) {
			ids = append(ids, id)
		}
	}
	const some = `["any", null]`
	return bytes.Replace(data, []byte(some), []byte(`["any", `+strings.Join(ids, ", ")+`, null]`), 1), nil
}

// Example returns a bench file with everything that one can have, a planted
// fault included.
func Example() ([]byte, error) { return files.ReadFile("stock/example.json") }
