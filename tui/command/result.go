package command

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
)

// Result is what the readings of a record say.
type Result struct {
	JSON bool
}

// Run prints the result of the record at path.
func (r Result) Run(d Desk, path string) error {
	log, err := record.Read(path)
	if err != nil {
		return err
	}
	if note := log.CutNote(); note != "" {
		fmt.Fprintf(d.Err, "halve: %s\n", note)
	}
	c := procedure.Advise(log.State)
	if r.JSON {
		return writeJSON(d.Out, struct {
			Result   *procedure.Result   `json:"result"`
			Rows     []procedure.Row     `json:"rows"`
			Findings []procedure.Finding `json:"findings"`
		}{c.Result, c.Rows, c.Findings})
	}
	t := text{w: d.Out}
	t.result(c)
	t.line("Record: %s", procedure.CleanText(path, 500))
	return t.err
}

func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// text writes lines and keeps the first failure.
type text struct {
	w   io.Writer
	err error
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
		t.line("Finding (%.0f %%): %s %s", 100*f.Probability, f.Say, f.Try)
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
	for _, l := range strings.Split(strings.TrimRight(b.String(), "\n"), "\n") {
		t.line("%s", strings.TrimRight(l, " "))
	}
}
