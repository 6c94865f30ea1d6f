package notes

import (
	"fmt"
	"io/fs"
	"math"
	"regexp"
	"strings"
	"testing"

	"example.org/halve/physics"
	"example.org/halve/procedure"
)

func TestEveryTextIsReached(t *testing.T) {
	all := All()
	entries, err := fs.ReadDir(texts, "text")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		text := file(strings.TrimSuffix(e.Name(), ".md"))
		if body := text[strings.IndexByte(text, '\n'):]; !strings.Contains(all, body) {
			t.Errorf("%s belongs to no topic and no step", e.Name())
		}
	}
	if want := len(names) - 1 + len(steps); len(entries) != want {
		t.Errorf("%d texts, want %d: one for each topic, save %q, and one for each step", len(entries), want, stepTopic)
	}
}

func TestFor(t *testing.T) {
	for _, s := range steps {
		text := For(s)
		if !strings.HasPrefix(text, "# ") {
			t.Errorf("For(%q) = %.30q; want Markdown that begins with a heading", s, text)
		}
		if !strings.Contains(strings.ToLower(text), "usual mistake") {
			t.Errorf("For(%q) does not name the usual mistake", s)
		}
	}
	if got := For("no-such-step"); got != "" {
		t.Errorf("For of no step = %.30q; want nothing", got)
	}
	if got := For(procedure.Step("../notes")); got != "" {
		t.Errorf("For of a path = %.30q; want nothing", got)
	}
}

func TestTopics(t *testing.T) {
	seen := map[string]bool{}
	for _, topic := range Topics() {
		if seen[topic.Name] || topic.Name != strings.ToLower(topic.Name) || strings.ContainsAny(topic.Name, " \t/") {
			t.Errorf("topic name %q is not one word that is told from the others", topic.Name)
		}
		seen[topic.Name] = true
		text, ok := Text(topic.Name)
		if !ok || topic.Title == "" || !strings.HasPrefix(text, "# "+topic.Title+"\n") {
			t.Errorf("topic %q: title %q does not head its text (%.40q)", topic.Name, topic.Title, text)
		}
	}
	if text, ok := Text("nothing"); ok || text != "" {
		t.Errorf(`Text("nothing") = %q, %v; want "", false`, text, ok)
	}
	if text, ok := Text("step-bench"); ok || text != "" {
		t.Errorf("a step's file is not a topic; got %.30q", text)
	}
}

// TestPlain holds the texts to what every terminal, printer and screen reader
// shows: no control characters, no tabs, lines that fit.
func TestPlain(t *testing.T) {
	for n, line := range strings.Split(All(), "\n") {
		if length := len([]rune(line)); length > 90 {
			t.Errorf("line %d is %d characters long: %q", n+1, length, line)
		}
		if strings.TrimRight(line, " ") != line {
			t.Errorf("line %d ends with blanks: %q", n+1, line)
		}
		for _, r := range line {
			if r < ' ' || r == 0x7f || r >= 0x80 && r < 0xa0 {
				t.Errorf("line %d has the control character %U", n+1, r)
			}
		}
	}
}

// usual is the bench for which the notes state sizes: scenario D1 of
// testdata/reference/scenarios.json.
var usual = physics.Row{EMF: 1.46, SourceResistance: 0.9, Series: 3150, Shunt: 88, First: 24, Shunted: 12}

// change works the row out twice, the second time as edited, and returns the
// relative changes of G and k in percent and the change of G in ohm.
func change(t *testing.T, edit func(*physics.Row)) (g, k, ohm float64) {
	t.Helper()
	before, err := usual.Solve(physics.RowDoubt{})
	if err != nil {
		t.Fatal(err)
	}
	row := usual
	edit(&row)
	after, err := row.Solve(physics.RowDoubt{})
	if err != nil {
		t.Fatal(err)
	}
	return 100 * (after.G/before.G - 1), 100 * (after.K/before.K - 1), after.G - before.G
}

