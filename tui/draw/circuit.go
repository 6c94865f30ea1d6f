package draw

import (
	"fmt"
	"strings"

	"github.com/charmbracelet/lipgloss"

	"example.org/halve/tui/theme"
)

// Circuit is the circuit as it stands: what is written at each element, and
// the keys.
type Circuit struct {
	// Source, Series, Shunt and Movement are written at the source E, the
	// boxes R and S and the galvanometer G; each may be empty.
	Source, Series, Shunt, Movement string
	K1, K2                          Key
	// Part is the element that is to be touched next, 0 for none.
	Part Part
	// Building says that the circuit is being wired: of Wires, the first
	// Laid are there. Otherwise all are.
	Building bool
	Laid     int
}

// Key is the state of a key.
type Key int

// The states of a key.
const (
	Open Key = iota
	Closed
	Tapped // touched for an instant
)

// KeyIs returns the state of a key that is closed, or is not.
func KeyIs(closed bool) Key {
	if closed {
		return Closed
	}
	return Open
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
	Source
)

// The wires, in the order in which they are laid: the loop from plus on, then
// the branch of the shunt, and the lead to minus of the source last.
const (
	wireSourceK1 = iota
	wireK1Series
	wireSeriesMovement
	wireMovementShunt
	wireShuntK2
	wireK2Movement
	wireMovementSource
	wires
)

// Wires names the wires of the circuit in the order in which they are laid.
func Wires() []string {
	return []string{
		"source (plus) to K1",
		"K1 to R",
		"R to G",
		"S to where R and G meet",
		"S to K2",
		"K2 to the other end of G",
		"G to source (minus), last of all",
	}
}

// laid reports whether a wire is there.
func (d Circuit) laid(wire int) bool { return !d.Building || wire < d.Laid }

// complete reports whether all wires are there.
func (d Circuit) complete() bool { return !d.Building || d.Laid >= wires }

// carries reports whether current flows in the loop, and in the branch of the
// shunt.
func (d Circuit) carries() (loop, branch bool) {
	loop = d.K1 != Open && d.complete()
	return loop, loop && d.K2 != Open
}

// form is a size in which the circuit is drawn: the columns of the loop's left
// side, of the galvanometer and of the far end, those of K1 and of the cell's
// long plate, the lines of the wires above and below.
type form struct {
	w, h              int
	left, node, right int
	k1, plate         int
	top, bottom       int
	tall              int  // the long plate reaches so far above and below the wire
	box               bool // boxes are drawn round, three lines high
	ring              bool // and so is the galvanometer
}

// The forms, the largest first.
var forms = [...]form{
	{w: 68, h: 13, left: 4, node: 35, right: 64, k1: 9, plate: 24, top: 1, bottom: 11, tall: 1, box: true, ring: true},
	{w: 46, h: 8, left: 3, node: 24, right: 43, k1: 6, plate: 17, top: 1, bottom: 6, tall: 1, box: true},
	{w: CircuitWidth, h: CircuitHeight, left: 1, node: 19, right: CircuitWidth - 2, k1: 3, plate: 13, top: 0, bottom: 3},
}

// The size of the smallest drawing of the circuit.
const (
	CircuitWidth  = 36
	CircuitHeight = 5
)

// Draw draws the circuit in the largest form that w cells and h lines hold: on
// the left the loop, from plus of the source over K1, series box and
// galvanometer to minus; on the right the branch of shunt box and K2 across the
// galvanometer. What carries current is drawn stronger. In less room than the
// smallest form needs, loop and branch are a line each; in less still it is the
// state of the keys in words.
func (d Circuit) Draw(w, h int, t *theme.Theme) []string {
	for _, f := range forms {
		if w >= f.w && h >= f.h {
			return d.draw(f, t)
		}
	}
	if w >= flatWidth && h >= 2 && d.complete() {
		return d.flat(w, t)
	}
	if w <= 0 || h <= 0 {
		return nil
	}
	return []string{t.Hint.Render(Cut("K1 "+d.K1.word()+", K2 "+d.K2.word(), w, t.Signs.Dots))}
}

func (k Key) word() string { return [...]string{"open", "closed", "tapped"}[k] }

// flatWidth is the least width of loop and branch as two lines.
const flatWidth = 44

