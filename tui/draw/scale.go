package draw

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"example.org/halve/tui/theme"
)

// Scale is the scale of the galvanometer, or a piece of it seen close to.
// Readings are in divisions, negative to the left of a centre zero.
type Scale struct {
	Lo, Hi float64 // the piece that is shown
	// StopLo and StopHi are the last marks at either end; the stops lie a
	// little beyond them. Outside the piece they are not drawn.
	StopLo, StopHi float64
	Expect         *Interval // where the needle is expected
	Wanted         *float64  // the reading to aim at
	// Needle is where the needle is, or would be. Beyond a last mark it is
	// drawn there, as far as the stop.
	Needle       *float64
	NeedleBeyond int    // -1 or +1: against the stop at that end; Needle does not count then
	Caption      string // stands beside the needle
}

// Interval is a range of readings.
type Interval struct{ Lo, Hi float64 }

// ScaleHeight is the number of lines of a scale that is drawn straight, with
// everything on it.
const ScaleHeight = 4

// Whole returns the scale from stop to stop.
func Whole(divisions float64, centre bool) Scale {
	s := Scale{Hi: divisions, StopHi: divisions}
	if centre {
		s.Lo, s.StopLo = -divisions, -divisions
	}
	return s
}

// Close returns the same scale seen close to: half a dozen divisions about v.
func (s Scale) Close(v float64) Scale {
	const half = 3
	c := math.Round(v)
	c = math.Max(s.StopLo+half-1, math.Min(s.StopHi-half+1, c))
	s.Lo, s.Hi = c-half, c+half
	return s
}

// whole reports whether all of the scale is shown.
func (s Scale) whole() bool { return s.Lo == s.StopLo && s.Hi == s.StopHi }

// Stop returns where the needle is when it lies against the stop at the left
// end (side below 0) or the right one: a fortieth of the scale beyond its last
// mark (a choice of drawing; no instrument states it).
func (s Scale) Stop(side int) float64 {
	beyond := (s.StopHi - s.StopLo) / 40
	if side < 0 {
		return s.StopLo - beyond
	}
	return s.StopHi + beyond
}

// rests returns where the needle is drawn; ok is false where there is none.
func (s Scale) rests() (v float64, ok bool) {
	if s.NeedleBeyond != 0 {
		return s.Stop(s.NeedleBeyond), true
	}
	if s.Needle == nil || math.IsNaN(*s.Needle) {
		return 0, false
	}
	v = math.Max(s.Stop(-1), math.Min(s.Stop(1), *s.Needle))
	return v, v >= s.Lo && v <= s.Hi || s.whole()
}

// expect returns the piece of the expected readings that is shown.
func (s Scale) expect() (lo, hi float64, ok bool) {
	if s.Expect == nil || !(s.Expect.Lo <= s.Expect.Hi) || s.Expect.Hi < s.Lo || s.Expect.Lo > s.Hi {
		return 0, 0, false
	}
	return math.Max(s.Expect.Lo, s.Lo), math.Min(s.Expect.Hi, s.Hi), true
}

// wanted returns the reading to aim at, if it is on the piece shown.
func (s Scale) wanted() (v float64, ok bool) {
	if s.Wanted == nil || !(*s.Wanted >= s.Lo && *s.Wanted <= s.Hi) {
		return 0, false
	}
	return *s.Wanted, true
}

// sound reports whether there is a scale at all: no instrument has more than a
// billion divisions, where counting by ones would no longer get on, and none is
// looked at closer than by a millionth of one.
func (s Scale) sound() bool {
	for _, v := range []float64{s.Lo, s.Hi, s.StopLo, s.StopHi} {
		if !(math.Abs(v) <= 1e9) {
			return false
		}
	}
	return s.Hi-s.Lo >= 1e-6
}

// Draw draws the scale at most w cells wide and h lines high: as an arc where
// there is the height and the width for one, else straight, with as many
// lines of it as there are. Every line of room that the form uses is there,
// whether something is drawn on it or not.
func (s Scale) Draw(w, h int, t *theme.Theme) []string {
	if arc, ok := s.arc(w, h, t); ok {
		return arc
	}
	return s.straight(w, h, t)
}

