package report

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"

	"example.org/halve/procedure"
)

// CSV writes the rows of a record, a line each after a line of names (RFC
// 4180), numbers in SI units with every digit. What is not known is empty.
//
// A cell of text that a spreadsheet would run as a formula begins with an
// apostrophe (common practice, no source).
func CSV(w io.Writer, in Input) error {
	seen := observe(in.Events, in.State)
	c := csv.NewWriter(w)
	c.UseCRLF = true
	lines := [][]string{{"row", "series_ohm", "first_div", "shunt_ohm", "shunted_div", "ratio",
		"resistance_ohm", "u_resistance_ohm", "merit_A_per_div", "u_merit_A_per_div", "struck", "remark"}}
	for _, r := range in.Analysis.Rows {
		ratio := ""
		if r.FirstDiv != 0 {
			ratio = full(r.ShuntedDiv / r.FirstDiv)
		}
		lines = append(lines, []string{
			strconv.Itoa(r.Row), full(r.SeriesOhm), full(r.FirstDiv), full(r.ShuntOhm), full(r.ShuntedDiv), ratio,
			full(known(r.Resistance)), full(known(r.UResistance)), full(known(r.Merit)), full(known(r.UMerit)),
			strconv.FormatBool(r.Struck), defuse(seen.reason(r, in.State)),
		})
	}
	if err := c.WriteAll(lines); err != nil {
		return err
	}
	return c.Error()
}

// reason is why a row is struck, "" for one in force: the reason given for
// whatever of it was struck first.
func (a account) reason(r procedure.Row, s *procedure.State) string {
	if !r.Struck {
		return ""
	}
	at := a.rows[r.Row-1]
	run := a.runs[at.run]
	b := run.branches[at.branch]
	seqs := []int{b.kept, run.series.seq, b.shunt.seq}
	for _, rd := range run.first {
		seqs = append(seqs, rd.seq)
	}
	for _, rd := range b.readings {
		seqs = append(seqs, rd.seq)
	}
	for _, seq := range seqs {
		if by := s.Struck(seq); by > 0 && a.why[by] != "" {
			return a.why[by]
		}
	}
	return ""
}

// starters are the signs at which a spreadsheet takes a cell for a formula,
// the full-width ones among them.
const starters = "=+-@\t\r\n|%＝＋－＠"

// defuse makes a cell of text harmless for a spreadsheet. A number stays a
// number, with its sign.
func defuse(cell string) string {
	trimmed := strings.TrimLeft(cell, " \u00a0\"'")
	if trimmed == "" {
		return cell
	}
	if _, err := strconv.ParseFloat(strings.TrimSpace(cell), 64); err == nil {
		return cell
	}
	if first := []rune(trimmed)[0]; strings.ContainsRune(starters, first) {
		return "'" + cell
	}
	return cell
}
