//go:build unix

package command_test

import (
	"bufio"
	"fmt"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"example.org/halve/procedure/record"
)

// sitting is a practical of two rows as another program would send it.
var sitting = []string{
	`{"event":"bench","source":{"emf_V":1.5,"u_emf_V":0.03},"galvanometer":{"divisions":30,"zero":"centre","resolution_div":0.5},` +
		`"series_box":{"kind":"plug","coils_ohm":[1,2,2,5,10,20,20,50,100,200,200,500,1000,2000,2000,5000],"tolerance":0.001},` +
		`"shunt_box":{"kind":"plug","coils_ohm":[1,2,2,5,10,20,20,50,100,200,200,500],"tolerance":0.001}}`,
	`{"event":"who","names":"A and B","group":"3"}`,
	`{"event":"wired"}`,
	`{"event":"zero","div":0}`,
	`{"event":"set-series","ohm":11110}`,
	`{"event":"read-first","div":6.5}`,
	`{"event":"set-series","ohm":3000}`,
	`{"event":"read-first","div":24}`,
	`{"event":"set-shunt","ohm":90}`,
	`{"event":"read-shunted","div":12}`,
	`{"event":"keep-row"}`,
	`{"event":"strike","seq":11,"why":"to be read again"}`,
	`{"event":"read-shunted","div":12}`,
	`{"event":"keep-row"}`,
	`{"event":"note","text":"` + strings.Repeat("a long note ", 300) + `"}`,
	`{"event":"set-shunt","ohm":110}`,
	`{"event":"read-shunted","div":13.5}`,
	`{"event":"keep-row"}`,
	`{"event":"finish"}`,
}

// Killed after any event, at the answer or while the next event is on its way,
// the record has everything that was answered, and resumes.
func TestKilled(t *testing.T) {
	halve, err := exec.LookPath("halve")
	if err != nil {
		t.Fatal(err)
	}
	for answered := 0; answered <= len(sitting); answered++ {
		for _, more := range []bool{false, true} {
			if more && answered == len(sitting) {
				continue
			}
			t.Run(fmt.Sprintf("after %d, next on its way %t", answered, more), func(t *testing.T) {
				path := filepath.Join(t.TempDir(), "r.jsonl")
				cmd := exec.Command(halve, "guide", "--lines", "--record", path)
				in, err := cmd.StdinPipe()
				if err != nil {
					t.Fatal(err)
				}
				out, err := cmd.StdoutPipe()
				if err != nil {
					t.Fatal(err)
				}
				if err := cmd.Start(); err != nil {
					t.Fatal(err)
				}
				answers := bufio.NewReader(out)
				for n := 0; ; n++ {
					line, err := answers.ReadString('\n')
					if err != nil || !strings.Contains(line, fmt.Sprintf(`{"seq":%d,`, n)) {
						t.Fatalf("answer %d: %q, %v", n, line, err)
					}
					if n == answered {
						break
					}
					fmt.Fprintln(in, sitting[n])
				}
				if more {
					fmt.Fprintln(in, sitting[answered])
				}
				cmd.Process.Kill()
				cmd.Wait()

				log, err := record.Read(path)
				if err != nil {
					t.Fatalf("the record cannot be read: %v", err)
				}
				most := answered
				if more {
					most++
				}
				if n := len(log.Events); n < answered || n > most {
					t.Errorf("%d events were answered and the record has %d", answered, n)
				}
				resume := exec.Command(halve, "guide", "--lines", path)
				got, err := resume.Output()
				if err != nil || !strings.HasPrefix(string(got), fmt.Sprintf(`{"seq":%d,`, len(log.Events))) {
					t.Errorf("resumed: %v, %.80q; want its state after event %d", err, got, len(log.Events))
				}
			})
		}
	}
}

// A reader that goes away ends the program quietly, with what was taken by
// then in the record.
func TestReaderGone(t *testing.T) {
	halve, err := exec.LookPath("halve")
	if err != nil {
		t.Fatal(err)
	}
	for _, way := range []string{"--lines", "--plain"} {
		t.Run(way, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "r.jsonl")
			cmd := exec.Command(halve, "guide", way, "--record", path)
			in, err := cmd.StdinPipe()
			if err != nil {
				t.Fatal(err)
			}
			out, err := cmd.StdoutPipe()
			if err != nil {
				t.Fatal(err)
			}
			var errs strings.Builder
			cmd.Stderr = &errs
			if err := cmd.Start(); err != nil {
				t.Fatal(err)
			}
			if _, err := bufio.NewReader(out).ReadString('\n'); err != nil {
				t.Fatal(err)
			}
			out.Close()
			fmt.Fprintln(in, map[string]string{"--lines": sitting[1], "--plain": "note said to nobody"}[way])
			fmt.Fprintln(in, sitting[1])
			if err := cmd.Wait(); err != nil || errs.Len() > 0 {
				t.Errorf("got %v and %q on standard error, want a quiet end", err, errs.String())
			}
			if log, err := record.Read(path); err != nil || len(log.Events) > 1 {
				t.Errorf("the record: %v", err)
			}
		})
	}
}
