package practice

import (
	"math"
	"strings"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/airleak"
	"evendraw/internal/balance"
	"evendraw/internal/effort"
	"evendraw/internal/session"
)

// worker is a careful mechanic at a bike that runs, whose words are handed in.
type worker struct {
	*Mechanic
	bike *Bike
	air  airleak.State
	read balance.Reading
	said []string
}

func work(name string) *worker {
	p := New(Options{Name: name, Seed: 2, Running: true})
	w := &worker{Mechanic: p.Mechanic(), bike: p}
	none := func() {}
	w.Careful(&Care{GoOn: none, Begin: none, Again: none, Watch: func(bool) {}, Ready: func() bool { return true },
		Tune:    func() *session.Tune { return &session.Tune{Air: &w.air} },
		Reading: func() *balance.Reading { return &w.read },
		Say:     func(text string) { w.said = append(w.said, text) }, Found: p.Finds})
	return w
}

// told lets that many seconds pass, of the engine too, under an advice.
func (w *worker) told(seconds float64, a advice.Advice) {
	buf := make([]byte, 1024)
	for end := w.bike.Engine.Truth().TimeS + seconds; w.bike.Engine.Truth().TimeS < end; {
		w.bike.Engine.Read(buf)
		w.Step(w.bike.Engine.Truth().TimeS, &a)
	}
}

// toldUntil lets time pass under an advice until something is said, and then as long as two sentences stand; seconds at
// most.
func (w *worker) toldUntil(text string, seconds float64, a advice.Advice) {
	for end := w.bike.Engine.Truth().TimeS + seconds; w.bike.Engine.Truth().TimeS < end && !w.says(text); {
		w.told(0.5, a)
	}
	w.told(2*sayS, a)
}

func (w *worker) says(text string) bool { return strings.Contains(strings.Join(w.said, " "), text) }

// faultOf is a fault at a cylinder, 0 for none, since a screw was turned.
func faultOf(why advice.Why, cylinder, screw int) advice.Advice {
	a := advice.New(advice.Fault, advice.NoPart, why)
	if a.Cylinder = cylinder; screw >= 0 {
		a.Screw, a.ScrewName = screw, "1-2"
	}
	return a
}

// Told to stop for heat a careful mechanic leaves what he is at, and goes on once it is cool.
func TestHeatComesFirst(t *testing.T) {
	t.Parallel()
	w := work("healthy-four")
	misfires := faultOf(advice.WhyMisfires, 1, 0)
	if w.told(30, misfires); !w.says("An air leak?") || !w.bike.Engine.Truth().Running {
		t.Fatalf("no leak is looked for: %q", w.said)
	}
	hot := advice.New(advice.Wait, advice.NoPart, advice.WhyHot)
	if w.told(heatS+0.5, hot); w.bike.Engine.Truth().Running {
		t.Errorf("%v s after the word it runs: %q", heatS, w.said)
	}
	n := len(w.said)
	if w.told(effort.Of(60., 200), hot); w.bike.Engine.Truth().Running || len(w.said) > n {
		t.Errorf("while it cools: runs %v, %q", w.bike.Engine.Truth().Running, w.said[n:])
	}
	if w.told(startS+sayS, advice.New(advice.Wait, advice.NoPart, advice.WhyNoCycle)); !w.bike.Engine.Truth().Running {
		t.Errorf("cool, and not started: %q", w.said)
	}
}

// What is no fault of a cylinder is counted by what it is, and given up with its own words.
func TestTroublesAreCountedApart(t *testing.T) {
	t.Parallel()
	w := work("healthy-four")
	w.bike.Engine.Stop()
	w.bike.Engine.Turn(0, 2*farTurns)
	for buf := make([]byte, 1024); w.bike.Engine.Truth().ScrewTurns[0] < farTurns; {
		w.bike.Engine.Read(buf)
	}
	far, fell := faultOf(advice.WhyFar, 0, 0), faultOf(advice.WhyIdleFell, 0, -1)
	for range mostLook {
		w.care.fault(&far)
		w.care.fault(&fell)
	}
	if w.GaveUp() {
		t.Fatalf("given up: %s", w.care.gaveUp)
	}
	if w.care.fault(&far); !strings.HasPrefix(w.care.gaveUp, "screw 1-2 is found far") {
		t.Errorf("given up: %q", w.care.gaveUp)
	}
}

// A watch that never listened has not found that no joint leaks.
func TestAWatchThatNeverListened(t *testing.T) {
	t.Parallel()
	for phase, want := range map[airleak.Phase]string{airleak.Learning: "No leak could be listened for",
		airleak.Moved: "No leak could be listened for", airleak.Unknown: "No leak could be listened for",
		airleak.Watching: "No joint leaks."} {
		if !effort.Whole() && (phase == airleak.Learning || phase == airleak.Moved) {
			continue
		}
		w := work("healthy-four")
		w.air.Phase = phase
		w.care.lookLeak(1, true, func() {})
		w.toldUntil(want, 100, advice.New(advice.Wait, advice.NoPart, advice.WhyFewCycles))
		if !w.says(want) || w.says("No joint leaks.") != (phase == airleak.Watching) {
			t.Errorf("phase %v: %q", phase, w.said)
		}
	}
}

// A screw is turned back once, by what is told, and ends where the sentences say.
func TestAScrewIsTurnedBackOnce(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		turns float64 // told, clockwise; NaN for none
		say   string
		ends  float64
	}{{1.03, "by one turn, as told", -0.625}, {math.NaN(), "by 1 5/8 turns, to where it began", 0}} {
		w := work("healthy-four")
		w.bike.Engine.Turn(0, -1.625)
		for buf := make([]byte, 1024); w.bike.Engine.Truth().ScrewTurns[0] > -1.62 || w.bike.Engine.Truth().Turning; {
			w.bike.Engine.Read(buf)
		}
		a := faultOf(advice.WhyLean, 1, 0)
		a.Turns, a.Direction = c.turns, advice.Clockwise
		w.told(60, a)
		backs := strings.Count(strings.Join(w.said, " "), "goes back")
		if at := w.bike.Engine.Truth().ScrewTurns[0]; math.Abs(at-c.ends) > 0.01 || !w.says(c.say) || backs != 1 {
			t.Errorf("told %v: ends at %v, turned back %d times, %q", c.turns, at, backs, w.said)
		}
	}
}

// A bank that reads level is not told as done where a cylinder is in doubt then, told as a fault before or not: it is
// looked at, the engine off, and where nothing is found the doubt is said to stay.
func TestADoubtAtTheEndIsLookedAt(t *testing.T) {
	t.Parallel()
	for why, ends := range map[advice.Why]string{"": "has levelled the bank. Now you go on,",
		advice.WhyHalfBlocked: "Cylinder 2 stays in doubt: he found no cause."} {
		w := work("healthy-four")
		w.care.Stays = true // as on the screen
		w.read.Cylinders = make([]balance.Cylinder, 4)
		w.read.Cylinders[1].Doubt = why
		w.told(60, advice.New(advice.Done, advice.NoPart, advice.WhyLevel))
		if doubt := why != ""; !w.says(ends) || w.says("has levelled") == doubt ||
			w.bike.Engine.Truth().Running == doubt {
			t.Errorf("doubt %q: running %v, %q", why, w.bike.Engine.Truth().Running, w.said)
		}
	}
}
