// Package table takes over a table of rows that was written on paper: a CSV
// file in, the events of its rows out. It opens no file and computes nothing.
//
// The first line that names the columns series, first, shunt and shunted is the
// head; what stands above it, a title say, is passed over. A unit in the head
// holds for the cells that have none. The columns resistance and merit are the
// student's own values, to be compared; struck says that a row was struck out,
// and why; other columns are passed over.
//
// A cell struck out on paper is written ~~23~~, and what replaced it after it.
// In a row without a series value and a first deflection those of the row above
// stand. A row without a shunted deflection is a trial that was not read.
package table

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/tui/typed"
)

// Bounds on what is taken for the table of a practical.
const (
	MaxSize = 1 << 20 // bytes
	maxRows = 200
	// headWithin is where the head is looked for, in lines.
	headWithin = 20
	maxCell    = 60 // runes that a message repeats of a cell
)

// The columns by their names.
const (
	series     = "series"
	first      = "first"
	shunt      = "shunt"
	shunted    = "shunted"
	resistance = "resistance"
	merit      = "merit"
	struck     = "struck"
)

// columns are all that are read, and the unit of each.
var columns = map[string]quantity.Unit{
	series: quantity.Ohm, first: quantity.Division, shunt: quantity.Ohm, shunted: quantity.Division,
	resistance: quantity.Ohm, merit: quantity.AmperePerDivision, struck: quantity.Number,
}

// needed are the columns that a table must have.
var needed = []string{series, first, shunt, shunted}

// Table is a table as it was written. It has at least one row.
type Table struct {
	name string
	rows []row
}

// row is one row of a table.
type row struct {
	line  int // in the file
	cells map[string]cell
	out   bool // struck out
	why   string
}

// cell is what stands in one place: the values that were struck out, and the
// one that stands, "" for none.
type cell struct {
	column int
	struck []string
	text   string
}

// An Error says where in the file something is wrong. Lines and columns count
// from 1; Column is 0 where a whole line is meant.
type Error struct {
	Line, Column int
	Name         string // of the column
	Err          error
}

func (e *Error) Error() string {
	if e.Column == 0 {
		return fmt.Sprintf("line %d: %s", e.Line, e.Err)
	}
	return fmt.Sprintf("line %d, column %d, %s: %s", e.Line, e.Column, e.Name, e.Err)
}

func (e *Error) Unwrap() error { return e.Err }

// Read reads a table. The name is that of its file, as it is to be shown; every
// error begins with it, and names the place by line and column.
func Read(name string, data []byte) (*Table, error) {
	t := Table{name: name}
	if err := t.read(data); err != nil {
		return nil, t.of(err)
	}
	return &t, nil
}

func (t *Table) of(err error) error { return fmt.Errorf("table %s: %w", t.name, err) }

func (t *Table) read(data []byte) error {
	if len(data) > MaxSize {
		return fmt.Errorf("it is larger than %d bytes, which no table of a practical is", MaxSize)
	}
	text, err := decoded(data)
	if err != nil {
		return err
	}
	h, records, err := findHead(text)
	if err != nil {
		return err
	}
	for _, r := range records {
		row, err := h.row(r)
		if err != nil {
			return err
		}
		if row == nil {
			continue
		}
		if t.rows = append(t.rows, *row); len(t.rows) > maxRows {
			return &Error{Line: r.line, Err: fmt.Errorf("there are more than %d rows: no practical has as many", maxRows)}
		}
	}
	if len(t.rows) == 0 {
		return &Error{Line: h.line, Err: errors.New("there is no row below the head")}
	}
	return nil
}

// decoded is the text of a file: UTF-8 with or without a byte order mark, or
// else one byte a character (ISO 8859-1), as older spreadsheets write it.
func decoded(data []byte) (string, error) {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")) || bytes.IndexByte(data, 0) >= 0 {
		return "", errors.New("it is no CSV text: save the table as CSV, in UTF-8")
	}
	if utf8.Valid(data) {
		return string(data), nil
	}
	runes := make([]rune, len(data))
	for i, b := range data {
		runes[i] = rune(b)
	}
	return string(runes), nil
}

// record is a line of the file, taken apart.
type record struct {
	line   int
	fields []string
}

// head says which column is which.
type head struct {
	line   int
	width  int               // how many cells it has
	place  map[string]int    // where a column stands
	unit   map[string]string // the unit that its head has, "" for none
	commas bool              // a comma in a cell is a decimal mark, whatever stands behind it
	points bool              // there are such commas, so that a point may part thousands
}

