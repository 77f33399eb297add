package balance

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/learned"
	"evendraw/internal/pressure"
)

// Limits from which a levelling is stopped, and the reason told, until it is put aside. All chosen.
const (
	// farTurns is the net number of turns of one screw, made for sure. A bank that was put back as it was found needs
	// less; of the practice engine's, whose screws are set at random, one in 14 needs more, up to 2.75 (measured).
	farTurns = 2.0
	// idleFall is the share of the idle by which it may fall while screws are turned.
	idleFall = 0.2
	// idleBack is the share of it that is enough once it has been raised again.
	idleBack = 0.9
	// halfTurn is how far a screw may be turned without an answer.
	halfTurn = 0.5
	// reachMargin is how many times the usual time to reach a screw a hand may take.
	reachMargin = 2.0
	// loosenSeconds is how long it may take to loosen a lock nut, a spanner to be found for it.
	loosenSeconds = 8.0
	// leastPatience is how long a hand that has a nut to loosen, or is slow, or any that has keys, is given at least
	// before it is told that nothing has answered. Chosen: a spanner is found and put on, and the screwdriver after it.
	leastPatience = 15.0
	// firstPatience is from when that is told where no screw has answered yet: the first lock nut is looked for, under
	// a tank. Chosen: a minute.
	firstPatience = 60.0
	// mostSlow is the longest that a hand is taken to need, s. Chosen: one that takes longer was away.
	mostSlow = 30.0
)

// halts know how far the screws were turned and the idle has fallen.
type halts struct {
	moved    perScrew                           // net change of draw by each screw, kPa
	reckoned [bank.MaxCylinders]learned.Amounts // how many turns that is
	aside    perScrew                           // what of moved, since from, was put aside as far
	from     perScrew                           // moved when the screw may have been turned unseen; see watchStand
	unseen   uint                               // the screws that may have been, as bits
	stand    state                              // how the bank stood when it could be read last
	stood    bool                               // the engine has stood since, or nothing was read
	idle     float64                            // the speed that it is held against, rpm; 0 before a screw was named
	fellFrom float64                            // that from which it was told to have fallen
	looked   bool                               // the engine has stood while something was told
	told     advice.Why
	screw    int
	far      float64 // what of moved, since from, it was told for
	soFar    Halts
}

// Halts are the reasons for which a levelling was stopped.
type Halts struct {
	// Far are the screws, as bits by index, that were turned too far.
	Far uint
	// IdleFell is set when the idle fell too far.
	IdleFell bool
	// LowDraw is set while the engine draws very little for an idle: does every cylinder fire? Nothing is stopped for
	// that; a bank that reads level is in doubt.
	LowDraw bool
	// FiresSaid is set instead once GoOn has told that they do.
	FiresSaid bool
	// Play is by how much each blip moves the bank, where it is taken as level with that though beyond the aim: play in
	// the linkage, which no screw mends. 0 is none.
	Play pressure.KPa
	// LookedAgain is set where one of the first two was so, and is no more: the engine has stood because of it, and a
	// look at the bank since has found it sound.
	LookedAgain bool
}

// Doubt reports whether something speaks against the bank still.
func (h Halts) Doubt() bool { return h.Far != 0 || h.IdleFell || h.LowDraw || h.Play > 0 }

// Turned returns the net turns that were made of each screw, as seen, clockwise positive; 0 where that is not
// known.
func (b *Balance) Turned() []float64 {
	turned := make([]float64, len(b.cfg.Bank.Screws))
	for s := range turned {
		if turns, known := b.advisor.turned(s); known {
			turned[s] = turns
		}
	}
	return turned
}

// shutMost returns the screw that has raised the draw of a cylinder, from 1, the most, and by how much, kPa; -1 where
// none has.
func (a *advisor) shutMost(cylinder int) (screw int, raised float64) {
	screw = -1
	for s := range a.bank.Screws {
		m := a.halts.seen(s)
		if s == a.screw {
			m += a.underWay()
		}
		if a.bank.Moves(s, cylinder) && m > raised {
			screw, raised = s, m
		}
	}
	return screw, raised
}

// raised returns by how much screws have raised each draw, kPa.
func (a *advisor) raised() (shut perCylinder) {
	for c := range a.bank.Cylinders {
		_, shut[c] = a.shutMost(c + 1)
	}
	return shut
}

