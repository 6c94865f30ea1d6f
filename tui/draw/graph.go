package draw

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/charmbracelet/lipgloss"

	"example.org/halve/physics/quantity"
	"example.org/halve/tui/theme"
)

// Graph is points in a frame with figures, with or without a straight line
// and its band.
type Graph struct {
	Name   string // what is set against what
	Note   string // what follows from it, said with the words
	X, Y   Axis
	Points []Point
	// Line is the line fitted to the kept points, nil for none; where there
	// is none, Without may say why.
	Line    *Straight
	Without string
	// Levels are heights that are ruled across.
	Levels []float64
	// Kinds are the names of the kinds of points, in their order; an empty
	// one is named "row", "other" or "struck".
	Kinds [3]string
}

// Axis is what is set along a side of a graph.
type Axis struct {
	Symbol string // 1/θ
	Unit   quantity.Unit
	// Per says that the axis is in reciprocals of the unit: 1/Ω.
	Per bool
	// Least is the least span that is shown, so that points that are all
	// alike do not look scattered; it may be 0.
	Least float64
}

// Point is a point of a graph. One that is not finite is not drawn, nor is it
// counted.
type Point struct {
	X, Y float64
	UX   float64 // standard uncertainty of X; a bar of twice that is drawn to either side
	Name string  // written beside it where there is room: the number of the row
	Kind PointKind
}

// PointKind says what a point is; each has a sign of its own.
type PointKind int

// The kinds of points.
const (
	Kept   PointKind = iota // of a row
	Other                   // of a reading that is in no row
	Struck                  // of what is struck out: it does not count
)

// Straight is a fitted line y = Intercept + Slope x with the standard
// uncertainties of both and their correlation coefficient.
type Straight struct {
	Intercept, Slope   float64
	UIntercept, USlope float64
	Correlation        float64
}

// At returns the height of the line at x and its standard uncertainty:
// u² = u²(a) + x² u²(b) + 2 x r u(a) u(b) for y = a + b x (JCGM 100:2008,
// H.3.4).
func (s Straight) At(x float64) (y, u float64) {
	v := s.UIntercept*s.UIntercept + x*x*s.USlope*s.USlope + 2*x*s.Correlation*s.UIntercept*s.USlope
	return s.Intercept + s.Slope*x, math.Sqrt(math.Max(v, 0))
}

// wide is half the width of a band in standard uncertainties.
const wide = 2

// SeriesGraph sets R against 1/θ, the line that has k in its slope and
// −(G + r) where it meets the axis. The points' Y is R in ohm, their X is 1/θ
// per division.
func SeriesGraph(points []Point, line *Straight) Graph {
	return Graph{
		Name: "R against 1/θ",
		X:    Axis{Symbol: "1/θ", Unit: quantity.Division, Per: true}, Y: Axis{Symbol: "R", Unit: quantity.Ohm},
		Points: points, Line: line,
	}
}

// ShuntGraph sets 1/θ2 (per division) against 1/S (per ohm) for shunts tried
// at one series value: 1/θ2 = (1/θ1)(1 + P/S), with P = R′G/(R′ + G). It meets
// the axis at 1/θ1, and rises by P/θ1.
func ShuntGraph(points []Point, line *Straight) Graph {
	return Graph{
		Name: "1/θ2 against 1/S",
		X:    Axis{Symbol: "1/S", Unit: quantity.Ohm, Per: true}, Y: Axis{Symbol: "1/θ2", Unit: quantity.Division, Per: true},
		Points: points, Line: line,
	}
}

// ResidualGraph sets what each reading has over the fitted one, in its
// standard uncertainty, against its number. Kept points are first readings,
// Other points shunted ones. It is ruled at 0 and at ±2, between which 19 of
// 20 lie.
func ResidualGraph(points []Point) Graph {
	return Graph{
		Name: "residuals", X: Axis{Symbol: "reading"}, Y: Axis{Symbol: "(read - fitted)/u", Least: 6},
		Points: points, Levels: []float64{-2, 0, 2}, Kinds: [3]string{Kept: "first", Other: "shunted"},
	}
}

// points returns those that can be drawn.
func (g Graph) points() []Point {
	var ps []Point
	for _, p := range g.Points {
		if finite(p.X) && finite(p.Y) {
			if !finite(p.UX) || p.UX < 0 {
				p.UX = 0
			}
			ps = append(ps, p)
		}
	}
	return ps
}

