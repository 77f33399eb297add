package balance

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/heat"
	"evendraw/internal/learned"
	"evendraw/internal/linkage"
	"evendraw/internal/pressure"
)

// Constants of the advice.
const (
	// fewestCycles is the fewest cycles that a screw is named on. Chosen: about a second at idle.
	fewestCycles = 8
	// doneShare of the spread's interval must lie within the aim too for "done". Chosen: the true
	// spread is then within it nine times in ten.
	doneShare = 0.6
	// planShare of the aim is the spread that the chosen screws may leave. Chosen: the
	// rest is for what hands get wrong.
	planShare = 0.6
	// A screw of which less than fineWanted is wanted, which scatter alone may show, needs more cycles the more that
	// figure scatters from cycle to cycle: fewestCycles up to a standard deviation of calmScatter, with its square
	// above, mostCycles at most. Chosen: a calm idle has 0.05 kPa, a lumpy one 0.3.
	calmScatter = 0.12 // kPa
	mostCycles  = 32
	fineWanted  = 1.0 // kPa
	// weakDrawError is how far off the mean draw behind an all but blocked hose may be.
	// Measured on the practice engine.
	weakDrawError = 0.1 // kPa
	// nearShare of the aim is how far off a screw is left. Chosen: a sixteenth of a
	// turn, the least that a hand can do, is 0.25 kPa.
	nearShare = 0.35
	// nextMargin is how many times further off another screw must be to be named instead of the one that was told to
	// come next. Chosen: a hand on its way there would have to come back.
	nextMargin = 1.5
)

// perCylinder and perScrew hold a figure for each, by cylinder - 1 and by index of the screw.
type (
	perCylinder = linkage.PerCylinder
	perScrew    = linkage.PerScrew
)

// phase is where the advice stands.
type phase int

const (
	choosing   phase = iota // which screw?
	asking                  // a screw is named; waiting for it to move
	turning                 // it moves
	settling                // hands off; waiting for quiet
	unanswered              // told to stop, as nothing has answered; waiting for a sign of the hand
	astray                  // a screw was turned that was not named; waiting for it to be turned back
	blipping                // level; waiting for a blip, and for a settled idle after it
	tightening              // level before a blip; waiting for a lock nut
	finished                // level after both
)

// advisor decides on the one thing to do next. Its figures are in kPa of the change in draw that a screw must bring
// about ("wanted"; 0 is level), at faults.NominalDraw. Each phase has its method, which returns the advice and sets the
// next phase.
type advisor struct {
	bank       bank.Bank
	aim        float64
	offsetBand pressure.KPa
	screws     [bank.MaxCylinders]learned.Screw
	hand       learned.Hand
	keys       bool // see Config.Keys
	shown      bool // somebody sees the advice, see Balance.AskAnew
	heat       heat.State

	phase      phase
	phaseCycle int     // number of the cycle at which the phase began
	phaseTime  float64 // and its time
	told       advice.Advice
	screw      int              // the one that is named or turned
	named      bool             // since it was, no other has been
	anew       bool             // the hand has to reach it first
	anewTime   float64          // when it was named so, or that was shown
	before     int              // the screw that was named before it, counted from 1; 0 is none
	cut        bool             // what was told of it was cut short by a speed that moved, and may have been made
	first      bool             // it was named while the speed had yet to settle
	reached    bool             // a screw that was named has answered
	answers    bool             // the screw in hand has, since it was named
	heedless   int              // amounts in a row that the hand has turned past until it was told to stop
	mute       uint             // the screws that have not, and were asked for, as bits by index
	vain       vains            // what was told of each and has moved nothing
	trail      trail            // what was told of one that has not
	nutFirst   bool             // and its lock nut was to be loosened then
	slow       float64          // s that it has once taken to begin, where nothing had answered by then; 0 is never
	trims      int              // times in a row that it was told a rest
	rest       state            // when it last stood still
	wordTime   float64          // of the word that nothing had answered
	goal       float64          // what is to be left wanted of it
	askedOf    float64          // what was wanted of it when it was named
	silent     float64          // turns told of it in a row that did nothing that was seen
	strayed    int              // cycles in a row in which a screw was seen to move then
	amount     float64          // turns told then; NaN is slowly, until told to stop
	way        advice.Direction // told then
	suspect    bool             // a cylinder is ill, or looks so, which is not told yet
	doubtful   bool             // the movement may speak against the direction that is known
	trying     bool             // nothing is known of the screw that moves
	back       bool             // it was told another way than it last moved
	toTurnBack bool             // the other way is news
	late       bool             // it has answered after a word that nothing had answered
	slipped    bool             // the hand turned another way than it was told
	was        learned.Screw    // what was known of it before it moved
	undoes     bool             // a hand that has slipped may turn that back alone: it is taken to, if it makes no more
	running    bool             // and it still turns as before the word
	untold     bool             // all that was turned last is to be turned back: how far is not known
	moved      float64          // what the hand has moved it by last, kPa; 0 is nothing yet
	move       learned.Motion   // of what is wanted of it
	fastest    float64          // pace seen since, kPa a second towards level
	surest     float64          // that it has surely had
	quickest   float64          // and may have had
	rested     int              // cycles of a hand at rest, when it was last seen to be
	steady     float64          // the quickest mean pace since, kPa a second; anew with a word about the tempo
	tempoTime  float64          // when the tempo was last told
	parts      learned.Parts    // of the amount that is made
	goneOn     int              // the cycle since which the hand moves that has rested in it
	// stopX is what was wanted when the word to stop was told, stopPace the pace then, kPa/s.
	stopX, stopPace float64
	stray           int     // a screw that moved and was not named
	farthest        float64 // that it was from where it stood, and which way, kPa

	check  check
	play   linkagePlay
	halts  halts
	blames blames
	ill    uint // the screws whose sizes were learned of a cylinder that misfires, as bits, since the engine last stood
}

