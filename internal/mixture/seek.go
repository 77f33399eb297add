package mixture

import (
	"math"

	"evendraw/internal/advice"
)

// closeVisit fits the curve anew after a look at a setting, and keeps the point.
func (t *Trim) closeVisit() {
	t.bearOut()
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
	enough := p.Visits > 2 // three settings make a parabola
	switch {
	case enough && t.sure(takenTurns):
		t.finishAt(e.peak, AtPeak)
	case enough && t.noAnswer():
		t.finishAt(0, Silent)
	case enough && t.peakBeyondTravel():
		t.finishAt(t.bestEnd(), AtEnd)
	case p.Visits >= mostVisits:
		t.giveUp()
	default:
		to := t.nextVisit()
		why := advice.WhySeek
		if math.Abs(to) > FreeTurns {
			why = advice.WhyFurther
		}
		t.tellTurn(to, StepTurn, why)
	}
}

// sure reports whether the peak is within the travel, and as sure as a half-width on a usual idle: wider where the
// idle is rough, as idling costs too.
func (t *Trim) sure(within float64) bool {
	e := &t.est
	if within *= min(max(t.roughness(), 1), mostWatchFactor); t.rough() {
		within = answerTurns
	}
	return e.known && e.peak >= t.lowOut && e.peak <= t.highOut && 1.96*e.sd <= within
}

