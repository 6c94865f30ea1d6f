package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/net/html"
	"pgregory.net/rapid"

	"example.org/halve/physics/montecarlo"
	"example.org/halve/procedure"
	"example.org/halve/procedure/report/document"
)

// page is a report in HTML, read back by a parser that nobody here wrote.
type page struct {
	t    *testing.T
	root *html.Node
}

func read(t *testing.T, in Input) page {
	t.Helper()
	root, err := html.Parse(strings.NewReader(write(t, "html", Make(in))))
	if err != nil {
		t.Fatal(err)
	}
	return page{t, root}
}

func (p page) all(name string) []*html.Node {
	var out []*html.Node
	for n := range p.root.Descendants() {
		if n.Type == html.ElementNode && n.Data == name {
			out = append(out, n)
		}
	}
	return out
}

func textOf(n *html.Node) string {
	var b strings.Builder
	for c := range n.Descendants() {
		if c.Type == html.TextNode {
			b.WriteString(c.Data)
		}
	}
	return strings.ReplaceAll(b.String(), "\u00a0", " ")
}

// table is the table whose caption has the given words: the cells' texts, and
// the numbers that they have for programs (NaN for none).
func (p page) table(words string) (cells [][]string, values [][]float64, struck []bool) {
	p.t.Helper()
	for _, t := range p.all("table") {
		var caption string
		for n := range t.Descendants() {
			if n.Data == "caption" {
				caption = textOf(n)
			}
		}
		if !strings.Contains(caption, words) {
			continue
		}
		for n := range t.Descendants() {
			if n.Data != "tr" {
				continue
			}
			var row []string
			var nums []float64
			hit := false
			for c := n.FirstChild; c != nil; c = c.NextSibling {
				v := math.NaN()
				for d := range c.Descendants() {
					if d.Data == "data" {
						v, _ = strconv.ParseFloat(d.Attr[0].Val, 64)
					}
					hit = hit || d.Data == "s"
				}
				row, nums = append(row, textOf(c)), append(nums, v)
			}
			cells, values, struck = append(cells, row), append(values, nums), append(struck, hit)
		}
		return cells, values, struck
	}
	p.t.Fatalf("no table with %q in its caption", words)
	return nil, nil, nil
}

// section is the text of the section with the given heading, "" if there is
// none.
func (p page) section(heading string) string {
	for _, s := range p.all("section") {
		for n := range s.Descendants() {
			if n.Data == "h2" && textOf(n) == heading {
				return textOf(s)
			}
		}
	}
	return ""
}

// records are the kinds of record that a report is made of.
func records(t testing.TB) map[string]Input {
	wild := recordOf(t, everything("Ada Morrow")...)
	wild.Demonstrator = true
	allStruck := recordOf(t, append(oneRow(), `{"event":"strike","seq":9,"why":"no row after all"}`)...)
	noG := recordOf(t, append(oneRow()[:5], `{"event":"read-first","div":12}`, `{"event":"set-shunt","ohm":88}`, `{"event":"read-shunted","div":24}`, `{"event":"keep-row"}`)...)
	left := recordOf(t, strings.Replace(benchLine, `"centre"`, `"left"`, 1), `{"event":"wired"}`, `{"event":"set-series","ohm":9000}`, `{"event":"read-first","off_scale":true}`)
	return map[string]Input{
		"one row":                  recordOf(t, append(oneRow(), `{"event":"finish"}`)...),
		"everything":               wild,
		"unfinished":               recordOf(t, oneRow()[:6]...),
		"nothing":                  recordOf(t),
		"only a name":              recordOf(t, `{"event":"who","names":"Ada Morrow"}`),
		"only a bench":             recordOf(t, benchLine),
		"200 rows":                 recordOf(t, many(200)...),
		"all struck":               allStruck,
		"no galvanometer fits":     noG,
		"left zero, nothing usual": left,
		"no source, no zero":       recordOf(t, slices.Delete(oneRow(), 2, 4)...),
		"source on load":           recordOf(t, slices.Replace(oneRow(), 3, 4, `{"event":"source","emf_V":1.44,"loaded":true}`)...),
		"series setting struck":    recordOf(t, append(oneRow(), `{"event":"strike","seq":5}`, `{"event":"set-shunt","ohm":75}`, `{"event":"set-series","ohm":3300}`, `{"event":"read-first","div":23}`, `{"event":"read-shunted","div":10.5}`, `{"event":"keep-row"}`)...),
	}
}

