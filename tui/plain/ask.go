package plain

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"example.org/halve/procedure"
)

// A question stands on a line of its own. Every word of command works at every
// question; a question that is not the main one is then asked again, so that
// nothing that was typed before it is lost.
type question struct {
	text string
	here string // what is expected here, for help
	// before is said before the question each time it is asked.
	before []string
	// kind is the word that leads here: zero 0.5 at the question for the zero
	// is the answer 0.5. Bare, the word alone is the answer yes.
	kind string
	bare bool
	// words are answers here and no words of command.
	words []string
	// free is a question whose answer may be any text: only a word of command
	// that stands alone is one, or a note; in quotes it is not.
	free bool
	main bool // for the event that the counsel asks for
}

// mostNested bounds the questions that wait while another is asked.
const mostNested = 4

// ask puts a question and returns the answer, free of harmful text. It returns
// errLeave where the person leaves and, from the main question, errTurn where
// a word of command was carried out.
func (d *dialogue) ask(q question) (string, error) {
	d.put(q)
	for {
		line, err := d.line()
		if err != nil {
			return "", err
		}
		word, rest := cut(line)
		switch {
		case q.free && quoted(line):
			return strings.TrimSpace(line[1 : len(line)-1]), nil
		case q.free && rest != "" && word != "note", slices.Contains(q.words, word):
			return line, nil
		case word != "" && word == q.kind && q.bare && rest == "":
			return "yes", nil
		case word != "" && word == q.kind && rest != "":
			return rest, nil
		case word != "" && word == q.kind:
			d.put(q)
			continue
		}
		known, err := d.command(q, word, rest)
		switch {
		case err != nil:
			return "", err
		case !known:
			return line, nil
		case q.main:
			return "", errTurn
		}
		d.put(q)
	}
}

func (d *dialogue) put(q question) {
	for _, l := range q.before {
		d.print(l)
	}
	d.print(q.text)
}

// quoted reports whether a line stands in quotes.
func quoted(line string) bool {
	return len(line) >= 2 && line[0] == '"' && line[len(line)-1] == '"'
}

// line reads what is typed next.
func (d *dialogue) line() (string, error) {
	for {
		if d.write != nil {
			return "", errLeave
		}
		raw, tooLong, err := procedure.ReadLine(d.in)
		switch {
		case errors.Is(err, io.EOF):
			return "", errLeave
		case err != nil:
			return "", fmt.Errorf("the input cannot be read: %w", err)
		case !tooLong:
			return procedure.CleanText(string(raw), len(raw)), nil
		}
		d.say("That line is longer than %d characters and was passed over. Type it shorter.", procedure.MaxLine)
	}
}

// confirm asks whether a word of command is meant; anything but yes is no.
func (d *dialogue) confirm(word, text string) (bool, error) {
	line, err := d.ask(question{text: text, here: "Here yes or no is expected.", kind: word})
	return yes(line), err
}

// aside asks a question beside the main one, unless too many wait already.
func (d *dialogue) aside(f func() error) error {
	if d.nested == mostNested {
		d.say("Answer the question first, or type back to leave it.")
		return nil
	}
	d.nested++
	defer func() { d.nested-- }()
	return f()
}

// cut takes the first word off a line, in small letters and without a mark
// that ends a sentence.
func cut(line string) (word, rest string) {
	word, rest, _ = strings.Cut(line, " ")
	return strings.TrimRight(strings.ToLower(word), ".:!,"), strings.TrimSpace(rest)
}

// say writes one line, with every sign in words.
func (d *dialogue) say(format string, a ...any) { d.print(spell(fmt.Sprintf(format, a...))) }

// print writes one line as it is, save what could harm the terminal.
func (d *dialogue) print(line string) {
	if d.write == nil {
		_, d.write = fmt.Fprintln(d.Out, procedure.CleanText(line, len(line)))
	}
}
