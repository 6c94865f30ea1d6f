package physics

import (
	"errors"
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"example.org/halve/physics/published"
)

// byName reads a field of the seven-field structs by the scenario's key.
func byName(of any, key string) float64 {
	field := map[string]string{"theta1": "First", "theta2": "Shunted", "zero": "Zero", "R": "Series", "S": "Shunt", "E": "EMF", "r": "SourceResistance"}[key]
	return reflect.ValueOf(of).FieldByName(field).Float()
}

func TestRowScenarios(t *testing.T) {
	type spread struct {
		Dist  string
		Value float64
	}
	all := published.Load[struct {
		Rows []struct {
			ID     string
			Inputs struct {
				EMF     float64 `json:"E_V"`
				Source  float64 `json:"r_ohm"`
				Series  float64 `json:"R_ohm"`
				Shunt   float64 `json:"S_ohm"`
				First   float64 `json:"theta1_div"`
				Shunted float64 `json:"theta2_div"`
				Spread  struct {
					First   spread `json:"theta1"`
					Shunted spread `json:"theta2"`
					Zero    spread `json:"zero"`
					Series  spread `json:"R"`
					Shunt   spread `json:"S"`
					EMF     spread `json:"E"`
					Source  spread `json:"r"`
				} `json:"half_widths_or_u"`
			}
			Expected struct {
				P          float64            `json:"P_ohm"`
				G          float64            `json:"G_ohm"`
				K          float64            `json:"k_A_per_div"`
				UG         float64            `json:"u_G"`
				UK         float64            `json:"u_k"`
				Corr       float64            `json:"corr_Gk"`
				CalledHalf float64            `json:"G_if_called_half"`
				ShareG     map[string]float64 `json:"share_of_variance_G"`
				ShareK     map[string]float64 `json:"share_of_variance_k"`
				SensG      map[string]float64 `json:"sens_G"`
				SensK      map[string]float64 `json:"sens_k"`
			}
			SecondWay struct {
				MonteCarlo struct {
					UG   float64 `json:"uG"`
					UK   float64 `json:"uk"`
					Corr float64 `json:"corr"`
				} `json:"monte_carlo_2e6"`
			} `json:"second_way"`
		}
	}](t, here, "row_scenarios.json")
	standard := func(s spread) float64 { // JCGM 100:2008, 4.3.7 and 4.3.9
		switch s.Dist {
		case "rect":
			return s.Value / math.Sqrt(3)
		case "tri":
			return s.Value / math.Sqrt(6)
		case "norm":
			return s.Value
		}
		t.Fatalf("unknown distribution %q", s.Dist)
		return 0
	}
	if len(all.Rows) != 3 {
		t.Fatalf("%d scenarios, want D1 to D3", len(all.Rows))
	}
	for _, s := range all.Rows {
		t.Run(s.ID, func(t *testing.T) {
			in, want, sp := s.Inputs, s.Expected, s.Inputs.Spread
			row := Row{in.EMF, in.Source, in.Series, in.Shunt, in.First, in.Shunted}
			res, err := row.Solve(RowDoubt{
				EMF: standard(sp.EMF), SourceResistance: standard(sp.Source), Series: standard(sp.Series),
				Shunt: standard(sp.Shunt), First: standard(sp.First), Shunted: standard(sp.Shunted), Zero: standard(sp.Zero),
			})
			if err != nil {
				t.Fatal(err)
			}
			check := func(what string, got, want float64) {
				t.Helper()
				// The scenarios carry six figures.
				if !figures(got, want, 6) && (got != 0 || want != 0) {
					t.Errorf("%s = %v, want %v", what, got, want)
				}
			}
			check("P", res.Thevenin, want.P)
			check("G", res.G, want.G)
			check("k", res.K, want.K)
			check("u(G)", res.UG, want.UG)
			check("u(k)", res.UK, want.UK)
			check("correlation", res.Corr, want.Corr)
			for key := range want.SensG {
				check("∂G/∂"+key, byName(res.SensG, key), want.SensG[key])
				check("∂k/∂"+key, byName(res.SensK, key), want.SensK[key])
				check("share in G of "+key, byName(res.ShareG, key), want.ShareG[key])
				check("share in k of "+key, byName(res.ShareK, key), want.ShareK[key])
			}
			check("G if called a half", must(t)(Resistance(in.Series+in.Source, in.Shunt, 2, 1)), want.CalledHalf)
			// First order against two million draws: within 0.9 % for the most
			// nonlinear of the three (domain notes D3).
			mc := s.SecondWay.MonteCarlo
			if !near(res.UG, mc.UG, 0.009) || !near(res.UK, mc.UK, 0.009) || math.Abs(res.Corr-mc.Corr) > 0.002 {
				t.Errorf("u(G) %v, u(k) %v, correlation %v; Monte Carlo %v, %v, %v", res.UG, res.UK, res.Corr, mc.UG, mc.UK, mc.Corr)
			}
		})
	}
}

