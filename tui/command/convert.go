package command

import (
	"math"

	"example.org/halve/physics/convert"
	"example.org/halve/physics/preferred"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/safety"
	"example.org/halve/tui/conversion"
)

// Convert makes a meter of a movement. Every field of text is as it was typed;
// an empty one was not given.
type Convert struct {
	Resistance, FullScale string
	From                  string // a record, in the place of these two
	Ranges                []string
	Series                string // of preferred values
	Chain                 bool   // a voltmeter's multipliers in one string
	Source                string // resistance of the source or loop to be measured
	Swamp, Rise, Within   string
	Metal, Gauge          string
	JSON                  bool
}

// Run prints the conversion to a meter of the kind that args name.
func (c Convert) Run(d Desk, args []string) error {
	if len(args) != 1 {
		return callError("say what the movement is to become: ammeter, voltmeter or universal")
	}
	w, err := c.numbers(args[0])
	if err != nil {
		return err
	}
	if c.From != "" {
		if err := w.FromRecord(c.From); err != nil {
			return err
		}
	}
	design, err := w.Design()
	if err != nil {
		return err
	}
	if c.JSON {
		return writeJSON(d.Out, newConversion(w, design))
	}
	t := text{w: d.Out}
	t.conversion(w, design)
	return t.err
}

// numbers reads the flags; what is missing or cannot be is a wrong call.
func (c Convert) numbers(kind string) (conversion.Wanted, error) {
	w, err := conversion.Usual(convert.Kind(kind))
	if err != nil {
		return w, err
	}
	switch w.Kind {
	case convert.Ammeter, convert.Voltmeter, convert.Universal:
	default:
		return w, callError("a movement is converted to an ammeter, a voltmeter or a universal (shunt), not to %q", procedure.CleanText(kind, maxWord))
	}
	switch {
	case c.Chain && w.Kind != convert.Voltmeter:
		return w, callError("--chain is for a voltmeter")
	case c.Chain:
		w.Kind = convert.Chain
	}
	switch {
	case c.From != "" && (c.Resistance != "" || c.FullScale != ""):
		return w, callError("--from takes the movement from a record: leave out --resistance and --full-scale")
	case c.From == "" && (c.Resistance == "" || c.FullScale == ""):
		return w, callError("give the movement by --resistance and --full-scale, or by --from RECORD")
	case len(c.Ranges) == 0:
		return w, callError("--range is missing: the full scale that the meter is to have; repeat it for more ranges")
	case len(c.Ranges) > convert.MaxRanges:
		return w, callError("--range is given %d times, and a meter has %d ranges at the most", len(c.Ranges), convert.MaxRanges)
	}
	var bad error
	read := func(flag, s string, unit quantity.Unit, zero bool, into *float64) {
		if bad != nil || s == "" {
			return
		}
		v, err := quantity.Parse(s, unit)
		switch {
		case err != nil:
			bad = callError("--%s: %v", flag, err)
		case v < 0 || v == 0 && !zero:
			bad = callError("--%s is above 0, not %s", flag, procedure.CleanText(s, maxWord))
		}
		*into = v
	}
	read("resistance", c.Resistance, quantity.Ohm, false, &w.Movement.Resistance)
	read("full-scale", c.FullScale, quantity.Ampere, false, &w.Movement.FullScale)
	for _, r := range c.Ranges {
		var v float64
		if read("range", r, w.Kind.Unit(), false, &v); r == "" {
			bad = callError("--range is a full scale, such as 5 %s", w.Kind.Unit())
		}
		w.Ranges = append(w.Ranges, v)
	}
	read("source-resistance", c.Source, quantity.Ohm, true, &w.Source)
	read("swamp", c.Swamp, quantity.Ohm, true, &w.Movement.Swamp)
	if bad != nil {
		return w, bad
	}
	if c.Rise != "" {
		if w.Rise, err = conversion.ParseRise(c.Rise); err != nil {
			return w, callError("--rise: %v", err)
		}
	}
	if c.Within != "" {
		if w.Within, err = conversion.ParseWithin(c.Within); err != nil {
			return w, callError("--within: %v", err)
		}
	}
	if w.Series, err = preferred.Parse(c.Series); err != nil {
		return w, callError("--series: %v", err)
	}
	if w.Metal, err = convert.ParseMetal(c.Metal); err != nil {
		return w, callError("--wire: %v", err)
	}
	if c.Gauge != "" {
		g, err := convert.ParseGauge(c.Gauge)
		if err != nil {
			return w, callError("--gauge: %v", err)
		}
		w.Gauge = &g
	}
	return w, nil
}

