package balance

import (
	"math"
	"math/bits"

	"evendraw/internal/advice"
	"evendraw/internal/learned"
)

// leastChange is the least change of what is wanted of a screw that counts as a turn of it.
func (a *advisor) leastChange(mover int, w *window) float64 {
	least := max(leastMove, moveShare*math.Abs(a.left(&a.rest)))
	switch {
	case mover != a.screw:
		least = strayMove
	case a.told.Why == advice.WhyTry:
		least = tryMove
	}
	return max(least, moveSigmas*math.Sqrt(w.wantedVariance(mover)/recentCycles))
}

// mover returns the screw that has moved since one was named, and by how much: the one named, or
// another whose movement alone fits; -1 where no screw does.
func (a *advisor) mover(w *window) (screw int, moved float64) {
	now := w.lately()
	screw = -1
	switch unlike := w.readUnlike(&a.rest); {
	case unlike >= 2*recentCycles:
		a.rest = now
		return screw, 0
	case unlike > 0 || w.jumped():
		return screw, 0
	}
	for s := range a.bank.Screws {
		d, misfit := w.link.Moved(s, &a.rest.scaled, &now.scaled)
		least := max(w.disturbance(s, &a.rest, a.phaseCycle), a.leastChange(s, w), w.wandersBy(s))
		most := othersMisfit
		if s == a.screw {
			most = ownMisfit
		}
		if misfit < most && math.Abs(d) > least && (screw < 0 || s == a.screw) {
			screw, moved = s, d
		}
	}
	return screw, moved
}

// movedOver returns by how much the mean of the newest n cycles shows that the screw in hand has moved, kPa, either
// way; 0 where that may be chance, by so many standard deviations.
func (a *advisor) movedOver(n int, sigmas float64, w *window) float64 {
	s, now := a.screw, w.stateOver(w.next-n, w.next)
	d, misfit := w.link.Moved(s, &a.rest.scaled, &now.scaled)
	least := max(leastMove, moveShare*math.Abs(a.left(&a.rest)), sigmas*math.Sqrt(w.wantedVariance(s)/float64(n)),
		w.disturbance(s, &a.rest, a.phaseCycle))
	if misfit > ownMisfit || math.Abs(d) < least || w.readUnlike(&a.rest) > 0 {
		return 0
	}
	return d
}

// amountShows reports whether a movement towards level shows in the mean of slowLook cycles, where an amount was told.
func (a *advisor) amountShows(w *window) bool {
	return !math.IsNaN(a.amount) && a.told.Why != advice.WhyTry && min(w.next-a.phaseCycle, w.cycles()) >= slowLook &&
		w.at(w.next-slowLook).time-a.phaseTime >= answerSeconds &&
		a.movedOver(slowLook, slowSigmas, w)*a.left(&a.rest) > 0
}

// heardSeconds is how long after a screw was named the one that was named before may still be turned by a hand that
// heard that word: it is not astray. Chosen: to reach a screw and loosen its lock nut.
const heardSeconds = 5.0

// ask waits for the named screw to move.
func (a *advisor) ask(r *Reading, w *window) advice.Advice {
	if adv, waits := a.keepFirst(w); waits {
		return adv
	}
	mover, moved := a.mover(w)
	if mover < 0 && a.amountShows(w) {
		mover, moved = a.screw, a.rest.wanted[a.screw]-w.lately().wanted[a.screw]
	}
	switch {
	case mover < 0:
		a.strayed = 0
		return a.stillAsk(r, w)
	case w.now()-a.phaseTime < answerSeconds && a.told.Again: // an answer to the word before
		return a.told
	case w.now()-a.phaseTime < answerSeconds: // the hand has yet to come to rest
		a.running = mover == a.screw && a.undoes && moved*a.moved > 0
		a.rest = w.lately()
		a.askedOf = a.rest.wanted[a.screw]
		return a.told
	}
	towards := moved*a.left(&a.rest) > 0
	if mover == a.screw && !towards && a.runsOn(moved, w) {
		return a.told
	}
	if a.strayed++; (mover != a.screw || !towards) && a.strayed < recentCycles {
		return a.told // a throttle that opens within a cycle
	}
	a.silent = 0
	switch {
	case mover+1 == a.before && w.now()-a.anewTime < heardSeconds:
		a.check.turned(mover)
		a.named, a.before = false, 0
		return a.choose(r, w)
	case mover != a.screw:
		a.check.turned(mover)
		a.named, a.stray, a.farthest = false, mover, 0
		a.enter(astray, a.told, w)
		return a.bringBack(r, w)
	}
	a.begin(towards, moved > 0, r, w)
	return a.follow(r, w)
}

