package class

import (
	"encoding/json"
	"math"
	"strconv"
	"unicode/utf8"
)

// A scan goes through the members of one JSON object. It takes what a record
// that nobody has edited by hand is made of, and says no to everything else:
// what it takes means the same to encoding/json (FuzzScan), what it does not is
// left to the full reading.
type scan struct {
	b  []byte
	at int
}

// byte is the next one after blanks, 0 at the end.
func (s *scan) byte() byte {
	for s.at < len(s.b) {
		if c := s.b[s.at]; c != ' ' && c != '\t' {
			return c
		}
		s.at++
	}
	return 0
}

// take passes over one given byte.
func (s *scan) take(c byte) bool {
	if s.byte() != c {
		return false
	}
	s.at++
	return true
}

// text is a string without escapes, as it stands between its quotes.
func (s *scan) text() (t []byte, ok bool) {
	if !s.take('"') {
		return nil, false
	}
	rest := s.b[s.at:]
	for i, c := range rest {
		if c == '"' {
			s.at += i + 1
			return rest[:i], true
		}
		if c == '\\' || c < 0x20 {
			return nil, false
		}
	}
	return nil, false
}

// written is a string that may have escapes. It may share memory with the line.
func (s *scan) written() (t []byte, ok bool) {
	from := s.at
	if t, ok = s.text(); ok {
		return t, utf8.Valid(t)
	}
	if s.at = from; s.byte() != '"' {
		return nil, false
	}
	from = s.at
	for i := s.at + 1; i < len(s.b); i++ {
		switch s.b[i] {
		case '\\':
			i++
		case '"':
			var out string
			if !utf8.Valid(s.b[from:i+1]) || json.Unmarshal(s.b[from:i+1], &out) != nil {
				return nil, false
			}
			s.at = i + 1
			return []byte(out), true
		}
	}
	return nil, false
}

// key is the next member's name. more is false at the object's end, at which a
// sealed line, from which the seal is taken off, has no brace.
func (s *scan) key(first bool) (k []byte, more, ok bool) {
	switch c := s.byte(); {
	case c == '}':
		s.at++
		return nil, false, true
	case c == 0:
		return nil, false, true
	case c == ',' && !first:
		s.at++
	case !first:
		return nil, false, false
	}
	if k, ok = s.text(); !ok || !s.take(':') {
		return nil, false, false
	}
	return k, true, true
}

// tens are the powers of ten that a float64 holds exactly.
var tens = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// number is a JSON number, finite.
func (s *scan) number() (v float64, ok bool) {
	s.byte()
	b := s.b[s.at:]
	i, whole := 0, uint64(0) // what the digits come to without their point
	digits := func() int {
		from := i
		for ; i < len(b) && b[i] >= '0' && b[i] <= '9'; i++ {
			whole = whole*10 + uint64(b[i]-'0')
		}
		return i - from
	}
	minus := len(b) > 0 && b[0] == '-'
	if minus {
		i++
	}
	first := i
	n := digits()
	if n == 0 || n > 1 && b[first] == '0' {
		return 0, false
	}
	places := 0
	if i < len(b) && b[i] == '.' {
		i++
		if places = digits(); places == 0 {
			return 0, false
		}
	}
	exact := i < len(tens)
	if i < len(b) && (b[i] == 'e' || b[i] == 'E') {
		exact = false
		i++
		if i < len(b) && (b[i] == '+' || b[i] == '-') {
			i++
		}
		if digits() == 0 {
			return 0, false
		}
	}
	s.at += i
	if !exact {
		v, err := strconv.ParseFloat(string(b[:i]), 64)
		return v, err == nil && !math.IsInf(v, 0)
	}
	// A whole number below 10¹⁵ over a power of ten that is exact: one rounding,
	// as it should be (W. D. Clinger, PLDI 1990).
	v = float64(whole) / tens[places]
	if minus {
		v = -v
	}
	return v, true
}

