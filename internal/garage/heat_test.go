package garage

import (
	"testing"
	"time"

	"evendraw/internal/heat"
)

// The cooling goes on while the program is left, and a start does not reset it.
func TestHeatIsKept(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	now := g.now()
	g.now = func() time.Time { return now }
	if _, ok := g.LoadHeat("Invented Four", 0); ok {
		t.Error("there is a heat of a bike that never ran")
	}
	must(t, g.SaveHeat("Invented Four", heat.State{Seconds: 300, Hot: true}))
	for _, row := range []struct {
		after   time.Duration
		seconds float64
		hot, ok bool
	}{{0, 300, true, true}, {100 * time.Second, 250, true, true}, {300 * time.Second, 150, false, true},
		{time.Hour, 0, false, false}, {-time.Hour, 300, true, true}} {
		g.now = func() time.Time { return now.Add(row.after) }
		h, ok := g.LoadHeat("Invented Four", 300)
		if h.Seconds != row.seconds || h.Hot != row.hot || ok != row.ok {
			t.Errorf("after %v: %+v, %v", row.after, h, ok)
		}
		if _, ok := g.LoadHeat("another", 300); ok {
			t.Error("another bike is as hot")
		}
	}
}
