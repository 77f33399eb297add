package warmup

import (
	"math"
	"testing"
)

// idle pushes an idle for so many seconds whose load and air change by shares a minute, and returns whether it was
// ever told as cold. It wanders by 1 % of its speed in some seconds, draws and all; hands is set where a screw turns.
func idle(w *Watch, seconds, load, air float64, hands bool) (told bool) {
	for at := 0.0; at < seconds; at += 0.115 {
		wander := 0.01 * math.Sin(at/1.3)
		speed := load*at/60 + air*at/60 + wander
		draw := 22 + risePerSpeed*(load*at/60+wander)
		w.Push(at, 1000*math.Exp(speed), draw, hands)
		told = told || w.Warming()
	}
	return told
}

// An engine whose idle rises by 5 % a minute is still cold, whether its draws rise too, as where friction falls, or
// don't, as where runners grow warm; one that wanders is not, nor one whose screws are turned.
func TestColdEngine(t *testing.T) {
	for _, c := range []struct {
		name      string
		load, air float64
		hands     bool
		warming   bool
	}{
		{"friction falls", 0.05, 0, false, true}, {"friction falls, screws are turned", 0.05, 0, true, true},
		{"friction grows", -0.05, 0, false, true}, {"runners grow warm", 0, 0.05, false, true},
		{"screws are turned", 0, 0.05, true, false}, {"turned shut", 0, -0.05, true, false},
		{"warm", 0, 0, false, false}, {"nearly warm", 0.01, 0, false, false},
	} {
		var w Watch
		if told := idle(&w, 90, c.load, c.air, c.hands); told != c.warming {
			t.Errorf("%s: told %v", c.name, told)
		}
	}
}

// An engine that warms up and then idles evenly is told to be warm soon, and not before.
func TestWarmUpEnds(t *testing.T) {
	for _, c := range []struct{ from, to, seconds, wander float64 }{
		{840, 1020, 230, 8}, {840, 1020, 60, 8}, {1300, 1000, 120, 8}, {900, 1240, 600, 8},
	} {
		var w Watch
		for at, told := 0.0, false; at < c.seconds+240; at += 0.12 {
			share := min(at/c.seconds, 1)
			rpm := c.from + (c.to-c.from)*share + c.wander*math.Sin(at/1.3)
			w.Push(at, rpm, 22+risePerSpeed*math.Log(rpm/1000), false)
			told = told || w.Warming()
			switch {
			case share < 1 && (told || at > 5*memory) && !w.Warming():
				t.Fatalf("%+v: told to be warm at %.0f s", c, at)
			case at > c.seconds+4*memory && w.Warming():
				t.Fatalf("%+v: still told to be cold at %.0f s", c, at)
			}
		}
	}
}

// A blip in the midst of a warm-up changes nothing of what was seen before it.
func TestABlipIsNoWarmth(t *testing.T) {
	var cold, warm Watch
	for at := 0.0; at < 80; at += 0.115 {
		if at > 20 && at < 24 {
			cold.Disturb()
			warm.Disturb()
			continue
		}
		wander := 0.01 * math.Sin(at/1.3)
		cold.Push(at, 900*math.Exp(0.06*at/60+wander), 22+risePerSpeed*(0.06*at/60+wander), true)
		warm.Push(at, 900*math.Exp(wander), 22+risePerSpeed*wander, true)
		if warm.Warming() {
			t.Fatalf("a warm one is told as cold at %.0f s", at)
		}
	}
	if !cold.Warming() {
		t.Error("a cold one is not told")
	}
}
