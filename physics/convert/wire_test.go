package convert

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"example.org/halve/physics/published"
)

// handbook is testdata/reference/12_wire_cells_handbook.json: wire tables, each
// with its source.
type handbook struct {
	Copper struct {
		Exact string
		Rho   float64 `json:"rho20_ohm_mm2_per_m"`
		Alpha float64 `json:"alpha20_per_K"`
	} `json:"copper_standard"`
	AWG struct {
		Rows map[string]struct {
			D    float64 `json:"d_mm"`
			Area float64 `json:"area_mm2"`
		}
	}
	SWG      struct{ Inches, MM map[string]float64 }
	Manganin struct {
		Found map[string]any `json:"values_found_ohm_m"`
	}
	CRC []struct {
		Gauge              int     `json:"gauge_BS"`
		D                  float64 `json:"d_mm"`
		Constantan, Copper float64
	} `json:"crc_wire_rows_ohm_per_m"`
	Lengths []struct {
		S      float64 `json:"S_ohm"`
		Area   float64 `json:"A_m2"`
		Wire   string
		Rho    float64 `json:"rho_ohm_m"`
		Length float64 `json:"L_m"`
	} `json:"shunt_length_examples_derived"`
}

func TestHandbook(t *testing.T) {
	h := published.Load[handbook](t, reference, "12_wire_cells_handbook.json")
	copper, err := ParseMetal("Copper")
	if err != nil {
		t.Fatal(err)
	}
	published.Near(t, "copper", copper.Resistivity*1e6, h.Copper.Rho, 5e-5) // five digits printed
	published.Near(t, "copper's coefficient", copper.Alpha, h.Copper.Alpha, 0)
	if len(h.AWG.Rows) < 16 || len(h.SWG.Inches) != len(Gauges()) {
		t.Fatalf("the handbook has %d AWG and %d SWG sizes, we have %d", len(h.AWG.Rows), len(h.SWG.Inches), len(Gauges()))
	}
	for n, row := range h.AWG.Rows {
		g, err := ParseGauge("awg " + n)
		if err != nil {
			t.Fatal(err)
		}
		published.Near(t, g.Name, g.Diameter*1e3, row.D, 1e-3) // four decimals of a millimetre, 0.0799 the least
		published.Near(t, g.Name, g.Area()*1e6, row.Area, 2e-4)
	}
	for n, inches := range h.SWG.Inches {
		g, err := ParseGauge("SWG" + n)
		if err != nil {
			t.Fatal(err)
		}
		published.Near(t, g.Name, g.Diameter/0.0254, inches, 1e-12)
		published.Near(t, g.Name, g.Diameter*1e3, h.SWG.MM[n], 5e-4)
	}
	// The printed wires of copper and constantan, within how far tables differ.
	constantan, err := ParseMetal("constantan")
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range h.CRC {
		area := Gauge{Diameter: row.D * 1e-3}.Area()
		published.Near(t, "ohm per metre of copper", copper.Resistivity/area, row.Copper, 0.03) // theirs is pure, ours annealed
		published.Near(t, "ohm per metre of constantan", constantan.Resistivity/area, row.Constantan, 0.085)
	}
	// Manganin by JIS C 2522, (0.44 ± 0.03) µΩ m, as the handbook quotes it, and
	// what that makes of the domain's example, 0.102789 Ω of SWG 22: by hand,
	// 0.102789 · π/4 · (0.7112 mm)²/0.44 µΩ m = 92.8 mm.
	manganin, err := ParseMetal("manganin")
	if err != nil {
		t.Fatal(err)
	}
	rho, spread, _ := strings.Cut(h.Manganin.Found["JIS C 2522 (12 % Mn)"].(string), " +- ")
	for what, v := range map[string][2]float64{rho: {manganin.Resistivity, 1e-12}, spread: {manganin.Resistivity * manganin.Spread, 1e-9}} {
		want, err := strconv.ParseFloat(what, 64)
		if err != nil || math.Abs(v[0]-want) > v[1] {
			t.Errorf("manganin: got %g, want %s", v[0], what)
		}
	}
	swg22, err := ParseGauge("SWG 22")
	if err != nil {
		t.Fatal(err)
	}
	published.Near(t, "manganin of SWG 22", Wind(0.102789, 0.5, manganin, swg22).Length, 0.0928, 1e-3)
	for _, l := range h.Lengths {
		g := Gauge{Diameter: 2 * math.Sqrt(l.Area/math.Pi)}
		if l.Wire != "" {
			name, _, _ := strings.Cut(l.Wire, " (")
			if g, err = ParseGauge(name); err != nil {
				t.Fatal(err)
			}
		}
		w := Wind(l.S, 1, Metal{Resistivity: l.Rho}, g)
		published.Near(t, "length of "+strconv.FormatFloat(l.S, 'g', -1, 64)+" Ω", w.Length, l.Length, 3e-5)
		published.Near(t, "current density", w.Density, 1/g.Area(), 0)
	}
}

func TestGauge(t *testing.T) {
	for text, mm := range map[string]float64{"SWG 22": 0.7112, "swg22": 0.7112, "AWG-36": 0.127, "awg 0": 8.2515, "0.5 mm": 0.5, "0,5mm": 0.5, "1 MM": 1} {
		g, err := ParseGauge(text)
		if err != nil {
			t.Errorf("%q: %v", text, err)
			continue
		}
		published.Near(t, text, g.Diameter*1e3, mm, 1e-4)
	}
	for _, bad := range []string{"", "22", "SWG", "SWG 23", "AWG 41", "0 mm", "30 mm", "-1 mm", "x mm", "Ω"} {
		if g, err := ParseGauge(bad); err == nil {
			t.Errorf("%q is taken for %+v", bad, g)
		}
	}
	if _, err := ParseMetal("iron"); err == nil {
		t.Error("iron is taken for a shunt's metal")
	}
	// By hand, 2 A/mm²: 1 A needs 0.5 mm², 0.798 mm: SWG 20 (0.914 mm) is the
	// thinnest even gauge that holds it. 100 A needs more than SWG 14 has.
	for current, want := range map[float64]string{1: "SWG 20", 100: "SWG 14", 1e-3: "SWG 40"} {
		if g := PickGauge(current); g.Name != want {
			t.Errorf("PickGauge(%g) = %s, want %s", current, g.Name, want)
		}
	}
}
