package screen

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/metercheck"
	"example.org/halve/procedure/record"
)

// A MeterHand works the simulated bench of a meter check, as the counsel asks.
type MeterHand interface {
	// Follow brings source, case and adjuster to where a counsel asks for them
	// and returns what is then to be read.
	Follow(c metercheck.Counsel) (div, reference float64)
	// Look is looking for a fault, which puts it right where it is there.
	Look(id string) bool
}

// meterWork is the page on which a meter check is done.
type meterWork struct {
	*desk
	single
	sitting *record.MeterSitting
	hand    MeterHand // nil at a real bench

	counsel metercheck.Counsel
	bench   metercheck.Bench
	kind    meterKindOf
	chosen  bool // the person chose the kind of entry; else it is the proposed one
	field   field
	meant   reading
	then    *metercheck.Counsel // what would follow from the entry, nil if there is none
	shown   *shownByHand        // what the simulated bench shows, nil at a real one

	said   string
	wrong  bool
	at     time.Time
	drafts map[meterKindOf]string
	open   sheet
	listAt int
	top    int // the first line shown of a sheet that is longer than the page
}

// shownByHand is what the simulated bench shows after event seq.
type shownByHand struct {
	seq            int
	div, reference float64
}

// meterKindOf is a kind of entry of a meter check.
type meterKindOf int

const (
	meterWired meterKindOf = iota
	meterZeroRead
	meterPoint
	meterStrike
	meterNote
	meterTemperature
	meterWho
	meterFinish
	meterInstruments
	meterLook
	meterCopy
)

// meterEntry describes a kind of entry.
type meterEntry struct {
	kind            meterKindOf
	name, does, how string
	typed           bool
}

func meterEntries() []meterEntry {
	return []meterEntry{
		{meterWired, "circuit", "the circuit is built and looked over", "yes, when it is built so and looked over", true},
		{meterZeroRead, "zero", "where the pointer rests, source off", "divisions: 0, 0.2, -0.2", true},
		{meterPoint, "point", "pointer and reference at a mark", "the reference, with the pointer on the mark: 2.013; or pointer and reference: 19.8 2.013", true},
		{meterStrike, "strike", "strike out an entry; it stays readable", "its number and why: 12 misread; Enter alone strikes the last", true},
		{meterNote, "note", "anything worth writing down", "any words", true},
		{meterTemperature, "temperature", "of the room, for the note", "°C: 22.5", true},
		{meterWho, "names; group", "whose record this is", "names; group", true},
		{meterFinish, "finish", "no more points", "", false},
		{meterInstruments, "instruments", "correct what was said of the instruments", "", false},
		{meterLook, "look", "on a simulated bench: look for what is named first", "", false},
		{meterCopy, "copy to folder", "copy the record to a folder or stick", "a folder that is there, such as a stick; Enter alone leaves it", true},
	}
}

func newMeterWork(d *desk, s *record.MeterSitting, hand MeterHand) *meterWork {
	w := &meterWork{desk: d, sitting: s, hand: hand, field: newField(""), drafts: map[meterKindOf]string{}}
	w.said = s.Recovered()
	w.take(s.Counsel())
	return w
}

// take settles on a new counsel: the next entry is the one it proposes.
func (w *meterWork) take(c metercheck.Counsel) {
	w.counsel = c
	w.bench, _ = w.sitting.State().Bench()
	w.follow()
	w.choose(w.proposed(), false)
}

// follow brings the simulated bench to where the counsel asks, once for each
// state.
func (w *meterWork) follow() {
	n := w.counsel.Next
	if w.hand == nil || n == nil || n.Event != procedure.KindZero && n.Event != metercheck.KindPoint {
		w.shown = nil
		return
	}
	if w.shown == nil || w.shown.seq != w.counsel.Seq {
		div, reference := w.hand.Follow(w.counsel)
		w.shown = &shownByHand{w.counsel.Seq, div, reference}
	}
}

