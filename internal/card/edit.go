package card

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// Op is one change of a card: of its text, and of what it is to say then.
type Op func(e *edit)

// Field is a key, and its value in TOML.
type Field [2]string

// Set gives a key of a table a value in TOML. The table, which must be there, is named as it
// stands, such as "zero", "screw[1]" for the second [[screw]], or "" for the keys before all
// tables. A key that is not there yet comes after the last of its table.
func Set(table, key, value string) Op {
	return func(e *edit) { e.set(table, key, value, "") }
}

// SetAfter is Set in the keys before all tables; a key that is not there yet comes after another.
func SetAfter(after, key, value string) Op {
	return func(e *edit) { e.set("", key, value, after) }
}

// Append puts a table at the end of the text, an empty line before it. The header is as it stands:
// "[name]", or "[[name]]" for one more of that name.
func Append(header string, fields []Field) Op {
	return func(e *edit) {
		nl := e.newline()
		e.end += nl + Section(header, fields, nl)
		section := map[string]any{}
		for _, f := range fields {
			section[f[0]] = e.value(f[1])
		}
		name := strings.Trim(header, "[]")
		if !strings.HasPrefix(header, "[[") {
			e.want[name] = section
			return
		}
		list, _ := e.want[name].([]any)
		e.want[name] = append(list, section)
	}
}

// DropFirst takes the first n of the tables [[name]] away, each with the empty line after it.
func DropFirst(name string, n int) Op {
	return func(e *edit) {
		list, _ := e.want[name].([]any)
		if n = min(n, len(list)); n <= 0 {
			return
		}
		for i := range n {
			if p, ok := e.places[fmt.Sprintf("%s[%d]", name, i)]; ok && !p.inline {
				e.changes = append(e.changes, change{p.start, e.pastEmptyLine(e.after(p.end, "").from), ""})
			}
		}
		if e.want[name] = list[n:]; n == len(list) {
			delete(e.want, name)
		}
	}
}

// ErrUnverified is the error of an Edit that was refused.
var ErrUnverified = errors.New("its text could not be changed without changing more than was meant")

// Edit returns the text with changes made, and everything else in it as it was. The Card itself
// stays as it is. The error is ErrUnverified when the text would not say what it is to say.
func (c *Card) Edit(ops ...Op) ([]byte, error) {
	before, err := Parse(c.text) // whose tree may be changed
	if err != nil {
		return nil, err
	}
	e := &edit{Card: c, want: before.tree}
	for _, op := range ops {
		op(e)
	}
	text := e.applied()
	after, err := Parse(text)
	if err == nil {
		err = e.err
	}
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrUnverified, err)
	}
	if !same(e.want, after.tree) {
		return nil, ErrUnverified
	}
	return text, nil
}

// same compares what two texts say. Printed, NaN is equal to itself, and keys come in order.
func same(a, b map[string]any) bool { return fmt.Sprintf("%#v", a) == fmt.Sprintf("%#v", b) }

// edit is an Edit at work.
type edit struct {
	*Card
	changes []change
	end     string         // to be put at the end of the text
	want    map[string]any // what the text is to say
	err     error
}

// change is a piece of text to put in the place of another.
type change struct {
	from, to int
	text     string
}

// value returns what a value in TOML says.
func (e *edit) value(text string) any {
	var tree map[string]any
	if err := toml.Unmarshal([]byte("v = "+text), &tree); err != nil {
		e.err = err
	}
	return tree["v"]
}

func (e *edit) set(table, key, value, after string) {
	if values := e.tableWanted(table); values != nil {
		values[key] = e.value(value)
	}
	t := e.places[table]
	switch p, there := e.places[join(table, key)]; {
	case there:
		e.changes = append(e.changes, change{p.value, p.end, value})
	case after != "":
		e.changes = append(e.changes, e.after(e.places[after].end, key+" = "+value))
	case t.inline:
		e.changes = append(e.changes, change{t.end, t.end, fmt.Sprintf(", %s = %s", key, value)})
	default:
		e.changes = append(e.changes, e.after(t.end, key+" = "+value))
	}
}

// tableWanted returns the values that a table is to have, nil if there is no such table.
func (e *edit) tableWanted(name string) map[string]any {
	if name == "" {
		return e.want
	}
	name, index, isList := strings.Cut(strings.TrimSuffix(name, "]"), "[")
	v := e.want[name]
	if i, err := strconv.Atoi(index); isList && err == nil {
		if list, _ := v.([]any); i < len(list) {
			v = list[i]
		}
	}
	values, _ := v.(map[string]any)
	return values
}

// applied returns the text with changes made, which don't overlap. Those at one place stay in order.
func (e *edit) applied() []byte {
	slices.SortStableFunc(e.changes, func(a, b change) int { return a.from - b.from })
	var out []byte
	at := 0
	for _, c := range e.changes {
		out = append(out, e.text[at:c.from]...)
		out = append(out, c.text...)
		at = c.to
	}
	out = append(out, e.text[at:]...)
	if n := len(e.text); e.end != "" && n > 0 && e.text[n-1] != '\n' {
		out = append(out, e.newline()...)
	}
	return append(out, e.end...)
}

// newline returns how the text ends its lines.
func (e *edit) newline() string {
	if i := bytes.IndexByte(e.text, '\n'); i > 0 && e.text[i-1] == '\r' {
		return "\r\n"
	}
	return "\n"
}

// after returns the change that puts a line after the one of an offset.
func (e *edit) after(offset int, line string) change {
	nl := e.newline()
	if i := bytes.IndexByte(e.text[offset:], '\n'); i >= 0 {
		offset += i + 1
		return change{offset, offset, line + nl}
	}
	return change{len(e.text), len(e.text), nl + line}
}

// pastEmptyLine returns the offset behind an empty line, if one begins at offset.
func (e *edit) pastEmptyLine(offset int) int {
	rest := bytes.TrimPrefix(bytes.TrimPrefix(e.text[offset:], []byte("\r")), []byte("\n"))
	if n := len(e.text) - offset - len(rest); n > 0 && e.text[offset+n-1] == '\n' {
		return offset + n
	}
	return offset
}