// begin begins to follow the screw in hand, which moves, towards level or not; raises is set where that raises what it
// moves.
func (a *advisor) begin(towards, raises bool, r *Reading, w *window) {
	mover := a.screw
	a.answered(towards, raises)
	if !a.told.Again {
		from := a.phaseTime
		if a.anew {
			from = a.anewTime
		}
		a.hand.ObserveReach(w.now()-from, !a.anew)
	}
	a.move.Begin(w.now(), wantedNow(mover, w), w.wantedVariance(mover)/recentCycles)
	a.move.Pace = w.paceOf(mover) / r.Span.Period
	a.phase, a.phaseCycle, a.phaseTime = turning, w.next, w.now()
	pace := max(-a.move.Pace*sign(a.left(&a.rest)), a.hand.Pace*a.screws[mover].Size())
	if towards && !(a.untilStop(pace) < sayableSeconds && math.IsNaN(a.amount)) {
		a.told.Kind, a.told.Why, a.tempoTime = advice.Turn, advice.WhyKeepOn, w.now()
		if a.undoes {
			a.told.Direction = advice.UnknownWay
		}
		if math.IsNaN(a.amount) && a.tooQuick(-a.move.Pace*sign(a.left(&a.rest))) {
			a.told.Why = advice.WhySlower
		}
	}
}

// runOnSeconds is how soon after the word a movement must be seen to be one that was under way then. Chosen: a cycle or
// three after answerSeconds; a hand that has read the word begins later.
const runOnSeconds = 0.75

// runsOn reports whether a movement away is still the one before, which had the other way told: a hand turns on until
// it has heard that. It counts to that one then.
func (a *advisor) runsOn(moved float64, w *window) bool {
	since := w.now() - a.phaseTime
	a.running = a.undoes && moved*a.moved > 0 && (since < runOnSeconds || a.running && since < a.hearing())
	if a.running {
		a.rest = w.lately()
		a.moved, a.askedOf = a.moved+moved, a.rest.wanted[a.screw]
	}
	return a.running
}

// backShare of the way that a screw was astray, and strayMove / 2 at least, is how near it counts as back. Chosen.
const backShare = 0.2

// A hand that has turned a screw back to mostlyShare of the way that it was astray, and has left it there for
// believeCycles, has done what it was told, as it turned it: what is left is levelled. Chosen: two seconds at idle.
const mostlyShare, believeCycles = 0.5, 20

func (a *advisor) mostlyBack(w *window) bool {
	from := w.next - believeCycles
	return from >= max(w.since, a.phaseCycle) &&
		(w.wanted(from, w.next)[a.stray]-a.rest.wanted[a.stray])/a.farthest < mostlyShare
}

// bringBack waits until a screw that was not named stands where it stood: the user is told which way, where that is
// known, and knows how far. One that has gone back beyond that stands where it was turned from unseen. A key ends it
// too, as nobody may have turned that screw, and a level bank.
func (a *advisor) bringBack(r *Reading, w *window) advice.Advice {
	off := w.lately().wanted[a.stray] - a.rest.wanted[a.stray]
	if a.farthest == 0 || off*a.farthest > a.farthest*a.farthest {
		a.farthest = off
	}
	quiet := a.quiet(w)
	back := math.Abs(off) < max(backShare*math.Abs(a.farthest), strayMove/2)
	switch back = back || off*a.farthest < 0; {
	case quiet && (back || a.withinAim(r, w)), a.mostlyBack(w):
		a.endAstray(w)
		return a.choose(r, w)
	case back:
		return waitFor(advice.WhyFewCycles)
	}
	a.told = a.aboutScrew(a.stray, advice.Recheck, advice.WhyOtherScrew)
	if k := &a.screws[a.stray]; k.DirectionKnown() {
		a.told.Direction = advice.WayOf(off * k.Odds)
	}
	return a.told
}

