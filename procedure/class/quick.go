package class

import (
	"bytes"
	"math"
	"slices"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/estimate"
	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
	"example.org/halve/safety"
)

// A quick reads records one after the other in the same room. It takes only what
// it understands to the last byte; on anything else read says no, and the full
// reading decides. It is not for several goroutines at once.
type quick struct {
	sheet    Sheet
	bench    apparatus.Bench
	floats   [11]float64 // what the bench's pointers point to
	stated   bool
	series   *box
	shunt    *box
	boxes    map[string]*box
	texts    map[string]string
	plates   map[Plate]*Plate
	marks    []mark
	coils    []float64
	text     []byte
	state    quickState
	in       estimate.Input
	weights  []float64
	fit      estimate.Marginal
	runs     []quickRun
	branches []quickBranch
}

// box is a resistance box prepared, with the settings that it was found at.
type box struct {
	*apparatus.Range
	coils    []float64
	settings map[string]*setting
}

type setting struct {
	ohm    float64
	counts []int
}

// The most that is kept for the next record.
const (
	mostBoxes    = 128
	mostSettings = 4096
	mostTexts    = 4096
	mostQuick    = 4000 // events; a longer record is read in full
)

// kind is what an event is.
type kind uint8

const (
	kindNone kind = iota
	kindBench
	kindWired
	kindSource
	kindZero
	kindSeries
	kindFirst
	kindShunt
	kindShunted
	kindKeep
	kindClaim
	kindStrike
	kindNote
	kindWho
	kindFinish
)

var kindNames = [...]string{
	kindBench: procedure.KindBench, kindWired: procedure.KindWired, kindSource: procedure.KindSource, kindZero: procedure.KindZero,
	kindSeries: procedure.KindSetSeries, kindFirst: procedure.KindReadFirst, kindShunt: procedure.KindSetShunt,
	kindShunted: procedure.KindReadShunted, kindKeep: procedure.KindKeepRow, kindClaim: procedure.KindClaim, kindStrike: procedure.KindStrike,
	kindNote: procedure.KindNote, kindWho: procedure.KindWho, kindFinish: procedure.KindFinish,
}

// mark is an event, as far as it counts here. Its number is its place, from 1.
type mark struct {
	kind             kind
	off, back, loose bool // off the scale, at its left end; source: loaded
	struck           int32
	run, branch      int32 // of a reading or a row
	at               int64
	v, u             float64
}

type quickState struct {
	wired, finished bool
	shunt           *setting
	shuntSeq        int32
	kept            int
	who             bool
}

type quickRun struct {
	seq      int32
	set      *setting
	from, to int32 // its branches
	anyFirst int32 // first readings in force on the scale
}

type quickBranch struct {
	run      int32
	shuntSeq int32
	set      *setting
	any      int32 // shunted readings in force on the scale
	row      int32 // the event that kept it, 0 for none
}

func newQuick() *quick {
	return &quick{boxes: map[string]*box{}, texts: map[string]string{}, plates: map[Plate]*Plate{}}
}

// read makes a sheet of what a file holds; ok is false where the full reading
// has to decide.
func (q *quick) read(data []byte) (sheet Sheet, ok bool) {
	q.sheet, q.state, q.stated = blank(), quickState{}, false
	q.marks = append(q.marks[:0], mark{})
	q.runs, q.branches = q.runs[:0], q.branches[:0]
	line, rest, ended := bytes.Cut(data, []byte{'\n'})
	if !ended || !q.header(line) {
		return Sheet{}, false
	}
	for len(rest) > 0 {
		if line, rest, ended = bytes.Cut(rest, []byte{'\n'}); !ended || len(line) > procedure.MaxLine || !q.event(line) {
			return Sheet{}, false
		}
	}
	if !q.stated {
		return Sheet{}, false
	}
	return q.sheet, q.sum()
}

