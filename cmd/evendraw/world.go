package main

import (
	"math/rand/v2"

	"evendraw/internal/board"
	"evendraw/internal/screen"
)

// world is what the program meets outside of its files: ports and a terminal. The zero value is
// the real one.
type world struct {
	dial  func(path string, baud int) (board.Wire, error)
	ports func() ([]board.Port, error)
	// seed makes practice bikes differ; nil is by chance.
	seed func() uint64
	// display opens the screen; nil is the terminal on standard output, if it is one.
	display func(screen.Options) (display, error)
}

// display shows pictures and takes keys: a screen.Terminal.
type display interface {
	Show(draw func(*screen.Canvas))
	Keys() <-chan string
	Resized() <-chan struct{}
	Gone() <-chan struct{}
	Bell()
	Suspend() error
	Close() error
}

// newSeed is the next practice bike's.
func (w *world) newSeed() uint64 {
	if w.seed != nil {
		return w.seed()
	}
	return rand.Uint64()
}

// openDisplay opens the screen.
func (w *world) openDisplay(o screen.Options) (display, error) {
	if w.display != nil {
		return w.display(o)
	}
	t, err := screen.OpenTerminal(o)
	if err != nil {
		return nil, err // not the nil of *screen.Terminal
	}
	return t, nil
}
