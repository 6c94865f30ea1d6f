package screen

import (
	"math"
	"testing"

	"example.org/halve/procedure"
)

// The drawn needle comes to rest where it is to be, in less than two seconds
// of frames, and then there is no tick any more.
func TestSwing(t *testing.T) {
	for _, to := range []float64{0.5, 12, -30, 30.75} {
		s := newSwing()
		tick := s.towards(to, false)
		if tick == nil || s.towards(to, false) != nil {
			t.Fatal("one tick is to be under way")
		}
		n := 0
		for ; tick != nil; n++ {
			if n > 2*frames {
				t.Fatalf("on its way to %g the needle is still at %g after two seconds", to, s.at)
			}
			tick = s.on(0.06)
		}
		if s.at != to || s.towards(to, false) != nil {
			t.Errorf("the needle rests at %g, want %g without a tick", s.at, to)
		}
	}
}

// A key never waits for the needle: what is typed while it moves is read at
// once, and the caption tells the reading and not the place on the way.
func TestSwingDelaysNothing(t *testing.T) {
	o := options(onBench(t), nil, "")
	o.Still = false
	p := sit(t, o, 80, 24)
	w := p.m.page.(*work)
	for range wiring(table()) {
		p.m.Update(press(" "))
	}
	p.keys("enter", "0", "enter", "1.52", "enter", "enter")
	if w.kind != enterFirst {
		t.Fatalf("the entry is %d, want the first reading", w.kind)
	}
	p.m.Update(press("2"))
	p.m.Update(swung{})
	p.m.Update(press("4"))
	if w.swing.at == w.swing.to || math.Abs(w.swing.to-24) > 1e-9 {
		t.Errorf("the needle is at %g on its way to %g, want it on its way to 24", w.swing.at, w.swing.to)
	}
	p.sees("▲ 24")
	p.sees("read as 24 div")
	if p.counsel().Next.Event != procedure.KindReadFirst {
		t.Error("something was written down")
	}
}
