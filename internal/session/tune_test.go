package session_test

import (
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/heat"
	"evendraw/internal/mixture"
	"evendraw/internal/probe"
	"evendraw/internal/raised"
	"evendraw/internal/session"
)

// feed runs a chain on an engine for some seconds.
func feed(t *testing.T, e *engine.Engine, c *session.Chain, seconds float64) {
	t.Helper()
	buf := make([]byte, 480)
	for end := e.Truth().TimeS + seconds; e.Truth().TimeS < end; {
		n, _ := e.Read(buf)
		if err := c.Feed(buf[:n]); err != nil {
			t.Fatal(err)
		}
	}
}

// The stages after levelling run beside the readings, and the probe's channel becomes
// the engine's true lambda.
func TestTuneInTheChain(t *testing.T) {
	t.Parallel()
	four := bank.Default(4)
	// level: while a screw is to be turned the idle is not looked at
	e := engine.New(engine.Config{Bank: four, Seed: 6, Running: true, Level: true, Alike: true, NoSensorErrors: true,
		Lambda: true, LambdaOf: 2, PilotsOff: 0.4})
	cfg := session.Config{Bank: &four, Ambient: engine.DefaultAmbient, Zeroed: true,
		Idle: mixture.IdleConfig{LowRPM: 900, HighRPM: 1300},
		Lambda: &session.LambdaConfig{Channel: 4, Of: 2, StoichAFR: 14.7,
			Probe: probe.Probe{HighV: 5, LowLambda: 0.5, HighLambda: 1.5}}}
	c := session.NewChain(cfg, func(*balance.Reading) {})
	if c.StartTrim(mixture.TrimConfig{}) == nil || c.StartRaised(raised.Config{}) == nil {
		t.Error("a stage was begun without a board")
	}
	c.RestartIdle()
	c.TrimMade()
	run := func(seconds float64) { feed(t, e, c, seconds) }
	run(14)
	tune := c.Tune()
	if tune.Trim != nil || tune.Raised != nil || tune.Idle.Advice.Kind != advice.Done {
		t.Errorf("before: %+v", tune)
	}
	truth := e.Truth().Cylinders[1].Lambda
	if tune.Lambda == nil || math.Abs(tune.Lambda.Lambda-truth) > 0.01 ||
		math.Abs(tune.Lambda.AFR-14.7*tune.Lambda.Lambda) > 1e-9 || tune.Lambda.Of != 2 {
		t.Errorf("lambda %+v, true %.3f", tune.Lambda, truth)
	}
	if err := c.StartTrim(mixture.TrimConfig{Target: 0.95}); err != nil {
		t.Fatal(err)
	}
	run(12)
	first := c.Tune()
	if first.Trim == nil || first.Trim.Cylinders != 4 || first.Trim.Step == mixture.StepIdle {
		t.Fatalf("trim: %+v", first.Trim)
	}
	step := first.Trim.Step
	run(10)
	if first.Trim.Step != step {
		t.Error("a state that was given has changed")
	}
	c.StopTrim()
	last := c.Tune().Trim
	run(3)
	if c.Tune().Trim != last {
		t.Error("a stopped trim goes on")
	}
	if err := c.StartRaised(raised.Config{Limit: 2, RPM: 2500}); err != nil {
		t.Fatal(err)
	}
	run(7)
	e.HoldAt(2500)
	run(14)
	if r := c.Tune().Raised; r == nil || !r.Done || c.Tune().Trim != nil {
		t.Errorf("raised: %+v", r)
	}
}

// The search for a leak and the look at a raised speed are not begun with seconds of idling left: the engine cools
// first, unless that would give no more.
func TestNothingIsBegunTooLate(t *testing.T) {
	t.Parallel()
	four := bank.Default(4)
	for _, x := range []struct {
		idled, limit      float64
		airCools, revCool bool
	}{{60, 300, false, false}, {250, 300, true, false}, {285, 300, true, true}, {20, 45, false, false}} {
		e := engine.New(engine.Config{Bank: four, Seed: 6, Running: true, Level: true})
		c := session.NewChain(session.Config{Bank: &four, Ambient: engine.DefaultAmbient, Zeroed: true,
			IdlingLimit: x.limit}, func(*balance.Reading) {})
		feed(t, e, c, 1)
		for want, begin := range map[*bool]func() error{
			&x.airCools: func() error { c.WatchAir(true); return nil },
			&x.revCool:  func() error { return c.StartRaised(raised.Config{}) }} {
			c.SetHeat(heat.State{Seconds: x.idled, Turning: true})
			if err := begin(); err != nil || c.Heat().Hot != *want {
				t.Errorf("%v: %+v, %v, want cooling %v", x, c.Heat(), err, *want)
			}
		}
	}
}
