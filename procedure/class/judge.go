package class

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/halve/physics/fault"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
)

// judge decides of each record whether it is sent back, and in which order they
// need attention.
func (c *Class) judge() {
	for _, s := range c.Records {
		s.reasons, s.attention = 0, 0
		if s.copyOf != nil {
			s.attention = -1
			continue
		}
		set := func(r reason, on bool, weight float64) {
			if on {
				s.reasons |= r
				s.attention += weight
			}
		}
		var on *Sheet // whom Grubbs' test finds, where the distance is not small either
		grubbs := func(p *Pool, z float64) bool {
			on = p.GrubbsOn
			return on == s && math.Abs(z) > nearZ
		}
		if s.counts() && s.instrument >= 0 {
			in := &c.Instruments[s.instrument]
			set(standsApartG, s.ofG.apart || grubbs(&in.G, s.ofG.distance), 100+min(100, math.Abs(s.ofG.distance)))
			set(standsApartK, s.ofK.apart || grubbs(&in.K, s.ofK.distance), 50+min(50, math.Abs(s.ofK.distance)))
		}
		f, ok := s.lead()
		set(pointsToFault, ok && f.Probability >= faultSure, 40*f.Probability)
		set(noResult, s.State == Finished && !s.measured(), 90)
		set(cutOff, s.State == Cut && s.Rows < RowsEnough, 20)
		set(tooFewRows, s.State == Finished && s.measured() && s.Rows < RowsEnough, 10)
		set(unfinished, s.State == Unfinished && s.Rows < RowsEnough, 15)
		set(wrongClaim, s.Closely != nil && s.Closely.Wrong > 0, 30)
		// Within those that are sound, the furthest first.
		if s.counts() {
			s.attention += 0.1 * cmp.Or(math.Max(0, math.Max(finite(s.ofG.distance), finite(s.ofK.distance))), 0)
		}
	}
	slices.SortFunc(c.Records, func(a, b *Sheet) int {
		if a.attention != b.attention {
			return cmp.Compare(b.attention, a.attention)
		}
		return strings.Compare(a.File, b.File)
	})
}

// nearZ is the distance, in standard uncertainties, up to which Grubbs' test
// alone sends nobody back: it knows nothing of the stated uncertainties.
const nearZ = 2.5

func finite(z float64) float64 {
	if math.IsNaN(z) || math.IsInf(z, 0) {
		return 0
	}
	return math.Abs(z)
}

// lead is the likeliest finding.
func (s *Sheet) lead() (f procedure.Finding, ok bool) {
	if s.Closely == nil || len(s.Closely.Findings) == 0 {
		return f, false
	}
	return s.Closely.Findings[0], true
}

// SendBack reports whether the pair is to do something again.
func (s *Sheet) SendBack() bool { return s.reasons != 0 }

// Because says in a sentence or two what to send back and why, or why not.
func (c *Class) Because(s *Sheet) string {
	if s.copyOf != nil {
		same := "An earlier state, or another record, under the id of "
		if s.hash == s.copyOf.hash {
			same = "A copy of "
		}
		return same + c.Name(s.copyOf) + ", which counts."
	}
	var parts []string
	if s.instrument >= 0 {
		in := &c.Instruments[s.instrument]
		if s.reasons&standsApartG != 0 {
			parts = append(parts, apart("G", quantity.Measured{Value: s.G, U: s.UG, Unit: quantity.Ohm}, &in.G, s.ofG))
		}
		if s.reasons&standsApartK != 0 {
			text := apart("k", quantity.Measured{Value: s.K, U: s.UK, Unit: quantity.AmperePerDivision}, &in.K, s.ofK)
			if c.ailing(s) {
				text = strings.TrimSuffix(text, ".") + fmt.Sprintf("; others with the cell %q do so too. Measure its EMF and work k out again; the readings can stay.", c.Cells[s.cell].Label)
			} else if s.reasons&standsApartG == 0 {
				text += " The readings cannot tell k from the EMF: measure the cell first."
			}
			parts = append(parts, text)
		}
		if s.reasons&(standsApartG|standsApartK) != 0 && !c.ailing(s) {
			parts = append(parts, s.again(in))
		}
	}
	if f, ok := s.lead(); ok && !(c.ailing(s) && ofSource(f.ID)) && (s.reasons&pointsToFault != 0 || s.reasons&standsApartG != 0 && f.Probability > 0.3) {
		parts = append(parts, fmt.Sprintf("The readings point to %s (%s): %s", f.ID, cmp.Or(procedure.Chance(f.Probability), "certain"), f.Say))
	}
	switch {
	case s.reasons&noResult != 0 && s.Rows == 0:
		parts = append(parts, "Finished without a row: no result can be given. Take rows.")
	case s.reasons&noResult != 0:
		parts = append(parts, "No galvanometer gives the readings of these rows: take a row again, slowly.")
	case s.reasons&cutOff != 0:
		parts = append(parts, fmt.Sprintf("The file is cut off; %s whole. Look for the original.", rows(s.Rows)))
	case s.reasons&tooFewRows != 0:
		parts = append(parts, fmt.Sprintf("Only %s: take %d more.", rows(s.Rows), RowsEnough-s.Rows))
	case s.reasons&unfinished != 0:
		parts = append(parts, fmt.Sprintf("Not finished: %s so far; go on with it.", rows(s.Rows)))
	}
	if s.reasons&wrongClaim != 0 {
		text := fmt.Sprintf("%d of the values worked out by hand do not follow from the readings: send the working back.", s.Closely.Wrong)
		if len(s.Closely.Slips) > 0 {
			text += " " + s.Closely.Slips[0].Say
		}
		parts = append(parts, text)
	}
	if len(parts) > 0 {
		return strings.Join(parts, " ")
	}
	if s.State == Unfinished {
		return "Enough rows; not finished yet."
	}
	if s.instrument >= 0 && c.Instruments[s.instrument].Pairs == 1 {
		return "Nothing to do again; nobody else measured this instrument."
	}
	return "Nothing to do again: it agrees with the others."
}

