package balance

import (
	"math"

	"evendraw/internal/advice"
)

// Constants of the checks before "done".
const (
	// blipRise is how far above the idle the speed must go to be a blip. Chosen: a
	// lumpy idle wanders by 15 %.
	blipRise = 1.25
	// smallTurn is the most that a screw may have been turned by, kPa, after a blip for which no
	// other is asked. Chosen: what a lock nut shifts.
	smallTurn = 1.5
	// A lock nut counts as tight when the user says so; or when its screw is seen to move, by more
	// than nutMove, kPa, and nutSigmas standard deviations of the mean of the last cycles; or when
	// nothing was seen for as long as the hand needs to reach a screw, and nutSeconds. Chosen: it
	// then shifts too little to matter.
	nutMove    = 0.08
	nutSigmas  = 5
	nutSeconds = 2.0
	// leastNutSeconds is the least time that a lock nut takes. Chosen.
	leastNutSeconds = 1.5
	// nutMargin is how many times as long as the quickest before. Chosen.
	nutMargin = 1.8
	// realMove is how far a screw must have moved, kPa, for a bank to be no longer done. Chosen: more
	// than an idle that settles or warms moves it.
	realMove = 0.3
)

// check is how far the checks of a level bank have come. They begin anew when a
// screw is turned.
type check struct {
	screws   uint    // that were turned, as bits: their lock nuts are open
	idle     float64 // speed that a blip is to rise from, rpm
	blipSeen bool
	blipped  bool // since a screw was turned far
	rest     state
	restAt   int     // number of the cycle at which rest is to be taken anew; 0 is never
	nut      int     // the screw whose lock nut is asked for
	nutTime  float64 // since when
	// offCycles counts cycles in a row in which the bank was off level.
	offCycles int
}

// turned notes that a screw was turned to bring about a change, kPa.
func (c *check) turned(s int, change float64) {
	*c = check{screws: c.screws | 1<<s, blipped: c.blipped && math.Abs(change) < smallTurn}
}

// watchForBlip looks for a blip in the speed of a cycle.
func (c *check) watchForBlip(rpm float64) {
	if c.idle > 0 && rpm > blipRise*c.idle {
		c.blipSeen = true
	}
}

// nextCheck goes on to the next check of a bank that is level.
func (a *advisor) nextCheck(w *window) advice.Advice {
	c := &a.check
	c.offCycles = 0
	switch {
	case !c.blipped:
		return a.askBlip(w)
	case a.openNuts() != 0:
		c.rest = w.atRest()
		return a.nextNut(w)
	}
	c.rest = w.atRest()
	return a.enter(finished, advice.New(advice.Done, advice.NoPart, advice.WhyLevel), w)
}

// askBlip asks for a blip, which seats the linkage.
func (a *advisor) askBlip(w *window) advice.Advice {
	c := &a.check
	c.idle, c.blipSeen, c.rest = w.rpm, false, w.atRest()
	return a.enter(blipping, advice.New(advice.Recheck, advice.NoPart, advice.WhyBlip), w)
}

// openNuts are the screws whose lock nuts are open, as bits.
func (a *advisor) openNuts() uint {
	if a.bank.NoLockNuts {
		return 0
	}
	return a.check.screws
}

// afterBlip waits for a blip. The idle settles while the lock nuts are tightened; where none is
// open it looks again when it has.
func (a *advisor) afterBlip(r *Reading, w *window) advice.Advice {
	c := &a.check
	settled := r.Cycles >= settledCycles+recentCycles && w.next-a.phaseCycle >= settledCycles+recentCycles
	switch {
	case c.blipSeen && a.openNuts() != 0:
		c.blipped = true
		return a.nextNut(w)
	case c.blipSeen && r.Cycles < settledCycles+recentCycles:
		return waitFor(advice.WhyFewCycles)
	case !settled:
		return a.told
	case !a.withinAim(r, w):
		c.blipped = c.blipSeen
		return a.backToScrews(r, w)
	case c.blipSeen:
		c.blipped = true
		return a.nextCheck(w)
	}
	c.offCycles = 0
	return a.told
}

// nextNut asks for the next lock nut: of the screws of which most is seen last, as their shift is
// seen best while no other is loose.
func (a *advisor) nextNut(w *window) advice.Advice {
	c := &a.check
	for s := range a.bank.Screws {
		if a.openNuts()>>s&1 == 1 {
			c.nut, c.nutTime = s, w.now()
			adv := advice.New(advice.Recheck, advice.SyncScrew, advice.WhyNuts)
			adv.Screw, adv.ScrewName = s, a.bank.Screws[s].Name
			return a.enter(tightening, adv, w)
		}
	}
	a.check.offCycles, a.check.blipped = 0, false
	return a.askBlip(w)
}

