package screen

import (
	"fmt"
	"html"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/muesli/termenv"

	"example.org/halve/procedure"
	"example.org/halve/tui/theme"
)

// The picture of README.md is the screen of a fourth row, drawn from what the
// program shows. To make it anew:
//
//	go test ./tui/screen -run Picture -update
func TestPicture(t *testing.T) {
	p := sit(t, options(onBench(t), nil, "records"), 120, 40)
	for range 3 {
		p.obey(procedure.KindKeepRow).keys("enter")
	}
	p.obey(procedure.KindReadShunted)
	p.keys(strconv.FormatFloat(math.Round(2*p.counsel().Expect.Div)/2, 'f', -1, 64))
	p.send(tea.WindowSizeMsg{Width: 120, Height: 40})
	screens := map[string]string{}
	for _, name := range []string{theme.Light, theme.Dark} {
		p.paint(theme.New(name, termenv.TrueColor, false))
		screens[name] = p.m.View()
	}
	got := svg("halve: the shunted reading of a fourth row", screens[theme.Light], screens[theme.Dark])
	path := filepath.Join("..", "..", "testdata", "picture.svg")
	if update() {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s is not the screen of now (go test ./tui/screen -run Picture -update makes it anew):\n%s", path, difference(string(want), got))
	}
	for _, foreign := range []string{"href", "url(", "@import", "<script"} {
		if strings.Contains(got, foreign) {
			t.Errorf("the picture does not stand alone: it has %s", foreign)
		}
	}
}

// spot is a cell of a screen, as its escape codes have it.
type spot struct {
	char         rune
	bold, struck bool
	colour       string // "#rrggbb", or "" for the terminal's own
}

// spots reads a screen of the codes that the styles write: bold, struck out,
// a colour of 24 bits, and the end of all.
func spots(screen string) [][]spot {
	var rows [][]spot
	var in spot
	for _, line := range strings.Split(screen, "\n") {
		var row []spot
		for line != "" {
			if rest, ok := strings.CutPrefix(line, "\x1b["); ok {
				codes, after, _ := strings.Cut(rest, "m")
				line = after
				c := strings.Split(codes, ";")
				for i := 0; i < len(c); i++ {
					switch c[i] {
					case "", "0":
						in = spot{}
					case "1":
						in.bold = true
					case "9":
						in.struck = true
					case "38":
						if i+4 < len(c) {
							in.colour = "#"
							for _, part := range c[i+2 : i+5] {
								n, _ := strconv.Atoi(part)
								in.colour += fmt.Sprintf("%02x", n)
							}
							i += 4
						}
					}
				}
				continue
			}
			r := []rune(line[:min(len(line), 4)])[0]
			line = line[len(string(r)):]
			in.char = r
			row = append(row, in)
		}
		rows = append(rows, row)
	}
	return rows
}

// arms says how a character joins its neighbours to the left, to the right,
// above and below: 1 is a thin line, 2 a heavy one.
var arms = map[rune][4]int{
	'─': {1, 1, 0, 0}, '│': {0, 0, 1, 1}, '┌': {0, 1, 0, 1}, '┐': {1, 0, 0, 1}, '└': {0, 1, 1, 0}, '┘': {1, 0, 1, 0},
	'├': {0, 1, 1, 1}, '┤': {1, 0, 1, 1}, '┬': {1, 1, 0, 1}, '┴': {1, 1, 1, 0}, '┼': {1, 1, 1, 1}, '╵': {0, 0, 1, 0},
	'╭': {0, 1, 0, 1}, '╮': {1, 0, 0, 1}, '╰': {0, 1, 1, 0}, '╯': {1, 0, 1, 0},
	'━': {2, 2, 0, 0}, '┃': {0, 0, 2, 2}, '┏': {0, 2, 0, 2}, '┓': {2, 0, 0, 2}, '┗': {0, 2, 2, 0}, '┛': {2, 0, 2, 0},
	'┥': {2, 0, 1, 1}, '┝': {0, 2, 1, 1}, '┸': {1, 1, 2, 0}, '┰': {1, 1, 0, 2}, '┳': {2, 2, 0, 2}, '┯': {2, 2, 0, 1},
	'┠': {0, 1, 2, 2}, '┣': {0, 2, 2, 2},
}

