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
		{airleak.State{Phase: airleak.Watching, Last: 2, LastShare: 0.2, LastSeconds: 4, Ago: 2}, "LEAK 2",
			"for 4 s: it leaks where you put"},
		{airleak.State{Phase: airleak.Watching, Last: 2, LastShare: 0.03, LastSeconds: 4, Ago: 2}, "LEAK 2",
			"for 4 s: perhaps it leaks where you put"},
		{airleak.State{Phase: airleak.Watching, Last: 2, LastShare: 0.03, LastSeconds: 4, Ago: 2, Again: true},
			"LEAK 2",
			"twice: it leaks there"},
		{airleak.State{Phase: airleak.Less, Cylinder: 3, Share: 0.031, Seconds: 4}, "LEAK 3",
			"Cylinder 3: 3 % less air for 4 s: perhaps it leaks where you just put water."},
		{airleak.State{Phase: airleak.Less, Cylinder: 3, Share: 0.23, Seconds: 4}, "LEAK 3",
			"Cylinder 3: 23 % less air for 4 s: it leaks where you just put water."},
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

// What a watch has heard is told, once it has ended, of the cylinder that it heard, and as sure as that was; it stands
// while the engine does because of it.
func TestALeakIsAsSureAsItWasHeard(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		state airleak.State
		big   string
		say   string
	}{
		{airleak.State{Phase: airleak.Less, Cylinder: 1, Last: 3, Share: 0.3}, "LEAK 1", "it leaks there."},
		{airleak.State{Phase: airleak.Less, Cylinder: 1, Last: 1, Share: 0.04}, "LEAK 1", "perhaps it leaks there."},
		{airleak.State{Phase: airleak.Less, Cylinder: 1, Last: 1, Share: 0.04, Again: true}, "LEAK 1",
			"it leaks there."},
		{airleak.State{Phase: airleak.Unknown, Cylinder: 4, Last: 2, LastShare: 0.3, Ago: 4}, "LEAK 2",
			"it leaks there."},
		{airleak.State{Phase: airleak.Watching, Last: 2, LastShare: 0.3, Ago: 40}, "LEAK 2", "was that a leak?"},
		{airleak.State{Phase: airleak.Watching, Last: 2, LastShare: 0.3, Ago: 40, Again: true}, "LEAK 2",
			"it leaks there."},
		{airleak.State{Phase: airleak.Unknown, Cylinder: 4}, "1-2", ""},
	} {
		v := running(reading(advice.Turn, advice.WhyUnlevel))
		v.Flow = Flow{At: StepLevel}
		snap := *v.Snap
		snap.Tune = session.Tune{Air: &c.state}
		v = Update(v, Tick{Now: v.Now, Snap: &snap})
		none := *v.Snap
		none.Tune = session.Tune{}
		v.Now = v.Now.Add(2 * time.Second)
		v = Update(v, Tick{Now: v.Now, Snap: fresh(&none, v.Now)})
		text, sure := said(&v), !strings.Contains(c.say, "perhaps")
		if p := v.Picture(); p.Big != c.big || !strings.Contains(text, c.say) ||
			sure && strings.Contains(text, "perhaps") {
			t.Errorf("%+v: %q %s", c.state, p.Big, text)
		}
		stands := reading(advice.Wait, advice.WhyNoCycle)
		stands.Span.Cycle = false
		for _, seconds := range []float64{1, 60} {
			if v = after(v, seconds, stands); c.say != "" && v.Picture().Big != c.big {
				t.Errorf("%+v, the engine stands: %q", c.state, v.Picture().Big)
			}
		}
		v = after(v, 1, reading(advice.Turn, advice.WhyUnlevel))
		if text := said(&v); c.say != "" && (v.Picture().Big != c.big || !strings.Contains(text, "Mended? Press g.")) {
			t.Errorf("%+v, the engine runs again: %q %s", c.state, v.Picture().Big, text)
		}
	}
}

