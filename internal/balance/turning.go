package balance

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/learned"
	"evendraw/internal/linkage"
	"evendraw/internal/series"
)

// Constants of turning.
const (
	// settledCycles is how many cycles without a change end a turning.
	settledCycles = 5
	// The least change of what is wanted of a screw that counts as a turn is the largest of leastMove in kPa, moveShare
	// of what was wanted, as the idle's wander moves large differences more, and moveSigmas standard deviations of the
	// mean of the last cycles. Chosen: half of what a sixteenth of a turn does.
	leastMove  = 0.06
	moveShare  = 0.04
	moveSigmas = 6
	// tryMove takes the place of leastMove when a screw is tried. Chosen: an idle that settles moves less.
	tryMove = 0.15
	// strayMove takes its place for a screw that was not named.
	strayMove = 0.5
	// answerSeconds is the least time from a word to a movement that answers it: what moves sooner
	// is the end of the movement before. Derived: a reaction, and a cycle.
	answerSeconds = 0.4
	// A hand that turns until told to stop is told to turn slower where its overrun is in doubt by more than the aim.
	// No word about the tempo is begun where the one to stop is less than sayableSeconds away, at the pace that is
	// seen: it would not be said. Chosen: a second, and what that pace is in doubt by.
	sayableSeconds = 1.5
	// paceSigmas is how many standard deviations below what is seen a pace surely is. Chosen.
	paceSigmas = 2.0
	// paceCycles is how many cycles of a movement tell its pace.
	paceCycles = 6
	// tempoSeconds is how long a word about the tempo stands at least. Chosen: a glance.
	tempoSeconds = 1.2
	// A hand has paused when the slope of leastRest to mostRest of the newest cycles, and of some more up to
	// longRest where scatter hides its pace in so few, is below slowestShare of its pace by restSigmas standard
	// deviations; once madeTime of its amount, or of the usual time for it, was made, madeRest and madeSigmas do.
	// Chosen: the slowest hand slows down to half.
	leastRest    = 5 // a hand that takes hold anew pauses too
	madeRest     = 3
	loneRest     = 12 // of a hand that was to go on until told to stop
	mostRest     = 16
	longRest     = 64
	slowestShare = 0.5
	restSigmas   = 2.0
	madeSigmas   = 1.5
	peakSigmas   = 3.5 // of the pace of some cycles, the quickest of many
	madeTime     = 0.7
	// paceDoubtful is how well a pace must be seen, turns a second, for a hand to count as quick by it. Chosen.
	paceDoubtful = 0.05
	// Where the draws scatter, a small amount that was made is looked for in the mean of
	// slowLook cycles, and must be slowSigmas standard deviations of it. Chosen: less than
	// a second, so that a hand at its next glance sees that it was seen.
	slowLook   = 6
	slowSigmas = 3.5
	// levelSeconds is how long after a screw was named a bank that is level by itself ends that. Chosen: a hand
	// has reached the screw by then.
	levelSeconds = 8.0
)

// wantedNow returns what is wanted of screw s now: the median of the last few cycles, so that one odd cycle,
// a misfire, moves nothing.
func wantedNow(s int, w *window) float64 {
	from := max(w.first, w.next-recentCycles)
	var last [recentCycles]float64
	for k := from; k < w.next; k++ {
		last[k-from] = w.at(k).wanted[s]
	}
	return series.Median(last[:w.next-from])
}

// quiet reports whether nothing has changed for settledCycles, all of them in the present phase.
func (a *advisor) quiet(w *window) bool {
	return min(w.cycles(), w.next-a.phaseCycle) >= settledCycles+recentCycles
}

// follow watches the screw being turned: keep going, slower, faster, or stop.
func (a *advisor) follow(r *Reading, w *window) advice.Advice {
	s := a.screw
	if w.leapsAt(w.next - 1) { // as where a hose comes off
		a.interrupt(w)
		return waitFor(advice.WhyFewCycles)
	}
	a.move.Push(w.now(), w.at(w.next - 1).wanted[s], w.wantedVariance(s))
	x, way := a.move.X-a.goal, sign(a.left(&a.rest))
	a.fastest = max(a.fastest, math.Abs(a.move.Pace))
	a.seePace(r, w)
	a.steady = max(a.steady, a.meanPace(w)/r.Span.Period)
	if w.next-a.phaseCycle == paceCycles {
		a.learnPace()
	}
	away := (x-a.left(&a.rest))*way > a.leastChange(s, w)
	if a.parts.GoOn(a.move.X, a.leastChange(s, w)) {
		a.goneOn = w.next - recentCycles
	}
	if a.resting(r, w) {
		if !away && a.mayGoOn(w) {
			return a.told
		}
		return a.afterPause(away, r, w)
	}
	switch {
	case away:
		return a.ledAway(w)
	case (math.IsNaN(a.amount) || a.heedless >= heedlessStops) && (a.stopDue(x, way) ||
		a.far(s, a.underWay(), likelySigmas) || a.widens(w)),
		a.slowed(w):
		return a.tellStop(advice.WhyReached, w)
	case a.goesPast(x*way, w):
		a.heedless++
		return a.tellStop(advice.WhyReached, w)
	case math.IsNaN(a.amount):
		a.told.Why = a.tempo(w)
	}
	return a.told
}

