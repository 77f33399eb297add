package session

import (
	"evendraw/internal/cycle"
	"evendraw/internal/mixture"
)

// Tune is what the stages after levelling say. It is a copy: it never changes.
type Tune struct {
	// Idle is the idle speed's state, and what the throttle stop wants: it counts
	// when the bank is level.
	Idle mixture.IdleState
}

// tuning holds the stages after levelling.
type tuning struct {
	idle  *mixture.IdleSpeed
	state Tune
}

func newTuning(cfg *Config) tuning {
	return tuning{idle: mixture.NewIdleSpeed(cfg.Idle)}
}

// push gives all stages a span.
func (t *tuning) push(s *cycle.Span) {
	t.state.Idle = t.idle.Push(s)
}

// Tune returns what the stages after levelling say.
func (c *Chain) Tune() Tune { return c.tune.state }

// RestartIdle has the idle speed looked at anew, as after something else was
// turned. What was learned of the throttle stop stays.
func (c *Chain) RestartIdle() {
	if c.tune.idle != nil {
		c.tune.idle.Restart()
	}
}

// StopEffect returns what a clockwise turn of the throttle stop does, rpm; 0
// while unknown.
func (c *Chain) StopEffect() float64 {
	if c.tune.idle == nil {
		return 0
	}
	return c.tune.idle.Effect()
}
