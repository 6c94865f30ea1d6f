// Package tree is the command tree: names, flags, help, examples and what a
// shell can complete. What each command does is tui/command's; main makes
// exit statuses of errors.
package tree

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"example.org/halve/procedure"
	"example.org/halve/tui/command"
	"example.org/halve/tui/conversion"
)

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

// New is the command tree, for a program of that version.
func New(desk command.Desk) *cobra.Command {
	root := &cobra.Command{
		Use:   "halve",
		Short: "Measure a galvanometer's resistance and figure of merit by half deflection",
		Long: `halve goes with a student, a technician or a demonstrator through the
half-deflection measurement of a moving-coil galvanometer: its resistance G
and its figure of merit k. Alone it opens its screens.`,
		Example: `  halve                  the screens: begin, go on, practise, read
  halve guide --plain    a practical at the bench, line by line
  halve practise --auto  on a simulated bench, by a scripted student`,
		Args:          cobra.NoArgs,
		Version:       desk.Version,
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
	s := shell{desk}
	root.AddCommand(s.guide(), s.practise(), s.plan(), s.result(), s.report(), s.theory(), s.working(), s.convert(), s.class())
	ownWords(root)
	return root
}

// shell makes the commands and says what completes their words.
type shell struct{ desk command.Desk }

func (s shell) guide() *cobra.Command {
	var g command.Guide
	c := &cobra.Command{
		Use:   "guide [RECORD]",
		Short: "Begin or resume a practical at the bench",
		Long: `Goes with you through a practical at the real bench: what to do next, whether
a key may be closed, what the needle should show, and what the readings say so
far. Every step is written into RECORD; without one a new record is begun.`,
		Example: `  halve guide                          begin, on the screens
  halve guide --record monday.jsonl    begin, or go on with, this record
  halve guide --plain monday.jsonl     go on with it, line by line
  halve guide --table rows.csv         take over a table written on paper
  halve guide --procedure meter-check  compare a panel meter with a better one`,
		Args:              names(0, "record"),
		ValidArgsFunction: first(s.records),
		RunE:              func(c *cobra.Command, args []string) error { return g.Run(c.Context(), s.desk, args) },
	}
	c.Flags().StringVar(&g.Table, "table", "", "take over the table of rows in the CSV `FILE`, written on paper before")
	c.Flags().BoolVar(&g.Lines, "lines", false, "JSON Lines: an event a line in, a counsel a line out")
	complete(c, "table", ending("csv"))
	way(c, &g.Way, &g.Procedure, "take the bench from `FILE`")
	complete(c, "bench", ending("json"))
	complete(c, "record", s.records)
	return c
}

func (s shell) practise() *cobra.Command {
	var p command.Practise
	c := &cobra.Command{
		Use:   "practise",
		Short: "Practise on a simulated bench",
		Long: `The same practical on a simulated bench: on the screens under your own hands,
with --plain line by line. The record says that it was simulated, and at the
end it is said how it went.`,
		Example: `  halve practise                         on the screens, by your own hands
  halve practise --exercises             which benches there are
  halve practise --bench find-the-fault  something is wrong: find out what
  halve practise --fault any --seed 7    the same; the seed decides what it is
  halve practise --plain                 line by line
  halve practise --auto --seed 7         by a scripted student who obeys`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			p.SeedGiven = c.Flags().Changed("seed")
			return p.Run(c.Context(), s.desk)
		},
	}
	f := c.Flags()
	f.Uint64Var(&p.Seed, "seed", 1, "the number `N` decides the simulated bench: the same number, the same bench")
	f.StringVar(&p.Fault, "fault", "", "a fault on the bench, by its `ID`, or any; a record remembers it")
	f.BoolVar(&p.Still, "still", false, "nothing moves: the needle is shown when it has come to rest")
	f.BoolVar(&p.Examination, "examination", false, "the guide is switched off; at the end it is said how it went")
	f.BoolVar(&p.Exercises, "exercises", false, "list the stock of benches to practise on, for --bench")
	f.BoolVar(&p.Schema, "schema", false, "print the JSON Schema of a bench file")
	f.BoolVar(&p.Example, "example", false, "print an example of a bench file, a planted fault included")
	f.BoolVar(&p.Auto, "auto", false, "a scripted student obeys every counsel; prints record, result and hidden truth")
	f.BoolVar(&p.JSON, "json", false, "with --auto: as JSON")
	complete(c, "fault", faults)
	way(c, &p.Way, &p.Procedure, "take the bench from `FILE`, or an exercise by its name")
	complete(c, "bench", exercises)
	complete(c, "record", s.records)
	return c
}

