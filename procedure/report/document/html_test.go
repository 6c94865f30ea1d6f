package document

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"
	"pgregory.net/rapid"
)

func htmlOf(t testing.TB, d Document) string {
	t.Helper()
	return mustString(t, func(b *strings.Builder) error { return HTML(b, d) })
}

// elements of HTML that have no end (HTML Living Standard, 13.1.2).
var void = []string{"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}

// htmlFaults lists what is wrong with a page: elements that are not closed in
// order, names that are not unique or point to nothing, headings that leave
// out a level, figures without an alternative, whatever runs or is fetched.
func htmlFaults(page string) []string {
	var faults []string
	blame := func(format string, a ...any) { faults = append(faults, fmt.Sprintf(format, a...)) }
	z := html.NewTokenizer(strings.NewReader(page))
	var open []string
	ids, points := map[string]int{}, map[string]bool{}
	level, h1, named := 0, 0, 0
	doctype, lang, title := false, false, false
	var svgOpen bool
	var svgTitle, svgDesc bool
	for {
		kind := z.Next()
		if kind == html.ErrorToken {
			if !errors.Is(z.Err(), io.EOF) {
				blame("%v", z.Err())
			}
			break
		}
		tok := z.Token()
		name := tok.Data
		switch kind {
		case html.DoctypeToken:
			doctype = strings.EqualFold(name, "html")
		case html.StartTagToken, html.SelfClosingTagToken:
			if kind == html.StartTagToken && !slices.Contains(void, name) {
				open = append(open, name)
			}
			attr := map[string]string{}
			for _, a := range tok.Attr {
				if _, twice := attr[a.Key]; twice {
					blame("<%s> has %s twice", name, a.Key)
				}
				attr[a.Key] = a.Val
				if strings.HasPrefix(a.Key, "on") || a.Key == "src" || a.Key == "href" || a.Key == "srcset" || strings.HasSuffix(a.Key, ":href") {
					blame("<%s> has %s=%q", name, a.Key, a.Val)
				}
			}
			if id, ok := attr["id"]; ok {
				ids[id]++
				if id == "" || strings.ContainsAny(id, " \t\n") {
					blame("id %q is empty or has blanks", id)
				}
			}
			for _, id := range strings.Fields(attr["aria-labelledby"]) {
				points[id] = true
			}
			switch name {
			case "script", "iframe", "object", "embed", "link", "base", "form", "img", "image", "a", "video", "audio":
				blame("there is a <%s>", name)
			case "html":
				lang = attr["lang"] != ""
			case "title":
				title = true
				svgTitle = svgTitle || svgOpen
			case "desc":
				svgDesc = true
			case "svg":
				svgOpen, svgTitle, svgDesc = true, false, false
				if attr["role"] != "img" || attr["aria-labelledby"] == "" {
					blame("a figure has role %q and is named by %q", attr["role"], attr["aria-labelledby"])
				}
			case "th":
				if attr["scope"] == "" {
					blame("a table's head has no scope")
				}
			case "h1", "h2", "h3", "h4":
				n := int(name[1] - '0')
				if n == 1 {
					h1++
				}
				if n > level+1 {
					blame("<%s> follows a heading of level %d", name, level)
				}
				level = n
			case "table":
				named++
			case "meta":
				if strings.EqualFold(attr["http-equiv"], "refresh") {
					blame("the page goes elsewhere by itself")
				}
			}
		case html.EndTagToken:
			if len(open) == 0 || open[len(open)-1] != name {
				blame("</%s> closes %v", name, open)
				return faults
			}
			open = open[:len(open)-1]
			if name == "svg" {
				if !svgTitle || !svgDesc {
					blame("a figure has no title or no description")
				}
				svgOpen = false
			}
		case html.TextToken:
			if i := strings.IndexFunc(name, func(r rune) bool { return r < ' ' && r != '\n' && r != '\t' || r >= 0x7f && r < 0xa0 }); i >= 0 {
				blame("a control character in %.40q", name[i:])
			}
		}
	}
	for id, n := range ids {
		if n > 1 {
			blame("id %q is there %d times", id, n)
		}
	}
	for id := range points {
		if ids[id] == 0 {
			blame("nothing is called %q", id)
		}
	}
	if len(open) > 0 {
		blame("left open: %v", open)
	}
	if !doctype || !lang || !title || h1 != 1 {
		blame("doctype %v, language %v, title %v, main headings %d", doctype, lang, title, h1)
	}
	for _, address := range []string{"url(", "@import", "http:", "https:", "//www", "javascript:", "data:"} {
		// What a person wrote may hold an address, as text; nothing else may.
		if i := strings.Index(stripText(page), address); i >= 0 {
			blame("there is %q", address)
		}
	}
	return faults
}

// stripText leaves tags and styles of a page, without the text between.
func stripText(page string) string {
	var b strings.Builder
	z := html.NewTokenizer(strings.NewReader(page))
	style := false
	for {
		switch z.Next() {
		case html.ErrorToken:
			return b.String()
		case html.TextToken:
			if style {
				b.Write(z.Raw())
			}
		case html.StartTagToken, html.SelfClosingTagToken:
			tok := z.Token()
			style = tok.Data == "style"
			if tok.Data == "meta" { // the names of the author and the record are text
				continue
			}
			b.WriteString(tok.String())
		default:
			style = false
		}
	}
}

func TestHTML(t *testing.T) {
	for _, text := range append([]string{"Ada Morrow"}, hostile...) {
		t.Run(fmt.Sprintf("%.20q", text), func(t *testing.T) {
			page := htmlOf(t, sample(text))
			for _, f := range htmlFaults(page) {
				t.Error(f)
			}
		})
	}
}

// TestHTMLFaults: the test above would see each of these.
func TestHTMLFaults(t *testing.T) {
	good := htmlOf(t, sample("text"))
	tests := []struct{ name, old, new string }{
		{"an element left open", "</p>", ""},
		{"elements closed in the wrong order", "</section>", "</main>"},
		{"a name twice", `id="s-first-2"`, `id="s-first"`},
		{"a name that is not there", `id="table-1"`, `id="table-9"`},
		{"a script", "<h1>", "<script></script><h1>"},
		{"a handler", "<h1>", `<h1 onclick="x()">`},
		{"a picture from elsewhere", "<h1>", `<img src="http://example.org/a.png" alt=""><h1>`},
		{"a style from elsewhere", "<style>", `<style>@import url(http://example.org/a.css);`},
		{"a heading left out", `<h2 id="s-first">First</h2>`, `<h4 id="s-first">First</h4>`},
		{"a figure without words", "<desc", "<g"},
		{"a head without scope", ` scope="col"`, ""},
		{"no language", ` lang="en"`, ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			bad := strings.Replace(good, tt.old, tt.new, 1)
			if bad == good {
				t.Fatalf("%q is not in the page", tt.old)
			}
			if len(htmlFaults(bad)) == 0 {
				t.Errorf("with %q for %q nothing is found wrong", tt.new, tt.old)
			}
		})
	}
}

