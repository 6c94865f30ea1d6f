package debrief

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/bench/live"
	"example.org/halve/procedure"
)

// mark begins the notes that the simulated bench writes into a record.
const mark = "simulated bench: "

// ByBench reports whether a note was written by the simulated bench and not by
// a person.
func ByBench(n procedure.Note) bool { return strings.HasPrefix(n.Text, mark) }

// putRight ends the note on a fault that was found and mended.
const putRight = " was found and put right"

// Mended is what the record keeps of a fault that was found on a simulated
// bench and mended, so that it is sound when the practice is resumed.
func Mended(id string) string { return mark + id + putRight }

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
			return "the needle was driven below zero " + because(h)
		}
		text := "the needle was driven past the last mark on the " + side(h.Right) + " " + because(h)
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
		return "the source was short-circuited " + because(h)
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
func because(h live.Happening) string {
	k := "K1"
	if h.Act.Key == live.K2 {
		k = "K2"
	}
	act := "at the beginning"
	switch h.Act.Do {
	case live.Close:
		act = "when " + k + " was closed"
	case live.Open:
		act = "when " + k + " was opened"
	case live.Tap:
		act = "when " + k + " was tapped"
	case live.Turn:
		act = "when a box was changed"
	case live.Join:
		act = "when a lead was moved"
	case live.Screw:
		act = "when the zero screw was turned"
	case live.Knock:
		act = "when the case was tapped"
	case live.LookedOver:
		act = "when a fault was mended"
	}
	return act + " with R at " + ohms(h.SeriesOhm)
}
