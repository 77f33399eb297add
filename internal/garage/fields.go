package garage

import (
	"evendraw/internal/plain"
	"fmt"
	"math"
	"strings"
	"time"
)

// table reads the keys of one table of a card. The first value that is wrong
// is kept in the doc's err; what is read after it is worth nothing.
type table struct {
	doc    *doc
	name   string // as in places
	shown  string // to be put after a key in errors, such as ` of screw "1-2"`
	values map[string]any
}

func (d *doc) root() table { return table{doc: d, values: d.tree} }

// fail keeps an error about a key.
func (t table) fail(key, format string, args ...any) {
	if t.doc.err == nil {
		t.doc.err = &Error{Path: t.doc.path, Line: t.doc.lineFor(join(t.name, key)), Field: key + t.shown,
			Problem: fmt.Sprintf(format, args...)}
	}
}

// has reports whether a key is there.
func (t table) has(key string) bool { return t.values[key] != nil }

// cardFormat is the format number of the cards that this program writes.
const cardFormat = 1

// format reads the format number, which says whether the rest can be read.
func (t table) format() {
	if !t.has("format") {
		t.fail("format", "is missing; the first line of a card is: format = %d", cardFormat)
	} else if n := t.whole("format"); n > cardFormat {
		t.fail("format", "%d is newer than this program, which reads up to %d: a newer evendraw reads it", n, cardFormat)
		t.doc.err.Newer = true
	} else if n < 1 {
		t.fail("format", "%d is none; the first line of a card is: format = %d", n, cardFormat)
	}
}

// kind names a TOML value's kind for people.
func kind(v any) string {
	switch v.(type) {
	case nil:
		return "missing"
	case string:
		return "text"
	case int64:
		return "a whole number"
	case float64:
		return "a number"
	case bool:
		return "true or false"
	case []any:
		return "a list"
	case map[string]any:
		return "a table"
	}
	return "a date or time"
}

// text reads one line of text of at most max bytes; "" if it is not there.
func (t table) text(key string, max int) string {
	if !t.has(key) {
		return ""
	}
	s, ok := t.values[key].(string)
	if !ok {
		t.fail(key, "is %s, text in quotes is needed", kind(t.values[key]))
	} else if problem := textProblem(s, max); problem != "" {
		t.fail(key, "%s", problem)
	}
	return s
}

// lines reads text of several lines.
func (t table) lines(key string, max int) string {
	if s, ok := t.values[key].(string); ok {
		s = strings.ReplaceAll(s, "\r\n", "\n")
		if problem := textProblem(strings.NewReplacer("\n", " ", "\t", " ").Replace(s), max); problem != "" {
			t.fail(key, "%s", problem)
		}
		return s
	}
	return t.text(key, max)
}

// textProblem says what is wrong with a text, "" if nothing.
func textProblem(s string, max int) string {
	if len(s) > max {
		return fmt.Sprintf("is longer than %d bytes", max)
	}
	for _, r := range s {
		if plain.Steers(r) {
			return fmt.Sprintf("holds the control character %U", r)
		}
	}
	return ""
}

// whole reads a whole number; 0 if it is not there.
func (t table) whole(key string) int {
	if !t.has(key) {
		return 0
	}
	n, ok := t.values[key].(int64)
	if !ok {
		t.fail(key, "is %s, a whole number is needed", kind(t.values[key]))
	} else if n < math.MinInt32 || n > math.MaxInt32 {
		t.fail(key, "%d is far too large", n)
		return 0
	}
	return int(n)
}

// number reads a number from least to most; otherwise it returns without.
func (t table) number(key string, least, most, without float64) float64 {
	if !t.has(key) {
		return without
	}
	v, ok := asNumber(t.values[key])
	if !ok {
		t.fail(key, "is %s, a number is needed", kind(t.values[key]))
		return without
	}
	if !(v >= least && v <= most) {
		t.fail(key, "%g is not from %g to %g", v, least, most)
		return without
	}
	return v
}

func asNumber(v any) (float64, bool) {
	switch v := v.(type) {
	case int64:
		return float64(v), true
	case float64:
		return v, true
	}
	return 0, false
}

// moment reads a date with time and zone; in UTC.
func (t table) moment(key string) time.Time {
	v, ok := t.values[key].(time.Time)
	if !ok {
		t.fail(key, "is %s, a time such as 2026-03-01T10:00:00Z is needed", kind(t.values[key]))
	}
	return v.UTC()
}

// list reads a list of at most max values, each with one; nil if it is empty
// or not there.
func list[T any](t table, key, of string, max int, one func(v any) (T, bool)) []T {
	if !t.has(key) {
		return nil
	}
	values, ok := t.values[key].([]any)
	if !ok {
		t.fail(key, "is %s, a list such as [%s] is needed", kind(t.values[key]), of)
		return nil
	}
	if len(values) > max {
		t.fail(key, "holds %d values, at most %d are possible", len(values), max)
		return nil
	}
	var out []T
	for _, v := range values {
		x, ok := one(v)
		if !ok {
			t.fail(key, "%s in the list does not fit, a list such as [%s] is needed", kind(v), of)
			return nil
		}
		out = append(out, x)
	}
	return out
}

// wholes reads a list of small whole numbers.
func (t table) wholes(key string, max int) []int {
	return list(t, key, "1, 2", max, func(v any) (int, bool) {
		n, ok := v.(int64)
		return int(n), ok && n >= -1000 && n <= 1000
	})
}

// numbers reads a list of numbers within ±bound.
func numbers[T ~float64](t table, key string, max int, bound float64) []T {
	return list(t, key, "0, 1.5", max, func(v any) (T, bool) {
		x, ok := asNumber(v)
		return T(x), ok && math.Abs(x) <= bound
	})
}

// texts reads a list of single lines of text.
func (t table) texts(key string, max int) []string {
	return list(t, key, `"text", "text"`, max, func(v any) (string, bool) {
		s, ok := v.(string)
		return s, ok && textProblem(s, maxTextBytes) == ""
	})
}

// maxTextBytes bounds short texts such as a model or the kind of a sensor.
const maxTextBytes = 100

// tables reads what is written as [[key]], or as a list of inline tables.
func (t table) tables(key string, max int) []table {
	values := list(t, key, "{…}", max, func(v any) (map[string]any, bool) {
		m, ok := v.(map[string]any)
		return m, ok
	})
	var out []table
	for i, v := range values {
		out = append(out, table{t.doc, fmt.Sprintf("%s[%d]", join(t.name, key), i), fmt.Sprintf(" of %s %d", key, i+1), v})
	}
	return out
}
