package commission

import (
	"cmp"
	"context"
	"fmt"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/practice"
	"evendraw/internal/session"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
	"evendraw/internal/view"
)

// Zero learns each sensor's offset, with the engine off.
func Zero(ctx context.Context, set *settings.Settings, o *PassOptions, std settings.Streams) error {
	p := newPass(set, o, std, func(c *session.Chain) error { c.StartZero(); return nil })
	p.end, p.over = (*session.Chain).EndZero, func(c *session.Chain) bool { return !c.ZeroState().Running }
	var err error
	switch {
	case o.From != "":
		err = p.file(ctx)
	case o.Practice != "":
		err = p.practiceZero(ctx)
	default:
		fmt.Fprintln(std.Err, "zero pass: engine off, every hose off its port, open to the air")
		err = p.live(ctx)
	}
	if err != nil {
		return err
	}
	return p.tellZero()
}

// practiceZero takes the pass from a practice engine that stands.
func (p *pass) practiceZero(ctx context.Context) error {
	pr, err := p.set.PracticeBike(practice.Options{Name: p.opt.Practice, Ambient: p.set.Ambient}, &p.std)
	if err != nil {
		return err
	}
	p.note = "practice: nothing is kept"
	return p.run(ctx, pr.Config(), func(ctx context.Context) error { return p.sess.Run(ctx, pr.Engine) })
}

// tellZero prints the result, and keeps it.
func (p *pass) tellZero() error {
	var state session.ZeroState
	var cfg session.Config
	p.sess.Chain(func(c *session.Chain) { state, cfg = c.ZeroState(), c.Config() })
	if state.Result == nil {
		return p.refused(state.Err, view.Refusal, "engine off, all hoses off the ports and at rest; then once more")
	}
	kept, lost := p.keep("zero pass", zeroTime,
		func() error { return settings.KeepZero(p.set.Garage, p.board, &cfg, state.Result, p.when) })
	if note := p.set.AmbientDoubt(state.Result.Ambient); note != "" {
		p.std.Warn(note)
	}
	if p.opt.JSON {
		return cmp.Or(tell.ZeroJSON(p.std.Out, p.serial(), state.Result, kept), lost)
	}
	tell.ZeroText(p.std.Out, state.Result, &cfg.Setup, kept)
	return lost
}

func zeroTime(card *garage.Board) (at time.Time) {
	if card.Zero != nil {
		at = card.Zero.Time
	}
	return at
}
