package typing

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A line that is printed while another is typed goes above it: what was typed stands whole again below, and is read
// whole.
func TestPrintedLinesTearNoTypedOne(t *testing.T) {
	t.Parallel()
	keys, typist := io.Pipe()
	var shown bytes.Buffer
	typed := newLines(keys, &shown)
	next := typed.Next(nil)
	got := make(chan string)
	go func() {
		line, err := next()
		if err != nil {
			t.Error(err)
		}
		got <- line
		if _, err = next(); err != ErrKeyEnds {
			t.Errorf("after Ctrl-C: %v", err)
		}
		got <- ""
	}()
	typist.Write([]byte("made"))
	typist.Write([]byte(" ")) // taken: what was written before has been echoed
	io.WriteString(typed.Out(), "  12.0 s  1050 rpm  HANDS OFF 3\n")
	typist.Write([]byte("3/4\r"))
	if line := <-got; line != "made 3/4" {
		t.Errorf("read %q", line)
	}
	typist.Write([]byte{3})
	<-got
	text := shown.String()
	printed := strings.Index(text, "HANDS OFF 3\r\n")
	if printed < 0 || !strings.Contains(text[printed:], prompt+"made") {
		t.Errorf("shown: %q", text)
	}
}

// nowhere takes nothing.
type nowhere struct{}

func (nowhere) Write([]byte) (int, error) { return 0, io.ErrClosedPipe }

// Whose lines nobody gets is told of it, once.
func TestPrintedNowhere(t *testing.T) {
	t.Parallel()
	typed, told := newLines(strings.NewReader(""), nowhere{}), []error{}
	typed.OnFailure(func(err error) { told = append(told, CantWrite(err)) })
	for range 3 {
		io.WriteString(typed.Out(), "  12.0 s\n")
	}
	if len(told) != 1 || told[0].Error() != "standard output can't be written: "+io.ErrClosedPipe.Error() {
		t.Errorf("told %v", told)
	}
}

// Lines come from a pipe, as from a terminal; not from a file, from nothing, or from what is no file at all.
func TestLinesComeFromAPipe(t *testing.T) {
	t.Parallel()
	pipe, end, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer pipe.Close()
	defer end.Close()
	file, err := os.Create(filepath.Join(t.TempDir(), "lines"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	nothing, err := os.Open(os.DevNull)
	if err != nil {
		t.Fatal(err)
	}
	defer nothing.Close()
	for want, in := range map[bool][]io.Reader{true: {pipe}, false: {file, nothing, strings.NewReader("q")}} {
		for _, r := range in {
			if got := Comes(r); got != want {
				t.Errorf("%T %v: %v", r, r, got)
			}
		}
	}
}
