package tui

import (
	"bytes"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
)

// The question for the background's colour (OSC 11 of xterm's control
// sequences), and how its answer begins.
const (
	askBackground = "\x1b]11;?\x07"
	answerBegins  = "]11;"
)

// longestAnswer bounds what is taken for an answer, in bytes; one of 16 bits
// a colour has 26.
const longestAnswer = 64

// answers is the terminal's input with the answer to the question for its
// background taken out of it, whenever that comes: nobody waits for it, and
// it never lands in what is being typed. Pastes are bounded.
type answers struct {
	*os.File
	told func(dark bool)

	pastes pastes
	tail   []byte // what was read last and is the beginning only of a key

	mu     sync.Mutex
	asked  bool
	escape escape
	held   []byte // what of an answer has come so far, after its Escape
}

// escape says what became of an Escape that may begin an answer.
type escape int

const (
	noEscape escape = iota
	kept            // held back, to be handed on with what follows
	gone            // handed on, as it was the last byte there was: it may have been the key
)

// ask lets answers be looked for from now on.
func (a *answers) ask() {
	a.mu.Lock()
	a.asked = true
	a.mu.Unlock()
}

// Read reads what was typed.
func (a *answers) Read(p []byte) (int, error) {
	// Room for what was held back and is handed on later: of what is no answer,
	// of the marks of a paste, of a key. With room in p Bubble Tea does not wait
	// for more before it looks at what there is.
	room := len(answerBegins) + 1 + len(pasteBegins) + 2*len(pasteEnds) + len(a.tail)
	if len(p) <= 2*room {
		return a.File.Read(p)
	}
	n, err := a.File.Read(p[:len(p)-room])
	full := n == len(p)-room
	b := p[:n]
	a.mu.Lock()
	if a.asked {
		b = a.strip(b)
	}
	a.mu.Unlock()
	b = append(a.tail, a.pastes.take(b, full, time.Now())...)
	a.tail = nil
	if full { // there is more
		cut := len(b) - broken(b)
		b, a.tail = b[:cut], slices.Clone(b[cut:])
	}
	return copy(p, b), err
}

// strip returns b without an answer.
func (a *answers) strip(b []byte) []byte {
	var out []byte
	for _, c := range b {
		switch n := len(a.held); {
		case n >= len(answerBegins):
			a.held = append(a.held, c)
			if a.ended() || len(a.held) > longestAnswer {
				a.escape, a.held = noEscape, nil
			}
			continue
		case a.escape != noEscape && c == answerBegins[n]:
			a.held = append(a.held, c)
			continue
		}
		if a.escape == kept {
			out = append(out, '\x1b')
		}
		out = append(out, a.held...)
		a.escape, a.held = noEscape, nil
		if c == '\x1b' {
			a.escape = kept
		} else {
			out = append(out, c)
		}
	}
	if a.escape == kept && len(a.held) == 0 {
		a.escape = gone
		out = append(out, '\x1b')
	}
	return out
}

// ended reports whether the answer that is held is whole, and tells it.
func (a *answers) ended() bool {
	text, bell := bytes.CutSuffix(a.held, []byte("\x07"))
	if !bell {
		var tail bool
		if text, tail = bytes.CutSuffix(a.held, []byte("\x1b\\")); !tail {
			return false
		}
	}
	a.tell(text[len(answerBegins):])
	return true
}

func (a *answers) tell(colour []byte) {
	if dark, ok := isDark(string(colour)); ok {
		a.told(dark)
	}
}

// isDark reports whether a colour as a terminal tells it, rgb:RRRR/GGGG/BBBB
// with one to four hexadecimal digits each, is nearer to black than to white.
// The weights of the three are those of relative luminance (WCAG 2.2).
func isDark(colour string) (dark, ok bool) {
	rest, ok := strings.CutPrefix(colour, "rgb:")
	parts := strings.Split(rest, "/")
	if !ok || len(parts) != 3 {
		return false, false
	}
	light := 0.0
	for i, weight := range [3]float64{0.2126, 0.7152, 0.0722} {
		v, err := strconv.ParseUint(parts[i], 16, 16)
		if err != nil || len(parts[i]) > 4 {
			return false, false
		}
		most := float64(uint64(1)<<(4*len(parts[i])) - 1)
		light += weight * float64(v) / most
	}
	return light < 0.5, true
}
