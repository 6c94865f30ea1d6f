package plain

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
)

// inquiry is a row of questions about the instruments.
type inquiry struct {
	voice *voice
	asks  func(question) (string, error)
	typed []string // the answers that were typed
}

// inquire begins one beside the main question.
func (d *dialogue) inquire() inquiry { return inquiry{voice: &d.voice, asks: d.ask} }

// text asks for a line of at most so many characters that may be left out.
func (f *inquiry) text(ask string, limit int) (string, error) {
	q := question{text: ask, here: "Here any text is expected, or Enter.", words: []string{"back", "undo"}, free: true}
	for {
		line, err := f.asks(q)
		if err != nil {
			return "", err
		}
		switch word, rest := cut(line); {
		case (word == "back" || word == "undo") && rest == "":
			return "", errBack
		case utf8.RuneCountInString(line) > limit:
			f.voice.say("Not taken: that has %d characters, at most %d are taken.", utf8.RuneCountInString(line), limit)
			continue
		}
		return line, nil
	}
}

// reply asks for an answer that is no free text.
func (f *inquiry) reply(ask, here string) (string, error) {
	line, err := f.asks(question{text: ask, here: here, words: []string{"back", "undo"}, kind: "bench"})
	if err != nil {
		return "", err
	}
	if word, _ := cut(line); word == "back" || word == "undo" {
		return "", errBack
	}
	return line, nil
}

// amount asks for a quantity until one is typed that check takes. An empty
// line returns ok false: the proposal stands or the value is not known.
func (f *inquiry) amount(name, ask string, unit quantity.Unit, check func(float64) error) (v float64, ok bool, err error) {
	for {
		line, err := f.reply(ask, "Here a value is expected, or Enter, or back.")
		if err != nil || line == "" {
			return 0, false, err
		}
		v, err := quantity.Parse(line, unit)
		if err == nil {
			err = check(v)
		}
		if err == nil {
			f.typed = append(f.typed, name+" "+line)
			return v, true, nil
		}
		f.voice.refuse(err)
	}
}

// known values are proposed; others are left out.
func (f *inquiry) optional(name, ask string, unit quantity.Unit, value **float64, check func(float64) error) error {
	proposal := " Enter if it is not known."
	if *value != nil {
		proposal = fmt.Sprintf(" Enter keeps %s; none if it is not known.", number(**value))
	}
	for {
		line, err := f.reply(ask+proposal, "Here a value is expected, or Enter, or back.")
		if err != nil || line == "" {
			return err
		}
		if *value != nil && strings.EqualFold(line, "none") {
			f.typed = append(f.typed, name+" not known")
			*value = nil
			return nil
		}
		v, err := quantity.Parse(line, unit)
		if err == nil {
			err = check(v)
		}
		if err == nil {
			f.typed = append(f.typed, name+" "+line)
			*value = &v
			return nil
		}
		f.voice.refuse(err)
	}
}

// choose asks for one of a numbered list. The first is proposed, or, where keep
// says what is recorded, that; the answer is then -1.
func (f *inquiry) choose(name, ask string, names []string, keep string) (int, error) {
	for i, n := range names {
		f.voice.say("%d: %s.", i+1, n)
	}
	enter := "Enter takes 1."
	if keep != "" {
		enter = "Enter keeps " + keep + "."
	}
	for {
		line, err := f.reply(spell(ask+" Type a number; "+enter), fmt.Sprintf("Here a number from 1 to %d is expected, or Enter, or back.", len(names)))
		if err != nil {
			return 0, err
		}
		if line == "" && keep != "" {
			return -1, nil
		}
		if line == "" {
			return 0, nil
		}
		n, err := strconv.Atoi(line)
		if err == nil && n >= 1 && n <= len(names) {
			f.typed = append(f.typed, name+": "+names[n-1])
			return n - 1, nil
		}
		f.voice.say("Not taken: type a number from 1 to %d.", len(names))
	}
}

// whose asks whose record it is and records the answer. Both may be left out.
func (f *inquiry) whose(accept func(procedure.Body) bool) error {
	for {
		names, err := f.text("Whose record is this? Type the names, or Enter to leave them out.", procedure.MaxNames)
		if errors.Is(err, errBack) {
			f.voice.say("Nothing is recorded.")
			return nil
		}
		if err != nil {
			return err
		}
		group, err := f.text("Which group or place? Enter leaves it out.", apparatus.MaxLabel)
		if errors.Is(err, errBack) {
			continue
		}
		if names != "" || group != "" {
			accept(procedure.Who{Names: names, Group: group})
		}
		return err
	}
}
