package slips

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/halve/physics/quantity"
)

// typed reads a value as a student types it; a minus stands before it.
func typed(t *testing.T, text string, unit quantity.Unit) quantity.Written {
	t.Helper()
	rest, negative := strings.CutPrefix(text, "-")
	w, err := quantity.ParseWritten(rest, unit)
	if err != nil {
		t.Fatal(err)
	}
	if negative {
		w.Value = -w.Value
	}
	return w
}

// half is the row of the tables below: E = 1.5 V, R = 3000 Ω, S = 90 Ω,
// 24 div and 12 div of 30. By hand G = 270 000/2910 = 92.784 Ω, R + G =
// 3092.784 Ω, (R + G)·θ1 = 74 226.8, k = 1.5/74 226.8 = 2.02083e-5 A/div.
func half(q Quantity, stated quantity.Written) Case {
	c := Case{Quantity: q, Stated: stated, Expected: 92.783505, U: 2.6, EMF: 1.5, Divisions: 30, Step: 0.5,
		Rows: []Row{{1, 3000, 90, 24, 12}}}
	if q == Merit {
		c.Expected, c.U = 2.0208333e-5, 3e-7
	}
	return c
}

// TestByHand: the rows of the domain notes' tables (F), worked by hand from
// the row above, as three or four figures. "first" is the slip that must come
// first, "beside" one that must be named too, "says" what the student reads.
func TestByHand(t *testing.T) {
	for _, tt := range []struct {
		name, stated  string
		of            Quantity
		first, beside string
		says          []string
	}{
		{"3000·90/3090 = 87.379", "87.38", Resistance, SumForDifference, "", []string{"87.38 Ω", "adding R and S"}},
		{"S", "90.0", Resistance, ShuntAlone, "", []string{"S = 90 Ω itself"}},
		{"R − S = 2910", "2910", Resistance, FactorLeftOut, "", []string{"stopping at R − S"}},
		{"R·S = 270 000", "2.70e5", Resistance, FactorLeftOut, "", []string{"R·S"}},
		{"R/(R − S) = 1.0309", "1.031", Resistance, FactorLeftOut, "", []string{"factor S out", "units"}},
		{"S/(R − S) = 0.030928", "0.03093", Resistance, FactorLeftOut, "", []string{"factor R out"}},
		{"1/G = 0.010778", "0.01078", Resistance, UpsideDown, "", []string{"1/G"}},
		{"1/ρ: −270 000/6090 = −44.335", "-44.33", Resistance, UpsideDown, "", []string{"θ1/θ2 = 2"}},
		{"R·S/(S − R)", "-92.78", Resistance, SignTurned, "", []string{"S − R for R − S"}},
		{"3·90/(3 − 90) = −3.1034", "-3.103", Resistance, PrefixSlip, "", []string{"R = 3 kΩ"}},
		{"S²/(R − S) = 8100/2910 = 2.7835", "2.784", Resistance, FactorLeftOut, "", []string{"leaving the factor R out and putting S"}},
		{"10·G", "927.8", Resistance, DecimalSlip, "", []string{"one place too far to the right"}},
		{"G/100", "0.928", Resistance, DecimalSlip, "", []string{"2 places too far to the left"}},
		{"G/2", "46.4", Resistance, DoubledOrHalved, "", nil},
		{"2·G", "185.6", Resistance, DoubledOrHalved, "", nil},
		{"S read as 9: 3000·9/2991 = 9.0271", "9.03", Resistance, DigitsExchanged, "", []string{"Could your 9.03 Ω", "as 9 Ω?"}},
		{"G copied as 97.28", "97.28", Resistance, DigitsExchanged, "", []string{"Could", "copying 92.78 Ω as 97.28 Ω?"}},
		{"0.0309 → 0.031: 3000·0.031", "93.0", Resistance, "", "", nil}, // within 0.3 %: right
		{"24.0/… nothing gives it", "120.7", Resistance, Unexplained, "", []string{"R·S = 3\u00a0000 × 90 = 270\u00a0000 Ω²", "R − S = 2\u00a0910 Ω", "R + G = 3\u00a0092.8 Ω", "3\u00a0092.8 × 24 = 74\u00a0227 Ω·div"}},
		{"0", "0", Resistance, Unexplained, "", []string{"zero"}},

		{"θ2: 1.5/(3092.784·12) = 4.0417e-5", "4.04e-5", Merit, HalfDeflectionUsed, DoubledOrHalved, []string{"12 div, instead of the first, 24 div", "two cells", "which of the two was it?"}},
		{"no G: 1.5/72 000 = 2.0833e-5", "2.083e-5", Merit, ResistanceLeftOut, "", []string{"leaving G = 92.784 Ω out"}},
		{"R − G: 1.5/(2907.216·24) = 2.1498e-5", "2.150e-5", Merit, SignTurned, "", []string{"R − G for R + G"}},
		{"no θ: 1.5/3092.784 = 4.8500e-4", "4.850e-4", Merit, FullScaleForDivision, "", []string{"not divided by θ1 = 24 div"}},
		{"30·k = 6.0625e-4", "6.06e-4", Merit, FullScaleForDivision, "", []string{"full-scale current, for 30 div"}},
		{"N for θ: 1.5/(3092.784·30) = 1.6167e-5", "1.617e-5", Merit, FullScaleForDivision, "", []string{"30 div, instead of θ1 = 24 div"}},
		{"·θ: 1.5·24/3092.784 = 0.011640", "0.01164", Merit, DeflectionTwice, "", []string{"multiplying by θ1 = 24 div"}},
		{"1/k = 49 484.5", "4.948e4", Merit, Inverse, "", []string{"divisions per ampere"}},
		{"no E: 1/74 226.8 = 1.3472e-5; by chance also 1.5/(3092.784·36), θ1 + θ2", "1.347e-5", Merit, HalfDeflectionUsed, FactorLeftOut, []string{"leaving E = 1.5 V out", "θ1 + θ2 = 36 div"}},
		{"brackets: 1.5/3000 + 92.784", "92.78", Merit, FactorLeftOut, "", []string{"brackets"}},
		{"G∥S = 45.685: 1.5/(3045.685·24) = 2.0521e-5", "2.052e-5", Merit, ShuntedLoop, "", []string{"45.685 Ω"}},
		{"mA for A", "0.02021", Merit, PrefixSlip, "", []string{"prefix", "the figures are right"}},
		{"10⁵ for 10⁻⁵", "2.02e5", Merit, ExponentSign, "", []string{"10⁵ for 10⁻⁵"}},
		{"10·k", "2.02e-4", Merit, DecimalSlip, "", nil},
		{"k/2", "1.01e-5", Merit, DoubledOrHalved, "", nil},
		{"θ2 and no G: 1.5/(3000·12) = 4.1667e-5", "4.167e-5", Merit, HalfDeflectionUsed, "", []string{"leaving out G and dividing by the shunted deflection"}},
		{"E as 5.1 V: 5.1/74 226.8 = 6.8708e-5", "6.871e-5", Merit, DigitsExchanged, "", []string{"Could", "E = 1.5 V", "5.1 V?"}},
		{"0.485 mA → 0.5 mA: 5e-4/24 = 2.0833e-5", "2.08e-5", Merit, ResistanceLeftOut, RoundedEarly, []string{"500 µA"}},
		{"nothing gives it", "3.17e-5", Merit, Unexplained, "", []string{"(R + G)·θ1 = 3\u00a0092.8 × 24 = 74\u00a0227 Ω·div", "1.5/74\u00a0227"}},

		{"right", "92.8", Resistance, "", "", nil},
		{"right", "93", Resistance, "", "", nil},
		{"right, too fine: u = 2.6 has its second figure at 0.1", "92.784", Resistance, TooManyDigits, "", []string{"The value is right", "(92.8 ± 2.6) Ω"}},
		{"right", "2.02e-5", Merit, "", "", nil},
		{"right", "20.2 µA/div", Merit, "", "", nil},
		{"right, too fine", "2.02083e-5", Merit, TooManyDigits, "", []string{"The value is right"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := half(tt.of, typed(t, tt.stated, tt.of.unit()))
			found := Find(c)
			if tt.first == "" {
				if len(found) > 0 {
					t.Fatalf("%s: %+v, want nothing", tt.stated, found)
				}
				return
			}
			if len(found) == 0 || found[0].ID != tt.first {
				t.Fatalf("%s: %+v, want %s first", tt.stated, found, tt.first)
			}
			all, beside := "", tt.beside == ""
			for i, s := range found {
				all += s.Say + "\n"
				beside = beside || i > 0 && s.ID == tt.beside
			}
			if !beside {
				t.Errorf("%s: %+v, want %s beside", tt.stated, found, tt.beside)
			}
			for _, want := range tt.says {
				if !strings.Contains(all, want) {
					t.Errorf("%s: it says %q, want %q in it", tt.stated, all, want)
				}
			}
		})
	}
}