// endAstray goes on from where a screw stands that was not named.
func (a *advisor) endAstray(w *window) {
	a.halts.moved[a.stray] += a.rest.wanted[a.stray] - w.lately().wanted[a.stray]
	a.phase = choosing
}

// paceOf returns by how much what is wanted of screw s changed from one of the last cycles to the next.
func (w *window) paceOf(s int) float64 {
	if w.cycles() < 4 {
		return 0
	}
	return (w.wanted(w.next-2, w.next)[s] - w.wanted(w.next-4, w.next-2)[s]) / 2
}

// stillAsk waits on: the idle may drift while nobody turns.
func (a *advisor) stillAsk(r *Reading, w *window) advice.Advice {
	tried := a.told.Why == advice.WhyTry && w.now()-a.phaseTime < a.due() // what moves until then may be a small answer
	if a.quiet(w) && !tried {
		now := w.atRest()
		drifts := true
		for s := range a.bank.Screws { // what is more may be a part of a turn: its sum is told
			drifts = drifts && math.Abs(now.wanted[s]-a.rest.wanted[s]) < a.leastChange(s, w)/3
		}
		if drifts {
			a.rest = now
		}
	}
	if math.Abs(a.rest.wanted[a.screw]-a.askedOf) > strayMove {
		return a.readAnew(w) // bit by bit it has become another bank
	}
	noNeed := math.Abs(a.left(&a.rest)) <= a.nearEnough()/2
	late := w.now()-a.phaseTime > levelSeconds
	if noNeed || late && a.quiet(w) && a.withinAim(r, w) { // however that came about
		a.named = false
		return a.choose(r, w)
	}
	if adv, ok := a.unseen(r, w); ok {
		return adv
	}
	return a.patience(w)
}

// Constants of an amount that was made and not seen.
const (
	// unseenMargin is how many times as long as usual it may take until it is begun, unseenSeconds how much
	// longer than at the hand's pace to be made. Chosen.
	unseenMargin, unseenSeconds = 1.3, 0.8
	// walkSeconds is how long a hand is given at least to reach another screw until its amount counts as made. Chosen.
	walkSeconds = 5.0
	// mostPlay is the largest amount, turns, that may have taken up play alone: a hand that makes more and moves
	// nothing was not at the screw. Chosen.
	mostPlay = 1.0 / 8
)

// due is how long after the word what was told is made, s; NaN where no amount was.
func (a *advisor) due() float64 {
	begins := unseenMargin * a.hand.AnswerTime()
	if reach := max(unseenMargin*a.hand.ReachTime(), walkSeconds); a.anew { // on its way since that was first named
		begins = max(begins, a.anewTime+reach+a.loosening()-a.phaseTime)
	} else {
		begins += a.loosening()
	}
	return begins + a.amount/a.hand.Pace + unseenSeconds
}

// restShowSigmas is by how many standard deviations of its mean a bank that stands still must have moved for an amount
// that was told to have moved it. Chosen: an idle wanders.
const restShowSigmas = 5

// countCut goes on where what was told was cut short by a speed that moved, and is seen to have been made once that is
// back.
func (a *advisor) countCut(r *Reading, w *window) (adv advice.Advice, made bool) {
	a.cut, a.phaseCycle = false, w.first // what moved meanwhile was the speed
	if a.rested = min(w.cycles(), mostRest); a.movedOver(a.rested, restShowSigmas, w) == 0 {
		return adv, false
	}
	return a.takeMade(r, w), true
}

