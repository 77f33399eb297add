package plain

import (
	"fmt"
	"io"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"
)

// instead stands where a character was that must not be shown.
const instead = '.'

// turning are the marks that change the direction in which text is read, and the separators that end a line where none
// is seen: UAX #9 (Unicode's bidirectional algorithm), table 4, and U+2028 and U+2029.
var turning = &unicode.RangeTable{R16: []unicode.Range16{
	{Lo: 0x061C, Hi: 0x061C, Stride: 1}, // Arabic letter mark
	{Lo: 0x200E, Hi: 0x200F, Stride: 1}, // left-to-right and right-to-left mark
	{Lo: 0x2028, Hi: 0x202E, Stride: 1}, // separators; embeddings and overrides
	{Lo: 0x2066, Hi: 0x2069, Stride: 1}, // isolates
}}

// Steers reports whether a character does something to a terminal, or to the order in which text
// is read, instead of being shown: control characters, line ends and tabs among them, marks of
// direction, and U+FFFD, which stands for bytes that are no letters.
func Steers(r rune) bool {
	return unicode.IsControl(r) || r == utf8.RuneError || unicode.Is(turning, r)
}

// Text returns a text from outside as one line of letters: a point for each character that Steers.
func Text(s string) string {
	return strings.Map(func(r rune) rune {
		if Steers(r) {
			return instead
		}
		return r
	}, s)
}

// Lines is Text for a text of several lines: line ends and tabs stay.
func Lines(s string) string {
	return strings.Map(func(r rune) rune {
		if Steers(r) && r != '\n' && r != '\t' {
			return instead
		}
		return r
	}, s)
}

// Writer passes text on to another, and writes what Steers as JSON would escape it, but for line
// ends and tabs: lines of JSON say the same as before, and a terminal is left alone. Bytes that
// are no letters become U+FFFD, escaped. Several goroutines may write to it.
type Writer struct {
	mu   sync.Mutex // guards all below
	to   io.Writer
	rest []byte // of a letter that has begun
	out  []byte
	err  error // the first of to
	// failed is told of err once, nil for nobody.
	failed func(error)
	// columns is how wide what it writes to is, 0 unknown; begun is set within a line.
	columns func() int
	begun   bool
}

// WrapAt has lines broken between words where they are wider than columns says, 0 being unknown: those that come
// whole in one Write, but for JSON.
func (w *Writer) WrapAt(columns func() int) { w.columns = columns }

// wrapped breaks the lines of p that are whole.
func (w *Writer) wrapped(p []byte) []byte {
	width := w.columns()
	text := string(p)
	first, rest, whole := strings.Cut(text, "\n")
	head := ""
	if w.begun && whole { // the end of a line that began before
		head, text = first+"\n", rest
	}
	last := text[strings.LastIndexByte(text, '\n')+1:]
	if whole {
		w.begun = last != ""
	} else {
		w.begun = w.begun || text != ""
		return p
	}
	text = strings.TrimSuffix(text, last)
	if width > 0 && !strings.HasPrefix(text, "{") && !strings.HasPrefix(text, "[{") {
		text = Wrap(text, width)
	}
	return []byte(head + text + last)
}

// NewWriter returns a Writer to another.
func NewWriter(to io.Writer) *Writer { return &Writer{to: to} }

// OnFailure has failed told when nothing can be written any more, once. It is called while a Write is under way.
func (w *Writer) OnFailure(failed func(error)) { w.failed = failed }

// put writes to the other, and keeps the first error.
func (w *Writer) put(p []byte) (int, error) {
	n, err := w.to.Write(p)
	if err != nil && w.err == nil {
		if w.err = err; w.failed != nil {
			w.failed(err)
		}
	}
	return n, err
}

// Err returns the first error of writing.
func (w *Writer) Err() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.err
}

// Unwrap returns where the text goes.
func (w *Writer) Unwrap() io.Writer { return w.to }

// Write passes p on. A letter of several bytes whose end is yet to come waits for it.
func (w *Writer) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	length := len(p)
	if w.columns != nil && len(w.rest) == 0 {
		p = w.wrapped(p)
	}
	if len(w.rest) == 0 && isPlain(p) {
		if _, err := w.put(p); err != nil {
			return 0, err
		}
		return length, nil
	}
	text := p
	if len(w.rest) > 0 {
		text = append(w.rest, p...)
	}
	w.out = w.out[:0]
	for len(text) > 0 && utf8.FullRune(text) {
		r, n := utf8.DecodeRune(text)
		w.out = appendShown(w.out, r)
		text = text[n:]
	}
	w.rest = append([]byte(nil), text...)
	if _, err := w.put(w.out); err != nil {
		return 0, err
	}
	return length, nil
}

// Close ends the text: a letter that has only begun is none. It does not close where it goes.
func (w *Writer) Close() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if len(w.rest) == 0 {
		return nil
	}
	w.rest = nil
	_, err := w.put(appendShown(nil, utf8.RuneError))
	return err
}

// isPlain reports whether p is all of ASCII's letters, line ends and tabs.
func isPlain(p []byte) bool {
	for _, b := range p {
		if b < ' ' && b != '\n' && b != '\t' || b >= 0x7F {
			return false
		}
	}
	return true
}

// appendShown appends a character as it is to be shown.
func appendShown(out []byte, r rune) []byte {
	if r == '\n' || r == '\t' || !Steers(r) {
		return utf8.AppendRune(out, r)
	}
	return fmt.Appendf(out, `\u%04x`, r) // those that steer are all of 16 bits
}