// four is a record of four rows near the half, E = 1.5 V, r = 0. By hand, from
// G = R·S(1−ρ)/(ρ(R+S)−S): 92.784, 92.308, 91.335, 91.837 (Ω); their sum is
// 368.26, the mean 92.066; (R + G)·θ1 lies between 73 469 and 74 227.
func four(at int, stated quantity.Written) Case {
	c := half(Resistance, stated)
	c.At = at
	c.Rows = []Row{{1, 3000, 90, 24, 12}, {2, 3600, 90, 20, 10}, {4, 3000, 75, 24, 11}, {5, 4500, 90, 16, 8}}
	vs := c.values()
	c.Expected = vs[max(at, 0)]
	if at == Mean {
		c.Expected = (vs[0] + vs[1] + vs[2] + vs[3]) / 4
	}
	return c
}

// TestRows: slips that reach over rows.
func TestRows(t *testing.T) {
	nan := math.NaN()
	for _, tt := range []struct {
		name   string
		at     int
		stated string
		own    []float64
		first  string
		says   string
	}{
		{"sum not divided", Mean, "368.3", nil, MeanSlip, "without dividing by 4"},
		{"divided by 3: 122.755", Mean, "122.8", nil, MeanSlip, "by 3 instead of 4"},
		{"divided by 5: 73.653", Mean, "73.7", nil, MeanSlip, "by 5 instead of 4"},
		{"point of the mean", Mean, "921", nil, DecimalSlip, "one place"},
		{"own row 1 = 186: (186 + 92.308 + 91.335 + 91.837)/4 = 115.37", Mean, "115.4", []float64{186, nan, nan, nan}, FollowsFromOwn, "your own values of the rows, 186"},
		{"nothing", Mean, "151.3", nil, Unexplained, "row 4 91.33 Ω, row 5 91.84 Ω; their sum is 368.26"},
		{"S from the row numbered 4: 3000·75/2925 = 76.923", 0, "76.92", nil, WrongRow, "Could your 76.92 Ω have come of taking S = 75 Ω from row 4?"},
		{"right", 2, "91.3", nil, "", ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := four(tt.at, typed(t, tt.stated, quantity.Ohm))
			c.OwnRows = tt.own
			found := Find(c)
			if tt.first == "" {
				if len(found) > 0 {
					t.Fatalf("%+v, want nothing", found)
				}
				return
			}
			if len(found) == 0 || found[0].ID != tt.first || !strings.Contains(found[0].Say, tt.says) {
				t.Fatalf("%s: %+v, want %s first, saying %q", tt.stated, found, tt.first, tt.says)
			}
		})
	}
}