// far reports whether screw s has been turned too far since that was last put aside, in so many standard deviations;
// more is what it has moved its cylinders by that is not in halts yet, kPa.
func (a *advisor) far(s int, more, sigmas float64) bool {
	moved, aside := a.halts.seen(s)+more, a.halts.aside[s]
	if moved*aside < 0 {
		aside = 0
	}
	return a.leastTurned(s, max(math.Abs(moved)-math.Abs(aside), 0), sigmas) > farTurns
}

// halted returns the advice that stops the levelling before screw s is turned on, -1 for none in particular.
func (a *advisor) halted(s int, w *window) (adv advice.Advice, stop bool) {
	h := &a.halts
	if h.idle == 0 {
		h.idle = w.rpm
	}
	if a.keys && h.told == advice.WhyFar && s < 0 { // told until it is put aside
		s = h.screw
	}
	if h.told == advice.WhyLeakNext && s < 0 {
		now := w.lately()
		if adv, stop = a.shutsAgain(h.screw, &now, w); stop {
			return adv, stop
		}
	}
	limit := 1 - idleFall
	if h.told == advice.WhyIdleFell {
		limit = idleBack
	}
	switch {
	case w.rpm < limit*h.idle:
		if !h.soFar.IdleFell {
			h.fellFrom = h.idle
		}
		h.told, h.soFar.IdleFell, h.looked = advice.WhyIdleFell, true, false
		adv = advice.New(advice.Fault, advice.NoPart, h.told)
	case s >= 0 && a.far(s, 0, likelySigmas):
		if h.told != advice.WhyFar || h.screw != s {
			h.far = h.seen(s)
		}
		h.told, h.screw = advice.WhyFar, s
		adv = a.tellFar(s)
	default:
		if h.told == advice.WhyFar { // it was turned back
			h.aside[h.screw] = h.far
		}
		if h.told != advice.WhyLeakNext {
			h.told = ""
		}
		return adv, false
	}
	a.named = false
	return a.enter(choosing, adv, w), true
}

// tellFar tells that screw s was turned far: how far where that is known, else it is to be asked.
func (a *advisor) tellFar(s int) advice.Advice {
	adv := a.aboutScrew(s, advice.Fault, advice.WhyFar)
	turns, known := a.turned(s)
	if a.screws[s].Odds != 0 {
		adv.Direction = advice.WayOf(turns)
	}
	if a.far(s, 0, sureSigmas) && !a.halts.turnedUnseen(s) {
		a.halts.soFar.Far |= 1 << s
		if known {
			adv.Turns = math.Abs(turns)
		}
	}
	return adv
}

// seen returns by how much screw s has moved its cylinders since it may have been turned unseen, kPa.
func (h *halts) seen(s int) float64 { return h.moved[s] - h.from[s] }

// turnedUnseen reports whether screw s may have been turned while nothing was seen of it.
func (h *halts) turnedUnseen(s int) bool { return h.stood || h.unseen>>s&1 == 1 }

// watchStand keeps how the bank stands. Where its screws' cylinders stand otherwise once the engine has stood, these
// may have been turned meanwhile: how far in all is not known from then on, and what counts as far begins anew.
func (a *advisor) watchStand(w *window) {
	h := &a.halts
	if w.cycles() < fewestCycles || w.next%fewestCycles != 0 && !h.stood {
		return
	}
	now := w.stateOver(w.next-fewestCycles, w.next)
	if h.stood && h.stand.rpm > 0 {
		if w.readUnlike(&h.stand) > 0 {
			return
		}
		for s := range a.bank.Screws {
			least := max(strayMove, w.disturbance(s, &h.stand, w.next),
				moveSigmas*math.Sqrt(w.wantedVariance(s)/recentCycles))
			if math.Abs(now.wanted[s]-h.stand.wanted[s]) > least {
				h.unseen |= 1 << s
				h.from[s] = h.moved[s]
			}
		}
	}
	h.stand, h.stood = now, false
}

// lookAgain withdraws what the levelling was stopped for where the engine has stood because of it, and the bank, level
// again at that speed, shows it no more: its idle is back, no screw stands far from where it began.
func (a *advisor) lookAgain(rpm float64) {
	h, before := &a.halts, a.halts.soFar
	h.soFar.IdleFell = before.IdleFell && !(h.looked && rpm >= idleBack*h.fellFrom)
	for s := range a.bank.Screws {
		if h.looked && a.leastTurned(s, h.seen(s), likelySigmas) <= farTurns {
			h.soFar.Far &^= 1 << s
		}
	}
	h.soFar.LookedAgain = h.soFar.LookedAgain || h.soFar != before
}

