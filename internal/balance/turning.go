package balance

import (
	"math"

	"evendraw/internal/advice"
)

// Constants of turning.
const (
	// settledCycles is how many cycles without a change end a turning.
	settledCycles = 7
	// farTurns is the amount from which less than all is told at first, and
	// farShare how much of it. Chosen: a hand that makes a quarter too much then
	// is level, and what is left goes the same way.
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
	// leastMove is the change, in kPa of a screw's own measure, that counts
	// as a turn; moveShare the same as a share of what is wanted, as the idle's
	// wander moves large differences more; and moveSigmas in standard deviations
	// of the mean of the last cycles. Chosen: half of what a sixteenth of a turn
	// does.
	leastMove  = 0.06
	moveShare  = 0.04
	moveSigmas = 6
	// tryMove is the least change that counts when a screw is tried. Chosen: an
	// idle that settles moves less.
	tryMove = 0.2
	// strayMove is the least change of another screw's measure that counts as
	// the wrong screw.
	strayMove = 0.5
	// stopSeconds is how long it takes from telling to stop until a hand does:
	// half of a glance a second, and the hand. Chosen.
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
	// A hand has paused when the halves of the last cycles stand less than restShare
	// of what the slowest hand would have moved apart. The halves are restCycles at
	// least and mostRestCycles at most, and as long as it takes for that to be
	// restSigmas standard deviations.
	restCycles     = 5
	mostRestCycles = 15
	restShare      = 0.4
	restSigmas     = 4.0
	// slowestPace is that of a hand that was told to turn slower, turns a second,
	// usualHand of one that turns an amount. Chosen.
	slowestPace = slowPace / 2
	usualHand   = 0.3
	// slowLook is over how many cycles a small amount that was made shows where the
	// draws scatter, and slowSigmas in how many standard deviations of their mean.
	// Chosen: less than a second, so that a hand at its next glance sees that it was seen.
	slowLook   = 6
	slowSigmas = 3.5
	// reverseSeconds is how long a hand that was told the other way may go on as it
	// did: a glance, a reaction. Chosen.
	reverseSeconds = 4.0
	// noAnswerSeconds is after how long of nothing moving the screw may be one that
	// its cylinder does not answer to. Chosen.
	noAnswerSeconds = 20.0
)

// name tells to turn screw s.
func (a *advisor) name(s int, x *perScrew, w *window) advice.Advice {
	a.screw, a.start = s, *x
	return a.enter(asking, a.ordered(s, x[s]), w)
}

// aboutScrew returns an advice about synchronising screw s.
func (a *advisor) aboutScrew(s int, kind advice.Kind, why advice.Why) advice.Advice {
	adv := advice.New(kind, advice.SyncScrew, why)
	adv.Screw, adv.ScrewName = s, a.bank.Screws[s].Name
	return adv
}

// ordered returns the advice to turn screw s so that it brings about the wanted
// change.
func (a *advisor) ordered(s int, wanted float64) advice.Advice {
	adv := a.aboutScrew(s, advice.Turn, advice.WhyUnlevel)
	k := &a.screws[s]
	if !k.known() {
		adv.Why, adv.Direction = advice.WhyTry, advice.Clockwise
		if k.odds*wanted < 0 {
			adv.Direction = advice.Anticlockwise
		}
		a.amount = math.NaN()
		return adv
	}
	adv.Direction, adv.Turns = told(k.turns(wanted))
	a.amount = adv.Turns
	return adv
}

