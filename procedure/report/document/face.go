package document

import (
	"unicode"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-fonts/liberation/liberationserifbold"
	"codeberg.org/go-fonts/liberation/liberationserifitalic"
	"codeberg.org/go-fonts/liberation/liberationserifregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// face is one of the type faces of a printed document.
type face int

const (
	serif face = iota
	serifItalic
	serifBold
	sans
	sansBold
	faces
)

// faceNames are what the PDF writer knows the faces by. Where none is embedded
// these are its own, of the same widths.
var faceNames = [faces]struct{ family, style string }{
	serif: {"times", ""}, serifItalic: {"times", "I"}, serifBold: {"times", "B"}, sans: {"helvetica", ""}, sansBold: {"helvetica", "B"},
}

// data is the face's font file.
func (f face) data() []byte {
	switch f {
	case serifItalic:
		return liberationserifitalic.TTF
	case serifBold:
		return liberationserifbold.TTF
	case sans:
		return liberationsansregular.TTF
	case sansBold:
		return liberationsansbold.TTF
	}
	return liberationserifregular.TTF
}

// metrics knows the widths of the faces' characters.
type metrics struct {
	fonts [faces]*sfnt.Font
	width [faces]map[rune]float64 // in em
	buf   sfnt.Buffer
	lost  bool // a character was asked for that no face has
}

func newMetrics() (*metrics, error) {
	m := new(metrics)
	for f := range faces {
		parsed, err := sfnt.Parse(f.data())
		if err != nil {
			return nil, err
		}
		m.fonts[f], m.width[f] = parsed, map[rune]float64{}
	}
	return m, nil
}

// missing stands for a character that the faces do not have.
const missing = '□'

// substitutes are signs that the faces lack, and what is as good.
var substitutes = map[rune]rune{'∥': '‖', '\u2011': '-', '\u2061': 0, '\u2062': 0}

// shown is the text as the faces can show it: what they lack is substituted,
// what cannot be seen is left out.
func (m *metrics) shown(f face, text string) string {
	out := make([]rune, 0, len(text))
	for _, r := range text {
		if s, ok := substitutes[r]; ok {
			r = s
		}
		switch {
		case r == '\n' || r == '\t':
			r = ' '
		case unicode.Is(unicode.Mn, r):
			m.lost = true
			continue
		case r == 0 || unicode.In(r, unicode.Cf, unicode.Cc):
			continue
		}
		// Some faces have letters that run from right to left, but the lines
		// here are set from left to right.
		if m.advance(f, r) < 0 || unicode.In(r, unicode.Hebrew, unicode.Arabic, unicode.Syriac, unicode.Thaana, unicode.Nko) {
			m.lost = true
			r = missing
		}
		out = append(out, r)
	}
	return string(out)
}

// advance is the width of a character in em, below 0 if the face lacks it.
func (m *metrics) advance(f face, r rune) float64 {
	if w, ok := m.width[f][r]; ok {
		return w
	}
	w := -1.0
	// The PDF writer knows the basic plane only.
	if g, err := m.fonts[f].GlyphIndex(&m.buf, r); err == nil && g != 0 && r <= 0xffff {
		perEm := fixed.Int26_6(m.fonts[f].UnitsPerEm())
		if a, err := m.fonts[f].GlyphAdvance(&m.buf, g, perEm, font.HintingNone); err == nil {
			w = float64(a) / float64(perEm)
		}
	}
	m.width[f][r] = w
	return w
}

// measure is the width of a text of the given size, in the size's unit.
func (m *metrics) measure(f face, size float64, text string) float64 {
	w := 0.0
	for _, r := range text {
		if a := m.advance(f, r); a > 0 {
			w += a
		}
	}
	return w * size
}
