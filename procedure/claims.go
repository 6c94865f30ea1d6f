package procedure

import (
	"math"
)

// claimSlack is how far a hand calculation may be off through rounded
// intermediate values, relative (interface contract).
const claimSlack = 0.003

// claims compares every claim in force with the computed value.
func (ev *evidence) claims(s *State) []ClaimCheck {
	out := []ClaimCheck{}
	for _, c := range s.claims {
		if !s.on(c.seq) {
			continue
		}
		check := ClaimCheck{Seq: c.seq, Quantity: c.said.Quantity, Row: c.said.Row, Slips: []Slip{}}
		w, err := c.said.written()
		if err != nil {
			continue
		}
		check.Claimed = w.Value
		if want := ev.computed(c.said); want != nil {
			agrees := math.Abs(w.Value-*want) <= w.LastDigit/2+claimSlack*math.Abs(*want)
			check.Expected, check.Agrees = want, &agrees
		}
		out = append(out, check)
	}
	return out
}

// computed is the value a claim is about, nil where there is none.
func (ev *evidence) computed(c Claim) *float64 {
	g, k := (*float64)(nil), (*float64)(nil)
	if c.Row == 0 {
		if ev.result != nil {
			g, k = ev.result.MeanResistance, ev.result.MeanMerit
		}
	} else if c.Row <= len(ev.rows) {
		g, k = ev.rows[c.Row-1].Resistance, ev.rows[c.Row-1].Merit
	}
	if c.Quantity == ClaimMerit {
		return k
	}
	return g
}