// ofSource reports whether a finding says no more than that the cell ails.
func ofSource(id string) bool {
	switch fault.ID(id) {
	case fault.SourceWeak, fault.SourceDoubled, fault.SourceRunningDown:
		return true
	}
	return false
}

func rows(n int) string {
	if n == 1 {
		return "1 row"
	}
	return fmt.Sprintf("%d rows", n)
}

// apart says how far a value lies from the others.
func apart(name string, v quantity.Measured, p *Pool, at standing) string {
	z := math.Abs(at.distance)
	if at.two {
		return fmt.Sprintf("%s = %s and the other pair's differ by %.1f standard uncertainties; nothing says which is right.", name, v, z)
	}
	way := "above"
	if at.distance < 0 {
		way = "below"
	}
	return fmt.Sprintf("%s = %s stands apart, %.1f standard uncertainties %s the %s of the others.",
		name, v, z, way, quantity.Measured{Value: p.Value.X, U: p.Value.U, Unit: v.Unit})
}

// again asks for one row, that which lies furthest from the class.
func (s *Sheet) again(in *Instrument) string {
	if s.Closely == nil || len(s.Closely.RowG) < 2 {
		return "Take one row again."
	}
	at, far := 0, -1.0
	near := math.Inf(1)
	for i, g := range s.Closely.RowG {
		if d := math.Abs(g - in.G.Value.X); d > far {
			at, far = i, d
		}
		near = min(near, math.Abs(g-in.G.Value.X))
	}
	if far > 3*near {
		return fmt.Sprintf("Row %d lies furthest from the class: take that one again.", s.Closely.RowNumber[at])
	}
	return "All its rows lie alike: take one again on a checked circuit."
}

// count counts findings and slips.
func (c *Class) count() {
	findings, slips := map[string]int{}, map[string]int{}
	for _, s := range c.Records {
		if s.copyOf != nil || s.Closely == nil || !s.Closely.Examined {
			continue
		}
		c.Examined++
		if f, ok := s.lead(); ok {
			findings[f.ID]++
		}
		for _, x := range s.Closely.Slips {
			slips[x.ID]++
		}
	}
	sorted := func(of map[string]int) []Count {
		out := []Count{}
		for id, n := range of {
			out = append(out, Count{id, n})
		}
		slices.SortFunc(out, func(a, b Count) int { return cmp.Or(cmp.Compare(b.N, a.N), strings.Compare(a.ID, b.ID)) })
		return out
	}
	c.Findings, c.Slips = sorted(findings), sorted(slips)
}

// Called is what a record is called when it is talked about: its pair's number
// with the names, or the file where there are none.
func (c *Class) Called(s *Sheet) string {
	if who := cmp.Or(s.Names, s.Group); who != "" && !c.Anonymous {
		return fmt.Sprintf("pair %d (%s)", s.pair, who)
	}
	if c.Anonymous {
		return c.Name(s)
	}
	return fmt.Sprintf("pair %d (%s)", s.pair, s.File)
}

// InstrumentOf is the instrument of a record, nil where it has none.
func (c *Class) InstrumentOf(s *Sheet) *Instrument {
	if s.instrument < 0 {
		return nil
	}
	return &c.Instruments[s.instrument]
}

// Apart tells by which of G and k a record stands apart from its instrument's
// others.
func (s *Sheet) Apart() (resistance, merit bool) { return s.ofG.apart, s.ofK.apart }

// Outlying lists the pairs that stand apart, each with the rules that say so: f
// for the forward search, g for Grubbs' test; "-" for nobody.
func (c *Class) Outlying(in *Instrument) string {
	var out []string
	for _, s := range in.Files {
		rules := ""
		if s.counts() && (s.ofG.apart || s.ofK.apart) {
			rules += "f"
		}
		if s == in.G.GrubbsOn || s == in.K.GrubbsOn {
			rules += "g"
		}
		if rules != "" {
			out = append(out, fmt.Sprintf("%d\u00a0%s", s.pair, rules))
		}
	}
	if len(out) == 0 {
		return "-"
	}
	if len(out) > mostNamed {
		out = append(out[:mostNamed], "…")
	}
	return strings.Join(out, ", ")
}

// mostNamed is how many pairs one line names.
const mostNamed = 12
