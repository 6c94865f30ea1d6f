package screen

import (
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"example.org/halve/physics/apparatus"
	"example.org/halve/procedure"
	"example.org/halve/procedure/debrief"
	"example.org/halve/procedure/notes"
	"example.org/halve/procedure/record"
	"example.org/halve/safety"
)

// hasty is how soon after an event a lone Enter is taken for part of a paste
// and not for a decision. Terminals that do not mark a paste send its line
// ends as real Enters.
const hasty = 150 * time.Millisecond

// work is the page on which the practical is done: what to do, whether it is
// safe, what to see, and what there is.
type work struct {
	*desk
	sitting *record.Sitting

	counsel  procedure.Counsel
	state    *procedure.State // what the counsel was given on; only read
	table    apparatus.Bench  // the instruments, as stated
	sense    sense
	events   []procedure.Event
	kind     entryKind
	chosen   bool // the person chose the kind of entry; else it is the proposed one
	field    field
	meant    reading
	foreseen *procedure.Counsel // what would follow from the entry, nil if there is none
	weighed  int                // counts the entries that were weighed
	asked    int                // the last of them whose findings were asked for

	said    string // what happened to the last entry
	wrong   bool   // it was not taken
	at      time.Time
	skipped [2]bool // the EMF before the first row and after the last was left out

	drafts   map[entryKind]string // typed and left for another entry
	ticks    []bool               // of the wiring list
	tickAt   int
	open     sheet                   // what lies over the page
	listAt   int                     // in the list of entries
	top      int                     // the first line shown of a sheet that is longer than the page
	leaf     int                     // of the notes: 0 is the step's, then the topics
	analysis *procedure.Analysis     // what stands behind the result, nil until it is asked for
	back     int                     // rows scrolled back
	swing    swing                   // the drawn needle
	shown    func(w, h int) []string // draws the scale of a bench under the hands, nil elsewhere
	alone    bool                    // the guide is switched off
}

// sheet is what can lie over the page without changing what is typed on it.
type sheet int

const (
	noSheet     sheet = iota
	listSheet         // the list of entries
	helpSheet         // keys and cautions
	whySheet          // the notes
	graphsSheet       // R against 1/θ
	behindSheet       // what stands behind the result
)

func newWork(d *desk, s *record.Sitting) *work {
	w := &work{desk: d, sitting: s, field: newField(""), drafts: map[entryKind]string{}, swing: newSwing()}
	w.said = s.Recovered()
	w.take(s.Counsel())
	return w
}

// take settles on a new counsel: the next entry is the one it proposes.
func (w *work) take(c procedure.Counsel) {
	w.counsel = c
	w.events, w.state = w.sitting.Events(), w.sitting.State()
	if b, ok := w.state.Bench(); ok {
		w.table = b
		w.sense.galvanometer = b.Galvanometer
		w.sense.series, _ = apparatus.NewRange(b.SeriesBox) // the bench was checked when it was accepted
		w.sense.shunt, _ = apparatus.NewRange(b.ShuntBox)
	}
	if w.ticks == nil {
		w.ticks = make([]bool, len(wiring(w.table)))
	}
	w.sense.next = c.Next
	if w.alone {
		w.sense.next = nil // nothing is proposed
	}
	w.sense.lastSeq = w.undoable()
	w.analysis = nil
	w.back = 0
	w.choose(w.proposed(), false)
}

// undoable is the number of the last event that undo strikes: not the bench,
// not a strike, and not one that is struck already. 0 if there is none.
func (w *work) undoable() int {
	st := w.state
	for i := len(w.events) - 1; i >= 0; i-- {
		switch e := w.events[i]; e.Body.(type) {
		case procedure.Bench, procedure.Strike:
		default:
			if note, ok := e.Body.(procedure.Note); ok && debrief.ByBench(note) {
				continue // nobody's own entry
			}
			if st.Struck(e.Seq) == 0 {
				return e.Seq
			}
		}
	}
	return 0
}