// learnPace learns from the pace of a hand that turns until told to stop: how quick it is, where the
// screw's effect is known, else what the screw does.
func (a *advisor) learnPace() {
	k := &a.screws[a.screw]
	pace := math.Abs(a.move.Pace)
	switch {
	case !math.IsNaN(a.amount):
	case k.Variance < learned.KnownVariance:
		a.hand.ObservePace(pace/k.Size(), pace/k.Size())
	default:
		k.ObserveEffect(pace, a.hand.Pace, learned.SlowSpread)
	}
}

// paceTurns is the least amount whose making tells a hand's pace. Chosen: it takes half a second.
const paceTurns = 1.0 / 8

// stopDue reports whether a hand that turns until told to stop is to be told: it turns on for a while, by what is known
// of it. While a word about its tempo has yet to be said, its pace is what it surely has, or what is known of it: a few
// cycles' scatter passes for a quicker one.
func (a *advisor) stopDue(x, way float64) bool {
	pace := -a.move.Pace * way
	if a.move.Time()-a.tempoTime < saidSeconds {
		pace = max(pace-paceSigmas*a.move.PaceSpread(), min(pace, a.hand.Pace*a.screws[a.screw].Size()))
	}
	return x*way <= a.stopAhead(max(pace, 0))
}

// stopAhead is how far before level a hand at that pace, kPa a second, is told to stop, kPa.
func (a *advisor) stopAhead(pace float64) float64 {
	size := a.screws[a.screw].Size()
	over, sd := a.hand.Overrun(pace / size)
	return over*size + max(stopSigmas*sd*size-a.nearEnough(), 0)
}

// untilStop is how long it takes from now to the word to stop, at that pace, kPa a second.
func (a *advisor) untilStop(pace float64) float64 {
	return (math.Abs(a.move.X-a.goal) - a.stopAhead(pace)) / pace
}

// heedlessStops is how many amounts in a row a hand must have turned past, until it was told to stop, to be taken for
// one that turns until it is told to: it is told in time then, whatever the amount. Chosen.
const heedlessStops = 2

// leastPast is how far past level, kPa, at least, a hand must be that is told to stop by the pace that is seen. Chosen.
const leastPast = 1.0

// goesPast reports whether a hand that was told an amount, and is x before level, kPa, is past it for longer than that
// takes: by its usual pace, or it turns on far past by the pace that is seen.
func (a *advisor) goesPast(x float64, w *window) bool {
	far := x <= -max(leastPast, math.Abs(a.left(&a.rest))) && math.Abs(a.move.Pace) > a.fastest/2
	return x <= -a.leftOver() && a.madeAgain(w) || far && a.overdue(a.seenPace(), w)
}

// seenPace is the pace of the hand, turns a second, as it is known or as it is seen, where that is quicker.
func (a *advisor) seenPace() float64 { return max(a.hand.Pace, a.fastest/a.screws[a.screw].Size()) }

// hearing is how long it takes at most from a word to a hand at rest, s.
func (a *advisor) hearing() float64 { return a.hand.Lag + 2*a.hand.LagSpread() }

// An amount takes overdueShare of its time and overdueSeconds at most. Chosen: hands differ.
const overdueShare, overdueSeconds = 1.5, 0.8

// overdue reports whether a hand turns for longer than its amount takes at that pace, turns a second.
func (a *advisor) overdue(pace float64, w *window) bool {
	return w.now()-a.phaseTime > overdueShare*a.amount/pace+overdueSeconds
}

// madeAgain reports whether a hand turns for longer than its amount takes: it must have made it more than once.
func (a *advisor) madeAgain(w *window) bool { return a.overdue(min(a.hand.Pace, learned.TurnPace), w) }

// made returns how many turns the hand in motion has made of its amount, and how well that is known: the standard
// deviation of its logarithm.
func (a *advisor) made(w *window) (turns, spread float64) {
	if a.madeAgain(w) {
		return max(a.hand.Pace, learned.TurnPace) * (w.now() - a.phaseTime), learned.SlowSpread
	}
	return a.amount, learned.ToldSpread
}

// shows reports whether the screw in hand has moved by more than scatter may make in a few cycles, kPa: what has not
// tells nothing of what it does.
func (a *advisor) shows(change float64, w *window) bool {
	return math.Abs(change) > max(leastMove, restSigmas*math.Sqrt(2*w.wantedVariance(a.screw)/recentCycles))
}