// open takes the seal off a line, if it has one that agrees.
func open(line []byte) (s scan, ok bool) {
	body, sealed, agrees := record.SumAgrees(line)
	switch {
	case sealed && !agrees:
		return s, false
	case sealed:
		s.b = body
	case bytes.Contains(line, []byte(`"sum"`)):
		return s, false
	default:
		line = bytes.TrimRight(line, " \t\r")
		if !bytes.HasSuffix(line, []byte{'}'}) {
			return s, false
		}
		s.b = line[:len(line)-1]
	}
	return s, s.take('{')
}

func (q *quick) header(line []byte) bool {
	s, ok := open(line)
	if !ok {
		return false
	}
	seen := 0
	once := func(bit int) bool { seen ^= bit; return seen&bit != 0 }
	for first := true; ; first = false {
		k, more, ok := s.key(first)
		if !ok {
			return false
		}
		if !more {
			break
		}
		switch string(k) {
		case "record":
			t, ok := s.text()
			if !ok || !once(1) || string(t) != "halve" {
				return false
			}
		case "version":
			n, ok := s.count()
			if !ok || !once(2) || n != 1 {
				return false
			}
		case "procedure":
			t, ok := s.text()
			if !ok || !once(4) || string(t) != record.HalfDeflection {
				return false
			}
		case "id":
			t, ok := s.text()
			if !ok || !once(8) || !plain(t, 100) {
				return false
			}
			q.sheet.ID = string(t)
		case "begun":
			t, ok := s.text()
			if !ok || !once(16) {
				return false
			}
			if q.sheet.Begun, ok = moment(t); !ok {
				return false
			}
		default:
			return false
		}
	}
	return seen&7 == 7 && s.ended()
}

// plain reports whether a text is the same cleaned: printable ASCII, without
// blanks at its ends.
func plain(t []byte, most int) bool {
	if len(t) > most {
		return false
	}
	for _, c := range t {
		if c < 0x20 || c > 0x7e {
			return false
		}
	}
	return len(t) == 0 || t[0] != ' ' && t[len(t)-1] != ' '
}

// said is a text cleaned, at most so many characters long.
func (q *quick) said(s *scan, most int) (text string, ok bool) {
	t, ok := s.written()
	if !ok {
		return "", false
	}
	if text, known := q.texts[string(t)]; known {
		return text, len(t) <= most
	}
	text = procedure.CleanText(string(t), len(t)+1)
	if len(q.texts) < mostTexts && len(t) < 100 {
		q.texts[string(t)] = text
	}
	return text, len(text) <= most // by the byte: what is near the limit is read in full
}

// The keys of events, one bit each.
const (
	keySeq uint32 = 1 << iota
	keyAt
	keyEvent
	keyDiv
	keyOff
	keyOhm
	keyTake
	keyEMF
	keyUEMF
	keyLoaded
	keyQuantity
	keyValue
	keyRow
	keyStrikes
	keyWhy
	keyText
	keyTemperature
	keyNames
	keyGroup
	keySource
	keyGalvanometer
	keySeriesBox
	keyShuntBox
	keyLabel
)

// Of each kind: the keys that it needs, and that it may have.
var needs, may = keysOfKinds()

func keysOfKinds() (needs, may [kindFinish + 1]uint32) {
	for k, of := range map[kind][2]uint32{
		kindBench: {keySource | keyGalvanometer | keySeriesBox | keyShuntBox, keyLabel}, kindWired: {},
		kindSource: {keyEMF, keyUEMF | keyLoaded}, kindZero: {keyDiv, 0}, kindSeries: {keyOhm, keyTake}, kindFirst: {0, keyDiv | keyOff},
		kindShunt: {keyOhm, keyTake}, kindShunted: {0, keyDiv | keyOff}, kindKeep: {}, kindClaim: {keyQuantity | keyValue, keyRow},
		kindStrike: {keyStrikes, keyWhy}, kindNote: {0, keyText | keyTemperature}, kindWho: {0, keyNames | keyGroup}, kindFinish: {},
	} {
		needs[k] = of[0] | keySeq | keyAt | keyEvent
		may[k] = needs[k] | of[1]
	}
	return needs, may
}

