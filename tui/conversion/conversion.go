// Package conversion is what there is to say of a movement that is made into a
// meter: the table of its resistors, what they mean, what to mind. The command
// and the page show the same.
package conversion

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"text/tabwriter"

	"example.org/halve/physics/convert"
	"example.org/halve/physics/preferred"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
)

// Wanted is what a movement is to become.
type Wanted struct {
	Kind         convert.Kind
	Movement     convert.Movement
	Series       preferred.Series
	Ranges       []float64
	Source       float64 // resistance of the source or loop to be measured; NaN where none was given
	Rise, Within float64 // K, and relative
	Metal        convert.Metal
	Gauge        *convert.Gauge // nil: pick one for the current
	From         string         // the record that the movement is from, "" for none
}

// Defaults of what may be left out (common practice, no source).
const (
	Series = preferred.E24
	Metal  = "manganin"
	Rise   = 10.0  // K
	Within = 0.005 // relative
)

// Usual is what is wanted of a meter of a kind where nothing more is said.
func Usual(kind convert.Kind) (Wanted, error) {
	metal, err := convert.ParseMetal(Metal)
	return Wanted{Kind: kind, Series: Series, Source: math.NaN(), Rise: Rise, Within: Within, Metal: metal}, err
}

// ParseRise reads by how many kelvin the coil is warmer, such as 10 or 10 K.
func ParseRise(text string) (float64, error) {
	v, err := quantity.Parse(strings.TrimRight(text, "Kk "), quantity.Number)
	if err == nil && !(v > 0 && v <= 100) {
		err = errors.New("the coil is warmer by more than 0 and at most 100 K")
	}
	return v, err
}

// ParseWithin reads the error that a swamping resistor is to leave, such as 0.5
// or 0.5 %, and returns it as a fraction.
func ParseWithin(text string) (float64, error) {
	v, err := quantity.Parse(text, quantity.Percent)
	if err == nil && !(v > 0 && v < 50) {
		err = errors.New("the error that is left is more than 0 and below 50 %")
	}
	return v / 100, err
}

// Design works the conversion out.
func (w Wanted) Design() (convert.Design, error) {
	return convert.New(w.Kind, w.Movement, w.Series, w.Ranges)
}

// FromRecord takes the movement from a record, with its uncertainties.
func (w *Wanted) FromRecord(path string) error {
	log, err := record.Read(path)
	if err != nil {
		return err
	}
	w.From = procedure.CleanText(path, maxPath)
	r := procedure.Advise(log.State).Result
	if r == nil || r.Resistance == nil || r.Merit == nil || r.FullScale == nil {
		return fmt.Errorf("%s: the record has no result yet: keep a row first, or give --resistance and --full-scale", w.From)
	}
	w.Movement.Resistance, w.Movement.FullScale = *r.Resistance, *r.FullScale
	// What is not known is not carried; a result has all three.
	if r.UResistance != nil && r.UMerit != nil && r.Correlation != nil {
		w.Movement.UResistance = *r.UResistance
		w.Movement.UFullScale = *r.UMerit * *r.FullScale / *r.Merit
		w.Movement.Correlation = *r.Correlation
	}
	return nil
}

// maxPath bounds what is shown of a path, in runes.
const maxPath = 500

// Wire is what winds a step's shunt; ok is false where that is no work for
// wire: more than a few ohm are resistors.
func (w Wanted) Wire(s convert.Step, movement float64) (convert.Winding, bool) {
	const most = 20 // ohm
	if !w.Kind.InAmperes() || s.Ohm > most {
		return convert.Winding{}, false
	}
	current := s.Range - movement
	g := convert.PickGauge(current)
	if w.Gauge != nil {
		g = *w.Gauge
	}
	return convert.Wind(s.Ohm, current, w.Metal, g), true
}

// Head says which movement it is.
func (w Wanted) Head() []string {
	m := w.Movement
	from := ""
	if w.From != "" {
		from = ", from " + w.From
	}
	out := []string{
		"Movement" + from + ":",
		fmt.Sprintf("  G = %s, full scale %s, %s across it, %s/V", uncertain(m.Resistance, m.UResistance, quantity.Ohm),
			uncertain(m.FullScale, m.UFullScale, quantity.Ampere), quantity.Format(m.Voltage(), quantity.Volt, 4), quantity.Format(m.OhmsPerVolt(), quantity.Ohm, 4)),
	}
	if m.Swamp > 0 {
		out = append(out, fmt.Sprintf("  with a swamping resistor of %s in series with the coil", quantity.Format(m.Swamp, quantity.Ohm, 4)))
	}
	return out
}

