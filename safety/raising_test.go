package safety

import (
	"math"
	"slices"
	"strings"
	"testing"

	"example.org/halve/physics/quantity"
)

// TestRaisingRules: each rule with examples that pass and examples that fail,
// about a 0 to 10 A meter of 100 divisions.
func TestRaisingRules(t *testing.T) {
	good := Raising{Wired: true, Unit: quantity.Ampere, Target: 8, Range: 10, Divisions: 100, ReferenceMax: 20, SourceMax: 12, LeftZero: true, DirectionKnown: true}
	tests := []struct {
		name    string
		change  func(*Raising)
		rule    string // the rule that speaks, "" for none
		verdict Verdict
		says    string
	}{
		{"all is well", func(*Raising) {}, "", Clear, "drives the pointer to 120 of 100"},
		{"not checked", func(r *Raising) { r.Wired = false }, "meter-circuit-checked", Stop, "not been checked"},
		{"unchecked and beyond the rating: the first speaks", func(r *Raising) { r.Wired, r.ReferenceMax = false, 7 }, "meter-circuit-checked", Stop, "not been checked"},
		{"the point at the rating", func(r *Raising) { r.ReferenceMax = 8 }, "", Clear, ""},
		{"the point beyond the rating", func(r *Raising) { r.ReferenceMax = 7.9 }, "reference-rating", Stop, "rated for 7.90 A"},
		{"no rating stated", func(r *Raising) { r.ReferenceMax = 0 }, "", Clear, ""},
		{"a stronger source", func(r *Raising) { r.SourceMax = 50 }, "", Clear, "to 500 of 100 divisions: turn it up slowly"},
		{"ten times the range", func(r *Raising) { r.SourceMax = 100 }, "", Clear, "slowly"},
		{"more than ten times", func(r *Raising) { r.SourceMax = 101 }, "source-limit", Stop, "more than 12.0 A"},
		{"no most stated", func(r *Raising) { r.SourceMax = 0 }, "", Clear, "not stated"},
		{"on a lower range than stated", func(r *Raising) { r.Shows = 3 }, "", Clear, "to 360 of 100 divisions: turn it up slowly"},
		{"on a higher one", func(r *Raising) { r.Shows = 0.1 }, "", Clear, "to 120 of 100 divisions, which a meter stands"},
		{"direction unknown", func(r *Raising) { r.DirectionKnown = false }, "direction-unknown", Tap, "least setting"},
		{"direction unknown, zero in the middle", func(r *Raising) { r.DirectionKnown, r.LeftZero = false, false }, "", Clear, ""},
		{"the strictest speaks", func(r *Raising) { r.DirectionKnown, r.SourceMax = false, 1000 }, "source-limit", Stop, "100 times"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := good
			tt.change(&r)
			c := JudgeRaising(r)
			if c.Key != Source || c.Verdict != tt.verdict || !strings.Contains(c.Because, tt.says) {
				t.Errorf("%+v; want %s saying %q", c, tt.verdict, tt.says)
			}
			if worst := r.SourceMax / r.Range * r.Divisions * max(1, r.Shows); r.SourceMax > 0 && (c.WorstDiv == nil || math.Abs(*c.WorstDiv-worst) > 1e-9) || r.SourceMax == 0 && c.WorstDiv != nil {
				t.Errorf("worst case %v, want %g", c.WorstDiv, worst)
			}
			for _, rule := range RaisingRules() {
				_, _, ok := rule.Judge(r)
				if speaks := rule.ID == tt.rule; speaks && ok {
					t.Errorf("%s is silent", rule.ID)
				}
			}
		})
	}
	for _, rule := range RaisingRules() {
		if rule.Why == "" || rule.Source == "" {
			t.Errorf("%s does not say why or where from", rule.ID)
		}
		if !slices.ContainsFunc(tests, func(tt struct {
			name    string
			change  func(*Raising)
			rule    string
			verdict Verdict
			says    string
		}) bool {
			return tt.rule == rule.ID
		}) {
			t.Errorf("%s has no example that fails", rule.ID)
		}
	}
}

// TestMeterCautions: what has to be said at a meter check, and where.
func TestMeterCautions(t *testing.T) {
	ids := func(step string, b MeterBench) string {
		var out []string
		for _, c := range MeterCautions(step, b) {
			out = append(out, c.ID)
		}
		return strings.Join(out, " ")
	}
	small, big := MeterBench{Ammeter: true, Amperes: 1}, MeterBench{Ammeter: true, Amperes: 10}
	tame, fierce := MeterBench{Ammeter: true, Amperes: 1, Volts: 30}, MeterBench{Ammeter: true, Amperes: 1, Volts: 31}
	low, high := MeterBench{Volts: 30}, MeterBench{Volts: 300}
	for _, c := range []struct {
		step       string
		b          MeterBench
		has, lacks string
	}{
		{"bench", small, "practice not-the-mains current-transformer old-dials", "touch"},
		{"bench", high, "touch", ""},
		{"bench", fierce, "touch", ""},
		{"wiring", small, "never dead shunt-order in-series low-voltage ratings no-ohmmeter", "in-parallel touch"},
		{"wiring", tame, "in-series", "low-voltage touch"},
		{"wiring", fierce, "touch in-series", "low-voltage"},
		{"rising", fierce, "touch slowly", "hot-shunt"},
		{"wiring", low, "in-parallel", "shunt-order low-voltage touch"},
		{"wiring", high, "touch", ""},
		{"zero", small, "source-off", ""},
		{"zero", high, "source-off", "touch"},
		{"rising", high, "slowly touch", "hot-shunt"},
		{"result", high, "leave", "touch"},
		{"rising", small, "slowly", "hot-shunt"},
		{"rising", big, "slowly hot-shunt", "touch"},
		{"falling", high, "slowly touch", "hot-shunt"},
		{"result", small, "leave", ""},
		{"nowhere", small, "", "practice"},
	} {
		got := ids(c.step, c.b)
		if strings.Contains(got, "touch") && !strings.HasPrefix(got, "touch") {
			t.Errorf("%s, %+v: what can kill stands behind other things: %s", c.step, c.b, got)
		}
		for _, id := range strings.Fields(c.has) {
			if !strings.Contains(got, id) {
				t.Errorf("%s, %+v: %s is not said: %s", c.step, c.b, id, got)
			}
		}
		for _, id := range strings.Fields(c.lacks) {
			if strings.Contains(got, id) {
				t.Errorf("%s, %+v: %s is said without need: %s", c.step, c.b, id, got)
			}
		}
	}
}
