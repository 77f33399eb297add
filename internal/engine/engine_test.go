package engine

import (
	"fmt"
	"math"
	"sync"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/effort"
)

// Draws at a warm idle: 20 to 30 kPa, common practice, no source; uneven ones a
// little beyond. Idle speed: about 1000 to 1200 rpm, published in a carburettor
// maker's handbook, as quoted in the project's list of references.
func TestIdle(t *testing.T) {
	for n := 1; n <= 4; n++ {
		t.Run(fmt.Sprintf("%d cylinders", n), func(t *testing.T) {
			t.Parallel()
			for seed := range uint64(effort.Of(2, 12)) {
				e := New(Config{Bank: bank.Default(n), Seed: seed, Running: true})
				a := observe(t, e, 4)
				if a.least < 900 || a.most > 1300 {
					t.Errorf("seed %d: idles from %.0f to %.0f rpm", seed, a.least, a.most)
				}
				for i, d := range a.draw[:n] {
					if d < 20 || d > 32 {
						t.Errorf("seed %d: cylinder %d draws %.2f kPa", seed, i+1, d)
					}
				}
				if s := a.spread(n); n > 1 && (s < 2.5 || s > 7) {
					t.Errorf("seed %d: spread %.2f kPa, asked for about %v", seed, s, DefaultUneven)
				}
			}
		})
	}
}

// Engines that fire unevenly idle too: intervals as published in an encyclopaedia's
// table of engine configurations.
func TestUnevenFiringIdles(t *testing.T) {
	for _, angles := range [][]float64{{0, 270}, {0, 180}, {0, 450}, {0, 270, 450, 540}} {
		t.Run(fmt.Sprint(angles), func(t *testing.T) {
			t.Parallel()
			b := bank.Default(len(angles))
			b.FiringAngles = angles
			if err := b.Check(); err != nil {
				t.Fatal(err)
			}
			a := observe(t, New(Config{Bank: b, Seed: 5, Running: true}), 5)
			if a.least < 850 || a.most > 1350 {
				t.Errorf("idles from %.0f to %.0f rpm", a.least, a.most)
			}
		})
	}
}

func TestLevelButterfliesDrawAlike(t *testing.T) {
	for n := 2; n <= 4; n++ {
		a := observe(t, New(level(n)), 4)
		if s := a.spread(n); s > 0.1 {
			t.Errorf("n %d: spread %.3f kPa", n, s)
		}
	}
}

// The speed settles, and stays.
func TestIdleIsStable(t *testing.T) {
	e := New(level(4))
	first := observe(t, e, 5)
	runFor(t, e, effort.Of(8., 30.))
	last := observe(t, e, 5)
	if math.Abs(last.rpm-first.rpm) > 5 || math.Abs(last.rpm-UsualIdleRPM) > 60 {
		t.Errorf("%.1f rpm at first, %.1f rpm later, want about %v", first.rpm, last.rpm, float64(UsualIdleRPM))
	}
}

// Opening a butterfly lowers its own cylinder's draw beside the others', and the
// engine speeds up a little; each screw does what ScrewEffect says.
func TestScrewsMoveTheirCylinders(t *testing.T) {
	for s, name := range []string{"1-2", "3-4", "2-3"} {
		if s == 1 && !effort.Whole() {
			continue // is like the first
		}
		e := New(level(4))
		before := observe(t, e, 3)
		effect := float64(e.Truth().ScrewEffect[s])
		turns := math.Copysign(0.5, -effect) // opens
		e.Turn(s, turns)
		runFor(t, e, 8)
		if truth := e.Truth(); truth.Turning || math.Abs(truth.ScrewTurns[s]-turns) > 1e-9 {
			t.Fatalf("screw %s stands at %v turns, want %v", name, truth.ScrewTurns[s], turns)
		}
		after := observe(t, e, 3)
		if rise := after.rpm - before.rpm; rise < 2 || rise > 100 {
			t.Errorf("screw %s: speed rises by %.1f rpm", name, rise)
		}
		still := 0.0 // how far the cylinders that it leaves alone went
		for i := range 4 {
			if !e.config.Bank.Moves(s, i+1) {
				still += (after.draw[i] - before.draw[i]) / float64(4-len(e.config.Bank.Screws[s].Moves))
			}
		}
		for i := range 4 {
			own := after.draw[i] - before.draw[i] - still
			switch moved := e.config.Bank.Moves(s, i+1); {
			case moved && (own > 0 || math.Abs(own/(turns*effect)-1) > 0.33):
				t.Errorf("screw %s: cylinder %d goes by %.2f kPa, nominal %.2f", name, i+1, own, turns*effect)
			case !moved && math.Abs(own) > 0.1:
				t.Errorf("screw %s: cylinder %d goes by %.2f kPa with the rest", name, i+1, own)
			}
		}
	}
}

func TestThrottleStop(t *testing.T) {
	e := New(level(4))
	before := observe(t, e, 3)
	e.TurnStop(1)
	runFor(t, e, 8)
	opened := observe(t, e, 3)
	if opened.rpm < before.rpm+50 || opened.rpm > before.rpm+500 {
		t.Errorf("a turn of the throttle stop takes %.0f to %.0f rpm", before.rpm, opened.rpm)
	}
	e.TurnStop(-100)
	runFor(t, e, 30)
	if truth := e.Truth(); truth.StopTurns != -StopTravel || truth.Running {
		t.Errorf("with the throttle stop at %v turns running is %v", truth.StopTurns, truth.Running)
	}
}

