package balance

import (
	"math"

	"evendraw/internal/cycle"
	"evendraw/internal/pressure"
)

// steadyCycles is how many cycles the speed is judged over, and steadySD the share of the speed by which they may
// scatter. Chosen: a lumpy idle wanders by 5 %; a blip moves the speed by 10 % a cycle.
const (
	steadyCycles = 8
	steadySD     = 0.06
	// An engine that idles roughly may scatter by roughTimes what it usually does, up to roughSD: else its speed is
	// hardly ever steady. What is usual is the median, learned by roughStep a cycle, so that a blip adds little.
	// Chosen, on an engine whose charges scatter by a quarter: see NOTES.md.
	roughTimes, roughSD, roughStep = 2.0, 0.14, 0.0006
	// roughOff and roughSlope are by which part of that more a rough idle's speed may be off its slow mean, and its
	// older half off all. Chosen.
	roughOff, roughSlope = 1.0, 0.3
	// slowSeconds is the memory of the slow mean that the speed is held against, and steadyOff how far from it a steady
	// speed may be. Chosen: an idle that hunts by 8 % passes; after a blip the slow mean lags behind the falling speed
	// by more until it has settled.
	slowSeconds = 3.0
	steadyOff   = 0.10
	// steadySlope is how far the mean speed of the older half of those cycles may be off that of all, and steadyFlat
	// how far for a speed that has stopped moving, though the slow mean has yet to follow. Chosen: after a blip the
	// practice engine falls by 2 % a cycle, which is 4 % here.
	steadySlope = 0.025
	steadyFlat  = 0.008
	// steadyBack is how far from what it was before a level bank's blip, or from the slow mean, a speed that still
	// falls may be: what is read then is kept as that of the idle. Chosen: a lumpy idle wanders so far by itself.
	// Measured: it costs half a second more than 0.15 does.
	steadyBack = 0.05
)

// sagShare is by how much of the speed a cycle after a misfire is slower than the one before. Measured on the practice
// engine: a misfire of a triple costs 6 %, a calm idle's cycles differ by 1 %.
const sagShare = 0.035

// speedSagged reports whether the cycle is one after a misfire: the burnt gas that is
// missing in it changes its draws, which says nothing of butterflies.
func (b *Balance) speedSagged(s *cycle.Span) bool {
	if b.speedCount == 0 {
		return false
	}
	return s.RPM() < (1-sagShare)*b.speeds[(b.speedCount-1)%steadyCycles]
}

// pushSpeed takes the speed of a cycle. When it settles after a disturbance, what was averaged before no longer counts.
func (b *Balance) pushSpeed(s *cycle.Span) {
	b.speeds[b.speedCount%steadyCycles] = s.RPM()
	if b.speedCount == 0 {
		b.slowRPM, b.disturbed = s.RPM(), true
	}
	b.slowRPM += (1 - math.Exp(-s.Period/slowSeconds)) * (s.RPM() - b.slowRPM)
	b.speedCount++
	mean, scatter, slope := b.lastSpeeds()
	off := math.Abs(mean-b.slowRPM) / b.slowRPM
	if b.speedCount >= steadyCycles {
		b.usualScatter = max(b.usualScatter+math.Copysign(roughStep, scatter/mean-b.usualScatter), 0)
	}
	rough := b.rough()
	near := off < steadyOff+roughOff*rough
	if b.advisor.phase == blipping {
		near = off < steadyBack || math.Abs(mean-b.calmRPM) < steadyBack*b.calmRPM
	}
	switch {
	case b.speedCount < steadyCycles:
	case scatter >= (steadySD+rough)*mean || !b.disturbed && off >= steadyOff+roughOff*rough:
		b.disturbed = true
	case b.disturbed && slope < (steadySlope+roughSlope*rough)*mean && (near || slope < steadyFlat*mean):
		b.disturbed = false
		b.slowRPM = mean
		b.win.settle()
	}
	if !b.disturbed {
		b.calmRPM = b.slowRPM
	}
	if mean > blipRise*b.slowRPM {
		b.advisor.trail = trail{}
	}
	b.win.unsteady = b.disturbed
	b.win.rpm, b.win.lastRPM = b.slowRPM, s.RPM()
	b.advisor.check.watchForBlip(s.End(), s.RPM())
	b.pushWarmth(s)
}

// rough is by how much more than another engine's the speed of one that idles roughly may scatter, as a share.
func (b *Balance) rough() float64 { return max(min(roughTimes*b.usualScatter, roughSD)-steadySD, 0) }

// pushWarmth has the engine's warmth seen in a cycle.
func (b *Balance) pushWarmth(s *cycle.Span) {
	if b.disturbed {
		b.gate.warmth.Disturb()
		return
	}
	mean := pressure.KPa(0)
	for _, p := range s.Mean[:s.N] {
		mean += p / pressure.KPa(s.N)
	}
	moved := b.win.changed || b.win.held
	b.gate.warmth.Push(s.End(), s.RPM(), float64(b.cfg.Ambient-mean), moved)
}

// steady reports whether the speed of the last cycles has settled.
func (b *Balance) steady() bool { return b.speedCount >= steadyCycles && !b.disturbed }

// lastSpeeds returns the mean of the last cycles' speeds, their standard deviation,
// and how far the mean of the older half is off it.
func (b *Balance) lastSpeeds() (mean, scatter, slope float64) {
	older := 0.0
	for i, v := range b.speeds {
		mean += v / steadyCycles
		if (b.speedCount-1-i)%steadyCycles >= steadyCycles/2 {
			older += v / (steadyCycles / 2)
		}
	}
	for _, v := range b.speeds {
		scatter += (v - mean) * (v - mean) / steadyCycles
	}
	return mean, math.Sqrt(scatter), math.Abs(mean - older)
}