// TestOwnResistance: k that follows from the student's own wrong G. By hand
// 1.5/((3000 + 928)·24) = 1.5911e-5.
func TestOwnResistance(t *testing.T) {
	c := half(Merit, typed(t, "1.591e-5", quantity.AmperePerDivision))
	c.OwnResistance = []float64{928}
	if found := Find(c); len(found) == 0 || found[0].ID != FollowsFromOwn || !strings.Contains(found[0].Say, "your own G = 928 Ω") {
		t.Errorf("found %+v", found)
	}
	c.OwnResistance = nil
	if found := Find(c); found[0].ID == FollowsFromOwn {
		t.Errorf("found %+v without an own G", found)
	}
}

// TestSourceResistance: where r can be seen, leaving it out has its own words.
// By hand with r = 50 and R = 500: k = E/((550 + G)·θ1).
func TestSourceResistance(t *testing.T) {
	c := Case{Quantity: Merit, EMF: 1.5, SourceResistance: 50, Divisions: 30, Rows: []Row{{1, 500, 80, 24, 12}}}
	_, c.Expected = c.solve(c.Rows[0])
	g := 550 * 80. / 470
	c.Stated = written(t, 1.5/((500+g)*24), 4)
	if found := Find(c); len(found) == 0 || found[0].ID != ResistanceLeftOut || !strings.Contains(found[0].Say, "r = 50 Ω") {
		t.Errorf("found %+v", found)
	}
}

