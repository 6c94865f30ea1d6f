package procedure

import (
	"errors"
	"math"
	"strconv"
	"strings"

	"example.org/halve/procedure/slips"
)

// ReadClaim reads a hand calculation as it is typed: the value, and for one
// row "row" and its number, such as 90.5 row 2. The error is one line that
// says what is expected.
func ReadClaim(quantity, text string) (Claim, error) {
	c := Claim{Quantity: quantity}
	value := text
	for i := range text {
		if i+3 > len(text) || !strings.EqualFold(text[i:i+3], "row") {
			continue
		}
		n, err := strconv.Atoi(strings.TrimSpace(text[i+3:]))
		if err != nil || n < 1 {
			return Claim{}, errors.New("after row comes its number, such as 90.5 row 2")
		}
		value, c.Row = text[:i], n
		break
	}
	c.Value.Text = harmless(value)
	w, err := c.written()
	c.Value.Value = w.Value
	return c, err
}

// claims compares every claim in force with the computed value, and explains
// the ones that do not agree.
func (ev *evidence) claims(s *State) []ClaimCheck {
	out := []ClaimCheck{}
	for i, c := range s.claims {
		if !s.on(c.seq) {
			continue
		}
		w, err := c.said.written()
		if err != nil {
			continue
		}
		check := ClaimCheck{Seq: c.seq, Quantity: c.said.Quantity, Row: c.said.Row, Claimed: w.Value, Slips: []Slip{}}
		if kase, ok := ev.claimed(s, s.claims[:i], c.said); ok {
			kase.Stated = w
			agrees := slips.Agrees(w, kase.Expected)
			check.Expected, check.Agrees = &kase.Expected, &agrees
			for _, f := range slips.Find(kase) {
				check.Slips = append(check.Slips, Slip{f.ID, f.Probability, f.Say})
			}
		}
		out = append(out, check)
	}
	return out
}

// claimed is the calculation that a claim is about, with the student's earlier
// values that it may rest on; ok is false where there is nothing to compare
// with.
func (ev *evidence) claimed(s *State, before []claimAt, said Claim) (slips.Case, bool) {
	c := slips.Case{
		Quantity: slips.Resistance, EMF: ev.emf, SourceResistance: ev.r,
		Divisions: s.bench.Galvanometer.Divisions, Step: ev.step, At: slips.Mean,
	}
	merit := said.Quantity == ClaimMerit
	if merit {
		c.Quantity = slips.Merit
	}
	var expected, u *float64
	if ev.result != nil {
		expected, u = ev.result.MeanResistance, ev.result.UResistance
		if merit {
			expected, u = ev.result.MeanMerit, ev.result.UMerit
		}
	}
	if said.Row > 0 {
		expected, u = nil, nil
	}
	var numbers []int
	var emfs []float64
	for _, r := range ev.rows {
		if r.Resistance == nil || r.Struck && r.Row != said.Row {
			continue
		}
		if r.Row == said.Row {
			c.At, c.EMF, expected, u = len(c.Rows), r.EMF, r.Resistance, r.UResistance
			if merit {
				expected, u = r.Merit, r.UMerit
			}
		}
		numbers = append(numbers, r.Row)
		c.Rows = append(c.Rows, slips.Row{Number: r.Row, Series: r.SeriesOhm, Shunt: r.ShuntOhm, First: r.FirstDiv, Shunted: r.ShuntedDiv})
		emfs = append(emfs, r.EMF)
	}
	for i, emf := range emfs { // as the one source would have made them
		c.Rows[i].First, c.Rows[i].Shunted = c.Rows[i].First*c.EMF/emf, c.Rows[i].Shunted*c.EMF/emf
	}
	if expected == nil {
		return c, false
	}
	c.Expected = *expected
	if u != nil {
		c.U = *u
	}
	c.OwnRows = make([]float64, len(numbers))
	for i := range c.OwnRows {
		c.OwnRows[i] = math.NaN()
	}
	for _, b := range before {
		w, err := b.said.written()
		if err != nil || !s.on(b.seq) {
			continue
		}
		if merit && b.said.Quantity == ClaimResistance && (b.said.Row == said.Row || b.said.Row == 0) {
			c.OwnResistance = append(c.OwnResistance, w.Value)
		}
		if said.Row == 0 && b.said.Quantity == said.Quantity {
			for i, n := range numbers {
				if n == b.said.Row {
					c.OwnRows[i] = w.Value
				}
			}
		}
	}
	return c, true
}
