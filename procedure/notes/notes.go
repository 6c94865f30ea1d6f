// Package notes holds what there is to know about the practical, as Markdown
// inside the program: why each step is done, the derivation, precautions,
// sources of error, and what an examiner asks.
//
// The texts are plain CommonMark with tables. A code block marked "formula"
// holds formulas, one a line, in a linear notation that can be read as it
// stands and that the report typesets (package formula). The texts are the
// project's own words; their physics is that of package physics, and a test
// holds the figures in them to it.
package notes

import (
	"embed"
	"strings"

	"example.org/halve/procedure"
)

//go:embed text
var texts embed.FS

// A Topic is one of the notes that can be asked for by name.
type Topic struct {
	Name  string // as typed: lower case, no blanks
	Title string // its heading
}

// stepTopic is the topic that is made of the notes for every step.
const stepTopic = "steps"

// steps are those that have a note, in the order in which they are done.
var steps = [...]procedure.Step{
	procedure.StepBench, procedure.StepWiring, procedure.StepSeries,
	procedure.StepFirst, procedure.StepShunt, procedure.StepResult,
}

// names are the topics in the order in which they are read.
var names = [...]string{
	"derivation", stepTopic, "precautions", "errors", "graph", "questions", "conversions", "meter-check",
}

// Topics lists all topics in the order in which they are read.
func Topics() []Topic {
	out := make([]Topic, len(names))
	for i, name := range names {
		text, _ := Text(name)
		first, _, _ := strings.Cut(text, "\n")
		out[i] = Topic{name, strings.TrimPrefix(first, "# ")}
	}
	return out
}

// Text returns a topic's Markdown; ok is false where there is no such topic.
func Text(name string) (markdown string, ok bool) {
	if name == stepTopic {
		return stepsText(), true
	}
	for _, n := range names {
		if n == name {
			return file(name), true
		}
	}
	return "", false
}

// For returns the Markdown that answers "why?" at a step of the practical,
// "" for a step that has no note.
func For(step procedure.Step) string {
	for _, s := range steps {
		if s == step {
			return file("step-" + string(step))
		}
	}
	return ""
}

// All returns every topic in one text, in the order of Topics.
func All() string {
	var b strings.Builder
	for i, name := range names {
		if i > 0 {
			b.WriteByte('\n')
		}
		text, _ := Text(name)
		b.WriteString(text)
	}
	return b.String()
}

// stepsText is the notes of all steps, one level below a heading of their own.
func stepsText() string {
	var b strings.Builder
	b.WriteString("# The steps, and why each is done\n")
	for _, s := range steps {
		b.WriteString("\n#")
		b.WriteString(For(s))
	}
	return b.String()
}

// file is an embedded text; that it is there is known when the program is
// built and tested.
func file(name string) string {
	b, err := texts.ReadFile("text/" + name + ".md")
	if err != nil {
		return ""
	}
	return string(b)
}
