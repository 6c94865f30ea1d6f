// Command halve goes with a student through the half-deflection measurement
// of a galvanometer's resistance and figure of merit.
package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"github.com/adrg/xdg"
	"github.com/charmbracelet/x/term"
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"example.org/halve/procedure"
	"example.org/halve/tui/command"
	"example.org/halve/tui/conversion"
)

func main() {
	// A reader that has gone away is an ordinary end, not a death by signal.
	signal.Ignore(syscall.SIGPIPE)
	desk := command.Desk{
		In: os.Stdin, Out: os.Stdout, Err: os.Stderr,
		Terminal: term.IsTerminal(os.Stdin.Fd()) && term.IsTerminal(os.Stdout.Fd()) && os.Getenv("TERM") != "dumb",
		Now:      time.Now,
		NewID:    rand.Text,
		DataDir:  filepath.Join(xdg.DataHome, "halve"),
	}
	os.Exit(run(context.Background(), desk, os.Args[1:]))
}

// run carries out one call and returns its exit status. It is the one place
// where an error becomes a status: 0 done, 1 the work could not be done, 2 the
// call was wrong. Whatever cobra refuses before the work begins is a wrong call.
func run(ctx context.Context, desk command.Desk, args []string) int {
	working := false
	root := tree(desk)
	root.PersistentPreRun = func(*cobra.Command, []string) { working = true }
	root.SetArgs(args)
	root.SetIn(desk.In)
	root.SetOut(desk.Out)
	root.SetErr(desk.Err)
	err := root.ExecuteContext(ctx)
	var call command.CallError
	switch {
	case err == nil, errors.Is(err, syscall.EPIPE), errors.Is(err, io.ErrClosedPipe):
		return 0
	case !working || errors.As(err, &call):
		fmt.Fprintf(desk.Err, "halve: %s; 'halve --help' shows the commands\n", oneLine(err))
		return 2
	}
	fmt.Fprintf(desk.Err, "halve: %s\n", oneLine(err))
	return 1
}

// oneLine makes an error one harmless line: it may repeat what was typed.
func oneLine(err error) string { return procedure.CleanText(err.Error(), 1000) }

// names takes the name of one thing, and none only where least is 0.
func names(least int, of string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		switch {
		case len(args) < least:
			return fmt.Errorf("%s needs the name of a %s", c.Name(), of)
		case len(args) > 1:
			return fmt.Errorf("%s takes one %s, not %d", c.Name(), of, len(args))
		}
		return nil
	}
}

