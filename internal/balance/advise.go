package balance

import (
	"math"
	"slices"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/pressure"
)

// Constants of the advice.
const (
	// fewestCycles is the least evidence that a screw is named on. Chosen:
	// about a second at idle.
	fewestCycles = 8
	// settledCycles is how many cycles without a change end a turning.
	settledCycles = 7
	// faultCycles is how many spans in a row a channel must be at fault.
	faultCycles = 4
	// usualEffect is what a screw is taken to do before any is known, in kPa a
	// turn: an unknown screw is tried with what would then be right, at least
	// leastTry and at most mostTry turns. Chosen: small enough to be safe, large
	// enough to show, and one time in two it is the whole work.
	usualEffect = 4.0
	leastTry    = 0.125
	mostTry     = 0.375
	// tryTrust is the weight of one try against what is usual. Derived: amounts
	// off by up to 25 % either way have a standard deviation of 14 %, screws of
	// 40 %.
	tryTrust = 0.85
	// nearShare of the aim is how far a screw's cylinders may stand off while
	// others are worse. Chosen: the last tenths come after all screws were set.
	nearShare = 0.8
	// leastTurns is the smallest amount that is asked for. Chosen: a lively
	// screw moves 6 kPa a turn, and a sixteenth is what a hand can do.
	leastTurns = 1.0 / 16
	// fineTurns is the amount below which turns are told in sixteenths, above
	// in eighths.
	fineTurns = 0.25
	// mostTurns is the largest amount asked for at once. Chosen: effects are
	// not linear; after a turn there is another look.
	mostTurns = 1.0
	// doneSpread is the spread that "done" needs, with its interval, unless
	// the card's aim is wider.
	doneSpread = 0.7 // kPa
	// leastMove is the change, in kPa of a screw's own measure, that counts
	// as a turn; moveShare the same as a share of what is wanted, as the idle's
	// wander moves large differences more; and moveSigmas in the scatter of
	// single cycles. Chosen: half of what a sixteenth of a turn does.
	leastMove  = 0.06
	moveShare  = 0.04
	moveSigmas = 4
	// tryMove is the least change that counts when a screw is tried. Chosen: a
	// quarter turn of the laziest screw; an idle that settles moves less.
	tryMove = 0.3
	// strayMove is the least change of another screw's measure that counts as
	// the wrong screw.
	strayMove = 0.5
	// ahead is how many cycles the eye and the hand are late: a stop is
	// called when the draw will be level by then. Chosen: 0.4 s at idle.
	ahead = 3
)

// phase is where the advice stands with one screw.
type phase int

const (
	choosing phase = iota // which screw?
	asking                // named; waiting for it to move
	turning               // it moves
	settling              // hands off; waiting for quiet
)

// advisor decides on the one thing to do next. All its figures are in kPa of
// the change in draw that a screw must bring about ("wanted"; 0 is level), at
// nominalDraw.
type advisor struct {
	bank       bank.Bank
	useless    bool // no linkage that can level
	aim        float64
	offsetBand pressure.KPa
	order      []int // of screws: fewest cylinders moved first
	effect     perScrew
	faulty     [cycle.MaxCylinders]int

	phase  phase
	screw  int
	told   Advice
	trying bool     // told a small turn to see what it does
	since  int      // number of the cycle at which the phase began
	amount float64  // turns told at first
	start  perScrew // wanted before the turning
}

func newAdvisor(cfg *Config, canLevel bool) advisor {
	a := advisor{bank: cfg.Bank, aim: float64(cfg.Aim), offsetBand: cfg.OffsetBand, useless: !canLevel}
	for s := range cfg.Bank.Screws {
		a.order = append(a.order, s)
		a.effect[s] = cfg.Bank.Screws[s].EffectKPaPerTurn
	}
	slices.SortStableFunc(a.order, func(s, t int) int {
		return len(cfg.Bank.Screws[s].Moves) - len(cfg.Bank.Screws[t].Moves)
	})
	return a
}

// restart forgets what was going on, not what was learned.
func (a *advisor) restart() { a.phase = choosing }

