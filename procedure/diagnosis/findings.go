package diagnosis

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/fault"
	"example.org/halve/physics/quantity"
)

// most is the number of findings that are told.
const most = 5

// silence is the probability of "sound" from which nothing is told.
const silence = 0.5

// Act is a test that can be done with the keys and boxes.
type Act int

// The acts.
const (
	Ask         Act = iota // no act: an outside fact is to be found out
	ReadFirst              // the first deflection again, nothing changed
	ReadShunted            // the shunted reading again, nothing changed
	RaiseSeries            // a first deflection at more series resistance
	LowerShunt             // a shunted reading at half the shunt
	DoubleShunt            // a shunted reading at twice the shunt
)

// Test is the test that is expected to tell most.
type Test struct {
	Act  Act
	Ohm  float64 // the box's new value, for the acts that set one
	Bits float64 // how much the answer is expected to tell
}

// Finding is a cause with its probability after all readings.
type Finding struct {
	ID          string
	Probability float64
	Say, Try    string
	Strike      []int // the events to strike when it is mended
	Test        Test  // of the most probable finding only
}

// findings tells the causes.
func (w *work) findings() []Finding {
	causes := w.causes()
	for _, c := range causes {
		if c.id == sound && c.probability >= silence {
			return nil
		}
	}
	test := w.test(causes)
	var out []Finding
	for _, c := range causes {
		if c.id == sound || len(out) == most || c.probability < 0.005 && len(out) > 0 {
			continue
		}
		t := texts()[c.id]
		if t.dials != "" && w.dials(c.id) {
			t.check = t.dials
		}
		f := Finding{ID: string(c.id), Probability: c.probability, Say: w.detail(c, t.say), Try: t.check, Strike: w.spoiled(c)}
		if len(out) == 0 {
			f.Test = test
			if s := test.sentence(w); s != "" {
				f.Try = s + " " + t.check
			}
		}
		out = append(out, f)
	}
	return out
}

// dials reports whether the box that a fault is about has dials, both boxes
// where it is about either.
func (w *work) dials(id fault.ID) bool {
	series, shunt := w.in.Series.Box().Kind == apparatus.Decade, w.in.Shunt.Box().Kind == apparatus.Decade
	switch id {
	case fault.SeriesPlug, fault.SeriesUnit:
		return series
	case fault.ShuntPlug, fault.ShuntShorted, fault.ShuntContact:
		return shunt
	}
	return series && shunt
}

// detail adds to the counsel what the likeliest instance names.
func (w *work) detail(c cause, say string) string {
	i := c.best
	switch {
	case i.toggle != nil:
		box, plug := w.in.Series.Box(), ohms(i.toggle.Coil)
		name := "series"
		if i.h.plugs() == 1 {
			box, name = w.in.Shunt.Box(), "shunt"
		}
		how := fmt.Sprintf("the %s plug of the %s box is in, though said to be out", plug, name)
		switch {
		case box.Kind == apparatus.Decade && i.toggle.In:
			how = fmt.Sprintf("the %s dial of the %s box stands one step higher than said", plug, name)
		case box.Kind == apparatus.Decade:
			how = fmt.Sprintf("the %s dial of the %s box stands one step lower than said", plug, name)
		case i.toggle.In:
			how = fmt.Sprintf("the %s plug of the %s box is out, though said to be in", plug, name)
		}
		if c.id == fault.SeriesMoved {
			how = "between the two readings " + how
		}
		return say + " It fits best that " + how + w.when(i) + "."
	case i.at >= 0 || len(i.worked) == 1:
		at := i.at
		if at < 0 {
			at = i.worked[0]
		}
		l := &w.looks[at]
		return say + fmt.Sprintf(" It is the %s of %s div at R = %s.", readingName(l), div(l.div), ohms(l.series.Ohm))
	case i.h.ID == fault.SeriesUnit:
		return say + " It fits best if it is written " + i.h.Form + "."
	case i.h.ID == fault.ScaleMisread:
		return say + " It fits best if what is written is " + of(i.h.Form) + " the right reading."
	case i.h.ID == fault.Unexplained && i.first > 0:
		return say + " It begins at R = " + ohms(w.looks[w.runs[i.first][0]].series.Ohm) + "."
	case i.h.ID == fault.Unexplained:
		return say
	case i.h.Size.What != fault.Nothing:
		size, _ := i.h.Size.At(i.mean[number])
		switch i.h.ID {
		case fault.ShuntContact, fault.InnerShunt, fault.Leakage:
			return say + " About " + ohms(round2(size)) + " would explain it."
		case fault.ZeroOff:
			return say + " About " + div(round2(size)) + " div would explain it."
		}
	}
	if i.first > 0 || i.last < len(w.runs)-1 {
		return say + " It fits" + w.when(i) + "."
	}
	return say
}