// line is what a line says.
type line struct {
	keys             uint32
	seq              int
	at               int64
	kind             kind
	div, ohm, emf, u float64
	off, loaded      bool
	quantity         []byte
	value            procedure.Written
	row, strikes     int
	why, noted       bool
	temperature      float64
	names, group     string
	label            string
	key              []byte // what the setting was written as
	take             []float64
}

// event takes one line.
func (q *quick) event(b []byte) bool {
	s, ok := open(b)
	if !ok || len(q.marks) > mostQuick {
		return false
	}
	var l line
	for first := true; ; first = false {
		k, more, ok := s.key(first)
		if !ok {
			return false
		}
		if !more {
			break
		}
		bit, ok := q.member(&s, k, &l)
		if !ok || l.keys&bit != 0 {
			return false
		}
		l.keys |= bit
	}
	if l.kind == kindNone || l.keys&needs[l.kind] != needs[l.kind] || l.keys&^may[l.kind] != 0 || l.seq != len(q.marks) || !s.ended() {
		return false
	}
	return q.apply(&l)
}

// member reads one member of an event.
func (q *quick) member(s *scan, key []byte, l *line) (bit uint32, ok bool) {
	number := func(v *float64, bit uint32) (uint32, bool) {
		*v, ok = s.number()
		return bit, ok
	}
	switch string(key) {
	case "seq":
		l.seq, ok = s.count()
		return keySeq, ok
	case "at":
		t, ok := s.text()
		if ok {
			l.at, ok = moment(t)
		}
		return keyAt, ok
	case "event":
		t, ok := s.text()
		for k, name := range kindNames {
			if ok && k > 0 && string(t) == name {
				l.kind = kind(k)
				return keyEvent, true
			}
		}
		return 0, false
	case "div":
		return number(&l.div, keyDiv)
	case "off_scale":
		l.off, ok = s.truth()
		return keyOff, ok
	case "ohm":
		s.byte()
		from := s.at
		l.ohm, ok = s.number()
		l.key = s.b[from:s.at]
		return keyOhm, ok
	case "take_out_ohm":
		q.coils, ok = s.numbers(q.coils[:0])
		l.take = q.coils
		return keyTake, ok
	case "emf_V":
		return number(&l.emf, keyEMF)
	case "u_emf_V":
		return number(&l.u, keyUEMF)
	case "loaded":
		l.loaded, ok = s.truth()
		return keyLoaded, ok
	case "quantity":
		l.quantity, ok = s.text()
		return keyQuantity, ok
	case "value":
		if s.byte() == '"' {
			t, ok := s.text()
			l.value = procedure.Written{Text: string(t), Value: math.NaN()}
			return keyValue, ok && plain(t, 60)
		}
		from := s.at
		l.value.Value, ok = s.number()
		l.value.Text = string(s.b[from:s.at])
		return keyValue, ok
	case "row":
		l.row, ok = s.count()
		return keyRow, ok
	case "strikes":
		l.strikes, ok = s.count()
		return keyStrikes, ok
	case "why":
		t, ok := q.said(s, 1000)
		l.why = t != ""
		return keyWhy, ok
	case "text":
		t, ok := q.said(s, 1000)
		l.noted = t != ""
		return keyText, ok
	case "temperature_C":
		return number(&l.temperature, keyTemperature)
	case "names":
		l.names, ok = q.said(s, procedure.MaxNames)
		return keyNames, ok
	case "group":
		l.group, ok = q.said(s, apparatus.MaxLabel)
		return keyGroup, ok
	case "source":
		return keySource, q.source(s)
	case "galvanometer":
		return keyGalvanometer, q.galvanometer(s)
	case "series_box":
		q.series, ok = q.box(s, &q.bench.SeriesBox)
		return keySeriesBox, ok
	case "shunt_box":
		q.shunt, ok = q.box(s, &q.bench.ShuntBox)
		return keyShuntBox, ok
	case "label":
		l.label, ok = q.said(s, apparatus.MaxLabel)
		return keyLabel, ok
	}
	return 0, false
}

