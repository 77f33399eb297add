package job

import (
	"context"
	"fmt"
	"time"

	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/practice"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
	"evendraw/internal/tell"
	"evendraw/internal/view"
)

// Zero learns each sensor's offset, with the engine off.
func Zero(ctx context.Context, set *Settings, o *PassOptions, std Streams) error {
	p := newPass(set, o, std, func(c *session.Chain) error { c.StartZero(); return nil })
	p.end, p.over = (*session.Chain).EndZero, func(c *session.Chain) bool { return !c.ZeroState().Running }
	var err error
	switch {
	case o.From != "":
		err = p.file(ctx)
	case o.Practice != "":
		err = p.practiceZero(ctx)
	default:
		fmt.Fprintln(std.Err, "zero pass: engine off, every hose open to the air")
		err = p.live(ctx)
	}
	if err != nil {
		return err
	}
	return p.tellZero()
}

// practiceZero takes the pass from a practice engine that stands.
func (p *pass) practiceZero(ctx context.Context) error {
	pr, err := p.set.practiceBike(practice.Options{Name: p.opt.Practice, Ambient: p.set.Ambient})
	if err != nil {
		return err
	}
	fmt.Fprint(p.std.Err, pr.Story())
	p.note = "practice: nothing is kept"
	return p.run(ctx, pr.Config(), func(ctx context.Context) error { return p.sess.Run(ctx, pr.Engine) })
}

// tellZero prints the result, and keeps it.
func (p *pass) tellZero() error {
	var state session.ZeroState
	var cfg session.Config
	p.sess.Chain(func(c *session.Chain) { state, cfg = c.ZeroState(), c.Config() })
	if state.Result == nil {
		return p.refused(state.Err, view.Refusal, "engine off, all hoses open to the air and at rest; then once more")
	}
	saved := p.keep("zero pass", zeroTime,
		func() error { return keepZero(p.set.Garage, p.board, &cfg, state.Result, p.when) })
	if note := p.set.ambientDoubt(state.Result.Ambient); note != "" {
		p.std.Warn(note)
	}
	if p.opt.JSON {
		return tell.ZeroJSON(p.std.Out, p.serial(), state.Result, saved)
	}
	tell.ZeroText(p.std.Out, state.Result, saved)
	return nil
}

func zeroTime(card *garage.Board) (at time.Time) {
	if card.Zero != nil {
		at = card.Zero.Time
	}
	return at
}

// keepZero writes a zero pass on the board's card.
func keepZero(g *garage.Garage, a *frame.Announcement, cfg *session.Config, zr *sensor.Zero, when time.Time) error {
	card, kinds, err := cardFor(g, a, cfg)
	if err != nil {
		return err
	}
	return g.SaveZero(&card, &garage.ZeroCard{Time: when, AmbientKPa: zr.Ambient, OffsetsKPa: zr.Offsets,
		UncertaintyKPa: zr.Uncertainty, NoiseKPa: zr.Noise, Samples: zr.Samples, Bits: a.Bits, Sensors: kinds})
}

// cardFor returns the board's card, or a new one, and the kinds of sensors in force.
func cardFor(g *garage.Garage, a *frame.Announcement, cfg *session.Config) (garage.Board, []string, error) {
	card, err := g.LoadBoard(a.Serial)
	if err != nil {
		return card, nil, err
	}
	if card.Model == "" {
		card.Model = a.Model
	}
	kinds := cfg.Setup.KindNames(len(a.Channels))
	if len(card.Sensors) == 0 {
		card.Sensors = kinds
	}
	return card, kinds, nil
}
