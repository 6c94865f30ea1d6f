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
	"time"

	"golang.org/x/net/html"

	"example.org/halve/procedure"
	"example.org/halve/procedure/metercheck"
)

// meterLine is an invented bench: a 10 A meter of class 1.5.
const meterLine = `{"event":"bench","label":"meter 7","kind":"ammeter","range_A":10,"divisions":100,"class_index":1.5,"resolution_div":0.2,` +
	`"reference":{"label":"reference 2","u_A":0.015,"max_A":12},"source":{"max_A":12}}`

// meterRecord is a record of events as lines of the protocol, one each half
// minute.
func meterRecord(t testing.TB, lines ...string) MeterInput {
	t.Helper()
	in := MeterInput{ID: "TESTRECORD", Begun: begun, State: new(metercheck.State), Demonstrator: true}
	for _, line := range lines {
		body, err := metercheck.Words().DecodeInput([]byte(line))
		if err != nil {
			t.Fatalf("%s: %v", line, err)
		}
		n := len(in.Events) + 1
		e := procedure.Event{Seq: n, At: begun.Add(time.Duration(n) * 30 * time.Second), Body: body}
		if err := in.State.Apply(e); err != nil {
			t.Fatalf("event %d, %s: %v", n, line, err)
		}
		in.Events = append(in.Events, e)
	}
	return in
}

// wholeCheck are the lines of a whole check with a struck point; the text
// stands wherever a person may write.
func wholeCheck(text string) []string {
	point := func(way string, div float64, reference float64, more string) string {
		return fmt.Sprintf(`{"event":"point","direction":%q,"reading_div":%g,"reference_A":%g%s}`, way, div, reference, more)
	}
	return []string{
		`{"event":"who","names":` + quoted(cut(text, procedure.MaxNames)) + `,"group":` + quoted(cut(text, 200)) + `}`,
		strings.NewReplacer(`"meter 7"`, quoted(cut(text, 200)), `"reference 2"`, quoted(cut(text, 200))).Replace(meterLine),
		`{"event":"note","text":` + quoted(text) + `,"temperature_C":23}`,
		`{"event":"wired"}`, `{"event":"zero","div":0}`,
		point("rising", 20, 2.01, ""), point("rising", 40, 4.42, ""),
		`{"event":"strike","seq":7,"why":` + quoted(text) + `}`,
		point("rising", 40, 4.02, ""), point("rising", 60, 6.05, ""), point("rising", 60, 6.05, `,"tapped":true`), point("rising", 80, 8.03, ""), point("rising", 100, 10.04, ""),
		point("falling", 80, 8.02, ""), point("falling", 60, 6.03, ""), point("falling", 60, 6.03, `,"tapped":true`), point("falling", 40, 4.01, ""), point("falling", 20, 2, ""),
		`{"event":"zero","div":0}`, point("rising", 60, 6.04, ""), point("rising", 60, 6.05, ""),
		`{"event":"finish"}`,
	}
}

// meterRecords are the kinds of record that such a report is made of.
func meterRecords(t testing.TB) map[string]MeterInput {
	whole := wholeCheck("Ada Morrow")
	volts := strings.NewReplacer("ammeter", "voltmeter", "_A", "_V", "\"left\"", "\"centre\"")
	return map[string]MeterInput{
		"whole":          meterRecord(t, whole...),
		"unfinished":     meterRecord(t, whole[:12]...),
		"nothing":        meterRecord(t),
		"only a name":    meterRecord(t, whole[0]),
		"only a bench":   meterRecord(t, meterLine),
		"one point":      meterRecord(t, append([]string{meterLine}, whole[3:6]...)...),
		"zero at 1 div":  meterRecord(t, meterLine, `{"event":"wired"}`, `{"event":"zero","div":1}`),
		"no class":       meterRecord(t, slices.Replace(wholeCheck("x"), 1, 2, strings.Replace(meterLine, `"class_index":1.5,`, "", 1))...),
		"poor reference": meterRecord(t, slices.Replace(wholeCheck("x"), 1, 2, strings.Replace(meterLine, `"u_A":0.015`, `"u_A":0.04`, 1))...),
		"all struck":     meterRecord(t, append(append([]string{meterLine}, whole[3:6]...), `{"event":"strike","seq":4}`, `{"event":"strike","seq":3}`)...),
		"volts":          meterRecord(t, volts.Replace(meterLine), `{"event":"wired"}`, `{"event":"zero","div":0}`, `{"event":"point","direction":"rising","reading_div":20,"reference_V":2.01}`),
	}
}