// object goes through the members of an object, each once.
func object(s *scan, member func(key []byte) (bit uint32, ok bool)) bool {
	if !s.take('{') {
		return false
	}
	seen := uint32(0)
	for first := true; ; first = false {
		if s.byte() == 0 { // key takes that for the end of a sealed line
			return false
		}
		k, more, ok := s.key(first)
		if !ok {
			return false
		}
		if !more {
			return true
		}
		bit, ok := member(k)
		if !ok || seen&bit != 0 {
			return false
		}
		seen |= bit
	}
}

func (q *quick) source(s *scan) bool {
	b := &q.bench.Source
	*b = apparatus.Source{}
	return object(s, func(key []byte) (bit uint32, ok bool) {
		point := func(to **float64, at int) (uint32, bool) {
			q.floats[at], ok = s.number()
			*to = &q.floats[at]
			return 1 << at, ok
		}
		switch string(key) {
		case "label":
			b.Label, ok = q.said(s, apparatus.MaxLabel)
			return 1 << 30, ok
		case "emf_V":
			b.EMF, ok = s.number()
			return 1 << 29, ok
		case "u_emf_V":
			return point(&b.UEMF, 0)
		case "resistance_ohm":
			return point(&b.Resistance, 1)
		case "u_resistance_ohm":
			return point(&b.UResistance, 2)
		case "max_A":
			return point(&b.MaxCurrent, 3)
		}
		return 0, false
	})
}

func (q *quick) galvanometer(s *scan) bool {
	g := &q.bench.Galvanometer
	*g = apparatus.Galvanometer{}
	return object(s, func(key []byte) (bit uint32, ok bool) {
		point := func(to **float64, at int) (uint32, bool) {
			q.floats[at], ok = s.number()
			*to = &q.floats[at]
			return 1 << at, ok
		}
		switch string(key) {
		case "label":
			g.Label, ok = q.said(s, apparatus.MaxLabel)
			return 1 << 30, ok
		case "divisions":
			g.Divisions, ok = s.number()
			return 1 << 29, ok
		case "zero":
			t, ok := s.text()
			g.Zero = apparatus.CentreZero
			if string(t) == string(apparatus.LeftZero) {
				g.Zero = apparatus.LeftZero
			} else if string(t) != string(apparatus.CentreZero) {
				return 0, false
			}
			return 1 << 28, ok
		case "resolution_div":
			g.Resolution, ok = s.number()
			return 1 << 27, ok
		case "full_scale_A":
			return point(&g.FullScale, 4)
		case "u_full_scale_A":
			return point(&g.UFullScale, 5)
		case "resistance_ohm":
			return point(&g.Resistance, 6)
		case "u_resistance_ohm":
			return point(&g.UResistance, 7)
		}
		return 0, false
	})
}

// box reads a resistance box. Of equal boxes one is prepared.
func (q *quick) box(s *scan, b *apparatus.Box) (*box, bool) {
	*b = apparatus.Box{}
	at := 8
	if b == &q.bench.ShuntBox {
		at = 9
	}
	s.byte()
	q.text = q.text[:0]
	ok := object(s, func(key []byte) (bit uint32, ok bool) {
		from := s.at
		defer func() { q.text = append(q.text, s.b[from:s.at]...) }()
		switch string(key) {
		case "label":
			b.Label, ok = q.said(s, apparatus.MaxLabel)
			from = s.at // boxes differ by what they are, not by their names
			return 1, ok
		case "kind":
			t, ok := s.text()
			if b.Kind = apparatus.Plug; string(t) == string(apparatus.Decade) {
				b.Kind = apparatus.Decade
			} else if string(t) != string(apparatus.Plug) {
				return 0, false
			}
			return 2, ok
		case "coils_ohm":
			q.coils, ok = s.numbers(q.coils[:0])
			b.Coils = q.coils
			return 4, ok && len(q.coils) <= apparatus.MaxCoils
		case "dials_ohm":
			q.coils, ok = s.numbers(q.coils[:0])
			b.Dials = q.coils
			return 8, ok && len(q.coils) <= apparatus.MaxCoils
		case "tolerance":
			b.Tolerance, ok = s.number()
			return 16, ok
		case "coil_rating_W":
			q.floats[at], ok = s.number()
			b.Rating = &q.floats[at]
			return 32, ok
		}
		return 0, false
	})
	if !ok || b.Coils != nil && b.Dials != nil {
		return nil, false
	}
	known := q.boxes[string(q.text)]
	if known == nil {
		b.Coils, b.Dials = slices.Clone(b.Coils), slices.Clone(b.Dials)
		r, err := apparatus.NewRange(*b)
		if err != nil {
			return nil, false
		}
		if len(q.boxes) == mostBoxes {
			clear(q.boxes)
		}
		known = &box{r, slices.Concat(b.Coils, b.Dials), map[string]*setting{}}
		q.boxes[string(q.text)] = known
	}
	// The numbers outlive the line.
	if b.Kind == apparatus.Plug {
		b.Coils = known.coils
	} else {
		b.Dials = known.coils
	}
	return known, true
}