// way gives a command the flags of a practical.
func way(c *cobra.Command, to *command.Way, procedure *string, bench string) {
	f := c.Flags()
	f.StringVar(procedure, "procedure", command.HalfDeflection, "the `PROCEDURE`: half-deflection, or meter-check for a panel meter")
	f.StringVar(&to.Record, "record", "", "the record `FILE`: begun if absent, resumed if it is a record")
	f.StringVar(&to.Bench, "bench", "", bench)
	f.BoolVar(&to.Plain, "plain", false, "a plain dialogue, one line at a time: screen readers, serial consoles, pipes")
	f.BoolVar(&to.ASCII, "ascii", false, "draw with ASCII signs only")
	theme(c, &to.Theme, "")
	f.IntVar(&to.Minutes, "minutes", 0, "the time there is: `N` minutes")
	complete(c, "procedure", oneOf(command.HalfDeflection, command.MeterCheck))
}

func theme(c *cobra.Command, to *string, when string) {
	c.Flags().StringVar(to, "theme", "", when+"colours for a terminal of this `BACKGROUND`, light or dark")
	complete(c, "theme", oneOf("light", "dark"))
}

func (s shell) plan() *cobra.Command {
	var p command.Plan
	c := &cobra.Command{
		Use:   "plan --bench FILE",
		Short: "Say before the session whether a bench will do",
		Long: `Says before anybody comes whether the instruments of a bench file will do,
what will be set, and how well G and k can be known. Of a folder of bench
files it prints a card each.`,
		Example: `  halve practise --example > bench.json
  halve plan --bench bench.json
  halve plan --bench bench.json --json`,
		Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error { return p.Run(s.desk) },
	}
	c.Flags().StringVar(&p.Bench, "bench", "", "the bench `FILE`, or a folder of them: a card for each")
	c.Flags().BoolVar(&p.JSON, "json", false, "as JSON: an object, for a folder an array")
	complete(c, "bench", ending("json"))
	return c
}

func (s shell) result() *cobra.Command {
	var r command.Result
	c := &cobra.Command{
		Use:   "result RECORD",
		Short: "Show what a record amounts to",
		Long: `Shows the result of a record with its uncertainty: where the uncertainty comes
from, the schoolbook's answer beside it, and the interval by Monte Carlo.`,
		Example: `  halve result monday.jsonl
  halve result monday.jsonl --json`,
		Args:              names(1, "record"),
		ValidArgsFunction: first(s.records),
		RunE:              func(c *cobra.Command, args []string) error { return r.Run(c.Context(), s.desk, args[0]) },
	}
	c.Flags().BoolVar(&r.JSON, "json", false, "as JSON")
	c.Flags().IntVar(&r.Trials, "trials", 0, "`N` Monte Carlo trials; left out, as many as the numbers need")
	c.Flags().Uint64Var(&r.Seed, "seed", 1, "the number `N` decides the trials: the same number, the same trials")
	return c
}

func (s shell) report() *cobra.Command {
	var r command.Report
	c := &cobra.Command{
		Use:   "report RECORD",
		Short: "Write the laboratory report of a record",
		Long: `Turns a record into a document to hand in: what was done, the readings with
what was struck, one row worked in full, the graph, the result with its
uncertainty. Without --out it goes to standard output.`,
		Example: `  halve report monday.jsonl --out monday.pdf
  halve report monday.jsonl --out monday.html --for demonstrator
  halve report monday.jsonl --to csv`,
		Args:              names(1, "record"),
		ValidArgsFunction: first(s.records),
		RunE:              func(c *cobra.Command, args []string) error { return r.Run(c.Context(), s.desk, args[0]) },
	}
	c.Flags().StringVar(&r.For, "for", "", "whose `COPY`: student, or demonstrator with findings and slips")
	complete(c, "for", oneOf("student", "demonstrator"))
	paper(c, &r.Paper, "html", "pdf", "md", "csv")
	return c
}

// paper gives a command the flags of what is written to a file, in one of the
// formats.
func paper(c *cobra.Command, to *command.Paper, formats ...string) {
	f, last := c.Flags(), len(formats)-1
	f.StringVar(&to.To, "to", "", "the `FORMAT`: "+strings.Join(formats[:last], ", ")+" or "+formats[last]+"; left out, what the file's name ends in")
	f.StringVar(&to.Out, "out", "", "write to `FILE`")
	f.BoolVar(&to.Force, "force", false, "replace the file if it is there")
	complete(c, "to", oneOf(formats...))
	complete(c, "out", ending(formats...))
}