// of puts a factor before what it is of: "a tenth" is of it, "half" and "twice"
// stand alone.
func of(factor string) string {
	if strings.HasPrefix(factor, "a ") {
		return factor + " of"
	}
	return factor
}

// when says at which settings an instance holds.
func (w *work) when(i instance) string {
	at := w.looks[w.runs[i.first][0]].series.Ohm
	switch {
	case i.first == i.last:
		return " at R = " + ohms(at)
	case i.first > 0:
		return " from R = " + ohms(at) + " on"
	}
	return " at every setting"
}

func readingName(l *look) string {
	if l.shunted {
		return "shunted reading"
	}
	return "first deflection"
}

// spoiled lists the events to strike once the fault is mended, in their order: of
// every run that it touched the setting, or what of it was touched alone.
func (w *work) spoiled(c cause) []int {
	i := c.best
	var out []int
	for j := i.first; j <= i.last; j++ {
		run := w.runs[j]
		if i.h.ID == fault.Reversed && j < len(w.runs)-1 {
			continue // a row wholly on the other side is as good
		}
		hit := w.touched(i, run)
		if i.h.Any && i.at < 0 || i.h.Loose {
			hit = run // nobody knows which
		}
		out = append(out, w.strikes(run, hit)...)
	}
	return out
}

// strikes lists the fewest events of a run that take some of its readings out
// of force and leave those that are good for something: a shunted reading is
// good for nothing without a first deflection.
func (w *work) strikes(run, hit []int) []int {
	if len(hit) == 0 {
		return nil
	}
	first, firstHit := 0, 0
	for _, k := range run {
		if !w.looks[k].shunted {
			first++
			if slices.Contains(hit, k) {
				firstHit++
			}
		}
	}
	seqs := func(of []int) (out []int) {
		for _, k := range of {
			out = append(out, w.looks[k].seqs...)
		}
		return out
	}
	if one := seqs(hit); len(one) == 1 {
		return one
	}
	if first > 0 && firstHit == first {
		return []int{w.looks[run[0]].runSeq}
	}
	var out []int
	for at := 0; at < len(hit); {
		// The readings of a branch, all of them or some.
		b := w.looks[hit[at]].branch
		to := at
		for to < len(hit) && w.looks[hit[to]].branch == b {
			to++
		}
		all := 0
		for _, k := range run {
			if w.looks[k].branch == b {
				all++
			}
		}
		if b >= 0 && all == to-at && len(seqs(hit[at:to])) > 1 {
			out = append(out, w.looks[hit[at]].setSeq)
		} else {
			out = append(out, seqs(hit[at:to])...)
		}
		at = to
	}
	return out
}

// touched lists the readings of a run that an instance foretells otherwise
// than if all were sound.
func (w *work) touched(i instance, run []int) []int {
	var hit []int
	if i.h.WorkedOut || i.h.Any && i.at >= 0 {
		for _, k := range run {
			if k == i.at || slices.Contains(i.worked, k) {
				hit = append(hit, k)
			}
		}
		return hit
	}
	var none vector
	samples := w.pick(run)
	expected := make([]float64, len(samples))
	for k := range samples {
		expected[k] = samples[k].h.predict(&samples[k], at(&i.mean), &none)
	}
	w.suppose(samples, i)
	for k := range samples {
		if d := samples[k].h.predict(&samples[k], at(&i.mean), &none) - expected[k]; math.Abs(d) > samples[k].sigma {
			hit = append(hit, run[k])
		}
	}
	return hit
}

// heeded is how often an outside check is done and answered rightly (common
// practice, no source); the answer of a needle is always right.
const heeded = 0.8

// newSetting is what a test is worth that asks for another setting, beside one
// that repeats a reading (common practice, no source).
const newSetting = 0.5

// tested is the number of causes that a test is chosen for.
const tested = 6

