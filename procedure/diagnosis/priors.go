package diagnosis

import "example.org/halve/physics/fault"

// sound is the hypothesis that nothing is wrong.
const sound fault.ID = ""

// prior is how often a fault comes about, in parts of the sum of the table.
type prior struct {
	id     fault.ID
	form   string // of a fault whose forms are not equally common, else ""
	weight float64
	why    string
}

// priors is the one table of how common the faults are. No count of real
// classes is behind it: all weights are common practice, no source.
func priors() []prior {
	return []prior{
		{sound, "", 85, "a little more than half of all practicals have no fault at any time"},
		{fault.NoCurrent, "", 4, "a dead cell or a loose joint is the commonest of all"},
		{fault.Reversed, "", 3, "one of two ways to join a cell"},
		{fault.SeriesBypassed, "", 2, "a lead on the wrong terminal of the box, or a wire across it"},
		{fault.SeriesPlug, "one row", 4, "counting plugs is most of the work with a box"},
		{fault.SeriesPlug, "every row", 2, "a plug that is always forgotten, or rocks in its hole"},
		{fault.SeriesComplement, "", 2, "which way round a plug works is asked at every first practical"},
		{fault.SeriesUnit, "", 1, "the boxes are marked in ohm"},
		{fault.SeriesMoved, "", 2, "the hand halving the deflection reaches for the wrong box"},
		{fault.BoxesExchanged, "", 1.5, "two boxes that look alike"},
		{fault.ShuntAlreadyClosed, "", 3, "a key left down, or a plug key left plugged"},
		{fault.ShuntOpen, "", 3, "two joints and a key, none of which shows in the first reading"},
		{fault.ShuntShorted, "", 2, "the shunt box stands with all plugs in at the beginning"},
		{fault.ShuntPlug, "one row", 2, "as in the series box, with fewer plugs to count"},
		{fault.ShuntPlug, "every row", 1, "as in the series box"},
		{fault.ShuntComplement, "", 1.5, "whoever knows one box right knows the other"},
		{fault.ShuntInSeries, "", 2, "the word box suggests one loop"},
		{fault.ShuntAcrossSeries, "", 1, "one lead a terminal too far"},
		{fault.ShuntAcrossSource, "", 1, "one lead a terminal too far"},
		{fault.ShuntContact, "", 2, "few shunt branches are free of it, few are bad"},
		{fault.InnerShunt, "", 1.5, "protective shunts are taken off by hand"},
		{fault.Leakage, "", 0.5, "needs damp or dirt"},
		{fault.SourceWeak, "", 3, "cells are used until they fail"},
		{fault.SourceDoubled, "", 1.5, "battery holders take two"},
		{fault.SourceRunningDown, "", 2.5, "a key held down too long"},
		{fault.ZeroOff, "", 4, "an upset case, a pointer never set"},
		{fault.FarEnd, "", 1, "scales with figures at both ends"},
		{fault.WrongSide, "", 1, "a sign left out"},
		{fault.ColumnsSwapped, "one row", 0.7, "writing in haste"},
		{fault.ColumnsSwapped, "every row", 0.3, "a table ruled the other way"},
		{fault.ColumnsSwapped, "K2 the wrong way", 0.5, "a plug key read like a plug of a box: in for open"},
		{fault.HalfMissed, "", 1, "the half of the last row is still in mind"},
		{fault.ScaleMisread, "", 2, "which mark is figured is learnt anew on each scale"},
		{fault.PointerSticks, "", 2, "old pivots"},
		{fault.ScaleUneven, "", 1, "bent pointers, weak magnets"},
		{fault.ReadingOdd, "", 4, "a number written down wrong"},
		{fault.Scattered, "", 2, "something loose, nobody knows where"},
		{fault.ComputedNotRead, "", 0.5, "seldom, and seldom meant"},
		{fault.Unexplained, "", 0.5, "what is in no table"},
	}
}

// How a lasting fault's weight is shared over the time at which it began:
// there from the first reading, begun later, or there for one row and mended
// since (common practice, no source).
const (
	fromTheStart = 0.5
	begunLater   = 0.35
	mendedSince  = 0.15
)

// weights shares a fault's weight evenly over its forms, unless the table names
// the form: of is by fault and form, rest by fault alone.
func weights(forms []fault.Fault) (of map[string]float64, rest map[fault.ID]float64) {
	count := map[fault.ID]float64{}
	for _, f := range forms {
		count[f.ID]++
	}
	of, rest = map[string]float64{}, map[fault.ID]float64{}
	for _, p := range priors() {
		rest[p.id] += p.weight
		if p.form != "" {
			of[string(p.id)+p.form] = p.weight
		}
	}
	for _, f := range forms {
		if _, named := of[string(f.ID)+f.Form]; !named {
			of[string(f.ID)+f.Form] = rest[f.ID] / count[f.ID]
		}
	}
	return of, rest
}
