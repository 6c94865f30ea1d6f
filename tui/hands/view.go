package hands

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/charmbracelet/lipgloss"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/bench/live"
	"example.org/halve/tui/draw"
)

// leastScale is how many lines of the scale there are before the keys and the
// boxes have all of theirs: marks and needle.
const leastScale = 2

// View draws the bench, at most w cells wide and h lines high: the scale with
// its needle, then the keys, the boxes, and what has happened. Where not all has
// room, what has happened is whole, and what the hand is on. It is pure and
// total.
func (m *Model) View(w, h int) []string {
	if w <= 0 || h <= 0 {
		return nil
	}
	said := m.saidLines(w)
	var high, low []string
	if m.wiring {
		low = m.wiringLines(w)
		high = draw.Circuit{K1: draw.KeyIs(m.bench.Closed(live.K1)), K2: draw.KeyIs(m.bench.Closed(live.K2))}.Draw(w, h-len(low)-len(said), m.theme)
	} else {
		low = m.rowLines(w, h-len(said)-leastScale)
		high = m.ScaleLines(w, h-len(low)-len(said))
	}
	lines := append(high, low...)
	lines = append(lines[:min(len(lines), max(h-len(said), 0))], said...)
	return lines[:min(len(lines), h)]
}

// rowLines are the keys and the boxes in h lines, if there is a way: what the
// hand is on in full, of the others a line, or none.
func (m *Model) rowLines(w, h int) []string {
	lines := [rows][]string{m.keyLines(w), m.boxLines(live.Series, w), m.boxLines(live.Shunt, w)}
	less := [][rows][]string{
		{lines[keyRow][:1], {m.boxSays(live.Series, "R", w)}, {m.boxSays(live.Shunt, "S", w)}},
		{lines[keyRow][:1], nil, nil},
	}
	for _, form := range less {
		for _, r := range []row{shuntRow, seriesRow, keyRow} {
			if r != m.row && len(lines[keyRow])+len(lines[seriesRow])+len(lines[shuntRow]) > h {
				lines[r] = form[r]
			}
		}
	}
	return slices.Concat(lines[:]...)
}

// lensHeight is how many lines the magnifier takes.
const lensHeight = 3

// ScaleLines draws the scale, as large as the room is; seen through the
// magnifier as well, or alone where there is no room for both.
func (m *Model) ScaleLines(w, h int) []string {
	s := m.scale()
	if !m.lens {
		return s.Draw(w, h, m.theme)
	}
	closer := s.Close(m.about)
	closer.Expect, closer.Wanted = nil, nil // a band is no help to an eye that reads
	closer.Caption = "magnified"
	if v := s.Needle; v != nil && (*v > s.StopHi || *v < s.StopLo) {
		closer.Caption = "magnified: the needle is past the last mark"
	}
	if h < draw.ScaleHeight+lensHeight {
		return closer.Draw(w, min(h, draw.ScaleHeight), m.theme)
	}
	return append(s.Draw(w, h-lensHeight, m.theme), closer.Draw(w, lensHeight, m.theme)...)
}

// scale is the scale with the needle where it is. Its caption says how the keys
// are, never what the reading is.
func (m *Model) scale() draw.Scale {
	g := m.bench.Stated().Galvanometer
	s := draw.Whole(g.Divisions, g.Centre())
	s.Expect, s.Wanted = m.expect, m.wanted
	if m.until > m.at {
		left := math.Ceil((m.until - m.at).Seconds())
		s.Caption = fmt.Sprintf("the needle moves; it is at rest in about %.0f s", left)
		return s
	}
	v := m.bench.Needle(m.at)
	s.Needle, s.Caption = &v, m.keysSay()
	return s
}

func (m *Model) keysSay() string {
	switch k1, k2 := m.bench.Closed(live.K1), m.bench.Closed(live.K2); {
	case k1 && k2:
		return "K1 and K2 closed"
	case k1:
		return "K1 closed"
	case k2:
		return "K2 closed"
	}
	return "keys open"
}

// keyLines are the keys and what can be done to the instrument and the source.
func (m *Model) keyLines(w int) []string {
	t := m.theme
	state := func(k live.Key) string {
		g := t.Signs
		if m.bench.Closed(k) {
			return keyName(k) + " " + g.Contact + g.Lever + g.Lever + g.Lever + g.Contact + " closed"
		}
		return keyName(k) + " " + g.Contact + " " + g.LeverUp + " " + g.Contact + " open"
	}
	var parts []string
	for i, text := range []string{state(live.K1), state(live.K2), "case", "zero screw", "source"} {
		style := t.Hint
		switch {
		case i == thingK1 && m.bench.Closed(live.K1), i == thingK2 && m.bench.Closed(live.K2):
			style = t.Live
		}
		parts = append(parts, m.thing(text, style, m.row == keyRow && m.col[keyRow] == i))
	}
	return draw.Flow(parts, " ", w)
}

