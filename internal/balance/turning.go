package balance

import (
	"math"

	"evendraw/internal/advice"
)

// Constants of turning.
const (
	// settledCycles is how many cycles without a change end a turning.
	settledCycles = 7
	// farTurns is the amount from which only farShare of it is told at first. Chosen: a
	// hand that makes a quarter too much is then level, and what is left goes the same way.
	farTurns = 0.25
	farShare = 0.8
	// leastTurns is the smallest amount that is asked for. Chosen: a lively
	// screw moves 6 kPa a turn, and a sixteenth is what a hand can do.
	leastTurns = 1.0 / 16
	// fineTurns is the amount below which turns are told in sixteenths, above
	// in eighths.
	fineTurns = 0.25
	// mostTurns is the largest amount asked for at once. Chosen: effects are
	// not linear; after a turn there is another look.
	mostTurns = 1.0
	// The least change of what is wanted of a screw that counts as a turn is the largest
	// of leastMove in kPa, moveShare of what was wanted, as the idle's wander moves large
	// differences more, and moveSigmas standard deviations of the mean of the last
	// cycles. Chosen: half of what a sixteenth of a turn does.
	leastMove  = 0.06
	moveShare  = 0.04
	moveSigmas = 6
	// tryMove takes the place of leastMove when a screw is tried. Chosen: an idle that
	// settles moves less.
	tryMove = 0.2
	// strayMove takes its place for a screw that was not named.
	strayMove = 0.5
	// stopSeconds is how long it takes from telling to stop until a hand does, with a
	// glance a second: half a second, and the hand. Chosen.
	stopSeconds = 0.7
	// A hand that turns until told to stop is told to turn slower when level is less
	// than slowerSeconds away at a pace above gentlePace, and faster when it is more
	// than fasterSeconds away. Chosen: at a gentle pace a glance half a second early
	// or late is half the aim; at twice the pace, after a glance, there is time left
	// to slow down.
	gentlePace    = 0.5 // kPa/s
	slowerSeconds = 2.0
	fasterSeconds = 5.0
	fasterLeast   = 1.0 // kPa
	// paceCycles is how many cycles of a movement tell its pace.
	paceCycles = 6
	// tempoCycles is how many cycles a word about the tempo stands at least. Chosen:
	// a glance.
	tempoCycles = 8
	// A hand has paused when the means of the last n cycles and of the n before differ by
	// less than restShare of what the slowest hand would have moved in n cycles. n is
	// restCycles at least and mostRestCycles at most, and as many as it takes for that
	// movement to be restSigmas standard deviations.
	restCycles     = 5
	mostRestCycles = 15
	restShare      = 0.4
	restSigmas     = 4.0
	// slowestPace is that of a hand that was told to turn slower, turns a second,
	// usualHand of one that turns an amount. Chosen.
	slowestPace = slowPace / 2
	usualHand   = 0.3
	// Where the draws scatter, a small amount that was made is looked for in the mean of
	// slowLook cycles, and must be slowSigmas standard deviations of it. Chosen: less than
	// a second, so that a hand at its next glance sees that it was seen.
	slowLook   = 6
	slowSigmas = 3.5
	// reverseSeconds is how long a hand that was told the other way may go on as it
	// did: a glance, a reaction. Chosen.
	reverseSeconds = 4.0
	// noAnswerSeconds is how long nothing may move before it is told that the cylinder
	// may not answer to the screw. Chosen.
	noAnswerSeconds = 20.0
)

// nameScrew tells to turn screw s.
func (a *advisor) nameScrew(s int, x *perScrew, w *window) advice.Advice {
	a.screw, a.wantedAtRest = s, *x
	return a.enter(asking, a.turnAdvice(s, x[s]), w)
}

// aboutScrew returns an advice about synchronising screw s.
func (a *advisor) aboutScrew(s int, kind advice.Kind, why advice.Why) advice.Advice {
	adv := advice.New(kind, advice.SyncScrew, why)
	adv.Screw, adv.ScrewName = s, a.bank.Screws[s].Name
	return adv
}

// turnAdvice returns the advice to turn screw s so that it brings about the wanted
// change.
func (a *advisor) turnAdvice(s int, wanted float64) advice.Advice {
	adv := a.aboutScrew(s, advice.Turn, advice.WhyUnlevel)
	k := &a.screws[s]
	if !k.directionKnown() {
		adv.Why, adv.Direction = advice.WhyTry, advice.Clockwise
		if k.odds*wanted < 0 {
			adv.Direction = advice.Anticlockwise
		}
		a.amount = math.NaN()
		return adv
	}
	adv.Direction, adv.Turns = roundTurns(k.turns(wanted))
	a.amount = adv.Turns
	return adv
}

// roundTurns rounds an amount of turns, clockwise positive, to what a hand is told.
func roundTurns(turns float64) (advice.Direction, float64) {
	amount := math.Abs(turns)
	if amount > farTurns {
		amount = max(farShare*amount, farTurns)
	}
	return advice.WayOf(turns), countable(amount)
}

