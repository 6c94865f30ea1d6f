package tui

import (
	"bytes"
	"time"
	"unicode/utf8"
)

// How a terminal marks what is pasted (bracketed paste of xterm's control
// sequences).
const (
	pasteBegins = "\x1b[200~"
	pasteEnds   = "\x1b[201~"
)

// longestPaste is how much of a paste is handed on, in bytes: more than the 400
// characters that the screens take, so that they can say that it was too long.
// Bubble Tea would look for the end of a paste from its beginning with every
// piece that comes.
const longestPaste = 4*400 + 16

// breath ends what came without a pause (common practice, no source): a key
// after it is a person's again.
const breath = 200 * time.Millisecond

// pastes follows what is pasted in what is read, and bounds it. A terminal that
// does not mark a paste makes keys of it, Enters among them; what comes faster
// than anybody types is marked here.
type pastes struct {
	inside bool // between the terminal's marks
	met    int  // bytes that have come of the mark that is looked for
	passed int  // bytes of the paste that were handed on

	last     time.Time // of the last piece
	full     bool      // which was all that was asked for, and not marked
	unmarked bool      // what comes is a paste without marks
	open     bool      // and its beginning was marked here
}

// take returns what is handed on of a piece that is read; full says that it is
// all that was asked for, so that there may be more.
func (p *pastes) take(b []byte, full bool, now time.Time) []byte {
	var out []byte
	if now.Sub(p.last) > breath {
		if p.open {
			out = append(out, pasteEnds...)
		}
		p.full, p.unmarked, p.open = false, false, false
	}
	p.last = now
	if full && !p.inside && !p.unmarked && (p.full || !bytes.Contains(b, []byte{'\x1b'})) {
		p.unmarked, p.passed = true, 0 // two such pieces need not be text
	}
	if !p.unmarked {
		out = append(out, p.bound(b)...)
		p.full = full && !p.inside
		return out
	}
	if keep := b[:min(len(b), longestPaste-p.passed)]; len(keep) > 0 {
		if !p.open {
			out = append(out, pasteBegins...)
		}
		out = append(out, bytes.ReplaceAll(keep, []byte{'\x1b'}, nil)...)
		p.open, p.passed = true, p.passed+len(keep)
	}
	if p.open && (!full || p.passed == longestPaste) {
		out = append(out, pasteEnds...)
		p.open = false
	}
	return out
}

// bound returns b without what is beyond the bound of a paste.
func (p *pastes) bound(b []byte) []byte {
	out := make([]byte, 0, len(b)+len(pasteEnds))
	for _, c := range b {
		mark := pasteBegins
		if p.inside {
			mark = pasteEnds
		}
		switch c {
		case mark[p.met]:
			p.met++
		case mark[0]:
			p.met = 1
		default:
			p.met = 0
		}
		whole := p.met == len(mark)
		switch {
		case p.inside && p.passed < longestPaste:
			out = append(out, c)
			p.passed++
		case p.inside && whole:
			out = append(out, pasteEnds...)
		case !p.inside:
			out = append(out, c)
		}
		if whole {
			p.inside, p.met, p.passed = !p.inside, 0, 0
		}
	}
	return out
}

// broken is how many bytes at the end of b are the beginning only of a
// character or of a key's sequence.
func broken(b []byte) int {
	const longest = 16 // of a sequence
	for i := len(b) - 1; i >= max(0, len(b)-longest); i-- {
		if b[i] != '\x1b' {
			continue
		}
		switch rest := b[i+1:]; {
		case len(rest) == 0:
		case rest[0] == '[':
			for _, c := range rest[1:] {
				if c >= 0x40 && c <= 0x7e { // the final byte of ECMA-48
					return 0
				}
			}
		case rest[0] == 'O' && len(rest) < 2:
		default:
			return 0
		}
		return len(b) - i
	}
	for i := len(b) - 1; i >= max(0, len(b)-utf8.UTFMax); i-- {
		if utf8.RuneStart(b[i]) {
			if !utf8.FullRune(b[i:]) {
				return len(b) - i
			}
			break
		}
	}
	return 0
}
