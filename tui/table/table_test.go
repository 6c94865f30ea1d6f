package table

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"unicode"

	"example.org/halve/physics/apparatus"
	"example.org/halve/procedure"
)

// bench is an invented bench: a 30-0-30 galvanometer, a plug box of 11 110 ohm
// and one of 1 110 ohm.
func bench(t testing.TB) *procedure.State {
	t.Helper()
	s := new(procedure.State)
	b := procedure.Bench{Bench: apparatus.Bench{
		Source:       apparatus.Source{EMF: 1.5},
		Galvanometer: apparatus.Galvanometer{Divisions: 30, Zero: apparatus.CentreZero, Resolution: 0.5},
		SeriesBox:    apparatus.Box{Kind: apparatus.Plug, Coils: apparatus.PlugSet(1, 10, 100, 1000), Tolerance: 0.001},
		ShuntBox:     apparatus.Box{Kind: apparatus.Plug, Coils: apparatus.PlugSet(1, 10, 100), Tolerance: 0.001},
	}}
	if err := s.Apply(procedure.Event{Seq: 1, Body: b}); err != nil {
		t.Fatal(err)
	}
	return s
}

// taken is what a table comes to, an event a word.
func taken(t testing.TB, data string) (string, error) {
	t.Helper()
	table, err := Read("rows.csv", []byte(data))
	if err != nil {
		return "", err
	}
	bodies, err := table.Events(bench(t), nil)
	if err != nil {
		return "", err
	}
	var words []string
	for _, b := range bodies {
		switch b := b.(type) {
		case procedure.Note:
		case procedure.Wired:
			words = append(words, "wired")
		case procedure.SeriesSet:
			words = append(words, fmt.Sprintf("R%g%s", b.Ohm, plugs(b.TakeOut)))
		case procedure.ShuntSet:
			words = append(words, fmt.Sprintf("S%g%s", b.Ohm, plugs(b.TakeOut)))
		case procedure.FirstRead:
			words = append(words, "first"+reading(b.Div, b.OffScale))
		case procedure.ShuntedRead:
			words = append(words, "shunted"+reading(b.Div, b.OffScale))
		case procedure.RowKept:
			words = append(words, "keep")
		case procedure.Strike:
			words = append(words, fmt.Sprintf("strike%d(%s)", b.Event, b.Why))
		case procedure.Claim:
			words = append(words, fmt.Sprintf("%s%d=%s", b.Quantity, b.Row, b.Value.Text))
		default:
			t.Fatalf("a table holds no %T", b)
		}
	}
	return strings.Join(words, " "), nil
}

func plugs(out []float64) string {
	if out == nil {
		return ""
	}
	return fmt.Sprint(out)
}

func reading(div *float64, off bool) string {
	if off {
		return "off"
	}
	return fmt.Sprint(*div)
}

const two = "wired R3000 first24 S90 shunted12 keep R2770 first26 S85 shunted12.5 keep"

