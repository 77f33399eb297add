package settings

import (
	"net"
	"os"

	"evendraw/internal/board"
	"evendraw/internal/screen"
)

// World is what the program meets outside of its files: ports and a terminal. The zero value is the real one.
type World struct {
	Dial  func(path string, baud int) (board.Wire, error)
	Ports func() ([]board.Port, error)
	// Seed makes practice bikes differ; nil is by chance.
	Seed func() uint64
	// Room returns why a run's records would not fit in a folder, nil if they do; nil tries it.
	Room func(dir string) error
	// Spare are the folders in which records may be kept where the garage can't take them; nil are the user's.
	Spare []string
	// Listen opens the port of the page for phones; nil is the system's.
	Listen func(network, addr string) (net.Listener, error)
	// Display opens the screen; nil is the terminal on standard output, if it is one.
	Display func(screen.Options) (Display, error)
}

// Display shows pictures and takes keys: a screen.Terminal.
type Display interface {
	Show(draw func(*screen.Canvas))
	Keys() <-chan string
	Resized() <-chan struct{}
	Gone() <-chan struct{}
	Bell()
	Suspend() error
	Close() error
}

// OpenDisplay opens the screen, without colour where NO_COLOR is set.
func (w *World) OpenDisplay(o screen.Options) (Display, error) {
	o.NoColor = o.NoColor || os.Getenv("NO_COLOR") != ""
	if w.Display != nil {
		return w.Display(o)
	}
	t, err := screen.OpenTerminal(o)
	if err != nil {
		return nil, err // not the nil of *screen.Terminal
	}
	return t, nil
}
