package procedure

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"unicode"
)

// errNoObject says that there is not one JSON object and nothing else.
var errNoObject = errors.New("one JSON object is expected")

// Members takes one JSON object apart. Unlike encoding/json, which keeps the
// last of several members of one name without a word, it refuses a key that
// stands twice, and says which.
func Members(raw []byte) (map[string]json.RawMessage, error) {
	var members map[string]json.RawMessage
	if json.Unmarshal(raw, &members) != nil || members == nil {
		return nil, errNoObject
	}
	if count(raw) == len(members) {
		return members, nil
	}
	d := json.NewDecoder(bytes.NewReader(raw))
	d.Token() // the opening brace; what follows is known to be an object
	for seen := make(map[string]bool); d.More(); {
		key, _ := d.Token()
		name, _ := key.(string)
		if seen[name] {
			return nil, fmt.Errorf("the key %q stands twice: write it once", CleanText(name, maxKey))
		}
		seen[name] = true
		var value json.RawMessage
		d.Decode(&value)
	}
	return members, nil
}

// count returns how many members a JSON object has, doubles included.
func count(object []byte) int {
	n, depth, inText := 0, 0, false
	for i := 0; i < len(object); i++ {
		switch c := object[i]; {
		case inText && c == '\\':
			i++
		case c == '"':
			inText = !inText
		case inText:
		case c == '{' || c == '[':
			depth++
		case c == '}' || c == ']':
			depth--
		case c == ':' && depth == 1:
			n++
		}
	}
	return n
}

// maxKey bounds what a message repeats of a key, in runes.
const maxKey = 60

// Strict reads one JSON object into what into points to, to the letter: at
// every depth each key stands once and is written as the field's tag has it,
// in the same letters. The error is one line; keys that are allowed beside the
// fields are named in also.
func Strict(raw []byte, into any, also ...string) error {
	if err := exact(raw, reflect.TypeOf(into).Elem(), also); err != nil {
		return err
	}
	if err := json.Unmarshal(raw, into); err != nil {
		if h, ok := huge(raw, err); ok {
			return h
		}
		return misfit(err)
	}
	return nil
}

// exact checks the keys of a value that is to become a Go value of type t.
// What is of another type altogether is left to encoding/json to refuse.
func exact(raw []byte, t reflect.Type, also []string) error {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if t.Kind() != reflect.Struct || reflect.PointerTo(t).Implements(reflect.TypeFor[json.Unmarshaler]()) {
		return nil
	}
	members, err := Members(raw)
	if errors.Is(err, errNoObject) {
		return nil
	}
	if err != nil {
		return err
	}
	fields := keysOf(t)
	names := make([]string, 0, len(members))
	for name := range members {
		names = append(names, name)
	}
	slices.Sort(names) // so that of several mistakes the same one is named each time
	for _, name := range names {
		i := slices.IndexFunc(fields, func(f keyOf) bool { return f.name == name })
		if i < 0 {
			return fmt.Errorf("unknown key %q; it takes %s", CleanText(name, maxKey), takes(fields, also))
		}
		if err := exact(members[name], fields[i].of, nil); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	return nil
}

// keyOf is a key of a JSON object and the type that its value becomes.
type keyOf struct {
	name string
	of   reflect.Type
}

// keysOf lists the keys that encoding/json knows for a struct.
func keysOf(t reflect.Type) []keyOf {
	var keys []keyOf
	for _, f := range reflect.VisibleFields(t) {
		if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); !f.Anonymous && name != "-" {
			keys = append(keys, keyOf{name, f.Type})
		}
	}
	return keys
}

func takes(fields []keyOf, also []string) string {
	var names []string
	for _, f := range fields {
		names = append(names, f.name)
	}
	if names = append(names, also...); len(names) == 0 {
		return "no keys of its own"
	}
	return strings.Join(names, ", ")
}

// misfit turns an error of encoding/json into a line that says what is
// expected.
func misfit(err error) error {
	var wrong *json.UnmarshalTypeError
	if !errors.As(err, &wrong) {
		return errors.New(CleanText(strings.TrimPrefix(err.Error(), "json: "), 120))
	}
	want := "a number"
	switch wrong.Type.Kind() {
	case reflect.String:
		want = "a text"
	case reflect.Bool:
		want = "true or false"
	case reflect.Slice:
		want = "a list of numbers"
	case reflect.Struct, reflect.Map:
		want = "an object"
	case reflect.Int:
		want = "a whole number"
	}
	field := wrong.Field
	if embedded, rest, ok := strings.Cut(field, "."); ok && unicode.IsUpper(rune(embedded[0])) { // a Go name, no key
		field = rest
	}
	if field == "" { // the whole of it
		field = "it"
	}
	return fmt.Errorf("%s is %s, not %s", CleanText(field, maxKey), want, CleanText(wrong.Value, 40))
}

// hugeError is a number that is too large for a computer's to hold, 1e400 say.
type hugeError struct {
	written string
	// capped is the object with the greatest number there is in its place.
	capped []byte
}

func (h hugeError) Error() string { return CleanText(h.written, 40) + " is too large a number" }

// huge finds such a number by the error that it gave.
func huge(raw []byte, err error) (h hugeError, ok bool) {
	var wrong *json.UnmarshalTypeError
	if !errors.As(err, &wrong) || wrong.Type.Kind() != reflect.Float64 {
		return h, false
	}
	h.written, ok = strings.CutPrefix(wrong.Value, "number ")
	end := int(wrong.Offset)
	start := end - len(h.written)
	if !ok || start < 0 || end > len(raw) || string(raw[start:end]) != h.written {
		return h, false
	}
	h.capped = slices.Concat(raw[:start], fmt.Appendf(nil, "%g", h.most()), raw[end:])
	return h, true
}

// most is the greatest number there is, with the sign of the one written.
func (h hugeError) most() float64 {
	if strings.HasPrefix(h.written, "-") {
		return -math.MaxFloat64
	}
	return math.MaxFloat64
}

// limit adds what the field's own check says of the greatest number there is:
// between what limits it lies. The body is an empty one of the right type.
func (h hugeError) limit(body any) error {
	// An error is of another number of the same kind: one is enough to name.
	_ = json.Unmarshal(h.capped, body)
	if err := bodyOf(body).Check(); err != nil {
		if why, ok := strings.CutSuffix(err.Error(), fmt.Sprintf(", not %g", h.most())); ok {
			return fmt.Errorf("%w: %s", h, why)
		}
	}
	return h
}
