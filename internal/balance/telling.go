package balance

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/learned"
)

// Constants of what is told about a screw.
const (
	// A first try does tryShare of what is wanted by what is known of the screw, leastTry to tryEffect
	// kPa, and is mostTry turns at most. Chosen.
	tryShare            = 0.7
	leastTry, tryEffect = 0.4, 1.5
	mostTry             = 1.0 / 8
	// tryAgain is a try after one of mostTry that has shown nothing, turns. Chosen.
	tryAgain = 3.0 / 16
	// firstTurns is an amount for a hand that has a lock nut to loosen first: when it begins is not known, and one that
	// turns until told to stop can't be left to turn for long with no answer. Chosen.
	firstTurns = 3.0 / 8
	// roomTurns is the least way from level at which a hand is told to turn until told to stop,
	// beside its overrun. Chosen: half a second of turning that can be seen.
	roomTurns = 0.12
	leftShare = 0.5
	// stopBetter is how many times more uncertain than a word to stop an amount must be for a hand to
	// be told to turn until told to stop. Chosen: it waits for a reaction each time.
	stopBetter = 3.0
	// mostStopDoubt of the aim is the most doubt of a word to stop with which a hand is told so. Chosen, by trial: with
	// 1.3, and no doubt of the screw's effect in it, a slow and hasty hand at quick screws heard seven times as many
	// stops, and no bank was level sooner.
	mostStopDoubt = 0.9
	// effectSigmas is by how many standard deviations a screw may do more than is known of it then. Measured: with 1,
	// and the mean pace of the hand, 13 of 30 stops of a slow and hasty hand at quick screws were followed by the other
	// way.
	effectSigmas = 2.0
	// stopSigmas is by how many standard deviations of its overrun a hand is told to stop early. Chosen, by trial:
	// with 1.8 one stop in seven was followed by the other way.
	stopSigmas = 3.0
)

// turnAdvice returns the advice to turn screw s so that it brings about the wanted change. A hand that
// may need long to begin, or has turned in vain, is told firstTurns for "until told to stop".
func (a *advisor) turnAdvice(s int, wanted float64) advice.Advice {
	adv := a.aboutScrew(s, advice.Turn, advice.WhyUnlevel)
	k := &a.screws[s]
	if !k.DirectionKnown() {
		adv.Why, adv.Direction = advice.WhyTry, advice.Clockwise
		if k.Odds*wanted < 0 || k.Odds == 0 && a.vain[s].times%2 == 1 { // what may have been made unseen is undone
			adv.Direction = advice.Anticlockwise
		}
		does := min(max(tryShare*math.Abs(wanted), leastTry), tryEffect)
		adv.Turns = learned.Countable(min(does/k.Size(), mostTry), k.Size())
		return adv
	}
	turns := k.Turns(wanted)
	adv.Direction = advice.WayOf(turns)
	over, sd := a.hand.Overrun(a.hand.Pace)
	spread := k.AmountSpread()
	far := math.Abs(wanted) / k.Size()
	if far > over+sd+roomTurns && far*spread > stopBetter*sd && !k.Passed && !k.SeenOnce() && a.stopsNear(k) {
		if a.slow > 0 || a.tight(s) || a.silent > 0 {
			adv.Turns = firstTurns
		}
		return adv // until told to stop
	}
	amount := k.Surely(math.Abs(turns), wanted, a.nearEnough())
	if !k.WaySeen || k.SeenOnce() { // it may be the wrong way
		amount = min(amount, firstTurns)
	}
	adv.Turns = learned.Countable(amount, k.Size())
	return adv
}

// turnBack tells a hand that is at a screw whose direction is torn to turn it back, or on, which the hand alone knows:
// all of what it turned last where that has led away, else by an amount.
func (a *advisor) turnBack(s int, wanted float64) (adv advice.Advice, amount float64) {
	k := &a.screws[s]
	adv = a.aboutScrew(s, advice.Turn, advice.WhySameWay)
	if a.moved*wanted < 0 {
		adv.Kind, adv.Why = advice.Reverse, advice.WhyTurnBack
		if math.Abs(a.moved) <= math.Abs(wanted) {
			return adv, math.Abs(a.moved) / k.Size()
		}
	}
	adv.Turns = k.Onwards(wanted, a.nearEnough())
	if adv.Kind == advice.Reverse {
		adv.Turns = learned.Countable(adv.Turns+k.Play, k.Size())
	} else {
		sure := mostTry // the most that a hand is told to go on in a direction that is not known
		if a.was.Torn && !a.untold {
			sure = max(2*a.amount, mostTry) // what has helped, as told
		}
		adv.Turns = min(adv.Turns, sure)
	}
	return adv, adv.Turns
}

// tight reports whether the lock nut of screw s is to be loosened before it is turned.
func (a *advisor) tight(s int) bool { return !a.bank.NoLockNuts && a.openNuts()>>s&1 == 0 }

