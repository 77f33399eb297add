package balance

import (
	"math"
	"slices"

	"evendraw/internal/advice"
)

// Limits from which a levelling is stopped, and the reason told, until it is put aside. All chosen.
const (
	// farTurns is the net number of turns of one screw. A sound bank that was put back as it was found
	// needs less.
	farTurns = 1.0
	// idleFall is the share of the idle by which it may fall while screws are turned.
	idleFall = 0.2
	// idleBack is the share of it that is enough once it has been raised again.
	idleBack = 0.9
	// halfTurn is how far a screw may be turned without an answer.
	halfTurn = 0.5
	// reachMargin is how many times the usual time to reach a screw a hand may take.
	reachMargin = 2.0
	// againSeconds is for how long it is then told to stop, before the turn is told anew.
	againSeconds = 8.0
)

// halts know how far the screws were turned and the idle has fallen.
type halts struct {
	turned perScrew // net turns made, as seen, clockwise positive
	aside  perScrew // those that were put aside
	idle   float64  // the speed that the idle is held against, rpm; 0 before the first screw was named
	told   advice.Why
	screw  int
	fallen bool // told once
}

// Halts are the reasons for which a levelling was stopped.
type Halts struct {
	// Far are the screws, as bits by index, that were turned too far.
	Far uint
	// IdleFell is set when the idle fell too far.
	IdleFell bool
}

// Turned returns the net turns that were made of each screw, as seen, clockwise positive.
func (b *Balance) Turned() []float64 {
	return slices.Clone(b.advisor.halts.turned[:len(b.cfg.Bank.Screws)])
}

// halted returns what the levelling was stopped for so far.
func (b *Balance) halted() Halts {
	h := Halts{IdleFell: b.advisor.halts.fallen}
	for s := range b.cfg.Bank.Screws {
		if math.Abs(b.advisor.halts.aside[s]) > 0 || b.advisor.halts.far(s) {
			h.Far |= 1 << s
		}
	}
	return h
}

// far reports whether screw s has been turned too far since that was last put aside.
func (h *halts) far(s int) bool { return math.Abs(h.turned[s]-h.aside[s]) > farTurns }

// made notes the end of a movement of screw s that changed its draw by so much, kPa; amount is what was
// told, NaN until told to stop, and seconds how long it took.
func (a *advisor) made(s int, change, amount, seconds float64) {
	k := &a.screws[s]
	if k.odds == 0 || change == 0 {
		return
	}
	turns := math.Abs(change) / k.size()
	switch {
	case turns > pausedShare*amount: // the hand stopped by itself
		turns = amount
	case math.IsNaN(amount) && k.variance > knownVariance:
		turns = a.hand.pace * seconds
	}
	a.halts.turned[s] += turns * sign(change) * sign(k.odds)
}

// halted returns the advice that stops the levelling before screw s is turned on, -1 for none in particular.
func (a *advisor) halted(s int, w *window) (adv advice.Advice, stop bool) {
	h := &a.halts
	if h.idle == 0 {
		h.idle = w.rpm
	}
	limit := 1 - idleFall
	if h.told == advice.WhyIdleFell {
		limit = idleBack
	}
	switch {
	case w.rpm < limit*h.idle:
		h.told, h.fallen = advice.WhyIdleFell, true
		adv = advice.New(advice.Fault, advice.NoPart, h.told)
	case s >= 0 && h.far(s):
		h.told, h.screw = advice.WhyFar, s
		adv = a.aboutScrew(s, advice.Fault, h.told)
		adv.Direction, adv.Turns = advice.WayOf(h.turned[s]), math.Abs(h.turned[s])
	default:
		h.told = ""
		return adv, false
	}
	a.named = false
	return a.enter(choosing, adv, w), true
}

// tooFar reports whether a hand that turns until told to stop has turned too far, or slowed the idle so.
func (a *advisor) tooFar(w *window) bool {
	h, s := &a.halts, a.screw
	k := &a.screws[s]
	change := a.rest.wanted[s] - a.move.x
	net := h.turned[s] - h.aside[s] + change/k.size()*sign(k.odds)
	return math.Abs(net) > farTurns+halfTurn || w.lastRPM < (1-idleFall)*h.idle && w.rpm < (1-idleFall/2)*h.idle
}

// putAside goes on past what the levelling was stopped for.
func (h *halts) putAside(rpm float64) {
	switch h.told {
	case advice.WhyIdleFell:
		h.idle = rpm
	case advice.WhyFar:
		h.aside[h.screw] = h.turned[h.screw]
	}
	h.told = ""
}

// unanswered stops a hand that has turned for so long without an answer that it has made half a turn; after
// againSeconds the turn is told anew.
func (a *advisor) unanswered(w *window) advice.Advice {
	due := halfTurn/min(a.hand.pace, turnPace) + a.hand.reachTime()
	if a.anew {
		due += (reachMargin - 1) * a.hand.reachTime()
	}
	if math.Mod(w.now()-a.phaseTime, due+againSeconds) < due || a.told.Kind == advice.Stop {
		return a.told
	}
	adv := a.told
	adv.Kind, adv.Why, adv.Turns = advice.Stop, advice.WhyNoAnswer, math.NaN()
	return adv
}
