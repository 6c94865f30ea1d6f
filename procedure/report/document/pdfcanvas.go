package document

import (
	"image"
	"image/color"
	"math"

	"golang.org/x/image/font"
	plotfont "gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// canvas draws a figure on a page. Its origin is the figure's lower left.
// (The plotting library's own PDF canvas makes whole files, in a Western code
// page that has no Greek.)
type canvas struct {
	p     *printer
	now   state
	stack []state
}

// state is what Push keeps: the transform x' = ax + cy + e, y' = bx + dy + f to
// points from the page's upper left, and the pen.
type state struct {
	a, b, c, d, e, f float64
	turn             float64 // of text, degrees counter-clockwise
	width            float64
	dash             []float64
	phase            float64
	color            color.Color
}

var _ vg.Canvas = (*canvas)(nil)

func newCanvas(p *printer, x, y float64) *canvas {
	c := &canvas{p: p, now: state{a: 1, d: -1, e: x, f: y}}
	vg.Initialize(c)
	return c
}

func (c *canvas) at(p vg.Point) (x, y float64) {
	px, py := p.X.Points(), p.Y.Points()
	s := &c.now
	return s.a*px + s.c*py + s.e, s.b*px + s.d*py + s.f
}

// scale is by how much lengths grow.
func (c *canvas) scale() float64 { return math.Sqrt(math.Abs(c.now.a*c.now.d - c.now.b*c.now.c)) }

func (c *canvas) SetLineWidth(w vg.Length) { c.now.width = w.Points() }

func (c *canvas) SetLineDash(pattern []vg.Length, offset vg.Length) {
	c.now.dash = make([]float64, len(pattern))
	for i, d := range pattern {
		c.now.dash[i] = d.Points()
	}
	c.now.phase = offset.Points()
}

func (c *canvas) SetColor(ink color.Color) { c.now.color = ink }

func (c *canvas) Rotate(rad float64) {
	s, sin, cos := c.now, math.Sin(rad), math.Cos(rad)
	c.now.a, c.now.b = s.a*cos+s.c*sin, s.b*cos+s.d*sin
	c.now.c, c.now.d = s.c*cos-s.a*sin, s.d*cos-s.b*sin
	c.now.turn += rad * 180 / math.Pi
}

func (c *canvas) Translate(p vg.Point) { c.now.e, c.now.f = c.at(p) }

func (c *canvas) Scale(x, y float64) {
	c.now.a, c.now.b = c.now.a*x, c.now.b*x
	c.now.c, c.now.d = c.now.c*y, c.now.d*y
}

func (c *canvas) Push() { c.stack = append(c.stack, c.now) }

func (c *canvas) Pop() {
	c.now = c.stack[len(c.stack)-1]
	c.stack = c.stack[:len(c.stack)-1]
}

func (c *canvas) Stroke(path vg.Path) {
	if c.now.width <= 0 {
		return
	}
	r, g, b := parts(c.now.color)
	c.p.f.SetDrawColor(r, g, b)
	c.p.f.SetLineWidth(c.now.width * c.scale())
	c.p.f.SetDashPattern(c.now.dash, c.now.phase)
	c.trace(path)
	c.p.f.DrawPath("D")
	c.p.f.SetDashPattern(nil, 0)
}

func (c *canvas) Fill(path vg.Path) {
	r, g, b := parts(c.now.color)
	c.p.f.SetFillColor(r, g, b)
	c.trace(path)
	c.p.f.DrawPath("F")
}

// trace builds a path. Arcs become cubic curves of at most a quarter turn,
// which are off by less than 3e-4 of the radius (common practice, no source).
func (c *canvas) trace(path vg.Path) {
	f := c.p.f
	begun := false
	var here vg.Point
	for _, comp := range path {
		switch comp.Type {
		case vg.MoveComp:
			f.MoveTo(c.at(comp.Pos))
			here, begun = comp.Pos, true
		case vg.LineComp:
			f.LineTo(c.at(comp.Pos))
			here = comp.Pos
		case vg.ArcComp:
			on := func(angle float64) vg.Point {
				sin, cos := math.Sincos(angle)
				return vg.Point{X: comp.Pos.X + comp.Radius*vg.Length(cos), Y: comp.Pos.Y + comp.Radius*vg.Length(sin)}
			}
			if x, y := c.at(on(comp.Start)); begun {
				f.LineTo(x, y)
			} else {
				f.MoveTo(x, y)
				begun = true
			}
			n := int(math.Ceil(math.Abs(comp.Angle)/(math.Pi/2) - 1e-9))
			for i := range n {
				from := comp.Start + comp.Angle*float64(i)/float64(n)
				to := comp.Start + comp.Angle*float64(i+1)/float64(n)
				reach := comp.Radius * vg.Length(4.0/3*math.Tan((to-from)/4))
				a, b := on(from), on(to)
				sa, ca := math.Sincos(from)
				sb, cb := math.Sincos(to)
				c.curve(vg.Point{X: a.X - reach*vg.Length(sa), Y: a.Y + reach*vg.Length(ca)},
					vg.Point{X: b.X + reach*vg.Length(sb), Y: b.Y - reach*vg.Length(cb)}, b)
				here = b
			}
		case vg.CurveComp:
			switch len(comp.Control) {
			case 1: // a quadratic as the cubic that it is
				q := comp.Control[0]
				toward := func(p vg.Point) vg.Point {
					return vg.Point{X: p.X + (q.X-p.X)*2/3, Y: p.Y + (q.Y-p.Y)*2/3}
				}
				c.curve(toward(here), toward(comp.Pos), comp.Pos)
			case 2:
				c.curve(comp.Control[0], comp.Control[1], comp.Pos)
			}
			here = comp.Pos
		case vg.CloseComp:
			f.ClosePath()
		}
	}
}

func (c *canvas) curve(p, q, to vg.Point) {
	px, py := c.at(p)
	qx, qy := c.at(q)
	x, y := c.at(to)
	c.p.f.CurveBezierCubicTo(px, py, qx, qy, x, y)
}

func (c *canvas) FillString(fnt plotfont.Face, at vg.Point, text string) {
	if fnt.Font.Size == 0 {
		return
	}
	f := sans
	bold := fnt.Font.Weight == font.WeightBold
	switch {
	case fnt.Font.Style == font.StyleItalic:
		f = serifItalic
	case fnt.Font.Variant != "Sans" && bold:
		f = serifBold
	case fnt.Font.Variant != "Sans":
		f = serif
	case bold:
		f = sansBold
	}
	r, g, b := parts(c.now.color)
	out := c.p.f
	out.SetTextColor(r, g, b)
	out.SetFont(faceNames[f].family, faceNames[f].style, fnt.Font.Size.Points()*c.scale())
	x, y := c.at(at)
	text = c.p.m.shown(f, text)
	if c.now.turn == 0 {
		out.Text(x, y, text)
		return
	}
	out.TransformBegin()
	out.TransformRotate(c.now.turn, x, y)
	out.Text(x, y, text)
	out.TransformEnd()
}

// DrawImage draws nothing: figures are vectors.
func (c *canvas) DrawImage(vg.Rectangle, image.Image) {}
