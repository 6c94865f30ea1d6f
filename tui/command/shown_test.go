package command_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"golang.org/x/net/html"

	"example.org/halve/tui/command"
	"example.org/halve/tui/tree"
)

// A shown command is a line that a person is told to type, and where.
type shown struct{ where, line string }

// code finds what README.md sets as code within a line.
var code = regexp.MustCompile("`([^`]+)`")

// readme returns README.md.
func readme(t *testing.T) string {
	t.Helper()
	data, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// blocks are the indented blocks of README.md, without their indent.
func blocks(text string) [][]string {
	var out [][]string
	var block []string
	for _, line := range append(strings.Split(text, "\n"), "") {
		if indented, ok := strings.CutPrefix(line, "    "); ok {
			block = append(block, indented)
		} else if len(block) > 0 {
			out, block = append(out, block), nil
		}
	}
	return out
}

// allShown gathers the command lines of README.md, of the quick guide and of
// every command's help.
func allShown(t *testing.T) []shown {
	t.Helper()
	var out []shown
	text := readme(t)
	for _, block := range blocks(text) {
		for _, line := range block {
			if strings.HasPrefix(line, "halve") {
				command, _, _ := strings.Cut(line, "  ")
				out = append(out, shown{"README.md", command})
			}
		}
	}
	for _, line := range strings.Split(text, "\n") {
		if !strings.HasPrefix(line, "    ") {
			for _, m := range code.FindAllStringSubmatch(line, -1) {
				if m[1] == "halve" || strings.HasPrefix(m[1], "halve ") {
					out = append(out, shown{"README.md", m[1]})
				}
			}
		}
	}
	page, err := os.ReadFile("../papers/quick.html")
	if err != nil {
		t.Fatal(err)
	}
	root, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	for n := range root.Descendants() {
		if n.Type == html.ElementNode && n.Data == "code" && len(n.Attr) > 0 && n.Attr[0].Val == "run" {
			out = append(out, shown{"the quick guide", n.FirstChild.Data})
		}
	}
	var help func(c *cobra.Command)
	help = func(c *cobra.Command) {
		for _, line := range strings.Split(c.Example, "\n") {
			if line = strings.TrimSpace(line); line != "" {
				command, _, _ := strings.Cut(line, "  ")
				out = append(out, shown{"the help of " + c.CommandPath(), command})
			}
		}
		for _, of := range c.Commands() {
			help(of)
		}
	}
	help(tree.New(command.Desk{}))
	return out
}

// meant puts a thing that is there in the place of each word that stands for
// one.
func meant(line string) []string {
	line, _, _ = strings.Cut(line, " > ") // where the shell puts what is printed
	words := strings.Fields(strings.NewReplacer("FILE.csv", "rows.csv", " …", " --help").Replace(line))
	for i, word := range words {
		if i == 0 {
			continue
		}
		flag := words[i-1]
		switch word {
		case "RECORD", "[RECORD]":
			words[i] = "monday.jsonl"
		case "DIR":
			words[i] = "monday"
		case "[TOPIC]", "TOPIC":
			words[i] = "errors"
		case "ID":
			words[i] = "leakage"
		case "NAME":
			words[i] = "first"
		case "N":
			words[i] = "7"
		case "FILE":
			words[i] = map[string]string{"--bench": "bench.json", "--out": "new.html", "--record": "new.jsonl"}[flag]
		}
	}
	return words[1:]
}

// Every command line that README.md, the quick guide and the help show does
// what it says, on the table that README.md shows: none is a wrong call, none
// fails.
func TestShownCommands(t *testing.T) {
	if testing.Short() {
		t.Skip("the program that is run is the same with -short and without")
	}
	table := ""
	for _, block := range blocks(readme(t)) {
		if strings.HasPrefix(block[0], "series") {
			table = strings.Join(block, "\n") + "\n"
		}
	}
	if table == "" {
		t.Fatal("README.md shows no table")
	}
	run := func(dir string, args ...string) (out, errs string, err error) {
		cmd := exec.Command("halve", args...)
		cmd.Dir = dir
		cmd.Env = append(os.Environ(), "XDG_DATA_HOME="+filepath.Join(dir, "data"), "HOME="+dir)
		var o, e bytes.Buffer
		cmd.Stdout, cmd.Stderr = &o, &e
		err = cmd.Run()
		return o.String(), e.String(), err
	}
	stage := func(dir string) {
		must := func(err error) {
			if err != nil {
				t.Helper()
				t.Fatal(err)
			}
		}
		must(os.WriteFile(filepath.Join(dir, "rows.csv"), []byte(table), 0o644))
		example, _, err := run(dir, "practise", "--example")
		must(err)
		must(os.WriteFile(filepath.Join(dir, "bench.json"), []byte(example), 0o644))
		if out, errs, err := run(dir, "guide", "--table", "rows.csv", "--bench", "bench.json", "--record", "monday.jsonl"); err != nil {
			t.Fatalf("README.md's own table is not taken over: %v\n%s%s", err, out, errs)
		}
		must(os.Mkdir(filepath.Join(dir, "monday"), 0o755))
		record, err := os.ReadFile(filepath.Join(dir, "monday.jsonl"))
		must(err)
		must(os.WriteFile(filepath.Join(dir, "monday", "pair-1.jsonl"), record, 0o644))
	}
	first := t.TempDir()
	stage(first)
	lines := allShown(t)
	if len(lines) < 60 {
		t.Errorf("only %d command lines found", len(lines))
	}
	done := map[string]bool{}
	for _, s := range lines {
		if done[s.line] {
			continue
		}
		done[s.line] = true
		t.Run(s.line, func(t *testing.T) {
			dir := t.TempDir()
			if err := os.CopyFS(dir, os.DirFS(first)); err != nil {
				t.Fatal(err)
			}
			args := meant(s.line)
			if strings.Contains(s.line, "--table") && !strings.Contains(s.line, "--bench") {
				args = append(args, "--bench", "bench.json") // else a person is asked
			}
			out, errs, err := run(dir, args...)
			if strings.Contains(s.line, "--watch") || strings.Contains(s.line, "--examination") {
				// Only the screens have it, and here is no terminal.
				if err == nil || !strings.Contains(errs, "terminal") {
					t.Errorf("in %s: %v\n%s", s.where, err, errs)
				}
				return
			}
			if err != nil || out == "" && !strings.Contains(s.line, "--out") {
				t.Errorf("in %s: %v\n%.500s%s", s.where, err, out, errs)
			}
		})
	}
}

// Every flag that README.md names is one of a command.
func TestShownFlags(t *testing.T) {
	flags := map[string]bool{"--help": true}
	var gather func(c *cobra.Command)
	gather = func(c *cobra.Command) {
		for _, word := range strings.Fields(c.NonInheritedFlags().FlagUsages()) {
			if strings.HasPrefix(word, "--") {
				flags[word] = true
			}
		}
		for _, of := range c.Commands() {
			gather(of)
		}
	}
	gather(tree.New(command.Desk{Version: "1"}))
	named := 0
	for _, m := range code.FindAllStringSubmatch(readme(t), -1) {
		for _, word := range strings.Fields(m[1]) {
			if word = strings.Trim(word, "[]"); strings.HasPrefix(word, "--") {
				named++
				if !flags[word] {
					t.Errorf("README.md names %s, which no command has", word)
				}
			}
		}
	}
	if named < 20 {
		t.Errorf("only %d flags found in README.md", named)
	}
}
