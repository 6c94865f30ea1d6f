// Package tui opens the terminal screens.
package tui

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"syscall"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/mattn/go-runewidth"
	"github.com/muesli/termenv"

	"example.org/halve/procedure/record"
	_ "example.org/halve/tui/quiet" // before Bubble Tea's own start
	"example.org/halve/tui/screen"
	"example.org/halve/tui/theme"
)

// Options are what the screens need.
type Options struct {
	Sitting *record.Sitting // nil opens the start page
	Bench   screen.Needle   // the simulated bench of a practice, nil at a real one
	// Practise begins a practice from the start page; nil leaves it out.
	Practise func() (*record.Sitting, screen.Needle, error)
	DataDir  string // where records are kept
	Now      func() time.Time
	NewID    func() string
	Minutes  int    // the time there is, 0 for no limit
	ASCII    bool   // draw with ASCII signs; so it is in any case where the locale is not UTF-8
	Theme    string // theme.Auto, theme.Light or theme.Dark
	In       io.Reader
	Out      io.Writer // nil, or a file that is the terminal
}

// ErrInterrupted is returned when the person left with Ctrl+C. Nothing that
// was recorded is lost by it.
var ErrInterrupted = tea.ErrInterrupted

// Run shows the screens until the person leaves. A sitting that it was given
// stays open; one that was opened on the start page is closed.
func Run(ctx context.Context, o Options) error {
	// A cell is a cell in every locale: the screens are laid out with one
	// width for each sign.
	runewidth.DefaultCondition.EastAsianWidth = false

	// A closed window ends the program the ordinary way: what was accepted is
	// on the disk already, and the record is let go of.
	ctx, stop := signal.NotifyContext(ctx, syscall.SIGHUP)
	defer stop()

	out := o.Out
	if out == nil {
		out = os.Stdout
	}
	profile := termenv.NewOutput(out).EnvColorProfile()
	ascii := o.ASCII || !theme.UTF8Locale(os.Environ(), runtime.GOOS == "windows" || runtime.GOOS == "darwin")
	m := screen.New(screen.Options{
		Sitting: o.Sitting, Needle: o.Bench, Practise: o.Practise, DataDir: o.DataDir,
		Now: o.Now, NewID: o.NewID, Minutes: o.Minutes,
		Theme: theme.New(o.Theme, profile, ascii),
	})
	options := []tea.ProgramOption{tea.WithContext(ctx), tea.WithAltScreen(), tea.WithOutput(out)}
	// Standard input is Bubble Tea's own default; naming it would lose resizes
	// on Windows.
	if o.In != nil && o.In != io.Reader(os.Stdin) {
		options = append(options, tea.WithInput(o.In))
	}
	_, err := tea.NewProgram(m, options...).Run()
	closed := m.Close()
	switch {
	case errors.Is(err, tea.ErrProgramPanic):
		err = fmt.Errorf("the screens broke down; what was recorded is whole, and 'halve guide RECORD' goes on with it: %w", err)
	case ctx.Err() != nil:
		err = ctx.Err()
	}
	return errors.Join(err, closed)
}