// countable rounds an amount of turns to what a hand can count.
func countable(turns float64) float64 {
	steps := 8.0
	if turns < fineTurns {
		steps = 16
	}
	return min(max(math.Round(turns*steps)/steps, leastTurns), mostTurns)
}

// nearEnough is how far off a screw is left.
func (a *advisor) nearEnough() float64 { return nearShare * a.aim }

// wantedNow returns what is wanted now: the median of the last few cycles, so that one odd cycle,
// a misfire, moves nothing.
func wantedNow(w *window) (x perScrew) {
	from := max(w.first, w.next-recentCycles)
	var last [recentCycles]float64
	for s := range w.link.screws {
		for k := from; k < w.next; k++ {
			last[k-from] = w.at(k).wanted[s]
		}
		x[s] = median(last[:w.next-from])
	}
	return x
}

// quiet reports whether nothing has changed for settledCycles, all of them in
// the present phase.
func (a *advisor) quiet(w *window) bool {
	return min(w.cycles(), w.next-a.phaseCycle) >= settledCycles+recentCycles
}

// leastChange is the least change of what is wanted of a screw that counts as a turn of it.
func (a *advisor) leastChange(mover int, w *window) float64 {
	least := max(leastMove, moveShare*math.Abs(a.wantedAtRest[a.screw]))
	switch {
	case mover != a.screw:
		least = strayMove
	case a.told.Why == advice.WhyTry:
		least = tryMove
	}
	return max(least, moveSigmas*math.Sqrt(w.wantedVariance(mover)/recentCycles))
}

// mover returns the screw of which what is wanted has changed most since one was named, and by
// how much. Another than the one named must have changed half as much again.
func (a *advisor) mover(now *perScrew) (screw int, moved float64) {
	screw = a.screw
	moved = now[screw] - a.wantedAtRest[screw]
	for s := range a.bank.Screws {
		if d := now[s] - a.wantedAtRest[s]; math.Abs(d) > 1.5*math.Abs(moved) {
			screw, moved = s, d
		}
	}
	return screw, moved
}

// amountShows reports whether a movement towards level shows in the mean of slowLook cycles, where
// an amount was told.
func (a *advisor) amountShows(w *window) bool {
	if math.IsNaN(a.amount) || min(w.next-a.phaseCycle, w.cycles()) < slowLook {
		return false
	}
	s := a.screw
	least := max(leastMove, moveShare*math.Abs(a.wantedAtRest[s]), slowSigmas*math.Sqrt(w.wantedVariance(s)/slowLook))
	return (a.wantedAtRest[s]-w.wanted(w.next-slowLook, w.next)[s])*sign(a.wantedAtRest[s]) > least
}

// ask waits for the named screw to move.
func (a *advisor) ask(r *Reading, w *window) advice.Advice {
	now := wantedNow(w)
	mover, moved := a.mover(&now)
	if least := a.leastChange(mover, w); math.Abs(moved) < least && !a.amountShows(w) {
		if a.quiet(w) && math.Abs(moved) < least/3 { // the idle may drift while nobody turns
			a.wantedAtRest = w.wanted(w.first, w.next)
		}
		if math.Abs(a.wantedAtRest[a.screw]) <= a.nearEnough()/2 { // no need any more
			return a.choose(r, w)
		}
		if w.now()-a.phaseTime > noAnswerSeconds && a.told.Kind == advice.Turn {
			a.told.Why = advice.WhyNoAnswer
		}
		return a.told
	}
	if a.amountShows(w) {
		mover, moved = a.screw, now[a.screw]-a.wantedAtRest[a.screw]
	}
	a.check.turned(mover)
	if mover != a.screw {
		return a.enter(settling, a.aboutScrew(mover, advice.Recheck, advice.WhyOtherScrew), w)
	}
	a.screws[a.screw].observeDirection(a.told.Direction.Sign(), moved < 0)
	a.move.begin(w.now(), now[a.screw], w.wantedVariance(a.screw)/recentCycles)
	a.move.pace = moved / (recentCycles * r.Span.Period)
	a.phase, a.phaseCycle = turning, w.next
	return a.follow(r, w)
}

// follow watches the screw being turned: keep going, slower, faster, stop, or turn back.
func (a *advisor) follow(r *Reading, w *window) advice.Advice {
	s := a.screw
	a.move.push(w.now(), w.at(w.next - 1).wanted[s], w.wantedVariance(s))
	x, way := a.move.x, sign(a.wantedAtRest[s])
	if (x-a.wantedAtRest[s])*way > a.leastChange(s, w) {
		return a.turnBack(w)
	}
	if x*way <= 0 || math.IsNaN(a.amount) && a.move.predict(stopSeconds)*way <= 0 {
		return a.tellStop(advice.WhyReached, w)
	}
	if a.resting(r, w) {
		return a.afterPause(w)
	}
	if !math.IsNaN(a.amount) {
		_, a.told.Turns = roundTurns(x / a.screws[s].size())
		a.told.Why = advice.WhyKeepOn
		return a.told
	}
	a.told.Why = a.tempo(w)
	return a.told
}

