package mixture

import (
	"math"

	"evendraw/internal/advice"
)

// visited closes a look at a setting.
func (t *Trim) visited() {
	t.pilot().Visits++
	t.est = t.curve.estimate(&t.dynamics)
	s := &t.state
	if s.NPoints < MaxPoints {
		n := t.speeds.cycles()
		s.Points[s.NPoints] = Point{t.at, t.speeds.mean(n), 1.96 * t.speeds.error(n), t.probe.lambdaAt(t.at)}
		s.NPoints++
	}
	if p := t.pilot(); t.est.known {
		p.Best, p.Uncertainty = t.est.peak, 1.96*t.est.sd
	}
}

// next says where to look next, or sets the screw.
func (t *Trim) next() {
	if t.cfg.Target > 0 && t.seekTarget() {
		return
	}
	p, e := t.pilot(), &t.est
	within := e.known && e.peak >= t.low && e.peak <= t.high
	enough := p.Visits > 2 // the base and both sides
	switch {
	case enough && within && 1.96*e.sd <= sureTurns:
		t.set(e.peak, AtPeak)
	case enough && t.silent():
		t.set(0, Silent)
	case enough && t.beyond():
		t.set(t.bestEnd(), AtEnd)
	case p.Visits >= mostVisits:
		t.giveUp()
	default:
		t.tell(t.nextPlace(), StepTurn, advice.WhySeek)
	}
}

// giveUp sets the best guess, which is not as sure as wanted.
func (t *Trim) giveUp() {
	switch e := &t.est; {
	case e.known && e.peak >= t.low && e.peak <= t.high:
		t.set(e.peak, Unsure)
	case e.ok && (e.known || math.Abs(e.slope) > 2*e.slopeSD):
		t.set(t.bestEnd(), AtEnd)
	default:
		t.set(0, Unsure)
	}
}

// silent reports whether the speed has been seen not to answer to the screw: its curve
// is surely less than half as bent as a sound cylinder's, and rises to neither side.
func (t *Trim) silent() bool {
	e := &t.est
	usual := -usualBend * t.baseOf / float64(t.cfg.Cylinders)
	if t.dynamics.bend.sd > 0 {
		usual = t.dynamics.bend.mean
	}
	return e.ok && e.ownBend-2*e.ownBendSD > usual/2 && math.Abs(e.slope) < 2*e.slopeSD
}

// reached returns the lowest and highest place looked at.
func (t *Trim) reached() (low, high float64) {
	for _, p := range t.state.Points[:t.state.NPoints] {
		low, high = min(low, p.Moved), max(high, p.Moved)
	}
	return low, high
}

// beyond reports whether the best lies outside the travel, as far as can be seen:
// the speed still rises at its end, which has been looked at.
func (t *Trim) beyond() bool {
	e := &t.est
	if !e.ok {
		return false
	}
	low, high := t.reached()
	rise := func(u float64) float64 { return e.slope + 2*e.bend*u }
	doubt := 2 * math.Hypot(e.slopeSD, 2*e.bendSD*max(math.Abs(low), math.Abs(high)))
	return high >= t.high-t.cfg.Step/2 && rise(t.high) > min(doubt, math.Abs(rise(t.high))/2) && e.peakAbove(t.high) ||
		low <= t.low+t.cfg.Step/2 && -rise(t.low) > min(doubt, math.Abs(rise(t.low))/2) && e.peakBelow(t.low)
}

// peakAbove reports whether the peak is surely above u, or there is none in sight.
func (e *estimate) peakAbove(u float64) bool { return !e.known || e.peak-2*e.sd > u }

func (e *estimate) peakBelow(u float64) bool { return !e.known || e.peak+2*e.sd < u }

// bestEnd is the end of the travel that the speed rises to.
func (t *Trim) bestEnd() float64 {
	if t.est.slope > 0 {
		return t.round(t.high)
	}
	return t.round(t.low)
}

// nextPlace is the next setting to look at: on the other side of the best guess from
// the last, so that a drift of the idle cancels and earlier places are returned to.
func (t *Trim) nextPlace() float64 {
	centre, reach := 0.0, firstReach
	if e := &t.est; t.pilot().Visits > 2 && e.ok {
		switch {
		case e.known:
			centre, reach = min(max(e.peak, t.low), t.high), t.cfg.Reach
		case math.Abs(e.slope) > e.slopeSD: // on the way up
			low, high := t.reached()
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
	to := t.within(t.round(centre + t.side*reach))
	if math.Abs(to-t.at) < t.cfg.Step/2 { // no way further on that side
		t.side = -t.side
		to = t.within(t.round(centre + t.side*reach))
	}
	return to
}

// round rounds to whole steps; within keeps to the travel.
func (t *Trim) round(to float64) float64 { return math.Round(to/t.cfg.Step) * t.cfg.Step }

func (t *Trim) within(to float64) float64 {
	step := t.cfg.Step
	return min(max(to, math.Ceil(t.low/step-1e-9)*step), math.Floor(t.high/step+1e-9)*step)
}

// set tells to set the screw to the nearest step to a place.
func (t *Trim) set(to float64, found Found) {
	p := t.pilot()
	p.Found = found
	to = t.within(t.round(to))
	if t.est.ok {
		p.GainRPM = t.est.speed(to) - t.est.speed(0)
	}
	p.Lambda = t.probe.lambdaAt(to)
	t.tell(to, StepSet, advice.WhySet)
}

// closeCylinder ends the current cylinder and goes on to the next: straight on when
// the idle that the fit tells is in its range, else by way of the throttle stop.
func (t *Trim) closeCylinder() {
	p := t.pilot()
	p.Seconds = t.now - t.cylS
	t.order = t.order[1:]
	if t.shift.made {
		if len(t.order) > 0 {
			t.shiftNext()
			return
		}
	} else {
		t.shift.note(p.Cylinder, &t.probe)
		t.dynamics.learn(&t.est)
		if rpm := t.foretold(p.Moved); len(t.order) > 0 && t.idle.place(rpm, 0) == Within {
			t.begin(rpm)
			return
		}
	}
	t.idle.Disturbed()
	t.enter(StepIdle, math.NaN())
	t.state.Advice = t.idle.told
}

// foretold is the speed that the fit tells for a setting, NaN where it tells none.
func (t *Trim) foretold(at float64) float64 {
	if !t.est.known {
		return math.NaN()
	}
	return t.est.speed(at)
}
