package procedure

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"example.org/halve/physics/apparatus"
)

// MaxLine is the longest line that is taken for an event, in bytes.
const MaxLine = 64 << 10

// The longest texts a person may write into one event, in runes: a note or a
// reason, and the names of a group. A label has apparatus.MaxLabel.
const (
	MaxText  = 4000
	MaxNames = 400
)

// maxValue bounds the text of a claimed value, in runes.
const maxValue = 60

// An Event is one thing that happened at the bench. Seq counts from 1 within
// a record and At is the time at which it was accepted; both are given by
// whoever keeps the record, never by the person.
type Event struct {
	Seq  int
	At   time.Time
	Body Body
}

// A Body says what happened. The types below are all that half deflection
// has; another procedure has its own bench and readings and shares the rest.
type Body interface {
	// Kind is the name the event has in a record.
	Kind() string
	// Check reports what cannot be true of this event whatever came before.
	Check() error
}

// Bench states the instruments on the table; a later one corrects the first.
type Bench struct{ apparatus.Bench }

// Wired says that the circuit is built and checked against the drawing.
type Wired struct{}

// SourceMeasured is the source measured now. Loaded means with K1 closed, so
// that the fall in the internal resistance is already in it.
type SourceMeasured struct {
	EMF    float64  `json:"emf_V"`
	UEMF   *float64 `json:"u_emf_V,omitempty"`
	Loaded bool     `json:"loaded,omitempty"`
}

// ZeroRead is the pointer's rest reading with the keys open, in divisions.
type ZeroRead struct {
	Div float64 `json:"div"`
}

// SeriesSet says that the series box now stands at Ohm, K1 open.
type SeriesSet struct {
	Ohm     float64   `json:"ohm"`
	TakeOut []float64 `json:"take_out_ohm,omitzero"` // nil: the fewest plugs; empty: none
}

// ShuntSet says that the shunt box now stands at Ohm, K2 open.
type ShuntSet struct {
	Ohm     float64   `json:"ohm"`
	TakeOut []float64 `json:"take_out_ohm,omitzero"` // nil: the fewest plugs; empty: none
}

// FirstRead is a reading with K1 closed and K2 open. Div is nil only where
// OffScale is true.
type FirstRead struct {
	Div      *float64 `json:"div,omitempty"`
	OffScale bool     `json:"off_scale,omitempty"`
}

// ShuntedRead is a reading with K1 and K2 closed.
type ShuntedRead struct {
	Div      *float64 `json:"div,omitempty"`
	OffScale bool     `json:"off_scale,omitempty"`
}

// RowKept makes the readings at the present settings a row.
type RowKept struct{}

// Claim is a value the student worked out by hand. Row 0 is the mean.
type Claim struct {
	Quantity string  `json:"quantity"` // ClaimResistance or ClaimMerit
	Value    Written `json:"value"`
	Row      int     `json:"row,omitempty"`
}

// The quantities that can be claimed.
const (
	ClaimResistance = "resistance"
	ClaimMerit      = "merit"
)

// Strike strikes out the event of number Event, which stays readable.
type Strike struct {
	Event int    `json:"-"`
	Why   string `json:"why,omitempty"`
}

// Note is anything worth writing down.
type Note struct {
	Text        string   `json:"text,omitempty"`
	Temperature *float64 `json:"temperature_C,omitempty"`
}

// Who says whose record this is, as typed.
type Who struct {
	Names string `json:"names,omitempty"`
	Group string `json:"group,omitempty"`
}

// Finish says that there will be no more rows.
type Finish struct{}

// The names of the events in a record and on the line protocol.
const (
	KindBench       = "bench"
	KindWired       = "wired"
	KindSource      = "source"
	KindZero        = "zero"
	KindSetSeries   = "set-series"
	KindReadFirst   = "read-first"
	KindSetShunt    = "set-shunt"
	KindReadShunted = "read-shunted"
	KindKeepRow     = "keep-row"
	KindClaim       = "claim"
	KindStrike      = "strike"
	KindNote        = "note"
	KindWho         = "who"
	KindFinish      = "finish"
)