// findHead finds the head and the mark that parts the cells.
func findHead(text string) (head, []record, error) {
	var lacking error
	least := len(needed) // columns missing from the best head so far
	for _, mark := range []rune{',', ';', '\t'} {
		records, err := parted(text, mark)
		if err != nil {
			// Of a file of another kind this would say nothing.
			if lower := strings.ToLower(text); lacking == nil && strings.Contains(lower, series) && strings.Contains(lower, shunted) {
				lacking = err
			}
			continue
		}
		for i, r := range records {
			if i == headWithin {
				break
			}
			h, missing, err := headOf(r)
			if err != nil {
				return head{}, nil, err
			}
			if len(missing) == 0 {
				h.commas = mark != ','
				for _, below := range records[i+1:] {
					h.points = h.points || h.commas && slices.ContainsFunc(below.fields, decimalComma.MatchString)
				}
				return h, records[i+1:], nil
			}
			if len(missing) < least {
				least = len(missing)
				lacking = &Error{Line: r.line, Err: fmt.Errorf("the head has no column %s; it needs %s", strings.Join(missing, ", "), strings.Join(needed, ", "))}
			}
		}
	}
	if lacking != nil {
		return head{}, nil, lacking
	}
	return head{}, nil, fmt.Errorf("there is no head: a line with the columns %s is expected", strings.Join(needed, ", "))
}

// parted takes a text apart at the mark.
func parted(text string, mark rune) ([]record, error) {
	r := csv.NewReader(strings.NewReader(text))
	r.Comma, r.FieldsPerRecord, r.TrimLeadingSpace = mark, -1, mark != '\t'
	var out []record
	for {
		fields, err := r.Read()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		var bad *csv.ParseError
		if errors.As(err, &bad) {
			return nil, &Error{Line: bad.Line, Err: fmt.Errorf("%w at character %d", bad.Err, bad.Column)}
		}
		if err != nil {
			return nil, err
		}
		line, _ := r.FieldPos(0)
		for i, f := range fields {
			fields[i] = procedure.CleanText(f, len(f))
		}
		out = append(out, record{line, fields})
	}
}

// title is the head of a column: its name, perhaps with what is usually said
// after it, and perhaps a unit in brackets, behind a stroke, or behind a mark.
var title = regexp.MustCompile(`(?i)^(series|first|shunt|shunted|resistance|merit|struck)(?:\s+(?:box|resistance|deflection|reading|out|[RSGk]))?(?:\s*[(\[]([^)\]]*)[)\]]|\s*/\s*(.+)|[\s_,]+(?:in\s+)?(.+))?$`)

// headOf reads a line as a head, and says which columns it lacks.
func headOf(r record) (h head, missing []string, err error) {
	h = head{line: r.line, width: len(r.fields), place: make(map[string]int), unit: make(map[string]string)}
	for i, text := range r.fields {
		m := title.FindStringSubmatch(text)
		if m == nil {
			continue
		}
		name := strings.ToLower(m[1])
		if _, twice := h.place[name]; twice {
			return h, nil, &Error{Line: r.line, Column: i + 1, Name: name, Err: errors.New("this column stands twice")}
		}
		h.place[name], h.unit[name] = i, strings.TrimSpace(m[2]+m[3]+m[4])
	}
	for _, name := range needed {
		if _, ok := h.place[name]; !ok {
			missing = append(missing, name)
		}
	}
	if len(missing) > 0 {
		return h, missing, nil
	}
	for name, unit := range h.unit {
		if _, err := quantity.Parse("1 "+unit, columns[name]); unit != "" && name != struck && err != nil {
			return h, nil, &Error{Line: r.line, Column: h.place[name] + 1, Name: name, Err: fmt.Errorf("the unit %q does not belong here", procedure.CleanText(unit, maxCell))}
		}
	}
	return h, nil, nil
}

