package screen

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"example.org/halve/physics/apparatus"
	"example.org/halve/procedure"
)

// senseOf prepares what entries are read by on the common bench.
func senseOf(t testing.TB, next *procedure.Next) sense {
	t.Helper()
	b := table()
	s := sense{galvanometer: b.Galvanometer, next: next, lastSeq: 12}
	var err error
	if s.series, err = apparatus.NewRange(b.SeriesBox); err != nil {
		t.Fatal(err)
	}
	if s.shunt, err = apparatus.NewRange(b.ShuntBox); err != nil {
		t.Fatal(err)
	}
	return s
}

func TestReadEntry(t *testing.T) {
	proposed := &procedure.Next{Event: procedure.KindSetSeries, Ohm: ptr(8200), TakeOut: []float64{5000, 2000, 1000, 200}}
	tests := []struct {
		name string
		kind entryKind
		text string
		body procedure.Body // nil: nothing yet
		says string
	}{
		{"kilo-ohm by letter", enterSeries, "4k7", procedure.SeriesSet{Ohm: 4700}, "read as 4 700 Ω: take out 2 000 + 2 000 + 500 + 200"},
		{"the proposal", enterSeries, "", procedure.SeriesSet{Ohm: 8200, TakeOut: []float64{5000, 2000, 1000, 200}}, "Enter takes 8 200 Ω: take out 5 000 + 2 000 + 1 000 + 200"},
		{"plugs", enterSeries, "2000 + 1k", procedure.SeriesSet{Ohm: 3000, TakeOut: []float64{2000, 1000}}, "3 000 Ω: take out 2 000 + 1 000"},
		{"plugs, one still to come", enterSeries, "2000+", procedure.SeriesSet{Ohm: 2000, TakeOut: []float64{2000}}, "2 000 Ω: take out 2 000"},
		{"an exponent is no plug list", enterSeries, "1e+3", procedure.SeriesSet{Ohm: 1000}, "read as 1 000 Ω: take out 1 000"},
		{"no proposal for the other box", enterShunt, "", nil, ""},
		{"all plugs in", enterShunt, "0", procedure.ShuntSet{}, "read as 0 Ω: all plugs in"},
		{"a reading is never proposed", enterFirst, " ", nil, ""},
		{"a reading", enterFirst, "23.5", procedure.FirstRead{Div: ptr(23.5)}, "read as 23.5 div"},
		{"a fraction", enterShunted, "23 1/2", procedure.ShuntedRead{Div: ptr(23.5)}, "read as 23.5 div"},
		{"off", enterFirst, "OFF", procedure.FirstRead{OffScale: true}, "off scale: beyond the end"},
		{"off on the right", enterFirst, "off right", procedure.FirstRead{OffScale: true, Div: ptr(30)}, "off scale: beyond the right end"},
		{"off on the left", enterShunted, "-off", procedure.ShuntedRead{OffScale: true, Div: ptr(-30)}, "off scale: beyond the left end"},
		{"zero", enterZero, "-0.25", procedure.ZeroRead{Div: -0.25}, "rests at −0.25 div"},
		{"EMF", enterSource, "1520 mV", procedure.SourceMeasured{EMF: 1.52}, "read as 1.52 V"},
		{"EMF with doubt, loaded", enterSource, "1.52 ± 0.01 loaded", procedure.SourceMeasured{EMF: 1.52, UEMF: ptr(0.01), Loaded: true}, "read as 1.52 V with standard uncertainty 0.01 V, K1 closed"},
		{"EMF with doubt in ASCII", enterSource, "1.52+-0.01", procedure.SourceMeasured{EMF: 1.52, UEMF: ptr(0.01)}, "read as 1.52 V with standard uncertainty 0.01 V"},
		{"note", enterNote, "lamp flickers\x1b[31m", procedure.Note{Text: "lamp flickers"}, ""},
		{"temperature", enterTemperature, "22.5", procedure.Note{Temperature: ptr(22.5)}, "22.5 °C"},
		{"names and group", enterWho, "A, B; 4", procedure.Who{Names: "A, B", Group: "4"}, "names: A, B; group: 4"},
		{"strike the last", enterStrike, "", procedure.Strike{Event: 12}, ""},
		{"strike the last, why", enterStrike, "misread it", procedure.Strike{Event: 12, Why: "misread it"}, ""},
		{"strike by number", enterStrike, "7 plug loose", procedure.Strike{Event: 7, Why: "plug loose"}, ""},
		{"strike by marked number", enterStrike, "#7", procedure.Strike{Event: 7}, ""},
		{"G of the mean", enterResistance, "90.5", procedure.Claim{Quantity: "resistance", Value: procedure.Written{Text: "90.5", Value: 90.5}}, "read as 90.5000 Ω as the mean"},
		{"k of a row", enterMerit, "1.88e-5 row 2", procedure.Claim{Quantity: "merit", Row: 2, Value: procedure.Written{Text: "1.88e-5", Value: 1.88e-5}}, "read as 18.8000 µA/div for row 2"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := senseOf(t, proposed).read(tt.kind, tt.text)
			if got.err != nil {
				t.Fatalf("read(%q): %v", tt.text, got.err)
			}
			if !reflect.DeepEqual(got.body, tt.body) {
				t.Errorf("read(%q) = %+v, want %+v", tt.text, got.body, tt.body)
			}
			if says := strings.ReplaceAll(got.says, "\u00a0", " "); says != tt.says {
				t.Errorf("read(%q) says %q, want %q", tt.text, says, tt.says)
			}
		})
	}
}

