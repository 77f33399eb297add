package view

import (
	"slices"
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/airleak"
	"evendraw/internal/cycle"
	"evendraw/internal/session"
)

// l begins and ends the look for a leak in the step that levels; meanwhile it is told before the advice, and never
// without the warning where something is to be wetted.
func TestLookForALeak(t *testing.T) {
	v := running(reading(advice.Turn, advice.WhyUnlevel))
	v.Flow = Flow{At: StepLevel}
	if v = press(v, "l"); len(v.Wants) != 1 || v.Wants[0].Kind != WatchAir {
		t.Fatalf("l asks for %v", v.Wants)
	}
	for _, c := range []struct {
		state airleak.State
		big   string
		say   string
	}{
		{airleak.State{Phase: airleak.Learning}, "WAIT", "never fuel"},
		{airleak.State{Phase: airleak.Watching}, "WATER ONLY", "never fuel"},
		{airleak.State{Phase: airleak.Watching, Last: 2, LastSeconds: 4, Ago: 12}, "WATER ONLY",
			"Cylinder 2 had less air for 4 s, 12 s ago: a leak? Water only"},
		{airleak.State{Phase: airleak.Watching, Last: 2, LastSeconds: 4, Ago: 2}, "LEAK 2", "it leaks where you put"},
		{airleak.State{Phase: airleak.Less, Cylinder: 3, Share: 0.031, Seconds: 4}, "LEAK 3",
			"Cylinder 3: 3 % less air for 4 s: it leaks where you just put water."},
		{airleak.State{Phase: airleak.Moved}, "HANDS OFF", "a screw"},
		{airleak.State{Phase: airleak.Unknown, Cylinder: 1, Why: cycle.ShallowDip}, "WAIT", "too shallow"},
	} {
		snap := *v.Snap
		snap.Tune = session.Tune{Air: &c.state}
		now := Update(v, Tick{Now: v.Now.Add(2 * time.Second), Snap: fresh(&snap, v.Now.Add(2*time.Second))})
		p := now.Picture()
		if p.Big != c.big || !strings.Contains(strings.Join(p.Say, " "), c.say) {
			t.Errorf("%+v: %q %q", c.state, p.Big, p.Say)
		}
		if now.Flow.At != StepLevel {
			t.Errorf("moved on to %v", now.Flow.At)
		}
		now = press(now, "n")
		if !slices.ContainsFunc(now.Wants, func(w Want) bool { return w.Kind == WatchAir }) {
			t.Errorf("goes on after the step was left: %v", now.Wants)
		}
	}
	v.Flow.At = StepIdle
	if v = press(v, "l"); len(v.Wants) != 0 {
		t.Errorf("l in another step asks for %v", v.Wants)
	}
}

// fresh is a snapshot whose last frame has just come.
func fresh(s *session.Snapshot, now time.Time) *session.Snapshot {
	s.LastFrame = now
	return s
}
