package accuracy

import (
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"example.org/halve/physics/published"
)

// reference holds the published figures.
var reference = os.DirFS("../../testdata/reference")

// TestClasses holds the class list and the numerical cases of
// testdata/reference/09_iec60051_accuracy_class.json. Confirmed there are the
// list, the limit in percent of the fiducial value and the reference's fifth
// of it; the fiducial value of a centre-zero scale is from memory.
func TestClasses(t *testing.T) {
	file := published.Load[struct {
		Facts struct {
			Classes []float64 `json:"class_indexes_ammeters_voltmeters"`
		} `json:"confirmed_facts"`
		Cases []map[string]any `json:"numerical_examples"`
	}](t, reference, "09_iec60051_accuracy_class.json")
	if !slices.Equal(Classes(), file.Facts.Classes) {
		t.Errorf("classes %v, want %v", Classes(), file.Facts.Classes)
	}
	if len(file.Cases) != 4 {
		t.Fatalf("%d cases, want the four worked out below", len(file.Cases))
	}
	want := func(i int, key string) float64 { return file.Cases[i][key].(float64) }
	// 0 to 100 div, class 0.2: the same limit anywhere on the scale.
	ammeter := Meter{Range: 5, Divisions: 100, Class: 0.2}
	published.Within(t, "class 0.2", ammeter.LimitDiv(), want(0, "limit_div"), 1e-12)
	// 0 to 10 V, class 1: 0.1 V, which is 5 % of a reading of 2 V.
	voltmeter := Meter{Range: 10, Divisions: 50, Class: 1}
	published.Within(t, "class 1", voltmeter.Limit(), want(1, "limit_V"), 1e-12)
	published.Within(t, "class 1 at 2 V", 100*voltmeter.Limit()/2, want(1, "relative_percent"), 1e-12)
	// 10 V, 3 %, the standard reads 10.4 V where the meter reads 10: −0.4 V.
	third := Meter{Range: 10, Divisions: 100, Class: 3}
	e := Evaluate(third, []Reading{{Zero: true}, {Rising: true, Div: 100, Reference: 10.4}}, Doubt{Reference: 0.01, Reading: 0.1})
	p := e.Points[e.Worst]
	published.Within(t, "error", p.Indicated-p.Reference, want(2, "error_V"), 1e-12)
	published.Within(t, "error in percent", math.Abs(p.Error), want(2, "error_percent_FS"), 1e-12)
	if *e.Simple != DoesNotConform || *e.Guarded != DoesNotConform {
		t.Errorf("verdicts %s and %s, want both to fail as printed", *e.Simple, *e.Guarded)
	}
	published.Within(t, "the class it would deserve", *e.Deserved, 5, 0) // 4 % and 0.2 % of U lie within 5 alone
	// 30-0-30 div, class 2.5; from memory.
	centre := Meter{Range: 30, Divisions: 30, Centre: true, Class: 2.5}
	published.Within(t, "centre zero", centre.LimitDiv(), want(3, "limit_div_fiducial_60"), 1e-12)
	centre.Fiducial = 30
	published.Within(t, "centre zero, marked with one side", centre.LimitDiv(), want(3, "limit_div_if_one_side_only"), 1e-12)
}

// d9 is scenario D9 of testdata/reference/scenarios.json as readings.
func d9(t *testing.T) (m Meter, readings []Reading, d Doubt, expected map[string]any) {
	t.Helper()
	s := published.Scenario[struct{ Inputs, Expected map[string]any }](t, reference, "D9")
	list := func(key string) (out []float64) {
		for _, v := range s.Inputs[key].([]any) {
			out = append(out, v.(float64))
		}
		return out
	}
	m = Meter{Range: s.Inputs["fiducial_A"].(float64), Divisions: 100, Class: s.Inputs["class_index"].(float64)}
	standard, up, down := list("standard_A"), list("reading_up"), list("reading_down")
	for i, v := range standard {
		readings = append(readings, Reading{Rising: true, Zero: v == 0, Div: m.Div(up[i]), Reference: v})
	}
	for i, v := range slices.Backward(standard) {
		readings = append(readings, Reading{Zero: v == 0, Div: m.Div(down[i]), Reference: v})
	}
	d = Doubt{Reference: s.Inputs["U_ref_A_k2"].(float64) / 2, Reading: m.Div(s.Inputs["estimate_half_width_A_triangular"].(float64) / math.Sqrt(6))}
	return m, readings, d, s.Expected
}