// finite reports whether v is a number that can be drawn.
func finite(v float64) bool { return math.Abs(v) < 1e150 }

// kind names a kind of points.
func (g Graph) kind(k PointKind) string {
	if name := g.Kinds[k]; name != "" {
		return name
	}
	return [3]string{Kept: "row", Other: "other", Struck: "struck"}[k]
}

// line returns the line if all of it is finite.
func (g Graph) line() (Straight, bool) {
	l := g.Line
	if l == nil {
		return Straight{}, false
	}
	for _, v := range []float64{l.Intercept, l.Slope, l.UIntercept, l.USlope, l.Correlation} {
		if !finite(v) {
			return Straight{}, false
		}
	}
	return *l, true
}

// figures are the figures along an axis.
type figures struct {
	lo, hi float64 // what is shown
	step   float64 // from figure to figure
	unit   string  // in which they are written
	times  float64 // what one of it is in the axis's own unit
	places int     // decimals
}

// ranged returns the figures for values from lo to hi, at most n of them, with
// room around the values. Where all lie nearer to zero than to each other's
// span, zero is shown too.
func (a Axis) ranged(lo, hi float64, n int) figures {
	if lo > 0 && lo < hi/2 {
		lo = 0
	} else if hi < 0 && hi > lo/2 {
		hi = 0
	}
	// Points that are nearly alike are not drawn apart.
	span := max(hi-lo, a.Least, math.Abs(hi)/20, math.Abs(lo)/20, 1e-30)
	middle := lo/2 + hi/2
	lo, hi = math.Min(lo, middle-span/2), math.Max(hi, middle+span/2)
	step := niceStep((hi - lo) / float64(max(n-1, 1)))
	f := figures{lo: lo, hi: hi, step: step}
	if lo != 0 {
		f.lo -= 0.05 * (hi - lo)
	}
	if hi != 0 {
		f.hi += 0.05 * (hi - lo)
	}
	f.unit, f.times = a.scaled(math.Max(math.Abs(f.lo), math.Abs(f.hi)))
	f.places = max(0, -int(math.Floor(math.Log10(step/f.times)+1e-9)))
	return f
}

// niceStep returns the least of 1, 2 and 5 times a power of ten that is v or
// more.
func niceStep(v float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 2, 5} {
		if m*p >= v*(1-1e-9) {
			return m * p
		}
	}
	return 10 * p
}

// scaled returns the unit in which values up to v are written, and its worth:
// the prefix is the one that a quantity of that size is printed with.
func (a Axis) scaled(v float64) (unit string, times float64) {
	if a.Unit == "" {
		return "", 1
	}
	if a.Per {
		if a.Unit == quantity.Division {
			return "1/div", 1
		}
		v = 999 / v // the figures are then 1 to 1 000
	}
	_, unit, _ = strings.Cut(quantity.Format(v, a.Unit, 1), " ")
	times, err := quantity.Parse("1 "+unit, a.Unit)
	if err != nil { // a power of ten stands before it
		unit, times = string(a.Unit), 1
	}
	if a.Per {
		return "1/" + unit, 1 / times
	}
	return unit, times
}

// title names an axis: R / kΩ.
func (a Axis) title(unit string) string {
	if unit == "" {
		return a.Symbol
	}
	if strings.Contains(unit, "/") {
		return a.Symbol + " in " + unit
	}
	return a.Symbol + "/" + unit
}

// write writes a figure.
func (f figures) write(v float64) string {
	text := strconv.FormatFloat(v/f.times, 'f', min(f.places, 12), 64)
	if len(text) > 12 {
		text = strconv.FormatFloat(v/f.times, 'g', 3, 64)
	}
	if strings.Trim(text, "-0.") == "" && !strings.ContainsAny(text, "123456789") {
		text = strings.TrimPrefix(text, "-")
	}
	return strings.ReplaceAll(text, "-", "−")
}

// each calls do for every figure.
func (f figures) each(do func(v float64)) {
	for i := math.Ceil(f.lo / f.step * (1 - 1e-12)); i*f.step <= f.hi; i++ {
		do(i * f.step)
	}
}

