package typed_test

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"example.org/halve/physics/apparatus"
	"example.org/halve/procedure"
	"example.org/halve/tui/typed"
)

func ptr(v float64) *float64 { return &v }

func TestSetting(t *testing.T) {
	for _, tt := range []struct {
		text  string
		ohm   float64
		plugs []float64
		err   string // in the refusal, "" for none
	}{
		{"4k7", 4700, nil, ""},
		{"0", 0, nil, ""},
		{"1e+3", 1000, nil, ""},
		{"5000+2000 + 1k+200", 8200, []float64{5000, 2000, 1000, 200}, ""},
		{"2000+", 2000, []float64{2000}, ""},
		{"+", 0, nil, "expected a resistance"},
		{"", 0, nil, "is empty"},
		{"5000+3 A", 0, nil, "3 A"},
		{"five", 0, nil, "five"},
		{"-5", 0, nil, "negative"},
	} {
		ohm, plugs, err := typed.Setting(tt.text)
		if tt.err != "" {
			if err == nil || !strings.Contains(err.Error(), tt.err) {
				t.Errorf("Setting(%q): %v, want %q", tt.text, err, tt.err)
			}
			continue
		}
		if err != nil || ohm != tt.ohm || !reflect.DeepEqual(plugs, tt.plugs) {
			t.Errorf("Setting(%q) = %g, %v, %v; want %g, %v", tt.text, ohm, plugs, err, tt.ohm, tt.plugs)
		}
	}
}

func TestDeflection(t *testing.T) {
	centre := apparatus.Galvanometer{Divisions: 30, Zero: apparatus.CentreZero}
	left := apparatus.Galvanometer{Divisions: 50, Zero: apparatus.LeftZero}
	for _, tt := range []struct {
		text string
		on   apparatus.Galvanometer
		div  *float64
		off  bool
		err  string
	}{
		{"23 1/2", centre, ptr(23.5), false, ""},
		{"-24", centre, ptr(-24), false, ""},
		{"−0,5 div", centre, ptr(-0.5), false, ""},
		{"off", centre, nil, true, ""},
		{" Off  Scale ", centre, nil, true, ""},
		{"off right", centre, ptr(30), true, ""},
		{"off left", centre, ptr(-30), true, ""},
		{"-off", centre, ptr(-30), true, ""},
		{"off", left, nil, true, ""},
		{"off right", left, nil, true, ""},
		{"off left", left, nil, false, "against the left stop is a reading below zero"},
		{"offside", centre, nil, false, "off if the needle is beyond the end"},
		{"24 V", centre, nil, false, "24 V"},
	} {
		div, off, err := typed.Deflection(tt.text, tt.on)
		if tt.err != "" {
			if err == nil || !strings.Contains(err.Error(), tt.err) {
				t.Errorf("Deflection(%q): %v, want %q", tt.text, err, tt.err)
			}
			continue
		}
		if err != nil || off != tt.off || !reflect.DeepEqual(div, tt.div) {
			t.Errorf("Deflection(%q) = %v, %t, %v; want %v, %t", tt.text, div, off, err, tt.div, tt.off)
		}
	}
}

func TestSource(t *testing.T) {
	for _, tt := range []struct {
		text string
		want procedure.SourceMeasured
	}{
		{"1520 mV", procedure.SourceMeasured{EMF: 1.52}},
		{"1.52 ± 0.01", procedure.SourceMeasured{EMF: 1.52, UEMF: ptr(0.01)}},
		{"1.52+-10mV loaded", procedure.SourceMeasured{EMF: 1.52, UEMF: ptr(0.01), Loaded: true}},
		{"1,5 Loaded", procedure.SourceMeasured{EMF: 1.5, Loaded: true}},
	} {
		if got, err := typed.Source(tt.text); err != nil || !reflect.DeepEqual(got, tt.want) {
			t.Errorf("Source(%q) = %+v, %v; want %+v", tt.text, got, err, tt.want)
		}
	}
	for _, text := range []string{"", "high", "1.5 A", "1.5 ± high", "loaded", "-1.5"} {
		if got, err := typed.Source(text); err == nil {
			t.Errorf("Source(%q) = %+v, want it refused", text, got)
		}
	}
}

// Expected by hand: 20 ± 4·0.5 reaches from 18 to 22; 26 + 4·0.5 stays below
// 30, 28.5 + 4·0.5 does not.
func TestApart(t *testing.T) {
	at := func(div float64) *procedure.Expect { return &procedure.Expect{Div: div, UDiv: 0.5} }
	for _, tt := range []struct {
		name string
		e    *procedure.Expect
		div  *float64
		off  bool
		want bool
	}{
		{"nothing expected", nil, ptr(3), false, false},
		{"at it", at(20), ptr(20), false, false},
		{"just within", at(20), ptr(18), false, false},
		{"just without", at(20), ptr(17.9), false, true},
		{"on the other side", at(-20), ptr(20), false, true},
		{"off, far from the end", at(26), nil, true, true},
		{"off, near the end", at(28.5), nil, true, false},
		{"off on the left", at(-28.5), ptr(-30), true, false},
		{"no number", at(20), ptr(math.NaN()), false, false},
	} {
		if got := typed.Apart(tt.e, 30, tt.div, tt.off); got != tt.want {
			t.Errorf("%s: %t, want %t", tt.name, got, tt.want)
		}
	}
}
