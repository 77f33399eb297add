package main

import (
	"context"
	"errors"
	"time"

	"evendraw/internal/board"
	"evendraw/internal/frame"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

// source is where the bytes of a run come from: a board, the practice engine, or a
// capture.
type source interface {
	// prepare makes ready for a run without hands on the keys.
	prepare(ctx context.Context) error
	// config is the chain's before a board is known.
	config() session.Config
	// meet waits for the board; news tells how the wait goes.
	meet(ctx context.Context, news func(string)) (*frame.Announcement, error)
	// configFor is the chain's once the board is known, for the head of a capture.
	configFor(a *frame.Announcement) session.Config
	// read runs the session over the bytes, to their end.
	read(ctx context.Context, sess *session.Session, news func(string)) error
	// close gives back what meet or prepare has opened.
	close()
	// dress puts what is known before the first byte into a view.
	dress(v *view.View)
	// own tells whose records the run makes.
	own() ownership
}

// ownership is whose records a run makes.
type ownership int

const (
	nobodys   ownership = iota // none: what is shown was saved before
	practices                  // the practice engine's
	bikes                      // the bike's
)

// boardSource is a real board.
type boardSource struct {
	rig  *rig
	port *portOptions
	link *board.Link
	// wait is how long a lost board is waited for; 0 is for ever.
	wait time.Duration
}

func (b *boardSource) config() session.Config                         { return session.Config{BankOf: b.rig.config} }
func (b *boardSource) configFor(a *frame.Announcement) session.Config { return b.rig.config(a) }
func (b *boardSource) own() ownership                                 { return bikes }
func (b *boardSource) dress(*view.View)                               {}

// prepare opens the board, and fails at once where there is none.
func (b *boardSource) prepare(ctx context.Context) (err error) {
	b.wait = headlessReturn
	b.link, err = b.port.open(ctx, wrongRateTo(b.rig.warns))
	return err
}

// meet opens the board, trying again as long as it may still come.
func (b *boardSource) meet(ctx context.Context, news func(string)) (*frame.Announcement, error) {
	for b.link == nil {
		link, err := b.port.open(ctx, func(p board.Progress) { news(progressText(p)) })
		if err == nil {
			b.link = link
			news("")
			break
		}
		var port *board.Error
		if !errors.As(err, &port) || !mayStillCome(port.Kind) {
			return nil, err
		}
		news(port.Error() + ". " + port.Hint())
		select {
		case <-ctx.Done():
			return nil, context.Cause(ctx)
		case <-time.After(time.Second):
		}
	}
	return b.link.Board(), nil
}

func (b *boardSource) read(ctx context.Context, sess *session.Session, news func(string)) error {
	return stayOn(ctx, sess, b.link, b.port, b.wait, news)
}

func (b *boardSource) close() {
	if b.link != nil {
		b.link.Close()
	}
}

// mayStillCome reports whether a failure may pass while the user looks on.
func mayStillCome(k board.Kind) bool {
	return k == board.NoBoard || k == board.Absent || k == board.Silent || k == board.Vanished
}
