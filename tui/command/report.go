package command

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/muesli/termenv"

	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
	"example.org/halve/procedure/report"
	"example.org/halve/procedure/report/document"
	"example.org/halve/tui/prose"
	"example.org/halve/tui/theme"
)

// Report is the written report of a record.
type Report struct {
	For string // whose copy: "" or "student", or "demonstrator"
	Paper
}

// Paper is how a document is wanted, and where.
type Paper struct {
	To    string // html, pdf, md or csv; "" for what Out ends in
	Out   string // the file; "" for standard output
	Force bool   // replace Out if it is there
}

// extensions are the formats by what a file's name ends in.
var extensions = map[string]string{".html": "html", ".htm": "html", ".pdf": "pdf", ".md": "md", ".markdown": "md", ".csv": "csv"}

// format settles the format among those that there are; without a wish it is
// the given one.
func (p Paper) format(formats []string, otherwise string) (string, error) {
	list := strings.Join(formats[:len(formats)-1], ", ") + " or " + formats[len(formats)-1]
	known := func(f string) bool {
		for _, have := range formats {
			if have == f {
				return true
			}
		}
		return false
	}
	if p.To != "" && !known(p.To) {
		return "", callError("--to is %s, not %q", list, procedure.CleanText(p.To, maxWord))
	}
	if p.Out == "" {
		if p.Force {
			return "", callError("--force goes with --out FILE")
		}
		if p.To == "" {
			return otherwise, nil
		}
		return p.To, nil
	}
	ending := strings.ToLower(filepath.Ext(p.Out))
	by, told := extensions[ending]
	switch {
	case p.To == "" && (!told || !known(by)):
		return "", callError("the name %q does not say which format is wanted: let it end in the format, or add --to %s", procedure.CleanText(p.Out, maxWord), list)
	case p.To == "":
		return by, nil
	case told && by != p.To:
		return "", callError("--to %s and the name %q contradict each other", p.To, procedure.CleanText(p.Out, maxWord))
	}
	return p.To, nil
}

// write brings what make writes to its place. A file is written whole or not
// at all. What is there already stays unless Force is set; the file of the
// given name, from which the document is made, stays in any case.
func (p Paper) write(d Desk, binary bool, source string, write func(io.Writer) error) error {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return err
	}
	if p.Out == "" {
		if binary && d.Terminal {
			return callError("this format is not for a terminal: add --out FILE")
		}
		_, err := d.Out.Write(b.Bytes())
		return err
	}
	name := procedure.CleanText(p.Out, 500)
	if there, err := os.Stat(p.Out); err == nil {
		if of, err := os.Stat(source); source != "" && err == nil && os.SameFile(there, of) {
			return fmt.Errorf("%s is the record itself: give the report another name", name)
		}
		if !there.Mode().IsRegular() && there.Mode()&fs.ModeDevice == 0 {
			return fmt.Errorf("%s is not a file: give another name", name)
		}
		if there.Mode().IsRegular() && !p.Force {
			return fmt.Errorf("%s is there already: give another name, or add --force to replace it", name)
		}
	}
	if err := replace(p.Out, b.Bytes()); err != nil {
		return fmt.Errorf("%s cannot be written (%w)", name, reasonOf(err))
	}
	_, err := fmt.Fprintf(d.Err, "halve: written to %s\n", name)
	return err
}

// replace writes a file under another name beside it first, so that there is
// never half of it.
func replace(path string, data []byte) error {
	if there, err := os.Stat(path); err == nil && !there.Mode().IsRegular() { // a device
		return os.WriteFile(path, data, 0o666)
	}
	beside := filepath.Join(filepath.Dir(path), fmt.Sprintf(".halve-%d", os.Getpid()))
	f, err := os.OpenFile(beside, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	err = errors.Join(err, f.Close())
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		os.Remove(f.Name())
	}
	return err
}

// reasonOf is an error without the name of the file, which is said already.
func reasonOf(err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		return path.Err
	}
	var link *os.LinkError
	if errors.As(err, &link) {
		return link.Err
	}
	return err
}

// Run writes the report of the record at path.
func (r Report) Run(ctx context.Context, d Desk, path string) error {
	otherwise := "html"
	if d.Terminal {
		otherwise = "" // to be read where it is
	}
	to, err := r.format([]string{"html", "pdf", "md", "csv"}, otherwise)
	if err != nil {
		return err
	}
	if r.For != "" && r.For != "student" && r.For != "demonstrator" {
		return callError("--for is student or demonstrator, not %q", procedure.CleanText(r.For, maxWord))
	}
	if name, err := ofRecord(path, HalfDeflection); err == nil && name == MeterCheck {
		return r.meter(d, path, to)
	}
	log, err := record.Read(path)
	if err != nil {
		return err
	}
	in := report.Input{
		ID: log.Header.ID, Begun: log.Header.Begun, Events: log.Events, State: log.State,
		Analysis: procedure.Analyse(log.State), Cut: log.CutNote(), Demonstrator: r.For == "demonstrator",
	}
	if note := log.CutNote(); note != "" {
		fmt.Fprintf(d.Err, "halve: %s\n", note)
	}
	if to == "csv" {
		return r.write(d, false, path, func(w io.Writer) error { return report.CSV(w, in) })
	}
	if fit := in.Analysis.Fit; fit != nil && fit.UG > skewed*fit.G && fit.Inflation <= 1 {
		// The same trials as those of the result.
		m, err := fit.Trials(ctx, 0, 1)
		if err != nil {
			return fmt.Errorf("monte carlo: %w", err)
		}
		in.Trials = &m
	}
	doc := report.Make(in)
	return r.write(d, to == "pdf", path, func(w io.Writer) error { return write(w, to, doc) })
}

// meter writes the report of a meter check's record.
func (r Report) meter(d Desk, path, to string) error {
	log, err := record.ForMeterCheck().Read(path)
	if err != nil {
		return err
	}
	in := report.MeterInput{ID: log.Header.ID, Begun: log.Header.Begun, Events: log.Events, State: log.State, Cut: log.CutNote(), Demonstrator: r.For == "demonstrator"}
	if note := log.CutNote(); note != "" {
		fmt.Fprintf(d.Err, "halve: %s\n", note)
	}
	return r.write(d, to == "pdf", path, func(w io.Writer) error {
		if to == "csv" {
			return report.MeterCSV(w, in)
		}
		return write(w, to, report.MakeMeter(in))
	})
}

// write writes a document in a format; "" is plain text.
func write(w io.Writer, to string, doc document.Document) error {
	switch to {
	case "html":
		return document.HTML(w, doc)
	case "pdf":
		return document.PDF(w, doc)
	case "md":
		return document.Markdown(w, doc)
	}
	var b bytes.Buffer
	if err := document.Markdown(&b, doc); err != nil {
		return err
	}
	return printText(w, b.String())
}

// textWidth is the width of plain text, in cells.
const textWidth = 78

// printText sets Markdown into plain lines.
func printText(w io.Writer, markdown string) error {
	t := theme.New("light", termenv.Ascii, false)
	for _, line := range prose.Lines(markdown, textWidth, &t) {
		if _, err := fmt.Fprintln(w, line); err != nil {
			return err
		}
	}
	return nil
}
