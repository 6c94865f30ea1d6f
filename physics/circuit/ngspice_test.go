package circuit

import (
	"context"
	"errors"
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
)

var update = flag.Bool("update", false, "write the netlists and, from ngspice's own output, the table of testdata/ngspice anew")

// ngspiceDir holds one netlist per kind of circuit and the table of solved
// currents, all of them written by this file and ngspice.
const ngspiceDir = "../../testdata/ngspice"

const tableName = "solved.tsv"

// benches are the corners and the middle of the range of values of school and
// workshop benches (common practice), with a resistance for the fault.
var benches = []struct {
	Bench
	fault float64
}{
	{Bench{EMF: 1.46, SourceResistance: 0.9, Series: 3150, Movement: 90.5, Shunt: 88}, 470},
	{Bench{EMF: 0.5, SourceResistance: 50, Series: 30, Movement: 1000, Shunt: 1}, 10},
	{Bench{EMF: 6, SourceResistance: 0.05, Series: 20e3, Movement: 10, Shunt: 3000}, 1000},
	{Bench{EMF: 2.1, SourceResistance: 0.05, Series: 260, Movement: 999.9, Shunt: 0.1}, 0.1},
}

// kinds are the circuits that ngspice solves: the sound bench in its states
// and every edit that has a closed form, and some that have none.
func kinds() []kind {
	all := []kind{
		{"first reading", func(b Bench, _ float64) (*Netlist, error) { b.K1 = true; return netlist(b), nil }},
		{"both keys open", func(b Bench, _ float64) (*Netlist, error) { return netlist(b), nil }},
		{"shunted reading", func(b Bench, _ float64) (*Netlist, error) { return netlist(closed(b)), nil }},
		{"halving shunt", func(b Bench, _ float64) (*Netlist, error) {
			b.Shunt = parallel(b.Series+b.SourceResistance, b.Movement)
			return netlist(closed(b)), nil
		}},
		{"shunt box at zero", func(b Bench, _ float64) (*Netlist, error) {
			b.Shunt = 0
			return netlist(closed(b)), nil
		}},
		{"boxes exchanged, K2 open", func(b Bench, _ float64) (*Netlist, error) {
			b.K1 = true
			n := netlist(b)
			return n, n.Exchange(NameSeries, NameShunt)
		}},
		{"movement shorted", func(b Bench, _ float64) (*Netlist, error) {
			n := netlist(closed(b))
			return n, n.Short(NameMovement)
		}},
		{"leak across movement", func(b Bench, x float64) (*Netlist, error) {
			n := netlist(closed(b))
			return n, second(n.Bridge("leak", NameMovement, Resistor(1e4*x)))
		}},
		{"contact of a tenth of an ohm in series", func(b Bench, _ float64) (*Netlist, error) {
			n := netlist(closed(b))
			return n, second(n.Insert("contact", NameSeries, Resistor(0.1)))
		}},
		{"contact in the movement's lead", func(b Bench, x float64) (*Netlist, error) {
			n := netlist(closed(b))
			return n, second(n.Insert("contact", NameMovement, Resistor(x)))
		}},
		{"voltmeter across the source", func(b Bench, _ float64) (*Netlist, error) {
			n := netlist(b)
			return n, second(n.Bridge("voltmeter", NameSource, Resistor(10e6)))
		}},
		// Nothing in series or parallel to reduce: the key's lead is on the
		// wrong terminal and a leak makes the circuit a bridge.
		{"leaky bridge", func(b Bench, x float64) (*Netlist, error) {
			n := netlist(closed(b))
			return n, errors.Join(
				second(n.Insert("series arm", NameSeries, Resistor(x))),
				n.Move(NameK2, n.branches[2].to, Tapped), // between the series box and its arm
				second(n.Bridge("far arm", NameMovement, Resistor(3*x))),
				n.Move(NameShunt, Tapped, Plus),
				second(n.Insert("arm of the movement", NameMovement, Resistor(2*x))),
				second(n.Bridge("cross", NameShunt, Resistor(7*x))))
		}},
	}
	for _, e := range edits {
		all = append(all, kind{e.name, func(b Bench, x float64) (*Netlist, error) {
			n := netlist(closed(b))
			return n, e.edit(n, x)
		}})
	}
	return all
}

type kind struct {
	name  string
	build func(b Bench, x float64) (*Netlist, error)
}

func closed(b Bench) Bench { b.K1, b.K2 = true, true; return b }

func netlist(b Bench) *Netlist { n, _ := b.Netlist(); return n }

func (k kind) file() string {
	return strings.NewReplacer(" ", "-", ",", "", "'", "").Replace(k.name) + ".cir"
}

// circuits returns the kind's circuits, one for each of benches.
func (k kind) circuits(t *testing.T) []*Netlist {
	t.Helper()
	var all []*Netlist
	for _, b := range benches {
		n, err := k.build(b.Bench, b.fault)
		if err != nil {
			t.Fatalf("%s: %v", k.name, err)
		}
		all = append(all, n)
	}
	return all
}

