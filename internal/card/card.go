package card

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"

	"evendraw/internal/store"
)

// Card is a card's text with what it says and where it says it.
type Card struct {
	text []byte
	tree map[string]any
	// places of keys and tables, by their names, such as "screw[1].moves" and "screw[1]"; the root's is "".
	places map[string]place
	asked  map[string]bool // keys whose values were read, by their names
	err    *Error          // the first wrong value that was met
}

// Error says what is wrong with a card, and where: its Field is the key as people know it, such as
// `moves of screw "1-2"`, and it has no Path.
type Error = store.Error

// Bounds of a card, so that no file takes much memory or time: the characters that keys, lists and
// tables are made with, wherever they stand, and the length of a name whose place is kept. Chosen:
// a card has 300 of these characters, and names of at most 40 letters.
const (
	maxMarks      = 5000
	marks         = "=,[{."
	maxPlaceBytes = 100
)

const byteOrderMark = "\xEF\xBB\xBF"

// Parse reads TOML text. A byte order mark, which some editors write, stays in the text and counts
// for nothing. The error is an *Error.
func Parse(text []byte) (*Card, error) {
	c := &Card{text: text, places: map[string]place{"": {line: 1}}, asked: map[string]bool{}}
	if !utf8.Valid(text) {
		return nil, &Error{Line: firstInvalid(text), Problem: "is not UTF-8 text"}
	}
	body := bytes.TrimPrefix(text, []byte(byteOrderMark))
	n := 0
	for _, m := range []byte(marks) {
		n += bytes.Count(text, []byte{m})
	}
	if n > maxMarks {
		return nil, &Error{Problem: fmt.Sprintf("holds far too much for a card: %d of the characters %s", n, marks)}
	}
	c.findPlaces(body, len(text)-len(body))
	if err := toml.Unmarshal(body, &c.tree); err != nil {
		var at *toml.DecodeError
		if !errors.As(err, &at) {
			return nil, &Error{Problem: "is not TOML", Err: err}
		}
		line, _ := at.Position()
		if key, value, ok := noValue(body, line); ok {
			return nil, &Error{Line: line, Field: key, Problem: fmt.Sprintf("%s is no value: a number is written as "+
				`4, a text as "four", a list as [1, 2]`, value)}
		}
		problem := strings.TrimPrefix(at.Error(), "toml: ")
		if strings.Contains(problem, "U+002C ','") { // 2,0
			problem = "a comma where none can be: a number has a point, 2.0, and a text stands in quotes"
		}
		return nil, &Error{Line: line, Field: strings.Join(at.Key(), "."), Problem: problem}
	}
	return c, nil
}

// bareValue is a line with a key, and a value of letters without quotes.
var bareValue = regexp.MustCompile(`^\s*([A-Za-z0-9_-]+)\s*=\s*([\pL_][^"'#=\[\]{}]*?)\s*(#.*)?$`)

// noValue returns key and value of a line whose value is letters without quotes.
func noValue(body []byte, line int) (key, value string, ok bool) {
	lines := strings.Split(string(body), "\n")
	if line < 1 || line > len(lines) {
		return "", "", false
	}
	m := bareValue.FindStringSubmatch(strings.TrimSuffix(lines[line-1], "\r"))
	if m == nil {
		return "", "", false
	}
	return m[1], m[2], true
}

// firstInvalid returns the line of the first byte that is not UTF-8.
func firstInvalid(text []byte) int {
	line := 1
	for len(text) > 0 {
		r, n := utf8.DecodeRune(text)
		if r == utf8.RuneError && n == 1 {
			break
		}
		if r == '\n' {
			line++
		}
		text = text[n:]
	}
	return line
}

// Err returns the *Error of the first wrong value that was read, nil if there was none.
func (c *Card) Err() error {
	if c.err == nil {
		return nil
	}
	return c.err
}
