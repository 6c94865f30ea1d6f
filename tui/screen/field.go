package screen

import (
	"github.com/charmbracelet/bubbles/key"
	"github.com/charmbracelet/bubbles/textinput"
	tea "github.com/charmbracelet/bubbletea"

	"example.org/halve/procedure"
	"example.org/halve/tui/draw"
	"example.org/halve/tui/theme"
)

// maxEntry is how much can be typed into a field, in runes.
const maxEntry = 400

// field is a line of text being typed. Bubbles' text input edits it; it is
// drawn here, since the input shows its cursor by colour alone.
type field struct {
	input textinput.Model
}

func newField(text string) field {
	in := textinput.New()
	in.CharLimit = maxEntry
	// The clipboard that ctrl+v would reach is the one of the machine the
	// program runs on, over a network the wrong one. Pasting through the
	// terminal works everywhere.
	in.KeyMap.Paste = key.NewBinding()
	in.KeyMap.AcceptSuggestion = key.NewBinding()
	in.KeyMap.NextSuggestion = key.NewBinding()
	in.KeyMap.PrevSuggestion = key.NewBinding()
	in.SetValue(text)
	in.Focus()
	return field{in}
}

func (f field) text() string { return f.input.Value() }

func (f *field) set(text string) {
	f.input.SetValue(text)
	f.input.CursorEnd()
}

// typed takes a key. What is typed or pasted is made harmless first; a paste
// arrives as one key with all its text.
func (f *field) typed(msg tea.KeyMsg) {
	if msg.Type == tea.KeyRunes {
		text := procedure.CleanText(string(msg.Runes), maxEntry)
		if text == "" {
			return
		}
		msg.Runes, msg.Paste = []rune(text), false
	}
	if msg.Alt && msg.Type == tea.KeyRunes {
		return // alt with a letter is no text
	}
	// The only command the input can return blinks its cursor, which is not
	// drawn.
	f.input, _ = f.input.Update(msg)
}

// view draws the field at most w cells wide, with the cursor in it; the
// piece about the cursor is shown where the text is too long.
func (f field) view(w int, t *theme.Theme) string {
	text := []rune(f.text())
	at := min(f.input.Position(), len(text))
	before, after := string(text[:at]), string(text[at:])
	room := w - 1 // for the cursor
	if room <= 0 {
		return ""
	}
	if excess := draw.Width(before) - room; excess > 0 {
		for draw.Width(before) > room-1 && before != "" {
			before = string([]rune(before)[1:])
		}
		before = t.Signs.Dots + before
	}
	after = draw.Cut(after, room-draw.Width(before), t.Signs.Dots)
	line := t.Typed.Render(t.Signs.Cursor)
	if before != "" {
		line = t.Typed.Render(t.Signs.Say(before)) + line
	}
	if after != "" {
		line += t.Typed.Render(t.Signs.Say(after))
	}
	return line
}