// proposed is the kind of entry that is due.
func (w *meterWork) proposed() meterKindOf {
	if w.sitting.State().Finished() {
		if w.sitting.Path() != "" {
			return meterCopy
		}
		return meterNote
	}
	switch w.counsel.Next.Event {
	case procedure.KindWired:
		return meterWired
	case procedure.KindZero:
		return meterZeroRead
	case metercheck.KindPoint:
		return meterPoint
	case procedure.KindFinish:
		return meterFinish
	}
	return meterInstruments
}

// choose turns to a kind of entry. What was typed for another is kept until it
// is turned to again.
func (w *meterWork) choose(kind meterKindOf, chosen bool) {
	if text := w.field.text(); text != "" && w.entry().typed {
		w.drafts[w.kind] = text
	}
	w.kind, w.chosen, w.open = kind, chosen, noSheet
	w.field.set(w.drafts[kind])
	delete(w.drafts, kind)
	w.weigh()
}

func (w *meterWork) tell(what string, wrong bool) { w.said, w.wrong = what, wrong }

func (w *meterWork) entry() meterEntry {
	for _, e := range meterEntries() {
		if e.kind == w.kind {
			return e
		}
	}
	return meterEntry{}
}

// weigh looks at what is typed: how it is read, and what would follow.
func (w *meterWork) weigh() {
	w.meant = w.read(strings.TrimSpace(w.field.text()))
	w.then = nil
	if w.meant.err == nil && w.meant.body != nil {
		c := w.sitting.Preview(w.meant.body)
		w.then = &c
	}
}

// read says what text means as an entry of the present kind.
func (w *meterWork) read(text string) reading {
	switch w.kind {
	case meterWired: // no lone Enter says so
		switch {
		case strings.EqualFold(text, "yes"), strings.EqualFold(text, "y"):
			return reading{body: procedure.Wired{}, says: "the circuit is looked over"}
		case text != "" && !strings.HasPrefix("yes", strings.ToLower(text)):
			return reading{err: errors.New("type yes when it is so")}
		}
		return reading{}
	case meterFinish:
		return reading{body: procedure.Finish{}}
	case meterStrike:
		return sense{lastSeq: w.undoable()}.strike(text)
	case meterPoint:
		return w.point(text)
	}
	if text == "" {
		return reading{}
	}
	switch w.kind {
	case meterZeroRead:
		v, err := quantity.Parse(text, quantity.Division)
		return reading{procedure.ZeroRead{Div: v}, "rests at " + divisions(v), err}
	case meterNote:
		return reading{body: procedure.Note{Text: procedure.CleanText(text, maxEntry)}}
	case meterTemperature:
		v, err := quantity.Parse(text, quantity.Celsius)
		return reading{procedure.Note{Temperature: &v}, quantity.Format(v, quantity.Celsius, 3), err}
	case meterWho:
		return sense{}.read(enterWho, text)
	}
	return reading{}
}

// point reads a point: the reference alone, with the pointer on the mark that
// is aimed at, or the pointer and the reference.
func (w *meterWork) point(text string) reading {
	n := w.counsel.Next
	if text == "" {
		return reading{}
	}
	if n == nil || n.Event != metercheck.KindPoint {
		return reading{err: errors.New("no point is called for now")}
	}
	pointer, reference, both := strings.Cut(text, " ")
	if both && (quantityAlone(text, w.bench.Unit()) || !strings.ContainsAny(reference, "0123456789")) {
		both = false // 2013 mA, or one in another unit
	}
	div := *n.TargetDiv
	if !both {
		reference = text
	} else {
		v, err := quantity.Parse(pointer, quantity.Division)
		if err != nil {
			return reading{err: fmt.Errorf("first the pointer: %w", err)}
		}
		div = v
	}
	sign := 1.0
	rest := strings.TrimSpace(reference)
	for _, minus := range []string{"-", "−"} {
		if r, ok := strings.CutPrefix(rest, minus); ok {
			rest, sign = r, -1
		}
	}
	v, err := quantity.Parse(rest, w.bench.Unit())
	if err != nil {
		return reading{err: fmt.Errorf("the reference: %w", err)}
	}
	return reading{
		body: w.bench.At(n.Direction, div, sign*v, *n.Tapped),
		says: fmt.Sprintf("pointer %s, reference %s", divisions(div), quantity.Format(sign*v, w.bench.Unit(), 5)),
	}
}

