package session_test

import (
	"fmt"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
)

// firedUntil is when a cylinder of those tests stops firing, s.
const firedUntil = 12.0

// banksThatRunOn are those of which a cylinder may stop firing without the engine stalling at once, as a twin does.
func banksThatRunOn() (banks []bank.Bank) {
	even4, even3, uneven4, uneven3 := bank.Default(4), bank.Default(3), bank.Default(4), bank.Default(3)
	uneven4.FiringOrder, uneven4.FiringAngles = []int{1, 3, 2, 4}, []float64{0, 270, 450, 540}
	uneven3.FiringAngles = []float64{0, 180, 450}
	return []bank.Bank{even4, uneven4, even3, uneven3}
}

// A cylinder that stops firing in the middle of the job, its lead pulled off, is told as one that may have, before any
// word that has the idle raised, and for as long as the engine runs on, though the hand raises the idle all the same;
// where pushes can be told apart it is named, and no other is.
func TestACylinderThatStopsFiring(t *testing.T) {
	t.Parallel()
	for row, b := range banksThatRunOn() {
		for _, seed := range effort.Of([]uint64{1}, []uint64{1, 2, 3, 4, 5, 6}) {
			t.Run(fmt.Sprint(b.FiringOrder, b.FiringAngles, seed), func(t *testing.T) {
				t.Parallel()
				e := engine.Config{Bank: b, Seed: seed, Running: true, NoSensorErrors: true, Lumpy: seed%2 == 0,
					Uneven: 3}
				for i := range b.Cylinders {
					e.Hoses = append(e.Hoses, engine.Hose{LagS: []float64{3, 5, 4, 6}[i] * 1e-3})
				}
				checkStopsFiring(t, e, 1+int(seed)%b.Cylinders, row != 1)
			})
		}
	}
}

func checkStopsFiring(t *testing.T, c engine.Config, cylinder int, named bool) {
	t.Helper()
	idle, raised, told, name, ran := 0.0, 0.0, 0.0, 0, 0.0
	pulled := false
	summed(c, effort.Of(22., 36), func(e *engine.Engine, now float64) {
		if now > firedUntil && !pulled {
			pulled = true
			e.PullLead(cylinder)
		}
		if now > firedUntil+5 && now > raised+2 && e.Truth().RPM < idle { // raises it all the same
			raised = now
			e.TurnStop(0.1)
		}
	}, func(r *balance.Reading) {
		if r.Time < firedUntil {
			idle = r.RPM
			return
		}
		a := &r.Advice
		if r.Span.Cycle {
			ran = r.Time
		}
		switch {
		case a.Why == advice.WhyDead:
			if name = a.Cylinder; name != cylinder {
				t.Errorf("%.1f s: %d is named for %d", r.Time, name, cylinder)
			}
			told = max(told, r.Time)
		case a.Why == advice.WhyOneSilent:
			told = max(told, r.Time)
		case a.Why == advice.WhyIdleFell, a.Why == advice.WhyOffIdle, a.Kind == advice.Done,
			told > 0 && r.Span.Cycle:
			t.Fatalf("%.1f s, %.0f rpm: %s %s", r.Time, r.RPM, a.Kind, a.Why)
		}
	})
	if told == 0 && ran > firedUntil+4 || named && name == 0 && ran > firedUntil+7 {
		t.Errorf("it ran until %.1f s; told until %.1f s, named %d", ran, told, name)
	}
}

// A speed that falls otherwise is none of that: a throttle stop that is turned back, one that is let go from a raised
// speed, a blip, a screw, a fan, an engine that is switched off.
func TestASpeedThatFallsOtherwise(t *testing.T) {
	t.Parallel()
	act := []struct {
		name string
		rpm  float64 // idle
		do   func(e *engine.Engine, since float64)
	}{
		{"stop turned back", 1400, func(e *engine.Engine, since float64) {
			if since == 0 {
				e.TurnStop(-1.2)
			}
		}},
		{"held and let go", 1050, func(e *engine.Engine, since float64) {
			e.HoldAt(map[bool]float64{true: 1800}[since < 6])
		}},
		{"blips", 1050, func(e *engine.Engine, since float64) {
			if since == 0 || since > 5 && since < 5.1 {
				e.Blip()
			}
		}},
		{"switched off", 1050, func(e *engine.Engine, _ float64) { e.Stop() }},
		{"screws and fan", 1050, func(e *engine.Engine, since float64) {
			if since == 0 {
				e.Turn(0, 1)
				e.Fan(true)
			}
		}},
	}
	for row, b := range banksThatRunOn() {
		for k, c := range act {
			t.Run(fmt.Sprint(c.name, row), func(t *testing.T) {
				t.Parallel()
				effort.Some(t, row*len(act)+k, 6)
				for _, seed := range effort.Of([]uint64{1}, []uint64{1, 2, 3, 4}) {
					e := engine.Config{Bank: b, Seed: seed, Running: true, NoSensorErrors: true, Lumpy: seed%2 == 0,
						Uneven: 3, IdleRPM: c.rpm}
					began := 0.0
					summed(e, 24, func(e *engine.Engine, now float64) {
						if now > firedUntil {
							if began == 0 {
								began = now
							}
							c.do(e, now-began)
						}
					}, func(r *balance.Reading) {
						if r.Span.Fell || r.Span.Stopped > 0 {
							t.Fatalf("seed %d: told at %.1f s, %.0f rpm", seed, r.Time, r.RPM)
						}
					})
				}
			})
		}
	}
}
