package job

import (
	"context"
	"fmt"
	"strings"

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
	l, err := newTuneRun(set, o, std)
	if err != nil {
		return err
	}
	fmt.Fprintln(std.Err, strings.Join(tell.AirCautions, "\n"))
	return l.runStage(ctx, &leaking{live: l})
}

// leaking is the watch for an air leak as a stage of a run.
type leaking struct{ *live }

func (t *leaking) begin(c *session.Chain) error {
	c.WatchAir(true)
	return nil
}

func (t *leaking) json(tune *session.Tune, h *heat.State, now float64) []byte {
	if tune.Air == nil {
		return nil
	}
	return tell.AirJSON(tune.Air, h, now)
}

func (t *leaking) words(tune *session.Tune) (w view.Words, ok bool) {
	if tune.Air == nil {
		return w, false
	}
	return view.AirWords(tune.Air), true
}

func (t *leaking) done(*session.Tune) bool { return false }

// close tells what was seen.
func (t *leaking) close() error {
	if air := t.sess.Snapshot().Tune.Air; air != nil && !t.opt.JSON {
		fmt.Fprintln(t.std.Out, tell.AirFound(air))
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