// Kind implements Body; so do the methods below.
func (Bench) Kind() string          { return KindBench }
func (Wired) Kind() string          { return KindWired }
func (SourceMeasured) Kind() string { return KindSource }
func (ZeroRead) Kind() string       { return KindZero }
func (SeriesSet) Kind() string      { return KindSetSeries }
func (FirstRead) Kind() string      { return KindReadFirst }
func (ShuntSet) Kind() string       { return KindSetShunt }
func (ShuntedRead) Kind() string    { return KindReadShunted }
func (RowKept) Kind() string        { return KindKeepRow }
func (Claim) Kind() string          { return KindClaim }
func (Strike) Kind() string         { return KindStrike }
func (Note) Kind() string           { return KindNote }
func (Who) Kind() string            { return KindWho }
func (Finish) Kind() string         { return KindFinish }

// Written is a number as a person wrote it: the value, and the digits that
// show how finely it was stated. In JSON it is a number or a string.
type Written struct {
	Text  string
	Value float64
}

// MarshalJSON keeps the digits as typed.
func (w Written) MarshalJSON() ([]byte, error) {
	if w.Text == "" {
		return json.Marshal(w.Value)
	}
	return json.Marshal(w.Text)
}

// UnmarshalJSON takes a number or a string as people write it. The unit that
// the quantity allows is checked with the claim, not here.
func (w *Written) UnmarshalJSON(b []byte) error {
	if len(b) > 0 && b[0] == '"' {
		if err := json.Unmarshal(b, &w.Text); err != nil {
			return err
		}
		w.Value = math.NaN()
		return nil
	}
	var v float64
	var wrong *json.UnmarshalTypeError
	err := json.Unmarshal(b, &v)
	if errors.As(err, &wrong) && strings.HasPrefix(wrong.Value, "number ") {
		err, v = nil, math.Inf(1) // too large, which is for the check of the claim to say
	}
	if err != nil {
		return errors.New("value is a number or a string as written")
	}
	w.Text, w.Value = string(b), v
	return nil
}

// Words is the vocabulary of half deflection.
func Words() Vocabulary { return vocabulary }

// A Vocabulary is the events that a procedure has, by their names.
type Vocabulary map[string]Word

// A Word is how an event is read: how to make an empty body of it, by
// pointer, and the keys it cannot do without.
type Word struct {
	Empty    func() any
	Required []string
}

// vocabulary is that of half deflection.
var vocabulary = Vocabulary{
	KindBench:       {func() any { return new(Bench) }, []string{"source", "galvanometer", "series_box", "shunt_box"}},
	KindSource:      {func() any { return new(SourceMeasured) }, []string{"emf_V"}},
	KindSetSeries:   {func() any { return new(SeriesSet) }, []string{"ohm"}},
	KindReadFirst:   {func() any { return new(FirstRead) }, nil},
	KindSetShunt:    {func() any { return new(ShuntSet) }, []string{"ohm"}},
	KindReadShunted: {func() any { return new(ShuntedRead) }, nil},
	KindKeepRow:     {func() any { return new(RowKept) }, nil},
	KindClaim:       {func() any { return new(Claim) }, []string{"quantity", "value"}},
}

// shared are the events that every procedure has.
var shared = Vocabulary{
	KindWired:  {func() any { return new(Wired) }, nil},
	KindZero:   {func() any { return new(ZeroRead) }, []string{"div"}},
	KindStrike: {func() any { return new(Strike) }, nil},
	KindNote:   {func() any { return new(Note) }, nil},
	KindWho:    {func() any { return new(Who) }, nil},
	KindFinish: {func() any { return new(Finish) }, nil},
}

// Envelope keys that an event line may carry beside its own fields.
const (
	keyEvent = "event"
	keySeq   = "seq"
	keyAt    = "at"
	keySum   = "sum"
	// keyStrikes names the struck event in a record, where every line's seq
	// is its own number. On input, and in a record written by hand, a
	// strike's seq is the number of the event it strikes.
	keyStrikes = "strikes"
)

// DecodeInput reads an event as it comes from a person or a program: one JSON
// object, of the procedure that has these events beside the ones that all
// share: wired, zero, strike, note, who and finish. The input's at, sum and seq
// are ignored, save that a strike's seq is the number of the event it strikes.
// The error is one line that says what is wrong and what is expected.
func (words Vocabulary) DecodeInput(line []byte) (Body, error) {
	fields, kind, err := split(line)
	if err != nil {
		return nil, err
	}
	return words.decodeBody(fields, kind)
}

