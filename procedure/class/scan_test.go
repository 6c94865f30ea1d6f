package class

import (
	"encoding/json"
	"math"
	"testing"
	"time"
)

// FuzzScan: a number, a string or a time that the scan takes is what the
// libraries take it for.
func FuzzScan(f *testing.F) {
	for _, s := range []string{"0", "-0", "-0.25", "1.5e-3", "01", "1.", ".5", "-", "1e", "1e400", "123456789012345", "1234567890123456", "0.00000000000001", "0.10000000000001", "0.1000000000000001",
		"8000 ", "1_0", `"B 3"`, `"Gr\u00fc\u00dfe"`, "\"\xff\"", `"a\`, `""`, "2025-03-04T10:00:00Z", "2025-03-04T10:00:00.25+01:30", "2024-02-29T23:59:59Z", "2025-02-29T00:00:00Z", "2025-03-04T24:00:00Z"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		in := scan{b: []byte(s)}
		if v, ok := in.number(); ok {
			var want float64
			if err := json.Unmarshal(in.b[:in.at], &want); err != nil || v != want || math.Signbit(v) != math.Signbit(want) {
				t.Errorf("number %q is taken for %v, want %v (%v)", s[:in.at], v, want, err)
			}
		}
		in = scan{b: []byte(s)}
		if v, ok := in.count(); ok {
			var want int
			if err := json.Unmarshal(in.b[:in.at], &want); err != nil || v != want {
				t.Errorf("count %q is taken for %v, want %v (%v)", s[:in.at], v, want, err)
			}
		}
		in = scan{b: []byte(s)}
		if v, ok := in.written(); ok {
			var want string
			if err := json.Unmarshal([]byte(s[:in.at]), &want); err != nil || string(v) != want {
				t.Errorf("text %q is taken for %q, want %q (%v)", s[:in.at], v, want, err)
			}
		}
		if ns, ok := moment([]byte(s)); ok {
			want, err := time.Parse(time.RFC3339, s)
			if err != nil || ns != want.UnixNano() {
				t.Errorf("time %q is taken for %v, want %v (%v)", s, time.Unix(0, ns), want, err)
			}
		}
	})
}
