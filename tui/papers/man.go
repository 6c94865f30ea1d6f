package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// besides is what the first page says besides what cobra knows.
const besides = `.SH FILES
.PP
A record that was given no name is kept by its date in the user's data folder:
.TP
Linux
~/.local/share/halve, or below $XDG_DATA_HOME
.TP
macOS
~/Library/Application Support/halve
.TP
Windows
%LOCALAPPDATA%\ehalve
.SH EXIT STATUS
.TP
0
done
.TP
1
the work could not be done; why, and what to do, is one line on standard error
.TP
2
the call was wrong: a flag or a value that cannot be
.SH CAUTION
.PP
The program knows only what it is told. It cannot see a wrong wire or a damaged
cell, is never for the mains, and does not replace the teacher who looks at the
circuit before a key is closed.
`

// manPages writes a page for each command.
func manPages(out string, root *cobra.Command, version string, date time.Time) error {
	dir := filepath.Join(out, "man", "man1")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	var write func(c *cobra.Command) error
	write = func(c *cobra.Command) error {
		if err := os.WriteFile(filepath.Join(dir, pageName(c)+".1"), []byte(manPage(c, version, date)), 0o644); err != nil {
			return err
		}
		for _, of := range c.Commands() {
			if of.IsAvailableCommand() && of.Name() != "help" {
				if err := write(of); err != nil {
					return err
				}
			}
		}
		return nil
	}
	return write(root)
}

func pageName(c *cobra.Command) string { return strings.ReplaceAll(c.CommandPath(), " ", "-") }

// manPage is the page of a command, in the man macros of man-pages(7).
func manPage(c *cobra.Command, version string, date time.Time) string {
	var b strings.Builder
	line := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	line(`.TH "%s" "1" "%s" "halve %s" "Half deflection"`, strings.ToUpper(pageName(c)), date.Format("2006-01-02"), version)
	line(".SH NAME\n%s \\- %s", pageName(c), roff(c.Short))
	line(".SH SYNOPSIS")
	if c.Runnable() {
		line(`\fB%s\fR`, roff(c.UseLine()))
	}
	if c.HasAvailableSubCommands() {
		line(".br\n\\fB%s\\fR \\fICOMMAND\\fR", roff(c.CommandPath()))
	}
	line(".SH DESCRIPTION")
	for _, paragraph := range strings.Split(strings.TrimSpace(c.Long), "\n\n") {
		if strings.HasPrefix(paragraph, "  ") { // a command to be typed
			line(".PP\n.EX\n%s\n.EE", roff(paragraph))
		} else {
			line(".PP\n%s", roff(paragraph))
		}
	}
	line(".SH OPTIONS")
	c.Flags().VisitAll(func(f *pflag.Flag) {
		name, usage := pflag.UnquoteUsage(f)
		shown := "--" + f.Name
		if f.Shorthand != "" {
			shown = "-" + f.Shorthand + ", " + shown
		}
		tag := `\fB` + roff(shown) + `\fR`
		if name != "" {
			tag += ` \fI` + roff(name) + `\fR`
		}
		if f.DefValue != "" && f.DefValue != "false" && f.DefValue != "0" && f.DefValue != "[]" {
			usage += " (left out, " + f.DefValue + ")"
		}
		line(".TP\n%s\n%s", tag, roff(usage))
	})
	if c.Example != "" {
		line(".SH EXAMPLES\n.EX\n%s\n.EE", roff(c.Example))
	}
	if !c.HasParent() {
		b.WriteString(besides)
	}
	var also []string
	if c.HasParent() {
		also = append(also, pageName(c.Parent()))
	}
	for _, of := range c.Commands() {
		if of.IsAvailableCommand() && of.Name() != "help" {
			also = append(also, pageName(of))
		}
	}
	line(".SH SEE ALSO")
	for i, name := range also {
		line(`\fB%s\fR(1)%s`, roff(name), map[bool]string{true: ",", false: ""}[i < len(also)-1])
	}
	return b.String()
}

// roff writes text so that nothing in it is taken for a request.
func roff(text string) string {
	text = strings.NewReplacer(`\`, `\e`, `-`, `\-`).Replace(text)
	lines := strings.Split(text, "\n")
	for i, l := range lines {
		if strings.HasPrefix(l, ".") || strings.HasPrefix(l, "'") {
			lines[i] = `\&` + l
		}
	}
	return strings.Join(lines, "\n")
}

// completions writes the script for each shell, under the name by which the
// shell finds it.
func completions(out string, root *cobra.Command) error {
	dir := filepath.Join(out, "completions")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	for _, c := range []struct {
		name  string
		write func(path string) error
	}{
		{"halve.bash", func(path string) error { return root.GenBashCompletionFileV2(path, true) }},
		{"_halve", root.GenZshCompletionFile},
		{"halve.fish", func(path string) error { return root.GenFishCompletionFile(path, true) }},
		{"halve.ps1", root.GenPowerShellCompletionFileWithDesc},
	} {
		if err := c.write(filepath.Join(dir, c.name)); err != nil {
			return err
		}
	}
	return nil
}
