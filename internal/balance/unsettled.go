package balance

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/hoses"
)

// Constants of what is told before the speed has settled.
const (
	// firstCycles are those that a first screw is named on: two halves that agree on what is wanted within agreeShare
	// of it. Chosen: about a second at idle.
	firstCycles = 8
	agreeShare  = 0.2
	// firstSeconds is how long that screw stays named though the speed goes on to move. Chosen: a hand has just
	// reached it.
	firstSeconds = 4.0
	// startCycles is how many cycles with sound channels a start has. Chosen: some five seconds.
	startCycles = 40
)

// unsettled returns what is told though the speed has yet to settle: the first screw after a start, where cycles alone
// leave no doubt of it. Why is what the speed is waited for.
func (b *Balance) unsettled(why advice.Why, r *Reading) (adv advice.Advice, ok bool) {
	a, w := &b.advisor, &b.win
	moving := why == advice.WhyNotSteady
	switch {
	case !moving && why != advice.WhyFewCycles || b.gate.paused || b.gate.warmth.Warming() || b.gate.faults.Dead() > 0:
	case moving && a.phase == choosing && a.halts.idle == 0 && b.soundStart(r):
		return a.nameFirst(w)
	case a.phase == asking && a.first && w.next > 0 && w.now()-a.phaseTime < firstSeconds:
		return a.told, true
	}
	return adv, false
}

// soundStart reports whether nothing stands in the way of advice but a speed that rises after a start.
func (b *Balance) soundStart(r *Reading) bool {
	g := &b.gate
	if g.cannotLevel || g.offIdle(r.RPM) || g.faults.Found != [cycle.MaxCylinders]advice.Why{} || b.win.byOpening {
		return false
	}
	fine := g.soundCycles >= hoses.Cycles && len(r.Hoses.OnePort) == 0 && r.Hoses.Verdict != hoses.Exchanged
	if !g.hosesFine && !fine {
		return false
	}
	mean, scatter, _ := b.lastSpeeds()
	return b.speedCount >= steadyCycles && g.soundCycles < startCycles && scatter < steadySD*mean
}

// nameFirst names the first screw where two halves of the newest cycles agree on it.
func (a *advisor) nameFirst(w *window) (adv advice.Advice, ok bool) {
	from, mid := w.next-firstCycles, w.next-firstCycles/2
	if from < w.since || a.unfinished() >= 0 { // what is left loose comes first
		return adv, false
	}
	older, newer, rest := w.wanted(from, mid), w.wanted(mid, w.next), w.stateOver(from, w.next)
	s := a.pick(&rest.wanted, &w.link)
	if s < 0 || s != a.pick(&older, &w.link) || s != a.pick(&newer, &w.link) {
		return adv, false
	}
	if x := math.Abs(rest.wanted[s]); x < fineWanted || math.Abs(newer[s]-older[s]) > agreeShare*x {
		return adv, false
	}
	adv = a.nameScrew(s, &rest, w)
	a.first, a.halts.idle = a.phase == asking, 0 // the idle that a fall is told by has yet to settle
	return adv, true
}

// keepFirst has the first screw stay named until the speed has settled: no movement is looked for meanwhile, nor while
// the bank still follows the start, for firstSeconds. Then what is wanted of that screw is taken anew, where it stands
// as it stood; a movement that no start makes is a hand's, which was quick. Of one that either may have made nobody
// knows what is left to turn: all is read anew.
func (a *advisor) keepFirst(w *window) (adv advice.Advice, waits bool) {
	if !a.first || w.next-w.since < firstCycles {
		return a.told, a.first
	}
	mid := w.next - firstCycles/2
	older, newer := w.wanted(mid-firstCycles/2, mid)[a.screw], w.wanted(mid, w.next)[a.screw]
	least := a.leastChange(a.screw, w)
	if math.Abs(newer-older) >= least && w.now()-a.phaseTime <= firstSeconds {
		return a.told, true
	}
	a.first = false
	now := w.stateOver(w.next-firstCycles, w.next)
	switch d, misfit := w.link.Moved(a.screw, &a.rest.scaled, &now.scaled); {
	case misfit > ownMisfit || math.Abs(d) < least:
		a.rest, a.trail.from, a.trail.cycles = now, now, firstCycles
	case math.Abs(d) < w.disturbance(a.screw, &a.rest, a.phaseCycle):
		a.trail = trail{}
		return a.readAnew(w), true
	}
	return a.told, false
}

// readAnew drops what was told, as the bank stands otherwise and nobody knows whether a hand did that: what is told
// after so many new cycles that a glance sees the wait is another word, though it may be the same.
func (a *advisor) readAnew(w *window) advice.Advice {
	a.named = false
	w.keepNewest(1)
	return a.enter(choosing, waitFor(advice.WhyFewCycles), w)
}