// next returns the advice that belongs to a reading.
func (a *advisor) next(r *Reading, w *window, changed bool) Advice {
	if w.n < 2 {
		return advise(Wait, WhyOneCylinder)
	}
	if c := a.fault(r); c > 0 {
		a.restart()
		adv := advise(Fault, WhyChannel)
		adv.Cylinder = c
		return adv
	}
	switch {
	case !r.Span.Cycle:
		a.restart()
		return advise(Wait, WhyNoCycle)
	case !r.Steady:
		a.restart()
		return advise(Wait, WhyNotSteady)
	case a.useless:
		return advise(Wait, WhyNoScrew)
	case r.Cycles < 2:
		return advise(Wait, WhyFewCycles)
	}
	now := w.wanted(max(w.first, w.next-recent), w.next)
	switch a.phase {
	case asking:
		return a.ask(&now, r, w)
	case turning:
		return a.follow(&now, r, w)
	case settling:
		return a.settle(r, w, changed)
	}
	return a.choose(r, w)
}

// fault returns the first cylinder whose channel has been useless for a while
// in a turning engine, 0 if none.
func (a *advisor) fault(r *Reading) int {
	found := 0
	for i := range r.Cylinders {
		s := r.Cylinders[i].State
		bad := s == cycle.RailLow || s == cycle.RailHigh
		if r.Span.Cycle {
			bad = s != cycle.OK
		}
		if !bad {
			a.faulty[i] = 0
			continue
		}
		if a.faulty[i]++; a.faulty[i] >= faultCycles && found == 0 {
			found = i + 1
		}
	}
	return found
}

// settled returns the wanted changes of the whole window, each with its
// half-width.
func settled(w *window) (x, half perScrew) {
	for s := range w.link.screws {
		v := w.series(func(e *entry) float64 { return e.wanted[s] })
		x[s], half[s] = v.Mean(), float64(v.HalfWidth())
	}
	return x, half
}

// choose names the next screw, when the evidence is there.
func (a *advisor) choose(r *Reading, w *window) Advice {
	if r.Cycles < fewestCycles {
		return advise(Wait, WhyFewCycles)
	}
	x, half := settled(w)
	bound := max(doneSpread, a.aim)
	if float64(r.Spread+r.SpreadUncertainty) <= bound && float64(r.Spread) <= max(a.aim, doneSpread/2) {
		if a.offsetBand > 0 {
			return advise(Wait, WhyNoZero)
		}
		return advise(Done, WhyLevel)
	}
	s := a.pick(&x)
	if s < 0 {
		return advise(Wait, WhyNoZero)
	}
	if half[s] > max(0.15, math.Abs(x[s])/3) || math.Abs(x[s]) < half[s] {
		return advise(Wait, WhyFewCycles)
	}
	a.phase, a.screw, a.start, a.since = asking, s, x, w.next
	a.told = a.ordered(s, x[s])
	a.trying, a.amount = a.told.Why == WhyTry, a.told.Turns
	return a.told
}

// pick returns the screw to turn next: in order, the first whose cylinders
// stand off by more than a share of the aim; else the one farthest off. Without
// a zero pass, screws whose cylinders may stand off by the sensors' offsets
// alone are left out; -1 when that leaves none.
func (a *advisor) pick(x *perScrew) int {
	blind := 2 * float64(a.offsetBand)
	farthest := -1
	for _, s := range a.order {
		off := math.Abs(x[s])
		switch {
		case off <= blind && blind > 0:
			continue
		case off > nearShare*a.aim:
			return s
		case farthest < 0 || off > math.Abs(x[farthest]):
			farthest = s
		}
	}
	return farthest
}

// ordered returns the advice to turn screw s so that it brings about the
// wanted change.
func (a *advisor) ordered(s int, wanted float64) Advice {
	adv := advise(Turn, WhyUnlevel)
	adv.Screw, adv.ScrewName = s, a.bank.Screws[s].Name
	if a.effect[s] == 0 {
		adv.Why, adv.Direction = WhyTry, Clockwise
		adv.Turns = min(max(countable(wanted/usualEffect), leastTry), mostTry)
		return adv
	}
	turns := wanted / a.effect[s]
	adv.Direction = Clockwise
	if turns < 0 {
		adv.Direction = Anticlockwise
	}
	adv.Turns = countable(turns)
	return adv
}

// countable rounds an amount of turns to what a hand can count.
func countable(turns float64) float64 {
	turns = math.Abs(turns)
	steps := 8.0
	if turns < fineTurns {
		steps = 16
	}
	return min(max(math.Round(turns*steps)/steps, leastTurns), mostTurns)
}

