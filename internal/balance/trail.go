package balance

import (
	"math"

	"evendraw/internal/advice"
)

// trail is what one screw was told in a row to be turned one way, each time with no answer that was seen, as where a
// lumpy idle has the speed move before the hand is done: how the bank stood before the first of it that was read as now
// (see alike), and the turns that the hand may have made since.
type trail struct {
	screw  int // counted from 1; 0 is none
	way    advice.Direction
	from   state
	cycles int // that from was read over
	turns  float64
	told   float64 // turns, all in all
	last   advice.Advice
	at     float64 // when that was told
	said   bool    // that nothing has answered
}

// followTrail takes what is told of screw s now, where the bank stands so.
func (a *advisor) followTrail(s int, adv *advice.Advice, now *state, w *window) {
	t := &a.trail
	if adv.Direction == advice.UnknownWay || math.IsNaN(adv.Turns) {
		*t = trail{}
		return
	}
	if t.screw != s+1 || t.way != adv.Direction {
		*t = trail{screw: s + 1, way: adv.Direction, from: *now, cycles: w.cycles()}
	}
	if !a.alike(s, now, w) {
		t.from, t.cycles, t.turns = *now, w.cycles(), 0
	}
	t.tell(adv, w)
}

// tell takes an amount that is told now.
func (t *trail) tell(adv *advice.Advice, w *window) {
	t.turns, t.told, t.last, t.at = t.turns+adv.Turns, t.told+adv.Turns, *adv, w.now()
}

// alike reports whether the bank was read as it is now before the first of it, as far as screw s is concerned: see
// readUnlike; of another cylinder it would not fit the screw.
func (a *advisor) alike(s int, now *state, w *window) bool {
	for c := range w.n {
		if (now.known^a.trail.from.known)>>c&1 == 1 && (w.n == 2 || a.bank.Moves(s, c+1)) {
			return false
		}
	}
	return true
}

// countTrail goes on where the tries of the screw in hand, none of which was seen to move it, have moved it together.
func (a *advisor) countTrail(r *Reading, w *window) (adv advice.Advice, made bool) {
	t, s := &a.trail, a.screw
	if t.screw != s+1 {
		return adv, false
	}
	now := w.atRest()
	if !a.alike(s, &now, w) {
		return adv, false
	}
	moved, misfit := w.link.Moved(s, &t.from.scaled, &now.scaled)
	swing := swung(&now, &t.from)
	noise := math.Sqrt(w.wantedVariance(s) * (1/float64(w.cycles()) + 1/float64(t.cycles)))
	least := max(tryMove, restShowSigmas*noise, w.wandersBy(s), w.moves(s, &t.from, swing))
	if misfit > ownMisfit || math.Abs(moved) < least {
		return adv, false
	}
	a.rest, a.amount, a.way, a.rested, a.cut = t.from, t.turns, t.way, w.cycles(), false
	a.goal = a.goalOf(s, &a.rest.wanted, w)
	return a.takeMade(r, w), true
}

// swayPart is which part of speedPart holds where the speed and the mean draw have risen together, or fallen: no
// throttle was opened then, which lets the draw fall. Derived: draws that all go along with the speed stand apart by
// the same kPa, and so by as much less as a share of their mean; half as much again is allowed for.
const swayPart = 1.5 / speedPart

// swung is by which share the speed has changed, or the mean draw, as moves takes it.
func swung(now, from *state) float64 {
	ratio := func(a, b float64) float64 { return math.Log(max(a, 1) / max(b, 1)) }
	rpm, mean := ratio(now.rpm, from.rpm), ratio(now.mean, from.mean)
	most := max(math.Abs(rpm), math.Abs(mean))
	if rpm*mean > 0 {
		most *= swayPart
	}
	return most
}

// trailEnds tells that nothing has answered, where so much was told in a row that it must have.
func (a *advisor) trailEnds(s int, w *window) (adv advice.Advice, ends bool) {
	t := &a.trail
	if t.screw != s+1 || s != a.screw || t.told < halfTurn {
		return adv, false
	}
	a.silent, a.wordTime = 0, t.at
	a.enter(unanswered, t.last, w)
	return a.stillUnanswered(w), true
}
