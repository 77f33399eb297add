package trial

import (
	"testing"

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
