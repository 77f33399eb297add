package mixture

import (
	"cmp"
	"math"

	"evendraw/internal/advice"
)

// closeVisit fits the curve anew after a look at a setting, and keeps the point.
func (t *Trim) closeVisit() {
	t.pilot().Visits++
	t.hearProbe()
	t.est = t.estimate()
	t.bearOut()
	s := &t.state
	if s.NPoints < MaxPoints {
		n := t.speeds.cycles()
		s.Points[s.NPoints] = Point{t.turnedOut, t.speeds.mean(n), 1.96 * t.speeds.standardError(n),
			t.lambdaAt(t.turnedOut)}
		s.NPoints++
	}
	if p := t.pilot(); t.est.ok && len(t.est.levels.u) > 1 {
		p.Best, p.Uncertainty = t.est.peak, t.est.doubt()
	}
}

// nextSetting says where to look next, or sets the screw.
func (t *Trim) nextSetting() {
	if t.cfg.Target > 0 && t.seekTarget() {
		return
	}
	p, e := t.pilot(), &t.est
	if e.slip = t.slips(); e.slip && t.trimFromHere() {
		return
	}
	if t.leadRicher() {
		return
	}
	enough := p.Visits > 2 // of fewer settings each is a law's
	switch {
	case enough && t.sure(takenTurns):
		t.finishAt(e.peak, e.found())
	case enough && t.noAnswer():
		t.finishAt(0, Silent)
	case enough && t.peakBeyondTravel():
		t.finishAt(t.bestEnd(), AtEnd)
	case p.Visits >= mostVisits:
		t.giveUp()
	default:
		to, promise := t.nextVisit()
		if p.Visits >= leastVisits && promise < leastPromise {
			t.giveUp()
			return
		}
		if to == t.turnedOut {
			t.beginWatch()
			return
		}
		t.lookAt(to)
	}
}

// lookAt tells the turn to a setting that is to be looked at.
func (t *Trim) lookAt(to float64) {
	why := advice.WhySeek
	if math.Abs(to) > FreeTurns {
		why = advice.WhyFurther
	}
	t.tellTurn(to, StepTurn, why)
}

// sure reports whether the peak is within the travel, and as sure as a half-width on a usual idle but for whether the
// law is an even one, which the other cylinders tell as well: wider where the idle is rough, as idling costs too.
func (t *Trim) sure(within float64) bool {
	e := &t.est
	if within *= min(max(t.roughness(), 1), mostWatchFactor); t.rough() {
		within = answerTurns
	}
	return e.known && e.peak >= t.lowOut && e.peak <= t.highOut && 1.96*e.within <= within
}

// giveUp sets the best guess, which is not as sure as wanted.
func (t *Trim) giveUp() {
	switch e := &t.est; {
	case !e.ok:
		t.finishAt(0, Unsure)
	case e.above > endChance:
		t.finishAt(t.roundToStep(t.highOut), AtEnd)
	case e.below > endChance:
		t.finishAt(t.roundToStep(t.lowOut), AtEnd)
	case e.known && 1.96*e.sd <= answerTurns:
		t.finishAt(e.peak, e.found())
	default:
		low, high := t.visitedRange()
		t.finishAt(min(max(e.peak, low), high), Unsure)
	}
}

// endChance is the chance that the peak is beyond the travel from which it is told to be there. Chosen.
const endChance = 0.8

// noAnswer reports whether the speed does not answer to the screw: that is much likelier than that it answers as little
// as this with a sound cylinder's best anywhere.
func (t *Trim) noAnswer() bool {
	if t.est.ok && 2*t.unburnt > t.burns+t.unburnt { // it does not fire
		return t.est.flat > deadOdds
	}
	low, high := t.visitedRange()
	return t.est.ok && t.est.flat > silentOdds && high-low >= silentSpan*t.cfg.reachShare()
}

// silentOdds is how much likelier a screw must be silent than sound to be told so, and silentSpan how far apart the
// settings must be, turns of a four; deadOdds the same where the cylinder is seen not to fire. Chosen.
const silentOdds, silentSpan, deadOdds = 150.0, 1.5, 1.0

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

// peakBeyondTravel reports whether the peak lies outside the screw's travel, as far as can be seen from an end that has
// been visited.
func (t *Trim) peakBeyondTravel() bool {
	e := &t.est
	low, high := t.visitedRange()
	return high >= t.highOut-t.cfg.Step/2 && e.above > endChance || low <= t.lowOut+t.cfg.Step/2 && e.below > endChance
}

// bestEnd is the end of the travel that the speed rises to.
func (t *Trim) bestEnd() float64 {
	if t.est.above > t.est.below {
		return t.roundToStep(t.highOut)
	}
	return t.roundToStep(t.lowOut)
}

// richer is +1 where richer is outwards, -1 inwards, 0 while it is not known.
func (t *Trim) richer() float64 {
	switch t.cfg.Screws {
	case FuelScrews:
		return 1
	case AirScrews:
		return -1
	}
	return 0
}

// nextVisit is the next setting to visit, and by which share it is expected to lessen the variance of the peak: richer
// first, as lean stalls; then the one that will tell most. A screw that stands so little out that no way in were left
// after a turn out that no speed bears out is turned in first, by less: the way back out shows in the speed.
func (t *Trim) nextVisit() (to, promise float64) {
	out := cmp.Or(t.richer(), 1)
	switch visits := t.pilot().Visits; {
	case visits == 1 && t.turnedOut != 0: // gone on with from a trial position: the other side
		return t.keepInTravel(t.roundToStep(math.Copysign(t.cfg.Reach, -t.turnedOut))), 1
	case visits == 1 && out > 0 && t.inmost()+t.cfg.Reach > -t.cfg.Reach/2:
		return t.keepInTravel(t.roundToStep(-inFirst * t.cfg.Reach)), 1
	case visits == 1 || !t.est.ok:
		return t.keepInTravel(t.roundToStep(out * t.cfg.Reach)), 1
	}
	return t.bestVisit(out, math.Inf(1))
}

