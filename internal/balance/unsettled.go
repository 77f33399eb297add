package balance

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/hoses"
)

// Constants of what is told before the speed has settled.
const (
	// blipNear is how near to the idle, as a share of it, the speed must have come after a blip for the bank to be
	// looked at; fallShare by what share, fallDoubt by how many kPa, the spread of the scaled draws may be off.
	// Measured on a four of the practice engine, 3 kPa apart: by 3 to 5 % in the eight cycles in which a falling speed
	// comes from there to 0.15; without fallDoubt two of 60 banks were called level at 0.53 and 0.57 kPa.
	blipNear, fallShare, fallDoubt = 0.25, 0.1, 0.08
	// scatterSigmas is how many standard deviations of the mean, by the scatter of the cycles before, are at least as
	// much as half the 95 % interval: a few cycles alone can't tell how they hang together. Chosen: 2 where they don't.
	scatterSigmas = 3.0
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
// leave no doubt of it, and that a bank that was blipped is level. Why is what the speed is waited for.
func (b *Balance) unsettled(why advice.Why, r *Reading) (adv advice.Advice, ok bool) {
	a, w := &b.advisor, &b.win
	moving := why == advice.WhyNotSteady
	switch {
	case !moving && why != advice.WhyFewCycles || b.gate.paused || b.gate.warmth.Warming() || b.gate.faults.dead() > 0:
	case moving && a.phase == blipping && a.levelAlready(r, w):
		a.check.blipped, w.first = true, max(w.first, w.next-a.check.near)
		return a.nextCheck(w), true
	case moving && a.phase == choosing && a.halts.idle == 0 && b.soundStart(r):
		return a.nameFirst(w)
	case a.phase == asking && a.first && w.next > 0 && w.now()-a.phaseTime < firstSeconds:
		return a.told, true
	}
	return adv, false
}

// levelAlready reports whether a bank that was blipped is level for sure, though its speed has yet to come down all the
// way: by the scaled draws, which hardly change with the speed, at the mean draw of the idle before.
func (a *advisor) levelAlready(r *Reading, w *window) bool {
	n := min(w.cycles(), a.check.near)
	if n < settledCycles+recentCycles || w.byOpening || !a.mayBeWithin(r, w) { // nor as it is shown
		return false
	}
	apart := w.apart(w.next - n)
	spread := apart.Mean()*(1+fallShare) + fallDoubt
	half := min(float64(apart.HalfWidth()), scatterSigmas*w.scatterOf(n)) +
		min(w.rejectedSpread()+weakUncertainty(r), mostHidden)
	return (spread+doneShare*half)*a.check.rest.mean/nominalDraw <= a.aim
}

// soundStart reports whether nothing stands in the way of advice but a speed that rises after a start.
func (b *Balance) soundStart(r *Reading) bool {
	g := &b.gate
	if g.cannotLevel || g.offIdle(r.RPM) || g.faults.found != [cycle.MaxCylinders]advice.Why{} || b.win.byOpening {
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

// keepFirst takes what is wanted of the first screw anew once the speed has settled, and reports whether that is yet to
// come: no movement is looked for meanwhile.
func (a *advisor) keepFirst(w *window) (waits bool) {
	if a.first && w.cycles() >= firstCycles {
		a.first, a.rest = false, w.atRest()
	}
	return a.first
}