// readMeter reads such a report back.
func readMeter(t *testing.T, in MeterInput) page {
	t.Helper()
	root, err := html.Parse(strings.NewReader(write(t, "html", MakeMeter(in))))
	if err != nil {
		t.Fatal(err)
	}
	return page{t, root}
}

// TestMeterEvery makes every kind of record in every form, twice.
func TestMeterEvery(t *testing.T) {
	for name, in := range meterRecords(t) {
		for _, to := range []string{"html", "pdf", "md"} {
			s := write(t, to, MakeMeter(in))
			if len(s) < 500 || s != write(t, to, MakeMeter(in)) {
				t.Errorf("%s as %s: %d bytes, or others the second time", name, to, len(s))
			}
		}
		p := readMeter(t, in)
		for _, heading := range []string{"Instruments", "Method", "Observations", "Result", "Cautions", "Audit trail"} {
			if p.section(heading) == "" {
				t.Errorf("%s: there is no section %q", name, heading)
			}
		}
		for _, bad := range []string{"%!", "NaN", "Inf", "<nil>"} {
			if i := strings.Index(textOf(p.root), bad); i >= 0 {
				t.Errorf("%s: the report says %q: %.60q", name, bad, textOf(p.root)[max(0, i-30):])
			}
		}
		if finished := !strings.Contains(textOf(p.root), "This record is not finished."); finished != in.State.Finished() {
			t.Errorf("%s: the report calls it finished: %v", name, finished)
		}
		in.Demonstrator = false
		if readMeter(t, in).section("For the demonstrator") != "" {
			t.Errorf("%s: the student's copy has the demonstrator's section", name)
		}
	}
}

