package diagnosis

import (
	"sync"

	"example.org/halve/physics/fault"
)

// text is the counsel on a fault: what it seems to be, and the outside fact
// that decides; with dials where the box in question has them and no plugs, ""
// where that makes no difference.
type text struct{ say, check, dials string }

// texts are the words on every fault.
var texts = sync.OnceValue(func() map[fault.ID]text {
	return map[fault.ID]text{
		fault.NoCurrent: {
			"Nothing seems to flow. Do not lower R.",
			"Hold one lead of a voltmeter to one end of the source and follow the loop with the other: cell, K1, series box, galvanometer. Behind the break it shows nothing. Without a voltmeter press one joint after another, K1 closed, and watch the needle. Is K2 open? Closed on a shunt box at 0 Ω it takes all the current.", ""},
		fault.Reversed: {
			"The needle goes the other way.",
			"Look which terminal of the source the loop begins at: exchange the two leads of the source or, if it is meant so, write a note.", ""},
		fault.SeriesBypassed: {
			"The series box seems not to be in the loop. Open K1.",
			"Keys open, trace the loop of source, K1 and galvanometer: it must go in at one terminal of the series box and out at the other.", ""},
		fault.SeriesPlug: {
			"The series box seems to make another value than said.",
			"Open K1 and count the plugs that are out of the series box, aloud, one by one; press the others in.",
			"Open K1 and read the dials of the series box aloud, one by one, each with its factor."},
		fault.SeriesComplement: {
			"The plugs of the series box seem to be read the wrong way round: a plug that is out has its coil in the circuit.",
			"Take one plug more out: the needle must fall. Then write down the sum of the plugs that are out.", ""},
		fault.SeriesUnit: {
			"The series value seems to be written in another unit.",
			"Read what is engraved at the plugs that are out, in ohm, and add.",
			"Read the dials, each with its factor in ohm, and add."},
		fault.SeriesMoved: {
			"The series box seems to have been changed between the two readings of a row.",
			"Open K2: the needle must come back to the first deflection.", ""},
		fault.BoxesExchanged: {
			"The two boxes seem to stand in each other's place. Open K1.",
			"Keys open, trace the leads: the large box belongs in the loop of source, K1 and galvanometer, the small one to K2.", ""},
		fault.ShuntAlreadyClosed: {
			"K2 seems to have been closed during the first reading.",
			"Look at K2: with it open the needle must go up.", ""},
		fault.ShuntOpen: {
			"The shunt seems not to be connected: closing K2 changes nothing.",
			"Press K2 and tighten both leads of the shunt box. A wire touched across the box's terminals, K2 closed, must bring the needle to zero.", ""},
		fault.ShuntShorted: {
			"The shunt seems to be a dead short: closing K2 takes everything.",
			"Take the largest plug of the shunt box out: the needle must rise. If it does not, look for a wire across the box.",
			"Turn the largest dial of the shunt box up: the needle must rise. If it does not, look for a wire across the box."},
		fault.ShuntPlug: {
			"The shunt box seems to make another value than said.",
			"Open K2 and count the plugs that are out of the shunt box, aloud, one by one; press the others in.",
			"Open K2 and read the dials of the shunt box aloud, one by one, each with its factor."},
		fault.ShuntComplement: {
			"The plugs of the shunt box seem to be read the wrong way round: a plug that is out has its coil in the circuit.",
			"Take one plug more out of the shunt box: the needle must rise. Then write down the sum of the plugs that are out.", ""},
		fault.ShuntInSeries: {
			"The shunt box seems to sit in line with the series box, not across the galvanometer.",
			"Keys open, trace the shunt's two leads: both must end at the galvanometer's terminals, one of them through K2.", ""},
		fault.ShuntAcrossSeries: {
			"The shunt seems to lie across the series box: the needle goes up when K2 closes. Open K1.",
			"Keys open, trace the shunt's two leads: both must end at the galvanometer's terminals, one of them through K2.", ""},
		fault.ShuntAcrossSource: {
			"The shunt seems to load the source, not the galvanometer.",
			"Trace the shunt's two leads, or watch a voltmeter on the source while K2 closes: it must hardly move.", ""},
		fault.ShuntContact: {
			"Something seems to add resistance to the shunt branch: a loose plug, a dirty key, a long lead.",
			"Close both keys, press and twist K2 and every plug of the shunt box: the needle must not move.",
			"Close both keys, press K2 and the shunt's leads and turn each of its dials to and fro: the needle must come back."},
		fault.InnerShunt: {
			"A shunt seems to be still across the galvanometer's own terminals.",
			"Look for a link or a resistor between the galvanometer's terminals, and take it off.", ""},
		fault.Leakage: {
			"The series box seems to be bridged by damp or dirt: large values do less than they should.",
			"Take one lead off the series box and tap K1: the needle must not move. Wipe the box dry between its terminals.", ""},
		fault.SourceWeak: {
			"The source seems lower than written, or gives way under load.",
			"Measure its EMF with K1 open and again with K1 closed, and write down what it shows. Only if another cell is put in, strike what was read with the old one.", ""},
		fault.SourceDoubled: {
			"The circuit acts like twice the EMF.",
			"Count the cells, or measure the EMF and write down what it is. Only if a cell is taken out, strike what was read with it.", ""},
		fault.SourceRunningDown: {
			"The readings slide downward with time.",
			"Let the cell rest, then take the first row's first deflection again: it must be what it was. Close the keys no longer than the needle needs.", ""},
		fault.ZeroOff: {
			"The pointer seems not to rest where its zero was read.",
			"Open both keys, read where the needle rests, and write it down as the zero.", ""},
		fault.FarEnd: {
			"The readings look counted from the far end of the scale.",
			"Keys open: the needle stands at 0. Count from there.", ""},
		fault.WrongSide: {
			"One reading has the other sign from its mates.",
			"Look again on which side of zero the needle stands: left is minus.", ""},
		fault.ColumnsSwapped: {
			"First and shunted reading seem to be exchanged: written in each other's place, or read with K2 closed for open.",
			"Open K2: the needle shows the first deflection, the greater of the two. A plug key is closed when its plug is in.", ""},
		fault.HalfMissed: {
			"The shunted reading looks like the half of another deflection, not of this row's.",
			"Close both keys again and write down what the needle shows, whatever the half is.", ""},
		fault.ScaleMisread: {
			"The scale seems to be read by a factor wrong; the ratio of the readings, and G, do not suffer.",
			"Count the small divisions between two figures of the scale, and work out what one of them is worth.", ""},
		fault.PointerSticks: {
			"The needle seems to stop short of its place.",
			"Tap the case lightly: the needle must not move on. Let it come to its place once from above and once from below.", ""},
		fault.ScaleUneven: {
			"The deflection seems not to be proportional to the current: the scale is crowded at its end.",
			"Read near the end of the scale, then double R: the needle must fall to a little more than the half. If it stands far above, keep to the middle of the scale.", ""},
		fault.ReadingOdd: {
			"One reading does not fit; all others do.",
			"Take that reading again, and strike it if it was a slip.", ""},
		fault.Scattered: {
			"The readings scatter more than eyes can make: something is loose.",
			"Press and twist every plug and joint, then take one reading three times: it must be the same.",
			"Press every joint and turn every dial to and fro, then take one reading three times: it must be the same."},
		fault.ComputedNotRead: {
			"The shunted readings look worked out as halves rather than read off the scale.",
			"Close both keys once more and write down what the needle shows; the ratio need not be the half.", ""},
		fault.Unexplained: {
			"I can't tell what is wrong: nothing known explains these readings.",
			"Check these three. Press every joint and plug, K1 closed: the needle must not move. Measure the source's EMF with K1 open and with K1 closed: it must be what is written. Open both keys: the needle must rest at the zero that was read. Then take one row again, slowly: keys open, zero, series box, first deflection, shunt box, shunted reading, first deflection again.",
			"Check these three. Press every joint and turn every dial to and fro, K1 closed: the needle must come back. Measure the source's EMF with K1 open and with K1 closed: it must be what is written. Open both keys: the needle must rest at the zero that was read. Then take one row again, slowly: keys open, zero, series box, first deflection, shunt box, shunted reading, first deflection again."},
	}
})
