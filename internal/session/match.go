package session

import (
	"fmt"
	"time"

	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// matching is the match pass that runs beside the readings.
type matching struct {
	pass   *sensor.MatchPass
	result *sensor.Match
	err    error
}

// MatchState tells how a match pass goes.
type MatchState struct {
	// Running is set while a pass watches; Progress is then from 0 to 1, and Level the
	// source's vacuum.
	Running  bool
	Progress float64
	Level    pressure.KPa
	// Result is that of the last pass of this run, nil if there was none or
	// it was refused for the reason Err.
	Result *sensor.Match
	Err    error
}

// StartMatch begins a match pass over all pressure channels, or those in only if it is not empty.
// The offsets must have been learned before: all sensors are then on one source.
func (c *Chain) StartMatch(only []int) error {
	switch {
	case c.board == nil:
		return fmt.Errorf("no frames yet: a match needs a board that sends")
	case !c.cfg.Zeroed:
		return &sensor.Refusal{Channel: -1, Reason: "zero the sensors first"}
	}
	uncertainty := c.cfg.ZeroUncertainty
	if c.zero.result != nil {
		uncertainty = c.zero.result.Uncertainty
	}
	c.match = matching{pass: sensor.NewMatchPass(c.cfg.Setup, c.board.Channels, only, uncertainty)}
	return nil
}

// MatchState returns how a match pass goes.
func (c *Chain) MatchState() MatchState {
	m := MatchState{Result: c.match.result, Err: c.match.err}
	if c.match.pass != nil {
		m.Running, m.Progress, m.Level = true, c.match.pass.Progress(), c.match.pass.Level()
	}
	return m
}

// pushMatch gives the pass a sample with the gains in force put back, and reports whether it is
// complete. It does not end it.
func (c *Chain) pushMatch(s *sensor.Sample) (complete bool) {
	raw := *s
	for i := range s.N {
		raw.Absolute[i] = c.cfg.Setup.WithGain(i, s.Absolute[i])
	}
	return c.match.pass.Push(&raw)
}

// MatchTakenAt tells when the last pass was taken, for records.
func (c *Chain) MatchTakenAt(at time.Time) { c.cfg.MatchedAt = at }

// DropMatch ends a running pass without a result.
func (c *Chain) DropMatch() { c.match = matching{} }

// EndMatch ends a running pass: its result is taken, or the reason why there is none. A refused
// pass leaves the gains in force alone.
func (c *Chain) EndMatch() {
	if c.match.pass == nil {
		return
	}
	result, err := c.match.pass.Result()
	c.match.pass = nil
	if err != nil {
		c.match.err = err
		return
	}
	c.match.result = &result
	c.cfg.Setup.Gains, c.cfg.MatchUncertainty = result.Gains, make([]float64, len(result.Gains))
	for i, u := range result.Uncertainty {
		if u > 0 {
			c.cfg.MatchUncertainty[i] = u
		}
	}
	c.conv.SetSetup(c.cfg.Setup, c.board)
	c.bal.SetGainBand(c.gainBand())
}