// TestScenario is scenario D9, a 10 A meter of class 1.5, to its six digits.
func TestScenario(t *testing.T) {
	m, readings, d, expected := d9(t)
	e := Evaluate(m, readings, d)
	list := func(key string) (out []float64) {
		for _, v := range expected[key].([]any) {
			out = append(out, v.(float64))
		}
		return out
	}
	up, down := list("err_up_pct"), list("err_down_pct")
	slices.Reverse(down)
	for i, want := range append(up, down...) {
		published.Within(t, "error "+strconv.Itoa(i), e.Points[i].Error, want, 1e-9)
	}
	published.Within(t, "worst", math.Abs(e.Points[e.Worst].Error), expected["worst_abs_pct"].(float64), 1e-9)
	published.Within(t, "hysteresis", *e.Hysteresis, slices.Max(list("hysteresis_pct")), 1e-9)
	// At the zero, hysteresis is what is called the return to zero here.
	published.Within(t, "return to zero", *e.ZeroReturn, list("hysteresis_pct")[0], 1e-9)
	point := e.Points[1]
	published.Within(t, "U", point.Expanded(), expected["U_pct"].(float64), 5e-7)
	published.Within(t, "limit to U", Ratio(m.Class, point.Expanded()), expected["ratio_limit_to_U"].(float64), 5e-6)
	published.Within(t, "guarded limit", m.Class-point.Expanded(), expected["guarded_limit_pct"].(float64), 5e-6)
	if *e.Simple != Conforms || *e.Guarded != Conforms {
		t.Errorf("verdicts %s and %s, want both inside", *e.Simple, *e.Guarded)
	}
	// By hand: 0.15 A to the reference's 0.03 A is five to one; 0.8 % and
	// 0.34 % of U come to 1.14 %, which class 1.5 holds and class 1 does not.
	published.Within(t, "ratio", *e.Ratio, 5, 1e-12)
	published.Within(t, "deserved", *e.Deserved, 1.5, 0)
	// By hand, mean of 59.3 and 60.7 div at 6 A: nothing to correct; at 8 A,
	// 7.98 and 8.08: −0.03 A.
	// Half the differences are 0.07, 0.05 and 0.02 A, and their rectangles
	// 0.0404, 0.0289 and 0.0115 A beside the 0.01708 A of U and, at the zero,
	// the 0.00816 A of the reading alone.
	for _, c := range []struct{ at, value, u float64 }{{60, 0, 0.04388}, {80.3, -0.03, 0.03354}, {0.2, -0.02, 0.01414}, {100.5, -0.05, 0.01708}} {
		i := slices.IndexFunc(e.Corrections, func(k Correction) bool { return math.Abs(k.Div-c.at) < 0.01 })
		if i < 0 {
			t.Errorf("no correction at %g div: %+v", c.at, e.Corrections)
			continue
		}
		published.Within(t, "correction", e.Corrections[i].Value, c.value, 1e-9)
		published.Within(t, "its uncertainty", e.Corrections[i].U, c.u, 1e-5)
	}
}

