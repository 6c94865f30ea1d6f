package debrief

import "example.org/halve/physics/fault"

// What says what is wrong on a bench with the fault of a name, as part of a
// sentence; for one that hands cannot have it is the name itself.
func What(id string) string {
	text, ok := map[fault.ID]string{
		fault.NoCurrent:          "a contact does not touch",
		fault.Reversed:           "the source is the wrong way round",
		fault.SeriesBypassed:     "a lead lies across the series box",
		fault.SeriesPlug:         "a plug of the series box loose, or a dial off",
		fault.BoxesExchanged:     "the two boxes are in each other's place",
		fault.ShuntAlreadyClosed: "a lead lies across K2",
		fault.ShuntOpen:          "a lead of the shunt is broken",
		fault.ShuntShorted:       "a lead lies across the shunt box",
		fault.ShuntPlug:          "a plug of the shunt box loose, or a dial off",
		fault.ShuntInSeries:      "the shunt box is in line with the series box",
		fault.ShuntAcrossSeries:  "the shunt lies across the series box",
		fault.ShuntAcrossSource:  "the shunt lies across the source",
		fault.ShuntContact:       "a contact of the shunt has a resistance of its own",
		fault.InnerShunt:         "a shunt is still across the galvanometer",
		fault.Leakage:            "damp bridges the series box",
		fault.SourceWeak:         "the source is nearly spent",
		fault.SourceDoubled:      "there are two cells where one is said",
		fault.SourceRunningDown:  "the source runs down with every closing",
		fault.ZeroOff:            "the needle comes back to another zero",
		fault.PointerSticks:      "the pointer sticks",
		fault.ScaleUneven:        "the marks crowd together towards the end",
		fault.Scattered:          "a terminal is loose, and readings scatter",
	}[fault.ID(id)]
	if !ok {
		return id
	}
	return text
}
