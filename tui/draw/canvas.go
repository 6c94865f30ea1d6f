// Package draw makes pictures and blocks of lines out of characters: the
// scale of the galvanometer, the circuit, the graphs of the rows, text set to
// a width. Everything in it is a pure function of its arguments and total: any
// size and any number is taken, down to nothing and NaN. Each drawing can also
// say in words what it shows.
//
// The canvas is our own. A chart library was tried for the graphs; fed with a
// NaN it never came back, at a width of one cell it panicked, its figures
// rounded 10⁻⁶ to 0, and it had no scale, no circuit and no ASCII to offer, so
// that this canvas would have stood beside it all the same.
package draw

import (
	"math"
	"slices"
	"strings"

	"github.com/charmbracelet/lipgloss"
	"github.com/mattn/go-runewidth"

	"example.org/halve/tui/theme"
)

// limit is the most columns and the most lines a canvas has.
const limit = 1024

// Canvas is a grid of cells to draw on, with characters and, finer, with dots.
// What falls outside is not drawn, nor is what is not finite. In a cell the
// later character or dot takes the place of the earlier character.
//
// Places are counted in cells from the top left corner: dot (2.5, 0.25) is in
// the middle of the third cell of the first line, a quarter of its height
// from the top.
type Canvas struct {
	w, h   int
	grain  theme.Grain
	cells  []cell
	styles []*lipgloss.Style // those in use
}

// cell is kept small: a screenful of them is made for every frame.
type cell struct {
	sign  rune   // one cell wide; 0 for none
	dots  uint8  // where there is no sign: bit across + columns·down
	style uint16 // its place among the styles
}

// NewCanvas returns a blank canvas. A negative size counts as nothing, and
// there are at most 1,024 columns and lines.
func NewCanvas(w, h int, grain theme.Grain) *Canvas {
	w, h = min(max(w, 0), limit), min(max(h, 0), limit)
	return &Canvas{w: w, h: h, grain: grain, cells: make([]cell, w*h)}
}

// style returns the place of a style among those in use.
func (c *Canvas) style(s *lipgloss.Style) uint16 {
	i := slices.Index(c.styles, s)
	if i < 0 && len(c.styles) <= math.MaxUint16 {
		i = len(c.styles)
		c.styles = append(c.styles, s)
	}
	return uint16(max(i, 0))
}

// dots returns how many dots a cell has across and down.
func dots(g theme.Grain) (across, down int) {
	switch g {
	case theme.Halves:
		return 1, 2
	case theme.Strokes:
		return 1, 3
	}
	return 2, 4
}

// Put writes text from column x of line y, a character a cell; for one that is
// not one cell wide there is a question mark.
func (c *Canvas) Put(x, y int, text string, style *lipgloss.Style) {
	if y < 0 || y >= c.h {
		return
	}
	narrow, in := runewidth.Condition{}, c.style(style)
	for _, r := range text {
		if x >= 0 && x < c.w {
			if r < ' ' || r > '~' && narrow.RuneWidth(r) != 1 {
				r = '?'
			}
			c.cells[y*c.w+x] = cell{sign: r, style: in}
		}
		x++
	}
}

// Across draws sign from column x0 to x1 of line y, both included.
func (c *Canvas) Across(x0, x1, y int, sign string, style *lipgloss.Style) {
	for x := max(x0, 0); x <= min(x1, c.w-1); x++ {
		c.Put(x, y, sign, style)
	}
}

// Down draws sign from line y0 to y1 of column x, both included.
func (c *Canvas) Down(x, y0, y1 int, sign string, style *lipgloss.Style) {
	for y := max(y0, 0); y <= min(y1, c.h-1); y++ {
		c.Put(x, y, sign, style)
	}
}

// Free reports whether nothing is drawn in w cells from column x of line y,
// all of them on the canvas.
func (c *Canvas) Free(x, y, w int) bool {
	if y < 0 || y >= c.h || x < 0 || x+w > c.w {
		return false
	}
	for _, cell := range c.cells[y*c.w+x : y*c.w+x+w] {
		if cell.sign != 0 || cell.dots != 0 {
			return false
		}
	}
	return true
}

// Dot draws the dot nearest to (x, y).
func (c *Canvas) Dot(x, y float64, style *lipgloss.Style) {
	if !(x >= 0 && x < float64(c.w) && y >= 0 && y < float64(c.h)) {
		return
	}
	across, down := dots(c.grain)
	c.dot(int(x*float64(across)), int(y*float64(down)), style)
}