// spiceName is the name of branch i of circuit c. SPICE knows no capitals, so
// the branch's number keeps names apart.
func spiceName(c, i int, b branch) string {
	return fmt.Sprintf("%d_%d_%s", c+1, i+1, strings.ToLower(strings.ReplaceAll(b.name, " ", "_")))
}

// spice writes the kind's circuits as one netlist. Every branch is a voltage
// source, of 0 V where it has no EMF, that measures its current, in series
// with its resistance; an open branch is left out.
func (k kind) spice(t *testing.T) string {
	t.Helper()
	var text, prints strings.Builder
	fmt.Fprintf(&text, "* %s\n* written by: go test ./physics/circuit -run Ngspice -update\n", k.name)
	for c, n := range k.circuits(t) {
		sol := solve(t, n)
		node := func(v Node) string {
			if v == Ground {
				return "0"
			}
			return fmt.Sprintf("n%d_%d", c+1, v)
		}
		number := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
		fmt.Fprintf(&text, "* circuit %d\n", c+1)
		for i, b := range n.branches {
			name := spiceName(c, i, b)
			if math.IsInf(b.Resistance, 1) {
				fmt.Fprintf(&text, "* open: %s\n", name)
				continue
			}
			if sol.island[b.from] != Ground {
				t.Fatalf("%s: circuit %d: %q has no path to ground, which ngspice needs", k.name, c+1, b.name)
			}
			end := node(b.to)
			if b.Resistance > 0 {
				if b.Resistance < 1e-3 {
					t.Fatalf("%s: circuit %d: %q has %g Ω, which ngspice raises to 1 mΩ", k.name, c+1, b.name, b.Resistance)
				}
				end = fmt.Sprintf("m%d_%d", c+1, i+1)
				fmt.Fprintf(&text, "R%s %s %s %s\n", name, end, node(b.to), number(b.Resistance))
			}
			fmt.Fprintf(&text, "V%s %s %s DC %s\n", name, node(b.from), end, number(0-b.EMF))
			fmt.Fprintf(&prints, "print i(v%s)\n", name)
		}
	}
	// Tight, so that the digits printed are those of the circuit.
	text.WriteString(".options reltol=1e-9 abstol=1e-18 vntol=1e-15 gmin=1e-20\n.control\nset numdgt=12\nop\n")
	return text.String() + prints.String() + "quit\n.endc\n.end\n"
}

// ngspice runs a netlist and returns the currents as printed, by name.
func ngspice(t *testing.T, program, file string) map[string]string {
	t.Helper()
	path, err := filepath.Abs(filepath.Join(ngspiceDir, file))
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	// -n: no start-up file of the user's; -b: batch.
	cmd := exec.CommandContext(ctx, program, "-n", "-b", path)
	cmd.Dir = t.TempDir()
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", file, err, out)
	}
	currents := map[string]string{}
	for _, m := range regexp.MustCompile(`(?m)^i\(v(\w+)\) = (\S+)\s*$`).FindAllStringSubmatch(string(out), -1) {
		currents[m[1]] = m[2]
	}
	return currents
}

// ngspiceVersion returns what the program calls itself, such as ngspice-39.
func ngspiceVersion(t *testing.T, program string) string {
	t.Helper()
	out, err := exec.CommandContext(t.Context(), program, "--version").CombinedOutput()
	if err != nil {
		t.Fatalf("ngspice --version: %v\n%s", err, out)
	}
	version := regexp.MustCompile(`ngspice-\w+`).Find(out)
	if version == nil {
		t.Fatalf("ngspice --version names no version:\n%s", out)
	}
	return string(version)
}

// table reads the stored currents, by file and name.
func table(t *testing.T) (currents map[string]map[string]string, version string) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(ngspiceDir, tableName))
	if err != nil {
		t.Fatal(err)
	}
	currents = map[string]map[string]string{}
	for i, line := range strings.Split(strings.TrimSpace(string(text)), "\n") {
		line = strings.TrimSuffix(line, "\r")
		if rest, ok := strings.CutPrefix(line, "# solved by "); ok {
			version = rest
		}
		if strings.HasPrefix(line, "#") {
			continue
		}
		field := strings.Split(line, "\t")
		if len(field) != 3 {
			t.Fatalf("%s, line %d: %q is not file, branch and current", tableName, i+1, line)
		}
		if currents[field[0]] == nil {
			currents[field[0]] = map[string]string{}
		}
		currents[field[0]][field[1]] = field[2]
	}
	return currents, version
}

