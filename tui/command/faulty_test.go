package command_test

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"example.org/halve/physics/fault"
	"example.org/halve/procedure"
	"example.org/halve/tui/command"
)

// mostEvents is twice what a practical with a fault that is found, and all its
// rows taken anew, needs.
const mostEvents = 150

// Whoever obeys on a bench with a fault comes to an end, for each fault of the
// catalogue: finished, or told that and why it cannot be. HALVE_FAULTY sets the
// number of benches for each fault, 1 if it is not set, HALVE_FAULTY_ID the one
// fault to look at:
//
//	HALVE_FAULTY=25 go test -v -timeout 2h -run FaultyEnds ./tui/command
func TestFaultyEnds(t *testing.T) {
	n := 1
	if s := os.Getenv("HALVE_FAULTY"); s != "" {
		var err error
		if n, err = strconv.Atoi(s); err != nil || n < 1 {
			t.Fatalf("HALVE_FAULTY is a number of benches, not %q", s)
		}
	}
	var ids []string
	for _, f := range fault.Catalogue() {
		if !slices.Contains(ids, string(f.ID)) {
			ids = append(ids, string(f.ID))
		}
	}
	for at, id := range ids {
		if only := os.Getenv("HALVE_FAULTY_ID"); only != "" && only != id {
			continue
		}
		t.Run(id, func(t *testing.T) {
			done, finished, pinned, most := 0, 0, 0, 0
			first := 0
			if n == 1 { // a sample: each fault on another bench
				first = at
			}
			for seed := uint64(first); done < n && seed < uint64(first+2*n+10); seed++ {
				var out, errs bytes.Buffer
				d := command.Desk{In: strings.NewReader(""), Out: &out, Err: &errs, Now: clock}
				err := command.Practise{Seed: seed, Fault: id, Auto: true, JSON: true}.Run(context.Background(), d)
				if err != nil && out.Len() == 0 {
					continue // this bench cannot have it
				}
				done++
				var p practice
				if err := json.Unmarshal(out.Bytes(), &p); err != nil {
					t.Fatalf("seed %d: %v in %s", seed, err, out.Bytes())
				}
				pinned, most = pinned+p.Pinned, max(most, len(p.Events))
				if len(p.Events) > mostEvents {
					t.Errorf("seed %d: %d events, want at most %d; %v", seed, len(p.Events), mostEvents, err)
				}
				unfit := len(p.Counsel.Findings) > 0 && p.Counsel.Findings[0].ID == "bench-unfit"
				last := string(p.Events[len(p.Events)-1])
				switch end := strings.Contains(last, `"event":"`+procedure.KindFinish+`"`); {
				case end && err == nil:
					finished++
				case end || err == nil || p.Counsel.Next != nil || !unfit:
					t.Errorf("seed %d: it ends with %s, %v, next %+v and findings %+v; want it finished, or bench-unfit first", seed, last, err, p.Counsel.Next, p.Counsel.Findings)
				default:
					t.Logf("seed %d: %v", seed, err)
				}
			}
			if done == 0 {
				t.Error("no bench can have it")
			}
			t.Logf("%s: finished %d of %d, pinned %d times, at most %d events", id, finished, done, pinned, most)
		})
	}
}
