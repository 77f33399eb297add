package balance

import (
	"math"

	"evendraw/internal/advice"
)

// trail is what one screw was told in a row to be turned one way, each time with no answer that was seen, as where a
// lumpy idle has the speed move before the hand is done: how the bank stood before the first of it, and the turns that
// the hand may have made since.
type trail struct {
	screw  int // counted from 1; 0 is none
	way    advice.Direction
	from   state
	cycles int // that from was read over
	turns  float64
	at     float64 // when the last of it was told
}

// follow takes what is told of screw s now, where the bank stands so.
func (t *trail) follow(s int, adv *advice.Advice, now *state, w *window) {
	switch {
	case adv.Direction == advice.UnknownWay || math.IsNaN(adv.Turns):
		*t = trail{}
	case t.screw == s+1 && t.way == adv.Direction:
		t.turns, t.at = t.turns+adv.Turns, w.now()
	default:
		*t = trail{screw: s + 1, way: adv.Direction, from: *now, cycles: w.cycles(), turns: adv.Turns, at: w.now()}
	}
}

// countTrail goes on where the tries of the screw in hand, none of which was seen to move it, have moved it together.
func (a *advisor) countTrail(r *Reading, w *window) (adv advice.Advice, made bool) {
	t, s := &a.trail, a.screw
	if t.screw != s+1 {
		return adv, false
	}
	now := w.atRest()
	for c := range w.n { // see readUnlike; another's would not fit the screw
		if (now.known^t.from.known)>>c&1 == 1 && (w.n == 2 || a.bank.Moves(s, c+1)) {
			return adv, false
		}
	}
	moved, misfit := w.link.Moved(s, &t.from.scaled, &now.scaled)
	ratio := func(a, b float64) float64 { return math.Abs(math.Log(max(a, 1) / max(b, 1))) }
	swing := max(ratio(now.rpm, t.from.rpm), ratio(now.mean, t.from.mean))
	noise := math.Sqrt(w.wantedVariance(s) * (1/float64(w.cycles()) + 1/float64(t.cycles)))
	least := max(tryMove, restShowSigmas*noise, w.wandersBy(s), w.moves(s, &t.from, swing))
	if misfit > ownMisfit || math.Abs(moved) < least {
		return adv, false
	}
	a.rest, a.amount, a.way, a.rested, a.cut = t.from, t.turns, t.way, w.cycles(), false
	a.goal = a.goalOf(s, &a.rest.wanted, w)
	return a.takeMade(r, w), true
}

// trailEnds tells that nothing has answered, where so much was told in a row that it must have.
func (a *advisor) trailEnds(s int, w *window) (adv advice.Advice, ends bool) {
	t := &a.trail
	if t.screw != s+1 || s != a.screw || t.turns < halfTurn {
		return adv, false
	}
	a.silent, a.wordTime = 0, t.at
	a.enter(unanswered, a.told, w)
	return a.stillUnanswered(w), true
}
