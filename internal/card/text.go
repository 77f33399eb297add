package card

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
)

// Text returns s as a TOML string.
func Text(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case unicode.IsControl(r):
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

// Number returns v as a TOML number, with all of its digits.
func Number[T ~float64](v T) string {
	switch f := float64(v); {
	case math.IsNaN(f):
		return "nan"
	case math.IsInf(f, 1):
		return "inf"
	case math.IsInf(f, -1):
		return "-inf"
	default:
		return strconv.FormatFloat(f, 'f', -1, 64)
	}
}

// List returns a TOML list of values, each made by one.
func List[T any](values []T, one func(T) string) string {
	out := make([]string, len(values))
	for i, v := range values {
		out[i] = one(v)
	}
	return "[" + strings.Join(out, ", ") + "]"
}

// Section returns a table under a header such as [name] or [[name]].
func Section(header string, fields []Field, newline string) string {
	var b strings.Builder
	b.WriteString(header + newline)
	for _, f := range fields {
		b.WriteString(f[0] + " = " + f[1] + newline)
	}
	return b.String()
}

// Values are what a new card is to say: values in TOML, by their keys, and with "" the headers of tables.
type Values map[string]string

// Optional sets the value of a key if it is known.
func (v Values) Optional(key string, known bool, value string) {
	if known {
		v[key] = value
	}
}

// Fill returns the text of a new card by a template. A line "key = …" or "[table]" of it, which may stand in a remark,
// becomes what values has for that key or header; one that they don't have stays as it is.
func Fill(template string, values Values) string {
	var out strings.Builder
	for line := range strings.Lines(template) {
		key, _, _ := strings.Cut(strings.TrimSpace(strings.TrimPrefix(line, "# ")), " = ")
		switch value, ok := values[key]; {
		case !ok:
			out.WriteString(line)
		case value == "":
			out.WriteString(key + "\n")
		default:
			out.WriteString(key + " = " + value + "\n")
		}
	}
	return out.String()
}
