package class

import (
	"bufio"
	"bytes"
	"encoding/json"
	"io"
	"math"
	"runtime"
	"strconv"
	"sync"
	"time"

	"example.org/halve/physics/pooling"
)

// The JSON of a class (interface contract; what stands beside the contract's
// names are additions). Numbers that are not known are null.
type (
	recordJSON struct {
		File             string        `json:"file"`
		ID               string        `json:"id"`
		State            Progress      `json:"state"`
		Pair             int           `json:"pair"`
		Names            string        `json:"names,omitempty"`
		Group            string        `json:"group,omitempty"`
		Begun            *time.Time    `json:"begun"`
		Instrument       *string       `json:"instrument"`
		Cell             *string       `json:"cell"`
		Rows             int           `json:"rows"`
		Resistance       *float64      `json:"resistance_ohm"`
		UResistance      *float64      `json:"u_resistance_ohm"`
		U95Resistance    *float64      `json:"U95_resistance_ohm"`
		Merit            *float64      `json:"merit_A_per_div"`
		UMerit           *float64      `json:"u_merit_A_per_div"`
		U95Merit         *float64      `json:"U95_merit_A_per_div"`
		Normalised       *float64      `json:"normalised_error"`
		NormalisedG      *float64      `json:"normalised_error_resistance"`
		NormalisedK      *float64      `json:"normalised_error_merit"`
		DistanceG        *float64      `json:"distance_resistance"`
		DistanceK        *float64      `json:"distance_merit"`
		Examined         bool          `json:"examined"`
		Findings         []findingJSON `json:"findings"`
		Slips            []slipJSON    `json:"slips"`
		SendBack         bool          `json:"send_back"`
		Because          string        `json:"because"`
		TemperatureNoted *float64      `json:"temperature_C"`
	}
	findingJSON struct {
		ID          string  `json:"id"`
		Probability float64 `json:"probability"`
		Say         string  `json:"say"`
		Try         string  `json:"try"`
	}
	slipJSON struct {
		ID          string  `json:"id"`
		Probability float64 `json:"probability"`
		Say         string  `json:"say"`
	}
	outlyingJSON struct {
		File     string   `json:"file"`
		Quantity string   `json:"quantity"`
		Rules    []string `json:"rules"`
		Distance *float64 `json:"distance"`
	}
	grubbsJSON struct {
		G        *float64 `json:"g"`
		Critical *float64 `json:"critical"`
		Outlying bool     `json:"outlying"`
	}
	driftJSON struct {
		PerDay  *float64 `json:"per_day"`
		UPerDay *float64 `json:"u_per_day"`
		Certain bool     `json:"certain"`
	}
	instrumentJSON struct {
		Label         string         `json:"label"`
		Pairs         int            `json:"pairs"`
		Pooled        int            `json:"pooled_pairs"`
		Resistance    *float64       `json:"resistance_ohm"`
		UResistance   *float64       `json:"u_resistance_ohm"`
		Merit         *float64       `json:"merit_A_per_div"`
		UMerit        *float64       `json:"u_merit_A_per_div"`
		Between       *float64       `json:"between_pair_sd"`
		BetweenMerit  *float64       `json:"between_pair_sd_merit_A_per_div"`
		Median        *float64       `json:"median_resistance_ohm"`
		MAD           *float64       `json:"mad_resistance_ohm"`
		MedianMerit   *float64       `json:"median_merit_A_per_div"`
		MADMerit      *float64       `json:"mad_merit_A_per_div"`
		Birge         *float64       `json:"birge_ratio_resistance"`
		BirgeMerit    *float64       `json:"birge_ratio_merit"`
		At20          bool           `json:"resistance_at_20_C"`
		Grubbs        *grubbsJSON    `json:"grubbs_resistance"`
		GrubbsMerit   *grubbsJSON    `json:"grubbs_merit"`
		Outlying      []outlyingJSON `json:"outlying"`
		DriftG        *driftJSON     `json:"drift_resistance"`
		DriftK        *driftJSON     `json:"drift_merit"`
		Remarks       []string       `json:"remarks"`
		Days          *float64       `json:"days"`
		LabelIsStated bool           `json:"labelled"`
	}
	cellJSON struct {
		Label   string     `json:"label"`
		Records int        `json:"records"`
		Ailing  bool       `json:"ailing"`
		Excess  *float64   `json:"merit_excess_relative"`
		UExcess *float64   `json:"u_merit_excess_relative"`
		Volts   *float64   `json:"emf_V"`
		Drift   *driftJSON `json:"drift_ln_emf"`
		Because string     `json:"because,omitempty"`
	}
	countJSON struct {
		ID    string `json:"id"`
		Count int    `json:"count"`
	}
	unreadableJSON struct {
		File    string `json:"file"`
		Because string `json:"because"`
	}
)

