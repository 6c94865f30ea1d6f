package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// A linked package is one that is in the program on some system.
type linked struct {
	ImportPath, Dir string
	Module          *struct {
		Path, Version, Dir string
		Main               bool
	}
}

// licenceName is what the files are called that licences stand in.
var licenceName = regexp.MustCompile(`(?i)^(licen[cs]e|copying|copyright|notice|patents|ofl)([-._].*)?$`)

// elsewhere are the files in which a module says it that are not called so.
var elsewhere = map[string][]string{
	// Its licence file is a choice of two; this is the one chosen.
	"github.com/golang/freetype": {"licenses/ftl.txt"},
	// The typefaces that the module holds have a licence of their own.
	"golang.org/x/image": {"font/gofont/ttfs/README"},
	// It has no licence file: its README says which licence, and whose.
	"github.com/mattn/go-localereader": {"README.md"},
}

// heading is what precedes the licences.
const heading = `halve is one file that holds the work of many. What follows is the licence of
each part that is linked into it on any system: of Go and its standard library,
and of every module by its path. The licence of halve itself is in LICENSE.
`

// notices writes the licences of all that is linked into the program on any of
// the systems. It fails for a module that has none.
func notices(out string, targets []string) error {
	packages := map[string]linked{}
	for _, target := range targets {
		if err := packagesOf(target, packages); err != nil {
			return err
		}
	}
	goRoot, err := exec.Command("go", "env", "GOROOT", "GOVERSION").Output()
	if err != nil {
		return err
	}
	where := strings.Fields(string(goRoot))
	if len(where) != 2 {
		return fmt.Errorf("go env says %q", goRoot)
	}
	b := bytes.NewBufferString(heading)
	if err := part(b, "Go and its standard library, "+where[1], where[0], []string{where[0]}, nil); err != nil {
		return err
	}
	if err := modules(b, packages, elsewhere); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(out, "NOTICES.txt"), b.Bytes(), 0o644)
}

// packagesOf adds the packages that are linked for a target.
func packagesOf(target string, to map[string]linked) error {
	system, processor, _ := strings.Cut(target, "/")
	list := exec.Command("go", "list", "-deps", "-json=ImportPath,Dir,Module", "example.org/halve")
	list.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS="+system, "GOARCH="+processor)
	list.Stderr = os.Stderr
	out, err := list.Output()
	if err != nil {
		return fmt.Errorf("go list for %s: %w", target, err)
	}
	for d := json.NewDecoder(bytes.NewReader(out)); ; {
		var p linked
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
		if p.Module != nil && !p.Module.Main {
			to[p.ImportPath] = p
		}
	}
}

// modules writes the licences of the modules of the packages, by path.
func modules(w io.Writer, packages map[string]linked, elsewhere map[string][]string) error {
	of := map[string][]linked{}
	for _, path := range slices.Sorted(maps.Keys(packages)) {
		p := packages[path]
		of[p.Module.Path] = append(of[p.Module.Path], p)
	}
	for path := range elsewhere {
		if of[path] == nil {
			return fmt.Errorf("%s is no longer linked: take it out of the table", path)
		}
	}
	for _, path := range slices.Sorted(maps.Keys(of)) {
		m := of[path][0].Module
		// A package may lie below a licence that is not the module's.
		dirs := []string{m.Dir}
		for _, p := range of[path] {
			for dir := p.Dir; len(dir) > len(m.Dir); dir = filepath.Dir(dir) {
				if !slices.Contains(dirs, dir) {
					dirs = append(dirs, dir)
				}
			}
		}
		if err := part(w, path+" "+m.Version, m.Dir, dirs, elsewhere[path]); err != nil {
			return err
		}
	}
	return nil
}

// part writes what the files in the folders say of one part's licence.
func part(w io.Writer, title, root string, dirs, besides []string) error {
	var files []string
	for _, dir := range dirs {
		entries, err := os.ReadDir(dir)
		if err != nil {
			return fmt.Errorf("%s: %w", title, err)
		}
		for _, e := range entries {
			// A folder of them, or source code of that name, is none.
			if e.Type()&fs.ModeType == 0 && filepath.Ext(e.Name()) != ".go" && licenceName.MatchString(e.Name()) {
				files = append(files, filepath.Join(dir, e.Name()))
			}
		}
	}
	for _, name := range besides {
		files = append(files, filepath.Join(root, filepath.FromSlash(name)))
	}
	if len(files) == 0 {
		return fmt.Errorf("%s: no licence is found, and without one it cannot be handed on", title)
	}
	fmt.Fprintf(w, "\n%s\n%s\n", strings.Repeat("=", 78), title)
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			return fmt.Errorf("%s: %w", title, err)
		}
		name, err := filepath.Rel(root, file)
		if err != nil {
			return err
		}
		text = bytes.TrimSpace(bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n")))
		if len(text) == 0 {
			return fmt.Errorf("%s: %s is empty", title, name)
		}
		fmt.Fprintf(w, "%s\n%s\n\n%s\n", strings.Repeat("-", 78), filepath.ToSlash(name), text)
	}
	return nil
}
