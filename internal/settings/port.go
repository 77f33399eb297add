package settings

import (
	"context"

	"evendraw/internal/board"
)

// Port chooses the board.
type Port struct {
	Path string // serial port; "" is the one board that is plugged in
	Baud int    // line speed, bit/s; 0: the usual ones are tried
}

// Open opens the board: the port that is named, or the one board there is.
func (p Port) Open(ctx context.Context, w *World, progress func(board.Progress)) (*board.Link, error) {
	opt := p.Options(w)
	opt.Progress = progress
	if p.Path != "" {
		return board.Open(ctx, p.Path, opt)
	}
	return board.Find(ctx, opt)
}

// Options are the board's.
func (p Port) Options(w *World) board.Options {
	return board.Options{Baud: p.Baud, Dial: w.Dial, Ports: w.Ports}
}