// slowed reports whether the hand in motion has slowed the idle too far.
func (a *advisor) slowed(w *window) bool {
	return w.lastRPM < (1-idleFall)*a.halts.idle && w.rpm < (1-idleFall/2)*a.halts.idle
}

// putAside goes on past what the levelling was stopped for.
func (a *advisor) putAside(rpm float64) {
	h := &a.halts
	switch h.told {
	case advice.WhyIdleFell:
		h.idle = rpm
	case advice.WhyFar:
		h.aside[h.screw] = h.far
	}
	h.told = ""
}

// GoOn puts aside a fault that is being told, and goes on without it being mended: hoses that look exchanged, a
// cylinder that looks ill, a screw that nothing answers to, one that is to be turned back, a level bank's doubt that
// all fire. Where a lock nut is asked for it is tight. A key within saidSeconds of a fault was for the word before.
func (b *Balance) GoOn() {
	switch b.advisor.phase {
	case tightening:
		b.NutTight()
		return
	case astray:
		b.advisor.endAstray(&b.win)
		return
	}
	if b.told.Kind == advice.Fault && b.answered && b.now-b.whyAt < saidSeconds {
		return
	}
	if b.sayFires() {
		return
	}
	b.gate.goOn(&b.order, &b.told)
	if b.gate.faults.Dead() == 0 { // past that no key goes
		b.advisor.blames.goOn(&b.told)
	}
	b.advisor.putAside(b.win.rpm)
	b.advisor.askAnew()
}

// NutTight tells that the lock nut that was asked for last is tight, which may have been seen already; of a bank that
// is told to be level, that all are.
func (b *Balance) NutTight() {
	c := &b.advisor.check
	if b.advisor.phase == tightening {
		b.advisor.sayTight(&b.win)
	} else if c.unsaid &^= 1 << c.nut; b.advisor.phase == finished {
		c.unsaid = 0
	}
}

// AskAnew tells that the advice is shown from now on: the time that a hand has for the named screw begins.
func (b *Balance) AskAnew() {
	a := &b.advisor
	a.askAnew()
	if !a.shown && a.phase == asking && a.told.Again { // nobody has heard of the try before
		a.phase, a.named = choosing, false
	}
	if a.phase == asking {
		a.phaseTime = b.win.now()
		a.anewTime = a.phaseTime
	}
	if !a.shown { // nobody has seen which screws were named before
		a.shown, a.check.screws = true, a.check.screws&a.check.moved
	}
}

// askAnew ends a word to stop that nothing has answered: a screw is named anew.
func (a *advisor) askAnew() {
	a.trail = trail{}
	if a.phase == unanswered {
		a.phase, a.named, a.slow = choosing, false, max(a.slow, loosenSeconds)
	}
}

// loosening is how much longer than to reach its screw a hand may take to begin an amount, as a lock nut is to be
// loosened, or as it is slow.
func (a *advisor) loosening() float64 {
	if a.slow > 0 || a.anew && a.nutFirst {
		return max(loosenSeconds, a.slow)
	}
	return 0
}

// mayBeTurning reports whether the hand has had the time that it is given at least before it is told that nothing has
// answered.
func (a *advisor) mayBeTurning(w *window) bool {
	switch {
	case a.slow > 0:
		return w.now()-a.phaseTime >= max(leastPatience, unseenMargin*a.slow)
	case a.nutFirst:
		return w.now()-a.anewTime >= leastPatience
	}
	return true
}

// patience has a hand told to stop that has had the time to make half a turn, and nothing has answered. One that has
// turned until told to stop, and rests, is told an amount first.
func (a *advisor) patience(w *window) advice.Advice {
	due := halfTurn/min(a.hand.Pace, learned.TurnPace) + a.hand.ReachTime() + a.loosening()
	if a.anew {
		due += (reachMargin - 1) * a.hand.ReachTime()
	}
	answered := !a.anew && a.silent == 0 && math.IsNaN(a.amount)
	switch {
	case w.now()-a.phaseTime < due || !a.mayBeTurning(w):
		return a.told
	case !answered:
		return a.tellNoAnswer(w)
	case w.now()-a.phaseTime < leastPatience:
		return a.told
	}
	a.slow = max(a.slow, loosenSeconds) // it rests: an amount is told from now on
	now := w.atRest()
	a.halts.moved[a.screw] += a.rest.wanted[a.screw] - now.wanted[a.screw]
	return a.nameScrew(a.screw, &now, w)
}