// TestMeterNumbers reads the report and the CSV back: their numbers are those
// of the record and of the counsel.
func TestMeterNumbers(t *testing.T) {
	for name, in := range meterRecords(t) {
		t.Run(name, func(t *testing.T) {
			r := metercheck.Advise(in.State).Result
			var b strings.Builder
			if err := MeterCSV(&b, in); err != nil {
				t.Fatal(err)
			}
			lines, err := csv.NewReader(strings.NewReader(b.String())).ReadAll()
			if err != nil {
				t.Fatalf("the CSV cannot be read: %v", err)
			}
			p := readMeter(t, in)
			var cells [][]string
			var values [][]float64
			var struck []bool
			if len(lines) > 1 {
				cells, values, struck = p.table("Every reading in its order")
				if len(cells) != len(lines) {
					t.Fatalf("%d readings in the report, %d in the CSV", len(cells)-1, len(lines)-1)
				}
			}
			at := map[string]metercheck.ResultPoint{}
			if r != nil {
				for _, pt := range r.Points {
					at[strconv.Itoa(pt.Seq)] = pt
				}
			}
			for i := 1; i < len(lines); i++ {
				line := lines[i]
				for j := range 5 {
					want := math.NaN()
					if line[3+j] != "" {
						want, err = strconv.ParseFloat(line[3+j], 64)
					}
					if got := values[i][2+j]; err != nil || got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
						t.Errorf("%s: %v in the report, %q in the CSV (%v)", lines[0][3+j], got, line[3+j], err)
					}
				}
				pt, used := at[line[0]]
				if used && (values[i][5] != pt.Error || values[i][6] != pt.U95Error || values[i][3] != pt.Indicated) {
					t.Errorf("event %s: %v in the report, the result has %+v", line[0], values[i], pt)
				}
				if !used && !math.IsNaN(values[i][5]) {
					t.Errorf("event %s has an error in the report and none in the result", line[0])
				}
				seq, _ := strconv.Atoi(line[0])
				if want := in.State.Struck(seq) != 0; struck[i] != want || line[8] != strconv.FormatBool(want) {
					t.Errorf("event %s: struck is %v in the report and %s in the CSV, want %v", line[0], struck[i], line[8], want)
				}
				delete(at, line[0])
			}
			if len(at) > 0 {
				t.Errorf("the report lacks the points %v", at)
			}
			if r == nil {
				if !strings.Contains(p.section("Result"), "There is no result") {
					t.Error("the report has a result where there is none")
				}
				return
			}
			cells, values, _ = p.table("Percentages are of the fiducial value")
			got := map[string]float64{}
			for i, c := range cells {
				got[c[0]] = values[i][1]
			}
			for name, want := range map[string]*float64{
				"Greatest error": &r.WorstError, "Its expanded uncertainty (95 %)": &r.U95WorstError, "Hysteresis": r.Hysteresis,
				"Friction (tapped against untapped)": r.Friction, "Return to zero": r.ZeroReturn, "Repeatability": r.Repeatability,
				"Class limit to the reference's uncertainty": r.Ratio, "Probability that the greatest error conforms": r.Conformance,
			} {
				v, there := got[name]
				if there != (want != nil) || there && v != *want {
					t.Errorf("%s is %v (there: %v), want %v", name, v, there, want)
				}
			}
			if len(r.Corrections) > 0 {
				_, values, _ = p.table("To be added to the reading")
				if len(values) != len(r.Corrections)+1 {
					t.Fatalf("%d corrections in the report, %d in the result", len(values)-1, len(r.Corrections))
				}
				for i, k := range r.Corrections {
					if values[i+1][0] != k.Div || values[i+1][1] != k.Value {
						t.Errorf("correction %d is %v, want %+v", i+1, values[i+1], k)
					}
				}
			}
		})
	}
}

// TestMeterWorked: what the points of the whole check come to, by hand. The
// error at 60 div is 100 (6.00 - 6.05) / 10 = -0.50 %; the limit 1.5 % is
// 0.15 A, five times 2 × 0.015 A; the means at 80 div are 8.00 - 8.025 A.
func TestMeterWorked(t *testing.T) {
	p := readMeter(t, meterRecord(t, wholeCheck("Ada Morrow")...))
	cells, _, struck := p.table("Every reading in its order")
	for i, want := range []string{
		"5|zero|0|0.000 A|0.0000 A|0.00|", "6|rising|20|2.000 A|2.0100 A|−0.10|", "struck: 7|rising|40|4.000 A|4.4200 A|–|–", "9|rising|40|4.000 A|4.0200 A|−0.20|", "10|rising|60|6.000 A|6.0500 A|−0.50|",
	} {
		if got := strings.Join(cells[i+1], "|"); !strings.HasPrefix(got, want) || struck[i+1] != (i == 2) {
			t.Errorf("line %d is %q, struck %v; want %q", i+1, got, struck[i+1], want)
		}
	}
	result := strings.Join(strings.Fields(p.section("Result")), " ")
	for _, want := range []string{"Greatest error0.50 %", "5.0 to 1", "Class 1.5, simple acceptanceconforms", "Class 1.5, with a guard bandconforms"} {
		if !strings.Contains(result, want) {
			t.Errorf("the result does not say %q: %s", want, result)
		}
	}
	cells, values, _ := p.table("To be added to the reading")
	i := slices.IndexFunc(cells, func(c []string) bool { return c[0] == "80.00" })
	if i < 0 || math.Abs(values[i][1]-0.025) > 1e-12 {
		t.Errorf("the corrections are %q; want 0.025 A at 80 div", cells)
	}
	audit := p.section("Audit trail")
	for _, want := range []string{"strike of 7, Ada Morrow", "note, 23 °C, Ada Morrow", "rising: pointer 60 div, reference 6.0500 A, tapped", "09:11:00"} {
		if !strings.Contains(audit, want) {
			t.Errorf("the audit trail does not say %q:\n%s", want, audit)
		}
	}
	poor := meterRecords(t)["poor reference"]
	if got := readMeter(t, poor).section("Result"); !strings.Contains(got, "less than 3 times better") {
		t.Errorf("a reference of 1.9 to 1 is not remarked upon: %s", got)
	}
}

