package garage

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// doc is a card's text with what it says and where it says it.
type doc struct {
	path string // of the file
	text []byte
	tree map[string]any
	// places of keys and tables, by their names, such as "screw[1].moves" and
	// "screw[1]"; the root's is "".
	places map[string]place
	err    *Error // the first wrong value that was met
}

// place is where a key with its value, or a table, stands in the text.
type place struct {
	line       int // from 1
	start, end int // of a table, end is that of the last key that is its own
	value      int // where a key's value begins
	inline     bool
}

// Bounds of a card, so that no file takes much memory or time: the characters that
// keys, lists and tables are made with, wherever they stand, and the length
// of a name whose place is kept. Chosen: a card has 300 of these characters,
// and names of at most 40 letters.
const (
	maxMarks      = 5000
	marks         = "=,[{."
	maxPlaceBytes = 100
)

const bom = "\xEF\xBB\xBF"

// parseDoc reads TOML text. A byte order mark, which some editors write, stays
// in text and counts for nothing.
func parseDoc(path string, text []byte) (*doc, error) {
	d := &doc{path: path, text: text, places: map[string]place{"": {line: 1}}}
	if !utf8.Valid(text) {
		return nil, &Error{Path: path, Line: firstInvalid(text), Problem: "is not UTF-8 text"}
	}
	body := bytes.TrimPrefix(text, []byte(bom))
	n := 0
	for _, m := range []byte(marks) {
		n += bytes.Count(text, []byte{m})
	}
	if n > maxMarks {
		return nil, &Error{Path: path, Problem: fmt.Sprintf("holds far too much for a card: %d of the characters %s", n, marks)}
	}
	d.findPlaces(body, len(text)-len(body))
	if err := toml.Unmarshal(body, &d.tree); err != nil {
		var at *toml.DecodeError
		if !errors.As(err, &at) {
			return nil, &Error{Path: path, Problem: "is not TOML", Err: err}
		}
		line, _ := at.Position()
		return nil, &Error{Path: path, Line: line, Field: strings.Join(at.Key(), "."), Problem: strings.TrimPrefix(at.Error(), "toml: ")}
	}
	return d, nil
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

// finder walks a document's expressions with the parser's part that tells where
// they stand. Its makers may still change that part, hence the name; it
// is used here only, and every changed text is parsed again and compared
// before it is saved.
type finder struct {
	*doc
	parser  unstable.Parser
	base    int            // offset of the parser's text in the file's
	counted int            // bytes whose lines are counted
	line    int            // at counted
	arrays  map[string]int // how many tables of each [[name]] so far
}

// findPlaces fills in places. Where the parser stops, it stops: Unmarshal
// tells what is wrong.
func (d *doc) findPlaces(body []byte, base int) {
	f := finder{doc: d, base: base, line: 1, arrays: map[string]int{}}
	f.parser.Reset(body)
	section := ""
	for f.parser.NextExpression() {
		e := f.parser.Expression()
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			section = f.header(e)
		case unstable.KeyValue:
			f.keyValue(section, e)
		}
	}
}

// lineOf returns the line of an offset; offsets mostly rise.
func (f *finder) lineOf(offset int) int {
	if offset < f.counted {
		f.counted, f.line = 0, 1
	}
	f.line += bytes.Count(f.text[f.counted:offset], []byte{'\n'})
	f.counted = offset
	return f.line
}

// tooLong stands for names whose place nobody asks for.
const tooLong = "\x00"

func join(prefix, key string) string {
	switch {
	case prefix == tooLong || len(prefix)+len(key) > maxPlaceBytes:
		return tooLong
	case prefix == "":
		return key
	}
	return prefix + "." + key
}

func (f *finder) header(e *unstable.Node) (section string) {
	keys := e.Key()
	start, end := -1, 0
	for keys.Next() {
		k := keys.Node()
		if start < 0 {
			start = bytes.LastIndexByte(f.text[:f.base+int(k.Raw.Offset)], '\n') + 1
		}
		end = f.base + int(k.Raw.Offset+k.Raw.Length)
		section = join(section, string(k.Data))
		if e.Kind == unstable.ArrayTable && keys.IsLast() {
			f.arrays[section]++
		}
		if n := f.arrays[section]; n > 0 && section != tooLong {
			section = fmt.Sprintf("%s[%d]", section, n-1)
		}
	}
	if section != tooLong {
		f.places[section] = place{line: f.lineOf(start), start: start, end: end}
	}
	return section
}

