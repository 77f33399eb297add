package balance

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/pressure"
)

// Constants of the advice.
const (
	// fewestCycles is the fewest cycles that a screw is named on. Chosen: about a second
	// at idle.
	fewestCycles = 8
	// doneSpread is the bound of "done" on the spread and its interval together, unless
	// the card's aim is wider.
	doneSpread = 0.7 // kPa
	// planShare of the aim is the spread that the chosen screws may leave. Chosen: the
	// rest is for what hands get wrong.
	planShare = 0.8
	// A screw of which less than fineWanted is wanted, which scatter alone may show, needs
	// more cycles the more that figure scatters from cycle to cycle: fewestCycles up to
	// a standard deviation of calmScatter, with its square above, mostCycles at most.
	// Chosen: a calm idle has 0.05 kPa, a lumpy one 0.3.
	calmScatter = 0.12 // kPa
	mostCycles  = 32
	fineWanted  = 1.0 // kPa
	// weakDrawError is how far off the mean draw behind an all but blocked hose may be.
	// Measured on the practice engine.
	weakDrawError = 0.1 // kPa
	// nearShare of the aim is how far off a screw is left. Chosen: a sixteenth of a
	// turn, the least that a hand can do, is 0.25 kPa.
	nearShare = 0.35
)

// phase is where the advice stands.
type phase int

const (
	choosing   phase = iota // which screw?
	asking                  // a screw is named; waiting for it to move
	turning                 // it moves
	reversing               // told to turn back; the hand has yet to see it
	settling                // hands off; waiting for quiet
	blipping                // level; waiting for a blip, and for a settled idle after it
	tightening              // level after a blip; waiting for the lock nuts
	finished                // level after both
)

// advisor decides on the one thing to do next. Its figures are in kPa of the
// change in draw that a screw must bring about ("wanted"; 0 is level), at
// nominalDraw. Each phase has its method, which returns the advice and sets the
// next phase.
type advisor struct {
	bank       bank.Bank
	aim        float64
	offsetBand pressure.KPa
	order      []int // of screws
	screws     [bank.MaxCylinders]screwModel

	phase        phase
	phaseCycle   int     // number of the cycle at which the phase began
	phaseTime    float64 // and its time
	told         advice.Advice
	screw        int      // the one that is named or turned
	wantedAtRest perScrew // when it last stood still
	amount       float64  // turns told then; NaN is slowly, until told to stop
	move         motion   // of what is wanted of it
	away         float64  // how far off level it was when a hand told to turn back should have seen that
	tempoAt      int      // number of the cycle at which the tempo was last told

	check check
}

func newAdvisor(cfg *Config) advisor {
	a := advisor{bank: cfg.Bank, aim: float64(cfg.Aim), offsetBand: cfg.OffsetBand, order: turnOrder(&cfg.Bank)}
	for s := range cfg.Bank.Screws {
		a.screws[s] = newScrewModel(cfg.Bank.Screws[s].EffectKPaPerTurn)
	}
	return a
}

// interrupt ends what can't go on while there is nothing steady to read. What was
// learned stays, and so does a check that is under way.
func (a *advisor) interrupt() {
	if a.phase < blipping {
		a.phase = choosing
	}
}

// interruptCheck goes back from the checks of a level bank to the choice of a screw. The
// checks begin anew; which lock nuts are open stays known.
func (a *advisor) interruptCheck() {
	a.phase, a.check = choosing, check{screws: a.check.screws}
}

// enter begins a phase with an advice.
func (a *advisor) enter(p phase, adv advice.Advice, w *window) advice.Advice {
	a.phase, a.told, a.phaseCycle, a.phaseTime = p, adv, w.next, w.now()
	return adv
}

// next returns the advice that belongs to a reading that can be advised on.
func (a *advisor) next(r *Reading, w *window, changed bool) advice.Advice {
	switch a.phase {
	case asking:
		return a.ask(r, w)
	case turning:
		return a.follow(r, w)
	case reversing:
		return a.reverse(r, w)
	case settling:
		return a.settle(r, w)
	case blipping:
		return a.afterBlip(r, w)
	case tightening:
		return a.afterNuts(r, w, changed)
	case finished:
		return a.stayDone(r, w)
	}
	return a.choose(r, w)
}

