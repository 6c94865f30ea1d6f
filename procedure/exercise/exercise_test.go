package exercise

import (
	"encoding/json"
	"maps"
	"math/rand/v2"
	"path"
	"reflect"
	"slices"
	"strings"
	"testing"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/bench"
	"example.org/halve/physics/bench/live"
	"example.org/halve/physics/fault"
	"example.org/halve/procedure"
)

// object is a JSON Schema, as far as ours go.
type object struct {
	Properties map[string]object `json:"properties"`
	Required   []string          `json:"required"`
	Additional *bool             `json:"additionalProperties"`
	Enum       []any             `json:"enum"`
}

func schema(t *testing.T) object {
	t.Helper()
	data, err := Schema()
	if err != nil {
		t.Fatal(err)
	}
	var s object
	if err := json.Unmarshal(data, &s); err != nil {
		t.Fatal(err)
	}
	return s
}

// keys are the JSON names of a struct's fields.
func keys(ts ...reflect.Type) (names []string) {
	for _, t := range ts {
		for _, f := range reflect.VisibleFields(t) {
			if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); name != "" && name != "-" {
				names = append(names, name)
			}
		}
	}
	slices.Sort(names)
	return names
}

// The schema has the names that a bench file is read by, no more and no fewer,
// and lets no others through.
func TestSchemaHasTheNamesThatAreRead(t *testing.T) {
	s := schema(t)
	for _, tt := range []struct {
		name string
		got  object
		want []string
	}{
		{"bench file", s, append(keys(reflect.TypeFor[apparatus.Bench]()), "event", "hidden")},
		{"source", s.Properties["source"], keys(reflect.TypeFor[apparatus.Source]())},
		{"galvanometer", s.Properties["galvanometer"], keys(reflect.TypeFor[apparatus.Galvanometer]())},
		{"series_box", s.Properties["series_box"], keys(reflect.TypeFor[apparatus.Box]())},
		{"shunt_box", s.Properties["shunt_box"], keys(reflect.TypeFor[apparatus.Box]())},
		{"hidden", s.Properties["hidden"], keys(reflect.TypeFor[bench.Hidden](), reflect.TypeFor[live.Extra]())},
	} {
		slices.Sort(tt.want)
		if got := slices.Sorted(maps.Keys(tt.got.Properties)); !slices.Equal(got, tt.want) {
			t.Errorf("%s: the schema has %v, read are %v", tt.name, got, tt.want)
		}
		if tt.got.Additional == nil || *tt.got.Additional {
			t.Errorf("%s: other keys are let through, though the reader refuses them", tt.name)
		}
	}
	named := s.Properties["hidden"].Properties["fault"].Enum
	can := map[fault.ID]bool{} // of some forms a bench can have a fault, of others not
	for _, f := range fault.Catalogue() {
		can[f.ID] = can[f.ID] || f.Benchable()
	}
	for id, can := range can {
		if can != slices.Contains(named, any(string(id))) {
			t.Errorf("fault %s: a bench can have it %v, in the schema %v", id, can, !can)
		}
	}
	if !slices.Contains(named, any("any")) || !slices.Contains(named, any(nil)) {
		t.Errorf("the schema's faults are %v, want any and null among them", named)
	}
}

// fits checks a value against a schema, as far as ours go: keys, and those
// that are required.
func fits(t *testing.T, where string, s object, value any) {
	t.Helper()
	m, ok := value.(map[string]any)
	if s.Properties == nil || !ok {
		return
	}
	for key, v := range m {
		sub, ok := s.Properties[key]
		if !ok {
			t.Errorf("%s: %q is not in the schema", where, key)
		}
		fits(t, where+"."+key, sub, v)
	}
	for _, r := range s.Required {
		if _, ok := m[r]; !ok {
			t.Errorf("%s: %q is missing, which the schema requires", where, r)
		}
	}
}

// Every file of the stock fits the schema and makes a bench with a movement;
// every file is used.
func TestStock(t *testing.T) {
	names, err := stock()
	if err != nil || len(names) < 10 {
		t.Fatalf("%d files: %v", len(names), err)
	}
	used := map[string]bool{"example": true}
	for _, e := range List() {
		used[e.file] = true
	}
	s := schema(t)
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			if !used[name] {
				t.Error("no exercise uses it")
			}
			data, err := files.ReadFile("stock/" + name + ".json")
			if err != nil {
				t.Fatal(err)
			}
			setUp(t, s, data)
		})
	}
}

