package session

import (
	"time"

	"evendraw/internal/cycle"
	"evendraw/internal/heat"
	"evendraw/internal/pressure"
)

const (
	// stillKPa is the swing within a quarter of a second up to which a runner's air stands.
	// Chosen: far above a sensor's noise, far below the pulse of the slowest engine that turns.
	stillKPa pressure.KPa = 3
	// unseenAfter is how long no frame must have come for the time to be counted by the
	// clock on the wall. Chosen: a busy machine is late by less.
	unseenAfter = time.Second
)

// pushHeat moves the heat's clock on by a span.
func (c *Chain) pushHeat(s *cycle.Span) {
	switch {
	case s.Cycle:
		c.heat.Run(s.Period, heat.Pace(s.RPM(), c.bal.Warming()))
	case pulses(s):
		c.heat.Run(s.Period, 1)
	default:
		c.heat.Stand(s.Period)
	}
	c.bal.SetHeat(c.heat)
}

// pulses reports whether some runner's pressure swings: an engine that turns, though no cycle is
// known.
func pulses(s *cycle.Span) bool {
	for i := range s.N {
		if s.Highest[i]-s.Lowest[i] > stillKPa {
			return true
		}
	}
	return false
}

// Heat returns the budget of idling.
func (c *Chain) Heat() heat.State { return c.heat }

// SetHeat takes up a budget of idling that was left; the limit in force stays.
func (c *Chain) SetHeat(h heat.State) {
	h.Limit = c.heat.Limit
	c.heat = h
}

// SetFan tells whether a fan blows on the engine.
func (c *Chain) SetFan(on bool) { c.heat.Fan = on }

// HeatNow returns the budget of idling at a time on the wall, also where no frames have come for a
// while: an engine that turned is taken to have gone on.
func (s *Snapshot) HeatNow(now time.Time) heat.State {
	h := s.Heat
	if s.Phase != Ended && !s.HeatAt.IsZero() && now.Sub(s.HeatAt) > unseenAfter {
		h.Unseen(now.Sub(s.HeatAt).Seconds())
	}
	return h
}

// heatUnseen counts the time for which no frames have come. The caller holds mu.
func (s *Session) heatUnseen(now time.Time) {
	if away := now.Sub(s.heatAt); !s.heatAt.IsZero() && away > unseenAfter {
		s.chain.heat.Unseen(away.Seconds())
		s.heatAt = now
	}
}
