package balance

import (
	"math/bits"

	"evendraw/internal/advice"
)

// Constants of the checks before "done".
const (
	// blipRise is how far above the idle the speed must go to be a blip. Chosen: a
	// lumpy idle wanders by 15 %.
	blipRise = 1.25
	// The lock nuts of the screws that were turned count as tightened after
	// firstNutSeconds and nutSeconds for each, with no change since; or after
	// firstNutSeconds once each has shown as a small change. Chosen.
	nutSeconds      = 2.5
	firstNutSeconds = 3.0
)

// check is how far the checks of a level bank have come. They begin anew when a
// screw is turned.
type check struct {
	screws    uint    // that were turned, as bits: their lock nuts are open
	idle      float64 // speed that a blip is to rise from, rpm
	blipSeen  bool
	blipped   bool // level after the blip
	shifts    int  // changes seen since the nuts were asked for
	offCycles int  // cycles in a row in which the bank was off level
}

// turned notes that a screw was turned.
func (c *check) turned(s int) {
	*c = check{screws: c.screws | 1<<s}
}

// watchForBlip looks for a blip in the speed of a cycle.
func (c *check) watchForBlip(rpm float64) {
	if c.idle > 0 && rpm > blipRise*c.idle {
		c.blipSeen = true
	}
}

// nextCheck goes on to the next check of a bank that is level.
func (a *advisor) nextCheck(w *window) advice.Advice {
	switch {
	case !a.check.blipped:
		a.check.idle, a.check.blipSeen = w.rpm, false
		return a.enter(blipping, advice.New(advice.Recheck, advice.NoPart, advice.WhyBlip), w)
	case a.check.screws != 0:
		a.check.shifts = 0
		return a.enter(tightening, advice.New(advice.Recheck, advice.NoPart, advice.WhyNuts), w)
	}
	return a.enter(finished, advice.New(advice.Done, advice.NoPart, advice.WhyLevel), w)
}

// afterBlip waits for a blip, and looks again when the idle has settled.
func (a *advisor) afterBlip(r *Reading, w *window) advice.Advice {
	switch {
	case r.Cycles < settledCycles+recentCycles && a.check.blipSeen:
		return waitFor(advice.WhyFewCycles)
	case r.Cycles < settledCycles+recentCycles || w.next-a.phaseCycle < settledCycles+recentCycles:
		return a.told
	case !a.withinBound(r, w):
		return a.backToScrews(r, w)
	case a.check.blipSeen:
		a.check.blipped = true
		return a.nextCheck(w)
	}
	a.check.offCycles = 0
	return a.told
}

// afterNuts waits until the lock nuts are tight, and looks again.
func (a *advisor) afterNuts(r *Reading, w *window, changed bool) advice.Advice {
	if changed {
		a.check.shifts++
	}
	nuts := bits.OnesCount(a.check.screws)
	waited := w.now() - a.phaseTime
	due := waited > firstNutSeconds+nutSeconds*float64(nuts) || a.check.shifts >= nuts && waited > firstNutSeconds
	if !due || w.cycles() < settledCycles+recentCycles {
		return a.told
	}
	if !a.withinBound(r, w) {
		return a.backToScrews(r, w)
	}
	a.check.screws = 0
	return a.nextCheck(w)
}

// stayDone says that the bank is level until there is evidence that it is not.
func (a *advisor) stayDone(r *Reading, w *window) advice.Advice {
	if r.Cycles >= fewestCycles && !a.withinBound(r, w) {
		return a.backToScrews(r, w)
	}
	a.check.offCycles = 0
	return a.told
}

// backToScrews goes back to the screws once the bank has been off level for settledCycles; it
// waits while the interval is too wide to tell.
func (a *advisor) backToScrews(r *Reading, w *window) advice.Advice {
	spread, half := a.spread(r, w)
	if spread-half <= a.doneBound() && spread <= max(a.aim, doneSpread/2) {
		if a.phase == finished {
			return a.told
		}
		return waitFor(advice.WhyFewCycles)
	}
	if a.check.offCycles++; a.check.offCycles < settledCycles {
		return a.told
	}
	if a.phase == tightening { // they are tight now
		a.check.screws = 0
	}
	a.check = check{screws: a.check.screws}
	return a.choose(r, w)
}