// TestFriction: by hand on a 10 V, 100 div scale. The reading before the tap
// belongs to the tapped one that follows it at once; the repeats are those
// that were reached alike.
func TestFriction(t *testing.T) {
	m := Meter{Range: 10, Divisions: 100, Class: 2}
	r := func(rising, tapped bool, div, ref float64) Reading { return Reading{rising, tapped, false, div, ref} }
	e := Evaluate(m, []Reading{
		{Zero: true, Div: 3}, // before the zero was set
		{Zero: true, Div: 0},
		r(true, false, 60, 6.05), r(true, true, 60.4, 6.05), r(true, false, 100, 10),
		r(false, false, 60, 5.93), r(false, true, 59.8, 5.93), {Zero: true, Div: 0.3},
		r(true, false, 60, 6.02), r(true, false, 60, 6.03),
	}, Doubt{Reference: 0.01, Reading: 0.1})
	published.Within(t, "friction", *e.Friction, 0.4, 1e-9)
	published.Within(t, "hysteresis", *e.Hysteresis, 1.2, 1e-9) // −0.5 rising, +0.7 falling
	published.Within(t, "return to zero", *e.ZeroReturn, 0.3, 1e-9)
	published.Within(t, "repeatability", *e.Repeatability, 0.3, 1e-9) // −0.5, −0.2, −0.3
	if len(e.Points) != 9 || e.Points[0].Div != 0 {
		t.Errorf("the zero before the last one counts: %+v", e.Points)
	}
	// Three readings that scatter by 0.153 % more than the pointer's 0.1 %.
	published.Within(t, "u", e.Points[1].U, math.Hypot(math.Sqrt(7.0/300), 0.1), 1e-9)
	// A tap tells of the friction at the reading before it alone, and what was
	// tapped of no hysteresis: −0.1 to −0.3, and −0.3 to +0.2.
	apart := Evaluate(m, []Reading{
		{Zero: true}, r(true, false, 60, 6.03), r(true, true, 60, 6.01), r(true, false, 60, 6.09), r(false, true, 60, 5.90), r(false, false, 60, 5.98),
	}, Doubt{Reference: 0.01, Reading: 0.1})
	published.Within(t, "friction, of the reading before the tap", *apart.Friction, 0.2, 1e-9)
	published.Within(t, "hysteresis, untapped", *apart.Hysteresis, 1.1, 1e-9) // −0.9 rising, +0.2 falling
	// At the zero the reference is 0 for certain. Two readings of a mark say
	// nothing of how well the pointer comes back: their spread is told, and u
	// stays that of the reading.
	two := Evaluate(m, []Reading{{Zero: true}, r(true, false, 60, 6.05), r(true, false, 60, 6.00)}, Doubt{Reference: 0.03, Reading: 0.2})
	published.Within(t, "u of the zero", two.Points[0].U, 0.2, 1e-12)
	published.Within(t, "u of a point", two.Points[1].U, math.Hypot(0.2, 0.3), 1e-12)
	published.Within(t, "spread of two", *two.Repeatability, 0.5, 1e-9)
	// Nothing is said where nothing was read.
	if e := Evaluate(m, nil, Doubt{Reference: 0.01, Reading: 0.1}); e.Worst != -1 || e.Simple != nil || e.Deserved != nil || e.Friction != nil || e.ZeroReturn != nil {
		t.Errorf("of nothing: %+v", e)
	}
	if e := Evaluate(m, []Reading{{Zero: true}}, Doubt{Reference: 0.01}); e.Simple != nil || e.ZeroReturn != nil {
		t.Errorf("of a zero: %+v", e)
	}
}

