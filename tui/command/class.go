package command

import (
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"os/signal"
	"strings"
	"sync"
	"text/tabwriter"
	"time"

	"github.com/charmbracelet/x/term"

	"example.org/halve/physics/pooling"
	"example.org/halve/physics/quantity"
	"example.org/halve/procedure"
	"example.org/halve/procedure/class"
	"example.org/halve/procedure/report"
	"example.org/halve/procedure/report/document"
	"example.org/halve/tui/draw"
)

// Class takes the records of a folder together.
type Class struct {
	JSON, Anonymous, Watch bool
	Paper                  // html or csv
	ASCII                  bool
	Theme                  string
}

// Run reads every record below dir and prints what the class comes to.
func (c Class) Run(ctx context.Context, d Desk, dir string) error {
	to, err := c.check(d)
	if err != nil {
		return err
	}
	if c.Watch {
		return c.watch(ctx, d, dir)
	}
	if to == "html" && c.Out == "" && d.Terminal {
		return callError("html is not for a terminal: add --out FILE")
	}
	// The first Ctrl+C ends the reading, and what is done is told; a second one
	// ends the program.
	reading, stop := signal.NotifyContext(ctx, os.Interrupt)
	defer stop()
	go func() {
		<-reading.Done()
		stop()
	}()
	bar := newBar(d)
	found, err := class.Read(reading, dir, class.Options{Progress: bar.tell})
	bar.clear()
	stop()
	if err != nil {
		return err
	}
	found.Anonymous = c.Anonymous
	switch to {
	case "csv":
		err = c.write(d, false, "", func(w io.Writer) error { return report.ClassCSV(w, found) })
	case "html":
		err = c.write(d, false, "", func(w io.Writer) error { return document.HTML(w, report.MakeClass(found)) })
	case "json":
		err = found.WriteJSON(d.Out)
	default:
		t := text{w: d.Out}
		t.class(found)
		err = t.err
	}
	if err == nil && found.Stopped {
		return fmt.Errorf("stopped before all was read: this is of %d records and %d other files", len(found.Records), len(found.Unreadable))
	}
	return err
}

// check settles how the class is to be told.
func (c Class) check(d Desk) (to string, err error) {
	told := 0
	for _, on := range []bool{c.JSON, c.To != "" || c.Out != "", c.Watch} {
		if on {
			told++
		}
	}
	if told > 1 {
		return "", callError("--json, --to (or --out) and --watch exclude each other")
	}
	if c.Theme != "" && c.Theme != "light" && c.Theme != "dark" {
		return "", callError("--theme is light or dark, not %q", procedure.CleanText(c.Theme, maxWord))
	}
	if c.Watch && !d.Terminal {
		return "", callError("--watch draws on a terminal, and there is none here: leave it out for a table")
	}
	if c.JSON {
		return "json", nil
	}
	return c.format([]string{"html", "csv"}, "")
}

// bar is a line on standard error that says how far the reading has come; on
// anything but a terminal it says nothing.
type bar struct {
	w   *os.File // nil for none
	now func() time.Time

	mu   sync.Mutex
	last time.Time
	on   bool
}

func newBar(d Desk) *bar {
	b := &bar{now: d.Now}
	if f, ok := d.Err.(*os.File); ok && term.IsTerminal(f.Fd()) && os.Getenv("TERM") != "dumb" {
		b.w, b.last = f, d.Now()
	}
	return b
}

// barEvery is how often the line is drawn, and how long it waits at first.
const barEvery = 150 * time.Millisecond

