package document

import (
	"bufio"
	"fmt"
	"html"
	"io"
	"strings"
	"unicode"

	"example.org/halve/procedure/report/formula"
)

// colours are the style sheet's, by name: first on light paper, then on dark.
// Print is always on light. A test computes their contrast.
var colours = []struct{ name, light, dark string }{
	{"ink", "#1a1d21", "#e7e9ec"},
	{"soft", "#4b525c", "#b0b7c1"},
	{"line", "#b4bac3", "#4d545e"},
	{"paper", "#ffffff", "#15181c"},
	{"panel", "#eef1f3", "#20252b"},
	{"mark", "#0b5563", "#7fd0de"},
	{"warn", "#8f2d14", "#f2a58c"},
}

// pairs are the foregrounds and backgrounds that meet.
var pairs = [][2]string{
	{"ink", "paper"}, {"ink", "panel"}, {"soft", "paper"}, {"soft", "panel"},
	{"mark", "paper"}, {"mark", "panel"}, {"warn", "paper"},
}

// sheet is the style sheet without its colours. Tables are let out of their
// frame in print; on a narrow screen a wide one is moved in its own frame, not
// the page.
const sheet = `
*{box-sizing:border-box}
html{-webkit-text-size-adjust:100%;text-size-adjust:100%}
body{margin:0;background:var(--paper);color:var(--ink);font:1rem/1.55 "Liberation Serif","Times New Roman",Times,serif;overflow-wrap:break-word}
main{max-width:46rem;margin:0 auto;padding:1.5rem 1rem 4rem}
h1,h2,h3,table,figure,dl,.scale{font-family:"Liberation Sans",Arial,Helvetica,sans-serif}
h1{font-size:1.6rem;line-height:1.25;margin:0 0 .7rem;text-wrap:balance}
h2{font-size:1.15rem;line-height:1.3;margin:2.2rem 0 .6rem;color:var(--mark)}
h3{font-size:1rem;line-height:1.3;margin:1.4rem 0 .4rem}
p,ul,ol{margin:.6rem 0}
ul,ol{padding-left:1.5rem}
li{margin:.25rem 0}
.scale{height:.8rem;margin:0 0 1.2rem;border-bottom:1px solid var(--ink);background:repeating-linear-gradient(90deg,var(--ink) 0 1px,transparent 1px 20%) 0 100%/100% .8rem no-repeat,repeating-linear-gradient(90deg,var(--soft) 0 1px,transparent 1px 2%) 0 100%/100% .35rem no-repeat}
.key{background:var(--panel);border-left:.25rem solid var(--mark);padding:.7rem .9rem}
.aside{color:var(--soft);font-size:.92rem}
dl{display:grid;grid-template-columns:minmax(7rem,max-content) 1fr;gap:.25rem 1rem;margin:.6rem 0;font-size:.92rem}
dt{color:var(--soft)}
dd{margin:0;min-width:0;overflow-wrap:anywhere}
var{font-style:italic}
sub,sup{font-size:.72em;line-height:0}
s{text-decoration-thickness:.08em;color:var(--soft)}
.wide{overflow-x:auto;margin:.8rem 0}
table{border-collapse:collapse;min-width:min(100%,30rem);font-size:.86rem;line-height:1.4;border-top:2px solid var(--ink);border-bottom:1px solid var(--ink)}
caption{text-align:left;padding:.2rem 0 .5rem;font-size:.92rem;color:var(--soft)}
th,td{text-align:left;vertical-align:top;padding:.28rem .9rem .28rem 0}
bdi{overflow-wrap:anywhere}
th:last-child,td:last-child{padding-right:0}
thead th{border-bottom:1px solid var(--ink);vertical-align:bottom}
tbody tr+tr>*{border-top:1px solid var(--line)}
tbody th{font-weight:normal}
caption span{position:sticky;left:0;display:inline-block;max-width:calc(100vw - 1.8rem)}
.n{text-align:right;font-variant-numeric:tabular-nums}
.n+:not(.n){padding-left:.5rem}
.notes{font-family:"Liberation Sans",Arial,Helvetica,sans-serif;font-size:.82rem;list-style:none;padding:0;margin:.3rem 0 1rem;overflow-wrap:anywhere}
figure{margin:1rem 0}
figure svg{display:block;width:100%;height:auto;max-width:34rem;margin:0 auto;overflow:visible}
figcaption{font-size:.88rem;color:var(--soft);margin-top:.4rem}
.formula{overflow-x:auto;padding:.15rem 0 .15rem 1.2rem;margin:.5rem 0}
math{font-size:1.1rem;font-family:"Latin Modern Math","STIX Two Math","Cambria Math","Liberation Serif","Times New Roman",serif}
mi{text-transform:none;font-style:italic}
mi[mathvariant=normal]{font-style:normal}
mfrac>*{math-depth:add(0);math-style:normal;padding:.08em 0}
.formula div{padding:.25rem 0}
.formula math{display:block math;text-align:left;width:max-content;margin:0}
.formula .on{padding-left:1.6rem}
.hidden{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%);white-space:nowrap}
@media (max-width:34rem){main{padding:1rem .8rem 3rem}table{font-size:.8rem}th,td{padding-right:.5rem}dl{grid-template-columns:1fr;gap:0}dd{margin-bottom:.4rem}.formula{padding-left:.2rem}math{font-size:1rem}}
@page{margin:16mm 18mm}
@media print{html{font-size:10.5pt}main{max-width:none;padding:0}h2,h3{break-after:avoid}h2{margin-top:1.5rem}p,li{orphans:2;widows:2}tr,figure,.key,.formula div,.short{break-inside:avoid}.formula div:first-child{break-after:avoid}thead{display:table-header-group}caption{break-after:avoid}.wide,.formula{overflow:visible}caption span{max-width:none}.key,.scale{print-color-adjust:exact;-webkit-print-color-adjust:exact}figure svg{max-width:13cm}}
`