// TestRules: the two rules of decision at their edges, by their definitions,
// and that only the three-way verdict is given on a reference below 3 to 1.
func TestRules(t *testing.T) {
	for _, c := range []struct {
		err             float64
		simple, guarded Verdict
	}{
		{0, Conforms, Conforms}, {1.2, Conforms, Conforms}, {-1.2, Conforms, Conforms}, {1.21, Conforms, Undecided}, {-1.5, Conforms, Undecided},
		{1.51, DoesNotConform, Undecided}, {1.8, DoesNotConform, Undecided}, {-1.81, DoesNotConform, DoesNotConform},
	} {
		if s, g := Simple(c.err, 1.5), Guarded(c.err, 0.3, 1.5); s != c.simple || g != c.guarded {
			t.Errorf("%g of 1.5 with U 0.3: %s and %s, want %s and %s", c.err, s, g, c.simple, c.guarded)
		}
	}
	m := Meter{Range: 10, Divisions: 100, Class: 1}
	// One division too far is exactly the limit of class 1, whatever the last
	// bit of 10·(n + 1)/100 − n/10.
	for n := range 100 {
		e := Evaluate(m, []Reading{{Zero: true}, {Rising: true, Div: float64(n + 1), Reference: float64(n) / 10}}, Doubt{Reference: 0.01, Reading: 0.05})
		if *e.Simple != Conforms {
			t.Errorf("%d div at %d: an error of %.17g %% does not conform to class 1", n+1, n, e.Points[1].Error)
		}
	}
	read := []Reading{{Zero: true}, {Rising: true, Div: 50.9, Reference: 5}}
	for u, simple := range map[float64]Verdict{0.016: Conforms, 0.017: Undecided} { // 3.1 and 2.9 to 1
		if e := Evaluate(m, read, Doubt{Reference: u, Reading: 0.05}); *e.Simple != simple || *e.Guarded != Undecided {
			t.Errorf("ratio %.2f: %s and %s, want %s and undecided", *e.Ratio, *e.Simple, *e.Guarded, simple)
		}
	}
	m.Class = 0
	if e := Evaluate(m, read, Doubt{Reference: 0.01, Reading: 0.05}); e.Simple != nil || e.Guarded != nil || e.Ratio != nil || *e.Deserved != 1.5 {
		t.Errorf("without a class: %+v", e)
	}
}

// rules is testdata/reference/10_decision_rules_guard_band.json: JCGM 106,
// ILAC-G8 and others; every figure was recomputed there, and what of them is
// from memory is marked in the file.
type rules struct {
	JCGM struct {
		Y  float64 `json:"y"`
		U  float64 `json:"u"`
		TL float64
		TU float64
		P  float64 `json:"conformance_probability"`
	} `json:"jcgm106_7_4"`
	Memory []struct {
		P float64 `json:"p_c"`
	} `json:"jcgm106_7_3_memory"`
	Bands []struct {
		W     string  `json:"w"`
		Exact float64 `json:"exact_at_limit"`
	} `json:"ilac_g8_guard_bands"`
	PFA []struct{ TUR, PFA, PFR float64 } `json:"pfa_percent_in_tolerance_95"`
	WU  struct {
		PFA float64 `json:"PFA_percent"`
		PFR float64 `json:"PFR_percent"`
	} `json:"tur4_guard_band_w_equals_U"`
	At struct {
		PFA float64 `json:"PFA_at_limit"`
	} `json:"simple_acceptance"`
}

func TestConformance(t *testing.T) {
	file := published.Load[rules](t, reference, "10_decision_rules_guard_band.json")
	j := file.JCGM
	published.Within(t, "JCGM 106, 7.4", Conformance(j.Y, j.U, j.TL, j.TU), j.P, 1e-12)
	published.Within(t, "JCGM 106, 7.3, upper limit (from memory)", Conformance(-5.47, 0.05, math.Inf(-1), -5.40), file.Memory[0].P, 1e-12)
	published.Within(t, "JCGM 106, 7.3, lower limit (from memory)", Conformance(509.7, 8.6, 490, math.Inf(1)), file.Memory[1].P, 1e-12)
	// What is measured exactly at the guarded limit is beyond the limit itself
	// with this probability. U = 2 u.
	const limit, expanded = 100.0, 1.0
	for _, b := range file.Bands {
		w := map[string]float64{"0": 0, "0.83 U": 0.83, "U": 1, "1.5 U": 1.5, "3 U": 3}[b.W] * expanded
		at := limit - w
		published.Within(t, "beyond the limit, measured at "+b.W, 1-Conformance(at, expanded/Coverage, -limit, limit), b.Exact, 1e-12)
	}
	published.Within(t, "simple acceptance at the limit", 1-Conformance(limit, expanded/Coverage, -limit, limit), file.At.PFA, 1e-12)
	if Simple(limit, limit) != Conforms || Guarded(limit-expanded, expanded, limit) != Conforms {
		t.Error("an error of exactly the limit conforms by either rule")
	}
}