// thing is something that a hand can be on: in brackets where it is.
func (m *Model) thing(text string, style lipgloss.Style, hand bool) string {
	if hand {
		return m.theme.Selected.Render("[" + text + "]")
	}
	return " " + style.Render(text) + " "
}

// boxLines draw a box: the value of each coil or dial, below it the plug, in
// or out, or the number of steps.
func (m *Model) boxLines(which live.Box, w int) []string {
	const name = boxName
	t := m.theme
	box, letter := m.box(which)
	values, dial := coils(box)
	in := m.bench.Plugs(which)
	r := seriesRow
	if which == live.Shunt {
		r = shuntRow
	}
	cell := 2
	for _, v := range values {
		cell = max(cell, len(short(v)))
	}
	cell = max(cell+1, 4)
	per := max((w-name)/cell, 1)
	var lines []string
	for from := 0; from < len(values); from += per {
		var above, below strings.Builder
		head := ""
		if from == 0 {
			head = letter
		}
		above.WriteString(t.Value.Render(draw.Pad(head, name)))
		below.WriteString(strings.Repeat(" ", name))
		for i := from; i < min(from+per, len(values)); i++ {
			hand := m.row == r && m.col[r] == i && !m.wiring
			style := t.Hint
			if in[i] > 0 {
				style = t.Value
			}
			above.WriteString(style.Render(draw.PadLeft(short(values[i]), cell)))
			sign := " "
			switch {
			case dial:
				sign = fmt.Sprint(in[i])
			case in[i] == 0:
				sign = t.Signs.PlugIn
			}
			left, right := "(", ")"
			if hand {
				left, right, style = "[", "]", t.Selected
			}
			below.WriteString(style.Render(draw.PadLeft(left+sign+right, cell)))
		}
		lines = append(lines, above.String(), below.String())
	}
	return append(lines, m.boxSays(which, "", w))
}

// boxName is how many cells there are for the name of a box.
const boxName = 3

// boxSays is what a box has in circuit, behind its name or none.
func (m *Model) boxSays(which live.Box, name string, w int) string {
	t := m.theme
	box, _ := m.box(which)
	values, dial := coils(box)
	text := "in circuit: " + pulled(values, m.bench.Plugs(which))
	if !dial {
		text = "out: " + pulled(values, m.bench.Plugs(which)) + "   (" + t.Signs.PlugIn + ") plug in"
	}
	return t.Hint.Render(draw.Cut(draw.Pad(name, boxName)+t.Signs.Say(text), w, t.Signs.Dots))
}

func (m *Model) box(which live.Box) (b apparatus.Box, name string) {
	if which == live.Shunt {
		return m.bench.Stated().ShuntBox, "S"
	}
	return m.bench.Stated().SeriesBox, "R"
}

// wiringLines draw the terminals and list the leads.
func (m *Model) wiringLines(w int) []string {
	t := m.theme
	cell := min(11, max(w/len(order()[0]), 8))
	var lines []string
	for _, ts := range order() {
		var line strings.Builder
		for _, end := range ts {
			text := end.String()
			if end == m.held {
				text += "*"
			}
			line.WriteString(draw.Pad(m.thing(text, t.Value, end == m.end), cell))
		}
		lines = append(lines, strings.TrimRight(line.String(), " "))
	}
	var joined []string
	for _, l := range m.bench.Leads() {
		joined = append(joined, l.A.String()+" to "+l.B.String())
	}
	text := "no lead is joined yet; the circuit above is the one to make"
	if len(joined) > 0 {
		text = "leads: " + strings.Join(joined, ", ")
	}
	lines = append(lines, draw.Styled(draw.Wrap(t.Signs.Say(text), w), t.Hint)...)
	return lines
}

// saidLines say what was done last, or has happened.
func (m *Model) saidLines(w int) []string {
	style, text := m.theme.Said, m.said
	if m.alarm {
		style, text = m.theme.Stop, "! "+text
	}
	if m.said == "" {
		return nil
	}
	return draw.Styled(draw.Wrap(m.theme.Signs.Say(text), w), style)
}

// Now is the time of the bench, since it was set up.
func (m *Model) Now() time.Duration { return m.elapsed() }