// TestHTMLText: every text is shown, in its place and as it is.
func TestHTMLText(t *testing.T) {
	for _, text := range []string{`<script>alert(1)</script>`, `a "quoted" & <b>`, "[link](http://example.org/)", strings.Repeat("x", 10_000)} {
		doc, err := html.Parse(strings.NewReader(htmlOf(t, sample(text))))
		if err != nil {
			t.Fatal(err)
		}
		var found int
		var walk func(n *html.Node)
		walk = func(n *html.Node) {
			if n.Type == html.ElementNode && n.Data == "bdi" && n.FirstChild != nil && n.FirstChild.Data == text {
				found++
			}
			for c := n.FirstChild; c != nil; c = c.NextSibling {
				walk(c)
			}
		}
		walk(doc)
		if found < 8 {
			t.Errorf("%.40q stands in %d places as text of its own direction, want 8 or more", text, found)
		}
	}
}

func TestHTMLOfAny(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var b strings.Builder
		if err := HTML(&b, anyDocument(t)); err != nil {
			t.Fatal(err)
		}
		for _, f := range htmlFaults(b.String()) {
			if !strings.Contains(f, "follows a heading of level") { // any order is drawn
				t.Fatal(f)
			}
		}
	})
}

// luminance is the relative luminance of a colour (WCAG 2.2, definition).
func luminance(hex string) float64 {
	c := rgb(hex)
	linear := func(v uint8) float64 {
		s := float64(v) / 255
		if s <= 0.04045 {
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	return 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
}

// TestContrast holds text to 4.5 to 1 (WCAG 2.2, 1.4.3, level AA), on light
// and on dark.
func TestContrast(t *testing.T) {
	if got := (luminance("#ffffff") + 0.05) / (luminance("#000000") + 0.05); math.Abs(got-21) > 1e-9 {
		t.Fatalf("white on black is %.3f to 1, want 21 (WCAG 2.2)", got)
	}
	byName := map[string][2]string{}
	for _, c := range colours {
		byName[c.name] = [2]string{c.light, c.dark}
	}
	for _, p := range pairs {
		for i, ground := range []string{"light", "dark"} {
			a, b := luminance(byName[p[0]][i]), luminance(byName[p[1]][i])
			if ratio := (max(a, b) + 0.05) / (min(a, b) + 0.05); ratio < 4.5 {
				t.Errorf("%s on %s, %s: %.2f to 1, want 4.5 or more", p[0], p[1], ground, ratio)
			}
		}
	}
	// Every colour that the style sheet or a figure uses as text is in a pair.
	for _, c := range colours {
		if strings.Contains(sheet, "color:var(--"+c.name+")") && !slices.ContainsFunc(pairs, func(p [2]string) bool { return p[0] == c.name }) &&
			!strings.Contains(sheet, "-color:var(--"+c.name+")") {
			t.Errorf("text is in %q, whose contrast is not computed", c.name)
		}
	}
}

func TestPieces(t *testing.T) {
	tests := []struct {
		in       string
		variable bool
		want     string
	}{
		{"", false, ""},
		{"10⁻⁵", false, "10^−5"},
		{"θ₁", true, "θ_1"},
		{"I_g", true, "I_g"},
		{"a_b", false, "a_b"}, // of plain text the underscore is a sign
		{"m²s₁₂", false, "m^2s_12"},
	}
	for _, tt := range tests {
		got := ""
		for _, p := range pieces(tt.in, tt.variable) {
			got += map[level]string{onLine: "", below: "_", above: "^"}[p.at] + p.text
		}
		if got != tt.want {
			t.Errorf("pieces(%q, %v) = %q, want %q", tt.in, tt.variable, got, tt.want)
		}
	}
}
