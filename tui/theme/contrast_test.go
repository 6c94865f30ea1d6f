package theme

import (
	"fmt"
	"math"
	"reflect"
	"strconv"
	"testing"

	"github.com/charmbracelet/lipgloss"
	"github.com/muesli/termenv"
)

// luminance is the relative luminance of a colour #RRGGBB (WCAG 2.2,
// "relative luminance").
func luminance(t *testing.T, colour string) float64 {
	t.Helper()
	if len(colour) != 7 || colour[0] != '#' {
		t.Fatalf("%q is no colour #RRGGBB", colour)
	}
	sum := 0.0
	for i, weight := range [3]float64{0.2126, 0.7152, 0.0722} {
		v, err := strconv.ParseUint(colour[1+2*i:3+2*i], 16, 8)
		if err != nil {
			t.Fatal(err)
		}
		c := float64(v) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += weight * c
	}
	return sum
}

// contrast is the contrast ratio of two colours (WCAG 2.2, "contrast ratio").
func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	la, lb := luminance(t, a), luminance(t, b)
	return (math.Max(la, lb) + 0.05) / (math.Min(la, lb) + 0.05)
}

// The ratios of black on white and of the grey #777777 on white are those of
// WCAG's own notes: 21 and 4.48.
func TestContrastItself(t *testing.T) {
	for _, tt := range []struct {
		a, b string
		want float64
	}{{"#000000", "#FFFFFF", 21}, {"#777777", "#FFFFFF", 4.48}, {"#123456", "#123456", 1}} {
		if got := contrast(t, tt.a, tt.b); math.Abs(got-tt.want) > 0.005 {
			t.Errorf("contrast(%s, %s) = %.3f, want %.2f", tt.a, tt.b, got, tt.want)
		}
	}
}

// backgrounds are those that a theme must be readable on: black and white, and
// the greys and tints that terminals come with.
var backgrounds = map[string][]string{
	Dark:  {"#000000", "#1E1E1E", "#0C0C0C", "#300A24", "#282C34", "#002B36"},
	Light: {"#FFFFFF", "#FAFAFA", "#F5F5F5", "#FDF6E3"},
}

// Every foreground on every background meets WCAG 2.2 AA for text of any size,
// 4.5:1. A style without a background of its own stands on the terminal's, one
// without a foreground is in the terminal's own.
func TestContrast(t *testing.T) {
	for name, grounds := range backgrounds {
		th := New(name, termenv.TrueColor, false)
		v := reflect.ValueOf(th)
		seen := 0
		for i := range v.NumField() {
			style, ok := v.Field(i).Interface().(lipgloss.Style)
			if !ok {
				continue
			}
			fg, coloured := style.GetForeground().(lipgloss.Color)
			if !coloured {
				continue
			}
			seen++
			on := grounds
			if bg, ok := style.GetBackground().(lipgloss.Color); ok {
				on = []string{string(bg)}
			}
			for _, bg := range on {
				t.Run(fmt.Sprintf("%s/%s/on %s", name, v.Type().Field(i).Name, bg), func(t *testing.T) {
					if got := contrast(t, string(fg), bg); got < 4.5 {
						t.Errorf("%s on %s: contrast %.2f, want at least 4.5", fg, bg, got)
					}
				})
			}
		}
		if seen < 15 {
			t.Errorf("only %d coloured styles are found in the %s theme", seen, name)
		}
	}
}