// setUp makes a bench under the hands from a bench file.
func setUp(t *testing.T, s object, data []byte) *live.Bench {
	t.Helper()
	var value map[string]any
	if err := json.Unmarshal(data, &value); err != nil {
		t.Fatal(err)
	}
	fits(t, "bench file", s, value)
	var file struct {
		apparatus.Bench
		Hidden struct {
			bench.Hidden
			live.Extra
		} `json:"hidden"`
	}
	if err := procedure.Strict(data, &file); err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(3, 4))
	still, err := bench.New(file.Bench, bench.Draw(file.Bench, r), r)
	if err != nil {
		t.Fatal(err)
	}
	if id := file.Hidden.Fault; id != nil {
		if err := live.Plant(still, *id, r); err != nil {
			t.Fatal(err)
		}
	}
	truth, err := live.DrawTruth(file.Galvanometer, r).With(file.Hidden.Extra)
	if err != nil {
		t.Fatal(err)
	}
	b, err := live.New(still, truth, r, true)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// The stock has what is asked of it: full scale known and unknown, scales
// coarse and fine, a weak cell, each fault, and faults to be found; every name
// once.
func TestList(t *testing.T) {
	seen, about := map[string]bool{}, map[string]int{}
	for _, e := range List() {
		if seen[e.Name] || e.Name == "" || e.About == "" || e.Level < 1 || e.Level > 3 {
			t.Errorf("%+v: a name of its own, words and a level of 1 to 3 are wanted", e)
		}
		seen[e.Name] = true
		about[e.Fault]++
		if found, ok := Find(e.Name); !ok || found != e {
			t.Errorf("Find(%q) = %+v, %v", e.Name, found, ok)
		}
		data, err := e.File()
		if err != nil {
			t.Fatal(err)
		}
		b := setUp(t, schema(t), data)
		if id, there := b.Fault(); there != (e.Fault != "") || e.Fault != "any" && id != e.Fault {
			t.Errorf("%s: the bench has the fault %q, want %q", e.Name, id, e.Fault)
		}
	}
	for _, id := range append(live.Faults(), "any") {
		if about[id] == 0 {
			t.Errorf("no exercise is about %q", id)
		}
	}
	if _, ok := Find("no such exercise"); ok {
		t.Error("an exercise that is not there was found")
	}
	for name, want := range map[string]func(apparatus.Galvanometer) bool{
		"first":         func(g apparatus.Galvanometer) bool { return g.FullScale != nil },
		"unknown-scale": func(g apparatus.Galvanometer) bool { return g.FullScale == nil },
		"coarse-scale":  func(g apparatus.Galvanometer) bool { return g.Step() == 1 },
		"fine-scale":    func(g apparatus.Galvanometer) bool { return g.Step() == 0.25 },
		"left-zero":     func(g apparatus.Galvanometer) bool { return !g.Centre() },
	} {
		e, _ := Find(name)
		data, err := e.File()
		if err != nil {
			t.Fatal(err)
		}
		if g := setUp(t, schema(t), data).Stated().Galvanometer; !want(g) {
			t.Errorf("%s: the galvanometer is %+v", name, g)
		}
	}
}

func TestExample(t *testing.T) {
	data, err := Example()
	if err != nil {
		t.Fatal(err)
	}
	if id, there := setUp(t, schema(t), data).Fault(); id == "" || !there {
		t.Errorf("the example has the fault %q, there %v, want one planted", id, there)
	}
	var file struct {
		Hidden map[string]any `json:"hidden"`
	}
	if err := json.Unmarshal(data, &file); err != nil {
		t.Fatal(err)
	}
	for name := range schema(t).Properties["hidden"].Properties {
		if _, ok := file.Hidden[name]; !ok {
			t.Errorf("the example does not show %q", name)
		}
	}
}

// stock lists the names of the files.
func stock() ([]string, error) {
	entries, err := files.ReadDir("stock")
	var names []string
	for _, e := range entries {
		names = append(names, strings.TrimSuffix(path.Base(e.Name()), ".json"))
	}
	return names, err
}