// proposed is the kind of entry that is due.
func (w *work) proposed() entryKind {
	st := w.state
	if st.Finished() && w.sitting.Path() != "" {
		return enterCopy
	}
	if st.Finished() {
		return enterNote
	}
	if w.alone {
		return w.unguided()
	}
	next := w.counsel.Next
	if next == nil {
		return enterBench // the instruments cannot do it; the counsel says why
	}
	switch _, set := st.SeriesOhm(); {
	case next.Event == procedure.KindSetSeries && !set && !st.SourceSince(0) && !w.skipped[0]:
		return enterSource
	case next.Event == procedure.KindFinish && w.sourceDue():
		return enterSource
	}
	if kind, ok := entryFor(next.Event); ok {
		return kind
	}
	return enterBench
}

// sourceDue reports whether the EMF is to be asked for after the last row.
func (w *work) sourceDue() bool {
	st := w.state
	return st.LastKept() > 0 && !st.SourceSince(st.LastKept()) && !w.skipped[1]
}

// choose turns to a kind of entry. What was typed for another is kept until
// it is turned to again.
func (w *work) choose(kind entryKind, chosen bool) {
	if chosen && kind == enterFinish && w.sourceDue() {
		kind, chosen = enterSource, true
		w.tell("before finishing: the EMF once more, keys open; Enter alone leaves it out", false)
	}
	if text := w.field.text(); text != "" && w.entry().typed {
		w.drafts[w.kind] = text
	}
	w.kind, w.chosen = kind, chosen
	w.open = noSheet
	w.field.set(w.drafts[kind])
	delete(w.drafts, kind)
	w.weigh()
}

func (w *work) tell(what string, wrong bool) { w.said, w.wrong = what, wrong }

// weigh looks at what is typed: how it is read, and what would follow.
func (w *work) weigh() {
	w.meant = w.sense.read(w.kind, w.field.text())
	w.foreseen = nil
	w.weighed++
	switch w.kind {
	case enterNote, enterTemperature, enterWho, enterCopy, enterBench:
		return // nothing follows from these
	}
	if w.meant.err == nil && w.meant.body != nil {
		c := w.sitting.Preview(w.meant.body)
		w.foreseen = &c
	}
}

// findingsKnown tells what the readings would point to with an entry.
type findingsKnown struct {
	of       int // which entry was weighed
	findings []procedure.Finding
}

// diagnose asks what the readings would point to with the reading that is
// typed. It takes some milliseconds, for which no key waits.
func (w *work) diagnose() tea.Cmd {
	if w.asked == w.weighed || w.foreseen == nil || w.foreseen.Refused != nil || !w.reads() {
		return nil
	}
	w.asked = w.weighed
	of, body, sitting := w.weighed, w.meant.body, w.sitting
	return command(func() tea.Msg { return findingsKnown{of, sitting.Foresee(body).Findings} })
}

// reads reports whether the entry is a look at the needle.
func (w *work) reads() bool {
	return w.kind == enterFirst || w.kind == enterShunted || w.kind == enterZero
}

func (w *work) update(msg tea.Msg) (page, tea.Cmd) {
	switch msg := msg.(type) {
	case findingsKnown:
		if msg.of == w.weighed && w.foreseen != nil {
			w.foreseen.Findings = msg.findings
		}
	case swung:
		return w, w.swing.on(w.near())
	case tea.KeyMsg:
		next, cmd := w.pressed(msg)
		if next != page(w) {
			return next, cmd
		}
		return w, tea.Batch(cmd, w.diagnose(), w.stir())
	}
	return w, nil
}

// pressed takes a key on the page, or on the sheet that lies over it.
func (w *work) pressed(k tea.KeyMsg) (page, tea.Cmd) {
	switch {
	case w.open == listSheet:
		return w.list(k)
	case w.open != noSheet && w.turn(k):
		return w, nil
	}
	return w.press(k)
}

