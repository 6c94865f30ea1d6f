package metercheck

import (
	"math"

	"example.org/halve/physics/accuracy"
	"example.org/halve/procedure"
	"example.org/halve/safety"
)

// The steps of a meter check, in order. Zero comes again at the end.
const (
	StepBench   procedure.Step = "bench"
	StepWiring  procedure.Step = "wiring"
	StepZero    procedure.Step = "zero"
	StepRising  procedure.Step = "rising"
	StepFalling procedure.Step = "falling"
	StepResult  procedure.Step = "result"
)

// Counsel is everything the program has to say at a moment. A nil pointer is a
// JSON null: not known or not called for.
type Counsel struct {
	Seq       int                 `json:"seq"`
	Step      procedure.Step      `json:"step"`
	Record    string              `json:"record,omitempty"` // first counsel only
	Refused   *string             `json:"refused"`
	Clearance *safety.Clearance   `json:"clearance"`
	Next      *Next               `json:"next"`
	Expect    *Expect             `json:"expect"`
	Findings  []procedure.Finding `json:"findings"`
	Result    *Result             `json:"result"`
	// Odd says in a line what is strange about the latest reading, or about all
	// of them; "" if nothing is. It is for a person at an entry field.
	Odd string `json:"-"`
	// Remarks are what is to be known of this bench or of the result besides.
	Remarks []string `json:"-"`
}

// Refuse is the counsel with what was wrong with the event that was sent.
func (c Counsel) Refuse(why string) Counsel {
	c.Refused = &why
	return c
}

// KeptIn is the counsel with the name of the record.
func (c Counsel) KeptIn(record string) Counsel {
	c.Record = record
	return c
}

// Next is the one thing to do now. A point is aimed at by the pointer on a
// mark; the reference then shows about the target's value.
type Next struct {
	Event     string   `json:"event"`
	Direction string   `json:"direction,omitempty"`
	TargetDiv *float64 `json:"target_div,omitempty"`
	TargetA   *float64 `json:"target_A,omitempty"`
	TargetV   *float64 `json:"target_V,omitempty"`
	// StopA and StopV are where to stop turning, as the reference shows it,
	// though the pointer has not come to the mark.
	StopA  *float64 `json:"stop_A,omitempty"`
	StopV  *float64 `json:"stop_V,omitempty"`
	Tapped *bool    `json:"tapped,omitempty"`
	Do     string   `json:"do"`
}

// Stop is where to stop turning, A or V, 0 where nothing is turned.
func (n Next) Stop() float64 {
	for _, v := range []*float64{n.StopA, n.StopV} {
		if v != nil {
			return *v
		}
	}
	return 0
}

// Expect is what is foreseen for the next point: what the pointer shows where
// the reference shows the target's value, and what the reference shows where
// the pointer stands on the mark.
type Expect struct {
	Div        float64  `json:"div"`
	UDiv       float64  `json:"u_div"`
	ReferenceA *float64 `json:"reference_A,omitempty"`
	UA         *float64 `json:"u_reference_A,omitempty"`
	ReferenceV *float64 `json:"reference_V,omitempty"`
	UV         *float64 `json:"u_reference_V,omitempty"`
}

// Reference is what the reference shows, with its uncertainty, A or V.
func (e Expect) Reference() (v, u float64) {
	switch {
	case e.ReferenceA != nil:
		return *e.ReferenceA, *e.UA
	case e.ReferenceV != nil:
		return *e.ReferenceV, *e.UV
	}
	return 0, 0
}

// Result is what the readings say of the meter. Percentages are of the
// fiducial value.
type Result struct {
	Points        []ResultPoint     `json:"points"`
	Corrections   []Correction      `json:"corrections"`
	Fiducial      float64           `json:"-"`
	FiducialA     *float64          `json:"fiducial_A,omitempty"`
	FiducialV     *float64          `json:"fiducial_V,omitempty"`
	WorstError    float64           `json:"worst_error_percent"`
	U95WorstError float64           `json:"U95_worst_error_percent"`
	Hysteresis    *float64          `json:"hysteresis_percent"`
	Friction      *float64          `json:"friction_percent"`
	ZeroReturn    *float64          `json:"zero_return_percent"`
	Repeatability *float64          `json:"repeatability_percent"`
	Simple        *accuracy.Verdict `json:"verdict_simple"`
	Guarded       *accuracy.Verdict `json:"verdict_guarded"`
	// Conformance is the probability that the greatest error truly lies within
	// the class.
	Conformance *float64 `json:"conformance_probability"`
	Ratio       *float64 `json:"ratio"`
	Deserved    *float64 `json:"deserved_class"`
}

