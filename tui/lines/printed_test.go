package lines_test

import (
	"encoding/json"
	"math/rand/v2"
	"os"
	"testing"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/bench"
	"example.org/halve/procedure"
)

// Records as they stand in print. In HD2, flagged as an error, θ1(R + G) falls
// from 101 832 in the first row to 75 482 in the fourth, where it should be the
// same: the readings slide downward. HD3 is consistent, to whole divisions.
func TestPrintedRecords(t *testing.T) {
	var file struct {
		Examples []struct {
			ID    string
			Given struct {
				R, Theta, S []float64
				E           float64 `json:"E_V"`
			}
		}
	}
	raw, err := os.ReadFile("../../procedure/slips/testdata/printed.json")
	if err == nil {
		err = json.Unmarshal(raw, &file)
	}
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range file.Examples {
		if len(e.Given.R) == 0 {
			continue
		}
		u := 0.02 * e.Given.E
		b := apparatus.Bench{
			Source:       apparatus.Source{EMF: e.Given.E, UEMF: &u},
			Galvanometer: apparatus.Galvanometer{Divisions: 30, Zero: apparatus.CentreZero, Resolution: 1},
			SeriesBox:    apparatus.Box{Kind: apparatus.Plug, Coils: apparatus.PlugSet(1, 10, 100, 1000), Tolerance: 0.01},
			ShuntBox:     apparatus.Box{Kind: apparatus.Plug, Coils: apparatus.PlugSet(1, 10, 100), Tolerance: 0.01},
		}
		p := sit(t, b, bench.Draw(b, rand.New(rand.NewPCG(1, 1))), rand.New(rand.NewPCG(1, 2)))
		p.must(procedure.Wired{})
		p.must(procedure.ZeroRead{})
		for i, r := range e.Given.R {
			half := e.Given.Theta[i] / 2
			p.must(procedure.SeriesSet{Ohm: r})
			p.must(procedure.FirstRead{Div: &e.Given.Theta[i]})
			p.must(procedure.ShuntSet{Ohm: e.Given.S[i]})
			p.must(procedure.ShuntedRead{Div: &half})
			p.must(procedure.RowKept{})
		}
		top := ""
		if len(p.counsel.Findings) > 0 {
			top = p.counsel.Findings[0].ID
		}
		if want := map[string]string{"HD2": "source-running-down", "HD3": ""}[e.ID]; top != want {
			t.Errorf("%s: %q is found in %+v, want %q", e.ID, top, e.Given, want)
		}
		p.leave()
	}
}