func newAdvisor(cfg *Config) advisor {
	a := advisor{bank: cfg.Bank, aim: float64(cfg.Aim), offsetBand: cfg.OffsetBand, hand: learned.NewHand(cfg.Hand),
		keys: cfg.Keys}
	for s := range cfg.Bank.Screws {
		a.screws[s] = learned.NewScrew(cfg.Bank.Screws[s].EffectKPaPerTurn)
	}
	return a
}

// interrupt ends what can't go on while there is nothing steady to read. What was
// learned stays, and so does a check that is under way.
func (a *advisor) interrupt(w *window) {
	a.leave(w)
	if a.first { // the bank followed the start
		a.trail = trail{}
	}
	if cut := (a.phase == asking || a.phase == turning) && !a.first && !math.IsNaN(a.amount) && a.named; cut {
		a.cut = true
	} else {
		a.halts.moved[a.screw] += a.underWay()
	}
	a.first = false
	if a.phase < astray {
		a.phase = choosing
	}
}

// abandon ends whatever is under way.
func (a *advisor) abandon(w *window) {
	if a.phase == astray {
		a.endAstray(w)
	}
	if a.interrupt(w); a.phase != choosing {
		a.interruptCheck()
	}
	a.named = false
}

// underWay is what the screw that is turned has moved so far, as it was seen, kPa.
func (a *advisor) underWay() float64 {
	stopped := a.told.Kind == advice.Stop && a.told.Why != advice.WhyNoAnswer && !a.late
	if a.phase == turning || a.phase == settling && stopped {
		return a.rest.wanted[a.screw] - a.move.X
	}
	return 0
}

// interruptCheck goes back from the checks of a level bank to the choice of a screw. The
// checks begin anew; which lock nuts are open stays known.
func (a *advisor) interruptCheck() {
	a.phase = choosing
	a.check.anew()
}

// openedSeconds is how long a screw must have been named for its lock nut to count as opened. Chosen.
const openedSeconds = 1.0

// leave notes that a screw that was named may have had its lock nut opened, though it was not turned.
func (a *advisor) leave(w *window) {
	if a.phase == asking && a.told.ToTurn(advice.SyncScrew) && w.now()-a.phaseTime > openedSeconds {
		a.check.screws |= 1 << a.screw
	}
}

// enter begins a phase with an advice.
func (a *advisor) enter(p phase, adv advice.Advice, w *window) advice.Advice {
	a.leave(w)
	a.late = false
	a.phase, a.told, a.phaseCycle, a.phaseTime = p, adv, w.next, w.now()
	return adv
}

// next returns the advice that belongs to a reading that can be advised on.
func (a *advisor) next(r *Reading, w *window) advice.Advice {
	switch a.phase {
	case asking:
		return a.ask(r, w)
	case turning:
		return a.follow(r, w)
	case settling:
		return a.settle(r, w)
	case unanswered:
		return a.awaitHand(r, w)
	case astray:
		return a.bringBack(r, w)
	case blipping:
		return a.afterBlip(r, w)
	case tightening:
		return a.afterNut(r, w)
	case finished:
		return a.stayDone(r, w)
	}
	return a.choose(r, w)
}

// wantedOverall returns what is wanted of each screw by the whole window, and the half-width of its 95 % interval.
func wantedOverall(w *window) (x, half perScrew) {
	for s := range w.link.Screws() {
		v := w.series(w.first, func(e *entry) float64 { return e.wanted[s] })
		x[s], half[s] = v.Mean(), float64(v.HalfWidth())
	}
	return x, half
}

