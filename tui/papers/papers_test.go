package main

import (
	"bytes"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"example.org/halve/safety"
	"example.org/halve/tui/command"
	"example.org/halve/tui/tree"
)

// at is a day, at which nothing in these tests happens.
var at = time.Date(2025, time.March, 4, 10, 0, 0, 0, time.UTC)

func read(t *testing.T, path ...string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(path...))
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// text is what a page shows of a node.
func text(n *html.Node) string {
	var b strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode {
			b.WriteString(d.Data)
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// page is the quick guide as a reader of HTML sees it.
func page(t *testing.T) *html.Node {
	t.Helper()
	dir := t.TempDir()
	if err := quickGuide(dir, "1.2.3", at); err != nil {
		t.Fatal(err)
	}
	root, err := html.Parse(strings.NewReader(read(t, dir, "quick-guide.html")))
	if err != nil {
		t.Fatal(err)
	}
	return root
}

// bound lists the keys that a keys.go shows in help, each under its name.
func bound(t *testing.T, file string) []string {
	t.Helper()
	f, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	ast.Inspect(f, func(n ast.Node) bool {
		call, ok := n.(*ast.CallExpr)
		if !ok {
			return true
		}
		if name, ok := call.Fun.(*ast.Ident); !ok || name.Name != "bind" {
			return true
		}
		shown, err := strconv.Unquote(call.Args[0].(*ast.BasicLit).Value)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, strings.Split(shown, ", ")...)
		return true
	})
	return out
}

// Every key that the quick guide names is one of the screens', its cautions
// are all of the program's, and nothing in it is fetched or run.
func TestQuickGuide(t *testing.T) {
	root := page(t)
	keys := append(bound(t, "../screen/keys.go"), bound(t, "../hands/keys.go")...)
	seen := 0
	for n := range root.Descendants() {
		switch {
		case n.Type != html.ElementNode:
		case n.Data == "kbd":
			seen++
			if !slices.Contains(keys, text(n)) {
				t.Errorf("the quick guide names the key %q, which the screens do not have: %q", text(n), keys)
			}
		case slices.Contains([]string{"script", "link", "img", "iframe", "object"}, n.Data):
			t.Errorf("the quick guide has a <%s>", n.Data)
		}
	}
	if seen < 20 {
		t.Errorf("the quick guide names only %d keys", seen)
	}
	all := text(root)
	for _, step := range steps() {
		for _, c := range safety.Cautions(step) {
			if !strings.Contains(all, c.Text) {
				t.Errorf("the caution %q is not in the quick guide", c.ID)
			}
		}
	}
	for _, want := range []string{"halve 1.2.3, 4 March 2025", "begin a practical at the bench", "Ctrl+S writes it down"} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not in the quick guide", want)
		}
	}
}

// Each command that a person is shown has its page, with its flags, and the
// page is the same whenever and wherever it is written.
func TestManPages(t *testing.T) {
	root := tree.New(command.Desk{Version: "1.2.3"})
	dir, again := t.TempDir(), t.TempDir()
	for _, d := range []string{dir, again} {
		if err := manPages(d, root, "1.2.3", at); err != nil {
			t.Fatal(err)
		}
	}
	pages, err := os.ReadDir(filepath.Join(dir, "man", "man1"))
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, p := range pages {
		names = append(names, p.Name())
		one := read(t, dir, "man", "man1", p.Name())
		if one != read(t, again, "man", "man1", p.Name()) {
			t.Errorf("%s differs from one writing to the next", p.Name())
		}
		if !strings.HasPrefix(one, `.TH "HALVE`) || !strings.Contains(one, `"2025-03-04" "halve 1.2.3"`) || !strings.Contains(one, ".SH NAME\nhalve") {
			t.Errorf("%s begins with %.200q", p.Name(), one)
		}
	}
	for _, want := range []string{"halve.1", "halve-guide.1", "halve-class.1", "halve-completion-bash.1"} {
		if !slices.Contains(names, want) {
			t.Errorf("there is no page %s among %q", want, names)
		}
	}
	if guide := read(t, dir, "man", "man1", "halve-guide.1"); !strings.Contains(guide, ".TP\n\\fB\\-\\-bench\\fR \\fIFILE\\fR\ntake the bench from FILE\n") {
		t.Errorf("the page of guide does not tell of --bench:\n%s", guide)
	}
	if first := read(t, dir, "man", "man1", "halve.1"); !strings.Contains(first, ".SH EXIT STATUS") {
		t.Error("the first page does not tell the exit statuses")
	}
}

