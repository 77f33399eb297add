package mixture

import (
	"fmt"
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
)

// follower turns the throttle stop as advised: a second and a half after it is
// told, once for each advice.
type follower struct {
	acted advice.Advice
	due   float64
	left  float64
	turns int
}

func (f *follower) follow(e *engine.Engine, a advice.Advice) {
	now := e.Truth().TimeS
	switch {
	case a.Kind == advice.Stop:
		f.left, f.acted = 0, advice.Advice{}
	case (a.Kind == advice.Turn || a.Kind == advice.Reverse) &&
		(a.Direction != f.acted.Direction || a.Kind != f.acted.Kind || now > f.due+12):
		f.acted, f.due, f.left = a, now+1.5, a.Direction.Sign()*a.Turns
		f.turns++
	}
	if f.left != 0 && now >= f.due {
		step := math.Copysign(min(0.125, math.Abs(f.left)), f.left)
		e.TurnStop(step)
		f.left -= step
	}
}

// On practice engines of every kind, with a stop of unknown effect, the advice
// brings the idle into the card's range, and learns the effect.
func TestIdleSpeedIntoItsRange(t *testing.T) {
	for _, n := range effort.Of([]int{2}, []int{2, 3, 4}) {
		for seed := range uint64(2) {
			t.Run(fmt.Sprintf("%d cylinders, seed %d", n, seed), func(t *testing.T) {
				t.Parallel()
				intoRange(t, engine.Config{Bank: bank.Default(n), Seed: seed, Running: true}, []float64{1.5, 0.6}[seed])
			})
		}
	}
}

// intoRange turns the throttle stop first, and then as advised.
func intoRange(t *testing.T, cfg engine.Config, first float64) {
	t.Helper()
	const low, high = 1100.0, 1250.0
	stage := NewIdleSpeed(IdleConfig{LowRPM: low, HighRPM: high})
	var st IdleState
	b := newBench(t, cfg, func(s *cycle.Span) {
		st = stage.Push(s)
		if a := &st.Advice; a.Kind == advice.Turn && (st.Side == Above) != (a.Direction == advice.Anticlockwise) {
			t.Errorf("%s its range, and %s is told: %+v", st.Side, a.Direction, st)
		}
	})
	b.engine.TurnStop(first)
	b.run(8, nil)
	stage.Restart()
	var f follower
	start := b.engine.Truth().TimeS
	done := b.run(180, func() bool {
		f.follow(b.engine, st.Advice)
		return st.Advice.Kind == advice.Done
	})
	sum, cycles := 0.0, 0.0
	b.engine.OnCycle(func(c engine.Cycle) { sum += c.RPM(); cycles++ })
	took := b.engine.Truth().TimeS - start
	b.run(20, nil)
	t.Logf("%v after %.0f s, %d turns, %.0f rpm, effect %.0f", done, took, f.turns, sum/cycles, st.EffectRPMPerTurn)
	if mean := sum / cycles; !done || mean < low-10 || mean > high+10 {
		t.Errorf("done %v at %.0f rpm, want %v to %v", done, mean, low, high)
	}
}

// The stated 95 % interval of the idle speed holds the speed of the long run.
func TestIdleIntervals(t *testing.T) {
	t.Parallel()
	held, all := 0, 0
	for seed := range uint64(effort.Of(1, 2)) {
		stage := NewIdleSpeed(IdleConfig{})
		var st IdleState
		var means, halves []float64
		cfg := engine.Config{Bank: bank.Default(cylinders()), Seed: 40 + seed, Running: true}
		b := newBench(t, cfg, func(s *cycle.Span) { st = stage.Push(s) })
		b.run(5, nil)
		sum, n := 0.0, 0.0
		b.engine.OnCycle(func(c engine.Cycle) { sum += c.RPM(); n++ })
		for range 12 {
			stage.Restart()
			b.run(10, nil)
			means, halves = append(means, st.RPM),
				append(halves, 1.96*stage.speeds.standardError(stage.speeds.cycles()))
		}
		for i, mean := range means {
			all++
			if math.Abs(mean-sum/n) <= halves[i] {
				held++
			}
		}
	}
	t.Logf("%d of %d intervals hold the mean of the run", held, all)
	if share := float64(held) / float64(all); share < 0.88 {
		t.Errorf("%.0f %% of the intervals hold the mean", 100*share)
	}
}

// An idle that lies below its range, and by its own wander comes a little into it after a turn was told, is not within
// it: nobody has turned. One that a turn brings well into it is.
func TestAWanderIsNoAnswerToATurn(t *testing.T) {
	t.Parallel()
	for rise, want := range map[float64]bool{6: false, 60: true} {
		s := NewIdleSpeed(IdleConfig{LowRPM: 1050, HighRPM: 1150})
		var st IdleState
		now, told := 0.0, false
		for k := range 1200 {
			rpm := 1047.0 + 8*float64(k%3-1) // its scatter
			if now > 20 {
				rpm += rise
			}
			st = s.Push(&cycle.Span{Cycle: true, Start: now, Period: 120 / rpm, N: 4})
			now += 120 / rpm
			told = told || st.Advice.Kind == advice.Turn
			if st.Advice.Kind == advice.Done {
				break
			}
		}
		if !told || (st.Advice.Kind == advice.Done) != want {
			t.Errorf("by %.0f rpm: told to turn %v, at the end %+v at %.0f rpm", rise, told, st.Advice, st.RPM)
		}
	}
}