// ask waits for the named screw to move.
func (a *advisor) ask(now *perScrew, r *Reading, w *window) Advice {
	mover, moved := a.mover(now)
	if least := a.leastOf(mover, w); math.Abs(moved) < least {
		if a.quiet(w) && math.Abs(moved) < least/3 { // the idle may drift while nobody turns
			a.start, _ = settled(w)
		}
		if math.Abs(a.start[a.screw]) <= a.aim/4 { // no need any more
			return a.choose(r, w)
		}
		return a.told
	}
	if mover != a.screw {
		a.phase, a.since = settling, w.next
		a.told = advise(Recheck, WhyOtherScrew)
		a.told.Screw, a.told.ScrewName = mover, a.bank.Screws[mover].Name
		return a.told
	}
	if a.trying {
		return a.hold(WhyMeasuring, w)
	}
	a.phase, a.since = turning, w.next
	return a.follow(now, r, w)
}

// leastOf is the least change of a screw's measure that counts as a turn.
func (a *advisor) leastOf(mover int, w *window) float64 {
	least := max(leastMove, moveShare*math.Abs(a.start[a.screw]))
	switch {
	case mover != a.screw:
		least = strayMove
	case a.trying:
		least = tryMove
	}
	return max(least, moveSigmas*w.scatter())
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

// follow watches the screw being turned, and calls the stop.
func (a *advisor) follow(now *perScrew, r *Reading, w *window) Advice {
	s := a.screw
	x, start := now[s], a.start[s]
	toward := (start - x) * sign(start)
	if toward < -max(2*leastMove, moveSigmas*w.scatter()) && a.told.Kind != Reverse {
		// What was known of the screw is wrong.
		a.effect[s] = -a.effect[s]
		a.told.Kind, a.told.Why = Reverse, WhyAway
		a.told.Direction = a.told.Direction.Opposite()
		a.start = *now
		a.amount = countable(x / a.effect[s])
		a.told.Turns = a.amount
		return a.told
	}
	if soon := x + a.pace(w); soon*sign(start) <= a.aim/4 || x*sign(start) <= a.aim/4 {
		return a.hold(WhyReached, w)
	}
	if a.quiet(w) { // the hand has paused: what is left is told anew
		a.told.Why = WhyMeasuring
		return a.settle(r, w, false)
	}
	if a.effect[s] != 0 {
		a.told.Turns = countable(x / a.effect[s])
	}
	return a.told
}

// hold tells to take the hand off, and waits for quiet.
func (a *advisor) hold(why Why, w *window) Advice {
	a.phase, a.since = settling, w.next
	a.told.Kind, a.told.Why, a.told.Turns = Stop, why, math.NaN()
	return a.told
}

// quiet reports whether nothing has changed for settledCycles, all of them in
// the present phase.
func (a *advisor) quiet(w *window) bool {
	return min(w.cycles(), w.next-a.since) >= settledCycles+recent
}

// pace returns by how much the screw's measure will have moved when the hand
// stops.
func (a *advisor) pace(w *window) float64 {
	if w.cycles() < 2*recent {
		return 0
	}
	now, then := w.wanted(w.next-recent, w.next), w.wanted(w.next-2*recent, w.next-recent)
	return (now[a.screw] - then[a.screw]) / recent * ahead
}

// settle waits until nothing moves, learns from what was done, and chooses anew.
func (a *advisor) settle(r *Reading, w *window, changed bool) Advice {
	if changed || !a.quiet(w) {
		return a.told
	}
	if a.told.Kind != Recheck {
		x, _ := settled(w)
		a.learn(x[a.screw])
	}
	a.phase, a.trying = choosing, false
	return a.choose(r, w)
}

// learn takes what a turn has done. A hand that stopped by itself has made the
// turns that were told; one that was stopped has made fewer, so that the
// effect is at least what it did by the turns told.
func (a *advisor) learn(x float64) {
	done := a.start[a.screw] - x // change in draw brought about
	if math.Abs(done) < leastMove {
		return
	}
	old, seen := a.effect[a.screw], done/(a.amount*a.told.Direction.sign())
	switch {
	case a.trying:
		// A hand turns a quarter more or less than told: what is usual counts too.
		a.effect[a.screw] = tryTrust*seen + (1-tryTrust)*math.Copysign(usualEffect, seen)
	case old*seen <= 0:
		a.effect[a.screw] = seen
	case a.told.Why == WhyMeasuring || math.Abs(seen) > math.Abs(old):
		a.effect[a.screw] = (old + seen) / 2
	}
}

func sign(x float64) float64 { return math.Copysign(1, x) }
