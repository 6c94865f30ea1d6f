package debrief

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/bench/live"
	"example.org/halve/procedure"
)

// mark begins the notes that the simulated bench writes into a record.
const mark = "simulated bench: "

// Examination is what the record keeps of a practice in which the guide is
// switched off.
const Examination = mark + "an examination, the guide was switched off"

// IsExamination reports whether a record was begun as an examination.
func IsExamination(events []procedure.Event) bool {
	return slices.ContainsFunc(events, func(e procedure.Event) bool {
		n, ok := e.Body.(procedure.Note)
		return ok && n.Text == Examination
	})
}

// ByBench reports whether a note was written by the simulated bench and not by
// a person.
func ByBench(n procedure.Note) bool { return strings.HasPrefix(n.Text, mark) }

// How notes on the needle and on the source begin, behind the mark.
const (
	needleWas     = "the needle was "
	sourceWas     = "the source was "
	shortedByLead = sourceWas + "short-circuited when a lead was moved"
)

// putRight ends the note on a fault that was found and mended.
const putRight = " was found and put right"

// Mended is what the record keeps of a fault that was found on a simulated
// bench and mended, so that it is sound when the practice is resumed.
func Mended(id string) string { return mark + id + putRight }

// tapped reports whether the needle went past the last mark on a tap with
// something in the series box, which is the way to find out.
func tapped(what string) bool {
	_, r, ok := strings.Cut(what, " was tapped with R at ")
	return ok && !strings.HasPrefix(r, ohms(0))
}

// mended is the fault that a note is about, "" for another note.
func mended(text string) string {
	if what, ok := strings.CutPrefix(text, mark); ok {
		if id, ok := strings.CutSuffix(what, putRight); ok {
			return id
		}
	}
	return ""
}

// PutRight lists the faults that were found and mended, as Mended noted them.
func PutRight(events []procedure.Event) []string {
	var out []string
	for _, e := range events {
		if n, ok := e.Body.(procedure.Note); ok {
			if id := mended(n.Text); id != "" {
				out = append(out, id)
			}
		}
	}
	return out
}

// Note is what the record keeps of a happening; ok is false for what is only
// said.
func Note(h live.Happening, stated apparatus.Bench) (text string, ok bool) {
	switch h.Kind {
	case live.Pegged, live.Shorted:
		return mark + what(h, stated), true
	case live.Mended:
		return Mended(h.Fault), true
	}
	return "", false
}

// Words says what has happened at a bench, and what is to be done about it.
func Words(h live.Happening, stated apparatus.Bench) string {
	text := what(h, stated) + ". "
	switch h.Kind {
	case live.Pegged:
		switch {
		case backwards(h, stated):
			return text + "Open K1: the leads of the source are the wrong way round."
		case h.SeriesOhm == 0:
			return text + "Open K1 at once: at a real bench the pointer bends, or the coil burns. Put the whole series box in before the first touch."
		case h.Act.Do == live.Open && h.Act.Key == live.K2:
			return text + "Open K1 at once. The shunt had hidden how large the current was: open K2 before the series box is changed."
		case h.Act.Do == live.Tap:
			return text + "That is what a tap is for: it was over before harm was done. More in the series box before K1 is held."
		}
		return text + "Open K1 at once: at a real bench the pointer bends. More in the series box, and where nothing is proven only a tap of K1."
	case live.Touched:
		return text + "Nothing is broken by it; a somewhat smaller deflection stays clear of the stop."
	case live.SetUnderCurrent:
		return text + "Open K1 first: on the way from one value to another a box can stand at anything."
	case live.K2LeftClosed:
		return text + "Open K2 first, then K1, so that the shunt hides nothing."
	case live.Shorted:
		return text + "Open it at once: the cell grows hot and is spoilt, thin leads burn."
	}
	return text
}

// backwards reports whether a needle was driven below a left zero.
func backwards(h live.Happening, stated apparatus.Bench) bool {
	return !h.Right && !stated.Galvanometer.Centre()
}

// what says what has happened, by which act.
func what(h live.Happening, stated apparatus.Bench) string {
	switch h.Kind {
	case live.Pegged:
		if backwards(h, stated) {
			return needleWas + "driven below zero " + because(h)
		}
		text := needleWas + "driven past the last mark on the " + side(h.Right) + " " + because(h)
		if h.Times > 1.5 {
			text += ", " + factor(h.Times) + " times full scale"
		}
		return text
	case live.Touched:
		return "the first swing met the end stop on the " + side(h.Right) + " " + because(h)
	case live.SetUnderCurrent:
		return "a plug or dial was moved with K1 closed"
	case live.K2LeftClosed:
		return "K1 was opened with K2 still closed"
	case live.Shorted:
		if h.Act.Do == live.Join {
			return shortedByLead
		}
		return sourceWas + "short-circuited " + because(h) + " and S at " + ohms(h.ShuntOhm)
	case live.Mended:
		return h.Fault + putRight
	}
	return ""
}

func side(right bool) string {
	if right {
		return "right"
	}
	return "left"
}

// factor writes how many times something is, in two figures.
func factor(x float64) string {
	if math.IsNaN(x) || x >= 1000 {
		return "more than a thousand"
	}
	if x >= 10 {
		return strconv.FormatFloat(math.Round(x), 'f', -1, 64)
	}
	return fmt.Sprintf("%.1f", x)
}

// because says by which act, and how the series box stood.
func because(h live.Happening) string { return by(h.Act) + " with R at " + ohms(h.SeriesOhm) }

// by says by which act.
func by(a live.Act) string {
	k := "K1"
	if a.Key == live.K2 {
		k = "K2"
	}
	switch a.Do {
	case live.Close:
		return "when " + k + " was closed"
	case live.Open:
		return "when " + k + " was opened"
	case live.Tap:
		return "when " + k + " was tapped"
	case live.Turn:
		return "when a box was changed"
	case live.Join:
		return "when a lead was moved"
	case live.Screw:
		return "when the zero screw was turned"
	case live.Knock:
		return "when the case was tapped"
	case live.LookedOver:
		return "when a fault was mended"
	}
	return "at the beginning"
}
