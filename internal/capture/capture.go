package capture

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"strings"

	"evendraw/internal/frame"
	"evendraw/internal/plain"
)

// Version is the capture format that this package writes and reads.
const Version = 1

const (
	magic = "# evendraw capture "
	// tableMagic begins the head of a table, if it has one.
	tableMagic = "# evendraw table "
	headEnd    = "#"
	// maxHeadLine and maxHeadLines bound the head. Chosen: a bike card fits a
	// line.
	maxHeadLine  = 16 << 10
	maxHeadLines = 100
	// sniffBytes is how many bytes are searched for a first printed line. Chosen.
	sniffBytes = 4096
	bom        = "\xEF\xBB\xBF"
)

// Field is one line of a capture's head.
type Field struct{ Key, Value string }

// Head is a capture's head: what was recorded, and with what settings.
type Head []Field

// Get returns the value of the first field of that key, "" when there is none.
func (h Head) Get(key string) string {
	for _, f := range h {
		if f.Key == key {
			return f.Value
		}
	}
	return ""
}

// Error says what is wrong with a file, and where. Line and Byte count from 1; 0 is
// unknown.
type Error struct {
	Line, Byte int
	Problem    string
}

func (e *Error) Error() string {
	switch {
	case e.Line > 0:
		return fmt.Sprintf("line %d: %s", e.Line, e.Problem)
	case e.Byte > 0:
		return fmt.Sprintf("byte %d: %s", e.Byte, e.Problem)
	}
	return e.Problem
}

func wrong(line, at int, format string, args ...any) error {
	return &Error{line, at, fmt.Sprintf(format, args...)}
}

// WriteHead writes the head of a capture to w; the board's bytes come after it. Line ends
// in values are turned into spaces.
func WriteHead(w io.Writer, head Head) error { return writeHead(w, magic, head) }

// WriteTableHead writes the head of a table to w, with the settings that its figures were made with; the names of
// its columns come after it.
func WriteTableHead(w io.Writer, head Head) error { return writeHead(w, tableMagic, head) }

func writeHead(w io.Writer, magic string, head Head) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s%d\n", magic, Version)
	clean := strings.NewReplacer("\n", " ", "\r", " ")
	for _, f := range head {
		fmt.Fprintf(&b, "# %s: %s\n", clean.Replace(f.Key), clean.Replace(f.Value))
	}
	b.WriteString(headEnd + "\n")
	_, err := w.Write(b.Bytes())
	return err
}

// Input is an opened capture or table: one of Bytes and Table is set.
type Input struct {
	Head  Head
	Bytes io.Reader
	Table *Table
	end   *endCounter
}

// CutShort returns how many bytes at the end of what was read of Bytes come after the last
// delimiter, or of printed lines after the last line's end: what a crash in the middle of a
// frame leaves. 0 for a table.
func (in *Input) CutShort() int64 {
	if in.end == nil {
		return 0
	}
	if in.end.delimited {
		return in.end.afterDelimiter
	}
	return in.end.afterLine
}

// endCounter counts the bytes since the last delimiter, 0, and since the last end
// of a line.
type endCounter struct {
	r                         io.Reader
	afterDelimiter, afterLine int64
	delimited                 bool
}

// Read reads and looks for delimiters.
func (c *endCounter) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	if i := bytes.LastIndexByte(p[:n], 0); i >= 0 {
		c.afterDelimiter, c.delimited = int64(n-1-i), true
	} else {
		c.afterDelimiter += int64(n)
	}
	if c.delimited {
		return n, err
	}
	if i := bytes.LastIndexByte(p[:n], '\n'); i >= 0 {
		c.afterLine = int64(n - 1 - i)
	} else {
		c.afterLine += int64(n)
	}
	return n, err
}

func inputOf(head Head, r io.Reader) *Input {
	end := &endCounter{r: r}
	return &Input{Head: head, Bytes: end, end: end}
}

// Open looks at the first bytes of r and returns what it is: a capture, a
// board's bytes or printed lines without a head, or a table, each of them
// compressed with gzip or not. Errors are of type *Error, or r's own.
func Open(r io.Reader) (*Input, error) {
	b := bufio.NewReaderSize(r, 64<<10)
	if start, _ := b.Peek(len(gzipStart)); bytes.Equal(start, gzipStart) {
		u, err := Unpack(b)
		if err != nil {
			return nil, err
		}
		return openPlain(bufio.NewReaderSize(u, 64<<10))
	}
	return openPlain(b)
}

// openPlain is Open for what is not compressed.
func openPlain(b *bufio.Reader) (*Input, error) {
	start, err := b.Peek(len(bom) + len(magic))
	if len(start) == 0 {
		if err == io.EOF {
			return nil, wrong(0, 0, "the file is empty")
		}
		return nil, err
	}
	switch text := strings.TrimPrefix(string(start), bom); {
	case strings.HasPrefix(text, magic):
		head, err := readHead(b, magic)
		return inputOf(head, b), err
	case strings.HasPrefix(text, tableMagic):
		head, err := readHead(b, tableMagic)
		if err != nil {
			return nil, err
		}
		table, err := openTable(b, len(head)+2)
		return &Input{Head: head, Table: table}, err
	case start[0] == 0:
		return inputOf(nil, b), nil
	case isTable(text):
		table, err := openTable(b, 0)
		return &Input{Table: table}, err
	}
	if text, _ := b.Peek(sniffBytes); frame.LooksPrinted(text) {
		return inputOf(nil, b), nil
	}
	return nil, wrong(0, 1, "neither a capture (it would begin %q), nor a board's bytes (00), nor a table (first "+
		"column %s), but %q", magic+"1", timeColumn, plain.Text(string(start)))
}

// isTable reports whether a text begins as the names of a table's columns do.
func isTable(text string) bool {
	text = strings.TrimPrefix(text, string(quote))
	return len(text) >= len(timeColumn) && strings.EqualFold(text[:len(timeColumn)], timeColumn)
}

// readHead reads the head, up to and including the line that ends it.
func readHead(b *bufio.Reader, magic string) (Head, error) {
	var head Head
	for n := 1; n <= maxHeadLines; n++ {
		line, err := b.ReadSlice('\n')
		if err != nil || len(line) > maxHeadLine {
			return nil, wrong(n, 0, "the head does not end")
		}
		text := strings.TrimRight(string(line), "\r\n")
		switch {
		case n == 1:
			if v := strings.TrimPrefix(text, magic); v != fmt.Sprint(Version) {
				return nil, wrong(1, 0, "format %q, this program reads %d: a newer program may read it",
					plain.Text(v), Version)
			}
		case text == headEnd:
			return head, nil
		default:
			key, value, ok := strings.Cut(strings.TrimPrefix(text, "# "), ": ")
			if !ok || !strings.HasPrefix(text, "# ") {
				return nil, wrong(n, 0, "head line %q is not \"# key: value\"",
					plain.Text(string(line[:min(len(line), 60)])))
			}
			head = append(head, Field{key, plain.Text(value)})
		}
	}
	return nil, wrong(maxHeadLines, 0, "the head is longer than %d lines", maxHeadLines)
}
