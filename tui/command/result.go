package command

import (
	"context"
	"fmt"
	"io"
	"math"
	"strings"
	"text/tabwriter"

	"example.org/halve/physics/montecarlo"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
	"example.org/halve/tui/lines"
)

// Result is what the readings of a record say.
type Result struct {
	JSON   bool
	Trials int    // Monte Carlo trials; 0 for as many as JCGM 101, 7.9 asks for
	Seed   uint64 // of the trials
}

// skewed is the relative standard uncertainty of G above which the Monte Carlo
// interval is the one that is shown: the ratio then skews it noticeably.
const skewed = 0.05

// trials is the Monte Carlo part of the JSON. Intervals are [low, high], the
// probabilistically symmetric ones and the shortest ones.
type trials struct {
	Trials          int        `json:"trials"`
	Adaptive        bool       `json:"adaptive"`
	Resistance      float64    `json:"resistance_ohm"`
	UResistance     float64    `json:"u_resistance_ohm"`
	Interval95      [2]float64 `json:"interval95_resistance_ohm"`
	Shortest95      [2]float64 `json:"shortest95_resistance_ohm"`
	Merit           float64    `json:"merit_A_per_div"`
	UMerit          float64    `json:"u_merit_A_per_div"`
	MeritInterval95 [2]float64 `json:"interval95_merit_A_per_div"`
	MeritShortest95 [2]float64 `json:"shortest95_merit_A_per_div"`
	Correlation     float64    `json:"correlation"`
}

func newTrials(r montecarlo.Result) *trials {
	g, k := r.Outputs[0], r.Outputs[1]
	return &trials{r.Trials, r.Adaptive, g.Mean, g.U, g.Interval95, g.Shortest95, k.Mean, k.U, k.Interval95, k.Shortest95, r.Correlation}
}

// check refuses what the flags cannot be.
func (r Result) check() error {
	if r.Trials != 0 && r.Trials < montecarlo.MinTrials {
		return callError("--trials is %d or more, or left out for as many as are needed", montecarlo.MinTrials)
	}
	return nil
}

// Run prints the result of the record at path.
func (r Result) Run(ctx context.Context, d Desk, path string) error {
	if err := r.check(); err != nil {
		return err
	}
	if name, err := ofRecord(path, HalfDeflection); err == nil && name == MeterCheck {
		return r.meter(d, path)
	}
	log, err := record.Read(path)
	if err != nil {
		return err
	}
	if note := log.CutNote(); note != "" {
		fmt.Fprintf(d.Err, "halve: %s\n", note)
	}
	a := procedure.Analyse(log.State)
	var mc *trials
	if a.Fit != nil {
		m, err := a.Fit.Trials(ctx, r.Trials, r.Seed)
		if err != nil {
			return fmt.Errorf("monte carlo: %w", err)
		}
		mc = newTrials(m)
	}
	if r.JSON {
		return writeJSON(d.Out, struct {
			Result     *procedure.Result     `json:"result"`
			Rows       []procedure.Row       `json:"rows"`
			Findings   []procedure.Finding   `json:"findings"`
			Budget     *procedure.Budget     `json:"budget"`
			Schoolbook *procedure.Schoolbook `json:"schoolbook"`
			MonteCarlo *trials               `json:"monte_carlo"`
			Remarks    []string              `json:"remarks"`
		}{a.Result, a.Rows, a.Findings, a.Budget, a.Schoolbook, mc, a.Remarks})
	}
	t := text{w: d.Out}
	t.result(a.Counsel)
	t.behind(a, mc)
	t.line("")
	t.line("Record: %s", procedure.CleanText(path, 500))
	return t.err
}

// behind writes what stands behind a result.
func (t *text) behind(a procedure.Analysis, mc *trials) {
	if mc != nil {
		t.line("")
		t.line("Monte Carlo, %d trials     G = %s, 95 %% in %s", mc.Trials, measured(&mc.Resistance, &mc.UResistance, quantity.Ohm), interval(mc.Interval95, mc.UResistance, quantity.Ohm))
		t.line("                           k = %s, 95 %% in %s", measured(&mc.Merit, &mc.UMerit, quantity.AmperePerDivision), interval(mc.MeritInterval95, mc.UMerit, quantity.AmperePerDivision))
		if r := a.Result; r.Resistance != nil && *r.UResistance > skewed**r.Resistance && a.Fit.Inflation <= 1 {
			t.line("G is known to no better than 5 %%: the interval by Monte Carlo is the one to state.")
		}
	}
	if s := a.Schoolbook; s != nil {
		t.line("")
		t.line("By the schoolbook, mean of the rows (with Student's t to 95 %%):")
		t.line("  G = %s, standard error %s, to 95 %% ± %s", quantity.Format(known(s.MeanResistance), quantity.Ohm, 4), quantity.Format(known(s.SEResistance), quantity.Ohm, 2), quantity.Format(known(s.U95Resistance), quantity.Ohm, 2))
		t.line("  k = %s, standard error %s, to 95 %% ± %s", quantity.Format(known(s.MeanMerit), quantity.AmperePerDivision, 4), quantity.Format(known(s.SEMerit), quantity.AmperePerDivision, 2), quantity.Format(known(s.U95Merit), quantity.AmperePerDivision, 2))
	}
	if a.Budget != nil {
		t.line("")
		t.line("Where the uncertainty comes from:")
		t.budget("G", a.Budget.Resistance, quantity.Ohm)
		t.budget("k", a.Budget.Merit, quantity.AmperePerDivision)
	}
	for i, r := range a.Remarks {
		if i == 0 {
			t.line("")
		}
		t.line("%s", r)
	}
}

