package screen

import (
	"math"
	"slices"
	"strings"
	"time"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"example.org/halve/physics/bench/live"
	"example.org/halve/procedure"
	"example.org/halve/procedure/debrief"
	"example.org/halve/procedure/record"
	"example.org/halve/tui/draw"
	"example.org/halve/tui/hands"
)

// ByHand is a simulated bench that is worked by hand: the person sets, closes
// and reads, and the book knows only what they write.
type ByHand interface {
	// Live is the bench in time.
	Live() *live.Bench
	// Examination says that the guide is switched off.
	Examination() bool
	// Over is told what there is to say once the measuring is finished.
	Over([]debrief.Remark)
}

// practice is the page of a practice by hand: the bench, and the book beside
// it. Keys go to one of the two.
type practice struct {
	*work
	from     ByHand
	hands    *hands.Model
	atBench  bool
	helped   bool              // the keys of the bench are shown
	glances  [2][]live.Look    // the needle as it was when the person may have read it, K2 open and closed
	readings []debrief.Reading // as they were written down
	remarks  []debrief.Remark  // once it is over
	begun    time.Time
	earlier  bool // it was begun in an earlier sitting
}

func newPractice(d *desk, s *record.Sitting, b ByHand) *practice {
	p := &practice{work: newWork(d, s), from: b, begun: d.now()}
	said := ""
	if p.earlier = s.State().Wired(); p.earlier && !s.State().Finished() {
		said = anew
	}
	p.hands = hands.New(hands.Options{Bench: b.Live(), Theme: &d.theme, Now: d.now, Still: d.still, Said: said})
	p.shown = p.hands.ScaleLines
	p.alone = b.Examination()
	p.take(p.counsel)
	if said != "" {
		p.tell(said, false)
	}
	p.hands.Wire(!s.State().Wired())
	p.mark()
	p.over()
	return p
}

// anew is what is said of the bench when a practice is gone on with.
const anew = "the bench is set up anew, the boxes as the book has them, the zero as at first: look at the leads and read the zero before you go on"

// unguided is the kind of entry that stays open where nobody proposes one.
func (w *work) unguided() entryKind {
	switch {
	case !w.state.Wired():
		return enterWired
	case w.kind == enterWired, w.kind == enterFinish:
		return enterZero
	}
	return w.kind
}

func (p *practice) update(msg tea.Msg) (page, tea.Cmd) {
	k, ok := msg.(tea.KeyMsg)
	if !ok {
		cmd := p.hands.Update(msg)
		p.happened()
		_, more := p.work.update(msg)
		return p, tea.Batch(cmd, more)
	}
	switch {
	case key.Matches(k, p.keys.bench):
		p.change()
		return p, nil
	case !p.atBench:
		return p, p.write(k)
	case p.helped:
		p.helped = false
		return p, nil
	case key.Matches(k, p.keys.accept), key.Matches(k, p.keys.back) && !p.hands.Holding():
		p.change()
		return p, nil
	case key.Matches(k, p.keys.help):
		p.helped = true
		return p, nil
	case key.Matches(k, p.keys.why, p.keys.graph, p.keys.behind, p.keys.other):
		p.change()
		return p, p.write(k)
	case p.remarks != nil:
		p.scroll(k)
		return p, nil
	}
	cmd := p.hands.Update(k)
	p.happened()
	return p, cmd
}

// change turns from the bench to the book, or back.
func (p *practice) change() {
	p.atBench, p.helped = !p.atBench, false
	if p.atBench {
		p.open = noSheet
		p.top = 0
		return
	}
	p.glances = [2][]live.Look{}
	p.glance()
}

// glance keeps the needle as it is now. Whoever writes a reading saw it when
// they turned to the book, or in the book, where the scale stands as well, when
// they began to write or when they were done.
func (p *practice) glance() {
	at := p.hands.Now()
	for i, shunted := range []bool{false, true} {
		if l, ok := p.from.Live().Last(at, shunted); ok {
			p.glances[i] = append(p.glances[i], l)
		}
	}
}