func TestTaken(t *testing.T) {
	for _, tt := range []struct{ name, data, want string }{
		{"as it is", "series,first,shunt,shunted\n3000,24,90,12\n2770,26,85,12.5\n", two},
		{"in another order, with others", "row,shunted,shunt,remark,first,series\n1,12,90,good,24,3000\n2,12.5,85,,26,2770\n", two},
		{"units in the head", "Series (kΩ), First [div], Shunt / ohm, shunted_div\n3,24,90,12\n2.77,26,85,12.5\n", two},
		{"units behind the name", "series in kohm,first,shunt ohm,shunted\n3,24,90,12\n2.77,26,85,12.5\n", two},
		{"usual words in the head", "series box (ohm),first deflection,shunt resistance (ohm),shunted reading\n3000,24,90,12\n2770,26,85,12.5\n", two},
		{"units in the cells", "series,first,shunt,shunted\n3k,24 div,90 ohm,12\n2k77,26,85R,12 1/2\n", two},
		{"a unit in a cell before that of the head", "series (kΩ),first,shunt,shunted\n3000 ohm,24,90,12\n2.77,26,85,12.5\n", two},
		{"decimal commas", "series;first;shunt;shunted\n3000;24,0;90;12\n2770;26;85,0;12,5\n", two},
		{"three decimals behind a comma", "series;first;shunt;shunted\n3000,000;24;90;12\n2770;26;85;12,500\n", two},
		{"decimal commas in quotes", "series,first,shunt,shunted\n3000,\"24,0\",90,12\n2770,26,85,\"12,5\"\n", two},
		{"decimal comma with a unit", "series (kΩ);first;shunt;shunted\n3;24;90;12\n2,77;26;85;12,5 div\n", two},
		{"tabs", "series\tfirst\tshunt\tshunted\n3000\t24\t90\t12\n2770\t26\t85\t12,5\n", two},
		{"byte order mark, other line ends, quotes, blanks", "\ufeff\"series\", \"first\",shunt,shunted\r\n\r\n\"3000\", 24,\"90\",12\r\n,,,\r\n2770,26,85,12.5,\r\n", two},
		{"a title above the head", "Group 4\n\nGalvanometer;7;;\nseries;first;shunt;shunted\n3000;24;90;12\n2770;26;85;12.5\n", two},
		{"older spreadsheets' letters", "series (\xb5\xb5),first,shunt,shunted\n", "error"},
		{"older spreadsheets' letters in a remark", "series,first,shunt,shunted,remark\n3000,24,90,12,sch\xf6n\n2770,26,85,12.5,\n", two},
		{"plugs", "series,first,shunt,shunted\n2000+1000,24,50+20+20,12\n", "wired R3000[2000 1000] first24 S90[50 20 20] shunted12 keep"},
		{"no series value again", "series,first,shunt,shunted\n3000,24,90,12\n,,110,13.5\n", "wired R3000 first24 S90 shunted12 keep S110 shunted13.5 keep"},
		{"the shunt stays", "series,first,shunt,shunted\n3000,24,90,12\n2770,26,,13\n", "wired R3000 first24 S90 shunted12 keep R2770 first26 shunted13 keep"},
		{"trials", "series,first,shunt,shunted\n11110,6.5,,\n3000,24,100,\n,,90,12\n", "wired R11110 first6.5 R3000 first24 S100 S90 shunted12 keep"},
		{"off the scale", "series,first,shunt,shunted\n1000,off,,\n3000,24,90,12\n", "wired R1000 firstoff R3000 first24 S90 shunted12 keep"},
		{"on the left", "series,first,shunt,shunted\n3000,-24,90,−12\n", "wired R3000 first-24 S90 shunted-12 keep"},
		{"a cell put right", "series,first,shunt,shunted\n3000,~~42~~ 24,90,12\n", "error"},
		{"a reading put right", "series,first,shunt,shunted\n3000,~~23~~ 24,90,~~21~~12\n", "wired R3000 first23 strike5(struck out in the table) first24 S90 shunted21 strike9(struck out in the table) shunted12 keep"},
		{"a setting put right", "series,first,shunt,shunted\n~~2000~~3000,24,90,12\n", "wired R2000 strike4(struck out in the table) R3000 first24 S90 shunted12 keep"},
		{"a row struck out", "series,first,shunt,shunted\n~~3000~~,~~24~~,~~90~~,~~12~~\n2770,26,85,12.5\n",
			"wired R3000 first24 S90 shunted12 keep strike7(struck out in the table) strike5(struck out in the table) R2770 first26 S85 shunted12.5 keep"},
		{"a row struck through", "series,first,shunt,shunted\n3\u03360\u03360\u03360\u0336,2\u03364\u0336,9\u03360\u0336,1\u03362\u0336\n",
			"wired R3000 first24 S90 shunted12 keep strike7(struck out in the table) strike5(struck out in the table)"},
		{"a column for it", "series,first,shunt,shunted,struck\n3000,24,90,12,needle stuck\n2770,26,85,12.5,no\n2770,26,85,12.5,x\n",
			"wired R3000 first24 S90 shunted12 keep strike7(needle stuck) strike5(needle stuck) R2770 first26 S85 shunted12.5 keep R2770 first26 S85 shunted12.5 keep strike19(struck out in the table) strike17(struck out in the table)"},
		{"nothing, struck out", "series,first,shunt,shunted\n~~~~,~~ ~~\n3000,24,90,12~~~~\n", "wired R3000 first24 S90 shunted12 keep"},
		{"own values", "series,first,shunt,shunted,resistance,merit (uA/div)\n3000,24,90,12,92.8,20.2\n2770,26,85,12.5,,\n",
			"wired R3000 first24 S90 shunted12 keep resistance1=92.8 merit1=20.2 uA/div R2770 first26 S85 shunted12.5 keep"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, err := taken(t, tt.data)
			if tt.want == "error" {
				if err == nil {
					t.Errorf("taken as %s", got)
				}
				return
			}
			if err != nil || got != tt.want {
				t.Errorf("%q\n got %s, %v\nwant %s", tt.data, got, err, tt.want)
			}
		})
	}
}

