//go:build unix

package command_test

import (
	"bufio"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.org/halve/procedure"
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

// kills is how many random moments a practical is killed at: HALVE_KILLS, or a
// few.
func kills(t *testing.T) int {
	n, err := strconv.Atoi(os.Getenv("HALVE_KILLS"))
	if os.Getenv("HALVE_KILLS") != "" && err != nil {
		t.Fatalf("HALVE_KILLS: %v", err)
	}
	return max(n, 10)
}

// killed starts a program, lets it run for a while or to its end, and kills it.
// It returns the whole lines that were said.
func killed(t *testing.T, after time.Duration, stdin string, args ...string) (lines []string) {
	t.Helper()
	cmd := exec.Command("halve", args...)
	cmd.Stdin = strings.NewReader(stdin)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	timer := time.AfterFunc(after, func() { cmd.Process.Kill() })
	defer timer.Stop()
	r := bufio.NewReader(out)
	for {
		line, err := r.ReadString('\n')
		if err != nil {
			break
		}
		lines = append(lines, line)
	}
	cmd.Wait()
	return lines
}

// scripted is a practical as a scripted student would send it, an event a line.
func scripted(t *testing.T, seed int) []string {
	t.Helper()
	out, err := exec.Command("halve", "practise", "--auto", "--json", "--seed", strconv.Itoa(seed)).Output()
	if err != nil {
		t.Fatal(err)
	}
	var p struct{ Events []json.RawMessage }
	if err := json.Unmarshal(out, &p); err != nil {
		t.Fatal(err)
	}
	var lines []string
	for _, e := range p.Events {
		body, err := procedure.Words().DecodeInput(e)
		if err != nil {
			t.Fatal(err)
		}
		line, err := procedure.EncodeInput(body)
		if err != nil {
			t.Fatal(err)
		}
		lines = append(lines, string(line))
	}
	return lines
}

// Killed at any moment, and again while it is gone on with, a practical has
// every event that was answered and ends as if nothing had happened. Where it
// is killed is left to chance; what must hold does not depend on it.
func TestKilledAnywhere(t *testing.T) {
	lines := scripted(t, 5)
	dir := t.TempDir()
	began := time.Now()
	whole := filepath.Join(dir, "whole.jsonl")
	killed(t, time.Hour, strings.Join(lines, "\n"), "guide", "--lines", "--record", whole)
	takes := time.Since(began)
	want := result(t, whole)
	r := rand.New(rand.NewPCG(7, 1))
	moments := 0
	for n := 0; moments < kills(t); n++ {
		path := filepath.Join(dir, fmt.Sprintf("%d.jsonl", n))
		done := 0
		for done < len(lines) {
			said := killed(t, time.Duration(r.Float64()*float64(takes)), strings.Join(lines[done:], "\n"), "guide", "--lines", "--record", path)
			moments++
			log, err := record.Read(path)
			if err != nil && len(said) == 0 && done == 0 { // killed before anything was recorded
				continue
			}
			if err != nil {
				t.Fatalf("killed after %d answers: %v", len(said), err)
			}
			if answered := done + max(len(said)-1, 0); len(log.Events) < answered {
				t.Fatalf("%d events were answered and the record has %d", answered, len(log.Events))
			}
			done = len(log.Events)
		}
		if got := result(t, path); got != want {
			t.Fatalf("killed and gone on with, the result is\n%s\nwant\n%s", got, want)
		}
	}
	t.Logf("killed at %d moments", moments)
}

// The same for a scripted student's practice at the simulated bench.
func TestPractiseKilledAnywhere(t *testing.T) {
	dir := t.TempDir()
	began := time.Now()
	killed(t, time.Hour, "", "practise", "--auto", "--json", "--seed", "3", "--record", filepath.Join(dir, "whole.jsonl"))
	takes := time.Since(began)
	r := rand.New(rand.NewPCG(7, 2))
	for n := range kills(t) {
		path := filepath.Join(dir, fmt.Sprintf("%d.jsonl", n))
		killed(t, time.Duration(r.Float64()*float64(takes)), "", "practise", "--auto", "--json", "--seed", "3", "--record", path)
		before := 0
		if log, err := record.Read(path); err == nil {
			before = len(log.Events)
		}
		out, err := exec.Command("halve", "practise", "--auto", "--json", "--seed", "3", "--record", path).CombinedOutput()
		if err != nil {
			t.Fatalf("gone on with after %d events: %v: %s", before, err, out)
		}
		log, err := record.Read(path)
		if err != nil || len(log.Events) < before || !log.State.Finished() {
			t.Fatalf("gone on with after %d events: %v, %+v", before, err, log)
		}
	}
}

// result is what a record amounts to.
func result(t *testing.T, path string) string {
	t.Helper()
	out, err := exec.Command("halve", "result", "--json", "--trials", "1000", path).Output()
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	return string(out)
}

// holding starts guide --lines and leaves it open; say sends a line and returns
// the answer.
func holding(t *testing.T, args ...string) (say func(string) string) {
	t.Helper()
	cmd := exec.Command("halve", append([]string{"guide", "--lines"}, args...)...)
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
	t.Cleanup(func() {
		in.Close()
		cmd.Wait()
	})
	answers := bufio.NewReader(out)
	if first, err := answers.ReadString('\n'); err != nil {
		t.Fatalf("%q, %v", first, err)
	}
	return func(line string) string {
		fmt.Fprintln(in, line)
		answer, err := answers.ReadString('\n')
		if err != nil {
			t.Fatal(err)
		}
		return answer
	}
}

// Two programs on one record: the second is told so and nothing is lost.
func TestTwoPrograms(t *testing.T) {
	path := filepath.Join(t.TempDir(), "r.jsonl")
	say := holding(t, "--record", path)
	say(sitting[0])
	for _, args := range [][]string{{"guide", "--lines", path}, {"guide", "--plain", "--record", path}, {"practise", "--auto", "--record", path}} {
		cmd := exec.Command("halve", args...)
		cmd.Stdin = strings.NewReader(sitting[1] + "\n")
		out, err := cmd.CombinedOutput()
		if err == nil || cmd.ProcessState.ExitCode() != 1 || strings.Count(string(out), "\n") != 1 || !strings.Contains(string(out), "open in another window or program") {
			t.Errorf("halve %q: %v, %s", args, err, out)
		}
	}
	if out, err := exec.Command("halve", "result", path).CombinedOutput(); err != nil && !strings.Contains(string(out), "no result") {
		t.Errorf("reading needs no lock: %v, %s", err, out)
	}
	if answer := say(sitting[2]); !strings.Contains(answer, `"seq":2,`) || !strings.Contains(answer, `"refused":null`) {
		t.Errorf("the first program goes on: %s", answer)
	}
}

// A record whose place vanishes, as a stick that is pulled: the event is refused,
// in one line, and taken once the record is back.
func TestRecordVanishes(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "stick")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "r.jsonl")
	say := holding(t, "--record", path)
	say(sitting[0])
	if err := os.Rename(dir, dir+"-gone"); err != nil {
		t.Fatal(err)
	}
	if answer := say(sitting[2]); !strings.Contains(answer, "not recorded") || !strings.HasPrefix(answer, `{"seq":1,`) {
		t.Errorf("without its place: %s", answer)
	}
	if err := os.Rename(dir+"-gone", dir); err != nil {
		t.Fatal(err)
	}
	if answer := say(sitting[2]); !strings.HasPrefix(answer, `{"seq":2,`) || !strings.Contains(answer, `"refused":null`) {
		t.Errorf("with its place again: %s", answer)
	}
	if log, err := record.Read(path); err != nil || len(log.Events) != 2 {
		t.Errorf("the record: %v", err)
	}
}

