package diagnosis

import "example.org/halve/physics/fault"

// text is the counsel on a fault: what it seems to be, and the outside fact
// that decides.
type text struct{ say, check string }

func texts() map[fault.ID]text {
	return map[fault.ID]text{
		fault.NoCurrent:          {"Nothing seems to flow. Do not lower R.", "With a voltmeter from the source's one end, follow the loop: cell, K1, series box, galvanometer. Behind the break it shows nothing."},
		fault.Reversed:           {"The needle goes the other way.", "Look which terminal of the source the loop begins at; exchange the two leads of the source, or write a note if it is meant."},
		fault.SeriesBypassed:     {"The series box seems not to be in the loop. Open K1.", "Keys open, trace the lead from K1: it must end at one terminal of the series box, and the galvanometer's at the other."},
		fault.SeriesPlug:         {"The series box seems to make another value than said.", "Open K1 and count the plugs that are out, aloud, one by one; press the others in."},
		fault.SeriesComplement:   {"The plugs of the series box seem to be read the wrong way round: a plug that is out has its coil in the circuit.", "Take out one plug more: the needle must fall."},
		fault.SeriesUnit:         {"The series value seems to be written in another unit.", "Read what is engraved at the plugs that are out, in ohm, and add."},
		fault.SeriesMoved:        {"The series box seems to have been changed between the two readings of a row.", "Open K2: does the needle come back to the first deflection?"},
		fault.BoxesExchanged:     {"The two boxes seem to stand in each other's place. Open K1.", "Keys open, trace the leads: the large box belongs between K1 and the galvanometer."},
		fault.ShuntAlreadyClosed: {"K2 seems to have been closed during the first reading.", "Look at K2; with it open the needle must go up."},
		fault.ShuntOpen:          {"The shunt seems not to be connected: closing K2 changes nothing.", "Press K2 and tighten both leads of the shunt box; a wire touched across the box's terminals must bring the needle to zero."},
		fault.ShuntShorted:       {"The shunt seems to be a dead short: closing K2 takes everything.", "Take the largest plug of the shunt box out: the needle must rise."},
		fault.ShuntPlug:          {"The shunt box seems to make another value than said.", "Open K2 and count the plugs that are out of the shunt box, aloud, one by one."},
		fault.ShuntComplement:    {"The plugs of the shunt box seem to be read the wrong way round.", "Take one plug more out of the shunt box: the needle must rise."},
		fault.ShuntInSeries:      {"The shunt box seems to sit in line with the series box, not across the galvanometer.", "Trace the shunt's two leads: both must end at the galvanometer's terminals, one through K2."},
		fault.ShuntAcrossSeries:  {"The shunt seems to lie across the series box: the needle goes up when K2 closes. Open K1.", "Keys open, trace the shunt's two leads."},
		fault.ShuntAcrossSource:  {"The shunt seems to load the source, not the galvanometer.", "Watch a voltmeter on the source while K2 closes: it must hardly move."},
		fault.ShuntContact:       {"Something seems to add resistance to the shunt branch: a loose plug, a long lead.", "Press and twist K2 and every plug of the shunt box: does the needle move?"},
		fault.InnerShunt:         {"A shunt seems to be still across the galvanometer's own terminals.", "Look for a link or a resistor between the galvanometer's terminals."},
		fault.Leakage:            {"The series box seems to be bridged by damp or dirt: large values do less than they should.", "Take the series box's leads off: the needle must stand at zero with K1 closed."},
		fault.SourceWeak:         {"The source seems lower than written, or gives way under load.", "Measure its EMF with K1 open and again with K1 closed."},
		fault.SourceDoubled:      {"The circuit acts like twice the EMF.", "Count the cells, or measure the EMF."},
		fault.SourceRunningDown:  {"The readings slide downward with time.", "Let the cell rest, then take the first row's first deflection again; close the keys for as short as the needle needs."},
		fault.ZeroOff:            {"The pointer seems not to rest where its zero was read.", "Open both keys and read where the needle rests."},
		fault.FarEnd:             {"The readings look counted from the far end of the scale.", "Keys open: which figure does the needle stand at?"},
		fault.WrongSide:          {"One reading has the other sign from its mates.", "Look again on which side of zero the needle stood."},
		fault.ColumnsSwapped:     {"First and shunted reading seem to be exchanged.", "Open K2: the needle shows the first deflection, the greater one."},
		fault.HalfMissed:         {"The shunted reading looks like the half of another deflection, not of this row's.", "Close both keys again and write down what the needle shows, whatever the half is."},
		fault.ScaleMisread:       {"The scale seems to be read by a factor wrong; the ratio of the readings, and G, do not suffer.", "Count the small divisions between two figures of the scale."},
		fault.PointerSticks:      {"The needle seems to stop short of its place.", "Tap the case, and let the needle come to its place once from above and once from below."},
		fault.ScaleUneven:        {"The deflection seems not to be proportional to the current: the scale is crowded at its end.", "Compare a reading near the end with one near the middle, at twice the loop's resistance."},
		fault.ReadingOdd:         {"One reading does not fit; all others do.", "Take that reading again."},
		fault.Scattered:          {"The readings scatter more than eyes can make: something is loose.", "Press and twist every plug and joint, then take one reading three times."},
		fault.ComputedNotRead:    {"The shunted readings look worked out as halves rather than read off the scale.", "Close both keys once more and write down what the needle shows."},
		fault.Unexplained:        {"No single fault explains these readings.", "Take one row again, slowly: keys open, zero, series box, first deflection, shunt box, shunted reading, first deflection again. Check three things on the way: the joints, the source's EMF, the plugs."},
	}
}