// ResultPoint is a reading with its error.
type ResultPoint struct {
	Seq        int      `json:"seq"`
	Direction  string   `json:"direction,omitempty"` // none of a zero
	Zero       bool     `json:"zero,omitempty"`
	Tapped     bool     `json:"tapped"`
	Div        float64  `json:"reading_div"`
	Indicated  float64  `json:"-"`
	Reference  float64  `json:"-"`
	IndicatedA *float64 `json:"indicated_A,omitempty"`
	ReferenceA *float64 `json:"reference_A,omitempty"`
	IndicatedV *float64 `json:"indicated_V,omitempty"`
	ReferenceV *float64 `json:"reference_V,omitempty"`
	Error      float64  `json:"error_percent"`
	U95Error   float64  `json:"U95_error_percent"`
}

// Correction is what is to be added to a reading at a mark.
type Correction struct {
	Div   float64  `json:"reading_div"`
	Value float64  `json:"-"`
	U     float64  `json:"-"`
	A     *float64 `json:"correction_A,omitempty"`
	UA    *float64 `json:"u_correction_A,omitempty"`
	V     *float64 `json:"correction_V,omitempty"`
	UV    *float64 `json:"u_correction_V,omitempty"`
}

// sides gives a value to the key of the bench's kind.
func sides(b Bench, v float64, a, volt **float64) {
	if b.InAmperes() {
		*a = &v
	} else {
		*volt = &v
	}
}

// result is what the readings in force say, nil before there is a point.
func (s *State) result() *Result {
	e, ok := s.Evaluation()
	if !ok {
		return nil
	}
	b, m := *s.bench, s.bench.Meter()
	r := &Result{
		Points: []ResultPoint{}, Corrections: []Correction{}, Fiducial: m.FiducialValue(),
		Hysteresis: e.Hysteresis, Friction: e.Friction, ZeroReturn: e.ZeroReturn, Repeatability: e.Repeatability,
		Simple: e.Simple, Guarded: e.Guarded, Ratio: e.Ratio, Deserved: e.Deserved,
	}
	sides(b, r.Fiducial, &r.FiducialA, &r.FiducialV)
	worst := e.Points[e.Worst]
	r.WorstError, r.U95WorstError = math.Abs(worst.Error), worst.Expanded()
	if m.Class > 0 {
		p := accuracy.Conformance(worst.Error, worst.U, -m.Class, m.Class)
		r.Conformance = &p
	}
	rs := s.standing()
	rs = rs[len(rs)-len(e.Points):] // zeros before the last one are left out
	for i, p := range e.Points {
		out := ResultPoint{Seq: rs[i].seq, Zero: p.Zero, Tapped: p.Tapped, Div: p.Div, Indicated: p.Indicated, Reference: p.Reference, Error: p.Error, U95Error: p.Expanded()}
		sides(b, p.Indicated, &out.IndicatedA, &out.IndicatedV)
		sides(b, p.Reference, &out.ReferenceA, &out.ReferenceV)
		if !p.Zero {
			out.Direction = direction(p.Rising)
		}
		r.Points = append(r.Points, out)
	}
	for _, c := range e.Corrections {
		out := Correction{Div: c.Div, Value: c.Value, U: c.U}
		sides(b, c.Value, &out.A, &out.V)
		sides(b, c.U, &out.UA, &out.UV)
		r.Corrections = append(r.Corrections, out)
	}
	return r
}

func direction(rising bool) string {
	if rising {
		return Rising
	}
	return Falling
}

// Advise is the counsel on a state. It is a pure function of it; what it works
// out for the findings is kept with the state.
func Advise(s *State) Counsel {
	c := Counsel{Seq: s.Seq(), Findings: []procedure.Finding{}}
	if s.bench == nil {
		c.Step = StepBench
		if s.Finished() {
			return c
		}
		c.Next = &Next{Event: procedure.KindBench, Do: "State the meter under test, the reference and the source."}
		return c
	}
	c.Result = s.result()
	c.Findings = s.findings()
	c.Remarks = s.remarks(c.Result)
	p := s.plan()
	s.advance(&c, p)
	c.Odd = s.odd()
	return c
}

// Preview is the counsel that would follow if the body were accepted now. If
// it could not be, Refused says why and the rest is that of before.
func Preview(s *State, body procedure.Body) Counsel {
	after := s.Clone()
	if err := after.Apply(procedure.Event{Seq: s.Seq() + 1, Body: body}); err != nil {
		return Advise(s).Refuse(err.Error())
	}
	return Advise(after)
}