// TestSizes holds the table of errors to the formulas: each line is worked out
// anew with the wrong value put in. A size is stated to first order and to two
// figures, so the whole change may differ from it by a twelfth.
func TestSizes(t *testing.T) {
	stretched := func(v float64) float64 { return v * (1 + 0.01*v/30) }
	sticks := 0.3
	tests := []struct {
		line string // as it begins in the text
		of   string // the unit of the size, with the quantity
		edit func(*physics.Row)
	}{
		{"| shunted reading too high | ¼ division |", "G %", func(r *physics.Row) { r.Shunted += 0.25 }},
		{"| first reading too high | ¼ division | +", "G %", func(r *physics.Row) { r.First += 0.25 }},
		{"| zero not subtracted | ½ division | −4", "G %", func(r *physics.Row) { r.First += 0.5; r.Shunted += 0.5 }},
		{"| pointer sticks, both readings short of rest | 0.3 division |", "G %", func(r *physics.Row) { r.First -= sticks; r.Shunted += sticks }},
		{"| contact or lead in the shunt branch | 2 Ω |", "G Ω", func(r *physics.Row) { r.Shunt -= 2 }},
		{"| scale stretched towards its end | 1 % at the end |", "G %", func(r *physics.Row) { r.First, r.Shunted = stretched(r.First), stretched(r.Shunted) }},
		{"| cell falls between the two readings | 1 % |", "G %", func(r *physics.Row) { r.Shunted *= 0.99 }},
		{"| first reading too high | ¼ division | −", "k %", func(r *physics.Row) { r.First += 0.25 }},
		{"| zero not subtracted | ½ division | −2", "k %", func(r *physics.Row) { r.First += 0.5; r.Shunted += 0.5 }},
		{"| EMF stated too high | 1 % |", "k %", func(r *physics.Row) { r.EMF *= 1.01 }},
		{"| true series resistance above its mark by | 1 % | +1", "k %", func(r *physics.Row) { r.Series /= 1.01 }},
		{"| true series resistance above its mark by | 1 % | +0", "G %", func(r *physics.Row) { r.Series /= 1.01 }},
		{"| internal resistance taken too large by | 20 Ω |", "G Ω", func(r *physics.Row) { r.SourceResistance += 20 }},
		{"| true shunt above its mark by | 0.5 % |", "G %", func(r *physics.Row) { r.Shunt /= 1.005 }},
	}
	text := file("errors")
	size := regexp.MustCompile(`([+−])([0-9.]+) (%|Ω)[^|]*\|$`)
	for _, tt := range tests {
		t.Run(tt.line, func(t *testing.T) {
			at := strings.Index(text, tt.line)
			if at < 0 {
				t.Fatalf("errors.md has no line %q", tt.line)
			}
			line, _, _ := strings.Cut(text[at:], "\n")
			m := size.FindStringSubmatch(line)
			if m == nil {
				t.Fatalf("%q states no size", line)
			}
			var said float64
			if _, err := fmt.Sscan(m[2], &said); err != nil {
				t.Fatal(err)
			}
			if m[1] == "−" {
				said = -said
			}
			g, k, ohm := change(t, tt.edit)
			want := map[string]float64{"G %": g, "k %": k, "G Ω": ohm}[tt.of]
			// What is written is rounded to one decimal or one figure.
			slack := math.Abs(want)/12 + 0.05
			if math.Abs(said) < 0.1 {
				slack = 0.005
			}
			if math.Abs(said-want) > slack {
				t.Errorf("%q says %g, the formulas give %.3g", line, said, want)
			}
		})
	}
}

// TestExample holds the worked example of the derivation to the formulas.
func TestExample(t *testing.T) {
	res, err := usual.Solve(physics.RowDoubt{})
	if err != nil {
		t.Fatal(err)
	}
	text := file("derivation")
	for _, want := range []string{
		fmt.Sprintf("= %.2f Ω", res.G),
		fmt.Sprintf("= %.3f × 10⁻⁵ A/div", res.K*1e5),
		fmt.Sprintf("%.3f mA", res.K*30*1e3),
	} {
		if !strings.Contains(text, want) {
			t.Errorf("derivation.md does not say %q", want)
		}
	}
	if want := fmt.Sprintf("−%.1f %%", 100*(1-usual.Shunt/res.G)); !strings.Contains(file("errors"), "| *G* taken as *S* | | "+want) {
		t.Errorf("errors.md does not say that S for G is low by %s", want)
	}
	if want := fmt.Sprintf("+%.1f %%", 100*res.G/(usual.Series+usual.SourceResistance)); !strings.Contains(file("errors"), "| *G* left out | | "+want) {
		t.Errorf("errors.md does not say that k without G is high by %s", want)
	}
}
