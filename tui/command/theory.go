package command

import (
	"io"
	"strings"

	"example.org/halve/procedure"
	"example.org/halve/procedure/notes"
	"example.org/halve/procedure/report/document"
)

// Theory is the notes, on the screen or on paper.
type Theory struct{ Paper }

// Run shows the notes on a topic, all of them without one.
func (t Theory) Run(d Desk, topic string) error {
	to, err := t.format([]string{"html", "pdf", "md"}, "")
	if err != nil {
		return err
	}
	title, markdown, sections := "Notes on half deflection", notes.All(), 1
	if topic != "" {
		text, ok := notes.Text(topic)
		if !ok {
			return callError("there is no topic %q; the topics are %s", procedure.CleanText(topic, maxWord), topics())
		}
		first, rest, _ := strings.Cut(text, "\n")
		title, markdown, sections = strings.TrimPrefix(first, "# "), rest, 2
	}
	return t.write(d, to == "pdf", "", func(w io.Writer) error {
		switch {
		case to == "" && topic == "":
			return printText(w, markdown)
		case to == "":
			return printText(w, "# "+title+"\n"+markdown)
		}
		return write(w, to, document.Document{Title: title, Running: title, Blocks: document.Read(markdown, sections)})
	})
}

// topics lists the topics in words.
func topics() string {
	var names []string
	for _, t := range notes.Topics() {
		names = append(names, t.Name)
	}
	return strings.Join(names, ", ")
}