// TestNumbers reads the report back: its numbers are those of the result.
func TestNumbers(t *testing.T) {
	for name, in := range records(t) {
		t.Run(name, func(t *testing.T) {
			a := procedure.Analyse(in.State)
			p := read(t, in)
			same := func(what string, got float64, want *float64) {
				t.Helper()
				if want == nil {
					if !math.IsNaN(got) {
						t.Errorf("%s: the report has %v where the result has nothing", what, got)
					}
				} else if got != *want {
					t.Errorf("%s: the report has %v, the result %v", what, got, *want)
				}
			}
			if len(a.Rows) > 0 {
				cells, values, struck := p.table("Each row by itself")
				if len(cells) != len(a.Rows)+1 {
					t.Fatalf("%d rows in the report, %d in the result", len(cells)-1, len(a.Rows))
				}
				for i, r := range a.Rows {
					v := values[i+1]
					if strings.TrimPrefix(cells[i+1][0], "struck: ") != strconv.Itoa(r.Row) || struck[i+1] != r.Struck {
						t.Errorf("row %d: the report has %q, struck %v; want struck %v", r.Row, cells[i+1][0], struck[i+1], r.Struck)
					}
					same("R", v[1], &r.SeriesOhm)
					same("S", v[2], &r.ShuntOhm)
					same("θ1", v[3], &r.FirstDiv)
					same("θ2", v[4], &r.ShuntedDiv)
					same("G", v[7], r.Resistance)
					if r.Merit == nil {
						same("k", v[8], nil)
					} else {
						same("k", v[8], r.Merit)
					}
				}
			}
			if r := a.Result; r != nil && r.Resistance != nil {
				_, v, _ := p.table("The result")
				same("G", v[1][1], r.Resistance)
				same("u(G)", v[1][2], r.UResistance)
				same("U(G)", v[1][3], r.U95Resistance)
				same("k", v[2][1], r.Merit)
				same("u(k)", v[2][2], r.UMerit)
				same("U(k)", v[2][3], r.U95Merit)
				same("full scale", v[3][1], r.FullScale)
				if g, k := *r.Resistance, *r.Merit; math.Abs(v[5][1]*k-1) > 1e-12 || math.Abs(v[6][1]*k*g-1) > 1e-12 {
					t.Errorf("sensitivities %v and %v; want 1/k and 1/(k G)", v[5][1], v[6][1])
				}
				for of, lines := range map[string][]procedure.BudgetLine{"of G ": a.Budget.Resistance, "of k ": a.Budget.Merit} {
					cells, v, _ := p.table("standard uncertainty " + of)
					if len(cells) != len(lines)+1 {
						t.Fatalf("%d lines in the budget %s, want %d", len(cells)-1, of, len(lines))
					}
					for i, l := range lines {
						if cells[i+1][0] != l.Input {
							t.Errorf("budget %s, line %d is %q, want %q", of, i+1, cells[i+1][0], l.Input)
						}
						same("u", v[i+1][1], &l.U)
						same("sensitivity", v[i+1][2], &l.Sensitivity)
						same("contribution", v[i+1][3], &l.Contribution)
						same("share", v[i+1][4], &l.Share)
					}
				}
			} else if p.section("Uncertainty budget") != "" {
				t.Error("there is a budget and no result")
			}
			checkCSV(t, in, a)
		})
	}
}

