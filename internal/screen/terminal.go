package screen

import (
	"cmp"
	"errors"
	"os"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
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
	// resized has room for one token: changes of size in a row are reported once, and never take the room of a key.
	resized chan struct{}
	done    chan struct{} // closed to end the pump's hand-over
	gone    chan struct{} // closed when the pump has ended
	fd      int
	state   *term.State
	canvas  *Canvas
	// shown are the cells that the library was given last; nil when all must be given again.
	shown []Cell
	// endWatch ends the watch for the signals to suspend, to go on and to quit.
	endWatch func()
	// goneOn is set when the program was stopped and goes on: the terminal may be as the shell has left it.
	goneOn atomic.Bool
	// quits is set when the program is to be ended once the terminal is given back, and by nothing else.
	quits   atomic.Bool
	closing sync.Once
}

// Options choose how a Terminal draws.
type Options struct {
	NoColor bool // no colour: bold and dim only
	ASCII   bool // plain ASCII only
}

// newScreen makes tcell's screen, drawable says why there can be none; tests replace them.
var (
	newScreen = openScreen
	drawable  = canDraw
)

// closeWait is how long the terminal library may take to give the terminal back before it is done without it. tcell's
// Fini can hang after a burst of keys (measured, v2.13.10).
const closeWait = 700 * time.Millisecond

// OpenTerminal takes over the terminal. It fails where there is none, or one
// that the library can't drive, TERM=dumb for one.
func OpenTerminal(opt Options) (*Terminal, error) {
	t := &Terminal{fd: int(os.Stdin.Fd()), canvas: NewCanvas(0, 0), keys: make(chan string, keysKept),
		resized: make(chan struct{}, 1), done: make(chan struct{}), gone: make(chan struct{})}
	if err := drawable(); err != nil {
		return nil, err
	}
	t.state, _ = term.GetState(t.fd) // none on a simulated screen
	forgetWrongSize()
	s, err := newScreen()
	if err != nil {
		return nil, err
	}
	if err := s.Init(); err != nil {
		return nil, err
	}
	t.screen = s
	t.styles = styles(opt.NoColor)
	s.HideCursor()
	s.EnablePaste()
	t.canvas.ASCII = opt.ASCII || plainLocale(os.Getenv)
	t.endWatch = watchSignals(func() { t.send(view.KeyCtrlZ) }, func() {
		t.goneOn.Store(true)
		t.askForPicture()
	}, func() {
		t.quits.Store(true)
		t.Close()
	})
	go t.pump()
	return t, nil
}

// mostCells is the widest and the highest terminal whose size is believed when the environment tells it.
// Chosen: ten times the largest there are.
const mostCells = 5000

// forgetWrongSize takes a size out of the environment that none can have: the library believes it, even
// where the terminal says otherwise.
func forgetWrongSize() {
	for _, name := range []string{"LINES", "COLUMNS"} {
		if n, err := strconv.Atoi(os.Getenv(name)); err != nil || n < 1 || n > mostCells {
			os.Unsetenv(name)
		}
	}
}

// plainLocale reports whether the environment's letters are not those of UTF-8, or
// lines and blocks are two columns wide there: both ask for plain ASCII.
func plainLocale(env func(string) string) bool {
	if env("RUNEWIDTH_EASTASIAN") == "1" {
		return true
	}
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if v := env(name); v != "" {
			v = strings.ToUpper(v)
			return !strings.Contains(v, "UTF-8") && !strings.Contains(v, "UTF8")
		}
	}
	return false
}

// The colours are two of Okabe and Ito's palette for colour-blind people (2008), bluish green and vermilion, values
// from memory. Of that palette they are the two farthest apart that keep a contrast of 3:1 on white and on black alike
// (WCAG 2.1, 1.4.11), so that light and dark terminals need no setting.
var (
	bluishGreen = tcell.NewRGBColor(0, 158, 115)
	vermilion   = tcell.NewRGBColor(213, 94, 0)
)

// styles turns roles into looks.
func styles(noColor bool) map[view.Role]tcell.Style {
	base := tcell.StyleDefault
	m := map[view.Role]tcell.Style{
		view.Plain: base, view.Dim: base.Dim(true), view.Strong: base.Bold(true),
		view.Code: base.Foreground(tcell.NewRGBColor(0, 0, 0)).Background(tcell.NewRGBColor(255, 255, 255)),
		view.Good: base.Bold(true), view.Warn: base.Bold(true).Underline(true), view.Bad: base.Bold(true).Reverse(true),
	}
	if !noColor {
		m[view.Good] = base.Bold(true).Foreground(bluishGreen)
		m[view.Warn] = base.Bold(true).Foreground(vermilion)
		m[view.Bad] = base.Bold(true).Foreground(vermilion).Reverse(true)
	}
	return m
}

// style is a cell's look. Blocks fill their cell: reversed, they would not show.
func (t *Terminal) style(cell Cell) tcell.Style {
	s := t.styles[cell.Role]
	if strings.ContainsRune("█▀▄", cell.Rune) {
		return s.Reverse(false).Underline(false)
	}
	return s
}

// Keys gives keys as view.KeyPress has them.
func (t *Terminal) Keys() <-chan string { return t.keys }

// Resized gives a token when the size has changed: the picture is to be shown again.
func (t *Terminal) Resized() <-chan struct{} { return t.resized }