// ledAway answers a movement away from level. Of a screw that is tried the other way is told once
// the hand rests; what was known of another is wrong, or the hand turned the wrong way: it is told
// to stop first, unless it has made its amount before it hears that.
func (a *advisor) ledAway(w *window) advice.Advice {
	try, pace := a.told.Why == advice.WhyTry, a.hand.Pace
	if !try { // whose effect is known
		pace = a.seenPace()
	}
	toMake := a.amount/a.hand.Pace - (w.now() - a.phaseTime) // for how long it is still turned, s
	switch {
	case !math.IsNaN(a.amount) && (try || toMake < a.hearing()) && !a.overdue(pace, w):
		return a.told
	case try:
		a.toTurnBack = true
		rest := w.lately()
		return a.nameScrew(a.screw, &rest, w)
	}
	a.toTurnBack = true
	a.unlearnWay()
	return a.tellStop(advice.WhyAway, w)
}

// unlearnWay learns the direction from a turn that led away in the end, against what was known. Where that outweighs
// it the hand has slipped: it turned the other way than it was told.
func (a *advisor) unlearnWay() {
	if !a.doubtful {
		return
	}
	a.doubtful = false
	k, raised := &a.screws[a.screw], a.left(&a.rest) < 0
	k.ForgetWay(&a.was) // the whole of it counts, not how it began
	k.ObserveDirection(a.way.Sign(), raised, false)
	if a.slipped = !k.Torn && (k.Odds*a.way.Sign() > 0) != raised; a.slipped {
		k.LastWay = -a.way.Sign()
	}
}

// tellStop tells to take the hand off, and waits for quiet.
func (a *advisor) tellStop(why advice.Why, w *window) advice.Advice {
	adv := a.told
	adv.Kind, adv.Why, adv.Turns = advice.Stop, why, math.NaN()
	a.stopPace = max(-a.move.Pace*sign(a.left(&a.rest)), 0)
	a.stopX = a.move.X
	a.amount, _ = a.made(w)
	return a.enter(settling, adv, w)
}

// afterPause goes on after a hand that has stopped by itself: it tells what is left, or goes on to the next screw.
func (a *advisor) afterPause(away bool, r *Reading, w *window) advice.Advice {
	s := a.screw
	if !math.IsNaN(a.amount) && a.amount >= paceTurns {
		a.heedless = 0
	}
	now := w.stateOver(max(w.first, w.next-a.rested), w.next)
	change := a.rest.wanted[s] - now.wanted[s]
	mayUndo := !away && a.undoes && math.Abs(change) < learned.UndoneMost*math.Abs(a.moved)
	undone := mayUndo && math.Abs(change) < learned.UndoneShare*a.amount*a.screws[s].Size()
	if !math.IsNaN(a.amount) && !a.untold && !undone && a.shows(change, w) {
		k := &a.screws[s]
		turns, spread := a.made(w)
		if !a.madeAgain(w) { // else how far is a guess, which a slow hand makes wrong each time
			a.halts.reckoned[s].Push(change, turns)
		}
		back := a.back && (k.Variance < learned.KnownVariance || turns <= mostPlay)
		if back {
			k.ObserveBack(change, turns)
			a.sharePlay()
		}
		if !back || math.Abs(change) > k.Size()*turns { // play takes away
			k.ObserveEffect(change, turns, spread)
		}
		if a.amount >= paceTurns && k.Variance < learned.KnownVariance {
			a.hand.ObservePace(a.surest/k.Size(), a.quickest/k.Size())
		}
		a.shareEffect(s)
	}
	a.halts.moved[s] += a.rest.wanted[s] - now.wanted[s]
	w.learnColumn(s, &a.rest, &now)
	switch {
	case away:
		a.unlearnWay()
	case mayUndo:
		a.screws[s].ForgetWay(&a.was)
		a.screws[s].Torn = undone
	}
	a.toTurnBack = away || a.trying
	return a.goOn(&now, r, w)
}

// widens reports whether the draws have come further apart by as much than what has moved of the screw in hand
// tells: its cylinders do not answer alike, and the plan was made on that they do.
func (a *advisor) widens(w *window) bool {
	now, planned := w.lately().wanted, a.rest.wanted
	planned[a.screw] = now[a.screw]
	return w.link.SpreadLeft(&now, 0) > w.link.SpreadLeft(&planned, 0)+linkage.MuchGrowth
}

// left is how far the screw in hand is from where it is to stand, kPa.
func (a *advisor) left(at *state) float64 { return at.wanted[a.screw] - a.goal }