// giveUp sets the best guess, which is not as sure as wanted.
func (t *Trim) giveUp() {
	switch e := &t.est; {
	case e.known && e.peak >= t.lowOut && e.peak <= t.highOut:
		found := Unsure
		if 1.96*e.sd <= answerTurns {
			found = AtPeak
		}
		t.finishAt(e.peak, found)
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

// bestTried is the best setting so far: the peak, where one is in sight, else where the speed was highest, and where
// the screw stands while none was looked at.
func (t *Trim) bestTried() float64 {
	if t.est.known {
		return t.est.peak
	}
	best, rpm := t.turnedOut, math.Inf(-1)
	for _, p := range t.state.Points[:t.state.NPoints] {
		if p.RPM > rpm {
			best, rpm = p.Moved, p.RPM
		}
	}
	return best
}

// farTurns is how far from where the screw stood a peak is no surer than told: the curve is no parabola from so far, as
// a cylinder that lean hardly fires, and the peak of a half blocked jet is told up to 0.7 turns short. Measured on the
// practice engine.
const farTurns = 1.5

// visitedRange returns the lowest and the highest setting visited.
func (t *Trim) visitedRange() (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
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

// nextVisit is the next setting to visit: richer first, as lean stalls; once there is a peak in sight the
// one that will tell most of it; else further up, or the other side.
func (t *Trim) nextVisit() float64 {
	e := &t.est
	out := 1.0 // where richer is
	if t.cfg.Screws == AirScrews {
		out = -1
	}
	visits := t.pilot().Visits
	switch {
	case visits == 1 && t.turnedOut != 0: // gone on with from a trial position: the other side
		return t.keepInTravel(t.roundToStep(math.Copysign(t.cfg.Reach, -t.turnedOut)))
	case visits == 1:
		return t.keepInTravel(t.roundToStep(out * t.cfg.Reach))
	case e.known:
		return t.bestVisit(out)
	case visits > 2 && e.ok && math.Abs(e.slope) > e.slopeSD: // on the way up
		low, high := t.visitedRange()
		t.far = true
		if e.slope > 0 {
			return t.keepInTravel(t.roundToStep(high + t.cfg.Reach))
		}
		return t.keepInTravel(t.roundToStep(low - t.cfg.Reach))
	}
	if t.turnedOut*out > 0 {
		out = -out
	}
	to := t.keepInTravel(t.roundToStep(out * t.cfg.Reach))
	if math.Abs(to-t.turnedOut) < t.cfg.Step/2 { // no way further on that side
		to = t.keepInTravel(t.roundToStep(-out * t.cfg.Reach))
	}
	return to
}

// bestVisit is the setting within reach of the peak after a look at which the peak's variance is least, by
// what is known now; rich is +1 where richer is outwards.
//
// A look at u has the settled speed's x = (1, u, u²) for another measurement, of variance v; the
// covariance of level, slope and bend is then
//
//	C' = C - C x x' C/(v + x' C x),  var(peak) = g' C' g,  g = (0, -1/(2c), b/(2c²))
func (t *Trim) bestVisit(rich float64) float64 {
	e := &t.est
	v := e.scatter * e.scatter * e.gain * e.gain / (t.watchS() / t.curve.period)
	g := [3]float64{0, -1 / (2 * e.bend), e.slope / (2 * e.bend * e.bend)}
	dot := func(a, b [3]float64) (sum float64) { // a' C b
		for i := range a {
			for j := range b {
				sum += a[i] * b[j] * e.fit.cov.At(level+i, level+j) * e.gain * e.gain
			}
		}
		return sum
	}
	best, most, share := t.turnedOut, 0.0, t.cfg.reachShare()
	step := t.cfg.Step
	for k := math.Ceil(max(t.lowOut, t.inmost(), t.bestTried()-mostIn)/step - 1e-9); k*step <= t.highOut+1e-9; k++ {
		u := k * step
		if off := (u - e.peak) * rich; off > mostOff*share || off < -mostLean*share ||
			math.Abs(u-t.turnedOut) < step || !t.leadsOn(u) {
			continue
		}
		x := [3]float64{1, u, u * u}
		if gain := dot(g, x) * dot(g, x) / (v + dot(x, x)); gain > most {
			best, most = u, gain
		}
	}
	t.far = true
	return best
}

// roundToStep rounds a setting to whole steps.
func (t *Trim) roundToStep(to float64) float64 { return math.Round(to/t.cfg.Step) * t.cfg.Step }

// keepInTravel returns the nearest whole step within the screw's travel.
func (t *Trim) keepInTravel(to float64) float64 {
	step, low, high := t.cfg.Step, max(t.lowOut, t.inmost(), t.bestTried()-mostIn), t.highOut
	if !t.far {
		low, high = max(low, -FreeTurns), max(min(high, FreeTurns), low)
	}
	return min(max(to, math.Ceil(low/step-1e-9)*step), math.Floor(high/step+1e-9)*step)
}

// setStep is what a setting that was found is rounded to. Chosen: half of what an eye counts in, as the
// rounding would else be the largest error.
const setStep = 1.0 / 16

// finishAt tells to set the screw to the sixteenth nearest to a setting, for good.
func (t *Trim) finishAt(to float64, found Found) {
	p := t.pilot()
	t.state.Ending, t.far = found, true
	t.notSetYet()
	to = t.keepInTravel(math.Round(to/setStep) * setStep)
	if t.est.ok {
		p.GainRPM = t.est.settledRPM(to) - t.est.settledRPM(0)
	}
	p.Lambda = t.probe.lambdaAt(to)
	t.tellTurn(to, StepSet, advice.WhySet)
}

// notSetYet has the current screw count as set only once its last turn is made.
func (t *Trim) notSetYet() {
	p := t.pilot()
	if p.Found = Trimming; t.state.Ending == AtPeak {
		p.Found = ToSet
	}
}

// closeCylinder ends the current cylinder and goes on to the next: at once where the fit predicts
// an idle within its range, else by way of the throttle stop.
func (t *Trim) closeCylinder() {
	p := t.pilot()
	if p.Found != Unturned {
		p.Found = t.state.Ending
		if p.Found == AtPeak && math.Abs(p.Moved-p.Best) > setStep { // no nearer surely off its seat
			p.Found = ToSet
		}
		if p.Found == AtPeak && math.Abs(p.Best) > farTurns {
			p.Found = Unsure
		}
	}
	p.Seconds = t.now - t.cylinderSince
	t.order = t.order[1:]
	if t.shift.made {
		if len(t.order) > 0 {
			t.shiftNext()
			return
		}
	} else {
		if _, answer, ok := t.probe.line(); ok {
			t.shift.answer[p.Cylinder-1] = answer
		}
		if p.Found == AtPeak {
			t.dynamics.learn(&t.est)
		}
		if t.est.known && len(t.order) > 0 {
			if rpm := t.est.settledRPM(p.Moved); t.idle.sideOf(rpm, 0) == Within {
				t.held = belief{rpm, math.Hypot(t.est.settledSD(p.Moved), wanderSD)}
				t.beginCylinder(rpm)
				return
			}
		}
	}
	if len(t.order) == 0 && t.cfg.Target == 0 { // the idle speed has a step of its own
		t.allSet()
		return
	}
	t.idle.settleAnew()
	t.enter(StepIdle, math.NaN())
	t.state.Advice = t.idle.told
}