func (s shell) theory() *cobra.Command {
	var t command.Theory
	c := &cobra.Command{
		Use:   "theory [TOPIC]",
		Short: "Show the notes: derivation, precautions, sources of error, questions",
		Long: `Shows the notes for the practical and its examination, all of them or those on
one topic.`,
		Example: `  halve theory
  halve theory derivation
  halve theory --out notes.pdf`,
		Args:              names(0, "topic"),
		ValidArgsFunction: first(topics),
		RunE:              func(_ *cobra.Command, args []string) error { return t.Run(s.desk, strings.Join(args, "")) },
	}
	paper(c, &t.Paper, "html", "pdf", "md")
	return c
}

func (s shell) working() *cobra.Command {
	var w command.Working
	c := &cobra.Command{
		Use:   "working",
		Short: "Check a hand calculation and name the slip",
		Long: `Compares G or k worked out by hand with what one row's readings give, and
names the slip that explains a wrong value. A QUANTITY is typed as people
write it: 4.7k, 1.5V, 18uA/div.`,
		Example: `  halve working --emf 1.5V --series 3k --shunt 90 --first 24 --resistance 92.8
  halve working --emf 1.5V --series 3k --shunt 90 --first 24 --merit 20uA`,
		Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error { return w.Run(s.desk) },
	}
	for _, f := range []struct {
		to          *string
		name, usage string
	}{
		{&w.EMF, "emf", "the source's EMF, a `QUANTITY`"},
		{&w.Series, "series", "the series box R, a `QUANTITY`"},
		{&w.Shunt, "shunt", "the shunt box S, a `QUANTITY`"},
		{&w.First, "first", "the first deflection, a `QUANTITY`"},
		{&w.Shunted, "shunted", "the shunted deflection, a `QUANTITY`; left out, the exact half"},
		{&w.SourceResistance, "source-resistance", "the source's internal resistance, a `QUANTITY`"},
		{&w.Divisions, "divisions", "the divisions from zero to the end, a `QUANTITY`"},
		{&w.Resolution, "resolution", "the step to which the scale is read, a `QUANTITY`"},
		{&w.Resistance, "resistance", "the resistance G that you worked out, a `QUANTITY`"},
		{&w.Merit, "merit", "the figure of merit k that you worked out, a `QUANTITY`"},
	} {
		c.Flags().StringVar(f.to, f.name, "", f.usage)
		complete(c, f.name, oneOf())
	}
	c.Flags().BoolVar(&w.JSON, "json", false, "as JSON, an object a line")
	return c
}

func (s shell) convert() *cobra.Command {
	var cv command.Convert
	c := &cobra.Command{
		Use:   "convert ammeter|voltmeter|universal",
		Short: "Make an ammeter or a voltmeter of a movement",
		Long: `Works out what makes an ammeter, a voltmeter or a meter of several ranges of a
movement: exact and preferred values, what they leave of an error, power,
burden, the wire of a shunt. A QUANTITY is typed as people write it: 90, 1mA,
10V.`,
		Example: `  halve convert ammeter --resistance 90 --full-scale 1mA --range 1A
  halve convert voltmeter --resistance 90 --full-scale 1mA --range 15V
  halve convert universal --from monday.jsonl --range 10mA --range 1A`,
		ValidArgsFunction: first(oneOf("ammeter", "voltmeter", "universal")),
		RunE:              func(_ *cobra.Command, args []string) error { return cv.Run(s.desk, args) },
	}
	for _, f := range []struct {
		to                 *string
		name, value, usage string
		with               cobra.CompletionFunc
	}{
		{&cv.Resistance, "resistance", "", "the movement's resistance, a `QUANTITY`", oneOf()},
		{&cv.FullScale, "full-scale", "", "the movement's full-scale current, a `QUANTITY`", oneOf()},
		{&cv.From, "from", "", "take the movement, with its uncertainties, from `RECORD`", s.records},
		{&cv.Series, "series", conversion.Series.String(), "the preferred values to choose from, a `SERIES` from E3 to E192", preferredSeries},
		{&cv.Source, "source-resistance", "", "the loading error on a source, or in a loop, of this resistance, a `QUANTITY`", oneOf()},
		{&cv.Swamp, "swamp", "", "a swamping resistor in series with the coil, a `QUANTITY`", oneOf()},
		{&cv.Rise, "rise", "", "by how many kelvin the coil is warmer, a `NUMBER`; left out, 10", oneOf()},
		{&cv.Within, "within", "", "the error that a swamping resistor is to leave of it, a `PERCENTAGE`; left out, 0.5 %", oneOf()},
		{&cv.Metal, "wire", conversion.Metal, "the `METAL` of a shunt's wire: manganin, constantan or copper", metals},
		{&cv.Gauge, "gauge", "", "its `GAUGE`: SWG 22, AWG 22 or 0.5 mm; left out, one that carries the current", oneOf()},
	} {
		c.Flags().StringVar(f.to, f.name, f.value, f.usage)
		complete(c, f.name, f.with)
	}
	c.Flags().StringArrayVar(&cv.Ranges, "range", nil, "a full scale of the finished meter, a `QUANTITY`; repeat it for more ranges")
	complete(c, "range", oneOf())
	c.Flags().BoolVar(&cv.Chain, "chain", false, "a voltmeter's multipliers in one string with a tap for each range")
	c.Flags().BoolVar(&cv.JSON, "json", false, "as JSON")
	return c
}

