// Command bare is the least program that Bubble Tea makes: what the time to
// the first frame of halve is measured against.
package main

import (
	"os"

	tea "github.com/charmbracelet/bubbletea"

	_ "example.org/halve/tui/quiet" // so that it does not wait for the terminal either
)

type model struct{}

func (model) Init() tea.Cmd { return nil }

func (m model) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	if _, ok := msg.(tea.KeyMsg); ok {
		return m, tea.Quit
	}
	return m, nil
}

func (model) View() string { return "ready" }

func main() {
	if _, err := tea.NewProgram(model{}, tea.WithAltScreen()).Run(); err != nil {
		os.Exit(1)
	}
}