// test chooses the test with the greatest expected information about the
// likeliest causes: the mutual information of cause and answer.
func (w *work) test(causes []cause) Test {
	causes = causes[:min(len(causes), tested)]
	total := 0.0
	for _, c := range causes {
		total += c.probability
	}
	lead := causes[0]
	if lead.id == sound {
		lead = causes[1]
	}
	best := Test{Act: Ask, Bits: heeded * bits(lead.probability/total)}
	last := w.runs[len(w.runs)-1]
	l := w.looks[last[len(last)-1]]
	consider := func(act Act, ohm float64, as look) {
		b := w.information(causes, total, as)
		if ohm > 0 {
			b *= newSetting
		}
		if b > best.Bits+1e-9 {
			best = Test{act, ohm, b}
		}
	}
	as := l
	as.off, as.n, as.shunted, as.drive = 0, 1, false, 1
	consider(ReadFirst, 0, as)
	if set, ok := w.in.Series.Nearest(1.5 * l.series.Ohm); ok && set.Ohm > l.series.Ohm {
		more := as
		more.series, more.run, more.branch = set, -1, -1
		consider(RaiseSeries, set.Ohm, more)
	}
	if l.shunted {
		as.shunted = true
		consider(ReadShunted, 0, as)
		for _, other := range []struct {
			act   Act
			times float64
		}{{LowerShunt, 0.5}, {DoubleShunt, 2}} {
			if set, ok := w.in.Shunt.Nearest(other.times * l.shunt.Ohm); ok && set.Ohm > 0 && set.Ohm != l.shunt.Ohm {
				turned := as
				turned.shunt, turned.branch = set, -2
				consider(other.act, set.Ohm, turned)
			}
		}
	}
	return best
}

// bits is the entropy of a yes or no.
func bits(p float64) float64 {
	if p <= 0 || p >= 1 {
		return 0
	}
	return -p*math.Log2(p) - (1-p)*math.Log2(1-p)
}

// bins is the number of places on a scale that answers are told apart by.
const bins = 120

// information is the mutual information of the causes and a reading, in bits.
func (w *work) information(causes []cause, total float64, as look) float64 {
	width := 2 * w.in.Divisions / bins
	mixture := make([]float64, bins+2)
	within := 0.0
	each := make([]float64, bins+2)
	for _, c := range causes {
		p := c.probability / total
		mean, sd := w.foretell(c.best, as)
		clear(each)
		before := 0.0
		for k := range each {
			after := 1.0
			if k <= bins {
				edge := -w.in.Divisions + float64(k)*width
				after = 0.5 * math.Erfc((mean-edge)/(sd*math.Sqrt2))
			}
			each[k] = after - before
			before = after
		}
		for k, m := range each {
			if m > 1e-12 {
				within -= p * m * math.Log2(m)
			}
			mixture[k] += p * m
		}
	}
	h := 0.0
	for _, m := range mixture {
		if m > 1e-12 {
			h -= m * math.Log2(m)
		}
	}
	return h - within
}

// foretell is what a cause lets expect of the next reading, with its standard
// deviation. A slip of one reading is not made again, a slip of one setting
// stays with the setting.
func (w *work) foretell(i instance, as look) (mean, sd float64) {
	s := sample{h: w.table.sound, series: as.series.Ohm, shunt: as.shunt.Ohm, at: &as, sigma: as.sigma}
	holds := i.last == len(w.runs)-1 && i.at < 0
	if i.h.Span == fault.OneRow && (as.run < 0 || i.h.Shunt == fault.OnePlug && as.branch != i.branch) {
		holds = false
	}
	if i.h.Any && i.at < 0 { // nothing known: anything
		return 0, 2 * w.in.Divisions
	}
	if holds {
		one := []sample{s}
		j := i
		j.at, j.branch = -1, -1
		if j.h.Between {
			// A box that was moved stays moved.
			h := *j.h
			h.Between = false
			j.h = &h
		}
		w.suppose(one, j)
		s = one[0]
		begun, now := math.Inf(1), 0.0
		for j, run := range w.runs {
			for _, k := range run {
				now = max(now, w.looks[k].order+1)
				if j == i.first {
					begun = min(begun, w.looks[k].order)
				}
			}
		}
		s.age = now - begun
	}
	var slope vector
	mean = s.h.predict(&s, at(&i.mean), &slope)
	v := s.sigma*s.sigma + i.factor.spread(slope)
	return max(-3*w.in.Divisions, min(3*w.in.Divisions, mean)), min(math.Sqrt(v), 10*w.in.Divisions)
}

// sentence says how the test is done, "" for an outside fact.
func (t Test) sentence(w *work) string {
	switch t.Act {
	case ReadFirst:
		return "Open K2 and take the first deflection again, nothing changed."
	case ReadShunted:
		return "Take the shunted reading again, nothing changed."
	case RaiseSeries:
		return "Open both keys, set the series box to " + ohms(t.Ohm) + " and take the first deflection."
	case LowerShunt, DoubleShunt:
		return "Open K2, set the shunt box to " + ohms(t.Ohm) + " and take the shunted reading."
	}
	return ""
}

// ohms writes a box value; the unit stays on the number's line.
func ohms(v float64) string { return quantity.Style(0).Exact(v, quantity.Number) + "\u00a0Ω" }

func div(v float64) string { return quantity.Style(0).Exact(math.Round(v*100)/100, quantity.Number) }

func round2(v float64) float64 {
	x, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 2, 64), 64)
	if err != nil {
		return v
	}
	return x
}
