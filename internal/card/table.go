package card

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"evendraw/internal/plain"
)

// Table reads the keys of one table of a card. The first value that is wrong is kept for the card's
// Err; what is read after it is worth nothing.
type Table struct {
	card   *Card
	name   string // as in places
	shown  string // to be put after a key in errors, such as ` of screw "1-2"`
	values map[string]any
}

// Root returns the table of the keys before all tables, which holds those as well.
func (c *Card) Root() Table { return Table{card: c, values: c.tree} }

// Fail keeps an error about a key, unless there is an earlier one.
func (t Table) Fail(key, format string, args ...any) {
	if t.card.err == nil {
		line := t.card.lineFor(join(t.name, key))
		t.card.err = &Error{Line: line, Field: key + t.shown, Problem: fmt.Sprintf(format, args...)}
	}
}

// Failed reports whether anything that was read of the card was wrong.
func (t Table) Failed() bool { return t.card.err != nil }

// value returns what a key says, nil if it is not there, and notes that somebody asked.
func (t Table) value(key string) any {
	t.card.asked[join(t.name, key)] = true
	return t.values[key]
}

// Has reports whether a key is there.
func (t Table) Has(key string) bool { return t.value(key) != nil }

// Says reports whether a key holds this text.
func (t Table) Says(key, text string) bool { return t.value(key) == text }

