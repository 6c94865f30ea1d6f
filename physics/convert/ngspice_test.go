package convert

import (
	"context"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.org/halve/physics/preferred"
)

var update = flag.Bool("update", false, "write testdata anew, with ngspice")

const (
	netlistFile = "testdata/universal.cir"
	tableFile   = "testdata/universal.tsv"
	// scale multiplies every resistance of the netlist, because ngspice raises
	// what is below 1 mΩ to that. Currents do not depend on it.
	scale = 1e6
)

// universals are the universal shunts that ngspice solves, tap by tap.
func universals(t *testing.T) []Design {
	t.Helper()
	var all []Design
	for _, c := range []struct {
		g, ig  float64
		ranges []float64
	}{
		{92.5, 0.000555, []float64{0.005, 0.05, 0.5}},           // scenario D8
		{50, 0.001, []float64{10, 5, 1}},                        // worked example AY1
		{90, 50e-6, []float64{60e-6, 100e-6}},                   // hardly above the movement's own
		{2000, 50e-6, []float64{1e-3, 1e-2, 0.1, 1, 10}},        // five decades
		{75, 1e-3, []float64{0.01}},                             // a single range
		{30, 5e-3, []float64{0.1, 0.3, 1, 3, 10, 30, 100}},      // seven ranges
		{1234.5, 1.234e-5, []float64{1e-4, 1.5e-4, 7e-3, 0.33}}, // nothing round
	} {
		all = append(all, must(t, Universal, Movement{Resistance: c.g, FullScale: c.ig}, preferred.E24, c.ranges...))
	}
	return all
}

// spice writes all universal shunts as one netlist: for every tap a current
// source that drives the range's full scale into it, and the movement with a
// source of 0 V that measures its current.
func spice(t *testing.T) string {
	t.Helper()
	var text, prints strings.Builder
	text.WriteString("* universal shunts, every tap driven with its range's full scale\n" +
		"* resistances times 1e6\n* written by: go test ./physics/convert -run Ngspice -update\n")
	// Fourteen digits: the last bits differ between processors.
	number := func(v float64) string { return strconv.FormatFloat(v, 'g', 14, 64) }
	for c, d := range universals(t) {
		for on := range d.Steps {
			name := fmt.Sprintf("%d_%d", c+1, on+1)
			node := func(i int) string {
				if i == len(d.Steps) {
					return "0"
				}
				return fmt.Sprintf("n%s_%d", name, i+1)
			}
			fmt.Fprintf(&text, "I%s 0 %s DC %s\n", name, node(on), number(d.Steps[on].Range))
			fmt.Fprintf(&text, "Rg%s %s m%s %s\nVm%s m%s 0 DC 0\n", name, node(0), name, number(d.Movement.Resistance*scale), name, name)
			for i, s := range d.Steps {
				fmt.Fprintf(&text, "Rs%s_%d %s %s %s\n", name, i+1, node(i), node(i+1), number(s.Ohm*scale))
			}
			fmt.Fprintf(&prints, "print i(vm%s)\n", name)
		}
	}
	text.WriteString(".options reltol=1e-9 abstol=1e-18 vntol=1e-15 gmin=1e-20\n.control\nset numdgt=12\nop\n")
	return text.String() + prints.String() + "quit\n.endc\n.end\n"
}

// printed finds the movement's currents in what ngspice printed.
func printed(text string) map[string]string {
	out := map[string]string{}
	for _, m := range regexp.MustCompile(`(?m)^i\(vm(\w+)\)\s*=?\s*(\S+)\s*$`).FindAllStringSubmatch(text, -1) {
		out[m[1]] = m[2]
	}
	return out
}

// compare holds every tap to the movement's full-scale current, to the twelve
// digits printed; ngspice's own rounding is allowed a few parts in 10¹² more,
// since it multiplies voltages by conductances and does not refine.
func compare(t *testing.T, currents map[string]string) {
	t.Helper()
	seen := 0
	for c, d := range universals(t) {
		for on, s := range d.Steps {
			name := fmt.Sprintf("%d_%d", c+1, on+1)
			got, err := strconv.ParseFloat(currents[name], 64)
			if err != nil {
				t.Errorf("shunt %d, range %g A: ngspice prints %q", c+1, s.Range, currents[name])
				continue
			}
			seen++
			if math.Abs(got/d.Movement.FullScale-1) > 5e-12 {
				t.Errorf("shunt %d, range %g A: the movement carries %s A by ngspice, want its full scale, %g A", c+1, s.Range, currents[name], d.Movement.FullScale)
			}
		}
	}
	if seen != len(currents) || seen < 20 {
		t.Errorf("%d taps compared, %d printed", seen, len(currents))
	}
}

// run solves the stored netlist.
func run(t *testing.T, program string) string {
	t.Helper()
	path, err := filepath.Abs(netlistFile)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, program, "-n", "-b", path) // no start-up file; batch
	cmd.Dir = t.TempDir()
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return string(out)
}

// The stored netlist is that of the designs, and the stored currents, which
// ngspice printed for it, are the movement's full scale at every tap.
func TestNgspiceTable(t *testing.T) {
	if *update {
		program, err := exec.LookPath("ngspice")
		if err != nil {
			t.Fatalf("-update needs ngspice: %v", err)
		}
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(netlistFile, []byte(spice(t)), 0o644); err != nil {
			t.Fatal(err)
		}
		var table strings.Builder
		table.WriteString("# The movement's current at every tap of universal.cir, in ampere, as printed by ngspice.\n# written by: go test ./physics/convert -run Ngspice -update\n")
		for _, line := range strings.Split(run(t, program), "\n") {
			for name, current := range printed(line) {
				fmt.Fprintf(&table, "i(vm%s)\t%s\n", name, current)
			}
		}
		if err := os.WriteFile(tableFile, []byte(table.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	text, err := os.ReadFile(netlistFile)
	if err != nil {
		t.Fatal(err)
	}
	if strings.ReplaceAll(string(text), "\r\n", "\n") != spice(t) {
		t.Errorf("%s is not the netlist of the designs; where the change is meant, run with -update", netlistFile)
	}
	table, err := os.ReadFile(tableFile)
	if err != nil {
		t.Fatal(err)
	}
	compare(t, printed(string(table)))
}

// Wherever ngspice is installed it solves the stored netlist anew. With
// HALVE_NGSPICE=required, as in CI, its absence is a failure.
func TestNgspiceLive(t *testing.T) {
	program, err := exec.LookPath("ngspice")
	switch {
	case err == nil:
		compare(t, printed(run(t, program)))
	case os.Getenv("HALVE_NGSPICE") == "required":
		t.Fatalf("HALVE_NGSPICE=required: %v", err)
	default:
		t.Skip("ngspice is not on the PATH: the stored currents stand for it")
	}
}