// The least room of a graph; in less the words are shown.
const (
	graphWidth  = 24
	graphHeight = 6
)

// Draw draws the graph w cells wide and h lines high. In too little room, and
// where there is nothing to draw, it says so in words.
func (g Graph) Draw(w, h int, t *theme.Theme) []string {
	w, h = min(w, limit), min(h, limit)
	if w <= 0 || h <= 0 {
		return nil
	}
	ps := g.points()
	if len(ps) == 0 || w < graphWidth || h < graphHeight {
		lines := Wrap(t.Signs.Say(g.Describe()), w)
		if len(lines) > h {
			lines = lines[:h]
			lines[h-1] = Cut(lines[h-1], w-1, "") + t.Signs.Dots
		}
		return Styled(lines, t.Hint)
	}
	p := g.frame(w, h, ps, t)
	p.levels()
	p.line()
	p.points(ps)
	return p.c.Lines()
}

// plot is a graph that is being drawn.
type plot struct {
	g          Graph
	c          *Canvas
	t          *theme.Theme
	x, y       figures
	left, top  int // the first column and line within the frame
	wide, high int // the room within the frame
}

// frame draws the axes with their figures and titles.
func (g Graph) frame(w, h int, ps []Point, t *theme.Theme) *plot {
	lowX, highX, lowY, highY := ps[0].X, ps[0].X, ps[0].Y, ps[0].Y
	for _, p := range ps {
		lowX, highX = math.Min(lowX, p.X-wide*p.UX), math.Max(highX, p.X+wide*p.UX)
		lowY, highY = math.Min(lowY, p.Y), math.Max(highY, p.Y)
	}
	for _, v := range g.Levels {
		lowY, highY = math.Min(lowY, v), math.Max(highY, v)
	}
	p := &plot{g: g, c: NewCanvas(w, h, t.Signs.Grain), t: t, top: 1, high: h - 4}
	p.y = g.Y.ranged(lowY, highY, max(p.high/2, 2))
	margin := 0
	p.y.each(func(v float64) { margin = max(margin, Width(p.y.write(v))) })
	p.left = margin + 1
	p.wide = w - p.left - 1
	p.x = g.X.ranged(lowX, highX, max(p.wide/8, 2))

	s, ink := t.Signs, &t.Scale
	bottom := p.top + p.high
	p.c.Down(p.left-1, p.top, bottom-1, s.Down, ink)
	p.c.Across(p.left-1, p.left+p.wide-1, bottom, s.Across, ink)
	p.c.Put(p.left-1, bottom, s.Idle.LowLeft, ink)
	p.y.each(func(v float64) {
		_, y := p.place(p.x.lo, v)
		text := s.Say(p.y.write(v))
		line := min(int(y), bottom)
		p.c.Put(p.left-1-Width(text), line, text, ink)
		if line < bottom {
			p.c.Put(p.left-1, line, s.Cross, ink)
		}
	})
	written := -2 // no two figures touch
	p.x.each(func(v float64) {
		x, _ := p.place(v, p.y.lo)
		column := min(int(x), p.left+p.wide-1)
		if column > p.left { // else the corner is the mark
			p.c.Put(column, bottom, s.Foot, ink)
		}
		text := s.Say(p.x.write(v))
		at := max(min(column-Width(text)/2, w-Width(text)), 0)
		if at > written+1 {
			p.c.Put(at, bottom+1, text, ink)
			written = at + Width(text) - 1
		}
	})
	title := t.Signs.Say(g.Y.title(p.y.unit))
	p.c.Put(0, 0, Cut(title, w, s.Dots), &t.Hint)
	p.legend(ps, bottom+2, t.Signs.Say(g.X.title(p.x.unit)))
	return p
}

