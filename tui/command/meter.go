package command

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strings"
	"text/tabwriter"

	"example.org/halve/physics/panel"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/metercheck"
	"example.org/halve/procedure/record"
	"example.org/halve/tui/auto"
	"example.org/halve/tui/lines"
	"example.org/halve/tui/plain"
)

// MeterCheck is the other procedure that guide and practise go through.
const MeterCheck = record.MeterCheck

// procedures says which procedures there are.
const procedures = HalfDeflection + " or " + MeterCheck

// ofRecord is the procedure of the record that is to be resumed, asked where
// none is.
func ofRecord(path, asked string) (string, error) {
	if path == "" {
		return asked, nil
	}
	if _, err := os.Stat(path); err != nil {
		return asked, nil // to be begun, or for whoever opens it to say why not
	}
	is, err := record.ProcedureOf(path)
	switch {
	case err != nil:
		return asked, nil // likewise
	case is != asked && asked != HalfDeflection: // which is what nobody asks for in words
		return "", callError("%s is a record of %s: leave out --procedure", procedure.CleanText(path, maxPath), is)
	}
	return is, nil
}

// meter goes through a meter check at a real bench.
func (g Guide) meter(ctx context.Context, d Desk, args []string) error {
	if g.Table != "" {
		return callError("--table is for half deflection")
	}
	var stated *metercheck.Bench
	if g.Bench != "" {
		b, _, err := readMeter(g.Bench)
		if err != nil {
			return err
		}
		stated = &b
	}
	var s *record.MeterSitting
	var err error
	if len(args) > 0 {
		s, err = record.ForMeterCheck().Resume(args[0], d.Now, d.NewID)
		s, err = furnish(d, s, err, stated, meterRefusal)
	} else {
		s, err = g.openMeter(d, stated)
	}
	if err != nil {
		return err
	}
	return errors.Join(g.showMeter(ctx, d, s), s.Close())
}

func (g Guide) showMeter(ctx context.Context, d Desk, s *record.MeterSitting) error {
	switch {
	case g.Lines:
		return lines.Run(s, d.In, d.Out)
	case g.talks(d):
		return plain.RunMeter(plain.MeterOptions{Sitting: s, Minutes: g.Minutes, Now: d.Now, In: d.In, Out: d.Out})
	}
	o := screens(d, g.Way)
	o.Meter = s
	return look(ctx, o)
}

// openMeter is open for a meter check.
func (w Way) openMeter(d Desk, stated *metercheck.Bench) (*record.MeterSitting, error) {
	s, err := kept(w, d, record.ForMeterCheck().Open, record.ForMeterCheck().BeginIn)
	return furnish(d, s, err, stated, meterRefusal)
}

func meterRefusal(c metercheck.Counsel) *string { return c.Refused }

// readMeter reads the bench file of a meter check: the stated bench, and what
// it hides for a practice, nil where it hides nothing.
func readMeter(path string) (metercheck.Bench, json.RawMessage, error) {
	data, err := benchFile(path)
	if err != nil {
		return metercheck.Bench{}, nil, ofBenchFile(path, err)
	}
	body, hidden, err := benchOf(data, metercheck.Words())
	if err != nil {
		return metercheck.Bench{}, nil, ofBenchFile(path, err)
	}
	return body.(metercheck.Bench), hidden, nil
}

// meter practises a meter check on a simulated bench.
func (p Practise) meter(ctx context.Context, d Desk) error {
	if p.Examination {
		return callError("--examination is for half deflection")
	}
	s, b, err := p.sitMeter(d)
	if err != nil {
		return err
	}
	return errors.Join(p.practiseMeter(ctx, d, s, b), s.Close())
}

func (p Practise) practiseMeter(ctx context.Context, d Desk, s *record.MeterSitting, b *panel.Bench) error {
	if p.Auto {
		return p.obeyMeter(d, s, b)
	}
	hand := &auto.MeterHand{MeterBench: b}
	if d.Terminal && !p.Plain {
		o := screens(d, p.Way)
		o.Meter, o.MeterHand = s, hand
		return look(ctx, o)
	}
	return plain.RunMeter(plain.MeterOptions{Sitting: s, Hand: hand, Minutes: p.Minutes, Now: d.Now, In: d.In, Out: d.Out})
}