// turn takes a key while a sheet lies over the page. Keys that open another
// sheet are left to the page.
func (w *work) turn(k tea.KeyMsg) bool {
	switch {
	case key.Matches(k, w.keys.back, w.keys.accept), key.Matches(k, w.sheetKey()):
		w.open = noSheet
	case key.Matches(k, w.keys.up):
		w.top--
	case key.Matches(k, w.keys.down):
		w.top++
	case key.Matches(k, w.keys.pageUp):
		w.top -= leafLines
	case key.Matches(k, w.keys.pageDown, w.keys.tick):
		w.top += leafLines
	case key.Matches(k, w.keys.right):
		w.leaf, w.top = (w.leaf+1)%w.leaves(), 0
	case key.Matches(k, w.keys.left):
		w.leaf, w.top = (w.leaf+w.leaves()-1)%w.leaves(), 0
	case key.Matches(k, w.keys.help, w.keys.why, w.keys.graph, w.keys.behind):
		return false
	}
	w.top = max(w.top, 0)
	return true
}

// leafLines is how far PgUp and PgDn go, less than the smallest page.
const leafLines = 12

// sheetKey is the key that opened the sheet, and closes it.
func (w *work) sheetKey() key.Binding {
	switch w.open {
	case whySheet:
		return w.keys.why
	case graphsSheet:
		return w.keys.graph
	case behindSheet:
		return w.keys.behind
	}
	return w.keys.help
}

// lay lays a sheet over the page.
func (w *work) lay(s sheet) { w.open, w.top, w.leaf = s, 0, 0 }

// leaves is how many leaves the sheet has: of the notes the step's, then the
// topics; the graph and the residuals.
func (w *work) leaves() int {
	switch w.open {
	case whySheet:
		return 1 + len(notes.Topics())
	case graphsSheet:
		_, graphs := w.graphs()
		return len(graphs)
	}
	return 1
}

// behind is what stands behind the result, worked out when it is first asked
// for.
func (w *work) behind() *procedure.Analysis {
	if w.analysis == nil {
		a := procedure.Analyse(w.state)
		w.analysis = &a
	}
	return w.analysis
}

// press takes a key while something can be typed.
func (w *work) press(k tea.KeyMsg) (page, tea.Cmd) {
	empty := w.field.text() == ""
	switch {
	case key.Matches(k, w.keys.accept):
		return w.accept()
	case key.Matches(k, w.keys.other):
		w.lay(listSheet)
		w.listAt = 0
		for i, e := range w.offered() {
			if e.kind == w.kind {
				w.listAt = i
			}
		}
	case key.Matches(k, w.keys.back):
		w.tell("", false)
		if empty {
			w.choose(w.proposed(), false)
		}
		w.field.set("")
		w.weigh()
	case key.Matches(k, w.keys.help) && (k.String() == "f1" || !w.words()):
		w.lay(helpSheet)
	case key.Matches(k, w.keys.why):
		w.lay(whySheet)
	case key.Matches(k, w.keys.graph):
		if len(w.counsel.Rows) == 0 {
			w.tell("not now: the graph begins with the first kept row", true)
			break
		}
		w.lay(graphsSheet)
	case key.Matches(k, w.keys.offScale) && (w.kind == enterFirst || w.kind == enterShunted):
		w.field.set("off")
		w.weigh()
	case key.Matches(k, w.keys.strike):
		w.turnTo(enterStrike)
	case key.Matches(k, w.keys.zero):
		w.turnTo(enterZero)
	case key.Matches(k, w.keys.note):
		w.turnTo(enterNote)
	case key.Matches(k, w.keys.keep):
		w.turnTo(enterKeep)
	case key.Matches(k, w.keys.finish):
		w.turnTo(enterFinish)
	case key.Matches(k, w.keys.behind):
		if w.counsel.Result == nil && len(w.findings()) == 0 {
			w.tell("not now: a result comes with the first kept row", true)
			break
		}
		w.lay(behindSheet)
	case key.Matches(k, w.keys.up):
		w.move(-1)
	case key.Matches(k, w.keys.down):
		w.move(+1)
	case key.Matches(k, w.keys.tick) && w.kind == enterWired:
		w.ticks[w.tickAt] = !w.ticks[w.tickAt]
		w.tickAt = min(w.tickAt+1, len(w.ticks)-1)
		w.tell("", false)
	case w.entry().typed:
		w.field.typed(k)
		w.tell("", false)
		w.weigh()
	}
	return w, nil
}