// number is v where JSON can have that number, else nil.
func number(v *float64) *float64 {
	if math.IsNaN(*v) || math.IsInf(*v, 0) {
		return nil
	}
	return v
}

// positive is number for what is above 0.
func positive(v *float64) *float64 {
	if !(*v > 0) {
		return nil
	}
	return number(v)
}

func text(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// WriteJSON writes the class as one JSON object on one line, a record at a time.
func (c *Class) WriteJSON(w io.Writer) error {
	b := bufio.NewWriterSize(w, 64<<10)
	var piece bytes.Buffer
	e := json.NewEncoder(&piece)
	e.SetEscapeHTML(false)
	put := func(v any) {
		piece.Reset()
		if e.Encode(v) == nil { // nothing here can fail to be JSON
			b.Write(bytes.TrimSuffix(piece.Bytes(), []byte{'\n'}))
		}
	}
	list := func(name string, n int, at func(i int) any) {
		b.WriteString(`,"` + name + `":[`)
		for i := range n {
			if i > 0 {
				b.WriteByte(',')
			}
			put(at(i))
		}
		b.WriteByte(']')
	}
	b.WriteString(`{"stopped":`)
	put(c.Stopped)
	b.WriteString(`,"examined":`)
	put(c.Examined)
	b.WriteString(`,"records":[`)
	c.writeRecords(b)
	b.WriteByte(']')
	list("instruments", len(c.Instruments), func(i int) any { return c.instrument(&c.Instruments[i]) })
	list("cells", len(c.Cells), func(i int) any {
		cell := &c.Cells[i]
		out := cellJSON{cell.Label, cell.Records, cell.Ailing, number(&cell.Excess.X), positive(&cell.Excess.U), number(&cell.Volts), nil, cell.Because}
		if cell.Trend.U > 0 {
			out.Drift = &driftJSON{number(&cell.Trend.Slope), number(&cell.Trend.U), cell.Drifts}
		}
		return out
	})
	list("findings", len(c.Findings), func(i int) any { return countJSON{c.Findings[i].ID, c.Findings[i].N} })
	list("slips", len(c.Slips), func(i int) any { return countJSON{c.Slips[i].ID, c.Slips[i].N} })
	list("unreadable", len(c.Unreadable), func(i int) any {
		return unreadableJSON{c.Stray(i), c.Unreadable[i].Because}
	})
	b.WriteString("}\n")
	return b.Flush()
}

// writeRecords writes the records, encoded a block at a time on all cores.
func (c *Class) writeRecords(w *bufio.Writer) {
	const block = 256
	workers := runtime.GOMAXPROCS(0)
	pieces := make([]bytes.Buffer, workers)
	for from := 0; from < len(c.Records); from += workers * block {
		var all sync.WaitGroup
		for i := range pieces {
			all.Go(func() {
				piece := &pieces[i]
				piece.Reset()
				e := json.NewEncoder(piece)
				e.SetEscapeHTML(false)
				first := from + i*block
				for at := first; at < min(first+block, len(c.Records)); at++ {
					if at > 0 {
						piece.WriteByte(',')
					}
					s := c.Records[at]
					if e.Encode(c.record(s)) == nil { // nothing here can fail to be JSON
						// What is present goes in before the brace and the newline: the
						// encoder would check every letter of it anew.
						piece.Truncate(piece.Len() - 2)
						piece.WriteByte(',')
						piece.Write(s.appendPresent(piece.AvailableBuffer()))
						piece.WriteByte('}')
					}
				}
			})
		}
		all.Wait()
		for i := range pieces {
			w.Write(pieces[i].Bytes())
		}
	}
}

func (c *Class) record(s *Sheet) recordJSON {
	out := recordJSON{
		File: c.Name(s), ID: s.ID, State: s.Shown(), Pair: s.Pair(), Cell: text(s.Cell), Rows: s.Rows,
		Resistance: number(&s.G), UResistance: number(&s.UG), U95Resistance: number(&s.U95G),
		Merit: number(&s.K), UMerit: number(&s.UK), U95Merit: number(&s.U95K),
		NormalisedG: number(&s.ofG.normal), NormalisedK: number(&s.ofK.normal), DistanceG: number(&s.ofG.distance), DistanceK: number(&s.ofK.distance),
		SendBack: s.SendBack(), Because: c.Because(s), TemperatureNoted: number(&s.Temperature),
	}
	if !c.Anonymous {
		out.Names, out.Group = s.Names, s.Group
	}
	if s.instrument >= 0 {
		out.Instrument = &c.Instruments[s.instrument].Label
	}
	if s.Begun != 0 {
		t := time.Unix(0, s.Begun).UTC()
		out.Begun = &t
	}
	normal := s.NormalisedError()
	out.Normalised = number(&normal)
	if at := s.Closely; at != nil && at.Examined {
		out.Examined, out.Findings, out.Slips = true, []findingJSON{}, []slipJSON{}
		for _, f := range at.Findings {
			out.Findings = append(out.Findings, findingJSON{f.ID, f.Probability, f.Say, f.Try})
		}
		for _, x := range at.Slips {
			out.Slips = append(out.Slips, slipJSON(x))
		}
	}
	return out
}

// appendPresent adds the list of what stands in the record, as JSON: true, false,
// and null for what is not asked for.
func (s *Sheet) appendPresent(b []byte) []byte {
	b = append(b, `"present":{`...)
	for n, i := range items {
		if n > 0 {
			b = append(b, ',')
		}
		b = append(append(append(b, '"'), i.ID...), `":`...)
		if s.Asked(i) {
			b = strconv.AppendBool(b, s.Has&i.Bit != 0)
		} else {
			b = append(b, "null"...)
		}
	}
	return append(b, '}')
}

// NormalisedError is the larger of those of G and of k, by its size, with its
// sign; NaN where there is nothing to compare with.
func (s *Sheet) NormalisedError() float64 {
	if math.IsNaN(s.ofG.normal) || math.Abs(s.ofK.normal) > math.Abs(s.ofG.normal) {
		return s.ofK.normal
	}
	return s.ofG.normal
}

func (c *Class) instrument(in *Instrument) instrumentJSON {
	out := instrumentJSON{
		Label: in.Label, Pairs: in.Pairs, Pooled: in.Pooled, LabelIsStated: in.Labelled, Remarks: append([]string{}, in.Remarks...),
		Resistance: number(&in.G.Value.X), UResistance: number(&in.G.Value.U), Merit: number(&in.K.Value.X), UMerit: number(&in.K.Value.U),
		Median: number(&in.G.Median), MAD: number(&in.G.MAD), MedianMerit: number(&in.K.Median), MADMerit: number(&in.K.MAD),
		At20: in.G.Corrected, Outlying: []outlyingJSON{}, Days: number(&in.Days),
	}
	if in.Pairs > 1 {
		out.Between, out.BetweenMerit = number(&in.G.Between), number(&in.K.Between)
		out.Birge, out.BirgeMerit = number(&in.G.Birge), number(&in.K.Birge)
	}
	out.Grubbs, out.GrubbsMerit = grubbsOf(in.G.Grubbs), grubbsOf(in.K.Grubbs)
	out.DriftG, out.DriftK = driftOf(in.G), driftOf(in.K)
	for _, s := range in.Files {
		for _, q := range []struct {
			name     string
			apart    bool
			grubbs   *Sheet
			distance float64
		}{{"resistance", s.ofG.apart, in.G.GrubbsOn, s.ofG.distance}, {"merit", s.ofK.apart, in.K.GrubbsOn, s.ofK.distance}} {
			var rules []string
			if q.apart && s.counts() {
				rules = append(rules, "forward-search")
			}
			if q.grubbs == s {
				rules = append(rules, "grubbs")
			}
			if rules != nil {
				out.Outlying = append(out.Outlying, outlyingJSON{c.Name(s), q.name, rules, number(&q.distance)})
			}
		}
	}
	return out
}

func grubbsOf(g *pooling.Grubbs) *grubbsJSON {
	if g == nil {
		return nil
	}
	return &grubbsJSON{number(&g.G), number(&g.Critical), g.Outlying}
}

func driftOf(p Pool) *driftJSON {
	if !p.HasTrend {
		return nil
	}
	return &driftJSON{number(&p.Trend.Slope), number(&p.Trend.U), p.Drifts}
}
