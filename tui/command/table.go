package command

import (
	"errors"
	"fmt"
	"io"
	"os"

	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
	"example.org/halve/tui/table"
)

// table reads the table on file that --table names, nil where it names none.
func (g Guide) table() (*table.Table, error) {
	if g.Table == "" {
		return nil, nil
	}
	bad := func(err error) (*table.Table, error) {
		return nil, fmt.Errorf("table %s: %w", procedure.CleanText(g.Table, maxPath), err)
	}
	f, err := os.Open(g.Table)
	if err != nil {
		var p *os.PathError
		if errors.As(err, &p) {
			err = p.Err
		}
		return bad(err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, table.MaxSize+1))
	if err != nil {
		return bad(errors.New("it cannot be read; a CSV file is expected"))
	}
	return table.Read(procedure.CleanText(g.Table, maxPath), data)
}

// takeOver takes the table over, if there is one: at once, or, where somebody
// is talked to, later, so that it is told and the bench can be asked for first.
func (g Guide) takeOver(d Desk, s *record.Sitting, t *table.Table) (later *table.Table, err error) {
	if t == nil {
		return nil, nil
	}
	state := s.State()
	_, known := state.Bench()
	switch {
	case !known && g.talks(d):
		return t, nil
	case !known:
		return nil, errNoBench
	}
	bodies, err := t.Events(state, s.Events())
	if err != nil || g.talks(d) {
		return t, err
	}
	return nil, table.Record(s, bodies)
}
