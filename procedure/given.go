package procedure

// Given is what the calculation of every row takes from elsewhere than its own
// settings and readings, with standard uncertainties. The EMF and the internal
// resistance are the measured ones where there are any, else the stated ones.
type Given struct {
	EMF, UEMF                           float64 // V
	SourceResistance, USourceResistance float64 // ohm; 0 where the EMF was measured on load
	UZero                               float64 // of the zero that is taken from the readings, div
}

// Given returns what every row's calculation rests on; ok is false before the
// bench is stated.
func (s *State) Given() (g Given, ok bool) {
	if s.bench == nil {
		return g, false
	}
	ev := s.evidence()
	return Given{ev.emf, ev.uEMF, ev.r, ev.uR, ev.uZero}, true
}