// takeMade goes on where an amount shows that was made while nothing was seen to move.
func (a *advisor) takeMade(r *Reading, w *window) advice.Advice {
	s, now := a.screw, w.stateOver(w.next-a.rested, w.next)
	moved := a.rest.wanted[s] - now.wanted[s]
	towards := moved*a.left(&a.rest) > 0
	a.phaseTime = w.now() // how long ago it was made is not known
	a.answered(towards, moved > 0)
	return a.afterPause(!towards, r, w)
}

// answered notes that the screw in hand moves, towards level or not, and whether that raises what it moves.
func (a *advisor) answered(towards, raises bool) {
	k := &a.screws[a.screw]
	a.check.turned(a.screw)
	a.silent, a.reached, a.answers, a.mute, a.was = 0, true, true, a.mute&^(1<<a.screw), *k
	a.vain[a.screw], a.trail = inVain{}, trail{}
	a.doubtful = a.way != advice.UnknownWay && (towards || k.DirectionKnown())
	switch {
	case a.way == advice.UnknownWay:
		k.LastWay = 0
	case towards || !a.doubtful: // else once it is seen to the end
		k.ObserveDirection(a.way.Sign(), raises, towards)
	default:
		k.LastWay = a.way.Sign()
	}
	a.parts.Begin()
	a.fastest, a.surest, a.quickest, a.steady, a.goneOn, a.trying = 0, 0, 0, 0, 0, a.told.Why == advice.WhyTry
}

// unseen goes on where an amount was made and nothing moved: it took up play, was too small a try, or does less than
// is seen.
func (a *advisor) unseen(r *Reading, w *window) (adv advice.Advice, ok bool) {
	if math.IsNaN(a.amount) || w.now()-a.phaseTime < a.due() || !a.quiet(w) {
		return adv, false
	}
	// What was told may have moved the bank by less than is seen at once.
	if a.rested = min(w.cycles(), mostRest); a.movedOver(a.rested, restShowSigmas, w) != 0 {
		return a.takeMade(r, w), true
	}
	if adv, made := a.countTrail(r, w); made {
		return adv, true
	}
	adv = a.told
	k := &a.screws[a.screw]
	try, more := a.told.Why == advice.WhyTry, min(2*a.amount, mostTry)
	switch {
	case a.back && k.DirectionKnown() && k.TakenUp+a.amount <= mostPlay && a.amount*k.Size() > w.hidden(a.screw):
		k.ObserveNone(a.amount)
		a.sharePlay()
		adv.Turns = learned.Countable(math.Abs(k.Turns(a.left(&a.rest))), k.Size())
		a.amount, a.anew = adv.Turns, false
		return a.enter(asking, adv, w), true
	case try && more > a.amount && more*k.Size() <= tryEffect:
		adv.Turns, adv.Again = more, true
	case a.silent+a.amount >= firstTurns && !a.mayBeTurning(w):
		return adv, false
	case a.silent+a.amount >= firstTurns:
		return a.tellNoAnswer(w), true
	case try: // an eighth may have taken up play; another figure shows that it is news
		a.silent += a.amount
		adv.Turns, adv.Again = min(2*a.amount, tryAgain), true
	default:
		a.silent += a.amount
		now := w.atRest()
		a.halts.moved[a.screw] += a.rest.wanted[a.screw] - now.wanted[a.screw]
		return a.goOn(&now, r, w), true
	}
	a.amount, a.anew, a.back = adv.Turns, false, false
	a.trail.tell(&adv, w)
	return a.enter(asking, adv, w), true
}

// unfinished returns the screw whose lock nut is open, the one at hand before others, -1 for none: one screw is set and
// locked before the next is named, as what is left loose walks.
func (a *advisor) unfinished() (screw int) {
	open := a.openNuts()
	if open>>a.screw&1 == 1 {
		return a.screw
	}
	if open == 0 {
		return -1
	}
	return bits.TrailingZeros(open)
}