// TestGuardedRisk: of 10⁶ errors drawn from a population of which 95 % are in
// tolerance, measured at 4 to 1, the guarded rule accepts wrongly and rejects
// wrongly as often as the figures of JCGM 106 and ILAC-G8 say, within three
// binomial standard deviations. Undecided counts as not accepted.
func TestGuardedRisk(t *testing.T) {
	file := published.Load[rules](t, reference, "10_decision_rules_guard_band.json")
	accept, reject := risks(1_000_000, 4, func(err, expanded, limit float64) Verdict { return Guarded(err, expanded, limit) })
	binomial(t, "guarded, false accept", accept, file.WU.PFA/100, 1_000_000)
	binomial(t, "guarded, false reject", reject, file.WU.PFR/100, 1_000_000)
	// And the simple rule on the same number, at every ratio of the file.
	for _, row := range file.PFA {
		accept, reject := risks(1_000_000, row.TUR, func(err, _, limit float64) Verdict { return Simple(err, limit) })
		name := "simple at " + strconv.FormatFloat(row.TUR, 'g', -1, 64) + " to 1"
		binomial(t, name+", false accept", accept, row.PFA/100, 1_000_000)
		binomial(t, name+", false reject", reject, row.PFR/100, 1_000_000)
	}
}

// risks draws n errors, normal with 95 % within ±1, and their measured values,
// and returns the parts wrongly accepted and wrongly rejected.
func risks(n int, ratio float64, decide func(err, expanded, limit float64) Verdict) (accept, reject float64) {
	const limit, z95 = 1.0, 1.959963984540054
	r := rand.New(rand.NewPCG(106, uint64(ratio*1000)))
	u := limit / ratio / Coverage
	for range n {
		is := r.NormFloat64() / z95
		ok := decide(is+u*r.NormFloat64(), Coverage*u, limit) == Conforms
		switch good := math.Abs(is) <= limit; {
		case ok && !good:
			accept++
		case !ok && good:
			reject++
		}
	}
	return accept / float64(n), reject / float64(n)
}

// binomial fails where a rate of n draws is more than three standard
// deviations from p.
func binomial(t *testing.T, what string, got, p float64, n int) {
	t.Helper()
	sd := math.Sqrt(p * (1 - p) / float64(n))
	t.Logf("%s: %.5f %%, want %.5f %% (%.1f standard deviations)", what, 100*got, 100*p, (got-p)/sd)
	if math.Abs(got-p) > 3*sd {
		t.Errorf("%s: %.5f %%, want %.5f %% within %.5f %%", what, 100*got, 100*p, 300*sd)
	}
}

func TestValidate(t *testing.T) {
	good := Meter{Range: 10, Divisions: 100, Class: 1.5}
	if err := good.Validate(); err != nil {
		t.Error(err)
	}
	for _, bad := range []Meter{
		{}, {Range: -1, Divisions: 100}, {Range: 10, Divisions: 1}, {Range: 10, Divisions: 1e4}, {Range: 10, Divisions: 100, Class: -1},
		{Range: 10, Divisions: 100, Class: 50}, {Range: 10, Divisions: 100, Fiducial: 0.1}, {Range: math.NaN(), Divisions: 100}, {Range: math.Inf(1), Divisions: 100},
	} {
		if bad.Validate() == nil {
			t.Errorf("%+v can be", bad)
		}
	}
}