// quantityAlone reports whether a text is one quantity with its unit, such as
// 2013 mA.
func quantityAlone(text string, unit quantity.Unit) bool {
	text = strings.TrimLeft(text, "-−")
	_, err := quantity.Parse(text, unit)
	return err == nil
}

// undoable is the number of the last event that undo strikes, 0 for none.
func (w *meterWork) undoable() int {
	st := w.sitting.State()
	events := w.sitting.Events()
	for i := len(events) - 1; i >= 0; i-- {
		switch e := events[i]; e.Body.(type) {
		case metercheck.Bench, procedure.Strike:
		default:
			if st.Struck(e.Seq) == 0 {
				return e.Seq
			}
		}
	}
	return 0
}

func (w *meterWork) update(msg tea.Msg) (page, tea.Cmd) {
	k, ok := msg.(tea.KeyMsg)
	if !ok {
		return w, nil
	}
	switch w.open {
	case listSheet:
		return w.list(k)
	case noSheet:
		return w.press(k)
	}
	switch {
	case key.Matches(k, w.keys.back, w.keys.accept, w.keys.help, w.keys.behind):
		w.open = noSheet
	case key.Matches(k, w.keys.up):
		w.top = max(w.top-1, 0)
	case key.Matches(k, w.keys.down):
		w.top++
	case key.Matches(k, w.keys.pageUp):
		w.top = max(w.top-leafLines, 0)
	case key.Matches(k, w.keys.pageDown, w.keys.tick):
		w.top += leafLines
	}
	return w, nil
}

// press takes a key while something can be typed.
func (w *meterWork) press(k tea.KeyMsg) (page, tea.Cmd) {
	words := w.kind == meterNote || w.kind == meterWho || w.kind == meterCopy || w.kind == meterStrike
	switch {
	case key.Matches(k, w.keys.accept):
		return w.accept(), nil
	case key.Matches(k, w.keys.other):
		w.open, w.listAt = listSheet, int(w.kind)
	case key.Matches(k, w.keys.back):
		w.tell("", false)
		if w.field.text() == "" {
			w.choose(w.proposed(), false)
		}
		w.field.set("")
		w.weigh()
	case key.Matches(k, w.keys.help) && (k.String() == "f1" || !words):
		w.open, w.top = helpSheet, 0
	case key.Matches(k, w.keys.behind):
		w.open, w.top = behindSheet, 0
	case key.Matches(k, w.keys.strike):
		w.turnTo(meterStrike)
	case key.Matches(k, w.keys.zero):
		w.turnTo(meterZeroRead)
	case key.Matches(k, w.keys.note):
		w.turnTo(meterNote)
	case key.Matches(k, w.keys.finish):
		w.turnTo(meterFinish)
	case w.entry().typed:
		w.field.typed(k)
		w.tell("", false)
		w.weigh()
	}
	return w, nil
}

// list takes a key while the list of entries is open.
func (w *meterWork) list(k tea.KeyMsg) (page, tea.Cmd) {
	es := meterEntries()
	switch {
	case key.Matches(k, w.keys.up):
		w.tell("", false)
		w.listAt = (w.listAt + len(es) - 1) % len(es)
	case key.Matches(k, w.keys.down, w.keys.other):
		w.tell("", false)
		w.listAt = (w.listAt + 1) % len(es)
	case key.Matches(k, w.keys.back):
		w.open = noSheet
	case key.Matches(k, w.keys.help, w.keys.behind):
		w.open = noSheet
		return w.press(k)
	case key.Matches(k, w.keys.accept):
		switch kind := es[w.listAt].kind; {
		case w.whyNot(kind) != "":
			w.tell("not now: "+w.whyNot(kind), true) // the list stays open
		case kind == meterInstruments:
			return w.instruments(), nil
		case kind == meterLook:
			w.open = noSheet
			w.look()
		default:
			w.turnTo(kind)
		}
	}
	return w, nil
}

