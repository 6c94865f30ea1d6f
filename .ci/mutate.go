//go:build ignore

// Mutate breaks the code of one package in many small ways, one at a time, and
// runs the tests on each: a change that no test notices is a hole in them. It
// touches no file; the changed source is laid over the true one.
//
//	.ci/mutate                  all of the safety rules
//	.ci/mutate -only 'rule_*'   some files of them
//	.ci/mutate -own             with their own tests alone, which is quicker
//	.ci/mutate -dir procedure -only agreement.go -run 'Disagree|Slip'
//
// What is changed: a comparison is turned round, or its edge moved from one
// side to the other; && and ||, min and max, + and −, × and ÷ are exchanged; a
// negation is left out; a constant of the package is made a tenth greater or
// less. What does not compile is no change. The exit status is 1 if any change
// survives that the table below does not excuse.
package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"go/ast"
	"go/format"
	"go/parser"
	"go/token"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// excused are changes that change nothing that can be told from outside, with
// the reason.
var excused = map[string]string{
	"bound.go:polygon room > 0, with >=": "no room says nothing: the reciprocal is infinite",
	"bound.go:polygon d > 0, with >=":    "a reading not above its doubt says nothing: the reciprocal is infinite",

	"bound.go:clip 1e-12 * (math.Abs(least) + 1e-12), with /": rounding,
	"bound.go:clip sc >= -slack, with >":                      rounding,
	"bound.go:clip sc > slack, with >=":                       rounding,
	"bound.go:clip sc < -slack, with <=":                      rounding,
	"bound.go:clip sd > slack, with >=":                       rounding,
	"bound.go:clip sd < -slack, with <=":                      rounding,
	"bound.go:clip t > 0.5, with >=":                          "from the middle either end is as near",
	"bound.go:Least c.b >= (1-1e-9)/div, with >":              rounding,

	"bound.go:Bound l.leastSlope(told[0])*LeastOfPlate > plate, with >=": "exactly the share that may be left",
	"bound.go:farRest c.b <= most*c.a, with <":                           "exactly the rest that is believed",

	"convert.go:ConversionCautions power >= burningPower, with >": "a power of exactly 1 W",

	"rule_off.go:offRule c.SeriesOhm > c.OffAt*(1+1e-9), with >=":           rounding,
	"rule_off.go:offRule c.SeriesOhm >= c.SeriesMax*(1-1e-9), with >":       rounding,
	"rule_steady.go:steadyRule c.SeriesOhm >= c.SeriesMax*(1-1e-9), with >": rounding,
	"rule_steady.go:steadyRule c.SeriesOhm >= c.TapDown*(1-1e-9), with >":   rounding,
	"rules.go:clearBecause swing > c.Loop.Divisions, with >=":               "a swing to the last mark itself; words only",
}

// rounding: the edge lies a little beside the value that is meant, so that no
// value lies on it.
const rounding = "the edge is a margin for rounding"

// suite is one run of tests; the second is only for what the first lets live.
type suite struct {
	pkg, run string
}

var suites = []suite{
	{"./safety", "."},
	{"./procedure", "Zero|Off|Leap|Still|Stronger|OwnWay|LeftStop|BackToK1|Statistics|UnfitTwice"},
}

// mutant is one change: its place, what it does, and the whole changed file.
type mutant struct {
	file, at, what string
	source         []byte
}

func main() {
	only := flag.String("only", "*.go", "the files to change, by a pattern")
	own := flag.Bool("own", false, "the package's own tests only, which is quicker")
	dir := flag.String("dir", "safety", "the package; another one than safety is held to its own tests")
	run := flag.String("run", ".", "the package's own tests to run")
	flag.Parse()
	suites[0] = suite{"./" + *dir, *run}
	if *own || *dir != "safety" {
		suites = suites[:1]
	}
	files, err := filepath.Glob(filepath.Join(*dir, *only))
	if err != nil {
		fail(err)
	}
	killed, lived, same := 0, 0, 0
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		ms, err := mutants(file)
		if err != nil {
			fail(err)
		}
		for _, m := range ms {
			verdict, err := try(m)
			if err != nil {
				fail(err)
			}
			why, known := excused[m.at+" "+m.what]
			switch {
			case verdict == "":
				continue
			case verdict == "SURVIVED" && known:
				verdict = "same"
				same++
			case verdict == "SURVIVED":
				lived++
			default:
				killed++
			}
			fmt.Printf("%-9s %s: %s", verdict, m.at, m.what)
			if why != "" && verdict == "same" {
				fmt.Printf(" (%s)", why)
			}
			fmt.Println()
		}
	}
	fmt.Printf("%d killed, %d survived, %d change nothing\n", killed, lived, same)
	if lived > 0 {
		os.Exit(1)
	}
}

