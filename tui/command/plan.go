package command

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"github.com/charmbracelet/x/ansi"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/safety"
)

// Plan says before a session what a bench is good for.
type Plan struct {
	Bench string // a bench file, or a folder of them
	JSON  bool
}

// Bounds on a folder of bench files: what is read of its list, and how many
// bench files are taken.
const (
	maxFolder     = 10000
	maxBenchFiles = 500
)

// Run prints the plan for a bench file, or a card for each bench file of a
// folder.
func (p Plan) Run(d Desk) error {
	if p.Bench == "" {
		return callError("name a bench file, or a folder of them, with --bench")
	}
	if info, err := os.Stat(p.Bench); err == nil && info.IsDir() {
		return p.folder(d)
	}
	b, plan, err := planFile(p.Bench)
	if err != nil {
		return err
	}
	if p.JSON {
		return writeJSON(d.Out, plan)
	}
	t := text{w: d.Out}
	t.plan(b, plan)
	return t.err
}

// planFile reads a bench file and plans for it.
func planFile(path string) (apparatus.Bench, procedure.Plan, error) {
	stated, _, err := readBench(path)
	if err != nil {
		return apparatus.Bench{}, procedure.Plan{}, err
	}
	plan, err := procedure.PlanFor(stated.Bench)
	if err != nil {
		err = fmt.Errorf("bench file %s: %w", procedure.CleanText(path, 500), err)
	}
	return stated.Bench, plan, err
}

// filePlan is one bench file's plan among those of a folder.
type filePlan struct {
	File  string `json:"file"`
	Label string `json:"label,omitempty"`
	procedure.Plan
}

// folder prints a card, or an element of a JSON array, for each bench file of
// a folder, in the order of their names. A file that is none is named on
// standard error, and the others are done all the same.
func (p Plan) folder(d Desk) error {
	names, others, err := benchFiles(p.Bench)
	if err != nil {
		return err
	}
	plans, bad, written := []filePlan{}, 0, 0
	for _, name := range names {
		b, plan, err := planIn(p.Bench, name)
		if err != nil {
			bad++
			fmt.Fprintf(d.Err, "halve: %s\n", procedure.CleanText(err.Error(), 1000))
			continue
		}
		if p.JSON {
			plans = append(plans, filePlan{shown(name), procedure.CleanText(b.Label, apparatus.MaxLabel), plan})
			continue
		}
		t := text{w: d.Out}
		if written++; written > 1 {
			t.line("")
		}
		t.card(name, b, plan)
		if t.err != nil {
			return t.err
		}
	}
	if p.JSON {
		if err := writeJSON(d.Out, plans); err != nil {
			return err
		}
	}
	if others > 0 {
		fmt.Fprintf(d.Err, "halve: %d other entries were not looked at: a bench file's name ends in .json\n", others)
	}
	if bad > 0 {
		return fmt.Errorf("no plan for %d of %d bench files: mend those named, and try again", bad, len(names))
	}
	return nil
}

// benchFiles lists the names in a folder that end in .json, sorted, and counts
// the others; hidden files and folders do not count.
func benchFiles(path string) (names []string, others int, err error) {
	bad := func(err error) ([]string, int, error) {
		return nil, 0, fmt.Errorf("folder %s: %w", procedure.CleanText(path, 500), err)
	}
	dir, err := os.Open(path)
	if err != nil {
		return bad(plainly(err))
	}
	defer dir.Close()
	entries, err := dir.ReadDir(maxFolder + 1)
	if err != nil && err != io.EOF {
		return bad(plainly(err))
	}
	if len(entries) > maxFolder {
		return bad(fmt.Errorf("it has more than %d entries: give the bench files a folder of their own", maxFolder))
	}
	for _, e := range entries {
		switch name := e.Name(); {
		case strings.HasPrefix(name, "."), e.IsDir():
		case strings.EqualFold(filepath.Ext(name), ".json"):
			names = append(names, name)
		default:
			others++
		}
	}
	switch {
	case len(names) == 0:
		return bad(errors.New("no bench file in it: a bench file's name ends in .json"))
	case len(names) > maxBenchFiles:
		return bad(fmt.Errorf("it has %d bench files, at most %d are taken", len(names), maxBenchFiles))
	}
	slices.Sort(names)
	return names, others, nil
}