// A hand turns gradually: half a turn a second.
func TestHandTurnsGradually(t *testing.T) {
	e := New(Config{Bank: bank.Default(4)})
	e.Turn(0, 1)
	e.Turn(0, -0.5)
	e.Turn(99, 1)
	e.Turn(-1, 1)
	e.Turn(1, math.NaN())
	runFor(t, e, 0.5)
	if truth := e.Truth(); math.Abs(truth.ScrewTurns[0]-0.25) > 1e-6 || !truth.Turning || truth.ScrewTurns[1] != 0 {
		t.Errorf("after half a second: %v", truth.ScrewTurns)
	}
	e.Turn(0, -1000)
	runFor(t, e, 15)
	if got := e.Truth().ScrewTurns[0]; got != -ScrewTravel {
		t.Errorf("screw stands at %v turns, its end is %v", got, -ScrewTravel)
	}
}

func TestOffStartBlipStop(t *testing.T) {
	for n := effort.Of(4, 1); n <= 4; n++ {
		e := New(Config{Bank: bank.Default(n), Seed: 3, Ambient: 95})
		runFor(t, e, 2)
		truth := e.Truth()
		if truth.Running || truth.RPM != 0 || truth.Cycles != 0 || math.Abs(float64(truth.Cylinders[0].Draw)) > 1e-6 {
			t.Fatalf("n %d, engine off: %+v", n, truth)
		}
		e.Start()
		runFor(t, e, 6)
		if truth = e.Truth(); !truth.Running || truth.RPM < 850 || truth.RPM > 1400 {
			t.Errorf("n %d, six seconds after the start: running %v at %.0f rpm", n, truth.Running, truth.RPM)
		}
		idle := truth.RPM
		e.Blip()
		if a := observe(t, e, 2); a.most < idle+500 || a.most > 8000 {
			t.Errorf("n %d: a blip takes %.0f rpm to %.0f", n, idle, a.most)
		}
		runFor(t, e, 8)
		if truth = e.Truth(); math.Abs(truth.RPM-idle) > 100 {
			t.Errorf("n %d: after the blip %.0f rpm, before it %.0f", n, truth.RPM, idle)
		}
		e.Stop()
		runFor(t, e, 5)
		if truth = e.Truth(); truth.Running || truth.RPM != 0 || math.Abs(float64(truth.Spread)) > 1e-6 {
			t.Errorf("n %d, stopped: %+v", n, truth)
		}
	}
}

// The whole engine converges too: halving all steps moves the mean draw at idle,
// and with it speed, hardly.
func TestEngineStepConverges(t *testing.T) {
	coarse := observe(t, newEngine(level(4), 1), 3)
	fine := observe(t, newEngine(level(4), 2), 3)
	for i := range 4 {
		if d := coarse.draw[i] - fine.draw[i]; math.Abs(d) > 0.02 {
			t.Errorf("cylinder %d: %.4f kPa, with half the step %.4f", i+1, coarse.draw[i], fine.draw[i])
		}
	}
	t.Logf("cylinder 1 %.4f, %.4f kPa; %.2f, %.2f rpm", coarse.draw[0], fine.draw[0], coarse.rpm, fine.rpm)
}

// Cycles follow one another without a gap, each as long as 720 degrees take.
func TestCyclesAreWhole(t *testing.T) {
	e := New(Config{Bank: bank.Default(3), Seed: 9, Running: true})
	var cycles []Cycle
	e.OnCycle(func(c Cycle) { cycles = append(cycles, c) })
	runFor(t, e, 3)
	for i, c := range cycles {
		if i > 0 {
			if end := cycles[i-1].StartS + cycles[i-1].PeriodS; math.Abs(c.StartS-end) > 1e-9 {
				t.Errorf("cycle %d begins at %v, the one before ends at %v", i, c.StartS, end)
			}
		}
		if c.PeriodS < 120.0/1300 || c.PeriodS > 120.0/900 || c.Cylinders != 3 || !c.Running {
			t.Errorf("cycle %d: %+v", i, c)
		}
		if c.LowestAbsolute[0] >= c.MeanAbsolute[0] || c.HighestAbsolute[0] <= c.MeanAbsolute[0] {
			t.Errorf("cycle %d: mean %v outside %v to %v", i, c.MeanAbsolute[0], c.LowestAbsolute[0],
				c.HighestAbsolute[0])
		}
	}
	if truth := e.Truth(); len(cycles) < 20 || truth.Spread != cycles[len(cycles)-1].Spread() {
		t.Errorf("%d cycles", len(cycles))
	}
}

func TestParabolaPart(t *testing.T) {
	// 1 + 2x + 3x^2 from 0 to 1: ends 1 and 6, integral 3; to 0.5: 0.5 + 0.25 + 0.125.
	if got := partOf(3, 1, 6, 0.5); math.Abs(got-0.875) > 1e-15 {
		t.Errorf("got %v", got)
	}
}

// Run with -race, this shows that all methods may be called while another
// goroutine reads.
func TestCallsFromOtherGoroutines(t *testing.T) {
	e := New(Config{Bank: bank.Default(4), Seed: 2})
	e.OnCycle(func(Cycle) { e.Truth() })
	var wait sync.WaitGroup
	for _, call := range []func(){e.Start, e.Stop, e.Blip, func() { e.Turn(0, 0.1) }, func() { e.TurnStop(0.1) },
		func() { e.TurnPilot(1, 0.1) }, func() { e.LockNut(0) }, func() { e.FailSensor(1, SensorStuck) },
		func() { e.Truth() }} {
		wait.Go(func() {
			for range 200 {
				call()
			}
		})
	}
	runFor(t, e, 1)
	wait.Wait()
}
