//go:build unix

package tui_test

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"example.org/halve/procedure/metercheck"
	"example.org/halve/procedure/record"
)

// TestMeterCheckTyped: a whole meter check, typed key by key in a real
// terminal, from the start page on, with the mistakes that people make; then
// the record is what was typed. Every mark is covered, the reference half a
// per cent above it.
func TestMeterCheckTyped(t *testing.T) {
	t.Parallel() // a terminal is mostly waited for
	data, stick := t.TempDir(), t.TempDir()
	x := open(t, data, build(t))
	x.await(`check a panel meter`)
	x.send("4") // practising is the third
	x.await(`meter check: the instruments`)
	x.send(down + "ten" + ctrlS)
	x.await(`not yet: "ten" does not begin with a number`)
	x.send(ctrlU + "10" + down + down + down + "1.5" + down + down + down + "meter 7" + down + down + "15 mA" + down + "12" + down + "12")
	x.await(`at the most +12▏`)
	x.send(ctrlS)
	x.await(`Join the reference and the meter in`)
	x.await(`\[x\] source STOP`)

	// Enter alone makes no circuit looked over.
	x.send(enter)
	x.await(`nothing is typed yet`)
	x.send("yes")
	x.await(`circuit  yes▏`)
	x.send(enter)
	x.await(`recorded as 2: circuit checked`)
	x.send("0")
	x.await(`zero  0▏`)
	x.send(enter)
	x.await(`recorded as 3: zero`)
	x.await(`\[~\] source TAP ONLY`)

	// A reading in volt, a slip of the prefix, a scale misread.
	x.send("2 V" + enter)
	x.await(`has the unit "V"`)
	x.await(`not written down`)
	x.send(ctrlU + "20 2000" + enter)
	x.await(`refused: .*a hundred`)
	x.send(ctrlU + "30 2.01")
	x.await(`odd: the pointer shows 30`)
	x.send(ctrlU)
	x.await(`rising  ▏`)

	seq := 3
	point := func(text string) {
		t.Helper()
		x.send(text)
		x.await(`  ` + text + `▏`)
		x.send(enter)
		seq++
		x.await(fmt.Sprintf(`recorded as %d:`, seq))
	}
	for _, mark := range []float64{20, 40, 60, 60, 80, 100, 80, 60, 60, 40, 20} {
		point(fmt.Sprintf("%.3f", mark/10*1.005))
	}
	x.await(`zero  ▏`)
	point("0")
	point("6.03")
	point("6.03")
	x.await(`Enter writes it down`)
	time.Sleep(200 * time.Millisecond) // an Enter alone counts only after a moment
	x.send(enter)
	x.await(`recorded as 18: finish`)
	x.await(`Class 1\.5 by simple acceptance`)

	// The record goes with its owner.
	x.send(stick)
	x.await(`▏`)
	x.send(enter)
	x.await(`copied to`)
	x.send(ctrlC)
	if status := x.left(); status != 0 {
		t.Errorf("exit status %d", status)
	}
	for _, dir := range []string{filepath.Join(data, "halve"), stick} {
		files, err := filepath.Glob(filepath.Join(dir, "*.jsonl"))
		if err != nil || len(files) != 1 {
			t.Fatalf("records in %s: %v, %v", dir, files, err)
		}
		log, err := record.ForMeterCheck().Read(files[0])
		if err != nil {
			t.Fatal(err)
		}
		r := metercheck.Advise(log.State).Result
		if !log.State.Finished() || len(log.Events) != 18 || len(r.Points) != 15 || r.WorstError < 0.49 || r.WorstError > 0.51 || *r.Simple != "conforms" {
			t.Errorf("%s: %d events, %+v", dir, len(log.Events), r)
		}
	}
}

// TestMeterCheckPlain: the same typed in the plain dialogue in a terminal, with
// a resumption in the middle.
func TestMeterCheckPlain(t *testing.T) {
	t.Parallel()
	data := t.TempDir()
	halve, file := build(t), filepath.Join(t.TempDir(), "r.jsonl")
	x := open(t, data, halve, "guide", "--plain", "--procedure", "meter-check", "--record", file)
	say := func(question, answer string) {
		t.Helper()
		x.await(`(?s)` + question + `.{0,200}\s*$`)
		x.send(answer + enter)
	}
	for _, q := range []struct{ question, answer string }{
		{`Which kind of meter\?`, ""}, {`last mark stand for`, "10"}, {`How many divisions`, ""}, {`Where is its zero\?`, ""},
		{`Which class index`, "1.5"}, {`fiducial value`, ""}, {`what part of a division`, ""}, {`What is its number or name\?`, "meter 7"},
		{`The reference: its number`, ""}, {`standard uncertainty`, "15 mA"}, {`rated for`, "12"}, {`the most that the source`, "12"}, {`How many volts`, ""},
		{`Whose record is this\?`, ""}, {`Which group`, ""}, {`looked over\? Type yes`, "yes"}, {`where does the pointer rest`, "0"},
	} {
		say(q.question, q.answer)
	}
	n := 3
	point := func(mark float64, tapped bool) {
		t.Helper()
		pointer := ""
		if tapped {
			pointer = fmt.Sprint(mark)
		}
		say(`Where does the pointer stand`, pointer)
		say(`What does the reference show`, fmt.Sprintf("%.3f", mark/10*1.005))
		n++
		x.await(fmt.Sprintf(`(?s)Recorded as number %d:.*\?`, n)) // and the next question
	}
	point(20, false)
	point(40, false)
	say(`Where does the pointer stand`, "quit")
	if status := x.left(); status != 0 {
		t.Fatalf("exit status %d", status)
	}
	x = open(t, data, halve, "guide", "--plain", file)
	x.await(`Resumed after event 5`)
	for i, mark := range []float64{60, 60, 80, 100, 80, 60, 60, 40, 20} {
		point(mark, i == 1 || i == 6)
	}
	say(`where does the pointer rest`, "0")
	n++
	point(60, false)
	point(60, false)
	say(`Is the check complete\?`, "yes")
	x.await(`conforms`)
	say(`To copy the record`, "")
	if status := x.left(); status != 0 {
		t.Errorf("exit status %d", status)
	}
	log, err := record.ForMeterCheck().Read(file)
	if err != nil {
		t.Fatal(err)
	}
	if r := metercheck.Advise(log.State).Result; !log.State.Finished() || len(r.Points) != 15 || *r.Guarded != "conforms" {
		t.Errorf("%+v", r)
	}
	if _, err := os.Stat(file); err != nil {
		t.Error(err)
	}
}