// write gives a key to the book, and follows what is written down.
func (p *practice) write(k tea.KeyMsg) tea.Cmd {
	if p.alone && key.Matches(k, p.keys.why, p.keys.graph, p.keys.behind) {
		p.tell("not in an examination: the notes and the results come when it is over", true)
		return nil
	}
	before, blank := len(p.events), p.field.text() == ""
	next, cmd := p.work.update(k)
	if blank && p.field.text() != "" {
		p.glance()
	}
	if next != page(p.work) {
		p.choose(p.proposed(), false)
		p.tell("not here: the instruments of a simulated bench are as they are", true)
		return cmd
	}
	for _, e := range p.events[min(before, len(p.events)):] {
		switch b := e.Body.(type) {
		case procedure.FirstRead:
			p.judge(e.Seq, false, b.Div)
		case procedure.ShuntedRead:
			p.judge(e.Seq, true, b.Div)
		case procedure.Wired:
			p.hands.Wire(false)
		case procedure.Finish:
			p.over()
			p.atBench, p.top = true, 0
		case procedure.Strike:
			p.over()
		}
	}
	p.mark()
	return cmd
}

// judge keeps a reading beside what was to be seen, at the moment that is nearest
// to what was written.
func (p *practice) judge(seq int, shunted bool, div *float64) {
	p.glance()
	r := debrief.Reading{Seq: seq, Shunted: shunted}
	i := 0
	if shunted {
		i = 1
	}
	for _, l := range p.glances[i] {
		if !r.Looked || div == nil || math.Abs(*div-l.Div) <= math.Abs(*div-r.Look.Div) {
			r.Looked, r.Look = true, l
		}
	}
	p.glances[i] = nil
	p.readings = append(p.readings, r)
}

// mark puts on the scale what the guide expects.
func (p *practice) mark() {
	if p.alone {
		p.hands.Mark(nil, nil)
		return
	}
	var band *draw.Interval
	if e := p.expected(); e != nil {
		band = &draw.Interval{Lo: e.Div - 2*e.UDiv, Hi: e.Div + 2*e.UDiv}
	}
	p.hands.Mark(band, p.target())
}

// happened writes into the record what it is to know of the needle.
func (p *practice) happened() {
	for _, h := range p.hands.Fresh() {
		text, ok := debrief.Note(h, p.table)
		if !ok {
			continue
		}
		c, err := p.sitting.Accept(procedure.Note{Text: text})
		switch {
		case err != nil:
			p.tell(procedure.CleanText(err.Error(), maxEntry), true)
		case c.Refused == nil:
			kind, chosen := p.kind, p.chosen
			p.take(c)
			if chosen {
				p.choose(kind, true)
			}
			p.mark()
		}
	}
}

// over says what there is to say, once the measuring is finished.
func (p *practice) over() {
	p.remarks = nil
	if !p.state.Finished() {
		return
	}
	b := p.from.Live()
	g := p.table.Galvanometer
	d := debrief.Practice{
		Events: p.events, Counsel: p.counsel, Truth: b.Hidden(), Happenings: b.Happenings(), Readings: p.readings,
		Used: p.now().Sub(p.begun), LookedOver: p.hands.LookedOver(), Step: g.Step(), Divisions: g.Divisions, Examination: p.alone,
		Earlier: p.earlier,
	}
	d.Closings, d.K1 = b.Closings()
	d.Fault, d.FaultThere = b.Fault()
	p.remarks = debrief.Of(d)
	p.from.Over(p.remarks)
}

// scroll goes through what there is to say.
func (p *practice) scroll(k tea.KeyMsg) {
	switch {
	case key.Matches(k, p.keys.up):
		p.top--
	case key.Matches(k, p.keys.down):
		p.top++
	case key.Matches(k, p.keys.pageUp):
		p.top -= leafLines
	case key.Matches(k, p.keys.pageDown, p.keys.tick):
		p.top += leafLines
	}
	p.top = max(p.top, 0)
}

func (p *practice) head() []string {
	how := "simulated"
	if p.alone {
		return []string{"examination: the guide is switched off   " + how}
	}
	parts := p.work.head()
	return append(append(parts[:len(parts)-1:len(parts)-1], how), parts[len(parts)-1])
}