// Nobody tells whether a turn of the stop was made: one that showed nothing is told again, no larger, and said to be.
func TestATryThatShowsNothingIsToldAgain(t *testing.T) {
	t.Parallel()
	s := NewIdleSpeed(IdleConfig{LowRPM: 1150, HighRPM: 1250})
	again, now := 0, 0.0
	for k := 0; now < 60; k++ {
		rpm := 1000 + 6*float64(k%3-1)
		a := s.Push(&cycle.Span{Cycle: true, Start: now, Period: 120 / rpm, N: 4}).Advice
		if now += 120 / rpm; a.Kind == advice.Turn {
			if a.Why != advice.WhyTry || a.Turns != tryTurns || a.Again != (now > lookS+askS) {
				t.Fatalf("%.1f s: %+v", now, a)
			}
			if a.Again {
				again++
			}
		}
	}
	if again == 0 {
		t.Error("never told again")
	}
}

// An idle that wanders about a speed below its range, or falls back after a blip, is no answer of a throttle stop that
// nobody touches: it is never told the other way.
func TestAWanderTurnsNoThrottleStopRound(t *testing.T) {
	t.Parallel()
	wrong, told := 0, 0
	for n := range 40 {
		s := NewIdleSpeed(IdleConfig{LowRPM: 1000, HighRPM: 1100})
		for now, k := 0.0, 0; now < 120; k++ {
			rpm := 975 + 40*math.Sin(2*math.Pi*now/(14+float64(n))+float64(n)) + 6*float64(k%3-1)
			if n%2 == 0 { // a blip now and then
				rpm += 120 * math.Exp(-math.Mod(now, 25)/5)
			}
			st := s.Push(&cycle.Span{Cycle: true, Start: now, Period: 120 / rpm, N: 4})
			if now += 120 / rpm; st.Advice.Kind == advice.Turn || st.Advice.Kind == advice.Reverse {
				told++
				if (st.Advice.Direction == advice.Clockwise) != (st.Side == Below) && st.Advice.Kind == advice.Turn {
					wrong++
				}
			}
		}
	}
	t.Logf("%d of %d words the wrong way", wrong, told)
	if told == 0 || 50*wrong > told {
		t.Errorf("%d of %d words the wrong way", wrong, told)
	}
}

// A throttle stop that works the other way is found to.
func TestAStopThatWorksTheOtherWay(t *testing.T) {
	t.Parallel()
	s := NewIdleSpeed(IdleConfig{LowRPM: 1000, HighRPM: 1100})
	rpm, stop, due, reversed := 930.0, 0.0, math.Inf(1), false
	var told advice.Advice
	var st IdleState
	for now, k := 0.0, 0; now < 180 && st.Advice.Kind != advice.Done; k++ {
		rpm += (930 - 250*stop - rpm) * 0.08
		st = s.Push(&cycle.Span{Cycle: true, Start: now, Period: 120 / (rpm + 6*float64(k%3-1)), N: 4})
		now += 120 / rpm
		switch a := st.Advice; {
		case a.Kind != advice.Turn && a.Kind != advice.Reverse:
			due, told = math.Inf(1), advice.Advice{}
		case a.Kind != told.Kind || a.Direction != told.Direction:
			told, due = a, now+1.5
		case now > due: // and so much more where nothing is seen
			stop, due = stop+a.SignedTurns(), now+13
		}
		reversed = reversed || st.Advice.Kind == advice.Reverse
	}
	if st.Advice.Kind != advice.Done || !reversed || stop > -1.0/8 {
		t.Errorf("stop at %+.3f, %.0f rpm: %+v", stop, rpm, st.Advice)
	}
}

// A speed that falls back after a blip is not one to turn the throttle stop for: nothing is told until it has come
// down, and then only what is left. One that hunts for ever is told all the same.
func TestNoTurnWhileTheSpeedComesBack(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name      string
		low, high float64
		rpm       func(t float64) float64
		turns     bool
		most      float64 // the speed at which a turn may be told at most
	}{
		{"falls into its range", 1050, 1150, func(t float64) float64 { return 1100 + 250*math.Exp(-t/5) }, false, 0},
		{"falls, and stays high", 850, 950, func(t float64) float64 { return 1100 + 250*math.Exp(-t/5) }, true, 1125},
		{"climbs once started", 1150, 1250, func(t float64) float64 { return 1100 - 200*math.Exp(-t/5) }, true, 1200},
		{"hunts", 850, 950, func(t float64) float64 { return 1100 + 60*math.Sin(t/2) }, true, 1200},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := NewIdleSpeed(IdleConfig{LowRPM: c.low, HighRPM: c.high})
			now, told := 0.0, math.NaN()
			for k := 0; now < 40 && math.IsNaN(told); k++ {
				rpm := c.rpm(now) + 6*float64(k%3-1) // its scatter
				st := s.Push(&cycle.Span{Cycle: true, Start: now, Period: 120 / rpm, N: 4})
				if now += 120 / rpm; st.Advice.Kind == advice.Turn {
					told = c.rpm(now)
				}
			}
			if math.IsNaN(told) == c.turns || told > c.most {
				t.Errorf("told at %.0f rpm, after %.1f s", told, now)
			} else {
				t.Logf("told at %.0f rpm, after %.1f s", told, now)
			}
		})
	}
}

// While a turn is told of a speed that is within its range, and may wander out, the side is that which it leads away
// from.
func TestTheSideWhileATurnIsTold(t *testing.T) {
	t.Parallel()
	for start, want := range map[float64]RangeSide{1095: Above, 1005: Below} {
		s := NewIdleSpeed(IdleConfig{LowRPM: 1000, HighRPM: 1100})
		s.start = start
		told := s.order(1050 - start)
		if st := s.state(told); told.Why != advice.WhyTry || st.Side != want {
			t.Errorf("%v rpm: %q, %+v", start, st.Side, told)
		}
		if st := s.state(advice.New(advice.Done, advice.ThrottleStop, advice.WhyWithin)); st.Side == want {
			t.Errorf("%v rpm, no turn told: %q", start, st.Side)
		}
	}
}
