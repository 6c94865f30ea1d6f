package report

import (
	"image/color"
	"math"

	stdfont "golang.org/x/image/font"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"example.org/halve/procedure"
	"example.org/halve/procedure/report/document"
)

// Figures are drawn at the size at which they are printed; on a phone they
// fill the width, at about the same scale.
const (
	figureWidth   = 360 * vg.Length(1)
	circuitHeight = 178 * vg.Length(1)
	graphHeight   = 230 * vg.Length(1)
	letterSize    = 10.5
	smallSize     = 9.5
)

// pen draws with a style set once.
type pen struct{ c vg.Canvas }

func (p pen) line(width float64, ink color.Color, xy ...float64) {
	var path vg.Path
	for i := 0; i+1 < len(xy); i += 2 {
		at := vg.Point{X: vg.Length(xy[i]), Y: vg.Length(xy[i+1])}
		if i == 0 {
			path.Move(at)
		} else {
			path.Line(at)
		}
	}
	p.c.SetColor(ink)
	p.c.SetLineWidth(vg.Length(width))
	p.c.Stroke(path)
}

func (p pen) ring(width float64, ink color.Color, x, y, r float64) {
	var path vg.Path
	path.Move(vg.Point{X: vg.Length(x + r), Y: vg.Length(y)})
	path.Arc(vg.Point{X: vg.Length(x), Y: vg.Length(y)}, vg.Length(r), 0, 2*math.Pi)
	path.Close()
	p.c.SetColor(ink)
	p.c.SetLineWidth(vg.Length(width))
	p.c.Stroke(path)
}

func (p pen) dot(ink color.Color, x, y, r float64) {
	var path vg.Path
	path.Move(vg.Point{X: vg.Length(x + r), Y: vg.Length(y)})
	path.Arc(vg.Point{X: vg.Length(x), Y: vg.Length(y)}, vg.Length(r), 0, 2*math.Pi)
	path.Close()
	p.c.SetColor(ink)
	p.c.Fill(path)
}

// sansFont and letterFont are those of figures: upright for words, italic for
// quantities.
func sansFont(size float64) font.Font {
	return font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Length(size)}
}

func letterFont(size float64) font.Font {
	return font.Font{Typeface: "Liberation", Variant: "Serif", Style: stdfont.StyleItalic, Size: vg.Length(size)}
}

// write puts a text with its middle, left or right end (0, -1, 1) at x and its
// base line at y.
func (p pen) write(f font.Font, ink color.Color, x, y float64, align int, s string) {
	face := font.DefaultCache.Lookup(f, f.Size)
	w := face.Width(s).Points()
	x -= w * float64(align+1) / 2
	p.c.SetColor(ink)
	p.c.FillString(face, vg.Point{X: vg.Length(x), Y: vg.Length(y)}, s)
}

// circuit is the figure of the circuit with the values that are known.
func circuit(emf, series, shunt string) document.Figure {
	return document.Figure{
		Width: figureWidth, Height: circuitHeight,
		Caption: document.Rich("The circuit. K1 closes the loop, K2 puts the shunt box across the galvanometer."),
		Alt:     "Circuit diagram",
		Text: "One loop of the source, key K1, the series box R and the galvanometer G. " +
			"A branch of key K2 and the shunt box S lies across the two terminals of the galvanometer.",
		Plain: circuitText,
		Draw:  func(c vg.Canvas) { drawCircuit(pen{c}, emf, series, shunt) },
	}
}

// circuitText is the circuit in characters.
const circuitText = `
  +----o/ o----[ R ]----+--------+
  |     K1              |        |
  |                     |        o/  K2
 ===  E                 |        o
  =                    (G)       |
  |                     |      [ S ]
  |                     |        |
  +---------------------+--------+
`

