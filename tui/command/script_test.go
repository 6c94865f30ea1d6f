package command_test

import (
	"errors"
	"log"
	"os"
	"os/exec"
	"strconv"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// TestMain builds the program once and puts it on the PATH, so that scripts
// and processes run what a user runs.
func TestMain(m *testing.M) {
	dir, err := os.MkdirTemp("", "halve")
	if err != nil {
		log.Fatal(err)
	}
	build := exec.Command("go", "build", "-o", dir+string(os.PathSeparator), "example.org/halve")
	if out, err := build.CombinedOutput(); err != nil {
		log.Fatalf("go build: %v\n%s", err, out)
	}
	os.Setenv("PATH", dir+string(os.PathListSeparator)+os.Getenv("PATH"))
	status := m.Run()
	os.RemoveAll(dir)
	os.Exit(status)
}

// Each promise of the command line is a script in testdata/script. The
// command "status N cmd args" runs a program and requires its exit status;
// "cut FILE N" takes the last N bytes off a file, as a power cut does.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "../../testdata/script",
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("HOME", e.WorkDir+"/home")
			e.Setenv("XDG_DATA_HOME", e.WorkDir+"/data")
			e.Setenv("TERM", "xterm-256color")
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"status": status, "cut": cut},
	})
}

func status(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status N cmd args")
	}
	want, err := strconv.Atoi(args[0])
	if err != nil {
		ts.Fatalf("status: %v", err)
	}
	got := 0
	var exit *exec.ExitError
	if err := ts.Exec(args[1], args[2:]...); errors.As(err, &exit) {
		got = exit.ExitCode()
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if got != want {
		ts.Fatalf("exit status %d, want %d\nstdout:\n%s\nstderr:\n%s", got, want, ts.ReadFile("stdout"), ts.ReadFile("stderr"))
	}
}

func cut(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: cut FILE N")
	}
	n, err := strconv.ParseInt(args[1], 10, 64)
	ts.Check(err)
	path := ts.MkAbs(args[0])
	info, err := os.Stat(path)
	ts.Check(err)
	ts.Check(os.Truncate(path, info.Size()-n))
}