// A disk that runs full, as the system itself has it: what was answered is in
// the record, what is refused is not, and with room again it goes on.
func TestDiskFull(t *testing.T) {
	dir := t.TempDir()
	if err := exec.Command("mount", "-t", "tmpfs", "-o", "size=8k", "tmpfs", dir).Run(); err != nil {
		t.Skip("no disk of eight kilobytes can be mounted here; package record has a limit on a file's size in its place")
	}
	t.Cleanup(func() { exec.Command("umount", dir).Run() })
	path := filepath.Join(dir, "r.jsonl")
	say := holding(t, "--record", path)
	taken, full := 0, ""
	note := `{"event":"note","text":"` + strings.Repeat("full ", 150) + `"}`
	for range 20 {
		answer := say(note)
		if strings.Contains(answer, `"refused":null`) {
			taken++
			continue
		}
		full = answer
		break
	}
	if !strings.Contains(full, "not recorded") || !strings.Contains(full, "space") {
		t.Fatalf("%d notes of 770 bytes were taken on 8192; then: %s", taken, full)
	}
	if log, err := record.Read(path); err != nil || len(log.Events) != taken {
		t.Errorf("%d notes were answered: %v", taken, err)
	}
	if err := exec.Command("mount", "-o", "remount,size=64k", dir).Run(); err != nil {
		t.Fatal(err)
	}
	if answer := say(note); !strings.Contains(answer, `"refused":null`) {
		t.Errorf("with room again: %s", answer)
	}
	if log, err := record.Read(path); err != nil || len(log.Events) != taken+1 || log.Cut != nil {
		t.Errorf("the record: %v", err)
	}
}