// count is a number that is whole, from 0 to a billion.
func (s *scan) count() (n int, ok bool) {
	s.byte()
	from := s.at
	for s.at < len(s.b) && s.at-from < 10 && s.b[s.at] >= '0' && s.b[s.at] <= '9' {
		n = n*10 + int(s.b[s.at]-'0')
		s.at++
	}
	size := s.at - from
	if size == 0 || size > 9 || size > 1 && s.b[from] == '0' {
		return 0, false
	}
	if s.at < len(s.b) {
		switch s.b[s.at] {
		case '.', 'e', 'E':
			return 0, false
		}
	}
	return n, true
}

// truth is true or false.
func (s *scan) truth() (v, ok bool) {
	s.byte()
	rest := s.b[s.at:]
	switch {
	case len(rest) >= 4 && string(rest[:4]) == "true":
		s.at += 4
		return true, true
	case len(rest) >= 5 && string(rest[:5]) == "false":
		s.at += 5
		return false, true
	}
	return false, false
}

// numbers is a list of numbers, added to into.
func (s *scan) numbers(into []float64) (out []float64, ok bool) {
	if !s.take('[') {
		return into, false
	}
	for first := true; ; first = false {
		if first && s.take(']') {
			return into, true
		}
		v, ok := s.number()
		if !ok {
			return into, false
		}
		into = append(into, v)
		if s.take(']') {
			return into, true
		}
		if !s.take(',') {
			return into, false
		}
	}
}

// ended reports whether nothing but blanks is left.
func (s *scan) ended() bool { return s.byte() == 0 && s.at >= len(s.b) }

// moment is a time as RFC 3339 writes it, in nanoseconds since 1970, within the
// years 1900 to 2200.
func moment(b []byte) (ns int64, ok bool) {
	two := func(i int) int {
		if b[i] < '0' || b[i] > '9' || b[i+1] < '0' || b[i+1] > '9' {
			return 1000
		}
		return int(b[i]-'0')*10 + int(b[i+1]-'0')
	}
	if len(b) < len("2006-01-02T15:04:05Z") || b[4] != '-' || b[7] != '-' || b[10] != 'T' || b[13] != ':' || b[16] != ':' {
		return 0, false
	}
	year, month, day := two(0)*100+two(2), two(5), two(8)
	hour, minute, second := two(11), two(14), two(17)
	if year < 1900 || year >= 2200 || month < 1 || month > 12 || day < 1 || hour > 23 || minute > 59 || second > 59 {
		return 0, false
	}
	leap := year%4 == 0 && (year%100 != 0 || year%400 == 0)
	last := [...]int{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}[month-1]
	if month == 2 && leap {
		last = 29
	}
	if day > last {
		return 0, false
	}
	// Days since 1970 by whole years, then by whole months.
	y := int64(year - 1)
	days := y*365 + y/4 - y/100 + y/400 - 719162
	days += int64([...]int{0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334}[month-1] + day - 1)
	if month > 2 && leap {
		days++
	}
	ns = ((days*24+int64(hour))*60+int64(minute))*60 + int64(second)
	i, fraction := 19, int64(0)
	if b[i] == '.' {
		i++
		from := i
		for ; i < len(b) && b[i] >= '0' && b[i] <= '9'; i++ {
			if i-from < 9 {
				fraction = fraction*10 + int64(b[i]-'0')
			}
		}
		if i == from || i-from > 9 {
			return 0, false
		}
		for n := i - from; n < 9; n++ {
			fraction *= 10
		}
	}
	switch rest := b[i:]; {
	case len(rest) == 1 && rest[0] == 'Z':
	case len(rest) == 6 && rest[3] == ':' && (rest[0] == '+' || rest[0] == '-'):
		h, m := two(i+1), two(i+4)
		if h > 23 || m > 59 {
			return 0, false
		}
		offset := int64(h*60+m) * 60
		if rest[0] == '+' {
			offset = -offset
		}
		ns += offset
	default:
		return 0, false
	}
	return ns*1e9 + fraction, true
}
