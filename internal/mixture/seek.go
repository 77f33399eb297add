package mixture

import (
	"math"

	"evendraw/internal/advice"
)

// closeVisit fits the curve anew after a look at a setting, and keeps the point.
func (t *Trim) closeVisit() {
	t.pilot().Visits++
	t.est = t.curve.estimate(&t.dynamics)
	s := &t.state
	if s.NPoints < MaxPoints {
		n := t.speeds.cycles()
		s.Points[s.NPoints] = Point{t.turnedOut, t.speeds.mean(n), 1.96 * t.speeds.standardError(n),
			t.probe.lambdaAt(t.turnedOut)}
		s.NPoints++
	}
	if p := t.pilot(); t.est.known {
		p.Best, p.Uncertainty = t.est.peak, 1.96*t.est.sd
	}
}

// nextSetting says where to look next, or sets the screw.
func (t *Trim) nextSetting() {
	if t.cfg.Target > 0 && t.seekTarget() {
		return
	}
	p, e := t.pilot(), &t.est
	within := e.known && e.peak >= t.lowOut && e.peak <= t.highOut
	enough := p.Visits > 2 // the base and both sides
	switch {
	case enough && within && 1.96*e.sd <= sureTurns:
		t.finishAt(e.peak, AtPeak)
	case enough && t.noAnswer():
		t.finishAt(0, Silent)
	case enough && t.peakBeyondTravel():
		t.finishAt(t.bestEnd(), AtEnd)
	case p.Visits >= mostVisits:
		t.giveUp()
	default:
		t.tellTurn(t.nextVisit(), StepTurn, advice.WhySeek)
	}
}

// giveUp sets the best guess, which is not as sure as wanted.
func (t *Trim) giveUp() {
	switch e := &t.est; {
	case e.known && e.peak >= t.lowOut && e.peak <= t.highOut:
		t.finishAt(e.peak, Unsure)
	case e.ok && (e.known || math.Abs(e.slope) > 2*e.slopeSD):
		t.finishAt(t.bestEnd(), AtEnd)
	default:
		t.finishAt(0, Unsure)
	}
}

// noAnswer reports whether the speed does not answer to the screw: its curve is surely less than
// half as bent as a sound cylinder's, and rises to neither side.
func (t *Trim) noAnswer() bool {
	e := &t.est
	usual := -usualBend * t.baseRPM / float64(t.cfg.Cylinders)
	if t.dynamics.bend.sd > 0 {
		usual = t.dynamics.bend.mean
	}
	return e.ok && e.ownBend-2*e.ownBendSD > usual/2 && math.Abs(e.slope) < 2*e.slopeSD
}

// visitedRange returns the lowest and the highest setting visited.
func (t *Trim) visitedRange() (low, high float64) {
	for _, p := range t.state.Points[:t.state.NPoints] {
		low, high = min(low, p.Moved), max(high, p.Moved)
	}
	return low, high
}

// peakBeyondTravel reports whether the peak lies outside the screw's travel, as far as can be seen:
// the speed still rises at an end that has been visited.
func (t *Trim) peakBeyondTravel() bool {
	e := &t.est
	if !e.ok {
		return false
	}
	low, high := t.visitedRange()
	rise := func(u float64) float64 { return e.slope + 2*e.bend*u }
	doubt := 2 * math.Hypot(e.slopeSD, 2*e.bendSD*max(math.Abs(low), math.Abs(high)))
	rises := func(by float64) bool { return by > min(doubt, math.Abs(by)/2) }
	return high >= t.highOut-t.cfg.Step/2 && rises(rise(t.highOut)) && e.peakAbove(t.highOut) ||
		low <= t.lowOut+t.cfg.Step/2 && rises(-rise(t.lowOut)) && e.peakBelow(t.lowOut)
}

// peakAbove reports whether the peak is surely above u, or there is none in sight.
func (e *estimate) peakAbove(u float64) bool { return !e.known || e.peak-2*e.sd > u }

func (e *estimate) peakBelow(u float64) bool { return !e.known || e.peak+2*e.sd < u }

// bestEnd is the end of the travel that the speed rises to.
func (t *Trim) bestEnd() float64 {
	if t.est.slope > 0 {
		return t.roundToStep(t.highOut)
	}
	return t.roundToStep(t.lowOut)
}

// nextVisit is the next setting to visit. It alternates between the two sides of the best guess, so
// that a drift of the idle cancels and earlier settings are visited again.
func (t *Trim) nextVisit() float64 {
	centre, reach := 0.0, firstReach
	if e := &t.est; t.pilot().Visits > 2 && e.ok {
		switch {
		case e.known:
			centre, reach = min(max(e.peak, t.lowOut), t.highOut), t.cfg.Reach
		case math.Abs(e.slope) > e.slopeSD: // on the way up
			low, high := t.visitedRange()
			if centre = low; e.slope > 0 {
				centre = high
			}
		}
	}
	if t.side == 0 { // richer first, as lean stalls
		if t.side = -1; t.cfg.Screws == AirScrews {
			t.side = 1
		}
	}
	t.side = -t.side
	to := t.keepInTravel(t.roundToStep(centre + t.side*reach))
	if math.Abs(to-t.turnedOut) < t.cfg.Step/2 { // no way further on that side
		t.side = -t.side
		to = t.keepInTravel(t.roundToStep(centre + t.side*reach))
	}
	return to
}

// roundToStep rounds a setting to whole steps.
func (t *Trim) roundToStep(to float64) float64 { return math.Round(to/t.cfg.Step) * t.cfg.Step }

// keepInTravel returns the nearest whole step within the screw's travel.
func (t *Trim) keepInTravel(to float64) float64 {
	step := t.cfg.Step
	return min(max(to, math.Ceil(t.lowOut/step-1e-9)*step), math.Floor(t.highOut/step+1e-9)*step)
}

// finishAt tells to set the screw to the step nearest to a setting, for good.
func (t *Trim) finishAt(to float64, found Found) {
	p := t.pilot()
	p.Found = found
	to = t.keepInTravel(t.roundToStep(to))
	if t.est.ok {
		p.GainRPM = t.est.settledRPM(to) - t.est.settledRPM(0)
	}
	p.Lambda = t.probe.lambdaAt(to)
	t.tellTurn(to, StepSet, advice.WhySet)
}

// closeCylinder ends the current cylinder and goes on to the next: at once where the fit predicts
// an idle within its range, else by way of the throttle stop.
func (t *Trim) closeCylinder() {
	p := t.pilot()
	p.Seconds = t.now - t.cylinderSince
	t.order = t.order[1:]
	if t.shift.made {
		if len(t.order) > 0 {
			t.shiftNext()
			return
		}
	} else {
		t.shift.noteAnswer(p.Cylinder, &t.probe)
		t.dynamics.learn(&t.est)
		if rpm := t.predictedRPM(p.Moved); len(t.order) > 0 && t.idle.sideOf(rpm, 0) == Within {
			t.beginCylinder(rpm)
			return
		}
	}
	t.idle.settleAnew()
	t.enter(StepIdle, math.NaN())
	t.state.Advice = t.idle.told
}

// predictedRPM is the speed that the fit predicts for a setting, NaN without a peak.
func (t *Trim) predictedRPM(at float64) float64 {
	if !t.est.known {
		return math.NaN()
	}
	return t.est.settledRPM(at)
}
