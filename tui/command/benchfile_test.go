package command

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"example.org/halve/physics/apparatus"
	"example.org/halve/procedure"
	"example.org/halve/tui/choices"
)

// A bench that is written to a file comes back as it was, and no file is
// written over.
func TestBenchFileComesBack(t *testing.T) {
	coil := 90.5
	b := procedure.Bench{Bench: apparatus.Bench{
		Source:       apparatus.Cells()[0].Source(),
		Galvanometer: apparatus.Galvanometer{Label: "G 7", Divisions: 30, Zero: apparatus.CentreZero, Resolution: 0.5, Resistance: &coil},
		SeriesBox:    choices.SeriesBoxes()[0].Box,
		ShuntBox:     choices.ShuntBoxes()[0].Box,
	}}
	b.SeriesBox.Tolerance, b.ShuntBox.Tolerance = 0.001, 0.001
	path := filepath.Join(t.TempDir(), "bench.json")
	if err := writeBench(path, b); err != nil {
		t.Fatal(err)
	}
	got, hidden, err := readBench(path)
	if err != nil || hidden != nil {
		t.Fatalf("the bench file comes back with %v, hidden %s", err, hidden)
	}
	if !reflect.DeepEqual(got, b) {
		t.Errorf("the bench came back as\n%+v\nwant\n%+v", got, b)
	}
	before, _ := os.ReadFile(path)
	if err := writeBench(path, b); err == nil || !strings.Contains(err.Error(), "name another") {
		t.Errorf("a file that is there is answered with %v", err)
	}
	if after, _ := os.ReadFile(path); string(after) != string(before) {
		t.Error("a file that is there was changed")
	}
	if err := writeBench(filepath.Join(t.TempDir(), "none", "bench.json"), b); err == nil {
		t.Error("a folder that is not there is not said")
	}
}