func drawCircuit(p pen, emf, series, shunt string) {
	const (
		wire             = 1.1
		topY, bottomY    = 146.0, 24.0
		leftX, nodeX     = 46.0, 214.0
		branchX          = 284.0
		keyX             = 84.0 // K1's left contact
		boxX, boxW, boxH = 138.0, 48.0, 16.0
		cellY            = (topY + bottomY) / 2
		meterR           = 17.0
	)
	ink, soft, mark := document.Palette.Ink, document.Palette.Soft, document.Palette.Mark
	word := func(x, y float64, align int, s string) { p.write(sansFont(letterSize), ink, x, y, align, s) }
	small := func(x, y float64, align int, s string) { p.write(sansFont(smallSize), soft, x, y, align, s) }
	letter := func(x, y float64, align int, s string) { p.write(letterFont(12), ink, x, y, align, s) }
	key := func(x, y, dx, dy float64) { // an open key, its lever lifted
		p.ring(wire, ink, x, y, 2.2)
		p.ring(wire, ink, x+dx, y+dy, 2.2)
		p.line(1.4, mark, x+dx*0.08, y+dy*0.08, x+dx*0.88-dy*0.38, y+dy*0.88+dx*0.38)
	}
	// The loop, from the cell over K1 and R to the galvanometer and back.
	p.line(wire, ink, leftX, cellY+5, leftX, topY, keyX-2.2, topY)
	key(keyX, topY, 26, 0)
	p.line(wire, ink, keyX+28.2, topY, boxX, topY)
	p.line(wire, ink, boxX, topY-boxH/2, boxX+boxW, topY-boxH/2, boxX+boxW, topY+boxH/2, boxX, topY+boxH/2, boxX, topY-boxH/2)
	p.line(wire, ink, boxX+boxW, topY, branchX, topY)
	p.line(wire, ink, nodeX, topY, nodeX, cellY+meterR)
	p.ring(1.4, ink, nodeX, cellY, meterR)
	p.line(1.2, mark, nodeX-8, cellY-9, nodeX+7, cellY+10)
	p.line(wire, ink, nodeX, cellY-meterR, nodeX, bottomY)
	p.line(wire, ink, leftX, cellY-5, leftX, bottomY, branchX, bottomY)
	p.line(1.2, ink, leftX-11, cellY+5, leftX+11, cellY+5)
	p.line(3, ink, leftX-6, cellY-5, leftX+6, cellY-5)
	small(leftX+15, cellY+6, -1, "+")
	// The branch.
	const k2, boxTop, boxBottom = topY - 22.0, cellY + 4.0, cellY - 44.0
	p.line(wire, ink, branchX, topY, branchX, k2+2.2)
	key(branchX, k2, 0, -22)
	p.line(wire, ink, branchX, k2-24.2, branchX, boxTop)
	p.line(wire, ink, branchX-boxH/2, boxTop, branchX+boxH/2, boxTop, branchX+boxH/2, boxBottom, branchX-boxH/2, boxBottom, branchX-boxH/2, boxTop)
	p.line(wire, ink, branchX, boxBottom, branchX, bottomY)
	for _, y := range []float64{topY, bottomY} {
		p.dot(ink, nodeX, y, 2.2)
	}
	// Names and values.
	word(keyX+13, topY-15, 0, "K1")
	word(branchX+15, k2-14, -1, "K2")
	letter(boxX+boxW/2, topY+13, 0, "R")
	letter(nodeX-meterR-5, cellY-4, 1, "G")
	letter(branchX+boxH/2+5, (boxTop+boxBottom)/2-1, -1, "S")
	letter(leftX-15, cellY-4, 1, "E")
	if emf != "" {
		small(leftX+15, cellY-9, -1, emf)
	}
	if series != "" {
		small(boxX+boxW/2, topY-20, 0, series)
	}
	if shunt != "" {
		small(branchX+boxH/2+5, (boxTop+boxBottom)/2-13, -1, shunt)
	}
}

// graph is the figure of R against 1/θ; line gives R at 1/θ and is nil where
// there is none.
func graph(points []procedure.Plotted, line func(x float64) float64, caption []document.Span, said string) document.Figure {
	return document.Figure{
		Width: figureWidth, Height: graphHeight,
		Caption: caption,
		Alt:     "Graph of R against 1/θ",
		Text:    said,
		Draw:    func(c vg.Canvas) { drawGraph(c, points, line) },
	}
}

