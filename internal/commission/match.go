package commission

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/practice"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
	"evendraw/internal/view"
)

// Match learns each sensor's gain, with all hoses on one source.
func Match(ctx context.Context, set *settings.Settings, o *PassOptions, std settings.Streams) error {
	start := func(c *session.Chain) error { return c.StartMatch(o.Channels) }
	p := newPass(set, o, std, start)
	p.end = func(c *session.Chain) { c.EndZero(); c.EndMatch() }
	p.over = func(c *session.Chain) bool { return !c.MatchState().Running }
	var err error
	var truth func() []float64
	switch {
	case o.From != "":
		p.zeroFirst(start)
		err = p.file(ctx)
	case o.Practice != "":
		truth, err = p.practiceMatch(ctx)
	default:
		fmt.Fprintln(std.Err, "to compare the sensors, put all hoses on one source: a tee on one port with the "+
			"engine idling, or a vacuum hand pump")
		p.over = matchNews(std.Err)
		err = p.live(ctx)
		defer p.tellEngine()
	}
	if err != nil {
		return noZeroHint(err)
	}
	return p.tellMatch(truth)
}

// noZeroHint says what to do about a match pass without a zero pass.
func noZeroHint(err error) error {
	if r, ok := err.(*sensor.Refusal); ok {
		return hint.With(fmt.Errorf("%s", view.MatchRefusal(r)),
			"engine off, hoses off the ports: evendraw zero; then evendraw match")
	}
	return err
}

// zeroFirst has the pass begin with a zero pass where none is in force, and with another logger's kPa, whose own
// zero may be off; there a refused one is no harm.
func (p *pass) zeroFirst(start func(*session.Chain) error) {
	waiting := false
	p.begin = func(c *session.Chain) error {
		if c.Config().Zeroed && !p.table {
			return start(c)
		}
		waiting = true
		c.StartZero()
		return nil
	}
	p.over = func(c *session.Chain) bool {
		if waiting && !c.ZeroState().Running {
			waiting = false
			return !c.Config().Zeroed || start(c) != nil
		}
		return !waiting && !c.MatchState().Running
	}
}

// tellEngine says that the engine whose port was the source still turns.
func (p *pass) tellEngine() {
	if p.sess != nil && p.sess.Snapshot().Heat.Turning {
		fmt.Fprintln(p.std.Err, tell.EngineRunsOn(false))
	}
}

// matchNews is an over that tells how the pass goes, each time a fifth more is there or the source is still waited for.
func matchNews(errOut io.Writer) func(*session.Chain) bool {
	told, waited := 0, 0.0
	return func(c *session.Chain) bool {
		m := c.MatchState()
		part := int(5 * m.Progress)
		switch now := c.Link().LastTime; {
		case part > told:
			told, waited = part, now
			fmt.Fprintf(errOut, "%3d %%  the source is %.1f kPa below the air pressure\n", 20*part, float64(m.Level))
		case now-waited > 10:
			waited = now
			fmt.Fprintf(errOut, "waiting for suction on all hoses (now %.1f kPa)\n", float64(m.Level))
		}
		return !m.Running
	}
}

// practiceMatch takes the pass from a practice engine that idles, all hoses on its first port by a tee. It
// returns the true gains.
func (p *pass) practiceMatch(ctx context.Context) (func() []float64, error) {
	pr, err := p.set.PracticeBike(practice.Options{Name: p.opt.Practice, Ambient: p.set.Ambient}, &p.std)
	if err != nil {
		return nil, err
	}
	fmt.Fprintln(p.std.Err, "practice: zero pass, engine started, all hoses on port 1 by a tee; faster than real time")
	p.note = "practice: nothing is kept"
	if err := pr.Prepare(); err != nil {
		return nil, err
	}
	pr.Engine.Tee(1)
	if err := pr.Idle(practiceSettleS); err != nil {
		return nil, err
	}
	err = p.run(ctx, pr.Config(), func(ctx context.Context) error { return p.sess.Run(ctx, pr.Engine) })
	return pr.Engine.SensorGains, err
}

// practiceSettleS is how long the practice engine idles before its match pass.
const practiceSettleS = 5.0

// tellMatch prints the result, and keeps it. Truth gives the true gains, nil if nobody knows them.
func (p *pass) tellMatch(truth func() []float64) error {
	var state session.MatchState
	var zero session.ZeroState
	var cfg session.Config
	p.sess.Chain(func(c *session.Chain) { state, zero, cfg = c.MatchState(), c.ZeroState(), c.Config() })
	if state.Result == nil {
		reason := state.Err
		if reason == nil && zero.Err != nil {
			reason = fmt.Errorf("no zero pass in force, and none to be had from the beginning of this file: %w",
				zero.Err)
		}
		return p.refused(reason, view.MatchRefusal,
			fmt.Sprintf("zero pass first; then all hoses on one source, tight, %.0f kPa or more below the air "+
				"pressure, and steady", float64(sensor.MatchMinLevel)))
	}
	kept, lost := p.keep("comparison", matchTime, func() error {
		return settings.KeepMatch(p.set.Garage, p.board, &cfg, state.Result, p.when)
	})
	if p.opt.JSON {
		return cmp.Or(tell.MatchJSON(p.std.Out, p.serial(), state.Result, kept), lost)
	}
	tell.MatchText(p.std.Out, state.Result, kept)
	if truth != nil {
		gains := strings.Trim(fmt.Sprintf("%.4f", truth()), "[]")
		fmt.Fprintln(p.std.Out, "practice: the sensors' true gains, channel 0 first:", gains)
	}
	return lost
}

func matchTime(card *garage.Board) (at time.Time) {
	if card.Match != nil {
		at = card.Match.Time
	}
	return at
}
