// Command papers writes what goes beside the program on the stick: man pages,
// completions, the licences of all that is in it, and the quick guide. It is
// run by .ci/release and is no part of the program. The date on the papers is
// that of SOURCE_DATE_EPOCH.
package main

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"

	"example.org/halve/tui/command"
	"example.org/halve/tui/tree"
)

func main() {
	out := flag.String("out", "", "the `FOLDER` to write to")
	version := flag.String("version", "", "the `VERSION` of the program")
	targets := flag.String("targets", "", "what it is built for, `SYSTEM/PROCESSOR` with blanks between")
	flag.Parse()
	if err := write(*out, *version, strings.Fields(*targets), os.Getenv("SOURCE_DATE_EPOCH")); err != nil {
		fmt.Fprintln(os.Stderr, "papers:", err)
		os.Exit(1)
	}
}

func write(out, version string, targets []string, epoch string) error {
	seconds, err := strconv.ParseInt(epoch, 10, 64)
	if err != nil {
		return errors.New("SOURCE_DATE_EPOCH is to be the time of the commit, in seconds")
	}
	date := time.Unix(seconds, 0).UTC()
	if out == "" || version == "" || len(targets) == 0 {
		return errors.New("-out, -version and -targets are needed")
	}
	root := tree.New(command.Desk{Version: version})
	if err := manPages(out, root, version, date); err != nil {
		return err
	}
	if err := completions(out, root); err != nil {
		return err
	}
	if err := notices(out, targets); err != nil {
		return err
	}
	return quickGuide(out, version, date)
}