// tree is the command tree.
func tree(desk command.Desk) *cobra.Command {
	root := &cobra.Command{
		Use:           "halve",
		Short:         "Measure a galvanometer's resistance and figure of merit by half deflection",
		Args:          cobra.NoArgs,
		SilenceErrors: true,
		SilenceUsage:  true,
	}
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error {
		var bad *pflag.InvalidValueError
		if errors.As(err, &bad) {
			return fmt.Errorf("--%s takes a whole number, not %q", bad.GetFlag().Name, procedure.CleanText(bad.GetValue(), 60))
		}
		return err
	})
	root.RunE = func(c *cobra.Command, _ []string) error { return command.Start(c.Context(), desk, root.UsageString()) }

	var g command.Guide
	guide := &cobra.Command{Use: "guide [RECORD]", Short: "Start or resume a practical at the bench", Args: names(0, "record"),
		RunE: func(c *cobra.Command, args []string) error { return g.Run(c.Context(), desk, args) }}
	guide.Flags().StringVar(&g.Table, "table", "", "take over the table of rows in the CSV `FILE`, written on paper before")
	guide.Flags().BoolVar(&g.Lines, "lines", false, "JSON Lines: an event a line in, a counsel a line out")

	var p command.Practise
	practise := &cobra.Command{Use: "practise", Short: "The same practical on a simulated bench", Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			p.SeedGiven = c.Flags().Changed("seed")
			return p.Run(c.Context(), desk)
		}}
	practise.Flags().Uint64Var(&p.Seed, "seed", 1, "the number `N` decides the simulated bench: the same number, the same bench")
	practise.Flags().StringVar(&p.Fault, "fault", "", "a fault on the bench, by its `ID`, or any; a record remembers it")
	practise.Flags().BoolVar(&p.Still, "still", false, "nothing moves: the needle is shown when it has come to rest")
	practise.Flags().BoolVar(&p.Examination, "examination", false, "the guide is switched off; at the end it is said how it went")
	practise.Flags().BoolVar(&p.Exercises, "exercises", false, "list the stock of benches to practise on, for --bench")
	practise.Flags().BoolVar(&p.Schema, "schema", false, "print the JSON Schema of a bench file")
	practise.Flags().BoolVar(&p.Example, "example", false, "print an example of a bench file, a planted fault included")
	practise.Flags().BoolVar(&p.Auto, "auto", false, "a scripted student obeys every counsel; prints record, result and hidden truth")
	practise.Flags().BoolVar(&p.JSON, "json", false, "with --auto: as JSON")

	for _, way := range []struct {
		of        *cobra.Command
		to        *command.Way
		procedure *string
	}{{guide, &g.Way, &g.Procedure}, {practise, &p.Way, &p.Procedure}} {
		f := way.of.Flags()
		f.StringVar(way.procedure, "procedure", command.HalfDeflection, "the `PROCEDURE`: half-deflection, or meter-check for a panel meter")
		f.StringVar(&way.to.Record, "record", "", "the record `FILE`: begun if absent, resumed if it is a record")
		f.StringVar(&way.to.Bench, "bench", "", "take the bench from `FILE`")
		f.BoolVar(&way.to.Plain, "plain", false, "a plain dialogue, one line at a time: screen readers, serial consoles, pipes")
		f.BoolVar(&way.to.ASCII, "ascii", false, "draw with ASCII signs only")
		f.StringVar(&way.to.Theme, "theme", "", "colours for a terminal of this `BACKGROUND`, light or dark")
		f.IntVar(&way.to.Minutes, "minutes", 0, "the time there is: `N` minutes")
	}

	practise.Flags().Lookup("bench").Usage = "take the bench from `FILE`, or an exercise by its name"

	var r command.Result
	result := &cobra.Command{Use: "result RECORD", Short: "The computed result of a record", Args: names(1, "record"),
		RunE: func(c *cobra.Command, args []string) error { return r.Run(c.Context(), desk, args[0]) }}
	result.Flags().BoolVar(&r.JSON, "json", false, "as JSON")
	result.Flags().IntVar(&r.Trials, "trials", 0, "`N` Monte Carlo trials; left out, as many as the numbers need")
	result.Flags().Uint64Var(&r.Seed, "seed", 1, "the number `N` decides the trials: the same number, the same trials")

	var pl command.Plan
	plan := &cobra.Command{Use: "plan --bench FILE", Short: "Before the session: will this bench do?", Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error { return pl.Run(desk) }}
	plan.Flags().StringVar(&pl.Bench, "bench", "", "the bench `FILE`, or a folder of them: a card for each")
	plan.Flags().BoolVar(&pl.JSON, "json", false, "as JSON: an object, for a folder an array")

	var w command.Working
	working := &cobra.Command{Use: "working", Short: "Check a hand calculation and name the slip", Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error { return w.Run(desk) }}
	for _, f := range []struct {
		to          *string
		name, usage string
	}{
		{&w.EMF, "emf", "EMF of the source"}, {&w.Series, "series", "series box R"}, {&w.Shunt, "shunt", "shunt box S"},
		{&w.First, "first", "first deflection"}, {&w.Shunted, "shunted", "shunted deflection; left out, the exact half"},
		{&w.SourceResistance, "source-resistance", "internal resistance of the source"}, {&w.Divisions, "divisions", "divisions from zero to the end"},
		{&w.Resolution, "resolution", "the step to which the scale is read"},
		{&w.Resistance, "resistance", "the resistance G you worked out"}, {&w.Merit, "merit", "the figure of merit k you worked out"},
	} {
		working.Flags().StringVar(f.to, f.name, "", f.usage+", a `QUANTITY`")
	}
	working.Flags().BoolVar(&w.JSON, "json", false, "as JSON, an object a line")

	var cv command.Convert
	convert := &cobra.Command{Use: "convert ammeter|voltmeter|universal", Short: "Make an ammeter or a voltmeter of a movement",
		RunE: func(_ *cobra.Command, args []string) error { return cv.Run(desk, args) }}
	for _, f := range []struct {
		to                 *string
		name, value, usage string
	}{
		{&cv.Resistance, "resistance", "", "the movement's resistance, a `QUANTITY`"},
		{&cv.FullScale, "full-scale", "", "the movement's full-scale current, a `QUANTITY`"},
		{&cv.From, "from", "", "take the movement, with its uncertainties, from `RECORD`"},
		{&cv.Series, "series", conversion.Series.String(), "the preferred values to choose from, `E3` to E192"},
		{&cv.Source, "source-resistance", "", "the loading error on a source, or in a loop, of this resistance, a `QUANTITY`"},
		{&cv.Swamp, "swamp", "", "a swamping resistor in series with the coil, a `QUANTITY`"},
		{&cv.Rise, "rise", "", "by how many kelvin the coil is warmer (10), a `NUMBER`"},
		{&cv.Within, "within", "", "the error that a swamping resistor is to leave of it (0.5 %), a `PERCENTAGE`"},
		{&cv.Metal, "wire", conversion.Metal, "the `METAL` of a shunt's wire: manganin, constantan or copper"},
		{&cv.Gauge, "gauge", "", "its `GAUGE`: SWG 22, AWG 22 or 0.5 mm; left out, one that carries the current"},
	} {
		convert.Flags().StringVar(f.to, f.name, f.value, f.usage)
	}
	convert.Flags().StringArrayVar(&cv.Ranges, "range", nil, "a full scale of the finished meter, a `QUANTITY`; repeat it for more ranges")
	convert.Flags().BoolVar(&cv.Chain, "chain", false, "a voltmeter's multipliers in one string with a tap for each range")
	convert.Flags().BoolVar(&cv.JSON, "json", false, "as JSON")

	var rep command.Report
	written := &cobra.Command{Use: "report RECORD", Short: "The laboratory record as a document", Args: names(1, "record"),
		RunE: func(c *cobra.Command, args []string) error { return rep.Run(c.Context(), desk, args[0]) }}
	written.Flags().StringVar(&rep.For, "for", "", "whose `COPY`: student, or demonstrator with findings and slips")

	var cl command.Class
	classes := &cobra.Command{Use: "class DIR", Short: "The records of a class: what to send back, and what was measured", Args: names(1, "folder"),
		RunE: func(c *cobra.Command, args []string) error { return cl.Run(c.Context(), desk, args[0]) }}
	classes.Flags().BoolVar(&cl.JSON, "json", false, "as JSON")
	classes.Flags().BoolVar(&cl.Watch, "watch", false, "follow the records on the screens while they grow")
	classes.Flags().BoolVar(&cl.Anonymous, "anonymous", false, "numbers of pairs in the place of names and files")
	classes.Flags().BoolVar(&cl.ASCII, "ascii", false, "with --watch: draw with ASCII signs only")
	classes.Flags().StringVar(&cl.Theme, "theme", "", "with --watch: colours for a terminal of this `BACKGROUND`, light or dark")

	var th command.Theory
	theory := &cobra.Command{Use: "theory [TOPIC]", Short: "The notes: derivation, precautions, sources of error, questions", Args: names(0, "topic"),
		RunE: func(_ *cobra.Command, args []string) error { return th.Run(desk, strings.Join(args, "")) }}
	for _, way := range []struct {
		of      *cobra.Command
		to      *command.Paper
		formats string
	}{{written, &rep.Paper, "html, pdf, md or csv"}, {theory, &th.Paper, "html, pdf or md"}, {classes, &cl.Paper, "html or csv"}} {
		f := way.of.Flags()
		f.StringVar(&way.to.To, "to", "", "the `FORMAT`: "+way.formats+"; left out, what the file's name ends in")
		f.StringVar(&way.to.Out, "out", "", "write to `FILE`")
		f.BoolVar(&way.to.Force, "force", false, "replace the file if it is there")
	}

	root.AddCommand(guide, practise, plan, result, written, theory, working, convert, classes)
	return root
}
