package document

import (
	"bufio"
	"fmt"
	"io"
	"strings"
)

// Markdown writes the document as CommonMark with tables. It can be read as it
// stands. Figures are given by what they say.
func Markdown(w io.Writer, d Document) error {
	m := markdownWriter{w: bufio.NewWriter(w)}
	m.printf("# %s\n", marked(Plain(d.Title), false))
	for _, b := range d.Blocks {
		m.printf("\n")
		m.block(b)
	}
	if m.err != nil {
		return m.err
	}
	return m.w.Flush()
}

// markdownWriter writes and keeps the first failure.
type markdownWriter struct {
	w       *bufio.Writer
	tables  int
	figures int
	err     error
}

func (m *markdownWriter) printf(format string, a ...any) {
	if m.err == nil {
		_, m.err = fmt.Fprintf(m.w, format, a...)
	}
}

func (m *markdownWriter) block(b Block) {
	switch b := b.(type) {
	case Heading:
		m.printf("%s %s\n", strings.Repeat("#", b.Level), marked(b.Text, false))
	case Paragraph:
		lead := ""
		if b.Key {
			lead = "> "
		}
		m.printf("%s%s\n", lead, opening(marked(b.Text, false)))
	case List:
		for i, item := range b.Items {
			mark := "-"
			if b.Ordered {
				mark = fmt.Sprintf("%d.", i+1)
			}
			m.printf("%s %s\n", mark, opening(marked(item, false)))
		}
	case Facts:
		for _, f := range b {
			m.printf("- %s: %s\n", marked(Rich(f.Term), false), marked(f.Text, false))
		}
	case Formula:
		m.printf("```formula\n")
		for _, line := range b.Lines {
			if strings.HasPrefix(line, "=") {
				m.printf("  ")
			}
			m.printf("%s\n", strings.ReplaceAll(line, "```", ""))
		}
		m.printf("```\n")
	case Table:
		m.table(b)
	case Figure:
		m.figures++
		m.printf("**Figure %d.** %s\n", m.figures, marked(b.Caption, false))
		if b.Plain != "" {
			m.printf("\n```text\n%s\n```\n", strings.Trim(b.Plain, "\n"))
		}
		m.printf("\n%s\n", opening(marked(Plain(b.Text), false)))
	}
}

func (m *markdownWriter) table(t Table) {
	if len(t.Caption) > 0 {
		m.tables++
		m.printf("**Table %d.** %s\n\n", m.tables, marked(t.Caption, false))
	}
	m.printf("|")
	for _, c := range t.Columns {
		m.printf(" %s |", marked(c.Head, true))
	}
	m.printf("\n|")
	for _, c := range t.Columns {
		if c.Number {
			m.printf(" ---: |")
		} else {
			m.printf(" --- |")
		}
	}
	m.printf("\n")
	for _, r := range t.Rows {
		m.printf("|")
		for _, cell := range r.Cells {
			text := marked(cell, true)
			if r.Struck && text != "" {
				text = "~~" + strings.ReplaceAll(text, "~~", "") + "~~"
			}
			m.printf(" %s |", text)
		}
		m.printf("\n")
	}
	if len(t.Notes) > 0 {
		m.printf("\n")
	}
	for _, n := range t.Notes {
		m.printf("- %s %s\n", marked(Plain(n.Mark), false), marked(n.Text, false))
	}
}

// special are the characters that mean something in Markdown, besides those
// that do so only at the start of a line.
const special = "\\`*_[]>|~#!"

// marked writes spans. Text that people typed means nothing but itself; a bar
// would end a cell.
func marked(spans []Span, cell bool) string {
	var b strings.Builder
	for _, s := range spans {
		mark := ""
		switch {
		case s.Style&Struck != 0:
			mark = "~~"
		case s.Style&Strong != 0:
			mark = "**"
		case s.Style&Variable != 0:
			mark = "*"
		}
		text := strings.Map(func(r rune) rune {
			if r < ' ' {
				return ' '
			}
			return r
		}, s.Text)
		if mark != "" && strings.TrimSpace(text) == "" {
			mark = ""
		}
		b.WriteString(mark)
		for i, r := range text {
			switch {
			case r == '_' && s.Style&Variable != 0:
				b.WriteRune(r) // within a word it means nothing
				continue
			case r == '<' || r == '&': // whoever reads it, it is no HTML
				b.WriteString(map[rune]string{'<': "&lt;", '&': "&amp;"}[r])
				continue
			case strings.ContainsRune(special, r):
				b.WriteByte('\\')
			case r == ':' && strings.HasPrefix(text[i:], "://"), r == '@' && s.Style&Typed != 0,
				r == '.' && strings.HasSuffix(strings.ToLower(text[:i]), "www"):
				b.WriteByte('\\') // or it would be taken for an address
			}
			b.WriteRune(r)
		}
		b.WriteString(mark)
	}
	text := strings.TrimSpace(b.String())
	if cell && text == "" {
		return " "
	}
	return text
}

// opening keeps the first sign of a paragraph from being taken for the mark of
// a list, a heading or a rule.
func opening(text string) string {
	digits := strings.TrimLeft(text, "0123456789")
	switch {
	case text == "":
	case strings.ContainsRune("-+=", rune(text[0])):
		return `\` + text
	case len(digits) < len(text) && (strings.HasPrefix(digits, ".") || strings.HasPrefix(digits, ")")):
		return text[:len(text)-len(digits)] + `\` + digits
	}
	return text
}