// sitMeter opens the record and sets up its simulated bench; Seed is then that
// of the record. An --auto practice without a record is kept in memory.
func (p *Practise) sitMeter(d Desk) (*record.MeterSitting, *panel.Bench, error) {
	sim := simulation{seed: p.Seed, drawn: fromStock, fault: p.Fault}
	var stated metercheck.Bench
	var hidden []byte
	if p.Bench != "" {
		b, h, err := readMeter(p.Bench)
		if err != nil {
			return nil, nil, err
		}
		stated, hidden, sim.drawn = b, h, fromFile
		if h != nil {
			sim.drawn = fromHidden
		}
	}
	var b *panel.Bench
	var err error
	if p.isNew() { // begun only once its bench stands
		if b, stated, err = p.buildMeter(sim, stated, hidden); err != nil {
			return nil, nil, err
		}
	}
	s := record.ForMeterCheck().InMemory(d.Now)
	if !p.Auto || p.Record != "" {
		if s, err = p.openMeter(d, nil); err != nil {
			return nil, nil, err
		}
	}
	give := func(err error) (*record.MeterSitting, *panel.Bench, error) {
		return nil, nil, errors.Join(err, s.Close())
	}
	if recorded, ok := firstBench[metercheck.Bench](s.Events()); ok {
		switch sim, ok = simulationOf(recorded.Label); {
		case p.Bench != "":
			return give(errHasBench)
		case !ok:
			return give(fmt.Errorf("%s was made at a real bench: go on with halve guide", procedure.CleanText(p.Record, maxPath)))
		case sim.drawn == fromHidden:
			return give(errors.New("the hidden values of its bench file are not in the record: begin a new practice with --bench"))
		}
		events := s.Events()
		if err := p.again(sim, events[len(events)-1]); err != nil {
			return give(err)
		}
		if b, _, err = p.buildMeter(sim, recorded, nil); err != nil {
			return give(err)
		}
		return s, b, nil
	}
	if b == nil { // a record without a bench
		if b, stated, err = p.buildMeter(sim, stated, hidden); err != nil {
			return give(err)
		}
	}
	p.Seed = sim.seed
	stated.Label = sim.label(stated.Label)
	if _, err := furnish(d, s, nil, &stated, meterRefusal); err != nil {
		return nil, nil, err
	}
	return s, b, nil
}

// buildMeter sets up the simulated bench, with its fault, and returns it with
// what is stated of it.
func (p *Practise) buildMeter(sim simulation, stated metercheck.Bench, hidden []byte) (*panel.Bench, metercheck.Bench, error) {
	r := random(sim.seed)
	if sim.drawn == fromStock {
		stated = metercheck.Invented(panel.Stock(r))
	}
	truth := panel.Draw(stated.Stated(), r)
	if hidden != nil {
		var err error
		if truth, err = truth.With(hidden, stated.Stated()); err != nil {
			return nil, stated, ofBenchFile(p.Bench, errors.New(strings.TrimPrefix(err.Error(), "panel: ")))
		}
	}
	b, err := panel.New(stated.Stated(), truth, r)
	if err != nil {
		return nil, stated, err
	}
	if p.Fault != "" {
		if err := b.Plant(p.Fault); err != nil {
			return nil, stated, CallError{strings.TrimPrefix(err.Error(), "panel: ")}
		}
	}
	return b, stated, nil
}

// meterTruth is what a simulated bench hid.
type meterTruth struct {
	panel.Hidden
	Fault *string `json:"fault"` // null: the bench is sound
}

// obeyMeter lets the scripted student loose and prints what came of it.
func (p Practise) obeyMeter(d Desk, s *record.MeterSitting, b *panel.Bench) error {
	hidden := meterTruth{Hidden: b.Hidden()}
	if planted := b.Fault(); planted != "" {
		hidden.Fault = &planted
	}
	run, err := auto.ObeyMeter(s, b, true)
	if err != nil {
		err = fmt.Errorf("not complete: %w", err)
	}
	return errors.Join(p.tellMeter(d, s, run, hidden), err)
}

