package plain

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"example.org/halve/procedure"
)

// voice is what is said and what is typed, a line at a time. Every dialogue
// has one.
type voice struct {
	in    *bufio.Reader
	out   io.Writer
	write error // the first failure of out
}

// words carries out a word of command; known is false for anything else.
type words func(q question, word, rest string) (known bool, err error)

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

// ask puts a question and returns the answer, free of harmful text. It returns
// errLeave where the person leaves and, from the main question, errTurn where
// a word of command was carried out.
func (v *voice) ask(q question, command words) (string, error) {
	v.put(q)
	for {
		line, err := v.line()
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
			v.put(q)
			continue
		}
		known, err := command(q, word, rest)
		switch {
		case err != nil:
			return "", err
		case !known:
			return line, nil
		case q.main:
			return "", errTurn
		}
		v.put(q)
	}
}

func (v *voice) put(q question) {
	for _, l := range q.before {
		v.print(l)
	}
	v.print(q.text)
}

// quoted reports whether a line stands in quotes.
func quoted(line string) bool {
	return len(line) >= 2 && line[0] == '"' && line[len(line)-1] == '"'
}

// line reads what is typed next.
func (v *voice) line() (string, error) {
	for {
		if v.write != nil {
			return "", errLeave
		}
		raw, tooLong, err := procedure.ReadLine(v.in)
		switch {
		case errors.Is(err, io.EOF):
			return "", errLeave
		case errors.Is(err, io.ErrUnexpectedEOF):
			v.say("The input ended within a line, which may be cut short: it is not taken.")
			return "", errLeave
		case err != nil:
			return "", fmt.Errorf("the input cannot be read: %w", err)
		case !tooLong:
			return procedure.CleanText(string(raw), len(raw)), nil
		}
		v.say("That line is longer than %d characters and was passed over. Type it shorter.", procedure.MaxLine)
	}
}

// cut takes the first word off a line, in small letters and without a mark
// that ends a sentence.
func cut(line string) (word, rest string) {
	word, rest, _ = strings.Cut(line, " ")
	return strings.TrimRight(strings.ToLower(word), ".:!,"), strings.TrimSpace(rest)
}

// say writes one line, with every sign in words.
func (v *voice) say(format string, a ...any) { v.print(spell(fmt.Sprintf(format, a...))) }

// print writes one line as it is, save what could harm the terminal.
func (v *voice) print(line string) {
	if v.write == nil {
		_, v.write = fmt.Fprintln(v.out, procedure.CleanText(line, len(line)))
	}
}

// refuse says why something was not taken, in the words of the bench.
func (v *voice) refuse(err error) { v.say("Not taken: %s.", full(plainly(err.Error()))) }

// sayEvents says everything recorded, with numbers: struck gives the number of
// the strike that is in force on an event, 0 for none, and describe says in a
// few words what it is.
func (v *voice) sayEvents(events []procedure.Event, struck func(seq int) int, describe func(procedure.Body) string) {
	for _, e := range events {
		by := ""
		if n := struck(e.Seq); n != 0 {
			by = fmt.Sprintf(" (struck out by number %d)", n)
		}
		v.say("%d: %s%s.", e.Seq, full(describe(e.Body)), by)
	}
	if len(events) == 0 {
		v.say("Nothing is recorded yet.")
	}
}

// copied takes the answer to the question where the record is to be copied to:
// the end of the dialogue is errLeave.
func (v *voice) copied(answer string, copyTo func(dir string) (string, error)) error {
	switch {
	case answer == "", no(answer):
		return errLeave
	case yes(answer):
		v.say("Type the name of the folder itself, such as that of a stick.")
		return nil
	}
	path, err := copyTo(answer)
	if err != nil {
		v.say("Not copied: %s.", full(err.Error()))
		return nil
	}
	v.print("Copied to " + path)
	return errLeave
}