// Format reads the format number, which says whether the rest can be read: up to newest.
func (t Table) Format(newest int) {
	if !t.Has("format") {
		t.Fail("format", "is missing; the first line of a card is: format = %d", newest)
	} else if n := t.Whole("format", 0); n > newest {
		t.Fail("format", "%d is newer than this program, which reads up to %d: a newer evendraw reads it", n, newest)
		t.card.err.Newer = true
	} else if n < 1 {
		t.Fail("format", "%d is none; the first line of a card is: format = %d", n, newest)
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

// Text reads one line of text of at most max bytes; "" if it is not there.
func (t Table) Text(key string, max int) string {
	if !t.Has(key) {
		return ""
	}
	s, ok := t.value(key).(string)
	if !ok {
		t.Fail(key, "is %s, text in quotes is needed", kind(t.value(key)))
	} else if problem := TextProblem(s, max); problem != "" {
		t.Fail(key, "%s", problem)
	}
	return s
}

// Lines reads text of several lines.
func (t Table) Lines(key string, max int) string {
	if s, ok := t.value(key).(string); ok {
		s = strings.ReplaceAll(s, "\r\n", "\n")
		if problem := TextProblem(strings.NewReplacer("\n", " ", "\t", " ").Replace(s), max); problem != "" {
			t.Fail(key, "%s", problem)
		}
		return s
	}
	return t.Text(key, max)
}

// TextProblem says what is wrong with a text, "" if nothing.
func TextProblem(s string, max int) string {
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

// Whole reads a whole number; without, if it is not there.
func (t Table) Whole(key string, without int) int {
	if !t.Has(key) {
		return without
	}
	n, ok := t.value(key).(int64)
	if !ok {
		t.Fail(key, "is %s, a whole number is needed", kind(t.value(key)))
	} else if n < math.MinInt32 || n > math.MaxInt32 {
		t.Fail(key, "%d is far too large", n)
		return 0
	}
	return int(n)
}

// Number reads a number from least to most; without, if it is not there.
func (t Table) Number(key string, least, most, without float64) float64 {
	if !t.Has(key) {
		return without
	}
	v, ok := asNumber(t.value(key))
	if !ok {
		t.Fail(key, "is %s, a number is needed", kind(t.value(key)))
		return without
	}
	if !(v >= least && v <= most) {
		t.Fail(key, "%g is not from %g to %g", v, least, most)
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

// Moment reads a date with time and zone; in UTC.
func (t Table) Moment(key string) time.Time {
	v, ok := t.value(key).(time.Time)
	if !ok {
		t.Fail(key, "is %s, a time such as 2026-03-01T10:00:00Z is needed", kind(t.value(key)))
	}
	return v.UTC()
}

// list reads a list of at most max values, each with one; nil if it is empty or not there. A value of the right kind
// that is not within ±bound is told with that, 0 where there is none.
func list[T any](t Table, key, of string, max int, bound float64, one func(v any) (T, bool)) []T {
	if !t.Has(key) {
		return nil
	}
	values, ok := t.value(key).([]any)
	if !ok {
		t.Fail(key, "is %s, a list such as [%s] is needed", kind(t.value(key)), of)
		return nil
	}
	if len(values) > max {
		t.Fail(key, "holds %d values, at most %d are possible", len(values), max)
		return nil
	}
	var out []T
	for _, v := range values {
		x, ok := one(v)
		if n, number := asNumber(v); ok && number && bound != 0 && !(math.Abs(n) <= bound) {
			t.Fail(key, "%g in the list is not from %g to %g", n, -bound, bound)
			return nil
		}
		if !ok {
			t.Fail(key, "%s (%v) in the list does not fit, a list such as [%s] is needed", kind(v), v, of)
			return nil
		}
		out = append(out, x)
	}
	return out
}

// mostWhole bounds the numbers of a list of small ones: what they count is told of by who reads it.
const mostWhole = 1000

// Wholes reads a list of small whole numbers.
func (t Table) Wholes(key string, max int) []int {
	return list(t, key, "1, 2", max, mostWhole, func(v any) (int, bool) {
		n, ok := v.(int64)
		return int(n), ok
	})
}

// Numbers reads a list of numbers within ±bound.
func Numbers[T ~float64](t Table, key string, max int, bound float64) []T {
	return list(t, key, "0, 1.5", max, bound, func(v any) (T, bool) {
		x, ok := asNumber(v)
		return T(x), ok && !math.IsNaN(x) && !math.IsInf(x, 0)
	})
}

// Texts reads a list of single lines of text.
func (t Table) Texts(key string, max int) []string {
	return list(t, key, `"text", "text"`, max, 0, func(v any) (string, bool) {
		s, ok := v.(string)
		return s, ok && TextProblem(s, MaxTextBytes) == ""
	})
}

// MaxTextBytes bounds short texts such as a model or the kind of a sensor.
const MaxTextBytes = 100

// Tables reads what is written as [[key]], or as a list of inline tables.
func (t Table) Tables(key string, max int) []Table {
	values := list(t, key, "{…}", max, 0, func(v any) (map[string]any, bool) {
		m, ok := v.(map[string]any)
		return m, ok
	})
	var out []Table
	for i, v := range values {
		entry := t.Entry(key, i)
		entry.values = v
		out = append(out, entry)
	}
	return out
}

// Inner reads what is written as a [key] table of its own; ok is false, and the card's Err says so,
// when it is written otherwise.
func (t Table) Inner(key string) (inner Table, ok bool) {
	v, ok := t.value(key).(map[string]any)
	if _, known := t.card.places[join(t.name, key)]; !ok || !known {
		t.Fail(key, "is to be written as a [%s] table", key)
		return Table{}, false
	}
	return Table{t.card, join(t.name, key), " of " + key, v}, true
}

// Named returns the table with another word for it in errors, such as ` of screw "1-2"`.
func (t Table) Named(shown string) Table {
	t.shown = shown
	return t
}

// Entry returns entry i of the tables [[key]], for Fail only.
func (t Table) Entry(key string, i int) Table {
	return Table{t.card, fmt.Sprintf("%s[%d]", join(t.name, key), i), fmt.Sprintf(" of %s %d", key, i+1), nil}
}

// OneOf reads a word that must be one of two; without, if it is not there.
func (t Table) OneOf(key, without, one, other string) string {
	if !t.Has(key) {
		return without
	}
	word := t.Text(key, MaxTextBytes)
	if word != one && word != other {
		t.Fail(key, "%q is neither %q nor %q", word, one, other)
	}
	return word
}

// Unknown lists the keys that nobody has asked for, of the table and of those in it, in quotes, with what was probably
// meant.
func (t Table) Unknown() (list []string) {
	prefix := ""
	if t.name != "" {
		prefix = t.name + "."
	}
	var known []string
	for name := range t.card.asked {
		if key, own := strings.CutPrefix(name, prefix); own && !strings.ContainsAny(key, ".[") {
			known = append(known, key)
		}
	}
	slices.Sort(known)
	for _, key := range slices.Sorted(maps.Keys(t.values)) {
		if !t.card.asked[join(t.name, key)] {
			text := fmt.Sprintf("%q%s", key, t.shown)
			if near := plain.Nearest(key, known); near != "" {
				text += fmt.Sprintf(" (is %s meant?)", near)
			}
			list = append(list, text)
			continue
		}
		switch v := t.values[key].(type) {
		case map[string]any:
			list = append(list, Table{t.card, join(t.name, key), " of " + key, v}.Unknown()...)
		case []any:
			for i := range v {
				entry := t.Entry(key, i)
				if entry.values, _ = v[i].(map[string]any); entry.values != nil {
					list = append(list, entry.Unknown()...)
				}
			}
		}
	}
	return list
}