// tempo is how a hand that turns until told to stop is to go on.
func (a *advisor) tempo(w *window) advice.Why {
	pace := math.Abs(a.move.pace)
	left := math.Abs(a.move.x) / pace
	if w.next-a.phaseCycle == paceCycles && (a.told.Why == advice.WhyTry || a.told.Why == advice.WhyAway) {
		a.screws[a.screw].observeEffect(pace, slowPace, slowSpread)
	}
	switch {
	case w.next-a.phaseCycle < paceCycles:
		return a.told.Why
	case left < slowerSeconds && pace > gentlePace:
		a.tempoAt = w.next
		return advice.WhySlower
	case w.next-a.tempoAt < tempoCycles:
		return a.told.Why
	case a.told.Why == advice.WhySlower && left < 2*slowerSeconds && pace > gentlePace/2:
		return advice.WhySlower
	case left > fasterSeconds && math.Abs(a.move.x) > fasterLeast:
		a.tempoAt = w.next
		return advice.WhyFaster
	}
	return advice.WhyKeepOn
}

// resting reports whether the hand has paused.
func (a *advisor) resting(r *Reading, w *window) bool {
	s := a.screw
	pace := usualHand
	if math.IsNaN(a.amount) {
		pace = slowestPace
	}
	pace *= a.screws[s].size() * r.Span.Period // kPa a cycle
	n := restCycles
	for n < mostRestCycles && restSigmas*math.Sqrt(2*w.wantedVariance(s)/float64(n)) > pace*float64(n) {
		n++
	}
	if w.next-a.phaseCycle < 2*n {
		return false
	}
	now, then := w.wanted(w.next-n, w.next), w.wanted(w.next-2*n, w.next-n)
	return math.Abs(now[s]-then[s]) < restShare*pace*float64(n)
}

// turnBack tells to turn back: what was known of the screw is wrong, or the hand
// turned the wrong way.
func (a *advisor) turnBack(w *window) advice.Advice {
	adv := a.told
	adv.Kind, adv.Why, adv.Direction, adv.Turns = advice.Reverse, advice.WhyAway, adv.Direction.Opposite(), math.NaN()
	a.amount = math.NaN()
	return a.enter(reversing, adv, w)
}

// reverse waits until the hand has seen that it is to turn back. From its farthest
// the screw then comes back; or it stands still first.
func (a *advisor) reverse(r *Reading, w *window) advice.Advice {
	s := a.screw
	now := wantedNow(w)
	way := sign(a.wantedAtRest[s])
	if now[s]*way > a.wantedAtRest[s]*way {
		a.wantedAtRest = now
	}
	if (a.wantedAtRest[s]-now[s])*way > a.leastChange(s, w) {
		a.screws[s].observeDirection(a.told.Direction.Sign(), way > 0)
		a.move.begin(w.now(), now[s], w.wantedVariance(s)/recentCycles)
		a.phase, a.phaseCycle = turning, w.next
		return a.follow(r, w)
	}
	if a.quiet(w) {
		a.wantedAtRest = w.wanted(w.first, w.next)
		a.phase, a.phaseCycle = asking, w.next
		return a.told
	}
	if a.stillAway(now[s]*way, a.leastChange(s, w), w) {
		a.screws[s].observeDirection(a.told.Direction.Sign(), way < 0)
		return a.turnBack(w)
	}
	return a.told
}

// stillAway reports whether a hand that was told to turn back, and has had the time to see it,
// still moves away from level: it turned the wrong way before, or does now. away is how far off
// level the screw is now, least the change that counts.
func (a *advisor) stillAway(away, least float64, w *window) bool {
	if w.now()-a.phaseTime <= reverseSeconds {
		a.away = away
	}
	return away-a.away > least
}

// tellStop tells to take the hand off, and waits for quiet.
func (a *advisor) tellStop(why advice.Why, w *window) advice.Advice {
	adv := a.told
	adv.Kind, adv.Why, adv.Turns = advice.Stop, why, math.NaN()
	return a.enter(settling, adv, w)
}

// afterPause goes on after a hand that has stopped by itself: it tells what is left, or to stop
// where that is near enough.
func (a *advisor) afterPause(w *window) advice.Advice {
	x := w.wanted(w.next-restCycles, w.next)
	if !math.IsNaN(a.amount) {
		a.screws[a.screw].observeEffect(a.wantedAtRest[a.screw]-x[a.screw], a.amount, toldSpread)
	}
	if math.Abs(x[a.screw]) <= a.nearEnough() {
		return a.tellStop(advice.WhyReached, w)
	}
	return a.nameScrew(a.screw, &x, w)
}

// settle waits until nothing moves, and chooses anew.
func (a *advisor) settle(r *Reading, w *window) advice.Advice {
	if !a.quiet(w) {
		return a.told
	}
	if a.told.Kind == advice.Stop && !math.IsNaN(a.amount) {
		// Stopped on the way: of the amount no more than all was made.
		x := w.wanted(w.first, w.next)
		k := &a.screws[a.screw]
		if done := a.wantedAtRest[a.screw] - x[a.screw]; math.Abs(done) > k.size()*a.amount {
			k.observeEffect(done, a.amount, toldSpread)
		}
	}
	return a.choose(r, w)
}

func sign(x float64) float64 { return math.Copysign(1, x) }