func (p Practise) tellMeter(d Desk, s *record.MeterSitting, run auto.MeterRun, hidden meterTruth) error {
	if p.JSON {
		return writeJSON(d.Out, struct {
			Seed    uint64             `json:"seed"`
			Truth   meterTruth         `json:"truth"`
			Events  []procedure.Event  `json:"events"`
			Counsel metercheck.Counsel `json:"counsel"`
			Pinned  int                `json:"pinned"`
		}{p.Seed, hidden, run.Events, run.Counsel, run.Pinned})
	}
	t := text{w: d.Out}
	t.record(run.Events, s.State().Struck, plain.DescribeMeter)
	t.line("")
	bench, _ := s.State().Bench()
	t.meter(bench, run.Counsel)
	t.line("")
	h := hidden.Hidden
	t.line("The hidden truth  zero %+.2f div, sensitivity %+.2f %%, bow %+.2f div, friction %.2f div,", h.Zero, 100*h.Gain, h.Bow, h.Friction)
	t.line("                  hysteresis %.2f div, reference %+.3f %%", h.Hysteresis, 100*h.Reference)
	if hidden.Fault != nil {
		named := "the findings never named it first with more than one half"
		if run.Mended > 0 {
			named = fmt.Sprintf("named, and mended, after event %d", run.Mended)
		}
		t.line("                  fault %s: %s", *hidden.Fault, named)
	}
	t.line("The pointer was driven past its scale: %s.", times(run.Pinned))
	if s.Path() != "" {
		t.line("Record: %s", procedure.CleanText(s.Path(), maxPath))
	}
	return t.err
}

// meter prints the result of a meter check's record.
func (r Result) meter(d Desk, path string) error {
	log, err := record.ForMeterCheck().Read(path)
	if err != nil {
		return err
	}
	if note := log.CutNote(); note != "" {
		fmt.Fprintf(d.Err, "halve: %s\n", note)
	}
	c := metercheck.Advise(log.State)
	if r.JSON {
		return writeJSON(d.Out, struct {
			Result   *metercheck.Result  `json:"result"`
			Findings []procedure.Finding `json:"findings"`
			Remarks  []string            `json:"remarks"`
		}{c.Result, c.Findings, append([]string{}, c.Remarks...)})
	}
	t := text{w: d.Out}
	bench, _ := log.State.Bench()
	t.meter(bench, c)
	t.line("")
	t.line("Record: %s", procedure.CleanText(path, maxPath))
	return t.err
}

// meter writes the points as a table and what they come to.
func (t *text) meter(b metercheck.Bench, c metercheck.Counsel) {
	if c.Result != nil {
		var out strings.Builder
		w := tabwriter.NewWriter(&out, 0, 0, 2, ' ', tabwriter.AlignRight)
		fmt.Fprintln(w, "event\tpoint\tpointer/div\tindicated\treference\terror\tU (95 %)\t")
		for _, p := range c.Result.Points {
			name := p.Direction
			if p.Zero {
				name = "zero"
			}
			if p.Tapped {
				name += ", tapped"
			}
			off := strings.Replace(fmt.Sprintf("%+.2f %%", p.Error), "-", "−", 1)
			fmt.Fprintf(w, "%d\t%s\t%s\t%s\t%s\t%s\t%.2f %%\t\n", p.Seq, name, quantity.Style(0).Exact(p.Div, quantity.Number),
				quantity.Format(p.Indicated, b.Unit(), 4), quantity.Format(p.Reference, b.Unit(), 5), off, p.U95Error)
		}
		w.Flush()
		t.table(out.String())
		t.line("")
	}
	for _, l := range c.Result.Say(b) {
		t.line("%s", l)
	}
	for _, r := range c.Remarks {
		t.line("%s", r)
	}
	if c.Result != nil && len(c.Result.Corrections) > 0 {
		t.line("")
		t.line("Corrections, to be added to the reading:")
		for _, k := range c.Result.Corrections {
			t.line("  at %6.2f div  %s", k.Div, quantity.Style(0).Measured(quantity.Measured{Value: k.Value, U: k.U, Unit: b.Unit()}))
		}
	}
	for _, f := range c.Findings {
		t.line("Finding (%.0f %%): %s %s", 100*f.Probability, f.Say, f.Try)
	}
	t.line("This is practice and refreshment; certified calibration is for an accredited laboratory.")
}