// words reports whether the entry is words and not a quantity.
func (w *work) words() bool {
	switch w.kind {
	case enterNote, enterWho, enterCopy, enterStrike:
		return true
	}
	return false
}

// move goes up or down: in the wiring list, else through the rows.
func (w *work) move(by int) {
	if w.kind == enterWired {
		w.tickAt = min(max(w.tickAt+by, 0), len(w.ticks)-1)
		return
	}
	w.back = min(max(w.back-by, 0), max(len(w.counsel.Rows)-1, 0))
}

// entry describes the kind of entry that is open.
func (w *work) entry() entry {
	for _, e := range entries {
		if e.kind == w.kind {
			return e
		}
	}
	return entry{kind: w.kind}
}

// turnTo turns to an entry that the person asks for, or says why not.
func (w *work) turnTo(kind entryKind) {
	if why := w.whyNot(kind); why != "" {
		w.open = noSheet
		w.tell("not now: "+why, true)
		return
	}
	w.tell("", false)
	if kind != w.kind {
		w.choose(kind, kind != w.proposed())
	}
	w.open = noSheet
}

// whyNot says why an entry cannot be made now, "" if it can.
func (w *work) whyNot(kind entryKind) string {
	st := w.state
	_, set := st.SeriesOhm()
	switch kind {
	case enterWired, enterSeries, enterFirst, enterShunt, enterShunted, enterKeep, enterFinish, enterBench:
		if st.Finished() {
			return "the measuring is finished; strike the finish to go on"
		}
	}
	var body procedure.Body
	switch kind {
	case enterWired:
		if st.Wired() {
			return "the circuit is checked already"
		}
	case enterFirst, enterShunted:
		switch {
		case !st.Wired():
			return "the circuit is to be checked first"
		case !set:
			return "the series box is to be set first"
		}
		if body = (procedure.FirstRead{Div: new(float64)}); kind == enterShunted {
			body = procedure.ShuntedRead{Div: new(float64)}
		}
	case enterKeep:
		body = procedure.RowKept{}
	case enterFinish:
		body = procedure.Finish{}
	case enterStrike:
		if w.sense.lastSeq == 0 {
			return "there is nothing to strike yet"
		}
	case enterCopy:
		if w.sitting.Path() == "" {
			return "the record is kept in memory only"
		}
	}
	if body == nil {
		return ""
	}
	if c := w.sitting.Preview(body); c.Refused != nil {
		return *c.Refused
	}
	return ""
}

// offered lists the entries of a practical.
func (w *work) offered() []entry { return entries }

// list takes a key while the list of entries is open.
func (w *work) list(k tea.KeyMsg) (page, tea.Cmd) {
	es := w.offered()
	switch {
	case key.Matches(k, w.keys.up):
		w.tell("", false)
		w.listAt = (w.listAt + len(es) - 1) % len(es)
	case key.Matches(k, w.keys.down, w.keys.other):
		w.tell("", false)
		w.listAt = (w.listAt + 1) % len(es)
	case key.Matches(k, w.keys.back):
		w.open = noSheet
	case key.Matches(k, w.keys.help, w.keys.why):
		w.open = noSheet
		return w.press(k)
	case key.Matches(k, w.keys.accept):
		kind := es[w.listAt].kind
		switch why := w.whyNot(kind); {
		case why != "":
			// The list stays open: what is typed next must not land elsewhere.
			w.tell("not now: "+why, true)
		case kind == enterBench:
			return w.instruments(), nil
		default:
			w.turnTo(kind)
		}
	}
	return w, nil
}

// instruments is the form with the instruments, which leads back to the page
// as it stands.
func (w *work) instruments() page {
	w.open = noSheet
	f := newBenchForm(w.desk, w.sitting)
	f.from = w
	return f
}

