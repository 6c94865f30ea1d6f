package theme

import (
	"reflect"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/charmbracelet/x/ansi"
	"github.com/muesli/termenv"

	"example.org/halve/safety"
)

// Each sign is one cell wide and no emoji, and those for ASCII are ASCII.
func TestSigns(t *testing.T) {
	for name, signs := range map[string]Signs{"drawn": Drawn(), "older": Older(), "ascii": ASCII()} {
		eachSign(reflect.ValueOf(signs), name, func(what, sign string) {
			if utf8.RuneCountInString(sign) != 1 || ansi.StringWidth(sign) != 1 {
				t.Errorf("%s %q is %d runes and %d cells, want one of each", what, sign, utf8.RuneCountInString(sign), ansi.StringWidth(sign))
			}
			if name == "ascii" && (sign < " " || sign > "~") {
				t.Errorf("%s is %q", what, sign)
			}
		})
	}
}

// eachSign hands out every sign with its name.
func eachSign(v reflect.Value, name string, f func(what, sign string)) {
	for i := range v.NumField() {
		what := name + " " + v.Type().Field(i).Name
		switch field := v.Field(i); field.Kind() {
		case reflect.String:
			f(what, field.String())
		case reflect.Struct:
			eachSign(field, what, f)
		}
	}
}

// What must be told apart without colours is drawn with different signs.
func TestSignsDiffer(t *testing.T) {
	for name, s := range map[string]Signs{"drawn": Drawn(), "older": Older(), "ascii": ASCII()} {
		for what, signs := range map[string][]string{
			"wires across":     {s.Idle.Across, s.Live.Across, s.Next.Across},
			"wires down":       {s.Idle.Down, s.Live.Down, s.Next.Down},
			"keys":             {s.Lever, s.LeverUp, s.Press},
			"marks of a scale": {s.MarkSmall, s.MarkLarge, s.MarkZero, s.StopLeft, s.StopRight},
			"what is shown":    {s.Band, s.Needle, s.Wanted},
			"points":           {s.Kept, s.Other, s.Crossed, s.Edge},
			"plates":           {s.CellLong, s.CellShort},
		} {
			seen := map[string]bool{}
			for _, sign := range signs {
				if seen[sign] {
					t.Errorf("%s, %s: %q stands for two", name, what, sign)
				}
				seen[sign] = true
			}
		}
	}
}

func TestSay(t *testing.T) {
	text := "θ1 = (1.877 ± 0.015) × 10⁻⁵ A/div, 4\u00a0700 Ω, 18 µA, 20 °C, \u03a9 日"
	if got := Drawn().Say(text); got != text {
		t.Errorf("the drawn signs changed the text to %q", got)
	}
	want := "th1 = (1.877 +/- 0.015) x 10-5 A/div, 4 700 ohm, 18 uA, 20 deg C, ohm ?"
	if got := ASCII().Say(text); got != want {
		t.Errorf("in ASCII %q, want %q", got, want)
	}
}

// Each verdict has a word and a sign of its own, whatever the colours.
func TestVerdict(t *testing.T) {
	th := New(Auto, termenv.Ascii, false)
	seen := map[string]bool{}
	for _, v := range []safety.Verdict{safety.Clear, safety.Tap, safety.Stop} {
		_, sign, word := th.Verdict(v)
		if seen[sign] || seen[word] {
			t.Errorf("%s is told by %q %q, which is taken", v, sign, word)
		}
		seen[sign], seen[word] = true, true
	}
	if _, _, word := th.Verdict("unheard of"); word != "STOP" {
		t.Errorf("an unknown verdict is told as %q, want STOP", word)
	}
}

// Without colours nothing but the text comes out.
func TestNoColour(t *testing.T) {
	th := New(Dark, termenv.Ascii, false)
	if got := th.Stop.Render("STOP"); got != "STOP" {
		t.Errorf("rendered %q", got)
	}
}

func TestUTF8Locale(t *testing.T) {
	for _, tt := range []struct {
		environ string
		unset   bool
		want    bool
	}{
		{"", false, false},
		{"", true, true},
		{"LANG=en_GB.UTF-8", false, true},
		{"LANG=en_GB.utf8", false, true},
		{"LANG=C", true, false},
		{"LANG=en_GB.UTF-8 LC_ALL=C", true, false},
		{"LANG=C LC_CTYPE=C.UTF-8", false, true},
		{"LC_ALL= LANG=C.UTF-8", false, true},
	} {
		if got := UTF8Locale(strings.Fields(tt.environ), tt.unset); got != tt.want {
			t.Errorf("UTF8Locale(%q, %v) = %v, want %v", tt.environ, tt.unset, got, tt.want)
		}
	}
}

// The signs for older fonts are in WGL4, apart from letters. The list of its
// drawing signs is from memory.
func TestOlderSigns(t *testing.T) {
	const list = "─│┌┐└┘├┤┬┴┼═║╒╓╔╕╖╗╘╙╚╛╜╝╞╟╠╡╢╣╤╥╦╧╨╩╪╫╬▀▄█▌▐░▒▓■□▪▫▬▲►▼◄◊○●◘◙◦←↑→↓↔↕…‹›·×"
	eachSign(reflect.ValueOf(Older()), "older", func(what, sign string) {
		if sign > "~" && !strings.Contains(list, sign) {
			t.Errorf("%s is %q, which is not in WGL4", what, sign)
		}
	})
}

func TestOlderConsole(t *testing.T) {
	for _, tt := range []struct {
		goos, environ string
		want          bool
	}{
		{"linux", "TERM=linux", true},
		{"linux", "TERM=xterm-256color", false},
		{"linux", "", false},
		{"darwin", "TERM=xterm-256color TERM_PROGRAM=x", false},
		{"windows", "PATH=x", true},
		{"windows", "WT_SESSION=1", false},
		{"windows", "TERM=xterm-256color", false},
	} {
		if got := OlderConsole(tt.goos, strings.Fields(tt.environ)); got != tt.want {
			t.Errorf("OlderConsole(%s, %q) = %v, want %v", tt.goos, tt.environ, got, tt.want)
		}
	}
}
