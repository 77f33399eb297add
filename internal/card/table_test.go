package card

import (
	"errors"
	"fmt"
	"strings"
	"testing"
)

// readings are cards, what is read of them, and what that gives.
var readings = map[string]struct {
	text string
	read func(t Table) any
	want string // the value, or "LINE KEY: " and how the problem begins
}{
	"text":          {"a = 'x'", func(t Table) any { return t.Text("a", 9) }, "x"},
	"text left out": {"", func(t Table) any { return t.Text("a", 9) }, ""},
	"text too long": {"\na = 'xxxx'", func(t Table) any { return t.Text("a", 3) }, "2 a: is longer than 3"},
	"text that steers": {`a = "\u001b"`, func(t Table) any { return t.Text("a", 9) },
		"1 a: holds the control character U+001B"},
	"a line end": {`a = "x\ny"`, func(t Table) any { return t.Text("a", 9) },
		"1 a: holds the control character U+000A"},
	"lines": {`a = "x\r\n\ty"`, func(t Table) any { return t.Lines("a", 9) }, "x\n\ty"},
	"number as text": {"a = 1", func(t Table) any { return t.Text("a", 9) },
		"1 a: is a whole number, text in quotes"},
	"whole":           {"a = -7", func(t Table) any { return t.Whole("a", 3) }, "-7"},
	"whole left out":  {"", func(t Table) any { return t.Whole("a", 3) }, "3"},
	"whole as number": {"a = 7.0", func(t Table) any { return t.Whole("a", 3) }, "1 a: is a number, a whole number"},
	"number":          {"a = 7", func(t Table) any { return t.Number("a", 0, 9, 3) }, "7"},
	"number outside":  {"a = 9.5", func(t Table) any { return t.Number("a", 0, 9, 3) }, "1 a: 9.5 is not from 0 to 9"},
	"not a number":    {"a = nan", func(t Table) any { return t.Number("a", 0, 9, 3) }, "1 a: NaN is not from 0 to 9"},
	"moment": {"a = 2026-03-01T10:00:00+01:00", func(t Table) any { return t.Moment("a") },
		"2026-03-01 09:00:00 +0000 UTC"},
	"a moment's zone": {"a = 2026-03-01T10:00:00", func(t Table) any { return t.Moment("a") },
		"1 a: is a date or time, a time such as"},
	"wholes": {"a = [1, 2]", func(t Table) any { return t.Wholes("a", 2) }, "[1 2]"},
	"too many": {"a = [1, 2, 3]", func(t Table) any { return t.Wholes("a", 2) },
		"1 a: holds 3 values, at most 2"},
	"a list's kind": {"a = [1, 'x']", func(t Table) any { return t.Wholes("a", 2) },
		"1 a: text (x) in the list does not fit"},
	"numbers": {"a = [1, 2.5]", func(t Table) any { return Numbers[float64](t, "a", 2, 3) }, "[1 2.5]"},
	"numbers outside": {"a = [1, -4]", func(t Table) any { return Numbers[float64](t, "a", 2, 3) },
		"1 a: -4 in the list is not from -3 to 3"},
	"texts":      {"a = ['x', 'y']", func(t Table) any { return t.Texts("a", 2) }, "[x y]"},
	"one of two": {"a = 'y'", func(t Table) any { return t.OneOf("a", "z", "x", "y") }, "y"},
	"neither": {"a = 'z'", func(t Table) any { return t.OneOf("a", "z", "x", "y") },
		`1 a: "z" is neither "x" nor "y"`},
	"in a table": {"[b]\n\na = 1", func(t Table) any {
		inner, _ := t.Inner("b")
		return inner.Text("a", 9)
	}, "3 a of b: is a whole number"},
	"no table": {"\nb.a = 1", func(t Table) any {
		_, ok := t.Inner("b")
		return ok
	}, "0 b: is to be written as a [b] table"},
	"in the second": {"[[b]]\na = 'x'\n[[b]]\na = 1", func(t Table) any {
		return t.Tables("b", 2)[1].Text("a", 9)
	}, "4 a of b 2: is a whole number"},
	"what nobody asked for": {"a = 1\nz = 2\n[y]\na = 2", func(t Table) any {
		t.Has("a")
		return t.Unknown()
	}, `["y" "z"]`},
	"format": {"format = 2", func(t Table) any { t.Format(2); return "read" }, "read"},
	"newer format": {"format = 3", func(t Table) any { t.Format(2); return "" },
		"1 format: 3 is newer than this program"},
	"no format": {"", func(t Table) any { t.Format(2); return "" }, "0 format: is missing"},
}

// What a card says is read as it should be, or refused with the line and the key.
func TestTable(t *testing.T) {
	t.Parallel()
	for name, c := range readings {
		t.Run(name, func(t *testing.T) {
			card, err := Parse([]byte(c.text))
			if err != nil {
				t.Fatal(err)
			}
			got := fmt.Sprint(c.read(card.Root()))
			var e *Error
			if errors.As(card.Err(), &e) {
				got = fmt.Sprintf("%d %s: %s", e.Line, e.Field, e.Problem)
			}
			if got != c.want && (e == nil || !strings.HasPrefix(got, c.want)) {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

// A number with a comma is refused with what is to be written.
func TestDecimalComma(t *testing.T) {
	t.Parallel()
	_, err := Parse([]byte("a = 1\nlimit_kpa = 2,0"))
	if e := (*Error)(nil); !errors.As(err, &e) || e.Line != 2 || !strings.Contains(e.Problem, "2.0") {
		t.Errorf("%v", err)
	}
}