// dot draws the dot of the given column and line of dots.
func (c *Canvas) dot(column, line int, style *lipgloss.Style) {
	across, down := dots(c.grain)
	if column < 0 || line < 0 || column >= c.w*across || line >= c.h*down {
		return
	}
	p := &c.cells[line/down*c.w+column/across]
	p.sign, p.style = 0, c.style(style)
	p.dots |= 1 << (column%across + across*(line%down))
}

// Line draws a straight line of dots. Ends further than 10⁹ cells away are
// drawn as if they were there.
func (c *Canvas) Line(x0, y0, x1, y1 float64, style *lipgloss.Style) {
	const far = 1e9
	for _, v := range []*float64{&x0, &y0, &x1, &y1} {
		if math.IsNaN(*v) || math.IsInf(*v, 0) {
			return
		}
		*v = math.Max(-far, math.Min(far, *v))
	}
	// What lies on the canvas is from t0 to t1 of the line.
	t0, t1 := 0.0, 1.0
	for _, side := range [][2]float64{
		{x0 - x1, x0}, {x1 - x0, float64(c.w) - x0}, {y0 - y1, y0}, {y1 - y0, float64(c.h) - y0},
	} {
		switch slope, room := side[0], side[1]; {
		case slope == 0 && room < 0:
			return
		case slope < 0:
			t0 = math.Max(t0, room/slope)
		case slope > 0:
			t1 = math.Min(t1, room/slope)
		}
	}
	if t0 > t1 {
		return
	}
	across, down := dots(c.grain)
	dx, dy := x1-x0, y1-y0
	n := math.Ceil((t1 - t0) * math.Max(math.Abs(dx)*float64(across), math.Abs(dy)*float64(down)))
	at := func(t float64) { c.Dot(x0+t*dx, y0+t*dy, style) }
	at(t0)
	for i := 0.5; i < n; i++ { // the middle of each dot
		at(t0 + (t1-t0)*i/n)
	}
	at(t1)
}

// strokes are the ASCII characters for dots at three heights: bit 0 is the
// highest.
const strokes = " '-'_:.|"

// char is what a cell shows.
func (c *Canvas) char(p cell) rune {
	switch {
	case p.sign != 0:
		return p.sign
	case p.dots == 0:
		return ' '
	}
	switch c.grain {
	case theme.Halves:
		return []rune(" ▀▄█")[p.dots&3]
	case theme.Strokes:
		return rune(strokes[p.dots&7])
	}
	// Braille counts the upper three lines of its left column, then of its
	// right one, then the lowest line (Unicode, 28xx).
	var pattern rune
	for i, bit := range [8]rune{0x01, 0x08, 0x02, 0x10, 0x04, 0x20, 0x40, 0x80} {
		if p.dots&(1<<i) != 0 {
			pattern |= bit
		}
	}
	return 0x2800 + pattern
}

// Lines returns the drawing, each line without blanks at its end.
func (c *Canvas) Lines() []string {
	lines := make([]string, c.h)
	inks := make([]ink, len(c.styles))
	for i, style := range c.styles {
		inks[i] = inkOf(style)
	}
	var line strings.Builder
	for y := range c.h {
		row := c.cells[y*c.w : (y+1)*c.w]
		line.Reset()
		var in ink // what the line is written in at this place
		blanks := 0
		for _, p := range row {
			char := c.char(p)
			if char == ' ' {
				blanks++
				continue
			}
			next := inks[p.style]
			// Blanks between two of a kind are written in it: fewer codes.
			if next == in {
				writeBlanks(&line, blanks)
			} else {
				line.WriteString(in.end)
				writeBlanks(&line, blanks)
				line.WriteString(next.begin)
				in = next
			}
			blanks = 0
			line.WriteRune(char)
		}
		line.WriteString(in.end)
		lines[y] = line.String()
	}
	return lines
}

func writeBlanks(b *strings.Builder, n int) {
	for range n {
		b.WriteByte(' ')
	}
}

// ink is what a style writes before and after a text.
type ink struct{ begin, end string }

// inkOf takes a style apart: to let it render each run would cost most of the
// time of a drawing.
func inkOf(style *lipgloss.Style) ink {
	if style == nil {
		return ink{}
	}
	const probe = "x"
	begin, end, _ := strings.Cut(style.Render(probe), probe)
	return ink{begin, end}
}
