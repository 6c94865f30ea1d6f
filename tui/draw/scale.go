package draw

import (
	"math"
	"strconv"

	"example.org/halve/tui/theme"
)

// Scale is the scale of the galvanometer, or a piece of it seen close to.
// Readings are in divisions, negative to the left of a centre zero.
type Scale struct {
	Lo, Hi       float64   // the piece that is shown
	StopLo       float64   // where the end stops are; outside the piece they
	StopHi       float64   // are not drawn
	Expect       *Interval // where the needle is expected
	Wanted       *float64  // the reading to aim at
	Needle       *float64  // where the needle is, or would be
	NeedleBeyond int       // -1 or +1: beyond that end, and Needle is nil
	Caption      string    // stands beside the needle
}

// Interval is a range of readings.
type Interval struct{ Lo, Hi float64 }

// ScaleHeight is the number of lines of a drawn scale.
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

// ruler maps readings to columns: a whole number of columns to the division,
// or a round number of divisions to the column, so that the marks are evenly
// spaced.
type ruler struct {
	lo, hi float64
	small  float64 // divisions from mark to mark
	per    float64 // columns per division
	width  int     // columns from lo to hi, both included
}

func newRuler(lo, hi float64, w int) ruler {
	span := hi - lo
	if !(span > 0) || w < 2 {
		return ruler{lo: lo, hi: hi, width: max(min(w, 1), 0)}
	}
	per, small := math.Floor(float64(w-1)/span), 1.0
	if per < 1 {
		for i := 0; span/small > float64(w-1); i++ {
			small = math.Pow10(i/3) * [...]float64{2, 5, 10}[i%3]
		}
		per = 1 / small
	}
	return ruler{lo, hi, small, per, int(math.Floor(span*per)) + 1}
}

// column returns the column of a reading, held between -1 and width, the
// places of the end stops.
func (r ruler) column(v float64) int {
	x := math.Round((v - r.lo) * r.per)
	return int(math.Max(-1, math.Min(float64(r.width), x)))
}

// steps returns how many divisions there are from long mark to long mark and
// from number to number.
func (r ruler) steps() (large, number float64) {
	large = 5 * r.small
	if r.hi-r.lo <= 12 {
		large = r.small
	}
	number = large
	for number*r.per < 5 {
		number *= 2
	}
	return large, number
}

// Draw draws the scale not more than w cells wide, ScaleHeight lines high.
func (s Scale) Draw(w int, t *theme.Theme) []string {
	const left, right = 2, 2 // the column of s.Lo, and what is left free after s.Hi
	c := NewCanvas(w, ScaleHeight)
	if w < 8 {
		return c.Lines()
	}
	r := newRuler(s.Lo, s.Hi, w-left-right)
	s.marks(c, r, left, t)
	if s.Expect != nil && s.Expect.Hi >= s.Lo && s.Expect.Lo <= s.Hi {
		lo, hi := r.column(s.Expect.Lo), r.column(s.Expect.Hi)
		c.Across(left+max(lo, 0), left+min(hi, r.width-1), 2, t.Signs.Band, &t.Band)
	}
	if s.Wanted != nil && *s.Wanted >= s.Lo && *s.Wanted <= s.Hi {
		c.Put(left+r.column(*s.Wanted), 2, t.Signs.Wanted, &t.Value)
	}
	s.needle(c, r, left, w, t)
	return c.Lines()
}

func (s Scale) marks(c *Canvas, r ruler, left int, t *theme.Theme) {
	if r.per <= 0 {
		return
	}
	large, number := r.steps()
	for d := math.Ceil(s.Lo/r.small) * r.small; d <= s.Hi; d += r.small {
		sign := t.Signs.MarkSmall
		switch {
		case d == 0:
			sign = t.Signs.MarkZero
		case math.Mod(d, large) == 0:
			sign = t.Signs.MarkLarge
		}
		if d < s.StopLo || d > s.StopHi {
			continue
		}
		x := left + r.column(d)
		c.Put(x, 1, sign, &t.Scale)
		if math.Mod(d, number) == 0 {
			label := strconv.FormatFloat(math.Abs(d), 'f', -1, 64)
			at := x - len(label)/2
			if d < 0 { // the sign hangs to the left
				label, at = "-"+label, at-1
			}
			c.Put(max(at, 0), 0, label, &t.Scale)
		}
	}
	if s.StopLo >= s.Lo {
		c.Put(left+r.column(s.StopLo)-1, 1, t.Signs.StopLeft, &t.Scale)
	}
	if s.StopHi <= s.Hi {
		c.Put(left+r.column(s.StopHi)+1, 1, t.Signs.StopRight, &t.Scale)
	}
}

func (s Scale) needle(c *Canvas, r ruler, left, w int, t *theme.Theme) {
	var x int
	switch {
	case s.NeedleBeyond < 0:
		x = left - 1
	case s.NeedleBeyond > 0:
		x = left + r.width
	case s.Needle != nil && !math.IsNaN(*s.Needle):
		x = left + r.column(*s.Needle)
	default:
		c.Put(left, 3, s.Caption, &t.Hint)
		return
	}
	c.Put(x, 3, t.Signs.Needle, &t.Needle)
	caption := []rune(s.Caption)
	at := x + 2
	if at+len(caption) > w {
		at = max(x-1-len(caption), 0)
		if len(caption) > x-1 {
			caption = caption[:max(x-1, 0)]
		}
	}
	c.Put(at, 3, string(caption), &t.Needle)
}
