// Package published is for tests alone: it reads the published figures to which
// they hold the physics, and compares with them. Each file under testdata says
// in its "source" where its figures are from.
package published

import (
	"encoding/json"
	"io/fs"
	"math"
	"strconv"
	"testing"
)

// Load reads a file of JSON. Fields of T that the file lacks stay empty.
func Load[T any](t testing.TB, files fs.FS, name string) T {
	t.Helper()
	text, err := fs.ReadFile(files, name)
	if err != nil {
		t.Fatal(err)
	}
	var v T
	if err := json.Unmarshal(text, &v); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return v
}

// Scenario is the one of that id, such as "D7", in a scenarios.json: a list of
// which each has inputs and expectations of its own shape.
func Scenario[T any](t testing.TB, files fs.FS, id string) T {
	t.Helper()
	for _, text := range Load[[]json.RawMessage](t, files, "scenarios.json") {
		var named struct{ ID string }
		if err := json.Unmarshal(text, &named); err != nil {
			t.Fatal(err)
		}
		if named.ID != id {
			continue
		}
		var v T
		if err := json.Unmarshal(text, &v); err != nil {
			t.Fatalf("scenario %s: %v", id, err)
		}
		return v
	}
	t.Fatalf("no scenario %s", id)
	panic("unreachable")
}

// Near fails unless got is within the relative tolerance of want.
func Near(t testing.TB, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s = %.17g; want %.17g within %g of it", what, got, want, rel)
	}
}

// Within fails unless got is no farther from want than so much.
func Within(t testing.TB, what string, got, want, most float64) {
	t.Helper()
	if !(math.Abs(got-want) <= most) {
		t.Errorf("%s = %.10g; want %.10g ± %g", what, got, want, most)
	}
}

// Printed fails unless got, rounded to so many decimals, is what a source
// prints.
func Printed(t testing.TB, what string, got, want float64, decimals int) {
	t.Helper()
	if g, w := strconv.FormatFloat(got, 'f', decimals, 64), strconv.FormatFloat(want, 'f', decimals, 64); g != w {
		t.Errorf("%s = %s (%.10g); the source prints %s", what, g, got, w)
	}
}
