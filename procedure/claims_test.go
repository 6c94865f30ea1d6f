package procedure

import (
	"strings"
	"testing"
)

// TestClaimSlips: what a record knows of a claim reaches the slips: its rows,
// the student's earlier values in force, the mean over rows at the half and
// off it. By hand, with r = 0.8: row 1 has 3000.8·84/2916.8 = 86.42 Ω and
// k = 1.5/((3000.8 + G)·24); with the own G = 864 that is 1.617e-5. Row 2 has
// P = 80·12.5/11.5 = 86.957 and G = 3000.8·P/(3000.8 − P) = 89.55, so that the
// rows' sum is 175.97.
func TestClaimSlips(t *testing.T) {
	s := ready(t, SeriesSet{Ohm: 3000}, first(24), ShuntSet{Ohm: 84}, shunted(12), RowKept{}, ShuntSet{Ohm: 80}, shunted(11.5), RowKept{})
	say := func(what, text string) ClaimCheck {
		t.Helper()
		c, err := ReadClaim(what, text)
		if err != nil {
			t.Fatal(err)
		}
		s.put(c)
		all := Advise(s.s).Claims
		return all[len(all)-1]
	}
	named := func(c ClaimCheck, id, in string) {
		t.Helper()
		if len(c.Slips) == 0 || c.Slips[0].ID != id || !strings.Contains(c.Slips[0].Say, in) {
			t.Errorf("%+v, want %s first, saying %q", c, id, in)
		}
	}
	named(say(ClaimMerit, "1.617e-5 row 1"), "full-scale-for-division", "") // nothing is known of an own G yet
	own := say(ClaimResistance, "864 Row 1")
	named(own, "decimal-slip", "one place")
	named(say(ClaimMerit, "1.617e-5 row 1"), "follows-from-own", "864")
	s.put(Strike{Event: own.Seq})
	named(say(ClaimMerit, "1.617e-5 row 1"), "full-scale-for-division", "")
	named(say(ClaimResistance, "176.0"), "mean-slip", "without dividing by 2")
	named(say(ClaimResistance, "−86.42 row 1"), "sign-turned", "S − R")
	named(say(ClaimResistance, "141.3"), "unexplained", "row 1 86.42 Ω, row 2 89.55 Ω")
	named(say(ClaimResistance, "80 row 2"), "shunt-alone", "80 Ω")
	for _, text := range []string{"", "row 2", "90 row", "90 row 0", "90 row two", "ȺȺȺȺȺȺȺ row 2", "90 A"} {
		if c, err := ReadClaim(ClaimResistance, text); err == nil {
			t.Errorf("%q is read as %+v", text, c)
		}
	}
}
