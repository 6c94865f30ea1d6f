package document

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"

	"gonum.org/v1/plot/vg"
	"pgregory.net/rapid"
)

// pdfOf is the PDF with its streams as they are, so that a test can read them.
func pdfOf(t testing.TB, d Document) string {
	t.Helper()
	return mustString(t, func(b *strings.Builder) error { return pdf(b, d, form{embed: true}) })
}

// shownText is a text on a page: where its base line begins, in points from
// the lower left, and at what size.
type shownText struct {
	x, y, size float64
	text       string
}

var (
	streams = regexp.MustCompile(`(?s)<<[^>]*/Length (\d+)>>\nstream\n`)
	fontSet = regexp.MustCompile(`^BT /F\S+ ([0-9.]+) Tf ET`)
	textSet = regexp.MustCompile(`^BT ([-0-9.]+) ([-0-9.]+) Td \(`)
)

// pagesOf reads the texts of every page in the order in which they were set.
func pagesOf(t testing.TB, file string) [][]shownText {
	t.Helper()
	var pages [][]shownText
	wide := strings.Contains(file, "/Identity-H")
	for _, m := range streams.FindAllStringSubmatchIndex(file, -1) {
		n, err := strconv.Atoi(file[m[2]:m[3]])
		if err != nil || m[1]+n > len(file) {
			t.Fatalf("a stream's length is %q", file[m[2]:m[3]])
		}
		body := file[m[1] : m[1]+n]
		if !strings.Contains(body, " Tf ET") && !strings.Contains(body, " Td (") {
			continue // a font
		}
		if strings.Contains(body, "beginbfrange") || strings.Contains(body, "glyf") {
			continue
		}
		var page []shownText
		size := 0.0
		for at := strings.Index(body, "BT "); at >= 0; {
			head := body[at:min(at+80, len(body))]
			if f := fontSet.FindStringSubmatch(head); f != nil {
				size, _ = strconv.ParseFloat(f[1], 64)
			}
			at += 3
			if m := textSet.FindStringSubmatch(head); m != nil {
				x, _ := strconv.ParseFloat(m[1], 64)
				y, _ := strconv.ParseFloat(m[2], 64)
				at += len(m[0]) - 3
				end := at // a text may hold anything, a line's end too
				for end < len(body) && body[end] != ')' {
					if body[end] == '\\' {
						end++
					}
					end++
				}
				page = append(page, shownText{x, y, size, decode(body[at:end], wide)})
				at = end
			}
			next := strings.Index(body[at:], "BT ")
			if next < 0 {
				break
			}
			at += next
		}
		pages = append(pages, page)
	}
	return pages
}

// decode reads a string with the escapes of a PDF: of UTF-16 where it is wide,
// as with embedded fonts, else of one byte for a sign.
func decode(s string, wide bool) string {
	var raw []byte
	for i := 0; i < len(s); i++ {
		c := s[i]
		if c == '\\' && i+1 < len(s) {
			i++
			c = s[i]
			if c == 'r' {
				c = '\r'
			}
		}
		raw = append(raw, c)
	}
	if !wide {
		return string(raw)
	}
	var units []uint16
	for i := 0; i+1 < len(raw); i += 2 {
		units = append(units, uint16(raw[i])<<8|uint16(raw[i+1]))
	}
	return string(utf16.Decode(units))
}

// textOf is everything a page shows.
func textOf(page []shownText) string {
	var b strings.Builder
	for _, t := range page {
		b.WriteString(t.text)
		b.WriteByte(' ')
	}
	return b.String()
}

func TestPDFDeterministic(t *testing.T) {
	var first bytes.Buffer
	if err := PDF(&first, sample("Ada Morrow")); err != nil {
		t.Fatal(err)
	}
	for range 5 {
		var again bytes.Buffer
		if err := PDF(&again, sample("Ada Morrow")); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(first.Bytes(), again.Bytes()) {
			t.Fatal("the same document gives other bytes the second time")
		}
	}
	if !bytes.HasPrefix(first.Bytes(), []byte("%PDF-")) {
		t.Errorf("it begins with %q", first.Bytes()[:8])
	}
}

