package command

import (
	"fmt"
	"math"
	"strings"
	"text/tabwriter"

	"example.org/halve/physics/convert"
	"example.org/halve/physics/preferred"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
	"example.org/halve/safety"
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

// Defaults of what may be left out (common practice, no source).
const (
	DefaultSeries = "E24"
	DefaultMetal  = "manganin"
	defaultRise   = 10.0 // K
	defaultWithin = 0.5  // %
)

// wanted is the numbers behind the flags.
type wanted struct {
	kind         convert.Kind
	movement     convert.Movement
	series       preferred.Series
	ranges       []float64
	source       float64 // NaN where none was given
	rise, within float64 // K, and relative
	metal        convert.Metal
	gauge        *convert.Gauge // nil: pick one for the current
	from         string         // where G and the full scale are from
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
		if err := w.read(c.From); err != nil {
			return err
		}
	}
	design, err := convert.New(w.kind, w.movement, w.series, w.ranges)
	if err != nil {
		return err
	}
	if c.JSON {
		return writeJSON(d.Out, w.json(design))
	}
	t := text{w: d.Out}
	t.conversion(w, design)
	return t.err
}

// numbers reads the flags; what is missing or cannot be is a wrong call.
func (c Convert) numbers(kind string) (wanted, error) {
	w := wanted{source: math.NaN(), rise: defaultRise, within: defaultWithin / 100}
	switch kind {
	case "ammeter", "voltmeter", "universal":
		w.kind = convert.Kind(kind)
	default:
		return w, callError("a movement is converted to an ammeter, a voltmeter or a universal (shunt), not to %q", procedure.CleanText(kind, maxWord))
	}
	switch {
	case c.Chain && w.kind != convert.Voltmeter:
		return w, callError("--chain is for a voltmeter")
	case c.Chain:
		w.kind = convert.Chain
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
	read("resistance", c.Resistance, quantity.Ohm, false, &w.movement.Resistance)
	read("full-scale", c.FullScale, quantity.Ampere, false, &w.movement.FullScale)
	for _, r := range c.Ranges {
		var v float64
		if read("range", r, w.kind.Unit(), false, &v); r == "" {
			bad = callError("--range is a full scale, such as 5 %s", w.kind.Unit())
		}
		w.ranges = append(w.ranges, v)
	}
	read("source-resistance", c.Source, quantity.Ohm, true, &w.source)
	read("swamp", c.Swamp, quantity.Ohm, true, &w.movement.Swamp)
	read("rise", c.Rise, quantity.Celsius, false, &w.rise)
	percent := w.within * 100
	read("within", c.Within, quantity.Percent, false, &percent)
	w.within = percent / 100
	if bad == nil && (w.rise > 100 || w.within >= 0.5) {
		bad = callError("--rise is at most 100 kelvin and --within below 50 %%")
	}
	if bad != nil {
		return w, bad
	}
	var err error
	if w.series, err = preferred.Parse(c.Series); err != nil {
		return w, callError("--series: %v", err)
	}
	if w.metal, err = convert.ParseMetal(c.Metal); err != nil {
		return w, callError("--wire: %v", err)
	}
	if c.Gauge != "" {
		g, err := convert.ParseGauge(c.Gauge)
		if err != nil {
			return w, callError("--gauge: %v", err)
		}
		w.gauge = &g
	}
	return w, nil
}

// read takes the movement from a record, with its uncertainties.
func (w *wanted) read(path string) error {
	log, err := record.Read(path)
	if err != nil {
		return err
	}
	w.from = procedure.CleanText(path, 500)
	r := procedure.Advise(log.State).Result
	if r == nil || r.Resistance == nil || r.Merit == nil || r.FullScale == nil {
		return fmt.Errorf("%s: the record has no result yet: keep a row first, or give --resistance and --full-scale", w.from)
	}
	w.movement.Resistance, w.movement.FullScale = *r.Resistance, *r.FullScale
	// What is not known is not carried; a result has all three.
	if r.UResistance != nil && r.UMerit != nil && r.Correlation != nil {
		w.movement.UResistance = *r.UResistance
		w.movement.UFullScale = *r.UMerit * *r.FullScale / *r.Merit
		w.movement.Correlation = *r.Correlation
	}
	return nil
}

// wire is what winds a step's shunt; ok is false where that is no work for
// wire: more than a few ohm are resistors.
func (w wanted) wire(s convert.Step, movement float64) (convert.Winding, bool) {
	const most = 20 // ohm
	if !w.kind.InAmperes() || s.Ohm > most {
		return convert.Winding{}, false
	}
	current := s.Range - movement
	g := convert.PickGauge(current)
	if w.gauge != nil {
		g = *w.gauge
	}
	return convert.Wind(s.Ohm, current, w.metal, g), true
}

// The JSON of a conversion.
type (
	conversion struct {
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

func (w wanted) json(d convert.Design) conversion {
	out := conversion{Kind: d.Kind, Movement: newMovement(d.Movement), Steps: []step{}, Cautions: []caution{}}
	if m, ok := d.Shunted(); ok {
		shunted := newMovement(m)
		out.Shunted = &shunted
	}
	for _, c := range safety.ConversionCautions(d) {
		out.Cautions = append(out.Cautions, caution{c.ID, c.Text})
	}
	for _, s := range d.Steps {
		j := step{Exact: s.Ohm, UExact: positive(s.UOhm), Tap: s.Tap, Power: s.Power, Rating: positive(s.Rating), Meter: s.Meter,
			Sensitivity: s.Sensitivity, Rise: w.rise, Warmth: 100 * d.Warmth(s, w.rise),
			Preferred: newChoice(d.Series, s.Single), Pair: newChoice(d.Series, s.Pair)}
		if d.Kind.InAmperes() {
			swamp := d.SwampFor(s, w.rise, w.within)
			j.RangeA, j.URangeA, j.Burden, j.Swamp = &s.Range, positive(s.URange), &s.Burden, &swamp
		} else {
			j.RangeV, j.URangeV, j.OhmsPerVolt = &s.Range, positive(s.URange), positive(d.Movement.OhmsPerVolt())
		}
		if !math.IsNaN(w.source) {
			loading := 100 * d.Loading(s, w.source)
			j.Loading = &loading
		}
		if x, ok := w.wire(s, d.Movement.FullScale); ok {
			// How far tables differ, taken as a rectangle to both sides.
			u := x.Length * x.Metal.Spread / math.Sqrt(3)
			j.Wire = &wire{x.Metal.Name, x.Gauge.Name, x.Gauge.Diameter, x.Length, u, x.Density}
		}
		out.Steps = append(out.Steps, j)
	}
	return out
}

// columns is how many ranges stand beside each other in a table of 80 columns.
const columns = 3

// conversion writes a conversion as a table, a column for each range.
func (t *text) conversion(w wanted, d convert.Design) {
	m := d.Movement
	from := ""
	if w.from != "" {
		from = ", from " + w.from
	}
	t.line("Movement%s:", from)
	t.line("  G = %s, full scale %s, %s across it, %s", uncertain(m.Resistance, m.UResistance, quantity.Ohm),
		uncertain(m.FullScale, m.UFullScale, quantity.Ampere), quantity.Format(m.Voltage(), quantity.Volt, 4),
		quantity.Format(m.OhmsPerVolt(), quantity.Ohm, 4)+"/V")
	if m.Swamp > 0 {
		t.line("  with a swamping resistor of %s in series with the coil", quantity.Format(m.Swamp, quantity.Ohm, 4))
	}
	for i := 0; i < len(d.Steps); i += columns {
		t.line("")
		t.steps(w, d, d.Steps[i:min(i+columns, len(d.Steps))])
	}
	t.line("")
	for _, l := range w.remarks(d) {
		t.line("%s", l)
	}
	for _, c := range safety.ConversionCautions(d) {
		t.line("Mind: %s", c.Text)
	}
}

// resistorNames is what the resistor of a step is called.
var resistorNames = map[convert.Kind]string{
	convert.Ammeter: "shunt", convert.Voltmeter: "multiplier", convert.Chain: "section", convert.Universal: "section",
}

func (t *text) steps(w wanted, d convert.Design, steps []convert.Step) {
	var b strings.Builder
	tw := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	row := func(name string, value func(s convert.Step) string) {
		fmt.Fprint(tw, name)
		for _, s := range steps {
			fmt.Fprintf(tw, "\t%s", value(s))
		}
		fmt.Fprintln(tw)
	}
	digits := 2 // of the values of the series
	if d.Series >= preferred.E48 {
		digits = 3
	}
	ohm := func(v float64) string { return quantity.Format(v, quantity.Ohm, 4) }
	joined := func(c convert.Choice) string {
		sign := " + "
		if c.Parallel {
			sign = " ∥ "
		}
		return quantity.Format(c.Ohms[0], quantity.Ohm, digits) + sign + quantity.Format(c.Ohms[1], quantity.Ohm, digits)
	}
	percent := func(v float64) string {
		p := fmt.Sprintf("%+.2f %%", 100*v)
		if strings.TrimLeft(p, "+-0.") == " %" {
			return "0.00 %"
		}
		return strings.Replace(p, "-", "−", 1)
	}
	row("range", func(s convert.Step) string { return "0 to " + quantity.Format(s.Range, d.Kind.Unit(), 3) })
	row(resistorNames[d.Kind]+", exact", func(s convert.Step) string { return ohm(s.Ohm) })
	if d.Movement.UResistance > 0 {
		row("  uncertain by", func(s convert.Step) string { return "± " + quantity.Format(s.UOhm, quantity.Ohm, 2) })
	}
	if d.Kind == convert.Universal || d.Kind == convert.Chain {
		row("  tap, from the end", func(s convert.Step) string { return ohm(s.Tap) })
	}
	if d.Movement.UResistance > 0 {
		row("  the range by", func(s convert.Step) string { return "± " + quantity.Format(s.URange, d.Kind.Unit(), 2) })
	}
	row("nearest of "+d.Series.String(), func(s convert.Step) string { return quantity.Format(s.Single.Ohm, quantity.Ohm, digits) })
	row("  full scale off by", func(s convert.Step) string { return percent(s.Single.Error) })
	row("best two", func(s convert.Step) string { return joined(s.Pair) })
	row("  full scale off by", func(s convert.Step) string { return percent(s.Pair.Error) })
	row("  their tolerance", func(s convert.Step) string { return fmt.Sprintf("± %.2g %%", 100*s.Pair.Tolerance) })
	row("power, at the most", func(s convert.Step) string { return quantity.Format(s.Power, quantity.Watt, 3) })
	row("  rating to ask for", func(s convert.Step) string {
		if math.IsNaN(s.Rating) {
			return "a bar, or several"
		}
		return quantity.Style(0).Exact(s.Rating, quantity.Watt)
	})
	row("meter's resistance", func(s convert.Step) string { return ohm(s.Meter) })
	if d.Kind.InAmperes() {
		row("burden at full scale", func(s convert.Step) string { return quantity.Format(s.Burden, quantity.Volt, 4) })
	}
	if !math.IsNaN(w.source) {
		row("loading error", func(s convert.Step) string { return percent(d.Loading(s, w.source)) })
	}
	row(fmt.Sprintf("coil %g K warmer", w.rise), func(s convert.Step) string { return percent(d.Warmth(s, w.rise)) })
	if d.Kind.InAmperes() {
		row(fmt.Sprintf("  swamp for %g %%", 100*w.within), func(s convert.Step) string { return ohm(d.SwampFor(s, w.rise, w.within)) })
	}
	wound := false
	winding := func(value func(convert.Winding) string) func(convert.Step) string {
		return func(s convert.Step) string {
			x, ok := w.wire(s, d.Movement.FullScale)
			if !ok {
				return "-"
			}
			return value(x)
		}
	}
	for _, s := range steps {
		_, ok := w.wire(s, d.Movement.FullScale)
		wound = wound || ok
	}
	if wound {
		row(w.metal.Name+" wire", winding(func(x convert.Winding) string { return x.Gauge.Name }))
		row("  length", winding(func(x convert.Winding) string { return fmt.Sprintf("%.3g mm", 1e3*x.Length) }))
		row("  current density", winding(func(x convert.Winding) string { return fmt.Sprintf("%.2g A/mm²", x.Density/1e6) }))
	}
	tw.Flush()
	t.table(b.String())
}

// uncertain is a value with its standard uncertainty, where that is known.
func uncertain(v, u float64, unit quantity.Unit) string {
	if !(u > 0) {
		return quantity.Format(v, unit, 4)
	}
	return measured(&v, &u, unit)
}

// remarks are what the numbers mean for whoever builds the meter.
func (w wanted) remarks(d convert.Design) []string {
	var out []string
	if d.Movement.UResistance > 0 {
		out = append(out, "The ± are one standard uncertainty, of G and k together. Try the finished meter against a better one at full scale, and trim.")
	}
	if d.Kind == convert.Universal {
		out = append(out, "The first section lies between the taps of the lowest and the next range, the last between the highest range's tap and the common end.")
		if m, ok := d.Shunted(); ok {
			out = append(out, fmt.Sprintf("For a voltmeter on the same movement and shunt, multipliers are those for %s and %s.",
				quantity.Format(m.Resistance, quantity.Ohm, 4), quantity.Format(m.FullScale, quantity.Ampere, 4)))
		}
	}
	if !math.IsNaN(w.source) {
		for _, s := range d.Steps {
			if d.Loading(s, w.source) < -0.01 {
				out = append(out, "The meter changes what it measures by more than 1 %: take a more sensitive one, or correct for it.")
				break
			}
		}
	}
	for _, s := range d.Steps {
		if x, ok := w.wire(s, d.Movement.FullScale); ok {
			out = append(out, fmt.Sprintf("Tables of %s differ by up to %.0f %%: measure the ohm of a metre, add %.0f mm for each soldered end, and trim.",
				x.Metal.Name, 100*x.Metal.Spread, 1e3*convert.SolderAllowance))
			if x.Metal.Note != "" {
				out = append(out, fmt.Sprintf("Of %s: %s.", x.Metal.Name, x.Metal.Note))
			}
			break
		}
	}
	for _, s := range d.Steps {
		if x, ok := w.wire(s, d.Movement.FullScale); ok && x.Density > convert.MaxDensity {
			out = append(out, fmt.Sprintf("%s carries more than %g A/mm² at %s and will warm: take a thicker wire, or several side by side.",
				x.Gauge.Name, convert.MaxDensity/1e6, quantity.Format(s.Range, quantity.Ampere, 3)))
			break
		}
	}
	return out
}