// svg is a picture of a screen, given in the colours for a light and for a
// dark background: whoever shows the picture chooses. Lines, blocks and dots
// are drawn as shapes, so that they join in any font.
func svg(title, light, dark string) string {
	const (
		cw, ch = 8.4, 18.0 // a cell
		pad    = 14.0
		base   = 13.5 // from the top of a cell to the line of the letters
	)
	day, night := spots(light), spots(dark)
	type class struct {
		name          string
		thin, heavy   strings.Builder
		solid, shaded strings.Builder
	}
	classes := map[[2]string]*class{}
	var order []*class
	var rules, rulesDark, text strings.Builder
	of := func(day, night spot) *class {
		key := [2]string{day.colour, night.colour}
		if classes[key] == nil {
			c := &class{name: fmt.Sprintf("c%d", len(order))}
			classes[key] = c
			order = append(order, c)
			a, b := day.colour, night.colour
			if a == "" {
				a = "#1c1c1c"
			}
			if b == "" {
				b = "#e4e4e4"
			}
			fmt.Fprintf(&rules, ".%s{fill:%s;stroke:%[2]s}", c.name, a)
			fmt.Fprintf(&rulesDark, ".%s{fill:%s;stroke:%[2]s}", c.name, b)
		}
		return classes[key]
	}
	columns := 0
	for y, row := range day {
		columns = max(columns, len(row))
		top := pad + float64(y)*ch
		for x := 0; x < len(row); {
			s := row[x]
			left := pad + float64(x)*cw
			midX, midY := left+cw/2, top+ch/2
			c := of(s, night[y][x])
			a, isLine := arms[s.char]
			box := func(b *strings.Builder, x, y, w, h float64) {
				fmt.Fprintf(b, "M%.1f %.1fh%.1fv%.1fh%.1fz", x, y, w, h, -w)
			}
			x++
			switch {
			case s.char == ' ':
			case strings.ContainsRune("╭╮╰╯", s.char):
				ex, ey := left, top
				if a[1] > 0 {
					ex += cw
				}
				if a[3] > 0 {
					ey += ch
				}
				fmt.Fprintf(&c.thin, "M%.1f %.1fQ%.1f %.1f %.1f %.1f", ex, midY, midX, midY, midX, ey)
			case isLine:
				for i, weight := range a {
					b := &c.thin
					if weight == 0 {
						continue
					} else if weight == 2 {
						b = &c.heavy
					}
					ends := [4][2]float64{{left, midY}, {left + cw, midY}, {midX, top}, {midX, top + ch}}
					fmt.Fprintf(b, "M%.1f %.1fL%.1f %.1f", midX, midY, ends[i][0], ends[i][1])
				}
			case s.char == '╱':
				fmt.Fprintf(&c.thin, "M%.1f %.1fL%.1f %.1f", left, top+ch-2, left+cw, top+2)
			case s.char >= 0x2800 && s.char <= 0x28ff:
				for i, bit := range [8]rune{0x01, 0x08, 0x02, 0x10, 0x04, 0x20, 0x40, 0x80} {
					if s.char&bit != 0 {
						box(&c.solid, left+cw*(float64(i%2)/2+0.125)-0.3, top+ch*(float64(i/2)/4+0.125)-0.8, 2.7, 2.7)
					}
				}
			case s.char == '▐':
				box(&c.solid, midX, top, cw/2, ch)
			case s.char == '▌':
				box(&c.solid, left, top, cw/2, ch)
			case s.char == '▏':
				box(&c.solid, left, top+1, 1.4, ch-2)
			case s.char == '▒':
				box(&c.shaded, left, top+2, cw, ch-4)
			case s.char > 0x2000:
				fmt.Fprintf(&text, `<text class="%s%s" x="%.1f" y="%.1f">%c</text>`+"\n", c.name, besides(s), left, top+base, s.char)
			default:
				run := []rune{s.char}
				for x < len(row) && row[x].char < 0x2000 && of(row[x], night[y][x]) == c && row[x].bold == s.bold && row[x].struck == s.struck && !(row[x].char == ' ' && x+1 < len(row) && row[x+1].char == ' ') {
					run = append(run, row[x].char)
					x++
				}
				words := strings.TrimRight(string(run), " ")
				n := float64(len([]rune(words)))
				fmt.Fprintf(&text, `<text class="%s%s" x="%.1f" y="%.1f" textLength="%.1f">%s</text>`+"\n",
					c.name, besides(s), left, top+base, n*cw, html.EscapeString(words))
			}
		}
	}
	w, h := 2*pad+float64(columns)*cw, 2*pad+float64(len(day))*ch
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%.0f" height="%.0f" viewBox="0 0 %[1]g %[2]g" role="img">`+"\n", w, h)
	fmt.Fprintf(&b, "<title>%s</title>\n<style>", html.EscapeString(title))
	b.WriteString(`text{font:14px ui-monospace,"DejaVu Sans Mono",Menlo,Consolas,"Liberation Mono",monospace;white-space:pre;stroke:none!important}.b{font-weight:bold}.x{text-decoration:line-through}` +
		`.thin{fill:none!important;stroke-width:1.2}.heavy{fill:none!important;stroke-width:3}.solid,.shaded{stroke:none!important}.shaded{fill-opacity:.4}.paper{fill:#fdfcf8}` + rules.String() +
		"@media(prefers-color-scheme:dark){.paper{fill:#16181c}" + rulesDark.String() + "}</style>\n")
	fmt.Fprintf(&b, `<rect class="paper" width="%.0f" height="%.0f" rx="8"/>`+"\n", w, h)
	for _, c := range order {
		for _, part := range []struct {
			name string
			d    string
		}{{"shaded", c.shaded.String()}, {"thin", c.thin.String()}, {"heavy", c.heavy.String()}, {"solid", c.solid.String()}} {
			if part.d != "" {
				fmt.Fprintf(&b, `<path class="%s %s" d="%s"/>`+"\n", c.name, part.name, part.d)
			}
		}
	}
	b.WriteString(text.String() + "</svg>\n")
	return b.String()
}

// besides names what a spot is besides its colour.
func besides(s spot) string {
	names := ""
	if s.bold {
		names += " b"
	}
	if s.struck {
		names += " x"
	}
	return names
}
