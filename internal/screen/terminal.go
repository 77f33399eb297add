package screen

import (
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/gdamore/tcell/v2"
	"golang.org/x/term"

	"evendraw/internal/view"
)

// Terminal shows canvases on a terminal and hands on its keys.
type Terminal struct {
	screen tcell.Screen
	styles map[view.Role]tcell.Style
	keys   chan string
	done   chan struct{} // closed to end the pump's hand-over
	ended  chan struct{} // closed when the pump has ended
	fd     int
	state  *term.State
	ascii  bool
}

// Options choose how a Terminal draws.
type Options struct {
	NoColor bool // no colour: bold and dim only
	ASCII   bool // plain ASCII only
}

// newScreen makes tcell's screen; tests replace it.
var newScreen = tcell.NewScreen

// closeWait is how long the terminal library may take to give the terminal
// back before it is done without it. tcell's Fini can hang after a burst of
// keys (measured, v2.13.10).
const closeWait = time.Second

// OpenTerminal takes over the terminal. It fails where there is none, or one
// that the library can't drive, TERM=dumb for one.
func OpenTerminal(opt Options) (*Terminal, error) {
	t := &Terminal{fd: int(os.Stdin.Fd()), ascii: opt.ASCII, keys: make(chan string, 64),
		done: make(chan struct{}), ended: make(chan struct{})}
	t.state, _ = term.GetState(t.fd) // none on a simulated screen
	s, err := newScreen()
	if err != nil {
		return nil, fmt.Errorf("screen: %w", err)
	}
	if err := s.Init(); err != nil {
		return nil, fmt.Errorf("screen: %w", err)
	}
	t.screen = s
	t.styles = styles(opt.NoColor)
	s.HideCursor()
	go t.pump()
	return t, nil
}

// styles turns roles into looks. The colours are those of Okabe and Ito's
// palette for colour-blind people (2008): bluish green, orange, vermilion;
// values from memory.
func styles(noColor bool) map[view.Role]tcell.Style {
	base := tcell.StyleDefault
	m := map[view.Role]tcell.Style{
		view.Plain: base, view.Dim: base.Dim(true), view.Strong: base.Bold(true),
		view.Good: base.Bold(true), view.Warn: base.Bold(true), view.Bad: base.Bold(true).Reverse(true),
	}
	if !noColor {
		m[view.Good] = base.Bold(true).Foreground(tcell.NewRGBColor(0, 158, 115))
		m[view.Warn] = base.Bold(true).Foreground(tcell.NewRGBColor(230, 159, 0))
		m[view.Bad] = base.Bold(true).Foreground(tcell.NewRGBColor(213, 94, 0))
	}
	return m
}

// Keys gives keys as view.KeyPress has them; it is closed when the terminal has
// gone. "resize" tells that the size has changed.
func (t *Terminal) Keys() <-chan string { return t.keys }

// Resized is what Keys gives when the size has changed.
const Resized = "resize"

// Size returns the terminal's columns and rows.
func (t *Terminal) Size() (width, height int) { return t.screen.Size() }

// Canvas returns an empty canvas of the terminal's size.
func (t *Terminal) Canvas() *Canvas {
	c := NewCanvas(t.Size())
	c.ASCII = t.ascii
	return c
}

// Show puts a canvas on the terminal.
func (t *Terminal) Show(c *Canvas) {
	t.screen.Clear()
	for y := range c.Height {
		for x := range c.Width {
			cell := c.At(x, y)
			t.screen.SetContent(x, y, cell.Rune, nil, t.styles[cell.Role])
		}
	}
	t.screen.Show()
}

// pump hands on events until the screen is closed. It never stops taking them:
// the library's Fini hangs when nobody does.
func (t *Terminal) pump() {
	defer close(t.ended)
	defer close(t.keys)
	for {
		e := t.screen.PollEvent()
		if e == nil {
			return
		}
		key := ""
		switch e := e.(type) {
		case *tcell.EventKey:
			key = keyName(e)
		case *tcell.EventResize:
			key = Resized
		case *tcell.EventError: // the terminal has died: nothing else will come
			return
		}
		if key == "" {
			continue
		}
		select {
		case t.keys <- key:
		case <-t.done:
		default: // a flood of keys: the rest is dropped
		}
	}
}

// keyNames are the keys that are no letters.
var keyNames = map[tcell.Key]string{
	tcell.KeyEscape: view.KeyEscape, tcell.KeyCtrlC: view.KeyCtrlC, tcell.KeyLeft: view.KeyLeft, tcell.KeyRight: view.KeyRight,
	tcell.KeyUp: view.KeyUp, tcell.KeyDown: view.KeyDown, tcell.KeyTab: view.KeyTab,
	tcell.KeyEnter: view.KeyEnter, tcell.KeyBackspace: view.KeyBackspace, tcell.KeyBackspace2: view.KeyBackspace,
}

func keyName(e *tcell.EventKey) string {
	if e.Key() == tcell.KeyRune {
		return string(e.Rune())
	}
	return keyNames[e.Key()]
}

// ErrStuck tells that the terminal library did not give the terminal back, and
// that it was taken from it.
var ErrStuck = errors.New("screen: the terminal was slow to be given back")

// Close gives the terminal back as it was.
func (t *Terminal) Close() error {
	close(t.done)
	finished := make(chan struct{})
	go func() {
		t.screen.Fini()
		close(finished)
	}()
	select {
	case <-finished:
		return nil
	case <-time.After(closeWait):
		// Leave the alternate screen, show the cursor, plain letters.
		os.Stdout.WriteString("\x1b[?1049l\x1b[?25h\x1b[0m")
		if t.state != nil {
			term.Restore(t.fd, t.state)
		}
		return ErrStuck
	}
}
