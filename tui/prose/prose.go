// Package prose sets Markdown, as the notes are written in, into lines of
// text for a page of the screens or for paper. Goldmark reads it; what is set
// here is what the notes use: headings, paragraphs, lists, quotations, tables,
// code and emphasis. Anything else is set as its text.
package prose

import (
	"fmt"
	"strings"

	"github.com/charmbracelet/lipgloss"
	"github.com/charmbracelet/x/ansi"
	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	tables "github.com/yuin/goldmark/extension/ast"
	"github.com/yuin/goldmark/text"
	"github.com/yuin/goldmark/util"

	"example.org/halve/tui/draw"
	"example.org/halve/tui/theme"
)

// Lines sets markdown into lines of at most w cells, in the styles and signs
// of t. Colour strengthens headings and emphasis; the text alone says the
// same. Nothing is cut: what is too long is broken. Less than one cell, or no
// text, makes no lines. Markdown is read afresh at each call, which takes
// about a millisecond for a page: keep the lines.
func Lines(markdown string, w int, t *theme.Theme) []string {
	if w < 1 {
		return nil
	}
	source := []byte(markdown)
	doc := goldmark.New(goldmark.WithExtensions(extension.Table)).Parser().Parse(text.NewReader(source))
	s := setter{source: source, t: t}
	s.blocks(doc, w, true)
	return s.lines
}

// setter sets a document line by line.
type setter struct {
	source []byte
	t      *theme.Theme
	lines  []string
}

// word is a piece of text without a blank in it. One that is joined to the
// one before has no blank between them.
type word struct {
	text   string
	style  *lipgloss.Style
	joined bool
	broken bool // a line ends after it
}

// blocks sets the children of a block; apart from one another by an empty
// line unless they are close together, as in a list.
func (s *setter) blocks(parent ast.Node, w int, apart bool) {
	for n := parent.FirstChild(); n != nil; n = n.NextSibling() {
		if apart && len(s.lines) > 0 {
			s.lines = append(s.lines, "")
		}
		s.block(n, w)
	}
}

func (s *setter) block(n ast.Node, w int) {
	switch n := n.(type) {
	case *ast.Heading:
		s.wrap(s.words(n, &s.t.Title), w)
		if n.Level == 1 {
			s.lines = append(s.lines, s.t.Rule.Render(strings.Repeat(s.t.Signs.Across, w)))
		}
	case *ast.List:
		s.list(n, w)
	case *ast.Blockquote:
		s.indented(n, s.t.Rule.Render(s.t.Signs.Down)+" ", s.t.Rule.Render(s.t.Signs.Down)+" ", 2, w, true)
	case *ast.FencedCodeBlock, *ast.CodeBlock:
		s.code(n, w)
	case *ast.ThematicBreak:
		s.lines = append(s.lines, s.t.Rule.Render(strings.Repeat(s.t.Signs.Across, w)))
	case *tables.Table:
		s.table(n, w)
	case *ast.HTMLBlock:
		// Comments and the like; the notes say nothing in HTML.
	default:
		s.wrap(s.words(n, nil), w)
	}
}

// list sets the items of a list, each with its mark.
func (s *setter) list(n *ast.List, w int) {
	number := n.Start
	for item := n.FirstChild(); item != nil; item = item.NextSibling() {
		mark := "- "
		if n.IsOrdered() {
			mark = fmt.Sprintf("%d. ", number)
			number++
		}
		if item != n.FirstChild() && !n.IsTight {
			s.lines = append(s.lines, "")
		}
		s.indented(item, mark, strings.Repeat(" ", len(mark)), len(mark), w, !n.IsTight)
	}
}

// indented sets a block within another, after the given lead of so many
// cells: first on its first line, rest on the others.
func (s *setter) indented(n ast.Node, first, rest string, cells, w int, apart bool) {
	if w <= cells {
		first, rest, cells = "", "", 0
	}
	inner := setter{source: s.source, t: s.t}
	inner.blocks(n, w-cells, apart)
	for i, line := range inner.lines {
		lead := rest
		if i == 0 {
			lead = first
		}
		s.lines = append(s.lines, strings.TrimRight(lead+line, " "))
	}
}

// code sets lines as they stand, a formula for instance; one that is too long
// is broken.
func (s *setter) code(n ast.Node, w int) {
	lead := "  "
	if w < 20 {
		lead = ""
	}
	for i := range n.Lines().Len() {
		at := n.Lines().At(i)
		line := strings.TrimRight(strings.ReplaceAll(string(at.Value(s.source)), "\t", "    "), " \r\n")
		inner := strings.TrimLeft(line, " ")
		indent := strings.Repeat(" ", min(len(line)-len(inner), max(w-len(lead)-1, 0)))
		for _, piece := range draw.Wrap(s.t.Signs.Say(inner), w-len(lead)-len(indent)) {
			s.lines = append(s.lines, lead+indent+s.t.Value.Render(piece))
		}
		if inner == "" {
			s.lines = append(s.lines, "")
		}
	}
}