func TestReadEntryRefuses(t *testing.T) {
	for _, tt := range []struct {
		kind       entryKind
		text, says string
	}{
		{enterSeries, "abc", "expected a resistance in ohm"},
		{enterSeries, "50+x", "expected a resistance in ohm"},
		{enterFirst, "24 V", "expected a reading in divisions"},
		{enterSource, "1.5 ohm", "expected a voltage"},
		{enterSource, "1.5 +- little", "expected a voltage"},
		{enterTemperature, "warm", "temperature"},
		{enterStrike, "7b misread", "7b is no number of an entry"},
		{enterResistance, "90.5 row two", "after row comes its number"},
		{enterMerit, "90 ohm", "expected a current per division"},
	} {
		got := senseOf(t, nil).read(tt.kind, tt.text)
		if got.err == nil || !strings.Contains(got.err.Error(), tt.says) || strings.Contains(got.err.Error(), "\n") {
			t.Errorf("read(%q) = %+v, %v, want one line with %q", tt.text, got.body, got.err, tt.says)
		}
	}
}

// On a left-zero scale there is no left end to be beyond.
func TestOffOnLeftZero(t *testing.T) {
	s := senseOf(t, nil)
	s.galvanometer.Zero = apparatus.LeftZero
	if got := s.read(enterFirst, "off left"); got.err == nil {
		t.Errorf("off left was taken: %+v", got.body)
	}
	if got := s.read(enterFirst, "off"); got.err != nil {
		t.Errorf("off: %v", got.err)
	}
}

// A decade box is told by its dials.
func TestDials(t *testing.T) {
	r, err := apparatus.NewRange(apparatus.Box{Kind: apparatus.Decade, Dials: []float64{1000, 100, 10, 1}})
	if err != nil {
		t.Fatal(err)
	}
	s := sense{series: r, next: &procedure.Next{Event: procedure.KindSetSeries, Ohm: ptr(6230)}}
	for text, want := range map[string]string{
		"":   "Enter takes 6 230 Ω: dials 6 × 1 000, 2 × 100, 3 × 10",
		"47": "read as 47 Ω: dials 4 × 10, 7 × 1",
		"0":  "read as 0 Ω: all dials at nought",
	} {
		got := s.read(enterSeries, text)
		if says := strings.ReplaceAll(got.says, "\u00a0", " "); says != want {
			t.Errorf("read(%q) says %q, want %q", text, says, want)
		}
	}
}

// No text breaks the reading of any entry; what is taken is finite.
func FuzzReadEntry(f *testing.F) {
	for _, text := range []string{"4k7", "50+20+20", "off left", "1.52 ± 0.01 loaded", "12 misread", "90.5 row 2", "Ⱥ loaded", "İ row 1", "\x1b[31m", "nan", "1e999", "-0", "+"} {
		for kind := range enterCopy + 1 {
			f.Add(int(kind), text)
		}
	}
	s := senseOf(f, &procedure.Next{Event: procedure.KindSetShunt, Ohm: ptr(95)})
	f.Fuzz(func(t *testing.T, kind int, text string) {
		if kind < 0 || kind > int(enterCopy) {
			return
		}
		got := s.read(entryKind(kind), text)
		var v float64
		switch b := got.body.(type) {
		case procedure.SeriesSet:
			v = b.Ohm
		case procedure.ShuntSet:
			v = b.Ohm
		case procedure.SourceMeasured:
			v = b.EMF
		case procedure.ZeroRead:
			v = b.Div
		}
		if got.err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
			t.Errorf("read(%q) = %+v", text, got.body)
		}
	})
}