// Show puts on the terminal what draw draws on an empty canvas. The library gets only the cells that have
// changed, as a cell takes it ten times as long as drawing it does.
func (t *Terminal) Show(draw func(*Canvas)) {
	if t.goneOn.Swap(false) && t.away(func() {}) != nil {
		return // the terminal has gone, which the pump notes
	}
	c := t.canvas
	width, height := t.screen.Size()
	if width != c.Width || height != c.Height || t.shown == nil {
		t.screen.Clear()
		t.shown = make([]Cell, width*height)
	}
	c.Resize(width, height)
	draw(c)
	changed := false
	for i, cell := range c.cells {
		if cell == t.shown[i] {
			continue
		}
		t.shown[i], changed = cell, true
		if cell.Rune != 0 {
			t.screen.SetContent(i%width, i/width, cell.Rune, nil, t.style(cell))
		}
	}
	if changed {
		t.screen.Show()
	}
}

// Bell rings the terminal's bell, as far as the terminal has one.
func (t *Terminal) Bell() { t.screen.Beep() }

// Suspend gives the terminal back, stops the program until the shell resumes it, and takes
// the terminal over again. Where programs can't be stopped it does nothing.
func (t *Terminal) Suspend() error {
	if !canStop {
		return nil
	}
	return t.away(stopSelf)
}

// away gives the terminal back, does something, and takes the terminal over again, whatever was done to it.
func (t *Terminal) away(do func()) error {
	if err := t.screen.Suspend(); err != nil {
		return err
	}
	do()
	if err := t.screen.Resume(); err != nil {
		return err
	}
	t.shown = nil
	t.screen.Sync()
	return nil
}

// askForPicture has the picture shown again.
func (t *Terminal) askForPicture() {
	select {
	case t.resized <- struct{}{}:
	default: // a token waits
	}
}

const (
	// keysKept is how many keys wait to be handled, and lastPlaces how many of these places are for keys that may
	// leave: what a key that is held down types takes all but those. Chosen.
	keysKept   = 64
	lastPlaces = 8
)

// send hands on a key, or drops it when there is no room.
func (t *Terminal) send(key string) {
	if key == "" || key != "q" && key != view.KeyCtrlC && len(t.keys) >= keysKept-lastPlaces {
		return
	}
	select {
	case t.keys <- key:
	case <-t.done:
	default:
	}
}

// pump hands on events until the screen is closed. It never stops taking them:
// the library's Fini hangs when nobody does.
func (t *Terminal) pump() {
	defer func() {
		if !t.quits.Load() {
			close(t.gone)
		}
	}()
	var paste paste
	for {
		switch e := t.screen.PollEvent().(type) {
		case nil:
			return
		case *tcell.EventPaste:
			t.send(paste.end())
			paste.on, paste.last = e.Start(), e.When()
		case *tcell.EventKey:
			for _, key := range keysOf(e) {
				if paste.take(key, e.When()) {
					continue
				}
				t.send(paste.end())
				t.send(key)
			}
		case *tcell.EventResize:
			t.askForPicture()
		case *tcell.EventError: // the terminal has died: nothing else will come
			return
		}
	}
}

// Gone is closed when the terminal has died, or was closed.
func (t *Terminal) Gone() <-chan struct{} { return t.gone }

// keyNames are the keys that are no letters. Page Down is what a presenter in the hand sends for "next" (common
// practice, no source).
var keyNames = map[tcell.Key]string{
	tcell.KeyEscape: view.KeyEscape, tcell.KeyCtrlC: view.KeyCtrlC, tcell.KeyCtrlZ: view.KeyCtrlZ,
	tcell.KeyLeft: view.KeyLeft, tcell.KeyRight: view.KeyRight, tcell.KeyUp: view.KeyUp, tcell.KeyDown: view.KeyDown,
	tcell.KeyTab: view.KeyTab, tcell.KeyEnter: view.KeyEnter,
	tcell.KeyPgDn: view.KeyPageDown, tcell.KeyPgUp: view.KeyPageUp,
	tcell.KeyBackspace: view.KeyBackspace, tcell.KeyBackspace2: view.KeyBackspace,
}

// keysOf names the key of an event. One with Alt is Escape and then that key, which came so fast after it that the
// library took them for one: a busy machine reads late. It has those below the space as letters with Control.
func keysOf(e *tcell.EventKey) []string {
	key := keyNames[e.Key()]
	switch {
	case e.Key() == tcell.KeyRune && e.Modifiers()&tcell.ModCtrl != 0:
		key = cmp.Or(keyNames[tcell.Key(e.Rune()&0x1F)],
			keyNames[tcell.NewEventKey(tcell.KeyRune, e.Rune(), tcell.ModCtrl).Key()])
	case e.Key() == tcell.KeyRune:
		key = string(e.Rune())
	}
	if e.Modifiers()&tcell.ModAlt != 0 {
		return []string{view.KeyEscape, key}
	}
	return []string{key}
}

// ErrStuck says that the terminal library did not give the terminal back in time, and
// that the terminal was restored without it.
var ErrStuck = errors.New("the terminal was slow to be given back")

// Close gives the terminal back as it was. It may be called again, and from several goroutines: each waits for it.
func (t *Terminal) Close() (err error) {
	t.closing.Do(func() { err = t.giveBack() })
	return err
}

func (t *Terminal) giveBack() error {
	close(t.done)
	t.endWatch()
	finished := make(chan struct{})
	go func() {
		t.screen.Fini()
		close(finished)
	}()
	select {
	case <-finished:
		return nil
	case <-time.After(closeWait):
		// Leave the alternate screen, show the cursor, mark no pastes, plain letters.
		os.Stdout.WriteString("\x1b[?1049l\x1b[?25h\x1b[?2004l\x1b[0m")
		if t.state != nil {
			term.Restore(t.fd, t.state)
		}
		return ErrStuck
	}
}