// withinAim reports whether the spread is within the aim, by its interval; where mostCycles leave that open, by itself.
func (a *advisor) withinAim(r *Reading, w *window) bool {
	spread, half := a.spread(r, w)
	most := a.aim + a.play.taken
	return spread+doneShare*half <= most || spread <= most && w.cycles() >= mostCycles
}

// mayBeWithin reports whether the spread reads within the aim, whatever its interval.
func (a *advisor) mayBeWithin(r *Reading, w *window) bool {
	spread, _ := a.spread(r, w)
	return spread <= a.aim
}

// spread returns the spread of what is made level, draws or openings, and the half-width of its 95 % interval.
func (a *advisor) spread(r *Reading, w *window) (spread, half float64) {
	if !w.byOpening {
		return float64(r.Spread), float64(r.SpreadUncertainty) + min(w.rejectedSpread()+weakUncertainty(r), mostHidden)
	}
	d := w.apart(w.first)
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

// choose names the next screw, or goes on to the checks of a level bank; it waits where the cycles do not tell.
func (a *advisor) choose(r *Reading, w *window) advice.Advice {
	a.leave(w) // before it is looked which nuts are open
	few := r.Cycles < fewestCycles
	if !few || a.halts.told != "" { // what the levelling was stopped for stands meanwhile
		if adv, stop := a.halted(-1, w); stop {
			return adv
		}
	}
	if few {
		a.phase = choosing
		return waitFor(advice.WhyFewCycles)
	}
	if a.withinAim(r, w) {
		if a.offsetBand > 0 {
			a.phase = choosing
			return waitFor(advice.WhyNoZero)
		}
		return a.nextCheck(w)
	}
	a.phase = choosing
	if adv, made := a.countTrail(r, w); made {
		return adv
	}
	if a.cut {
		if adv, made := a.countCut(r, w); made {
			return adv
		}
	}
	x, halves := wantedOverall(w)
	s := a.pick(&x, &w.link)
	if first := a.unfinished(); s >= 0 && first >= 0 && first != s {
		done := a.trimmed(first, &x, w) || math.Abs(x[first]-a.goalOf(first, &x, w)) <= a.leftOver()
		if done || w.link.GrowsMuch(first, &x) {
			a.check.rest = w.atRest()
			return a.askNut(first, w)
		}
		s = first
	}
	switch {
	case s < 0 && a.offsetBand > 0:
		return waitFor(advice.WhyNoZero)
	case s < 0:
		return waitFor(advice.WhyFewCycles)
	case math.Abs(x[s]) < fineWanted && w.cycles() < cyclesNeeded(w.wantedVariance(s)):
		return waitFor(advice.WhyFewCycles)
	case a.tight(s) && a.mayBeWithin(r, w) && w.cycles() < mostCycles: // no nut is loosened for that
		return waitFor(advice.WhyFewCycles)
	case halves[s] > max(0.15, math.Abs(x[s])/3) || math.Abs(x[s]) < halves[s]:
		return waitFor(advice.WhyFewCycles)
	}
	if adv, ends := a.trailEnds(s, w); ends {
		return adv
	}
	rest := w.atRest()
	return a.nameScrew(s, &rest, w)
}

// cyclesNeeded returns how many cycles it takes to name a screw, by the variance from cycle to
// cycle of what is wanted of it.
func cyclesNeeded(variance float64) int {
	return min(max(fewestCycles, int(fewestCycles*variance/(calmScatter*calmScatter))), mostCycles)
}

// pick returns the screw to turn next: of the fewest that level the bank the one that is farthest off, those first that
// don't have the spread grow much; -1 when there is none. Without a zero pass it leaves out screws whose cylinders may
// stand off by the sensors' offsets alone.
func (a *advisor) pick(x *perScrew, l *linkage.Linkage) int {
	blind := 2 * float64(a.offsetBand)
	may := uint(0)
	for s := range l.Screws() {
		if blind == 0 || math.Abs(x[s]) > blind {
			may |= 1 << s
		}
	}
	set, _ := l.FewestScrews(x, planShare*a.aim, may)
	farthest, calm := -1, -1
	off := func(s int) float64 {
		if a.told.Next == a.bank.Screws[s].Name { // the hand is on its way there
			return nextMargin * math.Abs(x[s])
		}
		return math.Abs(x[s])
	}
	further := func(s, than int) bool { return than < 0 || off(s) > off(than) }
	for s := range l.Screws() {
		if set>>s&1 == 0 {
			continue
		}
		if further(s, farthest) {
			farthest = s
		}
		if further(s, calm) && !l.GrowsMuch(s, x) {
			calm = s
		}
	}
	if calm >= 0 {
		return calm
	}
	return farthest
}
