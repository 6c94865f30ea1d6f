package tree_test

import (
	"bytes"
	"os"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"example.org/halve/tui/command"
	"example.org/halve/tui/tree"
)

func build(goVersion, version string, settings ...string) *debug.BuildInfo {
	info := &debug.BuildInfo{GoVersion: goVersion, Main: debug.Module{Version: version}}
	for i := 0; i < len(settings); i += 2 {
		info.Settings = append(info.Settings, debug.BuildSetting{Key: settings[i], Value: settings[i+1]})
	}
	return info
}

// What each tool leaves in a program is from the documentation of
// runtime/debug and from "go version -m" of such programs.
func TestVersion(t *testing.T) {
	const commit = "0123456789abcdef0123456789abcdef01234567"
	system := []string{"GOOS", "linux", "GOARCH", "arm64"}
	tests := []struct {
		name, release string
		info          *debug.BuildInfo
		want          string
	}{
		{"a release", "1.2.3 " + commit, build("go1.26.8", "(devel)", system...), "1.2.3, commit 0123456789ab, go1.26.8 linux/arm64"},
		{"go build", "", build("go1.26.8", "v0.0.0-20261130142100-0123456789ab", append(system, "vcs.revision", commit, "vcs.modified", "false")...),
			"(built from source), commit 0123456789ab, go1.26.8 linux/arm64"},
		{"go build with changes", "", build("go1.26.8", "v0.0.0-20261130142100-0123456789ab+dirty", append(system, "vcs.revision", commit, "vcs.modified", "true")...),
			"(built from source), commit 0123456789ab with changes, go1.26.8 linux/arm64"},
		{"go run", "", build("go1.26.8", "(devel)", system...), "(built from source), commit unknown, go1.26.8 linux/arm64"},
		{"go install of a version", "", build("go1.26.8", "v1.2.3", system...), "v1.2.3, commit unknown, go1.26.8 linux/arm64"},
		{"nothing known", "", new(debug.BuildInfo), "(built from source), commit unknown, Go unknown unknown/unknown"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := tree.Version(tt.release, tt.info); got != tt.want {
				t.Errorf("Version(%q, %v) = %q; want %q", tt.release, tt.info, got, tt.want)
			}
		})
	}
}

// every walks through all commands that people are shown.
func every(c *cobra.Command, do func(*cobra.Command)) {
	do(c)
	for _, of := range c.Commands() {
		if !of.Hidden {
			every(of, do)
		}
	}
}

// The help of all commands is of one style, fits a terminal where we set its
// lines, and no flag is left to cobra's words.
func TestHelp(t *testing.T) {
	seen := 0
	every(tree.New(command.Desk{Version: "1"}), func(c *cobra.Command) {
		seen++
		path := c.CommandPath()
		if s := c.Short; s == "" || strings.ToUpper(s[:1]) != s[:1] || strings.HasSuffix(s, ".") {
			t.Errorf("%s: short help %q; a capital first, no full stop", path, s)
		}
		if c.Long == "" || !strings.Contains(path, "completion") && !strings.HasSuffix(strings.TrimRight(c.Long, "\n"), ".") {
			t.Errorf("%s: long help %q; whole sentences", path, c.Long)
		}
		if c.Example == "" && c.Name() != "help" && !strings.Contains(path, "completion") {
			t.Errorf("%s has no example", path)
		}
		for _, line := range strings.Split(c.Long+"\n"+c.Example, "\n") {
			if len([]rune(line)) > 79 {
				t.Errorf("%s: %q is longer than 79 columns", path, line)
			}
		}
		c.Flags().VisitAll(func(f *pflag.Flag) {
			if f.Usage == "" || strings.HasPrefix(f.Usage, "help for ") || strings.HasSuffix(f.Usage, ".") {
				t.Errorf("%s --%s: %q; one of our own phrases, no full stop", path, f.Name, f.Usage)
			}
			if name, _ := pflag.UnquoteUsage(f); f.Value.Type() != "bool" && name != strings.ToUpper(name) {
				t.Errorf("%s --%s takes %q; a word in capitals is wanted, in backquotes", path, f.Name, name)
			}
		})
	})
	if seen < 15 {
		t.Errorf("only %d commands seen", seen)
	}
}