// TestPrinted: the examples that are wrong in print are not taken for right,
// and what is inconsistent in them is named.
func TestPrinted(t *testing.T) {
	var file struct {
		Examples []struct {
			ID    string
			Given struct {
				R, Theta, S []float64
				E           float64 `json:"E_V"`
			}
			Printed struct {
				G     json.RawMessage
				GMean float64         `json:"G_mean"`
				K     json.RawMessage `json:"k"`
				KMean float64         `json:"k_mean"`
				S     float64
			}
			Recomputed struct {
				S float64
			}
		}
	}
	raw, err := os.ReadFile("testdata/printed.json")
	if err == nil {
		err = json.Unmarshal(raw, &file)
	}
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range file.Examples {
		c := Case{EMF: e.Given.E, Divisions: 30, Step: 1}
		for i := range e.Given.R {
			θ := e.Given.Theta[i]
			c.Rows = append(c.Rows, Row{i + 1, e.Given.R[i], e.Given.S[i], θ, θ / 2})
		}
		mean := func(q Quantity) {
			c.Quantity, c.At, c.Expected = q, Mean, 0
			for _, v := range c.values() {
				c.Expected += v / float64(len(c.Rows))
			}
		}
		switch e.ID {
		case "HD2":
			// Its G agrees, cut as it is; its k does not follow.
			mean(Resistance)
			if c.Stated = written(t, e.Printed.GMean, 3); !Agrees(c.Stated, c.Expected) || len(Find(c)) > 0 {
				t.Errorf("HD2: G = %g is right: %+v", e.Printed.GMean, Find(c))
			}
			mean(Merit)
			c.Stated = written(t, e.Printed.KMean, 3)
			found := Find(c)
			say := ""
			for _, s := range found {
				say += s.Say
			}
			// (R + G)·θ1 is 101 832 in row 1 and 75 482 in row 4, from the
			// source's own numbers.
			for _, want := range []string{"do not agree with each other", "101\u00a0830 Ω·div in row 1", "75\u00a0482 Ω·div in row 4"} {
				if Agrees(c.Stated, c.Expected) || !strings.Contains(say, want) {
					t.Errorf("HD2: k = %g: %+v, want %q", e.Printed.KMean, found, want)
				}
			}
			// Row 1 by itself: 2.5/(5000·10) = 5.0e-5 is G left out and half
			// the deflection used.
			c.At = 0
			_, c.Expected = c.solve(c.Rows[0])
			if found := Find(c); len(found) == 0 || found[0].ID != HalfDeflectionUsed || found[len(found)-1].ID != Unexplained {
				t.Errorf("HD2, row 1: %+v", found)
			}
		case "HD3":
			// Cut figures are right figures.
			mean(Resistance)
			if c.Stated = written(t, e.Printed.GMean, 3); !Agrees(c.Stated, c.Expected) {
				t.Errorf("HD3: G = %g against %g", e.Printed.GMean, c.Expected)
			}
			mean(Merit)
			if c.Stated = written(t, e.Printed.KMean, 3); !Agrees(c.Stated, c.Expected) || len(Find(c)) > 0 {
				t.Errorf("HD3: k = %g against %g: %+v", e.Printed.KMean, c.Expected, Find(c))
			}
		case "AM14":
			// A meter's shunt, ten times too large: of the readings nothing is
			// known, and the figures alone tell.
			c = Case{Expected: e.Recomputed.S, Stated: written(t, e.Printed.S, 3), At: Mean}
			if found := Find(c); len(found) == 0 || found[0].ID != DecimalSlip {
				t.Errorf("AM14: %+v", found)
			}
		default:
			t.Errorf("%s has no test", e.ID)
		}
	}
}

// TestAnyNumbers: whatever the numbers are, nothing panics, probabilities are
// probabilities in falling order, and every sentence is one.
func TestAnyNumbers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.OneOf(rapid.Float64(), rapid.Float64Range(-100, 5000), rapid.SampledFrom([]float64{0, 1, 12, 24, 90, 3000, math.NaN(), math.Inf(1), 5e-324, math.MaxFloat64}))
		c := Case{
			Quantity: Quantity(rapid.IntRange(0, 1).Draw(t, "quantity")), At: rapid.IntRange(-2, 5).Draw(t, "at"),
			Expected: number.Draw(t, "expected"), U: number.Draw(t, "u"), EMF: number.Draw(t, "E"), SourceResistance: number.Draw(t, "r"),
			Divisions: number.Draw(t, "N"), Step: number.Draw(t, "step"),
			Stated:        quantity.Written{Value: number.Draw(t, "stated"), LastDigit: number.Draw(t, "digit"), Digits: rapid.IntRange(-1, 40).Draw(t, "digits")},
			OwnResistance: rapid.SliceOfN(number, 0, 3).Draw(t, "own"), OwnRows: rapid.SliceOfN(number, 0, 4).Draw(t, "own rows"),
		}
		for i := range rapid.IntRange(0, 4).Draw(t, "rows") {
			c.Rows = append(c.Rows, Row{i + 1, number.Draw(t, "R"), number.Draw(t, "S"), number.Draw(t, "θ1"), number.Draw(t, "θ2")})
		}
		sum, last := 0.0, 1.0
		for _, s := range Find(c) {
			if !(s.Probability > 0 && s.Probability <= last) || s.ID == "" {
				t.Fatalf("%+v: %+v after %g", c, s, last)
			}
			if s.Say == "" || strings.Contains(s.Say, "NaN") || strings.Contains(s.Say, "%!") || !strings.HasSuffix(s.Say, ".") {
				t.Fatalf("%+v: %q is no sentence", c, s.Say)
			}
			last = s.Probability
			sum += s.Probability
		}
		if sum > 1+1e-9 {
			t.Fatalf("%+v: the probabilities come to %g", c, sum)
		}
	})
}
