package tree

import (
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"example.org/halve/physics/bench/live"
	"example.org/halve/physics/convert"
	"example.org/halve/physics/fault"
	"example.org/halve/physics/panel"
	"example.org/halve/physics/preferred"
	"example.org/halve/procedure"
	"example.org/halve/procedure/exercise"
	"example.org/halve/procedure/notes"
	"example.org/halve/tui/command"
)

// complete says what completes the value of a flag.
func complete(c *cobra.Command, flag string, with cobra.CompletionFunc) {
	if err := c.RegisterFlagCompletionFunc(flag, with); err != nil {
		panic(err) // the flag is missing or has two: a slip in this package, seen by every test
	}
}

// oneOf completes one of a few words, and no file.
func oneOf(words ...string) cobra.CompletionFunc {
	return cobra.FixedCompletions(words, cobra.ShellCompDirectiveNoFileComp|cobra.ShellCompDirectiveKeepOrder)
}

// ending completes files whose names end so.
func ending(extensions ...string) cobra.CompletionFunc {
	return cobra.FixedCompletions(extensions, cobra.ShellCompDirectiveFilterFileExt)
}

// first completes the first word only: the commands take no second.
func first(with cobra.CompletionFunc) cobra.CompletionFunc {
	return func(c *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
		if len(args) > 0 {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		return with(c, args, typed)
	}
}

// folders completes a folder.
func folders(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return nil, cobra.ShellCompDirectiveFilterDirs
}

// recordExtension is what the names of records end in.
const recordExtension = "jsonl"

// mostRecords bounds what is offered of the data folder.
const mostRecords = 20

// records completes a record: a file, or, where nothing is typed yet and
// this folder has none, the latest in the data folder, newest first.
func (s shell) records(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
	if here, err := filepath.Glob("*." + recordExtension); typed == "" && err == nil && len(here) == 0 {
		// Names begin with the date.
		if kept, err := os.ReadDir(s.desk.DataDir); err == nil {
			var out []string
			for _, e := range slices.Backward(kept) {
				if filepath.Ext(e.Name()) == "."+recordExtension && len(out) < mostRecords {
					out = append(out, filepath.Join(s.desk.DataDir, procedure.CleanText(e.Name(), 200)))
				}
			}
			if len(out) > 0 {
				return out, cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
			}
		}
	}
	return []string{recordExtension}, cobra.ShellCompDirectiveFilterFileExt
}

// faults completes the faults that a bench of the procedure can have; under
// the person's own hands it has fewer.
func faults(c *cobra.Command, _ []string, _ string) ([]string, cobra.ShellCompDirective) {
	ids := []string{cobra.CompletionWithDesc("any", "chance picks one")}
	if c.Flag("procedure").Value.String() == command.MeterCheck {
		ids = append(ids, panel.Faults()...)
		return ids, cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
	}
	byHand := !c.Flag("auto").Changed && !c.Flag("plain").Changed
	ids = append(ids, live.Faults()...)
	for _, f := range fault.Catalogue() {
		if id := string(f.ID); !byHand && f.Benchable() && !slices.Contains(ids, id) {
			ids = append(ids, id)
		}
	}
	return ids, cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
}

// exercises completes the benches of the stock; what is none of them may be a
// file.
func exercises(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	var out []string
	for _, e := range exercise.List() {
		out = append(out, cobra.CompletionWithDesc(e.Name, e.About))
	}
	return out, cobra.ShellCompDirectiveKeepOrder
}

func topics(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	var out []string
	for _, t := range notes.Topics() {
		out = append(out, cobra.CompletionWithDesc(t.Name, t.Title))
	}
	return out, cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
}

func preferredSeries(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	var out []string
	for _, s := range preferred.All() {
		out = append(out, s.String())
	}
	return out, cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
}

func metals(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	var out []string
	for _, m := range convert.Metals() {
		out = append(out, m.Name)
	}
	return out, cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
}
