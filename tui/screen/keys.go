package screen

import "github.com/charmbracelet/bubbles/key"

// keys are all the keys of the screens. Each page shows those that it answers
// to; help is made from them and they are named nowhere else.
type keys struct {
	accept, other, back, help    key.Binding
	up, down, left, right        key.Binding
	offScale, strike, zero, note key.Binding
	keep, finish, press, tick    key.Binding
	behind                       key.Binding
	suspend, redraw, leave       key.Binding
	next, before, submit         key.Binding
	move, turn                   key.Binding // only shown: two keys told as one
}

func newKeys() keys {
	bind := func(shown, does string, names ...string) key.Binding {
		return key.NewBinding(key.WithKeys(names...), key.WithHelp(shown, does))
	}
	return keys{
		accept:   bind("Enter", "write down", "enter"),
		other:    bind("Tab", "other entries", "tab"),
		back:     bind("Esc", "back", "esc"),
		help:     bind("F1 or ?", "help", "f1", "?"),
		up:       bind("Up", "up", "up"),
		down:     bind("Down", "down", "down"),
		left:     bind("Left", "the one before", "left"),
		right:    bind("Right", "the next one", "right"),
		offScale: bind("Ctrl+O", "off scale", "ctrl+o"),
		strike:   bind("Ctrl+X", "strike the last entry", "ctrl+x"),
		zero:     bind("Ctrl+T", "zero again", "ctrl+t"),
		note:     bind("Ctrl+N", "note", "ctrl+n"),
		keep:     bind("Ctrl+K", "keep the row", "ctrl+k"),
		finish:   bind("Ctrl+F", "finish", "ctrl+f"),
		behind:   bind("Ctrl+B", "behind the result", "ctrl+b"),
		press:    bind("Space", "close or open the keys", " "),
		tick:     bind("Space", "tick", " "),
		next:     bind("Down", "next line", "down", "tab", "enter"),
		before:   bind("Up", "line before", "up", "shift+tab"),
		move:     bind("Up, Down", "move", "up", "down"),
		turn:     bind("Left, Right", "choose", "left", "right"),
		submit:   bind("Ctrl+S", "write it down", "ctrl+s"),
		suspend:  bind("Ctrl+Z", "set aside", "ctrl+z"),
		redraw:   bind("Ctrl+L", "draw again", "ctrl+l"),
		leave:    bind("Ctrl+C", "leave; nothing is lost", "ctrl+c"),
	}
}

// named returns the binding with other words for what it does.
func named(b key.Binding, does string) key.Binding {
	b.SetHelp(b.Help().Key, does)
	return b
}