// compare holds the solver against currents as ngspice printed them: the
// movement's current, which the needle shows, to the last digit printed.
//
// The other currents are allowed ngspice's own rounding besides. It multiplies
// node voltages by conductances and does not refine: at each end of a resistor
// a voltage and a product are rounded by 2^-53 of themselves, which comes to
// 5e-14 A for 6 V and 0.05 Ω. Its own currents in one loop differ by as much.
// The movement is next to ground, where voltages are small.
func (k kind) compare(t *testing.T, printed map[string]string) {
	t.Helper()
	seen := 0
	for c, n := range k.circuits(t) {
		sol := solve(t, n)
		var largest, rounding float64
		for i, b := range n.branches {
			largest = max(largest, math.Abs(sol.current[i]))
			if b.Resistance > 0 {
				rounding = max(rounding, 0x1p-51/b.Resistance*max(math.Abs(sol.voltage[b.from]), math.Abs(sol.voltage[b.to])))
			}
		}
		for i, b := range n.branches {
			name := spiceName(c, i, b)
			text, ok := printed[name]
			got := sol.Current(BranchID(i))
			if math.IsInf(b.Resistance, 1) {
				if ok || got != 0 {
					t.Errorf("%s: %s is open: ngspice prints %q, solver %v", k.name, name, text, got)
				}
				continue
			}
			if !ok {
				t.Errorf("%s: ngspice prints nothing for %s", k.name, name)
				continue
			}
			seen++
			want, err := strconv.ParseFloat(text, 64)
			if err != nil {
				t.Errorf("%s: %s: %v", k.name, name, err)
				continue
			}
			tol := lastDigit(text) + residue*largest
			if b.name != NameMovement {
				tol += rounding
			}
			if math.Abs(got-want) > tol {
				t.Errorf("%s: %s carries %.15g, ngspice prints %s (apart %.2g, allowed %.2g)", k.name, name, got, text, got-want, tol)
			}
		}
	}
	if seen != len(printed) {
		t.Errorf("%s: %d currents compared, %d printed", k.name, seen, len(printed))
	}
}

// residue is what double precision leaves of a current that is zero in theory,
// as a part of the circuit's largest current.
const residue = 1e-15

// lastDigit returns the worth of one unit in the last printed digit.
func lastDigit(text string) float64 {
	mantissa, exponent, _ := strings.Cut(text, "e")
	_, decimals, _ := strings.Cut(mantissa, ".")
	e, err := strconv.Atoi(exponent)
	if err != nil {
		return 0
	}
	return math.Pow10(e - len(decimals))
}

// The stored netlists are those of the circuits above, and the solver agrees
// with the stored table to the twelve digits that ngspice printed.
func TestNgspiceTable(t *testing.T) {
	if *update {
		writeNgspice(t)
	}
	stored, version := table(t)
	circuits := 0
	for _, k := range kinds() {
		t.Run(k.name, func(t *testing.T) {
			text, err := os.ReadFile(filepath.Join(ngspiceDir, k.file()))
			if err != nil {
				t.Fatal(err)
			}
			if want := k.spice(t); strings.ReplaceAll(string(text), "\r\n", "\n") != want {
				t.Errorf("%s is not the netlist of its circuits; where the change is meant, run with -update.\n%s\nwant\n%s", k.file(), text, want)
			}
			k.compare(t, stored[k.file()])
		})
		circuits += len(benches)
		delete(stored, k.file())
	}
	if len(stored) != 0 || circuits < 48 || version == "" {
		t.Errorf("%d circuits of %q; files in the table beside them: %v", circuits, version, stored)
	}
}

// Wherever ngspice is installed it solves the stored netlists anew. With
// HALVE_NGSPICE=required, as in CI, its absence is a failure.
func TestNgspiceLive(t *testing.T) {
	program, err := exec.LookPath("ngspice")
	if err != nil {
		if os.Getenv("HALVE_NGSPICE") == "required" {
			t.Fatalf("HALVE_NGSPICE=required: %v", err)
		}
		stored, version := table(t)
		t.Logf("ngspice is not on the PATH: using the table solved by %s", version)
		for _, k := range kinds() {
			k.compare(t, stored[k.file()])
		}
		return
	}
	t.Logf("solving anew with %s", ngspiceVersion(t, program))
	for _, k := range kinds() {
		t.Run(k.name, func(t *testing.T) { k.compare(t, ngspice(t, program, k.file())) })
	}
}

// writeNgspice writes the netlists and the table, the latter from ngspice alone.
func writeNgspice(t *testing.T) {
	t.Helper()
	program, err := exec.LookPath("ngspice")
	if err != nil {
		t.Fatalf("-update needs ngspice: %v", err)
	}
	if err := os.MkdirAll(ngspiceDir, 0o755); err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	fmt.Fprintf(&out, "# Currents of the netlists beside this file, in ampere, as printed by ngspice.\n# solved by %s\n# written by: go test ./physics/circuit -run Ngspice -update\n# file\tcircuit_branch_name\tcurrent\n", ngspiceVersion(t, program))
	for _, k := range kinds() {
		if err := os.WriteFile(filepath.Join(ngspiceDir, k.file()), []byte(k.spice(t)), 0o644); err != nil {
			t.Fatal(err)
		}
		currents := ngspice(t, program, k.file())
		for c, n := range k.circuits(t) {
			for i, b := range n.branches {
				if text, ok := currents[spiceName(c, i, b)]; ok {
					fmt.Fprintf(&out, "%s\t%s\t%s\n", k.file(), spiceName(c, i, b), text)
				}
			}
		}
	}
	if err := os.WriteFile(filepath.Join(ngspiceDir, tableName), []byte(out.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}