// legend writes what the signs mean and, at the end, what the lower axis is.
func (p *plot) legend(ps []Point, y int, title string) {
	s := p.t.Signs
	x := p.c.w - Width(title)
	p.c.Put(max(x, 0), y, title, &p.t.Hint)
	seen := map[PointKind]bool{}
	for _, q := range ps {
		seen[q.Kind] = true
	}
	var parts []string
	signs := [3]string{Kept: s.Kept, Other: s.Other, Struck: s.Crossed}
	for kind, sign := range signs {
		if seen[PointKind(kind)] {
			parts = append(parts, sign+" "+p.g.kind(PointKind(kind)))
		}
	}
	switch _, ok := p.g.line(); {
	case ok:
		parts = append(parts, s.Edge+s.Edge+" 95 %")
	case len(p.g.Levels) > 0:
	case p.g.Without != "":
		parts = append(parts, p.g.Without)
	default:
		parts = append(parts, p.g.lacks(ps))
	}
	p.c.Put(0, y, Cut(s.Say(strings.Join(parts, "  ")), x-2, s.Dots), &p.t.Hint)
}

// place returns where a point of the graph is on the canvas.
func (p *plot) place(x, y float64) (cx, cy float64) {
	cx = float64(p.left) + float64(p.wide)*(x-p.x.lo)/(p.x.hi-p.x.lo)
	cy = float64(p.top) + float64(p.high)*(p.y.hi-y)/(p.y.hi-p.y.lo)
	return cx, cy
}

// inside reports whether a place is within the frame.
func (p *plot) inside(x, y float64) bool {
	return x >= float64(p.left) && x < float64(p.left+p.wide) && y >= float64(p.top) && y < float64(p.top+p.high)
}

func (p *plot) levels() {
	for _, v := range p.g.Levels {
		_, y := p.place(p.x.lo, v)
		for x := p.left; x < p.left+p.wide; x++ {
			if v == 0 || x%2 == 0 {
				p.c.Put(x, int(y), p.t.Signs.Idle.Across, &p.t.Idle)
			}
		}
	}
}

// line draws the edges of the band, and the line over them.
func (p *plot) line() {
	l, ok := p.g.line()
	if !ok {
		return
	}
	across, _ := dots(p.t.Signs.Grain)
	n := p.wide * across
	at := func(i int) float64 { return p.x.lo + (p.x.hi-p.x.lo)*(float64(i)+0.5)/float64(n) }
	for i := 0; i < n; i++ {
		y, u := l.At(at(i))
		for _, side := range []float64{-wide, wide} {
			cx, cy := p.place(at(i), y+side*u)
			if !p.inside(cx, cy) {
				continue
			}
			if p.t.Signs.Grain != theme.Braille {
				p.c.Put(int(cx), int(cy), p.t.Signs.Edge, &p.t.Band)
			} else if i%3 == 0 {
				p.c.Dot(cx, cy, &p.t.Band)
			}
		}
	}
	lastX, lastY := 0.0, 0.0
	for i := range n {
		y, _ := l.At(at(i))
		cx, cy := p.place(at(i), y)
		if p.inside(cx, cy) {
			if i > 0 && p.inside(lastX, lastY) {
				p.c.Line(lastX, lastY, cx, cy, &p.t.Live)
			}
			p.c.Dot(cx, cy, &p.t.Live)
		}
		lastX, lastY = cx, cy
	}
}

// points draws the points, those that count over those that do not, with
// their names where nothing is in the way.
func (p *plot) points(ps []Point) {
	s := p.t.Signs
	look := map[PointKind]struct {
		sign string
		ink  *lipgloss.Style
	}{Kept: {s.Kept, &p.t.Value}, Other: {s.Other, &p.t.Hint}, Struck: {s.Crossed, &p.t.Struck}}
	for _, kind := range []PointKind{Struck, Other, Kept} {
		for _, q := range ps {
			x, y := p.place(q.X, q.Y)
			if q.Kind != kind || !p.inside(x, y) {
				continue
			}
			if bar := float64(p.wide) * wide * q.UX / (p.x.hi - p.x.lo); bar >= 1 {
				p.c.Line(math.Max(x-bar, float64(p.left)), y, math.Min(x+bar, float64(p.left+p.wide)-0.01), y, look[kind].ink)
			}
		}
	}
	for _, kind := range []PointKind{Struck, Other, Kept} {
		for _, q := range ps {
			if x, y := p.place(q.X, q.Y); q.Kind == kind && p.inside(x, y) {
				p.c.Put(int(x), int(y), look[kind].sign, look[kind].ink)
			}
		}
	}
	for _, q := range ps {
		x, y := p.place(q.X, q.Y)
		name := s.Say(q.Name)
		n := Width(name)
		if n == 0 || n > 8 || !p.inside(x, y) {
			continue
		}
		// Beside the point, above or below it, and clear of other names.
		cx, cy := int(x), int(y)
		for _, at := range [][4]int{
			{cx + 1, cy, cx + 1, n + 1}, {cx - n, cy, cx - n - 1, n + 1},
			{cx, cy - 1, cx - 1, n + 2}, {cx, cy + 1, cx - 1, n + 2},
			{cx - n, cy - 1, cx - n - 1, n + 1}, {cx + 1, cy + 1, cx + 1, n + 1},
			{cx + 1, cy - 1, cx + 1, n + 1}, {cx - n, cy + 1, cx - n - 1, n + 1},
		} {
			inside := at[0] >= p.left && at[0]+n <= p.left+p.wide && at[1] >= p.top && at[1] < p.top+p.high
			if inside && p.c.Free(at[2], at[1], at[3]) {
				p.c.Put(at[0], at[1], name, &p.t.Hint)
				break
			}
		}
	}
}

