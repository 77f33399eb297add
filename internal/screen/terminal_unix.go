//go:build unix

package screen

import (
	"slices"

	"github.com/gdamore/tcell/v2"
)

// openScreen is tcell's screen on the terminal.
func openScreen() (tcell.Screen, error) {
	tty, err := tcell.NewDevTty()
	if err != nil {
		return nil, err
	}
	s, err := tcell.NewTerminfoScreenFromTty(oneEscape{tty})
	if err != nil {
		tty.Close()
	}
	return s, err
}

// oneEscape is a terminal in whose input several Escapes that come in one piece are one. tcell begins to wait for the
// end of a key at the first, at another forgets to end that, and lets none through until some other key comes
// (measured, v2.13.10).
type oneEscape struct{ tcell.Tty }

// Read reads what was typed.
func (t oneEscape) Read(p []byte) (int, error) {
	n, err := t.Tty.Read(p)
	typed := slices.CompactFunc(p[:n], func(a, b byte) bool { return a == escape && b == escape })
	return len(typed), err
}

const escape = '\x1b'
