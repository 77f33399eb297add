package trial

import (
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/engine"
)

// A large word counts as short where another takes its place too soon, but not the one that the engine's start ends.
func TestShortWords(t *testing.T) {
	type at struct {
		s    float64
		big  string
		runs bool
	}
	for name, c := range map[string]struct {
		words        []at
		count, short int
	}{
		"a start":       {[]at{{0, "START", false}, {2, "START", true}, {2.3, "WAIT", true}, {5, "1-2", true}}, 1, 0},
		"started anew":  {[]at{{0, "WAIT", true}, {3, "START", false}, {4, "START", true}, {4.5, "WAIT", true}}, 1, 0},
		"too short":     {[]at{{0, "WAIT", true}, {0.5, "1-2", true}, {4, "BLIP", true}}, 2, 1},
		"asked running": {[]at{{0, "WAIT", true}, {3, "START", true}, {3.5, "WAIT", true}}, 2, 1},
	} {
		w := &watch{}
		for _, a := range c.words {
			w.word(a.s, a.big, a.runs)
		}
		if w.Words != c.count || w.Short != c.short {
			t.Errorf("%s: %d words, %d short; want %d, %d", name, w.Words, w.Short, c.count, c.short)
		}
	}
}

// An amount is large where its screw, once it has come right, was to be turned by much less; one whose screw was never
// locked is not weighed.
func TestLargeAmounts(t *testing.T) {
	e := engine.New(engine.Config{Bank: bank.Default(4)})
	w := &watch{engine: e, amounts: []amount{{1, 0.5, 0}, {1, -0.5, 0}, {1, 0.25, -0.15}, {2, 1, 0}}}
	e.Turn(1, 0.25)
	e.Read(make([]byte, 4096))
	if w.weigh(1); w.Weighed != 3 || w.Large != 2 || len(w.amounts) != 0 {
		t.Errorf("%d weighed, %d large at %.3f turns", w.Weighed, w.Large, e.Truth().ScrewTurns[1])
	}
}

// A word to stop what leads away is counted apart: the other way must follow that.
func TestStopsThatMustBeFollowedByTheOtherWay(t *testing.T) {
	stop := advice.New(advice.Stop, advice.SyncScrew, advice.WhyReached)
	back := advice.New(advice.Reverse, advice.SyncScrew, advice.WhyTurnBack)
	stop.Screw, back.Screw = 1, 1
	e := engine.New(engine.Config{Bank: bank.Default(4)})
	for why, want := range map[advice.Why][3]int{advice.WhyReached: {1, 1, 0}, advice.WhyAway: {0, 0, 1}} {
		w := &watch{engine: e}
		stop.Why = why
		w.count(&stop)
		w.count(&back)
		class := classOf(e, stop.Screw)
		if got := [3]int{w.Stops[class], w.TurnedBack[class], w.LedAway[class]}; got != want {
			t.Errorf("%s: %v stops, turned back, led away; want %v", why, got, want)
		}
	}
}
