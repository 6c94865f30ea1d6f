// Command halve goes with a student through the half-deflection measurement
// of a galvanometer's resistance and figure of merit.
package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"slices"
	"syscall"
	"time"

	"github.com/adrg/xdg"
	"github.com/charmbracelet/x/term"
	"github.com/spf13/cobra"

	"example.org/halve/procedure"
	"example.org/halve/tui/command"
	"example.org/halve/tui/tree"
)

// release is "VERSION COMMIT" in what .ci/release builds, set by the linker.
var release string

func main() {
	// A reader that has gone away is an ordinary end, not a death by signal.
	signal.Ignore(syscall.SIGPIPE)
	info, ok := debug.ReadBuildInfo()
	if !ok {
		info = new(debug.BuildInfo)
	}
	desk := command.Desk{
		In: os.Stdin, Out: os.Stdout, Err: os.Stderr,
		Terminal: term.IsTerminal(os.Stdin.Fd()) && term.IsTerminal(os.Stdout.Fd()) && os.Getenv("TERM") != "dumb",
		Now:      time.Now,
		NewID:    rand.Text,
		DataDir:  filepath.Join(xdg.DataHome, "halve"),
		Version:  tree.Version(release, info),
	}
	os.Exit(run(context.Background(), desk, os.Args[1:]))
}

// run carries out one call and returns its exit status. It is the one place
// where an error becomes a status: 0 done, 1 the work could not be done, 2 the
// call was wrong. Whatever cobra refuses before the work begins is a wrong call.
func run(ctx context.Context, desk command.Desk, args []string) int {
	working := false
	root := tree.New(desk)
	root.PersistentPreRun = func(*cobra.Command, []string) { working = true }
	root.SetArgs(args)
	root.SetIn(desk.In)
	root.SetOut(desk.Out)
	root.SetErr(desk.Err)
	err := root.ExecuteContext(ctx)
	var call command.CallError
	var path *fs.PathError
	switch {
	case err == nil, errors.Is(err, io.ErrClosedPipe), slices.ContainsFunc(readerGone(runtime.GOOS), func(e syscall.Errno) bool { return errors.Is(err, e) }):
		return 0
	case errors.As(err, &call), !working && !errors.As(err, &path): // the latter: --version, and the disk is full
		fmt.Fprintf(desk.Err, "halve: %s; 'halve --help' shows the commands\n", oneLine(err))
		return 2
	}
	fmt.Fprintf(desk.Err, "halve: %s\n", oneLine(err))
	return 1
}

// readerGone are the errors by which a system says that nobody reads any more.
func readerGone(system string) []syscall.Errno {
	if system == "windows" { // ERROR_BROKEN_PIPE and ERROR_NO_DATA of winerror.h
		return []syscall.Errno{109, 232}
	}
	return []syscall.Errno{syscall.EPIPE}
}

// oneLine makes an error one harmless line: it may repeat what was typed.
func oneLine(err error) string { return procedure.CleanText(err.Error(), 1000) }