// set is the setting that a line names.
func (q *quick) set(b *box, l *line) *setting {
	q.text = append(q.text[:0], l.key...)
	if l.keys&keyTake != 0 {
		q.text = append(q.text, ':')
		for _, c := range l.take {
			bits := math.Float64bits(c)
			q.text = append(q.text, byte(bits>>56), byte(bits>>48), byte(bits>>40), byte(bits>>32), byte(bits>>24), byte(bits>>16), byte(bits>>8), byte(bits))
		}
	}
	if s, ok := b.settings[string(q.text)]; ok {
		return s
	}
	var s apparatus.Setting
	if l.keys&keyTake != 0 {
		var err error
		if s, err = b.Sum(l.take); err != nil || b.Box().Kind != apparatus.Plug || math.Abs(s.Ohm-l.ohm) > 1e-6*max(l.ohm, 1) {
			return nil
		}
	} else {
		var ok bool
		if s, ok = b.Exact(l.ohm); !ok {
			return nil
		}
	}
	if len(b.settings) == mostSettings {
		clear(b.settings)
	}
	out := &setting{s.Ohm, b.Multiset(s)}
	b.settings[string(q.text)] = out
	return out
}

// apply takes an event as the fold does; it says no to what the fold would
// refuse, and to what is seldom and not simple.
func (q *quick) apply(l *line) bool {
	m := mark{kind: l.kind, at: l.at}
	st := &q.state
	seq := int32(l.seq)
	switch l.kind {
	case kindBench, kindWho, kindNote, kindStrike, kindFinish:
	default:
		if !q.stated {
			return false
		}
	}
	if st.finished {
		switch l.kind {
		case kindStrike, kindNote, kindClaim, kindWho, kindZero, kindSource:
		default:
			return false
		}
	}
	switch l.kind {
	case kindBench:
		q.bench.Label = l.label
		if q.stated || (procedure.Bench{Bench: q.bench}).Check() != nil || q.bench.Source.EMF > safety.RefuseEMF {
			return false
		}
		q.stated = true
	case kindWired:
		st.wired = true
	case kindSource:
		if !(l.emf >= 1e-6 && l.emf <= safety.RefuseEMF && l.u >= 0 && l.u <= apparatus.MaxEMF) {
			return false
		}
		m.v, m.u, m.loose = l.emf, l.u, l.loaded
		if l.keys&keyUEMF == 0 {
			m.u = -1
		}
	case kindZero:
		if math.Abs(l.div) > q.bench.Galvanometer.Divisions {
			return false
		}
		m.v = l.div
	case kindSeries:
		set := q.set(q.series, l)
		if set == nil {
			return false
		}
		n := int32(len(q.branches))
		q.runs = append(q.runs, quickRun{seq: seq, set: set, from: n, to: n})
	case kindShunt:
		set := q.set(q.shunt, l)
		if set == nil {
			return false
		}
		st.shunt, st.shuntSeq = set, seq
		if len(q.runs) > 0 {
			q.branch()
		}
	case kindFirst, kindShunted:
		if !q.reading(l, &m) {
			return false
		}
	case kindKeep:
		n := len(q.runs)
		if n == 0 || q.runs[n-1].anyFirst == 0 || st.shunt == nil {
			return false
		}
		r := &q.runs[n-1]
		if r.from == r.to {
			return false
		}
		b := &q.branches[r.to-1]
		if b.shuntSeq != st.shuntSeq || b.any == 0 || b.row != 0 {
			return false
		}
		b.row = seq
		st.kept++
		m.run, m.branch = int32(n-1), r.to-1
	case kindClaim:
		c := procedure.Claim{Quantity: string(l.quantity), Value: l.value, Row: l.row}
		if c.Check() != nil || l.row > st.kept {
			return false
		}
		m.loose, m.off = hasUnit(l.value.Text), c.Quantity == procedure.ClaimMerit
	case kindStrike:
		return q.strike(l, m)
	case kindNote:
		if !l.noted && l.keys&keyTemperature == 0 || l.keys&keyTemperature != 0 && !(l.temperature >= -60 && l.temperature <= 100) {
			return false
		}
		m.loose, m.v = l.keys&keyTemperature != 0, l.temperature
	case kindWho:
		if st.who || l.names == "" && l.group == "" { // which of several counts is for the fold
			return false
		}
		st.who = true
		q.sheet.Names, q.sheet.Group = l.names, l.group
	case kindFinish:
		st.finished = true
	}
	q.marks = append(q.marks, m)
	return true
}