// checkCSV holds the CSV of a record to its result.
func checkCSV(t *testing.T, in Input, a procedure.Analysis) {
	t.Helper()
	var b strings.Builder
	if err := CSV(&b, in); err != nil {
		t.Fatal(err)
	}
	lines, err := csv.NewReader(strings.NewReader(b.String())).ReadAll()
	if err != nil {
		t.Fatalf("the CSV cannot be read: %v", err)
	}
	if len(lines) != len(a.Rows)+1 {
		t.Fatalf("%d lines in the CSV, %d rows", len(lines)-1, len(a.Rows))
	}
	column := map[string]int{}
	for i, name := range lines[0] {
		column[name] = i
	}
	for i, r := range a.Rows {
		for name, want := range map[string]*float64{
			"series_ohm": &r.SeriesOhm, "shunt_ohm": &r.ShuntOhm, "first_div": &r.FirstDiv, "shunted_div": &r.ShuntedDiv,
			"resistance_ohm": r.Resistance, "u_resistance_ohm": r.UResistance, "merit_A_per_div": r.Merit, "u_merit_A_per_div": r.UMerit,
		} {
			cell := lines[i+1][column[name]]
			if want == nil {
				if cell != "" {
					t.Errorf("row %d, %s is %q, want nothing", r.Row, name, cell)
				}
				continue
			}
			if got, err := strconv.ParseFloat(cell, 64); err != nil || got != *want {
				t.Errorf("row %d, %s is %q, want %v", r.Row, name, cell, *want)
			}
		}
		if got := lines[i+1][column["struck"]]; got != strconv.FormatBool(r.Struck) {
			t.Errorf("row %d: struck is %q, want %v", r.Row, got, r.Struck)
		}
	}
}

// TestEvery makes every kind of record in every form.
func TestEvery(t *testing.T) {
	for name, in := range records(t) {
		for _, demonstrator := range []bool{false, true} {
			in.Demonstrator = demonstrator
			d := Make(in)
			for _, to := range []string{"html", "pdf", "md"} {
				if s := write(t, to, d); len(s) < 500 {
					t.Errorf("%s as %s: %d bytes", name, to, len(s))
				}
			}
			p := read(t, in)
			for _, heading := range []string{"Aim", "Apparatus and circuit", "Theory", "Procedure, as carried out", "Observations", "Result", "Precautions", "Sources of error, ranked by this record", "Audit trail"} {
				if p.section(heading) == "" {
					t.Errorf("%s: there is no section %q", name, heading)
				}
			}
			if (p.section("For the demonstrator") != "") != demonstrator {
				t.Errorf("%s: the demonstrator's section is there: %v, want %v", name, !demonstrator, demonstrator)
			}
			// Every verb has its value: what is formatted wrongly says so.
			if i := strings.Index(textOf(p.root), "%!"); i >= 0 {
				t.Errorf("%s: %.60q", name, textOf(p.root)[i:])
			}
			for _, bad := range []string{"NaN", "Inf", "unknown (", "<nil>"} {
				if i := strings.Index(textOf(p.root), bad); i >= 0 {
					t.Errorf("%s: the report says %q: %.60q", name, bad, textOf(p.root)[max(0, i-30):])
				}
			}
		}
	}
}

// TestWorked follows the row on paper: scenario D1 of the reference, whose G
// and k were found there by two ways (90.5283 Ω, 1.87674e-5 A/div).
func TestWorked(t *testing.T) {
	p := read(t, recordOf(t, oneRow()...))
	got := strings.Join(strings.Fields(strings.ReplaceAll(p.section("One row worked in full"), "\u2062", "")), "")
	for _, want := range []string{"ρ=θ2θ1=12div24div=0.5", "R′=R+r=3150Ω+0.9Ω=3150.9Ω", "=88Ω", "=3150.9Ω×88Ω3150.9Ω−88Ω", "=90.5283Ω", "=1.46V(3150.9Ω+90.5283Ω)×24div", "=1.8767×10−5A/div"} {
		if !strings.Contains(got, want) {
			t.Errorf("the working has no %q:\n%s", want, got)
		}
	}
}

