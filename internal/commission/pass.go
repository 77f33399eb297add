package commission

import (
	"context"
	"errors"
	"fmt"
	"time"

	"evendraw/internal/balance"
	"evendraw/internal/capture"
	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/plain"
	"evendraw/internal/session"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
)

// PassOptions are what the command line says of a zero or match pass.
type PassOptions struct {
	Port     settings.Port
	Practice string // name of a practice bike, "" for none
	From     string // capture or table to take it from, "" for the board
	JSON     bool
	Table    settings.TableOptions
	Channels []int // of a match pass: these alone; nil is all
}

// pass is a zero or match pass being taken, which runs beside the readings of a session.
type pass struct {
	set   *settings.Settings
	opt   *PassOptions
	std   settings.Streams
	notes settings.Notes
	sess  *session.Session
	// begin begins the pass, with the first reading; over ends a run when it returns true.
	begin func(*session.Chain) error
	over  func(*session.Chain) bool
	end   func(*session.Chain)

	board *frame.Announcement
	// patience is how long no frame may come; 0 is for ever.
	patience time.Duration

	table bool      // a table of another logger
	when  time.Time // of the samples; zero is unknown
	note  string    // why it is not kept on the board's card, "" where it is
}

// newPass returns a pass that begin begins.
func newPass(set *settings.Settings, o *PassOptions, std settings.Streams, begin func(*session.Chain) error) *pass {
	return &pass{set: set, opt: o, std: std, notes: settings.Notes{Tell: std.Warn}, begin: begin}
}

// live takes the pass from the board.
func (p *pass) live(ctx context.Context) error {
	link, err := p.opt.Port.Open(ctx, p.set.World, nil)
	if err != nil {
		return err
	}
	defer link.Close()
	p.board, p.when, p.patience = link.Board(), time.Now(), frameWait
	return p.run(ctx, session.Config{BankOf: p.config},
		func(ctx context.Context) error { return p.sess.Run(ctx, link) })
}

// file takes the pass from a capture or a table.
func (p *pass) file(ctx context.Context) error {
	in, file, err := settings.OpenInput(ctx, p.opt.From, p.std.In)
	if err != nil {
		return err
	}
	defer file.Close()
	cfg, err := p.set.InputConfig(in, &p.opt.Table, &p.notes)
	if err != nil {
		return err
	}
	cfg.Bank = nil
	if cfg.BankOf != nil {
		cfg.BankOf = p.config
	}
	if p.when = settings.InputTime(in, p.opt.From); p.when.IsZero() {
		p.note = "not kept on a card: nothing says when this was taken"
	}
	if p.table = in.Table != nil; p.table && in.Table.Serial == "" {
		p.note = "not kept on a card: a table doesn't name its board, --board SERIAL does"
	}
	return p.run(ctx, cfg, func(ctx context.Context) error {
		if in.Table != nil {
			return p.sess.RunTable(ctx, in.Table)
		}
		return p.sess.Run(ctx, in.Bytes)
	})
}

// config holds for every pressure channel of the board, whatever the bike has.
func (p *pass) config(a *frame.Announcement) session.Config {
	cfg := p.set.BoardConfig(a, &p.notes)
	cfg.Bank = nil
	return cfg
}

// run runs the session until the pass is over.
func (p *pass) run(ctx context.Context, cfg session.Config, read func(context.Context) error) error {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	over := errors.New("the pass is over")
	cfg.Reference = 1
	begun := false
	look := func(_ *balance.Reading, c *session.Chain) {
		switch {
		case !begun:
			begun = true
			if err := p.begin(c); err != nil {
				stop(err)
			}
		case p.over(c):
			stop(over)
		}
	}
	p.sess = session.New(cfg, session.Options{Bits: p.opt.Table.Bits, Patience: p.patience, OnReading: look})
	err := read(ctx)
	if cause := context.Cause(ctx); cause != nil && !errors.Is(cause, over) {
		return cause
	}
	if err != nil && !errors.Is(err, over) && context.Cause(ctx) != over {
		return err
	}
	p.sess.Chain(p.end)
	if a := p.sess.Snapshot().Board; a != nil {
		p.board = a
	}
	return nil
}

// refused is the error of a pass without a result; reason is the chain's, nil when it saw nothing.
func (p *pass) refused(reason error, words func(error) string, then string) error {
	if reason == nil {
		reason = fmt.Errorf("no frames to take a pass from")
		if p.sess.Snapshot().Link.Frames == 0 {
			return &capture.Error{Problem: reason.Error()}
		}
	}
	if p.opt.JSON {
		tell.RefusalJSON(p.std.Out, reason, words)
	}
	return hint.With(errors.New(words(reason)), then)
}

// keep writes a pass on the board's card by put, unless the card's is newer; timeOn is when the card's was taken, the
// zero time without one. What is not to be kept is told; what could not be is the error.
func (p *pass) keep(what string, timeOn func(*garage.Board) time.Time, put func() error) (kept tell.Kept, err error) {
	not := func(why string) (tell.Kept, error) {
		p.std.Warn(why)
		return tell.Kept{Not: why}, nil
	}
	switch {
	case p.note != "":
		return not(p.note)
	case p.board == nil:
		return not("not kept on a card: no board has named itself")
	}
	var last time.Time
	if card, err := p.set.Garage.LoadBoard(p.board.Serial); err == nil {
		last = timeOn(&card)
	}
	if last.After(p.when) {
		return not(fmt.Sprintf("not kept: the card has a newer %s, of %s; this is of %s", what, plain.Minute(last),
			plain.Minute(p.when)))
	}
	if err := put(); err != nil {
		err = fmt.Errorf("the %s could not be kept: %w", what, err)
		return tell.Kept{Not: err.Error()}, err
	}
	kept.Path, err = p.set.Garage.BoardPath(p.board.Serial)
	return kept, err
}

// serial is the board's, "" if none is known.
func (p *pass) serial() string {
	if p.board == nil {
		return ""
	}
	return p.board.Serial
}
