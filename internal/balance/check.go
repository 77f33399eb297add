package balance

import (
	"math"
	"math/bits"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/faults"
	"evendraw/internal/learned"
	"evendraw/internal/linkage"
	"evendraw/internal/pressure"
)

// Constants of the checks before "done".
const (
	// blipRise is how far above the idle the speed must go to be a blip. Chosen: a
	// lumpy idle wanders by 15 %.
	blipRise = 1.25
	// blipSeconds is how long a blip that was asked for may keep the speed away from idle. Chosen: the practice
	// engine's takes 5.
	blipSeconds = 7.0
	// A lock nut counts as tight when the user says so; or when its screw is seen to move, by more
	// than nutMove, kPa, and nutSigmas standard deviations of the mean of the last cycles; or when
	// nothing was seen for keylessSeconds, where nobody has a key to say so for the hand's NutTime. Chosen.
	nutMove   = 0.08
	nutSigmas = 5
	// keylessSeconds is for how long a lock nut is asked for at most while nothing is seen, where there are keys: hands
	// may be full. Chosen: longer than a spanner takes; four of them are well within what an engine may idle.
	keylessSeconds = 20.0
	// leastNutSeconds is the least time that a lock nut takes, and leastReach the share of the usual time to reach its
	// screw that it takes beside, where the hand is not at it. Chosen.
	leastNutSeconds, leastReach = 1.5, 0.5
	// nutShare of the aim is how far off a screw may stand once its lock nut is tight. Chosen.
	nutShare = 0.6
	// keyCycles before the key that says so a nut was tight already. Derived: a hand needs longer from the spanner to
	// the key than two cycles take.
	keyCycles = 2
	// wellSigmas is by how many standard deviations of the newest cycles the spread must lie within the aim for a blip
	// to be asked for on those alone. Chosen: the bank is read anew after it.
	wellSigmas = 2.0
	// nutSure is how many times nearer it must be by a few cycles alone. Chosen.
	nutSure = 1.5
	// realMove is how far a screw must have moved, kPa, for a bank to be no longer done. Chosen: more
	// than an idle that settles or warms moves it.
	realMove = 0.3
	// A lock nut is not to be loosened or tightened, and no blip made, with less idling left, s: each ends with a
	// look. Where a cool-down gives less than that and startSeconds, to start and settle, they are asked for all the
	// same. Chosen: the practice engine takes a second less.
	loosenNeeds, nutNeeds, blipNeeds = 11.0, 7.0, 10.0
	startSeconds                     = 8.0
)

// check is how far the checks of a level bank have come. They begin anew when a
// screw is turned.
type check struct {
	screws   uint    // that were turned, as bits: their lock nuts are open
	moved    uint    // those of them that were seen to move: somebody was at them
	unsaid   uint    // whose nuts are tight by what was seen or by the time alone
	idle     float64 // speed that a blip is to rise from, rpm
	blipSeen bool
	blipTime float64 // since when
	blipped  bool    // since a screw was turned
	rest     state
	nut      int     // the screw whose lock nut is asked for
	next     int     // the one that was told to come after it, NoScrew for none
	nutTime  float64 // since when
	nutTight bool    // it is
	another  bool    // was asked for just before
	nutCycle int     // since that cycle
	// offCycles counts cycles in a row in which the bank was off level.
	offCycles int
}

// turned notes that a screw was turned: the bank is to be blipped after that.
func (c *check) turned(s int) {
	c.blipped = false
	c.anew()
	c.screws, c.moved = c.screws|1<<s, c.moved|1<<s
}

// anew begins the checks anew; what is known of the lock nuts stays.
func (c *check) anew() {
	*c = check{screws: c.screws, moved: c.moved, unsaid: c.unsaid, nut: c.nut, blipped: c.blipped}
}

// watchForBlip looks for a blip in the speed of a cycle that ended at t.
func (c *check) watchForBlip(t, rpm float64) {
	if c.idle > 0 && !c.blipSeen && rpm > blipRise*c.idle {
		c.blipSeen, c.blipTime = true, t
	}
}

// lostShare is by how much of it the mean draw moves in a blip that hides the cycles, as behind long hoses: its
// throttle is open, or shut at speed. Chosen: more than one hose of two that slips off.
const lostShare = 0.55

// watchLost looks for a blip in a span without a cycle.
func (c *check) watchLost(s *cycle.Span, ambient pressure.KPa) {
	draw := 0.0
	for i := range s.N {
		draw += float64(ambient-s.Mean[i]) / float64(s.N)
	}
	if c.idle > 0 && !c.blipSeen && math.Abs(draw-c.rest.mean) > lostShare*c.rest.mean {
		c.blipSeen, c.blipTime = true, s.End()
	}
}

// nextCheck goes on to the next check of a bank that is level: lock nuts that are open still, and a blip.
func (a *advisor) nextCheck(w *window) advice.Advice {
	c := &a.check
	c.offCycles, c.rest = 0, w.atRest()
	if open := a.openNuts(); open != 0 {
		return a.askNut(bits.TrailingZeros(open), w)
	}
	if !c.blipped {
		return a.askBlip(w)
	}
	if a.suspect { // a bank is not told level first, and in doubt a moment later
		return a.enter(choosing, waitFor(advice.WhyFewCycles), w)
	}
	a.lookAgain(w.rpm)
	return a.enter(finished, advice.New(advice.Done, advice.NoPart, advice.WhyLevel), w)
}

