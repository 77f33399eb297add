package mixture

import (
	"cmp"
	"math"
	"slices"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
)

// mostTries is how often an engine may run, or be cranked, and stop again before the trim begins beside a screw in a
// trial position: by then it is told to be turned back. Chosen: once may have been a hand.
const mostTries = 1

// stalled is what is known of settings that the engine does not bear.
type stalled struct {
	at    [bank.MaxCylinders]float64 // where it could not be kept running, turns out from the start; 0 is nowhere
	tries int                        // times it has turned, and stopped, before the trim began
	turns bool                       // it turned in the last span
	back  bool                       // a screw is told back before the trim begins
}

// retreat leaves a setting that the engine does not bear for where it ran best, and won't go there again.
func (t *Trim) retreat(why advice.Why) {
	t.curve.refused = append(t.curve.refused, t.turnedOut)
	t.shun(t.turnedOut)
	t.stops = 0
	to, _ := t.fastest()
	if why == advice.WhyBack {
		t.closeVisit()
		if next, promise := t.bestVisit(cmp.Or(t.richer(), 1), FreeTurns); promise > 0 && t.est.ok {
			to = next
		}
	}
	t.tellTurn(to, StepTurn, why)
}

// fastest returns the setting at which the engine ran fastest so far, of those that it bears, and how fast at least,
// rpm: where the screw stood and the speed before the first turn while there is none.
func (t *Trim) fastest() (at, rpm float64) {
	rpm = t.baseRPM
	for _, p := range t.state.Points[:t.state.NPoints] {
		if p.RPM-p.UncertaintyRPM > rpm && !slices.Contains(t.curve.refused, p.Moved) {
			at, rpm = p.Moved, p.RPM-p.UncertaintyRPM
		}
	}
	return at, rpm
}

// dyingCycles is how many cycles of a look show that the engine dies. Chosen: half a second.
const dyingCycles = 4

// diesSigmas is how many standard deviations below what it bears the speed of a lumpy idle must be. Chosen: it is asked
// at each cycle, and a lumpy idle is seldom still.
const diesSigmas = 4.5

// dies reports whether the speed at the setting that is watched falls surely by dropRPM and more below the fastest so
// far, as it will settle. An engine that was just started is given time to run up.
func (t *Trim) dies() bool {
	n := len(t.look.sum) - 1
	if t.turnedOut == 0 || n < dyingCycles || t.look.sd == 0 || t.now-t.started < 2*startS {
		return false
	}
	_, rpm := t.fastest()
	sigmas := bornSigmas
	if t.rough() {
		sigmas = diesSigmas
	}
	is := t.look.part(0, n)
	return rpm-t.dropRPM() > is.mean+sigmas*is.sd
}

// shun bounds the current screw short of a setting, turns out from the start; 0 is no bound.
func (t *Trim) shun(at float64) {
	switch {
	case at > 0:
		t.highOut = min(t.highOut, max(at-t.cfg.Step, 0))
	case at < 0:
		t.lowOut = max(t.lowOut, min(at+t.cfg.Step, 0))
	}
}

// stallsInTrial reports whether the engine, before the trim begins, does not keep running and a screw that is to be
// trimmed stands in a trial position.
func (t *Trim) stallsInTrial(span *cycle.Span) bool {
	s := &t.stalled
	stops := s.turns && !span.Cycle && !t.hot
	if s.turns = span.Cycle; stops && t.state.Step == StepIdle {
		s.tries++
	}
	return t.state.Step == StepIdle && s.tries > mostTries && !span.Cycle && t.leftInTrial() >= 0
}

// leftInTrial returns the place in the order of the first screw that stands in a trial position, -1 for none.
func (t *Trim) leftInTrial() int {
	return slices.IndexFunc(t.order, func(c int) bool { return t.state.Pilots[c-1].InTrial() })
}

// bringBack tells a screw back to where it stood before its trim, as the engine does not run.
func (t *Trim) bringBack() {
	first := t.leftInTrial()
	c := t.order[first]
	t.order = slices.Insert(slices.Delete(t.order, first, first+1), 0, c)
	t.interrupted, t.stalled.back, t.stalled.at[c-1] = true, true, t.pilot().Moved
	t.turnedOut, t.est = t.pilot().Moved, estimate{}
	t.tellTurn(0, StepTurn, advice.WhyStalled)
}

// beginAnew begins with a screw that was turned back before its trim.
func (t *Trim) beginAnew() {
	t.stalled.back, t.stalled.tries = false, 0
	t.pilot().Found, t.pilot().Best = Pending, math.NaN()
	t.idle.settleAnew()
	t.enter(StepIdle, math.NaN())
}

// inTrial reports whether a screw stands in a trial position, in which it was left: the idle is not the throttle
// stop's to mend then.
func (t *Trim) inTrial() bool {
	return slices.ContainsFunc(t.state.Pilots[:t.cfg.Cylinders], func(p Pilot) bool { return p.InTrial() })
}
