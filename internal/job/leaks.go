package job

import (
	"context"
	"fmt"

	"evendraw/internal/heat"
	"evendraw/internal/practice"
	"evendraw/internal/session"
	"evendraw/internal/tell"
	"evendraw/internal/view"
)

// Leaks watches for an air leak until it is left.
func Leaks(ctx context.Context, set *Settings, o *TuneOptions, std Streams) error {
	if o.Practice == practice.Fresh {
		o.Practice = practice.Leaking
	}
	return runStage(ctx, set, o, std, tell.AirCautions, func(l *live) stage { return &leaking{l} })
}

// leaking is the watch for an air leak as a stage of a run.
type leaking struct{ *live }

func (t *leaking) begin(c *session.Chain) error {
	c.WatchAir(true)
	return nil
}

func (t *leaking) tells(tune *session.Tune) bool { return tune.Air != nil }

func (t *leaking) json(tune *session.Tune, h *heat.State, now float64) []byte {
	return tell.AirJSON(tune.Air, h, now)
}

func (t *leaking) words(tune *session.Tune) view.Words { return view.AirWords(tune.Air) }

func (t *leaking) done(*session.Tune) bool { return false }

func (t *leaking) close(tune *session.Tune) error {
	if !t.opt.JSON {
		fmt.Fprintln(t.std.Out, tell.AirFound(tune.Air))
	}
	return nil
}

// hand wets the practice bike's joints one after another.
func (t *leaking) hand(p *practice.Bike) (before func()) {
	next, joint := practice.FirstWetS, 0
	return func() {
		if now := p.Engine.Truth().TimeS; now >= next {
			next = now + practice.WetEveryS
			joint = joint%p.Bank.Cylinders + 1
			p.Do(view.Want{Kind: view.WetJoint, Cylinder: joint})
		}
	}
}