// planIn plans for a bench file of a folder. What is no ordinary file, as a
// pipe that nobody writes to, is not opened.
func planIn(dir, name string) (apparatus.Bench, procedure.Plan, error) {
	path := filepath.Join(dir, name)
	info, err := os.Stat(path)
	if err == nil && !info.Mode().IsRegular() {
		err = errors.New("it is no ordinary file")
	}
	if err != nil {
		return apparatus.Bench{}, procedure.Plan{}, fmt.Errorf("bench file %s: %w", procedure.CleanText(path, 500), plainly(err))
	}
	return planFile(path)
}

// plainly is a file's error without its path, which the reader has already.
func plainly(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}

// shown is a file's name fit to be shown.
func shown(name string) string { return procedure.CleanText(name, 200) }

// cardWidth is the width of a card in columns: it is printed on paper.
const cardWidth = 78

// indented writes a name in the margin and a text beside it, wrapped.
func (t *text) indented(name, format string, a ...any) {
	const margin = 14
	words := procedure.CleanText(fmt.Sprintf(format, a...), 4000)
	for i, l := range strings.Split(ansi.Wrap(words, cardWidth-margin, ""), "\n") {
		if i > 0 {
			name = ""
		}
		t.line("%-*s%s", margin, name, strings.TrimRight(l, " "))
	}
}

// card is what a demonstrator lays beside a set.
func (t *text) card(name string, b apparatus.Bench, p procedure.Plan) {
	label := procedure.CleanText(b.Label, apparatus.MaxLabel)
	if label == "" {
		label = shown(name)
	}
	t.line("%s", strings.Repeat("-", cardWidth))
	t.line("%s", ansi.Truncate(label, cardWidth, "…"))
	if label != shown(name) {
		t.line("%s", ansi.Truncate("file "+shown(name), cardWidth, "…"))
	}
	t.line("")
	t.indented("Verdict", "%s %s", verdictWord(p), p.Because)
	t.change(p)
	t.start(p)
	t.instruments(b)
	t.known(b, p)
	t.deflections(p)
	for _, c := range append(safety.Cautions("bench"), safety.Cautions("first")...) {
		t.indented("Caution", "%s", c.Text)
	}
	t.question(b)
}

// plan is the whole plan for one bench.
func (t *text) plan(b apparatus.Bench, p procedure.Plan) {
	if label := procedure.CleanText(b.Label, apparatus.MaxLabel); label != "" {
		t.line("%s", ansi.Truncate(label, cardWidth, "…"))
		t.line("")
	}
	t.indented("Verdict", "%s %s", verdictWord(p), p.Because)
	t.change(p)
	t.line("")
	t.instruments(b)
	t.known(b, p)
	t.question(b)
	t.start(p)
	if r := p.Range; r != nil {
		t.line("")
		if !p.Credible.MeritStated {
			t.indented("Settings", "Nothing states the full scale, so the series values can only be settled at the bench: after the first reading the counsel gives them. They will lie between %s and %s; the halving shunt is %s.",
				ohm(r.SeriesLow), ohm(r.SeriesHigh), between(r.HalvingLow, r.HalvingHigh))
		} else {
			t.indented("Settings", "Five rows, as the plates let expect them; after the first reading the counsel gives the values anew. In brackets, what is credible.")
		}
		t.line("")
		t.settings(b, p)
		t.line("")
		t.indented("Expected", "u(G)/G %s, u(k)/k %s; at the most %s and %s.", part(p.Expected.UResistance), part(p.Expected.UMerit), part(p.Expected.UResistanceMost), part(p.Expected.UMeritMost))
		t.indented("Doubt in G", "%s", shares(p.Limits.Resistance))
		t.indented("Doubt in k", "%s", shares(p.Limits.Merit))
	}
}

