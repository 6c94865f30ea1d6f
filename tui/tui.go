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
	"strings"
	"syscall"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/mattn/go-runewidth"
	"github.com/muesli/termenv"

	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
	_ "example.org/halve/tui/quiet" // before Bubble Tea's own start
	"example.org/halve/tui/screen"
	"example.org/halve/tui/theme"
)

// Options are what the screens need.
type Options struct {
	Sitting *record.Sitting // nil opens the start page
	Bench   screen.ByHand   // the simulated bench of a practice, nil at a real one
	// Meter is a meter check, in the place of Sitting, and MeterHand its
	// simulated bench, nil at a real one.
	Meter     *record.MeterSitting
	MeterHand screen.MeterHand
	// Practise begins a practice from the start page; nil leaves it out.
	Practise func() (*record.Sitting, screen.ByHand, error)
	// GoOn opens a record from the list, with its simulated bench if it has one.
	GoOn    func(path string) (*record.Sitting, screen.ByHand, error)
	DataDir string // where records are kept
	Now     func() time.Time
	NewID   func() string
	Version string // which program this is, for the account of a breakdown
	Minutes int    // the time there is, 0 for no limit
	ASCII   bool   // draw with ASCII signs; so it is in any case where the locale is not UTF-8
	Still   bool   // nothing moves by itself
	Theme   string // theme.Auto, theme.Light or theme.Dark
	// ReadBench and WriteBench read and write bench files.
	ReadBench  func(path string) (procedure.Bench, error)
	WriteBench func(path string, b procedure.Bench) error
	In         io.Reader
	Out        io.Writer // the terminal, a file; nil is standard output
}

// ErrInterrupted is returned when the person left with Ctrl+C or closed the
// window. Nothing that was recorded is lost by it.
var ErrInterrupted = tea.ErrInterrupted

// Run shows the screens until the person leaves. A sitting that it was given
// stays open; one that was opened on the start page is closed.
func Run(ctx context.Context, o Options) error {
	// A cell is a cell in every locale: the screens are laid out with one
	// width for each sign.
	runewidth.DefaultCondition.EastAsianWidth = false

	// A closed window ends the program the ordinary way: what was accepted is
	// on the disk already, and the record is let go of.
	given := ctx
	ctx, stop := signal.NotifyContext(ctx, syscall.SIGHUP)
	defer stop()

	out, isFile := o.Out.(*os.File)
	if o.Out == nil {
		out, isFile = os.Stdout, true
	}
	if !isFile {
		return errors.New("the screens are drawn on a terminal, and this is none")
	}
	profile := termenv.NewOutput(out).EnvColorProfile()
	ascii := o.ASCII || !theme.UTF8Locale(os.Environ(), runtime.GOOS == "windows" || runtime.GOOS == "darwin")
	paint := func(name string) theme.Theme {
		t := theme.New(name, profile, ascii)
		if !ascii && theme.OlderConsole(runtime.GOOS, os.Environ()) {
			t.Signs = theme.Older()
		}
		return t
	}
	var program *tea.Program
	to := newWriter(out)
	input, ask := o.question(profile, to, func(dark bool) { program.Send(screen.Background{Dark: dark}) })
	m := screen.New(screen.Options{
		Sitting: o.Sitting, Bench: o.Bench, Practise: o.Practise, GoOn: o.GoOn, DataDir: o.DataDir,
		Meter: o.Meter, MeterHand: o.MeterHand,
		Now: o.Now, NewID: o.NewID, Minutes: o.Minutes,
		ReadBench: o.ReadBench, WriteBench: o.WriteBench,
		// Over a network each frame of a moving needle may come late.
		Still: o.Still || os.Getenv("SSH_CONNECTION") != "",
		// Bubble Tea has no way to there.
		NoSuspend: runtime.GOOS == "windows",
		Theme:     paint(o.Theme),
		Ask:       ask,
		Paint: func(dark bool) theme.Theme {
			if dark {
				return paint(theme.Dark)
			}
			return paint(theme.Light)
		},
	})
	const fewest = 1 // looks a second of a renderer that has nothing to show
	options := []tea.ProgramOption{tea.WithContext(ctx), tea.WithAltScreen(), tea.WithOutput(quietly{out, to}), tea.WithFPS(fewest)}
	if input != nil {
		options = append(options, tea.WithInput(input))
	}
	program = tea.NewProgram(painted{m, to}, options...)
	_, err := program.Run()
	closed := m.Close()
	switch {
	case m.Crash() != nil:
		err = o.report(*m.Crash())
	case errors.Is(err, tea.ErrProgramPanic):
		err = fmt.Errorf("the screens broke down; %s: %w", whole, err)
	case given.Err() != nil:
		err = given.Err()
	case ctx.Err() != nil:
		err = ErrInterrupted // nobody is there to be told more
	}
	return errors.Join(err, closed)
}

// question returns the input to read from, nil for Bubble Tea's own, and what
// asks the terminal for its background, nil where that is known, does not
// matter or cannot be asked.
func (o Options) question(profile termenv.Profile, to *writer, told func(dark bool)) (input io.Reader, ask func()) {
	in, isFile := o.In.(*os.File)
	if o.In == nil {
		in, isFile = os.Stdin, true
	}
	switch {
	case !isFile:
		return o.In, nil
	case runtime.GOOS == "windows": // naming an input would lose resizes
		if in != os.Stdin {
			input = in
		}
		return input, nil
	}
	a := &answers{File: in, told: func(dark bool) { go told(dark) }} // the reader does not wait for the screens
	kind := os.Getenv("TERM")
	switch {
	case o.Theme != theme.Auto, profile == termenv.Ascii,
		// These pass the question on, or swallow it, as they are set up.
		strings.HasPrefix(kind, "screen"), strings.HasPrefix(kind, "tmux"), strings.HasPrefix(kind, "dumb"), kind == "":
		return a, nil
	}
	return a, func() {
		a.ask()
		to.control([]byte(askBackground))
	}
}

// whole is what can be said of the record whatever broke.
const whole = "what was recorded is whole, and 'halve guide RECORD' goes on with it"

// report writes down what is known of a breakdown and says where.
func (o Options) report(c screen.Crash) error {
	text := fmt.Sprintf("halve broke down at %s\nhalve %s\n\n%s\n\n%s", o.Now().Format(time.RFC3339), o.Version, c.What, c.Stack)
	for _, dir := range []string{o.DataDir, os.TempDir()} {
		if os.MkdirAll(dir, 0o755) != nil {
			continue
		}
		f, err := os.CreateTemp(dir, "halve-breakdown-*.txt")
		if err != nil {
			continue
		}
		_, err = f.WriteString(text)
		if err = errors.Join(err, f.Close()); err != nil {
			continue
		}
		return fmt.Errorf("the screens broke down (%s); %s; what happened is written in %s", c.What, whole, f.Name())
	}
	return fmt.Errorf("the screens broke down (%s); %s", c.What, whole)
}