// row reads a line below the head; nil where it is blank.
func (h head) row(r record) (*row, error) {
	out := row{line: r.line, cells: make(map[string]cell)}
	crossed, standing := 0, 0
	for i := h.width; i < len(r.fields); i++ {
		if r.fields[i] != "" {
			return nil, &Error{Line: r.line, Err: fmt.Errorf("there are %d cells where the head has %d: if commas are decimal marks, part the cells by semicolons", len(r.fields), h.width)}
		}
	}
	for name, i := range h.place {
		if i >= len(r.fields) || r.fields[i] == "" {
			continue
		}
		if name == struck {
			out.out, out.why = struckOut(r.fields[i])
			continue
		}
		c := apart(r.fields[i])
		if c.text == "" && len(c.struck) == 0 { // nothing, struck out
			continue
		}
		c.column = i + 1
		for _, text := range append([]*string{&c.text}, pointers(c.struck)...) {
			var err error
			if *text, err = h.number(name, *text); err != nil {
				return nil, &Error{Line: r.line, Column: c.column, Name: name, Err: err}
			}
		}
		out.cells[name] = c
		if c.text != "" {
			standing++
		} else {
			crossed++
		}
	}
	if standing+crossed == 0 {
		return nil, nil
	}
	if standing == 0 { // each cell is struck out: so is the row
		out.out = true
		for name, c := range out.cells {
			c.text, c.struck = c.struck[len(c.struck)-1], c.struck[:len(c.struck)-1]
			out.cells[name] = c
		}
	}
	return &out, nil
}

func pointers(texts []string) []*string {
	var out []*string
	for i := range texts {
		out = append(out, &texts[i])
	}
	return out
}

// crossedOut is a value struck out: between two pairs of tildes, or with a
// stroke through each of its characters (U+0335 to U+0338).
var crossedOut = regexp.MustCompile("~~(.*?)~~|((?:.[\u0335-\u0338])+)")

// apart takes a cell apart into what was struck out and what stands.
func apart(text string) cell {
	var c cell
	for _, m := range crossedOut.FindAllStringSubmatch(text, -1) {
		was := strings.TrimSpace(m[1] + regexp.MustCompile("[\u0335-\u0338]").ReplaceAllString(m[2], ""))
		if was != "" {
			c.struck = append(c.struck, was)
		}
	}
	c.text = strings.TrimSpace(crossedOut.ReplaceAllString(text, ""))
	return c
}

// struckOut reads the cell that says whether a row was struck out, and why.
func struckOut(text string) (out bool, why string) {
	switch strings.ToLower(text) {
	case "no", "0", "false", "-":
		return false, ""
	case "yes", "x", "1", "true", "struck", "struck out":
		return true, ""
	}
	return true, text
}

// plainNumber has no unit of its own.
var plainNumber = regexp.MustCompile(`^[-+−]?[0-9 .,]+(?:[eE][-+]?[0-9]+)?$`)

// decimalComma is a number that has a comma where a point would part the
// decimals, whatever the number of digits behind it.
var decimalComma = regexp.MustCompile(`^([-+−]?[0-9]+),([0-9]+)(\D*|[eE].*)$`)

// thousands is a number whose points may part thousands.
var thousands = regexp.MustCompile(`^[-+−]?[1-9][0-9]{0,2}(?:\.[0-9]{3})+$`)

// number adds the head's unit to a number that has none. Where the cells are
// parted by another mark, a comma is a decimal mark and no other.
func (h head) number(name, text string) (string, error) {
	if h.points && thousands.MatchString(text) {
		return "", fmt.Errorf("%q can be read with its point as a decimal mark or between thousands, since commas are decimal marks elsewhere in this table: write it without", procedure.CleanText(text, maxCell))
	}
	if h.commas {
		text = decimalComma.ReplaceAllString(text, "$1.$2$3")
	}
	if unit := h.unit[name]; unit != "" && plainNumber.MatchString(text) {
		text += " " + unit
	}
	return text, nil
}

// Events are the events that take the table over after those that are recorded
// and make up the state: that it was taken over, from where, and its rows. They
// are judged one after the other; the error of the first that cannot be taken
// names its place in the file, and then nothing is to be taken. No clearance is
// asked for: what was read was read.
func (t *Table) Events(s *procedure.State, recorded []procedure.Event) ([]procedure.Body, error) {
	bodies, err := t.events(s, recorded)
	if err != nil {
		return nil, t.of(err)
	}
	return bodies, nil
}

