// Package quiet keeps the terminal from being asked for its background colour
// when the program starts.
//
// Bubble Tea asks in an init function, even for --help, and on a terminal that
// does not answer the program stands still for five seconds. The question is
// skipped when Lip Gloss already has an answer. Go initialises packages that
// are ready in the order of their import paths, so this package, which needs
// nothing but Lip Gloss and whose path sorts before github.com, comes first.
package quiet

import "github.com/charmbracelet/lipgloss"

func init() {
	lipgloss.SetHasDarkBackground(true)
}