func (p *practice) keymap() []key.Binding {
	ks := p.keys
	switch {
	case p.atBench && p.helped:
		return []key.Binding{ks.back}
	case p.atBench && p.remarks != nil:
		return []key.Binding{named(ks.bench, "to the book"), named(ks.move, "more"), ks.pageUp, ks.pageDown, ks.leave}
	case p.atBench:
		bs := append(p.hands.KeyMap(), named(ks.bench, "to the book"), ks.suspend, ks.leave)
		return append([]key.Binding{named(ks.accept, "to the book"), ks.help}, bs...)
	}
	bs := p.work.keymap()
	if p.alone {
		bs = slices.DeleteFunc(bs, func(b key.Binding) bool {
			return slices.ContainsFunc([]key.Binding{ks.why, ks.graph, ks.behind}, func(o key.Binding) bool { return o.Help().Key == b.Help().Key })
		})
	}
	bench := ks.bench
	if p.remarks != nil {
		bench = named(bench, "how it went")
	}
	if p.open != noSheet {
		return bs
	}
	return append([]key.Binding{bs[0], bench}, bs[1:]...)
}

// body lays the page out: the bench or the book, in a wide window the book's
// rows on the facing page.
func (p *practice) body(width, height int) []string {
	spine := spineAt(width)
	covered := !p.atBench && p.open != noSheet && p.open != listSheet
	t := &p.theme
	if spine == 0 {
		if covered {
			return p.sheetPage(width, height)
		}
		return ledger(p.parts(bodyWidth(width), height, false), width, height, t)
	}
	left := ledger(p.parts(bodyWidth(spine-1), height, true), spine-1, height, t)
	facingWidth := width - spine
	sections := p.beside(facingWidth-2, height)
	if covered {
		sections = p.sheetSections(facingWidth-2, height)
	}
	return spread(left, spine, facing(sections, facingWidth, height, t))
}

// parts are the sections of the page that the keys go to.
func (p *practice) parts(bw, height int, spread bool) []section {
	switch {
	case p.atBench && p.helped:
		lines := helpLines(p.benchKeys(), bw, &p.theme)
		how := draw.Wrap(p.theme.Signs.Say("The hand goes over plugs, dials and keys with the arrows; what it is on stands in brackets. A plug that is out puts its coil in circuit. Nothing that you do here is written down: turn to the book for that."), bw)
		return []section{{name: "keys", lines: lines, least: len(lines), worth: 90}, {name: "how", lines: how, worth: 50}}
	case p.atBench && p.remarks != nil:
		return p.scrolled("after", p.remarkLines(bw), height, "")
	case p.atBench:
		return p.benchParts(bw, height)
	case p.alone:
		return p.aloneParts(bw, height, spread)
	}
	return p.sections(bw, height, spread)
}

func (p *practice) benchKeys() []key.Binding {
	return append(p.hands.KeyMap(), named(p.keys.accept, "to the book"), p.keys.bench)
}

// benchParts are the guide in short and the bench under the hands.
func (p *practice) benchParts(bw, height int) []section {
	var sections []section
	if !p.alone {
		do, safe := p.doLines(bw), p.safeLines(bw)
		sections = append(sections,
			section{name: "do", lines: do, least: len(do), worth: 80, slot: 2},
			section{name: "safe?", lines: safe, least: len(safe), worth: 100, slot: 2})
	}
	book := []string{p.theme.Hint.Render(draw.Cut(p.theme.Signs.Say("Enter: to the book, to write down "+p.entry().name), bw, p.theme.Signs.Dots))}
	room := height - used(sections) - len(book)
	lines := p.hands.View(bw, room)
	return append(sections,
		section{name: "bench", lines: lines, least: len(lines), worth: 95, slot: room},
		section{name: "write", lines: book, least: 1, worth: 60})
}

