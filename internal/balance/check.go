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
	// A lock nut takes nutSeconds, the first firstNutSeconds more. Chosen: after so
	// long for the screws that were turned, and no change since, they count as
	// tightened; sooner, when each has shown as a small change.
	nutSeconds      = 2.5
	firstNutSeconds = 3.0
)

// check is how far the checks of a level bank have come. They begin anew when a
// screw is turned.
type check struct {
	screws  uint    // that were turned, as bits: their lock nuts are open
	idle    float64 // speed that a blip is to rise from
	rose    bool    // a blip was seen
	blipped bool    // level after it
	shifts  int     // changes seen since the nuts were asked for
	off     int     // cycles in a row in which the bank was off level
}

// turned notes that a screw was turned.
func (c *check) turned(s int) {
	*c = check{screws: c.screws | 1<<s}
}

// watch looks for a blip in the speed of a cycle.
func (c *check) watch(rpm float64) {
	if c.idle > 0 && rpm > blipRise*c.idle {
		c.rose = true
	}
}

// checked goes on to the next check of a bank that is level.
func (a *advisor) checked(w *window) advice.Advice {
	switch {
	case !a.check.blipped:
		a.check.idle, a.check.rose = w.rpm, false
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
	case r.Cycles < settledCycles+recent && a.check.rose:
		return waitFor(advice.WhyFewCycles)
	case r.Cycles < settledCycles+recent || w.next-a.since < settledCycles+recent:
		return a.told
	case !a.within(r, w):
		return a.again(r, w)
	case a.check.rose:
		a.check.blipped = true
		return a.checked(w)
	}
	a.check.off = 0
	return a.told
}

// afterNuts waits until the lock nuts are tight, and looks again.
func (a *advisor) afterNuts(r *Reading, w *window, changed bool) advice.Advice {
	if changed {
		a.check.shifts++
	}
	nuts := bits.OnesCount(a.check.screws)
	waited := w.now() - a.from
	due := waited > firstNutSeconds+nutSeconds*float64(nuts) || a.check.shifts >= nuts && waited > firstNutSeconds
	if !due || w.cycles() < settledCycles+recent {
		return a.told
	}
	if !a.within(r, w) {
		return a.again(r, w)
	}
	a.check.screws = 0
	return a.checked(w)
}

// finish says that the bank is level until there is evidence that it is not.
func (a *advisor) finish(r *Reading, w *window) advice.Advice {
	if r.Cycles >= fewestCycles && !a.within(r, w) {
		return a.again(r, w)
	}
	a.check.off = 0
	return a.told
}

// again goes back to the screws when the bank has been off level for a while; with
// an interval too wide to tell it waits.
func (a *advisor) again(r *Reading, w *window) advice.Advice {
	spread, half := a.spread(r, w)
	if spread-half <= a.bound() && spread <= max(a.aim, doneSpread/2) {
		if a.phase == finished {
			return a.told
		}
		return waitFor(advice.WhyFewCycles)
	}
	if a.check.off++; a.check.off < settledCycles {
		return a.told
	}
	if a.phase == tightening { // they are tight now
		a.check.screws = 0
	}
	a.check = check{screws: a.check.screws}
	return a.choose(r, w)
}