// TestStruck: what was struck is shown struck, with its reason, and is not
// used.
func TestStruck(t *testing.T) {
	in := recordOf(t, everything("leaned on the key")...)
	p := read(t, in)
	cells, _, struck := p.table("Readings as seen on the scale")
	want := []struct {
		cells  string
		struck bool
	}{
		{"–|9 000|9.0||", false},
		{"trial|3 150|off scale [a], 25.0, 23.0 [b]|60|10.5", true},
		{"1|3 150|25.0|88|13.0", false},
		{"2 [c]|3 500|22.5|88|7.0", true},
		{"3|4 000|19.5|75|9.5", false},
		{"4|3 300|−23.0|100|−12.0", false},
	}
	if len(cells) != len(want)+1 {
		t.Fatalf("%d lines, want %d: %q", len(cells)-1, len(want), cells)
	}
	for i, w := range want {
		if got := strings.Join(cells[i+1], "|"); got != w.cells || struck[i+1] != w.struck {
			t.Errorf("line %d is %q, struck %v; want %q, %v", i+1, got, struck[i+1], w.cells, w.struck)
		}
	}
	seen := p.section("Observations")
	for _, want := range []string{"[a] θ1 = off scale (event 10) was struck by event 11: leaned on the key", "[b] θ1 = 23.0 div (event 13) was struck by event 14", "[c] Row 2 (event 25) was struck by event 26"} {
		if !strings.Contains(seen, want) {
			t.Errorf("the observations do not say %q:\n%s", want, seen)
		}
	}
	audit, _, hit := p.table("Every entry of the record")
	if len(audit) != len(in.Events)+1 {
		t.Fatalf("%d entries in the audit trail, %d in the record", len(audit)-1, len(in.Events))
	}
	for i, e := range in.Events {
		by := in.State.Struck(e.Seq)
		cell := ""
		if by > 0 {
			cell = strconv.Itoa(by)
		}
		if audit[i+1][0] != strconv.Itoa(e.Seq) || audit[i+1][3] != cell || hit[i+1] != (by > 0) {
			t.Errorf("entry %d is %q, struck %v; it was struck by %d", e.Seq, audit[i+1], hit[i+1], by)
		}
	}
	// What was done, in words: ratios of the rows in force, 9/19 and 12.5/23.5.
	done := p.section("Procedure, as carried out")
	for _, want := range []string{"the pointer rested at +0.5 div", "1.48 V ± 0.01 V without load", "to 9 000, 3 150 Ω in turn", "3 rows were kept, with ratios ρ from 0.474 to 0.532", "the shunt box was set 5 times in all", "one row was to the left", "3 entries were struck out"} {
		if !strings.Contains(done, want) {
			t.Errorf("the procedure does not say %q:\n%s", want, done)
		}
	}
}

// TestNotes: a note stands with its time; a struck one is shown struck.
func TestNotes(t *testing.T) {
	p := read(t, recordOf(t, benchLine, `{"event":"note","text":"warm cell","temperature_C":27}`, `{"event":"note","text":"cold cell"}`, `{"event":"strike","seq":3}`))
	if got := p.section("Notes"); !strings.Contains(got, "09:01: warm cell Temperature 27 °C.") || !strings.Contains(got, "09:01: cold cell") {
		t.Errorf("the notes are %q", got)
	}
	var struck []string
	for _, n := range p.all("s") {
		struck = append(struck, textOf(n))
	}
	if !slices.Contains(struck, "cold cell") || slices.Contains(struck, "warm cell") {
		t.Errorf("%q are struck, want the second note alone", struck)
	}
}

// TestClaims: a hand calculation stands beside the computed value; its slip is
// for the demonstrator.
func TestClaims(t *testing.T) {
	in := recordOf(t, everything("x")...)
	in.Demonstrator = true
	a := procedure.Analyse(in.State)
	p := read(t, in)
	cells, values, _ := p.table("Values worked out by hand")
	if len(cells) != 3 {
		t.Fatalf("%q: want two claims", cells)
	}
	for i, c := range a.Claims {
		if values[i+1][1] != c.Claimed || values[i+1][2] != *c.Expected {
			t.Errorf("claim %d: %v and %v, want %v and %v", i+1, values[i+1][1], values[i+1][2], c.Claimed, *c.Expected)
		}
	}
	if cells[1][1] != "85.6" || cells[2][1] != "3.7e-5" {
		t.Errorf("the claims are %q and %q, want them as typed", cells[1][1], cells[2][1])
	}
	slips, _, _ := p.table("explains the values")
	if len(slips) < 2 || slips[1][1] != a.Claims[0].Slips[0].ID {
		t.Errorf("the slips are %q; want %q first", slips, a.Claims[0].Slips[0].ID)
	}
	found, probability, _ := p.table("Causes that fit")
	if len(found) != len(a.Findings)+1 {
		t.Fatalf("%d findings, want %d", len(found)-1, len(a.Findings))
	}
	for i, f := range a.Findings {
		if found[i+1][0] != f.ID || probability[i+1][1] != f.Probability {
			t.Errorf("finding %d is %q with %v, want %s with %v", i+1, found[i+1][0], probability[i+1][1], f.ID, f.Probability)
		}
	}
	in.Demonstrator = false
	student := textOf(read(t, in).root)
	for _, f := range a.Findings {
		if strings.Contains(student, f.ID) || strings.Contains(student, f.Say) {
			t.Errorf("the student's copy has the finding %s", f.ID)
		}
	}
	if strings.Contains(student, a.Claims[0].Slips[0].Say) {
		t.Error("the student's copy has a slip")
	}
}