// tooLate reports whether the engine is better left to cool before what takes so many seconds of idling.
func (a *advisor) tooLate(needs float64) bool {
	return a.heat.LeftS() < needs && a.heat.RestedS() > needs+startSeconds
}

// askBlip asks for a blip, which seats the linkage.
func (a *advisor) askBlip(w *window) advice.Advice {
	if a.tooLate(blipNeeds) {
		return a.enter(choosing, waitFor(advice.WhyHot), w)
	}
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

// afterBlip waits for a blip, and looks again when the idle has settled.
func (a *advisor) afterBlip(r *Reading, w *window) advice.Advice {
	c := &a.check
	switch {
	case c.blipSeen && r.Cycles < settledCycles+recentCycles:
		return waitFor(advice.WhyFewCycles)
	case !a.quiet(w) || !c.blipSeen && !a.farOff(r, w): // a blip is under way, and then it is looked again
		return a.told
	}
	if c.blipSeen && !c.blipped {
		a.play.blipped(&c.rest, w)
	}
	if c.blipped = c.blipSeen; !a.withinAim(r, w) && !a.takePlay(r, w) {
		return a.backToScrews(r, w)
	}
	c.blipped = true
	return a.nextCheck(w)
}

// farOff reports whether a bank that was level is so no longer, though a blip is asked for.
func (a *advisor) farOff(r *Reading, w *window) bool {
	spread, half := a.spread(r, w)
	return spread-half > a.aim+realMove
}

// askNut asks for the lock nut of screw s.
func (a *advisor) askNut(s int, w *window) advice.Advice {
	c := &a.check
	c.nut, c.nutTime, c.nutTight, c.another, a.toTurnBack = s, w.now(), false, a.phase == tightening, false
	a.moved, a.screws[s].Torn = 0, false // the nut moves it, too
	adv := a.aboutScrew(s, advice.Recheck, advice.WhyNuts)
	if c.next = a.nextAfter(s, &c.rest.wanted, &w.link); c.next >= 0 {
		adv.Next, adv.NextWay = a.bank.Screws[c.next].Name, a.turnAdvice(c.next, c.rest.wanted[c.next]).Direction
	}
	a.enter(tightening, adv, w)
	if a.tooLate(nutNeeds) { // it is asked for once the engine runs again
		return waitFor(advice.WhyHot)
	}
	return a.told
}

// nextAfter returns the screw that comes after the lock nut of screw s, as the bank stands; -1 where the nut may leave
// it level, or bring that screw itself back.
func (a *advisor) nextAfter(s int, x *perScrew, l *linkage.Linkage) int {
	if next := a.pick(x, l); next != s && l.SpreadLeft(x, 0) > a.aim+realMove {
		return next
	}
	return advice.NoScrew
}

// sayTight takes the word of the user that a lock nut is tight. One that comes sooner than a nut can be tightened was
// meant for the nut before.
func (a *advisor) sayTight(w *window) {
	if c := &a.check; !c.another || w.now()-c.nutTime >= leastNutSeconds {
		a.tighten(w)
		c.unsaid &^= 1 << c.nut
		c.nutCycle -= keyCycles
	}
}

// tighten notes that the lock nut that is asked for is tight.
func (a *advisor) tighten(w *window) {
	c := &a.check
	c.screws &^= 1 << c.nut
	c.moved &^= 1 << c.nut
	c.unsaid |= 1 << c.nut
	c.nutTight, c.nutCycle = true, w.next
}

// afterNut waits until a lock nut is tight, and looks at what it has shifted.
func (a *advisor) afterNut(r *Reading, w *window) advice.Advice {
	c := &a.check
	least := leastNutSeconds
	if c.nut != a.screw { // the hand is elsewhere
		least += leastReach * a.hand.ReachTime()
	}
	switch early := w.now()-c.nutTime < least; {
	case c.nutTight:
		return a.lookAtNut(r, w)
	case early: // what moves so soon is no nut, but the end of the turn
		c.rest = w.stateOver(max(w.first, w.next-fewestCycles), w.next)
		return a.told
	case !a.shifted(w) && a.goneOnBy(w) != 0:
		return a.goneOnTo(c.next, w)
	case !a.shifted(w):
		return a.takeBackNut(least+saidSeconds, r, w)
	}
	a.hand.ObserveNut(w.now() - c.nutTime)
	a.tighten(w)
	return a.told
}

// takeBackNut tells what is left of a screw whose lock nut is asked for, where the hand went on for a moment, or made
// less than was seen, while nobody can have tightened it; else it waits for it.
func (a *advisor) takeBackNut(within float64, r *Reading, w *window) advice.Advice {
	s, now := a.check.nut, w.atRest()
	known := w.wanders >= fewestCycles
	if known && w.now()-a.check.nutTime < within && w.cycles() >= cyclesNeeded(w.wantedVariance(s)) {
		doubt := w.wandersBy(s) / 2 // of a mean: it may be the idle alone
		if off, waits := a.offAfterNut(&now, r, w); off > 1+doubt/(nutShare*a.aim) && !waits {
			a.trims++
			return a.nameScrew(s, &now, w)
		}
	}
	return a.waitForNut(w)
}

// lookAtNut goes on when it has seen how the screw stands whose lock nut was tightened: with that screw,
// where the nut has shifted it too far, or with the next. One that is far off needs no long look: the nut has
// moved no other.
func (a *advisor) lookAtNut(r *Reading, w *window) advice.Advice {
	if r.Cycles < recentCycles || w.next < a.check.nutCycle+recentCycles {
		return a.told
	}
	s, now := a.check.nut, w.lately()
	if r.Cycles >= fewestCycles {
		now = w.atRest()
	}
	off, waits := a.offAfterNut(&now, r, w)
	next := a.pick(&now.wanted, &w.link)
	as := math.Abs(a.left(&now)) < nextMargin*math.Abs(a.left(&a.check.rest)) // it was before: others come first
	switch sure := r.Cycles >= fewestCycles; {
	case a.openNuts() == 0 && !a.check.blipped && a.offsetBand == 0 && w.wellWithin(a.aim):
		a.trims = 0
		if adv, stop := a.halted(-1, w); stop {
			return adv
		}
		return a.askBlip(w)
	case off > 1 && !waits && !as && sure:
		a.trims++
		return a.nameScrew(s, &now, w)
	case sure:
		a.trims = 0
		return a.choose(r, w)
	case off < 1/nutSure && next >= 0 && next != s && math.Abs(now.wanted[next]) > fineWanted:
		a.trims = 0
		return a.nameScrew(next, &now, w)
	}
	return a.told
}

// offAfterNut returns how far off, over what is left alone, the screw in hand stands whose lock nut is asked for or
// tight; waits is set where another comes first all the same.
func (a *advisor) offAfterNut(now *state, r *Reading, w *window) (off float64, waits bool) {
	s := a.check.nut
	if s != a.screw || a.mayBeWithin(r, w) {
		return 0, false
	}
	a.goal = a.goalOf(s, &now.wanted, w)
	next, left := a.pick(&now.wanted, &w.link), math.Abs(a.left(now))
	hair := math.Abs(now.wanted[max(next, 0)]) > fineWanted &&
		left < max(learned.FineTurns*a.screws[s].Size(), min(w.blurred(s), a.aim)) // the large error comes first
	waits = a.trims >= mostTrims || next >= 0 && next != s && (hair || w.link.GrowsMuch(s, &now.wanted))
	return left / (nutShare * a.aim), waits
}

// wellWithin reports whether the spread lies within aim, kPa, by the newest cycles alone.
func (w *window) wellWithin(aim float64) bool {
	now := w.lately()
	least, most := math.Inf(1), math.Inf(-1)
	for c := range w.n {
		least, most = min(least, now.scaled[c]), max(most, now.scaled[c])
	}
	spread := most - least + wellSigmas*w.scatterOf(recentCycles)
	return !w.byOpening && spread*now.mean/faults.NominalDraw <= aim
}

// waitForNut waits for a lock nut: for the key, for keylessSeconds, or, without keys, as long as the hand needs.
func (a *advisor) waitForNut(w *window) advice.Advice {
	if w.cycles() >= mostCycles { // an idle that drifts is no nut
		a.check.rest = w.atRest()
	}
	if since := w.now() - a.check.nutTime; !a.keys && since > a.hand.NutTime() ||
		since > keylessSeconds && a.quiet(w) {
		a.tighten(w)
	}
	return a.told
}

// shifted reports whether the lock nut that is asked for is seen to have shifted its screw.
func (a *advisor) shifted(w *window) bool {
	c, s := &a.check, a.check.nut
	if w.cycles() < recentCycles || w.next-a.phaseCycle < recentCycles || w.jumped() {
		return false
	}
	now := w.lately()
	d, misfit := w.link.Moved(s, &c.rest.scaled, &now.scaled)
	return misfit < othersMisfit && math.Abs(d) > max(nutMove, w.wandersBy(s), w.disturbance(s, &c.rest, a.phaseCycle),
		nutSigmas*math.Sqrt(w.wantedVariance(s)/recentCycles))
}

// hold returns the advice that stands while the speed is not steady: that it is to settle after a blip that was
// asked for, a lock nut, or that the bank is level; ok is false for another.
func (a *advisor) hold(why advice.Why, standing float64, r *Reading, w *window) (adv advice.Advice, ok bool) {
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
	case a.phase == blipping && a.check.blipSeen && r.Time-a.check.blipTime < blipSeconds:
		return waitFor(advice.WhyNotSteady), true
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
		if a.check.blipped && a.phase == blipping { // and is not asked for again yet
			return waitFor(advice.WhyFewCycles)
		}
		return a.told
	}
	a.check.anew()
	a.named = false
	return a.choose(r, w)
}