func fail(err error) {
	fmt.Fprintln(os.Stderr, "mutate:", err)
	os.Exit(2)
}

// opposite turns a comparison or an operation round; edge moves a comparison's
// edge.
var (
	opposite = map[token.Token]token.Token{
		token.LSS: token.GEQ, token.GEQ: token.LSS, token.GTR: token.LEQ, token.LEQ: token.GTR,
		token.EQL: token.NEQ, token.NEQ: token.EQL, token.LAND: token.LOR, token.LOR: token.LAND,
		token.ADD: token.SUB, token.SUB: token.ADD, token.MUL: token.QUO, token.QUO: token.MUL,
	}
	edge = map[token.Token]token.Token{
		token.LSS: token.LEQ, token.LEQ: token.LSS, token.GTR: token.GEQ, token.GEQ: token.GTR,
	}
)

// mutants lists all changes of a file.
func mutants(file string) ([]mutant, error) {
	set := token.NewFileSet()
	tree, err := parser.ParseFile(set, file, nil, parser.ParseComments)
	if err != nil {
		return nil, err
	}
	var out []mutant
	where := "" // the function or constant
	add := func(n ast.Node, what string, change, restore func()) {
		change()
		var b bytes.Buffer
		if err := format.Node(&b, set, tree); err == nil {
			place := fmt.Sprintf("%s:%s", filepath.Base(file), where)
			out = append(out, mutant{file, place, what, b.Bytes()})
		}
		restore()
	}
	text := func(n ast.Node) string {
		var b bytes.Buffer
		_ = format.Node(&b, set, n)
		return strings.Join(strings.Fields(b.String()), " ")
	}
	visit := func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.BinaryExpr:
			was := n.Op
			for _, table := range []map[token.Token]token.Token{opposite, edge} {
				if to, ok := table[was]; ok {
					add(n, fmt.Sprintf("%s, with %s", text(n), to), func() { n.Op = to }, func() { n.Op = was })
				}
			}
		case *ast.UnaryExpr:
			if n.Op == token.NOT {
				was := n.X
				add(n, text(n)+", without !", func() { n.X = &ast.UnaryExpr{Op: token.NOT, X: was} }, func() { n.X = was })
			}
		case *ast.CallExpr:
			if f, ok := n.Fun.(*ast.Ident); ok && (f.Name == "min" || f.Name == "max") {
				was, to := f.Name, map[string]string{"min": "max", "max": "min"}[f.Name]
				add(n, fmt.Sprintf("%s, with %s", text(n), to), func() { f.Name = to }, func() { f.Name = was })
			}
		}
		return true
	}
	for _, d := range tree.Decls {
		switch d := d.(type) {
		case *ast.FuncDecl:
			where = d.Name.Name
			ast.Inspect(d, visit)
		case *ast.GenDecl:
			for _, s := range d.Specs {
				v, ok := s.(*ast.ValueSpec)
				if !ok {
					continue
				}
				where = v.Names[0].Name
				for i, x := range v.Values {
					if lit, ok := x.(*ast.BasicLit); ok && d.Tok == token.CONST && lit.Kind == token.FLOAT {
						was := lit.Value
						for _, by := range []string{"1.1", "0.9"} {
							add(lit, was+" × "+by, func() { v.Values[i] = &ast.BasicLit{Kind: token.FLOAT, Value: was + " * " + by} }, func() { v.Values[i] = lit })
						}
					}
					ast.Inspect(x, visit)
				}
			}
		}
	}
	return out, nil
}

// try runs the tests on a change: "killed", "SURVIVED", or "" where it does not
// compile.
func try(m mutant) (string, error) {
	dir, err := os.MkdirTemp("", "mutate")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(dir)
	changed, overlay := filepath.Join(dir, "changed.go"), filepath.Join(dir, "overlay.json")
	whole, err := filepath.Abs(m.file)
	if err != nil {
		return "", err
	}
	j, err := json.Marshal(map[string]map[string]string{"Replace": {whole: changed}})
	if err != nil {
		return "", err
	}
	if err := errors.Join(os.WriteFile(changed, m.source, 0o644), os.WriteFile(overlay, j, 0o644)); err != nil {
		return "", err
	}
	if exec.Command("go", "build", "-overlay", overlay, suites[0].pkg).Run() != nil {
		return "", nil
	}
	for _, s := range suites {
		ctx, cancel := context.WithTimeout(context.Background(), 5*time.Minute) // a loop without end is noticed too
		err := exec.CommandContext(ctx, "go", "test", "-overlay", overlay, "-vet=off", "-failfast", "-run", s.run, s.pkg,
			"-rapid.nofailfile", "-rapid.shrinktime=1ms").Run()
		cancel()
		if err != nil {
			return "killed", nil
		}
	}
	return "SURVIVED", nil
}