// What cannot be taken is answered with its place, in one line.
func TestRefused(t *testing.T) {
	const head = "series,first,shunt,shunted\n"
	for _, tt := range []struct{ name, data, want string }{
		{"nothing", "", "there is no head"},
		{"only a head", head, "line 1: there is no row below the head"},
		{"no head", "3000,24,90,12\n", "there is no head: a line with the columns series, first, shunt, shunted is expected"},
		{"a head too far down", strings.Repeat("x\n", 30) + head + "3000,24,90,12\n", "there is no head"},
		{"a column missing", "series,first,shunt\n3000,24,90\n", "line 1: the head has no column shunted"},
		{"a column twice", "series,first,series (ohm),shunt,shunted\n", "line 1, column 3, series: this column stands twice"},
		{"a unit that does not belong", "series (V),first,shunt,shunted\n", `line 1, column 1, series: the unit "V" does not belong here`},
		{"a bad number", head + "3000,24,90,12\n2770,twenty,85,12\n", `line 3, column 2, first: "twenty" does not begin with a number`},
		{"a bad unit", head + "3000,24,90 V,12\n", "line 2, column 3, shunt: "},
		{"a negative resistance", head + "-3000,24,90,12\n", "line 2, column 1, series: "},
		{"a value the box cannot make", head + "3000.5,24,90,12\n", "line 2, column 1, series: the series box cannot make"},
		{"plugs the box has not", head + "3000,24,90+90,12\n", "line 2, column 3, shunt: shunt box: the box has no plug of 90 ohm left"},
		{"a reading beyond the scale", head + "3000,24,90,12\n2000,34,90,12\n", "line 3, column 2, first: the scale ends at 30"},
		{"no first deflection", head + "3000,,90,12\n", "line 2, column 4, shunted: there is no first deflection at this series value"},
		{"no first deflection but a struck one", head + "3000,~~24~~,90,12\n", "line 2, column 4, shunted: there is no first deflection"},
		{"nothing above to go on from", head + ",,90,12\n", "line 2, column 4, shunted: there is no first deflection"},
		{"no series value at all", head + ",24,90,12\n", "line 2, column 2, first: no reading before the series box is set"},
		{"no shunt at all", head + "3000,24,,12\n", "line 2, column 4, shunted: no shunted reading before the shunt box is set"},
		{"a row after one that is struck out", "series,first,shunt,shunted,struck\n3000,24,90,12,x\n,,110,13\n", "line 3, column 4, shunted: there is no first deflection"},
		{"the same shunt again", head + "3000,24,90,12\n,,,12\n", "line 3, column 4, shunted: these readings are row 1 already"},
		{"decimal commas parted by commas", head + "3000,24,5,90,12,0\n", "line 2: there are 6 cells where the head has 4: if commas are decimal marks, part the cells by semicolons"},
		{"a thousands mark", head + "\"3,000\",24,90,12\n", `line 2, column 1, series: "3,000" can be read as`},
		{"a thousands point", "series;first;shunt;shunted\n3.000;24,5;90;12\n", `line 2, column 1, series: "3.000" can be read with its point`},
		{"a quote left open", head + "3000,24,90,12\n\"2770,26,85,12\n", "line 3: "},
		{"a quote in the middle", head + "30\"00,24,90,12\n", "line 2: "},
		{"another encoding", "\xff\xfes\x00e\x00r\x00", "save the table as CSV"},
		{"a binary file", "\x7fELF\x00\x00", "save the table as CSV"},
		{"far too large", strings.Repeat(" ", MaxSize+1), "larger than"},
		{"far too many rows", head + strings.Repeat("3000,24,90,12\n", maxRows+1), "there are more than 200 rows"},
		{"a value without its row", "series,first,shunt,shunted,resistance\n3000,24,,,90\n", "line 2, column 5, resistance: there is no row"},
		{"a value that is none", "series,first,shunt,shunted,resistance\n3000,24,90,12,about 90\n", "line 2, column 5, resistance: "},
		{"escape sequences", head + "3000,\x1b[2J\u202etwenty\x07,90,12\n", `line 2, column 2, first: "twenty"`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, err := taken(t, tt.data)
			if err == nil {
				t.Fatalf("taken as %s", got)
			}
			if msg := err.Error(); !strings.Contains(msg, tt.want) || strings.ContainsFunc(msg, unicode.IsControl) {
				t.Errorf("got %q, want one line with %q", msg, tt.want)
			}
		})
	}
}

