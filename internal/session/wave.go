package session

import (
	"math"

	"evendraw/internal/balance"
	"evendraw/internal/cycle"
)

// WavePoints is how many points show one cycle: one every 8 degrees of crank.
// Chosen: more than a screen has columns for.
const WavePoints = 90

// waveShare is the share of a new cycle in the mean. Chosen: a mean over some
// ten cycles, one second of idling.
const waveShare = 0.1

// Wave is one cycle of all cylinders, evenly over the cycle from its start, in
// absolute kPa, by cylinder - 1. It never changes.
type Wave struct {
	N int // cylinders
	// Live is the last cycle, Mean the mean of some ten.
	Live, Mean [cycle.MaxCylinders][WavePoints]float32
	// DipAt is where each cylinder's dip lies, as a share of the cycle.
	DipAt [cycle.MaxCylinders]float64
}

// movedBoundary is by how much of a cycle a dip lies elsewhere where the cycles' boundary has moved. Chosen.
const movedBoundary = 0.1

// wave returns the cycle of a reading, its mean carried on from before (nil:
// none); nil when the reading has no cycle or its samples are gone.
func (c *Chain) wave(r *balance.Reading, before *Wave) *Wave {
	span := &r.Span
	if !span.Cycle || c.tracker == nil {
		return nil
	}
	w := &Wave{N: span.N, DipAt: span.DipAt}
	var points [WavePoints]float64
	for i := range span.N {
		if !c.tracker.Trace(i+1, span.Start, span.Period, points[:]) {
			return nil
		}
		for k, v := range points {
			w.Live[i][k] = float32(v)
		}
	}
	w.Mean = w.Live
	if before != nil && before.N == w.N && !span.Break &&
		math.Abs(math.Remainder(w.DipAt[0]-before.DipAt[0], 1)) < movedBoundary {
		for i := range w.N {
			for k, old := range before.Mean[i] {
				w.Mean[i][k] = old + waveShare*(w.Live[i][k]-old)
			}
		}
	}
	return w
}

// renewWave makes the wave of a reading that has not been looked at.
func (s *Session) renewWave() {
	if s.reading == nil || s.reading == s.waveOf {
		return
	}
	s.waveOf = s.reading
	s.wave = s.chain.wave(s.reading, s.wave)
}
