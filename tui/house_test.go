package tui_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const module = "example.org/halve"

// root is the module's directory, seen from this one.
const root = ".."

// rooms stand in the order of the imports: each may use those before it.
var rooms = []string{"physics", "safety", "procedure", "tui", "."}

// topLevel is what may stand beside the rooms, dotfiles apart.
var topLevel = map[string]string{
	"main.go": "the outside world and exit statuses", "testdata": "published values, netlists, scripts",
	"go.mod": "", "go.sum": "", "README.md": "", "DEVELOPERS.md": "", "LICENSE": "", "CHANGELOG.md": "",
	"halve": "what go build leaves, ignored by git", "halve.exe": "the same on Windows",
	"dist": "what .ci/release leaves, ignored by git",
}

// outside lists the modules a room below the screens may use, and what for.
var outside = map[string]map[string]string{
	"physics":          {"gonum.org/v1/gonum": "linear algebra, distributions"},
	"safety":           {},
	"procedure":        {"gonum.org/v1/gonum": "distributions"},
	"procedure/record": {"github.com/gofrs/flock": "the lock against a second writer"},
	"procedure/report": {
		"gonum.org/v1/plot": "figures as vectors, SVG", "codeberg.org/go-pdf/fpdf": "PDF",
		"codeberg.org/go-fonts/liberation": "fonts with Greek for PDF", "golang.org/x/image": "the widths of their characters",
		"github.com/yuin/goldmark": "the notes' Markdown",
	},
}

// inTests lists what tests anywhere below the screens may use besides.
var inTests = map[string]string{
	"pgregory.net/rapid": "properties", "gonum.org/v1/gonum": "an independent reckoning",
	"golang.org/x/net": "a reader of HTML that nobody here wrote",
}

// files and clocks are what the rooms below the screens are handed and never
// take for themselves: replaying a record must give the same counsel, and a
// test must be able to be any bench at any hour.
var (
	files  = []string{"os", "io/ioutil", "syscall", "net", "crypto/rand"}
	clocks = []string{"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTimer", "NewTicker"}
)

// fileRoom alone reads and writes files.
const fileRoom = "procedure/record"

// under reports whether a path is dir or lies below it.
func under(p, dir string) bool { return p == dir || strings.HasPrefix(p, dir+"/") }

// roomOf is the place in rooms of a directory of the module.
func roomOf(dir string) int {
	first, _, _ := strings.Cut(dir, "/")
	return slices.Index(rooms, first)
}

// importFault says why a file of the directory may not import a path, or "".
func importFault(dir, imported string, isTest bool) string {
	room := roomOf(dir)
	if room < 0 {
		return "this directory is no room of the house: " + strings.Join(rooms, ", ")
	}
	if rest, ok := strings.CutPrefix(imported, module); ok && (rest == "" || rest[0] == '/') {
		other := roomOf(path.Clean("." + rest))
		if other > room {
			return fmt.Sprintf("%s lies above %s: imports run main, tui, procedure, safety, physics", rooms[other], rooms[room])
		}
		return ""
	}
	if rooms[room] == "tui" || rooms[room] == "." {
		return ""
	}
	if !strings.Contains(strings.Split(imported, "/")[0], ".") { // the standard library
		for _, f := range files {
			if under(imported, f) && !isTest && !under(dir, fileRoom) {
				return imported + " reaches outside; files, clocks and randomness are handed in (only " + fileRoom + " keeps files)"
			}
		}
		return ""
	}
	for place, modules := range outside {
		if under(dir, place) {
			for m := range modules {
				if under(imported, m) {
					return ""
				}
			}
		}
	}
	for m := range inTests {
		if isTest && under(imported, m) {
			return ""
		}
	}
	return imported + " is not among the modules this room may use; it knows no screen and needs little"
}

// sourceFaults lists what a file of the directory does that its room must not.
func sourceFaults(dir, name, source string) ([]string, error) {
	set := token.NewFileSet()
	file, err := parser.ParseFile(set, name, source, parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	isTest := strings.HasSuffix(name, "_test.go")
	var faults []string
	blame := func(pos token.Pos, why string) {
		faults = append(faults, fmt.Sprintf("%s/%s:%d: %s", dir, name, set.Position(pos).Line, why))
	}
	clock := "" // the name by which the file calls package time
	for _, spec := range file.Imports {
		imported, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			return nil, err
		}
		if why := importFault(dir, imported, isTest); why != "" {
			blame(spec.Pos(), why)
		}
		if imported == "time" {
			clock = "time"
			if spec.Name != nil {
				clock = spec.Name.Name
			}
		}
	}
	if isTest {
		return faults, nil
	}
	below := roomOf(dir) < roomOf("tui")
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.SelectorExpr:
			x, ok := n.X.(*ast.Ident)
			if ok && below && clock != "" && x.Name == clock && slices.Contains(clocks, n.Sel.Name) {
				blame(n.Pos(), "time."+n.Sel.Name+" takes the clock; it is handed in")
			}
		case *ast.FuncDecl:
			if n.Recv == nil && n.Name.Name == "init" && dir != "tui/quiet" {
				blame(n.Pos(), "an init function; only tui/quiet has one, before the screens' own")
			}
		}
		return true
	})
	return faults, nil
}

