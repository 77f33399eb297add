package session_test

import (
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/mixture"
	"evendraw/internal/session"
)

// A level bank whose speed is off the card's range is not done before the throttle stop
// has set it; within its range there is nothing to set.
func TestIdleSpeedIsSetOnALevelBank(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name      string
		low, high float64
		sets      bool
	}{{"low", 1180, 1260, true}, {"no range", 0, 0, false}} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			cfg := engine.Config{Bank: bank.Default(2), Seed: 4, Uneven: 0.3, NoSensorErrors: true}
			p := &practice{engine: engine.New(cfg)}
			p.chain = session.NewChain(session.Config{Ambient: 101.3, Zeroed: true, Bank: &cfg.Bank,
				Idle: mixture.IdleConfig{LowRPM: c.low, HighRPM: c.high}}, func(r *balance.Reading) { p.last = r })
			p.engine.Start()
			p.run(t, 6, nil)
			var h hand
			set := 0
			for p.last.Advice.Kind != advice.Done && p.engine.Truth().TimeS < 200 {
				p.run(t, 0.5, nil)
				if a := &p.last.Advice; a.ToTurn(advice.ThrottleStop) {
					if !p.engine.Truth().Turning && p.engine.Truth().TimeS > h.until {
						p.engine.TurnStop(a.SignedTurns())
						h.until = p.engine.Truth().TimeS + 12
						set++
					}
					continue
				}
				h.follow(p, &p.last.Advice)
			}
			rpm := p.last.RPM
			if p.last.Advice.Kind != advice.Done || (set > 0) != c.sets ||
				c.sets && (rpm < c.low-40 || rpm > c.high+40) {
				t.Errorf("%+v at %.0f rpm after %d turns of the stop, %.0f s", p.last.Advice, rpm, set,
					p.engine.Truth().TimeS)
			}
		})
	}
}