// told rounds an amount of turns, clockwise positive, to what a hand is told.
func told(turns float64) (advice.Direction, float64) {
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

// near is how far off a screw is left.
func (a *advisor) near() float64 { return nearShare * a.aim }

// recently returns what is wanted now: the middle of the last few cycles, so that
// one odd cycle, a misfire, moves nothing.
func recently(w *window) (x perScrew) {
	from := max(w.first, w.next-recent)
	var last [recent]float64
	for s := range w.link.screws {
		for k := from; k < w.next; k++ {
			last[k-from] = w.at(k).wanted[s]
		}
		x[s] = middle(last[:w.next-from])
	}
	return x
}

// quiet reports whether nothing has changed for settledCycles, all of them in
// the present phase.
func (a *advisor) quiet(w *window) bool {
	return min(w.cycles(), w.next-a.since) >= settledCycles+recent
}

// leastOf is the least change of a screw's measure that counts as a turn.
func (a *advisor) leastOf(mover int, w *window) float64 {
	least := max(leastMove, moveShare*math.Abs(a.start[a.screw]))
	switch {
	case mover != a.screw:
		least = strayMove
	case a.told.Why == advice.WhyTry:
		least = tryMove
	}
	return max(least, moveSigmas*math.Sqrt(w.noise(mover)/recent))
}

// mover returns the screw whose measure has changed most since one was named,
// and by how much.
func (a *advisor) mover(now *perScrew) (screw int, moved float64) {
	screw = a.screw
	moved = now[screw] - a.start[screw]
	for s := range a.bank.Screws {
		if d := now[s] - a.start[s]; math.Abs(d) > 1.5*math.Abs(moved) {
			screw, moved = s, d
		}
	}
	return screw, moved
}

// made reports whether the amount that was told shows, towards level, in the mean of
// more cycles than tell of a movement else.
func (a *advisor) made(w *window) bool {
	if math.IsNaN(a.amount) || min(w.next-a.since, w.cycles()) < slowLook {
		return false
	}
	s := a.screw
	least := max(leastMove, moveShare*math.Abs(a.start[s]), slowSigmas*math.Sqrt(w.noise(s)/slowLook))
	return (a.start[s]-w.wanted(w.next-slowLook, w.next)[s])*sign(a.start[s]) > least
}

// ask waits for the named screw to move.
func (a *advisor) ask(r *Reading, w *window) advice.Advice {
	now := recently(w)
	mover, moved := a.mover(&now)
	if least := a.leastOf(mover, w); math.Abs(moved) < least && !a.made(w) {
		if a.quiet(w) && math.Abs(moved) < least/3 { // the idle may drift while nobody turns
			a.start = w.wanted(w.first, w.next)
		}
		if math.Abs(a.start[a.screw]) <= a.near()/2 { // no need any more
			return a.choose(r, w)
		}
		if w.now()-a.from > noAnswerSeconds && a.told.Kind == advice.Turn {
			a.told.Why = advice.WhyNoAnswer
		}
		return a.told
	}
	if a.made(w) {
		mover, moved = a.screw, now[a.screw]-a.start[a.screw]
	}
	a.check.turned(mover)
	if mover != a.screw {
		return a.enter(settling, a.aboutScrew(mover, advice.Recheck, advice.WhyOtherScrew), w)
	}
	a.screws[a.screw].went(a.told.Direction.Sign(), moved < 0)
	a.move.begin(w.now(), now[a.screw], w.noise(a.screw)/recent)
	a.move.pace = moved / (recent * r.Span.Period)
	a.phase, a.since = turning, w.next
	return a.follow(r, w)
}

// follow watches the screw being turned: keep going, slower, stop, or the other
// way.
func (a *advisor) follow(r *Reading, w *window) advice.Advice {
	s := a.screw
	a.move.push(w.now(), w.at(w.next - 1).wanted[s], w.noise(s))
	x, way := a.move.x, sign(a.start[s])
	if (x-a.start[s])*way > a.leastOf(s, w) {
		return a.otherWay(w)
	}
	if x*way <= 0 || math.IsNaN(a.amount) && a.move.after(stopSeconds)*way <= 0 {
		return a.hold(advice.WhyReached, w)
	}
	if a.resting(r, w) {
		return a.paused(r, w)
	}
	if !math.IsNaN(a.amount) {
		_, a.told.Turns = told(x / a.screws[s].size())
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
	if w.next-a.since == paceCycles && (a.told.Why == advice.WhyTry || a.told.Why == advice.WhyAway) {
		a.screws[a.screw].did(pace, slowPace, slowSpread)
	}
	switch {
	case w.next-a.since < paceCycles:
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
	for n < mostRestCycles && restSigmas*math.Sqrt(2*w.noise(s)/float64(n)) > pace*float64(n) {
		n++
	}
	if w.next-a.since < 2*n {
		return false
	}
	now, then := w.wanted(w.next-n, w.next), w.wanted(w.next-2*n, w.next-n)
	return math.Abs(now[s]-then[s]) < restShare*pace*float64(n)
}

// otherWay tells to turn back: what was known of the screw is wrong, or the hand
// turned the wrong way.
func (a *advisor) otherWay(w *window) advice.Advice {
	adv := a.told
	adv.Kind, adv.Why, adv.Direction, adv.Turns = advice.Reverse, advice.WhyAway, adv.Direction.Opposite(), math.NaN()
	a.amount = math.NaN()
	return a.enter(reversing, adv, w)
}

// reverse waits until the hand has seen that it is to turn back. From its farthest
// the screw then comes back; or it stands still first.
func (a *advisor) reverse(r *Reading, w *window) advice.Advice {
	s := a.screw
	now := recently(w)
	way := sign(a.start[s])
	if now[s]*way > a.start[s]*way {
		a.start = now
	}
	if (a.start[s]-now[s])*way > a.leastOf(s, w) {
		a.screws[s].went(a.told.Direction.Sign(), way > 0)
		a.move.begin(w.now(), now[s], w.noise(s)/recent)
		a.phase, a.since = turning, w.next
		return a.follow(r, w)
	}
	if a.quiet(w) {
		a.start = w.wanted(w.first, w.next)
		a.phase, a.since = asking, w.next
		return a.told
	}
	if a.stillAway(now[s]*way, a.leastOf(s, w), w) {
		a.screws[s].went(a.told.Direction.Sign(), way < 0)
		return a.otherWay(w)
	}
	return a.told
}

// stillAway reports whether a hand that was told the other way, and has had the time to
// see it, goes on away from level: it had turned the wrong way before, or does now. away
// is how far off level the screw is, least what counts.
func (a *advisor) stillAway(away, least float64, w *window) bool {
	if w.now()-a.from <= reverseSeconds {
		a.away = away
	}
	return away-a.away > least
}

// hold tells to take the hand off, and waits for quiet.
func (a *advisor) hold(why advice.Why, w *window) advice.Advice {
	adv := a.told
	adv.Kind, adv.Why, adv.Turns = advice.Stop, why, math.NaN()
	return a.enter(settling, adv, w)
}

// paused goes on after a hand that has stopped by itself: near enough is enough,
// else what is left is told.
func (a *advisor) paused(r *Reading, w *window) advice.Advice {
	x := w.wanted(w.next-restCycles, w.next)
	if !math.IsNaN(a.amount) {
		a.screws[a.screw].did(a.start[a.screw]-x[a.screw], a.amount, toldSpread)
	}
	if math.Abs(x[a.screw]) <= a.near() {
		return a.hold(advice.WhyReached, w)
	}
	return a.name(a.screw, &x, w)
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
		if done := a.start[a.screw] - x[a.screw]; math.Abs(done) > k.size()*a.amount {
			k.did(done, a.amount, toldSpread)
		}
	}
	return a.choose(r, w)
}

func sign(x float64) float64 { return math.Copysign(1, x) }