// wantedOverall returns what is wanted of each screw by the whole window, and the half-width of
// its 95 % interval.
func wantedOverall(w *window) (x, half perScrew) {
	for s := range w.link.screws {
		v := w.series(func(e *entry) float64 { return e.wanted[s] })
		x[s], half[s] = v.Mean(), float64(v.HalfWidth())
	}
	return x, half
}

// doneBound is what spread and interval together may be for "done".
func (a *advisor) doneBound() float64 { return max(doneSpread, a.aim) }

// withinBound reports whether spread and interval together lie inside doneBound.
func (a *advisor) withinBound(r *Reading, w *window) bool {
	spread, half := a.spread(r, w)
	return spread+half <= a.doneBound()
}

// spread returns the spread of what is made level, draws or openings, and the half-width of its
// 95 % interval.
func (a *advisor) spread(r *Reading, w *window) (spread, half float64) {
	if !w.byOpening {
		return float64(r.Spread), float64(r.SpreadUncertainty) + min(w.rejectedSpread()+weakUncertainty(r), mostHidden)
	}
	level := w.meanLevel(w.first, w.next)
	least, most := 0, 0
	for c := range w.n {
		if level[c] < level[least] {
			least = c
		}
		if level[c] > level[most] {
			most = c
		}
	}
	d := w.series(func(e *entry) float64 { return e.level[most] - e.level[least] })
	return d.Mean(), float64(d.HalfWidth())
}

// weakUncertainty is how far off the mean of a channel with a weak pulse may be, kPa.
func weakUncertainty(r *Reading) float64 {
	for i := range r.Cylinders {
		if r.Cylinders[i].State == cycle.WeakPulse {
			return weakDrawError
		}
	}
	return 0
}

// choose names the next screw, or goes on to the checks of a level bank; it waits where the
// cycles do not tell.
func (a *advisor) choose(r *Reading, w *window) advice.Advice {
	if r.Cycles < fewestCycles {
		a.phase = choosing
		return waitFor(advice.WhyFewCycles)
	}
	spread, half := a.spread(r, w)
	if spread+half <= a.doneBound() && spread <= max(a.aim, doneSpread/2) {
		if a.offsetBand > 0 {
			a.phase = choosing
			return waitFor(advice.WhyNoZero)
		}
		return a.nextCheck(w)
	}
	a.phase = choosing
	x, halves := wantedOverall(w)
	s := a.pick(&x, &w.link)
	switch {
	case s < 0 && a.offsetBand > 0:
		return waitFor(advice.WhyNoZero)
	case s < 0:
		return waitFor(advice.WhyFewCycles)
	case math.Abs(x[s]) < fineWanted && w.cycles() < cyclesNeeded(w.wantedVariance(s)):
		return waitFor(advice.WhyFewCycles)
	case halves[s] > max(0.15, math.Abs(x[s])/3) || math.Abs(x[s]) < halves[s]:
		return waitFor(advice.WhyFewCycles)
	}
	return a.nameScrew(s, &x, w)
}

// cyclesNeeded returns how many cycles it takes to name a screw, by the variance from cycle to
// cycle of what is wanted of it.
func cyclesNeeded(variance float64) int {
	return min(max(fewestCycles, int(fewestCycles*variance/(calmScatter*calmScatter))), mostCycles)
}

// pick returns the screw to turn next: the first in order of the fewest that level the bank; -1
// when there is none. Without a zero pass it leaves out screws whose cylinders may stand off by
// the sensors' offsets alone.
func (a *advisor) pick(x *perScrew, l *linkage) int {
	blind := 2 * float64(a.offsetBand)
	may := uint(0)
	for s := range l.screws {
		if blind == 0 || math.Abs(x[s]) > blind {
			may |= 1 << s
		}
	}
	set, _ := l.fewestScrews(x, planShare*a.aim, may)
	for _, s := range a.order {
		if set>>s&1 == 1 {
			return s
		}
	}
	return -1
}