func TestDerivedPropagationCase(t *testing.T) {
	d := published.Load[struct {
		Case struct {
			R, S, G, E, Theta, K float64
			UR                   float64 `json:"u_R"`
			US                   float64 `json:"u_S"`
			UG                   float64 `json:"u_G"`
			PartS                float64 `json:"component_S"`
			PartR                float64 `json:"component_R"`
			UE                   float64 `json:"u_E"`
			UTheta               float64 `json:"u_theta"`
			UK                   float64 `json:"u_k"`
			PartsK               struct {
				Theta float64
				E     float64
				R     float64 `json:"R_total_incl_through_G"`
				S     float64 `json:"S_through_G"`
			} `json:"k_components"`
		} `json:"propagation_case"`
	}](t, here, "derived_half_deflection.json").Case
	row := Row{EMF: d.E, Series: d.R, Shunt: d.S, First: d.Theta, Shunted: d.Theta / 2}
	res, err := row.Solve(RowDoubt{EMF: d.UE, Series: d.UR, Shunt: d.US})
	if err != nil {
		t.Fatal(err)
	}
	if !figures(res.UG, d.UG, 6) || math.Abs(res.K-d.K) > 5e-12 {
		t.Errorf("u(G) = %v, k = %v, want %v, %v", res.UG, res.K, d.UG, d.K)
	}
	// The case takes the half as exact: a reading error is then one of scale,
	// θ1 and θ2 together.
	scale := res.SensK.First*d.UTheta + res.SensK.Shunted*d.UTheta/2
	for _, c := range []struct {
		name      string
		got, want float64
		rel       float64
	}{
		{"G by S", res.SensG.Shunt * d.US, d.PartS, 1e-13},
		{"G by R", res.SensG.Series * d.UR, d.PartR, 1e-13},
		// These four were derived from G printed as 68.17 and so hold to 1e-6.
		{"k by θ", scale, d.PartsK.Theta, 1e-6},
		{"k by E", res.SensK.EMF * d.UE, d.PartsK.E, 1e-6},
		{"k by R", res.SensK.Series * d.UR, d.PartsK.R, 1e-6},
		{"k by S", res.SensK.Shunt * d.US, d.PartsK.S, 1e-6},
	} {
		if !near(math.Abs(c.got), c.want, c.rel) {
			t.Errorf("%s: %v, want %v", c.name, math.Abs(c.got), c.want)
		}
	}
	if got := math.Hypot(res.UK, scale); !figures(got, d.UK, 4) {
		t.Errorf("u(k) = %v, want %v", got, d.UK)
	}
}

// The derivatives against central differences of the closed forms themselves.
func TestSensitivitiesNumerically(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, ok := drawBench(t), must(t)
		// A ratio away from 0 and 1: at the ends differences of readings are
		// all rounding, which is the differencing's weakness and not Solve's.
		ρ := rapid.Float64Range(0.1, 0.9).Draw(t, "ρ")
		b.s = halving(b.series+b.r, b.g) * ρ / (1 - ρ)
		row := Row{b.emf, b.r, b.series, b.s,
			ok(FirstDeflection(b.emf, b.series+b.r, b.g, b.k)),
			ok(ShuntedDeflection(b.emf, b.series+b.r, b.g, b.s, b.k))}
		res, err := row.Solve(RowDoubt{})
		if err != nil {
			t.Fatalf("%+v: %v", row, err)
		}
		for _, c := range []struct {
			name   string
			size   float64
			shift  func(*Row, float64)
			dG, dK float64
		}{
			{"E", row.EMF, func(w *Row, d float64) { w.EMF += d }, res.SensG.EMF, res.SensK.EMF},
			// r and R enter only as their sum; a step of r's own size would be lost in it.
			{"r", row.Series, func(w *Row, d float64) { w.SourceResistance += d }, res.SensG.SourceResistance, res.SensK.SourceResistance},
			{"R", row.Series, func(w *Row, d float64) { w.Series += d }, res.SensG.Series, res.SensK.Series},
			{"S", row.Shunt, func(w *Row, d float64) { w.Shunt += d }, res.SensG.Shunt, res.SensK.Shunt},
			{"θ1", row.First, func(w *Row, d float64) { w.First += d }, res.SensG.First, res.SensK.First},
			{"θ2", row.Shunted, func(w *Row, d float64) { w.Shunted += d }, res.SensG.Shunted, res.SensK.Shunted},
			{"zero", row.Shunted, func(w *Row, d float64) { w.First += d; w.Shunted += d }, res.SensG.Zero, res.SensK.Zero},
		} {
			h := 1e-6 * c.size
			at := func(d float64) RowResult {
				w := row
				c.shift(&w, d)
				if w.SourceResistance < 0 { // shift the whole of it into R, the same branch total
					w.Series, w.SourceResistance = w.Series+w.SourceResistance, 0
				}
				r, err := w.Solve(RowDoubt{})
				if err != nil {
					t.Fatalf("%+v, %s shifted by %g: %v", row, c.name, d, err)
				}
				return r
			}
			lo, hi := at(-h), at(h)
			// Truncation is of relative order 1e-12 times the conditioning, up
			// to 1e6 where G is large beside R′; rounding is 1e-16/1e-6 of G
			// and of k times the same. Hence 1e-5 of the slope plus a floor.
			stiff := (1 + res.G/(row.Series+row.SourceResistance)) * (1 + res.G/(row.Series+row.SourceResistance))
			floorG, floorK := 1e-8*stiff*res.G/c.size, 1e-8*stiff*res.K/c.size
			if got := (hi.G - lo.G) / (2 * h); math.Abs(got-c.dG) > 1e-5*math.Abs(c.dG)+floorG {
				t.Fatalf("%+v: ∂G/∂%s by differences %v, closed form %v", row, c.name, got, c.dG)
			}
			if got := (hi.K - lo.K) / (2 * h); math.Abs(got-c.dK) > 1e-5*math.Abs(c.dK)+floorK {
				t.Fatalf("%+v: ∂k/∂%s by differences %v, closed form %v", row, c.name, got, c.dK)
			}
		}
	})
}