// flat draws loop and branch as a line each.
func (d Circuit) flat(w int, t *theme.Theme) []string {
	c := NewCanvas(w, 2, t.Signs.Grain)
	x := 0
	put := func(y int, text string, style *lipgloss.Style) {
		c.Put(x, y, text, style)
		x += Width(text)
	}
	element := func(y int, name, value string, part Part, p pen) {
		text := strings.TrimSpace(name + " " + t.Signs.Say(value))
		text, style := d.label(Cut(text, 12, t.Signs.Dots), part, p.style, t)
		put(y, p.Across+" ", p.style)
		put(y, text+" ", style)
	}
	key := func(y int, name string, state Key, part Part, p pen) {
		put(y, p.Across+" ", p.style)
		put(y, state.lever(p, t)+" ", p.style)
		text, style := d.label(name+" "+state.word(), part, &t.Hint, t)
		put(y, text+" ", style)
	}
	loop, _ := d.pen(wireSourceK1, t)
	element(0, "E", d.Source, Source, loop)
	key(0, "K1", d.K1, KeyK1, loop)
	element(0, "R", d.Series, SeriesBox, loop)
	element(0, "G", "", Movement, loop)
	put(0, loop.Across, loop.style)
	x = 0
	branch, _ := d.pen(wireShuntK2, t)
	put(1, "across G ", &t.Hint)
	element(1, "S", d.Shunt, ShuntBox, branch)
	key(1, "K2", d.K2, KeyK2, branch)
	put(1, branch.Across, branch.style)
	return c.Lines()
}

// lever draws a key lying in a wire.
func (k Key) lever(p pen, t *theme.Theme) string {
	g := t.Signs
	switch k {
	case Closed:
		return g.Contact + p.Across + p.Across + p.Across + g.Contact
	case Tapped:
		return g.Contact + p.Across + g.Press + p.Across + g.Contact
	}
	return g.Contact + " " + g.LeverUp + " " + g.Contact
}

// pen is what a wire is drawn with.
type pen struct {
	theme.Wires
	style *lipgloss.Style
}

// pen returns what to draw a wire with; ok is false where it is not yet there.
func (d Circuit) pen(wire int, t *theme.Theme) (p pen, ok bool) {
	loop, branch := d.carries()
	live := loop
	if wire == wireMovementShunt || wire == wireShuntK2 || wire == wireK2Movement {
		live = branch
	}
	switch {
	case live:
		return pen{t.Signs.Live, &t.Live}, true
	case d.laid(wire):
		return pen{t.Signs.Idle, &t.Idle}, true
	case wire == d.Laid:
		return pen{t.Signs.Next, &t.Value}, true
	}
	return pen{t.Signs.Idle, &t.Idle}, false
}

func (d Circuit) draw(f form, t *theme.Theme) []string {
	c := NewCanvas(f.w, f.h, t.Signs.Grain)
	k2 := f.node + (f.right-f.node-5)/2 + 1
	middle := (f.top + f.bottom) / 2
	ringTop, ringBottom := middle, middle
	if f.ring {
		ringTop, ringBottom = middle-1, middle+1
	}
	rl, rr := d.box(c, f, f.left, f.node, "R", d.Series, SeriesBox, wireK1Series, wireSeriesMovement, t)
	sl, sr := d.box(c, f, f.node, f.right, "S", d.Shunt, ShuntBox, wireMovementShunt, wireShuntK2, t)

	if p, ok := d.pen(wireSourceK1, t); ok {
		c.Across(f.k1+5, f.plate-1, f.bottom, p.Across, p.style)
	}
	if p, ok := d.pen(wireK1Series, t); ok {
		c.Across(f.left+1, f.k1-1, f.bottom, p.Across, p.style)
		c.Put(f.left, f.bottom, p.LowLeft, p.style)
		c.Down(f.left, f.top+1, f.bottom-1, p.Down, p.style)
		c.Put(f.left, f.top, p.TopLeft, p.style)
		c.Across(f.left+1, rl-1, f.top, p.Across, p.style)
	}
	if p, ok := d.pen(wireSeriesMovement, t); ok {
		c.Across(rr+1, f.node-1, f.top, p.Across, p.style)
		c.Put(f.node, f.top, p.TopRight, p.style)
		c.Down(f.node, f.top+1, ringTop-1, p.Down, p.style)
	}
	if p, ok := d.pen(wireMovementShunt, t); ok {
		c.Across(f.node+1, sl-1, f.top, p.Across, p.style)
		d.joint(c, f.node, f.top, wireSeriesMovement, t)
	}
	if p, ok := d.pen(wireShuntK2, t); ok {
		c.Across(sr+1, f.right-1, f.top, p.Across, p.style)
		c.Put(f.right, f.top, p.TopRight, p.style)
		c.Down(f.right, f.top+1, f.bottom-1, p.Down, p.style)
		c.Put(f.right, f.bottom, p.LowRight, p.style)
		c.Across(k2+5, f.right-1, f.bottom, p.Across, p.style)
	}
	if p, ok := d.pen(wireK2Movement, t); ok {
		c.Across(f.node+1, k2-1, f.bottom, p.Across, p.style)
		c.Put(f.node, f.bottom, p.LowLeft, p.style)
		c.Down(f.node, ringBottom+1, f.bottom-1, p.Down, p.style)
	}
	if p, ok := d.pen(wireMovementSource, t); ok {
		c.Across(f.plate+2, f.node-1, f.bottom, p.Across, p.style)
		if d.laid(wireMovementSource) { // until then it is the branch's
			c.Down(f.node, ringBottom+1, f.bottom-1, p.Down, p.style)
		}
		d.joint(c, f.node, f.bottom, wireMovementSource, t)
	}

	d.source(c, f, t)
	d.movement(c, f, middle, t)
	d.key(c, f, f.k1, "K1", d.K1, KeyK1, t)
	d.key(c, f, k2, "K2", d.K2, KeyK2, t)
	return c.Lines()
}