func (t *text) budget(of string, lines []procedure.BudgetLine, unit quantity.Unit) {
	var b strings.Builder
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', tabwriter.AlignRight)
	for _, l := range lines {
		fmt.Fprintf(w, "  u(%s)\t%s\t%s\t%.0f %%\t\n", of, l.Input, quantity.Format(l.Contribution, unit, 2), 100*l.Share)
	}
	w.Flush()
	t.table(b.String())
}

// interval writes one to the place of two figures of the uncertainty.
func interval(i [2]float64, u float64, unit quantity.Unit) string {
	figures := func(v float64) int {
		return min(17, max(2, int(math.Floor(math.Log10(math.Abs(v))))-int(math.Floor(math.Log10(u)))+2))
	}
	return quantity.Format(i[0], unit, figures(i[0])) + " to " + quantity.Format(i[1], unit, figures(i[1]))
}

func writeJSON(w io.Writer, v any) error {
	line, err := lines.Line(v)
	if err != nil {
		return err
	}
	_, err = w.Write(line)
	return err
}

// text writes lines and keeps the first failure.
type text struct {
	w   io.Writer
	err error
}

// record lists what the scripted student wrote down.
func (t *text) record(events []procedure.Event, struck func(seq int) int, describe func(procedure.Body) string) {
	t.line("The scripted student's record:")
	for _, e := range events {
		by := ""
		if struck(e.Seq) != 0 {
			by = ", struck out"
		}
		t.line("%4d  %s%s", e.Seq, describe(e.Body), by)
	}
}

func (t *text) line(format string, a ...any) {
	if t.err == nil {
		_, t.err = fmt.Fprintf(t.w, format+"\n", a...)
	}
}

// result writes the rows as a table and what they come to.
func (t *text) result(c procedure.Counsel) {
	if len(c.Rows) > 0 {
		t.rows(c.Rows)
		t.line("")
	}
	if c.Result == nil {
		t.line("No result yet: it comes with the first kept row.")
	} else {
		r := c.Result
		t.line("Galvanometer resistance  G = %s, to 95 %%: %s",
			measured(r.Resistance, r.UResistance, quantity.Ohm), measured(r.Resistance, r.U95Resistance, quantity.Ohm))
		t.line("Figure of merit          k = %s, to 95 %%: %s",
			measured(r.Merit, r.UMerit, quantity.AmperePerDivision), measured(r.Merit, r.U95Merit, quantity.AmperePerDivision))
		t.line("Full-scale current           %s", quantity.Format(known(r.FullScale), quantity.Ampere, 3))
		t.line("The first ± is one standard uncertainty.")
	}
	for _, f := range c.Findings {
		chance := procedure.Chance(f.Probability)
		if chance != "" {
			chance = " (" + chance + ")"
		}
		t.line("Finding%s: %s %s", chance, f.Say, f.Try)
	}
}

func (t *text) rows(rows []procedure.Row) {
	var b strings.Builder
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "row\tseries/Ω\tfirst/div\tshunt/Ω\tshunted/div\tG\tk\t")
	for _, r := range rows {
		struck := ""
		if r.Struck {
			struck = "struck"
		}
		fmt.Fprintf(w, "%d\t%g\t%.4g\t%g\t%.4g\t%s\t%s\t%s\n", r.Row, r.SeriesOhm, r.FirstDiv, r.ShuntOhm, r.ShuntedDiv,
			measured(r.Resistance, r.UResistance, quantity.Ohm), measured(r.Merit, r.UMerit, quantity.AmperePerDivision), struck)
	}
	w.Flush()
	t.table(b.String())
}

// table writes lined-up text without the blanks that fill its lines.
func (t *text) table(s string) {
	for _, l := range strings.Split(strings.TrimRight(s, "\n"), "\n") {
		t.line("%s", strings.TrimRight(l, " "))
	}
}