// completions asks what completes the last of the words, as a shell does.
func completions(t *testing.T, d command.Desk, words ...string) (out []string, directive string) {
	t.Helper()
	root := tree.New(d)
	var b bytes.Buffer
	root.SetOut(&b)
	root.SetErr(new(bytes.Buffer))
	root.SetArgs(append([]string{"__completeNoDesc"}, words...))
	if err := root.Execute(); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(b.String()), "\n")
	return lines[:len(lines)-1], lines[len(lines)-1]
}

// The numbers of cobra's directives, from its documentation: what a shell is
// to do besides.
const (
	noFiles, byEnding, byFolder, inOrder = ":4", ":8", ":16", ":36"
)

func TestCompletions(t *testing.T) {
	tests := []struct {
		words     string // the last is being typed
		has       string // some of what is offered
		hasNot    string
		directive string
	}{
		{"", "guide practise completion", "", noFiles},
		{"practise --procedure ", "half-deflection meter-check", "", inOrder},
		{"practise --fault ", "any leakage", "far-end", inOrder},
		{"practise --auto --fault ", "any leakage far-end", "unexplained", inOrder},
		{"practise --procedure meter-check --fault ", "any pointer-bent", "leakage", inOrder},
		{"practise --bench ", "first find-the-fault", "", ":32"},
		{"practise --record ", "jsonl", "", byEnding},
		{"practise --theme ", "light dark", "", inOrder},
		{"guide ", "jsonl", "", byEnding},
		{"guide a.jsonl ", "", "jsonl", noFiles},
		{"guide --bench ", "json", "", byEnding},
		{"guide --table ", "csv", "", byEnding},
		{"plan --bench ", "json", "", byEnding},
		{"result ", "jsonl", "", byEnding},
		{"report a.jsonl --out ", "html pdf md csv", "", byEnding},
		{"report a.jsonl --to ", "html pdf md csv", "", inOrder},
		{"report a.jsonl --for ", "student demonstrator", "", inOrder},
		{"theory ", "derivation questions", "", inOrder},
		{"theory derivation ", "", "questions", noFiles},
		{"theory --to ", "html pdf md", "csv", inOrder},
		{"working --emf ", "", "", inOrder},
		{"convert ", "ammeter voltmeter universal", "", inOrder},
		{"convert ammeter --series ", "E3 E192", "", inOrder},
		{"convert ammeter --wire ", "manganin copper", "", inOrder},
		{"convert ammeter --from ", "jsonl", "", byEnding},
		{"class ", "", "jsonl", byFolder},
		{"class monday ", "", "", noFiles},
		{"help ", "guide", "", noFiles},
		{"completion ", "bash zsh fish powershell", "", noFiles},
	}
	for _, tt := range tests {
		t.Run(tt.words, func(t *testing.T) {
			got, directive := completions(t, command.Desk{}, strings.Split(tt.words, " ")...)
			for _, want := range strings.Fields(tt.has) {
				if !slices.Contains(got, want) {
					t.Errorf("%q is not among %q", want, got)
				}
			}
			if tt.hasNot != "" && slices.Contains(got, tt.hasNot) {
				t.Errorf("%q is among %q", tt.hasNot, got)
			}
			if directive != tt.directive {
				t.Errorf("directive %s, want %s", directive, tt.directive)
			}
		})
	}
}

// Where a folder has no record the latest of the data folder are offered,
// newest first; once something is typed, or where there is one, files are.
func TestCompletionOfRecordsKept(t *testing.T) {
	data := t.TempDir()
	t.Chdir(t.TempDir())
	for _, name := range []string{"2026-11-01.jsonl", "2026-11-02.jsonl", "2026-11-02.jsonl.cut-1", "halve-breakdown-1.txt"} {
		if err := os.WriteFile(filepath.Join(data, name), nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	d := command.Desk{DataDir: data}
	got, directive := completions(t, d, "result", "")
	want := []string{filepath.Join(data, "2026-11-02.jsonl"), filepath.Join(data, "2026-11-01.jsonl")}
	if !slices.Equal(got, want) || directive != inOrder {
		t.Errorf("completions are %q %s, want %q", got, directive, want)
	}
	if got, directive := completions(t, d, "result", "2"); !slices.Equal(got, []string{"jsonl"}) || directive != byEnding {
		t.Errorf("after a letter completions are %q %s, want files", got, directive)
	}
	if err := os.WriteFile("own.jsonl", nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if got, directive := completions(t, d, "result", ""); !slices.Equal(got, []string{"jsonl"}) || directive != byEnding {
		t.Errorf("beside a record completions are %q %s, want files", got, directive)
	}
}
