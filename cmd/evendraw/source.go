package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/pflag"

	"evendraw/internal/board"
	"evendraw/internal/session"
)

// portOptions choose the board.
type portOptions struct {
	port  string
	baud  int
	world *world
}

func (o *portOptions) addFlags(w *world, f *pflag.FlagSet) {
	o.world = w
	f.StringVar(&o.port, "port", "", "serial port of the board (default: the one board that is plugged in)")
	f.IntVar(&o.baud, "baud", 0, "line speed (default: 500000, 1000000, 250000 and 115200 are tried)")
}

// open opens the board: the port that is named, or the one board there is.
func (o *portOptions) open(ctx context.Context, progress func(board.Progress)) (*board.Link, error) {
	opt := o.options()
	opt.Progress = progress
	if o.port != "" {
		return board.Open(ctx, o.port, opt)
	}
	return board.Find(ctx, opt)
}

// options are the board's.
func (o *portOptions) options() board.Options {
	return board.Options{Baud: o.baud, Dial: o.world.dial, Ports: o.world.ports}
}

// headlessReturn is how long a lost board is waited for without a screen.
// Chosen: a lead is pushed back in within it.
const headlessReturn = 10 * time.Second

// stayOn runs a session over a board, and over the same board again each time it has been
// lost and found, until the session ends. wait bounds how long a lost board is
// waited for; 0 is for ever.
func stayOn(ctx context.Context, sess *session.Session, link *board.Link, o *portOptions, wait time.Duration, news func(string)) error {
	for {
		err := sess.Run(ctx, link)
		var lost *board.Error
		if err == nil || ctx.Err() != nil || !errors.As(err, &lost) {
			link.Close()
			return err
		}
		text := lost.Error()
		again, stop := ctx, func() {}
		if wait > 0 {
			text += fmt.Sprintf("; waiting %g s for it", wait.Seconds())
		}
		news(text)
		if wait > 0 {
			again, stop = context.WithTimeout(ctx, wait)
		}
		found, findErr := board.Reopen(again, link, o.options())
		stop()
		if findErr != nil {
			if ctx.Err() != nil {
				return context.Cause(ctx)
			}
			return err
		}
		link = found
		news("")
	}
}

// garbledAfter is how long bytes may come without a frame before that is told. Chosen: a
// board announces itself once a second, and the user must know within two.
const garbledAfter = 1500 * time.Millisecond

// garbled reports whether what comes is not a board's, or not at this rate.
func garbled(p board.Progress) bool {
	return p.Bytes > 0 && p.Damaged > 0 && p.Waited > garbledAfter
}

// progressText says how the wait for a board goes.
func progressText(p board.Progress) string {
	switch {
	case p.Err != nil:
		return p.Err.Error()
	case garbled(p):
		return fmt.Sprintf("%s: %d bytes but no valid frames: baud or firmware", p.Port, p.Bytes)
	}
	return fmt.Sprintf("%s at %d baud: waiting for it to say what it is", p.Port, p.Baud)
}