func (f *finder) keyValue(section string, e *unstable.Node) {
	start, end := f.base+int(e.Raw.Offset), f.base+int(e.Raw.Offset+e.Raw.Length)
	name, value := section, start
	keys := e.Key()
	for keys.Next() {
		name = join(name, string(keys.Node().Data))
		value = f.base + int(keys.Node().Raw.Offset+keys.Node().Raw.Length)
	}
	if table, ok := f.places[section]; ok {
		table.end = max(table.end, end)
		f.places[section] = table
	}
	for value < end && strings.IndexByte(" \t=", f.text[value]) >= 0 {
		value++
	}
	if name != tooLong {
		f.places[name] = place{line: f.lineOf(start), start: start, end: end, value: value}
	}
	f.inside(name, e.Value(), start)
}

// inside finds what stands in inline tables, alone or in an array.
func (f *finder) inside(name string, v *unstable.Node, start int) {
	switch v.Kind {
	case unstable.InlineTable:
		begin := f.base + int(v.Raw.Offset)
		if name != tooLong {
			f.places[name] = place{line: f.lineOf(begin), start: begin, end: begin + 1, value: begin, inline: true}
		}
		for it := v.Children(); it.Next(); {
			if it.Node().Kind == unstable.KeyValue {
				f.keyValue(name, it.Node())
			}
		}
	case unstable.Array:
		n := 0
		for it := v.Children(); it.Next(); {
			if it.Node().Kind == unstable.InlineTable && name != tooLong {
				f.inside(fmt.Sprintf("%s[%d]", name, n), it.Node(), start)
			} else if it.Node().Kind == unstable.InlineTable || it.Node().Kind == unstable.Array {
				f.inside(tooLong, it.Node(), start)
			}
			if it.Node().Kind != unstable.Comment {
				n++
			}
		}
	}
}

// lineFor returns the line of a name, or of the table it would stand in.
func (d *doc) lineFor(name string) int {
	for {
		if p, ok := d.places[name]; ok {
			return p.line
		}
		if p, ok := d.places[name+"[0]"]; ok {
			return p.line
		}
		i := strings.LastIndexAny(name, ".[")
		if i < 0 {
			return 0
		}
		name = name[:i]
	}
}

// change is a piece of text to put in the place of another.
type change struct {
	from, to int
	text     string
}

// applied returns the text with changes made, which don't overlap. Those at one
// place stay in order.
func (d *doc) applied(changes []change) []byte {
	slices.SortStableFunc(changes, func(a, b change) int { return a.from - b.from })
	var out []byte
	at := 0
	for _, c := range changes {
		out = append(out, d.text[at:c.from]...)
		out = append(out, c.text...)
		at = c.to
	}
	return append(out, d.text[at:]...)
}

// newline returns how the file ends its lines.
func (d *doc) newline() string {
	if i := bytes.IndexByte(d.text, '\n'); i > 0 && d.text[i-1] == '\r' {
		return "\r\n"
	}
	return "\n"
}

// set returns the change that gives a key of a table that is there a value in
// TOML, and false when it has that value already, letter by letter. A key that
// is not there comes after the last of its table.
func (d *doc) set(table, key, value string) (change, bool) {
	if p, ok := d.places[join(table, key)]; ok {
		return change{p.value, p.end, value}, string(d.text[p.value:p.end]) != value
	}
	t := d.places[table]
	if t.inline {
		return change{t.end, t.end, fmt.Sprintf(", %s = %s", key, value)}, true
	}
	return d.after(t.end, key+" = "+value), true
}

// after returns the change that puts a line after the one of an offset.
func (d *doc) after(offset int, line string) change {
	nl := d.newline()
	if i := bytes.IndexByte(d.text[offset:], '\n'); i >= 0 {
		offset += i + 1
		return change{offset, offset, line + nl}
	}
	return change{len(d.text), len(d.text), nl + line}
}
