package document

import (
	"fmt"
	"image/color"
	"regexp"
	"strings"

	"gonum.org/v1/plot/vg/vgsvg"
)

// Palette is what figures are drawn in. In HTML each colour is the style
// sheet's of the same name, so that figures turn dark with the page.
var Palette = struct {
	Ink, Soft, Line, Mark, Warn, Paper color.Color
}{
	Ink: rgb(colourOf("ink")), Soft: rgb(colourOf("soft")), Line: rgb(colourOf("line")),
	Mark: rgb(colourOf("mark")), Warn: rgb(colourOf("warn")), Paper: rgb(colourOf("paper")),
}

// colourOf is the light form of a colour of the style sheet.
func colourOf(name string) string {
	for _, c := range colours {
		if c.name == name {
			return c.light
		}
	}
	return "#000000"
}

// rgb reads #rrggbb.
func rgb(hex string) color.RGBA {
	var c color.RGBA
	c.A = 255
	fmt.Sscanf(hex, "#%02x%02x%02x", &c.R, &c.G, &c.B)
	return c
}

// svgFont is what the SVG writer says of a font; svgFonts what is said in its
// place: faces of the same widths first.
var svgFont = regexp.MustCompile(`font-family:Liberation (Sans|Serif);font-variant:[a-z]+;font-weight:(\w+);font-style:(\w+)`)

var svgFonts = map[string]string{
	"Sans":  "'Liberation Sans',Arial,Helvetica,sans-serif",
	"Serif": "'Liberation Serif','Times New Roman',Times,serif",
}

// svg draws a figure as an element of an HTML page, with its name and its
// text alternative, in the page's own colours.
func svg(f Figure, name string) string {
	c := vgsvg.New(f.Width, f.Height)
	f.Draw(c)
	var b strings.Builder
	// A strings.Builder takes everything.
	_, _ = c.WriteTo(&b)
	body := strings.ReplaceAll(b.String(), "\n\t", " ")
	if i := strings.Index(body, "<g "); i >= 0 {
		body = body[i:]
	}
	for _, c := range colours {
		body = strings.ReplaceAll(body, strings.ToUpper(c.light), "var(--"+c.name+")")
	}
	body = svgFont.ReplaceAllStringFunc(body, func(s string) string {
		m := svgFont.FindStringSubmatch(s)
		out := "font-family:" + svgFonts[m[1]]
		if m[2] != "normal" {
			out += ";font-weight:" + m[2]
		}
		if m[3] != "normal" {
			out += ";font-style:" + m[3]
		}
		return out
	})
	return fmt.Sprintf("<svg viewBox=\"0 0 %g %g\" role=\"img\" aria-labelledby=\"%[3]s-title %[3]s-text\">\n<title id=\"%[3]s-title\">%[4]s</title>\n<desc id=\"%[3]s-text\">%[5]s</desc>\n%[6]s",
		f.Width.Points(), f.Height.Points(), name, escape(f.Alt), escape(f.Text), body)
}