// below is the wire that is at the lower end of the galvanometer: the last lead,
// or the branch's until that is laid.
func (d Circuit) below() int {
	if d.laid(wireK2Movement) && !d.laid(wireMovementSource) {
		return wireK2Movement
	}
	return wireMovementSource
}

// joint marks where the branch meets the loop.
func (d Circuit) joint(c *Canvas, x, y, loop int, t *theme.Theme) {
	p, _ := d.pen(loop, t)
	c.Put(x, y, t.Signs.Joint, p.style)
}

// label returns text and the style to write it in: the part to be touched next
// stands between two signs.
func (d Circuit) label(text string, part Part, style *lipgloss.Style, t *theme.Theme) (string, *lipgloss.Style) {
	if d.Part != part || part == NoPart {
		return text, style
	}
	return t.Signs.Choice + text + t.Signs.ChoiceEnd, &t.Value
}

// box draws a resistance box in the upper wire between two columns and returns
// those of its sides; in and out are the wires on its left and right.
func (d Circuit) box(c *Canvas, f form, from, to int, name, value string, part Part, in, out int, t *theme.Theme) (left, right int) {
	loop, branch := d.carries()
	style := &t.Idle
	if loop && part == SeriesBox || branch && part == ShuntBox {
		style = &t.Live
	}
	text := name
	if value != "" {
		text += " " + t.Signs.Say(value)
	}
	room := to - from - 5 // a cell of wire and the sides
	if d.Part == part {
		room -= 2
	}
	text = Cut(text, room, t.Signs.Dots)
	text, style = d.label(text, part, style, t)
	n := Width(text)
	if f.box {
		n = max(n, min(room, 11))
	}
	left = from + (to-from-n-1)/2
	right = left + n + 1
	inner := left + 1 + (n-Width(text))/2
	c.Put(inner, f.top, text, style)
	for side, wire := range map[int]int{left: in, right: out} {
		p, there := d.pen(wire, t)
		switch {
		case f.box && !there:
			c.Put(side, f.top, p.Down, style)
		case side == left:
			c.Put(side, f.top, p.Enter, style)
		default:
			c.Put(side, f.top, p.Leave, style)
		}
	}
	if f.box {
		s := t.Signs.Idle
		c.Put(left, f.top-1, s.TopLeft, style)
		c.Across(left+1, right-1, f.top-1, s.Across, style)
		c.Put(right, f.top-1, s.TopRight, style)
		c.Put(left, f.top+1, s.LowLeft, style)
		c.Across(left+1, right-1, f.top+1, s.Across, style)
		c.Put(right, f.top+1, s.LowRight, style)
	}
	return left, right
}

