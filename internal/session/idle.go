package session

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/mixture"
)

// adviseIdle replaces "done" by the advice on the throttle stop while the idle of a level bank
// is off the card's range, or not yet known. Once a screw is turned the idle is looked at anew.
func (c *Chain) adviseIdle(r *balance.Reading) {
	t := &c.tune
	if t.trim != nil || t.raised != nil {
		c.bal.StopTurned()
	}
	if t.trim != nil || t.raised != nil || math.IsNaN(t.state.Idle.LowRPM) {
		return
	}
	switch a := &r.Advice; {
	case a.Kind == advice.Done:
		t.settingIdle = true
	case a.ToTurn(advice.SyncScrew) || a.Kind == advice.Stop:
		t.settingIdle = false
		t.idle.Restart()
	case a.Kind != advice.Wait || a.Why != advice.WhyNotSteady && a.Why != advice.WhyFewCycles:
		t.settingIdle = false
	}
	if t.settingIdle {
		c.replaceByIdle(r)
	}
}

// replaceByIdle makes the reading's advice that of the idle speed, unless the speed is within its
// range or the levelling itself has to wait.
func (c *Chain) replaceByIdle(r *balance.Reading) {
	switch idle := &c.tune.state.Idle; {
	case idle.Advice.Kind == advice.Done:
		return
	case idle.Advice.Kind != advice.Wait:
	case idle.Settled && idle.Side == mixture.Within || r.Advice.Kind != advice.Done:
		return
	}
	c.bal.StopTurned()
	r.Advice = c.tune.state.Idle.Advice
}
