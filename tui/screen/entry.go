package screen

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/tui/typed"
)

// entry is a kind of thing that can be written down, as the person meets it.
type entry struct {
	kind  entryKind
	name  string // stands before the field
	does  string // in the list of entries
	how   string // how to write it, shown while the field is empty
	typed bool   // whether there is something to type
}

type entryKind int

const (
	enterWired entryKind = iota
	enterSeries
	enterFirst
	enterShunt
	enterShunted
	enterKeep
	enterZero
	enterSource
	enterNote
	enterTemperature
	enterWho
	enterStrike
	enterResistance
	enterMerit
	enterFinish
	enterBench // on a page of its own
	enterCopy  // no event: the copy of the record
)

// entries describes every kind, in the order of the bench.
var entries = []entry{
	{enterWired, "circuit", "the circuit is built and checked", "", false},
	{enterSeries, "series box R", "set the series box", "ohm: 8200, 8.2k, 8k2, or the plugs: 5000+2000+1000+200", true},
	{enterFirst, "first reading", "read with K1 closed, K2 open", "divisions: 24, 23.5, 23 1/2; off if beyond the end", true},
	{enterShunt, "shunt box S", "set the shunt box", "ohm: 95, 82R, or the plugs out: 50+20+20+5", true},
	{enterShunted, "shunted reading", "read with K1 and K2 closed", "divisions: 12, 11.5; what the needle shows, not half of the first", true},
	{enterKeep, "keep the row", "make these readings a row", "", false},
	{enterZero, "zero reading", "where the needle rests, keys open", "divisions, keys open: 0, 0.5, -0.25", true},
	{enterSource, "EMF of the source", "the voltmeter's reading of the source", "volt: 1.52, or 1.52 +- 0.01; add loaded if read with K1 closed", true},
	{enterNote, "note", "anything worth writing down", "any words", true},
	{enterTemperature, "temperature", "of the room, for the note", "°C: 22.5", true},
	{enterWho, "names; group", "whose record this is", "names; group", true},
	{enterStrike, "strike", "strike out an entry; it stays readable", "its number and why: 12 misread; Enter alone strikes the last", true},
	{enterResistance, "G by hand", "check a resistance you worked out", "ohm, as you would hand it in: 90.5, or of one row: 90.5 row 2", true},
	{enterMerit, "k by hand", "check a figure of merit you worked out", "A/div: 1.88e-5, 18.8 uA/div, or of one row: 18.8u row 2", true},
	{enterFinish, "finish", "no more rows", "", false},
	{enterBench, "instruments", "correct what was said of the instruments", "", false},
	{enterCopy, "copy to folder", "copy the record to a folder or stick", "a folder that is there, such as a stick; Enter alone leaves it", true},
}

// hint says how to write the entry at the bench as it is.
func (e entry) hint(b apparatus.Bench) string {
	switch e.kind {
	case enterSeries, enterShunt:
		box := b.SeriesBox
		if e.kind == enterShunt {
			box = b.ShuntBox
		}
		if box.Kind == apparatus.Decade {
			return strings.Split(e.how, ", or the plugs")[0]
		}
	case enterFirst, enterShunted:
		if b.Galvanometer.Centre() {
			return strings.Replace(e.how, ";", ", left of zero -24;", 1)
		}
	case enterZero:
		if !b.Galvanometer.Centre() {
			return e.how + " (below zero)"
		}
	}
	return e.how
}

// entryFor is the kind that writes the event of that name.
func entryFor(event string) (entryKind, bool) {
	kind, ok := map[string]entryKind{
		procedure.KindWired: enterWired, procedure.KindSetSeries: enterSeries, procedure.KindReadFirst: enterFirst,
		procedure.KindSetShunt: enterShunt, procedure.KindReadShunted: enterShunted, procedure.KindKeepRow: enterKeep,
		procedure.KindZero: enterZero, procedure.KindSource: enterSource, procedure.KindFinish: enterFinish,
	}[event]
	return kind, ok
}

// reading is an entry as it was understood: the event it makes, and in words
// how it was read. A nil body with no error means that nothing is there yet.
type reading struct {
	body procedure.Body
	says string
	err  error
}

