package card

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// place is where a key with its value, or a table, stands in the text.
type place struct {
	line       int // from 1
	start, end int // of a table, end is that of the last key that is its own
	value      int // where a key's value begins
	inline     bool
}

// finder walks a document's expressions with the parser's part that tells where they stand. Its
// makers may still change that part, hence the name; it is used here only, and every changed text
// is parsed again and compared before it is saved.
type finder struct {
	*Card
	parser  unstable.Parser
	base    int            // offset of the parser's text in the file's
	counted int            // bytes whose lines are counted
	line    int            // at counted
	arrays  map[string]int // how many tables of each [[name]] so far
}

// findPlaces fills in places. Where the parser stops, it stops: Unmarshal tells what is wrong.
func (c *Card) findPlaces(body []byte, base int) {
	f := finder{Card: c, base: base, line: 1, arrays: map[string]int{}}
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
			start = max(f.base, bytes.LastIndexByte(f.text[:f.base+int(k.Raw.Offset)], '\n')+1)
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
	f.inside(name, e.Value())
}

// inside finds what stands in inline tables, alone or in an array.
func (f *finder) inside(name string, v *unstable.Node) {
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
				f.inside(fmt.Sprintf("%s[%d]", name, n), it.Node())
			} else if it.Node().Kind == unstable.InlineTable || it.Node().Kind == unstable.Array {
				f.inside(tooLong, it.Node())
			}
			if it.Node().Kind != unstable.Comment {
				n++
			}
		}
	}
}

// lineFor returns the line of a name, or of the table it would stand in.
func (c *Card) lineFor(name string) int {
	for {
		if p, ok := c.places[name]; ok {
			return p.line
		}
		if p, ok := c.places[name+"[0]"]; ok {
			return p.line
		}
		i := strings.LastIndexAny(name, ".[")
		if i < 0 {
			return 0
		}
		name = name[:i]
	}
}