// Whatever is entered, an answer is finite and whole.
func TestRowNeverNaN(t *testing.T) {
	number := rapid.OneOf(rapid.Float64(), rapid.Float64Range(0, 100),
		rapid.SampledFrom([]float64{0, -1, 1e-308, 5e-324, 1e-150, 1e150, math.MaxFloat64, math.Inf(1), math.NaN()}))
	rapid.Check(t, func(t *rapid.T) {
		row := Row{number.Draw(t, "E"), number.Draw(t, "r"), number.Draw(t, "R"), number.Draw(t, "S"), number.Draw(t, "θ1"), number.Draw(t, "θ2")}
		u := RowDoubt{number.Draw(t, "uE"), number.Draw(t, "ur"), number.Draw(t, "uR"), number.Draw(t, "uS"), number.Draw(t, "u1"), number.Draw(t, "u2"), number.Draw(t, "uz")}
		res, err := row.Solve(u)
		if err != nil {
			if res != (RowResult{}) {
				t.Fatalf("%+v, %+v: error %v with a result %+v", row, u, err, res)
			}
			return
		}
		var walk func(v reflect.Value)
		walk = func(v reflect.Value) {
			for i := range v.NumField() {
				if v.Field(i).Kind() == reflect.Struct {
					walk(v.Field(i))
				} else if f := v.Field(i).Float(); math.IsNaN(f) || math.IsInf(f, 0) {
					t.Fatalf("%+v, %+v: %+v", row, u, res)
				}
			}
		}
		walk(reflect.ValueOf(res))
		if !(res.G > 0 && res.K > 0 && res.Thevenin > 0 && math.Abs(res.Corr) <= 1) {
			t.Fatalf("%+v, %+v: %+v", row, u, res)
		}
	})
}

func TestRowSolveRefuses(t *testing.T) {
	good := Row{EMF: 1.46, SourceResistance: 0.9, Series: 3150, Shunt: 88, First: 24, Shunted: 12}
	domain := new(DomainError)
	for _, c := range []struct {
		name string
		edit func(*Row, *RowDoubt)
		want error // nil: a DomainError
	}{
		{"negative source resistance", func(w *Row, _ *RowDoubt) { w.SourceResistance = -1 }, nil},
		{"no EMF", func(w *Row, _ *RowDoubt) { w.EMF = 0 }, nil},
		{"no branch", func(w *Row, _ *RowDoubt) { w.Series, w.SourceResistance = 0, 0 }, nil},
		{"no fall", func(w *Row, _ *RowDoubt) { w.Shunted = 24 }, ErrNoFall},
		{"fall too deep", func(w *Row, _ *RowDoubt) { w.Shunted = 0.5 }, ErrFallTooDeep},
		{"negative doubt", func(_ *Row, u *RowDoubt) { u.Zero = -0.1 }, nil},
		{"NaN doubt", func(_ *Row, u *RowDoubt) { u.Shunt = math.NaN() }, nil},
		{"endless doubt", func(_ *Row, u *RowDoubt) { u.EMF = math.Inf(1) }, nil},
		{"doubt beyond numbers", func(_ *Row, u *RowDoubt) { u.Shunted = 1e308 }, ErrRange},
	} {
		t.Run(c.name, func(t *testing.T) {
			row, u := good, RowDoubt{}
			c.edit(&row, &u)
			res, err := row.Solve(u)
			if err == nil || c.want == nil && !errors.As(err, &domain) || c.want != nil && !errors.Is(err, c.want) {
				t.Errorf("%+v, %+v: %+v, error %v, want %v", row, u, res, err, c.want)
			}
		})
	}
	res, err := good.Solve(RowDoubt{})
	if err != nil || res.UG != 0 || res.UK != 0 || res.Corr != 0 || res.ShareG != (RowShare{}) || res.ShareK != (RowShare{}) {
		t.Errorf("nothing in doubt: %+v, %v, want no uncertainty, correlation or share", res, err)
	}
}

func BenchmarkRowSolve(b *testing.B) {
	row := Row{EMF: 1.46, SourceResistance: 0.9, Series: 3150, Shunt: 88, First: 24, Shunted: 12}
	u := RowDoubt{0.008, 0.3, 9, 0.6, 0.1, 0.1, 0.06}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := row.Solve(u); err != nil {
			b.Fatal(err)
		}
	}
}