// TestTrials: the interval by Monte Carlo is told where it is given.
func TestTrials(t *testing.T) {
	in := recordOf(t, oneRow()...)
	if s := read(t, in).section("Result"); strings.Contains(s, "Monte Carlo") {
		t.Error("without trials the result tells of them")
	}
	in.Trials = &montecarlo.Result{Trials: 160000, Outputs: []montecarlo.Output{
		{Mean: 90.6, U: 1.9, Interval95: [2]float64{86.84, 94.35}}, {Mean: 1.877e-5, U: 1.5e-7, Interval95: [2]float64{1.848e-5, 1.906e-5}},
	}}
	if s := read(t, in).section("Result"); !strings.Contains(s, "160 000 trials") || !strings.Contains(s, "between 86.8 Ω and 94.4 Ω") || !strings.Contains(s, "the one to state") {
		t.Errorf("the result does not tell of the trials:\n%s", s)
	}
}

// hostile are texts that do harm where they are not taken for text.
var hostile = []string{
	`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `=cmd|' /C calc'!A0`, "+1+cmd|'/C calc'!A0", "-1+1", "@SUM(1)", "\t=1+1", "\r=1", "＝1+1",
	"\x1b[31mred\x1b]52;c;aGk=\x07\u009b2J", "a\u202eb\u200fc\u2066d", "| a | b |\n# head `x` *y* [l](http://example.org) ~~z~~",
	"\u05d0\u05d1 \u0639\u0631 中文 \U0001F600", strings.Repeat("x", 4000), strings.Repeat("word ", 800), "  'quoted' \"twice\" ",
}

func TestHostile(t *testing.T) {
	calm := read(t, recordOf(t, everything("x")...))
	for _, text := range hostile {
		t.Run(fmt.Sprintf("%.24q", text), func(t *testing.T) {
			in := recordOf(t, everything(text)...)
			in.Demonstrator = true
			p := read(t, in)
			if got, want := len(p.all("table")), len(calm.all("table"))+3; got < want-2 || got > want {
				t.Errorf("%d tables, an ordinary text makes %d", got, want)
			}
			wantHarmless(t, p, Make(in), func(w io.Writer) error { return CSV(w, in) })
		})
	}
}

func TestDefuse(t *testing.T) {
	tests := []struct{ in, want string }{
		{"", ""}, {"misread", "misread"}, {"-3.5", "-3.5"}, {"+3", "+3"}, {"1e-5", "1e-5"},
		{"=1+1", "'=1+1"}, {"-1+1", "'-1+1"}, {"@a", "'@a"}, {"\ta", "'\ta"}, {" =1", "' =1"}, {`"=1`, `'"=1`}, {"a=1", "a=1"},
	}
	for _, tt := range tests {
		if got := defuse(tt.in); got != tt.want {
			t.Errorf("defuse(%q) = %q, want %q", tt.in, got, tt.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		in := rapid.String().Draw(t, "cell")
		if got := defuse(in); runs(got) || !strings.HasSuffix(got, in) {
			t.Fatalf("defuse(%q) = %q", in, got)
		}
	})
}

// TestChecks: what the record has is judged by the record.
func TestChecks(t *testing.T) {
	has := func(lines ...string) map[string]bool {
		in := recordOf(t, lines...)
		w := writer{Input: in, a: in.Analysis, seen: observe(in.Events, in.State)}
		w.bench, w.stated = in.State.Bench()
		out := map[string]bool{}
		for _, c := range w.checks() {
			out[c.name] = c.ok
		}
		return out
	}
	one := has(oneRow()...)
	for name, want := range map[string]bool{"circuit checked": true, "zero read before": true, "zero read again at the end": false, "EMF measured": true, "four rows or more": false, "first deflection read again": false, "both sides of the scale": false, "temperature noted": false} {
		if got, ok := one[name]; !ok || got != want {
			t.Errorf("one row: %s is %v (there: %v), want %v", name, got, ok, want)
		}
	}
	all := has(everything("x")...)
	for name, want := range map[string]bool{"zero read again at the end": true, "both sides of the scale": true, "temperature noted": true, "four rows or more": false} {
		if all[name] != want {
			t.Errorf("everything: %s is %v, want %v", name, all[name], want)
		}
	}
	if list := has(benchLine); len(list) > 0 {
		t.Errorf("before a setting there is nothing to judge, got %v", list)
	}
}

// TestObserve: the rows found in the events are those of the state, whatever
// the order of events.
func TestObserve(t *testing.T) {
	line := rapid.SampledFrom([]string{
		`{"event":"set-series","ohm":3150}`, `{"event":"set-series","ohm":4000}`, `{"event":"read-first","div":24}`, `{"event":"read-first","off_scale":true}`,
		`{"event":"set-shunt","ohm":88}`, `{"event":"set-shunt","ohm":75}`, `{"event":"read-shunted","div":12}`, `{"event":"keep-row"}`, `{"event":"zero","div":0.5}`, "strike",
	})
	rapid.Check(t, func(rt *rapid.T) {
		in := Input{Begun: begun}
		s := new(procedure.State)
		for _, l := range append([]string{benchLine, `{"event":"wired"}`}, rapid.SliceOfN(line, 0, 60).Draw(rt, "events")...) {
			if l == "strike" {
				l = fmt.Sprintf(`{"event":"strike","seq":%d}`, rapid.IntRange(1, max(1, s.Seq())).Draw(rt, "struck"))
			}
			body, err := procedure.Words().DecodeInput([]byte(l))
			if err != nil {
				rt.Fatal(err)
			}
			e := procedure.Event{Seq: s.Seq() + 1, At: begun, Body: body}
			if s.Apply(e) == nil { // what is refused is in no record
				in.Events = append(in.Events, e)
			}
		}
		in.State, in.Analysis = s, procedure.Analyse(s)
		seen := observe(in.Events, s)
		rows := procedure.Advise(s).Rows
		if len(seen.rows) != len(rows) {
			rt.Fatalf("%d rows seen, %d in the counsel", len(seen.rows), len(rows))
		}
		for i, r := range rows {
			at := seen.rows[i]
			run := seen.runs[at.run]
			b := run.branches[at.branch]
			if run.series.ohm != r.SeriesOhm || b.shunt.ohm != r.ShuntOhm || b.kept != r.Seq {
				rt.Fatalf("row %d is seen at R = %g, S = %g, event %d; it is %+v", r.Row, run.series.ohm, b.shunt.ohm, b.kept, r)
			}
		}
		Make(in)
	})
}

func TestLetters(t *testing.T) {
	for n, want := range map[int]string{0: "a", 25: "z", 26: "aa", 27: "ab", 51: "az", 52: "ba", 701: "zz", 702: "aaa"} {
		if got := letters(n); got != want {
			t.Errorf("letters(%d) = %q, want %q", n, got, want)
		}
	}
}

func TestSix(t *testing.T) {
	tests := []struct {
		in   float64
		want string
	}{{0, "0"}, {0.5, "0.5"}, {3150.9, "3150.9"}, {90.528299, "90.5283"}, {1e-5, "1.00000 × 10⁻⁵"}, {-2, "−2"}, {12345678, "1.23457 × 10⁷"}}
	for _, tt := range tests {
		if got := six(tt.in); got != tt.want {
			t.Errorf("six(%v) = %q, want %q", tt.in, got, tt.want)
		}
	}
}

// The document that a benchmark makes stays here, so that it is made.
var made document.Document

func BenchmarkReport(b *testing.B) {
	for _, rows := range []int{10, 200, 2000} {
		lines := many(rows)
		for _, to := range []string{"html", "pdf"} {
			b.Run(fmt.Sprintf("%s/%d rows", to, rows), func(b *testing.B) {
				in := recordOf(b, lines...) // what it says is worked out here
				for b.Loop() {
					made = Make(in)
					write(b, to, made)
				}
			})
		}
	}
}