// branch begins a branch of the run in hand.
func (q *quick) branch() {
	r := &q.runs[len(q.runs)-1]
	q.branches = append(q.branches, quickBranch{run: int32(len(q.runs) - 1), shuntSeq: q.state.shuntSeq, set: q.state.shunt})
	r.to = int32(len(q.branches))
}

// reading takes a first or a shunted reading.
func (q *quick) reading(l *line, m *mark) bool {
	n, divisions := len(q.runs), q.bench.Galvanometer.Divisions
	has := l.keys&keyDiv != 0
	if !q.state.wired || n == 0 || !has && !l.off || math.Abs(l.div) > divisions && !l.off || math.Abs(l.div) > apparatus.MaxDivisions {
		return false
	}
	if l.off && has && math.Abs(l.div) < divisions {
		return false
	}
	m.off, m.back, m.v = l.off, l.off && l.div < 0, l.div
	r := &q.runs[n-1]
	m.run, m.branch = int32(n-1), -1
	if l.kind == kindFirst {
		if !l.off {
			r.anyFirst++
		}
		return true
	}
	if q.state.shunt == nil || r.anyFirst == 0 {
		return false
	}
	if r.from == r.to || q.branches[r.to-1].shuntSeq != q.state.shuntSeq {
		q.branch()
	}
	m.branch = r.to - 1
	if !l.off {
		q.branches[m.branch].any++
	}
	return true
}

// strike takes a strike on a reading, a zero, a measured source, a row, a claim
// or a note that stands; a strike of anything else is for the fold.
func (q *quick) strike(l *line, m mark) bool {
	if l.strikes < 1 || l.strikes >= l.seq {
		return false
	}
	t := &q.marks[l.strikes]
	if t.struck != 0 {
		return false
	}
	switch t.kind {
	case kindFirst, kindShunted:
		if !t.off {
			if t.kind == kindFirst {
				q.runs[t.run].anyFirst--
			} else {
				q.branches[t.branch].any--
			}
		}
		// Readings that a row was kept with take it along, which may let
		// another be kept in its place: that is for the fold.
		for _, b := range q.branches[q.runs[t.run].from:q.runs[t.run].to] {
			if b.row > 0 {
				return false
			}
		}
	case kindKeep:
		q.branches[t.branch].row = 0
		m.u = 1
	case kindZero, kindSource, kindClaim, kindNote:
	default:
		return false
	}
	t.struck = int32(l.seq)
	m.loose = l.why
	q.marks = append(q.marks, m)
	return true
}