// The JSON of a conversion.
type (
	conversionJSON struct {
		Kind     convert.Kind `json:"kind"`
		Movement movement     `json:"movement"`
		Steps    []step       `json:"steps"`
		Shunted  *movement    `json:"shunted_movement,omitempty"`
		Cautions []caution    `json:"cautions"`
	}
	movement struct {
		Resistance  float64  `json:"resistance_ohm"`
		UResistance *float64 `json:"u_resistance_ohm,omitempty"`
		FullScale   float64  `json:"full_scale_A"`
		UFullScale  *float64 `json:"u_full_scale_A,omitempty"`
		Correlation *float64 `json:"correlation,omitempty"`
		Swamp       float64  `json:"swamp_ohm,omitempty"`
		Voltage     float64  `json:"voltage_V"`
		OhmsPerVolt float64  `json:"ohm_per_V"`
	}
	step struct {
		RangeA      *float64 `json:"range_A,omitempty"`
		URangeA     *float64 `json:"u_range_A,omitempty"`
		RangeV      *float64 `json:"range_V,omitempty"`
		URangeV     *float64 `json:"u_range_V,omitempty"`
		Exact       float64  `json:"exact_ohm"`
		UExact      *float64 `json:"u_exact_ohm,omitempty"`
		Tap         float64  `json:"tap_ohm"`
		Preferred   choice   `json:"preferred"`
		Pair        choice   `json:"pair"`
		Power       float64  `json:"power_W"`
		Rating      *float64 `json:"rating_W"`
		Burden      *float64 `json:"burden_V,omitempty"`
		Meter       float64  `json:"meter_ohm"`
		OhmsPerVolt *float64 `json:"ohm_per_V,omitempty"`
		Sensitivity float64  `json:"full_scale_percent_per_percent"`
		Loading     *float64 `json:"loading_error_percent,omitempty"`
		Rise        float64  `json:"temperature_rise_K"`
		Warmth      float64  `json:"temperature_error_percent"`
		Swamp       *float64 `json:"swamp_needed_ohm,omitempty"`
		Wire        *wire    `json:"wire,omitempty"`
	}
	choice struct {
		Series    string    `json:"series"`
		Ohms      []float64 `json:"ohms,omitempty"`
		Joined    string    `json:"joined,omitempty"`
		Ohm       float64   `json:"ohm"`
		Error     float64   `json:"full_scale_error_percent"`
		Tolerance float64   `json:"tolerance_error_percent"`
	}
	wire struct {
		Metal    string  `json:"metal"`
		Gauge    string  `json:"gauge"`
		Diameter float64 `json:"diameter_m"`
		Length   float64 `json:"length_m"`
		ULength  float64 `json:"u_length_m"`
		Density  float64 `json:"current_density_A_per_m2"`
	}
	caution struct {
		ID   string `json:"id"`
		Text string `json:"text"`
	}
)

// positive is v, nil where it is not known or of no account.
func positive(v float64) *float64 {
	if !(v > 0) {
		return nil
	}
	return &v
}

func newMovement(m convert.Movement) movement {
	out := movement{Resistance: m.Resistance, UResistance: positive(m.UResistance), FullScale: m.FullScale,
		UFullScale: positive(m.UFullScale), Swamp: m.Swamp, Voltage: m.Voltage(), OhmsPerVolt: m.OhmsPerVolt()}
	if m.UResistance > 0 {
		out.Correlation = &m.Correlation
	}
	return out
}

func newChoice(s preferred.Series, c convert.Choice) choice {
	out := choice{Series: s.String(), Ohm: c.Ohm, Error: 100 * c.Error, Tolerance: 100 * c.Tolerance}
	if len(c.Ohms) == 2 {
		out.Ohms, out.Joined = c.Ohms, "series"
		if c.Parallel {
			out.Joined = "parallel"
		}
	}
	return out
}

func newConversion(w conversion.Wanted, d convert.Design) conversionJSON {
	out := conversionJSON{Kind: d.Kind, Movement: newMovement(d.Movement), Steps: []step{}, Cautions: []caution{}}
	if m, ok := d.Shunted(); ok {
		shunted := newMovement(m)
		out.Shunted = &shunted
	}
	for _, c := range safety.ConversionCautions(d) {
		out.Cautions = append(out.Cautions, caution{c.ID, c.Text})
	}
	for _, s := range d.Steps {
		j := step{Exact: s.Ohm, UExact: positive(s.UOhm), Tap: s.Tap, Power: s.Power, Rating: positive(s.Rating), Meter: s.Meter,
			Sensitivity: s.Sensitivity, Rise: w.Rise, Warmth: 100 * d.Warmth(s, w.Rise),
			Preferred: newChoice(d.Series, s.Single), Pair: newChoice(d.Series, s.Pair)}
		if d.Kind.InAmperes() {
			swamp := d.SwampFor(s, w.Rise, w.Within)
			j.RangeA, j.URangeA, j.Burden, j.Swamp = &s.Range, positive(s.URange), &s.Burden, &swamp
		} else {
			j.RangeV, j.URangeV, j.OhmsPerVolt = &s.Range, positive(s.URange), positive(d.Movement.OhmsPerVolt())
		}
		if !math.IsNaN(w.Source) {
			loading := 100 * d.Loading(s, w.Source)
			j.Loading = &loading
		}
		if x, ok := w.Wire(s, d.Movement.FullScale); ok {
			// How far tables differ, taken as a rectangle to both sides.
			u := x.Length * x.Metal.Spread / math.Sqrt(3)
			j.Wire = &wire{x.Metal.Name, x.Gauge.Name, x.Gauge.Diameter, x.Length, u, x.Density}
		}
		out.Steps = append(out.Steps, j)
	}
	return out
}

// columns is how many ranges stand beside each other in 80 columns.
const columns = 3

// conversion writes a conversion as a table.
func (t *text) conversion(w conversion.Wanted, d convert.Design) {
	for _, lines := range [][]string{w.Head(), {""}, w.Table(d, columns), {""}, w.Remarks(d)} {
		for _, l := range lines {
			t.line("%s", l)
		}
	}
	for _, c := range safety.ConversionCautions(d) {
		t.line("Mind: %s", c.Text)
	}
}
