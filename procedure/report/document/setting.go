package document

import "strings"

// run is text in one face on one line.
type run struct {
	text   string
	face   face
	size   float64
	rise   float64 // above the line
	ink    string  // a colour's name
	struck bool
	width  float64
}

// line is runs side by side.
type line struct {
	runs  []run
	width float64
}

// look is how a block's text is set.
type look struct {
	plain, strong, variable face
	size, leading           float64
	ink                     string
	struck                  bool
}

var (
	bodyLook    = look{plain: serif, strong: serifBold, variable: serifItalic, size: 10.5, leading: 14, ink: "ink"}
	asideLook   = look{plain: serif, strong: serifBold, variable: serifItalic, size: 9.5, leading: 12.5, ink: "soft"}
	cellLook    = look{plain: sans, strong: sansBold, variable: serifItalic, size: 8.6, leading: 11.4, ink: "ink"}
	headLook    = look{plain: sansBold, strong: sansBold, variable: serifItalic, size: 8.6, leading: 11.4, ink: "ink"}
	captionLook = look{plain: sans, strong: sansBold, variable: serifItalic, size: 8.6, leading: 11.4, ink: "soft"}
	titleLook   = look{plain: sansBold, strong: sansBold, variable: serifItalic, size: 18, leading: 23, ink: "ink"}
	sectionLook = look{plain: sansBold, strong: sansBold, variable: serifItalic, size: 12.5, leading: 16, ink: "mark"}
	partLook    = look{plain: sansBold, strong: sansBold, variable: serifItalic, size: 10.5, leading: 14, ink: "ink"}
)

// scripts are smaller than their line and stand off it, in parts of its size.
const (
	scriptSize = 0.68
	superRise  = 0.34
	subRise    = -0.16
)

// word is what may not be broken, and whether a blank comes before it.
type word struct {
	runs  []run
	width float64
	blank bool
}

// words parts spans at their blanks. A no-break space is no blank.
func (m *metrics) words(spans []Span, l look) []word {
	var out []word
	open := false // the last word goes on
	blank := false
	for _, s := range spans {
		f := l.plain
		if s.Style&Strong != 0 {
			f = l.strong
		}
		if s.Style&Variable != 0 {
			f = l.variable
		}
		struck := l.struck || s.Style&Struck != 0
		var parts []piece
		if s.Style&Typed != 0 {
			parts = []piece{{s.Text, onLine}}
		} else {
			parts = pieces(s.Text, s.Style&Variable != 0)
		}
		for _, p := range parts {
			size, rise := l.size, 0.0
			switch p.at {
			case above:
				size, rise = l.size*scriptSize, l.size*superRise
			case below:
				size, rise = l.size*scriptSize, l.size*subRise
			}
			pf := f
			if p.at == below && s.Style&Variable != 0 && strings.Trim(p.text, "0123456789") == "" {
				pf = l.plain // figures stand upright
			}
			for i, text := range strings.Split(m.shown(pf, p.text), " ") {
				if i > 0 {
					open, blank = false, true
				}
				if text == "" {
					continue
				}
				r := run{text: text, face: pf, size: size, rise: rise, ink: l.ink, struck: struck, width: m.measure(pf, size, text)}
				if struck {
					r.ink = "soft"
				}
				if !open {
					out = append(out, word{blank: blank})
					open, blank = true, false
				}
				w := &out[len(out)-1]
				w.runs, w.width = append(w.runs, r), w.width+r.width
			}
		}
	}
	return out
}

// set breaks words into lines of at most w. A word that is wider is broken
// where it must.
func (m *metrics) set(words []word, w float64, l look) []line {
	var lines []line
	var now line
	space := m.measure(l.plain, l.size, " ")
	end := func() {
		if len(now.runs) > 0 {
			lines = append(lines, now)
		}
		now = line{}
	}
	for _, word := range words {
		gap := 0.0
		if word.blank && len(now.runs) > 0 {
			gap = space
		}
		if len(now.runs) > 0 && now.width+gap+word.width > w {
			end()
			gap = 0
		}
		if gap > 0 {
			now.add(run{text: " ", face: l.plain, size: l.size, ink: word.runs[0].ink, width: space, struck: word.runs[0].struck && now.runs[len(now.runs)-1].struck})
		}
		if word.width <= w {
			for _, r := range word.runs {
				now.add(r)
			}
			continue
		}
		for _, r := range word.runs {
			for r.text != "" {
				part, rest := m.fit(r, w-now.width, len(now.runs) == 0)
				if part.text != "" {
					now.add(part)
				}
				if rest.text != "" {
					end()
				}
				r = rest
			}
		}
	}
	end()
	return lines
}

// fit parts a run so that its first part is at most w wide; with atLeastOne
// that part has a character all the same.
func (m *metrics) fit(r run, w float64, atLeastOne bool) (part, rest run) {
	sum := 0.0
	for i, c := range r.text {
		a := max(0, m.advance(r.face, c)) * r.size
		if sum+a > w && (i > 0 || !atLeastOne) {
			part, rest = r, r
			part.text, part.width = r.text[:i], sum
			rest.text, rest.width = r.text[i:], r.width-sum
			return part, rest
		}
		sum += a
	}
	return r, run{}
}

// add puts a run at the end, joined to the last one where both look alike.
func (l *line) add(r run) {
	l.width += r.width
	if n := len(l.runs); n > 0 {
		last := &l.runs[n-1]
		if last.face == r.face && last.size == r.size && last.rise == r.rise && last.ink == r.ink && last.struck == r.struck {
			last.text += r.text
			last.width += r.width
			return
		}
	}
	l.runs = append(l.runs, r)
}

// lines sets spans at once.
func (m *metrics) lines(spans []Span, w float64, l look) []line {
	return m.set(m.words(spans, l), w, l)
}
