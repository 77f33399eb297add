// Package typing takes lines that are typed at a terminal while others are printed there: Open has the terminal pass on
// every key, Lines.Next reads a line, and what goes through Lines.Out is printed above the line that is being typed,
// which stays whole. Where that can't be, lines are read as they come. A Dialogue asks, and is answered by lines.
package typing

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime"

	"golang.org/x/term"

	"evendraw/internal/plain"
)

// prompt stands before what is typed.
const prompt = "> "

// ErrKeyEnds is Ctrl-C or Ctrl-D where keys are no signals.
var ErrKeyEnds = errors.New("left by a key")

// Lines are what is typed at a terminal; nil where it is none that passes on every key.
type Lines struct {
	terminal *term.Terminal
	out      *plain.Writer
}

// newLines takes lines from in, a terminal that passes on every key, and echoes and prints to out.
func newLines(in io.Reader, out io.Writer) *Lines {
	l := &Lines{terminal: term.NewTerminal(struct {
		io.Reader
		io.Writer
	}{in, out}, prompt)}
	l.out = plain.NewWriter(l.terminal)
	return l
}

// Open has the terminal on standard input and output pass on every key to in, until it is given back; l is nil where it
// can't. Windows' console may show as letters what moves the cursor: there lines are torn.
func Open(in io.Reader) (l *Lines, giveBack func()) {
	none := func() {}
	if runtime.GOOS == "windows" {
		return nil, none
	}
	keys := int(os.Stdin.Fd())
	before, err := term.MakeRaw(keys)
	if err != nil {
		return nil, none
	}
	l = newLines(in, os.Stdout)
	if columns, rows, err := term.GetSize(keys); err == nil {
		l.terminal.SetSize(columns, rows)
		l.out.WrapAt(func() int { return columns })
	}
	return l, func() {
		l.terminal.SetPrompt("")
		os.Stdout.WriteString("\r\x1b[K") // the line that was begun goes
		term.Restore(keys, before)
	}
}

// Out takes what is to be printed meanwhile. l is not nil.
func (l *Lines) Out() io.Writer { return l.out }

// OnFailure has failed told when nothing can be printed any more, once. l is not nil.
func (l *Lines) OnFailure(failed func(error)) { l.out.OnFailure(failed) }

// CantWrite says that standard output takes nothing more, and why.
func CantWrite(why error) error { return fmt.Errorf("standard output can't be written: %w", why) }

// Comes reports whether lines may come from in while the program runs: from a terminal or a pipe, not from a file or
// from nothing.
func Comes(in io.Reader) bool {
	f, ok := in.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&(os.ModeNamedPipe|os.ModeSocket) != 0 || term.IsTerminal(int(f.Fd()))
}

// Next returns what reads the next line: of l, or of in where l is nil.
func (l *Lines) Next(in io.Reader) func() (line string, err error) {
	if l != nil {
		return l.read
	}
	lines := bufio.NewScanner(in)
	return func() (string, error) {
		if lines.Scan() {
			return lines.Text(), nil
		}
		return "", io.EOF
	}
}

// read reads a line; one that was pasted counts as typed.
func (l *Lines) read() (string, error) {
	line, err := l.terminal.ReadLine()
	switch {
	case errors.Is(err, io.EOF):
		return "", ErrKeyEnds
	case errors.Is(err, term.ErrPasteIndicator):
		err = nil
	}
	return line, err
}

// Columns returns how wide the terminal is to which w writes, 0 where that is none.
func Columns(w io.Writer) int {
	f, ok := w.(*os.File)
	if !ok {
		return 0
	}
	columns, _, err := term.GetSize(int(f.Fd()))
	if err != nil {
		return 0
	}
	return columns
}

// IsTerminal reports whether w and standard input are a terminal.
func IsTerminal(w io.Writer) bool {
	if shown, ok := w.(*plain.Writer); ok {
		w = shown.Unwrap()
	}
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd())) && term.IsTerminal(int(os.Stdin.Fd()))
}