// spacing says which marks are drawn, for room units of length (of dots, or
// cells) from the first mark to the last: each division where they are at
// least apart, else each second, fifth or tenth, and so on.
func spacing(span, room, apart float64) (small float64) {
	small = 1
	for i := 0; span/small*apart > room && i < 60; i++ {
		small = math.Pow10(i/3) * [...]float64{2, 5, 10}[i%3]
	}
	return small
}

// large returns how many divisions there are from long mark to long mark.
func (s Scale) large(small float64) float64 {
	if s.Hi-s.Lo <= 12 {
		return small
	}
	switch strconv.FormatFloat(small, 'e', 0, 64)[0] {
	case '2':
		return 5 * small // of 10
	case '5':
		return 2 * small
	}
	return 5 * small
}

// numbered returns how many divisions there are from figure to figure, where
// a division is so many cells long: so many that figures do not touch, and
// that the last mark has one, if that leaves three of them.
func (s Scale) numbered(large, cells float64) float64 {
	const apart = 5
	for m := 1.0; m <= 6; m++ {
		if n := m * large; n*cells >= apart && math.Mod(s.StopHi, n) == 0 && n <= s.StopHi/2 {
			return n
		}
	}
	n := large
	for i := 0; n*cells < apart && i < 60; i++ {
		n *= 2
	}
	return n
}

// figure is what is written at a mark. Its first cell stands so far left of
// the mark: a sign hangs out.
func figure(d float64) (text string, left int) {
	text = strconv.FormatFloat(math.Abs(d), 'f', -1, 64)
	if d != 0 {
		left = len(text) / 2
	}
	if d < 0 {
		text, left = "−"+text, left+1
	}
	return text, left
}

// eachMark calls f for every mark that is shown.
func (s Scale) eachMark(small, large, number float64, f func(d float64, long, figured bool)) {
	if !(small > 0) || (s.Hi-s.Lo)/small > limit*2 {
		return
	}
	for i := math.Ceil(s.Lo / small); i*small <= s.Hi; i++ {
		d := i * small
		if d >= s.StopLo && d <= s.StopHi {
			f(d, math.Mod(d, large) == 0, math.Mod(d, number) == 0)
		}
	}
}

// straight draws the scale straight: figures, marks, what is expected and
// wanted with the needle over it, and the needle's foot with the caption. In
// three lines the foot is left out, in two the figures too; in one line the
// needle stands among the marks.
func (s Scale) straight(w, h int, t *theme.Theme) []string {
	h = min(max(h, 0), ScaleHeight)
	c := NewCanvas(w, h, t.Signs.Grain)
	if w < 8 || h == 0 || !s.sound() {
		return c.Lines()
	}
	r := newRuler(s, c, t)
	r.draw()
	if lo, hi, ok := s.expect(); ok {
		from, to := r.column(lo), r.column(hi)
		if to-from < 2 { // to be seen beside the needle
			from, to = max(from-1, r.column(s.Lo)), min(to+1, r.column(s.Hi))
		}
		c.Across(from, to, r.over, t.Signs.Band, &t.Band)
	}
	wanted, aims := s.wanted()
	if aims && h < ScaleHeight {
		c.Put(r.column(wanted), r.over, t.Signs.Wanted, &t.Value)
	}
	if v, ok := s.rests(); ok {
		r.needle(v)
	} else {
		c.Put(edge, max(r.foot, r.over), Cut(t.Signs.Say(s.Caption), c.w-edge, t.Signs.Dots), &t.Hint)
	}
	if h == ScaleHeight {
		if aims { // the needle's foot is below it
			c.Put(r.column(wanted), r.over, t.Signs.Wanted, &t.Value)
		}
		s.worth(c, r.small, t)
	}
	return c.Lines()
}

// edge is the number of columns beside the ends of a straight scale, for half
// a figure and the stop.
const edge = 3

// ruler is a scale laid straight on a canvas.
type ruler struct {
	Scale
	c *Canvas
	t *theme.Theme
	// fine is the number of places in a cell: marks and needle are drawn in
	// dots where a cell has two beside each other.
	fine         float64
	small, pitch float64 // divisions from mark to mark, and places to the division
	// The lines of the canvas; -1 for what is left out.
	figures, marks, over, foot int
	lowStop, highStop          int // the columns of the stops
}