// A leak that was found stands with the engine, not the order by which it was looked for.
func TestALeakFoundTakesThePlaceOfTheOrder(t *testing.T) {
	t.Parallel()
	lean := reading(advice.Fault, advice.WhyLean)
	lean.Advice.Cylinder = 1
	v := running(lean)
	v.Flow = Flow{At: StepLevel}
	v = after(v, 10, lean)
	snap, none := *v.Snap, *v.Snap
	snap.Tune = session.Tune{Air: &airleak.State{Phase: airleak.Watching, Last: 1, LastShare: 0.3, Ago: 2, Again: true}}
	v = Update(v, Tick{Now: v.Now, Snap: &snap})
	v = Update(v, Tick{Now: v.Now, Snap: fresh(&none, v.Now)})
	stands := reading(advice.Wait, advice.WhyNoCycle)
	stands.Span.Cycle = false
	if v = after(v, 2, stands); v.Picture().Big != "LEAK 1" {
		t.Errorf("%q %s", v.Picture().Big, said(&v))
	}
}

// Where looking for a leak has ended with one found, the fault that sent to look says that no more; one of another
// cylinder, or no more than perhaps a leak, does. The key goes past both.
func TestALeakThatExplainsAFaultStandsBeforeIt(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		ill   int
		why   advice.Why
		share float64
		big   string
	}{{1, advice.WhyLean, 0.3, "LEAK 1"}, {1, advice.WhyMisfires, 0.3, "LEAK 1"},
		{2, advice.WhyLean, 0.3, "ENGINE OFF 2"}, {1, advice.WhyLean, 0.04, "ENGINE OFF 1"}} {
		ill := reading(advice.Fault, c.why)
		ill.Advice.Cylinder, ill.Advice.ScrewName = c.ill, "1-2"
		v := running(ill)
		v.Flow = Flow{At: StepLevel}
		v = after(v, 10, ill)
		heard, none := *v.Snap, *v.Snap
		heard.Tune = session.Tune{Air: &airleak.State{Phase: airleak.Watching, Last: 1, LastShare: c.share, Ago: 2}}
		v = Update(v, Tick{Now: v.Now, Snap: &heard})
		v = after(Update(v, Tick{Now: v.Now, Snap: fresh(&none, v.Now)}), 3, ill)
		if v.Picture().Big != c.big {
			t.Errorf("%+v: %q %s", c, v.Picture().Big, said(&v))
		}
		v.Wants = nil
		v = press(v, "g")
		if on := slices.ContainsFunc(v.Wants, func(w Want) bool { return w.Kind == GoOn }); on != (c.big == "LEAK 1") {
			t.Errorf("%+v: the key goes on past the fault: %v", c, on)
		}
	}
}

// Who switches off while he is told of a leak, looking still, is not asked to start before it is mended.
func TestALeakHeardStandsWithTheEngine(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Turn, advice.WhyUnlevel))
	v.Flow = Flow{At: StepLevel}
	snap := *v.Snap
	snap.Tune = session.Tune{Air: &airleak.State{Phase: airleak.Less, Cylinder: 2, Last: 2, Share: 0.3, Again: true}}
	v = Update(v, Tick{Now: v.Now, Snap: &snap})
	stands := reading(advice.Wait, advice.WhyNoCycle)
	stands.Span.Cycle = false
	v.Snap.Tune.Air = &airleak.State{Phase: airleak.Learning, Last: 2, Again: true, Ago: 20}
	for _, seconds := range []float64{1, 60} {
		if v = after(v, seconds, stands); v.Picture().Big != "LEAK 2" || !strings.Contains(said(&v), "mend it") {
			t.Errorf("%q %s", v.Picture().Big, said(&v))
		}
	}
}

// Without keys nobody can put a leak aside: it stands only while it is listened for, and the engine off.
func TestNoLeakStandsWithoutKeys(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Turn, advice.WhyUnlevel))
	v.Headless = true
	snap, none := *v.Snap, *v.Snap
	snap.Tune = session.Tune{Air: &airleak.State{Phase: airleak.Less, Cylinder: 2, Last: 2, Share: 0.3, Again: true}}
	v = Update(v, Tick{Now: v.Now, Snap: &snap})
	at := v.Now.Add(2 * time.Second)
	if v = Update(v, Tick{Now: at, Snap: fresh(&none, at)}); v.Picture().Big != "1-2" {
		t.Errorf("%q %s", v.Picture().Big, said(&v))
	}
}

// fresh is a snapshot whose last frame has just come.
func fresh(s *session.Snapshot, now time.Time) *session.Snapshot {
	s.LastFrame = now
	return s
}