func TestPDFText(t *testing.T) {
	pages := pagesOf(t, pdfOf(t, sample("Ada Morrow")))
	if len(pages) < 3 {
		t.Fatalf("%d pages, want 3 or more: the sample has a long table", len(pages))
	}
	all := ""
	for _, p := range pages {
		all += textOf(p)
	}
	for _, want := range []string{"A sample", "Ada Morrow", "Ω", "µ", "θ", "√", "‖", "G", "±", "−5", fmt.Sprintf("page %d of %d", len(pages), len(pages))} {
		if !strings.Contains(all, want) {
			t.Errorf("the pages do not show %q", want)
		}
	}
	// The head of the long table is on every page that has its rows.
	for n, p := range pages {
		if s := textOf(p); strings.Contains(s, "row of a long table") && !strings.Contains(s, "Value") {
			t.Errorf("page %d has rows of the table and not its head", n+1)
		}
	}
}

// fits reports what of a page lies outside what may be printed on.
func fits(page []shownText, m *metrics) string {
	for _, s := range page {
		w := m.measure(serif, s.size, s.text) * 0.8 // of the narrowest face
		if s.x < left-20 || s.x+w > pageWidth-right+20 || s.y < 40 || s.y > pageHeight-40 {
			return fmt.Sprintf("%.40q at %.1f, %.1f", s.text, s.x, s.y)
		}
	}
	return ""
}

func TestPDFHostile(t *testing.T) {
	m, err := newMetrics()
	if err != nil {
		t.Fatal(err)
	}
	for _, text := range hostile {
		t.Run(fmt.Sprintf("%.20q", text), func(t *testing.T) {
			for n, p := range pagesOf(t, pdfOf(t, sample(text))) {
				if why := fits(p, m); why != "" {
					t.Fatalf("page %d: outside the page: %s", n+1, why)
				}
				for _, s := range p {
					if i := strings.IndexFunc(s.text, func(r rune) bool { return r < ' ' || r >= 0x7f && r < 0xa0 || r >= 0x202a && r <= 0x202e }); i >= 0 {
						t.Fatalf("page %d: a control character in %.40q", n+1, s.text[i:])
					}
				}
			}
		})
	}
}

// TestPDFMissing: a character that no face has is shown to be missing, and the
// document says so.
func TestPDFMissing(t *testing.T) {
	doc := Document{Title: "T", Blocks: []Block{Paragraph{Text: Said("中 \u05d0 e\u0301 ok")}}}
	s := ""
	for _, p := range pagesOf(t, pdfOf(t, doc)) {
		s += textOf(p)
	}
	if !strings.Contains(s, "□ □ e ok") || !strings.Contains(s, "does not have") {
		t.Errorf("the page shows %q; want □ for what is missing, and a word about it", s)
	}
	doc.Blocks = []Block{Paragraph{Text: Said("all there")}}
	if s := textOf(pagesOf(t, pdfOf(t, doc))[0]); strings.Contains(s, "does not have") {
		t.Errorf("nothing is missing and the page says %q", s)
	}
}

// TestPDFPages holds any document to the rules of the page: nothing outside
// it, no page without matter, no heading at its end, a table's head above its
// rows.
func TestPDFPages(t *testing.T) {
	m, err := newMetrics()
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(rt *rapid.T) {
		d := anyDocument(rt)
		// Headings one after the other are nobody's; here each has matter.
		for i := 0; i+1 < len(d.Blocks); i++ {
			_, a := d.Blocks[i].(Heading)
			_, b := d.Blocks[i+1].(Heading)
			if a && b {
				d.Blocks[i] = Paragraph{Text: Plain("between")}
			}
		}
		pages := pagesOf(t, mustString(t, func(b *strings.Builder) error { return pdf(b, d, form{}) }))
		if len(pages) == 0 {
			rt.Fatal("there is no page")
		}
		for n, p := range pages {
			if why := fits(p, m); why != "" {
				rt.Fatalf("page %d: outside the page: %s", n+1, why)
			}
			var matter []shownText
			figure := n > 0
			for _, s := range p {
				if s.text != "running" && !strings.HasPrefix(s.text, "page ") {
					matter = append(matter, s)
				}
			}
			if len(matter) == 0 {
				rt.Fatalf("page %d of %d is empty (figure %v)", n+1, len(pages), figure)
			}
			if last := matter[len(matter)-1]; last.text == "HEAD" || strings.Contains(last.text, "COLUMN") {
				rt.Fatalf("page %d ends with a heading", n+1)
			}
		}
	})
}