// bestVisit is the setting after a look at which the peak's variance is least, by what is known now, of those near the
// peak and what was looked at, within reach of where the screw stood, and at which the engine is expected to run; rich
// is +1 where richer is outwards.
func (t *Trim) bestVisit(rich, reach float64) (best, most float64) {
	e := &t.est
	if len(e.cells) == 0 {
		return t.turnedOut, 0
	}
	v := e.scatter * e.scatter * e.gain * e.gain / (t.watchS() / t.curve.period)
	laws, falls := e.draw(), mostFall/float64(t.cfg.Cylinders)*t.baseRPM
	best, share := t.turnedOut, t.cfg.reachShare()
	step := t.cfg.Step
	low, high := t.visitedRange()
	least := math.Ceil(max(t.lowOut, t.inmost(), t.bestTried()-mostIn, low-mostOff*share)/step - 1e-9)
	for k := least; k*step <= min(t.highOut, high+mostOff*share)+1e-9; k++ {
		u := k * step
		off := (u - e.peak) * rich
		if math.Abs(u) > reach || off > mostOff*share && u > high || off < -mostLean*share ||
			math.Abs(u-t.turnedOut) < step || !t.leadsOn(u) || e.loses(&laws, u) > falls {
			continue
		}
		if gain := e.promise(&laws, u, v); gain > most {
			best, most = u, gain
		}
	}
	t.far = true
	return best, most
}

// roundToStep rounds a setting to whole steps.
func (t *Trim) roundToStep(to float64) float64 { return math.Round(to/t.cfg.Step) * t.cfg.Step }

// keepInTravel returns the nearest whole step within the screw's travel.
func (t *Trim) keepInTravel(to float64) float64 {
	step, low, high := t.cfg.Step, max(t.lowOut, min(t.inmost(), t.turnedOut), t.bestTried()-mostIn), t.highOut
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
	want := max(to, t.lowOut)
	to = t.keepInTravel(math.Round(to/setStep) * setStep)
	if t.est.ok {
		p.GainRPM = t.est.change(0, to).mean
	}
	p.Lambda = t.lambdaAt(to)
	if to == t.turnedOut { // nothing to turn
		t.closeCylinder()
		return
	}
	onWay := to > want+setStep && to < t.turnedOut // no further in yet: the look there may bear out the rest
	if onWay && p.Visits < mostVisits && (found == AtPeak || found == Unsure) {
		t.lookAt(to)
		return
	}
	t.tellTurn(to, StepSet, advice.WhySet)
}

// notSetYet has the current screw count as set only once its last turn is made.
func (t *Trim) notSetYet() {
	p := t.pilot()
	if p.Found = Trimming; t.state.Ending == AtPeak || t.again.made {
		p.Found = ToSet
	}
}

// idleAstray reports whether the idle is outside its range now that the last screw is set: the throttle stop brings it
// back.
func (t *Trim) idleAstray() bool {
	rpm := t.state.RPM
	if is, _ := t.look.settled(); is.sd > 0 {
		rpm = is.mean
	}
	return t.idle.cfg.HighRPM > 0 && !math.IsNaN(rpm) && t.idle.sideOf(rpm, 0) != Within
}

// closeCylinder ends the current cylinder and goes on to the next: at once where the fit predicts
// an idle within its range, else by way of the throttle stop.
func (t *Trim) closeCylinder() {
	p := t.pilot()
	p.Found = t.state.Ending
	if (p.Found == AtPeak || p.Found == Unsure) && math.Abs(p.Moved-p.Best) > max(setStep, p.Uncertainty) {
		p.Found = ToSet // no nearer surely off its seat
	}
	if t.untold(p) {
		p.Found, p.Uncertainty = Unsure, math.NaN()
	}
	if !t.again.made {
		t.foretell()
		t.lookBeyond(p)
	}
	if t.tellsOf(p.Cylinder) {
		t.aim = aim{since: t.now}
	}
	t.order = t.order[1:]
	switch {
	case t.again.made:
		if len(t.order) > 0 {
			t.setNext()
			return
		}
	case t.shift.made:
		if len(t.order) > 0 {
			t.shiftNext()
			return
		}
	default:
		if _, answer, ok := t.probe.line(); ok {
			t.shift.answer[p.Cylinder-1] = answer
		}
		t.keepTold(p)
		if t.est.known && len(t.order) > 0 {
			if at := t.est.settled(p.Moved); t.idle.sideOf(at.mean, 0) == Within {
				t.held = belief{at.mean, math.Hypot(at.sd, wanderSD)}
				t.beginCylinder(at.mean)
				return
			}
		}
	}
	if len(t.order) == 0 && t.cfg.Target == 0 {
		if t.again.made {
			t.endTrim()
			return
		}
		t.lasts = 0
		t.speeds.restart()
		t.enter(StepBase, baseS)
		return
	}
	t.backToIdle()
}

// backToIdle has the throttle stop bring the idle back.
func (t *Trim) backToIdle() {
	t.idle.settleAnew()
	t.enter(StepIdle, math.NaN())
	t.state.Advice = t.idle.told
}

// endTrim ends the trim once the speed at the last screw is as it was foretold: screws are set anew by what the others
// told, and the idle is brought back.
func (t *Trim) endTrim() {
	switch {
	case t.setAnew():
	case t.idleAstray():
		t.idle.within = false // this was no wander
		t.backToIdle()
	default:
		t.allSet()
	}
}
