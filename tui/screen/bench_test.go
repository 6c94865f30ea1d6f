package screen

import (
	"fmt"
	"strconv"
	"testing"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/muesli/termenv"

	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
	"example.org/halve/tui/theme"
)

// rows is a practical with n rows and another begun.
func rows(tb testing.TB, n int) *record.Sitting {
	tb.Helper()
	s := onBench(tb)
	accept := func(b procedure.Body) {
		if c, err := s.Accept(b); err != nil || c.Refused != nil {
			tb.Fatalf("%+v is not taken: %v %v", b, err, *c.Refused)
		}
	}
	accept(procedure.Wired{})
	accept(procedure.ZeroRead{})
	read := func(series, shunt float64) *float64 {
		r := senseOf(tb, nil).read(enterZero, shows(tb, series, shunt))
		return ptr(r.body.(procedure.ZeroRead).Div)
	}
	for i := range n {
		series, shunt := 3000+50*float64(i), 70+2*float64(i)
		accept(procedure.SeriesSet{Ohm: series})
		accept(procedure.FirstRead{Div: read(series, 0)})
		accept(procedure.ShuntSet{Ohm: shunt})
		accept(procedure.ShuntedRead{Div: read(series, shunt)})
		accept(procedure.RowKept{})
	}
	accept(procedure.SeriesSet{Ohm: 3250})
	return s
}

// BenchmarkFrame draws one frame in colour with twenty rows: each has another
// reading in the entry and other rows in the table than the one before.
func BenchmarkFrame(b *testing.B) {
	for _, size := range [][2]int{{80, 24}, {200, 60}} {
		b.Run(map[int]string{80: "80x24", 200: "200x60"}[size[0]], func(b *testing.B) {
			o := options(rows(b, 20), nil, "")
			o.Theme = theme.New(theme.Dark, termenv.TrueColor, false)
			p := sit(b, o, size[0], size[1])
			w, last := p.m.page.(*work), ""
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				w.field.set(strconv.Itoa(i % 2))
				w.meant = w.sense.read(w.kind, w.field.text())
				w.back = i % 2
				frame := p.m.draw()
				if frame == "" || frame == last {
					b.Fatal("an empty frame, or the same again")
				}
				last = frame
			}
		})
	}
}

// BenchmarkKeystroke types a digit into a reading, takes it out again, weighs
// both and draws the frames, with as many rows as a practical has, and with
// many. It is to allocate less than 200 KB.
func BenchmarkKeystroke(b *testing.B) {
	for _, n := range []int{5, 20} {
		b.Run(fmt.Sprintf("%d rows", n), func(b *testing.B) {
			p := sit(b, options(rows(b, n), nil, ""), 80, 24)
			if w := p.m.page.(*work); w.kind != enterFirst {
				b.Fatalf("the entry is %d, not the first reading", w.kind)
			}
			p.keys("2")
			digit := tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune{'4'}}
			out := tea.KeyMsg{Type: tea.KeyBackspace}
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				if i%2 == 0 {
					p.m.Update(digit)
				} else {
					p.m.Update(out)
				}
			}
		})
	}
}
