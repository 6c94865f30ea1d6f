package command_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"unicode"
)

// hostile is what a stranger may put wherever a text is taken: sequences that
// clear the screen, set its title or the clipboard, turn the writing round, end
// the line.
const hostile = "A\x1b[2J\x1b]0;owned\x07\x1b]52;c;aGk=\x1b\\\u009b31m\u202e\u2066\u200b\r\n\x08\x00B =cmd|'x'!A1 <script>"

// harmful finds what could harm a terminal.
func harmful(out []byte) string {
	for _, r := range strings.ReplaceAll(string(out), "\r\n", "\n") { // the line ends of CSV (RFC 4180)
		if r != '\n' && unicode.In(r, unicode.Cc, unicode.Cf, unicode.Co, unicode.Cs) {
			return fmt.Sprintf("%U", r)
		}
	}
	return ""
}

// Escape sequences in every text of every file, and in their names, are shown
// harmlessly by every way that shows them, and by every answer to what is wrong.
func TestHostileFiles(t *testing.T) {
	dir := t.TempDir()
	q := func(s string) string { return strconv.QuoteToASCII(s) }
	text := strings.NewReplacer(`\x1b`, `\u001b`, `\x07`, `\u0007`, `\x08`, `\u0008`, `\x00`, `\u0000`, `\a`, `\u0007`).Replace(q(hostile))
	write := func(name, data string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(data), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	head := `{"record":"halve","version":1,"procedure":"half-deflection","id":` + text + `,"begun":"2025-03-04T10:00:00Z"}` + "\n"
	bench := `"label":` + text + `,"source":{"emf_V":1.5,"label":` + text + `},"galvanometer":{"divisions":30,"zero":"centre","label":` + text + `},` +
		`"series_box":{"kind":"plug","coils_ohm":[1000,2000,2000,5000],"label":` + text + `},"shunt_box":{"kind":"plug","coils_ohm":[10,20,20,50],"label":` + text + `}`
	events := strings.Join([]string{
		`{"event":"bench",` + bench + `}`,
		`{"event":"who","names":` + text + `,"group":` + text + `}`,
		`{"event":"wired"}`, `{"event":"note","text":` + text + `}`, `{"event":"zero","div":0}`,
		`{"event":"set-series","ohm":3000}`, `{"event":"read-first","div":24}`, `{"event":"set-shunt","ohm":90}`,
		`{"event":"read-shunted","div":12}`, `{"event":"keep-row"}`,
		`{"event":"claim","quantity":"resistance","value":"90.0\u001b[2J","row":1}`,
		`{"event":"strike","seq":4,"why":` + text + `}`,
	}, "\n") + "\n"
	good := write("good.jsonl", head+events)
	type way struct {
		args  []string
		stdin string
	}
	ways := []way{
		{[]string{"result", good}, ""}, {[]string{"result", "--json", good}, ""},
		{[]string{"guide", "--plain", good}, "events\nrows\nresult\ntable\nwhere\nfindings\nnote " + hostile + "\nwho\n" + hostile + "\n" + hostile + "\n" + hostile + "\n"},
		{[]string{"guide", "--lines", good}, `{"event":` + text + `}` + "\n" + `{` + text + `:1,"event":"wired"}` + "\n" + hostile + "\n" + `{"event":"note","text":` + text + `}` + "\n"},
		{[]string{"guide", "--lines", "--bench", write("bench.json", `{`+bench+`}`), "--record", filepath.Join(dir, "b.jsonl")}, ""},
		{[]string{"practise", "--auto", "--bench", filepath.Join(dir, "bench.json")}, ""},
		{[]string{"practise", "--auto", "--json", "--bench", filepath.Join(dir, "bench.json")}, ""},
		{[]string{"practise", "--plain", "--bench", filepath.Join(dir, "bench.json"), "--record", filepath.Join(dir, "p.jsonl")}, "table\nevents\n"},
		{[]string{"plan", "--bench", filepath.Join(dir, "bench.json")}, ""},
		{[]string{"guide", "--lines", "--table", write("own.csv", "series,first,shunt,shunted,struck\n3000,24,90,12,"+strings.ReplaceAll(hostile, "\n", " ")+"\n"),
			"--bench", filepath.Join(dir, "bench.json"), "--record", filepath.Join(dir, "t.jsonl")}, ""},
		{[]string{"report", "--to", "md", good}, ""}, {[]string{"report", "--to", "csv", "--for", "demonstrator", good}, ""},
		{[]string{"class", dir}, ""}, {[]string{"class", "--json", dir}, ""},
		{[]string{"guide", "--procedure", "meter-check", "--lines", "--record", filepath.Join(dir, "m.jsonl")}, `{"event":"note","text":` + text + `}` + "\n" + `{"event":"bench","label":` + text + `}` + "\n"},
		{[]string{"guide", "--procedure", "meter-check", "--plain", "--record", filepath.Join(dir, "n.jsonl")}, "note " + hostile + "\n" + hostile + "\nevents\n"},
		// What is wrong is answered harmlessly as well.
		{[]string{"guide", "--procedure", strings.ReplaceAll(hostile, "\x00", "")}, ""},
		{[]string{"guide", "--theme", "\x1b[31mred"}, ""}, {[]string{"guide", "--\x1b[31mred"}, ""}, {[]string{"\x1b[31mred"}, ""},
		{[]string{"practise", "--auto", "--fault", "\x1b[31mred"}, ""}, {[]string{"practise", "--seed", "\x1b[31mred"}, ""},
		{[]string{"result", "\x1b[31m\u202ered.jsonl"}, ""}, {[]string{"guide", "\x1b[31m\u202ered.jsonl"}, ""},
		{[]string{"guide", "--bench", "\x1b[31m\u202ered.json"}, ""}, {[]string{"guide", "--plain", "--table", "\x1b[31m\u202ered.csv"}, ""},
		{[]string{"working", "--emf", "\x1b[31m1.5", "--series", "3k", "--shunt", "90", "--first", "24", "--resistance", "9\u202e0"}, ""},
	}
	for i, line := range []string{
		`{"event":` + text + `}`, `{"event":"note",` + text + `:1}`, `{"event":"note","text":"a",` + text + `:1,` + text + `:2}`,
		`{"event":"note","text":"a","sum":` + text + `}`, hostile,
	} {
		bad := write(fmt.Sprintf("bad%d.jsonl", i), head+line+"\n"+`{"event":"wired"}`+"\n")
		ways = append(ways, way{[]string{"result", bad}, ""}, way{[]string{"guide", "--plain", bad}, ""})
	}
	ways = append(ways,
		way{[]string{"result", write("proc.jsonl", `{"record":"halve","version":1,"procedure":`+text+`}`+"\n")}, ""},
		way{[]string{"guide", "--bench", write("odd.json", `{`+text+`:1,`+bench+`}`)}, ""},
		way{[]string{"practise", "--auto", "--bench", write("hides.json", `{`+bench+`,"hidden":{`+text+`:1}}`)}, ""},
		way{[]string{"guide", "--bench", write("event.json", `{"event":`+text+`,`+bench+`}`)}, ""},
		way{[]string{"guide", "--table", write("bad.csv", "series ("+strings.ReplaceAll(hostile, "\n", " ")+"),first,shunt,shunted\n"), "--bench", filepath.Join(dir, "bench.json")}, ""})
	if runtime.GOOS != "windows" { // where no file can have such a name
		name := "\x1b[2J\u202e\u009b31m.jsonl"
		ways = append(ways, way{[]string{"guide", "--plain", "--record", filepath.Join(dir, name)}, "quit\n"},
			way{[]string{"guide", "--lines", filepath.Join(dir, name)}, ""}, way{[]string{"result", filepath.Join(dir, name)}, ""},
			way{[]string{"practise", "--auto", "--record", filepath.Join(dir, "2"+name)}, ""})
	}
	for _, w := range ways {
		cmd := exec.Command("halve", w.args...)
		cmd.Stdin = strings.NewReader(w.stdin)
		cmd.Env = append(os.Environ(), "XDG_DATA_HOME="+dir, "HOME="+dir)
		var out, errs bytes.Buffer
		cmd.Stdout, cmd.Stderr = &out, &errs
		cmd.Run()
		if out.Len()+errs.Len() == 0 {
			t.Errorf("halve %q says nothing", w.args)
		}
		for _, said := range [][]byte{out.Bytes(), errs.Bytes()} {
			if bad := harmful(said); bad != "" {
				t.Errorf("halve %q lets %s through: %.300q", w.args, bad, said)
			}
		}
	}
}