func (s shell) class() *cobra.Command {
	var cl command.Class
	c := &cobra.Command{
		Use:   "class DIR",
		Short: "Go through the records of a class: what to send back, what was measured",
		Long: `Goes through the records below a folder: what to send back and why, what each
instrument comes to, which cells ail, what stands in each record. With --watch
it follows them during the practical.`,
		Example: `  halve class monday
  halve class monday --watch
  halve class monday --anonymous --out monday.html`,
		Args:              names(1, "folder"),
		ValidArgsFunction: first(folders),
		RunE:              func(c *cobra.Command, args []string) error { return cl.Run(c.Context(), s.desk, args[0]) },
	}
	c.Flags().BoolVar(&cl.JSON, "json", false, "as JSON")
	c.Flags().BoolVar(&cl.Watch, "watch", false, "follow the records on the screens while they grow")
	c.Flags().BoolVar(&cl.Anonymous, "anonymous", false, "numbers of pairs in the place of names and files")
	c.Flags().BoolVar(&cl.ASCII, "ascii", false, "with --watch: draw with ASCII signs only")
	theme(c, &cl.Theme, "with --watch: ")
	paper(c, &cl.Paper, "html", "csv")
	return c
}

// ownWords says what the commands that cobra adds are for in the manner of the
// others, and has them refuse what they do not know.
func ownWords(root *cobra.Command) {
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd()
	for _, c := range root.Commands() {
		switch c.Name() {
		case "help":
			c.Short, c.Long = "Show the help of a command", "Shows the help of a command, as --help does."
			c.Args = func(_ *cobra.Command, args []string) error {
				if of, rest, err := root.Find(args); err != nil || len(rest) > 0 {
					return fmt.Errorf("there is no command %q", strings.TrimPrefix(of.CommandPath()+" "+strings.Join(rest, " "), "halve "))
				}
				return nil
			}
		case "completion":
			c.Short = "Write the script that lets a shell complete commands, flags and names"
			c.Long = `Writes the script by which a shell completes commands, flags, records, faults,
exercises and topics when Tab is pressed. The help of each shell's command
says where the script goes.`
			c.Args = func(_ *cobra.Command, args []string) error {
				if len(args) == 0 {
					return errors.New("completion needs the name of a shell: bash, fish, powershell or zsh")
				}
				return fmt.Errorf("completion is for bash, fish, powershell or zsh, not %q", args[0])
			}
			c.Run = func(*cobra.Command, []string) {} // what cannot be run has its words not looked at
			for _, of := range c.Commands() {
				of.Short, of.Long = "Write the script for "+of.Name(), "Writes the script for "+of.Name()+".\n\n"+placeOf[of.Name()]
				of.Flags().Lookup("no-descriptions").Usage = "names alone, without what they are"
			}
		}
	}
	var flags func(c *cobra.Command)
	flags = func(c *cobra.Command) {
		c.InitDefaultHelpFlag()
		c.Flags().Lookup("help").Usage = "show this help"
		for _, of := range c.Commands() {
			flags(of)
		}
	}
	flags(root)
	root.InitDefaultVersionFlag()
	if f := root.Flags().Lookup("version"); f != nil { // there is none where no version is known
		f.Usage = "show version, commit and Go's version"
	}
}

// placeOf says where the script of each shell goes.
var placeOf = map[string]string{
	"bash": `It needs the package bash-completion. For this session:

  source <(halve completion bash)

For every session:

  halve completion bash > ~/.local/share/bash-completion/completions/halve`,
	"zsh": `For every session, where compinit is called in ~/.zshrc:

  halve completion zsh > "${fpath[1]}/_halve"`,
	"fish": `For this session:

  halve completion fish | source

For every session:

  halve completion fish > ~/.config/fish/completions/halve.fish`,
	"powershell": `For this session, and, as a line of the profile, for every session:

  halve completion powershell | Out-String | Invoke-Expression`,
}
