package session

import (
	"math"

	"evendraw/internal/balance"
	"evendraw/internal/mixture"
)

// idleStep puts the setting of the idle speed in the place of "done" while the speed
// of a level bank is off the card's range, or not yet known. While screws are turned the
// speed is looked at anew.
func (c *Chain) idleStep(r *balance.Reading) {
	t := &c.tune
	if t.trim != nil || t.raised != nil {
		c.bal.StopTurned()
	}
	if t.trim != nil || t.raised != nil || math.IsNaN(t.state.Idle.LowRPM) {
		return
	}
	a := &r.Advice
	switch {
	case a.Kind == balance.Done:
		t.setting = true
	case a.Kind == balance.Turn || a.Kind == balance.Reverse || a.Kind == balance.Stop:
		t.setting = false
		t.idle.Restart()
	case a.Kind != balance.Wait || a.Why != balance.WhyNotSteady && a.Why != balance.WhyFewCycles:
		t.setting = false
	}
	if t.setting {
		c.tellIdle(r)
	}
}

// tellIdle makes the reading's advice that of the idle speed, unless that is within
// its range.
func (c *Chain) tellIdle(r *balance.Reading) {
	idle := &c.tune.state.Idle
	a := balance.Advice{Kind: balance.SetIdle, Screw: -1, Direction: balance.Direction(idle.Advice.Direction), Turns: idle.Advice.Turns, Why: balance.WhyIdleSpeed}
	switch idle.Advice.Kind {
	case mixture.Turn, mixture.Reverse:
	case mixture.Stop:
		a.Kind, a.Why = balance.Stop, balance.WhyReached
	case mixture.Done:
		return
	default:
		if idle.Settled && idle.Place == mixture.Within || r.Advice.Kind != balance.Done {
			return
		}
		a = balance.Advice{Kind: balance.Wait, Screw: -1, Turns: idle.Advice.Turns, Why: balance.WhyFewCycles}
	}
	c.bal.StopTurned()
	r.Advice = a
}