// accept writes down what is typed or proposed.
func (w *work) accept() (page, tea.Cmd) {
	empty := strings.TrimSpace(w.field.text()) == ""
	now := w.now()
	if empty && !w.at.IsZero() && now.Sub(w.at) < hasty {
		w.tell("that Enter came too soon to be meant; press it again", true)
		return w, nil
	}
	switch {
	case w.kind == enterBench:
		return w.instruments(), nil
	case w.kind == enterCopy:
		w.copyTo(strings.TrimSpace(w.field.text()))
		return w, nil
	case w.kind == enterWired && w.unticked() > 0:
		w.tell(fmt.Sprintf("not yet: %d of the list to be looked at; Space ticks each", w.unticked()), true)
		return w, nil
	case w.kind == enterSource && empty:
		w.leaveSourceOut()
		return w, nil
	case w.meant.err != nil:
		w.tell("not written down: correct it, or Esc clears it", true)
		return w, nil
	case w.meant.body == nil:
		w.tell("nothing is typed yet", true)
		return w, nil
	}
	// The event is on the disk before anything else happens: a keystroke may
	// wait some milliseconds for it, and nothing can come in between.
	c, err := w.sitting.Accept(w.meant.body)
	switch {
	case err != nil:
		w.tell(procedure.CleanText(err.Error(), maxEntry), true)
		return w, nil
	case c.Refused != nil:
		w.tell("refused: "+*c.Refused, true)
		return w, nil
	}
	w.at = now
	events := w.sitting.Events()
	last := events[len(events)-1]
	if w.sitting.Path() == "" {
		w.tell(fmt.Sprintf("taken as %d: %s", last.Seq, eventWords(last)), false)
	} else {
		w.tell(fmt.Sprintf("recorded as %d: %s", last.Seq, eventWords(last)), false)
	}
	w.letGo(last.Body)
	w.take(c)
	return w, nil
}

// letGo forgets what was typed and has no meaning after an event: a reading
// of before belongs to no other setting.
func (w *work) letGo(b procedure.Body) {
	w.field.set("")
	delete(w.drafts, w.kind)
	switch b.(type) {
	case procedure.Note, procedure.Who, procedure.Claim, procedure.SourceMeasured, procedure.ZeroRead:
		return // these change no setting
	}
	for _, kind := range []entryKind{enterSeries, enterFirst, enterShunt, enterShunted, enterStrike} {
		delete(w.drafts, kind)
	}
}

// leaveSourceOut goes on without the EMF having been measured.
func (w *work) leaveSourceOut() {
	st := w.state
	finishing := w.chosen && w.sourceDue()
	if st.LastKept() == 0 {
		w.skipped[0] = true
	} else {
		w.skipped[1] = true
	}
	w.tell("the EMF is left out", false)
	w.at = w.now()
	if finishing {
		w.choose(enterFinish, true)
		return
	}
	w.choose(w.proposed(), false)
}

func (w *work) unticked() int {
	n := 0
	for _, t := range w.ticks {
		if !t {
			n++
		}
	}
	return n
}

// copyTo copies the record to a folder.
func (w *work) copyTo(dir string) { w.tell(copied(dir, w.sitting.CopyTo, &w.field)) }

// copied copies a record to a folder and says what came of it; the field in
// which the folder is typed is empty once it is.
func copied(dir string, copyTo func(dir string) (string, error), typed *field) (said string, wrong bool) {
	if dir == "" {
		return "not copied; the record is safe where it is", false
	}
	path, err := copyTo(dir)
	if err != nil {
		return oneLine(err), true
	}
	typed.set("")
	return "copied to " + procedure.CleanText(path, maxEntry), false
}

// k1 reports whether K1 is closed: as the entry asks for it, unless the
// clearance says stop.
func (w *work) k1() bool {
	switch w.kind {
	case enterFirst, enterShunted:
	case enterKeep: // the first deflection is looked at once more
		if w.sense.next == nil || w.sense.next.Event != procedure.KindKeepRow {
			return false
		}
	default:
		return false
	}
	return w.counsel.Clearance == nil || w.counsel.Clearance.Verdict != safety.Stop
}