func (t *text) change(p procedure.Plan) {
	for _, c := range p.Change {
		t.indented("To change", "%s", c)
	}
	for _, r := range p.Risks {
		t.indented("Risk", "%s", r)
	}
}

func verdictWord(p procedure.Plan) string {
	switch {
	case !p.Fit:
		return "NOT FIT."
	case len(p.Risks) > 0:
		return "FIT, with a risk."
	}
	return "FIT."
}

func (t *text) start(p procedure.Plan) {
	if p.Start == nil {
		t.indented("Start", "No series value of this box may be tried.")
		return
	}
	t.indented("Start", "%s: %s. %s", ohm(p.Start.SeriesOhm), strings.ToUpper(string(p.Start.Clearance.Verdict)), p.Start.Do)
	t.indented("", "K1: %s.", p.Start.Clearance.Because)
}

func (t *text) instruments(b apparatus.Bench) {
	s, g := b.Source, b.Galvanometer
	t.indented("Source", "%s%s", labelled(s.Label), measured(&s.EMF, s.UEMF, quantity.Volt))
	scale := fmt.Sprintf("%g-0-%g", g.Divisions, g.Divisions)
	if !g.Centre() {
		scale = fmt.Sprintf("0-%g", g.Divisions)
	}
	t.indented("Galvanometer", "%sscale %s, read to %g div", labelled(g.Label), scale, g.Step())
	t.indented("Series box", "%s", boxWords(b.SeriesBox))
	t.indented("Shunt box", "%s", boxWords(b.ShuntBox))
}

func labelled(label string) string {
	if label == "" {
		return ""
	}
	return label + ": "
}

func boxWords(b apparatus.Box) string {
	r, err := apparatus.NewRange(b)
	if err != nil {
		return labelled(b.Label) + string(b.Kind)
	}
	return fmt.Sprintf("%s%s box, %s in steps of %s, coils to %s", labelled(b.Label), b.Kind, ohm(r.Max()), ohm(r.Least()), quantity.Format(100*b.Tolerance, quantity.Percent, 2))
}

// known says what is known of G and k beforehand.
func (t *text) known(b apparatus.Bench, p procedure.Plan) {
	g, c := b.Galvanometer, p.Credible
	credible := func(lo, hi float64, unit quantity.Unit) string {
		return fmt.Sprintf("%s to %s", quantity.Format(lo, unit, 2), quantity.Format(hi, unit, 2))
	}
	if span := credible(c.ResistanceLow, c.ResistanceHigh, quantity.Ohm); c.ResistanceStated {
		t.indented("Last known G", "%s; credible: %s", measured(g.Resistance, g.UResistance, quantity.Ohm), span)
	} else {
		t.indented("Last known G", "none; a school galvanometer has %s", span)
	}
	if span := credible(c.MeritLow, c.MeritHigh, quantity.AmperePerDivision); c.MeritStated {
		k := quantity.Measured{Value: c.Merit, U: known(g.UFullScale) / g.Divisions, Unit: quantity.AmperePerDivision}
		t.indented("Last known k", "%s; credible: %s", quantity.Style(0).Measured(k), span)
	} else {
		t.indented("Last known k", "none; a school galvanometer has %s", span)
	}
}

// question doubts a source that is out of the ordinary.
func (t *text) question(b apparatus.Bench) {
	if q, err := safety.SourceRange(b.Source.EMF); err == nil && q != "" {
		t.indented("Question", "%s", q)
	}
}