// lacks says what is missing for a line.
func (g Graph) lacks(ps []Point) string {
	kept := 0
	for _, p := range ps {
		if p.Kind != Struck {
			kept++
		}
	}
	switch kept {
	case 0:
		return "nothing that counts yet"
	case 1:
		return "one point: a line needs two"
	}
	return "no line"
}

// Describe says in words what the graph shows.
func (g Graph) Describe() string {
	ps := g.points()
	name := g.Name
	if name == "" {
		name = "Graph"
	}
	if len(ps) == 0 {
		return name + ": no points yet."
	}
	count := map[PointKind]int{}
	for _, p := range ps {
		count[p.Kind]++
	}
	parts := []string{fmt.Sprintf("%d points", len(ps))}
	if len(ps) == 1 {
		parts[0] = "1 point"
	}
	for kind := range PointKind(len(g.Kinds)) {
		if n := count[kind]; n > 0 && n < len(ps) {
			name := g.kind(kind)
			if name == "row" {
				name = "of rows"
			}
			parts = append(parts, fmt.Sprintf("%d %s", n, name))
		}
	}
	said := []string{name + ": " + strings.Join(parts, ", ") + "."}
	l, ok := g.line()
	switch {
	case len(g.Levels) > 0:
		said = append(said, g.outside(ps))
	case ok:
		worst := 0.0
		for _, p := range ps {
			if p.Kind == Struck {
				continue
			}
			y, _ := l.At(p.X)
			if d := p.Y - y; math.Abs(d) > math.Abs(worst) {
				worst = d
			}
		}
		turns := "rises"
		if l.Slope < 0 {
			turns = "falls"
		}
		said = append(said, fmt.Sprintf("The line meets the axis at %s and %s with %s.", g.Y.say(l.Intercept), turns, g.X.Symbol),
			fmt.Sprintf("No point that counts is further from it than %s.", g.Y.say(math.Abs(worst))))
	case g.Without != "":
		said = append(said, strings.ToUpper(g.Without[:1])+g.Without[1:]+".")
	default:
		text := g.lacks(ps)
		said = append(said, strings.ToUpper(text[:1])+text[1:]+".")
	}
	if g.Note != "" {
		said = append(said, g.Note+".")
	}
	return strings.Join(said, " ")
}

// outside says how many points that count are beyond the outer levels.
func (g Graph) outside(ps []Point) string {
	lo, hi := g.Levels[0], g.Levels[0]
	for _, v := range g.Levels {
		lo, hi = math.Min(lo, v), math.Max(hi, v)
	}
	n, of := 0, 0
	for _, p := range ps {
		if p.Kind == Struck {
			continue
		}
		of++
		if p.Y < lo || p.Y > hi {
			n++
		}
	}
	return fmt.Sprintf("Between the outer lines, %s and %s, lie %d of %d.", said1(lo), said1(hi), of-n, of)
}

// say writes a value of the axis with its unit, to three digits.
func (a Axis) say(v float64) string {
	if !a.Per {
		return quantity.Format(v, a.Unit, 3)
	}
	if v == 0 {
		return "0"
	}
	unit, times := a.scaled(math.Abs(v))
	return quantity.Format(v/times, quantity.Number, 3) + " per " + strings.TrimPrefix(unit, "1/")
}
