package record

import "example.org/halve/procedure/metercheck"

// MeterCheck is the name that the meter check has in a header.
const MeterCheck = metercheck.Name

// meterCheck is the practical that judges a panel meter.
var meterCheck = Practical[*metercheck.State, metercheck.Counsel]{
	Name:    MeterCheck,
	Words:   metercheck.Words(),
	Empty:   func() *metercheck.State { return new(metercheck.State) },
	Advise:  metercheck.Advise,
	Preview: metercheck.Preview,
	Foresee: metercheck.Preview, // it takes no time worth the difference
	Instrument: func(s *metercheck.State) string {
		b, _ := s.Bench()
		return b.Label
	},
}

// MeterSitting is the sitting of a meter check.
type MeterSitting = Keeping[*metercheck.State, metercheck.Counsel]

// ForMeterCheck is the meter check, to begin, resume and read records of.
func ForMeterCheck() Practical[*metercheck.State, metercheck.Counsel] { return meterCheck }

// ProcedureOf says of which procedure the record at path is, by its header.
func ProcedureOf(path string) (string, error) {
	data, err := readFile(path)
	if err != nil {
		return "", at(path, err)
	}
	h, _, _, err := parseHeader(data)
	if err != nil {
		return "", at(path, err)
	}
	return h.Procedure, nil
}