// goOn goes on with the screw in hand, or with the next one; now is how the bank stands.
func (a *advisor) goOn(now *state, r *Reading, w *window) advice.Advice {
	s := a.screw
	a.goal = a.goalOf(s, &now.wanted, w)
	passed := a.left(now)*a.left(&a.rest) < 0
	left, far := math.Abs(a.left(now)), max(fineWanted, learned.FineTurns*a.screws[s].Size())
	if !passed && (left > far || left < nearerShare*math.Abs(a.left(&a.rest))) { // a hand that makes it in steps
		a.trims = 0
	}
	off, waits := math.Abs(a.left(now)) > a.leftOver(), w.link.GrowsMuch(s, &now.wanted)
	switch {
	case off && !waits && !a.trimmed(s, &now.wanted, w):
		a.trims++
		return a.nameScrew(s, now, w)
	case (!off || waits) && a.openNuts()>>s&1 == 1:
		a.check.rest = *now
		return a.askNut(s, w)
	}
	adv := a.choose(r, w)
	a.trims = 0
	return adv
}

// trimmed reports whether screw s, whose nut is open, was told a rest often enough: less often where another is far off
// and no more than a sixteenth of a turn is left of it, and not at all where what is left would not be seen to move.
func (a *advisor) trimmed(s int, wanted *perScrew, w *window) bool {
	next, off := a.pick(wanted, &w.link), math.Abs(wanted[s]-a.goalOf(s, wanted, w))
	comes := next >= 0 && next != s && math.Abs(wanted[next]) > max(fineWanted, hairTimes*off)
	hair := off < learned.FineTurns*a.screws[s].Size() && a.trims >= hairTrims
	return a.trims >= mostTrims || comes && (hair || off < min(w.blurred(s), a.aim))
}

// hidden is how far screw s may move, kPa, without that being seen, by how the draws scatter and the idle hunts.
func (w *window) hidden(s int) float64 {
	now := w.lately()
	return max(hiddenSigmas*math.Sqrt(w.wantedVariance(s)), w.moves(s, &now, w.hunts))
}

// blurred is the same by what the idle moves by itself, too.
func (w *window) blurred(s int) float64 { return max(w.hidden(s), hiddenWander*w.wandersBy(s)) }

// hiddenSigmas is how many times its scatter from cycle to cycle a screw must move to be seen to. Derived: moveSigmas
// of the mean of nine cycles, which is a second.
const hiddenSigmas = 2.0

// hiddenWander is what of the limit of an idle's wander hides a movement. Chosen, by trial: with all of it a bank of
// which a cylinder hardly answers, one of 20, was not brought level.
const hiddenWander = 0.8

// A screw of which a hair is left is told a rest hairTrims times where another is off by hairTimes as much. Chosen: a
// hand sets a quick screw no better, and the large error comes first.
const hairTrims, hairTimes = 1, 3.0

// mostTrims is how many times in a row a screw is told a rest before it is left as it is and the largest error is
// looked for anew; one that brought it to nearerShare of its way does not count. Chosen.
const (
	mostTrims   = 4
	nearerShare = 0.8
)

// settle waits until nothing moves, and chooses anew.
func (a *advisor) settle(r *Reading, w *window) advice.Advice {
	if !w.leapsAt(w.next - 1) {
		a.move.Push(w.now(), w.at(w.next - 1).wanted[a.screw], w.wantedVariance(a.screw))
	}
	stop := a.told.Kind == advice.Stop && a.told.Part == advice.SyncScrew && !a.late
	due := a.hand.Lag + a.hand.LagSpread()
	if !a.quiet(w) || stop && w.now()-a.phaseTime < due || a.late && !a.resting(r, w) {
		return a.told
	}
	now := w.atRest()
	s := a.screw
	if !stop {
		if a.halts.moved[a.stray] += a.rest.wanted[a.stray] - now.wanted[a.stray]; a.late && a.toTurnBack {
			return a.goOn(&now, r, w)
		}
		return a.choose(r, w)
	}
	k := &a.screws[s]
	past := -a.left(&now) * sign(a.left(&a.rest))
	k.Passed = k.Passed || math.IsNaN(a.amount) && past > a.leftOver()
	if math.IsNaN(a.amount) && a.told.Why == advice.WhyReached && a.stopPace > learned.SlowPace/4*k.Size() {
		turned := (a.stopX - now.wanted[s]) * sign(a.left(&a.rest)) / k.Size()
		a.hand.Observe(a.stopPace/k.Size(), turned, math.Abs(turned)*math.Sqrt(k.Variance))
	} else if done := a.rest.wanted[s] - now.wanted[s]; math.Abs(done) > k.Size()*a.amount && !a.untold {
		k.ObserveEffect(done, a.amount, learned.SlowSpread) // stopped on the way: no more than that was made
	}
	a.halts.moved[s] += a.rest.wanted[s] - now.wanted[s]
	w.learnColumn(s, &a.rest, &now)
	return a.goOn(&now, r, w)
}

func sign(x float64) float64 { return math.Copysign(1, x) }