// DecodeRecorded reads the event that stands at the given place (from 1) of a
// record of that procedure. The line's own seq must agree with its place.
func (words Vocabulary) DecodeRecorded(line []byte, place int) (Event, error) {
	fields, kind, err := split(line)
	if err != nil {
		return Event{}, err
	}
	e := Event{Seq: place}
	if raw, ok := fields[keyAt]; ok {
		if err := json.Unmarshal(raw, &e.At); err != nil {
			return Event{}, errors.New("at is not a time as RFC 3339 writes it")
		}
	}
	if raw, ok := fields[keySeq]; ok {
		n, err := whole(raw)
		if err != nil {
			return Event{}, errors.New("seq is not a whole number")
		}
		_, marked := fields[keyStrikes]
		byHand := kind == KindStrike && !marked && n < place
		if n != place && !byHand {
			return Event{}, fmt.Errorf("seq is %d where event %d is expected", n, place)
		}
	}
	e.Body, err = words.decodeBody(fields, kind)
	return e, err
}

// split takes a line apart into its fields, nulls left out.
func split(line []byte) (fields map[string]json.RawMessage, kind string, err error) {
	if len(line) > MaxLine {
		return nil, "", fmt.Errorf("the line is longer than %d bytes; an event is one short JSON object", MaxLine)
	}
	fields, err = Members(line)
	if errors.Is(err, errNoObject) {
		return nil, "", errors.New(`not an event: expected one JSON object such as {"event":"wired"}`)
	}
	if err != nil {
		return nil, "", err
	}
	for k, v := range fields {
		if string(v) == "null" {
			delete(fields, k)
		}
	}
	if err := json.Unmarshal(fields[keyEvent], &kind); err != nil {
		return nil, "", errors.New(`the key "event" is missing: it names what happened, such as "wired" or "set-series"`)
	}
	return fields, kind, nil
}

// decodeBody reads the fields that are the event's own, strictly.
func (words Vocabulary) decodeBody(fields map[string]json.RawMessage, kind string) (Body, error) {
	word, ok := words[kind]
	if !ok {
		word, ok = shared[kind]
	}
	if !ok {
		return nil, fmt.Errorf("there is no event %q", CleanText(kind, 40))
	}
	body := word.Empty()
	if s, ok := body.(*Strike); ok {
		raw, ok := fields[keyStrikes]
		if !ok {
			raw, ok = fields[keySeq]
		}
		n, err := whole(raw)
		if !ok || err != nil {
			return nil, errors.New("strike needs seq, the number of the event to strike out")
		}
		s.Event = n
	}
	for _, name := range word.Required {
		if _, ok := fields[name]; !ok {
			return nil, fmt.Errorf("%s needs %s", kind, name)
		}
	}
	own := make(map[string]json.RawMessage, len(fields))
	for name, v := range fields {
		switch name {
		case keyEvent, keySeq, keyAt, keySum:
		case keyStrikes:
			if kind != KindStrike {
				own[name] = v
			}
		default:
			own[name] = v
		}
	}
	raw, err := json.Marshal(own)
	if err != nil {
		return nil, fmt.Errorf("%s is no JSON that can be read", kind)
	}
	var also []string
	if kind == KindStrike {
		also = []string{keySeq}
	}
	err = Strict(raw, body, also...)
	var h hugeError
	if errors.As(err, &h) {
		err = h.limit(word.Empty())
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", kind, err)
	}
	b := clean(bodyOf(body))
	return b, b.Check()
}

// whole reads a whole number, in whatever form JSON gives it: 5, 5.0, 5e0.
func whole(raw json.RawMessage) (int, error) {
	var x float64
	if err := json.Unmarshal(raw, &x); err != nil {
		return 0, err
	}
	if x != math.Trunc(x) || math.Abs(x) > 1<<53 {
		return 0, fmt.Errorf("%g is not a whole number", x)
	}
	return int(x), nil
}

// bodyOf is the body behind the pointer that a Word makes.
func bodyOf(p any) Body { return reflect.ValueOf(p).Elem().Interface().(Body) }

// Encode writes an event as one line of a record, without a newline.
func (e Event) Encode() ([]byte, error) {
	body, err := json.Marshal(e.Body)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be written: %w", e.Body.Kind(), err)
	}
	at, err := json.Marshal(e.At)
	if err != nil {
		return nil, fmt.Errorf("the time of %s cannot be written: %w", e.Body.Kind(), err)
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, `{"seq":%d,"at":%s,"event":%q`, e.Seq, at, e.Body.Kind())
	if s, ok := e.Body.(Strike); ok {
		fmt.Fprintf(&b, `,%q:%d`, keyStrikes, s.Event)
	}
	if len(body) > 2 {
		b.WriteByte(',')
		b.Write(body[1:])
	} else {
		b.WriteByte('}')
	}
	return b.Bytes(), nil
}

