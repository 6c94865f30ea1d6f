package screen

import (
	"strings"
	"testing"

	"example.org/halve/procedure"
)

// What the readings would point to is shown beside a reading that is typed and
// not yet written down, once it is worked out; it comes too late for another
// entry.
func TestFindingsBesideTheEntry(t *testing.T) {
	s := onBench(t)
	div := func(x float64) *float64 { return &x }
	for _, b := range []procedure.Body{
		procedure.Wired{}, procedure.ZeroRead{},
		procedure.SeriesSet{Ohm: 3300}, procedure.FirstRead{Div: div(22)}, procedure.ShuntSet{Ohm: 90},
	} {
		if c, err := s.Accept(b); err != nil || c.Refused != nil {
			t.Fatalf("%+v: %v, refused %v", b, err, c.Refused)
		}
	}
	p := sit(t, options(s, nil, ""), 80, 24)
	w := p.m.page.(*work)
	if w.kind != enterShunted {
		t.Fatalf("the entry is %d, want the shunted reading", w.kind)
	}
	seq := p.counsel().Seq
	w.field.set("22")
	w.weigh()
	ask := w.diagnose()
	if ask == nil || w.diagnose() != nil {
		t.Fatal("the findings of an entry are asked for once")
	}
	if len(w.foreseen.Findings) > 0 {
		t.Error("the preview has waited for its findings")
	}
	answer := ask()
	w.update(answer)
	if !strings.Contains(p.m.draw(), "fits best") || len(w.foreseen.Findings) == 0 || !strings.HasPrefix(w.foreseen.Findings[0].ID, "shunt-") {
		t.Errorf("closing K2 changes nothing; findings %+v, the page\n%s", w.foreseen.Findings, p.m.draw())
	}
	if p.counsel().Seq != seq {
		t.Error("something was written down")
	}
	w.field.set("11")
	w.weigh()
	w.update(answer)
	if len(w.foreseen.Findings) > 0 {
		t.Errorf("findings of another entry are shown: %+v", w.foreseen.Findings)
	}
}