// deflections is what to expect, in a few lines.
func (t *text) deflections(p procedure.Plan) {
	if p.Range == nil {
		return
	}
	if !p.Credible.MeritStated {
		s := p.Settings[0]
		t.indented("Expect", "At %s the needle goes to between %s and %s. The rows lie between %s and %s in series, with a halving shunt of %s.",
			ohm(s.SeriesOhm), reading(s.FirstLow), reading(s.FirstHigh), ohm(p.Range.SeriesLow), ohm(p.Range.SeriesHigh), between(p.Range.HalvingLow, p.Range.HalvingHigh))
		return
	}
	for i, s := range p.Settings {
		name := "Expect"
		if i > 0 {
			name = ""
		}
		if slices.ContainsFunc(p.Settings[:i], func(x procedure.PlanSetting) bool { return x.SeriesOhm == s.SeriesOhm }) {
			continue
		}
		t.indented(name, "%s: %s (%.3g to %.3g), halving shunt %s", ohm(s.SeriesOhm), reading(*s.FirstDiv), s.FirstLow, s.FirstHigh, between(s.HalvingLow, s.HalvingHigh))
	}
}

// settings writes the rows as a table, and what makes them below it.
func (t *text) settings(b apparatus.Bench, p procedure.Plan) {
	var s strings.Builder
	w := tabwriter.NewWriter(&s, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "row\tseries/Ω\tfirst/div\t\tshunt/Ω\thalving/Ω\tshunted/div\t")
	for i, x := range p.Settings {
		fmt.Fprintf(w, "%s\t%g\t%s\t(%.3g-%.3g)\t%s\t(%.3g-%.3g)\t%s\t\n", rowName(i, p), x.SeriesOhm,
			figure(x.FirstDiv), x.FirstLow, x.FirstHigh, figure(x.ShuntOhm), x.HalvingLow, x.HalvingHigh, figure(x.ShuntedDiv))
	}
	w.Flush()
	for _, l := range strings.Split(strings.TrimRight(s.String(), "\n"), "\n") {
		t.line("%s", strings.TrimRight(l, " "))
	}
	if !p.Credible.MeritStated || b.SeriesBox.Kind != apparatus.Plug && b.ShuntBox.Kind != apparatus.Plug {
		return
	}
	t.line("")
	for i, x := range p.Settings {
		t.take("Row "+rowName(i, p), "series", b.SeriesBox, x.TakeOut)
		t.take("Row "+rowName(i, p), "shunt", b.ShuntBox, x.ShuntTakeOut)
	}
}

// rowName numbers the rows; what is no row yet is the start.
func rowName(i int, p procedure.Plan) string {
	if !p.Credible.MeritStated {
		return "start"
	}
	return strconv.Itoa(i + 1)
}

// take lists the plugs to take out of a plug box; a decade box has none.
func (t *text) take(name, which string, b apparatus.Box, out []float64) {
	if b.Kind != apparatus.Plug {
		return
	}
	var plugs []string
	for _, v := range out {
		plugs = append(plugs, strconv.FormatFloat(v, 'f', -1, 64))
	}
	t.indented(name, "%s box: take out %s", which, strings.Join(plugs, ", "))
}

// figure is a value in a table, a dash where it is not known.
func figure(v *float64) string {
	if v == nil {
		return "-"
	}
	return strconv.FormatFloat(*v, 'g', 4, 64)
}

// ohm is a box value, every digit as on its plugs.
func ohm(v float64) string { return quantity.Style(0).Exact(v, quantity.Ohm) }

// between is a span of resistances that are no box values.
func between(lo, hi float64) string {
	return quantity.Format(lo, quantity.Ohm, 3) + " to " + quantity.Format(hi, quantity.Ohm, 3)
}

func reading(div float64) string { return quantity.Format(div, quantity.Division, 3) }

func part(u *float64) string { return quantity.Format(100*known(u), quantity.Percent, 2) }

// shares lists the inputs that bring a hundredth of the variance or more.
func shares(of []procedure.PlanShare) string {
	var out []string
	for _, s := range of {
		if s.Share >= 0.01 {
			out = append(out, fmt.Sprintf("%s %.0f %%", s.Input, 100*s.Share))
		}
	}
	if len(out) == 0 {
		return quantity.Unknown
	}
	return strings.Join(out, ", ") + " of the variance"
}