// sense holds what entries are read by: the boxes, the last entry, and what
// the counsel proposes.
type sense struct {
	galvanometer  apparatus.Galvanometer
	series, shunt *apparatus.Range // nil before the bench is stated
	next          *procedure.Next
	lastSeq       int // the event that undo would strike, 0 if there is none
}

// read says what text means as an entry of that kind.
func (s sense) read(kind entryKind, text string) reading {
	text = strings.TrimSpace(text)
	switch kind {
	case enterWired:
		return reading{body: procedure.Wired{}}
	case enterSeries:
		return s.setting(procedure.KindSetSeries, s.series, text, func(ohm float64, out []float64) procedure.Body {
			return procedure.SeriesSet{Ohm: ohm, TakeOut: out}
		})
	case enterShunt:
		return s.setting(procedure.KindSetShunt, s.shunt, text, func(ohm float64, out []float64) procedure.Body {
			return procedure.ShuntSet{Ohm: ohm, TakeOut: out}
		})
	case enterFirst:
		return s.deflection(text, func(div *float64, off bool) procedure.Body {
			return procedure.FirstRead{Div: div, OffScale: off}
		})
	case enterShunted:
		return s.deflection(text, func(div *float64, off bool) procedure.Body {
			return procedure.ShuntedRead{Div: div, OffScale: off}
		})
	case enterKeep:
		return reading{body: procedure.RowKept{}}
	case enterFinish:
		return reading{body: procedure.Finish{}}
	case enterStrike:
		return s.strike(text)
	}
	if text == "" {
		return reading{}
	}
	switch kind {
	case enterZero:
		v, err := quantity.Parse(text, quantity.Division)
		return reading{procedure.ZeroRead{Div: v}, "rests at " + divisions(v), err}
	case enterSource:
		return readSource(text)
	case enterTemperature:
		v, err := quantity.Parse(text, quantity.Celsius)
		return reading{procedure.Note{Temperature: &v}, quantity.Format(v, quantity.Celsius, 3), err}
	case enterNote:
		return reading{body: procedure.Note{Text: procedure.CleanText(text, len(text))}}
	case enterWho:
		names, group, _ := strings.Cut(text, ";")
		who := procedure.Who{Names: strings.TrimSpace(names), Group: strings.TrimSpace(group)}
		says := "names: " + who.Names
		if who.Group != "" {
			says += "; group: " + who.Group
		}
		return reading{body: who, says: says}
	case enterResistance:
		return readClaim(procedure.ClaimResistance, quantity.Ohm, text)
	case enterMerit:
		return readClaim(procedure.ClaimMerit, quantity.AmperePerDivision, text)
	}
	return reading{}
}

// setting reads a value for a box: an amount, or the plugs that are out. An
// empty entry takes what is proposed.
func (s sense) setting(event string, box *apparatus.Range, text string, body func(float64, []float64) procedure.Body) reading {
	if text == "" {
		if s.next == nil || s.next.Event != event || s.next.Ohm == nil {
			return reading{}
		}
		parts := s.next.TakeOut
		if set, ok := exactly(box, *s.next.Ohm); ok && parts == nil {
			parts = set.Coils
		}
		return reading{body: body(*s.next.Ohm, s.next.TakeOut), says: "Enter takes " + ohms(*s.next.Ohm) + madeBy(box, parts)}
	}
	ohm, plugs, err := typed.Setting(text)
	if err != nil {
		return reading{err: err}
	}
	if plugs != nil {
		return reading{body: body(ohm, plugs), says: ohms(ohm) + madeBy(box, plugs)}
	}
	says := "read as " + ohms(ohm)
	if set, ok := exactly(box, ohm); ok {
		says += madeBy(box, set.Coils)
	}
	return reading{body: body(ohm, nil), says: says}
}

// exactly is the setting of a box that makes a value, if there is one.
func exactly(box *apparatus.Range, ohm float64) (apparatus.Setting, bool) {
	if box == nil {
		return apparatus.Setting{}, false
	}
	return box.Exact(ohm)
}