// styleSheet is the style sheet with its colours.
func styleSheet() string {
	var light, dark strings.Builder
	for _, c := range colours {
		fmt.Fprintf(&light, "--%s:%s;", c.name, c.light)
		fmt.Fprintf(&dark, "--%s:%s;", c.name, c.dark)
	}
	return ":root{color-scheme:light dark;" + light.String() + "}\n" +
		"@media screen and (prefers-color-scheme:dark){:root{" + dark.String() + "}}" + sheet
}

// HTML writes the document as one file that needs no other: no script, no
// address of the network, figures as SVG, formulas as MathML.
func HTML(w io.Writer, d Document) error {
	h := htmlWriter{w: bufio.NewWriter(w), ids: map[string]bool{}}
	h.printf("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n")
	h.printf("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n")
	// What a browser is to fetch, even if some text got past the escapes.
	h.printf("<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n")
	h.printf("<title>%s</title>\n", escape(d.Title))
	for _, m := range [][2]string{{"author", d.Author}, {"description", d.Subject}} {
		if m[1] != "" {
			h.printf("<meta name=\"%s\" content=\"%s\">\n", m[0], escape(m[1]))
		}
	}
	h.printf("<style>%s</style>\n</head>\n<body>\n<main>\n", styleSheet())
	h.printf("<h1>%s</h1>\n<div class=\"scale\" aria-hidden=\"true\"></div>\n", escape(d.Title))
	for _, b := range d.Blocks {
		h.block(b)
	}
	h.endSection()
	h.printf("</main>\n</body>\n</html>\n")
	if h.err != nil {
		return h.err
	}
	return h.w.Flush()
}

// shortTable is the number of rows up to which a table is kept on one page.
const shortTable = 10

// htmlWriter writes and keeps the first failure.
type htmlWriter struct {
	w       *bufio.Writer
	ids     map[string]bool
	section bool // one is open
	tables  int
	figures int
	err     error
}

func (h *htmlWriter) printf(format string, a ...any) {
	if h.err == nil {
		_, h.err = fmt.Fprintf(h.w, format, a...)
	}
}

func (h *htmlWriter) endSection() {
	if h.section {
		h.printf("</section>\n")
	}
	h.section = false
}