// source draws the cell: its long plate, the positive one, towards K1.
func (d Circuit) source(c *Canvas, f form, t *theme.Theme) {
	g := t.Signs
	loop, _ := d.carries()
	style := &t.Idle
	if loop {
		style = &t.Live
	}
	c.Down(f.plate, f.bottom-f.tall, f.bottom+f.tall, g.CellLong, style)
	c.Put(f.plate+1, f.bottom, g.CellShort, style)
	if p, _ := d.pen(wireSourceK1, t); d.laid(wireSourceK1) {
		c.Put(f.plate, f.bottom, p.IntoLong, style)
	}
	if p, _ := d.pen(wireMovementSource, t); d.laid(wireMovementSource) {
		c.Put(f.plate+1, f.bottom, p.FromShort, style)
	}
	c.Put(f.plate-1, f.bottom-1, "+", &t.Hint)
	text := "E"
	if d.Source != "" {
		text += " " + g.Say(d.Source)
	}
	text, ink := d.label(Cut(text, 9, g.Dots), Source, &t.Hint, t)
	x := f.plate
	if f.tall > 0 {
		x += 2 // beside the long plate
	}
	if d.Part == Source {
		x--
	}
	c.Put(x, f.bottom+1, text, ink)
}

// movement draws the galvanometer between the wires, on the given line.
func (d Circuit) movement(c *Canvas, f form, y int, t *theme.Theme) {
	g := t.Signs
	loop, _ := d.carries()
	style := &t.Idle
	if loop {
		style = &t.Live
	}
	x, side := f.node, 1
	if d.Part == Movement {
		style = &t.Value
	}
	if f.ring {
		side = 2
		p, q := t.Signs.Idle, t.Signs.Idle
		if pen, ok := d.pen(wireSeriesMovement, t); ok {
			p = pen.Wires
		} else {
			p.IntoThin = p.Across
		}
		if pen, ok := d.pen(d.below(), t); ok {
			q = pen.Wires
		} else {
			q.FromThin = q.Across
		}
		line := t.Signs.Idle.Across
		c.Put(x-2, y-1, g.RingTopLeft+line+p.IntoThin+line+g.RingTopRight, style)
		c.Put(x-2, y, t.Signs.Idle.Down, style)
		c.Put(x, y, "G", style)
		c.Put(x+2, y, t.Signs.Idle.Down, style)
		c.Put(x-2, y+1, g.RingLowLeft+line+q.FromThin+line+g.RingLowRight, style)
	} else {
		c.Put(x-1, y, "(G)", style)
	}
	if d.Part == Movement {
		c.Put(x-side-1, y, g.Choice, style)
		c.Put(x+side+1, y, g.ChoiceEnd, style)
	}
	c.Put(x+side+3, y, Cut(g.Say(d.Movement), f.right-x-side-4, g.Dots), &t.Hint)
}

// key draws a key lying in the lower wire, with its name and its state below
// it.
func (d Circuit) key(c *Canvas, f form, x int, name string, state Key, part Part, t *theme.Theme) {
	p := pen{t.Signs.Idle, &t.Idle}
	if loop, branch := d.carries(); loop && part == KeyK1 || branch && part == KeyK2 {
		p = pen{t.Signs.Live, &t.Live}
	}
	c.Put(x, f.bottom, state.lever(p, t), p.style)
	text, ink := d.label(name+" "+state.word(), part, &t.Hint, t)
	at := x - 1
	if d.Part == part {
		at--
	}
	c.Put(at, f.bottom+1, text, ink)
}

// Describe says in words how the circuit stands.
func (d Circuit) Describe() string {
	var said []string
	say := func(format string, a ...any) { said = append(said, fmt.Sprintf(format, a...)) }
	if d.Building && !d.complete() {
		names := Wires()
		n := max(d.Laid, 0)
		say("Wires laid: %d of %d. Next: %s.", n, wires, names[n])
	} else {
		say("Source, K1, series box and galvanometer in one loop; shunt box and K2 across the galvanometer.")
	}
	for _, e := range [][2]string{{"E", d.Source}, {"R", d.Series}, {"S", d.Shunt}, {"G", d.Movement}} {
		if e[1] != "" {
			say("%s is %s.", e[0], e[1])
		}
	}
	say("K1 is %s, K2 is %s.", d.K1.word(), d.K2.word())
	switch loop, branch := d.carries(); {
	case branch:
		say("Current flows in the loop, and part of it through the shunt.")
	case loop:
		say("Current flows in the loop, none through the shunt.")
	default:
		say("No current flows.")
	}
	if d.Part > NoPart && d.Part <= Source {
		say("Next to be touched: %s.", [...]string{"", "the series box", "the shunt box", "the galvanometer", "K1", "K2", "the source"}[d.Part])
	}
	return strings.Join(said, " ")
}