// resistorNames is what the resistor of a step is called.
var resistorNames = map[convert.Kind]string{
	convert.Ammeter: "shunt", convert.Voltmeter: "multiplier", convert.Chain: "section", convert.Universal: "section",
}

// Table is the conversion as tables of so many ranges beside each other, a
// column for each.
func (w Wanted) Table(d convert.Design, columns int) []string {
	var out []string
	for i := 0; i < len(d.Steps); i += columns {
		if i > 0 {
			out = append(out, "")
		}
		out = append(out, w.table(d, d.Steps[i:min(i+columns, len(d.Steps))])...)
	}
	return out
}

func (w Wanted) table(d convert.Design, steps []convert.Step) []string {
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
	if !math.IsNaN(w.Source) {
		row("loading error", func(s convert.Step) string { return percent(d.Loading(s, w.Source)) })
	}
	row(fmt.Sprintf("coil %g K warmer", w.Rise), func(s convert.Step) string { return percent(d.Warmth(s, w.Rise)) })
	if d.Kind.InAmperes() {
		row(fmt.Sprintf("  swamp for %g %%", 100*w.Within), func(s convert.Step) string { return ohm(d.SwampFor(s, w.Rise, w.Within)) })
	}
	wound := false
	winding := func(value func(convert.Winding) string) func(convert.Step) string {
		return func(s convert.Step) string {
			x, ok := w.Wire(s, d.Movement.FullScale)
			if !ok {
				return "-"
			}
			return value(x)
		}
	}
	for _, s := range steps {
		_, ok := w.Wire(s, d.Movement.FullScale)
		wound = wound || ok
	}
	if wound {
		row(w.Metal.Name+" wire", winding(func(x convert.Winding) string { return x.Gauge.Name }))
		row("  length", winding(func(x convert.Winding) string { return length(x.Length) }))
		row("  current density", winding(func(x convert.Winding) string { return fmt.Sprintf("%.2g A/mm²", x.Density/1e6) }))
	}
	tw.Flush()
	var out []string
	for _, l := range strings.Split(strings.TrimRight(b.String(), "\n"), "\n") {
		out = append(out, strings.TrimRight(l, " "))
	}
	return out
}

// length is a length of wire, m, as one measures it off.
func length(m float64) string {
	if m < 1 {
		return fmt.Sprintf("%.3g mm", 1e3*m)
	}
	return fmt.Sprintf("%.4g m", m)
}

// uncertain is a value with its standard uncertainty, where that is known.
func uncertain(v, u float64, unit quantity.Unit) string {
	if !(u > 0) {
		return quantity.Format(v, unit, 4)
	}
	return quantity.Measured{Value: v, U: u, Unit: unit}.String()
}

// Remarks are what the numbers mean for whoever builds the meter.
func (w Wanted) Remarks(d convert.Design) []string {
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
	if !math.IsNaN(w.Source) {
		for _, s := range d.Steps {
			if d.Loading(s, w.Source) < -0.01 {
				out = append(out, "The meter changes what it measures by more than 1 %: take a more sensitive one, or correct for it.")
				break
			}
		}
	}
	for _, s := range d.Steps {
		if x, ok := w.Wire(s, d.Movement.FullScale); ok {
			out = append(out, fmt.Sprintf("Tables of %s differ by up to %.0f %%: measure the ohm of a metre, add %.0f mm for each soldered end, and trim.",
				x.Metal.Name, 100*x.Metal.Spread, 1e3*convert.SolderAllowance))
			if x.Metal.Note != "" {
				out = append(out, fmt.Sprintf("Of %s: %s.", x.Metal.Name, x.Metal.Note))
			}
			break
		}
	}
	for _, s := range d.Steps {
		if x, ok := w.Wire(s, d.Movement.FullScale); ok && x.Density > convert.MaxDensity {
			out = append(out, fmt.Sprintf("%s carries more than %g A/mm² at %s and will warm: take a thicker wire, or several side by side.",
				x.Gauge.Name, convert.MaxDensity/1e6, quantity.Format(s.Range, quantity.Ampere, 3)))
			break
		}
	}
	return out
}
