package draw

import (
	"github.com/charmbracelet/lipgloss"

	"example.org/halve/tui/theme"
)

// Circuit is the circuit as it stands: what is written at each element, and
// whether the keys are closed.
type Circuit struct {
	Source, Series, Shunt, Movement string // what is written there, may be empty
	K1, K2                          bool   // closed
	// Part is the element that is to be touched next, 0 for none.
	Part Part
}

// Part names an element of the circuit.
type Part int

// The elements a hand goes to.
const (
	NoPart Part = iota
	SeriesBox
	ShuntBox
	Movement
	KeyK1
	KeyK2
)

// The size of the drawn circuit.
const (
	CircuitWidth  = 36
	CircuitHeight = 5
)

// Draw draws the circuit: on the left the loop of source, series box,
// galvanometer and K1, on the right the branch of shunt box and K2 across the
// galvanometer.
func (d Circuit) Draw(t *theme.Theme) []string {
	const (
		left, node, right = 1, 19, CircuitWidth - 2
		top, bottom       = 0, 3
	)
	g := t.Signs
	c := NewCanvas(CircuitWidth, CircuitHeight)
	loop, branch := &t.Idle, &t.Idle
	if d.K1 {
		loop = &t.Live
	}
	if d.K1 && d.K2 {
		branch = &t.Live
	}

	// The branch first, so that the loop's corners lie over it.
	c.Across(node, right, top, g.Wire, branch)
	c.Across(node, right, bottom, g.Wire, branch)
	for y := top + 1; y < bottom; y++ {
		c.Put(right, y, g.Upright, branch)
	}
	c.Put(right, top, g.TopRight, branch)
	c.Put(right, bottom, g.LowRight, branch)

	c.Across(left, node-1, top, g.Wire, loop)
	c.Across(left, node-1, bottom, g.Wire, loop)
	for y := top + 1; y < bottom; y++ {
		c.Put(left, y, g.Upright, loop)
		c.Put(node, y, g.Upright, loop)
	}
	c.Put(left, top, g.TopLeft, loop)
	c.Put(left, bottom, g.LowLeft, loop)
	c.Put(node, top, g.TeeDown, loop)
	c.Put(node, bottom, g.TeeUp, loop)

	// The cell: the long plate is the positive one.
	c.Across(left-1, left+1, 1, g.CellLong, loop)
	c.Put(left, 2, g.CellShort, loop)
	c.Put(left+3, 1, Cut("E "+d.Source, node-left-5, g.Dots), &t.Hint)

	box := func(x, w int, name, value string, part Part, style *lipgloss.Style) {
		text := name
		if value != "" {
			text += " " + value
		}
		text = Cut(text, w-2, g.Dots)
		if d.Part == part {
			style = &t.Value
		}
		at := x + (w-Width(text)-2)/2
		c.Put(at, top, "["+text+"]", style)
	}
	box(left+1, node-left-1, "R", d.Series, SeriesBox, loop)
	box(node+1, right-node-1, "S", d.Shunt, ShuntBox, branch)
	movement := loop
	if d.Part == Movement {
		movement = &t.Value
	}
	c.Put(node-1, 1, "(G)", movement)
	c.Put(node+3, 1, Cut(d.Movement, right-node-4, g.Dots), &t.Hint)

	d.key(c, left+5, bottom, "K1", d.K1, KeyK1, loop, t)
	d.key(c, node+4, bottom, "K2", d.K2, KeyK2, branch, t)
	return c.Lines()
}

// key draws a key lying in a wire, with its name and its state below it.
func (d Circuit) key(c *Canvas, x, y int, name string, closed bool, part Part, wire *lipgloss.Style, t *theme.Theme) {
	g := t.Signs
	lever, state := " "+g.LeverUp+" ", "open"
	if closed {
		lever, state = g.Lever+g.Lever+g.Lever, "closed"
	}
	word := &t.Hint
	if d.Part == part {
		word = &t.Value
	}
	c.Put(x, y, g.Contact+lever+g.Contact, wire)
	c.Put(x-1, y+1, name+" "+state, word)
}