func newRuler(s Scale, c *Canvas, t *theme.Theme) *ruler {
	r := &ruler{Scale: s, c: c, t: t, fine: 1, figures: 0, marks: 1, over: 2, foot: 3}
	if t.Signs.Grain == theme.Braille {
		r.fine = 2
	}
	switch c.h {
	case 3:
		r.foot = -1
	case 2:
		r.figures, r.marks, r.over, r.foot = -1, 0, 1, -1
	case 1:
		r.figures, r.marks, r.over, r.foot = -1, 0, 0, -1
	}
	span := s.Hi - s.Lo
	room := float64(c.w-2*edge)*r.fine - 1
	r.small = spacing(span, room, r.fine) // a blank dot between two marks
	// A whole number of places from mark to mark makes an even scale.
	r.pitch = math.Floor(room*r.small/span) / r.small
	if r.pitch == 0 {
		r.pitch = room / span
	}
	r.lowStop = r.column(math.Max(s.Lo, s.StopLo)) - 1
	r.highStop = r.column(math.Min(s.Hi, s.StopHi)) + 1
	return r
}

// place is the dot or cell of a reading, counted from the canvas's edge; one
// that is far outside is not much further out than the canvas goes.
func (r *ruler) place(v float64) int {
	const far = 4 * limit
	return edge*int(r.fine) + int(math.Round(math.Max(-far, math.Min(far, (v-r.Lo)*r.pitch))))
}

func (r *ruler) column(v float64) int { return r.place(v) / int(r.fine) }

// draw draws marks, figures and stops.
func (r *ruler) draw() {
	c, signs, ink := r.c, r.t.Signs, &r.t.Scale
	large := r.large(r.small)
	r.eachMark(r.small, large, r.numbered(large, r.pitch/r.fine), func(d float64, long, figured bool) {
		switch {
		case r.fine == 2:
			top := 2
			if figured {
				top = 0
			} else if long {
				top = 1
			}
			for y := top; y < 3; y++ {
				c.dot(r.place(d), r.marks*4+y, ink)
			}
		case d == 0:
			c.Put(r.column(d), r.marks, signs.MarkZero, ink)
		case long:
			c.Put(r.column(d), r.marks, signs.MarkLarge, ink)
		default:
			c.Put(r.column(d), r.marks, signs.MarkSmall, ink)
		}
		if figured {
			text, left := figure(d)
			c.Put(r.column(d)-left, r.figures, signs.Say(text), ink)
		}
	})
	if r.fine == 2 { // the line that the marks stand on
		for x := r.place(math.Max(r.Lo, r.StopLo)); x <= r.place(math.Min(r.Hi, r.StopHi)); x++ {
			c.dot(x, r.marks*4+3, ink)
		}
	}
	if r.StopLo >= r.Lo {
		c.Put(r.lowStop, r.marks, signs.StopLeft, ink)
	}
	if r.StopHi <= r.Hi {
		c.Put(r.highStop, r.marks, signs.StopRight, ink)
	}
}

// needle draws the needle at a reading, or at a stop.
func (r *ruler) needle(v float64) {
	c, signs, ink := r.c, r.t.Signs, &r.t.Needle
	at, stopped := r.column(v), true
	switch {
	case v < r.StopLo && r.whole():
		at = r.lowStop
	case v > r.StopHi && r.whole():
		at = r.highStop
	default:
		stopped = false
	}
	switch {
	case c.h <= 2:
		c.Put(at, r.over, signs.Needle, ink)
	case r.fine == 2 && !stopped:
		for y := range 4 {
			c.dot(r.place(v), r.over*4+y, ink)
		}
	default:
		c.Put(at, r.over, signs.MarkLarge, ink)
	}
	if r.foot >= 0 {
		c.Put(at, r.foot, signs.Needle, ink)
	}
	if c.h > 1 {
		r.caption(c, at, max(r.foot, r.over), r.t)
	}
}

// worth says what a mark is worth where not each division has one.
func (s Scale) worth(c *Canvas, small float64, t *theme.Theme) {
	if small == 1 {
		return
	}
	text := fmt.Sprintf("a mark is %g div", small)
	for _, x := range []int{1, c.w - len(text) - 1} {
		if c.Free(x-1, c.h-1, len(text)+2) {
			c.Put(x, c.h-1, text, &t.Hint)
			return
		}
	}
}