func (w *work) k2() bool { return w.kind == enterShunted && w.k1() }

func (w *work) unsaid() string {
	if text := strings.TrimSpace(w.field.text()); text != "" && w.entry().typed {
		return text
	}
	for _, e := range entries {
		if text := strings.TrimSpace(w.drafts[e.kind]); text != "" {
			return text
		}
	}
	return ""
}

// settles reports whether the entry is a setting, whose clearance is foreseen.
// While a reading is typed the clearance that stands is the one to see: a
// number that is not written down proves nothing.
func (w *work) settles() bool { return w.kind == enterSeries || w.kind == enterShunt }

// clearance is whether a key may be closed: of the entry where it would change
// it, else as it stands. Where the keys are to stay open there is none.
func (w *work) clearance() *safety.Clearance {
	switch {
	case w.state.Finished(), w.kind == enterFinish, w.kind == enterSource:
		return nil
	case w.ahead():
		return w.foreseen.Clearance
	}
	return w.counsel.Clearance
}

// ahead reports whether the clearance is that of a setting that is not made yet.
func (w *work) ahead() bool {
	return w.settles() && w.foreseen != nil && w.foreseen.Refused == nil && w.foreseen.Clearance != nil
}

// clearedAt names the setting that is not made yet for which the clearance is:
// what stands may not be clear at all. "" where it is of what stands.
func (w *work) clearedAt() string {
	if w.ahead() {
		switch b := w.meant.body.(type) {
		case procedure.SeriesSet:
			return " at " + ohms(b.Ohm)
		case procedure.ShuntSet:
			return " at " + ohms(b.Ohm)
		}
	}
	return ""
}

func (w *work) safety() string {
	c := w.clearance()
	if c == nil {
		return "keys open"
	}
	_, sign, word := w.theme.Verdict(c.Verdict)
	return fmt.Sprintf("%s %s %s%s", sign, c.Key, word, w.clearedAt())
}

func (w *work) keymap() []key.Binding {
	ks := w.keys
	switch w.open {
	case listSheet:
		return []key.Binding{named(ks.accept, "choose"), ks.move, ks.back, ks.help, ks.why}
	case noSheet:
	default:
		return []key.Binding{ks.back, named(ks.move, "more"), ks.help, ks.why, ks.graph, ks.behind, ks.pageUp, ks.pageDown}
	}
	more := [...]key.Binding{ks.graph, ks.behind, ks.strike, ks.zero, ks.note, ks.keep, ks.finish, ks.mouse, ks.redraw, ks.suspend, ks.leave}
	bs := make([]key.Binding, 0, 7+len(more))
	if w.kind == enterWired {
		bs = append(bs, ks.tick, ks.accept, ks.other, ks.help, ks.why, ks.move)
		return append(bs, more[:]...)
	}
	accept := ks.accept
	switch {
	case w.kind == enterBench:
		accept = named(accept, "open the form")
	case w.kind == enterCopy:
		accept = named(accept, "copy")
	case w.field.text() == "" && w.meant.body != nil:
		accept = named(accept, "take it")
	}
	bs = append(bs, accept, ks.other, ks.help, ks.why)
	if w.chosen || w.field.text() != "" {
		bs = append(bs, ks.back)
	}
	if w.kind == enterFirst || w.kind == enterShunted {
		bs = append(bs, ks.offScale)
	}
	return append(append(bs, more[:]...), named(ks.up, "earlier rows"))
}

// elapsed says how much of the time is used.
func (w *work) elapsed() string {
	if w.minutes <= 0 || len(w.events) == 0 {
		return ""
	}
	used := math.Floor(w.now().Sub(w.sitting.Header().Begun).Minutes())
	return fmt.Sprintf("%.0f of %d min", math.Max(used, 0), w.minutes)
}