// nutTight notes that the lock nut of screw s is tight.
func (a *advisor) nutTight(s int, w *window) advice.Advice {
	c := &a.check
	c.screws &^= 1 << s
	c.restAt = w.next + recentCycles
	if s != c.nut {
		return a.told
	}
	return a.nextNut(w)
}

// afterNut waits until a lock nut is tight.
func (a *advisor) afterNut(w *window) advice.Advice {
	c := &a.check
	if c.restAt > 0 && w.next >= c.restAt && w.cycles() >= recentCycles {
		c.rest, c.restAt = w.lately(), 0
	}
	if s := a.shifted(w); s >= 0 && w.now()-c.nutTime < leastNutSeconds {
		c.rest = w.lately() // what moves so soon is no nut
	} else if s >= 0 {
		if s == c.nut {
			a.hand.observeNut(w.now() - c.nutTime)
		}
		return a.nutTight(s, w)
	}
	return a.waitForNut(w)
}

// waitForNut waits for a lock nut as long as the hand needs.
func (a *advisor) waitForNut(w *window) advice.Advice {
	if w.now()-a.check.nutTime > a.hand.nutTime() {
		return a.nutTight(a.check.nut, w)
	}
	return a.told
}

// shifted returns the screw whose lock nut is seen to have shifted it, -1 for none.
func (a *advisor) shifted(w *window) int {
	c := &a.check
	if c.restAt > 0 || w.cycles() < recentCycles || w.next-a.phaseCycle < recentCycles || w.jumped() {
		return -1
	}
	for _, n := range [...]int{recentCycles, fewestCycles} { // a large step, and a small one
		if n > min(w.cycles(), w.next-a.phaseCycle) {
			break
		}
		now := w.stateOver(w.next-n, w.next)
		for s := range a.bank.Screws {
			d, fits := w.link.moved(s, &c.rest, &now)
			least := max(nutMove, w.disturbance(s, &c.rest, a.phaseCycle),
				nutSigmas*math.Sqrt(w.wantedVariance(s)/float64(n)))
			if c.screws>>s&1 == 1 && fits && math.Abs(d) > least {
				return s
			}
		}
	}
	return -1
}

// hold returns the advice that stands while the speed is not steady, as after a blip: a lock nut, or
// that the bank is level; ok is false for another.
func (a *advisor) hold(why advice.Why, standing float64, w *window) (adv advice.Advice, ok bool) {
	switch why {
	case advice.WhyNotSteady, advice.WhyOffIdle, advice.WhyFewCycles:
	case advice.WhyNoCycle:
		if standing > standSeconds {
			return adv, false
		}
	default:
		return adv, false
	}
	switch {
	case a.phase == blipping && a.check.blipSeen && a.openNuts() != 0 && w.next > 0:
		a.check.blipped = true
		return a.nextNut(w), true
	case a.phase == tightening && w.next > 0:
		return a.waitForNut(w), true
	case a.phase == finished:
		return a.told, true
	}
	return adv, false
}

// stayDone says that the bank is level until something has moved it.
func (a *advisor) stayDone(r *Reading, w *window) advice.Advice {
	now := w.atRest()
	moved := false
	for s := range a.bank.Screws {
		least := max(realMove, w.disturbance(s, &a.check.rest, a.phaseCycle))
		moved = moved || math.Abs(now.wanted[s]-a.check.rest.wanted[s]) > least
	}
	if r.Cycles >= fewestCycles && moved && !a.withinAim(r, w) {
		return a.backToScrews(r, w)
	}
	a.check.offCycles = 0
	return a.told
}

// backToScrews goes back to the screws once the bank has been off level for settledCycles; it
// waits while the interval is too wide to tell.
func (a *advisor) backToScrews(r *Reading, w *window) advice.Advice {
	if spread, half := a.spread(r, w); spread-half <= a.aim && w.cycles() < mostCycles {
		if a.phase == finished {
			return a.told
		}
		return waitFor(advice.WhyFewCycles)
	}
	if a.check.offCycles++; a.check.offCycles < settledCycles {
		return a.told
	}
	a.check = check{screws: a.check.screws, blipped: a.check.blipped}
	a.named = false
	return a.choose(r, w)
}
