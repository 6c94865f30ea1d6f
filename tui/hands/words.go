package hands

import (
	"fmt"
	"strconv"
	"strings"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/bench/live"
	"example.org/halve/physics/fault"
	"example.org/halve/physics/quantity"
)

func keyName(k live.Key) string {
	if k == live.K2 {
		return "K2"
	}
	return "K1"
}

func side(right bool) string {
	if right {
		return "right"
	}
	return "left"
}

func ohms(v float64) string { return quantity.Style(0).Exact(v, quantity.Ohm) }

// plugWords says what was done to a plug or a dial.
func plugWords(name string, ohm float64, n int, dial bool) string {
	switch {
	case dial:
		return fmt.Sprintf("%s: the dial of %s stands at %d", name, ohms(ohm), n)
	case n == 1:
		return fmt.Sprintf("%s: the plug of %s is out, the coil counts", name, ohms(ohm))
	}
	return fmt.Sprintf("%s: the plug of %s is in, the coil does not count", name, ohms(ohm))
}

func thingDoes(i int) string {
	return [...]string{"close or open K1", "close or open K2", "tap the case", "zero screw to the right", "voltmeter"}[i]
}

// voltmeter is what the voltmeter shows across the source.
func (m *Model) voltmeter() string {
	v := m.bench.Voltmeter(m.at)
	how := "K1 open"
	if m.bench.Closed(live.K1) {
		how = "K1 closed: what is left at its terminals"
	}
	return fmt.Sprintf("the voltmeter across the source shows %.2f V, %s", v, how)
}

// lookOver looks over what the hand is on.
func (m *Model) lookOver() string {
	part, name := live.Galvanometer, "the galvanometer"
	switch m.row {
	case seriesRow:
		part, name = live.SeriesBox, "the series box"
	case shuntRow:
		part, name = live.ShuntBox, "the shunt box"
	default:
		switch m.col[keyRow] {
		case thingK1:
			part, name = live.KeyK1, "K1"
		case thingK2:
			part, name = live.KeyK2, "K2"
		case thingCell:
			part, name = live.Cell, "the source"
		}
	}
	m.looked++
	if id := m.bench.LookOver(m.at, part); id != "" {
		return name + ": " + mended(id) + ". Readings taken with it are worth nothing: strike them and take them again"
	}
	if part == live.Galvanometer {
		return name + " is looked over: it is sound in itself. Its zero is seen at the needle, where its leads go at the leads (w)"
	}
	return name + " is looked over: it is sound in itself. Where its leads go is seen at the leads (w)"
}

// mended says what was found and put right.
func mended(id string) string {
	text, ok := map[fault.ID]string{
		fault.NoCurrent:         "a contact did not touch; it is cleaned",
		fault.Scattered:         "a terminal was loose; it is tightened",
		fault.SeriesPlug:        "a plug sat loose, or a dial a step off; it is pressed home",
		fault.ShuntPlug:         "a plug sat loose, or a dial a step off; it is pressed home",
		fault.Leakage:           "it was damp; it is wiped dry",
		fault.ShuntOpen:         "a lead was broken; another is there now",
		fault.ShuntContact:      "a contact had resistance of its own; it is cleaned",
		fault.InnerShunt:        "a shunt was still across its terminals; it is taken off",
		fault.PointerSticks:     "its pivot sticks; the demonstrator brings a sound one of the same kind",
		fault.ScaleUneven:       "its scale was bent; the demonstrator puts it right",
		fault.SourceWeak:        "it was nearly spent; another of the same kind is there now",
		fault.SourceDoubled:     "there were two cells where one was said; one is left",
		fault.SourceRunningDown: "it ran down with every closing; another of the same kind is there now",
	}[fault.ID(id)]
	if !ok {
		return "it is put right"
	}
	return text
}

// coils are the values of a box's coils or dials' steps, and whether it has
// dials.
func coils(b apparatus.Box) (values []float64, dial bool) {
	if b.Kind == apparatus.Decade {
		return b.Dials, true
	}
	return b.Coils, false
}

// short writes a coil's value in at most five signs.
func short(ohm float64) string {
	for _, p := range []struct {
		per  float64
		sign string
	}{{1e6, "M"}, {1e3, "k"}} {
		if ohm >= p.per {
			return strconv.FormatFloat(ohm/p.per, 'g', 3, 64) + p.sign
		}
	}
	return strconv.FormatFloat(ohm, 'g', 3, 64)
}

// pulled lists what a box has in circuit, as it would be written down.
func pulled(values []float64, in []int) string {
	var parts []string
	for i, n := range in {
		switch {
		case n == 0:
		case n > 1:
			parts = append(parts, fmt.Sprintf("%d × %s", n, quantity.Style(0).Exact(values[i], quantity.Number)))
		default:
			parts = append(parts, quantity.Style(0).Exact(values[i], quantity.Number))
		}
	}
	if len(parts) == 0 {
		return "nothing"
	}
	return strings.Join(parts, " + ") + " Ω"
}
