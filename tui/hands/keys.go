package hands

import "github.com/charmbracelet/bubbles/key"

// keys are the keys of the hands, named nowhere else.
type keys struct {
	act, more, less                 key.Binding
	left, right, up, down           key.Binding
	move, both                      key.Binding // only shown: several told as one
	k1, k2, tap, knock, lens, cell  key.Binding
	screwLeft, screwRight, lookOver key.Binding
	leads, drawn, bare, drop        key.Binding
}

func newKeys() keys {
	bind := func(shown, does string, names ...string) key.Binding {
		return key.NewBinding(key.WithKeys(names...), key.WithHelp(shown, does))
	}
	return keys{
		act:        bind("Space", "do it", " "),
		more:       bind("+", "a step on", "+", "="),
		less:       bind("-", "a step back", "-"),
		left:       bind("Left", "left", "left"),
		right:      bind("Right", "right", "right"),
		up:         bind("Up", "up", "up"),
		down:       bind("Down", "down", "down"),
		move:       bind("Arrows", "move", "left", "right", "up", "down"),
		both:       bind("1, 2", "K1, K2", "1", "2"),
		k1:         bind("1", "close or open K1", "1"),
		k2:         bind("2", "close or open K2", "2"),
		tap:        bind("t", "tap K1, or K2 with the hand on it", "t"),
		knock:      bind("c", "tap the case", "c"),
		lens:       bind("m", "magnify", "m"),
		cell:       bind("v", "voltmeter on the source", "v"),
		screwLeft:  bind(",", "zero screw to the left", ",", "<"),
		screwRight: bind(".", "zero screw to the right", ".", ">"),
		lookOver:   bind("o", "look over what the hand is on", "o"),
		leads:      bind("w", "leads", "w"),
		drawn:      bind("d", "lay all as drawn", "d"),
		bare:       bind("x", "take all leads away", "x"),
		drop:       bind("Esc", "let go of the lead", "esc"),
	}
}

func named(b key.Binding, does string) key.Binding {
	b.SetHelp(b.Help().Key, does)
	return b
}