// TestHouse holds every Go file of the module to the order of the rooms.
func TestHouse(t *testing.T) {
	read := 0
	err := filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name := d.Name()
		if d.IsDir() {
			if name == "testdata" || strings.HasPrefix(name, ".") && p != root {
				return fs.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(name, ".go") {
			return nil
		}
		source, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		dir, err := filepath.Rel(root, filepath.Dir(p))
		if err != nil {
			return err
		}
		faults, err := sourceFaults(filepath.ToSlash(dir), name, string(source))
		for _, f := range faults {
			t.Error(f)
		}
		read++
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if read < 20 {
		t.Errorf("only %d files found; the walk has lost its way", read)
	}
}

func TestTopLevel(t *testing.T) {
	entries, err := os.ReadDir(root)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		name := e.Name()
		_, known := topLevel[name]
		if !known && !slices.Contains(rooms, name) && !strings.HasPrefix(name, ".") {
			t.Errorf("%s stands at the top level, which holds only the rooms, main.go, testdata and the usual files", name)
		}
	}
}

// named finds the tests and scripts that a document names.
var named = regexp.MustCompile("`((?:Test|Fuzz|Benchmark)[A-Z]\\w*|\\w+\\.txtar)`")

// TestNamedTests holds DEVELOPERS.md to what there is: a test that it names and
// that is gone covers nothing.
func TestNamedTests(t *testing.T) {
	there := map[string]bool{}
	err := filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case strings.HasSuffix(p, ".txtar"):
			there[d.Name()] = true
		case strings.HasSuffix(p, "_test.go"):
			source, err := os.ReadFile(p)
			for _, m := range regexp.MustCompile(`(?m)^func (\w+)\(`).FindAllSubmatch(source, -1) {
				there[string(m[1])] = true
			}
			return err
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(root, "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	names := named.FindAllSubmatch(text, -1)
	if len(names) < 60 {
		t.Errorf("only %d names found in DEVELOPERS.md", len(names))
	}
	for _, m := range names {
		if !there[string(m[1])] {
			t.Errorf("DEVELOPERS.md names %s, which is not there", m[1])
		}
	}
}

func TestImportFault(t *testing.T) {
	tests := []struct {
		dir, imports string
		isTest       bool
		allowed      bool
	}{
		{"physics/circuit", "math", false, true},
		{"physics/circuit", "gonum.org/v1/gonum/mat", false, true},
		{"physics/circuit", module + "/physics", false, true},
		{"physics", module + "/safety", false, false},
		{"physics", module + "/safety", true, false},
		{"physics", module + "/procedure/record", false, false},
		{"physics", module, false, false},
		{"physics", "os", false, false},
		{"physics", "os/exec", false, false},
		{"physics", "os", true, true},
		{"physics", "crypto/rand", false, false},
		{"physics", "math/rand/v2", false, true},
		{"physics", "github.com/charmbracelet/x/ansi", false, false},
		{"physics", "github.com/charmbracelet/x/ansi", true, false},
		{"physics", "pgregory.net/rapid", true, true},
		{"physics", "pgregory.net/rapid", false, false},
		{"safety", module + "/physics/quantity", false, true},
		{"safety", module + "/procedure", false, false},
		{"safety", "gonum.org/v1/gonum/mat", false, false},
		{"procedure", module + "/safety", false, true},
		{"procedure", module + "/tui/draw", false, false},
		{"procedure", "os", false, false},
		{"procedure", "github.com/gofrs/flock", false, false},
		{"procedure", "github.com/charmbracelet/lipgloss", false, false},
		{"procedure/record", "os", false, true},
		{"procedure/record", "github.com/gofrs/flock", false, true},
		{"procedure/record", "github.com/charmbracelet/bubbletea", false, false},
		{"procedure/recorder", "os", false, false},
		{"tui/screen", "github.com/charmbracelet/bubbletea", false, true},
		{"tui/screen", module + "/physics", false, true},
		{"tui/screen", module, false, false},
		{".", module + "/tui", false, true},
		{"helpers", "math", false, false},
	}
	for _, tt := range tests {
		t.Run(tt.dir+" imports "+tt.imports, func(t *testing.T) {
			if why := importFault(tt.dir, tt.imports, tt.isTest); (why == "") != tt.allowed {
				t.Errorf("importFault(%q, %q, %v) = %q; want allowed = %v", tt.dir, tt.imports, tt.isTest, why, tt.allowed)
			}
		})
	}
}

func TestSourceFaults(t *testing.T) {
	tests := []struct {
		name, dir, file, source string
		want                    int
	}{
		{"a clock in physics", "physics", "a.go", "package p\nimport \"time\"\nvar t = time.Now()", 1},
		{"a clock by another name", "procedure/record", "a.go", "package p\nimport clock \"time\"\nfunc f() { clock.Sleep(1) }", 1},
		{"a duration", "procedure", "a.go", "package p\nimport \"time\"\nconst s = time.Second", 0},
		{"a clock in a test", "procedure", "a_test.go", "package p\nimport \"time\"\nvar t = time.Now()", 0},
		{"a clock in the screens", "tui", "a.go", "package p\nimport \"time\"\nvar t = time.Now()", 0},
		{"an init function", "tui/screen", "a.go", "package p\nfunc init() {}", 1},
		{"the one init function", "tui/quiet", "a.go", "package p\nfunc init() {}", 0},
		{"a method called init", "physics", "a.go", "package p\ntype t int\nfunc (t) init() {}", 0},
		{"two imports astray", "physics", "a.go", "package p\nimport (\n_ \"os\"\n_ \"" + module + "/tui\"\n)", 2},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			faults, err := sourceFaults(tt.dir, tt.file, tt.source)
			if err != nil {
				t.Fatal(err)
			}
			if len(faults) != tt.want {
				t.Errorf("sourceFaults(%q, %q) = %q; want %d", tt.dir, tt.source, faults, tt.want)
			}
		})
	}
}