// A table is taken over into a record without readings, at a bench.
func TestWhereTo(t *testing.T) {
	table, err := Read("rows.csv", []byte("series,first,shunt,shunted\n3000,24,90,12\n"))
	if err != nil || len(table.rows) != 1 {
		t.Fatal(table, err)
	}
	if _, err := table.Events(new(procedure.State), nil); err == nil || !strings.Contains(err.Error(), "needs the bench") {
		t.Errorf("without a bench: %v", err)
	}
	set := []procedure.Event{{Seq: 2, Body: procedure.SeriesSet{Ohm: 3000}}}
	if _, err := table.Events(bench(t), set); err == nil || !strings.Contains(err.Error(), "without any") {
		t.Errorf("beside readings: %v", err)
	}
	s := bench(t)
	if err := s.Apply(procedure.Event{Seq: 2, Body: procedure.Finish{}}); err != nil {
		t.Fatal(err)
	}
	if _, err := table.Events(s, nil); err == nil || !strings.Contains(err.Error(), "finished") {
		t.Errorf("into a finished record: %v", err)
	}
	s = bench(t)
	if err := s.Apply(procedure.Event{Seq: 2, Body: procedure.Wired{}}); err != nil {
		t.Fatal(err)
	}
	bodies, err := table.Events(s, nil)
	if err != nil || len(bodies) != 6 || bodies[0] != (procedure.Note{Text: "Taken over from a table written before, rows.csv: 1 rows"}) {
		t.Errorf("a circuit that is checked is not checked again: %v, %+v", err, bodies)
	}
	if s.Seq() != 2 {
		t.Error("asking changed the state")
	}
}

// FuzzRead: whatever the file, one clear line, or events that can all be taken.
func FuzzRead(f *testing.F) {
	for _, seed := range []string{
		"series,first,shunt,shunted\n3000,24,90,12\n",
		"\ufeffseries (kΩ);first;shunt;shunted;struck\n3,0;~~23~~24;90;12;x\n;;110;13,5;\n",
		"series\tfirst\tshunt\tshunted\tresistance\n2000+1000\toff\t\t\t\n\t-24\t90\t-12\t90.5\n",
		"series,first,shunt,shunted\n\"30\n00\",2\u03364\u0336,90,12,,\n",
		"a\n\"series\",first,shunt,shunted\n1e3,.5,0,~~~~\n",
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		clear := func(err error) {
			if msg := err.Error(); msg == "" || strings.ContainsFunc(msg, unicode.IsControl) {
				t.Fatalf("%q: not one clear line: %q", data, msg)
			}
		}
		table, err := Read("rows.csv", data)
		if err != nil {
			clear(err)
			return
		}
		s := bench(t)
		bodies, err := table.Events(s, nil)
		if err != nil {
			var where *Error
			if !errors.As(err, &where) || where.Line < 1 || where.Column < 0 {
				t.Fatalf("%q: %v names no place", data, err)
			}
			clear(err)
			return
		}
		for _, b := range bodies {
			if err := s.Apply(procedure.Event{Seq: s.Seq() + 1, Body: b}); err != nil {
				t.Fatalf("%q: %+v was promised and is refused: %v", data, b, err)
			}
		}
	})
}