// aloneParts are the book without a guide; in a spread what is written so far
// stands on the facing page.
func (p *practice) aloneParts(bw, height int, spread bool) []section {
	text := "Tab lists what can be written down; F6 is the bench."
	if p.state.Finished() {
		text = "Finished. F6 says how it went."
	}
	sections := []section{{name: "book", lines: draw.Styled(draw.Wrap(p.theme.Signs.Say(text), bw), p.theme.Hint), least: 1, worth: 80}}
	if p.open == listSheet {
		list, said := p.listLines(bw, height-used(sections)-2)
		return append(sections, section{name: "enter", lines: list, least: 5, worth: 90}, section{name: "note", lines: said, least: len(said), worth: 95})
	}
	if p.kind == enterWired {
		sections = append(sections, p.wiringSections(bw, height-used(sections)-3, false)...)
	} else if !p.state.Finished() {
		scale := p.scaleLines(bw, scaleHeight(height))
		sections = append(sections, section{name: "scale", lines: scale, least: len(scale), worth: 50, whole: true})
	}
	lines := p.writeLines(bw)
	sections = append(sections, section{name: "write", lines: lines, least: len(lines), worth: 100, slot: 3})
	if p.said != "" || p.refusal() != "" {
		said := p.saidAlone(bw)
		sections = append(sections, section{name: "note", lines: said, least: len(said), worth: 85, slot: 1})
	}
	if room := height - used(sections) - 2; room > 1 && !spread {
		sections = append(sections, section{name: "so far", lines: p.bookLines(bw, room), worth: 40, ruled: true})
	}
	return sections
}

// saidAlone is what became of the last entry, and why this one cannot be
// taken.
func (p *practice) saidAlone(bw int) []string {
	style, text := p.theme.Said, p.said
	if p.wrong {
		style, text = p.theme.Odd, "! "+text
	}
	lines := draw.Styled(draw.Wrap(p.theme.Signs.Say(strings.TrimSpace(text)), bw), style)
	if why := p.refusal(); why != "" && !strings.Contains(p.said, why) {
		lines = append(lines, draw.Styled(draw.Wrap(p.theme.Signs.Say("cannot be taken: "+why), bw), p.theme.Odd)...)
	}
	return lines
}

// beside are the sections of the facing page: the circuit as it stands, the
// rows and the result, or the book of an examination.
func (p *practice) beside(fw, height int) []section {
	b := p.from.Live()
	c := p.work.circuit()
	c.K1, c.K2, c.Part = draw.KeyIs(b.Closed(live.K1)), draw.KeyIs(b.Closed(live.K2)), draw.NoPart
	circuit := c.Draw(fw, height/3, &p.theme)
	sections := []section{{name: "circuit", lines: circuit, least: len(circuit), worth: 90, whole: true}}
	if p.alone {
		return append(sections, section{name: "so far", lines: p.bookLines(fw, height-used(sections)-2), worth: 60})
	}
	rows := rowLines(p.counsel.Rows, p.back, fw, min(len(p.counsel.Rows)+1, 8), &p.theme)
	result := p.lowLines(fw)
	sections = append(sections,
		section{name: "rows", lines: rows, least: len(rows), worth: 80},
		section{name: "result", lines: result, least: 1, worth: 70})
	if room := height - used(sections) - 2; room > 2 {
		sections = append(sections, section{name: "book", lines: p.bookLines(fw, room), worth: 10})
	}
	return sections
}

// remarkLines set what there is to say, each remark with a sign of its kind.
func (p *practice) remarkLines(bw int) []string {
	t := &p.theme
	lines := draw.Styled(draw.Wrap(t.Signs.Say("How it went: + was done well, > can be done better, - is how it was."), bw), t.Hint)
	for _, r := range p.remarks {
		style := t.Hint
		switch r.Kind {
		case debrief.Well:
			style = t.Said
		case debrief.Better:
			style = t.Odd
		}
		for i, line := range draw.Wrap(t.Signs.Say(r.Text), bw-2) {
			lead := style.Render(r.Kind.Sign()) + " "
			if i > 0 {
				lead = "  "
			}
			lines = append(lines, lead+line)
		}
	}
	return lines
}

// safety is the line that is shown when nothing else has room.
func (p *practice) safety() string {
	if p.from.Live().Closed(live.K1) {
		return "K1 is closed on the simulated bench"
	}
	if p.alone {
		return "keys open on the simulated bench"
	}
	return p.work.safety()
}