func (t *Table) events(s *procedure.State, recorded []procedure.Event) ([]procedure.Body, error) {
	bench, ok := s.Bench()
	if !ok {
		return nil, errors.New("it needs the bench that it was read at")
	}
	for _, r := range recorded {
		switch r.Body.Kind() {
		case procedure.KindSetSeries, procedure.KindSetShunt:
			return nil, errors.New("the record has readings of its own: take a table over into a record without any")
		}
	}
	e := &events{state: s.Clone(), bench: bench}
	note := procedure.Note{Text: fmt.Sprintf("Taken over from a table written before, %s: %d rows", t.name, len(t.rows))}
	if err := e.take(note); err != nil {
		return nil, err
	}
	if !s.Wired() {
		if err := e.take(procedure.Wired{}); err != nil {
			return nil, err
		}
	}
	for _, r := range t.rows {
		if err := e.row(r); err != nil {
			return nil, err
		}
	}
	return e.bodies, nil
}

// Record takes the events of a table into a record.
func Record(s interface {
	Accept(procedure.Body) (procedure.Counsel, error)
}, bodies []procedure.Body) error {
	for _, b := range bodies {
		c, err := s.Accept(b)
		if err == nil && c.Refused != nil {
			err = errors.New(*c.Refused)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// events collects the events of a table as they are judged.
type events struct {
	state  *procedure.State
	bench  apparatus.Bench
	bodies []procedure.Body
	first  bool // there is a first deflection at the present series value
	kept   int  // rows
}

func (e *events) take(b procedure.Body) error {
	err := e.state.Apply(procedure.Event{Seq: e.state.Seq() + 1, Body: b})
	if err == nil {
		e.bodies = append(e.bodies, b)
	}
	return err
}

// row takes over one row.
func (e *events) row(r row) error {
	var readings []int // by number, to be struck with the row
	has := func(name string) bool { return r.cells[name].text != "" }
	at := func(name string, err error) error {
		if err == nil {
			return nil
		}
		return &Error{Line: r.line, Column: r.cells[name].column, Name: name, Err: err}
	}
	if has(series) {
		e.first = false
	}
	for _, name := range needed {
		c, ok := r.cells[name]
		if !ok {
			continue
		}
		for _, was := range c.struck {
			if err := at(name, e.value(name, was)); err != nil {
				return err
			}
			if err := at(name, e.take(procedure.Strike{Event: e.state.Seq(), Why: "struck out in the table"})); err != nil {
				return err
			}
		}
		if c.text == "" {
			continue
		}
		if name == shunted && !e.first {
			return &Error{Line: r.line, Column: c.column, Name: name, Err: errors.New("there is no first deflection at this series value to compare it with")}
		}
		if err := at(name, e.value(name, c.text)); err != nil {
			return err
		}
		switch name {
		case first:
			e.first = true
			readings = append(readings, e.state.Seq())
		case shunted:
			readings = append(readings, e.state.Seq())
		}
	}
	if has(shunted) {
		if err := at(shunted, e.take(procedure.RowKept{})); err != nil {
			return err
		}
		e.kept++
	}
	for _, name := range []string{resistance, merit} {
		if !has(name) {
			continue
		}
		if !has(shunted) {
			return at(name, errors.New("there is no row that this could follow from: its shunted deflection is blank"))
		}
		of := procedure.ClaimResistance
		if name == merit {
			of = procedure.ClaimMerit
		}
		c, err := procedure.ReadClaim(of, fmt.Sprintf("%s row %d", r.cells[name].text, e.kept))
		if err == nil {
			err = e.take(c)
		}
		if err != nil {
			return at(name, err)
		}
	}
	if !r.out {
		return nil
	}
	why := r.why
	if why == "" {
		why = "struck out in the table"
	}
	e.first = e.first && !has(first)
	slices.Reverse(readings)
	for _, n := range readings {
		if err := e.take(procedure.Strike{Event: n, Why: why}); err != nil {
			return &Error{Line: r.line, Err: err}
		}
	}
	return nil
}

// value takes over the value of a cell.
func (e *events) value(name, text string) error {
	switch name {
	case series, shunt:
		ohm, plugs, err := typed.Setting(text)
		if err != nil {
			return err
		}
		if name == series {
			return e.take(procedure.SeriesSet{Ohm: ohm, TakeOut: plugs})
		}
		return e.take(procedure.ShuntSet{Ohm: ohm, TakeOut: plugs})
	}
	div, off, err := typed.Deflection(text, e.bench.Galvanometer)
	if err != nil {
		return err
	}
	if name == first {
		return e.take(procedure.FirstRead{Div: div, OffScale: off})
	}
	return e.take(procedure.ShuntedRead{Div: div, OffScale: off})
}
