package card

import (
	"bytes"
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

// Writer writes the text of a new card.
type Writer struct{ bytes.Buffer }

// Remark writes lines of comment, and an empty line before them.
func (w *Writer) Remark(text string) {
	w.WriteString("\n# " + strings.ReplaceAll(text, "\n", "\n# ") + "\n")
}

// Set writes a key with its value in TOML.
func (w *Writer) Set(key, value string) { fmt.Fprintf(w, "%s = %s\n", key, value) }

// Optional writes a key whose value may be unknown: then an example in a remark.
func (w *Writer) Optional(key string, known bool, value, example string) {
	if !known {
		w.WriteString("# ")
		value = example
	}
	w.Set(key, value)
}