// bars is points with their uncertainty in 1/θ.
type bars struct {
	plotter.XYs
	plotter.XErrors
}

// scatter adds points to a plot, if there are any.
func scatter(p *plot.Plot, at plotter.XYs, shape draw.GlyphDrawer, of color.Color, size vg.Length) {
	if s, err := plotter.NewScatter(at); err == nil && len(at) > 0 {
		s.Shape, s.Color, s.Radius = shape, of, size
		p.Add(s)
	}
}

// outfit gives a plot the letters and lines of the report's graphs.
func outfit(p *plot.Plot, x, y string) {
	p.BackgroundColor = nil
	ink, soft, faint := document.Palette.Ink, document.Palette.Soft, document.Palette.Line
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Color, a.Label.TextStyle.Color, a.Tick.Color, a.Tick.Label.Color = ink, ink, ink, soft
		a.Label.TextStyle.Font, a.Tick.Label.Font = sansFont(letterSize), sansFont(smallSize)
		a.Label.TextStyle.Handler, a.Tick.Label.Handler = text.Plain{Fonts: font.DefaultCache}, text.Plain{Fonts: font.DefaultCache}
		a.LineStyle.Width, a.Tick.LineStyle.Width = 0.8, 0.6
		a.Padding, a.Tick.Length = 4, 4
		a.Label.Padding = 5
	}
	p.X.Label.Text, p.Y.Label.Text = x, y
	grid := plotter.NewGrid()
	grid.Horizontal.Color, grid.Vertical.Color = faint, faint
	grid.Horizontal.Width, grid.Vertical.Width = 0.3, 0.3
	p.Add(grid)
}

func drawGraph(c vg.Canvas, points []procedure.Plotted, line func(x float64) float64) {
	p := plot.New()
	ink, mark := document.Palette.Ink, document.Palette.Mark
	outfit(p, "1/θ  (1/div)", "R  (Ω)")

	var rows, others, struck plotter.XYs
	var spread bars
	low, high := math.Inf(1), math.Inf(-1)
	for _, pt := range points {
		low, high = math.Min(low, pt.X-pt.U), math.Max(high, pt.X+pt.U)
		at := plotter.XY{X: pt.X, Y: pt.Y}
		switch {
		case pt.Struck:
			struck = append(struck, at)
			continue
		case pt.Row > 0:
			rows = append(rows, at)
		default:
			others = append(others, at)
		}
		spread.XYs = append(spread.XYs, at)
		spread.XErrors = append(spread.XErrors, struct{ Low, High float64 }{pt.U, pt.U})
	}
	room := 0.06 * (high - low)
	if room == 0 {
		room = 0.1 * high
	}
	if line != nil {
		// Two points: the plot has no say in what a straight line is.
		l, err := plotter.NewLine(plotter.XYs{{X: low - room, Y: line(low - room)}, {X: high + room, Y: line(high + room)}})
		if err == nil {
			l.Color, l.Width = mark, 1.2
			p.Add(l)
		}
	}
	if e, err := plotter.NewXErrorBars(spread); err == nil && len(spread.XYs) > 0 {
		e.LineStyle.Color, e.LineStyle.Width, e.CapWidth = ink, 0.8, 4
		p.Add(e)
	}
	scatter(p, rows, draw.CircleGlyph{}, ink, 2.6)
	scatter(p, others, draw.RingGlyph{}, ink, 2.8)
	scatter(p, struck, draw.CrossGlyph{}, document.Palette.Warn, 4)
	if p.X.Min > low-room {
		p.X.Min = low - room
	}
	if p.X.Max < high+room {
		p.X.Max = high + room
	}
	if spanY := p.Y.Max - p.Y.Min; spanY < 1e-9*math.Abs(p.Y.Max) { // one value only
		p.Y.Min, p.Y.Max = p.Y.Min*0.9, p.Y.Max*1.1
	}
	p.Draw(draw.NewCanvas(c, figureWidth, graphHeight))
}