// id makes a name of a text that no other element has.
func (h *htmlWriter) id(text string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(text) {
		switch {
		case unicode.IsLetter(r) && r < 0x80 || unicode.IsDigit(r) && r < 0x80:
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
		if b.Len() > 40 {
			break
		}
	}
	stem := "s-" + strings.Trim(b.String(), "-")
	id := stem
	for n := 2; h.ids[id]; n++ {
		id = fmt.Sprintf("%s-%d", stem, n)
	}
	h.ids[id] = true
	return id
}

func (h *htmlWriter) block(b Block) {
	switch b := b.(type) {
	case Heading:
		id := h.id(Text(b.Text))
		if b.Level == 2 {
			h.endSection()
			h.printf("<section aria-labelledby=\"%s\">\n", id)
			h.section = true
		}
		h.printf("<h%d id=\"%s\">%s</h%d>\n", b.Level, id, inline(b.Text), b.Level)
	case Paragraph:
		class := ""
		if b.Key {
			class = ` class="key"`
		} else if b.Aside {
			class = ` class="aside"`
		}
		h.printf("<p%s>%s</p>\n", class, inline(b.Text))
	case List:
		tag := "ul"
		if b.Ordered {
			tag = "ol"
		}
		h.printf("<%s>\n", tag)
		for _, item := range b.Items {
			h.printf("<li>%s</li>\n", inline(item))
		}
		h.printf("</%s>\n", tag)
	case Facts:
		h.printf("<dl>\n")
		for _, f := range b {
			h.printf("<dt>%s</dt><dd>%s</dd>\n", inline(Rich(f.Term)), inline(f.Text))
		}
		h.printf("</dl>\n")
	case Formula:
		h.printf("<div class=\"formula\">\n")
		for _, line := range b.Lines {
			class := ""
			if strings.HasPrefix(strings.TrimSpace(line), "=") {
				class = ` class="on"`
			}
			h.printf("<div%s>%s</div>\n", class, formula.Parse(line).MathML(true))
		}
		h.printf("</div>\n")
	case Table:
		h.table(b)
	case Figure:
		h.figures++
		name := fmt.Sprintf("figure-%d", h.figures)
		h.printf("<figure>\n%s", svg(b, name))
		h.printf("<figcaption><b>Figure %d.</b> %s</figcaption>\n</figure>\n", h.figures, inline(b.Caption))
	}
}

func (h *htmlWriter) table(t Table) {
	name, caption := `aria-label="table"`, ""
	if len(t.Caption) > 0 {
		h.tables++
		name = fmt.Sprintf("aria-labelledby=\"table-%d\"", h.tables)
		caption = fmt.Sprintf("<caption id=\"table-%d\"><span><b>Table %[1]d.</b> %s</span></caption>\n", h.tables, inline(t.Caption))
	}
	// The frame can be moved by the keyboard where it is narrower than the table.
	class := "wide"
	if len(t.Rows) <= shortTable {
		class += " short" // it is not parted in print
	}
	h.printf("<div class=\"%s\" role=\"region\" tabindex=\"0\" %s>\n<table>\n%s<thead><tr>", class, name, caption)
	for _, c := range t.Columns {
		h.printf("<th scope=\"col\"%s>%s</th>", flush(c), inline(c.Head))
	}
	h.printf("</tr></thead>\n<tbody>\n")
	for _, r := range t.Rows {
		h.printf("<tr>")
		for i, cell := range r.Cells {
			text := inline(cell)
			if r.Struck && text != "" {
				text = "<s>" + text + "</s>"
				if i == 0 {
					text = `<span class="hidden">struck: </span>` + text
				}
			}
			if i == 0 && t.Headed {
				h.printf("<th scope=\"row\"%s>%s</th>", flush(t.Columns[i]), text)
				continue
			}
			h.printf("<td%s>%s</td>", flush(t.Columns[i]), text)
		}
		h.printf("</tr>\n")
	}
	h.printf("</tbody>\n</table>\n</div>\n")
	if len(t.Notes) > 0 {
		h.printf("<ul class=\"notes\">\n")
		for _, n := range t.Notes {
			h.printf("<li>%s</li>\n", inline(Join(Plain(n.Mark+" "), n.Text)))
		}
		h.printf("</ul>\n")
	}
}

func flush(c Column) string {
	if c.Number {
		return ` class="n"`
	}
	return ""
}

// escape makes a text harmless in HTML, in an attribute too.
func escape(text string) string {
	return html.EscapeString(strings.ToValidUTF8(strings.Map(func(r rune) rune {
		// What HTML itself does not take; the rest is the record's business.
		if r < ' ' && r != '\n' && r != '\t' || r >= 0x7f && r < 0xa0 || r == 0xfffe || r == 0xffff {
			return -1
		}
		return r
	}, text), ""))
}

// inline writes spans.
func inline(spans []Span) string {
	var b strings.Builder
	for _, s := range spans {
		var open, close string
		wrap := func(on bool, tag, attributes string) {
			if on {
				open += "<" + tag + attributes + ">"
				close = "</" + tag + ">" + close
			}
		}
		wrap(s.Style&Struck != 0, "s", "")
		wrap(s.Style&Strong != 0, "strong", "")
		wrap(s.Style&Typed != 0, "bdi", "")
		wrap(s.Style&Variable != 0, "var", "")
		wrap(s.Value != "", "data", ` value="`+escape(s.Value)+`"`)
		b.WriteString(open)
		if s.Style&Typed != 0 {
			b.WriteString(escape(s.Text))
		} else {
			for _, p := range pieces(s.Text, s.Style&Variable != 0) {
				switch p.at {
				case below:
					b.WriteString("<sub>" + escape(p.text) + "</sub>")
				case above:
					b.WriteString("<sup>" + escape(p.text) + "</sup>")
				default:
					b.WriteString(escape(p.text))
				}
			}
		}
		b.WriteString(close)
	}
	return b.String()
}