// TestPDFElsewhere lets programs that nobody here wrote read the document.
func TestPDFElsewhere(t *testing.T) {
	tool := func(name string) string {
		path, err := exec.LookPath(name)
		if err != nil && os.Getenv("HALVE_PDF_TOOLS") == "required" {
			t.Fatalf("%s is not on the PATH", name)
		}
		return path
	}
	qpdf, totext := tool("qpdf"), tool("pdftotext")
	file := filepath.Join(t.TempDir(), "sample.pdf")
	f, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := PDF(f, sample("Ada Morrow")); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	if qpdf != "" {
		if out, err := exec.Command(qpdf, "--check", file).CombinedOutput(); err != nil {
			t.Errorf("qpdf --check: %v\n%s", err, out)
		}
	}
	if totext != "" {
		out, err := exec.Command(totext, file, "-").Output()
		if err != nil {
			t.Fatalf("pdftotext: %v", err)
		}
		for _, want := range []string{"Ω", "µ", "θ", "Ada Morrow", "−5"} {
			if !strings.Contains(string(out), want) {
				t.Errorf("pdftotext does not find %q", want)
			}
		}
	}
	if qpdf == "" && totext == "" {
		t.Skip("neither qpdf nor pdftotext is on the PATH")
	}
}

func TestFit(t *testing.T) {
	m, err := newMetrics()
	if err != nil {
		t.Fatal(err)
	}
	// Words and a long one, set at any width: nothing is lost and nothing is
	// wider than the line, but for a line of one character.
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.StringOfN(rapid.RuneFrom([]rune("abcΩ−1")), 1, 30, -1)
		in := strings.Join(rapid.SliceOfN(word, 1, 12).Draw(t, "words"), " ")
		w := rapid.Float64Range(1, 200).Draw(t, "width")
		out := ""
		for _, l := range m.lines(Plain(in), w, bodyLook) {
			s := ""
			for _, r := range l.runs {
				s += r.text
			}
			if l.width > w+0.01 && len([]rune(s)) > 1 {
				t.Fatalf("%q is %.1f wide, the line %.1f", s, l.width, w)
			}
			out += s
		}
		if got, want := strings.ReplaceAll(out, " ", ""), strings.ReplaceAll(Text(Plain(in)), " ", ""); got != want {
			t.Fatalf("of %q came %q", want, got)
		}
	})
}

// TestCanvas holds the transforms to what vg says they are: those of the SVG
// writer, which nobody here wrote, by the place of a point.
func TestCanvas(t *testing.T) {
	p := printer{}
	c := &canvas{p: &p, now: state{a: 1, d: -1, e: 100, f: 500}}
	c.Translate(vg.Point{X: 10, Y: 20}) // origin at 110, 480
	if x, y := c.at(vg.Point{X: 1, Y: 2}); x != 111 || y != 478 {
		t.Errorf("after a translation the point is at %g, %g; want 111, 478", x, y)
	}
	c.Scale(2, 3)
	if x, y := c.at(vg.Point{X: 1, Y: 2}); x != 112 || y != 474 {
		t.Errorf("after a scale it is at %g, %g; want 112, 474", x, y)
	}
	c.now = state{a: 1, d: -1, e: 100, f: 500}
	c.Rotate(1.5707963267948966) // a quarter turn, counter-clockwise: x goes up
	if x, y := c.at(vg.Point{X: 10, Y: 0}); x < 99.999 || x > 100.001 || y < 489.999 || y > 490.001 {
		t.Errorf("after a quarter turn it is at %g, %g; want 100, 490", x, y)
	}
	if c.now.turn < 89.999 || c.now.turn > 90.001 { // as fpdf turns text: counter-clockwise, degrees
		t.Errorf("text is turned by %g degrees, want 90", c.now.turn)
	}
}