// caption writes the caption beside the needle, on its right if there is room.
func (s Scale) caption(c *Canvas, x, y int, t *theme.Theme) {
	text := t.Signs.Say(s.Caption)
	if n := Width(text); x+2+n <= c.w || x < n/2 {
		c.Put(x+2, y, Cut(text, c.w-x-2, t.Signs.Dots), &t.Needle)
		return
	}
	text = Cut(text, x-1, t.Signs.Dots)
	c.Put(x-1-Width(text), y, text, &t.Needle)
}

// The least room of an arc, in cells.
const (
	arcWidth  = 34
	arcHeight = 8
)

// arc draws the scale as the face of the instrument: the arc with its marks
// and figures, the needle from below, its pivot where it is on the picture.
func (s Scale) arc(w, h int, t *theme.Theme) ([]string, bool) {
	if w < arcWidth || h < arcHeight || !s.whole() || !s.sound() {
		return nil, false
	}
	// Lengths are in widths of a cell, which is twice as high as wide (common
	// practice, no source).
	const (
		top    = 2.0                // lines above the arc: figures, and marks
		under  = 3.0                // lines below its ends: needle, and caption
		side   = 5.0                // columns beside its ends
		steep  = 38 * math.Pi / 180 // the most that the needle turns from the middle
		square = 2.0                // height of a cell
	)
	w = min(w, limit)
	half := (float64(w)-1)/2 - side
	deep := math.Min(square*(float64(h)-top-under), half*math.Tan(steep/2))
	h = int(math.Ceil(top + under + deep/square))
	// The chord is 2 half, the arc deep above it.
	radius := (half*half + deep*deep) / (2 * deep)
	turn := math.Asin(half / radius)
	lo, hi := s.Stop(-1), s.Stop(1)
	x0, y0 := (float64(w)-1)/2+0.5, top+radius/square
	angle := func(v float64) float64 { return turn * (2*(v-lo)/(hi-lo) - 1) }
	// at is the place at a reading, so far outside the arc.
	at := func(v, out float64) (x, y float64) {
		sin, cos := math.Sincos(angle(v))
		return x0 + (radius+out)*sin, y0 - (radius+out)*cos/square
	}
	c := NewCanvas(w, h, t.Signs.Grain)
	across, _ := dots(t.Signs.Grain)
	ink := &t.Scale

	length := 2 * turn * radius * (s.Hi - s.Lo) / (hi - lo)
	small := spacing(s.Hi-s.Lo, length*float64(across), 2)
	large := s.large(small)
	number := s.numbered(large, length/(s.Hi-s.Lo))
	steps := 2 * length * float64(across)
	for i := 0.0; i <= steps; i++ {
		x, y := at(s.Lo+(s.Hi-s.Lo)*i/steps, 0)
		c.Dot(x, y, ink)
	}
	s.eachMark(small, large, number, func(d float64, long, figured bool) {
		out, sign := 0.8, t.Signs.MarkSmall
		if long {
			out, sign = 1.4, t.Signs.MarkLarge
		}
		if figured {
			out = 2
		}
		if d == 0 {
			out, sign = 2.4, t.Signs.MarkZero
		}
		x, y := at(d, 0)
		if t.Signs.Grain == theme.Braille {
			c.Line(x, y, x, y-out/square, ink) // upright: on a flat arc leaning marks look ragged
		} else {
			c.Put(int(x), int(y)-1, sign, ink)
		}
		if figured {
			text, left := figure(d)
			x, y := at(d, 3.4)
			aside := math.Sin(angle(d)) * (float64(Width(text))/2 + 1) // its near end stands at the mark
			c.Put(int(math.Floor(x+aside))-left, int(y), t.Signs.Say(text), ink)
		}
	})
	for stop, sign := range map[float64]string{lo: t.Signs.StopLeft, hi: t.Signs.StopRight} {
		x, y := at(stop, 0)
		c.Put(int(x), int(y), sign, ink)
		c.Put(int(x), int(y)-1, sign, ink)
	}

	if lo, hi, ok := s.expect(); ok {
		// At least so wide that it is seen beside the needle.
		if least := 3 * (s.Hi - s.Lo) / length; hi-lo < least {
			lo, hi = math.Max(s.Lo, (lo+hi-least)/2), math.Min(s.Hi, (lo+hi+least)/2)
		}
		s.arcBand(c, at, lo, hi, math.Max(2*steps*(hi-lo)/(s.Hi-s.Lo), 1), t)
	}
	s.arcNeedle(c, at, x0, y0, t)
	if v, ok := s.wanted(); ok {
		x, y := at(v, -2.4)
		c.Put(int(x), int(y), t.Signs.Wanted, &t.Value)
	}
	s.worth(c, small, t)
	return c.Lines(), true
}

