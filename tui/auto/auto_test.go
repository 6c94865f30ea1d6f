package auto_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
	"example.org/halve/safety"
	"example.org/halve/tui/auto"
)

func clock() time.Time { return time.Date(2025, 3, 4, 10, 0, 0, 0, time.UTC) }

// loop is a bench in closed form: i = E/(R+G), shunted by S as a current
// divider; read to half a division.
type loop struct {
	emf, g, k, divisions float64
	series, shunt        float64
	k1, k2               bool
}

func (l *loop) SetSeries(ohm float64, _ []float64) error { l.series = ohm; return nil }
func (l *loop) SetShunt(ohm float64, _ []float64) error  { l.shunt = ohm; return nil }
func (l *loop) SetKeys(k1, k2 bool)                      { l.k1, l.k2 = k1, k2 }

func (l *loop) Deflection() float64 {
	switch {
	case l.k1 && l.k2:
		return l.emf * l.shunt / (l.series*(l.g+l.shunt) + l.g*l.shunt) / l.k
	case l.k1:
		return l.emf / (l.series + l.g) / l.k
	}
	return 0
}

func (l *loop) Read() (float64, bool) {
	div := math.Round(2*l.Deflection()) / 2
	return div, math.Abs(div) > l.divisions
}

func bench(t *testing.T) procedure.Body {
	t.Helper()
	b, err := procedure.Words().DecodeInput([]byte(`{"event":"bench","source":{"emf_V":1.5,"u_emf_V":0.03},"galvanometer":{"divisions":30,"zero":"centre","resolution_div":0.5},` +
		`"series_box":{"kind":"plug","coils_ohm":[1,2,2,5,10,20,20,50,100,200,200,500,1000,2000,2000,5000],"tolerance":0.001},` +
		`"shunt_box":{"kind":"plug","coils_ohm":[1,2,2,5,10,20,20,50,100,200,200,500],"tolerance":0.001}}`))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// Whoever obeys ends with a complete record. G = 92 ohm and k = 20 µA/div are
// what the closed form was given.
func TestObey(t *testing.T) {
	s := record.InMemory(clock)
	if _, err := s.Accept(bench(t)); err != nil {
		t.Fatal(err)
	}
	run, err := auto.Obey(s, &loop{emf: 1.5, g: 92, k: 20e-6, divisions: 30})
	if err != nil {
		t.Fatal(err)
	}
	r := run.Counsel.Result
	if run.Counsel.Next != nil || r == nil || r.Rows < 5 || !s.State().Finished() {
		t.Fatalf("the last counsel is %+v, want a finished practical of five rows", run.Counsel)
	}
	if run.Pinned != 0 {
		t.Errorf("the needle passed the last mark %d times after clear", run.Pinned)
	}
	if d := math.Abs(*r.Resistance - 92); d > 3**r.UResistance {
		t.Errorf("G is %g ± %g, want 92", *r.Resistance, *r.UResistance)
	}
	if len(run.SeriesSettings) != r.Rows || len(run.ShuntSettings) != r.Rows {
		t.Errorf("settings %v and %v, want one of each for %d rows", run.SeriesSettings, run.ShuntSettings, r.Rows)
	}
}

// orders is a sitting whose counsels are given.
type orders struct {
	*record.Sitting
	counsels []procedure.Counsel
	taken    []procedure.Event
}

func (o *orders) Counsel() procedure.Counsel { return o.counsels[0] }
func (o *orders) Events() []procedure.Event  { return o.taken }

func (o *orders) Accept(b procedure.Body) (procedure.Counsel, error) {
	o.taken = append(o.taken, procedure.Event{Seq: len(o.taken) + 1, Body: b})
	if len(o.counsels) > 1 {
		o.counsels = o.counsels[1:]
	}
	return o.counsels[0], nil
}

func order(event string, ohm float64, verdict safety.Verdict) procedure.Counsel {
	c := procedure.Counsel{Next: &procedure.Next{Event: event, Ohm: &ohm}}
	if verdict != "" {
		c.Clearance = &safety.Clearance{Key: safety.K1, Verdict: verdict}
	}
	return c
}

func seated(t *testing.T, counsels ...procedure.Counsel) *orders {
	t.Helper()
	s := record.InMemory(clock)
	if _, err := s.Accept(bench(t)); err != nil {
		t.Fatal(err)
	}
	return &orders{Sitting: s, counsels: counsels}
}

// What the needle did after which word is counted apart; 1.5 V over 1092 ohm
// at 20 µA/div are 68.7 divisions of 30.
func TestPastTheLastMark(t *testing.T) {
	s := seated(t,
		order(procedure.KindSetSeries, 1000, ""),
		order(procedure.KindReadFirst, 0, safety.Tap),
		order(procedure.KindReadFirst, 0, safety.Clear),
		order(procedure.KindReadFirst, 0, safety.Clear),
		order(procedure.KindSetSeries, 11110, ""),
		order(procedure.KindReadFirst, 0, safety.Clear),
		procedure.Counsel{})
	run, err := auto.Obey(s, &loop{emf: 1.5, g: 92, k: 20e-6, divisions: 30})
	if err != nil {
		t.Fatal(err)
	}
	if run.TapsOffScale != 1 || run.Pinned != 2 {
		t.Errorf("taps off the scale %d, pinned %d; want 1 and 2", run.TapsOffScale, run.Pinned)
	}
}

// Counting begins anew with every row; a series value kept from the row before
// is no setting. With 20 µA/div usable is 20 to 27 of 30 divisions, so 6.5
// is not, 24 is.
func TestSettings(t *testing.T) {
	series := func(ohm float64) procedure.Counsel { return order(procedure.KindSetSeries, ohm, safety.Clear) }
	first := order(procedure.KindReadFirst, 0, safety.Clear)
	shunt := order(procedure.KindSetShunt, 90, "")
	keep := order(procedure.KindKeepRow, 0, "")
	s := seated(t, series(11110), first, series(3000), first, series(2900), first, shunt, shunt, keep, shunt, keep, series(3100), first, shunt, keep, procedure.Counsel{})
	run, err := auto.Obey(s, &loop{emf: 1.5, g: 92, k: 20e-6, divisions: 30})
	if err != nil {
		t.Fatal(err)
	}
	if want := []int{2, 0, 1}; !slices.Equal(run.SeriesSettings, want) {
		t.Errorf("series settings %v, want %v", run.SeriesSettings, want)
	}
	if want := []int{2, 1, 1}; !slices.Equal(run.ShuntSettings, want) {
		t.Errorf("shunt settings %v, want %v", run.ShuntSettings, want)
	}
}

// A counsel that cannot be obeyed ends the run, and says where.
func TestCannotObey(t *testing.T) {
	refused := "no"
	unset := procedure.Counsel{Next: &procedure.Next{Event: procedure.KindSetSeries}}
	tests := []struct {
		name     string
		counsels []procedure.Counsel
		want     string
	}{
		{"a key closed against a stop", []procedure.Counsel{order(procedure.KindReadFirst, 0, safety.Stop)}, "K1"},
		{"a key closed without a word", []procedure.Counsel{order(procedure.KindReadShunted, 0, "")}, "K2"},
		{"a setting without a value", []procedure.Counsel{unset}, "no value"},
		{"an event of another kind", []procedure.Counsel{order("dance", 0, "")}, "dance"},
		{"what is asked for is refused", []procedure.Counsel{order(procedure.KindWired, 0, ""), {Refused: &refused}}, "refused"},
		{"no end", []procedure.Counsel{order(procedure.KindWired, 0, "")}, "no end"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := auto.Obey(seated(t, tt.counsels...), &loop{emf: 1.5, g: 92, k: 20e-6, divisions: 30})
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got the error %v, want one that says %q", err, tt.want)
			}
		})
	}
}
