package job

import (
	"bufio"
	"errors"
	"io"
	"os"
	"runtime"

	"golang.org/x/term"

	"evendraw/internal/plain"
)

// prompt stands before what is typed.
const prompt = "> "

// errKeyEnds is Ctrl-C or Ctrl-D where keys are no signals.
var errKeyEnds = errors.New("left by a key")

// typing takes lines from the keyboard while others are printed: these go above the line that is being typed, which
// stays whole. What is printed passes through out.
type typing struct {
	lines *term.Terminal
	out   *plain.Writer
}

// newTyping takes lines from in, a terminal that passes on every key, and echoes and prints to out.
func newTyping(in io.Reader, out io.Writer) *typing {
	t := &typing{lines: term.NewTerminal(struct {
		io.Reader
		io.Writer
	}{in, out}, prompt)}
	t.out = plain.NewWriter(t.lines)
	return t
}

// openTyping has the terminal pass on every key, until it is given back; t is nil where there is none that can, or all
// that is printed is JSON. Windows' console may show as letters what moves the cursor: there lines are torn.
func openTyping(std *Streams, asJSON bool) (t *typing, giveBack func()) {
	none := func() {}
	if asJSON || runtime.GOOS == "windows" || !IsTerminal(std.Out) {
		return nil, none
	}
	in := int(os.Stdin.Fd())
	before, err := term.MakeRaw(in)
	if err != nil {
		return nil, none
	}
	t = newTyping(std.In, os.Stdout)
	if columns, rows, err := term.GetSize(in); err == nil {
		t.lines.SetSize(columns, rows)
		t.out.WrapAt(func() int { return columns })
	}
	return t, func() {
		t.lines.SetPrompt("")
		os.Stdout.WriteString("\r\x1b[K") // the line that was begun goes
		term.Restore(in, before)
	}
}

// orLines returns what reads the next line: of t, or of in where t is nil.
func (t *typing) orLines(in io.Reader) func() (line string, err error) {
	if t != nil {
		return func() (string, error) {
			line, err := t.lines.ReadLine()
			if errors.Is(err, io.EOF) {
				return "", errKeyEnds
			}
			if errors.Is(err, term.ErrPasteIndicator) {
				err = nil
			}
			return line, err
		}
	}
	lines := bufio.NewScanner(in)
	return func() (string, error) {
		if lines.Scan() {
			return lines.Text(), nil
		}
		return "", io.EOF
	}
}
