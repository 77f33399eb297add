package job

import (
	"context"
	"errors"
	"fmt"
	"time"

	"evendraw/internal/board"
	"evendraw/internal/session"
)

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
