package balance

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/learned"
)

// tellNoAnswer tells to stop, as nothing has answered. No clock ends that, as the hand may be turning still: a key
// does, a blip, a movement that has come to rest, and a level bank. A first hand, and one with keys, is left to what it
// was told meanwhile; one that begins then is late all the same.
func (a *advisor) tellNoAnswer(w *window) advice.Advice {
	a.silent, a.wordTime = 0, a.phaseTime
	a.enter(unanswered, a.told, w)
	return a.stillUnanswered(w)
}

// stillUnanswered is what is told while nothing has answered.
func (a *advisor) stillUnanswered(w *window) advice.Advice {
	early := a.keys && w.now()-a.wordTime < leastPatience
	if !a.reached && !a.bank.NoLockNuts { // the first
		early = w.now()-a.anewTime < firstPatience
	}
	if told := a.told.Why == advice.WhyNoAnswer; !told && !early {
		if v := &a.vain[a.screw]; !math.IsNaN(a.amount) && !a.trail.said {
			v.times, v.turns = v.times+1, max(v.turns, a.amount)
		}
		a.told.Kind, a.told.Why, a.told.Turns = advice.Stop, advice.WhyNoAnswer, math.NaN()
		a.told.Again, a.told.Answered = a.mute>>a.screw&1 == 1, a.answers
		a.trail.said = true
		if !a.answers {
			a.mute |= 1 << a.screw
		}
	}
	return a.told
}

// inVain is how often in a row nothing has answered to a screw, and the largest amount that was told then, turns.
type inVain struct {
	times int
	turns float64
}

// vains are those of all screws, by index.
type vains [bank.MaxCylinders]inVain

// more returns an amount of screw s, as told, or more than one that has moved nothing twice, firstTurns at most: slack
// that was looked for, and is none that can be mended, is to be turned through, as it is back where it was. By what is
// known of the screw it does no more than a try, as a key may have been pressed and nothing turned.
func (a *advisor) more(s int, turns float64) float64 {
	v := a.vain[s]
	size := a.screws[s].Size()
	if most := learned.Countable(min(2*v.turns, firstTurns, tryEffect/size), size); v.times > 1 && turns < most {
		return most
	}
	return turns
}

// awaitHand waits for a sign of the hand: a screw that moves after all, whichever way it was turned, or a bank that has
// come to rest level.
func (a *advisor) awaitHand(r *Reading, w *window) advice.Advice {
	mover, moved := a.mover(w)
	switch {
	case mover >= 0:
	case a.quiet(w) && a.withinAim(r, w):
		a.named = false
		return a.choose(r, w)
	default:
		return a.stillUnanswered(w)
	}
	a.slow = max(a.slow, min(w.now()-a.wordTime, mostSlow))
	return a.handMoves(mover, moved, w)
}

// handMoves has a hand stop that turns a screw, by so many kPa so far, and was told no amount of it for now: what it
// does there is looked at first.
func (a *advisor) handMoves(mover int, moved float64, w *window) advice.Advice {
	a.check.turned(mover)
	a.reached, a.answers, a.mute = true, mover == a.screw, a.mute&^(1<<mover)
	a.vain[mover], a.trail = inVain{}, trail{}
	a.stray, a.amount, a.fastest = mover, math.NaN(), 0
	why := advice.WhyFewCycles
	if away := (moved > 0) == (a.left(&a.rest) < 0); mover == a.screw {
		if a.toTurnBack = away; away {
			why = advice.WhyAway
		}
		if a.way != advice.UnknownWay {
			a.screws[mover].Doubt(a.way.Sign(), moved > 0, !away)
		}
	}
	adv := a.enter(settling, a.aboutScrew(mover, advice.Stop, why), w)
	a.late = true // until the next word
	return adv
}