// madeBy says how a box makes a value: the plugs to take out, or the dials.
func madeBy(box *apparatus.Range, parts []float64) string {
	if len(parts) == 0 {
		if box != nil && box.Box().Kind == apparatus.Decade {
			return ": all dials at nought"
		}
		return ": all plugs in"
	}
	var words []string
	if box == nil || box.Box().Kind == apparatus.Plug {
		if box != nil && len(parts) == len(box.Box().Coils) {
			return ": take out all plugs"
		}
		for _, p := range parts {
			words = append(words, quantity.Style(0).Exact(p, quantity.Number))
		}
		return ": take out " + strings.Join(words, " + ")
	}
	for i := 0; i < len(parts); {
		n := i
		for n < len(parts) && parts[n] == parts[i] {
			n++
		}
		words = append(words, fmt.Sprintf("%d × %s", n-i, quantity.Style(0).Exact(parts[i], quantity.Number)))
		i = n
	}
	return ": dials " + strings.Join(words, ", ")
}

// deflection reads where the needle is.
func (s sense) deflection(text string, body func(*float64, bool) procedure.Body) reading {
	if text == "" {
		return reading{}
	}
	div, off, err := typed.Deflection(text, s.galvanometer)
	switch {
	case err != nil:
		return reading{err: err}
	case off && div == nil:
		return reading{body: body(nil, true), says: "off scale: beyond the end"}
	case off && *div < 0:
		return reading{body: body(div, true), says: "off scale: beyond the left end"}
	case off:
		return reading{body: body(div, true), says: "off scale: beyond the right end"}
	}
	return reading{body: body(div, false), says: "read as " + divisions(*div)}
}

// readSource reads an EMF and says how.
func readSource(text string) reading {
	e, err := typed.Source(text)
	if err != nil {
		return reading{err: err}
	}
	says := "read as " + quantity.Style(0).Exact(e.EMF, quantity.Volt)
	if e.UEMF != nil {
		says += " with standard uncertainty " + quantity.Style(0).Exact(*e.UEMF, quantity.Volt)
	}
	if e.Loaded {
		says += ", K1 closed"
	}
	return reading{body: e, says: says}
}

// readClaim reads a hand-calculated value, of the mean or of one row.
func readClaim(what string, unit quantity.Unit, text string) reading {
	c, err := procedure.ReadClaim(what, text)
	if err != nil {
		return reading{err: err}
	}
	of := " as the mean"
	if c.Row > 0 {
		of = fmt.Sprintf(" for row %d", c.Row)
	}
	return reading{body: c, says: "read as " + quantity.Format(c.Value.Value, unit, 6) + of}
}

// strike reads the number of the event to strike out, and why. Without a
// number it is the last one.
func (s sense) strike(text string) reading {
	first, why, _ := strings.Cut(text, " ")
	n, err := strconv.Atoi(strings.TrimPrefix(first, "#"))
	switch {
	case err != nil && strings.HasPrefix(first, "#"),
		err != nil && first != "" && first[0] >= '0' && first[0] <= '9':
		return reading{err: fmt.Errorf("%s is no number of an entry; write it like this: 12 misread", procedure.CleanText(first, 20))}
	case err != nil:
		n, why = s.lastSeq, text
	}
	if n < 1 && err != nil {
		return reading{err: errors.New("there is nothing to strike yet")}
	}
	return reading{body: procedure.Strike{Event: n, Why: procedure.CleanText(why, len(why))}}
}

// ohms writes a resistance as it is set on a box.
func ohms(v float64) string { return quantity.Style(0).Exact(v, quantity.Ohm) }

// divisions writes a reading.
func divisions(v float64) string { return quantity.Style(0).Exact(v, quantity.Division) }

// bare writes a number of divisions as they stand in a column: no unit, no
// digits that nobody read.
func bare(v float64) string {
	return quantity.Style(0).Exact(math.Round(v*100)/100, quantity.Number)
}

// tenth writes a foreseen number of divisions, which no eye reads finer.
func tenth(v float64) string {
	return quantity.Style(0).Exact(math.Round(v*10)/10, quantity.Number)
}
