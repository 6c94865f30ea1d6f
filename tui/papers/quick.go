package main

import (
	_ "embed"
	"html/template"
	"os"
	"path/filepath"
	"time"

	"example.org/halve/safety"
)

// The quick guide is one page: its keys are those of the screens, its commands
// are run, its cautions are the program's own.
//
//go:embed quick.html
var quick string

// steps are those that have cautions, as the line protocol names them.
func steps() []string { return []string{"bench", "wiring", "series", "first", "shunt", "result"} }

// quickGuide writes it.
func quickGuide(out, version string, date time.Time) error {
	page, err := template.New("quick").Parse(quick)
	if err != nil {
		return err
	}
	var cautions []string
	for _, step := range steps() {
		for _, c := range safety.Cautions(step) {
			cautions = append(cautions, c.Text)
		}
	}
	f, err := os.Create(filepath.Join(out, "quick-guide.html"))
	if err != nil {
		return err
	}
	err = page.Execute(f, struct {
		Version, Date string
		Cautions      []string
	}{version, date.Format("2 January 2006"), cautions})
	if closed := f.Close(); err == nil {
		err = closed
	}
	return err
}