// stopsNear reports whether a hand that turns a screw until told to stop comes to rest near level. It may be as
// quick as it was seen to be at most, else twice as quick as it is told to be, and a screw do more than is known of it.
func (a *advisor) stopsNear(k *learned.Screw) bool {
	pace := 2 * a.hand.Pace
	if a.hand.Quickest > 0 {
		pace = max(a.hand.Pace, a.hand.Quickest)
	}
	_, sd := a.hand.Overrun(pace)
	return sd*k.Size()*math.Exp(effectSigmas*math.Sqrt(k.Variance)) <= mostStopDoubt*a.aim
}

// tempo is how a hand that turns until told to stop is to go on.
func (a *advisor) tempo(w *window) advice.Why {
	pace := math.Abs(a.move.Pace)
	why := advice.WhyKeepOn
	if a.tooQuick(pace) {
		why = advice.WhySlower
	}
	switch {
	case w.next-a.phaseCycle < paceCycles || w.now()-a.tempoTime < tempoSeconds || why == a.told.Why,
		a.untilStop(pace) < sayableSeconds:
		return a.told.Why
	}
	a.tempoTime, a.steady = w.now(), 0
	return why
}

// tooQuick reports whether a hand at that pace, kPa a second, is too quick for its screw to stop near level.
func (a *advisor) tooQuick(pace float64) bool {
	size := a.screws[a.screw].Size()
	_, sd := a.hand.Overrun(pace / size)
	return sd*size > a.aim && pace/size > learned.SlowPace/2
}

// nearEnough is how far off a screw is left.
func (a *advisor) nearEnough() float64 { return nearShare * a.aim }

// leftOver is how far off the screw in hand may stand for another to be named. Chosen: what is left
// of all is looked at before the bank is called level.
func (a *advisor) leftOver() float64 { return leftShare * a.aim }

// aboutScrew returns an advice about synchronising screw s.
func (a *advisor) aboutScrew(s int, kind advice.Kind, why advice.Why) advice.Advice {
	adv := advice.New(kind, advice.SyncScrew, why)
	adv.Screw, adv.ScrewName = s, a.bank.Screws[s].Name
	return adv
}

// nameScrew tells to turn screw s; rest is how the bank stands.
func (a *advisor) nameScrew(s int, rest *state, w *window) advice.Advice {
	if adv, stop := a.halted(s, w); stop {
		return adv
	}
	if adv, stop := a.shutsAgain(s, rest, w); stop {
		return adv
	}
	a.first = false
	tight := a.tight(s)
	if tight && a.tooLate(loosenNeeds) {
		return a.enter(choosing, waitFor(advice.WhyHot), w)
	}
	if s != a.screw && a.anewTime > 0 {
		a.before = a.screw + 1
	}
	k, moved := &a.screws[s], a.rest.wanted[s]-rest.wanted[s]
	fresh := s != a.screw || !a.named
	if a.anew = fresh || a.anew && !a.answers; fresh { // named again, one that has not answered has yet to be reached
		a.silent, a.anewTime, a.nutFirst, a.answers = 0, w.now(), tight, false
	}
	switch {
	case s != a.screw: // the hand doesn't know any more what it turned last
		a.moved, k.Torn = 0, false
	case math.Abs(moved) > leastMove:
		a.moved = moved
	}
	back, slipped := a.toTurnBack, a.slipped
	a.toTurnBack, a.slipped = false, false
	goal := a.goalOf(s, &rest.wanted, w)
	adv := a.turnAdvice(s, rest.wanted[s]-goal)
	adv.Turns = a.more(s, adv.Turns)
	amount, torn := adv.Turns, k.Torn && a.moved != 0
	if torn {
		named := adv
		adv, amount = a.turnBack(s, rest.wanted[s]-goal)
		// Once turning back has helped, the way is named that the card and all movements together tell.
		card := a.bank.Screws[s].EffectKPaPerTurn * k.Odds
		if torn = adv.Why != advice.WhySameWay || !k.DirectionKnown() || card <= 0; !torn {
			adv, adv.Turns = named, amount
		}
	}
	adv.Last = w.link.ComesLast(s, &rest.wanted, goal)
	worse := math.Abs(rest.wanted[s]-goal) > math.Abs(a.left(&a.rest))
	if back && worse && s == a.screw && !torn && (adv.Direction != a.way || slipped) {
		adv.Kind, adv.Why = advice.Reverse, advice.WhyAway
	}
	a.followTrail(s, &adv, rest, w)
	a.undoes = adv.Why == advice.WhyAway && !slipped && k.SeenOnce()
	if s != a.screw || adv.Direction != a.way {
		k.TakenUp = 0
	}
	a.back = k.LastWay != 0 && k.LastWay != adv.Direction.Sign()
	a.enter(asking, adv, w) // which leaves the screw that was named before
	a.screw, a.goal, a.rest, a.amount, a.way, a.named = s, goal, *rest, amount, adv.Direction, true
	a.askedOf, a.strayed, a.running, a.untold = rest.wanted[s], 0, false, torn && math.IsNaN(adv.Turns)
	return adv
}

// goalOf returns what may be left wanted of screw s: where it stands in the middle of those that stay as they are.
func (a *advisor) goalOf(s int, wanted *perScrew, w *window) float64 {
	set, _ := w.link.FewestScrews(wanted, planShare*a.aim, ^uint(0))
	return w.link.Middle(s, wanted, set, planShare*a.aim)
}