// instruments is the form with the instruments, which leads back to the page.
func (w *meterWork) instruments() page {
	w.open = noSheet
	f := newMeterForm(w.desk, w.sitting)
	f.from = w
	return f
}

// look looks on the simulated bench for what the readings point to first.
func (w *meterWork) look() {
	if w.hand.Look(w.counsel.Findings[0].ID) {
		w.tell("it is there, and is put right; strike what it spoiled, and read again", false)
		w.shown = nil
		w.follow()
		return
	}
	w.tell("it is not there", false)
}

// turnTo turns to an entry that the person asks for, or says why not.
func (w *meterWork) turnTo(kind meterKindOf) {
	if why := w.whyNot(kind); why != "" {
		w.open = noSheet
		w.tell("not now: "+why, true)
		return
	}
	w.tell("", false)
	w.choose(kind, kind != w.proposed())
}

// whyNot says why an entry cannot be made now, "" if it can.
func (w *meterWork) whyNot(kind meterKindOf) string {
	st := w.sitting.State()
	switch kind {
	case meterWired, meterPoint, meterFinish, meterInstruments:
		if st.Finished() {
			return "the check is finished; strike the finish to go on"
		}
	}
	switch {
	case kind == meterWired && st.Wired():
		return "the circuit is looked over already"
	case kind == meterPoint && !st.Wired():
		return "the circuit is to be looked over first"
	case kind == meterPoint && (w.counsel.Next == nil || w.counsel.Next.Event != metercheck.KindPoint):
		return "no point is called for"
	case kind == meterStrike && w.undoable() == 0:
		return "there is nothing to strike yet"
	case kind == meterCopy && w.sitting.Path() == "":
		return "the record is kept in memory only"
	case kind == meterLook && w.hand == nil:
		return "that is for a simulated bench"
	case kind == meterLook && len(w.counsel.Findings) == 0:
		return "the readings point to nothing"
	}
	return ""
}

// accept writes down what is typed or proposed.
func (w *meterWork) accept() page {
	empty := strings.TrimSpace(w.field.text()) == ""
	now := w.now()
	switch {
	case empty && !w.at.IsZero() && now.Sub(w.at) < hasty:
		w.tell("that Enter came too soon to be meant; press it again", true)
		return w
	case w.kind == meterInstruments:
		return w.instruments()
	case w.kind == meterCopy:
		w.tell(copied(strings.TrimSpace(w.field.text()), w.sitting.CopyTo, &w.field))
		return w
	case w.meant.err != nil:
		w.tell("not written down: correct it, or Esc clears it", true)
		return w
	case w.meant.body == nil && empty:
		w.tell("nothing is typed yet", true)
		return w
	case w.meant.body == nil: // half a word
		w.tell("type yes when it is so", true)
		return w
	}
	found := w.counsel.Findings
	c, err := w.sitting.Accept(w.meant.body)
	switch {
	case err != nil:
		w.tell(oneLine(err), true)
		return w
	case c.Refused != nil:
		w.tell("refused: "+*c.Refused, true)
		return w
	}
	w.at = now
	if strike, ok := w.meant.body.(procedure.Strike); ok && w.hand != nil {
		for _, f := range found { // to strike what a cause spoiled is to have looked for it
			if f.Mend != nil && f.Mend.Seq == strike.Event {
				w.hand.Look(f.ID)
			}
		}
	}
	word := "recorded"
	if w.sitting.Path() == "" {
		word = "taken"
	}
	w.tell(fmt.Sprintf("%s as %d: %s", word, c.Seq, meterWords(w.meant.body)), false)
	w.field.set("")
	delete(w.drafts, w.kind)
	w.take(c)
	return w
}

func (w *meterWork) unsaid() string {
	if text := strings.TrimSpace(w.field.text()); text != "" && w.entry().typed {
		return text
	}
	for _, e := range meterEntries() {
		if text := strings.TrimSpace(w.drafts[e.kind]); text != "" {
			return text
		}
	}
	return ""
}
