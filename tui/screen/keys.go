package screen

import (
	"strings"

	"github.com/charmbracelet/bubbles/key"
)

// keys are all the keys of the screens. Each page shows those that it answers
// to; help is made from them and they are named nowhere else.
type keys struct {
	accept, other, back, help    key.Binding
	up, down, left, right        key.Binding
	offScale, strike, zero, note key.Binding
	keep, finish, tick           key.Binding
	why, graph, behind           key.Binding
	pageUp, pageDown             key.Binding
	suspend, redraw, leave       key.Binding
	next, before, submit         key.Binding
	readFile, writeFile          key.Binding
	mouse, look                  key.Binding
	bench                        key.Binding
	move, turn                   key.Binding // only shown: two keys told as one
}

func newKeys() keys {
	bind := func(shown, does string, names ...string) key.Binding {
		return key.NewBinding(key.WithKeys(names...), key.WithHelp(shown, does))
	}
	return keys{
		accept:    bind("Enter", "write down", "enter"),
		other:     bind("Tab", "entries", "tab"),
		back:      bind("Esc", "back", "esc"),
		help:      bind("F1", "help", "f1", "?"),
		why:       bind("F2", "why?", "f2", "ctrl+y"),
		graph:     bind("F3", "graph", "f3", "ctrl+g"),
		behind:    bind("F4", "behind the result", "f4", "ctrl+b"),
		pageUp:    bind("PgUp", "a page up", "pgup"),
		pageDown:  bind("PgDn", "a page down", "pgdown"),
		up:        bind("Up", "up", "up"),
		down:      bind("Down", "down", "down"),
		left:      bind("Left", "the one before", "left"),
		right:     bind("Right", "the next one", "right"),
		offScale:  bind("Ctrl+O", "off scale", "ctrl+o"),
		strike:    bind("Ctrl+X", "strike the last entry", "ctrl+x"),
		zero:      bind("Ctrl+T", "zero again", "ctrl+t"),
		note:      bind("Ctrl+N", "note", "ctrl+n"),
		keep:      bind("Ctrl+K", "keep the row", "ctrl+k"),
		finish:    bind("Ctrl+F", "finish", "ctrl+f"),
		tick:      bind("Space", "tick", " "),
		next:      bind("Down", "next line", "down", "tab", "enter"),
		before:    bind("Up", "line before", "up", "shift+tab"),
		move:      bind("Up, Down", "move", "up", "down"),
		turn:      bind("Left, Right", "choose", "left", "right"),
		readFile:  bind("Ctrl+R", "start from a bench file", "ctrl+r"),
		writeFile: bind("Ctrl+W", "save as a bench file", "ctrl+w"),
		bench:     bind("F6", "to the bench", "f6", "ctrl+p"),
		look:      bind("Tab", "read it", "tab"),
		mouse:     bind("F5", "mouse on or off", "f5"),
		submit:    bind("Ctrl+S", "write it down", "ctrl+s"),
		suspend:   bind("Ctrl+Z", "set aside", "ctrl+z"),
		redraw:    bind("Ctrl+L", "draw again", "ctrl+l"),
		leave:     bind("Ctrl+C", "leave; nothing is lost", "ctrl+c"),
	}
}

// named returns the binding with other words for what it does.
func named(b key.Binding, does string) key.Binding {
	b.SetHelp(b.Help().Key, does)
	return b
}

// shown is a key's name as people call it.
func shown(name string) string {
	switch {
	case strings.HasPrefix(name, "ctrl+"):
		return "Ctrl+" + strings.ToUpper(name[len("ctrl+"):])
	case len(name) > 1:
		return strings.ToUpper(name[:1]) + name[1:]
	}
	return name
}

// told says what a key does, and by which others it is done as well.
func told(b key.Binding) string {
	does := b.Help().Desc
	first := shown(b.Keys()[0])
	var others []string
	for _, name := range b.Keys()[1:] {
		if first == b.Help().Key { // else the name already tells of several
			others = append(others, shown(name))
		}
	}
	if len(others) > 0 {
		does += " (also " + strings.Join(others, ", ") + ")"
	}
	return does
}
