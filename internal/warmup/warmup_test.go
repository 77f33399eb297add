package warmup

import (
	"math"
	"testing"

	"evendraw/internal/bank"
)

// An engine whose idle rises by 5 % a minute is still cold; one that wanders is not.
func TestColdEngine(t *testing.T) {
	for _, c := range []struct {
		name    string
		perMin  float64
		warming bool
	}{{"rising", 0.05, true}, {"falling", -0.05, true}, {"warm", 0, false}} {
		var f Trend
		for k := range 300 {
			at := 0.115 * float64(k)
			wander := 8 * math.Sin(at/1.3)
			f.Push(at, 1000*(1+c.perMin*at/60)+wander, false)
		}
		if f.warming != c.warming {
			t.Errorf("%s: warming %v", c.name, f.warming)
		}
	}
}

// An engine that warms up and then idles evenly is told to be warm soon, and not before.
func TestWarmUpEnds(t *testing.T) {
	for _, c := range []struct{ from, to, seconds, wander float64 }{
		{840, 1020, 230, 8}, {840, 1020, 60, 8}, {1300, 1000, 120, 8}, {900, 1240, 600, 12},
	} {
		var f Trend
		for at, told := 0.0, false; at < c.seconds+240; at += 0.12 {
			share := min(at/c.seconds, 1)
			f.Push(at, c.from+(c.to-c.from)*share+c.wander*math.Sin(at/1.3), false)
			told = told || f.warming
			switch {
			case share < 1 && (told || at > 3*trendMemory) && !f.warming:
				t.Fatalf("%+v: told to be warm at %.0f s", c, at)
			case at > c.seconds+4*trendMemory && f.warming:
				t.Fatalf("%+v: still told to be cold at %.0f s", c, at)
			}
		}
	}
}

// The runner that is followed is that of the cylinder that no screw moves.
func TestTheRunnerThatStaysIsFollowed(t *testing.T) {
	for _, b := range []bank.Bank{bank.Default(2), bank.Default(3), bank.Default(4)} {
		if h := NewRunners(&b); h.still != b.Root {
			t.Errorf("of %d cylinders no screw moves %d, the root is %d", b.Cylinders, h.still, b.Root)
		}
	}
}