// MarshalJSON writes the event as its record does.
func (e Event) MarshalJSON() ([]byte, error) { return e.Encode() }

// EncodeInput writes a body the way DecodeInput reads it.
func EncodeInput(body Body) ([]byte, error) {
	raw, err := json.Marshal(body)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be written: %w", body.Kind(), err)
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, `{"event":%q`, body.Kind())
	if s, ok := body.(Strike); ok {
		fmt.Fprintf(&b, `,"seq":%d`, s.Event)
	}
	if len(raw) > 2 {
		b.WriteByte(',')
		b.Write(raw[1:])
	} else {
		b.WriteByte('}')
	}
	return b.Bytes(), nil
}

// ReadLine reads one line of at most MaxLine bytes from r, without its end.
// Of a longer line, the rest is passed over and tooLong is true. At the end of
// the input it returns io.EOF; a last line without an end, which may have been
// cut off, comes first, with io.ErrUnexpectedEOF.
func ReadLine(r *bufio.Reader) (line []byte, tooLong bool, err error) {
	for {
		piece, err := r.ReadSlice('\n')
		if len(line)+len(piece) > MaxLine+2 {
			tooLong = true
			line = line[:0]
		} else if !tooLong {
			line = append(line, piece...)
		}
		switch {
		case err == nil:
			line = bytes.TrimRight(line, "\r\n")
			return line, tooLong || len(line) > MaxLine, nil
		case errors.Is(err, io.EOF):
			if len(line) == 0 && !tooLong {
				return nil, false, io.EOF
			}
			return line, tooLong, io.ErrUnexpectedEOF
		case !errors.Is(err, bufio.ErrBufferFull):
			return nil, tooLong, err
		}
	}
}

// CleanText makes text from a stranger harmless: escape sequences, control
// and invisible formatting characters, and what no character is, are dropped, line ends become spaces,
// and what is longer than limit runes is cut.
func CleanText(s string, limit int) string {
	var b strings.Builder
	n := 0
	for i := 0; i < len(s) && n < limit; {
		if s[i] == 0x1b || strings.HasPrefix(s[i:], "\u009b") {
			i += escapeLen(s[i:])
			continue
		}
		r, size := utf8.DecodeRuneInString(s[i:])
		i += size
		switch {
		case r == '\n' || r == '\t' || r == '\r' || r == '\u2028' || r == '\u2029':
			r = ' '
		case r == utf8.RuneError && size == 1, !unicode.IsGraphic(r):
			continue
		}
		b.WriteRune(r)
		n++
	}
	return strings.TrimSpace(b.String())
}

// escapeLen returns the length of the escape sequence that s begins with
// (ECMA-48: CSI up to its final byte, OSC, DCS, SOS, PM and APC up to BEL or
// ST, else two bytes).
func escapeLen(s string) int {
	i := 1
	if s[0] == 0xc2 {
		i = 2 // the one-character CSI, U+009B
	} else if len(s) == 1 {
		return 1
	} else {
		switch s[1] {
		case '[':
			i = 2
		case ']', 'P', 'X', '^', '_':
			for j := 2; j < len(s); j++ {
				if s[j] == 0x07 {
					return j + 1
				}
				if s[j] == 0x1b {
					return min(j+2, len(s))
				}
			}
			return len(s)
		default:
			return 2
		}
	}
	for ; i < len(s); i++ {
		if s[i] >= 0x40 && s[i] <= 0x7e {
			return i + 1
		}
		if s[i] < 0x20 || s[i] > 0x7e {
			return i
		}
	}
	return len(s)
}

// clean makes every text in a body harmless. How long it may be is for the
// body's own check to say: nothing is cut off that somebody wrote.
func clean(b Body) Body {
	switch b := b.(type) {
	case interface{ Clean() Body }: // another procedure's
		return b.Clean()
	case Bench:
		for _, label := range b.labels() {
			*label.text = harmless(*label.text)
		}
		return b
	case Claim:
		b.Quantity = harmless(b.Quantity)
		b.Value.Text = harmless(b.Value.Text)
		if w, err := b.written(); err == nil {
			b.Value.Value = w.Value
		}
		return b
	case Strike:
		b.Why = harmless(b.Why)
		return b
	case Note:
		b.Text = harmless(b.Text)
		return b
	case Who:
		b.Names = harmless(b.Names)
		b.Group = harmless(b.Group)
		return b
	}
	return b
}

// harmless is CleanText of a text of any length.
func harmless(s string) string { return CleanText(s, len(s)) }
