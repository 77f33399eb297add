package job

import (
	"context"
	"errors"
	"fmt"
	"time"

	"evendraw/internal/board"
	"evendraw/internal/session"
)

// Port chooses the board.
type Port struct {
	Path string // serial port; "" is the one board that is plugged in
	Baud int    // line speed, bit/s; 0: the usual ones are tried
}

// open opens the board: the port that is named, or the one board there is.
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

// FrameWait is how long a board may send no frame that can be used before a pass or a checkup is given
// up. Chosen: one that restarts in the middle is back within two seconds.
const FrameWait = 5 * time.Second

// headlessReturn is how long a lost board is waited for without a screen. Chosen: a lead is pushed back in within it.
const headlessReturn = 10 * time.Second

// stayOn runs a session over a board, and over the same board again each time it has been lost and found, until the
// session ends. wait bounds how long a lost board is waited for; 0 is for ever.
func stayOn(ctx context.Context, sess *session.Session, link *board.Link, opt board.Options, wait time.Duration,
	news func(string)) error {
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
		found, findErr := board.Reopen(again, link, opt)
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
