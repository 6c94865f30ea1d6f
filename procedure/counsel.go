package procedure

import "example.org/halve/safety"

// Step is the part of the practical that is being done.
type Step string

// The steps of the half-deflection practical, in order.
const (
	StepBench  Step = "bench"
	StepWiring Step = "wiring"
	StepSeries Step = "series"
	StepFirst  Step = "first"
	StepShunt  Step = "shunt"
	StepResult Step = "result"
)

// Counsel is everything the program has to say at a moment. It is what every
// way in shows; its JSON is the line protocol's answer. A nil pointer is a
// JSON null: not known or not called for.
type Counsel struct {
	Seq       int               `json:"seq"`
	Step      Step              `json:"step"`
	Record    string            `json:"record,omitempty"` // first counsel only
	Refused   *string           `json:"refused"`
	Clearance *safety.Clearance `json:"clearance"`
	Next      *Next             `json:"next"`
	Expect    *Expect           `json:"expect"`
	Findings  []Finding         `json:"findings"`
	Claims    []ClaimCheck      `json:"claims"`
	Rows      []Row             `json:"rows"`
	Result    *Result           `json:"result"`
	// Odd says in a line what is strange about the latest reading; "" if
	// nothing is. It is for a person at an entry field.
	Odd string `json:"-"`

	settling bool // next decides between readings that disagree
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

// Next is the one thing to do now.
type Next struct {
	Event     string    `json:"event"`
	Ohm       *float64  `json:"ohm,omitempty"`
	TakeOut   []float64 `json:"take_out_ohm,omitempty"`
	TargetDiv *float64  `json:"target_div,omitempty"`
	Do        string    `json:"do"`
}

// Expect is the reading foreseen for what is set now, as seen on the scale.
type Expect struct {
	Div  float64 `json:"div"`
	UDiv float64 `json:"u_div"`
}

// Finding is a cause that the readings point to. Say is the counsel, Try the
// test that decides, Mend a strike that is proposed.
type Finding struct {
	ID          string  `json:"id"`
	Probability float64 `json:"probability"`
	Say         string  `json:"say"`
	Try         string  `json:"try"`
	Mend        *Mend   `json:"mend,omitempty"`
}

// Mend is an event proposed to put right what a fault spoiled.
type Mend struct {
	Event string `json:"event"`
	Seq   int    `json:"seq"`
}

// ClaimCheck is a hand-calculated value beside the computed one.
type ClaimCheck struct {
	Seq      int      `json:"seq"`
	Quantity string   `json:"quantity"`
	Row      int      `json:"row"`
	Claimed  float64  `json:"claimed"`
	Expected *float64 `json:"expected"`
	Agrees   *bool    `json:"agrees"`
	Slips    []Slip   `json:"slips"`
}

// Slip is an explanation of a wrong hand-calculated value.
type Slip struct {
	ID          string  `json:"id"`
	Probability float64 `json:"probability"`
	Say         string  `json:"say"`
}

// Row is a kept row: the means of its readings, zero subtracted, as absolute
// values, and what follows from them by the ratio formula.
type Row struct {
	Row         int      `json:"row"`
	SeriesOhm   float64  `json:"series_ohm"`
	ShuntOhm    float64  `json:"shunt_ohm"`
	FirstDiv    float64  `json:"first_div"`
	ShuntedDiv  float64  `json:"shunted_div"`
	Resistance  *float64 `json:"resistance_ohm"`
	UResistance *float64 `json:"u_resistance_ohm"`
	Merit       *float64 `json:"merit_A_per_div"`
	UMerit      *float64 `json:"u_merit_A_per_div"`
	Struck      bool     `json:"struck"`
	// Seq is the number of the keep-row event, for striking.
	Seq int `json:"-"`
	// EMF is that of the source which the row was read with, V.
	EMF float64 `json:"-"`
}

// Result is what the readings together say.
type Result struct {
	Resistance     *float64 `json:"resistance_ohm"`
	UResistance    *float64 `json:"u_resistance_ohm"`
	U95Resistance  *float64 `json:"U95_resistance_ohm"`
	Merit          *float64 `json:"merit_A_per_div"`
	UMerit         *float64 `json:"u_merit_A_per_div"`
	U95Merit       *float64 `json:"U95_merit_A_per_div"`
	Correlation    *float64 `json:"correlation"`
	MeanResistance *float64 `json:"mean_resistance_ohm"`
	SDResistance   *float64 `json:"sd_resistance_ohm"`
	MeanMerit      *float64 `json:"mean_merit_A_per_div"`
	FullScale      *float64 `json:"full_scale_A"`
	EffectiveDOF   *float64 `json:"effective_dof"`
	Rows           int      `json:"rows"`
}