func TestRoff(t *testing.T) {
	tests := []struct{ in, want string }{
		{"a - b", `a \- b`},
		{".so /etc/passwd\n'br", "\\&.so /etc/passwd\n\\&'br"},
		{`%LOCALAPPDATA%\halve`, `%LOCALAPPDATA%\ehalve`},
	}
	for _, tt := range tests {
		if got := roff(tt.in); got != tt.want {
			t.Errorf("roff(%q) = %q; want %q", tt.in, got, tt.want)
		}
	}
}

func TestCompletionScripts(t *testing.T) {
	dir := t.TempDir()
	if err := completions(dir, tree.New(command.Desk{})); err != nil {
		t.Fatal(err)
	}
	for name, has := range map[string]string{
		"halve.bash": "__start_halve", "_halve": "#compdef halve", "halve.fish": "complete -c halve", "halve.ps1": "Register-ArgumentCompleter",
	} {
		if got := read(t, dir, "completions", name); !strings.Contains(got, has) {
			t.Errorf("%s does not hold %q", name, has)
		}
	}
}

// The licences of what is linked for the three systems, of the typefaces
// among them, are all found.
func TestNotices(t *testing.T) {
	dir := t.TempDir()
	if err := notices(dir, []string{"linux/amd64", "windows/amd64", "darwin/arm64"}); err != nil {
		t.Fatal(err)
	}
	got := read(t, dir, "NOTICES.txt")
	for _, want := range []string{
		"Go and its standard library, go1", "SIL OPEN FONT LICENSE", "The FreeType Project LICENSE", "Bigelow & Holmes",
		"\ngithub.com/charmbracelet/bubbletea v1.3.10\n", "\ngithub.com/mattn/go-localereader v0.0.1\n", "Yasuhiro Matsumoto (a.k.a. mattn)",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is not among the notices", want)
		}
	}
	for _, not := range []string{"pgregory.net/rapid", "honnef.co/go/tools", "testscript"} {
		if strings.Contains(got, "\n"+not) {
			t.Errorf("%s, which only tests need, is among the notices", not)
		}
	}
}

// module makes a package of a module in a folder, with the files.
func module(t *testing.T, files ...string) map[string]linked {
	t.Helper()
	dir := t.TempDir()
	for _, f := range files {
		name, content, _ := strings.Cut(f, ":")
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	p := linked{ImportPath: "a.org/m/font/bold", Dir: filepath.Join(dir, "font", "bold")}
	p.Module = &struct {
		Path, Version, Dir string
		Main               bool
	}{Path: "a.org/m", Version: "v1.0.0", Dir: dir}
	return map[string]linked{p.ImportPath: p}
}

func TestLicencesOfModules(t *testing.T) {
	tests := []struct {
		name      string
		files     []string
		elsewhere []string
		want      []string // nil: refused
	}{
		{"a licence", []string{"LICENSE:may", "font/bold/a.go:"}, nil, []string{"a.org/m v1.0.0", "LICENSE", "may"}},
		{"others on the way to a package", []string{"Licence.md:may", "font/OFL.txt:face", "font/bold/COPYING:bold"}, nil, []string{"may", "font/OFL.txt", "face", "bold"}},
		{"one said elsewhere", []string{"README.md:MIT", "font/bold/a.go:"}, []string{"README.md"}, []string{"README.md", "MIT"}},
		{"none", []string{"README.md:MIT", "font/bold/a.go:"}, nil, nil},
		{"source of that name", []string{"license.go:package m", "font/bold/a.go:"}, nil, nil},
		{"an empty one", []string{"LICENSE:\n", "font/bold/a.go:"}, nil, nil},
		{"one elsewhere that is missing", []string{"LICENSE:may", "font/bold/a.go:"}, []string{"ofl.txt"}, nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var b bytes.Buffer
			table := map[string][]string{}
			if tt.elsewhere != nil {
				table["a.org/m"] = tt.elsewhere
			}
			err := modules(&b, module(t, tt.files...), table)
			if (err != nil) != (tt.want == nil) {
				t.Fatalf("error %v, want one: %v", err, tt.want == nil)
			}
			for _, want := range tt.want {
				if !strings.Contains(b.String(), want) {
					t.Errorf("%q is not in %q", want, b.String())
				}
			}
		})
	}
	var b bytes.Buffer
	if err := modules(&b, module(t, "LICENSE:may", "font/bold/a.go:"), map[string][]string{"gone.org/m": {"README"}}); err == nil {
		t.Error("a module in the table that is not linked is not refused")
	}
}