// table sets a table in columns, or where it is too wide row by row, each
// cell after the head of its column.
func (s *setter) table(n *tables.Table, w int) {
	const gap = 2
	var rows [][]string
	for r := n.FirstChild(); r != nil; r = r.NextSibling() {
		var row []string
		for c := r.FirstChild(); c != nil; c = c.NextSibling() {
			row = append(row, plain(s.words(c, nil)))
		}
		rows = append(rows, row)
	}
	widths := make([]int, len(rows[0]))
	total := -gap
	for i := range widths {
		for _, row := range rows {
			widths[i] = max(widths[i], draw.Width(row[i]))
		}
		total += widths[i] + gap
	}
	for i, row := range rows {
		if total <= w {
			var line strings.Builder
			for j, c := range row {
				line.WriteString(draw.Pad(c, widths[j]+gap))
			}
			text := strings.TrimRight(line.String(), " ")
			if i == 0 {
				text = s.t.Title.Render(text)
			}
			s.lines = append(s.lines, text)
			continue
		}
		if i == 0 {
			continue
		}
		var parts []string
		for j, c := range row {
			if c == "" {
				continue
			}
			if rows[0][j] != "" {
				c = rows[0][j] + ": " + c
			}
			parts = append(parts, c)
		}
		for j, line := range draw.Wrap(strings.Join(parts, "; "), max(w-2, 1)) {
			lead := "- "
			if j > 0 {
				lead = "  "
			}
			if w < 3 {
				lead = ""
			}
			s.lines = append(s.lines, lead+line)
		}
	}
}

// words collects the words of a block's text; style is that of the block.
func (s *setter) words(block ast.Node, style *lipgloss.Style) []word {
	var out []word
	joined := false
	add := func(text string, style *lipgloss.Style) {
		text = strings.ReplaceAll(s.t.Signs.Say(text), "\t", " ") // styles would widen a tab
		for i, piece := range strings.Split(text, " ") {
			if i > 0 {
				joined = false
			}
			if piece != "" {
				out = append(out, word{text: piece, style: style, joined: joined})
				joined = true
			}
		}
	}
	var walk func(n ast.Node, style *lipgloss.Style)
	walk = func(n ast.Node, style *lipgloss.Style) {
		for c := n.FirstChild(); c != nil; c = c.NextSibling() {
			switch c := c.(type) {
			case *ast.Text:
				value := string(c.Segment.Value(s.source))
				if !c.IsRaw() {
					value = unescape(value)
				}
				add(value, style)
				if c.HardLineBreak() && len(out) > 0 {
					out[len(out)-1].broken = true
				}
				if c.SoftLineBreak() || c.HardLineBreak() {
					joined = false
				}
			case *ast.String:
				add(string(c.Value), style)
			case *ast.CodeSpan:
				walk(c, &s.t.Value)
			case *ast.Emphasis:
				walk(c, &s.t.Do)
			case *ast.AutoLink:
				add(string(c.URL(s.source)), style)
			case *ast.RawHTML:
			default:
				walk(c, style)
			}
		}
	}
	walk(block, style)
	return out
}

// unescape resolves the backslashes and the names of characters that goldmark
// leaves to whoever renders.
func unescape(text string) string {
	return string(util.ResolveEntityNames(util.ResolveNumericReferences(util.UnescapePunctuations([]byte(text)))))
}

func plain(words []word) string {
	var b strings.Builder
	for i, w := range words {
		if i > 0 && !w.joined {
			b.WriteByte(' ')
		}
		b.WriteString(w.text)
	}
	return b.String()
}

// wrap sets words into lines. Words that are joined stay together where they
// fit into a line.
func (s *setter) wrap(words []word, w int) {
	var line strings.Builder
	used := 0
	end := func() {
		if used > 0 {
			s.lines = append(s.lines, line.String())
			line.Reset()
			used = 0
		}
	}
	for i := 0; i < len(words); {
		n := i + 1
		cells := draw.Width(words[i].text)
		for ; n < len(words) && words[n].joined && !words[n-1].broken; n++ {
			cells += draw.Width(words[n].text)
		}
		if used > 0 && used+1+cells > w {
			end()
		}
		if used > 0 {
			line.WriteByte(' ')
			used++
		}
		for _, part := range words[i:n] {
			for piece := range strings.SplitSeq(ansi.Hardwrap(part.text, w, true), "\n") { // more than one only where a word is wider than the line
				if used+draw.Width(piece) > w {
					end()
				}
				if part.style != nil {
					line.WriteString(part.style.Render(piece))
				} else {
					line.WriteString(piece)
				}
				used += draw.Width(piece)
			}
		}
		if words[n-1].broken {
			end()
		}
		i = n
	}
	end()
}
