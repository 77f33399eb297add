package job

import (
	"context"
	"errors"
	"io"
	"time"

	"evendraw/internal/board"
	"evendraw/internal/commission"
	"evendraw/internal/frame"
	"evendraw/internal/keep"
	"evendraw/internal/practice"
	"evendraw/internal/session"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
	"evendraw/internal/view"
)

// source is where the bytes of a run come from: a board, the practice engine, or a capture.
type source interface {
	// prepare makes ready for a run without hands on the keys; warn tells what does not stop it.
	prepare(ctx context.Context, warn func(string)) error
	// config is the chain's for a board, for the head of a capture too; nil: none is known yet.
	config(a *frame.Announcement) session.Config
	// meet waits for the board; news tells how the wait goes.
	meet(ctx context.Context, news func(string)) (*frame.Announcement, error)
	// read runs the session over the bytes, to their end.
	read(ctx context.Context, sess *session.Session, news func(string)) error
	// close gives back what meet or prepare has opened.
	close()
	// describe puts what is known before the first byte into a view.
	describe(v *view.View)
	// own tells whose records the run makes.
	own() keep.Ownership
}

// boardSource is a real board.
type boardSource struct {
	world *settings.World
	port  settings.Port
	bank  func(*frame.Announcement) session.Config // the settings in force for a board
	link  *board.Link
	// wait is how long a lost board is waited for; 0 is for ever.
	wait time.Duration
	// bare shows a board without a program; each word on install says that the user wants one on it, or agrees.
	bare    func(view.BareBoard)
	install chan struct{}
}

func (b *boardSource) own() keep.Ownership { return keep.Bike }
func (b *boardSource) describe(*view.View) {}

func (b *boardSource) config(a *frame.Announcement) session.Config {
	if a == nil {
		return session.Config{BankOf: b.bank}
	}
	return b.bank(a)
}

// prepare opens the board, and fails at once where there is none.
func (b *boardSource) prepare(ctx context.Context, warn func(string)) (err error) {
	b.wait = headlessReturn
	b.link, err = b.port.Open(ctx, b.world, wrongRateTo(warn))
	return err
}

// meet opens the board, trying again as long as it may still come.
func (b *boardSource) meet(ctx context.Context, news func(string)) (*frame.Announcement, error) {
	var bare *tell.OnBoard // what is seen of a board without a program at path
	var path string
	for b.link == nil {
		link, asked, err := b.openOrAsked(ctx, bare != nil, news)
		if asked {
			link, err = b.putProgram(ctx, path, bare, news)
		}
		if err == nil {
			b.link = link
			news("")
			break
		}
		var port *board.Error
		if !errors.As(err, &port) || !mayStillCome(port.Kind) {
			return nil, err
		}
		if bare, path = nil, port.Port; port.Kind == board.Silent {
			bare, _ = commission.SeenIn(err)
			b.bare(view.BareBoard{Port: path})
		} else {
			b.bare(view.BareBoard{})
		}
		news(port.Error() + ". " + port.Hint())
		select {
		case <-ctx.Done():
			return nil, context.Cause(ctx)
		case <-time.After(time.Second):
		}
	}
	b.bare(view.BareBoard{})
	return b.link.Board(), nil
}

func (b *boardSource) read(ctx context.Context, sess *session.Session, news func(string)) error {
	return stayOn(ctx, sess, b.link, b.port.Options(b.world), b.wait, news)
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

// practiceSource is the practice engine in the place of a board.
type practiceSource struct {
	*practice.Bike
	unkept bool   // no records are made
	fast   bool   // as fast as the machine goes
	before func() // nil, or called before each read: what hands do in between
}

func (p *practiceSource) config(*frame.Announcement) session.Config   { return p.Config() }
func (p *practiceSource) prepare(context.Context, func(string)) error { return p.Prepare() }
func (p *practiceSource) close()                                      {}
func (p *practiceSource) describe(v *view.View)                       { p.Describe(v) }
func (p *practiceSource) meet(context.Context, func(string)) (*frame.Announcement, error) {
	return practice.Announcement(p.Bank), nil
}

func (p *practiceSource) own() keep.Ownership {
	if p.unkept {
		return keep.None
	}
	return keep.Practice
}

func (p *practiceSource) read(ctx context.Context, sess *session.Session, _ func(string)) error {
	var src io.Reader = p.Engine
	if !p.fast {
		src = p.Source(ctx)
	}
	if p.before != nil {
		src = practice.Handed(src, p.before)
	}
	return sess.Run(ctx, src)
}