// arcBand shades a strip inside the arc, from lo to hi in so many steps.
func (s Scale) arcBand(c *Canvas, at func(v, out float64) (x, y float64), lo, hi, steps float64, t *theme.Theme) {
	for i := 0.0; i <= steps; i++ {
		v := lo + (hi-lo)*i/steps
		if t.Signs.Grain != theme.Braille {
			x, y := at(v, -2.4)
			c.Put(int(x), int(y), t.Signs.Band, &t.Band)
			continue
		}
		for out := -1.0; out > -3; out -= 0.25 {
			if x, y := at(v, out); (int(2*x)+int(4*y))%2 == 0 { // every other dot: no line looks like it
				c.Dot(x, y, &t.Band)
			}
		}
	}
}

// arcNeedle draws the needle from the pivot, or from the lower edge where the
// pivot lies below it, to the arc.
func (s Scale) arcNeedle(c *Canvas, at func(v, out float64) (x, y float64), x0, y0 float64, t *theme.Theme) {
	ink, last := &t.Needle, c.h-1 // the last line is the caption's
	foot := float64(last)
	if y0 < foot {
		foot = y0
		c.Put(int(x0), int(y0), t.Signs.Joint, &t.Scale)
	}
	v, ok := s.rests()
	if !ok {
		text := Cut(t.Signs.Say(s.Caption), c.w, t.Signs.Dots)
		c.Put((c.w-Width(text))/2, last, text, &t.Hint)
		return
	}
	x, y := at(v, -0.6)
	slope := (x0 - x) / (y0 - y) // columns to the line
	if t.Signs.Grain == theme.Braille {
		footX := x + slope*(foot-y)
		for _, broad := range []float64{0, 0.5} { // two dots
			c.Line(x+broad, y, footX+broad, foot-0.01, ink)
		}
	} else {
		sign := t.Signs.Idle.Down
		if slope > 0.4 {
			sign = "\\"
		} else if slope < -0.4 {
			sign = "/"
		}
		for line := int(y + 0.5); float64(line) < foot; line++ {
			c.Put(int(x+slope*(float64(line)+0.5-y)), line, sign, ink)
		}
	}
	under := int(x + slope*(float64(last)-y))
	if foot < float64(last) {
		under = int(x0)
	}
	c.Put(under, last, t.Signs.Needle, ink)
	s.caption(c, under, last, t)
}

// Describe says in words what the scale shows.
func (s Scale) Describe() string {
	var said []string
	if !s.sound() {
		return "The scale is not known."
	}
	if s.StopLo < 0 {
		said = append(said, fmt.Sprintf("Scale from %s to %s divisions, zero in the middle.", said1(s.StopLo), said1(s.StopHi)))
	} else {
		said = append(said, fmt.Sprintf("Scale from 0 to %s divisions, zero at the left.", said1(s.StopHi)))
	}
	v, ok := s.rests()
	switch {
	case ok && v > s.StopHi:
		said = append(said, "The needle is off the scale, against the stop at the right end.")
	case ok && v < s.StopLo:
		said = append(said, "The needle is off the scale, against the stop at the left end.")
	case ok:
		said = append(said, fmt.Sprintf("The needle is at %s.", said1(v)))
	}
	if e := s.Expect; e != nil && e.Lo <= e.Hi && finite(e.Lo) && finite(e.Hi) {
		said = append(said, fmt.Sprintf("Expected between %s and %s.", said1(e.Lo), said1(e.Hi)))
	}
	if v, ok := s.wanted(); ok {
		said = append(said, fmt.Sprintf("Aim at %s.", said1(v)))
	}
	return strings.Join(said, " ")
}

// said1 writes a reading for the ear, to a tenth of a division.
func said1(v float64) string {
	text := strconv.FormatFloat(math.Abs(v), 'f', 1, 64)
	text = strings.TrimSuffix(text, ".0")
	if v < 0 && text != "0" {
		return "minus " + text
	}
	return text
}