func (b *bar) tell(stage class.Stage, done, of int) {
	if b.w == nil {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	now := b.now()
	if now.Sub(b.last) < barEvery {
		return
	}
	b.last, b.on = now, true
	width, _, err := term.GetSize(b.w.Fd())
	if err != nil || width < 1 {
		width = 80
	}
	line := fmt.Sprintf("%-9s %d so far", stage, done)
	if of > 0 {
		line = fmt.Sprintf("%-9s %d of %d", stage, done, of)
		if cells := min(30, width-len(line)-4); cells > 4 {
			full := cells * done / of
			line = fmt.Sprintf("%-9s [%s%s] %d of %d", stage, strings.Repeat("=", full), strings.Repeat(" ", cells-full), done, of)
		}
	}
	line = draw.Cut(line, width-1, "") // what went on below could not be taken away
	fmt.Fprint(b.w, "\r\x1b[K", line)
}

func (b *bar) clear() {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.on {
		io.WriteString(b.w, "\r\x1b[K")
		b.on = false
	}
}

// The most that is printed of each list; --json and --to csv have all.
const (
	mostRecords = 200
	mostStrays  = 20
	mostListed  = 60
	mostNamed   = 3
)

// class prints the class as tables, what needs attention first.
func (t *text) class(c *class.Class) {
	back, finished, copies := 0, 0, 0
	for _, s := range c.Records {
		if s.SendBack() {
			back++
		}
		switch s.Shown() {
		case class.Finished:
			finished++
		case class.Duplicate:
			copies++
		}
	}
	head := fmt.Sprintf("%s: %d finished", counted(len(c.Records), "record"), finished)
	if copies > 0 {
		head += fmt.Sprintf(", %d copies of others", copies)
	}
	t.wrapped("", "%s. To send back: %d. Files that are no record: %d.", head, back, len(c.Unreadable))
	if len(c.Records) == 0 {
		t.strays(c)
		return
	}
	if back > 0 {
		t.line("")
		t.line("To send back")
		said := 0
		for _, s := range c.Records {
			if !s.SendBack() {
				continue
			}
			if said++; said > mostListed {
				t.line("  and %d more: --json or --to csv has all", back-mostListed)
				break
			}
			t.wrapped("  ", "%s: %s", c.Called(s), c.Because(s))
		}
	}
	t.line("")
	t.records(c)
	t.line("")
	t.pooled(c)
	for i := range c.Instruments {
		for _, r := range c.Instruments[i].Remarks {
			t.wrapped("  ", "%s: %s", c.Instruments[i].Label, r)
		}
	}
	t.cells(c)
	t.counts("Findings named first", c.Findings, c.Examined)
	t.counts("Slips in hand calculations", c.Slips, c.Examined)
	t.presence(c)
	t.strays(c)
}

func counted(n int, of string) string {
	if n == 1 {
		return "1 " + of
	}
	return fmt.Sprintf("%d %ss", n, of)
}

// wrapped writes a text in lines of a card's width, those after the first
// further in.
func (t *text) wrapped(margin, format string, a ...any) {
	words := procedure.CleanText(fmt.Sprintf(format, a...), 4000)
	for i, l := range draw.Wrap(words, cardWidth-len(margin)-2) {
		if i > 0 {
			l = "  " + l
		}
		t.line("%s%s", margin, l)
	}
}

// columns writes rows of cells as a table, the first column flush left.
func (t *text) columns(rows [][]string) {
	var s strings.Builder
	w := tabwriter.NewWriter(&s, 0, 0, 2, ' ', 0)
	for _, r := range rows {
		fmt.Fprintln(w, strings.Join(r, "\t"))
	}
	w.Flush()
	for _, l := range strings.Split(strings.TrimRight(s.String(), "\n"), "\n") {
		t.line("%s", strings.TrimRight(l, " "))
	}
}

// room is what is left for one column of a table on a card's width.
func room(rows [][]string, column int) int {
	widest := map[int]int{}
	for _, r := range rows {
		for i, cell := range r {
			widest[i] = max(widest[i], draw.Width(cell))
		}
	}
	left := cardWidth
	for i, w := range widest {
		if i != column {
			left -= w + 2
		}
	}
	return left
}

// decade is the power of ten in which k is told, with its unit: that of the
// middle of the records.
func decade(c *class.Class) (scale float64, name string) {
	var ks []float64
	for _, s := range c.Records {
		if s.UK > 0 && s.K > 0 {
			ks = append(ks, s.K)
		}
	}
	scale = 1
	if k := pooling.Median(ks); k > 0 {
		scale = math.Pow(10, math.Floor(math.Log10(k)))
	}
	return scale, strings.TrimPrefix(quantity.Powers.Format(scale, quantity.AmperePerDivision, 1), "1 × ")
}

func (t *text) records(c *class.Class) {
	scale, unit := decade(c)
	const name = 1 // the column that gives way
	rows := [][]string{{"pair", "record", "instrument", "rows", "G, Ω", "k, " + unit, "E_n", ""}}
	for i, s := range c.Records {
		if i == mostRecords {
			break
		}
		pair, instrument, state := fmt.Sprint(s.Pair()), "-", ""
		if s.SendBack() {
			pair += " !"
		}
		if in := c.InstrumentOf(s); in != nil {
			instrument = draw.Cut(in.Label, 10, "…")
		}
		if s.Shown() != class.Finished {
			state = string(s.Shown())
		}
		rows = append(rows, []string{pair, lastOf(c.Name(s)), instrument, fmt.Sprint(s.Rows),
			among(s.G, s.UG, 1), among(s.K, s.UK, scale), figureOf(s.NormalisedError(), "%+.2f"), state})
	}
	left := max(4, room(rows, name))
	for _, r := range rows {
		r[name] = draw.Cut(r[name], left, "…")
	}
	t.columns(rows)
	if n := len(c.Records) - mostRecords; n > 0 {
		t.line("and %d more: --json or --to csv has all", n)
	}
	t.wrapped("", "! is to be sent back. ± is one standard uncertainty. E_n, the normalised error, compares with the others at the instrument: from -1 to 1 they agree.")
}

// lastOf is a file's name without its folder.
func lastOf(name string) string { return name[strings.LastIndexByte(name, '/')+1:] }

// among is a value with its standard uncertainty as it stands in a column that
// has the unit at its head; a dash where it is not known.
func among(v, u, scale float64) string {
	if !(u > 0) {
		return "-"
	}
	return quantity.Style(0).Measured(quantity.Measured{Value: v / scale, U: u / scale, Unit: quantity.Number})
}

func figureOf(v float64, format string) string {
	if v != v {
		return "-"
	}
	return fmt.Sprintf(format, v)
}

func (t *text) pooled(c *class.Class) {
	scale, unit := decade(c)
	head := []string{"instrument", "pairs", "G, Ω", "k, " + unit, "between", "Birge", "outlying"}
	last := len(head) - 1
	rows := [][]string{head}
	for i := range c.Instruments {
		if i == mostListed {
			break
		}
		in := &c.Instruments[i]
		between, birge := "-", "-"
		if in.Pairs > 1 {
			between = quantity.Format(in.G.Between, quantity.Number, 2)
			birge = fmt.Sprintf("%.1f %.1f", in.G.Birge, in.K.Birge)
		}
		rows = append(rows, []string{draw.Cut(in.Label, 15, "…"), fmt.Sprint(in.Pairs),
			among(in.G.Value.X, in.G.Value.U, 1), among(in.K.Value.X, in.K.Value.U, scale), between, birge, c.Outlying(in)})
	}
	left := max(8, room(rows, last))
	var lines [][]string
	for _, r := range rows {
		for i, part := range draw.Wrap(r[last], left) {
			if i > 0 {
				r = make([]string, len(head))
			}
			r[last] = part
			lines = append(lines, r)
		}
	}
	t.columns(lines)
	if n := len(c.Instruments) - mostListed; n > 0 {
		t.line("and %d more: --json has all", n)
	}
	t.wrapped("", "G and k: random-effects mean of the pairs that agree. Between: what lies between pairs in G, Ω. Birge: the ratio for G and for k. Outlying: f by forward search, g by Grubbs' test at 5 %%.")
}

func (t *text) cells(c *class.Class) {
	said := false
	for i := range c.Cells {
		cell := &c.Cells[i]
		if !cell.Ailing {
			continue
		}
		if !said {
			t.line("")
			t.line("Cells that need a look")
			said = true
		}
		t.wrapped("  ", "%s: %s", cell.Label, cell.Because)
	}
}

func (t *text) counts(title string, of []class.Count, examined int) {
	if len(of) == 0 {
		return
	}
	var parts []string
	for i, n := range of {
		if i == 8 {
			parts = append(parts, "…")
			break
		}
		parts = append(parts, fmt.Sprintf("%s %d", n.ID, n.N))
	}
	t.line("")
	t.wrapped("", "%s, in %s examined: %s.", title, counted(examined, "record"), strings.Join(parts, ", "))
}

// presence is the list of what stands in each record.
func (t *text) presence(c *class.Class) {
	t.line("")
	t.wrapped("", "What stands in each record (+ there, - not, . not asked for); it is no mark")
	for n, i := range class.Items() {
		t.line("  %c %s", 'a'+n, i.Name)
	}
	head := []string{"pair"}
	for n := range class.Items() {
		head = append(head, string(rune('a'+n)))
	}
	rows := [][]string{head}
	for _, s := range c.Sorted() {
		if s.Shown() == class.Duplicate {
			continue
		}
		if len(rows) > mostRecords {
			rows = append(rows, []string{"…"})
			break
		}
		row := []string{fmt.Sprint(s.Pair())}
		for _, i := range class.Items() {
			switch {
			case !s.Asked(i):
				row = append(row, ".")
			case s.Has&i.Bit != 0:
				row = append(row, "+")
			default:
				row = append(row, "-")
			}
		}
		rows = append(rows, row)
	}
	t.columns(rows)
}

// strays names what is no record, what has the same against it together.
func (t *text) strays(c *class.Class) {
	if len(c.Unreadable) == 0 {
		return
	}
	files := map[string][]string{}
	var reasons []string
	for i, u := range c.Unreadable {
		if files[u.Because] == nil {
			reasons = append(reasons, u.Because)
		}
		files[u.Because] = append(files[u.Because], draw.Cut(c.Stray(i), cardWidth/2, "…"))
	}
	t.line("")
	t.line("Not read")
	for i, because := range reasons {
		if i == mostStrays {
			t.line("  and for %d more reasons: --json has all", len(reasons)-mostStrays)
			break
		}
		names := files[because]
		if n := len(names) - mostNamed; n > 1 {
			names = append(names[:mostNamed], fmt.Sprintf("%d more", n))
		}
		t.wrapped("  ", "%s: %s", strings.Join(names, ", "), because)
	}
}
