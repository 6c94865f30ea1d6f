// Package command is what each command of the program does: flags in, work
// done. It knows no flag parser and no exit status.
package command

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
	"example.org/halve/tui"
	"example.org/halve/tui/screen"
)

// Desk is the world that a command works in, passed in once by main.
type Desk struct {
	In       io.Reader
	Out, Err io.Writer
	// Terminal says that a person sits at a terminal that can be drawn on.
	Terminal bool
	Now      func() time.Time
	NewID    func() string
	// DataDir is where records go that were given no name.
	DataDir string
	// Version is which program this is, in one line.
	Version string
}

// CallError says that the program was called wrongly, as distinct from work
// that could not be done.
type CallError struct{ text string }

func (e CallError) Error() string { return e.text }

func callError(format string, a ...any) error { return CallError{fmt.Sprintf(format, a...)} }

// maxWord bounds what is repeated of a word from the command line.
const maxWord = 60

// Start opens the screens at the start page. Without a terminal it says so
// and shows the commands.
func Start(ctx context.Context, d Desk, commands string) error {
	if !d.Terminal {
		_, err := fmt.Fprintf(d.Out, "The screens need a terminal, and there is none here. These commands work without one:\n\n"+
			"  halve guide --plain       a practical at the bench, as a plain dialogue\n"+
			"  halve guide --lines       the same for programs, as JSON Lines\n"+
			"  halve practise --auto     a whole practical on a simulated bench, by a scripted student\n"+
			"  halve result RECORD       the result of a record\n\n%s", commands)
		return err
	}
	return look(ctx, screens(d, Way{}))
}

// Way is how a practical is entered: where it is kept and how it is shown.
type Way struct {
	Record, Bench string
	Plain, ASCII  bool
	Theme         string
	Minutes       int
}

// check refuses what can be seen to be wrong before any file is touched.
func (w Way) check() error {
	if w.Theme != "" && w.Theme != "light" && w.Theme != "dark" {
		return callError("--theme is light or dark, not %q", procedure.CleanText(w.Theme, maxWord))
	}
	if w.Minutes < 0 {
		return callError("--minutes is the time there is, 1 or more, not %d", w.Minutes)
	}
	return nil
}

// screens are the options of the screens without a sitting.
func screens(d Desk, w Way) tui.Options {
	practise := func(p Practise) (*record.Sitting, screen.ByHand, error) {
		// Standard error is the terminal that the screens are drawn on: a
		// line there would push the page up by one.
		d := d
		d.Err = io.Discard
		p.byHand = true
		s, b, err := p.sit(d)
		if err != nil {
			return nil, nil, err
		}
		at, err := p.underHands(s, b)
		if err != nil {
			return nil, nil, errors.Join(err, s.Close())
		}
		return s, at, nil
	}
	return tui.Options{
		Practise: func() (*record.Sitting, screen.ByHand, error) {
			// Each practice begun on the start page has a bench of its own;
			// six digits are enough, and short enough to pass on.
			return practise(Practise{Seed: uint64(d.Now().UnixNano()) % 1_000_000})
		},
		GoOn: func(path string) (*record.Sitting, screen.ByHand, error) {
			if m := of(path); m.simulated || m.examination {
				return practise(Practise{Way: Way{Record: path}})
			}
			s, err := record.Resume(path, d.Now, d.NewID)
			return s, nil, err
		},
		DataDir: d.DataDir, Now: d.Now, NewID: d.NewID, Version: d.Version,
		Minutes: w.Minutes, ASCII: w.ASCII, Theme: w.Theme,
		ReadBench: func(path string) (procedure.Bench, error) {
			b, _, err := readBench(path) // what it hides is for a practice
			return b, err
		},
		WriteBench: writeBench,
		In:         d.In, Out: d.Out,
	}
}

// look opens the screens. Leaving by Ctrl+C is leaving.
func look(ctx context.Context, o tui.Options) error {
	if err := tui.Run(ctx, o); !errors.Is(err, tui.ErrInterrupted) {
		return err
	}
	return nil
}