func TestMeterHostile(t *testing.T) {
	calm := readMeter(t, meterRecord(t, wholeCheck("x")...))
	for _, text := range hostile {
		t.Run(fmt.Sprintf("%.24q", text), func(t *testing.T) {
			in := meterRecord(t, wholeCheck(text)...)
			p := readMeter(t, in)
			for _, name := range []string{"table", "tr", "section"} {
				if got, want := len(p.all(name)), len(calm.all(name)); got != want {
					t.Errorf("%d <%s>, an ordinary text makes %d", got, name, want)
				}
			}
			wantHarmless(t, p, MakeMeter(in), func(w io.Writer) error { return MeterCSV(w, in) })
		})
	}
}

// TestProbable: no probability is written as a certainty.
func TestProbable(t *testing.T) {
	for p, want := range map[float64]string{0: "below 0.001", 0.0004: "below 0.001", 0.0005: "0.001", 0.5: "0.500", 0.9994: "0.999", 0.9995: "above 0.999", 1: "above 0.999"} {
		if got := probable(p); got != want {
			t.Errorf("%g is written %q, want %q", p, got, want)
		}
	}
}

// TestMeterScaleNamed: in the instruments and the audit trail alike, a zero in
// the middle of the scale is said.
func TestMeterScaleNamed(t *testing.T) {
	p := readMeter(t, meterRecord(t, strings.Replace(meterLine, `"divisions":100`, `"zero":"centre","divisions":100`, 1)))
	for _, section := range []string{"Instruments", "Audit trail"} {
		if text := p.section(section); !strings.Contains(text, "10 A to each side on 100 div") {
			t.Errorf("%s: %s", section, text)
		}
	}
}

// TestMeterConditions: where a class counts is said.
func TestMeterConditions(t *testing.T) {
	if text := readMeter(t, meterRecord(t, meterLine)).section("Method"); !strings.Contains(text, "A class counts at reference conditions") {
		t.Errorf("the method is %q", text)
	}
}

// TestMeterCut: what was cut off a record is said.
func TestMeterCut(t *testing.T) {
	in := meterRecord(t, meterLine)
	in.Cut = "the record was cut off in its last line"
	if text := textOf(readMeter(t, in).root); !strings.Contains(text, "The record was cut off in its last line.") {
		t.Errorf("the report does not say it: %.300q", text)
	}
}

// TestMeanErrors: the line of the figure goes through the errors that the
// corrections undo. By hand, 20 div are 2 A where 2.01 A flow: −0.1 % of 10 A.
func TestMeanErrors(t *testing.T) {
	in := meterRecord(t, meterLine, `{"event":"wired"}`, `{"event":"zero","div":0}`, `{"event":"point","direction":"rising","reading_div":20,"reference_A":2.01}`)
	got := meanErrors(metercheck.Advise(in.State).Result)
	if len(got) != 2 || got[1].X != 20 || math.Abs(got[1].Y+0.1) > 1e-9 {
		t.Errorf("the line goes through %v, want (0, 0) and (20, -0.1)", got)
	}
}
